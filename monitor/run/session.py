"""One watch after another in the same journal: how a session begins, live and in replay alike.

A session opens with a settings snapshot and `Started`. Its pipeline is new; what was heard in the last ten minutes
before, and all that people told about the stay, is handed to it first, so that ships, winds, alerts and phases are
there again. Live reads that from the journal, replay from the entries it has just passed: the same entries.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from contextlib import suppress
from datetime import datetime, timedelta
from typing import Final

from monitor.records.events import (
    Action,
    In,
    OperatorAction,
    SettingsSnapshot,
    Started,
    Stopped,
)
from monitor.run.journal import Entry
from monitor.run.pipeline import Conclusion, Pipeline, Submit
from monitor.settings.load import from_snapshot
from monitor.watch import stay

REMEMBERED: Final = timedelta(minutes=10)
_ABOUT_THE_STAY: Final = (Action.PHASE, Action.PEOPLE, Action.DRAUGHT, Action.CRAFT, Action.TOW, Action.LINE)
_SESSION_MARKS: Final = ("SettingsSnapshot", "Started", "Stopped")


class Session:
    """Feeds the pipeline in force. `submit` runs the outlook beside the ticks (live); None: in place."""

    def __init__(self, submit: Submit | None = None) -> None:
        self._submit = submit
        self._snapshot: SettingsSnapshot | None = None
        self._recent: deque[Entry] = deque()
        self._told: list[Entry] = []
        self.pipeline: Pipeline | None = None

    def handle(self, at: datetime, record: In) -> list[Conclusion]:
        """Take one input in journalled order. Raises ValueError when the journal begins without settings."""
        match record:
            case SettingsSnapshot():
                if self._snapshot is None or record.stay != self._snapshot.stay:
                    self._told.clear()  # another stay: what was told of the last one is over
                self._snapshot = record
                return []
            case Started():
                self.pipeline = self._begin(at)
            case Stopped():
                return []
        if self.pipeline is None:
            raise ValueError("the recording does not begin with its settings and a start")
        return self.pipeline.handle(at, record)

    def remember(self, entry: Entry) -> None:
        """Keep an `in` entry that a later session must know: replay keeps each it has handled, live those in the
        journal before it starts."""
        if entry.kind == "OperatorAction":
            self._told.append(entry)
        if entry.kind not in _SESSION_MARKS:
            self._recent.append(entry)
        oldest_us = entry.stamped_us - REMEMBERED // timedelta(microseconds=1)
        while self._recent and self._recent[0].stamped_us < oldest_us:
            self._recent.popleft()

    def _begin(self, at: datetime) -> Pipeline:
        if self._snapshot is None:
            raise ValueError("the recording does not begin with its settings and a start")
        pipeline = Pipeline(from_snapshot(self._snapshot), self._submit)
        since_us = (at - REMEMBERED - _EPOCH) // timedelta(microseconds=1)
        for entry in _before(self._told, since_us):
            action = entry.record
            if isinstance(action, OperatorAction) and action.action in _ABOUT_THE_STAY:
                with suppress(stay.BadEntry):
                    pipeline.stay = stay.apply(pipeline.stay, action, entry.stamped_at)
        for entry in self._recent:
            if entry.stamped_us >= since_us:
                pipeline.handle(entry.stamped_at, entry.record)  # type: ignore[arg-type]
        return pipeline


_EPOCH: Final = datetime.fromisoformat("1970-01-01T00:00:00+00:00")


def _before(entries: Iterable[Entry], at_us: int) -> list[Entry]:
    return [entry for entry in entries if entry.stamped_us < at_us]
