"""The flow round two hulls, one held still and one under way: who drives whom, place by place.

Unknown are the potential φ on the moored hull and, on the passer, ψ = φ − s: the potential of the stream past her
as seen from her own deck, s forward along her keel, for unit speed. Green's formula on both hulls, by the dipole
kernel D (images in surface, bed and quay included) alone:

    (2π − D₁₁) φ = D₁₂ ψ,        (2π − D₂₂) ψ = −4π s + D₂₁ φ.

No sources are left, because the interior flow s inside the passer takes their place. The left sides are set up
once for a hull and its water; the passer's own image in the quay and the moored hull's answer are put in by rounds
of correction, which is cheap once D₁₂ and D₂₁ are there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.passing.influence import between, mirrored, own
from monitor.physics.passing.panels import Panels

_ROUNDS: Final = 2  # of coupling; the first brings nearly all
_STILL: Final = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Afloat:
    """A hull in its water: panels, the inverse of 2π − D, and the stream potential ψ (n,) round it alone."""

    panels: Panels
    answer: Floats
    stream_m: Floats


def afloat(panels: Panels, depth_m: float | None, quay_y_m: float | None = None) -> Afloat:
    """Set a hull up over a bed, and before a quay that keeps its place in the hull's axes."""
    matrix = own(panels, depth_m, quay_y_m)
    answer = np.asarray(np.linalg.inv(2.0 * math.pi * np.eye(len(matrix)) - matrix), dtype=np.float64)
    return Afloat(panels, answer, answer @ (-4.0 * math.pi * panels.centre_m[:, 0]))


def potentials(
    moored: Afloat,
    passer: Afloat,
    place_m: Floats,
    course_deg: float,
    depth_m: float | None,
    quay_y_m: float | None,
) -> Floats:
    """φ (k, n) on the moored hull for unit speed of the passer, her midships at the places (k, 2), one heading.

    `passer` is set up without the quay; `moored` with it.
    """
    c, s = math.cos(math.radians(course_deg)), math.sin(math.radians(course_deg))
    turn = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])  # from her axes, as rows
    rest_m, area_m2 = passer.panels.centre_m @ turn, passer.panels.area_m2 @ turn
    at_m, own_area_m2 = moored.panels.centre_m, moored.panels.area_m2
    phi = np.empty((len(place_m), len(at_m)))
    image: Floats | None = None
    for k, (x, y) in enumerate(place_m):
        her_m = rest_m + np.array([x, y, 0.0])
        to_us, to_her = between(at_m, own_area_m2, her_m, area_m2, depth_m)
        if quay_y_m is not None:
            by_quay, back = between(mirrored(at_m, quay_y_m), mirrored(own_area_m2), her_m, area_m2, depth_m)
            to_us += by_quay
            to_her += back
            if image is None or k == 0 or abs(y - place_m[k - 1, 1]) > _STILL:
                image = between(mirrored(her_m, quay_y_m), area_m2, her_m, area_m2, depth_m)[0]
        half_m = passer.panels.centre_m[:, 0].max()
        abreast_m = np.clip((at_m[:, :2] - (x, y)) @ turn[0, :2], -half_m, half_m)
        level_m = to_us.sum(axis=1) * abreast_m
        psi = passer.stream_m
        phi[k] = moored.answer @ (to_us @ psi + level_m)
        for _ in range(_ROUNDS):
            felt = to_her @ phi[k]
            if image is not None:
                felt += image @ psi
            psi = passer.stream_m + passer.answer @ felt
            phi[k] = moored.answer @ (to_us @ psi + level_m)
    return phi


def impulse_shares(panels: Panels) -> Floats:
    """(n, 3): n dS of each panel in surge, sway and yaw, out of the hull."""
    a, at = panels.area_m2, panels.centre_m
    return np.stack([a[:, 0], a[:, 1], at[:, 0] * a[:, 1] - at[:, 1] * a[:, 0]], axis=1)


def half_squares(panels: Panels, phi: Floats) -> Floats:
    """½|∇φ|² (k, n) along the hull."""
    slopes = panels.slope_1_m @ phi.T  # (3, n, k)
    return np.asarray(0.5 * np.einsum("dnk,dnk->kn", slopes, slopes))
