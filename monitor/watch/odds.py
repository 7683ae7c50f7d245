"""Odds: many possible truths of one event, each with the ship moving in time, and how many of them pass a limit.

A truth is a draw of everything in `draws` that is not known exactly. The ship starts each at rest under the mean
wind and the stream; gusts and the passing ship then work on her. Brakes render and lines part in it, so that what
one line lets go the others take. Her load is read between a few solutions (`solved`).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.gusts import wind_series
from monitor.physics.mooring import equilibrium
from monitor.physics.response import Response, respond
from monitor.records.estimates import Band, Encounter, EventOdds, LineLoad
from monitor.watch import draws as drawn
from monitor.watch.counted import counted
from monitor.watch.draws import between
from monitor.watch.ensemble import Case, Ensemble, ensemble
from monitor.watch.solved import Solutions, curves_of

LEAD_S: Final = 60.0  # before her load begins and
AFTER_S: Final = 120.0  # after it ends: time to start ranging and to swing out
_SLOT_S: Final = 120.0  # lengths are whole numbers of this, so that gusts keep their shape between updates
_LONGEST_S: Final = 3600.0
_SLOWEST_M_S: Final = 1.0
_STATIC_EVERY_S: Final = 4.0


@dataclass(frozen=True, slots=True)
class Outcome:
    """An ensemble after its event."""

    ensemble: Ensemble
    response: Response
    begun_at: datetime
    inputs: dict[str, Floats]  # (n,) what was drawn, for `drivers`
    static_n: Floats  # (m,) peaks of the middle member, loads shared out at rest
    passing: Floats  # (n,) load of the pass ÷ the middle one; zeros without a pass


@lru_cache(maxsize=4)
def _gusts(mean_m_s: int, duration_s: float, dt_s: float, members: int, area_m2: int) -> Floats:
    """Gusts (steps, members) about the mean, of standard deviation 1 before the ship's size takes its part."""
    chance = np.random.default_rng(drawn.SEED)
    each = [
        wind_series(mean_m_s, 1.0, mean_m_s, 10.0, duration_s, dt_s, chance, area_m2=area_m2)
        for _ in range(members)
    ]
    return np.array(each).T - mean_m_s


# --- events -------------------------------------------------------------------------------------------------


def passing_event(case: Case, encounter: Encounter, found: Solutions) -> Outcome:
    """The ship while another passes. Raises ValueError as `ensemble` does."""
    drawn_members = ensemble(case)
    chance = drawn_members.chance
    speed = between(encounter.speed_water_m_s, chance[drawn.HER_SPEED])
    middle_m_s = max(encounter.speed_water_m_s.mid, _SLOWEST_M_S)
    low, high = found.powers
    power = low + (high - low) * chance.uniform("speed exponent")
    model = between(Band(found.model_band[0], 1.0, found.model_band[1]), chance[drawn.MODEL])
    share = np.maximum(speed / middle_m_s, 0.05) ** power * model
    away_m = between(encounter.separation_m, chance[drawn.HER_DISTANCE])
    curve, half_m = curves_of(found, encounter, away_m, chance[drawn.HER_SIZE])
    curve *= share[:, None, None]
    ground_m_s = np.maximum(encounter.speed_ground_m_s.mid * speed / middle_m_s, _SLOWEST_M_S)
    longest_s = LEAD_S + float(np.percentile(2.0 * half_m / ground_m_s, 95.0)) + AFTER_S
    steps, dt_s = _steps(longest_s, drawn_members.dt_s)
    abeam_s = LEAD_S + half_m / ground_m_s
    last = len(found.run_m) - 1
    over_run = last / (2.0 * half_m)
    rows = np.arange(len(speed))

    def pass_n(k: int) -> Floats:
        place = ((k * dt_s - abeam_s) * ground_m_s + half_m) * over_run
        inside = (place >= 0.0) & (place < last)
        place = np.where(inside, place, 0.0)
        node = place.astype(np.intp)
        part = (place - node)[:, None]
        between_nodes = (1.0 - part) * curve[rows, node] + part * curve[rows, node + 1]
        return np.where(inside[:, None], between_nodes, 0.0)

    begun_at = encounter.abeam_at - timedelta(seconds=float(abeam_s[0]))
    whole = np.abs(curve[:, :, :2]).max(axis=(1, 2))
    relative = whole / max(float(whole[0]), 1.0)
    asked = (drawn.DRIFT,)
    return _march(drawn_members, steps, dt_s, begun_at, (), pass_n, relative, without=asked)


