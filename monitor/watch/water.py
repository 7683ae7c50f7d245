"""Tide and stream at the berth: the tables typed in for the stay, and how far a gauge shows them to be off.

What a gauge shows is carried over the hours ahead as a difference from the tables that dies away. Of the level:
with a time of a day, for what the weather does to the water comes and goes in days. Measured at Seattle (CO-OPS
9447130, January 2015, 7,201 heights, against the tide from constituents): the tables alone are 0.12 m off
(rms); with the difference carried on, 0.06 m after 3 h, 0.09 m after 12 h and after a day (12 h and 48 h for
that time do no better; held for good it does worse). Of the stream: with two hours, for tables err in time and
rate, and such errors change sign with the tide (judgement).
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from monitor.base.frames import from_axes, wrap360
from monitor.physics.current import TESTED_UP_TO_M_S
from monitor.records.estimates import Validity, WaterEstimate
from monitor.settings.schema import StreamHour, Tide

MEASURED_FRESH: Final = timedelta(minutes=30)  # ours
OFF_M: Final = 0.5  # judgement: half a metre of water is some percent of load in short breasts
OFF_M_S: Final = 0.4  # judgement
# Difference from the tables falls to 1/e in this time (ours); see `test_a_month_at_seattle` for the level.
LEVEL_LASTS: Final = timedelta(hours=24)
STREAM_LASTS: Final = timedelta(hours=2)
_MOST_DOUBT: Final = 3.0  # share of the load, however far off the tables are (ours)
# Tables run to 6 h before and after high water, but from one high water to the next it is some 12 h 25 min: the
# end rows hold that long (common practice, no source).
_HELD_HOURS: Final = 0.75
_NO_TIDE: Final = "no tide entered for this time"
_NO_STREAM: Final = "no stream in the table for this time"


@dataclass(frozen=True, slots=True)
class OffTables:
    """The water as last measured, and how far that is off the tables. Nothing measured: None and ""."""

    height_m: float | None = None  # above chart datum
    above_m: float | None = None  # the tables' height; None where they tell none
    level_at: datetime | None = None
    level_source: str = ""
    stream_m_s: tuple[float, float] | None = None  # alongside, north and east
    more_m_s: tuple[float, float] | None = None  # than the tables' stream alongside
    stream_at: datetime | None = None
    stream_source: str = ""

    def level_above_m(self, at: datetime) -> float | None:
        """How far above the tables the water may be taken to stand at a time, before or after it was measured."""
        if self.above_m is None or self.level_at is None:
            return None
        return self.above_m * math.exp(-abs(at - self.level_at) / LEVEL_LASTS)


def water_at(
    tide: Sequence[Tide], stream: Sequence[StreamHour], at: datetime, off: OffTables | None = None
) -> WaterEstimate:
    """Height of tide and stream at a time, `off` the tables as measured; unknown outside the tables, with the
    reason, but for the half hour round a measurement.

    Height runs as half a cosine between high and low water (common practice, no source); the stream is taken
    between the rows of the table, hours counted from the nearest high water, its components linear in time.
    """
    by_tables = _by_tables(tide, stream, at)
    return by_tables if off is None else _measured(by_tables, off)


def _by_tables(tide: Sequence[Tide], stream: Sequence[StreamHour], at: datetime) -> WaterEstimate:
    height_m = _height_m(tide, at)
    stream_now = _stream(tide, stream, at)
    reasons = []
    if height_m is None:
        reasons.append(_NO_TIDE)
    if stream_now is None:
        reasons.append(_NO_STREAM)
    validity = Validity.UNKNOWN if reasons else Validity.GOOD
    set_deg, alongside_m_s, fairway_m_s = stream_now or (None, None, None)
    return WaterEstimate(at, height_m, alongside_m_s, set_deg, fairway_m_s, validity, tuple(reasons))


def _measured(by_tables: WaterEstimate, off: OffTables) -> WaterEstimate:
    """The tables' water brought to what was measured."""
    water, at = by_tables, by_tables.at
    above_m = off.level_above_m(at)
    if water.height_m is not None and above_m is not None:
        water = replace(water, height_m=water.height_m + above_m, level_source=off.level_source)
    elif water.height_m is None and off.level_at is not None and abs(at - off.level_at) <= MEASURED_FRESH:
        water = replace(_known(water, _NO_TIDE), height_m=off.height_m, level_source=off.level_source)
    if off.stream_m_s is None or off.stream_at is None:
        return water
    if water.current_m_s is not None and off.more_m_s is not None:
        left = math.exp(-abs(at - off.stream_at) / STREAM_LASTS)
        north, east = from_axes(water.current_m_s, 0.0, water.set_deg or 0.0)
        north, east = north + left * off.more_m_s[0], east + left * off.more_m_s[1]
        gone_m_s = (1.0 - left) * math.hypot(*off.more_m_s)
        doubt = (1.0 + gone_m_s / max(math.hypot(north, east), 0.05)) ** 2 - 1.0  # load goes with the rate squared
        return _with_stream(water, north, east, off.stream_source, min(doubt, _MOST_DOUBT))
    if water.current_m_s is None and abs(at - off.stream_at) <= MEASURED_FRESH:
        return _with_stream(_known(water, _NO_STREAM), *off.stream_m_s, off.stream_source)
    return water


