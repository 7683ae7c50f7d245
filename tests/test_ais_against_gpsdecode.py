"""Our AIS decoding against an independent decoder: gpsdecode (GPSD project, Debian package gpsd-clients)."""

from __future__ import annotations

import gzip
import json
import shutil
import subprocess
from collections.abc import Iterable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from monitor.base.units import KNOT_M_S
from monitor.intake.parser import Intake
from monitor.records.observations import ClockReading, Observation, ShipFix, ShipParticulars
from tests.composed import NOW, OWN, POSITION, STATIC, sealed, vdm

pytestmark = pytest.mark.skipif(shutil.which("gpsdecode") is None, reason="gpsdecode is not installed")

LOGS = (
    "australia_2012-01-27.txt.gz",
    "denmark_2010-06-11_30s.txt.gz",
    "harlingen_ais_and_wind_2014-04-16.log",
    "norway_tagblock_2024-12-09.nmea",
)


def gpsdecode(sentences: Iterable[str]) -> list[dict[str, Any]]:
    ran = subprocess.run(
        ["gpsdecode", "-j", "-s"], input="\n".join(sentences) + "\n", capture_output=True, encoding="latin-1"
    )
    return [json.loads(line) for line in ran.stdout.splitlines() if line.startswith("{")]


def ours(lines: Iterable[str]) -> list[Observation]:
    intake = Intake({"ais": "ais"}, OWN)
    seen: list[Observation] = []
    for number, line in enumerate(lines):
        seen += intake.parse("ais", line, NOW + timedelta(milliseconds=10 * number))
    return seen


def fix_key(fix: ShipFix) -> tuple[Any, ...]:
    return (
        fix.mmsi,
        round(fix.latitude_deg * 600_000),
        round(fix.longitude_deg * 600_000),
        None if fix.sog_m_s is None else round(fix.sog_m_s / KNOT_M_S, 1),
        fix.cog_deg,
        fix.heading_deg,
        fix.class_a,
    )


def their_fix_key(told: dict[str, Any]) -> tuple[Any, ...]:
    """Their values with the standard's "not available" taken out, as ours are."""
    speed_kn = told["speed"]
    if not isinstance(speed_kn, float | int) or speed_kn > 102.15:  # "nan", or 102.2 "or more"
        speed_kn = None
    return (
        told["mmsi"],
        round(told["lat"] * 600_000),
        round(told["lon"] * 600_000),
        speed_kn,
        told["course"] if told["course"] < 360 else None,
        told["heading"] if told["heading"] < 360 else None,
        told["type"] <= 3,
    )


def is_ship_somewhere(told: dict[str, Any]) -> bool:
    """A ship's MMSI, and a position the standard allows and that is not (0, 0)."""
    return (
        told["type"] in (1, 2, 3, 18, 19)
        and 200_000_000 <= told["mmsi"] < 800_000_000
        and abs(told["lat"]) <= 90
        and abs(told["lon"]) <= 180
        and (told["lat"], told["lon"]) != (0, 0)
    )


def parts_together(bodies: Iterable[str]) -> Iterator[str]:
    """For gpsdecode: parts side by side, and only talkers and channels that it knows."""
    begun: dict[tuple[str, ...], str] = {}
    for body in bodies:
        tag, total, number, sequence, channel, *rest = body.split(",")
        key = (tag, total, sequence, channel)
        together = [sealed(",".join(["!AIVDM", total, number, sequence, "A", *rest]))]
        if number == "1" and total != "1":
            begun[key] = together[0]
            continue
        if number == "2":
            together.insert(0, begun.pop(key, ""))
        yield from together


