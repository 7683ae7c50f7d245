"""Recoil of a parted line against the theory of waves in a bar, and against a table computed from it.

A bar of stiffness EA and mass m per metre under tension T, let go at one end: that end runs at v₀ = T/√(EA m) at
once, the front that slackens it travels at c = √(EA/m), and after L₀/c the whole is slack and moves at v₀ (any
textbook of wave motion, e.g. Kolsky 1953, ch. 2). Non-linear: v = ∫ √((dT/dε)/m) dε (simple wave).
"""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from monitor.physics.lines import DEFAULTS
from monitor.physics.snapback import Led, Rope, linear_rope, recoil, release, usual_rope
from monitor.settings.schema import Material

# MBL N, kg/m, share of MBL → simple wave m/s, energy bound m/s, kJ/m: the study's table of recoil, computed from
# power laws T/MBL = (ε/ε_b)^n.
TABLE: list[tuple[Material, float, float, float, float, float, float]] = [
    ("nylon 8-strand", 571e3, 2.77, 0.25, 78.0, 69.0, 6.61),
    ("nylon 8-strand", 571e3, 2.77, 0.50, 134.0, 118.0, 19.42),
    ("nylon 8-strand", 571e3, 2.77, 1.00, 230.0, 203.0, 57.08),
    ("nylon double braid", 571e3, 2.77, 0.50, 113.0, 100.0, 13.87),
    ("polyester", 698e3, 3.27, 0.25, 52.0, 48.0, 3.78),
    ("polyester", 698e3, 3.27, 0.50, 94.0, 87.0, 12.41),
    ("polyester", 698e3, 3.27, 1.00, 171.0, 158.0, 40.73),
    ("polyester and polypropylene mix", 560e3, 1.98, 0.50, 114.0, 107.0, 11.43),
    ("polypropylene", 434e3, 1.85, 0.50, 104.0, 98.0, 8.86),
    ("HMPE", 1340e3, 0.95, 0.50, 94.0, 94.0, 4.19),
    ("aramid", 1100e3, 1.35, 0.50, 78.0, 78.0, 4.12),
    ("steel wire", 1110e3, 7.20, 0.25, 12.0, 12.0, 0.56),
    ("steel wire", 1110e3, 7.20, 1.00, 50.0, 50.0, 8.88),
]


def straight(rope: Rope, length_m: float = 60.0) -> Led:
    """Drum, fairlead half-way, bollard, in one line."""
    points = ((0.0, 0.0), (0.5 * length_m, 0.0), (length_m, 0.0))
    return Led(points, (0.0, 0.0, 0.0), (0.0, 0.0, 0.0), 1, rope)


@pytest.mark.parametrize(("material", "mbl_n", "mass", "share", "wave", "bound", "energy"), TABLE)
def test_speeds_and_energy_of_the_table(
    material: Material, mbl_n: float, mass: float, share: float, wave: float, bound: float, energy: float
) -> None:
    found = recoil(straight(Rope(DEFAULTS[material], mbl_n, mass)), share * mbl_n)
    assert found.speed_m_s == pytest.approx(wave, abs=0.7)
    assert found.bound_m_s == pytest.approx(bound, abs=0.7)
    assert found.energy_j_m == pytest.approx(energy * 1e3, rel=0.01)


def test_cited_rows_stand_in_the_table(shared: Path) -> None:
    rows = list(csv.DictReader((shared / "reference/lines/recoil_table.csv").open()))
    columns = ("MBL_kN", "load_frac_MBL", "v_simple_wave_m_s", "stored_energy_kJ_per_m")
    printed = {tuple(float(row[column]) for column in columns) for row in rows}
    assert all((mbl_n / 1e3, share, wave, energy) in printed for _, mbl_n, _, share, wave, _, energy in TABLE)


def test_usual_ropes_weigh_what_the_table_says() -> None:
    for material, mbl_n, mass, *_ in TABLE:
        diameter_m = {"HMPE": 0.044, "aramid": 0.044, "steel wire": 0.042}.get(material, 0.064)
        assert usual_rope(material, mbl_n, diameter_m).mass_kg_m == pytest.approx(mass, rel=0.01)


def test_what_stays_inside_slows_the_end() -> None:
    rope = usual_rope("polyester", 698e3, 0.064)
    whole, lossy = recoil(straight(replace(rope, loss=0.0)), 349e3), recoil(straight(rope), 349e3)
    assert lossy.energy_j == whole.energy_j  # what is stored is stored
    assert whole.speed_m_s * np.sqrt(1.0 - rope.loss) < lossy.speed_m_s < whole.speed_m_s


@pytest.mark.parametrize("strain_at_break", [0.016, 0.14])
def test_released_bar(strain_at_break: float) -> None:
    mass, mbl_n, tension_n = 3.0, 700e3, 350e3
    ea_n = mbl_n / strain_at_break
    rope, springs = linear_rope(ea_n, mass, mbl_n), 96
    part = release(straight(rope), tension_n, [60.0 - 1e-3], kick=0.0, springs=springs)[0]
    v0, c = tension_n / np.sqrt(ea_n * mass), np.sqrt(ea_n / mass)
    long_m = part.masses_kg.sum() / mass
    assert recoil(straight(rope), tension_n).speed_m_s == pytest.approx(v0, rel=1e-6)
    from_end_m = long_m * (1.0 - np.arange(springs + 1) / springs)
    spring_m = long_m / springs
    under_way = [i for i, t in enumerate(part.times_s) if 0.2 * long_m < c * t < 0.95 * long_m]
    assert len(under_way) >= 2
    for i in under_way:  # a break takes three springs' time, hence the front lags by half of that
        front_m = c * part.times_s[i] - 1.5 * spring_m
        back = -part.velocities_m_s[i, :, 0]
        assert np.all(np.abs(back[from_end_m < front_m - 6.0 * spring_m] / v0 - 1.0) < 0.05)
        assert np.all(np.abs(back[from_end_m > front_m + 6.0 * spring_m]) < 0.05 * v0)
        half_m = np.interp(0.5 * v0, back, from_end_m)
        assert half_m == pytest.approx(front_m, abs=2.5 * spring_m)
    slack = next(i for i, t in enumerate(part.times_s) if c * t > 1.05 * long_m)
    assert -part.velocities_m_s[slack, springs // 4 :, 0].mean() == pytest.approx(v0, rel=0.01)


def test_stored_energy_of_a_lead_round_corners_is_that_of_its_length() -> None:
    rope = linear_rope(5e6, 3.0, 700e3)
    led = Led(((0.0, 0.0), (20.0, 0.0), (20.0, 15.0), (50.0, 30.0)), (0.0,) * 4, (0.0,) * 4, 2, rope)
    inboard, outboard = release(led, 300e3, [30.0], kick=0.0, springs=24)
    whole_j = recoil(led, 300e3).energy_j
    assert inboard.energy_j[0] + outboard.energy_j[0] == pytest.approx(whole_j, rel=1e-6)
    assert inboard.energy_j[0] / whole_j == pytest.approx(30.0 / led.length_m, rel=1e-6)
