"""`python -m tests.bench.tuning [--short] [--minutes N] [--days N] [--profiles N]`: a busy day, and a sweep.

First a recorded day at a busy berth, about a million sentences, or a stretch of it, replayed with all models on,
and pyais decoding the same sentences alone: CPU, wall time and peak memory, each in a process of its own. It
begins shortly before the fast ship's close pass of the invented day, which is played over and over with other
ships; between them are those of `sentences`. Then the facts kept on the way, over and over for so many days, under
so many alert profiles. The full form takes the better part of an hour.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import suppress
from dataclasses import replace
from datetime import datetime, timedelta
from heapq import merge
from itertools import count, islice, takewhile
from pathlib import Path
from time import perf_counter, process_time
from typing import Any, Final, NamedTuple

from pyais import IterMessages
from pyais.exceptions import AISBaseException

from monitor.base.garbage import search_seldom
from monitor.intake.simulated.script import MINUTES, invented_day
from monitor.records.events import In, RawReading, SettingsSnapshot, Started
from monitor.run import kept, tuning
from monitor.run.journal import Entry
from monitor.run.recording import open_recording, write_recording
from monitor.settings.load import from_snapshot
from monitor.watch.calls import NO_CALL
from monitor.watch.profiles import Answered, Step, Sweep, Ticked
from tests.bench import week
from tests.bench.sentences import gather
from tests.conftest import ROOT

STAY: Final = "tavrin-lark-at-sedge-quay-2"
A_DAY: Final = 1_000_000  # sentences
AT_ONCE: Final = 20_000  # sentences decoded at a stretch: all of a day held at once would be most of the memory
TOLD_EVERY: Final = 50_000  # inputs: how far a long run has got
FROM_MINUTE: Final = 140.0  # of the invented day: the fast ship is abeam at 155


class Swept(NamedTuple):
    """A sweep in a process of its own."""

    profiles: int
    ticks: int
    changes: int
    cut_cpu_s: float  # read from the file, and cut to levels
    cpu_s: float
    peak_mb: float


class Cost(NamedTuple):
    """Of one run in a process of its own. `kept_mb`: the file of kept facts."""

    sentences: int
    cpu_s: float
    wall_s: float
    peak_mb: float
    kept_mb: float = 0.0


def recorded(minutes: float, folder: Path) -> Path:
    """The stretch as a recording."""
    lasting = timedelta(minutes=FROM_MINUTE + minutes)
    taken = week.with_tides(ROOT / "config", STAY, folder.with_name("config"), lasting)
    day = invented_day(from_snapshot(taken))
    begins = day.at(60.0 * FROM_MINUTE)
    ends = begins + timedelta(minutes=minutes)
    own = list(takewhile(lambda each: each[0] < ends, _over_and_over(taken, begins)))
    ais = sum(1 for _, record in own if isinstance(record, RawReading) and record.source == day.ais_feed)
    others = gather(max(1, round(A_DAY * minutes / 1440.0) - ais), from_snapshot(taken)).texts
    step = timedelta(minutes=minutes) / (len(others) + 1)
    more = ((begins + (n + 1) * step, RawReading(day.ais_feed, text)) for n, text in enumerate(others))
    both: Iterator[tuple[datetime, In]] = merge(own, more, key=lambda each: each[0])
    numbers = count(1)

    def entries() -> Iterator[Entry]:
        for record in (taken, Started("bench")):
            yield Entry.of(next(numbers), begins, "in", record)
        for at, record in both:
            yield Entry.of(next(numbers), at, "in", record)

    write_recording(folder, entries(), name="a busy berth", invented=True, holds="a stretch of a busy day")
    return folder


def _over_and_over(taken: SettingsSnapshot, begins: datetime) -> Iterator[tuple[datetime, In]]:
    """What the feeds send and people enter from a time on, watch after watch, each with ships of its own."""
    for number in count():
        for at, record in week.inputs(taken, number, MINUTES):
            if at > begins and not isinstance(record, SettingsSnapshot | Started):
                yield at, record


def decoding(recording: Path) -> Cost:
    """The sentences alone, in the quickest of pyais' documented ways. Reading them is not counted."""
    sentences, cpu_s, wall_s = 0, 0.0, 0.0
    search_seldom()
    with open_recording(recording) as opened:
        lines = (
            entry.record.text.encode("latin-1")
            for entry in opened.inputs()
            if isinstance(entry.record, RawReading) and entry.record.text[:1] == "!"
        )
        while part := list(islice(lines, AT_ONCE)):
            began_cpu_s, began_s = process_time(), perf_counter()
            for message in IterMessages(part):
                with suppress(AISBaseException):
                    message.decode()
            cpu_s += process_time() - began_cpu_s
            wall_s += perf_counter() - began_s
            sentences += len(part)
    return Cost(sentences, cpu_s, wall_s, _peak_mb())


def watching(recording: Path) -> Cost:
    """A replay with all models on that keeps what judging needs."""
    search_seldom()
    cpu_s, wall_s = process_time(), perf_counter()

    def on_the_way(number: int, of: int | None) -> None:
        if of and number and number % TOLD_EVERY == 0:
            print(f"{number:,} of {of:,} inputs, {process_time() - cpu_s:.0f} s CPU", file=sys.stderr, flush=True)

    path = kept.keep_once(recording, recording.parent, on_the_way)
    spent = process_time() - cpu_s, perf_counter() - wall_s
    return Cost(0, *spent, _peak_mb(), path.stat().st_size / 1e6)


