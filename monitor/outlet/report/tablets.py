"""Tables in markup: rows of cells, each a text with perhaps a smaller one below it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.outlet.console.svg import el, esc


@dataclass(frozen=True, slots=True)
class Marked:
    """A cell with more than a text."""

    text: str
    small: str = ""
    kind: str = ""


Cell = str | Marked


def cell(text: str, small: str = "", kind: str = "") -> Cell:
    """A cell; `small` goes below the text, `kind` is a class of the style sheet."""
    return Marked(text, small, kind)


def table(
    heads: Sequence[str],
    rows: Sequence[Sequence[Cell]],
    note: str = "",
    came_last: bool = False,
    wide: int | None = None,
) -> str:
    """A table; with `came_last` the last row is set off as what came. Column `wide` takes what room is left."""
    named = (
        el("th", esc(text), scope="col", class_="wide" if i == wide else None) for i, text in enumerate(heads)
    )
    head = el("thead", el("tr", *named))
    body = [
        el("tr", *map(_cell, row), class_="came" if came_last and i == len(rows) - 1 else None)
        for i, row in enumerate(rows)
    ]
    below = el("p", el("small", esc(note))) if note else ""
    return el("table", head, el("tbody", *body)) + below


def _cell(one: Cell) -> str:
    marked = Marked(one) if isinstance(one, str) else one
    inside = el("span", esc(marked.text), class_=marked.kind) if marked.kind else esc(marked.text)
    return el("td", inside, el("small", esc(marked.small)) if marked.small else "")
