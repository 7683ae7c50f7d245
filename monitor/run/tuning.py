"""Tuning: many alert profiles near the one in force, scored on what happened, and one of them recommended.

Nothing is written here: see `adopting`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final

from monitor.records.events import Priority
from monitor.records.tuned import AS_IS, Advice, Recipe, Scored, Tally, Verdict
from monitor.run.adopting import MOST_DELAY_STEP_S, too_far
from monitor.run.kept import Kept
from monitor.run.truth import Rules, acted, events_of, occasions_of
from monitor.settings.schema import Alerts, Levels
from monitor.watch.matching import Event, Fate, episodes, match, merged_events, told
from monitor.watch.profiles import Sweep
from monitor.watch.scores import FLAT, Prior, Table, borrowed, percentile, wilson

TARGET_POD: Final = 0.95  # with the lead that is needed
FEW: Final = 20  # events below which a berth alone cannot be told, and no level is raised or delayed
MOST_BORROWED: Final = 10.0  # events that other berths may weigh
EVERY_THIRD: Final = 3  # stay is kept apart for the test
LEVELS: Final = (Priority.WARNING, Priority.ALARM)
Pair = tuple[Tally, Tally]


# --- recipes ------------------------------------------------------------------------------------------------


def near() -> list[Recipe]:
    """All that one step allows: 225 profiles round the one in force, that one among them."""
    factors, shares = (0.9, 0.95, 1.0, 1.05, 1.1), (0.9, 1.0, 1.1)
    delays_s = (-MOST_DELAY_STEP_S, 0.0, MOST_DELAY_STEP_S)
    return [Recipe(*each) for each in product(factors, factors, shares, delays_s)]


def wide() -> list[Recipe]:
    """For the drawn trade-off only: levels and odds together, from half to twice."""
    return [Recipe(factor, factor, factor, 0.0) for factor in (round(0.5 + 0.1 * n, 1) for n in range(16))]


def applied(recipe: Recipe, present: Alerts, alarm_cap: float) -> Alerts | None:
    """The profile of a recipe, in tenths of a percent; None when it would not be sound (levels must rise, people
    on deck never raise them)."""

    def levels(now: Levels) -> Levels:
        caution, warning = (_share(getattr(now, key), recipe.warning) for key in ("caution", "warning"))
        alarm = min(_share(now.alarm, recipe.alarm), _down(alarm_cap))
        return now.model_copy(update={"caution": caution, "warning": warning, "alarm": alarm})

    usual, manned, odds = levels(present.levels), levels(present.with_people), present.odds
    if odds is not None:
        shares = {key: _share(getattr(odds, key), recipe.odds) for key in ("caution", "warning")}
        odds = odds.model_copy(update=shares)
    delay_s = max(0.0, present.timing.raise_after + recipe.delay_s)
    timing = present.timing.model_copy(update={"raise_after": delay_s})
    rising = all(each.caution < each.warning < each.alarm for each in (usual, manned))
    earlier = all(getattr(manned, key) <= getattr(usual, key) for key in ("caution", "warning", "alarm"))
    if not rising or not earlier or timing.deadband >= manned.caution or max(usual.alarm, manned.alarm) > 1.0:
        return None
    if odds is not None and not odds.caution < odds.warning <= 1.0:
        return None
    return present.model_copy(update={"levels": usual, "with_people": manned, "odds": odds, "timing": timing})


def _share(now: float, factor: float) -> float:
    """Rounded towards the present, so that no rounding makes the step longer."""
    if factor == 1.0:
        return now
    tenths = round(now * factor * 1000.0, 6)
    return (math.floor(tenths) if factor > 1.0 else math.ceil(tenths)) / 1000.0


def _down(share: float) -> float:
    return math.floor(round(share * 1000.0, 6)) / 1000.0


# --- scoring ------------------------------------------------------------------------------------------------


def tallies(
    kept: Kept, recipes: Sequence[Recipe], present: Alerts, rules: Rules, logged: Iterable[Event] = ()
) -> dict[Recipe, Pair]:
    """Each recipe on one recording: (WARNING against strained, ALARM against severe events).

    Raises ValueError when the recording was worked out with another fixed part (squall and so on).
    """
    about = kept.about
    profiles = {recipe: applied(recipe, present, about.alarm_cap) for recipe in recipes}
    sound = {recipe: profile for recipe, profile in profiles.items() if profile is not None}
    sweep = Sweep(kept.steps, [kept.settings.alerts, *sound.values()])
    events = events_of(about, logged)
    occasions, did, hours = occasions_of(about, rules), acted(about), sweep.hours
    of_level = {level: merged_events(events, level is Priority.ALARM) for level in LEVELS}
    found: dict[Recipe, Pair] = {}
    for recipe, profile in sound.items():
        changes = sweep.transitions(profile)
        pair = []
        for level in LEVELS:
            outcome = match(of_level[level], episodes(changes, level, about.ends), occasions, did)
            hits, late, stale, missed = map(outcome.count, (Fate.HIT, Fate.LATE, Fate.STALE, Fate.MISSED))
            false, mitigated, quiet = len(outcome.false), len(outcome.mitigated), outcome.quiet
            asked, leads_s = told(changes, level), outcome.leads_s
            pair.append(Tally(level, hits, late, stale, missed, false, mitigated, quiet, asked, hours, leads_s))
        found[recipe] = pair[0], pair[1]
    return found


def summed(tallied: Iterable[Mapping[Recipe, Pair]]) -> dict[Recipe, Pair]:
    """Over recordings; recipes that are not sound in all of them are left out."""
    total: dict[Recipe, Pair] | None = None
    for one in tallied:
        if total is None:
            total = dict(one)
            continue
        shared = [recipe for recipe in total if recipe in one]
        total = {each: (total[each][0] + one[each][0], total[each][1] + one[each][1]) for each in shared}
    return total or {}


def scored(recipe: Recipe, tally: Tally, prior: Prior) -> Scored:
    """A tally with its scores; late is a miss, mitigated alerts are left out of FAR unless it says so."""
    table = Table(tally.hits, tally.false_alarms, tally.not_in_time, tally.quiet)
    all_false = Table(tally.hits, tally.false_alarms + tally.mitigated, tally.not_in_time, tally.quiet)
    return Scored(
        recipe,
        tally,
        table.pod,
        wilson(tally.hits, tally.events),
        prior.with_counts(tally.hits, tally.events),
        table.far,
        wilson(tally.false_alarms, tally.hits + tally.false_alarms),
        all_false.far,
        table.pofd,
        table.csi,
        table.sedi,
        percentile(tally.leads_s, 0.5),
        percentile(tally.leads_s, 0.1),
    )


# --- recommending -------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Stay:
    """The recordings of one stay, tallied together."""

    name: str
    berth: str
    tallies: Mapping[Recipe, Pair]


def split(stays: Sequence[Stay]) -> tuple[list[Stay], list[Stay]]:
    """(fit, test): every third stay in their order is kept for the test; of fewer than three none is."""
    if len(stays) < EVERY_THIRD:
        return list(stays), []
    test = list(stays[EVERY_THIRD - 1 :: EVERY_THIRD])
    return [stay for stay in stays if stay not in test], test


def recommend(stays: Sequence[Stay], others: Sequence[Stay], present: Alerts, alarm_cap: float) -> Advice:
    """The profile to go on with at a berth. `stays`: at this berth, in time order; `others`: at other berths.

    The rule, in this order: within one step of the present profile and ALARM below its cap; while there are few
    events, no level raised and nothing told later; POD of severe events by ALARM, then of strained ones by
    WARNING, as high as TARGET_POD (shrunk towards the prior); then fewest false alarms, fewest times told, and the
    smallest change. It must not do worse than the present one on the stays kept for the test.
    """
    fit, test = split(stays)
    on_fit, on_test = summed(stay.tallies for stay in fit), summed(stay.tallies for stay in test)
    elsewhere = summed(stay.tallies for stay in others)
    priors = {recipe: _priors(elsewhere.get(recipe)) for recipe in on_fit}
    events = on_fit[AS_IS][0].events
    few = events < FEW

    def allowed(recipe: Recipe) -> bool:
        if few and (max(recipe.warning, recipe.alarm, recipe.odds) > 1.0 or recipe.delay_s > 0.0):
            return False
        profile = applied(recipe, present, alarm_cap)
        return profile is not None and not too_far(present, profile, alarm_cap)

    def order(recipe: Recipe) -> tuple[float, ...]:
        (warning, alarm), prior = on_fit[recipe], priors[recipe]
        return (
            -min(TARGET_POD, prior[1].with_counts(alarm.hits, alarm.events)),
            -min(TARGET_POD, prior[0].with_counts(warning.hits, warning.events)),
            alarm.false_alarms + warning.false_alarms,
            alarm.told + warning.told,
            _far_from_present(recipe),
        )

    candidates = [recipe for recipe in on_fit if recipe == AS_IS or allowed(recipe)]
    best = min(candidates, key=order)
    verdict = Verdict.CHANGE
    if not events:
        best, verdict = AS_IS, Verdict.NO_EVENTS
    elif best == AS_IS:
        verdict = Verdict.NOTHING_BETTER
    elif on_test and _worse(on_test.get(best), on_test[AS_IS]):
        best, verdict = AS_IS, Verdict.NOT_CONFIRMED
    prior = priors[AS_IS][0]

    def both(recipe: Recipe, tallied: Mapping[Recipe, Pair]) -> tuple[Scored, Scored]:
        (warning, alarm), own = tallied[recipe], priors[recipe]
        return scored(recipe, warning, own[0]), scored(recipe, alarm, own[1])

    return Advice(
        verdict,
        best,
        both(AS_IS, on_fit),
        both(best, on_fit),
        both(AS_IS, on_test) if on_test else None,
        both(best, on_test) if on_test else None,
        len(fit),
        len(test),
        few,
        len({stay.berth for stay in others}),
        elsewhere[AS_IS][0].events if elsewhere else 0,
        prior.mean,
        prior.weight,
        len(candidates),
    )


def _priors(elsewhere: Pair | None) -> tuple[Prior, Prior]:
    """For WARNING and ALARM: from the other berths under the same recipe, or flat."""
    if elsewhere is None:
        return FLAT, FLAT
    warning, alarm = elsewhere
    return (
        borrowed(warning.hits, warning.events, MOST_BORROWED),
        borrowed(alarm.hits, alarm.events, MOST_BORROWED),
    )


def _far_from_present(recipe: Recipe) -> float:
    changed = (abs(math.log(factor)) for factor in (recipe.warning, recipe.alarm, recipe.odds))
    return sum(changed) + 0.01 * abs(recipe.delay_s) / MOST_DELAY_STEP_S


def _worse(pair: Pair | None, present: Pair) -> bool:
    """More events not warned of in time; or as many, and more false alarms."""
    if pair is None:
        return True
    misses, misses_now = (sum(tally.not_in_time for tally in each) for each in (pair, present))
    false, false_now = (sum(tally.false_alarms for tally in each) for each in (pair, present))
    return misses > misses_now or (misses == misses_now and false > false_now)


def trade_off(tallied: Mapping[Recipe, Pair]) -> Iterator[Scored]:
    """Each recipe's WARNING, for the drawing."""
    for recipe, (warning, _) in tallied.items():
        yield scored(recipe, warning, FLAT)
