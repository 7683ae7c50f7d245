"""Ships that pass us at the same time: what the one does to our lines comes on top of what the other does.

When each is worked out, the other is not there. How their loads fall together hangs on seconds that nobody
foretells: two that meet abreast of us may spare a spring or load it twice. So the upper end takes the peaks of
both, as far as the chance of it goes; so does the middle where it is likely.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from statistics import NormalDist
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.hulls import NORMAL_95
from monitor.records.estimates import Encounter, LineLoad, PassingOutlook, Validity
from monitor.watch.expected import MATTERS
from monitor.watch.moored import Holding
from monitor.watch.sharing import renders_n

MORE: Final = 1.1  # times a line's upper end: from there on a load left out is worth a word (ours)
LIKELY: Final = 0.5  # of passing at the same time: from there on the middle takes the peaks of both, too (ours)
TAIL: Final = 0.05  # beyond the upper end of a band
_LEAST_M_S: Final = 0.5  # slower ones are taken to pass at this speed (ours)


def in_company(
    passings: Sequence[PassingOutlook], holding: Holding, rest: Callable[[], Sequence[LineLoad]]
) -> tuple[PassingOutlook, ...]:
    """The passes, each as worked out for itself, with what others add that may come at the same time.

    `rest`: the lines without any of them; asked for only when there is company.
    """
    own_loa_m = holding.moored.settings.ship.loa
    found = []
    for one in passings:
        chances = (
            (other, chance_together(one.encounter, other.encounter, own_loa_m))
            for other in passings
            if other is not one
        )
        together = [(other, chance) for other, chance in chances if chance > TAIL]
        found.append(_on_top(one, together, holding, rest()) if one.lines and together else one)
    return tuple(found)


def _by_guess(encounter: Encounter) -> bool:
    """Whether her load rests on a size or a tow that nobody told: each tug beside a tanker would bring a barge."""
    return any(name == "length" or "tow" in name for name in encounter.assumed)


def chance_together(one: Encounter, other: Encounter, own_loa_m: float) -> float:
    """Chance that the other ship passes us, and near enough in time to be felt with this one: they come abeam
    within the mean of their times abreast of us (ours; sway reaches about as far as the hulls, surge less)."""
    half_s = 0.5 * sum(
        (each.length_m.mid + own_loa_m) / max(each.speed_ground_m_s.mid, _LEAST_M_S) for each in (one, other)
    )
    spread_s = math.hypot(
        *((each.latest_at - each.earliest_at).total_seconds() / (2.0 * NORMAL_95) for each in (one, other))
    )
    apart = NormalDist((other.abeam_at - one.abeam_at).total_seconds(), max(spread_s, 1.0))
    return other.passes * (apart.cdf(half_s) - apart.cdf(-half_s))


def _on_top(
    one: PassingOutlook,
    together: Sequence[tuple[PassingOutlook, float]],
    holding: Holding,
    rest: Sequence[LineLoad],
) -> PassingOutlook:
    at_rest_n, alone_n = _tensions_n(rest, holding), _tensions_n(one.lines, holding)
    if at_rest_n is None or alone_n is None:  # a line was added or made fast since
        return one
    tension_n, added, why = alone_n.copy(), [], []
    for other, chance in together:
        name = other.encounter.name or f"MMSI {other.encounter.mmsi}"
        others_n = _tensions_n(other.lines, holding)
        if others_n is None:
            why.append(f"may pass together with {name}, whose load is not known: it is not added")
            continue
        with_both_n = _with(tension_n, np.maximum(others_n - at_rest_n, 0.0), chance)
        if _by_guess(other.encounter):
            if (with_both_n[2] > MORE * tension_n[2]).any():
                why.append(f"may pass together with {name}, whose size or tow is guessed: her load is not added")
        elif (with_both_n > tension_n).any():
            tension_n = with_both_n
            added.append(name)
    if not added:
        return replace(one, validity=Validity.DEGRADED, reasons=(*one.reasons, *why)) if why else one
    tension_n = np.minimum(tension_n, np.maximum(renders_n(holding), alone_n))  # no line beyond its brake
    runs_out_m = {load.line: load.runs_out_m for load in one.lines if load.runs_out_m is not None}
    with_them = (
        f"may pass together with {' and '.join(added)}: that load is told too, but the odds are of her alone"
    )
    return replace(
        one,
        lines=holding.line_loads(tension_n[0], tension_n[1], tension_n[2], runs_out_m),
        validity=Validity.DEGRADED,
        reasons=(*one.reasons, with_them, *why),
        light_alone=one.odds is None and max(load.utilisation.high for load in one.lines) < MATTERS,
    )


def _with(tension_n: Floats, more_n: Floats, chance: float) -> Floats:
    """(3, m) with what another ship adds by such a chance, (3, m): the upper end stays the 95 % point of all that
    may come, the errors of the two being independent."""
    low_n, mid_n, high_n = tension_n
    _, more_mid_n, more_high_n = more_n
    in_tail = NormalDist().inv_cdf(1.0 - TAIL / chance) / NORMAL_95
    spread_n = np.hypot(high_n - mid_n, more_high_n - more_mid_n)
    both_n = mid_n + more_mid_n + in_tail * spread_n
    likely_n = mid_n + more_mid_n if chance >= LIKELY else mid_n
    return np.stack([low_n, likely_n, np.maximum.reduce([high_n, likely_n, both_n])])


def _tensions_n(lines: Sequence[LineLoad], holding: Holding) -> Floats | None:
    """(3, m) low, middle and high of the lines that hold; None where one of them is not told."""
    bands = {load.line: load.tension_n for load in lines}
    names = [holding.moored.names[i] for i in holding.kept]
    if any(name not in bands for name in names):
        return None
    return np.array([(bands[name].low, bands[name].mid, bands[name].high) for name in names]).T
