"""What can go wrong with the journal, in words."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final


class JournalError(Exception):
    """The journal cannot be used as asked. `held` events wait in memory and are tried again at the next flush."""

    def __init__(self, path: Path, why: str, held: int = 0) -> None:
        waiting = f"; {held} events wait in memory" if held else ""
        super().__init__(f"journal {path}: {why}{waiting}")
        self.path, self.why, self.held = path, why, held


class JournalFull(JournalError):
    """No room on the disk. What was committed is kept."""


class JournalInUse(JournalError):
    """Another program holds the journal."""


class JournalDamaged(JournalError):
    """The file is no journal of ours, or no longer whole. It is left as it is: see `open_journal`."""


_FAILURES: Final[dict[int, tuple[type[JournalError], str]]] = {
    sqlite3.SQLITE_FULL: (JournalFull, "no room on the disk"),
    sqlite3.SQLITE_BUSY: (JournalInUse, "another program holds it"),
    sqlite3.SQLITE_LOCKED: (JournalInUse, "another program holds it"),
    sqlite3.SQLITE_CANTOPEN: (JournalError, "cannot be opened or made"),
    sqlite3.SQLITE_READONLY: (JournalError, "may be read only"),
    sqlite3.SQLITE_CORRUPT: (JournalDamaged, "damaged"),
    sqlite3.SQLITE_NOTADB: (JournalDamaged, "damaged, or never a journal"),
    sqlite3.SQLITE_ERROR: (JournalDamaged, "damaged, or never a journal"),  # a table of ours is not there
}


@contextmanager
def told(path: Path, where: str = "", held: int = 0) -> Iterator[None]:
    """Turn SQLite's errors into ours; the engine's own words follow in brackets."""
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # the low byte: the rest tells the flavour
        kind, words = _FAILURES.get(code, (JournalError, "cannot be used"))
        raise kind(path, f"{words}{where} ({error})", held) from error
