"""The journal against SIGKILL, a full disk, damaged files, a second program, and SQLite's own tools."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
import tracemalloc
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.records.events import Beat, RawReading, SettingsSnapshot, Started
from monitor.run import journal as journal_module
from monitor.run.journal import (
    Entry,
    Journal,
    JournalDamaged,
    JournalError,
    JournalFull,
    JournalInUse,
    JournalReader,
    open_journal,
)

ROOT = Path(__file__).resolve().parent.parent
T0 = datetime(2026, 3, 14, 6, 0, tzinfo=UTC)
STEP = timedelta(milliseconds=10)

# Appends events 10 ms of stamps apart, a Beat each hundredth, as fast as it can, and tells each number once taken.
WRITER = """
import os, sys
from datetime import datetime, timedelta
from pathlib import Path
from monitor.records.events import Beat, RawReading
from monitor.run.journal import Journal
journal = Journal(Path(sys.argv[1]))
t0 = datetime.fromisoformat(sys.argv[2])
newest = journal._newest()
seq = newest.seq if newest else 0
while True:
    seq += 1
    record = Beat() if seq % 100 == 0 else RawReading("feed", f"line {seq}")
    assert journal.append(t0 + seq * timedelta(milliseconds=10), "in", record) == seq
    os.write(1, f"{seq}\\n".encode())
