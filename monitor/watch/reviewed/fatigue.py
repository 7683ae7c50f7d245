"""What the lines went through: time at load, and load cycles by rainflow counting.

Cycles are counted by the library `rainflow` (ASTM E1049-85 5.4.4). The index of damage is Miner's sum over a
tension–tension curve N = K·R^−m, R the range as a share of the breaking strength; K falls out when lines are only
ranked against each other. Exponents: wire 4.09 (six-strand rope, API RP 2SK, from memory), fibre 9 (polyester, API
RP 2SM, from memory; the other fibres: ours). Bends, chafe, heat, twist and time in use wear a line as much and
are not in it. So it ranks lines of one stay; it is no life.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.records.estimates import LineLoad, LoadEstimate
from monitor.records.review import SPARSE, LineSeen
from monitor.settings.schema import ShipLine

MISSING: Final = (
    "a review counts load cycles with rainflow, which is not installed: pip install 'bightwatch[review]'"
)
WIRE_EXPONENT: Final = 4.09
FIBRE_EXPONENT: Final = 9.0
CYCLE_SEEN: Final = 0.05  # of a line's strength: smaller ranges are not shown as cycles (ours); all are in the sum
LONGEST_STEP_S: Final = 120.0  # an estimate stands for no longer than this


@dataclass(frozen=True, slots=True)
class Cycles:
    """Ranges (n,) and how many times each: 1, or 0.5 for half a cycle."""

    range_n: Floats
    count: Floats


def cycles(tension_n: Sequence[float]) -> Cycles:
    """Rainflow cycles of a series. Raises ValueError when the library is missing."""
    try:
        import rainflow
    except ImportError:
        raise ValueError(MISSING) from None
    ended = [*tension_n, *tension_n[-1:]]  # the library sees nothing in two values, and passes over repeated ones
    found = [(range_n, count) for range_n, _, count, _, _ in rainflow.extract_cycles(ended)]
    each = np.array(found, dtype=np.float64).reshape(-1, 2)
    return Cycles(each[:, 0], each[:, 1])


def damage(counted: Cycles, breaking_n: float, exponent: float) -> float:
    """Miner's sum but for K: Σ n (range ÷ strength)^m."""
    return float(np.sum(counted.count * (counted.range_n / breaking_n) ** exponent))


def exponent_of(material: str) -> float:
    """Of the tension–tension curve of a material."""
    return WIRE_EXPONENT if material == "steel wire" else FIBRE_EXPONENT


def weights_s(at: Sequence[datetime]) -> Floats:
    """For how long each estimate stands: to the next, and never longer than LONGEST_STEP_S."""
    if not at:
        return np.zeros(0)
    seconds = np.array([each.timestamp() for each in at])
    steps = np.diff(seconds, append=seconds[-1])
    return np.asarray(np.clip(steps, 0.0, LONGEST_STEP_S))


def percentile(values: Floats, weights: Floats, share: float) -> float:
    """The value that a share of the time stayed at or below."""
    order = np.argsort(values)
    reached = np.cumsum(weights[order])
    if reached[-1] <= 0.0:
        return float(np.quantile(values, share))
    return float(values[order][np.searchsorted(reached, share * reached[-1])])


def lines_seen(
    estimates: Sequence[LoadEstimate],
    carried: Mapping[str, ShipLine],
    parts: Mapping[str, int],
    what_went_on: Sequence[str],
) -> tuple[LineSeen, ...]:
    """Every line over the stay, the one nearest its limit first. `parts`: 2 for a line doubled on its bollard,
    whose load and strength are those of both parts. `what_went_on` goes with each estimate."""
    rows: dict[str, list[tuple[int, LineLoad]]] = {}
    for i, estimate in enumerate(estimates):
        for load in estimate.lines:
            rows.setdefault(load.line, []).append((i, load))
    stands_s = weights_s([estimate.at for estimate in estimates])
    seen = (_line(each, estimates, stands_s, carried, parts, what_went_on) for each in rows.values())
    return tuple(sorted(seen, key=lambda line: -line.most_share))


def _line(
    rows: list[tuple[int, LineLoad]],
    estimates: Sequence[LoadEstimate],
    stands_s: Floats,
    carried: Mapping[str, ShipLine],
    parts: Mapping[str, int],
    what_went_on: Sequence[str],
) -> LineSeen:
    tension_n = np.array([load.tension_n.mid for _, load in rows])
    share = np.array([load.utilisation.mid for _, load in rows])
    for_s = stands_s[[i for i, _ in rows]]
    top, load = rows[int(np.argmax(share))]
    line = carried.get(load.line)
    strength_n = parts.get(load.line, 1) * line.ldbf * line.residual_strength if line else load.limit_n
    exponent = exponent_of(line.material if line else "")
    counted = cycles([float(each) for each in tension_n])
    return LineSeen(
        load.line,
        load.group,
        load.limit_n,
        load.limited_by,
        load.unknown_limits,
        strength_n,
        load.tension_n,
        estimates[top].at,
        float(share.max()),
        percentile(tension_n, for_s, 0.95),
        float(for_s[share > 0.3].sum() / 3600.0),
        float(for_s[share > 0.5].sum() / 3600.0),
        float(counted.count[counted.range_n >= CYCLE_SEEN * strength_n].sum()),
        float(counted.range_n.max(initial=0.0)),
        damage(counted, strength_n, exponent),
        exponent,
        what_went_on[top],
        estimates[min(top + 1, len(estimates) - 1)].at - estimates[max(top - 1, 0)].at > 2 * SPARSE,
    )
