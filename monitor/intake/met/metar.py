"""METAR, the airports' hourly report (WMO-No. 306 FM 15), read by the optional package `metar`.

A reply is plain text: reports one below the other, each perhaps after a time of its own ("2022/03/02 23:53", as
the old text files have it, or an ISO time). A report names day, hour and minute only; its month and year are those
that bring it nearest to the time it came. Winds are means of two to ten minutes at 10 m; gusts of 3 s.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import Any, Final
from urllib.parse import quote
from warnings import catch_warnings, simplefilter

from monitor.intake.met import Reply
from monitor.intake.met.reading import (
    FASTEST_M_S,
    HEIGHT_M,
    NoData,
    Question,
    direction,
    good_body,
    headers,
    number,
    refused,
)
from monitor.records.observations import AirReading, Observation, Refusal, Refused, WindKind, WindReading

SOONEST: Final = timedelta(minutes=10)
OLDEST: Final = timedelta(days=14)
_MEAN_OF_S: Final = 120.0  # the shortest it may be: the gust is then raised least
_REPORT: Final = re.compile(r"(?:METAR |SPECI )?(?:COR )?[A-Z][A-Z0-9]{3} (\d{2})(\d{2})(\d{2})Z .*")


def request(question: Question) -> tuple[str, dict[str, str]]:
    """(web address, headers) of the next question; "{station}" in the address stands for the station."""
    address = question.address.replace("{station}", quote(question.station, safe=""))
    return address, headers(question, "text/plain")


def parse(reply: Reply, received_at: datetime, source: str) -> tuple[Observation, ...]:
    """Wind and air of the newest report, or why there is none."""
    if reply.status == 304:
        return (Refused(Refusal.DUPLICATE, source, received_at, "the report we hold is still the newest"),)
    try:
        reports = [found for line in good_body(reply).splitlines() if (found := _REPORT.search(line.strip()))]
        timed = [(at, found[0]) for found in reports if (at := _observed_at(found, received_at)) is not None]
        if not timed:
            raise NoData("no METAR in the reply")
        return _read(*max(timed), received_at, source)
    except NoData as why:
        return (refused(why, source, received_at),)


def _observed_at(found: re.Match[str], received_at: datetime) -> datetime | None:
    """The time nearest to its arrival that the day, hour and minute may mean; None when there is none near."""
    day, hour, minute = map(int, found.groups())
    near = []
    for month in (received_at.replace(day=1), received_at.replace(day=1) - timedelta(days=1)):
        try:
            near.append(datetime(month.year, month.month, day, hour, minute, tzinfo=UTC))
        except ValueError:
            continue
    before = [at for at in near if timedelta(hours=-1) <= received_at - at <= OLDEST]
    return max(before, default=None)


def _read(at: datetime, text: str, received_at: datetime, source: str) -> tuple[Observation, ...]:
    try:
        from metar.Metar import Metar, ParserError
    except ImportError:
        raise NoData("METAR needs the optional package: pip install bightwatch[metar]") from None
    try:
        with catch_warnings():  # it warns of each group it does not know
            simplefilter("ignore")
            report: Any = Metar(text, month=at.month, year=at.year, strict=False)
    except (ParserError, ValueError, TypeError, AttributeError, IndexError, OverflowError):
        raise NoData("a METAR that cannot be read") from None
    found: list[Observation] = []
    mean_m_s = _within(report.wind_speed, "MPS", 0.0, FASTEST_M_S)
    if mean_m_s is not None:
        comes_from = report.wind_dir
        found.append(
            WindReading(
                at,
                received_at,
                source,
                WindKind.REPORTED,
                mean_m_s,
                gust_m_s=_within(report.wind_gust, "MPS", 0.0, FASTEST_M_S),
                from_direction_deg=None if comes_from is None else direction(float(comes_from.value())),
                averaging_s=_MEAN_OF_S,
                height_m=HEIGHT_M,
            )
        )
    temperature_k = _within(report.temp, "K", 180.0, 335.0)
    pressure_hpa = _within(report.press, "HPA", 800.0, 1100.0)
    if temperature_k is not None or pressure_hpa is not None:
        found.append(
            AirReading(received_at, source, temperature_k, None if pressure_hpa is None else 100.0 * pressure_hpa)
        )
    return tuple(found) or (Refused(Refusal.NO_VALUE, source, received_at, "all its values are missing"),)


def _within(quantity: Any, unit: str, least: float, most: float) -> float | None:
    """A quantity of the package's in a unit; None when it is missing or cannot be."""
    return None if quantity is None else number(float(quantity.value(unit)), most, least=least)
