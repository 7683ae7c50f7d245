"""Whatever comes, every parser answers: an observation or one reason for each line, and never an exception."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime, timedelta
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.intake.met import Reply, encode
from monitor.intake.parser import Intake
from monitor.records.observations import Observation, Refusal, Refused, WindForecast
from tests.composed import NOW, OWN, POSITION, STATIC, payload, sealed, vdm, with_payload

ARMOUR = "0123456789:;<=>?@ABCDEFGHIJKLMNOPQRSTUVW`abcdefghijklmnopqrstuvw"
GOOD = [
    *vdm(POSITION),
    *vdm(POSITION, msg_type=18),
    *vdm(STATIC, seq_id=3),
    *vdm(POSITION | STATIC, msg_type=19),
    *vdm(STATIC, msg_type=24, partno=0),
    *vdm(STATIC, msg_type=24, partno=1),
    sealed("$WIMWV,214.8,R,12.4,N,A"),
    sealed("$WIMWD,227.0,T,225.0,M,18.0,N,9.3,M"),
    sealed("$WIXDR,P,1.0230,B,BARO,C,8.5,C,TAIR,H,82.0,P,RH"),
    sealed("$WIMDA,30.21,I,1.0230,B,8.5,C,,,82.0,,5.6,C,227.0,T,225.0,M,18.0,N,9.3,M"),
    sealed("$HETHS,274.07,A"),
    sealed("$HEHDT,274.07,T"),
    sealed("$GPZDA,092653.58,14,03,2026,00,00"),
    sealed("$GPRMC,092653.00,A,5154.0,N,00403.0,E,0.1,,140326,,,A"),
    sealed("$PGHP,1,2025,11,25,10,2,11,390,219,45,992190934,1,2B"),
    "\\g:1-2-7,s:AI0001,c:1764064931*4A\\" + vdm(POSITION)[0] + ",1764064931",
]
latin = st.text(st.characters(min_codepoint=0, max_codepoint=255), max_size=120)
payloads = st.builds(
    str.__add__,
    st.sampled_from("12345;BCHK0"),
    st.text(ARMOUR, max_size=80) | st.text(ARMOUR, min_size=27, max_size=27),
)
kinds = st.sampled_from(["MWV", "MWD", "HDT", "THS", "MDA", "XDR", "ZDA", "RMC", "VWR"])
field = st.sampled_from(
    ["", "A", "V", "R", "T", "M", "N", "C", "B", "12.5", "-1", "1e9", "NaN", "sNaN", "092653", "²"]
)


@st.composite
def damaged(draw: st.DrawFn) -> str:
    """A good line with a stretch replaced, its checksum made right again or not."""
    line = draw(st.sampled_from(GOOD))
    begin = draw(st.integers(0, len(line)))
    spoiled = line[:begin] + draw(latin) + line[begin + draw(st.integers(0, 20)) :]
    body = spoiled.partition("*")[0]
    return sealed(body) if body and draw(st.booleans()) else spoiled


lines = st.one_of(
    latin,
    damaged(),
    st.sampled_from(GOOD),
    st.builds(with_payload, payloads, st.integers(0, 6)),
    st.builds(lambda kind, given: sealed(f"$WI{kind},{','.join(given)}"), kinds, st.lists(field, max_size=22)),
    st.text(max_size=40),  # not even latin-1
)
texts = st.lists(lines, min_size=1, max_size=4).map("\r\n".join)


def counted(intake: Intake) -> int:
    return sum(counts.total() for counts in intake.counts.values()) + intake.pending


def is_sound(observation: Observation) -> bool:
    """No number that is none, no time without its zone, an answer of a known kind."""
    values: list[Any] = [getattr(observation, each) for each in type(observation).__annotations__]
    return all(
        value.tzinfo is not None
        if isinstance(value, datetime)
        else not isinstance(value, float) or math.isfinite(value)
        for value in values
    )


@settings(max_examples=400, derandomize=True, deadline=None)
@given(st.lists(texts, min_size=1, max_size=6))
def test_any_text(several: list[str]) -> None:
    intake = Intake({"a": "ais", "b": "nmea"}, OWN)
    for number, text in enumerate(several):
        before = counted(intake)
        seen = intake.parse("ab"[number % 2], text, NOW + number * timedelta(seconds=4))
        after = counted(intake)
        assert after > before
        assert all(map(is_sound, seen))
        assert after - before >= len([line for line in text.split("\n") if line.strip("\r\n\t \0")])


@settings(max_examples=200, derandomize=True, deadline=None)
@given(st.text(ARMOUR, min_size=27, max_size=27), st.sampled_from("123B4;"), st.datetimes(timezones=st.just(UTC)))
def test_any_position_report(rest: str, kind: str, received_at: datetime) -> None:
    """All values that 168 bits can hold: in range, or None, or refused."""
    if not 2000 <= received_at.year <= 2100:
        received_at = NOW
    (seen,) = Intake({"a": "ais"}, OWN).parse("a", with_payload(kind + rest), received_at)
    assert is_sound(seen)
    if hasattr(seen, "latitude_deg"):
        assert 200_000_000 <= seen.mmsi < 800_000_000
        assert abs(seen.latitude_deg) <= 90.0 and abs(seen.longitude_deg) <= 180.0
        assert seen.sog_m_s is None or 0.0 <= seen.sog_m_s < 52.6
        assert seen.cog_deg is None or 0.0 <= seen.cog_deg < 360.0
        assert seen.heading_deg is None or 0.0 <= seen.heading_deg < 360.0
        assert abs(seen.observed_at - received_at) <= timedelta(seconds=30)


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=10),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=8,
)
instants = st.sampled_from(["2026-03-14T09:00:00Z", "2026-03-14", "", None, 7])


@st.composite
def replies(draw: st.DrawFn) -> str:
    details = {"wind_speed": draw(json_values), "wind_from_direction": draw(json_values)}
    step = {"time": draw(instants), "data": {"instant": {"details": draw(st.just(details) | json_values)}}}
    meta = {"updated_at": draw(instants), "units": {"wind_speed": "m/s", "wind_from_direction": "degrees"}}
    reply = {"properties": {"meta": meta, "timeseries": [step, draw(json_values)]}}
    text = json.dumps(draw(st.just(reply) | json_values))
    return text[: draw(st.integers(0, len(text)))] if draw(st.booleans()) else text


@settings(max_examples=200, derandomize=True, deadline=None)
@given(
    st.integers(100, 599) | st.just(200),
    st.dictionaries(st.sampled_from(["date", "expires", "retry-after"]), st.text(max_size=30)),
    replies() | st.text(max_size=40),
)
def test_any_reply(status: int, headers: dict[str, str], body: str) -> None:
    text = encode(Reply(status, headers, body))
    (result,) = Intake({"met": "met norway"}, OWN).parse("met", text, NOW)
    assert isinstance(result, WindForecast) or (
        isinstance(result, Refused) and result.reason in (Refusal.ERROR_REPLY, Refusal.DUPLICATE) and result.detail
    )
    assert isinstance(result, Refused) or all(map(is_sound, result.steps))


@settings(max_examples=200, derandomize=True, deadline=None)
@given(latin | json_values.map(json.dumps))
def test_any_envelope(text: str) -> None:
    (result,) = Intake({"met": "met norway"}, OWN).parse("met", text, NOW)
    assert isinstance(result, Refused | WindForecast)


def test_the_good_lines_are_good() -> None:
    """Else the fuzz would spoil nothing."""
    intake = Intake({"a": "nmea"}, OWN)
    for line in GOOD:
        intake.parse("a", line, NOW)
    assert intake.counts["a"] == {"accepted": len(GOOD) - 2, Refusal.NOT_FOR_US: 1, Refusal.DUPLICATE: 1}
    assert len(payload(GOOD[0])) == 28
