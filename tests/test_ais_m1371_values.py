"""AIS fields against Rec. ITU-R M.1371-5, as E. Raymond's "AIVDM/AIVDO protocol decoding" gives it.

Types 1-5, 11, 18, 19 and 24: message lengths, "not available" values, who is a ship; and the traps that decoders
fall into.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from pyais import decode

from monitor.base.units import KNOT_M_S
from monitor.intake.parser import Intake
from monitor.intake.ships import observed_at
from monitor.records.observations import (
    ClockReading,
    Observation,
    OwnNumber,
    Refusal,
    Refused,
    ShipFix,
    ShipParticulars,
)
from tests.composed import NOW, OWN, POSITION, STATIC, payload, sealed, vdm, with_payload


def read(*lines: str, every: timedelta = timedelta(milliseconds=100)) -> list[Observation]:
    intake = Intake({"ais": "ais"}, OWN)
    seen = [o for n, line in enumerate(lines) for o in intake.parse("ais", line, NOW + n * every)]
    assert sum(intake.counts["ais"].values()) + intake.pending == len(lines)
    return seen


def one(*lines: str) -> Any:
    (only,) = read(*lines)
    return only


def reason(*lines: str) -> Refusal:
    refused = one(*lines)
    assert isinstance(refused, Refused), refused
    return refused.reason


# --- values ---


def test_position_report_a() -> None:
    fix = one(*vdm(POSITION))
    assert fix == ShipFix(
        mmsi=200911001,
        observed_at=datetime(2026, 3, 14, 9, 26, 52, tzinfo=UTC),
        received_at=NOW,
        latitude_deg=51.9,
        longitude_deg=4.05,
        sog_m_s=pytest.approx(12.3 * KNOT_M_S),
        cog_deg=271.4,
        heading_deg=272.0,
        turn_deg_min=pytest.approx(-12, abs=0.8),  # one step of the coding there
        nav_status=0,
        class_a=True,
        source="ais",
    )


@pytest.mark.parametrize("indicator", [-128, -127, -126, -20, -1, 0, 1, 20, 126, 127])
def test_rate_of_turn_is_the_squared_indicator(indicator: int) -> None:
    """ROT = (indicator / 4.733)², +-127 "more than 5° in 30 s, no rate", -128 not available."""
    bits = int.from_bytes(decode(vdm(POSITION)[0]).to_bytes()[0], "big")
    bits = bits & ~(0xFF << 118) | (indicator & 0xFF) << 118
    armour = "0123456789:;<=>?@ABCDEFGHIJKLMNOPQRSTUVW`abcdefghijklmnopqrstuvw"
    fix = one(with_payload("".join(armour[bits >> 6 * (27 - k) & 63] for k in range(28))))
    expected = None if abs(indicator) >= 127 else (indicator / 4.733) ** 2 * (1 if indicator >= 0 else -1)
    assert fix.turn_deg_min == (None if expected is None else pytest.approx(expected))


def test_not_available_is_none_never_zero() -> None:
    fix = one(*vdm(POSITION, speed=102.3, course=360.0, heading=511, status=15, turn=-128, second=60))
    assert (fix.sog_m_s, fix.cog_deg, fix.heading_deg, fix.nav_status, fix.turn_deg_min) == (None,) * 5
    assert fix.observed_at == NOW


@pytest.mark.parametrize("heading", [360, 498, 510])
def test_heading_out_of_range_is_none(heading: int) -> None:
    assert one(*vdm(POSITION, heading=heading)).heading_deg is None


@pytest.mark.parametrize("course", [360.1, 409.5])
def test_course_out_of_range_is_none(course: float) -> None:
    assert one(*vdm(POSITION, course=course)).cog_deg is None


def test_speed_or_more_is_not_a_speed() -> None:
    assert one(*vdm(POSITION, speed=102.2)).sog_m_s is None
    assert one(*vdm(POSITION, speed=102.1)).sog_m_s == pytest.approx(102.1 * KNOT_M_S)


@pytest.mark.parametrize(
    ("place", "why"),
    [
        ({"lat": 91.0, "lon": 181.0}, Refusal.NO_POSITION),
        ({"lat": 91.0}, Refusal.NO_POSITION),
        ({"lat": 0.0, "lon": 0.0}, Refusal.NO_POSITION),
        ({"lat": 90.5}, Refusal.OUT_OF_RANGE),
        ({"lon": -180.5}, Refusal.OUT_OF_RANGE),
    ],
)
def test_no_position(place: dict[str, float], why: Refusal) -> None:
    assert reason(*vdm(POSITION, **place)) is why
    assert reason(*vdm(POSITION, msg_type=18, **place)) is why


@pytest.mark.parametrize("mmsi", [0, 111222333, 123456789, 2009110, 970011000, 992009110, 982009110, 800000000])
def test_not_a_ship(mmsi: int) -> None:
    """Base stations, SAR aircraft, SARTs, aids to navigation, craft of a parent ship, nonsense (M.585)."""
    assert reason(*vdm(POSITION, mmsi=mmsi)) is Refusal.NOT_A_SHIP
    assert reason(*vdm(STATIC, msg_type=24, partno=0, mmsi=mmsi)) is Refusal.NOT_A_SHIP


def test_own_ship_is_no_target() -> None:
    assert reason(*vdm(POSITION, mmsi=OWN)) is Refusal.OWN_SHIP
    for mmsi in (OWN, 200911001):
        refused, number = read(sent_by_us(mmsi=mmsi))
        assert isinstance(refused, Refused) and refused.reason is Refusal.OWN_SHIP
        assert number == OwnNumber(mmsi, NOW, "ais")


def sent_by_us(**changed: Any) -> str:
    """An own report (VDO)."""
    return sealed(vdm(POSITION, **changed)[0][:-3].replace("VDM", "VDO"))


@pytest.mark.parametrize(
    "line",
    [
        sent_by_us()[:-2] + "00",
        sent_by_us().replace("AIVDO", "ABVDO"),
        sent_by_us(mmsi=2009110),
        sealed("!AIVDO,1,1,,A,13"),
        sealed("!AIVDO,1,1,,A,13,0"),
        sealed("!AIVDO,2,1,3,A,53P>GU400001,0"),
        sealed("!AIVDO,1,1,,A,é3P>GU400001,0"),
    ],
    ids=["checksum", "a base station's", "no ship's", "no fill bits", "cut", "first of two parts", "no type"],
)
def test_what_tells_no_number_of_ours(line: str) -> None:
    assert reason(line) is Refusal.OWN_SHIP


@pytest.mark.parametrize("kind", [9, 21, 27])
def test_types_not_used(kind: int) -> None:
    fields = {"msg_type": kind, "mmsi": 200911001, "lat": 51.9, "lon": 4.05, "name": "X"}
    lines = vdm(fields)
    assert {o.reason for o in read(*lines) if isinstance(o, Refused)} == {Refusal.UNUSED_TYPE}


def test_class_b_position_has_no_status_nor_turn() -> None:
    fix = one(*vdm(POSITION, msg_type=18))
    assert (fix.class_a, fix.nav_status, fix.turn_deg_min) == (False, None, None)
    assert (fix.cog_deg, fix.heading_deg, fix.sog_m_s) == (271.4, 272.0, pytest.approx(12.3 * KNOT_M_S))


def test_type_19_gives_both() -> None:
    both = POSITION | STATIC | {"msg_type": 19}
    fix, particulars = read(*vdm(both))
    assert isinstance(fix, ShipFix) and isinstance(particulars, ShipParticulars)
    assert (particulars.name, particulars.length_m, particulars.beam_m) == ("VARNHOLT", 210.0, 32.0)
    (without_fix,) = read(*vdm(both, lat=91.0))
    assert isinstance(without_fix, ShipParticulars) and without_fix.length_m == 210.0


def test_class_b_halves_are_given_together() -> None:
    part_a = vdm(STATIC, msg_type=24, partno=0)
    part_b = vdm(STATIC, msg_type=24, partno=1, ship_type=36, to_bow=9, to_stern=5, to_port=2, to_starboard=2)
    for first, second in [(part_a, part_b), (part_b, part_a)]:
        _, known = read(*first, *second)
        assert isinstance(known, ShipParticulars)
        assert (known.name, known.ship_type, known.length_m, known.to_bow_m) == ("VARNHOLT", 36, 14.0, 9.0)
        assert known.received_at > NOW


@pytest.mark.parametrize(
    ("four", "expected"),
    [
        ((170, 40, 20, 12), (210.0, 32.0, 170.0, 20.0)),
        ((0, 0, 0, 0), (None, None, None, None)),
        ((0, 210, 0, 32), (210.0, 32.0, None, None)),  # size known, place of the antenna not
        ((0, 210, 12, 20), (210.0, 32.0, None, 12.0)),
        ((9, 5, 0, 4), (14.0, 4.0, 9.0, 0.0)),
        ((511, 511, 63, 63), (None, None, None, None)),  # "or more"
        ((511, 0, 20, 12), (None, 32.0, None, 20.0)),
        ((1, 0, 1, 1), (None, 2.0, None, 1.0)),
        ((10, 5, 20, 20), (None, None, None, None)),  # wider than long
        ((200, 200, 1, 1), (None, None, None, None)),  # 400 m by 2 m
        ((225, 175, 30, 31), (400.0, 61.0, 225.0, 30.0)),
    ],
)
def test_four_distances(four: tuple[int, ...], expected: tuple[float | None, ...]) -> None:
    names = ("to_bow", "to_stern", "to_port", "to_starboard")
    known = one(*vdm(STATIC, msg_type=24, partno=1, **dict(zip(names, four, strict=True))))
    assert (known.length_m, known.beam_m, known.to_bow_m, known.to_port_m) == expected


@pytest.mark.parametrize(("sent", "draught_m"), [(0, None), (0.3, None), (0.5, 0.5), (25.0, 25.0), (25.5, None)])
def test_draught(sent: float, draught_m: float | None) -> None:
    assert read(*vdm(STATIC, draught=sent))[-1].draught_m == draught_m


def test_name_ends_at_its_first_at_sign() -> None:
    assert read(*vdm(STATIC, shipname="TIDE@@@@LEFTOVER"))[-1].name == "TIDE"
    assert read(*vdm(STATIC, shipname=""))[-1].name is None


CLOCK = {
    "msg_type": 4,
    "mmsi": 2009110,
    "year": 2026,
    "month": 3,
    "day": 14,
    "hour": 9,
    "minute": 26,
    "second": 53,
}


@pytest.mark.parametrize(("kind", "mmsi"), [(4, 2009110), (11, 200911001)])
def test_clock_of_base_station_and_of_mobile(kind: int, mmsi: int) -> None:
    told = one(*vdm(CLOCK, msg_type=kind, mmsi=mmsi))
    assert told == ClockReading(datetime(2026, 3, 14, 9, 26, 53, tzinfo=UTC), NOW, "ais", by_ais=True)


@pytest.mark.parametrize(
    "absent", [{"year": 0, "month": 0, "day": 0}, {"hour": 24}, {"minute": 60}, {"second": 60}, {"month": 13}]
)
def test_clock_not_available(absent: dict[str, int]) -> None:
    assert reason(*vdm(CLOCK | absent)) is Refusal.NO_VALUE


# --- traps ---


def test_cut_payload_is_refused_though_a_decoder_takes_it() -> None:
    """pyais makes of a cut type 1 a ship at latitude 0: the length must be checked."""
    cut = with_payload(payload(vdm(POSITION)[0])[:14])
    assert decode(cut).mmsi == 200911001  # the decoder alone sees nothing wrong
    assert reason(cut) is Refusal.LENGTH


@pytest.mark.parametrize("kind", [1, 2, 3, 18])
@pytest.mark.parametrize("characters", [1, 7, 27, 29, 35])
def test_length_of_position_reports(kind: int, characters: int) -> None:
    text = payload(vdm(POSITION, msg_type=kind)[0])
    assert reason(with_payload((text + "0" * 9)[:characters])) is Refusal.LENGTH


@pytest.mark.parametrize(
    ("characters", "fill", "good"), [(70, 0, 1), (71, 2, 1), (71, 0, 1), (69, 0, 0), (72, 0, 0)]
)
def test_length_of_static_report(characters: int, fill: int, good: bool) -> None:
    """424 bits; 420 to 426 are sent by real transponders."""
    text = "".join(map(payload, vdm(STATIC)))
    told = one(with_payload((text + "0" * 9)[:characters], fill))
    assert isinstance(told, ShipParticulars) if good else told.reason is Refusal.LENGTH


@pytest.mark.parametrize(
    ("part", "characters", "fill", "good"), [(0, 27, 2, 1), (0, 26, 0, 0), (1, 27, 0, 1), (1, 27, 2, 0)]
)
def test_length_of_class_b_static(part: int, characters: int, fill: int, good: bool) -> None:
    text = payload(vdm(STATIC, msg_type=24, partno=part)[0])
    told = one(with_payload(text[:characters], fill))
    assert isinstance(told, ShipParticulars) if good else told.reason is Refusal.LENGTH


def test_checksum() -> None:
    good = vdm(POSITION)[0]
    assert reason(good[:-2] + "FF") is Refusal.CHECKSUM
    assert reason(good.replace("!AIVDM", "!BSVDM")) is Refusal.CHECKSUM
    assert reason(good.partition("*")[0]) is Refusal.BROKEN
    assert isinstance(one(good[:-2] + good[-2:].lower()), ShipFix)


def test_payload_with_characters_outside_the_armour() -> None:
    text = payload(vdm(POSITION)[0])
    assert reason(with_payload(text[:-1] + "X")) is Refusal.UNDECODABLE
    assert reason(with_payload(text[:-1] + "~")) is Refusal.UNDECODABLE


def test_extra_fields_before_the_checksum() -> None:
    """As one receiver's log of 2014 has them: no channel, and a field more."""
    assert isinstance(one(sealed(f"!AIVDM,1,1,6,,{payload(vdm(POSITION)[0])},0,0")), ShipFix)


