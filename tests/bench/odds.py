"""`python -m tests.bench.odds [--short]`: the moored ship in time, the odds, a tick of the estimator.

Every figure is told in seconds of the processor and as a ratio against a yardstick timed in turn with it: plain
numpy on arrays of the same size (for the march), scipy's DOP853 on one member, 200 loads shared out at rest (for
the watch). Ratios travel between machines, seconds do not. Judged: 1,000 members × 16 lines × 20 min in at most
MOST_MARCH_S, a tick in at most MOST_TICK_S, and the march's ratio, which a slow machine does not spoil.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from statistics import median
from time import process_time
from typing import Final

import numpy as np
from scipy.integrate import solve_ivp

from monitor.base.frames import Floats
from monitor.physics.gusts import wind_series
from monitor.physics.mooring import equilibrium, restoring
from monitor.physics.response import Force, Members, critical_damping, respond, step_s
from monitor.records.estimates import Band, Encounter, PassingKind, Validity, WindEstimate
from monitor.run.recording import open_recording
from monitor.run.replay import replay
from monitor.settings.load import load_stay
from monitor.watch import outlook, stay
from monitor.watch.ensemble import Case
from monitor.watch.estimator import Estimator
from monitor.watch.hourly import at_hour, hour_odds
from monitor.watch.odds import passing_event, wind_event
from monitor.watch.solved import Solutions
from tests.conftest import ROOT
from tests.test_mooring_statics import _ship as ship_of_16

STAY: Final = "tavrin-lark-at-sedge-quay-2"
NOW: Final = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
MASS: Final = np.array([4.0e7, 9.0e7, 2.5e11])
MOST_MARCH_S: Final = 2.0
MOST_TICK_S: Final = 0.150
MOST_MARCH_RATIO: Final = 12.0  # 8.2 when written
LOOKS: Final = 12  # numpy's passes over (members, lines) in a step of the yardstick
DAY: Final = ROOT / "recordings" / "the-invented-day"


@dataclass(frozen=True, slots=True)
class Timed:
    """One figure: the median and the least of the repetitions, and what it is compared with."""

    what: str
    median_s: float
    least_s: float
    against: str = ""
    ratio: float | None = None

    def __str__(self) -> str:
        told = f"{self.what:52} {self.median_s:8.4f} s, least {self.least_s:8.4f} s"
        return told if self.ratio is None else f"{told}   {self.ratio:8.2f} × {self.against}"


def timed(runs: Sequence[tuple[str, Callable[[], object]]], repetitions: int) -> dict[str, tuple[float, float]]:
    """(median, least) of each run, taken in turn, so that a busy machine is unkind to all alike."""
    for _, run in runs:
        run()
    took: dict[str, list[float]] = {name: [] for name, _ in runs}
    for _ in range(repetitions):
        for name, run in runs:
            begun_s = process_time()
            run()
            took[name].append(process_time() - begun_s)
    return {name: (median(each), min(each)) for name, each in took.items()}


# --- the march ----------------------------------------------------------------------------------------------


def march(members: int, minutes: float, *, gusts: bool) -> tuple[Callable[[], object], int]:
    """An encounter of so many minutes for so many members of a ship with 16 lines; and how many steps it takes."""
    mooring, rng = ship_of_16("HMPE"), np.random.default_rng(7)
    dt_s = step_s(mooring, 0.8 * MASS)
    steps = int(60.0 * minutes / dt_s)
    mass = MASS * rng.uniform(0.8, 1.2, (members, 1))
    start = np.zeros((members, 3))
    truth = Members(
        mass, 0.08 * critical_damping(mooring, start, mass), rng.uniform(1.0, 2.0, (members, 1)), 1.0, 0.0,
        rng.uniform(150e3, 500e3, (members, 16)), rng.uniform(350e3, 700e3, (members, 16)),
        rng.uniform(0.0, 0.3, members), 0.3,
    )  # fmt: skip
    at_s = np.arange(steps) * dt_s
    pulse = np.exp(-(((at_s - 30.0 * minutes) / 40.0) ** 2))
    shape = np.stack([2e5 * np.gradient(pulse) * 40.0, -3e5 * pulse, 1e7 * np.gradient(pulse) * 40.0], axis=1)
    size = rng.uniform(0.5, 1.5, (members, 1))
    wind = np.zeros((steps, members))
    if gusts:
        few = [wind_series(12.0, 2.0, 12.0, 10.0, 60.0 * minutes, dt_s, rng, area_m2=5000) for _ in range(20)]
        wind = np.array(few)[rng.integers(0, 20, members)].T[:steps] ** 2
    unit = np.array([50.0, 900.0, 2e4])

    def force(k: int) -> Floats:
        return np.asarray(shape[k] * size + wind[k][:, None] * unit)

    given: Force = force
    return lambda: respond(mooring, truth, given, steps, dt_s, start), steps


def numpy_alone(members: int, steps: int) -> Callable[[], object]:
    """The least that numpy would need: a matrix product, a root and ten passes over (members, 16) a step."""
    functions, coefficient = np.random.default_rng(1).random((members, 8)) + 1.0, np.ones((8, 16))
    out, other = np.empty((members, 16)), np.ones((members, 16))

    def run() -> None:
        for _ in range(steps):
            np.matmul(functions, coefficient, out=out)
            np.sqrt(out, out=out)
            for _ in range(LOOKS - 2):
                np.multiply(out, other, out=out)

    return run


def by_scipy(minutes: float) -> Callable[[], object]:
    """One member by DOP853 to 1e-6, as anybody would do it without the march."""
    mooring = ship_of_16("HMPE")
    drag = 0.08 * critical_damping(mooring, np.zeros((1, 3)), MASS[None])[0]

    def slope(t: float, state: Floats) -> Floats:
        pulse = np.exp(-(((t - 30.0 * minutes) / 40.0) ** 2))
        load = np.array([0.0, -3e5 * pulse, 0.0])
        force = restoring(mooring, state[None, :3]).force[0] - drag * state[3:] + load
        return np.concatenate([state[3:], force / MASS])

    return lambda: solve_ivp(slope, (0.0, 60.0 * minutes), np.zeros(6), "DOP853", rtol=1e-6, atol=1e-9)


# --- the watch ----------------------------------------------------------------------------------------------


def watch_runs() -> list[tuple[str, Callable[[], object]]]:
    """A tick in a calm and on rendering brakes, the events of the odds, the statics they lean on."""
    settings = load_stay(ROOT / "config", STAY)
    estimator, state = Estimator(settings), stay.begin(settings.stay)
    moored, holding = estimator.moored, estimator.holding(state)

    def wind(speed_m_s: float) -> WindEstimate:
        band = Band(0.9 * speed_m_s, speed_m_s, 1.15 * speed_m_s)
        return WindEstimate(NOW, band, 310.0, None, speed_m_s / 1.2, 0.0, "mast", 1.0, Validity.GOOD)

    speeds, apart, minute = Band(5.0, 5.5, 6.0), Band(95.0, 115.0, 140.0), timedelta(minutes=1)
    encounter = Encounter(
        NOW, 200911099, "INVENTED", PassingKind.OPPOSITE, 1.0, NOW + 8 * minute, NOW + 7 * minute,
        NOW + 9 * minute, Band(65.0, 85.0, 110.0), speeds, speeds, 0.0, apart, Band(235.0, 240.0, 245.0),
        Band(31.6, 32.2, 32.8), Band(8.7, 10.0, 11.3), 70, 5.0,
    )  # fmt: skip
    run_m = np.linspace(-330.0, 330.0, 41)
    bump = np.exp(-((run_m / 120.0) ** 2))
    curve = np.stack([2e5 * np.gradient(bump) * 8.0, -3e5 * bump, 6e6 * np.gradient(bump) * 8.0], axis=1)
    found = Solutions(run_m, (95.0, 115.0, 140.0), np.array([1.4 * curve, curve, 0.7 * curve]), (0.85, 1.2))
    case = Case(holding, state, wind(10.0), moored.water(NOW), None, NOW)
    hour = at_hour(case, Band(8.0, 10.0, 12.0), 15.0, 300.0, NOW + timedelta(hours=3))
    loads = np.random.default_rng(2).normal(0.0, (2e5, 4e5, 1e7), (200, 3))
    return [
        ("tick", lambda: estimator.estimate(wind(8.0), state, None, (), NOW)),
        ("tick, brakes rendering", lambda: estimator.estimate(wind(26.0), state, None, (), NOW)),
        ("passing_event, 200 members", lambda: passing_event(case, encounter, found)),
        ("wind_event, 100 members, an hour", lambda: wind_event(Case(
            holding, state, wind(10.0), moored.water(NOW), None, NOW, 100), (5, 15, 60))),
        ("hour_odds", lambda: hour_odds(hour, 3.0)),
        ("equilibrium, 200 loads", lambda: equilibrium(holding.mooring, *loads.T)),
    ]  # fmt: skip


# --- told ---------------------------------------------------------------------------------------------------


def results(short: bool) -> list[Timed]:
    """All figures. Short: as many members for a tenth of the time; the march is linear in that."""
    members, minutes, repetitions = (1000, 2.0, 3) if short else (1000, 20.0, 3)
    plain, steps = march(members, minutes, gusts=False)
    gusty, _ = march(members, minutes, gusts=True)
    took = timed([("plain", plain), ("gusts", gusty), ("numpy", numpy_alone(members, steps))], repetitions)
    scipy_s, _ = timed([("scipy", by_scipy(minutes))], 1)["scipy"]
    name = f"{members:,} members × 16 lines × {minutes:.0f} min"
    told = [
        Timed(f"{name}{', ' + key if key == 'gusts' else ''}", *took[key], f"numpy alone ({steps} steps)",
              took[key][0] / took["numpy"][0]) for key in ("plain", "gusts")
    ]  # fmt: skip
    told.append(Timed("numpy alone", *took["numpy"]))
    told.append(Timed("one member by scipy's DOP853", scipy_s, scipy_s, "one of our members",
                      scipy_s / (took["plain"][0] / members)))  # fmt: skip
    runs = watch_runs()
    watched = timed(runs, repetitions)
    base_s = watched["equilibrium, 200 loads"][0]
    told += [Timed(key, *watched[key], "200 statics", watched[key][0] / base_s) for key, _ in runs]
    return told


def faults(told: Sequence[Timed], short: bool) -> list[str]:
    """What is slower than it may be. Seconds are judged by the least, which a busy machine spoils last."""
    found = []
    by_name = {each.what: each for each in told}
    gusty = next(each for name, each in by_name.items() if name.endswith(", gusts"))
    assert gusty.ratio is not None
    if not short and gusty.least_s > MOST_MARCH_S:
        found.append(f"{gusty.what}: {gusty.least_s:.2f} s, at most {MOST_MARCH_S} s")
    if gusty.ratio > MOST_MARCH_RATIO:
        found.append(f"{gusty.what}: {gusty.ratio:.1f} × numpy alone")
    for name in ("tick", "tick, brakes rendering"):
        if by_name[name].least_s > MOST_TICK_S:
            found.append(f"{name}: {1e3 * by_name[name].least_s:.0f} ms, at most {1e3 * MOST_TICK_S:.0f} ms")
    return found


def share_of_a_day() -> str:
    """Which part of replaying the shipped day goes into odds, advice, tending and losses."""
    spent: Counter[str] = Counter()
    inside = 0

    def watched(name: str, work: Callable[..., object]) -> Callable[..., object]:
        def call(*given: object, **named: object) -> object:
            nonlocal inside
            begun_s, inside = process_time(), inside + 1
            try:
                return work(*given, **named)
            finally:
                inside -= 1
                if not inside:
                    spent[name] += process_time() - begun_s

        return call

    names = ("with_odds", "ahead_of", "odds_of_hour")
    as_is = {name: getattr(outlook, name) for name in names}
    try:
        for name, work in as_is.items():
            setattr(outlook, name, watched(name, work))
        begun_s = process_time()
        with open_recording(DAY) as recording:
            for _ in replay(recording):
                pass
        whole_s = process_time() - begun_s
    finally:
        for name, work in as_is.items():
            setattr(outlook, name, work)
    parts = ", ".join(f"{name} {took / whole_s:.1%}" for name, took in spent.most_common())
    return f"The shipped day replayed in {whole_s:.1f} s, of it odds {sum(spent.values()) / whole_s:.1%}: {parts}"


def run(short: bool) -> list[str]:
    """Tell all figures; what is too slow."""
    told = results(short)
    print("The moored ship in time, odds, ticks (median and least of repetitions in turn).\n")
    print("\n".join(map(str, told)), flush=True)
    return faults(told, short)


def main() -> int:
    """Run, tell, judge."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.odds", description=__doc__)
    parser.add_argument("--short", action="store_true", help="a few seconds, for every change")
    parser.add_argument("--day", action="store_true", help="also the odds' share of the shipped day replayed")
    args = parser.parse_args()
    wrong = run(args.short)
    if args.day:
        print(f"\n{share_of_a_day()}")
    print("\n" + ("\n".join(f"FAILED: {fault}" for fault in wrong) or "All within bounds."))
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
