"""A live watch and the replay of its journal conclude the same, whatever feeds, people and clocks do meanwhile."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from socket import SOCK_DGRAM

import pytest

from monitor.intake.simulated import Day, feed_bytes, forecast_reply
from monitor.intake.simulated.script import FAST, invented_day
from monitor.records.estimates import LoadEstimate
from monitor.records.events import (
    Action,
    Beat,
    ClockStepped,
    Notice,
    OperatorAction,
    Priority,
    RawReading,
    Reason,
    SourceStatus,
    Started,
    Stopped,
    Transition,
)
from monitor.run.journal import JournalReader
from monitor.run.live import Live
from monitor.settings.load import load_stay
from tests.watching import (
    PC,
    STAY,
    Told,
    Wire,
    free_port,
    http_service,
    replayed,
    settings_folder,
    transitions,
    watching,
)

RATE = 45.0
GARBAGE = (
    b"\x00\xff\xfe$$$ not a sentence \x80\r\n"
    b"!AIVDM,1,1,,A,15M67F?P00G?Uf6E`FepT@3n00Sa,0*00\r\n"
    b"!AIVDM,2,1,9,B,half a message,0*\r\n" + b"x" * 6000 + b"\r\n"
)


@pytest.fixture(scope="module")
def day(config: Path) -> Day:
    """The invented day up to the fast ship's pass, with her alone on the river."""
    whole = invented_day(load_stay(config, STAY))
    few = tuple((ship, voyage) for ship, voyage in whole.ships if ship.own or ship.mmsi == FAST.mmsi)
    return replace(whole, minutes=160.0, ships=few, silences=())


class Berth:
    """The watch at the invented berth with its three feeds served."""

    def __init__(self, pc: PC, watch: Live, told: Told, ais: Wire, journal: Path) -> None:
        self.pc, self.watch, self.told, self.ais, self.journal = pc, watch, told, ais, journal

    def enter(self, action: Action, subject: str = "", **values: str | float | bool | None) -> None:
        self.watch.emit(OperatorAction("AB", action, subject, tuple(values.items())))

    def inputs(self) -> list[tuple[datetime, object]]:
        with JournalReader(self.journal) as reader:
            return [(entry.stamped_at, entry.record) for entry in reader.read(direction="in")]


@contextmanager
def berth(
    config: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, day: Day, begin: float, end: float
) -> Iterator[Berth]:
    """The day from one minute to another, RATE times as fast."""
    spoken = {
        feed: list(feed_bytes(day, feed, day.at(60 * begin), day.at(60 * end)))
        for feed in (day.ais_feed, day.wind_feed)
    }
    middle = len(spoken[day.ais_feed]) // 2
    spoken[day.ais_feed].insert(middle, (spoken[day.ais_feed][middle][0], GARBAGE))
    wind_port = free_port(SOCK_DGRAM)
    pc = PC(day.at(60 * begin), RATE)
    pc.install(monkeypatch)
    told, journal = Told(), tmp_path / "watch.journal"
    ais, wind = Wire(pc, spoken[day.ais_feed]), Wire(pc, spoken[day.wind_feed], wind_port)
    with ExitStack() as running:
        met = running.enter_context(http_service(lambda: (200, forecast_reply(day, pc.true()).body.encode())))
        addresses = {"ais": f"127.0.0.1:{ais.port}", "anemometer": f"127.0.0.1:{wind_port}", "forecast": met}
        settings = settings_folder(config, tmp_path / "config", addresses)
        for wire in (ais, wind):
            wire.start()
            running.callback(wire.join, 5.0)
            running.callback(wire.stop.set)
        watch, _ = running.enter_context(watching(settings, journal, [told]))
        yield Berth(pc, watch, told, ais, journal)


def test_a_dying_server_garbage_and_entries(
    config: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, day: Day
) -> None:
    """Ten minutes before the fast ship is abeam; her AIS breaks off for a minute and a half and comes back."""
    passing = f"passing:{FAST.mmsi}"
    with berth(config, tmp_path, monkeypatch, day, 145.0, 156.0) as b:
        b.pc.until(day.at(60 * 146.5))
        b.enter(Action.PEOPLE, "forecastle", on_deck=True)
        b.pc.until(day.at(60 * 147.5))
        b.ais.dead.set()
        b.pc.until(day.at(60 * 149.0))
        b.ais.dead.clear()
        b.pc.until(lambda: any(notice.alert == passing for notice in b.told.notices))
        b.enter(Action.ACKNOWLEDGE, passing)
        b.enter(Action.WIND, mean_m_s=12.0, from_direction_deg=310.0)
        b.enter(Action.DRAUGHT, forward_m=91.0, aft_m=9.0)  # a slip of the finger stops nothing
        b.enter(Action.PEOPLE, on_deck=False)
        b.pc.until(day.at(60 * 155.0))
        b.enter(Action.LINE, "head line 1", state="parted")
        b.pc.until(lambda: bool(b.told.of("line:head line 1")))
    conclusions, comparison = replayed(b.journal)
    assert comparison.differences == []

    counted = Counter(type(conclusion) for conclusion in conclusions)
    assert comparison.same == sum(counted.values())
    assert counted[Transition] >= 6 and counted[LoadEstimate] >= 15
    assert [notice for notice in conclusions if isinstance(notice, Notice)] == b.told.notices
    assert transitions(conclusions, "feed:ais")[0].reason is Reason.RAISED
    reasons = [transition.reason for transition in transitions(conclusions, passing)]
    assert reasons[0] is Reason.RAISED and Reason.ACKNOWLEDGED in reasons
    assert max(t.priority.rank for t in transitions(conclusions, passing)) == Priority.ALARM.rank
    assert transitions(conclusions, "line:head line 1")[0].priority is Priority.ALARM

    inputs = b.inputs()
    records = [record for _, record in inputs]
    assert isinstance(records[-1], Stopped)
    assert [at for at, _ in inputs] == sorted(at for at, _ in inputs)
    statuses = [(r.up, r.detail) for r in records if isinstance(r, SourceStatus) and r.source == "ais"]
    assert statuses[0][0] and (False, f"127.0.0.1:{b.ais.port} closed the connection") in statuses
    assert statuses[-1][0]
    assert any(isinstance(r, RawReading) and r.text == "\x00\xff\xfe$$$ not a sentence \x80" for r in records)
    assert sum(isinstance(record, Beat) for record in records) > 400