def test_unknown_talker_is_taken() -> None:
    assert isinstance(one(*vdm(POSITION, talker="B2")), ShipFix)


@pytest.mark.parametrize("order", [(0, 1), (1, 0), (0, 0, 1), (1, 1, 0)])
def test_two_parts_in_any_order_or_repeated(order: tuple[int, ...]) -> None:
    parts = vdm(STATIC, seq_id=4)
    *repeats, known = read(*(parts[place] for place in order))
    assert isinstance(known, ShipParticulars) and known.draught_m == 11.4
    assert [refused.reason for refused in repeats] == [Refusal.DUPLICATE] * (len(order) - 2)


def test_every_part_four_times() -> None:
    """One coastal network of 2013 sends every sentence four times."""
    first, second = vdm(STATIC, seq_id=4)
    seen = read(*[first] * 4, *[second] * 4)
    assert sum(isinstance(o, ShipParticulars) for o in seen) == 1
    assert [o.reason for o in seen if isinstance(o, Refused)] == [Refusal.DUPLICATE] * 6


def test_parts_of_two_messages_between_each_other() -> None:
    one_, other = vdm(STATIC, seq_id=1), vdm(STATIC, seq_id=2, mmsi=200911002, shipname="OTHER")
    seen = read(one_[0], other[0], other[1], one_[1])
    assert [(o.mmsi, o.name) for o in seen] == [(200911002, "OTHER"), (200911001, "VARNHOLT")]


