"""What two hulls do to each other from some way off: each as a few points in her box.

Away from a hull the kernel is smooth all over her, and a polynomial along, across and down carries it (even powers
of z, odd ones for dipoles that point down, as the kernel with its image in the surface has them). So Chebyshev
points in her length, beam and draught stand for all her panels, and how she answers, from the potential felt at
her points to the dipoles that she hands back there, is worked out once for a hull in her water. Single precision
is enough.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from monitor.base.frames import Floats
from monitor.physics.passing.influence import TWO_DIMENSIONS, Reals, column
from monitor.physics.passing.panels import Panels

if TYPE_CHECKING:
    from monitor.physics.passing.solve import Afloat

Singles = NDArray[np.float32]

_ALONG: Final = (8, 10, 13, 17, 22, 28)  # points; the fewest that carry the kernel well enough are taken
_WELL_ENOUGH: Final = 1e-5
_FLIP: Final = np.array([[1.0], [-1.0], [1.0]], dtype=np.float32)  # dipoles seen in the quay
_ENTRIES: Final = 1024  # of the table of the kernel, per pair of depths


def chebyshev(n: int) -> Floats:
    """Points of [−1, 1], from 1 downwards."""
    return np.cos(math.pi * (np.arange(n) + 0.5) / n)


_ACROSS: Final = chebyshev(5)
DOWN: Final = chebyshev(4)[:2]  # the lower two of four about the surface


@dataclass(frozen=True, slots=True, eq=False)
class Box:
    """A hull in her water by m points, in her own axes: those in plan, once a level.

    `at_m` (m / levels, 2); `level_m` (levels,). `plan` (n, m / levels) carries from points in plan to panels,
    `even` (levels, n) from their levels; `weight` (3 levels, n) makes dipoles of potentials on panels. What
    becomes of the potential felt at the points, (m, ...): `back` (3m) dipoles along x, y and z; `linear` (3)
    ∫ϕ n dS in surge, sway and yaw; `square` (3m) the same of ½|∇ϕ|², to be multiplied by it once more. `stream`
    and `ones` (3, m): dipoles of the stream past her alone, and of 1.
    """

    at_m: Singles
    level_m: Singles
    plan: Singles
    even: Singles
    weight: Singles
    back: Singles
    linear: Floats
    square: Singles
    stream: Singles
    ones: Singles

    def handed(self, potential: Singles) -> Singles:
        """Dipoles (k, 3, m) at the points, of potentials (k, n) on the panels."""
        return np.asarray(((potential[:, None] * self.weight) @ self.plan).reshape(len(potential), 3, -1))

    def carried(self, felt: Singles) -> Singles:
        """Potentials (k, n) at the panels, of those at the points (k, m)."""
        level = felt.reshape(len(felt), len(self.even), -1) @ self.plan.T
        return np.asarray((level * self.even).sum(axis=1))


def boxes(moored: Afloat, passer: Afloat, place_m: Floats, turn: Singles) -> tuple[Box, Box]:
    """Fine enough for her at the nearest of the places (k, 2)."""
    apart_m = keels_apart_m(moored.panels, passer.panels, place_m, turn)
    ours, hers = (_box(each, _points_along(_half_length_m(each.panels), apart_m)) for each in (moored, passer))
    return ours, hers


def keels_apart_m(moored: Panels, passer: Panels, place_m: Floats, turn: Singles) -> float:
    """The least distance between the two keel lines, to within a few hundredths of it."""
    keel_m = np.linspace(-1.0, 1.0, 33)[:, None] * [_half_length_m(moored), 0.0]
    seen_m = (keel_m - place_m[:, None]) @ turn[:2, :2].T
    beyond_m = np.maximum(np.abs(seen_m[..., 0]) - _half_length_m(passer), 0.0)
    return float(np.hypot(beyond_m, seen_m[..., 1]).min())


def _half_length_m(panels: Panels) -> float:
    return 0.5 * float(np.ptp(panels.corner_m[..., 0]))


def _points_along(half_length_m: float, distance_m: float) -> int:
    """How many points along a hull for others so far from her keel line.

    A function of x that is singular at ±i d off its stretch of half length a is carried by m Chebyshev points to
    ϱ^−m, ϱ = t + √(1 + t²), t = d/a (Bernstein's ellipse).
    """
    wanted = -math.log(_WELL_ENOUGH) / math.asinh(distance_m / half_length_m)
    return next((m for m in _ALONG if m >= wanted), _ALONG[-1])


@lru_cache(maxsize=120)  # about 1 MB each; two or three to a hull
def _box(hull: Afloat, along: int) -> Box:
    """The hull by so many points along, five across and two down."""
    panels, n = hull.panels, len(hull.panels.centre_m)
    low_m, high_m = (of(panels.corner_m, axis=(0, 1)) * [1.0, 1.0, 0.0] for of in (np.min, np.max))
    half_m = 0.5 * (high_m - low_m) + [0.0, 0.0, panels.corner_m[..., 2].max()]
    middle_m = 0.5 * (low_m + high_m)
    x, y, z = ((panels.centre_m - middle_m) / half_m).T
    ahead = chebyshev(along)
    plan = (lagrange(ahead, x)[:, :, None] * lagrange(_ACROSS, y)[:, None, :]).reshape(n, -1)
    even = lagrange(DOWN**2, z**2).T
    weight = np.concatenate([panels.area_m2[:, 0] * even, panels.area_m2[:, 1] * even])
    weight = np.concatenate([weight, panels.area_m2[:, 2] * z * even / DOWN[:, None]])
    answered = hull.answer @ single((even[:, :, None] * plan).transpose(1, 0, 2).reshape(n, -1))
    at_m = np.stack(np.meshgrid(ahead, _ACROSS, indexing="ij"), axis=-1).reshape(-1, 2) * half_m[:2] + middle_m[:2]

    def handed(potential: Reals) -> Singles:
        return single(((potential[:, None] * weight) @ plan).reshape(len(potential), -1))

    return Box(
        single(at_m),
        single(half_m[2] * DOWN),
        single(plan),
        single(even),
        single(weight),
        handed(answered.T),
        answered.T @ hull.shares,
        _squares(single(panels.slope_1_m) @ answered, hull.shares),
        handed(hull.stream_m[None]).reshape(3, -1),
        handed(np.ones((1, n))).reshape(3, -1),
    )


def coarser(dipole: Singles, fine: Box, coarse: Box) -> Singles:
    """Dipoles (k, 3, m) at the points of a box, handed over to those of a coarser one of the same hull."""
    by_row = dipole.reshape(*dipole.shape[:2], DOWN.size, -1, _ACROSS.size)
    return np.asarray((_carry(fine, coarse).T @ by_row).reshape(*dipole.shape[:2], -1))


def finer(felt: Singles, coarse: Box, fine: Box) -> Singles:
    """What is felt at the points of a box (k, m), at those of a finer one of the same hull."""
    by_row = felt.reshape(len(felt), DOWN.size, -1, _ACROSS.size)
    return np.asarray((_carry(fine, coarse) @ by_row).reshape(len(felt), -1))


def _carry(fine: Box, coarse: Box) -> Singles:
    """The polynomials of the points along the one, at those along the other."""
    return _carried(*(len(each.at_m) // _ACROSS.size for each in (fine, coarse)))


@cache
def _carried(fine: int, coarse: int) -> Singles:
    return single(lagrange(chebyshev(coarse), chebyshev(fine)))


def _squares(slopes: Singles, shares: Floats) -> Singles:
    """½Σ|slope|² share: (m, 3m) of slopes (3, n, m) and shares (n, 3)."""
    every = slopes.reshape(-1, slopes.shape[2])
    weights = np.tile(single(0.5 * shares.T), 3)
    return single(np.concatenate([every.T @ (weight[:, None] * every) for weight in weights], axis=1))


def single(values: Reals) -> Singles:
    """In single precision, in order."""
    return np.ascontiguousarray(values, dtype=np.float32)


def lagrange(points: Floats, at: Floats) -> Floats:
    """(..., k): each of the k polynomials that are 1 at one point and 0 at the others."""
    columns = []
    for k, point in enumerate(points):
        others = np.delete(points, k)
        columns.append(np.prod((at[..., None] - others) / (point - others), axis=-1))
    return np.stack(columns, axis=-1)


# --- the kernel between the points of two boxes ---------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """The kernel between the points of two boxes at k places: ours seen from her midships (k, m, 2), hers (m', 2),
    C, Z and Z' (k, m, m'). When all is so far off that the flow is one of two dimensions, there is C alone, and
    the points in plan stand for those of so many `levels`, ours and hers."""

    ours_m: Singles
    hers_m: Singles
    levels: tuple[int, int]
    kernel: tuple[Singles, ...]

    def to_us(self, dipole: Singles) -> Singles:
        """Felt (k, all m) at our points of dipoles (k, 3, all m') at hers."""
        moments = _with_moment(_together(dipole, self.levels[1]), self.hers_m)
        sums = (self.kernel[0] @ moments.transpose(0, 2, 1)).transpose(0, 2, 1)
        felt = np.tile(_across(sums, self.ours_m), self.levels[0])
        if len(self.kernel) > 1:
            felt += (self.kernel[1] @ dipole[:, 2, :, None])[..., 0]
        return felt

    def to_her(self, dipole: Singles) -> Singles:
        """Felt (k, all m') at her points of dipoles (k, 3, all m) at ours."""
        moments = _with_moment(_together(dipole, self.levels[0]), self.ours_m)
        felt = np.tile(_across(moments @ self.kernel[0], self.hers_m), self.levels[1])
        if len(self.kernel) > 1:
            felt += (dipole[:, 2, None] @ self.kernel[2])[:, 0]
        return felt


def _together(dipole: Singles, levels: int) -> Singles:
    """Summed over the levels."""
    return np.asarray(dipole.reshape(*dipole.shape[:2], levels, -1).sum(axis=2))


def _with_moment(dipole: Singles, at_m: Singles) -> Singles:
    """(k, 3, m): along x, along y, and both dotted into their places."""
    x, y = dipole[:, 0], dipole[:, 1]
    return np.stack([x, y, x * at_m[..., 0] + y * at_m[..., 1]], axis=1)


def _across(sums: Singles, at_m: Singles) -> Singles:
    """Σ C a·(p − q) from Σ C a and Σ C a·q (k, 3, m)."""
    return sums[:, 0] * at_m[..., 0] + sums[:, 1] * at_m[..., 1] - sums[:, 2]


def between(ours: Box, hers: Box, turn: Singles, place_m: Floats, depth_m: float | None) -> Sight:
    """For her at the places (k, 2), turned by rows of `turn`."""
    return sight(ours.at_m, ours.level_m, hers.at_m @ turn[:2, :2], hers.level_m, place_m, depth_m)


@dataclass(frozen=True, slots=True, eq=False)
class Quay:
    """What a quay adds: our image in it and her, her image and herself. All that is farther off than the ships are
    from each other, so that the points of coarser boxes will do."""

    ours: Box
    hers: Box
    mirrored: Sight
    image: Sight

    def to_us(self, dipole: Singles) -> Singles:
        """Felt (k, m) at our points of dipoles at hers: her image at us is she at our image."""
        return self.mirrored.to_us(dipole)

    def to_her(self, own: Singles, dipole: Singles) -> Singles:
        """Felt (k, m') at her points of our image's dipoles, and of her own image's."""
        return self.mirrored.to_her(own * _FLIP) + self.image.to_us(dipole)


def in_quay(
    moored: Afloat, passer: Afloat, turn: Singles, place_m: Floats, depth_m: float | None, quay_y_m: float
) -> Quay:
    """For her at the places (k, 2), turned by rows of `turn`."""
    shift_m = place_m - [0.0, 2.0 * quay_y_m]
    ours, hers = boxes(moored, passer, shift_m, turn)
    mirror, hers_m = _FLIP[:2, 0], hers.at_m @ turn[:2, :2]
    from_quay_m = place_m[:, 1:] - quay_y_m
    if np.ptp(from_quay_m) == 0.0:
        from_quay_m = from_quay_m[:1]  # nothing changes along a parallel line
    return Quay(
        ours,
        hers,
        sight(ours.at_m * mirror, ours.level_m, hers_m, hers.level_m, shift_m, depth_m),
        sight(hers_m * mirror, hers.level_m, hers_m, hers.level_m, from_quay_m * [0.0, 2.0], depth_m),
    )


def sight(
    at_m: Singles,
    level_m: Singles,
    her_at_m: Singles,
    her_level_m: Singles,
    place_m: Floats,
    depth_m: float | None,
) -> Sight:
    """The kernel with its images in surface and bed, between points in plan, once a level, for her at k places."""
    seen_m = at_m - single(place_m)[:, None]
    x, y = (seen_m[:, :, None, axis] - her_at_m[:, axis] for axis in (0, 1))
    across2_m2 = x * x
    across2_m2 += y * y
    levels = (len(level_m), len(her_level_m))
    if depth_m is None:
        kernel = _in_deep_water(across2_m2, level_m, her_level_m)
    elif float(across2_m2.min()) > (TWO_DIMENSIONS * depth_m) ** 2:
        return Sight(seen_m, her_at_m, levels, (single(2.0 / depth_m / across2_m2),))
    else:
        kernel = _read_off(across2_m2, _table(tuple(level_m.tolist()), tuple(her_level_m.tolist()), depth_m))
    seen_m, her_at_m = np.tile(seen_m, (1, levels[0], 1)), np.tile(her_at_m, (levels[1], 1))
    return Sight(seen_m, her_at_m, (1, 1), tuple(kernel.reshape(3, len(seen_m), seen_m.shape[1], -1)))


def _in_deep_water(across2_m2: Singles, level_m: Singles, her_level_m: Singles) -> Singles:
    """C, Z, Z' (3, k, level, point, level', point')."""
    k, n, n2 = across2_m2.shape
    kernel = np.empty((3, k, len(level_m), n, len(her_level_m), n2), dtype=np.float32)
    for i, z_m in enumerate(level_m):
        for j, source_z_m in enumerate(her_level_m):
            level, mirrored = (_cube(across2_m2 + np.square(z)) for z in (z_m - source_z_m, z_m + source_z_m))
            np.add(level, mirrored, out=kernel[0, :, i, :, j])
            level *= z_m - source_z_m
            mirrored *= z_m + source_z_m
            np.subtract(level, mirrored, out=kernel[1, :, i, :, j])
            level += mirrored
            np.negative(level, out=kernel[2, :, i, :, j])
    return kernel


def _cube(distance2_m2: Singles) -> Singles:
    distance2_m2 *= np.sqrt(distance2_m2)
    return np.reciprocal(distance2_m2, out=distance2_m2)


@dataclass(frozen=True, slots=True, eq=False)
class _Table:
    """C R², Z R² and Z' R² (3, level, level', 2, entries) at even steps of ln R², each with its steps."""

    start: float
    per: float
    values: Singles


@lru_cache(maxsize=64)
def _table(level_m: tuple[float, ...], her_level_m: tuple[float, ...], depth_m: float) -> _Table:
    """From the nearest that boxes can be to where the flow is one of two dimensions, and stays so."""
    low, high = (2.0 * math.log(m) for m in (0.5 * max(*level_m, *her_level_m), TWO_DIMENSIONS * depth_m))
    across2_m2 = np.exp(np.linspace(low, high, _ENTRIES))[:, None]
    z_m, her_z_m = (each.ravel() for each in np.meshgrid(level_m, her_level_m, indexing="ij"))
    found = column(across2_m2 + np.zeros(len(z_m)), z_m, her_z_m, depth_m)
    values = np.stack([(across2_m2 * each).T for each in found])
    values = np.stack([values, np.diff(values, append=0.0)], axis=2)
    shape = (3, len(level_m), len(her_level_m), 2, _ENTRIES)
    return _Table(low, (_ENTRIES - 1) / (high - low), single(values).reshape(shape))


def _read_off(across2_m2: Singles, table: _Table) -> Singles:
    """C, Z, Z' (3, k, level, point, level', point')."""
    place = np.log(across2_m2)
    place -= np.float32(table.start)
    place *= np.float32(table.per)
    np.clip(place, 0.0, _ENTRIES - 2, out=place)
    entry = place.astype(np.intp)
    place -= entry
    inverse = 1.0 / across2_m2
    (k, n, n2), (_, levels, her_levels, _, _) = across2_m2.shape, table.values.shape
    kernel = np.empty((3, k, levels, n, her_levels, n2), dtype=np.float32)
    for i in range(levels):
        for j in range(her_levels):
            for out, (value, step) in zip(kernel[:, :, i, :, j], table.values[:, i, j], strict=True):
                read = step.take(entry, mode="wrap")
                read *= place
                read += value.take(entry, mode="wrap")
                np.multiply(read, inverse, out=out)
    return kernel
