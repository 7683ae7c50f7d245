"""The waves of a ship that passes, at our berth, and how she draws the water down: told where they matter, never
added to the lines' loads."""

from __future__ import annotations

from datetime import timedelta
from typing import Final

from monitor.base.frames import wrap180
from monitor.base.units import knots
from monitor.physics.hulls import Hull
from monitor.physics.passing import Basin
from monitor.physics.wake import Channel, Drawdown, ShipWaves, drawdown, ship_waves, wave_push
from monitor.records.estimates import Encounter

CLOSEST_M: Final = 5.0  # nearer than this to her side no formula tells a wave
# The upper end of a drawdown that is told, ours: either, whichever is less.
DRAWDOWN_FELT_M: Final = 0.2
DRAWDOWN_FELT: Final = 0.1  # of the water under our keel
NEXT_TO_NOTHING: Final = 0.01  # of the channel's section: a ship with less of it draws no water down (ours)


def waves_of(passer: Hull, encounter: Encounter, own: Hull, basin: Basin) -> ShipWaves | None:
    """Her waves at our side, for the middle of what is expected. None: at rest, or too fast for any formula."""
    distance_m = max(CLOSEST_M, encounter.separation_m.mid - 0.5 * own.beam_m)
    return ship_waves(
        passer,
        encounter.speed_water_m_s.mid,
        encounter.speed_ground_m_s.mid,
        basin.depth_m,
        distance_m,
    )


def wash_reasons(
    passer: Hull, encounter: Encounter, own: Hull, own_heading_deg: float, basin: Basin
) -> tuple[str, ...]:
    """What to say of her waves beside the line loads, which do not hold them; nothing where they do not matter."""
    if encounter.speed_water_m_s.mid <= 0.0:
        return ()
    waves = waves_of(passer, encounter, own, basin)
    if waves is None:
        return ("too fast for any formula of ship waves: her wash is not in the line loads",)
    # Of the two arms of her wave pattern, the one on our side; it may come along us more than her course does.
    course_deg = abs(wrap180(encounter.course_deg - own_heading_deg))
    off_axis_deg = waves.off_track_deg + min(course_deg, 180.0 - course_deg)
    if not wave_push(own, waves, basin.depth_m, min(off_axis_deg, 90.0)).felt:
        return ()
    height, when = waves.height_m, ""
    if waves.arrival_s is not None:
        when = f", {_minutes(timedelta(seconds=waves.arrival_s))} after her bow"
    told = f"her wash, {height.low:.1f}–{height.high:.1f} m every {waves.period_s:.0f} s{when}"
    return (f"{told}: not in the line loads",)


def drawdown_of(passer: Hull, encounter: Encounter, channel: Channel | None) -> Drawdown | None:
    """How she draws the water down. None: the section is not known, or she is beyond its limiting speed."""
    try:
        return None if channel is None else drawdown(passer, channel, encounter.speed_water_m_s.mid)
    except ValueError:
        return None


def drawdown_reasons(
    passer: Hull, encounter: Encounter, own: Hull, basin: Basin, channel: Channel | None
) -> tuple[str, ...]:
    """What to say of the water sinking as she passes, which the pressure in the passing load holds already.

    Nothing where the section of the channel is not known, or where it does not matter.
    """
    if channel is None or encounter.speed_water_m_s.mid <= 0.0:
        return ()
    if passer.midship_area_m2 < NEXT_TO_NOTHING * channel.area_m2:
        return ()
    found = drawdown_of(passer, encounter, channel)
    if found is None:
        return ("at the limiting speed of the channel: the water sinks by more than any formula tells",)
    sinks, under_keel_m = found.sinks_m, basin.depth_m - own.draught_m
    if sinks.high < min(DRAWDOWN_FELT_M, DRAWDOWN_FELT * under_keel_m):
        return ()
    runs_kn = knots(found.returns_m_s.mid)
    told = f"the water sinks {sinks.low:.1f}–{sinks.high:.1f} m and runs aft at {runs_kn:.1f} kn as she passes"
    return (f"{told}: in the line loads already",)


def _minutes(span: timedelta) -> str:
    minutes = span / timedelta(minutes=1)
    return f"{span.total_seconds():.0f} s" if minutes < 2.0 else f"{minutes:.0f} min"
