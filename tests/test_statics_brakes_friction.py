"""Brakes that render and friction along the quay, at rest: closed forms, sums of forces, scipy, motion in time."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.random import default_rng
from scipy import optimize

from monitor.base.frames import Floats
from monitor.outlet.wording import lines_in_words
from monitor.physics.friction import held_by_friction
from monitor.physics.lines import LineProperties
from monitor.physics.loads import Loads
from monitor.physics.mooring import (
    NOT_HELD,
    NOT_SETTLED,
    SETTLED,
    Mooring,
    equilibrium,
    moor,
    on_brakes,
    restoring,
    run_out_m,
)
from monitor.physics.response import Members, critical_damping, respond
from monitor.records.events import Priority
from monitor.settings.load import load_stay
from monitor.watch import stay
from monitor.watch.estimator import Estimator
from monitor.watch.facts import heaviest
from monitor.watch.sharing import NO_BRAKE_HOLDS, Shared, shared
from tests.conftest import ROOT
from tests.test_cascade import _breasts as breasts
from tests.test_mooring_statics import _at_random as at_random
from tests.test_mooring_statics import _fenders as fenders_at
from tests.test_mooring_statics import _ship as ship_of_16

NOW = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)


def _pressed() -> tuple[Mooring, float]:
    """A wire ahead and one astern along the keel, a fender at each quarter; and their stiffness by surge."""
    lines = [LineProperties(f"spring {i}", "steel wire", 1000e3) for i in (1, 2)]
    fairleads = np.array([[60.0, -15.0, 0.0], [-60.0, -15.0, 0.0]])
    bollards = np.array([[110.0, -15.0, 0.0], [-110.0, -15.0, 0.0]])
    mooring = moor(lines, np.full(2, 100e3), fairleads, bollards, fenders_at(count=2, reach_m=50.0))
    return mooring, float(restoring(mooring, np.zeros((1, 3))).stiffness[0, 0, 0])


# --- friction -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("friction", [-0.3, 0.1, 0.3])
def test_a_block_held_by_springs_on_a_rough_wall(friction: float) -> None:
    """Coulomb: pressed with N against a rough wall, a spring-held block rests anywhere in (F ± μN)/k."""
    mooring, k = _pressed()
    surge_n, press_n = 40e3, 200e3
    in_line = np.array([15.0 * surge_n])  # the load acts along the springs, as the friction does
    rest = held_by_friction(mooring, np.array([surge_n]), np.array([-press_n]), in_line, friction)
    assert rest.fender_n.sum() == pytest.approx(press_n, rel=2e-3)  # the springs hardly pull abeam
    assert rest.displacement[0, 0] == pytest.approx((surge_n + friction * press_n) / k, rel=5e-3)


@pytest.mark.parametrize("friction", [-0.4, 0.05, 0.2])
def test_forces_with_friction_balance_the_load(friction: float) -> None:
    """Sums of forces and moments with every fender's own friction at its own place, to 1e-9 of the load."""
    mooring, rng = ship_of_16("HMPE"), default_rng(3)
    surge_n, sway_n, yaw_n_m = rng.normal(0, 3e5, 40), -np.abs(rng.normal(0, 6e5, 40)), rng.normal(0, 1e7, 40)
    rest = held_by_friction(mooring, surge_n, sway_n, yaw_n_m, friction)
    assert rest.converged.all()
    assert (rest.fender_n.sum(axis=1) > 0.0).all()
    held = restoring(mooring, rest.displacement).force
    rub_n = friction * rest.fender_n  # each along the quay at the ship's side, 15 m to port
    left = held + np.stack([surge_n + rub_n.sum(axis=1), sway_n, yaw_n_m + 15.0 * rub_n.sum(axis=1)], axis=1)
    scale_n = np.max(np.abs([surge_n, sway_n, yaw_n_m / mooring.lever_m]), axis=0)
    assert (np.abs(left / [1.0, 1.0, mooring.lever_m]).max(axis=1) <= 2.1 * np.maximum(1e-9 * scale_n, 1e-4)).all()


@pytest.mark.parametrize("seed", range(5))
def test_friction_against_scipys_root_finder(seed: int) -> None:
    """The five equations in place and friction at once, by scipy's hybrid Powell method."""
    rng = default_rng(seed)
    mooring = ship_of_16(("polyester", "HMPE", "steel wire", "aramid", "nylon 8-strand")[seed])  # type: ignore[arg-type]
    load, friction = np.array([rng.normal(0, 3e5), -rng.uniform(2e5, 9e5), rng.normal(0, 1e7)]), 0.25
    scale = np.array([1.0, 1.0, mooring.lever_m])

    def left(q: Floats) -> Floats:
        there = restoring(mooring, (q / scale)[None])
        rub_n = friction * there.fender_n.sum()
        return np.asarray((there.force[0] + load + rub_n * np.array([1.0, 0.0, 15.0])) / scale)

    theirs = optimize.root(left, np.zeros(3), tol=1e-10)
    ours = held_by_friction(mooring, *load[:, None], friction)
    assert np.abs(theirs.fun).max() < 1.0
    assert ours.displacement[0] * scale == pytest.approx(theirs.x, abs=1e-5)


