"""A line taken away: against moorings built without it, hand sharing, and the response in time."""

from __future__ import annotations

import math

import numpy as np
import pytest

from monitor.physics.cascade import each_line, losses, worst_pair
from monitor.physics.lines import LineProperties
from monitor.physics.mooring import Fenders, Mooring, equilibrium, moor
from monitor.physics.response import Members, critical_damping, respond
from monitor.records.estimates import HorizontalLoad
from tests.test_mooring_statics import _ship as ship_of_16

OFF = HorizontalLoad(80e3, 900e3, 4e6)


def _breasts(count: int = 4) -> Mooring:
    """Equal breast lines side by side, square to the keel: each carries its part of a push off."""
    lines = [LineProperties(f"breast {i}", "polyester", 600e3) for i in range(count)]
    forward_m = np.linspace(-30.0, 30.0, count)
    fairleads = np.column_stack([forward_m, np.zeros(count), np.zeros(count)])
    bollards = fairleads - [0.0, 40.0, 0.0]
    none = Fenders(*(np.zeros(0) for _ in range(5)))
    return moor(lines, np.zeros(count), fairleads, bollards, none)


def test_the_rest_carry_what_a_mooring_built_without_the_line_carries() -> None:
    mooring = ship_of_16()
    for loss in each_line(mooring, OFF, np.full(16, 1e9)):
        payed = np.zeros((1, 16))
        payed[0, loss.gone[0]] = 1e6
        rest = equilibrium(mooring, *np.array([[OFF.surge_n], [OFF.sway_n], [OFF.yaw_n_m]]), payed_out_m=payed)
        assert loss.next_n == pytest.approx(rest.tension_n[0], abs=1.0)
        assert loss.next_n[loss.gone[0]] == 0.0 and loss.holds and loss.then == ()


def test_four_breasts_share_and_then_two() -> None:
    """By hand: 400 kN on four lines is 100 each, and 200 on the inner two when the outer are gone."""
    mooring, push = _breasts(), HorizontalLoad(0.0, 400e3, 0.0)
    outer = losses(mooring, push, np.full(4, 250e3), [(0, 3)])[0]
    assert outer.next_n == pytest.approx([0.0, 200e3, 200e3, 0.0], rel=1e-3) and outer.holds
    assert outer.share == pytest.approx(0.8, rel=1e-3)


def test_unzipping() -> None:
    """100 kN a line; strength 120: with one gone the others carry more than that, and all go, one by one."""
    loss = losses(_breasts(), HorizontalLoad(0.0, 400e3, 0.0), np.full(4, 120e3), [(1,)])[0]
    assert not loss.holds and len(loss.then) >= 2 and loss.share > 1.0


def test_the_worst_pair_is_the_worst_of_all_pairs() -> None:
    mooring, strength_n = ship_of_16(), np.full(16, 400e3)
    worst = worst_pair(mooring, OFF, strength_n)
    pairs = losses(mooring, OFF, strength_n, [(a, b) for a in range(16) for b in range(a + 1, 16)])
    assert (not worst.holds, worst.share) == max((not p.holds, p.share) for p in pairs)


def test_a_pair_needs_two_lines() -> None:
    one = np.zeros((1, 3))
    none = Fenders(*(np.zeros(0) for _ in range(5)))
    alone = moor([LineProperties("a", "polyester", 1e6)], np.zeros(1), one, one + np.array([0, 40, 0]), none)
    with pytest.raises(ValueError, match="two lines"):
        worst_pair(alone, OFF, np.ones(1))


def test_in_time_the_same_line_goes_first() -> None:
    """A push that grows slowly: the response parts first the line that the statics load highest."""
    mooring = ship_of_16()
    full = np.array([80e3, 2500e3, 4e6])
    rest = equilibrium(mooring, *(full * 0.5)[:, None])
    strength_n = rest.tension_n[0].max() * np.ones(16)
    mass = np.array([4e7, 9e7, 2.5e11])
    drag = 0.2 * critical_damping(mooring, np.zeros((1, 3)), mass[None])
    members = Members(mass[None], drag, strength_n=strength_n[None])
    start = equilibrium(mooring, *np.zeros((3, 1))).displacement
    got = respond(mooring, members, lambda k: (full * min(1.0, k / 2000.0))[None], 2000, 0.5, start)
    gone = got.parted_at_s[0]
    first = int(np.argmin(gone))
    assert first == int(rest.tension_n[0].argmax()) and gone[first] == pytest.approx(500.0, rel=0.1)
    assert sum(math.isfinite(t) for t in gone) > 1  # the next follow
    assert sorted(t for t in gone if math.isfinite(t))[1] > gone[first]