def test_composed_positions_agree() -> None:
    sentences = [
        vdm(
            POSITION, mmsi=200911000 + k, msg_type=kind, lat=lat, lon=lon, speed=speed, course=course, heading=hdg
        )[0]
        for k, (kind, lat, lon, speed, course, hdg) in enumerate(
            [
                (1, 51.9, 4.05, 12.3, 271.4, 272),
                (2, -33.857112, 151.215113, 0.0, 0.0, 0),
                (3, -0.000017, -179.999983, 102.1, 359.9, 359),
                (1, 89.9, 179.9, 102.3, 360.0, 511),
                (18, 51.95, -4.15, 6.5, 90.0, 511),
                (18, -51.95, 4.15, 102.2, 180.0, 1),
                (19, 1.5, -2.5, 5.0, 1.0, 3),
            ]
        )
    ]
    fixes = [o for o in ours(sentences) if isinstance(o, ShipFix)]
    theirs = gpsdecode(sentences)
    assert [fix_key(fix) for fix in fixes] == [their_fix_key(told) for told in theirs]
    assert [fix.nav_status for fix in fixes[:4]] == [told["status"] for told in theirs[:4]]


def test_composed_particulars_agree() -> None:
    sentences = [
        *vdm(STATIC, seq_id=1),
        *vdm(STATIC, seq_id=2, mmsi=200911002, ship_type=35, to_bow=3, to_stern=9, to_port=2, to_starboard=3),
        *vdm(POSITION | STATIC, msg_type=19, mmsi=200911003, ship_type=37, to_bow=60, to_stern=4),
        *vdm(STATIC, msg_type=24, partno=0, mmsi=200911004, shipname="KITTIWAKE"),
        *vdm(STATIC, msg_type=24, partno=1, mmsi=200911004, ship_type=36, to_bow=40, to_stern=5),
    ]
    *whole, part_b = [o for o in ours(sentences) if isinstance(o, ShipParticulars)]
    *their_whole, their_part_b = gpsdecode(sentences)
    assert part_b.name == their_part_b["shipname"] == "KITTIWAKE"
    for known, told in zip([*whole, part_b], [*their_whole, their_part_b], strict=True):
        assert known.mmsi == told["mmsi"]
        assert known.name == told["shipname"]
        if "to_bow" in told:
            assert known.ship_type == told["shiptype"]
            assert known.length_m == told["to_bow"] + told["to_stern"]
            assert known.beam_m == told["to_port"] + told["to_starboard"]
            assert (known.to_bow_m, known.to_port_m) == (told["to_bow"], told["to_port"])
        assert known.draught_m == told.get("draught")


def test_composed_base_station_clock_agrees() -> None:
    sentences = vdm(
        {
            "msg_type": 4,
            "mmsi": 2009110,
            "year": 2026,
            "month": 2,
            "day": 28,
            "hour": 23,
            "minute": 59,
            "second": 58,
        }
    )
    (clock,) = ours(sentences)
    assert isinstance(clock, ClockReading)
    assert clock.utc.strftime("%Y-%m-%dT%H:%M:%SZ") == gpsdecode(sentences)[0]["timestamp"]


@pytest.mark.parametrize("log", LOGS)
def test_recorded_feeds_agree(shared: Path, log: str) -> None:
    """Every fix and hull of ours is theirs, and every good one of theirs is ours, message for message."""
    path = shared / "data" / "ais" / log
    raw = gzip.decompress(path.read_bytes()) if path.suffix == ".gz" else path.read_bytes()
    lines = raw.decode("latin-1").splitlines()
    parts = [line[line.index("!") :].partition("*") for line in lines if "VDM," in line]
    good = [body for body, _, rest in parts if sealed(body)[-2:] == rest[:2]]
    theirs = gpsdecode(parts_together(good))
    seen = ours(lines)
    fixes = {fix_key(o) for o in seen if isinstance(o, ShipFix)}
    their_fixes = {their_fix_key(told) for told in theirs if is_ship_somewhere(told)}
    assert len(fixes) > 50
    assert fixes == their_fixes
    hulls = {
        (o.mmsi, o.ship_type, o.length_m, o.beam_m, o.draught_m)
        for o in seen
        if isinstance(o, ShipParticulars) and o.length_m is not None and o.beam_m is not None
    }
    their_hulls = {
        (
            told["mmsi"],
            told["shiptype"] if 1 <= told["shiptype"] <= 99 else None,
            told["to_bow"] + told["to_stern"],
            told["to_port"] + told["to_starboard"],
            told["draught"] if 0.5 <= told.get("draught", 0.0) <= 25.0 else None,
        )
        for told in theirs
        if "to_bow" in told and "shiptype" in told
    }
    assert hulls <= their_hulls
