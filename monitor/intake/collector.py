"""The only network input: one thread for each feed (met services are called by `collector_services`).

What is read goes out through `emit` as it came: a line (its end cut off), a whole datagram or a reply. A feed is
up when something is heard from it and down when it cannot be opened, breaks off or stays silent for its
`stale_after`; either is told once, with the reason in plain words. A connection that stays silent is dropped and
made anew, because a peer that lost its power leaves one that looks alive.
"""

from __future__ import annotations

import errno
import gzip
import ipaddress
import re
import socket
import threading
from collections.abc import Callable, Generator, Iterable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Final

import serial

from monitor.base.addresses import without_secrets
from monitor.base.clock import AnchoredClock, stopwatch_s, wait
from monitor.intake.met import Reply, encode
from monitor.intake.met.services import SERVICES
from monitor.intake.signal_k import subscription
from monitor.records.events import RawReading, SourceStatus
from monitor.settings.schema import Feed

Emit = Callable[[RawReading | SourceStatus], None]
Bytes = Generator[bytes, None, None]

LONGEST_LINE: Final = 4096  # bytes
LONGEST_REPLY: Final = 8_000_000  # bytes
CONNECT_S: Final = 3.0
TICK_S: Final = 0.25  # how often a quiet reader looks whether it shall stop
RETRY_S: Final = (1.0, 2.0, 5.0, 10.0, 20.0, 30.0)
_LINE_END: Final = re.compile(rb"\r\n|\r|\n")
_BAUD: Final = {"ais": 38400, "nmea": 4800}  # IEC 61162-2 and -1


class Trouble(Exception):
    """A feed cannot be read; the text says why in plain words."""


class Status:
    """Tells up and down of one source, once for each change; of addresses no more than may be seen."""

    def __init__(self, source: str, emit: Emit) -> None:
        self._source, self._emit = source, emit
        self._up: bool | None = None

    def up(self, detail: str) -> None:
        """Something usable was heard."""
        if self._up is not True:
            self.note(detail)

    def down(self, detail: str) -> None:
        """Nothing can be heard, for this reason."""
        if self._up is not False:
            self._up = False
            self._emit(SourceStatus(self._source, False, without_secrets(detail)))

    def note(self, detail: str) -> None:
        """A fact about a source that is up."""
        self._up = True
        self._emit(SourceStatus(self._source, True, without_secrets(detail)))


class Lines:
    """Cuts a stream of bytes into lines; the last, unfinished one waits for its end.

    Of a line longer than LONGEST_LINE the beginning is given and the rest dropped; `cut` counts such lines.
    """

    def __init__(self) -> None:
        self.cut = 0
        self._begun = b""
        self._dropping = False

    def add(self, chunk: bytes) -> Iterator[bytes]:
        """The lines complete by now, without their ends; empty lines are left out."""
        *whole, self._begun = _LINE_END.split(self._begun + chunk)
        for line in whole:
            if not self._dropping and line:
                yield self._within(line)
            self._dropping = False
        if len(self._begun) > LONGEST_LINE:
            if not self._dropping:
                yield self._within(self._begun)
            self._begun, self._dropping = b"", True

    def rest(self) -> Iterator[bytes]:
        """The unfinished line, when no more will come."""
        if self._begun and not self._dropping:
            yield self._begun
        self._begun = b""

    def _within(self, line: bytes) -> bytes:
        self.cut += len(line) > LONGEST_LINE
        return line[:LONGEST_LINE]


def start(
    feeds: Iterable[Feed], emit: Emit, stop: threading.Event, file_pace_s: float = 0.0
) -> list[threading.Thread]:
    """One running thread for each feed that is read rather than polled; they end soon after `stop` is set.

    `emit` is called from these threads. `file_pace_s`: seconds between the lines of a file.
    """
    threads = [
        threading.Thread(
            target=read_feed, args=(feed, emit, stop, file_pace_s), name=f"feed {feed.name}", daemon=True
        )
        for feed in feeds
        if feed.over != "http"
    ]
    for thread in threads:
        thread.start()
    return threads


