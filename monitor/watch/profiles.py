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

from monitor.base.moved import moved
from monitor.records.events import Action, Transition
from monitor.records.situations import Matter, Situation
from monitor.settings.schema import Alerts, Squall, Timing
from monitor.watch import alarms
from monitor.watch.calls import NO_CALL, AheadFacts, Call, Carried, Cuts, Facts, WindFacts


@dataclass(frozen=True, slots=True)
class Begun:
    """A watch began: alerts are new, and what it was handed of the last ten minutes comes first."""


@dataclass(frozen=True, slots=True)
class CaughtUp:
    """What comes from here on is told."""


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
_Stop = tuple[int, int, "Answered | Shifted | int"]  # tick it comes before, place in the order, what (int: facts)


def fixed_part(profile: Alerts) -> tuple[Squall, float, tuple[str, ...]]:
    """What of a profile acts on the facts themselves: squall, when a target is lost, names of the channels."""
    return profile.squall, profile.timing.target_lost, tuple(channel.name for channel in profile.channels)


@dataclass(slots=True)
class _Watch:
    """One watch: its ticks, and by key what happens between them."""

    at: list[datetime] = field(default_factory=list)
    order: list[int] = field(default_factory=list)
    told_from: int = 0  # place in the order
    stops: dict[str, list[_Stop]] = field(default_factory=dict)
    shifts: list[_Stop] = field(default_factory=list)


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
                self._watches.append(_Watch())
                last, now = {}, {}
                continue
            watch = self._watches[-1]
            match step:
                case CaughtUp():
                    watch.told_from = order
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
                    watch.shifts.append((len(watch.at), order, step))
        self._facts = list(numbers)

    @property
    def hours(self) -> float:
        """How long was watched."""
        watched = timedelta(0)
        for watch in self._watches:
            told = [at for at, order in zip(watch.at, watch.order, strict=True) if order >= watch.told_from]
            shifted_s = sum(what.by_s for _, _, what in watch.shifts if isinstance(what, Shifted))
            watched += told[-1] - told[0] - timedelta(seconds=shifted_s) if told else timedelta(0)
        return watched / timedelta(hours=1)

    def transitions(self, profile: Alerts) -> list[Transition]:
        """What a replay of the recording under one of the profiles would conclude, to the letter."""
        called = [None if isinstance(facts, Carried) else _called(facts, profile) for facts in self._facts]
        found: list[tuple[int, str, int, Transition]] = []
        for watch in self._watches:
            for key, stops in watch.stops.items():
                told = _run(watch, key, stops, called, profile.timing)
                found += (
                    (order, key, number, change)
                    for number, (order, change) in enumerate(told)
                    if order >= watch.told_from
                )
        return [change for *_, change in sorted(found, key=lambda each: each[:3])]


def _together(changed: dict[str, Facts], now: dict[str, Facts]) -> Iterator[tuple[str, Facts]]:
    """The hours ahead are judged with the wind of now: when either is other, they are. `now` remembers both."""
    yield from (each for each in changed.items() if each[0] != "ahead")
    if "wind" in changed or "ahead" in changed:
        now |= {key: changed[key] for key in ("wind", "ahead") if key in changed}
        ahead, wind = now.get("ahead"), now.get("wind")
        if isinstance(ahead, AheadFacts) and isinstance(wind, WindFacts):
            yield "ahead", replace(ahead, wind=wind)
        elif ahead is not None:
            yield "ahead", NO_CALL


def _called(facts: Facts, profile: Alerts) -> Situation:
    assert not isinstance(facts, Carried)
    return _situation(facts if isinstance(facts, Call) else facts.call(profile))


@cache
def _situation(call: Call) -> Situation:
    """All of a situation that the state machine looks at."""
    return Situation("", Matter.MODEL, call.level, call.holds, call.unknown, call.urgent, call.due)


def _run(
    watch: _Watch, key: str, stops: list[_Stop], called: Sequence[Situation | None], timing: Timing
) -> Iterator[tuple[int, Transition]]:
    """One alert through one watch."""
    alert, fact, tick = alarms.Alert(key), _situation(NO_CALL), 0
    in_order = sorted([*stops, *watch.shifts], key=lambda stop: stop[:2]) if watch.shifts else stops
    for until, order, what in [*in_order, (len(watch.at), 0, -1)]:
        while tick < until:
            now = watch.at[tick]
            after, changes = alarms.step_one(alert, fact, timing, now)
            for change in changes:
                yield watch.order[tick], change
            tick += 1
            if not changes and after == alert:
                due = alarms.next_due(after, timing, now)
                tick = until if due is None else bisect_left(watch.at, due, tick, until)
            alert = after if alarms.remembers(after) else alarms.Alert(key)
        match what:
            case Answered():
                answer = alarms.acknowledge if what.action is Action.ACKNOWLEDGE else alarms.silence
                alerts, by_hand = answer({key: alert}, key, what.who, what.at)
                alert = alerts.get(key, alarms.Alert(key))
                for change in by_hand:
                    yield order, change
            case Shifted():
                alert = moved(alert, timedelta(seconds=what.by_s))
            case int() if what >= 0:
                new = called[what]
                fact = replace(fact, unknown=True) if new is None else new
