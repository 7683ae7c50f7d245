"""The ship at rest: against scipy's minimiser, the laws of statics and the closed forms of simple moorings."""

from __future__ import annotations

import math
from typing import get_args

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.random import Generator, default_rng
from scipy import optimize

from monitor.base.clock import stopwatch_s
from monitor.base.frames import Floats
from monitor.physics.descent import Potential, descend
from monitor.physics.lines import DEFAULTS, LineProperties, TailProperties
from monitor.physics.mooring import (
    NOT_HELD,
    NOT_SETTLED,
    SETTLED,
    UNUSABLE,
    Fenders,
    Mooring,
    equilibrium,
    heights_changed,
    moor,
    restoring,
)
from monitor.settings.schema import Material

MATERIALS: tuple[Material, ...] = get_args(Material)
HALF_BEAM_M = 15.0


def _fenders(side: float = -1.0, count: int = 6, reach_m: float = 60.0) -> Fenders:
    return Fenders(
        np.linspace(-reach_m, reach_m, count) if count > 1 else np.zeros(count),
        np.full(count, side * HALF_BEAM_M),
        np.full(count, 1.2),
        np.full(count, 800e3),
        np.full(count, 0.6),
    )


# One end of a ship of 180 m, port side to: fairlead and bollard (forward, starboard); the stern is its mirror.
_BOW_LEADS = [
    ((88.0, -4.0), (115.0, -22.0)),
    ((88.0, -2.0), (112.0, -22.0)),
    ((86.0, -6.0), (105.0, -24.0)),
    ((80.0, -10.0), (85.0, -28.0)),
    ((80.0, -11.0), (78.0, -28.0)),
    ((70.0, -14.0), (30.0, -18.0)),
    ((70.0, -14.0), (25.0, -18.0)),
    ((65.0, -15.0), (20.0, -18.0)),
]


def _ship(
    material: Material = "polyester",
    *,
    tail: TailProperties | None = None,
    pretension_n: float = 60e3,
    side: float = -1.0,
) -> Mooring:
    """180 m, sixteen lines, the same at bow and stern."""
    leads = [
        (np.array([sign * f[0], -side * f[1], 9.0]), np.array([sign * b[0], -side * b[1], 4.0]))
        for sign in (1.0, -1.0)
        for f, b in _BOW_LEADS
    ]
    lines = [LineProperties(f"line {i + 1}", material, 700e3, 15.0, tail) for i in range(len(leads))]
    fairleads, bollards = (np.array(points) for points in zip(*leads, strict=True))
    return moor(lines, np.full(len(lines), pretension_n), fairleads, bollards, _fenders(side))


def _loads(n: int, seed: int = 1) -> tuple[Floats, Floats, Floats]:
    rng = default_rng(seed)
    return rng.normal(0.0, 300e3, n), rng.normal(300e3, 600e3, n), rng.normal(0.0, 2e7, n)


def _at_random(rng: Generator, most_lines: int = 8, tails: bool = True) -> Mooring:
    """Any mooring at all: few lines or many, slack or tight, soft or hard, either side."""
    m, k = int(rng.integers(0, most_lines + 1)), int(rng.integers(0, 5))
    length_m, side = rng.uniform(50.0, 350.0), float(rng.choice([-1.0, 1.0]))
    half_beam_m = length_m / 12.0
    fairleads = np.column_stack(
        [rng.uniform(-0.5, 0.5, m) * length_m, side * rng.uniform(0.0, half_beam_m, m), rng.uniform(2.0, 25.0, m)]
    )
    bollards = np.column_stack(
        [
            fairleads[:, 0] + rng.uniform(-60.0, 60.0, m),
            side * (half_beam_m + rng.uniform(1.0, 40.0, m)),
            rng.uniform(0.0, 6.0, m),
        ]
    )
    lines, pretension_n = [], np.zeros(m)
    for i in range(m):
        mbl_n = rng.uniform(2e5, 2e6)
        long_enough = np.linalg.norm(fairleads[i] - bollards[i]) > 16.0
        tail = None
        if tails and long_enough and rng.random() < 0.4:
            tail = TailProperties(rng.choice(MATERIALS), rng.uniform(1.0, 11.0), 1.25 * mbl_n)
        lines.append(LineProperties(f"line {i}", rng.choice(MATERIALS), mbl_n, rng.uniform(0.0, 40.0), tail))
        pretension_n[i] = mbl_n * rng.choice([0.0, rng.uniform(0.0, 0.2)])
    fenders = Fenders(
        rng.uniform(-0.3, 0.3, k) * length_m,
        np.full(k, side * half_beam_m),
        np.full(k, 1.5),
        rng.uniform(3e5, 3e6, k),
        np.full(k, 0.9),
    )
    return moor(lines, pretension_n, fairleads, bollards, fenders)