def test_without_a_fender_touching_there_is_no_friction() -> None:
    """Blown off the quay: exactly as without."""
    mooring, load = ship_of_16(), (np.array([2e5]), np.array([2e6]), np.zeros(1))
    with_it, without = held_by_friction(mooring, *load, 0.3), equilibrium(mooring, *load)
    assert without.fender_n.sum() == 0.0
    assert with_it.tension_n == pytest.approx(without.tension_n, abs=1e-3)


def test_in_time_she_comes_to_rest_between_the_two_ends() -> None:
    """Pushed ahead slowly and let lie: friction in time stops her short of where lines alone would, inside."""
    mooring = ship_of_16("HMPE")
    surge_n, sway_n, friction = 250e3, -600e3, 0.2
    mass = np.array([[4.0e7, 9.0e7, 2.5e11]])
    drag = 0.3 * critical_damping(mooring, np.zeros((1, 3)), mass)
    start = equilibrium(mooring, np.zeros(1), np.array([sway_n]), np.zeros(1)).displacement

    def force(k: int) -> Floats:
        return np.array([[surge_n * min(1.0, 0.5 * k / 600.0), sway_n, 0.0]])

    end = respond(mooring, Members(mass, drag, fender_friction=friction), force, 2400, 0.5, start).displacement[0]
    load = (np.array([surge_n]), np.array([sway_n]), np.zeros(1))
    astern, ahead = (held_by_friction(mooring, *load, sign * friction).displacement[0] for sign in (-1.0, 1.0))
    assert astern[0] < ahead[0]
    assert astern[0] - 0.002 <= end[0] <= ahead[0] + 0.002
    assert end[0] == pytest.approx(astern[0], abs=0.1 * (ahead[0] - astern[0]))  # a growing load drags against it


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), exponent=st.floats(2.0, 7.0), friction=st.floats(-0.9, 0.9))
def test_any_mooring_with_friction_rests_or_says_why(seed: int, exponent: float, friction: float) -> None:
    rng = default_rng(seed)
    mooring = at_random(rng)
    surge_n, sway_n, yaw_n_m = rng.normal(size=(3, 4)) * 10.0**exponent
    rest = held_by_friction(mooring, surge_n, sway_n, 40.0 * yaw_n_m, friction)
    for i, why in enumerate(rest.why):
        assert why in (SETTLED, NOT_HELD, NOT_SETTLED)
        assert np.isnan(rest.tension_n[i]).all() == (why != SETTLED or not len(mooring.lines))


# --- brakes -------------------------------------------------------------------------------------------------


def test_two_of_four_breasts_render_and_the_others_take_the_rest() -> None:
    """By hand: 400 kN on four alike; two brakes hold 80 each, so the other two carry 120 each."""
    mooring, render_n = breasts(), np.array([80e3, np.inf, np.inf, 80e3])
    load = (np.zeros(1), np.array([400e3]), np.zeros(1))
    rest = equilibrium(on_brakes(mooring, render_n), *load)
    assert rest.tension_n[0] == pytest.approx([80e3, 120e3, 120e3, 80e3], rel=1e-6)
    stretch = LineProperties("", "polyester", 600e3).strain(np.array([80e3, 120e3]))
    ran_m = run_out_m(mooring, render_n, rest.displacement)[0]
    assert ran_m == pytest.approx(40.0 * (stretch[1] - stretch[0]) * np.array([1, 0, 0, 1]), rel=5e-3, abs=1e-9)


def test_beyond_what_all_brakes_hold_nothing_holds_her() -> None:
    """The collapse load of a plastic system: four times 100 kN. At 399 kN she is held, at 401 kN she goes."""
    mooring = on_brakes(breasts(), np.full(4, 100e3))
    rest = equilibrium(mooring, np.zeros(2), np.array([399e3, 401e3]), np.zeros(2))
    assert rest.why == (SETTLED, NOT_HELD)


