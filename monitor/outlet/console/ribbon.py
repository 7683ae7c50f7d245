"""The time ribbon: what was, what is, what is expected, in lanes over one scale of time.

Three stretches of time, each with its own scale and a line between: the last hour, the next hour, and on to twelve
hours. Lanes: the heaviest line as a share of its limit; the wind; the tide; the alerts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Final

from monitor.base.units import knots
from monitor.outlet.console.approach import MAY_PASS
from monitor.outlet.console.gauge import MARKS
from monitor.outlet.console.svg import arrow, box, drawing, el, rule, shape, stroke, text
from monitor.outlet.wording import Local
from monitor.records.estimates import Band
from monitor.records.events import Priority
from monitor.records.picture import Picture, Span

STRETCHES: Final = ((-60.0, 0.0), (0.0, 0.30), (60.0, 0.62), (720.0, 1.0))  # minutes from now, share of the width
LEFT: Final = 118.0
TOP: Final = 24.0
LOAD_TOP: Final = 1.1
LEGEND: Final = {"load": "LOAD %", "wind": "WIND kn", "tide": "TIDE m", "alerts": "ALERTS"}


@dataclass(frozen=True, slots=True)
class _Lane:
    """A strip of the ribbon: values from low at its foot to high at its top."""

    y: float
    height: float
    low: float
    high: float

    def at(self, value: float) -> float:
        share = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return self.y + self.height * (1.0 - share)


@dataclass(frozen=True, slots=True)
class _Scale:
    now: datetime
    width: float

    def x(self, at: datetime) -> float:
        return self.minutes((at - self.now).total_seconds() / 60.0)

    def minutes(self, minutes: float) -> float:
        minutes = min(max(minutes, STRETCHES[0][0]), STRETCHES[-1][0])
        for (from_min, from_share), (to_min, to_share) in pairwise(STRETCHES):
            if minutes <= to_min:
                share = from_share + (minutes - from_min) / (to_min - from_min) * (to_share - from_share)
                return LEFT + share * (self.width - LEFT - 10.0)
        return self.width - 10.0

    def shows(self, at: datetime) -> bool:
        return STRETCHES[0][0] <= (at - self.now).total_seconds() / 60.0 <= STRETCHES[-1][0]


def ribbon_drawing(picture: Picture, width: float, height: float) -> str:
    """The ribbon of a picture."""
    scale, local = _Scale(picture.now, width), Local(picture.ahead_of_utc)
    room = height - TOP - 6.0
    fastest = max(
        [20.0]
        + [knots(past.gust_m_s) for past in picture.past if past.gust_m_s is not None]
        + [knots(h.gust_m_s or h.wind_m_s.high) for h in (picture.outlook.hours if picture.outlook else ())]
    )
    heights = [water.height_m for water in (*picture.tide, *picture.by_tables) if water.height_m is not None]
    load = _Lane(TOP + 4, 0.40 * room - 4, 0.0, LOAD_TOP)
    wind = _Lane(TOP + 0.43 * room, 0.26 * room, 0.0, 10.0 * (fastest // 10 + 1))
    tide = _Lane(TOP + 0.72 * room, 0.13 * room, min(heights, default=0.0) - 0.3, max(heights, default=4.0) + 0.3)
    alerts = _Lane(TOP + 0.87 * room, 0.13 * room, 0.0, 1.0)
    parts = [
        *_frame(scale, local, height, load, wind, tide, alerts),
        *_levels(picture, scale, load),
        *_past_load(picture, scale, load),
        *_coming_load(picture, scale, load, local),
        *_wind(picture, scale, wind),
        *_tide(picture, scale, tide),
        *_alerts(picture, scale, alerts),
        rule(scale.minutes(0), TOP - 6, scale.minutes(0), height, "now-line"),
        text(scale.minutes(0), 14, "NOW", "small strong", "middle"),
        *_values(picture, scale, load, wind),
    ]
    return drawing(width, height, "Past hour and next twelve hours: load, wind, tide and alerts", *parts)


def _frame(
    scale: _Scale, local: Local, height: float, load: _Lane, wind: _Lane, tide: _Lane, alerts: _Lane
) -> list[str]:
    parts = []
    for name, lane in zip(LEGEND, (load, wind, tide, alerts), strict=True):
        parts.append(box(LEFT, lane.y, scale.width - LEFT - 10, lane.height, "lane-back"))
        parts.append(text(6, lane.y + min(lane.height, 16), LEGEND[name], "small strong"))
    parts.append(text(6, 14, "past hour ▸", "small dim"))
    for lane, values in ((load, (0.5, 1.0)), (wind, (wind.high / 2, wind.high)), (tide, ())):
        for value in values:
            shown = f"{100 * value:.0f}" if lane is load else f"{value:.0f}"
            parts.append(rule(LEFT, lane.at(value), scale.width - 10, lane.at(value), "grid"))
            parts.append(text(LEFT - 6, lane.at(value) + 5, shown, "small", "end"))
    for at in _ticks(scale.now):
        x = scale.x(at)
        parts.append(rule(x, TOP - 4, x, height, "grid"))
        if abs(x - scale.minutes(0)) > 44 and x < scale.width - 24:
            parts.append(text(x, 14, local.clock(at).removesuffix(" LT"), "small", "middle"))
    seam = scale.minutes(60)
    parts.append(rule(seam, TOP - 6, seam, height, "seam"))
    return parts


def _ticks(now: datetime) -> list[datetime]:
    """Every 20 min within the hours round now, then every two hours."""
    near = now.replace(minute=now.minute // 20 * 20, second=0, microsecond=0)
    found = [near + timedelta(minutes=20 * n) for n in range(-3, 5) if abs(n) <= 4]
    found = [at for at in found if abs((at - now).total_seconds()) <= 3600 - 240]
    hour = now.replace(minute=0, second=0, microsecond=0)
    return found + [
        hour + timedelta(hours=n)
        for n in range(2, 14, 2)
        if (hour + timedelta(hours=n) - now).total_seconds() > 5400
    ]


def _values(picture: Picture, scale: _Scale, load: _Lane, wind: _Lane) -> list[str]:
    """The numbers of now, beside the line of now."""
    estimate, x = picture.estimate, scale.minutes(0) - 6
    if estimate is None:
        return []
    parts = []
    if estimate.lines:
        share = estimate.lines[0].utilisation
        parts.append(
            text(x, max(load.at(share.high) - 6, load.y + 14), f"{100 * share.mid:.0f} %", "value halo", "end")
        )
    if estimate.wind.speed_30s_m_s is not None:
        speed_kn = knots(estimate.wind.speed_30s_m_s.mid)
        parts.append(text(x, max(wind.at(speed_kn) - 6, wind.y + 14), f"{speed_kn:.0f} kn", "value halo", "end"))
    return parts


def _levels(picture: Picture, scale: _Scale, lane: _Lane) -> list[str]:
    parts = []
    for share, mark in ((picture.levels.caution, 1), (picture.levels.warning, 2), (picture.levels.alarm, 3)):
        y = lane.at(share)
        parts.append(rule(LEFT, y, scale.width - 10, y, f"level-line level-line{mark}"))
        parts.append(text(LEFT + 2, y - 2, MARKS[mark], "mark"))
    parts.append(rule(LEFT, lane.at(1.0), scale.width - 10, lane.at(1.0), "gauge-wall"))
    return parts


def _past_load(picture: Picture, scale: _Scale, lane: _Lane) -> list[str]:
    shown = [past for past in picture.past if scale.shows(past.at)]
    parts = []
    for run in _runs([(past.at, past.utilisation) for past in shown]):
        parts.append(_band([(scale.x(at), band) for at, band in run], lane, 1.0, "band-past"))
        parts.append(stroke([(scale.x(at), lane.at(band.mid)) for at, band in run], "middle-past"))
    return parts


def _coming_load(picture: Picture, scale: _Scale, lane: _Lane, local: Local) -> list[str]:
    if picture.outlook is None:
        return [text(scale.minutes(90), lane.y + 0.55 * lane.height, "hours ahead NOT KNOWN", "label halo")]
    parts = []
    hours = [(hour.at, hour.lines[0].utilisation) for hour in picture.outlook.hours if hour.lines]
    hours = [(at, band) for at, band in hours if scale.shows(at) and at >= picture.now]
    steady = picture.estimate.steady_lines if picture.estimate else ()
    if hours and steady:
        hours.insert(0, (picture.now, steady[0].utilisation))
    if hours:
        parts.append(_band([(scale.x(at), band) for at, band in hours], lane, 1.0, "band-coming"))
        parts.append(stroke([(scale.x(at), lane.at(band.mid)) for at, band in hours], "middle-coming"))
    else:
        parts.append(text(scale.minutes(90), lane.y + 0.55 * lane.height, "hours ahead NOT KNOWN", "label halo"))
    last_x, labels = -1e9, []
    for passing in sorted(picture.outlook.passings, key=lambda p: p.encounter.abeam_at):
        encounter = passing.encounter
        if encounter.passes < MAY_PASS or not scale.shows(encounter.abeam_at):
            continue
        x1, x2 = scale.x(encounter.earliest_at), scale.x(encounter.latest_at)
        x = scale.x(encounter.abeam_at)
        if passing.lines:
            band = passing.lines[0].utilisation
            y1, y2 = lane.at(band.high), lane.at(band.low)
            parts.append(box(min(x1, x - 4), y1, max(8.0, x2 - x1), y2 - y1, "pass-band"))
            parts.append(rule(min(x1, x - 4), lane.at(band.mid), max(x2, x + 4), lane.at(band.mid), "pass-mid"))
            over = " ▸over" if band.high > LOAD_TOP else ""
            told = f"{100 * band.low:.0f}–{100 * band.high:.0f}%{over}"
        else:
            told = "load NOT KNOWN"
        if x - last_x > 150:
            labels.append(text(x2 + 6, lane.y + 16, encounter.name or encounter.mmsi, "small strong halo"))
            labels.append(text(x2 + 6, lane.y + 32, f"{local.clock(encounter.abeam_at)} {told}", "small halo"))
            last_x = x
        parts.append(shape([(x - 6, TOP - 2), (x + 6, TOP - 2), (x, TOP + 8)], "pass-mark"))
    return parts + labels  # above the bands of later passes


def _wind(picture: Picture, scale: _Scale, lane: _Lane) -> list[str]:
    parts = []
    past = [sample for sample in picture.past if scale.shows(sample.at)]
    for run in _runs([(sample.at, sample.wind_m_s) for sample in past]):
        parts.append(stroke([(scale.x(at), lane.at(knots(band.mid))) for at, band in run], "middle-past"))
    for sample in past[::3]:
        if sample.gust_m_s is not None:
            parts.append(
                el("circle", cx=scale.x(sample.at), cy=lane.at(knots(sample.gust_m_s)), r=2, class_="gust")
            )
    hours = [
        h for h in (picture.outlook.hours if picture.outlook else ()) if scale.shows(h.at) and h.at >= picture.now
    ]
    now = picture.estimate.wind.speed_30s_m_s if picture.estimate else None
    if hours:
        coming = [(scale.x(h.at), h.wind_m_s) for h in hours]
        if now is not None:
            coming.insert(0, (scale.minutes(0), now))
        parts.append(_band(coming, lane, knots(1.0), "band-coming"))
        parts.append(stroke([(x, lane.at(knots(band.mid))) for x, band in coming], "middle-coming"))
        heading = picture.plan.heading_deg
        for h in hours:
            if h.gust_m_s is not None:
                parts.append(el("circle", cx=scale.x(h.at), cy=lane.at(knots(h.gust_m_s)), r=3, class_="gust"))
        for h in hours[1::2]:
            parts.append(
                arrow(scale.x(h.at), lane.y + lane.height - 10, h.from_direction_deg + 180 - heading, 18, "thin")
            )
    else:
        parts.append(text(scale.minutes(90), lane.y + 20, "NO FORECAST", "label"))
    return parts


def _tide(picture: Picture, scale: _Scale, lane: _Lane) -> list[str]:
    known = [(w.at, w.height_m) for w in picture.tide if w.height_m is not None and scale.shows(w.at)]
    if not known:
        return [text(scale.minutes(0) + 8, lane.y + 16, "TIDE NOT KNOWN", "small strong")]
    parts = [stroke([(scale.x(at), lane.at(height_m)) for at, height_m in known], "tide")]
    parts += _measured_level(picture, scale, lane)
    for before, here, after in zip(known, known[1:], known[2:], strict=False):
        if (here[1] - before[1]) * (after[1] - here[1]) < 0:
            above = here[1] < before[1]
            y = lane.at(here[1]) + (-4 if above else 13)
            parts.append(text(scale.x(here[0]), y, f"{here[1]:.1f} m", "small halo", "middle"))
    return parts


def _measured_level(picture: Picture, scale: _Scale, lane: _Lane) -> list[str]:
    """With a gauge in use: its level of the past hour, the tables beside it, and by how much they differ now."""
    if picture.gauge is None:
        return []
    tables = [(scale.x(w.at), lane.at(w.height_m)) for w in picture.by_tables
              if w.height_m is not None and scale.shows(w.at)]  # fmt: skip
    past = [(scale.x(p.at), lane.at(p.level_m)) for p in picture.past
            if p.level_m is not None and p.level_source and scale.shows(p.at)]  # fmt: skip
    parts = [stroke(tables, "tide-tables"), stroke(past, "tide-measured")]
    above_m = picture.gauge.above_tables_m
    off = (
        "" if above_m is None else f", {abs(above_m):.2f} m {'above' if above_m >= 0 else 'below'} tables (dotted)"
    )
    words = f"{picture.gauge.level_m:.1f} m by {picture.gauge.source}{off}"
    if 7.2 * len(words) > scale.minutes(60) - scale.minutes(0):
        short = "" if above_m is None else f", {above_m:+.2f} m on tables"
        words = f"gauge {picture.gauge.level_m:.1f} m{short}"
    high = lane.at(picture.gauge.level_m) < lane.y + lane.height / 2  # words keep clear of the curve
    y = lane.y + lane.height - 4 if high else lane.y + 12
    return [*parts, text(scale.minutes(0) + 8, y, words, "small halo")]


def _alerts(picture: Picture, scale: _Scale, lane: _Lane) -> list[str]:
    rows: list[float] = []
    parts = []
    deep = max(1, int(lane.height // 11))
    for span in picture.spans:
        until = span.until or picture.now
        if not scale.shows(until):
            continue
        x1, x2 = scale.x(span.since), scale.x(until)
        row = next((n for n, end in enumerate(rows) if end <= x1), len(rows))
        rows[row : row + 1] = [x2]
        if row < deep:
            parts += _bar(span, x1, max(x2 - x1, 3.0), lane.y + 1 + 11 * row)
    return parts


def _bar(span: Span, x: float, width: float, y: float) -> list[str]:
    rank = span.priority.rank
    parts = [box(x, y, width, 10, f"span level{rank}", rx=2)]
    if width > 14 * rank and span.priority is not Priority.NONE:
        parts.append(text(x + 3, y + 9, MARKS[rank], f"mark on-level{rank}"))
    return parts


def _runs(samples: Sequence[tuple[datetime, Band | None]]) -> list[list[tuple[datetime, Band]]]:
    """Known stretches: a gap of more than five minutes, or of not knowing, is left open."""
    runs: list[list[tuple[datetime, Band]]] = []
    last: datetime | None = None
    for at, band in samples:
        if band is None:
            last = None
            continue
        if last is None or at - last > timedelta(minutes=5):
            runs.append([])
        runs[-1].append((at, band))
        last = at
    return runs


def _band(run: Sequence[tuple[float, Band]], lane: _Lane, unit: float, kind: str) -> str:
    upper = [(x, lane.at(unit * band.high)) for x, band in run]
    lower = [(x, lane.at(unit * band.low)) for x, band in reversed(run)]
    return shape([*upper, *lower], kind)
