"""MET Norway Locationforecast 2.0 (api.met.no), data under CC BY 4.0.

Its terms of service ask for a User-Agent with a contact, at most four decimals of a degree, no call before
`Expires`, and `If-Modified-Since`. Its documentation (datamodel) gives `wind_speed` as the mean of ten minutes at
10 m and `wind_speed_of_gust` as a 3 s gust, in the "complete" form only.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from importlib.metadata import PackageNotFoundError, version
from typing import Any, Final
from urllib.parse import urlencode

from monitor.base.frames import wrap360
from monitor.intake.met import Reply
from monitor.records.observations import Refusal, Refused, WindForecast, WindKind, WindReading

ADDRESS: Final = "https://api.met.no/weatherapi/locationforecast/2.0/complete"
SOONEST: Final = timedelta(minutes=5)
LATEST: Final = timedelta(hours=6)
_MEAN_OF_S: Final = 600.0
_HEIGHT_M: Final = 10.0
_UNITS: Final = {"wind_speed": "m/s", "wind_from_direction": "degrees"}
_FASTEST_M_S: Final = 120.0


def request(
    latitude_deg: float, longitude_deg: float, contact: str, last_modified: str | None, address: str = ADDRESS
) -> tuple[str, dict[str, str]]:
    """(web address, headers) of the next question. `contact`: a mail or web address of the user's."""
    query = urlencode({"lat": f"{latitude_deg:.4f}", "lon": f"{longitude_deg:.4f}"})
    headers = {"User-Agent": f"bightwatch/{_version()} {contact}", "Accept": "application/json"}
    if last_modified is not None:
        headers["If-Modified-Since"] = last_modified
    return f"{address}?{query}", headers


def parse(reply: Reply, received_at: datetime, source: str) -> WindForecast | Refused:
    """The forecast, or why there is none; steps without a usable wind speed are left out."""
    if reply.status == 304:
        return Refused(Refusal.DUPLICATE, source, received_at, "the forecast we hold is still the newest")
    if reply.status not in (200, 203):  # 203: this version of the service is to be withdrawn, the data are good
        return Refused(Refusal.ERROR_REPLY, source, received_at, _fault(reply.status))
    try:
        return _forecast(_object(reply.body), received_at, source)
    except _NoForecast as why:
        return Refused(Refusal.ERROR_REPLY, source, received_at, str(why))


def next_poll_at(reply: Reply, received_at: datetime, at_least: timedelta = SOONEST) -> datetime:
    """When the service may be asked again: at `Expires` (told by its own clock) or after `Retry-After` seconds.

    Never sooner than `at_least`, never later than LATEST.
    """
    begins = _http_date(reply.headers.get("date")) or received_at
    expires = _http_date(reply.headers.get("expires")) or begins
    retry_after = reply.headers.get("retry-after", "")
    asked = timedelta(seconds=int(retry_after)) if retry_after.isdecimal() and len(retry_after) < 7 else at_least
    return received_at + max(at_least, min(max(expires - begins, asked), LATEST))


class _NoForecast(Exception):
    """Why a reply holds no forecast, in plain words."""


def _object(body: str) -> dict[str, Any]:
    text = body.strip()
    if not text:
        raise _NoForecast("empty reply")
    if text.startswith("<"):
        raise _NoForecast("a web page came instead of a forecast")
    try:
        value = json.loads(text)
    except (ValueError, RecursionError):
        raise _NoForecast("reply cut off or not JSON") from None
    if not isinstance(value, dict):
        raise _NoForecast("reply of another form")
    if "error" in value:
        raise _NoForecast(f"error told with a good status: {str(value['error'])[:100]}")
    return value


def _forecast(reply: dict[str, Any], received_at: datetime, source: str) -> WindForecast:
    match reply:
        case {
            "properties": {"meta": {"updated_at": updated_at, "units": dict(units)}, "timeseries": list(series)}
        }:
            issued_at = _instant(updated_at)
        case _:
            raise _NoForecast("reply of another form")
    for quantity, unit in _UNITS.items():
        if units.get(quantity) != unit:
            raise _NoForecast(f"{quantity} is not in {unit}")
    if issued_at is None:
        raise _NoForecast("no time of issue")
    steps = [step for entry in series if (step := _step(entry, received_at, source)) is not None]
    if not steps:
        raise _NoForecast("no wind in the reply")
    steps.sort(key=lambda step: step.observed_at)
    return WindForecast(issued_at, received_at, source, tuple(steps))


def _step(entry: object, received_at: datetime, source: str) -> WindReading | None:
    match entry:
        case {"time": time, "data": {"instant": {"details": dict(details)}}}:
            at, mean_m_s = _instant(time), _number(details.get("wind_speed"), _FASTEST_M_S)
        case _:
            return None
    if at is None or mean_m_s is None:
        return None
    from_direction_deg = _number(details.get("wind_from_direction"), 360.0)
    return WindReading(
        at,
        received_at,
        source,
        WindKind.FORECAST,
        mean_m_s,
        gust_m_s=_number(details.get("wind_speed_of_gust"), _FASTEST_M_S),
        from_direction_deg=None if from_direction_deg is None else wrap360(from_direction_deg),
        averaging_s=_MEAN_OF_S,
        height_m=_HEIGHT_M,
    )


def _number(value: object, most: float) -> float | None:
    """A JSON number in 0..most; text that looks like one is not a number."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if 0.0 <= value <= most else None


def _instant(value: object) -> datetime | None:
    try:
        instant = datetime.fromisoformat(value) if isinstance(value, str) else None
        return instant.astimezone(UTC) if instant is not None and instant.tzinfo is not None else None
    except (ValueError, OverflowError):
        return None


def _http_date(value: str | None) -> datetime | None:
    try:
        date = parsedate_to_datetime(value) if value is not None else None
        return date.astimezone(UTC) if date is not None and date.tzinfo is not None else None
    except (ValueError, TypeError, IndexError, OverflowError):
        return None


def _fault(status: int) -> str:
    match status:
        case 403:
            return "refused (403): the service wants a contact in the settings and keeps out who calls too often"
        case 429:
            return "called too often (429)"
        case 404 | 400 | 422:
            return f"the service knows no such place or address ({status})"
        case _ if status >= 500:
            return f"the service itself has failed ({status})"
    return f"the service answered {status}"


def _version() -> str:
    try:
        return version("bightwatch")
    except PackageNotFoundError:
        return "uninstalled"
