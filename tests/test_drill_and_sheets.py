"""The drill's rules, the sheets, the page on hauling, and what notices say of worst places.

Checked against: hand-made breaks; XML as Python's own parser reads it; the capstan equation's table
(Euler–Eytelwein; ratios computed outside this program); the design's rules on words.
"""

from __future__ import annotations

import csv
import re
import shutil
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
from shapely import Point, Polygon

from monitor.__main__ import main
from monitor.outlet import deck_drawing, drill_sheet, worst_places
from monitor.outlet.console.recoil import decks, in_words
from monitor.outlet.console.sheet import sheet_of
from monitor.outlet.wording import Local, line_of, notice
from monitor.physics.fittings import capstan_ratio
from monitor.physics.snapback import Led, Swept
from monitor.records.decks import QUAY, Area, Ground, Near, Place, Rise, Site, Way, WorstOfLine
from monitor.records.estimates import Band, LineLoad, Outlook, Validity
from monitor.records.events import AlertState, Priority, Reason, Transition
from monitor.records.situations import Matter, Situation
from monitor.run.picture import plan_of
from monitor.settings.load import load_stay
from monitor.settings.schema import Tail
from monitor.watch import drill, worst_ahead
from monitor.watch.danger import Field
from monitor.watch.ground import led_of, site_of
from monitor.watch.hauled import hauled

STAY = "tavrin-lark-at-sedge-quay-2"
NOW = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
FORBIDDEN = re.compile(r"\b(safe\w*|safety|all clear|low risk|well done|lucky|good spot)\b", re.IGNORECASE)


# --- drill --------------------------------------------------------------------------------------------------

FLOOR = Ground(
    "poop", ((0.0, 0.0), (20.0, 0.0), (20.0, 10.0), (0.0, 10.0)), (), (Place("W", "drum", 2.5, 7.5, 0.3),)
)
SHORE = Ground(
    QUAY, ((0.0, -10.0), (20.0, -10.0), (20.0, -5.0), (0.0, -5.0)), (), (Place("B", "bollard", 17.5, -7.5),)
)
SITE = Site((FLOOR, SHORE), (Way("S1", "stern lines", ((2.5, 7.5), (12.5, 0.5), (17.5, -7.5)), 2),))
SQUARES = drill.Squares(0.0, -10.0, 5.0, 4, 4)


def flown(end: str, tip: list[tuple[float, float]]) -> Swept:
    lines = np.array([[tip[0], spot] for spot in tip])
    return Swept(
        9.0, end, 1.0, 0.0, 0.0, 0.0, None, 50.0, np.arange(len(tip)) / 10, lines, np.full((len(tip), 2), 50.0)
    )  # type: ignore[arg-type]


def task(struck: list[bool], figure: tuple[float, float] = (7.5, 7.5)) -> drill.Drill:
    """Three breaks; the figure's square is met in those told. The chosen break is the first."""
    met = np.zeros((3, 20, 20), dtype=bool)
    met[:, int(figure[0]), int(figure[1] + 10)] = struck
    field = Field((0.0, -10.0), np.zeros((20, 20)), np.zeros((20, 20)), met, np.full(3, 1 / 3))
    inboard = flown("inboard", [(12.5, 0.5), (2.5, 7.5), (1.0, 9.0)])  # to A4
    outboard = flown("outboard", [(12.5, 0.5), (17.5, -7.5), (24.0, -9.0)])  # by D1 out of the picture
    return drill.Drill(
        1, SITE.ways[0], 1e5, 10, (12.5, 0.5), "bend", 0, (inboard, outboard), figure, "poop", SQUARES, field
    )


def said(inboard: str = "A4", outboard: str = "D1", struck: bool = True, stand: str = "off") -> drill.Answer:
    return drill.Answer(inboard, outboard, struck, stand)


def test_squares_have_names_and_places() -> None:
    assert SQUARES.name((0.1, -9.9)) == "A1" and SQUARES.name((19.9, 9.9)) == "D4"
    assert SQUARES.name((20.1, 0.0)) is None
    assert SQUARES.box("b3").equals(shapely.box(5.0, 0.0, 10.0, 5.0))
    for wrong in ("E1", "A5", "A0", "4A", "", "AA1"):
        with pytest.raises(ValueError, match=f"'{wrong}' is no square: A1 to D4"):
            SQUARES.place(wrong)


