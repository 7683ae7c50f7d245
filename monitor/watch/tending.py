"""When and what to tend: lines that tide and cargo will load while nobody does, and the times of least load.

Only lines that are light now are named for tending: a loaded line is never worked first. A lull is expected, never
promised: ships change their minds and gusts come when they like.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.loads import Loads
from monitor.records.estimates import LineLoad, Lull, PassingOutlook, ToTend, Untended, WindOutlook
from monitor.watch.calls import HARDLY
from monitor.watch.moored import Holding
from monitor.watch.sharing import shared
from monitor.watch.stay import StayState

MINUTES: Final = (30, 60, 120)
LIGHT: Final = 0.25  # utilisation up to which a line is light enough to be named (ours)
GROWS: Final = 0.05  # of its limit by which it must grow to be named (ours)
MOVED: Final = 0.03  # of its limit by which a line may differ from what was worked out before (ours)
SLACK: Final = 0.01  # utilisation below which a line is slack
RATE_FRESH: Final = timedelta(hours=3)  # after that cargo may long have stopped
# Times of lulls: ours.
SLOT: Final = timedelta(minutes=10)
AHEAD: Final = timedelta(hours=2)
BEFORE_A_PASS: Final = timedelta(minutes=5)
AFTER_A_PASS: Final = timedelta(minutes=5)
_LULLS: Final = 3
_APART_S: Final = 3600.0  # times worked out farther apart tell nothing of what lies between
_AS_LIGHT: Final = 0.03  # of a limit: slots this near the least count as one lull


def later(stay: StayState, now: datetime, by: timedelta) -> StayState:
    """The stay after so long at the rate her draughts last changed; as it is when no fresh rate is known."""
    rate = stay.draught_m_s
    if rate is None or stay.draughts_at is None or now - stay.draughts_at > RATE_FRESH:
        return stay
    s = (now + by - stay.draughts_at).total_seconds()
    return replace(
        stay,
        draught_forward_m=stay.draught_forward_m + rate[0] * s,
        draught_aft_m=stay.draught_aft_m + rate[1] * s,
    )


def untended(holding: Holding, steady: Loads, stay: StayState, now: datetime) -> tuple[Untended, ...]:
    """Every line in 30, 60 and 120 minutes under the loads of now, at the tide and draughts of then."""
    each = (_at(holding, steady, stay, now, now + timedelta(minutes=minutes)) for minutes in MINUTES)
    return tuple(one for one in each if one is not None)


def _at(holding: Holding, steady: Loads, stay: StayState, now: datetime, at: datetime) -> Untended | None:
    then = shared(holding, steady, later(stay, now, at - now), holding.moored.water(at, stay))
    return None if then.why else Untended(at, then.lines(0))


def still_so(before: Sequence[Untended], holding: Holding, steady: Loads, stay: StayState, now: datetime) -> bool:
    """Whether what was worked out minutes ago holds under the loads of now: its first time, worked out anew, has
    every line within MOVED of its limit. A wind that has risen since makes all of it another story."""
    anew = _at(holding, steady, stay, now, before[0].at) if before else None
    if anew is None:
        return False
    was, now_is = ({load.line: load.utilisation for load in each.lines} for each in (before[0], anew))
    return was.keys() == now_is.keys() and all(
        abs(was[line].mid - new.mid) <= MOVED and abs(was[line].high - new.high) <= MOVED
        for line, new in now_is.items()
    )


def to_tend(
    now: Sequence[LineLoad], ahead: Sequence[Untended], caution: float, at: datetime
) -> tuple[ToTend, ...]:
    """Lines that are light now and grow or go slack, the one that is heavy soonest first."""
    if not ahead:
        return ()
    last = {load.line: load for load in ahead[-1].lines}
    found = []
    for load in now:
        then = last.get(load.line)
        if then is None or load.utilisation.high > LIGHT:
            continue
        slack = then.utilisation.mid < SLACK <= load.utilisation.mid
        if not slack and then.utilisation.high - load.utilisation.high < GROWS:
            continue
        found.append(
            ToTend(
                load.line, load.group, load.utilisation, then.utilisation, slack, _when(load, ahead, caution, at)
            )
        )
    return tuple(sorted(found, key=lambda each: (each.slack, -each.later.high, each.line)))


def _when(now: LineLoad, ahead: Sequence[Untended], level: float, at: datetime) -> datetime | None:
    """When a line's upper end will pass a level, on straight lines between the times looked at."""
    points = [(0.0, now.utilisation.high)]
    for each in ahead:
        load = next((load for load in each.lines if load.line == now.line), None)
        if load is not None:
            points.append(((each.at - at).total_seconds(), load.utilisation.high))
    for (s0, u0), (s1, u1) in pairwise(points):
        if u0 < level <= u1:
            return at + timedelta(seconds=s0 + (s1 - s0) * (level - u0) / (u1 - u0))
    return None


