"""What a brake let out is kept until somebody says how the line is: statics, the ship in time, words, restarts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from monitor.outlet.naming import alert_in_words
from monitor.outlet.wording import Local, notice
from monitor.physics.mooring import equilibrium, veered
from monitor.physics.response import Members, critical_damping, respond
from monitor.records.estimates import Band, LineLoad, LoadEstimate, Outlook, Slip, Validity, WindEstimate
from monitor.records.events import (
    Action,
    AlertState,
    Beat,
    In,
    Notice,
    OperatorAction,
    Priority,
    Reason,
    SettingsSnapshot,
    Started,
    Transition,
)
from monitor.records.situations import Situation
from monitor.run.entries import read_entry
from monitor.run.journal import Entry
from monitor.run.pipeline import Conclusion
from monitor.run.session import Session
from monitor.settings.load import load_stay, snapshot
from monitor.watch import stay
from monitor.watch.ensemble import Case, ensemble
from monitor.watch.estimator import Estimator, unknown_load
from monitor.watch.expected import Ask
from monitor.watch.judgement import Judge
from monitor.watch.slips import UNKNOWN_M, slipped
from monitor.watch.stay import StayState
from tests.conftest import ROOT
from tests.test_mooring_statics import _ship as ship_of_16

NOW = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
FS1 = Slip("forward spring 1", Band(0.0, 0.4, 1.2))


@cache
def _estimator() -> Estimator:
    return Estimator(load_stay(ROOT / "config", "tavrin-lark-at-sedge-quay-2"))


def _begun() -> StayState:
    return stay.begin(_estimator().moored.settings.stay)


def _wind(mean_m_s: float) -> WindEstimate:
    band = Band(0.95 * mean_m_s, mean_m_s, 1.05 * mean_m_s)
    return WindEstimate(NOW, band, 310.0, None, mean_m_s, 0.0, "mast", 1.0, Validity.GOOD)


def _estimated(mean_m_s: float, state: StayState, before: LoadEstimate | None = None) -> LoadEstimate:
    return _estimator().estimate(_wind(mean_m_s), state, None, (), NOW, before)


def _said(line: str, word: str) -> OperatorAction:
    return OperatorAction("HB", Action.LINE, line, (("state", word),))


def _out(line: str, *ends: float) -> LineLoad:
    band = Band(1.0, 1.0, 1.0)
    return LineLoad(line, "springs", band, band, 1.0, "working limit", runs_out_m=Band(*ends) if ends else None)


# --- kept until somebody says -------------------------------------------------------------------------------


def test_two_estimates_running_make_a_slip_and_the_greatest_is_kept() -> None:
    one, two, less = [_out("a", 0.0, 0.5, 2.0)], [_out("a", 0.1, 0.8, 1.5)], [_out("a", 0.0, 0.2, 0.3)]
    assert slipped((), (), one) == slipped((), one, [_out("a")]) == ()
    both = slipped((), one, two)
    assert both == (Slip("a", Band(0.0, 0.5, 1.5)),)
    assert slipped(both, two, less) == slipped(both, [_out("a")], [_out("a")]) == both
    # only at the upper end of the load: that is told while it lasts, and nobody is sent to look afterwards
    assert slipped((), [_out("a", 0.0, 0.0, 0.4)], [_out("a", 0.0, 0.0, 0.4)]) == ()


def test_what_people_say_of_a_line_decides() -> None:
    state = replace(_begun(), slips=(FS1,))
    for word, left in (("tended", ()), ("held", ()), ("parted", ()), ("slack", (FS1,)), ("rendered", (FS1,))):
        assert stay.apply(state, _said(FS1.line, word), NOW).slips == left
    seen = stay.apply(_begun(), _said(FS1.line, "rendered"), NOW)
    assert seen.slips == (Slip(FS1.line, UNKNOWN_M),)  # nobody knows by how much
    assert read_entry("line forward spring 1 held", [FS1.line], []) == replace(_said(FS1.line, "held"), who="")


# --- the loads ----------------------------------------------------------------------------------------------


def test_after_the_gale_the_line_that_rendered_carries_less_and_the_others_more() -> None:
    state, before = _begun(), None
    for _ in range(2):
        before = _estimated(27.0, state, before)
        state = replace(state, slips=before.slips)
    out_m = {slip.line: slip.out_m for slip in state.slips}
    assert out_m and all(band.mid > 0.0 for band in out_m.values())
    with_it, without = _estimated(12.0, state), _estimated(12.0, _begun())
    assert any("may have rendered" in reason for reason in with_it.reasons)
    assert with_it.validity is Validity.DEGRADED
    elastic = {load.line: load.tension_n.mid for load in without.lines}
    rest = equilibrium_of(state, 12.0)
    for load in with_it.lines:
        assert load.tension_n.mid == pytest.approx(rest[load.line], rel=1e-6, abs=1.0)  # lines so much longer
        if load.line in out_m:
            assert load.tension_n.mid < elastic[load.line] <= load.tension_n.high * 1.001
    assert sum(load.tension_n.mid > elastic[load.line] for load in with_it.lines) >= 4
    tended = state
    for line in out_m:
        tended = stay.apply(tended, _said(line, "held"), NOW)
    assert _estimated(12.0, tended).lines == without.lines


def equilibrium_of(state: StayState, mean_m_s: float) -> dict[str, float]:
    """Middle tensions by statics with the lines veered, by `payed_out_m`, which nothing else here goes through."""
    estimator = _estimator()
    holding, water = estimator.holding(state), estimator.moored.water(NOW)
    band = Band(mean_m_s, mean_m_s, mean_m_s)
    load = estimator.steady(band, 310.0, water, state, None)[0].at(1)
    payed_m = holding.slipped_m(state)[1]
    risen = holding.risen(replace(state, slips=()), water)
    forces = np.array([[load.surge_n], [load.sway_n], [load.yaw_n_m]])
    rest = equilibrium(risen, *forces, payed_out_m=payed_m[None])
    return {holding.moored.names[i]: float(n) for i, n in zip(holding.kept, rest.tension_n[0], strict=True)}


def test_a_squall_that_came_and_went_leaves_what_the_ship_in_time_has() -> None:
    """Sixteen lines on brakes, pushed off slowly and eased again: the lengths that ran out in the march, put into
    the statics, give the tensions it ends with (1 %)."""
    mooring = ship_of_16()
    mass = np.array([4.0e7, 9.0e7, 2.5e11])
    push_n = np.array([0.0, 1100e3, 4e6])
    render_n = np.where(np.arange(16) % 3 == 0, 70e3, np.inf)
    members = Members(mass, critical_damping(mooring, np.zeros((1, 3)), mass), render_n=render_n)

    def load(k: int) -> np.ndarray:
        return (push_n * np.interp(k, [0, 1200, 2400], [0.0, 1.0, 0.35]))[None]

    got = respond(mooring, members, load, 3400, 0.5, np.zeros((1, 3)), keep=True)
    assert (got.rendered_m[0] > 0.02).any() and got.tension_n is not None
    rest = equilibrium(veered(mooring, got.rendered_m[0]), *(0.35 * push_n)[:, None])
    elastic = equilibrium(mooring, *(0.35 * push_n)[:, None])
    assert rest.tension_n[0] == pytest.approx(got.tension_n[-1, 0], rel=0.01, abs=500.0)
    assert np.abs(elastic.tension_n[0] - got.tension_n[-1, 0]).max() > 20e3  # without them it is far off


def test_what_was_seen_to_render_may_be_slack_or_hardly_longer() -> None:
    state = stay.apply(_begun(), _said("aft breast 1", "rendered"), NOW)
    by_line = {load.line: load.tension_n for load in _estimated(12.0, state).lines}
    plain = {load.line: load.tension_n for load in _estimated(12.0, _begun()).lines}
    assert by_line["aft breast 1"].low == pytest.approx(0.0, abs=1.0)
    assert by_line["aft breast 1"].mid == pytest.approx(plain["aft breast 1"].mid)
    assert by_line["aft breast 2"].high > plain["aft breast 2"].high * 1.05


def test_the_odds_allow_for_it_and_weak_brakes_let_out_most() -> None:
    state = replace(_begun(), slips=(Slip("aft breast 1", Band(0.0, 0.3, 1.0)),))
    holding = _estimator().holding(state)
    each = ensemble(Case(holding, state, _wind(9.0), _estimator().moored.water(NOW), None, NOW, 60))
    plain = ensemble(Case(holding, _begun(), _wind(9.0), _estimator().moored.water(NOW), None, NOW, 60))
    j = [holding.moored.names[i] for i in holding.kept].index("aft breast 1")
    longer_m = np.asarray(each.members.payed_out_m) - np.asarray(plain.members.payed_out_m)
    longer_m[:, j] += 0.3  # the middle is in the lines themselves
    assert np.abs(np.delete(longer_m, j, axis=1)).max() < 0.05  # they are shared out anew, a little
    assert longer_m[0, j] == pytest.approx(0.3, abs=0.05)
    assert np.corrcoef(longer_m[:, j], np.asarray(each.members.render_n)[:, j])[0, 1] < -0.8


# --- told, and over a restart -------------------------------------------------------------------------------


def _situation(state: StayState) -> Situation | None:
    settings = _estimator().moored.settings
    nothing = unknown_load(NOW, _wind(9.0), _estimator().moored.water(NOW), ())
    judge = Judge(settings.alerts, settings.berth.limits)
    found = judge.situations(nothing, None, (), state, {}, frozenset(), frozenset(), NOW)
    return next((each for each in found if each.key == "brakes"), None)


def test_one_warning_for_all_and_none_when_all_was_said() -> None:
    state = replace(_begun(), slips=(FS1, Slip("aft spring 2", Band(0.1, 0.4, 1.15))))
    told = _situation(state)
    assert told is not None and told.level is told.holds is Priority.WARNING
    notices = _notice(told)
    assert notices.what == "Brakes may have rendered: forward spring 1 by up to 1.2 m, aft spring 2 by 0.1–1.2 m"
    assert notices.do.startswith("Keep off both mooring decks. From outside them, look")
    assert notices.about == "Brakes that may have rendered"
    assert _situation(_begun()) is None
    seen = stay.apply(state, _said(FS1.line, "rendered"), NOW)  # has an alarm of its own
    left = _situation(seen)
    assert left is not None and left.subject == "aft spring 2"
    assert _situation(stay.apply(seen, _said("aft spring 2", "held"), NOW)) is None


def _notice(situation: Situation) -> Notice:
    change = Transition(
        NOW, "brakes", AlertState.NORMAL, AlertState.UNACKNOWLEDGED, Priority.WARNING, False, Reason.RAISED
    )
    return notice(change, situation, Local(timedelta(0)), about=alert_in_words("brakes"))


def test_unknown_wind_does_not_make_it_forgotten() -> None:
    blind = replace(_wind(9.0), speed_30s_m_s=None)
    estimate = _estimator().estimate(blind, replace(_begun(), slips=(FS1,)), None, (), NOW)
    assert estimate.validity is Validity.UNKNOWN and estimate.slips == (FS1,)


def test_a_restart_keeps_it_and_what_was_said_since() -> None:
    """As the journal has it: an entry is written before the estimates of the ticks that it let run, yet these are
    older. So by time and not by number."""
    aft = Slip("aft spring 1", Band(0.0, 0.1, 0.2))
    estimate = replace(unknown_load(NOW, _wind(9.0), _estimator().moored.water(NOW), ()), slips=(FS1, aft))
    second = timedelta(seconds=1)
    for said_at, left in ((NOW - second, (FS1, aft)), (NOW + second, (aft,))):
        session = Session()
        session.remember(Entry.of(1, said_at, "in", _said(FS1.line, "held")))
        session.remember(Entry.of(2, NOW + second, "out", estimate))
        assert session._slips_since(()) == left
        for name in ("this stay", "this stay", "another"):
            assert name == "this stay" or session._slips_since(()) == left
            session.remember(Entry.of(3, NOW + second, "in", SettingsSnapshot((), name, "")))
        assert session._slips_since(()) == () and session._slips_since((aft,)) == (aft,)


def _nothing_ahead(look: Callable[[Ask], Outlook], ask: Ask) -> Callable[[], Outlook]:
    """No outlook is wanted here."""
    return lambda: Outlook(ask.now, (), (), Validity.GOOD)


def test_a_gale_a_restart_and_what_was_seen(config: Path) -> None:
    """From inputs alone: wind entered off the panel, the warning, a restart a quarter of an hour later by what the
    journal has, and the end when each line was looked at."""
    session, entries = Session(_nothing_ahead), []
    second = timedelta(seconds=1)

    def take(watch: Session, at: datetime, record: In) -> list[Conclusion]:
        entries.append(Entry.of(len(entries), at, "in", record))
        found = watch.handle(at, record)
        entries.extend(Entry.of(len(entries), at, "out", each) for each in found if not isinstance(each, Outlook))
        return found

    def blows(watch: Session, at: datetime, mean_m_s: float) -> list[Conclusion]:
        values = (("mean_m_s", mean_m_s), ("from_direction_deg", 310.0))
        take(watch, at, OperatorAction("HB", Action.WIND, "", values))
        return take(watch, at + 29 * second, Beat())

    take(session, NOW, snapshot(config, "tavrin-lark-at-sedge-quay-2"))
    take(session, NOW, Started("test", None))
    told = [each for each in blows(session, NOW + second, 30.0) if isinstance(each, Notice)]
    (warning,) = (each for each in told if each.alert == "brakes")
    assert warning.priority is Priority.WARNING and "may have rendered" in warning.what
    blows(session, NOW + 31 * second, 6.0)
    assert session.pipeline is not None
    slips = session.pipeline.stay.slips
    assert slips and session.pipeline.estimate is not None and session.pipeline.estimate.slips == slips

    again, later = Session(_nothing_ahead), NOW + timedelta(minutes=15)
    for entry in entries:
        if entry.direction == "in" or entry.kind in ("Transition", "LoadEstimate"):
            again.remember(entry)
    take(again, later, snapshot(config, "tavrin-lark-at-sedge-quay-2"))
    take(again, later, Started("test", NOW + 60 * second))
    assert again.pipeline is not None and again.pipeline.stay.slips == slips
    for slip in slips:
        take(again, later + second, _said(slip.line, "held"))
    blows(again, later + 2 * second, 6.0)
    ended = [each for each in take(again, later + 300 * second, Beat()) if isinstance(each, Notice)]
    assert [each.reason for each in ended if each.alert == "brakes"] == [Reason.RECTIFIED]
