"""Slender-body loads of a passing ship against Wang's (1975) double integrals, evaluated independently."""

from __future__ import annotations

import csv
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from monitor.physics.hulls import Hull, hull_at_draught, hull_from_ais
from monitor.physics.passing.encounter import Basin, Track
from monitor.physics.passing.slender import _image_sums, beside_wall, slender_body_load

DEEP = 1e7


def spheroid(length: float) -> Hull:
    """Parabolic section areas: a half-submerged spheroid, length over beam 7."""
    return Hull(length, length, length / 7.0, length / 14.0, np.pi / 6.0, np.pi / 4.0)


def straight(x: np.ndarray | float, y: float, course: float = 0.0, speed: float = 1.0) -> Track:
    x = np.atleast_1d(np.asarray(x, dtype=np.float64))
    return Track(x, np.full_like(x, y), np.full_like(x, course), np.full_like(x, speed))


def coefficients(
    length_ratio: float, eta: float, xi: np.ndarray | float, depth: float | None = None, quay: float | None = None
) -> np.ndarray:
    """(n, 3): X and Y over ρU² S₁S₂/L₁², N over ρU² S₁S₂/L₁, the passer to starboard; lengths over L₁."""
    length = 100.0
    moored, passer = spheroid(length), spheroid(length_ratio * length)
    basin = Basin(DEEP if depth is None else depth * length, None if quay is None else quay * length, 1.0)
    load = slender_body_load(moored, passer, straight(np.asarray(xi) * length, eta * length), basin)
    unit = moored.midship_area_m2 * passer.midship_area_m2 / length**2
    return np.stack([load.surge_n / unit, load.sway_n / unit, load.yaw_n_m / (unit * length)], axis=-1)


# Deep water: length ratio passer to moored, η/L₁, ξ/L₁, then CX, CY, CN (Gauss-Legendre, converged to 1e-8).
WANG_DEEP = [
    (0.5, 0.15, -1, 0.365000, -0.357724, 0.092578),
    (0.5, 0.15, -0.5, -1.735320, -6.424259, 0.290292),
    (0.5, 0.15, 0, 0.0, 9.600012, 0.0),
    (0.5, 0.15, 0.25, 2.820504, 5.549606, 4.266724),
    (0.5, 0.2, -0.5, -1.262954, -3.696027, -0.011893),
    (0.5, 0.3, 0.25, 1.014871, 1.693413, 1.032177),
    (0.5, 0.5, -1, 0.040837, -0.256186, 0.038804),
    (1, 0.15, -1, 1.039162, -2.233410, 0.674437),
    (1, 0.15, 0.25, 3.221672, 6.120545, 3.086029),
    (1, 0.2, -1, 0.668997, -1.799317, 0.478420),
    (1, 0.2, -0.5, -1.824308, -2.278760, -1.133256),
    (1, 0.2, 0, 0.0, 9.353600, 0.0),
    (1, 0.2, 0.25, 2.286948, 4.335795, 1.951653),
    (1, 0.3, -0.5, -1.106889, -0.883735, -0.591435),
    (1, 0.5, 0.25, 0.436390, 1.003997, 0.255464),
    (1.5, 0.15, -1, 0.338096, -5.468021, 0.943610),
    (1.5, 0.15, 0, 0.0, 9.108578, 0.0),
    (1.5, 0.2, 0.25, 1.252848, 5.012530, 0.520913),
    (1.5, 0.3, -0.5, -1.084711, 0.426060, -0.607658),
    (1.5, 0.5, -1, -0.094170, -0.706013, 0.025913),
]


@pytest.mark.parametrize("row", WANG_DEEP)
def test_deep_water(row: tuple[float, ...]) -> None:
    np.testing.assert_allclose(coefficients(*row[:3])[0], row[3:], rtol=1e-6, atol=1e-6)


def test_peaks_in_deep_water() -> None:
    """Equal ships, η = 0.2 L: surge 2.3781 at ±0.3158 L, repulsion 4.4677 at 0.7164 L, yaw 1.9986 at 0.2933 L."""
    xi = np.linspace(0.0, 1.2, 12001)
    surge, sway, yaw = coefficients(1.0, 0.2, xi).T
    for curve, peak, at in ((surge, 2.3781, 0.3158), (-sway, 4.4677, 0.7164), (yaw, 1.9986, 0.2933)):
        assert curve.max() == pytest.approx(peak, abs=6e-5)
        assert xi[curve.argmax()] == pytest.approx(at, abs=2e-4)


