"""From estimates to situations: which priority the facts call for, and what there is to tell.

Judging rule (ours): ALARM when the middle of the band passes the alarm level, WARNING when its 95 % end passes
the warning level, CAUTION likewise. A line's ALARM level is never above 60 % of its brake setting, whatever the
profile says. With people on the mooring decks the lower set of levels holds and the time to act doubles.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from monitor.base.units import KNOT_M_S
from monitor.records.estimates import LineLoad, LoadEstimate, Outlook, PassingOutlook, Validity, WindEstimate
from monitor.records.events import Priority
from monitor.records.situations import Matter, Situation
from monitor.settings.schema import Alerts, Levels, Limits
from monitor.watch.stay import StayState

AFTER_PASSING: Final = timedelta(minutes=3)
SOON: Final = timedelta(hours=2)
LOOK_AHEAD: Final = timedelta(hours=12)
NOT_NOW: Final = timedelta(minutes=45)  # an hour nearer than this is the present wind's business
SLOW_M_S: Final = 2.5 * KNOT_M_S  # her pressure field goes with speed squared: below this there is next to none
UNLIKELY: Final = 0.2  # a pass less likely than this is at most a caution
ODDS_WITHIN_MIN: Final = 15  # the chance that the wind's alert goes by
ODDS_HOLD: Final = 0.7  # an alert raised by odds falls when the chance is below this share of its level (ours)
_ANEMOMETERS: Final = ("nmea", "signal k")
HARDLY: Final = 0.05  # and less likely than this is not told


@dataclass(frozen=True, slots=True)
class FeedState:
    """One input as the watch sees it. `age_s` is since the last usable reading; None when there was none yet."""

    name: str
    carries: str
    up: bool
    detail: str
    age_s: float | None
    stale_after_s: float
    waited_s: float  # since the watch began or the feed was last told to be up

    @property
    def dark(self) -> bool:
        """Nothing usable for longer than allowed, or known to be down."""
        silent_s = self.waited_s if self.age_s is None else self.age_s
        return not self.up or silent_s > self.stale_after_s


def level_of(lines: Sequence[LineLoad], levels: Levels, deadband: float = 0.0) -> Priority:
    """The priority a set of line loads calls for."""
    found = Priority.NONE
    for load in lines:
        if load.utilisation.mid >= min(levels.alarm, load.alarm_cap) - deadband:
            return Priority.ALARM
        if load.utilisation.high >= levels.warning - deadband:
            found = Priority.WARNING
        elif load.utilisation.high >= levels.caution - deadband and found is Priority.NONE:
            found = Priority.CAUTION
    return found


def _adds(passing: PassingOutlook, estimate: LoadEstimate, deadband: float) -> bool:
    """Whether her passing loads any line noticeably more than wind and stream do already."""
    steady = {load.line: load.utilisation for load in estimate.steady_lines}
    return any(
        load.utilisation.high - steady[load.line].high >= deadband
        or load.utilisation.mid - steady[load.line].mid >= deadband
        for load in passing.lines
        if load.line in steady
    )


def _averaged(wind: WindEstimate, over_s: float) -> float | None:
    """The wind by an averaging time: the nearest we have that is no longer, since a shorter one reads higher."""
    if over_s >= 600.0:
        return wind.mean_m_s
    if over_s >= 30.0:
        return None if wind.speed_30s_m_s is None else wind.speed_30s_m_s.mid
    return wind.gust_m_s


def higher(*each: Priority) -> Priority:
    """The highest of several priorities."""
    return max(each, key=lambda priority: priority.rank)


def _has_a_stand_in(feed: FeedState, feeds: Sequence[FeedState], wind: WindEstimate) -> bool:
    """Whether another receiver of its kind is heard; for wind, whether another anemometer's is in use."""
    heard = [other for other in feeds if other.name != feed.name and not other.dark]
    if feed.carries in _ANEMOMETERS:
        return any(other.name == wind.source and other.carries in _ANEMOMETERS for other in heard)
    return any(other.carries == feed.carries for other in heard)


def capped(level: Priority, cap: Priority) -> Priority:
    """The lower of two priorities."""
    return min(level, cap, key=lambda priority: priority.rank)


