"""The verbs of the command line for the mooring decks: their sheets, the drill, the line being hauled."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable
from pathlib import Path
from typing import Final

from rich.console import Console

from monitor.base.units import typed_quantity
from monitor.outlet import drill_sheet, hauling_page
from monitor.outlet.deck_drawing import DeckSheet, Tension, draw_deck
from monitor.outlet.wording import SMALL_PRINT
from monitor.outlet.worst_places import CAUGHT, NOT_ENTERED, of_lines, reached_in_words, rise_in_words
from monitor.physics.fittings import FRICTION, capstan_ratio
from monitor.physics.snapback import Led
from monitor.records.decks import Site
from monitor.run import whatif
from monitor.run.drilling import flown, marks_of, task_of
from monitor.run.preparing import Verb, utc
from monitor.run.recording import program_version
from monitor.settings.faults import listed, nearest
from monitor.settings.load import load_stay
from monitor.settings.schema import Settings
from monitor.watch.danger import bounds_of, coarse_class, graded, line_field, worst_of_line
from monitor.watch.ground import led_of, site_of
from monitor.watch.hauled import hauled

MOST_TURNS: Final = 6
PULLS_N: Final = 1e3, 3e3, 10e3, 50e3
HANDS_N: Final = 150.0  # what one person's hands hold for a while (common practice, no source)


def add(verb: Callable[[str, Verb, str], argparse.ArgumentParser]) -> None:
    """Give these verbs to the command line; `verb` makes the parser of one."""
    p = verb("decks", _decks, "draw each mooring deck and the quay edge: where a parted line is worst")
    p.add_argument("stay")
    p.add_argument("--to", type=Path, required=True, help="folder for the sheets (PNG and SVG)")
    p.add_argument("--share", default="50 %", help="of each line's breaking force, when no wind is given")
    p.add_argument("--wind", help='tensions worked out for a 30 s wind at 10 m instead, as "35 kn"')
    p.add_argument("--from", dest="direction", default="off-berth", help='"240 deg", off-berth or on-berth (beam)')
    p.add_argument("--at", type=utc, help="time for tide and stream; when tended without it")

    p = verb("drill", _drill, "a line parts: say where both ends go, then see")
    p.add_argument("stay")
    p.add_argument("--to", type=Path, required=True, help="folder for question, picture and recoil")
    p.add_argument("--seed", type=int, default=1, help="number of the drill: the same one is the same task")
    p.add_argument("--share", default="50 %", help="of the breaking force at which the line parts")
    p.add_argument("--inboard", help='square over which the end fast on board goes, as "C4", or out')
    p.add_argument("--outboard", help="likewise of the end fast ashore")
    p.add_argument("--figure", choices=("struck", "not-struck"), help="is the figure struck?")
    p.add_argument("--stand", help="the square where you would stand, or off: off the deck and the quay edge")

    p = verb(
        "hauling", _hauling, "the page on a line being hauled: turns on the warping drum, and where not to be"
    )
    p.add_argument("stay")
    p.add_argument("line", help="name of the line")
    p.add_argument("--to", type=Path, help="folder for the page (PNG and SVG); text alone without it")


def _decked(args: argparse.Namespace) -> tuple[Settings, Site]:
    settings = load_stay(args.config, args.stay)
    site = site_of(settings)
    if site is None:
        raise ValueError(NOT_ENTERED)
    return settings, site


def _file_name(words: str) -> str:
    """People's words as a name that any system takes as one file's."""
    return re.sub(r"[^\w-]+", "-", words).strip("-") or "unnamed"


def _share(text: str) -> float:
    share = typed_quantity(text, "dimensionless")
    if not 0.0 < share <= 1.0:
        raise ValueError(f"'{text}': a share of the breaking force lies above 0 % and up to 100 %")
    return share


# --- sheets -------------------------------------------------------------------------------------------------


def _decks(args: argparse.Namespace, console: Console) -> int:
    settings, site = _decked(args)
    leds = {way.line: led_of(settings, way.line) for way in site.ways}
    tensions, basis = _tensions(args, settings, leds)
    classes = {line: coarse_class(tension_n, leds[line].strength_n) for line, tension_n in tensions.items()}
    worst = [worst_of_line(site, leds[way.line], way.line, way.group, classes[way.line]) for way in site.ways]
    bounds = bounds_of(site)
    areas = graded(site, [line_field(led, classes[line], bounds) for line, led in leds.items()])
    stay, ship = settings.stay, settings.ship
    at = (args.at or stay.tended_at) + stay.local_time_ahead_of_utc
    taken = tuple(Tension(*pair) for pair in sorted(tensions.items(), key=lambda pair: -pair[1]))
    reached = tuple((each.line, who) for each in worst for who in each.reached)
    rises = tuple((each.line, rise) for each in worst for rise in each.rises)
    args.to.mkdir(parents=True, exist_ok=True)
    for ground in site.grounds:
        name = args.to / _file_name(ground.name)
        sheet = DeckSheet(
            site, ground.name, areas, reached, taken, basis, ship.name, settings.berth.name, at,
            stay.invented or ship.invented or settings.berth.invented, program_version(), rises,
        )  # fmt: skip
        draw_deck(sheet, [name.with_suffix(".png"), name.with_suffix(".svg")])
        console.print(f"Drawn: {name}.png, {name}.svg", markup=False, soft_wrap=True)
    for found in worst:
        words = of_lines([(found.line, found.tension_n)], [found]).partition(". ")[2]
        console.print(f"{found.line}, up to {found.tension_n / 1e3:.0f} kN. {words}", markup=False, soft_wrap=True)
        for who in found.reached[:3]:
            console.print(f"    {who.station}: {reached_in_words(who)}", markup=False, soft_wrap=True)
        for rise in found.rises:
            console.print(f"    {rise_in_words(rise)}", markup=False, soft_wrap=True)
    console.print(CAUGHT, markup=False, soft_wrap=True)
    console.print(SMALL_PRINT, markup=False)
    return 0


def _tensions(args: argparse.Namespace, settings: Settings, leds: dict[str, Led]) -> tuple[dict[str, float], str]:
    """Newtons by line, and in words where they come from."""
    if args.wind is None:
        share = _share(args.share)
        tensions_n = {line: share * led.strength_n for line, led in leds.items()}
        return tensions_n, f"given as {args.share} of breaking force"
    wind_m_s, direction_deg = typed_quantity(args.wind, "m/s"), whatif.wind_from_deg(settings, args.direction)
    answer = whatif.what_if(settings, args.at or settings.stay.tended_at, wind_m_s, direction_deg, None)
    basis = f"worked out for a wind of {args.wind} from {direction_deg:03.0f}°"
    return {load.line: load.tension_n.high for load in answer.lines}, basis


# --- drill --------------------------------------------------------------------------------------------------


def _drill(args: argparse.Namespace, console: Console) -> int:
    task = task_of(load_stay(args.config, args.stay), _share(args.share), args.seed)
    sheet, name = task.sheet, f"drill-{args.seed}"
    args.to.mkdir(parents=True, exist_ok=True)
    said = (args.inboard, args.outboard, args.figure, args.stand)
    if not any(said):
        drill_sheet.draw_task(sheet, args.to / f"{name}.png")
        (args.to / f"{name}.txt").write_text(drill_sheet.questions(sheet), encoding="utf-8")
        console.print(drill_sheet.questions(sheet), markup=False, soft_wrap=True)
        console.print(f"Picture: {args.to / f'{name}.png'}", markup=False, soft_wrap=True)
        return 0
    if not all(said):
        raise ValueError("an answer needs --inboard, --outboard, --figure and --stand")
    marks = marks_of(task, args.inboard, args.outboard, args.figure == "struck", args.stand)
    film, told = args.to / f"{name}-recoil.gif", drill_sheet.score_in_words(sheet, marks)
    drill_sheet.draw_recoil(sheet, flown(task), marks.struck_here, film)
    (args.to / f"{name}-score.txt").write_text(told, encoding="utf-8")
    console.print(told, markup=False, soft_wrap=True)
    console.print(f"Recoil: {film}", markup=False, soft_wrap=True)
    return 0


# --- hauling ------------------------------------------------------------------------------------------------


def _hauling(args: argparse.Namespace, console: Console) -> int:
    settings = load_stay(args.config, args.stay)
    ship = settings.ship
    line = next((each for each in ship.lines if each.name == args.line), None)
    if line is None:
        names = [each.name for each in ship.lines]
        like = nearest(args.line, names)
        raise ValueError(f"no line '{args.line}' aboard{like and f', nearest: {like}'}; allowed: {listed(names)}")
    low, high = FRICTION[line.material]
    turns = tuple(
        hauling_page.Turns(n, float(capstan_ratio(low, 360.0 * n)), float(capstan_ratio(high, 360.0 * n)))
        for n in range(1, MOST_TURNS + 1)
    )
    site = site_of(settings)
    led = site is not None and any(way.line == line.name for way in site.ways)
    page = hauling_page.HaulingPage(
        line.name, line.material, (low, high), turns, PULLS_N, HANDS_N, ship.name, ship.invented,
        site if led else None, hauled(site, line.name) if site is not None and led else None,
    )  # fmt: skip
    console.print(hauling_page.page_in_words(page), markup=False, soft_wrap=True)
    if args.to:
        args.to.mkdir(parents=True, exist_ok=True)
        name = args.to / f"hauling-{_file_name(line.name)}"
        hauling_page.draw_page(page, [name.with_suffix(".png"), name.with_suffix(".svg")])
        console.print(f"Drawn: {name}.png, {name}.svg", markup=False, soft_wrap=True)
    return 0
