"""Sentences for what comes if nobody does anything: what to tend while it is light, when the least load is
expected, chances soon and by the hour, and what follows when a line goes.

All of it is expected, never promised. Only lines that are light now are named for work; a loaded line never is.
What could not be worked out is told as NOT KNOWN: an empty list never looks like nothing to do.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Final

from monitor.base.units import knots
from monitor.outlet.drivers import chance_in_words, drivers_in_words
from monitor.outlet.wording import Local, advice_in_words, lines_in_words, percent
from monitor.records.estimates import (
    Band,
    Encounter,
    EventOdds,
    IfLost,
    LoadEstimate,
    Outlook,
    PassingAdvice,
    SoonOdds,
    ToTend,
    Untended,
    WindOutlook,
)

SMALL: Final = 0.30  # utilisation, upper end, below which no odds are worked out for the wind
NOT_KNOWN: Final = "NOT KNOWN: wind or lines are not known well enough to look ahead"
NO_LULL: Final = "None in two hours: a line is over the caution level, or a ship passes. Keep off the lines."
NEVER_FIRST: Final = "Lines that carry load are not named: never work a loaded line first."
HOLD_ON: Final = (
    "Should one line part, the others are reckoned to hold: at rest, each at the low end of its strength, without "
    "gusts and passing ships. No line can be spared for it"
)
WORTH_TELLING: Final = 0.01  # chance from which it is told what decides it and which lines would go
_LOST_TOLD: Final = 3
_ORDER_TOLD: Final = 4


def untended_in_words(ahead: Sequence[Untended], local: Local) -> list[str]:
    """ "By 1530 LT: forward springs FS1 55–62 % of working limit", for each time looked at."""
    return [f"By {local.clock(each.at)}: {lines_in_words(each.lines, groups=1)}" for each in ahead] or [NOT_KNOWN]


def tend_first_in_words(outlook: Outlook | None, local: Local) -> list[str]:
    """Light lines in the order to tend them; says so when there is none, or when that is not known."""
    if outlook is None or not outlook.untended:
        return [NOT_KNOWN]
    until = local.clock(outlook.untended[-1].at)
    told = [one_to_tend(each, until, local) for each in outlook.to_tend]
    return [*(told or [f"No line that is light now is expected to grow much heavier by {until}."]), NEVER_FIRST]


def one_to_tend(each: ToTend, until: str, local: Local) -> str:
    """ "aft spring 1, now 8–12 %: 41–55 % by 1600 LT, over the caution level from 1535 LT"."""
    now = _share(each.now)
    if each.slack:
        return f"{each.line}, now {now} of its limit: slack by {until}"
    when = "" if each.before is None else f", over the caution level from {local.clock(each.before)}"
    return f"{each.line}, now {now} of its limit: {_share(each.later)} by {until}{when}"


def lulls_in_words(outlook: Outlook | None, local: Local) -> list[str]:
    """ "1410–1430 LT, heaviest line up to 22 % of its limit": the least first. Expected, never promised."""
    if outlook is None or not outlook.untended:
        return [NOT_KNOWN]
    told = [
        f"{local.span(each.start, each.end)}, heaviest line up to {100 * each.utilisation:.0f} % of its limit"
        for each in outlook.lulls
    ]
    return told or [NO_LULL]


def soon_in_words(outlook: Outlook | None, estimate: LoadEstimate | None, local: Local) -> list[str]:
    """Chances within 5 min, 15 min, 1 h, and what they depend on; why there are none."""
    if outlook is None or estimate is None or not estimate.steady_lines:
        return [NOT_KNOWN]
    if not outlook.soon:
        heaviest = max(estimate.steady_lines, key=lambda load: load.utilisation.high)
        if heaviest.utilisation.high >= SMALL:
            return ["NOT KNOWN: the chances could not be worked out"]
        return [f"Not worked out for so little load: heaviest {heaviest.line} {percent(heaviest)} of its limit"]
    spans = "; ".join(f"within {_span(each)} {chance_in_words(each.any_over_working)}" for each in outlook.soon)
    last = outlook.soon[-1].odds
    most = drivers_in_words(last.drivers)
    told = [f"That a line passes its working limit: {spans}"]
    told += [f"{most[0].upper()}{most[1:]}"] if most else []
    return told + going_in_words(last, local)


def _span(each: SoonOdds) -> str:
    return f"{each.minutes} min" if each.minutes < 60 else f"{each.minutes // 60} h"


def going_in_words(odds: EventOdds, local: Local) -> list[str]:
    """ "If lines part, the likeliest in this order: FS2 (12 %, about 1404 LT), FS1 (…)"."""
    gone = [line for line in odds.lines if line.parts_at is not None and line.over_strength > 0.0]
    if not gone:
        return []
    likely = sorted(gone, key=lambda line: -line.over_strength)[:_ORDER_TOLD]
    order = sorted(likely, key=lambda line: (line.parts_at or odds.at, line.line))
    each = [
        f"{line.line} ({chance_in_words(line.over_strength)}, about {local.clock(line.parts_at or odds.at)})"
        for line in order
    ]
    return [f"If lines part, the likeliest in this order: {', '.join(each)}"]


def worst_hour(hours: Sequence[WindOutlook]) -> tuple[datetime, EventOdds] | None:
    """The hour of the forecast in which parting is likeliest, and its odds; None where that is below 1 %."""
    known = [(hour.at, hour.odds) for hour in hours if hour.odds is not None]
    worst = max(known, key=lambda each: each[1].any_over_strength, default=None)
    return worst if worst is not None and worst[1].any_over_strength >= WORTH_TELLING else None


def hours_going_in_words(hours: Sequence[WindOutlook], local: Local, now: datetime) -> list[str]:
    """The order in which lines would go by the worst hour of the forecast, and when."""
    worst = worst_hour(hours)
    told = going_in_words(worst[1], local) if worst else []
    return [f"By {day_clock(worst[0], local, now)}, the worst hour: i{each[1:]}" for each in told if worst]


def day_clock(at: datetime, local: Local, now: datetime) -> str:
    """ "0300 LT", "0300 LT tomorrow", "0300 LT in 2 days"."""
    days = ((at + local.ahead).date() - (now + local.ahead).date()).days
    return f"{local.clock(at)}{'' if days < 1 else ' tomorrow' if days == 1 else f' in {days} days'}"


def pass_odds_in_words(
    odds: EventOdds | None, advice: PassingAdvice | None, encounter: Encounter, local: Local
) -> list[str]:
    """The chances of one pass, what to check, the order in which lines would go, what to ask of her."""
    if odds is None:
        return ["No chances worked out: she is far off, hardly likely to pass, or her load is small or not known"]
    told = [
        f"If she passes: working limit passed {chance_in_words(odds.any_over_working)}, some limit "
        f"{chance_in_words(odds.any_over_limit)}, a line parts {chance_in_words(odds.any_over_strength)}"
    ]
    most = drivers_in_words(odds.drivers)
    told += [f"{most[0].upper()}{most[1:]}"] if most else []
    return told + going_in_words(odds, local) + asked_in_words(advice, encounter)


def asked_in_words(advice: PassingAdvice | None, encounter: Encounter) -> list[str]:
    """What to ask of her, or how much faster she might go, or why neither was found."""
    if advice is None:
        return []
    asked = advice_in_words(advice, encounter)
    if asked:
        return [f"Ask VTS or her pilot: {asked}"]
    odds = f"with odds of {100 * (1.0 - advice.risk):.0f} %"
    if advice.speed_water_m_s is not None:
        most_kn = int(2.0 * knots(advice.speed_water_m_s)) / 2.0
        return [f"Nothing to ask: {odds} lines stay below their limits up to {most_kn:.1f} kn through the water"]
    return [advice.why[:1].upper() + advice.why[1:]] if advice.why else []


def lost_in_words(lost: Sequence[IfLost]) -> list[str]:
    """What follows when a line goes, the worst first, and the two that would be missed most."""
    if not lost:
        return [NOT_KNOWN]
    single, pair = [one for one in lost if len(one.lines) == 1], [one for one in lost if len(one.lines) > 1]
    worst = [one for one in single if not one.holds or one.then] or single[:1]
    told = [one_lost(one) for one in [*worst[:_LOST_TOLD], *pair]]
    if single and all(one.holds and not one.then for one in single):
        told.insert(0, HOLD_ON)
    return told


def one_lost(one: IfLost) -> str:
    """ "If FS2 parts: next FS1 at 78 % of its strength, the rest hold"."""
    gone = f"If {' and '.join(one.lines)} part{'' if len(one.lines) > 1 else 's'}"
    if one.share is None:
        return f"{gone}: NOTHING HOLDS HER"
    after = f"{gone}: next {one.next_line} at {100 * one.share:.0f} % of its strength"
    if one.holds:
        then = (
            f", then {', '.join(one.then)} go{'es' if len(one.then) == 1 else ''} and the rest hold"
            if one.then
            else ", the rest hold"
        )
        return f"{after}{then}"
    follow = f": {', '.join(one.then[:4])} follow{'s' if len(one.then) == 1 else ''}" if one.then else ""
    return f"{after}, THE REST DO NOT HOLD{follow}"


def _share(band: Band) -> str:
    low, high = round(100 * band.low), round(100 * band.high)
    return f"{low} %" if low == high else f"{low}–{high} %"
