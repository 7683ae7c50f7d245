"""The files we ship load without a fault, show every key there is, and go through a journal unchanged."""

from __future__ import annotations

import dataclasses
import hashlib
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args, get_origin

import pytest

from monitor.records.codec import decode, encode
from monitor.records.events import SettingsSnapshot
from monitor.settings.assumed import assumptions
from monitor.settings.load import SettingsFault, check_all, from_snapshot, load_stay, snapshot
from monitor.settings.schema import Alerts, Berth, Ship, Stay, Strict
from monitor.settings.shape import keys, opened
from tests.conftest import ROOT
from tests.settings_texts import BERTH_FILE, GOOD, NAME, SHIP_FILE, STAY_FILE, changed, write

IN_COMMENTS = {("Feed", "baud"), ("Feed", "station")}
IN_COMMENTS |= {("LineLed", "sensor"), ("LineLed", "sensor_reads"), ("LineLed", "parts")}
IN_COMMENTS |= {("Alerts", "channels"), ("Alerts", "bridge_alerts"), ("DeadMan", "ping")}
IN_COMMENTS |= {("Channel", key) for key in ("name", "tells", "at_most_an_hour", "unacknowledged_for")}
IN_COMMENTS |= {("Fairway", "section"), ("Section", "width"), ("Section", "mean_depth")}
IN_COMMENTS |= {("BridgeAlerts", key) for key in ("to", "talker", "maker")}
STAYS = sorted(path.stem for path in (ROOT / "config" / "stays").glob("*.toml"))


def test_something_is_shipped() -> None:
    assert STAYS


def test_every_shipped_file_is_without_fault(config: Path) -> None:
    assert [str(fault) for fault in check_all(config)] == []


@pytest.mark.parametrize("stay", STAYS)
def test_every_shipped_file_is_invented_and_says_so(config: Path, stay: str) -> None:
    """Country code 200 is given to nobody in the ITU table of maritime identification digits (from memory)."""
    settings = load_stay(config, stay)
    assert settings.ship.invented and settings.berth.invented and settings.stay.invented
    assert str(settings.ship.mmsi).startswith("200")


def _tables(model: type[Strict]) -> Iterator[type[Strict]]:
    """A table and all that it may hold."""
    yield model
    for hint in keys(model).values():
        if inner := _table(hint):
            yield from _tables(inner)


def _table(hint: Any) -> type[Strict] | None:
    """The table that a key holds, alone or in a list."""
    core, _ = opened(hint)
    if get_origin(core) is tuple:
        core, _ = opened(get_args(core)[0])
    return core if isinstance(core, type) and issubclass(core, Strict) else None


def _shown(model: type[Strict], tree: Any) -> Iterator[tuple[str, str]]:
    """(table, key) of all that is written in a tree."""
    for table in tree if isinstance(tree, list) else [tree]:
        for key, value in table.items() if isinstance(table, dict) else ():
            yield model.__name__, key
            if inner := _table(keys(model)[key]):
                yield from _shown(inner, value)


@pytest.mark.parametrize(
    ("folder", "model"), [("ships", Ship), ("berths", Berth), ("stays", Stay), ("alerts", Alerts)]
)
def test_the_shipped_files_show_every_key_there_is(config: Path, folder: str, model: type[Strict]) -> None:
    """Keys of what is not everywhere (a serial port, a station, a force sensor, ...) may stand in a comment."""
    texts = [path.read_text(encoding="utf-8") for path in (config / folder).glob("*.toml")]
    shown = {pair for text in texts for pair in _shown(model, tomllib.loads(text))}
    shown |= {
        pair
        for pair in IN_COMMENTS
        if any(re.search(rf"# .*(\b{pair[1]} = |\[{pair[1]}\])", text) for text in texts)
    }
    assert {(table.__name__, key) for table in _tables(model) for key in keys(table)} - shown == set()


@pytest.mark.parametrize("stay", STAYS)
def test_a_journal_gives_back_what_was_loaded(config: Path, stay: str) -> None:
    taken = snapshot(config, stay)
    again = decode(*encode(taken))
    assert again == taken and isinstance(again, SettingsSnapshot)
    assert from_snapshot(again) == load_stay(config, stay)
    assert [path.partition("/")[0] for path, _ in taken.files] == ["stays", "ships", "berths", "alerts"]


