"""Where the berthed ship lies: berth frame, ship axes and map plane, and the ways between them.

Berth frame: zero at the berth's reference position on the face of the quay, `along` with the water on the right
hand, `off` away from the face (behind it: negative). Port side to, the ship heads along; starboard side to, the
other way.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from monitor.base.frames import to_axes, wrap360


@dataclass(frozen=True, slots=True)
class Berthed:
    """A ship at a berth: direction of the quay, her side to it, midships and centre line in its frame."""

    along_deg: float
    side_to: Literal["port", "starboard"]
    midships_along_m: float
    centre_off_m: float  # fender thickness plus half beam

    @property
    def heading_deg(self) -> float:
        """Her true heading."""
        return wrap360(self.along_deg + (0.0 if self.side_to == "port" else 180.0))

    @property
    def _sense(self) -> float:
        return 1.0 if self.side_to == "port" else -1.0

    @property
    def quay_y_m(self) -> float:
        """The face of the quay in ship axes: negative when it is to port."""
        return -self._sense * self.centre_off_m

    def to_ship(self, along_m: float, off_m: float) -> tuple[float, float]:
        """Berth frame → (forward of midships, to starboard)."""
        return self._sense * (along_m - self.midships_along_m), self._sense * (off_m - self.centre_off_m)

    def plane_to_ship(self, north_m: float, east_m: float) -> tuple[float, float]:
        """Map plane with its origin at the berth's reference position → ship axes."""
        along_m, off_m = to_axes(north_m, east_m, self.along_deg)
        return self.to_ship(along_m, off_m)
