"""The alert machine against timelines: "at 0 s this, by 20 s that, nothing else".

States, priorities and the 30 s of silence: IMO MSC.302(87) 7.3 and IEC 62923-1 as read in reference/feeds.md D.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.records.events import AlertState, Priority, Reason
from monitor.records.situations import Matter, Situation
from monitor.settings.schema import Timing
from monitor.watch import alarms

T0 = datetime(2026, 5, 1, 12, 0, tzinfo=UTC)
TIMING = Timing.model_validate(
    {
        "raise_after": "20 s",
        "clear_after": "3 min",
        "deadband": "7 %",
        "first_notice": "15 min",
        "act": "5 min",
        "clear_decks_before": "2 min",
        "repeat_warning": "5 min",
        "escalate_alarm": "2 min",
        "target_lost": "6 min",
    }
)
NONE, CAUTION, WARNING, ALARM = Priority.NONE, Priority.CAUTION, Priority.WARNING, Priority.ALARM


def fact(level: Priority, holds: Priority | None = None, **marks: bool) -> Situation:
    return Situation("wind", Matter.WIND, level, holds or level, **marks)


class Timeline:
    """Feeds one situation tick by tick (5 s) and keeps what was said, in seconds since the start."""

    def __init__(self) -> None:
        self.alerts: dict[str, alarms.Alert] = {}
        self.now_s = 0
        self.said: list[tuple[int, Reason, Priority, AlertState]] = []

    def at(self) -> datetime:
        return T0 + timedelta(seconds=self.now_s)

    def _keep(self, transitions: tuple) -> None:
        self.said += [(self.now_s, t.reason, t.priority, t.after) for t in transitions]

    def until(self, second: int, *facts: Situation) -> Timeline:
        while self.now_s < second:
            self.alerts, transitions = alarms.step(self.alerts, facts, TIMING, self.at())
            self._keep(transitions)
            self.now_s += 5
        return self

    def acknowledge(self) -> Timeline:
        self.alerts, transitions = alarms.acknowledge(self.alerts, "wind", "AB", self.at())
        self._keep(transitions)
        return self

    def silence(self) -> Timeline:
        self.alerts, transitions = alarms.silence(self.alerts, "wind", "AB", self.at())
        self._keep(transitions)
        return self


def test_a_short_peak_is_not_told() -> None:
    assert Timeline().until(20, fact(ALARM)).until(600, fact(NONE)).said == []


def test_raised_after_the_delay_and_repeated_until_acknowledged() -> None:
    line = Timeline().until(650, fact(WARNING))
    assert line.said == [
        (20, Reason.RAISED, WARNING, AlertState.UNACKNOWLEDGED),
        (320, Reason.REPEATED, WARNING, AlertState.UNACKNOWLEDGED),
        (620, Reason.REPEATED, WARNING, AlertState.UNACKNOWLEDGED),
    ]
    line.acknowledge().until(2000, fact(WARNING))
    assert line.said[3:] == [(650, Reason.ACKNOWLEDGED, WARNING, AlertState.ACKNOWLEDGED)]


def test_urgent_is_told_at_once() -> None:
    assert Timeline().until(5, fact(ALARM, urgent=True)).said == [
        (0, Reason.RAISED, ALARM, AlertState.UNACKNOWLEDGED)
    ]


def test_an_alarm_nobody_answers_escalates_once_then_repeats() -> None:
    line = Timeline().until(600, fact(ALARM, urgent=True))
    assert [(s, reason) for s, reason, _, _ in line.said] == [
        (0, Reason.RAISED),
        (120, Reason.ESCALATED),
        (420, Reason.REPEATED),
    ]


def test_a_caution_needs_no_answer_and_vanishes() -> None:
    line = Timeline().until(400, fact(CAUTION)).until(800, fact(NONE))
    assert line.said == [
        (20, Reason.RAISED, CAUTION, AlertState.ACKNOWLEDGED),
        (580, Reason.RECTIFIED, CAUTION, AlertState.NORMAL),
    ]


def test_deadband_keeps_a_wavering_load_one_alert() -> None:
    line = Timeline().until(25, fact(WARNING)).acknowledge()
    for _ in range(40):  # around the threshold, never below the deadband
        line.until(line.now_s + 10, fact(NONE, holds=WARNING)).until(line.now_s + 10, fact(WARNING))
    assert len(line.said) == 2


def test_level_rise_sounds_again_after_acknowledgement() -> None:
    line = Timeline().until(25, fact(WARNING)).acknowledge().until(100, fact(ALARM))
    assert line.said[-1] == (45, Reason.LEVEL_UP, ALARM, AlertState.UNACKNOWLEDGED)


def test_time_to_act_is_its_own_reason() -> None:
    line = Timeline().until(25, fact(WARNING)).acknowledge().until(40, fact(ALARM, due=True))
    assert line.said[-1] == (25, Reason.TIME_TO_ACT, ALARM, AlertState.UNACKNOWLEDGED)


def test_silence_lasts_thirty_seconds() -> None:
    line = Timeline().until(25, fact(WARNING)).silence().until(100, fact(WARNING))
    assert line.said[1:] == [
        (25, Reason.SILENCED, WARNING, AlertState.SILENCED),
        (55, Reason.SILENCE_OVER, WARNING, AlertState.UNACKNOWLEDGED),
    ]


def test_hushed_without_an_answer_goes_on_to_the_next_person() -> None:
    """Hushed as often as one likes, an alarm escalates and repeats as it would have, but for the silence of that
    moment."""
    line = Timeline()
    while line.now_s < 600:
        line.until(line.now_s + 10, fact(ALARM, urgent=True)).silence()
    told_s = [second for second, reason, _, _ in line.said if reason in (Reason.ESCALATED, Reason.REPEATED)]
    assert len(told_s) == 2
    assert 120 <= told_s[0] <= 120 + 35 and 300 <= told_s[1] - told_s[0] <= 300 + 35


def test_a_rise_during_silence_sounds() -> None:
    line = Timeline().until(25, fact(WARNING)).silence().until(60, fact(ALARM, urgent=True))
    assert line.said[2] == (25, Reason.LEVEL_UP, ALARM, AlertState.UNACKNOWLEDGED)


def test_an_ended_alert_stays_until_acknowledged() -> None:
    line = Timeline().until(25, fact(WARNING)).until(300, fact(NONE))
    assert line.said[-1] == (205, Reason.RECTIFIED, WARNING, AlertState.RECTIFIED)
    assert line.until(4000, fact(NONE)).said[-1][1] is Reason.RECTIFIED  # and is not repeated
    line.acknowledge()
    assert line.said[-1][1:] == (Reason.CLOSED, WARNING, AlertState.NORMAL)
    assert line.alerts == {}


def test_unknown_never_clears() -> None:
    line = Timeline().until(25, fact(ALARM)).acknowledge().until(3000, fact(NONE, unknown=True))
    assert line.said[2:] == [(25, Reason.BECAME_UNKNOWN, ALARM, AlertState.ACKNOWLEDGED)]
    line.until(3300, fact(NONE))
    assert [reason for _, reason, _, _ in line.said[3:]] == [Reason.KNOWN_AGAIN, Reason.RECTIFIED]


def test_level_falls_step_by_step() -> None:
    line = Timeline().until(25, fact(ALARM)).acknowledge().until(400, fact(CAUTION))
    assert line.said[2:] == [(205, Reason.LEVEL_DOWN, CAUTION, AlertState.ACKNOWLEDGED)]


def test_a_situation_that_is_gone_ends_its_alert() -> None:
    line = Timeline().until(25, fact(WARNING)).acknowledge().until(400)
    assert line.said[-1][1:] == (Reason.RECTIFIED, WARNING, AlertState.NORMAL)


facts = st.builds(
    lambda level, holds, unknown, urgent: fact(
        level, max(level, holds, key=lambda p: p.rank), unknown=unknown, urgent=urgent
    ),
    st.sampled_from(list(Priority)),
    st.sampled_from(list(Priority)),
    st.booleans(),
    st.booleans(),
)


@settings(max_examples=200, derandomize=True, deadline=None)
@given(st.lists(st.tuples(facts, st.sampled_from(["", "ack", "hush"])), max_size=60))
def test_never_silent_while_an_alarm_stands(moves: list[tuple[Situation, str]]) -> None:
    """Whatever comes: transitions join up, and no alarm that stands urgent or long enough is left untold."""
    line = Timeline()
    last = {"wind": AlertState.NORMAL}
    for situation, hand in moves:
        before = len(line.said)
        line.until(line.now_s + 5, situation)
        if hand:
            line.acknowledge() if hand == "ack" else line.silence()
        for _, _, _, after in line.said[before:]:
            last["wind"] = after
        alert = line.alerts.get("wind", alarms.Alert("wind"))
        assert alert.state is last["wind"]
        if situation.urgent and situation.level is ALARM:
            assert alert.active and alert.priority is ALARM
