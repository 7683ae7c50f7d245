"""The ships that passed: those that mattered one by one, expected against come, then all of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from monitor.base.units import knots, tonnes_force
from monitor.outlet.console.svg import el, esc
from monitor.outlet.drivers import chance_in_words
from monitor.outlet.report.tablets import Cell, cell, table
from monitor.outlet.report.words import MARKS, WAYS, Told, band, count, felt, load, share, ship, speed
from monitor.records.events import Priority
from monitor.records.review import Expected, Passed, Review

MATTERS: int = Priority.WARNING.rank


def section(review: Review, told: Told, picture: str) -> Iterator[str]:
    """The parts of the section in order."""
    if not review.passes:
        yield el("p", "No ship was seen on AIS to pass.")
        return
    yield picture
    mattered = [one for one in review.passes if one.highest.rank >= MATTERS]
    for one in mattered:
        yield _card(one, told)
    if not mattered:
        yield el("p", "No ship called for a warning.")
    yield el("h3", "All that passed")
    yield _all(review.passes, told)


def _card(one: Passed, told: Told) -> str:
    local, utc = told.both(one.abeam_at)
    length = f", {one.length_m:.0f} m" if one.length_m else ", length not told"
    where = "abeam" if one.passed else "nearest"
    head = f"{MARKS[one.highest]} {ship(one)}{length}, {where} {local} ({utc}), {WAYS[one.kind]}"
    what = [_numbers(one, told)] if one.expected else []
    what += [_words(one, told)] if one.told or not what else []
    return el("div", el("h3", esc(head)), *what, el("p", esc(_result(one))), class_="card")


def _numbers(one: Passed, told: Told) -> str:
    """What the outlook said at each moment, and what came."""
    rows = [_expected(each, told) for each in one.expected]
    came: Sequence[Cell] = (
        "came" if one.passed else "nearest she came",
        _unbroken(told.clock(one.abeam_at)),
        f"{one.distance_m:.0f}",
        speed(one.speed_ground_m_s),
        speed(one.speed_water_m_s),
        felt(one),
        "",
    )
    heads = (
        "",
        "abeam",
        "m off",
        "kn over ground",
        "kn through water",
        "heaviest line",
        "chance over working limit",
    )
    return table(heads, [*rows, came], came_last=True)


def _expected(each: Expected, told: Told) -> Sequence[Cell]:
    return (
        cell(each.before.value, small=told.clock(each.at)),
        _unbroken(told.clock(each.abeam_at)),
        band(each.distance_m),
        band(each.speed_ground_m_s, knots(1.0), 1),
        band(each.speed_water_m_s, knots(1.0), 1),
        load(each.heaviest),
        "–" if each.chance is None else chance_in_words(each.chance),
    )


def _unbroken(text: str) -> str:
    return text.replace(" ", "\N{NO-BREAK SPACE}")


def _words(one: Passed, told: Told) -> str:
    """What people were told at the time; and what came, where no figures stand beside it."""
    rows: list[Sequence[Cell]] = [
        (
            cell(told.clock(notice.at), small=f"{notice.priority.value}, {notice.reason.value.partition(':')[0]}"),
            cell(notice.why, small=notice.when),
            notice.what.partition(". ")[0].removesuffix("."),
        )
        for notice in one.told
    ]
    heads = ("told", "what she would do", "what it would do to the lines")
    if one.expected:
        return table(heads, rows, wide=1)
    water = "" if one.speed_water_m_s is None else f", {speed(one.speed_water_m_s)} kn through the water"
    rows.append(
        (
            cell("came" if one.passed else "nearest", small=told.clock(one.abeam_at)),
            f"{one.distance_m:.0f} m off at {speed(one.speed_ground_m_s)} kn over ground{water}",
            felt(one),
        )
    )
    return table(heads, rows, came_last=True, wide=1)


def _result(one: Passed) -> str:
    parts = []
    if one.steady is not None and one.heaviest is not None:
        parts.append(f"Without her {one.steady.line} would have carried {share(one.steady.utilisation)}.")
    if one.measured_n:
        most = sorted(one.measured_n, key=lambda each: -each[1])[:4]
        parts.append("Measured: " + ", ".join(f"{line} {tonnes_force(n):.0f} t" for line, n in most) + ".")
    if one.passed:
        old = f"her last AIS report was at most {one.reckoned_s:.0f} s old"
        peak = ", the peak may lie between them" if one.sparse else ""
        parts.append(f"{count(one.estimates, 'estimate')} fell into her pass{peak}; {old}.")
    else:
        parts.append("She was told as coming and was never abreast of us.")
    return " ".join(parts)


def _all(passes: Sequence[Passed], told: Told) -> str:
    rows = []
    for one in passes:
        local, utc = told.both(one.abeam_at)
        rows.append(
            (
                cell(local, small=utc),
                cell(ship(one), small=f"{one.length_m:.0f} m" if one.length_m else "length not told"),
                WAYS[one.kind],
                f"{one.distance_m:.0f}",
                speed(one.speed_ground_m_s),
                speed(one.speed_water_m_s),
                cell(f"{MARKS[one.highest]} {one.highest.value}", kind=one.highest.value)
                if one.highest is not Priority.NONE
                else "–",
                cell(
                    (("at least " if one.sparse else "") + share(one.heaviest.utilisation))
                    if one.heaviest
                    else "not known",
                    small=(one.heaviest.line if one.heaviest else "")
                    + (f"; without her {share(one.steady.utilisation)}" if one.steady else ""),
                ),
            )
        )
    heads = ("abeam, LT", "ship", "way", "m off", "kn ground", "kn water", "told", "heaviest line, of its limit")
    return table(heads, rows)
