"""A sign of life outside the program: a file rewritten, and a web address called, as long as the watch lives.

Both follow the beat of the watch itself: when its consumer hangs, the file ages and the calls cease, whatever
threads still run. The file holds when it was written and what is dark, for a script or a person to read.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Final

import requests

from monitor.base.clock import stopwatch_s
from monitor.records.events import SourceStatus

PING: Final = "outward ping"
TIMEOUT_S: Final = (5.0, 10.0)
HUNG_S: Final = 15.0  # without a beat for so long, the watch does not live


class SignOfLife:
    """`beat` is called by the watch every second; `emit` takes what becomes of the calls, once for each change."""

    def __init__(self, path: Path, every_s: float, ping: str | None, emit: Callable[[SourceStatus], None]) -> None:
        self._path, self._every_s, self._emit = path, every_s, emit
        self._written_s = -every_s
        self._beat_s = stopwatch_s()
        self._stop = threading.Event()
        self._up: bool | None = None
        self._thread: threading.Thread | None = None
        if ping is not None:
            self._thread = threading.Thread(target=self._call, args=(ping,), name=PING, daemon=True)
            self._thread.start()

    def beat(self, now: datetime, dark: Sequence[str], alarms: int) -> None:
        """The watch lives. Raises nothing: a full disk has its own alert, and an old file speaks for itself."""
        self._beat_s = stopwatch_s()
        if self._beat_s - self._written_s < self._every_s:
            return
        self._written_s = self._beat_s
        told = {"alive_at": now.isoformat(), "every_s": self._every_s, "dark": list(dark), "alarms": alarms}
        beside = self._path.with_suffix(".new")
        try:
            self._path.parent.mkdir(parents=True, exist_ok=True)
            beside.write_text(json.dumps(told), encoding="utf-8")
            beside.replace(self._path)  # a reader never sees half a file
        except OSError:
            return

    def close(self) -> None:
        """No more calls."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join(0.5)

    def _call(self, address: str) -> None:
        while not self._stop.wait(self._every_s):
            if stopwatch_s() - self._beat_s > HUNG_S:
                continue
            try:
                reply = requests.get(address, timeout=TIMEOUT_S, headers={"User-Agent": "bightwatch"})
                up, why = reply.ok, f"answered {reply.status_code}"
            except requests.RequestException:
                up, why = False, "no answer"
            if up is not self._up and not (up and self._up is None):
                self._emit(SourceStatus(PING, up, f"The call that says this PC lives: {why}"))
            self._up = up
