"""What the watch cannot see or do is an alert of its own: timelines through the whole pipeline, on invented
settings.

Told once when it goes, once when it comes back; a stand-in makes it a caution; unknown never looks like clear.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from monitor.intake.met import Reply, encode
from monitor.outlet.console.headline import _PARTS
from monitor.outlet.naming import OWN_DO
from monitor.outlet.wording import _WORDS, Local
from monitor.records.events import (
    Beat,
    ClockStepped,
    Delivery,
    Notice,
    Priority,
    RawReading,
    Reason,
    SourceStatus,
    Started,
)
from monitor.records.situations import Matter, Situation
from monitor.run.pipeline import Pipeline
from monitor.settings.load import load_stay
from tests.composed import POSITION, sealed, vdm
from tests.settings_texts import ALERTS, ALERTS_FILE, NAME, STAY_FILE, changed, write

T0 = datetime(2031, 5, 4, 6, 0, tzinfo=UTC)
MORE_FEEDS = """
[[feeds]]
name = "ais 2"
carries = "ais"
over = "tcp"
to = "127.0.0.1:10111"
stale_after = "60 s"

[[feeds]]
name = "bow wind"
carries = "nmea"
over = "tcp"
to = "127.0.0.1:10112"
stale_after = "30 s"

[[feeds]]
name = "gauge"
carries = "co-ops water level"
over = "http"
to = "http://127.0.0.1:10113/"
stale_after = "1 h"
station = "1234567"
contact = "watch@plover.invalid"
every = "6 min"

