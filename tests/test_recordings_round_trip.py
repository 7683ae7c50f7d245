"""Recordings against themselves (out and in again to the byte), gzip and JSON readers, and every kind of cut."""

from __future__ import annotations

import gzip
import json
import tomllib
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.records.events import (
    Action,
    AlertState,
    Beat,
    OperatorAction,
    Priority,
    RawReading,
    Reason,
    SettingsSnapshot,
    Started,
    Stopped,
    Transition,
)
from monitor.run.journal import Entry, Journal, JournalDamaged, JournalReader
from monitor.run.recording import (
    About,
    Recording,
    RecordingCut,
    RecordingError,
    export,
    import_recording,
    open_recording,
    write_recording,
)

T0 = datetime(2026, 3, 14, 6, 0, tzinfo=UTC)
SECOND = timedelta(seconds=1)
SNAPSHOT = SettingsSnapshot(
    (("stays/eider.toml", 'name = "Eider at Reed Pier"\r\n'), ("ships/eider.toml", "# invented, Ærø\n")),
    "eider",
    "5e7",
)
RAISED = Transition(
    T0, "passing:1", AlertState.NORMAL, AlertState.UNACKNOWLEDGED, Priority.WARNING, False, Reason.RAISED
)


def watched(path: Path, seconds: int = 60) -> Path:
    """A journal of a short watch: settings, start, a line and a Beat a second, some conclusions, an end."""
    with Journal(path) as journal:
        journal.append(T0, "in", SNAPSHOT)
        journal.append(T0, "in", Started("0.0"))
        for second in range(seconds):
            at = T0 + second * SECOND
            journal.append(at, "in", RawReading("ais", f"!AIVDM,{second},\xff\x00\n"))
            journal.append(at + SECOND / 3, "in", Beat())
            if second % 7 == 3:
                journal.append(at + SECOND / 3, "out", RAISED)
        journal.append(T0 + seconds * SECOND, "in", OperatorAction("AB", Action.NOTE, 'said "so"'))
        journal.append(T0 + seconds * SECOND, "in", Stopped("asked to stop"))
    return path


def exported(journal: Path, folder: Path, begins: datetime | None = None, ends: datetime | None = None) -> About:
    with closing(JournalReader(journal)) as reader:
        return export(
            reader, folder, begins, ends, name="A short watch", invented=True, holds="quiet \"and\" 'odd'"
        )


def files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def contents(recording: Recording) -> list[tuple[int, str, str, str]]:
    return [
        (entry.stamped_us, entry.direction, entry.kind, entry.body)
        for entry in (*recording.inputs(), *recording.outputs())
    ]


@pytest.mark.parametrize(
    ("begins", "ends"),
    [(None, None), (T0 + 20 * SECOND, T0 + 40 * SECOND), (T0, T0 + SECOND)],
    ids=["whole", "from the middle", "the first second"],
)
def test_out_in_and_out_again_is_the_same_to_the_byte(
    tmp_path: Path, begins: datetime | None, ends: datetime | None
) -> None:
    about = exported(watched(tmp_path / "watch.db"), tmp_path / "one", begins, ends)
    with Journal(tmp_path / "again.db") as journal:
        assert import_recording(tmp_path / "one", journal) == about.inputs + about.outputs
    assert exported(tmp_path / "again.db", tmp_path / "two") == about
    assert files(tmp_path / "one") == files(tmp_path / "two")
    with open_recording(tmp_path / "one") as folder, open_recording(tmp_path / "again.db") as file:
        assert contents(folder) == contents(file)
        assert folder.settings() == file.settings() == SNAPSHOT
        assert folder.about == about and folder.cuts == file.cuts == []


def test_everything_of_the_journal_is_in_the_recording(tmp_path: Path) -> None:
    about = exported(watched(tmp_path / "watch.db"), tmp_path / "one")
    with open_recording(tmp_path / "watch.db") as journal, open_recording(tmp_path / "one") as folder:
        assert contents(journal) == contents(folder)
    assert (about.inputs, about.outputs) == (2 + 120 + 2, 9)
    assert (about.begins, about.ends, about.mid_watch) == (T0, T0 + 60 * SECOND, False)


