"""What the feeds said, in SI. `None` is not known; never 0.

`observed_at` is the source's own time, `received_at` our stamp; both aware UTC.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import NamedTuple


class Refusal(StrEnum):
    """Why a raw input was not used. A closed list: counts by reason are shown to people."""

    NOT_FOR_US = "another sentence type"
    BROKEN = "broken line"
    CHECKSUM = "checksum wrong"
    LENGTH = "payload length wrong"
    FRAGMENT = "part of a message, others missing"
    UNDECODABLE = "payload not decodable"
    NO_POSITION = "position not available"
    NOT_A_SHIP = "MMSI is not a ship's"
    OWN_SHIP = "own ship"
    DUPLICATE = "duplicate"
    OUT_OF_ORDER = "older than what we hold"
    JUMP = "position jumps"
    UNUSED_TYPE = "message type not used"
    OUT_OF_RANGE = "value out of range"
    MARKED_INVALID = "marked invalid by the sender"
    NO_VALUE = "value missing"
    ERROR_REPLY = "the service answered with an error"


@dataclass(frozen=True, slots=True)
class Refused:
    """A raw input that was not used, and why."""

    reason: Refusal
    source: str
    received_at: datetime
    detail: str = ""


class ShipFix(NamedTuple):  # no dataclass: nearly every AIS sentence makes one, and frozen ones are slow to make
    """One AIS position report. The position is the antenna's, as sent; see `watch/traffic` for midships."""

    mmsi: int
    observed_at: datetime
    received_at: datetime
    latitude_deg: float
    longitude_deg: float
    sog_m_s: float | None
    cog_deg: float | None
    heading_deg: float | None
    turn_deg_min: float | None  # positive to starboard
    nav_status: int | None  # as sent; never used to decide, since it is often wrong
    class_a: bool
    source: str


@dataclass(frozen=True, slots=True)
class ShipParticulars:
    """AIS static data: any field may be unknown. Antenna offsets: to bow, stern, port side, starboard side."""

    mmsi: int
    received_at: datetime
    source: str
    name: str | None = None
    ship_type: int | None = None  # AIS type code 1..99
    length_m: float | None = None
    beam_m: float | None = None
    to_bow_m: float | None = None  # None when the antenna's place is unknown even though the size is known
    to_port_m: float | None = None
    draught_m: float | None = None


@dataclass(frozen=True, slots=True)
class ClockReading:
    """UTC as told from outside (AIS base station, GNSS): to check our own clock against."""

    utc: datetime
    received_at: datetime
    source: str
    by_ais: bool = False  # a base station's or another ship's, not our own receiver's


@dataclass(frozen=True, slots=True)
class HeadingReading:
    """Own ship's true heading, degrees [0, 360)."""

    heading_deg: float
    received_at: datetime
    source: str


class WindKind(StrEnum):
    """Where a wind value comes from. A forecast is never a measurement."""

    MEASURED = "measured"
    REPORTED = "reported"  # by a met service's station
    ENTERED = "entered by hand"
    FORECAST = "forecast"


@dataclass(frozen=True, slots=True)
class WindReading:
    """Wind as the source gave it: exactly one of `from_direction_deg` (true) and `off_bow_deg` may be known.

    `off_bow_deg` is clockwise from own bow, [0, 360), as MWV sends it: turned to true with the heading later.
    `averaging_s` is the averaging time of `mean_m_s` (None: instantaneous or not told).
    """

    observed_at: datetime
    received_at: datetime
    source: str
    kind: WindKind
    mean_m_s: float | None
    gust_m_s: float | None = None
    from_direction_deg: float | None = None
    off_bow_deg: float | None = None
    averaging_s: float | None = None
    height_m: float | None = None  # above the water; None: as set for this source


@dataclass(frozen=True, slots=True)
class AirReading:
    """Air temperature (K), pressure (Pa) and relative humidity (0..1); None where not given."""

    received_at: datetime
    source: str
    temperature_k: float | None = None
    pressure_pa: float | None = None
    humidity: float | None = None


@dataclass(frozen=True, slots=True)
class WindForecast:
    """A service's forecast at the berth: steps in time order."""

    issued_at: datetime
    received_at: datetime
    source: str
    steps: tuple[WindReading, ...]


@dataclass(frozen=True, slots=True)
class WaterReading:
    """Tide and stream as measured near the berth; None where not given."""

    observed_at: datetime
    received_at: datetime
    source: str
    height_m: float | None = None  # above chart datum
    current_m_s: float | None = None
    set_deg: float | None = None  # true, TOWARDS


@dataclass(frozen=True, slots=True)
class TensionReading:
    """What a force sensor on a line measured, under the sensor's own name."""

    sensor: str
    tension_n: float
    observed_at: datetime
    received_at: datetime
    source: str


@dataclass(frozen=True, slots=True)
class OwnNumber:
    """The MMSI our own transponder sends with our reports."""

    mmsi: int
    received_at: datetime
    source: str


Observation = (
    ShipFix
    | ShipParticulars
    | ClockReading
    | HeadingReading
    | WindReading
    | AirReading
    | WindForecast
    | WaterReading
    | TensionReading
    | OwnNumber
    | Refused
)
