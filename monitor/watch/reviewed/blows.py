"""Wind episodes: what came, and what had been forecast of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta
from typing import Final

from monitor.records.estimates import LineLoad, LoadEstimate
from monitor.records.events import Priority, Reason, Transition
from monitor.records.observations import WindForecast
from monitor.records.review import Blow, Forecast
from monitor.watch.reviewed.passes import within

ONE_BLOW: Final = timedelta(minutes=15)  # a lull shorter than this does not end an episode (ours)
EARLIER: Final = timedelta(hours=2)  # what was forecast this long before it began is shown too
KEYS: Final = ("wind", "limit:")  # alerts on the wind that blows


def blows(
    estimates: Sequence[LoadEstimate],
    transitions: Sequence[Transition],
    forecasts: Sequence[WindForecast],
    above_m_s: Callable[[datetime], float],
) -> tuple[Blow, ...]:
    """Episodes in which the 30 s wind stood above the speed of that time or an alert on the wind stood;
    `forecasts` as received."""
    standing = _standing(transitions, estimates[-1].at) if estimates else []
    spans: list[tuple[datetime, datetime]] = []
    for estimate in estimates:
        speed = estimate.wind.speed_30s_m_s
        told = any(begins <= estimate.at <= ends for begins, ends in standing)
        if speed is None or not (told or speed.mid >= above_m_s(estimate.at)):
            continue
        if spans and estimate.at - spans[-1][1] <= ONE_BLOW:
            spans[-1] = spans[-1][0], estimate.at
        else:
            spans.append((estimate.at, estimate.at))
    return tuple(_blow(within(estimates, *span), transitions, forecasts) for span in spans)


def _standing(transitions: Sequence[Transition], ends: datetime) -> list[tuple[datetime, datetime]]:
    """From when to when an alert on the wind stood; to the end, where none is told."""
    open_at: dict[str, datetime] = {}
    spans = []
    for transition in transitions:
        if not transition.alert.startswith(KEYS):
            continue
        if transition.reason is Reason.RAISED:
            open_at[transition.alert] = transition.at
        elif transition.reason is Reason.RECTIFIED and transition.alert in open_at:
            spans.append((open_at.pop(transition.alert), transition.at))
    return spans + [(since, ends) for since in open_at.values()]


def _blow(
    estimates: Sequence[LoadEstimate], transitions: Sequence[Transition], forecasts: Sequence[WindForecast]
) -> Blow:
    begins, ends = estimates[0].at, estimates[-1].at
    known = [e for e in estimates if e.wind.speed_30s_m_s is not None]
    peak = max(known, key=lambda e: e.wind.speed_30s_m_s.mid if e.wind.speed_30s_m_s else 0.0)
    assert peak.wind.speed_30s_m_s is not None
    gusts = [(e.wind.gust_m_s, e.at) for e in estimates if e.wind.gust_m_s is not None]
    rises = [(e.wind.rise_m_s_min, e.at) for e in estimates if e.wind.rise_m_s_min is not None]
    gust, gust_at = max(gusts, key=lambda each: each[0], default=(None, None))
    rise, rise_at = max(rises, key=lambda each: each[0], default=(None, None))
    top: tuple[LineLoad, datetime] | None = None
    for estimate in estimates:
        for load in estimate.lines:
            if top is None or load.utilisation.mid > top[0].utilisation.mid:
                top = load, estimate.at
    told = [t for t in transitions if t.alert.startswith(KEYS) and begins - ONE_BLOW <= t.at <= ends]
    raised = [t.at for t in told if t.reason is Reason.RAISED]
    return Blow(
        begins,
        ends,
        peak.at,
        peak.wind.speed_30s_m_s,
        gust,
        gust_at,
        max((e.wind.mean_m_s for e in estimates if e.wind.mean_m_s is not None), default=None),
        peak.wind.from_direction_deg,
        rise,
        rise_at,
        tuple(_of(forecasts, peak.at, begins)),
        top[0] if top else None,
        top[1] if top else None,
        max((t.priority for t in told), key=lambda level: level.rank, default=Priority.NONE),
        min(raised, default=None),
    )


def _of(forecasts: Sequence[WindForecast], moment: datetime, begins: datetime) -> Iterator[Forecast]:
    """What was last known before it began, and two hours earlier, of its height; each forecast once."""
    seen: set[datetime] = set()
    for known_at in (begins, begins - EARLIER):
        said = forecast_of(forecasts, moment, known_at)
        if said is not None and said.issued_at not in seen:
            seen.add(said.issued_at)
            yield said


def forecast_of(forecasts: Sequence[WindForecast], moment: datetime, known_at: datetime) -> Forecast | None:
    """The last forecast received by `known_at` on a moment: its step nearest in time, at most an hour away."""
    for forecast in reversed(forecasts):
        if forecast.received_at > known_at:
            continue
        step = min(forecast.steps, key=lambda step: abs(step.observed_at - moment), default=None)
        if step is None or abs(step.observed_at - moment) > timedelta(hours=1):
            return None
        return Forecast(forecast.issued_at, forecast.source, step.mean_m_s, step.gust_m_s, step.from_direction_deg)
    return None
