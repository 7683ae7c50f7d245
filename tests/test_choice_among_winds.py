"""Which wind is believed, and why: timelines of two anemometers, a hand entry and a forecast.

The rules are ours (judgement); each test states the fact of the trade that it stands for.
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from monitor.records.estimates import Validity
from monitor.records.observations import HeadingReading, WindForecast, WindKind, WindReading
from monitor.watch.agreement import STILL_S, stands_still
from monitor.watch.weather import Weather

T0 = datetime(2026, 3, 14, 10, 0, tzinfo=UTC)
ORDER = ("mast", "bow", "entered", "forecast")


def weather() -> Weather:
    return Weather(ORDER, "in-land", 30.0, 90.0, {"mast": 30.0, "bow": 30.0, "forecast": 10_800.0})


def gusting(mean_m_s: float, second: int) -> float:
    """A wind that is never the same twice."""
    return mean_m_s * (1.0 + 0.1 * math.sin(second / 7.0) + 0.05 * math.sin(second / 1.3))


def blow(w: Weather, source: str, mean_m_s: float, from_deg: float, seconds: range, still: bool = False) -> None:
    for second in seconds:
        at = T0 + timedelta(seconds=second)
        speed_m_s = mean_m_s if still else gusting(mean_m_s, second)
        turn_deg = 0.0 if still else 3.0 * math.sin(second / 5.0)
        w.take_wind(
            WindReading(
                at, at, source, WindKind.MEASURED, speed_m_s, from_direction_deg=(from_deg + turn_deg) % 360.0
            )
        )


def at(second: int) -> datetime:
    return T0 + timedelta(seconds=second)


def test_the_first_that_is_fresh_and_when_it_falls_silent_the_next() -> None:
    w = weather()
    blow(w, "mast", 10.0, 240.0, range(300))
    blow(w, "bow", 10.0, 240.0, range(400))
    assert w.estimate(at(300)).source == "mast" and w.estimate(at(300)).reasons == ()
    assert dict(w.choices(at(300))) == {
        "mast": "in use",
        "bow": "good, not needed",
        "entered": "never heard",
        "forecast": "never heard",
    }
    later = w.estimate(at(399))
    assert (later.source, later.validity, later.reasons) == ("bow", Validity.DEGRADED, ("mast: 100 s old",))
    blow(w, "mast", 10.0, 240.0, range(400, 402))
    assert w.estimate(at(402)).source == "mast"


def test_an_anemometer_that_stands_still_is_not_believed() -> None:
    """A seized bearing or a frozen logger repeats its last value; a wind at a berth never does."""
    w = weather()
    blow(w, "mast", 10.0, 240.0, range(300))
    blow(w, "mast", 4.0, 240.0, range(300, 700), still=True)
    blow(w, "bow", 14.0, 250.0, range(700))
    estimate = w.estimate(at(700))
    assert estimate.source == "bow" and "has shown the same figures for 4 min" in estimate.reasons[0]
    alone = weather()
    blow(alone, "mast", 4.0, 240.0, range(700), still=True)
    last_resort = alone.estimate(at(700))
    assert last_resort.validity is Validity.DEGRADED and "same figures" in last_resort.reasons[0]


def test_no_wind_at_all_beside_another_that_has_some() -> None:
    """An iced cup shows a calm. Alone it may be one."""
    w = weather()
    blow(w, "mast", 0.0, 0.0, range(300), still=True)
    assert w.estimate(at(300)).source == "mast"
    blow(w, "bow", 9.0, 240.0, range(300))
    estimate = w.estimate(at(300))
    assert estimate.source == "bow" and "shows no wind at all" in estimate.reasons[0]


def test_two_that_differ_are_told_and_the_band_reaches_the_stronger() -> None:
    w = weather()
    blow(w, "mast", 8.0, 240.0, range(300))
    agreed = w.estimate(at(300))
    blow(w, "bow", 16.0, 240.0, range(300))
    estimate = w.estimate(at(300))
    assert estimate.source == "mast" and estimate.validity is Validity.DEGRADED
    assert "mast shows 1" in estimate.reasons[-1] and "one of them is wrong" in estimate.reasons[-1]
    assert estimate.speed_30s_m_s is not None and agreed.speed_30s_m_s is not None
    assert estimate.speed_30s_m_s.mid == agreed.speed_30s_m_s.mid
    assert estimate.speed_30s_m_s.high > 16.0 > agreed.speed_30s_m_s.high


@pytest.mark.parametrize(
    ("mean_m_s", "from_deg", "told"),
    [(10.5, 240.0, False), (10.0, 262.0, False), (10.0, 300.0, True), (14.9, 240.0, True)],
)
def test_how_far_two_may_differ(mean_m_s: float, from_deg: float, told: bool) -> None:
    w = weather()
    blow(w, "mast", 10.0, 240.0, range(300))
    blow(w, "bow", mean_m_s, from_deg, range(300))
    assert bool(w.estimate(at(300)).reasons) is told


def test_light_airs_may_come_from_anywhere() -> None:
    w = weather()
    blow(w, "mast", 2.0, 240.0, range(300))
    blow(w, "bow", 2.0, 60.0, range(300))
    assert w.estimate(at(300)).reasons == ()


def test_a_forecast_serves_last_and_says_so() -> None:
    w = weather()
    step = WindReading(T0, T0, "forecast", WindKind.FORECAST, 12.0, 17.0, 240.0, None, 600.0, 10.0)
    w.take_forecast(WindForecast(T0, T0, "forecast", (step,)))
    estimate = w.estimate(at(60))
    assert estimate.source == "forecast" and estimate.validity is Validity.DEGRADED
    assert estimate.reasons[-1] == "wind from the forecast only"


def test_a_gust_is_made_from_the_short_history() -> None:
    """A feed that sends no gust: the highest 3 s mean of ten minutes (WMO-No. 8: gust is a 3 s mean)."""
    w = weather()
    for second in range(600):
        speed_m_s = 18.0 if 300 <= second < 303 else gusting(8.0, second)
        reading = WindReading(at(second), at(second), "mast", WindKind.MEASURED, speed_m_s, None, 240.0)
        w.take_wind(reading)
    estimate = w.estimate(at(600))
    assert estimate.gust_m_s is not None and estimate.mean_m_s is not None
    assert estimate.gust_m_s > 1.7 * estimate.mean_m_s


def test_standing_still_needs_time_and_readings() -> None:
    same = [(float(second), (5.0, None, 240.0)) for second in range(int(STILL_S) + 1)]
    assert stands_still(same)
    assert not stands_still(same[1:])  # too short
    assert not stands_still(same[::30])  # too few: a slow feed may repeat itself
    assert not stands_still([(at_s, (0.0, None, 240.0)) for at_s, _ in same])  # a calm
    assert not stands_still([*same[:-10], (same[-10][0], (5.1, None, 240.0)), *same[-9:]])


def test_a_frozen_anemometer_is_seen_through_a_yawing_gyro_and_two_forms() -> None:
    """A logger that repeats its last MWV and its last MWD while the heading goes on living: turned to true, no two
    of the winds are the same."""
    w = weather()
    for second in range(700):
        now = at(second)
        w.take_heading(HeadingReading(90.0 + 0.4 * math.sin(second / 5.0), now, "mast"))
        measured = WindReading(now, now, "mast", WindKind.MEASURED, 4.0)
        w.take_wind(replace(measured, off_bow_deg=150.0))
        w.take_wind(replace(measured, mean_m_s=4.1, from_direction_deg=241.0))
    blow(w, "bow", 14.0, 250.0, range(700))
    assert w.estimate(at(700)).source == "bow"
