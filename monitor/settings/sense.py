"""Can it be so? Figures of one file that cannot all be true together. The bounds are wide: they catch a slip of
the pen or a wrong unit, not an unusual ship."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from itertools import pairwise
from math import hypot
from typing import Final
from urllib.parse import urlsplit

from monitor.base.frames import LocalMap
from monitor.settings.faults import Fault, listed, written
from monitor.settings.page import Page
from monitor.settings.places import Path
from monitor.settings.schema import (
    FORWARD_GROUPS,
    STATIONS,
    Alerts,
    Berth,
    Feed,
    Levels,
    Limits,
    Odds,
    Ship,
    ShipLine,
    Stay,
    WindLimit,
)

HULL_MARGIN_M: Final = 0.5  # a fairlead may stand this far outside the moulded hull
DRAUGHT_MARGIN: Final = 1.05  # tropical and fresh water let a ship lie some 4 % deeper than her summer mark
NO_USUAL_WINDAGE: Final = ("offshore supply vessel", "research vessel", "fishing vessel")  # no table is known
_SHORTEST_LPP: Final = 0.7  # of the length over all (common practice, no source: some 0.93 to 0.99)
# WMO: gust 3 s, mean 10 min; ports also use 30 s and 1 min for both (from memory).
_GUST_AT_MOST_S, _MEAN_AT_LEAST_S = 60.0, 10.0
_TALLEST_M: Final = 70.0  # mean height of a wind area above the water: no ship reaches it
_FAIRWAY_WITHIN_M: Final = 50e3
_TIDES_APART: Final = timedelta(hours=20)  # common practice, no source: even a diurnal tide turns sooner
_REPEAT_WITHIN_S: Final = 300.0  # IMO MSC.302(87): an unacknowledged warning repeats within 5 min (from memory)
_POLL_AT_MOST_S: Final = 60.0
_AIS_SILENT_AT_MOST_S: Final = 180.0
_SENTENCE_WAYS: Final = ("tcp", "udp", "serial", "file")
_WAYS: Final = {  # what comes otherwise than sentences do
    **dict.fromkeys(
        ("met norway", "open-meteo", "co-ops wind", "co-ops water level", "nws", "metar"), ("http", "file")
    ),
    "forecast table": ("file",),
    "signal k": ("websocket",),
    "decoded ais csv": ("file",),
}


def ship_sense(page: Page, ship: Ship) -> Iterator[Fault]:
    """Dimensions, wind areas, fairleads on the hull, strengths of lines."""

    def metres(path: Path, problem: str, limit_m: float, upto: str) -> Fault:
        return page.fault(path, problem, f"at most {limit_m:.1f} m, {upto}")

    if ship.length_between_perpendiculars > ship.loa:
        yield metres(("length_between_perpendiculars",), "longer than the ship", ship.loa, "her loa")
    elif ship.length_between_perpendiculars < _SHORTEST_LPP * ship.loa:
        shown = f"at least {_SHORTEST_LPP * ship.loa:.1f} m, 70 % of her loa"
        yield page.fault(("length_between_perpendiculars",), "far shorter than the ship", shown)
    if ship.beam >= ship.loa:
        yield metres(("beam",), "wider than the ship is long", ship.loa, "her loa")
    if ship.summer_draught >= ship.depth_moulded:
        yield metres(("summer_draught",), "deeper than the hull is high", ship.depth_moulded, "her depth_moulded")
    if ship.anemometer_above_keel <= ship.summer_draught:
        yield page.fault(
            ("anemometer_above_keel",), "under water", f"above {ship.summer_draught:.1f} m, her draught"
        )
    w = ship.windage
    if w.reference_draught > ship.summer_draught * DRAUGHT_MARGIN:
        deepest_m = ship.summer_draught * DRAUGHT_MARGIN
        yield metres(("windage", "reference_draught"), "too deep", deepest_m, "5 % over her summer_draught")
    for key, area_m2, width_m, name in (
        ("lateral_area", w.lateral_area, ship.loa, "loa"),
        ("frontal_area", w.frontal_area, ship.beam, "beam"),
    ):
        if area_m2 is not None and not width_m <= area_m2 <= width_m * _TALLEST_M:
            shown = (
                f"{width_m:.0f} m^2 to {width_m * _TALLEST_M:.0f} m^2: her {name} times 1 m to {_TALLEST_M:.0f} m"
            )
            yield page.fault(("windage", key), "does not go with her size", shown)
    for key in ("lateral_area", "frontal_area", "centroid_forward", "centroid_above_waterline"):
        if getattr(w, key) is None and w.type in NO_USUAL_WINDAGE:
            yield page.fault(("windage", key), f"no usual one is known for the type {w.type}", "a measured one")
    if w.frontal_area is not None and w.lateral_area is not None and w.frontal_area > w.lateral_area:
        yield page.fault(("windage", "frontal_area"), "larger than the lateral area: exchanged?")
    if w.centroid_forward is not None and abs(w.centroid_forward) > ship.loa / 2:
        yield page.fault(("windage", "centroid_forward"), "outside the hull", _within(ship.loa / 2))
    for i, fairlead in enumerate(ship.fairleads):
        for key, place_m, half_m in (
            ("forward", fairlead.forward, ship.loa / 2),
            ("starboard", fairlead.starboard, ship.beam / 2),
        ):
            if abs(place_m) > half_m + HULL_MARGIN_M:
                yield page.fault(("fairleads", i, key), "outside the hull", _within(half_m))
        if ship.summer_draught < ship.anemometer_above_keel <= fairlead.above_keel:
            shown = f"below {ship.anemometer_above_keel:.1f} m"
            yield page.fault(("fairleads", i, "above_keel"), "as high as her anemometer", shown)
    for i, winch in enumerate(ship.winches):
        if winch.kind == "bitts" and winch.render is not None:
            yield page.fault(("winches", i, "render"), "bitts do not render", '"unknown"')
    for i, line in enumerate(ship.lines):
        yield from _line(page, ship, i, line)


def _line(page: Page, ship: Ship, i: int, line: ShipLine) -> Iterator[Fault]:
    def share(path: Path, problem: str, value_n: float, low: float, high: float) -> Iterator[Fault]:
        if not low <= value_n / line.ship_design_mbl <= high:
            shown = f"{line.ship_design_mbl * low / 1e3:.0f} kN to {line.ship_design_mbl * high / 1e3:.0f} kN"
            yield page.fault(("lines", i, *path), problem, shown)

    for fairlead in ship.fairleads:
        forward = line.group in FORWARD_GROUPS
        if fairlead.name == line.fairlead and (fairlead.forward > 0.0) != forward:
            side = "forward" if forward else "aft"
            shown = f"a fairlead {side} of midships for {line.group}"
            yield page.fault(("lines", i, "fairlead"), f"not {side} of midships", shown)
    # OCIMF MEG4: LDBF 100 to 105 % of ship design MBL, tails 125 to 130 %. Older and replaced lines stray further.
    yield from share(("ldbf",), "does not go with the ship design MBL (90 % to 150 % of it)", line.ldbf, 0.9, 1.5)
    if line.tail is not None:
        force_n, why = line.tail.breaking_force, "does not go with the ship design MBL (90 % to 250 % of it)"
        yield from share(("tail", "breaking_force"), why, force_n, 0.9, 2.5)
    if line.residual_strength <= 0.0:
        yield page.fault(("lines", i, "residual_strength"), "a line without strength", "more than 0 %")
    if line.strains is not None and any(b <= a for a, b in pairwise((0.0, *line.strains))):
        yield page.fault(
            ("lines", i, "strains"), "must rise from each load to the next", "5 rising strains above 0 %"
        )
    for winch in ship.winches:
        if winch.name == line.winch and winch.render is not None and winch.render > line.ldbf:
            problem = f"its drum {winch.name} would render only above this line's breaking force"
            yield page.fault(
                ("lines", i, "ldbf"), problem, f"at least {winch.render / 1e3:.0f} kN, or a lower render"
            )


def berth_sense(page: Page, berth: Berth) -> Iterator[Fault]:
    """The quay runs forward, the stream table rises, limits are averaged as winds are, the fairway is near."""
    if berth.quay.ends_along <= berth.quay.begins_along:
        yield page.fault(
            ("quay", "ends_along"), "not beyond begins_along", f"above {berth.quay.begins_along:.1f} m"
        )
    for i, (before, row) in enumerate(pairwise(berth.stream), 1):
        if row.hours_from_high_water <= before.hours_from_high_water:
            shown = f"more than {before.hours_from_high_water:g}, the row before"
            yield page.fault(("stream", i, "hours_from_high_water"), "not in time order", shown)
    for key in Limits.model_fields:
        limit = getattr(berth.limits, key)
        if limit is not None and not _averaged(limit):
            shown = (
                f'"gust": above 0 s, at most {_GUST_AT_MOST_S:.0f} s; "mean": at least {_MEAN_AT_LEAST_S:.0f} s'
            )
            yield page.fault(("limits", key, "averaging"), f"does not go with a {limit.on} wind", shown)
    plane = LocalMap(berth.position.latitude, berth.position.longitude)
    section = berth.fairway.section
    if section is not None and section.width < berth.fairway.width:
        shown = f"at least {berth.fairway.width:.0f} m, bank to bank"
        yield page.fault(("fairway", "section", "width"), "less than the fairway's", shown)
    for i, point in enumerate(berth.fairway.middle):
        north_m, east_m = plane.to_plane(point.latitude, point.longitude)
        away_m = hypot(north_m, east_m)
        if away_m > _FAIRWAY_WITHIN_M:
            problem = f"{away_m / 1e3:.0f} km from the berth"
            yield page.fault(("fairway", "middle", i), problem, f"within {_FAIRWAY_WITHIN_M / 1e3:.0f} km")
        if i and point == berth.fairway.middle[i - 1]:
            yield page.fault(("fairway", "middle", i), "the same point as the one before")


def _averaged(limit: WindLimit) -> bool:
    if limit.on == "gust":
        return 0.0 < limit.averaging <= _GUST_AT_MOST_S
    return limit.averaging >= _MEAN_AT_LEAST_S


def stay_sense(page: Page, stay: Stay) -> Iterator[Fault]:
    """A doubled line's sensor says what it reads; tides alternate in time order; each feed can be reached the way
    it says."""
    for i, led in enumerate(stay.lines):
        if led.sensor is not None and led.parts > 1 and led.sensor_reads is None:
            shown = 'sensor_reads = "one part" (on the winch, or one end) or "all parts" (on the bollard or hook)'
            yield page.fault(("lines", i, "sensor"), "the line is doubled: say what its sensor reads", shown)
    for i, (before, now) in enumerate(pairwise(stay.tide), 1):
        if not timedelta(0) < now.at - before.at:
            yield page.fault(("tide", i, "at"), "not later than the row before")
        elif now.at - before.at > _TIDES_APART:
            yield page.fault(("tide", i, "at"), "more than 20 h after the row before: rows are left out")
        if now.water == before.water:
            problem = (
                f"two {now.water} waters in a row: leave a row out of a double tide, or enter the one missing"
            )
            yield page.fault(("tide", i, "water"), problem)
        elif (now.height > before.height) != (now.water == "high"):
            problem = f"a {now.water} water that is not {now.water}er than the {before.water} water before"
            yield page.fault(("tide", i, "height"), problem)
    first, last = stay.tide[0].at, stay.tide[-1].at
    if not first <= stay.tended_at <= last:
        shown = f"{written(first)} to {written(last)}, the tide entered"
        yield page.fault(("tended_at",), "no tide is entered for then: the lines' slack would be unknown", shown)
    for i, feed in enumerate(stay.feeds):
        for key, problem, shown in _feed(feed):
            yield page.fault(("feeds", i, key), problem, shown)


def _feed(feed: Feed) -> Iterator[tuple[str, str, str]]:
    """(key, problem, allowed) of what is wrong with a feed."""
    if feed.over not in (ways := _WAYS.get(feed.carries, _SENTENCE_WAYS)):
        yield "over", f"{feed.carries} does not come over {feed.over}", listed(f'"{way}"' for way in ways)
    for key, value, user in (
        ("baud", feed.baud, "serial"),
        ("contact", feed.contact, "http"),
        ("every", feed.every, "http"),
    ):
        if value is None and feed.over == user:
            yield key, f"missing: a feed over {user} needs it", ""
        if value is not None and feed.over != user:
            yield key, f"a feed over {feed.over} has none", f"leave it out, or a feed over {user}"
    asked = feed.over == "http" and feed.carries in STATIONS
    if asked and feed.station is None:
        yield "station", f"missing: {feed.carries} is asked for a station", ""
    if feed.station is not None and not asked:
        yield "station", "only for a service that measures at stations", "leave it out"
    if feed.stale_after <= 0.0:
        yield "stale_after", "would be stale at once", "more than 0 s"
    if feed.every is not None and not _POLL_AT_MOST_S <= feed.every < feed.stale_after:
        yield "every", "too often, or not often enough", f"{_POLL_AT_MOST_S:.0f} s to less than its stale_after"
    if feed.over in ("tcp", "udp") and not _is_host_and_port(feed.to):
        yield (
            "to",
            "not a host and a port",
            '"host:port" with a port from 1 to 65535, for instance "127.0.0.1:10110"',
        )
    if feed.over == "http" and not _is_web_address(feed.to, "http", "https"):
        yield "to", "not a web address", 'for instance "https://host/path"'
    if feed.over == "websocket" and not _is_web_address(feed.to, "ws", "wss"):
        yield "to", "not a websocket address", 'for instance "ws://host:3000/signalk/v1/stream?subscribe=none"'
    if feed.carries == "ais" and feed.stale_after > _AIS_SILENT_AT_MOST_S:
        shown = f"at most {_AIS_SILENT_AT_MOST_S:.0f} s: ships at rest report every 3 min"
        yield "stale_after", "a dead receiver would go unseen", shown


def _is_host_and_port(text: str) -> bool:
    match = re.fullmatch(r"(?:[A-Za-z0-9._-]+|\[[0-9A-Fa-f:.%a-z]+\]):([0-9]{1,5})", text)
    return match is not None and 1 <= int(match[1]) <= 65535


def _is_web_address(text: str, *schemes: str) -> bool:
    try:
        parts = urlsplit(text)
        return parts.scheme in schemes and bool(parts.hostname) and parts.port != 0
    except ValueError:
        return False


def alerts_sense(page: Page, alerts: Alerts) -> Iterator[Fault]:
    """Levels rise; people on deck never raise them; there is time to act between the first notice and the end."""
    for table, levels in (("levels", alerts.levels), ("with_people", alerts.with_people)):
        yield from _rising(page, table, levels, ("caution", "warning", "alarm"))
    for key in ("caution", "warning", "alarm"):
        most = getattr(alerts.levels, key)
        if getattr(alerts.with_people, key) > most:
            yield page.fault(
                ("with_people", key), "people on deck would be warned later", f"at most {most * 100:g} %"
            )
    if alerts.odds is not None:
        yield from _rising(page, "odds", alerts.odds, ("caution", "warning"))
    yield from _outward(page, alerts)
    t = alerts.timing
    if t.act >= t.first_notice:
        yield page.fault(
            ("timing", "act"), "not after the first notice", f"less than {t.first_notice:g} s, first_notice"
        )
    if t.clear_decks_before > t.act:
        yield page.fault(("timing", "clear_decks_before"), "before the time to act", f"at most {t.act:g} s, act")
    if not 0.0 < t.repeat_warning <= _REPEAT_WITHIN_S:
        yield page.fault(
            ("timing", "repeat_warning"), "out of range", "more than 0 s, at most 5 min (IMO MSC.302(87))"
        )
    if t.escalate_alarm <= 0.0:
        yield page.fault(("timing", "escalate_alarm"), "leaves no time to acknowledge", "more than 0 s")
    if t.deadband >= alerts.with_people.caution:
        yield page.fault(("timing", "deadband"), "a caution could never fall", "less than with_people.caution")
    if t.target_lost <= 0.0:
        yield page.fault(("timing", "target_lost"), "would be lost at once", "more than 0 s")


def _outward(page: Page, alerts: Alerts) -> Iterator[Fault]:
    """What leaves the PC: by dedicated wires only, to people who can be named, and often enough to be believed."""
    names = [channel.name for channel in alerts.channels]
    for i, channel in enumerate(alerts.channels):
        if channel.name in names[:i]:
            yield page.fault(("channels", i, "name"), "stands here twice")
    if names and all(channel.unacknowledged_for is not None for channel in alerts.channels):
        problem = "all channels wait for an answer that nobody was asked for"
        yield page.fault(("channels", 0, "unacknowledged_for"), problem, "leave it out for whom to tell at once")
    dead_man = alerts.dead_man
    yield from _file_name(page, ("log_file",), alerts.log_file, ".log")
    if dead_man is not None:
        yield from _file_name(page, ("dead_man", "file"), dead_man.file, ".json")
    bridge = alerts.bridge_alerts
    if bridge is not None:
        if "://" in bridge.to and not _is_loopback(bridge.to):
            problem = "alert sentences never go to a network of the ship: this program is not type-approved"
            yield page.fault(
                ("bridge_alerts", "to"), problem, '"socket://127.0.0.1:port", or a serial port of its own'
            )
        for key, text, count in (("talker", bridge.talker, 2), ("maker", bridge.maker, 3)):
            if not re.fullmatch(rf"[A-Z]{{{count}}}", text):
                yield page.fault(("bridge_alerts", key), "not of the standard's form", f"{count} capital letters")
    if dead_man is not None:
        if not 5.0 <= dead_man.every <= 600.0:
            yield page.fault(("dead_man", "every"), "too often, or too seldom to notice by", "5 s to 10 min")
        if dead_man.ping is not None and not _is_web_address(dead_man.ping, "http", "https"):
            yield page.fault(("dead_man", "ping"), "not a web address", 'for instance "https://host/path"')


def _file_name(page: Page, path: Path, name: str, suffix: str) -> Iterator[Fault]:
    """In the data folder, and none of the other files there: neither journal nor addresses may be written over."""
    if not re.fullmatch(rf'[^\\/:*?"<>|]+{re.escape(suffix)}', name):
        yield page.fault(
            path, "no name for this file in the data folder", f"a name without a folder, ending in {suffix}"
        )


def _is_loopback(address: str) -> bool:
    return _is_web_address(address, "socket") and urlsplit(address).hostname in ("127.0.0.1", "::1", "localhost")


def _rising(page: Page, table: str, levels: Levels | Odds, order: tuple[str, ...]) -> Iterator[Fault]:
    if levels.caution <= 0.0:
        yield page.fault((table, "caution"), "would never fall", "more than 0 %")
    for lower, upper in pairwise(order):
        least = getattr(levels, lower)
        if getattr(levels, upper) < least:
            yield page.fault((table, upper), f"below {lower}", f"at least {least * 100:g} %")


def _within(half_m: float) -> str:
    return f"{-half_m:.1f} m to {half_m:.1f} m"
