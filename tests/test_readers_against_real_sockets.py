"""The readers against real TCP and UDP peers on loopback, files, and serial ports that are not there.

A peer that dies, comes back, refuses, falls silent, or sends half a line and rubbish.
"""

from __future__ import annotations

import gzip
import socket
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from monitor.base.clock import stopwatch_s, wait
from monitor.intake import collector
from monitor.intake.collector import LONGEST_LINE, Lines, start
from monitor.records.events import RawReading, SourceStatus
from monitor.settings.schema import Feed

Record = RawReading | SourceStatus
PATIENCE_S = 5.0


class Told:
    """What the readers emitted, and waiting for it."""

    def __init__(self) -> None:
        self.records: list[Record] = []

    @property
    def texts(self) -> list[str]:
        return [record.text for record in self.records if isinstance(record, RawReading)]

    @property
    def statuses(self) -> list[tuple[bool, str]]:
        return [(record.up, record.detail) for record in self.records if isinstance(record, SourceStatus)]

    def until(self, happened: Callable[[], bool]) -> None:
        begun_s = stopwatch_s()
        while not happened():
            assert stopwatch_s() - begun_s < PATIENCE_S, self.records[-10:]
            wait(0.005)


def feed(over: str, to: str, **changed: Any) -> Feed:
    settings = {"name": "a", "carries": "ais", "over": over, "to": to, "stale_after": "60 s"}
    return Feed.model_validate(settings | changed)


@pytest.fixture
def reading(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., Told]]:
    """Starts a reader; at the end every thread must stop within a second."""
    monkeypatch.setattr(collector, "RETRY_S", (0.02, 0.05))
    monkeypatch.setattr(collector, "TICK_S", 0.02)
    stop, threads = threading.Event(), []

    def begin(over: str, to: str, **changed: Any) -> Told:
        told = Told()
        threads.extend(start([feed(over, to, **changed)], told.records.append, stop))
        return told

    yield begin
    stop.set()
    for thread in threads:
        thread.join(1.0)
        assert not thread.is_alive()


class Peer:
    """A TCP server for one client at a time."""

    def __init__(self, port: int = 0) -> None:
        self.listener = socket.create_server(("127.0.0.1", port))
        self.listener.settimeout(PATIENCE_S)
        self.port = self.listener.getsockname()[1]
        self.to = f"127.0.0.1:{self.port}"

    def accept(self) -> socket.socket:
        return self.listener.accept()[0]

    def die(self, *connections: socket.socket) -> None:
        for each in (*connections, self.listener):
            each.close()


@pytest.fixture
def peer() -> Iterator[Peer]:
    peer = Peer()
    yield peer
    peer.die()


def test_tcp_lines_whatever_the_packets(reading: Callable[..., Told], peer: Peer) -> None:
    told = reading("tcp", peer.to)
    with peer.accept() as connection:
        for packet in (b"!AIVDM,one\r\n!AI", b"VDM,two\n", b"\r\n\r", b"\nthree\rfo", b"ur\xff\n", b"unfinished"):
            connection.sendall(packet)
            wait(0.02)
        told.until(lambda: len(told.texts) == 4)
        assert told.texts == ["!AIVDM,one", "!AIVDM,two", "three", "four\xff"]
        assert told.statuses == [(True, f"hearing {peer.to}")]


def test_tcp_peer_dies_and_returns(reading: Callable[..., Told], peer: Peer) -> None:
    told = reading("tcp", peer.to)
    connection = peer.accept()
    connection.sendall(b"before\nhalf a li")
    told.until(lambda: "before" in told.texts)
    peer.die(connection)
    told.until(lambda: len(told.statuses) == 2)
    wait(0.2)  # many refused tries: told once
    assert told.statuses[1] == (False, f"{peer.to} closed the connection")
    again = Peer(peer.port)
    with again.accept() as connection:
        connection.sendall(b"after\n")
        told.until(lambda: "after" in told.texts)
    again.die()
    assert told.texts == ["before", "half a li", "after"]
    assert [up for up, _ in told.statuses][:3] == [True, False, True]


def test_tcp_refused(reading: Callable[..., Told], peer: Peer) -> None:
    peer.die()
    told = reading("tcp", peer.to)
    told.until(lambda: bool(told.statuses))
    wait(0.2)
    assert told.statuses == [(False, f"connection refused by {peer.to}")]


def test_tcp_reset(reading: Callable[..., Told], peer: Peer) -> None:
    told = reading("tcp", peer.to)
    connection = peer.accept()
    connection.sendall(b"line\n")
    told.until(lambda: bool(told.texts))
    connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\x01\0\0\0\0\0\0\0")
    connection.close()
    told.until(lambda: len(told.statuses) == 2)
    assert told.statuses[1] == (False, f"{peer.to} broke the connection")


