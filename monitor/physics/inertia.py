"""What has to be set moving when a moored ship ranges: her mass, and the water that goes with her."""

from __future__ import annotations

from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.base.units import SEA_WATER_KG_M3
from monitor.physics.hulls import Hull
from monitor.physics.passing import Basin

# Added mass at slow motion (calm surface as a lid), of the ship's mass; in yaw of mass × LPP². Own computations by
# double-body panels with images in bed and quay: a car carrier, a tanker and a coaster, the last two rows with a
# solid quay a metre and a half off. The three lie within 15 % of these means; nothing was measured. For the tanker
# at 1.2 draughts, in the open, 2.5 in sway is also what tank tests gave at low frequency (van Oortmerssen 1976,
# from memory).
_DEPTH_OVER_DRAUGHT: Final = (1.1, 1.2, 1.5, 2.0, 4.0, 20.0)
_OPEN: Final = (
    (0.153, 0.140, 0.112, 0.089, 0.060, 0.048),
    (3.54, 2.68, 1.73, 1.27, 0.95, 0.88),
    (0.216, 0.165, 0.111, 0.085, 0.067, 0.063),
)
_AT_QUAY: Final = (
    (0.315, 0.272, 0.203, 0.150, 0.091, 0.067),
    (6.50, 4.28, 2.50, 1.82, 1.48, 1.45),
    (0.326, 0.226, 0.139, 0.105, 0.087, 0.086),
)
ADDED_MASS_SPREAD: Final = 0.15  # one standard deviation of the shares above (ours)
GYRATION: Final = 0.25  # radius in yaw over LPP, of the ship herself (common practice, no source)


def added_mass_shares(depth_over_draught: float, quay_share: float) -> Floats:
    """(surge, sway, yaw): added mass over mass, in yaw over mass × LPP². Held at 1.1 draughts below that.

    `quay_share`: 1 with the quay's whole effect, 0 without. A calm surface as a lid holds the water between ship
    and quay in; a surface that can move lets it rise, so the truth lies between.
    """
    shares = [
        np.interp(depth_over_draught, _DEPTH_OVER_DRAUGHT, bare)
        + quay_share * (np.interp(depth_over_draught, _DEPTH_OVER_DRAUGHT, quay) -
                        np.interp(depth_over_draught, _DEPTH_OVER_DRAUGHT, bare))
        for bare, quay in zip(_OPEN, _AT_QUAY, strict=True)
    ]  # fmt: skip
    return np.array(shares)


def virtual_mass(hull: Hull, basin: Basin, quay_share: float = 0.5, added: float = 1.0) -> Floats:
    """(surge kg, sway kg, yaw kg·m²) of the ship and the water that moves with her; `added` scales the water."""
    mass_kg = hull.displacement_kg * basin.water_kg_m3 / SEA_WATER_KG_M3
    quay = 0.0 if basin.quay_y_m is None else quay_share
    shares = added * added_mass_shares(basin.depth_m / hull.draught_m, quay)
    own = np.array([1.0, 1.0, GYRATION**2])
    return np.asarray(mass_kg * (own + shares) * np.array([1.0, 1.0, hull.lpp_m**2]))
