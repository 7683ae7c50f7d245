"""A line that still lies round the fittings of its own lead.

A spring that spans a fitting is as long as its way round it and pulls towards it from both sides; by the capstan
equation friction leaves less tension on the side the line comes from. When a mass reaches the fitting, the line
either follows round it (its tension turns it: T > m v²) or leaves it for good and flies on as it came (T < m v²).
The last mass stands for half a spring, of which a part may not have lain beyond the fitting at all: it leaves with
the mean of where its parts were bound.
A fitting of some radius is a polygon drawn about it, no corner sharper than 60°.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from monitor.base.frames import Floats

if TYPE_CHECKING:
    from monitor.physics.snapback.chain import Chains

Complexes = NDArray[np.complex128]  # x + iy
_SLIDES_M_S = 0.5  # below it friction fades, so that a line at rest is held by no more than it pulls


@dataclass
class Bends:
    """Corners (b, k) of each chain from its held end on; `on` is False where there is none (any more)."""

    x: Floats
    y: Floats
    hand: Floats  # +1 or −1: which way the lead turns
    out_x: Floats  # towards the parted end as the lead lay
    out_y: Floats
    wrap: Floats  # friction × turn in radians
    post: NDArray[np.intp]  # which fitting
    spring: NDArray[np.intp]  # the one that spans it
    on: NDArray[np.bool_]
    bound: Complexes  # mean heading of what the last mass stands for, against `out`; 1 when all beyond

    def __post_init__(self) -> None:
        self.turned = np.ones(len(self.on), dtype=np.complex128)  # (b,) how far parted ends have turned at corners
        self.pairs()

    def pairs(self) -> None:
        """Takes stock of the corners in use, in order, and of which share a spring."""
        r, k = np.nonzero(self.on)
        s = self.spring[r, k]
        self.r, self.k, self.s = r, k, s
        self.cx, self.cy = self.x[r, k], self.y[r, k]
        same = (r[1:] == r[:-1]) & (s[1:] == s[:-1])
        self.first = np.concatenate([[True], ~same])[: len(r)]
        self.last = np.concatenate([~same, [True]])[: len(r)]
        self.inner = np.flatnonzero(~self.first)  # corners whose left neighbour is a corner
        self.outer = np.flatnonzero(~self.last)
        self.group = np.cumsum(self.first) - 1
        self.begins, self.ends = np.flatnonzero(self.first), np.flatnonzero(self.last)
        self.half_wrap = 0.5 * np.bincount(self.group, self.wrap[r, k])

    def __bool__(self) -> bool:
        return len(self.r) > 0

    def look(self, on: Chains, pull_n: Floats, masses_kg: Floats, impulse_n_s: Floats) -> None:
        """Lets masses pass and lines leave; then `long_m` (g,) is the length of each spring that spans corners.

        What turns a mass is added to `impulse_n_s` (2, b).
        """
        for _ in range(self.on.shape[1] + 1):
            self._measure(on)
            r, k, s = self.r, self.k, self.s
            out_x, out_y = self.out_x[r, k], self.out_y[r, k]
            past = self.last & (self.bx * out_x + self.by * out_y <= 0.0)
            left = ~past & (self.hand[r, k] * (self.ax * self.by - self.ay * self.bx) < 0.0)
            if not (past.any() or left.any()):
                return
            mass = s + 1
            speed2 = on.vx[mass, r] ** 2 + on.vy[mass, r] ** 2
            follows = past & (pull_n[s, r] > on.mass_kg_m[s, r] * speed2)
            self._turn(on, np.flatnonzero(follows), (out_x, out_y), masses_kg, impulse_n_s)
            self._leave(on, np.flatnonzero(past & ~follows & (mass == len(on.x) - 1)), masses_kg, impulse_n_s)
            self.spring[r[follows], k[follows]] += 1
            gone = left | (past & ~follows)
            gone |= self.spring[r, k] >= len(on.length_m)
            self.on[r[gone], k[gone]] = False
            self.pairs()
            if not self:
                return
        self._measure(on)  # some still changed at the last turn: lengths go with the corners as they are now

    def _measure(self, on: Chains) -> None:
        chains = on.x.shape[1]
        node = self.s * chains + self.r
        x, y = on.x.reshape(-1), on.y.reshape(-1)
        left_x, left_y, right_x, right_y = x[node], y[node], x[node + chains], y[node + chains]
        left_x[self.inner], left_y[self.inner] = self.cx[self.inner - 1], self.cy[self.inner - 1]
        right_x[self.outer], right_y[self.outer] = self.cx[self.outer + 1], self.cy[self.outer + 1]
        self.ax, self.ay, self.bx, self.by = (
            self.cx - left_x,
            self.cy - left_y,
            right_x - self.cx,
            right_y - self.cy,
        )
        self.a_m, self.b_m = np.hypot(self.ax, self.ay) + 1e-12, np.hypot(self.bx, self.by) + 1e-12
        self.long_m = np.bincount(self.group, self.a_m + np.where(self.last, self.b_m, 0.0))

    def last_leg(self, on: Chains) -> Complexes:
        """(b,) heading (x + iy, of length 1) of the last stretch before the parted end."""
        dx, dy = on.x[-1] - on.x[-2], on.y[-1] - on.y[-2]
        if self:
            self._measure(on)
            ends = self.last & (self.s == len(on.x) - 2)
            dx[self.r[ends]], dy[self.r[ends]] = self.bx[ends], self.by[ends]
        ahead = dx + 1j * dy
        return np.asarray(ahead / np.abs(ahead))

    def _turn(
        self,
        on: Chains,
        p: NDArray[np.intp],
        out: tuple[Floats, Floats],
        masses_kg: Floats,
        impulse_n_s: Floats,
    ) -> None:
        """Turns place and speed of the masses that follow the line round corners p."""
        if not len(p):
            return
        m, r = self.s[p] + 1, self.r[p]
        to_x, to_y = -self.ax[p] / self.a_m[p], -self.ay[p] / self.a_m[p]
        out_x, out_y = out[0][p], out[1][p]
        cos, sin = -(out_x * to_x + out_y * to_y), -(out_x * to_y - out_y * to_x)
        px, py, vx, vy = on.x[m, r] - self.cx[p], on.y[m, r] - self.cy[p], on.vx[m, r], on.vy[m, r]
        on.x[m, r], on.y[m, r] = self.cx[p] + px * cos - py * sin, self.cy[p] + px * sin + py * cos
        turn = cos + 1j * sin
        self._send(on, (m, r), (vx + 1j * vy) * turn, masses_kg, impulse_n_s)
        ends = m == len(on.x) - 1
        self.turned[r[ends]] *= turn[ends]

    def _leave(self, on: Chains, p: NDArray[np.intp], masses_kg: Floats, impulse_n_s: Floats) -> None:
        """Sends last masses that leave corners p where all that they stand for is bound."""
        if len(p):
            at = self.s[p] + 1, self.r[p]
            to = (on.vx[at] + 1j * on.vy[at]) * self.bound[self.r[p], self.k[p]]
            self._send(on, at, to, masses_kg, impulse_n_s)

    @staticmethod
    def _send(
        on: Chains,
        at: tuple[NDArray[np.intp], NDArray[np.intp]],
        to: Complexes,
        masses_kg: Floats,
        impulse_n_s: Floats,
    ) -> None:
        """Gives masses new velocities (x + iy) and tells the impulse of it."""
        np.add.at(impulse_n_s[0], at[1], masses_kg[at] * (to.real - on.vx[at]))
        np.add.at(impulse_n_s[1], at[1], masses_kg[at] * (to.imag - on.vy[at]))
        on.vx[at], on.vy[at] = to.real, to.imag

    def forces(self, on: Chains, pull_n: Floats) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
        """((x, y) on the mass at the held side, (x, y) on the mass at the parted side) of each spanning spring."""
        b, e = self.begins, self.ends
        s, r = self.s[b], self.r[b]
        unit_x, unit_y = self.ax[b] / self.a_m[b], self.ay[b] / self.a_m[b]
        slides_m_s = -(on.vx[s, r] * unit_x + on.vy[s, r] * unit_y)  # towards the held end
        grip = np.exp(self.half_wrap * np.tanh(slides_m_s / _SLIDES_M_S))
        held, parted = pull_n[s, r] * grip, pull_n[s, r] / grip / self.b_m[e]
        return (held * unit_x, held * unit_y), (-parted * self.bx[e], -parted * self.by[e])
