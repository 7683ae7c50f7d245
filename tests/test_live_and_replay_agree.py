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

import numpy as np
import pytest

from monitor.intake.simulated import Day, feed_bytes, forecast_reply
from monitor.intake.simulated.script import FAST, invented_day
from monitor.physics import passing
from monitor.physics.loads import Loads
from monitor.physics.passing import Track
from monitor.records.estimates import LoadEstimate
from monitor.records.events import (
    Action,
    AlertState,
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
from monitor.run.pipeline import Pipeline
from monitor.run.session import Session
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
    stretch,
    transitions,
    watching,
)

RATE = 40.0
HER = f"passing:{FAST.mmsi}"
GARBAGE = (
    b"\x00\xff\xfe$$$ not a sentence \x80\r\n"
    b"!AIVDM,1,1,,A,15M67F?P00G?Uf6E`FepT@3n00Sa,0*00\r\n"
    b"!AIVDM,2,1,9,B,half a message,0*\r\n" + b"x" * 6000 + b"\r\n"
)


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the panels say does not matter here: slender-body theory alone keeps up with such a pace."""

    def none_solved(moored: object, passer: object, track: Track, *_: object) -> tuple[Loads, np.ndarray]:
        nothing = np.zeros_like(track.x_m)
        return Loads(nothing, nothing, nothing), np.zeros(len(nothing), bool)

    monkeypatch.setattr(passing, "panel_load", none_solved)


@pytest.fixture(scope="module")
def day(config: Path) -> Day:
    """The invented day up to the fast ship's pass, with her alone on the river. No base station tells the time."""
    whole = invented_day(load_stay(config, STAY))
    few = tuple((ship, voyage) for ship, voyage in whole.ships if ship.own or ship.mmsi == FAST.mmsi)
    return replace(whole, minutes=160.0, ships=few, silences=())


class Berth:
    """The watch at the invented berth with its three feeds served."""

    def __init__(self, pc: PC, watch: Live, told: Told, ais: Wire, journal: Path) -> None:
        self.pc, self.watch, self.told, self.ais, self.journal = pc, watch, told, ais, journal

    def enter(self, action: Action, subject: str = "", **values: str | float | bool | None) -> None:
        self.watch.emit(OperatorAction("AB", action, subject, tuple(values.items())))

    @property
    def pipeline(self) -> Pipeline:
        assert self.watch.session.pipeline is not None
        return self.watch.session.pipeline

    def clock_set_by(self, sign: str) -> bool:
        """Whether the watch knows that its clock was set last forward ("+") or back ("-")."""
        situation = self.pipeline.situations.get("clock")
        return situation is not None and f"set by {sign}" in situation.facts[0]

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
    spoken[day.ais_feed] = [(at, line) for at, line in spoken[day.ais_feed] if b",,A,4" not in line]
    said = spoken[day.ais_feed]
    spoken[day.ais_feed] = [one for at, line in said for one in ((at, line), (at, GARBAGE))]
    wind_port = free_port(SOCK_DGRAM)
    pc = PC(day.at(60 * begin), RATE)
    pc.install(monkeypatch)
    told, journal = Told(), tmp_path / "watch.journal"
    ais, wind = Wire(pc, spoken[day.ais_feed]), Wire(pc, spoken[day.wind_feed], wind_port)
    with ExitStack() as running:
        met = running.enter_context(http_service(lambda: (200, forecast_reply(day, pc.true()).body.encode())))
        addresses = {"ais": f"127.0.0.1:{ais.port}", "anemometer": f"127.0.0.1:{wind_port}", "forecast": met}
        settings = settings_folder(config, tmp_path / "config", addresses)
        path = (
            settings / "stays" / f"{STAY}.toml"
        )  # a machine that stalls for a second stalls this watch for a minute
        path.write_text(
            re.sub('stale_after = "[36]0 s"', 'stale_after = "3 min"', path.read_text("utf-8")), "utf-8"
        )
        for wire in (ais, wind):
            wire.start()
            running.callback(wire.join, 5.0)
            running.callback(wire.stop.set)
        watch, _ = running.enter_context(watching(settings, journal, [told]))
        yield Berth(pc, watch, told, ais, journal)


