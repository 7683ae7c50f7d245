"""The mooring solver against OCIMF, Mooring Equipment Guidelines, 2nd edition (1997): App. E and Fig. 1.11.

Appendix E works by hand a 250 000 dwt tanker in light ballast on 14 wires of 42 mm, MBL 1110 kN, limit 55 % of it.
Its method lets every line of a group stretch as if the ship moved straight in the group's direction.
"""

from __future__ import annotations

import numpy as np
import pytest

from monitor.base.frames import Floats
from monitor.base.units import TONNE_FORCE_N
from monitor.physics.lines import LineProperties
from monitor.physics.mooring import Fenders, Mooring, equilibrium, moor, restoring

MBL_N = 1110e3
LIMIT_N = 0.55 * MBL_N

# Line number: group, angle in plan off the group's direction (deg), plan length (m), height of the fairlead above
# the hook (m), vertical angle (deg), outboard and inboard length (m), greatest load of the full computation (t).
# Two figures are illegible in the copy at hand and were chosen so that the printed cosines fit: the angle of line
# 3 and the total of line 1.
LINES = {
    1: ("forward breasts", 15.0, 47.0, 19.2, 22.2, 51.0, 6.0, 63.9),
    2: ("forward breasts", 17.3, 46.0, 19.2, 22.6, 50.0, 6.0, 63.5),
    3: ("forward breasts", 17.2, 41.5, 18.8, 24.4, 45.5, 42.5, 47.6),
    4: ("forward breasts", 14.2, 37.5, 18.8, 26.6, 42.0, 44.0, 43.1),
    5: ("forward breasts", 12.4, 35.5, 18.8, 27.9, 40.0, 35.0, 48.5),
    6: ("forward springs", 9.0, 68.0, 18.0, 14.8, 70.5, 35.0, 54.9),
    7: ("forward springs", 8.8, 69.5, 18.0, 14.5, 72.0, 35.0, 54.4),
    8: ("aft springs", 10.2, 60.5, 14.7, 13.7, 62.0, 35.0, 48.1),
    9: ("aft springs", 10.4, 59.0, 14.7, 14.0, 61.0, 35.0, 48.5),
    10: ("aft breasts", 11.0, 40.0, 13.7, 18.9, 42.5, 32.0, 45.4),
    11: ("aft breasts", 12.8, 41.5, 13.7, 18.3, 43.5, 32.0, 44.4),
    12: ("aft breasts", 16.0, 44.0, 13.7, 17.3, 46.0, 7.5, 59.4),
    13: ("aft breasts", 10.2, 58.5, 13.3, 12.8, 60.0, 6.0, 60.8),
    14: ("aft breasts", 10.8, 65.0, 13.3, 11.6, 66.5, 6.0, 56.2),
}
# Resisting force of each group as printed, kN.
CAPACITY_KN = {"forward breasts": 2147.0, "aft breasts": 2321.0, "forward springs": 1167.0, "aft springs": 1165.0}
# Demand of 60 kn of wind with currents, kN; the springs' demand (790 kN) meets each pair in other combinations.
DEMAND_KN = {"forward breasts": 2253.0, "aft breasts": 2499.0}


def _no_fenders() -> Fenders:
    none = np.zeros(0)
    return Fenders(none, none, none, none, none)


def _group(group: str) -> tuple[Mooring, list[int]]:
    """The group and its mirror image, all from one fairlead: a pull of 2 F moves her straight, as by hand."""
    numbers = [i for i, row in LINES.items() if row[0] == group]
    fairleads, bollards, properties = [], [], []
    for mirror in (1.0, -1.0):
        for i in numbers:
            _, angle_deg, plan_m, height_m, _, _, inboard_m, _ = LINES[i]
            angle = np.radians(angle_deg)
            fairleads.append((0.0, 0.0, height_m))
            bollards.append((mirror * plan_m * np.sin(angle), -plan_m * np.cos(angle), 0.0))
            properties.append(LineProperties(f"{i}", "steel wire", MBL_N, inboard_m))
    tended = moor(properties, np.zeros(len(properties)), np.array(fairleads), np.array(bollards), _no_fenders())
    return tended, numbers


def _shares(group: str, pull_n: float) -> tuple[Floats, list[int]]:
    """Tension of each line ÷ pull on the group."""
    tended, numbers = _group(group)
    rest = equilibrium(tended, np.zeros(1), np.array([2.0 * pull_n]), np.zeros(1))
    assert rest.converged[0]
    assert rest.displacement[0, [0, 2]] == pytest.approx(0.0, abs=1e-9)
    return rest.tension_n[0, : len(numbers)] / pull_n, numbers


@pytest.mark.parametrize("group", CAPACITY_KN)
def test_group_capacities_of_appendix_e(group: str) -> None:
    """Small movement, as by hand: within 1 % (lengths are printed to half a metre)."""
    shares, _ = _shares(group, 1e3)
    assert LIMIT_N / shares.max() / 1e3 == pytest.approx(CAPACITY_KN[group], rel=0.01)


