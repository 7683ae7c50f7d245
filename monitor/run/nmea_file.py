"""The sentences of a journal as an NMEA file that other programs read: TAG blocks tell when and where from."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import reduce
from operator import xor
from pathlib import Path

from monitor.intake.sentences import Sentence, SentenceReader, checksum_ok
from monitor.records.events import RawReading
from monitor.run.journal import Entry


@dataclass(frozen=True, slots=True)
class NmeaFile:
    """How many sentences were written, and how many lines were left out: no sentence, or its checksum wrong."""

    written: int
    left_out: int


def export_nmea(entries: Iterable[Entry], path: Path) -> NmeaFile:
    """Write the good sentences among raw readings, one a line, each behind a TAG block (NMEA 0183 v4.10).

    `s:` is the feed's name (its letters, digits, "-" and "_", at most 15), `c:` our stamp in milliseconds since
    1970, UTC. These stand in place of any TAG block the sentence came with; a recording folder keeps that too.
    """
    written = left_out = 0
    readers: defaultdict[str, SentenceReader] = defaultdict(SentenceReader)
    with path.open("w", encoding="latin-1", newline="\r\n") as file:
        for entry in entries:
            reading = entry.record if entry.kind == "RawReading" else None
            if not isinstance(reading, RawReading):
                continue
            station = re.sub(r"[^A-Za-z0-9_-]", "-", reading.source)[:15]
            tag = f"s:{station},c:{entry.stamped_us // 1000}"
            tag_block = f"\\{tag}*{reduce(xor, tag.encode()):02X}\\"
            for result in readers[reading.source].read(reading.text):
                if isinstance(result, Sentence) and checksum_ok(result):
                    file.write(f"{tag_block}{result.text}*{result.checksum}\n")
                    written += 1
                else:
                    left_out += 1
    return NmeaFile(written, left_out)
