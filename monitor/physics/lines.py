"""Load and elongation of mooring lines.

A line is rope (or wire) from the drum over the fairlead to the bollard, often with a tail in series. Its rope
stretches by a curve of strain against tension; what the solver needs is the other way round: tension from the
extension of the whole line. `tend` makes that table once, for all lines; `LineSet.at` reads it for any
number of load cases at once.

Tensions are those outside the fairlead. Friction there may let the lead on deck carry less of a load that comes on
(`inboard_share`). Left out, and small for a taut line: weight and sag, hysteresis, set and creep.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.settings.schema import Material

# Segments of a table and the tension it reaches as a share of LDBF; above it the last slope goes on.
_SEGMENTS: Final = 128
_TABLE_TO: Final = 1.25
_CERTIFICATE_SHARES: Final = (0.1, 0.2, 0.3, 0.4, 0.5)


@dataclass(frozen=True, slots=True)
class Elongation:
    """Strain against tension ÷ breaking force: straight between the points on log–log paper.

    Outside the points the line goes on with `power`, so one point is the power law ε = ε₁ (s/s₁)^power.
    A rope stiffens as it is loaded, hence power ≤ 1.
    """

    shares: tuple[float, ...]
    strains: tuple[float, ...]
    power: float

    def strain(self, share: Floats) -> Floats:
        """Strain (any shape) at tension ÷ breaking force (same shape, ≥ 0)."""
        with np.errstate(divide="ignore"):
            log_share = np.log(share)
        at, first, last = np.log(self.shares), np.log(self.shares[0]), np.log(self.shares[-1])
        outside = np.minimum(log_share - first, 0.0) + np.maximum(log_share - last, 0.0)
        return np.asarray(np.exp(np.interp(log_share, at, np.log(self.strains)) + self.power * outside))


def _from_break(strain_at_break: float, exponent: float) -> Elongation:
    """T/LDBF = (ε/ε_b)^exponent."""
    return Elongation((1.0,), (strain_at_break,), 1.0 / exponent)


# Broken-in lines. From memory, not read: strains at break and exponents meant to resemble the broken-in curves of
# the OCIMF guidelines. Two could be checked: nylon double braid, 13.6 % at half load, against 14.1 % in UFC
# 4-159-03 (2005) Table 6-8; steel wire, EA/MBL 62.5, against 97 drawn from OCIMF MEG 2nd ed. (1997) Fig. 1.11.
# A certificate's own strains always go before these.
DEFAULTS: Final[dict[Material, Elongation]] = {
    "nylon 8-strand": _from_break(0.28, 1.8),
    "nylon double braid": _from_break(0.20, 1.8),
    "polyester": _from_break(0.14, 1.4),
    "polypropylene": _from_break(0.16, 1.3),
    "polyester and polypropylene mix": _from_break(0.16, 1.3),
    "HMPE": _from_break(0.025, 1.0),
    "aramid": _from_break(0.03, 1.0),
    "steel wire": _from_break(0.016, 1.0),
}


def from_certificate(strains: Sequence[float]) -> Elongation:
    """The curve through the average immediate strains at 10, 20, 30, 40 and 50 % of LDBF.

    Those five points are what the base design certificate of OCIMF MEG4 prints. Below 10 % and above 50 % the
    power that fits all five best goes on, held between 1/3 and 1.
    Raises ValueError when they are not five rising positive numbers.
    """
    points = tuple(float(s) for s in strains)
    if len(points) != 5 or points[0] <= 0.0 or np.any(np.diff(points) <= 0.0):
        raise ValueError(f"a certificate gives five rising strains at 10 to 50 % of LDBF, not {points}")
    fitted = np.polyfit(np.log(_CERTIFICATE_SHARES), np.log(points), 1)[0]
    return Elongation(_CERTIFICATE_SHARES, points, float(np.clip(fitted, 1.0 / 3.0, 1.0)))


@dataclass(frozen=True, slots=True)
class TailProperties:
    """The tail between the line and the bollard; length unstretched."""

    material: Material
    length_m: float
    breaking_force_n: float  # TDBF


@dataclass(frozen=True, slots=True)
class LineProperties:
    """One line as it stretches. `lead_on_deck_m`: from the drum or bitts to the last fairlead."""

    name: str
    material: Material
    breaking_force_n: float  # LDBF of the new line; wear takes strength but hardly makes a line softer
    lead_on_deck_m: float = 0.0
    tail: TailProperties | None = None
    strains: tuple[float, ...] | None = None  # the certificate's five
    inboard_share: float = 1.0  # tension on deck ÷ outside as a load comes on: `fittings.usual_inboard_share`

    def strain(self, tension_n: Floats) -> Floats:
        """Strain of the main part, tail not counted."""
        curve = DEFAULTS[self.material] if self.strains is None else from_certificate(self.strains)
        return curve.strain(tension_n / self.breaking_force_n)

    def tail_extension_m(self, tension_n: Floats) -> Floats:
        """How much the tail stretches; zeros when there is none."""
        if self.tail is None:
            return np.zeros_like(tension_n)
        return self.tail.length_m * DEFAULTS[self.tail.material].strain(tension_n / self.tail.breaking_force_n)


@dataclass(frozen=True, slots=True)
class Stretched:
    """What lines do at given extensions, each (n, m)."""

    tension_n: Floats
    stiffness_n_m: Floats
    energy_j: Floats


@dataclass(frozen=True, slots=True)
class LineSet:
    """Tables of m lines as they were tended: tension piecewise linear in extension, its derivative and energy.

    The nodes lie at extension = reach × (j/128)², close together near zero, so that a node is found without a
    search. Between nodes a straight line: within 2e-4 of the tension above a tenth of LDBF.
    """

    taut_m: Floats  # (m,) distance fairlead to bollard at which the line just comes taut
    tended_extension_m: Floats  # (m,) when it was tended
    unstretched_m: Floats  # (m,) lead on deck + outboard part + tail, without tension
    reach_m: Floats  # (m,) extension at the last node
    _tension_n: Floats  # (m, nodes)
    _energy_j: Floats  # (m, nodes)
    _slope_n_m: Floats  # (m, nodes): of the segment that begins at the node

    def __len__(self) -> int:
        return len(self.taut_m)

    def at(
        self, extension_m: Floats, stiffness: Floats | float = 1.0, corner_m: Floats | None = None
    ) -> Stretched:
        """Tension, its derivative and the energy stored at extensions (n, m). A slack line (≤ 0) carries nothing.

        `stiffness` (broadcast to (n, m)): how many times stiffer than the table, about the extension at the time
        of tending, whose tension it leaves alone. Fibre ropes under quick loads may be about twice as stiff as
        under slow ones (TU Delft course on offshore ropes).
        `corner_m` (likewise): extension on the table from which the brake renders (`corners_m`) and the tension
        stays, for loads that only grow; what runs out over the brake counts as energy, so that forces keep a
        potential. `rendering` makes a table of it where all cases have the same brakes.
        """
        z = self.tended_extension_m + stiffness * (extension_m - self.tended_extension_m)
        taut = np.maximum(z, 0.0) if corner_m is None else np.clip(z, 0.0, corner_m)
        node = np.minimum(_SEGMENTS * np.sqrt(taut / self.reach_m), _SEGMENTS).astype(np.intp)
        beyond_m = taut - self.reach_m * (node / _SEGMENTS) ** 2
        place = node + np.arange(len(self)) * (_SEGMENTS + 1)
        slope_n_m = self._slope_n_m.ravel()[place]
        tension_n = self._tension_n.ravel()[place]
        energy_j = self._energy_j.ravel()[place] + beyond_m * (tension_n + 0.5 * slope_n_m * beyond_m)
        tension_n = np.maximum(tension_n + slope_n_m * beyond_m, 0.0)
        gives = z > 0.0
        if corner_m is not None:
            energy_j += tension_n * np.maximum(z - corner_m, 0.0)
            gives &= z <= corner_m
        return Stretched(tension_n, np.where(gives, stiffness * slope_n_m, 0.0), energy_j / stiffness)


def tend(lines: Sequence[LineProperties], outboard_m: Floats, pretension_n: Floats) -> LineSet:
    """Tables of m lines made fast with `pretension_n` (m,) while `outboard_m` (m,) lay from fairlead to bollard.

    The stretched length is lead on deck + outboard distance; what of it is unstretched rope follows from the
    pretension. Raises ValueError when a tail is longer than the line, or a pretension is negative or above LDBF.
    """
    m = len(lines)
    nodes = (np.arange(_SEGMENTS + 1) / _SEGMENTS) ** 2
    taut_m, tended_m, unstretched_m, reach_m = np.zeros((4, m))
    tension_n = np.zeros((m, _SEGMENTS + 1))
    fine = np.linspace(0.0, 1.0, 4001) ** 4
    for i, line in enumerate(lines):
        pull_n = float(pretension_n[i])
        if not 0.0 <= pull_n <= line.breaking_force_n:
            raise ValueError(f"{line.name}: pretension {pull_n:.0f} N is not between 0 and the LDBF")
        outside_m, on_deck_m, tail_m = _unstretched(line, float(outboard_m[i]), pull_n)
        pulls_n = _TABLE_TO * line.breaking_force_n * fine
        extensions_m = outside_m * line.strain(pulls_n) + line.tail_extension_m(pulls_n)
        extensions_m += on_deck_m * line.strain(line.inboard_share * pulls_n)
        reach_m[i] = extensions_m[-1]
        tension_n[i] = np.interp(nodes * reach_m[i], extensions_m, pulls_n)
        tended_m[i] = np.interp(pull_n, tension_n[i], nodes * reach_m[i])  # by the table, to return exactly
        unstretched_m[i] = outside_m + on_deck_m + tail_m
        taut_m[i] = outboard_m[i] - tended_m[i]
    tension_n, energy_j, slope_n_m = _table(reach_m[:, None] * nodes, tension_n)
    return LineSet(taut_m, tended_m, unstretched_m, reach_m, tension_n, energy_j, slope_n_m)


def _unstretched(line: LineProperties, outboard_m: float, pull_n: float) -> tuple[float, float, float]:
    """Lengths without tension of the main part outside the fairlead, of the main part on deck, and of the tail."""
    pull = np.array(pull_n)
    tail_m = 0.0 if line.tail is None else line.tail.length_m
    outside_m = outboard_m - tail_m - float(line.tail_extension_m(pull))  # below zero: the tail comes in on deck
    on_deck_m = line.lead_on_deck_m + min(outside_m, 0.0)
    outside_m = max(outside_m, 0.0)
    if not outside_m + on_deck_m > 0.0:
        whole_m = line.lead_on_deck_m + outboard_m
        raise ValueError(f"{line.name}: the tail ({tail_m:g} m) is longer than the whole line ({whole_m:.1f} m)")
    strain, on_deck = float(line.strain(pull)), float(line.strain(line.inboard_share * pull))
    return outside_m / (1.0 + strain), on_deck_m / (1.0 + on_deck), tail_m


def rendering(lines: LineSet, render_n: Floats) -> LineSet:
    """The same lines on brakes that render at `render_n` (m,), inf for bitts: tension never goes beyond.

    For a load that only grows; `payed_out_m` then tells how much line ran out. The table is laid so that the
    corner falls on a node.
    """
    share = np.arange(_SEGMENTS + 1) / _SEGMENTS
    corner_m = extension_at(lines, np.minimum(render_n, lines._tension_n[:, -1]))
    node = np.clip(np.ceil(_SEGMENTS * np.sqrt(corner_m / lines.reach_m)), 1, _SEGMENTS)
    capped = render_n < lines._tension_n[:, -1]
    reach_m = np.where(capped, corner_m * (_SEGMENTS / node) ** 2, lines.reach_m)
    extension_m = reach_m[:, None] * share**2
    tension_n = np.minimum(lines.at(extension_m.T).tension_n.T, render_n[:, None])
    table = _table(extension_m, tension_n)
    table[2][:, -1] = np.where(capped, 0.0, lines._slope_n_m[:, -1])
    return replace(lines, reach_m=reach_m, _tension_n=tension_n, _energy_j=table[1], _slope_n_m=table[2])


def extension_at(lines: LineSet, tension_n: Floats) -> Floats:
    """Extension (..., m) at which each line carries `tension_n` (..., m), within its table."""
    nodes = (np.arange(_SEGMENTS + 1) / _SEGMENTS) ** 2
    extension_m = np.empty_like(tension_n)
    for i, pulls_n in enumerate(lines._tension_n):
        extension_m[..., i] = np.interp(tension_n[..., i], pulls_n, lines.reach_m[i] * nodes)
    return extension_m


def corners_m(lines: LineSet, tension_n: Floats) -> Floats:
    """Extensions (n, m) on the table at which tensions (n, m) are reached; inf beyond its end."""
    return np.where(tension_n > lines._tension_n[:, -1], np.inf, extension_at(lines, tension_n))


def payed_out_m(lines: LineSet, render_n: Floats, extension_m: Floats) -> Floats:
    """How much line (n, m) ran out over rendering brakes, at the greatest extension (n, m) there was."""
    corner_m = extension_at(lines, np.minimum(render_n, lines._tension_n[:, -1]))
    return np.asarray(np.where(np.isinf(render_n), 0.0, np.maximum(extension_m - corner_m, 0.0)))


def _table(extension_m: Floats, tension_n: Floats) -> tuple[Floats, Floats, Floats]:
    """(tension, energy, slope of the segment that begins there), each (m, nodes)."""
    between_m = np.diff(extension_m, axis=1)
    rises_n = np.diff(tension_n, axis=1)
    energy_j = np.zeros_like(tension_n)
    np.cumsum(between_m * (tension_n[:, :-1] + 0.5 * rises_n), axis=1, out=energy_j[:, 1:])
    slope_n_m = rises_n / between_m
    return tension_n, energy_j, np.hstack([slope_n_m, slope_n_m[:, -1:]])
