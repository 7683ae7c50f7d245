"""A recording read for review: what came in, parsed and put in order, and what was concluded.

One walk through the inputs, with the parsers and the traffic table of the watch but none of its models: seconds
for a day. With `again`, the recording is replayed too: loads at every tick and what was expected at every half
minute, at the cost of a replay.
"""

from __future__ import annotations

import contextlib
from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from operator import itemgetter
from typing import Final

from monitor.base.frames import LocalMap, wrap180
from monitor.base.moved import moved
from monitor.intake.parser import Intake
from monitor.records.estimates import LoadEstimate, Outlook, PassingOutlook
from monitor.records.events import (
    Action,
    ClockStepped,
    Notice,
    OperatorAction,
    RawReading,
    SettingsSnapshot,
    SourceStatus,
    Started,
    Transition,
)
from monitor.records.observations import Observation, ShipFix, ShipParticulars, TensionReading, WindForecast
from monitor.run.journal import Entry
from monitor.run.pipeline import Conclusion, Pipeline
from monitor.run.recording import Recording
from monitor.run.rejudge import Rejudged
from monitor.run.replay import replay
from monitor.run.resumed import Heard, inputs
from monitor.settings.fit import lies
from monitor.settings.load import from_snapshot
from monitor.settings.schema import Settings
from monitor.watch.reviewed.passes import Near
from monitor.watch.reviewed.steps import told_anew
from monitor.watch.traffic import Traffic

SAMPLED_EVERY: Final = timedelta(seconds=5)
NEAR_M: Final = 2500.0
KEPT_SHARE: Final = 0.01  # of its limit: a line that moved by as much makes a tick worth keeping
KEPT_EVERY: Final = timedelta(minutes=1)

Passed = Callable[[Entry], None]


@dataclass(slots=True)
class Recalled:
    """All that a review is gathered from, in time order: of the last stay, where there are several. `silent`:
    feed, last usable reading, next one. `earlier`: stays left out, by name, and until when."""

    settings: Settings  # in force at the end
    earlier: list[tuple[str, datetime]] = field(default_factory=list)
    in_force: list[tuple[datetime, Settings]] = field(default_factory=list)  # from when on
    snapshots: list[SettingsSnapshot] = field(default_factory=list)
    begins: datetime | None = None
    ends: datetime | None = None
    starts: list[tuple[datetime, Started]] = field(default_factory=list)
    entries: list[tuple[datetime, OperatorAction]] = field(default_factory=list)
    statuses: list[tuple[datetime, SourceStatus]] = field(default_factory=list)
    clock_sets: list[tuple[datetime, float]] = field(default_factory=list)
    silent: list[tuple[str, datetime, datetime]] = field(default_factory=list)
    forecasts: list[WindForecast] = field(default_factory=list)
    near: dict[int, list[Near]] = field(default_factory=dict)
    tensions: dict[str, list[tuple[datetime, float]]] = field(default_factory=dict)  # by line, all its parts
    estimates: list[LoadEstimate] = field(default_factory=list)
    transitions: list[Transition] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)
    outlooks: list[tuple[datetime, tuple[PassingOutlook, ...]]] = field(default_factory=list)
    rejudged: list[Rejudged] = field(default_factory=list)
    replayed: bool = False

    def settings_at(self, at: datetime) -> Settings:
        """Those in force at a time; before any, the first."""
        place = bisect_right(self.in_force, at, key=itemgetter(0))
        return self.in_force[max(0, place - 1)][1] if self.in_force else self.settings


def recollect(recording: Recording, again: bool = False, passed: Passed | None = None) -> Recalled:
    """Read a recording. A recording without conclusions is replayed whether asked or not.

    Raises RecordingError without settings, SettingsFault when they cannot be read.
    """
    recalled = _walk(recording, Recalled(from_snapshot(recording.settings())), passed)
    concluded: Sequence[tuple[datetime, object]]
    concluded = [(entry.stamped_at, entry.record) for entry in recording.outputs()]
    if again or not concluded:
        replayed = _again(recording, recalled, passed)
        recalled.replayed = True
        if not concluded:
            concluded = replayed
    for at, conclusion in concluded:
        if recalled.earlier and at < recalled.earlier[-1][1]:
            continue
        match conclusion:
            case LoadEstimate() if not recalled.replayed:
                recalled.estimates.append(conclusion)
            case Transition():
                recalled.transitions.append(conclusion)
            case Notice():
                recalled.notices.append(conclusion)
            case Outlook() if not recalled.replayed:
                recalled.outlooks.append((conclusion.at, conclusion.passings))
    return recalled


class _Walk:
    """Parsers and traffic table of the settings in force."""

    def __init__(self, settings: Settings) -> None:
        s = settings
        self.settings = settings
        self.intake = Intake({feed.name: feed.carries for feed in s.stay.feeds}, s.ship.mmsi)
        chart = LocalMap(s.berth.position.latitude, s.berth.position.longitude)
        self.traffic = Traffic(chart, s.ship.mmsi, s.alerts.timing.target_lost)
        self.berthed = lies(s.stay, s.ship, s.berth)
        self.inputs = inputs(s.stay)
        self.stale = {each.name: timedelta(seconds=each.stale_after_s) for each in self.inputs}
        self.heard: dict[str, Heard] = {}
        self.sensors = {led.sensor: led for led in s.stay.lines if led.sensor is not None}
        self.alongside: set[int] = set()


