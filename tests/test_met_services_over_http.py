"""CO-OPS, NWS, Open-Meteo and METAR over a real HTTP server on loopback, and forecasts put there by hand.

Forms of the replies: the recorded ones of ../shared/data/met when present (NOAA CO-OPS, NWS, Open-Meteo: see the
README there), and short ones of our own making in the same forms, with the figures of the recorded ones where
they say so.
"""

from __future__ import annotations

import json
import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest

from monitor.base.units import KNOT_M_S
from monitor.intake import collector
from monitor.intake.collector import read_feed
from monitor.intake.collector_services import MetPoll
from monitor.intake.met import Reply, encode
from monitor.intake.met.services import SERVICES
from monitor.intake.parser import Intake
from monitor.records.events import RawReading, SourceStatus
from monitor.records.observations import (
    AirReading,
    Observation,
    Refusal,
    Refused,
    WaterReading,
    WindForecast,
    WindKind,
    WindReading,
)
from monitor.settings.schema import Feed
from tests.composed import NOW, OWN

AT = datetime(2026, 3, 14, 9, 18, tzinfo=UTC)
COOPS_WIND = {
    "metadata": {"id": "9447130", "name": "Seattle", "lat": "47.6026", "lon": "-122.3393"},
    "data": [
        {"t": "2026-03-14 09:12", "s": "8.10", "d": "211.00", "dr": "SSW", "g": "11.20", "f": "0,0"},
        {"t": "2026-03-14 09:24", "s": "48.10", "d": "", "dr": "", "g": "", "f": "1,0"},  # maximum exceeded
        {"t": "2026-03-14 09:18", "s": "9.30", "d": "227.00", "dr": "SW", "g": "13.40", "f": "0,0"},
    ],
}
NWS = {
    "properties": {
        "timestamp": "2026-03-14T09:18:00+00:00",
        "windSpeed": {"unitCode": "wmoUnit:km_h-1", "value": 36, "qualityControl": "V"},
        "windDirection": {"unitCode": "wmoUnit:degree_(angle)", "value": 360, "qualityControl": "V"},
        "windGust": {"unitCode": "wmoUnit:km_h-1", "value": None, "qualityControl": "Z"},
        "temperature": {"unitCode": "wmoUnit:degC", "value": 10, "qualityControl": "V"},
        "barometricPressure": {"unitCode": "wmoUnit:Pa", "value": 101860, "qualityControl": "V"},
        "relativeHumidity": {"unitCode": "wmoUnit:percent", "value": 75.0, "qualityControl": "V"},
    }
}
OPEN_METEO = {
    "utc_offset_seconds": 0,
    "hourly_units": {"time": "iso8601", "wind_speed_10m": "m/s", "wind_gusts_10m": "m/s"},
    "hourly": {
        "time": ["2026-03-14T09:00", "2026-03-14T10:00", "2026-03-14T11:00"],
        "wind_speed_10m": [9.5, None, 11.0],
        "wind_direction_10m": [241, 250, 360],
        "wind_gusts_10m": [15.1, 16.0, None],
    },
}


@contextmanager
def served(*answers: tuple[int, dict[str, str], str]) -> Iterator[tuple[str, list[tuple[str, dict[str, str]]]]]:
    """A service that gives these answers in turn; its address, and what it was asked."""
    asked: list[tuple[str, dict[str, str]]] = []
    waiting = list(answers)

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append((self.path, dict(self.headers)))
            status, headers, body = waiting.pop(0) if len(waiting) > 1 else waiting[0]
            self.send_response(status)
            for name, value in {"Content-Length": str(len(body.encode())), **headers}.items():
                self.send_header(name, value)
            self.end_headers()
            self.wfile.write(body.encode())

        def log_message(self, *_: object) -> None:
            """Quiet."""

    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        thread = threading.Thread(target=server.serve_forever, args=(0.02,))
        thread.start()
        try:
            yield f"http://127.0.0.1:{server.server_port}", asked
        finally:
            server.shutdown()
            thread.join()


def feed(carries: str, to: str, over: str = "http", **more: Any) -> Feed:
    fields = {"name": "met", "carries": carries, "over": over, "to": to, "stale_after": "3 h", **more}
    if over == "http":
        fields |= {"contact": "watch@example.invalid", "every": "10 min"}
    return Feed.model_validate(fields)