def test_full_marks_only_off_the_deck() -> None:
    best = drill.score(task([True, True, False]), SITE, said())
    assert (best.points, best.inboard, best.outboard, best.figure, best.stand) == (10, 3, 3, 2, 2)
    assert (best.struck, best.breaks, best.struck_here, best.stand_struck) == (2, 3, True, None)
    for row in range(4):
        for column in "ABCD":
            square = f"{column}{row + 1}"
            got = drill.score(task([True, True, False]), SITE, said(stand=square))
            on_ground = any(Polygon(g.outline).intersects(SQUARES.box(square)) for g in SITE.grounds)
            assert (got.stand == 0 and got.stand_struck is not None) if on_ground else got.points == 10


@pytest.mark.parametrize("struck", [[True, True, True], [False, True, False], [False, False, False]])
def test_not_struck_earns_nothing_whatever_happens(struck: list[bool]) -> None:
    got = drill.score(task(struck), SITE, said(struck=False))
    assert got.figure == 0 and got.points <= 8
    assert drill.score(task(struck), SITE, said()).figure == 2


def test_an_end_counts_by_squares_beside_it() -> None:
    assert [
        drill.score(task([False] * 3), SITE, said(inboard=name)).inboard for name in ("A4", "B3", "C4", "D4")
    ] == [3, 3, 2, 1]  # by B3 to A4
    assert [
        drill.score(task([False] * 3), SITE, said(outboard=name)).outboard for name in ("out", "D1", "C2", "A4")
    ] == [3, 3, 2, 0]
    assert drill.score(task([False] * 3), SITE, said(inboard="OUT")).inboard == 0


def drill_task() -> drill_sheet.DrillSheet:
    return drill_sheet.DrillSheet(
        SITE, SITE.ways[0], (12.5, 0.5), "bend", 1e5, (7.5, 7.5), 0.0, -10.0, 5.0, "ABCD", 4, 1, "Ship", True
    )


def marks(struck_said: bool, here: bool, stand: int | None) -> drill_sheet.Marks:
    return drill_sheet.Marks(
        5, ("A1", 0, ("A4",)), ("B1", 2, ("D1", "out")), struck_said, here, 41, 100, "B3", stand
    )


@pytest.mark.parametrize("struck_said", [True, False])
@pytest.mark.parametrize("here", [True, False])
@pytest.mark.parametrize("stand", [None, 0, 17])
def test_what_the_score_says(struck_said: bool, here: bool, stand: int | None) -> None:
    sheet = drill_task()
    told = drill_sheet.score_in_words(sheet, marks(struck_said, here, stand))
    assert "struck in 41 of 100 simulated breaks" in told
    assert not FORBIDDEN.search(told + drill_sheet.questions(sheet))
    if not struck_said:
        assert "earns nothing. 0 of 2" in told and "right" not in told.split("You would stand")[0]
    if stand is not None:
        assert f"struck in {stand} of 100 simulated breaks" in told and "no place earns a mark. 0 of 2" in told
    else:
        assert "that is the answer. Lines fly beyond them, too. 2 of 2" in told
    assert told.rstrip().endswith("can be struck. The next line may part elsewhere.")


def test_one_seed_one_task(config: Path) -> None:
    settings = load_stay(config, STAY)
    site = site_of(settings)
    assert site is not None
    breast = [(way, led_of(settings, way.line)) for way in site.ways if way.line == "aft breast 1"]
    one, again, other = (drill.drill_of(site, breast, 10, seed, 20) for seed in (5, 5, 6))
    assert (one.figure, one.at, one.chosen, one.why) == (again.figure, again.at, again.chosen, again.why)
    assert (one.figure, one.at) != (other.figure, other.at)
    for each in (one, other):
        ground = site.ground(each.ground)
        assert Polygon(ground.outline).covers(Point(each.figure))
        assert not any(Polygon(ring).contains(Point(each.figure)) for _, ring in ground.houses)
        assert each.squares.name(each.figure) is not None


# --- sheets -------------------------------------------------------------------------------------------------


def sheet_for(ground: str, site: Site, areas: tuple[Area, ...] = ()) -> deck_drawing.DeckSheet:
    return deck_drawing.DeckSheet(
        site, ground, areas, (), (deck_drawing.Tension("S1", 1e5),), "given", "Ship", "Berth", NOW, True, "1"
    )


