"""The shipped scenario: an arrangement a mooring officer would accept, by published guides."""

from __future__ import annotations

import cmath
import math
from datetime import UTC, datetime
from pathlib import Path

import pytest

from monitor.records.estimates import Band, Validity, WindEstimate
from monitor.records.observations import ShipParticulars
from monitor.settings.fit import lies
from monitor.settings.load import load_stay
from monitor.settings.schema import Settings
from monitor.watch import stay as stay_now
from monitor.watch.estimator import Estimator
from monitor.watch.tracks import Target

STAY = "tavrin-lark-at-sedge-quay-2"


@pytest.fixture(scope="module")
def settings(config: Path) -> Settings:
    return load_stay(config, STAY)


def _leads(settings: Settings) -> dict[str, tuple[str, float, float, float]]:
    """By line: group, angle in plan off her side (0 = along, 90 = square), steepest angle, length in plan."""
    ship, berth, stay = settings.ship, settings.berth, settings.stay
    place = lies(stay, ship, berth)
    draught_m = 0.5 * (stay.draught_forward + stay.draught_aft)
    found = {}
    for led in stay.lines:
        line = next(line for line in ship.lines if line.name == led.line)
        fairlead = next(f for f in ship.fairleads if f.name == line.fairlead)
        bollard = next(b for b in berth.bollards if b.name == led.bollard)
        forward_m, starboard_m = place.to_ship(bollard.along, -bollard.behind_face)
        ahead_m, across_m = forward_m - fairlead.forward, starboard_m - fairlead.starboard
        plan_m = math.hypot(ahead_m, across_m)
        rises_m = [fairlead.above_keel - draught_m + tide.height - bollard.above_datum for tide in stay.tide]
        steepest_deg = max(abs(math.degrees(math.atan2(rise_m, plan_m))) for rise_m in rises_m)
        off_side_deg = math.degrees(math.atan2(abs(across_m), abs(ahead_m)))
        found[line.name] = line.group, off_side_deg, steepest_deg, plan_m
    return found


def test_leads_keep_the_layout_guide(settings):
    """OCIMF Mooring Equipment Guidelines, 2nd edition (1997), 2.5.4: breasts within 15° of square, springs within
    10° of the ship's side, no line steeper than 25°."""
    for name, (group, off_side_deg, steepest_deg, plan_m) in _leads(settings).items():
        assert steepest_deg <= 25.0, name
        assert 20.0 < plan_m < 65.0, name
        if "breasts" in group:
            assert off_side_deg >= 75.0, name
        if "springs" in group:
            assert off_side_deg <= 10.0, name


def test_head_lines_lead_ahead_and_springs_back(settings):
    """The trade's words: head lines ahead of the bow, stern lines astern, springs towards midships."""
    ship, berth, stay = settings.ship, settings.berth, settings.stay
    place = lies(stay, ship, berth)
    for led in stay.lines:
        line = next(line for line in ship.lines if line.name == led.line)
        fairlead = next(f for f in ship.fairleads if f.name == line.fairlead)
        bollard = next(b for b in berth.bollards if b.name == led.bollard)
        ahead_m = place.to_ship(bollard.along, -bollard.behind_face)[0] - fairlead.forward
        assert fairlead.starboard * place.quay_y_m > 0.0, led.line
        if line.group in ("head lines", "aft springs"):
            assert ahead_m > 20.0, led.line
        if line.group in ("stern lines", "forward springs"):
            assert ahead_m < -20.0, led.line


def test_strengths_go_together(settings):
    """MEG4 through secondary sources: LDBF 100 to 105 % and tails 125 to 130 % of ship design MBL; brakes at 60 %
    (MEG2 7.5.6); ship's fittings not weaker than the line (IMO MSC.1/Circ.1175/Rev.1)."""
    ship = settings.ship
    for line in ship.lines:
        mbl_n = line.ship_design_mbl
        assert 1.0 <= line.ldbf / mbl_n <= 1.05
        assert line.tail is None or 1.25 <= line.tail.breaking_force / mbl_n <= 1.30
        winch = next(winch for winch in ship.winches if winch.name == line.winch)
        assert winch.render is None if winch.kind == "bitts" else winch.render == pytest.approx(0.6 * mbl_n)
        fairlead = next(f for f in ship.fairleads if f.name == line.fairlead)
        assert fairlead.swl >= mbl_n and winch.swl >= mbl_n
    for led in settings.stay.lines:  # 5 to 10 % of it: common practice, no source
        assert 0.05 <= led.pretension / 640e3 <= 0.10