def told(
    carries: str, *answers: tuple[int, dict[str, str], str]
) -> tuple[list[Observation], list[Any], list[Any]]:
    """What the first answer says through the whole intake; every status told; what was asked."""
    with served(*answers) as (address, asked):
        records: list[Any] = []
        station = {"station": "KSEA"} if carries in ("co-ops wind", "co-ops water level", "nws", "metar") else {}
        poll = MetPoll(feed(carries, address, **station), 47.602611111, -122.3393, records.append)
        for _ in answers:
            poll.poll(NOW)
    intake = Intake({"met": carries}, OWN)
    raw = [record for record in records if isinstance(record, RawReading)]
    said = intake.parse("met", raw[0].text, NOW) if raw else []
    return said, [r for r in records if isinstance(r, SourceStatus)], asked


def parsed(carries: str, body: object, status: int = 200) -> tuple[Observation, ...]:
    text = body if isinstance(body, str) else json.dumps(body)
    return SERVICES[carries].parse(Reply(status, {}, text), NOW, "met")


# --- CO-OPS -----------------------------------------------------------------------------------------------------


def test_coops_wind_is_text_and_the_newest_whole_record_counts() -> None:
    said, statuses, asked = told("co-ops wind", (200, {}, json.dumps(COOPS_WIND)))
    assert said == [
        WindReading(AT, NOW, "met", WindKind.REPORTED, 9.3, 13.4, 227.0, averaging_s=120.0),
    ]
    assert [status.up for status in statuses] == [True]
    query = {name: value for name, (value,) in parse_qs(urlsplit(asked[0][0]).query).items()}
    assert (query["units"], query["time_zone"], query["product"]) == ("metric", "gmt", "wind")
    assert query["station"] == "KSEA" and "watch@example.invalid" in asked[0][1]["User-Agent"]


@pytest.mark.parametrize("carries", ["co-ops wind", "co-ops water level"])
def test_coops_tells_errors_with_a_good_status(carries: str) -> None:
    """The error's words as recorded from the service in 2018 and 2026."""
    words = "No data was found. This product may not be offered at this station at the requested time."
    error = json.dumps({"error": {"message": words}})
    said, statuses, _ = told(carries, (200, {"Content-Type": "text/html"}, error), (200, {}, error))
    assert isinstance(said[0], Refused) and said[0].reason is Refusal.ERROR_REPLY and words[:60] in said[0].detail
    assert [status.up for status in statuses] == [False]  # told once


def test_coops_predictions_are_no_measurement() -> None:
    (said,) = parsed("co-ops water level", {"predictions": [{"t": "2026-03-14 09:00", "v": "1.041"}]})
    assert isinstance(said, Refused) and "predictions" in said.detail


@pytest.mark.parametrize(
    ("carries", "record"),
    [
        ("co-ops wind", {"v": "1.320", "s": "0.000", "f": "0,0,0,0", "q": "v"}),  # a level: no calm
        ("co-ops water level", {"v": "30.1", "f": "0,0,0"}),  # a temperature: no flood
    ],
)
def test_coops_another_product_is_no_measurement(carries: str, record: dict[str, str]) -> None:
    """Records as those of Naples (noaa_coops project) and Vaca Key (rnoaa) of 2021 and 2014 are."""
    (said,) = parsed(carries, {"data": [{"t": "2026-03-14 09:18", **record}]})
    assert isinstance(said, Refused) and said.reason is Refusal.ERROR_REPLY


def test_coops_water_level(shared: Path) -> None:
    """Two records of Naples, 1 January 2021, as recorded (noaa_coops project): 1.320 m and 1.279 m."""
    text = (shared / "data" / "met" / "coops_product_within_region_metadata.json").read_text()
    (said,) = parsed("co-ops water level", text)
    assert said == WaterReading(datetime(2021, 1, 1, 0, 6, tzinfo=UTC), NOW, "met", 1.279)


@pytest.mark.parametrize(
    ("flags", "good"), [("0,0,0,0", True), ("3,0,0,0", True), ("0,1,0,0", False), ("0,0,0,1", False)]
)
def test_coops_water_level_flags(flags: str, good: bool) -> None:
    """The first is a count of outliers; flat, rate and limit spoil the value (CO-OPS response help)."""
    (said,) = parsed(
        "co-ops water level", {"data": [{"t": "2026-03-14 09:18", "v": "-0.4", "s": "0.0", "f": flags, "q": "p"}]}
    )
    assert isinstance(said, WaterReading) is good