[wind]
order = ["anemometer", "bow wind", "entered", "forecast"]
"""
CHANNEL = '\n[[channels]]\nname = "officer"\ntells = "warning"\nat_most_an_hour = 9\n'


class Watch:
    """A pipeline with two receivers, two anemometers and a tide gauge; time is ours."""

    def __init__(self, folder: Path) -> None:
        files = changed(STAY_FILE, '[wind]\norder = ["anemometer", "entered", "forecast"]\n', MORE_FEEDS)
        files = changed(STAY_FILE, 'bollard = "B2"\n', 'bollard = "B2"\nsensor = "LC01"\n', files)
        files[ALERTS_FILE] = ALERTS + CHANNEL
        self.pipeline = Pipeline(load_stay(write(folder, files), NAME))
        self.now = T0
        self.notices: list[Notice] = []
        self.silent: set[str] = set()
        self.late_s: dict[str, float] = {}  # by receiver: how old its reports are by their stamps
        self.take(Started("test"))

    def take(self, record: object) -> None:
        conclusions = self.pipeline.handle(self.now, record)  # type: ignore[arg-type]
        self.notices += [each for each in conclusions if isinstance(each, Notice)]

    def run(self, seconds: int) -> None:
        """Every feed that is not silent speaks once a second (the ships' every ten: both receivers hear the same,
        one after the other)."""
        for _ in range(seconds):
            self.now += timedelta(seconds=1)
            second = int((self.now - T0).total_seconds())
            for name in ("anemometer", "bow wind"):
                if name not in self.silent:
                    line = sealed(f"$WIMWV,{100 + second % 7}.0,R,{6 + (second % 5) / 10:.1f},M,A")
                    self.take(RawReading(name, line))
            for name in ("ais", "ais 2"):
                if name not in self.silent and second % 10 == 0:
                    far = {"mmsi": 200911001, "lat": -45.2, "lon": -30.2, "second": self.now.second}
                    sentence = vdm({**POSITION, **far})[0]
                    if name in self.late_s:  # epoch behind the checksum, as logs of networks have it
                        sentence += f",{self.now.timestamp() - self.late_s[name]:.0f}"
                    self.take(RawReading(name, sentence))
            self.take(Beat())

    def of(self, alert: str) -> list[tuple[Priority, Reason]]:
        return [(notice.priority, notice.reason) for notice in self.notices if notice.alert == alert]


@pytest.fixture
def watch(tmp_path: Path) -> Watch:
    watch = Watch(tmp_path)
    watch.run(120)
    assert not [notice for notice in watch.notices if notice.priority is not Priority.CAUTION]
    return watch


def test_one_receiver_of_two_is_a_caution_both_are_a_warning(watch: Watch) -> None:
    watch.silent = {"ais"}
    watch.run(120)
    assert watch.of("feed:ais") == [(Priority.CAUTION, Reason.RAISED)]
    assert "another still does its work" in watch.notices[-1].what
    watch.silent = {"ais", "ais 2"}
    watch.run(120)
    assert (Priority.WARNING, Reason.RAISED) in watch.of("feed:ais 2")
    assert watch.of("feed:ais")[-1][0] is Priority.WARNING
    assert any("PASSING SHIPS ARE NOT WATCHED" in notice.do for notice in watch.notices)
    watch.silent = set()
    watch.run(300)
    for alert in ("feed:ais", "feed:ais 2"):
        assert [reason for _, reason in watch.of(alert)].count(Reason.RECTIFIED) == 1


def test_ships_that_all_come_late_are_not_heard(watch: Watch) -> None:
    """A clock an hour slow on the way hides every ship: receivers that go on speaking look like a quiet river."""
    watch.late_s = {"ais": 3600.0, "ais 2": 3600.0}
    watch.run(400)
    assert watch.pipeline.traffic.targets(watch.now) == ()
    assert watch.of("feed:ais 2") == [(Priority.WARNING, Reason.RAISED)]
    assert watch.notices[-1].do.startswith("PASSING SHIPS ARE NOT WATCHED")
    assert "clock" in watch.notices[-1].why
    watch.late_s = {}
    watch.run(20)
    assert watch.pipeline.dark == ()


def test_an_end_reached_step_by_step_is_told_to_whom_was_warned(watch: Watch) -> None:
    """Both receivers go; one comes back and makes the other's warning a caution, without a word; then that one
    comes back, too."""
    watch.silent = {"ais", "ais 2"}
    watch.run(120)
    watch.silent = {"ais"}
    watch.run(420)
    assert watch.pipeline.alerts["feed:ais"].priority is Priority.CAUTION
    assert watch.of("feed:ais")[-1] == (Priority.WARNING, Reason.RAISED)
    watch.silent = set()
    watch.run(240)
    assert watch.of("feed:ais")[-1] == (Priority.CAUTION, Reason.RECTIFIED)
    watch.silent = {"ais"}  # never more than a caution: it vanishes without a word
    watch.run(120)
    assert watch.of("feed:ais")[-1] == (Priority.CAUTION, Reason.RAISED)
    watch.silent = set()
    watch.run(240)
    assert watch.of("feed:ais")[-1] == (Priority.CAUTION, Reason.RAISED)


def test_a_feed_that_comes_and_goes_with_nothing_usable_is_dark(tmp_path: Path) -> None:
    """A server that greets, says nothing we can use for half a minute and hangs up, again and again."""
    watch = Watch(tmp_path)
    watch.silent = {"ais"}
    for _ in range(4):
        watch.take(SourceStatus("ais", True, "hearing 127.0.0.1:10110"))
        watch.take(RawReading("ais", "welcome"))
        watch.run(30)
        watch.take(SourceStatus("ais", False, "the other end hung up"))
        watch.run(10)
    assert watch.of("feed:ais") == [(Priority.CAUTION, Reason.RAISED)]  # the other receiver is heard


def test_ships_that_fall_silent_are_not_hidden_by_others_on_the_line(watch: Watch) -> None:
    """One line often carries AIS, wind and a GNSS receiver's time, and these two tell of no ship. The time of a
    base station does: it was heard over the water."""
    watch.silent = {"ais", "ais 2"}
    for second in range(90):
        watch.take(RawReading("ais", sealed("$GPZDA,060200.00,04,05,2031,00,00")))
        watch.take(RawReading("ais", sealed(f"$WIMWV,{second}.0,R,6.0,M,A")))
        base = {"msg_type": 4, "mmsi": 2009110, "year": 2031, "month": 5, "day": 4}
        time = {"hour": watch.now.hour, "minute": watch.now.minute, "second": watch.now.second}
        watch.take(RawReading("ais 2", vdm({**base, **time})[0]))
        watch.run(1)
    assert watch.pipeline.dark == ("ais",)


def test_wind_that_falls_silent_on_a_line_is_not_hidden_by_its_ships(tmp_path: Path) -> None:
    """AIS and wind on one line: the anemometer stops, the ships go on. Loads are not known then, and a restart
    changes nothing; another anemometer's wind, where there is one in use, makes it a caution."""
    mixed = 'order = ["ais 2", "entered", "forecast"]'
    files = changed(STAY_FILE, '[wind]\norder = ["anemometer", "entered", "forecast"]\n', MORE_FEEDS)
    order = 'order = ["anemometer", "bow wind", "entered", "forecast"]'
    for wind_order, level in ((mixed, Priority.WARNING), (mixed.replace("entered", "bow wind"), Priority.CAUTION)):
        watch = Watch(tmp_path / level)
        written = write(tmp_path / level / "mixed", changed(STAY_FILE, order, wind_order, files))
        watch.pipeline = Pipeline(load_stay(written, NAME))
        watch.take(Started("test"))
        for _ in range(120):
            watch.take(RawReading("ais 2", sealed("$WIMWV,100.0,R,6.0,M,A")))
            watch.run(1)
        assert watch.of("feed:ais 2 (wind)") == [] and watch.pipeline.dark == ()
        watch.run(120)
        assert watch.of("feed:ais 2 (wind)") == [(level, Reason.RAISED)]
        assert watch.pipeline.dark == ("ais 2 (wind)",)
        again = Pipeline(load_stay(written, NAME))
        again.resume(watch.pipeline.alerts)
        again.handle(watch.now, Started("test", watch.now))
        again.handle(watch.now + timedelta(seconds=5), Beat())
        assert "ais 2 (wind)" in again.dark


