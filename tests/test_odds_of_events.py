"""Odds, advice, tending and lulls on the shipped invented scenario: counted, against statics and scipy."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from itertools import pairwise
from pathlib import Path
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from monitor.outlet.drivers import chance_in_words
from monitor.outlet.wording import Local, advice_in_words, notice
from monitor.physics.cascade import NEVER, unzipped
from monitor.physics.lines import corners_m
from monitor.physics.mooring import Equilibrium, equilibrium
from monitor.physics.response import Members, critical_damping, respond
from monitor.records.estimates import (
    Band,
    Encounter,
    EventOdds,
    HorizontalLoad,
    LineLoad,
    Outlook,
    PassingAdvice,
    PassingKind,
    PassingOutlook,
    Untended,
    Validity,
    WaterEstimate,
    WindEstimate,
)
from monitor.records.events import Action, AlertState, OperatorAction, Priority, Reason, Transition
from monitor.records.observations import WindForecast, WindKind, WindReading
from monitor.records.situations import Matter, Situation
from monitor.settings.load import load_stay
from monitor.watch import draws as drawn
from monitor.watch import stay
from monitor.watch.advice import RISK, advise, tolerable
from monitor.watch.counted import counted, limit_shares
from monitor.watch.draws import between, draws, drivers
from monitor.watch.ensemble import Case, ensemble
from monitor.watch.estimator import STATIC, Estimator, unknown_load
from monitor.watch.expected import Ask, if_lost, with_odds
from monitor.watch.hourly import _between, at_hour, hour_odds
from monitor.watch.judgement import Judge
from monitor.watch.odds import Outcome, event_odds, passing_event, wind_event
from monitor.watch.outlook import _hours
from monitor.watch.solved import Solutions, weights
from monitor.watch.tending import later, lulls, slots_of, still_so, to_tend, untended
from tests.conftest import ROOT
from tests.settings_texts import ALERTS_FILE, changed, faults_of

NOW = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
NOTHING = HorizontalLoad(0.0, 0.0, 0.0)


@cache
def _estimator() -> Estimator:
    return Estimator(load_stay(ROOT / "config", "tavrin-lark-at-sedge-quay-2"))


def _case(mean_m_s: float = 9.0, from_deg: float = 310.0, members: int = 120) -> Case:
    estimator = _estimator()
    state = stay.begin(estimator.moored.settings.stay)
    band = Band(mean_m_s, 1.1 * mean_m_s, 1.3 * mean_m_s)
    wind = WindEstimate(NOW, band, from_deg, 1.3 * mean_m_s, mean_m_s, 0.0, "mast", 1.0, Validity.GOOD)
    return Case(estimator.holding(state), state, wind, estimator.moored.water(NOW), None, NOW, members)


def _encounter(speed_m_s: float = 5.0, spread: float = 0.1) -> Encounter:
    def band(mid: float, share: float) -> Band:
        return Band(mid * (1 - share), mid, mid * (1 + share))

    return Encounter(
        NOW, 200911031, "INVENTED", PassingKind.OPPOSITE, 0.9,
        NOW + 8 * MINUTE, NOW + 7 * MINUTE, NOW + 9 * MINUTE,
        band(90.0, 0.2), band(speed_m_s, spread), band(speed_m_s, spread), 220.0, band(122.0, 0.15),
        band(294.0, 0.02), band(32.2, 0.02), band(12.0, 0.1), 70, 5.0,
    )  # fmt: skip


def _solutions(surge_n: float = 900e3) -> Solutions:
    """Loads shaped as of a passing ship: surge there and back, sway in the middle; with 1/separation²."""
    run_m = np.linspace(-370.0, 370.0, 41)
    shape = np.stack(
        [
            -surge_n * np.sin(np.pi * run_m / 370.0) * np.exp(-((run_m / 200.0) ** 2)),
            0.4 * surge_n * np.exp(-((run_m / 120.0) ** 2)),
            9.0 * surge_n * np.sin(np.pi * run_m / 370.0) * np.exp(-((run_m / 200.0) ** 2)),
        ],
        axis=1,
    )
    apart_m = (103.0, 122.0, 140.0)
    return Solutions(run_m, apart_m, np.array([shape * (122.0 / d) ** 2 for d in apart_m]), (0.8, 1.25))


@cache
def _passed(surge_n: float = 900e3, members: int = 120) -> Outcome:
    return passing_event(_case(members=members), _encounter(), _solutions(surge_n))


# --- draws --------------------------------------------------------------------------------------------------


def test_draws_are_standard_normal_and_always_the_same() -> None:
    """Latin hypercube: every margin is stratified, so scipy's test cannot tell it from normal."""
    one, again = draws(500, 14), draws(500, 14)
    assert one is again
    for name in drawn.INPUTS:
        assert one[name][0] == 0.0
        assert stats.kstest(one[name][1:], "norm").pvalue > 0.99
    pairs = np.corrcoef(np.array([one[name] for name in drawn.INPUTS]))
    assert np.abs(pairs - np.eye(len(pairs))).max() < 0.16  # 3.5 standard errors of 500 draws