@pytest.mark.parametrize("hours", [1.0, -1.0])
def test_a_set_clock(
    config: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, day: Day, hours: float
) -> None:
    """Somebody sets the PC clock by an hour and, a minute and a half later, back. Nothing goes stale by it, the
    watch does not stand still, and it is told."""
    step = timedelta(hours=hours)
    passing = f"passing:{FAST.mmsi}"
    with berth(config, tmp_path, monkeypatch, day, 148.0, 153.0) as b:
        b.pc.until(lambda: bool(b.told.of(passing)))
        b.enter(Action.ACKNOWLEDGE, passing)
        b.pc.until(day.at(60 * 149.5))
        b.pc.set_by = step
        b.pc.until(lambda: bool(b.told.of("clock")))
        b.pc.until(day.at(60 * 151.0))
        b.pc.set_by = timedelta(0)
        b.pc.until(day.at(60 * 152.8))
    conclusions, comparison = replayed(b.journal)
    assert comparison.differences == []

    inputs = b.inputs()
    stepped = [record.step_s for _, record in inputs if isinstance(record, ClockStepped)]
    assert stepped == pytest.approx([step.total_seconds(), -step.total_seconds()], abs=2.0)
    stamps = [at for at, _ in inputs]
    jumps_s = [(b - a).total_seconds() for a, b in pairwise(stamps)]
    assert sorted(jumps_s)[0 if hours > 0 else -1] == pytest.approx(-3600.0 if hours > 0 else 3600.0, abs=10.0)
    assert sum(abs(jump_s) > 30.0 for jump_s in jumps_s) == 2  # otherwise time goes steadily on
    sign = "[+]" if hours > 0 else "-"
    assert re.search(rf"The PC clock (was set|differs) by {sign}3[56]\d\d s", b.told.of("clock")[0].what)
    # Nothing went dark, the acknowledgement stands, and her alert goes on in the new time.
    assert {notice.alert for notice in b.told.notices} <= {passing, "clock", "ahead"}
    reasons = [transition.reason for transition in transitions(conclusions, passing)]
    assert reasons[:2] == [Reason.RAISED, Reason.ACKNOWLEDGED]
    assert set(reasons[2:]) <= {Reason.TIME_TO_ACT, Reason.LEVEL_UP}
    estimated = [one.at for one in conclusions if isinstance(one, LoadEstimate)]
    shifted = sum(abs(at - day.at(60 * 150.5)) > timedelta(minutes=50) for at in estimated)
    assert shifted >= 1  # estimates went on while the clock was wrong


def test_a_restart_knows_the_stay(config: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What people told long ago, and what was heard lately, is there again after a restart; the gap is told."""
    settings = settings_folder(config, tmp_path / "config")
    journal = tmp_path / "watch.journal"
    begin = datetime.fromisoformat("2026-03-14T12:00:00+00:00")

    def session(at: datetime, *actions: OperatorAction, told: str = "") -> Live:
        """Half a minute of watch; the actions are entered once `told` has been."""
        pc, heard = PC(at, 40.0), Told()
        pc.install(monkeypatch)
        with watching(settings, journal, [heard]) as (watch, _):
            pc.until(lambda: not told or bool(heard.of(told)))
            pc.until(at + timedelta(seconds=10))
            for action in actions:
                watch.emit(action)
            pc.until(at + timedelta(seconds=30))
        return watch

    parted = "line:head line 1"
    session(
        begin,
        OperatorAction("AB", Action.PHASE, "singling up"),
        OperatorAction("AB", Action.LINE, "head line 1", (("state", "parted"),)),
        OperatorAction("AB", Action.TOW, "", (("mmsi", 200911042.0), ("tows", False))),
    )
    session(begin + timedelta(minutes=20), OperatorAction("AB", Action.ACKNOWLEDGE, parted), told=parted)
    last = session(begin + timedelta(minutes=22))
    pipeline = last.session.pipeline
    assert pipeline is not None
    assert pipeline.stay.phase == "singling up"
    assert pipeline.stay.parted == {"head line 1"}
    assert pipeline.stay.without_tow == {200911042}
    conclusions, comparison = replayed(journal)
    assert comparison.differences == []
    assert len(transitions(conclusions, "off")) == 2
    assert [t.reason for t in transitions(conclusions, parted)] == [
        Reason.RAISED,
        Reason.RAISED,
        Reason.ACKNOWLEDGED,
    ]
    with JournalReader(journal) as reader:
        started = [entry.record for entry in reader.read(kinds=("Started",))]
    assert all(isinstance(record, Started) for record in started) and len(started) == 3
