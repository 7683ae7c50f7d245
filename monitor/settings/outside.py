"""What the watch listens to, and what it tells besides the screen."""

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


class DeadMan(Strict):
    """A sign of life outside the program, so that somebody notices when the whole PC dies."""

    file: Text  # rewritten in the data folder
    every: Seconds
    ping: Text | None = (
        None  # a web address called as often; when the calls cease, who is behind it raises the alarm
    )


class Channel(Strict):
    """A way to reach people. Its address holds secrets: it stands in addresses.toml of the data folder."""

    name: Name
    tells: Literal["caution", "warning", "alarm"]  # this priority and above
    at_most_an_hour: Annotated[int, number(1, 1000, whole=True)]  # alarms always go
    unacknowledged_for: Seconds | None = None  # only when nobody has acknowledged for so long; None: at once


class BridgeAlerts(Strict):
    """Alert sentences to a bridge alert management system, on a wire of their own."""

    to: Text  # a serial port, or socket://127.0.0.1:port
    talker: Name
    maker: Name
