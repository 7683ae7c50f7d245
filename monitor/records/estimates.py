"""What the program concludes. A range is never a bare number; validity and assumptions travel along."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class Validity(StrEnum):
    """How far an estimate can be trusted."""

    GOOD = "good"
    DEGRADED = "degraded"
    UNKNOWN = "unknown"

    @staticmethod
    def worst(*each: Validity) -> Validity:
        """The least trustworthy of several."""
        order = list(Validity)
        return max(each, key=order.index, default=Validity.GOOD)


@dataclass(frozen=True, slots=True)
class Band:
    """5 %, middle and 95 % of a quantity (unit in the name of the field that holds it)."""

    low: float
    mid: float
    high: float


@dataclass(frozen=True, slots=True)
class WindEstimate:
    """Wind at 10 m over the water at the berth, 30 s mean, as the loads use it."""

    at: datetime
    speed_30s_m_s: Band | None
    from_direction_deg: float | None
    gust_m_s: float | None  # the highest short gust heard in the last ten minutes, at 10 m
    mean_m_s: float | None  # ten-minute mean at 10 m
    rise_m_s_min: float | None  # rate of rise of the 30 s wind over the last two minutes
    source: str  # which feed was used ("" when none)
    age_s: float | None
    validity: Validity
    reasons: tuple[str, ...] = ()
    shift_deg: float | None = None  # the last 30 s against minutes before: a jump, veering positive


@dataclass(frozen=True, slots=True)
class WaterEstimate:
    """Tide and stream at the berth."""

    at: datetime
    height_m: float | None  # above chart datum
    current_m_s: float | None  # alongside
    set_deg: float | None  # true, TOWARDS
    fairway_current_m_s: float | None
    validity: Validity
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class HorizontalLoad:
    """Forces on the moored ship in ship axes: surge forward, sway to starboard, yaw bow to starboard."""

    surge_n: float
    sway_n: float
    yaw_n_m: float


@dataclass(frozen=True, slots=True)
class LineLoad:
    """One line now or at the peak of an event."""

    line: str
    group: str
    tension_n: Band
    utilisation: Band  # tension ÷ least known limit
    limit_n: float
    limited_by: str  # "working limit", "brake setting", "fairlead", "bitts", "bollard B7"
    unknown_limits: tuple[str, ...] = ()  # e.g. ("bollard B3 SWL",)
    alarm_cap: float = 1.0  # utilisation above which ALARM may never be set: 60 % of the brake setting (ours)


@dataclass(frozen=True, slots=True)
class LoadEstimate:
    """The moored ship now."""

    at: datetime
    wind: WindEstimate
    water: WaterEstimate
    wind_load: HorizontalLoad | None
    current_load: HorizontalLoad | None
    passing_load: HorizontalLoad | None
    lines: tuple[LineLoad, ...]  # all loads together, heaviest first
    steady_lines: tuple[LineLoad, ...]  # without passing ships
    squall_lines: tuple[LineLoad, ...]  # a minute ahead if the wind goes on rising; empty when it does not
    moved_ahead_m: float | None
    moved_off_m: float | None  # away from the quay
    validity: Validity
    reasons: tuple[str, ...] = ()


class PassingKind(StrEnum):
    """How a target will pass."""

    SAME_WAY = "same heading"
    OPPOSITE = "opposite heading"
    OBLIQUE = "at an angle"
    TURNING = "turning"
    STOPPING = "stopping short"
    LEAVING = "leaving a berth near by"
    NOT_PASSING = "not passing"


@dataclass(frozen=True, slots=True)
class Encounter:
    """A target's expected pass of the berth, as seen at `at`."""

    at: datetime
    mmsi: int
    name: str
    kind: PassingKind
    passes: float  # chance that she passes at all, 0..1
    abeam_at: datetime  # least hull-to-hull distance
    earliest_at: datetime
    latest_at: datetime
    distance_m: Band  # hull to hull, least
    speed_ground_m_s: Band
    speed_water_m_s: Band
    course_deg: float  # when abeam
    separation_m: Band  # between centrelines, across own ship's heading, when abeam
    length_m: Band
    beam_m: Band
    draught_m: Band
    ship_type: int | None
    fix_age_s: float
    assumed: tuple[str, ...] = ()
    overlap_from: datetime | None = None  # first moment her bow overlaps our hull, earliest
    overlap_to: datetime | None = None


@dataclass(frozen=True, slots=True)
class PassingOutlook:
    """What one encounter will do to the moorings: peak per line over the pass."""

    encounter: Encounter
    lines: tuple[LineLoad, ...]  # at their peaks, heaviest first
    peak_load: HorizontalLoad  # largest magnitude of each component, signs kept
    validity: Validity
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class WindOutlook:
    """Forecast wind hour by hour with the heaviest line of each."""

    at: datetime
    wind_m_s: Band
    gust_m_s: float | None
    from_direction_deg: float
    lines: tuple[LineLoad, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Outlook:
    """All that is expected: passings soonest first, then the forecast and tide hours."""

    at: datetime
    passings: tuple[PassingOutlook, ...]
    hours: tuple[WindOutlook, ...]
    validity: Validity
    reasons: tuple[str, ...] = ()


Out = LoadEstimate | Outlook
