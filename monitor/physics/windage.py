"""Wind load on the moored ship: areas that move with her draught, coefficients by type.

Angles are γ of the coefficient tables (`base.frames.off_bow_deg`): where the wind comes from, in degrees off the
bow, **positive from port**. Wind from port pushes to starboard, so sway has the sign of γ.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from monitor.base.frames import Floats
from monitor.physics.loads import Loads

if TYPE_CHECKING:
    from monitor.settings.schema import WindageType

# One standard deviation of the coefficients against the truth, as a share (judgement).
COEFFICIENT_SPREAD: Final = 0.15
# The same upwards for tankers. On the beam of one in ballast Blendermann is the lowest of the published methods:
# 0.70 against 0.76 (Isherwood), 0.86 (Fujiwara), 0.90 to 0.95 (the oil trade's curves): the band holds them all.
TANKER_SPREAD_UP: Final = 0.22


def coefficient_spread(kind: WindageType) -> tuple[float, float]:
    """One standard deviation of the coefficients downwards and upwards, as shares."""
    return COEFFICIENT_SPREAD, TANKER_SPREAD_UP if "tanker" in kind else COEFFICIENT_SPREAD


@dataclass(frozen=True, slots=True)
class WindArea:
    """What the wind sees: lateral and frontal area, m²; centroid of the lateral one, m.

    `centroid_forward_m` is from midships (LOA/2), `centroid_height_m` above the waterline.
    """

    lateral_m2: float
    frontal_m2: float
    centroid_forward_m: float
    centroid_height_m: float

    def with_patch(self, lateral_m2: float, frontal_m2: float, forward_m: float, height_m: float) -> WindArea:
        """With a piece put on (deck cargo) or, negative, taken off: first moments of area add up."""
        whole_m2 = self.lateral_m2 + lateral_m2
        return WindArea(
            whole_m2,
            self.frontal_m2 + frontal_m2,
            (self.lateral_m2 * self.centroid_forward_m + lateral_m2 * forward_m) / whole_m2,
            (self.lateral_m2 * self.centroid_height_m + lateral_m2 * height_m) / whole_m2,
        )


def windage_at_draught(
    area: WindArea,
    reference_draught_m: float,
    draught_forward_m: float,
    draught_aft_m: float,
    waterline_m: float,
    beam_m: float,
) -> WindArea:
    """The same ship at other draughts: `area` belongs to `reference_draught_m` on even keel.

    Rising bares a strip as long as the waterline, which is taken as centred on midships; trim makes it a wedge.
    Draughts are those at the ends of the waterline. Geometry, no source needed.
    Raises ValueError when nothing would be left above water.
    """
    bared_m = reference_draught_m - 0.5 * (draught_forward_m + draught_aft_m)
    slope = (draught_aft_m - draught_forward_m) / waterline_m  # more hull bared forward when trimmed by the stern
    strip_m2 = bared_m * waterline_m
    if area.lateral_m2 + strip_m2 <= 0.0 or area.frontal_m2 + bared_m * beam_m <= 0.0:
        raise ValueError("at this draught no wind area is left above water")
    whole_m2 = area.lateral_m2 + strip_m2
    forward_m3 = area.lateral_m2 * area.centroid_forward_m + slope * waterline_m**3 / 12.0
    height_m3 = (
        area.lateral_m2 * (area.centroid_height_m + bared_m + slope * area.centroid_forward_m)
        + 0.5 * bared_m**2 * waterline_m
        + slope**2 * waterline_m**3 / 24.0
    )
    return WindArea(whole_m2, area.frontal_m2 + bared_m * beam_m, forward_m3 / whole_m2, height_m3 / whole_m2)


class Coefficients(NamedTuple):
    """Force over ½ρV² times frontal area (surge), lateral area (sway), lateral area × LOA (yaw about LOA/2)."""

    surge: Floats
    sway: Floats
    yaw: Floats


class Blendermann(NamedTuple):
    """A row of his table: resistance abeam, ahead and astern (those two on frontal area), cross-force share."""

    transverse: float
    ahead: float
    astern: float
    delta: float


# W. Blendermann (1994), "Parameter identification of wind loads on ships", J. Wind Eng. Ind. Aerodyn. 51:339-351.
# Two independent public transcriptions agree in every figure below; the print itself was not seen.
BLENDERMANN: Final[dict[WindageType, Blendermann]] = {
    "car carrier": Blendermann(0.95, 0.55, 0.60, 0.80),
    "cargo vessel, loaded": Blendermann(0.85, 0.65, 0.55, 0.40),
    "cargo vessel, container on deck": Blendermann(0.85, 0.55, 0.50, 0.40),
    "container ship, loaded": Blendermann(0.90, 0.55, 0.55, 0.40),
    "ferry": Blendermann(0.90, 0.45, 0.50, 0.80),
    "liquefied natural gas tanker": Blendermann(0.70, 0.60, 0.65, 0.50),
    "passenger liner": Blendermann(0.90, 0.40, 0.40, 0.80),
    "tanker, loaded": Blendermann(0.70, 0.90, 0.55, 0.40),
    "tanker, in ballast": Blendermann(0.70, 0.75, 0.55, 0.40),
    "offshore supply vessel": Blendermann(0.90, 0.55, 0.80, 0.55),
    "research vessel": Blendermann(0.85, 0.55, 0.65, 0.60),
    "fishing vessel": Blendermann(0.95, 0.70, 0.70, 0.40),
}


def blendermann(kind: WindageType, area: WindArea, loa_m: float, off_bow_deg: ArrayLike) -> Coefficients:
    """Coefficients of Blendermann (1994) at any γ, degrees; the arrays have the shape of `off_bow_deg`.

    His formulas hold from 0 to 180°; wind from starboard is the mirror image (surge even in γ, sway and yaw odd).
    """
    row = BLENDERMANN[kind]
    signed = np.radians((np.asarray(off_bow_deg, dtype=np.float64) + 180.0) % 360.0 - 180.0)
    gamma, side = np.abs(signed), np.sign(signed)
    longitudinal = np.where(gamma <= 0.5 * np.pi, row.ahead, row.astern)  # on the frontal area
    ratio = longitudinal * area.frontal_m2 / (area.lateral_m2 * row.transverse)
    slimmed = 1.0 - 0.5 * row.delta * (1.0 - ratio) * np.sin(2.0 * gamma) ** 2
    sway = row.transverse * np.sin(gamma) / slimmed
    yaw = (area.centroid_forward_m / loa_m - 0.18 * (gamma - 0.5 * np.pi)) * sway
    return Coefficients(-longitudinal * np.cos(gamma) / slimmed, side * sway, side * yaw)


def wind_load(
    kind: WindageType,
    area: WindArea,
    loa_m: float,
    speed_m_s: ArrayLike,
    off_bow_deg: ArrayLike,
    air_kg_m3: ArrayLike,
) -> Loads:
    """Load of a wind at 10 m over the water; speed, angle and air density broadcast to the shape of the result.

    Speed is the 30 s mean of `air.speed_30s_m_s`. It is taken for the whole height of the ship, whose upper works
    see somewhat more: within COEFFICIENT_SPREAD up to about 40 m.
    """
    return as_loads(blendermann(kind, area, loa_m, off_bow_deg), area, loa_m, speed_m_s, air_kg_m3)


def as_loads(
    coefficients: Coefficients, area: WindArea, loa_m: float, speed_m_s: ArrayLike, air_kg_m3: ArrayLike
) -> Loads:
    """Coefficients times dynamic pressure and areas."""
    speed = np.asarray(speed_m_s, dtype=np.float64)
    pressure_pa = 0.5 * np.asarray(air_kg_m3, dtype=np.float64) * speed**2
    return Loads(
        np.asarray(pressure_pa * area.frontal_m2 * coefficients.surge),
        np.asarray(pressure_pa * area.lateral_m2 * coefficients.sway),
        np.asarray(pressure_pa * area.lateral_m2 * loa_m * coefficients.yaw),
    )
