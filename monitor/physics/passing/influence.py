"""What dipoles on panels do at a distance, under a rigid surface and over a flat bed: sums over endless images.

A panel of area vector a at q makes at p the potential a·(p − q)/r³ for a unit of its own potential (the kernel of
Green's formula). With R the distance across and the whole column of its images, in the surface z = 0 and the bed
z = h, that is

    D(p, q) = (a·R) C + a_z Z,    D(q, p) = −(a'·R) C + a'_z Z',    G = Σ 1/r over the column,
    C = −(∂G/∂R)/R,  Z = ∂G/∂z_q,  Z' = ∂G/∂z_p.

G is worked out in one of four ways, by the distance across against the depth h:

- under 0.35 h: the panel and its image in the surface; the rest of the column by its Taylor series;
- under 1 h: the seven nearest, and the Taylor series;
- under 4.2 h: the column's cosine series, G = (2/h)[−ln R + 2 Σ K₀(mπR/h) cos(mπz_p/h) cos(mπz_q/h)], m = 1, to
  m = 2 under 2.3 h and to m = 3 under 1.5 h;
- beyond: its first term, the flow in two dimensions.

Each is good to 8·10⁻⁵ where it is used. That is needed: before a quay the sway is what little is left of much.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from monitor.physics.passing.panels import Panels

Reals = NDArray[np.floating]

# Limits of the ways: distance across over depth.
_FEW, _NEAR, _THREE, _TWO, TWO_DIMENSIONS = 0.35, 1.0, 1.5, 2.3, 4.2
_CLOSE: Final = 2.0  # panels nearer than so many of their reaches are worked out exactly
_BLOCK: Final = 24_000  # numbers worked on at once, so that they stay in the cache
_SPLIT: Final = 3  # each way, for the first moments of close panels

# √x eˣ K₀(x) and √x eˣ K₁(x) as polynomials in 2/x, for x ≥ 2: Abramowitz & Stegun (1964), 9.8.6 and 9.8.8.
_K0: Final = (1.25331414, -0.07832358, 0.02189568, -0.01062446, 0.00587872, -0.00251540, 0.00053208)
_K1: Final = (1.25331414, 0.23498619, -0.03655620, 0.01504268, -0.00780353, 0.00325614, -0.00068245)

# Riemann's ζ at 3, 5 and 7.
_ZETA: Final = {3: 1.2020569031595943, 5: 1.03692775514337, 7: 1.0083492773819228}


def _tail(first: int) -> tuple[float, ...]:
    """The images not taken one by one: 2 Σ a⁻³, a⁻⁵ and a⁻⁷ over a = first, first + 2 and so on."""
    sums = []
    for power, zeta in _ZETA.items():
        even = zeta / 2.0**power
        whole = even if first % 2 == 0 else zeta - even
        sums.append(2.0 * (whole - sum(a**-power for a in range(2 - first % 2, first, 2))))
    return tuple(sums)


_FROM_2, _FROM_4, _FROM_5 = _tail(2), _tail(4), _tail(5)


def column(across2_m2: Reals, z_m: Reals, source_z_m: Reals, depth_m: float | None) -> tuple[Reals, ...]:
    """C (1/m³), Z and Z' (1/m²) in the shape of `across2_m2`; the depths z and that of the source broadcast to it.

    In the precision of what is given. None for the depth is water without a bottom. At zero distance the panel
    itself is left out.
    """
    if depth_m is None:
        return _few(across2_m2, z_m, source_z_m, None)
    z_m, source_z_m = (each[(None,) * (across2_m2.ndim - each.ndim)] for each in (z_m, source_z_m))
    reduced = across2_m2 * (1.0 / depth_m**2)
    least, most = float(reduced.min(initial=np.inf)), float(reduced.max(initial=0.0))
    deep_water = 2.0 * max(float(z_m.max(initial=0.0)), float(source_z_m.max(initial=0.0))) < 0.5 * depth_m
    if deep_water and most < _FEW**2:
        return _few(across2_m2, z_m, source_z_m, depth_m)
    c = (2.0 / depth_m) / np.where(across2_m2 > 0.0, across2_m2, np.inf)
    z, z_back = np.zeros_like(c), np.zeros_like(c)
    if least >= TWO_DIMENSIONS**2:
        return c, z, z_back
    level = np.zeros(c.shape, dtype=np.int8)
    limits = (TWO_DIMENSIONS, _TWO, _THREE, _NEAR, _FEW)
    for limit in limits if deep_water else limits[:-1]:
        level += reduced < limit**2
    for way, work in enumerate((_one_mode, _two_modes, _three_modes, _nearest, _few), start=1):
        where = level == way
        if not where.any():
            continue
        heights = [z_m, source_z_m] if way > 3 else [_waves(each, depth_m, way) for each in (z_m, source_z_m)]
        here = [np.broadcast_to(each, (*each.shape[: each.ndim - c.ndim], *c.shape)) for each in heights]
        c[where], z[where], z_back[where] = work(
            across2_m2[where], here[0][..., where], here[1][..., where], depth_m
        )
    return c, z, z_back


def _few(across2: Reals, z: Reals, source_z: Reals, depth_m: float | None) -> tuple[Reals, Reals, Reals]:
    level, mirrored = z - source_z, z + source_z
    c, shifted_sum = _one(across2, level)
    cube, mirrored_sum = _one(across2, mirrored)
    c = c + cube
    if depth_m is not None:
        for dz, total in ((level, shifted_sum), (mirrored, mirrored_sum)):
            rest = _rest(across2, dz, depth_m, _FROM_2)
            c += rest[0]
            total += rest[1]
    return c, shifted_sum - mirrored_sum, -shifted_sum - mirrored_sum


def _nearest(across2: Reals, z: Reals, source_z: Reals, depth_m: float) -> tuple[Reals, Reals, Reals]:
    level, mirrored = z - source_z, z + source_z - depth_m
    c, shifted_sum = _rest(across2, level, depth_m, _FROM_4)
    rest, mirrored_sum = _rest(across2, mirrored, depth_m, _FROM_5)
    c += rest
    for dz, total, images in ((level, shifted_sum, (-2, 0, 2)), (mirrored, mirrored_sum, (-3, -1, 1, 3))):
        for n in images:
            cube, pull = _one(across2, dz + n * depth_m)
            c += cube
            total += pull
    return c, shifted_sum - mirrored_sum, -shifted_sum - mirrored_sum


def _one(across2: Reals, dz: Reals) -> tuple[Reals, Reals]:
    """r⁻³ and dz r⁻³; 0 at no distance."""
    r2 = across2 + dz * dz
    if not r2.all():
        r2 = np.where(r2 > 0.0, r2, np.inf)
    cube = 1.0 / (r2 * np.sqrt(r2))
    return cube, dz * cube


def _rest(across2: Reals, dz: Reals, depth_m: float, sums: tuple[float, ...]) -> tuple[Reals, Reals]:
    """The images on both sides beyond those taken one by one, from Σ 1/r = Σ rˡ Pₗ/aˡ⁺¹, l = 2, 4 and 6."""
    third, fifth, seventh = (each / depth_m**power for each, power in zip(sums, _ZETA, strict=True))
    up2 = dz * dz
    c = third + (15.0 * seventh * up2 + 6.0 * fifth) * up2
    c += (1.875 * seventh * across2 - 22.5 * seventh * up2 - 1.5 * fifth) * across2
    pull = 2.0 * third + (6.0 * seventh * up2 + 4.0 * fifth) * up2
    pull += (11.25 * seventh * across2 - 30.0 * seventh * up2 - 6.0 * fifth) * across2
    return c, -dz * pull


def _waves(z_m: Reals, depth_m: float, modes: int) -> Reals:
    """Cosine and sine of πz/h, then of its multiples when more modes are asked for: (2 modes, ...)."""
    phase = (math.pi / depth_m) * z_m
    return np.stack([wave(m * phase) for m in range(1, modes + 1) for wave in (np.cos, np.sin)])


def _one_mode(across2: Reals, waves: Reals, source_waves: Reals, depth_m: float) -> tuple[Reals, Reals, Reals]:
    return _modes(across2, waves, source_waves, depth_m, ((1, 4),))


def _two_modes(across2: Reals, waves: Reals, source_waves: Reals, depth_m: float) -> tuple[Reals, Reals, Reals]:
    return _modes(across2, waves, source_waves, depth_m, ((1, 6), (2, 4)))


def _three_modes(across2: Reals, waves: Reals, source_waves: Reals, depth_m: float) -> tuple[Reals, Reals, Reals]:
    return _modes(across2, waves, source_waves, depth_m, ((1, 7), (2, 6), (3, 4)))


def _modes(
    across2: Reals, waves: Reals, source_waves: Reals, depth_m: float, modes: tuple[tuple[int, int], ...]
) -> tuple[Reals, Reals, Reals]:
    """Modes m, each with so many terms of the polynomials, fewer where x is large."""
    x = np.sqrt(across2)
    x *= math.pi / depth_m
    first = np.exp(-x)
    decay = first.copy()
    c, ups, downs = np.ones_like(x), np.zeros_like(x), np.zeros_like(x)
    for m, terms in modes:
        shrink = decay / np.sqrt(m * x)
        inverse = (2.0 / m) / x
        cos_z, sin_z = waves[2 * m - 2], waves[2 * m - 1]
        cos_s, sin_s = source_waves[2 * m - 2], source_waves[2 * m - 1]
        c += (2.0 * m) * x * shrink * _polynomial(_K1[:terms], inverse) * (cos_z * cos_s)
        shrink *= _polynomial(_K0[:terms], inverse)
        shrink *= -4.0 * math.pi * m / depth_m**2
        ups += shrink * cos_z * sin_s
        downs += shrink * cos_s * sin_z
        decay *= first
    c *= (2.0 / depth_m) / across2
    return c, ups, downs


def _polynomial(coefficients: tuple[float, ...], x: Reals) -> Reals:
    total = np.full_like(x, coefficients[-1])
    for each in coefficients[-2::-1]:
        total *= x
        total += each
    return total


# --- a hull upon itself -------------------------------------------------------------------------------------


def own(panels: Panels, depth_m: float | None, quay_y_m: float | None) -> Reals:
    """D of a hull upon itself (n, n), with its images in surface, bed and quay; rows add up to −2π exactly.

    Close panels are taken exactly, by the solid angle each part of them fills, and with the slope of the potential
    along them. A hull alike fore and aft is worked out for its after half.
    """
    (nx, ng), centre_m = panels.grid, panels.centre_m
    rows = ng * (nx // 2 if panels.alike else nx)
    matrix = np.zeros((rows, len(centre_m)))
    moments = np.zeros((3, *matrix.shape))
    stern_m = centre_m[:rows]
    for at_m in (stern_m,) if quay_y_m is None else (stern_m, mirrored(stern_m, quay_y_m)):
        x, y = at_m[:, :1] - centre_m[:, 0], at_m[:, 1:2] - centre_m[:, 1]
        c, z, _ = column(x * x + y * y, at_m[:, 2:], centre_m[:, 2], depth_m)
        matrix += (x * panels.area_m2[:, 0] + y * panels.area_m2[:, 1]) * c + z * panels.area_m2[:, 2]
        for turn, shift_m in _close_images(depth_m):
            image_m = at_m * [1.0, 1.0, turn] + [0.0, 0.0, shift_m]
            _sharpen(matrix, moments, image_m, panels)
    for moment, slope in zip(moments, panels.slope_1_m, strict=True):
        matrix += moment @ slope
    each = np.arange(rows)
    matrix[each, each] -= matrix.sum(axis=1) + 2.0 * math.pi
    if panels.alike:
        bow = matrix.reshape(nx // 2, ng, nx, ng)[::-1, :, ::-1]
        matrix = np.concatenate([matrix, bow.reshape(rows, -1)])
    return matrix


def mirrored(vector: Reals, quay_y_m: float = 0.0) -> Reals:
    """Points (or, with 0, directions) reflected in the quay."""
    return np.asarray(vector * [1.0, -1.0, 1.0] + [0.0, 2.0 * quay_y_m, 0.0])


def _close_images(depth_m: float | None) -> list[tuple[float, float]]:
    """Where the field point goes, z → turn·z + shift, when the panel's image is brought back to the panel."""
    if depth_m is None:
        return [(1.0, 0.0), (-1.0, 0.0)]
    pitch_m = 2.0 * depth_m
    return [(1.0, 0.0), (1.0, pitch_m), (1.0, -pitch_m), (-1.0, 0.0), (-1.0, pitch_m)]


