"""What two hulls do to each other: dipoles on the panels of one, felt at the panels of the other.

Sections that lie close to each other are worked out panel by panel. For the rest, which is nearly all, each
section hands its dipoles over to eight points, four across and two down, and is felt at the eight points of the
other: the kernel is smooth there, and polynomials carry it between points and panels. They are even in z (odd for
dipoles that point down), as the kernel with its image in the surface is. The panels of a section near the ends do
not share one x; the points are given x so that the same polynomials hold for it. Single precision is enough.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from monitor.base.frames import Floats
from monitor.physics.passing.influence import TWO_DIMENSIONS, Reals, column
from monitor.physics.passing.panels import Panels

Singles = NDArray[np.float32]
Indices = NDArray[np.intp]

_ACROSS: Final = np.cos(math.pi * (np.arange(4) + 0.5) / 4)  # Chebyshev points of four
_DOWN: Final = np.cos(math.pi * (np.arange(2) + 0.5) / 4)  # and the lower two of four about the surface
_FAR: Final = 2.2  # sections farther apart than so many of both half breadths, or draughts, meet by their points
_ENTRIES: Final = 1024  # of the table of the kernel, per pair of depths
_DEAR: Final = 1.6  # draughts of water from which the table is quicker


@dataclass(frozen=True, slots=True, eq=False)
class Sections:
    """A hull cut into its nx sections of ng panels, somewhere in the moored ship's axes.

    `at_m`, `area_m2` (nx, ng, 3) of the panels; `point_m` (nx, 8, 3); `share` (nx, ng, 8) carries from points to
    panels, `share_down` the same for dipoles along z; `middle_m` (nx, 2); `half_m` (nx,), half breadths.
    """

    at_m: Singles
    area_m2: Singles
    point_m: Singles
    share: Singles
    share_down: Singles
    middle_m: Floats
    half_m: Floats
    draught_m: float

    def turned(self, turn: Floats, shift_m: tuple[float, float] = (0.0, 0.0)) -> Sections:
        """By rows of `turn`, in plan (a reflection will do), then shifted."""
        by, along = turn.astype(np.float32), np.array([*shift_m, 0.0], dtype=np.float32)
        return replace(
            self,
            at_m=self.at_m @ by + along,
            area_m2=self.area_m2 @ by,
            point_m=self.point_m @ by + along,
            middle_m=self.middle_m @ turn[:2, :2] + shift_m,
        )


def sections(panels: Panels) -> Sections:
    """In the hull's own axes."""
    (nx, ng), n = panels.grid, len(_ACROSS) * len(_DOWN)
    at_m, area_m2 = (each.reshape(nx, ng, 3) for each in (panels.centre_m, panels.area_m2))
    corner_m = panels.corner_m.reshape(nx, ng * 4, 3)
    half_m, draught_m = np.abs(corner_m[..., 1]).max(axis=1), float(corner_m[..., 2].max())
    weight = np.linalg.norm(area_m2, axis=2)
    x_m = (weight * at_m[..., 0]).sum(axis=1) / weight.sum(axis=1)
    y, z = at_m[..., 1] / half_m[:, None], at_m[..., 2] / draught_m
    across, down = _lagrange(_ACROSS, y), _lagrange(_DOWN**2, z**2)
    share = (across[..., :, None] * down[..., None, :]).reshape(nx, ng, n)
    odd = (across[..., :, None] * (down * z[..., None] / _DOWN)[..., None, :]).reshape(nx, ng, n)
    point_m = np.empty((nx, len(_ACROSS), len(_DOWN), 3))
    tilt = np.linalg.pinv(share, rcond=0.03) @ (at_m[..., 0] - x_m[:, None])[..., None]
    point_m[..., 0] = x_m[:, None, None] + tilt.reshape(nx, len(_ACROSS), len(_DOWN))
    point_m[..., 1] = half_m[:, None, None] * _ACROSS[:, None]
    point_m[..., 2] = draught_m * _DOWN
    middle_m = np.stack([x_m, np.zeros(nx)], axis=1)
    return Sections(
        _single(at_m),
        _single(area_m2),
        _single(point_m.reshape(nx, n, 3)),
        _single(share),
        _single(odd),
        middle_m,
        half_m,
        draught_m,
    )


def _single(values: Reals) -> Singles:
    return values.astype(np.float32)


