"""From draws to the table, by a rule settled before the first run.

In time: a notice of the cause, at the level expected or above, came at least `lead_needed` before the event.
Agrees: the lower end of the Wilson 95 % interval of the share in time is above one half (and no draw was told as
"good" where the case lies outside the models). Disagrees: the upper end is below one half. Else: open. Where no
passing alert may come, a single draw with one disagrees; the tide counts as told by a caution.
The draws are not the accident: each share says how often the watch would have told among all that we do not know.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np

from monitor.base.units import knots
from monitor.outlet.wording import line_of
from monitor.records.events import Priority
from monitor.watch.scores import wilson
from tests.cases.case import Case, ranks
from tests.cases.play import Outcome

TELLING: Final = 0.5  # rank correlation from which an input is named: 0.44 is chance once in twenty of 20 draws


def expected_level(case: Case) -> Priority:
    """The least level that counts as told."""
    return Priority(case.expected) if case.expected in ("alarm", "warning") else Priority.CAUTION


def in_time(case: Case, outcomes: Sequence[Outcome]) -> int:
    """Draws told in time."""
    level = expected_level(case).value
    return sum(each.lead_min.get(level, -1.0) >= case.lead_needed_s / 60.0 for each in outcomes)


def verdict(case: Case, outcomes: Sequence[Outcome]) -> str:
    """By the rule above."""
    told = in_time(case, outcomes)
    low, high = wilson(told, len(outcomes)) or (0.0, 1.0)
    agrees = "yes" if low > 0.5 else "no" if high < 0.5 else "open"
    if case.matter == "slow load" and case.expected not in ("alarm", "warning"):
        blamed = sum(each.passing is not Priority.NONE for each in outcomes)
        if blamed:
            return f"no: she is blamed in {blamed}"
        return f"{agrees}: she is blamed in none, the tide told in {told}"
    if case.doubtful and any("good" in each.validity for each in outcomes):
        return "no: told as if the models held"
    return agrees


def row(case: Case, outcomes: Sequence[Outcome]) -> str:
    """One line of the table."""
    n = len(outcomes)
    level = expected_level(case).value
    leads = [each.lead_min[level] for each in outcomes if level in each.lead_min]
    cells = [
        case.case,
        str(n),
        _share(sum("alarm" in each.lead_min for each in outcomes), n),
        _share(sum("warning" in each.lead_min for each in outcomes), n),
        _share(sum("caution" in each.lead_min for each in outcomes), n),
        _spread(leads),
        f"{_share(in_time(case, outcomes), n)} ({_minutes(case.lead_needed_s / 60.0)})",
        _marks(outcomes),
        _limited(outcomes),
        "; ".join(drivers(case, outcomes)) or "no single one",
        case.expected,
        verdict(case, outcomes),
        case.unknown,
    ]
    return "| " + " | ".join(cells) + " |"


HEAD: Final = (
    "| case | draws | ALARM before it | WARNING or more | any | lead at the level expected, min: median (10–90 %) "
    "| in time (needed) | marked | heaviest line limited by | what decides how heavy | expected | agrees "
    "| unknown |\n"
    "|---|---|---|---|---|---|---|---|---|---|---|---|---|"
)


def drivers(case: Case, outcomes: Sequence[Outcome]) -> list[str]:
    """The two inputs whose ranks go most with the highest utilisation, with their correlation."""
    used = ranks([each.used for each in outcomes])
    found = []
    for name, fact in case.facts.items():
        mine = ranks([str(v) if isinstance(v, bool | list) else v for v in (o.drawn[name] for o in outcomes)])
        if not fact.certain and np.ptp(mine) > 0.0 and np.ptp(used) > 0.0:
            found.append((float(np.corrcoef(mine, used)[0, 1]), name))
    found.sort(key=lambda each: -abs(each[0]))
    return [f"{name.replace('_', ' ')} {rho:+.2f}" for rho, name in found[:2] if abs(rho) >= TELLING]


def remarks(case: Case, outcomes: Sequence[Outcome]) -> Iterable[str]:
    """What the table has no room for: sounds, squall notices, winds at the alarm, notices as read aloud."""
    if sounds := [each.sounds_after_alarm for each in outcomes if each.alarm is not None]:
        yield f"notices after the first alarm, until the event: median {np.median(sounds):g}, most {max(sounds)}"
        dropped = sum(each.dropped for each in outcomes)
        yield f"the alarm fell again before the event in {dropped} of {len(sounds)} draws"
    if rising := [each.rising for each in outcomes if each.rising is not None]:
        yield f"told as rising fast in {len(rising)} of {len(outcomes)} draws, {_spread(rising)} min before"
    if winds := [each.wind_at_alarm for each in outcomes if each.wind_at_alarm is not None]:
        mean, now, gust = (knots(float(np.median(each))) for each in zip(*winds, strict=True))
        yield (
            f"at the alarm (median, at 10 m): mean of ten minutes {mean:.0f} kn, "
            f"30 s {now:.0f} kn, gust {gust:.0f} kn"
        )
    for reason, count in Counter(reason for each in outcomes for reason in each.reasons).most_common(6):
        yield f"doubt told in {count} of {len(outcomes)} draws: {reason}"
    middle = sorted(outcomes, key=lambda each: each.used)[len(outcomes) // 2]
    for name, notice in (("first notice", middle.first), ("alarm", middle.alarm)):
        if notice is not None:
            yield f"{name} (the middle draw), {notice.at:%H:%M}: {line_of(notice)}"


def _share(hits: int, of: int) -> str:
    low, high = wilson(hits, of) or (0.0, 1.0)
    return f"{hits / of:.2f} ({low:.2f}–{high:.2f})"


def _spread(values: Sequence[float]) -> str:
    if not values:
        return "–"
    tenth, middle, ninth = np.percentile(values, (10, 50, 90))
    return f"{_minutes(middle)} ({_minutes(tenth)}–{_minutes(ninth)})"


def _minutes(minutes: float) -> str:
    return f"{minutes:.0f}" if abs(minutes) >= 10.0 else f"{minutes:.1f}"


def _marks(outcomes: Sequence[Outcome]) -> str:
    count = Counter(mark for each in outcomes for mark in each.validity)
    return ", ".join(f"{mark} {n}" for mark, n in sorted(count.items())) or "no alert"


def _limited(outcomes: Sequence[Outcome]) -> str:
    kinds = Counter(each.limited_by.split(" ")[0] or "–" for each in outcomes)
    return ", ".join(f"{kind} {n}" for kind, n in kinds.most_common(3))
