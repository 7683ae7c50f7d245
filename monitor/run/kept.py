"""What judging and scoring need of a recording, worked out once and kept in a small file.

A replay of a day takes minutes, for all the physics; what alert profiles ask of it is a few numbers a tick. They
are kept as gzip JSON lines: the head (`About`), then one line a step of `watch.profiles`, `[kind, ...]`. Steps go
to the file, and come from it, one by one: a month holds no more memory than a day.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import shutil
import tempfile
import zlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import IO, Any, Final, get_args

from pydantic import TypeAdapter
from pydantic_core import from_json

from monitor.records.estimates import Encounter, LineLoad, WindEstimate
from monitor.records.events import Action, OperatorAction, SettingsSnapshot, Started
from monitor.run.pipeline import Pipeline
from monitor.run.recording import Recording, RecordingError, open_recording, program_version
from monitor.run.replay import Passes
from monitor.run.session import Session
from monitor.settings.load import from_snapshot
from monitor.settings.schema import Settings
from monitor.watch.calls import NO_CALL, Facts
from monitor.watch.facts import facts_of
from monitor.watch.profiles import Answered, Begun, CaughtUp, Shifted, Step, Ticked

FORM: Final = 1  # of the file; another number: work it out anew
SUFFIX: Final = ".kept.gz"
MEASURED_AGAIN: Final = timedelta(minutes=15)  # below its limit for so long: over it again is another event
Progress = Callable[[int, int | None], None]  # inputs handled, of how many
Take = Callable[[Step], None]


@dataclass(frozen=True, slots=True)
class Pass:
    """A ship's pass as last expected before she was abeam."""

    mmsi: int
    name: str
    length_m: float
    distance_m: float  # hull to hull
    begins: datetime  # her bow overlaps our hull
    ends: datetime


@dataclass(frozen=True, slots=True)
class Hour:
    """The greatest gust and 30 s wind in a clock hour."""

    begins: datetime
    gust_m_s: float
    wind_30s_m_s: float


@dataclass(frozen=True, slots=True)
class Measured:
    """A measured tension reached the line's least known limit: the first moment, and how far it went."""

    at: datetime
    line: str
    share: float


@dataclass(frozen=True, slots=True)
class About:
    """The head of a kept recording. `stay` tells one stay of a ship at a berth from any other."""

    form: int
    program: str
    name: str
    stay: str
    berth: str
    invented: bool
    begins: datetime
    ends: datetime
    snapshot: SettingsSnapshot
    passes: tuple[Pass, ...]
    hours: tuple[Hour, ...]
    measured: tuple[Measured, ...]
    entries: tuple[tuple[datetime, OperatorAction], ...]  # by people, answers to alerts left out
    alarm_cap: float  # the lowest of any line: ALARM may never be set above it


@dataclass(frozen=True, slots=True)
class Kept:
    """A recording, kept. The steps of an opened file can be gone through once."""

    about: About
    steps: Iterable[Step]

    @property
    def settings(self) -> Settings:
        """As they were in force."""
        return from_snapshot(self.about.snapshot)


def stay_of(settings: Settings) -> str:
    """One stay of a ship at a berth, told from any other."""
    stay = settings.stay
    return f"{settings.ship.mmsi} {settings.berth.name} {stay.name} {stay.tended_at:%Y-%m-%dT%H:%MZ}"


