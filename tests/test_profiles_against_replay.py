"""Alert profiles swept over kept facts against full replays of the same recording: the same transitions."""

from __future__ import annotations

import hashlib
import random
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from itertools import count
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.intake.simulated import events
from monitor.intake.simulated.script import FAST, invented_day
from monitor.records.estimates import Outlook
from monitor.records.events import (
    Action,
    ClockStepped,
    In,
    OperatorAction,
    SettingsSnapshot,
    Started,
    Stopped,
    Transition,
)
from monitor.run import kept, pipeline
from monitor.run.adopting import profile_of, rewritten
from monitor.run.journal import Entry
from monitor.run.recording import open_recording, write_recording
from monitor.run.replay import replay
from monitor.settings.load import from_snapshot, snapshot
from monitor.settings.schema import Alerts, Levels
from monitor.watch import expected, hourly, outlook
from monitor.watch.calls import AheadFacts, Cuts, Heaviest, HourFacts, LimitFacts, PassingFacts, WindFacts
from monitor.watch.expected import Ask
from monitor.watch.profiles import Sweep, Ticked
from tests.conftest import ROOT
from tests.watching import STAY

BEGIN_MIN, MINUTES = 134.0, 24.0
KEYS = (f"passing:{FAST.mmsi}", "wind", "ahead", "limit:stop_cargo", "limit:call_tugs", "feed:ais", "clock")


class Tape:
    """Outlooks worked out in the first replay and played in those after it, where they are asked the very same."""

    def __init__(self) -> None:
        self.asked: list[tuple[Ask, Outlook]] = []

    @contextmanager
    def playing(self) -> Iterator[None]:
        """Ticks are further apart, and left out is what no alert asks for: odds of an hour, places on deck."""
        asked, usual = count(), (pipeline.TICK, pipeline.look_ahead, hourly.MEMBERS)
        unasked = expected.SOON_MINUTES, outlook.worst_ahead

        def look_ahead(ask: Ask) -> Outlook:
            number = next(asked)
            if number == len(self.asked):
                self.asked.append((ask, usual[1](ask)))
            first, told = self.asked[number]
            same = (ask.now, ask.wind, ask.targets, ask.stay, ask.air, ask.forecast, ask.hours)
            assert same == (
                first.now, first.wind, first.targets, first.stay, first.air, first.forecast, first.hours
            )  # fmt: skip
            return told

        expected.SOON_MINUTES = unasked[0][:2]  # type: ignore[assignment,misc]
        outlook.worst_ahead = lambda settings, names, told, before: told
        pipeline.TICK, pipeline.look_ahead = timedelta(seconds=30.0), look_ahead  # type: ignore[misc]
        hourly.MEMBERS = 50  # type: ignore[misc]
        try:
            yield
        finally:
            pipeline.TICK, pipeline.look_ahead, hourly.MEMBERS = usual  # type: ignore[misc]
            expected.SOON_MINUTES, outlook.worst_ahead = unasked  # type: ignore[misc]


@pytest.fixture(scope="module")
def tape() -> Tape:
    return Tape()


def stretch(config: Path) -> list[tuple[object, In]]:
    """The fast ship's pass in a wind that rises early; a restart, a PC clock that is set, answers at random."""
    taken = snapshot(config, STAY)
    day = invented_day(from_snapshot(taken))
    course = ((0.0, 14.0, 310.0), (125.0, 15.0, 310.0), (150.0, 33.0, 309.0), (175.0, 18.0, 312.0))
    day = replace(day, wind=replace(day.wind, course=course, squalls=()), actions=())
    begins, ends = (day.at(60.0 * minute) for minute in (BEGIN_MIN, BEGIN_MIN + MINUTES))
    inputs: list[tuple[object, In]] = [(begins, taken), (begins, Started("test"))]
    dice, step = random.Random(8), timedelta(0)
    restart, clock_set = begins + timedelta(minutes=10), begins + timedelta(minutes=17)
    answer = begins + timedelta(minutes=3)
    for at, record in events(day, taken, "test"):
        if not begins < at < ends or isinstance(record, SettingsSnapshot | Started | Stopped):
            continue
        if restart is not None and at > restart:
            inputs += [(restart, Stopped("test")), (restart, taken), (restart, Started("test", restart))]
            restart = None
        if clock_set is not None and at > clock_set:
            step = timedelta(seconds=40.0)
            inputs.append((clock_set + step, ClockStepped(40.0)))
            clock_set = None
        while answer < at:
            action = dice.choice((Action.ACKNOWLEDGE, Action.ACKNOWLEDGE, Action.SILENCE))
            inputs.append((answer + step, OperatorAction("AB", action, dice.choice(KEYS))))
            answer += timedelta(seconds=dice.choice((20.0, 70.0, 150.0)))
        inputs.append((at + step, record))
    return inputs


