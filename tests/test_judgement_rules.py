"""What the facts call for: levels against time, people on deck, lost ships, and one alert for one situation."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.base.units import m_s
from monitor.physics.passing import FAR_BANK, MORE_WALLS
from monitor.records.estimates import (
    Band,
    Encounter,
    EventOdds,
    HorizontalLoad,
    LineLoad,
    LoadEstimate,
    Outlook,
    PassingKind,
    PassingOutlook,
    Untended,
    Validity,
    WaterEstimate,
    WindEstimate,
    WindOutlook,
)
from monitor.records.events import Action, OperatorAction, Priority
from monitor.records.situations import Matter, Situation
from monitor.settings.load import load_stay
from monitor.settings.schema import Levels, Limits, Settings
from monitor.watch import stay
from monitor.watch.facts import heaviest
from monitor.watch.judgement import FeedState, Judge
from monitor.watch.moored import Moored
from monitor.watch.outlook import look_ahead
from tests.watching import STAY

NOW = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
MMSI = 200911002
NONE, CAUTION, WARNING, ALARM = Priority.NONE, Priority.CAUTION, Priority.WARNING, Priority.ALARM
MOORED = stay.StayState("all fast", 8.7, 9.1)
LEVELS = {"caution": "40 %", "warning": "50 %", "alarm": "70 %"}
WITH_PEOPLE = {"caution": "30 %", "warning": "40 %", "alarm": "55 %"}


@pytest.fixture(scope="module")
def settings(config: Path) -> Settings:
    return load_stay(config, STAY)


@pytest.fixture(scope="module")
def judge(settings: Settings) -> Judge:
    """The shipped times; levels of our own, so that tuning the shipped ones breaks nothing here."""
    levels = {"levels": Levels.model_validate(LEVELS), "with_people": Levels.model_validate(WITH_PEOPLE)}
    return Judge(settings.alerts.model_copy(update=levels), settings.berth.limits)


def lines(
    low: float, mid: float, high: float, cap: float = 0.72, name: str = "aft spring 1"
) -> tuple[LineLoad, ...]:
    band = Band(low, mid, high)
    tension_n = Band(low * 300e3, mid * 300e3, high * 300e3)
    return (LineLoad(name, "aft springs", tension_n, band, 300e3, "working limit", (), cap),)


QUIET = lines(0.10, 0.15, 0.20)


def wind(mean_m_s: float = 8.0, gust_m_s: float = 11.0) -> WindEstimate:
    return WindEstimate(NOW, Band(8.0, 9.0, 10.0), 310.0, gust_m_s, mean_m_s, 0.0, "masthead", 1.0, Validity.GOOD)


def estimate(
    steady: tuple[LineLoad, ...] = QUIET, squall: tuple[LineLoad, ...] = (), **others: Any
) -> LoadEstimate:
    water = WaterEstimate(NOW, 2.0, 0.3, 40.0, 0.8, Validity.GOOD)
    load = HorizontalLoad(0.0, 1e5, 0.0)
    whole = LoadEstimate(NOW, wind(), water, load, load, None, steady, steady, squall, 0.0, 0.1, Validity.GOOD)
    return replace(whole, **others)


def encounter(overlap_s: float, passes: float = 1.0, speed_kn: float = 11.0, mmsi: int = MMSI) -> Encounter:
    """A ship of 300 m whose bow overlaps ours in `overlap_s` and who is abeam half a minute later."""
    overlap, speed = NOW + timedelta(seconds=overlap_s), m_s(speed_kn)
    speeds = Band(0.9 * speed, speed, 1.1 * speed)
    return Encounter(
        NOW, mmsi, "ORVANE SUMMIT", PassingKind.OPPOSITE, passes, overlap + timedelta(seconds=30),
        overlap + timedelta(seconds=20), overlap + timedelta(seconds=45), Band(85.0, 95.0, 110.0), speeds, speeds,
        220.0, Band(130.0, 138.0, 150.0), Band(300.0, 300.0, 300.0), Band(45.0, 45.0, 45.0),
        Band(12.9, 12.9, 12.9), 70, 4.0, (), overlap, overlap + timedelta(seconds=75),
    )  # fmt: skip


def outlook(
    met: Encounter, peaks: tuple[LineLoad, ...], validity: Validity = Validity.DEGRADED, hours: Any = ()
) -> Outlook:
    passing = PassingOutlook(met, peaks, HorizontalLoad(-3e5, 2e5, 1e7), validity, ("static share-out",))
    return Outlook(NOW, (passing,), hours, Validity.GOOD)


def judged(judge: Judge, **facts: Any) -> dict[str, Situation]:
    asked: dict[str, Any] = {"estimate": estimate(), "outlook": None, "feeds": (), "stay": MOORED}
    asked |= {"before": {}, "lost": frozenset(), "silent": frozenset(), "now": NOW} | facts
    return {situation.key: situation for situation in judge.situations(**asked)}


def passing(judge: Judge, **facts: Any) -> Situation:
    return judged(judge, **facts)[f"passing:{MMSI}"]


# --- levels -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("band", "level"),
    [
        ((0.1, 0.2, 0.39), NONE),
        ((0.1, 0.2, 0.41), CAUTION),
        ((0.1, 0.2, 0.51), WARNING),
        ((0.1, 0.69, 0.95), WARNING),  # the upper end alone makes no alarm
        ((0.1, 0.71, 0.95), ALARM),
    ],
)
def test_alarm_by_the_middle_warning_by_the_upper_end(band: tuple[float, float, float], level: Priority) -> None:
    assert heaviest(lines(*band)).call(Levels.model_validate(LEVELS)) is level


@given(st.floats(0.0, 2.0), st.floats(0.05, 1.0), st.floats(0.05, 1.0))
def test_no_profile_sets_alarm_above_the_cap(mid: float, cap: float, alarm: float) -> None:
    """Ours: ALARM at 60 % of the brake setting at the latest, whatever is written."""
    levels = Levels.model_construct(caution=0.01, warning=0.02, alarm=alarm)
    found = heaviest(lines(mid, mid, mid, cap)).call(levels)
    assert (found is ALARM) == (mid >= min(cap, alarm))


def test_the_cap_is_60_percent_of_the_brake(settings: Settings) -> None:
    """A fibre line's working limit is 50 % of MBL, a brake renders at 60 % (MEG): 0.6·0.6/0.5 = 72 % of it."""
    moored = Moored(settings)
    tension_n = np.full(len(moored.names), 100e3)
    caps = {load.alarm_cap for load in moored.holding(MOORED).line_loads(tension_n, tension_n, tension_n)}
    assert min(caps) == pytest.approx(0.72)
    assert max(caps) <= 1.0


