"""Ship waves: the cusp against Havelock (1908) and a published example, heights and drawdown against figures
worked out independently, pushes against linear theory's limits."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from monitor.base.units import GRAVITY_M_S2, KNOT_M_S
from monitor.physics.hulls import Hull
from monitor.physics.wake import (
    Channel,
    ShipWaves,
    arrival_s,
    cusp,
    dand_white_m,
    drawdown,
    height_kriebel_seelig_m,
    height_weggel_sorensen_m,
    limiting_speed_m_s,
    schijf,
    ship_waves,
    wave_push,
)
from monitor.records.estimates import Band

CARGO = Hull(200.0, 190.0, 30.0, 10.0, 0.70, 0.95)
LAUNCH = Hull(25.0, 23.0, 7.0, 2.5, 0.45, 0.80)
COASTER = Hull(60.0, 57.0, 11.0, 4.0, 0.70, 0.95)
CANAL = Channel(4200.0, 300.0)

# Havelock (1908), solved independently: depth Froude number, half-angle, direction, C/V, wave length × g/V².
HAVELOCK = [
    (0.1, 19.4712, 35.2644, 0.8165, 4.1888),
    (0.5, 19.4752, 35.2624, 0.8165, 4.1890),
    (0.7, 20.2614, 34.8693, 0.8205, 4.2498),
    (0.8, 22.5000, 33.7500, 0.8315, 4.4505),
    (0.9, 28.5000, 30.7500, 0.8594, 5.1084),
    (0.95, 35.5028, 27.2486, 0.8890, 6.0894),
    (0.99, 51.0111, 19.4944, 0.9427, 9.4737),
]


@pytest.mark.parametrize("row", HAVELOCK)
def test_cusp_in_any_depth(row: tuple[float, ...]) -> None:
    froude, half_angle, direction, celerity, length = row
    speed = froude * math.sqrt(GRAVITY_M_S2 * 12.0)
    wave = cusp(speed, 12.0)
    assert wave.length_m is not None and wave.period_s is not None
    assert wave.half_angle_deg == pytest.approx(half_angle, abs=1e-4)
    assert wave.off_track_deg == pytest.approx(direction, abs=1e-4)
    assert wave.celerity_m_s / speed == pytest.approx(celerity, abs=6e-5)
    assert wave.length_m * GRAVITY_M_S2 / speed**2 == pytest.approx(length, abs=6e-5)
    assert wave.period_s == pytest.approx(wave.length_m / wave.celerity_m_s)


def test_cusp_over_the_whole_table(shared: Path) -> None:
    with (shared / "reference/passing/kelvin_cusp.csv").open() as lines:
        rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    assert len(rows) == 13
    for row in rows:
        speed = float(row["F_depth"]) * math.sqrt(GRAVITY_M_S2 * 9.0)
        wave = cusp(speed, 9.0)
        assert wave.period_s is not None
        assert wave.half_angle_deg == pytest.approx(float(row["alpha_deg"]), abs=1e-4)
        assert wave.period_s * GRAVITY_M_S2 / speed == pytest.approx(float(row["T_g_over_V"]), abs=1e-4)


def test_published_example() -> None:
    """Coastal Engineering Manual EM 1110-2-1100, II-7: 15 kn in deep water: 12.2 kn, 35.3°, 4.0 s, 83.4 ft."""
    wave = cusp(15.0 * KNOT_M_S, 500.0)
    assert wave.length_m is not None and wave.period_s is not None
    assert wave.celerity_m_s / KNOT_M_S == pytest.approx(12.2, rel=5e-3)
    assert wave.off_track_deg == pytest.approx(35.3, rel=5e-3)
    assert wave.period_s == pytest.approx(4.0, rel=1e-2)
    assert wave.length_m / 0.3048 == pytest.approx(83.4, rel=5e-3)


def test_above_the_critical_speed_there_is_only_a_front() -> None:
    """sin α = √(gd)/V; the front moves at √(gd), and nothing tells its height."""
    critical = math.sqrt(GRAVITY_M_S2 * 10.0)
    wave = cusp(2.0 * critical, 10.0)
    assert wave.half_angle_deg == pytest.approx(30.0)
    assert wave.celerity_m_s == pytest.approx(critical)
    assert wave.period_s is None
    assert ship_waves(LAUNCH, 2.0 * critical, 2.0 * critical, 10.0, 100.0) is None
    assert ship_waves(LAUNCH, 0.0, 1.0, 10.0, 100.0) is None
    for speed, depth in ((0.0, 10.0), (5.0, 0.0), (math.nan, 10.0)):
        with pytest.raises(ValueError, match="above zero"):
            cusp(speed, depth)


def test_when_they_arrive() -> None:
    """By the geometry of a pattern that moves with her: the cusp line trails at the half-angle."""
    wave = cusp(5.0, 100.0)
    assert arrival_s(wave, 150.0, 5.0) == pytest.approx(
        150.0 * math.sqrt(8.0) / 5.0, rel=1e-6
    )  # tan 19.47° = 1/√8
    assert arrival_s(wave, 150.0, 2.5) == pytest.approx(2.0 * arrival_s(wave, 150.0, 5.0))
    with pytest.raises(ValueError, match="no way"):
        arrival_s(wave, 150.0, 0.0)


# Both regressions worked out independently from the formulas as remembered (g = 9.81): not a check on nature.
KRIEBEL_SEELIG = {3.0: 0.00058, 4.0: 0.01727, 5.0: 0.08322, 6.0: 0.24522, 7.0: 0.56487}
WEGGEL_SORENSEN = {4.0: 0.02316, 5.0: 0.09863, 6.0: 0.26378, 7.0: 0.52203, 8.0: 0.86115}


@pytest.mark.parametrize("speed", KRIEBEL_SEELIG)
def test_kriebel_and_seelig_2005(speed: float) -> None:
    hull = Hull(200.0, 200.0, 30.0, 10.0, 0.70, 0.95)
    height = height_kriebel_seelig_m(hull, speed, 14.0, 150.0, entrance_m=50.0)
    assert height == pytest.approx(KRIEBEL_SEELIG[speed], rel=2e-3, abs=1e-5)


@pytest.mark.parametrize("speed", WEGGEL_SORENSEN)
def test_weggel_and_sorensen_1986(speed: float) -> None:
    assert height_weggel_sorensen_m(30000.0, speed, 14.0, 150.0) == pytest.approx(WEGGEL_SORENSEN[speed], rel=2e-3)


def test_the_two_regressions_agree_within_their_spread() -> None:
    for speed in (5.0, 6.0, 7.0):
        assert KRIEBEL_SEELIG[speed] == pytest.approx(WEGGEL_SORENSEN[speed], rel=0.2)


def test_outside_their_range_they_are_silent() -> None:
    assert height_weggel_sorensen_m(30000.0, 0.19 * math.sqrt(GRAVITY_M_S2 * 14.0), 14.0, 150.0) is None
    assert height_weggel_sorensen_m(30000.0, 0.81 * math.sqrt(GRAVITY_M_S2 * 14.0), 14.0, 150.0) is None
    assert height_kriebel_seelig_m(CARGO, 1.0, 14.0, 150.0) == 0.0
    hull_speed = 0.4 * math.sqrt(GRAVITY_M_S2 * LAUNCH.loa_m)
    assert height_kriebel_seelig_m(LAUNCH, 0.99 * hull_speed, 14.0, 30.0) is not None
    assert height_kriebel_seelig_m(LAUNCH, 1.01 * hull_speed, 14.0, 30.0) is None


def test_a_planing_boat_makes_no_wave_higher_than_a_boat() -> None:
    """Twelve metres at 16 kn, 30 m off: of the order of a metre, as wash by pleasure boats is (common practice, no
    source); and silence where neither regression holds."""
    boat = Hull(12.0, 11.3, 3.2, 0.8, 0.45, 0.80)
    waves = ship_waves(boat, 16.0 * KNOT_M_S, 16.0 * KNOT_M_S, 12.0, 30.0)
    assert waves is not None
    assert waves.height_m.low > 0.2 and waves.height_m.high < 2.5
    assert ship_waves(boat, 18.0 * KNOT_M_S, 18.0 * KNOT_M_S, 12.0, 30.0) is None
    creeping = ship_waves(boat, 1.0, 1.0, 12.0, 30.0)
    assert creeping is not None and creeping.height_m.mid < 0.02


def test_waves_of_a_passing_ship() -> None:
    waves = ship_waves(CARGO, 6.0, 5.0, 14.0, 150.0)
    assert waves is not None and waves.arrival_s is not None
    assert waves.height_m.high == pytest.approx(4.0 * waves.height_m.low)
    assert 0.2 < waves.height_m.mid < 0.4
    assert waves.arrival_s == pytest.approx(150.0 * math.sqrt(8.0) / 5.0, rel=0.01)
    farther, slower = ship_waves(CARGO, 6.0, 5.0, 14.0, 300.0), ship_waves(CARGO, 5.0, 5.0, 14.0, 150.0)
    assert farther is not None and slower is not None
    assert farther.height_m.mid < waves.height_m.mid
    assert slower.height_m.mid < 0.5 * waves.height_m.mid  # at least with the square of speed, in fact more
    still = ship_waves(CARGO, 6.0, 0.0, 14.0, 150.0)
    assert still is not None and still.arrival_s is None


def test_push_of_long_waves_is_hydrostatic() -> None:
    """On the beam, very long and shallow: a wall of water of twice the amplitude over the whole draught; mean push
    ρga² (twice that of deep water), both thrown back in full."""
    long = ShipWaves(Band(0.05, 0.1, 0.2), 100.0, 5000.0, 90.0, None)
    push = wave_push(COASTER, long, 10.0, 90.0)
    length, weight = COASTER.waterline_m, 1025.0 * GRAVITY_M_S2
    assert push.swing_n == pytest.approx(2.0 * weight * 0.1 * 4.0 * length, rel=1e-3)
    assert push.drift_n == pytest.approx(weight * 0.1**2 * length, rel=1e-3)
    short = ShipWaves(Band(0.05, 0.1, 0.2), 2.0, 6.2, 90.0, None)  # deep: column 1/k, mean push half as much
    push = wave_push(COASTER, short, 100.0, 90.0)
    assert push.swing_n == pytest.approx(
        2.0 * weight * 0.1 * 6.2 / (2.0 * math.pi) * length * (1.0 - math.exp(-8.0 * math.pi / 6.2)), rel=1e-6
    )
    assert push.drift_n == pytest.approx(0.5 * weight * 0.1**2 * length, rel=1e-6)
    ripple = ShipWaves(Band(0.0, 0.01, 0.02), 0.1, 0.016, 35.3, None)  # from a ship that has hardly begun to move
    push = wave_push(COASTER, ripple, 15.0, 35.3)
    assert 0.0 < push.swing_n < 1e3 and not push.felt


def test_push_bounds_the_sum_over_the_length() -> None:
    """Integral of the wave's phase along the hull, at every phase, never above the bound."""
    waves = ShipWaves(Band(0.1, 0.2, 0.4), 3.0, 14.0, 35.0, None)
    for off_axis in (0.0, 20.0, 35.0, 70.0, 90.0):
        bound = wave_push(COASTER, waves, 12.0, off_axis).swing_n
        k, length = 2.0 * math.pi / 14.0, COASTER.waterline_m
        x = np.linspace(-0.5 * length, 0.5 * length, 4001)
        along = k * math.cos(math.radians(off_axis)) * x
        column = (math.sinh(k * 12.0) - math.sinh(k * 8.0)) / (k * math.cosh(k * 12.0))
        sums = [np.trapezoid(np.cos(along + phase), x) for phase in np.linspace(0.0, math.pi, 37)]
        force = 2.0 * 1025.0 * GRAVITY_M_S2 * 0.2 * column * float(np.max(np.abs(sums)))
        assert force <= bound * (1.0 + 1e-6)


