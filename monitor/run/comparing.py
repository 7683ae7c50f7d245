"""The verb of the command line that holds measured tensions against the estimates of recordings."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path

from rich.console import Console

from monitor.outlet.report.compared import bias_table, correction_table, in_words
from monitor.outlet.wording import SMALL_PRINT
from monitor.records.compared import Correction
from monitor.run.kept import stay_of
from monitor.run.measured import pairs, read_tensions
from monitor.run.preparing import Verb
from monitor.run.progress import bar
from monitor.run.recollect import Recalled, recollect
from monitor.run.recording import RecordingError, open_recording, program_version
from monitor.watch.correction import Pair, biases, corrections
from monitor.watch.reviewed.passes import Concluded, passes


def add(verb: Callable[[str, Verb, str], argparse.ArgumentParser]) -> None:
    """Give this verb to the command line; `verb` makes the parser of one."""
    p = verb("compare", _compare, "hold measured line tensions against the estimates; apply nothing")
    p.add_argument(
        "recordings", type=Path, nargs="+", help="recording folders or journal files, of one ship at one berth"
    )
    p.add_argument(
        "--measured", type=Path, help="CSV: time, line, tension; without it, the recordings' own sensors"
    )
    p.add_argument(
        "--replay", action="store_true", help="replay it: estimates every 5 s in place of those recorded"
    )
    p.add_argument("--proposal", type=Path, help="write the corrections to this new TOML file; nothing reads it")


def _compare(args: argparse.Namespace, console: Console) -> int:
    if args.proposal is not None and args.proposal.exists():
        raise RecordingError(f"{args.proposal} is there already: a proposal is never written over")
    paths = list({path.resolve(): path for path in args.recordings}.values())  # named twice, counted once
    read, found, seen, whole = [], list[Pair](), set[datetime](), True
    for path in paths:
        with open_recording(path) as recording:
            with bar("COMPARE", recording, console) as passed:
                recalled = recollect(recording, args.replay, passed)
            for cut in recording.cuts:
                console.print(f"NOT WHOLE: {cut}", style="bold", markup=False)
                whole = False
        read.append((path, recalled))
        _same_ship_and_berth(read[0], read[-1])
        found += _pairs(path, recalled, args.measured, seen)
    if not found:
        raise RecordingError("no estimate and no measured tension fall together in time; are both in UTC?")
    fitted = corrections(found)
    console.print(bias_table(biases(found)))
    console.print(correction_table(fitted))
    console.print(in_words(fitted), soft_wrap=True, markup=False)
    if args.proposal is not None:
        args.proposal.write_text(proposal(read, fitted), encoding="utf-8")
        console.print(f"Proposed in {args.proposal}; nothing reads it.", markup=False, soft_wrap=True)
    console.print(SMALL_PRINT)
    return 0 if whole else 1


def _pairs(path: Path, recalled: Recalled, measured: Path | None, seen: set[datetime]) -> list[Pair]:
    """Of one recording. Estimates in `seen` are left out: a clip beside its recording counts nothing twice."""
    tensions = read_tensions(measured, recalled.settings) if measured else recalled.tensions
    if not tensions:
        raise RecordingError(
            f"recording {path.name} holds no measured tension: give a file with --measured, or name "
            'the sensors of the lines in the stay (sensor = "...")'
        )
    concluded = Concluded(recalled.estimates, recalled.transitions, recalled.notices, (), tensions)
    ships = passes(recalled.near, concluded, recalled.settings_at)
    fresh = [estimate for estimate in recalled.estimates if estimate.at not in seen]
    seen.update(estimate.at for estimate in fresh)
    return list(pairs(fresh, tensions, ships, lambda at: stay_of(recalled.settings_at(at))))


def _same_ship_and_berth(one: tuple[Path, Recalled], two: tuple[Path, Recalled]) -> None:
    """Raises RecordingError when they are not: a correction is of one ship at one berth."""
    at_one, at_two = (
        (settings.ship.mmsi, settings.berth.port, settings.berth.name)
        for settings in (recalled.settings for _, recalled in (one, two))
    )
    if at_one != at_two:
        told = (
            f"{path.name}: {recalled.settings.ship.name} at {recalled.settings.berth.name}"
            for path, recalled in (one, two)
        )
        raise RecordingError(f"a correction is of one ship at one berth. {'; '.join(told)}")


def proposal(read: Sequence[tuple[Path, Recalled]], fitted: Sequence[Correction]) -> str:
    """The corrections as TOML, with what they rest on."""
    settings = read[-1][1].settings
    shas = {taken.sha256 for _, recalled in read for taken in recalled.snapshots}
    lines = [
        "# A PROPOSAL, and no more: the program reads no such file. Factors of measured to estimated tension,",
        "# with 95 % intervals over whole passes and hours, or over stays. Find out why before anything is",
        "# changed: pretension as entered, the curve of the line, a sensor that reads low behind a bend.",
        f"ship = {json.dumps(settings.ship.name)}",
        f"berth = {json.dumps(settings.berth.name)}",
        f"recordings = {json.dumps([path.name for path, _ in read])}",
        f"settings_sha256 = {json.dumps(sorted(shas))}",
        f"program = {json.dumps(program_version())}",
    ]
    for one in fitted:
        lines += [
            "",
            "[[corrections]]",
            f"group = {json.dumps(one.group)}",
            f"under = {json.dumps(one.load.value)}",
            *_interval(one),
            f"stays = {one.stays}",
            f"stretches = {one.stretches}",
            f"stretches_slack = {one.slack}",
            f"pairs = {one.pairs}",
            f"called_for = {str(one.called_for).lower()}",
        ]
    return "\n".join(lines) + "\n"


def _interval(one: Correction) -> list[str]:
    known = (("factor", one.factor), ("low", one.low), ("high", one.high))
    return [f"{name} = {value:.4f}" for name, value in known if value is not None]
