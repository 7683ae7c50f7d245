"""What if: a ship passes, the wind blows. The same models as the watch, on numbers typed in."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

import numpy as np

from monitor.base.frames import wrap360
from monitor.base.units import typed_direction_deg
from monitor.outlet.pictures import Outline, PassingPicture
from monitor.physics.hulls import Hull, hull_from_ais
from monitor.physics.wake import Channel, Drawdown, ShipWaves
from monitor.records.estimates import (
    Band,
    Encounter,
    EventOdds,
    HorizontalLoad,
    IfLost,
    LineLoad,
    PassingAdvice,
    PassingKind,
    Untended,
    Validity,
    WaterEstimate,
    WindEstimate,
)
from monitor.settings.schema import Section, Settings
from monitor.watch import stay
from monitor.watch.advice import advise
from monitor.watch.ensemble import Case
from monitor.watch.estimator import Estimator, through_water_m_s
from monitor.watch.expected import if_lost
from monitor.watch.moored import Holding, Moored
from monitor.watch.odds import event_odds, passing_event
from monitor.watch.outlook import Curves, by_size, load_sizes, passing_curves, shared_over
from monitor.watch.sharing import shared
from monitor.watch.tending import untended
from monitor.watch.wash import drawdown_of, waves_of

DEEPEST_M: Final = 100.0  # mean depth of a channel, as in the settings: more is a slip of the pen


@dataclass(frozen=True, slots=True)
class Passer:
    """The ship in question: sizes None when not given; distance hull to hull; speed as typed."""

    length_m: float
    beam_m: float | None
    draught_m: float | None
    distance_m: float
    speed_m_s: float
    through_water: bool
    opposite: bool
    ship_type: int | None = 70
    channel: Channel | None = None  # cross-section, where it is known


@dataclass(frozen=True, slots=True)
class Pass:
    """The pass asked about: what is expected of her, her hull as it floats there, her load against her place, her
    waves at our side (None: too fast for any formula), and the drawdown where the channel's section is known."""

    encounter: Encounter
    hull: Hull
    curves: Curves
    waves: ShipWaves | None
    drawdown: Drawdown | None


@dataclass(frozen=True, slots=True)
class Answer:
    """What the models say. `lines` are peaks over the pass, or the steady loads when no ship was asked for."""

    lines: tuple[LineLoad, ...]
    wind_load: HorizontalLoad
    stream_load: HorizontalLoad
    passing_peak: HorizontalLoad | None
    speed_water_m_s: float | None
    water: WaterEstimate
    assumed: tuple[str, ...]
    validity: Validity
    reasons: tuple[str, ...]
    passing: Pass | None = None
    odds: EventOdds | None = None  # of the pass
    advice: PassingAdvice | None = None
    untended: tuple[Untended, ...] = ()  # in that wind, and
    lost: tuple[IfLost, ...] = ()  # when a line goes in it; both without the ship


