"""The sentences of a report. Times are local with UTC beside them; what is not known is said."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import Final

from monitor.base.units import knots, tonnes_force
from monitor.outlet.naming import alert_in_words
from monitor.outlet.wording import MISSING, Local
from monitor.records.estimates import Band, LineLoad, PassingKind
from monitor.records.events import Action, OperatorAction, Priority
from monitor.records.review import Answered, Blow, Gap, LineSeen, Passed, Review

MARKS: Final = {Priority.ALARM: "▲▲▲", Priority.WARNING: "▲▲", Priority.CAUTION: "▲", Priority.NONE: ""}
TO: Final = "\N{WORD JOINER}–\N{WORD JOINER}"  # a range is not broken across lines
WAYS: Final = {
    PassingKind.SAME_WAY: "same heading",
    PassingKind.OPPOSITE: "opposite heading",
    PassingKind.OBLIQUE: "at an angle",
    PassingKind.NOT_PASSING: "never abreast of us",
}
CAUTIONS: Final = (
    "Advice only. The master and the officers keep the whole responsibility; port, terminal and company rules and "
    "the line management plan come first.",
    "Loads are estimates, with their 5–95 % bands; none is measured unless it says so. The middle of a band is no "
    "promise, and its end is no bound.",
    "No alert does not mean no danger. The whole mooring deck can be struck by a parting line at any time there "
    "is load on one.",
    "AIS is incomplete: small craft, ships switched off, wrong sizes and draughts; ships at rest report every "
    "3 min. A ship that AIS did not show is not in this report.",
    "Wind at one anemometer is not the wind along the whole hull.",
    f"Not modelled: {', '.join(MISSING)}; vessels alongside unless entered.",
    "A line's strength falls with age; its certificate may be far above the truth.",
    "The fatigue figures rank the lines of this stay against each other. They are no life, and no reason to keep "
    "a line in use.",
    "After an incident, lock the recording (bightwatch clip) and keep it: a report can be made anew, a recording "
    "cannot. Not type-approved, not for navigation, no substitute for the VDR.",
)


class Told:
    """Times and values in words, in the port's time."""

    def __init__(self, ahead_of_utc: timedelta) -> None:
        self.local = Local(ahead_of_utc)

    def clock(self, at: datetime) -> str:
        """ "1035 LT"."""
        return self.local.clock(at)

    def both(self, at: datetime) -> tuple[str, str]:
        """ "1035:20" local and "1235:20 UTC"."""
        return f"{at + self.local.ahead:%H%M:%S}", f"{at:%H%M:%S}\N{NO-BREAK SPACE}UTC"

    def day(self, at: datetime) -> str:
        """ "14 March 2026", local."""
        local = at + self.local.ahead
        return f"{local.day} {local:%B %Y}"

    def span(self, begins: datetime, ends: datetime) -> str:
        """ "14 March 2026, 0800 to 1500 LT", with both days when they differ."""
        if self.day(begins) == self.day(ends):
            return f"{self.day(begins)}, {begins + self.local.ahead:%H%M} to {self.clock(ends)}"
        return f"{self.day(begins)}, {self.clock(begins)} to {self.day(ends)}, {self.clock(ends)}"


def lasting(length: timedelta) -> str:
    """ "55 s", "18 min", "7 h 05 min", "3 d 4 h"; a minus sign where it is negative."""
    seconds = round(abs(length.total_seconds()))
    sign = "−" if length < timedelta(0) and seconds else ""
    if seconds < 120:
        return f"{sign}{seconds} s"
    minutes = round(seconds / 60)
    if minutes < 120:
        return f"{sign}{minutes} min"
    hours, minutes = divmod(minutes, 60)
    return f"{sign}{hours} h {minutes:02d} min" if hours < 48 else f"{sign}{hours // 24} d {hours % 24} h"


def lead_time(length: timedelta) -> str:
    """ "18 min", or "35 s too late"."""
    return lasting(length) if length >= timedelta(0) else f"{lasting(-length)} too late"


