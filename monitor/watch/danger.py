"""Where a parted line is worst: chance × speed on decks and quay, from many breaks of each line.

Chance is counted on squares of a metre: of all breaks, weighted by how likely they are, in how many some part of
the line flies over the square. Times its speed there, this grades where it is worst and nothing else. The lowest
grade is still a hazard: every square of every mooring deck and of the quay edge is marked, whatever was simulated.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from monitor.base.frames import Floats
from monitor.physics.snapback import Flights, Led, Swept, class_tension_n, flights, upward
from monitor.records.decks import QUAY, Area, Ground, Near, Reached, Ring, Rise, Site, Spot, WorstOfLine
from monitor.watch.scores import wilson

Marks = NDArray[np.bool_]
Values = NDArray[np.floating[Any]]
Counts = NDArray[np.intp]

CELL_M: Final = 1.0
STEP_M: Final = 0.9  # between the places of a flying line that are looked at
LEAST_M_S: Final = 1.0  # slower than this a line counts as come to rest; a metre of 64 mm polyester then holds 2 J
WITHIN_M: Final = 1.0  # of a person
HALF, MOST = 0.5, 0.9  # of all chance × speed on a ground: what grades 3 and 2 take in (ours)
CLASSES: Final = (5, 10, 15, 20)  # of 5 % of strength: width is set by geometry far more than by tension
BREAKS: Final = 100
BY_M: Final = 1.5  # "by" a fitting; farther off, the way to it is told


@dataclass(frozen=True)
class Field:
    """On squares from `corner` on, (forward, starboard): chance × speed, m/s; and chance, 0..1, that it is struck.

    `struck[b]` tells the squares met in break b, for asking how many of the breaks reach a place.
    """

    corner: Spot
    speed_m_s: Floats  # (nx, ny)
    chance: Floats
    struck: Marks  # (breaks, nx, ny)
    weights: Floats  # (breaks,), sum 1

    def cells_near(self, place: Spot, within_m: float) -> Marks:
        """Squares of which some part lies within a distance of a place, (nx, ny)."""
        shape = self.speed_m_s.shape
        away = []
        for at, corner, count in zip(place, self.corner, shape, strict=True):
            low = corner + CELL_M * np.arange(count)
            away.append(np.maximum(np.maximum(low - at, at - low - CELL_M), 0.0))
        return np.asarray(np.hypot(away[0][:, None], away[1][None, :]) <= within_m)

    def hits(self, place: Spot, within_m: float = WITHIN_M) -> Marks:
        """(breaks,): does any part of the line come within a distance of a place?"""
        near = self.cells_near(place, within_m)
        return np.asarray(self.struck[:, near].any(axis=1))


def field_of(flown: Flights, bounds: tuple[float, float, float, float]) -> Field:
    """The field of all breaks within (least forward, least starboard, most forward, most starboard)."""
    corner = math.floor(bounds[0]), math.floor(bounds[1])
    shape = math.ceil(bounds[2]) - corner[0], math.ceil(bounds[3]) - corner[1]
    count = len(flown.why)
    flat = np.zeros((count, shape[0] * shape[1]), dtype=np.float32)
    weights = np.zeros(count)
    for n, part in enumerate(flown.swept):
        b = n // 2  # both parts of a break
        weights[b] = part.weight
        at, fast = _flown_over(part)
        cell = np.floor((at - np.array(corner)) / CELL_M).astype(np.intp)
        inside = (cell >= 0).all(axis=1) & (cell < np.array(shape)).all(axis=1)
        np.maximum.at(flat[b], cell[inside, 0] * shape[1] + cell[inside, 1], fast[inside])
    weights /= weights.sum()
    speed = flat.reshape(count, *shape)
    struck = speed > 0.0
    return Field(
        (float(corner[0]), float(corner[1])),
        np.tensordot(weights, speed, axes=1),
        np.tensordot(weights, struck, axes=1),
        struck,
        weights,
    )


def _flown_over(part: Swept) -> tuple[Values, Values]:
    """Places (k, 2) at most STEP_M apart over which a part flies, and its speed there; at rest it is left out."""
    nodes, fast = part.lines_m, part.speeds_m_s
    moving = np.nonzero((fast >= LEAST_M_S).any(axis=1))[0]
    if not len(moving):
        return np.empty((0, 2)), np.empty(0)
    first, last = max(int(moving[0]) - 1, 0), min(int(moving[-1]) + 2, len(nodes))
    nodes, fast = nodes[first:last], fast[first:last]
    between = _parts(np.hypot(*np.moveaxis(np.diff(nodes, axis=1), 2, 0)))
    at, speed = _finer(np.moveaxis(nodes, 1, 0), between), _finer(fast.T, between)
    at, speed = np.moveaxis(at, 0, 1), speed.T
    apart_m = np.hypot(*np.moveaxis(np.diff(at, axis=0), 2, 0))
    steps = _parts(apart_m.T)
    at, speed = _finer(at, steps), _finer(speed, steps)
    fast_enough = speed >= LEAST_M_S
    return at[fast_enough], speed[fast_enough]


def _parts(lengths_m: Values) -> Counts:
    """Into how many parts each interval is cut, from its lengths (looks, intervals)."""
    longest_m = lengths_m.max(axis=0, initial=0.0)
    return np.asarray(np.maximum(np.ceil(longest_m / STEP_M), 1.0), dtype=np.intp)


def _finer(values: Values, parts: Counts) -> Values:
    """Along the first axis, each interval cut into so many equal parts."""
    if len(values) < 2:
        return values
    index = np.repeat(np.arange(len(parts)), parts)
    share = (np.arange(len(index)) - np.repeat(np.cumsum(parts) - parts, parts)) / parts[index]
    share = share.reshape(-1, *[1] * (values.ndim - 1)).astype(values.dtype)
    cut = values[index] + share * (values[index + 1] - values[index])
    return np.concatenate([cut, values[-1:]])


# --- grades -------------------------------------------------------------------------------------------------


def bounds_of(site: Site) -> tuple[float, float, float, float]:
    """All grounds together."""
    corners = np.array([corner for ground in site.grounds for corner in ground.outline])
    (x0, y0), (x1, y1) = corners.min(axis=0), corners.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)


def graded(site: Site, fields: Sequence[Field]) -> tuple[Area, ...]:
    """Where it is worst on each ground if any one of several lines parts: square by square the worst of them."""
    if not fields:
        return ()
    speed = np.max([field.speed_m_s for field in fields], axis=0)
    corner = fields[0].corner
    found = []
    for ground in site.grounds:
        values = np.where(_squares_on(ground, fields[0]), speed, 0.0)
        if values.any():
            worst = _shape(_least_holding(values, HALF), corner)
            wider = _shape(_least_holding(values, MOST), corner).union(worst)  # smoothing may not part them
            for grade, shape in ((2, wider), (3, worst)):
                found.append(Area(ground.name, grade, _rings(shape, Polygon(ground.outline))))
    return tuple(area for area in found if area.rings)


def _squares_on(ground: Ground, field: Field) -> Marks:
    """Squares that the ground covers in part or whole."""
    return _on(Polygon(ground.outline), field.corner, field.speed_m_s.shape)


@lru_cache(maxsize=64)
def _on(outline: Polygon, corner: Spot, shape: tuple[int, int]) -> Marks:
    x, y = (c + CELL_M * np.arange(n) for c, n in zip(corner, shape, strict=True))
    boxes = shapely.box(x[:, None], y[None, :], x[:, None] + CELL_M, y[None, :] + CELL_M)
    return np.asarray(shapely.intersects(outline, boxes))


def _least_holding(values: Floats, share: float) -> Marks:
    """The fewest squares that together hold a share of the sum; none when there is nothing."""
    order = np.argsort(-values, axis=None, kind="stable")
    summed = np.cumsum(values.ravel()[order])
    chosen = np.zeros(values.size, dtype=np.bool_)
    if summed[-1] > 0.0:
        chosen[order[: int(np.searchsorted(summed, (share - 1e-9) * summed[-1])) + 1]] = True
    return chosen.reshape(values.shape)


def _shape(chosen: Marks, corner: Spot) -> Polygon | MultiPolygon:
    """Squares as one shape with its steps smoothed, always outwards."""
    x, y = (c + CELL_M * n for c, n in zip(corner, np.nonzero(chosen), strict=True))
    whole: Polygon | MultiPolygon = shapely.coverage_union_all(shapely.box(x, y, x + CELL_M, y + CELL_M))
    return whole.buffer(1.5 * CELL_M).buffer(-0.9 * CELL_M).simplify(0.2 * CELL_M)


def _rings(shape: Polygon | MultiPolygon, within: Polygon | None = None) -> tuple[Ring, ...]:
    """Outlines of a shape, holes filled, the largest first."""
    filled = shapely.union_all([Polygon(part.exterior) for part in shapely.get_parts(shape)])
    cut = filled if within is None else filled.intersection(within)
    parts = [part for part in shapely.get_parts(cut) if isinstance(part, Polygon)]
    parts.sort(key=lambda part: -part.area)
    return tuple(tuple((round(x, 2), round(y, 2)) for x, y in part.exterior.coords[:-1]) for part in parts)


# --- one line -----------------------------------------------------------------------------------------------


@lru_cache(maxsize=4)
def line_field(
    led: Led, tension_class: int, bounds: tuple[float, float, float, float], count: int = BREAKS
) -> Field:
    """The field of one line at the greatest tension of a class; kept, for it takes long to work out."""
    return field_of(flights(led, tension_class, count), bounds)


@lru_cache(maxsize=256)
def worst_of_line(
    site: Site, led: Led, line: str, group: str, tension_class: int, count: int = BREAKS
) -> WorstOfLine:
    """Where one line is worst, and whom it reaches, when it parts at the greatest tension of a class."""
    field = line_field(led, tension_class, bounds_of(site), count)
    touched: Marks = np.asarray(field.struck.any(axis=0))
    areas = graded(site, [field])
    return WorstOfLine(
        line,
        group,
        tension_class,
        class_tension_n(tension_class, led.strength_n),
        len(field.weights),
        areas,
        _rings(_shape(touched, field.corner)) if touched.any() else (),
        tuple(near_words(site, areas, field)),
        reached(site, field),
        rises_of(led, class_tension_n(tension_class, led.strength_n)),
    )


def rises_of(led: Led, tension_n: float) -> tuple[Rise, ...]:
    """Where the recoil of a line may go up."""
    return tuple(Rise(led.points_m[up.point], up.why, up.height_m) for up in upward(led, tension_n))


def coarse_class(tension_n: float, strength_n: float) -> int:
    """The class worked with for a tension: the next of CLASSES, so that it errs on the high side."""
    share = 20.0 * tension_n / strength_n
    return next((each for each in CLASSES if share <= each + 1e-9), CLASSES[-1])


def reached(site: Site, field: Field) -> tuple[Reached, ...]:
    """The stations that some break reaches, the most often reached first."""
    found = []
    for ground in site.grounds:
        for station in ground.stations:
            hits = field.hits(station.at)
            if hits.any():
                share = float(field.weights @ hits)
                trials = 1.0 / float(field.weights @ field.weights)
                low, high = wilson(share * trials, trials) or (0.0, 1.0)
                found.append(Reached(ground.name, station.name, int(hits.sum()), len(hits), share, low, high))
    return tuple(sorted(found, key=lambda each: (-each.share, each.ground, each.station)))


def near_words(site: Site, areas: Iterable[Area], field: Field) -> Iterable[Near]:
    """Each ground's worst area by the fitting nearest to its middle; the ground with most chance × speed first."""
    told = []
    for area in areas:
        if area.grade != 3:
            continue
        ground = site.ground(area.ground)
        weight = np.where(_squares_on(ground, field), field.speed_m_s, 0.0)
        i, j = np.nonzero(weight)
        x, y = (corner + CELL_M * (n + 0.5) for corner, n in zip(field.corner, (i, j), strict=True))
        main = np.where(shapely.intersects_xy(Polygon(area.rings[0]), x, y), weight[i, j], 0.0)
        if main.any():
            middle = float(main @ x / main.sum()), float(main @ y / main.sum())
            told.append((float(weight.sum()), near(ground, middle)))
    return [each for _, each in sorted(told, key=lambda pair: -pair[0])]


