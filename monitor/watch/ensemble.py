"""The members of a case: many possible truths of the ship, her lines, the wind and the stream, ready to march.

Each starts at rest under its own mean wind and stream, with its own pretensions, curves, brakes and strengths.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.gusts import turbulence_m_s
from monitor.physics.inertia import ADDED_MASS_SPREAD, virtual_mass
from monitor.physics.mooring import Mooring, equilibrium
from monitor.physics.response import Members, critical_damping, step_s
from monitor.physics.windage import COEFFICIENT_SPREAD
from monitor.records.estimates import Band, WaterEstimate, WindEstimate
from monitor.records.observations import AirReading
from monitor.watch import draws as drawn
from monitor.watch.draws import MEMBERS, Draws, between
from monitor.watch.moored import Holding
from monitor.watch.stay import StayState

_PEAK_OVER_SIGMA: Final = 3.0  # highest 3 s gust of ten minutes over the mean (common practice, no source)
_CALM_M_S: Final = 2.0  # the lightest mean that is drawn about (ours)
_USUAL_30S: Final = 1.2  # highest 30 s wind of ten minutes over their mean, where no mean is known (ours)
_HEARD: Final = (0.7, 2.5)  # times the usual turbulence: as far as gusts heard are believed (ours)


@dataclass(frozen=True, slots=True)
class Case:
    """What an event is drawn about. The wind's speed and direction must be known."""

    holding: Holding
    stay: StayState
    wind: WindEstimate
    water: WaterEstimate
    air: AirReading | None
    at: datetime
    members: int = MEMBERS
    trend: float = 0.0  # what the forecast adds to the mean wind in an hour, as a share


@dataclass(frozen=True, slots=True)
class Ensemble:
    """n members of a case, ready to march."""

    case: Case
    mooring: Mooring
    chance: Draws
    members: Members
    start: Floats  # (n, 3)
    dt_s: float
    wind_n: Floats  # (n, 3) of 1 m/s
    stream_n: Floats  # (n, 3)
    mean_m_s: Floats  # (n,)
    deviation_m_s: Floats  # (n,)


def ensemble(case: Case) -> Ensemble:
    """The members of a case. Raises ValueError when the wind is unknown or hardly any of them is held."""
    holding, moored, n = case.holding, case.holding.moored, case.members
    if case.wind.speed_30s_m_s is None or case.wind.from_direction_deg is None:
        raise ValueError("wind unknown")
    kept = list(holding.kept)
    chance = drawn.draws(n, len(moored.names))
    mooring = holding.risen(case.stay, case.water)
    lines = mooring.lines

    mean_m_s, deviation_m_s = _wind(case.wind, chance)
    wind_n = _wind_unit(case, chance)
    stream_n = np.outer(np.maximum(0.0, 1.0 + drawn.STREAM * chance[drawn.CURRENT]), stream_of(case))

    slow = np.exp(drawn.STIFFNESS * chance[drawn.STIFF])[:, None]
    held = lines.at(lines.tended_extension_m[None])
    factor = np.exp(drawn.PRETENSION * (chance[drawn.TAUT][:, None] + chance.taut[:, kept]))
    soft = np.where(held.stiffness_n_m > 0.0, held.stiffness_n_m, np.inf)
    payed_m = -(factor - 1.0) * held.tension_n / (soft * slow)
    if case.stay.slips:  # a weak brake has let out most
        out_m = holding.slipped_m(case.stay)
        each = zip(kept, out_m.T, strict=True)
        payed_m += np.stack([between(Band(*ends), -chance.brake[:, i]) for i, ends in each], axis=1) - out_m[1]
    fibre = np.array([moored.limits[i].material != "steel wire" for i in kept])
    first, last = drawn.QUICK
    quick = np.where(fibre, first + (last - first) * chance.uniform("quick stiffness")[:, None], 1.0)

    mean = wind_n * (mean_m_s**2)[:, None] + stream_n
    rest = equilibrium(mooring, *mean.T, payed_out_m=payed_m, stiffness=np.broadcast_to(slow, payed_m.shape))
    if rest.converged.mean() < 0.5:
        raise ValueError(next(text for text in rest.why if text))
    start = np.where(rest.converged[:, None], rest.displacement, rest.displacement[rest.converged].mean(axis=0))

    hull, basin = moored.hull(case.stay), moored.basin(case.water)
    own, open_, quay = (virtual_mass(hull, basin, share, added) for share, added in ((0, 0), (0, 1), (1, 1)))
    water = (open_ - own) + chance.uniform("quay")[:, None] * (quay - open_)
    mass = own + np.maximum(0.3, 1.0 + ADDED_MASS_SPREAD * chance[drawn.INERTIA])[:, None] * water
    ratio, spread = drawn.DAMPING
    damping = ratio * np.exp(spread * chance[drawn.DAMPED])[:, None] * critical_damping(mooring, start, mass)
    low, high = drawn.FENDER_FRICTION
    render_n, strength_n = drawn_n(holding, chance)
    members = Members(
        mass,
        damping,
        quick,
        slow,
        payed_m,
        render_n,
        strength_n,
        low + (high - low) * chance.uniform(drawn.RUB),
        drawn.FENDER_LOSS,
    )
    dt_s = step_s(mooring, mass.min(axis=0))
    return Ensemble(
        case, mooring, chance, members, start, dt_s, wind_n, stream_n, mean_m_s, deviation_m_s
    )  # fmt: skip


