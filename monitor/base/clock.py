"""The only file that reads the time. Everywhere else `now` is an argument."""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime, timedelta
from typing import Final

STEP_NOTICED: Final = timedelta(seconds=2)


class AnchoredClock:
    """UTC anchor plus monotonic time: the stamps go steadily on when somebody sets the PC clock.

    `step()` tells by how much the PC clock has moved away since the anchor was taken; `re_anchor()` accepts the
    new time. The caller journals that, so that a replay knows it too.
    """

    def __init__(self) -> None:
        self.re_anchor()

    def now(self) -> datetime:
        """Aware UTC."""
        return self._anchor_utc + timedelta(seconds=time.monotonic() - self._anchor_monotonic_s)

    def step(self) -> timedelta | None:
        """The PC clock minus our time, when it is more than STEP_NOTICED; else None."""
        difference = datetime.now(UTC) - self.now()
        return difference if abs(difference) > STEP_NOTICED else None

    def re_anchor(self) -> None:
        """Take the PC clock as it is now for the truth."""
        self._anchor_utc = datetime.now(UTC)
        self._anchor_monotonic_s = time.monotonic()


def wait(seconds: float, until: threading.Event | None = None) -> bool:
    """Sleep, but wake at once when `until` is set; True when it was."""
    if until is None:
        time.sleep(seconds)
        return False
    return until.wait(seconds)


def stopwatch_s() -> float:
    """Seconds of a clock that only runs forward, for measuring durations."""
    return time.perf_counter()