def test_a_dying_server_garbage_and_entries(
    config: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, day: Day
) -> None:
    """The last minutes before the fast ship is abeam; her AIS breaks off and comes back."""
    with berth(config, tmp_path, monkeypatch, day, 145.0, 160.0) as b:
        b.pc.until(lambda: bool(b.told.of(HER)))
        b.enter(Action.PEOPLE, "forecastle", on_deck=True)
        b.ais.dead.set()
        b.pc.until(lambda: not b.pipeline.feed_states(b.pc.true())[0].up)  # told it may be before, by a stall
        b.pc.until(lambda: bool(b.told.of("feed:ais")))
        b.ais.dead.clear()
        b.pc.until(lambda: "ais" not in b.pipeline.dark)
        b.enter(Action.ACKNOWLEDGE, HER)
        b.enter(Action.WIND, mean_m_s=12.0, from_direction_deg=310.0)
        b.enter(Action.DRAUGHT, forward_m=91.0, aft_m=9.0)  # a slip of the finger stops nothing
        b.enter(Action.PEOPLE, on_deck=False)
        b.pc.until(lambda: any(notice.priority is Priority.ALARM for notice in b.told.of(HER)))
        b.enter(Action.LINE, "head line 1", state="parted")
        b.pc.until(lambda: bool(b.told.of("line:head line 1")))
    conclusions, comparison = replayed(b.journal)
    assert comparison.differences == []

    counted = Counter(type(conclusion) for conclusion in conclusions)
    assert comparison.same == sum(counted.values())
    assert counted[Transition] >= 5 and counted[LoadEstimate] >= 2
    assert [notice for notice in conclusions if isinstance(notice, Notice)] == b.told.notices
    assert transitions(conclusions, "feed:ais")[0].reason is Reason.RAISED
    reasons = [transition.reason for transition in transitions(conclusions, HER)]
    assert reasons[0] is Reason.RAISED and Reason.ACKNOWLEDGED in reasons
    assert max(t.priority.rank for t in transitions(conclusions, HER)) == Priority.ALARM.rank
    assert transitions(conclusions, "line:head line 1")[0].priority is Priority.ALARM

    inputs = b.inputs()
    records = [record for _, record in inputs]
    assert isinstance(records[-1], Stopped)
    assert [at for at, _ in inputs] == sorted(at for at, _ in inputs)
    up = [record.up for record in records if isinstance(record, SourceStatus) and record.source == "ais"]
    assert up[0] and True in up[up.index(False) :]
    assert any(isinstance(r, RawReading) and r.text == "\x00\xff\xfe$$$ not a sentence \x80" for r in records)
    assert sum(isinstance(record, Beat) for record in records) > 20


@pytest.mark.parametrize("hours", [1.0, -1.0])
def test_a_set_clock(
    config: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, day: Day, hours: float
) -> None:
    """Somebody sets the PC clock by an hour and, a minute and a half later, back. Nothing goes stale by it, the
    watch does not stand still, and it is told."""
    step = timedelta(hours=hours)
    there, back = ("+", "-") if hours > 0 else ("-", "+")
    with berth(config, tmp_path, monkeypatch, day, 147.0, 158.0) as b:
        # A caution, which asks for no acknowledgement, until her size is heard or it is time to act.
        b.pc.until(lambda: any(notice.priority is not Priority.CAUTION for notice in b.told.of(HER)))
        b.enter(Action.ACKNOWLEDGE, HER)
        b.pc.until(lambda: b.pipeline.alerts[HER].state is AlertState.ACKNOWLEDGED)
        b.pc.set_by = step
        b.pc.until(lambda: b.clock_set_by(there))
        b.pc.until(b.pc.true() + timedelta(seconds=75))
        b.pc.set_by = timedelta(0)
        b.pc.until(lambda: b.clock_set_by(back))
        b.pc.until(b.pc.true() + timedelta(seconds=75))
    conclusions, comparison = replayed(b.journal)
    assert comparison.differences == []

    inputs = b.inputs()
    stepped = [record.step_s for _, record in inputs if isinstance(record, ClockStepped)]
    assert stepped == pytest.approx([step.total_seconds(), -step.total_seconds()], abs=2.0)
    jumps = [
        (after - before).total_seconds()
        for (before, _), (after, record) in pairwise(inputs)
        if isinstance(record, ClockStepped)
    ]
    assert all(jump_s * step_s > 0 and abs(jump_s) > 3000.0 for jump_s, step_s in zip(jumps, stepped, strict=True))
    assert re.search(rf"The PC clock was set by [{there}]3[56]\d\d s", b.told.of("clock")[0].what)
    # Nothing went dark, and her alert goes on in the new time.
    assert {notice.alert for notice in b.told.notices} <= {HER, "clock", "ahead"}
    reasons = [transition.reason for transition in transitions(conclusions, HER)]
    assert reasons[0] is Reason.RAISED and Reason.ACKNOWLEDGED in reasons
    assert not {Reason.RAISED, Reason.BECAME_UNKNOWN, Reason.RECTIFIED} & set(reasons[1:])
    estimated = [one.at for one in conclusions if isinstance(one, LoadEstimate)]
    assert any(abs(at - day.at(60 * 152.0)) > timedelta(minutes=45) for at in estimated)  # while it was wrong, too


