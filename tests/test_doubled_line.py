"""A line doubled on one bollard: against two single lines on the same leads, and the pull on the bollard."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from monitor.physics.loads import Loads
from monitor.physics.mooring import equilibrium, moor
from monitor.physics.strength import utilisation
from monitor.settings.load import load_stay
from monitor.settings.schema import Settings
from monitor.watch import stay
from monitor.watch.estimator import Estimator
from monitor.watch.made_fast import MadeFast, made_fast
from monitor.watch.sharing import shared
from tests.conftest import ROOT
from tests.settings_texts import STAY_FILE, changed, faults_of

NOW = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
DOUBLED = "aft breast 1"


def _settings(parts: int) -> Settings:
    settings = load_stay(ROOT / "config", "tavrin-lark-at-sedge-quay-2")
    lines = tuple(
        led.model_copy(update={"parts": parts}) if led.line == DOUBLED else led for led in settings.stay.lines
    )
    return settings.model_copy(update={"stay": settings.stay.model_copy(update={"lines": lines})})


def _fast(parts: int) -> MadeFast:
    settings = _settings(parts)
    led = next(led for led in settings.stay.lines if led.line == DOUBLED)
    line = next(line for line in settings.ship.lines if line.name == DOUBLED)
    return made_fast(
        led,
        line,
        next(each for each in settings.ship.fairleads if each.name == line.fairlead),
        next(each for each in settings.ship.winches if each.name == line.winch),
        next(each for each in settings.berth.bollards if each.name == led.bollard),
    )


def test_a_doubled_line_pulls_as_two_single_ones() -> None:
    """The same mooring with the line entered twice, each single: same place, and their sum."""
    one, two = _fast(1), _fast(2)
    moored = Estimator(_settings(1)).moored
    i = moored.names.index(DOUBLED)
    fairlead_m, bollard_m = moored._fairlead_m, moored._bollard_m
    loads = np.array([[1e5, 1.5e6, 1e7], [0.0, 6e5, -8e6]]).T
    properties = list(moored._properties)
    properties[i] = two.rope
    pretension_n = moored._pretension_n.copy()
    pretension_n[i] = two.pretension_n
    doubled = equilibrium(moor(properties, pretension_n, fairlead_m, bollard_m, moored._fenders), *loads)
    twice = [*moored._properties, one.rope]
    both = equilibrium(
        moor(twice, np.append(moored._pretension_n, one.pretension_n), np.vstack([fairlead_m, fairlead_m[i]]),
             np.vstack([bollard_m, bollard_m[i]]), moored._fenders), *loads,
    )  # fmt: skip
    assert doubled.converged.all()
    assert doubled.displacement == pytest.approx(both.displacement, abs=1e-6)
    assert doubled.tension_n[:, i] == pytest.approx(both.tension_n[:, i] + both.tension_n[:, -1], rel=1e-6)


def test_both_parts_are_on_the_bollard_and_over_the_fairlead() -> None:
    """Own strength, brake and working limit count twice; bollard and fairlead see the whole pull, once each."""
    one, two = _fast(1), _fast(2)
    assert two.strength_n.mid == 2.0 * one.strength_n.mid and two.pretension_n == 2.0 * one.pretension_n
    assert one.renders_n is not None and two.renders_n is not None and two.renders_n.low == 2.0 * one.renders_n.low
    assert two.limits.fairlead_swl_n == one.limits.fairlead_swl_n
    assert two.limits.bollard_swl_n == one.limits.bollard_swl_n
    swl_n = two.limits.bollard_swl_n
    assert swl_n is not None
    each_part_n = 0.3 * swl_n
    bollard_only = replace(
        two.limits, ship_design_mbl_n=1e9, brake_setting_n=None, winch_swl_n=None, fairlead_swl_n=None
    )
    used = utilisation(np.array([[2.0 * each_part_n]]), [bollard_only])
    assert used.share[0, 0] == pytest.approx(0.6) and used.limited_by(0, 0) == f"bollard {two.limits.bollard}"


def test_the_watch_takes_a_doubled_line() -> None:
    """More of the load goes to it, and its bollard is used the more for it."""
    told = {}
    for parts in (1, 2):
        estimator = Estimator(_settings(parts))
        state = stay.begin(estimator.moored.settings.stay)
        loads = Loads(np.zeros(3), np.array([5e5, 6e5, 7e5]), np.zeros(3))
        found = shared(estimator.holding(state), loads, state, estimator.moored.water(NOW))
        told[parts] = {load.line: load for load in found.lines(0)}
    single, double = told[1][DOUBLED].tension_n.mid, told[2][DOUBLED].tension_n.mid
    assert 1.3 * single < double < 2.0 * single


@pytest.mark.parametrize(("parts", "told"), [("2", ""), ("3", "parts"), ("0", "parts"), ('"two"', "parts")])
def test_a_line_has_one_part_or_two(parts: str, told: str, tmp_path: Path) -> None:
    faults = faults_of(tmp_path, changed(STAY_FILE, 'bollard = "B2"', f'bollard = "B2"\nparts = {parts}'))
    assert (told in faults) if told else faults == ""


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        ('parts = 2\nsensor = "LC01"', "say what its sensor reads"),
        ('parts = 2\nsensor = "LC01"\nsensor_reads = "one part"', ""),
        ('parts = 2\nsensor = "LC01"\nsensor_reads = "half"', "sensor_reads"),
        ('sensor = "LC01"', ""),
    ],
)
def test_the_sensor_of_a_doubled_line_says_what_it_reads(keys: str, told: str, tmp_path: Path) -> None:
    faults = faults_of(tmp_path, changed(STAY_FILE, 'bollard = "B2"', f'bollard = "B2"\n{keys}'))
    assert (told in faults) if told else faults == ""


@pytest.mark.parametrize(
    ("parts", "reads", "whole_n"), [(2, "one part", 2e5), (2, "all parts", 1e5), (1, None, 1e5)]
)
def test_what_a_sensor_reads_is_held_against_the_whole_line(parts: int, reads: str | None, whole_n: float) -> None:
    """Estimates are of all parts together: 100 kN on one of two is 200 kN."""
    led = _settings(parts).stay.lines[0].model_copy(update={"parts": parts, "sensor_reads": reads})
    assert led.whole_n(1e5) == whole_n
