"""What the program concludes. A range is never a bare number; validity and assumptions travel along."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from monitor.records.decks import WorstOfLine


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
    level_source: str = ""  # the gauge it was measured by, now or lately; "" is by the tables
    stream_source: str = ""  # likewise, of the stream alongside; the fairway's is always by the tables
    alongside_set_deg: float | None = None  # where it differs from `set_deg`
    stream_doubt: float = 0.0  # share of the stream's load, 95 %, that a measurement of some time ago leaves open

    @property
    def alongside_deg(self) -> float | None:
        """Where the stream alongside sets TO."""
        return self.set_deg if self.alongside_set_deg is None else self.alongside_set_deg


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
    runs_out_m: Band | None = None  # line that its brake lets out, least to most; None while it holds


@dataclass(frozen=True, slots=True)
class Slip:
    """A brake that may have rendered since its line was tended: by how much the line would be longer for it."""

    line: str
    out_m: Band


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
    slips: tuple[Slip, ...] = ()  # by now, until somebody says how those lines are


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
    newly_heard: bool = False  # so that AIS still has time to tell her size


@dataclass(frozen=True, slots=True)
class LineOdds:
    """One line in an event, over many possible truths. Chances are 0..1; None where no such limit is known."""

    line: str
    group: str
    tension_n: Band  # of its peak
    over_working: float  # chance that it passes its working limit
    over_brake: float | None  # that its brake renders
    over_strength: float  # that it parts
    static_n: float | None = None  # peak of the middle case: loads shared out at rest,
    dynamic_n: float | None = None  # and the ship moving in time
    parts_at: datetime | None = None  # middle of the times it goes, among the truths in which it does


@dataclass(frozen=True, slots=True)
class EventOdds:
    """The odds of one event. `drivers`: the two inputs that decide most, so that one knows what to check."""

    at: datetime  # worked out
    members: int
    lines: tuple[LineOdds, ...]  # most likely over the working limit first
    any_over_working: float  # chance that some line does
    any_over_limit: float  # that some line passes its least known limit, its share of the bollard included
    any_over_strength: float
    drivers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PassingAdvice:
    """What to ask of a passing ship so that every line stays below its limit with odds of at least 1 − `risk`.

    None: no such speed or distance was found; `why` then says so.
    """

    risk: float
    speed_water_m_s: float | None  # highest through the water, at her expected distance
    distance_m: float | None  # least hull to hull, at her present speed
    why: str = ""


@dataclass(frozen=True, slots=True)
class Untended:
    """What each line will carry at a later time if nobody tends it: wind as now, tide and cargo as expected."""

    at: datetime
    lines: tuple[LineLoad, ...]


@dataclass(frozen=True, slots=True)
class ToTend:
    """A line that is light now and will not stay so: `grows` heavy or goes slack."""

    line: str
    group: str
    now: Band  # utilisation
    later: Band  # utilisation in two hours
    slack: bool
    before: datetime | None  # when it will pass the caution level; None within two hours


@dataclass(frozen=True, slots=True)
class IfLost:
    """What follows, in the wind and stream of now, when one line goes, or the two that would be missed most."""

    lines: tuple[str, ...]
    next_line: str  # the one nearest to parting then; "" when nothing holds her
    share: float | None  # of its strength; None when nothing holds her
    then: tuple[str, ...]  # lines that go after, in order
    holds: bool


@dataclass(frozen=True, slots=True)
class Lull:
    """A time with the least load expected on the lines. Expected, never promised."""

    start: datetime
    end: datetime
    utilisation: float  # greatest expected of any line in it, upper end


@dataclass(frozen=True, slots=True)
class SoonOdds:
    """Odds within a time from now: wind, tide and the passes expected in it."""

    minutes: int
    any_over_working: float
    any_over_limit: float
    odds: EventOdds  # of the wind alone


@dataclass(frozen=True, slots=True)
class PassingOutlook:
    """What one encounter will do to the moorings: peak per line over the pass."""

    encounter: Encounter
    lines: tuple[LineLoad, ...]  # at their peaks, heaviest first
    peak_load: HorizontalLoad  # largest magnitude of each component, signs kept
    validity: Validity
    reasons: tuple[str, ...] = ()
    odds: EventOdds | None = None  # None: not worked out, for she is far off or her load too small to matter
    advice: PassingAdvice | None = None
    beyond: bool = False  # outside the range the model was checked in
    light_alone: bool = False  # too light for odds but for another ship that may pass together with her


@dataclass(frozen=True, slots=True)
class WindOutlook:
    """Forecast wind hour by hour with the heaviest line of each."""

    at: datetime
    wind_m_s: Band
    gust_m_s: float | None
    from_direction_deg: float
    lines: tuple[LineLoad, ...]
    source: str
    odds: EventOdds | None = None


@dataclass(frozen=True, slots=True)
class Outlook:
    """All that is expected: passings soonest first, then the forecast and tide hours."""

    at: datetime
    passings: tuple[PassingOutlook, ...]
    hours: tuple[WindOutlook, ...]
    validity: Validity
    reasons: tuple[str, ...] = ()
    soon: tuple[SoonOdds, ...] = ()  # in 5 min, 15 min, 1 h; empty while the wind's load is too small to matter
    untended: tuple[Untended, ...] = ()  # in 30, 60, 120 min
    to_tend: tuple[ToTend, ...] = ()  # in the order to tend them, while they are light
    lulls: tuple[Lull, ...] = ()  # least load first
    if_lost: tuple[IfLost, ...] = ()  # each line, then the worst pair; the worst first
    worst: tuple[WorstOfLine, ...] | None = None  # of a parted line, as far as worked out; None: no deck plans
