"""Motion in plan of both parts of a line that parts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from monitor.base.frames import Floats
from monitor.physics.snapback.led import Led

End = Literal["inboard", "outboard"]


@dataclass(frozen=True)
class Path:
    """How one part flew. Node 0 is made fast; the last node is the parted end.

    `times_s` (t,) from the break; `nodes_m` (t, n, 2) in the plane of the lead; `speeds_m_s` (t, n).
    """

    at_m: float
    end: End
    times_s: Floats
    nodes_m: Floats
    speeds_m_s: Floats


def release(
    led: Led,
    tension_n: float,
    at_m: Sequence[float],
    *,
    seed: int = 0,
    kick: float = 0.05,
    air: bool = True,
    deck_friction: float = 0.4,
    nodes: int = 32,
) -> tuple[Path, ...]:
    """Both parts for every break, in the order inboard, outboard of the first, then of the second, …

    `at_m`: metres from the inboard end, each within the line. `kick`: standard deviation of the random sideways
    speed of the parted end, as a share of its recoil speed.
    """
    raise NotImplementedError
