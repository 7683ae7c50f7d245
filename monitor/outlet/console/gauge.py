"""Our scale of load, without colour: marks that count the level, a gauge with notches and a wall."""

from __future__ import annotations

from typing import Final

from monitor.outlet.console.svg import box, rule
from monitor.records.estimates import Band, LineLoad
from monitor.records.picture import LevelsNow

FULL: Final = 1.25  # utilisation at the end of a gauge
MARKS: Final = ("", "▲", "▲▲", "▲▲▲")  # none, caution, warning, alarm


def level(load: LineLoad, levels: LevelsNow) -> int:
    """0 to 3: which level a line's band has passed, judged as the watch judges."""
    renders = load.runs_out_m is not None and load.runs_out_m.mid > 0.0
    if renders or load.utilisation.mid >= min(levels.alarm, load.alarm_cap):
        return 3
    return 2 if load.utilisation.high >= levels.warning else 1 if load.utilisation.high >= levels.caution else 0


def gauge(
    x: float, y: float, width: float, now: Band, peak: Band | None, load: LineLoad, levels: LevelsNow
) -> list[str]:
    """Filled: the band now, its middle a tall bar. Hollow: the band to come. Notches: levels; wall: limit."""

    def along(share: float) -> float:
        return x + width * min(share, FULL) / FULL

    parts = [box(x, y, width, 12, "gauge")]
    if peak is not None:
        parts.append(box(along(peak.low), y + 1, along(peak.high) - along(peak.low), 10, "gauge-coming"))
    parts.append(box(x, y + 3, along(now.high) - x, 6, "gauge-band"))
    parts.append(box(x, y + 3, along(now.mid) - x, 6, "gauge-now"))
    parts.append(rule(along(now.mid), y, along(now.mid), y + 12, "gauge-mid"))
    for share in (levels.caution, levels.warning, min(levels.alarm, load.alarm_cap)):
        parts.append(rule(along(share), y + 9, along(share), y + 15, "gauge-notch"))
    parts.append(rule(along(1.0), y - 3, along(1.0), y + 15, "gauge-wall"))
    return parts
