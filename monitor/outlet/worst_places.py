"""Where a parted line is worst, in words. All of the mooring decks and the quay edge come before any place."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import zip_longest
from math import inf
from typing import Final

from monitor.records.decks import QUAY, Near, Reached, Rise, WorstOfLine
from monitor.records.situations import Matter, Situation

IN_REACH: Final = "All of both mooring decks and the quay edge can be struck"
WHOLE_DECK: Final = (
    "All of this deck can be struck by a parting line, and so can the quay edge. "
    "No part of it is a place to stand while lines are loaded."
)
WHOLE_QUAY: Final = (
    "All of the quay edge can be struck by a parting line, and so can both mooring decks. "
    "No part of it is a place to stand while lines are loaded."
)
NOT_ENTERED: Final = "Deck plan not entered: whole deck marked, worst places unknown."
NOT_KNOWN: Final = "Worst places unknown"
WORKED_OUT: Final = "Worst places being worked out"
CAUGHT: Final = "Any line that is caught, on a fender or the quay edge, may jump upward when it comes free."
UPWARD: Final = "⇧"  # marks a line that may go up
KEY: Final = (  # to the grades of a drawing
    (3, "half of all chance × speed falls here"),
    (2, "nine tenths, with 3"),
    (1, "all the rest: struck too"),
)
OFTEN: Final = 0.10  # of breaks: a station reached less often is not named; it is in reach all the same. Ours
_LIKE: Final = 0.9  # lines within a tenth of the heaviest are meant too, as in `wording.lines_in_words`
_LINES, _PLACES, _STATIONS = 2, 3, 2  # named at most: a notice is read in seconds
_KINDS: Final = {"drum": "winch", "bitts": "bitts", "fairlead": "fairlead", "capstan": "capstan"}


def worst_in_words(situation: Situation, worst: Sequence[WorstOfLine]) -> str:
    """The whole first, then "Worst: forecastle port side by winch F5, quay behind bollard B11, spring winch
    control", of the heaviest of the lines concerned; "" where no line is."""
    if situation.matter is Matter.LINE and "parted" not in situation.facts:
        return of_lines([(line, inf) for line in situation.subject.split(", ")[:_LINES]], worst)
    if not (lines := situation.lines):
        return ""
    meant = [load for load in lines if load.utilisation.mid >= _LIKE * lines[0].utilisation.mid]
    return of_lines([(load.line, load.tension_n.high) for load in meant[:_LINES]], worst)


def of_lines(meant: Sequence[tuple[str, float]], worst: Sequence[WorstOfLine]) -> str:
    """As `worst_in_words`, of lines with their tensions."""
    known = [found for line, tension_n in meant if (found := nearest(line, tension_n, worst)) is not None]
    if not known:
        return f"{IN_REACH}. {WORKED_OUT}"
    by_turns = [each for places in zip_longest(*(found.near for found in known)) for each in places if each]
    first = {each.ground: each for each in reversed(by_turns)}  # one place on each ground
    kept = sorted(first.values(), key=lambda each: (each.ground == QUAY, by_turns.index(each)))  # decks first
    places = [near_in_words(each) for each in kept[:_PLACES]]
    places += stations_in_words(each for found in known for each in found.reached)
    if not places:
        return f"{IN_REACH}. {NOT_KNOWN}"
    return f"{IN_REACH}. Worst: {', '.join(places)}"


def nearest(line: str, tension_n: float, worst: Iterable[WorstOfLine]) -> WorstOfLine | None:
    """What was worked out for a line: at this tension or the next above it, else at the highest below."""
    mine = sorted((found for found in worst if found.line == line), key=lambda found: found.tension_n)
    above = (found for found in mine if found.tension_n >= tension_n)
    return next(above, mine[-1] if mine else None)


def near_in_words(near: Near) -> str:
    """ "forecastle port side abaft winch F5", "quay behind bollard B11"."""
    kind = _KINDS.get(near.kind, "")
    name = near.name if not kind or kind in near.name else f"{kind} {near.name}"
    return " ".join(part for part in (near.ground, near.side, near.way, name) if part)


def stations_in_words(reached: Iterable[Reached]) -> list[str]:
    """The stations most often reached, each once."""
    order = sorted((each for each in reached if each.share >= OFTEN), key=lambda each: -each.share)
    return list(dict.fromkeys(each.station for each in order))[:_STATIONS]


def reached_in_words(reached: Reached) -> str:
    """ "49 % of breaks (39–60 %)": a part of the line comes within a metre; likelier breaks count for more."""
    low, high = 100.0 * reached.low, 100.0 * reached.high
    share = "under 1" if reached.share < 0.01 else f"{100.0 * reached.share:.0f}"  # never 0: it is struck
    return f"{share} % of breaks ({low:.0f}–{high:.0f} %)"


def rise_in_words(rise: Rise) -> str:
    """ "may whip upward here: the lead bends 8° down at the bow chock; by its energy to 12 m above it"."""
    return f"may whip upward here: {rise.why}; by its energy to {rise.height_m:.0f} m above it"
