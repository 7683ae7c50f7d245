"""Angles, axes and the flat map round the berth.

Ship axes: origin amidships (half LOA) on the waterline, x forward, y to starboard, yaw positive bow to
starboard. Compass angles: degrees true, clockwise from north, [0, 360). Wind is named by where it comes FROM;
current set, course and heading by where they go TO.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# WGS 84 (NIMA TR8350.2): semi-major axis and first eccentricity squared.
_EQUATOR_RADIUS_M = 6378137.0
_ECCENTRICITY_2 = 6.69437999014e-3


def wrap360(angle_deg: float) -> float:
    """Any angle as a compass angle in [0, 360)."""
    wrapped = angle_deg % 360.0
    return 0.0 if wrapped == 360.0 else wrapped  # -1e-20 % 360 is 360.0 in floats


def wrap180(angle_deg: float) -> float:
    """Any angle as a turn in [-180, 180): positive clockwise (to starboard)."""
    return wrap360(angle_deg + 180.0) - 180.0


def off_bow_deg(from_direction_deg: float, heading_deg: float) -> float:
    """γ of the wind-coefficient tables: where it comes from, off the bow, positive from PORT, (-180, 180]."""
    return -wrap180(from_direction_deg - heading_deg)


def to_axes(north_m: float, east_m: float, heading_deg: float) -> tuple[float, float]:
    """A map vector in axes pointing along `heading_deg`: (ahead, to starboard), metres in, metres out."""
    c, s = math.cos(math.radians(heading_deg)), math.sin(math.radians(heading_deg))
    return north_m * c + east_m * s, east_m * c - north_m * s


def from_axes(ahead_m: float, starboard_m: float, heading_deg: float) -> tuple[float, float]:
    """Inverse of `to_axes`: (north, east)."""
    c, s = math.cos(math.radians(heading_deg)), math.sin(math.radians(heading_deg))
    return ahead_m * c - starboard_m * s, ahead_m * s + starboard_m * c


@dataclass(frozen=True, slots=True)
class LocalMap:
    """A plane tangent to the WGS 84 ellipsoid: good to 0.1 % of the distance within 20 km of its origin.

    Latitude must lie within ±85°. Scales are the radii of curvature taken half-way to the point
    (Bowring 1985, mid-latitude formula); checked in the tests against Karney's geodesics.
    """

    latitude_deg: float
    longitude_deg: float

    def to_plane(self, latitude_deg: float, longitude_deg: float) -> tuple[float, float]:
        """(north_m, east_m) of a position."""
        meridian_m, parallel_m = _metres_per_degree(0.5 * (latitude_deg + self.latitude_deg))
        return (
            (latitude_deg - self.latitude_deg) * meridian_m,
            wrap180(longitude_deg - self.longitude_deg) * parallel_m,
        )

    def to_position(self, north_m: float, east_m: float) -> tuple[float, float]:
        """(latitude_deg, longitude_deg) of a point of the plane."""
        meridian_m, _ = _metres_per_degree(self.latitude_deg)
        latitude_deg = self.latitude_deg + north_m / meridian_m
        for _ in range(2):  # the scale depends on the answer; two rounds reach 1e-9 degrees at 20 km
            meridian_m, parallel_m = _metres_per_degree(0.5 * (latitude_deg + self.latitude_deg))
            latitude_deg = self.latitude_deg + north_m / meridian_m
        return latitude_deg, wrap180(self.longitude_deg + east_m / parallel_m)


def _metres_per_degree(latitude_deg: float) -> tuple[float, float]:
    """Length of one degree along the meridian and along the parallel, WGS 84."""
    phi = math.radians(latitude_deg)
    w2 = 1.0 - _ECCENTRICITY_2 * math.sin(phi) ** 2
    meridian_radius_m = _EQUATOR_RADIUS_M * (1.0 - _ECCENTRICITY_2) / w2**1.5
    normal_radius_m = _EQUATOR_RADIUS_M / math.sqrt(w2)
    return math.radians(meridian_radius_m), math.radians(normal_radius_m * math.cos(phi))


def hull_corners(north_m: Floats, east_m: Floats, heading_deg: Floats, loa_m: float, beam_m: float) -> Floats:
    """Corners (n, 4, 2) in (north, east) of rectangular hulls whose midships lie at the given points."""
    c, s = np.cos(np.radians(heading_deg)), np.sin(np.radians(heading_deg))
    ahead = 0.5 * loa_m * np.array([1.0, 1.0, -1.0, -1.0])
    starboard = 0.5 * beam_m * np.array([-1.0, 1.0, 1.0, -1.0])
    north = north_m[:, None] + ahead * c[:, None] - starboard * s[:, None]
    east = east_m[:, None] + ahead * s[:, None] + starboard * c[:, None]
    return np.stack([north, east], axis=-1)
