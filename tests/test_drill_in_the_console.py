"""The drill's view: its markup, its film, its marks by the same rules as at the terminal.

Checked against: XML as Python's own parser reads it; the paths that fly, to the pixel; the terminal's own words;
the design's rules ("not struck" is never praised).
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from monitor.outlet.console import drill_view
from monitor.outlet.console.desk import Drilled
from monitor.outlet.drill_sheet import DrillSheet, Flight, score_in_words
from monitor.records.decks import Site
from monitor.run.drilling import drilled
from monitor.settings.load import load_stay
from tests.console_scene import STAY
from tests.test_drill_and_sheets import FORBIDDEN, RISE, SITE, drill_task, marks

DRUM, BREAK = [2.5, 7.5], [12.5, 0.5]
PARTS = (
    Flight(np.array([0.0, 0.5, 1.0]), np.array([[DRUM, BREAK], [DRUM, [2.0, 8.0]], [DRUM, [1.0, 9.0]]])),
    Flight(np.array([0.0, 2.0]), np.array([[[17.5, -7.5], [12.5, 0.5]], [[17.5, -7.5], [19.0, -9.0]]])),
)  # fmt: skip


def parsed(markup: str) -> ElementTree.Element:
    return ElementTree.fromstring(markup)


def test_the_task_shows_squares_and_no_recoil() -> None:
    svg = parsed(drill_view.picture_of(Drilled(drill_task())))
    squares = [each.get("data-sq") for each in svg.iter("rect") if each.get("data-sq")]
    assert sorted(squares) == sorted(f"{letter}{row}" for letter in "ABCD" for row in range(1, 5))
    assert not list(svg.iter("animate")) and "DRILL" in "".join(svg.itertext())
    floors = [each for each in svg.iter("polygon") if each.get("fill") == "url(#drill-hatch)"]
    assert len(floors) == len(SITE.grounds)  # every ground is hatched whole


def test_the_film_is_the_path_that_flew() -> None:
    """First and last frame of each part, in px by hand: 20 m by 20 m on 800 px, from (0 m, −10 m)."""
    svg = parsed(drill_view.picture_of(Drilled(drill_task(), marks(True, False, 3), PARTS)))
    films = [each for each in svg.iter("polyline") if each.get("class") == "drill-flies"]
    assert len(films) == 2
    for film, part in zip(films, PARTS, strict=True):
        frames = film.find("animate").get("values", "").split(";")  # type: ignore[union-attr]
        assert len(frames) == drill_view.FRAMES
        for frame, lies in ((frames[0], part.lines_m[0]), (frames[-1], part.lines_m[-1])):
            drawn = [tuple(map(float, spot.split(","))) for spot in frame.split()]
            assert drawn == [(round(40.0 * x), round(40.0 * (y + 10.0))) for x, y in lies]
    assert "struck in 41 of 100" in "".join(svg.itertext())


@pytest.mark.parametrize("struck_said", [True, False])
@pytest.mark.parametrize("stand", [None, 0])
def test_the_marks_are_told_in_the_terminals_words(struck_said: bool, stand: int | None) -> None:
    given = replace(marks(struck_said, False, stand), rises=(RISE,))
    told = " ".join(
        "".join(parsed(f"<p>{drill_view.answered(Drilled(drill_task(), given, PARTS))}</p>").itertext()).split()
    )
    for row in score_in_words(drill_task(), given).splitlines():
        assert " ".join(row.split()) in told
    assert not FORBIDDEN.search(told)


def test_forms_carry_what_was_chosen_and_escape_it() -> None:
    sheet = replace(drill_task(), why='<b>"bend"')
    said = drill_view.asked_for({"among": drill_view.ANY, "share": "50", "seed": ""})
    assert said["among"] == "" and 1 <= int(said["seed"]) <= 9999
    assert drill_view.asked_for({"among": "poop", "seed": "7"}) == {"among": "poop", "seed": "7"}
    form = drill_view.asking(sheet, {**said, "seed": "7"})
    assert "<b>&quot;" not in form and "&lt;b&gt;&quot;bend" in form
    kept = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form))
    assert kept == {"among": "", "share": "50", "seed": "7"}
    assert set(re.findall(r'name="(\w+)" class', form)) == {"inboard", "outboard", "stand"}


def test_the_desk_drills_by_the_terminals_rules(config: Path) -> None:
    """A number is a task, answered or not; off the deck and "struck" earn their four whatever flies."""
    settings = load_stay(config, STAY)
    chosen = {"among": "aft breast 1", "share": "50", "seed": "5"}
    task = drilled(settings, chosen)
    assert task.marks is None and task.parts == () and task.sheet.way.line == "aft breast 1"
    again = drilled(settings, {**chosen, "inboard": "A1", "outboard": "out", "figure": "struck", "stand": "off"})
    assert again.sheet == task.sheet and len(again.parts) == 2 and again.marks is not None
    assert again.marks.points >= 4 and again.marks.stand_struck is None
    not_struck = drilled(
        settings, {**chosen, "inboard": "A1", "outboard": "out", "figure": "not-struck", "stand": "A1"}
    )
    assert not_struck.marks is not None and not_struck.marks.points <= 6
    for wrong, said in (
        ({"among": "no such"}, "no line"), ({"share": "0"}, "a share"), ({"seed": "x"}, "a number"),
        ({"inboard": "A1"}, "all four"),
    ):  # fmt: skip
        with pytest.raises(ValueError, match=said):
            drilled(settings, {**chosen, **wrong})


def test_a_drill_of_a_deck_is_of_a_line_led_over_it(config: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[list[str]] = []

    def drill_of(site: Site, leds: list[tuple[object, object]], *_: object) -> DrillSheet:
        asked.append([way.line for way, _ in leds])  # type: ignore[attr-defined]
        raise ValueError("far enough")

    monkeypatch.setattr("monitor.run.drilling.drill_of", drill_of)
    for among in ("poop", ""):
        with pytest.raises(ValueError, match="far enough"):
            drilled(load_stay(config, STAY), {"among": among, "share": "50", "seed": "5"})
    assert asked[0] and all(line.startswith(("aft", "stern")) for line in asked[0])
    assert len(asked[1]) == 14
