"""Which ships will pass the berth, when, how close and how fast: weighted futures, drawn and swept."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from monitor.base.frames import Floats, wrap180, wrap360
from monitor.physics.hulls import SizedHull, hull_from_ais
from monitor.records.estimates import Band, Encounter, PassingKind
from monitor.watch.calls import HARDLY
from monitor.watch.futures import Way, futures_of
from monitor.watch.scene import Scene
from monitor.watch.sweep import Approaches, Passes, approaches, draw_passes
from monitor.watch.tracks import Target

SIZE_TOLD_WITHIN_S: Final = 720.0  # class A and B alike tell it every 6 min (ITU-R M.1371); one may be lost
_SAME_WAY_DEG: Final = 25.0
TURN_TOLD: Final = 0.4  # share of turning futures from which she is called turning

_LOW_MID_HIGH: Final = np.array([0.05, 0.5, 0.95])


def encounters(targets: Sequence[Target], scene: Scene, now: datetime) -> tuple[Encounter, ...]:
    """Passes to come within the scene's horizon and those under way, soonest first; one for each MMSI.

    A pass: some part of her hull comes abeam of ours (or of MARGIN beyond our ends) within PASS_WITHIN_M or three
    of her lengths, on the water side of the quay. `passes` is the share of her futures that do; below HARDLY she
    is left out. Bands are the 5 %, 50 % and 95 % points of the futures that pass. Speeds are the greatest
    while she is abreast: one who stops there counts with the way she comes in with.
    """
    ships = [(target, _sized(target, scene)) for target in targets]
    near = approaches(futures_of(ships, scene), ships, scene)
    if not near.futures:
        return ()
    passes, manners = draw_passes(near, scene), _manners(near, scene)
    found: dict[int, Encounter] = {}
    for ship in np.unique(passes.ship).tolist():
        target, sized = ships[ship]
        encounter = _encounter(target, sized, passes, passes.ship == ship, manners.get(ship), scene, now)
        other = found.get(target.mmsi)
        if encounter.passes >= HARDLY and (other is None or encounter.passes > other.passes):
            found[target.mmsi] = encounter
    return tuple(sorted(found.values(), key=lambda encounter: encounter.abeam_at))


def _sized(target: Target, scene: Scene) -> SizedHull:
    told = target.particulars
    sizes = (None, None, None) if told is None else (told.length_m, told.beam_m, told.draught_m)
    has_tow = False if target.mmsi in scene.without_tow else None
    return _sized_hull(target.ship_type, *sizes, has_tow, not target.class_a)


@lru_cache(maxsize=4096)
def _sized_hull(
    ship_type: int | None,
    length_m: float | None,
    beam_m: float | None,
    draught_m: float | None,
    has_tow: bool | None,
    class_b: bool,
) -> SizedHull:
    return hull_from_ais(ship_type, length_m, beam_m, draught_m, has_tow=has_tow, class_b=class_b)


def _manners(near: Approaches, scene: Scene) -> dict[int, PassingKind]:
    """Ships that do something other than go by."""
    manners: dict[int, PassingKind] = {}
    turning = np.zeros(max(f.ship for f in near.futures) + 1)
    for f, abeam_m, length_m in zip(near.futures, near.abeam_m, near.length_m, strict=True):
        if f.way is Way.LEAVE:
            manners[f.ship] = PassingKind.LEAVING
        elif f.way is Way.TURN:
            turning[f.ship] += f.weight
            if turning[f.ship] >= TURN_TOLD:
                manners.setdefault(f.ship, PassingKind.TURNING)
        elif f.stop_m < abeam_m + 0.5 * (scene.loa_m + length_m):
            manners.setdefault(f.ship, PassingKind.STOPPING)
    return manners


def _encounter(
    target: Target,
    sized: SizedHull,
    passes: Passes,
    mine: NDArray[np.bool_],
    manner: PassingKind | None,
    scene: Scene,
    now: datetime,
) -> Encounter:
    weight = passes.weight[mine]
    chance = min(1.0, float(weight.sum()))
    bands = [
        _band(values[mine], weight)
        for values in (
            passes.abeam_s,
            passes.clearance_m,
            passes.separation_m,
            passes.ground_m_s,
            passes.water_m_s,
        )
    ]
    abeam_s, clearance, separation, ground, water = bands
    course = complex((weight * passes.course[mine]).sum()) * scene.along
    course_deg = wrap360(math.degrees(math.atan2(course.imag, course.real)))
    overlaps = np.isfinite(passes.enters_s[mine]) & (weight > 0.0)
    overlap_from = overlap_to = None
    if overlaps.any():
        enters, leaves = (
            _band(values[mine][overlaps], weight[overlaps]) for values in (passes.enters_s, passes.leaves_s)
        )
        overlap_from, overlap_to = now + timedelta(seconds=enters.low), now + timedelta(seconds=leaves.high)
    return Encounter(
        at=now,
        mmsi=target.mmsi,
        name=target.name,
        kind=manner or kind_by_course(course_deg - scene.berthed.heading_deg),
        passes=chance,
        abeam_at=now + timedelta(seconds=abeam_s.mid),
        earliest_at=now + timedelta(seconds=abeam_s.low),
        latest_at=now + timedelta(seconds=abeam_s.high),
        distance_m=clearance,
        speed_ground_m_s=ground,
        speed_water_m_s=water,
        course_deg=course_deg,
        separation_m=separation,
        length_m=sized.length_m,
        beam_m=sized.beam_m,
        draught_m=sized.draught_m,
        ship_type=target.ship_type,
        fix_age_s=target.fix_age_s,
        assumed=(*sized.assumed, *_assumed(target, manner, scene)),
        overlap_from=overlap_from,
        overlap_to=overlap_to,
        newly_heard=target.heard_for_s < SIZE_TOLD_WITHIN_S,
    )


def kind_by_course(off_heading_deg: float) -> PassingKind:
    """Same way or opposite, or else at an angle, by the angle between her course and our heading."""
    off_heading_deg = abs(wrap180(off_heading_deg))
    if off_heading_deg <= _SAME_WAY_DEG:
        return PassingKind.SAME_WAY
    return PassingKind.OPPOSITE if off_heading_deg >= 180.0 - _SAME_WAY_DEG else PassingKind.OBLIQUE


def _assumed(target: Target, manner: PassingKind | None, scene: Scene) -> tuple[str, ...]:
    said = {
        "fairway current": scene.current is None,
        "heading": target.heading_assumed,
        "place of the antenna": target.along_sd_m > 0.0,
        "two ships send this MMSI": target.twin,
        "way out of her berth": manner is PassingKind.LEAVING,
    }
    return tuple(name for name, holds in said.items() if holds)


def _band(values: Floats, weight: Floats) -> Band:
    """Weighted 5 %, 50 % and 95 % points."""
    order = values.argsort()
    heaped = weight[order].cumsum()
    shares = (heaped - 0.5 * weight[order]) / heaped[-1]
    return Band(*np.interp(_LOW_MID_HIGH, shares, values[order]).tolist())
