"""What is worth keeping to look back on: estimates that tell what the last one kept did not, and what was expected
of each pass when it mattered."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import Final

from monitor.records.estimates import LoadEstimate, Outlook, PassingOutlook
from monitor.watch.calls import HARDLY

# Before her bow overlaps our hull, at the earliest. She mostly comes later than that: two marks would not do.
LOOKED_BACK_TO: Final = tuple(timedelta(minutes=minutes) for minutes in (21, 18, 15, 12, 9, 6, 3))


@dataclass(slots=True)
class Foreseen:
    """What was expected of each pass: kept when people are first told of it, and when her bow comes within each of
    LOOKED_BACK_TO. Some 2 kB each time."""

    _within: dict[int, int] = field(default_factory=dict)  # by MMSI: of how many of LOOKED_BACK_TO
    _seen: Outlook | None = None

    def worth_keeping(self, outlook: Outlook | None, told: Collection[str]) -> Outlook | None:
        """The outlook in force cut down to the passes that are worth it now; None when none is. `told`: keys of
        alerts raised at this tick."""
        if outlook is None or (outlook is self._seen and not told):
            return None
        within = {
            passing.encounter.mmsi: _within(passing, outlook)
            for passing in outlook.passings
            if passing.encounter.passes >= HARDLY
        }
        worth = tuple(
            _short(passing)
            for passing in outlook.passings
            for mmsi in (passing.encounter.mmsi,)
            if within.get(mmsi, 0) > self._within.get(mmsi, 0) or f"passing:{mmsi}" in told
        )
        self._within, self._seen = within, outlook
        return Outlook(outlook.at, worth, (), outlook.validity) if worth else None


def _within(passing: PassingOutlook, outlook: Outlook) -> int:
    until = (passing.encounter.overlap_from or passing.encounter.earliest_at) - outlook.at
    return sum(until <= mark for mark in LOOKED_BACK_TO)


def _short(passing: PassingOutlook) -> PassingOutlook:
    """With its heaviest line alone and no more than the chances of the whole."""
    heaviest = max(passing.lines, key=lambda load: load.utilisation.mid, default=None)
    odds = None if passing.odds is None else replace(passing.odds, lines=())
    return replace(passing, lines=() if heaviest is None else (heaviest,), odds=odds, advice=None)


def told_anew(kept: LoadEstimate | None, new: LoadEstimate, share: float) -> bool:
    """Whether some line moved by `share` of its limit since the last estimate kept, or loads became known or not.

    A pass is over in a minute or two: kept by the clock alone, its peak would be lost.
    """
    if kept is None or len(kept.lines) != len(new.lines):
        return True
    before = {load.line: load.utilisation.mid for load in kept.lines}
    return any(abs(load.utilisation.mid - before.get(load.line, 0.0)) >= share for load in new.lines)
