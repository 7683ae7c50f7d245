"""The lists of the page as HTML: alerts, feeds, lines, log, limits. Pure: a picture in, markup out."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Final, get_args

from monitor.base.units import knots, tonnes_force
from monitor.outlet.console.gauge import MARKS
from monitor.outlet.console.headline import Headline, headline
from monitor.outlet.console.instruments import age_in_words, force_in_words
from monitor.outlet.console.svg import el, esc, items, table, td
from monitor.outlet.wording import MISSING, Local, notice, percent
from monitor.records.estimates import LineLoad, Validity
from monitor.records.events import LINE_STATES, AlertState, Notice, Priority, Reason, Transition
from monitor.records.picture import FeedRow, Picture, StandingAlert
from monitor.settings.schema import Phase

PHASES: Final = get_args(Phase)
_WAITS: Final = (AlertState.UNACKNOWLEDGED, AlertState.SILENCED, AlertState.RECTIFIED)
EASED: Final = "Less at present; the alert comes down when that has lasted. It said:"
DECKS: Final = ("forecastle", "poop", "both mooring decks")


def button(words: str, do: str, *, off: bool = False, kind: str = "", **data: str) -> str:
    """A key that the page's script acts on."""
    extra = {f"data_{name}": value for name, value in data.items()}
    return el("button", esc(words), type="button", class_=kind or None, data_do=do, disabled=off, **extra)


def sentence(picture: Picture) -> str:
    """The sentence that rules the screen, with countdown and clocks (the page's script keeps them going)."""
    head: Headline = headline(picture)
    mark = MARKS[head.priority.rank]
    word = head.priority.value.upper() if head.priority is not Priority.NONE else "No order now"
    more = f" · {head.more} more alert{'s' if head.more > 1 else ''}" if head.more else ""
    to_ms = f"{1000 * head.count_to.timestamp():.0f}" if head.count_to else "0"
    order = el("p", (el("span", esc(mark), class_="mark", aria_hidden="true") if mark else ""), esc(head.order),
               class_="order", id="order", role="status")  # fmt: skip
    why = el(
        "p",
        (el("span", esc(f"{mark} "), class_="mark", aria_hidden="true") if mark else ""),
        el("b", esc(word)),
        esc(_unbroken(f"{more} · {head.reason}")),
        class_="reason",
    )
    count = el("div", "&#8203;", el("small", esc(head.count_what)), class_="count", id="count", data_to=to_ms)
    clock = el("div", "&#8203;", el("small", " LT"), class_="clock", id="clock")
    times = el("div", el("div", clock, el("div", "", class_="utc", id="utc")), count, class_="times")
    unknown = " unknown" if head.unknown else ""
    return el("div", order, times, why, class_=f"sentence level{head.priority.rank}{unknown}")


def _unbroken(words: str) -> str:
    """Numbers keep their units on one line."""
    return re.sub(r"(?<=\d) (?=(%|LT|m|kn|t|min|h)\b|%)", "\u00a0", words)


def flags(picture: Picture) -> str:
    """Short marks: the mode, what is dark, who is on deck, what is not modelled."""
    shown = []
    if picture.mode.value == "replay":
        shown.append(el("span", f"REPLAY {esc(picture.title)}", class_="flag replay"))
    if picture.invented:
        shown.append(el("span", "INVENTED ship and port", class_="flag"))
    shown += [el("span", esc(f"DARK: {feed.name}"), class_="flag bad") for feed in picture.feeds if feed.dark]
    stay = picture.stay
    shown.append(el("span", esc(stay.phase.upper()), class_="flag"))
    if stay.deck_manned:
        where = stay.people_where or "mooring decks"
        shown.append(el("span", esc(f"PEOPLE ON DECK: {where}"), class_="flag bad"))
    if picture.estimate is None or picture.estimate.validity is Validity.UNKNOWN:
        shown.append(el("span", "LOADS NOT KNOWN", class_="flag bad"))
    shown.append(el("span", f"NOT MODELLED: {' · '.join(MISSING)}", class_="flag stripe"))
    return "".join(shown)


# --- alerts -------------------------------------------------------------------------------------------------


def alerts(picture: Picture) -> str:
    """Every alert with its state, since when, why, and the keys to answer it; above them how many there are."""
    if not picture.alerts:
        return el("p", "No alert stands. That does not mean no danger: look at lines, wind and river.")
    local = Local(picture.ahead_of_utc)
    first = next((alert for alert in picture.alerts if alert.state in _WAITS), None)
    waiting = sum(alert.state in _WAITS for alert in picture.alerts)
    count = f"{len(picture.alerts)} listed, {waiting} to be answered"
    return el("p", esc(count), class_="count-alerts small") + "".join(
        _alert(alert, picture, local, alert is first) for alert in picture.alerts
    )


