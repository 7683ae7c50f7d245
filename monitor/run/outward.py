"""What leaves the PC while the watch runs: far channels with their escalation, the bridge wire, the sign of
life.
"""

from __future__ import annotations

import shutil
import tomllib
from collections.abc import Callable, Collection, Iterable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from monitor.outlet.bridge import Bridge
from monitor.outlet.escalation import Escalation
from monitor.outlet.outbox import Outbox, Sender, Undeliverable, apprise_sender
from monitor.outlet.sign_of_life import SignOfLife
from monitor.records.codec import Record
from monitor.records.events import ClockStepped, Delivery, In, Notice, Priority, SourceStatus, Transition
from monitor.run.pipeline import Pipeline
from monitor.settings.schema import Alerts

ADDRESSES: Final = "addresses.toml"
DISK: Final = "disk"
DISK_LOW_BYTES: Final = 1_000_000_000  # some days of a busy port's journal
DISK_EVERY_BEATS: Final = 30


def addresses(data: Path) -> dict[str, str]:
    """Addresses by channel from the data folder; none without the file. Raises ValueError when it is no such
    file.
    """
    path = data / ADDRESSES
    if not path.exists():
        return {}
    told = tomllib.loads(path.read_text(encoding="utf-8"))
    if wrong := [name for name, address in told.items() if not isinstance(address, str)]:
        raise ValueError(f"{path.name}: {', '.join(wrong)}: write each address as text, in quotes")
    return told


def senders(alerts: Alerts, told: dict[str, str]) -> dict[str, Sender | str]:
    """A sender for each channel that has an address, or why it can have none."""
    found: dict[str, Sender | str] = {}
    for channel in alerts.channels:
        if channel.name in told:
            try:
                found[channel.name] = apprise_sender(told[channel.name])
            except Undeliverable as why:
                found[channel.name] = str(why)
    return found


class Outward:
    """Everything outward of one watch. `emit` is its door: outcomes and answers come in as inputs like any
    other.
    """

    def __init__(
        self,
        alerts: Alerts,
        data: Path,
        emit: Callable[[In], None],
        now: Callable[[], datetime],
        by_name: dict[str, Sender | str] | None = None,
    ) -> None:
        self._data, self._emit = data, emit
        self._escalation = Escalation(alerts.channels)
        self._outbox = Outbox(senders(alerts, addresses(data)) if by_name is None else by_name, emit)
        self._bridge = None if alerts.bridge_alerts is None else Bridge(alerts.bridge_alerts, emit, now)
        if self._bridge is not None:
            self._bridge.start()
        dead_man = alerts.dead_man
        self._life = (
            None if dead_man is None else SignOfLife(data / dead_man.file, dead_man.every, dead_man.ping, emit)
        )
        self._beats = 0
        self._disk_low: bool | None = None  # first told as it is: an earlier watch may have told otherwise

    def concluded(self, record: Record) -> None:
        """One conclusion of the watch."""
        if isinstance(record, Transition | Notice):
            for channel, notice in self._escalation.take(record):
                self._outbox.send(channel, notice)
            if self._bridge is not None:
                self._bridge.take(record)

    def resume(self, before: Iterable[Record], alerts: Collection[str]) -> None:
        """Go on from what was told before a restart; `alerts`: those that stand."""
        for record in before:
            match record:
                case Transition() | Notice() | Delivery():
                    self._escalation.remember(record)
                case ClockStepped():
                    self.clock_set(timedelta(seconds=record.step_s))
        self._escalation.keep(alerts)

    def clock_set(self, by: timedelta) -> None:
        """The clock was set, forward when `by` is positive."""
        self._escalation.clock_set(by)

    def beat(self, now: datetime, pipeline: Pipeline) -> None:
        """Once a second, from the watch itself."""
        for channel, notice in self._escalation.due(now):
            self._outbox.send(channel, notice)
        if self._life is not None:
            alarms = sum(a.active and a.priority is Priority.ALARM for a in pipeline.alerts.values())
            self._life.beat(now, pipeline.dark, alarms)
        if self._beats % DISK_EVERY_BEATS == 0:
            self._look_at_disk()
        self._beats += 1

    def close(self) -> None:
        """Stop all of it."""
        self._outbox.close()
        if self._bridge is not None:
            self._bridge.close()
        if self._life is not None:
            self._life.close()

    def _look_at_disk(self) -> None:
        try:
            free = shutil.disk_usage(self._data).free
        except OSError:
            return
        low = free < DISK_LOW_BYTES * (1.1 if self._disk_low else 1.0)
        if low is not self._disk_low:
            self._disk_low = low
            self._emit(SourceStatus(DISK, not low, f"{free / 1e6:.0f} MB are free on the disk of the journal"))
