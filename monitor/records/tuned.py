"""What tuning tells: how a profile differs from the one in force, and what became of events under it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from monitor.records.events import Priority


@dataclass(frozen=True, slots=True, order=True)
class Recipe:
    """A profile as made from the one in force: its levels times a factor, delay in seconds added.

    `warning` is for the levels of caution and warning, `alarm` for that of alarm, with and without people; `odds`
    for both chances; `delay_s` for how long a level must last before it is told.
    """

    warning: float = 1.0
    alarm: float = 1.0
    odds: float = 1.0
    delay_s: float = 0.0


AS_IS = Recipe()


@dataclass(frozen=True, slots=True)
class Tally:
    """Counts at one level over some recordings: WARNING against all strained events, ALARM against severe ones.

    `late`, `stale` and `missed` events are misses for people. `mitigated`: alerts upon which the crew acted and no
    event came. `told`: how often anybody was told something at this level. `leads_s`: of hits and late alerts.
    """

    level: Priority
    hits: int = 0
    late: int = 0
    stale: int = 0
    missed: int = 0
    false_alarms: int = 0
    mitigated: int = 0
    quiet: int = 0
    told: int = 0
    hours: float = 0.0
    leads_s: tuple[float, ...] = ()

    def __add__(self, other: Tally) -> Tally:
        return Tally(
            self.level,
            self.hits + other.hits,
            self.late + other.late,
            self.stale + other.stale,
            self.missed + other.missed,
            self.false_alarms + other.false_alarms,
            self.mitigated + other.mitigated,
            self.quiet + other.quiet,
            self.told + other.told,
            self.hours + other.hours,
            self.leads_s + other.leads_s,
        )

    @property
    def events(self) -> int:
        """All that happened."""
        return self.hits + self.not_in_time

    @property
    def not_in_time(self) -> int:
        """Misses for people."""
        return self.late + self.stale + self.missed

    @property
    def told_a_watch(self) -> float | None:
        """How often in four hours."""
        return 4.0 * self.told / self.hours if self.hours else None


Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Scored:
    """A tally with its scores; None where not defined. Ranges are 95 % (Wilson)."""

    recipe: Recipe
    tally: Tally
    pod: float | None
    pod_range: Range | None
    pod_shrunk: float  # with the prior's belief
    far: float | None
    far_range: Range | None
    far_with_mitigated: float | None  # those upon which the crew acted counted as false
    pofd: float | None
    csi: float | None
    sedi: float | None
    lead_median_s: float | None
    lead_p10_s: float | None


class Verdict(StrEnum):
    """What is recommended, and why it is not more."""

    CHANGE = "change"
    NOTHING_BETTER = "no profile within one step does better"
    NOT_CONFIRMED = "the better one did worse on the stays it was not fitted on"
    NO_EVENTS = "no event is logged: nothing to fit to"


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do, with all that it rests on. Fit and test: (WARNING, ALARM); test None: too few stays to split."""

    verdict: Verdict
    recipe: Recipe
    present_fit: tuple[Scored, Scored]
    chosen_fit: tuple[Scored, Scored]
    present_test: tuple[Scored, Scored] | None
    chosen_test: tuple[Scored, Scored] | None
    fit_stays: int
    test_stays: int
    few: bool  # fewer events than FEW: levels are not raised
    prior_berths: int  # others from which the prior is borrowed; 0: none, the flat one
    prior_events: int
    prior_mean: float
    prior_weight: float
    recipes: int  # tried
