"""A line being hauled: its way from the warping drum to the bollard, and the bights that it makes on deck.

The inside of a bight is the angle between two legs of the line at what it is taken round. When that gives way, or
the line jumps off it, the line flies straight across the angle, and past it.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final

from monitor.physics.snapback.led import turn_deg
from monitor.records.decks import Bight, Ground, Hauled, Place, Site, Way

LEAST_TURN_DEG: Final = 3.0  # a lead that turns less makes no bight worth drawing (ours)


def hauled(site: Site, line: str) -> Hauled:
    """The line on the nearest warping drum of its deck; on its own drum or bitts where there is none.

    Raises StopIteration for a line that is not led.
    """
    way = next(each for each in site.ways if each.line == line)
    deck = next(ground for ground in site.grounds if any(f.at == way.points[0] for f in ground.fittings))
    drum = _drum(way, deck)
    points = (drum.at, *way.points[1:])
    names = {place.at: place.name for place in deck.fittings}
    bights = []
    for (before, corner), (_, after) in pairwise(pairwise(points)):
        turns_deg = turn_deg(before, corner, after)
        if turns_deg >= LEAST_TURN_DEG:
            pull = 2.0 * math.sin(math.radians(0.5 * turns_deg))  # two equal pulls, added as arrows
            bights.append(Bight(names[corner], corner, turns_deg, pull, (before, corner, after)))
    return Hauled(deck.name, drum, points, tuple(bights))


def _drum(way: Way, deck: Ground) -> Place:
    """Nearest to what the lead meets first after its own drum."""
    drums = [place for place in deck.fittings if place.kind == "warping drum"]
    own = next(place for place in deck.fittings if place.at == way.points[0])
    return min(drums, key=lambda drum: (math.dist(drum.at, way.points[1]), drum.name)) if drums else own
