"""Isherwood's regression of wind loads: an independent check on Blendermann's, within its range.

R. M. Isherwood (1972), "Wind resistance of merchant ships", Trans. RINA 115:327-338. The tables were read in
public transcriptions, six of which were compared; the print was not seen. At 130° the sign of the first yaw
coefficient differs among them: minus is taken, which fits the neighbouring angles (0.038 in the coefficient).
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from monitor.base.frames import Floats
from monitor.physics.windage import Coefficients, WindArea

# Above this 2 AL/LOA² his surge coefficient turns the wrong way (he had no high-sided ships). Own judgement.
HIGHEST_SIDE: Final = 0.15


def surge_in_range(area: WindArea, loa_m: float) -> bool:
    """Whether the ship is low enough for his surge coefficient; sway and yaw stay sound beyond it."""
    return 2.0 * area.lateral_m2 / loa_m**2 <= HIGHEST_SIDE


def isherwood(
    area: WindArea,
    loa_m: float,
    beam_m: float,
    profile_perimeter_m: float,
    superstructure_m2: float,
    mast_groups: float,
    off_bow_deg: ArrayLike,
) -> Coefficients:
    """Coefficients at any γ (degrees, positive from port), in the shape of `off_bow_deg`.

    `profile_perimeter_m` is the outline of the side view without the waterline, masts and ventilators;
    `superstructure_m2` the lateral area above the hull; `mast_groups` masts or king posts seen from the side.
    Between the table's angles the coefficients are interpolated linearly.
    """
    signed = (np.asarray(off_bow_deg, dtype=np.float64) + 180.0) % 360.0 - 180.0
    gamma, side = np.abs(signed), np.sign(signed)
    shape = np.array(
        [
            1.0,
            2.0 * area.lateral_m2 / loa_m**2,
            2.0 * area.frontal_m2 / beam_m**2,
            loa_m / beam_m,
            profile_perimeter_m / loa_m,
            0.5 - area.centroid_forward_m / loa_m,  # his C/L: centroid from the bow
        ]
    )
    surge = _SURGE @ np.append(shape, mast_groups)
    sway = _SWAY @ np.append(shape, superstructure_m2 / area.lateral_m2)
    return Coefficients(_at(gamma, -surge), side * _at(gamma, sway), side * _at(gamma, _YAW @ shape))


def _at(gamma_deg: Floats, each_ten_deg: Floats) -> Floats:
    return np.asarray(np.interp(gamma_deg, _ANGLES_DEG, each_ten_deg))


_ANGLES_DEG: Final = np.arange(0.0, 181.0, 10.0)

# Rows every 10° from the bow. Columns: constant, 2AL/L², 2AF/B², L/B, perimeter/L, C/L, then mast groups (surge)
# or superstructure share (sway). Surge as in his paper: positive aft.
# fmt: off
_SURGE: Final = np.array(
    [
        [2.152, -5.0, 0.243, -0.164, 0.0, 0.0, 0.0],  # 0
        [1.714, -3.33, 0.145, -0.121, 0.0, 0.0, 0.0],  # 10
        [1.818, -3.97, 0.211, -0.143, 0.0, 0.0, 0.033],  # 20
        [1.965, -4.81, 0.243, -0.154, 0.0, 0.0, 0.041],  # 30
        [2.333, -5.99, 0.247, -0.19, 0.0, 0.0, 0.042],  # 40
        [1.726, -6.54, 0.189, -0.173, 0.348, 0.0, 0.048],  # 50
        [0.913, -4.68, 0.0, -0.104, 0.482, 0.0, 0.052],  # 60
        [0.457, -2.88, 0.0, -0.068, 0.346, 0.0, 0.043],  # 70
        [0.341, -0.91, 0.0, -0.031, 0.0, 0.0, 0.032],  # 80
        [0.355, 0.0, 0.0, 0.0, -0.247, 0.0, 0.018],  # 90
        [0.601, 0.0, 0.0, 0.0, -0.372, 0.0, -0.02],  # 100
        [0.651, 1.29, 0.0, 0.0, -0.582, 0.0, -0.031],  # 110
        [0.564, 2.54, 0.0, 0.0, -0.748, 0.0, -0.024],  # 120
        [-0.142, 3.58, 0.0, 0.047, -0.7, 0.0, -0.028],  # 130
        [-0.677, 3.64, 0.0, 0.069, -0.529, 0.0, -0.032],  # 140
        [-0.723, 3.14, 0.0, 0.064, -0.475, 0.0, -0.032],  # 150
        [-2.148, 2.56, 0.0, 0.081, 0.0, 1.27, -0.027],  # 160
        [-2.707, 3.97, -0.175, 0.126, 0.0, 1.81, 0.0],  # 170
        [-2.529, 3.76, -0.174, 0.128, 0.0, 1.55, 0.0],  # 180
    ]
)
_SWAY: Final = np.array(
    [
        [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0],  # 0
        [0.096, 0.22, 0.0, 0.0, 0.0, 0.0, 0.0],  # 10
        [0.176, 0.71, 0.0, 0.0, 0.0, 0.0, 0.0],  # 20
        [0.225, 1.38, 0.0, 0.023, 0.0, -0.29, 0.0],  # 30
        [0.329, 1.82, 0.0, 0.043, 0.0, -0.59, 0.0],  # 40
        [1.164, 1.26, 0.121, 0.0, -0.242, -0.95, 0.0],  # 50
        [1.163, 0.96, 0.101, 0.0, -0.177, -0.88, 0.0],  # 60
        [0.916, 0.53, 0.069, 0.0, 0.0, -0.65, 0.0],  # 70
        [0.844, 0.55, 0.082, 0.0, 0.0, -0.54, 0.0],  # 80
        [0.889, 0.0, 0.138, 0.0, 0.0, -0.66, 0.0],  # 90
        [0.799, 0.0, 0.155, 0.0, 0.0, -0.55, 0.0],  # 100
        [0.797, 0.0, 0.151, 0.0, 0.0, -0.55, 0.0],  # 110
        [0.996, 0.0, 0.184, 0.0, -0.212, -0.66, 0.34],  # 120
        [1.014, 0.0, 0.191, 0.0, -0.28, -0.69, 0.44],  # 130
        [0.784, 0.0, 0.166, 0.0, -0.209, -0.53, 0.38],  # 140
        [0.536, 0.0, 0.176, -0.029, -0.163, 0.0, 0.27],  # 150
        [0.251, 0.0, 0.106, -0.022, 0.0, 0.0, 0.0],  # 160
        [0.125, 0.0, 0.046, -0.012, 0.0, 0.0, 0.0],  # 170
        [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0],  # 180
    ]
)
_YAW: Final = np.array(
    [
        [0.0, 0.0, 0.0, 0.0, 0.0, 0.0],  # 0
        [0.0596, 0.061, 0.0, 0.0, 0.0, -0.074],  # 10
        [0.1106, 0.204, 0.0, 0.0, 0.0, -0.17],  # 20
        [0.2258, 0.245, 0.0, 0.0, 0.0, -0.38],  # 30
        [0.2017, 0.457, 0.0, 0.0067, 0.0, -0.472],  # 40
        [0.1759, 0.573, 0.0, 0.0118, 0.0, -0.523],  # 50
        [0.1925, 0.48, 0.0, 0.0115, 0.0, -0.546],  # 60
        [0.2133, 0.315, 0.0, 0.0081, 0.0, -0.526],  # 70
        [0.1827, 0.254, 0.0, 0.0053, 0.0, -0.443],  # 80
        [0.2627, 0.0, 0.0, 0.0, 0.0, -0.508],  # 90
        [0.2102, 0.0, -0.0195, 0.0, 0.0335, -0.492],  # 100
        [0.1567, 0.0, -0.0258, 0.0, 0.0497, -0.457],  # 110
        [0.0801, 0.0, -0.0311, 0.0, 0.074, -0.396],  # 120
        [-0.0189, 0.0, -0.0488, 0.0101, 0.1128, -0.42],  # 130
        [0.0256, 0.0, -0.0422, 0.01, 0.0889, -0.463],  # 140
        [0.0552, 0.0, -0.0381, 0.0109, 0.0689, -0.476],  # 150
        [0.0881, 0.0, -0.0306, 0.0091, 0.0366, -0.415],  # 160
        [0.0851, 0.0, -0.0122, 0.0025, 0.0, -0.22],  # 170
        [0.0, 0.0, 0.0, 0.0, 0.0, 0.0],  # 180
    ]
)
# fmt: on
