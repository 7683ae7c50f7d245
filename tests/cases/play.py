"""One draw of a case through the watch itself: raw feeds in, transitions and notices out, as a user gets them.

Nothing is judged here that the watch does not judge. Thinned is only how often it ticks and looks ahead, as in
`tests/bench/week`: leads come out up to a minute short. An officer acknowledges each warning and alarm a minute
after it sounds.
"""

from __future__ import annotations

import heapq
import itertools
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Final

from monitor.intake.simulated import events
from monitor.records.estimates import Validity
from monitor.records.events import (
    Action,
    In,
    Notice,
    OperatorAction,
    Priority,
    Reason,
    Stopped,
)
from monitor.records.situations import RISING_FAST, Matter, Situation
from monitor.run import pipeline
from monitor.run.session import Session
from tests.cases.case import Case, Drawn
from tests.cases.stage import EVENT, Staged, staged

# Tick, and ticks from one outlook to the next: close to the event, before that, and in watches of many hours. In
# life every 5 s, and every half minute.
CLOSE: Final = (timedelta(seconds=30), 2)
QUIET: Final = (timedelta(seconds=60), 5)
LONG: Final = (timedelta(minutes=5), 6)
HOURS_LONG: Final = (timedelta(minutes=5), 36)
ACKNOWLEDGED_AFTER: Final = timedelta(minutes=1)
_CAUSES: Final = {
    "passing": {Matter.PASSING},
    "wind": {Matter.WIND, Matter.AHEAD},
    "slow load": {Matter.WIND, Matter.AHEAD},
}


@dataclass
class Outcome:
    """What the watch told in one draw. Leads are minutes before the event, None: not told before it."""

    drawn: Drawn
    lead_min: dict[str, float] = field(default_factory=dict)  # by priority: at least this, of what did it
    passing: Priority = Priority.NONE  # the highest passing alert told
    rising: float | None = None  # lead of the first notice of a squall
    validity: set[str] = field(default_factory=set)  # of situations of the cause at caution or above
    reasons: set[str] = field(default_factory=set)
    used: float = 0.0  # highest middle of a line's utilisation before the event
    line: str = ""
    limited_by: str = ""
    wind_at_alarm: tuple[float, float, float] | None = None  # 10 min mean, 30 s, gust, m/s
    sounds_after_alarm: int = 0  # notices of the cause after its first alarm until the event
    first: Notice | None = None
    alarm: Notice | None = None
    unknown_told: bool = False
    standing: Priority = Priority.NONE  # of the cause, at the event
    dropped: bool = False  # an alarm of the cause fell before the event


def play(case: Case, number: int, drawn: Drawn) -> Outcome:
    """Run one draw. Raises SettingsFault when the draw makes no ship at a berth."""
    stage = staged(case, drawn, seed=zlib.crc32(case.case.encode()) % 100_000 + number)
    outcome, session = Outcome(drawn), Session()
    watch = _Watch(case, outcome)
    quiet = HOURS_LONG if case.before_s > 6 * 3600 else LONG if case.before_s > 2 * 3600 else QUIET
    with _ticks_as_usual_after():
        for at, record in _with_answers(stage, watch):
            close = EVENT - at <= timedelta(seconds=case.quiet_s)
            pipeline.TICK, pipeline.OUTLOOK_EVERY = CLOSE if close else quiet  # type: ignore[misc]
            for conclusion in session.handle(at, record):
                if isinstance(conclusion, Notice) and session.pipeline is not None:
                    watch.hear(conclusion, session.pipeline)
            if session.pipeline is not None:
                watch.look(session.pipeline)
    return outcome


def _with_answers(stage: Staged, watch: _Watch) -> Iterator[tuple[datetime, In]]:
    """The feeds, and the officer's answers as they fall due."""
    for at, record in events(stage.day, stage.settings, "cases"):
        if isinstance(record, Stopped):
            return
        while watch.answers and watch.answers[0][0] <= at:
            answered_at, _, alert = heapq.heappop(watch.answers)
            yield answered_at, OperatorAction("OW", Action.ACKNOWLEDGE, alert)
        yield at, record


class _Watch:
    """The officer, and the pencil beside him."""

    def __init__(self, case: Case, outcome: Outcome) -> None:
        self.case, self.outcome = case, outcome
        self.causes = _CAUSES[case.matter]
        self.answers: list[tuple[datetime, int, str]] = []
        self._order = itertools.count()
        self._seen: object = None

    def hear(self, notice: Notice, watch: pipeline.Pipeline) -> None:
        if notice.priority.rank >= Priority.WARNING.rank:
            answer = notice.at + ACKNOWLEDGED_AFTER, next(self._order), notice.alert
            heapq.heappush(self.answers, answer)
        situation, found = watch.situations.get(notice.alert), self.outcome
        if notice.reason is Reason.RECTIFIED or notice.at > EVENT or situation is None:
            return
        if situation.matter is Matter.PASSING:
            found.passing = max(found.passing, notice.priority, key=lambda each: each.rank)
        if situation.matter not in self.causes:
            return
        lead_min = (EVENT - notice.at) / timedelta(minutes=1)
        for level in (Priority.CAUTION, Priority.WARNING, Priority.ALARM):
            if notice.priority.rank >= level.rank:
                found.lead_min.setdefault(level.value, lead_min)
        if RISING_FAST in situation.facts and found.rising is None:
            found.rising = lead_min
        if notice.priority is Priority.ALARM and found.alarm is None:
            found.alarm, wind = notice, situation.wind
            if wind is not None and wind.speed_30s_m_s is not None:
                found.wind_at_alarm = wind.mean_m_s or 0.0, wind.speed_30s_m_s.mid, wind.gust_m_s or 0.0
        elif found.alarm is not None:
            found.sounds_after_alarm += 1
        found.first = found.first or notice

    def look(self, watch: pipeline.Pipeline) -> None:
        """Once a tick: the situations of the cause."""
        if watch.estimate is self._seen or watch.estimate is None or watch.estimate.at > EVENT:
            return
        self._seen, found = watch.estimate, self.outcome
        standing = [
            alert.priority
            for key, alert in watch.alerts.items()
            if alert.active and (s := watch.situations.get(key)) is not None and s.matter in self.causes
        ]
        found.standing = max(standing, key=lambda each: each.rank, default=Priority.NONE)
        found.dropped |= found.alarm is not None and found.standing is not Priority.ALARM
        for situation in watch.situations.values():
            if situation.matter in self.causes and situation.matter is not Matter.AHEAD:
                self._note(situation)

    def _note(self, situation: Situation) -> None:
        found = self.outcome
        if situation.level is Priority.NONE:
            return
        found.validity.add(situation.validity.value)
        found.unknown_told |= situation.unknown
        if situation.validity is not Validity.GOOD:
            found.reasons |= set(situation.reasons)
        for load in situation.lines[:1]:
            if load.utilisation.mid > found.used:
                found.used, found.line, found.limited_by = load.utilisation.mid, load.line, load.limited_by


@contextmanager
def _ticks_as_usual_after() -> Iterator[None]:
    usual = pipeline.TICK, pipeline.OUTLOOK_EVERY
    try:
        yield
    finally:
        pipeline.TICK, pipeline.OUTLOOK_EVERY = usual  # type: ignore[misc]
