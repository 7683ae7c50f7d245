"""Open-Meteo forecast (api.open-meteo.com): free for non-commercial use, data under CC BY 4.0 (from memory).

Its defaults are km/h and local times without an offset, so that both are asked for; what comes is read by the
`hourly_units` it names, and a reply in local time is refused unless it tells its offset. Winds are at 10 m,
taken as means of ten minutes, as observers report them (ours; the model's step is an hour); gusts are the highest
3 s of the hour before (its documentation, from memory).
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any, Final
from urllib.parse import urlencode

from monitor.base.units import KNOT_M_S
from monitor.intake.met import Reply
from monitor.intake.met.reading import (
    FASTEST_M_S,
    HEIGHT_M,
    NoData,
    Question,
    direction,
    headers,
    json_object,
    number,
    refused,
    utc_instant,
)
from monitor.records.observations import Refused, WindForecast, WindKind, WindReading

SOONEST: Final = timedelta(minutes=15)
_M_S_IN: Final = {"m/s": 1.0, "km/h": 1.0 / 3.6, "kn": KNOT_M_S, "mp/h": 0.44704, "mph": 0.44704}
_MEAN_OF_S: Final = 600.0
_NAMES: Final = {  # as it is, and as it was before 2023
    "speed": ("wind_speed_10m", "windspeed_10m"),
    "direction": ("wind_direction_10m", "winddirection_10m"),
    "gust": ("wind_gusts_10m", "windgusts_10m"),
}


def request(question: Question) -> tuple[str, dict[str, str]]:
    """(web address, headers) of the next question."""
    query = urlencode(
        {
            "latitude": f"{question.latitude_deg:.4f}",
            "longitude": f"{question.longitude_deg:.4f}",
            "hourly": ",".join(names[0] for names in _NAMES.values()),
            "wind_speed_unit": "ms",
            "timezone": "UTC",
            "forecast_days": 3,
        }
    )
    return f"{question.address}?{query}", headers(question)


def parse(reply: Reply, received_at: datetime, source: str) -> WindForecast | Refused:
    """The forecast, or why there is none. The service tells no time of issue: it is taken to be that of the
    reply.
    """
    try:
        return _forecast(json_object(reply), received_at, source)
    except NoData as why:
        return refused(why, source, received_at)


def _forecast(reply: dict[str, Any], received_at: datetime, source: str) -> WindForecast:
    match reply:
        case {"hourly": {"time": list(times), **hourly}, "hourly_units": dict(units)}:
            offset_s = number(reply.get("utc_offset_seconds", 0), 50_400.0, least=-43_200.0)
        case _:
            raise NoData("reply of another form")
    if offset_s is None:
        raise NoData("no offset from UTC")
    columns: dict[str, list[Any]] = {}
    for what, names in _NAMES.items():
        name = next((name for name in names if isinstance(hourly.get(name), list)), "")
        column: Any = hourly[name] if name else [None] * len(times)
        if name and what != "direction":
            unit = str(units.get(name))
            if unit not in _M_S_IN:
                raise NoData(f"{name} is in {unit}")
            column = [_in_m_s(value, _M_S_IN[unit]) for value in column]
        columns[what] = column
    if any(len(column) != len(times) for column in columns.values()):
        raise NoData("columns of unlike length")
    steps = []
    for time, speed, from_deg, gust in zip(times, *columns.values(), strict=True):
        local = utc_instant(time)
        mean_m_s = number(speed, FASTEST_M_S)
        if local is None or mean_m_s is None:
            continue
        steps.append(
            WindReading(
                local - timedelta(seconds=offset_s),
                received_at,
                source,
                WindKind.FORECAST,
                mean_m_s,
                gust_m_s=number(gust, FASTEST_M_S),
                from_direction_deg=direction(from_deg),
                averaging_s=_MEAN_OF_S,
                height_m=HEIGHT_M,
            )
        )
    if not steps:
        raise NoData("no wind in the reply")
    steps.sort(key=lambda step: step.observed_at)
    return WindForecast(received_at, received_at, source, tuple(steps))


def _in_m_s(value: object, m_s_in: float) -> float | None:
    speed = number(value, 1000.0)
    return None if speed is None else speed * m_s_in
