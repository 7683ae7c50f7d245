"""The shipped recording against what is expected of it: the first hours here, the whole of it in CI."""

from __future__ import annotations

from datetime import UTC, datetime
from heapq import merge
from itertools import takewhile
from pathlib import Path

from monitor.records.events import Notice, Priority, Transition
from monitor.run.recording import open_recording, write_recording
from monitor.run.replay import compare, replay
from tests.conftest import ROOT

DAY = ROOT / "recordings" / "the-invented-day"
UNTIL = datetime(2026, 3, 14, 12, 40, tzinfo=UTC)  # the fast ship is abeam at 1235
FAST = "passing:200911002"


def test_it_concludes_what_it_did(tmp_path: Path) -> None:
    """Transitions and notices to the letter, estimates to 1e-6: a quiet stretch, a lost feed, a fast ship."""
    with open_recording(DAY) as whole:
        assert whole.about is not None and whole.about.invented
        entries = merge(whole.inputs(), whole.outputs(), key=lambda entry: entry.seq)
        early = takewhile(lambda entry: entry.stamped_at < UNTIL, entries)
        write_recording(tmp_path / "early", early, name="early", invented=True, holds="the first hours")
    with open_recording(tmp_path / "early") as recording:
        concluded = list(replay(recording))
        outcome = compare(recording, concluded)
    assert outcome.differences == []
    assert outcome.same > 200
    told = [one for _, one in concluded if isinstance(one, Notice) and one.alert == FAST]
    assert told[0].priority is Priority.WARNING and told[-1].priority is Priority.ALARM
    assert any(one.alert == "feed:ais" for _, one in concluded if isinstance(one, Transition))
