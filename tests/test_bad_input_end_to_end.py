"""What is broken outside, from a cut recording to a full disk: it is told in plain words, the watch goes on, and
nothing already recorded is lost."""

from __future__ import annotations

import gzip
import sqlite3
import warnings
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from monitor.__main__ import main
from monitor.records.events import Action, OperatorAction, Priority, Reason, SourceStatus, Stopped
from monitor.run.journal import Journal, JournalReader
from monitor.run.journal_errors import JournalFull
from monitor.run.recording import RecordingCut, open_recording, write_recording
from tests.watching import PC, Told, free_port, http_service, replayed, settings_folder, stretch, watching

BEGIN = datetime.fromisoformat("2026-03-14T12:00:00+00:00")
STEP = timedelta(seconds=1)


@pytest.fixture
def pc(monkeypatch: pytest.MonkeyPatch) -> PC:
    pc = PC(BEGIN, 40.0)
    pc.install(monkeypatch)
    return pc


@pytest.fixture
def unheard(config: Path, tmp_path: Path) -> Path:
    """Settings whose feeds nobody serves."""
    feeds = {"ais": f"127.0.0.1:{free_port()}", "forecast": f"http://127.0.0.1:{free_port()}/compact"}
    return settings_folder(config, tmp_path / "config", feeds)


def note(text: str) -> OperatorAction:
    return OperatorAction("AB", Action.NOTE, text)


def notes(path: Path) -> list[str]:
    with JournalReader(path) as reader:
        actions = [entry.record for entry in reader.read(kinds=("OperatorAction",))]
    return [action.subject for action in actions if isinstance(action, OperatorAction)]


# --- recordings -------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def whole(config: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two minutes of the invented day with their conclusions."""
    folder = tmp_path_factory.mktemp("whole") / "recording"
    write_recording(
        folder, stretch(config, 110.5, 114.0, {1}), name="two minutes", invented=True, holds="a silence"
    )
    assert main(["replay", str(folder), "--keep", "--brief"]) == 0
    return folder


@pytest.mark.parametrize("share", [0.93, 0.96])  # the settings stand first and take most of it
@pytest.mark.parametrize("name", ["in.jsonl.gz", "out.jsonl.gz"])
def test_a_cut_recording_plays_what_is_whole(
    whole: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, name: str,
    share: float,
) -> None:  # fmt: skip
    """A copy that broke off: the first whole events are played, the cut is told, and the exit code is not 0."""
    monkeypatch.setenv("COLUMNS", "300")
    folder = tmp_path / "cut"
    folder.mkdir()
    for path in (path for path in whole.iterdir() if path.is_file()):
        (folder / path.name).write_bytes(path.read_bytes())
    data = (whole / name).read_bytes()
    (folder / name).write_bytes(data[: int(share * len(data))])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RecordingCut)
        code = main(["replay", str(folder), "--brief"])
        with open_recording(folder) as cut, open_recording(whole) as full:
            kept, complete = list(cut.inputs()), list(full.inputs())
    said = " ".join(capsys.readouterr().out.split())
    assert code == 1
    assert f"NOT WHOLE: recording cut: '{name.partition('.')[0]}' events cut after event" in said
    assert "The same as recorded" not in said
    assert len(kept) > 0 and kept == complete[: len(kept)]
    if name.startswith("in"):
        assert len(kept) < len(complete)


def test_a_recording_of_nothing_but_rubbish(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], whole: Path
) -> None:
    folder = tmp_path / "rubbish"
    folder.mkdir()
    for path in (path for path in whole.iterdir() if path.is_file()):
        (folder / path.name).write_bytes(path.read_bytes())
    (folder / "in.jsonl.gz").write_bytes(gzip.compress(b"\x00\xff not an event\n" * 10))
    with pytest.warns(RecordingCut, match="before its first event"):
        assert main(["replay", str(folder)]) == 2
    assert "holds no settings" in capsys.readouterr().err


# --- feeds ------------------------------------------------------------------------------------------------------


def test_feeds_that_cannot_be_opened(config: Path, tmp_path: Path, pc: PC) -> None:
    """A serial port that is not there, a refused TCP port, a met service that answers 200 with an error: each an
    alert with its reason; entries still count."""
    told, journal = Told(), tmp_path / "watch.journal"
    port = free_port()
    with http_service(lambda: (200, b'{"error": "no data for this place"}')) as met:
        settings = settings_folder(
            config,
            tmp_path / "config",
            {"ais": f"127.0.0.1:{port}", "forecast": met},
            **{
                "tavrin-lark-at-sedge-quay-2": (
                    'over = "udp"\nto = "127.0.0.1:20111"',
                    'over = "serial"\nto = "/dev/no-such-port"\nbaud = 4800',
                )
            },
        )
        with watching(settings, journal, [told]) as (watch, _):
            pc.until(lambda: len({notice.alert for notice in told.notices}) >= 3)
            watch.emit(OperatorAction("AB", Action.WIND, "", (("mean_m_s", 12.0), ("from_direction_deg", 310.0))))
            pipeline = watch.session.pipeline
            assert pipeline is not None
            pc.until(lambda: pipeline.estimate is not None and pipeline.estimate.wind.source == "entered")
            assert set(pipeline.dark) == {"ais", "anemometer", "forecast"}
    first = {notice.alert: notice for notice in reversed(told.notices)}
    assert first["feed:ais"].do.startswith("PASSING SHIPS ARE NOT WATCHED.")
    assert first["feed:ais"].why == f"connection refused by 127.0.0.1:{port}"
    assert first["feed:anemometer"].do.startswith("WIND IS NOT MEASURED.")
    assert first["feed:anemometer"].why == "there is no serial port /dev/no-such-port"
    assert first["feed:forecast"].do.startswith("NO FRESH FORECAST.")
    assert first["feed:forecast"].why == "error told with a good status: no data for this place"
    assert all(first[f"feed:{name}"].priority is Priority.WARNING for name in ("ais", "anemometer", "forecast"))
    with JournalReader(journal) as reader:
        statuses = [entry.record for entry in reader.read(kinds=("SourceStatus",))]
    assert len(statuses) == 3  # once each, however often it is tried
    assert not any(isinstance(status, SourceStatus) and status.up for status in statuses)
    assert replayed(journal)[1].differences == []


