"""AIS sentences to ships' fixes and particulars.

pyais unpacks the fields; everything it lets through is checked here: checksum, assembly of parts, payload length,
"not available" values, who may be a ship (Rec. ITU-R M.1371-5; lengths and fields also in E. Raymond, AIVDM/AIVDO
protocol decoding, sections on types 1-5, 18, 19 and 24).
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any, Final

from pyais.bit_vector import bit_vector
from pyais.util import PAYLOAD_ARMOR

from monitor.base.units import KNOT_M_S
from monitor.intake.sentences import Sentence, checksum_ok
from monitor.records.observations import (
    ClockReading,
    Observation,
    OwnNumber,
    Refusal,
    Refused,
    ShipFix,
    ShipParticulars,
)

ACCEPTED: Final = "accepted"
Counts = defaultdict[str, Counter[str]]  # source → "accepted" or a Refusal → raw lines

REPEAT_WITHIN: Final = timedelta(seconds=60)  # the same payload again: another station or feed heard it too
PARTS_WITHIN: Final = timedelta(seconds=10)  # parts of one message follow each other at once
CLASS_B_KEPT: Final = 2000  # craft whose name and size, sent apart (24 A and B), are remembered
CLOCKS_APART: Final = timedelta(seconds=30)  # no stamp may lie further ahead of our own time

_POSITIONS: Final = "123BC"  # types 1, 2, 3, 18, 19 by the first character of the payload
_SHIPS: Final = range(200_000_000, 800_000_000)
_ARMOUR: Final = "".join(PAYLOAD_ARMOR.values()).encode()
_FILL: Final = {str(bits): bits for bits in range(6)}
_WHOLE_SECONDS: Final = tuple(timedelta(seconds=seconds) for seconds in range(-30, 31))
_TENTH_KNOT_M_S: Final = 0.1 * KNOT_M_S


@dataclass(slots=True)
class _Parts:
    """Parts of one message so far; kept for a while when complete, to know a late repeat."""

    begun_at: datetime
    source: str
    texts: list[str | None]
    stamped_at: datetime | None = None
    fill: int = 0
    done: bool = False

    @property
    def count(self) -> int:
        return len(self.texts) - self.texts.count(None)


class ShipParser:
    """Sentences in, observations out. Pure but for its memory of the last minute: it never reads a clock.

    `counts` holds for each source how many lines were accepted or refused, and why; every line fed is counted
    once, as soon as it is decided: those `waiting` still want the rest of their message.
    """

    def __init__(self, own_mmsi: int, counts: Counts | None = None) -> None:
        self.own_mmsi = own_mmsi
        self.counts: Counts = defaultdict(Counter) if counts is None else counts
        self._parts: dict[tuple[str, ...], _Parts] = {}
        self._class_b: dict[int, ShipParticulars] = {}
        self._heard_at: dict[str, datetime] = {}  # payloads of the last minute, whatever the source
        self._swept_at = self._sweep_at = self._parts_swept_at = datetime(1970, 1, 1, tzinfo=UTC)

    @property
    def waiting(self) -> Counter[str]:
        """By source: lines fed but not yet counted."""
        lines: Counter[str] = Counter()
        for parts in self._parts.values():
            if not parts.done:
                lines[parts.source] += parts.count
        return lines

    def feed(self, sentence: Sentence, source: str, received_at: datetime) -> list[Observation]:
        """The observations of one `!` sentence, and of older ones decided by it."""
        if self._parts and abs(received_at - self._parts_swept_at) > PARTS_WITHIN:
            return self._give_up_parts(received_at) + self._feed(sentence, source, received_at)
        return self._feed(sentence, source, received_at)

    def _feed(self, sentence: Sentence, source: str, received_at: datetime) -> list[Observation]:
        text, _, stamped_at = sentence
        kind = text[3:6]
        if kind == "VDO":
            number = _own_number(sentence, source, received_at)
            return self._refuse(Refusal.OWN_SHIP, source, received_at) + number
        if kind != "VDM":
            return self._refuse(Refusal.NOT_FOR_US, source, received_at)
        if not checksum_ok(sentence):
            return self._refuse(Refusal.CHECKSUM, source, received_at)
        fields = text.split(",")  # some receivers add fields behind the fill bits
        if len(fields) < 7 or (fill := _FILL.get(fields[6])) is None:
            return self._refuse(Refusal.BROKEN, source, received_at)
        if fields[1] == "1":
            return self._message(fields[5], fill, source, received_at, stamped_at)
        return self._part(fields, fill, source, received_at, stamped_at)

    # --- messages of several parts --------------------------------------------------------------------------

    def _part(
        self, fields: list[str], fill: int, source: str, received_at: datetime, stamped_at: datetime | None
    ) -> list[Observation]:
        tag, total, number, sequence, channel, payload = fields[:6]
        if not (len(total) == len(number) == 1 and "1" <= number <= total <= "9"):
            return self._refuse(Refusal.BROKEN, source, received_at)
        key, place = (source, tag, total, sequence, channel), int(number) - 1
        parts = self._parts.get(key)
        if parts is not None and parts.texts[place] == payload:
            return self._refuse(Refusal.DUPLICATE, source, received_at)
        lost: list[Observation] = []
        if parts is None or parts.done or parts.texts[place] is not None:
            if parts is not None and not parts.done:
                lost = self._refuse(Refusal.FRAGMENT, source, received_at, parts.count)
            parts = self._parts[key] = _Parts(received_at, source, [None] * int(total))
        parts.texts[place] = payload
        parts.stamped_at = parts.stamped_at or stamped_at
        if number == total:
            parts.fill = fill
        if None in parts.texts:
            return lost
        parts.done = True
        whole = "".join(text for text in parts.texts if text is not None)
        return lost + self._message(whole, parts.fill, source, received_at, parts.stamped_at, parts.count)

    def _give_up_parts(self, now: datetime) -> list[Observation]:
        self._parts_swept_at = now
        old = [key for key, parts in self._parts.items() if abs(now - parts.begun_at) > PARTS_WITHIN]
        gone = [parts for key in old if not (parts := self._parts.pop(key)).done]
        return [r for parts in gone for r in self._refuse(Refusal.FRAGMENT, parts.source, now, parts.count)]

    # --- one whole message ----------------------------------------------------------------------------------

    def _message(
        self,
        payload: str,
        fill: int,
        source: str,
        received_at: datetime,
        stamped_at: datetime | None,
        lines: int = 1,
    ) -> list[Observation]:
        layout = _LAYOUTS.get(payload[:1])
        if layout is None:
            return self._refuse(Refusal.UNUSED_TYPE if payload else Refusal.BROKEN, source, received_at, lines)
        if self._repeated(payload, received_at):
            return self._refuse(Refusal.DUPLICATE, source, received_at, lines)
        least_bits, most_bits, read = layout
        if not least_bits <= 6 * len(payload) - fill <= most_bits:
            return self._refuse(Refusal.LENGTH, source, received_at, lines)
        armoured = payload.encode("latin-1", "replace")
        if armoured.translate(None, _ARMOUR):
            return self._refuse(Refusal.UNDECODABLE, source, received_at, lines)
        observed = read(self, bit_vector(armoured, fill), source, received_at, stamped_at)
        if isinstance(observed, Refusal):
            return self._refuse(observed, source, received_at, lines)
        self.counts[source][ACCEPTED] += lines
        return observed

    def _refuse(self, reason: Refusal, source: str, received_at: datetime, lines: int = 1) -> list[Observation]:
        self.counts[source][reason] += lines
        return [Refused(reason, source, received_at)] * lines

    def _repeated(self, payload: str, now: datetime) -> bool:
        """Whether any source brought the payload less than REPEAT_WITHIN ago; remembers it."""
        before = self._heard_at.get(payload)
        if before is not None and abs(now - before) < REPEAT_WITHIN:
            return True
        if not self._swept_at <= now < self._sweep_at:
            self._swept_at, self._sweep_at = now, now + REPEAT_WITHIN
            self._heard_at = {p: at for p, at in self._heard_at.items() if abs(now - at) < REPEAT_WITHIN}
        self._heard_at[payload] = now
        return False

    def _not_a_target(self, mmsi: int) -> Refusal | None:
        """A ship's own number has nine digits and begins with 2 to 7 (Rec. ITU-R M.585)."""
        if mmsi == self.own_mmsi:
            return Refusal.OWN_SHIP
        return None if mmsi in _SHIPS else Refusal.NOT_A_SHIP

    def _fix(
        self, bits: Any, source: str, received_at: datetime, stamped_at: datetime | None
    ) -> list[Observation] | Refusal:
        """Types 1, 2, 3, 18 and 19: a run of the same fields, four bits later in class A than in class B.

        Nearly all messages are of these types, so the run is taken as one number and shifted: field by field it
        would take twice as long.
        """
        head: int = bits.get(0, 168)
        mmsi = head >> 130 & 0x3FFFFFFF
        if not_a_target := self._not_a_target(mmsi):
            return not_a_target
        class_a = head >> 162 <= 3
        # Speed, accuracy, longitude, latitude, course, heading, second.
        run = head >> 25 if class_a else head >> 29
        latitude = (run >> 27 & 0x7FFFFFF ^ 0x4000000) - 0x4000000  # 1/10 000 min, two's complement
        longitude = (run >> 54 & 0xFFFFFFF ^ 0x8000000) - 0x8000000
        if abs(latitude) > 90 * 600_000 or abs(longitude) > 180 * 600_000:
            absent = latitude == 91 * 600_000 or longitude == 181 * 600_000
            return Refusal.NO_POSITION if absent else Refusal.OUT_OF_RANGE
        if latitude == 0 == longitude:  # what a receiver without a position may send
            return Refusal.NO_POSITION
        speed, course, heading = run >> 83 & 0x3FF, run >> 15 & 0xFFF, run >> 6 & 0x1FF
        status = head >> 126 & 0xF if class_a else 15
        return [
            ShipFix(
                mmsi,
                observed_at(received_at, stamped_at, run & 0x3F),
                received_at,
                latitude / 600_000,
                longitude / 600_000,
                speed * _TENTH_KNOT_M_S if speed < 1022 else None,  # 102.2 kn "or more", 102.3 not available
                course / 10 if course < 3600 else None,
                float(heading) if heading < 360 else None,
                _TURN_DEG_MIN[head >> 118 & 0xFF] if class_a else None,
                status if status < 15 else None,
                class_a,
                source,
            )
        ]

    def _class_a_static(
        self, bits: Any, source: str, received_at: datetime, stamped_at: datetime | None
    ) -> list[Observation] | Refusal:
        """Type 5."""
        mmsi = bits.get(8, 30)
        if not_a_target := self._not_a_target(mmsi):
            return not_a_target
        draught_m = bits.get(294, 8) / 10
        particulars = ShipParticulars(
            mmsi,
            received_at,
            source,
            name=_name(bits, 112),
            ship_type=_ship_type(bits, 232),
            **_size(bits, 240),
            draught_m=draught_m if 0.5 <= draught_m <= 25.0 else None,  # 0 unknown, 25.5 "or more"
        )
        return [particulars]

    def _class_b_extended(
        self, bits: Any, source: str, received_at: datetime, stamped_at: datetime | None
    ) -> list[Observation] | Refusal:
        """Type 19: a position and the particulars; these are good even when the position is not."""
        mmsi = bits.get(8, 30)
        if not_a_target := self._not_a_target(mmsi):
            return not_a_target
        particulars = ShipParticulars(
            mmsi,
            received_at,
            source,
            name=_name(bits, 143),
            ship_type=_ship_type(bits, 263),
            **_size(bits, 271),
        )
        fix = self._fix(bits, source, received_at, stamped_at)
        return [particulars] if isinstance(fix, Refusal) else [*fix, particulars]

    def _class_b_static(
        self, bits: Any, source: str, received_at: datetime, stamped_at: datetime | None
    ) -> list[Observation] | Refusal:
        """Type 24: part A brings the name, part B type and size. Each is given with the other, once heard."""
        mmsi, part = bits.get(8, 30), bits.get(38, 2)
        if not_a_target := self._not_a_target(mmsi):
            return not_a_target
        if part > 1:
            return Refusal.UNDECODABLE
        if part == 1 and len(bits) < 162:
            return Refusal.LENGTH
        known = self._class_b.pop(mmsi, None) or ShipParticulars(mmsi, received_at, source)
        if len(self._class_b) >= CLASS_B_KEPT:
            del self._class_b[next(iter(self._class_b))]  # the one unheard for the longest
        known = replace(known, received_at=received_at, source=source)
        if part == 0:
            known = replace(known, name=_name(bits, 40))
        else:
            known = replace(known, ship_type=_ship_type(bits, 40), **_size(bits, 132))
        self._class_b[mmsi] = known
        return [known]

    def _clock(
        self, bits: Any, source: str, received_at: datetime, stamped_at: datetime | None
    ) -> list[Observation] | Refusal:
        """Types 4 and 11: date and time of a base station's or mobile's own GNSS."""
        day = bits.get(38, 14), bits.get(52, 4), bits.get(56, 5)
        of_day = bits.get(61, 5), bits.get(66, 6), bits.get(72, 6)
        try:
            utc = datetime(*day, *of_day, tzinfo=UTC)
        except ValueError:  # year 0, hour 24, second 60 and the like: not available
            return Refusal.NO_VALUE
        return [ClockReading(utc, received_at, source, by_ais=True)]


