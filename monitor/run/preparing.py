"""The verbs of the command line that prepare a stay, or a PC."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from rich.console import Console

from monitor.intake import tide

Verb = Callable[[argparse.Namespace, Console], int]


def add(verb: Callable[[str, Verb, str], argparse.ArgumentParser]) -> None:
    """Give these verbs to the command line; `verb` makes the parser of one."""
    p = verb(
        "tide", _tide, "work out high and low waters from harmonic constituents, to be put into a stay's file"
    )
    p.add_argument("station", type=Path, help="a station's file as CO-OPS gives it, with constituents and datums")
    p.add_argument("--begins", type=utc, required=True)
    p.add_argument("--ends", type=utc, required=True)


def utc(text: str) -> datetime:
    """A time as typed; UTC when it names no zone."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is no time: write for instance 2026-03-14T10:00Z") from None
    return at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)


def _tide(args: argparse.Namespace, console: Console) -> int:
    station = tide.coops_station(args.station.read_text(encoding="utf-8"))
    rows = [f"# {station.name}, from its harmonic constituents: no weather in it. Check against the tables.\n"]
    for turn in tide.turns(station, args.begins, args.ends):
        at, water = f"{turn.at:%Y-%m-%dT%H:%M:%SZ}", "high" if turn.high else "low"
        rows.append(f'[[tide]]\nat = {at}\nheight = "{turn.height_m:.2f} m"\nwater = "{water}"\n')
    console.print("\n".join(rows), markup=False, soft_wrap=True)
    return 0
