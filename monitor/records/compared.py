"""Measured line tensions against estimated ones."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

FEW: Final = 8  # stretches (passes, hours) below which an interval is said to rest on few


class LoadKind(StrEnum):
    """What loads a line at a moment."""

    PASSING = "passing ships"
    STEADY = "wind and tide"


@dataclass(frozen=True, slots=True)
class LineBias:
    """One line: middle ratio of measured to estimated (0: slack more often than not), its spread as a factor (one
    standard deviation of the log, of what was not slack), the share of pairs inside the 5–95 % band, and how many
    pairs the sensor read as slack."""

    line: str
    group: str
    pairs: int
    stretches: int
    ratio: float
    spread: float | None  # None: one pair only
    inside: float
    slack: int = 0


@dataclass(frozen=True, slots=True)
class Correction:
    """The factor that would bring a group's estimates to what was measured. `low`, `high`: 95 % interval, over
    the stretches of one stay or over several stays; None with too few for one. `slack`: stretches mostly read as
    slack, for which there is no factor; `factor` is None when all are."""

    group: str
    load: LoadKind
    stretches: int
    pairs: int
    factor: float | None
    low: float | None
    high: float | None
    stays: int = 1
    slack: int = 0

    @property
    def rests_on(self) -> int:
        """How many count: the stays, or of one stay the stretches."""
        return self.stays if self.stays > 1 else self.stretches

    @property
    def called_for(self) -> bool:
        """The interval leaves out 1: more than chance."""
        return self.low is not None and self.high is not None and not self.low <= 1.0 <= self.high