"""


def writer(path: Path) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path), T0.isoformat()], stdout=subprocess.PIPE, cwd=ROOT
    )


def kill(process: subprocess.Popen[bytes]) -> int:
    """End it as a crash would; the last number it told since it was last listened to, 0 for none."""
    assert process.stdout is not None
    process.send_signal(signal.SIGKILL)
    *told, _ = (b"0\n" + process.stdout.read()).split(b"\n")  # a line without its end was not told
    process.stdout.close()
    process.wait()
    return int(told[-1])


def readings(count: int, first: int = 1) -> Iterator[Entry]:
    for seq in range(first, first + count):
        yield Entry.of(seq, T0 + seq * STEP, "in", RawReading("feed", f"line {seq}"))


def filled(path: Path, count: int = 5000) -> Path:
    with Journal(path) as journal:
        assert journal.extend(readings(count)) == count
    return path


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL")
def test_kill_at_any_instant_loses_less_than_a_second(tmp_path: Path) -> None:
    path, dice = tmp_path / "watch.db", random.Random(7)
    for _ in range(4):
        process = writer(path)
        assert process.stdout is not None
        first = int(process.stdout.readline())
        time.sleep(dice.uniform(0.0, 0.3))
        told = max(first, kill(process))
        with closing(JournalReader(path)) as journal:
            stored = list(journal.read())
        assert journal_module.from_us(stored[-1].stamped_us) > T0 + told * STEP - timedelta(seconds=1) - STEP
        assert stored[-1].seq >= told // 100 * 100 - 1  # all before a Beat that was taken is on the disk
        for seq, entry in enumerate(stored, 1):  # and all before it, whole and in order, over all the kills
            record = Beat() if seq % 100 == 0 else RawReading("feed", f"line {seq}")
            assert entry == Entry.of(seq, T0 + seq * STEP, "in", record)
    with Journal(path) as journal:
        assert journal.faults() == []
        assert journal.last_alive_at() == stored[-1].stamped_at


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL")
def test_second_program_is_turned_away_and_a_reader_is_not(tmp_path: Path) -> None:
    path = tmp_path / "watch.db"
    process = writer(path)
    try:
        assert process.stdout is not None
        while int(process.stdout.readline()) < 350:
            pass
        with pytest.raises(JournalInUse, match=r"watch\.db: another program holds it"):
            Journal(path)
        with pytest.raises(JournalInUse):
            open_journal(path)
        with closing(JournalReader(path)) as reader:
            assert [entry.seq for entry in reader.read()][:200] == list(range(1, 201))
    finally:
        kill(process)
    Journal(path).close()  # the lock went with the process


def test_two_writers_in_one_process(tmp_path: Path) -> None:
    with Journal(tmp_path / "watch.db"), pytest.raises(JournalInUse):
        Journal(tmp_path / "watch.db")


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE events SET body = '{}' WHERE seq = 3",
        "DELETE FROM events WHERE seq = 3",
        "INSERT OR REPLACE INTO events VALUES (3, 0, 'in', 'Beat', 1, '{}')",
        "INSERT INTO events VALUES (-1, 0, 'in', 'Beat', 1, '{}')",
    ],
)
def test_sqlite_itself_refuses_to_change_the_past(tmp_path: Path, statement: str) -> None:
    path = filled(tmp_path / "watch.db", 5)
    with closing(sqlite3.connect(path)) as db, pytest.raises(sqlite3.IntegrityError, match="append-only"):
        db.execute(statement)
    with closing(JournalReader(path)) as journal:
        assert list(journal.read()) == list(readings(5))


def test_a_power_cut_loses_no_commit_either(tmp_path: Path) -> None:
    """SQLite documentation, "PRAGMA synchronous": in WAL mode only FULL (2) is durable over a power loss."""
    with Journal(tmp_path / "watch.db") as journal:
        assert journal._db.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert journal._db.execute("PRAGMA synchronous").fetchone() == (2,)


def test_full_disk_keeps_what_is_there_and_goes_on_when_there_is_room(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "watch.db")
    committed = journal.extend(readings(2000))
    pages = journal._db.execute("PRAGMA page_count").fetchone()[0]
    journal._db.execute(f"PRAGMA max_page_count = {pages + 1}")
    refused = 0
    for entry in readings(3000, first=2001):
        try:
            assert journal.append(entry.stamped_at, "in", entry.record) == entry.seq
        except JournalFull as full:
            refused += 1
            assert "no room on the disk" in str(full) and f"{full.held} events wait in memory" in str(full)
    assert refused > 2000  # it does not fall silent between two tries
    with closing(JournalReader(journal.path)) as reader:
        kept = list(reader.read())
    assert len(kept) >= committed and kept == list(readings(len(kept)))
    journal._db.execute("PRAGMA max_page_count = 1000000")
    journal.flush()
    assert list(journal.read()) == list(readings(5000))
    journal.close()


def test_full_disk_does_not_fill_the_memory(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(journal_module, "HELD_MOST", 20)
    journal = Journal(tmp_path / "watch.db")
    pages = journal._db.execute("PRAGMA page_count").fetchone()[0]
    journal._db.execute(f"PRAGMA max_page_count = {pages}")
    long = RawReading("feed", "x" * 5000)
    journal.append(T0 - timedelta(seconds=1), "in", long)
    for second in range(40):
        with pytest.raises(JournalFull):
            journal.append(T0 + timedelta(seconds=second), "in", long)
    journal._db.execute("PRAGMA max_page_count = 1000000")
    journal.append(T0 + timedelta(seconds=40), "in", Beat())
    stored = list(journal.read())
    assert [entry.seq for entry in stored] == list(range(1, 22))
    assert stored[-1].record == Beat()
    journal.close()


def broken_header(data: bytearray) -> None:
    data[:16] = b"not SQLite at all"[:16]


def broken_root(data: bytearray) -> None:
    data[100:4096] = os.urandom(3996)


def cut_in_half(data: bytearray) -> None:
    del data[len(data) // 2 :]


def another_program(data: bytearray) -> None:
    data[68:72] = b"\0\0\0\1"  # the application id of the SQLite header


def newer_layout(data: bytearray) -> None:
    data[60:64] = b"\0\0\0\x63"  # its user version


@pytest.mark.parametrize("harm", [broken_header, broken_root, cut_in_half, another_program, newer_layout])
def test_damaged_file_is_told_left_alone_and_followed(tmp_path: Path, harm: object) -> None:
    path = filled(tmp_path / "watch.db")
    data = bytearray(path.read_bytes())
    harm(data)  # type: ignore[operator]
    path.write_bytes(data)
    for opened in (JournalReader, Journal):
        with pytest.raises(JournalDamaged, match=r"watch\.db: "):
            opened(path)
    for run in (1, 2):  # the second start goes on in the same follower
        with open_journal(path) as journal:
            assert journal.path == tmp_path / "watch-2.db"
            assert (
                journal.moved_on == "watch.db is damaged; it is left as it is, and watch-2.db goes on in its place"
            )
            assert journal.append(T0, "in", Beat()) == run
    assert path.read_bytes() == bytes(data)
    (tmp_path / "watch-2.db").write_bytes(b"x" * 9000)
    with open_journal(path) as journal:
        assert journal.path == tmp_path / "watch-3.db"


def test_damage_in_the_middle_is_found_where_it_lies(tmp_path: Path) -> None:
    path = filled(tmp_path / "watch.db", 20_000)
    data = bytearray(path.read_bytes())
    page = data.index(b"line 9999") // 4096
    data[page * 4096 : page * 4096 + 200] = os.urandom(200)
    path.write_bytes(data)
    with closing(JournalReader(path)) as reader:
        assert reader.faults()
        seen = []
        with pytest.raises(JournalDamaged, match=r"damaged after event 9000 \("):
            for entry in reader.read():
                seen.append(entry.seq)
        assert seen == list(range(1, 9001))


def test_damage_while_writing_moves_on_with_nothing_lost(tmp_path: Path) -> None:
    path = filled(tmp_path / "watch.db", 2000)
    journal = Journal(path)
    with closing(sqlite3.connect(path)) as db:  # what a failing disk might do
        db.execute("DROP TABLE events")
    journal.append(T0, "in", Beat())
    with pytest.raises(JournalDamaged):
        journal.append(T0 + STEP, "in", Beat())
    fresh = journal.beside()
    assert fresh.path == tmp_path / "watch-2.db" and "watch.db is damaged" in fresh.moved_on
    fresh.append(T0 + 2 * STEP, "in", Started("0"))
    kinds = [(entry.seq, entry.kind) for entry in fresh.read()]
    assert kinds == [(2001, "Beat"), (2002, "Beat"), (2003, "Started")]
    fresh.close()


def test_a_start_cut_off_before_the_layout_was_written(tmp_path: Path) -> None:
    path = tmp_path / "watch.db"
    with closing(sqlite3.connect(path)) as db:
        db.execute("PRAGMA journal_mode = WAL")
    with Journal(path) as journal:
        assert journal.append(T0, "in", Beat()) == 1


def test_reader_of_no_journal(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError, match="there is no journal"):
        JournalReader(tmp_path / "watch.db")
    assert not list(tmp_path.iterdir())


def test_reading_by_time_direction_and_kind_while_time_steps_back(tmp_path: Path) -> None:
    with Journal(tmp_path / "watch.db") as journal:
        for seq, second in enumerate([0, 10, 20, 5, 15, 25], 1):
            journal.append(T0 + timedelta(seconds=second), "in" if seq % 2 else "out", Started(str(seq)))
        journal.append(T0 + timedelta(seconds=30), "in", Beat())

        def seqs(*args: object, **kw: object) -> list[int]:
            return [entry.seq for entry in journal.read(*args, **kw)]  # type: ignore[arg-type]

        assert seqs() == [1, 2, 3, 4, 5, 6, 7]
        assert seqs(T0 + timedelta(seconds=5), T0 + timedelta(seconds=20)) == [2, 4, 5]  # [begins, ends)
        assert seqs(direction="out") == [2, 4, 6]
        assert seqs(T0 + timedelta(seconds=10), direction="in") == [3, 5, 7]
        assert seqs(kinds=("Started",)) == [1, 2, 3, 4, 5, 6]
        assert seqs(kinds=("Beat", "Started"), direction="in") == [1, 3, 5, 7]
        assert seqs(kinds=("Notice",)) == []
        with pytest.raises(TypeError):
            journal.append(datetime(2026, 3, 14), "in", Beat())  # noqa: DTZ001


def test_settings_in_force(tmp_path: Path) -> None:
    def snapshot(stay: str) -> SettingsSnapshot:
        return SettingsSnapshot((("stays/a.toml", "x = 1\r\n"),), stay, "0")

    with Journal(tmp_path / "watch.db") as journal:
        for record in (Beat(), snapshot("a"), Beat(), snapshot("b"), Beat()):
            journal.append(T0, "in", record)
        found = [journal.settings_before(seq) for seq in range(1, 7)]
    stays = [entry.record.stay if entry else None for entry in found]  # type: ignore[union-attr]
    assert stays == [None, None, "a", "a", "b", "b"]


def test_long_journal_is_read_in_little_memory(tmp_path: Path) -> None:
    with Journal(tmp_path / "watch.db") as journal:
        journal.extend(readings(30_000))
        tracemalloc.start()
        assert sum(1 for _ in journal.read()) == 30_000
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
    assert peak < 3e6  # bytes; all entries at once take some 15 MB


@given(
    st.text(st.characters(max_codepoint=255)),
    st.datetimes(datetime(1971, 1, 1), datetime(2200, 1, 1), timezones=st.just(UTC)),  # noqa: DTZ001
)
def test_every_byte_and_microsecond_survives(text: str, at: datetime) -> None:
    entry = Entry.of(1, at, "in", RawReading("feed", text))
    with closing(sqlite3.connect(":memory:")) as db:
        row = db.execute("SELECT ?, ?", (entry.body, entry.stamped_us)).fetchone()
    assert Entry(1, row[1], "in", "RawReading", 1, row[0]).record == RawReading("feed", text)
    assert journal_module.from_us(row[1]) == at


def test_errors_are_one_family() -> None:
    assert all(issubclass(kind, JournalError) for kind in (JournalFull, JournalInUse, JournalDamaged))
