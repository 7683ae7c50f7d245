"""Alert sentences of IEC 61162-1 for a bridge alert management system: ALF, ALC, ARC and HBT out, ACN in.

Ours are category B (text is enough to act on), never emergency alarms. States and commands by their letters: V
active, unacknowledged; S active, silenced; A active, acknowledged; U rectified, unacknowledged; N normal.
Layouts and letters as makers' manuals print them (JRC, Furuno, Koden; see the tests); escapes ("^" and two
hexadecimal digits) and the limit of 82 characters from memory. The program is not type-approved: see the
settings for where these may go.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from functools import reduce
from operator import xor
from typing import Final

from monitor.records.events import AlertState, Priority, Transition

LONGEST: Final = 82  # characters from "$" to the line's end
TITLE: Final = 16
HEARTBEAT_S: Final = 30.0
LIST_EVERY_S: Final = 30.0
_RESERVED: Final = frozenset(",*^!\\$~")
_STATES: Final = {
    AlertState.UNACKNOWLEDGED: "V",
    AlertState.SILENCED: "S",
    AlertState.ACKNOWLEDGED: "A",
    AlertState.RECTIFIED: "U",
    AlertState.NORMAL: "N",
}
_PRIORITIES: Final = {Priority.ALARM: "A", Priority.WARNING: "W", Priority.CAUTION: "C"}
_KINDS: Final = {  # what an alert's key begins with → our number for it, and its title
    "passing": (10201, "PASSING SHIP"),
    "wind": (10202, "LINE LOAD WIND"),
    "ahead": (10203, "LINE LOAD AHEAD"),
    "feed": (10204, "INPUT LOST"),
    "clock": (10205, "CLOCK WRONG"),
    "off": (10206, "WATCH WAS OFF"),
    "model": (10207, "LOADS UNKNOWN"),
    "limit": (10208, "BERTH WIND LIMIT"),
    "line": (10209, "LINE REPORTED"),
    "own": (10210, "WATCH IMPAIRED"),
    "untended": (10211, "TEND LINES"),
}
_OTHER: Final = (10299, "MOORING WATCH")


class Command(StrEnum):
    """What a bridge system may ask of us."""

    ACKNOWLEDGE = "A"
    SILENCE = "S"
    REQUEST = "Q"
    TRANSFER = "O"


@dataclass(slots=True)
class _Sent:
    """One alert as last told."""

    number: int
    title: str
    instance: int
    revision: int = 0
    escalations: int = 0
    priority: str = "C"
    state: str = "N"
    text: str = ""
    changed_at: str = ""


@dataclass(slots=True)
class AlertSentences:
    """All alerts of one watch, as sentences. `talker` two letters, `maker` three (the owner of our numbers)."""

    talker: str
    maker: str
    _alerts: dict[str, _Sent] = field(default_factory=dict)
    _instances: dict[int, int] = field(default_factory=dict)
    _sequence: int = 0
    _list_sequence: int = 0
    _beats: int = 0

    def take(self, change: Transition, text: str = "") -> list[str]:
        """ALF for a change of an alert; `text` describes it (a second sentence, when there is any)."""
        sent = self._alerts.get(change.alert) or self._first(change.alert)
        sent.revision = sent.revision % 99 + 1
        priority = _PRIORITIES.get(change.priority, sent.priority)
        if sent.state not in ("N", "U") and (priority, sent.priority) == ("A", "W"):
            sent.escalations = min(sent.escalations + 1, 9)
        sent.priority, sent.state = priority, _STATES[change.after]
        sent.text, sent.changed_at = text or sent.text, _clock(change.at)
        return self._alf(sent)

    def everything(self) -> list[str]:
        """ALF of all that is not normal: the answer to a request."""
        return [line for sent in self._alerts.values() if sent.state != "N" for line in self._alf(sent)]

    def listing(self) -> list[str]:
        """ALC, the cyclic list of all that is not normal; one sentence with no entry when there is nothing."""
        entries = [
            f"{self.maker},{sent.number},{sent.instance},{sent.revision}"
            for sent in self._alerts.values()
            if sent.state != "N"
        ]
        room = (LONGEST - len("$--ALC,01,01,00,0*00\r\n")) // (len("XYZ,10201,999999,99") + 1)
        parts = [entries[i : i + room] for i in range(0, len(entries), room)] or [[]]
        self._list_sequence = (self._list_sequence + 1) % 100
        head = f"ALC,{len(parts):02}"
        return [
            self._sealed(",".join([f"{head},{n:02},{self._list_sequence:02},{len(part)}", *part]))
            for n, part in enumerate(parts, 1)
        ]

    def heartbeat(self, in_order: bool = True) -> str:
        """HBT: how often it comes, and whether we are in order."""
        self._beats = (self._beats + 1) % 10
        return self._sealed(f"HBT,{HEARTBEAT_S:.1f},{'A' if in_order else 'V'},{self._beats}")

    def command(self, sentence: str, now: datetime) -> tuple[Command, str] | str | None:
        """(command, alert key) of an ACN meant for us; ARC to send back when it is refused; None: not for us.

        A request names no alert. Only "C" in the last field makes it a command. A transfer of responsibility is
        refused: people on deck stay ours to warn.
        """
        body, star, checksum = sentence.strip().partition("*")
        fields = body[1:].split(",")
        sound = star and body.startswith("$") and checksum.upper() == f"{_checksum(body[1:]):02X}"
        if not sound or len(fields) != 7 or fields[0][2:] != "ACN" or fields[6] != "C":
            return None
        _, _, maker, number, instance, letter, _ = fields
        if letter == Command.REQUEST and not maker and number in ("", "0"):
            return Command.REQUEST, ""
        if maker != self.maker:
            return None
        for key, sent in self._alerts.items():
            if (str(sent.number), str(sent.instance)) == (number, instance) and sent.state != "N":
                acts = {"A": sent.priority != "C", "S": sent.state == "V", "Q": True}.get(letter, False)
                return (Command(letter), key) if acts else self._refusal(now, number, instance, letter)
        return self._refusal(now, number, instance, letter)

    def _refusal(self, now: datetime, number: str, instance: str, letter: str) -> str:
        return self._sealed(",".join(["ARC", _clock(now), self.maker, number, instance, letter]))

    def _first(self, key: str) -> _Sent:
        number, title = _KINDS.get(key.partition(":")[0], _OTHER)
        self._instances[number] = self._instances.get(number, 0) + 1
        self._alerts[key] = _Sent(number, title, self._instances[number])
        return self._alerts[key]

    def _alf(self, sent: _Sent) -> list[str]:
        self._sequence = (self._sequence + 1) % 10
        mine = [self.maker, str(sent.number), str(sent.instance), str(sent.revision), str(sent.escalations)]
        first = [sent.changed_at, "B", sent.priority, sent.state, *mine, escaped(sent.title, TITLE)]
        second = ["", "", "", "", *mine]
        room = LONGEST - len(f"${self.talker}ALF,2,2,0," + ",".join([*second, "*00\r\n"]))
        description = escaped(sent.text, room)
        rows = [first, [*second, description]] if description else [first]
        head = f"ALF,{len(rows)}"
        return [self._sealed(",".join([head, str(n), str(self._sequence), *row])) for n, row in enumerate(rows, 1)]

    def _sealed(self, fields: str) -> str:
        body = f"{self.talker}{fields}"
        return f"${body}*{_checksum(body):02X}\r\n"


def escaped(text: str, longest: int) -> str:
    """Text as a field may hold it, at most so many characters; what is not ASCII becomes the nearest, or "?"."""
    plain = text.replace("–", "-").replace("°", " deg").replace("×", "x").replace("γ", "g")
    return "".join(_fitting(plain, longest))


def _fitting(text: str, longest: int) -> Iterator[str]:
    for character in text:
        printable = character if " " <= character <= "~" else "?"
        one = f"^{ord(printable):02X}" if printable in _RESERVED else printable
        longest -= len(one)
        if longest < 0:
            return
        yield one


def _checksum(body: str) -> int:
    return reduce(xor, body.encode("latin-1", "replace"), 0)


def _clock(at: datetime) -> str:
    return f"{at:%H%M%S}.{at.microsecond // 10_000:02}"