# --- working it out -----------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Keeper:
    """Listens at the alerts of one pipeline after another, and gives each step to `take`."""

    take: Take
    hours: dict[datetime, tuple[float, float]] = field(default_factory=dict)
    measured: list[Measured] = field(default_factory=list)
    cap: float = 1.0
    catching_up: bool = True
    _stay: str = ""
    _last: dict[str, Facts] = field(default_factory=dict)
    _over: dict[str, datetime] = field(default_factory=dict)  # lines measured over their limit, last when

    def begin(self, settings: Settings) -> _Keeper:
        """A new watch."""
        self.take(Begun(anew=self._stay not in ("", settings.stay.name)))
        self._last, self._stay, self.catching_up = {}, settings.stay.name, True
        return self

    def caught_up(self) -> None:
        """The watch goes on from what people were last told."""
        self.take(CaughtUp())
        self._last.pop("ahead", None)
        self.catching_up = False

    def judged(self, pipeline: Pipeline, now: datetime) -> None:
        """Keep what is other than at the tick before."""
        estimate = pipeline.estimate
        assert estimate is not None
        limits = pipeline.settings.berth.limits
        facts = facts_of(pipeline.situations, estimate, pipeline.outlook, pipeline.stay, limits, now)
        changed = {key: each for key, each in facts.items() if self._last.get(key) != each}
        changed |= {key: NO_CALL for key in self._last if key not in facts and self._last[key] != NO_CALL}
        self._last = {**facts, **{key: NO_CALL for key in self._last if key not in facts}}
        self.take(Ticked(now, changed))
        if self.catching_up:
            return
        self.cap = min([self.cap, *(load.alarm_cap for load in estimate.lines)])
        self._wind(estimate.wind, now)
        self._tensions(pipeline.tensions(now), estimate.lines, now)

    def answered(self, at: datetime, action: OperatorAction) -> None:
        """Somebody acknowledges or silences."""
        self.take(Answered(at, action.action, action.subject, action.who))

    def clock_set(self, by: timedelta) -> None:
        """Alerts are brought to the new time."""
        self.take(Shifted(by.total_seconds()))

    def _wind(self, wind: WindEstimate, now: datetime) -> None:
        hour = now.replace(minute=0, second=0, microsecond=0)
        gust_m_s, mid_m_s = self.hours.get(hour, (0.0, 0.0))
        band = wind.speed_30s_m_s
        self.hours[hour] = max(gust_m_s, wind.gust_m_s or 0.0), max(mid_m_s, band.mid if band else 0.0)

    def _tensions(self, measured_n: dict[str, float], lines: tuple[LineLoad, ...], now: datetime) -> None:
        for load in lines:
            share = measured_n.get(load.line, 0.0) / load.limit_n
            if share < 1.0:
                continue
            if load.line not in self._over or now - self._over[load.line] > MEASURED_AGAIN:
                self.measured.append(Measured(now, load.line, share))
            self._over[load.line] = now


def keep(recording: Recording, take: Take, progress: Progress | None = None) -> About:
    """Replay a recording once; `take` is given each step as it comes. Raises RecordingError without settings,
    SettingsFault when they cannot be read."""
    snapshot, passes, keeper = recording.settings(), Passes(), _Keeper(take)
    session = Session(tap=keeper.begin)
    total = recording.about.inputs if recording.about else None
    entries: list[tuple[datetime, OperatorAction]] = []
    begins = ends = None
    for number, entry in enumerate(recording.inputs()):
        at, record = entry.stamped_at, entry.record
        begins, ends = begins or at, at
        session.handle(at, record)  # type: ignore[arg-type]
        session.remember(entry)
        match record:
            case Started():
                keeper.caught_up()
            case OperatorAction() if record.action not in (Action.ACKNOWLEDGE, Action.SILENCE):
                entries.append((at, record))
        if session.pipeline is not None:
            passes.look(session.pipeline)
        if progress is not None and number % 500 == 0:
            progress(number, total)
    if begins is None or ends is None:
        raise RecordingError(f"recording {recording.path.name} is empty")
    settings = from_snapshot(snapshot)
    stay = settings.stay
    return About(
        FORM,
        program_version(),
        recording.about.name if recording.about else recording.path.stem,
        stay_of(settings),
        f"{settings.berth.port}, {settings.berth.name}",
        recording.about.invented if recording.about else stay.invented,
        begins,
        ends,
        snapshot,
        tuple(_pass(each.encounter) for each in passes.last.values()),
        tuple(Hour(hour, *winds) for hour, winds in sorted(keeper.hours.items())),
        tuple(keeper.measured),
        tuple(entries),
        keeper.cap,
    )


def _pass(encounter: Encounter) -> Pass:
    return Pass(
        encounter.mmsi,
        encounter.name,
        encounter.length_m.mid,
        encounter.distance_m.mid,
        encounter.overlap_from or encounter.earliest_at,
        encounter.overlap_to or encounter.latest_at,
    )


# --- the file -----------------------------------------------------------------------------------------------

_ABOUT: Final = TypeAdapter(About)
_STEPS: Final[dict[str, TypeAdapter[Any]]] = {
    kind.__name__: TypeAdapter(kind) for kind in get_args(Step) if kind is not Ticked
}
_FACTS: Final[dict[str, TypeAdapter[Any]]] = {kind.__name__: TypeAdapter(kind) for kind in get_args(Facts)}
_UNUSABLE: Final = (OSError, EOFError, StopIteration, zlib.error, ValueError, KeyError, TypeError, IndexError)


def write(kept: Kept, to: Path) -> None:
    """Write a kept recording; a file of that name is replaced, in one go."""

    def work(take: Take) -> About:
        for step in kept.steps:
            take(step)
        return kept.about

    _write(work, to)


