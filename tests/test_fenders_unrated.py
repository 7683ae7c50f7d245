"""Fenders of which nobody knows the rating: what is taken for granted, and that the lines hardly feel it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from monitor.physics.mooring import usual_fender
from monitor.records.estimates import Band
from monitor.settings.load import load_stay
from monitor.settings.schema import Fender, Settings
from monitor.watch import stay
from monitor.watch.estimator import Estimator
from monitor.watch.sharing import shared

NAME = "tavrin-lark-at-sedge-quay-2"


def rated(settings: Settings, factor: float | None) -> Settings:
    """The same with other fenders: None, of unknown rating."""

    def other(fender: Fender) -> Fender:
        if factor is None:
            return fender.model_copy(update={"rated_reaction": None, "rated_deflection": None})
        return fender.model_copy(update={"rated_reaction": factor * (fender.rated_reaction or np.nan)})

    berth = settings.berth
    fenders = tuple(map(other, berth.fenders))
    return settings.model_copy(update={"berth": berth.model_copy(update={"fenders": fenders})})


def test_usual_of_their_thickness_where_nothing_is_known() -> None:
    reaction_n, deflection_m = usual_fender(
        np.array([1.0, 0.5, 1.2]), np.array([np.nan, np.nan, 700e3]), np.array([np.nan, 0.6, np.nan])
    )
    assert reaction_n == pytest.approx([900e3, 225e3, 700e3])  # alike in shape: with the square of the size
    assert deflection_m == pytest.approx([0.55, 0.3, 0.66])


@pytest.mark.parametrize("wind_from_deg", [0.0, 45.0, 90.0, 135.0, 180.0, 225.0, 270.0, 315.0])
def test_lines_hardly_feel_how_hard_the_fenders_are(config: Path, wind_from_deg: float) -> None:
    """Three times as hard or as soft: at 35 kn no line that carries a quarter of its limit differs by more than
    2 % of it. Light ones differ by up to 8 %: pressed onto soft fenders she slackens her breasts."""
    known = load_stay(config, NAME)
    expected = used(known, wind_from_deg)
    for factor in (None, 3.0, 1.0 / 3.0):
        found = used(rated(known, factor), wind_from_deg)
        assert found == pytest.approx(expected, abs=0.08)
        heavy = [(new, was) for new, was in zip(found, expected, strict=True) if max(new, was) > 0.25]
        assert all(new == pytest.approx(was, abs=0.02) for new, was in heavy)
        assert bool(heavy) == (wind_from_deg in (270.0, 315.0, 0.0))  # off the quay


def used(settings: Settings, wind_from_deg: float) -> list[float]:
    """Middle utilisation of each line."""
    estimator, state = Estimator(settings), stay.begin(settings.stay)
    water = estimator.moored.water(settings.stay.tended_at, state)
    steady = estimator.steady(Band(16.0, 18.0, 20.0), wind_from_deg, water, state, None)[0]
    return [load.utilisation.mid for load in shared(estimator.holding(state), steady, state, water).lines(0)]
