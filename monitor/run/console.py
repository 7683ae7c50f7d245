"""The console's other side: a live watch or a replay as the page sees it (`outlet/console/desk`)."""

from __future__ import annotations

import threading
from bisect import bisect_right
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from errno import EADDRINUSE
from ipaddress import IPv4Address, IPv6Address, ip_address
from pathlib import Path
from secrets import token_urlsafe
from typing import Final

from monitor.base.clock import stopwatch_s, wait
from monitor.outlet.console.desk import Desk, Draft, Drilled, Reel, Reply, StaySheet
from monitor.outlet.naming import notice_about
from monitor.outlet.wording import Local
from monitor.records.codec import Record
from monitor.records.events import Action, Notice, Priority, Reason, SettingsSnapshot
from monitor.records.picture import Mode, Picture
from monitor.run import asked, stay_form
from monitor.run.drilling import drilled
from monitor.run.entries import EntryFault, read_entry
from monitor.run.journal import Entry, Journal
from monitor.run.live import Live
from monitor.run.picture import picture_of
from monitor.run.pipeline import Pipeline
from monitor.run.recording import Recording
from monitor.run.session import Session
from monitor.run.witness import KEPT, Witness
from monitor.settings.load import from_snapshot
from monitor.settings.schema import Settings

AT: Final = "127.0.0.1:8321"
RECALLED: Final = ("LoadEstimate", "Transition", "Notice", "OperatorAction", "Started", "Stopped")
FRAME: Final = timedelta(seconds=10)  # between the pictures kept of a replay
MOST_FRAMES: Final = 6000  # then every second one is let go and the stretch between them doubled
LEAD_IN: Final = timedelta(seconds=30)  # a jump lands this long before its event
_EVENTS: Final = (Reason.RAISED, Reason.LEVEL_UP, Reason.TIME_TO_ACT, Reason.BECAME_UNKNOWN)


class LiveDesk:
    """A live watch. Its consumer thread hands over the pictures (`watch`), the page's thread takes them."""

    def __init__(self, settings: Settings, taken: SettingsSnapshot, config: Path, witness: Witness) -> None:
        self._settings, self._config, self._witness = settings, config, witness
        self._stay, self._sha256 = taken.stay, taken.sha256
        self._last: tuple[Picture, datetime, int] | None = None
        self._seen: tuple[object, ...] = ()
        self._live: Live | None = None

    def attend(self, live: Live) -> None:
        """Entries go to this watch."""
        self._live = live

    def watch(self, pipeline: Pipeline, now: datetime) -> None:
        """Once a beat, in the consumer's thread: a new picture when something has changed."""
        beat = self._last[2] + 1 if self._last else 1
        seen = pipeline.estimate, pipeline.alerts, pipeline.stay, pipeline.outlook
        if self._last is None or any(one is not two for one, two in zip(seen, self._seen, strict=True)):
            picture = picture_of(pipeline, now, self._witness, settings_sha256=self._sha256)
            self._seen = seen
        else:
            picture = self._last[0]
        self._last = picture, now, beat

    def picture(self) -> Picture | None:
        """See Desk."""
        return self._last[0] if self._last else None

    def now(self) -> datetime | None:
        """See Desk."""
        return self._last[1] if self._last else None

    def beat(self) -> int:
        """See Desk."""
        return self._last[2] if self._last else 0

    def enter(self, line: str, who: str, decks_clear: bool = False) -> str:
        """See Desk."""
        picture = self.picture()
        if self._live is None or picture is None:
            return "The watch has not begun yet"
        alerts = {alert.key: alert for alert in picture.alerts}
        words = {alert.key: alert.about for alert in picture.alerts}
        try:
            names = [lead.line for lead in picture.plan.leads]
            alongside = [mmsi for mmsi, _ in picture.stay.craft]
            action = read_entry(line, names, words, who, self._settings.ship, alongside)
        except EntryFault as fault:
            return str(fault)
        if action.action is Action.ACKNOWLEDGE:
            alert = alerts[action.subject]
            if alert.priority is Priority.ALARM and alert.situation is not None and not decks_clear:
                return "An alarm is acknowledged with the tick: both mooring decks and the quay edge are clear"
            if decks_clear:
                action = replace(action, values=(*action.values, ("decks_clear", True)))
        self._live.emit(action)
        return ""

    def reel(self) -> Reel | None:
        """See Desk."""
        return None

    def seek(self, at_s: float) -> None:
        """See Desk."""

    def choose(self, number: int) -> None:
        """See Desk."""

    def run(self, playing: bool, pace: float | None = None) -> None:
        """See Desk."""

    def ask(self, fields: Mapping[str, str]) -> Reply:
        """See Desk."""
        now = self.now()
        return asked.ask(self._settings, now or self._settings.stay.tended_at, fields)

    def drill(self, fields: Mapping[str, str]) -> Drilled:
        """See Desk."""
        return drilled(self._settings, fields)

    def stay_sheet(self, name: str = "", ship: str = "", berth: str = "") -> StaySheet | None:
        """See Desk."""
        return stay_form.sheet_of(self._config, name or self._stay, ship, berth)

    def draft(self, fields: Mapping[str, str]) -> Draft:
        """See Desk."""
        return stay_form.draft(self._config, fields)

    def keep(self, fields: Mapping[str, str]) -> str:
        """See Desk."""
        return stay_form.keep(self._config, fields)


