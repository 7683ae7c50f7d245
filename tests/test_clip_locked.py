"""Clips against a chain worked out here with hashlib alone, against every kind of change, and by replay."""

from __future__ import annotations

import gzip
import hashlib
import json
import shutil
import tomllib
import warnings
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from monitor.__main__ import main
from monitor.records.events import Action, Beat, ClockStepped, OperatorAction, Priority, Started, Transition
from monitor.run.chain import changed, lock
from monitor.run.clip import clip
from monitor.run.journal import Entry, Journal
from monitor.run.recording import RecordingError, import_recording, open_recording
from monitor.run.session import Session
from tests.conftest import ROOT

DAY = ROOT / "recordings/the-invented-day"
PASS_AT = datetime(2026, 3, 14, 12, 30, tzinfo=UTC)  # the large ship is abeam at 1235
PEOPLE_AT = datetime(2026, 3, 14, 11, 25, tzinfo=UTC)  # people are on deck from 1106 to 1135


@pytest.fixture(scope="module")
def clipped(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Ten minutes either side of the alarm."""
    folder = tmp_path_factory.mktemp("clip") / "pass"
    with open_recording(DAY) as recording:
        made = clip(recording, PASS_AT, folder, 10.0)
    assert tomllib.loads((folder / "about.toml").read_text("utf-8"))["chain_head"] == made.head
    return folder


def lines_of(folder: Path) -> list[tuple[int, str, bytes]]:
    found = []
    for file in ("in.jsonl.gz", "out.jsonl.gz"):
        for line in gzip.decompress((folder / file).read_bytes()).splitlines(keepends=True):
            found.append((json.loads(line)[0], file, line))
    return sorted(found)


def test_the_chain_by_hashlib(clipped: Path) -> None:
    about = "".join(
        line
        for line in (clipped / "about.toml").read_text("utf-8").splitlines(keepends=True)
        if not line.startswith("chain_head")
    )
    link = hashlib.sha256(about.encode()).hexdigest()
    links = [link]
    for _, file, line in lines_of(clipped):
        link = hashlib.sha256(f"{link} {file} ".encode() + line).hexdigest()
        links.append(link)
    assert (clipped / "chain.txt").read_text().split() == links
    assert changed(clipped) == "" and changed(clipped, links[-1].upper()) == ""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        open_recording(clipped).close()


def edited(folder: Path, file: str, edit: Callable[[list[bytes]], list[bytes]]) -> None:
    lines = gzip.decompress((folder / file).read_bytes()).splitlines(keepends=True)
    (folder / file).write_bytes(gzip.compress(b"".join(edit(lines))))


def one_digit(lines: list[bytes]) -> list[bytes]:
    lines[100] = lines[100].replace(b'"', b"'", 1)
    return lines


CHANGES: dict[str, tuple[Callable[[Path], object], str]] = {
    "a character": (lambda f: edited(f, "in.jsonl.gz", one_digit), "line 101 of in.jsonl.gz is not as it was"),
    "a line left out": (
        lambda f: edited(f, "in.jsonl.gz", lambda lines: lines[:50] + lines[51:]),
        "line 51 of in.jsonl.gz is not as it was",
    ),
    "a conclusion swapped": (
        lambda f: edited(f, "out.jsonl.gz", lambda lines: [lines[1], lines[0], *lines[2:]]),
        "is not as it was locked",  # told where the order of the numbers first breaks
    ),
    "the end cut off": (lambda f: edited(f, "in.jsonl.gz", lambda lines: lines[:-1]), "more was there"),
    "a line more": (
        lambda f: edited(f, "in.jsonl.gz", lambda lines: [*lines, b'[999999,"x","Beat",1,{}]\n']),
        "was not there when it was locked",
    ),
    "the file cut": (
        lambda f: (f / "in.jsonl.gz").write_bytes((f / "in.jsonl.gz").read_bytes()[:5000]),
        "cannot be read after",
    ),
    "what it says of itself": (
        lambda f: (f / "about.toml").write_text(
            (f / "about.toml").read_text("utf-8").replace("Clip", "Day"), "utf-8"
        ),
        "about.toml is not as it was",
    ),
    "something said beside the head": (
        lambda f: (f / "about.toml").write_bytes(
            (f / "about.toml").read_bytes() + b'chain_head_note = "no alarm"\n'
        ),
        "about.toml is not as it was",
    ),
    "the chain taken away": (lambda f: (f / "chain.txt").unlink(), "chain.txt is missing"),
    "a copy of the settings": (
        lambda f: (f / "settings/alerts/river-quay.toml").write_text("levels = 0\n"),
        "settings/alerts/river-quay.toml is not as it was",
    ),
}


@pytest.mark.parametrize("change", CHANGES)
def test_every_change_is_told_by_its_place(clipped: Path, tmp_path: Path, change: str) -> None:
    folder = tmp_path / "copy"
    shutil.copytree(clipped, folder)
    make, told = CHANGES[change]
    make(folder)
    assert told in changed(folder)
    assert main(["clip", str(folder), "--check"]) == 1
    with pytest.warns(UserWarning, match="CHANGED"):
        opened = open_recording(folder)
    assert told in str(opened.cuts[0])


def test_who_rewrites_all_of_it_is_found_out_by_the_log_book(clipped: Path, tmp_path: Path) -> None:
    head = (clipped / "chain.txt").read_text().split()[-1]
    folder = tmp_path / "forged"
    shutil.copytree(clipped, folder)
    edited(folder, "out.jsonl.gz", lambda lines: [line.replace(b'"alarm"', b'"caution"') for line in lines])
    about = (folder / "about.toml").read_text("utf-8")
    (folder / "about.toml").write_text(
        "".join(x for x in about.splitlines(True) if "chain_head" not in x), "utf-8"
    )
    lock(folder)
    assert changed(folder) == ""
    assert "rewritten together" in changed(folder, head)
    assert main(["clip", str(folder), "--check", "--head", head]) == 1
    assert main(["clip", str(clipped), "--check", "--head", head]) == 0


@pytest.mark.slow
def test_a_clip_replays_to_the_same_alarm(tmp_path: Path) -> None:
    with open_recording(DAY) as recording:
        clip(recording, PASS_AT - timedelta(minutes=1), tmp_path / "clip", 1.5)
    session, raised = Session(), []
    with open_recording(tmp_path / "clip") as recording:
        for entry in recording.inputs():
            for conclusion in session.handle(entry.stamped_at, entry.record):  # type: ignore[arg-type]
                if isinstance(conclusion, Transition) and conclusion.priority is Priority.ALARM:
                    raised.append(conclusion)
            session.remember(entry)
        then = [entry.record for entry in recording.outputs() if entry.kind == "Transition"]
    alarm = next(t for t in then if isinstance(t, Transition) and t.priority is Priority.ALARM)
    assert raised and raised[0].alert == alarm.alert == "passing:200911002"
    assert abs(raised[0].at - alarm.at) <= timedelta(seconds=60)


def test_what_people_had_told_before_is_known_in_the_clip(tmp_path: Path) -> None:
    with open_recording(DAY) as recording:
        about = clip(recording, PEOPLE_AT, tmp_path / "clip", 1.0).about
    assert about.mid_watch and about.begins >= PEOPLE_AT - timedelta(minutes=1)
    session, heard = Session(), set()
    with open_recording(tmp_path / "clip") as recording:
        for entry in recording.inputs():
            heard.add(entry.kind)
            if entry.kind in ("RawReading", "Beat"):
                continue
            session.handle(entry.stamped_at, entry.record)  # type: ignore[arg-type]
            session.remember(entry)
            if entry.kind == "Started":
                break
    assert "RawReading" in heard  # the ten minutes before the start are there for ships and winds
    assert session.pipeline is not None
    assert session.pipeline.stay.people_on_deck  # entered 18 minutes before the clip begins
    assert session.pipeline.stay.lines["aft breast 2"] == "tended"


def test_a_journal_gives_the_same_clip(clipped: Path, tmp_path: Path) -> None:
    with Journal(tmp_path / "day.journal") as journal:
        import_recording(DAY, journal)
    with open_recording(tmp_path / "day.journal") as recording:
        clip(recording, PASS_AT, tmp_path / "clip", 10.0)
    for file in ("in.jsonl.gz", "out.jsonl.gz"):
        ours, theirs = (gzip.decompress((f / file).read_bytes()) for f in (tmp_path / "clip", clipped))
        assert ours == theirs


def test_a_time_without_events_is_told(tmp_path: Path) -> None:
    with open_recording(DAY) as recording:
        with pytest.raises(RecordingError, match="holds no event"):
            clip(recording, PASS_AT + timedelta(days=1), tmp_path / "clip")
        with pytest.raises(ValueError, match="zone"):
            clip(recording, PASS_AT.replace(tzinfo=None), tmp_path / "clip")


def _journal_of_two_watches(path: Path, other_stay: bool) -> None:
    """People go on deck; half an hour later the program is started again, at the same stay or at another one."""
    with open_recording(DAY) as recording:
        settings = recording.settings()
    before = replace(settings, stay="another-stay") if other_stay else settings
    people = OperatorAction("AB", Action.PEOPLE, "forecastle", (("on_deck", True),))
    told = (
        (-30.0, before), (-30.0, Started("1")), (-29.0, people), (-25.0, Beat()),
        (1.0, settings), (1.0, Started("1", PASS_AT - timedelta(minutes=25))), (2.0, Beat()),
    )  # fmt: skip
    with Journal(path) as journal:
        journal.extend(
            Entry.of(seq, PASS_AT + timedelta(minutes=minutes), "in", record)
            for seq, (minutes, record) in enumerate(told, 1)
        )


@pytest.mark.parametrize("ahead_at", [-30.0, 1.0], ids=["before it", "within it"])
def test_a_clock_that_leaps_ahead_and_is_set_back_cuts_no_clip(tmp_path: Path, ahead_at: float) -> None:
    """All that was stamped in the time is there, with what was stamped ahead in between; nothing after its end."""
    with open_recording(DAY) as recording:
        settings = recording.settings()
    start = (settings, Started("1"))
    leap = (ClockStepped(3600.0), Beat(), ClockStepped(-3480.0))
    ahead_min = 62.0
    if ahead_at < 0.0:  # the watch began with its clock ahead
        told = [*((ahead_min, each) for each in (*start, Beat())), (-4.0, ClockStepped(-3960.0))]
    else:
        told = [*((-4.0, each) for each in start), (ahead_at, leap[0]), (ahead_min, leap[1]), (3.0, leap[2])]
    told += [(4.0, Beat()), (5.0, Beat()), (30.0, Beat())]
    with Journal(tmp_path / "j") as journal:
        journal.extend(
            Entry.of(seq, PASS_AT + timedelta(minutes=minutes), "in", record)
            for seq, (minutes, record) in enumerate(told, 1)
        )
    with open_recording(tmp_path / "j") as recording:
        about = clip(recording, PASS_AT, tmp_path / "clip", 5.5).about
    assert about.ends == PASS_AT + timedelta(minutes=5)
    with open_recording(tmp_path / "clip") as recording:
        kinds = [entry.kind for entry in recording.inputs()]
    assert kinds.count("Beat") == 3 and kinds.count("ClockStepped") == (1 if ahead_at < 0.0 else 2)


@pytest.mark.parametrize("other_stay", [False, True])
@pytest.mark.parametrize("ends_before", [False, True], ids=["from the restart", "from after it"])
def test_a_clip_that_holds_a_restart_knows_what_its_watch_knew(
    tmp_path: Path, other_stay: bool, ends_before: bool
) -> None:
    _journal_of_two_watches(tmp_path / "j", other_stay)
    at, minutes = (PASS_AT + timedelta(minutes=2), 0.5) if ends_before else (PASS_AT, 5.0)
    with open_recording(tmp_path / "j") as recording:
        clip(recording, at, tmp_path / "clip", minutes)
    session = Session()
    with open_recording(tmp_path / "clip") as recording:
        for entry in recording.inputs():
            session.handle(entry.stamped_at, entry.record)  # type: ignore[arg-type]
            session.remember(entry)
    assert session.pipeline is not None
    assert session.pipeline.stay.people_on_deck is not other_stay
