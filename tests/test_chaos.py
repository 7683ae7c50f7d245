"""Kills, cuts, garble, delays, duplicates, swaps, stalls, a full disk and a clock that is set, in any order.

Bounded and seeded; the real consumer, journal and pipeline, on a clock in our hand. A kill drops all that was
not yet committed, as a kill does. Afterwards: nothing stamped more than a second before a kill is lost, the
replay concludes the same, every outage was told in time, and no outage was ever told to be over while it lasted.

By default a short form. BIGHTWATCH_CHAOS=1000 makes a thousand restarts of it (some minutes).
"""

from __future__ import annotations

import json
import os
import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from monitor.intake.met import Reply, encode
from monitor.records.events import In, Notice, RawReading, Reason, SourceStatus, Started
from monitor.run import live, session
from monitor.run.journal import Journal, JournalFull, open_journal
from monitor.settings.load import from_snapshot, snapshot
from tests.composed import POSITION, sealed, vdm
from tests.settings_texts import GOOD, NAME, write
from tests.test_met_norway_over_http import GOOD as FORECAST
from tests.watching import replayed

RESTARTS = int(os.environ.get("BIGHTWATCH_CHAOS", "8"))
T0 = datetime(2031, 5, 4, 5, 10, tzinfo=UTC)
STALE_S = {"ais": 60.0, "anemometer": 30.0}  # in the settings
IN_TIME_S = 20.0 + 15.0  # the profile's raise_after, and three ticks


class Clock:
    """Ours: `set_by` is what somebody did to the PC's."""

    def __init__(self) -> None:
        self.true, self.set_by, self.taken = T0, timedelta(0), timedelta(0)
        self.set_at = T0 - timedelta(hours=1)

    def now(self) -> datetime:
        return self.true + self.taken

    def step(self) -> timedelta | None:
        return self.set_by - self.taken or None

    def re_anchor(self) -> None:
        self.taken = self.set_by


