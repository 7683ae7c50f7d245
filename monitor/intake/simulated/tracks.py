"""Where a simulated ship is, second by second: corners, speeds and a time she is at a place make a track.

Everything here is in the berth frame (`along` the quay, `off` its face), because that is how a scene is thought
out: "she passes 95 m off". `Berthed` and `LocalMap` turn it into positions.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.base.units import KNOT_M_S

Corner = tuple[float, float]  # (along_m, off_m)
_ARC_STEP_M: Final = 2.0


@dataclass(frozen=True, slots=True)
class Voyage:
    """What the script says of one ship's way.

    `corners` are rounded with `turn_radius_m`. `speeds` are (minute of the day, knots over ground), straight
    between the minutes and constant outside. She is at `along_m` of her path (the first place where it gets
    there) at `at_minute`. `headings`, (minute, degrees true), is for ships that do not go where they point: at a
    berth, or pushed by tugs; None means that she heads along her course. With `stays` she lies still at the end
    of her path; without, she is out of the scene.
    """

    corners: tuple[Corner, ...]
    speeds: tuple[tuple[float, float], ...]
    at_minute: float
    along_m: float
    turn_radius_m: float = 900.0
    headings: tuple[tuple[float, float | None], ...] = ((0.0, None),)
    stays: bool = False


@dataclass(frozen=True, slots=True)
class Track:
    """A ship's midships on a grid of whole seconds of the day; she does not exist outside it.

    Arrays of one length: seconds since the day began, place in the berth frame (m), heading and course (degrees
    relative to `along`, unwrapped), speed over ground (m/s), rate of turn (degrees a minute, + to starboard).
    """

    t_s: Floats
    along_m: Floats
    off_m: Floats
    heading_deg: Floats
    course_deg: Floats
    sog_m_s: Floats
    turn_deg_min: Floats

    def index(self, t_s: float) -> int:
        """Row of the whole second at or before a time within the track."""
        return min(max(int(t_s - self.t_s[0]), 0), len(self.t_s) - 1)


def rounded(corners: Sequence[Corner], radius_m: float) -> Floats:
    """A path (n, 2) through the corners, each rounded with an arc of the radius, smaller where legs are short."""
    points = [np.array(corner, dtype=float) for corner in corners]
    path = [points[0]]
    for before, corner, after in zip(points, points[1:], points[2:], strict=False):
        back, ahead = before - corner, after - corner
        back_m, ahead_m = float(np.hypot(*back)), float(np.hypot(*ahead))
        back, ahead = back / back_m, ahead / ahead_m
        half_rad = 0.5 * math.acos(float(np.clip(back @ ahead, -1.0, 1.0)))  # half the inner angle
        cut_m = min(radius_m / math.tan(half_rad), 0.5 * back_m, 0.5 * ahead_m)
        if cut_m < _ARC_STEP_M:
            path.append(corner)
            continue
        r_m = cut_m * math.tan(half_rad)
        bisector = (back + ahead) / np.hypot(*(back + ahead))
        centre = corner + bisector * r_m / math.sin(half_rad)
        first, last = corner + back * cut_m - centre, corner + ahead * cut_m - centre
        sweep_rad = math.atan2(first[0] * last[1] - first[1] * last[0], first @ last)
        for turned in np.linspace(0.0, sweep_rad, max(3, int(abs(sweep_rad) * r_m / _ARC_STEP_M))):
            c, s = math.cos(turned), math.sin(turned)
            path.append(centre + np.array([c * first[0] - s * first[1], s * first[0] + c * first[1]]))
    path.append(points[-1])
    return np.array(path)


def sail(voyage: Voyage, day_s: float, along_deg: float) -> Track:
    """The track of a voyage within a day of `day_s` seconds, at a quay of direction `along_deg`.

    Raises ValueError when the path never gets to the place the voyage names.
    """
    path = rounded(voyage.corners, voyage.turn_radius_m)
    way_m = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    t_s = np.arange(0.0, day_s + 1.0)
    minute, knots = np.array(voyage.speeds, dtype=float).T
    speed_m_s = np.interp(t_s, minute * 60.0, knots * KNOT_M_S)
    run_m = np.concatenate([[0.0], np.cumsum(0.5 * (speed_m_s[1:] + speed_m_s[:-1]))])
    run_m += _way_to(path, way_m, voyage.along_m) - np.interp(voyage.at_minute * 60.0, t_s, run_m)
    there = run_m >= 0.0
    if voyage.stays:
        speed_m_s = np.where(run_m < way_m[-1], speed_m_s, 0.0)
        run_m = np.minimum(run_m, way_m[-1])
    else:
        there &= run_m <= way_m[-1]
    t_s, run_m, speed_m_s = t_s[there], run_m[there], speed_m_s[there]
    along_m, off_m = np.interp(run_m, way_m, path[:, 0]), np.interp(run_m, way_m, path[:, 1])
    course_deg = _courses(run_m, way_m, path)
    heading_deg = course_deg + _turned_deg(voyage, t_s, course_deg + along_deg)
    turn_deg_min = np.gradient(heading_deg, t_s) * 60.0
    return Track(t_s, along_m, off_m, heading_deg, course_deg, speed_m_s, turn_deg_min)


def _turned_deg(voyage: Voyage, t_s: Floats, course_deg: Floats) -> Floats:
    """How far her heading differs from her course, degrees."""
    at_s = np.array([minute * 60.0 for minute, _ in voyage.headings])
    told = np.array([0.0 if heading_deg is None else 1.0 for _, heading_deg in voyage.headings])
    headings = [heading_deg for _, heading_deg in voyage.headings if heading_deg is not None]
    if not headings:
        return np.zeros(len(t_s))
    known_s = at_s[told > 0.0]
    heading_deg = np.interp(t_s, known_s, np.degrees(np.unwrap(np.radians(headings))))
    difference_deg = (heading_deg - course_deg + 180.0) % 360.0 - 180.0
    return np.asarray(np.interp(t_s, at_s, told) * difference_deg)


def _way_to(path: Floats, way_m: Floats, along_m: float) -> float:
    """Metres from the path's start to where it first crosses a place along the quay."""
    side = np.sign(path[:, 0] - along_m)
    crossing = np.flatnonzero(side[1:] * side[:-1] <= 0.0)
    if not len(crossing):
        raise ValueError(f"the path never comes to {along_m} m along")
    i = int(crossing[0])
    step_m = path[i + 1, 0] - path[i, 0]
    share = 0.0 if step_m == 0.0 else (along_m - path[i, 0]) / step_m
    return float(way_m[i] + share * (way_m[i + 1] - way_m[i]))


def _courses(run_m: Floats, way_m: Floats, path: Floats) -> Floats:
    """Course in degrees clockwise from `along` (off lies to the right of it), unwrapped, at distances run.

    Taken over the ten metres before and after, so that a course does not step at the joints of the path.
    """
    behind, ahead = np.clip(run_m - 10.0, 0.0, way_m[-1]), np.clip(run_m + 10.0, 0.0, way_m[-1])
    d_along = np.interp(ahead, way_m, path[:, 0]) - np.interp(behind, way_m, path[:, 0])
    d_off = np.interp(ahead, way_m, path[:, 1]) - np.interp(behind, way_m, path[:, 1])
    return np.asarray(np.degrees(np.unwrap(np.arctan2(d_off, d_along))))
