"""The watch against pyais decoding alone, on the same sentences, turn and turn about.

The machine may be busy and its pace may change under way, so every repetition is cut into slices, and each slice
is given to one runner after the other. Only CPU time of this process counts, and only ratios mean anything.
"""

from __future__ import annotations

import gc
import statistics
import tempfile
import tracemalloc
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from time import process_time
from typing import Final

from pyais import IterMessages
from pyais.exceptions import AISBaseException

from monitor.base.frames import LocalMap
from monitor.base.garbage import search_seldom
from monitor.intake.parser import Intake
from monitor.records.events import Action, Beat, OperatorAction, RawReading, SettingsSnapshot, Started
from monitor.records.observations import ShipFix, ShipParticulars
from monitor.run.journal import Journal
from monitor.run.session import Session
from monitor.settings.load import from_snapshot
from monitor.settings.schema import Settings
from monitor.watch.traffic import Traffic
from tests.bench.sentences import Sentences

SLICE: Final = 2500
DECODING: Final = "pyais decoding alone"
REPLAY: Final = "replay: journal, intake and traffic"  # this one is judged
LIVE: Final = "live: the same, with the journal written"
MODELS: Final = "live: the whole watch, models on"

Runner = Callable[[int, int], None]  # takes the sentences from one number to another


@dataclass(frozen=True)
class Course:
    """What the runners run on."""

    sentences: Sentences
    snapshot: SettingsSnapshot
    settings: Settings
    feed: str

    @property
    def berth(self) -> LocalMap:
        """Where the table of ships is centred."""
        return LocalMap(self.settings.berth.position.latitude, self.settings.berth.position.longitude)

    def inputs(self, begin: int, end: int) -> Iterator[tuple[datetime, RawReading | Beat]]:
        """Readings, with a beat after the last of each second."""
        stamps, texts = self.sentences.stamps, self.sentences.texts
        for number in range(begin, end):
            at = stamps[number]
            yield at, RawReading(self.feed, texts[number])
            if number + 1 < len(stamps) and stamps[number + 1].second != at.second:
                yield at, Beat()


def course(sentences: Sentences, snapshot: SettingsSnapshot) -> Course:
    """The sentences, for the AIS feed of the stay."""
    settings = from_snapshot(snapshot)
    feed = next(feed.name for feed in settings.stay.feeds if feed.carries == "ais")
    return Course(sentences, snapshot, settings, feed)


# --- runners ------------------------------------------------------------------------------------------------


def decoding(on: Course, stack: ExitStack) -> Runner:
    """The quickest of pyais' documented ways to read lines that may hold messages of several parts."""

    def run(begin: int, end: int) -> None:
        for message in IterMessages(on.sentences.lines[begin:end]):
            with suppress(AISBaseException):
                message.decode()

    return run


def live(on: Course, stack: ExitStack) -> Runner:
    journal, take = _journal(stack), _intake_and_traffic(on)

    def run(begin: int, end: int) -> None:
        for at, record in on.inputs(begin, end):
            journal.append(at, "in", record)
            take(at, record)

    return run


def replay(on: Course, stack: ExitStack) -> Runner:
    journal, take = _journal(stack), _intake_and_traffic(on)
    for at, record in on.inputs(0, len(on.sentences.lines)):
        journal.append(at, "in", record)
    entries = journal.read()

    def run(begin: int, end: int) -> None:
        readings = 0
        for entry in entries:
            take(entry.stamped_at, entry.record)
            readings += entry.kind == "RawReading"
            if readings == end - begin:
                break

    return run


def models(on: Course, stack: ExitStack) -> Runner:
    """Wind entered by hand, so that the loads are worked out; the ships are far from the berth."""
    journal, session, begins = _journal(stack), Session(), on.sentences.stamps[0]
    wind = (("mean_m_s", 12.0), ("gust_m_s", 16.0), ("from_direction_deg", 240.0))
    session.handle(begins, on.snapshot)
    session.handle(begins, Started("bench"))
    session.handle(begins, OperatorAction("", Action.WIND, values=wind))

    def run(begin: int, end: int) -> None:
        for at, record in on.inputs(begin, end):
            journal.append(at, "in", record)
            for conclusion in session.handle(at, record):
                journal.append(at, "out", conclusion)

    return run


def _journal(stack: ExitStack) -> Journal:
    folder = stack.enter_context(tempfile.TemporaryDirectory())
    return stack.enter_context(Journal(Path(folder) / "watch.db"))


def _intake_and_traffic(on: Course) -> Callable[[datetime, object], None]:
    intake = Intake({on.feed: "ais"}, on.settings.ship.mmsi)
    traffic = Traffic(on.berth, on.settings.ship.mmsi, on.settings.alerts.timing.target_lost)

    def take(at: datetime, record: object) -> None:
        if isinstance(record, RawReading):
            for said in intake.parse(record.source, record.text, at):
                if isinstance(said, (ShipFix, ShipParticulars)):
                    traffic.take(said)

    return take


RUNNERS: Final = {DECODING: decoding, REPLAY: replay, LIVE: live, MODELS: models}


# --- the race -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Result:
    """Of one runner: µs a sentence and the ratio to decoding, one for each repetition, and its peak memory."""

    us: list[float]
    ratio: list[float]
    peak_mb: float

    @property
    def median_ratio(self) -> float:
        """The one that is judged."""
        return statistics.median(self.ratio)


def race(on: Course, repetitions: int) -> dict[str, Result]:
    """Every runner over all sentences, slice about; the first repetition warms up and is not counted.

    What the bench itself holds is kept from the garbage collector: no watch has so many sentences lying about.
    """
    search_seldom()  # as the program does when it starts
    spent = [_repetition(on) for _ in range(repetitions + 1)][1:]
    count = len(on.sentences.lines)
    return {
        name: Result(
            [each[name] / count * 1e6 for each in spent],
            [each[name] / each[DECODING] for each in spent],
            _peak_mb(on, name),
        )
        for name in RUNNERS
    }


def _repetition(on: Course) -> dict[str, float]:
    spent_s = dict.fromkeys(RUNNERS, 0.0)
    with ExitStack() as stack:
        runners = {name: made(on, stack) for name, made in RUNNERS.items()}
        for begin, end in _slices(on):
            for name, run in runners.items():
                before_s = process_time()
                run(begin, end)
                spent_s[name] += process_time() - before_s
    return spent_s


def _slices(on: Course) -> list[tuple[int, int]]:
    count = len(on.sentences.lines)
    return [(begin, min(begin + SLICE, count)) for begin in range(0, count, SLICE)]


def _peak_mb(on: Course, name: str) -> float:
    """Most that Python held at once beyond what it held before, on a run of its own."""
    gc.collect()
    tracemalloc.start()
    with ExitStack() as stack:
        run = RUNNERS[name](on, stack)
        tracemalloc.reset_peak()
        for begin, end in _slices(on):
            run(begin, end)
        peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


def told(results: dict[str, Result]) -> Sequence[str]:
    """The table in plain text."""
    lines = [f"{'':52}µs a sentence      × decoding (least, most)   peak MB"]
    for name, result in results.items():
        us, ratio = statistics.median(result.us), result.ratio
        spread = f"({min(ratio):.2f}, {max(ratio):.2f})"
        lines.append(f"{name:52}{us:10.1f}{result.median_ratio:16.2f}  {spread}{result.peak_mb:15.1f}")
    return lines
