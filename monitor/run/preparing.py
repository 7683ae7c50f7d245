"""The verbs of the command line that prepare a stay, or a PC."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from rich.console import Console

from monitor.intake import tide
from monitor.outlet.escalation import who_is_told
from monitor.run import bundle
from monitor.run.outward import addresses
from monitor.run.rehearse import rehearse
from monitor.settings.load import load_stay

Verb = Callable[[argparse.Namespace, Console], int]


def add(verb: Callable[[str, Verb, str], argparse.ArgumentParser]) -> None:
    """Give these verbs to the command line; `verb` makes the parser of one."""
    p = verb(
        "tide", _tide, "work out high and low waters from harmonic constituents, to be put into a stay's file"
    )
    p.add_argument("station", type=Path, help="a station's file as CO-OPS gives it, with constituents and datums")
    p.add_argument("--begins", type=utc, required=True)
    p.add_argument("--ends", type=utc, required=True)

    p = verb("rehearse", _rehearse, "write the invented day at a berth as a recording, to try things on")
    p.add_argument("stay")
    p.add_argument("to", type=Path, help="new recording folder")

    p = verb("bundle", _bundle, "build the folder that a PC without a network is installed from")
    p.add_argument("to", type=Path, help="new folder")
    p.add_argument(
        "--source", type=Path, default=Path(), help="checkout of the program; the present folder without"
    )
    p.add_argument("--parts", nargs="*", default=[], help="optional parts to take along, such as console")
    p.add_argument("--check", action="store_true", help="only compare a folder with its checksums")

    p = verb("who-is-told", _who_is_told, "say who would be told of what, and when; tell nobody")
    p.add_argument("stay")
    p.add_argument("--data", type=Path, default=Path("data"), help="folder with addresses.toml")


def _bundle(args: argparse.Namespace, console: Console) -> int:
    try:
        if args.check:
            found = bundle.damaged(args.to)
            console.print("\n".join(found) or "Every file is as it was.", markup=False, soft_wrap=True)
            return 1 if found else 0
        told = bundle.build(args.source, args.to, args.parts)
    except bundle.BundleError as error:
        raise ValueError(str(error)) from None
    console.print("\n".join([*told, f"Read {args.to / 'READ-ME-FIRST.txt'}"]), markup=False, soft_wrap=True)
    return 0


def _who_is_told(args: argparse.Namespace, console: Console) -> int:
    """A dry run: nobody is told anything."""
    alerts = load_stay(args.config, args.stay).alerts
    told = addresses(args.data)
    console.print(who_is_told(alerts, set(told)), soft_wrap=True, markup=False)
    return 0


def utc(text: str) -> datetime:
    """A time as typed; UTC when it names no zone."""
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is no time: write for instance 2026-03-14T10:00Z") from None
    return at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)


def _rehearse(args: argparse.Namespace, console: Console) -> int:
    about = rehearse(args.config, args.stay, args.to)
    console.print(f"{about.inputs:,} inputs, INVENTED. Now: bightwatch replay {args.to}", markup=False)
    return 0


def _tide(args: argparse.Namespace, console: Console) -> int:
    station = tide.coops_station(args.station.read_text(encoding="utf-8"))
    rows = [f"# {station.name}, from its harmonic constituents: no weather in it. Check against the tables.\n"]
    for turn in tide.turns(station, args.begins, args.ends):
        at, water = f"{turn.at:%Y-%m-%dT%H:%M:%SZ}", "high" if turn.high else "low"
        rows.append(f'[[tide]]\nat = {at}\nheight = "{turn.height_m:.2f} m"\nwater = "{water}"\n')
    console.print("\n".join(rows), markup=False, soft_wrap=True)
    return 0
