"""The alert state machine: pure. (alerts, situations, now) → (alerts, transitions).

A *situation* is what the facts say now about one thing that can go wrong; an *alert* is what people have been told
about it. One situation, one alert. States and priorities are those of IMO MSC.302(87) and IEC 62923-1; the times
come from the alert profile. Unknown is a mark of its own: while a situation is unknown its alert never falls.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from monitor.records.events import AlertState, Priority, Reason, Transition
from monitor.records.situations import Matter, Situation
from monitor.settings.schema import Timing
from monitor.watch.calls import higher

SILENCE: Final = timedelta(seconds=30)  # IMO MSC.302(87) 7.3.5

_SOUNDING: Final = (AlertState.UNACKNOWLEDGED, AlertState.SILENCED)


@dataclass(frozen=True, slots=True)
class Alert:
    """One alert's memory between ticks."""

    key: str
    state: AlertState = AlertState.NORMAL
    priority: Priority = Priority.NONE
    highest: Priority = Priority.NONE  # told since it was raised
    unknown: bool = False
    since: datetime | None = None  # of the present state
    higher_since: datetime | None = None  # the facts have called for more since
    lower_since: datetime | None = None  # the facts have called for less since
    sounded_at: datetime | None = None
    silent_until: datetime | None = None
    escalated: bool = False

    @property
    def active(self) -> bool:
        """The condition stands, acknowledged or not."""
        return self.state in (*_SOUNDING, AlertState.ACKNOWLEDGED)


Alerts = Mapping[str, Alert]


def step(
    alerts: Alerts, situations: Sequence[Situation], timing: Timing, now: datetime
) -> tuple[dict[str, Alert], tuple[Transition, ...]]:
    """One tick. Alerts without a situation are taken to have ended; closed ones are forgotten."""
    facts = {situation.key: situation for situation in situations}
    after: dict[str, Alert] = {}
    transitions: list[Transition] = []
    for key in sorted({*alerts, *facts}):
        alert = alerts.get(key, Alert(key))
        fact = facts.get(key, Situation(key, Matter.MODEL, Priority.NONE, Priority.NONE))
        alert, changes = step_one(alert, fact, timing, now)
        transitions += changes
        if remembers(alert):
            after[key] = alert
    return after, tuple(transitions)


def remembers(alert: Alert) -> bool:
    """Whether an alert holds anything that a new one would not: the others are forgotten between ticks."""
    return alert.state is not AlertState.NORMAL or alert.higher_since is not None


def next_due(alert: Alert, timing: Timing, now: datetime) -> datetime | None:
    """The next moment at which time alone may change an alert that a step at `now` has left as it was; None:
    none. Until then every step with the same fact leaves it so."""
    moments = (
        _after(alert.higher_since, timing.raise_after),
        _after(alert.lower_since, timing.clear_after),
        alert.silent_until,
        _after(alert.sounded_at, timing.escalate_alarm),
        _after(alert.sounded_at, timing.repeat_warning),
    )
    return min((moment for moment in moments if moment is not None and moment > now), default=None)


def step_one(alert: Alert, fact: Situation, timing: Timing, now: datetime) -> tuple[Alert, list[Transition]]:
    """One tick of one alert."""
    changes: list[Transition] = []

    def change(reason: Reason, state: AlertState, **fields: object) -> None:
        nonlocal alert
        changed = replace(alert, state=state, since=now, **fields)  # type: ignore[arg-type]
        changes.append(
            Transition(now, alert.key, alert.state, changed.state, changed.priority, changed.unknown, reason)
        )
        alert = changed

    if alert.active and alert.unknown != fact.unknown:
        reason = Reason.BECAME_UNKNOWN if fact.unknown else Reason.KNOWN_AGAIN
        change(reason, alert.state, unknown=fact.unknown)

    standing = alert.priority if alert.active else Priority.NONE
    rises, falls = fact.level.rank > standing.rank, fact.holds.rank < standing.rank and not fact.unknown
    higher_since = (alert.higher_since or now) if rises else None
    lower_since = (alert.lower_since or now) if falls else None
    if higher_since != alert.higher_since or lower_since != alert.lower_since:
        alert = replace(alert, higher_since=higher_since, lower_since=lower_since)
    if rises and (fact.urgent or fact.due or _lasted(alert.higher_since, timing.raise_after, now)):
        if standing is Priority.NONE:
            reason = Reason.RAISED
        else:
            reason = Reason.TIME_TO_ACT if fact.due else Reason.LEVEL_UP
        # A caution is told, not acknowledged (IEC 62923-1): it is active and needs no answer.
        caution = fact.level is Priority.CAUTION
        change(
            reason,
            AlertState.ACKNOWLEDGED if caution else AlertState.UNACKNOWLEDGED,
            priority=fact.level,
            highest=fact.level if standing is Priority.NONE else higher(alert.highest, fact.level),
            unknown=fact.unknown,
            higher_since=None,
            sounded_at=now,
            silent_until=None,
            escalated=False,
        )
    elif falls and _lasted(alert.lower_since, timing.clear_after, now):
        if fact.holds is not Priority.NONE:
            change(Reason.LEVEL_DOWN, alert.state, priority=fact.holds, lower_since=None)
        elif alert.state is AlertState.ACKNOWLEDGED:
            change(Reason.RECTIFIED, AlertState.NORMAL, lower_since=None)
        else:
            change(Reason.RECTIFIED, AlertState.RECTIFIED, lower_since=None, silent_until=None)

    if alert.state is AlertState.SILENCED and alert.silent_until is not None and now >= alert.silent_until:
        # It sounds again; who hushes it without answering puts off neither its repetition nor the next person.
        change(Reason.SILENCE_OVER, AlertState.UNACKNOWLEDGED, silent_until=None)
    elif alert.state is AlertState.UNACKNOWLEDGED and not changes and alert.lower_since is None:
        # Nagging stops when the facts no longer call for it, even before the alert falls.
        alarm = alert.priority is Priority.ALARM
        if alarm and not alert.escalated and _lasted(alert.sounded_at, timing.escalate_alarm, now):
            change(Reason.ESCALATED, alert.state, escalated=True, sounded_at=now)
        elif alert.priority is not Priority.CAUTION and _lasted(alert.sounded_at, timing.repeat_warning, now):
            change(Reason.REPEATED, alert.state, sounded_at=now)
    return alert, changes


