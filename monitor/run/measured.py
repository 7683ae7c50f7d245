"""Measured tensions beside the estimates of a recording: from its own sentences, or from a file."""

from __future__ import annotations

import csv
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from operator import itemgetter
from pathlib import Path
from statistics import median
from typing import Final

from monitor.base.units import UnitError, typed_quantity
from monitor.records.compared import LoadKind
from monitor.records.estimates import LoadEstimate
from monitor.records.review import Passed
from monitor.settings.schema import Settings
from monitor.watch.correction import LEAST_SHARE, SLACK_SHARE, Pair
from monitor.watch.reviewed.passes import FELT_FOR

COLUMNS: Final = ("time", "line", "tension")
CLOSE: Final = timedelta(seconds=10)  # readings this close to an estimate: their median
FELT: Final = 0.1  # of the tension: what a passing ship must add or take to be what loads the line (ours)
NEAREST: Final = timedelta(seconds=60)  # else the nearest reading within this

Tensions = dict[str, list[tuple[datetime, float]]]


def read_tensions(file: Path, settings: Settings) -> Tensions:
    """By line, in time order, from a CSV of time (with its zone), line (or its sensor), tension with its unit.

    Under its own name a doubled line's tension is that of all its parts; under its sensor's, what that reads.
    Raises ValueError naming file, row and fault; no row is left out in silence.
    """
    by_sensor = {led.sensor: led for led in settings.stay.lines if led.sensor is not None}
    names = [*(led.line for led in settings.stay.lines), *by_sensor]
    found: Tensions = {}
    with file.open(newline="", encoding="utf-8-sig") as text:
        rows = csv.reader(text, skipinitialspace=True)
        head = tuple(name.strip().lower() for name in next(rows, []))
        if head != COLUMNS:
            told = ", ".join(head) or "empty"
            raise ValueError(f"{file}: the first line must be {', '.join(COLUMNS)}; it is {told}")
        for row in rows:
            if not row:
                continue
            where = f"{file}, line {rows.line_num}"
            if len(row) != len(COLUMNS):
                raise ValueError(f"{where}: {len(row)} columns, not {len(COLUMNS)}")
            at, name, tension = (each.strip() for each in row)
            if name not in names:
                raise ValueError(f"{where}: no line or sensor '{name}'; there are {', '.join(names)}")
            tension_n, led = _force(tension, where), by_sensor.get(name)
            line, whole_n = (name, tension_n) if led is None else (led.line, led.whole_n(tension_n))
            found.setdefault(line, []).append((_time(at, where), whole_n))
    for readings in found.values():
        readings.sort(key=itemgetter(0))
    return found


def _time(text: str, where: str) -> datetime:
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{where}: '{text}' is no time: write for instance 2026-03-14T12:35:05Z") from None
    if at.tzinfo is None:
        raise ValueError(f"{where}: '{text}' names no zone: write for instance 2026-03-14T12:35:05Z")
    return at.astimezone(UTC)


def _force(text: str, where: str) -> float:
    try:
        tension_n = typed_quantity(text, "N")
    except UnitError as fault:
        raise ValueError(f"{where}: {fault}") from None
    if tension_n < 0.0:
        raise ValueError(f"{where}: '{text}': a line does not push; is the sensor's zero right?")
    return tension_n


def pairs(
    estimates: Sequence[LoadEstimate],
    tensions: Mapping[str, Sequence[tuple[datetime, float]]],
    passed: Sequence[Passed],
    stay_at: Callable[[datetime], str] = lambda at: "",
) -> Iterator[Pair]:
    """Each estimate of a line that was measured then, if by the estimate it carried at least LEAST_SHARE of its
    limit. A line measured as slack is one of them. `stay_at` names the stay of a moment."""
    for estimate in estimates:
        ship = _abreast(estimate.at, passed) if estimate.passing_load is not None else ""
        steady = {load.line: load.tension_n.mid for load in estimate.steady_lines}
        for load in estimate.lines:
            if load.utilisation.mid < LEAST_SHARE:
                continue
            measured_n = _at(tensions.get(load.line, ()), estimate.at)
            if measured_n is not None:
                inside = load.tension_n.low <= measured_n <= load.tension_n.high
                alone_n = steady.get(load.line, load.tension_n.mid)
                felt = bool(ship) and abs(load.tension_n.mid - alone_n) >= FELT * load.tension_n.mid
                kind = LoadKind.PASSING if felt else LoadKind.STEADY
                stretch = ship if felt else f"{estimate.at:%Y-%m-%dT%H}"
                slack, stay = measured_n < SLACK_SHARE * load.limit_n, stay_at(estimate.at)
                yield Pair(
                    load.line, load.group, kind, stretch, load.tension_n.mid, measured_n, inside, slack, stay
                )


def _abreast(at: datetime, passed: Sequence[Passed]) -> str:
    for one in passed:
        if one.passed and one.overlap_from - FELT_FOR <= at <= one.overlap_to + FELT_FOR:
            return f"{one.mmsi} {one.overlap_from:%Y-%m-%dT%H:%M}"
    return ""


def _at(readings: Sequence[tuple[datetime, float]], at: datetime) -> float | None:
    first = bisect_left(readings, at - CLOSE, key=itemgetter(0))
    last = bisect_right(readings, at + CLOSE, key=itemgetter(0))
    if last > first:
        return median(tension_n for _, tension_n in readings[first:last])
    beside = [readings[i] for i in (first - 1, first) if 0 <= i < len(readings)]
    nearest = min(beside, key=lambda reading: abs(reading[0] - at), default=None)
    return nearest[1] if nearest is not None and abs(nearest[0] - at) <= NEAREST else None
