"""Signal K deltas (open standard, signalk.org): wind, heading, air, tide, stream and time of own ship.

All values are SI, angles radians. Apparent angles are off the bow, port negative. Alongside the ship is still,
so the apparent wind is the wind; a "true" wind is worked out by some instrument and counts only from a source
that sends no apparent one (see `wind`). What other vessels' contexts say is not ours. A delta may tell speed and
angle in separate pieces: an angle is good for a speed of the same source within PAIRED.
"""

from __future__ import annotations

import json
import math
from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any, Final

from monitor.base.frames import wrap360
from monitor.intake.met.reading import instant, number
from monitor.intake.ships import ACCEPTED, Counts
from monitor.intake.wind import FASTEST_M_S, RELATIVE_WITHIN
from monitor.records.observations import (
    AirReading,
    ClockReading,
    HeadingReading,
    Observation,
    Refusal,
    Refused,
    WaterReading,
    WindKind,
    WindReading,
)

PAIRED: Final = timedelta(seconds=3)
SUBSCRIBED: Final = (
    "environment.wind.*",
    "environment.outside.*",
    "environment.tide.heightNow",
    "environment.current",
    "navigation.headingTrue",
    "navigation.datetime",
)
_LONG_AGO: Final = datetime(1970, 1, 1, tzinfo=UTC)
_SPEEDS: Final = {  # path of a speed → path of its angle, whether that is off the bow, whether it is apparent
    "environment.wind.speedApparent": ("environment.wind.angleApparent", True, True),
    "environment.wind.speedTrue": ("environment.wind.angleTrueWater", True, False),
    "environment.wind.speedOverGround": ("environment.wind.directionTrue", False, False),
}
_ANGLES: Final = frozenset(angle for angle, _, _ in _SPEEDS.values())
_AIR: Final = {
    "environment.outside.temperature": ("temperature_k", 210.0, 335.0),
    "environment.outside.pressure": ("pressure_pa", 85e3, 110e3),
    "environment.outside.relativeHumidity": ("humidity", 0.0, 1.0),
    "environment.outside.humidity": ("humidity", 0.0, 1.0),  # as it was named before
}


def subscription() -> str:
    """What to tell the server after it has said hello: own ship's paths, once a second at most."""
    paths = [{"path": path, "period": 1000, "policy": "instant", "minPeriod": 500} for path in SUBSCRIBED]
    return json.dumps({"context": "vessels.self", "subscribe": paths})


class SignalKParser:
    """Messages of a Signal K stream in, observations out; `counts` as in ShipParser, one for each message."""

    def __init__(self, counts: Counts | None = None) -> None:
        self.counts: Counts = defaultdict(Counter) if counts is None else counts
        self._self: dict[str, str] = {}  # by feed: own vessel's context, from the server's hello
        self._angles: dict[tuple[str, str, str], tuple[datetime, float]] = {}
        self._apparent_at: dict[tuple[str, str], datetime] = {}

    def feed(self, text: str, source: str, received_at: datetime) -> list[Observation]:
        """What one message says, or why it says nothing to us. Never raises."""
        try:
            message = json.loads(text)
        except (ValueError, RecursionError):
            return self._refuse(Refusal.BROKEN, source, received_at)
        match message:
            case {"self": str(own), "version": _}:
                self._self[source] = own.removeprefix("vessels.")
                return self._refuse(Refusal.NOT_FOR_US, source, received_at)
            case {"updates": list(updates)}:
                context = str(message.get("context", "vessels.self")).removeprefix("vessels.")
            case _:
                return self._refuse(Refusal.BROKEN, source, received_at)
        if context not in ("self", self._self.get(source, "self")):
            return self._refuse(Refusal.NOT_A_SHIP if not context else Refusal.NOT_FOR_US, source, received_at)
        found = [o for update in updates for o in self._update(update, source, received_at)]
        if not found:
            return self._refuse(Refusal.NOT_FOR_US, source, received_at)
        self.counts[source][ACCEPTED] += 1
        return found

    def _refuse(self, reason: Refusal, source: str, received_at: datetime) -> list[Observation]:
        self.counts[source][reason] += 1
        return [Refused(reason, source, received_at)]

    def _update(self, update: object, source: str, received_at: datetime) -> Iterator[Observation]:
        match update:
            case {"values": list(rows), **rest}:
                at = instant(rest.get("timestamp")) or received_at
                label = str(rest.get("$source", rest.get("source", "")))[:200]
            case _:
                return
        values: dict[str, Any] = {}
        for row in rows:
            match row:
                case {"path": str(path), "value": value}:
                    values[path] = value
        for path in _ANGLES & values.keys():
            angle_rad = number(values[path], 2 * math.pi, least=-2 * math.pi)
            if angle_rad is not None:
                self._angles[source, label, path] = at, wrap360(math.degrees(angle_rad))
        yield from self._wind(values, label, at, received_at, source)
        yield from _rest(values, at, received_at, source)

    def _wind(
        self, values: dict[str, Any], label: str, at: datetime, received_at: datetime, source: str
    ) -> Iterator[WindReading]:
        for path, (angle_path, off_bow, apparent) in _SPEEDS.items():
            speed_m_s = number(values.get(path), FASTEST_M_S)
            if speed_m_s is None:
                continue
            if apparent:
                self._apparent_at[source, label] = received_at
            elif received_at - self._apparent_at.get((source, label), _LONG_AGO) < RELATIVE_WITHIN:
                continue
            angle_at, angle_deg = self._angles.get((source, label, angle_path), (_LONG_AGO, 0.0))
            told_deg = angle_deg if abs(at - angle_at) <= PAIRED else None
            yield WindReading(
                at,
                received_at,
                source,
                WindKind.MEASURED,
                speed_m_s,
                from_direction_deg=None if off_bow else told_deg,
                off_bow_deg=told_deg if off_bow else None,
            )


def _rest(values: dict[str, Any], at: datetime, received_at: datetime, source: str) -> Iterator[Observation]:
    heading_rad = number(values.get("navigation.headingTrue"), 2 * math.pi)
    if heading_rad is not None:
        yield HeadingReading(wrap360(math.degrees(heading_rad)), received_at, source)
    air = {
        name: read
        for path, (name, least, most) in _AIR.items()
        if (read := number(values.get(path), most, least=least)) is not None
    }
    if air:
        yield AirReading(received_at, source, **air)
    height_m = number(values.get("environment.tide.heightNow"), 30.0, least=-15.0)
    drift_m_s = set_rad = None
    match values.get("environment.current"):
        case {"drift": drift, "setTrue": towards}:
            drift_m_s, set_rad = number(drift, 10.0), number(towards, 2 * math.pi, least=-math.pi)
    if drift_m_s is not None and set_rad is not None:
        yield WaterReading(at, received_at, source, height_m, drift_m_s, wrap360(math.degrees(set_rad)))
    elif height_m is not None:
        yield WaterReading(at, received_at, source, height_m)
    utc = instant(values.get("navigation.datetime"))
    if utc is not None:
        yield ClockReading(utc, received_at, source)
