"""What is remembered under stamps of a clock that has since been set, and what bears stamps of another clock."""

from __future__ import annotations

from collections import deque
from dataclasses import fields, is_dataclass, replace
from datetime import datetime, timedelta
from typing import Any, Final, TypeVar

OWN_TIME: Final = timedelta(seconds=60)  # what was observed further from its arrival brought a time of its own

Value = TypeVar("Value")


def moved(value: Value, by: timedelta) -> Value:
    """The same value with every time in it moved, in dataclasses, named tuples and containers, at any depth."""
    each: Any = value
    match each:
        case datetime():
            each = each + by
        case deque():
            each = deque((moved(item, by) for item in each), each.maxlen)
        case tuple() | list():
            made = getattr(each, "_make", type(each))  # a named tuple takes its values one by one
            each = made(moved(item, by) for item in each)
        case dict():
            each = {key: moved(item, by) for key, item in each.items()}
        case _ if is_dataclass(each) and not isinstance(each, type):
            known = {f.name: getattr(each, f.name) for f in fields(each) if f.init}
            each = replace(each, **{name: moved(item, by) for name, item in known.items()})
    told: Value = each
    return told
