"""The moored ship in time: surge, sway and yaw of many members at once under loads that change.

A member is one possible truth: its own mass, stiffness, line lengths, brakes and loads. All members march together
in fixed steps by the leapfrog (Störmer–Verlet) rule, one look at lines and fenders a step; damping is centred, and
friction can stop the ship but never push her. Axes and signs as in `mooring`.

Left out: roll, pitch and heave; the memory of the water (added mass and damping are constant); waves.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.mooring import Mooring, restoring

_SEGMENTS: Final = 256  # of a line's table here
_STEPS_A_PERIOD: Final = 24
_LONGEST_STEP_S: Final = 1.0
_STIFF_AT: Final = 0.5  # of a line's table: where its stiffness is taken for the step
_HYSTERESIS_M_S: Final = 0.005  # a fender closing or opening faster than this has its whole loss
_GONE_M: Final = 1e9  # line payed out when it has parted

Force = Callable[[int], Floats]


@dataclass(frozen=True, slots=True)
class Members:
    """What n members are. All but `mass` broadcast to the shapes given."""

    mass: Floats  # (n, 3): surge kg, sway kg, yaw kg·m², the water that moves with her included
    damping: Floats | float = 0.0  # (n, 3) N·s/m and N·m·s: linear
    stiffness: Floats | float = 1.0  # (n, m) of quick over slow, about the extension at the start
    slow: Floats | float = 1.0  # (n, m) of slow over the table, about the extension when tended: see `restoring`
    payed_out_m: Floats | float = 0.0  # (n, m) since tending, before the start
    render_n: Floats | float = math.inf  # (n, m) tension at which the brake renders
    strength_n: Floats | float = math.inf  # (n, m) tension at which the line parts
    fender_friction: Floats | float = 0.0  # (n,) along the quay, of the fender's reaction
    fender_loss: float = 0.0  # share of a fender's work that does not come back


@dataclass(frozen=True, slots=True)
class Response:
    """What happened. `peak_n`: the greatest tension up to the end of each of c marks; a line that parted has its
    strength there and no other has as much, so that peaks and partings are one account."""

    peak_n: Floats  # (c, n, m)
    rendered_m: Floats  # (n, m) line run out over brakes
    parted_at_s: Floats  # (n, m) inf when it held
    displacement: Floats  # (n, 3) at the end
    velocity: Floats  # (n, 3) half a step before the end
    track: Floats | None  # (steps, n, 3) when kept
    tension_n: Floats | None  # (steps, n, m) when kept


def step_s(mooring: Mooring, mass: Floats) -> float:
    """A step, s, that resolves her quickest motion: stiff lines, fenders at their rated stiffness; mass (3,)."""
    lines = mooring.lines
    stiff_n_m = float(
        lines.at((_STIFF_AT * lines.reach_m)[None]).stiffness_n_m.sum() + mooring.fenders.rate_n_m.sum()
    )
    least_kg = min(mass[0], mass[1], mass[2] / mooring.lever_m**2)
    return float(min(_LONGEST_STEP_S, 2.0 * math.pi * math.sqrt(least_kg / stiff_n_m) / _STEPS_A_PERIOD))


def critical_damping(mooring: Mooring, displacement: Floats, mass: Floats) -> Floats:
    """2√(k m) of each motion by itself (n, 3), at displacements (n, 3) and masses (n, 3)."""
    k = restoring(mooring, displacement).stiffness[:, [0, 1, 2], [0, 1, 2]]
    return np.asarray(2.0 * np.sqrt(np.maximum(k, 0.0) * mass))


def respond(
    mooring: Mooring,
    members: Members,
    force: Force,
    steps: int,
    dt_s: float,
    start: Floats,
    marks: Sequence[int] = (),
    *,
    keep: bool = False,
) -> Response:
    """March n members through `steps` steps of `dt_s` from rest at `start` (n, 3).

    `force(k)` gives surge N, sway N and yaw N·m (n, 3) at time k·dt_s, in berthed axes. `marks`: numbers of steps,
    rising, up to which peaks are told apart; the last step is always one. `keep` keeps every step (for tests and
    pictures).
    """
    n, m = len(start), len(mooring.lines)
    lines = _Lines.of(mooring, members, start)
    fenders = _Fenders.of(mooring, members, n)
    mass = np.broadcast_to(members.mass, (n, 3))
    drag = np.broadcast_to(members.damping, (n, 3)) * (0.5 * dt_s) / mass
    slow, shrink, kick = 1.0 - drag, 1.0 / (1.0 + drag), dt_s / mass
    place, velocity = start.copy(), np.zeros((n, 3))
    peak = np.zeros((n, m))
    peaks: list[Floats] = []
    track: list[Floats] = []
    tensions: list[Floats] = []
    ends = [*(k for k in marks if k < steps), steps]
    for k in range(steps):
        pull, tension_n = lines.at(place, k * dt_s)
        np.maximum(peak, tension_n, out=peak)
        push, grip_n = fenders.at(place, velocity)
        pull += push
        pull += force(k)
        pull *= kick if k else 0.5 * kick  # velocities live half a step before places
        velocity *= slow
        velocity += pull
        velocity *= shrink
        if grip_n is not None:
            fenders.rub(velocity, grip_n, dt_s, mass)
        place += dt_s * velocity
        if keep:
            track.append(place.copy())
            tensions.append(tension_n.copy())
        if k + 1 == ends[len(peaks)]:
            peaks.append(peak.copy())
    return Response(
        np.array(peaks),
        lines.rendered_m(),
        lines.parted_at_s,
        place,
        velocity,
        np.array(track) if keep else None,
        np.array(tensions) if keep else None,
    )


@dataclass(slots=True)
class _Lines:
    """Lines of all members. The square of a line's length is linear in eight functions of the ship's place, so one
    matrix product gives all lengths, and another all forces."""

    coefficient: Floats  # (8, m) length² from the functions of place
    moment: Floats  # (m, 7) sums of tension ÷ length that make the forces
    intercept_n: Floats  # flat (m·(nodes)), tension = intercept + slope × extension
    slope_n_m: Floats
    first: Floats  # (m,) of a line in the flat tables
    over_reach: Floats  # (m,)
    quick: Floats  # (n, m)
    offset_m: Floats  # (n, m): extension on the table = quick × length + offset
    corner_m: Floats | None  # (n, m) extension at which the brake renders
    strength_n: Floats | None
    offset_before_m: Floats
    parted_at_s: Floats

    @classmethod
    def of(cls, mooring: Mooring, members: Members, start: Floats) -> _Lines:
        n, m = len(start), len(mooring.lines)
        table = mooring.lines
        fx, fy = mooring.fairlead_m.T
        bx, by = mooring.bollard_m.T
        rise = mooring.fairlead_height_m - mooring.bollard_height_m
        one = np.ones(m)
        constant = fx**2 + fy**2 + bx**2 + by**2 + rise**2
        along, across = -(fx * bx + fy * by), fy * bx - fx * by
        coefficient = np.stack(
            # 1, x²+y², x, y, cos, sin, x·cos + y·sin, y·cos − x·sin
            [constant, one, -2 * bx, -2 * by, 2 * along, 2 * across, 2 * fx, 2 * fy]
        )
        moment = np.stack([one, bx, by, fx, fy, along, across], axis=1)
        share = np.arange(_SEGMENTS + 2) / _SEGMENTS
        extension_m = table.reach_m * (share**2)[:, None]
        tension_n = table.at(extension_m).tension_n
        slope = np.diff(tension_n, axis=0) / np.diff(extension_m, axis=0)
        intercept = tension_n[:-1] - slope * extension_m[:-1]
        quick = np.array(np.broadcast_to(members.stiffness, (n, m)))
        taut_m = np.minimum(table.taut_m + np.broadcast_to(members.payed_out_m, (n, m)), _GONE_M)
        length_m = np.sqrt(_functions(start) @ coefficient)
        tended_m = table.tended_extension_m
        begun_m = tended_m + np.broadcast_to(members.slow, (n, m)) * (length_m - taut_m - tended_m)
        quick = quick * members.slow
        offset_m = begun_m - quick * length_m
        render_n = np.broadcast_to(members.render_n, (n, m))
        strength_n = np.broadcast_to(members.strength_n, (n, m))
        return cls(
            coefficient, moment, intercept.T.ravel(), slope.T.ravel(),
            np.arange(m, dtype=np.float64) * (_SEGMENTS + 1), _SEGMENTS**2 / table.reach_m, quick, offset_m,
            _corners(extension_m, tension_n, render_n) if np.isfinite(render_n).any() else None,
            strength_n if np.isfinite(strength_n).any() else None,
            offset_m.copy(), np.full((n, m), np.inf),
        )  # fmt: skip

    def at(self, place: Floats, now_s: float) -> tuple[Floats, Floats]:
        """(force (n, 3) on the ship, tension (n, m)); of a line that goes now its strength."""
        functions = _functions(place)
        length_m = functions @ self.coefficient
        np.sqrt(length_m, out=length_m)
        extension_m = self.quick * length_m
        extension_m += self.offset_m
        np.maximum(extension_m, 0.0, out=extension_m)
        if self.corner_m is not None:
            over_m = extension_m - self.corner_m
            np.maximum(over_m, 0.0, out=over_m)
            extension_m -= over_m
            self.offset_m -= over_m
        at = extension_m * self.over_reach
        np.sqrt(at, out=at)
        np.minimum(at, _SEGMENTS, out=at)
        at = np.floor(at, out=at)
        at += self.first
        node = at.astype(np.intp)
        tension_n = np.take(self.slope_n_m, node)
        tension_n *= extension_m
        tension_n += np.take(self.intercept_n, node)
        np.maximum(tension_n, 0.0, out=tension_n)
        carried_n = tension_n
        if self.strength_n is not None:
            goes = tension_n > self.strength_n
            if goes.any():
                self.parted_at_s[goes] = now_s
                self.offset_m[goes] = -_GONE_M
                self.offset_before_m[goes] = -_GONE_M
                carried_n = np.minimum(tension_n, self.strength_n)
                tension_n[goes] = 0.0
        sums = (tension_n / length_m) @ self.moment
        return _forces(functions, sums), carried_n

    def rendered_m(self) -> Floats:
        return np.asarray((self.offset_before_m - self.offset_m) / self.quick)


def _functions(place: Floats) -> Floats:
    """(n, 8) functions of place in which every length² is linear."""
    x, y, yaw = place.T
    c, s = np.cos(yaw), np.sin(yaw)
    out = np.empty((len(place), 8))
    out[:, 0] = 1.0
    out[:, 1] = x * x + y * y
    out[:, 2] = x
    out[:, 3] = y
    out[:, 4] = c
    out[:, 5] = s
    out[:, 6] = x * c + y * s
    out[:, 7] = y * c - x * s
    return out


def _forces(functions: Floats, sums: Floats) -> Floats:
    """(n, 3) from Σ w, Σ w·b, Σ w·f and so on, w tension ÷ length: minus the slope of ½ Σ w length²."""
    w, bx, by, fx, fy, along, across = sums.T
    x, y, c, s = functions[:, 2], functions[:, 3], functions[:, 4], functions[:, 5]
    out = np.empty((len(functions), 3))
    out[:, 0] = bx - w * x - c * fx + s * fy
    out[:, 1] = by - w * y - s * fx - c * fy
    out[:, 2] = s * along - c * across - fx * functions[:, 7] + fy * functions[:, 6]
    return out


def _corners(extension_m: Floats, tension_n: Floats, render_n: Floats) -> Floats:
    """Extensions (n, m) at which tensions `render_n` (n, m) are reached; inf where they are infinite."""
    found = np.stack(
        [np.interp(render_n[:, i], tension_n[:, i], extension_m[:, i]) for i in range(render_n.shape[1])], axis=1
    )
    return np.where(np.isfinite(render_n), found, np.inf)


@dataclass(slots=True)
class _Fenders:
    """Fenders of all members; their lever by yaw taken as at rest, for a ship yaws a degree or so."""

    mooring: Mooring
    lever: Floats  # (3, k): compression by surge (none), sway, yaw
    rate_n_m: Floats
    rise: Floats
    friction: Floats
    swing: float
    side_m: float

    @classmethod
    def of(cls, mooring: Mooring, members: Members, n: int) -> _Fenders:
        fenders = mooring.fenders
        side = fenders.side
        lever = np.stack([np.zeros_like(side), side, side * fenders.forward_m])
        friction = np.array(np.broadcast_to(members.fender_friction, (n,)))
        side_m = float(fenders.starboard_m.mean()) if side.size else 0.0
        loss = members.fender_loss
        swing = loss / (1.0 - 0.5 * loss)  # closing (1 + swing/2), opening (1 − swing/2) times the elastic push
        return cls(mooring, lever, fenders.rate_n_m, fenders.rise_1_m, friction, swing, side_m)

    def at(self, place: Floats, velocity: Floats) -> tuple[Floats, Floats | None]:
        """(force (n, 3), how much friction can hold (n,) or None)."""
        compression_m = place @ self.lever
        compression_m += self.mooring.fenders.pressed_m
        np.maximum(compression_m, 0.0, out=compression_m)
        over_m = np.maximum(compression_m - self.mooring.fenders.rated_deflection_m, 0.0)
        over_m *= over_m
        reaction_n = (compression_m + (0.5 * self.rise) * over_m) * self.rate_n_m
        if self.swing > 0.0:
            closing = velocity @ self.lever
            reaction_n *= 1.0 + (0.5 * self.swing) * closing / np.sqrt(closing * closing + _HYSTERESIS_M_S**2)
        grip_n = self.friction * reaction_n.sum(axis=1) if self.friction.any() else None
        return -(reaction_n @ self.lever.T), grip_n

    def rub(self, velocity: Floats, grip_n: Floats, dt_s: float, mass: Floats) -> None:
        """Friction along the quay: takes up to its whole impulse from the speed ahead, never more."""
        most = grip_n * dt_s / mass[:, 0]
        taken = np.clip(velocity[:, 0], -most, most)
        velocity[:, 0] -= taken
        velocity[:, 2] += taken * mass[:, 0] * self.side_m / mass[:, 2]  # the force acts at the ship's side
