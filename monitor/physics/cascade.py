"""If one line goes: what the others then carry, and whether they hold.

Statics under one load: the worst that stands is for `response`, which parts lines in time. A line goes when its
tension passes its strength; then the most overloaded of the rest, one by one, until all hold or nothing does.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from monitor.base.frames import Floats
from monitor.physics.mooring import Mooring, equilibrium
from monitor.records.estimates import HorizontalLoad

NEVER: Final = np.iinfo(np.intp).max


@dataclass(frozen=True, slots=True)
class Loss:
    """What follows when `gone` lines are taken away."""

    gone: tuple[int, ...]
    next_n: Floats  # (m,) tensions of the rest at once after; 0 for what is gone, NaN when she is not held
    share: float  # greatest tension ÷ strength then; inf when she is not held
    then: tuple[int, ...]  # lines that go after, in order
    holds: bool  # in the end something holds her, with every line left below its strength


@dataclass(frozen=True, slots=True)
class Unzipped:
    """n cases followed until all lines left hold, or nothing does."""

    first_n: Floats  # (n, m) tensions before any line goes; NaN when she is not held
    peak_n: Floats  # (n, m) the greatest there were, of a line that goes as it goes; 0 of one away from the start
    turn: NDArray[np.intp]  # (n, m) which to go it is, from 0; NEVER when it does not
    holds: NDArray[np.bool_]  # (n,)


def unzipped(
    mooring: Mooring,
    load_n: Floats,
    strength_n: Floats,
    away: NDArray[np.bool_],
    corner_m: Floats | None = None,
) -> Unzipped:
    """Loads (n, 3) on lines of strengths (n, m), those `away` (n, m) gone before; the most overloaded goes first.

    `corner_m` (n, m): brakes, see `LineSet.at`.
    """
    n, m = away.shape
    away = away.copy()
    first_n, peak_n = np.full((n, m), np.nan), np.zeros((n, m))
    turn, holds = np.full((n, m), NEVER), np.zeros(n, dtype=bool)
    going, start = np.arange(n), np.zeros((n, 3))
    for number in range(m + 1):
        rest = equilibrium(
            mooring,
            *load_n[going].T,
            start=start[going],
            payed_out_m=np.where(away[going], np.inf, 0.0),
            corner_m=None if corner_m is None else corner_m[going],
        )
        if number == 0:
            first_n[:] = rest.tension_n
        carried_n = np.nan_to_num(rest.tension_n)
        peak_n[going] = np.maximum(peak_n[going], carried_n)
        share = carried_n / strength_n[going]
        passed = share.max(axis=1, initial=0.0) > 1.0
        holds[going[rest.converged & ~passed]] = True
        start[going] = rest.displacement
        on = rest.converged & passed
        going, worst = going[on], share[on].argmax(axis=1)
        if not going.size:
            break
        turn[going, worst], away[going, worst] = number, True
    return Unzipped(first_n, peak_n, turn, holds)


def losses(
    mooring: Mooring, load: HorizontalLoad, strength_n: Floats, gone: Sequence[tuple[int, ...]]
) -> list[Loss]:
    """Each of the sets `gone` taken away under a load; `strength_n` (m,) of the lines."""
    n, m = len(gone), len(mooring.lines)
    away = np.array([[i in each for i in range(m)] for each in gone], dtype=bool).reshape(n, m)
    load_n = np.tile([load.surge_n, load.sway_n, load.yaw_n_m], (n, 1))
    found = unzipped(mooring, load_n, np.tile(strength_n, (n, 1)), away)
    told = []
    for each, first_n, turn, holds in zip(gone, found.first_n, found.turn, found.holds, strict=True):
        held = bool(np.isfinite(first_n).all())
        share = float((first_n / strength_n).max(initial=0.0)) if held else math.inf
        then = tuple(int(i) for i in np.argsort(turn, kind="stable") if turn[i] != NEVER)
        told.append(Loss(tuple(each), first_n, share, then, bool(holds)))
    return told


def each_line(mooring: Mooring, load: HorizontalLoad, strength_n: Floats) -> list[Loss]:
    """Each line taken away in turn."""
    return losses(mooring, load, strength_n, [(i,) for i in range(len(mooring.lines))])


def worst_pair(mooring: Mooring, load: HorizontalLoad, strength_n: Floats) -> Loss:
    """The two lines whose loss leaves the rest worst off: not held first, then the greatest share of strength.

    Raises ValueError with fewer than two lines.
    """
    pairs = list(combinations(range(len(mooring.lines)), 2))
    if not pairs:
        raise ValueError("a pair needs two lines")
    return max(losses(mooring, load, strength_n, pairs), key=lambda loss: (not loss.holds, loss.share))
