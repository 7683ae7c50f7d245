"""The ways a ship may go on from where she is, each with a weight, a path, a law of speed and its spread.

All shares and spreads are ours. Those of speed and course were set against the errors of plain extrapolation in
the recorded harbours (MarineCadastre, 3 January 2022, ships of 90 m and more at 4 kn and more): distance run
within 6 %, 17 %, 23 % and course made good within 9°, 24°, 50° after 1, 5 and 15 min in nine cases of ten, the
courses in rivers with bends. Offset from the track of another ship changed by less than 58 m and 180 m after 1 and
5 min on the Mississippi, some 650 m wide.

The speed itself changes more than its mean. In all four recordings (24 such ships) it was 0.65 to 1.18, 0.49 to
1.28 and 0.36 to 1.61 times the first after 5, 10 and 15 min in nine cases of ten; from 10 kn and more 0.57 to 1.08
after 15 min, from 4 to 7 kn 0.59 to 1.86.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from enum import Enum
from typing import Final, NamedTuple

import numpy as np

from monitor.base.frames import Floats
from monitor.base.units import m_s
from monitor.physics.hulls import NORMAL_95, SizedHull
from monitor.watch.fairway import Points
from monitor.watch.scene import Scene
from monitor.watch.tracks import Target

LEAST_SPEED_M_S: Final = m_s(1.0)  # slower ships drift or swing at anchor: no pass is foreseen
FOLLOWS: Final = 0.8  # share of a ship in the fairway that keeps to it; the rest holds her course
IN_LANE: Final = 0.75  # of the width from the middle: the fairway and a quarter of it to each side
ALIGNED: Final = math.cos(math.radians(40.0))
TURNS_DEG_MIN: Final = 8.0  # slower turns are steering
TURN_SHARE: Final = (0.2, 0.5)  # share of a turning ship that goes on turning: in the fairway, outside it
TURN_LASTS_S: Final = (30.0, 80.0, 160.0)  # equally likely
TURN_MOST_DEG: Final = 150.0
SLOWS_M_S2: Final = 0.002  # 0.23 kn a minute; less is noise
STOPS_WITHIN_S: Final = 900.0
STOP_SHARE: Final = 0.6
LEAVE_SHARE: Final = 0.5  # a ship leaving a berth near by comes our way, or goes the other
LEAVES_BELOW_M_S: Final = m_s(4.0)
LEAVING_M_S: Final = m_s(3.0)
NEAR_BERTHS: Final = 4.0  # own lengths along the quay
LEAVES_FROM_M: Final = 50.0  # of length: smaller craft come and go, and count when they have way on

BEHIND_M: Final = 15.0  # a position this far behind the face of the quay is on other waters

# The usual speed in a fairway: the slower she is, the more she may speed up.
SPEEDS_UP_BELOW_M_S: Final = m_s(11.0)
SPEEDS_UP_OVER_M_S: Final = m_s(5.0)

LANE_SD: Final = 0.2  # of the width of the fairway, reached with LANE_S
LANE_S: Final = 180.0
SLOWING_SD: Final = 0.35  # of ln(deceleration)


class Way(Enum):
    """What the ship does."""

    HOLD = "hold her course"
    FOLLOW = "follow the fairway"
    TURN = "go on turning, then steady"
    LEAVE = "leave her berth our way"


class Future(NamedTuple):
    """One way on. `ship` indexes the targets; points and unit courses are complex in the map plane.

    `slowing_m_s2` > 0: she loses way and stops. `bend_1_m`: curvature of a turn, positive to starboard, kept for
    `bend_m`. `node`, `offset_m`, `onward`: her lane in the fairway. `lane_sd_m`: spread across that does not grow.
    """

    ship: int
    way: Way
    weight: float
    start: complex
    course: complex
    speed_m_s: float
    fix_age_s: float
    position_sd_m: float
    along_sd_m: float
    slowing_m_s2: float = 0.0
    bend_1_m: float = 0.0
    bend_m: float = 0.0
    node: int = 0
    offset_m: float = 0.0
    onward: bool = True
    lane_sd_m: float = 0.0

    @property
    def stop_m(self) -> float:
        """How far she runs until she has stopped."""
        return self.speed_m_s**2 / (2.0 * self.slowing_m_s2) if self.slowing_m_s2 > 0.0 else math.inf


def futures_of(ships: Sequence[tuple[Target, SizedHull]], scene: Scene) -> list[Future]:
    """The futures of all ships with way on; the weights of a ship's futures add up to 1 or less.

    What is missing from 1 does not pass. Ships that lie still, that move unknown, that are behind the quay or too
    far off to come within the horizon have none.
    """
    here = np.array([complex(target.north_m, target.east_m) for target, _ in ships])
    if scene.fairway is None or not ships:
        lanes = [(0, 0.0, math.inf)] * len(ships)
    else:
        lanes = list(zip(*(column.tolist() for column in scene.fairway.place(here)), strict=True))
    futures: list[Future] = []
    for ship, ((target, sized), lane) in enumerate(zip(ships, lanes, strict=True)):
        futures += _of_ship(ship, target, sized, lane, scene)
    return futures


def leaving(target: Target, sized: SizedHull, scene: Scene) -> bool:
    """She lay at a berth near by and has begun to move."""
    at = complex(target.north_m, target.east_m) * scene.along.conjugate()
    return (
        target.rest_age_s is not None
        and not target.at_rest
        and (target.sog_m_s or 0.0) < LEAVES_BELOW_M_S
        and not 0.0 < _told_length_m(target) < LEAVES_FROM_M
        and abs(at.real - scene.midships.real) < NEAR_BERTHS * scene.loa_m + 0.5 * sized.length_m.mid
        and at.imag < max(4.0 * sized.beam_m.mid, 100.0)
    )


def _told_length_m(target: Target) -> float:
    return (target.particulars.length_m or 0.0) if target.particulars is not None else 0.0


def _of_ship(
    ship: int, target: Target, sized: SizedHull, lane: tuple[int, float, float], scene: Scene
) -> list[Future]:
    here = complex(target.north_m, target.east_m)
    at = here * scene.along.conjugate()
    if target.at_rest or (at.imag < -BEHIND_M and scene.quay_begins_m < at.real < scene.quay_ends_m):
        return []
    futures = []
    if leaving(target, sized, scene):
        futures.append(_leave(ship, target, sized, at, scene))
    speed_m_s = target.sog_m_s or 0.0
    too_far_m = 1.5 * speed_m_s * scene.horizon_s + 3000.0
    if target.cog_deg is None or speed_m_s < LEAST_SPEED_M_S or abs(at - scene.midships) > too_far_m:
        return futures
    course = cmath.rect(1.0, math.radians(target.cog_deg))
    hold = Future(
        ship,
        Way.HOLD,
        1.0 - sum(f.weight for f in futures),
        here,
        course,
        speed_m_s,
        target.fix_age_s,
        target.position_sd_m,
        math.hypot(target.position_sd_m, target.along_sd_m),
    )
    futures += _with_turns(target, _with_stops(target, _with_lane(hold, lane, scene)))
    return futures


def _with_lane(hold: Future, lane: tuple[int, float, float], scene: Scene) -> list[Future]:
    if scene.fairway is None:
        return [hold]
    node, offset_m, distance_m = lane
    onward = (hold.course * scene.fairway.tangents[node].conjugate()).real
    if distance_m > IN_LANE * scene.fairway.width_m or abs(onward) < ALIGNED:
        return [hold]
    follow = hold._replace(
        way=Way.FOLLOW,
        weight=FOLLOWS * hold.weight,
        node=node,
        offset_m=offset_m,
        onward=onward > 0.0,
        lane_sd_m=LANE_SD * scene.fairway.width_m,
    )
    return [follow, hold._replace(weight=(1.0 - FOLLOWS) * hold.weight)]


def _with_turns(target: Target, ways: list[Future]) -> list[Future]:
    turn_deg_min = target.turn_deg_min or 0.0
    if abs(turn_deg_min) < TURNS_DEG_MIN:
        return ways
    share = TURN_SHARE[0] if ways[0].way is Way.FOLLOW else TURN_SHARE[1]
    hold = ways[-1]
    turns = [
        hold._replace(
            way=Way.TURN,
            weight=share * sum(way.weight for way in ways) / len(TURN_LASTS_S),
            bend_1_m=math.radians(turn_deg_min / 60.0) / hold.speed_m_s,
            bend_m=min(lasts_s, 60.0 * TURN_MOST_DEG / abs(turn_deg_min)) * hold.speed_m_s,
        )
        for lasts_s in TURN_LASTS_S
    ]
    return [*(way._replace(weight=(1.0 - share) * way.weight) for way in ways), *turns]


def _with_stops(target: Target, ways: list[Future]) -> list[Future]:
    slowing_m_s2 = -(target.acceleration_m_s2 or 0.0)
    if slowing_m_s2 < SLOWS_M_S2 or (target.sog_m_s or 0.0) > slowing_m_s2 * STOPS_WITHIN_S:
        return ways
    stops = [way._replace(weight=STOP_SHARE * way.weight, slowing_m_s2=slowing_m_s2) for way in ways]
    return stops + [way._replace(weight=(1.0 - STOP_SHARE) * way.weight) for way in ways]


def _leave(ship: int, target: Target, sized: SizedHull, at: complex, scene: Scene) -> Future:
    """Along the quay towards us, somewhere between clear of our side and the middle of the fairway."""
    nearest_m = scene.midships.imag + 0.5 * (scene.beam_m + sized.beam_m.mid) + 15.0
    farthest_m = nearest_m + 200.0
    if scene.fairway is not None:
        lane = scene.fairway.nodes * scene.along.conjugate() - scene.midships
        farthest_m = max(nearest_m + 30.0, scene.midships.imag + float(lane[np.abs(lane).argmin()].imag))
    towards = math.copysign(1.0, scene.midships.real - at.real)
    return Future(
        ship,
        Way.LEAVE,
        LEAVE_SHARE,
        complex(at.real, 0.5 * (nearest_m + farthest_m)) * scene.along,
        towards * scene.along,
        max(LEAVING_M_S, target.sog_m_s or 0.0),
        target.fix_age_s,
        target.position_sd_m,
        math.hypot(target.position_sd_m, target.along_sd_m),
        lane_sd_m=(farthest_m - nearest_m) / (2.0 * NORMAL_95),
    )


def paths(futures: Sequence[Future], run_m: Floats, scene: Scene) -> tuple[Points, Points]:
    """Points and unit courses in berth axes (along + i·off) after each run (futures, k), m; negative: back."""
    start, course, bend_1_m, bend_m = (
        np.array([getattr(f, name) for f in futures])[:, None]
        for name in ("start", "course", "bend_1_m", "bend_m")
    )
    bent_m = np.clip(run_m, 0.0, bend_m)
    half = np.exp(0.5j * bend_1_m * bent_m)  # half the angle turned: the chord of the arc points that way
    courses = course * half * half
    points = (
        start + course * half * bent_m * np.sinc(bend_1_m * bent_m / (2.0 * np.pi)) + courses * (run_m - bent_m)
    )
    for row, f in enumerate(futures):
        if f.way is Way.FOLLOW and scene.fairway is not None:
            points[row], courses[row] = scene.fairway.follow(f.node, f.start, f.offset_m, f.onward, run_m[row])
    to_berth = scene.along.conjugate()
    return np.asarray(points * to_berth), np.asarray(courses * to_berth)


def across_sd_m(futures: Sequence[Future], run_m: Floats) -> Floats:
    """Standard deviation across the path after each run (futures, k), m."""
    held = np.array([f.way in (Way.HOLD, Way.TURN) for f in futures])[:, None]
    turning = np.array([f.way is Way.TURN for f in futures])[:, None]
    left = np.array([f.way is Way.LEAVE for f in futures])[:, None]
    position_m, lane_m, ahead_m, lead_s = *_columns(futures, "position_sd_m", "lane_sd_m"), *_lead(futures, run_m)
    course_deg = np.where(turning, 2.0, 1.0) * (3.0 + 5.0 * (1.0 - np.exp(-lead_s / 300.0)))
    steered_m = np.where(held, ahead_m * np.radians(course_deg), 0.0)
    kept_m = lane_m * np.where(left, 1.0, 1.0 - np.exp(-lead_s / LANE_S))
    return np.asarray(np.sqrt(position_m**2 + steered_m**2 + kept_m**2))


def speed_sd(futures: Sequence[Future], run_m: Floats) -> Floats:
    """Standard deviation of ln(mean speed) over each run (futures, k)."""
    (speed_m_s,) = _columns(futures, "speed_m_s")
    left = np.array([f.way is Way.LEAVE for f in futures])[:, None]
    _, lead_s = _lead(futures, run_m)
    grown = np.hypot(0.1 / speed_m_s, 0.03 + 0.10 * (1.0 - np.exp(-lead_s / 600.0)))
    return np.where(left, 0.5, grown)


def changed_sd(futures: Sequence[Future], run_m: Floats) -> tuple[Floats, Floats]:
    """Standard deviations of ln(speed there ÷ speed now) after each run (futures, k): slower, and faster.

    A ship that loses way to stop, or leaves a berth, has her own spread: for her both are that of the mean speed.
    """
    (speed_m_s,) = _columns(futures, "speed_m_s")
    own = np.array([f.way is Way.LEAVE or f.slowing_m_s2 > 0.0 for f in futures])[:, None]
    _, lead_s = _lead(futures, run_m)
    slow = np.clip((SPEEDS_UP_BELOW_M_S - speed_m_s) / SPEEDS_UP_OVER_M_S, 0.0, 1.0)
    slower = 0.03 + 0.52 * (1.0 - np.exp(-lead_s / 600.0))
    faster = 0.03 + (0.02 + 0.33 * slow) * (1.0 - np.exp(-lead_s / 400.0))
    mean = speed_sd(futures, run_m)
    told = 0.1 / speed_m_s
    return np.where(own, mean, np.hypot(told, slower)), np.where(own, mean, np.hypot(told, faster))


def _columns(futures: Sequence[Future], *names: str) -> tuple[Floats, ...]:
    return tuple(np.array([getattr(f, name) for f in futures], dtype=np.float64)[:, None] for name in names)


def _lead(futures: Sequence[Future], run_m: Floats) -> tuple[Floats, Floats]:
    """Run since her last fix (m) and its time at the present speed (s); a run back counts as none."""
    speed_m_s, age_s = _columns(futures, "speed_m_s", "fix_age_s")
    lead_s = np.maximum(run_m, 0.0) / speed_m_s + np.maximum(age_s, 0.0)
    return speed_m_s * lead_s, lead_s