def read_feed(feed: Feed, emit: Emit, stop: threading.Event, file_pace_s: float = 0.0) -> None:
    """Read one feed until `stop` is set (a file: once), opening it again whenever it fails."""
    status = Status(feed.name, emit)
    failures = 0
    while not stop.is_set():
        heard, why = False, f"{feed.to} is read to its end"
        try:
            with closing(_texts(feed, status, stop)) as texts:
                for text in texts:
                    heard = True
                    status.up(f"hearing {feed.to}")
                    emit(RawReading(feed.name, text.decode("latin-1")))
                    if file_pace_s and feed.over == "file":
                        wait(file_pace_s, stop)
                    if stop.is_set():
                        return
        except Exception as error:  # of any kind: a reader that died unseen would look like quiet water
            why = _why(error, feed)
        if stop.is_set():
            return
        status.down(why)
        if heard and feed.over == "file" and feed.carries not in SERVICES:
            return
        failures = 0 if heard else failures + 1
        wait(RETRY_S[min(failures, len(RETRY_S) - 1)], stop)


def _texts(feed: Feed, status: Status, stop: threading.Event) -> Bytes:
    """Lines, or datagrams, until `stop` is set, the end of a file, or trouble."""
    kept = feed.over == "file" and feed.carries in SERVICES
    with closing(_file_kept(feed) if kept else _OPEN[feed.over](feed)) as chunks:
        heard = _unless_silent(chunks, feed, stop)
        if feed.over in ("udp", "websocket") or feed.carries in SERVICES:  # each is whole as it comes
            yield from heard
            return
        lines, cut_told = Lines(), False
        try:
            for chunk in heard:
                yield from lines.add(chunk)
                if lines.cut and not cut_told:
                    cut_told = True
                    status.note(f"a line longer than {LONGEST_LINE} bytes was cut")
        except Exception:
            yield from lines.rest()
            raise
        yield from lines.rest()


def _unless_silent(chunks: Iterable[bytes], feed: Feed, stop: threading.Event) -> Iterator[bytes]:
    """The chunks that hold something. Raises Trouble when none comes for the feed's `stale_after`."""
    heard_at_s = stopwatch_s()
    for chunk in chunks:
        if stop.is_set():
            return
        if chunk:
            heard_at_s = stopwatch_s()
            yield chunk
        elif stopwatch_s() - heard_at_s > max(feed.stale_after, 1.0):
            raise Trouble(f"nothing heard from {feed.to} for {max(feed.stale_after, 1.0):.0f} s")


# --- transports: each opens its feed and gives what comes, b"" when nothing came for TICK_S ---------------------


def _tcp(feed: Feed) -> Bytes:
    with socket.create_connection(_endpoint(feed.to), CONNECT_S) as connection:
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        connection.settimeout(TICK_S)
        while True:
            try:
                chunk = connection.recv(65536)
            except TimeoutError:
                yield b""
                continue
            if not chunk:
                raise Trouble(f"{feed.to} closed the connection")
            yield chunk


def _udp(feed: Feed) -> Bytes:
    host, port = _endpoint(feed.to)
    family, _, _, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_DGRAM)[0]
    with socket.socket(family, socket.SOCK_DGRAM) as receiver:
        if family == socket.AF_INET and ipaddress.ip_address(address[0]).is_multicast:
            _join(receiver, str(address[0]), port)
        else:
            receiver.bind(address)
        receiver.settimeout(TICK_S)
        while True:
            try:
                yield receiver.recv(65536)
            except TimeoutError:
                yield b""


def _join(receiver: socket.socket, group: str, port: int) -> None:
    """Receive a multicast group (IEC 61162-450 uses 239.192.0.0/26) beside other programs on this computer."""
    receiver.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        receiver.bind((group, port))
    except OSError:  # Windows cannot bind to a group
        receiver.bind(("", port))
    membership = socket.inet_aton(group) + socket.inet_aton("0.0.0.0")
    receiver.setsockopt(socket.IPPROTO_IP, socket.IP_ADD_MEMBERSHIP, membership)


