"""Measured tensions against estimated ones, in tables and words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from rich.table import Table

from monitor.records.compared import FEW, Correction, LineBias

UNCHANGED: Final = "Nothing was changed: estimates go on as they are."


def bias_table(lines: Sequence[LineBias]) -> Table:
    """By line: how far off, how much it scatters, how often inside the band."""
    table = Table(title="Measured against estimated, by line", title_justify="left")
    table.add_column("line", no_wrap=True)
    for heading in ("pairs", "passes and hours", "measured ÷ estimated", "spread", "inside the 5–95 % band"):
        table.add_column(heading)
    if any(line.slack for line in lines):
        table.add_column("pairs slack")
    for line in lines:
        slack = (f"{line.slack:,}",) if line.slack else ()
        table.add_row(
            line.line,
            f"{line.pairs:,}",
            str(line.stretches),
            f"{line.ratio:.2f}" if line.ratio else "slack",
            "-" if line.spread is None else f"×/÷ {line.spread:.2f}",
            f"{100 * line.inside:.0f} %",
            *slack,
        )
    return table


def correction_table(groups: Sequence[Correction]) -> Table:
    """By group: the factor, its interval, and whether it is more than chance."""
    table = Table(title="Correction of this berth and ship, proposed and not applied", title_justify="left")
    table.add_column("lines", no_wrap=True)
    for heading in ("under", "stays", "passes or hours", "factor", "95 % interval", ""):
        table.add_column(heading)
    for one in groups:
        factor = "-" if one.factor is None else f"{one.factor:.2f}"
        counts = str(one.stays), str(one.stretches)
        table.add_row(one.group, one.load.value, *counts, factor, _interval(one), _verdict(one))
    return table


def in_words(groups: Sequence[Correction]) -> str:
    """What it comes to, and how little it may rest on."""
    told = []
    for one in groups:
        if one.called_for and one.factor is not None:
            off = f"{100 * (one.factor - 1):+.0f} %".replace("-", "−")
            told.append(f"{one.group} under {one.load.value}: measured {off} against estimated ({_interval(one)})")
    first = "; ".join(told) if told else "No group is off by more than chance would give"
    few = sorted({one.rests_on for one in groups if one.rests_on < FEW})
    rests = f" Few data: the thinnest group has {few[0]}." if few else ""
    stays = max((one.stays for one in groups), default=1)
    slack = [f"{one.group} under {one.load.value} in {one.slack}" for one in groups if one.slack]
    loose = ""
    if slack:
        loose = f" Measured slack where load was worked out: {'; '.join(slack)} (passes or hours)."
        loose += " No factor mends that: is the line slack, is the sensor dead?"
    holds = (
        f"It rests on {stays} stays of this ship at this berth, each counted once."
        if stays > 1
        else "It holds for this stay; only several stays that agree tell of berth and ship."
    )
    return f"{first}.{rests}{loose} {holds} {UNCHANGED}"


def _interval(one: Correction) -> str:
    return "-" if one.low is None or one.high is None else f"{one.low:.2f} to {one.high:.2f}"


def _verdict(one: Correction) -> str:
    few = "; rests on few" if one.low is not None and one.rests_on < FEW else ""
    if one.factor is None:
        return "slack throughout"
    if one.low is None:
        return "too few stays for one" if one.stays > 1 else "too few for one"
    return ("more than chance" if one.called_for else "no correction called for") + few
