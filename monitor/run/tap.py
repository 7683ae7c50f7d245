"""Who listens at the alerts of a pipeline: all that moves them passes here, in order."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Protocol

from monitor.records.events import OperatorAction

if TYPE_CHECKING:
    from monitor.run.pipeline import Pipeline


class Tap(Protocol):
    """Give one to `Session`."""

    def judged(self, pipeline: Pipeline, now: datetime) -> None:
        """A tick: the situations of the pipeline are new, its alerts have not taken them yet."""

    def answered(self, at: datetime, action: OperatorAction) -> None:
        """Somebody acknowledges or silences."""

    def clock_set(self, by: timedelta) -> None:
        """The PC clock was set: what is remembered is brought to the new time."""
