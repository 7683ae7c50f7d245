"""The drill on paper: its picture, its questions, the recoil as a moving picture, and what the score says.

Nobody is praised for a figure that one break happened to miss; only to keep off deck and quay edge earns the mark.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from monitor.outlet.deck_drawing import DECK, FAINT, INK, PAPER, draw_ground, scale_bar
from monitor.outlet.pictures import MISSING
from monitor.outlet.worst_places import CAUGHT, rise_in_words
from monitor.records.decks import Ring, Rise, Site, Spot, Way

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Values = NDArray[np.floating[Any]]

FRAMES: Final = 60
SHOWN_S: Final = 9.0  # of film, whatever the recoil takes
STILL_S: Final = 2.0  # before the break and after the end


@dataclass(frozen=True, slots=True)
class DrillSheet:
    """The task. Squares of `side_m` from (`aft_m`, `port_m`) on; `letters` of the columns."""

    site: Site
    way: Way
    parts_at: Spot
    why: str
    tension_n: float
    figure: Spot
    aft_m: float
    port_m: float
    side_m: float
    letters: str
    rows: int
    seed: int
    ship: str
    invented: bool


@dataclass(frozen=True, slots=True)
class Flight:
    """One part as it flies: (t,) seconds, (t, n, 2) places."""

    times_s: Values
    lines_m: Values

    def at(self, at_s: float) -> Values:
        """(n, 2): where it is at a moment; after its last one it lies."""
        last = len(self.times_s) - 1
        n = min(max(int(np.searchsorted(self.times_s, at_s, side="right")) - 1, 0), max(last - 1, 0))
        if last == 0:
            return np.asarray(self.lines_m[0])
        share = (at_s - self.times_s[n]) / max(self.times_s[n + 1] - self.times_s[n], 1e-12)
        return np.asarray(self.lines_m[n] + min(max(share, 0.0), 1.0) * (self.lines_m[n + 1] - self.lines_m[n]))


@dataclass(frozen=True, slots=True)
class Marks:
    """What was said and what came of it, for the words of the score."""

    points: int
    inboard: tuple[str, int, tuple[str, ...]]  # said, points, squares it went over
    outboard: tuple[str, int, tuple[str, ...]]
    struck_said: bool
    struck_here: bool
    struck: int
    breaks: int
    stand: str
    stand_struck: int | None  # None: off the deck
    rises: tuple[Rise, ...] = ()


# --- words --------------------------------------------------------------------------------------------------


def questions(sheet: DrillSheet) -> str:
    """The task as text."""
    squares = f"A1 to {sheet.letters[-1]}{sheet.rows}"
    own = "INVENTED ship and berth.\n" if sheet.invented else ""
    return f"""\
DRILL {sheet.seed}: where does it go?
{own}
{sheet.ship}. {sheet.way.line} parts at the cross, at {sheet.tension_n / 1e3:.0f} kN.
Why just there: {sheet.why}.

Look at the picture and answer before you ask for the recoil. Squares are {squares}, "out" is beyond the picture.

1. --inboard    Where does the end that is fast on board go?
2. --outboard   Where does the end that is fast ashore go?
3. --figure     Is the figure in the picture struck?   struck / not-struck
4. --stand      Where would you stand?   a square, or off: off the mooring deck and the quay edge

