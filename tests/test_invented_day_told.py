"""The story of the invented day as the watch tells it, in stretches: who is warned of what, when, in which words.

The day: `monitor/intake/simulated/script.py`. Times of the checks are the script's, not the program's.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta, timezone
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.intake.simulated.script import BEGINS_AT, FAST, SLOW
from monitor.outlet import wording
from monitor.outlet.wording import Local, line_of
from monitor.records.codec import encode
from monitor.records.estimates import Band, LineLoad
from monitor.records.events import Notice, Priority, Reason, Transition
from monitor.run.pipeline import Conclusion
from monitor.run.recording import Recording
from monitor.run.replay import replay
from tests.watching import stretch

BOAT, HOPPER, FULL = 200911090, 200911091, 200911025
NOBODY = 1
# Where a ship's size matters it begins early enough for it to be known: it is sent every six minutes.
STRETCHES: dict[str, tuple[float, float, tuple[int, ...]]] = {
    "boat": (28.0, 54.0, (BOAT,)),
    "people on deck": (65.0, 89.0, (FULL, 200911014)),  # they are from minute 66 on
    "ais breaks": (109.0, 120.0, (200911016,)),
    "fast ship": (118.0, 161.0, (FAST.mmsi, HOPPER)),
    "slow ship": (250.0, 266.0, (SLOW.mmsi,)),
    "wind and squall": (296.0, 336.0, (NOBODY,)),
}
RANK = {priority: priority.rank for priority in Priority}


def played(config: Path, name: str) -> list[Conclusion]:
    begin, end, mmsis = STRETCHES[name]
    entries = list(stretch(config, begin, end, mmsis))
    recording = Recording(config, None, lambda way: iter(entries if way == "in" else []), lambda: None)
    return [conclusion for _, conclusion in replay(recording)]


Day = Callable[[str], list[Conclusion]]


@pytest.fixture(scope="session")
def day(config: Path) -> Day:
    """What is concluded in a stretch, worked out once."""
    return cache(lambda name: played(config, name))


def minute(at: datetime) -> float:
    return (at - BEGINS_AT) / timedelta(minutes=1)


def notices(conclusions: list[Conclusion], alert: str = "") -> list[Notice]:
    return [one for one in conclusions if isinstance(one, Notice) and one.alert.startswith(alert)]


def highest(conclusions: list[Conclusion], alert: str) -> Priority:
    levels = [one.priority for one in conclusions if isinstance(one, Transition) and one.alert == alert]
    return max(levels, key=lambda priority: priority.rank, default=Priority.NONE)


# --- the story --------------------------------------------------------------------------------------------------


def test_the_fast_ship_is_told_in_time(day: Day) -> None:
    """300 m, 95 m off, 11 kn, abeam at minute 155: told at least 12 min before, and at least 2 min before her bow
    overlaps ours (half of both lengths at 11 kn: 44 s before abeam) the decks are ordered clear."""
    abeam, overlap = 155.0, 155.0 - (250.0 / 5.66) / 60.0
    told = notices(day("fast ship"), f"passing:{FAST.mmsi}")
    assert minute(told[0].at) <= abeam - 12.0
    assert told[0].priority is Priority.WARNING
    assert told[0].do.startswith("End work on lines while they are light; be off both mooring decks")
    alarm = next(notice for notice in told if notice.priority is Priority.ALARM)
    assert minute(alarm.at) <= overlap - 2.0
    clear_by = re.match(r"CLEAR BOTH MOORING DECKS AND QUAY EDGE by (\d\d)(\d\d) LT", alarm.do)
    assert clear_by is not None
    local_minute = 60 * int(clear_by[1]) + int(clear_by[2])  # the day begins at 0800 local
    assert local_minute - 480 <= overlap - 2.0
    assert "ORVANE SUMMIT, 300 m" in alarm.why
    assert highest(day("fast ship"), f"passing:{FAST.mmsi}") is Priority.ALARM
    over = next(notice for notice in told if notice.reason is Reason.RECTIFIED)
    assert {notice.about for notice in told} == {"Passing: ORVANE SUMMIT"}  # of its end, too, without any facts
    assert 156.0 < minute(over.at) < 161.0  # not while she is still abreast, not for ever


def test_a_large_slow_ship_makes_no_alarm(day: Day) -> None:
    """As large and as near, but 6 kn over ground with little stream: a quarter of the force."""
    assert RANK[highest(day("slow ship"), f"passing:{SLOW.mmsi}")] <= RANK[Priority.WARNING]


@pytest.mark.parametrize(("name", "mmsi"), [("boat", BOAT), ("fast ship", HOPPER)])
def test_boats_raise_nothing(day: Day, name: str, mmsi: int) -> None:
    """10 m, 20 kn, 20 m off our side."""
    assert RANK[highest(day(name), f"passing:{mmsi}")] <= RANK[Priority.CAUTION]
    assert all(RANK[notice.priority] <= RANK[Priority.CAUTION] for notice in notices(day("boat")))


def test_people_on_deck_are_warned_of_every_ship(day: Day) -> None:
    """They go forward and aft at minute 66, when she has just come in sight and her size is not told yet: a look
    ahead every half minute, and 20 s in which it must last."""
    warned = [one for one in notices(day("people on deck"), f"passing:{FULL}") if one.priority is Priority.WARNING]
    assert warned and minute(warned[0].at) <= 66.0 + 0.5 + 20.0 / 60.0


def test_lost_feeds_are_told(day: Day) -> None:
    """The AIS breaks at minute 112 (told by the connection), the anemometer at 308 (stale after 30 s)."""
    ais = notices(day("ais breaks"), "feed:ais")
    assert 112.0 <= minute(ais[0].at) <= 112.0 + 0.5
    assert ais[0].do.startswith("PASSING SHIPS ARE NOT WATCHED")
    assert "closed" in ais[0].why
    anemometer = notices(day("wind and squall"), "feed:anemometer")
    assert 308.0 + 0.5 <= minute(anemometer[0].at) <= 308.0 + 0.5 + 0.5
    assert anemometer[0].do.startswith("WIND IS NOT MEASURED")
    for told in (ais, anemometer):
        assert told[-1].reason is Reason.RECTIFIED
    silent = [one for one in notices(day("wind and squall")) if 309.0 < minute(one.at) < 311.0]
    assert all("from masthead" not in one.why for one in silent)


def test_the_squall_is_told_before_its_peak(day: Day) -> None:
    """It rises from minute 328 to 330, to twice the wind."""
    told = [
        one for one in notices(day("wind and squall"), "wind") if "Squall" in one.why and minute(one.at) >= 328.0
    ]
    assert told and minute(told[0].at) < 330.0
    assert highest(day("wind and squall"), "wind") is Priority.ALARM
    limits = {one.alert: minute(one.at) for one in reversed(notices(day("wind and squall"), "limit:"))}
    assert limits["limit:call_tugs"] < 331.0


def test_two_replays_are_identical(config: Path, day: Day) -> None:
    for name in ("ais breaks", "fast ship"):
        again = played(config, name)
        assert [encode(one) for one in again] == [encode(one) for one in day(name)]
        assert len(again) > 15


# --- the words --------------------------------------------------------------------------------------------------


@pytest.fixture(scope="session")
def every_notice(day: Day) -> list[Notice]:
    found = [notice for name in STRETCHES for notice in notices(day(name))]
    assert len(found) >= 20
    assert {notice.alert.partition(":")[0] for notice in found} >= {"passing", "wind", "feed", "limit"}
    return found


def test_words_that_promise_or_frighten_are_never_used(every_notice: list[Notice]) -> None:
    """Silence must never look like safety, and a moored ship meets no "collision"."""
    for notice in every_notice:
        text = line_of(notice) + notice.caution
        assert not re.search(r"\b(safe|safely|quiet|guaranteed?|collision|certain)\b", text, re.IGNORECASE), text


def test_no_loaded_line_is_ever_to_be_worked(every_notice: list[Notice]) -> None:
    """Working a line under load kills: lines are tended before, while they are light, or not at all."""
    for notice in every_notice:
        assert not re.search(r"\b(slack|ease|heave|haul|pay out|render|tighten)", notice.do, re.IGNORECASE), (
            notice.do
        )
        if re.search(r"\b(tend|work on|add lines)\b", notice.do, re.IGNORECASE):
            assert "while they are light" in notice.do
        if notice.priority is Priority.ALARM and notice.reason is not Reason.RECTIFIED:
            assert "not touch loaded lines" in notice.do


VERBS = {
    "End",
    "Watch",
    "Call",
    "Look",
    "Tell",
    "Check",
    "Go",
    "Keep",
    "Stop",
    "Leave",
    "Ask",
    "Carry",
    "Disconnect",
}


def test_what_to_do_begins_with_an_order(every_notice: list[Notice]) -> None:
    for notice in every_notice:
        do = notice.do.removeprefix("NOT ACKNOWLEDGED. ")
        first = re.split(r"[ ,.;]", do)[0]
        assert first in VERBS or re.match(r"[A-Z ]{12,}", do), notice.do
        if notice.priority is Priority.ALARM and notice.reason is not Reason.RECTIFIED:
            assert do.startswith("CLEAR BOTH MOORING DECKS AND QUAY EDGE")


def test_parts_come_in_fixed_order_with_the_caution(every_notice: list[Notice]) -> None:
    for notice in every_notice:
        text = line_of(notice)
        assert text.startswith(f"{notice.priority.value.upper()}: ")
        places = [
            text.index(part) for part in (notice.do, notice.what, notice.why, notice.when, notice.sure) if part
        ]
        assert places == sorted(places)
        assert "The whole mooring deck can be struck by a parting line at any time" in notice.caution


def test_no_doubt_is_told_without_its_reason(every_notice: list[Notice]) -> None:
    """ "Degraded: ." helps nobody."""
    assert not [notice.sure for notice in every_notice if re.search(r":\s*(\.|$)", notice.sure)]


def _times(text: str, at: datetime) -> Iterator[datetime]:
    """Clock times of a text, local at UTC − 2 h, on the day of `at`."""
    for span in re.finditer(r"(?:(\d{4})–)?(\d{4}) LT", text):
        for clock in filter(None, span.groups()):
            local = at.replace(hour=int(clock[:2]), minute=int(clock[2:]), second=0, microsecond=0)
            yield local + timedelta(hours=2)


def test_clock_times_are_local(every_notice: list[Notice]) -> None:
    """A time told lies within half an hour of the notice (ahead: half a day), so in no other zone."""
    checked = 0
    for notice in every_notice:
        if notice.reason is Reason.RECTIFIED:
            continue
        within = timedelta(hours=12) if notice.alert == "ahead" else timedelta(minutes=25)
        for told_at in _times(f"{notice.do} {notice.when}", notice.at):
            assert abs(told_at - notice.at) <= within, (notice.at, notice.do, notice.when)
            checked += 1
    assert checked >= 15


def test_loads_are_told_as_bands(every_notice: list[Notice]) -> None:
    shares = [share for notice in every_notice for share in re.findall(r"([\d–]+) % of", notice.what)]
    assert len(shares) >= 10
    assert all(re.fullmatch(r"\d+–\d+", share) for share in shares)
    speeds = [found for one in every_notice for found in re.findall(r"at ([\d–]+) kn through the water", one.why)]
    assert speeds and any("–" in speed for speed in speeds)


@given(st.floats(0.0, 2.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_a_band_is_never_told_as_one_number(low: float, more: float, most: float) -> None:
    """Unless both ends round to the same."""
    band = Band(low, low + more, low + more + most)
    load = LineLoad("FS1", "forward springs", band, band, 1.0, "working limit")
    told = wording.percent(load)
    ends = [round(100 * band.low), round(100 * band.high)]
    assert told == (f"{ends[0]}–{ends[1]} %" if ends[0] != ends[1] else f"{ends[0]} %")


@given(st.datetimes(datetime(2026, 1, 1), datetime(2027, 1, 1), timezones=st.just(UTC)), st.integers(-48, 56))  # noqa: DTZ001
def test_local_time_by_the_offset(at: datetime, quarters: int) -> None:
    """Against the zones of the standard library; rounded down, so nobody is told a later time than meant."""
    ahead = timedelta(minutes=15 * quarters)
    local = at.astimezone(timezone(ahead))
    assert Local(ahead).clock(at) == f"{local:%H%M} LT"
    assert Local(ahead).span(at, at) == f"{local:%H%M} LT"
    later = at + timedelta(minutes=4)
    assert Local(ahead).span(at, later) == f"{local:%H%M}–{later.astimezone(timezone(ahead)):%H%M} LT"
