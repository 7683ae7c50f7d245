"""What is kept to look back on, against timelines by hand; and a journal whose settings changed under way."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from monitor.__main__ import main
from monitor.outlet.report.page import page
from monitor.records.codec import decode, encode
from monitor.records.estimates import EventOdds, HorizontalLoad, Outlook, PassingOutlook, Validity
from monitor.records.events import Beat, In, Notice, Priority, RawReading, Reason, Started
from monitor.records.review import Before
from monitor.run.gather import gather
from monitor.run.journal import Entry
from monitor.run.recollect import Recalled, recollect
from monitor.run.recording import open_recording, write_recording
from monitor.settings.load import load_stay, snapshot
from monitor.watch.reviewed.passes import Concluded, Near, passes
from monitor.watch.reviewed.steps import Foreseen
from tests.composed import POSITION, sealed, vdm
from tests.conftest import ROOT
from tests.test_judgement_rules import HEAVY, MMSI, NOW, QUIET, encounter
from tests.watching import STAY

MINUTE = timedelta(minutes=1)
KEY = f"passing:{MMSI}"


def _outlook(minute: float, overlap_minute: float = 20.0, likely: float = 0.9) -> Outlook:
    """As of a minute: she is expected abreast of us at another."""
    met = replace(encounter(60.0 * overlap_minute, likely), at=NOW + minute * MINUTE)
    odds = EventOdds(NOW, 200, (), 0.3, 0.2, 0.1)
    ship = PassingOutlook(met, (*HEAVY, *QUIET), HorizontalLoad(0, 0, 0), Validity.GOOD, odds=odds)
    return Outlook(NOW + minute * MINUTE, (ship,), (), Validity.GOOD)


def _kept(outlooks: list[tuple[Outlook, tuple[str, ...]]]) -> list[Outlook]:
    foreseen = Foreseen()
    found = (foreseen.worth_keeping(outlook, told) for outlook, told in outlooks)
    return [each for each in found if each is not None]


def test_a_pass_is_kept_when_told_and_every_three_minutes_of_coming() -> None:
    """An outlook every half minute for twenty minutes, told of at the second; kept with its heaviest line."""
    every = [_outlook(0.5 * n) for n in range(41)]
    kept = _kept([(each, (KEY,) if n == 2 else ()) for n, each in enumerate(every)])
    assert [(each.at - NOW) / MINUTE for each in kept] == [0.0, 1.0, 2.0, 5.0, 8.0, 11.0, 14.0, 17.0]
    assert all(len(passing.lines) == 1 for each in kept for passing in each.passings)
    assert kept[0].passings[0].lines == HEAVY and kept[0].passings[0].encounter == every[0].passings[0].encounter
    assert decode(*encode(kept[0])) == kept[0] and len(encode(kept[0])[1]) < 2500


def test_the_unlikely_are_kept_only_when_told() -> None:
    assert _kept([(_outlook(18.0, likely=0.04), ())]) == []
    assert len(_kept([(_outlook(18.0, likely=0.04), (KEY,))])) == 1
    assert _kept([(_outlook(18.0), ())] * 5) == [
        *_kept([(_outlook(18.0), ())])
    ]  # the same outlook over many ticks


def test_what_was_expected_comes_from_what_the_journal_kept(config: Path) -> None:
    """She came a minute later than expected: each figure is told with the time it was kept at."""
    settings = load_stay(config, STAY)
    kept = _kept([(_outlook(0.5 * n), ()) for n in range(41)])
    abreast = [
        Near(NOW + (21.0 + n / 6) * MINUTE, 150.0 - 50.0 * n, 110.0, 180.0, 5.0, 220.0, 4.0, "SHE", 300.0, 45.0)
        for n in range(7)
    ]
    told = Notice(NOW + 4 * MINUTE, KEY, Priority.WARNING, Reason.RAISED, *[""] * 6)
    outlooks = [(each.at, each.passings) for each in kept]
    concluded = Concluded((), (), (told,), outlooks, {}, outlooks_kept=True)
    (one,) = passes({MMSI: abreast}, concluded, lambda at: settings)
    found = {each.before: (each.at - NOW) / MINUTE for each in one.expected}
    assert found == {Before.FIRST: 5.0, Before.EARLY: 5.0, Before.LATE: 17.0}
    assert one.expected[0].heaviest == HEAVY[0] and one.expected[0].chance == pytest.approx(0.3 * 0.9)
    dense = passes({MMSI: abreast}, replace(concluded, outlooks_kept=False), lambda at: settings)[0].expected
    assert [(each.at - NOW) / MINUTE for each in dense] == [4.0, 6.0, 16.0]  # at those very moments


# --- settings that change ---------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def changed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Another stay for half a minute; then ours, under a lowered squall speed from the second half minute on."""
    folder = tmp_path_factory.mktemp("changed")
    mine = Path(shutil.copytree(ROOT / "config", folder / "config"))
    other, stay = mine / "stays" / "other.toml", mine / "stays" / f"{STAY}.toml"
    other.write_text(
        stay.read_text("utf-8").replace('name = "Tavrin Lark', 'name = "Before: Tavrin Lark'), "utf-8"
    )
    profile = mine / "alerts" / "river-quay.toml"
    usual, at = profile.read_text("utf-8"), datetime(2026, 3, 14, 10, 0, tzinfo=UTC)
    records: list[tuple[datetime, In]] = []
    for stay_name, text in (("other", usual), (STAY, usual), (STAY, usual.replace('"28 kn"', '"20 kn"'))):
        profile.write_text(text, "utf-8")
        records += [(at, snapshot(mine, stay_name)), (at, Started("0.0"))]
        records += [(at + timedelta(seconds=second), Beat()) for second in range(1, 30)]
        at += timedelta(seconds=30)
    entries = (Entry.of(number, when, "in", record) for number, (when, record) in enumerate(records, 1))
    write_recording(folder / "day", entries, name="changed", invented=True, holds="settings that change")
    return folder / "day"


