"""Alerts from raising to end, with lead time and answer; and the times in which the watch was blind."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Final

from monitor.records.events import AlertState, Notice, Priority, Reason, SourceStatus, Started, Transition
from monitor.records.review import Answered, Blow, Gap, Passed

GAP_SHOWN: Final = timedelta(seconds=30)
STILL_COMING: Final = timedelta(minutes=30)  # an alert may fall before the ship it was about is abreast of us
_RISES: Final = (Reason.RAISED, Reason.LEVEL_UP, Reason.TIME_TO_ACT, Reason.LEVEL_DOWN)


def answers(
    transitions: Sequence[Transition],
    notices: Sequence[Notice],
    passed: Sequence[Passed],
    blows: Sequence[Blow],
) -> tuple[Answered, ...]:
    """Every alert in the order raised. A pass's event is her bow abreast of ours; the wind's, its height."""
    runs: list[list[Transition]] = []
    running: dict[str, list[Transition]] = {}
    for transition in transitions:
        if transition.reason is Reason.RAISED:
            running[transition.alert] = [transition]
            runs.append(running[transition.alert])
        elif transition.alert in running:
            running[transition.alert].append(transition)
    orders = {(notice.alert, notice.at): notice.do for notice in notices}
    return tuple(_answered(run, orders, passed, blows) for run in runs)


def _answered(
    run: Sequence[Transition],
    orders: dict[tuple[str, datetime], str],
    passed: Sequence[Passed],
    blows: Sequence[Blow],
) -> Answered:
    first = run[0]
    levels: list[tuple[datetime, Priority]] = []
    for transition in run:
        if transition.reason in _RISES and (not levels or transition.priority is not levels[-1][1]):
            levels.append((transition.at, transition.priority))
    ended = next((t for t in run if t.reason is Reason.RECTIFIED or t.after is AlertState.NORMAL), None)
    until = ended.at if ended else None
    return Answered(
        first.alert,
        first.at,
        tuple(levels),
        any(t.unknown for t in run),
        _event(first.alert, first.at, until, passed, blows),
        tuple(_asked(run)),
        sum(t.reason is Reason.REPEATED for t in run),
        any(t.reason is Reason.ESCALATED for t in run),
        until,
        next((orders[t.alert, t.at] for t in run if (t.alert, t.at) in orders), ""),
    )


def _asked(run: Sequence[Transition]) -> Iterator[tuple[datetime, datetime | None, str]]:
    """Each time the alert rose to a warning or an alarm, and the acknowledgement that followed."""
    open_at: datetime | None = None
    for transition in run:
        if transition.reason in (Reason.ACKNOWLEDGED, Reason.CLOSED) and open_at is not None:
            yield open_at, transition.at, transition.by
            open_at = None
        elif transition.reason in _RISES and transition.after is AlertState.UNACKNOWLEDGED:
            open_at = open_at or transition.at
    if open_at is not None:
        yield open_at, None, ""


def _event(
    key: str, raised_at: datetime, until: datetime | None, passed: Sequence[Passed], blows: Sequence[Blow]
) -> datetime | None:
    kind, _, subject = key.partition(":")
    if kind == "passing":
        return next(
            (
                one.overlap_from
                for one in passed
                if one.passed
                and str(one.mmsi) == subject
                and one.overlap_to >= raised_at
                and (until is None or one.overlap_from <= until + STILL_COMING)
            ),
            None,
        )
    if kind == "wind":
        return next(
            (one.peak_at for one in blows if one.begins <= (until or one.begins) and one.ends >= raised_at), None
        )
    return None


def gaps(
    silent: Sequence[tuple[str, datetime, datetime]],
    statuses: Sequence[tuple[datetime, SourceStatus]],
    starts: Sequence[tuple[datetime, Started]],
    transitions: Sequence[Transition],
    carries: Mapping[str, str],
    ends: datetime,
) -> tuple[Gap, ...]:
    """Stretches without a usable reading, and stretches without a watch, in time order, with when they were
    told."""
    found = [*_of_feeds(silent, statuses, transitions, carries, ends), *_of_the_watch(starts, transitions)]
    return tuple(sorted(found, key=lambda gap: gap.since))


def _of_feeds(
    silent: Sequence[tuple[str, datetime, datetime]],
    statuses: Sequence[tuple[datetime, SourceStatus]],
    transitions: Sequence[Transition],
    carries: Mapping[str, str],
    ends: datetime,
) -> Iterator[Gap]:
    for feed, since, until in silent:
        told = _told(transitions, f"feed:{feed}", since, until)
        why = next((s.detail for at, s in statuses if s.source == feed and not s.up and since <= at <= until), "")
        yield Gap(feed, carries.get(feed, ""), since, None if until >= ends else until, told, why)


def _of_the_watch(starts: Sequence[tuple[datetime, Started]], transitions: Sequence[Transition]) -> Iterator[Gap]:
    for at, started in starts:
        last = started.last_alive_at
        if last is not None and at - last > GAP_SHOWN:
            told = _told(transitions, "off", at, at + timedelta(minutes=1))
            yield Gap("", "", last, at, told, "the program was not running")


def _told(transitions: Sequence[Transition], key: str, since: datetime, until: datetime) -> datetime | None:
    return next(
        (t.at for t in transitions if t.alert == key and t.reason is Reason.RAISED and since <= t.at <= until),
        None,
    )
