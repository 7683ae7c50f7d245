"""Slender-body theory of a ship passing a moored one: Wang's, for any course, with a sea bed and a quay wall.

S. Wang (1975), "Dynamic effects of ship passage on moored vessels", J. Waterways, Harbors and Coastal Eng. Div.
ASCE 101:247-258; the form used here was derived afresh from unsteady slender-body theory and agrees with it.

The passer is a line of sources along her own axis, of strength −U dA/ds with A the section area of the double body
(hull and mirror image in the calm surface). The moored ship feels how that flow changes in time at her axis: a
section of area A takes ρA ∂u/∂t along and ρ(A + a) ∂v/∂t across, ρa its added mass in cross flow, a = A for a
circle. Half of it belongs to the real hull. ∂/∂t at a fixed point is −U times the derivative along her course.

The bed acts by an endless column of images. A quay wall acts by the mirror image of the passer, and by the larger
added mass of a section beside its own mirror image.

Missing: what the bed adds to the moored ship's cross-flow added mass and to the blockage between the ships (so the
result reads low in shallow water, by half and more under a tenth of the draught of water), the flow's curvature
across a section, the end of the quay, the term in the square of the disturbance, her turning and her change of
speed, all waves. Against converged 3-D solutions: tests/test_spheroids_passing.py.
"""

from __future__ import annotations

import math
from functools import cache
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.hulls import Hull
from monitor.physics.loads import Loads
from monitor.physics.passing.encounter import Basin, Track

_NODES: Final = 40  # Gauss points to a ship's length, shared out among ends and middle body
_IMAGES: Final = 3  # bed images summed one by one on each side; the rest in closed form
_BLOCK: Final = 14_000  # numbers worked on at once: small arrays stay in the cache and are not mapped afresh


def slender_body_load(moored: Hull, passer: Hull, track: Track, basin: Basin) -> Loads:
    """Surge, sway and yaw (n,) on the moored ship at each point of the track; exactly quadratic in her speed.

    Nothing is checked here: see `encounter.review`.
    """
    x_m, width_m = _stations(moored)
    area_m2 = moored.section_area_m2(x_m)
    along, across = _flow_change(x_m, passer, track.x_m, track.y_m, track.course_deg, basin.depth_m)
    added = np.ones_like(area_m2)  # cross-flow added mass over displaced mass
    if basin.quay_y_m is not None:
        mirrored_m = 2.0 * basin.quay_y_m - track.y_m
        image = _flow_change(x_m, passer, track.x_m, mirrored_m, -track.course_deg, basin.depth_m)
        along, across = along + image[0], across + image[1]
        added = beside_wall(abs(basin.quay_y_m) / np.sqrt(2.0 / np.pi * area_m2))  # half circle of that area
    scale = basin.water_kg_m3 * track.speed_water_m_s**2
    driven_m3 = area_m2 * (1.0 + added) * width_m
    return Loads(
        scale * (along @ (area_m2 * width_m)), scale * (across @ driven_m3), scale * (across @ (driven_m3 * x_m))
    )


def shortfall(depth_over_draught: float) -> float:
    """How far the model reads low at most, as a share of the truth.

    Against converged 3-D solutions of ship shapes the sway was 18–23 % low at twice the draught of water, 52–58 %
    at 1.2 and 62–68 % at 1.1 (independent study, equal ships, no quay); against deep spheroids up to 11 %.
    """
    return float(np.interp(depth_over_draught, [1.1, 1.2, 2.0, 6.0], [0.68, 0.58, 0.23, 0.12]))


def beside_wall(distance_over_radius: Floats) -> Floats:
    """Added mass of a circle moving to or from a plane wall, over that of the fluid it displaces; 1 far away.

    Two circles moving apart, solved in bipolar coordinates: 4 sinh²µ Σ n e^(−2nµ) coth nµ with cosh µ the distance
    of the centre over the radius. At the wall it would reach π²/3 − 1 = 2.29; from 1.002 inwards the value there,
    2.17, is kept, for a section of that area may be fuller than a circle.
    """
    mu = np.arccosh(np.maximum(distance_over_radius, 1.002))[..., None]
    n = np.arange(1, 200)
    terms = n * np.exp(-2.0 * n * mu) / np.tanh(n * mu)
    return np.asarray(4.0 * np.sinh(mu[..., 0]) ** 2 * terms.sum(axis=-1))