@pytest.mark.parametrize("ground", ["poop", QUAY])
def test_the_sheet_says_that_all_of_it_can_be_struck_and_hatches_all_of_it(tmp_path: Path, ground: str) -> None:
    """Even with no worst area at all; and never a word that somebody could lean on."""
    pytest.importorskip("matplotlib")
    svg, png = tmp_path / "sheet.svg", tmp_path / "sheet.png"
    deck_drawing.draw_deck(sheet_for(ground, SITE), [svg, png])
    assert png.read_bytes().startswith(b"\x89PNG")
    words = " ".join(
        "".join(element.itertext()) for element in ElementTree.parse(svg).iter() if element.tag.endswith("text")
    )
    sentence = worst_places.WHOLE_QUAY if ground == QUAY else worst_places.WHOLE_DECK
    for part in sentence.split(". "):
        assert part.rstrip(".") in words
    assert "INVENTED" in words and "Advice only" in words and not FORBIDDEN.search(words)
    text = svg.read_text(encoding="utf-8")
    assert text.count("url(#h") >= len(SITE.grounds)  # each ground is filled with a hatching
    assert not re.search(r"#(?:f|e|d)[0-9a-f]0{2,4}\b|red", text.replace("hatch", ""))


RISE = Rise((2.5, 7.5), "the lead bends 12° down at bow chock", 14.4)
UP = "may whip upward here: the lead bends 12° down at bow chock; by its energy to 14 m above it"


def test_what_may_go_up_is_told_and_marked_and_its_absence_is_no_promise(tmp_path: Path) -> None:
    """On the sheet of its ground and in the answer of the drill; that any line may, on each."""
    pytest.importorskip("matplotlib")
    told = []
    for ground, rises in (("poop", (("S1", RISE),)), ("poop", ()), (QUAY, (("S1", RISE),))):
        svg = tmp_path / "up.svg"
        deck_drawing.draw_deck(replace(sheet_for(ground, SITE), rises=rises), [svg])
        texts = [each for each in ElementTree.parse(svg).iter() if each.tag.endswith("text")]
        told.append(" ".join("".join("".join(each.itertext()).split()) for each in texts))
    squeezed = "".join(UP.split())
    assert [squeezed in "".join(words.split()) for words in told] == [True, False, False]
    assert [words.count(worst_places.UPWARD) for words in told] == [3, 1, 1]  # mark, row, and for any line
    assert all("".join(worst_places.CAUGHT.split()) in "".join(words.split()) for words in told)
    answer = drill_sheet.score_in_words(drill_task(), replace(marks(True, True, None), rises=(RISE,)))
    assert f"S1 {UP}. {worst_places.CAUGHT}" in " ".join(answer.split())
    assert worst_places.CAUGHT in drill_sheet.score_in_words(drill_task(), marks(True, True, None))


def test_the_same_sheet_twice_is_the_same_file(tmp_path: Path) -> None:
    pytest.importorskip("matplotlib")
    area = Area("poop", 3, (((2.0, 2.0), (8.0, 2.0), (8.0, 6.0)),))
    for name in ("a.svg", "b.svg"):
        deck_drawing.draw_deck(sheet_for("poop", SITE, (area,)), [tmp_path / name])
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()


def test_the_console_hatches_every_ground_whole_with_and_without_a_plan(config: Path) -> None:
    plan = plan_of(load_stay(config, STAY))
    sheet = sheet_of(plan, 1380, 420)
    outline = [(0.0, 0.0), (9.0, 0.0), (9.0, 9.0)]
    assert [ground.name for ground in plan.grounds] == ["forecastle", "poop", "gangway landing", QUAY]
    svg = ElementTree.fromstring(f"<svg>{decks(plan, outline, sheet)}</svg>")
    filled = [element.get("fill", "") for element in svg.iter("polygon")]
    assert filled.count("url(#struck)") == 3 and filled.count("url(#struck-ashore)") == 1
    bare = replace(plan, grounds=())
    assert decks(bare, outline, sheet).count("<line") > 20
    assert in_words(bare, 4, ())[1] == "worst: no deck plan"
    assert in_words(plan, 4, ())[1] == "worst: not yet known"


# --- notices ------------------------------------------------------------------------------------------------


def load(line: str, share: float) -> LineLoad:
    return LineLoad(line, "stern lines", Band(1e5, 1.5e5, 2e5), Band(share, share, share), 3e5, "working limit")


def told(situation: Situation, outlook: Outlook | None, priority: Priority = Priority.ALARM) -> str:
    change = Transition(
        NOW, situation.key, AlertState.NORMAL, AlertState.UNACKNOWLEDGED, priority, False, Reason.RAISED
    )
    return line_of(notice(change, situation, Local(timedelta(0)), outlook))


def outlook(worst: tuple[WorstOfLine, ...] | None) -> Outlook:
    return Outlook(NOW, (), (), Validity.GOOD, worst=worst)


