"""Every fault of shape and name in its exact words: people meet these texts at the quay, tired and in a hurry."""

from __future__ import annotations

from pathlib import Path

import pytest

from monitor.settings.load import SettingsFault, check_all, load_stay
from tests.settings_texts import (
    ALERTS_FILE,
    BERTH_FILE,
    GOOD,
    NAME,
    SHIP_FILE,
    STAY_FILE,
    changed,
    faults_of,
    write,
)


def test_the_good_set_has_no_fault(tmp_path: Path) -> None:
    assert faults_of(tmp_path, GOOD) == ""
    assert check_all(tmp_path / "config") == []


def test_the_first_line_counts_the_faults(tmp_path: Path) -> None:
    config = write(tmp_path / "config", changed(SHIP_FILE, 'beam = "14 m"', 'beem = "14 m"'))
    with pytest.raises(SettingsFault, match=r"^2 faults in the settings\n\n"):
        load_stay(config, NAME)
    with pytest.raises(SettingsFault, match=r"^1 fault in the settings\n\n"):
        load_stay(config, "nothing")


@pytest.mark.parametrize(
    ("file", "old", "new", "told"),
    [
        (
            SHIP_FILE,
            'render = "180 kN"',
            'rendr = "180 kN"',
            """\
config/ships/plover.toml, line 35: winches[1] "W1".render
  problem: missing
  allowed: 1 kN to 10 000 kN, or "unknown"

config/ships/plover.toml, line 38: winches[1] "W1".rendr
  written: "180 kN"
  problem: unknown key
  allowed: name, kind, render, swl, brake_condition, layers_below
  nearest: render""",
        ),
        (
            BERTH_FILE,
            'width = "150 m"',
            'width = "150 m"\ncolour = "red"',
            """\
config/berths/coal-steps.toml, line 57: fairway.colour
  written: "red"
  problem: unknown key
  allowed: width, depth, middle, section""",
        ),
        (
            SHIP_FILE,
            "mmsi = 200912345",
            'mmsi = "200912345"',
            """\
config/ships/plover.toml, line 3: mmsi
  written: "200912345"
  problem: not a whole number
  allowed: a whole number, 200000000 to 799999999, without quotes""",
        ),
        (
            SHIP_FILE,
            "mmsi = 200912345",
            "mmsi = 12",
            """\
config/ships/plover.toml, line 3: mmsi
  written: 12
  problem: out of range
  allowed: a whole number, 200000000 to 799999999, without quotes""",
        ),
        (
            SHIP_FILE,
            "invented = true",
            'invented = "yes"',
            """\
config/ships/plover.toml, line 2: invented
  written: "yes"
  problem: neither true nor false
  allowed: true or false, without quotes""",
        ),
        (
            SHIP_FILE,
            'name = "Plover Reach"',
            'name = ""',
            """\
config/ships/plover.toml, line 1: name
  written: ""
  problem: empty, too long, more than one line, or blanks round it
  allowed: a line of text, 1 to 60 characters""",
        ),
        (
            SHIP_FILE,
            'summer_draught = "5.5 m"',
            'summer_draught = "5.5 t"',
            """\
config/ships/plover.toml, line 8: summer_draught
  written: "5.5 t"
  problem: 't' measures something else: write for instance "12.5 m"
  allowed: 0.5 m to 25 m""",
        ),
        (
            SHIP_FILE,
            'block_coefficient = "unknown"',
            'block_coefficient = "not known"',
            """\
config/ships/plover.toml, line 9: block_coefficient
  written: "not known"
  problem: not a number with a unit: write for instance "60 %"
  allowed: 35 % to 95 %, or "unknown\"""",
        ),
        (
            SHIP_FILE,
            'frontal_area = "180 m^2"\n',
            "",
            """\
config/ships/plover.toml, line 12: windage.frontal_area
  problem: missing
  allowed: 10 m^2 to 30000 m^2, or "unknown\"""",
        ),
        (
            SHIP_FILE,
            '["2 %", "4 %", "5 %", "6 %", "7 %"]',
            '["2 %", "4 %"]',
            """\
config/ships/plover.toml, line 58: lines[1] "H1".strains[3]
  problem: missing
  allowed: 0 % to 100 %

config/ships/plover.toml, line 58: lines[1] "H1".strains[4]
  problem: missing
  allowed: 0 % to 100 %

config/ships/plover.toml, line 58: lines[1] "H1".strains[5]
  problem: missing
  allowed: 0 % to 100 %""",
        ),
        (
            SHIP_FILE,
            'name = "F2"',
            'name = "F1"',
            """\
config/ships/plover.toml, line 29: fairleads[2] "F1".name
  written: "F1"
  problem: the same as in fairleads[1]

config/ships/plover.toml, line 55: lines[1] "H1".fairlead
  written: "F1"
  problem: not forward of midships
  allowed: a fairlead forward of midships for head lines

config/ships/plover.toml, line 68: lines[2] "S1".fairlead
  written: "F2"
  problem: no fairlead of this name in the file
  allowed: F1
  nearest: F1""",
        ),
        (
            SHIP_FILE,
            'winch = "W2"',
            'winch = "w9"',
            """\
config/ships/plover.toml, line 69: lines[2] "S1".winch
  written: "w9"
  problem: no winch or bitts of this name in the file
  allowed: W1, W2
  nearest: W2""",
        ),
        (
            BERTH_FILE,
            'name = "B2"',
            'name = "B1"',
            """\
config/stays/plover-coal-steps.toml, line 16: lines[1] "H1".bollard
  written: "B2"
  problem: no bollard of this name in config/berths/coal-steps.toml
  allowed: B1
  nearest: B1

config/stays/plover-coal-steps.toml, line 21: lines[2] "S1".bollard
  written: "B1"
  problem: forward of midships: no place for stern lines
  allowed: another bollard, side_to or midships_along

config/berths/coal-steps.toml, line 23: bollards[2] "B1".name
  written: "B1"
  problem: the same as in bollards[1]""",
        ),
        (
            BERTH_FILE,
            'kind = "solid wall"',
            'kind = "wall"',
            """\
config/berths/coal-steps.toml, line 10: quay.kind
  written: "wall"
  problem: none of the words allowed here
  allowed: solid wall, piled, slip with more walls
  nearest: solid wall""",
        ),
        (
            BERTH_FILE,
            "hours_from_high_water = 6.5",
            'hours_from_high_water = "6.5"',
            """\
config/berths/coal-steps.toml, line 50: stream[2].hours_from_high_water
  written: "6.5"
  problem: not a number
  allowed: a number, -8 to 8, without quotes""",
        ),
        (
            BERTH_FILE,
            'leave = "not entered"',
            'leave = { speed = "40 kn", on = "gusts", averaging = "3 s", source = "x" }',
            """\
config/berths/coal-steps.toml, line 67: limits.leave.on
  written: "gusts"
  problem: none of the words allowed here
  allowed: gust, mean
  nearest: gust""",
        ),
        (
            STAY_FILE,
            'ship = "plover"',
            'ship = "plover.toml"',
            """\
config/stays/plover-coal-steps.toml, line 3: ship
  written: "plover.toml"
  problem: no such file in config/ships
  allowed: plover
  nearest: plover""",
        ),
        (
            STAY_FILE,
            'line = "S1"',
            'line = "H1"',
            """\
config/stays/plover-coal-steps.toml, line 20: lines[2] "H1".line
  written: "H1"
  problem: the same as in lines[1]

config/stays/plover-coal-steps.toml, line 21: lines[2] "H1".bollard
  written: "B1"
  problem: aft of midships: no place for head lines
  allowed: another bollard, side_to or midships_along""",
        ),
        (
            STAY_FILE,
            'line = "S1"',
            'line = "S2"',
            """\
config/stays/plover-coal-steps.toml, line 20: lines[2] "S2".line
  written: "S2"
  problem: no line of this name in config/ships/plover.toml
  allowed: H1, S1
  nearest: S1""",
        ),
        (
            STAY_FILE,
            'bollard = "B1"',
            'bollard = "B11"',
            """\
config/stays/plover-coal-steps.toml, line 21: lines[2] "S1".bollard
  written: "B11"
  problem: no bollard of this name in config/berths/coal-steps.toml
  allowed: B1, B2
  nearest: B1""",
        ),
        (
            STAY_FILE,
            "tended_at = 2031-05-04T05:00:00Z",
            'tended_at = "2031-05-04 05:00"',
            """\
config/stays/plover-coal-steps.toml, line 10: tended_at
  written: "2031-05-04 05:00"
  problem: not a date and time
  allowed: day, time and zone without quotes, for instance 2031-05-04T06:12:00Z""",
        ),
        (
            STAY_FILE,
            'water = "low"',
            'water = "high"',
            """\
config/stays/plover-coal-steps.toml, line 32: tide[2].water
  written: "high"
  problem: two high waters in a row: leave a row out of a double tide, or enter the one missing

config/stays/plover-coal-steps.toml, line 37: tide[3].water
  written: "high"
  problem: two high waters in a row: leave a row out of a double tide, or enter the one missing""",
        ),
        (
            STAY_FILE,
            'name = "forecast"',
            'name = "ais"',
            """\
config/stays/plover-coal-steps.toml, line 55: feeds[3] "ais".name
  written: "ais"
  problem: the same as in feeds[1]

config/stays/plover-coal-steps.toml, line 64: wind.order[3]
  written: "forecast"
  problem: no feed of this name
  allowed: ais, anemometer, entered""",
        ),
        (
            STAY_FILE,
            'name = "forecast"',
            'name = "entered"',
            """\
config/stays/plover-coal-steps.toml, line 55: feeds[3] "entered".name
  written: "entered"
  problem: "entered" stands for the wind typed in: name the feed otherwise

config/stays/plover-coal-steps.toml, line 64: wind.order[3]
  written: "forecast"
  problem: no feed of this name
  allowed: ais, anemometer, entered""",
        ),
        (
            STAY_FILE,
            '"entered", "forecast"',
            '"entered", "entered"',
            """\
config/stays/plover-coal-steps.toml, line 64: wind.order[3]
  written: "entered"
  problem: stands here twice""",
        ),
        (
            STAY_FILE,
            'local_time_ahead_of_utc = "-2 h"',
            'local_time_ahead_of_utc = "-20 h"',
            """\
config/stays/plover-coal-steps.toml, line 12: local_time_ahead_of_utc
  written: "-20 h"
  problem: out of range
  allowed: -12 h to 14 h""",
        ),
        (
            ALERTS_FILE,
            'rise = "5 kn/min"',
            'rise = "5 kn"',
            """\
config/alerts/plain.toml, line 15: squall.rise
  written: "5 kn"
  problem: 'kn' measures something else: write for instance "10 kn/min"
  allowed: 0.6 kn/min to 116 kn/min""",
        ),
        (
            SHIP_FILE,
            'strains = ["2 %"',
            'strains = "2 %" #',
            """\
config/ships/plover.toml, line 58: lines[1] "H1".strains
  written: "2 %"
  problem: not a list of 5
  allowed: a list of 5""",
        ),
        (
            SHIP_FILE,
            "tail = {",
            "tail = 3 #",
            """\
config/ships/plover.toml, line 71: lines[2] "S1".tail
  written: 3
  problem: not a table
  allowed: a table""",
        ),
        (
            STAY_FILE,
            'phase = "all fast"',
            'phase = "All Fast"',
            """\
config/stays/plover-coal-steps.toml, line 11: phase
  written: "All Fast"
  problem: none of the words allowed here
  allowed: making fast, all fast, tending, shifting, singling up, gone
  nearest: all fast""",
        ),
        (
            STAY_FILE,
            "2031-05-04T07:10:00Z",
            "2031-05-04",
            """\
config/stays/plover-coal-steps.toml, line 30: tide[2].at
  written: 2031-05-04
  problem: not a date and time
  allowed: day, time and zone without quotes, for instance 2031-05-04T06:12:00Z""",
        ),
        (
            STAY_FILE,
            "2031-05-04T07:10:00Z",
            "2031-05-04T07:10:00",
            """\
config/stays/plover-coal-steps.toml, line 30: tide[2].at
  written: 2031-05-04T07:10:00
  problem: the zone is missing
  allowed: day, time and zone without quotes, for instance 2031-05-04T06:12:00Z""",
        ),
        (
            BERTH_FILE,
            'along = "090 deg"',
            'along = "25 %"',
            """\
config/berths/coal-steps.toml, line 5: along
  written: "25 %"
  problem: '%' measures something else: write for instance "040 deg"
  allowed: 000 deg to 360 deg, true""",
        ),
        (
            BERTH_FILE,
            'disconnect = "not entered"',
            'disconnect = "none"',
            """\
config/berths/coal-steps.toml, line 65: limits.disconnect
  written: "none"
  problem: not a table
  allowed: for instance { speed = "35 kn", on = "gust", averaging = "3 s", source = "terminal handbook" }, \
or "not entered\"""",
        ),
        (
            SHIP_FILE,
            'depth_moulded = "8 m"',
            "depth_moulded = 8",
            """\
config/ships/plover.toml, line 7: depth_moulded
  written: 8
  problem: write the number with its unit in quotes, for instance "12.5 m"
  allowed: 1 m to 60 m""",
        ),
        (
            SHIP_FILE,
            'loa = "90 m"',
            'loa = "90"',
            """\
config/ships/plover.toml, line 4: loa
  written: "90"
  problem: the unit is missing: write for instance "12.5 m"
  allowed: 1 m to 500 m""",
        ),
    ],
)
def test_a_slip_is_told_in_these_words(tmp_path: Path, file: str, old: str, new: str, told: str) -> None:
    assert faults_of(tmp_path, changed(file, old, new)) == told