def test_half_a_message_is_given_up() -> None:
    half, whole = vdm(STATIC, seq_id=4), vdm(POSITION)
    intake = Intake({"ais": "ais"}, OWN)
    assert intake.parse("ais", half[0], NOW) == [] and intake.pending == 1
    refused, fix = intake.parse("ais", whole[0], NOW + timedelta(seconds=11))
    assert refused.reason is Refusal.FRAGMENT and isinstance(fix, ShipFix) and intake.pending == 0
    assert intake.parse("ais", half[1], NOW + timedelta(seconds=12)) == []


def test_a_new_first_part_ends_the_old_half() -> None:
    old, new = vdm(STATIC, seq_id=4), vdm(STATIC, seq_id=4, shipname="NEWCOMER")
    refused, known = read(old[0], new[0], new[1])
    assert refused.reason is Refusal.FRAGMENT and known.name == "NEWCOMER"


@pytest.mark.parametrize("numbers", ["2,3", "2,0", "0,0", "12,1", "x,1", ",", "2,"])
def test_impossible_part_numbers(numbers: str) -> None:
    assert reason(sealed(f"!AIVDM,{numbers},4,A,{payload(vdm(POSITION)[0])},0")) is Refusal.BROKEN


# --- repeats and times ---


def test_repeat_of_a_payload_from_any_source() -> None:
    intake = Intake({"shore": "ais", "own": "ais"}, OWN)
    assert isinstance(intake.parse("own", vdm(POSITION)[0], NOW)[0], ShipFix)
    again = vdm(POSITION, talker="BS")[0]
    (refused,) = intake.parse("shore", again, NOW + timedelta(seconds=59))
    assert refused == Refused(Refusal.DUPLICATE, "shore", NOW + timedelta(seconds=59))
    assert isinstance(intake.parse("shore", again, NOW + timedelta(seconds=61))[0], ShipFix)
    assert intake.counts == {"own": {"accepted": 1}, "shore": {"accepted": 1, Refusal.DUPLICATE: 1}}


