"""Field types of the settings files: a text with its unit goes in, an SI number comes out."""

from __future__ import annotations

from typing import Literal

from pydantic import BeforeValidator
from pydantic_core import PydanticCustomError

from monitor.base.units import UnitError, parse_quantity

UNKNOWN = "unknown"  # what a person writes when he does not know; it is shown as unknown, never as a number
NOT_ENTERED = "not entered"


def _reader(unit: str, low: float, high: float, shown: str, may_be: str | None = None) -> BeforeValidator:
    def read(value: object) -> object:
        if may_be is not None and value == may_be:
            return None
        try:
            number = parse_quantity(value, unit)
        except UnitError as error:
            raise PydanticCustomError("quantity", "{why}", {"why": str(error), "allowed": shown}) from None
        if not low <= number <= high:
            raise PydanticCustomError("range", "out of range", {"allowed": shown})
        return number

    return BeforeValidator(read)


def quantity(unit: str, low: float, high: float, shown: str) -> BeforeValidator:
    """Reads an SI number of `unit` in [low, high]; `shown` is the allowed range in a user's words."""
    return _reader(unit, low, high, shown)


def quantity_or(word: str, unit: str, low: float, high: float, shown: str) -> BeforeValidator:
    """As `quantity`, but `word` (say "unknown") may stand for None."""
    return _reader(unit, low, high, f'{shown}, or "{word}"', word)


Side = Literal["port", "starboard"]
