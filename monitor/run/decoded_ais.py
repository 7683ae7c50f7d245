"""From a file of decoded AIS rows to a recording: as if a watch at the berth had heard them at their own times."""

from __future__ import annotations

import csv
import io
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from heapq import merge
from itertools import chain
from operator import itemgetter
from pathlib import Path
from typing import Final

import pandas as pd

from monitor.base.frames import LocalMap
from monitor.intake.marinecadastre import HeaderFault, columns
from monitor.intake.parser import DECODED_AIS
from monitor.records.events import (
    Beat,
    In,
    OperatorAction,
    RawReading,
    SettingsSnapshot,
    SourceStatus,
    Started,
    Stopped,
)
from monitor.run.journal import Entry
from monitor.run.recording import RecordingError, program_version, write_recording
from monitor.settings.load import from_snapshot
from monitor.settings.schema import Point

HEARD_WITHIN_M: Final = 40_000.0  # some 20 nautical miles: what a ship's aerial hears (common practice, no source)
_BEAT: Final = timedelta(seconds=1)
_WIND_AGAIN: Final = timedelta(minutes=30)
_ROWS_AT_A_TIME: Final = 100_000

Stamped = tuple[datetime, In]


@dataclass(frozen=True, slots=True)
class CsvImport:
    """What became of the rows of a file, every one counted once, and when the recording begins and ends."""

    heard: int  # in the recording, good or bad: the parser judges them, as it does live
    out_of_time: int  # outside the time asked for, or without a time
    out_of_range: int  # of the berth, or without a position
    begins: datetime
    ends: datetime


def import_csv(
    file: Path,
    snapshot: SettingsSnapshot,
    folder: Path,
    *,
    name: str,
    invented: bool,
    holds: str,
    begins: datetime | None = None,
    ends: datetime | None = None,
    wind: OperatorAction | None = None,
) -> CsvImport:
    """Write a recording of the rows in [begins, ends) within HEARD_WITHIN_M of the berth, with a Beat each second.

    `file` is a MarineCadastre CSV, plain or packed. `snapshot` is of a stay with a feed that carries "decoded ais
    csv"; the rows come under its name. `wind` is an entry of the wind to assume, for the file has none: it is
    entered again every half hour.
    Raises RecordingError when the file cannot be read, lacks columns (named, with the nearest) or has no row to
    record, SettingsFault when the settings are at fault.
    """
    settings = from_snapshot(snapshot)
    feed = next((feed.name for feed in settings.stay.feeds if feed.carries == DECODED_AIS), None)
    if feed is None:
        raise RecordingError(f"stay '{snapshot.stay}' has no feed that carries \"{DECODED_AIS}\"")
    rows: list[Stamped] = []
    out_of_time = out_of_range = 0
    for header, frame in _frames(file):
        at, near = _times(header, frame), _near(header, frame, settings.berth.position)
        timely = at.notna() & (begins is None or at >= begins) & (ends is None or at < ends)
        heard = timely & near
        for stamp, cells in zip(at[heard], frame[heard].itertuples(index=False, name=None), strict=True):
            rows.append((stamp.to_pydatetime(), RawReading(feed, f"{header}\n{_csv_line(cells)}")))
        out_of_time += int((~timely).sum())
        out_of_range += int((timely & ~near).sum())
    if not rows:
        raise RecordingError(
            f"{file.name}: no row in that time within {HEARD_WITHIN_M / 1000:.0f} km of '{settings.berth.name}'"
            f" ({out_of_range} rows out of range, {out_of_time} at other times or without one)"
        )
    rows.sort(key=itemgetter(0))  # rows of one instant keep their order
    first, last = rows[0][0].replace(microsecond=0), rows[-1][0]
    opening: list[Stamped] = [
        (first, snapshot),
        (first, Started(program_version())),
        (first, SourceStatus(feed, True, f"rows of {file.name}")),
    ]
    entered = _every(_WIND_AGAIN, first, last, wind) if wind else iter(())
    heard_in_order = merge(entered, rows, _every(_BEAT, first + _BEAT, last, Beat()), key=itemgetter(0))
    closing: list[Stamped] = [(last, Stopped("end of the file"))]
    inputs = enumerate(chain(opening, heard_in_order, closing), 1)
    entries = (Entry.of(seq, at, "in", record) for seq, (at, record) in inputs)
    write_recording(folder, entries, name=name, invented=invented, holds=holds)
    return CsvImport(len(rows), out_of_time, out_of_range, first, last)


def _frames(file: Path) -> Iterator[tuple[str, pd.DataFrame]]:
    """Pieces of the file as texts, each with the header line. A row of too many cells is skipped and warned of."""
    try:
        with pd.read_csv(
            file, dtype=str, na_filter=False, encoding="latin-1", on_bad_lines="warn", chunksize=_ROWS_AT_A_TIME
        ) as frames:
            for frame in frames:
                header = _csv_line(frame.columns)
                columns(header)
                if not isinstance(frame.index, pd.RangeIndex):  # pandas took the first column for row labels
                    raise RecordingError(f"{file.name}: rows have more cells than the header has columns")
                yield header, frame
    except HeaderFault as fault:
        raise RecordingError(f"{file.name}: {fault}") from None
    except (OSError, EOFError, ValueError, zlib.error) as error:
        raise RecordingError(f"{file.name} cannot be read: {error}") from error


def _times(header: str, frame: pd.DataFrame) -> pd.Series[pd.Timestamp]:
    cells = frame.iloc[:, columns(header)["time"]]
    return pd.to_datetime(cells, format="ISO8601", utc=True, errors="coerce")


def _near(header: str, frame: pd.DataFrame, berth: Point) -> pd.Series[bool]:
    """Which positions lie within HEARD_WITHIN_M of the berth, to about 1 %."""
    place = LocalMap(berth.latitude, berth.longitude)
    reach_north_deg = place.to_position(HEARD_WITHIN_M, 0.0)[0] - berth.latitude
    reach_east_deg = (place.to_position(0.0, HEARD_WITHIN_M)[1] - berth.longitude) % 360.0
    latitude_deg = pd.to_numeric(frame.iloc[:, columns(header)["latitude"]], errors="coerce")
    longitude_deg = pd.to_numeric(frame.iloc[:, columns(header)["longitude"]], errors="coerce")
    north = (latitude_deg - berth.latitude) / reach_north_deg
    east = ((longitude_deg - berth.longitude + 180.0) % 360.0 - 180.0) / reach_east_deg
    return north**2 + east**2 <= 1.0


def _every(step: timedelta, first: datetime, last: datetime, record: In) -> Iterator[Stamped]:
    at = first
    while at <= last:
        yield at, record
        at += step


def _csv_line(cells: Iterable[str]) -> str:
    line = io.StringIO()
    csv.writer(line, lineterminator="").writerow(cells)
    return line.getvalue()
