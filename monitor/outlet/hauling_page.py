"""The page on the line being hauled: what a few turns on a warping drum do, and where not to be.

Friction round the drum multiplies the hold of a hand. The same figures say how little holds when a turn rides up,
the rope is wet or the drum polished, and that whoever tails the line is in the line's own recoil.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from textwrap import fill
from typing import Final

from monitor.outlet.deck_drawing import FAINT, INK, PAPER
from monitor.outlet.pictures import MISSING

WHERE_NOT: Final = (
    "The whole mooring deck is in reach of this line while it is hauled, and so is the quay edge.",
    "Nobody in a bight, over a line, or between drum and lead: a turn that slips takes in every loop on deck.",
    "Tail from well back, line led away clear, never round hand or body. 2 m or more from the drum "
    "(6 ft: US Navy EO 14160).",
    "One heaves, one tails, one watches the lead and can stop the drum. Who gives the orders hauls nothing.",
    "A line that does not come in is loaded: stop the drum, keep the turns on, tell the officer. No turn comes "
    "off under load.",
)


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
    rows += ["", *(f"Turns for {pull_n / 1e3:.0f} kN: {_enough(page, pull_n)}" for pull_n in page.pulls_n), ""]
    return "\n".join([*rows, *(fill(f"- {text}", 100, subsequent_indent="  ") for text in WHERE_NOT), ""])


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
        axes = figure.add_axes((0.085, 0.42, 0.52, 0.43))
        turns = [each.turns for each in page.turns]
        least = [each.least * page.hold_n / 1e3 for each in page.turns]
        most = [each.most * page.hold_n / 1e3 for each in page.turns]
        axes.fill_between(turns, least, most, color="#dfe6ea", hatch="..", edgecolor=FAINT, linewidth=0.0)
        axes.plot(turns, least, "o-", color=INK, lw=2.2)
        axes.plot(turns, most, "o--", color=INK, lw=1.2)
        axes.annotate(f"friction {page.friction[0]:g}: count on no more", (turns[-3], least[-3]), (8, -16),
                      textcoords="offset points", fontsize=9.5, weight="bold", color=INK)  # fmt: skip
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
        rows += [""] + [f"{pull_n / 1e3:.0f} kN: {_enough(page, pull_n)}" for pull_n in page.pulls_n]
        figure.text(0.64, 0.85, "Pull ÷ hold", fontsize=11, weight="bold", color=INK, va="top")
        figure.text(0.64, 0.815, "\n".join(rows), fontsize=10, color=INK, va="top", linespacing=1.5)
        words = "\n".join(fill(f"• {text}", 135, subsequent_indent="   ") for text in WHERE_NOT)
        figure.text(0.04, 0.325, words, fontsize=10.5, color=INK, va="top", linespacing=1.45)
        note = (
            f"{page.material}, friction on steel {page.friction[0]:g} to {page.friction[1]:g} (from memory; "
            "falls with load, wet and polish). Euler–Eytelwein: pull ÷ hold = e^(friction × angle). Advice only: "
            "master, line management plan and port rules come first."
        )
        figure.text(0.04, 0.045, fill(note, 180), fontsize=7.5, color=INK, va="center")
        for path in to:
            figure.savefig(path, metadata={"Date": None} if path.suffix == ".svg" else None)
