"""The berth seen from above, bow to the right: quay, bollards, fenders, every line with its load, who comes by.

Along the ship to scale; across in four stretches of their own scale (tags, land, ship, water), for a river is wide
and a fender thin. Our load tag: the name, the share of the limit now as a number, and a gauge whose filled part is
the band now, whose hollow part is the band to come (see `gauge`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Final

from monitor.base.frames import wrap360
from monitor.base.units import knots, tonnes_force
from monitor.outlet.console.approach import MAY_PASS
from monitor.outlet.console.gauge import FULL, MARKS, gauge, level
from monitor.outlet.console.recoil import decks, in_words, worst_now
from monitor.outlet.console.sheet import WATER_M, Sheet, sheet_of
from monitor.outlet.console.svg import arrow, box, drawing, el, rule, shape, spread, stroke, text
from monitor.outlet.wording import Local, percent
from monitor.records.decks import WorstOfLine
from monitor.records.estimates import LineLoad, PassingOutlook
from monitor.records.picture import Lead, LevelsNow, Measured, NearShip, Picture, Plan

SOON: Final = timedelta(minutes=30)
ROW_PX: Final = 14.0  # of a tag, for what is measured
BESIDE_PX: Final = 124.0  # of water: wind and stream stand one beside the other where there is less
LETTER_PX: Final = 9.4  # wide, at most, of a label


def plan_drawing(picture: Picture, width: float, height: float) -> str:
    """The plan of a picture, `width` by `height` px."""
    sheet = sheet_of(picture.plan, width, height, ROW_PX if picture.measured else 0.0)
    loads = {load.line: load for load in picture.estimate.lines} if picture.estimate else {}
    coming = _coming(picture)
    peaks = {load.line: load for load in coming.lines} if coming else {}
    levels = {load.line: level(load, picture.levels) for load in (*loads.values(), *peaks.values())}
    heavy = {line for line, marks in levels.items() if marks and marks == max(levels.values())}
    high_n = {line: max(at[line].tension_n.high for at in (loads, peaks) if line in at) for line in sorted(heavy)}
    worst = worst_now((picture.outlook and picture.outlook.worst) or (), high_n)
    local = Local(picture.ahead_of_utc)
    beside = height - sheet.stretches[3][1] < BESIDE_PX
    parts = [
        *_ground(picture.plan, sheet),
        *_tracks(picture, sheet, local),
        *_fittings(picture.plan, sheet),
        *_ships(picture, sheet),
        _hull(picture.plan, sheet, worst),
        *_ropes(picture, sheet, loads),
        *_tags(picture, sheet, loads, peaks),
        _weather(picture, sheet),
        *(
            text(8, sheet.y_off(sheet.stretches[3][0]) + 14 * n - (20 if beside else 4), words, "small halo")
            for n, words in enumerate(in_words(picture.plan, len(high_n), worst))
        ),
    ]
    return drawing(width, height, "Plan of the ship at her berth with every line and its load", *parts)


def bare_plan(plan: Plan, width: float, height: float) -> str:
    """Ship, quay and lines as led, without loads: for the form of a stay."""
    sheet = sheet_of(plan, width, height)
    ropes = [_rope(lead, sheet, "rope", 1.6) for lead in plan.leads]
    spots = sorted(plan.leads, key=lambda lead: lead.bollard[0])
    xs = spread([sheet.x(lead.bollard[0]) for lead in spots], width / (len(spots) + 1), 40, width - 40)
    names = []
    for n, (lead, x) in enumerate(zip(spots, xs, strict=True)):
        row = 34 * (n % 2)  # by turns, so that neighbours do not touch
        names += _name(lead.line, x, sheet, 14 + row)
        names.append(_leader(lead, x, sheet, 34 + row))
    return drawing(
        width, height, "Plan of the ship at her berth", *_ground(plan, sheet), *_fittings(plan, sheet),
        _hull(plan, sheet), *ropes, *names,
    )  # fmt: skip


# --- what stands still --------------------------------------------------------------------------------------


def _ground(plan: Plan, sheet: Sheet) -> list[str]:
    face = sheet.y_off(0.0)
    top, bottom = (face, sheet.height) if sheet.quay_to_port else (0.0, face)
    left, right = sheet.x(max(plan.quay_from_m, sheet.x_from_m)), min(sheet.width, sheet.x(plan.quay_to_m))
    tags = sheet.stretches[0][1]
    back = tags if sheet.quay_to_port else sheet.height - tags
    parts = [box(0, top, sheet.width, bottom - top, "water")]
    parts.append(box(left, min(face, back), right - left, abs(face - back), "land"))
    parts.append(rule(left, face, right, face, "quay"))
    for off_m in (50, 100, 200):
        y = sheet.y_off(sheet.stretches[3][0] + off_m)
        parts.append(rule(0, y, sheet.width, y, "grid"))
        parts.append(text(sheet.width - 8, y - 4, f"{off_m} m off", "small dim", "end"))
    return parts


def _fittings(plan: Plan, sheet: Sheet) -> list[str]:
    used = {lead.bollard_name for lead in plan.leads}
    parts = []
    for fender in plan.fenders:
        x, _ = sheet.at(fender.forward_m, fender.starboard_m)
        one, two = sheet.y_off(0.0), sheet.y_off(sheet.stretches[2][0])
        parts.append(box(x - 4, min(one, two), 8, abs(two - one), "fender"))
    for bollard in plan.bollards:
        x, y = sheet.at(bollard.forward_m, bollard.starboard_m)
        if not 0 <= x <= sheet.width:
            continue
        if not bollard.known and bollard.name in used:
            parts.append(box(x - 9, y - 9, 18, 18, "doubt"))
            parts.append(text(x, y + 5, "?", "small strong", "middle"))
        else:
            parts.append(el("circle", cx=x, cy=y, r=4 if bollard.name in used else 2, class_="bollard"))
    return parts


def _hull(plan: Plan, sheet: Sheet, worst: Sequence[WorstOfLine] = ()) -> str:
    half, side = 0.5 * plan.loa_m, 0.5 * plan.beam_m
    shoulder, quarter = half - 0.10 * plan.loa_m, -half + 0.03 * plan.loa_m
    outline = [
        (half, 0.0),
        (shoulder, side),
        (quarter, side),
        (-half, 0.6 * side),
        (-half, -0.6 * side),
        (quarter, -side),
        (shoulder, -side),
    ]
    x, y = sheet.at(0.0, 0.0)
    named = f"{plan.ship}  {plan.loa_m:.0f} m"
    corners = [sheet.at(*point) for point in outline]
    return (
        shape(corners, "hull") + decks(plan, corners, sheet, worst) + text(x, y + 6, named, "hull-name", "middle")
    )


# --- lines --------------------------------------------------------------------------------------------------


def _ropes(picture: Picture, sheet: Sheet, loads: Mapping[str, LineLoad]) -> list[str]:
    words = dict(picture.stay.line_words)
    parts = []
    for lead in picture.plan.leads:
        load = loads.get(lead.line)
        if words.get(lead.line) == "parted":
            parts.append(_rope(lead, sheet, "rope parted", 2.0))
        elif load is None:
            parts.append(_rope(lead, sheet, "rope unknown", 2.0))
        else:
            parts.append(_rope(lead, sheet, "rope", 1.4 + 7.0 * min(1.0, load.utilisation.mid)))
    return parts


def _rope(lead: Lead, sheet: Sheet, kind: str, thick: float) -> str:
    (x1, y1), (x2, y2) = sheet.at(*lead.fairlead), sheet.at(*lead.bollard)
    return rule(x1, y1, x2, y2, kind, stroke_width=thick) + el("circle", cx=x1, cy=y1, r=2.5, class_="fairlead")


def _tags(
    picture: Picture, sheet: Sheet, loads: Mapping[str, LineLoad], peaks: Mapping[str, LineLoad]
) -> list[str]:
    leads = sorted(picture.plan.leads, key=lambda lead: (lead.bollard[0], lead.fairlead[0]))
    wide = min(112.0, sheet.width / max(1, len(leads)))
    xs = spread([sheet.x(lead.bollard[0]) for lead in leads], wide, wide / 2, sheet.width - wide / 2)
    words = dict(picture.stay.line_words)
    tall = sheet.stretches[0][1]
    measured = {each.line: each for each in picture.measured}
    parts = []
    for lead, x in zip(leads, xs, strict=True):
        now, peak = loads.get(lead.line), peaks.get(lead.line)
        parts.append(_leader(lead, x, sheet, tall - 4))
        parts += _tag(lead.line, x, wide, sheet, now, peak, words.get(lead.line, ""), picture.levels)
        if lead.line in measured:
            parts += _force(measured[lead.line], x, wide, sheet, now)
    return parts


def _leader(lead: Lead, x: float, sheet: Sheet, tall: float) -> str:
    start = tall if sheet.quay_to_port else sheet.height - tall
    bollard = sheet.at(*lead.bollard)
    return stroke([(x, start), bollard], "leader")


def _name(line: str, x: float, sheet: Sheet, y: float, size: float = 12.0) -> list[str]:
    """A line's name on two rows, cut at the last word but one."""
    head, _, tail = line.partition(" ")
    base = 0.0 if sheet.quay_to_port else sheet.height - sheet.stretches[0][1]
    rows = [head, tail] if len(line) > 9 and tail else [line]
    return [
        text(x, base + y + 14 * n, row, "tag-name", "middle", style=f"font-size:{size:.1f}px")
        for n, row in enumerate(rows)
    ]