def _lagrange(points: Floats, at: Floats) -> Floats:
    """(..., k): each of the k polynomials that are 1 at one point and 0 at the others."""
    columns = []
    for k, point in enumerate(points):
        others = np.delete(points, k)
        columns.append(np.prod((at[..., None] - others) / (point - others), axis=-1))
    return np.stack(columns, axis=-1)


@dataclass(frozen=True, slots=True, eq=False)
class _Close:
    """Blocks (pairs, ng, ng) between close sections; both numbered through all k places, ours in rising order."""

    rows: Indices
    columns: Indices
    block: Singles

    def add_to(self, felt: Singles, given: Singles) -> None:
        """felt (sections, ng, c) += Σ block @ given (sections, ng, c)."""
        if self.rows.size:
            first = np.flatnonzero(np.diff(self.rows, prepend=-1))
            felt[self.rows[first]] += np.add.reduceat(self.block @ given[self.columns], first, axis=0)


@dataclass(frozen=True, slots=True, eq=False)
class Meeting:
    """Two hulls at k places and all that lies between them."""

    ours: Sections
    hers: Sections
    far: Singles  # (4, k, points, points): of dipoles along x, y, z to us; along z to her
    close: tuple[_Close, _Close]  # to us, to her

    def to_us(self, on_her: Floats) -> Singles:
        """Σ D·ψ (k, n, c) at our panels from potentials (k, n, c) on hers."""
        x, y, z, _ = self.far
        given, dipole = _handed_over(self.hers, on_her)
        return self._felt(self.ours, x @ dipole[0] + y @ dipole[1] + z @ dipole[2], self.close[0], given)

    def to_her(self, on_us: Floats) -> Singles:
        """Σ D·φ (k, n, c) at her panels from potentials (k, n, c) on ours."""
        x, y, _, z = (each.transpose(0, 2, 1) for each in self.far)
        given, dipole = _handed_over(self.ours, on_us)
        return self._felt(self.hers, z @ dipole[2] - x @ dipole[0] - y @ dipole[1], self.close[1], given)

    @staticmethod
    def _felt(hull: Sections, at_points: Singles, close: _Close, given: Singles) -> Singles:
        k, _, c = at_points.shape
        nx, ng, m = hull.share.shape
        felt = (hull.share @ at_points.reshape(k, nx, m, c)).reshape(k * nx, ng, c)
        close.add_to(felt, given.reshape(-1, given.shape[2], c))
        return felt.reshape(k, nx * ng, c)


def meeting(ours: Sections, hers: Sections, shift_m: Floats, depth_m: float | None) -> Meeting:
    """The kernel with its images in surface and bed, both ways, for her shifted by (k, 2)."""
    size_m = np.maximum(ours.half_m[:, None] + hers.half_m, max(ours.draught_m, hers.draught_m))
    p, q = ours.point_m.reshape(-1, 3), hers.point_m.reshape(-1, 3)
    far = np.empty((4, len(shift_m), len(p), len(q)), dtype=np.float32)
    by_section = far.reshape(4, len(shift_m), len(ours.half_m), -1, len(hers.half_m), hers.share.shape[2])
    pairs, blocks = [], []
    for k, (shift, single) in enumerate(zip(shift_m, shift_m.astype(np.float32), strict=True)):
        x, y = p[:, :1] - (q[:, 0] + single[0]), p[:, 1:2] - (q[:, 1] + single[1])
        c, far[2, k], far[3, k] = _between_points(x * x + y * y, ours.draught_m, hers.draught_m, depth_m)
        np.multiply(x, c, out=far[0, k])
        np.multiply(y, c, out=far[1, k])
        apart_m = ours.middle_m[:, None] - (hers.middle_m + shift)
        i, j = np.nonzero(np.einsum("ijk,ijk->ij", apart_m, apart_m) < (_FAR * size_m) ** 2)
        if i.size:
            by_section[:, k, i, :, j, :] = 0.0
            blocks.append(_blocks(ours, hers, i, j, single, depth_m))
            pairs.append((i + k * len(ours.half_m), j + k * len(hers.half_m)))
    if not pairs:
        nowhere = np.zeros(0, dtype=np.intp)
        none = _Close(nowhere, nowhere, np.zeros((0, 1, 1), dtype=np.float32))
        return Meeting(ours, hers, far, (none, none))
    i, j = (np.concatenate(each) for each in zip(*pairs, strict=True))
    there, back = (np.concatenate(each) for each in zip(*blocks, strict=True))
    hers_first = np.argsort(j, kind="stable")
    return Meeting(ours, hers, far, (_Close(i, j, there), _Close(j[hers_first], i[hers_first], back[hers_first])))


