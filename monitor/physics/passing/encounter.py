"""A ship passing a moored one: what goes into every model of it, what comes out, and where none of them holds."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from monitor.base.frames import Floats, hull_corners
from monitor.base.units import GRAVITY_M_S2, SEA_WATER_KG_M3
from monitor.physics.hulls import Hull
from monitor.physics.wake import Channel, limiting_speed_m_s
from monitor.records.estimates import Validity

# Bounds of the rigid-lid flow all our models share: common practice and own judgement.
WAVES_COUNT_FROM_FROUDE: Final = 0.4
WAVES_RULE_FROM_FROUDE: Final = 0.7
LEAST_DEPTH_OVER_DRAUGHT: Final = 1.1
LEAST_GAP_OVER_BEAM: Final = 0.5
LEAST_QUAY_GAP_M: Final = 0.4  # no ship lies without a fender, and nearer nothing was checked
TURN_NOTICED_DEG: Final = 10.0
SPEED_CHANGE_NOTICED: Final = 0.2
# Width over the mean length, and what she blocks. From a width of one length on the far bank adds a quarter at
# most with her in the middle (`far_bank`), and how it slopes and bends does not matter (ours).
NARROW_CHANNEL: Final = 1.0
MUCH_BLOCKED: Final = 0.15
MUCH_SHORTER: Final = 0.6  # than she: then yaw reads up to 40 % low, in a channel so wide in mean lengths
NARROW_FOR_SMALL: Final = 1.5
NEAR_THE_LIMIT: Final = 0.9  # of the limiting speed, where the water sinks half as far as at it
# Of our volume: below it a craft whose own waves rule has a bound instead of no answer (see `passing_load`).
LIGHT: Final = 0.03
_PUDDLE_M: Final = 0.01
_JUST: Final = 1.0 - 1e-9  # what lies on a limit is within it, whatever the rounding
MORE_WALLS: Final = "more walls than the one along the quay: not in the model"
FAR_BANK: Final = "the far bank may be near: its place is not known"
NARROW: Final = "a narrow channel: its banks are taken as straight and upright"
FILLS: Final = "she blocks much of the channel's section"
NEAR_LIMIT: Final = "near the limiting speed of the channel: a little faster, and her load may double"
# No flow is steady above it, and no ship of her own power goes there: speed or section is not quite as told. What
# a ship just below it would do is then the least, and an alarm stays one.
ABOVE_LIMIT: Final = "too fast for the channel's section: her load may be more than twice what is told"
NO_ROOM: Final = "the channel's section is no larger than both ships': look at what was entered"
MAYBE_NEAR_LIMIT: Final = "too fast for the channel, if its far bank is near"
WAVES_COUNT: Final = "fast for the depth: her waves count"
LIGHT_BUT_FAST: Final = "too fast for the depth, but light: what is told is bounded by her weight"


@dataclass(frozen=True, slots=True)
class Track:
    """The passing ship's midships in the moored ship's axes (x forward, y to starboard), n points in time order.

    `course_deg` is her heading relative to the moored ship's: 0 the same way, positive clockwise, any range.
    `speed_water_m_s` is her speed through the water, 0 or more: it makes the forces; the ground speed only times
    them. Raises ValueError when there are not as many of each. What is not a number is not known.
    """

    x_m: Floats
    y_m: Floats
    course_deg: Floats
    speed_water_m_s: Floats

    def __post_init__(self) -> None:
        shapes = {np.shape(each) for each in (self.x_m, self.y_m, self.course_deg, self.speed_water_m_s)}
        if len(shapes) > 1 or len(shapes.pop()) != 1:
            raise ValueError("a track needs one row each of places ahead, places abeam, courses and speeds")

    @property
    def known(self) -> NDArray[np.bool_]:
        """(n,): where all of it is told."""
        given = (self.x_m, self.y_m, self.course_deg, self.speed_water_m_s)
        return np.asarray(np.logical_and.reduce([np.isfinite(each) for each in given]))

    def only(self, where: NDArray[np.bool_]) -> Track:
        """The same with nothing but noughts elsewhere."""
        given = (self.x_m, self.y_m, self.course_deg, self.speed_water_m_s)
        return Track(*(np.where(where, each, 0.0) for each in given))


@dataclass(frozen=True, slots=True)
class Basin:
    """The water both ships lie in: flat bed at `depth_m`; an endless vertical quay wall at `quay_y_m`, or None.

    `quay_y_m` is the wall's face in the moored ship's axes: positive when she lies starboard side to. None stands
    for open water or a piled quay. Where the fairway and the berth differ in depth, give the lesser.
    `far_bank_y_m`: the other bank's face, in the same axes; None: open water. Where the `section` between the
    banks is not known, the bank is not: it may lie there or beyond. `more_walls`: a slip or a closed basin, which
    is in no model and makes the answer doubtful. Raises ValueError when depth, quay, bank or density is no number,
    or both banks lie on one side. A depth of nothing or less is water that has run out: all is unknown there.
    """

    depth_m: float
    quay_y_m: float | None = None
    water_kg_m3: float = SEA_WATER_KG_M3
    more_walls: bool = False
    far_bank_y_m: float | None = None
    section: Channel | None = None

    def __post_init__(self) -> None:
        if math.isnan(self.depth_m) or not 0.0 < self.water_kg_m3 < math.inf:
            raise ValueError("a basin needs a depth and a density of its water")
        if not math.isfinite(self.quay_y_m or 0.0) or not math.isfinite(self.far_bank_y_m or 0.0):
            raise ValueError("the places of quay and far bank are numbers, or None where there is none")
        if (self.quay_y_m or 0.0) * (self.far_bank_y_m or 0.0) > 0.0 or self.channel_m == 0.0:
            raise ValueError("the quay and the far bank lie on either side of us")

    @property
    def channel_m(self) -> float:
        """From bank to bank, or from our keel to the far bank before an open quay; inf in open water."""
        return math.inf if self.far_bank_y_m is None else abs(self.far_bank_y_m - (self.quay_y_m or 0.0))

    @property
    def section_to_bank(self) -> Channel | None:
        """The section, or what it would be with a bank where one may be; None in open water."""
        if self.section is not None or self.far_bank_y_m is None:
            return self.section
        return Channel(self.channel_m * max(self.depth_m, _PUDDLE_M), self.channel_m)


@dataclass(frozen=True, slots=True)
class PassingLoad:
    """Load on the moored ship held still, ship axes, at each point of the track: N, N, N·m about midships.

    NaN at points where the model means nothing; `validity` is then UNKNOWN. `model_band`: the truth lies (5–95 %)
    between these shares of the loads given, as far as the model's own error goes.
    """

    surge_n: Floats
    sway_n: Floats
    yaw_n_m: Floats
    validity: Validity
    reasons: tuple[str, ...]
    model_band: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Review:
    """How far an encounter lies within what a rigid-lid model can tell: usable points (n,), validity, reasons.

    `incomplete`: somewhere the track has no place, course or speed, so that nothing can be said of her there.
    """

    usable: NDArray[np.bool_]
    validity: Validity
    reasons: tuple[str, ...]
    incomplete: bool


def review(moored: Hull, passer: Hull, track: Track, basin: Basin) -> Review:
    """Look for what no model here can answer (UNKNOWN) and for what makes its answer doubtful (DEGRADED).

    A course behind the line of the quay counts only within twice the sum of the lengths: farther off the wall may
    have ended, and the load is next to nothing.
    """
    known = track.known
    track = track.only(known)
    corners = hull_corners(track.x_m, track.y_m, track.course_deg, passer.loa_m, passer.beam_m)
    gap_m = np.where(known, _gap_m(moored, corners), np.inf)
    froude = froude_of(track, basin)
    waves_rule = froude >= WAVES_RULE_FROM_FROUDE
    light = passer.volume_m3 < LIGHT * moored.volume_m3
    close_by = np.hypot(track.x_m, track.y_m) < 2.0 * (moored.loa_m + passer.loa_m)
    most_m_s, bounded = limit_m_s(moored, passer, basin), basin.section is not None and not light
    in_quay = np.zeros_like(known)
    moored_in_quay = False
    if basin.quay_y_m is not None:
        side = np.sign(basin.quay_y_m)
        in_quay = close_by & np.any(side * corners[..., 1] >= abs(basin.quay_y_m), axis=1)
        moored_in_quay = abs(basin.quay_y_m) < 0.5 * moored.beam_m

    spoilt = {
        "the passing ship's track is incomplete": ~known,
        "the passing ship's speed is negative": track.speed_water_m_s < 0.0,
        "the hulls would overlap": gap_m <= 0.0,
        "the track crosses the quay": in_quay,
        "too fast for the depth: her waves rule": waves_rule & (not light),
        "the passing ship draws more than the depth": np.full_like(known, passer.draught_m >= basin.depth_m),
        "the moored ship draws more than the depth": np.full_like(known, moored.draught_m >= basin.depth_m),
        "the moored ship would lie inside the quay": np.full_like(known, moored_in_quay),
    }
    deepest_m = max(moored.draught_m, passer.draught_m)
    speed = track.speed_water_m_s[close_by]
    section, mean_loa_m = basin.section, 0.5 * (moored.loa_m + passer.loa_m)
    narrow = basin.channel_m < NARROW_CHANNEL * mean_loa_m
    small = moored.loa_m < MUCH_SHORTER * passer.loa_m and basin.channel_m < NARROW_FOR_SMALL * mean_loa_m
    fast_for_section = not light and bool(np.any(speed > NEAR_THE_LIMIT * most_m_s))
    doubtful = {
        LIGHT_BUT_FAST: light and bool(np.any(waves_rule)),
        WAVES_COUNT: bool(np.any((froude > WAVES_COUNT_FROM_FROUDE) & ~waves_rule)),
        "very little water under a keel": basin.depth_m < _JUST * LEAST_DEPTH_OVER_DRAUGHT * deepest_m,
        "hardly any water between us and the quay": basin.quay_y_m is not None
        and abs(basin.quay_y_m) < 0.5 * moored.beam_m + LEAST_QUAY_GAP_M,
        MORE_WALLS: basin.more_walls,
        FAR_BANK: narrow and section is None,
        NARROW: (narrow or small) and section is not None,
        FILLS: section is not None and passer.midship_area_m2 > MUCH_BLOCKED * section.area_m2,
        NEAR_LIMIT: fast_for_section and section is not None and not np.any(speed >= most_m_s),
        ABOVE_LIMIT: bounded and most_m_s > 0.0 and bool(np.any(speed >= most_m_s)),
        NO_ROOM: bounded and most_m_s <= 0.0,
        MAYBE_NEAR_LIMIT: fast_for_section and section is None and narrow,
        "the ships pass very close": bool(
            np.any(gap_m < _JUST * LEAST_GAP_OVER_BEAM * max(moored.beam_m, passer.beam_m))
        ),
        "she turns while passing": _turn_deg(track.course_deg[close_by]) > TURN_NOTICED_DEG,
        "she changes speed while passing": speed.size > 0
        and bool(np.ptp(speed) > SPEED_CHANGE_NOTICED * np.max(speed)),
    }
    unusable = np.logical_or.reduce(list(spoilt.values()))
    reasons = [why for why, where in spoilt.items() if np.any(where)]
    reasons += [why for why, is_so in doubtful.items() if is_so]
    validity = Validity.UNKNOWN if np.any(unusable) else Validity.DEGRADED if reasons else Validity.GOOD
    return Review(~unusable, validity, tuple(reasons), incomplete=not np.all(known))


def froude_of(track: Track, basin: Basin) -> Floats:
    """Depth Froude number (n,) of the passing ship: her speed over that of long waves."""
    return track.speed_water_m_s / math.sqrt(GRAVITY_M_S2 * max(basin.depth_m, _PUDDLE_M))


def limit_m_s(moored: Hull, passer: Hull, basin: Basin) -> float:
    """Schijf's limiting speed for her in what we leave of the section, known or as it would be with a bank where
    one may be; 0 where she cannot pass us at all."""
    section = basin.section_to_bank
    if section is None:
        return math.inf
    left_m2 = section.area_m2 - moored.midship_area_m2
    return limiting_speed_m_s(passer.midship_area_m2, Channel(left_m2, section.width_m))


def grazing_m(moored: Hull, passer: Hull, course_deg: Floats) -> Floats:
    """How far from our midships the line runs on which she would just graze us, (n,), for her relative course."""
    along, across = np.abs(np.sin(np.radians(course_deg))), np.abs(np.cos(np.radians(course_deg)))
    return np.asarray(0.5 * (moored.loa_m * along + moored.beam_m * across + passer.beam_m))


def _gap_m(moored: Hull, corners: Floats) -> Floats:
    """Clear water between the ships' outlines taken as rectangles, (n,); 0 when they touch or overlap."""
    own = shapely.box(-0.5 * moored.loa_m, -0.5 * moored.beam_m, 0.5 * moored.loa_m, 0.5 * moored.beam_m)
    return np.asarray(shapely.distance(own, shapely.polygons(corners)), dtype=np.float64)


def _turn_deg(course_deg: Floats) -> float:
    """The largest change of heading against the first."""
    if course_deg.size == 0:
        return 0.0
    return float(np.max(np.abs((course_deg - course_deg[0] + 180.0) % 360.0 - 180.0)))