def _tag(
    line: str, x: float, wide: float, sheet: Sheet, now: LineLoad | None, peak: LineLoad | None, word: str,
    levels: LevelsNow,
) -> list[str]:  # fmt: skip
    base = 0.0 if sheet.quay_to_port else sheet.height - sheet.stretches[0][1]
    worst = max(level(load, levels) for load in (now, peak) if load) if now or peak else 0
    left, inner = x - wide / 2 + 2, wide - 4
    parts = [box(left, base + 1, inner, sheet.stretches[0][1] - 8, f"tag level{worst}", rx=4)]
    parts += _name(line, x, sheet, 15, min(14.0, max(11.0, wide / 7.5)))
    if word in ("parted", "rendered", "heavy", "slack"):
        parts.append(text(x, base + 52, word.upper(), "tag-word", "middle"))
    elif now is None:
        parts.append(text(x, base + 52, "NOT KNOWN", "tag-word", "middle"))
    else:
        share = percent(now).replace(" %", "%")
        size = min(22.0, (wide - 8.0) / (0.69 * max(4, len(share))))
        parts.append(text(x, base + 53, share, "tag-number", "middle", style=f"font-size:{size:.1f}px"))
    if now is not None:
        parts += gauge(
            left + 4, base + 59, inner - 8, now.utilisation, peak.utilisation if peak else None, now, levels
        )
    tall = sheet.stretches[0][1] - sheet.row_px
    if tall > 94.0:
        below = (peak and f"to {100 * peak.utilisation.high:.0f}% {MARKS[worst]}") or MARKS[worst]
        limit = f"of {tonnes_force(now.limit_n):.0f} t" if now else ""
        parts.append(text(x, base + min(91.0, tall - 11.0), below or limit, "tag-below", "middle"))
    return parts


