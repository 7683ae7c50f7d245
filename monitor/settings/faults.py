"""A fault in a settings file, in words a person can act on: where, what is written, why not, what may be."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence, Sized
from dataclasses import dataclass
from datetime import date, time
from difflib import get_close_matches


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault. Texts are ready to read; "" means that there is nothing to say."""

    file: str
    key: str  # path of the key, entries counted from 1: 'lines[3] "H2".fairlead'; "" for the whole file
    value: str  # as it is written in the file
    problem: str
    allowed: str = ""
    nearest: str = ""  # the allowed name most like the one written
    line: int | None = None  # of the file, from 1

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}, line {self.line}"
        rows = [("written", self.value), ("problem", self.problem), ("allowed", self.allowed)]
        if self.nearest:
            rows.append(("nearest", self.nearest))
        head = f"{place}: {self.key}" if self.key else place
        return "\n".join([head, *(f"  {name}: {text}" for name, text in rows if text)])

    def about(self, other: Fault) -> bool:
        """Whether one is told of a part, or the whole, of what the other is told of."""
        short, long = sorted((self.key, other.key), key=len)
        return self.file == other.file and (long == short or long.startswith((f"{short}.", f"{short}[")))


def how_many(faults: Sized) -> str:
    """As "1 fault" or "8 faults"."""
    return "1 fault" if len(faults) == 1 else f"{len(faults)} faults"


class SettingsFault(ValueError):
    """Settings that cannot be used. `faults` holds all of them, not only the first."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n\n".join([f"{how_many(self.faults)} in the settings", *map(str, self.faults)]))


def nearest(word: object, names: Sequence[str]) -> str:
    """The one of `names` most like `word`, capitals not counting; "" when none is."""
    if not isinstance(word, str):
        return ""
    folded = {name.casefold(): name for name in names}
    close = get_close_matches(word.casefold(), list(folded), n=1, cutoff=0.5)  # so that S2 finds S1
    return folded[close[0]] if close else ""


def listed(names: Iterable[str]) -> str:
    """Names as a user reads them: in their order, commas between."""
    return ", ".join(names)


def written(value: object) -> str:
    """A TOML value as it stands in the file, shortened when long."""
    match value:
        case bool():
            return str(value).lower()
        case str():
            return json.dumps(value if len(value) <= 60 else value[:59] + "…", ensure_ascii=False)
        case list():
            return f"a list of {len(value)}"
        case dict():
            return "a table"
        case date() | time():
            return value.isoformat().replace("+00:00", "Z")
    return str(value)