# --- the journal ------------------------------------------------------------------------------------------------


def test_a_full_disk(unheard: Path, tmp_path: Path, pc: PC, monkeypatch: pytest.MonkeyPatch) -> None:
    """Told once when it is full and once when it takes data again; the watch and its alerts go on meanwhile."""
    told, path = Told(), tmp_path / "watch.journal"
    append, full = Journal.append, False

    def or_full(journal: Journal, *arguments: object) -> int:
        if full:
            raise JournalFull(journal.path, "no room on the disk")
        return append(journal, *arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(Journal, "append", or_full)
    with watching(unheard, path, [told]) as (watch, _):
        watch.emit(note("before"))
        pc.until(lambda: "before" in notes(path))
        full = True
        pc.until(lambda: bool(told.of("journal")))
        watch.emit(note("while full"))
        watch.emit(OperatorAction("AB", Action.LINE, "head line 1", (("state", "parted"),)))
        pc.until(lambda: bool(told.of("line:head line 1")))
        pc.until(BEGIN + 40 * STEP)
        assert [notice.reason for notice in told.of("journal")] == [Reason.RAISED]
        full = False
        pc.until(lambda: len(told.of("journal")) == 2)
        watch.emit(note("after"))
        pc.until(lambda: "after" in notes(path))
    raised, rectified = told.of("journal")
    assert "NOTHING IS BEING RECORDED" in raised.do and "no room on the disk" in raised.what
    assert rectified.reason is Reason.RECTIFIED and "takes data again" in rectified.what
    assert [text for text in notes(path) if text != "head line 1"] == ["before", "after"]
    with JournalReader(path) as reader:
        assert isinstance(list(reader.read())[-1].record, Stopped)


def test_a_truly_full_file_keeps_what_waits(unheard: Path, tmp_path: Path, pc: PC) -> None:
    """SQLite itself finds no page: what comes meanwhile waits in memory and is there in the end, in order."""
    told, path = Told(), tmp_path / "watch.journal"
    store = Journal(path)
    with watching(unheard, store, [told]) as (watch, _):
        pc.until(BEGIN + 10 * STEP)
        store._db.execute("PRAGMA max_page_count = 1")  # the engine takes the present size for the least
        for number in range(200):
            watch.emit(note(f"{number} " + "x" * 500))
        pc.until(lambda: bool(told.of("journal")))
        store._db.execute("PRAGMA max_page_count = 1000000")
        pc.until(lambda: len(told.of("journal")) == 2)
    assert [int(text.split()[0]) for text in notes(path)] == list(range(200))
    assert replayed(path)[1].differences == []


def test_a_journal_damaged_under_way(unheard: Path, tmp_path: Path, pc: PC) -> None:
    """The damaged file is left as it is, a fresh one goes on beside it, and people are told of both."""
    told, path = Told(), tmp_path / "watch.journal"
    with watching(unheard, path, [told]) as (watch, _):
        watch.emit(note("before"))
        pc.until(lambda: "before" in notes(path))
        kept = notes(path)
        with closing(sqlite3.connect(path)) as db:  # what a failing disk might do
            db.execute("ALTER TABLE events RENAME TO lost")
        pc.until(lambda: bool(told.of("journal")))
        watch.emit(note("after"))
        watch.emit(OperatorAction("AB", Action.LINE, "head line 1", (("state", "parted"),)))
        pc.until(lambda: bool(told.of("line:head line 1")))
        pc.until(BEGIN + 30 * STEP)
    (notice,) = told.of("journal")
    assert (
        notice.do.startswith("Keep watch.journal as it is")
        and "watch-2.journal goes on in its place" in notice.what
    )
    assert "NOTHING" not in notice.do
    assert kept == ["before"]
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("SELECT count(*) FROM lost WHERE kind = 'OperatorAction'").fetchone() == (1,)
    follower = tmp_path / "watch-2.journal"
    assert notes(follower) == ["after", "head line 1"]
    with JournalReader(follower) as reader:
        entries = list(reader.read())
    assert isinstance(entries[-1].record, Stopped)  # to the last word
    with watching(unheard, path, [told]) as (_, store):  # the next watch goes on in the follower
        assert store.path == follower and "watch.journal is damaged" in store.moved_on
        pc.until(pc.true() + 10 * STEP)
    assert notes(follower) == ["after", "head line 1"]
