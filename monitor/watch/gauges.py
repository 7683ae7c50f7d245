"""The water as it is measured: which gauge or current meter is believed, and how far it is off the tables.

A gauge is a feed like another. The one named first in the stay is believed while it is fresh, does not stand
still, and is not off the tables by more than weather can do; else the next, else the tables. What it shows is
carried as a difference from the tables, which `water` adds to them (see there how it dies away).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Final, TypeVar

from monitor.base.frames import from_axes
from monitor.base.moved import OWN_TIME
from monitor.base.units import knots
from monitor.records.estimates import WaterEstimate
from monitor.records.observations import WaterReading
from monitor.watch.water import MEASURED_FRESH, OFF_M, OFF_M_S, OffTables

FARTHEST_M: Final = 3.0  # off the tables: the great surges of the North Sea, 1953 (from memory); beyond it a fault
FARTHEST_M_S: Final = 2.0  # judgement
STILL: Final = timedelta(minutes=30)  # the very same height for so long, while the tables moved by STILL_M
STILL_M: Final = 0.2  # ours

Held = TypeVar("Held")


@dataclass(frozen=True, slots=True)
class _Level:
    reading: WaterReading
    same_since: datetime  # since when it has shown this very height


@dataclass(slots=True)
class Gauges:
    """The newest level and stream of each source. `tables` gives the water by the tables; `fresh_s` by source,
    in order of belief, how old a reading may be."""

    tables: Callable[[datetime], WaterEstimate]
    fresh_s: Mapping[str, float]
    _levels: dict[str, _Level] = field(default_factory=dict)
    _streams: dict[str, WaterReading] = field(default_factory=dict)

    def take(self, reading: WaterReading) -> None:
        """One reading; an older one than what we hold changes nothing. A stamp ahead of its arrival is that of a
        wrong clock: it would be fresh for hours, and shut out all that comes after it."""
        reading = replace(reading, observed_at=min(reading.observed_at, reading.received_at))
        source, before = reading.source, self._levels.get(reading.source)
        if reading.height_m is not None and not (before and reading.observed_at < before.reading.observed_at):
            same = before is not None and before.reading.height_m == reading.height_m
            since = before.same_since if before is not None and same else reading.observed_at
            self._levels[source] = _Level(reading, since)
        if reading.current_m_s is not None and reading.set_deg is not None:
            earlier = self._streams.get(source)
            if earlier is None or reading.observed_at >= earlier.observed_at:
                self._streams[source] = reading

    def clock_set(self, by: timedelta) -> None:
        """Our clock was set: bring what it stamped to the new time. A time of the source's own stands."""
        for source, level in self._levels.items():
            if _our_time(level.reading):
                self._levels[source] = _Level(_moved(level.reading, by), level.same_since + by)
        self._streams = {
            source: _moved(reading, by) if _our_time(reading) else reading
            for source, reading in self._streams.items()
        }

    def off(self, now: datetime) -> OffTables | None:
        """What the loads are to take from the gauges; None when none is fresh and believed."""
        found = OffTables()
        for source, level in self._ranked(self._levels):
            reading = level.reading
            if not self._fresh(reading, now) or self._why_not_level(level):
                continue
            by_tables, height_m = self.tables(reading.observed_at).height_m, reading.height_m
            above_m = None if by_tables is None or height_m is None else round(height_m - by_tables, 2)
            found = replace(
                found, height_m=height_m, above_m=above_m, level_at=reading.observed_at, level_source=source
            )
            break
        for source, reading in self._ranked(self._streams):
            if not self._fresh(reading, now) or self._why_not_stream(reading):
                continue
            north, east = _vector(reading.current_m_s, reading.set_deg)
            tables = self.tables(reading.observed_at)
            more = None
            if tables.current_m_s is not None:
                by_north, by_east = _vector(tables.current_m_s, tables.set_deg)
                more = round(north - by_north, 2), round(east - by_east, 2)
            found = replace(
                found, stream_m_s=(north, east), more_m_s=more, stream_at=reading.observed_at, stream_source=source
            )
            break
        return None if found == OffTables() else found

    def told(self, now: datetime) -> tuple[datetime, str] | None:
        """Since when, and in words, how the water as measured differs from the tables or a gauge cannot be
        believed; None when there is nothing to tell."""
        for source, level in self._ranked(self._levels):
            reading = level.reading
            if not self._fresh(reading, now):
                continue
            if why := self._why_not_level(level):
                return reading.observed_at, f"The water level of {source} is not used: it {why}"
            by_tables, height_m = self.tables(reading.observed_at).height_m, reading.height_m
            if by_tables is not None and height_m is not None and abs(height_m - by_tables) >= OFF_M:
                way = "above" if height_m > by_tables else "below"
                return (
                    reading.observed_at,
                    f"The water stands {abs(height_m - by_tables):.1f} m {way} the tables, by {source}",
                )
        for source, reading in self._ranked(self._streams):
            if not self._fresh(reading, now):
                continue
            theirs, ours = self.tables(reading.observed_at).current_m_s, reading.current_m_s
            if self._why_not_stream(reading):
                return reading.observed_at, f"The stream of {source} is not used: it is too far off the tables"
            if ours is not None and theirs is not None and abs(ours - theirs) >= OFF_M_S:
                what = f"{knots(ours):.1f} kn by {source}, {knots(theirs):.1f} kn by the tables"
                return reading.observed_at, f"The stream runs {what}"
        return None

    def _ranked(self, held: Mapping[str, Held]) -> list[tuple[str, Held]]:
        return [(source, held[source]) for source in self.fresh_s if source in held]

    def _fresh(self, reading: WaterReading, now: datetime) -> bool:
        most = min(MEASURED_FRESH, timedelta(seconds=self.fresh_s[reading.source]))
        return now - reading.observed_at <= most

    def _why_not_level(self, level: _Level) -> str:
        reading = level.reading
        by_tables, before = self.tables(reading.observed_at).height_m, self.tables(level.same_since).height_m
        if by_tables is None or reading.height_m is None:
            return ""
        if abs(reading.height_m - by_tables) > FARTHEST_M:
            return f"is {abs(reading.height_m - by_tables):.1f} m off the tables"
        still = reading.observed_at - level.same_since >= STILL
        if still and before is not None and abs(by_tables - before) >= STILL_M:
            return f"has shown the same height for {STILL / timedelta(minutes=1):.0f} min"
        return ""

    def _why_not_stream(self, reading: WaterReading) -> bool:
        tables = self.tables(reading.observed_at)
        if tables.current_m_s is None:
            return False
        ours, theirs = _vector(reading.current_m_s, reading.set_deg), _vector(tables.current_m_s, tables.set_deg)
        return max(abs(a - b) for a, b in zip(ours, theirs, strict=True)) > FARTHEST_M_S


def _vector(rate_m_s: float | None, set_deg: float | None) -> tuple[float, float]:
    """(north, east) of a stream."""
    return from_axes(rate_m_s or 0.0, 0.0, set_deg or 0.0)


def _our_time(reading: WaterReading) -> bool:
    return abs(reading.observed_at - reading.received_at) < OWN_TIME


def _moved(reading: WaterReading, by: timedelta) -> WaterReading:
    return replace(reading, observed_at=reading.observed_at + by, received_at=reading.received_at + by)
