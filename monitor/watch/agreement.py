"""Can this anemometer be believed, do two of them agree, and does the heading agree with the berth?

A masthead sensor fails by standing still (a bearing seized, ice, a frozen data logger that repeats its last
value) more often than by falling silent, and a value that stands still looks calm. Thresholds are judgement:
wind at sea is never constant to the last digit for minutes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from monitor.base.frames import wrap180
from monitor.base.units import knots

STILL_S: Final = 240.0  # the same figures for so long: it stands still
STILL_READINGS: Final = 20
CALM_BUT_M_S: Final = 5.0  # one that shows nothing while another shows this much stands still, too
APART_M_S: Final = 3.0
APART_SHARE: Final = 0.3
APART_DEG: Final = 45.0
_DOUBTS: Final = ("has shown the same figures", "shows no wind at all", "one of them is wrong")
DIRECTION_FROM_M_S: Final = 5.0  # below it, directions differ round every deckhouse
OFF_BERTH_DEG: Final = 30.0  # no ship made fast swings further out, not even on a spring


Sent = tuple[float, float | None, float | None]  # as the source sent it: m/s, degrees off the bow, degrees from


@dataclass(frozen=True, slots=True)
class Shown:
    """What one source shows over its last minutes, brought to 10 m."""

    source: str
    mean_m_s: float
    from_direction_deg: float


def doubt(reasons: Sequence[str]) -> str:
    """The first of a wind's reasons that says an instrument is wrong; "" when none does."""
    return next((reason for reason in reasons if any(mark in reason for mark in _DOUBTS)), "")


def stands_still(readings: Sequence[tuple[float, Sent]]) -> bool:
    """Whether readings, each with its time in s, rising, have not changed for STILL_S. A calm of zero does not
    count.

    Compared is what was sent: turned by a gyro that yaws, one figure off the bow is never the same wind twice. A
    source that sends both forms repeats each by itself.
    """
    end_s = readings[-1][0]
    late = [sent for at_s, sent in readings if at_s >= end_s - STILL_S]
    if len(late) < STILL_READINGS or end_s - readings[0][0] < STILL_S or late[-1][0] <= 0.0:
        return False
    return len(set(late)) == len({off_bow_deg is None for _, off_bow_deg, _ in late})


def askew(heading_deg: float, berth_heading_deg: float) -> str:
    """In words how a heading told alongside contradicts the berth's; "" when it does not. A gyro that is switched
    off in port, or a compass beside steel, would turn an offshore wind into an onshore one."""
    if abs(wrap180(heading_deg - berth_heading_deg)) <= OFF_BERTH_DEG:
        return ""
    return f"heading {heading_deg:03.0f}°, the berth makes it {berth_heading_deg:03.0f}°: one of them is wrong"


def disagreement(one: Shown, other: Shown) -> str:
    """In words how two sources differ; "" when they agree, or are both too light to tell."""
    apart_m_s = abs(one.mean_m_s - other.mean_m_s)
    if apart_m_s > max(APART_M_S, APART_SHARE * max(one.mean_m_s, other.mean_m_s)):
        return (
            f"{one.source} shows {knots(one.mean_m_s):.0f} kn, {other.source} {knots(other.mean_m_s):.0f} kn: "
            "one of them is wrong"
        )
    turned_deg = abs(wrap180(one.from_direction_deg - other.from_direction_deg))
    turned = f"{one.from_direction_deg:03.0f}°, {other.source} {other.from_direction_deg:03.0f}°"
    if min(one.mean_m_s, other.mean_m_s) > DIRECTION_FROM_M_S and turned_deg > APART_DEG:
        return f"{one.source} shows {turned}: one of them is wrong"
    return ""
