"""The verbs of the command line."""

from __future__ import annotations

import argparse
import signal
import sys
import threading
from collections import Counter
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path

from rich.console import Console
from rich.live import Live as LiveText
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

from monitor.base.clock import wait
from monitor.base.garbage import search_seldom
from monitor.base.units import UnitError, parse_quantity
from monitor.outlet import tables
from monitor.outlet.notifier import Channel, LogFile, Terminal
from monitor.outlet.pictures import draw_passing
from monitor.outlet.wording import CAUTION, NOT_MODELLED, Local, advice_in_words
from monitor.records.events import Notice
from monitor.run import console as desks
from monitor.run import entries, expected, journal, live, nmea_file, preparing, recording, replay, whatif
from monitor.run.decoded_ais import import_csv
from monitor.run.outward import Outward
from monitor.run.pipeline import Pipeline
from monitor.run.witness import Witness
from monitor.settings.assumed import assumptions
from monitor.settings.faults import SettingsFault
from monitor.settings.load import check_all, from_snapshot, load_stay, snapshot
from monitor.settings.schema import Settings

SMALL_PRINT = f"{CAUTION} Estimates, not measurements. No alert does not mean no danger. {NOT_MODELLED}"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one verb. 0: done; 1: faults found or replay differs; 2: cannot be done as asked, the text says why."""
    parsed = _parser().parse_args(arguments)
    console = Console(highlight=False)
    search_seldom()
    try:
        code: int = parsed.verb(parsed, console)
        return code
    except (
        SettingsFault, recording.RecordingError, journal.JournalError, UnitError, ValueError, OSError
    ) as error:  # fmt: skip
        Console(stderr=True, highlight=False).print(str(error), style="bold", markup=False)
        return 2
    except KeyboardInterrupt:
        return 130


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="bightwatch", description="Watches the moorings of a ship in port. It advises; it never certifies."
    )
    verbs = parser.add_subparsers(required=True, metavar="VERB")

    def verb(name: str, run: Callable[[argparse.Namespace, Console], int], text: str) -> argparse.ArgumentParser:
        added = verbs.add_parser(name, help=text, description=text)
        added.set_defaults(verb=run)
        added.add_argument("--config", type=Path, default=Path("config"), help="folder of the settings")
        return added

    p = verb("watch", _watch, "watch a stay, live")
    p.add_argument("stay", help="name of a file in config/stays, without .toml")
    p.add_argument("--data", type=Path, default=Path("data"), help="folder for the journal and the notices")
    p.add_argument("--console", action="store_true", help="serve the bridge console as well")
    _console_place(p)

    p = verb("console", _console, "play a recording in the bridge console")
    p.add_argument("recording", type=Path, help="recording folder or journal file")
    p.add_argument("--data", type=Path, default=Path("data"), help="folder for the token, when one is needed")
    _console_place(p)

    p = verb("replay", _replay, "play a recording through the same watch")
    p.add_argument("recording", type=Path, help="recording folder or journal file")
    p.add_argument("--pace", type=float, help="seconds of the recording per second; full speed without it")
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

    p = verb("what-if", _what_if, "ask: what if a ship passes, what if it blows")
    p.add_argument("stay")
    p.add_argument("--wind", default="0 kn", help='30 s wind at 10 m, as "25 kn"')
    p.add_argument("--from", dest="direction", default="off-berth", help='"240 deg", off-berth or on-berth (beam)')
    p.add_argument("--length", help='of the passing ship, as "300 m"')
    p.add_argument("--beam", help="of the passing ship; usual for her length without it")
    p.add_argument("--draught", help="likewise")
    p.add_argument("--distance", help='hull to hull, as "90 m"')
    p.add_argument("--speed", help='as "8 kn"')
    p.add_argument("--over-ground", action="store_true", help="that speed is over ground, not through the water")
    p.add_argument("--opposite", action="store_true", help="she heads the other way than we")
    p.add_argument("--at", type=preparing.utc, help="time for tide and stream; when tended without it")
    p.add_argument("--channel-section", help='area of the channel\'s section where known, as "4200 m^2": drawdown')
    p.add_argument("--channel-width", help='its width at the surface, as "300 m"')
    p.add_argument("--picture", type=Path, help="also draw her load against her place, to this PNG file")
    return parser


def _quantity(text: str, unit: str) -> float:
    try:
        return parse_quantity(text, unit)
    except UnitError as error:
        raise ValueError(f"'{text}': {error}") from None


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
    for line in sys.stdin:
        if stop.is_set():
            return
        if not line.strip():
            continue
        if line.strip() == "help":
            console.print(entries.HELP, markup=False)
            continue
        pipeline = watch.session.pipeline
        alerts = tuple(pipeline.alerts) if pipeline is not None else ()
        lines = tuple(led.line for led in settings.stay.lines)
        try:
            watch.emit(entries.read_entry(line, lines, alerts))
            console.print(f"entered: {line.strip()}", markup=False)
        except entries.EntryFault as fault:
            console.print(str(fault), style="bold", markup=False)


# --- console -----------------------------------------------------------------------------------------------


def _console_place(p: argparse.ArgumentParser) -> None:
    p.add_argument(
        "--at", default=desks.AT, help="where to serve it; beyond this machine it asks for a token: see the README"
    )


def _console(args: argparse.Namespace, console: Console) -> int:
    stop = threading.Event()
    with recording.open_recording(args.recording) as played:
        desk = desks.ReplayDesk(played)
        console.print(SMALL_PRINT)
        address = desks.open_console(desk, args.at, args.data)
        console.print(f"REPLAY in the bridge console: {address}", markup=False)
        console.print("Ctrl-C ends it.")
        try:
            desk.develop(stop)
            while not wait(1.0, stop):
                pass
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
        console.print(f"{len(faults)} faults.", style="bold")
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
    with journal.open_journal(args.to) as store:
        console.print(f"{recording.import_recording(args.source, store):,} events brought in.")
    return 0


def _what_if(args: argparse.Namespace, console: Console) -> int:
    settings = load_stay(args.config, args.stay)
    local = Local(settings.stay.local_time_ahead_of_utc)
    at = args.at or settings.stay.tended_at
    if args.direction in ("off-berth", "on-berth"):
        direction_deg = whatif.beam_wind_from_deg(settings, args.direction == "off-berth")
    else:
        direction_deg = _quantity(args.direction, "deg")

    def given(text: str | None, unit: str) -> float | None:
        return None if text is None else _quantity(text, unit)

    passer = None
    if any((args.length, args.distance, args.speed)):
        if not all((args.length, args.distance, args.speed)):
            raise ValueError("a passing ship needs --length, --distance and --speed")
        passer = whatif.Passer(
            _quantity(args.length, "m"),
            given(args.beam, "m"),
            given(args.draught, "m"),
            _quantity(args.distance, "m"),
            _quantity(args.speed, "m/s"),
            not args.over_ground,
            args.opposite,
            channel=whatif.channel_of(given(args.channel_section, "m^2"), given(args.channel_width, "m")),
        )
    answer = whatif.what_if(settings, at, _quantity(args.wind, "m/s"), direction_deg, passer)
    console.print(f"What if, at {local.clock(at)}: wind {args.wind} from {direction_deg:03.0f}°", markup=False)
    parts = (("wind", answer.wind_load), ("stream", answer.stream_load), ("passing, peaks", answer.passing_peak))
    for name, load in parts:
        if load is not None:
            console.print(f"  {name}: {tables.forces_in_words(load.surge_n, load.sway_n, load.yaw_n_m)}")
    if answer.speed_water_m_s is not None:
        console.print(f"  speed through the water {tables.speed_in_words(answer.speed_water_m_s)}")
    if answer.passing and (waves := answer.passing.waves):
        height = waves.height_m
        told = tables.waves_in_words(height.low, height.high, waves.period_s, waves.arrival_s)
        console.print(f"  her waves at our side: {told}", markup=False)
    if answer.passing and (down := answer.passing.drawdown):
        told = tables.drawdown_in_words(down.sinks_m.low, down.sinks_m.high, down.returns_m_s.mid)
        console.print(f"  drawdown: {told}", markup=False)
    if answer.assumed:
        console.print("  assumed: " + ", ".join(answer.assumed), markup=False)
    if answer.reasons:
        console.print(f"  {answer.validity.value}: " + "; ".join(answer.reasons), markup=False)
    console.print(tables.line_table(answer.lines, "Lines at their peak, at rest" if passer else "Lines"))
    if answer.odds and answer.passing:
        console.print(tables.odds_table(answer.odds, "The ship moving in time, over many possible truths"))
        console.print(f"  {tables.odds_in_words(answer.odds)}", markup=False)
        asked = advice_in_words(answer.advice, answer.passing.encounter)
        if asked:
            console.print(f"  ask VTS: {asked}", markup=False)
    if args.picture:
        draw_passing(whatif.picture_of(settings, answer, at), args.picture)
        console.print(f"Drawn: {args.picture}", markup=False)
    console.print(SMALL_PRINT)
    return 0


if __name__ == "__main__":
    sys.exit(main())