def drawn_n(holding: Holding, chance: Draws) -> tuple[Floats, Floats]:
    """Tensions (n, m) at which the brakes of lines that hold render (inf without) and at which the lines part."""
    kept, moored = holding.kept, holding.moored
    never = np.full(len(chance.brake), np.inf)
    bands = [moored.renders_n[i] for i in kept]
    render_n = [
        never if band is None else between(band, chance.brake[:, i]) for i, band in zip(kept, bands, strict=True)
    ]
    strength_n = [between(moored.strengths_n[i], chance.strength[:, i]) for i in kept]
    return np.stack(render_n, axis=1), np.stack(strength_n, axis=1)


def _wind(wind: WindEstimate, chance: Draws) -> tuple[Floats, Floats]:
    """Ten-minute mean and the standard deviation of gusts about it, (n,) each."""
    assert wind.speed_30s_m_s is not None
    middle_m_s = max(wind.speed_30s_m_s.mid / _USUAL_30S if wind.mean_m_s is None else wind.mean_m_s, _CALM_M_S)
    mean_m_s = middle_m_s * np.maximum(0.2, 1.0 + drawn.WIND * chance[drawn.WIND_SPEED])
    deviation_m_s = turbulence_m_s(middle_m_s, 10.0)
    if wind.gust_m_s is not None:
        heard_m_s = (wind.gust_m_s - middle_m_s) / _PEAK_OVER_SIGMA
        least_m_s, most_m_s = (share * deviation_m_s for share in _HEARD)
        deviation_m_s = float(np.clip(heard_m_s, least_m_s, most_m_s))
    return mean_m_s, deviation_m_s * mean_m_s / middle_m_s * np.exp(drawn.GUSTINESS * chance[drawn.GUSTS])


def _wind_unit(case: Case, chance: Draws) -> Floats:
    """Load of a wind of 1 m/s of each member (n, 3): direction between three solutions, area and coefficients."""
    moored, off_deg = case.holding.moored, np.array([-20.0, 0.0, 20.0])
    units = wind_units(case, off_deg)
    turned_deg = np.clip(drawn.DIRECTION_DEG * chance[drawn.WIND_DIRECTION], -20.0, 20.0)
    by_direction = np.stack([np.interp(turned_deg, off_deg, units[:, j]) for j in range(3)], axis=1)
    spread = float(np.hypot(COEFFICIENT_SPREAD, moored.windage.spread))
    return np.asarray(by_direction * np.maximum(0.2, 1.0 + spread * chance[drawn.WIND_AREA])[:, None])


def wind_units(case: Case, off_deg: Floats) -> Floats:
    """Load (d, 3) of a wind of 1 m/s from d directions about the case's own."""
    middle_deg = case.wind.from_direction_deg
    assert middle_deg is not None
    moored = case.holding.moored
    loads = [moored.wind_load([1.0], middle_deg + by, case.stay, case.air).at(0) for by in off_deg]
    return np.array([(load.surge_n, load.sway_n, load.yaw_n_m) for load in loads])


def stream_of(case: Case) -> Floats:
    """Load (3,) of the stream; nothing where it is unknown, which is said with the static loads."""
    try:
        load = case.holding.moored.stream_load(case.water, case.stay).at(0)
    except ValueError:
        return np.zeros(3)
    return np.array([load.surge_n, load.sway_n, load.yaw_n_m])
