"""An incident clip: the time round a moment as a recording of its own, locked against change.

Before its start it holds what a watch that begins in the middle must know, as a restarted watch does: the settings
in force, all that people had told about the stay, and the last ten minutes of inputs.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from heapq import merge
from itertools import chain
from pathlib import Path
from typing import Final

from monitor.records.events import Started
from monitor.run.chain import lock
from monitor.run.journal import Entry, from_us, to_us
from monitor.run.recording import (
    MID_WATCH,
    About,
    Recording,
    RecordingError,
    program_version,
    write_recording,
)
from monitor.run.session import REMEMBERED

MINUTES: Final = 30.0
_MARKS: Final = ("SettingsSnapshot", "Started", "Stopped")  # of other watches
_TOLD: Final = ("OperatorAction", "ClockStepped")


@dataclass(frozen=True, slots=True)
class Clip:
    """A clip as written, and the head of its chain for the log book."""

    about: About
    head: str


def clip(recording: Recording, at: datetime, folder: Path, minutes: float = MINUTES) -> Clip:
    """Write the events within `minutes` of a time as a locked recording folder, which must not exist or be empty.

    Raises RecordingError when the recording holds nothing of that time, or no settings before it, and ValueError
    for a time or a length that makes no sense.
    """
    if at.tzinfo is None or not 0.0 < minutes <= 24 * 60:
        raise ValueError("a clip needs a time with its zone, and from above 0 to 1440 minutes")
    about, length = recording.about, timedelta(minutes=minutes)
    what = f"{minutes:.0f} min before and after {at:%Y-%m-%d %H:%M:%S} UTC"
    entries = _stretch(recording, to_us(at - length), to_us(at + length))
    first = next(entries, None)
    if first is None:
        raise RecordingError(f"{recording.path.name} holds no event of {what}")
    written = write_recording(
        folder,
        chain((first,), entries),
        name=f"Clip of {about.name if about else recording.path.stem}",
        invented=about.invented if about else False,
        holds=f"{what}. {about.holds if about else ''}".strip(),
    )
    return Clip(written, lock(folder))


def _stretch(recording: Recording, begins_us: int, ends_us: int) -> Iterator[Entry]:
    """What must be known before, a start, and the events of the time."""
    settings: Entry | None = None
    told: list[Entry] = []
    recent: deque[Entry] = deque()
    beyond: list[Entry] = []
    begun = False
    for entry in merge(recording.inputs(), recording.outputs(), key=lambda entry: entry.seq):
        if begun and entry.stamped_us >= ends_us:  # over, unless a clock that leapt ahead is set back soon
            beyond.append(entry)
            if entry.stamped_us - beyond[0].stamped_us > ends_us - begins_us:
                return
            continue
        if not begun and begins_us <= entry.stamped_us < ends_us:
            begun = True
            starts = entry.kind == "SettingsSnapshot"  # the watch itself begins in this time
            if settings is not None and not (starts and _other_stay(settings, entry)):
                yield settings._replace(stamped_us=entry.stamped_us)
                yield from merge(told, recent, key=lambda each: each.seq)
                if not starts and entry.kind != "Started":
                    yield _start(entry)
            elif not starts:
                raise RecordingError(f"{recording.path.name} holds no settings before that time")
        if begun:
            yield from beyond
            beyond.clear()
            yield entry
        elif entry.direction == "in":
            if entry.kind == "SettingsSnapshot":
                if settings is not None and _other_stay(settings, entry):
                    told.clear()  # what was told of another stay is over, as for a session
                    recent.clear()
                settings = entry
            if entry.kind not in _MARKS:
                recent.append(entry)
            while recent and entry.stamped_us - recent[0].stamped_us > REMEMBERED // timedelta(microseconds=1):
                gone = recent.popleft()
                if gone.kind in _TOLD:
                    told.append(gone)


def _other_stay(one: Entry, two: Entry) -> bool:
    """Of two snapshots of settings."""
    return one.record.stay != two.record.stay  # type: ignore[union-attr]


def _start(entry: Entry) -> Entry:
    return Entry.of(entry.seq, from_us(entry.stamped_us), "in", Started(f"{program_version()}{MID_WATCH}"))
