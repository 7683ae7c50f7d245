"""What two hulls do to each other close by: dipoles on the panels of one, felt at the panels of the other.

Sections that lie close to each other are worked out panel by panel. For the rest each section hands its dipoles
over to eight points, four across at two depths, and is felt at the eight points of the other, as whole hulls are
from afar (see `afar`). The panels of a section near the ends do not share one x; the points are given x so that
the same polynomials hold for it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from monitor.base.frames import Floats
from monitor.physics.passing.afar import DOWN, Sight, Singles, chebyshev, lagrange, sight, single
from monitor.physics.passing.influence import column
from monitor.physics.passing.panels import Panels

Indices = NDArray[np.intp]

_ACROSS: Final = chebyshev(4)
_FAR: Final = 1.8  # sections farther apart than so many of both half breadths, or draughts, meet by their points


@dataclass(frozen=True, slots=True, eq=False)
class Sections:
    """A hull cut into its nx sections of ng panels, somewhere in the moored ship's axes.

    `at_m`, `area_m2` (nx, ng, 3) of the panels; `plan_m` (4 nx, 2), the points in plan, and `level_m` (2,). Points
    of a section, across within level: `share` (nx, ng, 8) carries from them to its panels, `handed` (nx, ng, 24)
    from potentials on its panels to dipoles along x, y and z at them. `middle_m` (nx, 2); `half_m` (nx,), half
    breadths.
    """

    at_m: Singles
    area_m2: Singles
    plan_m: Singles
    level_m: Singles
    share: Singles
    handed: Singles
    middle_m: Floats
    half_m: Floats

    def turned(self, turn: Singles) -> Sections:
        """By rows of `turn`, in plan."""
        handed = self.handed.reshape(*self.area_m2.shape, -1)
        return replace(
            self,
            at_m=self.at_m @ turn,
            area_m2=self.area_m2 @ turn,
            plan_m=self.plan_m @ turn[:2, :2],
            handed=np.einsum("ijam,ab->ijbm", handed, turn).reshape(self.handed.shape),
            middle_m=self.middle_m @ turn[:2, :2],
        )


@lru_cache(maxsize=32)
def sections(panels: Panels) -> Sections:
    """In the hull's own axes."""
    nx, ng = panels.grid
    at_m, area_m2 = (each.reshape(nx, ng, 3) for each in (panels.centre_m, panels.area_m2))
    corner_m = panels.corner_m.reshape(nx, ng * 4, 3)
    half_m, draught_m = np.abs(corner_m[..., 1]).max(axis=1), float(corner_m[..., 2].max())
    weight = np.linalg.norm(area_m2, axis=2)
    x_m = (weight * at_m[..., 0]).sum(axis=1) / weight.sum(axis=1)
    y, z = at_m[..., 1] / half_m[:, None], at_m[..., 2] / draught_m
    across, down = lagrange(_ACROSS, y), lagrange(DOWN**2, z**2)
    tilt_m = np.linalg.pinv(across, rcond=0.03) @ (at_m[..., 0] - x_m[:, None])[..., None]
    plan_m = np.stack([x_m[:, None] + tilt_m[..., 0], half_m[:, None] * _ACROSS], axis=-1)
    share, odd = (
        (level[..., :, None] * across[..., None, :]).reshape(nx, ng, -1)
        for level in (down, down * z[..., None] / DOWN)
    )
    handed = np.concatenate(
        [each * area_m2[..., way, None] for way, each in enumerate((share, share, odd))], axis=-1
    )
    return Sections(
        single(at_m),
        single(area_m2),
        single(plan_m.reshape(-1, 2)),
        single(draught_m * DOWN),
        single(share),
        single(handed),
        np.stack([x_m, np.zeros(nx)], axis=1),
        half_m,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Close:
    """Blocks (pairs, ng, ng) between close sections; both numbered through all k places, ours in rising order."""

    rows: Indices
    columns: Indices
    block: Singles

    def add_to(self, felt: Singles, given: Singles) -> None:
        """felt (sections, ng) += Σ block @ given (sections, ng)."""
        if self.rows.size:
            first = np.flatnonzero(np.diff(self.rows, prepend=-1))
            each = (self.block @ given[self.columns, :, None])[..., 0]
            felt[self.rows[first]] += np.add.reduceat(each, first, axis=0)


@dataclass(frozen=True, slots=True, eq=False)
class Meeting:
    """Two hulls at k places and all that lies between them."""

    ours: Sections
    hers: Sections
    far: Sight
    close: tuple[_Close, _Close]  # to us, to her

    def to_us(self, on_her: Singles) -> Singles:
        """Σ D·ψ (k, n) at our panels from potentials (k, n) on hers."""
        return _felt(self.ours, self.far.to_us(_handed_over(self.hers, on_her)), self.close[0], on_her)

    def to_her(self, on_us: Singles) -> Singles:
        """Σ D·φ (k, n) at her panels from potentials (k, n) on ours."""
        return _felt(self.hers, self.far.to_her(_handed_over(self.ours, on_us)), self.close[1], on_us)


def meeting(ours: Sections, hers: Sections, shift_m: Floats, depth_m: float | None) -> Meeting:
    """The kernel with its images in surface and bed, both ways, for her shifted by (k, 2)."""
    far = sight(ours.plan_m, ours.level_m, hers.plan_m, hers.level_m, shift_m, depth_m)
    deepest_m = max(ours.level_m[0], hers.level_m[0]) / DOWN[0]
    size_m = np.maximum(ours.half_m[:, None] + hers.half_m, deepest_m)
    apart_m = ours.middle_m[:, None] - (hers.middle_m + shift_m[:, None, None])
    k, i, j = np.nonzero(np.einsum("kijx,kijx->kij", apart_m, apart_m) < (_FAR * size_m) ** 2)
    for kernel in far.kernel:
        levels, her_levels = kernel.shape[1] // len(ours.plan_m), kernel.shape[2] // len(hers.plan_m)
        shape = (len(shift_m), levels, len(ours.half_m), len(_ACROSS), her_levels, len(hers.half_m), len(_ACROSS))
        kernel.reshape(shape)[k, :, i, :, :, j] = 0.0
    there, back = _blocks(ours, hers, i, j, single(shift_m[k]), depth_m)
    i, j = i + k * len(ours.half_m), j + k * len(hers.half_m)
    hers_first = np.argsort(j, kind="stable")
    return Meeting(ours, hers, far, (_Close(i, j, there), _Close(j[hers_first], i[hers_first], back[hers_first])))


def _blocks(
    ours: Sections, hers: Sections, i: Indices, j: Indices, shift_m: Singles, depth_m: float | None
) -> tuple[Singles, Singles]:
    """D of her panels at ours, and of ours at hers, (pairs, ng, ng) for the sections i of ours, j of hers."""
    at_m, area_m2 = (each[i][:, :, None] for each in (ours.at_m, ours.area_m2))
    source_m, source_m2 = (each[j][:, None] for each in (hers.at_m, hers.area_m2))
    x = at_m[..., 0] - (source_m[..., 0] + shift_m[:, 0, None, None])
    y = at_m[..., 1] - (source_m[..., 1] + shift_m[:, 1, None, None])
    c, z, z_back = column(x * x + y * y, at_m[..., 2], source_m[..., 2], depth_m)
    there = (x * source_m2[..., 0] + y * source_m2[..., 1]) * c + z * source_m2[..., 2]
    back = z_back * area_m2[..., 2] - (x * area_m2[..., 0] + y * area_m2[..., 1]) * c
    return single(there), single(back.transpose(0, 2, 1))


def _handed_over(hull: Sections, potential: Singles) -> Singles:
    """Dipoles (k, 3, points) of potentials (k, n)."""
    k, (nx, ng, m) = len(potential), hull.share.shape
    dipole = potential.reshape(k, nx, ng).transpose(1, 0, 2) @ hull.handed
    return dipole.reshape(nx, k, 3, len(DOWN), len(_ACROSS)).transpose(1, 2, 3, 0, 4).reshape(k, 3, nx * m)


def _felt(hull: Sections, at_points: Singles, close: _Close, given: Singles) -> Singles:
    """At the panels (k, n), from the points (k, points) and from close sections."""
    k, (nx, ng, m) = len(at_points), hull.share.shape
    by_section = at_points.reshape(k, len(DOWN), nx, len(_ACROSS)).transpose(2, 0, 1, 3).reshape(nx, k, m)
    felt = (by_section @ hull.share.transpose(0, 2, 1)).transpose(1, 0, 2).reshape(k * nx, ng)
    close.add_to(felt, given.reshape(-1, close.block.shape[2]))
    return felt.reshape(k, nx * ng)
