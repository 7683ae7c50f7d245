"""Where along a line it is likely to part."""

from __future__ import annotations

from dataclasses import dataclass

from monitor.physics.snapback.led import Led


@dataclass(frozen=True, slots=True)
class Break:
    """A place of parting: metres from the inboard end along the line as it lies, its weight, and why there."""

    at_m: float
    weight: float  # all weights of a line add up to 1
    why: str


def breaks(led: Led, count: int = 100, seed: int = 0) -> tuple[Break, ...]:
    """`count` places (2 to 1000) in order along the line: more at bends, splices, chafe and in the tail."""
    raise NotImplementedError