def written(inputs: list[tuple[object, In]], folder: Path) -> Path:
    numbers = count(1)
    entries = (Entry.of(next(numbers), at, "in", record) for at, record in inputs)  # type: ignore[arg-type]
    write_recording(folder, entries, name="stretch", invented=True, holds="a pass and a wind")
    return folder


def under(taken: SettingsSnapshot, profile: Alerts) -> SettingsSnapshot:
    """The settings with the numbers of another profile written into the alerts file."""
    files = tuple(
        (path, rewritten(text, profile) if path.startswith("alerts/") else text) for path, text in taken.files
    )
    digest = hashlib.sha256(b"\0".join(part.encode() for file in files for part in file)).hexdigest()
    return SettingsSnapshot(files, taken.stay, digest)


def other(profile: Alerts, factor: float, **timing: float) -> Alerts:
    """Levels and odds times a factor, and other times."""

    def scaled(levels: Levels) -> dict[str, float]:
        return {key: factor * getattr(levels, key) for key in ("caution", "warning", "alarm")}

    odds = profile.odds and profile.odds.model_copy(
        update={"caution": factor * profile.odds.caution, "warning": factor * profile.odds.warning}
    )
    return profile.model_copy(
        update={
            "levels": profile.levels.model_copy(update=scaled(profile.levels)),
            "with_people": profile.with_people.model_copy(update=scaled(profile.with_people)),
            "odds": odds,
            "timing": profile.timing.model_copy(update=timing),
        }
    )


@pytest.fixture(scope="module")
def inputs(config: Path) -> list[tuple[object, In]]:
    return stretch(config)


@pytest.fixture(scope="module")
def made(inputs: list[tuple[object, In]], tape: Tape, tmp_path_factory: pytest.TempPathFactory) -> kept.Kept:
    folder = tmp_path_factory.mktemp("kept")
    with tape.playing():
        path = kept.keep_once(written(inputs, folder / "stretch"), folder)
    return kept.read(path)


def test_a_sweep_concludes_what_replays_do(
    inputs: list[tuple[object, In]], made: kept.Kept, tape: Tape, tmp_path: Path
) -> None:
    """The profile in force, a nervous one and a dull one; restart, clock set by 40 s and answers included."""
    present = made.settings.alerts
    profiles = [present, other(present, 0.6, raise_after=0.0, deadband=0.03, act=420.0)]
    profiles.append(other(present, 1.25, raise_after=45.0, clear_after=60.0, first_notice=600.0))
    texts = [under(made.about.snapshot, profile) for profile in profiles]
    profiles = [from_snapshot(text).alerts for text in texts]  # as their files say it
    sweep, kinds = Sweep(made.steps, profiles), set()
    for number, (profile, taken) in enumerate(zip(profiles, texts, strict=True)):
        again = [(at, taken if isinstance(record, SettingsSnapshot) else record) for at, record in inputs]
        with tape.playing(), open_recording(written(again, tmp_path / f"{number}")) as recording:
            full = [one for _, one in replay(recording) if isinstance(one, Transition)]
        swept = sweep.transitions(profile)
        assert swept == full
        assert len(full) > 12
        kinds |= {(change.alert.partition(":")[0], change.reason) for change in full}
    assert {kind for kind, _ in kinds} >= {"passing", "wind", "clock"}
    assert len({reason for _, reason in kinds}) >= 7