def test_a_band_comes_back_from_its_draws() -> None:
    z = np.array([NormalDist().inv_cdf((i + 0.5) / 4000) for i in range(4000)])
    values = between(Band(2.0, 5.0, 11.0), z)
    assert np.percentile(values, [5, 50, 95]) == pytest.approx([2.0, 5.0, 11.0], abs=0.02)


def test_the_drivers_are_those_that_were_built_in() -> None:
    """A result made of two of five inputs and noise: scipy's Spearman orders them the same."""
    rng = np.random.default_rng(5)
    inputs = {name: rng.normal(size=300) for name in "abcde"}
    result = np.exp(inputs["c"]) + 0.5 * inputs["e"] + 0.2 * rng.normal(size=300)
    ranked = sorted(inputs, key=lambda name: -abs(stats.spearmanr(inputs[name], result).statistic))
    assert drivers(inputs, result) == tuple(ranked[:2]) == ("c", "e")


def test_weights_of_the_three_solutions() -> None:
    """A load that goes with 1/d² is read exactly, and each solution is met at its own distance."""
    at_m = np.array([80.0, 110.0, 170.0])
    away_m = np.array([80.0, 95.0, 110.0, 140.0, 170.0])
    weight = weights(at_m, away_m)
    assert weight.sum(axis=1) == pytest.approx(np.ones(5)) and (weight >= 0.0).all()
    assert weight @ at_m**-2.0 == pytest.approx(away_m**-2.0)


# --- events -------------------------------------------------------------------------------------------------


def test_members_start_from_rest_under_their_own_wind() -> None:
    each = ensemble(_case())
    assert each.start.shape == (120, 3) and np.isfinite(each.start).all()
    assert each.mean_m_s[0] == pytest.approx(9.0) and np.ptp(each.mean_m_s) > 2.0
    assert (np.asarray(each.members.mass)[:, 1] > np.asarray(each.members.mass)[:, 0]).all()


def test_odds_are_the_members_counted() -> None:
    outcome = _passed()
    odds, peak_n = event_odds(outcome), outcome.response.peak_n[-1]
    names = [_estimator().moored.names[i] for i in outcome.ensemble.case.holding.kept]
    parted = np.isfinite(outcome.response.parted_at_s)
    over = (peak_n >= 320e3) | parted  # half of 640 kN, or weaker than that
    for line in odds.lines:
        i = names.index(line.line)
        assert line.over_working == pytest.approx(float(np.mean(over[:, i])))
        assert line.over_strength == pytest.approx(float(np.mean(parted[:, i])))
        assert line.tension_n.mid == pytest.approx(float(np.median(peak_n[:, i])))
    assert odds.any_over_working == pytest.approx(float(np.mean(over.any(axis=1))))
    assert max(line.over_working for line in odds.lines) <= odds.any_over_working
    assert 0.0 < odds.any_over_working < 1.0
    assert len(odds.drivers) == 2 and set(odds.drivers) <= set(drawn.INPUTS)


def test_the_same_facts_give_the_same_odds() -> None:
    again = event_odds(passing_event(_case(), _encounter(), _solutions()))
    assert again == event_odds(_passed())


def test_odds_do_not_flicker() -> None:
    """Common random numbers: half a per cent more speed moves no chance by more than a few members."""
    a = event_odds(_passed())
    b = event_odds(passing_event(_case(), _encounter(5.025), _solutions()))
    assert abs(a.any_over_working - b.any_over_working) <= 4 / 120


def test_more_load_more_odds() -> None:
    chances = [event_odds(_passed(surge_n)).any_over_working for surge_n in (400e3, 900e3, 1500e3)]
    assert chances == sorted(chances) and chances[0] < 0.2 < chances[2]


def test_without_load_and_wind_nothing_is_passed() -> None:
    odds = event_odds(passing_event(_case(3.0), _encounter(), _solutions(1e3)))
    assert odds.any_over_working == 0.0


def test_the_number_of_members_does_not_matter_much() -> None:
    """Binomial error: 120 and 480 members agree within 3 standard errors."""
    few, many = event_odds(_passed()), event_odds(_passed(members=480))
    p = many.any_over_working
    assert abs(few.any_over_working - p) < 3.0 * np.sqrt(p * (1 - p) / 120) + 0.01


