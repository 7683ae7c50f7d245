"""Tide and stream by the cosine and by components; the wind's means against pandas, and which wind is believed."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from monitor.base.units import m_s
from monitor.records.estimates import Validity, WaterEstimate, WindEstimate
from monitor.records.observations import HeadingReading, WindForecast, WindKind, WindReading
from monitor.settings.load import load_stay
from monitor.settings.schema import Settings, StreamHour
from monitor.watch.agreement import doubt
from monitor.watch.water import water_at
from monitor.watch.weather import ENTERED_FRESH_S, Weather
from tests.watching import STAY

T0 = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
HIGH = datetime(2026, 3, 14, 14, 10, tzinfo=UTC)  # 3.9 m; low water before it at 08:00, 0.7 m
LOW = datetime(2026, 3, 14, 8, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def settings(config: Path) -> Settings:
    return load_stay(config, STAY)


def water(settings: Settings, at: datetime) -> WaterEstimate:
    return water_at(settings.stay.tide, settings.berth.stream, at)


# --- water ------------------------------------------------------------------------------------------------------


def test_tide_runs_as_a_cosine(settings: Settings) -> None:
    """h(t) = mean − half range × cos(π t/T): half way at half time, 1/2·(1 − cos 60°) = a quarter at a third; near
    the "rule of twelfths" of the seaman's handbooks (1, 2, 3, 3, 2, 1 twelfths an hour; common practice)."""
    rise_m = 3.9 - 0.7

    def risen(share: float) -> float:
        height_m = water(settings, LOW + share * (HIGH - LOW)).height_m
        assert height_m is not None
        return (height_m - 0.7) / rise_m

    assert [risen(share) for share in (0.0, 1 / 3, 0.5, 2 / 3, 1.0)] == pytest.approx([0, 0.25, 0.5, 0.75, 1.0])
    twelfths = np.cumsum([1, 2, 3, 3, 2, 1]) / 12
    assert [risen(k / 6) for k in range(1, 7)] == pytest.approx(twelfths, abs=0.02)


def test_tide_outside_the_table_is_unknown(settings: Settings) -> None:
    first, last = settings.stay.tide[0].at, settings.stay.tide[-1].at
    assert water(settings, first).height_m == pytest.approx(3.8)
    assert water(settings, last).height_m == pytest.approx(0.7)
    for at in (first - timedelta(seconds=1), last + timedelta(seconds=1)):
        outside = water(settings, at)
        assert outside.height_m is None and outside.validity is Validity.UNKNOWN
        assert "no tide entered for this time" in outside.reasons


def test_stream_at_the_rows_and_between(settings: Settings) -> None:
    """Three hours before high water 0.9 kn alongside, 1.9 kn in the fairway, setting 040; between rows that set
    alike in proportion; between rows that set against each other the components cross zero."""
    row = water(settings, HIGH - timedelta(hours=3))
    assert (row.current_m_s, row.fairway_current_m_s) == pytest.approx((m_s(0.9), m_s(1.9)))
    assert row.set_deg == pytest.approx(40.0)
    between = water(settings, HIGH - timedelta(hours=2, minutes=15))  # a quarter of the way back to 0.9 and 1.9
    assert between.fairway_current_m_s == pytest.approx(m_s(1.7 + 0.25 * 0.2))
    turning = [water(settings, HIGH + timedelta(minutes=minute)) for minute in range(0, 61, 5)]
    sets_deg = [each.set_deg for each in turning]
    assert {round(set_deg or 0.0) for set_deg in sets_deg} == {40, 220}
    signed = [
        (each.fairway_current_m_s or 0.0) * (1 if round(each.set_deg or 0) == 40 else -1) for each in turning
    ]
    assert np.diff(signed) == pytest.approx(np.full(12, -m_s(0.2 + 0.9) / 12))


def test_stream_turns_by_components() -> None:
    """From 1 kn north to 1 kn east, half way: √½ kn setting 045 (a plain mean of rates would say 1 kn)."""
    row = {"rate_alongside": "1 kn", "rate_in_fairway": "1 kn"}
    stream = [
        StreamHour.model_validate({"hours_from_high_water": hour, "set": set_to, **row})
        for hour, set_to in ((-6, "0 deg"), (6, "90 deg"))
    ]
    tide = load_stay(Path(__file__).parent.parent / "config", STAY).stay.tide
    half = water_at(tide, stream, HIGH)
    assert half.set_deg == pytest.approx(45.0)
    assert half.current_m_s == pytest.approx(m_s(math.sqrt(0.5)))