All of both mooring decks and the quay edge can be struck. Advice only: a simulation in plan is not the next line.
"""


def score_in_words(sheet: DrillSheet, marks: Marks) -> str:
    """The score as text."""
    rows = [f"DRILL {sheet.seed}: {marks.points} of 10", ""]
    for name, (said, points, went) in (("inboard", marks.inboard), ("outboard", marks.outboard)):
        over = ", ".join("ground beyond the picture" if square == "out" else square for square in went[:12])
        rows.append(f"{name.capitalize()} end: you said {said}; it went over {over}. {points} of 3.")
    rows += ["", _figure(marks), "", _stand(marks), "", *upward_rows(sheet.way.line, marks.rises), ""]
    rows.append("All of both mooring decks and the quay edge can be struck. The next line may part elsewhere.")
    return "\n".join(rows) + "\n"


def upward_rows(line: str, rises: Sequence[Rise]) -> list[str]:
    """What the plan does not show: where the line may go up, and that any line may."""
    return [*(f"{line} {rise_in_words(rise)}." for rise in rises), CAUGHT]


def _figure(marks: Marks) -> str:
    counted = f"The figure was struck in {marks.struck} of {marks.breaks} simulated breaks of this line"
    here = "in this one too" if marks.struck_here else "not in this one"
    if marks.struck_said:
        return f"{counted}, {here}. You took it that the figure is struck: that is how to think. 2 of 2."
    what = (
        "The figure was struck." if marks.struck_here else "This one missed by chance; nobody can stand on chance."
    )
    return f"{counted}, {here}. {what} To hold that somebody on the deck is not struck earns nothing. 0 of 2."


def _stand(marks: Marks) -> str:
    if marks.stand_struck is None:
        kept_off = "You would keep off the mooring deck and the quay edge: that is the answer."
        return f"{kept_off} Lines fly beyond them, too. 2 of 2."
    counted = f"struck in {marks.stand_struck} of {marks.breaks} simulated breaks"
    return (
        f"You would stand in {marks.stand}: {counted}. On the deck or the quay edge no place earns a mark. 0 of 2."
    )


# --- pictures -----------------------------------------------------------------------------------------------


def draw_task(sheet: DrillSheet, to: Path) -> None:
    """Write the picture of the task. Raises ValueError when matplotlib is missing."""
    figure, axes = _picture(sheet)
    axes.plot(*sheet.parts_at, "x", ms=17, mew=4.0, color=INK, zorder=14)
    axes.plot(*sheet.parts_at, "x", ms=15, mew=1.6, color=PAPER, zorder=15)
    figure.savefig(to)


def draw_recoil(sheet: DrillSheet, parts: Sequence[Flight], struck: bool, to: Path) -> None:
    """Write the recoil as a GIF: slowed down so that an eye can follow. Raises ValueError without matplotlib."""
    figure, axes = _picture(sheet, parts)
    from PIL import Image, ImageDraw, ImageFont

    drawn = BytesIO()
    figure.savefig(drawn, format="png")
    still = Image.open(drawn).convert("RGB")
    font = ImageFont.load_default(size=22)
    ends_s = max(float(part.times_s[-1]) for part in parts)
    tall = still.height
    corners = axes.get_window_extent()
    view = (round(corners.x0), tall - round(corners.y1), round(corners.x1), tall - round(corners.y0))

    def px(places: Values) -> list[tuple[float, float]]:
        return [(float(x), tall - float(y)) for x, y in axes.transData.transform(places)]

    frames, waits = [], []
    for at_s in np.linspace(0.0, ends_s, FRAMES):
        frame = still.copy()
        pen = ImageDraw.Draw(frame)
        for part in parts:
            places = px(part.at(float(at_s)))
            pen.line(places, fill=PAPER, width=9, joint="curve")
            pen.line(places, fill=INK, width=5, joint="curve")
            x, y = places[-1]
            pen.ellipse((x - 7, y - 7, x + 7, y + 7), fill=INK, outline=PAPER, width=2)
        shown = still.copy()
        shown.paste(frame.crop(view), view)  # nothing flies over the margin
        told = f"{at_s:.2f} s after the break, shown {max(1.0, SHOWN_S / ends_s):.0f} times slower"
        ImageDraw.Draw(shown).text((18, 12), told, INK, font)
        frames.append(shown)
        waits.append(int(1000 * SHOWN_S / FRAMES))
    words = "The figure is struck." if struck else "Missed by chance: the next break goes elsewhere."
    pen, wide = ImageDraw.Draw(frames[-1]), font.getlength(words)
    pen.rectangle((10, tall - 46, 26 + wide, tall - 10), fill=PAPER, outline=INK, width=2)
    pen.text((18, tall - 42), words, INK, font)
    waits[0] = waits[-1] = int(1000 * STILL_S)
    small = [frame.quantize(colors=32, dither=Image.Dither.NONE) for frame in frames]
    small[0].save(to, save_all=True, append_images=small[1:], duration=waits, loop=0, optimize=True)


def _picture(sheet: DrillSheet, flying: Sequence[Flight] = ()) -> tuple[Figure, Axes]:
    """Grounds, squares, the figure; the line too unless it is to fly."""
    try:
        from matplotlib.figure import Figure
    except ImportError:
        raise ValueError(MISSING) from None
    wide, high = sheet.side_m * len(sheet.letters), sheet.side_m * sheet.rows
    inch_m = min(11.0 / wide, 7.4 / high)  # to the largest that fits a screen, never too narrow for its title
    size = max(7.5, inch_m * wide + 0.5), inch_m * high + 1.1
    figure = Figure(figsize=size, dpi=90, facecolor=PAPER)
    axes = figure.add_axes((0.02, 0.02, 0.96, 1.0 - 0.95 / size[1]))
    own = next(g for g in sheet.site.grounds if any(place.at == sheet.way.points[0] for place in g.fittings))
    others = tuple(way for way in sheet.site.ways if way.line != sheet.way.line)
    shown = Site(sheet.site.grounds, others if flying else sheet.site.ways)
    draw_ground(axes, shown, own, (), (sheet.aft_m, sheet.aft_m + wide), names=False)
    for ground in sheet.site.grounds:
        _plain(axes, ground.outline)
    for way in others:
        axes.plot(*zip(*way.points, strict=True), color=FAINT, lw=1.0, zorder=12)
    if not flying:
        axes.plot(*zip(*sheet.way.points, strict=True), color=INK, lw=3.0, zorder=13)
    axes.set_xlim(sheet.aft_m, sheet.aft_m + wide)
    axes.set_ylim(sheet.port_m + high, sheet.port_m)
    _squares(axes, sheet, wide, high)
    scale_bar(axes)
    x, y = sheet.figure
    axes.plot(x, y, "o", ms=7, color=INK, zorder=16)
    axes.plot([x, x], [y, y + 1.6], lw=3.2, color=INK, zorder=16, solid_capstyle="butt")
    axes.plot([x - 0.9, x + 0.9], [y + 0.7, y + 0.7], lw=2.2, color=INK, zorder=16)
    title = f"Drill {sheet.seed}: {sheet.way.line} parts at the cross, {sheet.tension_n / 1e3:.0f} kN"
    if not flying:
        figure.text(0.02, 1.0 - 0.28 / size[1], title, fontsize=13, weight="bold", color=INK, va="center")
    marked = "All hatched ground can be struck, always." + (" INVENTED." if sheet.invented else "")
    figure.text(0.02, 1.0 - 0.65 / size[1], marked, fontsize=9.5, color=INK, va="center")
    return figure, axes


def _plain(axes: Axes, ring: Ring) -> None:
    from matplotlib.patches import Polygon as Patch

    axes.add_patch(Patch(ring, closed=True, facecolor=DECK, edgecolor=FAINT, hatch="///", lw=0.0, zorder=1.5))
    axes.add_patch(Patch(ring, closed=True, fill=False, edgecolor=INK, lw=1.4, zorder=1.6))


def _squares(axes: Axes, sheet: DrillSheet, wide: float, high: float) -> None:
    for n in range(len(sheet.letters) + 1):
        axes.plot([sheet.aft_m + n * sheet.side_m] * 2, [sheet.port_m, sheet.port_m + high], color=FAINT, lw=0.5)
    for n in range(sheet.rows + 1):
        axes.plot([sheet.aft_m, sheet.aft_m + wide], [sheet.port_m + n * sheet.side_m] * 2, color=FAINT, lw=0.5)
    box = {"facecolor": PAPER, "edgecolor": "none", "alpha": 0.8, "pad": 0.5}
    for n, letter in enumerate(sheet.letters):
        for row in range(sheet.rows):
            x, y = sheet.aft_m + (n + 0.06) * sheet.side_m, sheet.port_m + (row + 0.06) * sheet.side_m
            axes.text(x, y, f"{letter}{row + 1}", fontsize=6.5, color=INK, va="top", zorder=10, bbox=box)
