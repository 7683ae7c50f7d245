"""Force on the moored hull along a straight line of the passer's, from the potential on the hull at places of it.

Unsteady Bernoulli, p = −ρ(∂φ/∂t + ½|∇φ|²), with φ = U ϕ and the moored hull at rest: per ρU²

    F = d/ds ∫ϕ n dS + ∫½|∇ϕ|² n dS,        s along her way, n out of the hull,

and the moment likewise with r × n. The first term is the slope of a quintic spline through the integrals; it adds
up to nothing over a whole pass.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from monitor.base.frames import Floats, hull_corners
from monitor.physics.passing.solve import Afloat, impulses

_FEWEST: Final = 9
_DEGREE: Final = 5
_SAME: Final = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A straight line of the passer's midships in the moored ship's axes, as far as it is wanted.

    `course_deg` (her heading too); `aside_m`, how far the line runs to starboard of our midships, seen along the
    course; `reach_m` each way from the point nearest us; `fine_m`, the length over which loads change near there;
    `places` to solve at on the whole of it, an odd number.
    """

    course_deg: float
    aside_m: float
    reach_m: float
    fine_m: float
    places: int

    def place_m(self, along_m: Floats) -> Floats:
        """Her midships (k, 2)."""
        c, s = math.cos(math.radians(self.course_deg)), math.sin(math.radians(self.course_deg))
        return np.stack([along_m * c - self.aside_m * s, along_m * s + self.aside_m * c], axis=-1)


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """Surge, sway (m²) and yaw (m³) over ρU², on a stretch of a line without a gap."""

    from_m: float
    to_m: float
    fine_m: float
    linear: Floats  # spline coefficients (k, 3) of ∫ϕ n dS
    square: Floats  # and of ∫½|∇ϕ|² n dS
    size: Floats  # (3,) root mean square at the places solved

    def covers(self, along_m: Floats) -> NDArray[np.bool_]:
        return np.asarray((along_m >= self.from_m) & (along_m <= self.to_m))

    def at(self, along_m: Floats) -> Floats:
        """(n, 3) at places on the stretch."""
        squeezed = np.arcsinh(along_m / self.fine_m)
        ends = np.arcsinh(np.array([self.from_m, self.to_m]) / self.fine_m)
        u = (squeezed - ends[0]) / (ends[1] - ends[0])
        value, slope = _basis(u, len(self.linear))
        per_m = 1.0 / ((ends[1] - ends[0]) * np.hypot(along_m, self.fine_m))
        return np.asarray((slope * per_m[:, None]) @ self.linear + value @ self.square)


def curves(
    moored: Afloat, passer: Afloat, line: Line, depth_m: float | None, quay_y_m: float | None, clear_m: float
) -> tuple[Curve, ...]:
    """The stretches of a line where the hulls stay `clear_m` apart and she as far from the quay, solved.

    A hull alike fore and aft that passes another such one on a parallel line is worked out for one half only.
    """
    mirrors = line.course_deg == 0.0 and moored.panels.alike and passer.panels.alike
    found = []
    for from_m, to_m in _stretches(moored, passer, line, quay_y_m, clear_m):
        low, high = (math.asinh(end / line.fine_m) for end in (from_m, to_m))
        whole = 2.0 * math.asinh(line.reach_m / line.fine_m)
        places = max(_FEWEST, math.ceil((line.places - 1) * (high - low) / whole - _SAME) + 1)
        along_m = line.fine_m * np.sinh(np.linspace(low, high, places))
        half = mirrors and abs(from_m + to_m) < _SAME * line.reach_m and places % 2 == 1
        solved_m = along_m[places // 2 :] if half else along_m
        linear, square = impulses(moored, passer, line.place_m(solved_m), line.course_deg, depth_m, quay_y_m)
        if half:
            linear, square = _both_halves(linear, [1.0, -1.0, 1.0]), _both_halves(square, [-1.0, 1.0, -1.0])
        fit = _fit(places)
        curve = Curve(from_m, to_m, line.fine_m, fit @ linear, fit @ square, np.zeros(3))
        size = np.sqrt(np.mean(curve.at(along_m) ** 2, axis=0))
        found.append(replace(curve, size=size))
    return tuple(found)


def _both_halves(values: Floats, mirror: list[float]) -> Floats:
    """From the middle on (k, 3) to the whole; what changes sign in the mirror is nothing in the middle."""
    whole = np.concatenate([values[:0:-1] * mirror, values])
    whole[len(values) - 1] *= np.maximum(mirror, 0.0)
    return whole


def _stretches(
    moored: Afloat, passer: Afloat, line: Line, quay_y_m: float | None, clear_m: float
) -> Iterator[tuple[float, float]]:
    along_m = line.reach_m * np.linspace(-1.0, 1.0, 2 * 80 + 1)
    place_m = line.place_m(along_m)
    clear = _gap_m(moored, passer, place_m, line.course_deg) >= clear_m
    if quay_y_m is not None:
        corner_y_m = _corners(passer, place_m, line.course_deg)[..., 1]
        clear &= np.all(math.copysign(1.0, quay_y_m) * (quay_y_m - corner_y_m) >= clear_m, axis=1)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], clear.astype(np.int8), [0]])))
    for start, stop in zip(edges[::2], edges[1::2] - 1, strict=True):
        if stop - start >= 4:
            yield float(along_m[start]), float(along_m[stop])


