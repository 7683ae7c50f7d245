"""The picture of a moment: what a pipeline and the witness of the past know, as a screen needs it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from monitor.base.addresses import without_secrets
from monitor.base.frames import LocalMap, wrap180
from monitor.outlet.naming import alert_in_words
from monitor.physics.fittings import beyond_fairlead_n
from monitor.records.estimates import WaterEstimate
from monitor.records.events import AlertState
from monitor.records.picture import (
    BerthLimit,
    FeedRow,
    GaugeNow,
    Lead,
    LevelsNow,
    Measured,
    Mode,
    NearShip,
    Picture,
    Plan,
    Spot,
    StandingAlert,
    StayNow,
)
from monitor.records.situations import Matter
from monitor.run.pipeline import Pipeline
from monitor.run.recording import program_version
from monitor.run.witness import Witness
from monitor.settings.assumed import assumptions
from monitor.settings.fit import lies
from monitor.settings.schema import Limits, Settings
from monitor.watch.ground import site_of
from monitor.watch.tracks import Target
from monitor.watch.water import OffTables, water_at

NEAR_M: Final = 3000.0  # ships drawn on the plan or beside it
TIDE_EVERY: Final = timedelta(minutes=15)
TIDE_SHOWN: Final = timedelta(hours=1), timedelta(hours=12)
LOG_SHOWN: Final = 60
_BLIND: Final = (Matter.FEED, Matter.CLOCK, Matter.OWN)


def picture_of(
    pipeline: Pipeline,
    now: datetime,
    witness: Witness,
    mode: Mode = Mode.LIVE,
    title: str = "",
    settings_sha256: str = "",
) -> Picture:
    """All that a screen shows of a pipeline at `now`. Pure: it changes nothing in the watch."""
    settings = pipeline.settings
    fixed = _fixed(settings, now)
    stay = pipeline.stay
    levels = settings.alerts.with_people if stay.deck_manned else settings.alerts.levels
    off = pipeline.gauges.off(now)
    gauge = _gauge(off)
    return Picture(
        mode=mode,
        title=title,
        invented=settings.stay.invented or settings.ship.invented or settings.berth.invented,
        now=now,
        ahead_of_utc=settings.stay.local_time_ahead_of_utc,
        plan=fixed.plan,
        levels=LevelsNow(levels.caution, levels.warning, levels.alarm),
        estimate=pipeline.estimate,
        outlook=pipeline.outlook,
        alerts=_alerts(pipeline),
        ships=_ships(pipeline, now),
        past=witness.past(),
        spans=witness.spans(),
        tide=tuple(water_at(settings.stay.tide, settings.berth.stream, water.at, off) for water in fixed.tide)
        if gauge
        else fixed.tide,
        log=witness.log(LOG_SHOWN),
        feeds=_feeds(pipeline, now, witness),
        stay=StayNow(
            stay.phase,
            stay.moored,
            stay.people_on_deck,
            stay.people_where,
            stay.deck_manned,
            stay.draught_forward_m,
            stay.draught_aft_m,
            tuple((craft.mmsi, craft.lateral_area_m2) for craft in stay.craft),
            tuple(stay.lines.items()),
        ),
        limits=_limits(settings),
        assumed=fixed.assumed,
        program=program_version(),
        settings_sha256=settings_sha256,
        by_tables=fixed.tide if gauge else (),
        gauge=gauge,
        measured=_measured(pipeline, now),
        wind_choices=pipeline.weather.choices(now),
    )


def plan_of(settings: Settings) -> Plan:
    """Ship, quay and lines as led, from the settings alone."""
    ship, berth, stay = settings.ship, settings.berth, settings.stay
    berthed = lies(stay, ship, berth)
    chart = LocalMap(berth.position.latitude, berth.position.longitude)
    carried = {line.name: line for line in ship.lines}
    fairleads = {fairlead.name: fairlead for fairlead in ship.fairleads}
    bollards = {bollard.name: bollard for bollard in berth.bollards}
    ends = sorted(berthed.to_ship(along, 0.0)[0] for along in (berth.quay.begins_along, berth.quay.ends_along))
    leads = []
    for led in stay.lines:
        line, bollard = carried[led.line], bollards[led.bollard]
        fairlead = fairleads[line.fairlead]
        leads.append(
            Lead(
                line.name,
                line.group,
                (fairlead.forward, fairlead.starboard),
                berthed.to_ship(bollard.along, -bollard.behind_face),
                bollard.name,
                line.winch,
            )
        )
    return Plan(
        ship.name,
        berth.name,
        berth.port,
        ship.loa,
        ship.beam,
        berthed.heading_deg,
        berthed.quay_y_m,
        ends[0],
        ends[1],
        tuple(Spot(b.name, *berthed.to_ship(b.along, -b.behind_face), b.swl is not None) for b in berth.bollards),
        tuple(Spot(f.name, *berthed.to_ship(f.along, f.thickness)) for f in berth.fenders),
        tuple(leads),
        tuple(
            berthed.plane_to_ship(*chart.to_plane(point.latitude, point.longitude))
            for point in berth.fairway.middle
        ),
        berth.fairway.width,
        *((site.grounds, site.ways) if (site := site_of(settings)) else ()),
    )


@dataclass(frozen=True, slots=True)
class _Fixed:
    """What the settings alone decide, and the tide of a quarter of an hour: worked out once."""

    settings: Settings
    quarter: datetime
    plan: Plan
    assumed: tuple[str, ...]
    tide: tuple[WaterEstimate, ...]


_fixed_last: list[_Fixed] = []


def _fixed(settings: Settings, now: datetime) -> _Fixed:
    quarter = now.replace(minute=now.minute // 15 * 15, second=0, microsecond=0)
    last = _fixed_last[0] if _fixed_last else None
    if last is not None and last.settings is settings and last.quarter == quarter:
        return last
    known = last is not None and last.settings is settings
    tide, at = [], quarter - TIDE_SHOWN[0]
    while at <= quarter + TIDE_SHOWN[1] + TIDE_EVERY:
        tide.append(water_at(settings.stay.tide, settings.berth.stream, at))
        at += TIDE_EVERY
    plan, assumed = (last.plan, last.assumed) if known and last else (plan_of(settings), assumptions(settings))
    _fixed_last[:] = [_Fixed(settings, quarter, plan, assumed, tuple(tide))]
    return _fixed_last[0]


def _alerts(pipeline: Pipeline) -> tuple[StandingAlert, ...]:
    standing = [
        StandingAlert(
            alert.key,
            alert.state,
            alert.priority,
            alert.unknown,
            alert.since,
            alert.silent_until,
            pipeline.situations.get(alert.key),
            alert_in_words(alert.key, pipeline.traffic.name),
        )
        for alert in pipeline.alerts.values()
        if alert.state is not AlertState.NORMAL and alert.since is not None
    ]
    return tuple(sorted(standing, key=_urgency))


def _urgency(alert: StandingAlert) -> tuple[bool, int, bool, bool, bool, float, datetime]:
    """Standing ones first, the higher first, those whose cause is there, the unanswered, danger before blindness,
    then what asks people to be clear soonest."""
    situation = alert.situation
    clear_by = situation.clear_by or situation.at if situation else None
    soon_s = clear_by.timestamp() if clear_by else 0.0
    answered = alert.state is AlertState.ACKNOWLEDGED
    blind = situation is not None and situation.matter in _BLIND
    over, gone = alert.state is AlertState.RECTIFIED, situation is None
    return over, -alert.priority.rank, gone, answered, blind, soon_s, alert.since


def _ships(pipeline: Pipeline, now: datetime) -> tuple[NearShip, ...]:
    own_heading_deg = pipeline.estimator.moored.berthed.heading_deg
    return tuple(_near(pipeline, target, own_heading_deg) for target in pipeline.traffic.targets(now, NEAR_M))


def _near(pipeline: Pipeline, target: Target, own_heading_deg: float) -> NearShip:
    told = target.particulars
    heading_deg = target.heading_deg
    return NearShip(
        target.mmsi,
        target.name,
        *pipeline.estimator.moored.berthed.plane_to_ship(target.north_m, target.east_m),
        None if heading_deg is None else wrap180(heading_deg - own_heading_deg),
        told.length_m if told else None,
        told.beam_m if told else None,
        target.sog_m_s,
        target.at_rest,
        target.fix_age_s,
    )


def _gauge(off: OffTables | None) -> GaugeNow | None:
    if off is None or off.height_m is None or off.level_at is None:
        return None
    return GaugeNow(off.level_source, off.height_m, off.above_m, off.level_at)


def _measured(pipeline: Pipeline, now: datetime) -> tuple[Measured, ...]:
    """Every line that the stay gives a force sensor, heard or not."""
    fresh, readings = pipeline.tensions(now), pipeline.tension_readings
    carried = {line.name: line for line in pipeline.settings.ship.lines}
    found = []
    for led in pipeline.settings.stay.lines:
        if led.sensor:
            line, tension_n, last = carried[led.line], fresh.get(led.line), readings.get(led.line)
            beyond_n, ashore = None, led.sensor_reads == "all parts"  # on the bollard: no fairlead between
            if tension_n is not None and line.turn_at_fairlead is not None and not ashore:
                beyond_n = beyond_fairlead_n(tension_n, line.material, line.turn_at_fairlead)
            found.append(Measured(led.line, led.sensor, tension_n, last.received_at if last else None, beyond_n))
    return tuple(found)


def _feeds(pipeline: Pipeline, now: datetime, witness: Witness) -> tuple[FeedRow, ...]:
    settings = {feed.name: feed for feed in pipeline.settings.stay.feeds}
    counts = pipeline.counts
    rows = []
    for state in pipeline.feed_states(now):
        feed = settings[state.source]
        counted: Mapping[str, int] = counts.get(state.source, {})
        accepted = counted.get("accepted", 0)
        last_at, raw = witness.raw.get(state.source, (None, ""))
        rows.append(
            FeedRow(
                state.name,
                state.carries,
                f"{feed.over} {without_secrets(feed.to)}",
                state.up,
                state.dark,
                state.detail,
                state.age_s,
                state.stale_after_s,
                accepted,
                sum(counted.values()) - accepted,
                last_at,
                raw,
            )
        )
    return tuple(rows)


def _limits(settings: Settings) -> tuple[BerthLimit, ...]:
    found = []
    for name in Limits.model_fields:
        limit = getattr(settings.berth.limits, name)
        if limit is None:
            found.append(BerthLimit(name, None))
        else:
            found.append(BerthLimit(name, limit.speed, limit.on, limit.averaging, limit.source))
    return tuple(found)
