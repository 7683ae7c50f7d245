"""Where it is worst: chance and speed against a case counted by hand, Wilson's interval, grades, words for places.

Published: Wilson (1927), J. Am. Stat. Assoc. 22:209: the ends of the score interval are the roots p of
n (share − p)² = z² p (1 − p); least areas that hold a share: by counting squares.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely import Point, Polygon

from monitor.outlet.worst_places import IN_REACH, WORKED_OUT, near_in_words, of_lines, reached_in_words
from monitor.physics.snapback import Flights, Led, Swept, linear_rope
from monitor.records.decks import QUAY, Ground, Near, Place, Reached, Site, Way, WorstOfLine
from monitor.settings.load import load_stay
from monitor.watch import danger
from monitor.watch.ground import led_of, site_of

STAY = "tavrin-lark-at-sedge-quay-2"
SQUARE = ((0.0, 0.0), (20.0, 0.0), (20.0, 10.0), (0.0, 10.0))
DECK = Ground(
    "forecastle",
    SQUARE,
    (),
    (Place("W1", "drum", 2.0, 5.0, 0.3), Place("F1", "fairlead", 19.0, 5.0, 0.1)),
    (Place("winch control", "station", 2.5, 2.5), Place("store door", "station", 10.5, 9.5)),
)
SHORE = Ground(
    QUAY, ((0.0, -5.0), (20.0, -5.0), (20.0, -15.0), (0.0, -15.0)), (), (Place("B1", "bollard", 10.0, -10.0),)
)
SITE = Site((DECK, SHORE), (Way("H1", "head lines", ((2.0, 5.0), (19.0, 5.0), (10.0, -10.0)), 2),))
BOUNDS = danger.bounds_of(SITE)


def part(places: list[tuple[float, float]], speed_m_s: float, weight: float, end: str = "inboard") -> Swept:
    """A short piece of line, half a metre along x, that moves through `places`, one each tenth of a second."""
    lines = np.array([[(x, y), (x + 0.25, y)] for x, y in places])
    speeds = np.full(lines.shape[:2], speed_m_s)
    times = 0.1 * np.arange(len(places))
    return Swept(5.0, end, weight, 0.0, 0.0, 0.0, None, speed_m_s, times, lines, speeds)  # type: ignore[arg-type]


def still(weight: float) -> Swept:
    return part([(15.0, 5.0), (15.0, 5.0)], 0.0, weight, "outboard")


def two_breaks(weights: tuple[float, float] = (0.75, 0.25)) -> Flights:
    """The likelier runs from x = 12.1 to 2.1 along y = 2.5 at 40 m/s; the other along y = 7.5 at 80 m/s."""
    one = part([(12.1 - n, 2.5) for n in range(11)], 40.0, weights[0])
    two = part([(12.1 - n, 7.5) for n in range(11)], 80.0, weights[1])
    return Flights(1e5, ("bend", "splice"), (one, still(weights[0]), two, still(weights[1])))


def test_chance_and_speed_by_hand() -> None:
    field = danger.field_of(two_breaks(), BOUNDS)
    at = {
        (x, y): (round(x - field.corner[0]), round(y - field.corner[1])) for x in (1, 5, 12, 15) for y in (2, 5, 7)
    }
    assert field.chance[at[5, 2]] == pytest.approx(0.75)
    assert field.chance[at[5, 7]] == pytest.approx(0.25)
    assert field.speed_m_s[at[5, 2]] == pytest.approx(0.75 * 40.0)
    assert field.speed_m_s[at[12, 7]] == pytest.approx(0.25 * 80.0)
    assert field.chance[at[5, 5]] == field.chance[at[1, 2]] == 0.0  # between the two, and short of where it ends
    assert field.chance[at[15, 5]] == 0.0  # a line at rest strikes nobody
    assert field.chance.sum() == pytest.approx(0.75 * 11 + 0.25 * 11)


def test_weights_that_do_not_add_up_to_one_do_not_matter() -> None:
    one, other = danger.field_of(two_breaks(), BOUNDS), danger.field_of(two_breaks((3.0, 1.0)), BOUNDS)
    assert np.allclose(one.speed_m_s, other.speed_m_s)


def test_a_fast_line_leaves_no_gap_between_two_looks() -> None:
    jump = part([(17.1, 2.5), (2.1, 2.5)], 90.0, 1.0)
    field = danger.field_of(Flights(1e5, ("",), (jump, still(1.0))), BOUNDS)
    row = round(2 - field.corner[1])
    assert (field.chance[2:18, row] == 1.0).all()


def test_who_is_reached_and_in_how_many() -> None:
    field = danger.field_of(two_breaks(), BOUNDS)
    (near,) = danger.reached(SITE, field)
    assert (near.station, near.struck, near.breaks, near.ground) == ("winch control", 1, 2, "forecastle")
    assert near.share == pytest.approx(0.75)
    z2_n = 1.959964**2 * (0.75**2 + 0.25**2)  # z²/n of as many equal breaks as would be as sure (Kish 1965)
    ends = np.sort(np.roots([1.0 + z2_n, -(2.0 * 0.75 + z2_n), 0.75**2]))
    assert (near.low, near.high) == pytest.approx(tuple(ends))
    assert not field.hits((10.5, 9.5)).any()  # 1.5 m from the nearest square
    assert field.hits((10.5, 8.9)).tolist() == [False, True]


def test_grades_are_the_fewest_squares_that_hold_their_share() -> None:
    values = np.array([[5.0, 3.0], [1.0, 1.0]])
    assert danger._least_holding(values, 0.5).tolist() == [[True, False], [False, False]]
    assert danger._least_holding(values, 0.9).tolist()[0] == [True, True]
    assert danger._least_holding(values, 0.9).sum() == 3
    assert not danger._least_holding(np.zeros((2, 2)), 0.5).any()


def test_grades_lie_within_one_another_and_on_their_ground() -> None:
    areas = danger.graded(SITE, [danger.field_of(two_breaks(), BOUNDS)])
    shapes = {area.grade: shapely.union_all([Polygon(ring) for ring in area.rings]) for area in areas}
    assert set(shapes) == {2, 3}
    assert Polygon(SQUARE).buffer(0.02).covers(shapes[2])
    assert shapes[2].buffer(0.02).covers(shapes[3])
    assert shapes[3].contains(Point(7.0, 2.5))  # 0.75 × 40 against 0.25 × 80


def test_of_several_lines_the_worst_counts_on_each_square() -> None:
    one, other = danger.field_of(two_breaks(), BOUNDS), danger.field_of(two_breaks((0.0001, 1.0)), BOUNDS)
    both = danger.graded(SITE, [one, other])
    worst = shapely.union_all([Polygon(ring) for area in both if area.grade == 3 for ring in area.rings])
    assert worst.intersects(Point(3.0, 7.5)) and not worst.intersects(Point(7.0, 2.5))  # 80 against 30 m/s


@pytest.mark.parametrize(
    ("spot", "told"),
    [
        ((2.5, 5.5), ("centre line", "by", "W1")),
        ((6.0, 5.2), ("centre line", "ahead of", "W1")),
        ((16.0, 4.8), ("centre line", "abaft", "F1")),
        ((2.4, 0.2), ("port side", "to port of", "W1")),
        ((18.8, 9.0), ("starboard side", "to starboard of", "F1")),
    ],
)
def test_places_in_words_by_hand(spot: tuple[float, float], told: tuple[str, str, str]) -> None:
    near = danger.near(DECK, spot)
    assert (near.side, near.way, near.name) == told


def test_on_the_quay_behind_is_away_from_the_ship() -> None:
    assert danger.near(SHORE, (10.2, -14.0)).way == "behind"
    assert danger.near(SHORE, (10.2, -6.0)).way == "in front of"
    assert danger.near(SHORE, (10.2, -6.0)).side == ""


def test_where_no_fitting_stands_a_station_names_the_place() -> None:
    landing = Ground("landing", SQUARE, (), (), (Place("gangway head", "station", 10.0, 1.0),))
    assert danger.near(landing, (14.0, 1.0)) == Near("landing", "port side", "ahead of", "gangway head", "station")
    with pytest.raises(ValueError, match="nothing on landing has a name"):
        danger.near(Ground("landing", SQUARE), (1.0, 1.0))


def worst(line: str, tension_n: float, *near: Near) -> WorstOfLine:
    reached = (Reached("forecastle", "winch control", 27, 100, 0.27, 0.19, 0.36),)
    return WorstOfLine(line, "head lines", 10, tension_n, 100, (), (), near, reached)


def test_words_begin_with_the_whole_and_never_call_a_place_what_it_is_not() -> None:
    near = (
        Near("forecastle", "port side", "abaft", "F5", "drum"),
        Near(QUAY, "", "behind", "bollard B11", "bollard"),
    )
    told = of_lines([("H1", 1e5)], [worst("H1", 2e5, *near)])
    assert told == (
        "All of both mooring decks and the quay edge can be struck. Worst: forecastle port side abaft winch F5, "
        "quay behind bollard B11, winch control"
    )
    unknown = of_lines([("H1", 1e5)], [worst("H2", 2e5, *near)])
    assert unknown == f"{IN_REACH}. {WORKED_OUT}"
    for text in (told, unknown, reached_in_words(worst("H1", 1.0).reached[0])):
        assert not re.search(r"\b(safe\w*|clear|low|quiet)\b", text.casefold())
    often = worst("H1", 1.0).reached[0]
    assert reached_in_words(often) == "27 % of breaks (19–36 %)"
    assert reached_in_words(replace(often, share=0.004, low=0.001, high=0.03)) == "under 1 % of breaks (0–3 %)"


def test_the_next_tension_up_is_told_and_else_the_highest_known() -> None:
    known = [
        worst("H1", t, Near("poop", "centre line", "by", f"at {t:.0f}", "drum")) for t in (100.0, 200.0, 300.0)
    ]
    assert "at 200" in of_lines([("H1", 150.0)], known)
    assert "at 300" in of_lines([("H1", 900.0)], known)


def test_fairleads_and_winches_are_called_so() -> None:
    assert (
        near_in_words(Near("poop", "port side", "by", "stern 1", "fairlead"))
        == "poop port side by fairlead stern 1"
    )
    assert near_in_words(Near("poop", "", "by", "aft bitts", "bitts")) == "poop by aft bitts"


def test_the_shipped_site_holds_every_lead_and_every_person(config: Path) -> None:
    settings = load_stay(config, STAY)
    site = site_of(settings)
    assert site is not None
    assert [ground.name for ground in site.grounds] == ["forecastle", "poop", "gangway landing", QUAY]
    assert [way.line for way in site.ways] == [led.line for led in settings.stay.lines]
    for way in site.ways:
        led = led_of(settings, way.line)
        assert led.points_m == way.points and led.fairlead == way.on_board - 1
        carried = next(line for line in settings.ship.lines if line.name == way.line)
        on_deck = math.dist(way.points[0], way.points[1]) if way.on_board == 2 else 0.0
        assert on_deck <= carried.lead_on_deck + 1.0
    quay = Polygon(site.ground(QUAY).outline)
    for station in site.ground(QUAY).stations:
        assert quay.covers(Point(station.at))
    for way in site.ways:  # every bollard in use is on marked ground
        assert quay.covers(Point(way.points[-1]))


def test_what_stands_in_the_way_of_a_line(config: Path) -> None:
    """Every house as a closed row of posts inside its walls, every fitting but those of its own lead."""
    settings = load_stay(config, STAY)
    deck = settings.ship.decks[0]
    lead = next(each for each in deck.leads if each.line == "head line 1")
    discs = [Point(x, y).buffer(radius_m) for x, y, radius_m in led_of(settings, lead.line).in_way]
    for fitting in deck.fittings:
        there = any(disc.centroid.distance(Point(fitting.forward, fitting.starboard)) < 1e-6 for disc in discs)
        assert there == (fitting.name not in lead.through)
    houses = [Polygon(house.outline) for house in deck.bulkheads]
    row = shapely.union_all([disc for disc in discs if any(house.contains(disc.centroid) for house in houses)])
    for house in houses:
        assert house.buffer(0.01).covers(row.intersection(house.buffer(2.0)))
        assert row.buffer(0.3).covers(house.boundary)  # corners are rounded off
        assert shapely.get_parts(row.intersection(house)).size == 1  # no gap to slip through


def test_classes_err_on_the_high_side() -> None:
    assert [danger.coarse_class(share, 1.0) for share in (0.0, 0.25, 0.26, 0.5, 0.6, 0.99, 2.0)] == [
        5,
        5,
        10,
        10,
        15,
        20,
        20,
    ]


def test_one_line_from_its_flights(monkeypatch: pytest.MonkeyPatch) -> None:
    danger.line_field.cache_clear()
    danger.worst_of_line.cache_clear()
    monkeypatch.setattr(danger, "flights", lambda led, tension_class, count: two_breaks())
    led = Led(SITE.ways[0].points, (1.0, 1.0, 1.0), (0.0, 0.1, 0.1), 1, linear_rope(1e6, 2.0, 4e5))
    found = danger.worst_of_line(SITE, led, "H1", "head lines", 10)
    assert found == danger.worst_of_line(SITE, led, "H1", "head lines", 10)
    assert (found.tension_n, found.breaks) == (2e5, 2)
    swept = shapely.union_all([Polygon(ring) for ring in found.swept])
    assert all(swept.contains(Point(x, y)) for x in (3.0, 7.0, 12.0) for y in (2.5, 7.5))
    assert not swept.contains(Point(7.0, 5.0))
    assert found.near[0].ground == "forecastle"
    danger.line_field.cache_clear()
    danger.worst_of_line.cache_clear()
