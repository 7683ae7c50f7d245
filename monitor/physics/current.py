"""Load of a stream on the moored ship: drag across and along, growing as the water under the keel shrinks.

UFC 4-159-03 "Design: Moorings" (US Department of Defense, 3 October 2005), section 4-5. The equations of the
forces were read; the sine form of the transverse force and the table of the yaw lever are from memory.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from monitor.base.frames import Floats
from monitor.base.units import SEA_WATER_KG_M3
from monitor.physics.hulls import Hull
from monitor.physics.loads import Loads

TESTED_UP_TO_M_S: Final = 1.5  # the model tests behind the shallow-water limit; beyond it the result is degraded

SHALLOW_LIMIT: Final = 3.2  # C₁, eq. 11: transverse coefficient as the keel nears the bed
DEPTH_POWER: Final = 2.0  # K, eq. 11, for a wide range of ships
PROPELLER_AREA_RATIO: Final = 240.0  # Table 4-7, cargo ships (LwL·B over the propellers' disc area; tankers 270)
SEA_WATER_VISCOSITY_M2_S: Final = 1.19e-6  # about 15 °C (ITTC 7.5-02-01-03, from memory)
_LEVER: Final = (-0.291, 0.00353)  # Table 4-10, Series 60 hulls: lever/LwL = a + b·θ, θ in degrees


def transverse_coefficient(slenderness: ArrayLike, draught_over_depth: ArrayLike) -> Floats:
    """Drag abeam on waterline length × draught (eq. 11 and 12): C₀ = 0.22 √χ in deep water, rising with T/d.

    `slenderness` is χ = LwL² · midship area ÷ (beam · displaced volume), eq. 13.
    """
    deep = 0.22 * np.sqrt(np.asarray(slenderness, dtype=np.float64))
    return np.asarray(deep + (SHALLOW_LIMIT - deep) * np.asarray(draught_over_depth) ** DEPTH_POWER)


def current_load(
    hull: Hull,
    depth_m: ArrayLike,
    speed_m_s: ArrayLike,
    towards_deg: ArrayLike,
    *,
    propeller_area_ratio: float = PROPELLER_AREA_RATIO,
    water_kg_m3: float = SEA_WATER_KG_M3,
) -> Loads:
    """Load of a stream of `speed_m_s` that sets TOWARDS `towards_deg`, clockwise from own bow (set − heading).

    0 is a stream from astern (pushes ahead), 90 from port (pushes to starboard), 180 on the bow (pushes aft).
    `depth_m` is the water's depth at the berth. Depth, speed and angle broadcast to the shape of the result; the
    waterline is taken as centred on midships. Raises ValueError when the ship would be aground.
    """
    depth = np.asarray(depth_m, dtype=np.float64)
    if np.any(depth <= hull.draught_m):
        raise ValueError("the depth is not greater than the draught")
    speed = np.asarray(speed_m_s, dtype=np.float64)
    signed_deg = (np.asarray(towards_deg, dtype=np.float64) + 180.0) % 360.0 - 180.0
    ahead, to_starboard = np.cos(np.radians(signed_deg)), np.sin(np.radians(signed_deg))
    pressure_pa = 0.5 * water_kg_m3 * speed**2
    length_m = hull.waterline_m

    slenderness = length_m**2 * hull.midship_area_m2 / (hull.beam_m * hull.volume_m3)
    abeam = transverse_coefficient(slenderness, hull.draught_m / depth)
    sway_n = pressure_pa * length_m * hull.draught_m * abeam * to_starboard

    lever_m = length_m * (_LEVER[0] + _LEVER[1] * np.abs(signed_deg))  # towards the end that meets the stream

    drag_m2 = (
        0.1 * hull.beam_m * hull.draught_m
        + _wetted_m2(hull) * _friction(np.abs(speed * ahead) * length_m / SEA_WATER_VISCOSITY_M2_S)
        + length_m * hull.beam_m / propeller_area_ratio / 0.838  # blades' area from the disc's, pitch ratio 1
    )
    return Loads(np.asarray(pressure_pa * drag_m2 * ahead), np.asarray(sway_n), np.asarray(sway_n * lever_m))


def _wetted_m2(hull: Hull) -> float:
    """Eq. 18."""
    return 1.7 * hull.draught_m * hull.waterline_m + hull.volume_m3 / hull.draught_m


def _friction(reynolds: Floats) -> Floats:
    """The ITTC 1957 line, eq. 19; its floor keeps slack water, where no force is left, from a singular point."""
    return np.asarray(0.075 / (np.log10(np.maximum(reynolds, 1e5)) - 2.0) ** 2)