def middle(times: Sequence[timedelta]) -> timedelta:
    """The median, the longer of two."""
    return sorted(times)[len(times) // 2]


def share(utilisation: Band) -> str:
    """ "42 % (38–51)": the middle and the band."""
    low, mid, high = (round(100.0 * each) for each in (utilisation.low, utilisation.mid, utilisation.high))
    return f"{mid} %" if low == high else f"{mid} % ({low}{TO}{high})"


def load(line: LineLoad | None) -> str:
    """ "aft spring 1: 42 % (38–51) of working limit"."""
    return "not known" if line is None else f"{line.line}: {share(line.utilisation)} of {line.limited_by}"


def at_least(line: LineSeen) -> str:
    """ "at least ", where the peak of a line may lie between two estimates."""
    return "at least " if line.sparse else ""


def felt(passed: Passed) -> str:
    """The heaviest line while she was abreast; "at least", where estimates were too far apart to hold the peak."""
    line = passed.heaviest
    if line is None or not passed.sparse:
        return load(line)
    return f"{line.line}: at least {share(line.utilisation)} of {line.limited_by}"


def percent(value: float) -> str:
    """ "under 1 %", "35 %"."""
    return "under 1 %" if 0.0 < value < 0.01 else f"{100 * value:.0f} %"


def speed(speed_m_s: float | None) -> str:
    """ "11.0"; in knots."""
    return "–" if speed_m_s is None else f"{knots(speed_m_s):.1f}"


def band(values: Band, scale: float = 1.0, digits: int = 0) -> str:
    """ "27–181", scaled."""
    low, high = f"{scale * values.low:.{digits}f}", f"{scale * values.high:.{digits}f}"
    return low if low == high else f"{low}{TO}{high}"


def ship(passed: Passed) -> str:
    """Her name, or the MMSI of one that never told it."""
    return passed.name or f"MMSI {passed.mmsi}"


def count(number: int, one: str, many: str = "") -> str:
    """ "1 alarm", "2 alarms", "no alarm"."""
    return f"{number or 'no'} {one if number in (0, 1) else many or one + 's'}"


def heaviest_pass(review: Review) -> Passed | None:
    """The pass in which her presence added most to the line nearest its limit; None when no load is known."""

    def added(one: Passed) -> float:
        if one.heaviest is None:
            return 0.0
        return one.heaviest.utilisation.mid - (one.steady.utilisation.mid if one.steady else 0.0)

    known = [one for one in review.passes if one.passed and one.heaviest is not None and one.steady is not None]
    return max(known, key=added, default=None)


def by_level(review: Review) -> Counter[Priority]:
    """Alerts by the highest level each reached."""
    return Counter(alert.highest for alert in review.alerts)


def blind(review: Review) -> timedelta:
    """All stretches without a feed or a watch, added up."""
    return sum(((gap.until or review.ends) - gap.since for gap in review.gaps), timedelta(0))


def paragraph(review: Review) -> str:
    """The stay in a paragraph: who, where, when, what happened, the worst line, who answered, what was not
    seen."""
    return " ".join(_sentences(review, Told(review.ahead_of_utc)))


def _sentences(review: Review, told: Told) -> Iterator[str]:
    yield (
        f"{review.ship} ({review.loa_m:.0f} m) at {review.berth}, {review.port}: "
        f"{told.span(review.begins, review.ends)}, {lasting(review.ends - review.begins)} recorded."
    )
    yield from _ships_told(review, told)
    if review.blows:
        worst = max(review.blows, key=lambda blow: blow.speed_30s_m_s.mid)
        gust = "" if worst.gust_m_s is None else f", gusts to {knots(worst.gust_m_s):.0f} kn"
        often = "once" if len(review.blows) == 1 else f"{len(review.blows)} times"
        yield (
            f"It blew {often}, up to {knots(worst.speed_30s_m_s.mid):.0f} kn (30 s mean){gust} from "
            f"{_from(worst)}, about {told.clock(worst.peak_at)}."
        )
    if review.lines:
        line = review.lines[0]
        yield (
            f"The heaviest line was {line.line}: {at_least(line)}{100 * line.most_share:.0f} % of its "
            f"{line.limited_by} ({tonnes_force(line.most_n.mid):.0f} t, band "
            f"{band(line.most_n, tonnes_force(1.0))} t) at "
            f"{told.clock(line.most_at)}, {line.worst_of}."
        )
    else:
        yield "Line loads were not known at any time."
    yield from _alerts_told(review)


def _ships_told(review: Review, told: Told) -> Iterator[str]:
    passed = [one for one in review.passes if one.passed]
    if not passed:
        yield "No ship was seen on AIS to pass."
        return
    nearest = min(passed, key=lambda one: one.distance_m)
    yield (
        f"{count(len(passed), 'ship passed', 'ships passed').capitalize()}, the nearest {ship(nearest)} "
        f"{nearest.distance_m:.0f} m off."
    )
    heavy = heaviest_pass(review)
    if heavy is not None and heavy.heaviest is not None:
        without = f", without her {share(heavy.steady.utilisation)}." if heavy.steady else "."
        yield (
            f"{ship(heavy)} was felt most in passing, at {told.clock(heavy.abeam_at)}, {heavy.distance_m:.0f} m "
            f"off at {speed(heavy.speed_ground_m_s)} kn: {felt(heavy)}{without}"
        )


def _alerts_told(review: Review) -> Iterator[str]:
    levels = by_level(review)
    if review.alerts:
        waits = [wait for alert in review.alerts for wait in alert.waits]
        unanswered = sum(alert.unanswered for alert in review.alerts)
        answered = f"; acknowledged after {lasting(middle(waits))} as a rule" if waits else ""
        nobody = f", {unanswered} never acknowledged" if unanswered else ""
        yield (
            f"{count(levels[Priority.ALARM], 'alarm').capitalize()}, "
            f"{count(levels[Priority.WARNING], 'warning')} and {count(levels[Priority.CAUTION], 'caution')}"
            f"{answered}{nobody}."
        )
    else:
        yield "No alert was raised."
    if review.gaps:
        yield f"{count(len(review.gaps), 'gap').capitalize()} in what was heard, {lasting(blind(review))} in all."


def _from(blow: Blow) -> str:
    return "an unknown direction" if blow.from_direction_deg is None else f"{blow.from_direction_deg:03.0f}°"


def no_wind(review: Review) -> str:
    """What a stay without a wind episode comes to: what was not known is not taken for a calm."""
    known = sum(estimate.wind.speed_30s_m_s is not None for estimate in review.estimates)
    if not known:
        return "The wind was not known at any time."
    some = (
        ""
        if known == len(review.estimates)
        else f", while it was known ({percent(known / len(review.estimates))})"
    )
    return f"No wind above the squall level and no alert on wind{some}."


def alert_name(review: Review, alert: Answered) -> str:
    """What an alert was about, for people."""
    names = {one.mmsi: ship(one) for one in review.passes if one.name}
    return alert_in_words(alert.key, lambda mmsi: names.get(mmsi, ""))


def entry(action: OperatorAction) -> str:
    """What a person entered."""
    values = dict(action.values)
    match action.action:
        case Action.ACKNOWLEDGE:
            return f"acknowledged {action.subject}"
        case Action.SILENCE:
            return f"silenced {action.subject} for 30 s"
        case Action.PHASE:
            return f"phase: {action.subject}"
        case Action.PEOPLE:
            return f"people {'on' if values.get('on_deck') else 'off'} the mooring decks: {action.subject}"
        case Action.LINE:
            return f"{action.subject}: {values.get('state', '')}"
        case Action.NOTE:
            return f"note: {action.subject}"
        case Action.DRAUGHT:
            return f"draught {values.get('forward_m')} m forward, {values.get('aft_m')} m aft"
        case Action.TOW:
            return f"tug {_mmsi(values.get('mmsi'))} {'has a tow' if values.get('tows') else 'has no tow'}"
        case Action.CRAFT:
            return f"craft {_mmsi(values.get('mmsi'))} {'alongside' if values.get('alongside') else 'cast off'}"
        case _:
            shown = ", ".join(f"{name} {value}" for name, value in action.values)
            return f"{action.action.value} {action.subject} {shown}".strip()


def _mmsi(value: object) -> str:
    return f"{value:.0f}" if isinstance(value, float) else str(value)


def gap_name(gap: Gap) -> str:
    """The feed, or the watch itself."""
    return f"{gap.feed} ({gap.carries})" if gap.feed else "the watch itself"


def ranked(lines: tuple[LineSeen, ...]) -> dict[str, float]:
    """Index of damage as a share of the worst line of the same exponent; 0 where that one has none."""
    worst = {line.exponent: 0.0 for line in lines}
    for line in lines:
        worst[line.exponent] = max(worst[line.exponent], line.damage)
    return {line.line: line.damage / worst[line.exponent] if worst[line.exponent] else 0.0 for line in lines}


def changes(review: Review, told: Told) -> Iterator[str]:
    """When other settings came into force: what came before is reviewed by those of its time."""
    for at, files in review.settings_changed:
        what = ", ".join(files) or "files taken out"
        yield f"Settings changed on {told.day(at)} at {told.clock(at)} ({what}): each time is reviewed by its own."


def basis(review: Review) -> Iterator[str]:
    """What the figures rest on, and what is missing."""
    if review.whole:
        yield from (f"NOT WHOLE: {fault}." for fault in review.whole)
    if review.mid_watch:
        yield "The recording begins in the middle of a watch: what that watch knew before is missing."
    if review.replayed:
        yield (
            "Loads and expectations were worked out anew by replay, with the program of today: a tick every 5 s, "
            "kept when a line moved by 1 % of its limit or a minute had gone. Alerts and notices are those of the "
            "recording, if it holds any."
        )
    elif review.step_s is not None:
        yield (
            f"Loads are those recorded by the watch, as a rule every {review.step_s:.0f} s. A pass is over in one "
            "to three minutes: its highest load may lie between two of them, and its load cycles are missed in "
            "part. "
            "With --with-limits the recording is replayed and the loads are taken every 5 s."
        )
    if review.known_share is not None and review.known_share < 1.0:
        unknown = 100 * (1 - review.known_share)
        yield f"Loads were unknown in {unknown:.0f} % of the estimates; those count nowhere."
    yield (
        "Ships abreast: from AIS positions, midships by the sizes each ship reports, reckoned on between reports; "
        "distances hull to hull, hulls as rectangles. Speed through the water by the stay's table of the stream."
    )
    yield (
        "Fatigue: rainflow cycles (ASTM E1049-85) of each line's middle tension, Miner's sum of (range ÷ "
        "strength)^m with m 4.09 for wire (API RP 2SK, from memory) and 9 for fibre (polyester, API RP 2SM, from "
        "memory; other fibres ours). Only the order of the lines means something."
    )