# --- passing ships ----------------------------------------------------------------------------------------------

HEAVY = lines(0.6, 0.9, 1.2)


@pytest.mark.parametrize(
    ("overlap_s", "level", "due"),
    [
        (16 * 60, NONE, False),
        (15 * 60 + 1, NONE, False),
        (15 * 60, WARNING, False),  # first notice, however heavy: capped until it is time to act
        (301, WARNING, False),
        (300, ALARM, True),
        (10, ALARM, True),
        (-30, ALARM, True),
    ],
)
def test_levels_against_time(judge: Judge, overlap_s: float, level: Priority, due: bool) -> None:
    found = passing(judge, outlook=outlook(encounter(overlap_s), HEAVY))
    assert (found.level, found.due, found.urgent) == (level, due, due)
    assert found.clear_by == NOW + timedelta(seconds=overlap_s - 120)  # decks clear two minutes before the overlap


def test_people_on_deck_lower_the_levels_and_double_the_time_to_act(judge: Judge) -> None:
    met = outlook(encounter(9 * 60), lines(0.3, 0.6, 0.65))
    manned = replace(MOORED, people_on_deck=True)
    assert (passing(judge, outlook=met).level, passing(judge, outlook=met).due) == (WARNING, False)
    found = passing(judge, outlook=met, stay=manned)
    assert (found.level, found.due, found.people_on_deck) == (ALARM, True, True)
    light = outlook(encounter(9 * 60), lines(0.2, 0.25, 0.42))
    assert passing(judge, outlook=light).level is CAUTION
    assert passing(judge, outlook=light, stay=replace(MOORED, phase="tending")).level is WARNING