def test_peaks_moving_and_at_rest_are_both_told() -> None:
    odds = event_odds(_passed(400e3))
    for line in odds.lines:
        assert line.static_n is not None and line.dynamic_n is not None
        assert 0.6 < line.dynamic_n / line.static_n < 2.5


def test_a_near_pass_is_told_as_the_ship_moves() -> None:
    """With odds the lines' peaks are theirs; they serve until they are old; far off nothing is worked out."""
    case, encounter, found = _case(), _encounter(), _solutions()
    at_rest = PassingOutlook(encounter, (_load("a", 0.2, 0.3, 0.5),), NOTHING, Validity.DEGRADED, (STATIC, "else"))
    ask = Ask(_estimator(), (), case.wind, None, case.stay, None, NOW)
    told = with_odds(ask, case.holding, at_rest, found, lambda d: None, lambda: None)
    assert told.odds is not None and told.advice is not None and told.reasons == ("else",)
    bands = {line.line: line.tension_n for line in told.odds.lines}
    assert {load.line: load.tension_n for load in told.lines} == bands
    before = Outlook(NOW, (told,), (), Validity.GOOD)
    soon, late = (replace(ask, now=NOW + by, before=before) for by in (MINUTE, 5 * MINUTE))
    assert with_odds(soon, case.holding, at_rest, found, lambda d: None, lambda: None).odds == told.odds
    anew = with_odds(late, case.holding, at_rest, found, lambda d: None, lambda: None).odds
    assert anew is not None and anew.at == NOW + 5 * MINUTE
    far = replace(ask, now=NOW - 60 * MINUTE)
    assert with_odds(far, case.holding, at_rest, found, lambda d: None, lambda: None) == at_rest
    light = replace(at_rest, lines=(_load("a", 0.0, 0.1, 0.2),))
    assert with_odds(ask, case.holding, light, found, lambda d: None, lambda: None) == light


def test_wind_odds_grow_with_time_and_with_the_wind() -> None:
    strong = wind_event(_case(19.0, members=60), (5, 15, 30))
    chances = [event_odds(strong, mark) for mark in range(3)]
    over = [odds.any_over_working for odds in chances]
    assert over == sorted(over)
    for first, last in zip(chances[0].lines, chances[0].lines, strict=True):
        assert first.tension_n.mid <= last.tension_n.mid
    weak = event_odds(wind_event(_case(6.0, members=60), (5,)))
    assert weak.any_over_working == 0.0
    assert drawn.HER_SPEED not in chances[2].drivers


def test_hours_by_reading_between_statics_agree_with_statics() -> None:
    """The middle tension of an hour is near that under the middle wind; the directions drawn add a little."""
    case = _case(12.0)
    odds, _ = hour_odds(case, 3.0)
    assert odds is not None and case.wind.speed_30s_m_s is not None
    mid = case.wind.speed_30s_m_s.mid
    steady, _, _, _ = _estimator().steady(Band(mid, mid, mid), 310.0, case.water, case.stay, None)
    loads = case.holding.line_loads(*case.holding.share(steady, case.stay, case.water).tension_n)
    static = {load.line: load.tension_n.mid for load in loads}
    for line in odds.lines[:6]:
        assert line.tension_n.mid == pytest.approx(static[line.line], rel=0.10)
        assert line.tension_n.low < line.tension_n.mid < line.tension_n.high


def test_an_hour_that_nothing_holds_counts_every_line() -> None:
    """60 m/s off the quay: whatever brakes do, she is lost. Each line has rendered or parted in all truths."""
    odds, _ = hour_odds(_case(60.0), 3.0)
    assert odds is not None and odds.any_over_strength > 0.9
    for line in odds.lines:
        assert (line.over_brake or 0.0) + line.over_strength >= 0.99
        assert np.isfinite(line.tension_n.high) and line.parts_at is not None


def test_the_hours_go_on_to_the_end_of_the_forecast_while_the_tide_is_known() -> None:
    """Each hour to twelve, then each third to two days; where the tide is not known the far hours are left out."""
    case = _case()
    asked = Ask(_estimator(), (), case.wind, None, case.stay, None, NOW)
    for last_h, known_h, ends_h in ((70, 20, 18), (30, 96, 36)):
        steps = tuple(
            WindReading(NOW + h * 60 * MINUTE, NOW, "model", WindKind.FORECAST, 8.0, 12.0, 300.0)
            for h in range(last_h + 1)
        )
        moored = _estimator().moored
        until = NOW + known_h * 60 * MINUTE

        def water(at: datetime, state: stay.StayState | None = None, until: datetime = until) -> WaterEstimate:
            level_m = 1.0 if at <= until else None
            return WaterEstimate(at, level_m, 0.2, 20.0, 0.2, Validity.GOOD)

        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(type(moored), "water", lambda self, *given, water=water: water(*given))
            hours = _hours(replace(asked, forecast=WindForecast(NOW, NOW, "model", steps)), case.holding)
        ahead = [(hour.at - NOW) / (60 * MINUTE) for hour in hours]
        assert ahead[:12] == list(range(1, 13)) and ahead[-1] == ends_h
        assert all(b - a == 3.0 for a, b in pairwise(ahead[11:]))
        assert all(hour.odds is not None and hour.lines for hour in hours)


