"""What the watch listens to."""

from __future__ import annotations

from typing import Annotated, Final, Literal

from monitor.settings.kinds import Name, Seconds, Strict, Text
from monitor.settings.quantity import number

Carries = Literal[
    "ais",
    "nmea",
    "signal k",
    "met norway",
    "open-meteo",
    "forecast table",
    "co-ops wind",
    "co-ops water level",
    "nws",
    "metar",
    "decoded ais csv",
]
FORECASTS: Final = ("met norway", "open-meteo", "forecast table")
STATIONS: Final = ("co-ops wind", "co-ops water level", "nws", "metar")


class Feed(Strict):
    """One input. `over` says how it comes; `to` where: "host:port", a device, a file or a web address."""

    name: Name
    carries: Carries
    over: Literal["tcp", "udp", "serial", "file", "http", "websocket"]
    to: Text
    stale_after: Seconds
    baud: Annotated[int, number(300, 921_600, whole=True)] | None = None  # serial only
    contact: Text | None = None  # met services ask who is calling: an address of yours
    every: Seconds | None = None  # polled services
    station: Name | None = None  # of a service that measures at stations, as the service names it
