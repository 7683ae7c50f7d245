"""The ships that passed, as AIS showed them, beside what had been expected of them."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from operator import attrgetter, itemgetter
from typing import Final

import numpy as np

from monitor.base.units import m_s
from monitor.records.estimates import LineLoad, LoadEstimate, PassingKind, PassingOutlook
from monitor.records.events import Notice, Priority, Reason, Transition
from monitor.records.review import Before, Expected, Passed
from monitor.settings.schema import Settings
from monitor.watch.clearance import clearance_m, half_reach_m
from monitor.watch.encounters import kind_by_course
from monitor.watch.estimator import through_water_m_s
from monitor.watch.water import water_at

PASS_WITHIN_M: Final = 600.0  # hull to hull: farther off she is no pass unless an alert told of her (ours)
PASS_ABOVE_M_S: Final = m_s(1.0)
ONE_PASS: Final = timedelta(minutes=10)  # abreast of us again so soon: the same pass
TOLD_BEFORE: Final = timedelta(minutes=45)  # what was told earlier was not of this pass (ours)
FELT_FOR: Final = timedelta(seconds=45)  # before and after the overlap
ABOUT_THEN: Final = timedelta(minutes=3)  # an outlook kept farther from a moment says nothing of it
STILL_IN_FORCE: Final = timedelta(minutes=2)  # an outlook older than this was not in force any more
_USUAL_BEAM: Final = 0.15  # of her length, where AIS tells no beam (ours; only for the distance hull to hull)
_USUAL_LENGTH_M: Final = 100.0  # where AIS tells none (ours; likewise)

OutlookAt = tuple[datetime, tuple[PassingOutlook, ...]]


@dataclass(frozen=True, slots=True)
class Near:
    """A ship under way near us at one moment: her midships in our axes, her heading off ours, course true."""

    at: datetime
    forward_m: float
    starboard_m: float
    off_heading_deg: float
    sog_m_s: float
    cog_deg: float
    fix_age_s: float
    name: str
    length_m: float | None
    beam_m: float | None


@dataclass(frozen=True, slots=True)
class _Track:
    """The samples of one ship with the distance between the hulls, and where hers is abreast of ours."""

    samples: Sequence[Near]
    distance_m: Sequence[float]
    abreast: Sequence[bool]


@dataclass(frozen=True, slots=True)
class Concluded:
    """What the watch concluded, as far as passes go."""

    estimates: Sequence[LoadEstimate]
    transitions: Sequence[Transition]
    notices: Sequence[Notice]
    outlooks: Sequence[OutlookAt]  # every one of them; or, `outlooks_kept`, those the journal kept (`steps`)
    tensions: Mapping[str, Sequence[tuple[datetime, float]]]
    outlooks_kept: bool = False


def passes(
    near: Mapping[int, Sequence[Near]], concluded: Concluded, settings_at: Callable[[datetime], Settings]
) -> tuple[Passed, ...]:
    """Every pass in time order, and every ship that was told as coming and did not pass. `settings_at`: in force
    at a time."""
    found: list[Passed] = []
    for mmsi, samples in near.items():
        track = _measured(samples, settings_at(samples[-1].at))
        spans = list(_spans(track, _alert_times(concluded.transitions, mmsi)))
        found += [_passed(mmsi, track, span, True, concluded, settings_at) for span in spans]
        for raised_at, over_at in _alert_times(concluded.transitions, mmsi):
            near_then = [i for i, s in enumerate(samples) if raised_at <= s.at <= over_at]
            told = any(raised_at - ONE_PASS <= samples[i].at <= over_at + ONE_PASS for span in spans for i in span)
            if near_then and not told:
                found.append(_passed(mmsi, track, near_then, False, concluded, settings_at))
    return tuple(sorted(found, key=lambda one: one.abeam_at))


def within(estimates: Sequence[LoadEstimate], begins: datetime, ends: datetime) -> Sequence[LoadEstimate]:
    """Those of a time, of estimates in time order."""
    at = attrgetter("at")
    return estimates[bisect_left(estimates, begins, key=at) : bisect_right(estimates, ends, key=at)]


def _measured(samples: Sequence[Near], settings: Settings) -> _Track:
    own_length_m, own_beam_m = settings.ship.loa, settings.ship.beam
    length_m = np.array([s.length_m or _USUAL_LENGTH_M for s in samples])
    beam_m = np.array([s.beam_m or _USUAL_BEAM * (s.length_m or _USUAL_LENGTH_M) for s in samples])
    centre = np.array([complex(s.forward_m, s.starboard_m) for s in samples])
    turned = np.exp(1j * np.radians([s.off_heading_deg for s in samples]))
    distance_m = clearance_m(own_length_m, own_beam_m, centre, turned, length_m, beam_m)
    reach_m, _ = half_reach_m(turned, length_m, beam_m)
    under_way = np.array([s.sog_m_s for s in samples]) >= PASS_ABOVE_M_S
    abreast = (np.abs(centre.real) <= 0.5 * own_length_m + reach_m) & under_way
    return _Track(samples, [float(each) for each in distance_m], [bool(each) for each in abreast])


def _spans(track: _Track, told: Sequence[tuple[datetime, datetime]]) -> Iterator[list[int]]:
    """Runs of samples abreast of us; a break shorter than ONE_PASS does not end one."""
    span: list[int] = []
    for i, abreast in enumerate(track.abreast):
        if not abreast:
            continue
        if span and track.samples[i].at - track.samples[span[-1]].at > ONE_PASS:
            yield from _worth(track, span, told)
            span = []
        span.append(i)
    yield from _worth(track, span, told)


def _worth(track: _Track, span: list[int], told: Sequence[tuple[datetime, datetime]]) -> Iterator[list[int]]:
    if not span:
        return
    begins, ends = track.samples[span[0]].at, track.samples[span[-1]].at
    alerted = any(raised <= ends and begins <= over + ONE_PASS for raised, over in told)
    if alerted or min(track.distance_m[i] for i in span) <= PASS_WITHIN_M:
        yield span


def _passed(
    mmsi: int,
    track: _Track,
    span: list[int],
    passed: bool,
    concluded: Concluded,
    settings_at: Callable[[datetime], Settings],
) -> Passed:
    # Hull to hull she keeps the same distance for a while: of those, the moment she is most abeam.
    nearest_m = min(track.distance_m[i] for i in span)
    at = min(
        (i for i in span if track.distance_m[i] <= nearest_m + 2.0),
        key=lambda i: abs(track.samples[i].forward_m),
    )
    sample = track.samples[at]
    begins, ends = track.samples[span[0]].at, track.samples[span[-1]].at
    notices = tuple(
        notice
        for notice in concluded.notices
        if notice.alert == f"passing:{mmsi}"
        and notice.reason is not Reason.RECTIFIED
        and begins - TOLD_BEFORE <= notice.at <= ends
    )
    levels = [
        t.priority
        for t in concluded.transitions
        if t.alert == f"passing:{mmsi}" and begins - TOLD_BEFORE <= t.at <= ends + ONE_PASS
    ]
    settings = settings_at(sample.at)
    water = water_at(settings.stay.tide, settings.berth.stream, sample.at)
    known = water.fairway_current_m_s is not None
    then = within(concluded.estimates, begins - FELT_FOR, ends + FELT_FOR)
    heaviest, steady = _heaviest(then)
    return Passed(
        mmsi,
        next((s.name for s in reversed(track.samples) if s.name), ""),
        sample.length_m,
        passed,
        kind_by_course(sample.off_heading_deg) if passed else PassingKind.NOT_PASSING,
        sample.at,
        begins,
        ends,
        nearest_m,
        sample.sog_m_s,
        through_water_m_s(sample.sog_m_s, sample.cog_deg, water) if known else None,
        max(track.samples[i].fix_age_s for i in span),
        tuple(_expected(mmsi, begins, notices, concluded)),
        notices,
        max(levels, key=lambda level: level.rank, default=Priority.NONE),
        heaviest,
        steady,
        len(then),
        tuple(_measured_tension(concluded.tensions, begins - FELT_FOR, ends + FELT_FOR)),
    )


def _heaviest(estimates: Iterable[LoadEstimate]) -> tuple[LineLoad | None, LineLoad | None]:
    """The line highest in its limit among all, and the same line without ships passing."""
    top: tuple[LineLoad, LoadEstimate] | None = None
    for estimate in estimates:
        for load in estimate.lines:
            if top is None or load.utilisation.mid > top[0].utilisation.mid:
                top = load, estimate
    if top is None:
        return None, None
    return top[0], next((load for load in top[1].steady_lines if load.line == top[0].line), None)


def _expected(
    mmsi: int, overlap_at: datetime, notices: Sequence[Notice], concluded: Concluded
) -> Iterator[Expected]:
    """What the outlook said of her at the first notice, and 15 and 5 min before her bow was abreast of us. Of
    those kept the nearest is taken, and told with its own time."""
    moments = [(Before.FIRST, notices[0].at)] if notices else []
    moments += [
        (Before.EARLY, overlap_at - timedelta(minutes=15)),
        (Before.LATE, overlap_at - timedelta(minutes=5)),
    ]
    for before, moment in moments:
        found = (_kept_near if concluded.outlooks_kept else _in_force)(concluded.outlooks, moment, mmsi)
        if found is not None:
            last, moment = found
            encounter = last.encounter
            chance = None if last.odds is None else last.odds.any_over_working * encounter.passes
            yield Expected(
                before,
                moment,
                encounter.abeam_at,
                encounter.passes,
                encounter.distance_m,
                encounter.speed_ground_m_s,
                encounter.speed_water_m_s,
                max(last.lines, key=lambda load: load.utilisation.mid, default=None),
                chance,
            )


def _in_force(
    outlooks: Sequence[OutlookAt], moment: datetime, mmsi: int
) -> tuple[PassingOutlook, datetime] | None:
    """What was expected of her at a moment, out of every outlook."""
    place = bisect_right(outlooks, moment, key=itemgetter(0)) - 1
    if place < 0 or moment - outlooks[place][0] > STILL_IN_FORCE:
        return None
    return next(((each, moment) for each in outlooks[place][1] if each.encounter.mmsi == mmsi), None)


def _kept_near(
    outlooks: Sequence[OutlookAt], moment: datetime, mmsi: int
) -> tuple[PassingOutlook, datetime] | None:
    """What was expected of her nearest to a moment, out of the outlooks kept, and when."""
    hers = (
        (each, at)
        for at, passings in outlooks
        if abs(at - moment) <= ABOUT_THEN
        for each in passings
        if each.encounter.mmsi == mmsi
    )
    return min(hers, key=lambda found: abs(found[1] - moment), default=None)


def _alert_times(transitions: Iterable[Transition], mmsi: int) -> list[tuple[datetime, datetime]]:
    """From raising to the end of each alert on a ship; TOLD_BEFORE after its last change when none came."""
    times: list[tuple[datetime, datetime]] = []
    raised_at: datetime | None = None
    last_at: datetime | None = None
    for transition in transitions:
        if transition.alert != f"passing:{mmsi}":
            continue
        last_at = transition.at
        if transition.reason is Reason.RAISED:
            raised_at = transition.at
        elif transition.reason is Reason.RECTIFIED and raised_at is not None:
            times.append((raised_at, transition.at))
            raised_at = None
    if raised_at is not None and last_at is not None:
        times.append((raised_at, last_at + TOLD_BEFORE))
    return times


def _measured_tension(
    tensions: Mapping[str, Sequence[tuple[datetime, float]]], begins: datetime, ends: datetime
) -> Iterator[tuple[str, float]]:
    for line, readings in tensions.items():
        then = [tension_n for at, tension_n in readings if begins <= at <= ends]
        if then:
            yield line, max(then)
