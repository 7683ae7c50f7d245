"""The published accidents of `tests/cases`, in short: files, draws, table, and two draws through the watch.

The long form is `python -m tests.cases`; the table it gave stands in the contributors' guide.
"""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from monitor.records.events import Priority
from monitor.settings.load import from_snapshot
from tests.cases.__main__ import shipped
from tests.cases.case import FOLDER, draws, load, number_of, ranks
from tests.cases.play import play
from tests.cases.stage import staged

# Of ../shared's list, with their least facts: lines in all (read, or the press; None: not told), length in metres.
TOLD = {
    "P1": (16, 286.5),
    "P3": (None, 260.0),
    "P5": (2, None),
    "P8": (None, 108.4),
    "W1": (10, 194.0),
    "W3": (20, 272.0),
    "W7": (None, None),  # 10, later 16
    "C1": (14, 185.0),
    "C5": (10, 144.0),
}


@pytest.mark.parametrize("path", shipped(), ids=lambda path: path.stem)
def test_every_case_makes_a_ship_at_a_berth_with_the_facts_told(path: Path) -> None:
    case = load(path)
    lines, length_m = TOLD[case.case]
    for number, drawn in enumerate(draws(case, 2)):
        settings = from_snapshot(staged(case, drawn, number).settings)
        assert lines in (None, len(settings.stay.lines))
        assert length_m is None or settings.ship.loa == pytest.approx(length_m)


def test_every_fact_tells_its_origin() -> None:
    for path in shipped():
        for name, fact in tomllib.loads(path.read_text("utf-8"))["facts"].items():
            assert fact["by"] in ("read", "memory", "guess"), (path.name, name)


@pytest.mark.parametrize(
    ("fact", "why"),
    [
        ('loa = { is = "100 m" }', "by ="),
        ('loa = { is = "100 m", by = "hearsay" }', "by ="),
        ('lao = { is = "100 m", by = "read" }', "no fact is called lao"),
        ('loa = { from = "100 m", by = "read" }', "one of is"),
        ('loa = { from = "100 m", to = "90 m", by = "read" }', "from is not below to"),
        ('loa = { is = 100, by = "read" }', "unit"),
        ('loa = { is = 2, times = "beam", by = "guess" }', "multiples of what is not told"),
    ],
)
def test_a_case_that_says_what_it_may_not_is_refused(tmp_path: Path, fact: str, why: str) -> None:
    text = (FOLDER / "example.toml").read_text("utf-8").replace('loa = { is = "190 m", by = "guess" }', fact)
    (tmp_path / "bad.toml").write_text(text, "utf-8")
    with pytest.raises(ValueError, match=why):
        draws(load(tmp_path / "bad.toml"), 2)


def test_draws_are_even_and_always_the_same() -> None:
    case = load(FOLDER / "w1.toml")
    found = draws(case, 20)
    assert found == draws(case, 20)
    fact = case.facts["wind_before"]
    shares = [(number_of(drawn, "wind_before") - fact.low) / (fact.high - fact.low) for drawn in found]
    assert sorted(int(20 * share) for share in shares) == list(range(20))  # one in each twentieth
    unknown = sum(drawn["bollard_swl"] is None for drawn in found)
    assert unknown == pytest.approx(0.4 * 20, abs=1)


def test_ranks_against_scipy() -> None:
    values = [3.0, 1.0, 3.0, 2.0, 7.0]
    assert ranks(list(values)) == pytest.approx(stats.rankdata(values) - 1.0)
    assert np.ptp(ranks(["a", None, "a"])) > 0.0


def test_gusts_off_the_berth_are_told_before_the_lines_go() -> None:
    case = load(FOLDER / "w1.toml")
    told = play(case, 0, draws(case, 20)[0])
    assert told.alarm is not None and told.alarm.do.startswith("CLEAR BOTH MOORING DECKS")
    assert told.passing is Priority.NONE
    # Odds of the wind before the squall once stood in this notice: "chance that a line passes ... under 1 %".
    assert "under 1 %" not in told.alarm.sure


def test_a_small_boat_is_not_blamed_for_the_tide() -> None:
    """Her size is told by a class A set. (A class B boat is taken for a ship until she tells hers: guide.)"""
    case = replace(load(FOLDER / "p8.toml"), before_s=26 * 60.0, quiet_s=26 * 60.0)
    every = draws(case, 20)
    number = next(k for k, drawn in enumerate(every) if drawn["passer_class_a"])
    told = play(case, number, every[number])
    assert told.passing is Priority.NONE