WIND = Situation("wind", Matter.WIND, Priority.ALARM, Priority.ALARM, lines=(load("S1", 0.8), load("S2", 0.2)))
KNOWN = WorstOfLine(
    "S1", "stern lines", 10, 3e5, 60, (), (),
    (Near(QUAY, "", "by", "bollard B1", "bollard"), Near("poop", "port side", "abaft", "A1", "drum")), (),
)  # fmt: skip


def test_a_notice_tells_the_whole_first_then_where_it_is_worst() -> None:
    text = told(WIND, outlook((KNOWN,)))
    order = [
        "CLEAR BOTH MOORING DECKS AND QUAY EDGE",
        "All of both mooring decks",
        "Worst: poop port side abaft winch A1, quay by bollard B1.",
    ]
    assert [text.index(part) for part in order] == sorted(text.index(part) for part in order)
    assert not FORBIDDEN.search(text)


def test_a_notice_never_waits_and_never_guesses() -> None:
    assert worst_places.WORKED_OUT in told(WIND, outlook(()))
    assert "Worst" not in told(WIND, outlook(None)) and "Worst" not in told(WIND, None)
    failed = WorstOfLine("S1", "stern lines", 20, 6e5, 0, (), (), (), ())
    assert worst_places.NOT_KNOWN in told(WIND, outlook((failed,)))


def test_a_line_told_heavy_has_its_places_and_a_parted_one_has_none_left() -> None:
    heavy = Situation("line:S1", Matter.LINE, Priority.WARNING, Priority.WARNING, subject="S1", facts=("heavy",))
    parted = Situation("line:S1", Matter.LINE, Priority.ALARM, Priority.ALARM, subject="S1", facts=("parted",))
    assert "Worst: poop port side" in told(heavy, outlook((KNOWN,)), Priority.WARNING)
    assert "Worst" not in told(parted, outlook((KNOWN,)))


