"""One line as it is made fast: how it stretches, what limits it, when its brake renders and when it parts.

A line doubled on its bollard goes out and back: two parts side by side, each with half of the pull. It is told as
a whole: its strength, stiffness, brake and working limit are those of both parts together, while the fairlead and
the bollard carry the whole pull. Left out: friction round the bollard, which lets one part carry more.
"""

from __future__ import annotations

from dataclasses import dataclass

from monitor.physics.fittings import FRICTION, capstan_ratio, rendering_n, usual_inboard_share
from monitor.physics.lines import LineProperties, TailProperties
from monitor.physics.strength import LineLimits, parting_strength_n
from monitor.records.estimates import Band
from monitor.settings.schema import Bollard, Fairlead, LineLed, ShipLine, Winch


@dataclass(frozen=True, slots=True)
class MadeFast:
    """A line as physics takes it, all parts together."""

    rope: LineProperties
    limits: LineLimits
    strength_n: Band
    renders_n: Band | None  # outside the fairlead; None on bitts or when the setting is not known
    pretension_n: float


def made_fast(led: LineLed, line: ShipLine, fairlead: Fairlead, winch: Winch, bollard: Bollard) -> MadeFast:
    """A line of the ship as led ashore: over this fairlead, from this winch or bitts, to this bollard."""
    parts, tail = led.parts, line.tail

    def whole(limit_n: float | None) -> float | None:
        """What all parts may carry where each has it to itself."""
        return None if limit_n is None else parts * limit_n

    return MadeFast(
        LineProperties(
            line.name,
            line.material,
            parts * line.ldbf,
            line.lead_on_deck,
            None if tail is None else TailProperties(tail.material, tail.length, parts * tail.breaking_force),
            line.strains,
            usual_inboard_share(line.material, line.turn_at_fairlead),
        ),
        LineLimits(
            parts * line.ship_design_mbl,
            line.material,
            fairlead.name,
            fairlead.swl,
            winch.name,
            winch.kind == "drum",
            whole(winch.swl),
            whole(winch.render),
            bollard.name,
            bollard.swl,
        ),
        _times(parting_strength_n(line.ldbf, line.residual_strength), parts),
        _renders(line, winch, parts),
        parts * led.pretension,
    )


def _renders(line: ShipLine, winch: Winch, parts: int) -> Band | None:
    """Pull outside the fairlead at which the brake renders."""
    if winch.kind == "bitts" or winch.render is None:
        return None
    drum_n = rendering_n(winch.render, winch.brake_condition, winch.layers_below)
    turn_deg = line.turn_at_fairlead or 0.0
    most = float(capstan_ratio(FRICTION[line.material][1], turn_deg))
    usual = usual_inboard_share(line.material, line.turn_at_fairlead)
    return _times(Band(drum_n.low, drum_n.mid / usual, drum_n.high * most), parts)


def _times(band: Band, parts: int) -> Band:
    return Band(parts * band.low, parts * band.mid, parts * band.high)
