"""MET Norway's terms of service and the faults of web services, over a real HTTP server on loopback.

Terms (api.met.no, TermsOfService): identifying User-Agent with a contact, at most four decimals, Expires and
If-Modified-Since respected. Data model: 10-minute mean at 10 m, gust of 3 s.
"""

from __future__ import annotations

import gzip
import json
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import pytest
from apscheduler.schedulers.background import BackgroundScheduler

from monitor.intake.collector_services import MetPoll, schedule
from monitor.intake.met import Reply, decode, encode, met_norway
from monitor.intake.met.reading import next_poll_at
from monitor.intake.parser import Intake
from monitor.records.events import RawReading, SourceStatus
from monitor.records.observations import Refusal, Refused, WindForecast, WindKind, WindReading
from monitor.settings.load import load_stay
from monitor.settings.schema import Feed
from tests.composed import NOW, OWN

EXPIRES = "Sat, 14 Mar 2026 09:57:00 GMT"
DATE = "Sat, 14 Mar 2026 09:26:00 GMT"
MODIFIED = "Sat, 14 Mar 2026 09:25:00 GMT"
HEADERS = {"Content-Type": "application/json", "Date": DATE, "Expires": EXPIRES, "Last-Modified": MODIFIED}


def forecast(*details: dict[str, Any], **units: str) -> dict[str, Any]:
    """A reply in the service's form: one step an hour from 09:00."""
    return {
        "type": "Feature",
        "properties": {
            "meta": {
                "updated_at": "2026-03-14T08:31:00Z",
                "units": {"wind_speed": "m/s", "wind_from_direction": "degrees"} | units,
            },
            "timeseries": [
                {"time": f"2026-03-14T{9 + hour:02}:00:00Z", "data": {"instant": {"details": of_hour}}}
                for hour, of_hour in enumerate(details)
            ],
        },
    }


GOOD = forecast(
    {"wind_speed": 9.5, "wind_from_direction": 241.2, "wind_speed_of_gust": 15.1, "air_temperature": 7.0},
    {"wind_speed": 11.0, "wind_from_direction": 360.0},
)


def parsed(body: object, status: int = 200) -> WindForecast | Refused:
    text = body if isinstance(body, str) else json.dumps(body)
    return met_norway.parse(Reply(status, {}, text), NOW, "met")


class Service:
    """Answers with what it was last told to; remembers the questions."""

    def __init__(self) -> None:
        self.status, self.headers, self.body = 200, HEADERS, json.dumps(GOOD).encode()
        self.asked: list[tuple[str, dict[str, str]]] = []
        self.address = ""


@contextmanager
def serving(service: Service) -> Iterator[Service]:
    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            service.asked.append((self.path, {name.lower(): value for name, value in self.headers.items()}))
            self.send_response_only(service.status)
            for name, value in service.headers.items():
                self.send_header(name, value)
            self.send_header("Content-Length", str(len(service.body)))
            self.end_headers()
            self.wfile.write(service.body)

        def log_message(self, *_: object) -> None:
            """Quiet."""

    with HTTPServer(("127.0.0.1", 0), Handler) as server:
        thread = threading.Thread(target=server.serve_forever, args=(0.02,))
        thread.start()
        service.address = f"http://127.0.0.1:{server.server_port}/complete"
        try:
            yield service
        finally:
            server.shutdown()
            thread.join()


@pytest.fixture
def service() -> Iterator[Service]:
    with serving(Service()) as running:
        yield running


def feed(address: str, **changed: Any) -> Feed:
    settings = {
        "name": "met",
        "carries": "met norway",
        "over": "http",
        "to": address,
        "stale_after": "3 h",
        "contact": "watch@example.invalid",
    }
    return Feed.model_validate(settings | changed)


def polled(service: Service) -> tuple[MetPoll, list[RawReading | SourceStatus]]:
    told: list[RawReading | SourceStatus] = []
    return MetPoll(feed(service.address), 51.123456, -4.000001, told.append), told


