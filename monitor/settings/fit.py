"""Do this ship, this berth and this stay fit together?"""

from __future__ import annotations

from collections.abc import Iterator
from math import hypot
from typing import Final

from monitor.base.berthed import Berthed
from monitor.settings.faults import Fault
from monitor.settings.page import Page
from monitor.settings.schema import FORWARD_GROUPS, Berth, Fairlead, LineGroup, LineLed, Ship, ShipLine, Stay
from monitor.settings.sense import DRAUGHT_MARGIN

FLAT_SIDE_SHARE: Final = 0.4  # of length between perpendiculars, each way from midships: meets fenders (judgement)
_PRETENSION_SHARE: Final = 0.5  # of ship design MBL: working load limit of a fibre line (OCIMF MEG4, in summaries)
_LONGEST_LEAD_M: Final = 250.0  # common practice, no source: a mooring line is some 200 to 220 m long
_SHORTEST_LEAD_M: Final = 1.0
_TRIM_SHARE: Final = 0.05  # of her length; beyond it draughts are exchanged or mistyped
_ENDS_SHARE: Final = 0.4  # of her length from midships: nearer the ends a line may well cross the bow or stern


def afloat(page: Page, stay: Stay, ship: Ship) -> Iterator[Fault]:
    """Draughts the ship can have, with her fairleads above the water."""
    key, _ = _deeper_end(stay)
    for problem, shown in draughts(ship, stay.draught_forward, stay.draught_aft):
        yield page.fault((key,), problem, shown)
    for i, _, _, fairlead in _led(stay, ship):
        if fairlead is not None and _above_water_m(fairlead, stay, ship) <= 0.0:
            problem = f"its fairlead {fairlead.name} is under water at these draughts"
            yield page.fault(("lines", i, "line"), problem, "see the fairlead's above_keel")


def draughts(ship: Ship, forward_m: float, aft_m: float) -> Iterator[tuple[str, str]]:
    """(problem, allowed) of draughts that she cannot have."""
    mean_m, trim_m, deepest_m = (
        (forward_m + aft_m) / 2,
        abs(aft_m - forward_m),
        ship.summer_draught * DRAUGHT_MARGIN,
    )
    if mean_m > deepest_m:
        shown = f"a mean of at most {deepest_m:.1f} m, 5 % over her summer_draught"
        yield f"her mean draught would be {mean_m:.1f} m", shown
    elif max(forward_m, aft_m) >= ship.depth_moulded:
        yield "the deck would be under water", f"less than {ship.depth_moulded:.1f} m, depth_moulded"
    limit_m = _TRIM_SHARE * ship.length_between_perpendiculars
    if trim_m > limit_m:
        yield f"a trim of {trim_m:.1f} m", f"draughts at most {limit_m:.1f} m apart"


def pulled(page: Page, stay: Stay, ship: Ship) -> Iterator[Fault]:
    """Pretensions below the working limit of the line and the brake's setting."""
    winches = {winch.name: winch for winch in ship.winches}
    for i, led, line, _ in _led(stay, ship):
        limit_n, name = _PRETENSION_SHARE * line.ship_design_mbl, "working limit"
        winch = winches.get(line.winch)
        if winch is not None and winch.render is not None and winch.render < limit_n:
            limit_n, name = winch.render, "brake setting"
        if led.pretension >= limit_n:
            shown = f"less than {limit_n / 1e3:.0f} kN, the line's {name}"
            yield page.fault(("lines", i, "pretension"), f"not below the {name}", shown)


def enough_water(page: Page, stay: Stay, berth: Berth) -> Iterator[Fault]:
    """She floats at low water, and high water does not cover the quay."""
    lowest, highest = min(row.height for row in stay.tide), max(row.height for row in stay.tide)
    depth_m = berth.depth_at_datum + lowest
    key, draught_m = _deeper_end(stay)
    if draught_m >= depth_m:
        problem = "she would be aground at the lowest tide of the stay"
        yield page.fault(
            (key,), problem, f"less than {depth_m:.1f} m: depth_at_datum plus a tide of {lowest:.1f} m"
        )
    for i, row in enumerate(stay.tide):
        if row.height == highest and highest >= berth.quay.above_datum:
            shown = f"less than {berth.quay.above_datum:.1f} m, the quay's above_datum"
            yield page.fault(("tide", i, "height"), "the quay would be under water", shown)


