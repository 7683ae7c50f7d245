"""From estimates to situations: which priority the facts call for, and what there is to tell.

Judging rule (ours): ALARM when the middle of the band passes the alarm level, WARNING when its 95 % end passes
the warning level, CAUTION likewise. A line's ALARM level is never above 60 % of its brake setting, whatever the
profile says, and a brake that renders in the middle case is an ALARM: its line is longer, the others take over.
With people on the mooring decks the lower set of levels holds and the time to act doubles.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from monitor.base.units import metres_in_words
from monitor.records.estimates import (
    Encounter,
    LineLoad,
    LoadEstimate,
    Outlook,
    PassingOutlook,
    Validity,
    WindEstimate,
)
from monitor.records.events import Priority
from monitor.records.situations import BEYOND_TESTS, RISING_FAST, Matter, Situation
from monitor.settings.schema import Alerts, Limits
from monitor.watch.calls import Call, WindFacts
from monitor.watch.facts import (
    ahead_facts,
    limit_facts,
    passing_facts,
    soon_odds,
    untended_facts,
    wind_facts,
)
from monitor.watch.impaired import OUTLOOK
from monitor.watch.slips import MAY_HAVE
from monitor.watch.stay import StayState

AFTER_PASSING: Final = timedelta(minutes=3)  # she may come later than she was reckoned (ours)
_ANEMOMETERS: Final = ("nmea", "signal k")
SHIPS: Final = ("ais", "decoded ais csv")


@dataclass(frozen=True, slots=True)
class FeedState:
    """One input as the watch sees it. `age_s` is since the last usable reading; None when there was none yet."""

    name: str
    carries: str
    up: bool
    detail: str
    age_s: float | None
    stale_after_s: float
    waited_s: float  # since the watch began: that it is up again tells nothing until something usable comes
    source: str  # the feed on which it comes; another name than its own for the wind of a line with ships on it

    @property
    def dark(self) -> bool:
        """Nothing usable for longer than allowed, or known to be down."""
        silent_s = self.waited_s if self.age_s is None else self.age_s
        return not self.up or silent_s > self.stale_after_s


def _has_a_stand_in(feed: FeedState, feeds: Sequence[FeedState], wind: WindEstimate) -> bool:
    """Whether another receiver of its kind is heard; for wind, whether another anemometer's is in use."""
    heard = [other for other in feeds if other.name != feed.name and not other.dark]
    if feed.carries in _ANEMOMETERS:
        return any(other.source == wind.source and other.carries in _ANEMOMETERS for other in heard)
    return any(other.carries == feed.carries for other in heard)


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
        silent: frozenset[int],
        now: datetime,
    ) -> tuple[Situation, ...]:
        """Everything worth an alert now. `before` are the situations of the last tick, `lost` the MMSI of targets
        that fell silent, `silent` of those unheard for a while: an expected pass does not vanish with its target.
        """
        found = self._feeds(feeds, estimate.wind)
        if stay.moored:
            found += [*self._lines(stay), *self._brakes(stay)]
            facts = wind_facts(estimate, outlook, stay)
            found += [
                self._wind(facts, estimate, outlook, stay),
                *self._ahead(facts, outlook, estimate, stay, before, now),
            ]
            found += self._untended(facts, outlook, estimate, stay, now)
            found += self._limits(estimate, before)
            sees = any(feed.carries in SHIPS and feed.age_s is not None and not feed.dark for feed in feeds)
            found += self._passings(outlook, estimate, stay, before, lost, silent, sees, now)
            found += [_blind(outlook)] if outlook and outlook.validity is Validity.UNKNOWN else []
            found += self._model(estimate)
        return tuple(found)

    def _wind(
        self, facts: WindFacts, estimate: LoadEstimate, outlook: Outlook | None, stay: StayState
    ) -> Situation:
        """Lines under wind, stream and tide now, in a minute if the wind goes on rising, and by the odds."""
        call, soon = facts.call(self.alerts), soon_odds(outlook, estimate)
        told = {RISING_FAST: bool(estimate.squall_lines), BEYOND_TESTS: facts.untested}
        lines = estimate.squall_lines or estimate.steady_lines
        return Situation(
            "wind",
            Matter.WIND,
            call.level,
            call.holds,
            unknown=call.unknown,
            urgent=call.urgent,
            lines=lines[:6],
            wind=estimate.wind,
            water=estimate.water,
            facts=tuple(fact for fact, holds in told.items() if holds),
            validity=estimate.validity,
            reasons=estimate.reasons,
            people_on_deck=stay.deck_manned,
            odds=None if soon is None else soon.odds,
            chance=facts.chance,
        )

    def _ahead(
        self,
        wind: WindFacts,
        outlook: Outlook | None,
        estimate: LoadEstimate,
        stay: StayState,
        before: Mapping[str, Situation],
        now: datetime,
    ) -> list[Situation]:
        """The slow load if nobody tends: tide and stream of the next 45 min in the wind of now, then hour by hour
        with the forecast wind."""
        earlier = before.get("ahead")
        if (outlook is None or not outlook.hours) and earlier and (earlier.unknown or earlier.level.rank):
            return [replace(earlier, unknown=True, reasons=("no forecast",))]  # told, and not over for want of one
        best = None if outlook is None else ahead_facts(wind, outlook, now).best(self.alerts)
        if outlook is None or best is None:
            return []
        number, call = best
        if number < 0:
            soon = outlook.untended[-1 - number]
            return [_slow("ahead", call, soon.at, soon.lines, estimate.wind, outlook, stay)]
        hour = outlook.hours[number]
        expected = WindEstimate(
            hour.at,
            hour.wind_m_s,
            hour.from_direction_deg,
            hour.gust_m_s,
            None,
            None,
            hour.source,
            None,
            Validity.GOOD,
        )
        told = _slow("ahead", call, hour.at, hour.lines, expected, outlook, stay)
        chance = None if hour.odds is None else hour.odds.any_over_working
        return [replace(told, odds=hour.odds, chance=chance)]

    def _untended(
        self, wind: WindFacts, outlook: Outlook | None, estimate: LoadEstimate, stay: StayState, now: datetime
    ) -> list[Situation]:
        """The slow load where no forecast tells the hours ahead: the tide does not wait for one."""
        best = None if outlook is None else untended_facts(wind, outlook, now).best(self.alerts)
        if outlook is None or best is None:
            return []
        number, call = best
        later = outlook.untended[number]
        told = _slow("untended", call, later.at, later.lines, estimate.wind, outlook, stay)
        return [replace(told, facts=("no forecast",))]

    def _limits(self, estimate: LoadEstimate, before: Mapping[str, Situation]) -> list[Situation]:
        """The berth's own wind limits as typed in. One that was reached does not end for want of wind."""
        wind = estimate.wind
        found = []
        for name in Limits.model_fields:
            limit, earlier = getattr(self.limits, name), before.get(f"limit:{name}")
            asked = None if limit is None else limit_facts(limit, wind)
            if asked is None:
                if limit is not None and earlier is not None:
                    found.append(replace(earlier, unknown=True, wind=wind, reasons=("wind not known",)))
                continue
            call = asked.call(self.alerts)
            found.append(
                Situation(
                    f"limit:{name}",
                    Matter.LIMIT,
                    call.level,
                    call.holds,
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
        silent: frozenset[int],
        sees: bool,
        now: datetime,
    ) -> list[Situation]:
        alongside = {craft.mmsi for craft in stay.craft}
        found = {}
        for passing in outlook.passings if outlook else ():
            if passing.encounter.mmsi not in alongside:
                found[f"passing:{passing.encounter.mmsi}"] = self._passing(passing, estimate, stay, now)
        for key, earlier in before.items():
            if earlier.matter is not Matter.PASSING or key in found:
                continue
            past = earlier.until is None or now >= earlier.until + AFTER_PASSING
            if earlier.encounter is None:  # told before a restart: over when she would be seen and is not
                if not (sees or past):
                    found[key] = earlier
                continue
            blind = outlook is not None and outlook.validity is Validity.UNKNOWN
            mmsi = earlier.encounter.mmsi
            unheard = mmsi in lost or (mmsi in silent and _only_reckoned(earlier.encounter))
            if (blind or unheard) and not past:
                reasons = outlook.reasons if outlook and blind else ("her AIS fell silent",)
                found[key] = replace(earlier, unknown=True, validity=Validity.UNKNOWN, reasons=reasons)
        return list(found.values())

    def _passing(
        self, passing: PassingOutlook, estimate: LoadEstimate, stay: StayState, now: datetime
    ) -> Situation:
        encounter, facts = passing.encounter, passing_facts(passing, estimate, stay, now)
        call = facts.call(self.alerts)
        overlap = encounter.overlap_from or encounter.earliest_at
        clear_by = overlap - timedelta(seconds=self.alerts.timing.clear_decks_before)
        return Situation(
            f"passing:{encounter.mmsi}",
            Matter.PASSING,
            call.level,
            call.holds,
            unknown=call.unknown,
            urgent=call.urgent,
            due=call.due,
            at=encounter.abeam_at,
            until=encounter.overlap_to or encounter.latest_at,
            clear_by=clear_by,
            lines=passing.lines[:6],
            encounter=encounter,
            validity=passing.validity,
            reasons=passing.reasons,
            people_on_deck=stay.deck_manned,
            odds=passing.odds,
            chance=facts.chance,
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

    def _brakes(self, stay: StayState) -> list[Situation]:
        """Lines that brakes may have let out by the estimate, until somebody looks and says. One alert for all:
        they go together. A line that was told to have rendered has its own."""
        slips = [slip for slip in stay.slips if stay.lines.get(slip.line) != "rendered"]
        if not slips:
            return []
        names = ", ".join(slip.line for slip in slips)
        each = tuple(f"{slip.line} by {metres_in_words(slip.out_m.low, slip.out_m.high)}" for slip in slips)
        level = Priority.WARNING
        return [Situation("brakes", Matter.LINE, level, level, subject=names, facts=(MAY_HAVE, *each))]

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


def _only_reckoned(encounter: Encounter) -> bool:
    """Whether she was not heard since she was due abreast: that she is past by now is reckoned, not seen."""
    due = encounter.overlap_from or encounter.earliest_at
    return encounter.at - timedelta(seconds=encounter.fix_age_s) < due


def _slow(
    key: str,
    call: Call,
    at: datetime,
    lines: Sequence[LineLoad],
    wind: WindEstimate,
    outlook: Outlook,
    stay: StayState,
) -> Situation:
    """A load that comes with the hours, if nobody tends."""
    return Situation(
        key,
        Matter.AHEAD,
        call.level,
        call.holds,
        at=at,
        lines=tuple(lines[:6]),
        wind=wind,
        validity=outlook.validity,
        reasons=outlook.reasons,
        people_on_deck=stay.deck_manned,
    )


def _blind(outlook: Outlook) -> Situation:
    """Nothing is known of what comes: that is no empty river."""
    return Situation(
        f"own:{OUTLOOK}",
        Matter.OWN,
        Priority.WARNING,
        Priority.WARNING,
        at=outlook.at,
        subject=OUTLOOK,
        facts=outlook.reasons[:1],
    )
