"""Friction at a fairlead against the capstan equation, and brakes that render against what scipy solves."""

from __future__ import annotations

from typing import get_args

import numpy as np
import pytest
from scipy import integrate, optimize

from monitor.physics.fittings import (
    FRICTION,
    beyond_fairlead_n,
    capstan_ratio,
    rendering_n,
    usual_inboard_share,
)
from monitor.physics.lines import LineProperties, extension_at, payed_out_m, rendering, tend
from monitor.settings.schema import Material


@pytest.mark.parametrize(("friction", "ratio"), [(0.10, 6.6), (0.15, 16.9), (0.20, 43.4)])
def test_three_turns_of_a_capstan(friction: float, ratio: float) -> None:
    """e^(μ·6π), Euler–Eytelwein, as in any textbook of mechanics."""
    assert capstan_ratio(friction, 3 * 360.0) == pytest.approx(ratio, rel=0.005)


def test_friction_sums_up_over_the_bend() -> None:
    """dT = μT dθ integrated by scipy over 110° gives the closed form."""
    sol = integrate.solve_ivp(lambda _, t: 0.13 * t, (0.0, np.radians(110.0)), [1.0], rtol=1e-10)
    assert capstan_ratio(0.13, 110.0) == pytest.approx(sol.y[0, -1], rel=1e-7)


def test_a_load_cell_behind_a_right_angle() -> None:
    """At μ 0.15 and 90° a winch-side cell reads 21 % low or 27 % high: our reference sheet."""
    band = beyond_fairlead_n(100e3, "polyester", 90.0)
    assert (band.low / 100e3 - 1.0, band.high / 100e3 - 1.0) == pytest.approx((-0.21, 0.266), abs=0.005)


def test_every_material_has_its_friction_and_none_when_the_turn_is_unknown() -> None:
    assert set(FRICTION) == set(get_args(Material))
    for material in get_args(Material):
        assert usual_inboard_share(material, None) == 1.0
        assert 0.0 < usual_inboard_share(material, 90.0) < usual_inboard_share(material, 30.0) < 1.0


def test_brake_on_the_third_layer() -> None:
    """OCIMF MEG 2nd ed. (1997), 7.5.6: 80 % of the MBL on the first layer is about 65 % on the third."""
    third, bare = rendering_n(800e3, "tested", 2), rendering_n(800e3, "tested", 0)
    assert third.mid == pytest.approx(650e3) and bare.mid == pytest.approx(800e3)
    assert bare.low < bare.mid < bare.high


def test_an_unknown_brake_has_the_wider_band() -> None:
    known, unknown = rendering_n(400e3, "tested", 1), rendering_n(400e3, "not tested", None)
    spoilt = rendering_n(400e3, "oily, wet or rusty", None)
    assert unknown.low < known.low and unknown.high > known.high
    assert spoilt.low < unknown.low and spoilt.low >= 400e3 * 0.25 * 65 / 80 * 0.999


@pytest.mark.parametrize("share", [1.0, 0.7])
def test_the_lead_on_deck_carries_its_share(share: float) -> None:
    """The whole extension is that of two ropes in series under T and share·T, each by the line's own curve."""
    line = LineProperties("line", "polyester", 700e3, 25.0, inboard_share=share)
    table = tend([line], np.array([40.0]), np.array([0.0]))
    for tension_n in (70e3, 210e3, 350e3):
        expected_m = float(
            40.0 * line.strain(np.array(tension_n)) + 25.0 * line.strain(np.array(share * tension_n))
        )
        assert extension_at(table, np.array([tension_n]))[0] == pytest.approx(expected_m, rel=2e-3)


def test_friction_makes_a_line_stiffer() -> None:
    free, held = (
        tend(
            [LineProperties("x", "nylon 8-strand", 500e3, 30.0, inboard_share=s)],
            np.array([30.0]),
            np.array([40e3]),
        )
        for s in (1.0, 0.75)
    )
    one_m = (free.tended_extension_m + 1.0)[None], (held.tended_extension_m + 1.0)[None]
    assert held.at(one_m[1]).tension_n[0, 0] > free.at(one_m[0]).tension_n[0, 0]


def test_a_rendering_brake_is_the_curve_cut_off() -> None:
    """Below the setting nothing changes; above it the tension stays and energy grows by setting × run out."""
    line = LineProperties("line", "polyester and polypropylene mix", 645e3, 12.0)
    table = tend([line], np.array([45.0]), np.array([45e3]))
    setting_n = np.array([330e3])
    held = rendering(table, setting_n)
    corner_m = extension_at(table, setting_n)
    below, beyond = corner_m * np.linspace(0.1, 0.999, 50), corner_m + np.linspace(0.0, 9.0, 10)
    assert held.at(below[:, None]).tension_n == pytest.approx(table.at(below[:, None]).tension_n, rel=2e-3)
    slipped = held.at(beyond[:, None])
    assert slipped.tension_n[:, 0] == pytest.approx(np.full(10, 330e3), rel=1e-9)
    energy_j = table.at(corner_m[:, None]).energy_j[0, 0] + 330e3 * (beyond - corner_m)
    assert slipped.energy_j[:, 0] == pytest.approx(energy_j, rel=1e-4)
    assert payed_out_m(table, setting_n, beyond[:, None])[:, 0] == pytest.approx(beyond - corner_m, abs=1e-9)


def test_two_lines_one_of_which_renders() -> None:
    """A weight on two lines side by side: scipy finds the extension at which min(T₁, setting) + T₂ carries it."""
    lines = [LineProperties("a", "steel wire", 800e3), LineProperties("b", "polyester", 800e3)]
    table = tend(lines, np.array([50.0, 50.0]), np.zeros(2))
    held = rendering(table, np.array([300e3, np.inf]))
    both = lambda e: table.at(np.full((1, 2), e)).tension_n[0]  # noqa: E731
    extension_m = optimize.brentq(lambda e: min(both(e)[0], 300e3) + both(e)[1] - 500e3, 0.0, 6.0)
    assert held.at(np.full((1, 2), extension_m)).tension_n[0] == pytest.approx([300e3, 200e3], rel=2e-3)
