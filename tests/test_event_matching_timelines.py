"""Events matched with alerts, against timelines made by hand under the rules of the contributors' guide."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from monitor.records.events import AlertState, Priority, Reason, Transition
from monitor.watch.matching import Episode, Event, Fate, Kind, Occasion, episodes, match, merged_events, told

NOON = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
NORMAL, SOUNDS, SEEN = AlertState.NORMAL, AlertState.UNACKNOWLEDGED, AlertState.ACKNOWLEDGED
WARNING, ALARM = Priority.WARNING, Priority.ALARM


def at(minute: float) -> datetime:
    return NOON + timedelta(minutes=minute)


def passing(begins: float, ends: float) -> Episode:
    return Episode(Kind.PASSING, at(begins), at(ends))


def windy(begins: float, ends: float) -> Episode:
    return Episode(Kind.WIND, at(begins), at(ends))


def heavy(minute: float, severe: bool = False) -> Event:
    return Event(at(minute), severe, "a line")


def change(minute: float, alert: str, after: AlertState, priority: Priority, reason: Reason) -> Transition:
    return Transition(at(minute), alert, NORMAL, after, priority, False, reason)


# --- fates ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("alert", "event", "fate", "lead_min"),
    [
        (passing(0, 20), 5.0, Fate.HIT, 5.0),  # the least time to act
        (passing(0, 20), 4.9, Fate.LATE, 4.9),
        (passing(0, 20), 30.0, Fate.HIT, 30.0),
        (passing(0, 20), 30.1, Fate.MISSED, None),  # it had gone, and foretold nothing
        (passing(0, 40), 30.1, Fate.STALE, None),  # it stood on
        (windy(0, 20), 9.9, Fate.LATE, 9.9),
        (windy(0, 20), 10.0, Fate.HIT, 10.0),
        (windy(0, 20), 180.0, Fate.HIT, 180.0),
        (windy(0, 20), 181.0, Fate.MISSED, None),
        (windy(10, 20), 1.0, Fate.LATE, -9.0),  # after it
        (windy(20, 30), 1.0, Fate.MISSED, None),
    ],
)
def test_an_alert_must_begin_in_its_window(
    alert: Episode, event: float, fate: Fate, lead_min: float | None
) -> None:
    outcome = match([heavy(event)], [alert], [], [])
    assert outcome.fates[0][1] is fate
    assert outcome.leads_s == (() if lead_min is None else (pytest.approx(60.0 * lead_min),))
    assert len(outcome.false) == (1 if fate is Fate.MISSED else 0)
    assert [outcome.count(each) for each in Fate] == [int(each is fate) for each in Fate]


def test_one_event_is_hit_once() -> None:
    outcome = match([heavy(20)], [windy(-60, 0), passing(8, 25)], [], [])
    assert (outcome.count(Fate.HIT), outcome.false) == (1, ())
    assert outcome.leads_s == (80 * 60.0,)  # the first that served


def test_a_late_alert_beside_one_in_time_does_not_count() -> None:
    outcome = match([heavy(20)], [windy(-60, 0), passing(18, 25)], [], [])
    assert [fate for _, fate in outcome.fates] == [Fate.HIT] and not outcome.false


def test_a_day_by_hand() -> None:
    """Two hits, one late, one missed, two false, one mitigated, and of six occasions one was quiet."""
    events = merged_events([heavy(20), heavy(30), heavy(120), heavy(300), heavy(600, severe=True)], False)
    assert [event.at for event in events] == [at(20), at(120), at(300), at(600)]  # 20 and 30 are one
    alerts = [
        passing(8, 25),
        passing(117, 125),
        windy(200, 310),
        passing(400, 420),
        windy(700, 720),
        windy(800, 830),
    ]
    occasions = [
        Occasion(Kind.PASSING, at(19), at(22)),  # event
        Occasion(Kind.PASSING, at(410), at(412)),  # false alarm
        Occasion(Kind.PASSING, at(500), at(502)),  # quiet
        Occasion(Kind.WIND, at(240), at(300)),  # event
        Occasion(Kind.WIND, at(660), at(720)),  # false alarm
        Occasion(Kind.WIND, at(780), at(840)),  # mitigated
    ]
    outcome = match(events, alerts, occasions, [at(810)])
    assert [fate for _, fate in outcome.fates] == [Fate.HIT, Fate.LATE, Fate.HIT, Fate.MISSED]
    assert outcome.false == (alerts[3], alerts[4]) and outcome.mitigated == (alerts[5],)
    assert outcome.quiet == 1


def test_severe_events_alone() -> None:
    """A line parts five minutes after it was told heavy: strained at the first moment, severe at the other."""
    told_of = [heavy(0), heavy(5, severe=True), heavy(60)]
    assert [(e.at, e.severe) for e in merged_events(told_of, False)] == [(at(0), True), (at(60), False)]
    assert [(e.at, e.severe) for e in merged_events(told_of, True)] == [(at(5), True)]


# --- episodes ---------------------------------------------------------------------------------------------------


def test_alerts_closer_than_a_quarter_of_an_hour_are_one() -> None:
    story = [
        change(0, "passing:1", SOUNDS, WARNING, Reason.RAISED),
        change(1, "feed:ais", SOUNDS, WARNING, Reason.RAISED),  # foretells no load
        change(2, "passing:1", SEEN, WARNING, Reason.ACKNOWLEDGED),
        change(8, "passing:1", SOUNDS, ALARM, Reason.TIME_TO_ACT),
        change(12, "passing:1", SEEN, WARNING, Reason.LEVEL_DOWN),
        change(15, "passing:1", NORMAL, WARNING, Reason.RECTIFIED),
        change(29, "passing:2", SOUNDS, WARNING, Reason.RAISED),
        change(30, "wind", SOUNDS, WARNING, Reason.RAISED),
        change(35, "passing:2", AlertState.RECTIFIED, WARNING, Reason.RECTIFIED),
        change(60, "passing:3", SEEN, Priority.CAUTION, Reason.RAISED),
    ]
    assert episodes(story, WARNING, at(90)) == [passing(0, 35), windy(30, 90)]
    assert episodes(story, ALARM, at(90)) == [passing(8, 12)]
    assert (told(story, WARNING), told(story, ALARM)) == (4, 1)
