"""From what is estimated and expected to the facts of each situation: all that an alert profile can ask of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import Final

from monitor.base.units import KNOT_M_S
from monitor.physics.passing import MORE_WALLS
from monitor.records.estimates import (
    LineLoad,
    LoadEstimate,
    Outlook,
    PassingOutlook,
    SoonOdds,
    Validity,
    WindEstimate,
)
from monitor.records.situations import Matter, Situation
from monitor.settings.schema import Limits, WindLimit
from monitor.watch.calls import (
    AheadFacts,
    Call,
    Carried,
    Facts,
    Heaviest,
    HourFacts,
    LimitFacts,
    PassingFacts,
    WindFacts,
)
from monitor.watch.odds import overtaken
from monitor.watch.stay import StayState
from monitor.watch.water import untested

SOON: Final = timedelta(hours=2)
LOOK_AHEAD: Final = timedelta(hours=12)
NOT_NOW: Final = timedelta(minutes=45)  # an hour nearer than this is the present wind's business
SLOW_M_S: Final = 2.5 * KNOT_M_S  # her pressure field goes with speed squared: below this there is next to none
BEYOND_ADDS: Final = 0.1  # of a limit: what a ship outside the model's range must add to be worth a word (ours)
ODDS_WITHIN_MIN: Final = 15  # the chance that the wind's alert goes by


def heaviest(lines: Iterable[LineLoad]) -> Heaviest:
    """A set of lines, reduced."""
    high: float | None = None
    mids: dict[float, float] = {}
    renders = False
    for load in lines:
        used = load.utilisation
        high = used.high if high is None else max(high, used.high)
        mids[load.alarm_cap] = max(mids.get(load.alarm_cap, used.mid), used.mid)
        renders = renders or (load.runs_out_m is not None and load.runs_out_m.mid > 0.0)
    return Heaviest(high, tuple(sorted(mids.items())), renders)


def soon_odds(outlook: Outlook | None, estimate: LoadEstimate) -> SoonOdds | None:
    """The odds that the wind's alert goes by; None when the wind has overtaken them."""
    soon = outlook.soon if outlook else ()
    found = next((each for each in soon if each.minutes == ODDS_WITHIN_MIN), None)
    lines = estimate.squall_lines or estimate.steady_lines
    return None if found is None or overtaken(found.odds, lines) else found


def wind_facts(estimate: LoadEstimate, outlook: Outlook | None, stay: StayState) -> WindFacts:
    """Of this moment."""
    soon = soon_odds(outlook, estimate)
    squall = heaviest(estimate.squall_lines) if estimate.squall_lines else None
    chance = None if soon is None else soon.odds.any_over_working
    return WindFacts(stay.deck_manned, heaviest(estimate.steady_lines), squall, chance, untested(estimate.water))


def ahead_facts(wind: WindFacts | None, outlook: Outlook, now: datetime) -> AheadFacts:
    """The hours from 45 min to twelve hours ahead. Before them the wind of now is known better than any forecast,
    but tide, stream and cargo go on: the lines as they will be then, if nobody tends: hours numbered −1, −2, …"""
    hours = (
        HourFacts(
            number,
            hour.at - now <= SOON,
            heaviest(hour.lines),
            None if hour.odds is None else hour.odds.any_over_working,
        )
        for number, hour in enumerate(outlook.hours)
        if NOT_NOW <= hour.at - now <= LOOK_AHEAD
    )
    soon = (
        HourFacts(-1 - number, True, heaviest(each.lines), None)
        for number, each in enumerate(outlook.untended if outlook.hours else ())
        if timedelta(0) < each.at - now < NOT_NOW
    )
    return AheadFacts(wind, (*soon, *hours))


def untended_facts(wind: WindFacts, outlook: Outlook, now: datetime) -> AheadFacts:
    """Without a forecast: tide, stream and cargo of the next two hours in the wind of now, if nobody tends."""
    later = outlook.untended if not outlook.hours else ()
    hours = (
        HourFacts(number, each.at - now <= SOON, heaviest(each.lines), None)
        for number, each in enumerate(later)
        if each.at > now
    )
    return AheadFacts(wind, tuple(hours))


def passing_facts(passing: PassingOutlook, estimate: LoadEstimate, stay: StayState, now: datetime) -> PassingFacts:
    """Of a pass as it is expected at `now`."""
    encounter = passing.encounter
    steady = {load.line: load.utilisation for load in estimate.steady_lines}
    adds = [
        max(load.utilisation.high - steady[load.line].high, load.utilisation.mid - steady[load.line].mid)
        for load in passing.lines
        if load.line in steady
    ]
    return PassingFacts(
        stay.deck_manned,
        heaviest(passing.lines),
        max(adds, default=None),
        None if passing.odds is None else encounter.passes * passing.odds.any_over_working,
        passing.validity is Validity.UNKNOWN and encounter.speed_water_m_s.high > SLOW_M_S,
        encounter.passes,
        ((encounter.overlap_from or encounter.earliest_at) - now).total_seconds(),
        passing.odds.any_over_limit if passing.odds else 0.0 if passing.light_alone else None,
        # Between more walls than the model has, her load may be any multiple of what is told.
        passing.beyond and (MORE_WALLS in passing.reasons or max(adds, default=0.0) >= BEYOND_ADDS),
        {"length", "beam"}.issubset(encounter.assumed),
        encounter.newly_heard,
    )


def limit_facts(limit: WindLimit, wind: WindEstimate) -> LimitFacts | None:
    """None while that wind is not known. The nearest averaging time we have that is no longer: a shorter one reads
    higher."""
    if limit.averaging >= 600.0:
        speed_m_s = wind.mean_m_s
    elif limit.averaging >= 30.0:
        speed_m_s = None if wind.speed_30s_m_s is None else wind.speed_30s_m_s.mid
    else:
        speed_m_s = wind.gust_m_s
    return None if speed_m_s is None else LimitFacts(speed_m_s, limit.speed)


def facts_of(
    situations: Mapping[str, Situation],
    estimate: LoadEstimate,
    outlook: Outlook | None,
    stay: StayState,
    limits: Limits,
    now: datetime,
) -> dict[str, Facts]:
    """The facts behind the situations of a tick, by key. The hours ahead stand among them told or not, apart
    from the wind."""
    wind = wind_facts(estimate, outlook, stay)
    alongside = {craft.mmsi for craft in stay.craft}
    expected = {f"passing:{each.encounter.mmsi}": each for each in outlook.passings} if outlook else {}
    found: dict[str, Facts] = {}
    for key, told in situations.items():
        match told.matter:
            case Matter.WIND:
                found[key] = wind
            case Matter.AHEAD:
                pass  # below, told or not
            case Matter.PASSING:
                passing = expected.get(key)
                heard = passing is not None and passing.encounter.mmsi not in alongside
                found[key] = passing_facts(passing, estimate, stay, now) if passing and heard else Carried()
            case Matter.LIMIT:
                found[key] = limit_facts(getattr(limits, told.subject), estimate.wind) or Carried()
            case _:
                found[key] = Call(told.level, told.holds, told.unknown, told.urgent, told.due)
    if stay.moored:
        known = outlook is not None and outlook.hours
        found["ahead"] = ahead_facts(None, outlook, now) if outlook and known else Carried(if_told=True)
        if outlook and outlook.untended and not known:
            found["untended"] = untended_facts(wind, outlook, now)
    return found
