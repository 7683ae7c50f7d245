"""Our time goes steadily on while somebody sets the PC clock, and the set is noticed."""

from __future__ import annotations

import threading
from collections import deque
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from typing import NamedTuple

import pytest

from monitor.base import clock
from monitor.base.clock import AnchoredClock, stopwatch_s, wait
from monitor.base.moved import moved

START = datetime(2031, 5, 4, 6, 0, tzinfo=UTC)


class PC:
    """A PC of which both clocks are in our hand."""

    def __init__(self) -> None:
        self.wall, self.monotonic_s = START, 1000.0

    def passes(self, seconds: float) -> None:
        self.wall += timedelta(seconds=seconds)
        self.monotonic_s += seconds


@pytest.fixture
def pc(monkeypatch: pytest.MonkeyPatch) -> PC:
    pc = PC()

    class SetDatetime(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> datetime:  # type: ignore[override]
            assert tz is UTC
            return pc.wall

    monkeypatch.setattr(clock, "datetime", SetDatetime)
    monkeypatch.setattr(clock.time, "monotonic", lambda: pc.monotonic_s)
    return pc


def test_time_passes(pc: PC) -> None:
    ours = AnchoredClock()
    pc.passes(90.5)
    assert ours.now() == START + timedelta(seconds=90.5)
    assert ours.step() is None


@pytest.mark.parametrize("set_by_s", [-3600.0, -2.5, 2.5, 86400.0])
def test_a_set_pc_clock_is_noticed_and_does_not_move_our_time(pc: PC, set_by_s: float) -> None:
    ours = AnchoredClock()
    pc.passes(10.0)
    pc.wall += timedelta(seconds=set_by_s)
    assert ours.now() == START + timedelta(seconds=10.0)
    assert ours.step() == timedelta(seconds=set_by_s)
    ours.re_anchor()
    assert ours.step() is None
    pc.passes(5.0)
    assert ours.now() == START + timedelta(seconds=15.0 + set_by_s)


@pytest.mark.parametrize("slewed_s", [-2.0, -0.3, 0.3, 2.0])
def test_a_slewed_pc_clock_is_left_alone(pc: PC, slewed_s: float) -> None:
    ours = AnchoredClock()
    pc.wall += timedelta(seconds=slewed_s)
    assert ours.step() is None
    assert ours.now() == START


def test_small_steps_add_up_until_they_are_noticed(pc: PC) -> None:
    ours = AnchoredClock()
    noticed = []
    for _ in range(5):
        pc.passes(60.0)
        pc.wall += timedelta(seconds=0.5)  # a clock that gains half a second a minute
        noticed.append(ours.step())
    assert noticed == [None, None, None, None, timedelta(seconds=2.5)]


def test_the_real_clock_is_aware_utc_and_runs_forward() -> None:
    ours = AnchoredClock()
    stamps = [ours.now() for _ in range(100)]
    assert stamps == sorted(stamps)
    assert stamps[0].utcoffset() == timedelta(0)
    assert ours.step() is None


def test_waiting_ends_early_when_told() -> None:
    told = threading.Event()
    assert wait(0.001, told) is False
    told.set()
    before_s = stopwatch_s()
    assert wait(60.0, told) is True
    assert stopwatch_s() - before_s < 10.0
    assert wait(0.001) is False


@dataclass(frozen=True)
class _Heard:
    at: datetime
    others: tuple[object, ...] = ()


class _Fix(NamedTuple):
    at: datetime
    speed_m_s: float


def test_all_times_within_are_moved_and_nothing_else() -> None:
    by = timedelta(hours=-1)
    row = deque([_Heard(START, (START, [START], "x", 3.5, None))], maxlen=2)
    held = {"a": row, "b": _Heard(START, (_Fix(START, 3.5),))}
    again = moved(held, by)
    assert again == {
        "a": deque([_Heard(START + by, (START + by, [START + by], "x", 3.5, None))]),
        "b": _Heard(START + by, (_Fix(START + by, 3.5),)),
    }
    assert again["a"].maxlen == 2
    assert type(again["b"].others[0]) is _Fix
    assert held["b"] == _Heard(START, (_Fix(START, 3.5),))
    assert moved(again, -by) == held
