"""United States National Weather Service (api.weather.gov): the newest observation of a station.

It wants a User-Agent. Values name their own unit (`unitCode`), often are null, and in older replies text; a
quality mark of X (failed) or Q (questioned) makes a value unusable (MADIS marks, from memory). An observation
may be most of an hour old when it comes. Airport winds in it are two-minute means at 10 m (ASOS, from memory).
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any, Final

from monitor.base.units import KNOT_M_S
from monitor.intake.met import Reply
from monitor.intake.met.reading import (
    FASTEST_M_S,
    HEIGHT_M,
    NoData,
    Question,
    direction,
    headers,
    instant,
    json_object,
    number,
    refused,
)
from monitor.records.observations import AirReading, Observation, Refusal, Refused, WindKind, WindReading

SOONEST: Final = timedelta(minutes=5)
_MEAN_OF_S: Final = 120.0
_M_S_IN: Final = {"km_h-1": 1.0 / 3.6, "m_s-1": 1.0, "kn": KNOT_M_S, "kt": KNOT_M_S}
_BAD_MARKS: Final = ("X", "Q")


def request(question: Question) -> tuple[str, dict[str, str]]:
    """(web address, headers) of the next question."""
    address = f"{question.address.rstrip('/')}/stations/{question.station}/observations/latest"
    return address, headers(question, "application/geo+json")


def parse(reply: Reply, received_at: datetime, source: str) -> tuple[Observation, ...]:
    """The newest wind and air among the observations, or why there is none."""
    if reply.status == 304:
        return (Refused(Refusal.DUPLICATE, source, received_at, "the observation we hold is still the newest"),)
    try:
        at, properties = _newest(json_object(reply))
    except NoData as why:
        return (refused(why, source, received_at),)
    found: list[Observation] = []
    mean_m_s = _value(properties, "windSpeed", _M_S_IN, FASTEST_M_S)
    if mean_m_s is not None:
        found.append(
            WindReading(
                at,
                received_at,
                source,
                WindKind.REPORTED,
                mean_m_s,
                gust_m_s=_value(properties, "windGust", _M_S_IN, FASTEST_M_S),
                from_direction_deg=direction(
                    _value(properties, "windDirection", {"degree_(angle)": 1.0, "degree": 1.0}, 360.0)
                ),
                averaging_s=_MEAN_OF_S,
                height_m=HEIGHT_M,
            )
        )
    celsius = _value(properties, "temperature", {"degC": 1.0}, 60.0, least=-90.0)
    pressure_pa = _value(properties, "barometricPressure", {"Pa": 1.0, "hPa": 100.0}, 110e3, least=80e3)
    percent = _value(properties, "relativeHumidity", {"percent": 1.0}, 100.0)
    if (celsius, pressure_pa, percent) != (None, None, None):
        temperature_k = None if celsius is None else celsius + 273.15
        humidity = None if percent is None else percent / 100.0
        found.append(AirReading(received_at, source, temperature_k, pressure_pa, humidity))
    return tuple(found) or (Refused(Refusal.NO_VALUE, source, received_at, "all its values are missing"),)


def _newest(value: dict[str, Any]) -> tuple[datetime, dict[str, Any]]:
    """Time and properties of one observation, or of the newest of a list."""
    features = value.get("features", [value])
    rows = (
        [row.get("properties") for row in features if isinstance(row, dict)] if isinstance(features, list) else []
    )
    timed = [
        (at, row) for row in rows if isinstance(row, dict) and (at := instant(row.get("timestamp"))) is not None
    ]
    if not timed:
        raise NoData("no observation in the reply")
    return max(timed, key=lambda each: each[0])


def _value(
    properties: dict[str, Any], name: str, units: dict[str, float], most: float, least: float = 0.0
) -> float | None:
    """A quantity in SI by the unit it names; None when it is missing, of another unit or marked bad."""
    match properties.get(name):
        case {"value": value, "unitCode": str(unit), **rest} if unit.rpartition(":")[2] in units:
            if str(rest.get("qualityControl")).removeprefix("qc:") in _BAD_MARKS:
                return None
            read = number(value, 1e9, least=-1e9, text_too=True)
            factor = units[unit.rpartition(":")[2]]
            return None if read is None else number(read * factor, most, least=least)
    return None
