"""Everything a screen shows at one moment: facts, no words. `run/picture` takes it, `outlet/console` draws it.

Places are in ship axes: forward of midships, to starboard of the centre line, metres.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from monitor.records.decks import Ground, Way
from monitor.records.estimates import Band, LoadEstimate, Outlook, WaterEstimate
from monitor.records.events import AlertState, Priority
from monitor.records.situations import Situation


class Mode(StrEnum):
    """Where the picture comes from."""

    LIVE = "live"
    REPLAY = "replay"


@dataclass(frozen=True, slots=True)
class Spot:
    """A named place: a bollard or a fender. `known` is False when its strength is not known."""

    name: str
    forward_m: float
    starboard_m: float
    known: bool = True


@dataclass(frozen=True, slots=True)
class Lead:
    """A line from her fairlead to its bollard, and the drum or bitts that hold it."""

    line: str
    group: str
    fairlead: tuple[float, float]
    bollard: tuple[float, float]
    bollard_name: str
    winch: str


@dataclass(frozen=True, slots=True)
class Plan:
    """What stands still: ship, quay, bollards, fenders, lines as led, fairway."""

    ship: str
    berth: str
    port: str
    loa_m: float
    beam_m: float
    heading_deg: float
    quay_y_m: float  # face of the quay: negative when it lies to port
    quay_from_m: float  # its ends, forward of midships
    quay_to_m: float
    bollards: tuple[Spot, ...]
    fenders: tuple[Spot, ...]
    leads: tuple[Lead, ...]
    fairway_middle: tuple[tuple[float, float], ...]
    fairway_width_m: float
    grounds: tuple[Ground, ...] = ()  # mooring decks and the quay edge; none without deck plans
    ways: tuple[Way, ...] = ()  # of the lines over the decks


@dataclass(frozen=True, slots=True)
class NearShip:
    """Another ship near the berth, where she is reckoned to be. None: not known."""

    mmsi: int
    name: str
    forward_m: float
    starboard_m: float
    off_our_heading_deg: float | None  # where her bow points, clockwise from ours
    length_m: float | None
    beam_m: float | None
    speed_ground_m_s: float | None
    at_rest: bool
    fix_age_s: float


@dataclass(frozen=True, slots=True)
class StandingAlert:
    """An alert people must know of. `situation` None: the facts behind it are gone."""

    key: str
    state: AlertState
    priority: Priority
    unknown: bool
    since: datetime
    silent_until: datetime | None
    situation: Situation | None
    about: str = ""  # in words


@dataclass(frozen=True, slots=True)
class Past:
    """What was estimated at one moment of the past; None: not known then."""

    at: datetime
    line: str  # the heaviest
    utilisation: Band | None
    wind_m_s: Band | None
    gust_m_s: float | None
    from_direction_deg: float | None
    level_m: float | None = None  # of the water, above chart datum
    level_source: str = ""  # the gauge it was brought to; "" is by the tables


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch during which an alert stood at one priority; `until` None: it still does."""

    alert: str
    priority: Priority
    since: datetime
    until: datetime | None


@dataclass(frozen=True, slots=True)
class LogRow:
    """One line of the log: what happened to what, and who did it."""

    at: datetime
    kind: str  # "alert", "notice", "entry", "watch"
    subject: str  # in words
    text: str
    who: str = ""
    alert: str = ""  # key of the alert it is about


@dataclass(frozen=True, slots=True)
class FeedRow:
    """One input. `age_s` since its last usable reading; None when there was none yet."""

    name: str
    carries: str
    where: str
    up: bool
    dark: bool
    detail: str
    age_s: float | None
    stale_after_s: float
    accepted: int
    refused: int
    last_at: datetime | None
    last_raw: str


@dataclass(frozen=True, slots=True)
class Measured:
    """What a line's force sensor says. `tension_n` None: nothing lately; `at` of its last reading, None: never."""

    line: str
    sensor: str
    tension_n: float | None
    at: datetime | None
    beyond_n: Band | None = None  # by friction on the other side of the fairlead; None: its turn is not told


@dataclass(frozen=True, slots=True)
class GaugeNow:
    """The gauge in use: what it last showed, and how far that is above the tables (None: they tell nothing)."""

    source: str
    level_m: float  # above chart datum
    above_tables_m: float | None
    at: datetime


@dataclass(frozen=True, slots=True)
class StayNow:
    """What people have told of the stay."""

    phase: str
    moored: bool
    people_on_deck: bool
    people_where: str
    deck_manned: bool  # people are, or must be expected, on the mooring decks
    draught_forward_m: float
    draught_aft_m: float
    craft: tuple[tuple[int, float | None], ...]  # MMSI, lateral area m² (None: not told)
    line_words: tuple[tuple[str, str], ...]  # line, last word on it


@dataclass(frozen=True, slots=True)
class BerthLimit:
    """A wind limit of the berth as typed; `speed_m_s` None: not entered."""

    name: str
    speed_m_s: float | None
    on: str = ""
    averaging_s: float = 0.0
    source: str = ""


@dataclass(frozen=True, slots=True)
class LevelsNow:
    """Utilisations at which each priority is raised, as in force now."""

    caution: float
    warning: float
    alarm: float


@dataclass(frozen=True, slots=True)
class Picture:
    """One moment of the watch, live or replayed."""

    mode: Mode
    title: str  # name of the recording; "" when live
    invented: bool
    now: datetime
    ahead_of_utc: timedelta  # local time less UTC
    plan: Plan
    levels: LevelsNow
    estimate: LoadEstimate | None
    outlook: Outlook | None
    alerts: tuple[StandingAlert, ...]  # most urgent first
    ships: tuple[NearShip, ...]
    past: tuple[Past, ...]  # oldest first
    spans: tuple[Span, ...]
    tide: tuple[WaterEstimate, ...]  # from an hour ago to twelve hours ahead, as the loads take it
    log: tuple[LogRow, ...]  # newest first
    feeds: tuple[FeedRow, ...]
    stay: StayNow
    limits: tuple[BerthLimit, ...]
    assumed: tuple[str, ...]
    program: str  # version
    settings_sha256: str = ""
    by_tables: tuple[WaterEstimate, ...] = ()  # the same hours by the tables alone; none when no gauge is in use
    gauge: GaugeNow | None = None
    measured: tuple[Measured, ...] = ()  # lines with a force sensor
    wind_choices: tuple[tuple[str, str], ...] = ()  # source, "in use" or why not; in their order
