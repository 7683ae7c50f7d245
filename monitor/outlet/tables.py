"""Tables and lines for the terminal: status, what-if, the end of a replay."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import datetime

from rich.table import Table

from monitor.base.units import knots, tonnes_force
from monitor.outlet.drivers import chance_in_words
from monitor.outlet.naming import alert_in_words, notice_about
from monitor.outlet.wording import Local, lines_in_words, percent, ship_in_words, wind_in_words
from monitor.records.estimates import EventOdds, LineLoad, LoadEstimate, Outlook, PassingOutlook, Validity
from monitor.records.events import Notice, Priority, Reason, Transition


def status_line(
    now: datetime,
    estimate: LoadEstimate | None,
    outlook: Outlook | None,
    dark: Sequence[str],
    standing: Counter[Priority],
    local: Local,
) -> str:
    """One line that shows the watch is alive: time, alerts, heaviest line, next ship, wind, and what is dark."""
    parts = [f"{(now + local.ahead):%H:%M:%S} LT watching"]
    alerts = ", ".join(f"{count} {priority.value}" for priority, count in standing.items() if count)
    if alerts:
        parts.append(alerts)
    if estimate is None or estimate.validity is Validity.UNKNOWN:
        parts.append("LINE LOADS UNKNOWN")
    elif estimate.lines:
        parts.append(f"heaviest {lines_in_words(estimate.lines, groups=1)}")
    if estimate is not None:
        parts.append(wind_in_words(estimate.wind))
    parts.append(next_ship(outlook, local))
    parts += ahead_briefly(outlook, local)
    parts += [f"DARK: {name}" for name in dark]
    return " · ".join(parts)


def next_ship(outlook: Outlook | None, local: Local) -> str:
    """The next pass worth telling, or that none is seen by AIS (which is not the same as none coming)."""
    likely = [p.encounter for p in outlook.passings if p.encounter.passes >= 0.5] if outlook else []
    if not likely:
        return "no pass seen on AIS"
    first = min(likely, key=lambda encounter: encounter.abeam_at)
    return f"next {ship_in_words(first)} abeam {local.clock(first.abeam_at)}"


def ahead_briefly(outlook: Outlook | None, local: Local) -> list[str]:
    """The chance within the hour, the first line to tend and the lightest time expected, where there is one."""
    if outlook is None:
        return []
    told = []
    if outlook.soon:
        soon = outlook.soon[-1]
        told.append(f"working limit within {soon.minutes} min {chance_in_words(soon.any_over_working)}")
    if outlook.to_tend:
        told.append(f"tend first, while light: {outlook.to_tend[0].line}")
    if outlook.lulls:
        told.append(f"lightest expected {local.span(outlook.lulls[0].start, outlook.lulls[0].end)}")
    return told


def line_table(loads: Iterable[LineLoad], title: str) -> Table:
    """Every line with its tension, its limit and how much of it is used."""
    table = Table(title=title, title_justify="left")
    for heading in ("line", "tension t (5–95 %)", "of limit", "limit", "not known"):
        table.add_column(heading)
    for load in loads:
        tension = load.tension_n
        table.add_row(
            load.line,
            f"{tonnes_force(tension.mid):.1f} ({tonnes_force(tension.low):.1f}–{tonnes_force(tension.high):.1f})",
            percent(load),
            f"{load.limited_by}, {tonnes_force(load.limit_n):.0f} t",
            ", ".join(load.unknown_limits),
        )
    return table


def odds_table(odds: EventOdds, title: str) -> Table:
    """Every line with the band of its peak, its peak at rest and moving, and its chances."""
    table = Table(title=title, title_justify="left")
    for heading in (
        "line",
        "peak t (5–95 %)",
        "at rest",
        "moving",
        "over working limit",
        "brake renders",
        "parts",
    ):
        table.add_column(heading)

    def tonnes(force_n: float | None) -> str:
        return "-" if force_n is None else f"{tonnes_force(force_n):.1f}"

    for line in odds.lines:
        band = line.tension_n
        table.add_row(
            line.line,
            f"{tonnes(band.mid)} ({tonnes(band.low)}–{tonnes(band.high)})",
            tonnes(line.static_n),
            tonnes(line.dynamic_n),
            chance_in_words(line.over_working),
            "-" if line.over_brake is None else chance_in_words(line.over_brake),
            chance_in_words(line.over_strength),
        )
    return table


def alert_table(conclusions: Iterable[tuple[datetime, object]], local: Local) -> Table:
    """Every alert of a replay: when told, highest priority, when over."""
    told: dict[str, list[Transition]] = {}
    about: dict[str, str] = {}
    for _, conclusion in conclusions:
        if isinstance(conclusion, Transition):
            told.setdefault(conclusion.alert, []).append(conclusion)
        elif isinstance(conclusion, Notice):
            about[conclusion.alert] = notice_about(conclusion)
    table = Table(title="Alerts", title_justify="left")
    for heading in ("first told", "alert", "highest", "acknowledged", "ended"):
        table.add_column(heading)
    for key, transitions in sorted(told.items(), key=lambda item: item[1][0].at):
        highest = max((t.priority for t in transitions), key=lambda priority: priority.rank)
        acknowledged = next((t for t in transitions if t.reason is Reason.ACKNOWLEDGED), None)
        ended = next((t for t in reversed(transitions) if t.reason is Reason.RECTIFIED), None)
        table.add_row(
            local.clock(transitions[0].at),
            about.get(key) or alert_in_words(key),
            highest.value.upper(),
            f"{local.clock(acknowledged.at)} {acknowledged.by}" if acknowledged else "-",
            local.clock(ended.at) if ended else "standing",
        )
    return table


def pass_table(passings: Iterable[PassingOutlook], local: Local) -> Table:
    """Every pass as last expected before it happened, with the heaviest line at its peak."""
    table = Table(title="Ships that passed, as last expected", title_justify="left")
    for heading in ("abeam", "ship", "heaviest line at its peak", "trust"):
        table.add_column(heading)
    for passing in sorted(passings, key=lambda passing: passing.encounter.abeam_at):
        encounter = passing.encounter
        table.add_row(
            local.clock(encounter.abeam_at),
            ship_in_words(encounter),
            lines_in_words(passing.lines, groups=1) or "not known",
            passing.validity.value,
        )
    return table


def counts_table(counts: dict[str, Counter[str]]) -> Table:
    """What each feed brought: accepted, and refused by reason."""
    table = Table(title="What the feeds brought", title_justify="left")
    for heading in ("feed", "what", "count"):
        table.add_column(heading, justify="right" if heading == "count" else "left")
    for feed, reasons in counts.items():
        for reason, count in reasons.most_common():
            table.add_row(feed, reason, f"{count:,}")
    return table


def forces_in_words(surge_n: float, sway_n: float, yaw_n_m: float) -> str:
    """ "surge −3.1 t, sway 12.0 t off the berth …" is for readers of tables: signs as in ship axes."""
    return (
        f"surge {tonnes_force(surge_n):+z.1f} t (ahead +), sway {tonnes_force(sway_n):+z.1f} t (to starboard +), "
        f"yaw {tonnes_force(yaw_n_m):+z.0f} t·m (bow to starboard +)"
    )


def waves_in_words(low_m: float, high_m: float, period_s: float, arrival_s: float | None) -> str:
    """ "0.1–0.3 m every 2.6 s, 68 s after her bow is abeam"."""
    if high_m < 0.1:
        return "under 0.1 m"
    when = "" if arrival_s is None else f", {arrival_s:.0f} s after her bow is abeam"
    return f"{low_m:.1f}–{high_m:.1f} m every {period_s:.1f} s{when} (factor of two either way); not in the loads"


def drawdown_in_words(low_m: float, high_m: float, returns_m_s: float) -> str:
    """ "0.1–0.3 m in the channel, the water running aft at 0.5 kn": already in the load, so never added."""
    return (
        f"{low_m:.1f}–{high_m:.1f} m in the channel, the water running aft at {speed_in_words(returns_m_s)} "
        "(factor of two either way); the passing load holds it already"
    )


def speed_in_words(speed_m_s: float) -> str:
    """ "8.0 kn"."""
    return f"{knots(speed_m_s):.1f} kn"
