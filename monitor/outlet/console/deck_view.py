"""The mooring decks from above at true scale, bow to the right: where it is worst if a heavy line parts.

Every deck is hatched all over, whatever was simulated; grades 2 and 3 stand out by their hatching and a numeral.
Each deck is drawn with the lines led over it; what is worst is of the three heaviest that sweep it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import shapely
from shapely import Polygon

from monitor.base.units import tonnes_force
from monitor.outlet.console.approach import MAY_PASS
from monitor.outlet.console.svg import box, drawing, el, esc, items, rule, shape, stroke, text
from monitor.outlet.wording import SMALL_PRINT
from monitor.outlet.worst_places import (
    CAUGHT,
    KEY,
    NOT_ENTERED,
    NOT_KNOWN,
    UPWARD,
    WHOLE_DECK,
    WORKED_OUT,
    near_in_words,
    nearest,
    reached_in_words,
    rise_in_words,
)
from monitor.records.decks import QUAY, Ground, Place, Ring, Rise, Way, WorstOfLine
from monitor.records.picture import Picture, Plan

MEANT: Final = 3  # lines of a deck: more of them cover it whole, which its hatching says already
BESIDE_M: Final = 3.0
ASHORE_M: Final = 9.0  # of what lies beyond the rail on the side of the quay
HEAD_PX, GAP_PX = 26.0, 10.0


@dataclass(frozen=True, slots=True)
class Heavy:
    """A line at the tension taken for it: the high end of now and of the pass to come."""

    line: str
    share: float  # of its limit
    tension_n: float


def heaviest(picture: Picture) -> list[Heavy]:
    """Every line with a load, the one nearest its limit first; by now or by the pass that loads it most."""
    loads = list(picture.estimate.lines) if picture.estimate else []
    for passing in picture.outlook.passings if picture.outlook else ():
        if passing.encounter.passes >= MAY_PASS and passing.encounter.latest_at >= picture.now:
            loads += passing.lines
    worst: dict[str, Heavy] = {}
    for load in loads:
        if load.line not in worst or load.utilisation.high > worst[load.line].share:
            worst[load.line] = Heavy(load.line, load.utilisation.high, load.tension_n.high)
    return sorted(worst.values(), key=lambda heavy: -heavy.share)


def mooring_decks(plan: Plan) -> list[Ground]:
    """The decks that lines are led over, aft first."""
    decks = [ground for ground in plan.grounds if ground.name != QUAY and ground.fittings]
    return sorted(decks, key=lambda deck: min(corner[0] for corner in deck.outline))


def meant_on(picture: Picture, deck: Ground) -> list[tuple[Heavy, WorstOfLine]]:
    """The heaviest lines that sweep a deck when they part, with what was worked out for them."""
    worst = (picture.outlook and picture.outlook.worst) or ()
    found = ((heavy, nearest(heavy.line, heavy.tension_n, worst)) for heavy in heaviest(picture))
    swept = [(heavy, one) for heavy, one in found if one and any(area.ground == deck.name for area in one.areas)]
    return swept[:MEANT]


# --- the words ----------------------------------------------------------------------------------------------


def deck_words(picture: Picture) -> str:
    """What is drawn, and of which lines; the whole deck first."""
    if not mooring_decks(picture.plan):
        return el("p", esc(NOT_ENTERED))
    parts = [el("p", el("b", esc(WHOLE_DECK)))]
    for deck in reversed(mooring_decks(picture.plan)):
        parts.append(el("h3", esc(deck.name[0].upper() + deck.name[1:])))
        meant = meant_on(picture, deck)
        told = [_told(heavy, found, deck) for heavy, found in meant]
        told += [f"{UPWARD} {line} {rise_in_words(rise)}" for line, rise in _rises(meant, deck)]
        if waiting := _waiting(picture, deck):
            told.append(f"{WORKED_OUT}: {', '.join(waiting)}")
        parts.append(items(told or [NOT_KNOWN]))
    parts.append(el("p", esc(f"{UPWARD} {CAUGHT}")))
    key = "".join(
        el("tr", el("td", _sample(grade)), el("td", el("b", str(grade)), esc(f" {words}"))) for grade, words in KEY
    )
    small = (
        "Worst of the three lines nearest their limits that sweep the deck, each parting at the high end of its "
        "tension now or in the pass to come. Every second time houses and fittings stop it, else it flies over "
        "them; no wall makes the place behind it one to stand. A place that no simulated line met can be struck "
        "by the next one. Sheets for the notice board are made at the terminal: bightwatch decks."
    )
    parts.insert(1, el("table", key))
    return "".join([*parts, el("p", esc(small), class_="small"),
                    el("p", esc(SMALL_PRINT), class_="small dim")])  # fmt: skip


def _rises(meant: Sequence[tuple[Heavy, WorstOfLine]], deck: Ground) -> list[tuple[str, Rise]]:
    """Fittings of a deck at which one of these lines may go up."""
    here = {fitting.at for fitting in deck.fittings}
    return [(heavy.line, rise) for heavy, found in meant for rise in found.rises if rise.at in here]


def _waiting(picture: Picture, deck: Ground) -> list[str]:
    """Of the heaviest lines led over a deck, those not yet worked out."""
    worst = (picture.outlook and picture.outlook.worst) or ()
    known = {found.line for found in worst}
    led = [
        heavy.line for heavy in heaviest(picture) if heavy.line in {way.line for way in _ways(picture.plan, deck)}
    ]
    return [line for line in led[:MEANT] if line not in known]


def _ways(plan: Plan, deck: Ground) -> list[Way]:
    """Of the lines led over a deck."""
    return [
        way for way in plan.ways if any(fitting.at == way.points[way.on_board - 1] for fitting in deck.fittings)
    ]


def _told(heavy: Heavy, found: WorstOfLine, deck: Ground) -> str:
    places = [near_in_words(near) for near in found.near if near.ground == deck.name][:2]
    reached = [each for each in found.reached if each.ground == deck.name][:2]
    told = f"{heavy.line}, up to {tonnes_force(heavy.tension_n):.0f} t ({100 * heavy.share:.0f} % of limit)"
    if places:
        told += f": worst {', '.join(places)}"
    return told + "".join(f"; {each.station}: {reached_in_words(each)}" for each in reached)


def _sample(grade: int) -> str:
    inside = [box(0, 0, 40, 20, "deck-floor"), box(0, 0, 40, 20, "", fill="url(#dv1)")]
    if grade > 1:
        inside += [box(0, 0, 40, 20, f"dv-area{grade}"), box(0, 0, 40, 20, "", fill=f"url(#dv{grade})")]
    return el("svg", *inside, width="40", height="20", aria_hidden="true")


# --- the drawing --------------------------------------------------------------------------------------------


def decks_drawing(picture: Picture, width: float, height: float) -> str:
    """All mooring decks side by side, aft to the left, at one scale along and across."""
    decks = mooring_decks(picture.plan)
    if not decks:
        words = text(width / 2, height / 2, NOT_ENTERED, "label strong", "middle")
        return drawing(width, height, "Mooring decks", words)
    room = (width - GAP_PX * (len(decks) - 1)) / len(decks)
    parts = [el("defs", _hatch(1, 12, 45), _hatch(2, 7, -45), _hatch(3, 5, 45) + _hatch(4, 5, -45))]
    windows = [_window(deck, picture.plan) for deck in decks]
    px_m = min(min(room / (right - left), (height - HEAD_PX) / (low - high)) for left, right, high, low in windows)
    for n, (deck, window) in enumerate(zip(decks, windows, strict=True)):
        parts += _deck(picture, deck, _Frame(n, n * (room + GAP_PX), room, height, window, px_m))
    return drawing(width, height, "Mooring decks at true scale: where a parted line is worst", *parts)


def _hatch(grade: int, every: int, turned_deg: int) -> str:
    return el(
        "pattern", rule(0, 0, 0, every, f"dv-stroke{grade}"), id=f"dv{grade}", width=every, height=every,
        patternUnits="userSpaceOnUse", patternTransform=f"rotate({turned_deg})",
    )  # fmt: skip


def _window(deck: Ground, plan: Plan) -> tuple[float, float, float, float]:
    """Aft, forward, port and starboard edge, metres: the deck, and what lies next to it towards the quay."""
    xs, ys = zip(*deck.outline, strict=True)
    port, starboard = (ASHORE_M, BESIDE_M) if plan.quay_y_m < 0 else (BESIDE_M, ASHORE_M)
    return min(xs) - BESIDE_M, max(xs) + BESIDE_M, min(ys) - port, max(ys) + starboard


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where a deck lies on the drawing: px of a place in metres."""

    number: int
    x: float
    width: float
    height: float
    window: tuple[float, float, float, float]
    px_m: float

    def at(self, spot: tuple[float, float]) -> tuple[float, float]:
        left, right, high, low = self.window
        middle_x, middle_y = self.x + self.width / 2, HEAD_PX + (self.height - HEAD_PX) / 2
        return (
            middle_x + (spot[0] - (left + right) / 2) * self.px_m,
            middle_y + (spot[1] - (high + low) / 2) * self.px_m,
        )

    def ring(self, ring: Ring) -> list[tuple[float, float]]:
        return [self.at(corner) for corner in ring]