ALL_AT_ONCE = """\
config/stays/plover-coal-steps.toml, line 7: midships_along
  written: 5
  problem: write the number with its unit in quotes, for instance "12.5 m"
  allowed: -600 m to 2000 m

config/stays/plover-coal-steps.toml, line 16: lines[1] "H1".bollard
  written: "B22"
  problem: no bollard of this name in config/berths/coal-steps.toml
  allowed: B1, B2
  nearest: B2

config/ships/plover.toml: beam
  problem: missing
  allowed: 3 m to 75 m

config/ships/plover.toml, line 69: lines[2] "S1".winch
  written: "W3"
  problem: no winch or bitts of this name in the file
  allowed: W1, W2
  nearest: W2

config/berths/coal-steps.toml, line 7: exposure
  written: "offland"
  problem: none of the words allowed here
  allowed: in-land, off-land, off-sea, at-sea
  nearest: off-land

config/alerts/plain.toml, line 20: timing.clear_after
  written: "3"
  problem: the unit is missing: write for instance "10 min" or "30 s"
  allowed: 0 s to 24 h"""


def test_a_table_of_ships_carries_no_wind_but_a_line_with_ais_on_it_may(tmp_path: Path) -> None:
    """Multiplexers put every instrument on one line: the log of Harlingen has AIS, wind and position in one."""
    files = changed(STAY_FILE, '"entered", "forecast"', '"entered", "ais"')
    load_stay(write(tmp_path / "line", files), NAME)
    table = 'carries = "decoded ais csv"\nover = "file"\nto = "rows.csv"\nstale_after = "60 s"\n'
    of_line = 'carries = "ais"\nover = "serial"\nto = "/dev/ttyUSB0"\nstale_after = "60 s"\nbaud = 38400\n'
    with pytest.raises(SettingsFault, match="a table of ships carries no wind"):
        load_stay(write(tmp_path / "table", changed(STAY_FILE, of_line, table, files)), NAME)


