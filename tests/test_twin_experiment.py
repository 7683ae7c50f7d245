"""Are the stated odds true? A twin experiment: truths that the program does not know, and what it said of them.

Each truth has its own ship, lines, brakes, wind and passing ship. It differs in kind from what the program takes:
the force of the passing ship is read off a table of 3-D flow past spheroids at a quay (another shape along the
track and another law of distance), a tenth larger at its peak than the panels', and goes with speed to the power
2.25; lines follow other load–elongation curves; gusts are of another record and a tenth stronger; and one line was
entered in the settings with half its pretension. The program sees speed, distance and wind with errors, and never
the rest.

The spreads were looked at with seeds 11 to 13; what runs here was not among them. The true exponent works from a
lower speed than the passes have, and the program knows only that it may.

Scores: Brier (1950) by `properscoring` where it is installed; its parts after Murphy (1973).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Final

import numpy as np
import pytest
from numpy.typing import NDArray

from monitor.base.frames import Floats
from monitor.physics.gusts import turbulence_m_s, wind_series
from monitor.physics.hulls import Hull, usual_midship_coefficient
from monitor.physics.inertia import virtual_mass
from monitor.physics.lines import DEFAULTS
from monitor.physics.mooring import Mooring, equilibrium, heights_changed, moor
from monitor.physics.passing import Track, passing_load
from monitor.physics.response import Members, Response, critical_damping, respond
from monitor.records.estimates import Band, Encounter, EventOdds, PassingKind, Validity, WindEstimate
from monitor.settings.load import load_stay
from monitor.watch import stay
from monitor.watch.draws import between
from monitor.watch.ensemble import Case
from monitor.watch.estimator import Estimator
from monitor.watch.odds import event_odds, passing_event
from monitor.watch.solved import SLOWER, Solutions, speed_powers
from tests.conftest import ROOT

NOW: Final = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
SEED: Final = 15
WORKING_N: Final = 320e3  # half of 640 kN
GROUPS, EACH = 6, 10  # moorings of its own kind, and truths in each
MEMBERS: Final = 100
FROM_DEG: Final = 300.0
TOLD_M_S, TOLD_M, TOLD_WIND = 0.05, 10.0, 0.06  # standard deviation of what the program is told of a truth
WRONG: Final = "aft spring 1"  # its pretension is twice what the settings say
RUN_M: Final = np.linspace(-360.0, 360.0, 41)
REFERENCE_M_S: Final = 5.0
STEP_S, STEPS = 0.5, 800
# Surge, sway and yaw coefficients against stagger over length (the other half: surge and yaw odd, sway even), two
# equal spheroids L/B 7, deep water, a quay 0.09 L behind the moored one, at 0.25 and 0.4 L between centre lines.
# Worked out independently by fundamental solutions, residual 0.2 % of the speed, which our panels never saw.
STAGGER: Final = np.array([-1.5, -1.0, -0.75, -0.5, -0.375, -0.25, -0.125, 0.0])
TABLE_APART: Final = (0.25, 0.4)
TABLE: Final = np.array([
    [(0, 0, 0), (0.55310, -0.77750, 0.22846), (-0.46181, -2.26294, 0.32159), (-2.23165, -1.29958, -0.52151),
     (-2.68298, 0.28363, -0.89434), (-2.51881, 2.27821, -0.95911), (-1.58436, 4.14623, -0.62872), (0, 4.97357, 0)],
    [(0, 0, 0), (0.10765, -0.43115, 0.09122), (-0.42805, -0.81977, 0.06699), (-1.14051, -0.37778, -0.19432),
     (-1.27146, 0.21516, -0.30057), (-1.11938, 0.90995, -0.30761), (-0.66375, 1.49460, -0.19522), (0, 1.72832, 0)],
])  # fmt: skip
PASSER: Final = Hull(240.0, 228.0, 32.2, 10.0, 0.78, usual_midship_coefficient(0.78))


@dataclass(frozen=True, slots=True)
class Twin:
    """What came true and what was said of it, truth by truth."""

    peak_n: Floats  # (truths, m)
    over: NDArray[np.bool_]  # (truths, m) a line passed its working limit, or parted below it
    said: list[EventOdds]
    names: tuple[str, ...]


@cache
def _estimator() -> Estimator:
    return Estimator(load_stay(ROOT / "config", "tavrin-lark-at-sedge-quay-2"))


@cache
def _true_bank() -> tuple[Floats, Floats]:
    """(separations (d,), the true loads there (d, s, 3)), at the reference speed."""
    apart_m = np.array([85.0, 105.0, 130.0, 160.0, 195.0])
    length_m = 0.5 * (_estimator().moored.settings.ship.loa + PASSER.loa_m)
    bank = np.array([_tabled(d / length_m) * [-1.0, _off(), -_off()] for d in apart_m])  # she runs astern of us
    middle_m = 130.0
    usual = np.abs(_worked_out(middle_m, REFERENCE_M_S)[0]).max(axis=0)
    return apart_m, bank * (1.1 * usual / np.abs(bank[apart_m == middle_m][0]).max(axis=0))


def _off() -> float:
    return -float(np.sign(_estimator().moored.berthed.quay_y_m))


def _worked_out(apart_m: float, speed_m_s: float) -> tuple[Floats, tuple[float, float]]:
    """The program's own load (s, 3) and the band of its model."""
    moored = _estimator().moored
    track = Track(-RUN_M, np.full(41, _off() * apart_m), np.full(41, 180.0), np.full(41, speed_m_s))
    basin = moored.basin(moored.water(NOW))
    load = passing_load(moored.hull(stay.begin(moored.settings.stay)), PASSER, track, basin)
    return np.stack([load.surge_n, load.sway_n, load.yaw_n_m], axis=1), load.model_band


