"""Recordings: a stretch of a journal in a folder that git can hold and a person can read.

``about.toml`` says what it is; ``in.jsonl.gz`` and ``out.jsonl.gz`` hold one event a line, ``[number, "stamp",
"kind", schema, body]``; ``settings/`` holds copies of the settings files for people to read (what counts is the
snapshot among the inputs). The same events always give the same bytes.
"""

from __future__ import annotations

import gzip
import json
import tomllib
import warnings
import zlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from functools import cache
from heapq import merge
from importlib import metadata
from itertools import chain as joined
from itertools import islice
from pathlib import Path, PurePosixPath
from types import TracebackType
from typing import Any, BinaryIO, Final, Self

from pydantic import TypeAdapter, ValidationError
from pydantic_core import from_json

from monitor.records import codec
from monitor.records.events import Direction, SettingsSnapshot, Started
from monitor.run import chain
from monitor.run.journal import Entry, Journal, JournalDamaged, JournalReader, from_us, to_us

ABOUT: Final = "about.toml"
MID_WATCH: Final = " (a stretch of a running watch)"  # in the version of a start that was put before one
_DIRECTIONS: Final[tuple[Direction, Direction]] = ("in", "out")
_UNREADABLE: Final = (EOFError, OSError, zlib.error, ValueError, TypeError, JournalDamaged)


class RecordingError(Exception):
    """A recording that cannot be made or opened; the text says why."""


class RecordingCut(UserWarning):
    """A recording whose end cannot be read; all before it can. `after` is the last whole event, None for none."""

    def __init__(self, path: Path, direction: Direction, after: Entry | None, why: str) -> None:
        where = f"after event {after.seq} at {_stamp(after.stamped_at)}" if after else "before its first event"
        super().__init__(f"recording {path.name}: '{direction}' events cut {where}: {why}")
        self.path, self.direction, self.after, self.why = path, direction, after, why


class RecordingChanged(RecordingCut):
    """A locked recording that is no longer as it was locked. All that can be read is still given."""

    def __init__(self, path: Path, why: str) -> None:
        UserWarning.__init__(self, f"recording {path.name} was CHANGED since it was locked: {why}")
        self.path, self.direction, self.after, self.why = path, "in", None, why


@dataclass(frozen=True, slots=True)
class About:
    """What a recording folder says of itself."""

    name: str
    invented: bool  # true when ships, port and events are made up
    holds: str  # what there is to see in it
    begins: datetime
    ends: datetime
    mid_watch: bool  # begins while a watch ran, what that one knew is missing: first conclusions may differ
    inputs: int
    outputs: int
    program: str  # version of the program that wrote the folder
    settings_sha256: str  # "" without settings
    schema: int  # the newest of any event


_ABOUT: Final = TypeAdapter(About)


class Recording:
    """A folder or a journal, opened to be played. Once read, look into `cuts` (each is warned of, too)."""

    def __init__(
        self,
        path: Path,
        about: About | None,
        read: Callable[[Direction], Iterator[Entry]],
        close: Callable[[], None],
    ) -> None:
        self.path = path
        self.about = about  # None for a journal
        self.cuts: list[RecordingCut] = []
        self._read, self._close = read, close

    def inputs(self) -> Iterator[Entry]:
        """What came in, in order. Ends early, with a RecordingCut, where the recording is not whole."""
        return self._whole("in")

    def outputs(self) -> Iterator[Entry]:
        """What was concluded, in order. Ends early, with a RecordingCut, where the recording is not whole."""
        return self._whole("out")

    def settings(self) -> SettingsSnapshot:
        """The first settings among the inputs. Raises RecordingError when there are none."""
        snapshot = next((entry.record for entry in self.inputs() if entry.kind == "SettingsSnapshot"), None)
        if not isinstance(snapshot, SettingsSnapshot):
            raise RecordingError(f"recording {self.path.name} holds no settings")
        return snapshot

    def close(self) -> None:
        """Let go of the files."""
        self._close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _whole(self, direction: Direction) -> Iterator[Entry]:
        last, seen = None, 0
        try:
            for last in self._read(direction):
                yield last
                seen += 1
        except _UNREADABLE as error:
            self._cut(direction, last, str(error) or "damaged")
            return
        told = seen if self.about is None else {"in": self.about.inputs, "out": self.about.outputs}[direction]
        if seen < told:
            self._cut(direction, last, f"{ABOUT} tells of {told} events, here are {seen}")

    def _cut(self, direction: Direction, last: Entry | None, why: str) -> None:
        cut = RecordingCut(self.path, direction, last, why)
        if str(cut) not in map(str, self.cuts):  # read twice, told once
            self.cuts.append(cut)
            warnings.warn(cut, stacklevel=3)


def open_recording(path: Path) -> Recording:
    """A recording folder or a journal file (which may be in use), to be read.

    A locked folder is compared with its chain: see `cuts`. Raises RecordingError, or JournalDamaged for a file
    that is no journal.
    """
    if path.is_file():
        reader = JournalReader(path)
        return Recording(path, None, lambda direction: reader.read(direction=direction), reader.close)
    missing = [name for name in (ABOUT, *map(_events_file, _DIRECTIONS)) if not (path / name).is_file()]
    if missing:
        raise RecordingError(f"{path} is not a whole recording: {', '.join(missing)} missing")
    opened = Recording(
        path, _read_about(path / ABOUT), lambda direction: _read_lines(path, direction), lambda: None
    )
    if chain.locked(path) and (why := chain.changed(path)):
        opened.cuts.append(RecordingChanged(path, why))
        warnings.warn(opened.cuts[-1], stacklevel=2)
    return opened