@pytest.mark.parametrize(
    ("over_limit", "overlap_s", "manned", "level"),
    [
        (0.02, 10 * 60, False, CAUTION),  # only the near end of a wide band: told, not yet a warning
        (0.05, 10 * 60, False, WARNING),
        (None, 10 * 60, False, WARNING),  # no chance worked out: the upper end stands
        (0.02, 5 * 60, False, WARNING),  # time to act: the upper end stands
        (0.02, 12 * 60, True, WARNING),  # people on deck: likewise
    ],
)
def test_a_far_off_pass_warns_by_its_chance(
    judge: Judge, over_limit: float | None, overlap_s: float, manned: bool, level: Priority
) -> None:
    met = outlook(encounter(overlap_s), lines(0.1, 0.25, 0.65))
    if over_limit is not None:
        odds = EventOdds(NOW, 200, (), over_limit, over_limit, 0.0)
        met = replace(met, passings=(replace(met.passings[0], odds=odds),))
    assert passing(judge, outlook=met, stay=replace(MOORED, people_on_deck=manned)).level is level


@pytest.mark.parametrize(
    ("assumed", "overlap_s", "manned", "level"),
    [
        (("length", "beam", "draught"), 14 * 60, False, CAUTION),  # her size is told within 6 min: ITU-R M.1371
        (("beam", "draught"), 14 * 60, False, WARNING),
        (("length", "beam", "draught"), 8 * 60, False, CAUTION),  # told at 15 min, heard at 9 at the latest
        (("length", "beam", "draught"), 5 * 60, False, ALARM),  # it did not come: the cautious one stands
        (("length", "beam", "draught"), 14 * 60, True, WARNING),  # people on deck do not wait for it
        (("size of a tow that AIS does not show",), 14 * 60, False, WARNING),  # nor will AIS ever tell that
    ],
)
def test_a_size_not_heard_yet_is_no_warning_by_itself_while_it_can_still_come(
    judge: Judge, assumed: tuple[str, ...], overlap_s: float, manned: bool, level: Priority
) -> None:
    met = outlook(replace(encounter(overlap_s), assumed=assumed), HEAVY)
    assert passing(judge, outlook=met, stay=replace(MOORED, people_on_deck=manned)).level is level
    just_heard = replace(
        met, passings=(replace(met.passings[0], encounter=replace(met.passings[0].encounter, newly_heard=True)),)
    )
    found = passing(judge, outlook=just_heard, stay=replace(MOORED, people_on_deck=manned))
    waits = level is CAUTION  # nothing is raised for her, nothing that stands falls
    assert (found.level, found.holds) == ((NONE, CAUTION) if waits else (level, level))


def test_a_small_chance_takes_nothing_from_a_pass_whose_middle_is_heavy(judge: Judge) -> None:
    met = outlook(encounter(10 * 60), HEAVY)
    met = replace(met, passings=(replace(met.passings[0], odds=EventOdds(NOW, 200, (), 0.0, 0.0, 0.0)),))
    assert passing(judge, outlook=met).level is WARNING


@pytest.mark.parametrize(("passes", "level"), [(0.04, NONE), (0.1, CAUTION), (0.19, CAUTION), (0.2, ALARM)])
def test_an_unlikely_pass_is_told_less_loudly(judge: Judge, passes: float, level: Priority) -> None:
    assert passing(judge, outlook=outlook(encounter(60, passes), HEAVY)).level is level


def test_a_load_that_cannot_be_told_is_a_warning_not_a_blank(judge: Judge) -> None:
    found = passing(judge, outlook=outlook(encounter(200), (), Validity.UNKNOWN))
    assert found.unknown and found.level is WARNING
    crawling = passing(judge, outlook=outlook(encounter(200, speed_kn=1.5), (), Validity.UNKNOWN))
    assert not crawling.unknown and crawling.level is NONE  # next to no pressure field


@given(st.floats(0.0, 0.3), st.floats(-60.0, 1200.0), st.booleans())
def test_who_adds_nothing_never_alarms(judge: Judge, add: float, overlap_s: float, manned: bool) -> None:
    """A small craft close by leaves the lines as wind and stream have them: no alert of hers, however loaded."""
    little = min(add, 0.069)  # below the deadband of 7 %
    already = lines(0.7, 0.8, 0.9)
    with_her = lines(0.7, 0.8 + little, 0.9 + little)
    state = replace(MOORED, people_on_deck=manned)
    found = passing(judge, estimate=estimate(already), outlook=outlook(encounter(overlap_s), with_her), stay=state)
    assert found.level is NONE and found.holds is NONE


