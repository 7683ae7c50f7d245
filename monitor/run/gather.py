"""From a recording as recollected to the review of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from itertools import groupby, pairwise
from operator import attrgetter
from statistics import median

from monitor.base.units import knots
from monitor.records.estimates import LoadEstimate, Validity
from monitor.records.review import Blow, Forecast, Passed, Review
from monitor.run.recollect import Recalled
from monitor.run.recording import Recording, RecordingError, program_version
from monitor.run.resumed import inputs
from monitor.settings.assumed import assumptions
from monitor.watch.reviewed.answers import answers, gaps
from monitor.watch.reviewed.blows import blows, forecast_of
from monitor.watch.reviewed.fatigue import lines_seen
from monitor.watch.reviewed.passes import FELT_FOR, Concluded, passes


def gather(recording: Recording, recalled: Recalled) -> Review:
    """The facts of a stay. Raises RecordingError when nothing was recorded, ValueError without `rainflow`."""
    begins, ends = recalled.begins, recalled.ends
    if begins is None or ends is None:
        raise RecordingError(f"recording {recording.path.name} holds no inputs")
    settings, about = recalled.settings, recording.about
    stay, ship, berth = settings.stay, settings.ship, settings.berth
    levels = settings.alerts.levels
    estimates = sorted(recalled.estimates, key=lambda estimate: estimate.at)
    concluded = Concluded(
        estimates,
        recalled.transitions,
        recalled.notices,
        recalled.outlooks,
        recalled.tensions,
        outlooks_kept=not recalled.replayed,
    )
    passed = passes(recalled.near, concluded, recalled.settings_at)

    def squall_m_s(at: datetime) -> float:
        return recalled.settings_at(at).alerts.squall.at_least

    blown = blows(estimates, recalled.transitions, recalled.forecasts, squall_m_s)
    carried = {line.name: line for line in ship.lines}
    parts = {led.line: led.parts for led in stay.lines}
    going_on = what_went_on(estimates, passed, blown)
    steps_s = [(later.at - earlier.at).total_seconds() for earlier, later in pairwise(estimates)]
    known = [estimate for estimate in estimates if estimate.validity is not Validity.UNKNOWN]
    carries = {each.name: each.carries for each in inputs(stay)}
    return Review(
        title=about.name if about else stay.name,
        invented=stay.invented or ship.invented or berth.invented or bool(about and about.invented),
        holds=about.holds if about else "",
        ship=ship.name,
        berth=berth.name,
        port=berth.port,
        loa_m=ship.loa,
        ahead_of_utc=stay.local_time_ahead_of_utc,
        begins=begins,
        ends=ends,
        mid_watch=bool(about and about.mid_watch),
        whole=tuple(_not_whole(recording, recalled)),
        replayed=recalled.replayed,
        step_s=median(steps_s) if steps_s else None,
        known_share=len(known) / len(estimates) if estimates else None,
        levels=(levels.caution, levels.warning, levels.alarm),
        estimates=tuple(estimates),
        passes=passed,
        blows=blown,
        alerts=answers(recalled.transitions, recalled.notices, passed, blown),
        entries=tuple(recalled.entries),
        gaps=gaps(recalled.silent, recalled.statuses, recalled.starts, recalled.transitions, carries, ends),
        lines=lines_seen(estimates, carried, parts, going_on),
        elsewhere=tuple(rejudged.result() for rejudged in recalled.rejudged),
        forecasts=tuple(_hourly(recalled, begins, ends)),
        assumed=assumptions(settings),
        program=tuple(dict.fromkeys(started.version for _, started in recalled.starts)),
        program_now=program_version(),
        settings_sha256=tuple(dict.fromkeys(snapshot.sha256 for snapshot in recalled.snapshots)),
        settings_changed=tuple(_changed(recalled)),
        earlier_stays=tuple(recalled.earlier),
    )


def _changed(recalled: Recalled) -> Iterator[tuple[datetime, tuple[str, ...]]]:
    """When the settings became others while she lay there, and which files."""
    others = [next(same) for _, same in groupby(recalled.snapshots, key=attrgetter("sha256"))]
    at = [since for since, _ in recalled.in_force]
    for since, (before, after) in zip(at[1:], pairwise(others), strict=False):
        was = dict(before.files)
        yield since, tuple(name for name, text in after.files if was.get(name) != text)


def what_went_on(estimates: Sequence[LoadEstimate], passed: Sequence[Passed], blown: Sequence[Blow]) -> list[str]:
    """By estimate, in few words: the ship abreast, the wind when it blew or was not known; else neither."""
    words = []
    for estimate in estimates:
        ship = next(
            (
                one
                for one in passed
                if one.passed and one.overlap_from - FELT_FOR <= estimate.at <= one.overlap_to + FELT_FOR
            ),
            None,
        )
        blow = next((one for one in blown if one.begins <= estimate.at <= one.ends), None)
        band = estimate.wind.speed_30s_m_s
        blew = "" if band is None or blow is None else f"wind {knots(band.mid):.0f} kn"
        wind = "wind not known" if band is None else blew
        name = (ship.name or f"MMSI {ship.mmsi}") + " passing" if ship is not None else ""
        words.append(" and ".join(each for each in (name, wind) if each) or "no ship abreast, no wind episode")
    return words


def _not_whole(recording: Recording, recalled: Recalled) -> list[str]:
    told = [str(cut) for cut in recording.cuts]
    told += [
        f"the PC clock was set by {step_s:+.0f} s at {at:%H:%M:%S} UTC: times before and after do not compare"
        for at, step_s in recalled.clock_sets
    ]
    return told


def _hourly(recalled: Recalled, begins: datetime, ends: datetime) -> list[tuple[datetime, Forecast]]:
    """What was forecast of each half hour, as last known two hours before; what came first where that is all."""
    rows = []
    at = begins.replace(minute=0, second=0, microsecond=0)
    while at <= ends:
        known_at = max(at - timedelta(hours=2), begins + timedelta(minutes=5))
        said = forecast_of(recalled.forecasts, at, known_at)
        if said is not None:
            rows.append((at, said))
        at += timedelta(minutes=30)
    return rows
