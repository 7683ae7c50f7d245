"""What is not known exactly, and many possible truths drawn from it.

Every spread below is one standard deviation as a share, unless it says otherwise. The draws are the same at every
update (one seed, Latin hypercube: McKay, Beckman & Conover 1979), so that odds move only when the facts do.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.hulls import NORMAL_95
from monitor.records.estimates import Band

SEED: Final = 20260314
MEMBERS: Final = 200

# Mean wind at the berth against the feed, and what it may do in an hour: ours.
WIND: Final = 0.08
WIND_IN_AN_HOUR: Final = 0.15
DIRECTION_DEG: Final = 8.0  # ours; forecasts err by 22 to 55° at all speeds together, less in strong wind
GUSTINESS: Final = 0.20  # of the turbulence: ours
FORECAST_M_S: Final = 1.8  # 10 m wind of short-range forecasts: published RMSE 1.5 to 2.5 m/s
FORECAST_M_S_PER_H: Final = 0.04  # ours
STREAM: Final = 0.25  # of the load, against a table of a typical tide: ours
SQUARE: Final = 2.0  # power of speed of the passing load under a rigid lid
STEEPER: Final = (
    0.3  # and of the power about her likeliest speed, as the model has it, so much more: it rises (ours)
)
FULLNESS: Final = 0.05  # of the passing load, by block coefficient: NILIM TN 309 (2006), 5 to 10 % within a type
PRETENSION: Final = 0.20  # common to all lines, and as much again for each: nobody measures it; ours
STIFFNESS: Final = 0.15  # of load–elongation curves: makers and handbooks differ as much; ours
QUICK: Final = (1.0, 2.0)  # quick over slow stiffness of fibre: up to about twice (TU Delft course on ropes)
FENDER_FRICTION: Final = (0.0, 0.3)  # rubber or UHMW-PE on steel, wet or dry: from memory
FENDER_LOSS: Final = 0.3  # of a rubber fender's work: from memory
DAMPING: Final = (0.07, 0.5)  # of critical, and the spread of its logarithm: ours

WIND_SPEED, WIND_DIRECTION, GUSTS, WIND_AREA = "mean wind", "wind direction", "gusts", "wind area and coefficients"
DRIFT, CURRENT = "wind in the hour ahead", "stream"
HER_SPEED, HER_DISTANCE, HER_SIZE = "her speed through the water", "her distance", "her size and fullness"
MODEL = "model of passing ships"
TAUT, STIFF, RUB = "pretension of our lines", "stiffness of our lines", "friction at the fenders"
INERTIA, DAMPED = "water moving with us", "damping"
_HIDDEN: Final = ("speed exponent", "quick stiffness", "quay")
INPUTS: Final = (
    WIND_SPEED, WIND_DIRECTION, GUSTS, WIND_AREA, DRIFT, CURRENT, HER_SPEED, HER_DISTANCE, HER_SIZE, MODEL, TAUT,
    STIFF, RUB, INERTIA, DAMPED,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Draws:
    """Standard normal draws of n members: by input (n,), and for each of m lines by itself (n, m).

    The first member is the middle of everything.
    """

    by_input: dict[str, Floats]
    taut: Floats
    brake: Floats
    strength: Floats

    def __getitem__(self, name: str) -> Floats:
        return self.by_input[name]

    def uniform(self, name: str) -> Floats:
        """The same draw as a share from 0 to 1."""
        return _phi(self.by_input[name])


@lru_cache(maxsize=4)
def draws(members: int, lines: int) -> Draws:
    """The draws of so many members and lines; the same every time."""
    chance = np.random.default_rng(SEED)
    rows = (np.arange(members) + 0.5) / members
    normal = np.array([NormalDist().inv_cdf(float(row)) for row in rows])

    def one() -> Floats:
        z = chance.permutation(normal)
        z[0] = 0.0
        return z

    by_input = {name: one() for name in (*INPUTS, *_HIDDEN)}
    taut, brake, strength = (np.stack([one() for _ in range(lines)], axis=1) for _ in range(3))
    return Draws(by_input, taut, brake, strength)


def between(band: Band, z: Floats) -> Floats:
    """Values with this 5 %, middle and 95 %, at standard normal z: half a normal on either side; never below 0."""
    side = np.where(z > 0.0, band.high - band.mid, band.mid - band.low)
    return np.maximum(band.mid + side * z / NORMAL_95, 0.0)


def drivers(by_input: dict[str, Floats], result: Floats, most: int = 2) -> tuple[str, ...]:
    """The inputs whose ranks go with those of the result most (Spearman); none that explains less than 2 %."""
    if np.ptp(result) <= 0.0:
        return ()
    ranked = _ranks(result)
    say = {
        name: float(np.corrcoef(_ranks(z), ranked)[0, 1]) ** 2 for name, z in by_input.items() if np.ptp(z) > 0.0
    }
    told = sorted(say, key=lambda name: -say[name])[:most]
    return tuple(name for name in told if say[name] >= 0.02)


def _ranks(values: Floats) -> Floats:
    return np.argsort(np.argsort(values, kind="stable"), kind="stable").astype(np.float64)


def _phi(z: Floats) -> Floats:
    normal = NormalDist()
    return np.array([normal.cdf(float(each)) for each in z])
