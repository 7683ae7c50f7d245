"""What stands round a sentence: TAG blocks, datagram headers, stamps before and behind, and dirt.

Forms are those of NMEA 4.x TAG blocks, IEC 61162-450 datagrams and the logs named beside each test.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from monitor.intake.parser import Intake
from monitor.intake.sentences import Sentence, SentenceReader, checksum_ok
from monitor.records.observations import Refusal, Refused, ShipFix
from tests.composed import NOW, OWN, POSITION, sealed, vdm

FIX = vdm(POSITION)[0]
OTHER = vdm(POSITION, mmsi=200911002)[0]
AT = datetime(2025, 11, 25, 10, 2, 11, tzinfo=UTC)
EPOCH = int(AT.timestamp())


def tag(fields: str, checksum: str | None = None) -> str:
    right = sealed("!" + fields)[-2:]
    return f"\\{fields}*{right if checksum is None else checksum}\\"


def stamps(*texts: str) -> list[datetime | None]:
    """Stamps of all the good sentences."""
    reader = SentenceReader()
    results = [result for text in texts for result in reader.read(text)]
    good = [r for r in results if isinstance(r, Sentence) and checksum_ok(r) and not r.text.startswith("$PGHP")]
    return [sentence.stamped_at for sentence in good]


@pytest.mark.parametrize(
    ("text", "stamp"),
    [
        (FIX, None),
        (tag(f"s:AI0001,c:{EPOCH}") + FIX, AT),
        (tag(f"c:{EPOCH}500,s:AI0001") + FIX, AT + timedelta(seconds=0.5)),
        (tag(f"s:AI0001,c:{EPOCH},d:X,t:harbour,i:y,n:12") + FIX, AT),
        (tag(f"s:AI0001,c:{EPOCH}", checksum="00") + FIX, AT),  # an Australian network's
        (tag(f"s:AI0001,c:{EPOCH}", checksum="7E") + FIX, None),  # damaged: no reason to lose the fix
        (tag("s:AI0001") + FIX, None),
        (tag("c:soon") + FIX, None),
        (tag("c:12345678901") + FIX, None),
        (tag("c:²³¹²³¹²³¹²") + FIX, None),
        (tag(f"c:{EPOCH}") + tag("s:AI0001") + FIX, AT),
        (f"{FIX},{EPOCH}", AT),  # Australian and US logs
        (f"{FIX},{EPOCH}250", AT + timedelta(seconds=0.25)),
        (f"{FIX},r003669945", None),
        (f"2025-11-25T10:02:11Z\t{FIX}", None),  # a logger's own prefix
        (f"UdPbC\0{tag(f's:AI0001,c:{EPOCH}')}{FIX}\r\n", AT),
        (f"\0\0{FIX}\r\n\0", None),
    ],
)
def test_one_sentence(text: str, stamp: datetime | None) -> None:
    assert stamps(text) == [stamp]


def test_tag_group_gives_its_time_to_all_its_lines() -> None:
    """`g:line-lines-id`: only the first line has the time (as in a log of 2012)."""
    assert stamps(
        tag(f"g:1-2-3985,s:X,c:{EPOCH}") + FIX,
        tag(f"s:Y,c:{EPOCH + 7}") + FIX,
        tag("g:2-2-3985") + OTHER,
        tag("g:2-2-77") + OTHER,
        tag("g:1-2-3985") + FIX,  # the name comes round again, without a time
    ) == [AT, AT + timedelta(seconds=7), AT, None, None]


def test_wrapper_stamps_the_next_sentence_only() -> None:
    """`$PGHP` of the Danish Maritime Authority; its last field is the checksum of the sentence it belongs to."""
    wrapper = sealed(f"$PGHP,1,2025,11,25,10,2,11,390,219,45,992190934,1,{FIX[-2:]}")
    at = AT + timedelta(seconds=0.39)
    assert stamps(wrapper, FIX, FIX) == [at, None]
    assert stamps(wrapper, OTHER, FIX) == [None, None]
    assert stamps(wrapper, tag(f"c:{EPOCH}") + FIX) == [AT]
    assert stamps(f"{wrapper},{EPOCH}", f"{FIX},{EPOCH + 90}") == [at]  # the archive's time is behind it
    assert stamps(wrapper[:-2] + "00", FIX) == [None]
    assert stamps(sealed("$PGHP,1,2025,11,31,10,2,11,390,219,45,992190934,1,"), FIX) == [None]
    assert stamps(sealed("$PGHP,1,2025"), FIX) == [None]
    assert stamps(sealed("$PGHP,1,1,1,1,0,0,0,0,219,45,992190934,1,"), FIX) == [None]


def test_stamp_dates_the_fix() -> None:
    """Ten hours old by its stamp: then the fix is ten hours old."""
    intake = Intake({"ais": "ais"}, OWN)
    (fix,) = intake.parse("ais", f"{FIX},{int(NOW.timestamp()) - 36000}", NOW)
    assert isinstance(fix, ShipFix)
    assert fix.observed_at == (NOW - timedelta(hours=10)).replace(second=52, microsecond=0)


@pytest.mark.parametrize("between", ["\r\n", "\n", "\r", "", " ", "\r\n\r\n\0"])
def test_several_sentences_in_one_text(between: str) -> None:
    intake = Intake({"ais": "ais"}, OWN)
    fixes = intake.parse("ais", f"UdPbC\0{tag('s:A')}{FIX}{between}{tag('s:A')}{OTHER}{between}", NOW)
    assert [fix.mmsi for fix in fixes if isinstance(fix, ShipFix)] == [200911001, 200911002]
    assert intake.counts["ais"] == {"accepted": 2}


def test_a_broken_line_does_not_cost_its_neighbours() -> None:
    intake = Intake({"ais": "ais"}, OWN)
    seen = intake.parse("ais", f"$GPZ\n{FIX}\n!AIVDM,1,1,,A,1\nnoise\n{OTHER}", NOW)
    assert [type(o).__name__ for o in seen] == ["Refused", "ShipFix", "Refused", "Refused", "ShipFix"]
    assert intake.counts["ais"] == {"accepted": 2, Refusal.BROKEN: 3}


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", Refusal.BROKEN),
        ("\r\n", Refusal.BROKEN),
        ("\0\0\0", Refusal.BROKEN),
        ("hello", Refusal.BROKEN),
        ("!*00", Refusal.BROKEN),
        ("!" + "A" * 300 + "*00", Refusal.BROKEN),
        ("!" * 5000, Refusal.BROKEN),
        ("\\si:AISD*3F\\", Refusal.NOT_FOR_US),  # a TAG block alone
        ("\\si:AISD*3F", Refusal.NOT_FOR_US),
        ("\\", Refusal.NOT_FOR_US),
        (sealed("$PSHI,001,01.53524524,,01691,32611"), Refusal.NOT_FOR_US),
        (sealed("!AIPWR,UNIT=0"), Refusal.NOT_FOR_US),
        (FIX.replace("12", "13"), Refusal.CHECKSUM),
    ],
)
def test_dirt_has_one_reason(text: str, why: Refusal) -> None:
    intake = Intake({"ais": "ais"}, OWN)
    seen = intake.parse("ais", text, NOW)
    assert intake.counts["ais"] == {why: 1} and len(seen) == 1


def test_dirt_behind_a_sentence_does_not_cost_it() -> None:
    for behind in ("noise", ",noise", "*", FIX[:10]):
        assert stamps(FIX + behind) == [None]


def test_unknown_source_is_refused_not_guessed() -> None:
    intake = Intake({"ais": "ais"}, OWN)
    assert intake.parse("another", FIX, NOW) == [Refused(Refusal.NOT_FOR_US, "another", NOW)]
