"""`python -m tests.soak [--days 7] [--hours H] [--seed S] [--tick 5]`: a busy berth in ordinary traffic.

How often do people get told something, and does the watch stay small? The invented berth, with traffic that is
lawful: some 65 passes a day (coasters, cargo ships, tankers, a big ship twice a day, a ferry, tugs, a pilot boat,
small craft). Three of four keep the port's limit of 8 kn all the way; the others come in 40 % faster and slow nine
minutes before they pass, so that their first notice is of a speed they will not keep. A neighbour leaves or comes
on most days; the wind changes, twice a week it blows; tides; an AIS line and an anemometer fail for some minutes.
Real ticks of five seconds, real parsers, journal and pipeline, one session without a break. Somebody acknowledges
two minutes after a warning; and when a harbour tug was the cause, says once that she tows nothing.

Ends with exit code 1 when a watch of four hours is over the rate we aim for (one alarm, three warnings; watches
with a blow or a failed feed in them are told apart, for there the warnings are the work), or memory grows.
Everything here is made up: no ship, person or port is meant.
"""

from __future__ import annotations

import argparse
import gc
import heapq
import random
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path
from time import process_time
from typing import Any, Final

from monitor.base.frames import LocalMap, to_axes
from monitor.intake.simulated import Day, Silence, events, script
from monitor.intake.simulated.tracks import Corner, Voyage
from monitor.intake.simulated.transponders import Ship
from monitor.intake.simulated.winds import WindScript
from monitor.records.events import (
    Action,
    AlertState,
    In,
    Notice,
    OperatorAction,
    Priority,
    Reason,
    SettingsSnapshot,
    Started,
    Stopped,
    Transition,
)
from monitor.run.journal import Entry, Journal
from monitor.run.session import Session
from monitor.settings.load import from_snapshot
from tests.bench.week import ticks_of, with_tides
from tests.conftest import ROOT

STAY: Final = "tavrin-lark-at-sedge-quay-2"
BEGINS_AT: Final = datetime(2026, 3, 15, tzinfo=UTC)
DAY_MIN: Final = 1440.0
WATCH: Final = timedelta(hours=4)
ANSWERED_AFTER: Final = timedelta(minutes=2)
MOST_ALARMS, MOST_WARNINGS = 1, 3  # in a watch of ordinary traffic
MOST_GROWTH: Final = 0.05  # of memory, from the end of the second day (or the second watch) on
SLOWING: Final = 0.25
HARBOUR_TUGS: Final = (200911043, 200911044, 200911061, 200911062, 200911063)
_HEADWAY_MIN: Final = 5.0  # between ships of any size in one lane
_BLOWS: Final = ((1.6, 27.0, 305.0), (4.9, 29.0, 240.0))  # day, knots, from: off the quay, then along it
_SOUNDS: Final = (Reason.RAISED, Reason.LEVEL_UP, Reason.TIME_TO_ACT)
_AGAIN: Final = (Reason.REPEATED, Reason.ESCALATED)

Sailing = tuple[Ship, Voyage]


# --- traffic -----------------------------------------------------------------------------------------------------


