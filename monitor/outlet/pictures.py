"""Pictures for people: the load of a passing ship against her place. Numbers come in ready; nothing is worked out.

Signs are put in words (ahead, off the quay, bow off the quay), so that a picture needs no axes to be explained.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Any, Final

from monitor.base.units import TONNE_FORCE_N, knots, tonnes_force
from monitor.outlet.wording import CAUTION, NOT_MODELLED
from monitor.records.estimates import Validity

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MISSING: Final = "pictures need matplotlib, which is not installed: pip install 'bightwatch[pictures]'"
# Ink, paper and one blue; red stays with the alarms. The band is told by its edges too, not by colour alone.
INK: Final = "#1d2a33"
FAINT: Final = "#8b979f"
BLUE: Final = "#1f5f8b"
PALE: Final = "#bcd3e2"
_HULL: Final = "#dfe6ea"
_QUAY: Final = "#c9c2b4"


@dataclass(frozen=True, slots=True)
class Outline:
    """A ship seen from above: length, beam, and where her centre line lies, metres off the face of the quay."""

    name: str
    length_m: float
    beam_m: float
    off_quay_m: float


@dataclass(frozen=True, slots=True)
class PassingPicture:
    """A pass in numbers, (n,) each: where she is, and what she does to us.

    `place_m`: her midships ahead (+) or astern (−) of ours, in rising order. `ahead_n`, `off_quay_n`,
    `bow_off_quay_n_m`: the middle of the load; the band lies between `low` and `high` times it. `heads_ahead`: she
    runs from astern to ahead of us. `local`: the port's time of the tide and stream it is worked out for.
    """

    own: Outline
    passer: Outline
    place_m: Sequence[float]
    ahead_n: Sequence[float]
    off_quay_n: Sequence[float]
    bow_off_quay_n_m: Sequence[float]
    low: float
    high: float
    heads_ahead: bool
    speed_ground_m_s: float
    speed_water_m_s: float
    draught_m: float
    assumed: tuple[str, ...]
    validity: Validity
    reasons: tuple[str, ...]
    berth: str
    local: datetime
    invented: bool

    @property
    def clear_m(self) -> float:
        """Hull to hull when abeam."""
        apart_m = self.passer.off_quay_m - self.own.off_quay_m
        return apart_m - 0.5 * (self.own.beam_m + self.passer.beam_m)


def draw_passing(picture: PassingPicture, to: Path) -> None:
    """Write the picture as PNG (or whatever the suffix says). Raises ValueError when matplotlib is missing."""
    try:
        from matplotlib.figure import Figure
    except ImportError:
        raise ValueError(MISSING) from None
    figure = Figure(figsize=(10.0, 11.5), dpi=150, facecolor="white")
    axes = figure.subplots(
        4, 1, sharex=True, height_ratios=(3, 3, 3, 2.1), gridspec_kw={"hspace": 0.16, "top": 0.825, "bottom": 0.16}
    )
    figure.subplots_adjust(left=0.115, right=0.965)
    parts = (
        (picture.ahead_n, "Along the quay, t", "ahead", "astern"),
        (picture.off_quay_n, "Across, t", "off the quay", "on to the quay"),
        (picture.bow_off_quay_n_m, "Turning, t·m", "bow off the quay", "bow on to the quay"),
    )
    for ax, (load, label, above, below) in zip(axes, parts, strict=False):
        _panel(ax, picture, [tonnes_force(each) for each in load], label, above, below)
    _plan(axes[3], picture)
    _times(axes[0], picture)
    _texts(figure, picture)
    figure.savefig(to)


def _panel(ax: Axes, picture: PassingPicture, middle: Sequence[float], label: str, above: str, below: str) -> None:
    x = list(picture.place_m)
    low, high = ([share * each for each in middle] for share in (picture.low, picture.high))
    ax.fill_between(x, low, high, color=PALE, linewidth=0.0, label="5–95 %")
    for edge in (low, high):
        ax.plot(x, edge, color=BLUE, linewidth=0.7, linestyle=(0, (4, 3)))
    ax.plot(x, middle, color=BLUE, linewidth=2.2, label="middle")
    ax.axhline(0.0, color=INK, linewidth=0.8)
    ax.axvline(0.0, color=FAINT, linewidth=0.8, linestyle=":")
    top = 1.5 * max(*(abs(each) for each in high), 1e-9)
    ax.set_ylim(-top, top)
    ax.set_xlim(x[0], x[-1])
    ax.set_ylabel(label, color=INK)
    for text, height, upright in ((f"▲ {above}", 0.955, "top"), (f"▼ {below}", 0.045, "bottom")):
        ax.text(0.012, height, text, transform=ax.transAxes, va=upright, color=INK, fontsize=9.5)
    _peaks(ax, x, middle, low, high, above, below)
    plain_axes(ax)


def _peaks(
    ax: Axes,
    x: Sequence[float],
    middle: Sequence[float],
    low: Sequence[float],
    high: Sequence[float],
    above: str,
    below: str,
) -> None:
    """The greatest value each way, with its band, written outside the band."""
    largest = max(abs(each) for each in middle)
    for sign, way in ((1.0, above), (-1.0, below)):
        i = max(range(len(x)), key=lambda j: sign * middle[j])
        if sign * middle[i] < 0.15 * largest or largest <= 0.0:
            continue
        ends = sorted((abs(low[i]), abs(high[i])))
        ax.plot([x[i]], [middle[i]], marker="o", markersize=5.5, color=BLUE, markeredgecolor="white")
        ax.annotate(
            f"{abs(middle[i]):,.0f} ({ends[0]:,.0f}–{ends[1]:,.0f}) {way}",
            (x[i], high[i]),
            xytext=(0.0, 5.0 * sign),
            textcoords="offset points",
            ha="center",
            va="bottom" if sign > 0.0 else "top",
            color=INK,
            fontsize=9.5,
        )


def _plan(ax: Axes, picture: PassingPicture) -> None:
    """Both ships from above, she abeam of us."""
    own, her = picture.own, picture.passer
    x0, x1 = picture.place_m[0], picture.place_m[-1]
    quay_m = 0.16 * her.off_quay_m
    ax.axhspan(-quay_m, 0.0, color=_QUAY, linewidth=0.0)
    ax.plot([x0, x1], [0.0, 0.0], color=INK, linewidth=1.0)
    way = 1.0 if picture.heads_ahead else -1.0
    for ship, heads, face in ((own, 1.0, _HULL), (her, way, "white")):
        ax.fill(*_hull(ship, heads), facecolor=face, edgecolor=INK, linewidth=1.1)
        ax.text(0.0, ship.off_quay_m, ship.name, ha="center", va="center", fontsize=8.5, color=INK)
    ax.annotate(
        "",
        (way * 0.92 * max(abs(x0), abs(x1)), her.off_quay_m),
        (way * 0.56 * her.length_m, her.off_quay_m),
        arrowprops={"arrowstyle": "-|>", "color": BLUE, "linewidth": 1.6},
    )
    ax.plot([x0, -way * 0.56 * her.length_m] if way > 0 else [x1, -way * 0.56 * her.length_m],
            [her.off_quay_m] * 2, color=BLUE, linewidth=1.0, linestyle=":")  # fmt: skip
    clear_m = picture.clear_m
    edge_m = own.off_quay_m + 0.5 * own.beam_m
    at_m = 0.3 * min(own.length_m, her.length_m)
    ax.annotate("", (at_m, edge_m), (at_m, edge_m + clear_m), arrowprops={"arrowstyle": "<->", "color": FAINT})
    ax.text(at_m + 0.01 * (x1 - x0), edge_m + 0.5 * clear_m, f"{clear_m:.0f} m", va="center", fontsize=9)
    ax.text(x0 + 0.012 * (x1 - x0), -0.5 * quay_m, "quay", va="center", fontsize=8.5, color=INK)
    ax.set_ylim(-quay_m, her.off_quay_m + 0.9 * her.beam_m)
    ax.set_ylabel("Off the quay, m", color=INK)
    ax.set_xlabel("Her midships astern (−) or ahead (+) of ours, m", color=INK)
    plain_axes(ax)
    ax.grid(False)


def _hull(ship: Outline, heads: float) -> tuple[list[float], list[float]]:
    """Corners of a hull with a pointed bow, heading ahead (+1) or astern (−1)."""
    half, side = 0.5 * ship.length_m * heads, 0.5 * ship.beam_m
    along = [half, 0.74 * half, -0.94 * half, -half, -half, -0.94 * half, 0.74 * half]
    across = [0.0, side, side, 0.7 * side, -0.7 * side, -side, -side]
    return along, [ship.off_quay_m + each for each in across]


def _times(ax: Axes, picture: PassingPicture) -> None:
    """A second scale on top: minutes from her being abeam, at her speed over the ground."""
    if picture.speed_ground_m_s <= 0.0:
        return
    metres = 60.0 * picture.speed_ground_m_s * (1.0 if picture.heads_ahead else -1.0)

    def minutes(place_m: Any) -> Any:
        return place_m / metres

    def place_m(minutes: Any) -> Any:
        return minutes * metres

    scale: Any = ax.secondary_xaxis("top", functions=(minutes, place_m))
    scale.set_xlabel("Minutes before (−) and after (+) she is abeam", color=INK, labelpad=7)
    scale.tick_params(colors=INK, labelsize=9)
    scale.spines["top"].set_color(FAINT)


def _texts(figure: Figure, picture: PassingPicture) -> None:
    """What it is, what went in, how sure, and the cautions: whoever sees the picture sees them."""
    left = 0.115
    title = f"What if a ship passes {picture.own.name}"
    figure.text(left, 0.972, title, fontsize=16, fontweight="bold", color=INK, va="top")
    figure.text(left, 0.941, fill(_given(picture), 108), fontsize=10, color=INK, va="top", linespacing=1.35)
    if picture.invented:
        figure.text(
            0.965, 0.972, "INVENTED", fontsize=13, fontweight="bold", color="white", va="top", ha="right",
            bbox={"boxstyle": "square,pad=0.35", "facecolor": INK, "edgecolor": "none"},
        )  # fmt: skip
    foot = (
        "Heavy line: middle of the estimate. Pale band between broken lines: 5–95 %. "
        f"1 t = {TONNE_FORCE_N / 1e3:.2f} kN.",
        _doubts(picture),
        f"{CAUTION} {NOT_MODELLED}",
    )
    text = "\n".join(fill(each, 122) for each in foot)
    figure.text(left, 0.105, text, fontsize=8.8, color=INK, va="top", linespacing=1.4)


def _given(picture: PassingPicture) -> str:
    her, way = picture.passer, "as we do" if picture.heads_ahead else "the other way"
    return (
        f"She is {her.length_m:.0f} m long, {her.beam_m:.0f} m wide, draws {picture.draught_m:.1f} m, heads {way} "
        f"and passes {picture.clear_m:.0f} m off, hull to hull, at {knots(picture.speed_water_m_s):.1f} kn "
        f"through the water. {picture.berth}, tide and stream of {picture.local:%d %B %Y, %H%M} LT. "
        "Wind and stream on us are not in these curves."
    )


def _doubts(picture: PassingPicture) -> str:
    assumed = f"Assumed: {', '.join(picture.assumed)}. " if picture.assumed else ""
    reasons = f": {'; '.join(picture.reasons)}" if picture.reasons else ""
    return f"{assumed}Estimate {picture.validity.value}{reasons}."


def plain_axes(ax: Axes) -> None:
    """A light grid behind, two sides only: the numbers are the picture."""
    ax.grid(True, color="#e6eaed", linewidth=0.8)
    ax.set_axisbelow(True)
    ax.tick_params(colors=INK, labelsize=9)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        ax.spines[side].set_color(FAINT)
