"""Memory over a simulated week of a busy berth, the whole watch running, as a replay has it.

The invented day, drawn out to eight hours, is played three times a day, each time with new ships (other MMSI) and
new faults of the feeds. Every input is handled: sentences, wind, forecasts, people, a beat a second, the journal
too (without waiting for the disk). Thinned is only how often the loads and the outlook are worked out: a tick
every five minutes instead of every five seconds. Memory is taken at the end of every watch, where the script
stands at the same place: what Python and numpy hold (tracemalloc), so that neither the machine nor its other work
counts. Caches of the models that have a bound take hours to fill; they are emptied then, and told apart: what the
watch itself holds beside them may grow by what it learns of new ships (half a kB each, 20,000 at most). Judged is
all together, against the end of the watch in which the caches are full.
"""

from __future__ import annotations

import functools
import gc
import re
import shutil
import sys
import tempfile
import tracemalloc
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import process_time
from typing import Final

from monitor.intake.simulated import Day, events
from monitor.intake.simulated.script import invented_day
from monitor.records.events import In, SettingsSnapshot, Started, Stopped
from monitor.run import pipeline
from monitor.run.journal import Entry, Journal
from monitor.run.session import Session
from monitor.settings.load import from_snapshot, snapshot

TICK: Final = timedelta(minutes=5)
_NEXT_SHIPS: Final = 1000  # between the MMSI of a ship and of her like in the next watch
_TURN_OF_TIDE: Final = timedelta(hours=6, minutes=12, seconds=30)
_TIDE: Final = re.compile(r"(\[\[tide\]\]\n(?:[^\[\n].*\n)+\n*)+")


@dataclass(frozen=True)
class Held:
    """At the end of one watch: MB held, and in bounded caches besides; most at once; on disk; CPU seconds."""

    held_mb: float
    caches_mb: float
    peak_mb: float
    journal_mb: float
    cpu_s: float


def watch(config: Path, stay: str, watches: int, minutes: float) -> Iterator[Held]:
    """Play so many watches of so many minutes one after the other, in one session."""
    with tempfile.TemporaryDirectory() as folder, ticks_of(TICK):
        settings = with_tides(config, stay, Path(folder) / "config", timedelta(minutes=minutes) * watches)
        session = Session()
        path = Path(folder) / "watch.db"
        tracemalloc.start()
        with Journal(path) as journal:
            journal._db.execute("PRAGMA synchronous = OFF")
            for number in range(watches):
                began_s = process_time()
                tracemalloc.reset_peak()
                for at, record in inputs(settings, number, minutes):
                    seq = journal.append(at, "in", record)
                    for conclusion in session.handle(at, record):
                        journal.append(at, "out", conclusion)
                    session.remember(Entry.of(seq, at, "in", record))
                journal.flush()
                gc.collect()
                full, peak = tracemalloc.get_traced_memory()
                _empty_bounded_caches()
                held, _ = tracemalloc.get_traced_memory()
                disk = sum(file.stat().st_size for file in Path(folder).glob("watch.db*"))
                yield Held(held / 1e6, (full - held) / 1e6, peak / 1e6, disk / 1e6, process_time() - began_s)
        tracemalloc.stop()


def growth(held: list[Held], settled: int) -> float:
    """Growth of all that is held from the watch number `settled` (from 0) to the last, as a share."""
    first, last = (each.held_mb + each.caches_mb for each in (held[settled], held[-1]))
    return last / first - 1.0


def _empty_bounded_caches() -> None:
    """Found by their modules: the garbage collector does not list what `search_seldom` has frozen."""
    for name, module in list(sys.modules.items()):
        for each in list(vars(module).values()) if name.startswith("monitor.") else ():
            if isinstance(each, functools._lru_cache_wrapper) and each.cache_info().maxsize is not None:
                each.cache_clear()
    gc.collect()


def inputs(settings: SettingsSnapshot, number: int, minutes: float) -> Iterator[tuple[datetime, In]]:
    """One watch; the settings and the start stand at the head of the first alone."""
    day = _day(settings, number, minutes)
    for at, record in events(day, settings, "bench"):
        if isinstance(record, Stopped) or (number and isinstance(record, SettingsSnapshot | Started)):
            continue
        yield at, record


def _day(settings: SettingsSnapshot, number: int, minutes: float) -> Day:
    day = replace(invented_day(from_snapshot(settings)), minutes=minutes)
    later = number * _NEXT_SHIPS

    def answered(alert: str) -> str:
        return re.sub(r"\d{9}", lambda mmsi: str(int(mmsi[0]) + later), alert)

    return replace(
        day,
        begins_at=day.begins_at + number * timedelta(minutes=minutes),
        seed=day.seed + number,
        ships=tuple(
            (ship if ship.own else replace(ship, mmsi=ship.mmsi + later), voyage) for ship, voyage in day.ships
        ),
        actions=tuple(
            (minute, replace(action, subject=answered(action.subject))) for minute, action in day.actions
        ),
    )


def with_tides(config: Path, stay: str, folder: Path, lasting: timedelta) -> SettingsSnapshot:
    """The settings with a table of tides that lasts."""
    shutil.copytree(config, folder)
    file = folder / "stays" / f"{stay}.toml"
    at, ends, high, rows = datetime(2026, 3, 14, 1, 45, tzinfo=UTC), _ends(lasting), True, []
    while at < ends:
        water, height = ("high", "3.8 m") if high else ("low", "0.7 m")
        rows.append(f'[[tide]]\nat = {at:%Y-%m-%dT%H:%M:%SZ}\nheight = "{height}"\nwater = "{water}"\n')
        at, high = at + _TURN_OF_TIDE, not high
    text, found = _TIDE.subn("\n".join(rows) + "\n", file.read_text("utf-8"))
    assert found == 1, "the tides stand in one place of the stay file"
    file.write_text(text, "utf-8")
    return snapshot(folder, stay)


def _ends(lasting: timedelta) -> datetime:
    """A day after the last watch."""
    return datetime(2026, 3, 14, 10, 0, tzinfo=UTC) + lasting + timedelta(days=1)


@contextmanager
def ticks_of(step: timedelta) -> Iterator[None]:
    usual = pipeline.TICK
    pipeline.TICK = step  # type: ignore[misc]
    try:
        yield
    finally:
        pipeline.TICK = usual  # type: ignore[misc]
