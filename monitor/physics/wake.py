"""The waves a ship makes: what reaches the berth after she has passed, and the water she drags along.

Two systems. The **secondary** waves (bow and stern, some seconds long) travel out on the two arms of the cusp and
arrive after her. The **primary** wave is the trough alongside her, as long as she is: its pressure is already in
the passing-ship load, so **a drawdown from here is never added to that load**; it is told for what it does to a
small craft, a gangway or the water under a keel.

The geometry of the cusp was read; the heights and the drawdown are regressions quoted from memory. Published
comparisons with measurements scatter by a factor of two, so that every height here is a band of half to double.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from monitor.base.frames import Floats
from monitor.base.units import GRAVITY_M_S2, SEA_WATER_KG_M3
from monitor.physics.hulls import Hull
from monitor.records.estimates import Band

SPREAD: Final = 2.0  # none of 13 drawdown formulas fitted 466 events in the field (JMSE 2020, 8(10):743)
FASTEST_FROUDE: Final = 0.9  # of displacement hulls in shallow water (CEM EM 1110-2-1100, II-7)
HULL_SPEED: Final = 0.4  # of V/√(gL): beyond it a hull climbs its own wave (common practice, no source)
FREE_SWAY_FELT_M: Final = 0.1  # judgement: less is taken up by the lines' own slack and the fenders
DRIFT_FELT: Final = 1e-3  # of her weight, judgement: what a fresh breeze on the beam does to a high-sided ship


# --- the cusp -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Cusp:
    """The wave at the edge of a ship's wave pattern, where it is highest.

    `half_angle_deg`: between her track and the line of the cusps; `off_track_deg`: between her track and the way
    the wave travels. Length and period are None from the critical speed on, where the front has none of its own.
    """

    half_angle_deg: float
    off_track_deg: float
    celerity_m_s: float
    length_m: float | None
    period_s: float | None


def depth_froude(speed_water_m_s: float, depth_m: float) -> float:
    """V/√(g·depth)."""
    return speed_water_m_s / math.sqrt(GRAVITY_M_S2 * depth_m)


def cusp(speed_water_m_s: float, depth_m: float) -> Cusp:
    """The cusp of a ship that makes `speed_water_m_s` (> 0) in water of one depth.

    Havelock (1908): with m = 2kd/sinh 2kd, V² = (g/2k) tanh kd (3 − m), cos²α = 8(1 − m)/(3 − m)² and
    cos²θ = 2/(3 − m); in deep water α = 19.47° and θ = 35.26°. Above the critical speed sin α = √(gd)/V.
    Raises ValueError when speed or depth is not positive.
    """
    if not (speed_water_m_s > 0.0 and depth_m > 0.0):
        raise ValueError("a ship makes waves with a speed, and in a depth, above zero")
    froude = depth_froude(speed_water_m_s, depth_m)
    if froude >= 1.0:
        alpha_deg = math.degrees(math.asin(1.0 / froude))
        return Cusp(alpha_deg, 90.0 - alpha_deg, speed_water_m_s / froude, None, None)
    shallow, deep = 1e-6, 1.5 / froude**2  # kd lies between: the deep value is too large in any depth
    for _ in range(60):
        kd = 0.5 * (shallow + deep)
        if math.tanh(kd) * (3.0 - _shallowness(kd)) / (2.0 * kd) > froude**2:
            shallow = kd
        else:
            deep = kd
    m = _shallowness(kd)
    celerity_m_s = speed_water_m_s * math.sqrt(2.0 / (3.0 - m))
    length_m = 2.0 * math.pi * depth_m / kd
    return Cusp(
        math.degrees(math.acos(math.sqrt(8.0 * (1.0 - m)) / (3.0 - m))),
        math.degrees(math.acos(celerity_m_s / speed_water_m_s)),
        celerity_m_s,
        length_m,
        length_m / celerity_m_s,
    )


def _shallowness(kd: float) -> float:
    """m = 2kd/sinh 2kd: 0 in deep water, 1 in very shallow."""
    return 2.0 * kd / math.sinh(min(2.0 * kd, 700.0))


def arrival_s(wave: Cusp, distance_m: float, speed_ground_m_s: float) -> float:
    """Seconds from her bow abeam of a place to the first high wave there, `distance_m` off her track.

    The pattern moves with her, so it sweeps past the berth at her speed over the ground; a cross stream is left
    out. Raises ValueError when she makes no way over the ground.
    """
    if not speed_ground_m_s > 0.0:
        raise ValueError("she makes no way over the ground: her waves reach the berth at no time to be told")
    return distance_m / (math.tan(math.radians(wave.half_angle_deg)) * speed_ground_m_s)


# --- heights ------------------------------------------------------------------------------------------------


def height_kriebel_seelig_m(
    hull: Hull, speed_water_m_s: float, depth_m: float, distance_m: float, entrance_m: float | None = None
) -> float | None:
    """Greatest secondary wave height `distance_m` off the track; None above the speed of a displacement hull.

    D. L. Kriebel & W. N. Seelig (2005), "An empirical model for ship-generated waves" (from memory):
    gH/V² = β (F* − 0.1)² (y/L)^−⅓, F* = V/√(gL) exp(α T/d), α = 2.35 (1 − Cb), β = 1 + 8 tanh³[0.45 (L/Le − 2)];
    no waves below F* = 0.1. `entrance_m` is Le, from the stem to the parallel middle body; from the hull's own
    curve without it. Meant for ships: a planing boat would be given waves higher than herself.
    """
    if speed_water_m_s > HULL_SPEED * math.sqrt(GRAVITY_M_S2 * hull.loa_m):
        return None
    inner_m, outer_m = hull.ends_m()
    entrance_m = outer_m - inner_m if entrance_m is None else entrance_m
    length_m = hull.loa_m
    alpha = 2.35 * (1.0 - hull.block_coefficient)
    froude = speed_water_m_s / math.sqrt(GRAVITY_M_S2 * length_m) * math.exp(alpha * hull.draught_m / depth_m)
    beta = 1.0 + 8.0 * math.tanh(max(0.0, 0.45 * (length_m / entrance_m - 2.0))) ** 3
    rise = beta * max(0.0, froude - 0.1) ** 2
    return speed_water_m_s**2 / GRAVITY_M_S2 * rise / math.cbrt(distance_m / length_m)


def height_weggel_sorensen_m(
    displaced_m3: float, speed_water_m_s: float, depth_m: float, distance_m: float
) -> float | None:
    """Greatest wave height `distance_m` off the track; None outside depth Froude numbers of 0.2 to 0.8.

    J. R. Weggel & R. M. Sorensen (1986), "Ship wave prediction for port and channel design" (from memory): with
    all lengths over ∛W, H* = A x*^n, n = B d*^D, log₁₀ A = a + b log d* + c log² d*, and a, b, c, B, D functions
    of the depth Froude number.
    """
    froude = depth_froude(speed_water_m_s, depth_m)
    if not 0.2 <= froude <= 0.8:
        return None
    scale_m = math.cbrt(displaced_m3)
    log_depth = math.log10(depth_m / scale_m)
    if froude < 0.55:
        power = -0.225 * froude**-0.699 * (depth_m / scale_m) ** (-0.118 * froude**-0.356)
    else:
        power = -0.342 * (depth_m / scale_m) ** -0.146
    log_a = -0.6 / froude + 0.75 * froude**-1.125 * log_depth + (2.6531 * froude - 1.95) * log_depth**2
    return float(scale_m * 10.0**log_a * (distance_m / scale_m) ** power)


@dataclass(frozen=True, slots=True)
class ShipWaves:
    """Secondary waves at a place: height in a band of half to double, and when they come.

    `arrival_s` counts from her bow abeam; None when she stands still over the ground.
    """

    height_m: Band
    period_s: float
    length_m: float
    off_track_deg: float
    arrival_s: float | None


def ship_waves(
    passer: Hull,
    speed_water_m_s: float,
    speed_ground_m_s: float,
    depth_m: float,
    distance_m: float,
) -> ShipWaves | None:
    """Waves of a passing ship `distance_m` (> 0) off her track. None: too fast for any formula here, or at rest.
    Slower than the formulas reach there are next to none.

    The middle is the greater of the two regressions: they agree within a fifth where both hold, and the entrance
    of a ship known by AIS only is a guess.
    """
    if speed_water_m_s <= 0.0 or depth_froude(speed_water_m_s, depth_m) > FASTEST_FROUDE:
        return None
    wave = cusp(speed_water_m_s, depth_m)
    assert wave.length_m is not None and wave.period_s is not None
    heights_m = (
        height_kriebel_seelig_m(passer, speed_water_m_s, depth_m, distance_m),
        height_weggel_sorensen_m(passer.volume_m3, speed_water_m_s, depth_m, distance_m),
    )
    if depth_froude(speed_water_m_s, depth_m) > 0.2 and heights_m == (None, None):
        return None
    mid_m = max(height_m or 0.0 for height_m in heights_m)
    arrives_s = arrival_s(wave, distance_m, speed_ground_m_s) if speed_ground_m_s > 0.0 else None
    return ShipWaves(_doubtful(mid_m), wave.period_s, wave.length_m, wave.off_track_deg, arrives_s)


def _doubtful(mid: float) -> Band:
    return Band(mid / SPREAD, mid, mid * SPREAD)


# --- what they do to a moored ship --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class WavePush:
    """The most that regular waves can do across a moored ship: swinging force, its sway if nothing held her, and
    the mean push. `felt` tells whether it is worth a word."""

    swing_n: float
    free_sway_m: float
    drift_n: float
    felt: bool


def wave_push(moored: Hull, waves: ShipWaves, depth_m: float, off_axis_deg: float) -> WavePush:
    """Bounds for the upper end of the height band on a wall-sided hull that throws every wave back.

    `off_axis_deg`: between her fore-and-aft line and the way the waves travel (`off_track_deg` for a ship that
    passes parallel). Linear wave theory (standard results, from memory): the pressure of incident and reflected
    wave down to her keel, along her length no more than 1/|½kL cos b| of it in step; mean push
    ½ρga²(1 + 2kd/sinh 2kd) L sin² b. Short waves rarely load a large ship's moorings: her natural periods are
    many times theirs. So these loads are told where `felt`, and never added to the lines' tensions.
    """
    wave_number = 2.0 * math.pi / waves.length_m
    kd = wave_number * depth_m
    amplitude_m = 0.5 * waves.height_m.high
    keel = min(moored.draught_m, depth_m)
    kt, deep = wave_number * keel, math.exp(-2.0 * kd)  # (sinh kd − sinh(kd − kt)) / k cosh kd, for ripples too
    column_m = (1.0 - deep - math.exp(-kt) + math.exp(kt - 2.0 * kd)) / (wave_number * (1.0 + deep))
    phase = 0.5 * wave_number * moored.waterline_m * abs(math.cos(math.radians(off_axis_deg)))
    in_step = 1.0 / max(1.0, phase)
    weight = SEA_WATER_KG_M3 * GRAVITY_M_S2
    swing_n = 2.0 * weight * amplitude_m * column_m * moored.waterline_m * in_step
    across = math.sin(math.radians(off_axis_deg)) ** 2
    drift_n = 0.5 * weight * amplitude_m**2 * (1.0 + _shallowness(kd)) * moored.waterline_m * across
    free_sway_m = swing_n / (moored.displacement_kg * (2.0 * math.pi / waves.period_s) ** 2)
    felt = free_sway_m >= FREE_SWAY_FELT_M or drift_n >= DRIFT_FELT * moored.displacement_kg * GRAVITY_M_S2
    return WavePush(swing_n, free_sway_m, drift_n, felt)


# --- the primary wave ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Channel:
    """Cross-section of a channel: area of the water and width at its surface."""

    area_m2: float
    width_m: float

    @property
    def wave_speed_m2_s2(self) -> float:
        """Of its long waves, squared."""
        return GRAVITY_M_S2 * self.area_m2 / self.width_m


@dataclass(frozen=True, slots=True)
class Drawdown:
    """How far the water sinks beside a ship in a channel, and how fast it runs aft past her."""

    sinks_m: Band
    returns_m_s: Band


def limiting_speed_m_s(midship_m2: float, channel: Channel) -> float:
    """Schijf's (1949) limiting speed (from memory): F = [⅔(1 − Am/Ac + ½F²)]^1.5, V = F√(g Ac/b); 0 for a ship
    that fills the channel."""
    if midship_m2 >= channel.area_m2:
        return 0.0
    froude = 0.0
    for _ in range(200):
        froude = (2.0 / 3.0 * (1.0 - midship_m2 / channel.area_m2 + 0.5 * froude**2)) ** 1.5
    return float(froude * math.sqrt(channel.wave_speed_m2_s2))


def schijf(
    midship_m2: float, channel: Channel, speed_water_m_s: float, *, uneven: bool = False
) -> tuple[float, float]:
    """(drawdown_m, return_m_s) by energy and continuity, Schijf (1949), from memory.

    h = V²/2g [(Ac/Ac*)² − 1], U = V (Ac/Ac* − 1), Ac* = Ac − b·h − Am. `uneven`: the Rock Manual's factor
    1.4 − 0.4 V/V_lim on the first term, for a return flow that is not even over the section. Raises ValueError
    from the limiting speed on.
    """
    limit_m_s = limiting_speed_m_s(midship_m2, channel)
    if speed_water_m_s >= limit_m_s:
        raise ValueError("at or above the limiting speed of the channel")
    factor = 1.4 - 0.4 * speed_water_m_s / limit_m_s if uneven else 1.0
    left = float(left_over(midship_m2 / channel.area_m2, speed_water_m_s**2 / channel.wave_speed_m2_s2, factor))
    if math.isnan(left):
        raise ValueError("at or above the limiting speed of the channel")
    head_m = speed_water_m_s**2 / (2.0 * GRAVITY_M_S2)
    return head_m * (factor / left**2 - 1.0), speed_water_m_s * (1.0 / left - 1.0)


def left_over(blocked: ArrayLike, froude2: ArrayLike, factor: float = 1.0) -> Floats:
    """Ac*/Ac of Schijf's equations, in the shape of both: what is left of a section of which the ship blocks a
    share, at V² over that of its long waves; NaN where they have no answer.

    The greatest root of y³ − (1 − Am/Ac + ½F²) y² + ½fF² = 0, which lies between 1 and the critical one.
    """
    top = 1.0 - np.asarray(blocked) + 0.5 * np.asarray(froude2)
    cosine = 1.0 - 6.75 * factor * np.asarray(froude2) / top**3
    angle = np.arccos(np.where((cosine >= -1.0) & (np.asarray(blocked) < 1.0), cosine, np.nan)) / 3.0
    return np.asarray(top / 3.0 * (1.0 + 2.0 * np.cos(angle)))


def dand_white_m(midship_m2: float, channel: Channel, speed_water_m_s: float) -> float:
    """Drawdown by Dand & White (1978), 8.8 (Am/Ac)^1.4 V²/2g, from memory: a check on Schijf's."""
    return 8.8 * math.pow(midship_m2 / channel.area_m2, 1.4) * speed_water_m_s**2 / (2.0 * GRAVITY_M_S2)


def drawdown(passer: Hull, channel: Channel, speed_water_m_s: float) -> Drawdown:
    """Drawdown and return flow beside a ship in a channel whose cross-section is known.

    The middle lies half-way, on log paper, between Schijf with even and with uneven return flow; half to double
    holds both, and Dand & White between them. Never added to a passing-ship load. Raises as `schijf` does.
    """
    even, uneven = (schijf(passer.midship_area_m2, channel, speed_water_m_s, uneven=u) for u in (False, True))
    sinks_m, returns_m_s = (math.sqrt(a * b) for a, b in zip(even, uneven, strict=True))
    return Drawdown(_doubtful(sinks_m), _doubtful(returns_m_s))