def test_all_faults_of_all_files_are_told_at_once_also_wrong_names_in_files_with_other_faults(
    tmp_path: Path,
) -> None:
    files = changed(STAY_FILE, 'midships_along = "5 m"', "midships_along = 5")
    files = changed(STAY_FILE, 'bollard = "B2"', 'bollard = "B22"', files)
    files = changed(SHIP_FILE, 'beam = "14 m"\n', "\n", files)
    files = changed(SHIP_FILE, 'winch = "W2"', 'winch = "W3"', files)
    files = changed(BERTH_FILE, '"off-land"', '"offland"', files)
    files = changed(ALERTS_FILE, 'clear_after = "3 min"', 'clear_after = "3"', files)
    assert faults_of(tmp_path, files) == ALL_AT_ONCE


def test_a_fault_of_the_shape_hides_no_other(tmp_path: Path) -> None:
    """Of the same file or of what does not fit between files; and it brings none along: her beam bears on much."""
    files = changed(SHIP_FILE, 'beam = "14 m"', 'beam = "14"')
    files = changed(SHIP_FILE, 'summer_draught = "5.5 m"', 'summer_draught = "9 m"\ncolour = "red"', files)
    files = changed(SHIP_FILE, "[windage]", "[windages]", files)
    files = changed(STAY_FILE, 'water = "low"', 'water = "ebb"', files)
    files = changed(STAY_FILE, 'pretension = "20 kN"', 'pretension = "200 kN"', files)
    files = changed(BERTH_FILE, 'behind_face = "1 m"', 'behind_face = "1"', files)
    told = [line for line in faults_of(tmp_path, files).splitlines() if line.startswith("config/")]
    assert told == [
        'config/stays/plover-coal-steps.toml, line 17: lines[1] "H1".pretension',
        "config/stays/plover-coal-steps.toml, line 32: tide[2].water",
        "config/ships/plover.toml: windage",
        "config/ships/plover.toml, line 6: beam",
        "config/ships/plover.toml, line 8: summer_draught",
        "config/ships/plover.toml, line 9: colour",
        "config/ships/plover.toml, line 13: windages",
        'config/berths/coal-steps.toml, line 18: bollards[1] "B1".behind_face',
    ]


