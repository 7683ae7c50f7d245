"""Hulls as panels: the family of ships known by their size, exact spheroids, and hulls given by their sections.

Right-handed axes: x forward, y to starboard, z DOWN from the calm surface; the mirror image above it makes the
double body. Every mesh is a grid, nx panels from stern to bow by ng round the girth from the port waterline to
starboard. Its volume is exact: the vertices lie a little outside the true hull, for flat panels cut corners.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from monitor.base.frames import Floats
from monitor.physics.hulls import Hull

_CROWDED: Final = 0.8  # how far stations crowd towards the ends: 0 evenly spaced, 1 as the cosine
_BILGE: Final = 0.3  # share of girth points that go to where the girth bends, against those by length


@dataclass(frozen=True, slots=True, eq=False)
class Panels:
    """n = nx·ng four-cornered panels of the wetted hull.

    `corner_m` (n, 4, 3); `centre_m` (n, 3); `area_m2` (n, 3), a vector out of the hull; `reach_m` (n,), the longer
    diagonal; `slope_1_m` (3, n, n), the matrix that makes the gradient along the hull of values at the centres.
    """

    grid: tuple[int, int]
    corner_m: Floats
    centre_m: Floats
    area_m2: Floats
    reach_m: Floats

    @property
    def slope_1_m(self) -> Floats:
        return _slopes(self)

    @property
    def alike(self) -> bool:
        """Whether the fore half mirrors the after half."""
        nx, ng = self.grid
        centre_m = self.centre_m.reshape(nx, ng, 3)
        apart_m = np.abs(centre_m[::-1] * [-1.0, 1.0, 1.0] - centre_m).max()
        return nx % 2 == 0 and bool(apart_m < 1e-9 * np.ptp(centre_m[..., 0]))

    @property
    def volume_m3(self) -> float:
        return float(np.sum(self.area_m2 * self.centre_m) / 3.0)


# --- shapes -------------------------------------------------------------------------------------------------


def hull_panels(hull: Hull, nx: int, ng: int) -> Panels:
    """A hull of the family: super-ellipse sections at the full draught everywhere, breadths that follow S(x)."""
    x_m = _stations(nx, 0.5 * hull.lpp_m)
    return _wall_to_wall(
        x_m,
        lambda power: 1.0 - hull.into_end(x_m) ** power,
        hull.end_power,
        hull.prismatic_coefficient * hull.lpp_m,
        (hull.beam_m, hull.draught_m, hull.midship_coefficient),
        ng,
    )


def sectioned_panels(
    x_m: ArrayLike, area_m2: ArrayLike, beam_m: float, draught_m: float, nx: int, ng: int
) -> Panels:
    """A hull given by its curve of section areas at places in ascending order, straight lines between them.

    Sections are super-ellipses at the full draught; their breadths follow the areas, the beam at the greatest.
    Raises ValueError when that section is larger than beam times draught or smaller than its half, and when the
    curve does not run forward from nothing to nothing.
    """
    at_m, given_m2 = np.asarray(x_m, dtype=np.float64), np.asarray(area_m2, dtype=np.float64)
    if at_m.shape != given_m2.shape or at_m.ndim != 1 or len(at_m) < 3:
        raise ValueError("a curve of section areas needs three places or more, and an area at each")
    if not (np.all(np.diff(at_m) > 0.0) and np.all(given_m2 >= 0.0) and given_m2[0] == given_m2[-1] == 0.0):
        raise ValueError("a curve of section areas runs forward, from nothing to nothing, and is never below it")
    full_m2 = float(given_m2.max())
    if not 0.5 * beam_m * draught_m <= full_m2 <= beam_m * draught_m:
        raise ValueError("the midship section must be between half and the whole of beam times draught")
    middle_m = 0.5 * (at_m[0] + at_m[-1])
    stations_m = middle_m + _stations(nx, 0.5 * (at_m[-1] - at_m[0]))
    share = np.interp(stations_m, at_m, given_m2 / full_m2)
    return _wall_to_wall(
        stations_m,
        lambda power: 1.0 - (1.0 - share) ** power,
        1.0,
        float(np.trapezoid(given_m2, at_m)) / full_m2,
        (beam_m, draught_m, full_m2 / (beam_m * draught_m)),
        ng,
    )


def spheroid_panels(length_m: float, beam_m: float, nx: int, ng: int) -> Panels:
    """The lower half of a prolate spheroid; the sphere when length and beam are equal.

    Raises ValueError when it is wider than long.
    """
    if not 0.0 < beam_m <= length_m < math.inf:
        raise ValueError("a prolate spheroid is at least as long as wide")
    along, round_it = np.linspace(np.pi, 0.0, nx + 1)[:, None], np.linspace(-0.5 * np.pi, 0.5 * np.pi, ng + 1)
    radius_m = 0.5 * beam_m * np.sin(along)
    vertex_m = _grid(0.5 * length_m * np.cos(along), radius_m * np.sin(round_it), radius_m * np.cos(round_it))
    volume_m3 = np.pi / 12.0 * length_m * beam_m**2
    return _panels(vertex_m * math.cbrt(volume_m3 / _panels(vertex_m).volume_m3))


def _wall_to_wall(
    x_m: Floats,
    breadth: Callable[[float], Floats],
    power: float,
    mean_m: float,
    section: tuple[float, float, float],
    ng: int,
) -> Panels:
    """Sections of one shape, scaled in breadth; the power of the ends chosen so that ∫ breadth dx is `mean_m`."""
    beam_m, draught_m, coefficient = section
    fitted = _bisected(lambda p: float(np.trapezoid(breadth(p), x_m)) - mean_m, 0.5 * power, 8.0 * power)
    across, down = _half_girth(ng // 2, coefficient, beam_m / (2.0 * draught_m))
    y, z = np.concatenate([-across[:0:-1], across]), np.concatenate([down[:0:-1], down])
    return _panels(_grid(x_m[:, None], 0.5 * beam_m * breadth(fitted)[:, None] * y, draught_m * z))


def _half_girth(n: int, coefficient: float, slenderness: float) -> tuple[Floats, Floats]:
    """n + 1 points (y, z) of the quarter |y|ᵏ + |z|ᵏ = 1 from keel to waterline, the polygon's area `coefficient`.

    `slenderness`: half beam over draught, so that points are shared out by true length, and by bend at the bilge.
    """

    def points(k: float) -> tuple[Floats, Floats]:
        t = 0.5 * np.pi * np.linspace(0.0, 1.0, 2001)
        y, z = np.sin(t) ** (2.0 / k), np.cos(t) ** (2.0 / k)
        y[0], z[-1] = 0.0, 0.0
        dy, dz = np.diff(y) * slenderness, np.diff(z)
        length = np.hypot(dy, dz)
        bend = np.abs(np.diff(np.unwrap(np.arctan2(dz, dy)), prepend=np.arctan2(dz[0], dy[0])))
        weight = (1.0 - _BILGE) * length / length.sum() + _BILGE * bend / bend.sum()
        spent = np.concatenate([[0.0], np.cumsum(weight)])
        at = np.linspace(0.0, spent[-1], n + 1)
        return np.interp(at, spent, y), np.interp(at, spent, z)

    def excess(k: float) -> float:
        y, z = points(k)
        return float(np.trapezoid(z, y)) - coefficient

    return points(_bisected(excess, 1.0, 200.0))


def _stations(nx: int, half_m: float) -> Floats:
    crowd = 0.5 * np.pi * _CROWDED
    return half_m * np.sin(crowd * np.linspace(-1.0, 1.0, nx + 1)) / math.sin(crowd)


def _bisected(excess: Callable[[float], float], low: float, high: float) -> float:
    """Where a rising function passes zero; the nearer end when it does not."""
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if excess(middle) > 0.0 else (middle, high)
    return 0.5 * (low + high)


def _grid(x_m: Floats, y_m: Floats, z_m: Floats) -> Floats:
    return np.stack(np.broadcast_arrays(x_m, y_m, z_m), axis=-1)


# --- panels -------------------------------------------------------------------------------------------------


def _panels(vertex_m: Floats) -> Panels:
    """Panels between the vertices (nx + 1, ng + 1, 3)."""
    v = vertex_m
    grid = (v.shape[0] - 1, v.shape[1] - 1)
    corner_m = np.stack([v[:-1, :-1], v[1:, :-1], v[1:, 1:], v[:-1, 1:]], axis=2)
    # Bent panels are two triangles; the fold, from first to third corner, is mirrored in the hull's quarters.
    forward, starboard = (np.arange(n) >= n / 2 for n in grid)
    turned = forward[:, None] != starboard
    corner_m[turned] = np.roll(corner_m[turned], 1, axis=1)
    corner_m = corner_m.reshape(-1, 4, 3)
    a, b, c, d = (corner_m[:, i] for i in range(4))
    one, other = 0.5 * np.cross(b - a, c - a), 0.5 * np.cross(c - a, d - a)
    share = np.linalg.norm(one, axis=1, keepdims=True), np.linalg.norm(other, axis=1, keepdims=True)
    centre_m = (share[0] * (a + b + c) + share[1] * (a + c + d)) / (3.0 * (share[0] + share[1]))
    area_m2 = one + other
    reach_m = np.maximum(np.linalg.norm(c - a, axis=1), np.linalg.norm(d - b, axis=1))
    return Panels(grid, corner_m, centre_m, area_m2, reach_m)


@lru_cache(maxsize=4)  # 3 to 6 MB each, quickly made: kept for the hulls at hand, not for all that are afloat
def _slopes(panels: Panels) -> Floats:
    """From the differences between neighbours along and round the hull, across the waterline to the image."""
    (nx, ng), centre_m, area_m2 = panels.grid, panels.centre_m, panels.area_m2
    n = nx * ng
    index = np.arange(n).reshape(nx, ng)
    ahead, astern = index[np.minimum(np.arange(nx) + 1, nx - 1)], index[np.maximum(np.arange(nx) - 1, 0)]
    starboard, port = index[:, [*range(1, ng), ng - 1]], index[:, [0, *range(ng - 1)]]
    along = centre_m[ahead.ravel()] - centre_m[astern.ravel()]
    round_it = centre_m[starboard.ravel()] - centre_m[port.ravel()]
    mirrored = np.array([1.0, 1.0, -1.0])
    round_it.reshape(nx, ng, 3)[:, 0] = centre_m[index[:, 1]] - centre_m[index[:, 0]] * mirrored
    round_it.reshape(nx, ng, 3)[:, -1] = centre_m[index[:, -1]] * mirrored - centre_m[index[:, -2]]
    frame = np.stack([along, round_it, area_m2 / np.linalg.norm(area_m2, axis=1, keepdims=True)], axis=1)
    back = np.linalg.inv(frame)  # gradient = back @ (difference along, difference round, nothing outward)
    slope = np.zeros((3, n, n))
    rows = np.arange(n)
    for column, (plus, minus) in enumerate(((ahead, astern), (starboard, port))):
        for axis in range(3):
            slope[axis, rows, plus.ravel()] += back[:, axis, column]
            slope[axis, rows, minus.ravel()] -= back[:, axis, column]
    return slope
