"""Rehearsal: a scripted day written down as a recording, inputs only. A replay then adds what is concluded."""

from __future__ import annotations

from itertools import count
from pathlib import Path

from monitor.intake.simulated import events
from monitor.intake.simulated.script import invented_day
from monitor.run.journal import Entry
from monitor.run.recording import About, program_version, write_recording
from monitor.settings.load import from_snapshot, snapshot

NAME = "The invented day"
HOLDS = (
    "A quiet morning with ordinary traffic, people on the mooring decks, a large ship passing close and fast, the"
    " neighbour leaving, a ship that stops short, a rising wind off the quay and a squall; the AIS connection"
    " breaks once, the anemometer falls silent once. Ship, port, people and events are invented."
)


def rehearse(config: Path, stay: str, folder: Path) -> About:
    """Write the invented day at the berth of `stay` into `folder`. Raises SettingsFault, RecordingError."""
    settings = snapshot(config, stay)
    day = invented_day(from_snapshot(settings))
    numbers = count(1)
    entries = (
        Entry.of(next(numbers), at, "in", record) for at, record in events(day, settings, program_version())
    )
    return write_recording(folder, entries, name=NAME, invented=True, holds=HOLDS)