def near(ground: Ground, spot: Spot) -> Near:
    """A spot by the nearest fitting, or station where there is none. Raises ValueError for bare ground."""
    named = ground.fittings or ground.stations
    if not named:
        raise ValueError(f"nothing on {ground.name} has a name")
    place = min(named, key=lambda each: (math.dist(each.at, spot), each.name))
    ahead_m, starboard_m = spot[0] - place.forward_m, spot[1] - place.starboard_m
    if math.hypot(ahead_m, starboard_m) <= BY_M + place.radius_m:
        way = "by"
    elif abs(ahead_m) >= abs(starboard_m):
        way = "ahead of" if ahead_m > 0.0 else "abaft"
    elif ground.name == QUAY:
        inland = sum(corner[1] for corner in ground.outline)  # of the same sign as the way from the ship
        way = "behind" if starboard_m * inland > 0.0 else "in front of"
    else:
        way = "to starboard of" if starboard_m > 0.0 else "to port of"
    side = "" if ground.name == QUAY else _side(ground, spot)
    return Near(ground.name, side, way, place.name, place.kind)


def _side(ground: Ground, spot: Spot) -> str:
    """Which third of the deck's width, where the spot is."""
    slice_ = Polygon(ground.outline).intersection(shapely.box(spot[0] - 0.5, -1e3, spot[0] + 0.5, 1e3))
    if slice_.is_empty:
        return ""
    _, low, _, high = slice_.bounds
    third = (spot[1] - low) / max(high - low, 1e-9)
    return "port side" if third < 1 / 3 else "starboard side" if third > 2 / 3 else "centre line"
