"""What the settings may say of places where people and lines meet: mooring decks, the quay behind its face.

A ship without deck plans may leave them out as a whole: it is then said that the worst places are unknown. Within
a deck that is entered nothing is left to a guess. Corners and places are in ship axes, forward and to starboard;
ashore along the quay and behind its face.
"""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import Field

from monitor.settings.kinds import Height, Name, Place, Strict
from monitor.settings.quantity import quantity

FittingKind = Literal["drum", "warping drum", "capstan", "bitts", "pedestal roller"]
BENDS: Final = ("capstan", "bitts", "pedestal roller", "warping drum")  # what a lead may be taken round

Corner = tuple[Place, Place]
Radius = Annotated[float, quantity("m", 0.02, 2.0, "0.02 m to 2 m")]
AboveDeck = Annotated[float, quantity("m", 0.0, 6.0, "0 m to 6 m")]


class Bulkhead(Strict):
    """A house, a bulkhead or anything else that a line cannot pass through, in plan."""

    name: Name
    outline: tuple[Corner, ...] = Field(min_length=3)


class Fitting(Strict):
    """What a line is held by or taken round; the drums and bitts of lines carry the names they have as winches."""

    name: Name
    kind: FittingKind
    forward: Place
    starboard: Place
    radius: Radius
    line_above_deck: AboveDeck  # height at which the line runs there


class Station(Strict):
    """A named place where people stand or pass: a winch control, the gangway, the pilot ladder."""

    name: Name
    forward: Place
    starboard: Place


class DeckLead(Strict):
    """The way of a line over the deck: its drum or bitts, what it is taken round, its fairlead, in this order."""

    line: Name
    through: tuple[Name, ...] = Field(min_length=2)


class Deck(Strict):
    """One mooring deck, seen from above; every part of it is marked as dangerous, whatever stands on it."""

    name: Name
    above_keel: Height
    outline: tuple[Corner, ...] = Field(min_length=3)
    bulkheads: tuple[Bulkhead, ...] = ()
    fittings: tuple[Fitting, ...] = ()
    stations: tuple[Station, ...] = ()
    leads: tuple[DeckLead, ...] = ()


class ShoreStation(Strict):
    """A named place on the quay: where a mooring gang stands, the foot of the gangway."""

    name: Name
    along: Place
    behind_face: Place


class Ashore(Strict):
    """Where people are on the quay, and how far behind its face the quay edge goes that must be clear."""

    edge: Annotated[float, quantity("m", 1.0, 100.0, "1 m to 100 m")]
    stations: tuple[ShoreStation, ...] = ()
