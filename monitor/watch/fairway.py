"""The channel as a lane to follow. Points of the map plane are complex numbers: north_m + i·east_m.

So a unit vector along a course is exp(i·course), a turn to starboard by an angle is a factor exp(i·angle), and
`i` times a vector points to starboard of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from monitor.base.frames import Floats

Points = NDArray[np.complex128]

_STEP_M: Final = 50.0


@dataclass(frozen=True, slots=True, eq=False)
class Fairway:
    """The middle line in steps of about 50 m: `nodes` (n,), unit `tangents` (n,) and its whole width.

    Tangents are chords over the width of the channel, so that a ship out of the middle rounds a bend in a curve.
    """

    nodes: Points
    tangents: Points
    width_m: float

    def place(self, points: Points) -> tuple[NDArray[np.intp], Floats, Floats]:
        """Of points (k,): nearest node, offset from the middle line (m, to starboard of it) and distance (m).

        The distance exceeds |offset| for points beyond the ends.
        """
        nearest = np.abs(points[:, None] - self.nodes[None, :]).argmin(axis=1)
        out = (points - self.nodes[nearest]) * np.conj(self.tangents[nearest])
        end = (nearest == 0) | (nearest == self.nodes.size - 1)
        return nearest, out.imag, np.where(end, np.abs(out), np.abs(out.imag))

    def follow(
        self, node: int, start: complex, offset_m: float, onward: bool, run_m: Floats
    ) -> tuple[Points, Points]:
        """Points and unit courses after running `run_m` (k,) from `start` at a constant offset from the middle.

        `onward`: in the direction of the nodes, or against it. Negative runs lead back; beyond the ends the lane
        goes straight on.
        """
        lane = self.nodes + 1j * self.tangents * offset_m
        tangents = self.tangents
        if not onward:
            lane, tangents, node = lane[::-1], -tangents[::-1], self.nodes.size - 1 - node
        along_m = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(lane)))])
        run_m = run_m + along_m[node] + ((start - lane[node]) * np.conj(tangents[node])).real
        points = _between(run_m, along_m, lane)
        points += np.minimum(run_m, 0.0) * tangents[0] + np.maximum(run_m - along_m[-1], 0.0) * tangents[-1]
        courses = _between(run_m, along_m, tangents)
        return points, courses / np.abs(courses)


def _between(at: Floats, knots: Floats, values: Points) -> Points:
    return np.interp(at, knots, values.real) + 1j * np.interp(at, knots, values.imag)


def lay_fairway(middle: Sequence[complex], width_m: float) -> Fairway:
    """A fairway from the corners of its middle line (at least two, apart) and its whole width."""
    corners = np.array(middle, dtype=np.complex128)
    along_m = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(corners)))])
    nodes = _between(np.linspace(0.0, along_m[-1], max(2, round(along_m[-1] / _STEP_M) + 1)), along_m, corners)
    reach = max(1, round(0.5 * width_m / _STEP_M))
    index = np.arange(nodes.size)
    chords = nodes[np.minimum(index + reach, nodes.size - 1)] - nodes[np.maximum(index - reach, 0)]
    return Fairway(nodes, chords / np.abs(chords), width_m)
