"""What lies ahead, as lists: chances, ships, hours, what to tend and when, what follows when a line goes."""

from __future__ import annotations

from typing import Final

from monitor.base.units import knots, tonnes_force
from monitor.outlet import tending_words as words
from monitor.outlet.console.approach import AIS_IS_DARK, ais_dark
from monitor.outlet.console.svg import el, esc, items, table, td
from monitor.outlet.drivers import chance_in_words, drivers_in_words
from monitor.outlet.wording import Local, percent, ship_in_words
from monitor.records.estimates import EventOdds, LineLoad
from monitor.records.picture import Picture

_LINES: Final = 6
_LINE_HEADS: Final = ("line", "peak t", "at rest", "moving", "limit passed", "brake renders", "parts")
_HOURS: Final = ("LT", "wind", "heaviest line", "passes working limit", "parts", "depends most on")


def briefly(picture: Picture) -> str:
    """The side of the watch screen: chances soon, the first lines to tend, the lightest time, the worst loss."""
    local, outlook = Local(picture.ahead_of_utc), picture.outlook
    lulls = words.lulls_in_words(outlook, local)
    lost = words.lost_in_words(outlook.if_lost if outlook else ())
    parts = (
        ("Chances", words.soon_in_words(outlook, picture.estimate, local)[:2]),
        ("Tend first, while light", words.tend_first_in_words(outlook, local)[:2]),
        ("Lightest expected, never promised", lulls[:1]),
        ("If a line goes, in the wind of now", lost[:2]),
    )
    return "".join(el("h3", esc(title)) + items(told) for title, told in parts)


def chances(picture: Picture) -> str:
    """Within 5 min, 15 min and an hour, then hour by hour to the end of the forecast."""
    local, outlook = Local(picture.ahead_of_utc), picture.outlook
    soon = items(words.soon_in_words(outlook, picture.estimate, local))
    hours = [hour for hour in (outlook.hours if outlook else ()) if hour.at > picture.now]
    if outlook and outlook.soon:
        soon += el("h3", "Lines within the hour, wind alone") + _by_line(outlook.soon[-1].odds)
    if not hours:
        return soon + el("p", "NO FORECAST: the hours ahead are not known.")
    each = []
    for hour in hours:
        wind = (
            f"{hour.from_direction_deg:03.0f}° {knots(hour.wind_m_s.low):.0f}–{knots(hour.wind_m_s.high):.0f} kn"
        )
        heaviest = f"{hour.lines[0].line} {percent(hour.lines[0])}" if hour.lines else "NOT KNOWN"
        each.append(
            el(
                "tr",
                td(words.day_clock(hour.at, local, picture.now), "number"),
                td(wind, "number"),
                td(heaviest),
                *_odds(hour.odds),
            )
        )
    worst = words.worst_hour(hours)
    if worst is None:
        return soon + table(_HOURS, each)
    going = items(words.hours_going_in_words(hours, local, picture.now))
    title = el("h3", f"Lines at {words.day_clock(worst[0], local, picture.now)}, the worst hour")
    return soon + table(_HOURS, each) + title + _by_line(worst[1]) + going


def _odds(odds: EventOdds | None) -> tuple[str, str, str]:
    if odds is None:
        return td("NOT KNOWN"), td("NOT KNOWN"), td("–")
    matters = odds.any_over_working >= words.WORTH_TELLING  # else nothing much decides
    most = drivers_in_words(odds.drivers).removeprefix("depends most on ") if matters else ""
    return td(chance_in_words(odds.any_over_working)), td(chance_in_words(odds.any_over_strength)), td(most or "–")


def ships(picture: Picture) -> str:
    """Every pass expected: its chances, what to check, the order in which lines would go, what to ask of her."""
    local = Local(picture.ahead_of_utc)
    told = []
    for passing in picture.outlook.passings if picture.outlook else ():
        encounter = passing.encounter
        if encounter.latest_at <= picture.now:
            continue
        title = f"{local.span(encounter.earliest_at, encounter.latest_at)}: {ship_in_words(encounter)}"
        likely = f"Chance that she passes {100 * encounter.passes:.0f} %"
        lines = words.pass_odds_in_words(passing.odds, passing.advice, encounter, local)
        told.append(el("h3", esc(title)) + items([likely, *lines]) + _by_line(passing.odds))
    if ais_dark(picture):
        return el("p", f"{AIS_IS_DARK} Keep a lookout, listen to VTS.", class_="strong") + "".join(told)
    return "".join(told) or el("p", "No pass is seen on AIS, which is not the same as none coming.")


def _by_line(odds: EventOdds | None) -> str:
    """The likeliest lines of an event: peak, at rest and moving, and the chance of each limit."""
    if odds is None:
        return ""
    rows = []
    for line in odds.lines[:_LINES]:
        band = line.tension_n
        peak = f"{tonnes_force(band.low):.0f}–{tonnes_force(band.high):.0f}"
        rest, moving = ("–" if n is None else f"{tonnes_force(n):.0f}" for n in (line.static_n, line.dynamic_n))
        brake = "–" if line.over_brake is None else chance_in_words(line.over_brake)
        chances = (chance_in_words(line.over_working), brake, chance_in_words(line.over_strength))
        rows.append(el("tr", td(line.line), *(td(each, "number") for each in (peak, rest, moving, *chances))))
    return table(_LINE_HEADS, rows)


def tending(picture: Picture) -> str:
    """What to tend while it is light, when the least load is expected, and every line if nobody does."""
    local, outlook = Local(picture.ahead_of_utc), picture.outlook
    parts = [items(words.tend_first_in_words(outlook, local))]
    parts += [el("h3", "Lightest expected, never promised")]
    parts += [items(words.lulls_in_words(outlook, local))]
    parts += [el("h3", "If nobody tends, in the wind of now")]
    later = outlook.untended if outlook else ()
    if not later:
        return "".join([*parts, el("p", words.NOT_KNOWN)])
    now = {load.line: load for load in picture.estimate.steady_lines} if picture.estimate else {}
    by_time = [now, *({load.line: load for load in each.lines} for each in later)]
    rows = [
        el("tr", td(lead.line), *(td(_of_limit(loads.get(lead.line)), "number") for loads in by_time))
        for lead in picture.plan.leads
    ]
    return "".join([*parts, table(("line", "now", *(local.clock(each.at) for each in later)), rows)])


def _of_limit(load: LineLoad | None) -> str:
    if load is None:
        return "–"
    return percent(load) + (", renders" if load.runs_out_m and load.runs_out_m.mid > 0.0 else "")


def losses(picture: Picture) -> str:
    """Each line taken away, and the pair that would be missed most: what the others then carry."""
    lost = picture.outlook.if_lost if picture.outlook else ()
    if not lost:
        return el("p", words.NOT_KNOWN)
    note = "In wind and stream of now, at rest; strengths at the low end of their bands. The worst first."
    return el("p", note, class_="small dim") + items(words.one_lost(one) for one in lost)