def wang_integrals(
    moored: Hull, passer: Hull, xi: float, eta: float, depth: float | None, images: int
) -> np.ndarray:
    """Wang's own integrals, 60 points a piece: X, Y, N for ρ = U = 1, same heading, the passer to starboard."""

    def pieces(hull: Hull) -> tuple[np.ndarray, np.ndarray]:
        nodes, weights = np.polynomial.legendre.leggauss(60)
        inner, outer = hull.ends_m()
        half, middle = 0.5 * (outer - inner), 0.5 * (outer + inner)
        return np.concatenate([half * nodes - middle, half * nodes + middle]), np.tile(half * weights, 2)

    (x1, w1), (x2, w2) = pieces(moored), pieces(passer)
    ahead = x2[None, :] - x1[:, None] + xi
    kernel = (ahead**2 + eta**2) ** -1.5
    for n in range(1, images + 1 if depth is not None else 1):
        kernel += 2.0 * (ahead**2 + eta**2 + (2.0 * n * (depth or 0.0)) ** 2) ** -1.5
    s1, ds1 = moored.section_area_m2(x1), moored.section_slope_m(x1)
    inner = kernel @ (w2 * passer.section_slope_m(x2))
    # N has S₁ itself in it: over the middle body that is one more integral
    nodes, weights = np.polynomial.legendre.leggauss(60)
    xm, wm = moored.ends_m()[0] * nodes, moored.ends_m()[0] * weights
    ahead_m = x2[None, :] - xm[:, None] + xi
    kernel_m = (ahead_m**2 + eta**2) ** -1.5
    for n in range(1, images + 1 if depth is not None else 1):
        kernel_m += 2.0 * (ahead_m**2 + eta**2 + (2.0 * n * (depth or 0.0)) ** 2) ** -1.5
    middle = moored.midship_area_m2 * float(wm @ (kernel_m @ (w2 * passer.section_slope_m(x2))))
    return np.array(
        [
            (w1 * ds1) @ ((kernel * ahead) @ (w2 * passer.section_slope_m(x2))) / (2.0 * np.pi),
            eta / np.pi * float((w1 * ds1) @ inner),
            eta / np.pi * (float((w1 * (s1 + x1 * ds1)) @ inner) + middle),
        ]
    )


def test_all_reference_rows(shared: Path) -> None:
    """The reference sums 60 bed images on each side and stops there: our own integrals show that, and by how much
    the whole sum differs."""
    with (shared / "reference/passing/wang_slender_body_check.csv").open() as lines:
        rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    assert len(rows) > 200
    for row in rows:
        ratio, eta, xi = (float(row[c]) for c in ("L2_over_L1", "eta_over_L1", "xi_over_L1"))
        told = np.array([float(row[c]) for c in ("CX", "CY", "CN")])
        if not row["h_over_L1"]:
            np.testing.assert_allclose(coefficients(ratio, eta, xi)[0], told, rtol=1e-6, atol=1e-6)
            continue
        depth = float(row["h_over_L1"])
        moored, passer = spheroid(1.0), spheroid(ratio)
        unit = moored.midship_area_m2 * passer.midship_area_m2
        cut_short = wang_integrals(moored, passer, xi, eta, depth, 60) / unit
        np.testing.assert_allclose(cut_short, told, rtol=1e-6, atol=1e-6)
        np.testing.assert_allclose(coefficients(ratio, eta, xi, depth)[0], told, rtol=2e-4, atol=3e-4)


@pytest.mark.parametrize(("xi", "depth"), list(product((-0.9, -0.3, 0.0, 0.45), (0.05, 0.08, 0.3))))
def test_over_a_bed_with_ship_shaped_hulls(xi: float, depth: float) -> None:
    moored = Hull(1.05, 1.0, 0.17, 0.04, 0.83, 0.98)
    passer = Hull(0.75, 0.7, 0.12, 0.03, 0.591, 0.95)
    load = slender_body_load(moored, passer, straight(xi, 0.25), Basin(depth, None, 1.0)).at(0)
    whole = wang_integrals(moored, passer, xi, 0.25, depth, 2000)
    scale = moored.midship_area_m2 * passer.midship_area_m2
    np.testing.assert_allclose([load.surge_n, load.sway_n, load.yaw_n_m], whole, rtol=3e-6, atol=1e-5 * scale)