def test_a_snapshot_keeps_the_texts_byte_for_byte(tmp_path: Path) -> None:
    files = {path: text.replace("\n", "\r\n") + "# für später ⚓\r\n" for path, text in GOOD.items()}
    taken = snapshot(write(tmp_path, files), NAME)
    assert dict(taken.files) == files
    assert from_snapshot(taken) == load_stay(tmp_path, NAME)


def test_two_snapshots_have_one_sum_when_and_only_when_their_files_agree(tmp_path: Path) -> None:
    one = snapshot(write(tmp_path / "a", GOOD), NAME)
    same = snapshot(write(tmp_path / "b", GOOD), NAME)
    other = snapshot(write(tmp_path / "c", changed(SHIP_FILE, 'beam = "14 m"', 'beam = "14.0 m"')), NAME)
    assert one == same
    assert one.sha256 == sha256(one.files) != other.sha256


def sha256(files: tuple[tuple[str, str], ...]) -> str:
    """As `snapshot` says: of all paths and texts in their order, a zero byte between."""
    return hashlib.sha256("\0".join(part for file in files for part in file).encode()).hexdigest()


def test_a_damaged_copy_is_refused(tmp_path: Path) -> None:
    taken = snapshot(write(tmp_path, GOOD), NAME)
    files = tuple((path, text.replace('"90 m"', '"91 m"')) for path, text in taken.files)
    with pytest.raises(SettingsFault, match=r"the journal's copy of the settings\n  problem: damaged"):
        from_snapshot(dataclasses.replace(taken, files=files))


def test_faults_of_a_copy_name_the_copy(tmp_path: Path) -> None:
    """A journal of another version, say: whole, but with a key that this version does not know."""
    broken = snapshot(write(tmp_path, GOOD), NAME).files
    files = tuple((path, "colour = 3\n" + text if path == SHIP_FILE else text) for path, text in broken)
    with pytest.raises(SettingsFault) as raised:
        from_snapshot(SettingsSnapshot(files, NAME, sha256(files)))
    (fault,) = raised.value.faults
    assert (fault.file, fault.line, fault.key) == ("ships/plover.toml (the journal's copy)", 1, "colour")


def test_a_copy_without_a_file_is_a_fault(tmp_path: Path) -> None:
    files = tuple(file for file in snapshot(write(tmp_path, GOOD), NAME).files if file[0] != SHIP_FILE)
    with pytest.raises(SettingsFault, match=r"ship\n  written: \"plover\"\n  problem: no such file in ships"):
        from_snapshot(SettingsSnapshot(files, NAME, sha256(files)))


def test_what_is_taken_for_granted_is_said(tmp_path: Path) -> None:
    settings = load_stay(write(tmp_path, GOOD), NAME)
    assert assumptions(settings) == (
        "block coefficient unknown: the usual one of her type is taken",
        "line S1: no certificate strains; usual curve of HMPE (from memory)",
        "tail of line S1: usual curve of polyester (from memory)",
        "line H1: no tail entered; taken to have none",
        "lines H1, S1: turn at the fairlead unknown; friction there is left out",
        "SWL unknown: fairlead F2, bollard B2",
        "brake not tested: drum W1; it renders within a wider band (ours)",
        "layers of line unknown: drum W1; one to three are reckoned with",
        "berth limits not entered: disconnect, call tugs, leave",
        "section of the channel not entered: far bank, drawdown and return flow unknown",
        "deck plans not entered: whole decks marked, worst places of a parted line unknown",
        "places of people on the quay not entered: the whole quay edge is marked",
    )


def test_nothing_is_said_of_what_is_known(tmp_path: Path) -> None:
    files = changed(SHIP_FILE, 'block_coefficient = "unknown"', 'block_coefficient = "70 %"')
    files = changed(SHIP_FILE, 'render = "180 kN"', 'render = "unknown"', files)
    files = changed(BERTH_FILE, 'rated_deflection = "50 %"', 'rated_deflection = "unknown"', files)
    told = assumptions(load_stay(write(tmp_path, files), NAME))
    assert not any("block coefficient" in text for text in told)
    assert "brake setting unknown: drum W1" in told
    assert any("rating of fender K1" in text for text in told)
    assert not any("no longer heard" in text for text in told)
    deaf = changed(STAY_FILE, 'carries = "ais"', 'carries = "nmea"')
    assert any("no longer heard" in text for text in assumptions(load_stay(write(tmp_path / "deaf", deaf), NAME)))
