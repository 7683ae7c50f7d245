"""What many breaks of one line sweep, kept by class of tension so that nobody waits for it twice."""

from __future__ import annotations

from dataclasses import dataclass

from monitor.base.frames import Floats
from monitor.physics.snapback.led import Led
from monitor.physics.snapback.release import End, Path


@dataclass(frozen=True)
class Swept:
    """One part of one break.

    `throw_m`: how far its tip got past the securing point (or bollard), along the line of its lead there and away
    from the break; 0 when never. `reach_m`: greatest distance of any part of it from the securing point.
    `swing_m`: greatest distance of any part from its own lead as it lay and that lead's straight prolongation past
    the securing point. `passing_m_s`: mean speed of the last metre when the tip comes abreast of the securing point;
    None when it never does. `top_m_s`: of the last metre at any time. `tip_m` (t, 2); `lines_m` (t, n, 2) and
    `speeds_m_s` (t, n): where it was and how fast, at moments close enough to tell the area.
    """

    at_m: float
    end: End
    weight: float
    throw_m: float
    reach_m: float
    swing_m: float
    passing_m_s: float | None
    top_m_s: float
    times_s: Floats
    tip_m: Floats
    lines_m: Floats
    speeds_m_s: Floats


@dataclass(frozen=True)
class Flights:
    """All breaks of a line at the greatest tension of a class."""

    tension_n: float
    why: tuple[str, ...]  # of each break, in the order of `swept` by pairs
    swept: tuple[Swept, ...]  # inboard and outboard part of each break in turn


def swept(led: Led, path: Path, weight: float = 1.0) -> Swept:
    """Throw, reach, swing and speeds of one path."""
    raise NotImplementedError


def flights(led: Led, tension_class: int, count: int = 100, seed: int = 0) -> Flights:
    """`count` weighted breaks released at the class's greatest tension. Kept (bounded, least recently used first)."""
    raise NotImplementedError
