"""The table of ships against the faults of recorded feeds: duplicates, time running backwards, jumps, missing
headings and courses, one MMSI at two places. Distances against Karney's geodesics."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pyais
import pytest
from geographiclib.geodesic import Geodesic

from monitor.base.frames import LocalMap
from monitor.intake.ships import observed_at
from monitor.records.observations import Refusal, Refused, ShipFix, ShipParticulars
from monitor.watch.tracks import AT_REST_M_S, Target
from monitor.watch.traffic import MOST_PARTICULARS, MOST_SHIPS, Traffic
from tests.composed import POSITION, vdm

BERTH = LocalMap(-45.0, -30.0)  # open sea; nobody berths there
START = datetime(2031, 5, 4, 6, 0, tzinfo=UTC)
OWN, SHIP = 200_000_001, 200_000_002
KNOT = 1852.0 / 3600.0


def at(seconds: float) -> datetime:
    return START + timedelta(seconds=seconds)


def fix(
    seconds: float,
    north_m: float = 0.0,
    east_m: float = 0.0,
    *,
    mmsi: int = SHIP,
    sog_m_s: float | None = 5.0,
    cog_deg: float | None = 0.0,
    heading_deg: float | None = 0.0,
    turn_deg_min: float | None = None,
    late_s: float = 1.0,
) -> ShipFix:
    latitude_deg, longitude_deg = BERTH.to_position(north_m, east_m)
    return ShipFix(
        mmsi,
        at(seconds),
        at(seconds + late_s),
        latitude_deg,
        longitude_deg,
        sog_m_s,
        cog_deg,
        heading_deg,
        turn_deg_min,
        None,
        True,
        "ais",
    )


def particulars(mmsi: int = SHIP, **told: object) -> ShipParticulars:
    return ShipParticulars(mmsi, START, "ais", **told)  # type: ignore[arg-type]


def traffic(*fixes: ShipFix | ShipParticulars) -> Traffic:
    table = Traffic(BERTH, OWN, 180.0)
    for each in fixes:
        assert table.take(each) is None
    return table


def reason(refused: Refused | None) -> Refusal | None:
    return None if refused is None else refused.reason


def only(table: Traffic, seconds: float) -> Target:
    (target,) = table.targets(at(seconds))
    return target


# --- what is refused ----------------------------------------------------------------------------------------


def test_own_ship_is_never_a_target():
    table = traffic()
    assert reason(table.take(fix(0, mmsi=OWN))) is Refusal.OWN_SHIP
    assert reason(table.take(particulars(OWN, name="OWN", length_m=200.0))) is Refusal.OWN_SHIP
    assert table.targets(at(1)) == () and table.name(OWN) == ""


def test_a_sentence_heard_four_times_counts_once():
    table = traffic(fix(0), fix(10, 50))
    assert [reason(table.take(fix(10, 50))) for _ in range(3)] == [Refusal.DUPLICATE] * 3
    assert reason(table.take(fix(0))) is Refusal.DUPLICATE  # and by a slower receiver
    assert reason(table.take(fix(20, 100))) is None


def test_a_ship_that_lies_still_does_not_repeat_herself():
    table = traffic(*(fix(180 * k, sog_m_s=0.0) for k in range(5)))
    assert only(table, 720).fix_age_s == 0.0


def test_time_running_backwards_is_refused_and_changes_nothing():
    table = traffic(fix(0), fix(20, 100))
    assert reason(table.take(fix(15, 75))) is Refusal.OUT_OF_ORDER
    assert only(table, 20).north_m == pytest.approx(100.0, abs=0.1)


@pytest.mark.parametrize("stalled_s", [40, 75, 120, 170])
@pytest.mark.parametrize("every_s", [6, 10, 30])
def test_what_a_stalled_network_brings_in_one_gush_does_not_misplace_the_ship(stalled_s: int, every_s: int):
    """Only the seconds of the reports are known: half of them are dated ahead. The next puts her in her place."""
    table, ends = traffic(), 600 + stalled_s
    for second in range(0, ends + every_s, every_s):
        came_at = at(max(second, ends) + 0.5 if second >= 600 else second + 0.5)
        dated_at = observed_at(came_at, None, second % 60)
        table.take(fix(second, 5.0 * second)._replace(observed_at=dated_at, received_at=came_at))
    assert only(table, ends + every_s).north_m == pytest.approx(5.0 * (ends + every_s), abs=1.0)


def test_a_fix_from_the_future_does_not_block_the_ship():
    table = traffic(fix(0))
    assert reason(table.take(fix(3600, late_s=-3590.0))) is Refusal.OUT_OF_RANGE
    assert reason(table.take(fix(10, 50))) is None


def test_our_clock_set_back_an_hour_does_not_block_the_ships():
    table = traffic(fix(3600), fix(3610, 50))
    assert reason(table.take(fix(20, 100))) is None
    assert only(table, 20).fix_age_s == 0.0


def test_a_jump_is_refused_and_the_ship_stays_where_she_is():
    table = traffic(fix(0), fix(10, 50))
    assert reason(table.take(fix(20, 9000))) is Refusal.JUMP
    assert reason(table.take(fix(30, 150))) is None
    assert only(table, 30).north_m == pytest.approx(150.0, abs=0.1)


def test_the_jump_rule_needs_twice_the_speed_and_ten_knots_more():
    # 5 m/s reported: 10 kn over it is 10.1 m/s; in 100 s 1014 m, plus the slack for noise.
    assert reason(traffic(fix(0)).take(fix(100, 1060))) is None
    assert reason(traffic(fix(0)).take(fix(100, 1090))) is Refusal.JUMP
    # 20 m/s: twice it is 40 m/s.
    assert reason(traffic(fix(0, sog_m_s=20.0)).take(fix(100, 4050, sog_m_s=20.0))) is None
    assert reason(traffic(fix(0, sog_m_s=20.0)).take(fix(100, 4070, sog_m_s=20.0))) is Refusal.JUMP


def test_two_confirmations_move_the_ship_and_clear_the_ghost():
    """The ghost came first: the real ship must not stay hidden behind it."""
    table = traffic(fix(0, 9000))
    assert [reason(table.take(fix(10 * k, 50 * k))) for k in (1, 2)] == [Refusal.JUMP] * 2
    assert reason(table.take(fix(30, 150))) is None
    target = only(table, 30)
    assert target.north_m == pytest.approx(150.0, abs=0.1) and not target.twin


def test_scattered_ghosts_never_confirm_each_other():
    table = traffic(fix(0))
    for k in range(1, 30):
        assert reason(table.take(fix(10 * k - 5, 4000 + 3000 * (k % 3), 700 * k))) is Refusal.JUMP
        assert reason(table.take(fix(10 * k, 50 * k))) is None
    assert only(table, 290).north_m == pytest.approx(1450.0, abs=0.1)


def test_two_ships_with_one_mmsi_are_both_kept():
    table = traffic(fix(0))
    for k in range(1, 8):
        table.take(fix(10 * k - 3, 8000 - 50 * k, cog_deg=180.0))
        assert reason(table.take(fix(10 * k, 50 * k))) is None
    near, far = sorted(table.targets(at(70)), key=lambda target: target.north_m)
    assert near.twin and far.twin
    assert near.north_m == pytest.approx(350.0, abs=0.1)
    assert far.north_m == pytest.approx(7635.0, abs=0.1)
    for k in range(8, 60):  # the other falls silent: one ship again
        assert reason(table.take(fix(10 * k, 50 * k))) is None
    assert not only(table, 590).twin


def test_a_speed_log_that_stands_at_nothing_hides_no_ship():
    """She tells 0 kn and makes good 8 kn by her own places: she comes."""
    stuck = traffic(*(fix(10 * k, 41.2 * k, sog_m_s=0.0, cog_deg=270.0) for k in range(8)))
    target = only(stuck, 70)
    assert target.sog_m_s == pytest.approx(4.12) and target.cog_deg == pytest.approx(0.0, abs=0.1)
    assert not target.at_rest and target.rest_age_s is None


def test_who_lies_still_or_has_just_stopped_makes_no_way():
    """Places that wander by 20 m alongside; a ship that came in and stopped."""
    wandering = traffic(*(fix(10 * k, 20.0 * (k % 3 - 1), 15.0 * (k % 2), sog_m_s=0.0) for k in range(30)))
    assert only(wandering, 290).sog_m_s == 0.0
    came_in = [fix(10 * k, 30.0 * k, sog_m_s=3.0) for k in range(6)]
    stopped = traffic(*came_in, *(fix(60 + 10 * k, 160.0 + 3 * k, sog_m_s=0.2) for k in range(9)))
    assert only(stopped, 140).sog_m_s == 0.2
    shifted = [(0.0, 0.0)] * 9 + [(30.0 * k, 3.0) for k in range(1, 11)]  # a tug that lay, ran 300 m and lies
    lies = traffic(*(fix(10 * k, m, sog_m_s=v) for k, (m, v) in enumerate([*shifted, (300.0, 0.0)])))
    assert only(lies, 190).sog_m_s == 0.0


def test_across_the_date_line_is_no_jump():
    chart = LocalMap(10.0, 179.9995)
    table = Traffic(chart, OWN, 180.0)
    for k, longitude_deg in enumerate((179.9998, -179.9998, -179.9994)):
        each = ShipFix(SHIP, at(10 * k), at(10 * k), 10.0, longitude_deg, 4.5, 90.0, 90.0, None, None, True, "ais")
        assert table.take(each) is None
    assert only(table, 20).east_m == pytest.approx(0.0011 * 109_640.0, rel=1e-3)


# --- where she is -------------------------------------------------------------------------------------------


def test_the_antenna_is_moved_to_midships_as_the_geodesic_has_it():
    """250 m ship, antenna 210 m from the bow and 8 m from the port side (beam 32 m), heading 060°."""
    told = particulars(length_m=250.0, beam_m=32.0, to_bow_m=210.0, to_port_m=8.0)
    sent = fix(0, 300, -400, sog_m_s=0.0, heading_deg=60.0)
    target = only(traffic(told, sent), 0)
    ahead = Geodesic.WGS84.Direct(sent.latitude_deg, sent.longitude_deg, 60.0, 210.0 - 125.0)
    midships = Geodesic.WGS84.Direct(ahead["lat2"], ahead["lon2"], 150.0, 16.0 - 8.0)
    off = Geodesic.WGS84.Inverse(
        midships["lat2"], midships["lon2"], *BERTH.to_position(target.north_m, target.east_m)
    )
    assert off["s12"] < 0.1


def test_an_unknown_antenna_spreads_her_over_her_length():
    target = only(traffic(particulars(length_m=300.0, beam_m=40.0), fix(0)), 0)
    assert target.along_sd_m == pytest.approx(300.0 / 12**0.5)  # uniform
    assert target.north_m == pytest.approx(0.0, abs=1e-6)


def test_no_heading_uses_the_course_under_way_and_spreads_at_rest():
    told = particulars(length_m=200.0, beam_m=30.0, to_bow_m=180.0, to_port_m=15.0)
    under_way = only(traffic(told, fix(0, heading_deg=None, cog_deg=90.0)), 0)
    assert under_way.heading_deg == 90.0 and under_way.heading_assumed
    assert under_way.east_m == pytest.approx(80.0, abs=0.1)
    at_rest = only(traffic(told, fix(0, heading_deg=None, sog_m_s=0.1, cog_deg=90.0)), 0)
    assert at_rest.heading_deg is None
    assert at_rest.east_m == pytest.approx(0.0, abs=0.1)
    assert at_rest.position_sd_m > 50.0  # the antenna is 80 m from midships, somewhere round it


def test_dead_reckoning_follows_the_geodesic_and_grows_unsure():
    sent = fix(0, 2000, 1000, sog_m_s=6.0, cog_deg=237.0)
    target = only(traffic(sent), 60)
    there = Geodesic.WGS84.Direct(sent.latitude_deg, sent.longitude_deg, 237.0, 360.0)
    off = Geodesic.WGS84.Inverse(there["lat2"], there["lon2"], *BERTH.to_position(target.north_m, target.east_m))
    assert off["s12"] < 1.0
    assert target.position_sd_m > only(traffic(sent), 0).position_sd_m + 10.0


def test_a_missing_course_and_speed_come_from_the_way_made():
    table = traffic(*(fix(10 * k, 40 * k, 30 * k, sog_m_s=None, cog_deg=None, heading_deg=None) for k in range(5)))
    target = only(table, 40)
    assert target.sog_m_s == pytest.approx(5.0, rel=0.01)
    assert target.cog_deg == pytest.approx(36.87, abs=0.2)


def test_one_fix_without_course_or_speed_stays_unknown():
    target = only(traffic(fix(0, sog_m_s=None, cog_deg=None, heading_deg=None)), 5)
    assert target.sog_m_s is None and target.cog_deg is None and target.heading_deg is None


def test_rate_of_turn_is_the_reported_one_or_that_of_the_courses():
    turning = [fix(10 * k, 45 * k, cog_deg=(350.0 + 5.0 * k) % 360.0, heading_deg=None) for k in range(9)]
    assert only(traffic(*turning), 80).turn_deg_min == pytest.approx(30.0)
    assert only(traffic(*turning[:-1], fix(80, 360, turn_deg_min=-12.0)), 80).turn_deg_min == -12.0
    assert only(traffic(fix(0)), 0).turn_deg_min is None


def test_acceleration_is_the_trend_of_the_speed():
    slowing = [fix(10 * k, 50 * k, sog_m_s=6.0 - 0.1 * k) for k in range(20)]
    assert only(traffic(*slowing), 190).acceleration_m_s2 == pytest.approx(-0.01)
    assert only(traffic(*slowing[:2]), 10).acceleration_m_s2 is None


def test_a_neighbour_creeping_off_the_quay_no_longer_lies_still():
    """Reports every three minutes, speed near nothing: only the place tells."""
    table = traffic(*(fix(180 * k, sog_m_s=0.0) for k in range(4)))
    assert only(table, 540).at_rest
    assert table.take(fix(720, 0, 32, sog_m_s=0.2)) is None
    target = only(table, 720)
    assert not target.at_rest and target.sog_m_s is not None and target.sog_m_s < AT_REST_M_S
    assert target.crept_m == pytest.approx(32.0, abs=0.1) and target.rest_age_s == 0.0


# --- silence ------------------------------------------------------------------------------------------------


def test_stale_then_lost_then_forgotten_by_the_given_now():
    table = traffic(fix(0))
    assert not only(table, 60).stale and only(table, 61).stale
    assert only(table, 180).fix_age_s == 180.0 and table.lost(at(180)) == frozenset()
    assert table.targets(at(181)) == () and table.lost(at(181)) == {SHIP}
    assert table.lost(at(3601)) == frozenset()


def test_a_moored_ship_is_not_lost_between_her_three_minute_reports():
    table = traffic(fix(0, sog_m_s=0.0))
    assert only(table, 390).stale
    assert table.lost(at(401)) == {SHIP}


# --- static data --------------------------------------------------------------------------------------------


def test_parts_of_static_data_add_up_and_outlive_the_track():
    """Class B sends name and sizes in two messages (24A, 24B)."""
    table = traffic(fix(0), particulars(name="ALDER", ship_type=36), particulars(length_m=20.0, beam_m=5.0))
    target = only(table, 1)
    assert (target.name, target.ship_type) == ("ALDER", 36)
    assert target.particulars is not None and target.particulars.length_m == 20.0
    table.targets(at(4000))
    assert table.take(fix(5000)) is None
    assert only(table, 5000).name == "ALDER"


def test_a_new_size_does_not_keep_the_old_antenna():
    table = traffic(
        fix(0),
        particulars(length_m=200.0, beam_m=30.0, to_bow_m=150.0, to_port_m=10.0),
        particulars(length_m=90.0),
    )
    told = only(table, 0).particulars
    assert told is not None and told.to_bow_m is None and told.beam_m == 30.0


# --- a flood ------------------------------------------------------------------------------------------------


def test_five_thousand_targets_at_once_keep_the_nearest():
    table = Traffic(BERTH, OWN, 180.0)
    for k in range(5000):
        assert table.take(fix(0, 1000 + 5 * ((k * 2731) % 5000), mmsi=SHIP + k)) is None
    norths = sorted(target.north_m for target in table.targets(at(1)))
    assert len(norths) <= MOST_SHIPS
    kept = {round((north_m - 1005) / 5) for north_m in norths}
    assert set(range(MOST_SHIPS // 2)) <= kept  # none of the near half is missing
    for k in range(MOST_PARTICULARS + 100):
        table.take(particulars(SHIP + k, length_m=50.0))
    assert len(table._particulars) == MOST_PARTICULARS


def test_a_fix_costs_less_than_decoding_it():
    """Far less than pyais takes for its sentence: the table never holds up the feed."""
    fixes = [fix(10 * k, 50 * k, 200 * ship, mmsi=SHIP + ship) for k in range(20) for ship in range(100)]
    (sentence,) = vdm(POSITION)

    def best_s(work: Callable[[], object]) -> float:
        spent_s = []
        for _ in range(3):
            begun_s = time.process_time()
            work()
            spent_s.append(time.process_time() - begun_s)
        return min(spent_s)

    def take_all() -> None:
        table = Traffic(BERTH, OWN, 180.0)
        for each in fixes:
            table.take(each)

    taking_s = best_s(take_all)
    assert taking_s < 0.5 * best_s(lambda: [pyais.decode(sentence) for _ in fixes])
