"""The nearest least of many potentials at once: damped Newton for batches of small problems."""

from __future__ import annotations

from collections.abc import Callable
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
    """Where n searches ended. Neither settled nor away: out of patience."""

    place: Floats  # (n, d)
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

    Each step is Newton's, taken in the eigenvectors of the curvature, downhill also where it bends the wrong way;
    it must lower the potential by Armijo's rule (Nocedal & Wright, Numerical Optimization, 2006, 3.1 and 3.4).
    A step that fails is shortened by the secant of the slope along it, and what it met is remembered in the
    curvature as a BFGS update (the same, 6.1), fading with every success: so a wall just beyond (a line about to
    come taut) is not walked into again and again. A place balanced on a ridge is left by a nudge.
    """
    n, d = start.shape
    ended = Descent(start.copy(), np.zeros(n, dtype=bool), np.zeros(n, dtype=bool))
    rows, place = np.arange(n), start.copy()
    length, memory = np.full(n, reach), np.zeros((n, d, d))
    here = look(rows, place)
    for _ in range(_SWEEPS):
        level = _largest(here.slope) <= tolerance[rows]
        memory[level] = 0.0
        values, vectors = np.linalg.eigh(here.curvature + memory)
        ridge = level[:, None] & (values < -_FLAT * _largest(values)[:, None])
        settled = level & ~ridge.any(axis=1)
        away = _largest(place) > far
        ended.place[rows], ended.settled[rows], ended.away[rows] = place, settled, away & ~settled
        going = ~(settled | away)
        if not going.any():
            break
        if not going.all():
            rows, place, length, memory = rows[going], place[going], length[going], memory[going]
            here, values, vectors, ridge = here.of(going), values[going], vectors[going], ridge[going]

        newton = -np.einsum("nij,ni->nj", vectors, here.slope) / np.maximum(np.abs(values), softest)
        along = np.where(ridge, _NUDGE * reach, np.clip(newton, -length[:, None], length[:, None]))
        step = np.einsum("nij,nj->ni", vectors, along)
        there = look(rows, place + step)

        begin, end, size = _dot(here.slope, step), _dot(there.slope, step), _largest(along)
        gain = there.height - here.height
        closer = _largest(there.slope) < _largest(here.slope)
        taken = (gain <= 1e-4 * begin) | ((gain <= grain + _GRAIN * np.abs(here.height)) & closer)
        secant = np.divide(begin, begin - end, out=np.full_like(begin, 0.5), where=(begin < 0.0) & (end > 0.0))
        length = np.where(taken, np.maximum(2.0 * size, length), np.clip(secant, 0.05, 0.7) * size)
        place[taken] += step[taken]
        memory = np.where(taken[:, None, None], _FADE * memory, _learn(here, there, step, memory))
        here.overwrite(taken, there)
    return ended


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
