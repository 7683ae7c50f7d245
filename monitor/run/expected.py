"""Rewrites the expected conclusions of a recording after a change that was meant."""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Iterator
from datetime import datetime
from heapq import merge
from pathlib import Path

from monitor.records.codec import Record
from monitor.run.journal import Entry
from monitor.run.recording import open_recording, write_recording


def keep(folder: Path, concluded: Iterable[tuple[datetime, object]]) -> None:
    """The recording again, same inputs, with these conclusions as its outputs. The old folder goes last."""
    beside = folder.with_name(folder.name + ".new")
    with open_recording(folder) as recording:
        about = recording.about
        if about is None:
            raise ValueError("only a recording folder has expected conclusions; export the journal first")
        merged = merge(recording.inputs(), _entries(concluded), key=lambda entry: entry.stamped_us)
        write_recording(beside, merged, name=about.name, invented=about.invented, holds=about.holds)
    shutil.rmtree(folder)
    beside.rename(folder)


def _entries(concluded: Iterable[tuple[datetime, object]]) -> Iterator[Entry]:
    for at, conclusion in concluded:
        record: Record = conclusion  # type: ignore[assignment]
        yield Entry.of(0, at, "out", record)
