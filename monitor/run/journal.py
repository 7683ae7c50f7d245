"""The journal: one append-only SQLite file of everything that came in and everything that was concluded.

Why write-ahead log with ``synchronous=FULL``: a kill of the program loses nothing committed in either mode, but
under NORMAL a power cut takes back every commit since the last checkpoint, which may be minutes; and a blackout
is just when the last minutes matter. FULL flushes the disk once a commit, and we commit once a second: cheap.

So a kill or a power cut loses at most what came since the last Beat, with that Beat: the last second.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Iterable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import count, islice, takewhile
from pathlib import Path
from types import TracebackType
from typing import Final, NamedTuple, Self

from monitor.records import codec
from monitor.records.events import Beat, Direction
from monitor.run.journal_errors import JournalDamaged as JournalDamaged
from monitor.run.journal_errors import JournalError as JournalError
from monitor.run.journal_errors import JournalFull as JournalFull
from monitor.run.journal_errors import JournalInUse as JournalInUse
from monitor.run.journal_errors import told

APPLICATION_ID: Final = 0x42494748  # "BIGH", in the header of the SQLite file
LAYOUT: Final = 1
COMMIT_EVERY_US: Final = 1_000_000
HELD_MOST: Final = 50_000  # events kept in memory while the disk refuses them: some 15 MB
_PAGE: Final = 1000  # events read or committed at a time
_BULK: Final = 10_000  # events copied at a time

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND: Final = timedelta(microseconds=1)
_FIRST_US: Final = -(2**63)  # SQLite's least and greatest whole numbers
_LAST_US: Final = 2**63 - 1

_COMMON: Final = ("RawReading", "Beat")  # all but a few in ten thousand
_RARE: Final = f"kind NOT IN {_COMMON}"
_LAYOUT_SQL: Final = f"""
PRAGMA application_id = {APPLICATION_ID};
PRAGMA user_version = {LAYOUT};
CREATE TABLE events (
    seq        INTEGER PRIMARY KEY,
    stamped_at INTEGER NOT NULL,
    direction  TEXT    NOT NULL CHECK (direction IN ('in', 'out')),
    kind       TEXT    NOT NULL,
    schema     INTEGER NOT NULL,
    body       TEXT    NOT NULL
);
CREATE INDEX events_by_time ON events (stamped_at);
CREATE INDEX events_rare ON events (seq, kind) WHERE {_RARE};
CREATE TRIGGER events_never_change BEFORE UPDATE ON events
    BEGIN SELECT RAISE(ABORT, 'the journal is append-only: no UPDATE'); END;
CREATE TRIGGER events_never_go BEFORE DELETE ON events
    BEGIN SELECT RAISE(ABORT, 'the journal is append-only: no DELETE'); END;
CREATE TRIGGER events_only_at_the_end BEFORE INSERT ON events WHEN NEW.seq <= (SELECT max(seq) FROM events)
    BEGIN SELECT RAISE(ABORT, 'the journal is append-only: a new event goes at the end'); END;
