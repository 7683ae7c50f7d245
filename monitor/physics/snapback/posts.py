"""Rollers, fairleads and bollards that a flying line may run against: round, in plan, hard and dull.

A touch takes the speed towards the fitting away and lets friction (Coulomb) act along it. A line that swings onto
a fitting so lies against it and slides.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from monitor.base.frames import Floats

if TYPE_CHECKING:
    from monitor.physics.snapback.bends import Bends
    from monitor.physics.snapback.chain import Chains

_EASED: Final = 0.02  # of the depth, each time: what was inside before it came


@dataclass
class Posts:
    """Round obstacles (o,), and for each chain (b, o) whether it may run against them."""

    x: Floats
    y: Floats
    radius_m: Floats
    friction: float
    meets: NDArray[np.bool_]

    def __post_init__(self) -> None:
        self.r = self.s = self.o = np.zeros(0, dtype=np.intp)

    def look(self, on: Chains, bends: Bends, ahead_s: Floats) -> None:
        """Which springs may touch which fitting within `ahead_s` (b,)."""
        meets = self.meets.copy()
        meets[bends.r, bends.post[bends.r, bends.k]] = False
        if not meets.any():
            self.r = self.r[:0]
            return
        middle_x, middle_y = 0.5 * (on.x[1:] + on.x[:-1]), 0.5 * (on.y[1:] + on.y[:-1])
        speed_m_s = np.sqrt((on.vx**2 + on.vy**2).max(axis=0))
        near_m = 0.6 * on.length_m.max(axis=0) + speed_m_s * ahead_s
        found = []
        for o in np.flatnonzero(meets.any(axis=0)):
            reach2 = np.where(meets[:, o], near_m + self.radius_m[o], 0.0) ** 2
            s, r = np.nonzero((middle_x - self.x[o]) ** 2 + (middle_y - self.y[o]) ** 2 < reach2)
            found.append((r, s, np.full(len(r), o)))
        self.r, self.s, self.o = (np.concatenate(each) for each in zip(*found, strict=True))

    def meet(self, on: Chains, lightness: Floats, since_s: Floats, impulse_n_s: Floats) -> None:
        """Pushes out what has got in since the last time, and takes the speed that would take it further in.

        What lay inside already (a line that has just left the corner drawn about a fitting) is eased out: pushed,
        it would be stretched, and so given energy. What all that takes is added to `impulse_n_s` (2, b).
        """
        r, s, o = self.r, self.s, self.o
        if not len(r):
            return
        px, py = on.x[s, r], on.y[s, r]
        dx, dy = on.x[s + 1, r] - px, on.y[s + 1, r] - py
        share = ((self.x[o] - px) * dx + (self.y[o] - py) * dy) / (dx * dx + dy * dy + 1e-12)
        share = np.clip(share, 0.0, 1.0)
        nx, ny = px + share * dx - self.x[o], py + share * dy - self.y[o]
        off_m = np.hypot(nx, ny)
        hit = np.flatnonzero((off_m < self.radius_m[o]) & (off_m > 1e-9))
        if not len(hit):
            return
        r, s, o, share, off_m = r[hit], s[hit], o[hit], share[hit], off_m[hit]
        nx, ny = nx[hit] / off_m, ny[hit] / off_m
        here, there = lightness[s, r] * (1.0 - share), lightness[s + 1, r] * share
        give = here * (1.0 - share) + there * share + 1e-12
        vx = (1.0 - share) * on.vx[s, r] + share * on.vx[s + 1, r]
        vy = (1.0 - share) * on.vy[s, r] + share * on.vy[s + 1, r]
        into = np.minimum(vx * nx + vy * ny, 0.0)
        along = -vx * ny + vy * nx
        rub = np.clip(along, self.friction * into, -self.friction * into)
        out_x, out_y = (-into * nx + rub * ny) / give, (-into * ny - rub * nx) / give
        moves = (lightness[s, r] > 0.0) * (1.0 - share) + share
        np.add.at(impulse_n_s[0], r, moves * out_x)
        np.add.at(impulse_n_s[1], r, moves * out_y)
        deep_m = self.radius_m[o] - off_m
        out_m = np.minimum(deep_m, _EASED * deep_m - into * since_s[r]) / give
        for node, light in ((s, here), (s + 1, there)):
            np.add.at(on.vx, (node, r), light * out_x)
            np.add.at(on.vy, (node, r), light * out_y)
            np.add.at(on.x, (node, r), light * out_m * nx)
            np.add.at(on.y, (node, r), light * out_m * ny)