def _with_stream(
    water: WaterEstimate, north_m_s: float, east_m_s: float, source: str, doubt: float = 0.0
) -> WaterEstimate:
    set_deg = wrap360(math.degrees(math.atan2(east_m_s, north_m_s)))
    rate_m_s = math.hypot(north_m_s, east_m_s)
    fairway_deg = set_deg if water.set_deg is None else water.set_deg
    return replace(
        water, current_m_s=rate_m_s, set_deg=fairway_deg, alongside_set_deg=set_deg,
        stream_source=source, stream_doubt=doubt,
    )  # fmt: skip


def _known(water: WaterEstimate, no_more: str) -> WaterEstimate:
    """Without one of its reasons."""
    reasons = tuple(reason for reason in water.reasons if reason != no_more)
    return replace(water, reasons=reasons, validity=Validity.UNKNOWN if reasons else Validity.GOOD)


def _height_m(tide: Sequence[Tide], at: datetime) -> float | None:
    after = bisect_right([turn.at for turn in tide], at)
    if after == 0 or after == len(tide):
        last = tide[-1]
        return last.height if after == len(tide) and at == last.at else None
    before, then = tide[after - 1], tide[after]
    phase = (at - before.at) / (then.at - before.at)
    return before.height + (then.height - before.height) * 0.5 * (1.0 - math.cos(math.pi * phase))


def _stream(tide: Sequence[Tide], stream: Sequence[StreamHour], at: datetime) -> tuple[float, float, float] | None:
    """(set, rate alongside, rate in the fairway)."""
    high_waters = [turn.at for turn in tide if turn.water == "high"]
    if not high_waters:
        return None
    nearest = min(high_waters, key=lambda high: abs(high - at))
    hours = (at - nearest) / timedelta(hours=1)
    rows = [row.hours_from_high_water for row in stream]
    if not rows[0] - _HELD_HOURS <= hours <= rows[-1] + _HELD_HOURS:
        return None
    hours = min(max(hours, rows[0]), rows[-1])
    after = min(bisect_right(rows, hours), len(rows) - 1)
    one, two = stream[after - 1], stream[after]
    share = (hours - rows[after - 1]) / (rows[after] - rows[after - 1])

    def between(rate_one_m_s: float, rate_two_m_s: float) -> tuple[float, float]:
        north_1, east_1 = from_axes(rate_one_m_s, 0.0, one.set)
        north_2, east_2 = from_axes(rate_two_m_s, 0.0, two.set)
        return north_1 + share * (north_2 - north_1), east_1 + share * (east_2 - east_1)

    alongside, fairway = (
        between(one.rate_alongside, two.rate_alongside),
        between(one.rate_in_fairway, two.rate_in_fairway),
    )
    set_deg = wrap360(math.degrees(math.atan2(fairway[1], fairway[0])))
    return set_deg, math.hypot(*alongside), math.hypot(*fairway)


def untested(water: WaterEstimate) -> bool:
    """Whether the stream alongside is stronger than any model test behind its load."""
    return (water.current_m_s or 0.0) > TESTED_UP_TO_M_S