def test_wind_and_a_ship_together_keep_one_alert_each(judge: Judge) -> None:
    """The wind's alert stands for the wind; the ship's for what she adds to it, and tells both loads."""
    already, both = lines(0.4, 0.5, 0.55), lines(0.6, 0.8, 1.0)
    found = judged(judge, estimate=estimate(already), outlook=outlook(encounter(120), both))
    assert found["wind"].level is WARNING and found["wind"].lines[0].utilisation.mid == 0.5
    assert found[f"passing:{MMSI}"].level is ALARM and found[f"passing:{MMSI}"].lines[0].utilisation.mid == 0.8
    assert len([s for s in found.values() if s.level is not NONE]) == 2


def test_a_lost_ship_keeps_her_alert_as_unknown_until_she_is_past(judge: Judge) -> None:
    seen = passing(judge, outlook=outlook(encounter(240), HEAVY))
    assert seen.until is not None
    before, lost = {seen.key: seen}, frozenset({MMSI})
    empty = Outlook(NOW, (), (), Validity.GOOD)
    kept = judged(judge, outlook=empty, before=before, lost=lost, now=NOW + timedelta(minutes=2))[seen.key]
    assert kept.unknown and kept.level is seen.level and kept.reasons == ("her AIS fell silent",)
    assert kept.clear_by == seen.clear_by
    past = seen.until + timedelta(minutes=3)
    assert seen.key in judged(judge, outlook=empty, before=before, lost=lost, now=past - timedelta(seconds=1))
    assert seen.key not in judged(judge, outlook=empty, before=before, lost=lost, now=past)
    # One who is heard and no longer expected is no longer told.
    assert seen.key not in judged(judge, outlook=empty, before=before, now=NOW)


def test_who_is_past_by_reckoning_alone_keeps_her_alert(judge: Judge) -> None:
    """Unheard since before she was due abreast, she may have slowed down, as we asked of her."""
    due = encounter(20)
    empty, silent = Outlook(NOW, (), (), Validity.GOOD), frozenset({MMSI})
    for fix_age_s, heard_abreast in ((70.0, False), (4.0, True)):
        age = timedelta(seconds=fix_age_s)
        met = replace(due, at=NOW + timedelta(seconds=60), fix_age_s=fix_age_s)
        assert (met.at - age >= due.overlap_from) is heard_abreast
        seen = passing(judge, outlook=outlook(met, HEAVY), now=met.at)
        later = judged(
            judge, outlook=empty, before={seen.key: seen}, silent=silent, now=NOW + timedelta(seconds=150)
        )
        assert (seen.key not in later) if heard_abreast else later[seen.key].unknown


def test_a_craft_made_fast_to_us_does_not_pass(judge: Judge) -> None:
    values = (("mmsi", float(MMSI)), ("alongside", True))
    state = stay.apply(MOORED, OperatorAction("AB", Action.CRAFT, "", values), NOW)
    met = outlook(encounter(60), HEAVY)
    assert f"passing:{MMSI}" not in judged(judge, outlook=met, stay=state)
    cast_off = OperatorAction("AB", Action.CRAFT, "", (("mmsi", float(MMSI)), ("alongside", False)))
    assert passing(judge, outlook=met, stay=stay.apply(state, cast_off, NOW)).level is ALARM


# --- wind -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("stream_kn", "steady", "level"),
    [(2.8, QUIET, NONE), (3.0, QUIET, CAUTION), (4.5, QUIET, CAUTION), (4.5, lines(0.5, 0.75, 0.9), ALARM)],
)
def test_a_stream_stronger_than_any_test_is_never_nothing(
    judge: Judge, stream_kn: float, steady: tuple[LineLoad, ...], level: Priority
) -> None:
    """The model tests behind the load end at 1.5 m/s (2.9 kn)."""
    water = WaterEstimate(NOW, 2.0, m_s(stream_kn), 40.0, m_s(stream_kn), Validity.GOOD)
    found = judged(judge, estimate=estimate(steady, water=water))["wind"]
    assert found.level is level and found.holds is level
    assert ("stream beyond all tests" in found.facts) == (stream_kn > 2.92)