def _peak_mb() -> float:
    """Most of this process at once (Linux)."""
    rows = Path("/proc/self/status").read_text().splitlines()
    return next(int(row.split()[1]) / 1024.0 for row in rows if row.startswith("VmHWM"))


def sweeping(path: Path, number: int) -> Swept:
    """So many profiles over a kept file."""
    begun_s = process_time()
    with kept.opened(path) as one:
        present, cap = one.settings.alerts, one.about.alarm_cap
        made = (tuning.applied(recipe, present, cap) for recipe in (*tuning.near(), *tuning.wide()))
        profiles = [profile for profile in made if profile is not None][:number]
        sweep = Sweep(one.steps, profiles)
    cut_s, begun_s = process_time() - begun_s, process_time()
    told = [len(sweep.transitions(profile)) for profile in profiles]
    ticks = round(sweep.hours * 720.0)
    return Swept(len(profiles), ticks, max(told), cut_s, process_time() - begun_s, _peak_mb())


def _apart(job: Callable[..., Any], *given: Any) -> Any:
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as pool:
        return pool.submit(job, *given).result()


def repeated(about: kept.About, steps: Sequence[Step], days: float) -> Iterator[Step]:
    """The steps of one watch over and over, each time later; ships have another MMSI each time."""
    lasts = about.ends - about.begins
    lasts = timedelta(seconds=5.0 * (lasts // timedelta(seconds=5.0) + 1))
    ships = {
        key for step in steps if isinstance(step, Ticked) for key in step.changed if key.startswith("passing:")
    }
    for number in range(max(1, round(timedelta(days=days) / lasts))):
        if number:  # those of the time before are gone
            gone = {_later(key, number - 1): NO_CALL for key in ships}
            yield Ticked(about.begins + number * lasts, gone)
        for step in steps if number == 0 else steps[2:]:
            match step:
                case Ticked(at, changed):
                    yield Ticked(
                        at + number * lasts, {_later(key, number): facts for key, facts in changed.items()}
                    )
                case Answered():
                    yield replace(step, at=step.at + number * lasts, subject=_later(step.subject, number))
                case _:
                    yield step


def _later(key: str, number: int) -> str:
    return f"{key}:{number}" if key.startswith("passing:") else key


def main() -> int:
    """Run and tell."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.tuning", description=__doc__)
    parser.add_argument("--short", action="store_true", help="two minutes, one day, twenty profiles")
    parser.add_argument("--minutes", type=float, default=1440.0)
    parser.add_argument("--days", type=float, default=30.0)
    parser.add_argument("--profiles", type=int, default=200)
    args = parser.parse_args()
    if args.short:
        args.minutes, args.days, args.profiles = 2.0, 1.0, 20
    with tempfile.TemporaryDirectory() as folder:
        recording = recorded(args.minutes, Path(folder) / "busy")
        alone, watched = _apart(decoding, recording), _apart(watching, recording)
        one = kept.read(next(Path(folder).glob(f"*{kept.SUFFIX}")))
        steps = tuple(one.steps)
        _tell_day(args.minutes, alone, watched, sum(isinstance(step, Ticked) for step in steps))
        days = Path(folder) / f"days{kept.SUFFIX}"
        kept.write(kept.Kept(one.about, repeated(one.about, steps, args.days)), days)
        _tell_sweep(_apart(sweeping, days, args.profiles), args.days, days.stat().st_size / 1e6)
    return 0


def _tell_day(minutes: float, alone: Cost, watched: Cost, ticks: int) -> None:
    print(f"{minutes:g} min of a busy day: {alone.sentences:,} sentences, {ticks:,} ticks of 5 s, INVENTED.\n")
    print(f"{'':34}{'CPU s':>9}{'wall s':>9}{'peak MB':>9}{'a whole day, CPU s':>20}")
    for name, cost in (("pyais decoding alone", alone), ("replay, all models on, facts kept", watched)):
        a_day = cost.cpu_s * 1440.0 / minutes
        print(f"{name:34}{cost.cpu_s:9.1f}{cost.wall_s:9.1f}{cost.peak_mb:9.0f}{a_day:20.0f}")
    print(f"\n{watched.cpu_s / alone.cpu_s:.0f} x decoding; {watched.cpu_s / ticks * 1e3:.0f} ms a tick, all told")
    print(f"kept facts: {watched.kept_mb:.2f} MB, {watched.kept_mb * 1440.0 / minutes:.1f} MB a day\n", flush=True)


def _tell_sweep(swept: Swept, days: float, file_mb: float) -> None:
    print(
        f"sweep of {swept.profiles} profiles over {days:g} days ({swept.ticks:,} ticks, {swept.changes:,} changes "
        f"at most), from a file of {file_mb:.1f} MB:"
    )
    print(f"facts read and cut to levels {swept.cut_cpu_s:.1f} s, profiles {swept.cpu_s:.1f} s CPU, ", end="")
    print(f"{swept.cpu_s / swept.profiles:.3f} s each; at most {swept.peak_mb:.0f} MB")


if __name__ == "__main__":
    sys.exit(main())