def at(seconds: float) -> datetime:
    return datetime(2026, 3, 14, 9, 26, tzinfo=UTC) + timedelta(seconds=seconds)


@pytest.mark.parametrize(
    ("received_s", "second", "expected_s"),
    [
        (53.5, 52, 52),
        (53.5, 54, 54),
        (2.5, 58, -2),  # the minute before
        (58.5, 1, 61),  # the minute after
        (30.0, 0, 0),
        (30.5, 0, 60),
        (0.25, 30, 30),
        (53.5, 60, 53.5),
        (53.5, 63, 53.5),
    ],
)
def test_second_of_the_report(received_s: float, second: int, expected_s: float) -> None:
    assert observed_at(at(received_s), None, second) == at(expected_s)


def test_second_is_always_the_one_sent_and_near() -> None:
    for second in range(60):
        for received_s in (0.0, 0.001, 29.999, 30.0, 30.001, 59.999):
            told = observed_at(at(received_s), None, second)
            assert (told.second, told.microsecond) == (second, 0)
            assert abs(told - at(received_s)) <= timedelta(seconds=30)


def test_stamp_counts_before_reception_unless_it_lies_ahead() -> None:
    assert observed_at(at(3600), at(9), 0) == at(0)
    assert observed_at(at(3600), at(9), 60) == at(9)
    assert observed_at(at(0), at(3600), 60) == at(0)
