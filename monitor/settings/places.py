"""At which line of a TOML file each key stands.

The standard reader does not tell; a person looking for the forty-first bollard wants to know. The text must
already have been read as valid TOML: this goes over it a second time for the places alone.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from collections.abc import Mapping
from functools import lru_cache

Path = tuple[str | int, ...]  # from the root of the file: names of tables and keys, and places in lists from 0

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"""(?:"{0,2})' + r"|'''.*?'''(?:'{0,2})" + r'|"(?:\\.|[^"\\])*"' + r"|'[^']*'", re.DOTALL
)
BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_PLAIN = re.compile(r"[^,\]}\n#]+")  # a number, a truth value, a date


@lru_cache(maxsize=8)
def lines_of(text: str) -> Mapping[Path, int]:
    """Line (from 1) of every key, table and list entry of a valid TOML text."""
    return _Places(text).lines


class _Places:
    def __init__(self, text: str) -> None:
        self.text, self.at = text, 0
        self.lines: dict[Path, int] = {}
        self._ends = [match.end() for match in re.finditer("\n", text)]
        self._entries: dict[Path, int] = {}  # of each list of tables: how many so far
        table: Path = ()
        while self._next():
            if self._take("[["):
                *parents, name = self._key()
                base = (*self._open(parents), name)
                table = (*base, self._entries.get(base, 0))
                self._entries[base] = table[-1] + 1  # type: ignore[operator]
                self._mark(table, len(base) - 1)
                self._take("]]")
            elif self._take("["):
                table = self._open(self._key())
                self._mark(table)
                self._take("]")
            else:
                self._pair(table)

    def _open(self, names: list[str]) -> Path:
        """The path of a header's table: a list of tables stands for its last entry."""
        path: Path = ()
        for name in names:
            path = (*path, name)
            if path in self._entries:
                path = (*path, self._entries[path] - 1)
        return path

    def _mark(self, path: Path, already: int = 0, at: int | None = None) -> None:
        line = bisect_right(self._ends, self.at if at is None else at) + 1
        for length in range(already + 1, len(path) + 1):
            self.lines.setdefault(path[:length], line)

    def _next(self) -> str:
        """The character after blanks and comments, "" at the end."""
        self._skip(_BLANK)
        return self.text[self.at : self.at + 1]

    def _skip(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None:
            raise ValueError(f"not TOML at character {self.at}")
        self.at = match.end()
        return match.group()

    def _take(self, token: str) -> bool:
        self._next()
        found = self.text.startswith(token, self.at)
        self.at += len(token) if found else 0
        return found

    def _key(self) -> list[str]:
        names = []
        while True:
            quoted = self._next() in ('"', "'")
            token = self._skip(_STRING if quoted else BARE_KEY)
            names.append(tomllib.loads(f"key = {token}")["key"] if quoted else token)
            if not self._take("."):
                return names

    def _pair(self, table: Path) -> None:
        self._next()
        start = self.at
        path = (*table, *self._key())
        self._mark(path, len(table), start)
        self._take("=")
        self._value(path)

    def _value(self, path: Path) -> None:
        first = self._next()
        if self._take("["):
            entry = 0
            while not self._take("]"):
                self._mark((*path, entry), len(path), self.at)
                self._value((*path, entry))
                self._take(",")
                entry += 1
        elif self._take("{"):
            while not self._take("}"):
                self._pair(path)
                self._take(",")
        else:
            self._skip(_STRING if first in ('"', "'") else _PLAIN)
