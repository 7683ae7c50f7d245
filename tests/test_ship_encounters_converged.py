"""Ship shapes: the loads the program works with against the same flow on fine meshes, converged to about 1 %.

The figures in converged_passing.json are our own, made by `python -m tests.regenerate_passing` (two fine meshes of
480 and 1056 panels a hull carried on to no panel size); they tell the error of mesh, places, rounding and
interpolation together. What they have in common with the truth, test_panels_exact_flows.py tells.
"""

from __future__ import annotations

import json
import math
import time
from dataclasses import replace
from functools import cache
from unittest.mock import patch

import numpy as np
import pytest

from monitor.physics.passing import Track, afar, force, passing_load, rounded
from monitor.physics.passing.slender import slender_body_load
from monitor.records.estimates import Validity
from tests import every_panel
from tests.bench.passing import drawn
from tests.ship_encounters import CASES, CONVERGED, TANKER, Case, errors, ship


@cache
def error(case: Case) -> tuple[float, float]:
    return errors(case, np.array(json.loads(CONVERGED.read_text(encoding="utf-8"))[case.name]).T)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_peaks_within_five_in_a_hundred_and_curves_within_eight(case: Case) -> None:
    peak, curve = error(case)
    assert peak < 0.05
    assert curve < 0.08


def test_peaks_within_three_in_a_hundred_nine_times_in_ten() -> None:
    assert sum(error(case)[0] < 0.03 for case in CASES) >= 0.9 * len(CASES)


def test_nothing_hangs_on_what_was_asked_before() -> None:
    """The stores only save work: bit for bit the same from empty, in any order, and after other ships."""
    cases = CASES[3:5]

    def asked(order: list[Case]) -> dict[str, bytes]:
        for store in (rounded._curves, rounded._afloat, rounded._panels, afar._box, afar._table):
            store.cache_clear()
        return {
            case.name: passing_load(case.moored, case.passer, case.track(), case.basin()).sway_n.tobytes()
            for case in order
        }

    assert asked(cases) == asked(cases[::-1])


def test_a_little_more_is_a_little_different() -> None:
    """No step in the peak when the distance drifts through the net of lines: 1 m at a time from 95 to 125 m."""
    case = CASES[3]
    peaks = []
    for aside in range(95, 126):
        track = case.track()
        load = passing_load(TANKER, TANKER, replace(track, y_m=track.y_m - 100.0 + aside), case.basin())
        peaks.append([load.surge_n.max(), load.sway_n.max(), load.yaw_n_m.max()])
    change = np.diff(np.log(peaks), axis=0)
    assert np.all(change < 0.0)
    assert np.all(np.abs(np.diff(change, axis=0)) < 0.006)


def test_points_make_an_encounter_fast() -> None:
    """Hulls set up: at most a third of what every panel with every other takes, even with half a beam between."""
    case = CASES[4]

    def took_s() -> float:
        rounded._curves.cache_clear()
        start_s = time.process_time()
        passing_load(case.moored, case.passer, case.track(), case.basin())
        return time.process_time() - start_s

    took_s()  # sets the hulls up
    ours_s = min(took_s() for _ in range(3))
    with patch.object(force, "impulses", every_panel.impulses):
        every_s = took_s()
    print(f"{1e3 * ours_s:.0f} ms, every panel {1e3 * every_s:.0f} ms")
    assert ours_s < 0.33 * every_s


@pytest.mark.parametrize("case", [CASES[4], CASES[6], CASES[10], CASES[14]], ids=lambda case: case.name)
def test_points_stand_for_panels(case: Case) -> None:
    """Against every panel with every other, settled, at a quay: 0.5 % of surge and sway, 0.8 % of yaw, with half a
    beam between, where she is twice as long, on a slant, and in middling depth."""
    course = 180.0 - case.course if abs(case.course) > 90.0 else case.course
    line = rounded.line_of(case.moored, case.passer, course, case.aside * math.cos(math.radians(course)))
    hulls = case.moored, case.passer
    (ours,) = rounded.line_curves(*hulls, line, case.depth_m, case.quay_m)
    with patch.object(force, "impulses", every_panel.impulses):
        (every,) = rounded.line_curves(*hulls, line, case.depth_m, case.quay_m)
    along_m = np.linspace(ours.from_m, ours.to_m, 200)
    exact = every.at(along_m)
    off = np.abs(ours.at(along_m) - exact).max(axis=0) / np.abs(exact).max(axis=0)
    assert np.all(off < [0.005, 0.005, 0.008])


def test_encounters_drawn_at_random() -> None:
    """The short form of `python -m tests.bench.passing`: three it was never tuned to, against one finer mesh."""
    for case in drawn(20270101, 3):
        peak, curve = errors(case, case.solved((36, 20)))
        assert peak < 0.035
        assert curve < 0.05


@pytest.mark.parametrize("case", [CASES[i] for i in (0, 3, 10, 11, 15)], ids=lambda case: case.name)
def test_beyond_the_lines_wangs_theory_misses_no_more_than_five_in_a_hundred(case: Case) -> None:
    """From the end of a line, where it takes over, to as far again as the mean length and a half, against panels:
    2 % of the peaks of surge and sway, 5 % of that of yaw (far off before a quay, where all yaw is small)."""
    course, mean_m = case.course, 0.5 * (case.moored.loa_m + case.passer.loa_m)
    line = rounded.line_of(case.moored, case.passer, course, case.aside * math.cos(math.radians(course)))
    longer = replace(line, reach_m=line.reach_m + 1.8 * mean_m, places=51)
    for curve in rounded.line_curves(case.moored, case.passer, longer, case.depth_m, case.quay_m):
        along_m = np.linspace(curve.from_m, curve.to_m, 241)
        exact, place_m = curve.at(along_m), line.place_m(along_m)
        beyond = (np.abs(along_m) > line.reach_m) & (np.abs(along_m) < line.reach_m + 1.5 * mean_m)
        track = Track(*place_m.T, np.full(241, course), np.ones(241))
        wang = slender_body_load(case.moored, case.passer, track, case.basin())
        off = np.stack([wang.surge_n, wang.sway_n, wang.yaw_n_m], axis=-1)[beyond] - exact[beyond]
        assert np.all(np.abs(off).max(axis=0, initial=0.0) < [0.02, 0.02, 0.05] * np.abs(exact).max(axis=0))


def test_between_slanting_lines_that_graze_her() -> None:
    """The net of lines is closest where she would graze us, not only where parallel hulls touch: a small ship that
    slants past the bow as near as half a beam (7.5 % of the yaw off with the other net)."""
    case = Case(
        "slants close past the bow",
        ship(100.0, 16.0, 5.5, 0.68),
        ship(80.0, 12.0, 5.0, 0.78),
        38.9,
        25.0,
        1.1,
        1.0,
    )
    peak, curve = errors(case, case.solved((44, 18)))
    assert peak < 0.03
    assert curve < 0.03


def test_on_a_limit_is_within_it() -> None:
    """Half a beam between, 1.1 draughts of water: the rounding of a sum does not decide."""
    for own, other in ((TANKER, ship(100.0, 16.0, 5.5, 0.68)), (ship(400.0, 61.0, 15.0, 0.66),) * 2):
        case = Case("", own, other, own.beam_m + 0.5 * other.beam_m, 0.0, 1.1, 0.8)
        assert passing_load(own, other, case.track(), case.basin()).validity is Validity.GOOD
