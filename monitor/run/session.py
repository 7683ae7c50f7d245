"""One watch after another in the same journal: how a session begins, live and in replay alike.

A session opens with a settings snapshot and `Started`. Its pipeline is new; what was heard in the last ten minutes
before, and all that people told about the stay, is handed to it first, so that ships, winds and phases are there
again; then the alerts as people were last told of them, whenever that was. Live reads that from the journal,
replay from the entries it has just passed and from its own conclusions: the same.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Final

from monitor.base.moved import moved
from monitor.records.estimates import LoadEstimate, Slip
from monitor.records.events import (
    Action,
    ClockStepped,
    In,
    OperatorAction,
    SettingsSnapshot,
    Started,
    Stopped,
    Transition,
)
from monitor.run.journal import Entry
from monitor.run.pipeline import Conclusion, Pipeline, Submit
from monitor.run.tap import Tap
from monitor.settings.load import from_snapshot
from monitor.settings.schema import Settings
from monitor.watch import alarms, slips, stay

REMEMBERED: Final = timedelta(minutes=10)
REMEMBERED_KINDS: Final = ("OperatorAction", "SettingsSnapshot", "ClockStepped")  # however long ago
_ABOUT_THE_STAY: Final = (Action.PHASE, Action.PEOPLE, Action.DRAUGHT, Action.CRAFT, Action.TOW, Action.LINE)
# Not for the pipeline of another session.
_MARKS: Final = ("SettingsSnapshot", "Started", "Stopped", "ClockStepped")


class Session:
    """Feeds the pipeline in force. `submit` runs the outlook beside the ticks (live); None: in place. `tap` gives
    each pipeline, before it hears anything, who listens to it."""

    def __init__(self, submit: Submit | None = None, tap: Callable[[Settings], Tap] | None = None) -> None:
        self._submit, self._tap = submit, tap
        self._snapshot: SettingsSnapshot | None = None
        self._recent: deque[Entry] = deque()
        self._told: list[tuple[datetime, OperatorAction]] = []  # before that, about the stay
        self._alerts: dict[str, alarms.Alert] = {}  # as people were last told
        self._slips: tuple[datetime, tuple[Slip, ...]] | None = None  # by the last estimate, and when that was
        self.pipeline: Pipeline | None = None

    def handle(self, at: datetime, record: In) -> list[Conclusion]:
        """Take one input in journalled order. Raises ValueError when the journal begins without settings."""
        match record:
            case SettingsSnapshot():
                self._settings(record)
                return []
            case Started():
                self.pipeline = self._begin(at)
            case Stopped():
                return []
        if self.pipeline is None:
            if self._snapshot is None:
                raise ValueError("the recording does not begin with its settings and a start")
            return []  # a clip: what came before its start is remembered for it
        conclusions = self.pipeline.handle(at, record)
        for conclusion in conclusions:
            match conclusion:
                case Transition():
                    self._alerts = alarms.told(self._alerts, conclusion)
                case LoadEstimate():
                    self._slips = conclusion.at, conclusion.slips
        return conclusions

    def remember(self, entry: Entry) -> None:
        """Keep an entry that a later session must know: replay keeps each input it has handled, live the inputs
        and the transitions in the journal before it starts."""
        match entry.kind:
            case "Transition":
                self._alerts = alarms.told(self._alerts, entry.record)  # type: ignore[arg-type]
                return
            case "LoadEstimate":
                self._slips = entry.record.at, entry.record.slips  # type: ignore[union-attr]
                return
            case "SettingsSnapshot":
                self._settings(entry.record)  # type: ignore[arg-type]
            case "ClockStepped":
                self._clock_set(entry.record)  # type: ignore[arg-type]
        if entry.kind not in _MARKS:
            self._recent.append(entry)
            self._let_go(entry.stamped_at - REMEMBERED)

    def _settings(self, taken: SettingsSnapshot) -> None:
        if self._snapshot is not None and taken.stay != self._snapshot.stay:
            self._recent.clear()  # another stay: what was told of the last one is over
            self._told.clear()
            self._alerts = {}
            self._slips = None
        self._snapshot = taken

    def _clock_set(self, stepped: ClockStepped) -> None:
        """Stamps before and after do not compare: what was heard before is let go, what was told is restamped."""
        self._let_go(None)
        by = timedelta(seconds=stepped.step_s)
        self._told, self._alerts = moved(self._told, by), moved(self._alerts, by)
        self._slips = moved(self._slips, by)

    def _let_go(self, before: datetime | None) -> None:
        """Drop the entries stamped before a time (None: all) but for what people told about the stay."""
        while self._recent and (before is None or self._recent[0].stamped_at < before):
            entry = self._recent.popleft()
            if entry.kind == "OperatorAction":
                self._told.append((entry.stamped_at, entry.record))  # type: ignore[arg-type]

    def _begin(self, at: datetime) -> Pipeline:
        if self._snapshot is None:
            raise ValueError("the recording does not begin with its settings and a start")
        settings = from_snapshot(self._snapshot)
        pipeline = Pipeline(settings, self._submit, self._tap(settings) if self._tap else None)
        self._let_go(at - REMEMBERED)
        for told_at, action in self._told:
            if action.action in _ABOUT_THE_STAY:
                with suppress(stay.BadEntry):
                    pipeline.stay = stay.apply(pipeline.stay, action, told_at)
        for entry in self._recent:
            pipeline.handle(entry.stamped_at, entry.record)  # type: ignore[arg-type]
        pipeline.stay = replace(pipeline.stay, slips=self._slips_since(pipeline.stay.slips))
        pipeline.resume(self._alerts)
        return pipeline

    def _slips_since(self, otherwise: tuple[Slip, ...]) -> tuple[Slip, ...]:
        """Brakes that may have rendered by the last estimate, and what people told of lines after it; `otherwise`
        where there was none."""
        if self._slips is None:
            return otherwise
        at, left = self._slips
        heard = ((entry.stamped_at, entry.record) for entry in self._recent if entry.kind == "OperatorAction")
        for told_at, action in (*self._told, *heard):
            if told_at >= at and isinstance(action, OperatorAction) and action.action is Action.LINE:
                left = slips.told(left, action)
        return left