def test_a_kept_file_comes_back_as_it_was(made: kept.Kept, tmp_path: Path) -> None:
    kept.write(made, tmp_path / "again.kept.gz")
    assert kept.read(tmp_path / "again.kept.gz") == made
    assert {FAST.mmsi} <= {each.mmsi for each in made.about.passes}
    ticks = [step for step in made.steps if isinstance(step, Ticked)]
    assert len(ticks) > 2 * 0.9 * MINUTES
    (tmp_path / "again.kept.gz").write_bytes((tmp_path / "again.kept.gz").read_bytes()[:-40])
    with pytest.raises(ValueError, match="cannot be used"):
        kept.read(tmp_path / "again.kept.gz")


# --- facts cut to levels ------------------------------------------------------------------------------------

SHARE = st.floats(0.0, 1.3)
LEVEL = st.floats(0.02, 1.0)


@st.composite
def any_profile(draw: st.DrawFn, base: Alerts) -> Alerts:
    def levels() -> Levels:
        return Levels.model_construct(caution=draw(LEVEL), warning=draw(LEVEL), alarm=draw(LEVEL))

    odds = base.odds and base.odds.model_copy(update={"caution": draw(LEVEL), "warning": draw(LEVEL)})
    timing = base.timing.model_copy(
        update={
            "deadband": draw(st.floats(0.0, 0.2)),
            "first_notice": draw(st.floats(0.0, 1800.0)),
            "act": draw(st.floats(0.0, 900.0)),
        }
    )
    update = {"levels": levels(), "with_people": levels(), "odds": odds, "timing": timing}
    return base.model_copy(update=update)


def some_lines() -> st.SearchStrategy[Heaviest]:
    mids = st.dictionaries(st.sampled_from((0.6, 0.72, 1.0)), SHARE, min_size=1)
    known = st.builds(
        lambda high, caps, renders: Heaviest(high, tuple(sorted(caps.items())), renders),
        SHARE,
        mids,
        st.booleans(),
    )
    return st.one_of(st.just(Heaviest(None)), known)


CHANCE = st.one_of(st.none(), st.floats(0.0, 1.0))
WIND = st.builds(WindFacts, st.booleans(), some_lines(), st.one_of(st.none(), some_lines()), CHANCE)
HOURS = st.lists(st.builds(HourFacts, st.integers(0, 11), st.booleans(), some_lines(), CHANCE), max_size=4)
FACTS = st.one_of(
    WIND,
    st.builds(AheadFacts, WIND, HOURS.map(tuple)),
    st.builds(
        PassingFacts, st.booleans(), some_lines(), st.one_of(st.none(), st.floats(-0.2, 1.0)), CHANCE,
        st.booleans(), st.floats(0.0, 1.0), st.floats(-600.0, 2400.0), st.one_of(st.none(), st.floats(0.0, 0.2)),
        st.booleans(), st.booleans(),
    ),
    st.builds(LimitFacts, st.floats(0.0, 60.0), st.floats(5.0, 40.0)),
)  # fmt: skip


BASE = profile_of((ROOT / "config" / "alerts" / "river-quay.toml").read_text("utf-8"))


@settings(deadline=None, max_examples=60)
@given(st.data())
def test_cut_facts_call_for_the_same(data: st.DataObject) -> None:
    """Under each of the profiles they were cut for, whatever these are; and cutting again changes nothing."""
    profiles = data.draw(st.lists(any_profile(BASE), min_size=1, max_size=4))
    cuts = Cuts(tuple(profiles))
    for facts in data.draw(st.lists(FACTS, min_size=1, max_size=6)):
        cut = facts.cut(cuts)
        assert cut.cut(cuts) == cut
        for profile in profiles:
            assert cut.call(profile) == facts.call(profile)


def test_profiles_that_act_on_the_facts_are_not_swept(made: kept.Kept) -> None:
    present = made.settings.alerts
    squall = present.squall.model_copy(update={"rise": 2 * present.squall.rise})
    with pytest.raises(ValueError, match="need a replay each"):
        Sweep(made.steps, [present, present.model_copy(update={"squall": squall})])
