"""Field types of the settings files: what a person writes goes in, an SI value comes out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final, Literal

from pydantic import BeforeValidator
from pydantic_core import PydanticCustomError

from monitor.base.units import UnitError, parse_quantity

UNKNOWN: Final = "unknown"  # what a person writes when he does not know; it is shown as unknown, never as a number
NOT_ENTERED: Final = "not entered"

Side = Literal["port", "starboard"]


@dataclass(frozen=True, slots=True)
class Reader:
    """Reads one kind of value; `allowed` says in a user's words what may be written, `stand_ins` are three values
    that it reads, far apart (see `shape.could_be`)."""

    allowed: str
    read: Callable[[object], object]
    stand_ins: tuple[object, object, object]

    def __call__(self, value: object) -> object:
        return self.read(value)


def refused(problem: str) -> PydanticCustomError:
    """The error by which a reader refuses a value; `problem` reaches the user as it stands."""
    return PydanticCustomError("refused", "{problem}", {"problem": problem})


def _quantity(unit: str, low: float, high: float, shown: str, may_be: str | None = None) -> BeforeValidator:
    def read(value: object) -> object:
        if may_be is not None and value == may_be:
            return None
        try:
            number = parse_quantity(value, unit)
        except UnitError as error:
            raise refused(str(error)) from None
        if not low <= number <= high:
            raise refused("out of range")
        return number

    least, middle, most = (f"{value} {unit}" for value in (low, (low + high) / 2.0, high))
    return BeforeValidator(Reader(shown, read, (least, middle, most)))


def quantity(unit: str, low: float, high: float, shown: str) -> BeforeValidator:
    """Reads an SI number of `unit` in [low, high]; `shown` is the allowed range in a user's words."""
    return _quantity(unit, low, high, shown)


def quantity_or(word: str, unit: str, low: float, high: float, shown: str) -> BeforeValidator:
    """As `quantity`, but `word` (say "unknown") may stand for None."""
    return _quantity(unit, low, high, f'{shown}, or "{word}"', word)


def table_or(word: str, example: str) -> BeforeValidator:
    """Lets `word` (say "not entered") stand for None where a table such as `example` is expected."""
    shown = f'for instance {example}, or "{word}"'
    return BeforeValidator(Reader(shown, lambda value: None if value == word else value, (word, word, word)))


def text(longest: int) -> BeforeValidator:
    """Reads a line of 1 to `longest` printable characters without blanks round it."""

    def read(value: object) -> object:
        if not isinstance(value, str):
            raise refused("write it as text, in quotes")
        if not value or value != value.strip() or not value.isprintable() or len(value) > longest:
            raise refused("empty, too long, more than one line, or blanks round it")
        return value

    return BeforeValidator(Reader(f"a line of text, 1 to {longest} characters", read, ("?", "??", "???")))


def truth() -> BeforeValidator:
    """Reads true or false, and no other word for them."""

    def read(value: object) -> object:
        if not isinstance(value, bool):
            raise refused("neither true nor false")
        return value

    return BeforeValidator(Reader("true or false, without quotes", read, (True, False, True)))


def number(low: int, high: int, *, whole: bool) -> BeforeValidator:
    """Reads a number that has no unit, in [low, high]."""

    def read(value: object) -> object:
        if isinstance(value, bool) or not isinstance(value, int if whole else int | float):
            raise refused("not a whole number" if whole else "not a number")
        if not low <= value <= high:
            raise refused("out of range")
        return value

    shown = f"a {'whole ' if whole else ''}number, {low} to {high}, without quotes"
    return BeforeValidator(Reader(shown, read, (low, (low + high) // 2, high)))


def instant() -> BeforeValidator:
    """Reads a TOML date and time with its zone as aware UTC, in the years 2000 to 2099."""
    shown = "day, time and zone without quotes, for instance 2031-05-04T06:12:00Z"

    def read(value: object) -> object:
        if not isinstance(value, datetime):
            raise refused("not a date and time")
        if value.tzinfo is None:
            raise refused("the zone is missing")
        if not 2000 <= value.year <= 2099:
            raise refused("out of range")
        return value.astimezone(UTC)

    first, middle, last = (datetime(year, 1, 1, tzinfo=UTC) for year in (2000, 2050, 2099))
    return BeforeValidator(Reader(shown, read, (first, middle, last)))