def alongside(stay_page: Page, berth_page: Page, stay: Stay, ship: Ship, berth: Berth) -> Iterator[Fault]:
    """She lies on a fender, stands on no bollard, and her lines reach ashore from the side of the quay."""
    lying = lies(stay, ship, berth)
    fenders_m = [fender.along for fender in berth.fenders]
    reach_m = FLAT_SIDE_SHARE * ship.length_between_perpendiculars
    if all(abs(along_m - stay.midships_along) > reach_m for along_m in fenders_m):
        shown = (
            f"within {reach_m:.1f} m of a fender: they stand from {min(fenders_m):.1f} m to {max(fenders_m):.1f} m"
        )
        yield stay_page.fault(("midships_along",), "no fender meets the flat of her side", shown)
    for i, bollard in enumerate(berth.bollards):
        forward_m, starboard_m = lying.to_ship(bollard.along, -bollard.behind_face)
        if abs(forward_m) < ship.loa / 2 and abs(starboard_m) < ship.beam / 2:
            shown = f"at least {ship.beam / 2 - lying.centre_off_m:.1f} m"
            yield berth_page.fault(
                ("bollards", i, "behind_face"), f"in the hull as she lies in {stay_page.file}", shown
            )
    bollards = {bollard.name: bollard for bollard in berth.bollards}
    for i, led, line, fairlead in _led(stay, ship):
        if fairlead is None or led.bollard not in bollards:
            continue
        bollard = bollards[led.bollard]
        forward_m, starboard_m = lying.to_ship(bollard.along, -bollard.behind_face)
        lead_m = hypot(forward_m - fairlead.forward, starboard_m - fairlead.starboard)
        if not _SHORTEST_LEAD_M <= lead_m <= _LONGEST_LEAD_M:
            shown = f"a bollard {_SHORTEST_LEAD_M:.0f} m to {_LONGEST_LEAD_M:.0f} m from it"
            yield stay_page.fault(
                ("lines", i, "bollard"), f"{lead_m:.0f} m from its fairlead {fairlead.name}", shown
            )
        if why := _leads_wrong(line.group, fairlead.forward, forward_m):
            yield stay_page.fault(("lines", i, "bollard"), why, "another bollard, side_to or midships_along")
        away = fairlead.starboard * starboard_m < 0.0 and abs(fairlead.starboard) > ship.beam / 4
        if away and abs(fairlead.forward) < _ENDS_SHARE * ship.loa:
            problem = f"crosses her own deck: its fairlead {fairlead.name} is on the side away from the bollard"
            yield stay_page.fault(
                ("lines", i, "line"), problem, f"a line led from the {stay.side_to} side, her side_to"
            )


def lies(stay: Stay, ship: Ship, berth: Berth) -> Berthed:
    """How she lies: against the thickest fender."""
    centre_off_m = max(fender.thickness for fender in berth.fenders) + ship.beam / 2
    return Berthed(berth.along, stay.side_to, stay.midships_along, centre_off_m)


def _led(stay: Stay, ship: Ship) -> Iterator[tuple[int, LineLed, ShipLine, Fairlead | None]]:
    """Place in the stay's list, line as led, line as carried, its fairlead; names unknown are told elsewhere."""
    lines = {line.name: line for line in ship.lines}
    fairleads = {fairlead.name: fairlead for fairlead in ship.fairleads}
    for i, led in enumerate(stay.lines):
        if led.line in lines:
            line = lines[led.line]
            yield i, led, line, fairleads.get(line.fairlead)


def _leads_wrong(group: LineGroup, from_forward_m: float, to_forward_m: float) -> str:
    """Why a lead from one place forward of midships to another is none of its group; "" when it may be."""
    if group == "forward springs":
        return "" if to_forward_m < from_forward_m else "a forward spring that does not lead aft"
    if group == "aft springs":
        return "" if to_forward_m > from_forward_m else "an aft spring that does not lead forward"
    if group in FORWARD_GROUPS:
        return "" if to_forward_m > 0.0 else f"aft of midships: no place for {group}"
    return "" if to_forward_m < 0.0 else f"forward of midships: no place for {group}"


def _deeper_end(stay: Stay) -> tuple[str, float]:
    """(key, draught in m) of the end that lies deeper."""
    ends = ("draught_forward", stay.draught_forward), ("draught_aft", stay.draught_aft)
    return max(ends, key=lambda end: end[1])


def _above_water_m(fairlead: Fairlead, stay: Stay, ship: Ship) -> float:
    """Height of a fairlead above the water, trim allowed for."""
    mean_m, trim_m = (stay.draught_forward + stay.draught_aft) / 2, stay.draught_aft - stay.draught_forward
    return fairlead.above_keel - (mean_m - trim_m * fairlead.forward / ship.length_between_perpendiculars)
