"""NMEA 0183 sentences: examples from makers' manuals and recorded feeds, and the faults seen in them.

Lines marked "log" were sent by real instruments (recordings of the Signal K project, Apache-2.0); the others are
composed in the layouts of IEC 61162-1 with a computed checksum.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from monitor.base.units import KNOT_M_S
from monitor.intake.parser import Intake
from monitor.records.observations import (
    AirReading,
    ClockReading,
    HeadingReading,
    Observation,
    Refusal,
    Refused,
    TensionReading,
    WindKind,
    WindReading,
)
from tests.composed import NOW, OWN, sealed


def read(*lines: str) -> list[Observation]:
    intake = Intake({"mast": "nmea"}, OWN)
    seen = [o for n, line in enumerate(lines) for o in intake.parse("mast", line, NOW + n * timedelta(seconds=1))]
    assert intake.counts["mast"].total() == len(lines) <= len(seen)
    return seen


def one(line: str) -> Any:
    return read(line)[0]


@pytest.mark.parametrize(
    ("line", "off_bow_deg", "mean_m_s"),
    [
        ("$WIMWV,214.8,R,12.4,N,A*1B", 214.8, 12.4 * KNOT_M_S),
        ("$IIMWV,338,R,13.41,N,A*2C", 338.0, 13.41 * KNOT_M_S),  # log
        ("$WIMWV,297.6,R,5.6,N,A*2A", 297.6, 5.6 * KNOT_M_S),  # log
        (sealed("$WIMWV,045,R,10.0,M,A"), 45.0, 10.0),
        (sealed("$WIMWV,045,R,36.0,K,A"), 45.0, 10.0),
        (sealed("$WIMWV,045,R,10.0,S,A"), 45.0, 4.4704),  # statute miles an hour
        (sealed("$WIMWV,360,R,10.0,M,A"), 0.0, 10.0),
        (sealed("$WIMWV,,R,0.0,M,A"), None, 0.0),
    ],
)
def test_mwv(line: str, off_bow_deg: float | None, mean_m_s: float) -> None:
    assert one(line) == WindReading(
        NOW, NOW, "mast", WindKind.MEASURED, pytest.approx(mean_m_s), off_bow_deg=off_bow_deg
    )


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (sealed("$WIMWV,214.8,R,12.4,N,V"), Refusal.MARKED_INVALID),
        ("$02MWV,327.6,R,1.89,N*62", Refusal.NO_VALUE),  # log: no status field
        (sealed("$WIMWV,214.8,R,12.4,N,"), Refusal.NO_VALUE),
        (sealed("$WIMWV,214.8,R,,N,A"), Refusal.NO_VALUE),
        (sealed("$WIMWV,,,,,"), Refusal.NO_VALUE),
        (sealed("$WIMWV,214.8,R,12.4,,A"), Refusal.BROKEN),  # no unit: no guess
        (sealed("$WIMWV,214.8,R,12.4,F,A"), Refusal.BROKEN),
        (sealed("$WIMWV,214.8,X,12.4,N,A"), Refusal.BROKEN),
        (sealed("$WIMWV,214.8,R,1-2.4,N,A"), Refusal.BROKEN),
        (sealed("$WIMWV,214.8,R,NaN,N,A"), Refusal.BROKEN),
        (sealed("$WIMWV,214.8,R,1e999,N,A"), Refusal.BROKEN),
        (sealed("$WIMWV,214.8,R,75.1,M,A"), Refusal.OUT_OF_RANGE),
        (sealed("$WIMWV,214.8,R,-1,M,A"), Refusal.OUT_OF_RANGE),
        (sealed("$WIMWV,360.1,R,12.4,N,A"), Refusal.OUT_OF_RANGE),
        (sealed("$WIMWV,-10,R,12.4,N,A"), Refusal.OUT_OF_RANGE),
        ("$WIMWV,214.8,R,12.4,N,A*1C", Refusal.CHECKSUM),
        ("$WIMWV,214.8,R,12.4,N,A", Refusal.BROKEN),  # no checksum at all
        (sealed("$IIHDG,182.1,,,00.0,E"), Refusal.NOT_FOR_US),  # magnetic: never used as true
        (sealed("$HEHDM,186.5,M"), Refusal.NOT_FOR_US),
    ],
)
def test_winds_not_used(line: str, why: Refusal) -> None:
    assert one(line) == Refused(why, "mast", NOW)


def test_relative_wind_goes_before_theoretical() -> None:
    relative, theoretical = sealed("$WIMWV,045,R,10.0,M,A"), sealed("$WIMWV,050,T,9.0,M,A")
    first, second = read(relative, theoretical)
    assert isinstance(first, WindReading)
    assert isinstance(second, Refused) and second.reason is Refusal.NOT_FOR_US
    assert one(theoretical).off_bow_deg == 50.0  # from an instrument that sends nothing else
    later = read(relative, *[sealed("$HEHDT,274.1,T")] * 60, theoretical)[-1]
    assert isinstance(later, WindReading)  # and when the relative one has ceased


@pytest.mark.parametrize(
    ("line", "from_direction_deg", "mean_m_s"),
    [
        ("$WIMWD,227.0,T,225.0,M,18.0,N,9.3,M*6B", 227.0, 9.3),
        ("$WIMWD,125.3,T,124.6,M,5.6,N,2.9,M*56", 125.3, 2.9),  # log
        ("$IIMWD,,,,,08.16,N,04.20,M*54", None, 4.2),  # log: no direction
        (sealed("$WIMWD,,T,225.0,M,18.0,N,9.3,M"), None, 9.3),  # magnetic only
        (sealed("$WIMWD,227.0,T,225.0,M,18.0,N,,M"), 227.0, 18.0 * KNOT_M_S),
    ],
)
def test_mwd(line: str, from_direction_deg: float | None, mean_m_s: float) -> None:
    assert one(line) == WindReading(
        NOW, NOW, "mast", WindKind.MEASURED, pytest.approx(mean_m_s), from_direction_deg=from_direction_deg
    )


@pytest.mark.parametrize(
    ("line", "heading_deg"),
    [
        (sealed("$HEHDT,274.07,T"), 274.07),
        (sealed("$HEHDT,360.0,T"), 0.0),
        (sealed("$HETHS,274.07,A"), 274.07),
    ],
)
def test_heading(line: str, heading_deg: float) -> None:
    assert one(line) == HeadingReading(heading_deg, NOW, "mast")


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("$IIHDT,,T*0C", Refusal.NO_VALUE),  # log
        (sealed("$HEHDT,361,T"), Refusal.OUT_OF_RANGE),
        (sealed("$HEHDT,-1,T"), Refusal.OUT_OF_RANGE),
        (sealed("$HETHS,274.07,V"), Refusal.MARKED_INVALID),
        (sealed("$HETHS,274.07,S"), Refusal.MARKED_INVALID),  # a simulator's
        (sealed("$HETHS,274.07,E"), Refusal.MARKED_INVALID),
        (sealed("$HETHS,274.07,"), Refusal.NO_VALUE),
        (sealed("$HETHS,274.07"), Refusal.NO_VALUE),
        (sealed("$HETHS,,A"), Refusal.NO_VALUE),
        (sealed("$HETHS,x,A"), Refusal.BROKEN),
    ],
)
def test_headings_not_used(line: str, why: Refusal) -> None:
    assert one(line) == Refused(why, "mast", NOW)


@pytest.mark.parametrize(
    ("line", "celsius", "pressure_pa", "humidity"),
    [
        ("$WIMDA,30.21,I,1.0230,B,8.5,C,,,82.0,,5.6,C,227.0,T,225.0,M,18.0,N,9.3,M*5C", 8.5, 102300, 0.82),
        (
            "$WIMDA,29.884,I,1.012,B,32.1,C,,,12.8,,0.0,C,243.3,T,241.1,M,2.5,N,1.3,M*5A",
            32.1,
            101200,
            0.128,
        ),  # log
        (sealed("$WIMDA,30.000,I,,B,,C,,,,,,C,,T,,M,,N,,M"), None, 101591.67, None),
        (sealed("$WIMDA,30.21,I,1.0230,B,85.0,C,,,120,,,,,T,,M,,N,,M"), None, 102300, None),
        ("$WIXDR,P,1.0230,B,BARO,C,8.5,C,TAIR,H,82.0,P,RH*79", 8.5, 102300, 0.82),
        (sealed("$WIXDR,P,101325,P,Barometer"), None, 101325, None),
        (sealed("$WIXDR,C,3.1,C,WCHR,C,9.0,C,TAIR"), 9.0, None, None),  # a wind chill is no temperature
    ],
)
def test_air(line: str, celsius: float | None, pressure_pa: float | None, humidity: float | None) -> None:
    temperature_k = None if celsius is None else pytest.approx(celsius + 273.15)
    pressure = None if pressure_pa is None else pytest.approx(pressure_pa, abs=0.01)
    assert one(line) == AirReading(NOW, "mast", temperature_k, pressure, humidity)


@pytest.mark.parametrize(
    ("line", "off_bow_deg", "mean_m_s"),
    [
        ("$IIVWR,045.0,L,12.6,N,6.5,M,23.3,K*52", 315.0, 6.5),
        ("$WIVWR,35.3,L,2.6,N,1.3,M,4.8,K*76", 324.7, 1.3),  # log
        ("$IIVWT,030.0,R,10.1,N,5.2,M,18.7,K*45", 30.0, 5.2),
        ("$IIVWT,039,L,08.10,N,04.17,M,,*2B", 321.0, 4.17),  # log
        (sealed("$IIVWR,180,R,,N,,M,36.0,K"), 180.0, 10.0),
        (sealed("$IIVWR,,,10.0,N,,M,,K"), None, 10.0 * KNOT_M_S),
    ],
)
def test_the_forerunners_of_mwv(line: str, off_bow_deg: float | None, mean_m_s: float) -> None:
    assert one(line) == WindReading(
        NOW,
        NOW,
        "mast",
        WindKind.MEASURED,
        pytest.approx(mean_m_s),
        off_bow_deg=None if off_bow_deg is None else pytest.approx(off_bow_deg),
    )


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (sealed("$IIVWR,045.0,L,,N,,M,,K"), Refusal.NO_VALUE),
        (sealed("$IIVWR,045.0,,12.6,N,6.5,M,23.3,K"), Refusal.BROKEN),
        (sealed("$IIVWR,190.0,L,12.6,N,6.5,M,23.3,K"), Refusal.OUT_OF_RANGE),
        (sealed("$IIVWR,045.0,L,12.6,N,96.5,M,23.3,K"), Refusal.OUT_OF_RANGE),
        (sealed("$IIVWR"), Refusal.BROKEN),
    ],
)
def test_forerunners_not_used(line: str, why: Refusal) -> None:
    assert one(line) == Refused(why, "mast", NOW)


MDA = "$WIMDA,29.884,I,1.012,B,32.1,C,,,12.8,,0.0,C,243.3,T,241.1,M,2.5,N,1.3,M*5A"  # log


def test_mda_tells_the_wind_only_when_nothing_better_does() -> None:
    air, wind = read(MDA)
    assert isinstance(air, AirReading)
    assert wind == WindReading(NOW, NOW, "mast", WindKind.MEASURED, 1.3, from_direction_deg=243.3)
    told = read("$WIMWV,214.8,R,12.4,N,A*1B", MDA)  # the same wind twice would count twice
    assert [type(each) for each in told] == [WindReading, AirReading]


def test_forces_on_lines() -> None:
    """XDR type F in newtons (IEC 61162-1, from memory); one sensor's fault spoils none of the others."""
    told = read(sealed("$YXXDR,F,231000,N,LC01,F,,N,LC02,F,-40,N,LC03,F,98000.5,N,LC 04,F,12,P,LC05"))
    assert told == [
        TensionReading("LC01", 231000.0, NOW, NOW, "mast"),
        Refused(Refusal.NO_VALUE, "mast", NOW, "force sensor LC02"),
        Refused(Refusal.OUT_OF_RANGE, "mast", NOW, "force sensor LC03"),
        TensionReading("LC 04", 98000.5, NOW, NOW, "mast"),
        Refused(Refusal.OUT_OF_RANGE, "mast", NOW, "force sensor LC05"),
    ]


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("$WIXDR,C,,C,WCHR,C,,C,WCHT,A,-0.2,D,PTCH,A,-7.1,D,ROLL*40", Refusal.NOT_FOR_US),  # log
        (
            "$IIXDR,C,C,10.7,C,AIRTEMP,A,0.5,D,HEEL,A,-1.-3,D,TRIM,P,1.026,B,BARO,A,A,-4.-3,D,RUDDER*18",
            Refusal.BROKEN,
        ),  # log: fields out of step, with a right checksum
        (sealed("$WIXDR,P,2.7,B,OILPRESSURE"), Refusal.NOT_FOR_US),
        (sealed("$WIXDR,P,0.5,B,BARO"), Refusal.OUT_OF_RANGE),
        (sealed("$WIXDR,P,,B,BARO"), Refusal.NO_VALUE),
        (sealed("$WIXDR"), Refusal.BROKEN),
    ],
)
def test_airs_not_used(line: str, why: Refusal) -> None:
    assert one(line) == Refused(why, "mast", NOW)


