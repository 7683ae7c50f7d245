"""A review of what was not known, of craft that cast off, and of a doubled line, against plain arithmetic."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from monitor.outlet.report.words import entry, no_wind
from monitor.records.estimates import Band, LineLoad, LoadEstimate, Validity, WaterEstimate, WindEstimate
from monitor.records.events import (
    Action,
    AlertState,
    OperatorAction,
    Priority,
    Reason,
    SettingsSnapshot,
    Started,
    Transition,
)
from monitor.run.decoded_ais import import_csv
from monitor.run.gather import gather, what_went_on
from monitor.run.journal import Entry
from monitor.run.recollect import Recalled, recollect
from monitor.run.recording import open_recording, write_recording
from monitor.settings.load import _sha256, from_snapshot, load_stay
from monitor.watch.reviewed.blows import blows
from monitor.watch.reviewed.fatigue import lines_seen
from tests.conftest import ROOT
from tests.test_decoded_ais_rows import HEADER, settings_at
from tests.test_drill_and_sheets import STAY

T0 = datetime(2026, 3, 14, 11, 0, tzinfo=UTC)
TUG = 200911003


def estimate(minute: float, wind_m_s: float | None, tension_n: float = 1e5, line: str = "FS1") -> LoadEstimate:
    at = T0 + timedelta(minutes=minute)
    known = None if wind_m_s is None else Band(0.9 * wind_m_s, wind_m_s, 1.1 * wind_m_s)
    carried, used = (Band(*[each] * 3) for each in (tension_n, tension_n / 1e6))
    return LoadEstimate(
        at, WindEstimate(at, known, None, None, None, None, "", None, Validity.GOOD),
        WaterEstimate(at, None, None, None, None, Validity.GOOD), None, None, None,
        (LineLoad(line, "springs", carried, used, 1e6, "working limit"),), (), (), None, None, Validity.GOOD,
    )  # fmt: skip


def test_a_doubled_line_wears_as_a_single_one_under_half_the_load(config: Path) -> None:
    ship = load_stay(config, STAY).ship
    name = ship.lines[0].name
    carried = {line.name: line for line in ship.lines}

    def seen(share: float, parts: int) -> Sequence[float]:
        loads_n = (share * each for each in (1e5, 4e5, 2e5, 5e5, 1e5))
        estimates = [estimate(n, 5.0, load_n, name) for n, load_n in enumerate(loads_n)]
        (line,) = lines_seen(estimates, carried, {name: parts}, [""] * 5)
        return line.damage, line.cycles, line.strength_n / parts

    assert seen(1.0, 2) == pytest.approx(seen(0.5, 1))


def test_a_wind_that_was_not_known_is_not_taken_for_a_calm() -> None:
    dark, light = estimate(0, None), estimate(1, 3.0)
    assert what_went_on([dark, light], [], []) == ["wind not known", "no ship abreast, no wind episode"]


def test_an_alert_on_wind_that_nobody_ends_stands_to_the_last_estimate() -> None:
    raised = Transition(
        T0, "wind", AlertState.NORMAL, AlertState.UNACKNOWLEDGED, Priority.WARNING, False, Reason.RAISED
    )
    (blow,) = blows([estimate(n, 8.0 + n) for n in range(5)], [raised], [], lambda at: 30.0)
    assert (blow.begins, blow.ends, blow.speed_30s_m_s.mid) == (T0, T0 + timedelta(minutes=4), 12.0)


@pytest.fixture(scope="module")
def passer(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ship past the berth at 10 kn, by AIS alone."""
    folder = tmp_path_factory.mktemp("passer")
    settings = settings_at(ROOT / "config", folder / "config")
    berth, rows = from_snapshot(settings).berth, [HEADER]
    for second in range(0, 240, 10):
        latitude = berth.position.latitude - 0.0055 + 0.0000463 * second
        rows.append(
            f"{TUG},{T0 + timedelta(seconds=second):%Y-%m-%dT%H:%M:%S},{latitude:.5f},"
            f"{berth.position.longitude + 0.004:.5f},10.0,0.0,0,INVENTED PASSER,,,70,0,150,22,7.0,70,A"
        )
    (folder / "rows.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    import_csv(folder / "rows.csv", settings, folder / "day", name="rows", invented=True, holds="one ship")
    return folder / "day"


def told(passer: Path, to: Path, *alongside: bool, again: bool = False) -> Recalled:
    """The same with entries of craft made fast and cast off at its start, and once more a start if asked."""
    with open_recording(passer) as recording:
        entries = list(recording.inputs())
    (snapshot,) = (each for each in entries if each.kind == "SettingsSnapshot")
    start = next(n for n, each in enumerate(entries) if each.kind == "Started")
    at = entries[start].stamped_at
    made = [
        Entry.of(0, at, "in", OperatorAction("AB", Action.CRAFT, "", (("mmsi", float(TUG)), ("alongside", each))))
        for each in alongside
    ]
    if again:
        taken = snapshot.record
        assert isinstance(taken, SettingsSnapshot)
        files = tuple((name, f"# changed\n{text}") for name, text in taken.files)
        other = replace(taken, files=files, sha256=_sha256(files))
        made += [Entry.of(0, at, "in", other), Entry.of(0, at, "in", Started("1"))]
    write_recording(to, [*entries[: start + 1], *made, *entries[start + 1 :]], name="x", invented=True, holds="")
    with open_recording(to) as recording:
        recalled = recollect(recording)
        assert no_wind(gather(recording, recalled)) == "The wind was not known at any time."
    return recalled


def test_craft_alongside_are_no_passing_ships_until_they_cast_off(passer: Path, tmp_path: Path) -> None:
    assert TUG in told(passer, tmp_path / "a").near
    assert TUG not in told(passer, tmp_path / "b", True).near
    assert TUG in told(passer, tmp_path / "c", True, False).near
    assert TUG not in told(passer, tmp_path / "d", True, again=True).near


def test_an_entry_tells_fast_from_cast_off() -> None:
    fast, off = (
        entry(OperatorAction("AB", Action.CRAFT, "", (("mmsi", float(TUG)), ("alongside", alongside))))
        for alongside in (True, False)
    )
    assert fast.endswith("alongside") and off.endswith("cast off")