def test_such_a_stream_hides_no_hours_ahead(judge: Judge) -> None:
    water = WaterEstimate(NOW, 2.0, 2.0, 40.0, 2.0, Validity.GOOD)
    hours = (hour(360.0, lines(0.2, 0.3, 0.45)),)
    found = judged(judge, estimate=estimate(water=water), outlook=Outlook(NOW, (), hours, Validity.GOOD))
    assert (found["wind"].level, found["ahead"].level) == (CAUTION, CAUTION)


def test_a_squall_is_told_on_its_rise(judge: Judge) -> None:
    squall = estimate(QUIET, lines(0.2, 0.3, 0.35))
    found = judged(judge, estimate=squall)["wind"]
    assert (found.level, found.urgent) == (WARNING, True)
    assert "wind rising fast" in found.facts
    heavy = judged(judge, estimate=estimate(QUIET, HEAVY))["wind"]
    assert heavy.level is ALARM and heavy.lines == HEAVY


def test_unknown_loads_are_a_warning_of_their_own(judge: Judge) -> None:
    nothing = estimate((), validity=Validity.UNKNOWN, reasons=("wind unknown",))
    found = judged(judge, estimate=nothing)
    assert found["wind"].unknown
    assert (found["model"].level, found["model"].unknown) == (WARNING, True)
    assert found["model"].reasons == ("wind unknown",)


@pytest.mark.parametrize(
    ("averaging", "mean_kn", "half_minute_kn", "gust_kn", "level", "holds"),
    [
        ("3 s", 20, 25, 29.9, NONE, WARNING),
        ("3 s", 20, 25, 30.0, WARNING, WARNING),
        ("3 s", 40, 25, 27.8, NONE, NONE),
        ("10 min", 29.9, 35, 40, NONE, WARNING),
        ("10 min", 30, 35, 40, WARNING, WARNING),
        ("30 s", 20, 31, 40, WARNING, WARNING),
        ("1 min", 20, 31, 40, WARNING, WARNING),  # by the 30 s wind, which reads higher, never by a longer mean
        ("1 min", 20, 25, 40, NONE, NONE),
    ],
)
def test_the_berths_limits(
    judge: Judge,
    averaging: str,
    mean_kn: float,
    half_minute_kn: float,
    gust_kn: float,
    level: Priority,
    holds: Priority,
) -> None:
    """A limit of 30 kn, deadband 7 %: reached at 30, over below 27.9, on the wind of its own averaging time."""
    limit = {"speed": "30 kn", "on": "gust", "averaging": averaging, "source": "handbook"}
    limits = dict.fromkeys(Limits.model_fields, "not entered") | {"leave": limit}
    told = replace(judge, limits=Limits.model_validate(limits))
    half_minute_m_s = m_s(half_minute_kn)
    band = Band(0.9 * half_minute_m_s, half_minute_m_s, 1.1 * half_minute_m_s)
    windy = estimate(wind=replace(wind(m_s(mean_kn), m_s(gust_kn)), speed_30s_m_s=band))
    found = judged(told, estimate=windy)
    assert (found["limit:leave"].level, found["limit:leave"].holds) == (level, holds)
    assert found["limit:leave"].facts[0] == "gust" and found["limit:leave"].facts[2] == "handbook"
    assert [key for key in found if key.startswith("limit:")] == ["limit:leave"]
    # A limit that was reached does not end for want of wind.
    dark = estimate(wind=replace(windy.wind, mean_m_s=None, speed_30s_m_s=None, gust_m_s=None))
    held = judged(told, estimate=dark, before=found)["limit:leave"]
    assert (held.level, held.unknown) == (level, True)
    assert "limit:leave" not in judged(told, estimate=dark)


def hour(ahead_min: float, loads: tuple[LineLoad, ...]) -> WindOutlook:
    return WindOutlook(NOW + timedelta(minutes=ahead_min), Band(15, 18, 22), 24.0, 310.0, loads, "forecast")