def _deck(picture: Picture, deck: Ground, frame: _Frame) -> list[str]:
    plan, meant = picture.plan, meant_on(picture, deck)
    clip = f"dv-clip{frame.number}"
    inside = [box(frame.x, HEAD_PX, frame.width, frame.height - HEAD_PX, "water")]
    for ground in plan.grounds:
        if ground.name == QUAY:
            inside.append(shape(frame.ring(ground.outline), "land"))
            inside.append(shape(frame.ring(ground.outline), "", fill="url(#dv1)"))
    inside.append(shape(frame.ring(deck.outline), "deck-floor"))
    inside.append(shape(frame.ring(deck.outline), "", fill="url(#dv1)"))
    for grade in (2, 3):
        for ring in (r for _, found in meant for a in found.areas if a.grade == grade for r in a.rings):
            inside.append(shape(frame.ring(ring), f"dv-area{grade}"))
            inside += [shape(frame.ring(ring), "", fill=f"url(#dv{n})") for n in ((2,) if grade == 2 else (3, 4))]
    inside.append(shape(frame.ring(deck.outline), "dv-edge"))
    names = _Names(frame)
    for name, ring in deck.houses:
        inside.append(shape(frame.ring(ring), "dv-house"))
        names.middle(ring, name)
    heavy = {each.line for each, _ in meant}
    parted = {line for line, word in picture.stay.line_words if word == "parted"}
    ways = _ways(plan, deck)
    for way in ways:
        kind = " dv-parted" if way.line in parted else " dv-heavy" if way.line in heavy else ""
        inside.append(stroke(frame.ring(way.points), f"dv-rope{kind}"))
    places = (*deck.stations, *deck.fittings)
    inside += [_mark(place, frame) for place in places]
    names.taken += [names.around(*frame.at(place.at), 14.0, 14.0) for place in places]
    marks = _numerals(deck, meant, frame, names)
    for x, y in sorted({frame.at(rise.at) for _, rise in _rises(meant, deck)}):
        names.taken.append(names.around(x, y - 17.0, 20.0, 20.0))
        marks += [box(x - 9, y - 27, 18, 20, "dv-fitting"), text(x, y - 11, UPWARD, "label strong", "middle")]
    for place in places:
        if place.kind in ("station", "drum", "warping drum"):
            names.beside(place)
    for way in ways:
        names.along(way.points[way.on_board - 1 :], way.line, strong=way.line in heavy)
    box_clip = el("clipPath", box(frame.x, HEAD_PX, frame.width, frame.height - HEAD_PX, ""), id=clip)
    told = ", ".join(each.line for each, _ in meant) or "not known yet"
    return [
        text(frame.x + 4, 17, deck.name[0].upper() + deck.name[1:], "label strong"),
        text(frame.x + frame.width - 4, 17, f"worst of {told}", "small", "end"),
        box_clip,
        el("g", *inside, *marks, *names.drawn, *_scale_bar(frame), clip_path=f"url(#{clip})"),
    ]