# --- against an outside minimiser ---------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(6))
def test_against_scipy_on_the_power_law_itself(seed: int) -> None:
    """The same moorings written anew, line by line in closed form, and minimised by scipy's Nelder–Mead + BFGS."""
    rng = default_rng(seed)
    m, k, height_m = 8, 3, 6.0
    along = np.array([80.0, 78.0, 70.0, 60.0, -60.0, -70.0, -78.0, -80.0])
    fairleads = np.column_stack([along, rng.uniform(-15.0, -5.0, m), np.full(m, height_m)])
    leads_m = np.array([25.0, 20.0, 3.0, -35.0, 35.0, -3.0, -20.0, -25.0]) + rng.uniform(-3.0, 3.0, m)
    bollards = np.column_stack([along + leads_m, rng.uniform(-35.0, -20.0, m), np.zeros(m)])
    materials = [MATERIALS[i] for i in rng.integers(0, len(MATERIALS), m)]
    strengths_n, inboard_m = rng.uniform(4e5, 9e5, m), rng.uniform(5.0, 30.0, m)
    pretension_n = 0.08 * strengths_n
    load = np.array([rng.normal(0, 2e5), rng.uniform(2e5, 9e5), rng.normal(0, 1e7)])

    def unstretched_m(i: int) -> float:
        curve = DEFAULTS[materials[i]]
        strain = curve.strains[0] * 0.08**curve.power
        return float((math.dist(fairleads[i], bollards[i]) + inboard_m[i]) / (1.0 + strain))

    def potential_j(q: Floats) -> float:
        x, y, yaw = q[0], q[1], q[2] / 60.0
        total = -(load[0] * x + load[1] * y + load[2] * yaw)
        for i in range(m):
            forward, starboard = fairleads[i, :2]
            there = (
                x + forward * math.cos(yaw) - starboard * math.sin(yaw),
                y + forward * math.sin(yaw) + starboard * math.cos(yaw),
                height_m,
            )
            length_m = unstretched_m(i)
            strain = (math.dist(there, bollards[i]) + inboard_m[i]) / length_m - 1.0
            curve = DEFAULTS[materials[i]]
            n, at_break = 1.0 / curve.power, curve.strains[0]
            if strain > 0.0:
                total += strengths_n[i] * length_m * at_break / (n + 1.0) * (strain / at_break) ** (n + 1.0)
        for forward, pressed_m in zip((-40.0, 0.0, 40.0), pressed, strict=True):
            squeeze_m = -(y + forward * math.sin(yaw) - 15.0 * math.cos(yaw) + 15.0) + pressed_m
            total += 0.5 * 800e3 / 0.6 * max(squeeze_m, 0.0) ** 2
        return float(total)

    lines = [LineProperties(f"{i}", materials[i], strengths_n[i], inboard_m[i]) for i in range(m)]
    ours = moor(lines, pretension_n, fairleads, bollards, _fenders(count=k, reach_m=40.0))
    pressed = np.broadcast_to(ours.fenders.pressed_m, (k,))
    rest = equilibrium(ours, *load[:, None])
    theirs = optimize.minimize(
        potential_j, np.zeros(3), method="Nelder-Mead", options={"xatol": 1e-6, "fatol": 1e-9}
    )
    theirs = optimize.minimize(potential_j, theirs.x, method="BFGS", options={"gtol": 10.0})
    assert rest.displacement[0] * [1.0, 1.0, 60.0] == pytest.approx(theirs.x, abs=2e-3)