@dataclass
class Sea:
    """What the feeds send, and what becomes of it on the way."""

    dice: random.Random
    silent_until: dict[str, datetime] = field(default_factory=dict)
    heard_at: dict[str, datetime] = field(default_factory=dict)
    held: list[RawReading] = field(default_factory=list)
    last: dict[str, RawReading] = field(default_factory=dict)

    def second(self, now: datetime, stamped: datetime) -> Iterator[RawReading]:
        """The readings that arrive in one second."""
        dice = self.dice
        sent = []
        for name in STALE_S:
            if dice.random() < 1 / 150:
                self.silent_until[name] = now + timedelta(seconds=dice.choice((20, 100, 200)))
            if now >= self.silent_until.get(name, T0):
                sent += [RawReading(name, text) for text in self._says(name, now, stamped)]
        if dice.random() < 1 / 60:
            body = dice.choice((json.dumps(FORECAST), "<html>", "", "{"))
            sent.append(RawReading("forecast", encode(Reply(dice.choice((200, 200, 503)), {}, body))))
        for reading in sent:
            fate = dice.random()
            if fate < 0.03:
                yield RawReading(reading.source, self._garbled(reading.text))
            elif fate < 0.06:
                self.held.append(reading)  # late, and after its successor
            else:
                if reading.source != "forecast":
                    self.heard_at[reading.source] = now
                yield reading
                if fate < 0.10:
                    yield reading
        if self.held and dice.random() < 0.3:
            late = self.held.pop(0)
            self.heard_at[late.source] = now
            yield late

    def _says(self, name: str, now: datetime, stamped: datetime) -> list[str]:
        second = int((now - T0).total_seconds())
        if name == "anemometer":
            angle, speed = 90 + self.dice.gauss(0, 8), 9.0 + self.dice.gauss(0, 1.0)
            return [sealed(f"$WIMWV,{angle % 360:.1f},R,{max(0.0, speed):.1f},M,A")]
        if second % 5:
            return []
        along = (second % 1500) * 5.5  # a ship every 25 minutes, 10.7 kn, 330 m off the quay
        ship = {"mmsi": 200911001 + second // 1500, "lat": -45.0032, "lon": -30.055 + along / 78_700}
        moving = {"speed": 10.7, "course": 90.0, "heading": 90, "turn": 0, "second": stamped.second}
        return [*vdm({**POSITION, **ship, **moving})]

    def _garbled(self, text: str) -> str:
        place = self.dice.randrange(len(text))
        return self.dice.choice(
            (text[:place], text[:place] + "\x00" + text[place + 1 :], text[place:], "\xff" * 40)
        )


def kill(watch: live.Live) -> None:
    """As SIGKILL does: nothing is committed, nothing said, the lock goes with the process."""
    watch._worker.shutdown(wait=True)
    journal = watch._journal
    journal._pending.clear()
    journal._db.close()
    journal._lock.close()


@dataclass
class Seen:
    """The channel of the watch, which knows the truth: no outage is told to be over while it lasts."""

    sea: Sea
    clock: Clock
    name: str = "told"
    outages: int = 0
    ends: int = 0

    def send(self, notice: Notice) -> None:
        kind, _, feed = notice.alert.partition(":")
        if kind != "feed" or feed not in STALE_S:
            return
        if notice.reason is not Reason.RECTIFIED:
            self.outages += 1
            return
        self.ends += 1
        silent_s = (self.clock.true - self.sea.heard_at.get(feed, T0)).total_seconds()
        assert silent_s <= STALE_S[feed] + 5.0, (notice, silent_s)


def begun(settings: Path, journal: Path, clock: Clock, told: Seen) -> live.Live:
    """A new life of the watch, as `Live.run` begins it."""
    taken = snapshot(settings, NAME)
    watch = live.Live(from_snapshot(taken), taken, open_journal(journal), [told])
    watch._clock = clock  # type: ignore[assignment]
    watch._remember()
    watched_until = watch._journal.watched_until()
    watch._take(taken)
    watch._take(Started("test", watched_until))
    return watch


@pytest.mark.parametrize("seed", [1, 2])
def test_whatever_happens(seed: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    if RESTARTS > 100:
        monkeypatch.setattr(session, "REMEMBERED", timedelta(minutes=3))
        monkeypatch.setattr(live, "REMEMBERED", timedelta(minutes=3))
    dice, clock = random.Random(seed), Clock()
    sea = Sea(dice)
    settings, journal = write(tmp_path / "config", GOOD), tmp_path / "watch.journal"
    seen = Seen(sea, clock)
    kept: list[tuple[datetime, In]] = []  # what must be in the journal in the end
    for _ in range(RESTARTS // 2):
        watch = begun(settings, journal, clock, seen)
        taken: list[tuple[datetime, In]] = []
        full_until = clock.true
        life_s = dice.choice((3, 20, 60, 150)) if RESTARTS < 100 else dice.choice((3, 20, 60))
        set_in_this_life = False
        for second in range(life_s):
            clock.true += timedelta(seconds=1)
            if dice.random() < 1 / 300 and second > 10:
                clock.set_by += timedelta(seconds=dice.choice((-3600, -40, 40, 3600)))
                set_in_this_life, clock.set_at = True, clock.true
            if dice.random() < 1 / 200 and second < life_s - 15:
                full_until = clock.true + timedelta(seconds=8)
            filled(watch._journal, clock.true < full_until, monkeypatch)
            for reading in sea.second(clock.true, clock.now()):
                watch._take(reading)
                taken.append((clock.now(), reading))
            if dice.random() < 1 / 40:
                watch._take(SourceStatus("ais", dice.random() < 0.7, "a wire that is moved"))
            watch._beat()
            look_at_outages(watch, sea, clock, second)
        cut_at = clock.now() - timedelta(seconds=1)
        kept += [(at, record) for at, record in taken if at <= cut_at or (set_in_this_life and at > clock.now())]
        kill(watch)
        clock.true += timedelta(seconds=dice.choice((0, 1, 5, 45)))
    _, comparison = replayed(journal)
    assert comparison.differences == [] and comparison.same > 0
    with open_journal(journal) as store:
        journalled = {(e.stamped_at, e.body) for e in store.read(direction="in", kinds=("RawReading",))}
    lost = [(at, r) for at, r in kept if (at, encoded(r)) not in journalled]
    assert lost == []
    assert len(kept) > 3 * RESTARTS and (seen.outages or RESTARTS < 6), seen


def encoded(record: Any) -> str:
    from monitor.records.codec import encode as to_text

    return to_text(record)[1]


def filled(journal: Journal, full: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that takes nothing for a while."""
    real = Journal._commit

    def commit(rows: list[Any]) -> None:
        if full:
            raise JournalFull(journal.path, "no room on the disk", len(journal._pending))
        real(journal, rows)

    monkeypatch.setattr(journal, "_commit", commit, raising=True)


def look_at_outages(watch: live.Live, sea: Sea, clock: Clock, second: int) -> None:
    """A feed silent for its time and the delay of the profile has its alert, in this life or brought into it.

    What was heard before a set clock is not carried over a restart: the feed then has its time anew.
    """
    pipeline = watch.session.pipeline
    assert pipeline is not None
    for name, stale_s in STALE_S.items():
        silent_s = (clock.true - max(sea.heard_at.get(name, T0), clock.set_at)).total_seconds()
        if silent_s > stale_s + IN_TIME_S and second > IN_TIME_S:
            alert = pipeline.alerts.get(f"feed:{name}")
            assert alert is not None and alert.active, (name, silent_s, second)