def _mark(place: Place, frame: _Frame) -> str:
    x, y = frame.at(place.at)
    if place.kind == "station":
        return shape([(x, y - 8), (x + 8, y + 6), (x - 8, y + 6)], "dv-station")
    if place.kind in ("drum", "warping drum"):
        return box(x - 6, y - 6, 12, 12, "dv-fitting")
    return el("circle", cx=x, cy=y, r=4 if place.kind in ("fairlead", "bitts") else 3, class_="dv-fitting")


def _scale_bar(frame: _Frame) -> list[str]:
    x, y, long = frame.x + 10, frame.height - 12, 10 * frame.px_m
    ticks = [(x, y - 5), (x, y), (x + long, y), (x + long, y - 5)]
    return [stroke(ticks, "dv-scale"), text(x + long + 6, y, "10 m", "small halo"),
            text(frame.x + frame.width - 8, y, "bow ▸", "small halo", "end")]  # fmt: skip


def _numerals(deck: Ground, meant: Sequence[tuple[Heavy, WorstOfLine]], frame: _Frame, names: _Names) -> list[str]:
    """1, 2, 3 on the largest piece of each grade."""
    rings = {
        grade: shapely.union_all(
            [Polygon(ring) for _, found in meant for a in found.areas
             if a.grade == grade and a.ground == deck.name for ring in a.rings]
        )
        for grade in (2, 3)
    }  # fmt: skip
    houses = shapely.union_all([Polygon(ring) for _, ring in deck.houses])
    whole = Polygon(deck.outline)
    marks = []
    for grade, area, higher in (
        (3, rings[3], None),
        (2, rings[2], rings[3]),
        (1, whole, rings[2].union(rings[3])),
    ):
        rest = area.intersection(whole).difference(houses)
        rest = rest.difference(higher) if higher is not None else rest
        pieces = sorted(shapely.get_parts(rest), key=lambda piece: -piece.area)
        if pieces and pieces[0].area > 4.0:
            x, y = names.freest([frame.at(spot) for spot in _inside(pieces[0])], 24, 24)
            names.taken.append(names.around(x, y, 24, 24))
            marks.append(el("circle", cx=x, cy=y, r=11, class_="dv-numeral"))
            marks.append(text(x, y + 6, str(grade), "label strong", "middle"))
    return marks


