"""Wind, heading, air and clock from NMEA 0183 (IEC 61162-1) sentences.

pynmea2 knows the layouts; the values are checked here, because it passes readings marked invalid, empty fields and
any number.

MWV comes as R (relative) and T ("theoretical": worked out by the instrument from R and the speed through the
water). Both angles are off the bow. Alongside the ship is still and R is the wind itself, while T would take a
stream along the hull for wind: R is used, and T only from a source that sends no R. VWR and VWT are their
forerunners, counted to port or starboard; MDA repeats what others measure and counts only from a source that sends
nothing else.

XDR force transducers (type F, newtons: IEC 61162-1, from memory) are line tensions under the transducer's name.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import UTC, date, datetime, time, timedelta
from math import isfinite
from typing import Any, Final

import pynmea2
from pynmea2.nmea import TalkerSentence

from monitor.base.frames import wrap360
from monitor.base.units import KNOT_M_S
from monitor.intake.sentences import Sentence, checksum_ok
from monitor.intake.ships import ACCEPTED, Counts
from monitor.records.observations import (
    AirReading,
    ClockReading,
    HeadingReading,
    Observation,
    Refusal,
    Refused,
    TensionReading,
    WindKind,
    WindReading,
)

FASTEST_M_S: Final = 75.0  # few anemometers for ships read further (common practice, no source)
RELATIVE_WITHIN: Final = timedelta(seconds=60)  # R heard so recently makes T superfluous
_M_S_IN: Final = {"K": 1.0 / 3.6, "M": 1.0, "N": KNOT_M_S, "S": 0.44704}  # km/h, m/s, knots, statute miles/h
_PA_IN: Final = {"B": 1e5, "P": 1.0}  # bar, pascal
_INCH_OF_MERCURY_PA: Final = 3386.389  # at 0 °C (NIST SP 811, from memory)
_ICE_POINT_K: Final = 273.15
_N_IN: Final = {"N": 1.0}  # newton
_MOST_N: Final = 2e7  # ten times what the strongest lines hold (ours)
_LONG_AGO: Final = datetime(1970, 1, 1, tzinfo=UTC)
_READ: Final = frozenset({"MWV", "MWD", "VWR", "VWT", "HDT", "THS", "MDA", "XDR", "ZDA", "RMC"})
_FIXED_MODES: Final = ("", "A", "D", "F", "P", "R")  # RMC mode: a real fix, not estimated, manual or simulated


class _NoUse(Exception):
    """Raised on the way through a sentence: it is not used, for this reason."""

    def __init__(self, reason: Refusal) -> None:
        self.reason = reason


class NmeaParser:
    """`$` sentences in, observations out; `counts` as in ShipParser. Reads no clock."""

    def __init__(self, counts: Counts | None = None) -> None:
        self.counts: Counts = defaultdict(Counter) if counts is None else counts
        self._relative_at: dict[str, datetime] = {}
        self._direct_at: dict[str, datetime] = {}

    def feed(self, sentence: Sentence, source: str, received_at: datetime) -> list[Observation]:
        """The observations of a sentence, or why there is none."""
        text = sentence.text
        # A maker's own, or a question, among others.
        if text[3:6] not in _READ or text[6:7] not in ("", ",") or text[1] == "P":
            return self._refuse(Refusal.NOT_FOR_US, source, received_at)
        try:
            observations = self._read(sentence, source, received_at)
        except _NoUse as no_use:
            return self._refuse(no_use.reason, source, received_at)
        self.counts[source][ACCEPTED] += 1
        return observations

    def _refuse(self, reason: Refusal, source: str, received_at: datetime) -> list[Observation]:
        self.counts[source][reason] += 1
        return [Refused(reason, source, received_at)]

    def _read(self, sentence: Sentence, source: str, received_at: datetime) -> list[Observation]:
        text, _, stamped_at = sentence
        kind = text[3:6]
        if not checksum_ok(sentence):
            raise _NoUse(Refusal.CHECKSUM)
        if kind == "THS":  # unknown to pynmea2
            return [HeadingReading(_ths(text.split(",")), received_at, source)]
        try:
            fields = pynmea2.parse(text)
        except pynmea2.ParseError:
            raise _NoUse(Refusal.BROKEN) from None
        if not isinstance(fields, TalkerSentence) or fields.sentence_type != kind:
            raise _NoUse(Refusal.BROKEN)  # pynmea2 took it for a maker's own, or for a question
        observed_at = stamped_at or received_at
        match kind:
            case "MWV" | "VWR" | "VWT":
                mean_m_s, off_bow_deg, relative = _mwv(fields) if kind == "MWV" else _vw(fields, kind)
                self._chosen(relative, source, received_at)
                measured = WindKind.MEASURED
                return [
                    WindReading(
                        observed_at, received_at, source, measured, mean_m_s=mean_m_s, off_bow_deg=off_bow_deg
                    )
                ]
            case "MWD":
                self._direct_at[source] = received_at
                return [_mwd(fields, source, observed_at, received_at)]
            case "HDT":
                return [HeadingReading(_heading(fields.heading), received_at, source)]
            case "MDA":
                return self._mda(fields, source, observed_at, received_at)
            case "XDR":
                return _xdr(fields, source, observed_at, received_at)
        return [ClockReading(_zda(fields) if kind == "ZDA" else _rmc(fields), received_at, source)]

    def _chosen(self, relative: bool, source: str, received_at: datetime) -> None:
        """Raises _NoUse for a wind "through the water" from a source that lately sent the relative one."""
        if relative:
            self._relative_at[source] = self._direct_at[source] = received_at
        elif received_at - self._relative_at.get(source, _LONG_AGO) < RELATIVE_WITHIN:
            raise _NoUse(Refusal.NOT_FOR_US)
        self._direct_at[source] = received_at

    def _mda(self, fields: Any, source: str, observed_at: datetime, received_at: datetime) -> list[Observation]:
        """Air, and the wind when no other sentence of this source tells it."""
        found: list[Observation] = []
        air = _mda_air(fields)
        if any(value is not None for value in air.values()):
            found.append(_air(air, source, received_at))
        other = received_at - self._direct_at.get(source, _LONG_AGO) < RELATIVE_WITHIN
        speeds = _number(fields.wind_speed_meters), _number(fields.wind_speed_knots)
        if not other and speeds != (None, None):
            found.append(_mwd(fields, source, observed_at, received_at))
        if not found:
            raise _NoUse(Refusal.NOT_FOR_US if other else Refusal.NO_VALUE)
        return found


def _mwv(fields: Any) -> tuple[float, float | None, bool]:
    """(m/s, degrees off the bow, whether relative)."""
    if fields.status != "A":
        raise _NoUse(Refusal.MARKED_INVALID if fields.status == "V" else Refusal.NO_VALUE)
    if fields.reference not in ("R", "T") or fields.wind_speed_units not in _M_S_IN:
        raise _NoUse(Refusal.BROKEN)
    speed_m_s = _speed(fields.wind_speed, _M_S_IN[fields.wind_speed_units])
    return speed_m_s, _direction(fields.wind_angle), fields.reference == "R"


def _vw(fields: Any, kind: str) -> tuple[float, float | None, bool]:
    """(m/s, degrees off the bow, whether relative): `angle,L|R,kn,N,m/s,M,km/h,K`, the angle 0 to 180."""
    data: list[str] = fields.data
    angle, side, knots, _, metres, _, kilometres, *_ = [*data, *[""] * 8]
    given = ((metres, "M"), (knots, "N"), (kilometres, "K"))
    speed_m_s = next((_speed(text, _M_S_IN[unit]) for text, unit in given if text), None)
    if speed_m_s is None:
        raise _NoUse(Refusal.NO_VALUE)
    angle_deg = _direction(angle)
    if angle_deg is not None and (angle_deg > 180.0 or side not in ("L", "R")):
        raise _NoUse(Refusal.OUT_OF_RANGE if side in ("L", "R") else Refusal.BROKEN)
    off_bow_deg = None if angle_deg is None else wrap360(angle_deg if side == "R" else -angle_deg)
    return speed_m_s, off_bow_deg, kind == "VWR"


def _mwd(fields: Any, source: str, observed_at: datetime, received_at: datetime) -> WindReading:
    """Without a true direction only the speed is known: a magnetic one is not used as true."""
    speed, m_s_in = fields.wind_speed_meters, 1.0
    if _number(speed) is None:
        speed, m_s_in = fields.wind_speed_knots, KNOT_M_S
    return WindReading(
        observed_at,
        received_at,
        source,
        WindKind.MEASURED,
        mean_m_s=_speed(speed, m_s_in),
        from_direction_deg=_direction(fields.direction_true),
    )


def _ths(fields: list[str]) -> float:
    """`$--THS,heading,mode`: only A (autonomous) counts; E estimated, M manual, S simulated, V invalid."""
    if len(fields) < 3 or not fields[2]:
        raise _NoUse(Refusal.NO_VALUE)
    if fields[2] != "A":
        raise _NoUse(Refusal.MARKED_INVALID)
    return _heading(fields[1])


def _mda_air(fields: Any) -> dict[str, float | None]:
    pressure_bar, inches = _number(fields.b_pressure_bar), _number(fields.b_pressure_inch)
    pressure_pa = None if pressure_bar is None else pressure_bar * _PA_IN["B"]
    if pressure_pa is None and inches is not None:
        pressure_pa = inches * _INCH_OF_MERCURY_PA
    return {"C": _number(fields.air_temp), "P": pressure_pa, "H": _number(fields.rel_humidity)}


def _xdr(fields: Any, source: str, observed_at: datetime, received_at: datetime) -> list[Observation]:
    """Groups of type, value, unit and name. Makers choose the names: these say air, barometer, humidity.

    Every force is a tension; a group with a broken value spoils none of the others.
    """
    air: dict[str, float | None] = {}
    found: list[Observation] = []
    for transducer in range(fields.num_transducers):
        kind, text, unit, name = fields.get_transducer(transducer)
        if kind == "F":
            found += _tension(text, unit, name, source, observed_at, received_at)
            continue
        value, name = _number(text), name.upper()
        if (kind, unit) == ("C", "C") and "AIR" in name:
            air["C"] = value
        elif kind == "P" and unit in _PA_IN and ("BARO" in name or "AIR" in name):
            air["P"] = None if value is None else value * _PA_IN[unit]
        elif (kind, unit) == ("H", "P"):
            air["H"] = value
    if air:
        found.append(_air(air, source, received_at))
    if not found:
        raise _NoUse(Refusal.NOT_FOR_US)
    return found


def _tension(
    text: str, unit: str, name: str, source: str, observed_at: datetime, received_at: datetime
) -> list[Observation]:
    """A tension, or why it is none: a sensor that fails shows itself by empty, negative or absurd forces."""
    try:
        value = _number(text)
        if value is None or not name.strip():
            raise _NoUse(Refusal.NO_VALUE)
        if unit not in _N_IN or not 0.0 <= value * _N_IN[unit] <= _MOST_N:
            raise _NoUse(Refusal.OUT_OF_RANGE)
    except _NoUse as no_use:
        return [Refused(no_use.reason, source, received_at, f"force sensor {name}")]
    return [TensionReading(name.strip(), value * _N_IN[unit], observed_at, received_at, source)]


def _air(found: dict[str, float | None], source: str, received_at: datetime) -> AirReading:
    """Temperature in °C ("C"), pressure in Pa ("P"), humidity in % ("H") → SI; impossible values are unknown."""
    celsius, pressure_pa, percent = found.get("C"), found.get("P"), found.get("H")
    if celsius is None and pressure_pa is None and percent is None:
        raise _NoUse(Refusal.NO_VALUE)
    reading = AirReading(
        received_at,
        source,
        temperature_k=celsius + _ICE_POINT_K if celsius is not None and -60.0 <= celsius <= 60.0 else None,
        pressure_pa=pressure_pa if pressure_pa is not None and 85e3 <= pressure_pa <= 110e3 else None,
        humidity=percent / 100.0 if percent is not None and 0.0 < percent <= 100.0 else None,
    )
    if reading.temperature_k is reading.pressure_pa is reading.humidity is None:
        raise _NoUse(Refusal.OUT_OF_RANGE)
    return reading


def _zda(fields: Any) -> datetime:
    try:
        year = fields.year + 2000 if fields.year < 100 else fields.year  # some send two digits, as RMC does
        return _utc(date(year, fields.month, fields.day), fields.timestamp)
    except (TypeError, ValueError, OverflowError):
        raise _NoUse(Refusal.NO_VALUE) from None


def _rmc(fields: Any) -> datetime:
    if fields.status != "A" or fields.mode_indicator not in _FIXED_MODES:
        raise _NoUse(Refusal.MARKED_INVALID)
    return _utc(fields.datestamp, fields.timestamp)


def _utc(day: object, of_day: object) -> datetime:
    if not isinstance(day, date) or not isinstance(of_day, time):
        raise _NoUse(Refusal.NO_VALUE)
    return datetime.combine(day, of_day).replace(tzinfo=UTC)


def _speed(value: object, m_s_in: float) -> float:
    number = _number(value)
    if number is None:
        raise _NoUse(Refusal.NO_VALUE)
    speed_m_s = number * m_s_in
    if not 0.0 <= speed_m_s <= FASTEST_M_S:
        raise _NoUse(Refusal.OUT_OF_RANGE)
    return speed_m_s


def _heading(value: object) -> float:
    heading_deg = _direction(value)
    if heading_deg is None:
        raise _NoUse(Refusal.NO_VALUE)
    return heading_deg


def _direction(value: object) -> float | None:
    """Degrees in [0, 360), None when the field is empty."""
    angle_deg = _number(value)
    if angle_deg is None:
        return None
    if not 0.0 <= angle_deg <= 360.0:
        raise _NoUse(Refusal.OUT_OF_RANGE)
    return wrap360(angle_deg)


def _number(value: object) -> float | None:
    """A field as a finite number; None when it is empty. Raises _NoUse when it is something else."""
    if value is None or value == "":
        return None
    try:
        number = float(str(value))
    except ValueError:
        raise _NoUse(Refusal.BROKEN) from None
    if not isfinite(number):
        raise _NoUse(Refusal.BROKEN)
    return number
