"""Lines nobody tends on a rising tide, against the table of our reference study of lines (independent arithmetic).

A lead of 30 m in plan and 5 m in height, 60 m of line in all, 10 % of the MBL before; the ship does not give way.
Curves are the defaults, from memory, in both; its nylon is the double braid. Read for it: wire and HMPE without
tails need tending each metre, fibre not.
"""

from __future__ import annotations

import numpy as np
import pytest

from monitor.physics.lines import LineProperties
from monitor.physics.mooring import Fenders, heights_changed, moor, restoring
from monitor.settings.schema import Material

TABLE: dict[Material, tuple[int, int, int]] = {
    "steel wire": (29, 51, 76),
    "HMPE": (22, 36, 52),
    "polyester": (12, 14, 16),
    "nylon double braid": (11, 12, 14),
}
MBL_N = 1000e3
LEAD_M = float(np.hypot(30.0, 5.0))


@pytest.mark.parametrize("material", TABLE)
def test_tension_after_one_two_and_three_metres(material: Material) -> None:
    line = LineProperties("breast", material, MBL_N, lead_on_deck_m=60.0 - LEAD_M)
    none = Fenders(*(np.zeros(0) for _ in range(5)))
    made = moor([line], np.array([0.1 * MBL_N]), np.array([[0.0, 0.0, 5.0]]), np.array([[0.0, -30.0, 0.0]]), none)
    for rise_m, percent in zip((1.0, 2.0, 3.0), TABLE[material], strict=True):
        tension_n = restoring(heights_changed(made, rise_m), np.zeros((1, 3))).tension_n[0, 0]
        assert 100.0 * tension_n / MBL_N == pytest.approx(percent, abs=1.0)
