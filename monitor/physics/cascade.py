"""If one line goes: what the others then carry, and whether they hold.

Statics under one load: the worst that stands is for `response`, which parts lines in time. A line goes when its
tension passes its strength; then the most overloaded of the rest, one by one, until all hold or nothing does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.mooring import Mooring, equilibrium
from monitor.records.estimates import HorizontalLoad


@dataclass(frozen=True, slots=True)
class Loss:
    """What follows when `gone` lines are taken away."""

    gone: tuple[int, ...]
    next_n: Floats  # (m,) tensions of the rest at once after; 0 for what is gone, NaN when she is not held
    share: float  # greatest tension ÷ strength then; inf when she is not held
    then: tuple[int, ...]  # lines that go after, in order
    holds: bool  # in the end something holds her, with every line left below its strength


def losses(
    mooring: Mooring, load: HorizontalLoad, strength_n: Floats, gone: Sequence[tuple[int, ...]]
) -> list[Loss]:
    """Each of the sets `gone` taken away under a load; `strength_n` (m,) of the lines."""
    m, n = len(mooring.lines), len(gone)
    away = np.array([[i in each for i in range(m)] for each in gone], dtype=bool).reshape(n, m)
    then: list[list[int]] = [[] for _ in gone]
    first_n, first_share = np.full((n, m), np.nan), np.full(n, np.inf)
    holds, going, start = np.zeros(n, dtype=bool), np.arange(n), np.zeros((n, 3))
    for turn in range(m + 1):
        rest = equilibrium(
            mooring,
            np.full(len(going), load.surge_n),
            np.full(len(going), load.sway_n),
            np.full(len(going), load.yaw_n_m),
            start=start[going],
            payed_out_m=np.where(away[going], np.inf, 0.0),
        )
        share = rest.tension_n / strength_n
        worst = np.where(rest.converged, np.nan_to_num(share).max(axis=1, initial=0.0), np.inf)
        if turn == 0:
            first_n[going], first_share[going] = rest.tension_n, worst
        holds[going[worst <= 1.0]] = True
        start[going] = rest.displacement
        on = rest.converged & (worst > 1.0)
        for case, line in zip(going[on], np.nan_to_num(share[on]).argmax(axis=1), strict=True):
            then[case].append(int(line))
            away[case, line] = True
        going = going[on]
        if not going.size:
            break
    return [
        Loss(tuple(each), first_n[i], float(first_share[i]), tuple(then[i]), bool(holds[i]))
        for i, each in enumerate(gone)
    ]


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
