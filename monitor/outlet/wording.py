"""Alerts, notices, lines, ships and times in words.

A notice has a fixed order: do, what, why, when, how sure, caution. Rules: the verb comes first in what to do;
lines are named as the crew names them; a range, never a bare number; clock time and minutes; never the word
"safe", never "all quiet"; a loaded line is never the first thing to work on. The whole mooring deck and the quay
edge always come first, then where it is worst.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil, floor
from typing import Final

from monitor.base.units import knots, metres_in_words
from monitor.outlet.drivers import drivers_in_words, over_limits_in_words
from monitor.outlet.naming import OWN_DO
from monitor.outlet.worst_places import worst_in_words
from monitor.records.estimates import Encounter, LineLoad, Outlook, PassingAdvice, PassingKind, WindEstimate
from monitor.records.events import Notice, Priority, Reason, Transition
from monitor.records.situations import BEYOND_TESTS, RISING_FAST, Matter, Situation
from monitor.settings.schema import ENTERED, STATIONS

CAUTION: Final = (
    "Advice only: master, line management plan and port rules come first. "
    "The whole mooring deck can be struck by a parting line at any time."
)
MISSING: Final = ("swell", "seiche", "ice", "propeller wash")  # from every load
NOT_MODELLED: Final = f"Not modelled: {', '.join(MISSING)}."
SMALL_PRINT: Final = f"{CAUTION} Estimates, not measurements. No alert does not mean no danger. {NOT_MODELLED}"
EXPECTED: Final = ("Expected", "NO FORECAST. If the wind stays")  # what the hours ahead rest on
_LIMIT_NAMES: Final = {
    "stop_cargo": "stop cargo",
    "disconnect": "disconnect arms or hoses",
    "call_tugs": "call tugs",
    "leave": "leave the berth",
}
_KIND: Final = {
    PassingKind.SAME_WAY: "same heading as ours",
    PassingKind.OPPOSITE: "opposite heading",
    PassingKind.OBLIQUE: "crossing at an angle",
    PassingKind.TURNING: "turning",
    PassingKind.STOPPING: "may stop short",
    PassingKind.LEAVING: "leaving a berth near by",
    PassingKind.NOT_PASSING: "may not pass",
}


@dataclass(frozen=True, slots=True)
class Local:
    """The port's time: how far local time is ahead of UTC."""

    ahead: timedelta

    def clock(self, at: datetime) -> str:
        """ "1401 LT", rounded down to the minute so that nobody is told a later time than meant."""
        return (at + self.ahead).strftime("%H%M LT")

    def span(self, start: datetime, end: datetime) -> str:
        """ "1403–1407 LT", or one time when both are the same minute."""
        first, last = (start + self.ahead).strftime("%H%M"), self.clock(end)
        return last if last.startswith(first) else f"{first}–{last}"


def notice(
    transition: Transition, situation: Situation | None, local: Local, outlook: Outlook | None = None,
    about: str = "",
) -> Notice:  # fmt: skip
    """The notice of a change. `situation` is None when the facts behind an alert are gone altogether; where it is
    worst is told as far as the outlook knows; `about`: the alert in words (`naming`)."""
    if transition.reason is Reason.RECTIFIED or situation is None:
        return _ended(transition, about)
    words = _WORDS[situation.matter]
    do, what, why, when = words(transition.priority, situation, transition.at, local)
    if transition.unknown or situation.unknown:
        what = f"UNKNOWN: {what}"
    if outlook is not None and outlook.worst is not None and (told := worst_in_words(situation, outlook.worst)):
        what = f"{what}. {told}"
    if transition.reason in (Reason.REPEATED, Reason.ESCALATED):
        do = f"NOT ACKNOWLEDGED. {do}"
    return Notice(
        transition.at, transition.alert, transition.priority, transition.reason,
        do, what, why, when, _sure(situation), CAUTION, about,
    )  # fmt: skip


def lines_in_words(lines: Sequence[LineLoad], groups: int = 2) -> str:
    """ "forward springs FS1, FS2 55–70 % of brake setting; stern lines ST1 40–50 % of working limit": the heaviest
    groups, in each the lines within a tenth of its heaviest."""
    told: list[str] = []
    for group in dict.fromkeys(load.group for load in lines):
        loads = [load for load in lines if load.group == group]
        heaviest = loads[0]
        near = [load for load in loads if load.utilisation.mid >= 0.9 * heaviest.utilisation.mid]
        names = ", ".join(load.line for load in near)
        # "forward springs FS1, FS2", but not "forward springs forward spring 1"
        named = names if names.startswith(group.removesuffix("s")) else f"{group} {names}"
        told.append(f"{named} {percent(heaviest)} of {heaviest.limited_by}")
    return "; ".join(told[:groups] + _rendering(lines))


