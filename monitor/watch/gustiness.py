"""How gusty the wind is at this berth, sector by sector, learnt from the ship's own anemometer.

Sheds, cranes and hills make a berth gustier from one side than from another; a table by exposure cannot know it.
Every full ten minutes of readings by the second or so give one ratio: highest 30 s mean ÷ ten-minute mean. Their
mean replaces the table's gust factor in that sector once there are enough of them; it is never below 1. What is
learnt lasts as long as the watch: a replay learns the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from monitor.base.frames import wrap360

SECTORS: Final = 12  # of 30°, the first centred on north
WINDOW_S: Final = 600.0
ENOUGH: Final = 18  # windows: three hours of that wind (judgement; a mean ratio is then good to some 2 %)
LEAST_M_S: Final = 5.0  # in lighter airs gusts are of another kind (convection) and load nothing
FULL: Final = 0.95  # of the window must lie between its first reading and its last
READINGS: Final = 120  # one each 5 s: an anemometer slower than that hides its gusts


@dataclass(slots=True)
class Gustiness:
    """Number and sum of the ratios of each sector."""

    _counts: list[int] = field(default_factory=lambda: [0] * SECTORS)
    _sums: list[float] = field(default_factory=lambda: [0.0] * SECTORS)

    def learn(self, t_s: Sequence[float], mean_m_s: float, top_30s_m_s: float, from_direction_deg: float) -> None:
        """One window of readings at times `t_s`, in order; one too short, too thin or too light is passed over."""
        if len(t_s) < READINGS or t_s[-1] - t_s[0] < FULL * WINDOW_S or mean_m_s < LEAST_M_S:
            return
        sector = _sector(from_direction_deg)
        self._counts[sector] += 1
        self._sums[sector] += top_30s_m_s / mean_m_s

    def ratio_30s(self, from_direction_deg: float) -> float | None:
        """Highest 30 s wind ÷ ten-minute mean, 1 or more; None where too little was heard."""
        sector = _sector(from_direction_deg)
        if self._counts[sector] < ENOUGH:
            return None
        return max(1.0, self._sums[sector] / self._counts[sector])


def _sector(from_direction_deg: float) -> int:
    width_deg = 360.0 / SECTORS
    return int(wrap360(from_direction_deg + 0.5 * width_deg) // width_deg) % SECTORS