def _inside(piece: Polygon) -> list[tuple[float, float]]:
    """Places well within a piece, its widest spot first."""
    x, y = shapely.maximum_inscribed_circle(piece, tolerance=0.5).coords[0]
    left, low, right, high = piece.bounds
    core = piece.buffer(-1.0)
    shares = [n / 12 for n in range(1, 12)]
    spots = [(left + a * (right - left), low + b * (high - low)) for a in shares for b in shares]
    within = shapely.contains_xy(core, *zip(*spots, strict=True))
    return [(x, y), *(spot for spot, is_in in zip(spots, within, strict=True) if is_in)]


class _Names:
    """Puts names where they cover least of what stands there already."""

    def __init__(self, frame: _Frame) -> None:
        self.frame = frame
        self.taken: list[tuple[float, float, float, float]] = []
        self.drawn: list[str] = []

    @staticmethod
    def around(x: float, y: float, wide: float, tall: float) -> tuple[float, float, float, float]:
        return x - wide / 2, y - tall / 2, x + wide / 2, y + tall / 2

    def _put(self, spots: Sequence[tuple[float, float]], words: str, kind: str, size: float) -> None:
        wide = 0.62 * size * len(words)
        x, y = self.freest(spots, wide, size + 4)
        self.taken.append(self.around(x, y, wide, size + 4))
        self.drawn.append(text(x, y + 0.35 * size, words, f"{kind} halo", "middle"))

    def freest(self, spots: Sequence[tuple[float, float]], wide: float, tall: float) -> tuple[float, float]:
        """The one of several places that covers least."""
        return min(spots, key=lambda spot: self._covered(spot, wide, tall))

    def _covered(self, at: tuple[float, float], wide: float, tall: float) -> float:
        x0, y0, x1, y1 = self.around(*at, wide, tall)
        over = sum(
            (min(x1, b[2]) - max(x0, b[0])) * (min(y1, b[3]) - max(y0, b[1]))
            for b in self.taken
            if b[0] < x1 and b[2] > x0 and b[1] < y1 and b[3] > y0
        )
        frame = self.frame
        inside_x = max(0.0, min(x1, frame.x + frame.width) - max(x0, frame.x))
        inside_y = max(0.0, min(y1, frame.height - 24.0) - max(y0, HEAD_PX))
        return over + 5.0 * ((x1 - x0) * (y1 - y0) - inside_x * inside_y)

    def beside(self, place: Place) -> None:
        """The name of a mark."""
        x, y = self.frame.at(place.at)
        wide = 0.62 * 13 * len(place.name) / 2 + 10
        around = [(x + s * wide, y + v) for v in (0, -10, 10, -18, 18) for s in (1, -1)]
        around += [(x + along * wide, y + v) for v in (-17, 17, -30, 30) for along in (0.0, 0.5, -0.5)]
        self._put(around, place.name, "small strong" if place.kind == "station" else "small", 13)

    def along(self, points: Ring, line: str, strong: bool) -> None:
        """A line's name on it, outboard of its fairlead, as far as it can be seen."""
        (x1, y1), (x2, y2) = (self.frame.at(points[n]) for n in (0, -1))
        spots = [(x1 + n / 40 * (x2 - x1), y1 + n / 40 * (y2 - y1)) for n in range(1, 40)]
        frame = self.frame
        seen = [
            (x, y) for x, y in spots if frame.x < x < frame.x + frame.width and HEAD_PX < y < frame.height
        ]  # fmt: skip
        if seen:
            self._put(seen, line, "small strong" if strong else "small", 13)

    def middle(self, ring: Ring, name: str) -> None:
        """The name of a house."""
        x, y = (sum(part) / len(ring) for part in zip(*self.frame.ring(ring), strict=True))
        rows = name.split()
        for n, row in enumerate(rows):
            self._put([(x, y + 15.0 * (n - (len(rows) - 1) / 2))], row, "small", 13)