def wind_event(case: Case, minutes: Sequence[int]) -> Outcome:
    """The ship in wind and stream over the minutes ahead, the last of them an hour at most."""
    drawn_members = ensemble(case)
    steps, dt_s = _steps(60.0 * minutes[-1], drawn_members.dt_s)
    marks = [round(60.0 * each / dt_s) for each in minutes[:-1]]
    asked = (drawn.HER_SPEED, drawn.HER_DISTANCE, drawn.HER_SIZE, drawn.MODEL)
    zero = np.zeros(case.members)
    return _march(drawn_members, steps, dt_s, case.at, marks, None, zero, without=asked)


def _march(
    each: Ensemble,
    steps: int,
    dt_s: float,
    begun_at: datetime,
    marks: Sequence[int],
    pass_n: Callable[[int], Floats] | None,
    relative: Floats,
    without: Sequence[str],
) -> Outcome:
    mooring, members, chance = each.mooring, each.members, each.chance
    moored = each.case.holding.moored
    middle_m_s = float(np.median(each.mean_m_s))
    gusts = _gusts(
        max(1, round(middle_m_s)), steps * dt_s, dt_s, len(chance.taut), round(moored.windage.area.lateral_m2)
    )
    growth = (each.case.trend + drawn.WIND_IN_AN_HOUR * chance[drawn.DRIFT]) / 3600.0
    middle: list[Floats] = []

    def force(k: int) -> Floats:
        speed = each.mean_m_s * (1.0 + growth * (k * dt_s)) + each.deviation_m_s * gusts[k]
        load: Floats = each.wind_n * (speed * np.abs(speed))[:, None] + each.stream_n
        if pass_n is not None:
            load += pass_n(k)
        middle.append(load[0].copy())
        return load

    response = respond(mooring, members, force, steps, dt_s, each.start, marks)
    every = max(1, round(_STATIC_EVERY_S / dt_s))
    loads = np.array(middle[::every])
    static = equilibrium(mooring, *loads.T)
    peaks_n = (
        np.nanmax(static.tension_n, axis=0) if static.converged.any() else np.full(len(mooring.lines), np.nan)
    )
    inputs = {name: chance[name] for name in drawn.INPUTS if name not in without}
    inputs[drawn.GUSTS] = each.deviation_m_s / each.mean_m_s * gusts.max(axis=0)
    return Outcome(each, response, begun_at, inputs, peaks_n, relative)


def _steps(duration_s: float, longest_dt_s: float) -> tuple[int, float]:
    """A whole number of slots, and a step that divides a minute."""
    whole_s = min(_LONGEST_S, np.ceil(duration_s / _SLOT_S) * _SLOT_S)
    dt_s = 60.0 / np.ceil(60.0 / longest_dt_s)
    return round(whole_s / dt_s), float(dt_s)


# --- what comes of it ---------------------------------------------------------------------------------------


def event_odds(outcome: Outcome, mark: int = -1) -> EventOdds:
    """The odds of an event, up to one of its marks."""
    each, response = outcome.ensemble, outcome.response
    peak_n, members = response.peak_n[mark], each.members
    if mark not in (-1, len(response.peak_n) - 1):
        return counted(each.case, peak_n, members.render_n, members.strength_n, outcome.inputs)
    return counted(
        each.case,
        peak_n,
        members.render_n,
        members.strength_n,
        outcome.inputs,
        static_n=outcome.static_n,
        dynamic_n=peak_n[0],
        parts_at=[_middle_of(outcome, j) for j in range(peak_n.shape[1])],
    )


def overtaken(odds: EventOdds, lines: Sequence[LineLoad]) -> bool:
    """Whether facts have passed what the odds held possible: the first of `lines`, the heaviest, carries more by
    now than the 95 % end of its peak. Such odds are of a wind that is over; they are neither told nor kept."""
    peaks_n = {line.line: line.tension_n.high for line in odds.lines}
    return any(load.tension_n.mid > peaks_n.get(load.line, load.tension_n.mid) for load in lines[:1])


def _middle_of(outcome: Outcome, line: int) -> datetime | None:
    """When a line goes, among the members in which it does."""
    at_s = outcome.response.parted_at_s[:, line]
    gone = at_s[np.isfinite(at_s)]
    return outcome.begun_at + timedelta(seconds=float(np.median(gone))) if gone.size else None
