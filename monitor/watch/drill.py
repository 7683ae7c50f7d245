"""The drill: a break is chosen, somebody says where both ends will go, and the simulated recoil tells.

What is learnt is that no place on a mooring deck can be chosen well: full marks need a place off the deck, and to
hold that the figure is not struck earns nothing, whatever happens in this one break.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely import Point, Polygon

from monitor.physics.snapback import Flights, Led, Swept, flights
from monitor.records.decks import Rise, Site, Spot, Way
from monitor.watch.danger import BREAKS, Field, bounds_of, line_field, rises_of

BESIDE_M: Final = 12.0  # of the line, shown and divided into squares
SQUARE_M, LARGE_SQUARE_M = 5.0, 10.0
LETTERS: Final = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
FOR_AN_END, FOR_THE_FIGURE, FOR_THE_STAND = 3, 2, 2  # of 10 (ours)
OFF: Final = "off"  # the deck and the quay edge
OUT: Final = "out"  # of the picture


@dataclass(frozen=True, slots=True)
class Squares:
    """The picture divided: letters from aft to forward, numbers from port to starboard."""

    aft_m: float
    port_m: float
    side_m: float
    columns: int
    rows: int

    def name(self, spot: Spot) -> str | None:
        """ "C4": the square a spot lies in; None outside the picture."""
        column = math.floor((spot[0] - self.aft_m) / self.side_m)
        row = math.floor((spot[1] - self.port_m) / self.side_m)
        if not (0 <= column < self.columns and 0 <= row < self.rows):
            return None
        return f"{LETTERS[column]}{row + 1}"

    def place(self, name: str) -> tuple[int, int]:
        """Column and row from 0. Raises ValueError for what is no square of this picture."""
        found = re.fullmatch(r"([A-Za-z])(\d{1,2})", name.strip())
        if found:
            column, row = LETTERS.index(found[1].upper()), int(found[2]) - 1
            if column < self.columns and 0 <= row < self.rows:
                return column, row
        raise ValueError(f"'{name}' is no square: A1 to {LETTERS[self.columns - 1]}{self.rows}")

    def box(self, name: str) -> Polygon:
        """A square's outline."""
        column, row = self.place(name)
        x, y = self.aft_m + column * self.side_m, self.port_m + row * self.side_m
        return shapely.box(x, y, x + self.side_m, y + self.side_m)


