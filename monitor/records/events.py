"""The journal's events: what came in through the one door, and what was concluded."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Final, Literal


@dataclass(frozen=True, slots=True)
class RawReading:
    """One line, datagram or reply as it came. Text is latin-1: every byte survives."""

    source: str
    text: str


@dataclass(frozen=True, slots=True)
class SourceStatus:
    """A feed went down or came back; `detail` says why, for people."""

    source: str
    up: bool
    detail: str = ""


@dataclass(frozen=True, slots=True)
class SettingsSnapshot:
    """The settings in force, as (relative path, file text), and their SHA-256."""

    files: tuple[tuple[str, str], ...]
    stay: str  # name of the stay file in force, without suffix
    sha256: str


@dataclass(frozen=True, slots=True)
class Started:
    """The watch began: program version; when the watch before it was last alive (None: first start)."""

    version: str
    last_alive_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Stopped:
    """The watch ended in good order."""

    reason: str


@dataclass(frozen=True, slots=True)
class Beat:
    """One a second: time passes even when every feed is dead."""


@dataclass(frozen=True, slots=True)
class ClockStepped:
    """The PC clock was set: our anchor moved by `step_s` (positive: forward)."""

    step_s: float


LINE_STATES: Final = ("tended", "held", "slack", "heavy", "rendered", "parted")  # what can be told of a line


class Action(StrEnum):
    """What an operator can do or tell."""

    ACKNOWLEDGE = "acknowledge"
    SILENCE = "silence"
    PHASE = "phase"
    PEOPLE = "people"
    WIND = "wind"
    DRAUGHT = "draught"
    CRAFT = "craft"
    TOW = "tow"
    LINE = "line"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class OperatorAction:
    """An entry by a person: who, what, about what, and named values in SI (text or number)."""

    who: str
    action: Action
    subject: str = ""
    values: tuple[tuple[str, str | float | bool | None], ...] = ()

    def value(self, name: str) -> str | float | bool | None:
        """A named value, None when absent."""
        return dict(self.values).get(name)


@dataclass(frozen=True, slots=True)
class Delivery:
    """What became of a notice on one channel."""

    notice_key: str
    channel: str
    delivered: bool
    detail: str = ""


class Priority(StrEnum):
    """IMO MSC.302(87) words; emergency alarm is not ours. NONE is no alert."""

    NONE = "none"
    CAUTION = "caution"
    WARNING = "warning"
    ALARM = "alarm"

    @property
    def rank(self) -> int:
        """0 (none) to 3 (alarm), to compare."""
        return _RANKS[self]


_RANKS: Final = {priority: rank for rank, priority in enumerate(Priority)}


class AlertState(StrEnum):
    """IEC 62923-1 alert states."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "active, unacknowledged"
    SILENCED = "active, silenced"
    ACKNOWLEDGED = "active, acknowledged"
    RECTIFIED = "rectified, unacknowledged"


class Reason(StrEnum):
    """Why an alert changed. A closed list."""

    RAISED = "raised"
    LEVEL_UP = "level rose"
    LEVEL_DOWN = "level fell"
    BECAME_UNKNOWN = "became unknown"
    KNOWN_AGAIN = "known again"
    ACKNOWLEDGED = "acknowledged"
    SILENCED = "silenced"
    SILENCE_OVER = "silence over"
    REPEATED = "not acknowledged: repeated"
    ESCALATED = "not acknowledged: escalated"
    TIME_TO_ACT = "time to act"
    RECTIFIED = "condition ended"
    CLOSED = "closed"


@dataclass(frozen=True, slots=True)
class Transition:
    """One change of one alert, at the computed instant `at`."""

    at: datetime
    alert: str  # key of the situation, e.g. "passing:200911002"
    before: AlertState
    after: AlertState
    priority: Priority
    unknown: bool
    reason: Reason
    by: str = ""  # initials for acknowledge and silence


@dataclass(frozen=True, slots=True)
class Notice:
    """What a person reads: what to do, what, why, when, how sure, the caution."""

    at: datetime
    alert: str
    priority: Priority
    reason: Reason
    do: str
    what: str
    why: str
    when: str
    sure: str
    caution: str
    about: str = ""  # what the alert is about, in words; "" in records older than this field

    @property
    def key(self) -> str:
        """Names this notice in delivery records."""
        return f"{self.alert}@{self.at.isoformat()}"


In = (
    RawReading
    | SourceStatus
    | SettingsSnapshot
    | Started
    | Stopped
    | Beat
    | ClockStepped
    | OperatorAction
    | Delivery
)

Direction = Literal["in", "out"]
