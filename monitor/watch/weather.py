"""The wind at the berth now: which source is believed, at 10 m and 30 s, with its band and its age.

A source is believed in the order the stay names, as long as it is fresh; a forecast is never a measurement. The
loads use the 30 s mean at 10 m (UFC 4-159-03 3-8.1: ships above about 1000 t answer to gusts of 30 s and longer).
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Final

import numpy as np

from monitor.base.frames import wrap360
from monitor.physics.air import gust_ratio, speed_30s_m_s, speed_at_10m
from monitor.records.estimates import Band, Validity, WindEstimate
from monitor.records.observations import HeadingReading, WindForecast, WindKind, WindReading
from monitor.settings.schema import Exposure

ENTERED_FRESH_S: Final = 3600.0  # a wind read off the panel counts for an hour (ours)
KEPT: Final = timedelta(minutes=10)
GUST_S: Final = 3.0
LOAD_S: Final = 30.0
RISE_OVER: Final = timedelta(minutes=2)
HEADING_FRESH: Final = timedelta(minutes=2)
# One standard deviation of the speed by kind of source (ours): own masthead against hull, station against berth.
_SPREAD: Final = {
    WindKind.MEASURED: 0.08,
    WindKind.REPORTED: 0.15,
    WindKind.ENTERED: 0.15,
    WindKind.FORECAST: 0.20,
}


@dataclass(frozen=True, slots=True)
class _Sample:
    at: datetime
    speed_10m_m_s: float
    from_direction_deg: float
    gust_10m_m_s: float | None
    averaging_s: float | None
    kind: WindKind


@dataclass(slots=True)
class Weather:
    """The last ten minutes of every wind source, and the newest forecast.

    `stale_after_s` by source name; `height_m` is the anemometer's height above the water, used where a reading
    does not bring its own; `order` the sources from most to least believed.
    """

    order: Sequence[str]
    exposure: Exposure
    anemometer_height_m: float
    berth_heading_deg: float
    stale_after_s: dict[str, float]
    forecast: WindForecast | None = None
    _samples: dict[str, deque[_Sample]] = field(default_factory=dict)
    _heading: HeadingReading | None = None

    def take_heading(self, reading: HeadingReading) -> None:
        """Own heading, to turn a relative wind to true."""
        self._heading = reading

    def take_forecast(self, forecast: WindForecast) -> None:
        """A newer forecast takes the place of the old one."""
        self.forecast = forecast

    def take_wind(self, reading: WindReading) -> None:
        """One wind reading; readings without speed or direction are heard but tell no load."""
        speed_m_s = reading.mean_m_s
        direction_deg = reading.from_direction_deg
        if direction_deg is None and reading.off_bow_deg is not None:
            direction_deg = wrap360(self._heading_deg(reading.received_at) + reading.off_bow_deg)
        if speed_m_s is None or (direction_deg is None and speed_m_s > 0.0):
            return
        height_m = self.anemometer_height_m if reading.height_m is None else reading.height_m
        gust_m_s = reading.gust_m_s
        samples = self._samples.setdefault(reading.source, deque())
        samples.append(
            _Sample(
                reading.observed_at,
                float(speed_at_10m(speed_m_s, height_m)),
                0.0 if direction_deg is None else direction_deg,
                None if gust_m_s is None else float(speed_at_10m(gust_m_s, height_m)),
                reading.averaging_s,
                reading.kind,
            )
        )
        while samples[-1].at - samples[0].at > KEPT:
            samples.popleft()

    def _heading_deg(self, at: datetime) -> float:
        """Gyro when fresh; else the ship lies along the berth, so the berth's heading serves."""
        if self._heading is not None and at - self._heading.received_at <= HEADING_FRESH:
            return self._heading.heading_deg
        return self.berth_heading_deg

    def age_s(self, source: str, now: datetime) -> float | None:
        """Seconds since the source last gave a usable wind; None when it never did."""
        samples = self._samples.get(source)
        return (now - samples[-1].at).total_seconds() if samples else None

    def estimate(self, now: datetime) -> WindEstimate:
        """The wind for the loads. Unknown when no source is fresh and no forecast covers now."""
        skipped: list[str] = []
        for source in self.order:
            age_s = self.age_s(source, now)
            limit_s = self.stale_after_s.get(source, ENTERED_FRESH_S)
            if age_s is not None and age_s <= limit_s:
                estimate = self._from_samples(source, self._lately(source, now), now)
                return _degraded(estimate, skipped) if skipped else estimate
            step = self._forecast_now(source, now)
            if step is not None:
                return _degraded(self._from_forecast(step, now), [*skipped, "wind from the forecast only"])
            skipped.append(f"{source}: " + ("never heard" if age_s is None else f"{age_s:.0f} s old"))
        return WindEstimate(now, None, None, None, None, None, "", None, Validity.UNKNOWN, tuple(skipped))

    def _from_samples(self, source: str, samples: Sequence[_Sample], now: datetime) -> WindEstimate:
        last = samples[-1]
        spread = _SPREAD[last.kind]
        gust_m_s: float | None
        if last.averaging_s is None:
            mean_m_s, now_30s_m_s, top_30s_m_s, gust_m_s, rise, direction_deg = _of_series(samples, now)
            likely_m_s = mean_m_s * float(gust_ratio(KEPT.total_seconds(), LOAD_S, self.exposure))
            high_m_s = max(top_30s_m_s, likely_m_s)
        else:
            mean_m_s, direction_deg = last.speed_10m_m_s, last.from_direction_deg
            gust_m_s, rise = last.gust_10m_m_s, None
            now_30s_m_s = mean_m_s
            top_30s_m_s = high_m_s = _raised(mean_m_s, last.averaging_s, gust_m_s, self.exposure)
        band = Band(
            max(0.0, now_30s_m_s * (1 - 1.645 * spread)),
            max(top_30s_m_s, now_30s_m_s),
            high_m_s * (1 + 1.645 * spread),
        )
        age_s = (now - last.at).total_seconds()
        return WindEstimate(
            now, band, direction_deg, gust_m_s, mean_m_s, rise, source, max(0.0, age_s), Validity.GOOD
        )

    def _lately(self, source: str, now: datetime) -> list[_Sample]:
        """Its samples of the last ten minutes; the newest one when all are older but still believed."""
        samples = self._samples[source]
        return [sample for sample in samples if now - sample.at <= KEPT] or [samples[-1]]

    def _forecast_now(self, source: str, now: datetime) -> WindReading | None:
        if self.forecast is None or self.forecast.source != source:
            return None
        return forecast_at(self.forecast, now)

    def _from_forecast(self, step: WindReading, now: datetime) -> WindEstimate:
        assert step.mean_m_s is not None and self.forecast is not None
        band, gust_m_s = forecast_band(step, self.exposure)
        age_s = (now - self.forecast.received_at).total_seconds()
        return WindEstimate(
            now,
            band,
            step.from_direction_deg,
            gust_m_s,
            step.mean_m_s,
            None,
            self.forecast.source,
            age_s,
            Validity.DEGRADED,
        )


