"""`python -m tests.cases [FILES]`: play the cases through the watch, write the table in Markdown (see --help)."""

from __future__ import annotations

import argparse
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from itertools import repeat
from pathlib import Path
from typing import Final

from tests.cases.case import FOLDER, Case, draws, load
from tests.cases.play import Outcome, play
from tests.cases.table import HEAD, remarks, row

DRAWS: Final = 20


def main() -> int:
    """Play, tell."""
    parser = argparse.ArgumentParser(prog="python -m tests.cases", description=__doc__)
    parser.add_argument("files", nargs="*", type=Path, help="case files; all of this folder when left out")
    parser.add_argument("--draws", type=int, default=DRAWS)
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    parser.add_argument("--minutes", type=float, help="stop a case after so long, with the draws made by then")
    parser.add_argument("--to", type=Path, help="file to write the table to, besides the terminal")
    asked = parser.parse_args()
    rows, told = [HEAD], []
    for case in map(load, asked.files or shipped()):
        outcomes = played(case, asked.draws, asked.jobs, asked.minutes)
        rows.append(row(case, outcomes))
        told.append(f"\n**{case.case}: {case.title}** ({case.source})\n")
        told += [f"- {remark}" for remark in remarks(case, outcomes)]
        print(rows[-1], *told[-1 - len(list(remarks(case, outcomes))) :], sep="\n", flush=True)
    text = "\n".join([*rows, *told]) + "\n"
    if asked.to is not None:
        asked.to.write_text(text, "utf-8")
    return 0


def shipped() -> list[Path]:
    """The published accidents of this folder."""
    return sorted(path for path in FOLDER.glob("*.toml") if path.stem not in ("usual", "example"))


def played(case: Case, count: int, jobs: int, minutes: float | None = None) -> list[Outcome]:
    """The draws of a case; more than one process gives the same. At least one, however few minutes there are."""
    every = draws(case, count)
    if jobs == 1:
        begun_s, found = time.monotonic(), []
        for number, drawn in enumerate(every):
            if found and minutes is not None and time.monotonic() - begun_s > 60.0 * minutes:
                break
            found.append(play(case, number, drawn))
        return found
    with ProcessPoolExecutor(jobs, initializer=os.nice, initargs=(10,)) as pool:
        return list(pool.map(play, repeat(case), range(count), every))


if __name__ == "__main__":
    sys.exit(main())
