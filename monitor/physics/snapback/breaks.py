"""Where along a line it is likely to part.

No count of breaks by place on the line was found, so the weights are ours. They follow what is known to weaken a
line: bends (a rope round a pin of its own thickness keeps half its strength: common practice, no source; a
fairlead bends, rubs and works: *Zarga*, parted inboard of a pedestal roller, MAIB 13/2017, read in summary),
splices (0.90 of the rope: OCIMF MEG 2nd ed. 1997, Table 6.5 note 2), chafe at a quay edge, and the tail, which
works hardest. A third of the weight stays spread over the whole line: one of eleven lines of the list parted at a
worn spot like any other.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.snapback.led import Led

# Ours: weight of each place, and how far about it (standard deviation) a break may lie.
ANYWHERE: Final = 3.0
BEND: Final = 1.0  # a right angle round a roller; more or less with the turn, at least a quarter
FAIRLEAD: Final = 2.0  # a bend that also rubs
EDGE: Final = 1.5
DRUM: Final = 0.5
EYE: Final = 1.0
JOINT: Final = 1.5  # eye to eye, line and tail
TAIL: Final = 1.5  # spread over its length
_BEND_M: Final = 0.4
_SPLICE_M: Final = 1.0
_CELLS: Final = 4000


@dataclass(frozen=True, slots=True)
class Break:
    """A place of parting: metres from the inboard end along the line as it lies, its weight, and why there."""

    at_m: float
    weight: float  # all weights of a line add up to 1
    why: str


def breaks(led: Led, count: int = 100, seed: int = 0) -> tuple[Break, ...]:
    """`count` places (2 to 1000) in order along the line: more at bends, splices, chafe and in the tail.

    Half of them are spread evenly, so that none of the line is left out, half by weight; the weights make up for
    it. The same seed, the same places. Raises ValueError for another count.
    """
    if not 2 <= count <= 1000:
        raise ValueError(f"{count} breaks: 2 to 1000 are possible")
    edges_m = np.linspace(0.0, led.length_m, _CELLS + 1)
    middles_m = 0.5 * (edges_m[1:] + edges_m[:-1])
    causes = list(_causes(led, middles_m))
    shares = np.array([density / density.sum() * weight for weight, _, density in causes])
    chance = shares.sum(axis=0) / shares.sum()
    drawn = 0.5 * chance + 0.5 / _CELLS
    level = (np.arange(count) + np.random.default_rng(seed).uniform(size=count)) / count
    at_m = np.interp(level, np.concatenate([[0.0], np.cumsum(drawn)]), edges_m)
    at_m = np.clip(at_m, edges_m[1], edges_m[-2])
    cell = np.minimum((at_m / led.length_m * _CELLS).astype(np.intp), _CELLS - 1)
    weights = chance[cell] / drawn[cell]
    weights /= weights.sum()
    names = [name for _, name, _ in causes]
    return tuple(
        Break(float(at), float(weight), names[most])
        for at, weight, most in zip(at_m, weights, shares[:, cell].argmax(axis=0), strict=True)
    )


def _causes(led: Led, at_m: Floats) -> Iterator[tuple[float, str, Floats]]:
    """(weight, why, density along the line)."""
    yield ANYWHERE, "anywhere along the line", np.ones_like(at_m)
    stands_m = led.stands_at_m
    yield DRUM, f"at {led.called(0)}", _about(at_m, 0.0, _BEND_M)
    for point in range(1, len(stands_m) - 1):
        if point == led.fairlead:
            weight = FAIRLEAD
        elif point > led.fairlead:
            weight = EDGE
        else:
            weight = BEND * max(led.turn_deg(point) / 90.0, 0.25)
        yield weight, f"at {led.called(point)}", _about(at_m, stands_m[point], _BEND_M)
    yield EYE, "at the eye on the bollard", _about(at_m, led.length_m, _SPLICE_M)
    if led.tail is not None:
        joined_m = led.length_m - led.tail_m
        yield JOINT, "where the tail is joined", _about(at_m, joined_m, _SPLICE_M)
        yield TAIL, "in the tail", (at_m > joined_m).astype(np.float64) + 1e-9


def _about(at_m: Floats, place_m: float, spread_m: float) -> Floats:
    return np.asarray(np.exp(-0.5 * ((at_m - place_m) / spread_m) ** 2) + 1e-12)
