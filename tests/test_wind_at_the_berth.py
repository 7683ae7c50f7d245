"""The wind at the berth from an anemometer's readings: gust fronts as in UFC 4-159-03 3-8.2, gust factors against
WMO/TD-1555 and ISO 19901-1, and what is learnt of the berth's own gusts."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from monitor.physics.air import gust_ratio, speed_at_10m, speed_at_height
from monitor.physics.gusts import turbulence_m_s, wind_series
from monitor.records.codec import decode, encode
from monitor.records.estimates import LoadEstimate, Validity, WaterEstimate, WindEstimate
from monitor.records.observations import HeadingReading, WindForecast, WindKind, WindReading
from monitor.watch.estimator import unknown_load
from monitor.watch.gustiness import ENOUGH, SECTORS, Gustiness
from monitor.watch.weather import Weather, direction_shift_deg

BEGIN = datetime(2026, 3, 14, 10, 0, tzinfo=UTC)
MASTHEAD_M = 37.0


def weather() -> Weather:
    return Weather(("masthead",), "off-land", MASTHEAD_M, 40.0, {"masthead": 30.0})


def reading(at_s: float, speed_m_s: float, from_deg: float | None = 240.0, **more: object) -> WindReading:
    at = BEGIN + timedelta(seconds=at_s)
    given = WindReading(at, at, "masthead", WindKind.MEASURED, speed_m_s, from_direction_deg=from_deg)
    return replace(given, **more)  # type: ignore[arg-type]


def heard(speed: Callable[[float], float], direction: Callable[[float], float], until_s: float) -> Weather:
    told = weather()
    for second in np.arange(0.0, until_s + 1e-6, 1.0):
        told.take_wind(reading(float(second), speed(second), direction(second)))
    return told


def now(at_s: float) -> datetime:
    return BEGIN + timedelta(seconds=at_s)


def test_gusts_are_brought_down_from_the_mast_as_gusts() -> None:
    """A gust changes less with height than a mean (ISO 19901-1): each is reduced with its own averaging time."""
    instant, mean = weather(), weather()
    instant.take_wind(reading(0.0, 20.0))
    mean.take_wind(reading(0.0, 15.0, averaging_s=600.0, gust_m_s=20.0))
    by_instant, by_mean = instant.estimate(now(0.0)), mean.estimate(now(0.0))
    assert by_instant.gust_m_s == pytest.approx(speed_at_10m(20.0, MASTHEAD_M, 3.0))
    assert by_mean.gust_m_s == by_instant.gust_m_s
    assert by_mean.mean_m_s == pytest.approx(speed_at_10m(15.0, MASTHEAD_M, 600.0))
    assert by_mean.gust_m_s / 20.0 > by_mean.mean_m_s / 15.0


@pytest.mark.parametrize("height", [-3.0, 0.5, 140.0])
def test_a_mast_outside_the_profile_does_not_stop_the_watch(height: float) -> None:
    told = weather()
    told.take_wind(reading(0.0, 12.0, height_m=height))
    assert told.estimate(now(0.0)).validity is Validity.GOOD


def test_an_anemometer_whose_clock_is_ahead_goes_stale_like_any_other() -> None:
    told = weather()
    for second in range(60):
        at = now(second)
        told.take_wind(reading(second, 12.0, observed_at=at + timedelta(hours=3), received_at=at))
    assert told.estimate(now(60.0)).validity is Validity.GOOD
    assert told.age_s("masthead", now(60.0)) == pytest.approx(1.0)
    assert told.estimate(now(95.0)).validity is Validity.UNKNOWN  # dead for 36 s, stale after 30 s


def test_a_gust_front() -> None:
    """From half the peak to the peak within a minute, the wind 30° elsewhere: UFC 4-159-03 3-8.2 (Guam)."""

    def front(second: float) -> float:
        return float(np.clip((second - 480.0) / 60.0, 0.0, 1.0))

    told = heard(lambda s: 9.0 + 9.0 * front(s), lambda s: 350.0 + 30.0 * front(s), 560.0)
    estimate = told.estimate(now(560.0))
    assert estimate.shift_deg == pytest.approx(30.0, abs=2.0)  # over north, veering
    assert estimate.rise_m_s_min is not None and estimate.rise_m_s_min > 3.5
    before = heard(lambda s: 9.0 + 9.0 * front(s), lambda s: 350.0 + 30.0 * front(s), 470.0).estimate(now(470.0))
    assert before.shift_deg == pytest.approx(0.0, abs=1e-6)
    assert before.rise_m_s_min == pytest.approx(0.0, abs=1e-9)


def test_a_slow_veer_is_no_jump() -> None:
    """A degree a minute: the middles of the two windows lie three and a quarter minutes apart."""
    told = heard(lambda s: 12.0, lambda s: 200.0 + s / 60.0, 600.0)
    shift = told.estimate(now(600.0)).shift_deg
    assert shift == pytest.approx(3.25, abs=0.1)


def test_no_jump_is_told_where_there_is_no_direction() -> None:
    t_s = np.arange(-600.0, 1.0)
    turned = np.where(t_s > -60.0, 1.0, 0.0)
    light = direction_shift_deg(t_s, np.full(t_s.shape, 1.5), turned)
    thin = direction_shift_deg(t_s[::200], np.full(4, 9.0), turned[::200])
    strong = direction_shift_deg(t_s, np.full(t_s.shape, 9.0), -turned)
    assert light is None and thin is None
    assert strong == pytest.approx(-math.degrees(1.0))
    assert heard(lambda s: 9.0, lambda s: 240.0, 60.0).estimate(now(60.0)).shift_deg is None


def test_series_of_the_standard_give_the_gusts_of_the_standard() -> None:
    """Synthetic hours of ISO 19901-1 at the masthead: the estimate's highest short gust and 30 s wind at 10 m lie
    where the standard has those of ten minutes (between the mean and the hour's highest)."""
    at_mast, at_10m = (
        {a: float(speed_at_height(18.0, height, a)) for a in (3600.0, 30.0, 3.0)} for height in (MASTHEAD_M, 10.0)
    )
    tops, gusts = [], []
    for seed in range(12):
        chance = np.random.default_rng(seed)
        deviation = turbulence_m_s(18.0, MASTHEAD_M)
        wind = wind_series(at_mast[3600.0], deviation, 18.0, MASTHEAD_M, 3600.0, 1.0, chance)
        estimate = heard(lambda s, wind=wind: float(wind[int(s)]), lambda s: 240.0, 600.0).estimate(now(600.0))
        assert estimate.speed_30s_m_s is not None and estimate.gust_m_s is not None
        tops.append(estimate.speed_30s_m_s.mid)
        gusts.append(estimate.gust_m_s)
    assert at_10m[3600.0] < np.mean(tops) < at_10m[30.0]
    assert at_10m[30.0] < np.mean(gusts) < at_10m[3.0] * 1.02
    assert np.mean(gusts) > np.mean(tops)


def ten_minutes(ratio: float, mean_m_s: float = 10.0) -> Callable[[float], float]:
    """One gust of 30 s in every ten minutes by the clock, `ratio` times the mean at 10 m."""
    level = (600.0 - 30.0 * ratio) / 570.0

    def at_mast(second: float) -> float:
        at_10m_m_s = mean_m_s * (ratio if 300.0 < second % 600.0 <= 330.0 else level)
        low, high = 0.0, 100.0
        for _ in range(50):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if speed_at_10m(middle, MASTHEAD_M, 3.0) < at_10m_m_s else (low, middle)
        return low

    values = {True: at_mast(310.0), False: at_mast(0.0)}
    return lambda second: values[300.0 < second % 600.0 <= 330.0]


def test_the_berths_own_gusts_are_learnt_by_sector() -> None:
    """A known gust, three hours of it: then that ratio counts, in that sector only, whatever the table says."""
    hours = 600.0 * ENOUGH
    told = heard(ten_minutes(1.5), lambda s: 240.0, hours)
    assert told._ratio_30s("masthead", 600.0, 240.0) == pytest.approx(1.5, abs=0.01)
    assert told._ratio_30s("masthead", 600.0, 250.0) == pytest.approx(1.5, abs=0.01)
    assert told._ratio_30s("masthead", 600.0, 120.0) == gust_ratio(600.0, 30.0, "off-land")
    assert told._ratio_30s("masthead", 120.0, 240.0) == gust_ratio(120.0, 30.0, "off-land")
    assert told._ratio_30s("station", 600.0, 240.0) == gust_ratio(600.0, 30.0, "off-land")
    # A lull in which the gust has not come yet: the band's upper end expects it all the same.
    estimate = told.estimate(now(hours))
    assert estimate.speed_30s_m_s is not None
    assert estimate.speed_30s_m_s.high == pytest.approx(15.0 * (1 + 1.645 * 0.08), rel=0.01)


def test_it_is_not_learnt_from_too_little() -> None:
    table = gust_ratio(600.0, 30.0, "off-land")
    for told in (
        heard(ten_minutes(1.5), lambda s: 240.0, 600.0 * ENOUGH - 1.0),  # one window short
        heard(ten_minutes(1.5, mean_m_s=4.0), lambda s: 240.0, 600.0 * ENOUGH + 1.0),  # light airs
    ):
        assert told._ratio_30s("masthead", 600.0, 240.0) == table
    thin = weather()
    for second in range(0, int(600 * ENOUGH) + 11, 10):
        thin.take_wind(reading(float(second), 20.0 if second % 600 == 300 else 10.0))
    assert thin._ratio_30s("masthead", 600.0, 240.0) == table


def test_sectors() -> None:
    learnt = Gustiness()
    t_s = [float(t) for t in range(600)]
    for _ in range(ENOUGH):
        learnt.learn(t_s, 10.0, 14.0, 359.0)
        learnt.learn(t_s, 10.0, 9.0, 180.0)
    assert SECTORS == 12
    assert learnt.ratio_30s(0.0) == learnt.ratio_30s(345.0) == learnt.ratio_30s(14.9) == pytest.approx(1.4)
    assert learnt.ratio_30s(15.0) is None and learnt.ratio_30s(344.9) is None
    assert learnt.ratio_30s(180.0) == 1.0  # never below the mean


def test_a_source_whose_clock_is_set_back_is_heard_on() -> None:
    told = heard(lambda s: 12.0, lambda s: 240.0, 300.0)
    for second in range(100, 200):
        told.take_wind(reading(float(second), 8.0))
    estimate = told.estimate(now(199.0))
    assert estimate.mean_m_s is not None
    assert 8.0 * 0.9 < estimate.mean_m_s < 12.0
    assert estimate.age_s == 0.0


def test_our_own_clock_set_ages_nothing() -> None:
    told = heard(lambda s: 12.0, lambda s: 240.0, 300.0)
    told.take_heading(HeadingReading(47.0, now(300.0), "gyro"))
    told.take_forecast(WindForecast(now(0.0), now(300.0), "met", ()))
    before = told.estimate(now(300.0))
    told.clock_set(timedelta(hours=1))
    after = told.estimate(now(300.0) + timedelta(hours=1))
    assert after == replace(before, at=after.at)
    assert told._heading_deg(now(300.0) + timedelta(hours=1)) == 47.0
    assert told.forecast is not None and told.forecast.received_at == now(300.0) + timedelta(hours=1)


def test_the_same_readings_give_the_same_estimate() -> None:
    one, other = (heard(ten_minutes(1.4), lambda s: 200.0 + s % 60.0, 1500.0) for _ in range(2))
    assert one.estimate(now(1500.0)) == other.estimate(now(1500.0))


def test_old_records_without_a_jump_are_still_read() -> None:
    wind = WindEstimate(BEGIN, None, None, None, None, None, "", None, Validity.UNKNOWN, ())
    kind, body = encode(
        unknown_load(BEGIN, wind, WaterEstimate(BEGIN, None, None, None, None, Validity.UNKNOWN), ())
    )
    assert '"shift_deg":null' in body
    old = decode(kind, body.replace(',"shift_deg":null', ""))
    assert isinstance(old, LoadEstimate) and old.wind == wind
