"""The console's sentence, drawings and lists, without a browser.

Checked against: XML as Python's own parser reads it; the contrast of WCAG 2.2 (1.4.3, by the formula published
there); a plain search for the spreading of labels; the watch's own judging of levels; the design's rules on words.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.outlet.console import drill_view, forms, instruments, rows
from monitor.outlet.console.approach import approach_drawing
from monitor.outlet.console.deck_view import deck_words, decks_drawing, heaviest, mooring_decks
from monitor.outlet.console.gauge import level
from monitor.outlet.console.handover import handover
from monitor.outlet.console.headline import headline
from monitor.outlet.console.palette import PALETTES, colours
from monitor.outlet.console.plan import bare_plan, plan_drawing
from monitor.outlet.console.ribbon import ribbon_drawing
from monitor.outlet.console.svg import spread
from monitor.outlet.worst_places import UPWARD
from monitor.records.decks import Area, Rise, WorstOfLine
from monitor.records.estimates import Band, LineLoad
from monitor.records.events import AlertState, Priority
from monitor.records.picture import GaugeNow, LevelsNow, Measured, Mode, Picture
from monitor.records.situations import Matter, Situation
from monitor.settings.schema import Levels
from monitor.watch import facts
from tests.console_scene import HOSTILE, contrast, highest, hostile, scenes

NAMES = ("begin", "nothing", "ship", "alarm", "parted", "dark", "gone")
DRAWINGS = (plan_drawing, approach_drawing, ribbon_drawing, decks_drawing)
SIZES = ((1380, 420), (930, 235), (600, 180))
LISTS: tuple[Callable[[Picture], str], ...] = (
    rows.sentence, rows.flags, rows.alerts, rows.line_rows, rows.people, rows.craft, rows.feeds, rows.limits,
    rows.doubts, rows.log, handover, deck_words, instruments.winds, instruments.levels,
)  # fmt: skip


@pytest.fixture(scope="module")
def shown(config: Path) -> dict[str, Picture]:
    return scenes(config)


@pytest.fixture(scope="module")
def markup_by_ais(config: Path) -> Picture:
    return hostile(config)


def texts(svg: str) -> list[str]:
    """The words of a drawing."""
    return ["".join(element.itertext()) for element in ElementTree.fromstring(svg).iter("text")]


def words(html: str) -> str:
    """What a person reads of markup."""
    return re.sub(r"<[^>]*>", " ", html)


@pytest.mark.parametrize(("draw", "size", "name"), [*itertools.product(DRAWINGS, SIZES, NAMES)])
def test_every_drawing_is_whole(
    shown: dict[str, Picture], draw: Callable[[Picture, float, float], str], size: tuple[int, int], name: str
) -> None:
    """Well formed, of the size asked for, with a label for a screen reader, and no number that is none."""
    svg = draw(shown[name], *size)
    root = ElementTree.fromstring(svg)
    assert (root.get("width"), root.get("height")) == tuple(map(str, size))
    assert root.get("aria-label")
    assert not re.search(r"\bnan\b|\binf\b|None", svg)


@pytest.mark.parametrize("name", NAMES)
def test_lists_never_say_safe_or_quiet(shown: dict[str, Picture], name: str) -> None:
    """Silence is not safety."""
    for build in LISTS:
        assert not re.search(
            r"\b(safe|safely|quiet|all clear|guaranteed)\b", words(build(shown[name])), re.IGNORECASE
        )


def test_markup_from_the_air_stays_text(markup_by_ais: Picture) -> None:
    """A name sent by AIS can hold < > & and quotes: it is shown as sent and never read as markup."""
    assert any(ship.name == HOSTILE for ship in markup_by_ais.ships)
    drawn = [draw(markup_by_ais, 1380, 420) for draw in DRAWINGS]
    for svg in drawn:
        assert "<B>" not in svg
        ElementTree.fromstring(svg)
    assert any(HOSTILE in text for text in itertools.chain(*map(texts, drawn)))
    assert all("<B>" not in build(markup_by_ais) for build in LISTS)


def test_the_sentence_follows_the_watch(shown: dict[str, Picture]) -> None:
    """The order is of the highest priority; a pass is ordered by the time the watch says people must be clear."""
    for name in NAMES:
        assert headline(shown[name]).priority is highest(shown[name])
    nothing, ship, alarm = (headline(shown[name]) for name in ("nothing", "ship", "alarm"))
    assert nothing.priority is Priority.NONE and "Keep a lookout" in nothing.reason
    assert re.fullmatch(r"(CLEAR|BE OFF) BOTH MOORING DECKS by \d{4} LT", ship.order)
    told = next(alert.situation for alert in shown["ship"].alerts if alert.key.startswith("passing"))
    assert told is not None and ship.count_to == told.clear_by
    assert "ORLEN FAIR passes" in ship.reason
    assert alarm.order == "CLEAR BOTH MOORING DECKS NOW" and alarm.more >= 1
    assert headline(shown["begin"]).unknown and "NOT KNOWN" in headline(shown["begin"]).order


def test_an_alarm_whose_cause_has_just_gone_still_rules_the_screen(shown: dict[str, Picture]) -> None:
    """Until the alert itself has ended."""
    picture = shown["alarm"]
    alerts = tuple(replace(alert, situation=None) for alert in picture.alerts)
    still = headline(replace(picture, alerts=alerts))
    assert still.priority is Priority.ALARM and still.order == "KEEP OFF BOTH MOORING DECKS"


def test_an_alert_whose_cause_is_less_now_says_so(shown: dict[str, Picture]) -> None:
    """It stands for its time, but the screen does not tell as present what is past."""
    picture = shown["alarm"]
    wind = next(alert for alert in picture.alerts if alert.key == "wind")
    assert wind.situation is not None and rows.EASED not in rows.alerts(replace(picture, alerts=(wind,)))
    less = replace(wind, situation=replace(wind.situation, level=Priority.NONE, holds=Priority.NONE))
    told = replace(picture, alerts=(less,))
    assert rows.EASED in rows.alerts(told) and rows.EASED in handover(told)
    model = Situation("model", Matter.MODEL, Priority.NONE, Priority.NONE)
    alert = replace(less, key="model", priority=Priority.WARNING, situation=model)
    assert headline(replace(picture, alerts=(alert,))).order == "LINE LOADS WERE NOT KNOWN"
    unknown = replace(alert, situation=replace(model, level=Priority.WARNING, unknown=True))
    assert headline(replace(picture, alerts=(unknown,))).order == "LINE LOADS NOT KNOWN"


def test_a_pass_already_due_is_not_counted_down_to_the_past(shown: dict[str, Picture]) -> None:
    """Once people had to be clear, the sentence says until when they keep off."""
    picture = shown["ship"]
    told = next(alert for alert in picture.alerts if alert.key.startswith("passing")).situation
    assert told is not None and told.clear_by is not None and told.at is not None and told.until is not None
    for now in (told.clear_by + timedelta(seconds=1), told.at + timedelta(seconds=1)):
        late = headline(replace(picture, now=now))
        assert late.order.startswith(("CLEAR BOTH MOORING DECKS NOW", "KEEP OFF BOTH MOORING DECKS"))
        assert late.count_to == told.until


def test_unknown_is_drawn_as_unknown(shown: dict[str, Picture]) -> None:
    """No load: the tag says so, the line is dotted. AIS dark: the strip says so. No forecast: the ribbon does."""
    lines = len(shown["begin"].plan.leads)
    drawn = plan_drawing(shown["begin"], 1380, 420)
    assert texts(drawn).count("NOT KNOWN") == lines and drawn.count("rope unknown") == lines
    assert any(
        "PASSING SHIPS ARE NOT WATCHED" in text for text in texts(approach_drawing(shown["dark"], 1380, 120))
    )
    assert "hours ahead NOT KNOWN" in texts(ribbon_drawing(shown["dark"], 1380, 260))
    assert "PARTED" in texts(plan_drawing(shown["parted"], 1380, 420))
    assert "rope parted" in plan_drawing(shown["parted"], 1380, 420)


def test_decks_are_drawn_to_one_scale(shown: dict[str, Picture]) -> None:
    """Corner by corner against the deck plan: the same px a metre along and across, on every deck; all hatched."""
    plan = shown["alarm"].plan
    for size in SIZES:
        svg = decks_drawing(shown["alarm"], *size)
        edges = re.findall(r'<polygon points="([^"]+)" class="dv-edge"', svg)
        decks = mooring_decks(plan)
        assert [deck.name for deck in decks] == ["poop", "forecastle"] and len(edges) == 2
        scales = []
        for deck, edge in zip(decks, edges, strict=True):
            drawn = [complex(*map(float, spot.split(","))) for spot in edge.split()]
            known = [complex(*corner) for corner in deck.outline]
            scales += [
                (drawn[n] - drawn[0]) / (known[n] - known[0])
                for n in range(1, len(known))
                if abs(known[n] - known[0]) > 20.0
            ]
        assert max(abs(scale - scales[0]) for scale in scales) < 0.02 * abs(scales[0])  # px are written to 0.1
        assert svg.count("url(#dv1)") >= 2 * len(decks)


def test_what_is_not_worst_is_said_to_be_struck_too(shown: dict[str, Picture]) -> None:
    """With and without simulated areas: the whole deck comes first; without deck plans that is said."""
    for picture in shown.values():
        told = words(deck_words(picture))
        assert told.strip().startswith("All of this deck can be struck")
        assert "all the rest: struck too" in told
    bare = replace(shown["alarm"], plan=replace(shown["alarm"].plan, grounds=(), ways=()))
    assert "whole deck marked" in words(deck_words(bare)) and "whole deck marked" in decks_drawing(bare, 900, 400)
    heavy = heaviest(shown["alarm"])
    assert [each.share for each in heavy] == sorted((each.share for each in heavy), reverse=True)
    assert heavy[0].share >= shown["alarm"].estimate.lines[0].utilisation.high  # type: ignore[union-attr]


def test_where_a_heavy_line_may_go_up_is_marked_on_its_deck(shown: dict[str, Picture]) -> None:
    """At its fairlead on the drawing and in words; that any caught line may jump is said anyhow."""
    picture = shown["alarm"]
    heavy = heaviest(picture)[0]
    way = next(way for way in picture.plan.ways if way.line == heavy.line)
    fairlead = way.points[way.on_board - 1]
    deck = next(deck for deck in mooring_decks(picture.plan) if fairlead in {each.at for each in deck.fittings})
    area = Area(deck.name, 3, (deck.outline,))
    rise = Rise(fairlead, "the lead bends 9° down at its fairlead", 7.2)
    found = WorstOfLine(heavy.line, way.group, 20, 9e6, 40, (area,), (), (), (), (rise,))
    assert picture.outlook is not None
    told = replace(picture, outlook=replace(picture.outlook, worst=(found,)))
    assert f"{heavy.line} may whip upward here: the lead bends 9° down" in words(deck_words(told))
    assert decks_drawing(told, 1380, 700).count(UPWARD) == 1
    level = replace(picture, outlook=replace(picture.outlook, worst=(replace(found, rises=()),)))
    assert "may whip upward" not in words(deck_words(level)) and UPWARD not in decks_drawing(level, 1380, 700)
    assert "may jump upward" in words(deck_words(level))


def test_an_alarm_that_waits_covers_the_drill(shown: dict[str, Picture]) -> None:
    """Its order in the words of the sentence; answered, the drill is there again."""
    assert drill_view.called(shown["nothing"]) == ""
    told = words(drill_view.called(shown["alarm"]))
    assert "CLEAR BOTH MOORING DECKS NOW" in told and "This is no drill" in told
    answered = tuple(replace(alert, state=AlertState.ACKNOWLEDGED) for alert in shown["alarm"].alerts)
    assert drill_view.called(replace(shown["alarm"], alerts=answered)) == ""


def test_measured_forces_stand_beside_what_is_worked_out(shown: dict[str, Picture]) -> None:
    """One ton-force is 9.80665 kN (ISO 80000-4): on the tag, in the list with its age, on the hand-over page; a
    sensor that is silent is said to be."""
    picture, lines = shown["nothing"], [lead.line for lead in shown["nothing"].plan.leads]
    measured = (
        Measured(lines[0], "LC1", 12 * 9806.65, picture.now - timedelta(seconds=7)),
        Measured(lines[1], "LC2", None, picture.now - timedelta(minutes=5)),
        Measured(lines[2], "LC3", None, None),
    )
    shows = replace(picture, measured=measured)
    tags = texts(plan_drawing(shows, 1380, 420))
    assert "meas. 12 t" in tags and tags.count("sensor silent") == 2
    assert "measured 12 t" in texts(plan_drawing(shows, 1600, 420))
    assert plan_drawing(shows, 1380, 420).count("gauge-measured") == 1
    for told in (words(rows.line_rows(shows)), words(handover(shows))):
        assert "12.0 t, 7 s ago" in told
        assert "sensor LC2 silent for 5 min" in told and "sensor LC3 never heard" in told
    assert "which it lies outside of" in words(handover(shows))  # the line is light
    behind = replace(measured[0], beyond_n=Band(0.0, measured[0].tension_n or 0.0, 15 * 9806.65))
    by_friction = words(handover(replace(picture, measured=(behind,))))
    assert "at the winch the cell would mean 0.0–15.0 t there" in by_friction
    assert "which it lies outside of" not in by_friction
    assert "Forces measured" not in words(handover(picture)) and "meas." not in plan_drawing(picture, 1380, 420)


def test_the_gauge_is_shown_against_the_tables(shown: dict[str, Picture]) -> None:
    """A gauge 0.4 m above: the ribbon draws both, the words name source and difference; none in use: said so."""
    picture = shown["nothing"]
    now_m = next(water.height_m for water in picture.tide if water.at >= picture.now)
    assert now_m is not None
    higher = tuple(replace(w, height_m=None if w.height_m is None else w.height_m + 0.4) for w in picture.tide)
    gauge = GaugeNow("Lorrim gauge", now_m + 0.4, 0.4, picture.now)
    shows = replace(picture, tide=higher, by_tables=picture.tide, gauge=gauge)
    ribbon = ribbon_drawing(shows, 1380, 260)
    assert "tide-tables" in ribbon and any("Lorrim gauge, 0.40 m above tables" in text for text in texts(ribbon))
    for told in (words(instruments.levels(shows)), words(handover(shows))):
        assert "measured by Lorrim gauge" in told and "0.40 m above the tables" in told
    assert words(instruments.levels(shows)).count("+0.40 m") == 5
    assert "tide-tables" not in ribbon_drawing(picture, 1380, 260)
    assert "no gauge in use" in words(instruments.levels(picture))


def test_danger_comes_before_blindness(shown: dict[str, Picture]) -> None:
    """Of one priority and alike unanswered: what threatens people first, then what cannot be seen."""
    blind = (Matter.FEED, Matter.CLOCK, Matter.OWN)
    both = 0
    for picture in shown.values():
        alike = itertools.groupby(picture.alerts, key=lambda alert: (alert.state, alert.priority))
        for _, alerts in alike:
            is_blind = [alert.situation.matter in blind for alert in alerts if alert.situation is not None]
            assert is_blind == sorted(is_blind)
            both += len(set(is_blind)) == 2
    assert both


def test_starboard_side_to_is_the_mirror(shown: dict[str, Picture]) -> None:
    """The quay lies above when it is to port, below when it is to starboard: the bow points right both times."""
    plan = shown["begin"].plan
    other = replace(
        plan,
        quay_y_m=-plan.quay_y_m,
        leads=tuple(
            replace(
                lead, fairlead=(lead.fairlead[0], -lead.fairlead[1]), bollard=(lead.bollard[0], -lead.bollard[1])
            )
            for lead in plan.leads
        ),
        bollards=tuple(replace(spot, starboard_m=-spot.starboard_m) for spot in plan.bollards),
        fenders=tuple(replace(spot, starboard_m=-spot.starboard_m) for spot in plan.fenders),
    )
    (quay_1,), (quay_2,) = (
        re.findall(r'<line x1="[\d.-]+" y1="([\d.]+)"[^>]*class="quay"', bare_plan(each, 900, 300))
        for each in (plan, other)
    )
    assert float(quay_1) < 150 < float(quay_2)
    assert float(quay_1) + float(quay_2) == pytest.approx(300, abs=0.2)


def test_alarm_asks_for_the_tick_and_replay_takes_nothing(shown: dict[str, Picture]) -> None:
    """The keys of an alarm carry its priority to the dialog; in a replay every key that enters is off."""
    live, replayed = rows.alerts(shown["alarm"]), rows.alerts(replace(shown["alarm"], mode=Mode.REPLAY))
    assert 'data-priority="alarm"' in live and "disabled" not in live.split("</article>")[0]
    keys = re.findall(r"<button[^>]*>", replayed)
    assert keys and all("disabled" in key or 'data-do="more"' in key for key in keys)
    entered = rows.line_rows(replace(shown["alarm"], mode=Mode.REPLAY))
    keys = re.findall(r'<button[^>]*data-do="entry"[^>]*>', entered)
    assert len(keys) > 14 and all("disabled" in key for key in keys)


@given(
    st.lists(st.tuples(st.floats(0, 1.5), st.floats(0, 0.5), st.floats(0.3, 1.0)), min_size=1, max_size=6),
    st.tuples(st.floats(0.1, 0.5), st.floats(0, 0.3), st.floats(0, 0.4)),
)
def test_marks_count_as_the_watch_judges(
    lines: list[tuple[float, float, float]], steps: tuple[float, float, float]
) -> None:
    """The most marked line has as many marks as the priority the judge finds for them all."""
    caution, warning, alarm = itertools.accumulate(steps)
    loads = tuple(
        LineLoad(
            str(n), "head lines", Band(0, 0, 0), Band(0, mid, mid + more), 1.0, "working limit", alarm_cap=cap
        )
        for n, (mid, more, cap) in enumerate(lines)
    )
    judged = facts.heaviest(loads).call(Levels.model_construct(caution=caution, warning=warning, alarm=alarm))
    assert max(level(load, LevelsNow(caution, warning, alarm)) for load in loads) == judged.rank


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(0, 20), min_size=1, max_size=4), st.integers(1, 4))
def test_labels_are_spread_as_a_plain_search_would(wanted: list[int], gap: int) -> None:
    """Against every arrangement on a grid: no other one that keeps the gaps moves the labels by less (squared)."""
    wanted = sorted(wanted)
    placed = spread([float(place) for place in wanted], gap, 0.0, 20.0)
    assert all(later - earlier >= gap - 1e-6 for earlier, later in itertools.pairwise(placed))
    assert placed[0] >= -1e-9 and placed[-1] <= 20.0 + 1e-9
    if wanted[0] < 4 or wanted[-1] > 16:
        return  # at the ends labels are pushed in: only the gaps are promised
    grid = range(21)
    best = min(
        sum((place - want) ** 2 for place, want in zip(tried, wanted, strict=True))
        for tried in itertools.combinations(grid, len(wanted))
        if all(later - earlier >= gap for earlier, later in itertools.pairwise(tried))
    )
    assert sum((place - want) ** 2 for place, want in zip(placed, wanted, strict=True)) <= best + 1e-6


@pytest.mark.parametrize("palette", PALETTES)
def test_contrast_of_every_pair_in_use(palette: str) -> None:
    """WCAG 2.2, 1.4.3: at least 4.5 to 1 for text, 3 to 1 for what is drawn (1.4.11)."""
    c = colours(palette)
    text = [("ink", on) for on in ("paper", "panel", "water", "land")]
    text += [("dim", on) for on in ("paper", "panel")]
    text += [(f"{on}-ink", on) for on in ("hull", "key", "caution", "warning", "alarm", "unknown")]
    text += [("paper", "ink")]
    for front, back in text:
        assert contrast(c[front], c[back]) >= 4.5, (front, back)
    for front, back in (("rope", "water"), ("rope", "land"), ("ink", "paper"), ("dim", "water")):
        assert contrast(c[front], c[back]) >= 3.0, (front, back)


def test_night_has_no_large_light_area_and_only_alarms_are_red() -> None:
    """Surfaces of the night palette are nearly black (contrast to black under 1.35); red (hue within 20°, not
    grey) stands for alarms alone, in every palette."""
    night = colours("night")
    assert all(
        contrast(night[name], "#000000") < 1.35
        for name in ("paper", "panel", "water", "land", "caution", "unknown")
    )
    for palette in PALETTES:
        for name, colour in colours(palette).items():
            red, green, blue = (int(colour[n : n + 2], 16) for n in (1, 3, 5))
            looks_red = red > 60 and red > 2.5 * max(green, blue)
            assert looks_red == (name == "alarm"), (palette, name)


@pytest.mark.parametrize(
    ("form", "fields", "line"),
    [
        ("wind", {"speed": "25", "from": "240", "gust": "32"}, "wind 25 kn from 240 deg gust 32 kn"),
        ("wind", {"speed": "12 m/s", "from": "240", "gust": ""}, "wind 12 m/s from 240 deg"),
        ("draughts", {"forward": "9.1", "aft": "30 ft"}, "draught 9.1 m 30 ft"),
        ("craft", {"mmsi": "200933001", "area": "300"}, "alongside 200933001 300 m^2"),
        ("craft", {"mmsi": "200933001", "area": ""}, "alongside 200933001"),
        ("tow", {"mmsi": "200933001", "tows": "none"}, "tow 200933001 none"),
        ("note", {"text": "pilot booked"}, "note pilot booked"),
    ],
)
def test_forms_write_what_the_terminal_reads(form: str, fields: dict[str, str], line: str) -> None:
    """One door: a form stands for a typed line, and a bare number has the unit its field shows."""
    assert forms.ENTRIES[form](fields) == line