def _between_points(
    across2_m2: Singles, draught_m: float, her_draught_m: float, depth_m: float | None
) -> tuple[Reals, ...]:
    """The `column` of points that far across, of which every second one lies deep; read off a table where it is
    dear, that is in neither endless nor very little water."""
    if (
        depth_m is None
        or depth_m < _DEAR * max(draught_m, her_draught_m)
        or float(across2_m2.min()) > (TWO_DIMENSIONS * depth_m) ** 2
    ):
        z_m, her_z_m = (
            _single(np.resize(each_m * _DOWN, n))
            for each_m, n in zip((draught_m, her_draught_m), across2_m2.shape, strict=True)
        )
        return column(across2_m2, z_m[:, None], her_z_m, depth_m)
    table = _table(draught_m, her_draught_m, depth_m)
    place = np.log(across2_m2)
    place -= np.float32(table.start)
    place *= np.float32(table.per)
    np.clip(place, 0.0, _ENTRIES - 2, out=place)
    entry = place.astype(np.intp)
    place -= entry
    two_by_two = entry.reshape(len(entry) // 2, 2, -1, 2)
    two_by_two += np.array([[0, 1], [2, 3]])[:, None, :] * _ENTRIES
    inverse = 1.0 / across2_m2
    return tuple(
        (value.take(entry, mode="clip") + step.take(entry, mode="clip") * place) * inverse
        for value, step in table.columns
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Table:
    """C R², Z R² and Z' R² for the four pairs of depths at even steps of ln R², each with its steps."""

    start: float
    per: float
    columns: tuple[tuple[Singles, Singles], ...]


@lru_cache(maxsize=64)
def _table(draught_m: float, her_draught_m: float, depth_m: float) -> _Table:
    """From what the nearest sections can be apart to where the flow is one of two dimensions, and stays so."""
    low, high = 2.0 * math.log(0.5 * max(draught_m, her_draught_m)), 2.0 * math.log(4.0 * depth_m)
    across2_m2 = np.exp(np.linspace(low, high, _ENTRIES))[:, None]
    z_m, her_z_m = np.repeat(draught_m * _DOWN, 2), np.tile(her_draught_m * _DOWN, 2)
    scaled = (np.ravel((across2_m2 * each).T) for each in column(across2_m2 + np.zeros(4), z_m, her_z_m, depth_m))
    columns = tuple((_single(each), _single(np.diff(each, append=0.0))) for each in scaled)
    return _Table(low, (_ENTRIES - 1) / (high - low), columns)


def _blocks(
    ours: Sections, hers: Sections, i: Indices, j: Indices, shift_m: Singles, depth_m: float | None
) -> tuple[Singles, Singles]:
    """D of her panels at ours, and of ours at hers, (pairs, ng, ng) for the sections i of ours, j of hers."""
    at_m, area_m2 = (each[i][:, :, None] for each in (ours.at_m, ours.area_m2))
    source_m, source_m2 = (each[j][:, None] for each in (hers.at_m, hers.area_m2))
    x = at_m[..., 0] - (source_m[..., 0] + shift_m[0])
    y = at_m[..., 1] - (source_m[..., 1] + shift_m[1])
    c, z, z_back = column(x * x + y * y, at_m[..., 2], source_m[..., 2], depth_m)
    there = (x * source_m2[..., 0] + y * source_m2[..., 1]) * c + z * source_m2[..., 2]
    back = z_back * area_m2[..., 2] - (x * area_m2[..., 0] + y * area_m2[..., 1]) * c
    return there, back.transpose(0, 2, 1)


def _handed_over(hull: Sections, potential: Floats) -> tuple[Singles, list[Singles]]:
    """Potentials (k, n, c) by sections (k, nx, ng, c), and their dipoles (3; k, points, c) at the points."""
    k, _, c = potential.shape
    given = _single(potential.reshape(k, *hull.at_m.shape[:2], c))
    ways = ((hull.share, 0), (hull.share, 1), (hull.share_down, 2))
    dipoles = (share.transpose(0, 2, 1) @ (given * hull.area_m2[..., way, None]) for share, way in ways)
    return given, [each.reshape(k, -1, c) for each in dipoles]