def test_tcp_silence_is_told_and_the_connection_made_anew(reading: Callable[..., Told], peer: Peer) -> None:
    """A peer that lost its power: the connection looks alive and nothing comes."""
    told = reading("tcp", peer.to, stale_after="1 s")
    with peer.accept() as first:
        first.sendall(b"line\n")
        told.until(lambda: len(told.statuses) == 2)
        assert told.statuses[1] == (False, f"nothing heard from {peer.to} for 1 s")
        with peer.accept() as second:
            second.sendall(b"again\n")
            told.until(lambda: len(told.statuses) == 3)
    assert told.texts == ["line", "again"]


@pytest.mark.parametrize("to", ["nowhere", "127.0.0.1", "127.0.0.1:", "127.0.0.1:0", "127.0.0.1:70000", "a:b:c"])
@pytest.mark.parametrize("over", ["tcp", "udp"])
def test_no_host_and_port(reading: Callable[..., Told], over: str, to: str) -> None:
    told = reading(over, to)
    told.until(lambda: bool(told.statuses))
    ((up, detail),) = told.statuses
    assert not up and to in detail and "192.168.1.10:10110" in detail


def test_unknown_host(reading: Callable[..., Told], monkeypatch: pytest.MonkeyPatch) -> None:
    def unknown(*_: object, **__: object) -> object:
        raise socket.gaierror(socket.EAI_NONAME, "Name or service not known")

    monkeypatch.setattr(socket, "getaddrinfo", unknown)
    told = reading("tcp", "gateway.invalid:10110")
    told.until(lambda: bool(told.statuses))
    assert told.statuses == [(False, "the host of gateway.invalid:10110 is not known")]


def free_udp_port() -> int:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@pytest.mark.parametrize("host", ["127.0.0.1", ""])
def test_udp_datagrams_come_whole(reading: Callable[..., Told], host: str) -> None:
    port = free_udp_port()
    told = reading("udp", f"{host}:{port}")
    datagram = b"UdPbC\0\\s:AI0001*3A\\!AIVDM,one\r\n!AIVDM,two\r\n"
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:

        def heard() -> bool:
            sender.sendto(datagram, ("127.0.0.1", port))
            return bool(told.texts)

        told.until(heard)
    assert set(told.texts) == {datagram.decode("latin-1")}
    assert told.statuses == [(True, f"hearing {host}:{port}")]


def test_udp_silence(reading: Callable[..., Told]) -> None:
    to = f"127.0.0.1:{free_udp_port()}"
    told = reading("udp", to, stale_after="0 s")  # a second at least
    told.until(lambda: bool(told.statuses))
    assert told.statuses == [(False, f"nothing heard from {to} for 1 s")]


def test_udp_port_held_by_another(reading: Callable[..., Told]) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other:
        other.bind(("127.0.0.1", 0))
        to = f"127.0.0.1:{other.getsockname()[1]}"
        told = reading("udp", to)
        told.until(lambda: bool(told.statuses))
        assert told.statuses == [(False, f"another program already listens on {to}")]


def test_udp_address_of_another_computer(reading: Callable[..., Told]) -> None:
    told = reading("udp", "192.0.2.7:10110")  # RFC 5737: documentation, nobody's
    told.until(lambda: bool(told.statuses))
    assert told.statuses == [(False, "this computer has no address 192.0.2.7:10110")]


@pytest.mark.parametrize("packed", [False, True])
def test_file_is_read_once(reading: Callable[..., Told], tmp_path: Path, packed: bool) -> None:
    lines = [f"line {number}" for number in range(20_000)]
    content = "\r\n".join(lines).encode()  # the last line without an end
    path = tmp_path / "feed.log"
    path.write_bytes(gzip.compress(content) if packed else content)
    told = reading("file", str(path))
    told.until(lambda: len(told.statuses) == 2)
    wait(0.1)
    assert told.texts == lines
    assert told.statuses == [(True, f"hearing {path}"), (False, f"{path} is read to its end")]


def test_file_at_a_pace(tmp_path: Path) -> None:
    path = tmp_path / "feed.log"
    path.write_text("one\ntwo\nthree\n")
    told, stop = Told(), threading.Event()
    begun_s = stopwatch_s()
    (thread,) = start([feed("file", str(path))], told.records.append, stop, file_pace_s=0.05)
    thread.join(PATIENCE_S)
    assert told.texts == ["one", "two", "three"] and 0.1 < stopwatch_s() - begun_s < 2.0


def test_file_not_there_cut_or_a_folder(reading: Callable[..., Told], tmp_path: Path) -> None:
    missing, cut = tmp_path / "missing.log", tmp_path / "cut.gz"
    cut.write_bytes(gzip.compress(b"line\n" * 100_000)[:-20])
    for path, detail in [
        (missing, f"there is no file {missing}"),
        (cut, f"{cut} is damaged or cut off"),
        (tmp_path, f"{tmp_path}"),
    ]:
        told = reading("file", str(path))
        told.until(lambda told=told: any(not up for up, _ in told.statuses))  # type: ignore[misc]
        assert detail in told.statuses[-1][1]


