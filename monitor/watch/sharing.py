"""What each line carries, as a band, under low, middle and high loads: brakes that render and friction included.

Lines and fenders share the loads out at rest. Where a tension reaches the least at which its brake may render, the
loads are shared out anew with brakes at the low, the middle and the high end of their bands: the line then stops
near its setting and runs out, and the others take over. Friction at the fenders can hold her a little ahead or
astern of where lines alone would: it widens the band and leaves the middle.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.friction import held_by_friction
from monitor.physics.loads import Loads
from monitor.physics.mooring import Mooring, equilibrium, on_brakes, run_out_m
from monitor.records.estimates import Band, LineLoad, WaterEstimate
from monitor.watch.moored import Holding
from monitor.watch.slips import MAY_HAVE
from monitor.watch.stay import StayState

# Friction that 95 of 100 do not pass either way: anywhere between its full value ahead and astern, coefficient
# anywhere from 0 to 0.3 (`draws.FENDER_FRICTION`): P(|xy| < 0.6) = 0.9 for x, y even from 0 to 1, and 0.6 × 0.3.
USUAL_FRICTION: Final = 0.18
FARTHEST_M: Final = 30.0  # of line: told as this when brakes alone do not hold her at all
NO_BRAKE_HOLDS: Final = "brakes would render until nothing holds her: loads are told as if they held"


@dataclass(frozen=True, slots=True)
class Shared:
    """c cases of three loads each: low, middle, high."""

    holding: Holding
    tension_n: Floats  # (3, c, m)
    run_out_m: Floats  # (3, c, m), rising: line that ran out over brakes
    displacement: Floats  # (c, 3) under the middle load
    why: str  # "" or why there are no numbers
    reasons: tuple[str, ...] = ()

    def lines(self, case: int) -> tuple[LineLoad, ...]:
        """Every line in one of the cases, heaviest first; none when there are no numbers."""
        return () if self.why else self._lines(self.tension_n[:, case], self.run_out_m[:, case])

    def peaks(self) -> tuple[LineLoad, ...]:
        """Every line at its greatest over all cases."""
        return () if self.why else self._lines(self.tension_n.max(axis=1), self.run_out_m.max(axis=1))

    def _lines(self, tension_n: Floats, run_out_m: Floats) -> tuple[LineLoad, ...]:
        names = self.holding.moored.names
        runs_out = {
            names[i]: Band(*map(float, run_out_m[:, j]))
            for j, i in enumerate(self.holding.kept)
            if run_out_m[2, j] > 0.0
        }
        low_n, mid_n, high_n = tension_n
        return self.holding.line_loads(low_n, mid_n, high_n, runs_out)


def shared(holding: Holding, loads: Loads, stay: StayState, water: WaterEstimate, *, rub: bool = True) -> Shared:
    """Lines under loads (3·c,): all low ones, then all middle ones, then all high ones.

    `rub`: with friction. A pass goes without: while a load grows friction can only spare the lines, and the odds
    have it in time.
    """
    mooring, m = holding.risen(stay, water), len(holding.kept)
    load_n = np.stack([loads.surge_n, loads.sway_n, loads.yaw_n_m], axis=1).reshape(3, -1, 3)
    rest = equilibrium(mooring, *load_n.reshape(-1, 3).T)
    place = rest.displacement.reshape(3, -1, 3)
    if not rest.converged.all():
        nothing = np.full((3, load_n.shape[1], m), np.nan)
        return Shared(holding, nothing, nothing, place[1], next(text for text in rest.why if text))
    elastic_n = rest.tension_n.reshape(3, -1, m)
    render_n = renders_n(holding)
    run_out_m, hard = np.zeros_like(elastic_n), (elastic_n > render_n[0]).any(axis=(0, 2))
    tension_n, held = elastic_n.copy(), True
    if hard.any():
        tension_n[:, hard], run_out_m[:, hard], held = _render(
            mooring, load_n[:, hard], place[:, hard], render_n, elastic_n[:, hard]
        )
    if stay.slips:
        run_out_m = np.where(run_out_m > 0.0, run_out_m + holding.slipped_m(stay)[1], 0.0)
        other_n = np.stack([_longer(holding.risen(stay, water, end), load_n[1], place[1]) for end in (0, 2)])
        held &= bool(np.isfinite(other_n).all())
        by_n = np.nan_to_num(other_n - elastic_n[1])
        tension_n = _widened(
            tension_n, np.maximum(-by_n.min(axis=0), 0.0), np.maximum(by_n.max(axis=0), 0.0), render_n
        )
    pressed = rest.fender_n.reshape(3, len(hard), -1)[1].sum(axis=1) > 0.0
    if rub and pressed.any():
        down_n, up_n = _rub(mooring, load_n[1, pressed], place[1, pressed], elastic_n[1, pressed])
        tension_n[:, pressed] = _widened(tension_n[:, pressed], down_n, up_n, render_n)
    reasons = () if held else (NO_BRAKE_HOLDS,)
    if stay.slips:
        reasons = (f"{', '.join(slip.line for slip in stay.slips)} {MAY_HAVE}", *reasons)
    return Shared(holding, tension_n, run_out_m, place[1], "", reasons)


def _widened(tension_n: Floats, down_n: Floats, up_n: Floats, render_n: Floats) -> Floats:
    """Low, middle and high tensions (3, c, m) with an error of their own (c, m) put in, independent of the others;
    no line beyond the high end of its brake."""
    low_n, mid_n, high_n = np.sort(tension_n, axis=0)
    wide_n = np.minimum(mid_n + np.hypot(high_n - mid_n, up_n), np.maximum(render_n[2], high_n))
    return np.stack([np.maximum(mid_n - np.hypot(mid_n - low_n, down_n), 0.0), mid_n, wide_n])


def _longer(mooring: Mooring, load_n: Floats, place: Floats) -> Floats:
    """Tensions (c, m) on lines of other lengths; NaN where she is not held."""
    return equilibrium(mooring, *load_n.T, start=place).tension_n


def renders_n(holding: Holding) -> Floats:
    """(3, m) tension at which each brake renders: low, middle, high; inf on bitts or not known."""
    never = Band(np.inf, np.inf, np.inf)
    told = [holding.moored.renders_n[i] or never for i in holding.kept]
    return np.array([[band.low for band in told], [band.mid for band in told], [band.high for band in told]])


def _rub(mooring: Mooring, load_n: Floats, place: Floats, tension_n: Floats) -> tuple[Floats, Floats]:
    """How much less and more each line (c, m) may carry than `tension_n` by friction, under c loads (c, 3)."""
    c = len(load_n)
    way = np.repeat([USUAL_FRICTION, -USUAL_FRICTION], c)
    surge_n, sway_n, yaw_n_m = np.tile(load_n, (2, 1)).T
    rest = held_by_friction(mooring, surge_n, sway_n, yaw_n_m, way, start=np.tile(place, (2, 1)))
    by_n = np.where(rest.converged[:, None], rest.tension_n - np.tile(tension_n, (2, 1)), 0.0).reshape(2, c, -1)
    return np.maximum(-by_n.min(axis=0), 0.0), np.maximum(by_n.max(axis=0), 0.0)


def _render(
    mooring: Mooring, load_n: Floats, place: Floats, render_n: Floats, elastic_n: Floats
) -> tuple[Floats, Floats, bool]:
    """(tension (3, c, m), line run out (3, c, m), whether something holds her in every case), brakes rendering.

    Load and brakes are not both at their ends at once but for a line's own greatest tension, which its brake caps.
    """
    pull_n, ran_m, held = {}, {}, True
    for end, load in ((1, 0), (0, 1), (1, 1), (1, 2), (2, 2)):
        rest = equilibrium(on_brakes(mooring, render_n[end]), *load_n[load].T, start=place[load])
        stays, stretched_n = rest.converged[:, None], elastic_n[load]
        pull_n[end, load] = np.where(stays, rest.tension_n, stretched_n)
        out_m = run_out_m(mooring, render_n[end], np.nan_to_num(rest.displacement))
        ran_m[end, load] = np.where(stays, out_m, np.where(stretched_n > render_n[end], FARTHEST_M, 0.0))
        held &= bool(stays.all())
    high_n = np.maximum.reduce([pull_n[2, 2], pull_n[1, 2], pull_n[0, 1]])
    most_m = np.maximum(ran_m[1, 2], ran_m[0, 1])
    ran = np.sort(np.stack([np.minimum(ran_m[1, 0], ran_m[2, 2]), ran_m[1, 1], most_m]), axis=0)
    return np.stack([np.minimum(pull_n[1, 0], pull_n[0, 1]), pull_n[1, 1], high_n]), ran, held
