"""The one sentence: what to do, by when, why. A few words, read from three metres; the notices tell the rest."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from monitor.base.units import knots
from monitor.outlet.naming import OWN_DO
from monitor.outlet.wording import EXPECTED, Local, percent, wind_in_words
from monitor.records.estimates import Encounter, LineLoad, Validity
from monitor.records.events import AlertState, Priority
from monitor.records.picture import Picture, StandingAlert
from monitor.records.situations import BEYOND_TESTS, RISING_FAST, Matter, Situation
from monitor.settings.schema import STATIONS

NEXT: Final = timedelta(hours=12)  # of the forecast told there and on the page for the next watch
LIKELY: Final = 0.5  # chance of passing from which a ship is the next one; ours
CLEAR: Final = "CLEAR BOTH MOORING DECKS"


@dataclass(frozen=True, slots=True)
class Headline:
    """`order` in big letters, `reason` below; `count_to` is counted down to, named by `count_what`."""

    priority: Priority
    unknown: bool
    order: str
    reason: str
    count_to: datetime | None = None
    count_what: str = ""
    more: int = 0  # other alerts that ask for something


def headline(picture: Picture) -> Headline:
    """The sentence for a picture: the most urgent order, else what is expected next."""
    standing = [alert for alert in picture.alerts if alert.state is not AlertState.RECTIFIED]
    if not standing:
        return _next(picture)
    told = [_of(alert, picture) for alert in standing]
    first = told[0]
    return Headline(
        first.priority, first.unknown, first.order, first.reason, first.count_to, first.count_what, len(told) - 1
    )


def _of(alert: StandingAlert, picture: Picture) -> Headline:
    s, now, local = alert.situation, picture.now, Local(picture.ahead_of_utc)
    if s is None:  # what raised it is over, but it has not lasted long enough to fall
        decks = alert.key.partition(":")[0] in ("passing", "wind", "line", "ahead", "untended")
        order = "KEEP OFF BOTH MOORING DECKS" if decks else "LOOK AT THE ALERTS"
        return Headline(
            alert.priority, alert.unknown, order, "What raised this alert may be over: wait for its end"
        )
    order, reason, count_to, what = _PARTS[s.matter](alert.priority, s, now, local)
    return Headline(alert.priority, alert.unknown, order, reason, count_to, what)


_Parts = tuple[str, str, datetime | None, str]


def _passing(priority: Priority, s: Situation, now: datetime, local: Local) -> _Parts:
    if s.encounter is None:  # told before a restart
        order = f"{CLEAR} NOW" if priority is Priority.ALARM else "KEEP OFF BOTH MOORING DECKS"
        return order, "A ship may pass: no AIS has been heard since the restart", None, ""
    assert s.at is not None and s.clear_by is not None
    reason = f"{_ship(s.encounter, local)}: {_heaviest(s.lines)}"
    if now >= s.clear_by and s.until is not None:
        order = f"{CLEAR} NOW" if priority is Priority.ALARM and now < s.at else "KEEP OFF BOTH MOORING DECKS"
        return order, reason, s.until, f"until she is past, {local.clock(s.until)}"
    by = f"by {local.clock(s.clear_by)}"
    if priority is Priority.ALARM:
        return f"{CLEAR} {by}", reason, s.clear_by, "to be clear"
    if priority is Priority.WARNING:
        return f"BE OFF BOTH MOORING DECKS {by}", reason, s.clear_by, "to be off"
    return f"WATCH HER PASS {local.clock(s.at)}", reason, s.at, "until abeam"


def _ship(encounter: Encounter, local: Local) -> str:
    when = local.span(encounter.earliest_at, encounter.latest_at)
    near, far = encounter.distance_m.low, encounter.distance_m.high
    return f"{_name(encounter)} passes {when}, {near:.0f}–{far:.0f} m off"


def _name(encounter: Encounter) -> str:
    return encounter.name or f"MMSI {encounter.mmsi}"


def _heaviest(lines: tuple[LineLoad, ...]) -> str:
    """ "forward springs 55–70 % of brake setting": the group, not each line."""
    if not lines:
        return "load on our lines NOT KNOWN"
    first = lines[0]
    return f"{first.group} {percent(first)} of {first.limited_by}"


def _wind(priority: Priority, s: Situation, now: datetime, local: Local) -> _Parts:
    reason = f"{wind_in_words(s.wind)}: {_heaviest(s.lines)}"
    reason = reason[0].upper() + reason[1:]
    if RISING_FAST in s.facts:
        reason = f"Wind rising fast. {reason}"
    if priority is Priority.ALARM:
        return f"{CLEAR} NOW", reason, None, ""
    if priority is Priority.WARNING:
        return "CALL CHIEF OFFICER; FEW ON DECK", reason, None, ""
    if BEYOND_TESTS in s.facts:
        return (
            "LOOK AT ALL LINES EACH HALF HOUR",
            f"Stream stronger than the load model's tests. {reason}",
            None,
            "",
        )
    return "LOOK AT ALL LINES NEXT ROUND", reason, None, ""


def _ahead(priority: Priority, s: Situation, now: datetime, local: Local) -> _Parts:
    assert s.at is not None
    wind, rests_on = wind_in_words(s.wind), EXPECTED[bool(s.facts)]
    reason = f"{rests_on}, {local.clock(s.at)}: {wind}, tide, stream: {_heaviest(s.lines)}"
    return f"TEND LINES BEFORE {local.clock(s.at)}", reason, s.at, "to tend while light"


def _feed(priority: Priority, s: Situation, now: datetime, local: Local) -> _Parts:
    carries, silent_s, detail = s.facts
    since = local.clock(now - timedelta(seconds=float(silent_s)))
    reason = f"Nothing usable from {s.subject} since {since}" + (f": {detail}" if detail else "")
    if priority is Priority.CAUTION:
        return f"LOOK AFTER {s.subject.upper()}", f"Another still does its work. {reason}", None, ""
    if "ais" in carries:
        return "PASSING SHIPS NOT WATCHED", f"Keep a lookout, listen to VTS. {reason}", None, ""
    if carries in ("nmea", "signal k"):
        return "WIND NOT MEASURED", f"Read the panel and enter the wind. {reason}", None, ""
    if carries in STATIONS:
        return "STATION NOT HEARD", reason, None, ""
    return "NO FRESH FORECAST", f"The hours ahead are not watched. {reason}", None, ""


def _clock(priority: Priority, s: Situation, now: datetime, local: Local) -> _Parts:
    return "CHECK THE PC CLOCK", s.facts[0] if s.facts else "", None, ""


def _off(priority: Priority, s: Situation, now: datetime, local: Local) -> _Parts:
    return "GO ROUND ALL LINES", s.facts[0] if s.facts else "", None, ""


def _model(priority: Priority, s: Situation, now: datetime, local: Local) -> _Parts:
    if not s.unknown:
        return (
            "LINE LOADS WERE NOT KNOWN",
            "They are worked out again; the alert ends when that has lasted",
            None,
            "",
        )
    return "LINE LOADS NOT KNOWN", "Watch lines and fenders yourself. " + "; ".join(s.reasons), None, ""


def _limit(priority: Priority, s: Situation, now: datetime, local: Local) -> _Parts:
    name = s.subject.replace("_", " ")
    if s.unknown:
        return f"BERTH LIMIT: {name.upper()}", "Wind NOT KNOWN: read the anemometer", None, ""
    on, speed_m_s, source = s.facts
    reason = f"Berth's limit '{name}': {on} {knots(float(speed_m_s)):.0f} kn ({source}). {wind_in_words(s.wind)}"
    return f"BERTH LIMIT: {name.upper()}", reason, None, ""


def _line(priority: Priority, s: Situation, now: datetime, local: Local) -> _Parts:
    state, *each = s.facts or ("heavy",)
    if each:
        return (
            "BRAKES MAY HAVE RENDERED: LOOK",
            f"{', '.join(each)}; enter held, rendered or tended",
            None,
            "",
        )
    reason = f"{s.subject} reported {state.upper()}; the next line may follow"
    if priority is Priority.ALARM:
        return f"{CLEAR} NOW", reason, None, ""
    return "KEEP OFF BOTH MOORING DECKS", reason, None, ""


def _own(priority: Priority, s: Situation, now: datetime, local: Local) -> _Parts:
    headline = {
        "disk": "DISK NEARLY FULL",
        "channel": "A CHANNEL IS DEAD",
        "mmsi": "OUR MMSI IS ENTERED WRONG",
        "flood": "MORE SHIPS THAN CAN BE WATCHED",
        "outward ping": "NOBODY OUTSIDE WATCHES THIS PC",
        "water": "WATER IS OFF THE TABLES",
        "wind": "READ THE ANEMOMETER",
        "outlook": "COMING SHIPS MAY NOT BE TOLD",
    }[s.subject]
    return headline, f"{s.facts[0]}. {OWN_DO[s.subject]}", None, ""


_PARTS: Final = {
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


def _next(picture: Picture) -> Headline:
    """Nothing to order: the next thing expected, and when."""
    local, now = Local(picture.ahead_of_utc), picture.now
    none = Priority.NONE
    if not picture.stay.moored:
        return Headline(none, False, "NOT MOORED: NOT WATCHING LINES", f"Phase of the stay: {picture.stay.phase}")
    estimate = picture.estimate
    if estimate is None or estimate.validity is Validity.UNKNOWN or not estimate.lines:
        return Headline(none, True, "LINE LOADS NOT KNOWN YET", "Watch lines and fenders yourself")
    ahead = f"Now heaviest: {_heaviest(estimate.lines)}"
    passings = picture.outlook.passings if picture.outlook else ()
    coming = [p for p in passings if p.encounter.passes >= LIKELY and p.encounter.latest_at > now]
    if coming:
        first = min(coming, key=lambda passing: passing.encounter.abeam_at)
        encounter = first.encounter
        reason = f"{_ship(encounter, local)}: {_heaviest(first.lines)}. {ahead}"
        return Headline(
            none, False, f"NEXT SHIP {local.clock(encounter.abeam_at)}", reason, encounter.abeam_at, "until abeam"
        )
    hours = picture.outlook.hours if picture.outlook else ()
    later = [hour for hour in hours if hour.lines and timedelta(0) < hour.at - now <= NEXT]
    if later:
        worst = max(later, key=lambda hour: hour.lines[0].utilisation.mid)
        reason = f"{_heaviest(worst.lines)} at {local.clock(worst.at)} by wind, tide and stream. {ahead}"
        reason = reason[0].upper() + reason[1:]
        return Headline(none, False, "NO PASS SEEN ON AIS", f"Keep a lookout. Next 12 h heaviest: {reason}")
    return Headline(none, False, "NO PASS SEEN ON AIS", f"Keep a lookout. The hours ahead are not known. {ahead}")
