"""What really happened, from a kept recording: events, occasions for them, and what the crew did about a load."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Final

from monitor.records.events import Action, OperatorAction
from monitor.run.kept import About
from monitor.settings.faults import nearest
from monitor.settings.load import from_snapshot
from monitor.settings.schema import Limits, Settings
from monitor.watch.matching import Event, Kind, Occasion

LENGTH_M: Final = 50.0  # a shorter ship's pass is no occasion
WATCH_DISTANCE_M: Final = 500.0  # hull to hull, without another told
MOVED_M: Final = {"along": 1.0, "ahead": 1.0, "astern": 1.0, "off": 0.5}  # of the ship, at least
SEVERE: Final = ("rendered", "parted", "disconnect")
WHAT: Final = ("heavy", *SEVERE, "moved")
_MOVED: Final = re.compile(r"moved\s+([\d.]+)\s*m\s+(along|ahead|astern|off)\b", re.IGNORECASE)
# Notes of something done that takes load off. Clearing the decks protects people, not lines: it is not among them.
_ACTED: Final = re.compile(r"slow(er)? pass|tug|thruster|engine|extra line|tended", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Rules:
    """What is an occasion at this berth."""

    watch_distance_m: float
    alert_wind_m_s: float


def rules_of(settings: Settings, distance_m: float | None = None, wind_m_s: float | None = None) -> Rules:
    """As told; else the usual distance, and the lowest wind limit of the berth or the squall's least gust."""
    limits = [getattr(settings.berth.limits, name) for name in Limits.model_fields]
    lowest = min((limit.speed for limit in limits if limit is not None), default=settings.alerts.squall.at_least)
    return Rules(WATCH_DISTANCE_M if distance_m is None else distance_m, lowest if wind_m_s is None else wind_m_s)


def events_of(about: About, logged: Iterable[Event] = ()) -> list[Event]:
    """Strained and severe events: entries of people, measured tensions, and those of a log kept elsewhere."""
    found = [event for at, action in about.entries if (event := _entered(at, action)) is not None]
    found += [Event(each.at, False, f"{each.line} measured at its limit") for each in about.measured]
    found += [event for event in logged if about.begins <= event.at <= about.ends]
    return sorted(found, key=lambda event: event.at)


def _entered(at: datetime, action: OperatorAction) -> Event | None:
    state = action.value("state")
    if action.action is Action.LINE and state in ("heavy", "rendered", "parted"):
        return Event(at, state in SEVERE, f"{action.subject} {state}")
    moved = _MOVED.search(action.subject) if action.action is Action.NOTE else None
    if moved is not None and float(moved[1]) > MOVED_M[moved[2].lower()]:
        return Event(at, False, moved[0])
    return None


@dataclass(frozen=True, slots=True)
class Logged:
    """An event of a log kept elsewhere, and what its row says of whose it is ("" where it says nothing)."""

    where: str  # file and row
    event: Event
    berth: str = ""
    ship: str = ""
    line: str = ""


def read_log(path: Path) -> list[Logged]:
    """Events from CSV: columns `at` (UTC) and `what` (heavy, rendered, parted, moved, disconnect), and if wished
    `line`, `berth`, `ship` (name or MMSI). Raises ValueError naming the row."""
    found = []
    with path.open(encoding="utf-8-sig", newline="") as file:
        for number, row in enumerate(csv.DictReader(file, skipinitialspace=True), 2):
            try:
                at, what = datetime.fromisoformat(row["at"]), row["what"].strip().lower()
            except (KeyError, ValueError, AttributeError, TypeError):
                raise ValueError(f"{path}, row {number}: columns at (UTC) and what are needed") from None
            if what not in WHAT:
                raise ValueError(f"{path}, row {number}: '{what}'; allowed: {', '.join(WHAT)}")
            at = at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)
            whose = {key: (row.get(key) or "").strip() for key in ("berth", "ship", "line")}
            event = Event(at, what in SEVERE, f"{whose['line'] or 'ship'} {what}")
            found.append(Logged(f"{path}, row {number}", event, **whose))
    return found


def placed(
    logged: Iterable[Logged], abouts: Sequence[About]
) -> tuple[dict[str, tuple[Event, ...]], list[tuple[Logged, str]]]:
    """The events of a log by the stay they belong to (`About.stay`), and those of no use, with why.

    An event is of the stay that was recorded then, at the berth, of the ship and with the line that its row names.
    Raises ValueError, naming the row, when more than one is left, or none has such a line.
    """
    found: dict[str, tuple[Event, ...]] = {}
    unused: list[tuple[Logged, str]] = []
    for each in logged:
        running = {about.stay: about for about in abouts if about.begins <= each.event.at <= about.ends}
        there = _named(each.ship, _named(each.berth, running, _berth_names), _ship_names)
        if not there:
            whose = " of ".join(name for name in (each.berth, each.ship) if name)
            unused.append((each, f"no recording was running{f' at {whose}' if whose else ''}"))
            continue
        lines = {stay: [led.line for led in _settings(about).stay.lines] for stay, about in there.items()}
        fits = [stay for stay, names in lines.items() if not each.line or each.line in names]
        told = f"{each.where}: {each.event.what} at {each.event.at:%Y-%m-%d %H:%M} UTC"
        if len(fits) > 1:
            shown = "; ".join(_berth_names(there[stay])[0] for stay in fits)
            raise ValueError(f"{told} may be of each of {shown}: say which in a column berth or ship")
        if not fits:
            close = nearest(each.line, sorted({name for names in lines.values() for name in names}))
            raise ValueError(
                f"{told}: no line '{each.line}' was made fast{f'; nearest: {close}' if close else ''}"
            )
        found[fits[0]] = (*found.get(fits[0], ()), each.event)
    return found, unused


def _named(
    asked: str, stays: Mapping[str, About], names: Callable[[About], tuple[str, ...]]
) -> Mapping[str, About]:
    """Those that bear a name, in whole; else those that hold it in a part of theirs. All where none is asked."""
    for same in (
        lambda name: asked.casefold() == name.casefold(),
        lambda name: asked.casefold() in name.casefold(),
    ):
        if found := {stay: about for stay, about in stays.items() if any(map(same, names(about)))}:
            return found
    return {}


def _berth_names(about: About) -> tuple[str, ...]:
    return about.berth, _settings(about).berth.name


def _ship_names(about: About) -> tuple[str, ...]:
    ship = _settings(about).ship
    return ship.name, str(ship.mmsi)


def _settings(about: About) -> Settings:
    return _of_snapshot(about.snapshot)


_of_snapshot = cache(from_snapshot)


def occasions_of(about: About, rules: Rules) -> list[Occasion]:
    """Each pass of a ship of more than 50 m within the watch distance, each hour with wind over the alert wind."""
    passes = [
        Occasion(Kind.PASSING, each.begins, each.ends)
        for each in about.passes
        if each.length_m > LENGTH_M and each.distance_m <= rules.watch_distance_m
    ]
    hours = [
        Occasion(Kind.WIND, each.begins, each.begins + timedelta(hours=1))
        for each in about.hours
        if each.gust_m_s > rules.alert_wind_m_s
    ]
    return [*passes, *hours]


def acted(about: About) -> list[datetime]:
    """When the crew did something that takes load off: a line tended, a craft made fast, a note that says so."""

    def did(action: OperatorAction) -> bool:
        match action.action:
            case Action.LINE:
                return action.value("state") == "tended"
            case Action.CRAFT:
                return action.value("alongside") is True
            case Action.NOTE:
                return _ACTED.search(action.subject) is not None
        return False

    return [at for at, action in about.entries if did(action)]
