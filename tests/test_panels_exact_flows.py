"""The panel method against flows that are known exactly, or were computed to many figures by other means.

Lamb's spheroids; a sphere beside a wall; one sphere passing another; two spheroids, with and without a quay and a
sea bed; added masses of a ship by an independent library. Figures marked "computed" come from converged expansions
made independently of this program; no measurement could be had.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from monitor.physics.hulls import hull_at_draught
from monitor.physics.passing.force import Curve, Line, curves
from monitor.physics.passing.influence import column, own
from monitor.physics.passing.panels import Panels, hull_panels, sectioned_panels, spheroid_panels
from monitor.physics.passing.solve import afloat, impulse_shares
from tests.test_spheroids_passing import DEEP, DRAUGHT, QUAY, SHALLOW, Row


def added_mass(panels: Panels, depth: float | None = None, quay: float | None = None) -> np.ndarray:
    """Of surge and sway, over the displaced mass."""
    turning = 2.0 * math.pi * np.eye(len(panels.centre_m)) - own(panels, depth, quay)
    still = panels.centre_m[:, :2]
    potential = np.linalg.solve(turning, -4.0 * math.pi * still) + still
    return -np.diag(potential.T @ impulse_shares(panels)[:, :2]) / panels.volume_m3


def k_factors(ratio: float) -> np.ndarray:
    """Lamb's k1 and k2 of a prolate spheroid: closed form (Lamb, Hydrodynamics, art. 114; from memory)."""
    e = math.sqrt(1.0 - ratio**-2)
    log = math.log((1.0 + e) / (1.0 - e))
    along, across = 2.0 * (1.0 - e**2) / e**3 * (0.5 * log - e), 1.0 / e**2 - (1.0 - e**2) / (2.0 * e**3) * log
    return np.array([along / (2.0 - along), across / (2.0 - across)])


def test_closed_form_against_lambs_table() -> None:
    """Lamb (1918), R&M 623, three decimals (read)."""
    for ratio, k1 in ((1.5, 0.305), (2.99, 0.122), (4.99, 0.059), (6.97, 0.036), (9.97, 0.021)):
        assert k_factors(ratio)[0] == pytest.approx(k1, abs=0.0014)


@pytest.mark.parametrize("ratio", [1.0, 2.0, 4.0, 7.0])
def test_added_mass_of_spheroids(ratio: float) -> None:
    """1 + k, which is what the loads go with, to 0.6 %; k itself to 1.5 %."""
    exact = np.array([0.5, 0.5]) if ratio == 1.0 else k_factors(ratio)
    ours = added_mass(spheroid_panels(ratio, 1.0, 24, 14))
    np.testing.assert_allclose(1.0 + ours, 1.0 + exact, rtol=0.006)
    np.testing.assert_allclose(ours, exact, rtol=0.015)


