"""The sheet of one mooring deck, or of the quay, for the toolbox talk and the notice board.

All of the ground is hatched, whatever was simulated; where it is worst stands out by its hatching and a numeral,
not by colour alone. The sentence about the whole deck is larger than anything else but the name.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Any, Final

import shapely
from shapely import Point, Polygon

from monitor.outlet.pictures import MISSING
from monitor.outlet.worst_places import (
    CAUGHT,
    KEY,
    UPWARD,
    WHOLE_DECK,
    WHOLE_QUAY,
    reached_in_words,
    rise_in_words,
)
from monitor.records.decks import QUAY, Area, Ground, Reached, Ring, Rise, Site, Spot

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK: Final = "#1b2530"
FAINT: Final = "#6d7780"
PAPER: Final = "#ffffff"
DECK: Final = "#ece2c4"
GRADES: Final = {2: ("#d9bd7a", "/////"), 3: ("#b3873a", "xxxxx")}  # colour, hatching; ochres, never red
_RISES: Final = 4  # told at most; all are marked
WHOLE: Final = "///"
HOUSE: Final = "#c9ced2"
WATER: Final = "#eaf1f4"
CAUTIONS: Final = (
    "Advice only: master, line management plan and port rules come first. Simulated in plan, each line breaking "
    "at 100 places: every second time houses and fittings stop it, else it flies over them; rails stop nothing. "
    "No wall makes the place behind it one to stand. Lines also fly upward, and fittings fly when they fail. A "
    "place that no simulated line met can be struck by the next one."
)
HEIGHT_IN, WIDTH_IN = 8.27, 11.69  # A4 across


@dataclass(frozen=True, slots=True)
class Tension:
    """What was taken for a line."""

    line: str
    tension_n: float


@dataclass(frozen=True, slots=True)
class DeckSheet:
    """One ground of a site as it is to be drawn. `reached`: (line, whom it reaches), all lines of the stay."""

    site: Site
    ground: str
    areas: tuple[Area, ...]
    reached: tuple[tuple[str, Reached], ...]
    tensions: tuple[Tension, ...]  # the greatest first
    basis: str  # where the tensions come from
    ship: str
    berth: str
    local: datetime
    invented: bool
    program: str
    rises: tuple[tuple[str, Rise], ...] = ()  # of all lines of the stay


def draw_deck(sheet: DeckSheet, to: Sequence[Path]) -> None:
    """Write the sheet to files, as PNG or SVG by their suffix. Raises ValueError when matplotlib is missing."""
    try:
        import matplotlib
        from matplotlib.figure import Figure
    except ImportError:
        raise ValueError(MISSING) from None
    with matplotlib.rc_context({"svg.fonttype": "none", "svg.hashsalt": "bightwatch", "hatch.linewidth": 0.6}):
        figure = Figure(figsize=(WIDTH_IN, HEIGHT_IN), dpi=150, facecolor=PAPER)
        _head(figure, sheet)
        ground = sheet.site.ground(sheet.ground)
        for place, window in _windows(ground):
            plan = figure.add_axes(place)
            rising = sorted({rise.at for _, rise in _rises(sheet)})
            draw_ground(plan, sheet.site, ground, sheet.areas, window, rising=rising)
        _margin(figure, sheet)
        _foot(figure, sheet)
        for path in to:
            figure.savefig(path, metadata={"Date": None} if path.suffix == ".svg" else None)


def _head(figure: Figure, sheet: DeckSheet) -> None:
    name = "Quay edge" if sheet.ground == QUAY else sheet.ground.capitalize()
    figure.text(
        0.03, 0.955, f"{name}: where a parted line goes", fontsize=19, weight="bold", color=INK, va="center"
    )
    made = f"{sheet.ship} at {sheet.berth}\n{sheet.local:%d %b %Y %H%M} LT" + ("\nINVENTED" * sheet.invented)
    figure.text(0.97, 0.975, made, fontsize=9.5, color=INK, ha="right", va="top", linespacing=1.3)
    sentence = WHOLE_QUAY if sheet.ground == QUAY else WHOLE_DECK
    figure.text(
        0.04, 0.865, sentence.replace(". ", ".\n"), fontsize=14, weight="bold", color=INK, va="center",
        linespacing=1.35, bbox={"facecolor": DECK, "edgecolor": INK, "lw": 1.8, "boxstyle": "square,pad=0.5"},
    )  # fmt: skip


def _windows(ground: Ground) -> list[tuple[tuple[float, float, float, float], tuple[float, float]]]:
    """Where on the sheet, and which stretch fore and aft: a long quay in two rows, its forward half above."""
    forward = [corner[0] for corner in ground.outline]
    low, high = min(forward), max(forward)
    if ground.name != QUAY:
        return [((0.03, 0.11, 0.665, 0.69), (low, high))]
    middle = 0.5 * (low + high)
    return [((0.03, 0.46, 0.665, 0.33), (middle, high)), ((0.03, 0.11, 0.665, 0.33), (low, middle))]


# --- the plan -----------------------------------------------------------------------------------------------


def draw_ground(
    axes: Axes,
    site: Site,
    ground: Ground,
    areas: Sequence[Area],
    window: tuple[float, float],
    names: bool = True,
    rising: Sequence[Spot] = (),
) -> None:
    """A stretch of a ground from above, bow to the right and port side up, with the lines that run near it, and
    where they may go up."""
    ys = [corner[1] for corner in ground.outline]
    beside = 0.06 * (window[1] - window[0])
    axes.set_xlim(window[0] - beside, window[1] + beside)
    axes.set_ylim(max(ys) + beside, min(ys) - beside)  # starboard grows downwards
    axes.set_aspect("equal")
    axes.set_facecolor(WATER)
    axes.set_xticks([])
    axes.set_yticks([])
    for spine in axes.spines.values():
        spine.set_color(FAINT)
    for other in site.grounds:
        mine = other.name == ground.name
        _fill(axes, other.outline, DECK if mine else PAPER, WHOLE, INK if mine else FAINT, 1.8 if mine else 0.8, 1)
    for area in sorted(areas, key=lambda each: each.grade):
        colour, hatch = GRADES[area.grade]
        for ring in area.rings if area.ground == ground.name else ():
            _fill(axes, ring, colour, hatch, INK, 0.9 if area.grade == 3 else 0.4, 1 + area.grade)
    for name, ring in ground.houses:
        _fill(axes, ring, HOUSE, "", INK, 1.2, 5)
        x, y = (sum(c) / len(ring) for c in zip(*ring, strict=True))
        axes.text(x, y, name.replace(" ", "\n"), fontsize=7, color=INK, ha="center", va="center", zorder=9,
                  clip_on=True)  # fmt: skip
    for way in site.ways:
        axes.plot(*zip(*way.points, strict=True), color=PAPER, lw=3.4, zorder=6, solid_capstyle="round")
        axes.plot(*zip(*way.points, strict=True), color=INK, lw=1.5, zorder=7, solid_capstyle="round")
    for place in (*ground.fittings, *ground.stations):
        mark, size = _MARKS[place.kind]
        face = INK if place.kind == "station" else PAPER
        axes.plot(*place.at, mark, ms=size, mfc=face, mec=INK, mew=1.3, zorder=8)
    if names:
        scale_bar(axes)
        tags = _Tags(axes, [place.at for place in (*ground.stations, *ground.fittings)])
        for at in rising:
            tags.above(at)
        _numerals(axes, ground, areas, tags)
        for place in (*ground.stations, *ground.fittings):
            tags.beside(place.at, place.name, place.kind == "station")
        _names_of_lines(axes, site, ground, tags)


def _fill(axes: Axes, ring: Ring, colour: str, hatch: str, edge: str, width: float, order: int) -> None:
    from matplotlib.patches import Polygon as Patch

    axes.add_patch(
        Patch(ring, closed=True, facecolor=colour, edgecolor=FAINT, hatch=hatch, linewidth=0.0, zorder=order)
    )
    axes.add_patch(Patch(ring, closed=True, fill=False, edgecolor=edge, linewidth=width, zorder=order + 0.1))


_MARKS: Final[dict[str, tuple[str, float]]] = {  # marker, size in points
    "drum": ("s", 8), "warping drum": ("D", 6), "capstan": ("h", 8), "bitts": ("8", 7),
    "pedestal roller": ("o", 7), "fairlead": ("P", 7), "bollard": ("o", 8), "station": ("^", 9),
}  # fmt: skip
_LARGE, _SMALL = 7.5, 6.5  # points


class _Tags:
    """Puts names where they cover the least of what stands there already."""

    def __init__(self, axes: Axes, marks: Sequence[tuple[float, float]]) -> None:
        figure = axes.get_figure()
        assert figure is not None
        box = axes.get_window_extent()  # before drawing: good to a few per cent, enough for this
        (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
        self.axes = axes
        self.view = left, right, top, bottom
        px_m = min(box.width / (right - left), box.height / (bottom - top))
        self.point_m = figure.dpi / 72.0 / px_m
        self.taken = [self._around(at, 8.0, 8.0) for at in marks]

    def beside(self, at: tuple[float, float], words: str, strong: bool) -> None:
        """The name of a mark, on the side of it where there is most room; outside the view it is left out."""
        left, right, top, bottom = self.view
        if not (left <= at[0] <= right and top <= at[1] <= bottom):
            return
        size = _LARGE if strong else _SMALL
        wide, tall = 0.58 * size * len(words) * (1.1 if strong else 1.0), 1.3 * size
        around = [(s * (0.5 * wide + 6.0), v * tall) for s in (1, -1) for v in (-0.7, 0.0, 0.7)]
        around += [(0.0, -1.3 * tall), (0.0, 1.3 * tall)]
        spots = [(at[0] + dx * self.point_m, at[1] + dy * self.point_m) for dx, dy in around]
        spot = min(spots, key=lambda each: self._covered(each, wide, tall))
        self.put(spot, words, size, weight="bold" if strong else "normal")

    def above(self, at: Spot) -> None:
        """The sign of a line that may go up, over its mark."""
        frame = {"facecolor": PAPER, "edgecolor": INK, "linewidth": 0.8, "pad": 1.0}
        self.put((at[0], at[1] - 14.0 * self.point_m), f" {UPWARD} ", 11.0, weight="bold", bbox=frame)

    def put(self, at: tuple[float, float], words: str, size: float, **more: Any) -> None:
        """Words at a place, whatever is there."""
        self.taken.append(self._around(at, 0.58 * size * len(words), 1.3 * size))
        box = {"facecolor": PAPER, "edgecolor": "none", "alpha": 0.8, "pad": 0.6}
        self.axes.text(
            *at, words, fontsize=size, color=INK, ha="center", va="center", zorder=10, clip_on=True,
            **{"bbox": box, **more},
        )  # fmt: skip

    def freest(self, spots: Sequence[tuple[float, float]], words: str, size: float) -> tuple[float, float]:
        """The one of several places that covers least."""
        return min(spots, key=lambda each: self._covered(each, 0.58 * size * len(words), 1.3 * size))

    def _around(self, at: tuple[float, float], wide: float, tall: float) -> tuple[float, float, float, float]:
        half, up = 0.5 * wide * self.point_m, 0.5 * tall * self.point_m
        return at[0] - half, at[1] - up, at[0] + half, at[1] + up

    def _covered(self, at: tuple[float, float], wide: float, tall: float) -> float:
        x0, y0, x1, y1 = self._around(at, wide, tall)
        left, right, top, bottom = self.view
        inside = max(0.0, min(x1, right) - max(x0, left)) * max(0.0, min(y1, bottom) - max(y0, top))
        over = sum(
            max(0.0, min(x1, b[2]) - max(x0, b[0])) * max(0.0, min(y1, b[3]) - max(y0, b[1])) for b in self.taken
        )
        return over + 5.0 * ((x1 - x0) * (y1 - y0) - inside)


def _names_of_lines(axes: Axes, site: Site, ground: Ground, tags: _Tags) -> None:
    """Each name on its line, outboard of the fairlead (on the quay: before the bollard)."""
    left, right, top, bottom = tags.view
    for way in site.ways:
        on_board = any(fitting.at == way.points[way.on_board - 1] for fitting in ground.fittings)
        if ground.name != QUAY and not on_board:
            continue
        (x1, y1), (x2, y2) = way.points[way.on_board - 1], way.points[-1]
        spots = [(x1 + n / 40 * (x2 - x1), y1 + n / 40 * (y2 - y1)) for n in range(1, 40)]
        seen = [spot for spot in spots if left < spot[0] < right and top < spot[1] < bottom]
        if seen:
            at = tags.freest(seen, way.line, 7.0)
            tags.put(at, way.line, 7.0, style="italic",
                     bbox={"facecolor": WATER, "edgecolor": INK, "linewidth": 0.4, "pad": 1.2})  # fmt: skip


def _numerals(axes: Axes, ground: Ground, areas: Sequence[Area], tags: _Tags) -> None:
    """1, 2, 3 on the largest pieces of each grade."""
    shapes = {area.grade: [Polygon(ring) for ring in area.rings] for area in areas if area.ground == ground.name}
    whole, houses = [Polygon(ground.outline)], shapely.union_all([Polygon(ring) for _, ring in ground.houses])
    view = shapely.box(tags.view[0], tags.view[2], tags.view[1], tags.view[3])
    for grade in (1, 2, 3):
        higher = shapely.union_all([ring for g, rings in shapes.items() if g > grade for ring in rings])
        rest = shapely.union_all(whole if grade == 1 else shapes.get(grade, [])).difference(higher)
        pieces = sorted(shapely.get_parts(rest.intersection(view)), key=lambda piece: -piece.area)
        for piece in pieces[:2]:
            piece = piece.difference(houses)
            spot = shapely.maximum_inscribed_circle(piece, tolerance=0.5).coords[0] if piece.area > 4.0 else None
            if spot is not None:
                ring = {"facecolor": PAPER, "edgecolor": INK, "linewidth": 1.4, "boxstyle": "circle,pad=0.18"}
                tags.put((spot[0], spot[1]), str(grade), 12.0, weight="bold", bbox=ring)


def scale_bar(axes: Axes) -> None:
    """A scale of 10 m or 20 m, and which way the bow is, in the lower corners."""
    (left, right), (bottom, top) = axes.get_xlim(), axes.get_ylim()
    length = 10.0 if right - left < 120 else 20.0
    tick = 0.004 * (right - left)
    x, y = left + 0.02 * (right - left), bottom + 0.05 * (top - bottom)
    ends = [x, x, x, x + length, x + length, x + length]
    axes.plot(ends, [y - tick, y + tick, y, y, y - tick, y + tick], color=INK, lw=1.6, zorder=11)
    axes.text(x + length + 2 * tick, y, f"{length:.0f} m", fontsize=8, color=INK, va="center", zorder=11)
    axes.annotate("", (right - 0.02 * (right - left), y), (right - 0.10 * (right - left), y),
                  arrowprops={"arrowstyle": "-|>", "color": INK, "lw": 1.6}, zorder=11)  # fmt: skip
    axes.text(right - 0.11 * (right - left), y, "bow", fontsize=8, color=INK, ha="right", va="center", zorder=11)


# --- beside and below ---------------------------------------------------------------------------------------


def _margin(figure: Figure, sheet: DeckSheet) -> None:
    left, top = 0.71, 0.775
    figure.text(left, top, "Worst areas", fontsize=10, weight="bold", color=INK)
    box = figure.add_axes((left, top - 0.105, 0.28, 0.095))
    box.set_axis_off()
    box.set_xlim(0, 28)
    box.set_ylim(0, 3)
    for row, (grade, words) in enumerate(KEY):
        colour, hatch = GRADES.get(grade, (DECK, WHOLE))
        low, high = 2.15 - row, 2.9 - row
        _fill(box, ((0, low), (2.6, low), (2.6, high), (0, high)), colour, hatch, INK, 0.6, 1)
        box.text(3.0, 2.5 - row, f"{grade}  {words}", fontsize=8, color=INK, va="center")
    figure.text(left, top - 0.13, "People here: which line reaches them", fontsize=10, weight="bold", color=INK)
    people = "\n".join(_people(sheet))
    figure.text(left, top - 0.142, people, fontsize=7.6, color=INK, va="top", linespacing=1.35)

    rows = [f"{UPWARD} {line} {rise_in_words(rise)}." for line, rise in _rises(sheet)[:_RISES]]
    rows += [f"{UPWARD} {CAUGHT}"]
    upward = "\n".join(fill(row, 57, subsequent_indent="     ") for row in rows)
    figure.text(left, 0.105, upward, fontsize=7.6, color=INK, va="bottom", linespacing=1.35)


def _rises(sheet: DeckSheet) -> list[tuple[str, Rise]]:
    """Those on the ground of the sheet, the highest first."""
    here = Polygon(sheet.site.ground(sheet.ground).outline).buffer(1.0)  # fairleads stand at its edge
    mine = [(line, rise) for line, rise in sheet.rises if here.covers(Point(rise.at))]
    return sorted(mine, key=lambda pair: -pair[1].height_m)


def _people(sheet: DeckSheet) -> list[str]:
    """Each station of the ground with its worst lines; none is called anything but reached seldom."""
    rows = []
    for station in sheet.site.ground(sheet.ground).stations:
        mine = [(line, each) for line, each in sheet.reached if each.station == station.name]
        mine = [pair for pair in mine if pair[1].ground == sheet.ground]
        mine.sort(key=lambda pair: -pair[1].share)
        rows.append(f"▲ {station.name}")
        rows += [f"     {line}: {reached_in_words(each)}" for line, each in mine[:3]]
        if not mine:
            rows.append("     met by none of these breaks: that is chance, not a promise")
    return rows


def _foot(figure: Figure, sheet: DeckSheet) -> None:
    heaviest = ", ".join(f"{each.line} {each.tension_n / 1e3:.0f} kN" for each in sheet.tensions[:4])
    text = (
        f"Tensions {sheet.basis}: {heaviest} and less; each line worked with the next of 25, 50, 75 and 100 % of "
        f"its breaking force. {CAUTIONS} bightwatch {sheet.program}."
    )
    figure.text(0.03, 0.05, fill(text, 215), fontsize=6.8, color=INK, va="center", linespacing=1.3)