@pytest.mark.parametrize("path", GOOD)
def test_what_cannot_be_read_is_told_alone(tmp_path: Path, path: str) -> None:
    """Whichever value it is, a name apart, that others stand for: no fault is told that goes with the first."""
    lines = GOOD[path].splitlines(keepends=True)
    for number, line in enumerate(lines, 1):
        key, equals, _ = line.partition(" = ")
        if equals and key not in ("name", "middle") and not key.startswith(" "):
            broken = "".join([*lines[: number - 1], f"{key} = [3]\n", *lines[number:]])
            told = [row for row in faults_of(tmp_path, {**GOOD, path: broken}).splitlines() if row[:1] == "c"]
            assert told and all(row.startswith(f"config/{path}, line {number}: ") for row in told)


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "config/ships/plover.toml\n  problem: the file is empty"),
        (b" \n\n", "config/ships/plover.toml\n  problem: the file is empty"),
        (
            b'name = "a"\nloa = \n',
            "config/ships/plover.toml, line 2\n  problem: not TOML: no value: write texts and quantities in "
            "straight quotes, column 7",
        ),
        (
            b'name = "a"\nname = "b"\n',
            "config/ships/plover.toml, line 2\n  problem: not TOML: this key stands here twice, column 11",
        ),
        (
            b'name = "a\nloa = "9 m"\n',
            "config/ships/plover.toml, line 1\n  problem: not TOML: a quote is not closed on this line, column 10",
        ),
        (
            b"loa = 199.9 m\n",
            "config/ships/plover.toml, line 1\n  problem: not TOML: more than one value: are quotes missing?, "
            "column 13",
        ),
        (
            b'\xef\xbb\xbfname = "a"\n',
            "config/ships/plover.toml, line 1\n  problem: the file begins with a byte order mark\n"
            "  allowed: text in UTF-8 without one",
        ),
        (
            'name = "a"\n'.encode("utf-16"),
            "config/ships/plover.toml\n  problem: the file is UTF-16\n"
            "  allowed: text in UTF-8 without a byte order mark",
        ),
        (
            '# a\nname = "Ærø"\n'.encode("latin-1"),
            "config/ships/plover.toml, line 2\n  problem: byte 12 is not UTF-8\n  allowed: text in UTF-8",
        ),
        (b"a = " + b"[" * 5000, "config/ships/plover.toml\n  problem: lists or tables nested too deep"),
        (b"#" * 1_000_001, "config/ships/plover.toml\n  problem: cannot be read: larger than 1000000 bytes"),
    ],
)
def test_a_file_that_is_no_toml(tmp_path: Path, content: bytes, told: str) -> None:
    files = {path: text.encode() for path, text in GOOD.items()}
    assert faults_of(tmp_path, files | {SHIP_FILE: content}) == told


