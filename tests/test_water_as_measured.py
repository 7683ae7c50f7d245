"""Loads take the water as it is measured; without a gauge nothing changes; a gauge that fails is told and left.

The carrying of a gauge's difference from the tables over the hours is checked against a month of heights measured
at Seattle (NOAA CO-OPS 9447130, January 2015), where the reference data are at hand.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from monitor.base.units import m_s
from monitor.intake.met import Reply, encode
from monitor.records.estimates import Validity
from monitor.records.events import Action, Beat, ClockStepped, OperatorAction, RawReading, Started
from monitor.records.observations import WaterReading
from monitor.run.pipeline import Pipeline
from monitor.settings.load import load_stay
from monitor.settings.schema import Settings
from monitor.watch import stay
from monitor.watch.gauges import Gauges
from monitor.watch.moored import Moored
from monitor.watch.water import LEVEL_LASTS, MEASURED_FRESH, OffTables, water_at
from tests.composed import sealed
from tests.test_signal_k_against_its_server import delta
from tests.watching import STAY

T0 = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def settings(config: Path) -> Settings:
    found = load_stay(config, STAY)
    anemometer = next(feed for feed in found.stay.feeds if feed.carries == "nmea")
    gauge = anemometer.model_copy(update={"name": "gauge", "carries": "co-ops water level", "stale_after": 1200.0})
    meter = anemometer.model_copy(update={"name": "meter", "carries": "signal k", "stale_after": 60.0})
    feeds = (*found.stay.feeds, gauge, meter)
    return found.model_copy(update={"stay": found.stay.model_copy(update={"feeds": feeds})})


def gauged(settings: Settings) -> Gauges:
    moored = Moored(settings)
    return Gauges(moored.water, {feed.name: feed.stale_after for feed in settings.stay.feeds})


def level(settings: Settings, at: datetime, above_m: float, source: str = "gauge") -> WaterReading:
    tables = water_at(settings.stay.tide, settings.berth.stream, at)
    assert tables.height_m is not None
    return WaterReading(at, at + timedelta(seconds=90), source, height_m=tables.height_m + above_m)


def test_the_level_measured_is_the_level_used_and_dies_away(settings: Settings) -> None:
    gauges = gauged(settings)
    gauges.take(level(settings, T0, 0.6))
    off = gauges.off(T0)
    for hours, left in ((0.0, 1.0), (1.0, math.exp(-1 / 24)), (3.0, math.exp(-3 / 24))):
        at = T0 + timedelta(hours=hours)
        tables = water_at(settings.stay.tide, settings.berth.stream, at)
        measured = water_at(settings.stay.tide, settings.berth.stream, at, off)
        assert tables.height_m is not None and measured.height_m is not None
        assert measured.height_m - tables.height_m == pytest.approx(0.6 * left, abs=0.006)
        assert (tables.level_source, measured.level_source) == ("", "gauge")
        assert replace(measured, height_m=tables.height_m, level_source="") == tables  # the stream is left alone


@pytest.mark.parametrize("ahead", [timedelta(minutes=2), timedelta(hours=5)])
def test_a_gauge_whose_clock_is_ahead_is_neither_fresh_for_ever_nor_deaf(
    settings: Settings, ahead: timedelta
) -> None:
    gauges, wrong = gauged(settings), level(settings, T0, 0.6)
    gauges.take(replace(wrong, observed_at=T0 + ahead, received_at=T0))
    gauges.take(WaterReading(T0 + ahead, T0, "meter", current_m_s=0.8, set_deg=45.0))
    off = gauges.off(T0)
    assert off is not None and off.level_at == off.stream_at == T0
    assert gauges.off(T0 + MEASURED_FRESH + timedelta(seconds=1)) is None
    later = T0 + timedelta(minutes=6)
    gauges.take(level(settings, later, 0.2))
    off = gauges.off(later + timedelta(seconds=90))
    assert off is not None and off.above_m == pytest.approx(0.2, abs=0.006)


def test_the_stream_measured_is_the_stream_alongside_and_not_the_fairways(settings: Settings) -> None:
    """By components: 1.5 kn to the north-east measured, whatever the table has; after hours the table rules, and
    the load of what is left open reaches further."""
    gauges = gauged(settings)
    gauges.take(WaterReading(T0, T0, "meter", current_m_s=m_s(1.5), set_deg=45.0))
    off = gauges.off(T0)
    tables = water_at(settings.stay.tide, settings.berth.stream, T0)
    now = water_at(settings.stay.tide, settings.berth.stream, T0, off)
    assert now.current_m_s == pytest.approx(m_s(1.5), abs=0.01)
    assert now.alongside_deg == pytest.approx(45.0, abs=1.0) and now.stream_source == "meter"
    assert (now.set_deg, now.fairway_current_m_s) == (tables.set_deg, tables.fairway_current_m_s)
    assert now.stream_doubt == 0.0
    later_at = T0 + timedelta(hours=1)
    later = water_at(settings.stay.tide, settings.berth.stream, later_at, off)
    assert later.stream_doubt > 0.1
    much_later = water_at(settings.stay.tide, settings.berth.stream, T0 + timedelta(hours=5), off)
    by_tables = water_at(settings.stay.tide, settings.berth.stream, T0 + timedelta(hours=5))
    assert much_later.current_m_s == pytest.approx(by_tables.current_m_s, abs=0.1 * m_s(1.5))


def test_beyond_the_tables_a_gauge_tells_the_half_hour(settings: Settings) -> None:
    end = settings.stay.tide[-1].at + timedelta(hours=1)
    gauges = gauged(settings)
    gauges.take(WaterReading(end, end, "gauge", height_m=2.2))
    gauges.take(WaterReading(end, end, "meter", current_m_s=0.4, set_deg=220.0))
    for after, known in ((timedelta(0), True), (MEASURED_FRESH, True), (2 * MEASURED_FRESH, False)):
        water = water_at(settings.stay.tide, settings.berth.stream, end + after, gauges.off(end))
        assert (water.height_m == 2.2) is known
        assert (water.height_m is None) is not known
        assert (water.validity is Validity.UNKNOWN) is (not known or water.current_m_s is None)


@pytest.mark.parametrize(
    ("readings", "why"),
    [
        ([(0, 3.4)], "3.4 m off the tables"),
        ([(0, 0.0), (10, None), (20, None), (40, None)], "has shown the same height for 30 min"),
    ],
)
def test_a_gauge_that_cannot_be_believed_is_not_used_and_told(
    settings: Settings, readings: Sequence[tuple[int, float | None]], why: str
) -> None:
    """3 m is the surge of 1953 (from memory); a float that sticks shows the same while the tide runs."""
    gauges, last = gauged(settings), 0.0
    at = T0
    for minutes, above_m in readings:
        at = T0 + timedelta(minutes=minutes)
        if above_m is None:
            gauges.take(WaterReading(at, at, "gauge", height_m=last))
        else:
            reading = level(settings, at, above_m)
            last = reading.height_m or 0.0
            gauges.take(reading)
    assert gauges.off(at) is None
    told = gauges.told(at)
    assert told is not None and "not used" in told[1] and why in told[1]
    gauges.take(level(settings, at, 0.1, "meter"))  # another that can be
    off = gauges.off(at)
    assert off is not None and off.level_source == "meter"


def test_the_first_of_the_stay_is_believed_until_it_is_stale(settings: Settings) -> None:
    gauges = gauged(settings)
    gauges.take(level(settings, T0, 0.3))
    gauges.take(level(settings, T0, 0.7, "meter"))
    for after_s, source in ((0, "gauge"), (1200, "gauge"), (1201, None)):
        off = gauges.off(T0 + timedelta(seconds=after_s))
        assert (None if off is None else off.level_source) == source


def test_lines_tended_at_the_surge_are_not_loaded_by_it(settings: Settings) -> None:
    """Half a metre more water than the tables: a line tended in it carries no more for it than one tended by the
    tables at the tables; one tended before, without a gauge, is supposed to have been tended in most of it."""
    moored, state = Moored(settings), stay.begin(settings.stay)
    off = OffTables(height_m=3.0, above_m=0.5, level_at=T0, level_source="gauge")
    line = moored.names[0]
    tend = OperatorAction("HB", Action.LINE, line, (("state", "tended"),))
    dry, wet = stay.apply(state, tend, T0), stay.apply(replace(state, off=off), tend, T0)
    assert dry.tended[line].above_tables_m is None and wet.tended[line].above_tables_m == 0.5
    (_, then_dry), (_, then_wet) = moored.tended(dry)[0], moored.tended(wet)[0]
    assert (then_dry, then_wet) == (0.0, 0.5)
    hours = (T0 - settings.stay.tended_at) / timedelta(hours=1)
    assert moored.tended(wet)[1][1] == pytest.approx(0.5 * math.exp(-hours / 24), abs=0.05)
    for each in (dry, wet):
        holding = moored.holding(each)
        risen = holding.risen(each, moored.water(T0, each))
        assert (risen.fairlead_height_m - holding.mooring.fairlead_height_m)[0] == pytest.approx(0.0)


def driven(settings: Settings, above_m: float | None, minutes: int = 6) -> Pipeline:
    """A watch with wind; a gauge every six minutes when `above_m` is given."""
    pipeline, now = Pipeline(settings), T0
    pipeline.handle(now, Started("test"))
    for second in range(60 * minutes):
        now = T0 + timedelta(seconds=second + 1)
        pipeline.handle(now, RawReading("anemometer", sealed("$WIMWV,90.0,R,10.0,M,A")))
        if above_m is not None and second % 360 == 0:
            height_m = level(settings, now, above_m).height_m
            record = {"t": f"{now:%Y-%m-%d %H:%M}", "v": f"{height_m:.3f}", "s": "0.010", "f": "0,0,0,0"}
            body = json.dumps({"data": [record]})
            pipeline.handle(now, RawReading("gauge", encode(Reply(200, {}, body))))
        pipeline.handle(now, Beat())
    return pipeline


def test_loads_and_outlook_name_the_gauge(settings: Settings) -> None:
    by_tables, by_gauge = driven(settings, None), driven(settings, 0.4)
    assert by_tables.estimate is not None and by_gauge.estimate is not None
    assert by_tables.estimate.water.level_source == "" and by_tables.stay.off is None
    water = by_gauge.estimate.water
    assert water.level_source == "gauge"
    assert water.height_m == pytest.approx((by_tables.estimate.water.height_m or 0.0) + 0.4, abs=0.03)
    tensions = [[line.tension_n.mid for line in each.estimate.lines] for each in (by_tables, by_gauge)]
    assert tensions[0] != tensions[1]
    assert "own:water" not in by_gauge.situations  # under half a metre: used, not told


def test_a_set_clock_ages_no_gauge_of_ours(settings: Settings) -> None:
    """A meter's reading has our stamp; a station's measurement its own time."""
    pipeline = driven(settings, None, minutes=1)
    now = T0 + timedelta(minutes=1)
    pipeline.handle(
        now,
        RawReading(
            "meter",
            delta({"environment.current": {"drift": 0.7, "setTrue": 0.7}}, at=f"{now:%Y-%m-%dT%H:%M:%S.000Z}"),
        ),
    )
    pipeline.handle(now + timedelta(seconds=6), Beat())
    assert pipeline.stay.off is not None
    set_to = now + timedelta(hours=2, seconds=7)
    pipeline.handle(set_to, ClockStepped(7200.0))
    pipeline.handle(set_to + timedelta(seconds=6), Beat())
    assert pipeline.stay.off is not None and pipeline.stay.off.stream_at is not None
    assert set_to - pipeline.stay.off.stream_at < timedelta(seconds=30)


def test_a_month_at_seattle(shared: Path) -> None:
    """What carrying the difference on is worth: rms of the height h hours after it was measured, by tables alone
    and with the difference dying away over LEVEL_LASTS."""
    pytest.importorskip("utide")
    import gzip

    from monitor.intake.tide import coops_station, heights_m

    folder = shared / "data" / "met"
    with gzip.open(folder / "coops_water_level_9447130_2015-01.json.gz") as file:
        rows = json.load(file)["data"]
    times = [datetime.fromisoformat(row["t"]).replace(tzinfo=UTC) for row in rows]
    station = coops_station((folder / "coops_mdapi_station_9447130_expanded.json").read_text())
    off_m = np.array([float(row["v"]) for row in rows]) - heights_m(station, times)
    for hours, at_most in ((1, 0.3), (3, 0.55), (12, 0.85), (24, 0.85)):
        steps = 10 * hours
        left = math.exp(-timedelta(hours=hours) / LEVEL_LASTS)
        carried = off_m[steps:] - left * off_m[:-steps]
        assert np.sqrt(np.mean(carried**2)) < at_most * np.sqrt(np.mean(off_m[steps:] ** 2)), hours
