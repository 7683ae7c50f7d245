"""Where places of the ship's axes come to lie on the plan: bow to the right, the quay on the side it is on."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from monitor.records.picture import Plan

BESIDE_M: Final = 45.0  # drawn ahead of the bow and astern
WATER_M: Final = 260.0  # drawn to seaward of our side


@dataclass(frozen=True, slots=True)
class Sheet:
    """Along the ship to scale, across in stretches of their own scale. Metres in, px out."""

    width: float
    height: float
    x_from_m: float
    px_m: float
    stretches: tuple[tuple[float, float], ...]  # (distance from the face over the water, y): ascending
    quay_to_port: bool
    quay_y_m: float
    row_px: float = 0.0  # of the tags: an additional row

    def x(self, forward_m: float) -> float:
        """Of a place forward of midships."""
        return (forward_m - self.x_from_m) * self.px_m

    def off_m(self, starboard_m: float) -> float:
        """Distance from the face of the quay, over the water."""
        return starboard_m - self.quay_y_m if self.quay_to_port else self.quay_y_m - starboard_m

    def y_off(self, off_m: float) -> float:
        """Of a distance from the face of the quay."""
        (low_m, low), (high_m, high) = self.stretches[0], self.stretches[1]
        for one, two in pairwise(self.stretches):
            (low_m, low), (high_m, high) = one, two
            if off_m <= high_m:
                break
        y = low + (off_m - low_m) / (high_m - low_m) * (high - low)
        return y if self.quay_to_port else self.height - y

    def at(self, forward_m: float, starboard_m: float) -> tuple[float, float]:
        """Of a place on the ship or near her."""
        return self.x(forward_m), self.y_off(self.off_m(starboard_m))


def sheet_of(plan: Plan, width: float, height: float, row_px: float = 0.0) -> Sheet:
    """The sheet of a plan for a drawing of `width` by `height` px; `row_px` more for the tags."""
    ends = [0.5 * plan.loa_m, -0.5 * plan.loa_m, *(lead.bollard[0] for lead in plan.leads)]
    from_m, to_m = min(ends) - BESIDE_M * 0.35, max(ends) + BESIDE_M * 0.35
    to_port = plan.quay_y_m < 0
    behind_m = max(6.0, *(abs(lead.bollard[1] - plan.quay_y_m) for lead in plan.leads)) + 4.0
    ship_off_m = abs(plan.quay_y_m) + 0.5 * plan.beam_m
    tags = min(104.0, max(80.0, 0.30 * height)) + row_px
    land, hull = 0.16 * height, 0.17 * height
    stretches = (
        (-behind_m, tags), (0.0, tags + land), (abs(plan.quay_y_m) - 0.5 * plan.beam_m, tags + land + 7.0),
        (ship_off_m, tags + land + 7.0 + hull), (ship_off_m + WATER_M, height),
    )  # fmt: skip
    return Sheet(width, height, from_m, width / (to_m - from_m), stretches, to_port, plan.quay_y_m, row_px)
