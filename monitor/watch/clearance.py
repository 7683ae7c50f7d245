"""Distance between two hulls, both taken as rectangles."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from monitor.base.frames import Floats
from monitor.watch.fairway import Points


def half_reach_m(turned: Points, length_m: ArrayLike, beam_m: ArrayLike) -> tuple[Floats, Floats]:
    """Half extents (along, across) of a rectangle turned by an angle from our axes; `turned` = exp(i·angle)."""
    cos, sin = np.abs(turned.real), np.abs(turned.imag)
    length, beam = np.asarray(length_m), np.asarray(beam_m)
    return 0.5 * (length * cos + beam * sin), 0.5 * (length * sin + beam * cos)


def clearance_m(
    own_length_m: float,
    own_beam_m: float,
    centre: ArrayLike,
    turned: ArrayLike,
    length_m: ArrayLike,
    beam_m: ArrayLike,
) -> Floats:
    """Hull-to-hull distance, 0 when they touch or overlap; arrays broadcast.

    `centre`: the other's midships in own axes as ahead + i·starboard; `turned` = exp(i·(her heading − ours)).
    The shortest way between two rectangles apart from each other begins or ends at a corner; they are apart when
    one of the four directions of their sides separates them.
    """
    centre, turned = np.asarray(centre), np.asarray(turned)
    length, beam = np.asarray(length_m, dtype=np.float64), np.asarray(beam_m, dtype=np.float64)
    her_corner = 0.5 * (length + 1j * beam)
    own_corner = 0.5 * complex(own_length_m, own_beam_m)
    seen_by_her = -centre * np.conj(turned)  # our midships in her axes
    least2 = np.full(np.broadcast(centre, turned, length, beam).shape, np.inf)
    for hers in (her_corner, np.conj(her_corner), -her_corner, -np.conj(her_corner)):
        least2 = np.minimum(least2, _from_box2(centre + hers * turned, own_corner.real, own_corner.imag))
    for ours in (own_corner, own_corner.conjugate(), -own_corner, -own_corner.conjugate()):
        least2 = np.minimum(least2, _from_box2(seen_by_her + ours * np.conj(turned), 0.5 * length, 0.5 * beam))
    reach_x, reach_y = half_reach_m(turned, length, beam)
    own_x, own_y = half_reach_m(turned, own_length_m, own_beam_m)
    apart = (
        (np.abs(centre.real) > own_corner.real + reach_x)
        | (np.abs(centre.imag) > own_corner.imag + reach_y)
        | (np.abs(seen_by_her.real) > own_x + 0.5 * length)
        | (np.abs(seen_by_her.imag) > own_y + 0.5 * beam)
    )
    return np.where(apart, np.sqrt(least2), 0.0)


def _from_box2(point: Points, half_x: ArrayLike, half_y: ArrayLike) -> Floats:
    """Squared distance of a point (x + i·y) from a rectangle round the origin."""
    out_x = np.maximum(np.abs(point.real) - half_x, 0.0)
    out_y = np.maximum(np.abs(point.imag) - half_y, 0.0)
    return np.asarray(out_x * out_x + out_y * out_y)
