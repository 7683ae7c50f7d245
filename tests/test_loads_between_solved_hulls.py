"""Draws of a passing ship's size: read between solved hulls, against each of those hulls solved by itself."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import optimize

from monitor.base.frames import Floats
from monitor.physics.hulls import NORMAL_95, SizedHull, hull_from_ais
from monitor.records.estimates import Encounter
from monitor.watch import stay
from monitor.watch.draws import FULLNESS, between
from monitor.watch.moored import Moored
from monitor.watch.outlook import _at, by_size, passing_curves
from monitor.watch.solved import Solutions, curve_of, curves_of
from tests.test_odds_of_events import _case, _encounter

SHIPS = {
    "all sizes told": hull_from_ais(80, 180.0, 32.0, 11.0),
    "kind not told": hull_from_ais(None, 180.0, 28.0, 7.5),
    "draught not told": hull_from_ais(70, 240.0, 32.2, None),
}


def _passing(ship: SizedHull) -> Encounter:
    return replace(
        _encounter(), length_m=ship.length_m, beam_m=ship.beam_m, draught_m=ship.draught_m, ship_type=80
    )


# --- the hulls ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SHIPS)
@pytest.mark.parametrize("z", [-1.2, 0.7, NORMAL_95])
def test_the_likeliest_hull_is_scipys(name: str, z: float) -> None:
    """Of all hulls of its displacement it has the least sum of squared errors, by scipy's SLSQP."""
    ship = SHIPS[name]
    each = (ship.length_m, ship.beam_m, ship.draught_m, ship.block_coefficient)
    sigma = np.array([abs(math.log((b.high if z > 0 else b.low) / b.mid)) / NORMAL_95 for b in each])
    whole = z * math.sqrt((sigma**2).sum())
    best = optimize.minimize(
        lambda x: float(((x / sigma) ** 2).sum()),
        np.full(4, whole / 4.0),
        constraints={"type": "eq", "fun": lambda x: 1e3 * (x.sum() - whole)},
        method="SLSQP",
        options={"ftol": 1e-12},
    )
    hull, mid = ship.likeliest(z), ship.hull
    found = [hull.loa_m / mid.loa_m, hull.beam_m / mid.beam_m, hull.draught_m / mid.draught_m]
    assert np.log(found) == pytest.approx(best.x[:3], abs=1e-4)
    if hull.block_coefficient < 0.93:
        assert hull.volume_m3 / mid.volume_m3 == pytest.approx(math.exp(whole))


def test_its_displacement_is_the_end_of_the_band_of_independent_errors() -> None:
    """Against 100,000 products of four log-normal factors."""
    ship, rng = SHIPS["all sizes told"], np.random.default_rng(4)
    each = (ship.length_m, ship.beam_m, ship.draught_m)
    z = rng.normal(size=(4, 100_000))
    factors = [np.exp(math.log(b.high / b.mid) / NORMAL_95 * one) for b, one in zip(each, z[:3], strict=True)]
    block = ship.block_coefficient
    factors.append(np.exp(math.log(block.high / block.mid) / NORMAL_95 * z[3]))
    product = np.prod(factors, axis=0)
    mid = ship.hull.volume_m3
    assert ship.likeliest(NORMAL_95).volume_m3 / mid == pytest.approx(np.percentile(product, 95.0), rel=0.01)
    assert ship.likeliest(0.0) == ship.hull


# --- the loads ----------------------------------------------------------------------------------------------


def _solved(name: str) -> tuple[Moored, Solutions, Encounter]:
    case, encounter = _case(), _passing(SHIPS[name])
    moored = case.holding.moored
    own = moored.hull(case.stay)
    curves = passing_curves(moored, own, encounter, case.water)
    assert curves is not None and curves.found is not None
    return moored, replace(curves.found, sizes=by_size(moored, own, encounter, case.water)), encounter


def _directly(moored: Moored, name: str, encounter: Encounter, z: float, separation_m: float) -> Floats:
    state = stay.begin(moored.settings.stay)
    water = _case().water
    kind = hull_from_ais(80, *(b.mid for b in (encounter.length_m, encounter.beam_m, encounter.draught_m)))
    ship = replace(SHIPS[name], hull=kind.hull, block_coefficient=kind.block_coefficient)
    passer, basin = moored.afloat(ship.likeliest(z), water)
    there = _at(moored.hull(state), passer, encounter, separation_m, moored.berthed, basin)
    assert there is not None
    return curve_of(there[1])


@pytest.mark.parametrize(
    ("name", "z", "share", "most"),
    [
        ("all sizes told", -1.0, 1.0, 0.02),
        ("all sizes told", 1.0, 0.85, 0.04),
        ("kind not told", 1.0, 1.0, 0.06),
        ("draught not told", -0.8, 1.0, 0.10),
        ("draught not told", 1.0, 1.15, 0.05),
    ],
)
def test_a_size_read_is_near_that_size_solved(name: str, z: float, share: float, most: float) -> None:
    """Peaks of surge, sway and yaw of a hull between the solved ones, also nearer and farther off; and nearer to
    it than the load scaled with section and fullness, which is what serves when a size cannot be solved."""
    moored, found, encounter = _solved(name)
    assert found.sizes is not None
    apart_m = share * encounter.separation_m.mid
    read, half_m = curves_of(found, encounter, np.array([apart_m]), np.array([z]))
    scaled, _ = curves_of(replace(found, sizes=None), encounter, np.array([apart_m]), np.array([z]))
    there = _directly(moored, name, encounter, z, apart_m)
    peak = np.abs(there).max(axis=0)
    error, before = (np.abs(np.abs(one[0]).max(axis=0) / peak - 1.0) for one in (read, scaled))
    assert error.max() <= most
    assert error.max() <= before.max() + 0.005
    assert half_m[0] == pytest.approx(float(found.run_m[-1]), rel=0.05)


def test_the_solved_sizes_come_back() -> None:
    """At her middle distance and the three sizes nothing is left to read between; beyond, it ends."""
    _, found, encounter = _solved("all sizes told")
    assert found.sizes is not None
    middle_m = np.full(3, encounter.separation_m.mid)
    read, half_m = curves_of(found, encounter, middle_m, np.array([-NORMAL_95, 0.0, NORMAL_95]))
    assert read == pytest.approx(found.sizes.load, rel=1e-9, abs=1.0)
    assert half_m == pytest.approx(found.sizes.half_m)
    far, _ = curves_of(found, encounter, middle_m[:2], np.array([3.0, 4.0]))
    assert far[0] == pytest.approx(far[1])


def test_what_serves_without_solved_sizes() -> None:
    """Section and fullness, as the draws have them."""
    _, found, encounter = _solved("all sizes told")
    z = np.array([-1.5, 0.0, 1.5])
    read, _ = curves_of(replace(found, sizes=None), encounter, np.full(3, encounter.separation_m.mid), z)
    section = between(encounter.beam_m, z) * between(encounter.draught_m, z)
    share = section / section[1] * (1.0 + FULLNESS * z)
    assert read == pytest.approx(share[:, None, None] * read[1])
