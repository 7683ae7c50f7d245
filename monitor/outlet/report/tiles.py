"""Six figures that tell the stay at a glance."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import Final

from monitor.base.units import knots, tonnes_force
from monitor.outlet.console.svg import el, esc
from monitor.outlet.report.words import (
    Told,
    alert_name,
    at_least,
    blind,
    by_level,
    count,
    felt,
    gap_name,
    heaviest_pass,
    lasting,
    lead_time,
    middle,
    ship,
    speed,
)
from monitor.records.events import Priority
from monitor.records.review import Review

SHORT: Final = timedelta(minutes=2)  # by then the decks must be clear
_NAMED: Final = 3


def tiles(review: Review, told: Told) -> Iterator[str]:
    """In the order a superintendent asks: load, ship, wind, alerts, warning, blindness."""
    if review.lines:
        line = review.lines[0]
        yield _tile(
            f"Heaviest line, of its limit: {line.line}",
            f"{at_least(line)}{100 * line.most_share:.0f} %",
            f"{tonnes_force(line.most_n.mid):.0f} t of {tonnes_force(line.limit_n):.0f} t {line.limited_by}, "
            f"{told.clock(line.most_at)}, {line.worst_of}",
            line.most_share >= review.levels[2],
        )
    else:
        yield _tile("Heaviest line", "not known", "no line load could be worked out")
    yield _ship(review, told)
    yield _strongest(review, told)
    yield _alerts(review)
    yield _shortest(review, told)
    more = f" and {len(review.gaps) - _NAMED} more" if len(review.gaps) > _NAMED else ""
    yield _tile(
        "Not heard",
        lasting(blind(review)) if review.gaps else "no gap",
        "; ".join(f"{gap_name(gap)} from {told.clock(gap.since)}" for gap in review.gaps[:_NAMED]) + more
        or "no feed silent beyond its limit",
        any(gap.told_at is None for gap in review.gaps),
    )


def _ship(review: Review, told: Told) -> str:
    heavy = heaviest_pass(review)
    if heavy is None:
        number = sum(one.passed for one in review.passes)
        return _tile("Ships that passed", str(number), "by AIS; their load is not known")
    off = f"{heavy.distance_m:.0f} m off at {speed(heavy.speed_ground_m_s)} kn, {told.clock(heavy.abeam_at)}"
    so = f"{off}: {felt(heavy)}"
    return _tile("Most felt in passing", ship(heavy), so, heavy.highest is Priority.ALARM)


def _strongest(review: Review, told: Told) -> str:
    known = [(e, speed_m_s) for e in review.estimates if (speed_m_s := e.wind.speed_30s_m_s) is not None]
    if not known:
        return _tile("Strongest wind", "not known", "no wind was recorded")
    top, speed_m_s = max(known, key=lambda each: each[1].mid)
    gust_m_s = max((e.wind.gust_m_s for e, _ in known if e.wind.gust_m_s is not None), default=None)
    gust = "" if gust_m_s is None else f", gusts to {knots(gust_m_s):.0f} kn"
    came = "" if top.wind.from_direction_deg is None else f"from {top.wind.from_direction_deg:03.0f}°, "
    so = f"30 s mean, {came}{told.clock(top.at)}{gust}"
    return _tile("Strongest wind", f"{knots(speed_m_s.mid):.0f} kn", so)


def _alerts(review: Review) -> str:
    levels = by_level(review)
    parts = [f"{count(levels[Priority.WARNING], 'warning')}, {count(levels[Priority.CAUTION], 'caution')}"]
    waits = [wait for alert in review.alerts for wait in alert.waits]
    if waits:
        parts.append(f"acknowledged after {lasting(middle(waits))} as a rule, at most {lasting(max(waits))}")
    unanswered = sum(alert.unanswered for alert in review.alerts)
    if unanswered:
        parts.append(f"{unanswered} never acknowledged")
    return _tile("Alerts", count(levels[Priority.ALARM], "alarm"), "; ".join(parts), levels[Priority.ALARM] > 0)


def _shortest(review: Review, told: Told) -> str:
    """The least time between the highest level told of a ship and her bow abreast of ours."""
    title = "Least warning before a ship was abreast"
    leads = [
        (alert.top_lead, alert)
        for alert in review.alerts
        if alert.key.startswith("passing:")
        and alert.highest.rank >= Priority.WARNING.rank
        and alert.top_lead is not None
    ]
    if not leads:
        return _tile(title, "–", "no warning for a ship that passed")
    shortest, alert = min(leads, key=lambda each: each[0])
    rule = f"as a rule {lead_time(middle([lead for lead, _ in leads]))}"
    of = count(len(leads), "warning or alarm", "warnings and alarms")
    so = f"{alert_name(review, alert)}, {told.clock(alert.top_at)}; {rule}, of {of}"
    return _tile(title, lead_time(shortest), so, shortest < SHORT)


def _tile(of: str, big: str, so: str, high: bool = False) -> str:
    parts = (el("div", esc(words), class_=kind) for kind, words in (("of", of), ("big", big), ("so", so)))
    return el("div", *parts, class_="tile high" if high else "tile")
