"""Other alert profiles over facts that were kept: what each would have told, in seconds, without any physics.

The same rules (`calls`) and the same state machine (`alarms`) as the watch. Two things make it quick, and neither
changes a conclusion. Facts are cut to the levels of all profiles, so that ticks in a row come out equal and are
judged once; and the machine is stepped only when its fact has changed or time alone may change it.

What goes in before the facts cannot be swept: `fixed_part` must be the same in all profiles.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import cache
from typing import Final

from monitor.base.moved import moved
from monitor.records.events import Action, Transition
from monitor.records.situations import Matter, Situation
from monitor.settings.schema import Alerts, Squall, Timing
from monitor.watch import alarms
from monitor.watch.calls import NO_CALL, AheadFacts, Call, Carried, Cuts, Facts, WindFacts


@dataclass(frozen=True, slots=True)
class Begun:
    """A watch began: what it was handed of the last ten minutes comes first. `anew`: of another stay."""

    anew: bool


@dataclass(frozen=True, slots=True)
class CaughtUp:
    """Alerts go on as people were last told of them, and what comes from here on is told."""


@dataclass(frozen=True, slots=True)
class Ticked:
    """A tick: the facts that are other than at the tick before, by key; what is gone calls for nothing."""

    at: datetime
    changed: Mapping[str, Facts]


@dataclass(frozen=True, slots=True)
class Answered:
    """Somebody acknowledged or silenced."""

    at: datetime
    action: Action
    subject: str
    who: str


@dataclass(frozen=True, slots=True)
class Shifted:
    """The PC clock was set by so many seconds."""

    by_s: float


Step = Begun | CaughtUp | Ticked | Answered | Shifted
# Tick it comes before, place in the order, what (int: number of the facts; None: the end).
_Stop = tuple[int, int, "Answered | Shifted | CaughtUp | int | None"]


def fixed_part(profile: Alerts) -> tuple[Squall, float, tuple[str, ...]]:
    """What of a profile acts on the facts themselves: squall, when a target is lost, names of the channels."""
    return profile.squall, profile.timing.target_lost, tuple(channel.name for channel in profile.channels)


@dataclass(slots=True)
class _Watch:
    """One watch: its ticks, and by key what happens between them."""

    anew: bool
    at: list[datetime] = field(default_factory=list)
    order: list[int] = field(default_factory=list)
    told_from: int = 0  # place in the order
    stops: dict[str, list[_Stop]] = field(default_factory=dict)
    marks: list[_Stop] = field(default_factory=list)  # for all keys


class Sweep:
    """Facts of one recording, ready for some profiles. Raises ValueError when their fixed parts differ."""

    def __init__(self, steps: Iterable[Step], profiles: Sequence[Alerts]) -> None:
        if any(fixed_part(profile) != fixed_part(profiles[0]) for profile in profiles):
            raise ValueError("profiles that differ in squall, target_lost or channels need a replay each")
        self.profiles = tuple(profiles)
        self._facts: list[Facts] = []
        self._watches: list[_Watch] = []
        self._take(steps)

    def _take(self, steps: Iterable[Step]) -> None:
        cuts, numbers = Cuts(self.profiles), dict[Facts, int]()
        last: dict[str, int] = {}
        now: dict[str, Facts] = {}  # of the wind and the hours ahead, cut
        for order, step in enumerate(steps):
            if isinstance(step, Begun):
                self._watches.append(_Watch(step.anew))
                last, now = {}, {}
                continue
            watch = self._watches[-1]
            match step:
                case CaughtUp():
                    watch.told_from = order
                    last.pop("ahead", None)  # it may be judged by what was told before
                    watch.marks.append((len(watch.at), order, step))
                case Ticked():
                    for key, facts in _together({key: each.cut(cuts) for key, each in step.changed.items()}, now):
                        number = numbers.setdefault(facts, len(numbers))
                        if last.get(key) != number:
                            last[key] = number
                            watch.stops.setdefault(key, []).append((len(watch.at), order, number))
                    watch.at.append(step.at)
                    watch.order.append(order)
                case Answered():
                    watch.stops.setdefault(step.subject, []).append((len(watch.at), order, step))
                case Shifted():
                    watch.marks.append((len(watch.at), order, step))
        self._facts = list(numbers)

    @property
    def hours(self) -> float:
        """How long was watched."""
        watched = timedelta(0)
        for watch in self._watches:
            told = [at for at, order in zip(watch.at, watch.order, strict=True) if order >= watch.told_from]
            shifted_s = sum(what.by_s for _, _, what in watch.marks if isinstance(what, Shifted))
            watched += told[-1] - told[0] - timedelta(seconds=shifted_s) if told else timedelta(0)
        return watched / timedelta(hours=1)

    def transitions(self, profile: Alerts) -> list[Transition]:
        """What a replay of the recording under one of the profiles would conclude, to the letter.

        But for one thing: what a restart takes over of alerts that a feed is dark or a part of the PC down, it
        takes over of those of the profile that was kept.
        """
        called = [facts if isinstance(facts, Carried) else _called(facts, profile) for facts in self._facts]
        found: list[tuple[int, str, int, Transition]] = []
        for key in dict.fromkeys(key for watch in self._watches for key in watch.stops):
            told = _through(self._watches, key, called, profile.timing)
            found += ((order, key, number, change) for number, (order, change) in enumerate(told))
        return [change for *_, change in sorted(found, key=lambda each: each[:3])]


def _together(changed: dict[str, Facts], now: dict[str, Facts]) -> Iterator[tuple[str, Facts]]:
    """The hours ahead are judged with the wind of now: when either is other, they are. `now` remembers both."""
    yield from (each for each in changed.items() if each[0] != "ahead")
    if "wind" in changed or "ahead" in changed:
        now |= {key: changed[key] for key in ("wind", "ahead") if key in changed}
        ahead, wind = now.get("ahead"), now.get("wind")
        if isinstance(ahead, AheadFacts) and isinstance(wind, WindFacts):
            yield "ahead", replace(ahead, wind=wind)
        elif ahead is not None and "ahead" in changed:
            yield "ahead", ahead


def _called(facts: Facts, profile: Alerts) -> Situation:
    assert not isinstance(facts, Carried)
    return _situation(facts if isinstance(facts, Call) else facts.call(profile))


@cache
def _situation(call: Call) -> Situation:
    """All of a situation that the state machine looks at."""
    return Situation("", Matter.MODEL, call.level, call.holds, call.unknown, call.urgent, call.due)


@cache
def _carried(carried: Carried, fact: Situation) -> Situation:
    return _situation(carried.after(Call(fact.level, fact.holds, fact.unknown, fact.urgent, fact.due)))


_NOTHING: Final = _situation(NO_CALL)
_UNKNOWN: Final = _situation(Call(NO_CALL.level, NO_CALL.holds, unknown=True))


def _through(
    watches: Sequence[_Watch], key: str, called: Sequence[Situation | Carried], timing: Timing
) -> Iterator[tuple[int, Transition]]:
    """One alert through all watches: the changes that are told, each with its place in the order."""
    last: dict[str, alarms.Alert] = {}  # as people were last told
    for watch in watches:
        if watch.anew:
            last = {}
        told = [each for each in _run(watch, key, called, timing, last) if each[0] >= watch.told_from]
        yield from told
        if len(watches) > 1:
            last = _as_told(last, told, watch)


def _as_told(
    last: Mapping[str, alarms.Alert], told: Sequence[tuple[int, Transition]], watch: _Watch
) -> dict[str, alarms.Alert]:
    """What people know of alerts after a watch."""
    after = dict(last)
    shifts = [(order, what) for _, order, what in watch.marks if isinstance(what, Shifted)]
    changes: list[tuple[int, Transition | Shifted]] = [*told, *shifts]
    for _, what in sorted(changes, key=lambda each: each[0]):
        if isinstance(what, Shifted):
            after = moved(after, timedelta(seconds=what.by_s))
        else:
            after = alarms.told(after, what)
    return after


def _run(
    watch: _Watch,
    key: str,
    called: Sequence[Situation | Carried],
    timing: Timing,
    last: Mapping[str, alarms.Alert],
) -> Iterator[tuple[int, Transition]]:
    """One alert through one watch. `wake`: the tick before which a step would change nothing."""
    alert, fact, wake = alarms.Alert(key), _NOTHING, 0
    stops, end = watch.stops.get(key, []), len(watch.at)
    stops = sorted([*stops, *watch.marks], key=lambda stop: stop[:2]) if watch.marks else stops
    shifts = [tick for tick, _, what in watch.marks if isinstance(what, Shifted)]
    for until, order, what in (*stops, (end, 0, None)):
        while wake < until:
            now = watch.at[wake]
            after, changes = alarms.step_one(alert, fact, timing, now)
            for change in changes:
                yield watch.order[wake], change
            wake += 1
            if not changes and after == alert:
                due = alarms.next_due(after, timing, now)
                before = next((tick for tick in shifts if tick >= wake), end)  # up to it, times rise
                wake = before if due is None else bisect_left(watch.at, due, wake, before)
            alert = after if alarms.remembers(after) else alarms.Alert(key)
        match what:
            case None:
                return
            case Answered():
                answer = alarms.acknowledge if what.action is Action.ACKNOWLEDGE else alarms.silence
                alerts, by_hand = answer({key: alert}, key, what.who, what.at)
                alert, wake = alerts.get(key, alarms.Alert(key)), until
                for change in by_hand:
                    yield order, change
            case Shifted():
                alert, wake = moved(alert, timedelta(seconds=what.by_s)), until
            case CaughtUp():
                known = {each: one for each, one in last.items() if each == key}
                lasting = alarms.lasting(known, {key: alert} if alarms.remembers(alert) else {})
                alert, wake = lasting.get(key, alarms.Alert(key)), until
                if key in known and known[key].active and key == "ahead" and fact is _NOTHING:
                    fact = _UNKNOWN  # until there is a forecast
            case _:
                new = called[what]
                new = _carried(new, fact) if isinstance(new, Carried) else new
                if new is not fact:
                    fact, wake = new, until
