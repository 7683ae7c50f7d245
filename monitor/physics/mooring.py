"""The moored ship at rest: where she lies under a load, and what each line and fender then carries.

Axes: berthed axes are the ship's own axes (x ahead, y to starboard, origin amidships, yaw bow to starboard) as
she lay when the lines were tended; they stay with the quay. Heights are positive up from one common datum, for
fairleads and bollards alike. A displacement is a row (ahead_m, starboard_m, yaw_rad) from that position.

The equilibrium is the least of (energy in lines and fenders) − (work of the load). The load keeps its direction
in berthed axes: for the degree or so a moored ship yaws that is her own axes. Lines never part here: whoever reads
a tension compares it with the limits in `strength`. Brakes render when `on_brakes` says at what tension; friction
along the quay is in `friction`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.descent import Bools, Potential, Rows, descend
from monitor.physics.lines import LineProperties, LineSet, rendering, tend
from monitor.physics.lines import payed_out_m as ran_out_m

BALANCE: Final = 1e-9  # of the load: the largest force left over
BALANCE_FLOOR_N: Final = 1e-4  # but not asked to be finer than this
SETTLED: Final = ""
NOT_HELD: Final = "no line or fender holds her against this load"
NOT_SETTLED: Final = "the search for the position of rest did not settle"
UNUSABLE: Final = "a load, a length payed out or a stiffness is not a usable number"

_FIRST_REACH_M: Final = 2.0
_ADRIFT_M: Final = 30.0  # she has left the berth: ahead, abeam or by yaw at the lever
_GRAIN_J: Final = 1e-6  # 100 m of line are known to 1e-14 m, times 1e7 N or so in all lines
_SOFTEST_N_M: Final = 1.0  # directions softer than this are walked with limited steps
# A fender of unknown rating: reaction over thickness squared, at this share of its thickness (from memory).
USUAL_REACTION_N_M2: Final = 900e3
USUAL_DEFLECTION: Final = 0.55
_SQUASHED: Final = 10.0  # a fender pressed flat is so many times stiffer: our guess, to keep the ship off the wall


@dataclass(frozen=True, slots=True)
class Fenders:
    """k fenders where the ship's side touches them, compression only (for friction see `friction`).

    The sign of `starboard_m` says on which side the quay lies: below zero port side to. The reaction is linear up
    to its rated value, then the stiffness rises until the fender is flat. Reaction is square to the quay face.
    """

    forward_m: Floats
    starboard_m: Floats  # of the ship's side
    thickness_m: Floats
    rated_reaction_n: Floats
    rated_deflection_m: Floats  # less than the thickness
    pressed_m: Floats | float = 0.0  # compression at displacement zero; negative is a gap. `moor` works it out
    side: Floats = field(init=False)  # (k,) of the quay: -1 to port, 1 to starboard
    rate_n_m: Floats = field(init=False)  # up to the rated value
    rise_1_m: Floats = field(init=False)  # of the stiffness beyond, as a share of that rate

    def __post_init__(self) -> None:
        room_m = np.maximum(self.thickness_m - self.rated_deflection_m, 0.01)
        object.__setattr__(self, "side", np.sign(self.starboard_m))
        object.__setattr__(self, "rate_n_m", self.rated_reaction_n / self.rated_deflection_m)
        object.__setattr__(self, "rise_1_m", (_SQUASHED - 1.0) / room_m)

    def push(self, compression_m: Floats) -> tuple[Floats, Floats, Floats]:
        """(reaction_n, stiffness_n_m, energy_j), each (n, k), at compressions (n, k)."""
        c = np.maximum(compression_m, 0.0)
        over = np.maximum(c - self.rated_deflection_m, 0.0)
        stiffer = self.rise_1_m * over
        bulge_m = stiffer * over
        return (
            self.rate_n_m * (c + 0.5 * bulge_m),
            self.rate_n_m * (1.0 + stiffer) * (c > 0.0),
            self.rate_n_m * (0.5 * c * c + bulge_m * over / 6.0),
        )


def usual_fender(thickness_m: Floats, reaction_n: Floats, deflection: Floats) -> tuple[Floats, Floats]:
    """(rated_reaction_n, rated_deflection_m) of fenders (k,), NaN where a rating is not known: then what is usual.

    Rubber fenders of one shape react with the square of their size; 900 kN at 1 m and 55 % of the thickness lie in
    the middle of makers' tables (from memory). Lines are so much softer that it hardly matters to them.
    """
    usual_n = USUAL_REACTION_N_M2 * thickness_m**2
    share = np.where(np.isnan(deflection), USUAL_DEFLECTION, deflection)
    return np.where(np.isnan(reaction_n), usual_n, reaction_n), share * thickness_m


@dataclass(frozen=True, slots=True)
class Mooring:
    """m lines and k fenders. Fairleads and bollards (m, 2) as (forward, starboard) in berthed axes."""

    fairlead_m: Floats
    fairlead_height_m: Floats
    bollard_m: Floats
    bollard_height_m: Floats
    lines: LineSet
    fenders: Fenders
    lever_m: float = field(init=False)  # makes metres of yaw; any length of the ship's size would do

    def __post_init__(self) -> None:
        points = np.concatenate([self.fairlead_m.ravel(), self.fenders.forward_m])
        object.__setattr__(self, "lever_m", float(np.sqrt(np.mean(points**2))) + 1.0 if points.size else 1.0)


def moor(
    lines: Sequence[LineProperties],
    pretension_n: Floats,
    fairlead_m: Floats,
    bollard_m: Floats,
    fenders: Fenders,
) -> Mooring:
    """The mooring as tended: fairleads and bollards (m, 3) as (forward, starboard, height), pretensions (m,).

    The ship is taken to lie at displacement zero, in no wind or stream, pressed on the fenders by her lines; so
    each line then carries its pretension. (Only what they pull ahead or astern on balance is left over, and she
    creeps until it is shared out.) Raises ValueError as `tend` does.
    """
    outboard_m = np.sqrt(np.sum((fairlead_m - bollard_m) ** 2, axis=1))
    mooring = Mooring(
        fairlead_m[:, :2], fairlead_m[:, 2], bollard_m[:, :2], bollard_m[:, 2],
        tend(lines, outboard_m, pretension_n), fenders,
    )  # fmt: skip
    pull = restoring(mooring, np.zeros((1, 3))).force
    gone = np.full((1, len(lines)), np.inf)
    rest = equilibrium(mooring, np.zeros(1), pull[:, 1], pull[:, 2], payed_out_m=gone)  # the fenders alone
    if not rest.converged[0]:  # the lines pull her off the quay: nothing is pressed
        return mooring
    compression_m, _, _ = _contact(fenders, *_columns(rest.displacement)[1:])
    return replace(mooring, fenders=replace(fenders, pressed_m=compression_m[0]))


def heights_changed(mooring: Mooring, rise_m: Floats | float) -> Mooring:
    """The same lines, not tended, with the fairleads `rise_m` (one number or (m,)) higher above the bollards.

    Rising tide and discharging lift her, trim lifts one end: what each line will carry if nobody tends it.
    """
    return replace(mooring, fairlead_height_m=mooring.fairlead_height_m + rise_m)


def veered(mooring: Mooring, out_m: Floats) -> Mooring:
    """The same lines, each longer by `out_m` (m,): what brakes have let out and nobody has heaved in."""
    return replace(mooring, lines=replace(mooring.lines, taut_m=mooring.lines.taut_m + out_m))


def on_brakes(mooring: Mooring, render_n: Floats) -> Mooring:
    """The same lines held by brakes that render at `render_n` (m,) outside the fairlead; inf for bitts.

    For a load that only grows: tension stops at the setting and line runs out (`run_out_m`).
    """
    return replace(mooring, lines=rendering(mooring.lines, render_n))


def run_out_m(mooring: Mooring, render_n: Floats, displacement: Floats) -> Floats:
    """How much line (n, m) has run out over brakes set to `render_n` (m,), `mooring` without them, at
    displacements (n, 3)."""
    length_m = _leads(mooring, *_columns(displacement))[2]
    return ran_out_m(mooring.lines, render_n, length_m - mooring.lines.taut_m)


@dataclass(frozen=True, slots=True)
class Restoring:
    """What lines and fenders do to the ship at n displacements."""

    force: Floats  # (n, 3) on the ship: surge_n, sway_n, yaw_n_m
    stiffness: Floats  # (n, 3, 3) minus its derivative: N/m, N/rad, N·m/rad
    energy_j: Floats  # (n,)
    tension_n: Floats  # (n, m)
    fender_n: Floats  # (n, k)


def restoring(
    mooring: Mooring,
    displacement: Floats,
    payed_out_m: Floats | float = 0.0,
    stiffness: Floats | float = 1.0,
    corner_m: Floats | None = None,
) -> Restoring:
    """Forces, tensions and their derivative at displacements (n, 3), exact in yaw.

    `payed_out_m` (broadcast to (n, m)): line veered since tending; negative is heaved in, inf is a line gone.
    `stiffness`, `corner_m` (likewise): see `LineSet.at`.
    """
    x, y, cos, sin = _columns(displacement)
    (arm_x, arm_y), (dx, dy), length_m = _leads(mooring, x, y, cos, sin)
    held = mooring.lines.at(length_m - mooring.lines.taut_m - payed_out_m, stiffness, corner_m)
    w = held.tension_n / length_m
    pressed_m, lever_m, bend_m = _contact(mooring.fenders, y, cos, sin)
    reaction_n, hardness_n_m, squeeze_j = mooring.fenders.push(pressed_m)

    # Every line, then every fender, is a spring. Its length by (x, y, yaw) is a row of three: for a line the unit
    # vector and its moment arm. The second derivatives of a length times its force are the turning terms below.
    n, m = length_m.shape
    lead = np.zeros((n, 3, m + len(mooring.fenders.forward_m)))
    lead[:, 0, :m] = ux = dx / length_m
    lead[:, 1, :m] = uy = dy / length_m
    lead[:, 2, :m] = arm_x * uy - arm_y * ux
    lead[:, 1, m:] = mooring.fenders.side
    lead[:, 2, m:] = lever_m
    pull_n = np.concatenate([held.tension_n, reaction_n], axis=1)
    rate_n_m = np.concatenate([held.stiffness_n_m - w, hardness_n_m], axis=1)

    slope = (lead @ pull_n[:, :, None])[:, :, 0]
    bent = (lead * rate_n_m[:, None, :]) @ lead.transpose(0, 2, 1)
    turning = np.stack([w, w * arm_x, w * arm_y, w * (arm_x * (arm_x - dx) + arm_y * (arm_y - dy))]).sum(axis=2)
    bent[:, 0, 0] += turning[0]
    bent[:, 1, 1] += turning[0]
    bent[:, 1, 2] += turning[1]
    bent[:, 0, 2] -= turning[2]
    bent[:, 2, 2] += turning[3] + (reaction_n * bend_m).sum(axis=1)
    bent[:, 2, :2] = bent[:, :2, 2]
    return Restoring(
        force=-slope,
        stiffness=bent,
        energy_j=held.energy_j.sum(axis=1) + squeeze_j.sum(axis=1),
        tension_n=held.tension_n,
        fender_n=reaction_n,
    )


def _dot(a: Floats, b: Floats) -> Floats:
    """Row by row."""
    return np.asarray(np.einsum("nm,nm->n", a, b))


def _columns(displacement: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """x, y, cos yaw, sin yaw, each (n, 1)."""
    yaw = displacement[:, 2:]
    return displacement[:, :1], displacement[:, 1:2], np.cos(yaw), np.sin(yaw)


def _leads(
    mooring: Mooring, x: Floats, y: Floats, cos: Floats, sin: Floats
) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats], Floats]:
    """Of every line, (n, m) each: the fairlead's arm from midships, the way to it from the bollard, in plan (both
    forward and to starboard), and the length in space."""
    fore, starboard = mooring.fairlead_m.T
    arm_x, arm_y = fore * cos - starboard * sin, fore * sin + starboard * cos
    dx, dy = arm_x + x - mooring.bollard_m[:, 0], arm_y + y - mooring.bollard_m[:, 1]
    rise_m = mooring.fairlead_height_m - mooring.bollard_height_m
    return (arm_x, arm_y), (dx, dy), np.maximum(np.sqrt(dx * dx + dy * dy + rise_m * rise_m), 1e-6)


def _contact(fenders: Fenders, y: Floats, cos: Floats, sin: Floats) -> tuple[Floats, Floats, Floats]:
    """Compression (n, k) and its first and second derivative by yaw. By sway the derivative is the side's sign.

    The contact stays at its place on the ship: the half metre she may surge is little against her length.
    """
    forward_m, starboard_m, side = fenders.forward_m, fenders.starboard_m, fenders.side
    across_m = side * (forward_m * sin + starboard_m * cos)
    compression_m = side * (y - starboard_m) + across_m + fenders.pressed_m
    return compression_m, side * (forward_m * cos - starboard_m * sin), -across_m


@dataclass(frozen=True, slots=True)
class Equilibrium:
    """The ship at rest under n loads. A case that was not found is NaN throughout, never a small number."""

    displacement: Floats  # (n, 3): ahead_m, starboard_m, yaw_rad
    tension_n: Floats  # (n, m)
    fender_n: Floats  # (n, k)
    residual_n: Floats  # (n,) largest force left over; a moment counts as moment ÷ lever
    converged: Bools  # (n,)
    why: tuple[str, ...]  # "" when converged

    @property
    def yaw_deg(self) -> Floats:
        """(n,) bow to starboard."""
        return np.degrees(self.displacement[:, 2])


def equilibrium(
    mooring: Mooring,
    surge_n: Floats,
    sway_n: Floats,
    yaw_n_m: Floats,
    *,
    start: Floats | None = None,
    payed_out_m: Floats | float = 0.0,
    stiffness: Floats | float = 1.0,
    corner_m: Floats | None = None,
) -> Equilibrium:
    """Where the ship lies under n loads (n,) each, and what her lines and fenders carry.

    `start` (n, 3): a displacement to begin from, such as the last answer (rows with NaN begin from zero).
    `payed_out_m`, `stiffness`, `corner_m`: see `restoring`; the last must be (n, m), each case on its own brakes.
    Forces balance to 1e-9 of the load or 0.1 mN, whichever is more. Always returns: see `why`.
    A ship that would come to rest only beyond 30 m from where she lay, or nowhere, is NOT_HELD.
    """
    n, m = len(surge_n), len(mooring.lines)
    scale = np.array([1.0, 1.0, mooring.lever_m])  # yaw counts as metres at the lever, so that all three are alike
    squares = np.outer(scale, scale)
    load = np.stack([surge_n, sway_n, yaw_n_m], axis=1)
    payed_m, stiffer = np.broadcast_to(payed_out_m, (n, m)), np.broadcast_to(stiffness, (n, m))
    usable = (
        np.isfinite(load).all(axis=1)
        & (payed_m > -np.inf).all(axis=1)
        & ((stiffer > 0.0) & (stiffer < np.inf)).all(axis=1)
    )
    cases = np.flatnonzero(usable)
    load, payed_m, stiffer = load[cases], payed_m[cases], stiffer[cases]
    corner_m = None if corner_m is None else corner_m[cases]
    tension_n, fender_n = np.empty((len(cases), m)), np.empty((len(cases), len(mooring.fenders.forward_m)))
    begin = np.zeros((n, 3)) if start is None else np.nan_to_num(start, nan=0.0, posinf=0.0, neginf=0.0)

    def look(rows: Rows, at: Floats) -> Potential:
        there = restoring(
            mooring, at / scale, payed_m[rows], stiffer[rows], None if corner_m is None else corner_m[rows]
        )
        tension_n[rows], fender_n[rows] = there.tension_n, there.fender_n
        return Potential(
            height=there.energy_j - _dot(load[rows] / scale, at),
            slope=-(there.force + load[rows]) / scale,
            curvature=there.stiffness / squares,
        )

    search = descend(
        look, begin[cases] * scale, np.maximum(BALANCE * np.abs(load / scale).max(axis=1), BALANCE_FLOOR_N),
        reach=_FIRST_REACH_M, softest=_SOFTEST_N_M, far=_ADRIFT_M, grain=_GRAIN_J,
    )  # fmt: skip
    displacement = search.place / scale
    why = np.full(n, UNUSABLE, dtype=object)
    why[cases] = np.where(search.settled, SETTLED, np.where(search.away, NOT_HELD, NOT_SETTLED))

    def found(values: Floats) -> Floats:
        """Rows of the settled cases in their places, NaN elsewhere."""
        rows = np.full((n, *values.shape[1:]), np.nan)
        rows[cases[search.settled]] = values[search.settled]
        return rows

    return Equilibrium(
        displacement=found(displacement),
        tension_n=found(tension_n),
        fender_n=found(fender_n),
        residual_n=found(search.left),
        converged=np.asarray(why == SETTLED, dtype=bool),
        why=tuple(str(reason) for reason in why),
    )
