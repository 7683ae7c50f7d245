"""Decoded AIS as the open MarineCadastre files give it: one row a report, with position, name and size in one.

A raw reading of such a feed is two lines, the file's header and one row, so that each stands alone in a journal.
Layout: MarineCadastre.gov vessel traffic data (US Coast Guard, NOAA, BOEM), read in files of 2022 (``MMSI,
BaseDateTime,LAT,LON,…``); the names of later and older files are from memory. Times are UTC, speeds knots, sizes
metres. The files tell length and width but not where the antenna stands, and hold no rate of turn.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from functools import lru_cache
from typing import Final

from monitor.base.units import m_s
from monitor.intake.ships import possible_size
from monitor.records.observations import Observation, Refusal, Refused, ShipFix, ShipParticulars
from monitor.settings.faults import nearest

# Our name, how it is written in files of 2022, and how else.
_NAMES: Final[dict[str, tuple[str, ...]]] = {
    "mmsi": ("MMSI",),
    "time": ("BaseDateTime", "base_date_time"),
    "latitude": ("LAT", "latitude"),
    "longitude": ("LON", "longitude"),
    "sog": ("SOG",),
    "cog": ("COG",),
    "heading": ("Heading",),
    "name": ("VesselName", "vessel_name"),
    "type": ("VesselType", "vessel_type"),
    "status": ("Status",),
    "length": ("Length",),
    "width": ("Width",),
    "draught": ("Draft",),
    "class": ("TransceiverClass", "transceiver_class", "transceiver", "TranscieverClass"),
}

_A_SHIP: Final = re.compile(r"[2-7]\d{8}")  # Rec. ITU-R M.585: a ship's own number


class HeaderFault(ValueError):
    """A header that lacks columns; the text names them and the nearest that are there."""


@lru_cache(maxsize=32)
def columns(header: str) -> dict[str, int]:
    """Places of our columns in a header line, capitals not counting. Raises HeaderFault."""
    there = _cells(header.removeprefix("\ufeff").removeprefix("ï»¿"))  # a byte order mark, decoded or not
    places = {_folded(name): place for place, name in enumerate(there)}
    found = {
        ours: places[_folded(name)] for ours, names in _NAMES.items() for name in names if _folded(name) in places
    }
    missing = [names[0] for ours, names in _NAMES.items() if ours not in found]
    if missing:
        raise HeaderFault("; ".join(_missing(missing, there)))
    return found


def parse(text: str, source: str, received_at: datetime, own_mmsi: int) -> list[Observation]:
    """What a header line and one row under it say: particulars where any are known, and a fix.

    Checked as AIS is: who is a ship, "not available" values (Rec. ITU-R M.1371-5), sizes that can be.
    """

    def refused(reason: Refusal, detail: str = "") -> Refused:
        return Refused(reason, source, received_at, detail)

    header, _, row = text.strip().partition("\n")
    cells = _cells(row.strip())
    try:
        places = columns(header.strip())
    except HeaderFault as fault:
        return [refused(Refusal.UNDECODABLE, str(fault))]
    if len(cells) != header.count(",") + 1:
        return [refused(Refusal.BROKEN, f"{len(cells)} cells under {header.count(',') + 1} columns")]
    cell = {ours: cells[place].strip() for ours, place in places.items()}
    if not _A_SHIP.fullmatch(cell["mmsi"]):
        return [refused(Refusal.NOT_A_SHIP, cell["mmsi"])]
    if int(cell["mmsi"]) == own_mmsi:
        return [refused(Refusal.OWN_SHIP)]
    particulars = _particulars(cell, source, received_at)
    fix = _fix(cell, source, received_at)
    known = particulars != ShipParticulars(particulars.mmsi, received_at, source)
    return [*([particulars] if known else []), refused(fix) if isinstance(fix, Refusal) else fix]


def observed_at(cell: str) -> datetime:
    """Aware UTC of a time cell, with a "T" or a blank in its middle. Raises ValueError."""
    at = datetime.fromisoformat(cell.strip())
    return at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)


def _fix(cell: dict[str, str], source: str, received_at: datetime) -> ShipFix | Refusal:
    latitude_deg, longitude_deg = _number(cell["latitude"]), _number(cell["longitude"])
    if latitude_deg is None or longitude_deg is None or latitude_deg == 91.0 or longitude_deg == 181.0:
        return Refusal.NO_POSITION
    if latitude_deg == 0.0 == longitude_deg:  # what a decoder makes of a message cut short
        return Refusal.NO_POSITION
    if abs(latitude_deg) > 90.0 or abs(longitude_deg) > 180.0:
        return Refusal.OUT_OF_RANGE
    try:
        at = observed_at(cell["time"])
    except ValueError:
        return Refusal.NO_VALUE
    sog_kn = _within(cell["sog"], 0.0, 102.1)  # 102.2 is "102.2 or more", 102.3 "not available"
    status = _within(cell["status"], 0, 14)  # 15 is "not defined"
    return ShipFix(
        mmsi=int(cell["mmsi"]),
        observed_at=at,
        received_at=received_at,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        sog_m_s=None if sog_kn is None else m_s(sog_kn),
        cog_deg=_within(cell["cog"], 0.0, 359.9),  # 360 is "not available"
        heading_deg=_within(cell["heading"], 0.0, 359.0),  # 511 is "not available"
        turn_deg_min=None,
        nav_status=None if status is None else int(status),
        class_a=cell["class"].upper() != "B",
        source=source,
    )


def _particulars(cell: dict[str, str], source: str, received_at: datetime) -> ShipParticulars:
    length_m, beam_m = possible_size(_number(cell["length"]), _number(cell["width"]))
    ship_type = _within(cell["type"], 1, 99)
    return ShipParticulars(
        mmsi=int(cell["mmsi"]),
        received_at=received_at,
        source=source,
        name=cell["name"] or None,
        ship_type=None if ship_type is None else int(ship_type),
        length_m=length_m,
        beam_m=beam_m,
        draught_m=_within(cell["draught"], 0.5, 25.0),  # 0 is "not available", 25.5 "or more"
    )


def _number(cell: str) -> float | None:
    try:
        number = float(cell)
    except ValueError:
        return None
    return number if math.isfinite(number) else None


def _within(cell: str, low: float, high: float) -> float | None:
    number = _number(cell)
    return number if number is not None and low <= number <= high else None


def _cells(line: str) -> list[str]:
    return next(csv.reader([line]), [])


def _folded(name: str) -> str:
    return name.strip().casefold()


def _missing(names: list[str], there: list[str]) -> Iterator[str]:
    for name in names:
        near = nearest(name, there)
        yield f"column '{name}' is missing" + (f", nearest: '{near}'" if near else "")