def _rendering(lines: Sequence[LineLoad]) -> list[str]:
    """ "brake renders: FS1 longer by up to 0.6 m": lines whose brakes let go in the middle case, or at worst."""
    found = []
    for word, sure in (("brake renders", True), ("brake may render", False)):
        lets = [(load.line, m) for load in lines if (m := load.runs_out_m) and (m.mid > 0.0) is sure]
        if lets:
            each = ", ".join(f"{line} longer by {metres_in_words(m.low, m.high)}" for line, m in lets)
            found.append(f"{word}: {each}")
    return found


def percent(load: LineLoad) -> str:
    """ "55–70 %": the band of a utilisation."""
    low, high = round(100 * load.utilisation.low), round(100 * load.utilisation.high)
    return f"{low} %" if low == high else f"{low}–{high} %"


def line_of(notice: Notice) -> str:
    """The notice as one paragraph, as it is read aloud."""
    parts = [notice.do, notice.what, notice.why, notice.when, notice.sure]
    return f"{notice.priority.value.upper()}: " + " ".join(_sentence(part) for part in parts if part)


def _sentence(text: str) -> str:
    return text if text.endswith(("!", ".")) else text + "."


def _minutes(until: datetime, now: datetime) -> str:
    minutes = (until - now).total_seconds() / 60
    return "now" if minutes < 1 else f"in {minutes:.0f} min"


_Words = tuple[str, str, str, str]


def _passing(priority: Priority, s: Situation, now: datetime, local: Local) -> _Words:
    encounter = s.encounter
    if encounter is None:  # told before a restart
        clear = "CLEAR" if priority is Priority.ALARM else "KEEP OFF"
        do = f"{clear} BOTH MOORING DECKS AND QUAY EDGE. Look out for her; ask VTS. Do not touch loaded lines."
        return do, "the ship told of before the restart may still pass", "No AIS has been heard since", ""
    assert s.clear_by is not None and s.at is not None
    clear = "NOW" if s.clear_by <= now else f"by {local.clock(s.clear_by)}"
    asked = advice_in_words(s.advice, encounter)
    if priority is Priority.ALARM:
        do = (
            f"CLEAR BOTH MOORING DECKS AND QUAY EDGE {clear}. Stop the gangway. Tell master and VTS"
            f"{f': {asked}' if asked else ''}. Do not touch loaded lines."
        )
    elif priority is Priority.WARNING:
        do = (
            f"End work on lines while they are light; be off both mooring decks and the quay edge {clear}. "
            f"Ask VTS for a slow, wide pass{f': {asked}' if asked else ''}."
        )
    else:
        do = "Watch her pass. Keep people off the mooring decks while she does."
    what = lines_in_words(s.lines) if s.lines else "load on our lines cannot be told"
    end = f"; past by {local.clock(s.until)}" if s.until else ""
    when = f"Abeam {local.span(encounter.earliest_at, encounter.latest_at)}, {_minutes(s.at, now)}{end}"
    return do, what, ship_in_words(encounter), when


SLOWEST_KN: Final = 4.0  # below this few large ships steer (common practice, no source)


def advice_in_words(advice: PassingAdvice | None, encounter: Encounter) -> str:
    """ "not above 7.5 kn through the water, or at least 190 m off at her present speed"; "" with nothing to ask.
    Speeds are rounded down, distances up."""
    if advice is None:
        return ""
    wider = "" if advice.distance_m is None else f"at least {10 * ceil(advice.distance_m / 10):.0f} m off"
    if advice.speed_water_m_s is None or advice.speed_water_m_s >= encounter.speed_water_m_s.mid:
        return ""
    slow_kn = floor(2.0 * knots(advice.speed_water_m_s)) / 2.0
    if slow_kn < SLOWEST_KN:
        return f"{wider}; slowing down alone is not enough" if wider else "slowing down alone is not enough"
    slower = f"not above {slow_kn:.1f} kn through the water"
    return f"{slower}, or {wider} at her present speed" if wider else slower


def ship_in_words(encounter: Encounter) -> str:
    """ "NAME, 300 m, 9–12 kn through the water, 80–110 m off, opposite heading"."""
    slow, fast = knots(encounter.speed_water_m_s.low), knots(encounter.speed_water_m_s.high)
    near, far = encounter.distance_m.low, encounter.distance_m.high
    length = f"{encounter.length_m.mid:.0f} m"
    if any("tow" in name for name in encounter.assumed):
        length += " with a tow AIS may not show"
    elif "length" in encounter.assumed:
        length = "length not told"
    return (
        f"{encounter.name or f'MMSI {encounter.mmsi}'}, {length}, passes "
        f"{_range(near, far, 'm')} off at {_range(slow, fast, 'kn')} through the water, {_KIND[encounter.kind]}"
    )