def test_stream_far_from_high_water_is_unknown(settings: Settings) -> None:
    """A tide is some 12 h 25 min long, so the rows of ±6 h are held a little longer, and no further."""
    highs = [turn for turn in settings.stay.tide if turn.water == "high"]
    held = water_at(highs[:1], settings.berth.stream, highs[0].at + timedelta(hours=6.5))
    assert held.current_m_s == pytest.approx(m_s(0.3))
    gone = water_at(highs[:1], settings.berth.stream, highs[0].at + timedelta(hours=7))
    assert gone.current_m_s is None and gone.fairway_current_m_s is None
    assert gone.validity is Validity.UNKNOWN and "no stream in the table for this time" in gone.reasons


# --- wind -------------------------------------------------------------------------------------------------------


def weather(**stale_s: float) -> Weather:
    order = ("masthead", "station", "entered", "forecast")
    return Weather(
        order, "off-land", 10.0, 40.0, {"masthead": 30.0, "station": 900.0, "forecast": 10800.0} | stale_s
    )


def reading(at: datetime, speed_m_s: float, source: str = "masthead", **others: object) -> WindReading:
    values: dict[str, object] = {"kind": WindKind.MEASURED, "from_direction_deg": 310.0, "height_m": 10.0} | others
    return WindReading(at, at, source, mean_m_s=speed_m_s, **values)  # type: ignore[arg-type]


def forecast(issued_at: datetime, *speeds_m_s: float) -> WindForecast:
    steps = tuple(
        reading(
            issued_at + timedelta(hours=hour), speed_m_s, "forecast", kind=WindKind.FORECAST, averaging_s=600.0
        )
        for hour, speed_m_s in enumerate(speeds_m_s)
    )
    return WindForecast(issued_at, issued_at, "forecast", steps)


@pytest.mark.parametrize("step_s", [1.0, 2.0, 5.0])
def test_means_and_gusts_are_those_of_pandas(step_s: float) -> None:
    """Rolling means over 3 s and 30 s and the mean of ten minutes, by pandas on the same series."""
    rng = np.random.default_rng(11)
    n = int(900 / step_s)
    speed_m_s = np.abs(12.0 + np.cumsum(rng.normal(0.0, 0.3, n)) + rng.normal(0.0, 1.5, n))
    times = [T0 + timedelta(seconds=step_s * i) for i in range(n)]
    sky = weather()
    for at, each_m_s in zip(times, speed_m_s, strict=True):
        sky.take_wind(reading(at, float(each_m_s)))
    estimate = sky.estimate(times[-1])
    series = pd.Series(speed_m_s, index=pd.DatetimeIndex(times))
    kept = series[series.index >= times[-1] - timedelta(minutes=10)]
    mean_30s = kept.rolling("30s").mean()
    assert estimate.mean_m_s == pytest.approx(kept.mean())
    assert estimate.gust_m_s == pytest.approx(kept.rolling("3s").mean().max())
    assert estimate.speed_30s_m_s is not None
    assert estimate.speed_30s_m_s.mid == pytest.approx(max(mean_30s.max(), mean_30s.iloc[-1]))
    assert estimate.rise_m_s_min == pytest.approx(
        (mean_30s.iloc[-1] - mean_30s[: times[-1] - timedelta(seconds=120)].iloc[-1]) / 2.0, abs=1e-9
    )
    assert estimate.speed_30s_m_s.low < estimate.speed_30s_m_s.mid < estimate.speed_30s_m_s.high


