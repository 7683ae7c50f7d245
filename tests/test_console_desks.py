"""The console's other side: entries by the one door, a replay as an album, the form of a stay, the witness.

Checked against: the same typed lines at the terminal; the pictures of a plain run over the same recording; the
settings' own reader; the events themselves.
"""

from __future__ import annotations

import shutil
import socket
import sys
import threading
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from monitor.records.events import (
    Action,
    AlertState,
    Beat,
    OperatorAction,
    Priority,
    RawReading,
    Reason,
    Started,
    Transition,
)
from monitor.records.picture import Mode
from monitor.run import console, stay_form
from monitor.run.console import LiveDesk, ReplayDesk, open_console
from monitor.run.entries import read_entry
from monitor.run.journal import Entry
from monitor.run.recording import Recording
from monitor.run.witness import Witness
from monitor.settings.load import load_stay
from tests.console_scene import BEGINS, STAY, Scene


@pytest.fixture(scope="module")
def alarmed(config: Path) -> Scene:
    scene = Scene(config)
    scene.enter(Action.WIND, mean_m_s=26.0, gust_m_s=31.0, from_direction_deg=310.0)
    scene.go_on(60, ship=False)
    return scene


@pytest.fixture
def desk(alarmed: Scene, config: Path) -> Iterator[tuple[LiveDesk, list[Any]]]:
    taken: list[Any] = []
    desk = LiveDesk(alarmed.settings, alarmed.taken, config, alarmed.witness)
    desk.attend(SimpleNamespace(emit=taken.append))  # type: ignore[arg-type]
    desk.watch(alarmed.pipeline, alarmed.now)
    yield desk, taken


@pytest.mark.parametrize(
    "line",
    [
        "wind 25 kn from 240 deg",
        "line head line 1 heavy",
        "people on forecastle",
        "note all well",
        "phase tending",
    ],
)
def test_entries_are_what_the_terminal_reads(desk: tuple[LiveDesk, list[Any]], line: str, alarmed: Scene) -> None:
    """The page's entry and the same line typed at the terminal are one record."""
    page, taken = desk
    assert page.enter(line, "AB") == ""
    names = alarmed.pipeline.estimator.moored.names
    assert taken == [read_entry(line, names, (), "AB")]


def test_an_alarm_needs_the_tick(desk: tuple[LiveDesk, list[Any]]) -> None:
    """Without "decks clear" nothing is handed in; with it the tick is in the record. A warning needs none."""
    page, taken = desk
    assert "clear" in page.enter("ack wind AB", "AB") and not taken
    assert page.enter("ack wind AB", "AB", decks_clear=True) == ""
    assert page.enter("ack limit:leave AB", "AB") == ""
    assert page.enter("hush Berth limit: leave AB", "AB") == ""
    assert page.enter("ack leave AB", "AB") == ""
    assert [(action.subject, action.value("decks_clear")) for action in taken] == [
        ("wind", True),
        ("limit:leave", None),
        ("limit:leave", None),
        ("limit:leave", None),
    ]
    assert "may be: Berth limit: " in page.enter("ack limit AB", "AB")  # several: nothing is guessed


@pytest.mark.parametrize("line", ["line head line 9 heavy", "wind 25 from 240", "sing", "ack nothing AB"])
def test_what_cannot_be_read_is_told_and_not_handed_in(desk: tuple[LiveDesk, list[Any]], line: str) -> None:
    page, taken = desk
    assert page.enter(line, "AB") and not taken


def test_a_picture_is_taken_only_when_something_changed(alarmed: Scene, config: Path) -> None:
    """Beats go on; the picture is the same object until the next tick."""
    desk = LiveDesk(alarmed.settings, alarmed.taken, config, alarmed.witness)
    desk.watch(alarmed.pipeline, alarmed.now)
    first = desk.picture()
    desk.watch(alarmed.pipeline, alarmed.now + timedelta(seconds=1))
    assert desk.picture() is first and desk.beat() == 2
    assert desk.now() == alarmed.now + timedelta(seconds=1)


# --- replay -------------------------------------------------------------------------------------------------


