"""The page for the next watch: state, limits, the next twelve hours, open alerts, and what is not known."""

from __future__ import annotations

from datetime import timedelta

from monitor.base.units import knots
from monitor.outlet import tending_words as words
from monitor.outlet.console import rows
from monitor.outlet.console.approach import MAY_PASS
from monitor.outlet.console.headline import NEXT, headline
from monitor.outlet.console.instruments import forces_told, level_in_words
from monitor.outlet.console.svg import el, esc
from monitor.outlet.drivers import chance_in_words
from monitor.outlet.wording import CAUTION, MISSING, Local, lines_in_words, ship_in_words, wind_in_words
from monitor.records.picture import Picture


def handover(picture: Picture) -> str:
    """The whole sheet, also to be printed."""
    local, stay, estimate = Local(picture.ahead_of_utc), picture.stay, picture.estimate
    outlook = picture.outlook
    head = headline(picture)
    day = (picture.now + picture.ahead_of_utc).strftime("%d %b")
    where = f"{picture.plan.ship} at {picture.plan.berth}, {picture.plan.port}; {day} {local.clock(picture.now)}"
    people = (
        f"people on deck: {stay.people_where or 'yes'}" if stay.people_on_deck else "nobody told to be on deck"
    )
    state = [
        f"{stay.phase}; {people}; draughts {stay.draught_forward_m:.1f} m forward, {stay.draught_aft_m:.1f} m aft",
        f"Heaviest now: {lines_in_words(estimate.lines) if estimate and estimate.lines else 'NOT KNOWN'}",
        f"{wind_in_words(estimate.wind if estimate else None)}",
        f"Wind sources: {'; '.join(f'{source} {verdict}' for source, verdict in picture.wind_choices)}",
        level_in_words(picture, local),
        *(f"{line}: reported {word.upper()}" for line, word in stay.line_words if word not in ("tended", "held")),
        *(f"Craft alongside: MMSI {mmsi}" for mmsi, _ in stay.craft),
        *(f"DARK: {feed.name}" for feed in picture.feeds if feed.dark),
    ]
    opened = [f"{a.priority.value.upper()} {a.about}: {a.state.value} since {local.clock(a.since)}. "
              f"{rows.EASED + ' ' if rows.eased(a) else ''}"
              f"{rows.words_of(a, picture.now, local).do}" for a in picture.alerts]  # fmt: skip
    return "".join(
        (
            el("h2", esc(f"Hand-over: {where}")),
            el("p", el("b", esc(f"{head.order}. ")), esc(head.reason)),
            el("h3", "State"), _list(state),
            *((el("h3", "Forces measured (nothing is judged by them)"), _list(forces))
              if (forces := forces_told(picture)) else ()),
            el("h3", "Open alerts"), _list(opened or ["None stands. That does not mean no danger."]),
            el("h3", "Next twelve hours"), _list(_ahead(picture, local)),
            el("h3", "Tend first, while light"), _list(words.tend_first_in_words(outlook, local)),
            el("h3", "If nobody tends"),
            _list(words.untended_in_words(outlook.untended if outlook else (), local)),
            el("h3", "Lightest expected, never promised"),
            _list(words.lulls_in_words(outlook, local)),
            el("h3", "Chances, and what follows when a line goes"),
            _list([*words.soon_in_words(outlook, estimate, local),
                   *words.lost_in_words(outlook.if_lost if outlook else ())]),
            el("h3", "Berth limits"), rows.limits(picture),
            el("h3", "Not known, assumed, not modelled"),
            _list([*picture.assumed, f"NOT MODELLED: {', '.join(MISSING)}"]),
            el("p", esc(f"Try the sound with the test keys before you take over. {CAUTION}"), class_="small"),
        )
    )  # fmt: skip


def _ahead(picture: Picture, local: Local) -> list[str]:
    outlook = picture.outlook
    told = []
    for passing in outlook.passings if outlook else ():
        encounter = passing.encounter
        if encounter.passes >= MAY_PASS and encounter.abeam_at > picture.now:
            loads = lines_in_words(passing.lines, groups=1) if passing.lines else "load NOT KNOWN"
            told.append(f"{local.clock(encounter.abeam_at)}: {ship_in_words(encounter)}: {loads}")
            if passing.odds is not None:
                told += words.pass_odds_in_words(passing.odds, passing.advice, encounter, local)
    all_hours = outlook.hours if outlook else ()
    hours = [hour for hour in all_hours if timedelta(0) < hour.at - picture.now <= NEXT]
    for hour in hours[::2]:
        gust = "" if hour.gust_m_s is None else f", gust {knots(hour.gust_m_s):.0f} kn"
        loads = lines_in_words(hour.lines, groups=1) if hour.lines else "load NOT KNOWN"
        band = f"{knots(hour.wind_m_s.low):.0f}–{knots(hour.wind_m_s.high):.0f} kn"
        chance = "" if hour.odds is None else f", over it {chance_in_words(hour.odds.any_over_working)}"
        told.append(f"{local.clock(hour.at)}: wind {hour.from_direction_deg:03.0f}° {band}{gust}: {loads}{chance}")
    told += words.hours_going_in_words(hours, local, picture.now)
    if not hours:
        told.append("NO FORECAST: the hours ahead are not known")
    known = [water for water in picture.tide if water.height_m is not None and water.at >= picture.now]
    for before, here, after in zip(known, known[1:], known[2:], strict=False):
        if before.height_m and here.height_m and after.height_m:
            turns = (here.height_m - before.height_m) * (after.height_m - here.height_m) <= 0
            if turns and here.at - picture.now < timedelta(hours=12):
                word = "High" if here.height_m > before.height_m else "Low"
                told.append(f"{local.clock(here.at)}: {word} water about {here.height_m:.1f} m")
    return told


def _list(each: list[str]) -> str:
    return el("ul", *(el("li", esc(item)) for item in each))
