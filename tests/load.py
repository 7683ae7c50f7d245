"""`python -m tests.load [--seconds 600] [--rate 1000]`: a thousand sentences a second, for ten real minutes.

The real live watch of the shipped stay, its journal on the disk, its feeds served from another process on
loopback: AIS over TCP (900 ships lie still and report every second, 8 sail past, one of ten sentences is
damaged), wind over UDP as usual. Measured from outside the pipeline: how late each beat is, how many inputs wait,
the CPU time of the watch, and that every sentence sent is in the journal. Ends with exit code 1 when a beat came
more than MOST_LATE_S late, the queue grew, or a sentence is missing.
"""

from __future__ import annotations

import argparse
import math
import random
import socket
import subprocess
import sys
import tempfile
import threading
import time
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

from monitor.base.frames import LocalMap
from monitor.run import live
from monitor.run.journal import JournalReader, open_journal
from monitor.settings.load import from_snapshot, snapshot
from tests.composed import POSITION, sealed, vdm
from tests.conftest import ROOT
from tests.watching import STAY, free_port, settings_folder

MOST_LATE_S: Final = 1.0
MOST_WAITING: Final = 5_000  # inputs: five seconds' worth
STILL: Final = 900
PIECES: Final = 20  # a second's sentences come in so many pieces
PLACE: Final = LocalMap(-45.0, -30.0)


# --- the feed ----------------------------------------------------------------------------------------------------


def _still(dice: random.Random, number: int) -> list[str]:
    """Her sentence for each second of the minute, somewhere 1 to 20 km away."""
    far_m, bearing = dice.uniform(1e3, 2e4), dice.uniform(0.0, 2.0 * math.pi)
    latitude_deg, longitude_deg = PLACE.to_position(far_m * math.cos(bearing), far_m * math.sin(bearing))
    lies = {
        "mmsi": 200912000 + number,
        "lat": latitude_deg,
        "lon": longitude_deg,
        "speed": 0.0,
        "status": 1,
        "turn": 0,
    }
    return [vdm({**POSITION, **lies, "second": second})[0] for second in range(60)]


def _sails(number: int, seconds: float) -> str:
    """Up and down the river, 150 to 400 m off the berth, 7 kn."""
    run_m = (3.6 * seconds + 400.0 * number) % 24_000.0 - 12_000.0
    off_m = 150.0 + 4.0 * number
    north_m, east_m = (run_m * math.cos(math.radians(40.0)), run_m * math.sin(math.radians(40.0)))
    latitude_deg, longitude_deg = PLACE.to_position(north_m - 0.64 * off_m, east_m + 0.77 * off_m)
    moving = {"mmsi": 200911000 + number, "lat": latitude_deg, "lon": longitude_deg, "speed": 7.0, "course": 40.0}
    return vdm({**POSITION, **moving, "heading": 40, "turn": 0, "second": int(time.time()) % 60})[0]


