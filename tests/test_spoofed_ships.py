"""Ghosts, jumps, a stolen own MMSI and five thousand ships at once: none may hide a real ship or swamp the watch.

Spoofed AIS of these kinds has been reported from many ports (Balduzzi, Pasta, Wilhoit 2014, "A security
evaluation of AIS", ACSAC: ghost ships, false positions, floods; from memory). The figures here are ours.
"""

from __future__ import annotations

import math
import random
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from monitor.base.frames import LocalMap
from monitor.records.estimates import Outlook, Validity
from monitor.records.events import Beat, Notice, RawReading, Started
from monitor.records.observations import Refusal, Refused, ShipFix
from monitor.run.pipeline import Pipeline
from monitor.settings.load import load_stay
from monitor.watch.traffic import MOST_SHIPS, MOST_TARGETS, Traffic
from tests.composed import POSITION, sealed, vdm
from tests.settings_texts import GOOD, NAME, write

T0 = datetime(2031, 5, 4, 6, 0, tzinfo=UTC)
BERTH = LocalMap(-45.0, -30.0)
OWN, REAL = 200_000_001, 200_000_002


def fix(
    mmsi: int, second: float, north_m: float, east_m: float, sog_m_s: float = 6.0, cog_deg: float = 90.0
) -> ShipFix:
    at = T0 + timedelta(seconds=second)
    place = BERTH.to_position(north_m, east_m)
    return ShipFix(mmsi, at, at, *place, sog_m_s, cog_deg, cog_deg, 0.0, 0, True, "ais")


def real(second: float) -> ShipFix:
    """Comes from 9 km west at 6 m/s."""
    return fix(REAL, second, -300.0, -9000.0 + 6.0 * second)


def ghost(mmsi: int, second: float, dice: random.Random) -> ShipFix:
    return fix(
        mmsi, second, dice.uniform(-2e3, 2e3), dice.uniform(-2e3, 2e3), dice.uniform(2, 9), dice.uniform(0, 359)
    )


@pytest.mark.parametrize("times", [1, 6])
def test_five_thousand_ghosts_nearer_than_the_real_one(times: int) -> None:
    """Heard once each, or as long as she is: she was there before them."""
    traffic, dice = Traffic(BERTH, OWN, 360.0), random.Random(7)
    for second in range(0, 120, 10):
        traffic.take(real(second))
    began = {n: ghost(300_000_000 + n, 120.0, dice) for n in range(5000)}
    for time_heard in range(times):
        for first in began.values():
            metres = 10.0 * time_heard * (first.sog_m_s or 0.0)
            north_m, east_m = BERTH.to_plane(first.latitude_deg, first.longitude_deg)
            course = math.radians(first.cog_deg or 0.0)
            place = north_m + metres * math.cos(course), east_m + metres * math.sin(course)
            traffic.take(
                fix(first.mmsi, 120.0 + 10.0 * time_heard, *place, first.sog_m_s or 0.0, first.cog_deg or 0.0)
            )
        traffic.take(real(121.0 + 10.0 * time_heard))
    targets = traffic.targets(T0 + timedelta(seconds=125.0 + 10.0 * times), most=MOST_TARGETS)
    assert REAL in {target.mmsi for target in targets}
    assert len(targets) == MOST_TARGETS and MOST_SHIPS * 8 // 10 < traffic.left_out <= MOST_SHIPS


def test_a_busy_roadstead_hides_nobody_who_comes() -> None:
    """A thousand ships at anchor, known for hours; one that comes is not kept out by their seniority."""
    traffic, dice = Traffic(BERTH, OWN, 360.0), random.Random(8)
    for n in range(1000):
        place = dice.uniform(-5e3, 5e3), dice.uniform(-5e3, 5e3)
        for second in (0.0, 180.0, 360.0, 540.0):
            traffic.take(fix(300_000_000 + n, second, *place, sog_m_s=0.0))
    for second in range(600, 640, 10):
        traffic.take(real(second))
    assert REAL in {target.mmsi for target in traffic.targets(T0 + timedelta(seconds=640), most=MOST_TARGETS)}