@pytest.mark.parametrize("to", ["/dev/ttyNONE7", "COM99"])
def test_serial_port_that_is_not_there(reading: Callable[..., Told], to: str) -> None:
    told = reading("serial", to)
    told.until(lambda: bool(told.statuses))
    assert told.statuses == [(False, f"there is no serial port {to}")]


def test_serial_port_that_is_none(reading: Callable[..., Told], tmp_path: Path) -> None:
    path = tmp_path / "port"
    path.write_bytes(b"")
    told = reading("serial", str(path))
    told.until(lambda: bool(told.statuses))
    ((up, detail),) = told.statuses
    assert not up and str(path) in detail


def test_serial_lines_and_unplugging(reading: Callable[..., Told], peer: Peer) -> None:
    """pyserial's own network port stands for the wire."""
    told = reading("serial", f"socket://{peer.to}", carries="nmea")
    connection = peer.accept()
    line = "$WIMWV,214.8,R,12.4,N,A*1B"

    def heard() -> bool:  # what comes while the port is being opened is lost, as on a real wire
        connection.sendall(f"{line}\r\n".encode())
        wait(0.01)
        return line in told.texts

    told.until(heard)
    peer.die(connection)
    told.until(lambda: len(told.statuses) == 2)
    assert told.statuses[1][0] is False and peer.to in told.statuses[1][1]


def test_line_speed() -> None:
    """IEC 61162-1: 4800 baud; 61162-2 and AIS: 38400; or what the settings say."""
    told: list[int] = []

    class Port:
        in_waiting = 0

        def __enter__(self) -> Port:
            return self

        def __exit__(self, *_: object) -> None: ...

        def read(self, _: int) -> bytes:
            return b"x"

    def open_port(_: str, baudrate: int, timeout: float) -> Port:
        told.append(baudrate)
        return Port()

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(collector.serial, "serial_for_url", open_port)
        for changed in ({}, {"carries": "nmea"}, {"baud": 9600}):
            assert next(collector._serial(feed("serial", "COM1", **changed))) == b"x"
    assert told == [38400, 4800, 9600]


def test_a_line_without_end_is_cut_and_noted(reading: Callable[..., Told], peer: Peer) -> None:
    told = reading("tcp", peer.to)
    with peer.accept() as connection:
        connection.sendall(b"x" * 3 * LONGEST_LINE)
        wait(0.05)
        connection.sendall(b"x" * LONGEST_LINE + b"\nnext\n" + b"y" * 2 * LONGEST_LINE + b"\nlast\n")
        told.until(lambda: "last" in told.texts)
    assert told.texts == ["x" * LONGEST_LINE, "next", "y" * LONGEST_LINE, "last"]
    assert told.statuses[:2] == [
        (True, f"hearing {peer.to}"),
        (True, f"a line longer than {LONGEST_LINE} bytes was cut"),
    ]


def test_lines_do_not_depend_on_the_packets() -> None:
    stream = b"one\r\ntwo\n\n" + b"z" * (LONGEST_LINE + 5) + b"\nthree\rfour\n" + b"w" * 9000 + b"\nfive"
    whole = Lines()
    expected = [*whole.add(stream), *whole.rest()]
    assert expected == [b"one", b"two", b"z" * 4096, b"three", b"four", b"w" * 4096, b"five"]
    for size in (1, 2, 3, 7, 4095, 4096, 4097, 5000):
        lines = Lines()
        got = [line for k in range(0, len(stream), size) for line in lines.add(stream[k : k + size])]
        assert [*got, *lines.rest()] == expected
        assert lines.cut == whole.cut == 2


def test_a_reader_survives_any_fault_of_its_own(
    reading: Callable[..., Told], peer: Peer, monkeypatch: pytest.MonkeyPatch
) -> None:
    faults = iter([RuntimeError("boom"), MemoryError()])
    real = collector._tcp

    def faulty(feed: Feed) -> Any:
        for fault in faults:
            raise fault
        yield from real(feed)

    monkeypatch.setitem(collector._OPEN, "tcp", faulty)
    told = reading("tcp", peer.to)
    with peer.accept() as connection:
        connection.sendall(b"line\n")
        told.until(lambda: bool(told.texts))
    assert told.statuses[0] == (False, f"{peer.to} cannot be read: boom")


def test_every_feed_has_its_thread_but_polled_ones() -> None:
    stop = threading.Event()
    stop.set()
    feeds = [feed("tcp", "127.0.0.1:9", name="x"), feed("http", "http://127.0.0.1:9/", carries="met norway")]
    (thread,) = start(feeds, lambda record: None, stop)
    thread.join(1.0)
    assert thread.name == "feed x" and not thread.is_alive()
