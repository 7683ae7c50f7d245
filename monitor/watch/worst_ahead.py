"""Worst places worked out ahead of need, a line at a time, so that a notice never waits for them.

What is known travels in the outlook itself and is taken over from the one before: whatever the speed of the
machine, a notice finds the same places live and in replay.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import replace
from typing import Final

from monitor.physics.snapback import Led, class_tension_n
from monitor.records.decks import Site, WorstOfLine
from monitor.records.estimates import LineLoad, Outlook
from monitor.settings.schema import Settings
from monitor.watch.danger import CLASSES, coarse_class, worst_of_line
from monitor.watch.ground import led_of, site_of

A_TURN: Final = 1  # lines worked out for one outlook: about half a second of work each half minute at most
COUNT: Final = 40  # breaks of each: enough for words and areas; sheets take more


def worst_ahead(settings: Settings, lines: Iterable[str], told: Outlook, before: Outlook | None) -> Outlook:
    """The outlook with the worst places of `lines`: all that was known before, and the most wanted that was not.

    Wanted is each line at the heaviest load expected of it, unless it is known for that or a greater one; first
    those of which nothing is known, the most heavily used first. A line that cannot be worked out is told as such.
    Nothing without deck plans.
    """
    site = site_of(settings)
    if site is None:
        return told
    known = (before.worst or ()) if before else ()
    upto: dict[str, int] = {}
    for found in known:
        upto[found.line] = max(upto.get(found.line, 0), found.tension_class)
    groups = {way.line: way.group for way in site.ways}
    wanted = []
    for line, tension_n in _wanted(settings, lines, told):
        led = _led(settings, line)
        grade = CLASSES[-1] if led is None else coarse_class(tension_n, led.strength_n)
        if grade > upto.get(line, 0):
            wanted.append((line in upto, line, led, grade, tension_n))
    wanted.sort(key=lambda each: each[0])
    new = (_worst(site, led, line, groups[line], grade, load_n) for _, line, led, grade, load_n in wanted[:A_TURN])
    return replace(told, worst=(*known, *new))


# No load is to go unwatched for want of a drawing: whatever is wrong with one, the outlook goes on.


def _led(settings: Settings, line: str) -> Led | None:
    try:
        return led_of(settings, line)
    except Exception:
        return None


def _worst(site: Site, led: Led | None, line: str, group: str, grade: int, tension_n: float) -> WorstOfLine:
    if led is not None:
        with suppress(Exception):
            return worst_of_line(site, led, line, group, grade, COUNT)
        tension_n = class_tension_n(grade, led.strength_n)
    return WorstOfLine(line, group, grade, tension_n, 0, (), (), (), ())


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
