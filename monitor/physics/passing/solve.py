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
from monitor.physics.passing.influence import own
from monitor.physics.passing.meeting import meeting, sections
from monitor.physics.passing.panels import Panels

_MOST_ROUNDS: Final = 5  # of coupling; in deep water the first brings all
_SETTLED: Final = 0.005  # when a round changes no more of the greatest potential
_AT_ONCE: Final = 6  # places, so that what is kept of them stays in the cache
_MIRROR: Final = np.diag([1.0, -1.0, 1.0])


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
    ours, hers = [sections(moored.panels)], sections(passer.panels).turned(turn)
    if quay_y_m is not None:
        ours.append(ours[0].turned(_MIRROR, (0.0, 2.0 * quay_y_m)))
    at_m, half_m = moored.panels.centre_m[:, :2], passer.panels.centre_m[:, 0].max()
    phi, nothing = np.empty((len(place_m), len(at_m))), np.zeros(1)
    for start in range(0, len(place_m), _AT_ONCE):
        here_m = place_m[start : start + _AT_ONCE]
        meetings = [meeting(each, hers, here_m, depth_m) for each in ours]
        image = None
        if quay_y_m is not None:
            from_quay_m = here_m * [0.0, 1.0] - [0.0, quay_y_m]
            image = meeting(hers.turned(_MIRROR), hers, 2.0 * from_quay_m, depth_m)
        abreast_m = np.clip((at_m - here_m[:, None]) @ turn[0, :2], -half_m, half_m)
        stream = np.broadcast_to(passer.stream_m, (len(here_m), passer.stream_m.size))
        both = np.stack([stream, np.ones_like(stream)], axis=2)
        felt = sum((each.to_us(both) for each in meetings), nothing)
        level = felt[..., 1] * abreast_m
        psi, now = stream, (felt[..., 0] + level) @ moored.answer.T
        for _ in range(_MOST_ROUNDS):
            back = sum((each.to_her(now[..., None]) for each in meetings), nothing)
            if image is not None:
                back = back + image.to_us(psi[..., None])
            psi = stream + back[..., 0] @ passer.answer.T
            felt = sum((each.to_us(psi[..., None]) for each in meetings), nothing)
            before, now = now, (felt[..., 0] + level) @ moored.answer.T
            if np.abs(now - before).max() < _SETTLED * np.abs(now).max():
                break
        phi[start : start + _AT_ONCE] = now
    return phi


def impulse_shares(panels: Panels) -> Floats:
    """(n, 3): n dS of each panel in surge, sway and yaw, out of the hull."""
    a, at = panels.area_m2, panels.centre_m
    return np.stack([a[:, 0], a[:, 1], at[:, 0] * a[:, 1] - at[:, 1] * a[:, 0]], axis=1)


def half_squares(panels: Panels, phi: Floats) -> Floats:
    """½|∇φ|² (k, n) along the hull."""
    slopes = panels.slope_1_m @ phi.T  # (3, n, k)
    return np.asarray(0.5 * np.einsum("dnk,dnk->kn", slopes, slopes))