@pytest.mark.parametrize(
    ("ahead_min", "level"),
    [(30, None), (60, WARNING), (120, WARNING), (180, CAUTION), (700, CAUTION), (760, None)],
)
def test_hours_ahead(judge: Judge, ahead_min: float, level: Priority | None) -> None:
    """Never an alarm: a warning within two hours, a caution within twelve; the next 45 min are the wind's."""
    coming = Outlook(NOW, (), (hour(ahead_min, HEAVY),), Validity.GOOD)
    found = judged(judge, outlook=coming).get("ahead")
    assert (found.level if found else None) is level


def test_a_load_of_the_tide_is_told_until_it_is_there(judge: Judge) -> None:
    """Spring high water at 1240, the forecast's next hours after it: between the hours that are forecast and the
    wind of the moment no time is left out. Told as it will be in the wind of now."""
    high_water = (Untended(NOW + timedelta(minutes=30), HEAVY), Untended(NOW + timedelta(minutes=60), QUIET))
    coming = Outlook(NOW, (), (hour(40, HEAVY), hour(100, QUIET)), Validity.GOOD, untended=high_water)
    found = judged(judge, outlook=coming)["ahead"]
    assert (found.level, found.at, found.lines) == (WARNING, NOW + timedelta(minutes=30), HEAVY)
    assert found.wind == estimate().wind
    assert "untended" not in judged(judge, outlook=coming)
    later = judged(judge, outlook=coming, now=NOW + timedelta(minutes=31))
    assert "ahead" not in later
    ebb = replace(coming, untended=(Untended(NOW + timedelta(minutes=30), QUIET),))
    assert "ahead" not in judged(judge, outlook=ebb)


def test_hours_ahead_add_nothing_to_a_wind_already_told(judge: Judge) -> None:
    coming = Outlook(NOW, (), (hour(180, HEAVY),), Validity.GOOD)
    found = judged(judge, estimate=estimate(HEAVY), outlook=coming)
    assert found["wind"].level is ALARM and found["ahead"].level is NONE
    assert found["ahead"].holds is CAUTION  # one that stands already does not come and go with the gusts


@pytest.mark.parametrize(
    ("minutes", "loads", "level"),
    [(0, HEAVY, None), (30, HEAVY, WARNING), (120, HEAVY, WARNING), (120, QUIET, None)],
)
def test_without_a_forecast_the_tide_is_still_watched(
    judge: Judge, minutes: float, loads: tuple[LineLoad, ...], level: Priority | None
) -> None:
    """The lines as they will be if nobody tends, in the wind of now; and said so. A forecast takes its place."""
    later = (Untended(NOW + timedelta(minutes=minutes), loads),)
    coming = Outlook(NOW, (), (), Validity.DEGRADED, ("no forecast",), untended=later)
    found = judged(judge, outlook=coming).get("untended")
    assert (found.level if found else None) is level
    assert found is None or (found.matter is Matter.AHEAD and found.facts == ("no forecast",))
    with_forecast = replace(coming, hours=(hour(120, QUIET),))
    assert "untended" not in judged(judge, outlook=with_forecast)


@pytest.mark.parametrize(
    ("beyond", "reasons", "peaks", "level"),
    [
        (False, (), lines(0.15, 0.2, 0.28), NONE),
        (True, ("fast for the depth: her waves count",), lines(0.12, 0.17, 0.25), NONE),  # adds 5 % at most
        (True, ("fast for the depth: her waves count",), lines(0.15, 0.2, 0.35), CAUTION),
        (True, (MORE_WALLS,), QUIET, CAUTION),  # whatever the model says she adds
        (True, (FAR_BANK,), QUIET, NONE),  # the band reaches the load with it
        (True, (MORE_WALLS,), HEAVY, ALARM),
    ],
)
def test_outside_the_models_range_is_never_nothing(
    judge: Judge, beyond: bool, reasons: tuple[str, ...], peaks: tuple[LineLoad, ...], level: Priority
) -> None:
    """A review case taught it: a slip, a fast tanker outside, a model that knows one wall, and no word."""
    coming = outlook(encounter(240), peaks)
    told = replace(coming.passings[0], beyond=beyond, reasons=reasons)
    assert passing(judge, outlook=replace(coming, passings=(told,))).level is level


