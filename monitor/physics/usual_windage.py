"""Wind areas of a ship whose own are not known: by type and size, with their spread.

Own power laws of LOA through the ships of PIANC MarCom WG 33 (2002), App. C (from memory): laden, the value that
75 % of ships of a size do not exceed, so a little on the large side; a fleet of the 1990s. Container ships, cruise
ships and ferries built since carry more above the water, hence their wider spread. For car carriers that table
reads far too low: their box, 0.8 of the beam high from end to end, is the trade's proportion (no source).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

from monitor.physics.windage import WindArea, windage_at_draught

if TYPE_CHECKING:
    from monitor.settings.schema import WindageType

BOX_OVER_BEAM: Final = 0.8  # height of a car carrier's side above the laden waterline
BEYOND: Final = 1.5  # times the spread outside the lengths the laws were drawn through


class Law(NamedTuple):
    """Lateral and frontal area = a·LOA^b (m²), the lengths it was drawn through (m), one standard deviation."""

    lateral: tuple[float, float]
    frontal: tuple[float, float]
    lengths_m: tuple[float, float]
    spread: float


_GENERAL_CARGO: Final = Law((0.065738, 1.9847), (0.0075885, 2.1463), (67.0, 211.0), 0.20)
_CONTAINER: Final = Law((0.27057, 1.7861), (0.19434, 1.5457), (123.0, 286.0), 0.30)
_TANKER: Final = Law((0.12325, 1.7754), (0.16886, 1.5060), (59.0, 354.0), 0.20)
_FERRY: Final = Law((0.18379, 1.8750), (0.65697, 1.3158), (59.0, 223.0), 0.30)
_PASSENGER: Final = Law((0.13727, 1.9655), (1.0968, 1.2291), (60.0, 260.0), 0.30)
_GAS: Final = Law((0.081096, 1.9842), (0.06294, 1.7923), (68.0, 282.0), 0.20)
LAWS: Final[dict[WindageType, Law]] = {
    "cargo vessel, loaded": _GENERAL_CARGO,
    "cargo vessel, container on deck": _CONTAINER,
    "container ship, loaded": _CONTAINER,
    "ferry": _FERRY,
    "liquefied natural gas tanker": _GAS,
    "passenger liner": _PASSENGER,
    "tanker, loaded": _TANKER,
    "tanker, in ballast": _TANKER,
}
_CAR_CARRIER_SPREAD: Final = 0.25  # 1 sigma, of the area (ours)


@dataclass(frozen=True, slots=True)
class SizedWindage:
    """Areas at one draught on even keel, and one standard deviation of the lateral one as a share."""

    area: WindArea
    spread: float


def usual_windage(kind: WindageType, loa_m: float, beam_m: float) -> SizedWindage | None:
    """The usual areas at the summer draught; None for offshore, research and fishing vessels (no table).

    The centroid is taken amidships, half the mean height above the water (judgement): superstructures aft of that
    turn her more than is reckoned here.
    """
    if kind == "car carrier":
        height_m = BOX_OVER_BEAM * beam_m
        return SizedWindage(
            WindArea(height_m * loa_m, height_m * beam_m, 0.0, 0.5 * height_m), _CAR_CARRIER_SPREAD
        )
    if kind not in LAWS:
        return None
    law = LAWS[kind]
    lateral_m2, frontal_m2 = (a * math.pow(loa_m, b) for a, b in (law.lateral, law.frontal))
    shortest_m, longest_m = law.lengths_m
    spread = law.spread * (1.0 if shortest_m <= loa_m <= longest_m else BEYOND)
    return SizedWindage(WindArea(lateral_m2, frontal_m2, 0.0, 0.5 * lateral_m2 / loa_m), spread)


def completed(
    kind: WindageType,
    loa_m: float,
    beam_m: float,
    waterline_m: float,
    summer_draught_m: float,
    reference_draught_m: float,
    *,
    lateral_m2: float | None,
    frontal_m2: float | None,
    centroid_forward_m: float | None,
    centroid_height_m: float | None,
    spread: float,
) -> SizedWindage:
    """What is known of a ship's windage at a reference draught, filled up with what is usual for type and size.

    The usual areas are brought from the summer draught to the reference draught. The spread is at least theirs
    when the lateral area is not known. Raises ValueError when one is not known of a type without usual areas.
    """
    known = [lateral_m2, frontal_m2, centroid_forward_m, centroid_height_m]
    given = [each for each in known if each is not None]
    if len(given) == len(known):
        return SizedWindage(WindArea(*given), spread)
    usual = usual_windage(kind, loa_m, beam_m)
    if usual is None:
        raise ValueError(f"no usual wind area is known for the type '{kind}'")
    there = windage_at_draught(
        usual.area, summer_draught_m, reference_draught_m, reference_draught_m, waterline_m, beam_m
    )
    told = (there.lateral_m2, there.frontal_m2, there.centroid_forward_m, there.centroid_height_m)
    area = WindArea(*(other if own is None else own for own, other in zip(known, told, strict=True)))
    return SizedWindage(area, max(spread, usual.spread) if lateral_m2 is None else spread)