def export(
    journal: JournalReader,
    folder: Path,
    begins: datetime | None = None,
    ends: datetime | None = None,
    *,
    name: str,
    invented: bool,
    holds: str,
) -> About:
    """Write the events stamped in [begins, ends) as a recording folder, which must not exist or be empty.

    A stretch from the middle of a watch gets, under its first stamp, the settings then in force and a start put
    before it, so that it can be replayed; `About.mid_watch` tells. Raises RecordingError when it holds no event.
    """
    entries = journal.read(begins, ends)
    opening = list(islice(entries, 2))
    if not opening:
        raise RecordingError(f"{journal.path.name} holds no event in that time")
    at, before = opening[0].stamped_us, opening[0].seq
    if opening[0].kind == "SettingsSnapshot":
        lead = [opening.pop(0)]
    else:
        in_force = journal.settings_before(before)
        lead = [in_force._replace(stamped_us=at)] if in_force else []
    if not opening or opening[0].kind != "Started":
        lead.append(Entry.of(before, from_us(at), "in", Started(f"{program_version()}{MID_WATCH}")))
    return write_recording(folder, joined(lead, opening, entries), name=name, invented=invented, holds=holds)


def write_recording(folder: Path, entries: Iterable[Entry], *, name: str, invented: bool, holds: str) -> About:
    """Write entries, in order, as a recording folder; they are numbered from 1 anew. Raises RecordingError."""
    if folder.exists() and any(folder.iterdir()):
        raise RecordingError(f"{folder} is not empty: a recording is never written over")
    folder.mkdir(parents=True, exist_ok=True)
    first = last = settings = None
    counts = {"in": 0, "out": 0}
    schema, mid_watch = 0, False
    with ExitStack() as files:
        write = {way: files.enter_context(_gzip_to(folder / _events_file(way))).write for way in _DIRECTIONS}
        for seq, entry in enumerate(entries, 1):
            head = f'[{seq},"{_stamp(entry.stamped_at)}","{entry.kind}",{entry.schema},'
            write[entry.direction](f"{head}{entry.body}]\n".encode())
            counts[entry.direction] += 1
            first, last, schema = first or entry, entry, max(schema, entry.schema)
            if settings is None and entry.kind == "SettingsSnapshot":
                settings = entry.record
            if entry.kind == "Started" and MID_WATCH in entry.body:
                mid_watch = True
    if first is None or last is None:
        raise RecordingError(f"nothing to write into {folder}")
    sha256 = ""
    if isinstance(settings, SettingsSnapshot):
        _write_settings(folder / "settings", settings)
        sha256 = settings.sha256
    about = About(
        name=name,
        invented=invented,
        holds=holds,
        begins=first.stamped_at,
        ends=last.stamped_at,
        mid_watch=mid_watch,
        inputs=counts["in"],
        outputs=counts["out"],
        program=program_version(),
        settings_sha256=sha256,
        schema=schema,
    )
    lines = (f"{key} = {_toml(value)}\n" for key, value in asdict(about).items())
    (folder / ABOUT).write_bytes("".join(lines).encode())  # last: a folder without it is not a whole recording
    return about


def import_recording(folder: Path, journal: Journal) -> int:
    """Append a recording's events, in and out in their order, to a journal; how many. Warns of a RecordingCut."""
    with open_recording(folder) as recording:
        return journal.extend(merge(recording.inputs(), recording.outputs(), key=lambda entry: entry.seq))


# --- the files ----------------------------------------------------------------------------------------------


def _events_file(direction: Direction) -> str:
    return f"{direction}.jsonl.gz"


def _read_lines(folder: Path, direction: Direction) -> Iterator[Entry]:
    with gzip.open(folder / _events_file(direction)) as lines:
        for line in lines:
            text = line.decode()
            seq, stamp, kind, schema, _ = from_json(text)  # the whole line: half an event must not pass
            body = text.split(",", 4)[4].rstrip()[:-1]  # to the letter, as it was journalled
            yield Entry(seq, to_us(datetime.fromisoformat(stamp)), direction, kind, schema, body)


def _read_about(path: Path) -> About:
    try:
        about = _ABOUT.validate_python(tomllib.loads(path.read_text("utf-8")))
    except ValidationError as error:
        faults = (f"{each['loc'][0]}: {each['msg']}" for each in error.errors() if each["loc"])
        raise RecordingError(f"{path}: {'; '.join(faults)}") from error
    except ValueError as error:
        raise RecordingError(f"{path}: {error}") from error
    if about.schema > codec.SCHEMA:
        raise RecordingError(
            f"{path}: schema {about.schema} is of a newer program; this one knows up to {codec.SCHEMA}"
        )
    return about


@contextmanager
def _gzip_to(path: Path) -> Iterator[BinaryIO]:
    """A gzip file without a name or time in its header, so that the same content gives the same bytes."""
    with path.open("wb") as raw, gzip.GzipFile("", "wb", fileobj=raw, mtime=0) as packed:
        yield packed  # type: ignore[misc]


def _write_settings(folder: Path, settings: SettingsSnapshot) -> None:
    for name, text in settings.files:
        if PurePosixPath(name).is_absolute() or ".." in PurePosixPath(name).parts or "\\" in name or ":" in name:
            raise RecordingError(f"settings file '{name}' lies outside the settings folder")
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(text.encode())


def _stamp(at: datetime) -> str:
    return at.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


def _toml(value: Any) -> str:
    """A text, number, truth or time as TOML writes it (its basic strings are JSON's, DEL apart)."""
    if isinstance(value, datetime):
        return _stamp(value)
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


@cache
def program_version() -> str:
    """Version of the installed program; "uninstalled" when it runs from its folder."""
    try:
        return metadata.version("bightwatch")
    except metadata.PackageNotFoundError:
        return "uninstalled"
