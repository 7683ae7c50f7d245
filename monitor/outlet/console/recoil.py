"""Where a parting line can strike: the whole of both mooring decks, hatched; and where it is worst at present.

A line that parts comes back along its own lead and, past the fairlead, across the deck inboard (common practice,
no source). Nothing here is a place to stand: what is not marked as worst is hatched all the same.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from typing import Final

from monitor.outlet.console.sheet import Sheet
from monitor.outlet.console.svg import el, rule, shape
from monitor.records.picture import Lead, Plan

SPREAD: Final = math.radians(15.0)  # to each side of the lead, seen from the fairlead (ours)
INBOARD: Final = 0.16  # of the length of the ship: how far in the worst is drawn (ours)

Corners = list[tuple[float, float]]


def decks(plan: Plan, outline: Corners, sheet: Sheet, heavy: Collection[str]) -> str:
    """Both mooring decks of a hull drawn as `outline` (px); `heavy` names the lines with load enough to matter."""
    half = 0.5 * plan.loa_m
    inboard = [half - abs(lead.fairlead[0]) for lead in plan.leads if abs(lead.fairlead[0]) > 0.3 * plan.loa_m]
    inboard_m = max(inboard, default=0.0)
    deep_m = max(0.14 * plan.loa_m, inboard_m + 6.0)
    clip = el("clipPath", shape(outline, ""), id="ours")
    top, bottom = sorted((sheet.y_off(sheet.stretches[2][0]), sheet.y_off(sheet.stretches[3][0])))
    strokes = []
    for begins, ends in ((sheet.x(-half), sheet.x(deep_m - half)), (sheet.x(half - deep_m), sheet.x(half))):
        x = begins
        while x < ends:
            strokes.append(rule(x, bottom, x + 14, top, "deck"))
            x += 9
    worst = [_worst(lead, plan, sheet) for lead in plan.leads if lead.line in heavy]
    return clip + el("g", *strokes, *worst, clip_path="url(#ours)")


def _worst(lead: Lead, plan: Plan, sheet: Sheet) -> str:
    """The wedge inboard of a fairlead on the line's own lead, for a line that parts outside her."""
    (x, y), (bollard_x, bollard_y) = lead.fairlead, lead.bollard
    back = math.atan2(y - bollard_y, x - bollard_x)
    reach_m = INBOARD * plan.loa_m
    ends = [
        (x + reach_m * math.cos(back + side), y + reach_m * math.sin(back + side))
        for side in (-SPREAD, 0.0, SPREAD)
    ]
    return shape([sheet.at(x, y), *(sheet.at(*end) for end in ends)], "worst")
