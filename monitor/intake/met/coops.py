"""NOAA CO-OPS data getter (api.tidesandcurrents.noaa.gov): wind and water level of a station, measured.

Every value comes as text; an error comes with HTTP 200. Wind: six-minute records of a two-minute mean and a gust
of about 5 s (CO-OPS sensor notes, from memory), flags "maximum exceeded" and "rate exceeded". Water level: above
the datum asked for; flags: count of outliers, flat, rate, limit; a single 1 in the last three makes it unusable.
Heights are asked above mean lower low water, which is the chart datum of the United States.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any, Final
from urllib.parse import urlencode

from monitor.intake.met import Reply
from monitor.intake.met.reading import (
    FASTEST_M_S,
    NoData,
    Question,
    direction,
    headers,
    json_object,
    number,
    refused,
    utc_instant,
)
from monitor.records.observations import Observation, WaterReading, WindKind, WindReading

SOONEST: Final = timedelta(minutes=6)  # new records come so often
_MEAN_OF_S: Final = 120.0


def request_wind(question: Question) -> tuple[str, dict[str, str]]:
    """(web address, headers) of the next question for wind."""
    return _request(question, product="wind")


def request_water_level(question: Question) -> tuple[str, dict[str, str]]:
    """(web address, headers) of the next question for the water level."""
    return _request(question, product="water_level", datum="MLLW")


def parse_wind(reply: Reply, received_at: datetime, source: str) -> tuple[Observation, ...]:
    """The newest wind that is whole, or why there is none."""
    try:
        for record in _newest_first(reply, "s", "d"):
            speed_m_s = number(record.get("s"), FASTEST_M_S, text_too=True)
            at = utc_instant(record.get("t"))
            if speed_m_s is not None and at is not None and not _flagged(record.get("f")):
                gust_m_s = number(record.get("g"), FASTEST_M_S, text_too=True)
                from_deg = direction(record.get("d"), text_too=True)
                kind, mean_of_s = WindKind.REPORTED, _MEAN_OF_S
                return (
                    WindReading(at, received_at, source, kind, speed_m_s, gust_m_s, from_deg, None, mean_of_s),
                )
        raise NoData("no usable wind in the reply")
    except NoData as why:
        return (refused(why, source, received_at),)


def parse_water_level(reply: Reply, received_at: datetime, source: str) -> tuple[Observation, ...]:
    """The newest water level that is whole, metres above MLLW, or why there is none."""
    try:
        for record in _newest_first(reply, "v", "s"):
            height_m = number(record.get("v"), 30.0, least=-15.0, text_too=True)
            at = utc_instant(record.get("t"))
            if height_m is not None and at is not None and not _flagged(record.get("f"), skip=1):
                return (WaterReading(at, received_at, source, height_m),)
        raise NoData("no usable water level in the reply")
    except NoData as why:
        return (refused(why, source, received_at),)


def _request(question: Question, **product: str) -> tuple[str, dict[str, str]]:
    asked = {"station": question.station, "date": "latest", **product, "units": "metric", "time_zone": "gmt"}
    query = urlencode({**asked, "application": "bightwatch", "format": "json"})
    return f"{question.address}?{query}", headers(question)


def _newest_first(reply: Reply, *fields: str) -> Iterator[dict[str, Any]]:
    """The records that have these fields. By one alone products cannot be told apart: "v" is any value, and "s"
    the speed of a wind, but the scatter of a water level."""
    value = json_object(reply)
    if not isinstance(value.get("data"), list):
        raise NoData("predictions, not measurements" if "predictions" in value else "reply of another form")
    records = [each for each in value["data"] if isinstance(each, dict) and all(field in each for field in fields)]
    yield from sorted(records, key=lambda record: str(record.get("t")), reverse=True)


def _flagged(flags: object, skip: int = 0) -> bool:
    """Whether a quality flag is set; the first `skip` are counts. Flags missing: not flagged."""
    return isinstance(flags, str) and any(flag.strip() not in ("0", "") for flag in flags.split(",")[skip:])
