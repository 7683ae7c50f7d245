"""What a review of a stay shows: facts, no words. `watch/reviewed` gathers it, `outlet/report` tells it.

Times are aware UTC. None is not known.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Final

from monitor.records.estimates import Band, LineLoad, LoadEstimate, PassingKind
from monitor.records.events import Notice, OperatorAction, Priority

SPARSE: Final = timedelta(seconds=15)


class Before(StrEnum):
    """The moments at which one asks what had been expected."""

    FIRST = "first notice"
    EARLY = "15 min before"
    LATE = "5 min before"


@dataclass(frozen=True, slots=True)
class Expected:
    """What was expected of a pass at one moment before it. `chance`: that some line passes its working limit."""

    before: Before
    at: datetime
    abeam_at: datetime
    passes: float
    distance_m: Band
    speed_ground_m_s: Band
    speed_water_m_s: Band
    heaviest: LineLoad | None
    chance: float | None


@dataclass(frozen=True, slots=True)
class Passed:
    """One ship's pass as AIS and the estimates have it. `expected` holds numbers only after a replay; `told`
    are the notices of the time.

    `passed` False: told as coming, but her hull was never abreast of ours; `abeam_at` is then when she was
    nearest. `heaviest` is the line with the highest share of its limit while she was abreast; `steady`, the
    same line without her. `reckoned_s`: how old her last position was at the worst while she was abreast.
    """

    mmsi: int
    name: str
    length_m: float | None
    passed: bool
    kind: PassingKind
    abeam_at: datetime
    overlap_from: datetime
    overlap_to: datetime
    distance_m: float
    speed_ground_m_s: float | None
    speed_water_m_s: float | None
    reckoned_s: float
    expected: tuple[Expected, ...]
    told: tuple[Notice, ...]
    highest: Priority
    heaviest: LineLoad | None
    steady: LineLoad | None
    estimates: int  # how many estimates fell into her pass
    measured_n: tuple[tuple[str, float], ...]  # by line: highest tension measured while she was abreast

    @property
    def sparse(self) -> bool:
        """Estimates were so far apart that the peak of her load may lie between two of them."""
        return self.estimates * SPARSE < self.overlap_to - self.overlap_from


@dataclass(frozen=True, slots=True)
class Forecast:
    """What a forecast said of one moment, and when it said so."""

    issued_at: datetime
    source: str
    mean_m_s: float | None
    gust_m_s: float | None
    from_direction_deg: float | None


@dataclass(frozen=True, slots=True)
class Blow:
    """A wind episode: highest 30 s wind and gust, rate of rise, and what had been forecast of its height."""

    begins: datetime
    ends: datetime
    peak_at: datetime
    speed_30s_m_s: Band
    gust_m_s: float | None
    gust_at: datetime | None
    mean_m_s: float | None  # highest ten-minute mean
    from_direction_deg: float | None
    rise_m_s_min: float | None  # steepest
    rise_at: datetime | None
    forecast: tuple[Forecast, ...]  # of the peak: the last before it began, and the one of two hours before that
    heaviest: LineLoad | None
    heaviest_at: datetime | None
    highest: Priority
    told_at: datetime | None


@dataclass(frozen=True, slots=True)
class Answered:
    """An alert from raising to its end. `event_at`: what it was about came then; None: it never came, or is no
    event. `ended_at` None: it stood at the end."""

    key: str
    raised_at: datetime
    levels: tuple[tuple[datetime, Priority], ...]  # as they changed
    unknown: bool
    event_at: datetime | None
    asked: tuple[tuple[datetime, datetime | None, str], ...]  # when a warning or alarm sounded, answer, by whom
    repeated: int
    escalated: bool
    ended_at: datetime | None
    do: str  # first line of what was told

    @property
    def highest(self) -> Priority:
        """The highest it rose to."""
        return max((level for _, level in self.levels), key=lambda level: level.rank)

    @property
    def top_at(self) -> datetime:
        """When it first stood at its highest."""
        return next(at for at, level in self.levels if level is self.highest)

    @property
    def lead(self) -> timedelta | None:
        """From the first notice to the event; negative when it came late."""
        return None if self.event_at is None else self.event_at - self.raised_at

    @property
    def top_lead(self) -> timedelta | None:
        """From the highest level to the event."""
        return None if self.event_at is None else self.event_at - self.top_at

    @property
    def waits(self) -> tuple[timedelta, ...]:
        """Each time from sounding to acknowledgement."""
        return tuple(answered - asked for asked, answered, _ in self.asked if answered is not None)

    @property
    def unanswered(self) -> int:
        """How often nobody acknowledged. Cautions ask for none."""
        return sum(answered is None for _, answered, _ in self.asked)


@dataclass(frozen=True, slots=True)
class Gap:
    """Nothing usable from a feed, or no watch at all (`feed` ""). `until` None: to the end."""

    feed: str
    carries: str
    since: datetime
    until: datetime | None
    told_at: datetime | None
    detail: str


@dataclass(frozen=True, slots=True)
class LineSeen:
    """One line over the stay. Hours count only while loads were known. `damage` is Σ n (range ÷
    strength)^`exponent`: good for ranking lines of one exponent against each other, and for nothing else."""

    line: str
    group: str
    limit_n: float
    limited_by: str
    unknown_limits: tuple[str, ...]
    strength_n: float  # LDBF as reduced by age and wear
    most_n: Band
    most_at: datetime
    most_share: float  # of the limit, middle
    p95_n: float
    hours_above_30: float
    hours_above_50: float
    cycles: float  # of at least 5 % of its strength
    largest_range_n: float
    damage: float
    exponent: float
    worst_of: str  # what was going on at its highest load
    sparse: bool  # estimates there were so far apart that its peak may lie between two of them


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """How often alerts would have been raised with all levels times `factor`, over the same estimates."""

    factor: float
    cautions: int
    warnings: int
    alarms: int


@dataclass(frozen=True, slots=True)
class Review:
    """A whole stay, or the part of it that was recorded."""

    title: str
    invented: bool
    holds: str
    ship: str
    berth: str
    port: str
    loa_m: float
    ahead_of_utc: timedelta
    begins: datetime
    ends: datetime
    mid_watch: bool
    whole: tuple[str, ...]  # what is missing, in the words of what found it; empty: all there
    replayed: bool
    step_s: float | None  # middle time from one estimate to the next
    known_share: float | None  # of the estimates, those with loads
    levels: tuple[float, float, float]  # caution, warning, alarm
    estimates: tuple[LoadEstimate, ...]
    passes: tuple[Passed, ...]
    blows: tuple[Blow, ...]
    alerts: tuple[Answered, ...]
    entries: tuple[tuple[datetime, OperatorAction], ...]
    gaps: tuple[Gap, ...]
    lines: tuple[LineSeen, ...]  # most loaded first
    elsewhere: tuple[Elsewhere, ...]  # empty unless replayed
    forecasts: tuple[tuple[datetime, Forecast], ...]  # as it stood at each hour
    assumed: tuple[str, ...]
    program: tuple[str, ...]  # versions that watched
    program_now: str
    settings_sha256: tuple[str, ...]
    settings_changed: tuple[tuple[datetime, tuple[str, ...]], ...] = ()  # when, and which files
    earlier_stays: tuple[tuple[str, datetime], ...] = ()  # in the same journal, left out: name, until when