def _write(work: Callable[[Take], About], to: Path) -> None:
    """Write what `work` gives: the steps as they come, and the head when it knows it. The head stands first in the
    file, so the steps wait beside it, packed (gzip files can be strung together)."""
    part = to.with_name(f"{to.name}.part")
    with tempfile.TemporaryFile(dir=to.parent) as steps:
        with _gzip(steps) as lines:
            about = work(lambda step: _put(lines, json.dumps(_packed(step), separators=(",", ":")).encode()))
        steps.seek(0)
        with part.open("wb") as whole:
            with _gzip(whole) as head:
                _put(head, _ABOUT.dump_json(about))
            shutil.copyfileobj(steps, whole)
    part.replace(to)


def _gzip(file: IO[bytes]) -> gzip.GzipFile:
    return gzip.GzipFile("", "wb", fileobj=file, mtime=0, compresslevel=6)


def _put(lines: gzip.GzipFile, line: bytes) -> None:
    lines.write(line + b"\n")


@contextmanager
def opened(path: Path) -> Iterator[Kept]:
    """A kept recording, its steps read as they are asked for. Raises ValueError for a file of another form, or one
    that is damaged: then maybe only on the way."""
    with ExitStack() as stack:
        with _usable(path):
            lines = stack.enter_context(gzip.open(path))
            about = _ABOUT.validate_json(next(lines))
            if about.form != FORM:
                raise ValueError(f"form {about.form}, this program writes {FORM}")
        yield Kept(about, _steps(lines, path))


def _steps(lines: Iterable[bytes], path: Path) -> Iterator[Step]:
    with _usable(path):
        yield from map(_unpacked, lines)


def read(path: Path) -> Kept:
    """A kept recording, whole. Raises as `opened`."""
    with opened(path) as kept:
        return replace(kept, steps=tuple(kept.steps))


def about(path: Path) -> About:
    """The head of a kept recording alone. Raises as `opened`."""
    with opened(path) as kept:
        return kept.about


@contextmanager
def _usable(path: Path) -> Iterator[None]:
    try:
        yield
    except _UNUSABLE as error:
        raise ValueError(f"{path} cannot be used: {error}") from error


def _packed(step: Step) -> list[Any]:
    kind = type(step).__name__
    if isinstance(step, Ticked):
        changed = {key: [type(facts).__name__, _packed_facts(facts)] for key, facts in step.changed.items()}
        return [kind, step.at.timestamp(), changed] if changed else [kind, step.at.timestamp()]
    return [kind, _STEPS[kind].dump_python(step, mode="json")]


def _packed_facts(facts: Facts) -> Any:
    return _FACTS[type(facts).__name__].dump_python(facts, mode="json")


def _unpacked(line: bytes) -> Step:
    kind, *rest = from_json(line)
    if kind != Ticked.__name__:
        step: Step = _STEPS[kind].validate_python(rest[0])
        return step
    changed = {
        key: _FACTS[name].validate_python(body) for key, (name, body) in (rest[1] if rest[1:] else {}).items()
    }
    return Ticked(datetime.fromtimestamp(rest[0], UTC), changed)


# --- once ---------------------------------------------------------------------------------------------------


def kept_file(recording: Path, folder: Path) -> Path:
    """Where the kept form of a recording belongs: named by what it holds and by the program that worked it out."""
    content = recording if recording.is_file() else recording / "in.jsonl.gz"
    digest = hashlib.sha256(f"{program_version()} {FORM} {_shape()} ".encode())
    for part in (content, content.with_name(f"{content.name}-wal")):  # a journal in use keeps its newest beside it
        if part == content or part.is_file():
            with part.open("rb") as file:
                while block := file.read(1 << 20):
                    digest.update(block)
    return folder / f"{recording.stem}-{digest.hexdigest()[:12]}{SUFFIX}"


@cache
def _shape() -> str:
    """Of the steps and facts: a file of another shape is not this one."""
    return json.dumps([kind.json_schema() for kind in (*_STEPS.values(), *_FACTS.values())], sort_keys=True)


def keep_once(recording: Path, folder: Path, progress: Progress | None = None, anew: bool = False) -> Path:
    """The kept file of a recording: the one that is there, or a new one. Raises as `keep`."""
    path = kept_file(recording, folder)
    if anew or not path.is_file():
        folder.mkdir(parents=True, exist_ok=True)
        with open_recording(recording) as recorded:
            _write(lambda take: keep(recorded, take, progress), path)
    return path
