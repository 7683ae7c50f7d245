"""Do the deck plans hold together: names that stand for something, places on the deck, leads that can be led?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise
from math import hypot
from typing import Final

from shapely import LineString, Point, Polygon

from monitor.settings.decks import BENDS, Corner, Deck, Fitting, Station
from monitor.settings.faults import Fault, listed
from monitor.settings.page import Page
from monitor.settings.schema import Berth, Fairlead, Ship

HULL_MARGIN_M: Final = 0.5  # a fairlead, and so a deck, may reach this far outside the moulded hull
EDGE_M: Final = 1.0  # a fairlead stands at the edge of the deck, within this of the outline (ours)
LEAD_SHARE, LEAD_M = 0.15, 1.0  # by how much a lead on the plan may differ from lead_on_deck (ours)


def deck_names(ship: Page) -> Iterator[Fault]:
    """Names in the deck plans: none twice, and each in a lead stands for something."""
    lines, fairleads = ship.names("lines"), ship.names("fairleads")
    decks: dict[str, int] = {}
    led: dict[str, str] = {}
    for d, deck in ship.entries("decks"):
        if isinstance(name := deck.get("name"), str) and decks.setdefault(name, d) != d:
            yield ship.fault(("decks", d, "name"), f"the same as in decks[{decks[name] + 1}]")
        fittings = [name for _, row in _rows(deck, "fittings") if isinstance(name := row.get("name"), str)]
        for table in ("bulkheads", "fittings", "stations"):
            seen: dict[str, int] = {}
            for i, row in _rows(deck, table):
                if isinstance(name := row.get("name"), str) and seen.setdefault(name, i) != i:
                    yield ship.fault(("decks", d, table, i, "name"), f"the same as in {table}[{seen[name] + 1}]")
        for i, row in _rows(deck, "leads"):
            line, through = row.get("line"), row.get("through")
            if isinstance(line, str) and line not in lines:
                yield ship.fault(
                    ("decks", d, "leads", i, "line"), "no line of this name in the file", listed(lines), lines
                )
            elif isinstance(line, str):
                where = f"decks[{d + 1}].leads[{i + 1}]"
                if led.setdefault(line, where) != where:
                    yield ship.fault(("decks", d, "leads", i, "line"), f"led already, in {led[line]}")
            names = through if isinstance(through, list) else []
            for n, name in enumerate(names):
                known, what = (
                    (fairleads, "fairlead of the ship") if n == len(names) - 1 else (fittings, "fitting here")
                )
                if isinstance(name, str) and name not in known:
                    path = ("decks", d, "leads", i, "through", n)
                    yield ship.fault(path, f"no {what} of this name", listed(known), known)
    for i, row in ship.entries("lines") if ship.entries("decks") else ():
        if isinstance(name := row.get("name"), str) and name not in led:
            yield ship.fault(
                ("lines", i, "name"), "its lead is on no deck", "a lead in one of the decks, or no decks"
            )


def _rows(deck: dict[str, object], table: str) -> list[tuple[int, dict[str, object]]]:
    rows = deck.get(table)
    return [(i, row) for i, row in enumerate(rows) if isinstance(row, dict)] if isinstance(rows, list) else []


def deck_sense(page: Page, ship: Ship) -> Iterator[Fault]:
    """Outlines on the hull, fittings on the deck, leads of the right length and past what stands there."""
    for d, deck in enumerate(ship.decks):
        outside = _outside(deck.outline, 0.5 * ship.loa, 0.5 * ship.beam)
        if outside is not None:
            shown = f"within {0.5 * ship.loa:.1f} m of midships and {0.5 * ship.beam:.1f} m of the centre line"
            yield page.fault(("decks", d, "outline", outside), "outside the hull", shown)
        floor = Polygon(deck.outline)
        if not floor.is_valid or floor.area < 1.0:
            yield page.fault(
                ("decks", d, "outline"), "its sides cross or enclose nothing", "corners in their order"
            )
            continue
        yield from _on_deck(page, d, deck, floor)
        yield from _leads(page, d, deck, floor, ship)


def _outside(outline: tuple[Corner, ...], half_length_m: float, half_beam_m: float) -> int | None:
    """The first corner that lies outside the hull."""
    return next(
        (
            n
            for n, (forward, starboard) in enumerate(outline)
            if abs(forward) > half_length_m + HULL_MARGIN_M or abs(starboard) > half_beam_m + HULL_MARGIN_M
        ),
        None,
    )


def _on_deck(page: Page, d: int, deck: Deck, floor: Polygon) -> Iterator[Fault]:
    inside = f"a place inside the outline of {deck.name}"
    for n, house in enumerate(deck.bulkheads):
        block = Polygon(house.outline)
        path = ("decks", d, "bulkheads", n, "outline")
        if not block.is_valid or block.area <= 0.0:
            yield page.fault(path, "its sides cross or enclose nothing", "corners in their order")
        elif not floor.intersects(block):
            yield page.fault(path, "outside the deck", inside)
    solid = [(h.name, Polygon(h.outline)) for h in deck.bulkheads if Polygon(h.outline).is_valid]
    tables: dict[str, Sequence[Fitting | Station]] = {"fittings": deck.fittings, "stations": deck.stations}
    for table, places in tables.items():
        for n, place in enumerate(places):
            spot = Point(place.forward, place.starboard)
            if not floor.covers(spot):
                problem = f"{floor.distance(spot):.1f} m outside the deck"
                yield page.fault(("decks", d, table, n, "forward"), problem, inside)
            elif within := next((name for name, block in solid if block.contains(spot)), None):
                yield page.fault(("decks", d, table, n, "forward"), f"inside {within}", "a place on the open deck")
    for (_, one), (n, two) in combinations(enumerate(deck.fittings), 2):
        if hypot(one.forward - two.forward, one.starboard - two.starboard) < one.radius + two.radius:
            problem = f"stands in {one.name}"
            shown = f"at least {one.radius + two.radius:.1f} m from it"
            yield page.fault(("decks", d, "fittings", n, "forward"), problem, shown)


def _leads(page: Page, d: int, deck: Deck, floor: Polygon, ship: Ship) -> Iterator[Fault]:
    lines = {line.name: line for line in ship.lines}
    fairleads = {fairlead.name: fairlead for fairlead in ship.fairleads}
    fittings = {fitting.name: fitting for fitting in deck.fittings}
    for i, lead in enumerate(deck.leads):
        line, path = lines.get(lead.line), ("decks", d, "leads", i, "through")
        *over, last = lead.through
        if line is None or last not in fairleads or any(name not in fittings for name in over):
            continue  # told with the names
        ends = (0, over[0], line.winch), (len(over), last, line.fairlead)
        if elsewhere := [(n, own) for n, name, own in ends if name != own]:
            for n, own in elsewhere:
                yield page.fault((*path, n), f"not where {line.name} goes", f"{own}, as in its line")
            continue
        for n, name in enumerate(over[1:], 1):
            if fittings[name].kind not in BENDS:
                yield page.fault((*path, n), "no line is taken round a drum of another", listed(BENDS))
        away_m = floor.distance(Point(*_place(fairleads[last])))
        if away_m > EDGE_M:
            problem = f"a fairlead {away_m:.1f} m away from this deck"
            yield page.fault((*path, len(over)), problem, "one at the edge of its outline")
        points = [
            (f.forward, f.starboard, deck.above_keel + f.line_above_deck) for f in map(fittings.__getitem__, over)
        ]
        points.append((*_place(fairleads[last]), fairleads[last].above_keel))
        for house in deck.bulkheads:
            if Polygon(house.outline).is_valid and LineString(points).crosses(Polygon(house.outline)):
                yield page.fault(path, f"runs through {house.name}", "a lead past it")
        length_m = sum(_apart_m(one, two) for one, two in pairwise(points))
        margin_m = max(LEAD_M, LEAD_SHARE * line.lead_on_deck)
        if abs(length_m - line.lead_on_deck) > margin_m:
            shown = (
                f"{line.lead_on_deck - margin_m:.1f} m to {line.lead_on_deck + margin_m:.1f} m, about lead_on_deck"
            )
            yield page.fault(path, f"{length_m:.1f} m long on the plan", shown)


def _place(fairlead: Fairlead) -> tuple[float, float]:
    return fairlead.forward, fairlead.starboard


def _apart_m(one: tuple[float, float, float], two: tuple[float, float, float]) -> float:
    return hypot(one[0] - two[0], one[1] - two[1], one[2] - two[2])


def ashore_names(berth: Page) -> Iterator[Fault]:
    """No two places on the quay have one name."""
    ashore = berth.tree.get("ashore")
    seen: dict[str, int] = {}
    for i, row in _rows(ashore, "stations") if isinstance(ashore, dict) else ():
        if isinstance(name := row.get("name"), str) and seen.setdefault(name, i) != i:
            yield berth.fault(("ashore", "stations", i, "name"), f"the same as in stations[{seen[name] + 1}]")


def ashore_sense(page: Page, berth: Berth) -> Iterator[Fault]:
    """People ashore stand on the quay."""
    quay = berth.quay
    for i, station in enumerate(berth.ashore.stations if berth.ashore else ()):
        if station.behind_face < 0.0:
            yield page.fault(
                ("ashore", "stations", i, "behind_face"), "in the water", "0 m or more behind the face"
            )
        if not quay.begins_along <= station.along <= quay.ends_along:
            shown = f"{quay.begins_along:.1f} m to {quay.ends_along:.1f} m, the quay"
            yield page.fault(("ashore", "stations", i, "along"), "beyond the end of the quay", shown)
