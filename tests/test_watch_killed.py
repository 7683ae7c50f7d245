"""The whole watch as a process of its own, killed with SIGKILL at random instants while its feed speaks.

Afterwards nothing that came more than a second before a kill is lost, the journal is whole, and its replay
concludes what was concluded live, over all the lives. BIGHTWATCH_KILLS=30 for the long form (some minutes).
"""

from __future__ import annotations

import os
import random
import signal
import socket
import subprocess
import sys
import threading
import time
from contextlib import suppress
from pathlib import Path

import pytest

from monitor.records.events import RawReading, Started, Stopped
from monitor.run.journal import JournalReader
from tests.composed import POSITION, vdm
from tests.conftest import ROOT
from tests.watching import STAY, free_port, replayed, settings_folder

KILLS = int(os.environ.get("BIGHTWATCH_KILLS", "2"))
ON_THE_WAY_S = 2.0  # from our socket to the stamp, on a busy machine: the second is counted from the stamp
PATIENCE_S = 240.0


class Feed(threading.Thread):
    """A receiver on a socket: fifty different sentences a second to who calls, and when each was sent."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self._server = socket.create_server(("127.0.0.1", 0))
        self._server.settimeout(0.05)
        self.port = self._server.getsockname()[1]
        self.sent: list[tuple[float, str]] = []
        self.calls: list[int] = []  # what had been sent before each call: the rest of it went to a dead caller
        self.stop = threading.Event()

    def run(self) -> None:
        number, caller = 0, None
        while not self.stop.is_set():
            if caller is None:
                with suppress(TimeoutError):
                    caller, _ = self._server.accept()
                    self.calls.append(len(self.sent))
                continue
            number += 1
            place = {
                "mmsi": 200911100 + number % 400,
                "lat": -45.02 + number % 997 * 1e-5,
                "lon": -30.0 + number * 1e-6,
            }
            line = vdm({**POSITION, **place, "second": int(time.time()) % 60})[0]
            try:
                caller.sendall(f"{line}\r\n".encode())
                self.sent.append((time.monotonic(), line))
            except OSError:
                caller.close()
                caller = None
            time.sleep(0.02)
        self._server.close()


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL")
def test_killed_again_and_again(config: Path, tmp_path: Path) -> None:
    dice, feed = random.Random(KILLS), Feed()
    feed.start()
    ports = {"ais": f"127.0.0.1:{feed.port}", "anemometer": f"127.0.0.1:{free_port(socket.SOCK_DGRAM)}"}
    ports["forecast"] = f"http://127.0.0.1:{free_port()}/compact"
    settings, data = settings_folder(config, tmp_path / "config", ports), tmp_path / "data"
    command = [sys.executable, "-m", "monitor", "watch", STAY, "--config", str(settings), "--data", str(data)]
    must: list[str] = []
    lived = 0  # lives that had the time to leave a trace
    for life in range(KILLS):
        calls = len(feed.calls)
        with (tmp_path / "screen").open("ab") as screen:
            watch = subprocess.Popen(
                command, stdin=subprocess.PIPE, stdout=screen, stderr=subprocess.STDOUT, cwd=ROOT
            )
        try:
            patience_s = time.monotonic() + PATIENCE_S
            while len(feed.calls) == calls:
                assert watch.poll() is None and time.monotonic() < patience_s
                time.sleep(0.02)
            begun_s = time.monotonic()
            time.sleep(dice.uniform(0.0, 7.0) if life else 7.0)  # the first long enough to have what must be kept
        finally:
            killed_s = time.monotonic()
            watch.send_signal(signal.SIGKILL)
            watch.wait()
        lately = feed.sent[feed.calls[calls] :]
        lived += killed_s - begun_s > 1.0 + ON_THE_WAY_S
        must += [line for at_s, line in lately if at_s <= killed_s - 1.0 - ON_THE_WAY_S]
    feed.stop.set()
    journal = data / f"{STAY}.journal"
    with JournalReader(journal) as reader:
        assert reader.faults() == []
        entries = list(reader.read(direction="in", kinds=("RawReading", "Started", "Stopped")))
    kinds = [type(entry.record) for entry in entries]
    kept = [entry.record.text for entry in entries if isinstance(entry.record, RawReading)]
    print(f"{KILLS} kills, {len(feed.sent)} sentences sent, {len(kept)} kept, {len(must)} had to be")
    assert lived <= kinds.count(Started) <= KILLS and Stopped not in kinds
    assert must and set(must) <= set(kept)
    assert len(kept) == len(set(kept))
    _, comparison = replayed(journal)
    assert comparison.differences == []
