"""AIS sentences to run on: recorded ones where they lie beside the checkout, else composed by the simulator."""

from __future__ import annotations

import gzip
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import count, islice
from pathlib import Path
from typing import Final

from monitor.intake.simulated import feed_texts
from monitor.intake.simulated.script import invented_day
from monitor.settings.schema import Settings
from tests.composed import sealed
from tests.conftest import ROOT

Heard = tuple[float, str]  # second, sentence

# Second of the minute and length of each log, by the base stations in it and so that nearly all reports come after
# what they tell; its sentences came at an even pace. The seconds must fit: a report's time is the moment nearest
# to its reception that has the second it tells. A few Australian sentences bring stamps of their day.
LOGS: Final = (("australia_2012-01-27.txt.gz", 7.0, 383.0), ("denmark_2010-06-11_30s.txt.gz", 14.0, 25.0))
_BEGINS: Final = datetime(2012, 1, 27, 11, 47, tzinfo=UTC)
_RIVERS: Final = 100
_ARMOUR: Final = [chr(value + (48 if value < 40 else 56)) for value in range(64)]


@dataclass(frozen=True)
class Sentences:
    """Sentences as bytes, for the decoder, and as text, as readings carry them; when each was heard; in words."""

    lines: list[bytes]
    texts: list[str]
    stamps: list[datetime]
    made_of: str


def gather(number: int, settings: Settings, logs: Path = ROOT.parent / "shared" / "data" / "ais") -> Sentences:
    """So many AIS sentences. Recorded ones are repeated in their order, at their own pace, as often as needed."""
    if all((logs / name).is_file() for name, *_ in LOGS):
        heard = list(islice(_recorded(logs), number))
        made_of = "recorded off Australia (2012) and Denmark (2010), in turn, other kinds of sentence left out"
    else:
        heard = list(islice(_composed(settings), number))
        made_of = f"COMPOSED by the simulator, {_RIVERS} invented rivers heard at once (no recorded logs here)"
    texts = [text for _, text in heard]
    stamps = [_BEGINS + timedelta(seconds=round(second, 6)) for second, _ in heard]
    minutes = (stamps[-1] - stamps[0]) / timedelta(minutes=1)
    made_of = f"{number:,} sentences in {minutes:.1f} min, {made_of}"
    return Sentences([text.encode("latin-1") for text in texts], texts, stamps, made_of)


def _recorded(logs: Path) -> Iterator[Heard]:
    """One log after the other, over and over, each beginning at its second of the next whole minute."""
    texts = {name: _sentences(logs / name) for name, *_ in LOGS}
    minute = 0.0
    while True:
        for name, begins_s, lasts_s in LOGS:
            step_s = lasts_s / len(texts[name])
            for place, text in enumerate(texts[name]):
                yield minute + begins_s + place * step_s, text
            minute += 60.0 * ((begins_s + lasts_s) // 60.0 + 1.0)


def _sentences(log: Path) -> list[str]:
    lines = gzip.decompress(log.read_bytes()).decode("latin-1").splitlines()
    return [line for line in lines if line[:1] == "!" and line[3:6] == "VDM"]


def _composed(settings: Settings) -> Iterator[Heard]:
    """The invented day again and again; its ships many times over under other MMSI."""
    day = invented_day(settings)
    for number in count():
        parts: list[str] = []  # of one message: they must stay together
        for second, text in feed_texts(day, day.ais_feed):
            if text[3:6] != "VDM" or text.count(",") != 6:
                continue
            parts.append(text)
            if text[7] == text[9]:  # the last of them
                for river in range(_RIVERS):
                    yield from ((number * day.seconds + second, _renamed(part, 1000 * river)) for part in parts)
                parts = []


def _renamed(sentence: str, later: int) -> str:
    """The same with another MMSI: bits 8 to 37 of a message, which lie in its first seven characters."""
    fields = sentence.partition("*")[0].split(",")
    if fields[2] != "1":
        return sentence
    head = 0
    for character in fields[5][:7]:
        head = head << 6 | _ARMOUR.index(character)
    mmsi = (head >> 4 & 0x3FFFFFFF) + later
    head = head & ~(0x3FFFFFFF << 4) | mmsi << 4
    renamed = "".join(_ARMOUR[head >> shift & 63] for shift in range(36, -1, -6))
    return sealed(",".join([*fields[:5], renamed + fields[5][7:], fields[6]]))
