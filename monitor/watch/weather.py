"""The wind at the berth now: which source is believed, at 10 m and 30 s, with its band and its age.

A source is believed in the order the stay names, as long as it is fresh; a forecast is never a measurement. The
loads use the 30 s mean at 10 m (UFC 4-159-03 3-8.1: ships above about 1000 t answer to gusts of 30 s and longer).
A gust front is seen by the rise of the 30 s wind and by a jump of its direction (the same, 3-8.2).
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Final

import numpy as np

from monitor.base.frames import Floats, wrap180, wrap360
from monitor.base.moved import OWN_TIME
from monitor.base.units import knots
from monitor.physics.air import HIGHEST_M, LOWEST_M, gust_ratio, speed_30s_m_s, speed_at_10m
from monitor.physics.hulls import NORMAL_95
from monitor.records.estimates import Band, Validity, WindEstimate
from monitor.records.observations import HeadingReading, WindForecast, WindKind, WindReading
from monitor.settings.schema import Exposure
from monitor.watch.agreement import CALM_BUT_M_S, STILL_S, Sent, Shown, askew, disagreement, stands_still
from monitor.watch.gustiness import WINDOW_S, Gustiness

ENTERED_FRESH_S: Final = 3600.0  # a wind read off the panel counts for an hour (ours)
KEPT: Final = timedelta(minutes=10)
GUST_S: Final = 3.0
LOAD_S: Final = 30.0
RISE_OVER_S: Final = 120.0
SHIFT_BEFORE_S: Final = (300.0, RISE_OVER_S)  # the wind before a front: its rise never takes above two minutes
SHIFT_LEAST_M_S: Final = 2.0  # lighter airs have no direction (judgement)
_SAME_TIME_S: Final = 1e-3  # times this close are one, whatever the rounding
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
    at_s: float  # the same as seconds of the epoch
    our_time: bool  # `at` came from our own clock, not from the source
    speed_10m_m_s: float
    from_direction_deg: float
    gust_10m_m_s: float | None
    averaging_s: float | None
    kind: WindKind
    sent: Sent

    def moved(self, by: timedelta) -> _Sample:
        """The same at another time."""
        return replace(self, at=self.at + by, at_s=self.at_s + by.total_seconds())


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
    _gustiness: dict[str, Gustiness] = field(default_factory=dict)
    _heading: HeadingReading | None = None
    _off_berth: str = ""  # how it contradicts the berth's

    def take_heading(self, reading: HeadingReading, alongside: bool = True) -> None:
        """Own heading, to turn a relative wind to true; not used where it cannot be hers alongside."""
        self._heading = reading
        self._off_berth = askew(reading.heading_deg, self.berth_heading_deg) if alongside else ""

    def take_forecast(self, forecast: WindForecast) -> None:
        """A newer forecast takes the place of the old one."""
        self.forecast = forecast

    def take_wind(self, reading: WindReading) -> None:
        """One wind reading; readings without speed or direction are heard but tell no load.

        A stamp well ahead of its arrival is a wrong clock's: it would keep a dead anemometer fresh for hours.
        """
        speed_m_s = reading.mean_m_s
        direction_deg = reading.from_direction_deg
        if direction_deg is None and reading.off_bow_deg is not None:
            direction_deg = wrap360(self._heading_deg(reading.received_at) + reading.off_bow_deg)
        if speed_m_s is None or (direction_deg is None and speed_m_s > 0.0):
            return
        height_m = self.anemometer_height_m if reading.height_m is None else reading.height_m
        height_m = min(max(height_m, LOWEST_M), HIGHEST_M)  # as far as the profile goes
        gust_m_s = reading.gust_m_s
        samples = self._samples.setdefault(reading.source, deque())
        ahead = reading.observed_at - reading.received_at >= OWN_TIME
        at = reading.received_at if ahead else reading.observed_at
        sample = _Sample(
            at,
            at.timestamp(),
            abs(at - reading.received_at) < OWN_TIME,
            speed_at_10m(speed_m_s, height_m, GUST_S if reading.averaging_s is None else reading.averaging_s),
            0.0 if direction_deg is None else direction_deg,
            None if gust_m_s is None else speed_at_10m(gust_m_s, height_m, GUST_S),
            reading.averaging_s,
            reading.kind,
            (speed_m_s, reading.off_bow_deg, reading.from_direction_deg),
        )
        while samples and samples[-1].at > sample.at:  # the source's clock was set back
            samples.pop()
        if samples and samples[-1].at_s // WINDOW_S != sample.at_s // WINDOW_S:
            self._learn(reading.source, samples[-1].at_s // WINDOW_S)
        samples.append(sample)
        while sample.at - samples[0].at > KEPT:
            samples.popleft()

    def clock_set(self, by: timedelta) -> None:
        """Our clock was set: bring what it stamped to the new time. A time of the source's own stands."""
        for source, samples in self._samples.items():
            self._samples[source] = deque(sample.moved(by) if sample.our_time else sample for sample in samples)
        if self._heading is not None:
            self._heading = replace(self._heading, received_at=self._heading.received_at + by)
        if self.forecast is not None:
            self.forecast = replace(self.forecast, received_at=self.forecast.received_at + by)

    def _learn(self, source: str, window: float) -> None:
        """From the ten minutes by the clock that have just ended."""
        ended = [s for s in self._samples[source] if s.at_s // WINDOW_S == window]
        if all(sample.averaging_s is None for sample in ended):
            t_s, speed_m_s, _ = series = _columns(ended, ended[-1].at_s)
            gustiness = self._gustiness.setdefault(source, Gustiness())
            top_m_s = float(_running_mean(t_s, speed_m_s, LOAD_S).max())
            gustiness.learn(list(t_s), float(speed_m_s.mean()), top_m_s, _direction_deg(*series[1:]))

    def _ratio_30s(self, source: str, averaging_s: float, from_direction_deg: float) -> float:
        """Highest 30 s wind ÷ mean: as learnt for a ten-minute mean, else by the table of exposures."""
        learnt = None
        if averaging_s >= WINDOW_S and source in self._gustiness:
            learnt = self._gustiness[source].ratio_30s(from_direction_deg)
        return gust_ratio(averaging_s, LOAD_S, self.exposure) if learnt is None else learnt

    def _heading_deg(self, at: datetime) -> float:
        """Gyro when fresh and possible; else the ship lies along the berth, so the berth's heading serves."""
        if self._heading is not None and self._heading_fresh(at) and not self._off_berth:
            return self._heading.heading_deg
        return self.berth_heading_deg

    def _heading_fresh(self, at: datetime) -> bool:
        return self._heading is not None and at - self._heading.received_at <= HEADING_FRESH

    def age_s(self, source: str, now: datetime) -> float | None:
        """Seconds since the source last gave a usable wind; None when it never did."""
        samples = self._samples.get(source)
        return (now - samples[-1].at).total_seconds() if samples else None

    def estimate(self, now: datetime) -> WindEstimate:
        """The wind for the loads. Unknown when no source is fresh and no forecast covers now.

        When another anemometer that is fresh shows a different wind, the band reaches up to the stronger of the
        two.
        """
        skipped = [self._off_berth] if self._off_berth and self._heading_fresh(now) else []
        for source in self.order:
            step = self._forecast_now(source, now)
            why = self._why_not(source, now)
            if not why:
                estimate = self._from_samples(source, self._lately(source, now), now)
                return self._checked(_degraded(estimate, skipped) if skipped else estimate, now)
            if step is not None:
                return _degraded(self._from_forecast(step, now), [*skipped, "wind from the forecast only"])
            skipped.append(f"{source}: {why}")
        for source in self.order:
            if self._fresh(source, now):
                return _degraded(self._from_samples(source, self._lately(source, now), now), skipped)
        return WindEstimate(now, None, None, None, None, None, "", None, Validity.UNKNOWN, tuple(skipped))

    def choices(self, now: datetime) -> tuple[tuple[str, str], ...]:
        """(source, verdict in words) of every source in its order: the one in use, and why each other is not."""
        used = self.estimate(now).source
        return tuple(
            (source, "in use" if source == used else self._why_not(source, now) or "good, not needed")
            for source in self.order
        )

    def _why_not(self, source: str, now: datetime) -> str:
        """Why the measurements of a source are not to be used; "" when they are good."""
        if not self._fresh(source, now):
            age_s = self.age_s(source, now)
            return "never heard" if age_s is None else f"{age_s:.0f} s old"
        samples = self._lately(source, now)
        if samples[-1].averaging_s is None and stands_still([(s.at_s, s.sent) for s in samples]):
            return f"has shown the same figures for {STILL_S / 60:.0f} min"
        other = self._other(source, now)
        if other is not None and other.mean_m_s > CALM_BUT_M_S and all(s.speed_10m_m_s == 0.0 for s in samples):
            return f"shows no wind at all, {other.source} {knots(other.mean_m_s):.0f} kn"
        return ""

    def _fresh(self, source: str, now: datetime) -> bool:
        age_s = self.age_s(source, now)
        return age_s is not None and age_s <= self.stale_after_s.get(source, ENTERED_FRESH_S)

    def _other(self, source: str, now: datetime) -> Shown | None:
        """What the first other anemometer shows that is fresh."""
        for name in self.order:
            if name == source or not self._fresh(name, now):
                continue
            samples = self._lately(name, now)
            if samples[-1].kind is WindKind.MEASURED:
                _, speed_m_s, from_rad = _columns(samples, samples[-1].at_s)
                return Shown(name, float(speed_m_s.mean()), _direction_deg(speed_m_s, from_rad))
        return None

    def _checked(self, estimate: WindEstimate, now: datetime) -> WindEstimate:
        """Against another anemometer, where there is one."""
        other = self._other(estimate.source, now)
        band, mean_m_s, from_deg = estimate.speed_30s_m_s, estimate.mean_m_s, estimate.from_direction_deg
        measured = self._samples[estimate.source][-1].kind is WindKind.MEASURED
        if other is None or not measured or band is None or mean_m_s is None or from_deg is None:
            return estimate
        why = disagreement(Shown(estimate.source, mean_m_s, from_deg), other)
        if not why or self._why_not(other.source, now):
            return estimate
        theirs = self._from_samples(other.source, self._lately(other.source, now), now).speed_30s_m_s
        if theirs is not None:
            estimate = replace(estimate, speed_30s_m_s=replace(band, high=max(band.high, theirs.high)))
        return _degraded(estimate, (*estimate.reasons, why))

    def _lately(self, source: str, now: datetime) -> list[_Sample]:
        """Samples of the last ten minutes; the newest alone when all are older but still believed."""
        samples = self._samples[source]
        return [sample for sample in samples if now - sample.at <= KEPT] or [samples[-1]]

    def _from_samples(self, source: str, samples: Sequence[_Sample], now: datetime) -> WindEstimate:
        last = samples[-1]
        spread = _SPREAD[last.kind]
        if last.averaging_s is None:
            series = _of_series(samples)
            ratio = self._ratio_30s(source, WINDOW_S, series.from_direction_deg)
            high_m_s = max(series.top_30s_m_s, series.mean_m_s * ratio)
        else:
            raised_m_s = _raised(last.speed_10m_m_s, last.averaging_s, last.gust_10m_m_s, self.exposure)
            series = _Series(
                last.speed_10m_m_s,
                last.speed_10m_m_s,
                raised_m_s,
                last.gust_10m_m_s,
                None,
                None,
                last.from_direction_deg,
            )
            high_m_s = raised_m_s
        band = Band(
            max(0.0, series.now_30s_m_s * (1 - NORMAL_95 * spread)),
            max(series.top_30s_m_s, series.now_30s_m_s),
            high_m_s * (1 + NORMAL_95 * spread),
        )
        return WindEstimate(
            now,
            band,
            series.from_direction_deg,
            series.gust_m_s,
            series.mean_m_s,
            series.rise_m_s_min,
            source,
            max(0.0, (now - last.at).total_seconds()),
            Validity.GOOD,
            shift_deg=series.shift_deg,
        )

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
    share = NORMAL_95 * spread
    band = Band(wind_30s_m_s * (1 - share), wind_30s_m_s, wind_30s_m_s * (1 + share))
    return band, step.gust_m_s


def _raised(mean_m_s: float, averaging_s: float, gust_m_s: float | None, exposure: Exposure) -> float:
    """The 30 s wind of a mean and its gust."""
    raised = speed_30s_m_s(mean_m_s, averaging_s, gust_m_s, GUST_S, exposure)
    assert raised is not None
    return float(raised)


@dataclass(frozen=True, slots=True)
class _Series:
    """Ten minutes of one source: mean, last and highest 30 s mean, highest gust, rise, jump and direction."""

    mean_m_s: float
    now_30s_m_s: float
    top_30s_m_s: float
    gust_m_s: float | None
    rise_m_s_min: float | None
    shift_deg: float | None
    from_direction_deg: float


def _of_series(samples: Sequence[_Sample]) -> _Series:
    """Means over a window are of the samples in it; a window with a single sample is that sample, so a slow
    anemometer gives gusts as it sends them."""
    t_s, speed_m_s, from_rad = _columns(samples, samples[-1].at_s)
    mean_30s_m_s = _running_mean(t_s, speed_m_s, LOAD_S)
    earlier = np.searchsorted(t_s, -RISE_OVER_S - _SAME_TIME_S)
    span_min = -float(t_s[earlier]) / 60.0
    rise = float(mean_30s_m_s[-1] - mean_30s_m_s[earlier]) / span_min if span_min >= 1.0 else None
    recent = t_s >= -2 * LOAD_S - _SAME_TIME_S
    return _Series(
        float(speed_m_s.mean()),
        float(mean_30s_m_s[-1]),
        float(mean_30s_m_s.max()),
        float(_running_mean(t_s, speed_m_s, GUST_S).max()),
        rise,
        direction_shift_deg(t_s, speed_m_s, from_rad),
        _direction_deg(speed_m_s[recent], from_rad[recent]),
    )


def direction_shift_deg(t_s: Floats, speed_m_s: Floats, from_rad: Floats) -> float | None:
    """How far the wind of the last 30 s comes from elsewhere than that of the fifth to second minute before.

    Times (n,) rise and end at 0. Clockwise (veering) is positive, [-180, 180). None when either is too light to
    have a direction, or holds fewer than three readings.
    """
    now = t_s > -LOAD_S + _SAME_TIME_S
    before = (t_s >= -SHIFT_BEFORE_S[0]) & (t_s <= -SHIFT_BEFORE_S[1])
    for part in (now, before):
        if np.count_nonzero(part) < 3 or speed_m_s[part].mean() < SHIFT_LEAST_M_S:
            return None
    return wrap180(
        _direction_deg(speed_m_s[now], from_rad[now]) - _direction_deg(speed_m_s[before], from_rad[before])
    )


def _columns(samples: Sequence[_Sample], end_s: float) -> tuple[Floats, Floats, Floats]:
    """Seconds after `end_s`, m/s at 10 m, direction in radians; each (n,)."""
    rows = np.array([(s.at_s - end_s, s.speed_10m_m_s, s.from_direction_deg) for s in samples])
    return rows[:, 0], rows[:, 1], np.radians(rows[:, 2])


def _direction_deg(speed_m_s: Floats, from_rad: Floats) -> float:
    """Mean direction weighted by speed."""
    weights = speed_m_s + 1e-6
    return wrap360(math.degrees(math.atan2(weights @ np.sin(from_rad), weights @ np.cos(from_rad))))


def _running_mean(t_s: Floats, values: Floats, window_s: float) -> Floats:
    """Mean over (t − window, t] at every sample."""
    total = np.concatenate([[0.0], np.cumsum(values)])
    first = np.searchsorted(t_s, t_s - window_s + _SAME_TIME_S, side="right")
    last = np.arange(1, len(t_s) + 1)
    return np.asarray((total[last] - total[first]) / (last - first))


def _degraded(estimate: WindEstimate, reasons: Sequence[str]) -> WindEstimate:
    return replace(estimate, validity=Validity.DEGRADED, reasons=tuple(reasons))