def test_one_bollard_and_one_limit_are_unknown(settings):
    """The honest gaps are part of the example."""
    assert [bollard.name for bollard in settings.berth.bollards if bollard.swl is None] == ["B11"]
    assert "B11" in {led.bollard for led in settings.stay.lines}
    assert settings.berth.limits.disconnect is None


def test_there_is_water_under_the_keel_at_low_water(settings):
    lowest_m = min(tide.height for tide in settings.stay.tide)
    clearance_m = settings.berth.depth_at_datum + lowest_m - settings.stay.draught_aft
    assert clearance_m > 0.1 * settings.stay.draught_aft


def test_alarm_levels_stay_below_the_brake(settings):
    """Ours: never above 60 % of the brake setting: 0.6 × 60 % of MBL against a working limit of 50 % of MBL."""
    assert settings.alerts.levels.alarm <= 0.6 * 0.6 / 0.5


def _mirrored(settings: Settings) -> Settings:
    """The berth as a mirror across the quay shows it: upstream is downstream, she lies starboard side to."""
    ship, berth, stay = settings.ship, settings.berth, settings.stay
    fairleads = tuple(f.model_copy(update={"starboard": -f.starboard}) for f in ship.fairleads)
    along = {
        name: tuple(each.model_copy(update={"along": -each.along}) for each in getattr(berth, name))
        for name in ("bollards", "fenders")
    }
    stream = tuple(row.model_copy(update={"set": 180.0 + 2.0 * berth.along - row.set}) for row in berth.stream)
    lies_mirrored = {"side_to": "starboard", "midships_along": -stay.midships_along}
    return settings.model_copy(
        update={
            "ship": ship.model_copy(update={"fairleads": fairleads}),
            "berth": berth.model_copy(update={**along, "stream": stream}),
            "stay": stay.model_copy(update=lies_mirrored),
        }
    )


def _lines(settings: Settings, hour: int, wind_deg: float, ship: tuple[float, float, float]) -> dict[str, Band]:
    """Tensions with the wind from so many degrees off `along`, and a ship of 300 m passing at (along, off) with a
    course off `along`."""
    estimator, along_deg = Estimator(settings), settings.berth.along
    at = datetime(2026, 3, 14, hour, tzinfo=UTC)
    wind = WindEstimate(
        at, Band(15.0, 17.0, 20.0), (along_deg + wind_deg) % 360.0, 21.0, 15.0, 0.0, "mast", 1.0, Validity.GOOD
    )
    place = complex(ship[0], ship[1]) * cmath.rect(1.0, math.radians(along_deg))
    course_deg = (along_deg + ship[2]) % 360.0
    told = ShipParticulars(200911001, at, "ais", "MIRROR", 80, 300.0, 44.0, 150.0, 22.0, 11.0)
    target = Target(
        200911001, "MIRROR", 80, place.real, place.imag, 5.0, course_deg, course_deg, False, None, None, 5.0, 8.0,
        0.0, None, 0.0, told, True, False,
    )  # fmt: skip
    found = estimator.estimate(wind, stay_now.begin(settings.stay), None, (target,), at)
    assert found.passing_load is not None
    return {load.line: load.tension_n for load in found.lines}


@pytest.mark.parametrize("hour", [10, 16])  # flood and ebb
def test_in_a_mirror_every_line_carries_the_same(settings, hour):
    """Signs of wind, stream, passing ship, leads and fenders together: any one wrong would show."""
    mirrored = _mirrored(settings)
    for wind_deg in range(20, 380, 60):
        seen = _lines(settings, hour, wind_deg, (120.0, 150.0, 10.0))
        image = _lines(mirrored, hour, 180.0 - wind_deg, (-120.0, 150.0, 170.0))
        for line, band in seen.items():
            assert (image[line].low, image[line].mid, image[line].high) == pytest.approx(
                (band.low, band.mid, band.high), rel=1e-6, abs=10.0
            )
