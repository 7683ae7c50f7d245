"""`python -m tests.cases [FILES]`: play the cases through the watch, write the table in Markdown (see --help)."""

from __future__ import annotations

import argparse
import os
import pickle
import sys
import time
import zlib
from concurrent.futures import ProcessPoolExecutor
from itertools import product, repeat
from pathlib import Path
from typing import Final

from tests.cases.case import FOLDER, Case, Drawn, draws, load
from tests.cases.play import Outcome, play
from tests.cases.table import HEAD, remarks, row

DRAWS: Final = 20


def main() -> int:
    """Play, tell."""
    parser = argparse.ArgumentParser(prog="python -m tests.cases", description=__doc__)
    parser.add_argument("files", nargs="*", type=Path, help="case files; all of this folder when left out")
    parser.add_argument("--draws", type=int, default=DRAWS)
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    parser.add_argument("--minutes", type=float, help="begin no draw after so long: the table is of those made")
    parser.add_argument("--keep", type=Path, help="folder of outcomes: those there are not played again")
    parser.add_argument("--to", type=Path, help="file to write the table to; the terminal when left out")
    asked = parser.parse_args()
    cases = [load(path) for path in asked.files or shipped()]
    until_s = None if asked.minutes is None else time.time() + 60.0 * asked.minutes
    found = played(cases, asked.draws, asked.jobs, until_s, asked.keep)
    told = [(case, outcomes) for case, outcomes in zip(cases, found, strict=True) if outcomes]
    lines = [HEAD, *(row(case, outcomes) for case, outcomes in told)]
    for case, outcomes in told:
        lines += ["", f"**{case.case}: {case.title}** ({case.source})", ""]
        lines += [f"- {remark}" for remark in remarks(case, outcomes)]
    text = "\n".join(lines) + "\n"
    if asked.to is None:
        print(text)
    else:
        asked.to.write_text(text, "utf-8")
    return 0


def shipped() -> list[Path]:
    """The published accidents of this folder."""
    return sorted(path for path in FOLDER.glob("*.toml") if path.stem not in ("usual", "example"))


def played(
    cases: list[Case], count: int, jobs: int = 1, until_s: float | None = None, keep: Path | None = None
) -> list[list[Outcome]]:
    """The draws of each case made until a time of the clock; the first draws of all cases come first."""
    every = [draws(case, count) for case in cases]
    order = [(k, number) for number, k in product(range(count), range(len(cases)))]
    tasks = [(cases[k], number, every[k][number]) for k, number in order]
    if jobs == 1:
        outcomes = [_one(*task, until_s, keep) for task in tasks]
    else:
        with ProcessPoolExecutor(jobs, initializer=os.nice, initargs=(5,)) as pool:
            columns = zip(*tasks, strict=True)
            outcomes = list(pool.map(_one, *columns, repeat(until_s), repeat(keep)))
    found: list[list[Outcome]] = [[] for _ in cases]
    for (k, _), outcome in zip(order, outcomes, strict=True):
        if outcome is not None:
            found[k].append(outcome)
    return found


def _one(case: Case, number: int, drawn: Drawn, until_s: float | None, keep: Path | None) -> Outcome | None:
    """One draw, from the folder or played; None when there is no more time."""
    file = None if keep is None else keep / f"{case.case}-{number}-{zlib.crc32(repr(drawn).encode()):08x}.pickle"
    if file is not None and file.exists():
        kept: Outcome = pickle.loads(file.read_bytes())
        return kept
    if until_s is not None and time.time() > until_s:
        return None
    outcome = play(case, number, drawn)
    if file is not None:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(pickle.dumps(outcome))
    return outcome


if __name__ == "__main__":
    sys.exit(main())