@dataclass(frozen=True, slots=True)
class Judge:
    """The rules of one alert profile."""

    alerts: Alerts
    limits: Limits

    def situations(
        self,
        estimate: LoadEstimate,
        outlook: Outlook | None,
        feeds: Sequence[FeedState],
        stay: StayState,
        before: Mapping[str, Situation],
        lost: frozenset[int],
        now: datetime,
    ) -> tuple[Situation, ...]:
        """Everything worth an alert now. `before` are the situations of the last tick, `lost` the MMSI of targets
        that fell silent: an expected pass does not vanish with its target."""
        found = self._feeds(feeds, estimate.wind)
        if stay.moored:
            found += self._lines(stay)
            wind = self._wind(estimate, outlook, stay)
            found += [wind, *self._ahead(outlook, stay, wind, now), *self._limits(estimate)]
            found += self._passings(outlook, estimate, stay, before, lost, now)
            found += self._model(estimate)
        return tuple(found)

    def _levels(self, stay: StayState) -> Levels:
        return self.alerts.with_people if stay.deck_manned else self.alerts.levels

    def _both(self, lines: Sequence[LineLoad], stay: StayState) -> tuple[Priority, Priority]:
        levels = self._levels(stay)
        return level_of(lines, levels), level_of(lines, levels, self.alerts.timing.deadband)

    def _by_odds(self, chance: float | None) -> tuple[Priority, Priority]:
        """What a chance of passing a working limit calls for, and what holds."""
        odds = self.alerts.odds
        if odds is None or chance is None:
            return Priority.NONE, Priority.NONE
        at = ((Priority.WARNING, odds.warning), (Priority.CAUTION, odds.caution))
        level, holds = (
            next((priority for priority, least in at if chance >= share * least), Priority.NONE)
            for share in (1.0, ODDS_HOLD)
        )
        return level, holds

    def _wind(self, estimate: LoadEstimate, outlook: Outlook | None, stay: StayState) -> Situation:
        """Lines under wind, stream and tide now, in a minute if the wind goes on rising, and by the odds."""
        level, holds = self._both(estimate.steady_lines, stay)
        soon = next((each for each in outlook.soon if each.minutes == ODDS_WITHIN_MIN), None) if outlook else None
        chance = None if soon is None else soon.odds.any_over_working
        if estimate.steady_lines:
            by_odds, odds_hold = self._by_odds(chance)
            level, holds = higher(level, by_odds), higher(holds, odds_hold)
        lines, urgent, facts = estimate.steady_lines, False, []
        if estimate.squall_lines:
            ahead, ahead_holds = self._both(estimate.squall_lines, stay)
            level = higher(level, ahead, Priority.WARNING)
            holds = higher(level, holds, ahead_holds)
            lines, urgent = estimate.squall_lines, True
            facts.append("wind rising fast")
        return Situation(
            "wind",
            Matter.WIND,
            level,
            holds,
            unknown=not estimate.steady_lines,
            urgent=urgent,
            lines=lines[:6],
            wind=estimate.wind,
            water=estimate.water,
            facts=tuple(facts),
            validity=estimate.validity,
            reasons=estimate.reasons,
            people_on_deck=stay.deck_manned,
            odds=None if soon is None else soon.odds,
            chance=chance,
        )

    def _ahead(self, outlook: Outlook | None, stay: StayState, wind: Situation, now: datetime) -> list[Situation]:
        """The slow load: forecast wind, tide and stream over the hours ahead if nobody tends."""
        if outlook is None:
            return []
        best: Situation | None = None
        for hour in outlook.hours:
            if not NOT_NOW <= hour.at - now <= LOOK_AHEAD:
                continue
            cap = Priority.WARNING if hour.at - now <= SOON else Priority.CAUTION
            chance = None if hour.odds is None else hour.odds.any_over_working
            called, by_odds = self._both(hour.lines, stay), self._by_odds(chance)
            level, holds = (capped(higher(*pair), cap) for pair in zip(called, by_odds, strict=True))
            if level.rank > (best.level.rank if best else 0) or (best is None and holds is not Priority.NONE):
                best = Situation(
                    "ahead",
                    Matter.AHEAD,
                    level,
                    holds,
                    at=hour.at,
                    lines=hour.lines[:6],
                    wind=WindEstimate(
                        hour.at,
                        hour.wind_m_s,
                        hour.from_direction_deg,
                        hour.gust_m_s,
                        None,
                        None,
                        hour.source,
                        None,
                        Validity.GOOD,
                    ),
                    validity=outlook.validity,
                    reasons=outlook.reasons,
                    people_on_deck=stay.deck_manned,
                    odds=hour.odds,
                    chance=chance,
                )
        if best is None or wind.level.rank >= best.level.rank > 0:
            return []  # the present wind is already told: one situation, one alert
        return [best]

    def _limits(self, estimate: LoadEstimate) -> list[Situation]:
        """The berth's own wind limits as typed in."""
        wind = estimate.wind
        found = []
        for name in Limits.model_fields:
            limit = getattr(self.limits, name)
            speed_m_s = None if limit is None else _averaged(wind, limit.averaging)
            if limit is None or speed_m_s is None:
                continue
            over, near = speed_m_s >= limit.speed, speed_m_s >= limit.speed * (1 - self.alerts.timing.deadband)
            found.append(
                Situation(
                    f"limit:{name}",
                    Matter.LIMIT,
                    Priority.WARNING if over else Priority.NONE,
                    Priority.WARNING if near else Priority.NONE,
                    subject=name,
                    wind=wind,
                    facts=(limit.on, f"{limit.speed:.6g}", limit.source),
                )
            )
        return found

    def _passings(
        self,
        outlook: Outlook | None,
        estimate: LoadEstimate,
        stay: StayState,
        before: Mapping[str, Situation],
        lost: frozenset[int],
        now: datetime,
    ) -> list[Situation]:
        alongside = {craft.mmsi for craft in stay.craft}
        found = {}
        for passing in outlook.passings if outlook else ():
            if passing.encounter.mmsi not in alongside:
                found[f"passing:{passing.encounter.mmsi}"] = self._passing(passing, estimate, stay, now)
        for key, earlier in before.items():
            if earlier.matter is not Matter.PASSING or key in found or earlier.encounter is None:
                continue
            if (
                earlier.encounter.mmsi in lost
                and earlier.until is not None
                and now < earlier.until + AFTER_PASSING
            ):
                found[key] = replace(
                    earlier, unknown=True, validity=Validity.UNKNOWN, reasons=("her AIS fell silent",)
                )
        return list(found.values())

    def _passing(
        self, passing: PassingOutlook, estimate: LoadEstimate, stay: StayState, now: datetime
    ) -> Situation:
        encounter, timing = passing.encounter, self.alerts.timing
        level, holds = self._both(passing.lines, stay)
        chance = None if passing.odds is None else encounter.passes * passing.odds.any_over_working
        by_odds, odds_hold = self._by_odds(chance)
        level, holds = higher(level, by_odds), higher(holds, odds_hold)
        if not _adds(passing, estimate, timing.deadband):
            level = holds = Priority.NONE  # wind and stream do it all, and have their own alert
        unknown = passing.validity is Validity.UNKNOWN and encounter.speed_water_m_s.high > SLOW_M_S
        if unknown:  # she will pass and her load cannot be told: that is worth a warning, not a blank
            level = holds = Priority.WARNING
        overlap = encounter.overlap_from or encounter.earliest_at
        clear_by = overlap - timedelta(seconds=timing.clear_decks_before)
        act_s = timing.act * (2 if stay.deck_manned else 1)
        due = overlap - now <= timedelta(seconds=act_s)
        if overlap - now > timedelta(seconds=timing.first_notice) or encounter.passes < (
            UNLIKELY if unknown else HARDLY
        ):
            level = holds = Priority.NONE
        elif encounter.passes < UNLIKELY:
            level, holds = capped(level, Priority.CAUTION), capped(holds, Priority.CAUTION)
        elif not due:
            level, holds = capped(level, Priority.WARNING), capped(holds, Priority.WARNING)
        return Situation(
            f"passing:{encounter.mmsi}",
            Matter.PASSING,
            level,
            holds,
            unknown=unknown,
            urgent=due,
            due=due,
            at=encounter.abeam_at,
            until=encounter.overlap_to or encounter.latest_at,
            clear_by=clear_by,
            lines=passing.lines[:6],
            encounter=encounter,
            validity=passing.validity,
            reasons=passing.reasons,
            people_on_deck=stay.deck_manned,
            odds=passing.odds,
            chance=chance,
            advice=passing.advice,
        )

    def _feeds(self, feeds: Sequence[FeedState], wind: WindEstimate) -> list[Situation]:
        """Blindness is an alert of its own: a silent feed must never look like a silent river. Of several that do
        the same work, the loss of one is a caution while another still does it."""
        found = []
        for feed in feeds:
            level = Priority.NONE
            if feed.dark:
                level = Priority.CAUTION if _has_a_stand_in(feed, feeds, wind) else Priority.WARNING
            silent_s = feed.waited_s if feed.age_s is None else feed.age_s
            found.append(
                Situation(
                    f"feed:{feed.name}",
                    Matter.FEED,
                    level,
                    level,
                    subject=feed.name,
                    facts=(feed.carries, f"{silent_s:.0f}", feed.detail),
                )
            )
        return found

    def _lines(self, stay: StayState) -> list[Situation]:
        """Lines as people reported them; tending or easing them ends the alert."""
        level = {"parted": Priority.ALARM, "rendered": Priority.ALARM, "heavy": Priority.WARNING}
        return [
            Situation(
                f"line:{line}", Matter.LINE, level[state], level[state], urgent=True, subject=line, facts=(state,)
            )
            for line, state in stay.lines.items()
            if state in level
        ]

    def _model(self, estimate: LoadEstimate) -> list[Situation]:
        unknown = estimate.validity is Validity.UNKNOWN
        level = Priority.WARNING if unknown else Priority.NONE
        return [
            Situation(
                "model",
                Matter.MODEL,
                level,
                level,
                unknown=unknown,
                validity=estimate.validity,
                reasons=estimate.reasons,
            )
        ]
