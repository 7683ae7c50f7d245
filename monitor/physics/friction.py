"""The moored ship at rest with friction along the quay: the two ends of all the places where she may lie.

Coulomb: while fenders press on her with N in all, they can hold her ahead or astern with anything up to μN. So the
place of rest is not one but a stretch, and where in it she lies depends on how she came there. Its ends are found:
friction at its full value one way, and the other. Axes and signs as in `mooring`.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.mooring import (
    BALANCE,
    BALANCE_FLOOR_N,
    NOT_SETTLED,
    SETTLED,
    Equilibrium,
    Mooring,
    equilibrium,
)

_TURNS: Final = 40


def held_by_friction(
    mooring: Mooring,
    surge_n: Floats,
    sway_n: Floats,
    yaw_n_m: Floats,
    friction: Floats | float,
    *,
    start: Floats | None = None,
) -> Equilibrium:
    """Where she lies under n loads (n,) each while friction pushes with its full value.

    `friction` (n,) or one: coefficient, positive when the fenders push her ahead, negative astern; |μ| < 1.
    `start` (n, 3): places to begin from, such as those without friction.
    Forces, friction included, balance as `equilibrium` says. Friction goes with the fenders' push, which goes with
    where she lies, so loads are put on again until both agree: the push hardly depends on surge, so each turn
    leaves a small share of the error (a secant takes most of that). Always returns: see `why`.
    """
    n = len(surge_n)
    grip = np.broadcast_to(np.asarray(friction, dtype=np.float64), (n,))
    side_m = float(mooring.fenders.starboard_m.mean()) if len(mooring.fenders.starboard_m) else 0.0
    tolerance_n = np.maximum(
        BALANCE * np.maximum(np.abs(surge_n), np.maximum(np.abs(sway_n), np.abs(yaw_n_m) / mooring.lever_m)),
        BALANCE_FLOOR_N,
    )

    def rest_under(push_n: Floats, near: Floats | None) -> tuple[Equilibrium, Floats]:
        """At rest with so much friction, and how much there should be at that place."""
        rest = equilibrium(mooring, surge_n + push_n, sway_n, yaw_n_m - side_m * push_n, start=near)
        return rest, grip * rest.fender_n.sum(axis=1)

    push_n = np.zeros(n)
    rest, wanted_n = rest_under(push_n, start)
    before_n, miss_before = push_n, wanted_n - push_n
    push_n = wanted_n
    for _ in range(_TURNS):
        push_n = np.where(rest.converged, push_n, 0.0)
        rest, wanted_n = rest_under(push_n, rest.displacement)
        miss = wanted_n - push_n
        if not (np.abs(miss[rest.converged]) > tolerance_n[rest.converged]).any():
            return rest
        bend = (miss - miss_before) / np.where(push_n == before_n, np.inf, push_n - before_n)
        by = np.where((bend < -0.2) & (bend > -5.0), -miss / np.where(bend == 0.0, 1.0, bend), miss)
        before_n, miss_before, push_n = push_n, miss, push_n + by
    late = rest.converged & (np.abs(miss) > tolerance_n)
    why = tuple(NOT_SETTLED if too else text for too, text in zip(late, rest.why, strict=True))
    gone = np.where(late, np.nan, 1.0)
    return replace(
        rest,
        displacement=rest.displacement * gone[:, None],
        tension_n=rest.tension_n * gone[:, None],
        fender_n=rest.fender_n * gone[:, None],
        residual_n=rest.residual_n * gone,
        converged=np.array([text == SETTLED for text in why], dtype=bool),
        why=why,
    )
