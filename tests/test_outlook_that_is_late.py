"""A PC too slow for its passes: the beat is kept, people are told, and the replay waits as long as the watch."""

from __future__ import annotations

import random
import threading
import time
from datetime import timedelta
from pathlib import Path

import pytest

from monitor.records.estimates import Outlook
from monitor.records.events import RawReading, Reason, SourceStatus
from monitor.run import live, pipeline
from monitor.run.journal import open_journal
from monitor.watch.expected import Ask
from monitor.watch.outlook import look_ahead
from tests.composed import sealed
from tests.settings_texts import GOOD, write
from tests.test_chaos import Clock, Sea, Seen, begun, kill
from tests.watching import Told, replayed


@pytest.mark.parametrize("killed", [False, True])
def test_an_outlook_that_takes_minutes(killed: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ready, asked = threading.Event(), []

    def slow(ask: Ask) -> Outlook:
        asked.append(ask.now)
        assert ready.wait(60.0)
        return look_ahead(ask)

    monkeypatch.setattr(pipeline, "look_ahead", slow)
    monkeypatch.setattr(live, "LATE_AFTER_S", 0.0)
    settings, journal, clock = write(tmp_path / "config", GOOD), tmp_path / "watch.journal", Clock()
    watch = begun(settings, journal, clock, Seen(Sea(random.Random(1)), clock))
    told = Told()
    watch._channels = [told]

    def run(seconds: int) -> None:
        for _ in range(seconds):
            clock.true += timedelta(seconds=1)
            watch._take(RawReading("anemometer", sealed("$WIMWV,90.0,R,8.0,M,A")))
            watch._beat()

    run(120)  # nobody waits for what takes a minute: else it would not end before `ready` is given up
    state = watch.session.pipeline
    assert state is not None and state.outlook is None and len(asked) == 1
    assert [notice.reason for notice in told.notices if notice.alert == "own:outlook"] == [Reason.RAISED]
    ready.set()
    monkeypatch.setattr(live, "LATE_AFTER_S", 60.0)
    if killed:  # what was late then is not late now
        kill(watch)
        clock.true += timedelta(seconds=3)
        watch = begun(settings, journal, clock, Seen(Sea(random.Random(1)), clock))
        watch._channels = [told]
    else:
        _, future = watch._asked or (0.0, None)
        assert future is not None and future.result(60.0)
    for _ in range(3):
        run(20)
        time.sleep(0.3)
    state = watch.session.pipeline
    assert state is not None and state.outlook is not None
    run(200)
    assert told.notices[-1].alert == "own:outlook" and told.notices[-1].reason is Reason.RECTIFIED
    kill(watch)
    with open_journal(journal) as store:
        statuses = [e.record for e in store.read(direction="in", kinds=("SourceStatus",))]
    assert [s.up for s in statuses if isinstance(s, SourceStatus) and s.source == "outlook"][:1] == [False]
    _, comparison = replayed(journal)
    assert comparison.differences == [] and comparison.same > 5
