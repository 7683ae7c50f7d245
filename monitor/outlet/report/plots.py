"""The plots of a report. Numbers come in ready; local time below, UTC above."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

from monitor.base.units import knots, tonnes_force
from monitor.outlet.pictures import BLUE, FAINT, INK, MISSING, PALE, plain_axes
from monitor.outlet.report.words import alert_name, ranked, ship
from monitor.records.events import Priority
from monitor.records.review import Answered, Before, Passed, Review

RED: Final = "#a3121c"
_LEVELS: Final = {Priority.CAUTION: (PALE, ""), Priority.WARNING: (BLUE, ""), Priority.ALARM: (RED, "////")}
_NAMED: Final = 8  # passes named in the plot of the stay


def draw(review: Review, folder: Path) -> list[tuple[Path, str]]:
    """Write the plots as PNG; each with its caption. Raises ValueError when matplotlib is missing."""
    try:
        from matplotlib.figure import Figure
    except ImportError:
        raise ValueError(MISSING) from None
    drawn: list[tuple[Path, str]] = []
    if review.estimates or review.passes:
        figure = Figure(figsize=(11.0, 6.9), dpi=130, facecolor="white")
        _stay(figure, review)
        drawn.append((_saved(figure, folder / "stay.png"), _STAY))
    compared = [one for one in review.passes if one.expected]
    if compared:
        figure = Figure(figsize=(11.0, 1.5 + 0.42 * len(compared)), dpi=130, facecolor="white")
        _expectations(figure, compared)
        drawn.append((_saved(figure, folder / "passings.png"), _PASSINGS))
    if review.lines:
        figure = Figure(figsize=(11.0, 1.2 + 0.33 * len(review.lines)), dpi=130, facecolor="white")
        _lines(figure, review)
        drawn.append((_saved(figure, folder / "lines.png"), _LINES))
    return drawn


_STAY: Final = (
    "The stay. Top: 30 s wind with its 5–95 % band, gusts (dots) and what was forecast two hours before (broken). "
    "Middle: the line nearest its limit, with its band; dotted lines are the alert levels, ticks the ships that "
    "passed, hatched the time a feed was silent. Bottom: alerts, pale caution, blue warning, hatched red alarm; "
    "a ring marks an acknowledgement."
)
_PASSINGS: Final = (
    "Expected and come: hull-to-hull distance and speed through the water. Bars: 5–95 % expected at the first "
    "notice (pale) and 5 min before (blue); the diamond is what came."
)
_LINES: Final = (
    "Lines by the highest load seen, with its band; the bar inside is the level that 95 % of the time stayed "
    "below. The upright line is each line's least known limit."
)


def _saved(figure: Any, to: Path) -> Path:
    figure.savefig(to)
    return to


def _stay(figure: Any, review: Review) -> None:
    alerts = [alert for alert in review.alerts if alert.highest is not Priority.NONE]
    rows = len({alert.key for alert in alerts})
    wind, load, rest = figure.subplots(
        3, 1, sharex=True, height_ratios=(2.2, 3.0, max(1.0, 0.24 * rows)), gridspec_kw={"hspace": 0.12}
    )
    figure.subplots_adjust(left=0.19, right=0.945, top=0.92, bottom=0.075)
    _wind(wind, review)
    _load(load, review)
    _alerts(rest, review, alerts)
    for ax in (wind, load, rest):
        plain_axes(ax)
        ax.set_xlim(review.begins, review.ends)
        for gap in review.gaps:
            ax.axvspan(
                gap.since, gap.until or review.ends, facecolor="none", edgecolor=FAINT, hatch="///", linewidth=0
            )
    rest.grid(axis="y", visible=False)
    _clocks(wind, rest, review)


def _clocks(top: Any, bottom: Any, review: Review) -> None:
    """Local time below, UTC above."""
    dates = _dates()
    long = review.ends - review.begins > timedelta(days=2)
    ahead, pattern = review.ahead_of_utc, "%d %b %H%M" if long else "%H%M"

    def local(value: float, _: object) -> str:
        return f"{dates.num2date(value, tz=UTC) + ahead:{pattern}}"

    bottom.xaxis.set_major_locator(dates.AutoDateLocator(minticks=4, maxticks=12, tz=UTC))
    bottom.xaxis.set_major_formatter(local)
    bottom.set_xlabel("LT", loc="left", color=INK)
    above = top.secondary_xaxis("top")
    above.xaxis.set_major_locator(dates.AutoDateLocator(minticks=4, maxticks=12, tz=UTC))
    above.xaxis.set_major_formatter(dates.DateFormatter(pattern, tz=UTC))
    above.tick_params(colors=FAINT, labelsize=8.5)
    above.spines["top"].set_visible(False)
    above.set_xlabel("UTC", loc="left", color=FAINT, fontsize=9)


def _dates() -> Any:
    from matplotlib import dates

    return dates


def _broken(review: Review) -> list[Any]:
    """The estimates with a None where more than five minutes are missing: no line is drawn across."""
    rows: list[Any] = []
    for estimate in review.estimates:
        if rows and rows[-1] is not None and estimate.at - rows[-1].at > timedelta(minutes=5):
            rows.append(None)
        rows.append(estimate)
    return rows


def _wind(ax: Any, review: Review) -> None:
    at: list[datetime] = []
    low: list[float] = []
    mid: list[float] = []
    high: list[float] = []
    nan = float("nan")
    for estimate in _broken(review):
        speed = estimate.wind.speed_30s_m_s if estimate is not None else None
        at.append(estimate.at if estimate is not None else at[-1])
        low.append(knots(speed.low) if speed else nan)
        mid.append(knots(speed.mid) if speed else nan)
        high.append(knots(speed.high) if speed else nan)
    ax.fill_between(at, low, high, color=PALE, linewidth=0)
    ax.plot(at, mid, color=BLUE, linewidth=1.6)
    gusts = [(e.at, knots(e.wind.gust_m_s)) for e in review.estimates if e.wind.gust_m_s is not None]
    ax.plot([a for a, _ in gusts], [g for _, g in gusts], ".", color=INK, markersize=1.6)
    said = [(a, knots(f.mean_m_s)) for a, f in review.forecasts if f.mean_m_s is not None]
    if said:
        ax.plot([a for a, _ in said], [s for _, s in said], color=INK, linewidth=1.2, linestyle=(0, (5, 3)))
    if not any(value == value for value in mid):
        _say(ax, "WIND NOT KNOWN")
    ax.set_ylim(bottom=0)
    ax.set_ylabel("Wind, kn", color=INK)


def _load(ax: Any, review: Review) -> None:
    at: list[datetime] = []
    rows: list[tuple[float, float, float]] = []
    nan = float("nan")
    for estimate in _broken(review):
        heaviest = max(estimate.lines, key=lambda one: one.utilisation.mid, default=None) if estimate else None
        at.append(estimate.at if estimate is not None else at[-1])
        u = heaviest.utilisation if heaviest else None
        rows.append((100 * u.low, 100 * u.mid, 100 * u.high) if u else (nan, nan, nan))
    ax.fill_between(at, [r[0] for r in rows], [r[2] for r in rows], color=PALE, linewidth=0)
    ax.plot(at, [r[1] for r in rows], color=BLUE, linewidth=1.6)
    top = max([high for _, _, high in rows if high == high] + [100.0 * review.levels[2]])
    written = -100.0
    for level, name in zip(review.levels, ("caution", "warning", "alarm"), strict=True):
        ax.axhline(100 * level, color=RED if name == "alarm" else INK, linewidth=0.9, linestyle=":")
        colour = RED if name == "alarm" else INK
        written = max(100 * level, written + 0.11 * top)  # names keep clear of each other
        across = ax.get_yaxis_transform()
        ax.text(1.005, written, name, transform=across, ha="left", va="center", fontsize=8, color=colour)
    if not review.lines:
        _say(ax, "LINE LOADS NOT KNOWN")
    ax.set_ylim(0, 1.55 * top)
    _ships(ax, review, 1.52 * top)
    ax.set_ylabel("Heaviest line,\n% of its limit", color=INK)


def _say(ax: Any, words: str) -> None:
    ax.text(0.5, 0.5, words, transform=ax.transAxes, ha="center", va="center", color=INK, fontsize=10)


def _ships(ax: Any, review: Review, height: float) -> None:
    """A tick for each pass, and names for those that were told of."""
    for one in review.passes:
        if one.passed:
            ax.axvline(one.abeam_at, ymin=0.0, ymax=0.035, color=INK, linewidth=1.1)
    last = None
    for one in sorted(named_passes(review.passes), key=lambda each: each.abeam_at):
        crowded = last is not None and one.abeam_at - last < 0.035 * (review.ends - review.begins)
        last = one.abeam_at
        ax.axvline(one.abeam_at, color=FAINT, linewidth=0.7, linestyle=(0, (1, 2)))
        side = "left" if crowded else "right"
        name = ship(one).title()
        ax.annotate(name, (one.abeam_at, height), rotation=90, fontsize=7.5, ha=side, va="top", color=INK)


def named_passes(passes: Sequence[Passed]) -> list[Passed]:
    """The passes worth a name: those told of, the higher first, then the heavier."""
    told = [one for one in passes if one.highest is not Priority.NONE]

    def weight(one: Passed) -> tuple[int, float]:
        return one.highest.rank, one.heaviest.utilisation.mid if one.heaviest else 0.0

    return sorted(told, key=weight, reverse=True)[:_NAMED]


def _alerts(ax: Any, review: Review, alerts: Sequence[Answered]) -> None:
    keys = list(dict.fromkeys(alert.key for alert in alerts))
    for alert in alerts:
        row = keys.index(alert.key)
        ends = alert.ended_at or review.ends
        until = [at for at, _ in alert.levels[1:]] + [ends]
        for (since, level), end in zip(alert.levels, until, strict=True):
            colour, hatch = _LEVELS.get(level, (PALE, ""))
            ax.barh(row, end - since, left=since, height=0.62, color=colour, hatch=hatch, edgecolor="white",
                    linewidth=0.4)  # fmt: skip
        for _, answered, _ in alert.asked:
            if answered is not None:
                ax.plot([answered], [row], "o", markersize=4.5, markerfacecolor="white", markeredgecolor=INK)
    names = [next(alert_name(review, a) for a in alerts if a.key == key) for key in keys]
    ax.set_yticks(range(len(keys)), [name[:30] for name in names], fontsize=8)
    ax.set_ylim(len(keys) - 0.4, -0.6)
    if not keys:
        ax.set_yticks([])
        _say(ax, "no alert was raised")


def _expectations(figure: Any, compared: Sequence[Passed]) -> None:
    distance, speed = figure.subplots(1, 2, sharey=True, gridspec_kw={"wspace": 0.06})
    height = figure.get_size_inches()[1]
    figure.subplots_adjust(left=0.2, right=0.98, top=1 - 0.25 / height, bottom=0.62 / height)
    for row, one in enumerate(compared):
        for expected in one.expected:
            first = expected.before is Before.FIRST
            if expected.before is Before.EARLY:
                continue
            y, colour = (row - 0.18, PALE) if first else (row + 0.14, BLUE)
            for ax, value, scale in (
                (distance, expected.distance_m, 1.0),
                (speed, expected.speed_water_m_s, knots(1.0)),
            ):
                ax.barh(y, scale * (value.high - value.low), left=scale * value.low, height=0.28, color=colour)
        distance.plot([one.distance_m], [row], "D", color=INK, markersize=5)
        if one.speed_water_m_s is not None:
            speed.plot([knots(one.speed_water_m_s)], [row], "D", color=INK, markersize=5)
    distance.set_yticks(range(len(compared)), [ship(one).title()[:26] for one in compared], fontsize=8.5)
    distance.set_ylim(len(compared) - 0.4, -0.6)
    distance.set_xlabel("Hull to hull, m", color=INK)
    speed.set_xlabel("Through the water, kn", color=INK)
    for ax in (distance, speed):
        plain_axes(ax)
        ax.set_xlim(left=0)


def _lines(figure: Any, review: Review) -> None:
    load, wear = figure.subplots(1, 2, sharey=True, width_ratios=(3, 1), gridspec_kw={"wspace": 0.05})
    height = figure.get_size_inches()[1]
    figure.subplots_adjust(left=0.2, right=0.98, top=1 - 0.2 / height, bottom=0.6 / height)
    index = ranked(review.lines)
    for row, line in enumerate(review.lines):
        of = 100.0 / line.limit_n
        low, mid, high = (of * each for each in (line.most_n.low, line.most_n.mid, line.most_n.high))
        load.barh(row, mid, height=0.62, color=PALE)
        load.barh(row, of * line.p95_n, height=0.26, color=BLUE)
        load.plot([low, high], [row, row], color=INK, linewidth=1.2)
        load.plot([mid], [row], "|", color=INK, markersize=11, markeredgewidth=2)
        load.text(max(high, mid) + 1.5, row, f"{mid:.0f} %, {tonnes_force(line.most_n.mid):.0f} t", va="center",
                  fontsize=8.5, color=INK)  # fmt: skip
        wear.barh(row, 100 * index[line.line], height=0.4, color=BLUE)
    load.axvline(100.0, color=RED, linewidth=1.4)
    load.set_yticks(range(len(review.lines)), [line.line for line in review.lines], fontsize=9)
    load.set_ylim(len(review.lines) - 0.4, -0.6)
    load.set_xlim(0, 1.18 * max(100.0, *(100.0 * line.most_n.high / line.limit_n for line in review.lines)))
    load.set_xlabel("Highest load, % of the line's limit", color=INK)
    wear.set_xlabel("Fatigue against the worst line, %", color=INK)
    for ax in (load, wear):
        plain_axes(ax)