def test_errors_fall_with_the_square_of_the_panels_size() -> None:
    coarse, fine = (added_mass(spheroid_panels(2.0, 2.0, n, n // 2)) - 0.5 for n in (12, 24))
    assert abs(fine[1]) < 0.3 * abs(coarse[1])
    assert np.all(np.abs(fine) < 0.01)


# Distance of the centre over the radius; added mass across and along the wall over displaced mass (computed).
@pytest.mark.parametrize(
    ("away", "across", "along"),
    [(1.25, 0.607794, 0.551248), (1.5, 0.558657, 0.528618), (2.0, 0.523891, 0.511838), (3.0, 0.506980, 0.503481)],
)
def test_sphere_beside_a_wall(away: float, across: float, along: float) -> None:
    ours = added_mass(spheroid_panels(2.0, 2.0, 20, 14), quay=-away)
    np.testing.assert_allclose(1.0 + ours, [1.0 + along, 1.0 + across], rtol=0.006)


def test_a_sphere_over_a_bed() -> None:
    """A sphere in the surface moves along the bed's images as along a wall on both sides; far down they are gone.
    First terms of Lamb's series for one wall, 3/16 (a/h)³ (art. 99, from memory), summed over all images."""
    sphere = spheroid_panels(2.0, 2.0, 20, 14)
    alone, over = added_mass(sphere), added_mass(sphere, depth=4.0)
    assert over[0] == pytest.approx(over[1], rel=0.02)  # along and across are one and the same here
    assert over[0] - alone[0] == pytest.approx(0.5 * 3.0 / 16.0 * 2.0 * 1.2020569 / 4.0**3, rel=0.1)
    assert added_mass(sphere, depth=40.0)[1] == pytest.approx(alone[1], rel=1e-3)


# --- sums over images ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("across", [0.3, 3.4, 3.6, 7.0, 9.9, 10.1, 14.9, 15.1, 22.9, 23.1, 41.9, 42.1, 60.0])
@pytest.mark.parametrize(("z", "source_z"), [(1.0, 2.0), (3.0, 4.0), (9.0, 8.5), (1.0, 9.0)])
def test_column_of_images_against_summing_them(across: float, z: float, source_z: float) -> None:
    """Depth 10 m, 40 001 images one by one; each of the six ways, close to where they meet: 8·10⁻⁵. Steps there of
    6·10⁻⁴ once rippled the sway at a quay by 2.4 % of its peak."""
    n = np.arange(-20_000, 20_001)
    c = shifted = mirrored = 0.0
    for sign in (1.0, -1.0):
        dz = z - sign * source_z - 20.0 * n
        cube = (across**2 + dz**2) ** -1.5
        c += cube.sum()
        shifted, mirrored = (shifted + dz @ cube, mirrored) if sign > 0 else (shifted, mirrored + dz @ cube)
    told = column(np.array([[across**2]]), np.array([z]), np.array([source_z]), 10.0)
    scale = c * np.array([1.0, 10.0, 10.0])
    exact = np.array([c, shifted - mirrored, -shifted - mirrored])
    assert np.all(np.abs(np.ravel(told) - exact) < 8e-5 * scale)


# --- one body passing another -------------------------------------------------------------------------------


@cache
def passes(length: float, beam: float, aside: float, depth: float | None, quay: float | None) -> Curve:
    """Two equal spheroids."""
    panels = spheroid_panels(length, beam, 40 if aside < 0.25 * length else 30, 14)
    line = Line(0.0, aside, 1.6 * length + 0.5 * aside, 0.8 * length + 0.5 * aside, 41)
    return curves(afloat(panels, depth, quay), afloat(panels, depth), line, depth, quay, 0.01 * length)[0]


# η/a, ξ/a, then Fx and Fy over ρU²a² on the whole sphere (computed to 1e-7).
@pytest.mark.parametrize(
    ("eta", "xi", "surge", "sway"),
    [
        (3.0, -2.0, -0.045828, -0.023509),
        (3.0, -1.0, -0.075065, 0.047919),
        (3.0, -0.5, -0.052189, 0.097910),
        (3.0, 0.0, 0.0, 0.120576),
        (3.0, 1.0, 0.075065, 0.047919),
        (5.0, -2.0, -0.009626, 0.003290),
        (5.0, 0.0, 0.0, 0.015155),
    ],
)
def test_a_sphere_passing_a_sphere(eta: float, xi: float, surge: float, sway: float) -> None:
    """To 1.5 % of the peak sway."""
    peak = {3.0: 0.120576, 5.0: 0.015155}[eta]
    ours = 2.0 * passes(2.0, 2.0, eta, None, None).at(np.array([xi]))[0]
    np.testing.assert_allclose(ours[:2], [surge, sway], atol=0.015 * peak)
    assert abs(ours[2]) < 0.01 * peak


@pytest.mark.parametrize("row", DEEP + QUAY + SHALLOW)
def test_two_spheroids(row: Row) -> None:
    """To 1.5 % of the peak of surge and sway, 2 % of that of yaw; L/B = 7, the whole force."""
    eta, quay, depth, xi, *told = row
    curve = passes(1.0, 1.0 / 7.0, eta, None if depth is None else depth * DRAUGHT, quay)
    unit = (math.pi / 2.0 * DRAUGHT**2) ** 2
    peaks = np.abs(curve.at(np.linspace(-1.0, 1.0, 201))).max(axis=0) / unit
    error = np.abs(curve.at(np.array([xi]))[0] / unit - told) / peaks
    assert np.all(error < [0.015, 0.015, 0.02]), error


def test_the_linear_part_gives_no_impulse() -> None:
    """∫F dt of ∂φ/∂t vanishes: what is left comes from the squared term. Both ends lie 1.6 lengths off."""
    curve = passes(1.0, 1.0 / 7.0, 0.25, None, None)
    along = np.linspace(curve.from_m, curve.to_m, 4001)
    linear = replace(curve, square=0.0 * curve.square).at(along)
    assert np.all(np.abs(np.trapezoid(linear, along, axis=0)) < 0.02 * np.trapezoid(np.abs(linear), along, axis=0))


def test_far_off_it_is_two_doublets() -> None:
    """Y abreast → 3ρU² V₁V₂(1 + k₁)(1 + k₂)/4πη⁴ for the double bodies; half of it for the hulls."""
    k1, k2 = k_factors(7.0)
    volume = math.pi / 6.0 / 49.0
    far = 3.0 * volume**2 * (1.0 + k1) * (1.0 + k2) / (4.0 * math.pi * 8.0**4) / 2.0
    assert passes(1.0, 1.0 / 7.0, 8.0, None, None).at(np.zeros(1))[0, 1] == pytest.approx(far, rel=0.02)


def test_shapes_of_the_curves_and_deep_water() -> None:
    """Surge and yaw odd, sway even; 20 draughts of water as good as endless (to 0.3 % of the peaks)."""
    xi = np.linspace(-1.0, 1.0, 21)
    deep, over = (
        passes(1.0, 1.0 / 7.0, 0.25, None, None).at(xi),
        passes(1.0, 1.0 / 7.0, 0.25, 20.0 * DRAUGHT, None).at(xi),
    )
    np.testing.assert_allclose(deep[::-1] * [-1.0, 1.0, -1.0], deep, atol=1e-9 * np.abs(deep).max())
    assert np.all(np.abs(over - deep).max(axis=0) < 3e-3 * np.abs(deep).max(axis=0))


# --- ships --------------------------------------------------------------------------------------------------


def test_meshes_hold_the_hull() -> None:
    hull = hull_at_draught(200.0, 200.0, 32.0, 10.0, 10.0, 0.80)
    panels = hull_panels(hull, 20, 12)
    assert panels.volume_m3 == pytest.approx(hull.volume_m3, rel=1e-4)
    assert panels.corner_m[..., 2].max() == pytest.approx(10.0, rel=1e-6)
    np.testing.assert_allclose(panels.area_m2[:, :2].sum(axis=0), 0.0, atol=1e-9)
    assert -panels.area_m2[:, 2].sum() < 0.0  # z down: the bottom looks down
    x = np.linspace(-100.0, 100.0, 201)
    again = sectioned_panels(x, hull.section_area_m2(x), 32.0, 10.0, 20, 12)
    np.testing.assert_allclose(again.centre_m, panels.centre_m, atol=0.25)


def test_added_mass_of_a_ship_against_capytaine() -> None:
    """Deep water, frequency nought (the rigid surface), the same mesh: 1 + k within 1 %."""
    cpt = pytest.importorskip("capytaine", reason="capytaine is not installed: an outside check only")
    panels = hull_panels(hull_at_draught(200.0, 200.0, 32.0, 10.0, 10.0, 0.80), 30, 18)
    corners = (panels.corner_m * [1.0, -1.0, -1.0]).reshape(-1, 3)
    body = cpt.FloatingBody(cpt.Mesh(vertices=corners, faces=np.arange(len(corners)).reshape(-1, 4)))
    ours = added_mass(panels)
    for which, name in enumerate(("Surge", "Sway")):
        body.add_translation_dof(name=name)
        problem = cpt.RadiationProblem(body=body, radiating_dof=name, omega=0.0, water_depth=np.inf, rho=1.0)
        theirs = cpt.BEMSolver().solve(problem).added_masses[name] / panels.volume_m3
        assert 1.0 + ours[which] == pytest.approx(1.0 + theirs, rel=0.01)
