"""One call for the pipeline: the raw text of a feed in, observations out."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from datetime import datetime
from typing import Final

from monitor.intake import marinecadastre
from monitor.intake.met import decode
from monitor.intake.met.services import SERVICES
from monitor.intake.sentences import Sentence, SentenceReader
from monitor.intake.ships import ACCEPTED, Counts, ShipParser
from monitor.intake.signal_k import SignalKParser
from monitor.intake.wind import NmeaParser
from monitor.records.observations import Observation, Refusal, Refused

DECODED_AIS: Final = "decoded ais csv"
SIGNAL_K: Final = "signal k"


class Intake:
    """Parses every feed of a stay. `carries` says what each source sends, as the stay's settings have it.

    "ais" and "nmea" feeds take either kind of sentence, since one receiver often mixes them. `counts` holds, by
    source, how many lines were accepted or refused and why; a met service's reply and a row of decoded AIS count
    as one line each.
    """

    def __init__(self, carries: Mapping[str, str], own_mmsi: int) -> None:
        self.counts: Counts = defaultdict(Counter)
        self._carries = carries
        self._readers = {source: SentenceReader() for source in carries}
        self._ships = ShipParser(own_mmsi, self.counts)
        self._nmea = NmeaParser(self.counts)
        self._signal_k = SignalKParser(self.counts)

    @property
    def pending(self) -> int:
        """Lines not yet counted: parts of AIS messages that wait for the rest."""
        return self.waiting.total()

    @property
    def waiting(self) -> Counter[str]:
        """The same by source."""
        return self._ships.waiting

    def parse(self, source: str, text: str, received_at: datetime) -> list[Observation]:
        """What one raw reading says; empty while a message of several parts is incomplete. Never raises."""
        reader = self._readers.get(source)
        if reader is None:
            return self._refuse(Refusal.NOT_FOR_US, source, received_at)
        carries = self._carries[source]
        if carries in SERVICES:
            return self._met(carries, source, text, received_at)
        if carries == DECODED_AIS:
            return self._decoded(source, text, received_at)
        if carries == SIGNAL_K:
            return self._signal_k.feed(text, source, received_at)
        results = reader.read(text)
        if len(results) == 1:
            return self._take(results[0], source, received_at)
        return [o for result in results for o in self._take(result, source, received_at)]

    def _take(self, result: Sentence | Refusal, source: str, received_at: datetime) -> list[Observation]:
        if isinstance(result, Refusal):
            return self._refuse(result, source, received_at)
        parser = self._ships if result.text[0] == "!" else self._nmea
        return parser.feed(result, source, received_at)

    def _met(self, carries: str, source: str, text: str, received_at: datetime) -> list[Observation]:
        try:
            reply = decode(text)
        except ValueError:
            return self._refuse(Refusal.BROKEN, source, received_at)
        said = SERVICES[carries].parse(reply, received_at, source)
        self.counts[source][said[0].reason if isinstance(said[0], Refused) else ACCEPTED] += 1
        return list(said)

    def _decoded(self, source: str, text: str, received_at: datetime) -> list[Observation]:
        said = marinecadastre.parse(text, source, received_at, self._ships.own_mmsi)
        self.counts[source][said[-1].reason if isinstance(said[-1], Refused) else ACCEPTED] += 1
        return said

    def _refuse(self, reason: Refusal, source: str, received_at: datetime) -> list[Observation]:
        self.counts[source][reason] += 1
        return [Refused(reason, source, received_at)]
