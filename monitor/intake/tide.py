"""The tide from harmonic constituents, as tide authorities publish them: amplitude and Greenwich phase lag of
each.

h(t) = h0 + Σ f(t) A cos(V(t) + u(t) − g): astronomical argument V and nodal corrections f and u by the optional
package `utide` (Codiga 2011, after Foreman 1977). Weather is not in it: a storm lifts or lowers the water by
decimetres, more in funnels. What comes out are high and low waters to be entered in a stay's file, so that a
replay knows them too.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from importlib import import_module
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

STEP: Final = timedelta(minutes=6)
LEAST_RANGE_M: Final = 0.02  # turns closer in height than this are no turns
FOOT_M: Final = 0.3048
# As CO-OPS calls them → as utide does.
_OTHER_NAMES: Final = {"RHO": "RHO1", "LAM2": "LDA2", "M1": "NO1", "2MK3": "MO3"}


class NoTide(ValueError):
    """The constituents cannot be used; the text says why."""


@dataclass(frozen=True, slots=True)
class Constituent:
    """One of them: its name (M2, S2, ...), amplitude and Greenwich phase lag."""

    name: str
    amplitude_m: float
    phase_deg: float


@dataclass(frozen=True, slots=True)
class Station:
    """A place's tide: mean level above chart datum, and its constituents."""

    name: str
    latitude_deg: float
    mean_above_datum_m: float
    constituents: tuple[Constituent, ...]


@dataclass(frozen=True, slots=True)
class Turn:
    """A high or low water."""

    at: datetime
    height_m: float
    high: bool


def coops_station(text: str) -> Station:
    """A station as the CO-OPS metadata service gives it (stations/ID.json, expanded with its constituents and
    datums).

    Its chart datum is mean lower low water. Raises NoTide when the text is something else.
    """
    try:
        station = json.loads(text)["stations"][0]
        harmonics, datums = station["harmonicConstituents"], station["datums"]
        level = {row["name"]: float(row["value"]) for row in datums["datums"]}
        found = tuple(
            Constituent(str(row["name"]), float(row["amplitude"]) * _metres(harmonics), float(row["phase_GMT"]))
            for row in harmonics["HarmonicConstituents"]
        )
        mean_m = (level["MSL"] - level["MLLW"]) * _metres(datums)
        return Station(str(station["name"]), float(station["lat"]), mean_m, found)
    except (ValueError, KeyError, IndexError, TypeError, RecursionError) as error:
        why = f"{error} is missing" if isinstance(error, KeyError) else str(error)
        raise NoTide(f"no station with harmonic constituents and datums: {why}") from None


def _metres(table: dict[str, Any]) -> float:
    return {"feet": FOOT_M, "meters": 1.0, "metres": 1.0}[table["units"]]


def heights_m(station: Station, at: Sequence[datetime]) -> NDArray[np.float64]:
    """Heights above chart datum (n,) at aware times. Raises NoTide without `utide` or for a name it does not
    know.
    """
    try:
        constants: Any = import_module("utide._ut_constants").ut_constants
        harmonics: Any = import_module("utide.harmonics")
    except ImportError:
        raise NoTide("tides need the optional package: pip install bightwatch[tide]") from None
    known = {str(name): i for i, name in enumerate(constants.const.name)}
    moving = [c for c in station.constituents if c.amplitude_m > 0.0]
    names = [_OTHER_NAMES.get(c.name, c.name) for c in moving]
    if missing := [name for name in names if name not in known]:
        raise NoTide(f"constituents not known: {', '.join(missing)}")
    rows = np.array([known[name] for name in names])
    epoch = datetime(1, 1, 1, tzinfo=UTC)
    days = np.array([(time - epoch) / timedelta(days=1) + 1.0 for time in at])  # utide counts from day 1 of year 1
    f, u, v = harmonics.FUV(days, days.mean(), rows, station.latitude_deg, [0, 0, 0, 0])
    amplitude_m = np.array([c.amplitude_m for c in moving])
    lag = np.array([c.phase_deg for c in moving]) / 360.0
    turned = np.cos(2 * np.pi * (v + u - lag))
    return np.asarray(station.mean_above_datum_m + (f * amplitude_m * turned).sum(axis=1))


def turns(station: Station, begins: datetime, ends: datetime) -> tuple[Turn, ...]:
    """High and low waters from before `begins` until after `ends`, alternating; times to the minute.

    A stand or a double tide of less than LEAST_RANGE_M is passed over.
    """
    margin = timedelta(hours=14)
    count = int((ends - begins + 2 * margin) / STEP) + 1
    times = [begins - margin + n * STEP for n in range(count)]
    height = heights_m(station, times)
    found: list[Turn] = []
    for i in range(1, count - 1):
        before, here, after = height[i - 1 : i + 2]
        if (here - before) * (after - here) > 0.0 or before == here:
            continue
        bend = before - 2 * here + after
        shift = 0.5 * (before - after) / bend if bend else 0.0  # top of the parabola through the three
        at = times[i] + shift * STEP
        minute = (at + timedelta(seconds=30)).replace(second=0, microsecond=0)
        turn = Turn(minute, round(float(here - 0.25 * (before - after) * shift), 2), bool(bend < 0.0))
        if found and abs(found[-1].height_m - turn.height_m) < LEAST_RANGE_M:
            found.pop()
            continue
        if found and found[-1].high == turn.high:
            found[-1] = max(found[-1], turn, key=lambda t: t.height_m if t.high else -t.height_m)
            continue
        found.append(turn)
    first = max((i for i, turn in enumerate(found) if turn.at <= begins), default=0)
    last = min((i for i, turn in enumerate(found) if turn.at >= ends), default=len(found) - 1)
    return tuple(found[first : last + 1])