def test_a_number_of_ten_thousand_digits_is_a_fault_and_no_crash(tmp_path: Path) -> None:
    told = faults_of(tmp_path, changed(SHIP_FILE, "mmsi = 200912345", "mmsi = " + "9" * 10_000))
    assert told.startswith("config/ships/plover.toml\n  problem: not TOML: Exceeds the limit")


def test_a_folder_in_the_place_of_a_file(tmp_path: Path) -> None:
    write(tmp_path / "config", {path: text for path, text in GOOD.items() if path != SHIP_FILE})
    (tmp_path / "config" / SHIP_FILE).mkdir(parents=True)
    assert faults_of(tmp_path, {}).startswith("config/ships/plover.toml\n  problem: cannot be read: ")


def test_a_stay_that_is_not_there_gets_the_nearest_name(tmp_path: Path) -> None:
    assert faults_of(tmp_path, GOOD, stay="plover-coal-stairs") == (
        "config/stays/plover-coal-stairs.toml\n  problem: no such file\n"
        "  allowed: plover-coal-steps\n  nearest: plover-coal-steps"
    )


def test_a_path_is_no_name_of_a_stay(tmp_path: Path) -> None:
    told = faults_of(tmp_path, GOOD, stay="../stays/plover-coal-steps")
    assert "problem: no such file" in told


def test_no_settings_folder_at_all(tmp_path: Path) -> None:
    missing = "no such folder, or no .toml file in it"
    assert faults_of(tmp_path, {}) == f"config/stays\n  problem: {missing}"
    told = [str(fault) for fault in check_all(tmp_path / "config")]
    folders = [(tmp_path / "config" / folder).as_posix() for folder in ("stays", "ships", "berths", "alerts")]
    assert told == [f"{folder}\n  problem: {missing}" for folder in folders]


def test_check_all_also_reads_files_that_no_stay_uses_and_tells_each_fault_once(tmp_path: Path) -> None:
    second_stay = GOOD[STAY_FILE].replace('bollard = "B1"', 'bollard = "B3"')
    broken_ship = changed(SHIP_FILE, 'loa = "90 m"', 'loa = "90 kn"')
    files = broken_ship | {"stays/second.toml": second_stay, "alerts/unused.toml": "name = 3\n"}
    config = write(tmp_path / "config", files)
    places = [(Path(fault.file).name, fault.key) for fault in check_all(config)]
    assert places.count(("plover.toml", "loa")) == 1
    assert ("second.toml", 'lines[2] "S1".bollard') in places
    assert ("unused.toml", "name") in places
    assert ("unused.toml", "timing") in places