def send(ais_port: int, wind_port: int, rate: int, sailing: int, seconds: float) -> None:
    """Serve one caller; prints how many sentences were sent."""
    dice = random.Random(1)
    still = [_still(dice, number) for number in range(STILL)]
    wind = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    with socket.create_server(("127.0.0.1", ais_port)) as server:
        print("ready", flush=True)
        caller, _ = server.accept()
        begun_s, sent, piece = time.perf_counter(), 0, 0
        each = max(1, rate // PIECES)
        while piece < seconds * PIECES:
            time.sleep(max(0.0, begun_s + piece / PIECES - time.perf_counter()))
            second = int(time.time()) % 60
            lines = [still[(sent + k) % STILL][second] for k in range(each)]
            if piece % 2 == 0:
                lines[0] = _sails(piece // 2 % sailing, piece / PIECES)
            for k in range(1, each, 10):
                lines[k] = lines[k][: dice.randrange(1, len(lines[k]))]
            if piece % PIECES == 0:
                angle, speed = dice.gauss(90, 8) % 360, max(0.0, dice.gauss(8.0, 1.0))
                wind.sendto(
                    (sealed(f"$WIMWV,{angle:.1f},R,{speed:.1f},M,A") + "\r\n").encode(), ("127.0.0.1", wind_port)
                )
            caller.sendall("".join(line + "\r\n" for line in lines).encode())
            sent, piece = sent + each, piece + 1
        time.sleep(5.0)
        print(sent, flush=True)


# --- the watch ---------------------------------------------------------------------------------------------------


def watch(rate: int, sailing: int, seconds: float) -> int:
    """Run, tell, judge."""
    ports = {"ais": free_port(), "anemometer": free_port(socket.SOCK_DGRAM)}
    sender = subprocess.Popen(
        [sys.executable, "-m", "tests.load", "--send", *map(str, (*ports.values(), rate, sailing, seconds))],
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    assert sender.stdout is not None and sender.stdout.readline() == "ready\n"
    beats: list[tuple[float, int]] = []
    with tempfile.TemporaryDirectory() as folder:
        address = {name: f"127.0.0.1:{port}" for name, port in ports.items()}
        taken = snapshot(settings_folder(ROOT / "config", Path(folder) / "config", address), STAY)
        journal = Path(folder) / "watch.db"
        store = open_journal(journal)

        def beat(_: Any, now: datetime) -> None:
            beats.append((time.perf_counter(), running._inputs.qsize()))
            if len(beats) % 60 == 0:
                late_s, waiting = _late_s(beats[-61:]), max(waits for _, waits in beats[-60:])
                cpu = (time.process_time() - cpu_s) / (time.perf_counter() - begun_s)
                print(
                    f"{now:%H:%M:%S}  latest beat {late_s:.2f} s late  most waiting {waiting}  CPU {cpu:.0%}",
                    flush=True,
                )

        running = live.Live(from_snapshot(taken), taken, store, (), [beat])
        stop = threading.Event()
        print(
            f"{'':>10}from {datetime.now(UTC):%H:%M:%S} UTC: {rate} sentences a second for {seconds:.0f} s",
            flush=True,
        )
        begun_s, cpu_s = time.perf_counter(), time.process_time()
        with store:
            thread = threading.Thread(target=running.run, args=(stop,))
            thread.start()
            told = sender.stdout.readline()
            stop.set()
            thread.join(60.0)
        took_s = time.perf_counter() - begun_s
        cpu = (time.process_time() - cpu_s) / took_s
        sender.wait(20.0)
        with JournalReader(journal) as reader:
            kept = sum('"ais"' in entry.body for entry in reader.read(direction="in", kinds=("RawReading",)))
    sent, waiting = int(told), max(waits for _, waits in beats)
    late = sorted(_late(beats))
    p99_s = late[int(0.99 * (len(late) - 1))]
    print(f"{sent:,} sentences sent, {kept:,} in the journal; {len(beats)} beats in {took_s:.0f} s")
    print(f"beats late: median {late[len(late) // 2]:.3f} s, 99 % {p99_s:.3f} s, most {late[-1]:.3f} s")
    print(f"inputs waiting: at most {waiting}; CPU of the watch: {cpu:.0%} of one core")
    faults = [
        *(["a sentence is missing"] if kept < sent else []),
        *([f"a beat came {late[-1]:.2f} s late"] if late[-1] > MOST_LATE_S else []),
        *([f"{waiting} inputs waited"] if waiting > MOST_WAITING else []),
    ]
    print("\n".join(f"FAILED: {fault}" for fault in faults) or "The beat was kept.")
    return 1 if faults else 0


def _late(beats: list[tuple[float, int]]) -> list[float]:
    """Seconds by which each beat came later than a second after the one before."""
    return [max(0.0, then - before - 1.0) for (before, _), (then, _) in pairwise(beats)]


def _late_s(beats: list[tuple[float, int]]) -> float:
    return max(_late(beats), default=0.0)


def main() -> int:
    """Either half of it."""
    parser = argparse.ArgumentParser(prog="python -m tests.load", description=__doc__)
    parser.add_argument("--seconds", type=float, default=600.0)
    parser.add_argument("--rate", type=int, default=1000)
    parser.add_argument(
        "--sailing", type=int, default=8, help="ships that pass at once; 60 are more than a PC can do"
    )
    parser.add_argument("--send", nargs=5, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.send:
        ais_port, wind_port, rate, sailing, seconds = asked.send
        send(int(ais_port), int(wind_port), int(rate), int(sailing), float(seconds))
        return 0
    return watch(asked.rate, asked.sailing, asked.seconds)


if __name__ == "__main__":
    sys.exit(main())
