"""Encounters foretold from reports alone, against what the ships then really do (hulls measured by shapely)."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import UTC

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.base.berthed import Berthed
from monitor.records.estimates import Band, Encounter, PassingKind
from monitor.settings.load import load_stay
from monitor.watch.encounters import encounters
from monitor.watch.fairway import lay_fairway
from monitor.watch.scene import scene_of
from monitor.watch.tracks import Target
from monitor.watch.traffic import Traffic

from .harbour import ALONG, ALONG_DEG, CHART, KNOT, Ship, at, scene, seen, since, straight_fairway

ONE, TWO = 200_000_011, 200_000_012


def holds(band: Band, value: float, leeway: float = 0.0) -> bool:
    return band.low - leeway <= value <= band.high + leeway


def assert_foretold(encounter: Encounter, ship: Ship, chance: float) -> None:
    """Time, distances and speed lie in their bands, and the middle is close."""
    second, least_m, separation_m = ship.nearest()
    assert encounter.passes >= chance
    assert since(encounter.earliest_at) <= second <= since(encounter.latest_at)
    lead_s = second - since(encounter.at)
    assert since(encounter.abeam_at) == pytest.approx(second, abs=0.04 * lead_s + 10)
    assert holds(encounter.distance_m, least_m) and holds(encounter.separation_m, separation_m)
    assert holds(encounter.speed_ground_m_s, ship.speeds[second])
    begins, ends = ship.overlap()
    assert encounter.overlap_from is not None and encounter.overlap_to is not None
    assert since(encounter.overlap_from) <= begins and since(encounter.overlap_to) >= ends
    assert begins - since(encounter.overlap_from) < 0.25 * lead_s + 20  # early enough, and no scaremongering


@pytest.mark.parametrize("ahead_s", [900, 600, 300, 60])
@pytest.mark.parametrize("in_fairway", [True, False])
def test_parallel_same_way(ahead_s: int, in_fairway: bool):
    ship = Ship(ONE, -6000, 150, 10, 0, [(1500, 0, 0)])
    second, _, _ = ship.nearest()
    (encounter,) = seen([ship], second - ahead_s, scene(straight_fairway() if in_fairway else None)).values()
    if in_fairway or ahead_s <= 300:
        assert_foretold(encounter, ship, 0.8)
    assert encounter.kind is PassingKind.SAME_WAY
    assert encounter.course_deg == pytest.approx(ALONG_DEG, abs=3.0)
    assert encounter.length_m.mid == 180.0 and encounter.name == "INVENTED 11"


@pytest.mark.parametrize("side_to", ["port", "starboard"])
def test_opposite_way_is_told_by_our_heading_and_not_by_the_quay(side_to):
    ship = Ship(ONE, 4000, 110, 9, 180, [(1500, 0, 0)])
    (encounter,) = seen([ship], 200, scene(straight_fairway(), side_to=side_to)).values()
    assert_foretold(encounter, ship, 0.8)
    assert encounter.kind is (PassingKind.OPPOSITE if side_to == "port" else PassingKind.SAME_WAY)
    assert encounter.course_deg == pytest.approx(ALONG_DEG + 180.0, abs=3.0)


def test_oblique_crossing():
    """She comes down river at 40° to our berth; her line passes 180 m off our midships."""
    ship = Ship(ONE, -1500, 1500, 8, -40, [(900, 0, 0)])
    (encounter,) = seen([ship], 60, scene(straight_fairway())).values()
    assert encounter.kind is PassingKind.OBLIQUE
    second, least_m, separation_m = ship.nearest()
    assert since(encounter.earliest_at) <= second <= since(encounter.latest_at)
    assert holds(encounter.separation_m, separation_m) and holds(encounter.distance_m, least_m)


def test_overtaking_pair_are_two_encounters_side_by_side():
    slow = Ship(ONE, -2500, 120, 7, 0, [(1500, 0, 0)])
    fast = Ship(TWO, -4500, 240, 13, 0, [(1500, 0, 0)])
    found = seen([slow, fast], 240, scene(straight_fairway()))
    for ship in (slow, fast):
        assert_foretold(found[ship.mmsi], ship, 0.8)
    assert found[ONE].separation_m.mid < found[TWO].separation_m.mid


def test_turning_off_before_the_berth_ends_the_encounter():
    """She turns 90° to starboard, away from the quay, into another arm 900 m short of us."""
    ship = Ship(ONE, -2600, 150, 8, 0, [(420, 0, 0), (180, 0, 90), (600, 0, 0)])
    where = scene(straight_fairway())
    before = seen([ship], 300, where)[ONE]
    assert before.passes > 0.8
    assert seen([ship], 500, where)[ONE].passes < before.passes
    assert seen([ship], 640, where) == {}


def test_a_turn_towards_us_outside_the_fairway_is_called_turning():
    ship = Ship(ONE, -1200, 900, 7, -90, [(100, 0, 0), (170, 0, 85), (400, 0, 0)])
    encounter = seen([ship], 160, scene())[ONE]
    assert encounter.kind is PassingKind.TURNING
    assert encounter.distance_m.low < 60.0


def test_stopping_short_of_us():
    """From 6 kn she loses way steadily and lies still some 340 m short of our stern."""
    ship = Ship(ONE, -1900, 120, 6, 0, [(60, 0, 0), (770, -6, 0), (900, 0, 0)])
    where = scene(straight_fairway())
    assert ship.points[-1].real + 90 + 340 + 100 == pytest.approx(0, abs=10)
    held, late = seen([ship], 50, where)[ONE], seen([ship], 500, where).get(ONE)
    assert held.kind is PassingKind.SAME_WAY and held.passes > 0.8
    assert late is not None and late.kind is PassingKind.STOPPING and late.passes < 0.55
    assert seen([ship], 1700, where) == {}


def test_berthing_right_astern_of_us_is_stopping_and_then_silent():
    """Her bow comes to rest 30 m from our stern, at our own quay: she slides along the quay at the end."""
    ship = Ship(ONE, -1610, 60, 5, -1.5, [(850, -3.8, 0), (115, -1.2, 0), (900, 0, 0)])
    assert ship.points[-1].real + 90 + 30 + 100 == pytest.approx(0, abs=10)
    where = scene(straight_fairway())
    encounter = seen([ship], 600, where)[ONE]
    assert encounter.kind is PassingKind.STOPPING
    assert seen([ship], 1800, where) == {}


def test_fast_small_craft():
    ship = Ship(ONE, -6000, 250, 35, 0, [(600, 0, 0)], length_m=25, beam_m=8, draught_m=1.5, ship_type=40)
    (encounter,) = seen([ship], 100, scene(straight_fairway())).values()
    assert_foretold(encounter, ship, 0.8)
    assert encounter.length_m.mid == 25.0


def test_a_moored_neighbour_is_no_encounter_and_a_leaving_one_is():
    """She lies bow to our bow 60 m ahead, drifts off sideways, then gathers way past us: reports 3 min apart."""
    ship = Ship(ONE, 250, 18, 0.0, 90, [(900, 0, 0), (240, 0.4, 0), (300, 1.2, 0)], reports_s=180)
    ship.headings = np.full(len(ship.points), 180.0)
    where = scene(straight_fairway())
    for second in (30, 400, 900):
        assert seen([ship], second, where) == {}
    encounter = seen([ship], 1270, where)[ONE]
    assert encounter.kind is PassingKind.LEAVING
    assert "way out of her berth" in encounter.assumed
    assert encounter.passes == pytest.approx(0.5)
    assert (encounter.latest_at - encounter.earliest_at).total_seconds() > 120
    assert encounter.fix_age_s == pytest.approx(10.0)


def test_leaving_is_said_of_neighbours_only():
    far = Ship(ONE, 2500, 18, 0.0, 90, [(400, 0, 0), (300, 1.5, 0)])
    boat = Ship(TWO, 250, 18, 0.0, 90, [(400, 0, 0), (300, 0.9, 0)], length_m=20, beam_m=6)
    assert seen([far, boat], 690, scene(straight_fairway())) == {}


def test_already_abeam_then_past_and_opening():
    ship = Ship(ONE, -1000, 150, 9, 0, [(600, 0, 0)])
    where = scene(straight_fairway())
    begins, ends = ship.overlap()
    second, least_m, _ = ship.nearest()
    for now in (begins + 5, second, ends - 8):
        encounter = seen([ship], now, where)[ONE]
        assert encounter.passes == pytest.approx(1.0)
        assert since(encounter.abeam_at) == pytest.approx(second, abs=12)
        assert holds(encounter.distance_m, least_m, 5.0)
    assert seen([ship], ends + 25, where) == {}


@pytest.mark.parametrize("missing", ["heading", "course"])
def test_without_heading_or_course(missing: str):
    ship = Ship(
        ONE, -3000, 150, 9, 0, [(900, 0, 0)], tells_heading=missing != "heading", tells_course=missing != "course"
    )
    encounter = seen([ship], 120, scene(straight_fairway()))[ONE]
    assert_foretold(encounter, ship, 0.8)
    assert ("heading" in encounter.assumed) is (missing == "heading")


def test_a_jumping_position_changes_nothing():
    ship = Ship(ONE, -3000, 150, 9, 0, [(900, 0, 0)])
    table = Traffic(CHART, 1, 180.0)
    table.take(ship.told())
    for k, fix in enumerate(each for each in ship.fixes() if each.received_at <= at(200)):
        table.take(fix)
        if k % 4 == 1:
            table.take(
                fix._replace(
                    latitude_deg=fix.latitude_deg + 0.05 * k,
                    observed_at=fix.observed_at.replace(microsecond=5),
                )
            )
    found = encounters(table.targets(at(200)), scene(straight_fairway()), at(200))
    assert {each.mmsi: each for each in found} == seen([ship], 200, scene(straight_fairway()))


def test_ships_on_the_other_side_of_the_quay_are_no_encounter():
    alongside = Ship(ONE, -1500, -400, 8, 0, [(900, 0, 0)])  # another basin, parallel to our quay
    through = Ship(TWO, -600, -500, 8, 45, [(600, 0, 0)])  # heading for us, with the land between
    for second in (30, 100, 200):
        assert seen([alongside, through], second, scene(straight_fairway())) == {}


def test_round_the_bend_a_quarter_of_an_hour_ahead():
    """13 kn, 3.3 NM off along an invented river with two bends: only the fairway foretells the pass."""
    bends = [(-7600 + 2900j), (-4300 + 2600j), (-2600 + 180j), (0 + 180j), (6000 + 180j)]
    fairway = lay_fairway([(each + 0j) * ALONG for each in bends], 260.0)
    speed_kn = 13.0
    run_m = np.arange(0.0, 9000.0, speed_kn * KNOT)
    start = bends[0] + 300 + 30j
    (node,), (offset_m,), _ = fairway.place(np.array([start * ALONG]))
    points, courses = fairway.follow(int(node), start * ALONG, float(offset_m), True, run_m)
    ship = Ship(ONE, 0, 0, speed_kn, 0, [(len(run_m) - 1, 0, 0)])
    ship.points = points / ALONG
    ship.courses = ship.headings = np.degrees(np.angle(courses / ALONG))
    second, _, _ = ship.nearest()
    now = second - 3.3 * 1852 / (speed_kn * KNOT)
    assert second - now > 900
    encounter = seen([ship], now, scene(fairway))[ONE]
    assert encounter.passes > 0.7
    assert since(encounter.earliest_at) < second < since(encounter.latest_at)
    assert since(encounter.abeam_at) == pytest.approx(second, rel=0.05)
    assert holds(encounter.separation_m, ship.nearest()[2])
    straight_on = seen([ship], now, scene()).get(ONE)
    assert straight_on is None or straight_on.passes < 0.2


@pytest.mark.parametrize("upstream", [True, False])
def test_the_shipped_berth_sees_a_quarter_of_an_hour_along_its_river(config, upstream):
    stay = load_stay(config, "tavrin-lark-at-sedge-quay-2")
    off_m = max(fender.thickness for fender in stay.berth.fenders) + 0.5 * stay.ship.beam
    berthed = Berthed(stay.berth.along, stay.stay.side_to, stay.stay.midships_along, off_m)
    where = scene_of(stay, berthed, 0.8, 220.0)
    assert where.fairway is not None
    along_m = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(where.fairway.nodes)))])
    sense = 1 if upstream else -1
    here = int(np.abs(along_m - along_m[np.abs(where.fairway.nodes).argmin()] + sense * 3.3 * 1852).argmin())
    plane, course = where.fairway.nodes[here], sense * where.fairway.tangents[here]
    cog_deg = float(np.degrees(np.angle(course)) % 360)
    coming = target(0.0, 0.0, 13 * KNOT, 0.0, north_m=plane.real, east_m=plane.imag, cog_deg=cog_deg)
    (encounter,) = encounters([coming], where, at(0))
    assert encounter.passes > 0.7
    assert since(encounter.abeam_at) == pytest.approx(914, rel=0.05)
    assert encounter.kind is (PassingKind.SAME_WAY if upstream else PassingKind.OPPOSITE)


def test_speed_through_the_water_is_ground_less_current():
    """12 kn over the ground upstream against 3 kn of ebb is 15 kn through the water; downstream 9 kn."""
    up, down = Ship(ONE, -2500, 200, 12, 0, [(600, 0, 0)]), Ship(TWO, 2500, 150, 12, 180, [(600, 0, 0)])
    ebb = scene(straight_fairway(), 3.0 * KNOT, ALONG_DEG + 180.0)
    found = seen([up, down], 60, ebb)
    assert found[ONE].speed_water_m_s.mid == pytest.approx(15 * KNOT, rel=0.03)
    assert found[TWO].speed_water_m_s.mid == pytest.approx(9 * KNOT, rel=0.03)
    untold = seen([up], 60, scene(straight_fairway(), None, None))[ONE]
    assert "fairway current" in untold.assumed
    assert holds(untold.speed_water_m_s, 10.5 * KNOT) and holds(untold.speed_water_m_s, 13.5 * KNOT)


def test_the_longer_she_is_silent_the_wider_the_bands():
    ship, silent = (Ship(ONE, -3000, 150, 9, 0, [(seconds, 0, 0)]) for seconds in (220, 60))
    fresh, old = (seen([each], 200, scene(straight_fairway()))[ONE] for each in (ship, silent))
    assert fresh.fix_age_s == 10.0 and old.fix_age_s == 140.0
    assert old.latest_at - old.earliest_at > fresh.latest_at - fresh.earliest_at
    assert old.separation_m.high - old.separation_m.low > fresh.separation_m.high - fresh.separation_m.low


def test_silence_never_makes_her_time_surer():
    """Nothing is heard of her from 3 min before she is due; speeds change by a fifth in 5 min (see `futures`)."""
    ship = Ship(ONE, -2000, 120, 10, 0, [(210, 0, 0)])
    where, due_s = scene(straight_fairway()), 2000 / (10 * KNOT)
    widths_s = []
    for second in (215, 300, int(due_s) - 5):
        told = seen([ship], second, where)[ONE]
        widths_s.append((told.latest_at - told.earliest_at).total_seconds())
    assert widths_s[-1] > 0.1 * (due_s - 210)
    assert min(widths_s) > 0.9 * widths_s[0]


def test_ais_has_twice_six_minutes_to_tell_a_size():
    """Static data every 6 min (ITU-R M.1371); a message may be lost."""
    ship = Ship(ONE, -4500, 150, 6, 0, [(1000, 0, 0)])
    newly = [seen([ship], second, scene(straight_fairway()))[ONE].newly_heard for second in (60, 710, 730)]
    assert newly == [True, True, False]


def test_one_mmsi_twice_is_one_encounter_and_said_so():
    near, far = Ship(ONE, -1200, 150, 9, 0, [(600, 0, 0)]), Ship(ONE, 5000, 200, 9, 180, [(600, 0, 0)])
    table = Traffic(CHART, 1, 180.0)
    for one, other in zip(near.fixes(), far.fixes(), strict=True):
        if one.observed_at <= at(60):
            table.take(one)
            table.take(other._replace(observed_at=other.observed_at.replace(microsecond=9)))
    (encounter,) = encounters(table.targets(at(60)), scene(straight_fairway()), at(60))
    assert "two ships send this MMSI" in encounter.assumed
    assert since(encounter.abeam_at) < 300


def target(along_m: float, off_m: float, speed_m_s: float, course_deg: float, **other: object) -> Target:
    plane = complex(along_m, off_m) * ALONG
    course_deg = (course_deg + ALONG_DEG) % 360.0
    plain = Target(
        ONE,
        "",
        80,
        plane.real,
        plane.imag,
        speed_m_s,
        course_deg,
        course_deg,
        False,
        None,
        None,
        5.0,
        8.0,
        0.0,
        None,
        0.0,
        None,
        True,
        False,
    )
    return replace(plain, **other)  # type: ignore[arg-type]


def test_what_cannot_be_foretold_is_no_encounter():
    where = scene(straight_fairway())
    for unknown in ({"sog_m_s": None}, {"cog_deg": None, "heading_deg": None}):
        assert encounters([target(-1000, 150, 5.0, 0.0, **unknown)], where, at(0)) == ()
    assert encounters([], where, at(0)) == ()


@settings(max_examples=150, deadline=None)
@given(
    along_m=st.floats(-20_000, 20_000),
    off_m=st.floats(-2000, 5000),
    speed_m_s=st.floats(0.0, 25.0),
    course_deg=st.floats(0.0, 359.9),
    turn_deg_min=st.one_of(st.none(), st.floats(-700, 700)),
    acceleration_m_s2=st.one_of(st.none(), st.floats(-0.2, 0.2)),
    position_sd_m=st.floats(1.0, 500.0),
    along_sd_m=st.floats(0.0, 120.0),
    rest_age_s=st.one_of(st.none(), st.floats(0.0, 1200.0)),
    crept_m=st.floats(0.0, 300.0),
    river=st.booleans(),
)
def test_whatever_a_target_does_the_bands_stay_in_order(river: bool, **state: float):
    where = scene(straight_fairway() if river else None)
    place = [state.pop(name) for name in ("along_m", "off_m", "speed_m_s", "course_deg")]
    for each in encounters([target(*place, **state)], where, at(0)):
        assert 0.0 < each.passes <= 1.0
        bands = (each.distance_m, each.speed_ground_m_s, each.speed_water_m_s, each.separation_m)
        for band in (*bands, each.length_m, each.beam_m, each.draught_m):
            assert 0.0 <= band.low <= band.mid <= band.high < 1e4
        assert each.earliest_at <= each.abeam_at <= each.latest_at
        assert each.earliest_at.tzinfo is UTC and 0.0 <= each.course_deg < 360.0
        assert since(each.latest_at) <= 1800.0 + 600.0
        if each.overlap_from is not None and each.overlap_to is not None:
            assert each.overlap_from <= each.overlap_to


def test_the_same_question_has_the_same_answer():
    asked = [target(-3000, 150, 5.0, 2.0), target(2500, 300, 4.0, 170.0, mmsi=TWO, turn_deg_min=12.0)]
    where = scene(straight_fairway())
    assert encounters(asked, where, at(0)) == encounters(asked, where, at(0))
    alone = [each for one in asked for each in encounters([one], where, at(0))]
    assert sorted(alone, key=lambda each: each.abeam_at) == list(encounters(asked, where, at(0)))


def test_a_hundred_targets_cost_little():
    """40 under way, half of them bound our way in the fairway, 60 at rest: together far less than one by one."""
    draw = np.random.default_rng(5)
    asked = [target(*draw.uniform((-9000, 20), (9000, 2000)), 0.1, 0.0, mmsi=ONE + k) for k in range(60)]
    asked += [
        target(-draw.uniform(300, 8000), draw.uniform(80, 280), draw.uniform(2, 7), 0.0, mmsi=ONE + 60 + k)
        for k in range(20)
    ]
    asked += [
        target(
            *draw.uniform((-9000, 300), (9000, 3000)), draw.uniform(1, 9), draw.uniform(0, 360), mmsi=ONE + 80 + k
        )
        for k in range(20)
    ]
    where = scene(straight_fairway())
    assert len(encounters(asked, where, at(0))) >= 20

    def best_s(groups: list[list[Target]]) -> float:
        spent_s = []
        for _ in range(5):
            begun_s = time.process_time()
            for group in groups:
                encounters(group, where, at(0))
            spent_s.append(time.process_time() - begun_s)
        return min(spent_s)

    assert best_s([asked]) < 0.6 * best_s([[one] for one in asked])
