"""The verb of the command line that tunes a berth's alerts on its recorded past."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

from monitor.base.clock import AnchoredClock
from monitor.base.units import typed_quantity
from monitor.outlet import tuned
from monitor.records.tuned import AS_IS, Recipe, Verdict
from monitor.run import adopting, fleet, kept, tuning
from monitor.run.preparing import Verb
from monitor.run.truth import placed, read_log, rules_of
from monitor.settings.schema import Alerts
from monitor.watch.matching import Event
from monitor.watch.scores import FLAT

KEPT: Final = Path("data") / "kept"


def add(verb: Callable[[str, Verb, str], argparse.ArgumentParser]) -> None:
    """Give this verb to the command line; `verb` makes the parser of one."""
    p = verb("tune", _tune, "score alert profiles on recordings and what was logged; recommend one; write nothing")
    p.add_argument(
        "recordings", type=Path, nargs="+", help="recording folders or journal files, of one or more berths"
    )
    p.add_argument("--berth", help="the berth to tune, when there are several; the others are borrowed from")
    p.add_argument(
        "--log", type=Path, help="CSV of what happened that no recording holds: at, what, line, berth, ship"
    )
    p.add_argument("--watch-distance", help='within which a pass counts, hull to hull; "500 m" without it')
    p.add_argument("--alert-wind", help="an hour with gusts above it counts; the berth's lowest limit without it")
    p.add_argument("--kept", type=Path, default=KEPT, help="folder for what is worked out once")
    p.add_argument("--anew", action="store_true", help="work it out anew")
    p.add_argument("--all-cores", action="store_true", help="many recordings at once, one a core")
    p.add_argument("--scheduler", help="address of a Dask scheduler, as tcp://127.0.0.1:8786 (part: fleet)")
    p.add_argument("--picture", type=Path, help="also draw the trade-off, to this PNG file (part: pictures)")
    p.add_argument(
        "--table", type=Path, help="also write every profile's counts, to this Parquet file (part: review)"
    )
    p.add_argument("--adopt", metavar="NAME", help="write the recommended profile to config/alerts/NAME.toml")
    p.add_argument("--by", default="", help="who adopts it: initials")
    p.add_argument("--why", default="", help="and why, in a few words")


@dataclass(frozen=True, slots=True)
class Keeping:
    """Works a recording out once; to be sent to other processes."""

    folder: Path
    anew: bool

    def __call__(self, recording: Path) -> Path:
        return kept.keep_once(recording, self.folder, anew=self.anew)


@dataclass(frozen=True, slots=True)
class Tallying:
    """Tallies all recipes on a kept recording; to be sent to other processes. `present`: by berth; `logged`: by
    stay."""

    recipes: tuple[Recipe, ...]
    present: Mapping[str, Alerts]
    logged: Mapping[str, tuple[Event, ...]]
    distance_m: float | None
    wind_m_s: float | None

    def __call__(self, path: Path) -> dict[Recipe, tuning.Pair]:
        with kept.opened(path) as one:
            rules = rules_of(one.settings, self.distance_m, self.wind_m_s)
            return tuning.tallies(
                one, self.recipes, self.present[one.about.berth], rules, self.logged.get(one.about.stay, ())
            )


def _tune(args: argparse.Namespace, console: Console) -> int:
    where = fleet.Where((os.cpu_count() or 1) if args.all_cores else 1, args.scheduler)
    recordings = list({path.resolve(): path for path in args.recordings}.values())  # named twice, counted once
    worked_out = _each_of(console, "working out once", Keeping(args.kept, args.anew), recordings, where)
    paths = [path for _, path in worked_out]
    read = _each_of(console, "reading", kept.about, paths, fleet.Where())
    heads = sorted(((about, path) for path, about in read), key=lambda head: head[0].begins)
    if not heads:
        raise ValueError("no recording could be used")
    berth = _berth(args.berth, [about for about, _ in heads])
    texts = {about.berth: _profile_text(args.config, about) for about, _ in heads}  # the newest of each berth
    present = {name: adopting.profile_of(text, f"the profile of {name}") for name, text in texts.items()}
    recipes = tuple(dict.fromkeys((AS_IS, *tuning.near(), *tuning.wide())))
    logged, unused = placed(read_log(args.log) if args.log else (), [about for about, _ in heads])
    for each, why in unused:
        told = f"{each.event.what} at {each.event.at:%Y-%m-%d %H:%M} UTC: {why}"
        console.print(f"NOT USED: {told}", style="bold", markup=False)
    job = Tallying(
        recipes,
        present,
        logged,
        _quantity(args.watch_distance, "m"),
        _quantity(args.alert_wind, "m/s"),
    )
    tallied = dict(_each_of(console, "sweeping profiles", job, [path for _, path in heads], where))
    heads = [(about, path) for about, path in heads if path in tallied]
    own = [about for about, _ in heads if about.berth == berth]
    if not own:
        raise ValueError(f"no recording of {berth} could be swept")
    stays = _stays(heads, tallied)
    here = [stay for stay in stays if stay.berth == berth]
    cap = min(about.alarm_cap for about in own)
    near = set(tuning.near()) | {AS_IS}
    narrowed = [tuning.Stay(s.name, s.berth, {r: t for r, t in s.tallies.items() if r in near}) for s in stays]
    advice = tuning.recommend(
        [stay for stay in narrowed if stay.berth == berth],
        [stay for stay in narrowed if stay.berth != berth],
        present[berth],
        cap,
    )
    chosen = tuning.applied(advice.recipe, present[berth], cap)
    assert chosen is not None, "only sound profiles are tallied"
    invented = any(about.invented for about in own)
    console.print(f"{berth}{' (INVENTED)' if invented else ''}: {len(own)} recordings of {len(here)} stays.")
    for table in tuned.tables(advice):
        console.print(table)
    for sentence in tuned.in_words(advice, list(adopting.differences(present[berth], chosen))):
        console.print(sentence, markup=False)
    if args.picture:
        points = tuning.trade_off(tuning.summed(stay.tallies for stay in tuning.split(here)[0]))
        tuned.draw_trade_off(list(points), advice, berth, invented, args.picture)
        console.print(f"Drawn: {args.picture}", markup=False)
    if args.table:
        fleet.write_table(list(_rows(heads, tallied)), args.table)
        console.print(f"Written: {args.table}", markup=False)
    if args.adopt:
        if advice.verdict is not Verdict.CHANGE:
            raise ValueError("nothing is adopted: no change is recommended")
        file, before = adopting.adopt(
            args.config, args.adopt, texts[berth], chosen, args.by, args.why, AnchoredClock().now(), cap
        )
        console.print(f"Adopted: {file}" + (f"; the one before it: {before}" if before else ""), markup=False)
    elif advice.verdict is Verdict.CHANGE:
        console.print('Nothing is written. To take it over: --adopt NAME --by "AB" --why "..."', markup=False)
    return 1 if len(tallied) < len(recordings) else 0


def _berth(asked: str | None, abouts: Sequence[kept.About]) -> str:
    names = sorted({about.berth for about in abouts})
    if asked is None and len(names) == 1:
        return names[0]
    found = [name for name in names if asked is not None and asked.lower() in name.lower()]
    if len(found) != 1:
        raise ValueError(f"which berth? --berth with a part of one of: {'; '.join(names)}")
    return found[0]


def _profile_text(config: Path, about: kept.About) -> str:
    """The profile in force now where its file is there, else as the recording has it."""
    name, text = next((name, text) for name, text in about.snapshot.files if name.startswith("alerts/"))
    file = config / name
    return file.read_text("utf-8") if file.is_file() else text


def _stays(
    heads: Sequence[tuple[kept.About, Path]], tallied: Mapping[Path, Mapping[Recipe, tuning.Pair]]
) -> list[tuning.Stay]:
    """Recordings of the same stay are one, in time order."""
    grouped: dict[tuple[str, str], list[Path]] = {}
    for about, path in heads:
        grouped.setdefault((about.stay, about.berth), []).append(path)
    return [
        tuning.Stay(name, berth, tuning.summed(tallied[path] for path in paths))
        for (name, berth), paths in grouped.items()
    ]


def _rows(
    heads: Sequence[tuple[kept.About, Path]], tallied: Mapping[Path, Mapping[Recipe, tuning.Pair]]
) -> Iterator[dict[str, Any]]:
    """One row a recording, profile and level."""
    for about, path in heads:
        for recipe, pair in tallied[path].items():
            for tally in pair:
                found = tuning.scored(recipe, tally, FLAT)
                counts = {key: value for key, value in asdict(tally).items() if key != "leads_s"}
                yield {
                    "recording": about.name,
                    "berth": about.berth,
                    "stay": about.stay,
                    "begins": about.begins,
                    "invented": about.invented,
                    "warning_times": recipe.warning,
                    "alarm_times": recipe.alarm,
                    "odds_times": recipe.odds,
                    "delay_added_s": recipe.delay_s,
                    **counts,
                    "level": tally.level.value,
                    "pod": found.pod,
                    "far": found.far,
                    "csi": found.csi,
                    "lead_median_s": found.lead_median_s,
                }


def _quantity(text: str | None, unit: str) -> float | None:
    return None if text is None else typed_quantity(text, unit)


def _each_of(
    console: Console, what: str, job: Callable[[Path], fleet.Result], items: Sequence[Path], where: fleet.Where
) -> list[tuple[Path, fleet.Result]]:
    """The results, with a progress bar; what failed is told."""
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=console, transient=True) as progress:
        task = progress.add_task(what, total=len(items))
        done = fleet.over(job, items, where, lambda number: progress.update(task, completed=number))
    for each in done:
        if each.why:
            console.print(f"NOT USED: {each.item}: {each.why}", style="bold", markup=False)
    return [(each.item, each.result) for each in done if each.result is not None]
