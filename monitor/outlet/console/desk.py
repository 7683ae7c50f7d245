"""What the page may ask of the program. The run floor answers; the page knows no more than this."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from monitor.outlet.drill_sheet import DrillSheet, Flight, Marks
from monitor.records.estimates import LineLoad
from monitor.records.picture import Picture, Plan


@dataclass(frozen=True, slots=True)
class Reel:
    """Where a replay stands, in seconds of the recording from its begin."""

    at_s: float
    total_s: float
    done: float  # share of the recording read in so far
    playing: bool
    pace: float
    events: tuple[tuple[float, str], ...]  # worth jumping to
    recordings: tuple[str, ...] = ()  # to choose from
    chosen: int = 0  # number among them


@dataclass(frozen=True, slots=True)
class Reply:
    """The answer to a what-if: sentences, and the lines at their peak, heaviest first."""

    told: tuple[str, ...]
    lines: tuple[LineLoad, ...]


@dataclass(frozen=True, slots=True)
class Drilled:
    """A drill: its task, and once it is answered what the answer earns and how both parts fly."""

    sheet: DrillSheet
    marks: Marks | None = None
    parts: tuple[Flight, ...] = ()


@dataclass(frozen=True, slots=True)
class Draft:
    """A stay as the form has it: the file it would be, what is wrong with it, its plan when it holds together."""

    text: str
    faults: tuple[str, ...]
    assumed: tuple[str, ...]
    plan: Plan | None


@dataclass(frozen=True, slots=True)
class StaySheet:
    """What the form of a stay begins with: one value a field, and the names to choose from."""

    name: str
    values: tuple[tuple[str, str], ...]
    lines: tuple[tuple[str, str, str], ...]  # line, bollard, pretension (empty: not led)
    tide: tuple[tuple[str, str, str], ...]  # at, height, high or low
    stays: tuple[str, ...]
    ships: tuple[str, ...]
    berths: tuple[str, ...]
    bollards: tuple[str, ...]


class Desk(Protocol):
    """The watch, or a replay, as the page sees it. Methods are called from the page's thread."""

    def picture(self) -> Picture | None:
        """The last picture; None until there is one."""
        ...

    def now(self) -> datetime | None:
        """The time of the watch: a little later than its last picture."""
        ...

    def beat(self) -> int:
        """A number that grows as long as the watch is alive."""
        ...

    def enter(self, line: str, who: str, decks_clear: bool = False) -> str:
        """Hand in an entry, written as at the terminal; "" when taken, else what is wrong with it."""
        ...

    def reel(self) -> Reel | None:
        """Where the replay stands; None for a live watch."""
        ...

    def seek(self, at_s: float) -> None:
        """Replay: go there."""
        ...

    def choose(self, number: int) -> None:
        """Replay: play another of its recordings, from its begin."""
        ...

    def run(self, playing: bool, pace: float | None = None) -> None:
        """Replay: play or hold, at a pace."""
        ...

    def ask(self, fields: Mapping[str, str]) -> Reply:
        """What if. Raises ValueError with the reason."""
        ...

    def drill(self, fields: Mapping[str, str]) -> Drilled:
        """A drill, or the marks of its answer. Raises ValueError with the reason. Takes a second: not on the
        page's own thread."""
        ...

    def stay_sheet(self, name: str = "", ship: str = "", berth: str = "") -> StaySheet | None:
        """The form of a stay, filled from a file ("": the one in force), for its own ship and berth or for
        others; None where stays cannot be written."""
        ...

    def draft(self, fields: Mapping[str, str]) -> Draft:
        """Check what the form says."""
        ...

    def keep(self, fields: Mapping[str, str]) -> str:
        """Write it as a stay file; what became of it, in words."""
        ...
