"""Every verb of the command line, run as an officer would, and what it answers to slips of the finger."""

from __future__ import annotations

import gzip
import math
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import IO

import pynmea2
import pytest

from monitor.__main__ import main
from monitor.base.units import m_s, tonnes_force
from monitor.intake.simulated import script
from monitor.intake.simulated.script import FAST
from monitor.records.events import Notice, Priority, Started, Stopped
from monitor.run.entries import EntryFault, read_entry
from monitor.run.journal import JournalReader
from monitor.run.recording import open_recording, write_recording
from monitor.run.whatif import Passer, what_if, wind_from_deg
from monitor.settings.load import load_stay
from tests.conftest import ROOT
from tests.watching import STAY, free_port, replayed, settings_folder, stretch, transitions

Run = Callable[..., tuple[int, str]]
RECORDED = str(ROOT / "recordings" / "the-invented-day")
PACES = ("0", "-1", "nan", "inf", "fast")
A_SHIP = ("--length", "300 m", "--distance", "90 m", "--speed", "8 kn")


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    """Runs a verb; gives its exit code and all it printed, on one line."""
    monkeypatch.setenv("COLUMNS", "300")

    def one(*arguments: object) -> tuple[int, str]:
        try:
            code = main([str(argument) for argument in arguments])
        except SystemExit as end:  # argparse
            code = int(end.code or 0)
        printed = capsys.readouterr()
        return code, " ".join((printed.out + printed.err).split())

    return one


