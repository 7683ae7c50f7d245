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
    """One line: middle ratio of measured to estimated, its spread as a factor (one standard deviation of the log),
    and the share of pairs inside the 5–95 % band."""

    line: str
    group: str
    pairs: int
    stretches: int
    ratio: float
    spread: float | None  # None: one pair only
    inside: float


@dataclass(frozen=True, slots=True)
class Correction:
    """The factor that would bring a group's estimates to what was measured. `low`, `high`: 95 % interval; None
    with too few stretches for one."""

    group: str
    load: LoadKind
    stretches: int
    pairs: int
    factor: float
    low: float | None
    high: float | None

    @property
    def called_for(self) -> bool:
        """The interval leaves out 1: more than chance."""
        return self.low is not None and self.high is not None and not self.low <= 1.0 <= self.high
