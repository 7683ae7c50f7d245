"""Hull-to-hull distance and the fairway's lanes against shapely (GEOS)."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.affinity import rotate, translate

from monitor.base.frames import Floats
from monitor.watch.clearance import clearance_m
from monitor.watch.fairway import Points, lay_fairway


def rectangle(centre: complex, turned_deg: float, length_m: float, beam_m: float) -> shapely.Polygon:
    box = shapely.box(-0.5 * length_m, -0.5 * beam_m, 0.5 * length_m, 0.5 * beam_m)
    return translate(rotate(box, turned_deg, origin=(0, 0)), centre.real, centre.imag)


def both(centres: Points, turned_deg: Floats, lengths_m: Floats, beams_m: Floats) -> tuple[Floats, Floats]:
    own = rectangle(0j, 0.0, 220.0, 36.0)
    ours = clearance_m(220.0, 36.0, centres, np.exp(1j * np.radians(turned_deg)), lengths_m, beams_m)
    theirs = [own.distance(rectangle(*each)) for each in zip(centres, turned_deg, lengths_m, beams_m, strict=True)]
    return ours, np.array(theirs)


def test_random_rectangles():
    draw = np.random.default_rng(7)
    n = 4000
    centres = draw.uniform(-350, 350, n) + 1j * draw.uniform(-200, 200, n)
    ours, theirs = both(centres, draw.uniform(-180, 180, n), draw.uniform(5, 400, n), draw.uniform(2, 60, n))
    assert ((theirs == 0.0).sum() > 200) and ((theirs > 0.0).sum() > 200)
    np.testing.assert_allclose(ours, theirs, atol=1e-9)


@pytest.mark.parametrize(
    ("centre", "turned_deg"),
    [(0j, 90.0), (0j, 45.0), (0j, 0.0), (60 + 10j, 80.0), (300 + 0j, 0.0), (0 + 60j, 180.0), (110 + 18j, 45.0)],
    ids=["cross", "diagonal cross", "same place", "cross off centre", "in line", "alongside", "corner in"],
)
def test_rectangles_that_share_no_corner_and_other_edges(centre: complex, turned_deg: float):
    ours, theirs = both(np.array([centre]), np.array([turned_deg]), np.array([250.0]), np.array([30.0]))
    np.testing.assert_allclose(ours, theirs, atol=1e-9)


BENT = [0j, 4000 + 0j, 7000 + 3000j, 7000 + 9000j]
WIDTH_M = 300.0


@pytest.mark.parametrize("offset_m", [-100.0, -30.0, 0.0, 60.0, 120.0])
@pytest.mark.parametrize("onward", [True, False])
def test_a_lane_keeps_its_distance_from_the_middle_round_bends(offset_m: float, onward: bool):
    fairway = lay_fairway(BENT, WIDTH_M)
    middle = shapely.LineString([(z.real, z.imag) for z in BENT])
    begin = 500 + 1j * offset_m if onward else 7000 - offset_m + 8500j
    (node,), (found_m,), (distance_m,) = fairway.place(np.array([begin]))
    assert found_m == pytest.approx(offset_m, abs=0.01) and distance_m == pytest.approx(abs(offset_m), abs=0.01)
    run_m = np.linspace(0.0, 11_000.0, 400)
    points, courses = fairway.follow(int(node), begin, float(found_m), onward, run_m)
    assert abs(points[0] - begin) < 0.5
    away = shapely.distance(shapely.points(points.real, points.imag), middle)
    corner = shapely.MultiPoint([(4000, 0), (7000, 3000)]).buffer(2.5 * WIDTH_M)
    straight = ~shapely.contains(corner, shapely.points(points.real, points.imag))
    np.testing.assert_allclose(away[straight], abs(offset_m), atol=0.5)
    assert np.all(np.abs(away - abs(offset_m)) < 0.3 * WIDTH_M)  # corners are cut, no more
    assert np.abs(np.diff(points)).sum() == pytest.approx(run_m[-1], rel=1e-3)  # she runs what she was told to run
    np.testing.assert_allclose(np.abs(courses), 1.0)


def test_place_is_the_distance_from_the_line():
    fairway = lay_fairway(BENT, WIDTH_M)
    middle = shapely.LineString([(z.real, z.imag) for z in BENT])
    draw = np.random.default_rng(3)
    points = draw.uniform(-2000, 9000, 500) + 1j * draw.uniform(-2000, 9000, 500)
    _, offset_m, distance_m = fairway.place(points)
    away = shapely.distance(shapely.points(points.real, points.imag), middle)
    straight = away < 100.0
    assert straight.sum() > 5
    np.testing.assert_allclose(distance_m[straight], away[straight], atol=10.0)
    assert np.all(distance_m + 10.0 >= np.abs(offset_m))


def test_beyond_its_ends_the_fairway_goes_straight_on_and_claims_nobody():
    fairway = lay_fairway([0j, 1000 + 0j], WIDTH_M)
    points, courses = fairway.follow(10, 500 + 20j, 20.0, True, np.array([-900.0, 0.0, 900.0]))
    np.testing.assert_allclose(points, [-400 + 20j, 500 + 20j, 1400 + 20j], atol=1e-6)
    np.testing.assert_allclose(courses, 1.0)
    _, offset_m, distance_m = fairway.place(np.array([3000 + 50j]))
    assert offset_m[0] == pytest.approx(50.0) and distance_m[0] == pytest.approx(np.hypot(2000.0, 50.0))
