"""The parts of the report below the passings: wind, alerts, entries, gaps, lines, other limits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from monitor.base.units import knots, tonnes_force
from monitor.outlet.console.svg import el, esc
from monitor.outlet.report.tablets import Cell, cell, table
from monitor.outlet.report.words import (
    MARKS,
    Told,
    alert_name,
    band,
    entry,
    gap_name,
    lasting,
    lead_time,
    load,
    percent,
    ranked,
    speed,
)
from monitor.records.events import Priority
from monitor.records.review import Answered, Blow, Review

LATE = timedelta(minutes=2)


def blow(review: Review, one: Blow, told: Told) -> str:
    """A wind episode: forecast against come."""
    rose = ""
    if one.rise_m_s_min is not None and one.rise_at is not None:
        rose = f", steepest rise {knots(one.rise_m_s_min):.0f} kn/min at {told.clock(one.rise_at)}"
    rows: list[Sequence[Cell]] = [
        (
            f"forecast of {told.clock(said.issued_at)}",
            speed(said.mean_m_s),
            "",
            speed(said.gust_m_s),
            _direction(said.from_direction_deg),
            said.source,
        )
        for said in reversed(one.forecast)
    ]
    rows.append(
        (
            f"came, highest at {told.clock(one.peak_at)}",
            speed(one.mean_m_s),
            f"{knots(one.speed_30s_m_s.mid):.0f} ({band(one.speed_30s_m_s, knots(1.0))})",
            speed(one.gust_m_s),
            _direction(one.from_direction_deg),
            "" if one.forecast else "there was no forecast of it",
        )
    )
    heads = ("", "ten-minute mean, kn", "30 s mean, kn", "gust, kn", "from", "source")
    heavy = f"Heaviest line {load(one.heaviest)}"
    if one.heaviest_at is not None:
        heavy += f" at {told.clock(one.heaviest_at)}"
    raised = "never told"
    if one.told_at is not None:
        raised = f"first told {told.clock(one.told_at)}, {lasting(one.peak_at - one.told_at)} before its height"
    return el(
        "div",
        el("h3", esc(f"{told.span(one.begins, one.ends)}: {lasting(one.ends - one.begins)}{rose}")),
        table(heads, rows, came_last=True),
        el("p", esc(f"{heavy}. Highest alert: {one.highest.value}, {raised}.")),
        class_="card",
    )


def _direction(from_deg: float | None) -> str:
    return "–" if from_deg is None else f"{from_deg:03.0f}°"


def _stamp(told: Told, at: datetime) -> Cell:
    local, utc = told.both(at)
    return cell(local, small=utc)


def _level(priority: Priority) -> Cell:
    return cell(f"{MARKS[priority]} {priority.value}", kind=priority.value)


def alerts(review: Review, told: Told) -> str:
    """Every alert with its lead and its answer."""
    rows = [
        (
            _stamp(told, alert.raised_at),
            cell(alert_name(review, alert), small=_short(alert.do)),
            _level(alert.highest),
            _lead(alert),
            _waits(alert),
            _stamp(told, alert.ended_at) if alert.ended_at else "stood at the end",
        )
        for alert in review.alerts
    ]
    heads = ("told, LT", "about", "highest", "before the event", "acknowledged after, by", "ended, LT")
    note = (
        "The event of a ship is her bow abreast of ours, of the wind its height. First figure: from the first "
        "notice; in brackets: from the highest level. Cautions ask for no acknowledgement."
    )
    return table(heads, rows, note, wide=1)


def _short(text: str) -> str:
    """The first sentence of what was told."""
    return text.partition(". ")[0].removesuffix(".")


def _lead(alert: Answered) -> Cell:
    if alert.lead is None:
        return cell("–", small="not seen abreast" if alert.key.startswith("passing:") else "")
    text = lead_time(alert.lead)
    if alert.top_lead is not None and alert.top_lead != alert.lead:
        text += f" ({lead_time(alert.top_lead)})"
    late = alert.top_lead is not None and alert.top_lead < LATE
    fell = alert.ended_at is not None and alert.event_at is not None and alert.ended_at < alert.event_at
    return cell(text, small="fell before she came" if fell else "", kind="late" if late else "")


def _waits(alert: Answered) -> Cell:
    if not alert.asked:
        return "–"
    said = [
        f"{lasting(answered - asked)}, {by or 'no initials'}" if answered is not None else "never"
        for asked, answered, by in alert.asked
    ]
    more = (f"repeated {alert.repeated}×" if alert.repeated else "", "escalated" if alert.escalated else "")
    return cell("; ".join(said), small=", ".join(filter(None, more)), kind="late" if alert.unanswered else "")


def entries(review: Review, told: Told) -> str:
    """What people entered, with alerts by their names."""
    names = {alert.key: alert_name(review, alert) for alert in review.alerts}

    def plain(text: str) -> str:
        key = next((key for key in names if text.endswith(f" {key}")), "")
        return text.removesuffix(key) + names[key] if key else text

    rows = [(*told.both(at), action.who, plain(entry(action))) for at, action in review.entries]
    return table(("LT", "UTC", "who", "what"), rows, wide=3)


def gaps(review: Review, told: Told) -> str:
    """What was not heard, from when to when, and when that was told."""
    rows = [
        (
            gap_name(gap),
            _stamp(told, gap.since),
            _stamp(told, gap.until) if gap.until else "to the end",
            lasting((gap.until or review.ends) - gap.since),
            _stamp(told, gap.told_at) if gap.told_at else cell("never told", kind="late"),
            gap.detail,
        )
        for gap in review.gaps
    ]
    return table(("what", "last heard, LT", "heard again, LT", "for", "told, LT", "why"), rows)


def lines(review: Review, told: Told, picture: str) -> Iterator[str]:
    """The lines ranked by load, and how much each went through."""
    if not review.lines:
        return
    yield picture
    index = ranked(review.lines)
    rows = []
    for line in review.lines:
        unknown = f"not known: {', '.join(line.unknown_limits)}" if line.unknown_limits else ""
        most_t = tonnes_force(line.most_n.mid)
        rows.append(
            (
                cell(line.line, small=unknown),
                cell(percent(line.most_share), small=f"of {tonnes_force(line.limit_n):.0f} t {line.limited_by}"),
                cell(f"{most_t:.0f} t", small=band(line.most_n, tonnes_force(1.0))),
                cell(told.both(line.most_at)[0], small=line.worst_of),
                f"{tonnes_force(line.p95_n):.0f} t",
                _hours(line.hours_above_30),
                _hours(line.hours_above_50),
                f"{line.cycles:.1f}",
                percent(index[line.line]),
            )
        )
    heads = (
        "line",
        "highest share",
        "load",
        "at, LT",
        "95 % of time below",
        "above 30 %",
        "above 50 %",
        "cycles over 5 % of strength",
        "fatigue, worst = 100 %",
    )
    yield table(heads, rows, "A relative ranking of this stay's lines, not a life; what it rests on stands below.")


def _hours(hours: float) -> str:
    return lasting(timedelta(hours=hours)) if hours else "–"


def elsewhere(review: Review) -> Iterator[str]:
    """How often alerts would have come with other levels."""
    if not review.elsewhere:
        yield el(
            "p",
            "Not worked out: it takes a replay. Make the review again with --with-limits to see how often alerts "
            "would have been raised with levels 10 % lower and 10 % higher.",
        )
        return
    rows = [
        (
            "as they were" if each.factor == 1.0 else f"levels {100 * (each.factor - 1):+.0f} %".replace("-", "−"),
            str(each.cautions),
            str(each.warnings),
            str(each.alarms),
        )
        for each in review.elsewhere
    ]
    note = (
        "The same estimates judged anew at every tick, each alert taken as acknowledged at once; alerts by the "
        "highest level they reached. Alerts by chance, by the berth's own limits and on feeds do not move with "
        "the levels; ALARM stays below 60 % of a brake setting."
    )
    yield table(("", "cautions", "warnings", "alarms"), rows, note)