def _corners(hull: Afloat, place_m: Floats, course_deg: float) -> Floats:
    length_m, beam_m = np.ptp(hull.panels.corner_m[..., 0]), np.ptp(hull.panels.corner_m[..., 1])
    return hull_corners(
        place_m[:, 0], place_m[:, 1], np.full(len(place_m), course_deg), float(length_m), float(beam_m)
    )


def _gap_m(moored: Afloat, passer: Afloat, place_m: Floats, course_deg: float) -> Floats:
    """Clear water between the hulls taken as rectangles; not above 0 where they overlap. Separating axes."""
    hers = _corners(passer, place_m, course_deg)
    ours = _corners(moored, np.zeros((1, 2)), 0.0)[0]
    apart = np.full(len(place_m), -np.inf)
    for turn_deg in (0.0, course_deg):
        for axis_deg in (turn_deg, turn_deg + 90.0):
            axis = np.array([math.cos(math.radians(axis_deg)), math.sin(math.radians(axis_deg))])
            her, our = hers @ axis, ours @ axis
            apart = np.maximum(apart, np.maximum(her.min(axis=1) - our.max(), our.min() - her.max(axis=1)))
    return apart


# --- quintic splines through evenly spaced points on [0, 1] ---------------------------------------------------


@cache
def _fit(n: int) -> Floats:
    """(n, n): from values at the points to coefficients."""
    return np.asarray(np.linalg.inv(_basis(np.linspace(0.0, 1.0, n), n)[0]), dtype=np.float64)


@cache
def _knots(n: int) -> Floats:
    """Inner points, less the three next to each end, whose pieces are joined to their neighbours'."""
    inner = np.linspace(0.0, 1.0, n)[3:-3]
    return np.concatenate([np.zeros(_DEGREE + 1), inner, np.ones(_DEGREE + 1)])


def _basis(u: Floats, n: int) -> tuple[Floats, Floats]:
    """B-splines of the fifth degree and their slopes, (m, n), by Cox and de Boor's recursion."""
    t, u = _knots(n), np.clip(u, 0.0, 1.0)
    piece = np.clip(np.searchsorted(t, u, side="right") - 1, _DEGREE, n - 1)
    value = np.zeros((len(u), len(t) - 1))
    value[np.arange(len(u)), piece] = 1.0
    slope = value
    for degree in range(1, _DEGREE + 1):
        width = t[degree:] - t[:-degree]
        inverse = np.where(width > 0.0, 1.0 / np.where(width > 0.0, width, 1.0), 0.0)
        left, right = value[:, :-1] * inverse[:-1], value[:, 1:] * inverse[1:]
        slope = degree * (left - right)
        value = (u[:, None] - t[: -degree - 1]) * left + (t[degree + 1 :] - u[:, None]) * right
    return value, slope
