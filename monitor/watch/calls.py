"""What a situation's facts call for under an alert profile: the rules of the levels, each written once.

Facts hold all that the levels of any profile can ask of a tick, and nothing that depends on the profile. So the
same facts are judged by the profile in force (`Judge`) and, kept, by as many others as one likes (`profiles`).

A profile only ever asks whether a number has reached one of its levels. `Cuts` holds the levels of many profiles;
`cut` lowers each number to the highest level that it reaches (a time before the overlap is raised likewise). All
those profiles call for the same on what comes out, and ticks in a row come out equal: they need judging only once.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from monitor.records.events import Priority
from monitor.settings.schema import Alerts, Levels

UNLIKELY: Final = 0.2  # a pass less likely than this is at most a caution
HARDLY: Final = 0.05  # and less likely than this is neither told nor worked out
EARLY_CHANCE: Final = 0.05  # of passing a limit: below it an upper end is no warning before it is time to act
ODDS_HOLD: Final = 0.7  # an alert raised by odds falls when the chance is below this share of its level (ours)
_EARLY: Final = (ODDS_HOLD * EARLY_CHANCE, EARLY_CHANCE)  # what holds a warning, what raises one

_NO_LEVEL: Final = float("-inf")  # of a number that was cut and reaches none
_NONE, _CAUTION, _WARNING, _ALARM = Priority.NONE, Priority.CAUTION, Priority.WARNING, Priority.ALARM


def higher(*each: Priority) -> Priority:
    """The highest of several priorities."""
    return max(each, key=lambda priority: priority.rank)


def capped(level: Priority, cap: Priority) -> Priority:
    """The lower of two priorities."""
    return min(level, cap, key=lambda priority: priority.rank)


@dataclass(frozen=True, slots=True)
class Call:
    """What is called for: `level` raises an alert, `holds` keeps it (see `Situation`)."""

    level: Priority
    holds: Priority
    unknown: bool = False
    urgent: bool = False
    due: bool = False

    def cut(self, cuts: Cuts) -> Call:
        """No profile is asked."""
        return self


NO_CALL: Final = Call(_NONE, _NONE)


@dataclass(frozen=True, slots=True)
class Carried:
    """As called for the tick before, but unknown: she fell silent. `if_told`: only what called for something (the
    hours ahead, without a forecast)."""

    if_told: bool = False

    def after(self, call: Call) -> Call:
        """What is called for when that was called for the tick before."""
        if self.if_told and not (call.unknown or call.level.rank):
            return NO_CALL
        return Call(call.level, call.holds, True, call.urgent, call.due)

    def cut(self, cuts: Cuts) -> Carried:
        """No profile is asked."""
        return self


@dataclass(frozen=True, slots=True)
class Heaviest:
    """All that levels can ask of a set of lines: the greatest upper end of utilisation (None: no lines), the
    greatest middle among the lines of each cap, as (cap on ALARM, middle), and whether a brake renders in the
    middle case."""

    high: float | None
    mids: tuple[tuple[float, float], ...] = ()
    renders: bool = False

    def call(self, levels: Levels, deadband: float = 0.0) -> Priority:
        """ALARM by a middle, WARNING and CAUTION by the upper end; no ALARM level is above a line's cap."""
        if self.high is None:
            return _NONE
        if self.renders or any(mid >= min(levels.alarm, cap) - deadband for cap, mid in self.mids):
            return _ALARM
        if self.high >= levels.warning - deadband:
            return _WARNING
        return _CAUTION if self.high >= levels.caution - deadband else _NONE

    @property
    def idle(self) -> bool:
        """Cut, and reaching no level of any profile."""
        return (
            not self.renders and self.high in (None, _NO_LEVEL) and all(mid == _NO_LEVEL for _, mid in self.mids)
        )

    def cut(self, cuts: Cuts) -> Heaviest:
        """See the head of this module."""
        if self.high is None:
            return self
        return Heaviest(
            _lowered(self.high, cuts.highs),
            tuple((cap, _lowered(mid, cuts.mids(cap))) for cap, mid in self.mids),
            self.renders,
        )


def _levels(alerts: Alerts, manned: bool) -> Levels:
    return alerts.with_people if manned else alerts.levels


def _both(lines: Heaviest, alerts: Alerts, manned: bool) -> tuple[Priority, Priority]:
    levels = _levels(alerts, manned)
    return lines.call(levels), lines.call(levels, alerts.timing.deadband)


def _by_odds(chance: float | None, alerts: Alerts) -> tuple[Priority, Priority]:
    """What a chance of passing a working limit calls for, and what holds."""
    odds = alerts.odds
    if odds is None or chance is None:
        return _NONE, _NONE
    at = ((_WARNING, odds.warning), (_CAUTION, odds.caution))
    level, holds = (
        next((priority for priority, least in at if chance >= share * least), _NONE) for share in (1.0, ODDS_HOLD)
    )
    return level, holds