def test_lines_are_worked_out_a_few_at_a_time_and_what_is_known_is_kept(
    config: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[tuple[str, int]] = []

    def quick(site: Site, led: Led, line: str, group: str, tension_class: int, count: int) -> WorstOfLine:
        asked.append((line, tension_class))
        if line == "aft breast 1":
            raise ValueError("cannot")
        return WorstOfLine(line, group, tension_class, 1e5 * tension_class, count, (), (), (), ())

    monkeypatch.setattr(worst_ahead, "worst_of_line", quick)
    settings = load_stay(config, STAY)
    names = [led.line for led in settings.stay.lines]
    now = Outlook(NOW, (), (), Validity.GOOD)
    before: Outlook | None = None
    for _ in range(len(names)):
        before = worst_ahead.worst_ahead(settings, names, now, before)
        assert len(asked) <= worst_ahead.A_TURN * len(names)
    assert sorted(line for line, _ in asked) == sorted(names)  # each once, at its pretension
    assert before is not None and before.worst is not None and len(before.worst) == len(names)
    (failed,) = [found for found in before.worst if found.line == "aft breast 1"]
    assert failed.breaks == 0


def test_a_line_that_cannot_be_drawn_stops_no_outlook(config: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Settings allow what no lead can be: here a tail longer than the line is in plan."""
    settings = load_stay(config, STAY)
    name = settings.ship.lines[0].name
    tail = Tail.model_construct(material="nylon 8-strand", length=300.0, breaking_force=2e6)
    lines = tuple(
        line.model_copy(update={"tail": tail}) if line.name == name else line for line in settings.ship.lines
    )
    odd = settings.model_copy(update={"ship": settings.ship.model_copy(update={"lines": lines})})
    with pytest.raises(ValueError, match="tail"):
        led_of(odd, name)
    monkeypatch.setattr(worst_ahead, "worst_of_line", lambda *_: KNOWN)
    once = worst_ahead.worst_ahead(odd, [name], Outlook(NOW, (), (), Validity.GOOD), None)
    assert once.worst is not None and [(each.line, each.breaks) for each in once.worst] == [(name, 0)]
    assert worst_ahead.worst_ahead(odd, [name], Outlook(NOW, (), (), Validity.GOOD), once).worst == once.worst


# --- hauling and the command line ---------------------------------------------------------------------------


def test_the_capstan_against_its_table(shared: Path) -> None:
    with (shared / "reference" / "lines" / "capstan_ratio.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            for turns in ("0.25", "0.5", "1", "2", "3", "4", "5"):
                ratio = float(capstan_ratio(float(row["mu"]), 360.0 * float(turns)))
                assert ratio == pytest.approx(float(row[f"turns_{turns}"]), rel=2e-3, abs=6e-3)


@pytest.mark.parametrize(
    ("mu", "turns", "ratio"), [(0.10, 3, 6.59), (0.15, 3, 16.9), (0.20, 3, 43.38), (0.10, 5, 23.14)]
)
def test_four_rows_of_the_table(mu: float, turns: int, ratio: float) -> None:
    assert float(capstan_ratio(mu, 360.0 * turns)) == pytest.approx(ratio, rel=1e-3)


def test_the_page_on_hauling(config: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["hauling", STAY, "head line 1", "--config", str(config)]) == 0
    text = capsys.readouterr().out
    assert "     3      6.6 – 16.9" in text and "Nobody in a bight" in text and "more than 6" in text
    assert re.search(r"A  bow 1: the line turns \d+° and pulls it with \d\.\d × its own pull", text)
    assert not FORBIDDEN.search(text)
    assert main(["hauling", STAY, "nothing", "--config", str(config)]) == 2


def test_bights_by_hand() -> None:
    """From the nearer of two warping drums round a right angle (2 sin 45° = 1.41), on at 60° (1.0 ×); the
    inside of each is the triangle of its two legs. A straight lead makes none; without one it is on its own."""
    marks = (
        Place("W", "drum", 1.0, 9.0, 0.3), Place("far drum", "warping drum", 9.0, 1.0, 0.3),
        Place("near drum", "warping drum", 4.0, 8.0, 0.3), Place("roller", "pedestal roller", 8.0, 8.0, 0.2),
        Place("chock", "fairlead", 8.0, 1.0, 0.1),
    )  # fmt: skip
    deck = replace(FLOOR, fittings=marks)
    ashore = (8.0 + 5.0 * np.sin(np.pi / 3), 1.0 - 5.0 * np.cos(np.pi / 3))
    way = Way("S1", "stern lines", ((1.0, 9.0), (8.0, 8.0), (8.0, 1.0), ashore), 3)
    found = hauled(Site((deck, SHORE), (way,)), "S1")
    assert (found.ground, found.drum.name) == ("poop", "near drum")
    assert [(bight.name, round(bight.turn_deg), round(bight.pull, 2)) for bight in found.bights] == [
        ("roller", 90, 1.41), ("chock", 60, 1.0),
    ]  # fmt: skip
    assert found.bights[0].inside == ((4.0, 8.0), (8.0, 8.0), (8.0, 1.0))
    straight = hauled(Site((replace(deck, fittings=marks[::4]), SHORE), (replace(way, points=(
        (1.0, 9.0), (8.0, 1.0), (15.0, -7.0)), on_board=2),)), "S1")  # fmt: skip
    assert straight.drum.name == "W" and straight.bights == ()


def test_any_name_makes_a_file(config: Path, tmp_path: Path) -> None:
    """Dots, slashes and colons in people's names neither cut a file's name nor lead out of the folder."""
    pytest.importorskip("matplotlib")
    file = next(
        path for path in (config / "ships").glob("*.toml") if '"head line 1"' in path.read_text(encoding="utf-8")
    )
    mine = tmp_path / "config"
    shutil.copytree(config, mine)
    for path in mine.rglob("*.toml"):
        text = path.read_text(encoding="utf-8").replace('"head line 1"', '"../No. 1: head/fwd"')
        path.write_text(text, encoding="utf-8")
    assert file.name in {path.name for path in (mine / "ships").iterdir()}
    to = tmp_path / "out"
    assert main(["hauling", STAY, "../No. 1: head/fwd", "--config", str(mine), "--to", str(to)]) == 0
    assert {path.name for path in to.iterdir()} == {"hauling-No-1-head-fwd.png", "hauling-No-1-head-fwd.svg"}


def test_a_ship_without_deck_plans_says_so(
    config: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for folder in ("ships", "berths", "stays", "alerts"):
        (tmp_path / folder).mkdir()
        for path in (config / folder).glob("*.toml"):
            text = path.read_text(encoding="utf-8")
            (tmp_path / folder / path.name).write_text(text.split("\n[[decks]]")[0] + "\n", encoding="utf-8")
    for words in (["decks", STAY], ["drill", STAY]):
        assert main([*words, "--to", str(tmp_path / "out"), "--config", str(tmp_path)]) == 2
        assert worst_places.NOT_ENTERED in " ".join(capsys.readouterr().err.split())
