"""What the met services' parsers share: the question, faults in any dress, numbers in any dress, times.

A service tells its errors as it likes: with a status, with a good status and an error inside, or with a web page.
All become `NoData`, and that a refusal in plain words.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from importlib.metadata import PackageNotFoundError, version
from typing import Any, Final

from monitor.base.frames import wrap360
from monitor.intake.met import Reply
from monitor.records.observations import Refusal, Refused

FASTEST_M_S: Final = 120.0  # above any gust ever measured, 113 m/s on Barrow Island in 1996 (from memory)
HEIGHT_M: Final = 10.0  # of the wind of weather models and stations (WMO-No. 8, 5.1.1, from memory)
LATEST: Final = timedelta(hours=6)


@dataclass(frozen=True, slots=True)
class Question:
    """What a service is asked: of a place or a station, by whom, and what we hold already."""

    latitude_deg: float
    longitude_deg: float
    contact: str  # a mail or web address of the user's
    address: str
    station: str = ""
    last_modified: str | None = None


class NoData(Exception):
    """Why a reply holds nothing for us, in plain words."""


def headers(question: Question, accept: str = "application/json") -> dict[str, str]:
    """Who we are, and what we hold already."""
    try:
        program = version("bightwatch")
    except PackageNotFoundError:
        program = "uninstalled"
    told = {"User-Agent": f"bightwatch/{program} {question.contact}", "Accept": accept}
    if question.last_modified is not None:
        told["If-Modified-Since"] = question.last_modified
    return told


def refused(why: NoData, source: str, received_at: datetime) -> Refused:
    """The refusal of a reply."""
    return Refused(Refusal.ERROR_REPLY, source, received_at, str(why))


def good_body(reply: Reply) -> str:
    """The body of a good reply. Raises NoData for a bad status, an empty body or a web page."""
    if reply.status not in (200, 203):  # 203: this version of the service is to be withdrawn, the data are good
        raise NoData(_fault(reply.status, reply.body))
    text = reply.body.strip()
    if not text:
        raise NoData("empty reply")
    if text.startswith("<"):
        raise NoData("a web page came instead of data")
    return text


def json_object(reply: Reply) -> dict[str, Any]:
    """The JSON object of a good reply. Raises NoData, also for an error told with a good status."""
    try:
        value = json.loads(good_body(reply))
    except (ValueError, RecursionError):
        raise NoData("reply cut off or not JSON") from None
    if not isinstance(value, dict):
        raise NoData("reply of another form")
    if value.get("error"):
        raise NoData(f"error told with a good status: {_said(value)}")
    return value


def number(value: object, most: float, *, least: float = 0.0, text_too: bool = False) -> float | None:
    """A JSON number in least..most; with `text_too` also one written as text. None for all else."""
    if text_too and isinstance(value, str) and len(value) < 20:
        try:
            value = float(value)
        except ValueError:
            return None
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if least <= value <= most else None


def direction(value: object, *, text_too: bool = False) -> float | None:
    """Degrees [0, 360) of a JSON number; None when it is none."""
    degrees = number(value, 360.0, text_too=text_too)
    return None if degrees is None else wrap360(degrees)


def instant(value: object) -> datetime | None:
    """An ISO time with its zone as UTC; None when it is something else."""
    try:
        at = datetime.fromisoformat(value) if isinstance(value, str) else None
        return at.astimezone(UTC) if at is not None and at.tzinfo is not None else None
    except (ValueError, OverflowError):
        return None


def utc_instant(value: object) -> datetime | None:
    """An ISO time without zone, told to be UTC; one with a zone is brought to UTC."""
    try:
        at = datetime.fromisoformat(value) if isinstance(value, str) else None
        return at if at is None else at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)
    except (ValueError, OverflowError):
        return None


def next_poll_at(reply: Reply, received_at: datetime, at_least: timedelta) -> datetime:
    """When the service may be asked again: at `Expires` (told by its own clock) or after `Retry-After` seconds.

    Never sooner than `at_least`, never later than LATEST, unless `at_least` is.
    """
    begins = _http_date(reply.headers.get("date")) or received_at
    expires = _http_date(reply.headers.get("expires")) or begins
    retry_after = reply.headers.get("retry-after", "")
    asked = timedelta(seconds=int(retry_after)) if retry_after.isdecimal() and len(retry_after) < 7 else at_least
    return received_at + max(at_least, min(max(expires - begins, asked), LATEST))


def _http_date(value: str | None) -> datetime | None:
    try:
        date = parsedate_to_datetime(value) if value is not None else None
        return date.astimezone(UTC) if date is not None and date.tzinfo is not None else None
    except (ValueError, TypeError, IndexError, OverflowError):
        return None


def _fault(status: int, body: str) -> str:
    match status:
        case 403:
            return "refused (403): the service wants a contact in the settings and keeps out who calls too often"
        case 429:
            return "called too often (429)"
        case 404 | 400 | 422:
            try:
                said = _said(json.loads(body))
            except (ValueError, RecursionError):
                said = ""
            return f"the service knows no such place or address ({status})" + (f": {said}" if said else "")
        case _ if status >= 500:
            return f"the service itself has failed ({status})"
    return f"the service answered {status}"


def _said(value: object) -> str:
    """What an error object says, wherever services put it."""
    match value:
        case {"error": {"message": str(text)}} | {"reason": str(text)} | {"detail": str(text)}:
            return text[:100]
        case {"error": error} if error is not True:
            return str(error)[:100]
    return ""
