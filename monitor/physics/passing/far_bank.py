"""What the far bank of a channel sends back of a passing ship's flow: she is seen in it, as in the quay.

Between two walls W apart a ship p off the quay is an endless row of ships 2kW ± p off it, each before the quay
alone: those − p go on mirrored courses. All their loads add up, which in a narrow channel comes to the even return
flow of one-dimensional theory, U·A_M/(A − A_M), but for its powers of A_M/A. Those come by Schijf's drawdown over
what the row brings in such a channel. Banks are taken as upright, and as running along the quay.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from monitor.base.frames import hull_corners
from monitor.base.units import GRAVITY_M_S2
from monitor.physics.hulls import Hull
from monitor.physics.passing.encounter import WAVES_RULE_FROM_FROUDE, Basin, Track
from monitor.physics.wake import Channel, limiting_speed_m_s, schijf

_NO_FARTHER: Final = 4.5  # mean lengths: what lies beyond adds 1.5 % at most (test_far_bank)
_SLOWEST_M_S: Final = 0.01
_BELOW_LIMIT: Final = 0.99  # of the limiting speed: at it drawdown has no bound


def images(moored: Hull, passer: Hull, track: Track, basin: Basin) -> Sequence[Track]:
    """Her tracks as seen in the far bank, nearest first, to be asked of a one-wall model; none when it is far.

    A bank that her own side would reach within two mean lengths of us is taken to lie no nearer than that.
    """
    if basin.far_bank_y_m is None:
        return ()
    length_m, over = 0.5 * (moored.loa_m + passer.loa_m), math.copysign(1.0, basin.far_bank_y_m)
    near_y_m = 0.0 if basin.quay_y_m is None else basin.quay_y_m
    corners = hull_corners(track.x_m, track.y_m, track.course_deg, passer.loa_m, passer.beam_m)
    close_by = np.hypot(track.x_m, track.y_m) < 2.0 * length_m
    reach_m = float(np.max(over * (corners[close_by][..., 1] - near_y_m), initial=0.0))
    width_m = max(over * (basin.far_bank_y_m - near_y_m), reach_m)
    off_m = over * (track.y_m - near_y_m)
    farthest = int(0.5 * (_NO_FARTHER * length_m / width_m + 1.0))
    row = [(2.0 * k * width_m, side) for k in range(1, farthest + 1) for side in (-1.0, 1.0)]
    if basin.quay_y_m is None:  # no second wall to see the first image in
        row = row[:1]
    return [
        Track(track.x_m, near_y_m + over * (at_m + side * off_m), side * track.course_deg, track.speed_water_m_s)
        for at_m, side in row
    ]


def blocked(passer: Hull, track: Track, section: Channel, depth_m: float) -> float:
    """How many times what the row brings her drawdown is, ≥ 1: the water has to get past her by what she leaves.

    At the greatest speed of the track, or just below the limiting one. 1 for one that fills the channel.
    """
    if passer.midship_area_m2 >= section.area_m2:
        return 1.0
    limit_m_s = limiting_speed_m_s(passer.midship_area_m2, section)
    speed_m_s = float(np.clip(np.max(track.speed_water_m_s), _SLOWEST_M_S, _BELOW_LIMIT * limit_m_s))
    froude2 = speed_m_s**2 / (GRAVITY_M_S2 * depth_m)
    row_m = speed_m_s**2 / GRAVITY_M_S2 * passer.midship_area_m2 / (section.width_m * depth_m)
    if froude2 < WAVES_RULE_FROM_FROUDE**2:
        row_m /= 1.0 - froude2
    return max(1.0, schijf(passer.midship_area_m2, section, speed_m_s)[0] / row_m)
