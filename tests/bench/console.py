"""`python -m tests.bench.console [SECONDS]`: what the console costs, with one page open in Chromium.

The watch of the browser tests runs in its own process, at a busy berth (see `harbour`); its CPU time and memory
are read from /proc (Linux), first with no page open, then with one. Ends with exit code 1 when the whole, watch
and page together, is above MOST_SHARE of a core or MOST_MB.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from pathlib import Path
from typing import Final, NamedTuple

from playwright.sync_api import sync_playwright

from monitor.settings.load import load_stay
from tests.bench.harbour import AT_REST, SMALL, UNDER_WAY, Harbour
from tests.console_scene import CHROMIUM, FLAGS, STAY
from tests.test_console_in_browser import Watch

MOST_SHARE: Final = 0.03
MOST_MB: Final = 300.0
SETTLE_S: Final = 480.0  # until every ship has been heard and every line's worst places are known (one each 30 s)


class Cost(NamedTuple):
    """Share of one core without and with a page, and the process's memory with it."""

    watch_alone: float
    with_page: float
    memory_mb: float


def cost(watch: Watch, seconds: float) -> Cost:
    """Measure a running watch for `seconds` each way."""
    assert watch.process is not None
    pid = watch.process.pid

    def share() -> float:
        begun_s, begun_cpu_s = time.monotonic(), _cpu_s(pid)
        time.sleep(seconds)
        return (_cpu_s(pid) - begun_cpu_s) / (time.monotonic() - begun_s)

    alone = share()
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        page = chromium.new_page(viewport={"width": 1920, "height": 1080})
        page.goto(watch.address)
        page.wait_for_selector("article.alert", timeout=60_000)
        page.wait_for_timeout(3000)
        opened = share()
        chromium.close()
    return Cost(alone, opened, _memory_mb(pid))


def _cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _memory_mb(pid: int) -> float:
    rows = Path(f"/proc/{pid}/status").read_text().splitlines()
    return next(int(row.split()[1]) / 1024 for row in rows if row.startswith("VmRSS"))


def main() -> int:
    """Run, tell, judge."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    with tempfile.TemporaryDirectory() as folder:
        watch = Watch(Path(folder))
        settings = load_stay(watch.config, STAY)
        ports = {feed.name: int(feed.to.rpartition(":")[2]) for feed in settings.stay.feeds if feed.over != "http"}
        harbour = Harbour(settings, ports["ais"], ports["anemometer"])
        watch.start()
        try:
            time.sleep(SETTLE_S)
            found = cost(watch, seconds)
        finally:
            watch.stop()
            harbour.close()
    print(f"{harbour.sent:,} sentences of {UNDER_WAY + SMALL + AT_REST} ships heard")
    print(f"watch alone {found.watch_alone:.2%} of a core, with one page {found.with_page:.2%}")
    print(f"memory {found.memory_mb:.0f} MB")
    return int(found.with_page > MOST_SHARE or found.memory_mb > MOST_MB)


if __name__ == "__main__":
    sys.exit(main())
