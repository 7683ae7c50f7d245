"""The page on the line being hauled: what a few turns on a warping drum do, and where not to be.

Friction round the drum multiplies the hold of a hand. The same figures say how little holds when a turn rides up,
the rope is wet or the drum polished, and that whoever tails the line is in the line's own recoil.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Final

from monitor.outlet.deck_drawing import FAINT, INK, PAPER, draw_ground, scale_bar
from monitor.outlet.pictures import MISSING
from monitor.records.decks import Hauled, Site

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WHERE_NOT: Final = (
    "The whole mooring deck is in reach of this line while it is hauled, and so is the quay edge.",
    "Nobody in a bight, over a line, or between drum and lead: a turn that slips takes in every loop on deck.",
    "Tail from well back, line led away clear, never round hand or body. 2 m or more from the drum "
    "(6 ft: US Navy EO 14160).",
    "One heaves, one tails, one watches the lead and can stop the drum. Who gives the orders hauls nothing.",
    "A line that does not come in is loaded: stop the drum, keep the turns on, tell the officer. No turn comes "
    "off under load.",
)
_LETTERS: Final = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
NEAR_DRUM_M: Final = 2.0  # 6 ft: US Navy EO 14160


@dataclass(frozen=True, slots=True)
class Turns:
    """Ratios of pull to hold for one number of whole turns, at the least and the greatest friction of the rope."""

    turns: int
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class HaulingPage:
    """A line on the warping drum: pulls in N; `hold_n` of one person's hands."""

    line: str
    material: str
    friction: tuple[float, float]
    turns: tuple[Turns, ...]
    pulls_n: tuple[float, ...]
    hold_n: float
    ship: str
    invented: bool
    site: Site | None = None  # both None without deck plans, or when the line is not led
    hauled: Hauled | None = None


def page_in_words(page: HaulingPage) -> str:
    """The page as text."""
    low, high = page.friction
    rows = [
        f"HAULING {page.line} on a warping drum ({page.ship}{', INVENTED' if page.invented else ''})",
        f"{page.material} on steel: friction {low:g} to {high:g} (from memory); pull ÷ hold = e^(μ × angle)",
        "",
        f"{'turns':>6}  {'pull ÷ hold':>14}  {f'{page.hold_n:.0f} N of hands hold':>24}",
    ]
    for each in page.turns:
        ratio = f"{each.least:.1f} – {each.most:.1f}"
        held = f"{each.least * page.hold_n / 1e3:.1f} – {each.most * page.hold_n / 1e3:.1f} kN"
        rows.append(f"{each.turns:>6}  {ratio:>14}  {held:>24}")
    rows += ["", *(f"Turns for {row}" for row in _turns_for(page)), ""]
    rows += [*(fill(text, 100, subsequent_indent="   ") for text in bights_in_words(page)), ""]
    return "\n".join([*rows, *(fill(f"- {text}", 100, subsequent_indent="  ") for text in WHERE_NOT), ""])


def bights_in_words(page: HaulingPage) -> list[str]:
    """Each bight with its letter; what is not known is said."""
    if page.hauled is None:
        return ["Bights of this line: not known, its lead is not entered. Every angle of it is one."]
    if not page.hauled.bights:
        return [f"From {page.hauled.drum.name} it is led straight; every loop on deck is a bight all the same."]
    return [
        f"{letter}  {bight.name}: the line turns {bight.turn_deg:.0f}° and pulls it with {bight.pull:.1f} × its "
        "own pull. If it gives way, or the line jumps off, the line flies across this angle and past it."
        for letter, bight in zip(_LETTERS, page.hauled.bights, strict=False)
    ]


def _turns_for(page: HaulingPage) -> list[str]:
    """Turns for each pull; pulls that need the same together."""
    by_turns: dict[str, list[str]] = {}
    for pull_n in page.pulls_n:
        by_turns.setdefault(_enough(page, pull_n), []).append(f"{pull_n / 1e3:.0f}")
    return [f"{', '.join(pulls)} kN: {enough}" for enough, pulls in by_turns.items()]


def _enough(page: HaulingPage, pull_n: float) -> str:
    """The fewest turns with which one person's hands hold a pull at the least friction."""
    held = next((each.turns for each in page.turns if each.least * page.hold_n >= pull_n), None)
    return (
        f"{held} at the least friction"
        if held
        else f"more than {page.turns[-1].turns}: not a pull to hold by hand"
    )