class _Kept(Scene):
    """A scene that keeps its inputs."""

    def __init__(self, config: Path) -> None:
        self.inputs: list[Entry] = []
        super().__init__(config)

    def _give(self, record: Any) -> None:
        self.inputs.append(Entry.of(len(self.inputs) + 1, self.now, "in", record))
        super()._give(record)


@pytest.fixture(scope="module")
def played(config: Path) -> tuple[_Kept, ReplayDesk]:
    scene = _Kept(config)
    scene.go_on(240)
    scene.enter(Action.WIND, mean_m_s=26.0, gust_m_s=31.0, from_direction_deg=310.0)
    scene.go_on(60)
    recording = Recording(Path("a-test"), None, lambda _: iter(scene.inputs), lambda: None)
    desk = ReplayDesk(recording)
    desk.develop(threading.Event())
    return scene, desk


def test_a_replay_ends_as_the_watch_did(played: tuple[_Kept, ReplayDesk]) -> None:
    """The last picture of the album is the one of a plain run over the same inputs, but for its being a replay."""
    scene, desk = played
    desk.seek(1e6)
    shown = desk.picture()
    assert shown is not None and shown == replace(scene.picture(Mode.REPLAY), title="a-test", now=shown.now)
    assert scene.now - shown.now <= console.FRAME


def test_any_place_can_be_gone_to(played: tuple[_Kept, ReplayDesk]) -> None:
    """Forward, back, and to the first alarm: half a minute before it was told, and there it was not yet."""
    _, desk = played
    desk.run(False)
    for at_s in (200.0, 20.0, 290.0, 0.0):
        desk.seek(at_s)
        now, shown = desk.now(), desk.picture()
        assert now == BEGINS + timedelta(seconds=at_s)
        assert (shown is not None and timedelta(0) <= now - shown.now <= console.FRAME) or at_s < 10
    reel = desk.reel()
    assert reel is not None and reel.done == 1.0
    at_s, words = next(event for event in reel.events if "ALARM" in event[1])
    desk.seek(at_s)
    before = desk.picture()
    assert before is not None and not any(alert.priority is Priority.ALARM for alert in before.alerts), words
    desk.seek(at_s + 45.0)
    after = desk.picture()
    assert after is not None and any(alert.priority is Priority.ALARM for alert in after.alerts)


def test_pace_is_kept(played: tuple[_Kept, ReplayDesk], monkeypatch: pytest.MonkeyPatch) -> None:
    """At ×60 two seconds of ours are two minutes; held, nothing moves; and the end is the end."""
    _, desk = played
    ours_s = 1000.0
    monkeypatch.setattr(console, "stopwatch_s", lambda: ours_s)
    desk.seek(0.0)
    desk.run(True, 60.0)
    ours_s += 2.0
    assert desk.now() == BEGINS + timedelta(seconds=120)
    desk.run(False)
    ours_s += 100.0
    assert desk.now() == BEGINS + timedelta(seconds=120)
    desk.run(True, 600.0)
    ours_s += 100.0
    assert desk.now() == BEGINS + timedelta(seconds=300)


def test_another_recording_is_chosen(config: Path) -> None:
    """From its begin, under its own name; a number that is none changes nothing."""
    shelf = []
    for name, seconds in (("first", 20), ("second", 40)):
        scene = _Kept(config)
        scene.go_on(seconds, ship=False)
        shelf.append(Recording(Path(name), None, lambda _, scene=scene: iter(scene.inputs), lambda: None))
    desk, stop = ReplayDesk(*shelf), threading.Event()
    desk.develop(stop)
    desk.seek(1e6)
    desk.choose(1)
    assert desk.unread and desk.picture() is None
    desk.choose(7)
    desk.develop(stop)
    reel, picture = desk.reel(), desk.picture()
    assert reel is not None and picture is not None and not desk.unread
    assert (reel.recordings, reel.chosen, reel.total_s, picture.title) == (("first", "second"), 1, 40.0, "second")


def test_a_replay_takes_no_entries(played: tuple[_Kept, ReplayDesk]) -> None:
    assert "REPLAY" in played[1].enter("note hello", "AB")


# --- the form of a stay ---------------------------------------------------------------------------------------


@pytest.fixture
def own(config: Path, tmp_path: Path) -> Path:
    shutil.copytree(config, tmp_path / "config")
    return tmp_path / "config"


