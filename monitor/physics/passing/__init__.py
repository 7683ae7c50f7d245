"""Loads on a moored ship from another that passes: `passing_load` is the one door, whatever model is behind it."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from monitor.base.frames import Floats
from monitor.base.units import GRAVITY_M_S2
from monitor.physics.hulls import Hull
from monitor.physics.loads import Loads
from monitor.physics.passing.encounter import (
    ABOVE_LIMIT,
    FAR_BANK,
    LIGHT_BUT_FAST,
    MORE_WALLS,
    NEAR_LIMIT,
    NO_ROOM,
    WAVES_COUNT,
    Basin,
    PassingLoad,
    Track,
    review,
)
from monitor.physics.passing.far_bank import blocked, images
from monitor.physics.passing.long_waves import under_a_lid
from monitor.physics.passing.rounded import panel_load
from monitor.physics.passing.slender import shortfall, slender_body_load
from monitor.records.estimates import Validity

__all__ = ["FAR_BANK", "MORE_WALLS", "Basin", "PassingLoad", "Track", "passing_load"]

# A craft with less of our volume than this moves no water that our lines could feel: sections go with volume to
# the power 2/3, so her load is under 2 % of that of our like. (Her waves are another matter, and not modelled.)
NEGLIGIBLE_VOLUME: Final = 0.002
# The truth over the load given, 5 to 95 %: judgement, for no model test could be had. Of it the panels make 3 %.
CHECKED: Final = (0.85, 1.2)
DOUBTFUL: Final = (0.7, 1.5)
AT_THE_LIMIT: Final = 2.2  # times the drawdown at nine tenths of the limiting speed (Schijf, 15 % blocked)
FAST: Final = (0.8, 1.35)  # the long waves are in it; the shorter ones add up to a fifth (ours)
# A light craft whose waves rule. Her pressure: sinkage of slender models at the critical speed is up to 3 times
# what V² makes of that at low speed (Graff, Kracht & Weinblum 1964, from memory). Her waves push no harder than
# it costs her to make them: at most a fifth of her weight, at the hump of resistance (common practice, no
# source). Of craft below 0.5 % of our volume that is under 0.1 % of our weight, what a breeze does, and left out.
NEAR_CRITICAL: Final = 3.0
WAVES_PUSH: Final = 0.2
WAVES_PUSH_FROM: Final = 0.005
READS_LOW: Final = "slender-body model where the hulls nearly touch: reads low"


def passing_load(moored: Hull, passer: Hull, track: Track, basin: Basin) -> PassingLoad:
    """Surge, sway and yaw (n,) on the moored ship, held still, along a passing ship's track.

    Of rigid-lid flow, stretched for her depth Froude number (`long_waves`), with what a known far bank sends back
    (`far_bank`): by panels (`rounded`) within 2.2 mean lengths along her line; slender-body theory beyond, where 1
    to 4 % of the peak is left, and where the hulls nearly touch, which is then said. GOOD in the range checked:
    depth from 1.1 draughts, gap from half a beam, depth Froude number up to 0.4, a channel no narrower than the
    ships are long. DEGRADED outside it. UNKNOWN, with NaN at the points concerned, where the hulls would overlap,
    the track crosses the quay, a ship would be aground, her own waves
    rule (but for a light craft, whose load then has a wide band), or the track is incomplete. The reasons say
    which. A craft too small to matter loads nothing, wherever she is.
    """
    found = review(moored, passer, track, basin)
    if passer.volume_m3 < NEGLIGIBLE_VOLUME * moored.volume_m3 and not found.incomplete:
        nothing = np.zeros_like(track.x_m)
        return PassingLoad(nothing, nothing, nothing, Validity.GOOD, (), (1.0, 1.0))
    if not found.usable.any():
        nothing = np.full(track.x_m.shape, np.nan)
        return PassingLoad(nothing, nothing, nothing, found.validity, found.reasons, DOUBTFUL)
    track = track.only(found.usable)
    load, nearly_touch = _before_one_wall(moored, passer, track, basin, found.usable)
    validity, reasons = found.validity, found.reasons
    band = CHECKED if validity is Validity.GOOD else FAST if reasons == (WAVES_COUNT,) else DOUBTFUL
    if nearly_touch:
        validity, reasons = Validity.worst(validity, Validity.DEGRADED), (READS_LOW, *reasons)
        low = shortfall(basin.depth_m / max(moored.draught_m, passer.draught_m))
        band = (DOUBTFUL[0], max(band[1], 1.0 / (1.0 - low)))
    if LIGHT_BUT_FAST in reasons:
        band = (DOUBTFUL[0], max(band[1], _most(moored, passer, load)))
    if basin.section is not None:
        load += _from_far_bank(moored, passer, track, basin, found.usable)
    elif basin.far_bank_y_m is not None:  # it may be there: the band reaches the load with it
        more = _most_more(load + _from_far_bank(moored, passer, track, basin, found.usable), load)
        band = (band[0], max(band[1], (DOUBTFUL if FAR_BANK in reasons else CHECKED)[1] * more))
    if not {NEAR_LIMIT, ABOVE_LIMIT, NO_ROOM}.isdisjoint(reasons):
        band = (band[0], AT_THE_LIMIT * band[1])
    surge_n, sway_n, yaw_n_m = (np.where(found.usable, each, np.nan) for each in _three(load))
    return PassingLoad(surge_n, sway_n, yaw_n_m, validity, reasons, band)


def _before_one_wall(
    moored: Hull, passer: Hull, track: Track, basin: Basin, usable: NDArray[np.bool_]
) -> tuple[Loads, bool]:
    """The load where it is usable, far bank apart; and whether slender-body theory had to do near us."""
    track, stronger = under_a_lid(moored, passer, track, basin)
    load, solved = panel_load(moored, passer, track, basin, usable)
    rest = usable & ~solved
    if np.any(rest):
        with np.errstate(all="ignore"):
            slender = slender_body_load(moored, passer, _part(track, rest), basin)
        load = Loads(*(_with(each, rest, more) for each, more in zip(_three(load), _three(slender), strict=True)))
    near = np.hypot(track.x_m, track.y_m) < 0.75 * (moored.loa_m + passer.loa_m)
    return Loads(*(stronger * each for each in _three(load))), bool(np.any(rest & near))


def _from_far_bank(moored: Hull, passer: Hull, track: Track, basin: Basin, usable: NDArray[np.bool_]) -> Loads:
    """What a far bank at that place sends back."""
    back = Loads(*np.zeros((3, len(track.x_m))))
    for seen in images(moored, passer, track, basin):
        back += _before_one_wall(moored, passer, seen, basin, usable)[0]
    more = blocked(moored, passer, track, basin)
    return Loads(*(more * each for each in _three(back)))


def _most_more(one: Loads, other: Loads) -> float:
    """How many times the other's the peaks of one are, in surge or sway, but for one that hardly counts."""
    counts_n = max(1.0, 0.1 * _peak_n(other))
    mine_n, theirs_n = (
        [max(counts_n, float(np.max(np.abs(each)))) for each in _three(load)[:2]] for load in (one, other)
    )
    return max(a / b for a, b in zip(mine_n, theirs_n, strict=True))


def _peak_n(load: Loads) -> float:
    return float(np.max(np.hypot(load.surge_n, load.sway_n)))


def _most(moored: Hull, passer: Hull, load: Loads) -> float:
    """The most that a light craft whose waves rule can load us with, over what the rigid-lid flow gives."""
    if passer.volume_m3 < WAVES_PUSH_FROM * moored.volume_m3:
        return NEAR_CRITICAL
    push_n = WAVES_PUSH * passer.displacement_kg * GRAVITY_M_S2
    return max(NEAR_CRITICAL, push_n / max(1.0, _peak_n(load)))


def _part(track: Track, where: NDArray[np.bool_]) -> Track:
    return Track(track.x_m[where], track.y_m[where], track.course_deg[where], track.speed_water_m_s[where])


def _three(load: Loads) -> tuple[Floats, Floats, Floats]:
    return load.surge_n, load.sway_n, load.yaw_n_m


def _with(values: Floats, where: NDArray[np.bool_], others: Floats) -> Floats:
    values = values.copy()
    values[where] = others
    return values
