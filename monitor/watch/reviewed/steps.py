"""Which estimates are worth keeping: those that tell what the last one kept did not."""

from __future__ import annotations

from monitor.records.estimates import LoadEstimate


def told_anew(kept: LoadEstimate | None, new: LoadEstimate, share: float) -> bool:
    """Whether some line moved by `share` of its limit since the last estimate kept, or loads became known or not.

    A pass is over in a minute or two: kept by the clock alone, its peak would be lost.
    """
    if kept is None or len(kept.lines) != len(new.lines):
        return True
    before = {load.line: load.utilisation.mid for load in kept.lines}
    return any(abs(load.utilisation.mid - before.get(load.line, 0.0)) >= share for load in new.lines)