def test_question_keeps_the_terms(service: Service) -> None:
    poll, _ = polled(service)
    poll.poll(NOW)
    poll.poll(NOW)
    (path, first), (_, second) = service.asked
    assert path == "/complete?lat=51.1235&lon=-4.0000"
    assert first["user-agent"].startswith("bightwatch/") and "watch@example.invalid" in first["user-agent"]
    assert "if-modified-since" not in first and second["if-modified-since"] == MODIFIED
    assert "gzip" in first["accept-encoding"]


def test_not_called_before_it_expires(service: Service) -> None:
    """Expires counts from the service's Date: 31 minutes, though our own clock stands elsewhere."""
    poll, _ = polled(service)
    late = NOW + timedelta(hours=5)
    assert timedelta(minutes=31) < poll.poll(late) - late <= timedelta(minutes=31, seconds=30)


def test_good_reply_becomes_a_forecast(service: Service) -> None:
    poll, told = polled(service)
    poll.poll(NOW)
    status, raw = sorted(told, key=lambda record: isinstance(record, RawReading))
    assert isinstance(status, SourceStatus) and status.up
    assert isinstance(raw, RawReading) and raw.text.isascii() and "\n" not in raw.text
    (result,) = Intake({"met": "met norway"}, OWN).parse("met", raw.text, NOW)
    step = WindReading(
        datetime(2026, 3, 14, 9, tzinfo=UTC),
        NOW,
        "met",
        WindKind.FORECAST,
        9.5,
        gust_m_s=15.1,
        from_direction_deg=241.2,
        averaging_s=600.0,
        height_m=10.0,
    )
    assert isinstance(result, WindForecast)
    assert result.issued_at == datetime(2026, 3, 14, 8, 31, tzinfo=UTC)
    assert result.steps[0] == step
    assert (result.steps[1].gust_m_s, result.steps[1].from_direction_deg) == (None, 0.0)


def test_packed_reply(service: Service) -> None:
    service.headers, service.body = HEADERS | {"Content-Encoding": "gzip"}, gzip.compress(service.body)
    poll, told = polled(service)
    poll.poll(NOW)
    assert any(isinstance(record, SourceStatus) and record.up for record in told)


@pytest.mark.parametrize(
    ("status", "body", "detail"),
    [
        (200, '{"error": {"message": "No data was found."}}', "error told with a good status"),
        (200, "<!DOCTYPE html><html>sign in</html>", "web page"),
        (200, "", "empty"),
        (200, json.dumps(GOOD)[:-40], "cut off"),
        (200, "[]", "another form"),
        (200, "{}", "another form"),
        (200, "[" * 100_000, "cut off"),
        (200, "\ufffd\x00", "not JSON"),
        (203, "", "empty"),
        (400, "", "400"),
        (403, "", "contact"),
        (404, "", "404"),
        (429, "", "too often"),
        (500, "", "500"),
        (503, "<html>", "503"),
        (418, "", "418"),
    ],
)
def test_faults_are_named(service: Service, status: int, body: str, detail: str) -> None:
    service.status, service.body = status, body.encode()
    poll, told = polled(service)
    assert poll.poll(NOW) > NOW + timedelta(minutes=4)
    (raw,) = [record for record in told if isinstance(record, RawReading)]
    (result,) = Intake({"met": "met norway"}, OWN).parse("met", raw.text, NOW)
    assert isinstance(result, Refused) and result.reason is Refusal.ERROR_REPLY
    assert detail in result.detail
    assert [record for record in told if isinstance(record, SourceStatus)] == [
        SourceStatus("met", False, result.detail)
    ]


def test_not_modified_leaves_the_forecast_standing(service: Service) -> None:
    poll, told = polled(service)
    poll.poll(NOW)
    service.status, service.body = 304, b""
    poll.poll(NOW)
    assert [record.up for record in told if isinstance(record, SourceStatus)] == [True]
    result = met_norway.parse(Reply(304, {}, ""), NOW, "met")
    assert isinstance(result, Refused) and result.reason is Refusal.DUPLICATE


def test_203_is_good_data() -> None:
    assert isinstance(parsed(GOOD, 203), WindForecast)