def test_the_collapse_load_against_linear_programming() -> None:
    """Lower-bound theorem of plasticity: the greatest load that some tensions 0 ≤ T ≤ render balance, by scipy's
    linprog in the leads as tended. Short of it all is held; her leads swing as she moves, which adds little."""
    mooring, render_n = ship_of_16("HMPE"), np.full(16, 250e3)
    dx, dy = (mooring.fairlead_m - mooring.bollard_m).T
    length_m = np.sqrt(dx**2 + dy**2 + (mooring.fairlead_height_m - mooring.bollard_height_m) ** 2)
    x, y = mooring.fairlead_m.T
    pull = np.stack([-dx, -dy, -(x * dy - y * dx)]) / length_m
    way = np.array([0.1, 1.0, 4.0])
    found = optimize.linprog(
        [-1.0, *np.zeros(16)], A_eq=np.column_stack([way, pull]), b_eq=np.zeros(3),
        bounds=[(0, None), *[(0.0, 250e3)] * 16],
    )  # fmt: skip
    most_n = float(found.x[0])
    assert 1e6 < most_n < 4e6
    rest = equilibrium(on_brakes(mooring, render_n), *(np.outer(way, [0.9, 0.99, 1.5]) * most_n))
    assert list(rest.converged[:2]) == [True, True]
    assert rest.tension_n[:2].max() <= 250e3 * (1.0 + 1e-9)
    assert not rest.converged[2] or run_out_m(mooring, render_n, rest.displacement)[2].max() > 5.0


@pytest.mark.parametrize("seed", range(4))
def test_force_is_the_slope_of_the_energy_on_brakes(seed: int) -> None:
    rng = default_rng(seed)
    mooring = ship_of_16("polyester")
    braked = on_brakes(mooring, rng.uniform(80e3, 400e3, 16))
    q = np.column_stack([rng.normal(0, 0.8, 20), rng.normal(0.5, 0.8, 20), rng.normal(0, 0.01, 20)])
    here = restoring(braked, q)
    for axis, step in enumerate((1e-5, 1e-5, 1e-7)):
        by = np.eye(3)[axis] * step
        force = -(restoring(braked, q + by).energy_j - restoring(braked, q - by).energy_j) / (2.0 * step)
        assert force == pytest.approx(here.force[:, axis], rel=1e-4, abs=1e-6 * np.abs(here.force).max())


def test_slowly_in_time_brakes_let_out_what_they_do_at_rest() -> None:
    """A load that grows over ten minutes: tensions within 1 %, line run out within 3 cm."""
    mooring, render_n = ship_of_16("HMPE"), np.where(np.arange(16) % 2 == 0, 160e3, np.inf)
    mass = np.array([[4.0e7, 9.0e7, 2.5e11]])
    drag = 0.5 * critical_damping(mooring, np.zeros((1, 3)), mass)
    load = np.array([[60e3, 1900e3, 2e6]])

    def force(k: int) -> Floats:
        return np.asarray(load * min(1.0, 0.25 * k / 600.0))

    got = respond(mooring, Members(mass, drag, render_n=render_n), force, 3600, 0.25, np.zeros((1, 3)), keep=True)
    rest = equilibrium(on_brakes(mooring, render_n), *load.T)
    ran_m = run_out_m(mooring, render_n, rest.displacement)[0]
    assert ran_m.max() > 0.2
    assert got.tension_n is not None
    assert got.tension_n[-1, 0] == pytest.approx(rest.tension_n[0], rel=0.01)
    assert got.rendered_m[0] == pytest.approx(ran_m, abs=0.03)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), exponent=st.floats(2.0, 7.0))
def test_any_mooring_on_brakes_rests_or_says_why(seed: int, exponent: float) -> None:
    rng = default_rng(seed)
    mooring = at_random(rng)
    m = len(mooring.lines)
    ldbf_n = mooring.lines.at(np.tile(mooring.lines.reach_m, (1, 1))).tension_n[0] / 1.25
    render_n = np.where(rng.random(m) < 0.3, np.inf, rng.uniform(1e5, 1e6, m))
    surge_n, sway_n, yaw_n_m = rng.normal(size=(3, 5)) * 10.0**exponent
    rest = equilibrium(on_brakes(mooring, render_n), surge_n, sway_n, 40.0 * yaw_n_m)
    scale_n = np.max(np.abs([surge_n, sway_n, 40.0 * yaw_n_m / mooring.lever_m]), axis=0)
    for i, why in enumerate(rest.why):
        assert why in (SETTLED, NOT_HELD, NOT_SETTLED)
        if why == SETTLED:
            assert rest.residual_n[i] <= max(1e-9 * scale_n[i], 1e-4)
            in_table = render_n < 1.25 * ldbf_n  # a brake set higher than that never comes into it
            assert (rest.tension_n[i] <= np.where(in_table, render_n, np.inf) * (1.0 + 1e-9)).all()