def test_the_minimiser_alone_on_rosenbrocks_valley() -> None:
    """Rosenbrock (1960): the bent valley (1−x)² + 100 (y−x²)² has its least at (1, 1). Also a hopeless slope."""

    def look(rows: Floats, at: Floats) -> Potential:
        x, y = at.T
        valley = (1 - x) ** 2 + 100 * (y - x**2) ** 2
        slope = np.stack([-2 * (1 - x) - 400 * x * (y - x**2), 200 * (y - x**2)], axis=1)
        bend = np.array([[1200 * x**2 - 400 * y + 2, -400 * x], [-400 * x, np.full_like(x, 200.0)]])
        hopeless = (np.asarray(rows) == 0)[:, None]
        return Potential(
            np.where(hopeless[:, 0], -x, valley),
            np.where(hopeless, [-1.0, 0.0], slope),
            np.where(hopeless[:, :, None], 0.0, bend.transpose(2, 0, 1)),
        )

    starts = np.array([[0.0, 0.0], [-1.2, 1.0], [3.0, -4.0], [0.0, 0.0], [1.0, 1.0]])
    end = descend(look, starts, np.full(5, 1e-9), reach=1.0, softest=1e-3, far=1e3, grain=1e-14)
    assert list(end.settled) == [False, True, True, True, True]
    assert list(end.away) == [True, False, False, False, False]
    assert end.place[1:] == pytest.approx(1.0, abs=1e-8)


# --- the laws ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(8))
def test_force_is_the_slope_of_the_energy(seed: int) -> None:
    """Central differences of the energy and of the force at random places, slack, squashed and turned."""
    rng = default_rng(seed)
    mooring = _at_random(rng)
    q = np.column_stack([rng.normal(0, 1.0, 20), rng.normal(0, 1.0, 20), rng.normal(0, 0.03, 20)])
    here = restoring(mooring, q)
    most_n = np.abs(here.force).max() + 1.0
    steps = np.array([1e-5, 1e-5, 1e-7])
    for axis in range(3):
        by = np.zeros(3)
        by[axis] = steps[axis]
        ahead, behind = restoring(mooring, q + by), restoring(mooring, q - by)
        force = -(ahead.energy_j - behind.energy_j) / (2.0 * steps[axis])
        assert force == pytest.approx(here.force[:, axis], rel=1e-4, abs=1e-6 * most_n)
        bend = -(ahead.force - behind.force) / (2.0 * steps[axis])
        most = np.abs(here.stiffness[:, axis]).max() + 1.0
        # a step may straddle a node of a table, where the stiffness jumps: let one place in twenty be such
        near = np.isclose(bend, here.stiffness[:, axis], rtol=1e-3, atol=1e-5 * most).all(axis=1)
        assert near.sum() >= 19


def test_forces_of_lines_and_fenders_balance_the_load() -> None:
    """Sum of forces and moments, by vectors and cross products, to 1e-9 of the load."""
    mooring = _ship()
    surge_n, sway_n, yaw_n_m = _loads(50)
    rest = equilibrium(mooring, surge_n, sway_n, yaw_n_m)
    assert rest.converged.all()
    assert rest.why == (SETTLED,) * 50
    bollards = np.column_stack([mooring.bollard_m, mooring.bollard_height_m])
    for i in range(50):
        yaw = rest.displacement[i, 2]
        turn = np.array([[math.cos(yaw), -math.sin(yaw)], [math.sin(yaw), math.cos(yaw)]])
        arms = mooring.fairlead_m @ turn.T
        ends = np.column_stack([arms + rest.displacement[i, :2], mooring.fairlead_height_m])
        lead = bollards - ends
        pulls = rest.tension_n[i][:, None] * lead / np.linalg.norm(lead, axis=1, keepdims=True)
        contacts = np.column_stack([mooring.fenders.forward_m, mooring.fenders.starboard_m]) @ turn.T
        pushes = np.column_stack([np.zeros(6), rest.fender_n[i]])  # quay to port: it pushes to starboard
        moment_n_m = sum(a[0] * f[1] - a[1] * f[0] for a, f in zip(arms, pulls, strict=True)) + sum(
            a[0] * f[1] - a[1] * f[0] for a, f in zip(contacts, pushes, strict=True)
        )
        force_n = pulls[:, :2].sum(axis=0) + pushes.sum(axis=0) + [surge_n[i], sway_n[i]]
        lever_m = mooring.lever_m
        scale_n = max(abs(surge_n[i]), abs(sway_n[i]), abs(yaw_n_m[i]) / lever_m)
        assert np.abs(force_n).max() <= 1.01 * max(1e-9 * scale_n, 1e-4)
        assert abs(moment_n_m + yaw_n_m[i]) / lever_m <= 1.01 * max(1e-9 * scale_n, 1e-4)
        assert rest.residual_n[i] <= max(1e-9 * scale_n, 1e-4)