def draw_page(page: HaulingPage, to: Sequence[Path]) -> None:
    """Write the page to PNG or SVG files. Raises ValueError when matplotlib is missing."""
    try:
        import matplotlib
        from matplotlib.figure import Figure
    except ImportError:
        raise ValueError(MISSING) from None
    with matplotlib.rc_context({"svg.fonttype": "none", "svg.hashsalt": "bightwatch"}):
        figure = Figure(figsize=(11.69, 8.27), dpi=150, facecolor=PAPER)
        title = f"{page.line.capitalize()} on the warping drum"
        figure.text(0.04, 0.94, title, fontsize=19, weight="bold", color=INK, va="center")
        whose = page.ship + ("\nINVENTED" if page.invented else "")
        figure.text(0.96, 0.96, whose, fontsize=9.5, color=INK, ha="right", va="top")
        axes = figure.add_axes((0.065, 0.45, 0.27, 0.41))
        turns = [each.turns for each in page.turns]
        least = [each.least * page.hold_n / 1e3 for each in page.turns]
        most = [each.most * page.hold_n / 1e3 for each in page.turns]
        axes.fill_between(turns, least, most, color="#dfe6ea", hatch="..", edgecolor=FAINT, linewidth=0.0)
        axes.plot(turns, least, "o-", color=INK, lw=2.2)
        axes.plot(turns, most, "o--", color=INK, lw=1.2)
        axes.annotate(f"friction {page.friction[0]:g}:\ncount on no more", (turns[-1], least[-3]), (0, -10),
                      textcoords="offset points", fontsize=9.5, weight="bold", color=INK, ha="right",
                      va="top")  # fmt: skip
        axes.annotate(f"friction {page.friction[1]:g}", (turns[-1], most[-1]), (-14, 2),
                      textcoords="offset points", ha="right", fontsize=9.5, color=INK)  # fmt: skip
        for pull_n in page.pulls_n:
            axes.axhline(pull_n / 1e3, color=FAINT, lw=0.8)
            axes.text(turns[0], pull_n / 1e3, f" {pull_n / 1e3:.0f} kN", fontsize=8.5, va="bottom", color=INK)
        axes.set_yscale("log")
        axes.yaxis.set_major_formatter("{x:g}")
        axes.set_xticks(turns)
        axes.set_xlabel("whole turns on the drum", color=INK)
        axes.set_ylabel(f"pull held by {page.hold_n:.0f} N of hands, kN", color=INK)
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
        rows = [
            f"{each.turns} turn{'s' if each.turns > 1 else ' '}   × {each.least:.1f} to × {each.most:.1f}"
            for each in page.turns
        ]
        rows += [""] + [fill(row, 26, subsequent_indent="   ") for row in _turns_for(page)]
        figure.text(0.355, 0.88, "Pull ÷ hold", fontsize=11, weight="bold", color=INK, va="top")
        figure.text(0.355, 0.85, "\n".join(rows), fontsize=9.5, color=INK, va="top", linespacing=1.45)
        figure.text(
            0.53,
            0.88,
            "Nobody inside its bights, on a deck struck all over",
            fontsize=11,
            weight="bold",
            color=INK,
            va="top",
        )
        if page.site is not None and page.hauled is not None:
            _plan(figure.add_axes((0.53, 0.45, 0.44, 0.40)), page.site, page.hauled)
        told = "\n".join(fill(text, 96, subsequent_indent="    ") for text in bights_in_words(page))
        figure.text(0.53, 0.435, told, fontsize=8, color=INK, va="top", linespacing=1.35)
        words = "\n".join(fill(f"• {text}", 84, subsequent_indent="   ") for text in WHERE_NOT)
        figure.text(0.04, 0.385, words, fontsize=9.5, color=INK, va="top", linespacing=1.4)
        note = (
            f"{page.material}, friction on steel {page.friction[0]:g} to {page.friction[1]:g} (from memory; "
            "falls with load, wet and polish). Euler–Eytelwein: pull ÷ hold = e^(friction × angle). Advice only: "
            "master, line management plan and port rules come first."
        )
        figure.text(0.04, 0.045, fill(note, 180), fontsize=7.5, color=INK, va="center")
        for path in to:
            figure.savefig(path, metadata={"Date": None} if path.suffix == ".svg" else None)


def _plan(axes: Axes, site: Site, hauled: Hauled) -> None:
    """The deck about the line from its drum to its fairlead and somewhat on, with the inside of each bight."""
    from matplotlib.patches import Circle, Polygon

    draw_ground(axes, Site(site.grounds, ()), site.ground(hauled.ground), (), (0.0, 1.0), names=False)
    xs, ys = zip(*hauled.points[:-1], strict=True)
    middle_x, middle_y = 0.5 * (min(xs) + max(xs)), 0.5 * (min(ys) + max(ys))
    half = max(0.5 * (max(xs) - min(xs)) + 4.0, (0.5 * (max(ys) - min(ys)) + 4.0) * 1.55)
    axes.set_xlim(middle_x - half, middle_x + half)
    axes.set_ylim(middle_y + half / 1.55, middle_y - half / 1.55)
    for bight in hauled.bights:
        axes.add_patch(Polygon(bight.inside, facecolor="#b3873a", edgecolor=INK, hatch="xxx", lw=0.8, zorder=3.5))
    axes.add_patch(Circle(hauled.drum.at, NEAR_DRUM_M, fill=False, edgecolor=INK, ls="--", lw=1.6, zorder=11))
    axes.plot(*zip(*hauled.points, strict=True), color=PAPER, lw=6.0, zorder=12, solid_capstyle="round")
    axes.plot(*zip(*hauled.points, strict=True), color=INK, lw=3.0, zorder=13, solid_capstyle="round")
    tag = {"facecolor": PAPER, "edgecolor": INK, "linewidth": 1.2, "boxstyle": "circle,pad=0.2"}
    for letter, bight in zip(_LETTERS, hauled.bights, strict=False):
        axes.text(*bight.at, letter, fontsize=10, weight="bold", color=INK, ha="center", va="center", zorder=15,
                  clip_on=True, bbox=tag)  # fmt: skip
    x, y = hauled.drum.at
    axes.text(x, y + NEAR_DRUM_M, f"{hauled.drum.name}: 2 m", fontsize=7.5, color=INK, ha="center", va="top",
              zorder=15, clip_on=True, bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8})  # fmt: skip
    scale_bar(axes)