@dataclass
class River:
    """Who comes by, drawn day by day from one seed."""

    middle: Sequence[Corner]
    along_deg: float
    dice: random.Random
    _last: Iterator[int] = field(default_factory=lambda: count(100))

    def day(self, number: int) -> list[Sailing]:
        """All that sail on one day, in no order. Nobody is off the berth within half an hour of midnight."""
        dice, free = self.dice, {"up": [0.0], "down": [0.0]}
        sailings: list[Sailing] = []

        def passes(ship: Ship, way: str, off_m: float, knots: float, minute: float | None = None) -> None:
            at = self._minute(free[way], minute)
            slows = dice.random() < SLOWING
            sailings.append((ship, script._passing(self.middle, at, way, knots, off_m, slows=slows)))

        for _ in range(14):
            passes(*self._ship(dice.uniform(70, 120), (70, 70, 80)), dice.uniform(6.6, 8.0))
        for _ in range(16):
            passes(*self._ship(dice.uniform(120, 215), (70, 70, 79, 80)), dice.uniform(6.3, 7.6))
        for _ in range(2):
            passes(*self._ship(dice.uniform(250, 295), (70, 80)), dice.uniform(5.6, 6.2))
        ferry = script._ship(71, "LORRIM LINNET", 60, 54.0, 12.0, 2.6)
        for run in range(11):
            passes(ferry, ("up", "down")[run % 2], 215.0, dice.uniform(9.0, 9.8), 360.0 + 90.0 * run)
        for each in range(9):
            tug = script._ship(61 + each % 3, f"LORRIM WEASEL {each % 3}", 52, 29.0, 11.0, 4.7)
            passes(tug, *self._lane(), dice.uniform(7.0, 9.0), 40.0 + 150.0 * each + dice.uniform(0, 20))
        pilot = script._ship(75, "LORRIM PILOT", 50, 16.0, 5.0, 1.6)
        for run in range(4):
            passes(pilot, *self._lane(), dice.uniform(12.0, 16.0), 100.0 + 340.0 * run + dice.uniform(0, 60))
        for each in range(9):
            boat = script._ship(next(self._last), f"BOAT {each}", 37, dice.uniform(7, 13), 3.0, 0.0, class_a=False)
            way = dice.choice(("up", "down"))
            passes(boat, way, dice.uniform(60, 150), dice.uniform(5.0, 18.0), dice.uniform(420, 1200))
        if number % 3 == 1:
            sailings += (_later(each, 400.0) for each in script._neighbour_leaves(self.middle, self.along_deg))
        if number % 3 == 2:
            sailings.append(_later(script._stops_short(self.middle, self.along_deg), 450.0))
        return sailings

    def _ship(self, loa_m: float, types: Sequence[int]) -> tuple[Ship, str, float]:
        last = next(self._last)
        draught_m = min(11.2, self.dice.uniform(0.048, 0.062) * loa_m)
        ship = script._ship(
            last,
            f"INVENTED {last}",
            self.dice.choice(types),
            round(loa_m),
            round(loa_m / 6.3),
            round(draught_m, 1),
        )
        return ship, *self._lane()

    def _lane(self) -> tuple[str, float]:
        way = self.dice.choice(("up", "down"))
        return way, self.dice.uniform(*((240.0, 268.0) if way == "up" else (165.0, 182.0)))

    def _minute(self, taken: list[float], wished: float | None) -> float:
        """A minute of the day that keeps the headway in its lane; by day twice as likely as by night."""
        while True:
            minute = self.dice.uniform(30.0, DAY_MIN - 30.0)
            if not 330.0 < minute < 1290.0 and self.dice.random() < 0.5:
                continue
            minute = minute if wished is None else wished
            if all(abs(minute - other) >= _HEADWAY_MIN for other in taken):
                taken.append(minute)
                return minute
            wished = None if wished is None else wished + 1.0


def _later(sailing: Sailing, by_min: float) -> Sailing:
    """The same, so many minutes later."""
    ship, voyage = sailing
    status = (ship.status[0], *((minute + by_min, value) for minute, value in ship.status[1:]))
    return replace(ship, status=status), replace(
        voyage,
        speeds=tuple((minute + by_min, knots) for minute, knots in voyage.speeds),
        at_minute=voyage.at_minute + by_min,
        headings=tuple((minute + by_min, heading_deg) for minute, heading_deg in voyage.headings),
    )


def weather(days: int, dice: random.Random) -> tuple[tuple[float, float, float], ...]:
    """(minute, mean knots, from) over all days: 4 to 16 kn from anywhere, and the blows."""
    from_deg, course = 250.0, []
    for hour in range(0, 24 * days + 36, 3):
        from_deg += dice.gauss(0.0, 25.0)
        course.append((60.0 * hour, min(16.0, max(4.0, dice.gauss(10.0, 3.5))), from_deg))
    for at_day, knots, blow_deg in _BLOWS:
        begins = at_day * DAY_MIN
        course = [each for each in course if not begins - 120.0 < each[0] < begins + 420.0]
        course += [
            (begins, 0.8 * knots, blow_deg),
            (begins + 60.0, knots, blow_deg),
            (begins + 240.0, knots, blow_deg),
        ]
    return tuple(sorted(course))