def test_force_is_told_only_where_it_matters() -> None:
    """A cargo ship passing slowly: for none. A fast craft passing close: for a launch and a coaster."""
    slow = ship_waves(CARGO, 4.0, 4.0, 14.0, 120.0)
    fast = ship_waves(Hull(60.0, 54.0, 12.0, 3.0, 0.42, 0.76), 9.0, 9.0, 14.0, 80.0)
    assert slow is not None and fast is not None
    for moored in (CARGO, COASTER):
        assert not wave_push(moored, slow, 14.0, slow.off_track_deg).felt
    for moored in (COASTER, LAUNCH):
        assert wave_push(moored, fast, 14.0, fast.off_track_deg).felt


# Midship 300 m², channel 4200 m² and 300 m: worked out independently (g = 9.81): drawdown and return by
# Schijf, the same with the uneven return flow, Dand & White.
DRAWDOWN = {
    2.0: (0.03381, 0.15946, 0.10860, 0.17199, 0.04459),
    3.0: (0.07988, 0.25075, 0.23011, 0.28899, 0.10033),
    4.0: (0.15294, 0.35897, 0.38981, 0.44085, 0.17837),
    5.0: (0.26594, 0.49707, 0.58842, 0.63989, 0.27870),
}


@pytest.mark.parametrize("speed", DRAWDOWN)
def test_drawdown(speed: float) -> None:
    sinks, returns, uneven_sinks, uneven_returns, by_dand = DRAWDOWN[speed]
    assert schijf(300.0, CANAL, speed) == pytest.approx((sinks, returns), rel=1e-3)
    assert schijf(300.0, CANAL, speed, uneven=True) == pytest.approx((uneven_sinks, uneven_returns), rel=1e-3)
    assert dand_white_m(300.0, CANAL, speed) == pytest.approx(by_dand, rel=1e-3)
    passer = Hull(200.0, 190.0, 30.0, 300.0 / (0.95 * 30.0), 0.70, 0.95)
    told = drawdown(passer, CANAL, speed)
    for each in (sinks, uneven_sinks, by_dand):
        assert told.sinks_m.low <= each <= told.sinks_m.high


def test_limiting_speed() -> None:
    assert limiting_speed_m_s(300.0, CANAL) == pytest.approx(7.96509, rel=1e-3)
    assert limiting_speed_m_s(0.0, CANAL) == pytest.approx(math.sqrt(GRAVITY_M_S2 * 14.0), rel=0.02)  # open water
    with pytest.raises(ValueError, match="limiting speed"):
        schijf(300.0, CANAL, 7.97)
    for filled in (CANAL.area_m2, 2.0 * CANAL.area_m2):  # her sizes or the section are wrong: no speed, no crash
        assert limiting_speed_m_s(filled, CANAL) == 0.0
        with pytest.raises(ValueError, match="limiting speed"):
            schijf(filled, CANAL, 0.5)


def test_drawdown_rises_steadily_up_to_the_limiting_speed() -> None:
    """Continuity: what passes aft is what she and the sunken surface leave of the section."""
    before = 0.0
    for speed in np.linspace(0.5, 7.9, 16):
        sunk, returns = schijf(300.0, CANAL, float(speed))
        assert sunk > before
        left = CANAL.area_m2 - CANAL.width_m * sunk - 300.0
        assert (speed + returns) * left == pytest.approx(speed * CANAL.area_m2, rel=1e-6)
        before = sunk