def test_a_gale_in_the_forecast_has_odds() -> None:
    calm, gale = (hour_odds(_case(speed), 6.0)[0] for speed in (6.0, 24.0))
    assert calm is not None and gale is not None
    assert calm.any_over_working == 0.0 < gale.any_over_working
    assert gale.any_over_strength <= gale.any_over_working


def test_in_the_hours_ahead_brakes_render_and_the_others_take_over(monkeypatch: pytest.MonkeyPatch) -> None:
    """No drum pulls more than its brake lets it; the two lines on bitts then carry more than if brakes held, by
    the middle: at the upper end they part either way."""
    case = _case(22.0)
    moored = case.holding.moored
    most_n = {name: band.high for name, band in zip(moored.names, moored.renders_n, strict=True) if band}
    with_brakes, _ = hour_odds(case, 3.0)
    monkeypatch.setattr(moored, "renders_n", (None,) * len(moored.names))
    without, _ = hour_odds(case, 3.0)
    assert with_brakes is not None and without is not None
    stiff = {line.line: line for line in without.lines}
    drums = [line for line in with_brakes.lines if line.over_brake is not None]
    bitts = [line for line in with_brakes.lines if line.over_brake is None]
    assert max(line.over_brake or 0.0 for line in drums) > 0.2
    for line in drums:
        assert line.tension_n.high <= 1.05 * most_n[line.line]
    assert len(bitts) == 2
    assert all(line.tension_n.mid > 1.03 * stiff[line.line].tension_n.mid for line in bitts)


def test_members_of_an_hour_rest_where_a_slow_push_brings_the_ship() -> None:
    """The statics of an hour, brakes and strengths of each member its own, against the ship in time under a load
    that grows to what is asked for: the same pulls (1 %), and with strengths the same lines gone."""
    each = ensemble(_case(4.0, members=16))
    render_n, strength_n = np.asarray(each.members.render_n), 0.85 * np.asarray(each.members.strength_n)
    load_n = np.outer(np.linspace(0.6, 1.5, 16), [60e3, 1500e3, 8e6])
    corner_m = corners_m(each.mooring.lines, render_n)
    mass = np.array([2.0e7, 3.0e7, 8.0e10])
    damping = 0.4 * critical_damping(each.mooring, np.zeros((16, 3)), mass)
    for strong in (np.full_like(strength_n, np.inf), strength_n):
        found = unzipped(each.mooring, load_n, strong, np.zeros(render_n.shape, dtype=bool), corner_m)
        slow = Members(mass, damping, render_n=render_n, strength_n=strong)
        got = respond(
            each.mooring, slow, lambda k: load_n * min(1.0, k / 2400.0), 3200, 0.5, np.zeros((16, 3)), keep=True
        )
        held = found.holds
        assert (found.peak_n >= 0.999 * render_n).any() and held.sum() >= 15
        assert (np.isfinite(got.parted_at_s) == (found.turn != NEVER))[held].all()
        if np.isinf(strong).all():
            assert got.tension_n is not None
            assert got.tension_n[-1] == pytest.approx(found.peak_n, rel=0.01, abs=1e3)
    assert (found.turn != NEVER).any()


def test_the_order_of_a_forecast_gale_is_that_of_a_rising_wind() -> None:
    """Hour by hour to a storm: a line goes between the hours in which it still holds and no longer does, and what
    went stays gone."""
    going = None
    odds: list[EventOdds] = []
    for hour, speed_m_s in enumerate((12.0, 18.0, 24.0, 28.0), 1):
        case = at_hour(
            _case(9.0), Band(0.9 * speed_m_s, speed_m_s, 1.1 * speed_m_s), None, 300.0, NOW + hour * 60 * MINUTE
        )
        was = going
        told, going = hour_odds(case, float(hour), was)
        assert told is not None and going is not None
        odds.append(told)
        fresh = np.isfinite(going.gone_s) if was is None else np.isfinite(going.gone_s) & np.isinf(was.gone_s)
        hour_s = (NOW + hour * 60 * MINUTE).timestamp()
        assert (going.gone_s[fresh] <= hour_s + len(case.holding.kept)).all()
        assert was is None or (going.gone_s[fresh] > hour_s - 3600.0).all()
        assert was is None or (going.gone_s[np.isfinite(was.gone_s)] == was.gone_s[np.isfinite(was.gone_s)]).all()
    first = [min(line.parts_at for line in told.lines if line.parts_at) for told in odds[1:]]
    assert first == sorted(first)
    assert [told.any_over_strength for told in odds] == sorted(told.any_over_strength for told in odds)
    for told in odds:
        assert all((line.parts_at is not None) or line.over_strength == 0.0 for line in told.lines)


