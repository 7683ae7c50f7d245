"""Calls the met services of a stay over the web, each when its terms allow, and emits what they answer."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any, Final, Protocol

import requests

from monitor.base.clock import AnchoredClock
from monitor.intake.collector import LONGEST_REPLY, Emit, Status
from monitor.intake.met import Reply, encode
from monitor.intake.met.reading import Question, next_poll_at
from monitor.intake.met.services import SERVICES
from monitor.records.events import RawReading
from monitor.records.observations import Refusal, Refused
from monitor.settings.schema import Feed, Settings

HTTP_S: Final = (5.0, 20.0)  # to connect, and between two pieces of a reply
POLL_RETRY: Final = timedelta(minutes=2)


class Scheduler(Protocol):
    """What `schedule` needs of a scheduler (APScheduler's own)."""

    def add_job(self, func: Callable[[], None], trigger: str, **options: Any) -> object:
        """Run `func` at `next_run_time`; a job of the same `id` is replaced."""
        ...


def schedule(scheduler: Scheduler, settings: Settings, emit: Emit) -> None:
    """Polls every met service of the stay, each time when it allows the next call."""
    clock = AnchoredClock()
    place = settings.berth.position
    for feed in settings.stay.feeds:
        if feed.over == "http":
            _schedule_one(scheduler, feed.name, MetPoll(feed, place.latitude, place.longitude, emit), clock)


def _schedule_one(scheduler: Scheduler, name: str, service: MetPoll, clock: AnchoredClock) -> None:
    """One job that is moved from call to call. A job that runs once would not do: APScheduler takes it out after
    its start, and prints an error when it has been shut down at that very moment."""

    def call() -> None:
        at = clock.now() + POLL_RETRY
        try:
            at = service.poll(clock.now())
        finally:  # whatever happened, it is called again
            run_at(at)

    def run_at(at: datetime) -> None:
        scheduler.add_job(
            call,
            "interval",
            hours=1,  # in case a call never comes back
            next_run_time=at,
            id=name,
            replace_existing=True,
            coalesce=True,
            misfire_grace_time=None,
        )

    run_at(clock.now())


class MetPoll:
    """Calls one met service for one place and emits its replies, good or bad, as they came."""

    def __init__(self, feed: Feed, latitude_deg: float, longitude_deg: float, emit: Emit) -> None:
        self._feed, self._emit = feed, emit
        self._latitude_deg, self._longitude_deg = latitude_deg, longitude_deg
        self._status = Status(feed.name, emit)
        self._last_modified: str | None = None

    def poll(self, now: datetime) -> datetime:
        """Call once; returns when to call next, with some seconds at random so that nobody calls on the hour."""
        feed = self._feed
        service = SERVICES[feed.carries]
        assert service.request is not None, "the settings let no feed over http carry what only comes as a file"
        jitter = timedelta(seconds=random.uniform(1.0, 30.0))
        url, headers = service.request(
            Question(
                self._latitude_deg,
                self._longitude_deg,
                feed.contact or "",
                feed.to,
                feed.station or "",
                self._last_modified,
            )
        )
        try:
            reply = _get(url, headers)
        except requests.RequestException as error:
            self._status.down(_why_no_reply(error, feed.to))
            return now + POLL_RETRY + jitter
        self._emit(RawReading(feed.name, encode(reply)))
        said = service.parse(reply, now, feed.name)[0]
        if isinstance(said, Refused) and said.reason is not Refusal.DUPLICATE:
            self._status.down(said.detail)
        else:
            self._status.up(f"{feed.to} answers")
            self._last_modified = reply.headers.get("last-modified", self._last_modified)
        at_least = service.soonest if feed.every is None else timedelta(seconds=feed.every)
        return next_poll_at(reply, now, max(at_least, timedelta(seconds=10))) + jitter


def _get(url: str, headers: dict[str, str]) -> Reply:
    with requests.get(url, headers=headers, timeout=HTTP_S, stream=True) as response:
        body = bytearray()
        for piece in response.iter_content(65536):
            body += piece
            if len(body) > LONGEST_REPLY:
                break
        told = {name.lower(): value for name, value in response.headers.items()}
        return Reply(response.status_code, told, body.decode("utf-8", "replace"))


def _why_no_reply(error: requests.RequestException, address: str) -> str:
    match error:
        case requests.Timeout():
            return f"no answer from {address}"
        case requests.exceptions.SSLError():
            return f"no secure connection to {address}"
        case requests.ConnectionError():
            return f"no connection to {address}"
    return f"{address} cannot be called: {error}"
