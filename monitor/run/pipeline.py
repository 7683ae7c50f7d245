"""From inputs to conclusions, the same code live and in replay. `now` comes with each input.

Ticks are derived, not recorded: before an input stamped t is handled, every tick of the grid up to t is run. The
outlook (encounters and their loads) is asked for at a tick and takes effect a fixed number of ticks later,
whatever the machine's speed, so a live watch and its replay conclude the same.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Any, Final

from monitor.base.moved import moved
from monitor.intake.parser import Intake
from monitor.outlet.naming import alert_in_words
from monitor.outlet.wording import Local, notice
from monitor.records.estimates import LoadEstimate, Outlook, WindEstimate, WindOutlook
from monitor.records.events import (
    Action,
    Beat,
    ClockStepped,
    Delivery,
    In,
    Notice,
    OperatorAction,
    Priority,
    RawReading,
    Reason,
    SourceStatus,
    Started,
    Transition,
)
from monitor.records.observations import (
    AirReading,
    ClockReading,
    HeadingReading,
    OwnNumber,
    ShipFix,
    ShipParticulars,
    TensionReading,
    WaterReading,
    WindForecast,
    WindReading,
)
from monitor.records.situations import Matter, Situation
from monitor.run.resumed import BEFORE, Heard, Input, inputs, take_over
from monitor.run.tap import Tap
from monitor.settings.schema import Settings
from monitor.watch import alarms, stay
from monitor.watch.estimator import Estimator
from monitor.watch.expected import Ask
from monitor.watch.gauges import Gauges
from monitor.watch.impaired import OUTLOOK, PARTS, impairments
from monitor.watch.judgement import FeedState, Judge
from monitor.watch.outlook import look_ahead
from monitor.watch.reviewed.steps import Foreseen, told_anew
from monitor.watch.tracks import Target
from monitor.watch.traffic import MOST_TARGETS, Traffic
from monitor.watch.weather import Weather

TICK: Final = timedelta(seconds=5)
OUTLOOK_EVERY: Final = 6  # ticks: half a minute
OUTLOOK_AFTER: Final = 1  # ticks from asking to taking effect
HOURS_EVERY: Final = timedelta(minutes=10)
ESTIMATE_KEPT_EVERY: Final = 12  # ticks between estimates written to the journal
ESTIMATE_KEPT_SHARE: Final = 0.05  # of its limit: a line that moved by as much makes one worth writing at once
TOLD_FOR: Final = timedelta(minutes=10)  # how long a clock step or a gap stays a situation
CLOCK_OFFSET_TOLD: Final = timedelta(seconds=10)
GAP_TOLD: Final = timedelta(seconds=30)
MEASURED_FRESH: Final = timedelta(seconds=60)

Conclusion = Transition | Notice | LoadEstimate | Outlook
Submit = Callable[[Callable[[Ask], Outlook], Ask], Callable[[], Outlook]]

# Changes that people must be told; the others are on the screen and in the journal.
_TOLD: Final = frozenset(
    {
        Reason.RAISED,
        Reason.LEVEL_UP,
        Reason.TIME_TO_ACT,
        Reason.BECAME_UNKNOWN,
        Reason.REPEATED,
        Reason.ESCALATED,
        Reason.RECTIFIED,
    }
)


@dataclass(slots=True)
class Pipeline:
    """One watch. Feed it inputs in stamped order with `handle`; it returns what it concludes."""

    settings: Settings
    submit: Submit | None = None
    tap: Tap | None = None
    alerts: dict[str, alarms.Alert] = field(default_factory=dict)
    situations: dict[str, Situation] = field(default_factory=dict)
    estimate: LoadEstimate | None = None
    outlook: Outlook | None = None
    _next_tick: datetime | None = None
    _ticks: int = 0
    _kept: LoadEstimate | None = None  # the last one written
    _foreseen: Foreseen = field(default_factory=Foreseen)
    _pending: tuple[int, Callable[[], Outlook]] | None = None
    _hours_from: tuple[datetime, WindForecast | None, stay.StayState, datetime] | None = None
    _told: dict[str, tuple[datetime, Situation]] = field(default_factory=dict)
    _clock_offset: timedelta | None = None
    intake: Intake = field(init=False)
    traffic: Traffic = field(init=False)
    weather: Weather = field(init=False)
    gauges: Gauges = field(init=False)
    stay: stay.StayState = field(init=False)
    estimator: Estimator = field(init=False)
    judge: Judge = field(init=False)
    local: Local = field(init=False)
    _feeds: dict[str, Heard] = field(default_factory=dict)
    _inputs: tuple[Input, ...] = field(init=False)
    _on: dict[str, list[Input]] = field(default_factory=dict)  # by feed
    _air: AirReading | None = None
    _tensions: dict[str, TensionReading] = field(default_factory=dict)  # by line
    _own: dict[str, tuple[datetime, str]] = field(default_factory=dict)  # of the PC: what is wrong, since when
    _refused: dict[str, Counter[str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        s = self.settings
        self.estimator = Estimator(s)
        self.intake = Intake({feed.name: feed.carries for feed in s.stay.feeds}, s.ship.mmsi)
        self.traffic = Traffic(self.estimator.moored.map, s.ship.mmsi, s.alerts.timing.target_lost)
        self.weather = Weather(
            s.stay.wind.order,
            s.berth.exposure,
            s.ship.anemometer_above_keel - 0.5 * (s.stay.draught_forward + s.stay.draught_aft),
            self.estimator.moored.berthed.heading_deg,
            {feed.name: feed.stale_after for feed in s.stay.feeds},
        )
        self.gauges = Gauges(self.estimator.moored.water, {feed.name: feed.stale_after for feed in s.stay.feeds})
        self.stay = stay.begin(s.stay)
        self.judge = Judge(s.alerts, s.berth.limits)
        self.local = Local(s.stay.local_time_ahead_of_utc)
        self._inputs = inputs(s.stay)
        for each in self._inputs:
            self._on.setdefault(each.source, []).append(each)

    def handle(self, stamped_at: datetime, record: In) -> list[Conclusion]:
        """Take one input; returns the conclusions of all ticks up to it, and of the input itself."""
        if isinstance(record, Started):
            self._next_tick = _grid_after(stamped_at)  # a gap is told, not ticked through
            self._start(stamped_at, record)
            return []
        if isinstance(record, ClockStepped):
            self._clock_set(stamped_at, timedelta(seconds=record.step_s))
            return []
        if self._next_tick is None:
            self._next_tick = _grid_after(stamped_at)
        conclusions: list[Conclusion] = []
        while self._next_tick <= stamped_at:
            conclusions += self._tick(self._next_tick)
            self._next_tick += TICK
        if not isinstance(record, Beat):
            conclusions += self._take(stamped_at, record)
        return conclusions

    def resume(self, alerts: dict[str, alarms.Alert]) -> None:
        """Go on from what people were last told; the alerts until now were told to nobody."""
        self.alerts = alarms.lasting(alerts, self.alerts)
        take_over(alerts, self._inputs, self._feeds, self._own, self.situations)

    # --- inputs ---------------------------------------------------------------------------------------------

    def _take(self, at: datetime, record: In) -> list[Conclusion]:
        match record:
            case RawReading():
                for observation in self.intake.parse(record.source, record.text, at):
                    self._observe(record.source, at, observation)
            case SourceStatus(source=part) if part in PARTS:
                if record.up:
                    self._own.pop(part, None)
                else:
                    self._own[part] = at, record.detail
            case Delivery() if any(record.channel == channel.name for channel in self.settings.alerts.channels):
                if not record.delivered:
                    self._own["channel"] = at, f"{record.channel}: {record.detail}"
                elif self._own.get("channel", (at, ""))[1].startswith((f"{record.channel}: ", BEFORE)):
                    self._own.pop("channel", None)
            case SourceStatus():
                feed = self._feed(record.source, at)
                feed.up, feed.detail = record.up, record.detail
            case OperatorAction():
                return self._operate(at, record)
        return []

    def _observe(self, source: str, at: datetime, observation: Any) -> None:
        for each in self._on.get(source, ()):
            self._feed(each.name, at).take(observation, at, each, self._feeds.values())
        match observation:
            case ShipFix() | ShipParticulars():
                refused = self.traffic.take(observation)
                if refused is not None:
                    self._refused.setdefault(source, Counter())[refused.reason.value] += 1
            case WindReading():
                self.weather.take_wind(observation)
            case HeadingReading():
                self.weather.take_heading(observation, self.stay.moored)
            case WindForecast():
                self.weather.take_forecast(observation)
            case AirReading():
                self._air = observation
            case TensionReading():
                for led in self.settings.stay.lines:
                    if led.sensor == observation.sensor:
                        whole_n = led.whole_n(observation.tension_n)
                        self._tensions[led.line] = replace(observation, tension_n=whole_n)
            case WaterReading():
                self.gauges.take(observation)
            case OwnNumber(mmsi=mmsi):
                if mmsi == self.settings.ship.mmsi:
                    self._own.pop("mmsi", None)
                else:
                    fact = f"Own reports on {source} bear MMSI {mmsi}; the ship's file: {self.settings.ship.mmsi}"
                    self._own["mmsi"] = self._own.get("mmsi", (at, ""))[0], fact
            case ClockReading():
                self._clock_offset = observation.utc - observation.received_at
                if abs(self._clock_offset) > CLOCK_OFFSET_TOLD:
                    fact = f"The PC clock differs by {-self._clock_offset.total_seconds():+.0f} s from {source}"
                    self._tell("clock", Matter.CLOCK, Priority.CAUTION, at, fact)

    def _operate(self, at: datetime, action: OperatorAction) -> list[Conclusion]:
        if self.tap is not None and action.action in (Action.ACKNOWLEDGE, Action.SILENCE):
            self.tap.answered(at, action)
        match action.action:
            case Action.ACKNOWLEDGE:
                self.alerts, transitions = alarms.acknowledge(self.alerts, action.subject, action.who, at)
                return list(transitions)
            case Action.SILENCE:
                self.alerts, transitions = alarms.silence(self.alerts, action.subject, action.who, at)
                return list(transitions)
            case Action.WIND:
                self.weather.take_wind(stay.entered_wind(action, at))
            case _:
                with suppress(stay.BadEntry):  # told to the person who typed it (see `entries`)
                    self.stay = stay.apply(self.stay, action, at)
        return []

    def _clock_set(self, at: datetime, by: timedelta) -> None:
        """Nothing has aged by it: all that our clock stamped is brought to the new time. Expectations that were
        worked out in the old time are dropped and asked for anew."""
        if self.tap is not None:
            self.tap.clock_set(by)
        self.alerts, self.situations = moved(self.alerts, by), moved(self.situations, by)
        self.stay, self._feeds, self._told = moved(self.stay, by), moved(self._feeds, by), moved(self._told, by)
        self._own = moved(self._own, by)
        self.traffic.clock_set(by)
        self.weather.clock_set(by)
        self.gauges.clock_set(by)
        self.outlook = self._pending = self._hours_from = None
        self._next_tick = _grid_after(at)
        fact = f"The PC clock was set by {by.total_seconds():+.0f} s"
        self._tell("clock", Matter.CLOCK, Priority.CAUTION, at, fact)

    def _start(self, at: datetime, record: Started) -> None:
        for each in self._inputs:  # what was silent before a short stop has not been heard by it
            self._feed(each.name, at)
        self._own.pop(OUTLOOK, None)  # whoever was late before is gone
        last = record.last_alive_at
        if last is not None and at - last > GAP_TOLD:
            fact = f"Not watching from {self.local.clock(last)} to {self.local.clock(at)}"
            self._tell("off", Matter.OFF, Priority.WARNING, at, fact)
            self.alerts.pop("off", None)  # who knows of an earlier gap knows nothing of this one

    def _tell(self, key: str, matter: Matter, level: Priority, at: datetime, fact: str) -> None:
        self._told[key] = at, Situation(key, matter, level, level, urgent=True, facts=(fact,))

    def _feed(self, source: str, at: datetime) -> Heard:
        return self._feeds.setdefault(source, Heard(at))

    @property
    def counts(self) -> dict[str, Counter[str]]:
        """By feed: how many lines were accepted or refused and why; then what the traffic table refused."""
        counts = {source: Counter(by_reason) for source, by_reason in self.intake.counts.items()}
        for source, lines in self.intake.waiting.items():
            counts.setdefault(source, Counter())["part of a message, the rest awaited"] = lines
        for source, by_reason in self._refused.items():
            counts.setdefault(source, Counter()).update({f"traffic: {why}": n for why, n in by_reason.items()})
        return counts

    @property
    def dark(self) -> tuple[str, ...]:
        """Feeds that are down or silent for too long, as of the last tick."""
        return tuple(s.subject for s in self.situations.values() if s.matter is Matter.FEED and s.level.rank)

    @property
    def tension_readings(self) -> dict[str, TensionReading]:
        """By line, all its parts together: the last reading of its force sensor, however old."""
        return dict(self._tensions)

    def tensions(self, now: datetime) -> dict[str, float]:
        """By line, all its parts together: newtons as its force sensor measured them within the last
        MEASURED_FRESH. To be shown beside what is worked out; nothing is judged by them."""
        fresh = (each for each in self._tensions.items() if now - each[1].received_at <= MEASURED_FRESH)
        return {line: reading.tension_n for line, reading in fresh}

    # --- ticks ----------------------------------------------------------------------------------------------

    def _tick(self, now: datetime) -> list[Conclusion]:
        conclusions: list[Conclusion] = []
        late = OUTLOOK in self._own  # its lateness is an input, so that a replay waits as long
        if self._pending is not None and self._ticks >= self._pending[0] and not late:
            self.outlook = self._pending[1]()
            self._pending = None
        wind = self.weather.estimate(now)
        if (off := self.gauges.off(now)) != self.stay.off:
            self.stay = replace(self.stay, off=off)
        targets = self.traffic.targets(now, most=MOST_TARGETS)
        self.estimate = self.estimator.estimate(wind, self.stay, self._air, targets, now, self.estimate)
        if self.estimate.slips != self.stay.slips:
            self.stay = replace(self.stay, slips=self.estimate.slips)
        if self._ticks % OUTLOOK_EVERY == 0 and self._pending is None:
            self._pending = self._ticks + OUTLOOK_AFTER, self._ask(now, wind, targets)
        situations = self.judge.situations(
            self.estimate,
            self.outlook,
            self.feed_states(now),
            self.stay,
            self.situations,
            self.traffic.lost(now),
            self.traffic.silent(now),
            now,
        )
        left_out = self.traffic.left_out
        own = impairments(self._own, wind, self.gauges.told(now), now, left_out)
        told = (*(s for at, s in self._told.values() if now - at < TOLD_FOR), *own)
        self.situations = {situation.key: situation for situation in (*situations, *told)}
        if self.tap is not None:
            self.tap.judged(self, now)
        before = self.alerts
        self.alerts, transitions = alarms.step(
            before, tuple(self.situations.values()), self.settings.alerts.timing, now
        )
        for transition in transitions:
            conclusions.append(transition)
            if transition.reason in _TOLD and not _caution_over(transition, before):
                facts = self.situations.get(transition.alert)
                about = alert_in_words(transition.alert, self.traffic.name)
                conclusions.append(notice(transition, facts, self.local, self.outlook, about))
        by_clock = self._ticks % ESTIMATE_KEPT_EVERY == 0 or transitions
        if by_clock or told_anew(self._kept, self.estimate, ESTIMATE_KEPT_SHARE):
            conclusions.append(self.estimate)
            self._kept = self.estimate
        told_now = [transition.alert for transition in transitions if transition.reason is Reason.RAISED]
        if (worth := self._foreseen.worth_keeping(self.outlook, told_now)) is not None:
            conclusions.append(worth)
        self._ticks += 1
        return conclusions

    def _ask(self, now: datetime, wind: WindEstimate, targets: tuple[Target, ...]) -> Callable[[], Outlook]:
        ask = Ask(
            self.estimator,
            targets,
            wind,
            self.weather.forecast,
            self.stay,
            self._air,
            now,
            self._hours_still_good(now),
            self.outlook,
        )
        if self.submit is not None:
            return self.submit(look_ahead, ask)
        return lambda: look_ahead(ask)

    def _hours_still_good(self, now: datetime) -> tuple[WindOutlook, ...] | None:
        """The hours ahead are worked out anew every HOURS_EVERY, and when what they rest on changes."""
        stay = replace(self.stay, off=None, slips=())  # a centimetre of water or a decimetre of line is no news
        key = (self.weather.forecast, stay, now.replace(minute=0, second=0, microsecond=0))
        fresh = self._hours_from is not None and self._hours_from[1:] == key
        if fresh and self._hours_from is not None and now - self._hours_from[0] < HOURS_EVERY and self.outlook:
            return self.outlook.hours
        self._hours_from = (now, *key)
        return None

    def feed_states(self, now: datetime) -> tuple[FeedState, ...]:
        """Every input of the stay as it is at `now`."""
        late_s = self.settings.alerts.timing.target_lost
        return tuple(self._feed(each.name, now).state(each, now, late_s) for each in self._inputs)


def _caution_over(transition: Transition, before: Mapping[str, alarms.Alert]) -> bool:
    """What was never more than a caution vanishes without a word. Who was told of more is told of its end, though
    it fell step by step."""
    return transition.reason is Reason.RECTIFIED and before[transition.alert].highest is Priority.CAUTION


def _grid_after(at: datetime) -> datetime:
    """The next tick of the grid strictly after a time: the grid is the same on every machine."""
    epoch = datetime(1970, 1, 1, tzinfo=UTC)
    return epoch + ((at - epoch) // TICK + 1) * TICK
