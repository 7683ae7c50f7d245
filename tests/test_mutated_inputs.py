"""Mutated sentences, replies, messages and settings: nothing crashes, and nothing damaged is taken in silence.

Mutations are seeded: bytes flipped, cut, doubled, swapped with another input, numbers made absurd. By default
some thousands; BIGHTWATCH_FUZZ=2000000 makes two million. By coverage, with the package atheris: `tests/fuzz.py`.
"""

from __future__ import annotations

import json
import math
import os
import random
import tempfile
from contextlib import suppress
from dataclasses import fields, is_dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

import pytest

from monitor.intake.met import Reply, encode
from monitor.intake.parser import Intake
from monitor.intake.sentences import Sentence, SentenceReader, checksum_ok
from monitor.intake.tide import NoTide, coops_station
from monitor.outlet.alert_sentences import AlertSentences
from monitor.records.events import AlertState, Priority, Reason, Transition
from monitor.records.observations import Refused
from monitor.settings.faults import SettingsFault
from monitor.settings.load import load_stay
from tests.composed import NOW, OWN, POSITION, STATIC, sealed, vdm
from tests.settings_texts import ALERTS, ALERTS_FILE, GOOD, NAME, write
from tests.test_met_norway_over_http import GOOD as MET_NORWAY
from tests.test_met_services_over_http import COOPS_WIND, NWS, OPEN_METEO, TABLE
from tests.test_signal_k_against_its_server import delta
from tests.test_who_is_told import CHANNELS

COUNT: Final = int(os.environ.get("BIGHTWATCH_FUZZ", "6000"))
SENTENCES: Final = [
    *vdm(POSITION),
    *vdm(STATIC, seq_id=3),
    *vdm(POSITION, msg_type=18),
    *vdm(STATIC, msg_type=24, partno=1),
    sealed("$WIMWV,214.8,R,12.4,N,A"),
    sealed("$IIVWR,045.0,L,12.6,N,6.5,M,23.3,K"),
    sealed("$IIVWT,030.0,R,10.1,N,5.2,M,18.7,K"),
    sealed("$WIMDA,30.21,I,1.0230,B,8.5,C,,,82.0,,5.6,C,227.0,T,225.0,M,18.0,N,9.3,M"),
    sealed("$YXXDR,F,231000,N,LC01,C,8.5,C,TAIR,P,1.0,B,BARO"),
    sealed("$GPZDA,092653.58,14,03,2026,00,00"),
    "\\g:1-2-7,s:AI0001,c:1764064931*4A\\" + vdm(POSITION)[0],
    "UdPbC\0\\s:WI0001,c:1764064931*2E\\" + sealed("$WIMWD,227.0,T,225.0,M,18.0,N,9.3,M"),
]
BODIES: Final = {
    "met norway": json.dumps(MET_NORWAY),
    "open-meteo": json.dumps(OPEN_METEO),
    "co-ops wind": json.dumps(COOPS_WIND),
    "co-ops water level": json.dumps({"data": [{"t": "2026-03-14 09:18", "v": "1.2", "s": "0", "f": "0,0,0"}]}),
    "nws": json.dumps(NWS),
    "metar": "KSEA 140918Z 24015G28KT 9999 FEW020 08/03 Q1009",
    "forecast table": TABLE,
}
MESSAGES: Final = [
    delta({"environment.wind.speedApparent": 6.2, "environment.wind.angleApparent": -1.5}),
    delta({"environment.current": {"drift": 0.8, "setTrue": 1.0}, "environment.tide.heightNow": 2.0}),
    delta({"environment.outside.temperature": 283.0, "navigation.datetime": "2026-03-14T09:26:52Z"}),
]


def _station() -> str:
    row = {"name": "M2", "amplitude": 3.49, "phase_GMT": 10.8}
    datums = {"units": "feet", "datums": [{"name": "MSL", "value": 14.58}, {"name": "MLLW", "value": 7.94}]}
    harmonics = {"units": "feet", "HarmonicConstituents": [row]}
    return json.dumps(
        {"stations": [{"name": "x", "lat": 47.6, "datums": datums, "harmonicConstituents": harmonics}]}
    )


STATION: Final = _station()
ABSURD: Final = (
    "1e999",
    "-1e999",
    "NaN",
    "-0",
    "9" * 400,
    "null",
    "true",
    '""',
    "[]",
    "{}",
    "1e-320",
    "0x10",
    "\ud800",
)


def mutated(text: str, dice: random.Random, others: list[str]) -> str:
    """One to three damages."""
    for _ in range(dice.choice((1, 1, 2, 3))):
        a, b = sorted(dice.randrange(len(text) + 1) for _ in range(2))
        match dice.randrange(7):
            case 0:
                text = text[:a] + chr(dice.randrange(256)) + text[a + 1 :]
            case 1:
                text = text[:a]
            case 2:
                text = text[:a] + text[b:]
            case 3:
                text = text[:b] + text[a:b][:200] * dice.choice((1, 2, 50)) + text[b:]
            case 4:
                text = text[:a] + dice.choice(others)[b:]
            case 5:
                digits = [i for i, c in enumerate(text) if c.isdigit()] or [a]
                place = dice.choice(digits)
                text = text[:place] + dice.choice(ABSURD) + text[place + 1 :]
            case 6:
                text = text.replace(*dice.choice(((",", ""), (",", ",,"), ('"', ""), (":", ","), ("\n", "\r"))))
    return text