@dataclass(frozen=True)
class Drill:
    """One task: this line at this tension, parting here; a figure stands there."""

    seed: int
    way: Way
    tension_n: float
    tension_class: int
    at: Spot
    why: str  # why just there
    chosen: int  # of the field's breaks
    parts: tuple[Swept, Swept]  # inboard and outboard part
    figure: Spot
    ground: str  # that the figure stands on
    squares: Squares
    field: Field
    rises: tuple[Rise, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """What the trainee said: squares for both ends (or OUT of the picture), whether the figure is struck, and the
    square to stand in, or OFF the deck and quay edge."""

    inboard: str
    outboard: str
    struck: bool
    stand: str


@dataclass(frozen=True, slots=True)
class Score:
    """Points, and what they rest on. `stand_struck` None: off the deck, where nothing is counted."""

    inboard: int
    outboard: int
    figure: int
    stand: int
    inboard_squares: tuple[str, ...]  # where that end went in the second half of its way
    outboard_squares: tuple[str, ...]
    struck_here: bool  # the figure, in this very break
    struck: int
    breaks: int
    stand_struck: int | None

    @property
    def points(self) -> int:
        """Of 10."""
        return self.inboard + self.outboard + self.figure + self.stand


def drill_of(
    site: Site, leds: Sequence[tuple[Way, Led]], tension_class: int, seed: int, count: int = BREAKS
) -> Drill:
    """A line, a break (the likelier the oftener) and a figure on its deck or on the quay, all by the seed."""
    rng = np.random.default_rng(seed)
    way, led = leds[int(rng.integers(len(leds)))]
    flown = flights(led, tension_class, count)
    chosen = int(rng.choice(len(flown.why), p=_weights(flown)))
    inboard, outboard = flown.swept[2 * chosen], flown.swept[2 * chosen + 1]
    squares = _squares(way, site)
    ground, figure = _figure(site, way, squares, rng)
    return Drill(
        seed,
        way,
        flown.tension_n,
        tension_class,
        _along(led, inboard.at_m),
        flown.why[chosen],
        chosen,
        (inboard, outboard),
        figure,
        ground,
        squares,
        line_field(led, tension_class, bounds_of(site), count),
        rises_of(led, flown.tension_n),
    )


def _weights(flown: Flights) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    weights = np.array([part.weight for part in flown.swept[::2]])
    return np.asarray(weights / weights.sum())


def _along(led: Led, at_m: float) -> Spot:
    x, y = np.asarray(led.points_m).T
    stands = led.stands_at_m
    return float(np.interp(at_m, stands, x)), float(np.interp(at_m, stands, y))


def _squares(way: Way, site: Site) -> Squares:
    """Round the whole line, as far as there is ground or water to show."""
    low, high = np.min(way.points, axis=0) - BESIDE_M, np.max(way.points, axis=0) + BESIDE_M
    x0, y0, x1, y1 = bounds_of(site)
    low, high = np.maximum(low, (x0, y0)), np.minimum(high, (x1, y1))
    side = SQUARE_M if (high[0] - low[0]) / SQUARE_M <= len(LETTERS) else LARGE_SQUARE_M
    columns, rows = (math.ceil((b - a) / side) for a, b in zip(low, high, strict=True))
    return Squares(float(low[0]), float(low[1]), side, columns, rows)


def _figure(site: Site, way: Way, squares: Squares, rng: np.random.Generator) -> tuple[str, Spot]:
    """A figure on open ground within the picture: twice as often on the line's own deck as on the quay."""
    drum = Point(way.points[0])
    own = next(ground for ground in site.grounds if Polygon(ground.outline).covers(drum))
    ground = (own, own, site.grounds[-1])[int(rng.integers(3))]
    floor = Polygon(ground.outline).difference(shapely.union_all([Polygon(ring) for _, ring in ground.houses]))
    far = squares.aft_m + squares.columns * squares.side_m, squares.port_m + squares.rows * squares.side_m
    seen = floor.intersection(shapely.box(squares.aft_m, squares.port_m, *far))
    x0, y0, x1, y1 = seen.bounds
    while True:  # a ground that holds a line's drum or bollard has room
        spot = float(rng.uniform(x0, x1)), float(rng.uniform(y0, y1))
        if seen.contains(Point(spot)):
            return ground.name, spot


# --- the answer ---------------------------------------------------------------------------------------------


def score(drill: Drill, site: Site, answer: Answer) -> Score:
    """Points for an answer. Raises ValueError for squares that are none."""
    inboard, outboard = (_gone_over(part, drill.squares) for part in drill.parts)
    hits = drill.field.hits(drill.figure)
    here = bool(hits[drill.chosen])
    on_deck = answer.stand.casefold() != OFF and _on_any(site, drill.squares.box(answer.stand))
    stood = drill.field.hits(_middle(drill.squares, answer.stand), 0.5 * drill.squares.side_m) if on_deck else None
    return Score(
        _end_points(answer.inboard, inboard, drill.squares),
        _end_points(answer.outboard, outboard, drill.squares),
        FOR_THE_FIGURE if answer.struck else 0,
        0 if on_deck else FOR_THE_STAND,
        inboard,
        outboard,
        here,
        int(hits.sum()),
        len(hits),
        None if stood is None else int(stood.sum()),
    )


def _gone_over(part: Swept, squares: Squares) -> tuple[str, ...]:
    """Squares that the parted end meets in the second half of its way, in order; OUT for beyond the picture."""
    steps = np.hypot(*np.diff(part.tip_m, axis=0).T)
    way = np.concatenate([[0.0], np.cumsum(steps)])
    fine = np.linspace(0.5 * way[-1], way[-1], 200)
    spots = zip(np.interp(fine, way, part.tip_m[:, 0]), np.interp(fine, way, part.tip_m[:, 1]), strict=True)
    return tuple(dict.fromkeys(squares.name((float(x), float(y))) or OUT for x, y in spots))


def _end_points(said: str, went: Sequence[str], squares: Squares) -> int:
    """All for a square the end went over, one less for each square beside it."""
    if said.casefold() == OUT:
        return FOR_AN_END if OUT in went else 0
    column, row = squares.place(said)
    away = [max(abs(column - c), abs(row - r)) for c, r in (squares.place(name) for name in went if name != OUT)]
    return max(0, FOR_AN_END - min(away, default=FOR_AN_END))


def _on_any(site: Site, box: Polygon) -> bool:
    """Does any part of a square lie on a mooring deck or on the quay edge?"""
    return any(Polygon(ground.outline).intersects(box) for ground in site.grounds)


def _middle(squares: Squares, name: str) -> Spot:
    x, y = squares.box(name).centroid.coords[0]
    return float(x), float(y)
