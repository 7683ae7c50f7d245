"""Loads on a moored ship from another that passes: `passing_load` is the one door, whatever model is behind it."""

from __future__ import annotations

import numpy as np

from monitor.physics.hulls import Hull
from monitor.physics.passing.encounter import Basin, PassingLoad, Track, review
from monitor.physics.passing.slender import shortfall, slender_body_load
from monitor.records.estimates import Validity

__all__ = ["Basin", "PassingLoad", "Track", "passing_load"]

# A craft with less of our volume than this moves no water that our lines could feel: sections go with volume to
# the power 2/3, so her load is under 2 % of that of our like. (Her waves are another matter, and not modelled.)
NEGLIGIBLE_VOLUME = 0.002
READS_LOW = "slender-body model: reads low close in and in shallow water"


def passing_load(moored: Hull, passer: Hull, track: Track, basin: Basin) -> PassingLoad:
    """Surge, sway and yaw (n,) on the moored ship, held still, along a passing ship's track.

    Never better than DEGRADED, because the slender-body model reads low: at 1.2 times the draught of water the
    sway is about half of what it should be, at 1.1 times about a third. UNKNOWN, with NaN at the points concerned,
    where the hulls would overlap, the track crosses the quay, a ship would be aground, her own waves rule, or the
    track is incomplete; the reasons say which. A craft too small to matter loads nothing, wherever she is.
    """
    found = review(moored, passer, track, basin)
    if passer.volume_m3 < NEGLIGIBLE_VOLUME * moored.volume_m3 and not found.incomplete:
        nothing = np.zeros_like(track.x_m)
        return PassingLoad(nothing, nothing, nothing, Validity.GOOD, (), (1.0, 1.0))
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
        (0.8, 1.0 / (1.0 - shortfall(basin.depth_m / max(moored.draught_m, passer.draught_m)))),
    )