def sound(value: object) -> None:
    """Every number that came through is finite, and every wind, height and tension one that can be."""
    if isinstance(value, float):
        assert math.isfinite(value), value
    elif isinstance(value, datetime):
        assert value.tzinfo is not None
    elif isinstance(value, tuple):
        for each in value:
            sound(each)
    elif is_dataclass(value):
        for field in fields(value):
            of = getattr(value, field.name)
            sound(of)
            if isinstance(of, float):
                if field.name in ("mean_m_s", "gust_m_s"):
                    assert 0.0 <= of <= 120.0, value
                if field.name.endswith("direction_deg") or field.name in ("off_bow_deg", "heading_deg"):
                    assert 0.0 <= of < 360.0, value
                if field.name == "height_m":
                    assert -15.0 <= of <= 30.0, value


def sentence(text: str) -> None:
    intake = Intake({"feed": "nmea"}, OWN)
    said = intake.parse("feed", text, NOW)
    sound(tuple(said))
    if any(not isinstance(each, Refused) for each in said):  # then a sentence in it was whole
        read = SentenceReader().read(text)
        assert any(isinstance(each, Sentence) and checksum_ok(each) for each in read), text


def reply(carries: str, body: str, status: int = 200) -> None:
    intake = Intake({"met": carries}, OWN)
    said = intake.parse("met", encode(Reply(status, {"date": body[:30], "expires": body[:9]}, body)), NOW)
    assert said
    sound(tuple(said))


def message(text: str) -> None:
    said = Intake({"server": "signal k"}, OWN).parse("server", text, NOW)
    assert said
    sound(tuple(said))


def command(text: str) -> None:
    sentences = AlertSentences("NS", "XYZ")
    change = Transition(
        NOW, "wind", AlertState.NORMAL, AlertState.UNACKNOWLEDGED, Priority.ALARM, False, Reason.RAISED
    )
    for line in sentences.take(change, text):
        assert len(line) <= 82 and line.isascii()
    sentences.command(text, NOW)


def station(text: str) -> None:
    with suppress(NoTide):
        coops_station(text)


def settings_text(text: str) -> None:
    """As the berth's, the stay's, the ship's or the alerts' file: faults are told, or the settings are whole."""
    files = GOOD | {ALERTS_FILE: ALERTS + CHANNELS}
    path = min(files, key=lambda each: abs(len(files[each]) - len(text)))  # the one it was most likely made from
    with tempfile.TemporaryDirectory() as folder:
        write(Path(folder), {**files, path: text.encode("utf-8", "surrogatepass")})  # type: ignore[dict-item]
        try:
            load_stay(Path(folder), NAME)
        except SettingsFault as fault:
            assert fault.faults


def test_sentences() -> None:
    dice = random.Random(1)
    for n in range(COUNT):
        sentence(mutated(SENTENCES[n % len(SENTENCES)], dice, SENTENCES))


def test_a_makers_own_sentence_that_looks_like_a_standard_one() -> None:
    """Found by the fuzzer: `$P…` is the maker's, however it goes on (IEC 61162-1: P makes it proprietary)."""
    for text in ("$PGHDTHP,274.1,T", "$PGHDT,274.1,T", "$GPHDTX,274.1,T", "$CCHDQ,HDT", "$pXHDT,"):
        (said,) = Intake({"feed": "nmea"}, OWN).parse("feed", sealed(text), NOW)
        assert isinstance(said, Refused), text


@pytest.mark.parametrize("carries", list(BODIES))
def test_replies(carries: str) -> None:
    if carries == "metar":
        pytest.importorskip("metar")
    dice = random.Random(2)
    for _ in range(COUNT // 10):
        reply(
            carries, mutated(BODIES[carries], dice, list(BODIES.values())), dice.choice((200, 200, 200, 404, 500))
        )


def test_messages() -> None:
    dice = random.Random(3)
    for n in range(COUNT // 4):
        message(mutated(MESSAGES[n % len(MESSAGES)], dice, MESSAGES))


def test_commands_and_texts() -> None:
    dice = random.Random(4)
    acknowledge = sealed("$BNACN,092240.50,XYZ,10202,1,A,C")
    for _ in range(COUNT // 4):
        command(mutated(acknowledge, dice, SENTENCES))


def test_stations() -> None:
    dice = random.Random(5)
    for _ in range(COUNT // 8):
        station(mutated(STATION, dice, [STATION]))


def test_settings(tmp_path: Path) -> None:
    """Either the faults are told or the settings are whole; in no case another exception."""
    dice, files = random.Random(6), GOOD | {ALERTS_FILE: ALERTS + CHANNELS}
    taken = 0
    for _ in range(max(60, COUNT // 100)):
        path = dice.choice(list(files))
        text = mutated(files[path], dice, list(files.values()))
        write(tmp_path, {**files, path: text.encode("utf-8", "surrogatepass")})  # type: ignore[dict-item]
        try:
            load_stay(tmp_path, NAME)
            taken += 1
        except SettingsFault as fault:
            assert fault.faults
    assert taken < max(60, COUNT // 100) // 2
