"""One ship's track: from the fixes she sent to where her hull is now and how she moves."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise, takewhile
from typing import Final

from monitor.base.frames import LocalMap, from_axes, wrap180, wrap360
from monitor.base.moved import OWN_TIME, moved
from monitor.base.units import m_s
from monitor.records.observations import ShipFix, ShipParticulars

AT_REST_M_S: Final = m_s(0.5)  # below this the course over ground is noise and we take her to lie still (ours)
STEERS_M_S: Final = m_s(1.0)  # above this a ship without a heading is taken to point along her course (ours)
STALE_S: Final = 60.0  # 93 to 98 % of the received gaps of ships under way lie below it (recorded AIS)
SLOW_REPORTS_S: Final = 400.0  # ships that lie still report every 3 min (ITU-R M.1371-5): lost after two in a row
POSITION_SD_M: Final = 8.0  # GNSS aboard and rounding of the message (ours)
SPEED_DRIFT_M_S: Final = 0.3  # by which a ship's speed may have changed since her last fix (ours)
COURSE_DRIFT: Final = 0.05  # by which she may have left her course since, as a share of the distance run (ours)
CREEP_M: Final = 25.0  # a hull that has shifted by this much no longer lies where she lay (three times GNSS noise)

_HISTORY: Final = 48
_KEPT_EVERY_S: Final = 8.0
_TURN_WINDOWS_S: Final = (45.0, 150.0)  # the second where reports are thin
_TREND_WINDOW_S: Final = 240.0
_REST_WINDOW_S: Final = 1200.0
# A ship that tells no speed all the while and yet makes good this much: more than GNSS wanders alongside (ours).
_STUCK_FOR_S: Final = 30.0
_STUCK_M_S: Final = 1.5


@dataclass(frozen=True, slots=True)
class Target:
    """A ship as she is expected to be at the asked moment.

    `north_m`, `east_m`: her midships from the berth's reference position, dead-reckoned from the last fix.
    `cog_deg`, `sog_m_s`: over ground. `heading_deg`: reported, or her course when she steers without telling it.
    `turn_deg_min`: positive to starboard. `acceleration_m_s2`: along her course. `position_sd_m`: any direction,
    one standard deviation; `along_sd_m`: more of it along her own axis, when the antenna's place is unknown.
    `rest_age_s`: how long ago she was last seen lying still (None: not in the kept history, at most 20 min);
    `crept_m`: how far she is from where she lay then. `twin`: two ships send this MMSI.
    """

    mmsi: int
    name: str
    ship_type: int | None
    north_m: float
    east_m: float
    sog_m_s: float | None
    cog_deg: float | None
    heading_deg: float | None
    heading_assumed: bool
    turn_deg_min: float | None
    acceleration_m_s2: float | None
    fix_age_s: float
    position_sd_m: float
    along_sd_m: float
    rest_age_s: float | None
    crept_m: float
    particulars: ShipParticulars | None
    class_a: bool
    stale: bool
    twin: bool = False
    heard_for_s: float = math.inf  # since the first of her fixes

    @property
    def at_rest(self) -> bool:
        """She lies still: no way on her and not shifted from where she lay."""
        return (self.sog_m_s or 0.0) < AT_REST_M_S and self.crept_m < CREEP_M


@dataclass(frozen=True, slots=True)
class Motion:
    """How she moves at her last fix, from it and the ones before."""

    sog_m_s: float | None
    cog_deg: float | None
    heading_deg: float | None
    heading_assumed: bool
    turn_deg_min: float | None
    acceleration_m_s2: float | None
    rest_at: datetime | None
    crept_m: float


class Track:
    """The last fix of a ship and a thinned history of those before it (one in 8 s, at most 48)."""

    __slots__ = ("_history", "_motion", "_since_kept_s", "count", "first_at", "last")

    def __init__(self, fix: ShipFix) -> None:
        self.last = fix
        self.first_at = fix.observed_at
        self.count = 1
        self._history: deque[ShipFix] = deque(maxlen=_HISTORY)
        self._since_kept_s = math.inf
        self._motion: Motion | None = None

    def add(self, fix: ShipFix, elapsed_s: float) -> None:
        """Take the next fix, `elapsed_s` > 0 after the last. On the hot path: nothing is computed here."""
        self._since_kept_s += elapsed_s
        if self._since_kept_s >= _KEPT_EVERY_S:
            self._history.append(self.last)
            self._since_kept_s = 0.0
        self.last = fix
        self.count += 1
        self._motion = None

    def take_back(self, fix: ShipFix) -> None:
        """The last fix was dated too late: this one, heard after it, takes its place."""
        self._history = deque((kept for kept in self._history if kept.observed_at < fix.observed_at), _HISTORY)
        self.last = fix
        self._motion = None

    def clock_set(self, by: timedelta) -> None:
        """Our clock was set: bring what it stamped to the new time. A time of the source's own stands."""
        self.first_at += by
        self.last, *kept = (_restamped(fix, by) for fix in (self.last, *self._history))
        self._history = deque(kept, _HISTORY)
        self._motion = None

    def holds(self, fix: ShipFix) -> bool:
        """True when the same report (same second, same place) is already here."""
        return _same(self.last, fix) or any(_same(kept, fix) for kept in self._history)

    def lost_after_s(self, lost_after_s: float) -> float:
        """How long this ship may be silent: those that lie still report only every 3 min."""
        return max(lost_after_s, SLOW_REPORTS_S) if (self.last.sog_m_s or 0.0) <= m_s(3.0) else lost_after_s

    def motion(self, chart: LocalMap) -> Motion:
        """How she moves, worked out once per fix."""
        if self._motion is None:
            self._motion = _motion([*self._history, self.last], chart)
        return self._motion