# --- NWS --------------------------------------------------------------------------------------------------------


def test_nws_values_by_the_unit_they_name() -> None:
    said, _, asked = told("nws", (200, {}, json.dumps(NWS)))
    assert said == [
        WindReading(AT, NOW, "met", WindKind.REPORTED, pytest.approx(10.0), None, 0.0, None, 120.0, 10.0),
        AirReading(NOW, "met", pytest.approx(283.15), 101860.0, 0.75),
    ]
    assert asked[0][0] == "/stations/KSEA/observations/latest"


def test_nws_older_replies_are_text_in_other_units(shared: Path) -> None:
    """Every value "10" as text, wind in unit:m_s-1 (a fixture of the pynws project)."""
    text = (shared / "data" / "met" / "nws_stations_observations_strings.json").read_text()
    wind, air = parsed("nws", text)
    assert isinstance(wind, WindReading) and (wind.mean_m_s, wind.from_direction_deg) == (10.0, 10.0)
    assert isinstance(air, AirReading) and air.pressure_pa == 100000.0


def test_nws_recorded_replies(shared: Path) -> None:
    """Station KFLL on 2 March 2022: 7.56 km/h from 020, no gust; the newest of an unsorted list; none in an
    empty one.
    """
    met = shared / "data" / "met"
    wind = parsed("nws", (met / "nws_stations_observations_latest.json").read_text())[0]
    assert isinstance(wind, WindReading) and wind.mean_m_s == pytest.approx(2.1) and wind.gust_m_s is None
    text = (met / "nws_stations_observations_multiple_unsorted.json").read_text()
    times = [feature["properties"]["timestamp"] for feature in json.loads(text)["features"]]
    newest = parsed("nws", text)[0]
    assert isinstance(newest, WindReading | AirReading)
    if isinstance(newest, WindReading):
        assert newest.observed_at == max(datetime.fromisoformat(time) for time in times)
    (none,) = parsed("nws", (met / "nws_stations_observations_empty.json").read_text())
    assert isinstance(none, Refused)


@pytest.mark.parametrize(
    ("change", "kinds"),
    [
        ({"windSpeed": {"unitCode": "wmoUnit:km_h-1", "value": None}}, [AirReading]),
        ({"windSpeed": {"unitCode": "wmoUnit:furlong", "value": 3}}, [AirReading]),
        ({"windSpeed": {"unitCode": "wmoUnit:km_h-1", "value": 36, "qualityControl": "X"}}, [AirReading]),
        ({"windSpeed": {"unitCode": "unit:m_s-1", "value": "8.0", "qualityControl": "qc:Q"}}, [AirReading]),
        ({"windSpeed": {"unitCode": "wmoUnit:km_h-1", "value": 1e9, "qualityControl": "V"}}, [AirReading]),
        ({name: None for name in NWS["properties"] if name != "timestamp"}, [Refused]),
        ({"timestamp": "yesterday"}, [Refused]),
    ],
)
def test_nws_nulls_other_units_and_bad_marks(change: dict[str, Any], kinds: list[type]) -> None:
    assert [type(each) for each in parsed("nws", {"properties": NWS["properties"] | change})] == kinds


# --- Open-Meteo -------------------------------------------------------------------------------------------------


def test_open_meteo_asks_for_si_and_utc_and_leaves_holes_out() -> None:
    said, _, asked = told("open-meteo", (200, {}, json.dumps(OPEN_METEO)))
    (forecast,) = said
    assert isinstance(forecast, WindForecast)
    assert [(s.observed_at.hour, s.mean_m_s, s.gust_m_s, s.from_direction_deg) for s in forecast.steps] == [
        (9, 9.5, 15.1, 241.0),
        (11, 11.0, None, 0.0),
    ]
    assert {step.kind for step in forecast.steps} == {WindKind.FORECAST}
    query = {name: value for name, (value,) in parse_qs(urlsplit(asked[0][0]).query).items()}
    assert (query["wind_speed_unit"], query["timezone"], query["latitude"]) == ("ms", "UTC", "47.6026")


