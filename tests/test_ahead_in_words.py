"""Words for what lies ahead: exact texts, and that nothing unknown looks like nothing to do.

Rules of the house: a loaded line is never named for work; expected, never promised; never the word "safe".
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from monitor.outlet import tending_words as words
from monitor.outlet.console import ahead
from monitor.outlet.console.handover import handover
from monitor.outlet.drivers import CHECK, drivers_in_words
from monitor.outlet.tables import ahead_briefly, status_line
from monitor.outlet.wording import Local, lines_in_words
from monitor.records.estimates import (
    Band,
    Encounter,
    EventOdds,
    IfLost,
    LineLoad,
    LineOdds,
    LoadEstimate,
    Lull,
    Outlook,
    PassingAdvice,
    PassingKind,
    SoonOdds,
    ToTend,
    Untended,
    Validity,
    WaterEstimate,
    WindEstimate,
    WindOutlook,
)
from monitor.records.picture import Picture
from monitor.watch.draws import INPUTS
from monitor.watch.expected import MATTERS
from tests.console_scene import Scene

NOW = datetime(2026, 3, 14, 16, 0, tzinfo=UTC)
LOCAL = Local(timedelta(hours=-2))
MINUTE = timedelta(minutes=1)


def _load(line: str, low: float, mid: float, high: float, runs_out_m: Band | None = None) -> LineLoad:
    band = Band(low, mid, high)
    tension_n = Band(320e3 * low, 320e3 * mid, 320e3 * high)
    return LineLoad(line, "aft springs", tension_n, band, 320e3, "working limit", runs_out_m=runs_out_m)


def _odds(drivers: tuple[str, ...] = ("gusts", "mean wind"), *lines: LineOdds) -> EventOdds:
    return EventOdds(NOW, 200, lines, 0.12, 0.15, 0.004, drivers)


def _outlook(**changed: object) -> Outlook:
    told: dict[str, object] = {
        "soon": tuple(SoonOdds(m, p, p, _odds()) for m, p in ((5, 0.004), (15, 0.02), (60, 0.12))),
        "untended": tuple(Untended(NOW + m * MINUTE, (_load("AS1", 0.3, 0.4, 0.1 * m / 15),)) for m in (60, 120)),
        "to_tend": (
            ToTend("AS1", "aft springs", Band(0.1, 0.12, 0.15), Band(0.4, 0.5, 0.62), False, NOW + 95 * MINUTE),
            ToTend("HL1", "head lines", Band(0.04, 0.05, 0.06), Band(0.0, 0.0, 0.0), True, None),
        ),
        "lulls": (Lull(NOW + 10 * MINUTE, NOW + 30 * MINUTE, 0.22),),
        "if_lost": (
            IfLost(("FS2",), "FS1", 1.3, ("FS1", "FB1"), False),
            IfLost(("FS1",), "FS2", 0.78, (), True),
            IfLost(("FS1", "FS2"), "", None, (), False),
        ),
    }
    return Outlook(NOW, (), (), Validity.GOOD, (), **(told | changed))  # type: ignore[arg-type]


def _estimate(high: float = 0.5) -> LoadEstimate:
    wind = WindEstimate(NOW, Band(8, 9, 10), 300.0, 12.0, 8.0, 0.0, "mast", 1.0, Validity.GOOD)
    water = WaterEstimate(NOW, 1.0, 0.5, 10.0, 0.6, Validity.GOOD)
    lines = (_load("AS1", 0.1, 0.2, high),)
    return LoadEstimate(NOW, wind, water, None, None, None, lines, lines, (), 0.0, 0.0, Validity.GOOD)


# --- the texts ----------------------------------------------------------------------------------------------


def test_tend_first_while_light() -> None:
    assert words.tend_first_in_words(_outlook(), LOCAL) == [
        "AS1, now 10–15 % of its limit: 40–62 % by 1600 LT, over the caution level from 1535 LT",
        "HL1, now 4–6 % of its limit: slack by 1600 LT",
        words.NEVER_FIRST,
    ]


def test_nothing_to_tend_is_not_the_same_as_not_known() -> None:
    none = words.tend_first_in_words(_outlook(to_tend=()), LOCAL)
    assert none[0] == "No line that is light now is expected to grow much heavier by 1600 LT."
    for unknown in (None, _outlook(to_tend=(), untended=())):
        assert words.tend_first_in_words(unknown, LOCAL) == [words.NOT_KNOWN]


def test_if_nobody_tends() -> None:
    assert words.untended_in_words(_outlook().untended, LOCAL) == [
        "By 1500 LT: aft springs AS1 30–40 % of working limit",
        "By 1600 LT: aft springs AS1 30–80 % of working limit",
    ]
    assert words.untended_in_words((), LOCAL) == [words.NOT_KNOWN]


def test_lulls() -> None:
    assert words.lulls_in_words(_outlook(), LOCAL) == ["1410–1430 LT, heaviest line up to 22 % of its limit"]
    assert words.lulls_in_words(replace(_outlook(), lulls=()), LOCAL) == [words.NO_LULL]
    assert words.lulls_in_words(replace(_outlook(), lulls=(), untended=()), LOCAL) == [words.NOT_KNOWN]
    assert words.lulls_in_words(None, LOCAL) == [words.NOT_KNOWN]


def test_when_a_line_goes() -> None:
    assert words.lost_in_words(_outlook().if_lost) == [
        "If FS2 parts: next FS1 at 130 % of its strength, THE REST DO NOT HOLD: FS1, FB1 follow",
        "If FS1 and FS2 part: NOTHING HOLDS HER",
    ]
    holds = (IfLost(("FS2",), "FS1", 0.78, (), True), IfLost(("FS1",), "FS2", 0.6, (), True))
    assert words.lost_in_words(holds) == [
        words.HOLD_ON,
        "If FS2 parts: next FS1 at 78 % of its strength, the rest hold",
    ]
    takes_another = (IfLost(("FS2",), "FS1", 1.2, ("FS1",), True), IfLost(("FS1",), "FS2", 0.6, (), True))
    assert words.lost_in_words(takes_another) == [  # something holds her in the end, but a second line goes
        "If FS2 parts: next FS1 at 120 % of its strength, then FS1 goes and the rest hold"
    ]
    assert words.lost_in_words(()) == [words.NOT_KNOWN]


def test_chances_soon() -> None:
    assert words.soon_in_words(_outlook(), _estimate(), LOCAL) == [
        "That a line passes its working limit: within 5 min under 1 %; within 15 min 2 %; within 1 h 12 %",
        "Depends most on gusts (read the highest gusts of ten minutes) and mean wind (read the anemometer)",
    ]


def test_hours_of_the_days_after_are_told_with_the_day() -> None:
    assert words.day_clock(NOW + 9 * 60 * MINUTE, LOCAL, NOW) == "2300 LT"
    assert words.day_clock(NOW + 10 * 60 * MINUTE, LOCAL, NOW) == "0000 LT tomorrow"
    assert words.day_clock(NOW + 36 * 60 * MINUTE, LOCAL, NOW) == "0200 LT in 2 days"


@pytest.mark.parametrize(
    ("high", "begins"), [(MATTERS - 0.01, "Not worked out for so little load"), (MATTERS, "NOT KNOWN")]
)
def test_chances_that_are_missing_say_why(high: float, begins: str) -> None:
    """Small load: none are worked out. Otherwise something went wrong, and that never looks like no chance."""
    assert words.SMALL == MATTERS
    (told,) = words.soon_in_words(_outlook(soon=()), _estimate(high), LOCAL)
    assert told.startswith(begins)


def test_the_order_in_which_lines_would_go() -> None:
    def line(name: str, parts: float, after: int | None) -> LineOdds:
        at = None if after is None else NOW + after * MINUTE
        return LineOdds(name, "aft springs", Band(1e5, 2e5, 3e5), 0.5, None, parts, None, None, at)

    odds = _odds(("gusts",), line("A", 0.4, 5), line("B", 0.1, 4), line("C", 0.0, None), line("D", 0.06, 6))
    assert words.going_in_words(odds, LOCAL) == [
        "If lines part, the likeliest in this order: B (10 %, about 1404 LT), A (40 %, about 1405 LT), "
        "D (6 %, about 1406 LT)"
    ]
    assert words.going_in_words(_odds(), LOCAL) == []
    hours = [
        WindOutlook(
            NOW + n * 60 * MINUTE, Band(18, 20, 22), None, 300.0, (), "model", replace(odds, any_over_strength=p)
        )
        for n, p in ((1, 0.1), (2, 0.5), (3, 0.3))
    ]
    assert words.hours_going_in_words(hours, LOCAL, NOW) == [
        "By 1600 LT, the worst hour: if lines part, the likeliest in this order: B (10 %, about 1404 LT), "
        "A (40 %, about 1405 LT), D (6 %, about 1406 LT)"
    ]
    unlikely = replace(hours[0], odds=replace(odds, any_over_strength=0.002))
    assert words.hours_going_in_words([unlikely, replace(unlikely, odds=None)], LOCAL, NOW) == []


@pytest.mark.parametrize(
    ("advice", "told"),
    [
        (None, []),
        (PassingAdvice(0.05, 3.9, 120.0),
         ["Ask VTS or her pilot: not above 7.5 kn through the water, or at least 120 m off at her present speed"]),
        (PassingAdvice(0.05, 6.2, None),
         ["Nothing to ask: with odds of 95 % lines stay below their limits up to 12.0 kn through the water"]),
        (PassingAdvice(0.05, None, None, "wind and stream alone may bring a line to its limit"),
         ["Wind and stream alone may bring a line to its limit"]),
    ],
)  # fmt: skip
def test_what_to_ask_of_her(advice: PassingAdvice | None, told: list[str]) -> None:
    knots_10 = Band(4.6, 5.1, 5.6)
    encounter = Encounter(
        NOW, 200911099, "INVENTED", PassingKind.OPPOSITE, 1.0, NOW, NOW, NOW, Band(80, 90, 100), knots_10,
        knots_10, 0.0, Band(110, 120, 130), Band(200, 200, 200), Band(30, 30, 30), Band(9, 9, 9), 70, 5.0,
    )  # fmt: skip
    assert words.asked_in_words(advice, encounter) == told


def test_every_input_of_the_odds_has_a_word_on_what_to_check() -> None:
    assert set(CHECK) == set(INPUTS)
    assert drivers_in_words(("her distance", "damping")) == (
        "depends most on her distance (ask her or VTS how far off she will pass) and damping"
    )
    assert drivers_in_words(()) == ""


def test_a_rendering_brake_is_told_with_its_length() -> None:
    loads = [_load("AS1", 0.5, 0.9, 1.0, Band(0.2, 0.41, 0.6)), _load("AS2", 0.4, 0.6, 0.9, Band(0.0, 0.0, 0.52))]
    assert lines_in_words(loads) == (
        "aft springs AS1 50–100 % of working limit; brake renders: AS1 longer by 0.2–0.6 m; "
        "brake may render: AS2 longer by up to 0.6 m"
    )


def test_the_status_line_tells_what_lies_ahead() -> None:
    told = ahead_briefly(_outlook(), LOCAL)
    assert told == [
        "working limit within 60 min 12 %", "tend first, while light: AS1", "lightest expected 1410–1430 LT",
    ]  # fmt: skip
    line = status_line(NOW, _estimate(), _outlook(), (), Counter(), LOCAL)
    assert all(part in line for part in told)
    assert ahead_briefly(None, LOCAL) == []


# --- the screen ---------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def picture(config: Path) -> Picture:
    scene = Scene(config)
    scene.go_on(240)
    return scene.picture()


BUILT = (ahead.briefly, ahead.chances, ahead.ships, ahead.tending, ahead.losses)


def test_every_list_is_built_from_a_watch_and_says_expected(picture: Picture) -> None:
    shown = {build.__name__: build(picture) for build in BUILT}
    assert "If she passes" in shown["ships"] and "Depends most on" in shown["ships"]
    assert all(head in shown["ships"] for head in ("at rest", "moving", "brake renders"))
    assert all(lead.line in shown["tending"] for lead in picture.plan.leads)
    assert "never promised" in shown["tending"] and "never promised" in shown["briefly"]
    assert "hold" in shown["losses"]
    assert "If nobody tends" in handover(picture) and "Lightest expected, never promised" in handover(picture)
    for markup in shown.values():
        assert "safe" not in markup.lower()


def test_before_anything_is_known_every_list_says_so(config: Path) -> None:
    begin = Scene(config).picture()
    for build in BUILT:
        markup = build(begin)
        assert "NOT KNOWN" in markup or "NO FORECAST" in markup or "not the same as none coming" in markup


def test_what_is_told_of_the_recorded_day_names_loaded_lines_never_for_work(picture: Picture) -> None:
    assert picture.outlook is not None
    for each in picture.outlook.to_tend:
        assert each.now.high <= 0.25
