"""A simulated day: what every feed would have sent, byte for byte, from a script and a seed.

A simulated source emits raw text, so it exercises the parsers too. Pure: the same day gives the same bytes, in
whole or in part, whatever was asked before. Times of the script are minutes since the day began.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

import numpy as np

from monitor.base.frames import LocalMap
from monitor.intake.met import Reply, encode
from monitor.intake.simulated import transponders, winds
from monitor.intake.simulated.forecasts import ForecastScript, polls, reply
from monitor.intake.simulated.tracks import Track, Voyage, sail
from monitor.intake.simulated.transponders import Ship
from monitor.intake.simulated.winds import WindScript
from monitor.records.events import (
    Beat,
    In,
    OperatorAction,
    RawReading,
    SettingsSnapshot,
    SourceStatus,
    Started,
    Stopped,
)

Timed = tuple[float, str]  # (second of the day when it is heard, text)
_Message = tuple[float, list[str]]  # (second of the day, all sentences of one AIS message)
_BASE_STATION_AT_DEG: Final = (0.012, -0.021)  # from the berth: north, east
_WORST_DELAY_S: Final = 0.9
_SENTENCE_S: Final = 0.004  # on the wire


@dataclass(frozen=True, slots=True)
class Silence:
    """A feed says nothing between two minutes; the collector finds out after some time, a broken line at once."""

    feed: str
    from_minute: float
    to_minute: float
    found_after_s: float
    detail: str


@dataclass(frozen=True, slots=True)
class Faults:
    """Shares of AIS messages lost on the air, heard twice, with a wrong character, and cut short."""

    lost: float = 0.04
    twice: float = 0.01
    garbled: float = 0.004
    cut: float = 0.003


@dataclass(frozen=True, slots=True)
class Day:
    """The whole script. Feeds by the names they have in the stay file."""

    begins_at: datetime
    minutes: float
    seed: int
    latitude_deg: float  # of the berth's reference position
    longitude_deg: float
    along_deg: float
    heading_deg: float  # own ship's
    ais_feed: str
    wind_feed: str
    forecast_feed: str
    base_station_mmsi: int
    ships: tuple[tuple[Ship, Voyage], ...]
    wind: WindScript
    forecast: ForecastScript
    silences: tuple[Silence, ...] = ()
    actions: tuple[tuple[float, OperatorAction], ...] = ()
    faults: Faults = Faults()

    @property
    def seconds(self) -> float:
        """How long the day lasts."""
        return self.minutes * 60.0

    @property
    def feeds(self) -> tuple[str, ...]:
        """All feeds."""
        return self.ais_feed, self.wind_feed, self.forecast_feed

    def at(self, second: float) -> datetime:
        """UTC of a second of the day, to the millisecond."""
        return self.begins_at + timedelta(milliseconds=round(second * 1000.0))

    def track(self, voyage: Voyage) -> Track:
        """Where the script has a ship, second by second."""
        return sail(voyage, self.seconds, self.along_deg)


def events(day: Day, settings: SettingsSnapshot, version: str) -> Iterator[tuple[datetime, In]]:
    """Everything the one consumer would have stamped and journalled, in time order."""
    yield day.at(0.0), settings
    yield day.at(0.0), Started(version)
    streams: list[Iterable[tuple[float, In]]] = [
        ((float(second), Beat()) for second in range(1, int(day.seconds))),
        _statuses(day),
        *(_readings(day, feed) for feed in day.feeds),
        ((minute * 60.0, action) for minute, action in day.actions),
    ]
    for second, record in heapq.merge(*streams, key=lambda event: event[0]):
        if second < day.seconds:
            yield day.at(second), record
    yield day.at(day.seconds), Stopped("the scripted day is over")


def _readings(day: Day, feed: str) -> Iterator[tuple[float, In]]:
    return ((second, RawReading(feed, text)) for second, text in feed_texts(day, feed))


def feed_texts(day: Day, feed: str) -> Iterator[Timed]:
    """(second, text) of all a feed sends, in time order, without line ends and without its silences.

    A forecast comes as the envelope the collector would have made of the reply. Raises ValueError for an unknown
    feed.
    """
    makers = {day.ais_feed: _ais, day.wind_feed: _wind, day.forecast_feed: _forecast}
    if feed not in makers:
        raise ValueError(f"no feed '{feed}' in this day; there are: {', '.join(makers)}")
    silent = [(60.0 * s.from_minute, 60.0 * s.to_minute) for s in day.silences if s.feed == feed]
    for second, text in makers[feed](day):
        if second < day.seconds and not any(begin <= second < end for begin, end in silent):
            yield second, text


def feed_bytes(day: Day, feed: str, begin: datetime, end: datetime) -> Iterator[tuple[datetime, bytes]]:
    """(time, bytes with their line end) of a feed within [begin, end): for serving it over a real socket."""
    for second, text in feed_texts(day, feed):
        if begin <= (at := day.at(second)) < end:
            yield at, text.encode("latin-1") + b"\r\n"


def _ais(day: Day) -> Iterator[Timed]:
    here = LocalMap(day.latitude_deg, day.longitude_deg)
    messages = []
    for number, (ship, voyage) in enumerate(day.ships):
        sent = transponders.transmissions(ship, day.track(voyage), here, day.along_deg, day.begins_at, day.seed)
        messages.append(_received(sent, day, number))
    messages.append(_received(_base_station(day), day, len(day.ships)))
    free_s = 0.0  # when the line from the receiver is free: the sentences of a message stay together
    for heard_s, sentences in heapq.merge(*messages):
        free_s = max(free_s, heard_s)
        for sentence in sentences:
            yield free_s, sentence
            free_s += _SENTENCE_S


def _base_station(day: Day) -> Iterator[_Message]:
    north_deg, east_deg = _BASE_STATION_AT_DEG
    place = day.latitude_deg + north_deg, day.longitude_deg + east_deg
    for second in np.arange(3.0, day.seconds, transponders.BASE_STATION_S):
        yield float(second), transponders.base_station(day.base_station_mmsi, *place, day.at(float(second)))


def _received(sent: Iterator[_Message], day: Day, number: int) -> Iterator[_Message]:
    """What the receiver makes of it: a short delay, and the faults of radio, cable and software."""
    faults = day.faults
    rng = np.random.default_rng([day.seed, 3, number])
    before_s = 0.0
    for second, sentences in sent:
        lost, twice, garbled, cut, delay, place = rng.random(6)
        if lost < faults.lost:
            continue
        if garbled < faults.garbled:
            sentences = [*sentences[:-1], _garbled(sentences[-1], place)]
        elif cut < faults.cut:
            sentences = [*sentences[:-1], _cut(sentences[-1], place, mended=cut < 0.5 * faults.cut)]
        before_s = max(before_s, second + 0.08 + _WORST_DELAY_S * delay * delay)  # mostly short
        yield before_s, sentences * (2 if twice < faults.twice else 1)


def _garbled(sentence: str, place: float) -> str:
    """One wrong character in the payload: the checksum no longer fits."""
    i = 14 + int(place * (len(sentence) - 20))
    return sentence[:i] + ("w" if sentence[i] != "w" else "0") + sentence[i + 1 :]


def _cut(sentence: str, place: float, mended: bool) -> str:
    """Cut within the payload; `mended`: by a sender who then put a good checksum to what was left."""
    kept = sentence[: 20 + int(place * max(1, len(sentence) - 30))]
    return winds.nmea(kept[1:] + ",0").replace("$", "!", 1) if mended else kept


def _wind(day: Day) -> Iterator[Timed]:
    return winds.sentences(day.wind, day.heading_deg, day.seconds, day.seed)


def _forecast(day: Day) -> Iterator[Timed]:
    for second in polls(day.forecast, day.seconds):
        yield second, encode(forecast_reply(day, day.at(second)))


def forecast_reply(day: Day, asked_at: datetime) -> Reply:
    """What the forecast service answers to a question asked at a time of the day."""
    return reply(day.forecast, day.wind, day.begins_at, asked_at, day.latitude_deg, day.longitude_deg)


def _statuses(day: Day) -> Iterator[tuple[float, In]]:
    told = [(0.0, SourceStatus(feed, True, "heard")) for feed in day.feeds]
    for silence in day.silences:
        found_s = 60.0 * silence.from_minute + silence.found_after_s
        told.append((found_s, SourceStatus(silence.feed, False, silence.detail)))
        told.append((60.0 * silence.to_minute, SourceStatus(silence.feed, True, "heard again")))
    yield from sorted(told, key=lambda event: event[0])
