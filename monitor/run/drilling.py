"""The drill from the settings of a stay to its task, and from an answer to its marks, for terminal and console."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from monitor.outlet.console.desk import Drilled
from monitor.outlet.drill_sheet import DrillSheet, Flight, Marks
from monitor.outlet.worst_places import NOT_ENTERED
from monitor.records.decks import Site
from monitor.settings.schema import Settings
from monitor.watch.danger import coarse_class
from monitor.watch.drill import LETTERS, Answer, Drill, drill_of, score
from monitor.watch.ground import led_of, site_of

MOST_SEED: Final = 999_999


@dataclass(frozen=True)
class Task:
    """A drill, and its sheet for people."""

    site: Site
    drill: Drill
    sheet: DrillSheet


def task_of(settings: Settings, share: float, seed: int, among: str = "") -> Task:
    """The drill of a seed at a share of the breaking force, on any line, or on those `among`: of a deck or a name.

    Raises ValueError without deck plans, or when no line is so called or led over such a deck.
    """
    site = site_of(settings)
    if site is None:
        raise ValueError(NOT_ENTERED)
    ways = [way for way in site.ways if among in ("", way.line)]
    if not ways:
        over = {at for ground in site.grounds if ground.name == among for at in (f.at for f in ground.fittings)}
        ways = [way for way in site.ways if way.points[0] in over]
    if not ways:
        raise ValueError(f"no line is called '{among}', or led over a deck of that name")
    drill = drill_of(site, [(way, led_of(settings, way.line)) for way in ways], coarse_class(share, 1.0), seed)
    squares = drill.squares
    sheet = DrillSheet(
        site,
        drill.way,
        drill.at,
        drill.why,
        drill.tension_n,
        drill.figure,
        squares.aft_m,
        squares.port_m,
        squares.side_m,
        LETTERS[: squares.columns],
        squares.rows,
        drill.seed,
        f"{settings.ship.name} at {settings.berth.name}",
        settings.stay.invented or settings.ship.invented or settings.berth.invented,
    )
    return Task(site, drill, sheet)


def marks_of(task: Task, inboard: str, outboard: str, struck: bool, stand: str) -> Marks:
    """What an answer earns. Raises ValueError for squares that are none."""
    result = score(task.drill, task.site, Answer(inboard, outboard, struck, stand))
    return Marks(
        result.points,
        (inboard, result.inboard, result.inboard_squares),
        (outboard, result.outboard, result.outboard_squares),
        struck,
        result.struck_here,
        result.struck,
        result.breaks,
        stand,
        result.stand_struck,
        task.drill.rises,
    )


def flown(task: Task) -> tuple[Flight, ...]:
    """Both parts as they fly."""
    return tuple(Flight(part.times_s, part.lines_m) for part in task.drill.parts)


def drilled(settings: Settings, fields: Mapping[str, str]) -> Drilled:
    """The console's drill: `among`, `share` (per cent) and `seed` make the task; answered, its marks.

    Raises ValueError with the reason.
    """
    share, seed = (int(fields[name]) if fields.get(name, "").isdigit() else 0 for name in ("share", "seed"))
    if not (1 <= share <= 100 and 1 <= seed <= MOST_SEED):
        raise ValueError(f"a share of 1 to 100 % and a number of 1 to {MOST_SEED}")
    task = task_of(settings, share / 100.0, seed, fields.get("among", ""))
    said = [fields.get(name, "") for name in ("inboard", "outboard", "figure", "stand")]
    if not any(said):
        return Drilled(task.sheet)
    if not all(said):
        raise ValueError("Answer all four: both ends, the figure, and where you would stand")
    inboard, outboard, figure, stand = said
    return Drilled(task.sheet, marks_of(task, inboard, outboard, figure == "struck", stand), flown(task))
