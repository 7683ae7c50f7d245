"""A restart is no news: alerts go on as people were last told of them, however long ago; none is told anew, none
is over for the restart's sake. IMO MSC.302(87) has an acknowledged alert stay so while its condition lasts.
"""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from monitor.records.events import (
    Action,
    AlertState,
    Beat,
    ClockStepped,
    Delivery,
    In,
    Notice,
    OperatorAction,
    Priority,
    RawReading,
    Reason,
    SettingsSnapshot,
    SourceStatus,
    Started,
    Transition,
)
from monitor.records.situations import Matter, Situation
from monitor.run.journal import Entry
from monitor.run.session import Session
from monitor.settings.load import load_stay, snapshot
from monitor.settings.schema import Timing
from monitor.watch import alarms
from tests.composed import sealed
from tests.settings_texts import GOOD, NAME, write
from tests.watching import STAY

T0 = datetime(2031, 5, 4, 5, 10, tzinfo=UTC)


def test_told_is_what_the_machine_itself_holds(config: Path) -> None:
    """At every tick of a random history of facts and answers, the alerts folded from the transitions alone are the
    machine's own, but for the time its facts have lasted."""
    timing: Timing = load_stay(config, STAY).alerts.timing
    dice, now = random.Random(3), T0
    alerts: dict[str, alarms.Alert] = {}
    folded: dict[str, alarms.Alert] = {}
    levels = (Priority.NONE, Priority.CAUTION, Priority.WARNING, Priority.ALARM)
    facts = {key: Situation(key, Matter.WIND, Priority.NONE, Priority.NONE) for key in "abc"}
    seen: set[Reason] = set()
    for _ in range(20_000):
        now += timedelta(seconds=5)
        for key in facts:
            if dice.random() < 0.02:
                level = dice.choice(levels)
                due, unknown = dice.random() < 0.2, dice.random() < 0.2
                facts[key] = replace(facts[key], level=level, holds=level, due=due, urgent=due, unknown=unknown)
        alerts, changes = alarms.step(alerts, tuple(facts.values()), timing, now)
        if dice.random() < 0.05:
            by_hand = dice.choice((alarms.acknowledge, alarms.silence))
            alerts, more = by_hand(alerts, dice.choice("abc"), "HB", now)
            changes += more
        for change in changes:
            seen.add(change.reason)
            folded = alarms.told(folded, change)
        known = {
            key: replace(alert, higher_since=None, lower_since=None)
            for key, alert in alerts.items()
            if alert.state is not AlertState.NORMAL
        }
        assert folded == known, now
    assert len(seen) >= 12, set(Reason) - seen


class Watch:
    """One session after another, as a replay has them: `restart` is a kill and a new start."""

    def __init__(self, settings: Path) -> None:
        self.session, self.now = Session(), T0
        self.taken: SettingsSnapshot = snapshot(settings, NAME)
        self.silent: set[str] = set()
        self.told: list[Notice | Transition] = []
        self._seq = 0
        self.restart(timedelta(0))

    def take(self, record: In) -> None:
        self._seq += 1
        for conclusion in self.session.handle(self.now, record):
            if isinstance(conclusion, Notice | Transition):
                self.told.append(conclusion)
        self.session.remember(Entry.of(self._seq, self.now, "in", record))

    def restart(self, off: timedelta) -> None:
        before, self.now = self.now, self.now + off
        self.take(self.taken)
        self.take(Started("test", before))

    def run(self, minutes: float) -> None:
        for _ in range(round(60 * minutes)):
            self.now += timedelta(seconds=1)
            if "anemometer" not in self.silent:
                self.take(RawReading("anemometer", sealed("$WIMWV,90.0,R,8.0,M,A")))
            self.take(Beat())

    def reasons(self, alert: str) -> list[Reason]:
        return [each.reason for each in self.told if isinstance(each, Notice) and each.alert == alert]

    def alert(self, key: str) -> alarms.Alert:
        assert self.session.pipeline is not None
        return self.session.pipeline.alerts[key]


@pytest.fixture
def watch(tmp_path: Path) -> Watch:
    return Watch(write(tmp_path / "config", GOOD))


def test_acknowledged_long_ago_is_not_told_again(watch: Watch) -> None:
    """The AIS feed never speaks: warned, acknowledged; 12 min later a restart, and one after a night."""
    watch.run(3)
    assert watch.reasons("feed:ais") == [Reason.RAISED]
    watch.take(OperatorAction("HB", Action.ACKNOWLEDGE, "feed:ais"))
    watch.run(12)
    for off in (timedelta(seconds=5), timedelta(hours=8)):
        watch.restart(off)
        watch.run(6)
        assert watch.reasons("feed:ais") == [Reason.RAISED]
        assert watch.alert("feed:ais").state is AlertState.ACKNOWLEDGED


def test_unacknowledged_goes_on_being_repeated(watch: Watch) -> None:
    watch.run(17)
    repeated = watch.reasons("feed:ais").count(Reason.REPEATED)
    watch.restart(timedelta(seconds=5))
    watch.run(11)
    assert watch.reasons("feed:ais").count(Reason.RAISED) == 1
    assert watch.reasons("feed:ais").count(Reason.REPEATED) >= repeated + 2


def test_what_is_over_is_told_to_be_over(watch: Watch) -> None:
    """The anemometer falls silent, is acknowledged, and is heard again after the restart."""
    watch.run(1)
    watch.silent = {"anemometer"}
    watch.run(2)
    watch.take(OperatorAction("HB", Action.ACKNOWLEDGE, "feed:anemometer"))
    watch.run(15)
    watch.restart(timedelta(minutes=1))
    watch.run(15)
    assert watch.reasons("feed:anemometer") == [Reason.RAISED]
    watch.silent = set()
    watch.run(5)
    assert watch.reasons("feed:anemometer") == [Reason.RAISED, Reason.RECTIFIED]


def test_a_part_that_was_down_is_down_until_it_is_heard_of(watch: Watch) -> None:
    watch.take(SourceStatus("disk", False, "812 MB are free"))
    watch.run(2)
    watch.take(OperatorAction("HB", Action.ACKNOWLEDGE, "own:disk"))
    watch.run(15)
    watch.restart(timedelta(hours=1))
    watch.run(10)
    assert watch.reasons("own:disk") == [Reason.RAISED]
    watch.take(SourceStatus("disk", True, "9000 MB are free"))
    watch.run(5)
    assert watch.reasons("own:disk") == [Reason.RAISED, Reason.RECTIFIED]


def test_a_set_clock_moves_what_is_remembered(watch: Watch) -> None:
    watch.run(3)
    watch.take(OperatorAction("HB", Action.ACKNOWLEDGE, "feed:ais"))
    watch.now += timedelta(hours=-3)
    watch.take(ClockStepped(-10800.0))
    watch.run(1)
    watch.restart(timedelta(seconds=3))
    watch.run(3)
    since = watch.alert("feed:ais").since
    assert since is not None and since <= watch.now
    assert watch.reasons("feed:ais") == [Reason.RAISED]


def test_another_stay_begins_without_the_alerts_of_the_last(watch: Watch) -> None:
    watch.run(3)
    watch.take(Delivery("x@y", "nobody", False, "not of these settings"))
    watch.take(replace(watch.taken, stay="another"))
    assert watch.session._alerts == {}
