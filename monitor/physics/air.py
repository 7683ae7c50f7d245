"""From what an anemometer or a forecast says to the 30 s wind at 10 m over the water, and the air's density."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, TypeVar

import numpy as np
from numpy.typing import ArrayLike

from monitor.base.frames import Floats

if TYPE_CHECKING:
    from monitor.settings.schema import Exposure

STANDARD_AIR_KG_M3: Final = 1.225  # ISO 2533, 15 °C and 1013.25 hPa, dry (from memory)
DESIGN_AVERAGING_S: Final = 30.0  # rules for ships above about 1000 t: UFC 4-159-03, section 3-8.1
LOWEST_M: Final = 2.0
HIGHEST_M: Final = 100.0
_OUT_OF_PROFILE: Final = "the wind profile is good from 2 m to 100 m above the water"
SHORTEST_MEAN_S: Final = 60.0  # averaged over less, a wind speed is a gust: WMO/TD-1555 begins its means here


# --- density ------------------------------------------------------------------------------------------------


def air_density_kg_m3(temperature_k: ArrayLike, pressure_pa: ArrayLike, humidity: ArrayLike) -> Floats:
    """Density of moist air, kg/m³; `humidity` is relative, 0 to 1. Arguments broadcast.

    CIPM-2007 (Picard, Davis, Gläser & Fujii 2008, Metrologia 45:149, eq. 1 and appendix A), CO₂ 400 ppm.
    Stated range 15–27 °C and 600–1100 hPa; outside it stays within 0.1 % of a two-gas law from -10 to 35 °C.
    """
    kelvin, pascal, share = (np.asarray(a, dtype=np.float64) for a in (temperature_k, pressure_pa, humidity))
    celsius = kelvin - 273.15
    saturation_pa = np.exp(1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin)
    enhancement = 1.00062 + 3.14e-8 * pascal + 5.6e-7 * celsius**2
    vapour = share * enhancement * saturation_pa / pascal  # mole fraction
    compressibility = (
        1.0
        - (pascal / kelvin)
        * (
            1.58123e-6
            - 2.9331e-8 * celsius
            + 1.1043e-10 * celsius**2
            + (5.707e-6 - 2.051e-8 * celsius) * vapour
            + (1.9898e-4 - 2.376e-6 * celsius) * vapour**2
        )
        + (pascal / kelvin) ** 2 * (1.83e-11 - 0.765e-8 * vapour**2)
    )
    dry = pascal * 28.96546e-3 / (compressibility * 8.314472 * kelvin)
    return np.asarray(dry * (1.0 - 0.3780 * vapour))


# --- height -------------------------------------------------------------------------------------------------


Number = TypeVar("Number", float, Floats)


def speed_at_height(hourly_m_s: ArrayLike, height_m: ArrayLike, averaging_s: ArrayLike) -> Floats:
    """Wind over water at `height_m`, averaged over `averaging_s`, from the hourly mean at 10 m (m/s).

    ISO 19901-1 (the NPD profile): U(z) = U₁₀[1 + C ln(z/10)], C = 0.0573 √(1 + 0.148 U₁₀), and for shorter
    averages U(z,t) = U(z)[1 − 0.41 I(z) ln(t/3600)], I = 0.06 (1 + 0.043 U₁₀)(z/10)^−0.22.
    Heights 2 to 100 m, averages 1 s to 1 h; longer ones count as an hour.
    """
    hourly, height = np.asarray(hourly_m_s, dtype=np.float64), np.asarray(height_m, dtype=np.float64)
    if not np.all((height >= LOWEST_M) & (height <= HIGHEST_M)):
        raise ValueError(_OUT_OF_PROFILE)
    log_height = np.log(height / 10.0)
    log_time = np.log(np.clip(averaging_s, 1.0, 3600.0) / 3600.0)
    return np.asarray(hourly * _gain(hourly, log_height, np.exp(-0.22 * log_height) * log_time))


def speed_at_10m(speed_m_s: float, height_m: float, averaging_s: float) -> float:
    """The same wind at 10 m over the water, with its own averaging time: gusts change less with height.

    The profile of `speed_at_height`, inverted, in plain floats: an anemometer asks every second or two. Chosen
    because it is the offshore trade's standard, was fitted in strong wind over water, and treats means and gusts
    alike. Its shear is the weakest of the usual profiles, so a masthead anemometer is reduced the least: cautious
    above 10 m. Below 10 m behind a rough shore it reads low.
    """
    if not LOWEST_M <= height_m <= HIGHEST_M:
        raise ValueError(_OUT_OF_PROFILE)
    log_height = math.log(height_m / 10.0)
    log_time = math.log(min(max(averaging_s, 1.0), 3600.0) / 3600.0)
    damped = math.exp(-0.22 * log_height) * log_time
    hourly = speed_m_s
    for _ in range(14):  # each round gains most of a digit: the ratio hardly depends on the speed
        hourly = speed_m_s / _gain(hourly, log_height, damped)
    return float(hourly * _gain(hourly, 0.0, log_time))


def _gain(hourly_m_s: Number, log_height: Number, damped_log_time: Number) -> Number:
    """Speed ÷ hourly mean at 10 m. The last argument is ln(t/3600) as turbulence at that height damps it."""
    shear: Number = 0.0573 * (1.0 + 0.148 * hourly_m_s) ** 0.5
    turbulence = 0.06 * (1.0 + 0.043 * hourly_m_s)
    gain: Number = (1.0 + shear * log_height) * (1.0 - 0.41 * turbulence * damped_log_time)
    return gain


# --- averaging time -----------------------------------------------------------------------------------------

_TURBULENCE: Final[dict[Exposure, float]] = {
    "in-land": 0.25,
    "off-land": 0.20,
    "off-sea": 0.15,
    "at-sea": 0.10,
}


def gust_ratio(averaging_s_from: float, averaging_s_to: float, exposure: Exposure) -> float:
    """Speed over `averaging_s_to` ÷ speed over `averaging_s_from`, at 10 m (seconds; 3600 at most).

    - From a mean (60 s or longer) to the highest shorter gust within it: a gust factor, 1 or more.
    - From a mean to a longer mean: 1, for a mean is the best estimate of a longer one.
    - From a gust (shorter than 60 s: the peak of some period) to a longer average: the peaks of one and the same
      hour compared, 1 or less.

    A gust is never raised: asking for a shorter average than a gust already has raises ValueError.

    WMO/TD-1555 (Harper, Kepert & Ginger 2010), App. D, with the turbulence of its four exposures. The peak factor
    and the reduction for periods shorter than an hour are from memory; together they reproduce the published
    table within 0.01.
    """
    if not (0.0 < averaging_s_from <= 3600.0 and 0.0 < averaging_s_to <= 3600.0):
        raise ValueError("averaging times run from above 0 s to 3600 s")
    if averaging_s_from < SHORTEST_MEAN_S:
        if averaging_s_to < averaging_s_from:
            raise ValueError("a gust is not multiplied by a gust factor")
        return _of_the_hour(averaging_s_to, exposure) / _of_the_hour(averaging_s_from, exposure)
    if averaging_s_to >= averaging_s_from:
        return 1.0
    # The mean of a shorter period has already followed the slow swings of the hour.
    already_followed = min(1.0, 0.2193 * math.log(math.log10(averaging_s_from)) + 0.7242)
    return max(1.0, already_followed * _of_the_hour(averaging_s_to, exposure))


def _of_the_hour(averaging_s: float, exposure: Exposure) -> float:
    """Highest average of that length in an hour ÷ the hour's mean, 10 m above the ground."""
    if averaging_s >= 3600.0:
        return 1.0
    scale_s = 3.12 * 10.0**0.2
    crossings_hz = (0.007 + 0.213 * (scale_s / averaging_s) ** 0.654) / scale_s
    spread = math.sqrt(2.0 * math.log(3600.0 * crossings_hz))
    peak = (spread + 0.577 / spread) * (1.0 - 0.193 * (scale_s / averaging_s + 0.1) ** -0.68)
    return float(1.0 + peak * _TURBULENCE[exposure])


def speed_30s_m_s(
    mean_m_s: float | None,
    mean_averaging_s: float,
    gust_m_s: float | None,
    gust_averaging_s: float,
    exposure: Exposure,
) -> float | None:
    """The highest 30 s wind to load the ship with, from a mean, a gust, or both; None when neither is known.

    A gust that was measured or forecast tells more than an assumed turbulence: it is reduced to 30 s (never
    raised) and counts alone, but never below the mean. Only without one is the mean raised. Give 3 s for a gust
    whose averaging time nobody tells (WMO practice).
    """
    if gust_m_s is not None:
        longer_s = max(gust_averaging_s, DESIGN_AVERAGING_S)
        return max(gust_m_s * gust_ratio(gust_averaging_s, longer_s, exposure), mean_m_s or 0.0)
    if mean_m_s is None:
        return None
    if mean_averaging_s < SHORTEST_MEAN_S:  # no mean at all but a snatch of wind: nothing may be added
        return mean_m_s
    return mean_m_s * gust_ratio(mean_averaging_s, DESIGN_AVERAGING_S, exposure)