def words_of(alert: StandingAlert, now: datetime, local: Local) -> Notice:
    """What the alert says at this moment."""
    over = alert.state is AlertState.RECTIFIED
    reason = Reason.RECTIFIED if over else Reason.RAISED
    change = Transition(now, alert.key, alert.state, alert.state, alert.priority, alert.unknown, reason)
    return notice(change, alert.situation, local)


def eased(alert: StandingAlert) -> bool:
    """Whether its cause is less at present than the alert still says."""
    situation = alert.situation
    still = alert.state is not AlertState.RECTIFIED
    return still and situation is not None and situation.holds.rank < alert.priority.rank


def _alert(alert: StandingAlert, picture: Picture, local: Local, first: bool) -> str:
    told = words_of(alert, picture.now, local)
    rank, over = alert.priority.rank, alert.state is AlertState.RECTIFIED
    waits = alert.state in _WAITS
    sounding = alert.state is AlertState.UNACKNOWLEDGED
    name, since, less = alert.about, f"since {local.clock(alert.since)}", eased(alert)
    word = f"{'ENDED, was ' if over else ''}{alert.priority.value.upper()}"
    mark = el("span", esc(MARKS[rank]), class_="mark", aria_hidden="true")
    head = el("div", el("span", mark, esc(word), class_="word"), el("span", esc(name), class_="name"),
              class_="head")  # fmt: skip
    doubt = ("UNKNOWN", "less at present")
    notes = "; ".join((since, *(note for note, holds in zip(doubt, (alert.unknown, less), strict=True) if holds)))
    state = el("div", esc(f"{alert.state.value} {notes}"), class_="state small dim")
    do = el("div", el("span", esc(notes), class_="since small"), " ", esc(told.do), class_="do")
    rest = (EASED if less else "", told.what, told.why, told.when, told.sure)
    body = el("div", *(el("div", esc(part)) for part in rest if part), class_="rest small")
    keys = button("More", "more", kind="quiet more", alert=alert.key, name=name)
    if waits:
        off = picture.mode.value == "replay"
        answer, silence = ({"key": "a"}, {"key": "s"}) if first else ({}, {})
        ask = button("Acknowledge", "acknowledge", off=off, alert=alert.key, what=f"{MARKS[rank]} {word}: {name}",
                     priority="" if over else alert.priority.value, **answer)  # fmt: skip
        hush = button("Silence 30 s", "entry", off=off or not sounding, kind="quiet",
                      entry=f"hush {alert.key} $who", **silence)  # fmt: skip
        keys = ask + hush + keys
    kind = f"alert level{rank}{' waits' if sounding else ''}{' over' if over else ''}"
    return el("article", head, do, el("div", keys, state, class_="keys"), body, class_=kind, data_about=alert.key)


def log(picture: Picture) -> str:
    """What happened, newest first."""
    local = Local(picture.ahead_of_utc)
    rows = (
        el("tr", td(local.clock(row.at), "number"), td(row.kind), td(row.subject), td(row.text), td(row.who))
        for row in picture.log
    )
    return table(("LT", "what", "about", "text", "by"), rows)


# --- lines --------------------------------------------------------------------------------------------------


def line_rows(picture: Picture) -> str:
    """Every line as led: load, limit, last word of the crew, and one key for each word."""
    loads = {load.line: load for load in picture.estimate.lines} if picture.estimate else {}
    words = dict(picture.stay.line_words)
    off = picture.mode.value == "replay"
    forces = {each.line: force_in_words(each, picture.now).removeprefix("measured ") for each in picture.measured}
    rows = []
    for lead in picture.plan.leads:
        load = loads.get(lead.line)
        keys = "".join(
            button(word, "entry", off=off, kind="quiet", entry=f"line {lead.line} {word}") for word in LINE_STATES
        )
        rows.append(
            el(
                "tr",
                td(lead.line),
                td(f"{lead.winch} → {lead.bollard_name}"),
                *_load_cells(load),
                *((td(forces.get(lead.line, "no sensor")),) if forces else ()),
                td(words.get(lead.line, "–").upper()),
                el("td", el("div", keys, class_="keys")),
            )
        )
    heads = ("line", "led", "t", "of limit", "limit", *(("measured",) if forces else ()), "last word")
    led_anew = el(
        "p", "Led otherwise, one more or one fewer? Write it down in ",
        button("Stay", "view", kind="quiet", view="stay"),
        " and start the watch with that file; until then the loads are of the lines as listed here.",
        class_="small",
    )  # fmt: skip
    return table((*heads, "tell what you see"), rows) + led_anew


