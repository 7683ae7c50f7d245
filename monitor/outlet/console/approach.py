"""Who comes, on a scale of minutes: our ship in the middle, each ship as many minutes away as she is from abeam.

Those that head as we do come from the left (astern of us), the others from the right (from ahead).
"""

from __future__ import annotations

from datetime import datetime
from typing import Final

from monitor.base.frames import wrap360
from monitor.base.units import knots
from monitor.outlet.console.svg import box, drawing, rule, shape, text
from monitor.outlet.wording import Local
from monitor.records.estimates import Encounter, PassingOutlook
from monitor.records.picture import Picture

SPAN_MIN: Final = 30.0
TICKS: Final = (30, 20, 10, 5)
AIS_IS_DARK: Final = "AIS IS DARK: PASSING SHIPS ARE NOT WATCHED."
SHOWN: Final = 0.05  # chance of passing below which a ship is left out here; ours
MAY_PASS: Final = 0.2  # chance of passing from which plan, ribbon, decks and handover count a ship; ours


def ais_dark(picture: Picture) -> bool:
    """Whether no ship can be seen coming."""
    return any(feed.dark and "ais" in feed.carries for feed in picture.feeds)


def approach_drawing(picture: Picture, width: float, height: float) -> str:
    """The strip of a picture."""
    middle, local = width / 2, Local(picture.ahead_of_utc)
    axis = height - 22.0
    px_min = (middle - 60.0) / SPAN_MIN
    parts = [rule(0, axis, width, axis, "axis")]
    for minutes in TICKS:
        for sense in (-1, 1):
            x = middle + sense * minutes * px_min
            parts.append(rule(x, axis - 5, x, axis + 5, "axis"))
            parts.append(text(x, axis + 18, f"{minutes} min", "small dim", "middle"))
    parts.append(box(middle - 26, axis - 11, 52, 12, "hull"))
    parts.append(text(middle, axis + 18, "our beam", "small", "middle"))
    passings = picture.outlook.passings if picture.outlook else ()
    shown = [p for p in passings if p.encounter.passes >= SHOWN and _until_min(p.encounter, picture.now) > -10]
    rows = {True: 0, False: 0}
    for passing in sorted(shown, key=_weight)[:6]:  # where there is room for few names, the heavier pass has it
        same = _comes_from_astern(passing.encounter, picture.plan.heading_deg)
        parts += _ship(passing, picture.now, local, middle, axis, px_min, same, rows[same])
        rows[same] += 1
    if ais_dark(picture):
        parts.append(box(0, 0, width, 32, "doubt"))
        said = f"{AIS_IS_DARK} What is shown is as last heard."
        parts.append(text(middle, 22, said, "label strong", "middle"))
    elif not shown:
        said = "NO PASS SEEN ON AIS: AIS does not show everybody. Keep a lookout."
        parts.append(text(middle, 22, said, "label", "middle"))
    else:
        parts.append(text(6, axis - 6, "from astern ▸", "small dim"))
        parts.append(text(width - 6, axis - 6, "◂ from ahead", "small dim", "end"))
    return drawing(width, height, "Ships expected to pass, by minutes until abeam", *parts)


def _weight(passing: PassingOutlook) -> tuple[float, datetime]:
    most = passing.lines[0].utilisation.high if passing.lines else float("inf")  # what cannot be told, first
    return -most, passing.encounter.abeam_at


def _until_min(encounter: Encounter, now: datetime) -> float:
    return (encounter.abeam_at - now).total_seconds() / 60.0


def _comes_from_astern(encounter: Encounter, heading_deg: float) -> bool:
    turn = wrap360(encounter.course_deg - heading_deg)
    return turn < 90 or turn > 270


def _ship(
    passing: PassingOutlook, now: datetime, local: Local, middle: float, axis: float, px_min: float, same: bool,
    row: int,
) -> list[str]:  # fmt: skip
    encounter = passing.encounter
    sense = -1.0 if same else 1.0  # minutes to go lie to the left for those from astern

    def x(minutes: float) -> float:
        return middle + sense * min(max(minutes, -SPAN_MIN), SPAN_MIN) * px_min

    until = _until_min(encounter, now)
    first, last = ((at - now).total_seconds() / 60.0 for at in (encounter.earliest_at, encounter.latest_at))
    likely = encounter.passes >= 0.5
    here, nose = x(until), -sense * 12.0
    y = axis - 10.0
    parts = [rule(x(first), y, x(last), y, "whisker")]
    hull = [(here + nose, y), (here, y - 8), (here - 2 * nose, y - 8), (here - 2 * nose, y + 8), (here, y + 8)]
    parts.append(shape(hull, "other" if likely else "other hollow"))
    speed = encounter.speed_water_m_s
    chance = "" if likely else f", may pass ({100 * encounter.passes:.0f} %)"
    size = "length not told" if "length" in encounter.assumed else f"{encounter.length_m.mid:.0f} m"
    named = encounter.name or f"MMSI {encounter.mmsi}"
    when = "passing" if abs(until) < 1 else f"in {until:.0f} min" if until > 0 else "past"
    words = (
        f"{named} {when}, {local.clock(encounter.abeam_at)}",
        f"{size}, {knots(speed.low):.0f}–{knots(speed.high):.0f} kn through water, "
        f"{encounter.distance_m.low:.0f}–{encounter.distance_m.high:.0f} m off{chance}",
    )
    at_x = min(max(here, 12.0), 2 * middle - 12.0)
    anchor = "start" if same else "end"
    if same:
        at_x = min(at_x, middle - 380.0) if middle > 400 else 8.0
    else:
        at_x = max(at_x, middle + 380.0) if middle > 400 else 2 * middle - 8.0
    top = 16.0 + 36.0 * row
    if top + 18.0 < y - 4.0:
        parts.append(rule(here, y - 8, here, min(y - 8, top + 22), "leader"))
        parts.append(text(at_x, top, words[0], "label strong halo", anchor))
        parts.append(text(at_x, top + 17, words[1], "small halo", anchor))
    return parts
