"""Small means to write SVG and HTML: everything that comes from outside is escaped here, once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from math import cos, radians, sin

Points = Iterable[tuple[float, float]]


def el(kind: str, /, *inside: str, **attributes: object) -> str:
    """An element. Names as keywords: `class_`, `stroke_width`; None leaves one out, True writes it bare.

    What is `inside` is markup already; text goes through `esc`.
    """
    written = []
    for key, value in attributes.items():
        if value is None or value is False:
            continue
        key = key.rstrip("_").replace("_", "-")
        shown = f"{value:.1f}" if isinstance(value, float) else str(value)
        written.append(key if value is True else f'{key}="{escape(shown)}"')
    opened = " ".join([kind, *written])
    return f"<{opened}>" if kind == "input" else f"<{opened}>{''.join(inside)}</{kind}>"


def esc(text: object) -> str:
    """Text as markup."""
    return escape(str(text))


def items(each: Iterable[object]) -> str:
    """A list."""
    return el("ul", *(el("li", esc(item)) for item in each))


def td(words: object, kind: str = "") -> str:
    """A cell of a table."""
    return el("td", esc(words), class_=kind or None)


def table(heads: Sequence[str], rows: Iterable[str]) -> str:
    """A table that scrolls sideways where it is too wide; `rows` are whole `tr` elements."""
    head = el("thead", el("tr", *(el("th", esc(name), scope="col") for name in heads)))
    return el("div", el("table", head, el("tbody", *rows)), class_="scroll", tabindex="0")


def drawing(width: float, height: float, label: str, *inside: str) -> str:
    """A whole SVG, told to a screen reader by its label."""
    return el(
        "svg", *inside, viewBox=f"0 0 {width:.0f} {height:.0f}", role="img", aria_label=label,
        width=f"{width:.0f}", height=f"{height:.0f}",
    )  # fmt: skip


def text(x: float, y: float, words: object, kind: str = "", anchor: str = "start", **more: object) -> str:
    """Words at a place; `kind` is a class of the style sheet."""
    return el("text", esc(words), x=x, y=y, class_=kind or None, text_anchor=anchor, **more)


def rule(x1: float, y1: float, x2: float, y2: float, kind: str, **more: object) -> str:
    """A straight stroke."""
    return el("line", x1=x1, y1=y1, x2=x2, y2=y2, class_=kind, **more)


def box(x: float, y: float, width: float, height: float, kind: str, **more: object) -> str:
    """A rectangle; a negative width or height is drawn as none."""
    return el("rect", x=x, y=y, width=max(0.0, width), height=max(0.0, height), class_=kind, **more)


def shape(points: Points, kind: str, **more: object) -> str:
    """A closed polygon."""
    return el("polygon", points=_spots(points), class_=kind, **more)


def stroke(points: Points, kind: str, **more: object) -> str:
    """An open polyline."""
    return el("polyline", points=_spots(points), class_=kind, **more)


def _spots(points: Points) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)


def arrow(x: float, y: float, towards_deg: float, length: float, kind: str, chevrons: int = 1) -> str:
    """An arrow through (x, y), `towards_deg` clockwise from the right of the drawing."""
    c, s = cos(radians(towards_deg)), sin(radians(towards_deg))

    def at(ahead: float, side: float) -> tuple[float, float]:
        return x + ahead * c - side * s, y + ahead * s + side * c

    half, head = 0.5 * length, 0.16 * length + 4
    heads = [
        stroke(
            [at(half - head - n * 9, -head * 0.7), at(half - n * 9, 0), at(half - head - n * 9, head * 0.7)], kind
        )
        for n in range(chevrons)
    ]
    return stroke([at(-half, 0), at(half, 0)], kind) + "".join(heads)


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Places in the order of `wanted` (ascending), at least `gap` apart, within [low, high], as near as can be.

    When they do not all fit, they are set evenly.
    """
    count = len(wanted)
    if count and (count - 1) * gap >= high - low:
        return [low + (high - low) * n / max(1, count - 1) for n in range(count)]
    clusters: list[list[float]] = []  # [sum of (wanted − n·gap), members]: pooled until they do not overlap
    for n, place in enumerate(wanted):
        clusters.append([place - n * gap, 1.0])
        while len(clusters) > 1 and clusters[-2][0] / clusters[-2][1] >= clusters[-1][0] / clusters[-1][1]:
            total, members = clusters.pop()
            clusters[-1][0] += total
            clusters[-1][1] += members
    placed: list[float] = []
    for total, members in clusters:
        start = min(max(total / members, low), high - (count - 1) * gap)
        placed += [start + (len(placed) + n) * gap for n in range(int(members))]
    return placed
