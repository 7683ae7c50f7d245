"""Who is told of what, and when: at once, or when nobody has acknowledged. Pure; the sending is in `outbox`."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from monitor.records.events import Delivery, Notice, Priority, Reason, Transition
from monitor.settings.schema import Alerts, Channel

_ENDS = (Reason.ACKNOWLEDGED, Reason.RECTIFIED, Reason.CLOSED)


def tells(channel: Channel, priority: Priority) -> bool:
    """Whether a channel is for alerts of a priority."""
    return priority.rank >= Priority(channel.tells).rank


def waits(channel: Channel, priority: Priority) -> timedelta | None:
    """How long an alert of a priority must stand unacknowledged before the channel is told; None: it never is.

    A caution needs no answer, so nobody waits for one.
    """
    if not tells(channel, priority):
        return None
    if channel.unacknowledged_for is None:
        return timedelta(0)
    return None if priority is Priority.CAUTION else timedelta(seconds=channel.unacknowledged_for)


@dataclass(slots=True)
class Escalation:
    """What each channel has been told, and what waits for somebody to acknowledge."""

    channels: Sequence[Channel]
    _open: dict[str, tuple[datetime, Notice]] = field(default_factory=dict)  # alert → raised at, newest notice
    _told: dict[str, set[str]] = field(default_factory=dict)  # alert → names of channels

    def take(self, record: Transition | Notice) -> list[tuple[Channel, Notice]]:
        """One conclusion of the watch; who is to be told of it now."""
        if isinstance(record, Transition):
            if record.reason in _ENDS:
                self._open.pop(record.alert, None)
            return []
        told = self._told.setdefault(record.alert, set())
        if record.reason is Reason.RECTIFIED:  # those who heard of it hear of its end
            self._told.pop(record.alert)
            self._open.pop(record.alert, None)
            return [(channel, record) for channel in self.channels if channel.name in told]
        raised_at, earlier = self._open.get(record.alert, (record.at, record))
        if record.priority.rank > earlier.priority.rank:
            raised_at = record.at
        if record.alert in self._open or record.reason is not Reason.BECAME_UNKNOWN:  # that sounds nothing anew
            self._open[record.alert] = raised_at, record
        now = [c for c in self.channels if waits(c, record.priority) == timedelta(0)]
        again = [c for c in self.channels if c.name in told and c not in now and tells(c, record.priority)]
        told |= {channel.name for channel in now}
        return [(channel, record) for channel in (*now, *again)]

    def remember(self, record: Transition | Notice | Delivery) -> None:
        """Something of before a restart, in its order: whoever got a notice hears of its end, whoever did not may
        still be due."""
        if isinstance(record, Delivery):
            alert = record.notice_key.rpartition("@")[0]
            if record.delivered and alert in self._told:
                self._told[alert].add(record.channel)
            return
        told = set(self._told.get(record.alert, ()))
        self.take(record)
        if record.alert in self._told:
            self._told[record.alert] = told

    def keep(self, alerts: Collection[str]) -> None:
        """Forget all others: they were of another stay."""
        self._open = {alert: known for alert, known in self._open.items() if alert in alerts}
        self._told = {alert: names for alert, names in self._told.items() if alert in alerts}

    def clock_set(self, by: timedelta) -> None:
        """The clock was set: nobody has waited longer or shorter for it."""
        self._open = {alert: (raised_at + by, notice) for alert, (raised_at, notice) in self._open.items()}

    def due(self, now: datetime) -> list[tuple[Channel, Notice]]:
        """Whom to tell now because nobody has acknowledged."""
        found = []
        for alert, (raised_at, notice) in self._open.items():
            told = self._told.setdefault(alert, set())
            for channel in self.channels:
                wait = waits(channel, notice.priority)
                if wait is not None and channel.name not in told and now - raised_at >= wait:
                    told.add(channel.name)
                    found.append((channel, notice))
        return found


def who_is_told(alerts: Alerts, with_address: Collection[str]) -> str:
    """In plain words, for each priority: who would be told when. `with_address`: channels that have one."""
    paragraphs = []
    for priority in (Priority.ALARM, Priority.WARNING, Priority.CAUTION):
        rows = ["  at once: the terminal (alarms and warnings with a bell) and the log file"]
        for channel in sorted(alerts.channels, key=lambda c: c.unacknowledged_for or 0.0):
            wait = waits(channel, priority)
            if wait is None:
                continue
            when = "at once" if not wait else f"when nobody has acknowledged for {_spoken(wait)}"
            lacks = "" if channel.name in with_address else "  (HAS NO ADDRESS: would not be reached)"
            often = "" if priority is Priority.ALARM else f", at most {channel.at_most_an_hour} notices an hour"
            rows.append(f"  {when}: {channel.name}{often}{lacks}")
        if alerts.bridge_alerts is not None:
            rows.append(f"  at once: the bridge alert system on {alerts.bridge_alerts.to}")
        if len(rows) == 1:
            rows.append("  nobody else")
        paragraphs.append("\n".join([f"{priority.value.upper()}:", *rows]))
    timing = alerts.timing
    paragraphs.append(
        "An alarm that nobody acknowledges is told again after "
        f"{_spoken(timedelta(seconds=timing.escalate_alarm))}, "
        f"a warning after {_spoken(timedelta(seconds=timing.repeat_warning))}. "
        "Who was told of an alert is told of its end."
    )
    life = alerts.dead_man
    if life is None:
        paragraphs.append("If this PC dies, NOBODY is told.")
    elif life.ping is None:
        paragraphs.append(f"If this PC dies, {life.file} ages: somebody must look at it. NOBODY outside is told.")
    else:
        paragraphs.append(
            "If this PC dies, the calls to the address under dead_man cease: who is behind it is told."
        )
    return "\n\n".join(paragraphs)


def _spoken(time: timedelta) -> str:
    seconds = time.total_seconds()
    return f"{seconds:.0f} s" if seconds < 120 else f"{seconds / 60:g} min"
