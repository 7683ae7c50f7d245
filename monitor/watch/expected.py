"""When odds are worked out for the outlook, and what of the last one still serves.

Odds cost more than the rest of the outlook together: a pass gets them when it is near and its peak at rest can
matter, and keeps them for a few minutes; the wind gets them when its load can matter.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

import numpy as np

from monitor.physics.cascade import Loss, each_line, worst_pair
from monitor.physics.mooring import on_brakes
from monitor.records.estimates import (
    Band,
    EventOdds,
    HorizontalLoad,
    IfLost,
    LineLoad,
    Lull,
    Outlook,
    PassingAdvice,
    PassingOutlook,
    SoonOdds,
    ToTend,
    Untended,
    Validity,
    WaterEstimate,
    WindEstimate,
    WindOutlook,
)
from monitor.records.observations import AirReading, WindForecast
from monitor.watch.advice import advise
from monitor.watch.calls import HARDLY
from monitor.watch.ensemble import Case
from monitor.watch.estimator import STATIC, Estimator
from monitor.watch.hourly import Going, at_hour, hour_odds
from monitor.watch.moored import Holding
from monitor.watch.odds import event_odds, overtaken, passing_event, wind_event
from monitor.watch.sharing import renders_n, shared
from monitor.watch.solved import Sizes, Solutions
from monitor.watch.stay import StayState
from monitor.watch.tending import lulls, slots_of, still_so, to_tend, untended
from monitor.watch.tracks import Target
from monitor.watch.weather import forecast_at

MATTERS: Final = 0.30  # utilisation, upper end at rest, from which odds are worked out (ours)
NEAR: Final = timedelta(minutes=20)  # before her bow overlaps ours
CLOSE: Final = timedelta(minutes=5)
KEPT_NEAR: Final = timedelta(minutes=4)
KEPT_CLOSE: Final = timedelta(seconds=90)
WIND_KEPT: Final = timedelta(minutes=10)
SOON_MINUTES: Final = (5, 15, 60)
WIND_MEMBERS: Final = 100


@dataclass(frozen=True, slots=True)
class Ask:
    """All that the outlook is worked out from, as it was at `now`: nothing in it changes afterwards."""

    estimator: Estimator
    targets: tuple[Target, ...]
    wind: WindEstimate
    forecast: WindForecast | None
    stay: StayState
    air: AirReading | None
    now: datetime
    hours: tuple[WindOutlook, ...] | None = None  # still good; None asks for new ones
    before: Outlook | None = None  # the one in force: what of it is still fresh is taken over


@dataclass(frozen=True, slots=True)
class Ahead:
    """What the outlook tells beyond passes and hours."""

    soon: tuple[SoonOdds, ...] = ()
    untended: tuple[Untended, ...] = ()
    to_tend: tuple[ToTend, ...] = ()
    lulls: tuple[Lull, ...] = ()
    if_lost: tuple[IfLost, ...] = ()


def with_odds(
    ask: Ask,
    holding: Holding,
    told: PassingOutlook,
    found: Solutions | None,
    size_at: Callable[[float], float | None],
    by_size: Callable[[], Sizes | None],
) -> PassingOutlook:
    """The pass with its odds and advice when it is near and its load can matter; fresh ones of before serve.

    `by_size` works out what her size does, which costs as much as `found` did.
    """
    encounter = told.encounter
    until = (encounter.overlap_from or encounter.earliest_at) - ask.now
    if found is None or encounter.passes < HARDLY or until > NEAR or _top(told.lines) < MATTERS:
        return told
    kept = KEPT_CLOSE if until <= CLOSE else KEPT_NEAR
    for earlier in ask.before.passings if ask.before else ():
        same = earlier.encounter.mmsi == encounter.mmsi
        if same and earlier.odds is not None and ask.now - earlier.odds.at < kept:
            return _in_time(told, holding, earlier.odds, earlier.advice)
    water = holding.moored.water(encounter.abeam_at, ask.stay)
    case = Case(holding, ask.stay, ask.wind, water, ask.air, ask.now)
    try:
        outcome = passing_event(case, encounter, replace(found, sizes=by_size()))
    except ValueError as error:
        return replace(told, reasons=(*told.reasons, f"no odds: {error}"))
    room_m = holding.moored.room_m(encounter.beam_m.mid)
    advice = advise(outcome, encounter, found, size_at, room_m)
    return _in_time(told, holding, event_odds(outcome), advice)


def _in_time(
    told: PassingOutlook, holding: Holding, odds: EventOdds, advice: PassingAdvice | None
) -> PassingOutlook:
    """The pass with the lines' peaks as the ship moves, in place of those at rest."""
    bands = {line.line: line.tension_n for line in odds.lines}
    names = [holding.moored.names[i] for i in holding.kept]
    if any(name not in bands for name in names):  # a line was added or made fast since
        return told
    low_n, mid_n, high_n = np.array([(bands[n].low, bands[n].mid, bands[n].high) for n in names]).T
    lines = holding.line_loads(low_n, mid_n, high_n)
    reasons = tuple(reason for reason in told.reasons if reason != STATIC)
    validity = told.validity if reasons else Validity.GOOD
    return replace(told, lines=lines, validity=validity, reasons=reasons, odds=odds, advice=advice)