def test_brakes_nearly_always_settle() -> None:
    gave_up = cases = 0
    for seed in range(60):
        rng = default_rng(seed)
        mooring = at_random(rng)
        render_n = rng.uniform(1e5, 1e6, len(mooring.lines))
        surge_n, sway_n, yaw_n_m = rng.normal(size=(3, 20)) * 10.0 ** rng.uniform(2.0, 7.0, 20)
        why = equilibrium(on_brakes(mooring, render_n), surge_n, sway_n, 40.0 * yaw_n_m).why
        gave_up, cases = gave_up + why.count(NOT_SETTLED), cases + len(why)
    assert gave_up <= cases / 500


# --- what the watch makes of it -----------------------------------------------------------------------------


@cache
def _estimator() -> Estimator:
    return Estimator(load_stay(ROOT / "config", "tavrin-lark-at-sedge-quay-2"))


def _shared(off_n: Sequence[float], *, ahead_n: float = 0.0, rub: bool = True) -> Shared:
    estimator = _estimator()
    state = stay.begin(estimator.moored.settings.stay)
    loads = Loads(np.full(3, ahead_n), np.array(off_n), np.zeros(3))
    return shared(estimator.holding(state), loads, state, estimator.moored.water(NOW), rub=rub)


def test_friction_widens_the_band_and_leaves_the_middle() -> None:
    on_quay = [-300e3, -400e3, -500e3]
    rough, smooth = (_shared(on_quay, ahead_n=60e3, rub=rub).lines(0) for rub in (True, False))
    plain = {load.line: load.tension_n for load in smooth}
    for load in rough:
        band, before = load.tension_n, plain[load.line]
        assert band.mid == pytest.approx(before.mid)
        assert band.low <= before.low + 1.0
        assert band.high >= before.high - 1.0
    spring = next(load for load in rough if load.group == "aft springs")
    assert spring.tension_n.high - spring.tension_n.low > 5e3


def test_off_the_quay_friction_changes_nothing() -> None:
    off = [1.6e6, 1.7e6, 1.8e6]
    assert _shared(off).lines(0) == _shared(off, rub=False).lines(0)


def test_a_brake_that_renders_is_told_and_is_an_alarm() -> None:
    levels = _estimator().moored.settings.alerts.levels
    found = _shared([1.5e6, 2.2e6, 2.6e6])
    lines = found.lines(0)
    brakes = dict(zip(_estimator().moored.names, _estimator().moored.renders_n, strict=True))
    gone = [load for load in lines if load.runs_out_m is not None]
    assert gone and not found.reasons
    for load in gone:
        brake = brakes[load.line]
        assert brake is not None
        assert load.tension_n.high <= brake.high * (1.0 + 1e-9)
    (worst,) = [max(gone, key=lambda load: load.runs_out_m.mid if load.runs_out_m else 0.0)]
    assert worst.runs_out_m is not None and worst.runs_out_m.mid > 0.05
    assert heaviest([worst]).call(levels) is Priority.ALARM
    assert "brake renders" in lines_in_words(lines, groups=6)


def test_a_load_below_every_brake_is_shared_out_as_without_brakes() -> None:
    loads = [300e3, 500e3, 700e3]
    lines = _shared(loads, rub=False).lines(0)
    estimator = _estimator()
    state = stay.begin(estimator.moored.settings.stay)
    holding = estimator.holding(state)
    rest = holding.share(
        Loads(np.zeros(3), np.array(loads), np.zeros(3)), state, estimator.moored.water(NOW)
    ).tension_n
    assert lines == holding.line_loads(*rest)
    assert all(load.runs_out_m is None for load in lines)


def test_brakes_that_cannot_hold_her_are_said_and_numbers_stay() -> None:
    """With the lines on bitts parted all hang on brakes: what they cannot hold is told, not left blank."""
    moored = _estimator().moored
    bitts = {name: "parted" for name, brake in zip(moored.names, moored.renders_n, strict=True) if brake is None}
    state = replace(stay.begin(moored.settings.stay), lines=bitts)
    loads = Loads(np.zeros(3), np.array([6.0e6, 7.0e6, 8.0e6]), np.zeros(3))
    found = shared(_estimator().holding(state), loads, state, moored.water(NOW))
    assert not found.why and found.reasons == (NO_BRAKE_HOLDS,)
    lines = found.lines(0)
    assert lines[0].utilisation.mid > 1.0 and heaviest(lines).call(moored.settings.alerts.levels) is Priority.ALARM
    assert math.isfinite(sum(load.tension_n.high for load in lines))