"""
_INSERT: Final = "INSERT INTO events VALUES (?, ?, ?, ?, ?, ?)"


class Entry(NamedTuple):  # no dataclass: a replay makes one of every event, and frozen ones are slow to make
    """One event as stored; the record is decoded only when asked for."""

    seq: int
    stamped_us: int  # microseconds since 1970, UTC
    direction: Direction
    kind: str
    schema: int
    body: str

    @classmethod
    def of(cls, seq: int, stamped_at: datetime, direction: Direction, record: codec.Record) -> Entry:
        """The entry of a record. `stamped_at` must be aware."""
        return cls(seq, to_us(stamped_at), direction, *_encoded(record))

    @property
    def stamped_at(self) -> datetime:
        """Aware UTC, exact to the microsecond."""
        return from_us(self.stamped_us)

    @property
    def record(self) -> codec.Record:
        """The decoded record. Raises ValueError (see `codec.decode`)."""
        return codec.decode(self.kind, self.body, self.schema)


_Row = tuple[int, int, Direction, str, int, str]


def _encoded(record: codec.Record) -> tuple[str, int, str]:
    kind, body = codec.encode(record)
    return kind, codec.SCHEMA, body


def to_us(at: datetime) -> int:
    """Microseconds since 1970 of an aware time. Raises TypeError for a naive one."""
    return (at - _EPOCH) // _MICROSECOND


def from_us(microseconds: int) -> datetime:
    """Inverse of `to_us`."""
    return _EPOCH + timedelta(0, 0, microseconds)


class JournalReader:
    """Reads a journal, also while a watch writes it: it sees what has been committed.

    Raises FileNotFoundError when it is not there, JournalDamaged when it is not a whole journal of ours.
    """

    def __init__(self, path: Path) -> None:
        if not path.is_file():
            raise FileNotFoundError(f"there is no journal {path}")
        self.path = path
        self._db = self._opened("ro")

    def read(
        self,
        begins: datetime | None = None,
        ends: datetime | None = None,
        direction: Direction | None = None,
        kinds: Collection[str] = (),
    ) -> Iterator[Entry]:
        """Events stamped in [begins, ends), in the order they were journalled, a page in memory at a time.

        `kinds` keeps events of these kinds only (none: all); rare kinds are found without a walk through the rest.
        Raises JournalDamaged at the first page that cannot be read, naming the last event that could.
        """
        low_us = to_us(begins) if begins else _FIRST_US
        high_us = to_us(ends) if ends else _LAST_US
        # Always by number: to sort what the index by time finds would fill memory.
        walk, only = "NOT INDEXED", ""
        if kinds:
            only = f"AND kind IN ({', '.join('?' * len(kinds))})"
            if not set(kinds) & set(_COMMON):
                walk, only = "INDEXED BY events_rare", f"AND {_RARE} {only}"
        page = (
            f"SELECT * FROM events {walk} WHERE seq > ? AND seq <= ? AND stamped_at >= ? AND stamped_at < ?"
            f" AND direction IN (?, ?) {only} ORDER BY seq LIMIT {_PAGE}"
        )
        fixed = (low_us, high_us, direction or "in", direction or "out", *kinds)
        seq, last_seq = self._span(low_us, high_us)
        while seq < last_seq:
            with told(self.path, f" after event {seq}"):
                rows = self._db.execute(page, (seq, last_seq, *fixed)).fetchall()
            for row in rows:
                yield Entry._make(row)
            seq = rows[-1][0] if len(rows) == _PAGE else last_seq

    def _span(self, low_us: int, high_us: int) -> tuple[int, int]:
        """Numbers just before the first and of the last event stamped within (time may step back, numbers not)."""
        with told(self.path):
            first, last = self._db.execute(
                "SELECT min(seq), max(seq) FROM events WHERE stamped_at >= ? AND stamped_at < ?", (low_us, high_us)
            ).fetchone()
        return (0, 0) if first is None else (first - 1, last)

    def settings_before(self, seq: int) -> Entry | None:
        """The settings snapshot in force just before an event; None when there was none."""
        return self._one(f"WHERE {_RARE} AND kind = 'SettingsSnapshot' AND seq < ?", seq)

    def last_alive_at(self) -> datetime | None:
        """Stamp of the newest event; None for an empty journal."""
        newest = self._newest()
        return newest.stamped_at if newest else None

    def watched_until(self) -> datetime | None:
        """When a watch last ran long enough to tell anything: one that died before its first tick told nobody of
        the gap before it. None when there was none yet."""
        start = self._one(f"WHERE {_RARE} AND kind = 'Started'")
        if start is None or self._one("WHERE direction = 'out' AND seq > ?", start.seq):
            return self.last_alive_at()
        return start.record.last_alive_at or start.stamped_at  # type: ignore[union-attr]

    def faults(self) -> list[str]:
        """What is wrong anywhere in the file, in SQLite's words, at most 100; none when whole. Reads it all."""
        found: list[str] = []
        try:
            with told(self.path):
                found += (str(fault) for (fault,) in self._db.execute("PRAGMA integrity_check(100)"))
        except JournalDamaged as damage:  # so broken that the check itself stumbles
            found.append(damage.why)
        return [] if found == ["ok"] else found

    def close(self) -> None:
        """Let go of the file."""
        self._db.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _newest(self) -> Entry | None:
        return self._one("")

    def _one(self, where: str, *values: int) -> Entry | None:
        with told(self.path):
            row = self._db.execute(f"SELECT * FROM events {where} ORDER BY seq DESC LIMIT 1", values).fetchone()
        return Entry._make(row) if row else None

    def _opened(self, mode: str) -> sqlite3.Connection:
        """A connection to a file that shows no cheap sign of damage (`faults` reads it all)."""
        with told(self.path):
            db = sqlite3.connect(
                f"{self.path.resolve().as_uri()}?mode={mode}",
                uri=True,
                isolation_level=None,
                timeout=0.5,  # seconds: somebody who looks into the file may not hold up the watch
                check_same_thread=False,  # made in one thread, used in another, never in two at a time
            )
        try:
            with told(self.path):
                if mode != "ro" and not db.execute("SELECT 1 FROM sqlite_master").fetchone():
                    db.execute("PRAGMA journal_mode = WAL")
                    db.executescript(f"BEGIN; {_LAYOUT_SQL} COMMIT;")
                (application_id,) = db.execute("PRAGMA application_id").fetchone()
                (layout,) = db.execute("PRAGMA user_version").fetchone()
                if application_id != APPLICATION_ID:
                    raise JournalDamaged(self.path, "not a journal of this program")
                if layout > LAYOUT:
                    raise JournalDamaged(self.path, f"layout {layout}: a newer program's; this one knows {LAYOUT}")
                for order in ("ASC", "DESC"):
                    db.execute(f"SELECT * FROM events ORDER BY seq {order} LIMIT {_PAGE}").fetchall()
        except BaseException:
            db.close()
            raise
        return db


