"""Brakes that may have rendered: what the estimate let run out, kept until somebody says how the line is.

Nothing on board measures it. While a load grows the estimate itself tells how much line a brake lets out; when
the load goes the line stays longer, carries less, and its neighbours more. So the greatest that was worked out is
kept, as the band it is, and every load from then on allows for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from monitor.records.estimates import Band, LineLoad, Slip
from monitor.records.events import OperatorAction

MAY_HAVE: Final = "may have rendered"
# Of a line that was seen to render when nothing was worked out: it may hang slack, or hardly be longer.
UNKNOWN_M: Final = Band(0.0, 0.0, 30.0)


def slipped(slips: tuple[Slip, ...], before: Sequence[LineLoad], now: Sequence[LineLoad]) -> tuple[Slip, ...]:
    """Slips with what brakes let out by the lines of two estimates running, where the middle load passes the
    middle setting, in tenths of a metre. One estimate alone may rest on a slip of the AIS."""
    was, found = _rendering(before), {slip.line: _ends(slip.out_m) for slip in slips}
    for line, out_m in sorted(_rendering(now).items()):
        if line in was:
            both = np.minimum(_ends(was[line]), _ends(out_m))
            found[line] = tuple(np.maximum(both.round(1), found.get(line, 0.0)).tolist())
    return tuple(Slip(line, Band(*ends)) for line, ends in found.items())


def told(slips: tuple[Slip, ...], action: OperatorAction) -> tuple[Slip, ...]:
    """What is left after somebody told of a line: tended, held or parted ends it, rendered makes it one."""
    line, word = action.subject, action.value("state")
    if word in ("tended", "held", "parted"):
        return tuple(slip for slip in slips if slip.line != line)
    if word == "rendered" and all(slip.line != line for slip in slips):
        return (*slips, Slip(line, UNKNOWN_M))
    return slips


def _rendering(lines: Sequence[LineLoad]) -> dict[str, Band]:
    return {load.line: load.runs_out_m for load in lines if load.runs_out_m and load.runs_out_m.mid > 0.0}


def _ends(band: Band) -> tuple[float, float, float]:
    return band.low, band.mid, band.high