def forecast_at(forecast: WindForecast, at: datetime) -> WindReading | None:
    """The forecast step in force at a time: the last at or before it, at most six hours old; None outside."""
    fitting = [step for step in forecast.steps if step.observed_at <= at <= step.observed_at + timedelta(hours=6)]
    if not fitting or fitting[-1].mean_m_s is None or fitting[-1].from_direction_deg is None:
        return None
    return fitting[-1]


def forecast_band(step: WindReading, exposure: Exposure) -> tuple[Band, float | None]:
    """The 30 s wind of a forecast step with its error, and its gust."""
    assert step.mean_m_s is not None
    spread = _SPREAD[WindKind.FORECAST]
    wind_30s_m_s = _raised(step.mean_m_s, step.averaging_s or 600.0, step.gust_m_s, exposure)
    band = Band(wind_30s_m_s * (1 - 1.645 * spread), wind_30s_m_s, wind_30s_m_s * (1 + 1.645 * spread))
    return band, step.gust_m_s


def _raised(mean_m_s: float, averaging_s: float, gust_m_s: float | None, exposure: Exposure) -> float:
    """The 30 s wind of a mean and its gust."""
    raised = speed_30s_m_s(mean_m_s, averaging_s, gust_m_s, GUST_S, exposure)
    assert raised is not None
    return float(raised)


def _of_series(
    samples: Sequence[_Sample], now: datetime
) -> tuple[float, float, float, float, float | None, float]:
    """(10 min mean, last 30 s mean, highest 30 s mean, highest 3 s mean, rise of the 30 s mean, direction).

    Means over a window are of the samples in it; a window with a single sample is that sample, so a slow
    anemometer gives gusts as it sends them.
    """
    t_s = np.array([(sample.at - now).total_seconds() for sample in samples])
    speed_m_s = np.array([sample.speed_10m_m_s for sample in samples])
    mean_30s_m_s = _running_mean(t_s, speed_m_s, LOAD_S)
    gust_m_s = float(_running_mean(t_s, speed_m_s, GUST_S).max())
    earlier = np.searchsorted(t_s, t_s[-1] - RISE_OVER.total_seconds())
    span_min = (t_s[-1] - t_s[earlier]) / 60.0
    rise = float((mean_30s_m_s[-1] - mean_30s_m_s[earlier]) / span_min) if span_min >= 1.0 else None
    recent = t_s >= t_s[-1] - 2 * LOAD_S
    directions = np.radians([sample.from_direction_deg for sample in samples])[recent]
    weights = speed_m_s[recent] + 1e-6
    direction_deg = math.degrees(
        math.atan2((weights * np.sin(directions)).sum(), (weights * np.cos(directions)).sum())
    )
    return (
        float(speed_m_s.mean()),
        float(mean_30s_m_s[-1]),
        float(mean_30s_m_s.max()),
        gust_m_s,
        rise,
        wrap360(direction_deg),
    )


def _running_mean(t_s: np.ndarray, values: np.ndarray, window_s: float) -> np.ndarray:
    """Mean over (t − window, t] at every sample."""
    total = np.concatenate([[0.0], np.cumsum(values)])
    first = np.searchsorted(t_s, t_s - window_s, side="right")
    last = np.arange(1, len(t_s) + 1)
    return np.asarray((total[last] - total[first]) / (last - first))


def _degraded(estimate: WindEstimate, reasons: Sequence[str]) -> WindEstimate:
    return replace(estimate, validity=Validity.DEGRADED, reasons=tuple(reasons))
