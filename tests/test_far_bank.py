"""A ship that passes in a channel: her images in the far bank, against flows between two walls.

Schijf's drawdown (1949) and a row of doublets between walls in closed form (Lamb, Hydrodynamics) are quoted from
memory; the long waves of a channel are marched in time.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from monitor.base.units import GRAVITY_M_S2, SEA_WATER_KG_M3
from monitor.physics.hulls import Hull, hull_at_draught
from monitor.physics.passing import Basin, PassingLoad, Track, far_bank, passing_load
from monitor.physics.passing.encounter import limit_m_s as limit
from monitor.physics.passing.far_bank import images
from monitor.physics.passing.long_waves import under_a_lid
from monitor.physics.wake import Channel, limiting_speed_m_s, schijf
from monitor.records.estimates import Validity
from monitor.settings.load import load_stay
from monitor.settings.schema import Section, Settings
from monitor.watch.moored import Moored
from tests.conftest import ROOT
from tests.ship_encounters import CARGO, TANKER
from tests.test_long_waves import RAFT, marched_pa, under_lid_pa
from tests.test_wang_quadratures import straight

STAY = "tavrin-lark-at-sedge-quay-2"
PROBE = hull_at_draught(20.0, 20.0, 4.0, 1.5, 1.5, 0.8)  # too small to change the flow she lies in
QUAY_Y_M = -3.0


def channel(width_m: float, depth_m: float) -> Basin:
    return Basin(depth_m, QUAY_Y_M, far_bank_y_m=QUAY_Y_M + width_m, section=Channel(width_m * depth_m, width_m))


def passed(own: Hull, passer: Hull, off_m: float, speed_m_s: float, basin: Basin) -> PassingLoad:
    reach_m = 1.4 * (own.loa_m + passer.loa_m)
    return passing_load(own, passer, straight(np.linspace(-reach_m, reach_m, 201), off_m, 0.0, speed_m_s), basin)


# --- against flows between two walls --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("passer", "width_m", "speed_m_s"),
    [
        (hull_at_draught(250.0, 250.0, 20.0, 8.0, 8.0, 0.8), 90.0, 1.5),  # she blocks 10 %
        (hull_at_draught(250.0, 250.0, 32.0, 10.0, 10.0, 0.8), 90.0, 3.0),  # 19 %
        (hull_at_draught(250.0, 250.0, 32.0, 10.0, 10.0, 0.8), 200.0, 3.0),  # 9 %
        (hull_at_draught(300.0, 300.0, 45.0, 14.0, 14.0, 0.83), 130.0, 3.0),  # 26 %
        (hull_at_draught(300.0, 300.0, 45.0, 14.0, 14.0, 0.83), 90.0, 1.5),  # 38 %
    ],
)
def test_the_water_beside_her_sinks_as_schijf_has_it(passer: Hull, width_m: float, speed_m_s: float) -> None:
    """What drives a small hull along, summed up along the track, is how far the water stands below its level: the
    drawdown of one-dimensional theory where the channel is narrow. One wall alone brings a third to two thirds."""
    depth_m, off_m = 18.0, 0.5 * width_m + QUAY_Y_M

    def sinks_m(basin: Basin) -> float:
        x_m = np.linspace(-700.0, 700.0, 281)
        load = passing_load(PROBE, passer, straight(x_m, off_m, 0.0, speed_m_s), basin)
        along_m = np.cumsum(load.surge_n) * (x_m[1] - x_m[0])
        return float(-along_m.min() / (PROBE.volume_m3 * SEA_WATER_KG_M3 * GRAVITY_M_S2))

    expected_m = schijf(passer.midship_area_m2, Channel(width_m * depth_m, width_m), speed_m_s)[0]
    assert 0.98 < sinks_m(channel(width_m, depth_m)) / expected_m < 1.2
    assert 0.3 < sinks_m(Basin(depth_m, QUAY_Y_M)) / expected_m < 0.72


@pytest.mark.parametrize(
    ("own", "off_m", "lengths", "surge", "sway", "yaw"),
    [
        (TANKER, 75.0, 0.50, 3.27, 2.05, 2.29),
        (TANKER, 100.0, 0.59, 2.74, 1.91, 2.01),
        (TANKER, 100.0, 0.64, 2.27, 1.64, 1.66),
        (TANKER, 100.0, 0.80, 1.56, 1.25, 1.24),
        (TANKER, 100.0, 1.0, 1.27, 1.11, 1.11),
        (TANKER, 100.0, 1.5, 1.09, 1.03, 1.04),
        (CARGO, 70.0, 0.80, 1.42, 1.23, 1.31),
        (CARGO, 70.0, 1.0, 1.22, 1.12, 1.18),
    ],
)
def test_peaks_over_those_of_one_wall_as_two_ships_between_two_walls_have_them(
    own: Hull, off_m: float, lengths: float, surge: float, sway: float, yaw: float
) -> None:
    """A tanker passes between walls so many mean lengths apart, slowly, in 18 m. The figures are of a solver
    written for this check alone, apart from the program, and not kept: sources on panels of both hulls, with the
    rows of all their images (closed form and columns); 24 × 10 and 40 × 16 panels agree within 1 %."""
    width_m, quay_y_m = 0.5 * lengths * (own.loa_m + TANKER.loa_m), -0.5 * own.beam_m - 3.0
    known = Basin(18.0, quay_y_m, far_bank_y_m=quay_y_m + width_m, section=Channel(18.0 * width_m, width_m))
    both, one = (passed(own, TANKER, off_m, 0.3, basin) for basin in (known, Basin(18.0, quay_y_m)))
    for part, expected, low, high in (
        ("surge_n", surge, 0.93, 1.03),
        ("sway_n", sway, 0.97, 1.25),
        ("yaw_n_m", yaw, 0.78, 1.04),
    ):
        more = np.abs(getattr(both, part)).max() / np.abs(getattr(one, part)).max()
        assert low < more / expected < high, part


@pytest.mark.parametrize("froude", [0.4, 0.6])
def test_as_a_march_of_the_long_waves_between_two_walls_has_it(froude: float) -> None:
    """Each image stretched for her speed like herself. She runs along one wall, the other is `width_m` off; seen
    from the middle to that other wall, where her own wall alone brings 84 to 41 %."""
    width_m, depth_m = 12.0, 10.0
    speed_m_s = froude * math.sqrt(GRAVITY_M_S2 * depth_m)
    x_m, y_m, marched = marched_pa(froude, width_m)
    for at_m in (5.875, 8.875, 11.875):
        her = straight(np.linspace(-3.0, 3.0, 61), -at_m, 0.0, speed_m_s)  # the wall she runs along is her quay
        basin = Basin(depth_m, -at_m, far_bank_y_m=width_m - at_m)
        alone, *seen = (
            stronger * under_lid_pa(track.x_m, track.y_m)
            for track, stronger in (under_a_lid(RAFT, RAFT, each, basin) for each in (her, *_all(her, basin)))
        )
        # In the plane of her own wall she and her mirror image are one; so is every pair of hers in the far bank.
        deepest = marched[np.abs(x_m) < 3.0][:, np.argmin(np.abs(y_m - at_m))].min()
        assert (alone + sum(seen)).min() == pytest.approx(deepest, rel=0.03)
        assert alone.min() > 0.87 * deepest


def _all(her: Track, basin: Basin) -> list[Track]:
    """Her images, with those beyond her own wall, which a one-wall model brings by itself."""
    assert basin.quay_y_m is not None
    long = hull_at_draught(60.0, 60.0, 0.05, 0.05, 0.05, 0.8)
    seen = images(long, long, her, basin)[::2]  # she lies on the wall: 2kW − 0 and 2kW + 0 are one place
    return [
        *seen,
        *(
            Track(each.x_m, 2.0 * basin.quay_y_m - each.y_m, each.course_deg, each.speed_water_m_s)
            for each in seen
        ),
    ]


@pytest.mark.parametrize("course_deg", [0.0, 25.0, -40.0, 180.0])
def test_nothing_flows_through_either_wall(course_deg: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """A doublet along her course for her and for each image, and for what the quay makes of it: at quay and bank
    the flow across all but vanishes, and in the channel it is that of the closed form, Σ 1/(z − 2ikW)² =
    (π/2W)² / sinh²(πz/2W)."""
    monkeypatch.setattr(
        far_bank, "_NO_FARTHER", 150.0
    )  # the level of the flow, which moves nobody, is slow to come
    width_m, off_m = 200.0, 60.0
    basin = Basin(15.0, -30.0, far_bank_y_m=170.0)
    her = straight(0.0, off_m - 30.0, course_deg, 3.0)
    row = [her, *images(TANKER, TANKER, her, basin)]
    row += [Track(one.x_m, -60.0 - one.y_m, -one.course_deg, one.speed_water_m_s) for one in row]

    def flow(at: complex) -> complex:
        return complex(sum(_doublet(at - complex(one.x_m[0], one.y_m[0]), one.course_deg[0]) for one in row))

    def exact(at: complex) -> complex:
        found = 0j
        for place, course in ((her.y_m[0], course_deg), (-60.0 - her.y_m[0], -course_deg)):
            z = math.pi * (at - 1j * place) / (2.0 * width_m)
            found += np.exp(1j * math.radians(course)) * (math.pi / (2.0 * width_m)) ** 2 / np.sinh(z) ** 2
        return complex(found)

    for x_m in (-150.0, -40.0, 90.0, 260.0):
        for wall_m in (-30.0, 170.0):
            assert abs(exact(x_m + 1j * wall_m).imag) < 1e-9
            assert abs(flow(x_m + 1j * wall_m).imag) < 0.02 * abs(_doublet(complex(50.0, 0.0), 0.0))
        at = x_m - 5.0j
        assert flow(at) == pytest.approx(exact(at), abs=0.02 * abs(_doublet(complex(60.0, 0.0), 0.0)))


def _doublet(z: complex, course_deg: float) -> complex:
    """u − iv of a two-dimensional doublet, but for its strength."""
    return complex(np.exp(1j * math.radians(course_deg)) / z**2)


def test_what_lies_beyond_the_images_taken_adds_next_to_nothing() -> None:
    for width_m in (150.0, 250.0, 500.0):
        basin = Basin(18.0, -23.0, far_bank_y_m=width_m - 23.0)
        her = straight(0.0, 70.0, 0.0, 3.0)
        seen = images(TANKER, TANKER, her, basin)
        k = len(seen) // 2 + 1
        off_m = 93.0

        def surge_n(y_m: float) -> float:
            x_m = np.linspace(-600.0, 600.0, 81)
            return float(
                np.abs(
                    passing_load(TANKER, TANKER, straight(x_m, y_m, 0.0, 3.0), Basin(18.0, -23.0)).surge_n
                ).max()
            )

        left_out = sum(surge_n(2 * n * width_m + side * off_m - 23.0) for n in range(k, k + 6) for side in (-1, 1))
        assert left_out < 0.015 * surge_n(70.0)


# --- where it is known and where not --------------------------------------------------------------------------


@pytest.fixture(scope="module")
def shipped() -> Settings:
    return load_stay(ROOT / "config", STAY)


def basin(settings: Settings, **berth: object) -> Basin:
    moored = Moored(settings.model_copy(update={"berth": settings.berth.model_copy(update=berth)}))
    return moored.basin(moored.water(settings.stay.tended_at))


def told(own: Hull, water: Basin, off_m: float) -> tuple[Validity, str]:
    load = passed(own, own, off_m, 3.0, water)
    assert np.all(np.isfinite(load.sway_n))
    return load.validity, "; ".join(load.reasons)


def test_the_far_edge_of_the_fairway_is_where_a_bank_may_be(shipped: Settings) -> None:
    """Quay to the middle of the fairway, and half its width; never on our own side."""
    wide, narrow, nowhere = (
        basin(shipped, fairway=shipped.berth.fairway.model_copy(update={"width": width}))
        for width in (220.0, 100.0, -1000.0)
    )
    assert wide.channel_m - narrow.channel_m == pytest.approx(60.0)
    assert wide.channel_m == pytest.approx(310.0, abs=2.0) and wide.section is None
    assert nowhere.quay_y_m is not None and nowhere.far_bank_y_m is not None
    assert nowhere.quay_y_m * nowhere.far_bank_y_m < 0.0


def test_room_to_pass_ends_at_the_fairways_far_edge_or_at_the_bank(shipped: Settings) -> None:
    fairway = shipped.berth.fairway
    rooms_m = []
    for section in (
        None,
        Section.model_construct(width=600.0, mean_depth=9.0),
        Section.model_construct(width=250.0, mean_depth=9.0),
    ):
        berth = shipped.berth.model_copy(update={"fairway": fairway.model_copy(update={"section": section})})
        rooms_m.append(Moored(shipped.model_copy(update={"berth": berth})).room_m(40.0))
    off_quay_m = abs(Moored(shipped).berthed.quay_y_m)
    assert rooms_m[0] == rooms_m[1] == pytest.approx(310.0 - off_quay_m - 20.0, abs=2.0)
    assert rooms_m[2] == pytest.approx(250.0 - off_quay_m - 20.0)


def test_a_channel_narrower_than_the_ships_are_long_is_doubtful() -> None:
    for channel_m, validity in ((240.0, Validity.DEGRADED), (260.0, Validity.GOOD)):
        for section, why in (
            (None, "far bank may be near"),
            (Channel(20.0 * channel_m, channel_m), "a narrow channel"),
        ):
            found = told(TANKER, Basin(20.0, -24.0, far_bank_y_m=channel_m - 24.0, section=section), 100.0)
            assert found[0] is validity
            assert (why in found[1]) is (validity is Validity.DEGRADED)


def test_a_bank_that_may_be_there_widens_the_band_and_moves_nothing() -> None:
    """As far as the load there would be with the bank, and no less than for any doubtful one."""
    one_wall = passed(TANKER, TANKER, 80.0, 3.0, Basin(18.0, -23.0))
    for width_m in (130.0, 160.0, 240.0):
        doubt = passed(TANKER, TANKER, 80.0, 3.0, Basin(18.0, -23.0, far_bank_y_m=width_m - 23.0))
        assert np.array_equal(doubt.surge_n, one_wall.surge_n)
        section = Channel(18.0 * width_m, width_m)
        known = passed(TANKER, TANKER, 80.0, 3.0, Basin(18.0, -23.0, far_bank_y_m=width_m - 23.0, section=section))
        more = np.abs(known.surge_n).max() / np.abs(one_wall.surge_n).max()
        assert 1.1 < more < 4.0
        assert doubt.model_band[1] == pytest.approx(1.5 * more, rel=1e-6)
    wide = Basin(18.0, -23.0, far_bank_y_m=260.0)  # it need not be narrow: near the far edge it counts as much
    for off_m, low, high in ((80.0, 1.22, 1.4), (215.0, 1.8, 2.6)):
        doubt = passed(TANKER, TANKER, off_m, 3.0, wide)
        assert doubt.validity is Validity.GOOD and low < doubt.model_band[1] < high
    assert passed(TANKER, TANKER, 80.0, 3.0, Basin(18.0, -23.0, far_bank_y_m=2000.0)).model_band == (0.85, 1.2)


def test_a_bank_that_may_be_so_near_that_she_could_not_pass_so_is_told() -> None:
    """The load with it there has a bound all the same, however little is left between: the bank is not there."""
    for width_m in (30.0, 40.0, 75.0, 110.0, 148.0):
        load = passed(TANKER, TANKER, 60.0, 5.0, Basin(18.0, -23.0, far_bank_y_m=width_m - 23.0))
        assert load.validity is Validity.DEGRADED and "too fast for the channel, if" in "; ".join(load.reasons)
        assert 1.5 <= load.model_band[1] < 16.0


def test_a_bank_she_would_run_into_is_taken_to_lie_beyond_her() -> None:
    """The entered width is wrong, or she turns in a basin opposite: her image never lies on our side of her."""
    for her in (straight(0.0, 140.0, 0.0, 3.0), straight(np.linspace(-80.0, 80.0, 9), 120.0, 90.0, 3.0)):
        seen = images(TANKER, CARGO, her, Basin(18.0, -23.0, far_bank_y_m=100.0))
        assert all(np.all(one.y_m > her.y_m) for one in seen)


def test_far_off_she_is_not_laid_on_top_of_us() -> None:
    """She is beyond where the bank was said to be, or crosses the channel: each place has its own bank, and alone
    it has the load that it has in a track. A bank at her side doubles it, a section half as deep once more."""
    known = Basin(18.0, -25.0, far_bank_y_m=275.0, section=Channel(2700.0, 300.0))
    alone = Basin(18.0, -25.0)
    for off_m in (300.0, 360.0, 420.0, 500.0, 600.0, 700.0):
        near, far = (passed(TANKER, CARGO, off_m, 4.0, basin) for basin in (alone, known))
        assert np.abs(far.sway_n).max() < 8.0 * np.abs(near.sway_n).max()
    run_m = np.linspace(-300.0, 300.0, 25)
    across = Track(run_m, 200.0 + 0.35 * run_m, np.full(25, 19.3), np.linspace(4.0, 2.5, 25))
    whole = passing_load(TANKER, CARGO, across, known)
    points = [
        passing_load(
            TANKER,
            CARGO,
            Track(
                *(each[i : i + 1] for each in (across.x_m, across.y_m, across.course_deg, across.speed_water_m_s))
            ),
            known,
        )
        for i in range(25)
    ]
    for part in ("surge_n", "sway_n", "yaw_n_m"):
        peak = np.abs(getattr(whole, part)).max()
        assert np.abs([getattr(point, part)[0] for point in points] - getattr(whole, part)).max() < 0.05 * peak


def test_a_few_degrees_of_course_change_little() -> None:
    known = Basin(18.0, -15.0, far_bank_y_m=145.0, section=Channel(2880.0, 160.0))
    peaks_n = []
    for course_deg in (0.0, 2.0, 4.0, 6.0):
        run_m = np.linspace(-350.0, 350.0, 141)
        turn = math.radians(course_deg)
        y_m = 100.0 + run_m * math.sin(turn)
        track = Track(run_m * math.cos(turn), y_m, np.full(141, course_deg), np.full(141, 3.0))
        peaks_n.append(np.nanmax(np.abs(passing_load(CARGO, CARGO, track, known).surge_n)))
    assert np.all(np.abs(np.diff(peaks_n)) < 0.1 * peaks_n[0])


def test_what_both_ships_leave_of_the_section_limits_her() -> None:
    """Near the limiting speed there and above it that is told, her load may be more than twice as great, and is no
    less than a little slower; a section that both fill is told as wrong; a launch is bound by neither."""
    both = Basin(18.0, -23.0, far_bank_y_m=137.0, section=Channel(2880.0, 160.0))
    limit_m_s = limit(TANKER, TANKER, both)
    assert limit_m_s == pytest.approx(
        limiting_speed_m_s(TANKER.midship_area_m2, Channel(2880.0 - TANKER.midship_area_m2, 160.0))
    )
    peaks_n = []
    for share, why, top in (
        (0.85, "", 1.0),
        (0.95, "near the limiting speed", 2.2),
        (1.05, "too fast for the", 2.2),
    ):
        load = passed(TANKER, TANKER, 100.0, share * limit_m_s, both)
        told_so = "; ".join(load.reasons)
        assert load.validity is Validity.DEGRADED and load.model_band[1] == pytest.approx(1.5 * top)
        assert why in told_so and ("near the limiting" in told_so) is (share == 0.95)
        peaks_n.append(np.abs(load.surge_n).max())
    assert peaks_n == sorted(peaks_n)
    for speed_m_s in (0.1, 4.0):
        full = passed(TANKER, TANKER, 100.0, speed_m_s, replace(both, section=Channel(1200.0, 160.0)))
        alone = passed(TANKER, TANKER, 100.0, speed_m_s, Basin(18.0, -23.0))
        assert full.validity is Validity.DEGRADED and "look at what was entered" in "; ".join(full.reasons)
        assert np.abs(full.surge_n).max() > np.abs(alone.surge_n).max()
    launch = hull_at_draught(60.0, 60.0, 12.0, 3.0, 3.0, 0.5)  # 0.8 % of our volume
    for speed_m_s in (0.8, 0.99, 1.3):
        load = passed(TANKER, launch, 60.0, speed_m_s * math.sqrt(GRAVITY_M_S2 * 18.0), both)
        assert load.validity is Validity.DEGRADED and np.all(np.isfinite(load.sway_n))


def test_a_section_much_of_which_she_fills_is_doubtful_however_wide() -> None:
    wide = Basin(18.0, -23.0, far_bank_y_m=277.0, section=Channel(300.0 * 12.0, 300.0))
    assert passed(TANKER, TANKER, 100.0, 2.0, wide).validity is Validity.DEGRADED
    assert passed(TANKER, CARGO, 100.0, 2.0, wide).validity is Validity.GOOD


def test_before_an_open_quay_she_is_seen_once_and_elsewhere_not_at_all() -> None:
    her = straight(np.array([-10.0, 0.0]), -70.0, 30.0, 3.0)
    (seen,) = images(TANKER, TANKER, her, Basin(18.0, far_bank_y_m=-200.0))
    assert np.allclose(seen.y_m, -330.0) and np.all(seen.course_deg == -30.0)
    assert not images(TANKER, TANKER, her, Basin(18.0, 23.0))
    assert not images(TANKER, TANKER, her, Basin(18.0, 23.0, far_bank_y_m=-1200.0))


def test_mirror_images_for_starboard_side_to() -> None:
    port, starboard = (
        passed(
            TANKER,
            CARGO,
            side * 70.0,
            3.0,
            Basin(18.0, side * -24.0, far_bank_y_m=side * 150.0, section=Channel(3000.0, 174.0)),
        )
        for side in (1.0, -1.0)
    )
    np.testing.assert_allclose(starboard.surge_n, port.surge_n, rtol=1e-6, atol=1.0)
    np.testing.assert_allclose(starboard.sway_n, -port.sway_n, rtol=1e-6, atol=1.0)
    np.testing.assert_allclose(starboard.yaw_n_m, -port.yaw_n_m, rtol=1e-6, atol=100.0)


def test_a_slip_is_told_from_the_settings(shipped: Settings) -> None:
    slip = basin(shipped, quay=shipped.berth.quay.model_copy(update={"kind": "slip with more walls"}))
    assert slip.more_walls and not basin(shipped).more_walls
    assert "more walls" in told(TANKER, Basin(20.0, -24.0, more_walls=slip.more_walls), 100.0)[1]
