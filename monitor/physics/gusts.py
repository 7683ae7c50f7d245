"""The wind as it fluctuates: gust spectra, their scaling, and a wind for a response in time.

Spectra are one-sided, (m/s)² per Hz. The one of ISO 19901-1 holds 10 to 16 % more turbulence than the same
standard's intensity tells, so a spectrum here gives the shape only; how much turbulence there is comes from
`turbulence_m_s`, or from the anemometer, and a series is scaled to it.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from monitor.base.frames import Floats

LONGEST_S: Final = 3600.0  # the spectra are of one hour


def turbulence_m_s(hourly_10m_m_s: float, height_m: float) -> float:
    """Standard deviation of the wind over an hour: ISO 19901-1, I·U, I = 0.06 (1 + 0.043 U₁₀)(z/10)^−0.22."""
    log_height = math.log(height_m / 10.0)
    hourly = hourly_10m_m_s * (1.0 + 0.0573 * math.sqrt(1.0 + 0.148 * hourly_10m_m_s) * log_height)
    return hourly * 0.06 * (1.0 + 0.043 * hourly_10m_m_s) * math.exp(-0.22 * log_height)


def npd_spectrum(frequency_hz: ArrayLike, hourly_10m_m_s: float, height_m: float) -> Floats:
    """Spectrum in the shape of `frequency_hz` (> 0), for a wind over water: ISO 19901-1 (the NPD spectrum).

    S = 320 (U₁₀/10)² (z/10)^0.45 / (1 + f̃ⁿ)^(5/3n), n = 0.468, f̃ = 172 f (z/10)^⅔ (U₁₀/10)^−¾.
    """
    n, high, fast = 0.468, height_m / 10.0, hourly_10m_m_s / 10.0
    reduced = 172.0 * np.asarray(frequency_hz, dtype=np.float64) * high ** (2.0 / 3.0) * fast**-0.75
    return np.asarray(320.0 * fast**2 * high**0.45 / (1.0 + reduced**n) ** (5.0 / (3.0 * n)))


def kaimal_spectrum(frequency_hz: ArrayLike, mean_m_s: float, deviation_m_s: float, height_m: float) -> Floats:
    """Spectrum in the shape of `frequency_hz` (≥ 0) whose whole integral is the square of `deviation_m_s`.

    Kaimal's form as in IEC 61400-1: S = σ² 4a/(1 + 6fa)^(5/3), a = L/U, L = 8.1 · 0.7 z, z counted up to 60 m. The
    form of DNV-RP-C205 (L = 3.33 z with other constants) differs from it by one per cent.
    """
    scale_s = 8.1 * 0.7 * min(height_m, 60.0) / mean_m_s
    frequency = np.asarray(frequency_hz, dtype=np.float64)
    return np.asarray(deviation_m_s**2 * 4.0 * scale_s / (1.0 + 6.0 * frequency * scale_s) ** (5.0 / 3.0))


def size_filter(frequency_hz: ArrayLike, area_m2: float, mean_m_s: float) -> Floats:
    """Share of the spectrum that a large area feels at once: Davenport (1977), χ², χ = 1/[1 + (2f√A/U)^(4/3)]."""
    reduced = 2.0 * np.asarray(frequency_hz, dtype=np.float64) * math.sqrt(area_m2) / mean_m_s
    return np.asarray((1.0 + reduced ** (4.0 / 3.0)) ** -2.0)


def wind_series(
    mean_m_s: float,
    deviation_m_s: float,
    hourly_10m_m_s: float,
    height_m: float,
    duration_s: float,
    step_s: float,
    chance: np.random.Generator,
    *,
    area_m2: float = 0.0,
) -> Floats:
    """A wind of `duration_s` in steps of `step_s`, m/s, shape (duration/step,): mean plus gusts in the NPD shape.

    Harmonics with random phases (u = U + Σ √(2 S Δf) cos(2πft + φ)), scaled so that over the whole duration the
    standard deviation is `deviation_m_s`; then, for an `area_m2`, what it feels of them at once. The same `chance`
    gives the same wind. Up to an hour; it repeats after that. Raises ValueError beyond, or for less than 4 steps.
    """
    steps = round(duration_s / step_s)
    if duration_s > LONGEST_S or steps < 4:
        raise ValueError("a wind series lasts four steps to one hour")
    frequency_hz = np.fft.rfftfreq(steps, step_s)[1:]
    power = npd_spectrum(frequency_hz, hourly_10m_m_s, height_m)
    if steps % 2 == 0:
        power[-1] = 0.0  # at the highest frequency a cosine has no phase to choose
    amplitude = np.sqrt(power / (0.5 * power.sum())) * deviation_m_s
    amplitude *= np.sqrt(size_filter(frequency_hz, area_m2, mean_m_s))
    phase = chance.uniform(0.0, 2.0 * math.pi, frequency_hz.size)
    harmonics = np.concatenate([[0.0], 0.5 * steps * amplitude * np.exp(1j * phase)])
    return np.asarray(mean_m_s + np.fft.irfft(harmonics, steps))
