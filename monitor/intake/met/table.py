"""A forecast typed in or mailed to a ship without a line: a small table of text, one row a time.

    time, from, mean, gust
    2026-03-14T09:00Z, 240 deg, 25 kn, 34 kn
    2026-03-14T12:00Z, 260 deg, 12 m/s,

Units are written, never implied; a time without a zone is a fault; the gust may be left empty. Lines that begin
with "#" are remarks. The table counts from when it is read; a row with a fault makes the whole table unusable,
for a forecast with a hole reads like a lull.
"""

from __future__ import annotations

import csv
from datetime import datetime
from itertools import pairwise

from monitor.base.frames import wrap360
from monitor.base.units import UnitError, parse_quantity
from monitor.intake.met import Reply
from monitor.intake.met.reading import FASTEST_M_S, HEIGHT_M, NoData, good_body, instant, refused
from monitor.records.observations import Refused, WindForecast, WindKind, WindReading

COLUMNS = ["time", "from", "mean", "gust"]
_MEAN_OF_S = 600.0


def parse(reply: Reply, received_at: datetime, source: str) -> WindForecast | Refused:
    """The forecast of a table, or which line is at fault."""
    try:
        lines = enumerate(good_body(reply).splitlines(), 1)
        rows = [(n, line) for n, line in lines if line.strip() and not line.lstrip().startswith("#")]
        cells = [(n, [cell.strip() for cell in next(csv.reader([line]))]) for n, line in rows]
        if not cells or cells[0][1] != COLUMNS:
            raise NoData(f"the first line must be: {', '.join(COLUMNS)}")
        steps = [_step(n, row, received_at, source) for n, row in cells[1:]]
        if not steps:
            raise NoData("no rows")
        if any(b.observed_at <= a.observed_at for a, b in pairwise(steps)):
            raise NoData("rows not in time order")
    except NoData as why:
        return refused(why, source, received_at)
    except csv.Error:
        return refused(NoData("not a table"), source, received_at)
    return WindForecast(received_at, received_at, source, tuple(steps))


def _step(n: int, row: list[str], received_at: datetime, source: str) -> WindReading:
    if len(row) != len(COLUMNS):
        raise NoData(f"line {n}: {len(row)} cells, not {len(COLUMNS)}")
    at = instant(row[0])
    if at is None:
        raise NoData(f"line {n}: '{row[0]}' is no time with a zone, for instance 2026-03-14T09:00Z")
    try:
        from_deg, mean_m_s = parse_quantity(row[1], "deg"), parse_quantity(row[2], "m/s")
        gust_m_s = parse_quantity(row[3], "m/s") if row[3] else None
    except UnitError as error:
        raise NoData(f"line {n}: {error}") from None
    if not (0.0 <= from_deg <= 360.0 and 0.0 <= mean_m_s <= FASTEST_M_S and mean_m_s <= (gust_m_s or mean_m_s)):
        raise NoData(f"line {n}: a wind that cannot be")
    if gust_m_s is not None and gust_m_s > FASTEST_M_S:
        raise NoData(f"line {n}: a wind that cannot be")
    kind = WindKind.FORECAST
    return WindReading(
        at, received_at, source, kind, mean_m_s, gust_m_s, wrap360(from_deg), None, _MEAN_OF_S, HEIGHT_M
    )
