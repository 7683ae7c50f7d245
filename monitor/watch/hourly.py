"""Odds of the hours ahead: forecast wind with its error, the tide and stream of the hour, lines left as they are.

The lines are shared out at rest for a few wind pressures from three directions; the draws read between them.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.air import gust_ratio
from monitor.physics.loads import Loads
from monitor.physics.strength import utilisation, working_limit_n
from monitor.physics.windage import COEFFICIENT_SPREAD
from monitor.records.estimates import Band, EventOdds, LineOdds
from monitor.watch import draws as drawn
from monitor.watch.ensemble import Case, stream_of, wind_units

MEMBERS: Final = 500
SHARING: Final = 0.12  # of a tension shared out: pretension, curves, friction and movement together (ours)
_PRESSURES: Final = np.array([0.0, 0.3, 0.6, 1.0, 1.5, 2.2, 3.2, 4.8, 7.0])  # times that of the forecast wind
_OFF_DEG: Final = np.array([-30.0, 0.0, 30.0])
_DIRECTION_DEG: Final = 15.0  # of a forecast, in the strong winds that matter (ours; it shrinks with the wind)


def hour_odds(case: Case, lead_h: float) -> EventOdds | None:
    """Odds of an hour whose wind `case` holds, forecast so many hours ahead; None where she is not held at all."""
    assert case.wind.speed_30s_m_s is not None
    holding, moored, n = case.holding, case.holding.moored, MEMBERS
    kept = list(holding.kept)
    chance = drawn.draws(n, len(moored.names))
    speed_m_s = case.wind.speed_30s_m_s.mid
    error_m_s = (drawn.FORECAST_M_S + drawn.FORECAST_M_S_PER_H * lead_h) * gust_ratio(
        600.0, 30.0, moored.settings.berth.exposure
    )
    draw_m_s = np.maximum(0.0, speed_m_s + error_m_s * chance[drawn.WIND_SPEED])
    coefficient = 1.0 + np.hypot(COEFFICIENT_SPREAD, moored.windage.spread) * chance[drawn.WIND_AREA]
    pressure = (draw_m_s / max(speed_m_s, 0.5)) ** 2 * np.maximum(coefficient, 0.2)
    surface = _surface(case, wind_units(case, _OFF_DEG) * max(speed_m_s, 0.5) ** 2)
    if surface is None:
        return None
    turned = np.clip(_DIRECTION_DEG * chance[drawn.WIND_DIRECTION], -30.0, 30.0)
    spread = np.exp(SHARING * 0.5**0.5 * (chance[drawn.TAUT][:, None] + chance.taut[:, kept]))
    peak_n = _read(surface, pressure, turned) * spread
    limits = [moored.limits[i] for i in kept]
    working_n = np.array([working_limit_n(limit.ship_design_mbl_n, limit.material) for limit in limits])
    over = peak_n >= working_n
    parts = np.stack(
        [peak_n[:, j] >= drawn.between(moored.strengths_n[i], chance.strength[:, i]) for j, i in enumerate(kept)],
        1,
    )
    worst = utilisation(peak_n, limits).share.max(axis=1)
    bands = np.percentile(peak_n, [5.0, 50.0, 95.0], axis=0)
    lines = []
    for j, i in enumerate(kept):
        brake = moored.renders_n[i]
        renders = (
            None if brake is None else float((peak_n[:, j] >= drawn.between(brake, chance.brake[:, i])).mean())
        )
        band = Band(*map(float, bands[:, j]))
        lines.append(
            LineOdds(
                moored.names[i],
                moored.groups[i],
                band,
                float(over[:, j].mean()),
                renders,
                float(parts[:, j].mean()),
            )
        )
    told = {name: chance[name] for name in (drawn.WIND_SPEED, drawn.WIND_DIRECTION, drawn.WIND_AREA, drawn.TAUT)}
    return EventOdds(
        case.at,
        n,
        tuple(sorted(lines, key=lambda line: (-line.over_working, -line.tension_n.high, line.line))),
        float(over.any(axis=1).mean()),
        float((worst >= 1.0).mean()),
        float(parts.any(axis=1).mean()),
        drawn.drivers(told, worst),
    )


def at_hour(case: Case, speed_m_s: Band, gust_m_s: float | None, from_direction_deg: float, at: datetime) -> Case:
    """The case of an hour ahead: forecast wind, tide and stream of then; worked out when the first case was."""
    wind = replace(
        case.wind, speed_30s_m_s=speed_m_s, mean_m_s=None, gust_m_s=gust_m_s, from_direction_deg=from_direction_deg
    )
    return replace(case, wind=wind, water=case.holding.moored.water(at, case.stay))


def _surface(case: Case, wind_n: Floats) -> Floats | None:
    """Tensions (directions, pressures, m), inf where she is not held; None when not even by the forecast wind."""
    stream = stream_of(case)
    loads = np.multiply.outer(_PRESSURES, wind_n).swapaxes(0, 1) + stream  # (directions, pressures, 3)
    flat = loads.reshape(-1, 3)
    rest = case.holding.share(Loads(flat[:, 0], flat[:, 1], flat[:, 2]), case.stay, case.water)
    tension_n = rest.tension_n.reshape(*loads.shape[:2], -1)
    held = rest.converged.reshape(loads.shape[:2])
    if not held[:, 3].all():
        return None
    return np.where(held[:, :, None], tension_n, np.inf)


def _read(surface: Floats, pressure: Floats, turned_deg: Floats) -> Floats:
    """(n, m) between pressures, then between directions, straight."""
    by_direction = np.array(
        [[np.interp(pressure, _PRESSURES, one[:, j]) for j in range(one.shape[1])] for one in surface]
    )  # (directions, m, n)
    to_side = np.clip(np.abs(turned_deg) / _OFF_DEG[-1], 0.0, 1.0)
    side = np.where(turned_deg < 0.0, 0, 2)
    rows = np.arange(len(turned_deg))
    return np.asarray(((1.0 - to_side) * by_direction[1] + to_side * by_direction[side, :, rows].T).T)
