"""How much a ship's speed changes before she passes, against ships in four recorded harbours.

Source: MarineCadastre AIS, 3 January 2022 (New Orleans, Corpus Christi, Columbia River, New York), ships of 90 m
and more at 4 kn and more, each ship with the same weight; their speed later as a multiple of the first.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from monitor.watch.futures import Future, Way, changed_sd

KNOT = 1852.0 / 3600.0
NINE_IN_TEN = 1.645
FIVE_AND_95 = {1: (0.92, 1.06), 5: (0.65, 1.18), 10: (0.49, 1.28), 15: (0.35, 1.61)}  # after so many minutes


def _expected(speed_m_s: float, minutes: float) -> tuple[float, float]:
    """5 and 95 % of her speed after so long as a multiple of the speed now."""
    ship = Future(0, Way.HOLD, 1.0, 0j, 1 + 0j, speed_m_s, 0.0, 8.0, 0.0)
    slower, faster = changed_sd([ship], np.array([[60.0 * minutes * speed_m_s]]))
    return math.exp(-NINE_IN_TEN * slower.item()), math.exp(NINE_IN_TEN * faster.item())


@pytest.mark.parametrize("minutes", FIVE_AND_95)
def test_bands_of_speed_are_as_wide_as_recorded(minutes: int) -> None:
    """At 8 kn, in the middle of those recorded: both ends within a fifth (slowing after 15 min within 0.4)."""
    low, high = FIVE_AND_95[minutes]
    told_low, told_high = _expected(8.0 * KNOT, minutes)
    assert told_low == pytest.approx(low, rel=0.4 if minutes == 15 else 0.2)
    assert told_high == pytest.approx(high, rel=0.2)


def test_a_fast_ship_hardly_speeds_up_and_a_slow_one_may() -> None:
    """Recorded after 15 min, 95 %: 1.08 from 10 kn and more, 1.86 from 4 to 7 kn."""
    assert _expected(12.0 * KNOT, 15)[1] == pytest.approx(1.08, abs=0.03)
    assert _expected(5.5 * KNOT, 15)[1] == pytest.approx(1.86, rel=0.15)


def test_nine_in_ten_recorded_speeds_lie_in_the_band(shared: Path) -> None:
    """Told band against what came, 5 to 15 min later: inside in 85 to 97 of 100, each ship counting alike."""
    inside: list[tuple[int, bool]] = []
    for file in sorted((shared / "data/ais_csv").glob("marinecadastre_*.csv.gz")):
        rows = pd.read_csv(file, usecols=["MMSI", "BaseDateTime", "SOG", "Length"])
        rows = rows[(rows.Length >= 90) & (rows.SOG < 40)]
        rows["at"] = pd.to_datetime(rows.BaseDateTime).astype("datetime64[s]").astype("int64")
        for mmsi, ship in rows.drop_duplicates(["MMSI", "at"]).sort_values("at").groupby("MMSI"):
            at_s, knots = ship["at"].to_numpy(), ship["SOG"].to_numpy()
            for minutes in (5, 10, 15):
                then = np.searchsorted(at_s, at_s + 60 * minutes)
                for now, later in enumerate(then):
                    if later < len(at_s) and at_s[later] - at_s[now] < 60 * minutes + 60 and knots[now] >= 4.0:
                        low, high = _expected(knots[now] * KNOT, minutes)
                        inside.append((int(mmsi), low <= knots[later] / knots[now] <= high))
    ships = pd.DataFrame(inside, columns=["mmsi", "inside"]).groupby("mmsi")["inside"].mean()
    assert len(ships) >= 20
    assert 0.85 <= ships.mean() <= 0.97
