"""Sends notices: to the terminal and to a log file. Other channels join here behind the same small interface."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final, Protocol

from rich.console import Console
from rich.markup import escape

from monitor.outlet.naming import notice_about
from monitor.outlet.wording import Local, line_of
from monitor.records.events import Delivery, Notice, Priority, Reason

_STYLE: Final = {
    Priority.ALARM: "bold white on red",
    Priority.WARNING: "bold yellow",
    Priority.CAUTION: "yellow",
    Priority.NONE: "dim",
}
# Shape as well as colour, for colour-blind eyes and paper.
_MARK: Final = {Priority.ALARM: "▲▲▲", Priority.WARNING: "▲▲", Priority.CAUTION: "▲", Priority.NONE: "·"}


class Channel(Protocol):
    """One way to reach people. `send` raises OSError when it cannot."""

    name: str

    def send(self, notice: Notice) -> None:
        """Deliver one notice."""
        ...


class Terminal:
    """The bridge terminal: one notice as a short block, its parts in fixed order; a bell for new alarms."""

    def __init__(self, local: Local, console: Console | None = None, *, bell: bool = False) -> None:
        self.name = "terminal"
        self._local = local
        self._console = console or Console(highlight=False, soft_wrap=False)
        self._bell = bell

    def send(self, notice: Notice) -> None:
        """Print it."""
        ended = notice.reason is Reason.RECTIFIED
        style = _STYLE[Priority.NONE] if ended else _STYLE[notice.priority]
        word = f"{notice.priority.value.upper()} {'ENDED' if ended else notice.reason.value}"
        mark = _MARK[notice.priority]
        self._console.print(
            f"\n[{style}] {mark} {word}  {self._local.clock(notice.at)} [/] {escape(notice_about(notice))}"
        )
        for label, text in (
            ("DO", notice.do),
            ("WHAT", notice.what),
            ("WHY", notice.why),
            ("WHEN", notice.when),
            ("HOW SURE", notice.sure),
        ):
            if text:
                emphasis = "bold" if label == "DO" and not ended else ""
                shown = f"[{emphasis}]{escape(text)}[/]" if emphasis else escape(text)
                self._console.print(f"  {label:<9}{shown}")
        if self._bell and notice.priority in (Priority.ALARM, Priority.WARNING) and not ended:
            self._console.bell()


class LogFile:
    """One line a notice, appended and flushed: readable with any editor."""

    def __init__(self, path: Path, local: Local) -> None:
        self.name = "log file"
        self._path, self._local = path, local

    def send(self, notice: Notice) -> None:
        """Append it. Raises OSError when the disk will not take it."""
        self._path.parent.mkdir(parents=True, exist_ok=True)
        with self._path.open("a", encoding="utf-8") as log:
            stamp = f"{notice.at:%Y-%m-%dT%H:%M:%SZ} ({self._local.clock(notice.at)})"
            change = f"{notice_about(notice)}, {notice.reason.value}"
            log.write(f"{stamp} {change}: {line_of(notice)} {notice.caution}\n")


def deliver(notices: Iterable[Notice], channels: Sequence[Channel]) -> list[Delivery]:
    """Send every notice on every channel; what became of each. One dead channel stops no other."""
    outcomes = []
    for notice in notices:
        for channel in channels:
            try:
                channel.send(notice)
                outcomes.append(Delivery(notice.key, channel.name, True))
            except OSError as error:
                outcomes.append(Delivery(notice.key, channel.name, False, f"{type(error).__name__}: {error}"))
    return outcomes