def test_the_first_fresh_source_is_believed() -> None:
    sky = weather()
    assert sky.estimate(T0).validity is Validity.UNKNOWN
    assert sky.estimate(T0).speed_30s_m_s is None
    assert "masthead: never heard" in sky.estimate(T0).reasons
    sky.take_forecast(forecast(T0 - timedelta(hours=1), 7.0, 8.0, 9.0))
    only = sky.estimate(T0)
    assert (only.source, only.validity) == ("forecast", Validity.DEGRADED)
    assert "wind from the forecast only" in only.reasons  # never passed off as a measurement
    sky.take_wind(reading(T0, 11.0, "entered", kind=WindKind.ENTERED, averaging_s=120.0))
    assert sky.estimate(T0).source == "entered"
    sky.take_wind(reading(T0, 12.0, "station", kind=WindKind.REPORTED, averaging_s=600.0))
    assert sky.estimate(T0).source == "station"
    sky.take_wind(reading(T0, 13.0))
    assert (sky.estimate(T0).source, sky.estimate(T0).validity) == ("masthead", Validity.GOOD)


def test_stale_sources_give_way_one_after_the_other() -> None:
    sky = weather()
    sky.take_forecast(forecast(T0, *[9.0] * 30))
    sky.take_wind(reading(T0, 11.0, "entered", kind=WindKind.ENTERED, averaging_s=120.0))
    sky.take_wind(reading(T0, 12.0, "station", kind=WindKind.REPORTED, averaging_s=600.0))
    sky.take_wind(reading(T0, 13.0))
    ages_s = (30.0, 31.0, 900.0, 901.0, ENTERED_FRESH_S, ENTERED_FRESH_S + 1.0)
    used = [sky.estimate(T0 + timedelta(seconds=age_s)) for age_s in ages_s]
    assert [each.source for each in used] == ["masthead", "station", "station", "entered", "entered", "forecast"]
    assert [each.validity for each in used] == [Validity.GOOD] + [Validity.DEGRADED] * 5
    assert "masthead: 31 s old" in used[1].reasons
    assert used[2].age_s == 900.0
    late = sky.estimate(T0 + timedelta(hours=36))  # the last step of the forecast is six hours old by then
    assert late.validity is Validity.UNKNOWN and late.speed_30s_m_s is None


def test_a_reported_mean_is_raised_to_the_30_s_wind() -> None:
    """WMO/TD-1555: a 30 s wind is above the ten-minute mean and below the 3 s gust told with it."""
    sky = weather()
    told = reading(T0, 12.0, "station", kind=WindKind.REPORTED, averaging_s=600.0, gust_m_s=18.0)
    sky.take_wind(told)
    band = sky.estimate(T0).speed_30s_m_s
    assert band is not None and 12.0 < band.mid < 18.0
    sky.take_wind(reading(T0, 12.0, "entered", kind=WindKind.ENTERED, averaging_s=120.0))
    assert sky.estimate(T0).gust_m_s == pytest.approx(18.0)  # as told: no gust factor is put on a gust


def test_relative_wind_is_turned_by_a_fresh_heading_or_the_berths() -> None:
    """MWV R counts clockwise from the bow."""
    sky = weather()
    sky.take_heading(HeadingReading(55.0, T0, "gyro"))
    relative = {"from_direction_deg": None, "off_bow_deg": 350.0}
    sky.take_wind(reading(T0, 10.0, **relative))
    assert sky.estimate(T0).from_direction_deg == pytest.approx(45.0)
    later = T0 + timedelta(minutes=12)
    sky.take_wind(reading(later, 10.0, **relative))
    assert sky.estimate(later).from_direction_deg == pytest.approx(30.0)  # she lies 040


def test_a_heading_that_contradicts_the_berth_turns_no_wind() -> None:
    """A gyro that stands at 220 in a ship that lies 040 would make the wind on her starboard bow blow on her port
    quarter. Once she has left, it is the gyro that knows."""

    def turned(alongside: bool) -> WindEstimate:
        sky = weather()
        sky.take_heading(HeadingReading(220.0, T0, "gyro"), alongside)
        sky.take_wind(reading(T0, 10.0, from_direction_deg=None, off_bow_deg=50.0))
        return sky.estimate(T0)

    told = turned(alongside=True)
    assert told.from_direction_deg == pytest.approx(90.0)
    assert told.validity is Validity.DEGRADED and "220" in doubt(told.reasons)
    assert turned(alongside=False).from_direction_deg == pytest.approx(270.0)
    assert not doubt(turned(alongside=False).reasons)
