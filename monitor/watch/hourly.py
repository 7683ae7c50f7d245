"""Odds of the hours ahead: forecast wind with its error, the tide and stream of the hour, lines left as they are.

The lines are shared out at rest for a few wind pressures from three directions; the draws read between them. A
member in which some line would pass its brake or its strength is shared out by itself: brakes render, lines part,
the others take over. Every hour begins with the lines as they are now; the order in which lines would go is of the
whole forecast, by the first hour in which each goes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.air import gust_ratio
from monitor.physics.cascade import NEVER, Unzipped, unzipped
from monitor.physics.lines import corners_m
from monitor.physics.loads import Loads
from monitor.physics.windage import COEFFICIENT_SPREAD
from monitor.records.estimates import Band, EventOdds
from monitor.watch import draws as drawn
from monitor.watch.counted import counted
from monitor.watch.ensemble import Case, drawn_n, stream_of, wind_units

MEMBERS: Final = 500
SHARING: Final = 0.12  # of a tension shared out: pretension, curves, friction and movement together (ours)
_PRESSURES: Final = np.array([0.0, 0.3, 0.6, 1.0, 1.5, 2.2, 3.2, 4.8, 7.0])  # times that of the forecast wind
_OFF_DEG: Final = np.array([-30.0, 0.0, 30.0])
_DIRECTION_DEG: Final = 15.0  # of a forecast, in the strong winds that matter (ours; it shrinks with the wind)
_APART_S: Final = 1.0  # between lines that go at one moment, to keep their order


@dataclass(frozen=True, slots=True)
class Going:
    """What became of the lines of n members from the first forecast hour to this one."""

    at: datetime  # the hour
    carried_n: Floats  # (n, m) in this hour before any line goes
    gone_s: Floats  # (n, m) when each went first, seconds since 1970; inf while it holds


def hour_odds(case: Case, lead_h: float, before: Going | None = None) -> tuple[EventOdds | None, Going | None]:
    """Odds of an hour whose wind `case` holds, forecast so many hours ahead, and how far lines have got by then.

    `before`: how far they had an hour before. No odds where even the forecast wind could not be shared out.
    """
    assert case.wind.speed_30s_m_s is not None
    holding, moored, n = case.holding, case.holding.moored, MEMBERS
    chance = drawn.draws(n, len(moored.names))
    speed_m_s = case.wind.speed_30s_m_s.mid
    error_m_s = (drawn.FORECAST_M_S + drawn.FORECAST_M_S_PER_H * lead_h) * gust_ratio(
        600.0, 30.0, moored.settings.berth.exposure
    )
    draw_m_s = np.maximum(0.0, speed_m_s + error_m_s * chance[drawn.WIND_SPEED])
    coefficient = 1.0 + np.hypot(COEFFICIENT_SPREAD, moored.windage.spread) * chance[drawn.WIND_AREA]
    pressure = (draw_m_s / max(speed_m_s, 0.5)) ** 2 * np.maximum(coefficient, 0.2)
    wind_n = wind_units(case, _OFF_DEG) * max(speed_m_s, 0.5) ** 2
    surface = _surface(case, wind_n)
    if surface is None:
        return None, before
    turned = np.clip(_DIRECTION_DEG * chance[drawn.WIND_DIRECTION], -30.0, 30.0)
    spread = np.exp(SHARING * 0.5**0.5 * (chance[drawn.TAUT][:, None] + chance.taut[:, list(holding.kept)]))
    render_n, strength_n = drawn_n(holding, chance)
    found = _by_itself(
        case, wind_n, pressure, turned, _read(surface, pressure, turned), render_n / spread, strength_n / spread
    )
    peak_n = np.minimum(found.peak_n * spread, strength_n)
    going = _going(case.at + timedelta(hours=lead_h), before, found, strength_n / spread)
    inputs = {name: chance[name] for name in (drawn.WIND_SPEED, drawn.WIND_DIRECTION, drawn.WIND_AREA, drawn.TAUT)}
    return counted(case, peak_n, render_n, strength_n, inputs, parts_at=_middles(going)), going


def _by_itself(
    case: Case,
    wind_n: Floats,
    pressure: Floats,
    turned_deg: Floats,
    read_n: Floats,
    render_n: Floats,
    strength_n: Floats,
) -> Unzipped:
    """Tensions (n, m) read from the surface, and members shared out by themselves where a brake or a line gives.

    What no lines hold has every brake rendering or line parting: nothing less would have let her go.
    """
    n, m = read_n.shape
    least_n = np.minimum(render_n, strength_n)
    rows = np.flatnonzero((read_n > least_n).any(axis=1))
    found = Unzipped(read_n.copy(), read_n.copy(), np.full((n, m), NEVER), np.ones(n, dtype=bool))
    if not rows.size:
        return found
    load_n = pressure[rows, None] * _between(wind_n, turned_deg[rows]) + stream_of(case)
    mooring = case.holding.risen(case.stay, case.water)
    gone = np.zeros((len(rows), m), dtype=bool)
    each = unzipped(mooring, load_n, strength_n[rows], gone, corners_m(mooring.lines, render_n[rows]))
    beyond_n = least_n[rows] * (1.0 + 1e-9)  # by a hair, so that no rounding hides it
    most_n = np.where(each.holds[:, None], each.peak_n, np.maximum(each.peak_n, beyond_n))
    last = ~each.holds[:, None] & (each.turn == NEVER) & (strength_n[rows] <= render_n[rows])
    turn = np.where(last, m, each.turn)  # with the last of those that went before
    found.first_n[rows] = np.where(np.isfinite(each.first_n), each.first_n, most_n)
    found.peak_n[rows], found.turn[rows], found.holds[rows] = most_n, turn, each.holds
    return found


def _going(at: datetime, before: Going | None, found: Unzipped, strength_n: Floats) -> Going:
    """Lines that go in this hour for the first time, each when the load has grown from the hour before to what
    parts it; one that goes because others have gone not before them."""
    at_s = at.timestamp()
    gone_s = np.full(found.peak_n.shape, np.inf) if before is None else before.gone_s.copy()
    last_s = np.full(len(gone_s), -np.inf)
    for number in np.unique(found.turn[found.turn != NEVER]):
        row, line = np.nonzero(found.turn == number)
        when_s = np.full(len(row), at_s)
        if before is not None:
            was_n, pull_n = before.carried_n[row, line], found.peak_n[row, line]
            way = np.clip((strength_n[row, line] - was_n) / np.maximum(pull_n - was_n, 1.0), 0.0, 1.0)
            when_s -= (1.0 - way) * (at - before.at).total_seconds()
        when_s = np.maximum(when_s, last_s[row] + _APART_S)
        np.maximum.at(last_s, row, when_s)
        gone_s[row, line] = np.minimum(gone_s[row, line], when_s)
    return Going(at, found.first_n, gone_s)


def _middles(going: Going) -> list[datetime | None]:
    """By line, the middle of the times it goes among the members in which it does."""
    gone = [each[np.isfinite(each)] for each in going.gone_s.T]
    return [datetime.fromtimestamp(float(np.median(each)), UTC) if each.size else None for each in gone]


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
    return _between(by_direction.transpose(0, 2, 1), turned_deg)


def _between(by_direction: Floats, turned_deg: Floats) -> Floats:
    """Rows (n, c) straight between those of three directions, (3, n, c), or (3, c) for all."""
    to_side = np.clip(np.abs(turned_deg) / _OFF_DEG[-1], 0.0, 1.0)[:, None]
    low, middle, high = by_direction
    side = np.where(turned_deg[:, None] < 0.0, low, high)
    with np.errstate(invalid="ignore"):
        mixed = (1.0 - to_side) * middle + to_side * side
    # Nothing of a direction in which she is not held (inf) is nothing; as no number it would be over no limit.
    return np.asarray(np.where(to_side <= 0.0, middle, np.where(to_side >= 1.0, side, mixed)))
