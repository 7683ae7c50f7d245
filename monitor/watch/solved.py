"""The load of one pass for many truths of her distance and size, read between a few solutions.

Three solutions at her middle size tell how the load goes with distance, two more (a smaller and a larger ship,
see `SizedHull.likeliest`) how it goes with her size. Between those, places count in half lengths of both ships,
the shape is read in proportion and the greatness as a power. What size does is taken as alike at every distance.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.hulls import NORMAL_95
from monitor.physics.passing import PassingLoad
from monitor.records.estimates import Encounter
from monitor.watch.draws import FULLNESS, SQUARE, STEEPER, between

SLOWER: Final = 0.9  # of her middle speed: from there it is seen how fast her load goes with it
_NEAREST: Final = 0.6  # of her middle distance, and
_FARTHEST: Final = 1.8  # so far the three solutions are trusted
SIZES: Final = (-NORMAL_95, 0.0, NORMAL_95)  # standard normal of her displacement, where it is solved
_BEYOND: Final = 1.5  # so many times those the power is still trusted


@dataclass(frozen=True, slots=True)
class Sizes:
    """The load of a pass at her middle distance by a smaller, the middle and a larger ship (`SIZES`)."""

    half_m: Floats  # (3,) of the run of places
    load: Floats  # (3, s, 3) at places alike as shares of the run


@dataclass(frozen=True, slots=True)
class Solutions:
    """The load of a pass along one run of places at three separations, all at her middle speed and size."""

    run_m: Floats  # (s,) along her track, 0 abeam
    separation_m: tuple[float, float, float]  # rising
    load: Floats  # (3, s, 3): surge N, sway N, yaw N·m
    model_band: tuple[float, float]
    powers: tuple[float, float] = (SQUARE, SQUARE + STEEPER)  # of her speed: the least, the most
    sizes: Sizes | None = None  # None: the load goes with her section and fullness


def solutions(
    run_m: Floats,
    separation_m: Sequence[float],
    loads: Sequence[PassingLoad | None],
    powers: tuple[float, float],
) -> Solutions | None:
    """Three solutions; one that could not be had, or has gaps, is replaced by its neighbour. None without any."""
    curves = [None if load is None else curve_of(load) for load in loads]
    good = [i for i, curve in enumerate(curves) if curve is not None and np.isfinite(curve).all()]
    if not good:
        return None
    nearest = [min(good, key=lambda j, i=i: abs(i - j)) for i in range(3)]  # type: ignore[misc]
    near, mid, far = (float(each) for each in separation_m)
    some = loads[good[0]]
    assert some is not None
    return Solutions(
        run_m,
        (min(near, 0.999 * mid), mid, max(far, 1.001 * mid)),
        np.array([curves[j] for j in nearest]),
        some.model_band,
        powers,
    )


def speed_powers(middle_n: float, slower_n: float) -> tuple[float, float]:
    """Of her speed, the least and the most: from that of a rigid lid to somewhat more than the model's own about
    her middle speed, by its greatest loads there and at SLOWER; the lid's where the slower one is not known."""
    power = math.log(middle_n / slower_n) / -math.log(SLOWER) if slower_n > 0.0 else SQUARE
    return SQUARE, max(SQUARE, power) + STEEPER


def curve_of(load: PassingLoad) -> Floats:
    """(s, 3)"""
    return np.stack([load.surge_n, load.sway_n, load.yaw_n_m], axis=1)


def curves_of(found: Solutions, encounter: Encounter, separation_m: Floats, size: Floats) -> tuple[Floats, Floats]:
    """Loads (n, s, 3) at her middle speed, of n truths of her separation (n,) and size (n,), standard normal; and
    half the runs (n,) their places lie on."""
    middle_m = encounter.separation_m.mid
    away_m = np.clip(separation_m, _NEAREST * middle_m, _FARTHEST * middle_m)
    weight = weights(np.array(found.separation_m), away_m)
    half_m = float(found.run_m[-1])
    if found.sizes is None:
        share = (
            between(encounter.beam_m, size) / encounter.beam_m.mid
            * (between(encounter.draught_m, size) / encounter.draught_m.mid)
            * (1.0 + FULLNESS * size)
        )  # fmt: skip
        return np.einsum("nj,jsc->nsc", weight * share[:, None], found.load), np.full(len(size), half_m)
    solved = found.sizes
    greatness = _greatness(solved.load)
    side = np.clip(size / NORMAL_95, -_BEYOND, _BEYOND)
    part = np.clip(np.abs(side), 0.0, 1.0)
    to = np.stack([np.where(side < 0.0, part, 0.0), 1.0 - part, np.where(side > 0.0, part, 0.0)], axis=1)
    end = np.where(side[:, None] < 0.0, greatness[0], greatness[2]) / greatness[1]
    shape = np.einsum("nj,jsc->nsc", to, solved.load / greatness[:, None, :])
    differs = end[:, None, :] ** np.abs(side)[:, None, None] * shape - solved.load[1] / greatness[1]
    there = weight @ _greatness(found.load)
    return np.einsum("nj,jsc->nsc", weight, found.load) + there[:, None, :] * differs, to @ solved.half_m


def _greatness(load: Floats) -> Floats:
    """(k, 3) root mean square of curves (k, s, 3); never nothing."""
    return np.asarray(np.maximum(np.sqrt(np.mean(load**2, axis=1)), 1.0))


def weights(at_m: Floats, away_m: Floats) -> Floats:
    """Weights (n, 3) of the three solutions: straight in 1/separation² between and beyond them, never below 0."""
    u, v = at_m**-2.0, np.asarray(away_m) ** -2.0
    near = v >= u[1]
    to_near = (v - u[1]) / (u[0] - u[1])
    to_far = np.clip((u[1] - v) / (u[1] - u[2]), 0.0, 1.0)
    weight = np.zeros((len(v), 3))
    weight[:, 0] = np.where(near, np.minimum(to_near, 1.5), 0.0)
    weight[:, 1] = np.where(near, 1.0 - weight[:, 0], 1.0 - to_far)
    weight[:, 2] = np.where(near, 0.0, to_far)
    return weight
