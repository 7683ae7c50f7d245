"""The report as one HTML file: nothing is fetched from anywhere, pictures lie within, and it prints."""

from __future__ import annotations

import base64
from collections.abc import Iterable, Iterator, Sequence
from datetime import timedelta
from pathlib import Path

from monitor.base.units import knots, tonnes_force
from monitor.outlet.console.svg import el, esc
from monitor.outlet.report import passings, sections
from monitor.outlet.report.style import CSS
from monitor.outlet.report.words import (
    CAUTIONS,
    Told,
    basis,
    blind,
    by_level,
    count,
    gap_name,
    heaviest_pass,
    lasting,
    load,
    middle,
    paragraph,
    percent,
    ship,
    speed,
)
from monitor.records.events import Priority
from monitor.records.review import Review

SHORT = timedelta(minutes=2)  # by then the decks must be clear
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
        *(el("div", esc(fault), class_="cut") for fault in _faults(review)),
        el("div", *_tiles(review, told), class_="glance"),
        pictures.get("stay", ""),
        el("nav", *(el("a", esc(words), href=f"#{name}") for name, words in _SECTIONS)),
        _section("passings", *passings.section(review, told, pictures.get("passings", "")), sheet=True),
        _section("wind", *(sections.blow(review, blow, told) for blow in review.blows), empty="It never blew up."),
        _section("alerts", sections.alerts(review, told) if review.alerts else "", empty="No alert was raised."),
        _section(
            "entries", sections.entries(review, told) if review.entries else "", empty="Nobody entered anything."
        ),
        _section(
            "gaps",
            sections.gaps(review, told) if review.gaps else "",
            empty="No feed was silent beyond its limit.",
        ),
        _section(
            "lines", *sections.lines(review, told, pictures.get("lines", "")), empty="Line loads were never known."
        ),
        _section("limits", *sections.elsewhere(review)),
        _section("basis", *_basis(review)),
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
    utc = f"{review.begins:%Y-%m-%d %H%M} to {review.ends:%Y-%m-%d %H%M} UTC"
    left = el(
        "div",
        el("h1", esc(f"{review.ship} at {review.berth}, {review.port}")),
        el("p", esc(f"Review of the stay · {when} ({utc})"), class_="when"),
    )
    badge = el("span", "INVENTED", class_="badge") if review.invented else ""
    return el("header", left, badge) + "\n"


def _faults(review: Review) -> Iterator[str]:
    if review.whole:
        yield "This recording is not whole: " + "; ".join(review.whole) + "."
    if review.mid_watch:
        yield "This recording begins in the middle of a watch."


def _tiles(review: Review, told: Told) -> Iterator[str]:
    """Six figures that tell the stay at a glance."""
    if review.lines:
        line = review.lines[0]
        over = line.most_share >= review.levels[2]
        yield _tile(
            "Heaviest line",
            f"{line.line}: {100 * line.most_share:.0f} %",
            f"{tonnes_force(line.most_n.mid):.0f} t of {tonnes_force(line.limit_n):.0f} t {line.limited_by}, "
            f"{told.clock(line.most_at)}, {line.worst_of}",
            over,
        )
    else:
        yield _tile("Heaviest line", "not known", "no line load could be worked out")
    heavy = heaviest_pass(review)
    if heavy is not None:
        off = f"{heavy.distance_m:.0f} m off at {speed(heavy.speed_ground_m_s)} kn, {told.clock(heavy.abeam_at)}"
        high = heavy.highest is Priority.ALARM
        yield _tile("Most felt in passing", ship(heavy), f"{off}: {load(heavy.heaviest)}", high)
    else:
        number = sum(one.passed for one in review.passes)
        yield _tile("Ships that passed", str(number), "by AIS; their load is not known")
    yield _strongest(review, told)
    levels = by_level(review)
    unanswered = sum(alert.unanswered for alert in review.alerts)
    waits = [wait for alert in review.alerts for wait in alert.waits]
    answered = (
        f"acknowledged after {lasting(middle(waits))} as a rule, at most {lasting(max(waits))}" if waits else ""
    )
    nobody = f"{unanswered} never acknowledged" if unanswered else ""
    yield _tile(
        "Alerts",
        f"{count(levels[Priority.ALARM], 'alarm')}, {count(levels[Priority.WARNING], 'warning')}",
        "; ".join(each for each in (count(levels[Priority.CAUTION], "caution"), answered, nobody) if each),
        levels[Priority.ALARM] > 0,
    )
    passing = [
        a for a in review.alerts if a.key.startswith("passing:") and a.highest.rank >= Priority.WARNING.rank
    ]
    leads = [alert.top_lead for alert in passing if alert.top_lead is not None]
    if leads:
        of = count(len(leads), "warning or alarm", "warnings and alarms")
        told_of = f"the shortest of {of}; as a rule {lasting(middle(leads))}"
        yield _tile("Warned before ships were abreast", lasting(min(leads)), told_of, min(leads) < SHORT)
    else:
        yield _tile("Warned before ships were abreast", "–", "no warning for a ship that passed")
    more = f" and {len(review.gaps) - 3} more" if len(review.gaps) > 3 else ""
    yield _tile(
        "Not heard",
        lasting(blind(review)) if review.gaps else "nothing missed",
        "; ".join(f"{gap_name(gap)} {told.clock(gap.since)}" for gap in review.gaps[:3]) + more,
        any(gap.told_at is None for gap in review.gaps),
    )


def _strongest(review: Review, told: Told) -> str:
    known = [(e, speed_m_s) for e in review.estimates if (speed_m_s := e.wind.speed_30s_m_s) is not None]
    if not known:
        return _tile("Strongest wind", "not known", "no wind was recorded")
    top, speed_m_s = max(known, key=lambda each: each[1].mid)
    gust_m_s = max((e.wind.gust_m_s for e, _ in known if e.wind.gust_m_s is not None), default=None)
    gust = "" if gust_m_s is None else f", gusts to {knots(gust_m_s):.0f} kn"
    came = "" if top.wind.from_direction_deg is None else f"from {top.wind.from_direction_deg:03.0f}°, "
    so = f"30 s mean, {came}{told.clock(top.at)}{gust}"
    return _tile("Strongest wind", f"{knots(speed_m_s.mid):.0f} kn", so)


def _tile(of: str, big: str, so: str, high: bool = False) -> str:
    parts = (el("div", esc(words), class_=kind) for kind, words in (("of", of), ("big", big), ("so", so)))
    return el("div", *parts, class_="tile high" if high else "tile")


def _basis(review: Review) -> Iterator[str]:
    yield _list(basis(review))
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
            f"{holds}Watched by version {watched}; reviewed by version {review.program_now}. Levels in force: {levels} "
            f"of a line's limit. Settings SHA-256 {hashes}. Loads in tonnes-force (9.81 kN); shares in brackets are "
            "5–95 %."
        ),
    )