def _powers(apart_m: float, speed_m_s: float) -> tuple[float, float]:
    """Of speed, as the program takes them."""
    here_n, slower_n = (
        float(np.hypot(*_worked_out(apart_m, part * speed_m_s)[0].T[:2]).max()) for part in (1.0, SLOWER)
    )
    return speed_powers(here_n, slower_n)


def _tabled(apart: float) -> Floats:
    """Curves (s, 3) of the table at a distance over length: shape in proportion, size by a power, also beyond."""
    near, far = TABLE_APART
    w = np.log(apart / near) / np.log(far / near)
    size = np.abs(TABLE).max(axis=1)
    blend = np.clip(w, 0.0, 1.0)
    half = ((1.0 - blend) * TABLE[0] / size[0] + blend * TABLE[1] / size[1]) * size[0] ** (1.0 - w) * size[1] ** w
    stagger = RUN_M / 230.0
    curve = np.stack([np.interp(-np.abs(stagger), STAGGER, half[:, j]) for j in range(3)], axis=1)
    curve[:, [0, 2]] *= -np.sign(stagger)[:, None]
    return curve


def _true_load(separation_m: float) -> Floats:
    """The bank read between separations on log paper, sign by sign."""
    apart_m, bank = _true_bank()
    i = int(np.clip(np.searchsorted(apart_m, separation_m) - 1, 0, len(apart_m) - 2))
    w = np.log(separation_m / apart_m[i]) / np.log(apart_m[i + 1] / apart_m[i])
    return np.asarray((1.0 - w) * bank[i] + w * bank[i + 1])


def _true_mooring(rng: np.random.Generator) -> Mooring:
    """The same leads with other curves and pretensions, and the wrong entry put right."""
    moored = _estimator().moored
    holding = _estimator().holding(stay.begin(moored.settings.stay))
    lines, pretension_n = [], []
    stretch, common = np.exp(rng.normal(0.0, 0.12)), rng.normal(0.0, 0.15)
    for i in holding.kept:
        line = moored._properties[i]
        shares = np.array([0.1, 0.2, 0.3, 0.4, 0.5])
        usual = DEFAULTS[line.material].strain(shares) if line.strains is None else np.array(line.strains)
        other = usual * stretch * (shares / 0.3) ** rng.uniform(-0.12, 0.12)  # steeper or flatter
        lines.append(replace(line, strains=tuple(map(float, other))))
        typed_n = moored._pretension_n[i] * (2.0 if moored.names[i] == WRONG else 1.0)
        pretension_n.append(typed_n * np.exp(common + rng.normal(0.0, 0.2)))
    fairlead_m = np.column_stack([holding.mooring.fairlead_m, holding.mooring.fairlead_height_m])
    bollard_m = np.column_stack([holding.mooring.bollard_m, holding.mooring.bollard_height_m])
    true = moor(lines, np.array(pretension_n), fairlead_m, bollard_m, moored._fenders)
    state, water = stay.begin(moored.settings.stay), moored.water(NOW)
    level_m = moored.level_m(water, state, holding.mooring.fairlead_m[:, 0])
    return heights_changed(true, level_m - holding.tended_level_m)


