"""Stream loads against the worked examples of UFC 4-159-03 "Design: Moorings" (3 October 2005), section 4-5."""

from __future__ import annotations

import math

import numpy as np
import pytest

from monitor.physics.current import current_load, transverse_coefficient
from monitor.physics.hulls import Hull

TANKER = Hull(183.0, 174.0, 32.2, 11.0, 0.82, 0.98)

# Table 4-6 (read): frigate FFG-7 in a beam stream of 1.5 m/s: draught over depth, transverse force in MN.
FFG_7 = [(0.096, 0.55), (0.288, 0.66), (0.576, 1.03), (0.72, 1.30), (0.96, 1.90)]


@pytest.mark.parametrize(("draught_over_depth", "force_mn"), FFG_7)
def test_frigate_abeam(draught_over_depth: float, force_mn: float) -> None:
    """Her waterline (124.36 m), draught (4.389 m) and C₀ = 0.849 are from memory; the forces were read."""
    slenderness = (0.849 / 0.22) ** 2
    pressure_pa = 0.5 * 1024.6 * 1.5**2
    force_n = pressure_pa * 124.36 * 4.389 * transverse_coefficient(slenderness, draught_over_depth)
    assert force_n / 1e6 == pytest.approx(force_mn, abs=0.006)


def destroyer() -> Hull:
    """Waterline 161.2 m, beam 16.76 m, draught 6.40 m, 7.93e6 kg (from memory of Table 4-8)."""
    lpp = 161.2 / 1.01
    block = 7.93e6 / 1024.6 / (lpp * 16.76 * 6.40)
    return Hull(172.0, lpp, 16.76, 6.40, block, block / 0.6)


def test_destroyer_bow_on() -> None:
    """Stream of 1.544 m/s on the bow: 13.1 kN of form, 6.8 of friction, 39.4 of propellers, 59.4 in all (from
    memory); that the propellers make about two thirds was read."""
    hull = destroyer()
    assert hull.waterline_m == pytest.approx(161.2)
    load = current_load(hull, 50.0, 1.544, 180.0, propeller_area_ratio=100.0, water_kg_m3=1024.6).at()
    assert load.surge_n / 1e3 == pytest.approx(-59.3, abs=0.3)
    assert load.sway_n == pytest.approx(0.0, abs=1e-6)
    without = current_load(hull, 50.0, 1.544, 180.0, propeller_area_ratio=math.inf, water_kg_m3=1024.6).at()
    assert without.surge_n / 1e3 == pytest.approx(-13.1 - 6.8, abs=0.2)
    assert (load.surge_n - without.surge_n) / load.surge_n == pytest.approx(2.0 / 3.0, abs=0.01)


def test_where_the_stream_pushes() -> None:
    """Named by where it sets TOWARDS, off own bow: ahead and starboard positive."""
    astern, from_port, bow, from_starboard = (
        current_load(TANKER, 13.0, 1.0, towards).at() for towards in (0.0, 90.0, 180.0, 270.0)
    )
    assert astern.surge_n > 0.0 > bow.surge_n
    assert from_port.sway_n > 0.0 > from_starboard.sway_n
    assert abs(bow.sway_n) < 1e-6 * abs(bow.surge_n)
    assert abs(from_port.surge_n) < 1e-6 * from_port.sway_n


def test_yaw_turns_her_across_the_stream() -> None:
    """The push acts on the end that meets the stream (the unstable moment of any slender body)."""
    port_bow = current_load(TANKER, 13.0, 1.0, 160.0).at()  # comes from 20° on the port bow
    assert port_bow.sway_n > 0.0
    assert port_bow.yaw_n_m > 0.0  # bow to starboard
    starboard_quarter = current_load(TANKER, 13.0, 1.0, -20.0).at()
    assert starboard_quarter.sway_n < 0.0
    assert starboard_quarter.yaw_n_m > 0.0  # stern to port
    port_quarter = current_load(TANKER, 13.0, 1.0, 20.0).at()
    assert port_quarter.yaw_n_m < 0.0


def test_mirror_and_square() -> None:
    towards = np.array([10.0, 60.0, 90.0, 130.0, 175.0])
    one, other = (current_load(TANKER, 13.0, 1.0, sign * towards) for sign in (1.0, -1.0))
    np.testing.assert_allclose(one.surge_n, other.surge_n)
    np.testing.assert_allclose(one.sway_n, -other.sway_n)
    np.testing.assert_allclose(one.yaw_n_m, -other.yaw_n_m)
    twice = current_load(TANKER, 13.0, 2.0, towards)
    np.testing.assert_allclose(twice.sway_n, 4.0 * one.sway_n)
    growth = (twice.surge_n / one.surge_n)[[0, 1, 3, 4]]  # abeam there is none
    assert np.all((growth > 3.8) & (growth < 4.0))  # friction falls with Reynolds number
    calm = current_load(TANKER, 13.0, 0.0, towards)
    assert not np.any(calm.surge_n) and not np.any(calm.sway_n)


def test_water_under_the_keel() -> None:
    """Less of it, more load; in very deep water the coefficient is C₀, at the bed 3.2."""
    depth = np.array([11.5, 13.0, 16.0, 30.0, 3000.0])
    sway = current_load(TANKER, depth, 1.0, 90.0).sway_n
    assert np.all(np.diff(sway) < 0.0)
    slenderness = TANKER.waterline_m**2 * TANKER.midship_area_m2 / (TANKER.beam_m * TANKER.volume_m3)
    assert sway[-1] / (0.5 * 1025.0 * TANKER.waterline_m * 11.0) == pytest.approx(
        0.22 * math.sqrt(slenderness), rel=1e-4
    )
    assert transverse_coefficient(9.0, 1.0) == pytest.approx(3.2)
    with pytest.raises(ValueError, match="depth"):
        current_load(TANKER, np.array([12.0, 11.0]), 1.0, 90.0)


def test_shallow_beam_stream_is_of_the_order_of_the_tanker_curves() -> None:
    """Curves of the oil trade, laden tanker at 1.1 times her draught of water: 2.77 to 2.83 on LBP × draught."""
    sway = current_load(TANKER, 12.1, 1.0, 90.0).at().sway_n
    assert sway / (0.5 * 1025.0 * TANKER.lpp_m * 11.0) == pytest.approx(2.8, rel=0.1)