def _serial(feed: Feed) -> Bytes:
    baud = feed.baud or _BAUD.get(feed.carries, 4800)
    with serial.serial_for_url(feed.to, baudrate=baud, timeout=TICK_S) as port:
        while True:
            yield port.read(port.in_waiting or 1)


def _file(feed: Feed) -> Bytes:
    path = Path(feed.to)
    with path.open("rb") as file:
        packed = file.read(2) == b"\x1f\x8b"
    with gzip.open(path) if packed else path.open("rb") as file:
        while chunk := file.read(65536):
            yield chunk


def _file_kept(feed: Feed) -> Bytes:
    """A reply of a service, or a table, that somebody puts there by hand: whole, each time it has changed.

    A file older than the feed's `stale_after` is no news, however often the program is started. One that is empty,
    or has changed since the last look, is still being written.
    """
    path, clock = Path(feed.to), AnchoredClock()
    seen = looked = (0, 0)
    while True:
        told = path.stat()
        age_s = clock.now().timestamp() - told.st_mtime
        if age_s > feed.stale_after:
            raise Trouble(f"{feed.to} was last changed {age_s / 3600:.1f} h ago: bring a newer one")
        before, looked = looked, (told.st_mtime_ns, told.st_size)
        if seen != looked == before and told.st_size:
            seen = looked
            yield encode(Reply(200, {}, path.read_bytes()[:LONGEST_REPLY].decode("utf-8", "replace"))).encode()
        wait(TICK_S)
        yield b""


def _websocket(feed: Feed) -> Bytes:
    try:
        from websockets.exceptions import WebSocketException
        from websockets.sync.client import connect
    except ImportError:
        raise Trouble("Signal K needs the optional package: pip install bightwatch[signalk]") from None
    try:
        with connect(feed.to, open_timeout=CONNECT_S, close_timeout=1.0, max_size=LONGEST_REPLY) as server:
            server.send(subscription())
            while True:
                try:
                    message = server.recv(timeout=TICK_S)
                except TimeoutError:
                    yield b""
                    continue
                yield message if isinstance(message, bytes) else message.encode()
    except WebSocketException as error:
        raise Trouble(f"{feed.to} is no Signal K stream, or broke off: {error}") from None


_OPEN: Final[dict[str, Callable[[Feed], Bytes]]] = {
    "tcp": _tcp,
    "udp": _udp,
    "serial": _serial,
    "file": _file,
    "websocket": _websocket,
}


def _endpoint(to: str) -> tuple[str, int]:
    """ "host:port" in two; without a host this computer itself. Raises Trouble when it is neither."""
    host, colon, port = to.rpartition(":")
    if not colon or not port.isdecimal() or not 0 < int(port) < 65536:
        raise Trouble(f'"{to}" is no host and port: write for instance "192.168.1.10:10110"')
    return host.strip("[]") or "127.0.0.1", int(port)


def _why(error: Exception, feed: Feed) -> str:
    """In plain words, for people."""
    match error:
        case Trouble():
            return str(error)
        case ConnectionRefusedError():
            return f"connection refused by {feed.to}"
        case ConnectionError():
            return f"{feed.to} broke the connection"
        case socket.gaierror():
            return f"the host of {feed.to} is not known"
        case TimeoutError():
            return f"no answer from {feed.to}"
        case EOFError() | gzip.BadGzipFile():
            return f"{feed.to} is damaged or cut off"
    number = getattr(error, "errno", None)
    if number == errno.ENOENT or "FileNotFoundError" in str(error):
        return f"there is no {'serial port' if feed.over == 'serial' else 'file'} {feed.to}"
    if number in (errno.EACCES, errno.EPERM, errno.EBUSY) or "PermissionError" in str(error):
        return f"{feed.to} may not be opened, or another program holds it"
    if number == errno.EADDRINUSE:
        return f"another program already listens on {feed.to}"
    if number == errno.EADDRNOTAVAIL:
        return f"this computer has no address {feed.to}"
    return f"{feed.to} cannot be read: {error}"
