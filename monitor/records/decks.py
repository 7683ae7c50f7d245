"""Mooring decks and quay as drawn, and where a parted line is worst on them: facts, no words.

Places are in ship axes: forward of midships, to starboard of the centre line, metres. A ring is the corners of a
closed outline. Every ground is dangerous all over: what is graded here is only where it is worst.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

QUAY: Final = "quay"
Spot = tuple[float, float]
Ring = tuple[Spot, ...]


@dataclass(frozen=True, slots=True)
class Place:
    """A named place: a fitting (its kind and radius), or where people stand ("station")."""

    name: str
    kind: str
    forward_m: float
    starboard_m: float
    radius_m: float = 0.0

    @property
    def at(self) -> Spot:
        """Where it is."""
        return self.forward_m, self.starboard_m


@dataclass(frozen=True, slots=True)
class Way:
    """A line from drum or bitts over the deck to the bollard. `on_board` counts the points up to the fairlead."""

    line: str
    group: str
    points: Ring
    on_board: int


@dataclass(frozen=True, slots=True)
class Ground:
    """A mooring deck, or the stretch of quay that belongs to the ship: all of it can be struck."""

    name: str  # of the deck, or QUAY
    outline: Ring
    houses: tuple[tuple[str, Ring], ...] = ()
    fittings: tuple[Place, ...] = ()  # fairleads and bollards among them
    stations: tuple[Place, ...] = ()


@dataclass(frozen=True, slots=True)
class Site:
    """All grounds of a stay, decks first and the quay last, and the lines led over them."""

    grounds: tuple[Ground, ...]
    ways: tuple[Way, ...]

    def ground(self, name: str) -> Ground:
        """A ground by its name. Raises KeyError when there is none."""
        found = next((ground for ground in self.grounds if ground.name == name), None)
        if found is None:
            raise KeyError(name)
        return found


@dataclass(frozen=True, slots=True)
class Bight:
    """Where a line is taken round a fitting: how much it turns, what it pulls on the fitting (× its own pull), and
    the corners of the inside of the angle."""

    name: str
    at: Spot
    turn_deg: float
    pull: float
    inside: Ring


@dataclass(frozen=True, slots=True)
class Hauled:
    """A line on a drum of a deck, its way from there to the bollard, and its bights from the drum on."""

    ground: str
    drum: Place
    points: Ring
    bights: tuple[Bight, ...]


@dataclass(frozen=True, slots=True)
class Area:
    """Where it is worst on a ground. Grade 3: the least area that takes half of all chance × speed there; grade 2:
    nine tenths. Grade 1 is the rest of the ground, whole: it is struck too, and has no area of its own."""

    ground: str
    grade: int
    rings: tuple[Ring, ...]


@dataclass(frozen=True, slots=True)
class Near:
    """A worst area told by what stands nearest, and its kind. `way`: "by", "ahead of", "abaft"; across a deck "to
    port of", "to starboard of", across the quay "behind", "in front of". `side` of the deck: "port side", "centre
    line", "starboard side"; "" on the quay."""

    ground: str
    side: str
    way: str
    name: str
    kind: str


@dataclass(frozen=True, slots=True)
class Reached:
    """A station that parts of the line come within a metre of, in `struck` of `breaks`; the share with its 95 %
    interval counts breaks by how likely they are. A share of nothing is no promise: `high` is never nothing."""

    ground: str
    station: str
    struck: int
    breaks: int
    share: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Rise:
    """A fitting where a recoil may leave the plan upward, and why; `height_m` above it is a bound from energy."""

    at: Spot
    why: str
    height_m: float


@dataclass(frozen=True, slots=True)
class WorstOfLine:
    """Where one line, parting at up to `tension_n`, is worst. `swept`: all that any of the breaks swept. Without
    `rises` no bend of the lead is steep; a line that is caught may jump upward all the same."""

    line: str
    group: str
    tension_class: int
    tension_n: float
    breaks: int
    areas: tuple[Area, ...]
    swept: tuple[Ring, ...]
    near: tuple[Near, ...]  # the worst first
    reached: tuple[Reached, ...]  # the most often struck first
    rises: tuple[Rise, ...] = ()