def _restamped(fix: ShipFix, by: timedelta) -> ShipFix:
    if abs(fix.observed_at - fix.received_at) < OWN_TIME:
        return moved(fix, by)
    return fix._replace(received_at=fix.received_at + by)


def _same(one: ShipFix, other: ShipFix) -> bool:
    return (
        one.observed_at == other.observed_at
        and one.latitude_deg == other.latitude_deg
        and one.longitude_deg == other.longitude_deg
    )


def _motion(fixes: list[ShipFix], chart: LocalMap) -> Motion:
    last = fixes[-1]
    ages_s = [(last.observed_at - fix.observed_at).total_seconds() for fix in fixes]
    rests = [fix for fix, age_s in zip(fixes, ages_s, strict=True) if _rests(fix) and age_s <= _REST_WINDOW_S]
    sog_m_s, cog_deg = last.sog_m_s, last.cog_deg
    if sog_m_s is None or cog_deg is None:
        if (made := _made_good(fixes, chart, 10.0)) is not None:
            sog_m_s = made[0] if sog_m_s is None else sog_m_s
            cog_deg = made[1] if cog_deg is None else cog_deg
    elif _rests(last):  # a log that stands at nothing hides no ship that comes
        since_way = list(takewhile(_rests, reversed(fixes)))[::-1]
        made = _made_good(since_way, chart, _STUCK_FOR_S)
        if made is not None and made[0] >= _STUCK_M_S:
            rests, (sog_m_s, cog_deg) = [], made
    steers = (sog_m_s or 0.0) > STEERS_M_S
    if cog_deg is None and steers:
        cog_deg = last.heading_deg
    heading_deg = last.heading_deg
    if heading_deg is None and steers:
        heading_deg = cog_deg
    turn_deg_min = last.turn_deg_min
    return Motion(
        sog_m_s,
        cog_deg,
        heading_deg,
        heading_assumed=last.heading_deg is None,
        turn_deg_min=_turn_deg_min(fixes, ages_s) if turn_deg_min is None else turn_deg_min,
        acceleration_m_s2=_acceleration_m_s2(fixes, ages_s),
        rest_at=rests[-1].observed_at if rests else None,
        crept_m=math.hypot(*_shift(chart, rests[0], last)) if rests else 0.0,
    )


def _rests(fix: ShipFix) -> bool:
    """Whether she tells that she makes no way."""
    return fix.sog_m_s is not None and fix.sog_m_s < AT_REST_M_S


def _made_good(fixes: list[ShipFix], chart: LocalMap, least_s: float) -> tuple[float, float | None] | None:
    """Speed, m/s, and course, degrees, from places alone, since the latest fix at least so long before the last;
    no course where she has hardly moved, None without such a fix in four minutes."""
    last = fixes[-1]
    for fix in reversed(fixes):
        age_s = (last.observed_at - fix.observed_at).total_seconds()
        if age_s > _TREND_WINDOW_S:
            return None
        if age_s >= least_s:
            north_m, east_m = _shift(chart, fix, last)
            run_m = math.hypot(north_m, east_m)
            moved = run_m > 3.0 * POSITION_SD_M
            return run_m / age_s, wrap360(math.degrees(math.atan2(east_m, north_m))) if moved else None
    return None


def _shift(chart: LocalMap, one: ShipFix, other: ShipFix) -> tuple[float, float]:
    """(north_m, east_m) from one antenna position to the other."""
    north_1, east_1 = chart.to_plane(one.latitude_deg, one.longitude_deg)
    north_2, east_2 = chart.to_plane(other.latitude_deg, other.longitude_deg)
    return north_2 - north_1, east_2 - east_1


