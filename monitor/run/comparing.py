"""The verb of the command line that holds measured tensions against the estimates of a recording."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Sequence
from pathlib import Path

from rich.console import Console

from monitor.outlet.report.compared import bias_table, correction_table, in_words
from monitor.outlet.wording import SMALL_PRINT
from monitor.records.compared import Correction
from monitor.run.measured import pairs, read_tensions
from monitor.run.preparing import Verb
from monitor.run.progress import bar
from monitor.run.recollect import Recalled, recollect
from monitor.run.recording import Recording, RecordingError, open_recording, program_version
from monitor.watch.correction import biases, corrections
from monitor.watch.reviewed.passes import Concluded, passes


def add(verb: Callable[[str, Verb, str], argparse.ArgumentParser]) -> None:
    """Give this verb to the command line; `verb` makes the parser of one."""
    p = verb("compare", _compare, "hold measured line tensions against the estimates; apply nothing")
    p.add_argument("recording", type=Path, help="recording folder or journal file")
    p.add_argument(
        "--measured", type=Path, help="CSV: time, line, tension; without it, the recording's own sensors"
    )
    p.add_argument(
        "--replay", action="store_true", help="replay it: estimates every 5 s in place of those recorded"
    )
    p.add_argument("--proposal", type=Path, help="write the corrections to this new TOML file; nothing reads it")


def _compare(args: argparse.Namespace, console: Console) -> int:
    if args.proposal is not None and args.proposal.exists():
        raise RecordingError(f"{args.proposal} is there already: a proposal is never written over")
    with open_recording(args.recording) as recording:
        with bar("COMPARE", recording, console) as passed:
            recalled = recollect(recording, args.replay, passed)
        settings = recalled.settings
        tensions = read_tensions(args.measured, settings) if args.measured else recalled.tensions
        if not tensions:
            raise RecordingError(
                f"recording {args.recording.name} holds no measured tension: give a file with --measured, or name "
                'the sensors of the lines in the stay (sensor = "...")'
            )
        concluded = Concluded(recalled.estimates, recalled.transitions, recalled.notices, (), tensions)
        ships = passes(recalled.near, concluded, settings)
        found = list(pairs(recalled.estimates, tensions, ships))
        whole = not recording.cuts
        for cut in recording.cuts:
            console.print(f"NOT WHOLE: {cut}", style="bold", markup=False)
    if not found:
        raise RecordingError("no estimate and no measured tension fall together in time; are both in UTC?")
    fitted = corrections(found)
    console.print(bias_table(biases(found)))
    console.print(correction_table(fitted))
    console.print(in_words(fitted), soft_wrap=True, markup=False)
    if args.proposal is not None:
        args.proposal.write_text(proposal(recording, recalled, fitted), encoding="utf-8")
        console.print(f"Proposed in {args.proposal}; nothing reads it.", markup=False, soft_wrap=True)
    console.print(SMALL_PRINT)
    return 0 if whole else 1


def proposal(recording: Recording, recalled: Recalled, fitted: Sequence[Correction]) -> str:
    """The corrections as TOML, with what they rest on."""
    settings = recalled.settings
    lines = [
        "# A PROPOSAL, and no more: the program reads no such file. Factors of measured to estimated tension,",
        "# with 95 % intervals over whole passes and hours. Find out why before anything is changed: pretension",
        "# as entered, the curve of the line, a sensor that reads low behind a bend.",
        f"ship = {json.dumps(settings.ship.name)}",
        f"berth = {json.dumps(settings.berth.name)}",
        f"recording = {json.dumps(recording.path.name)}",
        f"settings_sha256 = {json.dumps(recalled.snapshots[0].sha256 if recalled.snapshots else '')}",
        f"program = {json.dumps(program_version())}",
    ]
    for one in fitted:
        lines += [
            "",
            "[[corrections]]",
            f"group = {json.dumps(one.group)}",
            f"under = {json.dumps(one.load.value)}",
            f"factor = {one.factor:.4f}",
            *_interval(one),
            f"stretches = {one.stretches}",
            f"pairs = {one.pairs}",
            f"called_for = {str(one.called_for).lower()}",
        ]
    return "\n".join(lines) + "\n"


def _interval(one: Correction) -> list[str]:
    if one.low is None or one.high is None:
        return []
    return [f"low = {one.low:.4f}", f"high = {one.high:.4f}"]
