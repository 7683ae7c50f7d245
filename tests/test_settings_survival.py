"""Whatever becomes of the shipped files, loading them gives settings or a SettingsFault, never another error."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.settings.assumed import assumptions
from monitor.settings.load import SettingsFault, check_all, from_snapshot, load_stay, snapshot
from tests.conftest import ROOT
from tests.settings_texts import GOOD, NAME, write

SHIPPED = {p.relative_to(ROOT / "config").as_posix(): p.read_text() for p in sorted(ROOT.glob("config/*/*.toml"))}
SETS = {NAME: GOOD} | {Path(p).stem: SHIPPED for p in SHIPPED if p.startswith("stays/")}

# What people and broken disks put in the place of a value.
VALUES = st.sampled_from([
    '""', '" "', "0", "-1", "3.7", "nan", "-inf", "1e400", "true", "[]", "[[]]", "{}", "[{}]", "{ name = 3 }",
    "[1, 'a', {}]", '"unknown"', '"not entered"', '"12"', '"12 m"', '"-12 m"', '"1e308 m"', '"12 kn"', '"12 %"',
    '"12 deg"', '"12 m**9**9**9"', '"12 (m"', '"12 m/0"', '"\\u0000"', '"\\U0001F6A2"', '"🚢"', "'''a\nb'''",
    '"""a\\\n  b"""', '"12 m\\u0009"', "2031-02-03", "2031-02-03T04:05:06", "0001-01-01T00:00:00+23:59",
    "9999-12-31T23:59:59-23:59", "04:05:06", '"::1"', '"http://["', "9" * 30, '"' + "x" * 5000 + '"',
    '"../../etc"', '"B1"', '"entered"',
])  # fmt: skip


@st.composite
def broken(draw: st.DrawFn) -> tuple[str, dict[str, bytes]]:
    """A stay and its set of files, with one to four mutations of lines, values or bytes."""
    stay = draw(st.sampled_from(sorted(SETS)))
    files = {path: text.encode() for path, text in SETS[stay].items()}
    for _ in range(draw(st.integers(1, 4))):
        path = draw(st.sampled_from(sorted(files)))
        lines = files[path].split(b"\n")
        at = draw(st.integers(0, len(lines) - 1))
        match draw(st.sampled_from(["value", "value", "drop", "repeat", "swap", "byte", "insert", "cut"])):
            case "value":
                key, equals, _ = lines[at].partition(b"=")
                lines[at] = key + equals + draw(VALUES).encode() if equals else lines[at]
            case "drop":
                del lines[at]
            case "repeat":
                lines.insert(draw(st.integers(0, len(lines))), lines[at])
            case "swap":
                other = draw(st.integers(0, len(lines) - 1))
                lines[at], lines[other] = lines[other], lines[at]
            case "byte":
                column = draw(st.integers(0, len(lines[at])))
                lines[at] = lines[at][:column] + bytes([draw(st.integers(0, 255))]) + lines[at][column + 1 :]
            case "insert":
                lines.insert(at, draw(st.text(max_size=12)).encode("utf-8", "surrogatepass") + b" = 3")
            case "cut":
                lines = lines[:at]
        files[path] = b"\n".join(lines)
    return stay, files


@given(broken())
@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_mutilated_files_give_settings_or_faults(case: tuple[str, dict[str, bytes]]) -> None:
    stay, files = case
    with tempfile.TemporaryDirectory() as folder:
        config = write(Path(folder), files)
        check_all(config)
        try:
            whole = load_stay(config, stay)
        except SettingsFault as error:
            assert error.faults
            assert all(fault.file and fault.problem and "\n" not in fault.problem for fault in error.faults)
            assert all(fault.nearest in fault.allowed for fault in error.faults)
            return
        assert from_snapshot(snapshot(config, stay)) == whole
        assert all(assumptions(whole))


@given(st.dictionaries(st.sampled_from(sorted(GOOD)), st.binary(max_size=300), min_size=1))
@settings(max_examples=40, deadline=None)
def test_noise_in_the_place_of_files_gives_faults(noise: dict[str, bytes]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        config = write(Path(folder), {path: text.encode() for path, text in GOOD.items()} | noise)
        with pytest.raises(SettingsFault):
            load_stay(config, NAME)
