"""What to ask of a passing ship: how slow, or how wide, so that our lines stay below their limits.

The load of a pass is scaled up and down. For each scale the statics give each line's peak; each member keeps its
own share of the middle load and its own ratio of peak in time to peak at rest. Found is the largest scale at which
no more than the asked share of members has any line at its least known limit.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.mooring import equilibrium
from monitor.records.estimates import Encounter, PassingAdvice
from monitor.watch.counted import limit_shares
from monitor.watch.odds import Outcome
from monitor.watch.solved import Solutions

RISK: Final = 0.05  # of tests in which a line may pass its limit at what is asked of her (ours)
_SCALES: Final = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 5.0, 8.0)
_TRIED: Final = np.linspace(0.0, 2.0, 81)
_WIDER: Final = (1.6, 2.5)  # of her middle distance: further solutions


def advise(
    outcome: Outcome,
    encounter: Encounter,
    found: Solutions,
    size_at: Callable[[float], float | None],
    room_m: float,
    risk: float = RISK,
) -> PassingAdvice:
    """The advice for a pass that was marched. `size_at(separation_m)`: how great the load's peak is there, N;
    `room_m`: the widest there is room for, beyond which no distance is asked."""
    scale = tolerable(outcome, found, risk)
    if scale is None:
        return PassingAdvice(risk, None, None, "wind and stream alone may bring a line to its limit")
    if scale >= _TRIED[-1]:
        return PassingAdvice(risk, None, None, "no line comes near its limit even at twice her load")
    speed = encounter.speed_water_m_s.mid
    # The cautious power either way: the lower gains less coming down, the higher loses more going up.
    speed_m_s = speed * scale ** (1.0 / (found.powers[0] if scale < 1.0 else found.powers[1]))
    if scale >= 1.0:
        return PassingAdvice(risk, speed_m_s, None)
    apart_m = _separation(encounter, found, scale, size_at, room_m)
    distance_m = None if apart_m is None else apart_m - encounter.separation_m.mid + encounter.distance_m.mid
    return PassingAdvice(risk, speed_m_s, distance_m)


def tolerable(outcome: Outcome, found: Solutions, risk: float) -> float | None:
    """Largest scale of the passing load, up to 2, that keeps lines below their limits; None: not even nothing."""
    each, n = outcome.ensemble, len(outcome.passing)
    steady = each.wind_n[0] * each.mean_m_s[0] ** 2 + each.stream_n[0]
    loads = steady + np.multiply.outer(np.array(_SCALES), found.load[1])  # (scales, places, 3)
    rest = equilibrium(each.mooring, *loads.reshape(-1, 3).T)
    surface = np.where(rest.converged[:, None], rest.tension_n, np.inf)
    surface = surface.reshape(len(_SCALES), -1, surface.shape[1]).max(axis=1)  # (scales, m)
    at_rest = _read(surface, outcome.passing)
    # Where no place of rest was found nothing can be read off, which counts as too much, never as nothing.
    ratio = np.where(np.isfinite(at_rest), outcome.response.peak_n[-1] / np.maximum(at_rest, 1.0), np.inf)
    with np.errstate(invalid="ignore"):
        shares = [limit_shares(each.case, ratio * _read(surface, s * outcome.passing)).max(axis=1) for s in _TRIED]
    passed = np.array([float((~(share < 1.0)).mean()) for share in shares])
    fine = np.flatnonzero(passed > risk)
    if not fine.size:
        return float(_TRIED[-1])
    if fine[0] == 0 or not n:
        return None
    i = fine[0]
    return float(np.interp(risk, passed[i - 1 : i + 1], _TRIED[i - 1 : i + 1]))


def _read(surface: Floats, scale: Floats) -> Floats:
    """Tensions (n, m) of the surface at scales (n,)."""
    return np.stack([np.interp(scale, _SCALES, surface[:, j]) for j in range(surface.shape[1])], axis=1)


def _separation(
    encounter: Encounter,
    found: Solutions,
    scale: float,
    size_at: Callable[[float], float | None],
    room_m: float,
) -> float | None:
    """Distance between centre lines at which the load is `scale` of the middle one; None beyond the last tried or
    where there is no room for it."""
    apart_m = list(found.separation_m[1:])
    sizes = [float(np.hypot(curve[:, 0], curve[:, 1]).max()) for curve in found.load[1:]]
    wanted = scale * sizes[0]
    for wider in _WIDER:
        if sizes[-1] <= wanted:
            break
        tried_m = min(wider * encounter.separation_m.mid, room_m)
        size = size_at(tried_m)
        if size is not None and tried_m > apart_m[-1]:
            apart_m.append(tried_m)
            sizes.append(size)
    if sizes[-1] > wanted:
        return None
    log_size, log_apart = np.log(np.maximum(sizes, 1.0))[::-1], np.log(apart_m)[::-1]
    wide_m = float(np.exp(np.interp(np.log(max(wanted, 1.0)), log_size, log_apart)))
    return wide_m if wide_m <= room_m else None