def _fields(config: Path, name: str = STAY) -> dict[str, str]:
    """The form as the browser sends it back, untouched."""
    sheet = stay_form.sheet_of(config, name)
    fields = {"file": "next-call", "copied": name, **dict(sheet.values)}
    for n, row in enumerate(sheet.lines):
        fields |= {f"{key}{n}": value for key, value in zip(("line", "bollard", "pretension"), row, strict=True)}
    for n, row in enumerate(sheet.tide):
        fields |= {f"tide_{key}{n}": value for key, value in zip(("at", "height", "water"), row, strict=True)}
    return fields


def test_an_untouched_copy_means_the_same_stay(own: Path) -> None:
    """Written, read back by the settings' own reader: the same settings, to the last value."""
    made = stay_form.draft(own, _fields(own))
    assert made.faults == () and made.plan is not None and made.assumed
    assert stay_form.keep(own, _fields(own)).startswith("Written: next-call.toml")
    assert load_stay(own, "next-call") == load_stay(own, STAY)
    copied, first = ((own / "stays" / f"{name}.toml").read_text() for name in ("next-call", STAY))
    assert tomllib.loads(copied) == tomllib.loads(first)


def test_nothing_is_written_over_or_outside(own: Path) -> None:
    """An existing file stays as it is; a name that leads elsewhere is refused, for writing and for copying."""
    before = sorted(path.read_bytes() for path in own.rglob("*.toml"))
    assert "already" in stay_form.keep(own, {**_fields(own), "file": STAY})
    for name in ("../ships/x", "/etc/x", "..", "a/b", "a\\b", "", "x" * 80, "a.toml\n"):
        assert "Not written" in stay_form.keep(own, {**_fields(own), "file": name})
        with pytest.raises((ValueError, OSError)):
            stay_form.sheet_of(own, name)
    assert sorted(path.read_bytes() for path in own.rglob("*.toml")) == before


@pytest.mark.parametrize(
    ("field", "value", "told"),
    [("bollard0", "B99", "B99"), ("draught_aft", "12", "draught_aft"), ("side_to", "starboard", "side"),
     ("tide_at0", "yesterday", "tide"), ("name", 'a"\nphase = "gone', "phase")],
)  # fmt: skip
def test_faults_are_told_as_the_files_faults(own: Path, field: str, value: str, told: str) -> None:
    """A wrong value is told by the same rules as in a file; a value cannot smuggle in a key."""
    made = stay_form.draft(own, {**_fields(own), field: value})
    if field == "name":
        assert tomllib.loads(made.text)["name"] == value and tomllib.loads(made.text)["phase"] == "all fast"
        return
    assert made.plan is None and any(told in fault for fault in made.faults), made.faults
    assert "Not written" in stay_form.keep(own, {**_fields(own), field: value})


def test_the_form_for_another_ship_or_berth_asks_for_her_lines(own: Path) -> None:
    """A line that the other ship does not carry is gone, one that she carries besides is there, not yet led; a
    bollard that the other berth has not is no longer chosen."""
    ship, berth = own / "ships" / "tavrin-lark.toml", own / "berths" / "sedge-quay-2.toml"
    (own / "ships" / "sister.toml").write_text(
        ship.read_text("utf-8").replace("head line 1", "head line 9"), "utf-8"
    )
    (own / "berths" / "other.toml").write_text(berth.read_text("utf-8").replace('"S6"', '"X6"'), "utf-8")
    first, here, there = (
        {line: (bollard, pretension) for line, bollard, pretension in stay_form.sheet_of(own, STAY, *others).lines}
        for others in ((), ("sister", ""), ("", "other"))
    )
    assert "head line 1" in first and "head line 1" not in here and here["head line 9"] == ("", "")
    assert first.keys() - here.keys() == {"head line 1"}
    led_to_it = {line for line, (bollard, _) in first.items() if bollard == "S6"}
    assert led_to_it and all(there[line] == ("", "") for line in led_to_it)
    assert all(there[line] == first[line] for line in first.keys() - led_to_it)