def _truths(mooring: Mooring, rng: np.random.Generator) -> tuple[Response, Floats, Floats, Floats]:
    """(what came, speeds, separations, mean winds (n,)) of truths on one mooring."""
    moored, n, m = _estimator().moored, EACH, len(mooring.lines)
    state, water = stay.begin(moored.settings.stay), moored.water(NOW)
    speed, apart_m, wind = rng.uniform(4.5, 7.5, n), rng.uniform(90.0, 150.0, n), rng.uniform(4.0, 15.0, n)
    hull, basin = moored.hull(state), moored.basin(water)
    mass = np.array([virtual_mass(hull, basin, rng.uniform(), rng.normal(1.0, 0.15)) for _ in range(n)])
    load = moored.wind_load([1.0], FROM_DEG + rng.normal(0.0, 6.0), state, None).at(0)
    unit = np.array([load.surge_n, load.sway_n, load.yaw_n_m]) * np.exp(rng.normal(0.0, 0.15, n))[:, None]
    size = rng.normal(1.0, 0.08, n)  # her draught and fullness, as she is
    curve = np.array(
        [_true_load(d) * (v / REFERENCE_M_S) ** 2.25 * s for d, v, s in zip(apart_m, speed, size, strict=True)]
    )
    gusts = np.array(
        [wind_series(u, 1.1 * turbulence_m_s(u, 10.0), u, 10.0, STEPS * STEP_S, STEP_S, rng) for u in wind]
    )
    abeam_s = 60.0 + 360.0 / speed

    def force(k: int) -> Floats:
        place_m = (k * STEP_S - abeam_s) * speed
        pass_n = np.array(
            [
                [np.interp(x, RUN_M, c[:, j], 0.0, 0.0) for j in range(3)]
                for x, c in zip(place_m, curve, strict=True)
            ]
        )
        return unit * (gusts[:, k] ** 2)[:, None] + pass_n

    start = equilibrium(mooring, *(unit * (wind**2)[:, None]).T).displacement
    chance = rng.normal(size=(2, n, m))
    brakes = [
        np.full(n, np.inf) if b is None else between(b, chance[0, :, i]) for i, b in enumerate(moored.renders_n)
    ]
    strength = [between(b, chance[1, :, i]) for i, b in enumerate(moored.strengths_n)]
    members = Members(
        mass,
        0.07 * np.exp(rng.normal(0.0, 0.5, n))[:, None] * critical_damping(mooring, start, mass),
        rng.uniform(1.0, 2.0, (n, 1)),
        1.0,
        0.0,
        np.stack(brakes, axis=1),
        np.stack(strength, axis=1),
        rng.uniform(0.0, 0.3, n),
        rng.uniform(0.1, 0.4),
    )
    return respond(mooring, members, force, STEPS, STEP_S, start), speed, apart_m, wind


def _said(speed: float, apart_m: float, mean_m_s: float, rng: np.random.Generator) -> EventOdds:
    """The program's odds, told a truth with errors."""
    estimator = _estimator()
    moored = estimator.moored
    state = stay.begin(moored.settings.stay)
    seen, away_m = speed * (1.0 + TOLD_M_S * rng.normal()), apart_m + TOLD_M * rng.normal()
    felt = mean_m_s * (1.0 + TOLD_WIND * rng.normal())
    at_95 = 1.645
    speeds = Band(seen * (1 - at_95 * TOLD_M_S), seen, seen * (1 + at_95 * TOLD_M_S))
    apart = Band(away_m - at_95 * TOLD_M, away_m, away_m + at_95 * TOLD_M)
    gap_m = 0.5 * (moored.settings.ship.beam + PASSER.beam_m)
    minute = timedelta(minutes=1)
    encounter = Encounter(
        NOW, 200911099, "INVENTED", PassingKind.OPPOSITE, 1.0,
        NOW + 8 * minute, NOW + 7 * minute, NOW + 9 * minute,
        Band(apart.low - gap_m, apart.mid - gap_m, apart.high - gap_m), speeds, speeds, 0.0, apart,
        Band(235.0, 240.0, 245.0), Band(31.6, 32.2, 32.8), Band(8.7, 10.0, 11.3), 70, 5.0,
    )  # fmt: skip
    loads, bands = zip(*(_worked_out(d, seen) for d in (apart.low, apart.mid, apart.high)), strict=True)
    wind = WindEstimate(
        NOW, Band(felt, 1.1 * felt, 1.3 * felt), FROM_DEG, None, felt, 0.0, "mast", 1.0, Validity.GOOD
    )
    case = Case(estimator.holding(state), state, wind, moored.water(NOW), None, NOW, MEMBERS)
    return event_odds(
        passing_event(
            case,
            encounter,
            Solutions(
                RUN_M, (apart.low, apart.mid, apart.high), np.array(loads), bands[1], _powers(apart.mid, seen)
            ),
        )
    )


