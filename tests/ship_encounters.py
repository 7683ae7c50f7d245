"""Encounters of ship shapes, and how their converged loads are made: see `regenerate_passing`."""

from __future__ import annotations

import math
from dataclasses import dataclass
from unittest.mock import patch

import numpy as np

from monitor.physics.hulls import Hull, hull_at_draught
from monitor.physics.passing import Basin, Track, force, meeting, passing_load, solve
from monitor.physics.passing.force import Line, curves
from monitor.physics.passing.panels import hull_panels
from monitor.physics.passing.solve import afloat
from monitor.records.estimates import Validity
from tests import every_panel
from tests.conftest import ROOT

CONVERGED = ROOT / "tests" / "converged_passing.json"
COARSER, FINER = (30, 16), (44, 24)
ORDER = 1.5  # of convergence, as measured on ship shapes (sharp bilges and stems)
PANEL_BY_PANEL = 3.5  # half breadths: how far the fine meshes do without points
STAGGERS = 61
NO_WAVES_M_S = 0.01  # so slow that the surface is as a rigid lid, which is what the meshes have


def ship(length: float, beam: float, draught: float, block: float) -> Hull:
    return hull_at_draught(length, length, beam, draught, draught, block)


TANKER = ship(250.0, 44.0, 15.0, 0.83)
BOX_SHIP = ship(300.0, 45.0, 14.0, 0.66)
CARGO = ship(150.0, 24.0, 9.0, 0.75)
FERRY = ship(200.0, 30.0, 8.5, 0.60)
BARGE = ship(110.0, 11.4, 3.5, 0.88)


@dataclass(frozen=True)
class Case:
    """`aside`: between centre lines abreast of the moored midships; `depth` over the deeper draught (None: deep);
    `gap`: of the quay from her side, to port (None: no quay)."""

    name: str
    moored: Hull
    passer: Hull
    aside: float
    course: float
    depth: float | None
    gap: float | None

    @property
    def depth_m(self) -> float | None:
        return None if self.depth is None else self.depth * max(self.moored.draught_m, self.passer.draught_m)

    @property
    def quay_m(self) -> float | None:
        return None if self.gap is None else -0.5 * self.moored.beam_m - self.gap

    def track(self) -> Track:
        """As far as the ships stay a third of a beam apart and she as far from the quay."""
        run = np.linspace(-0.75, 0.75, STAGGERS) * (self.moored.loa_m + self.passer.loa_m)
        c, s = math.cos(math.radians(self.course)), math.sin(math.radians(self.course))
        x, y = run * c, self.aside + run * s
        reach = 0.5 * (self.passer.loa_m * abs(s) + self.passer.beam_m * abs(c))
        clear = 0.33 * min(self.moored.beam_m, self.passer.beam_m)
        free = y - reach > 0.5 * self.moored.beam_m + clear
        return Track(x[free], y[free], np.full(free.sum(), self.course), np.full(free.sum(), NO_WAVES_M_S))

    def basin(self) -> Basin:
        return Basin(self.depth_m or 1e5, self.quay_m, 1.0)

    def solved(self, mesh: tuple[int, int], every: bool = False) -> np.ndarray:
        """(n, 3) over ρU² along the track: one exact line, by points or every panel with every other."""
        track, turn = self.track(), math.cos(math.radians(self.course)) < 0.0  # the other way: seen in a mirror
        course = 180.0 - self.course if turn else self.course
        c, s = math.cos(math.radians(course)), math.sin(math.radians(course))
        x = -track.x_m if turn else track.x_m
        mean = 0.5 * (self.moored.loa_m + self.passer.loa_m)
        line = Line(course, self.aside * c, 2.0 * mean, 0.8 * mean, 81)
        clear = 0.2 * min(self.moored.beam_m, self.passer.beam_m)
        hulls = (hull_panels(hull, *mesh) for hull in (self.moored, self.passer))
        moored, passer = afloat(next(hulls), self.depth_m, self.quay_m), afloat(next(hulls), self.depth_m)
        along = x * c + track.y_m * s
        with (
            patch.object(force, "impulses", every_panel.impulses if every else solve.impulses),
            patch.object(solve, "_AFAR", PANEL_BY_PANEL),
            patch.object(meeting, "_FAR", PANEL_BY_PANEL),
        ):
            found = curves(moored, passer, line, self.depth_m, self.quay_m, clear)
        for curve in found:
            if curve.covers(along).all():
                return curve.at(along) * [-1.0 if turn else 1.0, 1.0, -1.0 if turn else 1.0]
        raise ValueError("the track lies on no single stretch")

    def converged(self) -> np.ndarray:
        """Two fine meshes carried on to no panel size at all."""
        coarser, finer = self.solved(COARSER), self.solved(FINER)
        return finer + (finer - coarser) / ((FINER[1] / COARSER[1]) ** ORDER - 1.0)


