"""The verbs of the command line that look back: review, clip, and compare (in `comparing`)."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

from rich.console import Console

from monitor.base.clock import stopwatch_s
from monitor.outlet.report import plots
from monitor.outlet.report.page import page
from monitor.outlet.report.words import paragraph
from monitor.outlet.wording import SMALL_PRINT
from monitor.run import comparing
from monitor.run.chain import changed
from monitor.run.clip import MINUTES, clip
from monitor.run.gather import gather
from monitor.run.preparing import Verb, utc
from monitor.run.progress import bar
from monitor.run.recollect import recollect
from monitor.run.recording import RecordingError, open_recording
from monitor.settings.faults import nearest

REPORT = "review.html"


def add(verb: Callable[[str, Verb, str], argparse.ArgumentParser]) -> None:
    """Give these verbs to the command line; `verb` makes the parser of one."""
    p = verb("review", _review, "make a report of a recording: page, plots, tables")
    p.add_argument("recording", type=Path, help="recording folder or journal file (which may be in use)")
    p.add_argument("--to", type=Path, required=True, help="new or empty folder")
    p.add_argument(
        "--with-limits",
        action="store_true",
        help="replay it too: loads every 5 s, what was expected 15 and 5 min before, and alerts at other limits",
    )

    p = verb("clip", _clip, "lock the time round a moment as a recording of its own; or check one")
    p.add_argument("recording", type=Path, help="recording folder or journal file; with --check, a clip")
    p.add_argument("--at", type=utc, help="the moment, UTC, for instance 2026-03-14T12:30Z")
    p.add_argument("--minutes", type=float, default=MINUTES, help="before and after it")
    p.add_argument("--to", type=Path, help="new folder")
    p.add_argument("--check", action="store_true", help="say whether a clip is as it was locked")
    p.add_argument("--head", default="", help="with --check: the head as written in the log book")
    comparing.add(verb)


def _clip(args: argparse.Namespace, console: Console) -> int:
    if args.check:
        _there(args.recording)
        why = changed(args.recording, args.head)
        written = "" if args.head else " Compare its head in about.toml with the log book."
        console.print(f"CHANGED: {why}" if why else f"As it was locked.{written}", markup=False, soft_wrap=True)
        return 1 if why else 0
    if args.at is None or args.to is None:
        raise ValueError("a clip needs --at and --to")
    with open_recording(args.recording) as recording:
        made = clip(recording, args.at, args.to, args.minutes)
        for cut in recording.cuts:
            console.print(f"NOT WHOLE: {cut}", style="bold", markup=False)
    about = made.about
    span = f"{about.begins:%Y-%m-%d %H:%M:%S} to {about.ends:%H:%M:%S} UTC"
    console.print(f"{about.inputs:,} inputs, {about.outputs:,} conclusions, {span}: {args.to}", soft_wrap=True)
    console.print(f"For the log book: SHA-256 {made.head}", soft_wrap=True)
    return 0


def _there(folder: Path) -> None:
    """Raises RecordingError, with the nearest name beside it, when there is no such folder."""
    if folder.is_dir():
        return
    if folder.exists():
        raise RecordingError(f"{folder} is a file: a clip is a folder")
    beside = folder.parent.iterdir() if folder.parent.is_dir() else ()
    near = nearest(folder.name, sorted(each.name for each in beside if each.is_dir()))
    raise RecordingError(f"{folder} is not there" + (f"; nearest: {folder.with_name(near)}" if near else ""))


def _review(args: argparse.Namespace, console: Console) -> int:
    if args.to.exists() and any(args.to.iterdir()):
        raise RecordingError(f"{args.to} is not empty: a report is never written over")
    began_s = stopwatch_s()
    with open_recording(args.recording) as recording:
        again = args.with_limits
        if not again and next(recording.outputs(), None) is None:
            console.print("It holds no conclusions of a watch: it is replayed to have some.")
        with bar("REVIEW", recording, console) as passed:
            recalled = recollect(recording, again, passed)
        review = gather(recording, recalled)
    args.to.mkdir(parents=True, exist_ok=True)
    drawn = plots.draw(review, args.to)
    (args.to / REPORT).write_text(page(review, drawn), encoding="utf-8")
    missing = ""
    try:
        from monitor.outlet.report import frames  # pandas is large, and no watch needs it

        frames.write(frames.frames(review), args.to)
    except ValueError as fault:
        missing = str(fault)
    console.print(paragraph(review), markup=False, soft_wrap=True)
    console.print(f"Written in {stopwatch_s() - began_s:.0f} s: {args.to / REPORT}", markup=False, soft_wrap=True)
    if missing:
        console.print(missing, style="bold", markup=False)
    console.print(SMALL_PRINT)
    return 1 if review.whole or missing else 0