def test_a_station_that_is_not_for_its_wind(tmp_path: Path) -> None:
    """An airport's air, say: a report without a wind is heard, too."""
    files = changed(STAY_FILE, '[wind]\norder = ["anemometer", "entered", "forecast"]\n', MORE_FEEDS)
    files = changed(STAY_FILE, 'carries = "co-ops water level"', 'carries = "metar"', files)
    pipeline = Pipeline(load_stay(write(tmp_path, files), NAME))
    report = encode(Reply(200, {}, "KSEA 040553Z 00000KT 9999 FEW020 08/03 Q1009"))
    pipeline.handle(T0, RawReading("gauge", report))
    (state,) = [each for each in pipeline.feed_states(T0) if each.name == "gauge"]
    assert not state.dark and state.age_s is not None


def test_the_second_anemometer_stands_in(watch: Watch) -> None:
    watch.silent = {"anemometer"}
    watch.run(120)
    assert watch.of("feed:anemometer") == [(Priority.CAUTION, Reason.RAISED)]
    assert watch.pipeline.estimate is not None and watch.pipeline.estimate.wind.source == "bow wind"
    watch.silent = {"anemometer", "bow wind"}
    watch.run(120)
    assert watch.pipeline.estimate.wind.speed_30s_m_s is None
    assert (Priority.WARNING, Reason.RAISED) in watch.of("model")  # loads unknown, never a calm


def test_a_full_disk_and_a_dead_channel(watch: Watch) -> None:
    watch.take(SourceStatus("disk", False, "812 MB are free"))
    watch.take(Delivery("wind@x", "officer", False, "no such mailbox"))
    watch.take(Delivery("wind@x", "log file", False, "not of these settings"))
    watch.run(60)
    assert watch.of("own:disk") == watch.of("own:channel") == [(Priority.WARNING, Reason.RAISED)]
    assert "officer: no such mailbox" in next(n for n in watch.notices if n.alert == "own:channel").what
    watch.take(SourceStatus("disk", True, "9000 MB are free"))
    watch.take(Delivery("wind@y", "officer", True))
    watch.run(240)
    assert watch.of("own:disk")[-1][1] is watch.of("own:channel")[-1][1] is Reason.RECTIFIED


