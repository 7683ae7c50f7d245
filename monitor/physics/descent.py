"""The nearest least of many potentials at once: damped Newton for batches of small problems."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from monitor.base.frames import Floats

Rows = NDArray[np.intp]
Bools = NDArray[np.bool_]

_SWEEPS: Final = 300
_FLAT: Final = 1e-9  # curvature below zero by less than this share of the greatest is rounding
_GRAIN: Final = 1e-12  # a change of the potential by less than this share of it is rounding
_NUDGE: Final = 1e-3  # of the first reach
_FADE: Final = 0.4


@dataclass(frozen=True, slots=True)
class Potential:
    """Height (n,), slope (n, d) and curvature (n, d, d) at n places, one of each problem asked for."""

    height: Floats
    slope: Floats
    curvature: Floats

    def of(self, rows: Rows | Bools) -> Potential:
        """Some of them."""
        return Potential(self.height[rows], self.slope[rows], self.curvature[rows])

    def overwrite(self, rows: Bools, other: Potential) -> None:
        """Take these rows from `other`."""
        self.height[rows] = other.height[rows]
        self.slope[rows] = other.slope[rows]
        self.curvature[rows] = other.curvature[rows]


@dataclass(frozen=True, slots=True)
class Descent:
    """Where n searches ended. Neither settled nor away: out of patience.

    The place where a search settled is the last that its `look` was asked for.
    """

    place: Floats  # (n, d)
    left: Floats  # (n,) largest component of the slope there
    settled: Bools
    away: Bools


def descend(
    look: Callable[[Rows, Floats], Potential],
    start: Floats,
    tolerance: Floats,
    *,
    reach: float,
    softest: float,
    far: float,
    grain: float,
) -> Descent:
    """Go downhill from `start` (n, d) until every component of the slope is within `tolerance` (n,).

    `look(rows, places)` gives the potential of problems `rows`. `reach`: how far a step goes at first; it doubles
    with success. `softest`: curvature below this counts as this. `far`: a place beyond in any component is `away`,
    as happens when a potential has no least. `grain`: a change of the potential as small as this may be rounding.

    Each step is Newton's; where that leads too far, or the ground does not curve up all round, it is taken in the
    eigenvectors of the curvature, each part downhill and cut to the reach. A step must lower the potential by
    Armijo's rule (Nocedal & Wright, Numerical Optimization, 2006, 3.1 and 3.4). One that fails is shortened by the
    secant of the slope along it, and what it met is remembered in the curvature as a BFGS update (the same, 6.1),
    fading with every success: so a wall just beyond (a line about to come taut) is not walked into again. A place
    balanced on a ridge is left by a nudge.
    """
    n, d = start.shape
    ended = Descent(start.copy(), np.full(n, np.nan), np.zeros(n, dtype=bool), np.zeros(n, dtype=bool))
    rows, place = np.arange(n), start.copy()
    length, memory = np.full(n, reach), np.zeros((n, d, d))
    here = look(rows, place)
    for _ in range(_SWEEPS):
        left = _largest(here.slope)
        level, away = left <= tolerance[rows], _largest(place) > far
        memory[level] = 0.0
        if (level | away).any():
            settled = level & ~_ridges(here.curvature, level).any(axis=1)
            ended.place[rows], ended.left[rows] = place, left
            ended.settled[rows], ended.away[rows] = settled, away & ~settled
            going = ~(settled | away)
            if not going.any():
                break
            rows, place, length, memory = rows[going], place[going], length[going], memory[going]
            here, left, level = here.of(going), left[going], level[going]

        step, size = _newton(here, memory)
        if level.any() or not (size <= length).all():
            step, size = _careful(here, memory, length, level, _NUDGE * reach, softest)
        there = look(rows, place + step)

        gain, begin = there.height - here.height, _dot(here.slope, step)
        closer = _largest(there.slope) < left
        taken = (gain <= 1e-4 * begin) | ((gain <= grain + _GRAIN * np.abs(here.height)) & closer)
        if taken.all():
            place, here, memory, length = place + step, there, _FADE * memory, np.maximum(2.0 * size, length)
            continue
        end = _dot(there.slope, step)
        secant = np.divide(begin, begin - end, out=np.full_like(begin, 0.5), where=(begin < 0.0) & (end > 0.0))
        length = np.where(taken, np.maximum(2.0 * size, length), np.clip(secant, 0.05, 0.7) * size)
        place[taken] += step[taken]
        memory = np.where(taken[:, None, None], _FADE * memory, _learn(here, there, step, memory))
        here.overwrite(taken, there)
    else:
        ended.place[rows] = place
    return ended


def _newton(here: Potential, memory: Floats) -> tuple[Floats, Floats]:
    """Newton's steps (n, d) and their lengths (n,); endless when a place is not the inside of a bowl."""
    curvature, step = here.curvature + memory, np.full_like(here.slope, np.inf)
    with suppress(np.linalg.LinAlgError):
        np.linalg.cholesky(curvature)
        step[:] = np.linalg.solve(curvature, -here.slope[:, :, None])[:, :, 0]
    return step, np.sqrt(_dot(step, step))


def _careful(
    here: Potential, memory: Floats, length: Floats, level: Bools, nudge: float, softest: float
) -> tuple[Floats, Floats]:
    """Steps (n, d) in the eigenvectors of the curvature, downhill whichever way it bends, and how long (n,) the
    longest part of each is: at most `length`."""
    values, vectors = np.linalg.eigh(here.curvature + memory)
    newton = -np.einsum("nij,ni->nj", vectors, here.slope) / np.maximum(np.abs(values), softest)
    ridge = level[:, None] & (values < -_FLAT * _largest(values)[:, None])
    along = np.where(ridge, nudge, np.clip(newton, -length[:, None], length[:, None]))
    return np.einsum("nij,nj->ni", vectors, along), _largest(along)


def _ridges(curvature: Floats, level: Bools) -> Bools:
    """(n, d) whether a level place falls away to both sides, by eigenvector; False where it is not level."""
    ridges = np.zeros(curvature.shape[:2], dtype=bool)
    values = np.asarray(np.linalg.eigvalsh(curvature[level]), dtype=np.float64)
    ridges[level] = values < -_FLAT * _largest(values)[:, None]
    return ridges


def _learn(here: Potential, there: Potential, step: Floats, memory: Floats) -> Floats:
    """Memory (n, d, d) with which the curvature also explains the slope at the end of a step, where that rises."""
    rise = there.slope - here.slope
    bent = np.einsum("nij,nj->ni", here.curvature + memory, step)
    steep, known = _dot(rise, step)[:, None, None], _dot(bent, step)[:, None, None]
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        learnt = memory + rise[:, :, None] * rise[:, None, :] / steep
        learnt -= np.where(known > 0.0, bent[:, :, None] * bent[:, None, :] / known, 0.0)
    return np.where((steep > 0.0) & np.isfinite(learnt), learnt, memory)


def _largest(a: Floats) -> Floats:
    """Largest component of each row."""
    return np.asarray(np.abs(a).max(axis=1))


def _dot(a: Floats, b: Floats) -> Floats:
    return np.asarray(np.einsum("nd,nd->n", a, b))