@pytest.mark.parametrize(
    ("line", "utc"),
    [
        (sealed("$GPZDA,092653.58,14,03,2026,00,00"), datetime(2026, 3, 14, 9, 26, 53, 580000, UTC)),
        ("$GPZDA,114702.51,27,01,2012,,*66", datetime(2012, 1, 27, 11, 47, 2, 510000, UTC)),  # log
        ("$GPZDA,195719,16,04,14,-02,00*63", datetime(2014, 4, 16, 19, 57, 19, 0, UTC)),  # log; RMC: 160414
        (
            sealed("$GPRMC,092653.00,A,5154.0,N,00403.0,E,0.1,,140326,,,A"),
            datetime(2026, 3, 14, 9, 26, 53, 0, UTC),
        ),
        (sealed("$GPRMC,092653,A,5154.0,N,00403.0,E,0.1,,140326,,"), datetime(2026, 3, 14, 9, 26, 53, 0, UTC)),
    ],
)
def test_clock(line: str, utc: datetime) -> None:
    told = one(line)
    assert isinstance(told, ClockReading)
    assert abs(told.utc - utc) < timedelta(milliseconds=1) and told.received_at == NOW


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("$GPZDA,095559,,,,00,*4D", Refusal.NO_VALUE),  # log
        (sealed("$GPZDA,092653,30,02,2026,00,00"), Refusal.NO_VALUE),
        (sealed("$GPZDA,246070,14,03,2026,00,00"), Refusal.NO_VALUE),
        (sealed("$GPZDA"), Refusal.BROKEN),
        (sealed("$GPRMC,092653,V,,,,,,,140326,,,N"), Refusal.MARKED_INVALID),
        (sealed("$GPRMC,092653,A,5154.0,N,00403.0,E,0.1,,140326,,,S"), Refusal.MARKED_INVALID),
        (sealed("$GPRMC,092653,A,5154.0,N,00403.0,E,0.1,,320326,,,A"), Refusal.NO_VALUE),
    ],
)
def test_clocks_not_used(line: str, why: Refusal) -> None:
    assert one(line) == Refused(why, "mast", NOW)


def test_stamp_of_the_gateway_dates_the_wind() -> None:
    """The TAG block of an IEC 61162-450 network."""
    at = NOW.replace(microsecond=0) - timedelta(seconds=2)
    fields = f"s:WI0001,c:{int(at.timestamp())}"
    tag = sealed("!" + fields)[1:]
    reading = one(f"UdPbC\0\\{tag}\\$WIMWV,214.8,R,12.4,N,A*1B\r\n")
    assert (reading.observed_at, reading.received_at) == (at, NOW)
