"""The shipped scenario: an arrangement a mooring officer would accept, by published guides."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from monitor.settings.fit import lies
from monitor.settings.load import load_stay
from monitor.settings.schema import Settings

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