def _sharpen(matrix: Reals, moments: Reals, at_m: Reals, panels: Panels) -> None:
    """Put the exact integral over close panels in place of the middle of the panel, in matrix and moments."""
    apart = at_m[:, None, :] - panels.centre_m
    distance2 = np.einsum("ijk,ijk->ij", apart, apart)
    close = distance2 < (_CLOSE * panels.reach_m) ** 2
    close &= distance2 > 0.0
    i, j = np.nonzero(close)
    if i.size == 0:
        return
    corner_m, centre_m = _split(panels.corner_m)
    angle = _solid_angle(at_m[i], corner_m[j])
    crude = np.einsum("ij,ij->i", apart[i, j], panels.area_m2[j]) / distance2[i, j] ** 1.5
    matrix[i, j] -= angle.sum(axis=1) + crude
    arm_m = centre_m[j] - panels.centre_m[j][:, None]
    for moment, part in zip(moments, np.einsum("is,isk->ki", angle, arm_m), strict=True):
        moment[i, j] -= part


def _split(corner_m: Reals) -> tuple[Reals, Reals]:
    """Corners (n, s², 4, 3) and middles (n, s², 3) of the parts of each panel."""
    u = np.linspace(0.0, 1.0, _SPLIT + 1)[:, None, None]
    a, b, c, d = (corner_m[:, None, None, i] for i in range(4))
    v = u.transpose(1, 0, 2)
    net = (1.0 - u) * ((1.0 - v) * a + v * d) + u * ((1.0 - v) * b + v * c)
    parts = np.stack([net[:, :-1, :-1], net[:, 1:, :-1], net[:, 1:, 1:], net[:, :-1, 1:]], axis=3)
    parts = parts.reshape(len(corner_m), _SPLIT**2, 4, 3)
    return parts, parts.mean(axis=2)


def _solid_angle(at_m: Reals, corner_m: Reals) -> Reals:
    """Solid angle (n, s) of panels (n, s, 4, 3), each as two triangles, seen from (n, 3); positive from inside.

    A. van Oosterom, J. Strackee (1983), "The solid angle of a plane triangle", IEEE Trans. Biomed. Eng. 30:125.
    """
    ray = corner_m - at_m[:, None, None, :]
    length = np.sqrt(np.einsum("...k,...k->...", ray, ray))
    a, b, c, d = (ray[:, :, i] for i in range(4))
    la, lb, lc, ld = (length[:, :, i] for i in range(4))
    ac, normal = np.einsum("...k,...k->...", a, c), np.cross(a, c)
    total: NDArray[np.float64] = np.zeros_like(la)
    for edge, le, sign in ((b, lb, -1.0), (d, ld, 1.0)):
        ae, ec = np.einsum("...k,...k->...", a, edge), np.einsum("...k,...k->...", edge, c)
        volume = sign * np.einsum("...k,...k->...", normal, edge)
        total += 2.0 * np.arctan2(volume, la * lc * le + ac * le + ae * lc + ec * la)
    return total