def errors(case: Case, exact: np.ndarray) -> tuple[float, float]:
    """Worst error of the peaks (each way, where above a quarter of the greater) and of the curves, over peak."""
    load = passing_load(case.moored, case.passer, case.track(), case.basin())
    assert load.validity is not Validity.UNKNOWN
    ours = np.stack([load.surge_n, load.sway_n, load.yaw_n_m], axis=-1) / NO_WAVES_M_S**2
    top = np.abs(exact).max(axis=0)
    peaks = [
        abs(mine.max() / true.max() - 1.0)
        for way in (1.0, -1.0)
        for mine, true, most in zip((way * ours).T, (way * exact).T, top, strict=True)
        if true.max() > 0.25 * most
    ]
    return max(peaks), float((np.abs(ours - exact).max(axis=0) / top).max())


CASES = [
    Case("tankers, 1.2 draughts of water", TANKER, TANKER, 100.0, 0.0, 1.2, None),
    Case("tankers, 1.1, half a beam between", TANKER, TANKER, 66.0, 0.0, 1.1, None),
    Case("tankers, deep, half a beam between", TANKER, TANKER, 66.0, 0.0, None, None),
    Case("tankers at a quay, 1.2", TANKER, TANKER, 100.0, 0.0, 1.2, 1.2),
    Case("tankers at a quay, 1.1, half a beam between, opposite", TANKER, TANKER, 66.0, 180.0, 1.1, 1.0),
    Case("box ship and cargo ship at a quay, opposite", BOX_SHIP, CARGO, 80.0, 180.0, 1.3, 1.5),
    Case("cargo ship at a quay, box ship passes", CARGO, BOX_SHIP, 60.0, 0.0, 1.15, 1.2),
    Case("ferries, twice the draught", FERRY, FERRY, 80.0, 0.0, 2.0, None),
    Case("ferry at a quay, tanker passes, opposite", FERRY, TANKER, 90.0, 180.0, 1.2, 1.0),
    Case("tanker at a quay, barge passes close", TANKER, BARGE, 60.0, 0.0, 1.2, 1.0),
    Case("ferry slants past a tanker at a quay, 15 degrees", TANKER, FERRY, 110.0, 15.0, 1.2, 1.0),
    Case("tanker slants in, 20 degrees, no quay", TANKER, TANKER, 130.0, -20.0, 1.35, None),
    Case("cargo ships at a quay, 30 degrees, opposite", CARGO, CARGO, 80.0, 150.0, 1.3, 1.2),
    Case("box ship past a tanker, five times the draught", TANKER, BOX_SHIP, 90.0, 0.0, 5.0, None),
    Case("tankers at a quay, three times the draught", TANKER, TANKER, 90.0, 0.0, 3.0, 1.5),
    Case("tankers at a quay, far off", TANKER, TANKER, 300.0, 0.0, 1.2, 1.0),
    Case("tanker past a ferry, 8.5 degrees, not on the net of courses", FERRY, TANKER, 120.0, 8.5, 1.5, 1.5),
    Case("tanker at a quay, box ship, odd numbers", TANKER, BOX_SHIP, 113.7, 2.1, 1.234, 1.1),
]