@dataclass(slots=True)
class _Album:
    """The pictures of one recording, as far as it is read in."""

    recording: Recording
    settings: Settings
    title: str
    frames: list[Picture] = field(default_factory=list)
    times_s: list[float] = field(default_factory=list)
    events: list[tuple[float, str]] = field(default_factory=list)
    done: float = 0.0

    @classmethod
    def of(cls, recording: Recording) -> _Album:
        """An empty one."""
        return cls(recording, from_snapshot(recording.settings()), _title(recording))

    def note(self, conclusion: Record, at_s: float, local: Local) -> None:
        """Take note of what is worth jumping to."""
        if isinstance(conclusion, Notice) and conclusion.reason in _EVENTS and conclusion.priority.rank >= 2:
            words = f"{local.clock(conclusion.at)} {conclusion.priority.value.upper()} {notice_about(conclusion)}"
            self.events.append((max(0.0, at_s - LEAD_IN.total_seconds()), words))


def _title(recording: Recording) -> str:
    return recording.about.name if recording.about else recording.path.stem


class ReplayDesk:
    """Recordings, one at a time, as an album of pictures: read in once at full speed, then shown at any pace and
    place.

    `develop` blocks and belongs in a thread of its own; what is read in can be looked at meanwhile.
    """

    def __init__(self, *recordings: Recording) -> None:
        self._recordings, self._chosen = recordings, 0
        self._album = _Album.of(recordings[0])
        self._beat, self._playing, self._pace = 0, True, 60.0
        self._from_s, self._since_s = 0.0, stopwatch_s()
        self._lock = threading.Lock()

    @property
    def unread(self) -> bool:
        """Whether there is something to `develop`."""
        return self._album.done < 1.0

    def develop(self, stop: threading.Event) -> None:
        """Read the chosen recording in; until another is chosen."""
        album, session, witness, frame = self._album, Session(), Witness(), FRAME
        total_inputs = album.recording.about.inputs if album.recording.about else 0
        local = Local(album.settings.stay.local_time_ahead_of_utc)
        began_at = at = last_at = None
        for count, entry in enumerate(album.recording.inputs(), 1):
            if stop.is_set() or self._album is not album:
                return
            at = entry.stamped_at
            began_at = began_at or at
            witness.see(at, entry.record)
            concluded = session.handle(at, entry.record)  # type: ignore[arg-type]
            for conclusion in concluded:
                witness.see(at, conclusion)
                album.note(conclusion, (at - began_at).total_seconds(), local)
            session.remember(entry)
            told = any(isinstance(conclusion, Notice) for conclusion in concluded)
            if session.pipeline is None or not (told or last_at is None or at - last_at >= frame):
                continue
            last_at = at
            picture = picture_of(session.pipeline, at, witness, Mode.REPLAY, album.title)
            if self._keep(album, picture, (at - began_at).total_seconds()):
                frame *= 2
            album.done = count / (total_inputs + 1) if total_inputs else 0.5
            wait(0.0)  # let the page's thread have its turn
        if began_at is not None and at is not None and session.pipeline is not None:
            picture = picture_of(session.pipeline, at, witness, Mode.REPLAY, album.title)
            self._keep(album, picture, (at - began_at).total_seconds())
        album.done = 1.0

    def _keep(self, album: _Album, picture: Picture, at_s: float) -> bool:
        """Put a picture into the album; True when the album was thinned to make room."""
        with self._lock:
            album.frames.append(picture)
            album.times_s.append(at_s)
            thin = len(album.frames) > MOST_FRAMES
            if thin:
                del album.frames[1::2], album.times_s[1::2]
        return thin

    def _at_s(self) -> float:
        times_s = self._album.times_s
        played_s = (stopwatch_s() - self._since_s) * self._pace if self._playing else 0.0
        return min(self._from_s + played_s, times_s[-1] if times_s else 0.0)

    def _settle(self) -> None:
        self._from_s, self._since_s = self._at_s(), stopwatch_s()

    def picture(self) -> Picture | None:
        """See Desk."""
        with self._lock:
            album = self._album
            if not album.frames:
                return None
            return album.frames[max(0, bisect_right(album.times_s, self._at_s()) - 1)]

    def now(self) -> datetime | None:
        """See Desk."""
        with self._lock:
            album = self._album
            if not album.frames:
                return None
            return album.frames[0].now + timedelta(seconds=self._at_s() - album.times_s[0])

    def beat(self) -> int:
        """See Desk: a replay is alive as long as it answers."""
        with self._lock:
            self._settle()  # what has not been read in yet is waited for, not skipped
        self._beat += 1
        return self._beat

    def enter(self, line: str, who: str, decks_clear: bool = False) -> str:
        """See Desk."""
        return "REPLAY: entries are not taken"

    def reel(self) -> Reel | None:
        """See Desk."""
        with self._lock:
            album = self._album
            total_s = album.times_s[-1] if album.times_s else 0.0
            about = album.recording.about
            if album.done < 1.0 and album.frames and about is not None:
                total_s = max(total_s, (about.ends - album.frames[0].now).total_seconds() + album.times_s[0])
            titles = tuple(map(_title, self._recordings))
            events = tuple(album.events)
            return Reel(self._at_s(), total_s, album.done, self._playing, self._pace, events, titles, self._chosen)

    def choose(self, number: int) -> None:
        """See Desk."""
        if number == self._chosen or not 0 <= number < len(self._recordings):
            return
        album = _Album.of(self._recordings[number])
        with self._lock:
            self._chosen, self._album = number, album
            self._from_s, self._since_s = 0.0, stopwatch_s()

    def seek(self, at_s: float) -> None:
        """See Desk."""
        with self._lock:
            self._from_s, self._since_s = max(0.0, at_s), stopwatch_s()
            self._settle()

    def run(self, playing: bool, pace: float | None = None) -> None:
        """See Desk."""
        with self._lock:
            self._settle()
            self._playing, self._pace = playing, pace or self._pace

    def ask(self, fields: Mapping[str, str]) -> Reply:
        """See Desk."""
        return asked.ask(self._album.settings, self.now() or self._album.settings.stay.tended_at, fields)

    def drill(self, fields: Mapping[str, str]) -> Drilled:
        """See Desk."""
        return drilled(self._album.settings, fields)

    def stay_sheet(self, name: str = "", ship: str = "", berth: str = "") -> StaySheet | None:
        """See Desk."""
        return None

    def draft(self, fields: Mapping[str, str]) -> Draft:
        """See Desk."""
        return Draft("", ("stays are not written in a replay",), (), None)

    def keep(self, fields: Mapping[str, str]) -> str:
        """See Desk."""
        return "Stays are not written in a replay"


