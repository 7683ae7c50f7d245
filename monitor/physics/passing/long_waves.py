"""What a free surface adds to the rigid-lid flow of a passing ship, while she is slower than the long waves.

In water shallow against her length her flow obeys (1 − F²) φ_xx + φ_yy = 0, x along her course, F = U/√(gh): the
flow under a rigid lid in a plane narrowed across her course by β = √(1 − F²) (Michell 1898; Tuck 1966, J. Fluid
Mech. 26, 81; both from memory; it is φ_tt = gh ∇²φ for what moves with her). So her pressure is 1/β as strong and
reaches 1/β as far: 1/β close by, as in the usual squat formulas, up to 1/β³ far off. Her cross flow by itself is
no stronger, and what comes of it in sway and yaw lies between 1 and 1/β: the greater is taken.
"""

from __future__ import annotations

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.hulls import Hull
from monitor.physics.passing.encounter import WAVES_RULE_FROM_FROUDE, Basin, Track, froude_of, grazing_m


def under_a_lid(moored: Hull, passer: Hull, track: Track, basin: Basin) -> tuple[Track, Floats]:
    """The track (n) a rigid-lid model must be asked for, and by what its loads are to be multiplied, (n,) ≥ 1.

    Narrowed is the clear water between her line and the one on which she would graze us: hulls that are clear of
    each other stay so. Where her own waves rule (F ≥ 0.7) this means nothing, and the track is as it was.
    """
    froude = froude_of(track, basin)
    beta = np.sqrt(1.0 - np.where(froude < WAVES_RULE_FROM_FROUDE, froude, 0.0) ** 2)
    course = np.radians(track.course_deg)
    aside_m = track.y_m * np.cos(course) - track.x_m * np.sin(course)
    clear_m = np.maximum(np.abs(aside_m) - grazing_m(moored, passer, track.course_deg), 0.0)
    nearer_m = np.sign(aside_m) * (1.0 - beta) * clear_m
    x_m, y_m = track.x_m + nearer_m * np.sin(course), track.y_m - nearer_m * np.cos(course)
    return Track(x_m, y_m, track.course_deg, track.speed_water_m_s), 1.0 / beta
