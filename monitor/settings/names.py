"""Do names stand for something, and for one thing only? Looked at on the pages, so that a fault elsewhere in a
file does not hide the wrong names in it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from monitor.settings.faults import Fault, listed
from monitor.settings.page import Page
from monitor.settings.schema import ENTERED

_WITHOUT_WIND: Final = ("decoded ais csv", "co-ops water level")  # a line that carries AIS may carry wind, too


def ship_names(ship: Page) -> Iterator[Fault]:
    """Each line's fairlead and winch exist; nothing is named twice."""
    for table in ("fairleads", "winches", "lines"):
        yield from _twice(ship, table, "name")
    yield from _known(ship, "lines", "fairlead", ship.names("fairleads"), "no fairlead of this name in the file")
    yield from _known(ship, "lines", "winch", ship.names("winches"), "no winch or bitts of this name in the file")


def berth_names(berth: Page) -> Iterator[Fault]:
    """Nothing is named twice."""
    for table in ("bollards", "fenders"):
        yield from _twice(berth, table, "name")


def stay_names(stay: Page, ship: Page | None, berth: Page | None) -> Iterator[Fault]:
    """Each line led is the ship's and is led once, each bollard is the berth's, each wind comes from a feed."""
    yield from _twice(stay, "lines", "line")
    yield from _twice(stay, "feeds", "name")
    if ship is not None:
        yield from _known(stay, "lines", "line", ship.names("lines"), f"no line of this name in {ship.file}")
    if berth is not None:
        yield from _known(
            stay, "lines", "bollard", berth.names("bollards"), f"no bollard of this name in {berth.file}"
        )
    for i, feed in stay.entries("feeds"):
        if feed.get("name") == ENTERED:
            yield stay.fault(
                ("feeds", i, "name"), f'"{ENTERED}" stands for the wind typed in: name the feed otherwise'
            )
    yield from _twice(stay, "lines", "sensor")
    yield from _winds(stay)


def _winds(stay: Page) -> Iterator[Fault]:
    wind = stay.tree.get("wind")
    order = wind.get("order") if isinstance(wind, dict) else None
    if not isinstance(order, list):
        return
    carries = {feed["name"]: feed.get("carries") for _, feed in stay.entries("feeds") if _named(feed, "name")}
    givers = [*(name for name, what in carries.items() if what not in _WITHOUT_WIND and name != ENTERED), ENTERED]
    for i, name in enumerate(order):
        path = ("wind", "order", i)
        if name in order[:i]:
            yield stay.fault(path, "stands here twice")
        elif isinstance(name, str) and carries.get(name) in _WITHOUT_WIND:
            problem = "a table of ships" if "ais" in str(carries[name]) else "a feed of water levels"
            yield stay.fault(path, f"{problem} carries no wind", listed(givers))
        elif isinstance(name, str) and name not in givers:
            yield stay.fault(path, "no feed of this name", listed(givers), givers)


def _named(row: dict[str, object], key: str) -> bool:
    return isinstance(row.get(key), str)


def _twice(page: Page, table: str, key: str) -> Iterator[Fault]:
    first: dict[object, int] = {}
    for i, row in page.entries(table):
        if _named(row, key) and first.setdefault(row[key], i) != i:
            yield page.fault((table, i, key), f"the same as in {table}[{first[row[key]] + 1}]")


def _known(page: Page, table: str, key: str, names: Sequence[str], problem: str) -> Iterator[Fault]:
    for i, row in page.entries(table):
        if _named(row, key) and row[key] not in names:
            yield page.fault((table, i, key), problem, listed(names), names)