def lately(store: Journal) -> Iterator[Entry]:
    """What the journal's last two hours hold for the witness of a watch that goes on."""
    last = store.last_alive_at()
    if last is not None:
        yield from store.read(begins=last - KEPT, kinds=RECALLED)


def open_console(desk: Desk, at: str, data: Path) -> str:
    """Serve a desk at "host:port"; returns the address to open.

    Beyond this machine a token is asked for: it is made once, in the file `console.token` of the data folder.
    Raises ValueError when the console is not installed, or the port taken.
    """
    try:
        from monitor.outlet.console.server import serve
    except ModuleNotFoundError as error:
        raise ValueError(
            f"the console needs '{error.name}', which is not installed: pip install 'bightwatch[console]'"
        ) from None
    host, port = _place(at)
    beyond = not host.is_loopback
    try:
        console = serve(desk, str(host), port, _token(data / "console.token") if beyond else "")
    except OSError as error:
        if error.errno != EADDRINUSE:
            raise
        raise ValueError(f"{at} is taken by another program: name another place with --at") from None
    return (
        f"{console.address} (add ?token= and the text of {data / 'console.token'})" if beyond else console.address
    )


def _place(at: str) -> tuple[IPv4Address | IPv6Address, int]:
    """An address of this machine, and a port."""
    host, _, port = at.rpartition(":")
    with suppress(ValueError):
        if 0 <= int(port) <= 65535:  # 0: any that is free
            return ip_address(host), int(port)
    raise ValueError(f"'{at}' is no place to serve at: write an address and a port, for instance {AT}")


def _token(path: Path) -> str:
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch(mode=0o600, exist_ok=False)
        path.write_text(token_urlsafe(24), encoding="ascii")
    return path.read_text(encoding="ascii").strip()
