"""Tide and stream at the berth from the tables typed in for the stay."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final

from monitor.base.frames import from_axes, wrap360
from monitor.base.units import knots
from monitor.records.estimates import Validity, WaterEstimate
from monitor.records.observations import WaterReading
from monitor.settings.schema import StreamHour, Tide

# Tables run to 6 h before and after high water, but from one high water to the next it is some 12 h 25 min: the
# end rows hold that long (common practice, no source).
MEASURED_FRESH: Final = timedelta(minutes=30)
OFF_M: Final = 0.5  # judgement: half a metre of water is some percent of load in short breasts
OFF_M_S: Final = 0.4
_HELD_HOURS: Final = 0.75


def water_at(tide: Sequence[Tide], stream: Sequence[StreamHour], at: datetime) -> WaterEstimate:
    """Height of tide and stream at a time; unknown outside the tables, with the reason.

    Height runs as half a cosine between high and low water (common practice, no source); the stream is taken
    between the rows of the table, hours counted from the nearest high water, its components linear in time.
    """
    height_m = _height_m(tide, at)
    stream_now = _stream(tide, stream, at)
    reasons = []
    if height_m is None:
        reasons.append("no tide entered for this time")
    if stream_now is None:
        reasons.append("no stream in the table for this time")
    validity = Validity.UNKNOWN if reasons else Validity.GOOD
    set_deg, alongside_m_s, fairway_m_s = stream_now or (None, None, None)
    return WaterEstimate(at, height_m, alongside_m_s, set_deg, fairway_m_s, validity, tuple(reasons))


def off_the_tables(measured: WaterReading, tables: WaterEstimate) -> str:
    """In words how the water as measured differs from the tables; "" when it does not by much, or is old."""
    if abs(tables.at - measured.observed_at) > MEASURED_FRESH:
        return ""
    if measured.height_m is not None and tables.height_m is not None:
        above_m = measured.height_m - tables.height_m
        if abs(above_m) >= OFF_M:
            way = "above" if above_m > 0 else "below"
            return f"The water stands {abs(above_m):.1f} m {way} the tables, by {measured.source}"
    ours, theirs = measured.current_m_s, tables.current_m_s
    if ours is not None and theirs is not None and abs(ours - theirs) >= OFF_M_S:
        return f"The stream runs {knots(ours):.1f} kn by {measured.source}, {knots(theirs):.1f} kn by the tables"
    return ""


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