@given(
    st.integers(1, 40),
    st.integers(1, 14),
    st.floats(50e3, 900e3),
    st.floats(0.05, 0.6),
    st.integers(0, 2**32 - 1),
)
def test_no_line_is_likelier_to_part_than_to_pass_its_working_limit(
    members: int, weak: int, middle_n: float, spread: float, seed: int
) -> None:
    """Whatever the peaks, brakes and strengths, strengths under the working limit included: the chances of a line
    keep their order, the event's are not less than any line's, and those of a horizon not less than the last's."""
    case, rng = _case(), np.random.default_rng(seed)
    m = len(case.holding.kept)
    strength_n = middle_n * np.exp(rng.normal(0.0, spread, (members, m)))
    strength_n[:, :weak] *= 0.3
    render_n = np.where(rng.uniform(size=(members, m)) < 0.5, np.inf, 0.8 * middle_n)
    soon_n = np.minimum(middle_n * np.exp(rng.normal(-0.5, 2.0 * spread, (members, m))), strength_n)
    late_n = np.minimum(soon_n * np.exp(np.abs(rng.normal(0.0, spread, (members, m)))), strength_n)
    soon, late = (counted(case, peak_n, render_n, strength_n, {}) for peak_n in (soon_n, late_n))
    for odds in (soon, late):
        assert odds.any_over_strength <= odds.any_over_working <= odds.any_over_limit
        for line in odds.lines:
            assert line.over_strength <= line.over_working <= odds.any_over_working
    was = {line.line: line for line in soon.lines}
    for line in late.lines:
        assert line.over_strength >= was[line.line].over_strength
        assert line.over_working >= was[line.line].over_working


def test_partings_are_told_at_every_horizon() -> None:
    """In a storm: what parts within five minutes is counted at five minutes
    as at the end, and nobody's peak is beyond what parted it."""
    case = _case(26.0, members=40)
    outcome = wind_event(case, (5, 15))
    parted_at_s, members = outcome.response.parted_at_s, outcome.ensemble.members
    assert np.isfinite(parted_at_s).any()
    for mark, until_s in ((0, 300.0), (1, np.inf)):
        peak_n, odds = outcome.response.peak_n[mark], event_odds(outcome, mark)
        parted = np.isfinite(parted_at_s) & (parted_at_s < until_s)
        assert odds.any_over_strength == pytest.approx(parted.any(axis=1).mean())
        assert ((peak_n >= np.asarray(members.strength_n)) == parted).all()
        assert odds.any_over_working >= odds.any_over_strength


# --- advice -------------------------------------------------------------------------------------------------


def test_the_advised_speed_keeps_what_was_asked() -> None:
    """March the pass again at the advised speed: the chance at the limit is what was asked, nearly."""
    outcome, found = _passed(), _solutions()
    before = event_odds(outcome).any_over_limit
    advice = advise(outcome, _encounter(), found, lambda d: None, 500.0)
    assert advice.speed_water_m_s is not None and advice.speed_water_m_s < 5.0 and before > RISK
    share = advice.speed_water_m_s / 5.0
    slower = replace(found, load=found.load * share**2)
    again = event_odds(passing_event(_case(), _encounter(advice.speed_water_m_s), slower))
    assert again.any_over_limit <= RISK + 0.05


def test_the_advised_distance_has_the_tolerable_load() -> None:
    outcome, found, encounter = _passed(), _solutions(), _encounter()
    scale = tolerable(outcome, found, RISK)
    assert scale is not None and scale < 1.0

    def size_at(separation_m: float) -> float:
        return float(np.hypot(found.load[1, :, 0], found.load[1, :, 1]).max()) * (122.0 / separation_m) ** 2

    assert advise(outcome, encounter, found, size_at, 130.0).distance_m is None  # no room for it
    advice = advise(outcome, encounter, found, size_at, 500.0)
    assert advice.distance_m is not None
    apart_m = advice.distance_m + 122.0 - 90.0
    assert (122.0 / apart_m) ** 2 == pytest.approx(scale, rel=0.02)


