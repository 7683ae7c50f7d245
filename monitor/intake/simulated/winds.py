"""The wind as own anemometer feels it, and what it sends: MWV and HDT sentences of IEC 61162-1.

Turbulence is a first-order Markov process: with its time scale of 7 s and a seventh of the mean it gives the
gust factors of WMO/TD-1555 (checked in the tests). A squall doubles the wind within two minutes and turns it
(UFC 4-159-03 3-8.2, gust fronts at Guam).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.base.frames import Floats, wrap360

EVERY_S: Final = 2


@dataclass(frozen=True, slots=True)
class Squall:
    """A gust front: mean times `factor` after `rise_s`, held, then fading; direction turned by `turn_deg`."""

    at_minute: float
    factor: float
    rise_s: float
    hold_s: float
    fade_s: float
    turn_deg: float

    def strength(self, t_s: Floats) -> Floats:
        """0 (not yet, or over) to 1 (full), smooth."""
        begins_s = self.at_minute * 60.0
        up = np.clip((t_s - begins_s) / self.rise_s, 0.0, 1.0)
        down = np.clip((t_s - begins_s - self.rise_s - self.hold_s) / self.fade_s, 0.0, 1.0)
        return np.asarray(_smooth(up) * (1.0 - _smooth(down)))


@dataclass(frozen=True, slots=True)
class WindScript:
    """Wind at the anemometer. `course`: (minute, mean knots, FROM degrees true), straight between."""

    course: tuple[tuple[float, float, float], ...]
    squalls: tuple[Squall, ...] = ()
    intensity: float = 0.145  # standard deviation of the speed as a share of the mean
    scale_s: float = 7.0
    direction_sd_deg: float = 6.0


def scripted(script: WindScript, t_s: Floats) -> tuple[Floats, Floats]:
    """(mean speed in knots, direction FROM in degrees) without turbulence."""
    minute, knots, from_deg = np.array(script.course, dtype=float).T
    from_deg = np.degrees(np.unwrap(np.radians(from_deg)))
    mean_kn = np.interp(t_s, minute * 60.0, knots)
    direction_deg = np.interp(t_s, minute * 60.0, from_deg)
    for squall in script.squalls:
        strength = squall.strength(t_s)
        mean_kn = mean_kn * (1.0 + (squall.factor - 1.0) * strength)
        direction_deg = direction_deg + squall.turn_deg * strength
    return mean_kn, direction_deg


def blown(script: WindScript, day_s: float, seed: int) -> tuple[Floats, Floats]:
    """(speed in knots, direction FROM in degrees true) for every whole second of the day."""
    t_s = np.arange(0.0, day_s + 1.0)
    mean_kn, direction_deg = scripted(script, t_s)
    rng = np.random.default_rng([seed, 1])
    speed, veer = (_markov(rng, len(t_s), script.scale_s) for _ in range(2))
    return (
        np.maximum(0.0, mean_kn * (1.0 + script.intensity * speed)),
        direction_deg + script.direction_sd_deg * veer,
    )


def sentences(script: WindScript, heading_deg: float, day_s: float, seed: int) -> Iterator[tuple[float, str]]:
    """(second of the day, sentence) from anemometer and gyro in turn, each every two seconds; no line ends."""
    speed_kn, direction_deg = blown(script, day_s, seed)
    rng = np.random.default_rng([seed, 2])
    yaw_deg = 0.15 * _markov(rng, len(speed_kn), 40.0)
    for second in range(0, int(day_s) - 1, EVERY_S):
        off_bow_deg = wrap360(direction_deg[second] - heading_deg)
        yield second + 0.31, nmea(f"WIMWV,{off_bow_deg:.1f},R,{speed_kn[second]:.1f},N,A")
        yield second + 1.12, nmea(f"HEHDT,{wrap360(heading_deg + yaw_deg[second + 1]):.1f},T")


def nmea(body: str) -> str:
    """A sentence with its start sign and checksum (exclusive or of all characters between)."""
    checksum = 0
    for character in body.encode("ascii"):
        checksum ^= character
    return f"${body}*{checksum:02X}"


def _smooth(share: Floats) -> Floats:
    return np.asarray(share * share * (3.0 - 2.0 * share))


def _markov(rng: np.random.Generator, n: int, scale_s: float) -> Floats:
    """Unit variance, correlation exp(−lag/scale), one value a second."""
    keep = math.exp(-1.0 / scale_s)
    kicks = rng.normal(0.0, math.sqrt(1.0 - keep * keep), n)
    kicks[0] /= math.sqrt(1.0 - keep * keep)
    values = np.empty(n)
    held = 0.0
    for i, kick in enumerate(kicks.tolist()):
        held = keep * held + kick
        values[i] = held
    return values
