"""Sends notices to people far away: one thread a channel, with retry, a limit an hour, and an outcome for each.

A channel that is slow or dead holds up nobody else. Of several notices about one alert that wait, the newest is
sent: nobody wants the history while the line is down. The optional package `apprise` knows some hundred ways to
send.
"""

from __future__ import annotations

import re
import threading
from collections import deque
from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any, Final, Protocol

from monitor.base.clock import stopwatch_s
from monitor.outlet.naming import notice_about
from monitor.outlet.wording import line_of
from monitor.records.events import Delivery, Notice, Priority
from monitor.settings.schema import Channel

RETRY_S: Final = (5.0, 15.0, 60.0, 300.0)
GIVE_UP_S: Final = 1800.0  # a notice so old tells nobody what to do
_HOUR_S: Final = 3600.0
_PERMANENT: Final = re.compile(r"\berror[=: ]+(?:400|401|403|404|410)\b|[Aa]uthentication|[Ll]ogin failed")


class Undeliverable(Exception):
    """It will not go through however often it is tried; the text says why."""


class NotNow(Exception):
    """It did not go through this time; the text says why."""


class Sender(Protocol):
    """Sends one message, or raises Undeliverable or NotNow."""

    def __call__(self, title: str, body: str, priority: Priority) -> None:
        """Send."""
        ...


def apprise_sender(address: str) -> Sender:
    """A sender to an apprise address. Raises Undeliverable without the package or for an address it does not
    know.
    """
    try:
        apprise: Any = import_module("apprise")
    except ImportError:
        raise Undeliverable("channels need the optional package: pip install bightwatch[notify]") from None
    kinds = {Priority.ALARM: apprise.NotifyType.FAILURE, Priority.WARNING: apprise.NotifyType.WARNING}
    service = apprise.Apprise()
    if not service.add(address):
        raise Undeliverable("its address is of no kind that can be sent to")

    def send(title: str, body: str, priority: Priority) -> None:
        kind = kinds.get(priority, apprise.NotifyType.INFO)
        with apprise.LogCapture(level=apprise.logging.WARNING) as log:
            if service.notify(body=body, title=title, notify_type=kind):
                return
            said = log.getvalue()
        why = _without_addresses(said) or "not taken"
        raise Undeliverable(why) if _PERMANENT.search(said) else NotNow(why)

    return send


def _without_addresses(said: str) -> str:
    """The last line of a log, without what may be secret."""
    lines = [line for line in said.splitlines() if line.strip()]
    text = re.sub(r"\S+://\S+|\S+@\S+", "(address)", lines[-1]) if lines else ""
    return re.sub(r"^[-\d:, ]+|\b(?:WARNING|ERROR)\b[- ]*", "", text).strip()[:200]


class Outbox:
    """The channels of an alert profile. `senders` by name; a channel without one fails at once, and says so."""

    def __init__(self, senders: Mapping[str, Sender | str], emit: Callable[[Delivery], None]) -> None:
        self._emit = emit
        self._stop = threading.Event()
        self._lanes = {name: _Lane(name, sender, emit, self._stop) for name, sender in senders.items()}
        for lane in self._lanes.values():
            lane.start()

    def send(self, channel: Channel, notice: Notice) -> None:
        """Have a notice sent; returns at once. What becomes of it is emitted as a Delivery."""
        lane = self._lanes.get(channel.name)
        if lane is None:
            self._emit(Delivery(notice.key, channel.name, False, "no address in addresses.toml"))
        else:
            lane.put(notice, channel.at_most_an_hour)

    def close(self, within_s: float = 2.0) -> None:
        """Stop sending."""
        self._stop.set()
        for lane in self._lanes.values():
            lane.wake()
            lane.join(within_s)


class _Lane(threading.Thread):
    """One channel's queue. A sender given as text is why there is none."""

    def __init__(
        self, name: str, sender: Sender | str, emit: Callable[[Delivery], None], stop: threading.Event
    ) -> None:
        super().__init__(name=f"channel {name}", daemon=True)
        self._channel, self._sender, self._emit, self._stopped = name, sender, emit, stop
        self._waiting: dict[str, tuple[float, Notice]] = {}  # by alert: since, newest
        self._changed = threading.Condition()
        self._sent_s: deque[float] = deque()

    def put(self, notice: Notice, at_most_an_hour: int) -> None:
        """Queue it; one above the limit is refused unless it is an alarm."""
        now_s = stopwatch_s()
        while self._sent_s and now_s - self._sent_s[0] > _HOUR_S:
            self._sent_s.popleft()
        if len(self._sent_s) >= at_most_an_hour and notice.priority is not Priority.ALARM:
            self._emit(Delivery(notice.key, self._channel, False, f"more than {at_most_an_hour} an hour"))
            return
        self._sent_s.append(now_s)
        with self._changed:
            earlier = self._waiting.pop(notice.alert, None)
            self._waiting[notice.alert] = now_s, notice
            self._changed.notify()
        if earlier is not None:
            self._emit(Delivery(earlier[1].key, self._channel, False, "a newer one about the same took its place"))

    def wake(self) -> None:
        """Look whether to stop."""
        with self._changed:
            self._changed.notify()

    def run(self) -> None:
        """Until stopped: the most urgent first, the oldest of them."""
        failures = 0
        while not self._stopped.is_set():
            with self._changed:
                while not self._waiting and not self._stopped.is_set():
                    self._changed.wait()
                if self._stopped.is_set():
                    return
                since_s, notice = min(self._waiting.values(), key=lambda w: (-w[1].priority.rank, w[0]))
            outcome, again = self._try(notice, since_s)
            failures = failures + 1 if again else 0
            if not again:
                with self._changed:
                    if self._waiting.get(notice.alert, (0.0, None))[1] is notice:
                        del self._waiting[notice.alert]
            if outcome is not None:
                self._emit(outcome)
            if again:
                self._stopped.wait(RETRY_S[min(failures - 1, len(RETRY_S) - 1)])

    def _try(self, notice: Notice, since_s: float) -> tuple[Delivery | None, bool]:
        """(outcome to tell, whether to try again)."""
        if isinstance(self._sender, str):
            return Delivery(notice.key, self._channel, False, self._sender), False
        title = f"{notice.priority.value.upper()}: {notice_about(notice)}"
        try:
            self._sender(title, f"{line_of(notice)}\n{notice.caution}", notice.priority)
        except Undeliverable as error:
            return Delivery(notice.key, self._channel, False, str(error)), False
        except Exception as error:  # of any kind: one notice may not end the channel
            if stopwatch_s() - since_s > GIVE_UP_S:
                return Delivery(notice.key, self._channel, False, f"given up: {error}"), False
            first = stopwatch_s() - since_s < RETRY_S[0]
            return (Delivery(notice.key, self._channel, False, f"tried again: {error}") if first else None), True
        return Delivery(notice.key, self._channel, True), False
