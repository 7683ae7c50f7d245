"""What a passing ship does to a moored one, in the moored ship's axes; and what the model refuses to say.

Signs are facts of the literature (attraction abreast, repulsion beyond some 0.7 L, surge towards the passer).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from monitor.physics.hulls import Hull, hull_at_draught
from monitor.physics.passing import NEAR_CRITICAL, Basin, PassingLoad, Track, passing_load
from monitor.physics.passing.encounter import LIGHT_BUT_FAST
from monitor.physics.passing.panels import sectioned_panels, spheroid_panels
from monitor.physics.passing.slender import slender_body_load
from monitor.physics.wake import Channel
from monitor.records.estimates import Validity
from tests.test_wang_quadratures import straight

LIKE = hull_at_draught(250.0, 250.0, 44.0, 15.0, 15.0, 0.83)
TANKER = hull_at_draught(250.0, 240.0, 44.0, 15.0, 15.0, 0.83)
OTHER = hull_at_draught(180.0, 170.0, 30.0, 10.0, 10.0, 0.75)
OPEN = Basin(60.0)
PORT_SIDE_TO = Basin(20.0, -24.0)
SLOWER = 0.01  # of a speed: without waves, loads go with its square


def same(one: PassingLoad, other: PassingLoad, signs: tuple[int, int, int]) -> None:
    for mine, theirs, sign in zip(
        (one.surge_n, one.sway_n, one.yaw_n_m), (other.surge_n, other.sway_n, other.yaw_n_m), signs, strict=True
    ):
        np.testing.assert_allclose(mine, sign * theirs, rtol=1e-9, atol=1e-6)


def test_attraction_abreast_and_repulsion_before_and_after() -> None:
    x = np.linspace(-400.0, 400.0, 161)
    for side in (1.0, -1.0):
        load = passing_load(TANKER, TANKER, straight(x, side * 120.0, 0.0, 3.0), OPEN)
        toward = side * load.sway_n
        assert toward[80] == toward.max() > 0.0
        assert np.all(toward[np.abs(x) < 0.3 * 240.0] > 0.0)
        assert np.all(toward[np.abs(x) > 0.7 * 240.0] < 0.0)
        assert 0.7 < abs(x[toward.argmin()]) / 240.0 < 1.0


def test_surge_is_toward_the_passer() -> None:
    x = np.linspace(-150.0, 150.0, 31)
    for course in (0.0, 180.0):
        load = passing_load(TANKER, OTHER, straight(x, -110.0, course, 3.0), OPEN)
        assert np.all(load.surge_n[x < -5.0] < 0.0)
        assert np.all(load.surge_n[x > 5.0] > 0.0)


def test_yaw_swings_the_near_end_in() -> None:
    """The passer off the starboard bow draws the bow to starboard; off the port quarter, the stern to port."""
    starboard_bow = passing_load(TANKER, OTHER, straight(60.0, 110.0, 0.0, 3.0), OPEN)
    port_quarter = passing_load(TANKER, OTHER, straight(-60.0, -110.0, 0.0, 3.0), OPEN)
    port_bow = passing_load(TANKER, OTHER, straight(60.0, -110.0, 180.0, 3.0), OPEN)
    assert starboard_bow.yaw_n_m[0] > 0.0
    assert port_quarter.yaw_n_m[0] > 0.0
    assert port_bow.yaw_n_m[0] < 0.0


def test_four_ways_to_pass() -> None:
    """Tables count x along the passer's heading and y toward her. Into the moored ship's axes: same heading to
    starboard (+,+,+), to port (+,−,−); opposite heading to starboard (−,+,−), to port (−,−,+)."""
    stagger = np.linspace(-220.0, 220.0, 23)  # passer's midships ahead of ours, along HER heading
    table = passing_load(TANKER, OTHER, straight(stagger, 110.0, 0.0, 3.0), OPEN)
    same(passing_load(TANKER, OTHER, straight(stagger, -110.0, 0.0, 3.0), OPEN), table, (1, -1, -1))
    same(passing_load(TANKER, OTHER, straight(-stagger, 110.0, 180.0, 3.0), OPEN), table, (-1, 1, -1))
    same(passing_load(TANKER, OTHER, straight(-stagger, -110.0, 180.0, 3.0), OPEN), table, (-1, -1, 1))


def test_port_side_to_and_starboard_side_to_are_mirror_images() -> None:
    x = np.linspace(-250.0, 250.0, 21)
    course = np.full_like(x, 12.0)
    y = 120.0 + np.tan(np.radians(12.0)) * x * 0.2
    speed = np.full_like(x, 3.0)
    port = passing_load(TANKER, OTHER, Track(x, y, course, speed), Basin(20.0, -24.0))
    starboard = passing_load(TANKER, OTHER, Track(x, -y, -course, speed), Basin(20.0, 24.0))
    same(starboard, port, (1, -1, -1))


def test_a_quay_makes_surge_the_load_that_matters() -> None:
    x = np.linspace(-300.0, 300.0, 61)
    track = straight(x, 100.0, 0.0, 3.0)
    without, behind = (
        passing_load(TANKER, TANKER, track, Basin(18.0)),
        passing_load(TANKER, TANKER, track, Basin(18.0, -23.5)),
    )
    assert without.sway_n.max() > 2.0 * without.surge_n.max()
    assert behind.surge_n.max() > 1.3 * without.surge_n.max()
    assert behind.surge_n.max() > 0.95 * behind.sway_n.max()


def test_sizes_to_expect() -> None:
    """Reference study, converged panel solution: two 250 × 44 × 15 m tankers, 3 m/s, 150 m apart, deep: surge ±30,
    sway +83 and −35 kN; 100 m apart at 1.2 draughts of water ±546 and +2357/−923 kN; under a rigid lid."""
    x = np.linspace(-400.0, 400.0, 161)
    load = passing_load(LIKE, LIKE, straight(x, 150.0, 0.0, 3.0 * SLOWER), Basin(1e5))
    peaks(load, 30.0, 83.0, -35.0)
    shallow = passing_load(LIKE, LIKE, straight(x, 100.0, 0.0, 3.0 * SLOWER), Basin(18.0))
    peaks(shallow, 546.0, 2357.0, -923.0)


def peaks(load: PassingLoad, surge_kn: float, sway_kn: float, away_kn: float) -> None:
    as_told_kn = SLOWER**2 * 1e3
    assert load.surge_n.max() / as_told_kn == pytest.approx(surge_kn, rel=0.03)
    assert load.sway_n.max() / as_told_kn == pytest.approx(sway_kn, rel=0.03)
    assert load.sway_n.min() / as_told_kn == pytest.approx(away_kn, rel=0.03)


def test_good_within_the_checked_range() -> None:
    load = passing_load(TANKER, OTHER, straight(np.linspace(-300, 300, 31), 150.0, 0.0, 3.0), OPEN)
    assert load.validity is Validity.GOOD
    assert load.reasons == ()
    assert load.model_band[0] < 1.0 < load.model_band[1]


GOOD = straight(np.linspace(-300.0, 300.0, 31), 150.0, 0.0, 3.0)
TURNING = Track(GOOD.x_m, GOOD.y_m, np.linspace(0.0, 30.0, 31), GOOD.speed_water_m_s)
STOPPING = Track(GOOD.x_m, GOOD.y_m, GOOD.course_deg, np.linspace(4.0, 2.0, 31))


@pytest.mark.parametrize(
    ("track", "basin", "why"),
    [
        (TURNING, OPEN, "she turns"),
        (STOPPING, OPEN, "changes speed"),
        (straight(GOOD.x_m, 150.0, 0.0, 7.0), Basin(20.0), "her waves count"),
        (GOOD, Basin(16.0), "very little water"),
        (straight(GOOD.x_m, 50.0, 0.0, 3.0), OPEN, "very close"),
        (GOOD, Basin(20.0, -22.1), "hardly any water between us"),
        (GOOD, Basin(20.0, -24.0, more_walls=True), "more walls"),
        (GOOD, Basin(20.0, -24.0, far_bank_y_m=156.0), "far bank may be near"),
        (GOOD, Basin(20.0, -24.0, far_bank_y_m=156.0, section=Channel(180.0 * 20.0, 180.0)), "a narrow channel"),
    ],
)
def test_doubtful_encounters_say_why(track: Track, basin: Basin, why: str) -> None:
    load = passing_load(TANKER, OTHER, track, basin)
    assert load.validity is Validity.DEGRADED
    assert any(why in reason for reason in load.reasons)
    assert np.all(np.isfinite(load.surge_n))


def with_gap(track: Track) -> Track:
    y = track.y_m.copy()
    y[10] = np.nan
    return replace(track, y_m=y)


@pytest.mark.parametrize(
    ("track", "basin", "why", "all_points"),
    [
        (straight(GOOD.x_m, 30.0, 0.0, 3.0), OPEN, "overlap", False),
        (straight(0.0, 5.0, 90.0, 3.0), OPEN, "overlap", True),
        (straight(GOOD.x_m, -60.0, 0.0, 3.0), PORT_SIDE_TO, "crosses the quay", True),
        (straight(-300.0, 20.0, 90.0, 3.0), PORT_SIDE_TO, "crosses the quay", True),
        (straight(GOOD.x_m, 150.0, 0.0, 11.0), Basin(20.0), "waves rule", True),
        (GOOD, Basin(9.0), "passing ship draws more", True),
        (GOOD, Basin(12.0), "moored ship draws more", True),
        (GOOD, Basin(20.0, -15.0), "inside the quay", True),
        (with_gap(GOOD), OPEN, "incomplete", False),
        (straight(GOOD.x_m, 150.0, 0.0, -3.0), OPEN, "negative", True),
        (GOOD, Basin(-0.5), "moored ship draws more", True),
        (replace(GOOD, course_deg=np.full(31, np.inf)), OPEN, "incomplete", True),
    ],
)
def test_what_cannot_be_is_unknown_and_not_a_number(
    track: Track, basin: Basin, why: str, all_points: bool
) -> None:
    load = passing_load(TANKER, OTHER, track, basin)
    assert load.validity is Validity.UNKNOWN
    assert any(why in reason for reason in load.reasons)
    for each in (load.surge_n, load.sway_n, load.yaw_n_m):
        assert each.shape == track.x_m.shape
        assert np.all(np.isnan(each)) if all_points else np.any(np.isnan(each)) and not np.all(np.isnan(each))


def test_a_craft_too_small_to_matter_loads_nothing_but_must_be_known() -> None:
    """0.2 % of the volume: what the theory gives for her is under 2 % of the load from a ship of our own size."""
    launch = hull_at_draught(24.0, 22.0, 6.0, 2.0, 2.0, 0.5)
    track = straight(GOOD.x_m, 60.0, 0.0, 3.0)
    load = passing_load(TANKER, launch, track, PORT_SIDE_TO)
    assert load.validity is Validity.GOOD
    assert not np.any(load.sway_n)
    felt = slender_body_load(TANKER, launch, track, PORT_SIDE_TO)
    like = slender_body_load(TANKER, TANKER, track, PORT_SIDE_TO)
    assert np.abs(felt.sway_n).max() < 0.02 * np.abs(like.sway_n).max()
    assert np.abs(felt.surge_n).max() < 0.02 * np.abs(like.surge_n).max()
    assert passing_load(TANKER, launch, with_gap(track), PORT_SIDE_TO).validity is Validity.UNKNOWN


def test_the_waves_of_a_light_craft_spoil_nothing_but_widen_her_band() -> None:
    """Sinkage at the critical speed is up to three times its low-speed share of V² (Graff, Kracht & Weinblum 1964,
    from memory)."""
    coaster = hull_at_draught(90.0, 85.0, 14.0, 5.0, 5.0, 0.75)
    boat = hull_at_draught(12.0, 11.0, 3.6, 1.0, 1.0, 0.5)
    fast, slow = (straight(GOOD.x_m, 30.0, 0.0, speed_m_s) for speed_m_s in (8.0, 8.0 * SLOWER))
    load = passing_load(coaster, boat, fast, Basin(8.0))
    assert load.validity is Validity.DEGRADED and LIGHT_BUT_FAST in load.reasons
    assert load.model_band == (0.7, NEAR_CRITICAL)
    by_speed = passing_load(coaster, boat, slow, Basin(8.0))
    np.testing.assert_allclose(load.sway_n, by_speed.sway_n / SLOWER**2, rtol=1e-3, atol=0.1)
    assert np.abs(load.sway_n).max() > 100.0
    assert LIGHT_BUT_FAST not in by_speed.reasons
    heavier, far_too_heavy = (
        hull_at_draught(loa, loa - 1.0, 0.3 * loa, 0.08 * loa, 0.08 * loa, 0.5) for loa in (18.0, 28.0)
    )
    bound = passing_load(coaster, heavier, fast, Basin(8.0))
    most_n = bound.model_band[1] * np.hypot(bound.surge_n, bound.sway_n).max()
    assert most_n == pytest.approx(0.2 * heavier.displacement_kg * 9.81, rel=1e-3)  # drag at the hump
    told = passing_load(coaster, far_too_heavy, fast, Basin(8.0))
    assert told.validity is Validity.UNKNOWN and np.isnan(told.sway_n).all()


def test_far_behind_the_quay_line_is_no_fault() -> None:
    """A course that comes round a corner 1 km off: the wall has ended there, and the load is next to nothing."""
    x = np.concatenate([np.linspace(-2000.0, -1200.0, 9), np.linspace(-300.0, 300.0, 13)])
    y = np.where(x < -1000.0, -200.0, 150.0)
    load = passing_load(TANKER, OTHER, Track(x, y, np.zeros_like(x), np.full_like(x, 3.0)), PORT_SIDE_TO)
    assert load.validity is Validity.GOOD
    assert np.abs(load.sway_n[:9]).max() < 0.01 * np.abs(load.sway_n).max()


def test_a_small_hull_moored_feels_a_big_one() -> None:
    """Nothing in the model prefers the larger ship: a 20 m boat is drawn with her own small section areas."""
    boat = Hull(20.0, 18.0, 5.0, 1.5, 0.45, 0.8)
    load = passing_load(boat, TANKER, straight(np.linspace(-300, 300, 61), 60.0, 0.0, 4.0), OPEN)
    assert 1e2 < load.sway_n.max() < 1e4


@pytest.mark.parametrize(
    ("made", "why"),
    [
        (lambda: Basin(np.nan), "a depth"),
        (lambda: Basin(20.0, water_kg_m3=np.nan), "density"),
        (lambda: Basin(20.0, -np.inf), "places of quay"),
        (lambda: Basin(20.0, far_bank_y_m=np.nan), "far bank are numbers"),
        (lambda: Basin(20.0, -24.0, far_bank_y_m=-180.0), "either side of us"),
        (lambda: Basin(20.0, far_bank_y_m=0.0), "either side of us"),
        (lambda: replace(GOOD, y_m=np.zeros(5)), "one row each"),
        (lambda: Hull(250.0, 240.0, np.nan, 15.0, 0.8, 0.98), "needs length, beam"),
        (lambda: Hull(np.inf, 240.0, 44.0, 15.0, 0.8, 0.98), "needs length, beam"),
        (lambda: spheroid_panels(10.0, 30.0, 20, 10), "as long as wide"),
        (lambda: sectioned_panels([0.0, 9.0], [0.0, 0.0], 3.0, 1.0, 20, 10), "three places"),
        (lambda: sectioned_panels([0.0, -5.0, 5.0], [0.0, 3.0, 0.0], 3.0, 1.0, 20, 10), "runs forward"),
        (lambda: sectioned_panels([-5.0, 0.0, 5.0], [2.0, 3.0, 2.0], 3.0, 1.0, 20, 10), "from nothing to nothing"),
    ],
)
def test_what_is_no_encounter_is_refused(made: Callable[[], object], why: str) -> None:
    with pytest.raises(ValueError, match=why):
        made()