def test_image_sum_with_its_tail_is_the_whole_sum() -> None:
    distance = np.geomspace(0.05, 40.0, 30)
    n = np.arange(-60000, 60001)
    cubes, fifths = _image_sums(distance**2, 1.0)
    whole = [np.sum((r**2 + (2.0 * n) ** 2) ** -1.5) for r in distance]
    np.testing.assert_allclose(cubes, whole, rtol=3e-6)
    whole = [np.sum((r**2 + (2.0 * n) ** 2) ** -2.5) for r in distance]
    np.testing.assert_allclose(fifths, whole, rtol=3e-6)


def test_deep_water_is_the_limit_of_the_image_sum() -> None:
    """At twenty times the draught the bed is out of reach: 0.1 % (known of the exact solution, too)."""
    xi = np.linspace(-1.0, 1.0, 21)
    deep = coefficients(1.0, 0.2, xi)
    over_bed = coefficients(1.0, 0.2, xi, 20.0 / 14.0)
    np.testing.assert_allclose(over_bed, deep, atol=2e-3 * np.abs(deep).max())
    np.testing.assert_allclose(coefficients(1.0, 0.2, xi, 50.0), deep, atol=1e-5)


def test_impulse_of_a_whole_passing_is_zero() -> None:
    """Time integral of ∂φ/∂t from rest to rest: exact for surge, sway and yaw, with bed and quay."""
    xi = 60.0 * np.sinh(np.linspace(-6.0, 6.0, 2001)) / np.sinh(6.0)
    for basin in ((None, None), (0.09, None), (None, -0.09)):
        curves = coefficients(0.8, 0.25, xi, *basin)
        impulse = np.trapezoid(curves, xi, axis=0)
        assert np.all(np.abs(impulse) < 1e-4 * np.trapezoid(np.abs(curves), xi, axis=0).max())


def test_exactly_quadratic_in_speed_and_linear_in_each_hull() -> None:
    moored, passer = spheroid(180.0), spheroid(140.0)
    basin = Basin(20.0)
    slow = slender_body_load(moored, passer, straight(30.0, 60.0, 0.0, 2.0), basin)
    fast = slender_body_load(moored, passer, straight(30.0, 60.0, 0.0, 6.0), basin)
    np.testing.assert_allclose(fast.sway_n, 9.0 * slow.sway_n, rtol=1e-14)
    still = slender_body_load(moored, passer, straight(30.0, 60.0, 0.0, 0.0), basin)
    assert still.surge_n[0] == still.sway_n[0] == still.yaw_n_m[0] == 0.0


def test_equal_symmetric_hulls() -> None:
    """Surge and yaw odd, sway even in the stagger."""
    xi = np.linspace(0.05, 1.5, 30)
    ahead, astern = (coefficients(1.0, 0.2, sign * xi, 0.1) for sign in (1.0, -1.0))
    np.testing.assert_allclose(astern * (-1.0, 1.0, -1.0), ahead, rtol=1e-9, atol=1e-9)


def test_far_field() -> None:
    """Abreast and far off Wang's sway is 3 ρU² V₁V₂·2/(4π η⁴) of double bodies, halved: thin bodies, k₂ = 1."""
    moored, passer = spheroid(100.0), spheroid(60.0)
    eta = 4000.0
    load = slender_body_load(moored, passer, straight(0.0, eta), Basin(1e9, None, 1.0)).at(0)
    far = 0.5 * 3.0 * (2.0 * moored.volume_m3) * (2.0 * passer.volume_m3) * 2.0 / (4.0 * np.pi * eta**4)
    assert load.sway_n == pytest.approx(far, rel=2e-3)


