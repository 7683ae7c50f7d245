"""Drawing the futures and sweeping them past the berth: what each draw that passes would be like.

Everything is computed in berth axes round our midships: x along the quay, y off it, as complex numbers x + i·y.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np
from numpy.typing import NDArray

from monitor.base.frames import Floats
from monitor.base.units import m_s
from monitor.physics.hulls import SizedHull
from monitor.watch.clearance import clearance_m, half_reach_m
from monitor.watch.fairway import Points
from monitor.watch.futures import SLOWING_SD, Future, Way, across_sd_m, changed_sd, paths, speed_sd
from monitor.watch.scene import Scene
from monitor.watch.tracks import Target

PASS_WITHIN_M: Final = 500.0  # or three of her lengths: beyond, her pressure field is not felt (ours)
MARGIN: Final = 0.25  # of our length beyond each end: a ship that stops there is abeam enough to be told
BERTHING_M_S: Final = m_s(5.0)  # slower ships may be bound for the quay itself; faster ones go round it
CURRENT_SD: Final = 0.2  # of the rate in the table
UNTOLD_CURRENT_SD_M_S: Final = 0.6  # where no table tells it (ours)

_DRAWS: Final = 24
_COARSE: Final = 80
_FINE: Final = 33


def _normal_draws(count: int, kinds: int) -> Floats:
    """(kinds, count) standard normal draws, the same ones always: an additive recurrence with the powers of the
    generalised golden ratio (M. Roberts, 2018), through the normal quantiles, set to mean 0 and deviation 1."""
    ratio = 2.0
    for _ in range(64):
        ratio = (1.0 + ratio) ** (1.0 / (kinds + 1))
    steps = ratio ** -np.arange(1.0, kinds + 1)
    even = (0.5 + np.outer(steps, np.arange(1, count + 1))) % 1.0
    normal = np.vectorize(NormalDist().inv_cdf)(even)
    return np.asarray((normal - normal.mean(axis=1, keepdims=True)) / normal.std(axis=1, keepdims=True))


_ACROSS, _SPEED, _SLOWING, _ALONG, _CURRENT = _normal_draws(_DRAWS, 5)


# --- which futures come near --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class Approaches:
    """Futures that may pass, with her sizes and where along the path to look; arrays (futures,)."""

    futures: list[Future]
    length_m: Floats
    beam_m: Floats
    abeam_m: Floats  # run to the point of the path nearest to our midships
    look_m: Floats  # how far to each side of it the pass can lie


def _within_m(length_m: Floats) -> Floats:
    return np.maximum(PASS_WITHIN_M, 3.0 * length_m)


def approaches(futures: list[Future], ships: Sequence[tuple[Target, SizedHull]], scene: Scene) -> Approaches:
    """Leave out futures that stay clear of the berth with all their spread, or on the other side of the quay."""
    length_m = np.array([ships[f.ship][1].length_m.mid for f in futures])
    beam_m = np.array([ships[f.ship][1].beam_m.mid for f in futures])
    if not futures:
        return Approaches([], length_m, beam_m, length_m, length_m)
    speed_m_s = np.array([f.speed_m_s for f in futures])
    box_m = np.hypot((0.5 + MARGIN) * scene.loa_m + length_m, _within_m(length_m) + scene.beam_m + length_m)
    ahead_m = 1.35 * speed_m_s * scene.horizon_s
    run_m = -box_m[:, None] + (box_m + ahead_m)[:, None] * np.linspace(0.0, 1.0, _COARSE)
    points = paths(futures, run_m, scene)[0]
    spread_m = across_sd_m(futures, run_m)
    step_m = (box_m + ahead_m) / (_COARSE - 1)
    off_m = np.abs(points - scene.midships)
    nearest = off_m.argmin(axis=1)
    rows = np.arange(len(futures))
    reaches = (off_m - 2.5 * spread_m).min(axis=1) <= box_m + step_m
    holds = np.array([f.way is Way.HOLD for f in futures])
    behind = holds & (points[rows, (run_m < 0.0).sum(axis=1)].imag < 0.0) & (points[rows, nearest].imag < 0.0)
    kept = np.flatnonzero(reaches & ~behind & ~_comes_through_the_quay(points, run_m, nearest, scene))
    look_m = box_m + step_m + np.minimum(spread_m[rows, nearest], 1000.0)
    return Approaches(
        [futures[row] for row in kept], length_m[kept], beam_m[kept], run_m[rows, nearest][kept], look_m[kept]
    )


def _comes_through_the_quay(
    points: Points, run_m: Floats, nearest: NDArray[np.intp], scene: Scene
) -> NDArray[np.bool_]:
    """Whether a path (futures, k) comes out through the quay on its way to us: that ship is on other waters."""
    before, after = points[:, :-1], points[:, 1:]
    comes_out = (before.imag < 0.0) & (after.imag >= 0.0) & (run_m[:, 1:] > 0.0)
    comes_out &= np.arange(points.shape[1] - 1) < nearest[:, None]
    rise = np.where(comes_out, after.imag - before.imag, 1.0)
    crossing_m = before.real - before.imag / rise * (after.real - before.real)
    through = (crossing_m > scene.quay_begins_m) & (crossing_m < scene.quay_ends_m)
    return np.asarray((comes_out & through).any(axis=1))


# --- the draws ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class Passes:
    """The draws that pass, one entry each; times in seconds from now, courses in berth axes."""

    ship: NDArray[np.intp]
    weight: Floats
    course: Points
    abeam_s: Floats
    clearance_m: Floats
    separation_m: Floats
    ground_m_s: Floats
    water_m_s: Floats
    enters_s: Floats  # NaN where she comes near but her hull does not overlap ours
    leaves_s: Floats


def draw_passes(near: Approaches, scene: Scene) -> Passes:
    """Draw every future _DRAWS times and keep the draws that pass."""
    futures = near.futures
    run_m = near.abeam_m[:, None] + near.look_m[:, None] * np.linspace(-1.0, 1.0, _FINE)
    middle, courses = paths(futures, run_m, scene)
    middle -= scene.midships
    # From here on arrays are (futures, draws, points of the path).
    across_m = across_sd_m(futures, run_m)[:, None, :] * _ACROSS[:, None]
    points = middle[:, None, :] + 1j * courses[:, None, :] * across_m
    after_s, speed_m_s = _clock(futures, run_m)
    reach_m = 0.5 * scene.loa_m + half_reach_m(courses, near.length_m[:, None], near.beam_m[:, None])[0]
    beyond_m = np.abs(points.real) - reach_m[:, None, :]  # below 0 her hull overlaps ours
    limit_m = _within_m(near.length_m) + 0.5 * (scene.beam_m + near.beam_m)
    abreast = (beyond_m < MARGIN * scene.loa_m) & (after_s <= scene.horizon_s)
    abreast &= np.abs(points.imag) < limit_m[:, None, None]
    afloat = points.imag > -scene.midships.imag
    passes = (abreast & afloat & (after_s >= 0.0)).any(axis=2)
    ashore = (abreast & ~afloat).any(axis=2) & ~passes
    there = np.nonzero(passes)
    # From here on arrays are (passing draws, points).
    row, draw = there
    passing, beyond_m = (abreast & afloat)[there], beyond_m[there]
    point, when_s, course = points[there], after_s[there], courses[row]
    abeam_s, abeam, abeam_course, least_m = _abeam(
        point, when_s, course, near.length_m[row], near.beam_m[row], scene
    )
    ground_m_s = np.where(passing, speed_m_s[there], 0.0).max(axis=1)
    if scene.current is None:
        through = (ground_m_s - UNTOLD_CURRENT_SD_M_S * _CURRENT[draw]) * abeam_course
    else:
        through = ground_m_s * abeam_course - scene.current * (1.0 + CURRENT_SD * _CURRENT[draw])
    goes_round = np.array([f.speed_m_s >= BERTHING_M_S for f in futures])
    goes_round &= middle[:, _FINE // 2].imag > -scene.midships.imag
    weight = np.array([f.weight for f in futures])
    overlapping = passing & (beyond_m < 0.0)
    return Passes(
        ship=np.array([f.ship for f in futures])[row],
        weight=_weights(weight, goes_round, ashore.sum(axis=1), row, least_m <= 0.0),
        course=abeam_course,
        abeam_s=abeam_s,
        clearance_m=least_m,
        separation_m=np.abs(abeam.imag),
        ground_m_s=ground_m_s,
        water_m_s=np.abs(through),
        enters_s=_crossing_s(overlapping, beyond_m, when_s),
        leaves_s=_crossing_s(overlapping[:, ::-1], beyond_m[:, ::-1], when_s[:, ::-1]),
    )


def _abeam(
    point: Points, when_s: Floats, course: Points, length_m: Floats, beam_m: Floats, scene: Scene
) -> tuple[Floats, Points, Points, Floats]:
    """Where the midships come nearest along each path (draws, points): time, point, course, least hull distance.

    Between two points of the path she goes straight. The hulls may come closest a little before or after: the
    points around are tried as well.
    """
    each = np.arange(point.shape[0])
    reached = np.isfinite(when_s)
    off_m = np.where(reached, np.abs(point), np.inf)
    nearest = off_m.argmin(axis=1)
    sides = np.clip(nearest[:, None] + np.array([-1, 1]), 0, _FINE - 1)
    beside = sides[each, off_m[each[:, None], sides].argmin(axis=1)]
    beside = np.where(reached[each, beside], beside, nearest)
    start, step = point[each, nearest], point[each, beside] - point[each, nearest]
    share = np.clip(-(step.conj() * start).real / np.maximum(np.abs(step) ** 2, 1e-9), 0.0, 1.0)
    abeam, abeam_course = start + share * step, course[each, nearest]
    abeam_s = when_s[each, nearest] + share * (when_s[each, beside] - when_s[each, nearest])
    around = np.clip(nearest[:, None] + np.arange(-6, 7, 2), 0, _FINE - 1)
    around = np.where(reached[each[:, None], around], around, nearest[:, None])
    least_m = clearance_m(
        scene.loa_m,
        scene.beam_m,
        np.hstack([point[each[:, None], around], abeam[:, None]]),
        np.hstack([course[each[:, None], around], abeam_course[:, None]]),
        length_m[:, None],
        beam_m[:, None],
    ).min(axis=1)
    return abeam_s, abeam, abeam_course, least_m


def _clock(futures: Sequence[Future], run_m: Floats) -> tuple[Floats, Floats]:
    """(time from now, s; speed, m/s) at each run, for every draw: infinite where she has stopped before.

    From v² = v₀² − 2 d s and s = (v₀ + v) t / 2; d = 0 holds her speed.
    """
    start_m_s = np.array([f.speed_m_s for f in futures])[:, None, None] * np.exp(
        speed_sd(futures, run_m)[:, None, :] * _SPEED[:, None]
    )
    ahead_m = np.array([f.along_sd_m for f in futures])[:, None, None] * _ALONG[:, None]
    to_run_m = run_m[:, None, :] - ahead_m
    slowing = np.array([f.slowing_m_s2 for f in futures])[:, None] * np.exp(SLOWING_SD * _SLOWING)
    speed2 = start_m_s**2 - 2.0 * slowing[:, :, None] * to_run_m
    speed_m_s = np.sqrt(np.maximum(speed2, 0.0))
    after_s = np.where(speed2 >= 0.0, 2.0 * to_run_m / (start_m_s + speed_m_s), np.inf)
    slower, faster = (sd[:, None, :] for sd in changed_sd(futures, run_m))
    further = np.where(_SPEED[:, None] < 0.0, slower, faster) - speed_sd(futures, run_m)[:, None, :]
    # Who is late has lost more way by then than her mean speed tells.
    return after_s, speed_m_s * np.exp(further * _SPEED[:, None])


def _weights(
    of_future: Floats,
    goes_round: NDArray[np.bool_],
    ashore: NDArray[np.intp],
    row: NDArray[np.intp],
    hits: NDArray[np.bool_],
) -> Floats:
    """Weights of the passing draws.

    Nobody steers into a ship made fast, and a ship with way on goes round the quay too: draws that would run into
    them lend their weight to the others of that future, unless none passes clear.
    """
    count = of_future.size
    hitting, passing = np.bincount(row, hits, count), np.bincount(row, minlength=count)
    spared = hitting < passing
    void = np.where(goes_round, ashore, 0) + np.where(spared, hitting, 0)
    return np.where(hits & spared[row], 0.0, (of_future / np.maximum(_DRAWS - void, 1))[row])


def _crossing_s(overlapping: NDArray[np.bool_], beyond_m: Floats, when_s: Floats) -> Floats:
    """When her hull first overlaps ours, between two points of the path; NaN where it never does."""
    each = np.arange(overlapping.shape[0])
    ever, first = overlapping.any(axis=1), overlapping.argmax(axis=1)
    before = np.maximum(first - 1, 0)
    to_s = np.where(ever, when_s[each, first], 0.0)
    from_s = np.where(ever & np.isfinite(when_s[each, before]), when_s[each, before], to_s)
    into_m, out_m = np.maximum(-beyond_m[each, first], 1e-9), np.maximum(beyond_m[each, before], 0.0)
    return np.where(ever, to_s + into_m / (into_m + out_m) * (from_s - to_s), np.nan)
