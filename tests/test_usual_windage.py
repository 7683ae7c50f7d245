"""Usual wind areas against PIANC MarCom WG 33 (2002), App. C (from memory), and ships whose areas are told."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import get_args

import pytest

from monitor.physics.hulls import NORMAL_95
from monitor.physics.usual_windage import LAWS, completed, usual_windage
from monitor.physics.windage import windage_at_draught
from monitor.settings.assumed import assumptions
from monitor.settings.faults import SettingsFault
from monitor.settings.load import load_stay
from monitor.settings.schema import WindageType
from monitor.settings.sense import NO_USUAL_WINDAGE
from monitor.watch import stay
from monitor.watch.moored import Moored
from tests.settings_texts import NAME, SHIP_FILE, changed, write

# Type, LOA, beam, laden lateral and frontal area (m²).
PIANC_2002 = [
    ("cargo vessel, loaded", 170.0, 24.9, 1760.0, 466.0),
    ("container ship, loaded", 244.0, 32.3, 4970.0, 950.0),
    ("tanker, loaded", 250.0, 40.6, 2230.0, 690.0),
    ("tanker, in ballast", 138.0, 22.5, 770.0, 281.0),
    ("ferry", 174.0, 26.8, 2920.0, 582.0),
    ("passenger liner", 169.0, 24.2, 3270.0, 599.0),
    ("liquefied natural gas tanker", 252.0, 39.3, 4730.0, 1270.0),
]


@pytest.mark.parametrize("row", PIANC_2002)
def test_laden_areas(row: tuple[WindageType, float, float, float, float]) -> None:
    kind, loa, beam, lateral, frontal = row
    usual = usual_windage(kind, loa, beam)
    assert usual is not None
    assert usual.area.lateral_m2 == pytest.approx(lateral, rel=0.02)
    assert usual.area.frontal_m2 == pytest.approx(frontal, rel=0.02)
    assert 0.0 < usual.area.centroid_height_m < 0.5 * beam


def test_over_the_whole_table(shared: Path) -> None:
    kinds: dict[str, WindageType] = {
        "general_cargo": "cargo vessel, loaded",
        "container": "container ship, loaded",
        "oil_tanker": "tanker, loaded",
        "ferry": "ferry",
        "passenger": "passenger liner",
        "gas_carrier": "liquefied natural gas tanker",
    }
    checked = 0
    with (shared / "reference/wind/ship_windage_defaults.csv").open() as lines:
        for row in csv.DictReader(line for line in lines if not line.startswith("#")):
            if row["type"] in kinds:
                usual = usual_windage(kinds[row["type"]], float(row["LOA_m"]), float(row["B_m"]))
                assert usual is not None
                assert usual.area.lateral_m2 == pytest.approx(float(row["AL_full_m2"]), rel=0.02)
                assert usual.area.frontal_m2 == pytest.approx(float(row["AF_full_m2"]), rel=0.02)
                checked += 1
    assert checked == 67


@pytest.mark.parametrize(
    ("loa", "beam", "full", "half", "lateral"),
    [(250.0, 40.6, 14.6, 7.3, 4050.0), (201.0, 32.3, 11.9, 5.9, 2690.0)],
)
def test_in_ballast_by_geometry(loa: float, beam: float, full: float, half: float, lateral: float) -> None:
    """The same table's tankers in ballast, at half their draught (common practice, no source)."""
    usual = usual_windage("tanker, in ballast", loa, beam)
    assert usual is not None
    risen = windage_at_draught(usual.area, full, half, half, 0.955 * loa, beam)
    assert risen.lateral_m2 == pytest.approx(lateral, rel=0.06)


def test_a_modern_car_carrier_lies_in_her_band() -> None:
    """The invented car carrier of the wind checks, 200 × 32.3 m with 5200 and 980 m²: modern proportions."""
    usual = usual_windage("car carrier", 200.0, 32.3)
    assert usual is not None
    assert usual.area.lateral_m2 == pytest.approx(5200.0, rel=usual.spread)
    assert usual.area.frontal_m2 == pytest.approx(980.0, rel=NORMAL_95 * usual.spread)


def test_beyond_its_lengths_a_law_is_less_sure() -> None:
    inside, beyond = (usual_windage("container ship, loaded", loa, 61.0) for loa in (286.0, 400.0))
    assert inside is not None and beyond is not None
    assert beyond.spread == pytest.approx(1.5 * inside.spread)


def test_where_no_table_is_known_none_is_made_up() -> None:
    without = {kind for kind in get_args(WindageType) if usual_windage(kind, 80.0, 18.0) is None}
    assert without == set(NO_USUAL_WINDAGE)
    assert set(LAWS) | without | {"car carrier"} == set(get_args(WindageType))


def test_what_is_known_is_kept() -> None:
    known = completed(
        "tanker, loaded", 183.0, 32.2, 175.0, 12.5, 9.0,
        lateral_m2=2000.0, frontal_m2=700.0, centroid_forward_m=-6.0, centroid_height_m=6.5, spread=0.05,
    )  # fmt: skip
    assert (known.area.lateral_m2, known.area.frontal_m2, known.spread) == (2000.0, 700.0, 0.05)
    no_front = completed(
        "tanker, loaded", 183.0, 32.2, 175.0, 12.5, 9.0,
        lateral_m2=2000.0, frontal_m2=None, centroid_forward_m=-6.0, centroid_height_m=None, spread=0.05,
    )  # fmt: skip
    usual = usual_windage("tanker, loaded", 183.0, 32.2)
    assert usual is not None
    assert no_front.area.frontal_m2 == pytest.approx(usual.area.frontal_m2 + 3.5 * 32.2)
    assert (no_front.area.lateral_m2, no_front.area.centroid_forward_m, no_front.spread) == (2000.0, -6.0, 0.05)


def test_unknown_in_the_settings(tmp_path: Path) -> None:
    """The usual areas carry the loads, the band widens, and it is said aloud; without a table it is a fault."""
    files = changed(SHIP_FILE, 'lateral_area = "620 m^2"', 'lateral_area = "unknown"')
    files = changed(SHIP_FILE, 'centroid_forward = "-4 m"', 'centroid_forward = "unknown"', files)
    settings = load_stay(write(tmp_path / "good", files), NAME)
    moored, ship = Moored(settings), settings.ship
    usual = usual_windage(ship.windage.type, ship.loa, ship.beam)
    assert usual is not None
    assert moored.windage.spread == usual.spread > ship.windage.lateral_area_spread
    rise_m = ship.summer_draught - ship.windage.reference_draught
    strip_m2 = rise_m * ship.length_between_perpendiculars
    assert moored.windage.area.lateral_m2 == pytest.approx(usual.area.lateral_m2 + strip_m2)
    assert moored.windage.area.frontal_m2 == ship.windage.frontal_area
    load = moored.wind_load([15.0], 0.0, stay.begin(settings.stay), None)
    assert abs(float(load.sway_n[0])) > 0.0
    assert any("windage: lateral area, centroid forward unknown" in text for text in assumptions(settings))

    kind = f'type = "{ship.windage.type}"'
    tableless = changed(SHIP_FILE, kind, 'type = "research vessel"', files)
    with pytest.raises(SettingsFault, match="no usual one is known for the type research vessel"):
        load_stay(write(tmp_path / "bad", tableless), NAME)
