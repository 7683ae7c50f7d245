"""The report as one HTML file: nothing is fetched from anywhere, pictures lie within, and it prints."""

from __future__ import annotations

import base64
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from monitor.outlet.console.svg import el, esc
from monitor.outlet.report import passings, sections
from monitor.outlet.report.style import CSS
from monitor.outlet.report.tiles import tiles
from monitor.outlet.report.words import CAUTIONS, Told, basis, changes, no_wind, paragraph, percent
from monitor.records.review import Review

_SECTIONS = (
    ("passings", "Ships that passed"),
    ("wind", "Wind"),
    ("alerts", "Alerts"),
    ("entries", "Who did what"),
    ("gaps", "What was not heard"),
    ("lines", "Lines, most loaded first"),
    ("limits", "With other limits"),
    ("basis", "What this rests on"),
)


def page(review: Review, drawn: Sequence[tuple[Path, str]]) -> str:
    """The whole report. `drawn`: PNG files with their captions, by name stay, passings, lines."""
    told = Told(review.ahead_of_utc)
    pictures = {path.stem: _figure(path, caption) for path, caption in drawn}
    title = f"{review.ship} at {review.berth}: review"
    body = [
        _head(review, told),
        el("p", esc(paragraph(review)), class_="lead"),
        *(el("div", esc(fault), class_="cut") for fault in _faults(review, told)),
        el("div", *tiles(review, told), class_="glance"),
        pictures.get("stay", ""),
        el("nav", *(el("a", esc(words), href=f"#{name}") for name, words in _SECTIONS)),
        _section("passings", *passings.section(review, told, pictures.get("passings", "")), sheet=True),
        _section("wind", *(sections.blow(review, blow, told) for blow in review.blows), empty=no_wind(review)),
        _section("alerts", sections.alerts(review, told) if review.alerts else "", empty="No alert was raised."),
        _section(
            "entries", sections.entries(review, told) if review.entries else "", empty="Nobody entered anything."
        ),
        _section(
            "gaps",
            sections.gaps(review, told) if review.gaps else "",
            empty="No feed was silent beyond its limit. What no feed carries is not heard either.",
        ),
        _section(
            "lines", *sections.lines(review, told, pictures.get("lines", "")), empty="Line loads were never known."
        ),
        _section("limits", *sections.elsewhere(review)),
        _section("basis", *_basis(review, told)),
        _foot(review),
    ]
    head = (
        '<meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">',
        el("title", esc(title)),
        f"<style>{CSS}</style>",
    )
    html = f'<html lang="en"><head>{"".join(head)}</head>\n<body>{"".join(body)}</body></html>'
    return f"<!DOCTYPE html>\n{html}\n"


def _section(name: str, *inside: str, empty: str = "", sheet: bool = False) -> str:
    title = dict(_SECTIONS)[name]
    content = "".join(inside) or el("p", esc(empty))
    return el("section", el("h2", esc(title), id=name), content, class_="sheet" if sheet else None) + "\n"


def _figure(path: Path, caption: str) -> str:
    data = base64.b64encode(path.read_bytes()).decode()
    picture = f'<img alt="{esc(caption)}" src="data:image/png;base64,{data}">'
    return el("figure", picture, el("figcaption", esc(caption)))


def _head(review: Review, told: Told) -> str:
    when = told.span(review.begins, review.ends)
    last = f"{review.ends:%H%M}" if review.ends.date() == review.begins.date() else f"{review.ends:%Y-%m-%d %H%M}"
    utc = f"{review.begins:%Y-%m-%d %H%M} to {last} UTC"
    left = el(
        "div",
        el("h1", esc(f"{review.ship} at {review.berth}, {review.port}")),
        el("p", esc(f"Review of the stay · {when} ({utc})"), class_="when"),
    )
    badge = el("span", "INVENTED", class_="badge") if review.invented else ""
    return el("header", left, badge) + "\n"


def _faults(review: Review, told: Told) -> Iterator[str]:
    if review.whole:
        yield "This recording is not whole: " + "; ".join(review.whole) + "."
    if review.mid_watch:
        yield "This recording begins in the middle of a watch."
    for name, until in review.earlier_stays:
        when = f"{told.day(until)}, {told.clock(until)}"
        yield f"The same journal holds another stay, which is not in this report: {name}, until {when}."


def _basis(review: Review, told: Told) -> Iterator[str]:
    yield _list([*basis(review), *changes(review, told)])
    yield el("h3", "Assumed or not known")
    yield _list(review.assumed) if review.assumed else el("p", "Nothing was left open in the settings.")
    yield el("h3", "Cautions")
    yield _list(CAUTIONS)


def _list(items: Iterable[str]) -> str:
    return el("ul", *(el("li", esc(item)) for item in items))


def _foot(review: Review) -> str:
    watched = ", ".join(review.program) or "not told"
    hashes = ", ".join(review.settings_sha256) or "none"
    named = zip(("caution", "warning", "alarm"), review.levels, strict=True)
    levels = ", ".join(f"{name} {percent(level)}" for name, level in named)
    holds = f"{review.title}. {review.holds} " if review.holds else f"{review.title}. "
    return el(
        "footer",
        esc(
            f"{holds}Watched by version {watched}; reviewed by version {review.program_now}. Levels in force: "
            f"{levels} of a line's limit. Settings SHA-256 {hashes}. Loads in tonnes-force (9.81 kN); shares in "
            "brackets are 5–95 %."
        ),
    )