def what_if(
    settings: Settings, at: datetime, wind_m_s: float, from_direction_deg: float, passer: Passer | None
) -> Answer:
    """Loads at the tide and stream of a time. Wind is the 30 s wind at 10 m; it is taken as exact.

    Raises ValueError with the reason when the lines cannot be solved.
    """
    if passer is not None and passer.channel is not None:
        settings = _with_section(settings, passer.channel, Moored(settings).water(at))
    estimator = Estimator(settings)
    moored, state = estimator.moored, stay.begin(settings.stay)
    water = moored.water(at)
    wind = Band(wind_m_s, wind_m_s, wind_m_s)
    steady, wind_part, stream_part, missing = estimator.steady(wind, from_direction_deg, water, state, None)
    holding = estimator.holding(state)
    if passer is None:
        rest = shared(holding, steady, state, water)
        if rest.why:
            raise ValueError(rest.why)
        reasons = (*water.reasons, *missing, *rest.reasons)
        validity = Validity.DEGRADED if reasons else Validity.GOOD
        return Answer(
            rest.lines(0), wind_part, stream_part, None, None, water, (), validity, reasons,
            untended=untended(holding, steady, state, at), lost=if_lost(holding, state, water, steady.at(1)),
        )  # fmt: skip
    encounter = _encounter(passer, moored.berthed.heading_deg, settings.ship.beam, water, at)
    if passer.channel is not None:
        _room(passer.channel, encounter, abs(moored.berthed.quay_y_m))
    own = moored.hull(state)
    curves = passing_curves(moored, own, encounter, water)
    if curves is None or curves.mid.validity is Validity.UNKNOWN:
        reasons = curves.mid.reasons if curves else ("her track past the berth is not known",)
        return Answer(
            (), wind_part, stream_part, None, encounter.speed_water_m_s.mid, water, encounter.assumed,
            Validity.UNKNOWN, reasons,
        )  # fmt: skip
    over = shared_over(holding, steady, curves, state, water)
    if over.why:
        raise ValueError(over.why)
    odds, advice = _odds(holding, state, wind, from_direction_deg, water, at, encounter, curves)
    return Answer(
        over.peaks(),
        wind_part,
        stream_part,
        curves.peak,
        encounter.speed_water_m_s.mid,
        water,
        encounter.assumed,
        Validity.DEGRADED,
        (*curves.mid.reasons, *curves.wash, *water.reasons, *missing, *over.reasons),
        _pass(moored, own, encounter, curves, water),
        odds,
        advice,
    )


def _odds(
    holding: Holding,
    state: stay.StayState,
    wind_30s_m_s: Band,
    from_direction_deg: float,
    water: WaterEstimate,
    at: datetime,
    encounter: Encounter,
    curves: Curves,
) -> tuple[EventOdds | None, PassingAdvice | None]:
    """The pass in time and with odds, about the numbers typed in; nothing where there is no load to speak of."""
    if curves.found is None:
        return None, None
    wind = WindEstimate(at, wind_30s_m_s, from_direction_deg, None, None, None, "typed", 0.0, Validity.GOOD)
    passed = (holding.moored, holding.moored.hull(state), encounter, water)
    found = replace(curves.found, sizes=by_size(*passed))
    outcome = passing_event(Case(holding, state, wind, water, None, at), encounter, found)
    return event_odds(outcome), advise(
        outcome, encounter, found, load_sizes(*passed), holding.moored.room_m(encounter.beam_m.mid)
    )


def _room(channel: Channel, encounter: Encounter, off_quay_m: float) -> None:
    """Raises ValueError where a channel cannot be as typed."""
    needs_m = off_quay_m + encounter.separation_m.mid + 0.5 * encounter.beam_m.mid
    mean_m = channel.area_m2 / channel.width_m
    if needs_m > channel.width_m:
        raise ValueError(
            f"a channel {channel.width_m:.0f} m wide has no room for her so far off: from the quay to her far side"
            f" are {needs_m:.0f} m"
        )
    if mean_m > DEEPEST_M:
        raise ValueError(
            f"a channel of {channel.area_m2:.0f} m² and {channel.width_m:.0f} m would be {mean_m:.0f} m deep:"
            f" at most {DEEPEST_M:.0f} m"
        )


def _with_section(settings: Settings, channel: Channel, water: WaterEstimate) -> Settings:
    """A berth on that channel, filled as far as the tide fills it now."""
    mean_depth_m = channel.area_m2 / channel.width_m - (water.height_m or 0.0)
    section = Section.model_construct(width=channel.width_m, mean_depth=mean_depth_m)
    fairway = settings.berth.fairway.model_copy(update={"section": section})
    return settings.model_copy(update={"berth": settings.berth.model_copy(update={"fairway": fairway})})


def _pass(moored: Moored, own: Hull, encounter: Encounter, curves: Curves, water: WaterEstimate) -> Pass:
    sizes = (encounter.length_m.mid, encounter.beam_m.mid, encounter.draught_m.mid)
    hull, basin = moored.afloat(hull_from_ais(encounter.ship_type, *sizes).hull, water)
    sunk = drawdown_of(hull, encounter, moored.channel(water))
    return Pass(encounter, hull, curves, waves_of(hull, encounter, own, basin), sunk)