class Journal(JournalReader):
    """Opens a journal for writing, or makes it. One program at a time, and one thread of it at a time.

    Raises JournalInUse when another holds it, JournalDamaged when the file is not a whole journal of ours.
    `moved_on` tells, when this file stands in for a damaged one; else it is "".
    """

    def __init__(self, path: Path, *, follows: Path | None = None, first_seq: int = 1) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        self.path = path
        self._first_path = follows or path
        self._pending: list[_Row] = []
        self._tried_us = _FIRST_US
        self._trouble: JournalError | None = None  # why the last commit failed
        self._lock = _locked(path)
        try:
            self._db = self._opened("rwc")
        except BaseException:
            self._lock.close()
            raise
        self._db.execute("PRAGMA synchronous = FULL")
        newest = self._newest()
        self._next_seq = newest.seq + 1 if newest else first_seq

    @property
    def moved_on(self) -> str:
        """For people: which damaged file was left as it is, and which goes on in its place."""
        if self.path == self._first_path:
            return ""
        return (
            f"{self._first_path.name} is damaged; it is left as it is, and {self.path.name} goes on in its place"
        )

    def append(self, stamped_at: datetime, direction: Direction, record: codec.Record) -> int:
        """Take one event and give its number. A Beat, or an input a second after the last commit, first commits
        all that came before it: so no commit parts an input from what was concluded of it.

        Raises JournalError (JournalFull and its kin) for as long as commits fail. The events wait in memory, this
        one too, and are tried again once a second; when HELD_MOST wait, new ones are lost.
        """
        stamped_us = to_us(stamped_at)
        late = not 0 <= stamped_us - self._tried_us < COMMIT_EVERY_US
        due = direction == "in" and (late or type(record) is Beat)
        if due:
            self._tried_us = stamped_us
        try:
            self._flush_or_fail(due)
        finally:
            seq = self._next_seq
            if len(self._pending) < HELD_MOST:
                self._pending.append((seq, stamped_us, direction, *_encoded(record)))
                self._next_seq += 1
        return seq

    def extend(self, entries: Iterable[Entry]) -> int:
        """Copy entries as they are, under numbers of this journal; how many. For bringing in a recording."""
        self.flush()
        before, each = self._next_seq, iter(entries)
        while page := list(islice(each, _BULK)):
            self._commit(
                [
                    (seq, e.stamped_us, e.direction, e.kind, e.schema, e.body)
                    for seq, e in enumerate(page, self._next_seq)
                ]
            )
            self._next_seq += len(page)
        return self._next_seq - before

    def flush(self) -> None:
        """Commit all that waits. Raises JournalError; what could not be committed goes on waiting."""
        while self._pending:  # by the page, so that a full disk says so soon, however much waits
            self._commit(self._pending[:_PAGE])
            del self._pending[:_PAGE]

    def read(
        self,
        begins: datetime | None = None,
        ends: datetime | None = None,
        direction: Direction | None = None,
        kinds: Collection[str] = (),
    ) -> Iterator[Entry]:
        """As JournalReader.read, with what waits committed first."""
        self.flush()
        return super().read(begins, ends, direction, kinds)

    def last_alive_at(self) -> datetime | None:
        """Stamp of the newest event, committed or not; None for an empty journal."""
        return from_us(self._pending[-1][1]) if self._pending else super().last_alive_at()

    def beside(self) -> Journal:
        """Leave this damaged file as it is; go on in a fresh one beside it, with what waits and the same count."""
        pending, self._pending = self._pending, []
        self.close()
        fresh = next(path for path in _names(self._first_path) if not path.exists())
        journal = Journal(fresh, follows=self._first_path, first_seq=pending[0][0] if pending else self._next_seq)
        journal._pending, journal._next_seq = pending, self._next_seq
        return journal

    def close(self) -> None:
        """Commit what waits and let go of the file. Raises JournalError when what waits is lost with it."""
        try:
            self.flush()
        finally:
            self._db.close()
            self._lock.close()

    def _flush_or_fail(self, due: bool) -> None:
        """Try when it is time to; else fail as the last try did."""
        if due:
            self.flush()
        elif self._trouble is not None:
            raise type(self._trouble)(self.path, self._trouble.why, len(self._pending))

    def _commit(self, rows: list[_Row]) -> None:
        try:
            with told(self.path, held=len(self._pending)), self._db:  # the connection commits or rolls back
                self._db.execute("BEGIN IMMEDIATE")
                self._db.executemany(_INSERT, rows)
        except JournalError as trouble:
            self._trouble = trouble
            raise
        self._trouble = None


def open_journal(path: Path) -> Journal:
    """The journal to write: `path`, or the newest of its followers; a damaged one is left and followed by a fresh.

    Followers of ``watch.db`` are ``watch-2.db``, ``watch-3.db`` … See `Journal.moved_on`. Raises JournalInUse.
    """
    *_, newest = path, *takewhile(Path.exists, _names(path))
    try:
        return Journal(newest, follows=path)
    except JournalDamaged:
        fresh = next(name for name in _names(path) if not name.exists())
        return Journal(fresh, follows=path)


def _names(path: Path) -> Iterator[Path]:
    """A journal's own name and those of its followers, without end."""
    yield path
    for number in count(2):
        yield path.with_stem(f"{path.stem}-{number}")


def _locked(path: Path) -> sqlite3.Connection:
    """Hold an empty SQLite file beside the journal: a lock on every system, gone with the process.

    A lock on the journal itself would shut out its readers too.
    """
    beside = path.with_name(f"{path.name}.lock")
    with told(path):
        lock = sqlite3.connect(beside, isolation_level=None, timeout=0, check_same_thread=False)
    try:
        with told(path):
            lock.execute("BEGIN EXCLUSIVE")
    except BaseException:
        lock.close()
        raise
    return lock
