"""One thing that can go wrong, as the facts stand: what the alert machine judges and the notices tell."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Final

from monitor.records.estimates import (
    Encounter,
    EventOdds,
    LineLoad,
    PassingAdvice,
    Validity,
    WaterEstimate,
    WindEstimate,
)
from monitor.records.events import Priority

# Facts of the wind's situation that words hang on.
RISING_FAST: Final = "wind rising fast"
BEYOND_TESTS: Final = "stream beyond all tests"


class Matter(StrEnum):
    """What kind of thing it is. A closed list: each has its own words in `outlet/wording`."""

    PASSING = "passing"
    WIND = "wind"
    AHEAD = "ahead"
    FEED = "feed"
    CLOCK = "clock"
    OFF = "off"
    MODEL = "model"
    LIMIT = "limit"
    LINE = "line"
    OWN = "own"  # the watch's own PC, and inputs that contradict each other; `subject` says which, facts[0] what


@dataclass(frozen=True, slots=True)
class Situation:
    """What the facts call for now.

    `level` is the priority by the plain thresholds, `holds` by the thresholds less the deadband (never below
    `level`): an alert rises on the first and falls only when it is above the second. `urgent` skips the raise
    delay. `due` turns true when the time to act has come (a passing ship within the action time).
    `at` is when the load is expected (None: now), `clear_by` when people must be out of the way.
    """

    key: str
    matter: Matter
    level: Priority
    holds: Priority
    unknown: bool = False
    urgent: bool = False
    due: bool = False
    at: datetime | None = None
    until: datetime | None = None
    clear_by: datetime | None = None
    lines: tuple[LineLoad, ...] = ()  # heaviest first
    encounter: Encounter | None = None
    wind: WindEstimate | None = None
    water: WaterEstimate | None = None
    subject: str = ""  # feed name, limit name or line name
    facts: tuple[str, ...] = ()  # short clauses in people's words, already with their units
    validity: Validity = Validity.GOOD
    reasons: tuple[str, ...] = ()  # why the validity is less than good
    people_on_deck: bool = False
    odds: EventOdds | None = None
    chance: float | None = None  # that some line passes its working limit, all told; None: not worked out
    advice: PassingAdvice | None = None