def _force(measured: Measured, x: float, wide: float, sheet: Sheet, now: LineLoad | None) -> list[str]:
    """What the line's sensor shows: a row of the tag, and a lozenge on its gauge."""
    base = 0.0 if sheet.quay_to_port else sheet.height - sheet.stretches[0][1]
    y = base + sheet.stretches[0][1] - 11
    if measured.tension_n is None:
        return [text(x, y, "sensor silent" if wide >= 84.0 else "meas. ?", "tag-below", "middle")]
    word = "measured" if wide >= 108.0 else "meas."
    size = f"font-size:{min(12.0, wide / 6.6):.1f}px"
    parts = [text(x, y, f"{word} {tonnes_force(measured.tension_n):.0f} t", "tag-below", "middle", style=size)]
    if now is not None:
        share = measured.tension_n / now.limit_n
        mark_x = x - wide / 2 + 6 + (wide - 12) * min(share, FULL) / FULL
        spots = [(mark_x, base + 58), (mark_x + 5, base + 65), (mark_x, base + 72), (mark_x - 5, base + 65)]
        parts.append(shape(spots, "gauge-measured"))
    return parts


# --- what moves ---------------------------------------------------------------------------------------------


def _coming(picture: Picture) -> PassingOutlook | None:
    """The pass of the next half hour that loads a line most."""
    passings = picture.outlook.passings if picture.outlook else ()
    near = [p for p in passings if p.lines and _is_near(p, picture.now)]
    return max(near, key=lambda p: p.lines[0].utilisation.mid) if near else None


def _is_near(passing: PassingOutlook, now: datetime) -> bool:
    encounter = passing.encounter
    return encounter.passes >= MAY_PASS and encounter.abeam_at - now <= SOON and encounter.latest_at >= now


def _tracks(picture: Picture, sheet: Sheet, local: Local) -> list[str]:
    """Where each expected ship will pass: a lane from her nearest to her farthest, its arrow at the middle."""
    passings = [p for p in (picture.outlook.passings if picture.outlook else ()) if _is_near(p, picture.now)]
    parts = []
    side_m = sheet.stretches[3][0]
    for n, passing in enumerate(sorted(passings, key=lambda p: p.encounter.abeam_at)[:2]):
        encounter = passing.encounter
        near, mid, far = (sheet.y_off(side_m + min(d, WATER_M)) for d in (
            encounter.distance_m.low, encounter.distance_m.mid, encounter.distance_m.high))  # fmt: skip
        turn = wrap360(encounter.course_deg - picture.plan.heading_deg)
        ahead = turn < 90 or turn > 270
        x1 = 530.0 if sheet.height - sheet.stretches[3][1] < BESIDE_PX else 270.0  # clear of wind and stream
        x2 = sheet.width - 80.0
        if n == 0:
            parts.append(box(0.0, min(near, far), x2, abs(far - near), "lane"))
        ends = [(x1 + 10, mid), (x2 - 10, mid)]
        parts.append(stroke(ends if ahead else ends[::-1], f"track track{n}"))
        tip = x2 - 24 if ahead else x1 + 24
        parts.append(arrow(tip, mid, 0 if ahead else 180, 26, "track-head"))
        name = str(encounter.name or encounter.mmsi)
        named = f"{name} {local.span(encounter.earliest_at, encounter.latest_at)}"
        whole = f"{named}, {encounter.distance_m.low:.0f}–{encounter.distance_m.high:.0f} m off"
        words = next((each for each in (whole, named) if LETTER_PX * len(each) < x2 - x1), name)
        parts.append(text(x2 - 6, mid - 6, words, "label halo", "end"))
    return parts