def _range(low: float, high: float, unit: str) -> str:
    first, last = f"{low:.0f}", f"{high:.0f}"
    return f"{last} {unit}" if first == last else f"{first}–{last} {unit}"


def source_in_words(source: str) -> str:
    """Where a wind comes from: a feed by its name, or a hand."""
    return "entered by hand" if source == ENTERED else f"from {source}"


def wind_in_words(wind: WindEstimate | None) -> str:
    """ "wind 245° 30–36 kn (30 s mean), gust 41 kn, from masthead"."""
    if wind is None or wind.speed_30s_m_s is None or wind.from_direction_deg is None:
        return "wind unknown"
    gust = "" if wind.gust_m_s is None else f", gust {knots(wind.gust_m_s):.0f} kn"
    band = wind.speed_30s_m_s
    return (
        f"wind {wind.from_direction_deg:03.0f}° {_range(knots(band.low), knots(band.high), 'kn')} "
        f"(30 s mean){gust}, {source_in_words(wind.source)}"
    )


def _wind(priority: Priority, s: Situation, now: datetime, local: Local) -> _Words:
    squall = RISING_FAST in s.facts
    if priority is Priority.ALARM:
        do = (
            "CLEAR BOTH MOORING DECKS AND QUAY EDGE NOW. Stop cargo and gangway. Call master; engine, thrusters, "
            "tugs. Brakes stay on; do not touch loaded lines."
        )
    elif priority is Priority.WARNING:
        do = (
            "Call the chief officer. Only needed people on the mooring decks. Brakes stay on. "
            "How soon can engine and tugs be had?"
        )
    elif BEYOND_TESTS in s.facts:
        do = "Look at all lines each half hour, from outside the mooring decks: stream beyond the model's tests."
    else:
        do = "Look at all lines from outside the mooring decks on the next round."
    what = lines_in_words(s.lines) if s.lines else "loads on our lines cannot be told"
    why = ("Squall: the wind is rising fast; " if squall else "") + wind_in_words(s.wind) + _stream(s)
    return do, what, why, "Within a minute" if squall else f"Now, {local.clock(now)}"


def _stream(s: Situation) -> str:
    water = s.water
    if water is None or water.current_m_s is None or water.alongside_deg is None:
        return "; stream unknown"
    by = f" by {water.stream_source}" if water.stream_source else ""
    return f"; stream {knots(water.current_m_s):.1f} kn setting {water.alongside_deg:03.0f}°{by}"


def _ahead(priority: Priority, s: Situation, now: datetime, local: Local) -> _Words:
    assert s.at is not None
    do = f"Tell the chief officer. Tend and add lines before {local.clock(s.at)}, while they are light."
    hours = (s.at - now) / timedelta(hours=1)
    when = (
        f"{local.clock(s.at)}, in {hours:.0f} h" if hours >= 1.5 else f"{local.clock(s.at)}, {_minutes(s.at, now)}"
    )
    return (
        do,
        lines_in_words(s.lines),
        f"{EXPECTED[bool(s.facts)]}: {wind_in_words(s.wind)}, tide and stream, if nobody tends",
        when,
    )


def _feed(priority: Priority, s: Situation, now: datetime, local: Local) -> _Words:
    carries, silent_s, detail = s.facts
    if priority is Priority.CAUTION:  # another one does the same work
        what = f"Nothing usable from {s.subject}; another still does its work"
        since = f"Since {local.clock(now - timedelta(seconds=float(silent_s)))}"
        return f"Look after {s.subject}: there is only one left.", what, detail, since
    minutes = f"for {float(silent_s) / 60:.0f} min" if float(silent_s) >= 60 else f"for {silent_s} s"
    if "ais" in carries:
        do = "PASSING SHIPS ARE NOT WATCHED. Keep a lookout, listen to VTS, check the AIS plug."
        what = f"No AIS from {s.subject} {minutes}"
    elif carries in ("nmea", "signal k"):
        do = "WIND IS NOT MEASURED. Read the anemometer and enter the wind by hand."
        what = f"Nothing from {s.subject} {minutes}"
    elif carries == "co-ops water level":
        do = "WATER LEVEL IS NOT MEASURED. The tide is taken from the tables: look at the gauge."
        what = f"No water level from {s.subject} {minutes}"
    elif carries in STATIONS:
        do = "NO WIND FROM THE STATION. Read the anemometer and enter the wind by hand."
        what = f"Nothing from {s.subject} {minutes}"
    else:
        do = "NO FRESH FORECAST. Get one another way; hours ahead are not watched."
        what = f"No forecast from {s.subject} {minutes}"
    return do, what, detail, f"Since {local.clock(now - timedelta(seconds=float(silent_s)))}"


