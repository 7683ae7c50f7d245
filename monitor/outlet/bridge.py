"""The wire to a bridge alert management system: one serial port of its own, or a socket on this computer."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from datetime import datetime
from typing import Final

import serial

from monitor.base.clock import stopwatch_s, wait
from monitor.outlet.alert_sentences import HEARTBEAT_S, LIST_EVERY_S, AlertSentences, Command
from monitor.records.events import Action, Notice, OperatorAction, Transition
from monitor.settings.schema import BridgeAlerts

BAUD: Final = 38_400  # IEC 61162-2
RETRY_S: Final = 5.0
WHO: Final = "bridge"
_ACTIONS: Final = {Command.ACKNOWLEDGE: Action.ACKNOWLEDGE, Command.SILENCE: Action.SILENCE}


class Bridge(threading.Thread):
    """Sends what is concluded, lists and heartbeats; `emit` takes what the bridge acknowledges or silences."""

    def __init__(
        self, settings: BridgeAlerts, emit: Callable[[OperatorAction], None], now: Callable[[], datetime]
    ) -> None:
        super().__init__(name="bridge alerts", daemon=True)
        self._to, self._emit, self._now = settings.to, emit, now
        self._sentences = AlertSentences(settings.talker, settings.maker)
        self._given: queue.Queue[Transition | Notice] = queue.Queue()
        self._texts: dict[str, str] = {}
        self._closing = threading.Event()

    def take(self, record: Transition | Notice) -> None:
        """One conclusion; returns at once."""
        self._given.put(record)

    def close(self) -> None:
        """Let go of the wire."""
        self._closing.set()
        self.join(2.0)

    def run(self) -> None:
        """Until closed; a wire that breaks is opened again, and what stands is told anew."""
        while not self._closing.is_set():
            try:
                with serial.serial_for_url(self._to, baudrate=BAUD, timeout=0.05, write_timeout=1.0) as port:
                    self._talk(port)
            except (OSError, ValueError):
                self._note()
                wait(RETRY_S, self._closing)

    def _note(self) -> list[str]:
        """The sentences of what was given meanwhile."""
        lines: list[str] = []
        while True:
            try:
                record = self._given.get_nowait()
            except queue.Empty:
                return lines
            if isinstance(record, Notice):
                self._texts[record.alert] = f"{record.do} {record.what}"
            else:
                lines += self._sentences.take(record, self._texts.get(record.alert, ""))

    def _talk(self, port: serial.Serial) -> None:
        def send(lines: list[str]) -> None:
            for line in lines:
                port.write(line.encode("ascii"))

        send(self._sentences.everything())
        beat_s = list_s = -LIST_EVERY_S
        begun = b""
        while not self._closing.is_set():
            send(self._note())
            now_s = stopwatch_s()
            if now_s - beat_s >= HEARTBEAT_S:
                beat_s = now_s
                send([self._sentences.heartbeat()])
            if now_s - list_s >= LIST_EVERY_S:
                list_s = now_s
                send(self._sentences.listing())
            *whole, begun = (begun + port.read(port.in_waiting or 1)).split(b"\n")
            begun = begun[-1000:]
            for line in whole:
                send(self._answer(line.decode("latin-1")))

    def _answer(self, line: str) -> list[str]:
        match self._sentences.command(line, self._now()):
            case str(refusal):
                return [refusal]
            case (Command.REQUEST, _):
                return self._sentences.everything()
            case (command, str(key)):
                self._emit(OperatorAction(WHO, _ACTIONS[command], key))
        return []
