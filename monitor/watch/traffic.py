"""Who is near: the table of ships heard, checked fix against fix."""

from __future__ import annotations

import math
from dataclasses import fields, replace
from datetime import datetime, timedelta
from typing import Final

from monitor.base.frames import LocalMap, wrap180
from monitor.base.moved import moved
from monitor.base.units import m_s
from monitor.records.observations import Refusal, Refused, ShipFix, ShipParticulars
from monitor.watch.tracks import STALE_S, Target, Track, target_of

MOST_SHIPS: Final = 2500  # above it the farthest are let go
MOST_PARTICULARS: Final = 20_000
MOST_TARGETS: Final = 120  # worked out at a time: beyond it those who can be here first, and those known longest
WATCHED_M: Final = 40_000.0  # farther than any ship comes in half an hour (40 kn: 37 km)
FORGOTTEN_S: Final = 3600.0
AHEAD_OF_US: Final = timedelta(seconds=30)  # a fix dated later than this after its arrival has a wrong time

# Without a stamp only the second of a report is known. Much of what a stalled network brings in one gush is dated
# ahead, by up to half a minute: seen when what comes after it is older by more than stations shuffle (ours).
SHUFFLED_S: Final = 12.0
SET_BACK: Final = timedelta(seconds=60)  # a fix received this long before the last one: our own clock was set back

# A jump (reference/feeds A4): the way between two fixes asks for more than twice the reported speed and more than
# 10 kn above it. GNSS noise and odd seconds are allowed for by SLACK_M.
JUMP_OVER_M_S: Final = m_s(10.0)
SLACK_M: Final = 60.0
UNTOLD_SPEED_M_S: Final = m_s(25.0)  # taken when neither fix tells a speed (ours)
CONFIRMATIONS: Final = 2
_ADRIFT_M_S: Final = 0.5
_SILENT_S: Final = 400.0  # one of several places is dropped after this (slow reports come every 3 min)
_MOST_PLACES: Final = 3


