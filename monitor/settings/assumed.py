"""What the watch takes for granted because the settings leave it open: said aloud, never filled in silently."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from monitor.settings.faults import listed
from monitor.settings.schema import Limits, Settings


def assumptions(settings: Settings) -> tuple[str, ...]:
    """One sentence for each optional key left out and each "unknown" or "not entered" that bears on this stay.

    Only lines led ashore count, with their fairleads, winches and bollards. The feeds' optional keys (baud,
    contact, every) are not among them: where one is needed its absence is a fault, elsewhere nothing hangs on it.
    Nor are those of the alerts, where what is left out is switched off, nor a line's parts, one if left out.
    """
    return tuple(_all(settings))


def _all(settings: Settings) -> Iterator[str]:
    ship, stay = settings.ship, settings.stay
    led = {line.line for line in stay.lines}
    lines = [line for line in ship.lines if line.name in led]
    if ship.block_coefficient is None:
        yield "block coefficient unknown: the usual one of her type is taken"
    windage = ("lateral_area", "frontal_area", "centroid_forward", "centroid_above_waterline")
    if absent := [key.replace("_", " ") for key in windage if getattr(ship.windage, key) is None]:
        yield f"windage: {listed(absent)} unknown: usual for her type and size, with a wider band (from memory)"
    for material in dict.fromkeys(line.material for line in lines if line.strains is None):
        of = _lines(line.name for line in lines if line.strains is None and line.material == material)
        yield f"{of}: no certificate strains; usual curve of {material} (from memory)"
    tailed = [(line.name, line.tail.material) for line in lines if line.tail is not None]
    for material in dict.fromkeys(material for _, material in tailed):
        of = _lines(name for name, each in tailed if each == material)
        yield f"tail of {of}: usual curve of {material} (from memory)"
    if bare := [line.name for line in lines if line.tail is None]:
        yield f"{_lines(bare)}: no tail entered; taken to have none"
    if unknown := [line.name for line in lines if line.turn_at_fairlead is None]:
        yield f"{_lines(unknown)}: turn at the fairlead unknown; friction there is left out"

    used = {line.fairlead for line in lines}, {line.winch for line in lines}, {line.bollard for line in stay.lines}
    swl = [
        *((f"fairlead {fairlead.name}", fairlead.swl) for fairlead in ship.fairleads if fairlead.name in used[0]),
        *((f"{winch.kind} {winch.name}", winch.swl) for winch in ship.winches if winch.name in used[1]),
        *(
            (f"bollard {bollard.name}", bollard.swl)
            for bollard in settings.berth.bollards
            if bollard.name in used[2]
        ),
    ]
    if unknown := [name for name, swl_n in swl if swl_n is None]:
        yield f"SWL unknown: {listed(unknown)}"
    fenders = settings.berth.fenders
    if unrated := [f.name for f in fenders if f.rated_reaction is None or f.rated_deflection is None]:
        yield f"rating of fender {listed(unrated)} unknown: usual for its thickness (from memory)"
    drums = [winch for winch in ship.winches if winch.kind == "drum" and winch.name in used[1]]
    if unknown := [f"drum {winch.name}" for winch in drums if winch.render is None]:
        yield f"brake setting unknown: {listed(unknown)}"
    if untested := [f"drum {drum.name}" for drum in drums if drum.render and drum.brake_condition == "not tested"]:
        yield f"brake not tested: {listed(untested)}; it renders within a wider band (ours)"
    if unknown := [f"drum {drum.name}" for drum in drums if drum.render and drum.layers_below is None]:
        yield f"layers of line unknown: {listed(unknown)}; one to three are reckoned with"
    limits = settings.berth.limits
    if absent := [key.replace("_", " ") for key in Limits.model_fields if getattr(limits, key) is None]:
        yield f"berth limits not entered: {listed(absent)}"
    if settings.berth.fairway.section is None:
        yield "section of the channel not entered: far bank, drawdown and return flow unknown"
    if not any("ais" in feed.carries for feed in stay.feeds):
        yield 'no feed is said to carry "ais": that ships are no longer heard would be told to nobody'
    if not ship.decks:
        yield "deck plans not entered: whole decks marked, worst places of a parted line unknown"
    if settings.berth.ashore is None:
        yield "places of people on the quay not entered: the whole quay edge is marked"


def _lines(names: Iterable[str]) -> str:
    each = tuple(names)
    return f"line{'s' if len(each) > 1 else ''} {listed(each)}"