def test_a_ghost_of_the_real_ship_elsewhere_does_not_move_her() -> None:
    traffic, dice = Traffic(BERTH, OWN, 360.0), random.Random(9)
    for second in range(0, 300, 10):
        traffic.take(real(second))
        refused = traffic.take(fix(REAL, second + 3.0, dice.uniform(-9e3, 9e3), 20e3 + dice.uniform(-9e3, 9e3)))
        assert isinstance(refused, Refused) and refused.reason is Refusal.JUMP
    (target,) = traffic.targets(T0 + timedelta(seconds=300))
    assert target.east_m == pytest.approx(-9000.0 + 6.0 * 300, abs=60.0)


def test_a_stolen_own_mmsi_is_no_ship_and_hides_none() -> None:
    traffic = Traffic(BERTH, OWN, 360.0)
    refused = traffic.take(fix(OWN, 0.0, -300.0, -2000.0))
    assert isinstance(refused, Refused) and refused.reason is Refusal.OWN_SHIP
    traffic.take(real(0.0))
    assert [target.mmsi for target in traffic.targets(T0)] == [REAL]


def watch(folder: Path) -> Pipeline:
    """The whole pipeline but for the outlook, which a live watch works out beside it."""
    nothing = Outlook(T0, (), (), Validity.GOOD)
    return Pipeline(load_stay(write(folder, GOOD), NAME), lambda look, ask: lambda: nothing)


def report(mmsi: int, second: int, latitude_deg: float, longitude_deg: float) -> str:
    moving = {"speed": 11.7, "course": 90.0, "heading": 90, "turn": 0, "second": second % 60}
    return vdm({**POSITION, **moving, "mmsi": mmsi, "lat": latitude_deg, "lon": longitude_deg})[0]


def test_a_flood_is_told(tmp_path: Path) -> None:
    pipeline, dice, notices = watch(tmp_path), random.Random(10), []
    now = T0
    pipeline.handle(now, Started("test"))
    for second in range(60):
        now += timedelta(seconds=1)
        for n in range(10 if second < 30 else 0):
            place = -45.0 + dice.uniform(-0.02, 0.0), -30.0 + dice.uniform(-0.03, 0.03)
            pipeline.handle(now, RawReading("ais", report(300_000_000 + 10 * second + n, second, *place)))
        notices += [each for each in pipeline.handle(now, Beat()) if isinstance(each, Notice)]
    (flood,) = [notice for notice in notices if notice.alert == "own:flood"]
    assert "180 more ships" in flood.what and "lookout" in flood.do


@pytest.mark.parametrize("seconds", [10])
def test_a_thousand_sentences_a_second(seconds: int, tmp_path: Path) -> None:
    """Processor time of the consumer for as many seconds of such a feed: it must keep ahead of it twice over."""
    pipeline, now = watch(tmp_path), T0
    pipeline.handle(now, Started("test"))
    lines = [
        [report(300_000_000 + n, second, -45.1 + 0.0001 * n, -30.1 + 8e-5 * second) for n in range(900)]
        + [sealed(f"$WIMWV,{(90 + second + n) % 360}.0,R,{8 + n % 3}.{second % 10},M,A") for n in range(100)]
        for second in range(seconds)
    ]
    begun_s = time.process_time()
    for texts in lines:
        now += timedelta(seconds=1)
        for text in texts:
            pipeline.handle(now, RawReading("ais" if text[0] == "!" else "anemometer", text))
        pipeline.handle(now, Beat())
    used_s = time.process_time() - begun_s
    print(f"{1000 * seconds / used_s:.0f} sentences a second of one core")
    assert used_s < 0.5 * seconds
    assert sum(pipeline.counts["ais"].values()) == 900 * seconds