def test_folder_is_read_by_plain_tools(tmp_path: Path) -> None:
    """RFC 1952 gzip with no time in it, one JSON array a line (RFC 8259), TOML 1.0."""
    exported(watched(tmp_path / "watch.db"), tmp_path / "one")
    packed = (tmp_path / "one" / "in.jsonl.gz").read_bytes()
    assert packed[4:8] == b"\0\0\0\0" and packed[3] == 0  # MTIME; FLG: no file name
    rows = [json.loads(line) for line in gzip.decompress(packed).decode().splitlines()]
    seq, stamp, kind, schema, body = rows[2]
    assert (seq, stamp, kind, schema) == (3, "2026-03-14T06:00:00.000000Z", "RawReading", 1)
    assert body == {"source": "ais", "text": "!AIVDM,0,\xff\x00\n"}
    about = tomllib.loads((tmp_path / "one" / "about.toml").read_text("utf-8"))
    assert about["holds"] == "quiet \"and\" 'odd'" and about["begins"] == T0
    assert (tmp_path / "one" / "settings/stays/eider.toml").read_bytes() == b'name = "Eider at Reed Pier"\r\n'
    assert (tmp_path / "one" / "settings/ships/eider.toml").read_text("utf-8") == "# invented, Ærø\n"


def test_stretch_from_the_middle_brings_its_settings_and_says_so(tmp_path: Path) -> None:
    about = exported(watched(tmp_path / "watch.db"), tmp_path / "one", T0 + 20 * SECOND)
    with open_recording(tmp_path / "one") as recording:
        first, second, third, *_ = recording.inputs()
    assert (first.kind, second.kind) == ("SettingsSnapshot", "Started")
    assert first.stamped_at == second.stamped_at == third.stamped_at == T0 + 20 * SECOND
    assert first.record == SNAPSHOT and about.mid_watch
    assert second.record == Started(f"{about.program} (a stretch of a running watch)")
    assert third.record == RawReading("ais", "!AIVDM,20,\xff\x00\n")


def test_stretch_without_events(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match="no event in that time"):
        exported(watched(tmp_path / "watch.db"), tmp_path / "one", T0 + 999 * SECOND)
    assert not (tmp_path / "one").exists()


def test_recording_is_never_written_over(tmp_path: Path) -> None:
    exported(watched(tmp_path / "watch.db"), tmp_path / "one")
    before = files(tmp_path / "one")
    with pytest.raises(RecordingError, match="never written over"):
        exported(tmp_path / "watch.db", tmp_path / "one")
    assert files(tmp_path / "one") == before


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, list[Entry]]:
    """The packed inputs of a recording, and its entries."""
    folder = tmp_path_factory.mktemp("whole")
    exported(watched(folder / "watch.db"), folder / "one")
    with open_recording(folder / "one") as recording:
        return (folder / "one" / "in.jsonl.gz").read_bytes(), list(recording.inputs())


def spoilt(folder: Path, data: bytes) -> Recording:
    """A recording whose inputs are `data`."""
    if not folder.exists():
        exported(watched(folder.with_suffix(".db")), folder)
    (folder / "in.jsonl.gz").write_bytes(data)
    return open_recording(folder)


def test_gzip_cut_at_any_byte_gives_all_before_the_cut_and_a_warning(
    tmp_path: Path, whole: tuple[bytes, list[Entry]]
) -> None:
    data, entries = whole
    longest = 0
    for length in range(0, len(data), 41):
        recording = spoilt(tmp_path / "one", data[:length])
        with pytest.warns(RecordingCut) as warned:
            read = list(recording.inputs())
        assert read == entries[: len(read)]
        longest = max(longest, len(read))
        (cut,) = recording.cuts
        assert warned[0].message is cut
        if read:
            assert cut.after == read[-1]
            stamp = read[-1].stamped_at.isoformat(timespec="microseconds")[:-6] + "Z"
            assert f"recording one: 'in' events cut after event {read[-1].seq} at {stamp}: " in str(cut)
        else:
            assert "'in' events cut before its first event: " in str(cut)
    assert longest > 50  # most of it is there when only the tail is lost


@given(data=st.data())
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_harmed_byte_passes_unseen(
    data: st.DataObject, tmp_path: Path, whole: tuple[bytes, list[Entry]]
) -> None:
    packed, _ = whole
    place = data.draw(st.integers(10, len(packed) - 1))  # behind the header, whose fields gzip mostly ignores
    harmed = bytearray(packed)
    harmed[place] ^= data.draw(st.integers(1, 255))
    recording = spoilt(tmp_path / "one", bytes(harmed))
    with pytest.warns(RecordingCut):
        list(recording.inputs())
    assert len(recording.cuts) == 1