def test_nothing_to_ask_of_a_small_ship() -> None:
    outcome = _passed(30e3)
    advice = advise(outcome, _encounter(), _solutions(30e3), lambda d: None, 500.0)
    assert advice.speed_water_m_s is None and "twice" in advice.why
    assert advice_in_words(advice, _encounter()) == ""


def test_where_no_place_of_rest_is_found_she_is_not_told_to_come(monkeypatch: pytest.MonkeyPatch) -> None:
    """Loads too great for the lines to be shared out count as too much: once they read as no load at all."""
    outcome, found = _passed(30e3), _solutions(30e3)

    def lost(*of: object) -> Equilibrium:
        rest = equilibrium(*of)  # type: ignore[arg-type]
        known = np.arange(len(rest.converged)) < len(rest.converged) // 2  # the lower half of the scales
        return replace(rest, converged=rest.converged & known)

    monkeypatch.setattr("monitor.watch.advice.equilibrium", lost)
    scale = tolerable(outcome, found, RISK)
    assert scale is None or scale < 1.5


def test_advice_in_words() -> None:
    """Speeds round down, distances up; below steerage way only distance helps."""
    encounter = _encounter(5.0)
    assert advice_in_words(None, encounter) == ""
    both = PassingAdvice(0.05, 3.99, 181.0)
    assert advice_in_words(both, encounter) == (
        "not above 7.5 kn through the water, or at least 190 m off at her present speed"
    )
    assert advice_in_words(PassingAdvice(0.05, 3.99, None), encounter) == "not above 7.5 kn through the water"
    slow = PassingAdvice(0.05, 1.5, 300.0)
    assert advice_in_words(slow, encounter) == "at least 300 m off; slowing down alone is not enough"
    assert advice_in_words(PassingAdvice(0.05, 6.0, None), encounter) == ""


@pytest.mark.parametrize(("chance", "words"), [(0.001, "under 1 %"), (0.124, "12 %"), (0.999, "over 99 %")])
def test_chances_in_words(chance: float, words: str) -> None:
    assert chance_in_words(chance) == words


# --- tending ------------------------------------------------------------------------------------------------


def _load(line: str, low: float, mid: float, high: float) -> LineLoad:
    return LineLoad(line, "head lines", Band(low, mid, high), Band(low, mid, high), 1.0, "working limit")


def test_untended_lines_follow_the_tide() -> None:
    """Two hours of rising tide at low loads: what the lines carry at rest at the water of then."""
    case, estimator = _case(4.0), _estimator()
    assert case.wind.speed_30s_m_s is not None
    steady, _, _, _ = estimator.steady(case.wind.speed_30s_m_s, 310.0, case.water, case.stay, None)
    ahead = untended(case.holding, steady, case.stay, NOW)
    assert [each.at - NOW for each in ahead] == [30 * MINUTE, 60 * MINUTE, 120 * MINUTE]
    rest = case.holding.share(steady, case.stay, estimator.moored.water(NOW + 120 * MINUTE))
    mids_n = {load.line: load.tension_n.mid for load in case.holding.line_loads(*rest.tension_n)}
    assert {load.line: load.tension_n.mid for load in ahead[-1].lines} == pytest.approx(mids_n)


def test_what_was_worked_out_in_another_wind_is_not_kept() -> None:
    """Ten minutes later in the same wind it serves; when the wind has risen it does not."""
    case, estimator = _case(4.0), _estimator()
    steady = {
        speed: estimator.steady(Band(speed, speed, speed), 310.0, case.water, case.stay, None)[0]
        for speed in (4.0, 4.3, 14.0)
    }
    before = untended(case.holding, steady[4.0], case.stay, NOW)
    later_on = NOW + 9 * MINUTE
    assert still_so(before, case.holding, steady[4.0], case.stay, later_on)
    assert still_so(before, case.holding, steady[4.3], case.stay, later_on)
    assert not still_so(before, case.holding, steady[14.0], case.stay, later_on)
    assert not still_so((), case.holding, steady[4.0], case.stay, later_on)


def test_a_loaded_line_is_never_named_for_tending() -> None:
    now = [_load("loaded", 0.2, 0.3, 0.4), _load("light", 0.05, 0.1, 0.12), _load("steady", 0.05, 0.1, 0.12)]
    then = (_load("loaded", 0.4, 0.5, 0.7), _load("light", 0.3, 0.4, 0.52), _load("steady", 0.05, 0.1, 0.13))
    ahead = [Untended(NOW + 120 * MINUTE, then)]
    (only,) = to_tend(now, ahead, 0.4, NOW)
    assert only.line == "light" and not only.slack
    assert only.before == NOW + timedelta(minutes=120 * (0.4 - 0.12) / (0.52 - 0.12))


