"""Many parted lines at once, as chains of masses and springs in plan.

Every chain is held at node 0 and free at the other end. Springs pull and never push. All chains of a batch have
the same number of nodes; each has its own step of time, a fixed share of the time in which a wave crosses its
shortest spring, so that all take about as many steps. Leapfrog: no energy is gained or lost but where the line is
said to lose some (hysteresis, fittings, deck, air).

The march has two parts. In the first the line unloads on its own curve (`Law`). As soon as it is slack it flies;
from then on it only matters that it cannot be longer than it is, and springs as soft as the flight allows (waves
still many times quicker than the line, unless the real ones are slower) make the steps as long as they can be.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from monitor.base.frames import Floats
from monitor.base.units import GRAVITY_M_S2
from monitor.physics.snapback.bends import Bends, Complexes
from monitor.physics.snapback.posts import Posts, span

Ints = NDArray[np.intp]

COURANT: Final = 0.4  # share of the time in which a wave crosses the shortest spring
PARTING: Final = 3.0  # times the crossing of a spring: how long a break takes; quicker, and masses ring
THUD: Final = 1.5  # viscosity of a line that comes taut: 0.3 of the critical for one mass on one spring
SLACK: Final = 0.03  # of the first tension: below it a line counts as slack …
SLACK_ENERGY: Final = 0.015  # … if it also stores less than this share of its first energy
_CROSSINGS: Final = 4.0
EVERY: Final = 8  # steps between looks at what may be touched …
DRAGGED: Final = 32  # … and at air and deck, of which a line flies metres before it feels them
_AIR_KG_M3: Final = 1.2
_ACROSS, _ALONG = 1.1, 0.02  # drag of a rough cylinder across (from memory) and along, on its skin (ours)
_DECK: Final = 0.3  # friction on deck of a line that flies low (ours; it hardly matters)


@dataclass
class Law:
    """Unloading curves as a table: tension (kinds, points) at equal steps of strain from 0 to `most`."""

    tension_n: Floats
    most: Floats  # (kinds,)

    def at(self, kind: Ints, strain: Floats) -> Floats:
        """Tension of springs of a kind at a strain; nothing below 0, straight on beyond the table."""
        last = self.tension_n.shape[1] - 1
        place = np.maximum(strain * (last / self.most)[kind], 0.0)
        node = np.minimum(place.astype(np.intp), last - 1)
        lower = self.tension_n[kind, node]
        return np.asarray(lower + (place - node) * (self.tension_n[kind, node + 1] - lower))

    def energy(self, kind: Ints, strain: Floats) -> Floats:
        """J per metre of unstretched spring at a strain."""
        fine = np.linspace(0.0, 1.0, self.tension_n.shape[1])
        sums = np.zeros_like(self.tension_n)
        np.cumsum(0.5 * (self.tension_n[:, 1:] + self.tension_n[:, :-1]) * fine[1], axis=1, out=sums[:, 1:])
        energy = np.zeros_like(strain)
        for k, most in enumerate(self.most):
            energy = np.where(kind == k, np.interp(strain / most, fine, sums[k] * most), energy)
        return energy


@dataclass
class Chains:
    """A batch: b chains of n nodes (n − 1 springs), node by node: neighbours are whole rows."""

    x: Floats  # (n, b) m
    y: Floats
    vx: Floats  # (n, b) m/s
    vy: Floats
    length_m: Floats  # (n − 1, b) of the springs without tension
    mass_kg_m: Floats  # (n − 1, b)
    stiff_n: Floats  # (n − 1, b) EA of a line that has been slack and comes taut
    wave_m_s: Floats  # (n − 1, b) quickest wave at release
    kind: Ints  # (n − 1, b) of the law
    across_m: Floats  # (n − 1, b) diameter

    def masses_kg(self) -> Floats:
        """(n, b): half of each neighbouring spring."""
        half = 0.5 * self.length_m * self.mass_kg_m
        masses = np.zeros_like(self.x)
        masses[:-1] += half
        masses[1:] += half
        return masses


@dataclass
class Flown:
    """Snapshots (t, …, b): time, places, speeds; energy in motion and stored; impulse of what held the line."""

    times_s: Floats
    x: Floats
    y: Floats
    vx: Floats
    vy: Floats
    energy_j: Floats
    impulse_n_s: Floats  # (t, 2, b)
    masses_kg: Floats  # (n, b)


class March:
    """The state of a batch on its way, and its steps."""

    def __init__(self, chains: Chains, bends: Bends, posts: Posts, low: NDArray[np.bool_]) -> None:
        """`low` (b,): which chains air and deck slow down."""
        self.on, self.bends, self.posts = chains, bends, posts
        self.low, self.low_span = low.astype(np.float64), span(low)
        self.masses_kg = chains.masses_kg()
        self.lightness = 1.0 / self.masses_kg
        self.lightness[0] = 0.0
        self.time_s = np.zeros(chains.x.shape[1])
        self.impulse_n_s = np.zeros((2, chains.x.shape[1]))
        self._per_length = 1.0 / chains.length_m
        self._shots: list[tuple[Floats, ...]] = []
        self._dx, self._dy, self._long, self._pull = (np.zeros_like(chains.length_m) for _ in range(4))
        self._push, self._give = np.empty_like(chains.x), np.empty_like(chains.x)
        self._odd = False

    def unload(self, law: Law, first_n: float, shots: int) -> None:
        """On the unloading curve until every chain is slack, or waves have crossed the slowest four times."""
        on = self.on
        step_s = COURANT * (on.length_m / on.wave_m_s).min(axis=0)
        crossing_s = (on.length_m / on.wave_m_s).sum(axis=0)
        most_steps = int(np.ceil(_CROSSINGS * (crossing_s / step_s).max()))
        self._give = self.lightness * step_s
        every = max(len(self._pull) // shots, 1)
        stiffness = _Curve(law, self.on)
        self._pull[:] = first_n
        self._shoot(stiffness)
        ahead = self.bends.last_leg(on)
        parts_in = round(PARTING / COURANT)
        for step in range(1, most_steps + 1):
            left_n = first_n * (1.0 - (step - 0.5) / parts_in)
            self._step(step_s, stiffness, left_n * ahead if step <= parts_in else None)
            if step % every == 0 and len(self._shots) < 2 * shots:
                self._shoot(stiffness)
            self._look(step, step_s)
            if step % EVERY == 0 and self._slack(first_n, SLACK_ENERGY * self._shots[0][5], stiffness):
                break
        self._shoot(stiffness)

    def _slack(self, first_n: float, little_j: Floats, stiffness: _Curve) -> bool:
        """Whether no spring pulls more than a flying line does where it bends, about m v², little stored."""
        on = self.on
        speed2 = on.vx**2 + on.vy**2
        bending_n = 1.5 * (on.mass_kg_m * np.maximum(speed2[1:], speed2[:-1])).max(axis=0)
        taut = np.any(self._pull.max(axis=0) >= np.maximum(bending_n, SLACK * first_n))
        return not taut and bool(np.all(self._stored_j(stiffness) < little_j))

    def fly(self, until_s: Floats, quicker: float, shots: int) -> None:
        """As a slack line that cannot be stretched far, until each chain's own time."""
        on = self.on
        speed_m_s = self.typical_m_s()
        stiffness = _Dull(np.minimum(on.stiff_n, on.mass_kg_m * (quicker * speed_m_s) ** 2), self._strain())
        step_s = COURANT * (on.length_m * np.sqrt(on.mass_kg_m / stiffness.ea_n)).min(axis=0)
        steps = max(int(np.ceil(((until_s - self.time_s) / step_s).max())), shots)
        step_s = (until_s - self.time_s) / steps
        self._give = self.lightness * step_s
        for step in range(1, steps + 1):
            self._step(step_s, stiffness)
            self._look(step, step_s)
            if step * shots // steps > (step - 1) * shots // steps:
                self._shoot(stiffness)

    def typical_m_s(self) -> Floats:
        """(b,) root mean square speed of each chain."""
        moving = self.masses_kg * (self.on.vx**2 + self.on.vy**2)
        return np.asarray(np.sqrt(moving.sum(axis=0) / self.masses_kg[1:].sum(axis=0)))

    def flown(self) -> Flown:
        """All snapshots so far."""
        t, x, y, vx, vy, energy, impulse = (np.array(each) for each in zip(*self._shots, strict=True))
        return Flown(t, x, y, vx, vy, energy, impulse, self.masses_kg)

    def _step(self, step_s: Floats, stiffness: _Curve | _Dull, hold_n: Complexes | None = None) -> None:
        """One step; `hold_n` (b,): what still holds the parted end (x + iy), turned as that end turns."""
        on, dx, dy, long, push = self.on, self._dx, self._dy, self._long, self._push
        bends = self.bends
        give = self._give
        if bends:
            bends.look(on, self._pull, self.masses_kg, self.impulse_n_s)
        still = None if hold_n is None else (hold_n * bends.turned).view(np.float64).reshape(-1, 2).T
        np.subtract(on.x[1:], on.x[:-1], out=dx)
        np.subtract(on.y[1:], on.y[:-1], out=dy)
        np.multiply(dx, dx, out=long)
        np.multiply(dy, dy, out=push[1:])
        long += push[1:]
        np.sqrt(long, out=long)
        if bends:
            spans = bends.s[bends.begins], bends.r[bends.begins]
            long[spans] = bends.long_m
        np.multiply(long, self._per_length, out=self._pull)
        self._pull -= 1.0
        stiffness.pull(self._pull)
        long += 1e-12
        np.divide(self._pull, long, out=long)
        dx *= long
        dy *= long
        if bends:
            held, parted = bends.forces(on, self._pull)
            dx[spans], dy[spans] = 0.0, 0.0
        for axis, (x, v, d) in enumerate(((on.x, on.vx, dx), (on.y, on.vy, dy))):
            push[0] = d[0]
            np.subtract(d[1:], d[:-1], out=push[1:-1])
            np.negative(d[-1], out=push[-1])
            if still is not None:
                push[-1] += still[axis]
                self.impulse_n_s[axis] += still[axis] * step_s
            if bends:
                push[spans] += held[axis]
                push[spans[0] + 1, spans[1]] += parted[axis]
                np.add.at(self.impulse_n_s[axis], spans[1], (held[axis] + parted[axis]) * step_s[spans[1]])
            self.impulse_n_s[axis] -= push[0] * step_s
            push *= give
            v += push
            np.multiply(v, step_s, out=push)
            x += push
        if self._odd:
            self.posts.meet(on, self.lightness, 2.0 * step_s, self.impulse_n_s)
        self._odd = not self._odd
        self.time_s += step_s

    def _look(self, step: int, step_s: Floats) -> None:
        """Now and then: what may be touched in the steps to come; air and deck for those gone by."""
        if step % EVERY == 0:
            self.posts.look(self.on, self.bends, step_s * EVERY)
        if step % DRAGGED == 0 and self.low.any():
            self._drag(step_s * DRAGGED)

    def _drag(self, step_s: Floats) -> None:
        on, some = self.on, np.s_[:, self.low_span]
        step_s = (step_s * self.low)[self.low_span]
        self.impulse_n_s -= self._momentum()
        x, y, all_vx, all_vy = on.x[some], on.y[some], on.vx[some], on.vy[some]  # views
        dx, dy = x[1:] - x[:-1], y[1:] - y[:-1]
        per = 1.0 / (np.hypot(dx, dy) + 1e-12)
        dx *= per
        dy *= per
        vx, vy = 0.5 * (all_vx[1:] + all_vx[:-1]), 0.5 * (all_vy[1:] + all_vy[:-1])
        along, across = vx * dx + vy * dy, vy * dx - vx * dy
        factor = (0.5 * _AIR_KG_M3) * on.across_m[some] / on.mass_kg_m[some] * step_s
        along *= 1.0 / (1.0 + factor * _ALONG * np.abs(along)) - 1.0
        across *= 1.0 / (1.0 + factor * _ACROSS * np.abs(across)) - 1.0
        for v, lost in ((all_vx, along * dx - across * dy), (all_vy, along * dy + across * dx)):
            v[1:-1] += 0.5 * (lost[1:] + lost[:-1])
            v[-1] += lost[-1]
        speed = np.hypot(all_vx, all_vy) + 1e-12
        kept = np.maximum(1.0 - (_DECK * GRAVITY_M_S2) * step_s / speed, 0.0)
        all_vx *= kept
        all_vy *= kept
        self.impulse_n_s += self._momentum()

    def _momentum(self) -> Floats:
        """(2, b)."""
        return np.array([(self.masses_kg * v).sum(axis=0) for v in (self.on.vx, self.on.vy)])

    def _stored_j(self, stiffness: _Curve | _Dull) -> Floats:
        """(b,)."""
        return np.asarray((stiffness.energy(np.maximum(self._strain(), 0.0)) * self.on.length_m).sum(axis=0))

    def _strain(self) -> Floats:
        """(n − 1, b): of every spring, round its corners if it spans any."""
        on, bends = self.on, self.bends
        long = np.hypot(np.diff(on.x, axis=0), np.diff(on.y, axis=0))
        if bends:
            bends.look(on, self._pull, self.masses_kg, self.impulse_n_s)
        if bends:
            long[bends.s[bends.begins], bends.r[bends.begins]] = bends.long_m
        return np.asarray(long * self._per_length - 1.0)

    def _shoot(self, stiffness: _Curve | _Dull) -> None:
        on = self.on
        energy_j = self._stored_j(stiffness) + 0.5 * (self.masses_kg * (on.vx**2 + on.vy**2)).sum(axis=0)
        shot = (self.time_s, on.x, on.y, on.vx, on.vy, energy_j, self.impulse_n_s)
        self._shots.append(tuple(each.copy() for each in shot))


class _Curve:
    """Springs on the unloading curve of their kind."""

    def __init__(self, law: Law, on: Chains) -> None:
        self._law, self._kind = law, on.kind

    def pull(self, strain: Floats) -> None:
        """Strain in, tension out, in place."""
        strain[:] = self._law.at(self._kind, strain)

    def energy(self, strain: Floats) -> Floats:
        """J per metre."""
        return self._law.energy(self._kind, strain)


class _Dull:
    """Springs of one EA each that come taut with a thud: viscous, so that a mass pulled up does not bounce."""

    def __init__(self, ea_n: Floats, strain: Floats) -> None:
        self.ea_n, self._before, self._rise = ea_n, strain, np.empty_like(strain)

    def pull(self, strain: Floats) -> None:
        """Strain in, tension out, in place."""
        np.subtract(strain, self._before, out=self._rise)
        self._before[:] = strain
        self._rise *= THUD
        strain += self._rise
        strain *= self.ea_n
        np.maximum(strain, 0.0, out=strain)

    def energy(self, strain: Floats) -> Floats:
        """J per metre."""
        return np.asarray(0.5 * self.ea_n * np.maximum(strain, 0.0) ** 2)