@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_a_symmetric_mooring_does_not_yaw(side: float) -> None:
    sway_n = -side * np.array([0.0, 2e5, 8e5, 2e6])  # off the quay
    rest = equilibrium(_ship(side=side), np.zeros(4), sway_n, np.zeros(4))
    assert rest.displacement[:, [0, 2]] == pytest.approx(0.0, abs=1e-8)
    assert rest.tension_n[:, :8] == pytest.approx(rest.tension_n[:, 8:], rel=1e-7)
    assert np.all(np.diff(-side * rest.displacement[:, 1]) > 0.0)


def test_starboard_side_to_is_the_mirror_of_port_side_to() -> None:
    surge_n, sway_n, yaw_n_m = _loads(20)
    port = equilibrium(_ship("HMPE", side=-1.0), surge_n, sway_n, yaw_n_m)
    starboard = equilibrium(_ship("HMPE", side=1.0), surge_n, -sway_n, -yaw_n_m)
    assert starboard.displacement == pytest.approx(port.displacement * [1.0, -1.0, -1.0], abs=1e-8)
    assert starboard.tension_n == pytest.approx(port.tension_n, abs=0.1)
    assert starboard.fender_n == pytest.approx(port.fender_n, abs=0.1)


def test_tended_lines_carry_their_pretension_in_a_calm() -> None:
    """Fenders give way under the pull of the lines; the pretension was read with that already so."""
    calm = equilibrium(_ship("steel wire"), np.zeros(1), np.zeros(1), np.zeros(1))
    assert calm.displacement == pytest.approx(0.0, abs=1e-9)
    assert calm.tension_n == pytest.approx(60e3)
    assert np.all(calm.fender_n > 0.0)


def test_a_push_to_the_quay_presses_the_fenders_and_slacks_the_breasts() -> None:
    mooring = _ship("steel wire")
    calm, pushed = (
        equilibrium(mooring, np.zeros(1), np.array([sway_n]), np.zeros(1)) for sway_n in (0.0, -1500e3)
    )
    assert pushed.fender_n.sum() > calm.fender_n.sum() + 1000e3
    assert pushed.displacement[0, 1] < 0.0
    assert pushed.tension_n[0, 3] < calm.tension_n[0, 3]


def test_fender_reaction_is_linear_to_its_rating_then_harder() -> None:
    """Energy is the integral of reaction; at the rating exactly the rating; pressed flat ten times as stiff."""
    fenders = _fenders(count=1)
    depth_m = np.linspace(-0.2, 1.2, 14001)[:, None]
    reaction_n, stiffness_n_m, energy_j = fenders.push(depth_m)
    assert np.interp([0.0, 0.3, 0.6], depth_m[:, 0], reaction_n[:, 0]) == pytest.approx(
        [0.0, 400e3, 800e3], abs=1e-3
    )
    assert np.all(reaction_n[depth_m <= 0.0] == 0.0)
    assert np.gradient(energy_j[:, 0], depth_m[:, 0])[1:-1] == pytest.approx(reaction_n[1:-1, 0], abs=200.0)
    assert np.all(np.diff(stiffness_n_m[depth_m > 0.0]) >= -1e-6)
    assert stiffness_n_m[-1, 0] == pytest.approx(10.0 * 800e3 / 0.6)


# --- few lines, slack lines, no lines -----------------------------------------------------------------------


def _one_line(length_m: float = 30.0, *, count: int = 0) -> Mooring:
    """A slack breast from midships, level."""
    line = LineProperties("breast", "HMPE", 1e6)
    return moor([line], np.zeros(1), np.zeros((1, 3)), np.array([[0.0, -length_m, 0.0]]), _fenders(count=count))


def test_one_line_alone_carries_the_whole_load() -> None:
    """T = F, stretch = F L / EA with EA = MBL ÷ 2.5 %."""
    rest = equilibrium(_one_line(), np.zeros(3), np.array([1e3, 1e5, 4e5]), np.zeros(3))
    assert rest.converged.all()
    assert rest.tension_n[:, 0] == pytest.approx([1e3, 1e5, 4e5])
    assert rest.displacement[:, 1] == pytest.approx(np.array([1e3, 1e5, 4e5]) * 30.0 * 0.025 / 1e6, rel=1e-6)


