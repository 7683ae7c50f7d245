"""The verb of the command line that asks: what if a ship passes, what if it blows."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

from rich.console import Console

from monitor.outlet import tables
from monitor.outlet.pictures import draw_passing
from monitor.outlet.tending_words import lost_in_words, pass_odds_in_words, untended_in_words
from monitor.outlet.wording import SMALL_PRINT, Local
from monitor.run import asked, whatif
from monitor.run.preparing import Verb, utc
from monitor.settings.load import load_stay


def add(verb: Callable[[str, Verb, str], argparse.ArgumentParser]) -> None:
    """Give this verb to the command line; `verb` makes the parser of one."""
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
    p.add_argument("--at", type=utc, help="time for tide and stream; when tended without it")
    p.add_argument(
        "--channel-section", help='area of the channel\'s section where known, as "4200 m^2": far bank, drawdown'
    )
    p.add_argument("--channel-width", help='its width at the surface, as "300 m"')
    p.add_argument("--picture", type=Path, help="also draw her load against her place, to this PNG file")


def _what_if(args: argparse.Namespace, console: Console) -> int:
    settings = load_stay(args.config, args.stay)
    local = Local(settings.stay.local_time_ahead_of_utc)
    at = args.at or settings.stay.tended_at
    fields = {
        "wind": args.wind,
        "direction": args.direction,
        **{name: getattr(args, name) or "" for name in ("length", "beam", "draught", "distance", "speed")},
        "section": args.channel_section or "",
        "width": args.channel_width or "",
        "over": "over ground" if args.over_ground else "",
        "way": "the other way" if args.opposite else "",
    }
    wind_m_s, direction_deg, passer = asked.question(settings, fields)
    answer = whatif.what_if(settings, at, wind_m_s, direction_deg, passer)
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
    if answer.lines:
        console.print(tables.line_table(answer.lines, "Lines at their peak, at rest" if passer else "Lines"))
    else:
        console.print("LINE LOADS NOT KNOWN", style="bold")
    if answer.odds and answer.passing:
        console.print(tables.odds_table(answer.odds, "The ship moving in time, over many possible truths"))
        for words in pass_odds_in_words(answer.odds, answer.advice, answer.passing.encounter, local):
            console.print(f"  {words}", markup=False)
    if passer is None:
        console.print("If nobody tends, in that wind:")
        for words in untended_in_words(answer.untended, local):
            console.print(f"  {words}", markup=False)
        console.print("If a line goes in it:")
        for words in lost_in_words(answer.lost):
            console.print(f"  {words}", markup=False)
    if args.picture:
        draw_passing(whatif.picture_of(settings, answer, at), args.picture)
        console.print(f"Drawn: {args.picture}", markup=False)
    console.print(SMALL_PRINT)
    return 0
