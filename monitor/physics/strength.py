"""Limits of a mooring line, from the drum to the bollard, and how far each is used.

A limit is a load that should not be passed in service; parting strength is something else and is a band, because
wear, bends and heat make it so. What is not known is named, never guessed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from monitor.base.frames import Floats
from monitor.records.estimates import Band
from monitor.settings.schema import Material

# Working load limit as a share of the ship design MBL: OCIMF MEG4 (read in secondary summaries).
_WORKING_FIBRE: Final = 0.50
_WORKING_WIRE: Final = 0.55
# Strength at a bend or splice. A splice keeps 0.90 (OCIMF MEG 2nd ed. 1997, Table 6.5 note 2); an LDBF is measured
# on spliced ends, so 1.0 can be met; round a pin of its own thickness rope and wire keep about 0.5 (from memory).
_BENT: Final = Band(low=0.5, mid=0.9, high=1.0)
# Our own ceiling: a brake is weakened by oil, wet and rust, so the alarm comes well before it is due to render.
ALARM_SHARE_OF_BRAKE: Final = 0.60


def working_limit_n(ship_design_mbl_n: float, material: Material) -> float:
    """Working load limit: 50 % of the ship design MBL for fibre, 55 % for steel wire."""
    return ship_design_mbl_n * (_WORKING_WIRE if material == "steel wire" else _WORKING_FIBRE)


def parting_strength_n(ldbf_n: float, residual_share: float) -> Band:
    """Load at which a line may be expected to part: LDBF × residual strength × what a bend or splice leaves.

    The ends are judged, not counted. The low one is no floor: the HMPE line of the *Zarga* parted in service below
    a quarter of its rated strength (MAIB report 13/2017, read in summary).
    """
    worn_n = ldbf_n * residual_share
    return Band(worn_n * _BENT.low, worn_n * _BENT.mid, worn_n * _BENT.high)


@dataclass(frozen=True, slots=True)
class LineLimits:
    """What one line leads over, and what each part of it may carry. None is not known.

    Ship's fittings count per line: their SWL is given for one line, no more than one turn (MSC/Circ.1175, from
    memory). A bollard counts with all lines on it.
    """

    ship_design_mbl_n: float
    material: Material
    fairlead: str
    fairlead_swl_n: float | None
    winch: str  # drum or bitts
    on_drum: bool
    winch_swl_n: float | None
    brake_setting_n: float | None  # load at which the brake renders; without meaning on bitts
    bollard: str
    bollard_swl_n: float | None

    @property
    def own(self) -> tuple[tuple[str, str, float | None], ...]:
        """(what limits, its full name, N) for every limit but the bollard's."""
        working_n = working_limit_n(self.ship_design_mbl_n, self.material)
        brake = (
            (("brake setting", f"brake setting of {self.winch}", self.brake_setting_n),) if self.on_drum else ()
        )
        return (
            ("working limit", "working limit", working_n),
            *brake,
            ("fairlead", f"fairlead {self.fairlead} SWL", self.fairlead_swl_n),
            ("winch" if self.on_drum else "bitts", f"{self.winch} SWL", self.winch_swl_n),
        )

    @property
    def least_own(self) -> tuple[str, float]:
        """The least known of them: what limits, N. The working limit is always known."""
        return min(((what, n) for what, _, n in self.own if n is not None), key=lambda pair: pair[1])

    @property
    def unknown(self) -> tuple[str, ...]:
        """Names of the limits nobody has entered, such as "bollard B3 SWL"."""
        bollard = ("bollard", f"bollard {self.bollard} SWL", self.bollard_swl_n)
        return tuple(name for _, name, n in (*self.own, bollard) if n is None)


@dataclass(frozen=True, slots=True)
class Utilisation:
    """Tension ÷ least known limit for n load cases and m lines; NaN where the tension is."""

    share: Floats  # (n, m)
    limit_n: Floats  # (n, m) the tension that would make it 1, the bollard's share as it is shared now
    by_bollard: NDArray[np.bool_]  # (n, m) the bollard governs
    _own: tuple[str, ...]
    _bollard: tuple[str, ...]

    def limited_by(self, case: int, line: int) -> str:
        """Which limit governs: "working limit", "brake setting", "fairlead", "winch", "bitts" or "bollard B7"."""
        return f"bollard {self._bollard[line]}" if self.by_bollard[case, line] else self._own[line]


def utilisation(tension_n: Floats, lines: Sequence[LineLimits]) -> Utilisation:
    """Utilisation of m lines under tensions (n, m) ≥ 0.

    A bollard's is the sum of the tensions on it ÷ its SWL, and counts for every line on it that carries anything.
    Raises ValueError when two lines give one bollard different limits.
    """
    limits = _arrays(tuple(lines))
    own_share = tension_n / limits.own_n
    bollard_share = np.where(tension_n == 0.0, 0.0, tension_n @ limits.on_bollard)
    by_bollard = bollard_share > own_share
    share = np.maximum(own_share, bollard_share)
    limit_n = np.divide(tension_n, share, out=np.broadcast_to(limits.own_n, share.shape).copy(), where=by_bollard)
    return Utilisation(share, limit_n, by_bollard, limits.own, limits.bollard)


@dataclass(frozen=True, slots=True)
class _Arrays:
    """The limits of m lines as arrays."""

    own: tuple[str, ...]  # which of its own limits is least
    own_n: Floats  # (m,) and how much that is
    bollard: tuple[str, ...]
    on_bollard: Floats  # (m, m) tensions → share of the SWL of each line's bollard
    brake_n: Floats  # (m,) inf on bitts or unknown


@lru_cache(maxsize=64)  # asked several times a tick for the same lines
def _arrays(lines: tuple[LineLimits, ...]) -> _Arrays:
    swl_n = bollard_swl_n(lines)
    same = np.array([[a.bollard == b.bollard for b in lines] for a in lines], dtype=float)
    own = [line.least_own for line in lines]
    return _Arrays(
        tuple(what for what, _ in own),
        np.array([n for _, n in own]),
        tuple(line.bollard for line in lines),
        same / _or_inf([swl_n[line.bollard] for line in lines]),
        _or_inf([line.brake_setting_n if line.on_drum else None for line in lines]),
    )


def _or_inf(limits_n: Sequence[float | None]) -> Floats:
    return np.array([np.inf if n is None else n for n in limits_n])


def bollard_swl_n(lines: Sequence[LineLimits]) -> dict[str, float | None]:
    """Every bollard used and its limit. Raises ValueError when two lines disagree about one."""
    swl_n: dict[str, float | None] = {}
    for line in lines:
        if swl_n.setdefault(line.bollard, line.bollard_swl_n) != line.bollard_swl_n:
            raise ValueError(f"bollard {line.bollard} has two different limits")
    return swl_n


def alarm_level(level: float, limit_n: Floats, lines: Sequence[LineLimits]) -> Floats:
    """The utilisation (same shape as `limit_n`, (n, m)) at which ALARM is raised when `level` was asked for.

    Never above the utilisation at which the tension is 60 % of the brake setting; lines on bitts, or with an
    unknown brake, keep the level.
    """
    return np.asarray(np.minimum(level, ALARM_SHARE_OF_BRAKE * _arrays(tuple(lines)).brake_n / limit_n))