class Traffic:
    """Tracks by MMSI in the plane round the berth, oldest knowledge dropped by the `now` it is given.

    A fix that jumps is refused and begins a second place for that MMSI. When two more fixes bear it out it is
    accepted: if the first place has been silent since, the ship has moved there; if both go on, two ships send one
    MMSI and both are targets, marked `twin`. So a ghost never hides a ship. A fix older than the last one is
    refused, not sorted in: with a newer one at hand it would tell nothing. (But see SHUFFLED_S.)

    Above MOST_SHIPS tracks a tenth is let go: first those heard once or twice, then the farthest, never those
    known longest, so that a flood of ghosts pushes out no ship that was there before it. Particulars outlive
    tracks, the longest unheard of MOST_PARTICULARS going first.
    """

    __slots__ = (
        "_chart", "_east_m_deg", "_lost_after_s", "_north_m_deg", "_own_mmsi", "_particulars", "_ships", "left_out"
    )  # fmt: skip

    def __init__(self, berth: LocalMap, own_mmsi: int, lost_after_s: float) -> None:
        self._chart = berth
        self._own_mmsi = own_mmsi
        self._lost_after_s = lost_after_s
        self._ships: dict[int, list[Track]] = {}
        self.left_out = 0  # ships near by for which there was no room, when last asked for targets
        self._particulars: dict[int, ShipParticulars] = {}
        # Metres of a degree at the berth: exact enough to tell a jump, and cheap.
        north_m, east_m = berth.to_plane(berth.latitude_deg + 0.01, berth.longitude_deg + 0.01)
        self._north_m_deg, self._east_m_deg = 100.0 * north_m, 100.0 * east_m

    def take(self, observation: ShipFix | ShipParticulars) -> Refused | None:
        """Add a fix or particulars; returns why when it was refused.

        Reasons: OWN_SHIP, DUPLICATE (same second and place), OUT_OF_ORDER, JUMP, OUT_OF_RANGE (from the future).
        """
        if type(observation) is ShipParticulars:
            return self._learn(observation)
        assert type(observation) is ShipFix
        fix = observation
        places = self._ships.get(fix.mmsi)
        if places is not None and len(places) == 1 and fix.observed_at <= fix.received_at:
            track = places[0]
            elapsed_s = (fix.observed_at - track.last.observed_at).total_seconds()
            if elapsed_s > 0.0 and self._in_reach(track.last, fix, elapsed_s):
                track.add(fix, elapsed_s)
                return None
        return self._doubt(fix, places)

    def _in_reach(self, last: ShipFix, fix: ShipFix, elapsed_s: float) -> bool:
        """Whether a ship can have gone from one fix to the other in `elapsed_s` ≥ 0."""
        north_m = (fix.latitude_deg - last.latitude_deg) * self._north_m_deg
        east_m = (fix.longitude_deg - last.longitude_deg) * self._east_m_deg
        before_m_s, after_m_s = last.sog_m_s, fix.sog_m_s
        if before_m_s is None or after_m_s is None:
            told = [speed_m_s for speed_m_s in (before_m_s, after_m_s) if speed_m_s is not None]
            speed_m_s = max(told, default=UNTOLD_SPEED_M_S)
        else:
            speed_m_s = before_m_s if before_m_s > after_m_s else after_m_s
        over_m_s = speed_m_s if speed_m_s > JUMP_OVER_M_S else JUMP_OVER_M_S
        reach_m = (speed_m_s + over_m_s) * elapsed_s + SLACK_M
        return north_m * north_m + east_m * east_m <= reach_m * reach_m

    def _doubt(self, fix: ShipFix, places: list[Track] | None) -> Refused | None:
        """All that is not the next fix of a known ship."""
        if fix.mmsi == self._own_mmsi:
            return _refused(Refusal.OWN_SHIP, fix)
        if fix.observed_at - fix.received_at > AHEAD_OF_US:
            return _refused(Refusal.OUT_OF_RANGE, fix, "dated in the future")
        if places is None:
            self._ships[fix.mmsi] = [Track(fix)]
            if len(self._ships) > MOST_SHIPS:
                self._let_go(fix.received_at)
            return None
        if places[0].last.received_at - fix.received_at > SET_BACK:  # what we hold is misdated
            self._ships[fix.mmsi] = [Track(fix)]
            return None
        if any(track.holds(fix) for track in places):
            return _refused(Refusal.DUPLICATE, fix)
        for track in places:
            elapsed_s = (fix.observed_at - track.last.observed_at).total_seconds()
            if not self._in_reach(track.last, self._near(track.last, fix), abs(elapsed_s)):
                continue
            if elapsed_s < -SHUFFLED_S and track.last.observed_at > track.last.received_at:
                track.take_back(fix)
                return None
            if elapsed_s <= 0.0:
                return _refused(Refusal.OUT_OF_ORDER, fix)
            track.add(fix, elapsed_s)
            return self._settle(places, track, fix)
        places.append(Track(fix))
        if len(places) > _MOST_PLACES:
            del places[1]
        return _refused(Refusal.JUMP, fix)

    def _near(self, last: ShipFix, fix: ShipFix) -> ShipFix:
        """The same fix with its longitude on the same turn of the globe as the last one's."""
        longitude_deg = last.longitude_deg + wrap180(fix.longitude_deg - last.longitude_deg)
        return fix if longitude_deg == fix.longitude_deg else fix._replace(longitude_deg=longitude_deg)

    def _settle(self, places: list[Track], track: Track, fix: ShipFix) -> Refused | None:
        """What a further fix at one of several places means."""
        if track is not places[0] and not _confirmed(track):
            return _refused(Refusal.JUMP, fix, "not borne out yet")
        # She has moved when the other places fell silent before this one began.
        places[:] = [
            other
            for other in places
            if other is track
            or (other.last.observed_at > track.first_at and _age_s(other, fix.observed_at) < _SILENT_S)
        ]
        return None

    def _learn(self, told: ShipParticulars) -> Refused | None:
        """Merge static data: what a message leaves out does not wipe out what is known."""
        if told.mmsi == self._own_mmsi:
            return Refused(Refusal.OWN_SHIP, told.source, told.received_at)
        known = self._particulars.pop(told.mmsi, None)  # put back at the end: longest unheard first
        if known is not None:
            blanks = {f.name: getattr(known, f.name) for f in fields(told) if getattr(told, f.name) is None}
            if told.length_m is not None:  # a size goes with its own antenna place, or with none
                blanks.pop("to_bow_m", None)
                blanks.pop("to_port_m", None)
            told = replace(told, **blanks)
        self._particulars[told.mmsi] = told
        if len(self._particulars) > MOST_PARTICULARS:
            del self._particulars[next(iter(self._particulars))]
        return None

    def clock_set(self, by: timedelta) -> None:
        """Our clock was set, forward when `by` is positive: what is held keeps its age."""
        for places in self._ships.values():
            for track in places:
                track.clock_set(by)
        self._particulars = moved(self._particulars, by)

    def name(self, mmsi: int) -> str:
        """Of a ship, as she told it; "" when she has not."""
        known = self._particulars.get(mmsi)
        return (known.name if known else None) or ""

    def targets(self, now: datetime, within_m: float = WATCHED_M, most: int = MOST_SHIPS) -> tuple[Target, ...]:
        """Ships heard lately and within a distance of the berth, where they are at `now`; of more than `most` the
        foremost (`left_out` then says how many under way are not among them: a harbour may be full of
        ships that lie still)."""
        self._forget(now)
        live: list[tuple[int, Track, bool]] = []
        for mmsi, places in self._ships.items():
            here = [track for track in places if self._live(places, track, now)]
            live += [(mmsi, track, len(here) > 1) for track in here if self._off_m(track.last) <= within_m]
        under_way = sum(_under_way(track) for _, track, _ in live)
        if len(live) > most:
            live = self._foremost(live, most)
        if most < MOST_SHIPS:  # else somebody looks who has no seats to give
            self.left_out = under_way - sum(_under_way(track) for _, track, _ in live)
        return tuple(
            target_of(track, self._particulars.get(mmsi), self._chart, now, twin=twin)
            for mmsi, track, twin in live
        )

    def _foremost(self, live: list[tuple[int, Track, bool]], most: int) -> list[tuple[int, Track, bool]]:
        """Half the seats for those who can be here first, borne out by more than one fix; half for those known
        longest of the ones under way."""

        def reach_s(one: tuple[int, Track, bool]) -> tuple[bool, float]:
            fix = one[1].last
            return not _confirmed(one[1]), self._off_m(fix) / max(fix.sog_m_s or 0.0, _ADRIFT_M_S)

        first = sorted(live, key=reach_s)[: most // 2]
        seated = set(map(id, (track for _, track, _ in first)))
        rest = [one for one in live if id(one[1]) not in seated]
        rest.sort(key=lambda one: (not _under_way(one[1]), one[1].first_at))
        return first + rest[: most - len(first)]

    def lost(self, now: datetime) -> frozenset[int]:
        """MMSI of the ships that fell silent within the last hour."""
        self._forget(now)
        return frozenset(
            mmsi
            for mmsi, places in self._ships.items()
            if not any(self._live(places, track, now) for track in places)
        )

    def silent(self, now: datetime) -> frozenset[int]:
        """MMSI of the ships unheard for STALE_S, lost or not."""
        return frozenset(
            mmsi for mmsi, places in self._ships.items() if all(_age_s(t, now) > STALE_S for t in places)
        )

    def _live(self, places: list[Track], track: Track, now: datetime) -> bool:
        known = track is places[0] or _confirmed(track)
        return known and _age_s(track, now) <= track.lost_after_s(self._lost_after_s)

    def _off_m(self, fix: ShipFix) -> float:
        """Distance of a fix from the berth, roughly."""
        return math.hypot(
            (fix.latitude_deg - self._chart.latitude_deg) * self._north_m_deg,
            wrap180(fix.longitude_deg - self._chart.longitude_deg) * self._east_m_deg,
        )

    def _forget(self, now: datetime) -> None:
        gone = [mmsi for mmsi, places in self._ships.items() if all(_age_s(t, now) > FORGOTTEN_S for t in places)]
        for mmsi in gone:
            del self._ships[mmsi]

    def _let_go(self, now: datetime) -> None:
        """Too many ships: drop the silent, then the farthest, down to nine tenths (so it is done seldom)."""
        self._forget(now)

        def rank(mmsi: int) -> tuple[bool, float]:
            track = self._ships[mmsi][0]
            return not _confirmed(track), self._off_m(track.last)

        longest_known = sorted(self._ships, key=lambda mmsi: self._ships[mmsi][0].first_at)
        elder, others = longest_known[: MOST_SHIPS // 10], longest_known[MOST_SHIPS // 10 :]
        for mmsi in sorted(others, key=rank)[MOST_SHIPS * 9 // 10 - len(elder) :]:
            del self._ships[mmsi]


def _under_way(track: Track) -> bool:
    return (track.last.sog_m_s or 0.0) >= _ADRIFT_M_S


def _confirmed(track: Track) -> bool:
    return track.count > CONFIRMATIONS


def _age_s(track: Track, now: datetime) -> float:
    return (now - track.last.observed_at).total_seconds()


def _refused(reason: Refusal, fix: ShipFix, detail: str = "") -> Refused:
    return Refused(reason, fix.source, fix.received_at, detail)
