"""Energy stored in a taut line, and how fast its end leaves when it parts."""

from __future__ import annotations

from dataclasses import dataclass

from monitor.physics.snapback.led import Led


@dataclass(frozen=True, slots=True)
class Recoil:
    """What a line holds at a tension, and the speeds that follow.

    `energy_j` of the whole line with its tail, `energy_j_m` of a metre (unstretched) of the line, `tail_energy_j` of
    the tail. `speed_m_s`: of the end of the line at once after the break, back towards the ship (simple wave, on the
    unloading curve); `tail_speed_m_s` the same for a break in the tail. `bound_m_s`: √(2U/m), which no whole length of
    the line exceeds on its own energy. `thrown_m_s`: the same for the part of the line that the tail pulls out:
    √(2U/M) of the line from the fairlead outward and its tail. `whip_m_s`: what the last metre may reach past a bend,
    4.2 × the greatest of these (independent study, section (h)).
    """

    tension_n: float
    energy_j: float
    energy_j_m: float
    tail_energy_j: float
    speed_m_s: float
    tail_speed_m_s: float | None
    bound_m_s: float
    thrown_m_s: float
    whip_m_s: float


@dataclass(frozen=True, slots=True)
class Upward:
    """A point at which the recoil may go up: its index in the lead, why, and a bound on height from energy."""

    point: int
    why: str
    height_m: float


def recoil(led: Led, tension_n: float) -> Recoil:
    """Energy and speeds at `tension_n` (N, above 0 and at most 1.25 × strength, else ValueError)."""
    raise NotImplementedError


def upward(led: Led, tension_n: float, snagged: bool = False) -> tuple[Upward, ...]:
    """Where the recoil may leave the plan: lead that rises or falls at a fitting, or a line caught on a fender."""
    raise NotImplementedError
