"""What if: a ship passes, the wind blows. The same models as the watch, on numbers typed in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from monitor.base.frames import wrap360
from monitor.physics.hulls import hull_from_ais
from monitor.records.estimates import (
    Band,
    Encounter,
    HorizontalLoad,
    LineLoad,
    PassingKind,
    Validity,
    WaterEstimate,
)
from monitor.settings.schema import Settings
from monitor.watch import stay
from monitor.watch.estimator import Estimator, through_water_m_s
from monitor.watch.outlook import passing_curves, peaks


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


def what_if(
    settings: Settings, at: datetime, wind_m_s: float, from_direction_deg: float, passer: Passer | None
) -> Answer:
    """Loads at the tide and stream of a time. Wind is the 30 s wind at 10 m; it is taken as exact.

    Raises ValueError with the reason when the lines cannot be solved.
    """
    estimator = Estimator(settings)
    moored, state = estimator.moored, stay.begin(settings.stay)
    water = moored.water(at)
    wind = Band(wind_m_s, wind_m_s, wind_m_s)
    steady, wind_part, stream_part, missing = estimator.steady(wind, from_direction_deg, water, state, None)
    holding = estimator.holding(state)
    if passer is None:
        rest = holding.share(steady, state, water)
        if not rest.converged.all():
            raise ValueError(next(text for text in rest.why if text))
        lines = holding.line_loads(*rest.tension_n)
        validity = Validity.DEGRADED if missing else Validity.GOOD
        return Answer(lines, wind_part, stream_part, None, None, water, (), validity, missing)
    encounter = _encounter(passer, moored.berthed.heading_deg, settings.ship.beam, water, at)
    curves = passing_curves(moored, moored.hull(state), encounter, water)
    if curves is None or curves.mid.validity is Validity.UNKNOWN:
        reasons = curves.mid.reasons if curves else ("her track past the berth is not known",)
        return Answer(
            (), wind_part, stream_part, None, encounter.speed_water_m_s.mid, water, encounter.assumed,
            Validity.UNKNOWN, reasons,
        )  # fmt: skip
    lines = peaks(holding, steady, curves, state, water)
    return Answer(
        lines,
        wind_part,
        stream_part,
        curves.peak,
        encounter.speed_water_m_s.mid,
        water,
        encounter.assumed,
        Validity.DEGRADED,
        (*curves.mid.reasons, *missing),
    )


def _encounter(
    passer: Passer, own_heading_deg: float, own_beam_m: float, water: WaterEstimate, at: datetime
) -> Encounter:
    sized = hull_from_ais(passer.ship_type, passer.length_m, passer.beam_m, passer.draught_m)
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


def beam_wind_from_deg(settings: Settings, off_berth: bool) -> float:
    """Where a wind square on the beam comes from: over the quay (blowing her off) or over the water."""
    over_water = settings.berth.along + 90.0
    return wrap360(over_water + (180.0 if off_berth else 0.0))