def test_the_force_sensor_of_a_line_stays_with_it(own: Path) -> None:
    """What the form does not ask is not lost by copying: under which name a line's sensor reports."""
    stay = own / "stays" / f"{STAY}.toml"
    text = stay.read_text("utf-8")
    stay.write_text(text.replace('line = "head line 1"\n', 'line = "head line 1"\nsensor = "LC1"\n', 1), "utf-8")
    made = stay_form.draft(own, {**_fields(own), "bollard0": "B15"})
    assert tomllib.loads(made.text)["lines"][0] == {
        "line": "head line 1", "sensor": "LC1", "bollard": "B15",
        "pretension": tomllib.loads(text)["lines"][0]["pretension"],
    }  # fmt: skip


def test_a_line_without_pretension_is_not_led(own: Path) -> None:
    made = stay_form.draft(own, {**_fields(own), "pretension0": ""})
    assert made.plan is not None and "head line 1" not in {lead.line for lead in made.plan.leads}


# --- witness ------------------------------------------------------------------------------------------------


def _change(seconds: float, after: AlertState, priority: Priority, reason: Reason) -> Transition:
    return Transition(
        BEGINS + timedelta(seconds=seconds), "wind", AlertState.NORMAL, after, priority, False, reason
    )


def test_spans_follow_an_alert_through_its_levels() -> None:
    """Warning, alarm, answered, ended: two spans, each from its own change to the next."""
    seen = Witness()
    for change in (
        _change(0, AlertState.UNACKNOWLEDGED, Priority.WARNING, Reason.RAISED),
        _change(60, AlertState.UNACKNOWLEDGED, Priority.ALARM, Reason.LEVEL_UP),
        _change(90, AlertState.ACKNOWLEDGED, Priority.ALARM, Reason.ACKNOWLEDGED),
        _change(300, AlertState.NORMAL, Priority.ALARM, Reason.RECTIFIED),
    ):
        seen.see(change.at, change)
    spans = [
        (s.priority, (s.since - BEGINS).seconds, s.until and (s.until - BEGINS).seconds) for s in seen.spans()
    ]
    assert spans == [(Priority.WARNING, 0, 60), (Priority.ALARM, 60, 300)]


def test_the_witness_of_a_restart_knows_what_the_first_knew(alarmed: Scene) -> None:
    """The same events from a journal give the same past, spans and log; after a long gap open spans are closed."""
    scene = alarmed
    again = Witness()
    raised = _change(0, AlertState.UNACKNOWLEDGED, Priority.WARNING, Reason.RAISED)
    told = (
        Beat(),
        RawReading("ais", "!x" * 500),
        OperatorAction("AB", Action.NOTE, "hello"),
        raised,
        scene.pipeline.estimate,
    )
    again.recall(Entry.of(n, BEGINS, "in", record) for n, record in enumerate(told, 1))
    first = Witness()
    for record in told:
        first.see(BEGINS, record)
    assert (again.past(), again.spans(), again.log()) == (first.past(), first.spans(), first.log())
    assert len(again.raw["ais"][1]) == 200
    last = BEGINS + timedelta(minutes=1)
    again.see(last + timedelta(hours=1), Started("test", last))
    assert [span.until for span in again.spans()] == [last]


def test_notices_reach_the_log(alarmed: Scene) -> None:
    told = [row for row in alarmed.witness.log() if row.kind == "notice" and row.alert == "wind"]
    assert told and told[0].subject == "Wind and stream" and told[0].text.startswith("CLEAR BOTH MOORING DECKS")


# --- opening it ---------------------------------------------------------------------------------------------


def test_a_port_that_is_taken_is_told(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        at = f"127.0.0.1:{other.getsockname()[1]}"
        with pytest.raises(ValueError, match=f"{at} is taken by another program"):
            open_console(SimpleNamespace(), at, tmp_path)  # type: ignore[arg-type]


def test_without_the_library_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The watch itself needs no console: only asking for one tells what is missing."""
    monkeypatch.setitem(sys.modules, "nicegui", None)
    for name in [name for name in sys.modules if name.startswith("monitor.outlet.console.")]:
        if name.rsplit(".", 1)[1] in ("server", "page"):
            monkeypatch.delitem(sys.modules, name)
    with pytest.raises(ValueError, match=r"bightwatch\[console\]"):
        open_console(SimpleNamespace(), "127.0.0.1:0", tmp_path)  # type: ignore[arg-type]