@pytest.fixture(scope="module")
def rows(config: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A recording of four minutes of the invented day, the fast ship abeam in them; inputs only."""
    folder = tmp_path_factory.mktemp("stretch") / "recording"
    entries = stretch(config, 152.0, 156.0, {FAST.mmsi})
    write_recording(folder, entries, name="four minutes", invented=True, holds="a fast ship")
    return folder


# --- check, what-if ---------------------------------------------------------------------------------------------


def test_check_tells_what_is_assumed(run: Run, config: Path) -> None:
    code, said = run("check", "--config", config)
    assert code == 0
    assert f"{STAY}: no faults. Assumed or not known:" in said
    assert "SWL unknown: bollard B11" in said


@pytest.fixture
def faulty(config: Path, tmp_path: Path) -> Path:
    """Settings with three faults in three files."""
    return settings_folder(
        config,
        tmp_path / "faulty",
        sedge_quay_2=('along = "040 deg"', 'along = "040 m"'),
        tavrin_lark=("beam = ", "beem = "),
        river_quay=('warning = "40 %"', 'warning = "5000 %"'),
    )


def test_every_fault_is_told_at_once(run: Run, faulty: Path, rows: Path, tmp_path: Path) -> None:
    code, said = run("check", "--config", faulty)
    assert code == 1
    for name in ("sedge-quay-2.toml", "tavrin-lark.toml", "river-quay.toml"):
        assert name in said
    assert "beem" in said and "5000 %" in said and "040 m" in said
    for verb in (("watch", STAY, "--data", tmp_path / "data"), ("what-if", STAY)):
        code, said_too = run(*verb, "--config", faulty)
        assert code == 2
        assert all(told in said_too for told in ("beem", "5000 %", "040 m"))
    assert not (tmp_path / "data").exists()  # no journal is begun for nothing


def test_off_berth_wind_loads_the_breasts(run: Run, config: Path) -> None:
    """Wind drag by hand: q·A_L·C with the coefficient of a beam wind between 0.6 and 1.1 (Blendermann 1994, all
    merchant types); and the lines square to her side carry it."""
    settings = load_stay(config, STAY)
    at = settings.stay.tended_at
    answer = what_if(settings, at, m_s(25.0), wind_from_deg(settings, "off-berth"), None)
    drag_n = 0.5 * 1.225 * m_s(25.0) ** 2 * settings.ship.windage.lateral_area
    assert 0.6 < answer.wind_load.sway_n / drag_n < 1.1
    assert abs(answer.wind_load.surge_n) < 0.05 * answer.wind_load.sway_n
    breasts = {line.line for line in answer.lines[:4]}
    assert breasts == {"forward breast 1", "forward breast 2", "aft breast 1", "aft breast 2"}
    on = what_if(settings, at, m_s(25.0), wind_from_deg(settings, "on-berth"), None)
    assert on.wind_load.sway_n < -0.6 * drag_n
    assert on.lines[0].tension_n.mid <= answer.lines[0].tension_n.mid  # the fenders take it

    code, said = run("what-if", STAY, "--config", config, "--wind", "25 kn")
    assert code == 0
    assert f"sway {tonnes_force(answer.wind_load.sway_n):+.1f} t (to starboard +)" in said
    assert "wind 25 kn from 310°" in said and "forward breast 1" in said
    assert "Estimates, not measurements" in said


def test_a_large_ship_passes(run: Run, config: Path) -> None:
    """300 m, 90 m off, 8 kn through the water, 25 kn of wind on the beam. By the laws of the flow: force with the
    square of speed, times 1/beta near her to 1/beta³ far off (long waves; 12 m of water), less with distance, her
    heading turns surge round; and surge is carried by the springs."""
    settings = load_stay(config, STAY)
    at, from_deg = settings.stay.tended_at, wind_from_deg(settings, "off-berth")

    def passed(distance_m: float = 90.0, speed_kn: float = 8.0, opposite: bool = False) -> float:
        passer = Passer(300.0, None, None, distance_m, m_s(speed_kn), True, opposite)
        answer = what_if(settings, at, m_s(25.0), from_deg, passer)
        assert answer.passing_peak is not None
        return abs(answer.passing_peak.surge_n)

    beta_4, beta_8 = (math.sqrt(1.0 - m_s(speed_kn) ** 2 / (9.81 * 12.0)) for speed_kn in (4.0, 8.0))
    share = passed(speed_kn=4.0) / passed()
    assert 0.25 * (beta_8 / beta_4) ** 3 < share < 0.25 * (beta_8 / beta_4)
    assert passed(180.0) < 0.7 * passed()
    assert passed(opposite=True) == pytest.approx(passed(), rel=0.1)
    assert 50e3 < passed() < 1500e3

    size = ("--length", "300 m", "--distance", "90 m", "--speed", "8 kn")
    code, said = run("what-if", STAY, "--config", config, "--wind", "25 kn", *size)
    assert code == 0
    assert "Lines at their peak" in said and "speed through the water 8.0 kn" in said
    assert "assumed: kind of ship, beam, draught" in said
    first_rows = said.partition("Lines at their peak")[2][:400]
    assert "spring" in first_rows
    # Against the stream in the fairway she makes more through the water than over ground.
    _, flood = run("what-if", STAY, "--config", config, *size, "--over-ground", "--at", "2026-03-14T11:10")
    _, ebb = run("what-if", STAY, "--config", config, *size, "--over-ground", "--at", "2026-03-14T17:10Z")
    through = [float(re.search(r"through the water ([\d.]+) kn", text)[1]) for text in (flood, ebb)]  # type: ignore[index]
    assert through[0] < 8.0 < through[1]


# --- recordings -------------------------------------------------------------------------------------------------


def test_replay_keep_and_replay_again(run: Run, rows: Path, tmp_path: Path) -> None:
    folder = tmp_path / "kept"
    with open_recording(rows) as recording:
        write_recording(folder, recording.inputs(), name="four minutes", invented=True, holds="a fast ship")
    code, said = run("replay", folder, "--keep")
    assert code == 0 and "Written as the expected conclusions." in said
    assert "REPLAY of four minutes (INVENTED ships, port and events): a fast ship" in said
    assert "ALARM" in said and "ORVANE SUMMIT" in said and "Advice only" in said
    code, said = run("replay", folder, "--brief")
    assert code == 0
    same = re.search(r"The same as recorded: (\d+) transitions, notices and estimates", said)
    assert same is not None and int(same[1]) >= 6

    out = folder / "out.jsonl.gz"
    lines = gzip.decompress(out.read_bytes()).decode().splitlines(keepends=True)
    out.write_bytes(gzip.compress("".join(lines).replace("CLEAR BOTH", "LEAVE BOTH").encode()))
    code, said = run("replay", folder, "--brief")
    assert code == 1 and "DIFFERS from what was recorded in" in said and "LEAVE BOTH" in said


def test_export_and_import_round_trip(run: Run, rows: Path, tmp_path: Path) -> None:
    journal, back, nmea = tmp_path / "watch.journal", tmp_path / "back", tmp_path / "said.nmea"
    code, said = run("import", rows, journal)
    assert code == 0 and "events brought in" in said
    code, said = run("export", journal, back, "--holds", "the same")
    assert code == 0
    for name in ("in.jsonl.gz", "out.jsonl.gz"):
        assert gzip.decompress((back / name).read_bytes()) == gzip.decompress((rows / name).read_bytes())
    code, said = run(
        "export", journal, tmp_path / "part", "--begins", "2026-03-14T12:34", "--ends", "2026-03-14T12:35Z"
    )
    assert code == 0
    with open_recording(tmp_path / "part") as part:
        stamps = [entry.stamped_at for entry in part.inputs()]
    assert stamps[0] >= datetime(2026, 3, 14, 12, 34, tzinfo=UTC) and stamps[-1] < datetime(
        2026, 3, 14, 12, 35, tzinfo=UTC
    )
    code, said = run("export", journal, nmea)
    assert code == 0 and "sentences written" in said
    sentences = [line.rpartition("\\")[2] for line in nmea.read_text("latin-1").splitlines()]
    wind = [pynmea2.parse(line, check=True) for line in sentences if line.startswith("$")]
    assert len(wind) > 100 and any(line.startswith("!AIVDM") for line in sentences)


def test_rehearse_then_replay(run: Run, config: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(script, "MINUTES", 1.0)
    code, said = run("rehearse", STAY, tmp_path / "day", "--config", config)
    assert code == 0 and "INVENTED" in said
    code, said = run("replay", tmp_path / "day", "--brief")
    assert code == 0 and "REPLAY of The invented day (INVENTED" in said


CSV = (
    "MMSI,BaseDateTime,LAT,LON,SOG,COG,Heading,VesselName,IMO,CallSign,VesselType,Status,Length,Width,Draft,Cargo,"
    "TransceiverClass"
)


def test_decoded_rows_imported_and_replayed(run: Run, config: Path, tmp_path: Path) -> None:
    """Three invented ships: one comes down the river past the berth, one lies far off, one out of range."""
    settings = settings_folder(
        config,
        tmp_path / "config",
        **{
            STAY: (
                'carries = "ais"\nover = "tcp"\nto = "127.0.0.1:20110"',
                'carries = "decoded ais csv"\nover = "file"\nto = "rows.csv"',
            )
        },
    )
    lines = [CSV]
    for second in range(0, 301, 10):
        stamp = f"2026-03-14T12:{second // 60:02}:{second % 60:02}"
        along_m = 1500.0 - m_s(10.0) * second  # heads 220: from up river, 140 m off the quay
        north_m, east_m = along_m * 0.76604 - 140.0 * 0.64279, along_m * 0.64279 + 140.0 * 0.76604
        latitude, longitude = -45.0 + north_m / 111130.0, -30.0 + east_m / 78840.0
        lines.append(
            f"200911301,{stamp},{latitude:.5f},{longitude:.5f},10.0,220.0,220,DOVRE TERN,,,70,0,250,40,11.5,70,A"
        )
        lines.append(f"200911302,{stamp},-45.10000,-30.05000,0.0,0.0,511,FERN WHELK,,,80,1,120,18,6.0,80,A")
        lines.append(f"200911303,{stamp},-47.00000,-30.00000,12.0,90.0,90,FAR OFF,,,70,0,120,18,6.0,70,A")
    rows = tmp_path / "rows.csv"
    rows.write_text("\n".join(lines) + "\n")
    recording = tmp_path / "recording"
    asked = ("import", rows, recording, "--config", settings, "--stay", STAY)
    code, said = run(*asked, "--wind", "25 kn from 310 deg")
    assert code == 0 and "62 rows in range, 31 out of range" in said
    code, said = run("replay", recording)
    assert code == 0
    assert "Passing: DOVRE TERN" in said and "FERN WHELK" not in said and "200911302" not in said
    assert "entered by hand" in said

    code, said = run("import", rows, tmp_path / "no")
    assert code == 2 and "name the stay with --stay" in said
    code, said = run(*asked[:2], tmp_path / "no", "--config", config, "--stay", STAY)
    assert code == 2 and 'no feed that carries "decoded ais csv"' in said
    code, said = run(*asked, "--wind", "25 from 310 deg")
    assert code == 2 and "'25': the unit is missing" in said
    code, said = run(*asked)
    assert code == 2 and "is not empty: a recording is never written over" in said
    assert not (tmp_path / "no").exists()


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["wach"], "invalid choice: 'wach'"),
        (["wach"], "nearest: watch"),
        (["drill", STAY, "--to", "x", "--figure", "strucked"], "nearest: struck"),
        *((["replay", "x", f"--pace={pace}"], f"'{pace}' is no pace: write a number above 0") for pace in PACES),
        (["export", "nosuch", "x", "--begins", "10:00"], "'10:00' is no time: write for instance"),
        (["compare", "config", "--measured", "x"], "config is not a whole recording"),
        (["import", RECORDED, "config"], "there is no journal config"),
        (["import", RECORDED, f"config/stays/{STAY}.toml"], "damaged, or never a journal"),
        (
            ["hauling", STAY, "head lin 1"],
            "no line 'head lin 1' aboard, nearest: head line 1; allowed: head line 1,",
        ),
        (["console", RECORDED, "--at", "127.0.0.1:99999"], "'127.0.0.1:99999' is no place to serve at"),
        (["console", RECORDED, "--at", "bridge:8321"], "'bridge:8321' is no place to serve at"),
        ([], "the following arguments are required: VERB"),
        (["watch", "nosuch"], f"no such file allowed: {STAY}"),
        (["replay", "nosuch"], "nosuch is not a whole recording"),
        (["export", "nosuch", "x"], "there is no journal nosuch"),
        (["import", "nosuch", "x"], "nosuch is not a whole recording"),
        (["what-if", STAY, "--wind", "25"], "'25': the unit is missing: write for instance"),
        (["what-if", STAY, "--wind", "25 kn", "--from", "south"], "'south': not a number with a unit"),
        (["what-if", STAY, "--length", "300 m"], "a passing ship needs length, distance and speed"),
        (
            ["what-if", STAY, "--wind", "25 kn", "--from", "400 deg"],
            "'400 deg': a direction lies from 000 deg to 360",
        ),
        (["what-if", STAY, "--wind=-5 kn"], "wind '-5 kn': allowed 0 kn to 150 kn"),
        (["what-if", STAY, *A_SHIP, "--distance=-90 m"], "distance '-90 m': allowed 1 m to 3000 m"),
        (["what-if", STAY, *A_SHIP, "--beam", "12 m"], "beam out of all proportion for a ship of 300 m"),
        (["what-if", STAY, "--draught", "9 m"], "a passing ship needs length, distance and speed"),
        (["what-if", STAY, *A_SHIP, "--channel-section", "0 m^2"], "section '0 m^2': allowed 50 m^2 to"),
        (["what-if", STAY, "--at", "yesterday"], "'yesterday' is no time: write for instance 2026-03-14T10:00Z"),
    ],
)
def test_wrong_arguments_are_told(
    run: Run, config: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], told: str
) -> None:
    (tmp_path / "config").symlink_to(config)
    monkeypatch.chdir(tmp_path)
    code, said = run(*arguments)
    assert code == 2 and told in said
    assert [path.name for path in tmp_path.iterdir()] == ["config"]  # nothing is left behind


def test_what_is_not_known_is_said(run: Run, config: Path) -> None:
    """Loads no model reaches, and a day for which no tide is entered, are told as not known."""
    code, said = run("what-if", STAY, "--config", config, *A_SHIP, "--speed", "35 kn", "--at", "2036-01-01T00:00Z")
    assert code == 0 and "LINE LOADS NOT KNOWN" in said and "too fast for the depth" in said
    code, said = run("what-if", STAY, "--config", config, "--at", "2036-01-01T00:00Z")
    assert code == 0 and "no tide entered for this time" in said and "stream unknown: its load is missing" in said


# --- entries ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("wnd 25 kn", "'wnd' is not known, nearest: wind; allowed: ack, hush, phase, people, wind,"),
        ("phase all fats", "phase 'all fats' is not known, nearest: all fast; allowed: making fast, all fast,"),
        ("people in poop", "write: people on PLACE, or: people off"),
        ("wind 25 from 240", "'25': the unit is missing: write for instance"),
        ("wind 25 kn from 400 deg", "'400 deg': a direction lies from 000 deg to 360 deg"),
        ("wind 32 kn from 240 deg gust 25 kn", "a gust of 25 kn below the mean of 32 kn: exchanged?"),
        ("draught 91 m 9.4 m", "draught, forward: 91.0; allowed: a number from 0.5 to 25"),
        ("draught 19.1 m 9.4 m", "her mean draught would be 14.2 m; allowed: a mean of at most 10.5 m"),
        ("alongside 200933001 -300 m^2", "'-300 m^2': allowed 1 m^2 to 30000 m^2"),
        ("alongside 200911001", "200911001 is our own MMSI"),
        ("alongside 000000000", "'000000000' is no MMSI: nine digits"),
        ("cast off 200933002", "craft alongside '200933002' is not known, nearest: 200933001; now: 200933001"),
        ("line head line 1", "write: line NAME STATE; states: tended, held,"),
        ("line head line 9 parted", "line 'head line 9' is not known, nearest: head line"),
        ("note", "write: note TEXT"),
        ("ack wind", "write: ack ALERT INITIALS; alerts now: Wind now"),
        ("hush squall AB", "alert 'squall' is not known; now: Wind now"),
    ],
)
def test_a_slip_in_an_entry_is_told(config: Path, typed: str, told: str) -> None:
    settings = load_stay(config, STAY)
    lines = [led.line for led in settings.stay.lines]
    with pytest.raises(EntryFault, match=re.escape(told)):
        read_entry(typed, lines, {"wind": "Wind now"}, "AB", settings.ship, [200933001])


def test_entries_without_a_slip(config: Path) -> None:
    """In small letters or capitals, with the signs of the trade; the craft that is there casts off."""
    settings = load_stay(config, STAY)
    for typed, values in {
        "PEOPLE On poop": {"on_deck": True},
        "wind 12 m/s from 360°": {"mean_m_s": 12.0, "from_direction_deg": 0.0},
        "draught 9.1 m 9.4 m": {"forward_m": 9.1, "aft_m": 9.4},
        "cast off 200933001": {"mmsi": 200933001.0, "alongside": False},
        "Alongside 200933001 300 m²": {"mmsi": 200933001.0, "alongside": True, "lateral_area_m2": 300.0},
    }.items():
        assert dict(read_entry(typed, (), (), "AB", settings.ship, [200933001]).values) == values


# --- watch, as a process ----------------------------------------------------------------------------------------

# The program on a PC whose clock is some seconds ahead: for a second watch that begins a while after the first.
LATER = """
import sys
from datetime import datetime, timedelta, UTC
from types import SimpleNamespace
from monitor.base import clock
ahead = timedelta(seconds=float(sys.argv.pop(1)))
clock.datetime = SimpleNamespace(now=lambda zone: datetime.now(zone) + ahead)
from monitor.__main__ import main
sys.exit(main(sys.argv[1:]))
"""


class Process:
    """`watch` as a process, its keyboard and its screen."""

    def __init__(self, settings: Path, data: Path, seconds_ahead: float = 0.0) -> None:
        command = [sys.executable, "-c", LATER, str(seconds_ahead), "watch", STAY]
        self.process = subprocess.Popen(
            [*command, "--config", str(settings), "--data", str(data)],
            stdin=subprocess.PIPE,
            stdout=(data.parent / "screen").open("ab"),
            stderr=subprocess.STDOUT,
            cwd=ROOT,
            env={**os.environ, "COLUMNS": "300"},
        )
        self.journal, self._screen = data / f"{STAY}.journal", data.parent / "screen"

    def types(self, *lines: str) -> None:
        keyboard: IO[bytes] | None = self.process.stdin
        assert keyboard is not None
        keyboard.write("".join(f"{line}\n" for line in lines).encode())
        keyboard.flush()

    @property
    def screen(self) -> str:
        return " ".join(self._screen.read_text("utf-8", "replace").split())

    def until(self, told: str) -> None:
        begun_s = time.perf_counter()
        while told not in self.screen:
            assert self.process.poll() is None and time.perf_counter() - begun_s < 30.0, self.screen[-3000:]
            time.sleep(0.05)

    def ends(self, number: signal.Signals) -> int:
        self.process.send_signal(number)
        assert self.process.stdin is not None
        self.process.stdin.close()
        return self.process.wait(10.0)


@pytest.fixture
def process(config: Path, tmp_path: Path) -> Iterator[Callable[[float], Process]]:
    ports = {"ais": f"127.0.0.1:{free_port()}", "forecast": f"http://127.0.0.1:{free_port()}/compact"}
    settings = settings_folder(config, tmp_path / "config", ports)
    begun: list[Process] = []

    def begin(seconds_ahead: float = 0.0) -> Process:
        begun.append(Process(settings, tmp_path / "data", seconds_ahead))
        return begun[-1]

    yield begin
    for each in begun:
        if each.process.poll() is None:
            each.process.kill()
            each.process.wait()


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL")
def test_typed_entries_a_kill_and_a_second_watch(process: Callable[..., Process]) -> None:
    first = process()
    first.until("Type help and Enter")
    first.types("help", "wind 25 kn from 240 deg gust 32 kn", "wnid 25 kn from 240 deg", "draught 91 m 9.4 m")
    first.until("read off the panel")
    first.until("entered: wind 25 kn from 240 deg gust 32 kn")
    first.until("'wnid' is not known, nearest: wind")
    first.until("allowed: a number from 0.5 to 25")
    first.types("line head line 1 parted")
    first.until("CLEAR BOTH MOORING DECKS AND QUAY EDGE NOW")
    first.types("ack line:head line1 ab", "ack line:head line 1 ab")
    first.until("nearest: Line reported: head line 1")
    first.until("entered: ack line:head line 1 ab")
    time.sleep(1.5)  # a Beat, so that the answer is on the disk
    assert first.ends(signal.SIGKILL) == -signal.SIGKILL
    with JournalReader(first.journal) as reader:
        kept = list(reader.read())
    assert not any(isinstance(entry.record, Stopped) for entry in kept)

    second = process(90.0)
    second.until("Not watching from")
    second.types("people on forecastle", "note all lines looked at")
    second.until("entered: note all lines looked at")
    assert second.ends(signal.SIGINT) == 0
    with JournalReader(second.journal) as reader:
        entries = list(reader.read())
        assert reader.faults() == []
    assert entries[: len(kept)] == kept  # nothing recorded before is lost or changed
    assert isinstance(entries[-1].record, Stopped)
    started = [entry.record for entry in entries if isinstance(entry.record, Started)]
    assert len(started) == 2 and started[1].last_alive_at == kept[-1].stamped_at

    conclusions, comparison = replayed(second.journal)
    assert comparison.differences == []
    assert comparison.same >= 8
    assert transitions(conclusions, "off")[0].priority is Priority.WARNING
    parted = transitions(conclusions, "line:head line 1")
    assert [t.by for t in parted if t.by] == ["AB"]
    told = [conclusion for conclusion in conclusions if isinstance(conclusion, Notice)]
    log = (second.journal.parent / "notices.log").read_text("utf-8")
    assert all(notice.do in log for notice in told)