def test_told_once_when_it_goes_and_once_when_it_returns(service: Service) -> None:
    poll, told = polled(service)
    for status in (200, 503, 503, 200, 200):
        service.status = status
        poll.poll(NOW)
    assert [record.up for record in told if isinstance(record, SourceStatus)] == [True, False, True]


def test_nobody_there() -> None:
    with serving(Service()) as gone:
        poll, told = polled(gone)
    again_at = poll.poll(NOW)
    assert told == [SourceStatus("met", False, f"no connection to {gone.address}")]
    assert NOW < again_at <= NOW + timedelta(minutes=5)


@pytest.mark.parametrize("address", ["met", "http://", "http://[", "ftp://127.0.0.1/"])
def test_address_that_is_none(address: str) -> None:
    told: list[RawReading | SourceStatus] = []
    MetPoll(feed(address), 51.0, 4.0, told.append).poll(NOW)
    (status,) = told
    assert isinstance(status, SourceStatus) and not status.up and address in status.detail


def test_retry_after_is_kept(service: Service) -> None:
    service.status, service.headers = 429, {"Retry-After": "3600"}
    poll, _ = polled(service)
    assert timedelta(hours=1) < poll.poll(NOW) - NOW < timedelta(minutes=61)


@pytest.mark.parametrize(
    ("headers", "minutes"),
    [
        ({}, 5),
        ({"expires": "soon", "date": DATE}, 5),
        ({"expires": EXPIRES, "date": "soon"}, 30),  # counted from our own clock
        ({"expires": DATE, "date": EXPIRES}, 5),
        ({"expires": "Mon, 14 Mar 2033 09:57:00 GMT", "date": DATE}, 360),
        ({"expires": "Sat, 14 Mar 99999 09:57:00 GMT", "date": DATE}, 5),
        ({"retry-after": "9" * 30}, 5),
        ({"retry-after": "-1"}, 5),
    ],
)
def test_strange_headers(headers: dict[str, str], minutes: int) -> None:
    waits = next_poll_at(Reply(200, headers, ""), NOW, met_norway.SOONEST) - NOW
    assert abs(waits - timedelta(minutes=minutes)) < timedelta(minutes=1)


@pytest.mark.parametrize(
    "details",
    [
        {"wind_speed": None, "wind_from_direction": 241.2},
        {"wind_speed": "9.5", "wind_from_direction": 241.2},
        {"wind_speed": True},
        {"wind_speed": -1.0},
        {"wind_speed": 1000.0},
        {"wind_speed": [9.5]},
        {"wind_from_direction": 241.2},
        {},
    ],
)
def test_step_without_a_speed_is_left_out(details: dict[str, Any]) -> None:
    result = parsed(forecast(details, {"wind_speed": 3.0}))
    assert isinstance(result, WindForecast)
    assert [(step.mean_m_s, step.from_direction_deg) for step in result.steps] == [(3.0, None)]
    only = parsed(forecast(details))
    assert isinstance(only, Refused) and only.detail == "no wind in the reply"


def test_other_units_are_not_guessed() -> None:
    for units in ({"wind_speed": "km/h"}, {"wind_from_direction": "radians"}):
        result = parsed(forecast({"wind_speed": 9.5}, **units))
        assert isinstance(result, Refused) and next(iter(units)) in result.detail


@pytest.mark.parametrize(
    "spoil",
    [
        lambda reply: reply["properties"]["meta"].update(updated_at="yesterday"),
        lambda reply: reply["properties"]["meta"].update(updated_at="2026-03-14T08:31:00"),  # no zone
        lambda reply: reply["properties"]["meta"].update(updated_at=None),
        lambda reply: reply["properties"].update(timeseries={}),
        lambda reply: reply["properties"].update(timeseries=[1, None, {}, {"time": 1}]),
        lambda reply: reply.update(properties=None),
        lambda reply: (
            reply["properties"]["timeseries"][0].update(time="0000-00-00T00:00:00Z")
            or reply["properties"]["timeseries"].pop()
        ),
    ],
)
def test_spoiled_reply(spoil: Callable[[Any], object]) -> None:
    reply = json.loads(json.dumps(GOOD))
    spoil(reply)
    result = parsed(reply)
    assert isinstance(result, Refused) and result.reason is Refusal.ERROR_REPLY and result.detail


