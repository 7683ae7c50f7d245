"""Where a parting line can strike: all of both mooring decks and the quay edge, hatched; and where it is worst.

The worst areas are those of the simulated breaks, grade 3, of the lines heaviest at present. Nothing here is a
place to stand: what is not marked as worst is hatched all the same. Without deck plans the ends of the ship are
hatched whole, and the worst places are said to be unknown.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from monitor.outlet.console.sheet import Sheet
from monitor.outlet.console.svg import el, rule, shape
from monitor.outlet.worst_places import nearest
from monitor.records.decks import QUAY, WorstOfLine
from monitor.records.picture import Plan

Corners = list[tuple[float, float]]
STRUCK: Final = "hatched: can be struck"


def decks(plan: Plan, outline: Corners, sheet: Sheet, worst: Sequence[WorstOfLine] = ()) -> str:
    """Both mooring decks of a hull drawn as `outline` (px), and the quay edge, with where it is `worst`."""
    clip = el("clipPath", shape(outline, ""), id="ours")
    if not plan.grounds:
        return clip + el("g", *_ends(plan, sheet), clip_path="url(#ours)")
    lines = (
        _hatching("crossed", "", -45, style="stroke:var(--ink)")
        + _hatching("struck", "deck")
        + _hatching("struck-ashore", "", style="stroke:var(--dim)")
    )
    aboard: list[str] = []
    ashore: list[str] = []
    for ground in plan.grounds:
        on_quay = ground.name == QUAY
        hatched = f"url(#struck{'-ashore' if on_quay else ''})"
        drawn = shape([sheet.at(*corner) for corner in ground.outline], "", fill=hatched)
        (ashore if on_quay else aboard).append(drawn)
    for found in worst:
        for area in found.areas:
            for ring in area.rings if area.grade == 3 else ():
                solid = 0.45 if area.ground == QUAY else None  # what stands on the quay is seen through it
                corners = [sheet.at(*corner) for corner in ring]
                drawn = shape(corners, "worst", fill_opacity=solid) + shape(corners, "", fill="url(#crossed)")
                (ashore if area.ground == QUAY else aboard).append(drawn)
    return clip + lines + el("g", *ashore) + el("g", *aboard, clip_path="url(#ours)")


def _hatching(name: str, kind: str, turned_deg: int = 45, **more: object) -> str:
    """A pattern of slanting strokes to fill shapes with."""
    stroke = rule(0, 0, 0, 9, kind, **more)
    return el("pattern", stroke, id=name, width=9, height=9, patternUnits="userSpaceOnUse",
              patternTransform=f"rotate({turned_deg})")  # fmt: skip


def worst_now(worst: Sequence[WorstOfLine], tensions_n: Mapping[str, float]) -> list[WorstOfLine]:
    """Of each of these lines at its tension, what is worked out."""
    found = (nearest(line, tension_n, worst) for line, tension_n in tensions_n.items())
    return [each for each in found if each is not None]


def in_words(plan: Plan, heavy: int, worst: Sequence[WorstOfLine]) -> tuple[str, str]:
    """Two short rows that say what the hatching means; `heavy`: lines whose worst places are asked for."""
    if not plan.grounds:
        return STRUCK, "worst: no deck plan"
    if heavy and not worst:
        return STRUCK, "worst: not yet known"
    if len(worst) < heavy:
        return STRUCK, f"crossed: worst of {len(worst)} of {heavy} heavy lines so far"
    return STRUCK, "crossed: worst now"


def _ends(plan: Plan, sheet: Sheet) -> list[str]:
    """Hatching over both ends of the ship, as far in as the farthest fairlead and somewhat on."""
    half = 0.5 * plan.loa_m
    inboard = [half - abs(lead.fairlead[0]) for lead in plan.leads if abs(lead.fairlead[0]) > 0.3 * plan.loa_m]
    deep_m = max(0.14 * plan.loa_m, max(inboard, default=0.0) + 6.0)
    top, bottom = sorted((sheet.y_off(sheet.stretches[2][0]), sheet.y_off(sheet.stretches[3][0])))
    strokes = []
    for begins, ends in ((sheet.x(-half), sheet.x(deep_m - half)), (sheet.x(half - deep_m), sheet.x(half))):
        x = begins
        while x < ends:
            strokes.append(rule(x, bottom, x + 14, top, "deck"))
            x += 9
    return strokes
