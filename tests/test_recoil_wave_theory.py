"""Recoil of a parted line against the theory of waves in a bar, and against a table computed from it.

A bar of stiffness EA and mass m per metre under tension T, let go at one end: that end runs at v₀ = T/√(EA m) at
once, the front that slackens it travels at c = √(EA/m), and after L₀/c the whole is slack and moves at v₀ (any
textbook of wave motion, e.g. Kolsky 1953, ch. 2). Non-linear: v = ∫ √((dT/dε)/m) dε (simple wave).

String drawn aside or struck: y = ½(f(x − ct) + f(x + ct)) + 1/(2c) ∫ g, c = √(T/μ), μ its mass a stretched metre
(d'Alembert 1747; any textbook). A kink of any size: fronts at √(T/(m(1 + ε))) per unstretched metre behind a bar
wave (the jump conditions of a perfectly flexible string; the same as in transverse impact, Smith, McCrackin and
Schiefer 1958, from memory), written out and solved below.
"""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from monitor.base.frames import Floats
from monitor.physics.lines import DEFAULTS
from monitor.physics.snapback import Led, Rope, linear_rope, recoil, release, usual_rope
from monitor.physics.snapback import chain as chains
from monitor.physics.snapback.bends import Bends
from monitor.physics.snapback.posts import Posts
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


EA_N, MASS_KG_M, TENSION_N = 5e6, 3.0, 500e3
STRAIN = TENSION_N / EA_N


def march_of(nodes_m: Floats) -> chains.March:
    """A string at TENSION_N along `nodes_m` (n, 2), fixed at both ends, without fittings, air or deck."""
    count = len(nodes_m) - 1
    length_m = np.hypot(*np.diff(nodes_m, axis=0).T)[:, None] / (1.0 + STRAIN)
    springs = np.ones((count, 1))
    chain = chains.Chains(
        nodes_m[:, :1].copy(), nodes_m[:, 1:].copy(), np.zeros((count + 1, 1)), np.zeros((count + 1, 1)),
        length_m, MASS_KG_M * springs, EA_N * springs, np.sqrt(EA_N / MASS_KG_M) * springs,
        np.zeros((count, 1), dtype=np.intp), 0.05 * springs,
    )  # fmt: skip
    none, no = np.zeros((1, 0)), np.zeros((1, 0), dtype=np.intp)
    bends = Bends(none, none, none, none, none, none, no, no, none > 0.0, none.astype(np.complex128))
    low = np.array([False])
    march = chains.March(chain, bends, Posts(none[0], none[0], none[0], 0.0, none > 0.0, low), low)
    march.lightness[-1] = 0.0
    return march


def shots_of(march: chains.March, until_s: float, monkeypatch: pytest.MonkeyPatch) -> chains.Flown:
    """Every step of the string left to itself."""
    on = march.on
    monkeypatch.setattr(chains, "_CROSSINGS", until_s / float((on.length_m / on.wave_m_s).sum()))
    law = chains.Law(np.array([[0.0, 2.0 * TENSION_N]]), np.array([2.0 * STRAIN]))
    march.unload(law, TENSION_N, 10_000)
    return march.flown()


def d_alembert(f: Floats, g: Floats, moved: int, spacing_s: float) -> Floats:
    """Shape (n,) of a string with fixed ends after its waves have run `moved` nodes: f drawn, g struck."""
    n = len(f) - 1
    odd_f, odd_g = (np.concatenate([each, -each[-2:0:-1]]) for each in (f, g))
    whole = np.concatenate([[0.0], np.cumsum(0.5 * (odd_g + np.roll(odd_g, -1)))]) * spacing_s
    at = np.arange(n + 1)
    left, right = at - moved, at + moved
    drawn = 0.5 * (odd_f[left % (2 * n)] + odd_f[right % (2 * n)])
    struck = 0.5 * (whole[right % (2 * n)] - whole[left % (2 * n)])  # ∫ over a whole period of an odd g is nothing
    return np.asarray(drawn + struck)