def test_open_meteo_older_names_local_time_and_km_h() -> None:
    """Names before 2023, the service's default unit, and local time with its offset, as in the recorded
    fixture.
    """
    body = {
        "utc_offset_seconds": 3600,
        "hourly_units": {"windspeed_10m": "km/h", "windgusts_10m": "km/h"},
        "hourly": {
            "time": ["2021-11-24T23:00"],
            "windspeed_10m": [36.0],
            "winddirection_10m": [168],
            "windgusts_10m": [54.0],
        },
    }
    (forecast,) = parsed("open-meteo", body)
    assert isinstance(forecast, WindForecast)
    (step,) = forecast.steps
    assert step.observed_at == datetime(2021, 11, 24, 22, tzinfo=UTC)
    assert (step.mean_m_s, step.gust_m_s) == (pytest.approx(10.0), pytest.approx(15.0))


@pytest.mark.parametrize(
    ("change", "told_words"),
    [
        ({"error": True, "reason": "Latitude must be in range"}, "Latitude must be in range"),
        ({"hourly_units": {"wind_speed_10m": "Bft"}}, "is in Bft"),
        ({"utc_offset_seconds": "CET"}, "no offset"),
        ({"hourly": {"time": ["2026-03-14T09:00"], "wind_speed_10m": [1.0, 2.0]}}, "unlike length"),
        ({"hourly": {"time": [], "wind_speed_10m": []}}, "no wind"),
        ({"hourly": 3}, "another form"),
    ],
)
def test_open_meteo_faults(change: dict[str, Any], told_words: str) -> None:
    (said,) = parsed("open-meteo", OPEN_METEO | change)
    assert isinstance(said, Refused) and told_words in said.detail


def test_a_fault_told_with_status_400_keeps_its_reason() -> None:
    (said,) = parsed("open-meteo", {"error": True, "reason": "Cannot initialize"}, 400)
    assert isinstance(said, Refused) and "Cannot initialize" in said.detail and "400" in said.detail


# --- METAR ------------------------------------------------------------------------------------------------------


def test_metar() -> None:
    """WMO-No. 306 FM 15: dddffGfmfm; the month of a report is the one that brings it nearest."""
    pytest.importorskip("metar")
    text = "2026/03/14 09:20\nKSEA 140918Z 24015G28KT 9999 FEW020 08/03 Q1009\nKSEA 140818Z 22010KT 08/03 Q1009\n"
    said, _, _ = told("metar", (200, {"Content-Type": "text/plain"}, text))
    wind, air = said
    assert isinstance(wind, WindReading)
    assert (wind.observed_at, wind.kind, wind.from_direction_deg) == (AT, WindKind.REPORTED, 240.0)
    assert wind.mean_m_s == pytest.approx(15 * KNOT_M_S, rel=1e-3)
    assert wind.gust_m_s == pytest.approx(28 * KNOT_M_S, rel=1e-3)
    assert isinstance(air, AirReading) and air.pressure_pa == pytest.approx(100900)


@pytest.mark.parametrize(
    ("group", "speed_m_s", "from_deg"),
    [("00000KT", 0.0, 0.0), ("VRB03KT", 3 * KNOT_M_S, None), ("11004MPS", 4.0, 110.0), ("/////KT", None, None)],
)
def test_metar_calm_variable_and_missing(group: str, speed_m_s: float | None, from_deg: float | None) -> None:
    pytest.importorskip("metar")
    first = parsed("metar", f"KCNK 140918Z {group} 9999 08/03 Q1009")[0]
    if speed_m_s is None:
        assert isinstance(first, AirReading)
        return
    assert isinstance(first, WindReading) and first.mean_m_s == pytest.approx(speed_m_s, rel=1e-3)
    assert first.from_direction_deg == from_deg


def test_metar_a_month_of_one_station(shared: Path) -> None:
    """153 reports of KCNK, August 2019, against the observations that the NWS made of them."""
    pytest.importorskip("metar")
    agreeing = 0
    for line in (shared / "data" / "met" / "metar_KCNK_raw.txt").read_text().splitlines():
        at = datetime.fromisoformat(line.split("\t")[0])
        said = SERVICES["metar"].parse(Reply(200, {}, line), at + timedelta(minutes=5), "met")
        assert not isinstance(said[0], Refused) or said[0].reason is Refusal.NO_VALUE
        if isinstance(said[0], WindReading):
            assert abs(said[0].observed_at - at) <= timedelta(minutes=1)
            agreeing += 1
    assert agreeing >= 140


