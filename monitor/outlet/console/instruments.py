"""What instruments show beside what is worked out: forces on lines, the level of the water, the wind believed.

Nothing is judged by a force sensor; the level goes into the loads. A sensor that is silent is said to be.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise

from monitor.base.units import knots, tonnes_force
from monitor.outlet.console.svg import el, esc, items, table, td
from monitor.outlet.wording import Local, source_in_words
from monitor.records.estimates import WaterEstimate
from monitor.records.picture import Measured, Picture


def age_in_words(seconds: float) -> str:
    """ "45 s", "12 min", "3 h"."""
    if seconds < 120:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 7200 else f"{seconds / 3600:.0f} h"


def force_in_words(measured: Measured, now: datetime) -> str:
    """ "measured 23 t, 4 s ago", or how long the sensor has been silent."""
    if measured.at is None:
        return f"sensor {measured.sensor} never heard"
    age = age_in_words((now - measured.at).total_seconds())
    if measured.tension_n is None:
        return f"sensor {measured.sensor} silent for {age}"
    return f"measured {tonnes_force(measured.tension_n):.1f} t, {age} ago"


def forces_told(picture: Picture) -> list[str]:
    """Every line with a force sensor: what is measured beside what is worked out."""
    loads = {load.line: load for load in picture.estimate.lines} if picture.estimate else {}
    told = []
    for measured in picture.measured:
        load = loads.get(measured.line)
        band = "NOT KNOWN"
        if load is not None:
            band = f"{tonnes_force(load.tension_n.low):.1f}–{tonnes_force(load.tension_n.high):.1f} t"
            felt_n = measured.tension_n
            if felt_n is not None:
                low_n, high_n = felt_n, felt_n
                if measured.beyond_n is not None:
                    low_n, high_n = measured.beyond_n.low, measured.beyond_n.high
                    outside = f"{tonnes_force(low_n):.1f}–{tonnes_force(high_n):.1f} t"
                    band += f" outside the fairlead; at the winch the cell would mean {outside} there"
                if high_n < load.tension_n.low or low_n > load.tension_n.high:
                    band += ", which it lies outside of"
        told.append(f"{measured.line}: {force_in_words(measured, picture.now)}; worked out {band}")
    return told


def winds(picture: Picture) -> str:
    """Each source of wind in the order of belief: in use, or why not; and what is made of it."""
    rows = (
        el("tr", td(n), el("td", el("b", esc(source)) if verdict == "in use" else esc(source)), td(verdict))
        for n, (source, verdict) in enumerate(picture.wind_choices, 1)
    )
    wind = picture.estimate.wind if picture.estimate else None
    band = wind.speed_30s_m_s if wind else None
    told = "Wind NOT KNOWN"
    if wind is not None and band is not None:
        speed = f"{knots(band.low):.0f}–{knots(band.high):.0f} kn (30 s mean at 10 m)"
        told = f"Taken: {speed}, {source_in_words(wind.source)}"
    reasons = items(wind.reasons) if wind and wind.reasons else ""
    return table(("", "source", "verdict"), rows) + el("p", esc(told)) + reasons


def level_in_words(picture: Picture, local: Local) -> str:
    """The level of the water now, by whom, and how far off the tables."""
    gauge = picture.gauge
    if gauge is None:
        water = picture.estimate.water if picture.estimate else None
        known = water is not None and water.height_m is not None
        return f"Water level {water.height_m:.1f} m by the tables; no gauge in use" if water and known else (
            "Water level NOT KNOWN: neither table nor gauge"
        )  # fmt: skip
    told = f"Water level {gauge.level_m:.2f} m measured by {gauge.source} at {local.clock(gauge.at)}"
    if gauge.above_tables_m is None:
        return f"{told}; the tables tell nothing of now"
    way = "above" if gauge.above_tables_m >= 0.0 else "below"
    return f"{told}: {abs(gauge.above_tables_m):.2f} m {way} the tables"


def levels(picture: Picture) -> str:
    """The level as measured and by the tables, now and in the hours to come as the loads take it."""
    local = Local(picture.ahead_of_utc)
    parts = [el("p", esc(level_in_words(picture, local)))]
    if picture.gauge is None or not picture.by_tables:
        return "".join(parts)
    rows = []
    for hours in (0, 1, 3, 6, 12):
        at = picture.now + timedelta(hours=hours)
        taken, tables = (_at(waters, at) for waters in (picture.tide, picture.by_tables))
        if taken is not None and tables is not None:
            rows.append(
                el("tr", td(local.clock(at), "number"), td(f"{taken:.2f} m", "number"),
                   td(f"{tables:.2f} m", "number"), td(f"{taken - tables:+.2f} m", "number"))
            )  # fmt: skip
    note = "The difference now is carried on and let die away; the loads ahead use it so."
    return (
        "".join(parts)
        + table(("LT", "as the loads take it", "by the tables", "difference"), rows)
        + el("p", esc(note), class_="small dim")
    )


def _at(waters: tuple[WaterEstimate, ...], at: datetime) -> float | None:
    """The height at a time between two of a row; None where it is not known."""
    for one, two in pairwise(waters):
        if one.at <= at <= two.at and one.height_m is not None and two.height_m is not None:
            return one.height_m + (two.height_m - one.height_m) * ((at - one.at) / (two.at - one.at))
    return None
