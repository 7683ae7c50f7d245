"""What a flying line may run against: round, in plan, hard and dull. A house is a row of posts along its walls.

The few fittings of the line's own lead are looked at one by one; of what else stands in the way there may be a
hundred, so that a grid first tells which springs are near any of it. A touch takes the speed towards the fitting
away and lets friction (Coulomb) act along it. A line that swings onto a fitting so lies against it and slides.
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

_SQUARE_M: Final = 1.0
_ROUND_M: Final = 6.0  # the grid goes on beyond what stands there; faster and longer springs look this far ahead
_QUICKER: Final = 1.5  # than now it may be before the next look
_EASED: Final = 0.02  # of the depth, each time: what was inside before it came


def span(of: NDArray[np.bool_]) -> slice:
    """From the first to the last that is true: a slice, so that what it takes of an array is a view."""
    found = np.flatnonzero(of)
    return slice(int(found[0]), int(found[-1]) + 1) if len(found) else slice(0, 0)


@dataclass
class Posts:
    """Round obstacles (o,): first the lead's own, then what else stands in the way.

    `meets` (b, own): which chain may run against which of its own; `low` (b,): which may against all the rest.
    """

    x: Floats
    y: Floats
    radius_m: Floats
    friction: float
    meets: NDArray[np.bool_]
    low: NDArray[np.bool_]

    def __post_init__(self) -> None:
        self.r = self.s = self.o = np.zeros(0, dtype=np.intp)
        self.own = self.meets.shape[1]
        self.columns = span(self.low)
        self.more = self.own < len(self.x) and self.columns.start < self.columns.stop
        if self.more:
            x, y, radius_m = self.x[self.own :], self.y[self.own :], self.radius_m[self.own :]
            self.from_x, self.from_y = float(x.min()) - _ROUND_M, float(y.min()) - _ROUND_M
            at_x = np.arange(self.from_x, x.max() + _ROUND_M, _SQUARE_M) + 0.5 * _SQUARE_M
            at_y = np.arange(self.from_y, y.max() + _ROUND_M, _SQUARE_M) + 0.5 * _SQUARE_M
            off_m = np.hypot(at_x[:, None, None] - x, at_y[:, None] - y) - radius_m
            self.away_m = off_m.min(axis=-1)  # from the middle of each square to the nearest of all that
            self.away_m[[0, -1]] = self.away_m[:, [0, -1]] = np.inf  # and beyond the grid

    def look(self, on: Chains, bends: Bends, ahead_s: Floats) -> None:
        """Which springs may touch which fitting within `ahead_s` (b,)."""
        meets = self.meets.copy()
        meets[bends.r, bends.post[bends.r, bends.k]] = False
        if not (meets.any() or self.more):
            self.r = self.r[:0]
            return
        middle_x, middle_y = 0.5 * (on.x[1:] + on.x[:-1]), 0.5 * (on.y[1:] + on.y[:-1])
        speed_m_s = np.sqrt((on.vx**2 + on.vy**2).max(axis=0))
        near_m = 0.6 * on.length_m.max(axis=0) + speed_m_s * ahead_s
        found = [self._of_the_rest(on, middle_x, middle_y, near_m)] if self.more else []
        for o in np.flatnonzero(meets.any(axis=0)):
            reach2 = np.where(meets[:, o], near_m + self.radius_m[o], 0.0) ** 2
            s, r = np.nonzero((middle_x - self.x[o]) ** 2 + (middle_y - self.y[o]) ** 2 < reach2)
            found.append((r, s, np.full(len(r), o)))
        chain, spring, post = (np.concatenate(each) for each in zip(*found, strict=True))
        _, _, _, off_m = self._nearest(on, chain, spring, post)
        soon = off_m < self.radius_m[post] + (_QUICKER * speed_m_s * ahead_s)[chain]
        self.r, self.s, self.o = chain[soon], spring[soon], post[soon]

    def _of_the_rest(
        self, on: Chains, middle_x: Floats, middle_y: Floats, near_m: Floats
    ) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
        """(chain, spring, obstacle) of those near enough, by the grid and then one by one."""
        x, y = middle_x[:, self.columns], middle_y[:, self.columns]
        near_m = np.where(self.low, near_m, -np.inf)[self.columns]
        i, j = (
            np.clip((at - low) / _SQUARE_M, 0, most - 1).astype(np.intp)
            for at, low, most in zip((x, y), (self.from_x, self.from_y), self.away_m.shape, strict=True)
        )
        s, c = np.nonzero(self.away_m[i, j] < near_m + 0.75 * _SQUARE_M)
        off2 = (x[s, c][:, None] - self.x[self.own :]) ** 2 + (y[s, c][:, None] - self.y[self.own :]) ** 2
        which, o = np.nonzero(off2 < (near_m[c][:, None] + self.radius_m[self.own :]) ** 2)
        return self.columns.start + c[which], s[which], o + self.own

    def _nearest(
        self, on: Chains, r: NDArray[np.intp], s: NDArray[np.intp], o: NDArray[np.intp]
    ) -> tuple[Floats, Floats, Floats, Floats]:
        """Of each spring the place nearest to its obstacle, as a share of it; how far off, x, y and m."""
        px, py = on.x[s, r], on.y[s, r]
        dx, dy = on.x[s + 1, r] - px, on.y[s + 1, r] - py
        share = ((self.x[o] - px) * dx + (self.y[o] - py) * dy) / (dx * dx + dy * dy + 1e-12)
        share = np.clip(share, 0.0, 1.0)
        nx, ny = px + share * dx - self.x[o], py + share * dy - self.y[o]
        return share, nx, ny, np.hypot(nx, ny)

    def meet(self, on: Chains, lightness: Floats, since_s: Floats, impulse_n_s: Floats) -> None:
        """Pushes out what has got in since the last time, and takes the speed that would take it further in.

        What lay inside already (a line that has just left the corner drawn about a fitting) is eased out: pushed,
        it would be stretched, and so given energy. What all that takes is added to `impulse_n_s` (2, b).
        """
        r, s, o = self.r, self.s, self.o
        if not len(r):
            return
        share, nx, ny, off_m = self._nearest(on, r, s, o)
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