def test_a_line_going_slack_is_named_last() -> None:
    now = [_load("slacker", 0.05, 0.06, 0.08), _load("light", 0.05, 0.1, 0.12)]
    ahead = [Untended(NOW + 120 * MINUTE, (_load("slacker", 0.0, 0.0, 0.0), _load("light", 0.2, 0.25, 0.3)))]
    assert [(each.line, each.slack) for each in to_tend(now, ahead, 0.4, NOW)] == [
        ("light", False),
        ("slacker", True),
    ]


def test_a_lull_keeps_clear_of_passes() -> None:
    """Load falls to a low half-way; a ship overlaps us there: the lull is on either side of her."""
    heaviest = [0.30, 0.28, 0.20, 0.12, 0.11, 0.10, 0.11, 0.12, 0.2, 0.28, 0.3, 0.3]
    alone = lulls(heaviest, (), NOW, 0.4)
    assert (alone[0].start, alone[0].end) == (NOW + 30 * MINUTE, NOW + 80 * MINUTE)
    assert alone[0].utilisation == 0.12
    encounter = replace(_encounter(), overlap_from=NOW + 52 * MINUTE, overlap_to=NOW + 56 * MINUTE)
    passing = PassingOutlook(encounter, (), NOTHING, Validity.GOOD)
    beside = lulls(heaviest, (passing,), NOW, 0.4)
    assert {lull.end <= NOW + 47 * MINUTE for lull in beside} == {True, False}
    assert all(lull.end <= NOW + 47 * MINUTE or lull.start >= NOW + 60 * MINUTE for lull in beside)


def test_the_least_of_a_gale_is_no_lull() -> None:
    """Nobody is sent to tend lines that are over the caution level all the time, however even the load."""
    assert lulls([1.5] * 12, (), NOW, 0.4) == ()
    (only,) = lulls([1.5] * 6 + [0.3] * 2 + [0.41] * 4, (), NOW, 0.4)
    assert (only.start, only.end, only.utilisation) == (NOW + 60 * MINUTE, NOW + 80 * MINUTE, 0.3)


def test_slots_read_between_now_and_later() -> None:
    now = [_load("a", 0.0, 0.1, 0.2)]
    ahead = [Untended(NOW + m * MINUTE, (_load("a", 0.0, 0.3, 0.2 + 0.24 * m / 120),)) for m in (60, 120)]
    slots = slots_of(now, ahead, (), NOW)
    assert len(slots) == 12 and slots[0] == pytest.approx(0.2 + 0.24 * 5 / 120)
    assert slots[-1] == pytest.approx(0.2 + 0.24 * 115 / 120)


def test_what_could_not_be_worked_out_is_no_lull() -> None:
    now = [_load("a", 0.0, 0.1, 0.2)]
    assert lulls(slots_of(now, (), (), NOW), (), NOW, 0.4) == ()
    half = [Untended(NOW + 60 * MINUTE, (_load("a", 0.0, 0.05, 0.1),))]
    assert max(each.end for each in lulls(slots_of(now, half, (), NOW), (), NOW, 0.4)) == NOW + 60 * MINUTE


def test_cargo_goes_on_as_it_went() -> None:
    """Two readings of the draughts an hour apart tell the rate; after three hours nobody trusts it any more."""
    begun = stay.begin(_estimator().moored.settings.stay)
    at = begun.draughts_at
    assert at is not None and later(begun, NOW, 60 * MINUTE) == begun

    def read(forward_m: float, aft_m: float) -> OperatorAction:
        return OperatorAction("HB", Action.DRAUGHT, values=(("forward_m", forward_m), ("aft_m", aft_m)))

    lighter = stay.apply(begun, read(begun.draught_forward_m - 0.2, begun.draught_aft_m - 0.1), at + 60 * MINUTE)
    hence = later(lighter, at + 90 * MINUTE, 60 * MINUTE)
    assert hence.draught_forward_m == pytest.approx(begun.draught_forward_m - 0.5)
    assert hence.draught_aft_m == pytest.approx(begun.draught_aft_m - 0.25)
    assert later(lighter, at + 300 * MINUTE, 60 * MINUTE) == lighter
    twice = stay.apply(lighter, read(8.0, 8.0), at + 62 * MINUTE)
    assert twice.draught_m_s is None  # two minutes tell no rate


def test_limit_shares_count_bollards_with_all_their_lines() -> None:
    outcome = _passed()
    shares = limit_shares(outcome.ensemble.case, outcome.response.peak_n[-1])
    assert shares.shape == outcome.response.peak_n[-1].shape
    assert (shares >= outcome.response.peak_n[-1] / 640e3).all()
    assert isinstance(event_odds(outcome), EventOdds)


