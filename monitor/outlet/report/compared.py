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
    for heading in (
        "line",
        "pairs",
        "passes and hours",
        "measured ÷ estimated",
        "spread",
        "inside the 5–95 % band",
    ):
        table.add_column(heading)
    for line in lines:
        table.add_row(
            line.line,
            f"{line.pairs:,}",
            str(line.stretches),
            f"{line.ratio:.2f}",
            "-" if line.spread is None else f"×/÷ {line.spread:.2f}",
            f"{100 * line.inside:.0f} %",
        )
    return table


def correction_table(groups: Sequence[Correction]) -> Table:
    """By group: the factor, its interval, and whether it is more than chance."""
    table = Table(title="Correction of this berth and ship, proposed and not applied", title_justify="left")
    for heading in ("lines", "under", "passes or hours", "factor", "95 % interval", ""):
        table.add_column(heading)
    for one in groups:
        table.add_row(
            one.group, one.load.value, str(one.stretches), f"{one.factor:.2f}", _interval(one), _verdict(one)
        )
    return table


def in_words(groups: Sequence[Correction]) -> str:
    """What it comes to, and how little it may rest on."""
    told = []
    for one in groups:
        if one.called_for:
            off = f"{100 * (one.factor - 1):+.0f} %".replace("-", "−")
            told.append(f"{one.group} under {one.load.value}: measured {off} against estimated ({_interval(one)})")
    first = "; ".join(told) if told else "No group is off by more than chance would give"
    few = sorted({one.stretches for one in groups if one.stretches < FEW})
    rests = f" Few data: the thinnest group has {few[0]}." if few else ""
    return (
        f"{first}.{rests} It holds for this stay; only several stays that agree tell of berth and ship. "
        + UNCHANGED
    )


def _interval(one: Correction) -> str:
    return "-" if one.low is None or one.high is None else f"{one.low:.2f} to {one.high:.2f}"


def _verdict(one: Correction) -> str:
    few = "; rests on few" if one.low is not None and one.stretches < FEW else ""
    if one.low is None:
        return "too few for one"
    return ("more than chance" if one.called_for else "no correction called for") + few