def _clock(priority: Priority, s: Situation, now: datetime, local: Local) -> _Words:
    return "Check the PC clock against the GNSS.", s.facts[0], "Times in this watch may be off by as much", ""


def _off(priority: Priority, s: Situation, now: datetime, local: Local) -> _Words:
    return "Go round all lines: nobody watched them in between.", s.facts[0], "The program was not running", ""


def _model(priority: Priority, s: Situation, now: datetime, local: Local) -> _Words:
    return "LINE LOADS ARE NOT KNOWN. Watch lines and fenders yourself.", "; ".join(s.reasons), "", ""


def _limit(priority: Priority, s: Situation, now: datetime, local: Local) -> _Words:
    name = _LIMIT_NAMES[s.subject]
    if s.unknown:
        do = f"{name.capitalize()}, unless you know the wind to be less: read the anemometer."
        return do, f"whether the berth's limit '{name}' is still reached", "; ".join(s.reasons), "Now"
    on, speed_m_s, source = s.facts
    what = f"The berth's limit '{name}' is reached: {on} {knots(float(speed_m_s)):.0f} kn ({source})"
    return (
        f"{name.capitalize()}, as agreed with the terminal. Call the master.",
        what,
        wind_in_words(s.wind),
        "Now",
    )


def _own(priority: Priority, s: Situation, now: datetime, local: Local) -> _Words:
    return OWN_DO[s.subject], s.facts[0], "", f"Since {local.clock(s.at)}" if s.at is not None else ""


def _line(priority: Priority, s: Situation, now: datetime, local: Local) -> _Words:
    state, *each = s.facts
    if each:
        do = (
            "Keep off both mooring decks. From outside them, look whether these lines hang lower or their drums "
            "have turned; then enter for each line what you saw."
        )
        why = "The load worked out was over the brake's setting. Nothing measures what ran out; loads allow for it"
        return do, f"Brakes {state}: {', '.join(each)}", why, f"Now, {local.clock(now)}"
    if priority is Priority.ALARM:
        do = (
            "CLEAR BOTH MOORING DECKS AND QUAY EDGE NOW: the next line may follow. Call master; engine, "
            "thrusters, tugs. Do not touch loaded lines."
        )
    else:
        do = "Keep off both mooring decks. Find out why the line is heavy before anybody works there."
    return do, f"Line {s.subject} reported {state}", "As entered by the crew", f"Now, {local.clock(now)}"


_WORDS: Final[dict[Matter, Callable[[Priority, Situation, datetime, Local], _Words]]] = {
    Matter.PASSING: _passing,
    Matter.WIND: _wind,
    Matter.AHEAD: _ahead,
    Matter.FEED: _feed,
    Matter.CLOCK: _clock,
    Matter.OFF: _off,
    Matter.MODEL: _model,
    Matter.LIMIT: _limit,
    Matter.LINE: _line,
    Matter.OWN: _own,
}


_ENDED: Final = {
    "feed": ("Go on watching; nothing was seen in between.", "The feed is heard again"),
    "limit": ("Ask the terminal before work goes on.", "Wind below the berth's limit again"),
    "clock": ("Carry on.", "The PC clock has been taken as it is now"),
    "off": ("Carry on.", "Watching again since the gap"),
    "model": ("Go on watching.", "Line loads are known again"),
    "own": ("Carry on.", "What this alert was about is over"),
}
_DECKS: Final = (
    "Keep the mooring decks closed until the officer in charge opens them: lines may still be loaded.",
    "What this alert was about has ended",
)


def _ended(change: Transition, about: str) -> Notice:
    do, what = _ENDED.get(change.alert.partition(":")[0], _DECKS)
    return Notice(change.at, change.alert, change.priority, change.reason, do, what, "", "", "", CAUTION, about)


def _sure(s: Situation) -> str:
    """How sure, and on what it rests: chance, age, assumptions, validity, what is unknown."""
    parts: list[str] = []
    if s.encounter is not None:
        parts.append(
            f"chance that she passes {100 * s.encounter.passes:.0f} %, AIS {s.encounter.fix_age_s:.0f} s old"
        )
        if s.encounter.assumed:
            parts.append("assumed: " + ", ".join(s.encounter.assumed))
    if s.chance is not None:
        passes = 1.0 if s.encounter is None else s.encounter.passes
        parts.append(over_limits_in_words(s.chance, s.odds.any_over_limit * passes if s.odds else 0.0))
        parts += [most] if s.odds and (most := drivers_in_words(s.odds.drivers)) else []
    if s.validity.value != "good":
        parts.append(f"{s.validity.value}: " + "; ".join(s.reasons))
    unknown = sorted({name for load in s.lines for name in load.unknown_limits})
    if unknown:
        parts.append("unknown: " + ", ".join(unknown))
    return ". ".join(part[:1].upper() + part[1:] for part in parts)