def days(settings: SettingsSnapshot, number_of: int, seed: int) -> Iterator[Day]:
    """The days of the soak, as the simulated feeds want them."""
    whole = script.invented_day(from_snapshot(settings))
    berth = from_snapshot(settings).berth
    here = LocalMap(berth.position.latitude, berth.position.longitude)
    middle = [to_axes(*here.to_plane(at.latitude, at.longitude), berth.along) for at in berth.fairway.middle]
    dice = random.Random(seed)
    course = weather(number_of, dice)
    river = River(middle, berth.along, dice)
    own = whole.ships[0]
    dark = {
        2: Silence(whole.ais_feed, 700.0, 704.0, 0.0, "the connection was closed"),
        5: Silence(whole.wind_feed, 830.0, 833.0, 30.0, "nothing heard for 30 s"),
    }
    for number in range(number_of):
        yield replace(
            whole,
            begins_at=BEGINS_AT + number * timedelta(days=1),
            minutes=DAY_MIN,
            seed=seed + number,
            ships=(own, *river.day(number)),
            wind=WindScript(tuple((minute - DAY_MIN * number, *rest) for minute, *rest in course)),  # type: ignore[misc]
            silences=(dark[number],) if number in dark else (),
            actions=(),
        )


# --- the watch ---------------------------------------------------------------------------------------------------


@dataclass
class Watch:
    """What was told in four hours."""

    begins_at: datetime
    sounded: Counter[Priority] = field(default_factory=Counter)
    again: int = 0
    unusual: str = ""
    told: list[str] = field(default_factory=list)

    @property
    def over(self) -> bool:
        return self.sounded[Priority.ALARM] > MOST_ALARMS or self.sounded[Priority.WARNING] > MOST_WARNINGS


@dataclass
class Officer:
    """Acknowledges what sounds, two minutes later."""

    due: list[tuple[datetime, str]] = field(default_factory=list)

    def hears(self, change: Transition) -> None:
        if change.after in (AlertState.UNACKNOWLEDGED, AlertState.RECTIFIED):
            heapq.heappush(self.due, (change.at + ANSWERED_AFTER, change.alert))

    def acts(self, until: datetime) -> Iterator[tuple[datetime, OperatorAction]]:
        while self.due and self.due[0][0] <= until:
            at, alert = heapq.heappop(self.due)
            yield at, OperatorAction("OW", Action.ACKNOWLEDGE, alert)
            kind, _, mmsi = alert.partition(":")
            if kind == "passing" and int(mmsi) in HARBOUR_TUGS:
                yield at, OperatorAction("OW", Action.TOW, values=(("mmsi", float(mmsi)), ("tows", False)))


