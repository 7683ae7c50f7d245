"""What seamen expect of a parting line (common practice, no source), leads of any shape, and refusals."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from monitor.physics.snapback import (
    Led,
    breaks,
    class_tension_n,
    flights,
    linear_rope,
    recoil,
    release,
    swept,
    tension_class,
    upward,
    usual_rope,
)

POLYESTER = usual_rope("polyester", 698e3, 0.064)
BOW = Led(
    points_m=((0.0, 0.0), (6.0, 0.0), (6.0, 7.0), (52.0, 25.0)),
    heights_m=(1.2, 1.0, 1.0, -3.0),
    radii_m=(0.5, 0.25, 0.15, 0.25),
    fairlead=2,
    rope=POLYESTER,
    names=("port winch", "pedestal roller", "bow chock", "bollard 4"),
)
TAILED = replace(BOW, rope=usual_rope("HMPE", 1340e3, 0.044), tail=usual_rope("polyester", 1675e3), tail_m=11.0)


def test_unobstructed_end_runs_back_along_its_lead_and_past_the_winch() -> None:
    found = swept(release(BOW, 349e3, [4.5], kick=0.0)[0])
    assert found.swing_m < 0.3 and found.throw_m > 3.5


def test_length_beyond_the_roller_swings_out_wide() -> None:
    cuts_m = (12.0, 20.0, 40.0)
    for at_m, path in zip(cuts_m, release(BOW, 349e3, cuts_m, kick=0.0)[::2], strict=True):
        found = swept(path)
        assert found.swing_m > 3.0
        assert found.reach_m < 1.03 * at_m


def test_outboard_part_runs_past_the_bollard() -> None:
    cuts_m = (4.0, 13.0, 30.0)
    for at_m, path in zip(cuts_m, release(BOW, 349e3, cuts_m, kick=0.0)[1::2], strict=True):
        found = swept(path)
        assert found.throw_m > 0.7 * (BOW.length_m - at_m) / 1.1
        assert found.passing_m_s is not None and found.passing_m_s > 40.0


def test_a_line_does_not_fly_through_a_bollard_in_its_way() -> None:
    free = Led(((0.0, 0.0), (30.0, 0.0), (45.0, 26.0)), (0.0,) * 3, (0.0,) * 3, 1, POLYESTER)
    open_way = release(free, 349e3, [38.0], kick=0.0, springs=32)[0]
    x_m, y_m = open_way.nodes_m[int(np.argmax(open_way.nodes_m[:, -1, 0] < 15.0)), 20]  # where it sweeps past
    post = (float(x_m), float(y_m), 0.4)
    in_way = release(replace(free, in_way=(post,)), 349e3, [38.0], kick=0.0, springs=32, low=[True])[0]
    assert _nearest_m(open_way.nodes_m, post) < 0.1
    assert _nearest_m(in_way.nodes_m, post) > 0.25
    later = in_way.times_s > 0.5 * in_way.times_s[-1]
    assert np.abs(in_way.nodes_m[later] - open_way.nodes_m[later]).max() > 2.0


def test_a_wall_stops_a_line_that_flies_low_and_nobody_behind_it_may_count_on_that() -> None:
    """A long wall of posts 6 m behind the winch: the low end stays before it, the high end is thrown over it, and
    of the many breaks of the map every second one is high."""
    wall = tuple((-6.5, 0.7 * n, 0.5) for n in range(-90, 90))
    led = replace(BOW, in_way=wall)
    low, _, high, _ = release(led, 349e3, [40.0, 40.0], kick=0.0, springs=24, quicker=10.0, low=[True, False])
    assert low.nodes_m[..., 0].min() > -6.5 and high.nodes_m[..., 0].min() < -15.0
    assert np.diff(low.energy_j).max() < 0.02 * low.energy_j[0]
    kept = flights(led, 10, 24).swept
    behind = [any((part.lines_m[..., 0] < -8.0).ravel()) for part in kept if part.end == "inboard"]
    assert not any(behind[1::2]) and sum(behind[::2]) > 6
    assert np.array_equal(
        kept[1].lines_m, flights(BOW, 10, 24).swept[1].lines_m
    )  # what flies ashore does not meet it


def _nearest_m(lines_m: np.ndarray, post: tuple[float, float, float]) -> float:
    a, d = lines_m[:, :-1], np.diff(lines_m, axis=1)
    to = np.array(post[:2]) - a
    share = np.clip((to * d).sum(axis=-1) / (d * d).sum(axis=-1).clip(1e-12), 0.0, 1.0)
    return float(np.hypot(*np.moveaxis(to - share[..., None] * d, -1, 0)).min())


def test_wire_is_slow_and_throws_as_far() -> None:
    wire = replace(BOW, rope=usual_rope("steel wire", 1110e3, 0.042))
    slow, fast = (swept(release(led, 0.5 * led.strength_n, [30.0], kick=0.0)[0]) for led in (wire, BOW))
    assert slow.top_m_s < 0.5 * fast.top_m_s
    assert slow.reach_m > 0.7 * fast.reach_m


def test_breaks_crowd_where_lines_suffer() -> None:
    chosen = breaks(TAILED, 200, seed=3)
    assert [each.at_m for each in chosen] == sorted(each.at_m for each in chosen)
    assert sum(each.weight for each in chosen) == pytest.approx(1.0)
    by_why = {why: sum(each.weight for each in chosen if each.why == why) for why in {e.why for e in chosen}}
    assert {"at bow chock", "at pedestal roller", "where the tail is joined", "in the tail"} <= set(by_why)
    assert by_why["at bow chock"] > by_why["at pedestal roller"]
    near = sum(e.weight for e in chosen if abs(e.at_m - 13.0) < 1.0)
    assert near > 3.0 * sum(e.weight for e in chosen if abs(e.at_m - 25.0) < 1.0)
    gaps_m = np.diff([0.0, *(each.at_m for each in chosen), TAILED.length_m])
    assert gaps_m.max() < 1.5  # none of the line is left out


def test_classes_of_tension() -> None:
    assert [tension_class(t, 100.0) for t in (0.0, 5.0, 5.1, 50.0, 99.0, 140.0)] == [1, 1, 2, 10, 20, 20]
    assert class_tension_n(10, 698e3) == pytest.approx(349e3)
    for bad in (-1.0, float("nan"), float("inf")):
        with pytest.raises(ValueError, match="class"):
            tension_class(bad, 100.0)


def test_flights_are_kept() -> None:
    first = flights(BOW, 6, 12)
    assert flights(replace(BOW), 6, 12) is first  # equal leads, not the same object
    assert len(first.swept) == 24 and len(first.why) == 12
    assert sum(each.weight for each in first.swept) == pytest.approx(2.0)
    assert flights(BOW, 12, 12).swept[11].top_m_s > first.swept[11].top_m_s
    with pytest.raises(ValueError, match="1 to 20"):
        flights(BOW, 21)


def test_upward_is_flagged_where_the_lead_rises_and_where_it_is_caught() -> None:
    flags = upward(BOW, 349e3)
    assert [each.point for each in flags] == []
    steep = upward(replace(BOW, heights_m=(1.2, 0.2, 2.0, -8.0)), 349e3)
    assert [each.point for each in steep] == [1, 2]
    assert "up at pedestal roller" in steep[0].why and "down at bow chock" in steep[1].why
    assert 0.0 < steep[0].height_m <= BOW.length_m
    (caught,) = upward(BOW, 349e3, snagged_m=14.0)
    assert caught.point == 2 and caught.height_m > 5.0
    with pytest.raises(ValueError, match="caught"):
        upward(BOW, 349e3, snagged_m=200.0)


@pytest.mark.parametrize(("change", "said"), [
    ({"points_m": ((0.0, 0.0),)}, "2 to 40 points"),
    ({"points_m": ((0.0, 0.0), (6.0, 0.0), (6.0, 0.0), (52.0, 25.0))}, "apart"),
    ({"points_m": ((0.0, 0.0), (6.0, float("nan")), (6.0, 7.0), (52.0, 25.0))}, "finite"),
    ({"points_m": ((0.0, 0.0), (6.0, 0.0), (6.0, 7.0), (5200.0, 25.0))}, "apart"),
    ({"heights_m": (0.0, 0.0)}, "as many"),
    ({"radii_m": (0.0, -1.0, 0.0, 0.0)}, "radii"),
    ({"fairlead": 7}, "fairlead"),
    ({"in_way": ((3.0, 4.0, 0.0),)}, "in the way"),
    ({"tail_m": 11.0}, "tail"),
    ({"tail": POLYESTER, "tail_m": 90.0}, "tail"),
])  # fmt: skip
def test_leads_that_are_none(change: dict[str, object], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        replace(BOW, **change)  # type: ignore[arg-type]


def test_absurd_questions() -> None:
    for tension_n in (0.0, -5.0, float("nan"), 1e9):
        with pytest.raises(ValueError):
            recoil(BOW, tension_n)
        with pytest.raises(ValueError):
            release(BOW, tension_n, [20.0])
    for at_m in ([], [0.0], [-1.0], [500.0], [float("nan")]):
        with pytest.raises(ValueError, match="between the ends"):
            release(BOW, 349e3, at_m)
    with pytest.raises(ValueError, match="kick"):
        release(BOW, 349e3, [20.0], kick=2.0)
    with pytest.raises(ValueError, match="kicks"):
        release(BOW, 349e3, [20.0], kick=[0.1])
    with pytest.raises(ValueError, match="fly low"):
        release(BOW, 349e3, [20.0], low=[True, False])
    with pytest.raises(ValueError, match="overlap"):
        release(replace(BOW, radii_m=(0.5, 4.0, 4.0, 0.2)), 349e3, [20.0])
    with pytest.raises(ValueError, match="springs"):
        release(BOW, 349e3, [20.0], springs=1)
    for build in (lambda: linear_rope(-1.0, 3.0, 7e5), lambda: replace(POLYESTER, mass_kg_m=0.0),
                  lambda: replace(POLYESTER, loss=1.0)):  # fmt: skip
        with pytest.raises(ValueError):
            build()


@settings(max_examples=12, deadline=None, derandomize=True, phases=[Phase.generate])
@given(
    turns_deg=st.lists(st.floats(-150.0, 150.0), min_size=1, max_size=5),
    legs_m=st.lists(st.floats(2.0, 40.0), min_size=6, max_size=6),
    radius_m=st.floats(0.0, 0.9),
    share=st.floats(0.05, 1.0),
    place=st.floats(0.02, 0.98),
    tailed=st.booleans(),
)
def test_any_lead_flies_within_its_length(
    turns_deg: list[float], legs_m: list[float], radius_m: float, share: float, place: float, tailed: bool
) -> None:
    """Whatever the lead: finite, held where it is held, no part farther off than the line is long."""
    headings = np.radians(np.concatenate([[0.0], np.cumsum(turns_deg)]))
    steps = np.array(legs_m[: len(headings)])[:, None] * np.column_stack([np.cos(headings), np.sin(headings)])
    points = tuple((float(x), float(y)) for x, y in np.vstack([[0.0, 0.0], np.cumsum(steps, axis=0)]))
    radii_m = (0.0, *[radius_m] * len(turns_deg), 0.0)
    led = Led(points, (0.0,) * len(points), radii_m, len(turns_deg), POLYESTER)
    if tailed and led.length_m > 20.0:
        led = replace(led, tail=usual_rope("nylon 8-strand", 800e3), tail_m=9.0)
    for path in release(led, share * led.strength_n, [place * led.length_m], springs=16, seed=1):
        assert np.isfinite(path.nodes_m).all() and np.isfinite(path.speeds_m_s).all()
        assert np.all(path.nodes_m[:, 0] == path.nodes_m[0, 0])
        long_m = place * led.length_m if path.end == "inboard" else (1.0 - place) * led.length_m
        assert swept(path).reach_m < 1.1 * long_m + 3.0 * radius_m * len(turns_deg)
        assert path.energy_j.max() < 1.25 * path.energy_j[0]  # coarse springs round hairpins; usually 1.01