def _walk(recording: Recording, recalled: Recalled, passed: Passed | None) -> Recalled:
    walk = _Walk(recalled.settings)
    next_at: datetime | None = None
    for entry in recording.inputs():
        at = entry.stamped_at
        if entry.kind == "Started" or recalled.starts:  # a clip holds what it must know of the time before
            recalled.begins, recalled.ends = recalled.begins or at, at
        if passed is not None:
            passed(entry)
        if next_at is None or at - next_at > timedelta(minutes=10):  # nothing is reckoned through a stop
            next_at = at
        while next_at <= at:
            _sample(walk, recalled, next_at)
            next_at += SAMPLED_EVERY
        if entry.kind == "Beat":
            continue
        match entry.record:
            case RawReading(source, text):
                for observation in walk.intake.parse(source, text, at):
                    _take(walk, recalled, source, at, observation)
            case SettingsSnapshot() as taken:
                last = recalled.snapshots[-1] if recalled.snapshots else None
                if last is not None and taken.stay != last.stay:
                    earlier = [*recalled.earlier, (recalled.settings.stay.name, at)]
                    walk = _Walk(from_snapshot(taken))
                    recalled, last = Recalled(walk.settings, earlier), None
                elif last is not None and taken.sha256 != last.sha256:
                    before, walk = walk, _Walk(from_snapshot(taken))
                    walk.heard.update(before.heard)
                    walk.alongside = before.alongside
                if last is None or taken.sha256 != last.sha256:
                    recalled.settings = walk.settings
                    recalled.in_force.append((at, walk.settings))
                recalled.snapshots.append(taken)
            case Started() as started:
                recalled.starts.append((at, started))
                for feed in walk.stale:
                    walk.heard.setdefault(feed, Heard(at))
            case OperatorAction() as action:
                recalled.entries.append((at, action))
                if action.action is Action.CRAFT:
                    with contextlib.suppress(TypeError, ValueError):
                        mmsi = {int(action.value("mmsi"))}  # type: ignore[arg-type]
                        made_fast = action.value("alongside") is True
                        walk.alongside = walk.alongside | mmsi if made_fast else walk.alongside - mmsi
            case SourceStatus() as status:
                recalled.statuses.append((at, status))
            case ClockStepped(step_s):
                recalled.clock_sets.append((at, step_s))
                step = timedelta(seconds=step_s)
                walk.traffic.clock_set(step)
                walk.heard = moved(walk.heard, step)
                next_at = at
    if recalled.ends is not None:
        for feed, heard in walk.heard.items():
            if feed in walk.stale and recalled.ends - heard.silent_since > walk.stale[feed]:
                recalled.silent.append((feed, heard.silent_since, recalled.ends))
    return recalled


def _take(walk: _Walk, recalled: Recalled, source: str, at: datetime, observation: Observation) -> None:
    match observation:
        case ShipFix() | ShipParticulars():
            walk.traffic.take(observation)
        case WindForecast():
            recalled.forecasts.append(observation)
        case TensionReading() if observation.sensor in walk.sensors:
            led = walk.sensors[observation.sensor]
            recalled.tensions.setdefault(led.line, []).append((at, led.whole_n(observation.tension_n)))
    for each in walk.inputs:
        if each.source == source:
            heard = walk.heard.setdefault(each.name, Heard(at))
            since = heard.silent_since
            heard.take(observation, at, each, walk.heard.values())
            if heard.silent_since > since and at - since > walk.stale[each.name]:
                recalled.silent.append((each.name, since, at))


def _sample(walk: _Walk, recalled: Recalled, now: datetime) -> None:
    for target in walk.traffic.targets(now, NEAR_M):
        if target.at_rest or target.mmsi in walk.alongside or target.sog_m_s is None:
            continue
        told = target.particulars
        heading_deg = target.cog_deg if target.heading_deg is None else target.heading_deg
        if heading_deg is None:
            continue
        x_m, y_m = walk.berthed.plane_to_ship(target.north_m, target.east_m)
        recalled.near.setdefault(target.mmsi, []).append(
            Near(
                now,
                x_m,
                y_m,
                wrap180(heading_deg - walk.berthed.heading_deg),
                target.sog_m_s,
                heading_deg if target.cog_deg is None else target.cog_deg,
                target.fix_age_s,
                target.name,
                told.length_m if told else None,
                told.beam_m if told else None,
            )
        )


def _again(
    recording: Recording, recalled: Recalled, passed: Passed | None
) -> Sequence[tuple[datetime, Conclusion]]:
    since = recalled.earlier[-1][1] if recalled.earlier else None
    seen_estimate: LoadEstimate | None = None
    seen_outlook: object = None

    def look(entry: Entry, pipeline: Pipeline | None) -> None:
        nonlocal seen_estimate, seen_outlook
        if passed is not None:
            passed(entry)
        if pipeline is None or pipeline.estimate is None or pipeline.estimate is seen_estimate:
            return
        seen_estimate = pipeline.estimate
        if since is not None and entry.stamped_at < since:
            return
        _keep(recalled.estimates, seen_estimate)
        for rejudged in recalled.rejudged:
            rejudged.tick(pipeline, seen_estimate.at)
        outlook = pipeline.outlook
        if outlook is not None and outlook is not seen_outlook:
            seen_outlook = outlook
            recalled.outlooks.append((outlook.at, outlook.passings))

    recalled.rejudged = [Rejudged(factor) for factor in (0.9, 1.0, 1.1)]
    return list(replay(recording, passed=look))


def _keep(kept: list[LoadEstimate], new: LoadEstimate) -> None:
    """Add an estimate when it tells something new: a line moved by KEPT_SHARE of its limit, or a minute is
    over."""
    if kept and new.at - kept[-1].at < KEPT_EVERY and not told_anew(kept[-1], new, KEPT_SHARE):
        return
    steady = new.steady_lines if new.passing_load is not None else ()
    kept.append(replace(new, steady_lines=steady, squall_lines=()))