@pytest.mark.parametrize("group", CAPACITY_KN)
def test_group_capacities_at_the_full_load(group: str) -> None:
    """With the real geometry at that load (half a metre of stretch) the hand method stays good to 1.5 %."""
    shares, _ = _shares(group, CAPACITY_KN[group] * 1e3)
    assert shares.max() * CAPACITY_KN[group] * 1e3 == pytest.approx(LIMIT_N, rel=0.015)


@pytest.mark.parametrize("group", DEMAND_KN)
def test_breast_loads_of_the_full_computation(group: str) -> None:
    """Sharing the printed demand agrees with the printed computer results to 15 %.

    Not closer: each printed maximum comes from its own worst wind and current, with yaw and the springs' help.
    """
    shares, numbers = _shares(group, 1e3)
    computed_t = shares * DEMAND_KN[group] * 1e3 / TONNE_FORCE_N
    assert computed_t == pytest.approx([LINES[i][-1] for i in numbers], rel=0.15)


def test_the_printed_geometry_is_consistent() -> None:
    for _, _, plan_m, height_m, vertical_deg, outboard_m, _, _ in LINES.values():
        assert np.hypot(plan_m, height_m) == pytest.approx(outboard_m, abs=0.6)
        assert np.degrees(np.arctan2(height_m, plan_m)) == pytest.approx(vertical_deg, abs=0.25)


@pytest.mark.parametrize(
    ("pretension_t", "short_t", "long_t", "off_m"), [(0.0, 50.0, 25.0, 0.15), (10.0, 47.0, 28.0, 0.11)]
)
def test_pretension_example_of_figure_1_11(
    pretension_t: float, short_t: float, long_t: float, off_m: float
) -> None:
    """150 t off the berth on two wires of 30 m and two of 60 m, 40 mm, against a rigid jetty.

    The figure's 50 t at 0.15 m make EA 98.1 MN; the breaking force is of no account here. Pretension brings the
    loads together and keeps her closer. Figures are printed to the tonne and the centimetre.
    """
    breaking_n = 1008e3
    stretch = 50.0 * TONNE_FORCE_N * 30.0 / 0.15 / breaking_n  # EA ÷ breaking force
    strains = tuple(share / stretch for share in (0.1, 0.2, 0.3, 0.4, 0.5))
    forward_m, lengths_m = (-50.0, -20.0, 20.0, 50.0), (30.0, 60.0, 60.0, 30.0)
    rigid = Fenders(np.array([-40.0, 40.0]), np.full(2, -15.0), np.full(2, 2.0), np.full(2, 1e10), np.full(2, 1.0))
    tended = moor(
        [LineProperties(f"{x}", "steel wire", breaking_n, strains=strains) for x in forward_m],
        np.full(4, pretension_t * TONNE_FORCE_N),
        np.array([(x, -10.0, 5.0) for x in forward_m]),
        np.array([(x, -10.0 - length_m, 5.0) for x, length_m in zip(forward_m, lengths_m, strict=True)]),
        rigid,
    )
    calm = equilibrium(tended, np.zeros(1), np.zeros(1), np.zeros(1))
    assert calm.tension_n[0] / TONNE_FORCE_N == pytest.approx(pretension_t, abs=1e-6)
    rest = equilibrium(tended, np.zeros(1), np.array([150.0 * TONNE_FORCE_N]), np.zeros(1))
    assert rest.tension_n[0] / TONNE_FORCE_N == pytest.approx([short_t, long_t, long_t, short_t], abs=0.5)
    assert rest.displacement[0, 1] == pytest.approx(off_m, abs=0.005)
    assert rest.fender_n[0] == pytest.approx(0.0)


@pytest.mark.parametrize(
    ("plan_deg", "vertical_deg", "pull", "hold"),
    [
        (0, 0, 1.0, 1.0),
        (0, 25, 0.906, 0.821),
        (10, 10, 0.970, 0.941),
        (15, 25, 0.875, 0.766),
        (30, 15, 0.837, 0.700),
        (45, 30, 0.612, 0.375),
        (60, 40, 0.383, 0.147),
    ],
)
def test_angle_factors(plan_deg: float, vertical_deg: float, pull: float, hold: float) -> None:
    """Pull in a direction ÷ tension is cos α cos θ; stiffness ÷ EA/L its square (the projections of statics).

    MEG2 2.5.4 gives 25° up and 15° in plan as the limits of a good lead; their factor is 0.875.
    """
    plan, up = np.radians(plan_deg), np.radians(vertical_deg)
    end = 50.0 * np.array([np.sin(plan) * np.cos(up), -np.cos(plan) * np.cos(up), -np.sin(up)])
    strains = (1e-4, 2e-4, 3e-4, 4e-4, 5e-4)  # so stiff that the tension's own stiffness is below 1e-6
    line = LineProperties("line", "steel wire", 1e6, strains=strains)
    tended = moor([line], np.array([1e3]), np.zeros((1, 3)), end[None], _no_fenders())
    there = restoring(tended, np.zeros((1, 3)))
    assert -there.force[0, 1] / 1e3 == pytest.approx(pull, abs=6e-4)
    assert there.stiffness[0, 1, 1] / (1e6 * 1e3 / 50.0) == pytest.approx(hold, abs=6e-4)
