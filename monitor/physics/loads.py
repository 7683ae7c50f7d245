"""Horizontal loads on the moored ship, many at a time."""

from __future__ import annotations

from dataclasses import dataclass

from monitor.base.frames import Floats
from monitor.records.estimates import HorizontalLoad


@dataclass(frozen=True, slots=True)
class Loads:
    """Surge (N, forward), sway (N, to starboard) and yaw (N·m, bow to starboard) about midships, LOA/2.

    Three arrays of one shape: whatever the speeds and directions that went in broadcast to.
    """

    surge_n: Floats
    sway_n: Floats
    yaw_n_m: Floats

    def __add__(self, other: Loads) -> Loads:
        return Loads(
            self.surge_n + other.surge_n,
            self.sway_n + other.sway_n,
            self.yaw_n_m + other.yaw_n_m,
        )

    def at(self, *index: int) -> HorizontalLoad:
        """One of them; `at()` when the arrays hold a single load."""
        return HorizontalLoad(float(self.surge_n[index]), float(self.sway_n[index]), float(self.yaw_n_m[index]))