@dataclass(frozen=True, slots=True)
class WindFacts:
    """Lines under wind, stream and tide now; a minute ahead when a squall rises (`squall`); odds of 15 minutes.
    `untested`: the stream is stronger than any test behind its load."""

    manned: bool
    steady: Heaviest
    squall: Heaviest | None
    chance: float | None
    untested: bool = False

    def call(self, alerts: Alerts) -> Call:
        """What the loads call for; where they may be far too little, that never looks like nothing."""
        found = self.by_load(alerts)
        if not self.untested:
            return found
        return replace(found, level=higher(found.level, _CAUTION), holds=higher(found.holds, _CAUTION))

    def by_load(self, alerts: Alerts) -> Call:
        """A squall calls for a warning at once, whatever the load."""
        level, holds = _both(self.steady, alerts, self.manned)
        known = self.steady.high is not None
        if known:
            by_odds, odds_hold = _by_odds(self.chance, alerts)
            level, holds = higher(level, by_odds), higher(holds, odds_hold)
        if self.squall is not None:
            ahead, ahead_holds = _both(self.squall, alerts, self.manned)
            level = higher(level, ahead, _WARNING)
            holds = higher(level, holds, ahead_holds)
        return Call(level, holds, unknown=not known, urgent=self.squall is not None)

    def cut(self, cuts: Cuts) -> WindFacts:
        """See the head of this module."""
        squall = None if self.squall is None else self.squall.cut(cuts)
        return WindFacts(self.manned, self.steady.cut(cuts), squall, cuts.chance(self.chance), self.untested)


@dataclass(frozen=True, slots=True)
class HourFacts:
    """One hour of the forecast; `number` is its place in the outlook. Below nought: what is sooner than that."""

    number: int
    soon: bool  # within two hours: may be a warning
    lines: Heaviest
    chance: float | None


@dataclass(frozen=True, slots=True)
class AheadFacts:
    """The hours ahead, and the wind of now, which is told instead when it calls for as much. Kept apart from the
    wind (None), which changes at every tick."""

    wind: WindFacts | None
    hours: tuple[HourFacts, ...]

    def best(self, alerts: Alerts) -> tuple[int, Call] | None:
        """The first hour that calls for most, by its number, and what for; None: nothing to tell."""
        assert self.wind is not None
        found: tuple[int, Call] | None = None
        for hour in self.hours:
            cap = _WARNING if hour.soon else _CAUTION
            called, by_odds = _both(hour.lines, alerts, self.wind.manned), _by_odds(hour.chance, alerts)
            level, holds = (capped(higher(*pair), cap) for pair in zip(called, by_odds, strict=True))
            if level.rank > (found[1].level.rank if found else 0) or (found is None and holds is not _NONE):
                found = hour.number, Call(level, holds)
        if found is not None and self.wind.by_load(alerts).level.rank >= found[1].level.rank > 0:
            # The present wind is told: one situation, one alert. But one that stands does not come and go with it.
            return found[0], Call(_NONE, found[1].holds)
        return found

    def call(self, alerts: Alerts) -> Call:
        """Of the best hour."""
        found = self.best(alerts)
        return NO_CALL if found is None else found[1]

    def cut(self, cuts: Cuts) -> AheadFacts:
        """See the head of this module. Hours that reach no level are left out."""
        hours = (
            HourFacts(hour.number, hour.soon, hour.lines.cut(cuts), cuts.chance(hour.chance))
            for hour in self.hours
        )
        telling = tuple(hour for hour in hours if not (hour.lines.idle and hour.chance in (None, _NO_LEVEL)))
        return AheadFacts(self.wind and self.wind.cut(cuts), telling)


@dataclass(frozen=True, slots=True)
class PassingFacts:
    """One expected pass. `adds`: the most that she adds to a line's utilisation; `to_overlap_s`: until her bow
    overlaps our hull; `over_limit`: chance that a line passes its limit if she does come by."""

    manned: bool
    lines: Heaviest
    adds: float | None
    chance: float | None
    unknown: bool
    passes: float
    to_overlap_s: float
    over_limit: float | None = None
    beyond: bool = False  # outside the range of the model
    unsized: bool = False  # no size of hers was heard yet
    newly_heard: bool = False  # AIS still has time to tell it

    def call(self, alerts: Alerts) -> Call:
        """Levels against time: capped below ALARM until it is time to act, nothing before the first notice.

        Before it is time to act, with nobody on deck, the near end of a wide band of distances is no warning by
        itself: the chance that a line passes its limit must be worth one too. It stays a caution. So does what
        only rests on a size that nobody has heard; while AIS still has time to tell it, nothing is raised at all,
        or each launch that switches its set on would be a ship. When it is time to act the cautious one stands.
        """
        timing = alerts.timing
        level, holds = _both(self.lines, alerts, self.manned)
        due = self.to_overlap_s <= timing.act * (2 if self.manned else 1)
        if self.over_limit is not None and not due and not self.manned:
            if level is _WARNING and self.over_limit < _EARLY[1]:
                level = _CAUTION
            if holds is _WARNING and self.over_limit < _EARLY[0]:
                holds = _CAUTION
        by_odds, odds_hold = _by_odds(self.chance, alerts)
        level, holds = higher(level, by_odds), higher(holds, odds_hold)
        if self.adds is None or self.adds < timing.deadband:
            level = holds = _NONE  # wind and stream do it all, and have their own alert
        if self.beyond:  # what is told may be far too little: that never looks like nothing
            level, holds = higher(level, _CAUTION), higher(holds, _CAUTION)
        if self.unknown:  # she will pass and her load cannot be told: that is worth a warning, not a blank
            level = holds = _WARNING
        if self.to_overlap_s > timing.first_notice or self.passes < (UNLIKELY if self.unknown else HARDLY):
            level = holds = _NONE
        elif self.passes < UNLIKELY:
            level, holds = capped(level, _CAUTION), capped(holds, _CAUTION)
        elif not due:
            level, holds = capped(level, _WARNING), capped(holds, _WARNING)
        if self.unsized and not self.manned and not due:
            level, holds = capped(level, _NONE if self.newly_heard else _CAUTION), capped(holds, _CAUTION)
        return Call(level, holds, self.unknown, urgent=due, due=due)

    def cut(self, cuts: Cuts) -> PassingFacts:
        """See the head of this module."""
        return PassingFacts(
            self.manned,
            self.lines.cut(cuts),
            None if self.adds is None else _lowered(self.adds, cuts.deadbands),
            cuts.chance(self.chance),
            self.unknown,
            _lowered(self.passes, (HARDLY, UNLIKELY)),
            _raised(self.to_overlap_s, cuts.times_s),
            None if self.over_limit is None else _lowered(self.over_limit, _EARLY),
            self.beyond,
            self.unsized,
            self.newly_heard,
        )


