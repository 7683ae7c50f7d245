"""How well alerts foretold events: scores of a contingency table, their uncertainty, and what few events can tell.

Pure. Formulas: Wilks, Statistical Methods in the Atmospheric Sciences, ch. 7; SEDI: Ferro & Stephenson 2011,
Weather and Forecasting 26, 699-713; interval: Wilson 1927, JASA 22, 209-212. What is not defined is None, never 0.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

NORMAL_975: Final = 1.959964  # of a 95 % interval


@dataclass(frozen=True, slots=True)
class Table:
    """Counts: `hits` events warned of in time, `false_alarms` alerts that no event followed, `misses` events not
    warned of, `quiet` occasions with neither."""

    hits: int = 0
    false_alarms: int = 0
    misses: int = 0
    quiet: int = 0

    @property
    def events(self) -> int:
        """All that happened."""
        return self.hits + self.misses

    @property
    def pod(self) -> float | None:
        """Probability of detection: share of the events that were warned of."""
        return _share(self.hits, self.events)

    @property
    def far(self) -> float | None:
        """False alarm ratio: share of the alerts that no event followed."""
        return _share(self.false_alarms, self.hits + self.false_alarms)

    @property
    def pofd(self) -> float | None:
        """Probability of false detection: share of the occasions without an event that had an alert."""
        return _share(self.false_alarms, self.false_alarms + self.quiet)

    @property
    def csi(self) -> float | None:
        """Critical success index (threat score)."""
        return _share(self.hits, self.hits + self.false_alarms + self.misses)

    @property
    def sedi(self) -> float | None:
        """Symmetric extremal dependence index, for rare events; see `sedi`."""
        return None if self.pod is None or self.pofd is None else sedi(self.pod, self.pofd)


def sedi(hit_rate: float, false_rate: float) -> float | None:
    """Ferro & Stephenson 2011; both rates in (0, 1), else None."""
    if not (0.0 < hit_rate < 1.0 and 0.0 < false_rate < 1.0):
        return None
    h, f = math.log(hit_rate), math.log(false_rate)
    no_h, no_f = math.log(1.0 - hit_rate), math.log(1.0 - false_rate)
    return (f - h - no_f + no_h) / (f + h + no_f + no_h)


def wilson(count: float, of: float, z: float = NORMAL_975) -> tuple[float, float] | None:
    """The interval of a share, 95 % without another `z`; None of nothing. Whole counts, or for weighted ones those
    of as many equal trials as would be as sure, (Σw)²/Σw² (Kish 1965)."""
    if of == 0:
        return None
    share, grown = count / of, 1.0 + z * z / of
    middle = (share + z * z / (2.0 * of)) / grown
    half = z / grown * math.sqrt(share * (1.0 - share) / of + z * z / (4.0 * of * of))
    return max(0.0, middle - half), min(1.0, middle + half)


@dataclass(frozen=True, slots=True)
class Prior:
    """What is believed of a share before own counts: its mean, and how many counts the belief weighs (Beta)."""

    mean: float
    weight: float

    def with_counts(self, count: int, of: int) -> float:
        """The mean after own counts (beta-binomial): few leave it near the prior's, many outweigh it."""
        return (count + self.mean * self.weight) / (of + self.weight)


FLAT: Final = Prior(0.5, 2.0)  # Beta(1, 1): nothing is believed


def borrowed(count: int, of: int, most_weight: float) -> Prior:
    """A prior from others' counts. It never weighs more than `most_weight`: other berths are not this berth."""
    return Prior(FLAT.with_counts(count, of), min(FLAT.weight + of, most_weight))


def percentile(values: Sequence[float], share: float) -> float | None:
    """The value that `share` of the values lie below, straight between neighbours; None of nothing."""
    if not values:
        return None
    ordered, place = sorted(values), share * (len(values) - 1)
    below = math.floor(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (place - below) * (ordered[above] - ordered[below])


def _share(count: int, of: int) -> float | None:
    return count / of if of else None
