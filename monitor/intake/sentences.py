"""From raw text to sentences: NMEA 0183 and AIS as they come over wires, networks and out of logs.

Understood round a sentence: TAG blocks with time and group (NMEA 4.x), the header of an IEC 61162-450 datagram,
several sentences in one text, a `$PGHP` line that stamps the sentence after it (Danish Maritime Authority logs),
and an epoch time behind the checksum (Australian and US logs).
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Final, NamedTuple

from monitor.records.observations import Refusal

LONGEST: Final = 256  # characters up to the "*"; NMEA 0183 allows 82 in all, some receivers send 150
_DATAGRAM_HEADER: Final = "UdPbC\0"  # IEC 61162-450
_BLANK: Final = "\r\n\t \0"
_STARTS: Final = "!$\\"
_HEX: Final = tuple(f"{number:02X}" for number in range(256))


class Sentence(NamedTuple):
    """One sentence from its "!" or "$" up to the "*", the checksum behind it, and the time it was stamped with."""

    text: str
    checksum: str
    stamped_at: datetime | None = None  # by whoever heard it before us


def checksum_ok(sentence: Sentence) -> bool:
    """Whether the checksum is there and right: XOR of the characters behind the first."""
    text = sentence.text
    return _HEX[_exclusive_or(text) ^ ord(text[0])] == sentence.checksum.upper()


def _exclusive_or(text: str) -> int:
    """XOR of at most 256 characters: the text as one number, folded in halves, is quicker than a loop."""
    folded = int.from_bytes(text.encode("latin-1", "replace"), "big")
    folded ^= folded >> 1024
    folded ^= folded >> 512
    folded ^= folded >> 256
    folded ^= folded >> 128
    folded ^= folded >> 64
    folded ^= folded >> 32
    folded ^= folded >> 16
    return (folded ^ folded >> 8) & 0xFF


class SentenceReader:
    """Reads the texts of one source in order; remembers only the stamps that belong to sentences to come."""

    def __init__(self) -> None:
        self._wrapper: tuple[str, datetime] | None = None  # checksum of the sentence it stamps, and the time
        self._group_times: dict[str, datetime] = {}

    def read(self, text: str) -> list[Sentence | Refusal]:
        """What one raw text (latin-1) holds, at least one result: sentences, unchecked, and lines without one."""
        text = text.strip(_BLANK)
        star = len(text) - 3
        alone = 4 <= text.find("*") == star <= LONGEST and "\n" not in text and self._wrapper is None
        if alone and (text[0] == "!" or (text[0] == "$" and text[1:6] != "PGHP,")):
            return [Sentence(text[:star], text[star + 1 :])]  # nearly always: one sentence, nothing round it
        if text.startswith(_DATAGRAM_HEADER):
            text = text[len(_DATAGRAM_HEADER) :].lstrip(_BLANK)
        results = []
        for line in text.split("\n"):
            rest = line.strip(_BLANK)
            while rest:
                result, rest = self._first(rest)
                results.append(result)
        return results or [Refusal.BROKEN]

    def _first(self, text: str) -> tuple[Sentence | Refusal, str]:
        """The first result of a line, and what stands behind it when that is another sentence."""
        stamped_at = None
        if text[0] != "!" and text[0] != "$":
            text = text[_next_start(text) :]  # behind some logger's own prefix the sentence may still be whole
            while text.startswith("\\"):
                tag, _, text = text[1:].partition("\\")
                stamped_at = self._tag_time(tag) or stamped_at
                if not text:
                    return Refusal.NOT_FOR_US, ""  # a TAG block alone
            text = text[_next_start(text) :]
        star = text.find("*")
        if not 4 <= star <= LONGEST:
            return Refusal.BROKEN, ""
        sentence = Sentence(text[:star], text[star + 1 : star + 3], stamped_at)
        rest = text[star + 3 :]
        if rest or self._wrapper is not None or text.startswith("$PGHP,"):
            return self._stamped(sentence, rest)
        return sentence, ""

    def _stamped(self, sentence: Sentence, rest: str) -> tuple[Sentence, str]:
        """The less common sentence: a stamp, or one with a stamp before or behind it, or another on its heels."""
        if sentence.text.startswith("$PGHP,"):
            self._wrapper = _wrapper(sentence)
        elif self._wrapper is not None:
            of_checksum, wrapped_at = self._wrapper
            self._wrapper = None
            if sentence.stamped_at is None and of_checksum in ("", sentence.checksum.upper()):
                sentence = sentence._replace(stamped_at=wrapped_at)
        if not rest:
            return sentence, ""
        end = _next_start(rest)
        if sentence.stamped_at is None and rest.startswith(","):
            sentence = sentence._replace(stamped_at=_epoch(rest[1:end].strip(_BLANK)))
        return sentence, rest[end:]

    def _tag_time(self, tag: str) -> datetime | None:
        """Time of a TAG block: its own `c:`, or that of an earlier line of its group `g:line-lines-id`.

        A wrong TAG checksum never costs the sentence, only the time: except "00", which whole networks send
        instead of a checksum.
        """
        fields, _, checksum = tag.partition("*")
        if len(fields) > LONGEST or checksum.upper() not in ("00", _HEX[_exclusive_or(fields)]):
            return None
        time, line, group = None, "", ""
        for field in fields.split(","):
            if field.startswith("c:"):
                time = _epoch(field[2:])
            elif field.startswith("g:"):
                line, _, group = field[2:].partition("-")
        if not group:
            return time
        if time is None:
            return None if line == "1" else self._group_times.get(group)
        if len(self._group_times) > 100:  # a group is over long before its name comes round again
            self._group_times.clear()
        self._group_times[group] = time
        return time


def _next_start(text: str) -> int:
    """Where the next sentence or TAG block begins; the end of the text if none does."""
    return min((place for start in _STARTS if (place := text.find(start)) >= 0), default=len(text))


def _epoch(digits: str) -> datetime | None:
    """Unix time in seconds (10 digits) or milliseconds (13 digits)."""
    if not digits.isdecimal() or len(digits) not in (10, 13):
        return None
    return datetime.fromtimestamp(int(digits) / (1 if len(digits) == 10 else 1000), UTC)


def _wrapper(sentence: Sentence) -> tuple[str, datetime] | None:
    """`$PGHP,1,year,month,day,hour,minute,second,ms,country,region,station,online,checksum of the sentence`."""
    if not checksum_ok(sentence):
        return None
    fields = sentence.text.split(",")
    try:
        year, month, day, hour, minute, second, milliseconds = map(int, fields[2:9])
        time = datetime(year, month, day, hour, minute, second, milliseconds * 1000, UTC)
    except (ValueError, OverflowError):
        return None
    if time.year < 2000:
        return None
    return fields[13].upper() if len(fields) > 13 else "", time
