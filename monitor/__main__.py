"""The verbs of the command line."""

from __future__ import annotations

import argparse
import re
import signal
import sys
import threading
import warnings
from collections import Counter
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from datetime import datetime
from io import TextIOWrapper
from math import inf
from pathlib import Path
from typing import NoReturn

from rich.console import Console
from rich.live import Live as LiveText
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

from monitor.base.clock import wait
from monitor.base.garbage import search_seldom
from monitor.base.units import UnitError
from monitor.outlet import tables
from monitor.outlet.naming import alert_in_words
from monitor.outlet.notifier import Channel, LogFile, Terminal
from monitor.outlet.wording import SMALL_PRINT, Local
from monitor.records.events import Notice
from monitor.run import (
    asking,
    decks,
    entries,
    expected,
    journal,
    live,
    nmea_file,
    preparing,
    recording,
    replay,
    reviewing,
    tuning_verb,
)
from monitor.run import console as desks
from monitor.run.outward import Outward
from monitor.run.pipeline import Pipeline
from monitor.run.witness import Witness
from monitor.settings.assumed import assumptions
from monitor.settings.faults import SettingsFault, how_many, nearest
from monitor.settings.load import check_all, from_snapshot, load_stay, snapshot
from monitor.settings.schema import Settings


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one verb. 0: done; 1: faults found or replay differs; 2: cannot be done as asked, the text says why."""
    parsed = _parser().parse_args(arguments)
    warnings.formatwarning = lambda message, *_, **__: f"{message}\n"  # to people, not to programmers
    console = Console(highlight=False)
    search_seldom()
    try:
        code: int = parsed.verb(parsed, console)
        return code
    except OSError as error:
        what = f"{error.filename}: {error.strerror}" if error.filename and error.strerror else str(error)
        return _cannot(what)
    except (SettingsFault, recording.RecordingError, journal.JournalError, UnitError, ValueError) as error:
        return _cannot(str(error))
    except KeyboardInterrupt:
        return 130


def _cannot(why: str) -> int:
    Console(stderr=True, highlight=False).print(why, style="bold", markup=False)
    return 2


class _Parser(argparse.ArgumentParser):
    """Tells the nearest word of those allowed, too."""

    def error(self, message: str) -> NoReturn:
        chosen = re.search(r"invalid choice: '(.*)' \(choose from (.*)\)", message)
        like = nearest(chosen[1], re.findall(r"[\w-]+", chosen[2])) if chosen else ""
        super().error(f"{message}, nearest: {like}" if like else message)


def _pace(text: str) -> float:
    try:
        pace = float(text)
    except ValueError:
        pace = 0.0
    if not 0.0 < pace < inf:
        raise argparse.ArgumentTypeError(f"'{text}' is no pace: write a number above 0, for instance 60")
    return pace


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="bightwatch", description="Watches the moorings of a ship in port. It advises; it never certifies."
    )
    verbs = parser.add_subparsers(required=True, metavar="VERB")

    def verb(name: str, run: Callable[[argparse.Namespace, Console], int], text: str) -> argparse.ArgumentParser:
        added = verbs.add_parser(name, help=text, description=text)
        added.set_defaults(verb=run)
        added.add_argument(
            "--config", type=Path, default=Path("config"), help="folder of the settings; a recording has its own"
        )
        return added

    p = verb("watch", _watch, "watch a stay, live")
    p.add_argument("stay", help="name of a file in config/stays, without .toml")
    p.add_argument("--data", type=Path, default=Path("data"), help="folder for the journal and the notices")
    p.add_argument("--console", action="store_true", help="serve the bridge console as well")
    _console_place(p)

    p = verb("console", _console, "play a recording in the bridge console")
    p.add_argument("recording", type=Path, nargs="+", help="recording folders or journal files to choose from")
    p.add_argument("--data", type=Path, default=Path("data"), help="folder for the token, when one is needed")
    _console_place(p)

    p = verb("replay", _replay, "play a recording through the same watch")
    p.add_argument("recording", type=Path, help="recording folder or journal file")
    p.add_argument("--pace", type=_pace, help="seconds of the recording per second; full speed without it")
    p.add_argument("--brief", action="store_true", help="only the tables at the end, not each notice")
    p.add_argument("--keep", action="store_true", help="write what is concluded as the expected conclusions")

    verb("check", _check, "check all settings files; tell every fault at once, and what is assumed")

    p = verb("export", _export, "write a stretch of a journal as a recording folder, or as an NMEA file")
    p.add_argument("journal", type=Path)
    p.add_argument("to", type=Path, help="new folder, or a file ending in .nmea for the sentences alone")
    p.add_argument("--begins", type=preparing.utc, help="UTC, for instance 2026-03-14T10:00Z")
    p.add_argument("--ends", type=preparing.utc)
    p.add_argument("--holds", default="", help="what there is to see in it")

    p = verb("import", _import, "bring a recording into a journal, or decoded AIS (CSV) into a recording")
    p.add_argument("source", type=Path, help="recording folder, or .csv / .csv.gz of decoded AIS")
    p.add_argument("to", type=Path, help="journal file, or new recording folder for CSV")
    p.add_argument("--stay", help="CSV: the stay whose berth is watched")
    p.add_argument("--wind", help='CSV has no wind: assume one, as "15 kn from 240 deg"')
    p.add_argument("--holds", default="", help="what there is to see in it")

    preparing.add(verb)

    asking.add(verb)
    tuning_verb.add(verb)

    decks.add(verb)

    reviewing.add(verb)
    return parser


# --- watch --------------------------------------------------------------------------------------------------


def _watch(args: argparse.Namespace, console: Console) -> int:
    taken = snapshot(args.config, args.stay)
    settings = from_snapshot(taken)
    local = Local(settings.stay.local_time_ahead_of_utc)
    store = journal.open_journal(args.data / f"{args.stay}.journal")
    if store.moved_on:
        console.print(store.moved_on, style="bold")
    console.print(SMALL_PRINT)
    console.print("Type help and Enter for what can be entered; Ctrl-C ends the watch.")
    stop = threading.Event()
    with LiveText(console=console, refresh_per_second=2, transient=True) as text, store:
        channels: list[Channel] = [
            Terminal(local, console, bell=True),
            LogFile(args.data / settings.alerts.log_file, local),
        ]

        def show(pipeline: Pipeline, now: datetime) -> None:
            standing = Counter(alert.priority for alert in pipeline.alerts.values() if alert.active)
            line = tables.status_line(now, pipeline.estimate, pipeline.outlook, pipeline.dark, standing, local)
            text.update(line)

        witness = Witness()
        desk = desks.LiveDesk(settings, taken, args.config, witness)
        watchers = [show, desk.watch] if args.console else [show]
        watch = live.Live(settings, taken, store, channels, watchers, witness.see if args.console else None)
        if args.console:
            desk.attend(watch)
            witness.recall(desks.lately(store))
            console.print(f"The bridge console: {desks.open_console(desk, args.at, args.data)}", markup=False)
        watch.outward = Outward(settings.alerts, args.data, watch.emit, watch.now)
        typing = threading.Thread(target=_typed, args=(watch, settings, stop, console), daemon=True)
        typing.start()
        for number in (signal.SIGINT, signal.SIGTERM):  # let what is being handled be journalled whole
            signal.signal(number, lambda *_: stop.set())
        watch.run(stop)
    return 0


def _typed(watch: live.Live, settings: Settings, stop: threading.Event, console: Console) -> None:
    """Lines typed at the terminal become operator actions; what cannot be read is told at once."""
    if isinstance(sys.stdin, TextIOWrapper):
        sys.stdin.reconfigure(errors="replace")  # a byte that is no letter must not end the typing
    for line in sys.stdin:
        if stop.is_set():
            return
        if not line.strip():
            continue
        if line.strip().lower() in ("help", "?"):
            console.print(entries.HELP, markup=False)
            continue
        pipeline = watch.session.pipeline
        alerts = {}
        if pipeline is not None:
            alerts = {key: alert_in_words(key, pipeline.traffic.name) for key in tuple(pipeline.alerts)}
        lines = tuple(led.line for led in settings.stay.lines)
        try:
            alongside = [craft.mmsi for craft in pipeline.stay.craft] if pipeline else None
            watch.emit(entries.read_entry(line, lines, alerts, ship=settings.ship, alongside=alongside))
            console.print(f"entered: {line.strip()}", markup=False)
        except entries.EntryFault as fault:
            console.print(str(fault), style="bold", markup=False)


# --- console -----------------------------------------------------------------------------------------------


def _console_place(p: argparse.ArgumentParser) -> None:
    p.add_argument(
        "--at",
        default=desks.AT,
        help=f"where to serve it, {desks.AT} without; beyond this machine it asks for a token",
    )


def _console(args: argparse.Namespace, console: Console) -> int:
    stop = threading.Event()
    with ExitStack() as opened:
        desk = desks.ReplayDesk(*(opened.enter_context(recording.open_recording(each)) for each in args.recording))
        console.print(SMALL_PRINT)
        address = desks.open_console(desk, args.at, args.data)
        console.print(f"REPLAY in the bridge console: {address}", markup=False)
        console.print("Ctrl-C ends it.")
        try:
            while not wait(0.2, stop):
                if desk.unread:
                    desk.develop(stop)
        except KeyboardInterrupt:
            stop.set()
    return 0


# --- replay -------------------------------------------------------------------------------------------------


def _replay(args: argparse.Namespace, console: Console) -> int:
    with recording.open_recording(args.recording) as played:
        settings = from_snapshot(played.settings())
        local = Local(settings.stay.local_time_ahead_of_utc)
        terminal = Terminal(local, console)
        about = played.about
        if about is not None:
            invented = " (INVENTED ships, port and events)" if about.invented else ""
            console.print(f"REPLAY of {about.name}{invented}: {about.holds}", markup=False)
        console.print(SMALL_PRINT)
        concluded: list[tuple[datetime, object]] = []
        pipelines: dict[int, Pipeline] = {}
        passes = replay.Passes()
        columns = (
            TextColumn("REPLAY {task.description}"),
            BarColumn(),
            TextColumn("{task.completed:,.0f} inputs"),
            TimeRemainingColumn(),
        )
        with Progress(*columns, console=console, transient=True) as progress:
            task = progress.add_task("", total=about.inputs if about else None)

            def passed(entry: journal.Entry, pipeline: Pipeline | None) -> None:
                if pipeline is not None:
                    pipelines[id(pipeline)] = pipeline
                    passes.look(pipeline)
                if entry.seq % 500 == 0:
                    progress.update(task, completed=entry.seq, description=local.clock(entry.stamped_at))

            for at, conclusion in replay.replay(played, args.pace, passed):
                concluded.append((at, conclusion))
                if isinstance(conclusion, Notice) and not args.brief:
                    terminal.send(conclusion)
        console.print()
        console.print(tables.pass_table(passes.last.values(), local))
        console.print(tables.alert_table(concluded, local))
        for pipeline in pipelines.values():
            console.print(tables.counts_table(pipeline.counts))
        if args.keep:
            expected.keep(args.recording, concluded)
            console.print("Written as the expected conclusions.")
            code = 0
        else:
            code = _compared(played, concluded, console)
        for cut in played.cuts:
            console.print(f"NOT WHOLE: {cut}", style="bold", markup=False)
        return 1 if played.cuts else code


def _compared(played: recording.Recording, concluded: list[tuple[datetime, object]], console: Console) -> int:
    if next(played.outputs(), None) is None:
        console.print("The recording holds no conclusions to compare with.")
        return 0
    outcome = replay.compare(played, concluded)  # type: ignore[arg-type]
    if outcome.identical:
        console.print(f"The same as recorded: {outcome.same:,} transitions, notices and estimates.")
        return 0
    console.print(f"DIFFERS from what was recorded in {len(outcome.differences)} places:", style="bold")
    for difference in outcome.differences[:10]:
        console.print(f"  {difference}", markup=False)
    return 1


# --- the rest -----------------------------------------------------------------------------------------------


def _check(args: argparse.Namespace, console: Console) -> int:
    faults = check_all(args.config)
    for fault in faults:
        console.print(str(fault), markup=False)
        console.print()
    if faults:
        console.print(f"{how_many(faults)}.", style="bold")
        return 1
    for stay in sorted(path.stem for path in (args.config / "stays").glob("*.toml")):
        console.print(f"{stay}: no faults. Assumed or not known:", markup=False)
        for assumed in assumptions(load_stay(args.config, stay)):
            console.print(f"  {assumed}", markup=False)
    return 0


def _export(args: argparse.Namespace, console: Console) -> int:
    begins, ends = args.begins, args.ends
    with journal.JournalReader(args.journal) as store:
        if args.to.suffix == ".nmea":
            written = nmea_file.export_nmea(store.read(begins, ends, "in"), args.to)
            console.print(f"{written.written:,} sentences written, {written.left_out:,} lines left out.")
            return 0
        about = recording.export(store, args.to, begins, ends, name=args.to.name, invented=False, holds=args.holds)
    console.print(f"{about.inputs:,} inputs, {about.outputs:,} conclusions, {about.begins} to {about.ends}.")
    return 0


def _import(args: argparse.Namespace, console: Console) -> int:
    if args.source.suffix in (".csv", ".gz"):
        if args.stay is None:
            raise ValueError("CSV has no settings: name the stay with --stay")
        from monitor.run.decoded_ais import import_csv  # pandas is large, and no watch needs it

        taken = snapshot(args.config, args.stay)
        wind = entries.read_entry(f"wind {args.wind}", (), (), "CSV") if args.wind else None
        imported = import_csv(
            args.source, taken, args.to, name=args.to.name, invented=False, holds=args.holds, wind=wind
        )
        console.print(
            f"{imported.heard:,} rows in range, {imported.out_of_range:,} out of range, "
            f"{imported.out_of_time:,} without a usable time; {imported.begins} to {imported.ends}. "
            f"Now: bightwatch replay {args.to}"
        )
        return 0
    recording.open_recording(args.source).close()  # before a journal is made for nothing
    if args.to.exists():
        journal.JournalReader(args.to).close()  # what is no journal of ours is refused and left alone
    with journal.Journal(args.to) as store:
        console.print(f"{recording.import_recording(args.source, store):,} events brought in.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