def test_numbers_no_float_can_hold() -> None:
    text = json.dumps(GOOD).replace("9.5", "1e999").replace("11.0", "1" + "0" * 400)
    result = parsed(text)
    assert isinstance(result, Refused) and result.detail == "no wind in the reply"


def test_envelope_round_trip() -> None:
    reply = Reply(200, {"expires": EXPIRES, "last-modified": MODIFIED}, 'å "quoted" \r\n \u2028 body')
    assert decode(encode(reply)) == reply
    for other in ("", "{}", "[]", '{"status": "200", "headers": {}, "body": ""}', "[" * 100_000):
        with pytest.raises(ValueError, match=r"reply of a met service|Expecting"):
            decode(other)


def test_envelope_that_is_none_is_refused() -> None:
    assert Intake({"met": "met norway"}, OWN).parse("met", "!AIVDM", NOW) == [Refused(Refusal.BROKEN, "met", NOW)]


def test_schedule_calls_again_when_allowed(service: Service, config: Path) -> None:
    class Scheduler:
        def __init__(self) -> None:
            self.jobs: list[tuple[Callable[[], None], datetime]] = []

        def add_job(self, func: Callable[[], None], trigger: str, **options: Any) -> object:
            assert trigger == "interval" and options["misfire_grace_time"] is None
            self.jobs.append((func, options["next_run_time"]))
            return None

    told: list[RawReading | SourceStatus] = []
    scheduler = Scheduler()
    settings = load_stay(config, "tavrin-lark-at-sedge-quay-2")
    stay = settings.stay.model_copy(update={"feeds": (feed(service.address),)})
    schedule(scheduler, settings.model_copy(update={"stay": stay}), told.append)
    ((call, first_at),) = scheduler.jobs
    call()
    (_, (_, next_at)) = scheduler.jobs
    assert timedelta(minutes=31) < next_at - first_at < timedelta(minutes=32)
    assert len(service.asked) == 1 and any(isinstance(record, RawReading) for record in told)


def test_stopped_while_it_starts(service: Service, config: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No thread dies, whenever the stop comes (a job that runs once made one in five of these fail)."""
    died: list[object] = []
    monkeypatch.setattr(threading, "excepthook", died.append)
    settings = load_stay(config, "tavrin-lark-at-sedge-quay-2")
    stay = settings.stay.model_copy(update={"feeds": (feed(service.address),)})
    settings = settings.model_copy(update={"stay": stay})
    every_s = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)
    try:
        for number in range(150):
            scheduler = BackgroundScheduler(timezone="UTC")
            schedule(scheduler, settings, [].append)
            scheduler.start()
            time.sleep(number % 15 * 1e-4)
            scheduler.shutdown(wait=False)
    finally:
        sys.setswitchinterval(every_s)
    assert died == []


def test_recorded_reply(shared: Path) -> None:
    """A real "complete" reply for London of 2020: 82 steps, no gust in them."""
    saved = json.loads(
        gzip.decompress((shared / "data/met/metno_lat51.5lon-0.1altitude25_complete.json.gz").read_bytes())
    )
    headers = {name.lower(): value for name, value in saved["headers"].items()}
    reply = Reply(saved["status_code"], headers, json.dumps(saved["data"]))
    result = met_norway.parse(reply, NOW, "met")
    assert isinstance(result, WindForecast)
    series = saved["data"]["properties"]["timeseries"]
    assert len(result.steps) == len(series) == 82
    assert [step.mean_m_s for step in result.steps] == [
        entry["data"]["instant"]["details"]["wind_speed"] for entry in series
    ]
    assert {step.gust_m_s for step in result.steps} == {None}
    assert next_poll_at(reply, NOW, met_norway.SOONEST) - NOW == timedelta(minutes=31, seconds=52)