def test_a_load_that_nothing_holds_is_said() -> None:
    """One slack line, no fender, the load towards the bollard: no numbers that might look calm."""
    rest = equilibrium(_one_line(60.0), np.zeros(1), np.array([-1e5]), np.zeros(1))
    assert rest.why == (NOT_HELD,)
    assert not rest.converged[0]
    for values in (rest.displacement, rest.tension_n, rest.fender_n, rest.residual_n):
        assert np.isnan(values).all()


def test_a_moment_beyond_all_lines_is_said() -> None:
    rest = equilibrium(_one_line(), np.zeros(1), np.array([1e4]), np.array([1e8]))
    assert rest.why == (NOT_HELD,)


def test_slack_lines_let_her_move_before_they_hold() -> None:
    """Two metres of slack veered in every line: she goes off by more, and still balances."""
    mooring = _ship("steel wire", pretension_n=0.0)
    tight, slack = (
        equilibrium(mooring, np.zeros(1), np.array([4e5]), np.zeros(1), payed_out_m=veered_m)
        for veered_m in (0.0, 2.0)
    )
    assert slack.converged[0]
    assert slack.displacement[0, 1] > tight.displacement[0, 1] + 1.5
    assert (slack.tension_n == 0.0).any()


def test_all_slack_and_no_load_is_rest() -> None:
    rest = equilibrium(_ship(pretension_n=0.0), np.zeros(1), np.zeros(1), np.zeros(1), payed_out_m=1.0)
    assert rest.converged[0]
    assert np.all(rest.tension_n == 0.0)


def test_a_line_gone_loads_the_others() -> None:
    """`payed_out_m` inf takes a line away: like the mooring made without it, only with its pretension lost."""
    mooring = _ship()
    gone = np.zeros((2, 16))
    gone[1, 3] = np.inf
    rest = equilibrium(mooring, np.zeros(2), np.full(2, 6e5), np.zeros(2), payed_out_m=gone)
    assert rest.converged.all()
    assert rest.tension_n[1, 3] == 0.0
    assert rest.tension_n[1, 4] > rest.tension_n[0, 4]
    none_left = equilibrium(mooring, np.zeros(1), np.array([6e5]), np.zeros(1), payed_out_m=np.inf)
    assert none_left.why == (NOT_HELD,)


def test_a_line_hove_in_carries_more() -> None:
    hove = np.zeros((2, 16))
    hove[1, 3] = -0.3
    rest = equilibrium(_ship(), np.zeros(2), np.full(2, 3e5), np.zeros(2), payed_out_m=hove)
    assert rest.tension_n[1, 3] > rest.tension_n[0, 3] + 1e4


@pytest.mark.parametrize("wrong", [np.nan, np.inf])
def test_numbers_that_are_none_are_said(wrong: float) -> None:
    mooring = _ship()
    rest = equilibrium(mooring, np.array([0.0, wrong]), np.full(2, 1e5), np.zeros(2))
    assert rest.why == (SETTLED, UNUSABLE)
    assert list(rest.converged) == [True, False]
    assert np.isnan(rest.tension_n[1]).all()
    assert np.isfinite(rest.tension_n[0]).all()
    stiffness = np.array([[1.0], [wrong]])
    assert equilibrium(mooring, np.zeros(2), np.zeros(2), np.zeros(2), stiffness=stiffness).why[1] == UNUSABLE


def test_unstable_balance_is_left() -> None:
    """Pulled past the bollard of her head line she is balanced on edge only: she swings right round instead."""
    line = LineProperties("head line", "HMPE", 1e6)
    nose = moor([line], np.zeros(1), np.array([[5.0, 0.0, 0.0]]), np.array([[8.0, 0.0, 0.0]]), _fenders(count=0))
    rest = equilibrium(nose, np.array([1e5]), np.zeros(1), np.zeros(1))
    on_edge = restoring(nose, np.array([[6.0 + 3.0 * 0.0025, 0.0, 0.0]]))
    assert on_edge.force[0] == pytest.approx([-1e5, 0.0, 0.0], abs=60.0)
    assert rest.converged[0]
    assert abs(rest.yaw_deg[0]) == pytest.approx(180.0, abs=0.01)


