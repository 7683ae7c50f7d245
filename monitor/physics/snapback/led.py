"""A mooring line as it is led: from where it is made fast on board over rollers and fairlead to the bollard.

Any right-angled plane will do for the plan (ship axes x forward, y to starboard, or a berth frame), as long as all
points of a line lie in the same one; nothing here depends on the hand of the axes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.fittings import FRICTION
from monitor.physics.lines import DEFAULTS, Elongation, from_certificate
from monitor.settings.schema import Material

# kg/m per m² of diameter and N per m²: a public script (nylon wet, polyester, polypropylene) as given in the
# study's section (b); mix, HMPE, aramid and wire from the one size in its table of recoil (64, 44, 44, 42 mm).
_MASS_AND_STRENGTH: Final[dict[Material, tuple[float, float]]] = {
    "nylon 8-strand": (676.0, 139.357e6),
    "nylon double braid": (676.0, 139.357e6),
    "polyester": (798.0, 170.466e6),
    "polypropylene": (453.0, 105.990e6),
    "polyester and polypropylene mix": (1.98 / 0.064**2, 560e3 / 0.064**2),
    "HMPE": (0.95 / 0.044**2, 1340e3 / 0.044**2),
    "aramid": (1.35 / 0.044**2, 1100e3 / 0.044**2),
    "steel wire": (7.2 / 0.042**2, 1110e3 / 0.042**2),
}
# Share of the stored energy that does not come back in one quick release. Ours: loops of broken-in ropes lose
# about this much (from memory); a first pull of a new rope loses far more.
_LOSS: Final[dict[Material, float]] = {
    "nylon 8-strand": 0.20,
    "nylon double braid": 0.20,
    "polyester": 0.15,
    "polypropylene": 0.20,
    "polyester and polypropylene mix": 0.20,
    "HMPE": 0.10,
    "aramid": 0.10,
    "steel wire": 0.05,
}
_MOST_POINTS: Final = 40
CLASSES: Final = 20  # classes of 5 % of strength


@dataclass(frozen=True, slots=True)
class Rope:
    """One kind of rope. `curve`: strain against share of `breaking_force_n` as it is loaded.

    `mass_kg_m` of unstretched rope; `loss` the share of the stored energy that unloading keeps (0 to 0.9);
    `friction` on steel (0 to 1). Raises ValueError outside these ranges.
    """

    curve: Elongation
    breaking_force_n: float
    mass_kg_m: float
    loss: float = 0.0
    friction: float = 0.0
    diameter_m: float = 0.05

    def __post_init__(self) -> None:
        for name, least, most in (
            ("breaking_force_n", 1.0, 1e9),
            ("mass_kg_m", 1e-3, 1e3),
            ("loss", 0.0, 0.9),
            ("friction", 0.0, 1.0),
            ("diameter_m", 1e-3, 1.0),
        ):
            value = getattr(self, name)
            if not least <= value <= most:
                raise ValueError(f"{name} is {value:g}; it must lie within {least:g} and {most:g}")
        strain = float(self.curve.strain(np.array(1.0)))
        if not 1e-4 <= strain <= 2.0:
            raise ValueError(f"a strain of {strain:.3g} at the breaking force is that of no rope (0.0001 to 2)")


def usual_rope(
    material: Material,
    breaking_force_n: float,
    diameter_m: float | None = None,
    strains: Sequence[float] | None = None,
) -> Rope:
    """A rope of a material: curve of `lines.DEFAULTS` (or the certificate's five strains), usual mass and
    friction.

    Mass goes by the diameter; without one, by the strength, as a rope of that material would have it.
    """
    mass, strength = _MASS_AND_STRENGTH[material]
    across_m = math.sqrt(breaking_force_n / strength) if diameter_m is None else diameter_m
    return Rope(
        curve=DEFAULTS[material] if strains is None else from_certificate(strains),
        breaking_force_n=breaking_force_n,
        mass_kg_m=mass * across_m**2,
        loss=_LOSS[material],
        friction=sum(FRICTION[material]) / 2.0,
        diameter_m=across_m,
    )


def linear_rope(ea_n: float, mass_kg_m: float, breaking_force_n: float, friction: float = 0.0) -> Rope:
    """A rope that stretches in proportion and gives all its energy back: EA in N (tension ÷ strain)."""
    if not ea_n > 0.0:
        raise ValueError(f"EA is {ea_n:g} N; it must be above 0")
    return Rope(Elongation((1.0,), (breaking_force_n / ea_n,), 1.0), breaking_force_n, mass_kg_m, 0.0, friction)


@dataclass(frozen=True)
class Led:
    """One line in plan, hashable, so that what was worked out for it can be kept.

    `points_m`: centres, in order, of what it touches: drum or bitts first, rollers, fairlead, quay edge if it
    bears there, bollard last; two to 40 points, neighbours apart. `heights_m` above any common datum. `radii_m`:
    of roller, fairlead lip or bollard; 0 for a point or a sharp edge. `fairlead`: index of the last point on
    board. `rope` from the drum on; `tail` (`tail_m` long, unstretched) next to the bollard. `names` for reasons
    told to people. `in_way`: (x, y, radius) of what stands on board and is not of the lead: other fittings, and
    houses as rows of posts along their walls. Raises ValueError for what cannot be a line.
    """

    points_m: tuple[tuple[float, float], ...]
    heights_m: tuple[float, ...]
    radii_m: tuple[float, ...]
    fairlead: int
    rope: Rope
    tail: Rope | None = None
    tail_m: float = 0.0
    names: tuple[str, ...] = ()
    in_way: tuple[tuple[float, float, float], ...] = ()

    def __post_init__(self) -> None:
        n = len(self.points_m)
        if not 2 <= n <= _MOST_POINTS:
            raise ValueError(f"a lead has 2 to {_MOST_POINTS} points, not {n}")
        if not len(self.heights_m) == len(self.radii_m) == n or len(self.names) not in (0, n):
            raise ValueError(f"heights, radii and names must be as many as the {n} points")
        if not 0 <= self.fairlead < n:
            raise ValueError(f"fairlead {self.fairlead} is not one of the {n} points")
        if not (np.isfinite(self.points_m).all() and np.isfinite(self.heights_m).all()):
            raise ValueError("points and heights must be finite numbers")
        if not all(0.0 <= radius_m <= 5.0 for radius_m in self.radii_m):
            raise ValueError("radii must lie within 0 and 5 m")
        if not all(np.isfinite((x, y)).all() and 0.0 < radius_m <= 5.0 for x, y, radius_m in self.in_way):
            raise ValueError("what stands in the way must be at finite places, with radii above 0 and up to 5 m")
        apart_m = self.legs_m
        if apart_m.min() < 0.05 or apart_m.max() > 1000.0:
            raise ValueError("neighbouring points must be 0.05 m to 1000 m apart")
        if (self.tail is None) != (self.tail_m == 0.0) or not 0.0 <= self.tail_m < apart_m.sum():
            raise ValueError(f"the tail ({self.tail_m:g} m) must be shorter than the line ({apart_m.sum():.1f} m)")

    @cached_property
    def legs_m(self) -> Floats:
        """(n − 1,) distances between neighbouring points in plan."""
        apart = np.diff(np.asarray(self.points_m, dtype=np.float64), axis=0)
        return np.asarray(np.hypot(apart[:, 0], apart[:, 1]))

    @property
    def length_m(self) -> float:
        """From the inboard end to the bollard along the points, as the line lies under load."""
        return float(self.legs_m.sum())

    @cached_property
    def stands_at_m(self) -> Floats:
        """(n,) how far along the line each point lies from the inboard end."""
        return np.concatenate([[0.0], np.cumsum(self.legs_m)])

    def turn_deg(self, point: int) -> float:
        """How much the lead turns at a point that is not an end, 0 to 180, either hand."""
        return turn_deg(*self.points_m[point - 1 : point + 2])

    def called(self, point: int) -> str:
        """The name of a point, or what it is by its place."""
        if self.names:
            return self.names[point]
        if point == 0:
            return "the drum or bitts"
        if point == self.fairlead:
            return "the fairlead"
        if point == len(self.points_m) - 1:
            return "the bollard"
        return f"roller {point}" if point < self.fairlead else "the quay edge"

    @property
    def strength_n(self) -> float:
        """The lesser breaking force of line and tail."""
        return min(self.rope.breaking_force_n, np.inf if self.tail is None else self.tail.breaking_force_n)


def turn_deg(before: tuple[float, float], corner: tuple[float, float], after: tuple[float, float]) -> float:
    """How much a way through three points of a plan turns at the corner, 0 to 180, either hand."""
    comes = math.atan2(corner[1] - before[1], corner[0] - before[0])
    goes = math.atan2(after[1] - corner[1], after[0] - corner[0])
    return abs(math.degrees(math.remainder(goes - comes, math.tau)))


def tension_class(tension_n: float, strength_n: float) -> int:
    """Class of 5 % of strength, rounded up: 1 for anything up to 5 %, 20 at strength; above strength 20.

    Raises ValueError for a tension below 0 or a strength not above 0.
    """
    if not (tension_n >= 0.0 and strength_n > 0.0 and math.isfinite(tension_n)):
        raise ValueError(f"a tension of {tension_n:g} N on a strength of {strength_n:g} N has no class")
    return min(max(math.ceil(CLASSES * tension_n / strength_n - 1e-9), 1), CLASSES)


def class_tension_n(tension_class: int, strength_n: float) -> float:
    """The greatest tension of a class: what is worked out for it errs on the high side."""
    return tension_class / CLASSES * strength_n
