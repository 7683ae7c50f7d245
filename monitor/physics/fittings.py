"""What fittings do to a line: friction where it bends over the ship's side, and a brake that renders.

Friction makes the tension on deck differ from the one outside the fairlead, either way: while the load comes on
the outer part carries more, while it goes off the inner. So a brake set at a load holds a greater one outside, and
a load cell at the winch reads low or high by as much.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from monitor.base.frames import Floats
from monitor.records.estimates import Band
from monitor.settings.schema import BrakeCondition, Material

# Rope on steel, low to high; falls with load and polish. From memory; the test data behind such figures (Brown
# 1977, NUC TP 544; Altro, Nikodem & Caudy 1984, NCEL CR 84.016) were not read. Aramid and the mix: our judgement.
FRICTION: Final[dict[Material, tuple[float, float]]] = {
    "nylon 8-strand": (0.10, 0.20),
    "nylon double braid": (0.10, 0.20),
    "polyester": (0.10, 0.15),
    "polypropylene": (0.15, 0.20),
    "polyester and polypropylene mix": (0.10, 0.20),
    "HMPE": (0.05, 0.10),
    "aramid": (0.08, 0.15),
    "steel wire": (0.10, 0.15),
}
# What the brake holds goes down with every layer of line under the one that pulls, as the radius goes up: 80 % of
# the MBL on the first layer is about 65 % on the third (OCIMF MEG 2nd ed. 1997, 7.5.6).
_PER_LAYER: Final = (65.0 / 80.0) ** 0.5
_LAYERS_UNKNOWN: Final = 3
# Shares of the setting at which it renders: tested, ours; oil, damp and rust can take up to 75 % (a trade source).
_CONDITION: Final[dict[BrakeCondition, Band]] = {
    "tested": Band(0.9, 1.0, 1.1),
    "not tested": Band(0.7, 0.95, 1.15),
    "oily, wet or rusty": Band(0.25, 0.6, 1.0),
}


def capstan_ratio(friction: ArrayLike, turn_deg: ArrayLike) -> Floats:
    """Tension on the pulling side ÷ tension on the held side of a bend about to slip: e^(μθ), Euler–Eytelwein.

    `turn_deg`: how far the line turns, 0 or more, whole turns counted on. Arrays broadcast.
    """
    return np.exp(np.asarray(friction, dtype=np.float64) * np.radians(np.asarray(turn_deg, dtype=np.float64)))


def usual_inboard_share(material: Material, turn_deg: float | None) -> float:
    """Tension on deck ÷ tension outside while the load comes on, middle friction; 1 when the turn is not known."""
    low, high = FRICTION[material]
    return 1.0 if turn_deg is None else float(1.0 / capstan_ratio(0.5 * (low + high), turn_deg))


def beyond_fairlead_n(tension_n: float, material: Material, turn_deg: float) -> Band:
    """Tension on the other side of the fairlead, on deck for one outside or outside for one on deck: from the load
    coming on at most friction to it going off, or the other way."""
    ratio = float(capstan_ratio(FRICTION[material][1], turn_deg))
    return Band(tension_n / ratio, tension_n, tension_n * ratio)


def rendering_n(setting_n: float, condition: BrakeCondition, layers_below: int | None) -> Band:
    """Tension at the drum at which a brake set to `setting_n` on the bare drum renders.

    `layers_below`: layers of line under the one that pulls, beyond the setting's; None is not known (up to three
    layers in all count at the low end).
    """
    share = _CONDITION[condition]
    fewest, most = (0, _LAYERS_UNKNOWN - 1) if layers_below is None else (layers_below, layers_below)
    middle = 0.5 * (fewest + most)
    return Band(
        setting_n * share.low * _PER_LAYER**most,
        setting_n * share.mid * _PER_LAYER**middle,
        setting_n * share.high * _PER_LAYER**fewest,
    )
