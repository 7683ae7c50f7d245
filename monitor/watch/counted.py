"""Odds as members counted: how many of the truths of an event pass a limit, in one account for all limits.

A line that parts has passed its working limit, wherever its strength lies: a bent, worn one may part below 50 % of
its design MBL, and nobody should read that it parts more likely than it is overloaded. So no line is ever told
likelier to part than to pass its working limit, and no event likelier than any of its lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.strength import utilisation, working_limit_n
from monitor.records.estimates import Band, EventOdds, LineOdds
from monitor.watch.draws import drivers
from monitor.watch.ensemble import Case

_AT_ITS_BRAKE: Final = 1.0 - 1e-9  # a brake holds the tension at its setting, to rounding


def counted(
    case: Case,
    peak_n: Floats,
    render_n: Floats | float,
    strength_n: Floats | float,
    inputs: dict[str, Floats],
    *,
    static_n: Floats | None = None,
    dynamic_n: Floats | None = None,
    parts_at: Sequence[datetime | None] | None = None,
) -> EventOdds:
    """The odds of an event from the peaks (n, m) of its members' lines, a parted line's being its strength.

    `render_n`, `strength_n` (n, m): tensions at which brakes render (inf without) and lines part. `static_n`,
    `dynamic_n` (m,): peaks of the middle member. `parts_at`: by line, when it would go.
    """
    moored, kept = case.holding.moored, case.holding.kept
    working_n = np.array(
        [working_limit_n(moored.limits[i].ship_design_mbl_n, moored.limits[i].material) for i in kept]
    )
    parts = peak_n >= strength_n
    over = (peak_n >= working_n) | parts
    renders = peak_n >= np.asarray(render_n) * _AT_ITS_BRAKE
    bands = np.percentile(peak_n, [5.0, 50.0, 95.0], axis=0)
    lines = [
        LineOdds(
            moored.names[i],
            moored.groups[i],
            Band(*map(float, bands[:, j])),
            float(over[:, j].mean()),
            None if moored.renders_n[i] is None else float(renders[:, j].mean()),
            float(parts[:, j].mean()),
            None if static_n is None or not np.isfinite(static_n[j]) else float(static_n[j]),
            None if dynamic_n is None else float(dynamic_n[j]),
            None if parts_at is None else parts_at[j],
        )
        for j, i in enumerate(kept)
    ]
    worst = limit_shares(case, peak_n).max(axis=1)
    return EventOdds(
        case.at,
        len(peak_n),
        tuple(sorted(lines, key=lambda line: (-line.over_working, -line.tension_n.high, line.line))),
        float(over.any(axis=1).mean()),
        float(((worst >= 1.0) | over.any(axis=1)).mean()),
        float(parts.any(axis=1).mean()),
        drivers(inputs, worst),
    )


def limit_shares(case: Case, peak_n: Floats) -> Floats:
    """Peaks (n, m) ÷ the least known limit; a bollard's with the peaks of all lines on it as if at one time."""
    return utilisation(peak_n, [case.holding.moored.limits[i] for i in case.holding.kept]).share
