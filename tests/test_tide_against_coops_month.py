"""The tide from constituents against what NOAA CO-OPS measured at Seattle (9447130) in January 2015, 7,201
heights.

Weather is in the measurement and not in the tide; so the standard deviation of the difference is judged (common
practice for a good prediction: one to two decimetres), and the mean shift with it, not each height.
"""

from __future__ import annotations

import gzip
import json
import tomllib
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from monitor.__main__ import main
from monitor.intake.tide import Constituent, NoTide, Station, coops_station, heights_m, turns

pytest.importorskip("utide")


@pytest.fixture(scope="module")
def seattle(shared: Path) -> Station:
    return coops_station((shared / "data" / "met" / "coops_mdapi_station_9447130_expanded.json").read_text())


@pytest.fixture(scope="module")
def month(shared: Path) -> tuple[list[datetime], np.ndarray]:
    with gzip.open(shared / "data" / "met" / "coops_water_level_9447130_2015-01.json.gz") as file:
        rows = json.load(file)["data"]
    times = [datetime.fromisoformat(row["t"]).replace(tzinfo=UTC) for row in rows]
    return times, np.array([float(row["v"]) for row in rows])


def test_the_mean_level_is_that_of_the_datums(seattle: Station) -> None:
    """MSL 14.58 ft less MLLW 7.94 ft on the station's staff."""
    assert seattle.mean_above_datum_m == pytest.approx((14.58 - 7.94) * 0.3048)
    assert {"M2", "S2", "K1", "O1"} <= {c.name for c in seattle.constituents}


def test_a_month_of_heights(seattle: Station, month: tuple[list[datetime], np.ndarray]) -> None:
    times, measured_m = month
    off_m = heights_m(seattle, times) - measured_m
    print(f"mean {off_m.mean():.3f} m, sd {off_m.std():.3f} m, of a range {np.ptp(measured_m):.2f} m")
    assert off_m.std() < 0.15
    assert abs(off_m.mean()) < 0.25


def test_high_and_low_waters(seattle: Station, month: tuple[list[datetime], np.ndarray]) -> None:
    """Each against the turn of the measured curve, smoothed over an hour, near by."""
    times, measured_m = month
    smooth_m = np.convolve(measured_m, np.ones(11) / 11, "same")
    found = turns(seattle, times[100], times[-100])
    assert all(b.high != a.high and b.at > a.at for a, b in pairwise(found))
    assert len(found) == pytest.approx(4 * 28.9 / 1.035, abs=8)  # four turns a lunar day of 24.84 h
    late_min, off_m = [], []
    for turn in found[1:-1]:
        near = [i for i, time in enumerate(times) if abs(time - turn.at) <= timedelta(hours=1, minutes=30)]
        best = (max if turn.high else min)(near, key=lambda i: smooth_m[i])
        late_min.append((turn.at - times[best]) / timedelta(minutes=1))
        off_m.append(turn.height_m - smooth_m[best])
    assert abs(float(np.median(late_min))) < 10.0 and float(np.percentile(np.abs(late_min), 90)) < 45.0
    assert float(np.std(off_m)) < 0.15


def test_one_constituent_alone_goes_by_its_published_speed() -> None:
    """M2: 28.984104° an hour, a period of 12.4206 h (Doodson; CO-OPS gives the same speed)."""
    alone = Station("nowhere", 50.0, 3.0, (Constituent("M2", 2.0, 0.0),))
    found = turns(alone, datetime(2026, 3, 1, tzinfo=UTC), datetime(2026, 3, 29, tzinfo=UTC))
    highs = [turn.at for turn in found if turn.high]
    period_h = (highs[-1] - highs[0]) / timedelta(hours=1) / (len(highs) - 1)
    assert period_h == pytest.approx(360 / 28.984104, abs=0.002)
    assert all(turn.height_m == pytest.approx(5.0 if turn.high else 1.0, abs=0.08) for turn in found)


@pytest.mark.parametrize("text", ["", "{}", '{"stations": []}', '{"stations": [{"name": "x"}]}', "[" * 100_000])
def test_what_is_no_station(text: str) -> None:
    with pytest.raises(NoTide):
        coops_station(text)


def test_a_constituent_nobody_knows() -> None:
    odd = Station("nowhere", 50.0, 3.0, (Constituent("Q99", 2.0, 0.0),))
    with pytest.raises(NoTide, match="Q99"):
        heights_m(odd, [datetime(2026, 3, 1, tzinfo=UTC)])


def test_the_command_writes_rows_that_a_stay_takes(shared: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each tide alternates and rises to its high water: what `settings/sense` asks of a stay."""
    station = str(shared / "data" / "met" / "coops_mdapi_station_9447130_expanded.json")
    assert main(["tide", station, "--begins", "2026-03-14T00:00Z", "--ends", "2026-03-16T00:00Z"]) == 0
    rows = tomllib.loads(capsys.readouterr().out)["tide"]
    assert (
        rows[0]["at"] <= datetime(2026, 3, 14, tzinfo=UTC) <= datetime(2026, 3, 16, tzinfo=UTC) <= rows[-1]["at"]
    )
    heights = [float(row["height"].removesuffix(" m")) for row in rows]
    for before, after, one, two in zip(rows, rows[1:], heights, heights[1:], strict=False):
        assert before["water"] != after["water"] and (two > one) == (after["water"] == "high")