def _own_number(sentence: Sentence, source: str, received_at: datetime) -> list[Observation]:
    """By whom our own report was sent; nothing from a broken sentence or one that is no position of a ship."""
    fields = sentence.text.split(",")
    whole = fields[0] == "!AIVDO" and len(fields) >= 7 and fields[1] == "1" and checksum_ok(sentence)
    if not whole or len(fields[5]) < 7 or fields[5][0] not in _POSITIONS:
        return []
    mmsi = bit_vector(fields[5].encode("latin-1", "replace"), 0).get(8, 30)
    return [OwnNumber(mmsi, received_at, source)] if mmsi in _SHIPS else []


def observed_at(received_at: datetime, stamped_at: datetime | None, second: int) -> datetime:
    """When a position held: the moment nearest to its stamp, or else to its reception, with its UTC second.

    `second` is the AIS time stamp, 0..59; above (60 not available, 61-63 modes) the stamp or reception stands.
    A stamp more than half a minute ahead of our own time is somebody's wrong clock and not used. Shore networks
    pass reports on seconds late (measured: up to ten), so their stamps are brought to the report's second too.
    """
    if stamped_at is None or stamped_at > received_at + CLOCKS_APART:
        stamped_at = received_at
    if second > 59:
        return stamped_at
    later_s = (second - stamped_at.second + 30) % 60 - 30
    fraction_us = stamped_at.microsecond
    if fraction_us == 0:
        return stamped_at + _WHOLE_SECONDS[later_s + 30]
    if later_s == -30:  # with the fraction it is nearer ahead than behind
        later_s = 30
    return stamped_at + timedelta(0, later_s, -fraction_us)


