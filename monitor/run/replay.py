"""Replay: the inputs of a recording through the same pipeline, and the comparison with what was concluded then."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import zip_longest
from math import isclose
from typing import Any, Final

from monitor.base.clock import stopwatch_s, wait
from monitor.records.codec import encode
from monitor.records.estimates import LoadEstimate, Outlook, PassingOutlook
from monitor.records.events import Notice, Transition
from monitor.run.journal import Entry
from monitor.run.pipeline import Conclusion, Pipeline
from monitor.run.recording import Recording
from monitor.run.session import Session

LIKELY: Final = 0.5
SAME_PASS: Final = timedelta(minutes=30)
SAME_NUMBER: Final = 1e-6  # relative; across machines floats may differ in the last digits


@dataclass(slots=True)
class Comparison:
    """Conclusions of the replay against those recorded. `differences` are told in words, the first hundred."""

    same: int = 0
    differences: list[str] = field(default_factory=list)

    @property
    def identical(self) -> bool:
        """Every conclusion came again."""
        return not self.differences


def replay(
    recording: Recording,
    pace: float | None = None,
    passed: Callable[[Entry, Pipeline | None], None] | None = None,
) -> Iterator[tuple[datetime, Conclusion]]:
    """Conclusions in order with the stamp of the input that brought them.

    `pace` is seconds of the recording per second of ours; None runs at full speed. `passed` is called after every
    input (for a progress bar or a status line).
    """
    session = Session()
    began_s, began_at = stopwatch_s(), None
    for entry in recording.inputs():
        at = entry.stamped_at
        if pace is not None:
            began_at = began_at or at
            ahead_s = (at - began_at).total_seconds() / pace - (stopwatch_s() - began_s)
            if ahead_s > 0:
                wait(ahead_s)
        for conclusion in session.handle(at, entry.record):  # type: ignore[arg-type]
            yield at, conclusion
        session.remember(entry)
        if passed is not None:
            passed(entry, session.pipeline)


class Passes:
    """The passes of a replay, each as last expected before she was abeam. Show it every input (`passed`)."""

    def __init__(self) -> None:
        self.last: dict[tuple[int, str], PassingOutlook] = {}
        self._seen: Outlook | None = None

    def look(self, pipeline: Pipeline) -> None:
        """Take note of the outlook in force, when it is a new one."""
        outlook = pipeline.outlook
        if outlook is None or outlook is self._seen:
            return
        self._seen = outlook
        for passing in outlook.passings:
            encounter = passing.encounter
            if encounter.passes >= LIKELY and encounter.abeam_at >= outlook.at:
                # A ship may come by twice in a day: half an hour tells one pass from the next.
                known = [
                    key
                    for key, one in self.last.items()
                    if key[0] == encounter.mmsi and abs(one.encounter.abeam_at - encounter.abeam_at) < SAME_PASS
                ]
                self.last[known[0] if known else (encounter.mmsi, encounter.abeam_at.isoformat())] = passing


def compare(recording: Recording, replayed: list[tuple[datetime, Conclusion]]) -> Comparison:
    """Transitions and notices must be the same to the letter, estimates and what was expected to 1e-6. A recording
    of the time before expectations were kept holds none, and is asked for none."""
    outcome = Comparison()
    for kinds in ((Transition, Notice), (LoadEstimate,), (Outlook,)):
        names = {kind.__name__ for kind in kinds}
        if kinds == (Outlook,) and not any(entry.kind in names for entry in recording.outputs()):
            continue
        then = (entry for entry in recording.outputs() if entry.kind in names)
        now = ((at, conclusion) for at, conclusion in replayed if isinstance(conclusion, kinds))
        for entry, again in zip_longest(then, now):
            difference = _difference(entry, again)
            if not difference:
                outcome.same += 1
            elif len(outcome.differences) < 100:
                outcome.differences.append(difference)
    return outcome


def _difference(then: Entry | None, now: tuple[datetime, Conclusion] | None) -> str:
    if then is None:
        assert now is not None
        return f"{now[0]:%H:%M:%S} new: {encode(now[1])[1][:200]}"
    if now is None:
        return f"{then.stamped_at:%H:%M:%S} missing: {then.body[:200]}"
    if (then.kind, then.body) == encode(now[1]):
        return ""
    # Not the same letters: the same meaning? (floats in another last digit)
    kind, body = encode(now[1])
    known = encode(then.record)[1]  # with the fields that its kind has been given since
    if then.kind == kind and _alike(json.loads(known), json.loads(body)):
        return ""
    return f"{then.stamped_at:%H:%M:%S} was {then.body[:200]} is {body[:200]}"


def _alike(one: Any, two: Any) -> bool:
    if isinstance(one, float | int) and isinstance(two, float | int) and not isinstance(one, bool):
        return isclose(one, two, rel_tol=SAME_NUMBER, abs_tol=1e-6)
    if isinstance(one, dict) and isinstance(two, dict):
        return one.keys() == two.keys() and all(_alike(one[key], two[key]) for key in one)
    if isinstance(one, list) and isinstance(two, list):
        return len(one) == len(two) and all(map(_alike, one, two))
    return bool(one == two)