@pytest.mark.parametrize("hours", [1.0, -1.0])
def test_nothing_ages_when_the_clock_is_set(config: Path, hours: float) -> None:
    """The next tick after it, with nothing heard between: ships, feeds, wind and alerts are as young as before."""
    session = Session()
    for entry in stretch(config, 147.0, 148.5, {FAST.mmsi}):
        if not isinstance(entry.record, Stopped):
            session.handle(entry.stamped_at, entry.record)  # type: ignore[arg-type]
    last_at, pipeline = entry.stamped_at, session.pipeline
    assert pipeline is not None and pipeline.estimate is not None and HER in pipeline.alerts
    (before,), estimate, since = pipeline.traffic.targets(last_at), pipeline.estimate, pipeline.alerts[HER].since
    at = last_at + timedelta(hours=hours)
    session.handle(at, ClockStepped(3600.0 * hours))
    session.handle(at + timedelta(seconds=6), Beat())
    (after,) = pipeline.traffic.targets(at)
    assert after.fix_age_s == pytest.approx(before.fix_age_s)
    assert pipeline.dark == ()
    assert at < pipeline.estimate.at <= at + timedelta(seconds=6)
    assert pipeline.estimate.wind.source == estimate.wind.source
    assert since is not None and pipeline.alerts[HER].since == since + timedelta(hours=hours)


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
    # Told once for each gap.
    assert [t.reason for t in transitions(conclusions, "off")] == [Reason.RAISED, Reason.RAISED]
    assert pipeline.situations["off"].facts[0].startswith("Not watching from 1020 LT to 1022 LT")
    # A restart is no news of what was told: nobody had answered for twenty minutes, so it went to the next person.
    assert [t.reason for t in transitions(conclusions, parted)] == [
        Reason.RAISED,
        Reason.ESCALATED,
        Reason.ACKNOWLEDGED,
    ]
    with JournalReader(journal) as reader:
        started = [entry.record for entry in reader.read(kinds=("Started",))]
    assert all(isinstance(record, Started) for record in started) and len(started) == 3


def test_a_life_too_short_to_tell_hides_no_gap(
    config: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A watch that dies before its first tick tells nobody that it was off; the next one does, from the first."""
    settings, journal = settings_folder(config, tmp_path / "config"), tmp_path / "watch.journal"
    begin, heard = datetime.fromisoformat("2026-03-14T10:00:00+00:00"), Told()
    for after_s, life_s in ((0, 20), (1200, 3), (1210, 3), (1220, 20)):
        at = begin + timedelta(seconds=after_s)
        pc = PC(at, 40.0)
        pc.install(monkeypatch)
        with watching(settings, journal, [heard]):
            pc.until(at + timedelta(seconds=life_s))
    (told,) = heard.of("off")
    assert told.what.startswith("Not watching from 0800 LT to 0820 LT")
    conclusions, comparison = replayed(journal)
    assert comparison.differences == []
    assert len(transitions(conclusions, "off")) == 1


def test_a_restart_after_the_clock_was_set_back(
    config: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was told before the clock was set counts after the next start too, once; and live and replay agree."""
    settings, journal = settings_folder(config, tmp_path / "config"), tmp_path / "watch.journal"
    begin = datetime.fromisoformat("2026-03-14T12:00:00+00:00")
    back = timedelta(minutes=-20)

    def told(line: str, state: str) -> OperatorAction:
        return OperatorAction("AB", Action.LINE, line, (("state", state),))

    pc, heard = PC(begin, 40.0), Told()
    pc.install(monkeypatch)
    with watching(settings, journal, [heard]) as (watch, _):
        watch.emit(told("head line 1", "parted"))
        watch.emit(told("head line 2", "tended"))
        pc.until(begin + timedelta(seconds=15))
        pc.set_by = back
        pc.until(lambda: bool(heard.of("clock")))
        watch.emit(told("head line 3", "parted"))
        pc.until(begin + timedelta(seconds=40))
    again = PC(begin + back + timedelta(minutes=3), 40.0)  # by its own stamps three minutes on
    again.install(monkeypatch)
    with watching(settings, journal) as (watch, _):
        again.until(begin + back + timedelta(minutes=3, seconds=30))
    pipeline = watch.session.pipeline
    assert pipeline is not None
    assert pipeline.stay.parted == {"head line 1", "head line 3"}
    tended_at = pipeline.stay.tended["head line 2"].at
    assert abs(tended_at - (begin + back)) < timedelta(minutes=5)  # restamped
    conclusions, comparison = replayed(journal)
    assert comparison.differences == []
    assert len(transitions(conclusions, "off")) == 1