def _size(bits: Any, at: int) -> dict[str, Any]:
    """Length, beam and place of the antenna from four distances.

    511 and 63 mean "that or more": how much is not known. No distance to the bow (A = 0), or to both bow and port
    side, is how an unknown place of the antenna is sent.
    """
    sent = bits.get(at, 30)
    to_bow_m, to_stern_m, to_port_m, to_starboard_m = sent >> 21, sent >> 12 & 511, sent >> 6 & 63, sent & 63
    both_sides = to_port_m < 63 and to_starboard_m < 63
    length_m, beam_m = possible_size(
        float(to_bow_m + to_stern_m), float(to_port_m + to_starboard_m) if both_sides else None
    )
    return {
        "length_m": length_m,
        "beam_m": beam_m,
        "to_bow_m": float(to_bow_m) if length_m and to_bow_m > 0 else None,
        "to_port_m": float(to_port_m) if beam_m and (to_bow_m > 0 or to_port_m > 0) else None,
    }


def possible_size(length_m: float | None, beam_m: float | None) -> tuple[float | None, float | None]:
    """Length and beam as far as a hull can have them, alone and together; else None.

    The largest hull ever was 458 m long, the widest is 124 m (from memory).
    """
    if length_m is not None and not 2 <= length_m <= 460:
        length_m = None
    if beam_m is not None and not 1 <= beam_m <= 125:
        beam_m = None
    if length_m and beam_m and not 1.0 <= length_m / beam_m <= 20.0:
        return None, None
    return length_m, beam_m


