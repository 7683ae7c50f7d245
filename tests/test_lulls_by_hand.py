"""Slots of least load, by hand: what could not be worked out is no lull."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

from monitor.records.estimates import Band, LineLoad, Untended, WindOutlook
from monitor.watch.tending import SLOT, lulls, slots_of

NOW = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)


def _lines(share: float) -> tuple[LineLoad, ...]:
    band = Band(share, share, share)
    return (LineLoad("aft spring 1", "aft springs", band, band, 300e3, "working limit", ()),)


def _hour(minutes: float, lines: tuple[LineLoad, ...]) -> WindOutlook:
    return WindOutlook(NOW + timedelta(minutes=minutes), Band(4, 5, 6), 7.0, 310.0, lines, "forecast")


TIDE = tuple(Untended(NOW + timedelta(minutes=minutes), _lines(0.2)) for minutes in (30, 60, 120))


def test_by_tide_or_forecast_whichever_is_more() -> None:
    """Half-way from 0.2 to 0.4 the forecast's slot reads 0.3."""
    slots = slots_of(_lines(0.2), TIDE, [_hour(60, _lines(0.4)), _hour(120, _lines(0.1))], NOW)
    assert math.isclose(slots[2], 0.2 + 0.2 * 25 / 60) and math.isclose(slots[-1], 0.2)


def test_a_forecast_hour_that_is_not_known_is_no_lull() -> None:
    """Its lines could not be worked out, or the service left it out: nothing is told of the time beside it."""
    for hours in (
        [_hour(30, _lines(0.3)), _hour(90, ()), _hour(150, _lines(0.1))],
        [_hour(30, _lines(0.3)), _hour(150, _lines(0.1))],
        [_hour(30, _lines(0.3))],  # it ends there
    ):
        slots = slots_of(_lines(0.2), TIDE, hours, NOW)
        assert all(map(math.isfinite, slots[:3])) and all(map(math.isnan, slots[3:])), hours
        assert all(lull.end <= NOW + 3 * SLOT for lull in lulls(slots, (), NOW, 0.4))


def test_a_hole_in_what_tide_and_cargo_bring_is_no_lull() -> None:
    """Aground at 60 min, say: 30 to 120 min is not bridged."""
    slots = slots_of(_lines(0.2), (TIDE[0], TIDE[2]), (), NOW)
    assert all(map(math.isfinite, slots[:3])) and all(map(math.isnan, slots[3:]))