def odds_of_hour(
    ask: Ask,
    holding: Holding,
    wind_30s_m_s: Band,
    gust_m_s: float | None,
    from_direction_deg: float,
    at: datetime,
    before: Going | None,
) -> tuple[EventOdds | None, Going | None]:
    """The odds of one hour of the forecast, and how far lines have got by then."""
    now = Case(holding, ask.stay, ask.wind, holding.moored.water(at, ask.stay), ask.air, ask.now)
    case = at_hour(now, wind_30s_m_s, gust_m_s, from_direction_deg, at)
    return hour_odds(case, (at - ask.now) / timedelta(hours=1), before)


def ahead_of(
    ask: Ask, holding: Holding, passings: tuple[PassingOutlook, ...], hours: tuple[WindOutlook, ...]
) -> Ahead:
    """Odds of the next hour, what to tend, and lulls. Nothing when wind or lines are unknown."""
    wind = ask.wind
    if wind.speed_30s_m_s is None or wind.from_direction_deg is None:
        return Ahead()
    moored = holding.moored
    water = moored.water(ask.now, ask.stay)
    steady, _, _, _ = ask.estimator.steady(wind.speed_30s_m_s, wind.from_direction_deg, water, ask.stay, ask.air)
    rest = shared(holding, steady, ask.stay, water)
    if rest.why:
        return Ahead()
    lines = rest.lines(0)
    kept = ask.before is not None and ask.hours is not None
    if ask.before and kept and still_so(ask.before.untended, holding, steady, ask.stay, ask.now):
        later, lost = ask.before.untended, ask.before.if_lost
    else:
        later = untended(holding, steady, ask.stay, ask.now)
        lost = if_lost(holding, ask.stay, water, steady.at(1))
    caution = moored.settings.alerts.levels.caution
    return Ahead(
        _soon(ask, holding, lines, passings),
        later,
        to_tend(lines, later, caution, ask.now),
        lulls(slots_of(lines, later, hours, ask.now), passings, ask.now, caution),
        lost,
    )


def if_lost(holding: Holding, stay: StayState, water: WaterEstimate, load: HorizontalLoad) -> tuple[IfLost, ...]:
    """Each line taken away under a load, and the worst pair; strengths at the low end of their bands, brakes at
    the high end of theirs: that loads the others most."""
    moored = holding.moored
    mooring = on_brakes(holding.risen(stay, water), renders_n(holding)[2])
    names = [moored.names[i] for i in holding.kept]
    strength_n = np.array([moored.strengths_n[i].low for i in holding.kept])
    found = each_line(mooring, load, strength_n)
    if len(names) > 1:
        found.append(worst_pair(mooring, load, strength_n))

    def told(loss: Loss) -> IfLost:
        gone = tuple(names[i] for i in loss.gone)
        if not np.isfinite(loss.share):
            return IfLost(gone, "", None, tuple(names[i] for i in loss.then), loss.holds)
        heaviest = names[int(np.argmax(loss.next_n / strength_n))]
        return IfLost(gone, heaviest, loss.share, tuple(names[i] for i in loss.then), loss.holds)

    return tuple(told(loss) for loss in sorted(found, key=lambda loss: (loss.holds, -loss.share, loss.gone)))


def _soon(
    ask: Ask, holding: Holding, lines: tuple[LineLoad, ...], passings: tuple[PassingOutlook, ...]
) -> tuple[SoonOdds, ...]:
    """Within 5 min, 15 min, 1 h: gusts and drift of the present wind, and the passes that begin in it."""
    if _top(lines) < MATTERS:
        return ()
    kept = [soon.odds for soon in ask.before.soon] if ask.before is not None else []
    if kept and ask.now - kept[0].at < WIND_KEPT and not overtaken(kept[0], lines):
        alone = kept
    else:
        water = holding.moored.water(ask.now, ask.stay)
        case = Case(holding, ask.stay, ask.wind, water, ask.air, ask.now, WIND_MEMBERS, _trend(ask))
        try:
            outcome = wind_event(case, SOON_MINUTES)
        except ValueError:
            return ()
        alone = [event_odds(outcome, mark) for mark in range(len(SOON_MINUTES))]
    found = []
    for minutes, odds in zip(SOON_MINUTES, alone, strict=True):
        working, limit = 1.0 - odds.any_over_working, 1.0 - odds.any_over_limit
        for passing in passings:
            encounter = passing.encounter
            begins = encounter.overlap_from or encounter.earliest_at
            if passing.odds is not None and begins <= ask.now + timedelta(minutes=minutes):
                working *= 1.0 - encounter.passes * passing.odds.any_over_working
                limit *= 1.0 - encounter.passes * passing.odds.any_over_limit
        found.append(SoonOdds(minutes, 1.0 - working, 1.0 - limit, odds))
    return tuple(found)


def _trend(ask: Ask) -> float:
    """How much the forecast has the mean wind grow in an hour, as a share; 0 when it tells nothing."""
    if ask.forecast is None:
        return 0.0
    now, then = (forecast_at(ask.forecast, ask.now + timedelta(hours=h)) for h in (0, 1))
    if now is None or then is None or not now.mean_m_s or then.mean_m_s is None:
        return 0.0
    return max(-0.5, min(1.0, then.mean_m_s / max(now.mean_m_s, 2.0) - 1.0))


def _top(lines: tuple[LineLoad, ...]) -> float:
    return max((load.utilisation.high for load in lines), default=0.0)
