"""A live watch in a thread, on a PC whose clock is in our hand, its feeds served by peers on loopback."""

from __future__ import annotations

import itertools
import queue
import re
import shutil
import socket
import threading
import time
from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from monitor.base import clock
from monitor.intake import collector, collector_services
from monitor.intake.simulated import events
from monitor.intake.simulated.script import invented_day
from monitor.records.events import Notice, SourceStatus, Started, Transition
from monitor.run import live
from monitor.run.journal import Entry, Journal, open_journal
from monitor.run.recording import open_recording
from monitor.run.replay import Comparison, compare, replay
from monitor.settings.load import from_snapshot, snapshot

STAY = "tavrin-lark-at-sedge-quay-2"
PATIENCE_S = 60.0
FEED_PORTS = {"ais": 20110, "anemometer": 20111, "forecast": 20112}  # in the shipped stay


class PC:
    """A PC that begins at `start` and runs `rate` times as fast as ours. `set_by`: what somebody did to it."""

    def __init__(self, start: datetime, rate: float) -> None:
        self._start, self.rate = start, rate
        self._begun_s = time.perf_counter()
        self.set_by = timedelta(0)

    def monotonic_s(self) -> float:
        return (time.perf_counter() - self._begun_s) * self.rate

    def true(self) -> datetime:
        """What a good clock would show."""
        return self._start + timedelta(seconds=self.monotonic_s())

    def until(self, happened: Callable[[], bool] | datetime) -> None:
        """Wait for a time of a good clock, or for something to happen."""
        begun_s = time.perf_counter()
        while not (self.true() >= happened if isinstance(happened, datetime) else happened()):
            assert time.perf_counter() - begun_s < PATIENCE_S, happened
            time.sleep(0.005)

    def install(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Every clock of the watch is this PC's; waits are shortened by its rate. The met poll keeps real time."""
        rate = self.rate

        class Hasty(queue.Queue[Any]):
            def get(self, block: bool = True, timeout: float | None = None) -> Any:
                return super().get(block, None if timeout is None else timeout / rate)

        wall = SimpleNamespace(now=lambda _: self.true() + self.set_by)
        monkeypatch.setattr(clock, "datetime", wall)
        ours = SimpleNamespace(monotonic=self.monotonic_s, perf_counter=time.perf_counter, sleep=time.sleep)
        monkeypatch.setattr(clock, "time", ours)
        monkeypatch.setattr(live, "queue", SimpleNamespace(Queue=Hasty, Empty=queue.Empty))
        monkeypatch.setattr(
            collector_services, "AnchoredClock", lambda: SimpleNamespace(now=lambda: datetime.now(UTC))
        )
        monkeypatch.setattr(collector, "RETRY_S", (0.05, 0.1))
        monkeypatch.setattr(collector, "TICK_S", 0.02)


class Told:
    """A channel that keeps the notices."""

    name = "told"

    def __init__(self) -> None:
        self.notices: list[Notice] = []

    def send(self, notice: Notice) -> None:
        self.notices.append(notice)

    def of(self, alert: str) -> list[Notice]:
        return [notice for notice in self.notices if notice.alert == alert]


def settings_folder(config: Path, to: Path, feeds: dict[str, str] | None = None, **texts: tuple[str, str]) -> Path:
    """A copy of the shipped settings; `feeds` gives new addresses, `texts` (file → old, new) other changes."""
    shutil.copytree(config, to)
    path = to / "stays" / f"{STAY}.toml"
    text = path.read_text("utf-8")
    for name, port in FEED_PORTS.items():
        address = (feeds or {}).get(name)
        if address is not None:
            text, count = re.subn(rf'to = "[^"]*{port}[^"]*"', f'to = "{address}"', text)
            assert count == 1
    path.write_text(text, "utf-8")
    for stem, (old, new) in texts.items():
        (file,) = to.glob(f"*/{stem.replace('_', '-')}.toml")
        text = file.read_text("utf-8")
        assert old in text, (stem, old)
        file.write_text(text.replace(old, new, 1), "utf-8")
    return to


def free_port(kind: socket.SocketKind = socket.SOCK_STREAM) -> int:
    """A port of loopback on which nobody listens."""
    with socket.socket(socket.AF_INET, kind) as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def stretch(settings: Path, begin: float, end: float, mmsis: Collection[int] = ()) -> Iterator[Entry]:
    """The invented day from one minute to another as a watch of its own, with these ships only (none: all).

    What was told and sent before is missing, so begin a few minutes before what is to be seen.
    """
    taken = snapshot(settings, STAY)
    day = invented_day(from_snapshot(taken))
    ships = tuple((ship, voyage) for ship, voyage in day.ships if not mmsis or ship.own or ship.mmsi in mmsis)
    short = replace(day, minutes=end, ships=ships)
    first = day.at(60.0 * begin)
    numbers = itertools.count(1)
    for opening in (taken, Started("test"), *(SourceStatus(feed, True, "connected") for feed in day.feeds)):
        yield Entry.of(next(numbers), first, "in", opening)
    for at, record in events(short, taken, "test"):
        if at > first:
            yield Entry.of(next(numbers), at, "in", record)


@contextmanager
def watching(
    settings: Path, journal: Path | Journal, channels: Iterable[Any] = ()
) -> Iterator[tuple[live.Live, Journal]]:
    """The real watch in a thread; stopped and closed at the end. What kills it fails the test."""
    taken = snapshot(settings, STAY)
    store = open_journal(journal) if isinstance(journal, Path) else journal
    watch = live.Live(from_snapshot(taken), taken, store, tuple(channels))
    stop, died = threading.Event(), []

    def run() -> None:
        try:
            watch.run(stop)
        except BaseException as error:
            died.append(error)

    thread = threading.Thread(target=run)
    with store:
        thread.start()
        try:
            yield watch, store
        finally:
            stop.set()
            thread.join(PATIENCE_S)
        assert not thread.is_alive()
        if died:
            raise died[0]


def replayed(journal: Path) -> tuple[list[Any], Comparison]:
    """What a replay of the journal concludes, and how it compares with what was concluded live."""
    with open_recording(journal) as recording:
        concluded = list(replay(recording))
        return [conclusion for _, conclusion in concluded], compare(recording, concluded)


def transitions(conclusions: Iterable[Any], alert: str) -> list[Transition]:
    return [one for one in conclusions if isinstance(one, Transition) and one.alert == alert]


# --- peers ------------------------------------------------------------------------------------------------------


class Wire(threading.Thread):
    """Sends timed bytes at their times of the PC: over UDP, or over TCP to who calls. It can die and return."""

    def __init__(self, pc: PC, timed: Iterable[tuple[datetime, bytes]], udp_port: int | None = None) -> None:
        super().__init__(daemon=True)
        self._pc, self._timed, self._udp_port = pc, list(timed), udp_port
        self.dead, self.stop = threading.Event(), threading.Event()
        self._listener: socket.socket | None = None
        self._connection: socket.socket | None = None
        self.port = udp_port or 0
        self.sent = 0
        if udp_port is None:
            self._listen()

    def _listen(self) -> None:
        self._listener = socket.create_server(("127.0.0.1", self.port))
        self._listener.setblocking(False)
        self.port = self._listener.getsockname()[1]

    def run(self) -> None:
        sender = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        try:
            for at, data in self._timed:
                while self._pc.true() < at and not self.stop.wait(0.002):
                    self._look()
                if self.stop.is_set():
                    return
                if self._udp_port is not None:
                    sender.sendto(data, ("127.0.0.1", self._udp_port))
                    self.sent += 1
                elif self._connection is not None:
                    with suppress(OSError):
                        self._connection.sendall(data)
                        self.sent += 1
        finally:
            sender.close()
            self._close()

    def _look(self) -> None:
        """Take a caller; die or return when told."""
        if self._udp_port is not None:
            return
        if self.dead.is_set():
            self._close()
        elif self._listener is None:
            self._listen()
        else:
            with suppress(BlockingIOError):
                self._connection = self._listener.accept()[0]
                self._connection.setblocking(True)

    def _close(self) -> None:
        for each in (self._connection, self._listener):
            if each is not None:
                each.close()
        self._connection = self._listener = None


@contextmanager
def http_service(answer: Callable[[], tuple[int, bytes]]) -> Iterator[str]:
    """A met service on loopback; gives its address."""

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            status, body = answer()
            self.send_response(status)
            self.send_header("Content-Type", "application/json")
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_: object) -> None:
            """Quiet."""

    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        thread = threading.Thread(target=server.serve_forever, args=(0.02,))
        thread.start()
        try:
            yield f"http://127.0.0.1:{server.server_port}/compact"
        finally:
            server.shutdown()
            thread.join()
