"""What the console tests look at: an invented quarter of an hour in pictures, and what the browser tests need."""

from __future__ import annotations

import importlib
import math
import os
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from monitor.base.frames import LocalMap, from_axes, wrap360
from monitor.records.events import (
    Action,
    AlertState,
    Beat,
    OperatorAction,
    Priority,
    RawReading,
    SourceStatus,
    Started,
)
from monitor.records.picture import Mode, Picture
from monitor.run.picture import picture_of
from monitor.run.session import Session
from monitor.run.witness import Witness
from monitor.settings.load import snapshot
from tests.composed import POSITION, STATIC, vdm

STAY = "tavrin-lark-at-sedge-quay-2"
BEGINS = datetime(2026, 3, 14, 12, 20, tzinfo=UTC)
HOSTILE = "<B>A&B\"'"  # what AIS may carry as a name of a ship (six-bit ASCII)
PASSER = 200911077
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync"]  # fmt: skip


def needs(*modules: str, what: str = "", there: object = True) -> None:
    """Skip, with the reason, when something is not installed; on the build server that is a failure instead."""
    missing = [name for name in modules if not _found(name)] + ([what] if not there else [])
    if missing:
        told = f"not installed: {', '.join(missing)}"
        if os.environ.get("CI") == "true":
            pytest.fail(told, pytrace=False)
        pytest.skip(told, allow_module_level=True)


def _found(module: str) -> bool:
    try:
        importlib.import_module(module)
    except ModuleNotFoundError:
        return False
    return True


class Scene:
    """A watch fed by hand: a large ship comes up the fairway at 11 kn and passes 95 m off; wind as entered."""

    def __init__(self, config: Path) -> None:
        self.session, self.witness, self.now = Session(), Witness(), BEGINS
        self.taken = snapshot(config, STAY)
        self._give(self.taken)
        self._give(Started("test", None))
        self.settings = self.pipeline.settings
        self.enter(Action.WIND, mean_m_s=5.0, from_direction_deg=310.0)

    @property
    def pipeline(self) -> Any:
        return self.session.pipeline

    def _give(self, record: Any) -> None:
        self.witness.see(self.now, record)
        for conclusion in self.session.handle(self.now, record):
            self.witness.see(self.now, conclusion)

    def enter(self, action: Action, subject: str = "", **values: float | str | bool | None) -> None:
        """An entry of AB."""
        self._give(OperatorAction("AB", action, subject, tuple(values.items())))

    def go_on(self, seconds: int, *, ship: bool = True, name: str = "ORLEN FAIR") -> None:
        """Let time pass; the ship tells where she is every ten seconds."""
        for _ in range(seconds // 5):
            self.now += timedelta(seconds=5)
            if ship and self.now.second % 10 == 0:
                for sentence in self._ais(name):
                    self._give(RawReading("ais", sentence))
            self._give(Beat())

    def _ais(self, name: str) -> list[str]:
        berth = self.settings.berth
        off_m, speed_m_s = 170.0, 11.0 * 1852 / 3600
        along_m = -speed_m_s * (600.0 - (self.now - BEGINS).total_seconds())  # abeam ten minutes after the begin
        north_m, east_m = from_axes(along_m, off_m, berth.along)
        latitude, longitude = LocalMap(berth.position.latitude, berth.position.longitude).to_position(
            north_m, east_m
        )
        told = {"mmsi": PASSER, "lat": latitude, "lon": longitude, "speed": 11.0, "course": wrap360(berth.along)}
        sentences = vdm({**POSITION, **told, "heading": round(berth.along), "turn": 0, "second": self.now.second})
        if self.now.second == 0 or self.now - BEGINS <= timedelta(seconds=10):
            size = {"to_bow": 250, "to_stern": 44, "to_port": 20, "to_starboard": 26}
            static = {"mmsi": PASSER, "shipname": name, **size}
            sentences += vdm({**STATIC, **static}, seq_id=1)
        return sentences

    def silence(self, feed: str) -> None:
        """A feed goes down."""
        self._give(SourceStatus(feed, False, "connection refused"))

    def picture(self, mode: Mode = Mode.LIVE) -> Picture:
        """As it is now."""
        return picture_of(self.pipeline, self.now, self.witness, mode, "" if mode is Mode.LIVE else "a test")


def scenes(config: Path) -> dict[str, Picture]:
    """Pictures by what there is to see: nothing ordered, a ship coming, an alarm, a line parted, AIS dark..."""
    found: dict[str, Picture] = {}
    scene = Scene(config)
    found["begin"] = scene.picture()
    scene.go_on(40, ship=False)
    found["nothing"] = scene.picture()
    scene.go_on(200)
    found["ship"] = scene.picture()
    scene.enter(Action.WIND, mean_m_s=26.0, gust_m_s=31.0, from_direction_deg=310.0)
    scene.go_on(60)
    found["alarm"] = scene.picture()
    scene.enter(Action.LINE, "head line 1", state="parted")
    scene.enter(Action.PEOPLE, "forecastle", on_deck=True)
    scene.enter(Action.CRAFT, mmsi=200933001.0, alongside=True)
    scene.go_on(10)
    found["parted"] = scene.picture()
    scene.silence("ais")
    scene.go_on(90, ship=False)
    found["dark"] = scene.picture()
    scene.enter(Action.PHASE, "gone")
    scene.go_on(240, ship=False)
    found["gone"] = scene.picture()
    return found


def hostile(config: Path) -> Picture:
    """A ship whose name is markup, by AIS."""
    scene = Scene(config)
    scene.go_on(120, name=HOSTILE)
    return scene.picture()


def highest(picture: Picture) -> Priority:
    """Of the standing alerts."""
    return max(
        (alert.priority for alert in picture.alerts if alert.state is not AlertState.RECTIFIED),
        key=lambda priority: priority.rank,
        default=Priority.NONE,
    )


def contrast(one: str, two: str) -> float:
    """WCAG 2.2 contrast ratio of two "#rrggbb" colours (relative luminance as defined there)."""
    bright, dark = sorted((_luminance(one), _luminance(two)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else math.pow((part + 0.055) / 1.055, 2.4) for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
