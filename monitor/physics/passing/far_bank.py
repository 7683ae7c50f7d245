"""What the far bank of a channel sends back of a passing ship's flow: she is seen in it, as in the quay.

Between two walls W apart a ship p off the quay is an endless row of ships 2kW ± p off it, each before the quay
alone: those − p go on mirrored courses. All their loads add up, which in a narrow channel comes to the even return
flow of one-dimensional theory to the first power of what she blocks. Her wall alone brings part of that, the bank
the rest; and where Schijf's drawdown grows faster than what she blocks, so does the rest (`blocked`). Banks are
taken as upright, and as running along the quay.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from monitor.base.frames import Floats, hull_corners
from monitor.base.units import GRAVITY_M_S2
from monitor.physics.hulls import Hull
from monitor.physics.passing.encounter import WAVES_RULE_FROM_FROUDE, Basin, Track, froude_of, limit_m_s
from monitor.physics.wake import left_over

_NO_FARTHER: Final = 4.5  # mean lengths: what lies beyond adds 2 % of the surge at most
_ONE_WALL: Final = 0.95  # of the whole at most, for what it brings of the return flow
_SLOWEST_M_S: Final = 1e-3  # below it nothing changes
_BELOW_LIMIT: Final = 0.99  # of the limiting speed: at it drawdown rises infinitely fast


def images(moored: Hull, passer: Hull, track: Track, basin: Basin) -> Sequence[Track]:
    """Her tracks (n) as seen in the far bank, nearest first, to be asked of a one-wall model; none when it is far.

    Where her own side would lie beyond the bank, the bank is taken to lie at her side.
    """
    if basin.far_bank_y_m is None:
        return ()
    near_y_m, over, width_m, off_m = _across(passer, track, basin)
    farthest_m = _NO_FARTHER * 0.5 * (moored.loa_m + passer.loa_m)
    pairs = int(0.5 * (farthest_m / float(np.min(width_m)) + 1.0))
    row = [(2.0 * k * width_m, side) for k in range(1, pairs + 1) for side in (-1.0, 1.0)]
    if basin.quay_y_m is None:  # no second wall to see the first image in
        row = row[:1]
    return [
        Track(track.x_m, near_y_m + over * (at_m + side * off_m), side * track.course_deg, track.speed_water_m_s)
        for at_m, side in row
    ]


def blocked(moored: Hull, passer: Hull, track: Track, basin: Basin) -> Floats:
    """How many times (n,) what the row brings of her comes back, ≥ 1; 1 where both ships fill the section.

    The row brings d = (V²/g) A_M / Wh(1 − F²) of drawdown. Her wall alone brings a share q of it, whose growth
    with what she blocks is in the panels. So the bank brings z(A_M) − z(q A_M) of Schijf's drawdown in place of
    (1 − q) d; and since she passes us abreast, less of the section lets it by: A / (A − A_ours). q is that of
    sources at stem and stern, seen abreast of her at the quay: L/π(¼L² + p²) over
    sinh(πL/2W) / W(cosh(πL/2W) − cos(πp/W)). Before an open quay nothing is known of her own side: z(A_M) over d.
    What goes faster than her limiting speed counts as just below it; 1 where her own waves rule.
    """
    section, most_m_s = basin.section_to_bank, _BELOW_LIMIT * limit_m_s(moored, passer, basin)
    if section is None or most_m_s <= 0.0:
        return np.ones_like(track.x_m)
    _, _, width_m, off_m = _across(passer, track, basin)
    speed_m_s = np.clip(track.speed_water_m_s, min(_SLOWEST_M_S, most_m_s), most_m_s)
    froude2 = speed_m_s**2 / (GRAVITY_M_S2 * basin.depth_m)
    share = passer.midship_area_m2 / section.area_m2
    row = passer.midship_area_m2 / (section.width_m * basin.depth_m) / (1.0 - np.minimum(froude2, 0.9))

    def sinks(blocked: Floats) -> Floats:
        return np.asarray(0.5 * (left_over(blocked, speed_m_s**2 / section.wave_speed_m2_s2) ** -2.0 - 1.0))

    if basin.quay_y_m is None:
        more = sinks(np.full_like(speed_m_s, share)) / row
    else:
        long = math.pi * passer.loa_m / (2.0 * width_m)
        one_1_m = passer.loa_m / (math.pi * (0.25 * passer.loa_m**2 + off_m**2))
        whole_1_m = np.tanh(long) / (1.0 - np.cos(math.pi * off_m / width_m) / np.cosh(long)) / width_m
        q = np.clip(one_1_m / whole_1_m, 0.0, _ONE_WALL)
        more = (sinks(np.full_like(q, share)) - sinks(q * share)) / ((1.0 - q) * row)
        more *= section.area_m2 / (section.area_m2 - moored.midship_area_m2)
    return np.where(froude_of(track, basin) < WAVES_RULE_FROM_FROUDE, np.maximum(1.0, more), 1.0)


def _across(passer: Hull, track: Track, basin: Basin) -> tuple[float, float, Floats, Floats]:
    """Where the quay stands, or our keel before an open one, m to starboard; which way the far bank lies, ±1; how
    far (n,) the bank and her midships are from there, m."""
    assert basin.far_bank_y_m is not None
    near_y_m, over = basin.quay_y_m or 0.0, math.copysign(1.0, basin.far_bank_y_m)
    corners = hull_corners(track.x_m, track.y_m, track.course_deg, passer.loa_m, passer.beam_m)
    reach_m = np.max(over * (corners[..., 1] - near_y_m), axis=-1)
    return near_y_m, over, np.maximum(basin.channel_m, reach_m), over * (track.y_m - near_y_m)