def by_differencing_in_time(
    moored: Hull, passer: Hull, x: float, y: float, course: float, depth: float, quay: float | None
) -> np.ndarray:
    """The same theory the slow way: the line source is moved, and the velocity at the moored axis differenced."""
    nodes, weights = np.polynomial.legendre.leggauss(40)

    def along(hull: Hull) -> tuple[np.ndarray, np.ndarray]:
        inner, outer = hull.ends_m()
        ends = [(-outer, -inner), (-inner, inner), (inner, outer)]
        at = np.concatenate([0.5 * (a + b) + 0.5 * (b - a) * nodes for a, b in ends])
        return at, np.concatenate([0.5 * (b - a) * weights for a, b in ends])

    x1, w1 = along(moored)
    x2, w2 = along(passer)
    strength = -2.0 * passer.section_slope_m(x2) * w2

    def velocity(px: float, py: float, heading: float) -> np.ndarray:
        source = np.stack([px + x2 * np.cos(heading), py + x2 * np.sin(heading)])
        to_x, to_y = x1[:, None] - source[0], -source[1][None, :]
        uv = np.zeros((2, x1.size))
        for n in range(-400, 401):
            r3 = (to_x**2 + to_y**2 + (2.0 * n * depth) ** 2) ** 1.5
            uv += np.stack([(to_x / r3) @ strength, (to_y / r3) @ strength]) / (4.0 * np.pi)
        return uv

    heading, step = np.radians(course), 1e-3
    change = np.zeros((2, x1.size))
    lines = [(x, y, heading)] + ([(x, 2.0 * quay - y, -heading)] if quay is not None else [])
    for px, py, h in lines:
        forward, back = (velocity(px + s * np.cos(h), py + s * np.sin(h), h) for s in (step, -step))
        change += (forward - back) / (2.0 * step)
    area = moored.section_area_m2(x1) * w1
    added = np.ones_like(x1)
    if quay is not None:
        added = beside_wall(abs(quay) / np.sqrt(2.0 * moored.section_area_m2(x1) / np.pi))
    return np.array(
        [area @ change[0], ((1.0 + added) * area) @ change[1], ((1.0 + added) * area * x1) @ change[1]]
    )


@pytest.mark.parametrize(
    ("course", "quay"), [(0.0, None), (25.0, None), (-140.0, None), (180.0, -18.0), (90.0, -18.0)]
)
def test_any_course_against_differences_in_time(course: float, quay: float | None) -> None:
    moored, passer = (
        hull_at_draught(180.0, 172.0, 32.0, 10.0, 10.0, 0.8),
        hull_at_draught(140.0, 132.0, 22.0, 8.0, 8.0, 0.7),
    )
    load = slender_body_load(moored, passer, straight(-35.0, 130.0, course), Basin(30.0, quay, 1.0)).at(0)
    slow = by_differencing_in_time(moored, passer, -35.0, 130.0, course, 30.0, quay)
    np.testing.assert_allclose([load.surge_n, load.sway_n, load.yaw_n_m], slow, rtol=2e-3)


def test_circle_beside_a_wall() -> None:
    """1.2588 at 1.5 radii (exact, from the reference study); 1 far off; rising towards π²/3 − 1 at the wall."""
    assert beside_wall(np.array(1.5)) == pytest.approx(1.2588, abs=5e-5)
    assert beside_wall(np.array(100.0)) == pytest.approx(1.0, abs=1e-4)
    # first images: 1 + ½ (radius/distance)²
    assert beside_wall(np.array(6.0)) == pytest.approx(1.0 + 0.5 / 36.0, abs=3e-4)
    near = beside_wall(np.array([0.9, 1.01, 1.1, 1.5, 3.0]))
    assert np.all(np.diff(near) < 0.0)
    assert 0.94 < near[0] / (np.pi**2 / 3.0 - 1.0) < 1.0


def test_a_ten_metre_boat_is_next_to_nothing() -> None:
    """Well under 1 kN on a 250 m tanker from 40 m off at 10 knots; lines hold hundreds."""
    tanker = hull_at_draught(250.0, 240.0, 44.0, 15.0, 15.0, 0.83)
    boat = hull_from_ais(37, 10.0, 3.0, None).hull
    load = slender_body_load(
        tanker, boat, straight(np.linspace(-200, 200, 61), 40.0, 0.0, 5.14), Basin(18.0, -23.5)
    )
    assert np.abs(load.surge_n).max() < 2e3
    assert np.abs(load.sway_n).max() < 2e3
