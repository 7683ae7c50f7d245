"""What a passing ship finds at the berth: our hull, the quay, the fairway and its current."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

from monitor.base.berthed import Berthed
from monitor.base.frames import LocalMap
from monitor.settings.schema import Settings
from monitor.watch.fairway import Fairway, lay_fairway


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """The berth as encounters see it, in the map plane round the berth's reference position.

    The face of the quay runs through that position from `quay_begins_m` to `quay_ends_m` along
    `berthed.along_deg`. `current_m_s` and `set_deg` (true, TOWARDS) are the fairway's at the berth; None: not
    known. `without_tow`: tugs of which the operator says that they tow nothing.
    """

    berthed: Berthed
    loa_m: float
    beam_m: float
    quay_begins_m: float
    quay_ends_m: float
    fairway: Fairway | None = None
    current_m_s: float | None = None
    set_deg: float | None = None
    without_tow: frozenset[int] = frozenset()
    horizon_s: float = 1800.0

    @property
    def along(self) -> complex:
        """Unit vector of the quay in the map plane; `off` the quay is i times it."""
        return cmath.rect(1.0, math.radians(self.berthed.along_deg))

    @property
    def midships(self) -> complex:
        """Our midships in berth axes, along + i·off."""
        return complex(self.berthed.midships_along_m, self.berthed.centre_off_m)

    @property
    def current(self) -> complex | None:
        """The fairway's current in berth axes, m/s."""
        if self.current_m_s is None or self.set_deg is None:
            return None
        return cmath.rect(self.current_m_s, math.radians(self.set_deg)) * self.along.conjugate()


def scene_of(
    settings: Settings,
    berthed: Berthed,
    current_m_s: float | None,
    set_deg: float | None,
    without_tow: frozenset[int] = frozenset(),
) -> Scene:
    """The scene of a stay with the fairway's current as it is now."""
    berth, ship = settings.berth, settings.ship
    chart = LocalMap(berth.position.latitude, berth.position.longitude)
    middle = [complex(*chart.to_plane(point.latitude, point.longitude)) for point in berth.fairway.middle]
    return Scene(
        berthed,
        ship.loa,
        ship.beam,
        berth.quay.begins_along,
        berth.quay.ends_along,
        lay_fairway(middle, berth.fairway.width),
        current_m_s,
        set_deg,
        without_tow,
    )
