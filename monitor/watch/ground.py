"""Decks, quay and led lines of a stay in ship axes, from the settings."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Final

import shapely
from shapely import Polygon

from monitor.base.berthed import Berthed
from monitor.physics.snapback import Led, Rope, usual_rope
from monitor.records.decks import QUAY, Ground, Place, Site, Way
from monitor.settings.fit import lies
from monitor.settings.schema import Deck, Settings, Ship
from monitor.watch.water import water_at

BEYOND_M: Final = 12.0  # of quay marked past the last bollard in use, and behind it (ours)
BOLLARD_M, LIP_M = 0.25, 0.15  # radii of what the settings do not measure: bollards and fairlead lips (ours)
WALL_M: Final = 0.5  # radius of the posts that stand for a wall, side by side: its face waves by 0.13 m


@lru_cache(maxsize=4)
def site_of(settings: Settings) -> Site | None:
    """All grounds and ways of a stay; None when the ship's deck plans are not entered."""
    ship, berth, stay = settings.ship, settings.berth, settings.stay
    if not ship.decks:
        return None
    berthed = lies(stay, ship, berth)
    bollards = {bollard.name: bollard for bollard in berth.bollards}
    on_deck = {lead.line: (deck, lead) for deck in ship.decks for lead in deck.leads}
    lines = {line.name: line for line in ship.lines}
    ways = []
    for led in stay.lines:
        deck, lead = on_deck[led.line]
        bollard = bollards[led.bollard]
        places = {place.name: place for place in _fittings(deck, ship)}
        points = [places[name].at for name in lead.through]
        points.append(berthed.to_ship(bollard.along, -bollard.behind_face))
        ways.append(Way(led.line, lines[led.line].group, tuple(points), len(lead.through)))
    decks = (
        Ground(
            deck.name,
            deck.outline,
            tuple((house.name, house.outline) for house in deck.bulkheads),
            _fittings(deck, ship),
            tuple(Place(s.name, "station", s.forward, s.starboard) for s in deck.stations),
        )
        for deck in ship.decks
    )
    return Site((*decks, _quay(settings, berthed)), tuple(ways))


def _fittings(deck: Deck, ship: Ship) -> tuple[Place, ...]:
    """Of a deck, with the fairleads that its leads go through."""
    used = {lead.through[-1] for lead in deck.leads}
    return (
        *(Place(f.name, f.kind, f.forward, f.starboard, f.radius) for f in deck.fittings),
        *(Place(f.name, "fairlead", f.forward, f.starboard, LIP_M) for f in ship.fairleads if f.name in used),
    )


def _quay(settings: Settings, berthed: Berthed) -> Ground:
    """The stretch of quay along the ship and her lines: from its face to behind the last bollard in use."""
    berth, ship, stay = settings.berth, settings.ship, settings.stay
    used = {led.bollard for led in stay.lines}
    mine = [bollard for bollard in berth.bollards if bollard.name in used]
    along_m = [*(b.along for b in mine), *(stay.midships_along + end * ship.loa for end in (-0.5, 0.5))]
    begins = max(berth.quay.begins_along, min(along_m) - BEYOND_M)
    ends = min(berth.quay.ends_along, max(along_m) + BEYOND_M)
    edge_m = berth.ashore.edge if berth.ashore else 0.0
    behind_m = max(edge_m, max(b.behind_face for b in mine) + BEYOND_M)
    corners = ((begins, 0.0), (ends, 0.0), (ends, -behind_m), (begins, -behind_m))
    stations = berth.ashore.stations if berth.ashore else ()
    return Ground(
        QUAY,
        tuple(berthed.to_ship(*corner) for corner in corners),
        (),
        tuple(
            Place(f"bollard {b.name}", "bollard", *berthed.to_ship(b.along, -b.behind_face), BOLLARD_M)
            for b in mine
        ),
        tuple(Place(s.name, "station", *berthed.to_ship(s.along, -s.behind_face)) for s in stations),
    )


@lru_cache(maxsize=64)
def led_of(settings: Settings, line: str) -> Led:
    """The line as physics sees it. Raises StopIteration where no deck has its lead, or the stay none."""
    ship, berth, stay = settings.ship, settings.berth, settings.stay
    carried = next(each for each in ship.lines if each.name == line)
    deck, lead = next((d, each) for d in ship.decks for each in d.leads if each.line == line)
    fittings = {fitting.name: fitting for fitting in deck.fittings}
    fairlead = next(each for each in ship.fairleads if each.name == carried.fairlead)
    ashore = next(led.bollard for led in stay.lines if led.line == line)
    bollard = next(each for each in berth.bollards if each.name == ashore)
    tide = water_at(stay.tide, berth.stream, stay.tended_at).height_m or 0.0
    keel_m = tide - 0.5 * (stay.draught_forward + stay.draught_aft)  # above chart datum, as the lines were tended
    over = [fittings[name] for name in lead.through[:-1]]
    points = [*((f.forward, f.starboard) for f in over), (fairlead.forward, fairlead.starboard)]
    points.append(lies(stay, ship, berth).to_ship(bollard.along, -bollard.behind_face))
    heights_m = [*(keel_m + deck.above_keel + f.line_above_deck for f in over), keel_m + fairlead.above_keel]
    tail: Rope | None = None
    if carried.tail is not None:
        tail = usual_rope(carried.tail.material, carried.tail.breaking_force)
    return Led(
        tuple(points),
        (*heights_m, bollard.above_datum),
        (*(f.radius for f in over), LIP_M, BOLLARD_M),
        len(over),
        usual_rope(carried.material, carried.ldbf, carried.diameter, carried.strains),
        tail,
        0.0 if carried.tail is None else carried.tail.length,
        (*lead.through, f"bollard {bollard.name}"),
        (*_other_fittings(deck, lead.through), *_walls(deck)),
    )


def _other_fittings(deck: Deck, through: tuple[str, ...]) -> Iterator[tuple[float, float, float]]:
    for fitting in deck.fittings:
        if fitting.name not in through:
            yield fitting.forward, fitting.starboard, fitting.radius


@lru_cache(maxsize=16)
def _walls(deck: Deck) -> tuple[tuple[float, float, float], ...]:
    """Houses and bulkheads as posts along the inside of their walls; as thin as they must be for a thin one."""
    posts: list[tuple[float, float, float]] = []
    for house in deck.bulkheads:
        solid = Polygon(house.outline)
        radius_m = min(WALL_M, 0.9 * shapely.maximum_inscribed_circle(solid).length)
        for part in shapely.get_parts(solid.buffer(-radius_m, join_style="mitre")):
            walls = shapely.segmentize(part.exterior, 1.4 * radius_m)
            posts += [(x, y, radius_m) for x, y in walls.coords[:-1]]
    return tuple((round(x, 3), round(y, 3), round(radius_m, 3)) for x, y, radius_m in posts)
