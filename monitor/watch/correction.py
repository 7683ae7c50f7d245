"""Measured line tensions against estimated ones: bias and spread by line, and a correction with its uncertainty.

A ratio is measured ÷ estimated (middle), taken as a logarithm. Loads in passes and loads of wind and tide come
from other models and are never mixed. Readings of one pass, or of one hour, share their errors, so such a stretch
counts once: with the median of its log ratios. A group's correction is the mean over its stretches, its 95 %
interval Student's t on as many degrees of freedom as there are stretches less one: a few long passes with a
thousand readings stay a few. What is off for the whole stay (pretension, a sensor) is off in every stretch: over
one stay the interval is good for that stay. Over several stays of a ship at a berth each stay counts once, with
the mean of its stretches, and the interval is Student's t over the stays: it holds what differs from stay to stay,
and so tells of berth and ship. A line read as slack has no ratio: such pairs count as outside the band, and a
stretch of mostly such is told apart. Nothing here ever changes an estimate.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean, median, stdev
from typing import Any, Final

from monitor.records.compared import Correction, LineBias, LoadKind
from monitor.watch.scores import NORMAL_975

LEAST_SHARE: Final = 0.05  # of its limit: below, a line is next to slack and a ratio means little (ours)
TOO_FEW: Final = 3  # stretches, or stays, below which nothing is proposed
SLACK_SHARE: Final = 0.01  # of its limit: a sensor that reads less shows a slack line (ours, as `tending.SLACK`)


@dataclass(frozen=True, slots=True)
class Pair:
    """One line at one moment. `stretch` names the pass or the hour it belongs to, `load` what loads it then;
    `inside`: the measured tension lies within the estimate's 5–95 % band; `slack`: it is next to nothing."""

    line: str
    group: str
    load: LoadKind
    stretch: str
    estimated_n: float
    measured_n: float
    inside: bool
    slack: bool = False
    stay: str = ""


def biases(pairs: Sequence[Pair]) -> tuple[LineBias, ...]:
    """By line, in the order they first come."""
    return tuple(_bias(each) for each in _by(pairs, "line").values())


def corrections(pairs: Sequence[Pair]) -> tuple[Correction, ...]:
    """By kind of load and line group, in the order they first come."""
    return tuple(
        _correction(group, load, each)
        for load, of_load in _by(pairs, "load").items()
        for group, each in _by(of_load, "group").items()
    )


def _by(pairs: Sequence[Pair], key: str) -> Mapping[Any, list[Pair]]:
    found: dict[Any, list[Pair]] = {}
    for pair in pairs:
        found.setdefault(getattr(pair, key), []).append(pair)
    return found


def _bias(pairs: Sequence[Pair]) -> LineBias:
    logs = [_log(pair) for pair in pairs]
    taut = [log for log in logs if math.isfinite(log)]
    return LineBias(
        pairs[0].line,
        pairs[0].group,
        len(pairs),
        len({pair.stretch for pair in pairs}),
        math.exp(median(logs)),
        math.exp(stdev(taut)) if len(taut) > 1 else None,
        fmean(pair.inside for pair in pairs),
        len(logs) - len(taut),
    )


def _correction(group: str, load: LoadKind, pairs: Sequence[Pair]) -> Correction:
    every = {
        stay: [median(map(_log, each)) for each in _by(of_stay, "stretch").values()]
        for stay, of_stay in _by(pairs, "stay").items()
    }
    taut = {stay: kept for stay, logs in every.items() if (kept := [log for log in logs if math.isfinite(log)])}
    stretches, count = sum(map(len, taut.values())), sum(map(len, every.values()))
    if not taut:
        return Correction(group, load, 0, len(pairs), None, None, None, len(every), count)
    means = [fmean(logs) for logs in taut.values()] if len(every) > 1 else next(iter(taut.values()))
    middle, low, high = fmean(means), None, None
    if len(means) >= TOO_FEW:
        reach = t_975(len(means) - 1) * stdev(means) / math.sqrt(len(means))
        low, high = math.exp(middle - reach), math.exp(middle + reach)
    found = math.exp(middle), low, high, len(every), count - stretches
    return Correction(group, load, stretches, len(pairs), *found)


def _log(pair: Pair) -> float:
    return -math.inf if pair.slack else math.log(pair.measured_n / pair.estimated_n)


def t_975(freedom: int) -> float:
    """97.5 % point of Student's t: closed forms for 1 and 2 degrees of freedom, else Abramowitz & Stegun 26.7.5
    (within 0.2 % from 3 on). Raises ValueError below 1."""
    if freedom < 1:
        raise ValueError("Student's t needs at least one degree of freedom")
    if freedom == 1:
        return math.tan(math.pi * 0.475)
    if freedom == 2:
        return 0.95 * math.sqrt(2.0 / (1.0 - 0.95**2))
    z, n = NORMAL_975, float(freedom)
    return (
        z
        + (z**3 + z) / (4 * n)
        + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * n**2)
        + (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / (384 * n**3)
        + (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / (92160 * n**4)
    )
