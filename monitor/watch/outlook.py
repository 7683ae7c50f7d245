"""What is coming: the load of each expected pass, and the hours of the forecast.

A pass is a straight track past the berth at the expected separation, course and speed through the water. The
passing-ship load is added to the wind and stream of the moment; each line's peak over the pass is what counts.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Final

import numpy as np

from monitor.base.berthed import Berthed
from monitor.base.frames import Floats, wrap180
from monitor.physics.hulls import Hull, SizedHull, hull_from_ais
from monitor.physics.loads import Loads
from monitor.physics.passing import Basin, PassingLoad, Track, passing_load
from monitor.records.estimates import (
    Encounter,
    HorizontalLoad,
    LineLoad,
    Outlook,
    PassingOutlook,
    Validity,
    WaterEstimate,
    WindOutlook,
)
from monitor.watch.company import in_company
from monitor.watch.encounters import encounters
from monitor.watch.estimator import STATIC
from monitor.watch.expected import Ask, ahead_of, odds_of_hour, with_odds
from monitor.watch.hourly import Going
from monitor.watch.moored import Holding, Moored
from monitor.watch.scene import scene_of
from monitor.watch.sharing import Shared, shared
from monitor.watch.solved import SIZES, SLOWER, Sizes, Solutions, curve_of, solutions, speed_powers
from monitor.watch.stay import StayState
from monitor.watch.wash import drawdown_reasons, wash_reasons
from monitor.watch.weather import forecast_at, forecast_band
from monitor.watch.worst_ahead import worst_ahead

STAGGERS: Final = 41  # places of a passing ship along us at which her load is worked out
REACH: Final = 1.5  # half lengths of the two ships together, each way: beyond it the load is small
HOURS_AHEAD: Final = (*range(1, 13), *range(15, 49, 3))  # hourly to twelve, then each third
WITHOUT_TIDE: Final = 12  # hours after which none is told for which no tide is known
NEGLIGIBLE_N: Final = 2e3  # a load this small raises no doubt, whatever is beyond the models (ours)

MOST_WORKED_OUT: Final = 20  # passes; those after the soonest are told as unknown, so that none is hidden
FAILED: Final = "passes and hours ahead could not be worked out"
NO_LOAD: Final = HorizontalLoad(0.0, 0.0, 0.0)


def look_ahead(ask: Ask) -> Outlook:
    """The outlook from what was known at `ask.now`. UNKNOWN, with the reason, when it cannot be worked out: the
    watch of the moment must go on, and people be told."""
    try:
        return _looked(ask)
    except Exception as error:
        return Outlook(ask.now, (), (), Validity.UNKNOWN, (f"{FAILED}: {type(error).__name__}: {error}",))


def _looked(ask: Ask) -> Outlook:
    moored, stay, now = ask.estimator.moored, ask.stay, ask.now
    if not stay.moored:
        return Outlook(now, (), (), Validity.GOOD, ())
    water = moored.water(now, stay)
    scene = scene_of(moored.settings, moored.berthed, water.fairway_current_m_s, water.set_deg, stay.without_tow)
    alongside = {craft.mmsi for craft in stay.craft}
    coming = [e for e in encounters(ask.targets, scene, now) if e.mmsi not in alongside]
    holding = ask.estimator.holding(stay)
    soonest = tuple(_passing(ask, encounter, holding) for encounter in coming[:MOST_WORKED_OUT])
    rest = tuple(
        PassingOutlook(encounter, (), NO_LOAD, Validity.UNKNOWN, ("too many ships at once to be worked out",))
        for encounter in coming[MOST_WORKED_OUT:]
    )
    passings = in_company(soonest, holding, lambda: _at_rest(ask, holding, water)) + rest
    hours = tuple(_hours(ask, holding)) if ask.hours is None else ask.hours
    found = ahead_of(ask, holding, passings, hours)
    reasons = () if ask.forecast is not None else ("no forecast: the hours ahead are not watched",)
    validity = Validity.DEGRADED if reasons else Validity.GOOD
    told = Outlook(
        now, passings, hours, validity, reasons,
        found.soon, found.untended, found.to_tend, found.lulls, found.if_lost,
    )  # fmt: skip
    return worst_ahead(moored.settings, [moored.names[i] for i in holding.kept], told, ask.before)


def _at_rest(ask: Ask, holding: Holding, water: WaterEstimate) -> tuple[LineLoad, ...]:
    """Lines in wind and stream alone, without friction as in a pass; none when the wind is not known."""
    if ask.wind.speed_30s_m_s is None or ask.wind.from_direction_deg is None:
        return ()
    steady, _, _, _ = ask.estimator.steady(
        ask.wind.speed_30s_m_s, ask.wind.from_direction_deg, water, ask.stay, ask.air
    )
    return shared(holding, steady, ask.stay, water, rub=False).lines(0)


# --- passing ships ------------------------------------------------------------------------------------------


def _passing(ask: Ask, encounter: Encounter, holding: Holding) -> PassingOutlook:
    estimator, moored = ask.estimator, ask.estimator.moored
    if ask.wind.speed_30s_m_s is None or ask.wind.from_direction_deg is None:
        return PassingOutlook(encounter, (), NO_LOAD, Validity.UNKNOWN, ("wind unknown",))
    water = moored.water(encounter.abeam_at, ask.stay)
    steady, _, _, missing = estimator.steady(
        ask.wind.speed_30s_m_s, ask.wind.from_direction_deg, water, ask.stay, ask.air
    )
    own = moored.hull(ask.stay)
    has_tow = False if encounter.mmsi in ask.stay.without_tow else None
    curves = passing_curves(moored, own, encounter, water, has_tow)
    if curves is None:
        return PassingOutlook(encounter, (), NO_LOAD, Validity.UNKNOWN, ("her track past the berth is not known",))
    if curves.mid.validity is Validity.UNKNOWN:
        return PassingOutlook(encounter, (), NO_LOAD, Validity.UNKNOWN, (*curves.mid.reasons, *curves.wash))
    found = shared_over(holding, steady, curves, ask.stay, water)
    if found.why:
        return PassingOutlook(encounter, (), NO_LOAD, Validity.UNKNOWN, (found.why,))
    reasons = (*curves.mid.reasons, *curves.wash, *missing, *ask.wind.reasons, *found.reasons, STATIC)
    told = PassingOutlook(
        encounter, found.peaks(), curves.peak, Validity.DEGRADED, tuple(dict.fromkeys(reasons)),
        beyond=curves.mid.validity is not Validity.GOOD and _size(curves.mid) > NEGLIGIBLE_N,
    )  # fmt: skip
    passed = (moored, own, encounter, water, has_tow)
    return with_odds(ask, holding, told, curves.found, load_sizes(*passed), lambda: by_size(*passed))


def shared_over(holding: Holding, steady: Loads, curves: Curves, state: StayState, water: WaterEstimate) -> Shared:
    """What the lines carry over a pass with wind and stream, at each of its places."""
    return shared(holding, _together(steady, curves), state, water, rub=False)


@dataclass(frozen=True, slots=True)
class Curves:
    """The load of a pass against her place: the middle curve, and its low and high as shares of it."""

    x_m: Floats  # of her midships, in our axes
    mid: PassingLoad
    low: float
    high: float
    wash: tuple[str, ...]  # what to say of her waves, which are not in the load, and of her drawdown, which is
    found: Solutions | None = None  # what the odds interpolate between; None where there is no load to speak of

    @property
    def peak(self) -> HorizontalLoad:
        """Greatest magnitude of each part, with its sign."""
        return HorizontalLoad(
            *(
                float(part[np.argmax(np.abs(part))])
                for part in (self.mid.surge_n, self.mid.sway_n, self.mid.yaw_n_m)
            )
        )


def passing_curves(
    moored: Moored, own: Hull, encounter: Encounter, water: WaterEstimate, has_tow: bool | None = None
) -> Curves | None:
    """Load of an encounter on a straight track past us. None when the track cannot be laid.

    Low and high take distance, speed (by `speed_powers`), her size and the model's own error as
    independent: the shares are added in quadrature.
    """
    passer, basin = moored.afloat(_sized(encounter, has_tow).hull, water)
    mid = _at(own, passer, encounter, encounter.separation_m.mid, moored.berthed, basin)
    if mid is None:
        return None
    x_m, load = mid
    wash = (
        *wash_reasons(passer, encounter, own, moored.berthed.heading_deg, basin),
        *drawdown_reasons(passer, encounter, own, basin, moored.channel(water)),
    )
    middle = _size(load)
    if not math.isfinite(middle) or middle <= 0.0:
        return Curves(x_m, load, 1.0, 1.0, wash)
    ups, downs, others = [], [], []
    for separation_m in (encounter.separation_m.low, encounter.separation_m.high):
        other = _at(own, passer, encounter, separation_m, moored.berthed, basin)
        others.append(None if other is None else other[1])
        share = _size(other[1]) / middle if other is not None else math.nan
        if math.isfinite(share):
            ups.append(max(0.0, share - 1.0))
            downs.append(max(0.0, 1.0 - share))
    speed = encounter.speed_water_m_s
    slower = _at(own, passer, encounter, encounter.separation_m.mid, moored.berthed, basin, SLOWER)
    least, most = powers = speed_powers(middle, math.nan if slower is None else _size(slower[1]))
    up_speed = (speed.high / speed.mid) ** most - 1.0
    down_speed = 1.0 - (speed.low / speed.mid) ** least
    beam, draught = encounter.beam_m, encounter.draught_m  # her section is what pushes
    up_size = (beam.high / beam.mid - 1.0, draught.high / draught.mid - 1.0)
    down_size = (1.0 - beam.low / beam.mid, 1.0 - draught.low / draught.mid)
    low_model, high_model = load.model_band
    high = 1.0 + math.hypot(max(ups, default=0.0), up_speed, *up_size, high_model - 1.0)
    low = max(0.0, 1.0 - math.hypot(max(downs, default=0.0), down_speed, *down_size, 1.0 - low_model))
    apart = encounter.separation_m
    found = solutions(
        _run_m(own, passer), (apart.low, apart.mid, apart.high), (others[0], load, others[1]), powers
    )
    return Curves(x_m, load, low, high, wash, found)


def load_sizes(
    moored: Moored, own: Hull, encounter: Encounter, water: WaterEstimate, has_tow: bool | None = None
) -> Callable[[float], float | None]:
    """The greatest horizontal force of a pass, N, as a function of the separation in metres; None where none."""
    passer, basin = moored.afloat(_sized(encounter, has_tow).hull, water)

    def at(separation_m: float) -> float | None:
        there = _at(own, passer, encounter, separation_m, moored.berthed, basin)
        return None if there is None else _size(there[1])

    return at


def by_size(
    moored: Moored, own: Hull, encounter: Encounter, water: WaterEstimate, has_tow: bool | None = None
) -> Sizes | None:
    """The load of a pass by the smaller and the larger ship that she may be, at her middle distance; None where
    one of them could not be worked out."""
    known = _sized(encounter, has_tow)
    sized = replace(known, length_m=encounter.length_m, beam_m=encounter.beam_m, draught_m=encounter.draught_m)
    half_m, curves = [], []
    for z in SIZES:
        passer, basin = moored.afloat(sized.likeliest(z), water)
        there = _at(own, passer, encounter, encounter.separation_m.mid, moored.berthed, basin)
        if there is None:
            return None
        half_m.append(float(_run_m(own, passer)[-1]))
        curves.append(curve_of(there[1]))
    load = np.array(curves)
    return Sizes(np.array(half_m), load) if np.isfinite(load).all() else None


def _sized(encounter: Encounter, has_tow: bool | None) -> SizedHull:
    sizes = (encounter.length_m.mid, encounter.beam_m.mid, encounter.draught_m.mid)
    return hull_from_ais(encounter.ship_type, *sizes, has_tow=has_tow)


def _run_m(own: Hull, passer: Hull) -> Floats:
    """Places along her track, 0 abeam."""
    return np.asarray(np.linspace(-1.0, 1.0, STAGGERS) * REACH * 0.5 * (own.loa_m + passer.loa_m))


def _at(
    own: Hull,
    passer: Hull,
    encounter: Encounter,
    separation_m: float,
    berthed: Berthed,
    basin: Basin,
    of_speed: float = 1.0,
) -> tuple[Floats, PassingLoad] | None:
    """Places of her midships ahead of ours, and the load there, when she passes at a separation and at a share of
    her middle speed."""
    course_deg = wrap180(encounter.course_deg - berthed.heading_deg)
    ahead, aside = math.cos(math.radians(course_deg)), math.sin(math.radians(course_deg))
    off_quay = -math.copysign(1.0, berthed.quay_y_m)
    run_m = _run_m(own, passer)
    x_m, y_m = run_m * ahead, off_quay * separation_m + run_m * aside
    if separation_m <= 0.0:
        return None
    n = len(run_m)
    track = Track(x_m, y_m, np.full(n, course_deg), np.full(n, of_speed * encounter.speed_water_m_s.mid))
    return x_m, passing_load(own, passer, track, basin)


def _size(load: PassingLoad) -> float:
    """One number for how big a curve is: the greatest horizontal force."""
    return float(np.max(np.hypot(load.surge_n, load.sway_n)))


def _together(steady: Loads, curves: Curves) -> Loads:
    """(3 × staggers,) cases: low, middle and high of wind, stream and pass together."""
    shares = (curves.low, 1.0, curves.high)
    mid = curves.mid

    def each(own: Floats, passing: Floats) -> Floats:
        return np.concatenate([own[i] + share * passing for i, share in enumerate(shares)])

    return Loads(
        each(steady.surge_n, mid.surge_n), each(steady.sway_n, mid.sway_n), each(steady.yaw_n_m, mid.yaw_n_m)
    )


# --- hours --------------------------------------------------------------------------------------------------


def _hours(ask: Ask, holding: Holding) -> Sequence[WindOutlook]:
    """HOURS_AHEAD to the end of the forecast: its wind with the tide and stream of the hour, lines left as they
    are."""
    if ask.forecast is None:
        return []
    estimator, moored = ask.estimator, ask.estimator.moored
    found: list[WindOutlook] = []
    going: Going | None = None
    for hour in HOURS_AHEAD:
        at = ask.now.replace(minute=0, second=0, microsecond=0) + timedelta(hours=hour)
        step = forecast_at(ask.forecast, at)
        if step is None or step.from_direction_deg is None:
            continue
        band, gust_m_s = forecast_band(step, moored.settings.berth.exposure)
        water = moored.water(at, ask.stay)
        if hour > WITHOUT_TIDE and water.height_m is None:
            break
        steady, _, _, _ = estimator.steady(band, step.from_direction_deg, water, ask.stay, ask.air)
        lines = shared(holding, steady, ask.stay, water).lines(0)
        odds = None
        if lines:
            odds, going = odds_of_hour(ask, holding, band, gust_m_s, step.from_direction_deg, at, going)
        found.append(WindOutlook(at, band, gust_m_s, step.from_direction_deg, lines, ask.forecast.source, odds))
    return found
