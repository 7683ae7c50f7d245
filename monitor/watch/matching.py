"""Which alert foretold which event: the rules, fixed before anything is scored (ours, after common practice in
forecast verification; see the contributors' guide).

An event is *strained* (a line heavy, rendered or parted, the ship moved, a measured tension at its limit) or
also *severe* (rendered, parted). An alert must begin early enough to act on, and not so early that it foretold
nothing: `WINDOW`. Alerts of a kind less than 15 min apart are one, and so are events. One event is hit once at
most; an alert that comes too late is a miss for people. Where the crew acted, that nothing happened is no false
alarm.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Final

from monitor.records.events import AlertState, Priority, Reason, Transition


class Kind(StrEnum):
    """What brings the load."""

    PASSING = "passing ship"
    WIND = "wind, tide and stream"


MERGED: Final = timedelta(minutes=15)
# Of the time from the beginning of an alert to the event: at least (time needed to act), at most.
WINDOW: Final = {
    Kind.PASSING: (timedelta(minutes=5), timedelta(minutes=30)),
    Kind.WIND: (timedelta(minutes=10), timedelta(hours=3)),
}
_ACTIVE: Final = (AlertState.UNACKNOWLEDGED, AlertState.SILENCED, AlertState.ACKNOWLEDGED)
_TOLD: Final = (Reason.RAISED, Reason.LEVEL_UP, Reason.TIME_TO_ACT)


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened to the moorings. `what` in people's words."""

    at: datetime
    severe: bool
    what: str


@dataclass(frozen=True, slots=True)
class Occasion:
    """A chance for an event: a ship's pass, or an hour of wind."""

    kind: Kind
    begins: datetime
    ends: datetime


@dataclass(frozen=True, slots=True)
class Episode:
    """Alerts of a kind at or above a level, without a break of MERGED."""

    kind: Kind
    begins: datetime
    ends: datetime


class Fate(StrEnum):
    """What became of an event."""

    HIT = "warned of in time"
    LATE = "warned of too late"
    STALE = "warned of so long before that it foretold nothing"
    MISSED = "not warned of"


@dataclass(frozen=True, slots=True)
class Outcome:
    """Of one recording under one profile at one level. `leads_s`: of hits and late alerts."""

    fates: tuple[tuple[Event, Fate], ...]
    leads_s: tuple[float, ...]
    false: tuple[Episode, ...]
    mitigated: tuple[Episode, ...]  # no event followed, but the crew acted
    quiet: int

    def count(self, fate: Fate) -> int:
        """Events of a fate."""
        return sum(1 for _, each in self.fates if each is fate)


def kind_of(alert: str) -> Kind | None:
    """The kind of an alert by its key; None for those that foretell no load (feeds, the berth's own limits)."""
    if alert.startswith("passing:"):
        return Kind.PASSING
    return Kind.WIND if alert in ("wind", "ahead", "untended") else None


def episodes(transitions: Iterable[Transition], level: Priority, ends: datetime) -> list[Episode]:
    """Alerts at or above a level, in time order, merged; those that stand at the end end there."""
    standing: dict[str, datetime] = {}
    found: list[Episode] = []
    for change in transitions:
        kind = kind_of(change.alert)
        if kind is None:
            continue
        stands = change.after in _ACTIVE and change.priority.rank >= level.rank
        if stands:
            standing.setdefault(change.alert, change.at)
        elif change.alert in standing:
            found.append(Episode(kind, standing.pop(change.alert), change.at))
    found += [Episode(kind_of(alert) or Kind.WIND, begins, ends) for alert, begins in standing.items()]
    merged: list[Episode] = []
    for kind in Kind:
        last: Episode | None = None
        for each in sorted((e for e in found if e.kind is kind), key=lambda e: e.begins):
            if last is not None and each.begins - last.ends < MERGED:
                last = replace(last, ends=max(last.ends, each.ends))
                merged[-1] = last
            else:
                last = each
                merged.append(each)
    return sorted(merged, key=lambda each: each.begins)


def told(transitions: Iterable[Transition], level: Priority) -> int:
    """How often a person was told of something at a level, whatever about."""
    return sum(1 for change in transitions if change.reason in _TOLD and change.priority is level)


def merged_events(events: Iterable[Event], severe_only: bool) -> list[Event]:
    """Events in time order; those less than MERGED after another belong to it."""
    found: list[Event] = []
    until: datetime | None = None
    for event in sorted(events, key=lambda each: each.at):
        if severe_only and not event.severe:
            continue
        if found and until is not None and event.at - until < MERGED:
            first = found[-1]
            found[-1] = replace(first, severe=first.severe or event.severe, what=f"{first.what}; {event.what}")
        else:
            found.append(event)
        until = event.at
    return found


def match(
    events: Sequence[Event],
    alerts: Sequence[Episode],
    occasions: Sequence[Occasion],
    acted: Sequence[datetime],
) -> Outcome:
    """Match merged events with merged alerts. `acted`: when the crew did something about a load."""
    fates: list[tuple[Event, Fate]] = []
    leads_s: list[float] = []
    spent: set[Episode] = set()
    for event in events:
        fate, lead = Fate.MISSED, None
        for alert in alerts:
            found = _fate(event, alert)
            if found is None:
                continue
            spent.add(alert)
            order = (Fate.HIT, Fate.LATE, Fate.STALE, Fate.MISSED)
            if order.index(found) < order.index(fate):  # of several, the first that served
                fate, lead = found, event.at - alert.begins
        fates.append((event, fate))
        if lead is not None and fate is not Fate.STALE:
            leads_s.append(lead.total_seconds())
    vain = [alert for alert in alerts if alert not in spent]
    mitigated = tuple(
        alert for alert in vain if any(alert.begins <= at <= alert.ends + WINDOW[alert.kind][0] for at in acted)
    )
    false = tuple(alert for alert in vain if alert not in mitigated)
    quiet = sum(1 for occasion in occasions if _quiet(occasion, events, alerts))
    return Outcome(tuple(fates), tuple(leads_s), false, mitigated, quiet)


def _fate(event: Event, alert: Episode) -> Fate | None:
    """What an alert is to an event; None: nothing to do with it."""
    needed, most = WINDOW[alert.kind]
    lead = event.at - alert.begins
    if needed <= lead <= most:
        return Fate.HIT
    if -MERGED < lead < needed:  # also when it comes just after
        return Fate.LATE
    return Fate.STALE if lead > most and event.at <= alert.ends else None


def _quiet(occasion: Occasion, events: Iterable[Event], alerts: Iterable[Episode]) -> bool:
    before = WINDOW[occasion.kind][1] if occasion.kind is Kind.PASSING else timedelta(0)
    happened = any(occasion.begins <= event.at <= occasion.ends + MERGED for event in events)
    warned = any(
        alert.kind is occasion.kind and alert.begins <= occasion.ends and alert.ends >= occasion.begins - before
        for alert in alerts
    )
    return not happened and not warned