# --- batches ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("material", ["polyester", "steel wire", "nylon 8-strand"])
def test_a_batch_is_its_cases_one_by_one(material: Material) -> None:
    mooring = _ship(material)
    surge_n, sway_n, yaw_n_m = _loads(12)
    together = equilibrium(mooring, surge_n, sway_n, yaw_n_m)
    for i in range(12):
        alone = equilibrium(mooring, surge_n[i : i + 1], sway_n[i : i + 1], yaw_n_m[i : i + 1])
        assert alone.displacement[0] == pytest.approx(together.displacement[i], abs=1e-9)
        assert alone.tension_n[0] == pytest.approx(together.tension_n[i], abs=0.01)


def test_a_warm_start_comes_to_the_same_rest() -> None:
    mooring = _ship("HMPE", tail=TailProperties("polyester", 11.0, 875e3))
    surge_n, sway_n, yaw_n_m = _loads(30)
    cold = equilibrium(mooring, surge_n, sway_n, yaw_n_m)
    near = cold.displacement + default_rng(0).normal(0.0, [0.2, 0.2, 0.002], (30, 3))
    near[3] = np.nan  # as an earlier answer that was not found
    warm = equilibrium(mooring, surge_n, sway_n, yaw_n_m, start=near)
    assert warm.displacement == pytest.approx(cold.displacement, abs=1e-7)


def test_two_hundred_cases_of_sixteen_lines_in_a_blink() -> None:
    """Some 5 ms on the machine it was written on; asked here: the best of five within 100 ms on any."""
    mooring = _ship()
    loads = _loads(200)
    took_s = []
    for _ in range(5):
        begin_s = stopwatch_s()
        rest = equilibrium(mooring, *loads)
        took_s.append(stopwatch_s() - begin_s)
    assert rest.converged.all()
    assert min(took_s) < 0.1


def test_lifting_one_end_loads_the_lines_of_that_end() -> None:
    """Trim by the stern untended: fairlead heights by line."""
    mooring = _ship("steel wire")
    rise_m = np.where(np.arange(16) < 8, 1.0, -0.5)
    lifted = equilibrium(heights_changed(mooring, rise_m), np.zeros(1), np.zeros(1), np.zeros(1))
    assert lifted.tension_n[0, 3] > 1.2 * lifted.tension_n[0, 11]
    assert lifted.tension_n[0, 3] > 1.2 * 60e3
    assert heights_changed(mooring, rise_m).lines is mooring.lines


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), exponent=st.floats(2.0, 7.3))
def test_any_mooring_comes_to_rest_or_says_why(seed: int, exponent: float) -> None:
    rng = default_rng(seed)
    mooring = _at_random(rng)
    surge_n, sway_n, yaw_n_m = rng.normal(size=(3, 5)) * 10.0**exponent
    yaw_n_m *= 40.0
    rest = equilibrium(mooring, surge_n, sway_n, yaw_n_m)
    scale_n = np.max(np.abs([surge_n, sway_n, yaw_n_m / mooring.lever_m]), axis=0)
    for i, why in enumerate(rest.why):
        if why == SETTLED:
            assert rest.residual_n[i] <= max(1e-9 * scale_n[i], 1e-4)
            assert np.all(rest.tension_n[i] >= 0.0)
            assert np.all(rest.fender_n[i] >= 0.0)
            here = restoring(mooring, rest.displacement[i : i + 1]).stiffness[0]
            assert np.linalg.eigvalsh(here)[0] >= -1e-6 * np.abs(here).max()
        else:
            assert why in (NOT_HELD, NOT_SETTLED)
            assert np.isnan(rest.tension_n[i]).all()


def test_moorings_with_two_lines_or_more_and_fenders_nearly_always_settle() -> None:
    """Of all those cases at most one in five hundred gives up searching; the rest settle or are adrift."""
    gave_up = cases = 0
    for seed in range(60):
        rng = default_rng(seed)
        mooring = _at_random(rng)
        surge_n, sway_n, yaw_n_m = rng.normal(size=(3, 20)) * 10.0 ** rng.uniform(2.0, 7.0, 20)
        why = equilibrium(mooring, surge_n, sway_n, 40.0 * yaw_n_m).why
        gave_up, cases = gave_up + why.count(NOT_SETTLED), cases + len(why)
    assert gave_up <= cases / 500
