"""A busy harbour, live, on loopback: what a berth's AIS and anemometer feeds bring, as long as it is asked for.

INVENTED ships (MMSI 2009xxxxx): 24 go up and down the fairway at 5 to 11 kn (class A, every 10 s), 16 small craft
with them (class B, every 30 s), 110 lie at other quays (every 3 min); wind once a second.
"""

from __future__ import annotations

import math
import socket
import threading
import time
from collections.abc import Iterator
from itertools import pairwise
from typing import Any, Final

from monitor.base.frames import LocalMap
from monitor.base.units import m_s
from monitor.settings.schema import Settings
from tests.composed import POSITION, STATIC, sealed, vdm

UNDER_WAY: Final = 24
SMALL: Final = 16
AT_REST: Final = 110


class Harbour:
    """Serves AIS over TCP and wind over UDP to the two ports until closed."""

    def __init__(self, settings: Settings, ais_port: int, wind_port: int) -> None:
        self._way = _Way(settings)
        self._wind_port = wind_port
        self._server = socket.create_server(("127.0.0.1", ais_port))
        self._server.settimeout(0.5)
        self._stop = threading.Event()
        self.sent = 0
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def close(self) -> None:
        """End it."""
        self._stop.set()
        self._thread.join(timeout=5.0)
        self._server.close()

    def _run(self) -> None:
        wind = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        while not self._stop.is_set():
            try:
                peer, _ = self._server.accept()
            except TimeoutError:
                continue
            with peer:
                begun_s, second = time.monotonic(), 0
                while not self._stop.wait(max(0.0, begun_s + second - time.monotonic())):
                    lines = list(self._said(second))
                    try:
                        peer.sendall(("\r\n".join(lines) + "\r\n").encode("ascii"))
                    except OSError:
                        break
                    mwv = sealed(f"$WIMWV,{(40 + 5 * math.sin(second / 40)) % 360:.1f},R,{6 + second % 3:.1f},M,A")
                    wind.sendto((mwv + "\r\n").encode("ascii"), ("127.0.0.1", self._wind_port))
                    self.sent += len(lines)
                    second += 1
        wind.close()

    def _said(self, second: int) -> Iterator[str]:
        """The sentences of one second."""
        stamp = int(time.time()) % 60
        for number in range(UNDER_WAY + SMALL):
            class_a = number < UNDER_WAY
            if second % (10 if class_a else 30) == number % (10 if class_a else 30):
                latitude_deg, longitude_deg, course_deg, knots = self._way.place(number, second)
                fields: dict[str, Any] = POSITION if class_a else {**POSITION, "msg_type": 18}
                yield from vdm(fields, mmsi=_mmsi(number), lat=latitude_deg, lon=longitude_deg, speed=knots,
                               course=course_deg, heading=round(course_deg) % 360, second=stamp)  # fmt: skip
            if class_a and second % 360 == number:
                yield from vdm(STATIC, seq_id=number % 10, mmsi=_mmsi(number), to_bow=80 + 5 * number, draught=7.0)
        for number in range(AT_REST):
            if second % 180 == number:
                latitude_deg, longitude_deg = self._way.quay(number)
                yield from vdm(POSITION, mmsi=_mmsi(500 + number), lat=latitude_deg, lon=longitude_deg, speed=0.0,
                               status=5, turn=0, second=stamp)  # fmt: skip


class _Way:
    """The fairway as a road: where each ship is on it."""

    def __init__(self, settings: Settings) -> None:
        berth = settings.berth
        self._map = LocalMap(berth.position.latitude, berth.position.longitude)
        self._points = [self._map.to_plane(point.latitude, point.longitude) for point in berth.fairway.middle]
        self._lengths_m = [math.dist(here, there) for here, there in pairwise(self._points)]
        self._whole_m = sum(self._lengths_m)

    def place(self, number: int, second: int) -> tuple[float, float, float, float]:
        """Latitude, longitude, course and speed in knots; even numbers go up, odd ones down, spread all over."""
        knots = 5.0 + number % 7
        gone_m = (number * 0.137 * self._whole_m + m_s(knots) * second) % self._whole_m
        up = number % 2 == 0
        north_m, east_m, course_deg = self._at(gone_m if up else self._whole_m - gone_m)
        latitude_deg, longitude_deg = self._map.to_position(north_m, east_m)
        return latitude_deg, longitude_deg, course_deg if up else (course_deg + 180.0) % 360.0, knots

    def quay(self, number: int) -> tuple[float, float]:
        """A place beside the fairway, far enough from the berth to lie there."""
        north_m, east_m, course_deg = self._at((number + 0.5) / AT_REST * self._whole_m)
        aside = math.radians(course_deg + 90.0)
        return self._map.to_position(north_m + 600.0 * math.cos(aside), east_m + 600.0 * math.sin(aside))

    def _at(self, along_m: float) -> tuple[float, float, float]:
        for (here, there), length_m in zip(pairwise(self._points), self._lengths_m, strict=True):
            if along_m <= length_m:
                share = along_m / length_m
                north_m, east_m = (a + share * (b - a) for a, b in zip(here, there, strict=True))
                return north_m, east_m, math.degrees(math.atan2(there[1] - here[1], there[0] - here[0])) % 360.0
            along_m -= length_m
        return self._at(self._whole_m)


def _mmsi(number: int) -> int:
    return 200_900_000 + number
