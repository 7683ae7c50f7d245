"""Every met service we know, by what a feed of the stay carries."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from monitor.intake.met import Reply, coops, met_norway, metar, nws, open_meteo, table
from monitor.intake.met.reading import Question
from monitor.records.observations import Observation, Refused, WindForecast

_Parse = Callable[[Reply, datetime, str], WindForecast | Refused | tuple[Observation, ...]]


@dataclass(frozen=True, slots=True)
class Service:
    """How a service is asked (None: it only comes as a file), how its replies are read, how soon it may be
    asked.
    """

    request: Callable[[Question], tuple[str, dict[str, str]]] | None
    _parse: _Parse
    soonest: timedelta

    def parse(self, reply: Reply, received_at: datetime, source: str) -> tuple[Observation, ...]:
        """What a reply says, at least one; a single Refused when nothing."""
        said = self._parse(reply, received_at, source)
        return (said,) if isinstance(said, (WindForecast, Refused)) else said


SERVICES: Final[Mapping[str, Service]] = {
    "met norway": Service(met_norway.request, met_norway.parse, met_norway.SOONEST),
    "open-meteo": Service(open_meteo.request, open_meteo.parse, open_meteo.SOONEST),
    "co-ops wind": Service(coops.request_wind, coops.parse_wind, coops.SOONEST),
    "co-ops water level": Service(coops.request_water_level, coops.parse_water_level, coops.SOONEST),
    "nws": Service(nws.request, nws.parse, nws.SOONEST),
    "metar": Service(metar.request, metar.parse, metar.SOONEST),
    "forecast table": Service(None, table.parse, timedelta(0)),
}