def _load_cells(load: LineLoad | None) -> tuple[str, str, str]:
    if load is None:
        return td("?", "number"), td("not known"), td("–")
    band = load.tension_n
    tonnes = f"{tonnes_force(band.low):.0f}–{tonnes_force(band.high):.0f}"
    limit = f"{load.limited_by} {tonnes_force(load.limit_n):.0f} t"
    if load.unknown_limits:
        limit += f"; NOT KNOWN: {', '.join(load.unknown_limits)}"
    return td(tonnes, "number"), td(percent(load), "number"), td(limit)


def load_rows(loads: tuple[LineLoad, ...]) -> str:
    """Lines with their loads, for an answer."""
    return table(
        ("line", "t", "of limit", "limit"), (el("tr", td(load.line), *_load_cells(load)) for load in loads)
    )


# --- inputs -------------------------------------------------------------------------------------------------


def feeds(picture: Picture) -> str:
    """Each input with its age, what it is, whether it is believed, and the last thing it said."""
    return table(("feed", "state", "age", "taken / refused", "last raw line"), map(_feed, picture.feeds))


def _feed(feed: FeedRow) -> str:
    state = "DARK" if feed.dark else "not heard yet" if feed.age_s is None else "heard"
    age = "nothing yet" if feed.age_s is None else age_in_words(feed.age_s)
    detail = f"{feed.carries}, {feed.where}. {feed.detail}"
    return el(
        "tr",
        el("td", el("b", esc(feed.name)), el("div", esc(detail), class_="small dim")),
        td(state),
        td(f"{age} (dark after {age_in_words(feed.stale_after_s)})"),
        td(f"{feed.accepted:,} / {feed.refused:,}", "number"),
        el("td", el("code", esc(feed.last_raw or "–"))),
    )


def people(picture: Picture) -> str:
    """Phase of the stay and people on deck: one tap each."""
    stay, off = picture.stay, picture.mode.value == "replay"
    phases = "".join(
        el("button", esc(phase), type="button", class_="quiet", data_do="entry", data_entry=f"phase {phase}",
           aria_pressed="true" if phase == stay.phase else "false", disabled=off) for phase in PHASES)  # fmt: skip
    now = (
        f"on deck: {stay.people_where or 'mooring decks'}" if stay.people_on_deck else "nobody told to be on deck"
    )
    decks = "".join(
        button(f"on {deck}", "entry", off=off, kind="quiet", entry=f"people on {deck}") for deck in DECKS
    )
    decks += button("all off", "entry", off=off, kind="quiet", entry="people off")
    return (
        el("h3", "Phase") + el("div", phases, class_="keys") + el("h3", esc(f"People: {now}"))
        + el("div", decks, class_="keys")
    )  # fmt: skip


def craft(picture: Picture) -> str:
    """Craft made fast to us."""
    if not picture.stay.craft:
        return el("p", "No craft told to be alongside.")
    off = picture.mode.value == "replay"
    rows = []
    for mmsi, area_m2 in picture.stay.craft:
        area = "side not told: her windage is missing" if area_m2 is None else f"{area_m2:.0f} m² of side"
        rows.append(el("tr", td(mmsi), td(area), el("td", button("cast off", "entry", off=off, kind="quiet",
                                                                    entry=f"cast off {mmsi}"))))  # fmt: skip
    return table(("MMSI", "windage", ""), rows)


def limits(picture: Picture) -> str:
    """The berth's own limits as typed; those not entered are said to be."""
    rows = []
    for limit in picture.limits:
        told = "NOT ENTERED"
        if limit.speed_m_s is not None:
            told = f"{limit.on} {knots(limit.speed_m_s):.0f} kn ({limit.averaging_s:.0f} s), {limit.source}"
        rows.append(el("tr", td(limit.name.replace("_", " ")), td(told)))
    return table(("berth limit", "as typed"), rows)


def doubts(picture: Picture) -> str:
    """What is assumed, how far the model holds, and what is not modelled at all."""
    estimate = picture.estimate
    validity = "unknown" if estimate is None else estimate.validity.value
    reasons = estimate.reasons if estimate else ()
    parts = [el("h3", esc(f"Model: {validity}")), items(reasons or ("no reason to doubt it more than always",))]
    parts += [el("h3", "Assumed"), items(picture.assumed or ("nothing",))]
    parts += [el("h3", "NOT MODELLED"), items(MISSING)]
    digest = picture.settings_sha256[:12] or "–"
    parts.append(el("p", esc(f"Program {picture.program}; settings {digest}"), class_="small dim"))
    return "".join(parts)
