"""Two banks lie outside the one-wall model: what the settings tell of quay and fairway decides, and is told."""

from __future__ import annotations

import numpy as np
import pytest

from monitor.physics.hulls import Hull
from monitor.physics.passing import Basin, Track, passing_load
from monitor.records.estimates import Validity
from monitor.settings.load import load_stay
from monitor.settings.schema import Settings
from monitor.watch.moored import Moored
from tests.conftest import ROOT
from tests.ship_encounters import TANKER

STAY = "tavrin-lark-at-sedge-quay-2"


@pytest.fixture(scope="module")
def shipped() -> Settings:
    return load_stay(ROOT / "config", STAY)


def basin(settings: Settings, **berth: object) -> Basin:
    moored = Moored(settings.model_copy(update={"berth": settings.berth.model_copy(update=berth)}))
    return moored.basin(moored.water(settings.stay.tended_at))


def told(own: Hull, water: Basin, off_m: float) -> tuple[Validity, str]:
    along_m = np.linspace(-250.0, 250.0, 5)
    track = Track(along_m, np.full(5, off_m), np.zeros(5), np.full(5, 3.0))
    load = passing_load(own, own, track, water)
    assert np.all(np.isfinite(load.sway_n))
    return load.validity, "; ".join(load.reasons)


def test_the_far_edge_of_the_fairway_is_taken_for_the_far_bank(shipped: Settings) -> None:
    """Quay to the middle of the fairway, and half its width."""
    wide, narrow = (
        basin(shipped, fairway=shipped.berth.fairway.model_copy(update={"width": width}))
        for width in (220.0, 100.0)
    )
    assert wide.channel_m is not None and narrow.channel_m is not None
    assert wide.channel_m - narrow.channel_m == pytest.approx(60.0)
    assert wide.channel_m == pytest.approx(310.0, abs=2.0)


def test_a_channel_narrower_than_the_ships_are_long_is_doubtful() -> None:
    for channel_m, validity in ((240.0, Validity.DEGRADED), (260.0, Validity.GOOD)):
        found = told(TANKER, Basin(20.0, -24.0, channel_m=channel_m), 100.0)
        assert found[0] is validity
        assert ("far bank" in found[1]) is (validity is Validity.DEGRADED)


def test_what_the_bound_leaves_out_is_within_the_band() -> None:
    """A channel as wide as the ships are long, she a third across: the load of her first image in the far bank is
    under a tenth of her own, well inside the band of a GOOD answer."""
    along_m = np.linspace(-350.0, 350.0, 71)
    sizes = []
    for off_m in (80.0, 2.0 * (250.0 - 23.0) - 80.0):
        track = Track(along_m, np.full(71, off_m), np.zeros(71), np.full(71, 3.0))
        load = passing_load(TANKER, TANKER, track, Basin(18.0, -23.0))
        sizes.append([np.abs(load.surge_n).max(), np.abs(load.sway_n).max()])
    assert np.all(np.array(sizes[1]) < 0.1 * np.array(sizes[0]))


def test_a_slip_is_told_from_the_settings(shipped: Settings) -> None:
    slip = basin(shipped, quay=shipped.berth.quay.model_copy(update={"kind": "slip with more walls"}))
    assert slip.more_walls and not basin(shipped).more_walls
    assert "more walls" in told(TANKER, Basin(20.0, -24.0, more_walls=slip.more_walls), 100.0)[1]