def _name(bits: Any, at: int) -> str | None:
    """Twenty six-bit characters; the text ends at its first "@"."""
    text: str = bits.get_str(at, 120)
    return text.partition("@")[0].strip() or None


def _ship_type(bits: Any, at: int) -> int | None:
    sent: int = bits.get(at, 8)
    return sent if 1 <= sent <= 99 else None


def _turn_deg_min(sent: int) -> float | None:
    """Rate of turn, degrees a minute: sent as 4.733 times its root, one byte; ±127 and -128 tell no rate."""
    indicator = sent - 256 if sent > 127 else sent
    return None if abs(indicator) >= 127 else math.copysign((indicator / 4.733) ** 2, indicator)


_TURN_DEG_MIN: Final = tuple(map(_turn_deg_min, range(256)))
_Read = Callable[[ShipParser, Any, str, datetime, datetime | None], list[Observation] | Refusal]
# By the first character of the payload, which is the message type: least and most bits, and who reads it.
_LAYOUTS: Final[dict[str, tuple[int, int, _Read]]] = {
    "1": (168, 168, ShipParser._fix),
    "2": (168, 168, ShipParser._fix),
    "3": (168, 168, ShipParser._fix),
    "4": (168, 168, ShipParser._clock),
    "5": (420, 426, ShipParser._class_a_static),
    ";": (168, 168, ShipParser._clock),  # 11
    "B": (168, 168, ShipParser._fix),  # 18
    "C": (312, 312, ShipParser._class_b_extended),  # 19
    "H": (160, 168, ShipParser._class_b_static),  # 24
}
