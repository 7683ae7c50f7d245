"""`python -m tests.bench [--short]`: is the watch quick, and does it stay small?

Ends with exit code 1 when a replay's journal, intake and traffic take more than MOST_RATIO × decoding alone, or
when what the watch holds in memory grows once it has settled, or when the odds are slow (`tests.bench.odds`).
"""

from __future__ import annotations

import argparse
import sys

from monitor.settings.load import snapshot
from tests.bench import decoding, odds, week
from tests.bench.sentences import gather
from tests.conftest import ROOT

STAY = "tavrin-lark-at-sedge-quay-2"
MOST_RATIO = 2.0
MOST_GROWTH = 0.05


def main() -> int:
    """Run, tell, judge."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--short", action="store_true", help="a minute's worth, for every change")
    short = parser.parse_args().short
    faults = [*_race(short), *_memory(short)]
    print()
    faults += odds.run(short)
    print("\n" + ("\n".join(f"FAILED: {fault}" for fault in faults) or "All within bounds."))
    return 1 if faults else 0


def _race(short: bool) -> list[str]:
    settings = snapshot(ROOT / "config", STAY)
    on = decoding.course(gather(10_000 if short else 100_000, decoding.from_snapshot(settings)), settings)
    print(f"Against decoding alone: {on.sentences.made_of}.\n")
    results = decoding.race(on, repetitions=3 if short else 5)
    print("\n".join(decoding.told(results)), flush=True)
    ratio = results[decoding.REPLAY].median_ratio
    return (
        [f"{decoding.REPLAY}: {ratio:.2f} × decoding, at most {MOST_RATIO} allowed"] if ratio > MOST_RATIO else []
    )


def _memory(short: bool) -> list[str]:
    # Settled is when ships of the first watches have been forgotten, after an hour.
    watches, minutes, a_day, settled = (6, 20.0, 1, 4) if short else (21, 480.0, 3, 2)
    unit = "watch" if short else "day"
    print(f"\nMemory over {watches} watches of {minutes:.0f} min at a busy berth, models on every five minutes.\n")
    print(f"{unit:>5}   held MB  caches MB   peak MB   journal MB   CPU s")
    held: list[week.Held] = []
    for number, now in enumerate(week.watch(ROOT / "config", STAY, watches, minutes), 1):
        held.append(now)
        if number % a_day == 0:
            lately = held[-a_day:]
            peak_mb, cpu_s = max(each.peak_mb for each in lately), sum(each.cpu_s for each in lately)
            print(
                f"{number // a_day:5}{now.held_mb:10.2f}{now.caches_mb:11.2f}{peak_mb:10.2f}"
                f"{now.journal_mb:13.1f}{cpu_s:8.1f}",
                flush=True,
            )
    grown = week.growth(held, settled * a_day - 1)
    print(f"\nHeld at the end against the end of {unit} {settled}: {grown:+.2%}")
    return (
        [f"memory grew by {grown:.1%} after {unit} {settled}, at most {MOST_GROWTH:.0%} allowed"]
        if grown > MOST_GROWTH
        else []
    )


if __name__ == "__main__":
    sys.exit(main())
