"""MET Norway Locationforecast 2.0 (api.met.no), data under CC BY 4.0.

Its terms of service ask for a User-Agent with a contact, at most four decimals of a degree, no call before
`Expires`, and `If-Modified-Since`. Its documentation (datamodel) gives `wind_speed` as the mean of ten minutes at
10 m and `wind_speed_of_gust` as a 3 s gust, in the "complete" form only.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any, Final
from urllib.parse import urlencode

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
from monitor.records.observations import Refusal, Refused, WindForecast, WindKind, WindReading

SOONEST: Final = timedelta(minutes=5)
_MEAN_OF_S: Final = 600.0
_UNITS: Final = {"wind_speed": "m/s", "wind_from_direction": "degrees"}


def request(question: Question) -> tuple[str, dict[str, str]]:
    """(web address, headers) of the next question."""
    query = urlencode({"lat": f"{question.latitude_deg:.4f}", "lon": f"{question.longitude_deg:.4f}"})
    return f"{question.address}?{query}", headers(question)


def parse(reply: Reply, received_at: datetime, source: str) -> WindForecast | Refused:
    """The forecast, or why there is none; steps without a usable wind speed are left out."""
    if reply.status == 304:
        return Refused(Refusal.DUPLICATE, source, received_at, "the forecast we hold is still the newest")
    try:
        return _forecast(json_object(reply), received_at, source)
    except NoData as why:
        return refused(why, source, received_at)


def _forecast(reply: dict[str, Any], received_at: datetime, source: str) -> WindForecast:
    match reply:
        case {
            "properties": {"meta": {"updated_at": updated_at, "units": dict(units)}, "timeseries": list(series)}
        }:
            issued_at = instant(updated_at)
        case _:
            raise NoData("reply of another form")
    for quantity, unit in _UNITS.items():
        if units.get(quantity) != unit:
            raise NoData(f"{quantity} is not in {unit}")
    if issued_at is None:
        raise NoData("no time of issue")
    steps = [step for entry in series if (step := _step(entry, received_at, source)) is not None]
    if not steps:
        raise NoData("no wind in the reply")
    steps.sort(key=lambda step: step.observed_at)
    return WindForecast(issued_at, received_at, source, tuple(steps))


def _step(entry: object, received_at: datetime, source: str) -> WindReading | None:
    match entry:
        case {"time": time, "data": {"instant": {"details": dict(details)}}}:
            at, mean_m_s = instant(time), number(details.get("wind_speed"), FASTEST_M_S)
        case _:
            return None
    if at is None or mean_m_s is None:
        return None
    return WindReading(
        at,
        received_at,
        source,
        WindKind.FORECAST,
        mean_m_s,
        gust_m_s=number(details.get("wind_speed_of_gust"), FASTEST_M_S),
        from_direction_deg=direction(details.get("wind_from_direction")),
        averaging_s=_MEAN_OF_S,
        height_m=HEIGHT_M,
    )