@pytest.mark.parametrize("how", ["plucked", "struck"])
def test_released_string(how: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let go from a triangle, or struck over a tenth of its length: d'Alembert's shapes for a whole period."""
    count, long_m, high_m = 120, 60.0, 0.3
    x = np.linspace(0.0, 1.0, count + 1)
    f = high_m * np.interp(x, [0.0, 0.3, 1.0], [0.0, 1.0, 0.0]) * (how == "plucked")
    march = march_of(np.column_stack([long_m * x, f]))
    c = np.sqrt(TENSION_N * (1.0 + STRAIN) / MASS_KG_M)
    g = (how == "struck") * c * 0.03 * np.sin(np.pi * np.clip((x - 0.4) / 0.2, 0.0, 1.0)) ** 2
    march.on.vy[:, 0] = g
    period_s = 2.0 * long_m / c
    flown = shots_of(march, 1.02 * period_s, monkeypatch)
    most_m = np.abs(d_alembert(f, g, 0, long_m / count / c)).max() or 0.5 * g.max() * 0.2 * long_m * 0.5 / c
    for share in (0.1, 0.25, 0.4, 0.5, 0.75, 1.0):
        shape = flown.y[int(np.abs(flown.times_s[:, 0] - share * period_s).argmin()), :, 0]
        expected = d_alembert(f, g, round(share * 2 * count), long_m / count / c)
        assert np.abs(shape - expected).max() < 0.06 * most_m
        assert np.sqrt(np.mean((shape - expected) ** 2)) < 0.02 * most_m


@pytest.mark.parametrize("half_turn_deg", [10.0, 30.0, 50.0])
def test_string_let_go_from_a_kink_of_any_size(half_turn_deg: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """What held a corner lets go: the middle runs at V = q tan α, q = √(T₁(1 + ε₁)/m), between two kinks at
    U = √(T₁/(m(1 + ε₁))) a unstretched metre; (ε₀ − ε₁)c = q(1/cos α − 1) and T₁ = EA ε₁ give the strain."""
    count, leg_m, alpha = 400, 30.0, np.radians(half_turn_deg)
    away_m = np.abs(np.linspace(-leg_m, leg_m, count + 1))
    side = np.sign(np.arange(count + 1) - count // 2)
    march = march_of(np.column_stack([side * away_m * np.cos(alpha), -away_m * np.sin(alpha)]))
    c = np.sqrt(EA_N / MASS_KG_M)
    low, high = 0.0, STRAIN
    for _ in range(60):
        e = 0.5 * (low + high)
        low, high = (e, high) if STRAIN - e > np.sqrt(e * (1.0 + e)) * (1.0 / np.cos(alpha) - 1.0) else (low, e)
    strain = 0.5 * (low + high)
    middle_m_s = c * np.sqrt(strain * (1.0 + strain)) * np.tan(alpha)
    kink_m_s = c * np.sqrt(strain / (1.0 + strain))
    legs_unstretched_m = leg_m / (1.0 + STRAIN)
    flown = shots_of(march, 0.95 * legs_unstretched_m / c, monkeypatch)  # until the ends are felt
    time_s, x, y = flown.times_s[-1, 0], flown.x[-1, :, 0], flown.y[-1, :, 0]
    fallen_m = -y[count // 2]
    assert fallen_m == pytest.approx(middle_m_s * time_s, rel=0.005)
    unstretched_m = np.linspace(-legs_unstretched_m, legs_unstretched_m, count + 1)
    flat = np.abs(unstretched_m) < 0.9 * kink_m_s * time_s
    assert flat.sum() > 20 and np.abs(y[flat] + fallen_m).max() < 0.04 * fallen_m  # straight across
    between = np.abs(unstretched_m) < 0.8 * c * time_s
    strains = np.hypot(np.diff(x), np.diff(y)) / march.on.length_m[:, 0] - 1.0
    assert strains[between[1:] & between[:-1]].mean() == pytest.approx(strain, rel=0.003)
    leg = (unstretched_m > 1.15 * kink_m_s * time_s) & (unstretched_m < 0.75 * c * time_s)
    slid_m_s = flown.vx[-1, leg, 0].mean() / np.cos(alpha)
    assert slid_m_s == pytest.approx((STRAIN - strain) * c, rel=0.01)