def test_if_a_line_is_lost() -> None:
    """In a light wind each of the fourteen lines can go and the rest hold; worst first, the pair counted."""
    case = _case(8.0)
    lost = if_lost(case.holding, case.stay, case.water, HorizontalLoad(0.0, 150e3, 0.0))
    assert len(lost) == 15 and all(each.holds for each in lost)
    assert len(lost[0].lines) == 2  # no single loss is worse than the worst pair
    assert [each.share for each in lost] == sorted((each.share or 0.0 for each in lost), reverse=True)
    storm = if_lost(case.holding, case.stay, case.water, HorizontalLoad(0.0, 2500e3, 0.0))
    assert not storm[0].holds and storm[0].then


# --- alerts -------------------------------------------------------------------------------------------------


def _judged(chance: float, passes: float, with_odds: bool = True, utilisation: float = 0.2) -> Priority:
    settings = _estimator().moored.settings
    alerts = settings.alerts if with_odds else settings.alerts.model_copy(update={"odds": None})
    state, encounter = stay.begin(settings.stay), replace(_encounter(), passes=passes)
    case = _case()
    light = tuple(replace(_load("a", 0.0, 0.05, 0.08), line=name) for name in ("a", "b"))
    estimate = replace(
        unknown_load(NOW, case.wind, case.water, ()), steady_lines=light, lines=light, validity=Validity.GOOD
    )
    odds = EventOdds(NOW, 200, (), chance, chance, 0.0, ("her speed through the water",))
    heavier = (_load("a", 0.0, 0.1, utilisation),)
    passing = PassingOutlook(encounter, heavier, NOTHING, Validity.DEGRADED, odds=odds)
    outlook = Outlook(NOW, (passing,), (), Validity.GOOD)
    judge = Judge(alerts, settings.berth.limits)
    found = judge.situations(estimate, outlook, (), state, {}, frozenset(), frozenset(), NOW)
    return next(each.level for each in found if each.key.startswith("passing"))


def test_an_alert_on_odds() -> None:
    """The shipped profile warns at 20 % and cautions at 10 %, of the chance times the chance that she passes."""
    assert _judged(0.3, 0.9) is Priority.WARNING
    assert _judged(0.3, 0.5) is Priority.CAUTION
    assert _judged(0.05, 0.9) is Priority.NONE
    assert _judged(0.99, 1.0) is Priority.WARNING  # a chance alone is never an alarm
    assert _judged(0.3, 0.9, with_odds=False) is Priority.NONE


def test_the_notice_tells_chance_drivers_and_what_to_ask() -> None:
    advice = PassingAdvice(0.05, 3.99, 181.0)
    odds = EventOdds(NOW, 200, (), 0.3, 0.3, 0.0, ("her distance", "gusts"))
    situation = Situation(
        "passing:1", Matter.PASSING, Priority.WARNING, Priority.WARNING, at=NOW + 8 * MINUTE,
        clear_by=NOW + 5 * MINUTE, encounter=_encounter(), odds=odds, chance=0.27, advice=advice,
    )  # fmt: skip
    change = Transition(
        NOW, "passing:1", AlertState.NORMAL, AlertState.UNACKNOWLEDGED, Priority.WARNING, False, Reason.RAISED
    )
    told = notice(change, situation, Local(timedelta(0)))
    assert "slow, wide pass: not above 7.5 kn through the water, or at least 190 m off" in told.do
    assert "passes its working limit 27 %. Depends most on her distance (ask her or VTS how far off" in told.sure


def test_odds_in_the_profile_must_rise(tmp_path: Path) -> None:
    """And a profile without them is a good one: the small set of settings in these tests has none."""
    table = '[odds]\ncaution = "30 %"\nwarning = "20 %"\n\n[timing]'
    told = faults_of(tmp_path, changed(ALERTS_FILE, "[timing]", table))
    assert "odds.warning" in told and "below caution" in told


def test_a_side_on_which_she_is_not_held_is_no_hole_in_the_odds() -> None:
    """Wind drawn from just there, or from just the middle: nothing of what holds nothing is not a number less than
    every limit."""
    tension_n = np.array([[[1e5]], [[2e5]], [[np.inf]]]) * np.ones((1, 4, 1))  # three directions, four members
    read_n = _between(tension_n, np.array([0.0, 30.0, -30.0, 15.0]))
    assert read_n.ravel().tolist() == [2e5, np.inf, 1e5, np.inf]
    not_ahead_n = _between(tension_n[[2, 2, 0]], np.array([0.0, 30.0, -30.0, 15.0]))
    assert not_ahead_n.ravel().tolist() == [np.inf, 1e5, np.inf, np.inf]
