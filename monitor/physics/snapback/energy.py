"""Energy stored in a taut line, and how fast its end leaves when it parts.

Simple wave: the end of a bar of mass m per metre under tension T leaves at v = ∫ √((dT/dε)/m) dε as the wave that
slackens it runs in (for a straight curve v = T/√(EA m)). Energy: no whole length leaves faster than √(2U/m) on
what it stored. What comes back is less than what was put in: the unloading curve is the loading curve with its
share of the first tension raised to a power that leaves just the `Rope.loss` inside.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.base.units import GRAVITY_M_S2
from monitor.physics.snapback.led import Led, Rope

_MOST: Final = 1.25  # × strength: no line holds more
_STEEP_DEG: Final = 5.0  # a lead that changes its slope by this at a fitting may leave it upward (ours)


@dataclass(frozen=True, slots=True)
class Recoil:
    """What a line holds at a tension, and the speeds that follow.

    `energy_j` of the whole line with its tail, `energy_j_m` of a metre (unstretched) of the line, `tail_energy_j`
    of the tail; all as stored. `speed_m_s`: of the end of the line at once after a break (simple wave, on the
    unloading curve). `bound_m_s`: √(2U/m) of a metre of line. `thrown_m_s`: √(2U/M) of line and tail together, the
    speed at which the tail may pull a light line after it.
    """

    tension_n: float
    energy_j: float
    energy_j_m: float
    tail_energy_j: float
    speed_m_s: float
    bound_m_s: float
    thrown_m_s: float


@dataclass(frozen=True, slots=True)
class Upward:
    """A point at which the recoil may go up: its index in the lead, why, and a bound on height from energy."""

    point: int
    why: str
    height_m: float


@dataclass(frozen=True)
class Unloading:
    """A rope let go at a tension: strains and tensions on the way down, from 0 to the first tension."""

    strains: Floats
    tensions_n: Floats
    stored_j_m: float  # on loading, per unstretched metre
    speed_m_s: float

    @property
    def steepest_n(self) -> float:
        """The greatest slope dT/dε."""
        return float((np.diff(self.tensions_n) / np.diff(self.strains)).max())


def unloading(rope: Rope, tension_n: float) -> Unloading:
    """The way back of a rope from `tension_n`. Raises ValueError unless 0 < tension ≤ 1.25 × breaking force."""
    if not 0.0 < tension_n <= _MOST * rope.breaking_force_n:
        raise ValueError(f"{tension_n:g} N is not above 0 and at most {_MOST:g} × {rope.breaking_force_n:g} N")
    return _unloading(rope, float(tension_n))


@lru_cache(maxsize=256)
def _unloading(rope: Rope, tension_n: float) -> Unloading:
    share = np.linspace(0.0, 1.0, 2001) ** 3
    strains = rope.curve.strain(share * (tension_n / rope.breaking_force_n))
    power = _power(share, strains, rope.loss)
    tensions_n = tension_n * share**power
    speed_m_s = float(np.sqrt(np.diff(tensions_n) * np.diff(strains) / rope.mass_kg_m).sum())
    return Unloading(strains, tensions_n, tension_n * float(np.trapezoid(share, strains)), speed_m_s)


def _power(share: Floats, strains: Floats, loss: float) -> float:
    """The power of `share` whose area under the curve is 1 − loss of the area under `share` itself."""
    if loss == 0.0:
        return 1.0
    wanted = (1.0 - loss) * np.trapezoid(share, strains)
    low, high = 1.0, 400.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if np.trapezoid(share**middle, strains) > wanted else (low, middle)
    return low


def recoil(led: Led, tension_n: float) -> Recoil:
    """Energy and speeds at `tension_n` (N, above 0 and at most 1.25 × strength, else ValueError)."""
    line, line_m, tail, tail_m = _parts(led, tension_n)
    tail_j = 0.0 if tail is None else tail.stored_j_m * tail_m
    energy_j = line.stored_j_m * line_m + tail_j
    mass_kg = led.rope.mass_kg_m * line_m + (0.0 if led.tail is None else led.tail.mass_kg_m * tail_m)
    return Recoil(
        tension_n=tension_n,
        energy_j=energy_j,
        energy_j_m=line.stored_j_m,
        tail_energy_j=tail_j,
        speed_m_s=line.speed_m_s,
        bound_m_s=math.sqrt(2.0 * line.stored_j_m / led.rope.mass_kg_m),
        thrown_m_s=math.sqrt(2.0 * energy_j / mass_kg),
    )


def _parts(led: Led, tension_n: float) -> tuple[Unloading, float, Unloading | None, float]:
    """Line and tail on their ways back, with their unstretched lengths."""
    line = unloading(led.rope, tension_n)
    tail = None if led.tail is None else unloading(led.tail, tension_n)
    long_m = led.length_m - (0.0 if tail is None else led.tail_m * (1.0 + float(tail.strains[-1])))
    if not long_m > 0.0:
        raise ValueError(f"the tail, {led.tail_m:g} m, stretches beyond the whole line ({led.length_m:.1f} m)")
    return line, long_m / (1.0 + float(line.strains[-1])), tail, led.tail_m


def upward(led: Led, tension_n: float, snagged_m: float | None = None) -> tuple[Upward, ...]:
    """Where the recoil may leave the plan, so that a figure outside the swept area is not out of reach either.

    Flagged: a fitting at which the slope of the lead changes by 5° or more (ours), and the place `snagged_m` from
    the inboard end where the line is caught, on a fender say (MAIB 18/2024, *Mona Manx*: the line jumped upward at
    the ship's side without parting). `height_m`, above the point: the least of v²/2g for the upward part of the
    recoil, of all energy turned into height, and of the length of line that can fly up. A bound, not a forecast.
    """
    found = recoil(led, tension_n)
    _, line_m, _, _ = _parts(led, tension_n)
    mass_kg = led.rope.mass_kg_m * line_m + (0.0 if led.tail is None else led.tail.mass_kg_m * led.tail_m)
    most_m = found.energy_j / (mass_kg * GRAVITY_M_S2)
    slopes_deg = np.degrees(np.arctan2(np.diff(led.heights_m), led.legs_m))
    flags = []
    for point in range(1, len(led.points_m) - 1):
        turn_deg = float(slopes_deg[point] - slopes_deg[point - 1])
        if abs(turn_deg) < _STEEP_DEG:
            continue
        steepest = math.sin(math.radians(min(float(np.abs(slopes_deg[point - 1 : point + 1]).max()), 90.0)))
        thrown_m = (max(found.speed_m_s, found.thrown_m_s) * steepest) ** 2 / (2.0 * GRAVITY_M_S2)
        beyond_m = max(float(led.legs_m[:point].sum()), float(led.legs_m[point:].sum()))
        why = f"the lead bends {abs(turn_deg):.0f}° {'up' if turn_deg > 0.0 else 'down'} at {led.called(point)}"
        flags.append(Upward(point, why, min(thrown_m, most_m, beyond_m)))
    if snagged_m is not None:
        if not 0.0 < snagged_m < led.length_m:
            raise ValueError(f"caught at {snagged_m:g} m: the line runs from 0 to {led.length_m:.1f} m")
        point = int(np.abs(led.stands_at_m - snagged_m).argmin())
        reach_m = max(snagged_m, led.length_m - snagged_m)
        flags.append(Upward(point, "the line is caught and may jump free upward", min(most_m, reach_m)))
    return tuple(flags)
