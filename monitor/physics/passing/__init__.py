"""Loads on a moored ship from another that passes: `passing_load` is the one door, whatever model stands behind."""

from __future__ import annotations

import numpy as np

from monitor.physics.hulls import Hull
from monitor.physics.passing.encounter import Basin, PassingLoad, Track, review
from monitor.physics.passing.slender import shortfall, slender_body_load
from monitor.records.estimates import Validity

__all__ = ["Basin", "PassingLoad", "Track", "passing_load"]

READS_LOW = "slender-body model: reads low close in and in shallow water"


def passing_load(moored: Hull, passer: Hull, track: Track, basin: Basin) -> PassingLoad:
    """Surge, sway and yaw (n,) on the moored ship, held still, along a passing ship's track.

    Never better than DEGRADED, because the slender-body model reads low: at 1.2 times the draught of water the
    sway is about half of what it should be, at 1.1 times about a third. UNKNOWN, with NaN at the points concerned,
    where the hulls would overlap, the track crosses the quay, a ship would be aground, her own waves rule, or the
    track is incomplete; the reasons say which.
    """
    found = review(moored, passer, track, basin)
    with np.errstate(all="ignore"):  # overlapping hulls can meet a source; those points become NaN below
        load = slender_body_load(moored, passer, track, basin)
    surge_n, sway_n, yaw_n_m = (
        np.where(found.usable, each, np.nan) for each in (load.surge_n, load.sway_n, load.yaw_n_m)
    )
    return PassingLoad(
        surge_n,
        sway_n,
        yaw_n_m,
        Validity.worst(found.validity, Validity.DEGRADED),
        (READS_LOW, *found.reasons),
        (0.8, 1.0 / (1.0 - shortfall(basin.depth_m / moored.draught_m))),
    )
