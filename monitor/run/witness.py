"""What the screen must remember of the time gone by: samples for the ribbon, alert spans, the log, last raw lines.

Shown every event of a watch, in and out, in journalled order: live as it writes them, replay as it plays them.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import islice
from typing import Final

from monitor.base.moved import moved
from monitor.base.units import knots
from monitor.outlet.naming import alert_in_words, notice_about
from monitor.records.codec import Record
from monitor.records.estimates import LoadEstimate
from monitor.records.events import (
    Action,
    AlertState,
    ClockStepped,
    Notice,
    OperatorAction,
    Priority,
    RawReading,
    Reason,
    SourceStatus,
    Started,
    Stopped,
    Transition,
)
from monitor.records.picture import LogRow, Past, Span
from monitor.run.journal import Entry
from monitor.run.session import REMEMBERED

KEPT: Final = timedelta(hours=2)
LOG_ROWS: Final = 200
RAW_SHOWN: Final = 200  # characters of a last raw line
_UNITS: Final[tuple[tuple[str, Callable[[float], str]], ...]] = (
    ("_m_s", lambda m_s: f"{knots(m_s):.0f} kn"),
    ("_deg", lambda deg: f"{deg:03.0f}°"),
    ("_m2", lambda m2: f"{m2:.0f} m²"),
    ("_m", lambda m: f"{m:.1f} m"),
)
_STANDING: Final = (AlertState.UNACKNOWLEDGED, AlertState.SILENCED, AlertState.ACKNOWLEDGED)


def _shown(name: str, value: str | float | bool | None) -> str:
    """ "mean 48 kn", "forward 9.1 m", "on deck yes": a value of an entry by its name, which carries the unit."""
    if isinstance(value, bool):
        return f"{name.replace('_', ' ')} {'yes' if value else 'no'}"
    if not isinstance(value, float):
        return f"{name.replace('_', ' ')} {value}"
    for unit, told in _UNITS:
        if name.endswith(unit):
            return f"{name.removesuffix(unit).replace('_', ' ')} {told(value)}"
    return f"{name} {value:.0f}" if value >= 1e4 else f"{name} {value:.4g}"  # an MMSI, or a quantity


class Witness:
    """Sees the events of one journal go by. All that it gives out is of the last two hours, or the last rows."""

    def __init__(self) -> None:
        self.raw: dict[str, tuple[datetime, str]] = {}
        self._past: deque[Past] = deque()
        self._spans: deque[Span] = deque()
        self._log: deque[LogRow] = deque(maxlen=LOG_ROWS)
        self._about: dict[str, str] = {}  # of alerts, as they were told

    def recall(self, entries: Iterable[Entry]) -> None:
        """Take what an earlier watch wrote."""
        for entry in entries:
            self.see(entry.stamped_at, entry.record)

    def see(self, at: datetime, record: Record) -> None:
        """Take one event, stamped `at`."""
        match record:
            case RawReading():
                self.raw[record.source] = at, record.text[:RAW_SHOWN]
            case LoadEstimate():
                self._sample(record)
            case Transition():
                self._turn(record)
            case OperatorAction():
                self._entered(at, record)
            case SourceStatus():
                text = ("up" if record.up else "down") + (f": {record.detail}" if record.detail else "")
                self._log.appendleft(LogRow(at, "watch", record.source, text))
            case Started():
                last = record.last_alive_at
                if last is not None and at - last > REMEMBERED:  # the alerts of that watch are forgotten
                    self._spans = deque(
                        s if s.until else Span(s.alert, s.priority, s.since, last) for s in self._spans
                    )
                self._log.appendleft(LogRow(at, "watch", "watch", f"started, version {record.version}"))
            case Stopped():
                self._log.appendleft(LogRow(at, "watch", "watch", f"stopped: {record.reason}"))
            case Notice():
                self._about[record.alert] = notice_about(record)
                if len(self._about) > LOG_ROWS:
                    del self._about[next(iter(self._about))]
                self._log.appendleft(LogRow(at, "notice", "", f"{record.do} {record.what}", alert=record.alert))
            case ClockStepped():
                by = timedelta(seconds=record.step_s)
                self._past, self._spans = moved(self._past, by), moved(self._spans, by)
                self._log.appendleft(LogRow(at, "watch", "clock", f"set by {record.step_s:+.0f} s"))

    def past(self) -> tuple[Past, ...]:
        """Samples, oldest first."""
        return tuple(self._past)

    def spans(self) -> tuple[Span, ...]:
        """Alert spans in the order they began."""
        return tuple(self._spans)

    def log(self, most: int = LOG_ROWS) -> tuple[LogRow, ...]:
        """Newest first. An alert is named as it was last told: at first its ship may not have given her name."""
        rows = islice(self._log, most)
        return tuple(replace(row, subject=self._named(row.alert)) if row.alert else row for row in rows)

    def _named(self, alert: str) -> str:
        return self._about.get(alert) or alert_in_words(alert)

    def _entered(self, at: datetime, entry: OperatorAction) -> None:
        values = ", ".join(_shown(name, value) for name, value in entry.values if value is not None)
        if entry.action is Action.NOTE:
            row = LogRow(at, "entry", "note", entry.subject, entry.who)
        elif entry.action in (Action.ACKNOWLEDGE, Action.SILENCE):
            text = f"{entry.action.value} {values}".strip()
            row = LogRow(at, "entry", "", text, entry.who, entry.subject)
        else:
            row = LogRow(at, "entry", entry.action.value, f"{entry.subject} {values}".strip(), entry.who)
        self._log.appendleft(row)

    def _sample(self, estimate: LoadEstimate) -> None:
        heaviest = estimate.lines[0] if estimate.lines else None
        wind, water = estimate.wind, estimate.water
        self._past.append(
            Past(
                estimate.at,
                heaviest.line if heaviest else "",
                heaviest.utilisation if heaviest else None,
                wind.speed_30s_m_s,
                wind.gust_m_s,
                wind.from_direction_deg,
                water.height_m,
                water.level_source,
            )
        )
        while self._past[-1].at - self._past[0].at > KEPT:
            self._past.popleft()

    def _turn(self, change: Transition) -> None:
        by = change.by
        text = f"{change.reason.value}: {change.priority.value}, {change.after.value}"
        self._log.appendleft(LogRow(change.at, "alert", "", text, by, change.alert))
        level = change.priority if change.after in _STANDING else Priority.NONE
        standing = next((s for s in self._spans if s.alert == change.alert and s.until is None), None)
        if standing is not None and standing.priority is not level:
            self._spans.remove(standing)
            self._spans.append(Span(standing.alert, standing.priority, standing.since, change.at))
            standing = None
        if standing is None and level is not Priority.NONE and change.reason is not Reason.RECTIFIED:
            self._spans.append(Span(change.alert, level, change.at, None))
        while self._spans and (until := self._spans[0].until) is not None and change.at - until > KEPT:
            self._spans.popleft()