def test_an_outlook_that_fails_is_told_and_ends_no_alert(judge: Judge) -> None:
    """Whatever went wrong in it: a warning, and ships already told stay, as unknown, until they are past."""
    seen = passing(judge, outlook=outlook(encounter(240), HEAVY))
    assert seen.until is not None
    failed = look_ahead(SimpleNamespace(now=NOW))  # type: ignore[arg-type]
    assert failed.validity is Validity.UNKNOWN and "AttributeError" in failed.reasons[0]
    found = judged(judge, outlook=failed, before={seen.key: seen})
    assert found["own:outlook"].level is WARNING
    assert found[seen.key].unknown and found[seen.key].level is seen.level
    past = seen.until + timedelta(minutes=3)
    assert seen.key not in judged(judge, outlook=failed, before={seen.key: seen}, now=past)


# --- feeds, lines, phases ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("up", "age_s", "waited_s", "level"),
    [
        (True, 59.0, 900.0, NONE),
        (True, 61.0, 900.0, WARNING),
        (True, None, 59.0, NONE),  # not heard yet, but not long
        (True, None, 61.0, WARNING),
        (False, 1.0, 900.0, WARNING),
    ],
)
def test_a_dark_feed(judge: Judge, up: bool, age_s: float | None, waited_s: float, level: Priority) -> None:
    feed = FeedState("ais", "ais", up, "closed", age_s, 60.0, waited_s, "ais")
    found = judged(judge, feeds=(feed,))["feed:ais"]
    assert found.level is level and found.facts[2] == "closed"


@pytest.mark.parametrize(
    ("state", "level"),
    [("parted", ALARM), ("rendered", ALARM), ("heavy", WARNING), ("slack", None), ("tended", None)],
)
def test_lines_as_people_report_them(judge: Judge, state: str, level: Priority | None) -> None:
    told = OperatorAction("AB", Action.LINE, "head line 1", (("state", state),))
    found = judged(judge, stay=stay.apply(MOORED, told, NOW)).get("line:head line 1")
    assert (found.level if found else None) is level


def test_once_she_is_gone_only_feeds_count(judge: Judge) -> None:
    gone = replace(MOORED, phase="gone")
    feed = FeedState("ais", "ais", False, "closed", 1.0, 60.0, 1.0, "ais")
    found = judged(
        judge, estimate=estimate(HEAVY), outlook=outlook(encounter(60), HEAVY), feeds=(feed,), stay=gone
    )
    assert set(found) == {"feed:ais"}


@pytest.mark.parametrize("phase", stay.PHASES)
def test_phases_in_which_people_work_the_lines(phase: str) -> None:
    state = stay.apply(MOORED, OperatorAction("AB", Action.PHASE, phase), NOW)
    assert state.deck_manned == (phase in ("making fast", "tending", "shifting", "singling up"))
    assert state.moored == (phase != "gone")


def test_entries_that_make_no_sense_change_nothing() -> None:
    wrong = [
        OperatorAction("AB", Action.PHASE, "all fsat"),
        OperatorAction("AB", Action.DRAUGHT, "", (("forward_m", 91.0), ("aft_m", 9.1))),
        OperatorAction("AB", Action.DRAUGHT, "", (("forward_m", 9.1),)),
        OperatorAction("AB", Action.LINE, "head line 1", (("state", "broken"),)),
        OperatorAction("AB", Action.CRAFT, "", (("alongside", True),)),
    ]
    for action in wrong:
        with pytest.raises(stay.BadEntry, match="allowed"):
            stay.apply(MOORED, action, NOW)


def test_every_matter_that_is_judged_has_a_key_of_its_own(judge: Judge) -> None:
    state = replace(MOORED, lines={"head line 1": "parted"})
    feed = FeedState("ais", "ais", False, "closed", 1.0, 60.0, 1.0, "ais")
    coming = outlook(encounter(60), HEAVY, hours=(hour(120, HEAVY),))
    found = judged(judge, outlook=coming, feeds=(feed,), stay=state)
    assert {s.matter for s in found.values()} >= {
        Matter.PASSING,
        Matter.WIND,
        Matter.AHEAD,
        Matter.FEED,
        Matter.LINE,
    }
    assert len(found) == len({s.key for s in found.values()})