def _flow_change(
    x_m: Floats, passer: Hull, passer_x_m: Floats, passer_y_m: Floats, course_deg: Floats, depth_m: float
) -> tuple[Floats, Floats]:
    """∂u/∂t and ∂v/∂t (n, k) at the places x_m (k,) on the moored ship's axis, for unit speed of the passer.

    Worked in the passer's own axes, where the distance off her line is the same for all her sources.
    """
    ends_m, width_m = _stations(passer, middle_body=False)
    source_m2 = passer.section_slope_m(ends_m) * width_m / (2.0 * np.pi)
    course = np.radians(course_deg)[:, None]
    ahead, aside = np.cos(course), np.sin(course)
    to_x, to_y = x_m - passer_x_m[:, None], -passer_y_m[:, None]
    ahead_m = to_x * ahead + to_y * aside
    off_line_m = to_y * ahead - to_x * aside  # to starboard of her

    on_line, off_line = np.empty_like(ahead_m), np.empty_like(ahead_m)
    points = max(1, _BLOCK // (x_m.size * ends_m.size))
    for start in range(0, len(ahead_m), points):
        part = slice(start, start + points)
        along_m = ahead_m[part, :, None] - ends_m
        cubes, fifths = _image_sums(along_m**2 + off_line_m[part, :, None] ** 2, depth_m)
        fifths *= along_m
        off_line[part] = -3.0 * off_line_m[part] * (fifths @ source_m2)
        fifths *= along_m
        on_line[part] = cubes @ source_m2 - 3.0 * (fifths @ source_m2)
    return on_line * ahead - off_line * aside, on_line * aside + off_line * ahead


def _image_sums(distance2_m2: Floats, depth_m: float) -> tuple[Floats, Floats]:
    """Σ r⁻³ and Σ r⁻⁵ over all n, r² = distance² + (2 n depth)²: a source in the surface, over a bed.

    Beyond the explicit images the sum is replaced by its integral and two corrections from its slopes there
    (Euler-Maclaurin, midpoint form); relative error below 3e-6 at any distance.
    """
    pitch_m = 2.0 * depth_m
    inverse2 = 1.0 / distance2_m2
    cubes = inverse2 * np.sqrt(inverse2)
    fifths = cubes * inverse2
    for n in range(1, _IMAGES + 1):
        inverse2 = 1.0 / (distance2_m2 + (n * pitch_m) ** 2)
        cube = 2.0 * inverse2 * np.sqrt(inverse2)
        cubes += cube
        fifths += cube * inverse2
    start_m = (_IMAGES + 0.5) * pitch_m
    inverse2 = 1.0 / (distance2_m2 + start_m**2)
    slant = start_m * np.sqrt(inverse2)  # 1 near by, 0 far off
    fine = pitch_m**2 * inverse2
    integral = inverse2 / (1.0 + slant)  # of r⁻³, from the start to infinity
    slope = 0.25 * pitch_m * slant * inverse2**2
    cubes += (2.0 / pitch_m) * integral - slope * (1.0 + 7.0 / 48.0 * fine * (3.0 - 7.0 * slant**2))
    fifths += (2.0 / 3.0 / pitch_m) * (2.0 + slant) * integral**2
    fifths -= 5.0 / 3.0 * slope * inverse2 * (1.0 + 49.0 / 80.0 * fine * (1.0 - 3.0 * slant**2))
    return cubes, fifths


_gauss = cache(np.polynomial.legendre.leggauss)


def _stations(hull: Hull, middle_body: bool = True) -> tuple[Floats, Floats]:
    """Gauss points and weights, m, along the hull, on each piece where the section area is smooth."""
    inner_m, outer_m = hull.ends_m()
    pieces = [(-outer_m, -inner_m), (inner_m, outer_m)]
    if middle_body and inner_m > 0.0:
        pieces.insert(1, (-inner_m, inner_m))
    places, widths = [], []
    for a, b in pieces:
        nodes, weights = _gauss(max(6, math.ceil(_NODES * (b - a) / hull.lpp_m)))
        places.append(0.5 * (a + b) + 0.5 * (b - a) * nodes)
        widths.append(0.5 * (b - a) * weights)
    return np.concatenate(places), np.concatenate(widths)