def test_metar_of_no_known_day_or_form() -> None:
    for text in ("KSEA 320918Z 24015KT", "no report", "TAF KSEA 140918Z"):
        (said,) = parsed("metar", text)
        assert isinstance(said, Refused)


# --- all of them ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("carries", [name for name in SERVICES if name != "forecast table"])
@pytest.mark.parametrize(
    ("status", "body"),
    [(500, "oops"), (403, ""), (429, ""), (404, "{}"), (200, ""), (200, "<html>maintenance</html>"), (200, '{"a'),
     (200, "[]"), (200, "3"), (204, ""), (200, "null"), (200, '{"features": [3]}'), (200, '{"data": [3, {}]}')],
)  # fmt: skip
def test_faults_in_any_dress(carries: str, status: int, body: str) -> None:
    (said,) = parsed(carries, body, status)
    assert isinstance(said, Refused) and said.reason is Refusal.ERROR_REPLY and said.detail


def test_a_service_that_goes_down_is_told_once_and_once_when_back() -> None:
    good, bad = (200, {}, json.dumps(COOPS_WIND)), (503, {}, "")
    _, statuses, _ = told("co-ops wind", good, bad, bad, bad, good, good)
    assert [status.up for status in statuses] == [True, False, True]


# --- forecasts put there by hand --------------------------------------------------------------------------------

TABLE = """\
# typed in from the agent's mail
time, from, mean, gust
2026-03-14T09:00Z, 240 deg, 25 kn, 34 kn
2026-03-14T12:00+01:00, 260 deg, 12 m/s,
"""


def test_a_table_typed_in() -> None:
    (forecast,) = parsed("forecast table", TABLE)
    assert isinstance(forecast, WindForecast)
    first, second = forecast.steps
    assert (first.mean_m_s, first.gust_m_s) == (pytest.approx(25 * KNOT_M_S), pytest.approx(34 * KNOT_M_S))
    assert (second.observed_at.hour, second.mean_m_s, second.gust_m_s) == (11, 12.0, None)


@pytest.mark.parametrize(
    ("old", "new", "told_words"),
    [
        ("25 kn", "25", "line 3"),
        ("09:00Z", "09:00", "no time with a zone"),
        ("240 deg", "SW", "line 3"),
        ("34 kn", "3 kn", "a wind that cannot be"),
        ("time, from", "when, from", "the first line must be"),
        (", 34 kn", "", "line 3: 3 cells"),
        ("2026-03-14T12:00", "2026-03-13T12:00", "time order"),
    ],
)
def test_a_slip_in_a_table_is_told(old: str, new: str, told_words: str) -> None:
    assert old in TABLE
    (said,) = parsed("forecast table", TABLE.replace(old, new))
    assert isinstance(said, Refused) and told_words in said.detail


def test_a_file_is_read_whole_each_time_it_changes_and_an_old_one_is_no_news(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(collector, "TICK_S", 0.01)
    monkeypatch.setattr(collector, "RETRY_S", (0.02,))
    path, records, stop = tmp_path / "forecast.csv", [], threading.Event()
    kept = feed("forecast table", str(path), "file")

    def until(happened: Callable[[], bool]) -> None:
        for _ in range(1000):
            if happened():
                return
            stop.wait(0.01)
        raise AssertionError(records)

    def texts() -> list[str]:
        return [r.text for r in records if isinstance(r, RawReading)]

    thread = threading.Thread(target=read_feed, args=(kept, records.append, stop))
    thread.start()
    try:
        until(lambda: any(isinstance(r, SourceStatus) and not r.up for r in records))  # not there yet
        path.write_text(TABLE)
        until(lambda: len(texts()) == 1)
        path.write_text(TABLE.replace("25 kn", "28 kn"))
        until(lambda: len(texts()) == 2)
        old = (datetime.now(UTC) - timedelta(hours=4)).timestamp()

        os.utime(path, (old, old))
        until(lambda: isinstance(records[-1], SourceStatus) and "4.0 h ago" in records[-1].detail)
    finally:
        stop.set()
        thread.join()
    assert texts()[0] == encode(Reply(200, {}, TABLE))
    (forecast,) = Intake({"met": "forecast table"}, OWN).parse("met", texts()[1], NOW)
    assert isinstance(forecast, WindForecast) and forecast.steps[0].mean_m_s == pytest.approx(28 * KNOT_M_S)