@pytest.mark.parametrize(
    "harm",
    [
        lambda line: line[: len(line) // 2],
        lambda line: b'[1,"2026-03-14T06:00:00Z","Beat"]',
        lambda line: b'[1,"yesterday","Beat",1,{}]',
        lambda line: b'[1,5,"Beat",1,{}]',
        lambda line: b"\xff\xfe",
        lambda line: b"",
    ],
    ids=["half a line", "too few", "no time", "a number for a time", "no text", "empty"],
)
def test_harmed_line_ends_the_recording_there(
    tmp_path: Path, whole: tuple[bytes, list[Entry]], harm: object
) -> None:
    lines = gzip.decompress(whole[0]).splitlines()
    lines[50] = harm(lines[50])  # type: ignore[operator]
    recording = spoilt(tmp_path / "one", gzip.compress(b"\n".join(lines) + b"\n"))
    with pytest.warns(RecordingCut, match="cut after event"):
        read = list(recording.inputs())
    assert read == whole[1][:50]


def test_lines_taken_away_are_missed(tmp_path: Path, whole: tuple[bytes, list[Entry]]) -> None:
    lines = gzip.decompress(whole[0]).splitlines(keepends=True)
    recording = spoilt(tmp_path / "one", gzip.compress(b"".join(lines[:-1])))
    with pytest.warns(RecordingCut, match=r"about\.toml tells of 124 events, here are 123"):
        assert list(recording.inputs()) == whole[1][:-1]
    assert list(recording.inputs()) == whole[1][:-1]
    assert len(recording.cuts) == 1  # told once, however often it is read


def test_cut_recording_is_imported_as_far_as_it_goes(tmp_path: Path, whole: tuple[bytes, list[Entry]]) -> None:
    spoilt(tmp_path / "one", whole[0][:-400])
    with Journal(tmp_path / "again.db") as journal, pytest.warns(RecordingCut):
        assert import_recording(tmp_path / "one", journal) > 50


def test_damaged_journal_is_a_cut_recording(tmp_path: Path) -> None:
    path = watched(tmp_path / "watch.db", 3000)
    data = bytearray(path.read_bytes())
    place = data.index(b"!AIVDM,1500,") // 4096 * 4096
    data[place : place + 100] = b"\xaa" * 100
    path.write_bytes(data)
    with open_recording(path) as recording, pytest.warns(RecordingCut, match=r"cut after event \d+ at 2026-"):
        assert len(list(recording.inputs())) >= 1000


def test_what_is_no_recording(tmp_path: Path) -> None:
    (tmp_path / "half").mkdir()
    (tmp_path / "half" / "in.jsonl.gz").write_bytes(b"")
    with pytest.raises(RecordingError, match=r"not a whole recording: about\.toml, out\.jsonl\.gz missing"):
        open_recording(tmp_path / "half")
    with pytest.raises(RecordingError, match="missing"):
        open_recording(tmp_path / "nowhere")
    (tmp_path / "text.db").write_text("hello")
    with pytest.raises(JournalDamaged, match="never a journal"):
        open_recording(tmp_path / "text.db")


def test_newer_or_broken_about(tmp_path: Path) -> None:
    exported(watched(tmp_path / "watch.db"), tmp_path / "one")
    about = tmp_path / "one" / "about.toml"
    text = about.read_text("utf-8")
    about.write_text(text.replace("schema = 1", "schema = 99"), "utf-8")
    with pytest.raises(RecordingError, match="schema 99 is of a newer program; this one knows up to 1"):
        open_recording(tmp_path / "one")
    about.write_text(text.replace("inputs = ", "puts = "), "utf-8")
    with pytest.raises(RecordingError, match=r"about\.toml: inputs: Field required$"):
        open_recording(tmp_path / "one")
    about.write_text("name = ", "utf-8")
    with pytest.raises(RecordingError, match=r"about\.toml: "):
        open_recording(tmp_path / "one")


def test_recording_without_settings(tmp_path: Path) -> None:
    about = write_recording(tmp_path / "one", [Entry.of(1, T0, "in", Beat())], name="", invented=True, holds="")
    assert about.settings_sha256 == "" and not (tmp_path / "one" / "settings").exists()
    with open_recording(tmp_path / "one") as recording, pytest.raises(RecordingError, match="holds no settings"):
        recording.settings()


@pytest.mark.parametrize("name", ["../stays/a.toml", "/etc/a.toml", "C:\\a.toml", "stays\\..\\..\\a.toml"])
def test_settings_are_never_written_outside_the_folder(tmp_path: Path, name: str) -> None:
    entry = Entry.of(1, T0, "in", SettingsSnapshot(((name, ""),), "a", "0"))
    with pytest.raises(RecordingError, match="lies outside"):
        write_recording(tmp_path / "in" / "one", [entry], name="", invented=True, holds="")
    assert not list(tmp_path.glob("**/a.toml"))