def run(hours: float, seed: int) -> Iterator[tuple[Watch, float, float]]:
    """(watch, MB resident, CPU seconds since the last) for every four hours."""
    number_of = max(1, -(-int(hours) // 24))
    with tempfile.TemporaryDirectory() as folder:
        settings = with_tides(ROOT / "config", STAY, Path(folder) / "config", timedelta(days=number_of + 1))
        ends_at = BEGINS_AT + timedelta(hours=hours)
        session, officer, watch, began_s = Session(), Officer(), Watch(BEGINS_AT), process_time()
        with Journal(Path(folder) / "watch.db") as journal:
            journal._db.execute("PRAGMA synchronous = OFF")

            def take(at: datetime, record: In) -> None:
                seq = journal.append(at, "in", record)
                for conclusion in session.handle(at, record):
                    journal.append(at, "out", conclusion)
                    if isinstance(conclusion, Transition):
                        _count(watch, conclusion)
                        officer.hears(conclusion)
                    elif isinstance(conclusion, Notice) and conclusion.priority is not Priority.CAUTION:
                        watch.told.append(
                            f"{at:%d %H:%M:%S} {conclusion.alert} {conclusion.reason.value}: {conclusion.what}"
                        )
                session.remember(Entry.of(seq, at, "in", record))

            for at, record in _inputs(settings, number_of, seed):
                if at >= watch.begins_at + WATCH or at >= ends_at:
                    yield watch, _resident_mb(), process_time() - began_s
                    if at >= ends_at:
                        return
                    watch, began_s = Watch(watch.begins_at + WATCH), process_time()
                for answered_at, answer in officer.acts(at):
                    take(answered_at, answer)
                if session.pipeline is not None:
                    watch.unusual = watch.unusual or _unusual(session)
                take(at, record)


def _inputs(settings: SettingsSnapshot, number_of: int, seed: int) -> Iterator[tuple[datetime, In]]:
    for number, day in enumerate(days(settings, number_of, seed)):
        for at, record in events(day, settings, "soak"):
            if not isinstance(record, Stopped) and not (number and isinstance(record, SettingsSnapshot | Started)):
                yield at, record


def _unusual(session: Session) -> str:
    """A blow or a dark feed: then warnings are the work, and no measure of nuisance."""
    pipeline: Any = session.pipeline
    wind = pipeline.estimate.wind.mean_m_s if pipeline.estimate is not None else None
    if wind is not None and wind > 11.0:
        return "a blow"
    return f"{pipeline.dark[0]} dark" if pipeline.dark else ""


def _count(watch: Watch, change: Transition) -> None:
    if change.reason in _SOUNDS:
        watch.sounded[change.priority] += 1
    watch.again += change.reason in _AGAIN


def _resident_mb() -> float:
    gc.collect()
    text = Path("/proc/self/status").read_text() if Path("/proc/self/status").exists() else "VmRSS: 0 kB"
    return int(text.partition("VmRSS:")[2].split()[0]) / 1024.0


def main() -> int:
    """Run, tell, judge."""
    parser = argparse.ArgumentParser(prog="python -m tests.soak", description=__doc__)
    parser.add_argument("--days", type=float, default=7.0)
    parser.add_argument("--hours", type=float, help="in the place of --days, for a short form")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--tick", type=float, default=5.0, help="seconds; more than 5 thins the models, and is said"
    )
    asked = parser.parse_args()
    hours = 24.0 * asked.days if asked.hours is None else asked.hours
    print(f"{hours:.0f} h of ordinary traffic, ticks of {asked.tick:.0f} s\n")
    print(f"{'watch from':>12}  alarms  warnings  cautions  again  resident MB  CPU s", flush=True)
    with ticks_of(timedelta(seconds=asked.tick)):
        watches, resident = _watched(hours, asked.seed)
    return _judged(watches, resident)


def _watched(hours: float, seed: int) -> tuple[list[Watch], list[float]]:
    watches: list[Watch] = []
    resident: list[float] = []
    for watch, mb, cpu_s in run(hours, seed):
        watches.append(watch)
        resident.append(mb)
        n = watch.sounded
        print(
            f"{watch.begins_at:%a %d %H:%M}{n[Priority.ALARM]:8}{n[Priority.WARNING]:10}{n[Priority.CAUTION]:10}"
            f"{watch.again:7}{mb:13.1f}{cpu_s:7.0f}  {watch.unusual}",
            flush=True,
        )
        print("\n".join(f"{'':14}{line}" for line in watch.told), flush=True) if watch.told else None
    return watches, resident


def _judged(watches: list[Watch], resident: list[float]) -> int:
    ordinary = [watch for watch in watches if not watch.unusual]
    faults = [f"{watch.begins_at:%a %H:%M}: over the rate" for watch in ordinary if watch.over]
    for name, of in (("all", watches), ("ordinary", ordinary)):
        total = sum((watch.sounded for watch in of), Counter[Priority]())
        told = ", ".join(f"{total[p] / max(1, len(of)):.2f} {p.value}s" for p in Priority if p.rank)
        print(f"{len(of)} {name} watches: {told} a watch")
    settled = min(len(resident) - 1, 11)
    grown = resident[-1] / resident[settled] - 1.0
    print(f"Resident at the end against watch {settled + 1}: {grown:+.1%}")
    if grown > MOST_GROWTH:
        faults.append(f"memory grew by {grown:.1%}")
    print("\n".join(f"FAILED: {fault}" for fault in faults) or "Within the rate we aim for.")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