def _ships(picture: Picture, sheet: Sheet) -> list[str]:
    parts = []
    for ship in picture.ships:
        off_m = sheet.off_m(ship.starboard_m) - sheet.stretches[3][0]
        x = sheet.x(ship.forward_m)
        half = 0.5 * (ship.length_m or 30.0) * sheet.px_m
        if off_m > WATER_M or off_m < -60 or x + half < 0 or x - half > sheet.width:
            continue
        parts.append(_other(ship, sheet))
    return parts


def _other(ship: NearShip, sheet: Sheet) -> str:
    """A ship by hull and name: hollow with a cross when her size is not told."""
    half = 0.5 * (ship.length_m or 30.0)
    ahead = ship.off_our_heading_deg is None or abs(ship.off_our_heading_deg) < 90
    sense = 1.0 if ahead else -1.0
    x, y = sheet.at(ship.forward_m, ship.starboard_m)
    high = 11.0
    points = [(sense * half, 0), (sense * half * 0.8, high), (-sense * half, high), (-sense * half, -high),
              (sense * half * 0.8, -high)]  # fmt: skip
    kind = "other" if ship.length_m else "other hollow"
    body = shape([(x + a * sheet.px_m, y + b) for a, b in points], kind)
    speed = "" if ship.speed_ground_m_s is None else f" {knots(ship.speed_ground_m_s):.0f} kn"
    label = f"{ship.name or ship.mmsi}{'' if ship.at_rest else speed}"
    at_x = min(max(x, 60.0), sheet.width - 60.0)
    return body + text(at_x, y + 5, label, "other-name halo", "middle")


def _weather(picture: Picture, sheet: Sheet) -> str:
    """Wind (open arrow) and stream (three chevrons) as they lie on the drawing, bow to the right."""
    beside = sheet.height - sheet.stretches[3][1] < BESIDE_PX
    x, y = (264.0, sheet.height - 50) if beside else (6.0, sheet.height - 56)
    first_y = sheet.height - 50 if beside else sheet.height - 110
    if not sheet.quay_to_port:
        y, first_y = sheet.height - y - 48, sheet.height - first_y - 48
    return "".join([*_wind(picture, 6.0, first_y), *_stream(picture, x, y)])


def _wind(picture: Picture, x: float, y: float) -> list[str]:
    wind = picture.estimate.wind if picture.estimate else None
    parts = [box(x, y, 252, 48, "inset", rx=4)]
    if wind is None or wind.speed_30s_m_s is None or wind.from_direction_deg is None:
        return [*parts, text(x + 12, y + 30, "WIND NOT KNOWN", "label strong")]
    band = wind.speed_30s_m_s
    gust = "" if wind.gust_m_s is None else f", gust {knots(wind.gust_m_s):.0f}"
    return [
        *parts,
        arrow(x + 34, y + 24, wind.from_direction_deg + 180 - picture.plan.heading_deg, 40, "wind-arrow"),
        text(x + 72, y + 20, f"WIND {wind.from_direction_deg:03.0f}°", "label strong"),
        text(x + 72, y + 40, f"{knots(band.low):.0f}–{knots(band.high):.0f} kn{gust}", "label"),
    ]


def _stream(picture: Picture, x: float, y: float) -> list[str]:
    water = picture.estimate.water if picture.estimate else None
    parts = [box(x, y, 252, 48, "inset", rx=4)]
    if water is None or water.current_m_s is None or water.alongside_deg is None:
        return [*parts, text(x + 12, y + 30, "STREAM NOT KNOWN", "label strong")]
    by = "gauge" if water.level_source else "tide"
    tide = "" if water.height_m is None else f", {by} {water.height_m:.1f} m"
    return [
        *parts,
        arrow(x + 34, y + 24, water.alongside_deg - picture.plan.heading_deg, 40, "stream-arrow", 3),
        text(x + 72, y + 20, f"STREAM sets {water.alongside_deg:03.0f}°", "label strong"),
        text(x + 72, y + 40, f"{knots(water.current_m_s):.1f} kn{tide}", "label"),
    ]
