"""Curves kept for encounters that come again and again, each time a little different.

The same pass is asked for anew every few seconds with slightly other numbers. So a place of the passer is put on
the straight line she would follow, the line is rounded to a net of them, the panel solution is worked out on the
lines of that net next to it, and the load is read off between them, its shape in proportion and its size as a
power of the distance. What comes out hangs on what goes in alone, never on what was asked before: the stores only
save the work.

Rounded are her course (to 0.625°, the line turning about its point nearest us), the depth (by up to 1.5 % of the
water under the deeper keel) and her draught (0.05 m); the distance is interpolated. Both hulls are alike fore and
aft, so passes the other way and on the other side are the same lines seen in a mirror.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from monitor.base.frames import Floats
from monitor.physics.hulls import Hull
from monitor.physics.loads import Loads
from monitor.physics.passing.encounter import TURN_NOTICED_DEG, Basin, Track, grazing_m
from monitor.physics.passing.force import Curve, Line, curves
from monitor.physics.passing.panels import Panels, hull_panels
from monitor.physics.passing.solve import Afloat, afloat

COURSE_STEP_DEG: Final = 0.625
_COARSE_STEP_DEG: Final = 5.0  # from 1.5 mean lengths off, for a single place, and for a ship that turns
REACH: Final = 2.2  # mean lengths each way along a line, and half its distance more
_DEPTH_STEP: Final = 0.03  # at most, of the water under the deeper keel
_DRAUGHT_STEP_M: Final = 0.05
_ASIDE_STEP: Final = 0.2  # from line to line, as a share of the gap between the sides; less when that is small
_ROUND_HULL: Final = 14  # panels round the girth
_ALONG_HULL: Final = (28, 36)  # panels along it: the longest must stay below three quarters of the gap
_LENGTHS_OVER_GAP: Final = 1.75
_FAR: Final = 0.2  # gap over length from which fewer places do
_PLACES: Final = (29, 35)  # on a line, far and near
_CLEAR: Final = 0.2  # of the lesser beam: nearer than that no curve is worked out
_DEEP: Final = 3.0  # mean lengths: more water than that is as good as endless


@dataclass(frozen=True, slots=True)
class _Pass:
    """What a curve is worked out for, apart from the line."""

    moored: Hull
    passer: Hull
    depth_m: float | None
    quay_y_m: float | None  # to port, when there is one

    @property
    def length_m(self) -> float:
        return 0.5 * (self.moored.loa_m + self.passer.loa_m)

    @property
    def beam_m(self) -> float:
        return 0.5 * (self.moored.beam_m + self.passer.beam_m)


def panel_load(
    moored: Hull, passer: Hull, track: Track, basin: Basin, wanted: NDArray[np.bool_]
) -> tuple[Loads, NDArray[np.bool_]]:
    """Load (n,) at the wanted points of a track, and where there is one: it reaches REACH mean lengths along each
    line, and not where the hulls nearly touch. Elsewhere 0. Exactly quadratic in her speed."""
    of = _Pass(moored, _at_draught(passer), _round_depth_m(moored, passer, basin.depth_m), None)
    if basin.quay_y_m is not None:
        of = replace(of, quay_y_m=-abs(basin.quay_y_m))
    sign, course_deg, along_m, aside_m = _on_lines(track, basin.quay_y_m)
    turns = np.any(wanted) and np.ptp(course_deg[wanted]) > TURN_NOTICED_DEG
    fine = (np.abs(aside_m) < 1.5 * of.length_m) & (not turns and len(along_m) > 1)
    pitch_deg = np.where(fine, COURSE_STEP_DEG, _COARSE_STEP_DEG)
    course_deg = np.round(course_deg / pitch_deg) * pitch_deg + 0.0  # no −0
    step = _net(of, course_deg, aside_m)
    below = np.floor(step)
    result, weight = np.zeros((3, len(along_m))), np.zeros(len(along_m))
    for course, number in {*zip(course_deg[wanted].tolist(), below[wanted].tolist(), strict=True)}:
        pair = [_line(of, course, int(n)) for n in (number, number + 1.0)]
        here = wanted & (course_deg == course) & (below == number)
        here &= np.abs(along_m) <= max(line.reach_m for line in pair)
        if not np.any(here):
            continue
        found = [_curves(of, course, int(n)) for n in (number, number + 1.0)]
        sizes = _sizes(found, pair, of.beam_m)
        between = np.clip(step - number, 0.0, 1.0)[:, None]
        size = sizes[0] ** (1.0 - between) * sizes[1] ** between
        for stretches, own_size, share in zip(found, sizes, (1.0 - between, between), strict=True):
            for curve in stretches:
                on = here & curve.covers(along_m) & (share[:, 0] > 0.0)
                result[:, on] += (share[on] * size[on] / own_size * curve.at(along_m[on])).T
                weight[on] += share[on, 0]
    solved = weight > 0.0
    result *= sign * basin.water_kg_m3 * track.speed_water_m_s**2 / np.where(solved, weight, 1.0)
    return Loads(*result), solved


def _sizes(found: list[tuple[Curve, ...]], pair: list[Line], beam_m: float) -> list[Floats]:
    """How large the three loads are on each of two lines, (3,), for a power law between them.

    Where one is blocked, by the square of the distance.
    """
    if all(found):
        return [np.sqrt(np.mean([curve.size**2 for curve in each], axis=0)) for each in found]
    return [np.full(3, 1.0 / (line.aside_m**2 + beam_m**2)) for line in pair]


def _on_lines(track: Track, quay_y_m: float | None) -> tuple[Floats, Floats, Floats, Floats]:
    """Each point's line, seen in mirrors until she goes our way and the quay lies to port (without one: until her
    line runs to starboard): signs (3, n) of the load, course in degrees, how far along the line she is, how far
    aside it runs."""
    flip = np.full(track.x_m.shape, -1.0 if quay_y_m is not None and quay_y_m > 0.0 else 1.0)
    course = np.radians(track.course_deg) * flip
    y_m = track.y_m * flip
    turn = np.where(np.cos(course) < 0.0, -1.0, 1.0)
    x_m = track.x_m * turn
    ahead, aside = np.abs(np.cos(course)), np.sin(course)
    along_m, aside_m = x_m * ahead + y_m * aside, y_m * ahead - x_m * aside
    if quay_y_m is None:
        over = np.where(aside_m < 0.0, -1.0, 1.0)
        flip, aside, aside_m = flip * over, aside * over, aside_m * over
    return np.stack([turn, flip, turn * flip]), np.degrees(np.arctan2(aside, ahead)), along_m, aside_m


def _at_draught(passer: Hull) -> Hull:
    steps = max(1.0, round(passer.draught_m / _DRAUGHT_STEP_M))
    return replace(passer, draught_m=round(steps * _DRAUGHT_STEP_M, 6))


def _round_depth_m(moored: Hull, passer: Hull, depth_m: float) -> float | None:
    """To 1, 2 or 5 of a decimal place, whichever is nearest below 3 % of the water under the keel; None: deep."""
    deepest_m = max(moored.draught_m, _at_draught(passer).draught_m)
    if depth_m > max(20.0 * deepest_m, _DEEP * 0.5 * (moored.loa_m + passer.loa_m)):
        return None
    under_m = max(depth_m - deepest_m, 0.01 * deepest_m)
    decade = 10.0 ** math.floor(math.log10(_DEPTH_STEP * under_m))
    step_m = decade * max(n for n in (1.0, 2.0, 5.0) if n * decade <= _DEPTH_STEP * under_m)
    return round(max(round(depth_m / step_m), math.ceil((deepest_m + 0.5 * step_m) / step_m)) * step_m, 6)


def _net(of: _Pass, course_deg: Floats, aside_m: Floats) -> Floats:
    """The number, not whole, of a line that runs so far aside: closest where she grazes us."""
    touch, aside = grazing_m(of.moored, of.passer, course_deg) / of.beam_m, np.abs(aside_m) / of.beam_m
    number = (np.arcsinh(2.0 * (aside - touch)) + np.arcsinh(2.0 * touch)) / _ASIDE_STEP
    return np.asarray(np.sign(aside_m) * number)


def _line(of: _Pass, course_deg: float, number: int) -> Line:
    """Number `number` of the net."""
    touch = float(grazing_m(of.moored, of.passer, np.array(course_deg))) / of.beam_m
    aside = touch + 0.5 * math.sinh(_ASIDE_STEP * abs(number) - math.asinh(2.0 * touch))
    return line_of(of.moored, of.passer, course_deg, math.copysign(of.beam_m * aside, number))


def line_of(moored: Hull, passer: Hull, course_deg: float, aside_m: float) -> Line:
    """A line as long as the loads on it, with as many places as they need."""
    length_m, off_m = 0.5 * (moored.loa_m + passer.loa_m), 0.5 * abs(aside_m)
    near = _gap_m(moored, passer, course_deg, aside_m) < _FAR * length_m
    return Line(course_deg, aside_m, REACH * length_m + off_m, 0.7 * length_m + off_m, _PLACES[near])


@lru_cache(maxsize=8192)
def _curves(of: _Pass, course_deg: float, number: int) -> tuple[Curve, ...]:
    return line_curves(of.moored, of.passer, _line(of, course_deg, number), of.depth_m, of.quay_y_m)


def line_curves(
    moored: Hull, passer: Hull, line: Line, depth_m: float | None, quay_y_m: float | None
) -> tuple[Curve, ...]:
    """The panel solution along one line, nothing rounded; hulls in their water are kept."""
    gap_m = _gap_m(moored, passer, line.course_deg, line.aside_m)
    return curves(
        _afloat(moored, _fineness(moored, gap_m), depth_m, quay_y_m),
        _afloat(passer, _fineness(passer, gap_m), depth_m, None),
        line,
        depth_m,
        quay_y_m,
        _CLEAR * min(moored.beam_m, passer.beam_m),
    )


def _gap_m(moored: Hull, passer: Hull, course_deg: float, aside_m: float) -> float:
    """Clear water abreast; half a beam where an oblique line runs into the moored ship, and ends before her."""
    least_m = (0.5 if course_deg else _CLEAR) * min(moored.beam_m, passer.beam_m)
    return max(least_m, abs(aside_m) - 0.5 * (moored.beam_m + passer.beam_m))


def _fineness(hull: Hull, gap_m: float) -> int:
    """Panels along the hull."""
    return next((n for n in _ALONG_HULL if _LENGTHS_OVER_GAP * hull.lpp_m <= n * gap_m), _ALONG_HULL[-1])


@lru_cache(maxsize=40)  # 1 to 5 MB each; a busy berth asks for some 40 within minutes
def _afloat(hull: Hull, nx: int, depth_m: float | None, quay_y_m: float | None) -> Afloat:
    return afloat(_panels(hull, nx), depth_m, quay_y_m)


@lru_cache(maxsize=32)
def _panels(hull: Hull, nx: int) -> Panels:
    return hull_panels(hull, nx, _ROUND_HULL)
