"""Worst places worked out ahead of need, a line at a time, so that a notice never waits for them.

What is known travels in the outlook itself and is taken over from the one before: whatever the speed of the
machine, a notice finds the same places live and in replay.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from monitor.records.decks import WorstOfLine
from monitor.records.estimates import LineLoad, Outlook
from monitor.settings.schema import Settings
from monitor.watch.danger import coarse_class, worst_of_line
from monitor.watch.ground import led_of, site_of

A_TURN: Final = 1  # lines worked out for one outlook: about a second of work each half minute at most
COUNT: Final = 60  # breaks of each


def worst_ahead(settings: Settings, lines: Iterable[str], told: Outlook, before: Outlook | None) -> Outlook:
    """The outlook with the worst places of `lines`: all that was known before, and the most wanted that was not.

    Wanted is each line at the heaviest load expected of it, the most heavily used line first. Nothing without deck
    plans.
    """
    site = site_of(settings)
    if site is None:
        return told
    known = (before.worst or ()) if before else ()
    have = {(found.line, found.tension_class) for found in known}
    ways = {way.line: way for way in site.ways}
    new: list[WorstOfLine] = []
    for line, tension_n in _wanted(settings, lines, told):
        led = led_of(settings, line)
        grade = coarse_class(tension_n, led.strength_n)
        if (line, grade) not in have and len(new) < A_TURN:
            new.append(worst_of_line(site, led, line, ways[line].group, grade, COUNT))
    return replace(told, worst=(*known, *new))


def _wanted(settings: Settings, lines: Iterable[str], told: Outlook) -> list[tuple[str, float]]:
    """Each line with its greatest expected tension, the most used first; as tended when nothing is expected."""
    most = {led.line: (0.0, led.pretension) for led in settings.stay.lines}
    for load in _loads(told):
        use, tension_n = most.get(load.line, (0.0, 0.0))
        most[load.line] = max(use, load.utilisation.high), max(tension_n, load.tension_n.high)
    held = [line for line in lines if line in most]
    return [(line, most[line][1]) for line in sorted(held, key=lambda line: (-most[line][0], line))]


def _loads(told: Outlook) -> Iterable[LineLoad]:
    for passing in told.passings:
        yield from passing.lines
    for hour in told.hours:
        yield from hour.lines
    for later in told.untended:
        yield from later.lines
