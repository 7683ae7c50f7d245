"""`python -m tests.fuzz [--seconds 120] [TARGET ...]`: every parser fuzzed by coverage, one after the other.

Wants the package atheris (`pip install atheris`), which is no dependency of ours. What must hold is what
`tests/test_mutated_inputs.py` says of each target: no exception, no number that cannot be, nothing damaged taken
in silence. Seeds are that file's good inputs. A sentence is fuzzed twice: as it comes, where nearly
all fail their checksum, and "sealed": with a good checksum put to whatever the fuzzer made. Ends with exit code 1
when something was found; the input that did it is printed.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

_RUNS: Final = re.compile(r"stat::number_of_executed_units:\s+(\d+)")
_WHY: Final = re.compile(r"=== Uncaught Python exception: ===\n(.*?)\n\n", re.DOTALL)
_OURS: Final = ["monitor", "pyais", "pynmea2", "metar"]


def targets() -> dict[str, tuple[Callable[[str], Any], list[str]]]:
    """By name: what is called with each input, and good inputs to begin with."""
    from tests import test_mutated_inputs as inputs
    from tests.composed import sealed

    def sealed_sentence(text: str) -> None:
        body = re.sub(r"[*\r\n]", "", text)
        if body[:1] in ("!", "$"):
            inputs.sentence(sealed(body.encode("ascii", "replace").decode()))

    def payload(text: str) -> None:
        """Two sentences of six-bit characters each, whatever they mean."""
        letters = "".join(chr(48 + (n := ord(c) % 64) + (8 if n >= 40 else 0)) for c in text)
        first, second = letters[:60], letters[60:120]
        inputs.sentence(sealed(f"!AIVDM,1,1,,A,{first},0"))
        if second:
            parts = (f"!AIVDM,2,1,3,A,{first},0", f"!AIVDM,2,2,3,A,{second},2")
            inputs.sentence("\r\n".join(map(sealed, parts)))

    bare = [text.rpartition("*")[0] for text in inputs.SENTENCES if text[0] in "!$"]
    return {
        "sentence": (inputs.sentence, inputs.SENTENCES),
        "sealed sentence": (sealed_sentence, bare),
        "ais payload": (payload, [text.split(",")[5] for text in inputs.SENTENCES if text.startswith("!")]),
        "signal k": (inputs.message, inputs.MESSAGES),
        "alert command": (inputs.command, [sealed("$BNACN,092240.50,XYZ,10202,1,A,C")]),
        "tide station": (inputs.station, [inputs.STATION]),
        "settings": (inputs.settings_text, [*inputs.GOOD.values(), inputs.ALERTS + inputs.CHANNELS]),
        **{
            carries: (lambda text, carries=carries: inputs.reply(carries, text), [body])  # type: ignore[misc]
            for carries, body in inputs.BODIES.items()
        },
    }


def fuzz_one(name: str, options: list[str]) -> None:
    """In a process of its own, for libFuzzer ends it."""
    import atheris

    with atheris.instrument_imports(include=_OURS):
        call, _ = targets()[name]
    atheris.Setup([sys.argv[0], *options], lambda data: call(data.decode("latin-1")))
    atheris.Fuzz()


def fuzzed(name: str, seeds: list[str], seconds: int) -> tuple[int, str]:
    """(executions, what was found or "")."""
    with tempfile.TemporaryDirectory() as folder:
        corpus = Path(folder) / "corpus"
        corpus.mkdir()
        for number, seed in enumerate(seeds):
            (corpus / str(number)).write_bytes(seed.encode("latin-1", "replace"))
        options = [f"-max_total_time={seconds}", "-max_len=4096", "-print_final_stats=1", "-timeout=20"]
        options += [f"-artifact_prefix={folder}/", str(corpus)]
        command = [sys.executable, "-m", "tests.fuzz", "--one", name, "--", *options]
        done = subprocess.run(command, capture_output=True, text=True, errors="replace", check=False)
        runs = _RUNS.search(done.stderr)
        found = ""
        if done.returncode:
            why = _WHY.search(done.stdout + done.stderr)
            inputs = [path.read_bytes() for path in Path(folder).iterdir() if path.is_file()]
            found = f"{why.group(1)[:3000] if why else (done.stdout + done.stderr)[-2000:]}\n{inputs!r}"
        return int(runs.group(1)) if runs else 0, found


def main() -> int:
    """Fuzz, tell."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--seconds", type=int, default=120, help="for each target")
    parser.add_argument("--one", help=argparse.SUPPRESS)
    parser.add_argument("rest", nargs="*", metavar="TARGET", help="all by default")
    asked = parser.parse_args()
    if asked.one:
        fuzz_one(asked.one, asked.rest)
        return 0
    every, total, faults = targets(), 0, 0
    for name in asked.rest or every:
        runs, found = fuzzed(name, every[name][1], asked.seconds)
        total, faults = total + runs, faults + bool(found)
        print(f"{name:20}{runs:12,} executions  {'FOUND:' if found else 'nothing found'}", flush=True)
        if found:
            print(found, flush=True)
    print(f"{'in all':20}{total:12,} executions, {faults} found")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