def told(alerts: Alerts, change: Transition) -> dict[str, Alert]:
    """The alerts after a change that was told before: what a new session knows of an old one. Only how long the
    facts have called for more or less is not in it (see `lasting`)."""
    key, reason = change.alert, change.reason
    before = alerts.get(key, Alert(key))
    after = {other: alert for other, alert in alerts.items() if other != key}
    if change.after is AlertState.NORMAL:
        return after
    fresh = reason in (Reason.RAISED, Reason.LEVEL_UP, Reason.TIME_TO_ACT)
    sounds = fresh or reason in (Reason.REPEATED, Reason.ESCALATED)
    silenced = change.after is AlertState.SILENCED
    until = change.at + SILENCE if reason is Reason.SILENCED else before.silent_until
    after[key] = Alert(
        key,
        change.after,
        change.priority,
        change.priority if reason is Reason.RAISED else higher(before.highest, change.priority),
        change.unknown,
        change.at,
        sounded_at=change.at if sounds else before.sounded_at,
        silent_until=until if silenced else None,
        escalated=reason is Reason.ESCALATED or (before.escalated and not fresh),
    )
    return after


def lasting(alerts: Alerts, by_facts: Alerts) -> dict[str, Alert]:
    """The alerts as told, with how long the facts have called for more or less by a machine that nobody heard."""
    after = dict(alerts)
    for key, known in by_facts.items():
        alert = alerts.get(key, Alert(key))
        standing = alert.priority if alert.active else Priority.NONE
        more = known.active and known.priority.rank > standing.rank
        since = known.since if more else known.higher_since
        after[key] = replace(alert, higher_since=since, lower_since=known.lower_since)
    return after


def acknowledge(
    alerts: Alerts, key: str, by: str, now: datetime
) -> tuple[dict[str, Alert], tuple[Transition, ...]]:
    """A person has seen it. Rectified alerts close; others stay active without sound. Unknown keys: no change."""
    alert = alerts.get(key)
    if alert is None or alert.state not in (*_SOUNDING, AlertState.RECTIFIED):
        return dict(alerts), ()
    closes = alert.state is AlertState.RECTIFIED
    state = AlertState.NORMAL if closes else AlertState.ACKNOWLEDGED
    reason = Reason.CLOSED if closes else Reason.ACKNOWLEDGED
    return _by_hand(alerts, replace(alert, state=state, since=now, silent_until=None), reason, by, now)


def silence(alerts: Alerts, key: str, by: str, now: datetime) -> tuple[dict[str, Alert], tuple[Transition, ...]]:
    """No sound for 30 s. Only an active, unacknowledged alert can be silenced."""
    alert = alerts.get(key)
    if alert is None or alert.state is not AlertState.UNACKNOWLEDGED:
        return dict(alerts), ()
    silenced = replace(alert, state=AlertState.SILENCED, since=now, silent_until=now + SILENCE)
    return _by_hand(alerts, silenced, Reason.SILENCED, by, now)


def _by_hand(
    alerts: Alerts, alert: Alert, reason: Reason, by: str, now: datetime
) -> tuple[dict[str, Alert], tuple[Transition, ...]]:
    before = alerts[alert.key]
    others = {key: other for key, other in alerts.items() if key != alert.key}
    after = others if alert.state is AlertState.NORMAL else {**others, alert.key: alert}
    transition = Transition(now, alert.key, before.state, alert.state, alert.priority, alert.unknown, reason, by)
    return after, (transition,)


def _lasted(since: datetime | None, seconds: float, now: datetime) -> bool:
    return since is not None and now - since >= timedelta(seconds=seconds)


def _after(since: datetime | None, seconds: float) -> datetime | None:
    return None if since is None else since + timedelta(seconds=seconds)
