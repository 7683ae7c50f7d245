"""What impairs the watch itself: its PC, its channels, an instrument that contradicts another or the tables."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Final

from monitor.records.estimates import WindEstimate
from monitor.records.events import Priority
from monitor.records.situations import Matter, Situation
from monitor.watch.agreement import doubt

OUTLOOK: Final = "outlook"
PARTS: Final = ("disk", "outward ping", OUTLOOK)  # sources that tell of the PC itself
_WARNINGS: Final = ("disk", "wind", "channel", "flood", OUTLOOK)


def impairments(
    told: Mapping[str, tuple[datetime, str]],
    wind: WindEstimate,
    water: tuple[datetime, str] | None,
    now: datetime,
    left_out: int = 0,
) -> Iterator[Situation]:
    """A situation for each. `told`: by part, since when and what; `water`: since when and how it is off the
    tables; `left_out`: ships there was no room for."""
    found = dict(told)
    if why := doubt(wind.reasons):
        found["wind"] = now, why
    if water is not None:
        found["water"] = water
    if left_out:
        found["flood"] = now, f"{left_out} more ships are heard near by than can be worked out"
    for subject, (at, what) in found.items():
        level = Priority.WARNING if subject in _WARNINGS else Priority.CAUTION
        yield Situation(f"own:{subject}", Matter.OWN, level, level, at=at, subject=subject, facts=(what,))