def _turn_deg_min(fixes: list[ShipFix], ages_s: list[float]) -> float | None:
    """Rate of turn from the latest courses under way; None without two of them 15 s apart."""
    courses = [
        (-age_s, fix.cog_deg)
        for fix, age_s in zip(fixes, ages_s, strict=True)
        if age_s <= _TURN_WINDOWS_S[-1] and fix.cog_deg is not None and (fix.sog_m_s or 0.0) > 2.0 * STEERS_M_S
    ]
    for window_s in _TURN_WINDOWS_S:
        latest = [each for each in courses if -each[0] <= window_s]
        if latest and latest[-1][0] - latest[0][0] >= 15.0:
            unwrapped_deg = [0.0]
            for (_, before_deg), (_, after_deg) in pairwise(latest):
                unwrapped_deg.append(unwrapped_deg[-1] + wrap180(after_deg - before_deg))
            return 60.0 * _slope([at_s for at_s, _ in latest], unwrapped_deg)
    return None


def _acceleration_m_s2(fixes: list[ShipFix], ages_s: list[float]) -> float | None:
    """Trend of the speed over ground in the last four minutes; None without three fixes over 45 s."""
    speeds = [
        (-age_s, fix.sog_m_s)
        for fix, age_s in zip(fixes, ages_s, strict=True)
        if age_s <= _TREND_WINDOW_S and fix.sog_m_s is not None
    ]
    if len(speeds) < 3 or speeds[-1][0] - speeds[0][0] < 45.0:
        return None
    return _slope([at_s for at_s, _ in speeds], [speed_m_s for _, speed_m_s in speeds])


def _slope(x: list[float], y: list[float]) -> float:
    """Least-squares slope; x not all equal."""
    x_mean, y_mean = sum(x) / len(x), sum(y) / len(y)
    return sum((a - x_mean) * (b - y_mean) for a, b in zip(x, y, strict=True)) / sum((a - x_mean) ** 2 for a in x)


def target_of(
    track: Track, particulars: ShipParticulars | None, chart: LocalMap, now: datetime, twin: bool = False
) -> Target:
    """Where the ship of a track is at `now`, in the plane of `chart`, midships and not antenna.

    The antenna is moved by the reported dimensions along the heading. Not knowing the antenna's place adds a
    uniform spread over the length of the ship; not knowing the heading spreads the move all round.
    """
    fix, motion = track.last, track.motion(chart)
    north_m, east_m = chart.to_plane(fix.latitude_deg, fix.longitude_deg)
    age_s = (now - fix.observed_at).total_seconds()
    position_sd_m, along_sd_m = POSITION_SD_M, 0.0
    if motion.sog_m_s is not None and motion.cog_deg is not None and motion.sog_m_s >= AT_REST_M_S:
        run_north_m, run_east_m = from_axes(motion.sog_m_s * age_s, 0.0, motion.cog_deg)
        north_m, east_m = north_m + run_north_m, east_m + run_east_m
        drift_m = age_s * (SPEED_DRIFT_M_S + COURSE_DRIFT * motion.sog_m_s)
        position_sd_m = math.hypot(position_sd_m, drift_m)
    if particulars is not None and particulars.length_m is not None:
        length_m, to_bow_m, to_port_m = particulars.length_m, particulars.to_bow_m, particulars.to_port_m
        if to_bow_m is None:
            along_sd_m = length_m / math.sqrt(12.0)
        else:
            ahead_m = to_bow_m - 0.5 * length_m
            beam_m = particulars.beam_m
            starboard_m = 0.0 if beam_m is None or to_port_m is None else 0.5 * beam_m - to_port_m
            if motion.heading_deg is None:
                position_sd_m = math.hypot(position_sd_m, ahead_m / math.sqrt(2.0))
            else:
                shift_north_m, shift_east_m = from_axes(ahead_m, starboard_m, motion.heading_deg)
                north_m, east_m = north_m + shift_north_m, east_m + shift_east_m
    return Target(
        fix.mmsi,
        (particulars.name or "") if particulars is not None else "",
        particulars.ship_type if particulars is not None else None,
        north_m,
        east_m,
        motion.sog_m_s,
        motion.cog_deg,
        motion.heading_deg,
        motion.heading_assumed,
        motion.turn_deg_min,
        motion.acceleration_m_s2,
        age_s,
        position_sd_m,
        along_sd_m,
        None if motion.rest_at is None else (now - motion.rest_at).total_seconds(),
        motion.crept_m,
        particulars,
        fix.class_a,
        age_s > STALE_S,
        twin,
        (now - track.first_at).total_seconds(),
    )