@pytest.fixture(scope="module")
def recalled(changed: Path) -> Recalled:
    with open_recording(changed) as recording:
        return recollect(recording, again=True)


def test_each_time_is_reviewed_by_its_own_settings(recalled: Recalled) -> None:
    begins = datetime(2026, 3, 14, 10, 0, 30, tzinfo=UTC)
    squalls = [recalled.settings_at(begins + timedelta(seconds=s)).alerts.squall.at_least for s in (0, 29, 30, 59)]
    assert squalls[0] == squalls[1] > squalls[2] == squalls[3]
    assert [at for at, _ in recalled.in_force] == [begins, begins + timedelta(seconds=30)]
    assert [rejudged._settings for rejudged in recalled.rejudged] == [recalled.settings] * 3


def test_another_stay_in_the_same_journal_is_told_and_left_out(changed: Path, recalled: Recalled) -> None:
    ended = datetime(2026, 3, 14, 10, 0, 30, tzinfo=UTC)
    assert [(name.partition(":")[0], at) for name, at in recalled.earlier] == [("Before", ended)]
    assert recalled.begins == ended and len(recalled.starts) == 2
    assert all(each.at >= ended for each in (*recalled.estimates, *recalled.transitions))
    with open_recording(changed) as recording:
        html = page(gather(recording, recalled), [])
    assert "holds another stay, which is not in this report: Before: Tavrin Lark" in html
    assert "Settings changed on 14 March 2026 at 0801 LT (alerts/river-quay.toml)" in html


def test_a_mistyped_clip_is_told_with_the_nearest_name(changed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["clip", str(changed.with_name("dya")), "--check"]) == 2
    told = "".join(capsys.readouterr().err.split())
    assert "dyaisnotthere;nearest:" in told and told.endswith("day")


def test_a_feed_is_silent_to_the_review_as_it_was_to_the_watch(tmp_path: Path) -> None:
    """Ten minutes of wind alone, and reports of our own, on the line that carries AIS and wind; then a ship."""
    mine = Path(shutil.copytree(ROOT / "config", tmp_path / "config"))
    stay = mine / "stays" / f"{STAY}.toml"
    stay.write_text(stay.read_text("utf-8").replace("order = [", 'order = ["ais", '), "utf-8")
    wind, (ship,) = sealed("$WIMWV,120.0,T,5.0,N,A"), vdm(POSITION)
    records: list[tuple[datetime, In]] = [(NOW, snapshot(mine, STAY)), (NOW, Started("0.0"))]
    for half_minute in range(1, 20):
        own = sealed(ship[:-3].replace("VDM", "VDO"))
        records += [(NOW + 0.5 * half_minute * MINUTE, RawReading("ais", text)) for text in (wind, own)]
    records.append((NOW + 10 * MINUTE, RawReading("ais", ship)))
    entries = (Entry.of(number, at, "in", record) for number, (at, record) in enumerate(records, 1))
    write_recording(tmp_path / "day", entries, name="mixed", invented=True, holds="a line that carries both")
    with open_recording(tmp_path / "day") as recording:
        silent = recollect(recording).silent
    assert [each for each in silent if each[0] == "ais"] == [("ais", NOW, NOW + 10 * MINUTE)]
