"""Underwater hulls: a family of section-area curves, and what can be said of a ship seen only by AIS."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from monitor.base.frames import Floats
from monitor.base.units import SEA_WATER_KG_M3
from monitor.records.estimates import Band

if TYPE_CHECKING:
    from monitor.settings.schema import WindageType

FULLEST: Final = 0.93  # block coefficient of the fullest ship: judgement
NORMAL_95: Final = 1.645  # standard deviations from the middle to the 5 % and 95 % points


# --- the form -----------------------------------------------------------------------------------------------


def usual_midship_coefficient(block_coefficient: float) -> float:
    """0.98 for full ships, 0.95 for others, less for very fine ones (common practice, no source)."""
    return 0.98 if block_coefficient > 0.75 else min(0.95, block_coefficient / 0.55)


@dataclass(frozen=True, slots=True)
class Hull:
    """The wetted hull at one draught, alike fore and aft of midships; metres, coefficients on LPP.

    The section area S(x) is constant over a parallel middle body and falls to nothing at the perpendiculars along
    parabolas; a ship too fine for a middle body has S = S_mid (1 − |2x/LPP|ⁿ) instead. Either way the volume is
    exactly Cb·LPP·B·T. Raises ValueError when the coefficients allow no such shape: the prismatic coefficient
    Cb/Cm must lie from 0.5 up to (not including) 1.
    """

    loa_m: float
    lpp_m: float
    beam_m: float
    draught_m: float
    block_coefficient: float
    midship_coefficient: float

    def __post_init__(self) -> None:
        if not (0.0 < self.lpp_m <= self.loa_m < math.inf and 0.0 < self.beam_m < math.inf) or not (
            0.0 < self.draught_m < math.inf
        ):
            raise ValueError("a hull needs length, beam and draught, and LPP not above LOA")
        if not 0.5 <= self.prismatic_coefficient < 1.0 or self.midship_coefficient > 1.0:
            raise ValueError("no hull of this family has these block and midship coefficients")

    @property
    def prismatic_coefficient(self) -> float:
        return self.block_coefficient / self.midship_coefficient

    @property
    def midship_area_m2(self) -> float:
        return self.midship_coefficient * self.beam_m * self.draught_m

    @property
    def volume_m3(self) -> float:
        return self.block_coefficient * self.lpp_m * self.beam_m * self.draught_m

    @property
    def displacement_kg(self) -> float:
        """In sea water."""
        return SEA_WATER_KG_M3 * self.volume_m3

    @property
    def waterline_m(self) -> float:
        """Length on the waterline: 1.02 LPP for full ships, 1.01 for others (Kristensen, as read second-hand)."""
        return min(self.loa_m, self.lpp_m * (1.02 if self.block_coefficient > 0.75 else 1.01))

    @property
    def parallel_share(self) -> float:
        """Length of the parallel middle body over LPP: a body with parabolic ends has Cp = p + 2/3 (1 − p)."""
        return max(0.0, 3.0 * self.prismatic_coefficient - 2.0)

    @property
    def end_power(self) -> float:
        """2 for parabolic ends; less when fine, from Cp = n/(n + 1)."""
        return min(2.0, self.prismatic_coefficient / (1.0 - self.prismatic_coefficient))

    def section_area_m2(self, x_m: ArrayLike) -> Floats:
        """S(x), m², in the shape of `x_m` (forward of midships); 0 beyond the perpendiculars."""
        return np.asarray(self.midship_area_m2 * (1.0 - self.into_end(x_m) ** self.end_power))

    def section_slope_m(self, x_m: ArrayLike) -> Floats:
        """dS/dx, m, in the shape of `x_m`."""
        x = np.asarray(x_m, dtype=np.float64)
        into = self.into_end(x)
        end_m = 0.5 * self.lpp_m * (1.0 - self.parallel_share)
        inside = (into > 0.0) & (np.abs(x) <= 0.5 * self.lpp_m)
        steepness = np.where(inside, into, 1.0) ** (self.end_power - 1.0)
        return np.where(inside, -np.sign(x) * self.midship_area_m2 / end_m * self.end_power * steepness, 0.0)

    def ends_m(self) -> tuple[float, float]:
        """(where the middle body ends, the perpendicular), forward of midships; the after end mirrors them."""
        return 0.5 * self.lpp_m * self.parallel_share, 0.5 * self.lpp_m

    def into_end(self, x_m: ArrayLike) -> Floats:
        """How far into the tapering end: 0 on the middle body, 1 at the perpendicular and beyond."""
        inner_m, outer_m = self.ends_m()
        return np.clip((np.abs(np.asarray(x_m, dtype=np.float64)) - inner_m) / (outer_m - inner_m), 0.0, 1.0)


def at_part_load(block_coefficient: float, draught_m: float, full_draught_m: float) -> float:
    """Block coefficient at a lesser draught than the one it belongs to; unchanged at or above that.

    Riddlesworth: Cb(T) = 1 − (1 − Cb)(T_full/T)^⅓ (as given in a marine engine maker's guide to propulsion).
    Never less than 0.35.
    """
    deeper = max(1.0, full_draught_m / draught_m)
    return max(min(block_coefficient, 0.35), 1.0 - (1.0 - block_coefficient) * math.cbrt(deeper))


def hull_at_draught(
    loa_m: float,
    lpp_m: float,
    beam_m: float,
    draught_m: float,
    full_draught_m: float,
    full_block_coefficient: float,
) -> Hull:
    """A ship whose particulars are known, at any draught: midship coefficient as usual, Cb for part load."""
    block = at_part_load(full_block_coefficient, draught_m, full_draught_m)
    return Hull(loa_m, lpp_m, beam_m, draught_m, block, usual_midship_coefficient(block))


# --- what AIS tells -----------------------------------------------------------------------------------------


class Kind(NamedTuple):
    """A kind of ship: block coefficient (mean, standard deviation), LPP/LOA, beam and full draught = a·LOA^b (m),
    a draught the kind does not exceed (m), and lengths (5 %, middle, 95 %) when nothing at all is known (m)."""

    name: str
    block: tuple[float, float]
    lpp_share: float
    beam_fit: tuple[float, float]
    draught_fit: tuple[float, float]
    deepest_m: float
    loa_m: tuple[float, float, float]

    def usual_beam_m(self, loa_m: float) -> float:
        a, b = self.beam_fit
        return a * math.pow(loa_m, b)

    def usual_length_m(self, beam_m: float) -> float:
        a, b = self.beam_fit
        return math.pow(beam_m / a, 1.0 / b)

    def full_draught_m(self, loa_m: float) -> float:
        a, b = self.draught_fit
        return min(a * math.pow(loa_m, b), self.deepest_m)


# Block coefficients: Takahashi, Goto & Abe (2006), Technical Note of NILIM 309, Table 5-3 (read). Beam, draught
# and LPP/LOA: own power laws through the 75 % ships of PIANC MarCom WG 33 (2002), App. C (from memory), so on the
# large side. Deepest draughts and lengths when nothing is known: judgement, no source; cautious, that is large.
GENERAL_CARGO: Final = Kind(
    "cargo ship", (0.804, 0.0712), 0.94, (0.24871, 0.8965), (0.046515, 1.0531), 23.0, (60, 200, 366)
)
CONTAINER: Final = Kind(
    "container ship", (0.668, 0.0472), 0.942, (0.87136, 0.6562), (0.17694, 0.7698), 17.0, (120, 260, 400)
)
TANKER: Final = Kind("tanker", (0.824, 0.0381), 0.947, (0.17659, 0.9843), (0.088435, 0.9248), 23.0, (70, 240, 336))
CAR_CARRIER: Final = Kind(
    "car carrier", (0.594, 0.0665), 0.95, (0.79152, 0.6708), (0.045306, 1.0152), 11.0, (100, 200, 235)
)
GAS_CARRIER: Final = Kind(
    "gas carrier", (0.716, 0.0399), 0.95, (0.19196, 0.9622), (0.0764, 0.955), 12.5, (80, 280, 315)
)
PASSENGER: Final = Kind(
    "passenger ship", (0.591, 0.0595), 0.874, (0.59055, 0.7243), (0.093534, 0.8229), 9.3, (25, 240, 362)
)
# The rest: proportions of the trade, no source.
NAVAL: Final = Kind("naval ship", (0.50, 0.06), 0.94, (0.30, 0.80), (0.10, 0.80), 12.0, (40, 150, 330))
FISHING: Final = Kind("fishing vessel", (0.55, 0.06), 0.88, (0.68, 0.73), (0.15, 0.88), 8.0, (12, 35, 90))
FAST_CRAFT: Final = Kind("high-speed craft", (0.42, 0.05), 0.90, (0.75, 0.75), (0.05, 0.95), 5.0, (20, 60, 112))
SMALL_CRAFT: Final = Kind("small craft", (0.42, 0.06), 0.90, (0.70, 0.72), (0.12, 0.90), 5.0, (8, 16, 45))
TUG: Final = Kind("tug", (0.58, 0.06), 0.92, (0.85, 0.75), (0.30, 0.80), 7.0, (18, 32, 50))
TOW: Final = Kind("tug and tow", (0.85, 0.06), 0.97, (0.55, 0.80), (0.05, 1.0), 12.0, (40, 120, 250))
LARGE_TOW: Final = Kind("tug and large tow", (0.85, 0.06), 0.97, (0.55, 0.80), (0.05, 1.0), 12.0, (100, 220, 330))
UNKNOWN: Final = Kind(
    "ship of unknown kind", (0.75, 0.10), 0.94, (0.24871, 0.8965), (0.046515, 1.0531), 23.0, (15, 200, 366)
)

MAY_HAVE_A_TOW: Final = frozenset({31, 32, 52})  # AIS ship types: towing, towing a large tow, tug


# For a moored ship whose block coefficient the settings call unknown.
KIND_OF_WINDAGE: Final[dict[WindageType, Kind]] = {
    "car carrier": CAR_CARRIER,
    "cargo vessel, loaded": GENERAL_CARGO,
    "cargo vessel, container on deck": GENERAL_CARGO,
    "container ship, loaded": CONTAINER,
    "ferry": PASSENGER,
    "liquefied natural gas tanker": GAS_CARRIER,
    "passenger liner": PASSENGER,
    "tanker, loaded": TANKER,
    "tanker, in ballast": TANKER,
    "offshore supply vessel": UNKNOWN,
    "research vessel": FISHING,
    "fishing vessel": FISHING,
}


def kind_of_ais_type(ship_type: int | None) -> Kind:
    """The kind behind an AIS ship type (ITU-R M.1371-5, Table 53); cargo ships cannot be told apart by it."""
    match ship_type or 0:
        case 30:
            return FISHING
        case 31:
            return TOW
        case 32:
            return LARGE_TOW
        case 35:
            return NAVAL
        case 36 | 37 | 50 | 51 | 53 | 54 | 55 | 58:
            return SMALL_CRAFT
        case 52:
            return TUG
        case code if 20 <= code <= 29 or 40 <= code <= 49:
            return FAST_CRAFT
        case code if 60 <= code <= 69:
            return PASSENGER
        case code if 70 <= code <= 79:
            return GENERAL_CARGO
        case code if 80 <= code <= 89:
            return TANKER
        case _:
            return UNKNOWN


@dataclass(frozen=True, slots=True)
class SizedHull:
    """A hull for the middle of what is known, the bands (5 %, middle, 95 %) round it, and what was assumed."""

    hull: Hull
    length_m: Band
    beam_m: Band
    draught_m: Band
    block_coefficient: Band
    assumed: tuple[str, ...]

    @property
    def displacement_kg(self) -> Band:
        """In sea water: of the middle hull, with the errors of its four factors taken as independent."""
        factors = (self.length_m, self.beam_m, self.draught_m, self.block_coefficient)
        down = math.hypot(*(1.0 - each.low / each.mid for each in factors))
        up = math.hypot(*(each.high / each.mid - 1.0 for each in factors))
        mid_kg = self.hull.displacement_kg
        return Band(mid_kg * max(0.0, 1.0 - down), mid_kg, mid_kg * (1.0 + up))

    def likeliest(self, z: float) -> Hull:
        """The likeliest hull of the displacement that lies z standard deviations from the middle.

        Displacement is a product of four factors; with the logarithms of their errors normal and independent, each
        takes of a given deviation a part as large as its variance. Half a normal on either side of the middle.
        """
        each = (self.length_m, self.beam_m, self.draught_m, self.block_coefficient)
        ends = [(band.high if z > 0.0 else band.low) / band.mid for band in each]
        variances = [(math.log(end) / NORMAL_95) ** 2 for end in ends]
        whole = math.sqrt(sum(variances)) or 1.0
        length, beam, draught, block = (math.exp(z * variance / whole) for variance in variances)
        mid = self.hull
        block = min(FULLEST, mid.block_coefficient * block)
        return Hull(
            mid.loa_m * length,
            mid.lpp_m * length,
            mid.beam_m * beam,
            mid.draught_m * draught,
            block,
            usual_midship_coefficient(block),
        )


def hull_from_ais(
    ship_type: int | None,
    length_m: float | None,
    beam_m: float | None,
    draught_m: float | None,
    *,
    full_draught_m: float | None = None,
    has_tow: bool | None = None,
    class_b: bool = False,
) -> SizedHull:
    """The underwater hull of a ship known by AIS; each of the sizes may be unknown (None or 0).

    `full_draught_m` is her summer draught when somebody knows it; else it is estimated from her length, for the
    part-load correction. `has_tow` is the operator's word: until it is False, a tug or a towing vessel is taken to
    have a tow that AIS does not show. `class_b`: her set is of class B, and so, when she tells neither kind nor
    size, she is a small craft: ships of 300 GT and more on voyages abroad, of 500 GT on others, and all passenger
    ships carry class A (SOLAS V/19.2.4, from memory). Sizes out of all proportion count as unknown. What is
    assumed is cautious (large, laden) and its band wide. Shares without a source are judgement.
    """
    if ship_type in MAY_HAVE_A_TOW and has_tow is not False:
        return _with_tow(LARGE_TOW if ship_type == 32 else TOW, length_m, beam_m, draught_m)
    kind = TUG if ship_type in MAY_HAVE_A_TOW else kind_of_ais_type(ship_type)
    if class_b and kind is UNKNOWN and not length_m:
        kind = SMALL_CRAFT
    assumed = ["kind of ship"] if kind in (UNKNOWN, GENERAL_CARGO) or (class_b and not ship_type) else []

    if beam_m and length_m and not 2.0 <= length_m / beam_m <= 13.0:
        beam_m = None
    if length_m:
        length = _band(length_m, 0.98, 1.02)
    else:
        assumed.append("length")
        length = _band(kind.usual_length_m(beam_m), 0.7, 1.4) if beam_m else Band(*kind.loa_m)
    if beam_m:
        beam = _band(beam_m, 0.98, 1.02)
    else:
        assumed.append("beam")
        beam = _band(kind.usual_beam_m(length.mid), 0.8, 1.25)
    full_m = full_draught_m or kind.full_draught_m(length.mid)
    if draught_m and 0.07 <= draught_m / beam.mid <= 0.8:
        draught = _band(draught_m, 0.87, 1.13)  # typed in by hand on board: 8 % standard deviation
    else:
        assumed.append("draught")
        draught = _band(full_m, 0.5, 1.15)  # from ballast to deep
    return _sized(kind, length, beam, draught, full_m, assumed)


def _with_tow(kind: Kind, length_m: float | None, beam_m: float | None, draught_m: float | None) -> SizedHull:
    """The tow as one barge, no smaller than what the tug tells of herself; the band begins at the tug alone."""
    low_m, mid_m, high_m = kind.loa_m
    own_m = length_m or low_m
    length = Band(own_m, max(own_m, mid_m), max(own_m, high_m))
    beam = _band(max(kind.usual_beam_m(length.mid), beam_m or 0.0), 0.5, 1.6)
    full_m = max(kind.full_draught_m(length.mid), draught_m or 0.0)
    draught = _band(full_m, 0.4, 1.5)
    return _sized(kind, length, beam, draught, full_m, ["size of a tow that AIS does not show"])


def _sized(
    kind: Kind, length: Band, beam: Band, draught: Band, full_draught_m: float, assumed: list[str]
) -> SizedHull:
    mean, deviation = kind.block
    lightest = mean - NORMAL_95 * deviation
    if kind is GENERAL_CARGO:  # she may be a container ship
        lightest = min(lightest, CONTAINER.block[0] - NORMAL_95 * CONTAINER.block[1])
    block = Band(
        *(
            at_part_load(min(each, FULLEST), draught.mid, full_draught_m)
            for each in (lightest, mean, mean + NORMAL_95 * deviation)
        )
    )
    hull = Hull(
        length.mid,
        kind.lpp_share * length.mid,
        beam.mid,
        draught.mid,
        block.mid,
        usual_midship_coefficient(block.mid),
    )
    return SizedHull(hull, length, beam, draught, block, tuple(assumed))


def _band(mid: float, low_share: float, high_share: float) -> Band:
    return Band(low_share * mid, mid, high_share * mid)