@pytest.fixture(scope="module")
def twin() -> Twin:
    rng = np.random.default_rng(SEED)
    came, said = [], []
    for _ in range(GROUPS):
        response, *told = _truths(_true_mooring(rng), rng)
        came.append(response)
        said += [_said(*map(float, each), rng) for each in zip(*told, strict=True)]
    peak_n = np.concatenate([each.peak_n[-1] for each in came])
    parted = np.concatenate([np.isfinite(each.parted_at_s) for each in came])
    return Twin(peak_n, (peak_n >= WORKING_N) | parted, said, _estimator().moored.names)


def _forecasts(twin: Twin) -> tuple[Floats, Floats]:
    """(chance said, whether it came) of every line and truth, over the working limit."""
    chance, came = [], []
    for over, odds in zip(twin.over, twin.said, strict=True):
        for line in odds.lines:
            chance.append(line.over_working)
            came.append(float(over[twin.names.index(line.line)]))
    return np.array(chance), np.array(came)


def test_bands_hold_the_truths(twin: Twin) -> None:
    """P5–P95 of every line's peak holds 85 to 95 % of the truths (the issue's bounds)."""
    inside = [
        line.tension_n.low <= peak_n[twin.names.index(line.line)] <= line.tension_n.high
        for peak_n, odds in zip(twin.peak_n, twin.said, strict=True)
        for line in odds.lines
    ]
    assert 0.85 <= np.mean(inside) <= 0.95


def test_stated_odds_are_reliable(twin: Twin) -> None:
    """Reliability table: where the program says about p, about p of the truths pass.

    Lines of one truth go together, so a class counts as a third of its forecasts.
    """
    chance, came = _forecasts(twin)
    table = []
    for low, high in ((0.0, 0.02), (0.02, 0.1), (0.1, 0.3), (0.3, 0.6), (0.6, 1.01)):
        here = (chance >= low) & (chance < high)
        if here.sum() >= 15:
            said, seen = float(chance[here].mean()), float(came[here].mean())
            slack = 3.0 * np.sqrt(max(said * (1.0 - said), 0.01) / (here.sum() / 3.0))
            table.append((said, seen, slack, int(here.sum())))
    assert len(table) >= 3
    assert all(abs(said - seen) <= slack for said, seen, slack, _ in table), table
    assert came.mean() == pytest.approx(chance.mean(), abs=0.06)


def test_brier_score_and_its_parts(twin: Twin) -> None:
    """Murphy (1973): Brier = reliability − resolution + uncertainty, exact over the distinct chances.

    Better than the base rate, and little of it is unreliability.
    """
    chance, came = _forecasts(twin)
    brier = float(np.mean((chance - came) ** 2))
    base = came.mean()
    reliability = resolution = 0.0
    for p in np.unique(chance):
        here = chance == p
        reliability += here.sum() * (p - came[here].mean()) ** 2 / len(chance)
        resolution += here.sum() * (came[here].mean() - base) ** 2 / len(chance)
    uncertainty = base * (1.0 - base)
    assert brier == pytest.approx(reliability - resolution + uncertainty)
    assert 0.02 < base < 0.6
    assert brier < 0.9 * uncertainty
    # by classes, for single chances have few truths each
    classes = np.digitize(chance, [0.02, 0.1, 0.3, 0.6])
    grouped = sum(
        (classes == c).mean() * (chance[classes == c].mean() - came[classes == c].mean()) ** 2
        for c in np.unique(classes)
    )
    assert grouped < 0.02


def test_brier_score_of_an_independent_library(twin: Twin) -> None:
    properscoring = pytest.importorskip("properscoring")
    chance, came = _forecasts(twin)
    assert np.mean(properscoring.brier_score(came, chance)) == pytest.approx(np.mean((chance - came) ** 2))