def picture_of(settings: Settings, answer: Answer, at: datetime) -> PassingPicture:
    """The answer as a picture shows it, in words instead of signs. Raises ValueError when there is no curve."""
    if answer.passing is None:
        raise ValueError("a picture shows the load of a passing ship: there is none to show")
    encounter, curves = answer.passing.encounter, answer.passing.curves
    ship, quay_y_m = settings.ship, Moored(settings).berthed.quay_y_m
    off = -1.0 if quay_y_m > 0.0 else 1.0  # starboard side to: off the quay is to port
    order = np.argsort(curves.x_m)
    return PassingPicture(
        Outline(ship.name, ship.loa, ship.beam, abs(quay_y_m)),
        Outline("", encounter.length_m.mid, encounter.beam_m.mid, abs(quay_y_m) + encounter.separation_m.mid),
        curves.x_m[order].tolist(),
        curves.mid.surge_n[order].tolist(),
        (off * curves.mid.sway_n[order]).tolist(),
        (off * curves.mid.yaw_n_m[order]).tolist(),
        curves.low,
        curves.high,
        encounter.kind is not PassingKind.OPPOSITE,
        encounter.speed_ground_m_s.mid,
        encounter.speed_water_m_s.mid,
        answer.passing.hull.draught_m,
        answer.assumed,
        answer.validity,
        answer.reasons,
        settings.berth.name,
        at + settings.stay.local_time_ahead_of_utc,
        settings.stay.invented or ship.invented or settings.berth.invented,
    )


def _encounter(
    passer: Passer, own_heading_deg: float, own_beam_m: float, water: WaterEstimate, at: datetime
) -> Encounter:
    sized = hull_from_ais(passer.ship_type, passer.length_m, passer.beam_m, passer.draught_m)
    typed = (("beam", passer.beam_m), ("draught", passer.draught_m))
    if odd := [name for name, size_m in typed if size_m is not None and name in sized.assumed]:
        raise ValueError(f"{' and '.join(odd)} out of all proportion for a ship of {passer.length_m:.0f} m")
    course_deg = wrap360(own_heading_deg + (180.0 if passer.opposite else 0.0))
    speed_m_s = passer.speed_m_s
    if not passer.through_water:
        speed_m_s = through_water_m_s(passer.speed_m_s, course_deg, water)
    separation_m = passer.distance_m + 0.5 * (own_beam_m + sized.beam_m.mid)
    exact = Band(speed_m_s, speed_m_s, speed_m_s)
    minute = timedelta(minutes=1)
    return Encounter(
        at, 0, "the ship asked about", PassingKind.OPPOSITE if passer.opposite else PassingKind.SAME_WAY, 1.0,
        at, at - minute, at + minute, Band(*3 * (passer.distance_m,)), Band(*3 * (passer.speed_m_s,)), exact,
        course_deg, Band(*3 * (separation_m,)), sized.length_m, sized.beam_m, sized.draught_m, passer.ship_type,
        0.0, sized.assumed,
    )  # fmt: skip


def channel_of(area_m2: float | None, width_m: float | None) -> Channel | None:
    """The channel's section. Raises ValueError when only one of the two is given."""
    if area_m2 is None and width_m is None:
        return None
    if area_m2 is None or width_m is None:
        raise ValueError("a channel needs --channel-section and --channel-width")
    return Channel(area_m2, width_m)


def wind_from_deg(settings: Settings, typed: str) -> float:
    """Where a wind comes from, degrees true: as typed, or square on the beam, "off-berth" (over the quay, blowing
    her off) or "on-berth" (over the water). Raises UnitError."""
    over_water_deg = wrap360(settings.berth.along + 90.0)
    beam_deg = {"on-berth": over_water_deg, "off-berth": wrap360(over_water_deg + 180.0)}
    return beam_deg[typed] if typed in beam_deg else typed_direction_deg(typed)