def lulls(
    heaviest: Sequence[float], passings: Sequence[PassingOutlook], now: datetime, below: float
) -> tuple[Lull, ...]:
    """Stretches of slots with the least load and no ship passing; `heaviest` by slot from now, upper end.

    Only where it stays under `below` (the caution level): the least of a gale is no time to tend.
    """
    load = np.array(heaviest, dtype=np.float64)
    load[load >= below] = np.nan
    for i in range(len(load)):
        start, end = now + i * SLOT, now + (i + 1) * SLOT
        if any(_near(passing, start, end) for passing in passings):
            load[i] = np.nan
    found: list[Lull] = []
    while len(found) < _LULLS and np.isfinite(load).any():
        i = int(np.nanargmin(load))
        level = load[i] + _AS_LIGHT
        first = last = i
        while first > 0 and load[first - 1] <= level:
            first -= 1
        while last + 1 < len(load) and load[last + 1] <= level:
            last += 1
        found.append(Lull(now + first * SLOT, now + (last + 1) * SLOT, float(load[first : last + 1].max())))
        load[first : last + 1] = np.nan
    return tuple(found)


def _near(passing: PassingOutlook, start: datetime, end: datetime) -> bool:
    encounter = passing.encounter
    first = (encounter.overlap_from or encounter.earliest_at) - BEFORE_A_PASS
    last = (encounter.overlap_to or encounter.latest_at) + AFTER_A_PASS
    return encounter.passes >= HARDLY and first < end and last > start


def slots_of(
    now: Sequence[LineLoad], ahead: Sequence[Untended], hours: Sequence[WindOutlook], at: datetime
) -> list[float]:
    """Upper end of the heaviest line in each slot of the next two hours, straight between the times worked out:
    by tide and cargo in the wind of now, or by the forecast, whichever is more. NaN where one of them could not be
    worked out (an hour without lines, a hole in the forecast, after its end): no load is known there, least of all
    a light one."""

    def top(lines: Sequence[LineLoad]) -> float:
        return max((load.utilisation.high for load in lines), default=float("nan"))

    middles = (np.arange(AHEAD // SLOT) + 0.5) * SLOT.total_seconds()

    def along(points: Sequence[tuple[datetime, Sequence[LineLoad]]]) -> Floats:
        known = [(0.0, top(now)), *(((then - at).total_seconds(), top(lines)) for then, lines in points)]
        holes = [(0.5 * (s0 + s1), float("nan")) for (s0, _), (s1, _) in pairwise(known) if s1 - s0 > _APART_S]
        seconds, load = zip(*sorted([*known, *holes]), strict=True)
        return np.asarray(np.interp(middles, seconds, load, right=float("nan")))

    load = along([(each.at, each.lines) for each in ahead])
    if hours:
        load = np.maximum(load, along([(hour.at, hour.lines) for hour in hours if hour.at > at]))
    return [float(each) for each in load]