def test_a_wrong_number_of_ours_would_hide_a_ship(watch: Watch) -> None:
    """Entered by a slip of a digit, our MMSI may be another ship's, whom nobody would watch then."""

    def transponder(mmsi: int) -> None:
        watch.take(RawReading("ais", sealed(vdm({**POSITION, "mmsi": mmsi})[0][:-3].replace("VDM", "VDO"))))

    own = watch.pipeline.settings.ship.mmsi
    transponder(own)
    watch.run(60)
    assert watch.of("own:mmsi") == []
    transponder(200911088)
    watch.run(60)
    assert watch.of("own:mmsi") == [(Priority.CAUTION, Reason.RAISED)]
    assert f"Own reports on ais bear MMSI 200911088; the ship's file: {own}" in watch.notices[-1].what
    transponder(own)
    watch.run(240)
    assert "own:mmsi" not in watch.pipeline.alerts


def test_water_that_stands_off_the_tables(watch: Watch) -> None:
    """A surge of a metre, as a gauge tells it; by the tables it is about 0.7 m (half a cosine, 3.0 to 0.5 m)."""
    at = f"{watch.now:%Y-%m-%d %H:%M}"
    body = json.dumps({"data": [{"t": at, "v": "1.900", "s": "0.01", "f": "0,0,0,0", "q": "p"}]})
    watch.take(RawReading("gauge", encode(Reply(200, {}, body))))
    watch.run(60)
    assert watch.of("own:water") == [(Priority.CAUTION, Reason.RAISED)]
    assert "1.2 m above the tables, by gauge" in watch.notices[-1].what


def test_a_clock_that_is_off(watch: Watch) -> None:
    wrong = watch.now + timedelta(seconds=95)
    watch.take(RawReading("bow wind", sealed(f"$GPZDA,{wrong:%H%M%S}.00,{wrong:%d,%m,%Y},00,00")))
    watch.run(30)
    assert watch.of("clock") == [(Priority.CAUTION, Reason.RAISED)]
    assert "differs by -95 s from bow wind" in watch.notices[-1].what


def test_what_is_down_stays_down_when_the_clock_is_set(watch: Watch) -> None:
    watch.take(SourceStatus("disk", False, "812 MB are free"))
    watch.run(30)
    watch.now += timedelta(hours=2)
    watch.take(ClockStepped(7200.0))
    watch.run(60)
    assert watch.of("own:disk") == [(Priority.WARNING, Reason.RAISED)]


def test_measured_tensions_are_kept_beside_what_is_worked_out(watch: Watch) -> None:
    watch.take(RawReading("anemometer", sealed("$YXXDR,F,61000,N,LC01,F,33000,N,LC99")))
    assert watch.pipeline.tensions(watch.now) == {"H1": 61000.0}
    watch.run(90)
    assert watch.pipeline.tensions(watch.now) == {}  # old ones are not shown as now


@pytest.mark.parametrize("subject", list(OWN_DO))
def test_every_impairment_has_its_headline(subject: str) -> None:
    """The first sentence a person sees on the console, as on the terminal."""
    for shown in (_PARTS[Matter.OWN], _WORDS[Matter.OWN]):
        situation = Situation(
            "own:x", Matter.OWN, Priority.WARNING, Priority.WARNING, subject=subject, facts=("what",)
        )
        first, *rest = shown(Priority.WARNING, situation, T0, Local(timedelta(0)))
        assert first and any("what" in str(part) for part in rest)
    assert set(_PARTS) == set(_WORDS) == set(Matter)


def test_a_restart_is_no_news_of_a_feed(watch: Watch) -> None:
    """What was down before a short stop is down until it is heard: a start may not read as its return."""
    watch.take(SourceStatus("forecast", False, "no connection"))
    watch.run(60)
    assert watch.of("feed:forecast") == [(Priority.WARNING, Reason.RAISED)]
    watch.take(Started("test", watch.now))
    watch.run(270)
    assert Reason.RECTIFIED not in [reason for _, reason in watch.of("feed:forecast")]
