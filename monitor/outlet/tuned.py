"""What tuning found, for people: a table, sentences, and the trade-off drawn."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from rich.box import SIMPLE
from rich.table import Table

from monitor.outlet.pictures import FAINT, INK, MISSING
from monitor.outlet.wording import CAUTION
from monitor.records.events import Priority
from monitor.records.tuned import AS_IS, Advice, Recipe, Scored, Verdict

_BLUE: Final = "#1f5f8b"
MEANING: Final = (
    "POD: share of events told in time. FAR: share of alerts that no event followed. CSI: told in time, among all "
    "told or missed. SEDI: skill where events are rare, 1 at best, 0 as by chance. –: not defined here."
)
MOST_TOLD: Final = {Priority.WARNING: 3.0, Priority.ALARM: 1.0}  # a 4 h watch in ordinary traffic (ours)
MOST_FAR: Final = {Priority.WARNING: 0.7, Priority.ALARM: 0.5}


def tables(advice: Advice) -> tuple[Table, Table]:
    """Counts, then scores: the present profile and the recommended (new) one, on the stays they were fitted on and
    on those kept apart. For 80 columns. `told`: in a 4 h watch; leads in minutes: median, one in ten below."""
    counts = _table(
        "Alerts against n events; told in a 4 h watch; lead in minutes, 1 in 10 below",
        "n",
        "in time",
        "late",
        "false",
        "acted",
        "told",
        "lead",
        "1 in 10",
    )
    found = _table("Scores, with 95 % ranges", "POD", "FAR", "CSI", "SEDI")
    found.caption, found.caption_justify = MEANING, "left"
    groups = (
        (f"fit {advice.fit_stays}", advice.present_fit, advice.chosen_fit),
        (f"test {advice.test_stays}", advice.present_test, advice.chosen_test),
    )
    for stays, present, chosen in groups:
        for name, pair in (("present", present), ("new", chosen)):
            if pair is None or (name == "new" and advice.recipe == AS_IS):
                continue
            for each in pair:
                tally, head = each.tally, (stays, name, each.tally.level.value)
                numbers = (tally.events, tally.hits, tally.late, tally.false_alarms, tally.mitigated)
                leads = _minutes(each.lead_median_s), _minutes(each.lead_p10_s)
                counts.add_row(*head, *map(str, numbers), _number(tally.told_a_watch, 1), *leads)
                shares = _ranged(each.pod, each.pod_range), _ranged(each.far, each.far_range)
                found.add_row(*head, *shares, _number(each.csi), _number(each.sedi))
    return counts, found


def _table(title: str, *columns: str) -> Table:
    made = Table(title=title, title_justify="left", box=SIMPLE, padding=(0, 1, 0, 0))
    for column in ("stays", "profile", "level"):
        made.add_column(column, no_wrap=True)
    for column in columns:
        made.add_column(column, justify="right")
    return made


def in_words(advice: Advice, changes: Sequence[tuple[tuple[str, str], str, str]]) -> list[str]:
    """What is recommended and why, what it rests on, and what it does not tell. `changes`: key, before, after."""
    told = [_recommended(advice, changes)]
    warning, alarm = advice.present_fit
    n = warning.tally.events
    if advice.few:
        told.append(
            f"Too few events (n = {n}): {_belief(advice)}. On so little no level is raised, nothing told later."
        )
        if n and not warning.tally.not_in_time:
            told.append(f"Not one of {n} missed still leaves up to about {min(1.0, 3.0 / n):.0%} that would be.")
    if not advice.test_stays:
        told.append(
            f"Stays: {advice.fit_stays}. Too few to keep any apart: nothing here is tested on other stays."
        )
    for each in (warning, alarm):
        level = each.tally.level
        if (rate := each.tally.told_a_watch) is not None and rate > MOST_TOLD[level]:
            told.append(
                f"Told {rate:.1f} {level.value}s a watch, more than {MOST_TOLD[level]:g}: look for one cause that "
                "is told again and again before any level is raised."
            )
        if each.far is not None and each.far > MOST_FAR[level]:
            told.append(f"Of the {level.value}s {each.far:.0%} were false, more than {MOST_FAR[level]:.0%}.")
    mitigated = sum(each.tally.mitigated for each in advice.present_fit)
    if mitigated:
        told.append(
            f"{mitigated} alerts upon which the crew acted and no event came are neither hits nor false alarms "
            f"here; counted as false, the warnings' FAR is {_number(warning.far_with_mitigated)}."
        )
    told.append("Late is counted as missed. Only what people logged or sensors measured is an event.")
    return [*told, CAUTION]


def _recommended(advice: Advice, changes: Sequence[tuple[tuple[str, str], str, str]]) -> str:
    if advice.verdict is not Verdict.CHANGE:
        return f"Keep the present profile: {advice.verdict.value} ({advice.recipes} tried)."
    words = ", ".join(f"{'.'.join(key)} {before} -> {after}" for key, before, after in changes)
    return f"Recommended: {words}. Why: {'; '.join(_gains(advice)) or 'as good with less change'}."


def _gains(advice: Advice) -> list[str]:
    found = []
    for now, then in zip(advice.present_fit, advice.chosen_fit, strict=True):
        level, what = now.tally.level, "severe" if now.tally.level is Priority.ALARM else "strained"
        if then.tally.hits != now.tally.hits:
            found.append(
                f"{then.tally.hits} of {now.tally.events} {what} events foretold in time by {level.value} "
                f"instead of {now.tally.hits}"
            )
        if then.tally.false_alarms != now.tally.false_alarms:
            found.append(f"{then.tally.false_alarms} false {level.value}s instead of {now.tally.false_alarms}")
    if not found:
        told, told_now = (
            sum(each.tally.told for each in pair) for pair in (advice.chosen_fit, advice.present_fit)
        )
        if told != told_now:
            found.append(f"the same foretold, told {told} times instead of {told_now}")
    return found


def _belief(advice: Advice) -> str:
    if advice.prior_berths:
        berths = "berth" if advice.prior_berths == 1 else "berths"
        prior = (
            f"the prior borrowed from {advice.prior_berths} other {berths} ({advice.prior_events} events) says "
            f"{advice.prior_mean:.0%} foretold in time and weighs {advice.prior_weight:.0f} events"
        )
    else:
        prior = "no other berth to borrow from, so the flat prior (50 %, weight 2 events) stands"
    believed, now = (each.pod_shrunk for each in (advice.chosen_fit[0], advice.present_fit[0]))
    present = "" if advice.verdict is not Verdict.CHANGE else f", of the present profile {now:.0%}"
    return f"{prior}; with it {believed:.0%} of strained events are foretold in time{present}"


def _number(value: float | None, places: int = 2) -> str:
    return "–" if value is None else f"{value:.{places}f}"


def _ranged(value: float | None, ends: tuple[float, float] | None) -> str:
    return "–" if value is None or ends is None else f"{value:.2f} ({ends[0]:.2f}–{ends[1]:.2f})"


def _minutes(seconds: float | None) -> str:
    return "–" if seconds is None else f"{seconds / 60.0:.0f}"


def draw_trade_off(points: Sequence[Scored], advice: Advice, berth: str, invented: bool, to: Path) -> None:
    """Events foretold in time against false warnings a watch, one mark a profile. Raises ValueError without
    matplotlib."""
    try:
        from matplotlib.figure import Figure
    except ImportError:
        raise ValueError(MISSING) from None
    figure = Figure(figsize=(9.0, 6.8), dpi=150, facecolor="white")
    ax = figure.subplots()
    figure.subplots_adjust(left=0.1, right=0.96, top=0.86, bottom=0.2)
    drawn = [(p, _false_a_watch(p), p.pod) for p in points if p.pod is not None]
    near = [(x, pod) for p, x, pod in drawn if not _is_wide(p.recipe)]
    wide = sorted((p.recipe.warning, x, pod) for p, x, pod in drawn if _is_wide(p.recipe))
    ax.plot(*_columns(near), "o", color=FAINT, alpha=0.5, markersize=4, label="within one step")
    label = "levels and odds together, times what is written"
    ax.plot(*_columns([row[1:] for row in wide]), "-s", color=INK, linewidth=1.0, markersize=4, label=label)
    for factor, x, pod in wide[:: max(1, len(wide) // 6)]:
        ax.annotate(f"× {factor:g}", (x, pod), (6, -10), textcoords="offset points", fontsize=8, color=INK)
    aside = 0.008 * max([1.0, *(x for _, x, _ in drawn)])  # so that two ranges at one place are both seen
    marks = [(advice.present_fit[0], "D", 8, "present")]
    if advice.verdict is Verdict.CHANGE:
        marks.append((advice.chosen_fit[0], "*", 13, "recommended"))
    for number, (each, mark, size, label) in enumerate(marks):
        if each.pod is None or each.pod_range is None:
            continue
        x, (low, high) = _false_a_watch(each) + number * aside, each.pod_range
        ax.plot([x, x], [low, high], color=_BLUE, linewidth=1.2)
        ax.plot([x], [each.pod], mark, color=_BLUE, markersize=size, label=f"{label}, 95 % range")
    ax.set_xlabel("False warnings in a 4 h watch")
    ax.set_ylabel("Share of strained events foretold in time")
    ax.set_ylim(-0.03, 1.05)
    ax.set_xlim(left=-0.02 * max([1.0, *(x for _, x, _ in drawn)]))
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)
    ax.legend(frameon=False, fontsize=9, loc="lower right")
    n = advice.present_fit[0].tally.events
    kind = "INVENTED data. " if invented else ""
    figure.text(0.1, 0.94, f"Alert levels at {berth}: what is foretold, and at what price", fontsize=13, color=INK)
    figure.text(0.1, 0.9, f"{kind}{n} strained events in {advice.fit_stays} stays", fontsize=10, color=INK)
    figure.text(0.1, 0.04, CAUTION.replace(". ", ".\n"), fontsize=8.5, color=INK)
    figure.savefig(to)


def _is_wide(recipe: Recipe) -> bool:
    return recipe.warning == recipe.alarm == recipe.odds and recipe.delay_s == 0.0


def _columns(rows: Sequence[tuple[float, float]]) -> tuple[list[float], list[float]]:
    return [x for x, _ in rows], [y for _, y in rows]


def _false_a_watch(each: Scored) -> float:
    return 4.0 * each.tally.false_alarms / each.tally.hours if each.tally.hours else 0.0