@dataclass(frozen=True, slots=True)
class LimitFacts:
    """The wind by the averaging time of a limit of the berth, and the limit."""

    speed_m_s: float
    limit_m_s: float

    def call(self, alerts: Alerts) -> Call:
        """A warning over the limit."""
        over, near = (
            self.speed_m_s >= self.limit_m_s,
            self.speed_m_s >= self.limit_m_s * (1 - alerts.timing.deadband),
        )
        return Call(_WARNING if over else _NONE, _WARNING if near else _NONE)

    def cut(self, cuts: Cuts) -> LimitFacts:
        """See the head of this module."""
        return LimitFacts(_lowered(self.speed_m_s, cuts.speeds(self.limit_m_s)), self.limit_m_s)


Facts = Call | Carried | WindFacts | AheadFacts | PassingFacts | LimitFacts


@dataclass(frozen=True, slots=True)
class Cuts:
    """Every number that some of `profiles` compares with, in order, each worked out as the rules above do."""

    profiles: tuple[Alerts, ...]
    highs: Sequence[float] = field(init=False)
    deadbands: Sequence[float] = field(init=False)
    times_s: Sequence[float] = field(init=False)
    _chances: Sequence[float] = field(init=False)
    _mids: dict[float, Sequence[float]] = field(init=False, default_factory=dict)
    _speeds: dict[float, Sequence[float]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        deadbands = {profile.timing.deadband for profile in self.profiles}
        object.__setattr__(self, "deadbands", sorted(deadbands))
        highs = {
            level - deadband for levels, deadband in self._levels() for level in (levels.caution, levels.warning)
        }
        object.__setattr__(self, "highs", sorted(highs))
        times_s = {
            time_s for p in self.profiles for time_s in (p.timing.first_notice, p.timing.act, p.timing.act * 2)
        }
        object.__setattr__(self, "times_s", sorted(times_s))
        odds = [p.odds for p in self.profiles if p.odds is not None]
        chances = {share * least for o in odds for least in (o.caution, o.warning) for share in (1.0, ODDS_HOLD)}
        object.__setattr__(self, "_chances", sorted(chances))

    def _levels(self) -> Iterable[tuple[Levels, float]]:
        for profile in self.profiles:
            for levels in (profile.levels, profile.with_people):
                yield levels, 0.0
                yield levels, profile.timing.deadband

    def mids(self, cap: float) -> Sequence[float]:
        """Levels of ALARM for lines of one cap."""
        if cap not in self._mids:
            self._mids[cap] = sorted({min(levels.alarm, cap) - deadband for levels, deadband in self._levels()})
        return self._mids[cap]

    def speeds(self, limit_m_s: float) -> Sequence[float]:
        """A wind limit, and where its alert falls."""
        if limit_m_s not in self._speeds:
            falls = {limit_m_s * (1 - deadband) for deadband in self.deadbands}
            self._speeds[limit_m_s] = sorted({limit_m_s, *falls})
        return self._speeds[limit_m_s]

    def chance(self, chance: float | None) -> float | None:
        """A chance, lowered."""
        return None if chance is None else _lowered(chance, self._chances)


def _lowered(number: float, levels: Sequence[float]) -> float:
    """The highest level that a number reaches; less than any when it reaches none."""
    reached = bisect_right(levels, number)
    return levels[reached - 1] if reached else _NO_LEVEL


def _raised(number: float, levels: Sequence[float]) -> float:
    """The lowest level that is not below a number."""
    place = bisect_left(levels, number)
    return levels[place] if place < len(levels) else float("inf")
