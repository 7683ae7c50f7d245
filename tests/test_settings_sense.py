"""Figures that cannot all be true together, each told in its exact words and by nothing else."""

from __future__ import annotations

from pathlib import Path

import pytest

from monitor.settings.fit import lies
from monitor.settings.load import load_stay
from tests.settings_texts import (
    ALERTS_FILE,
    BERTH_FILE,
    GOOD,
    NAME,
    SHIP_FILE,
    STAY_FILE,
    changed,
    faults_of,
    write,
)


@pytest.mark.parametrize(
    ("file", "old", "new", "told"),
    [
        (
            SHIP_FILE,
            'length_between_perpendiculars = "84 m"',
            'length_between_perpendiculars = "94 m"',
            """\
config/ships/plover.toml, line 5: length_between_perpendiculars
  written: "94 m"
  problem: longer than the ship
  allowed: at most 90.0 m, her loa""",
        ),
        (
            SHIP_FILE,
            'depth_moulded = "8 m"',
            'depth_moulded = "5 m"',
            """\
config/stays/plover-coal-steps.toml, line 9: draught_aft
  written: "5 m"
  problem: the deck would be under water
  allowed: less than 5.0 m, depth_moulded

config/ships/plover.toml, line 8: summer_draught
  written: "5.5 m"
  problem: deeper than the hull is high
  allowed: at most 5.0 m, her depth_moulded""",
        ),
        (
            SHIP_FILE,
            'anemometer_above_keel = "24 m"',
            'anemometer_above_keel = "2 m"',
            """\
config/ships/plover.toml, line 10: anemometer_above_keel
  written: "2 m"
  problem: under water
  allowed: above 5.5 m, her draught""",
        ),
        (
            SHIP_FILE,
            'above_keel = "9.5 m"',
            'above_keel = "24 m"',
            """\
config/ships/plover.toml, line 25: fairleads[1] "F1".above_keel
  written: "24 m"
  problem: as high as her anemometer
  allowed: below 24.0 m""",
        ),
        (
            SHIP_FILE,
            'length_between_perpendiculars = "84 m"',
            'length_between_perpendiculars = "48 m"',
            """\
config/ships/plover.toml, line 5: length_between_perpendiculars
  written: "48 m"
  problem: far shorter than the ship
  allowed: at least 63.0 m, 70 % of her loa""",
        ),
        (
            BERTH_FILE,
            'on = "gust", averaging = "3 s"',
            'on = "gust", averaging = "10 min"',
            """\
config/berths/coal-steps.toml, line 64: limits.stop_cargo.averaging
  written: "10 min"
  problem: does not go with a gust wind
  allowed: "gust": above 0 s, at most 60 s; "mean": at least 10 s""",
        ),
        (
            BERTH_FILE,
            'on = "gust", averaging = "3 s"',
            'on = "mean", averaging = "3 s"',
            """\
config/berths/coal-steps.toml, line 64: limits.stop_cargo.averaging
  written: "3 s"
  problem: does not go with a mean wind
  allowed: "gust": above 0 s, at most 60 s; "mean": at least 10 s""",
        ),
        (
            ALERTS_FILE,
            'log_file = "notices.log"',
            'log_file = "../watch.log"',
            """\
config/alerts/plain.toml, line 2: log_file
  written: "../watch.log"
  problem: no name for this file in the data folder
  allowed: a name without a folder, ending in .log""",
        ),
        (
            ALERTS_FILE,
            'log_file = "notices.log"',
            'log_file = "notices.log"\ndead_man = { file = "addresses.toml", every = "30 s" }',
            """\
config/alerts/plain.toml, line 3: dead_man.file
  written: "addresses.toml"
  problem: no name for this file in the data folder
  allowed: a name without a folder, ending in .json""",
        ),
        (
            SHIP_FILE,
            'reference_draught = "5 m"',
            'reference_draught = "7 m"',
            """\
config/ships/plover.toml, line 14: windage.reference_draught
  written: "7 m"
  problem: too deep
  allowed: at most 5.8 m, 5 % over her summer_draught""",
        ),
        (
            SHIP_FILE,
            'lateral_area = "620 m^2"',
            'lateral_area = "62 m^2"',
            """\
config/ships/plover.toml, line 15: windage.lateral_area
  written: "62 m^2"
  problem: does not go with her size
  allowed: 90 m^2 to 6300 m^2: her loa times 1 m to 70 m

config/ships/plover.toml, line 16: windage.frontal_area
  written: "180 m^2"
  problem: larger than the lateral area: exchanged?""",
        ),
        (
            SHIP_FILE,
            'centroid_forward = "-4 m"',
            'centroid_forward = "-46 m"',
            """\
config/ships/plover.toml, line 17: windage.centroid_forward
  written: "-46 m"
  problem: outside the hull
  allowed: -45.0 m to 45.0 m""",
        ),
        (
            SHIP_FILE,
            'forward = "41 m"',
            'forward = "410 m"',
            """\
config/stays/plover-coal-steps.toml, line 16: lines[1] "H1".bollard
  written: "B2"
  problem: 355 m from its fairlead F1
  allowed: a bollard 1 m to 250 m from it

config/ships/plover.toml, line 23: fairleads[1] "F1".forward
  written: "410 m"
  problem: outside the hull
  allowed: -45.0 m to 45.0 m""",
        ),
        (
            SHIP_FILE,
            'starboard = "-3 m"',
            'starboard = "-8 m"',
            """\
config/ships/plover.toml, line 24: fairleads[1] "F1".starboard
  written: "-8 m"
  problem: outside the hull
  allowed: -7.0 m to 7.0 m""",
        ),
        (
            SHIP_FILE,
            'kind = "bitts"\nrender = "unknown"',
            'kind = "bitts"\nrender = "180 kN"',
            """\
config/ships/plover.toml, line 44: winches[2] "W2".render
  written: "180 kN"
  problem: bitts do not render
  allowed: "unknown\"""",
        ),
        (
            SHIP_FILE,
            'ldbf = "310 kN"',
            'ldbf = "210 kN"',
            """\
config/ships/plover.toml, line 53: lines[1] "H1".ldbf
  written: "210 kN"
  problem: does not go with the ship design MBL (90 % to 150 % of it)
  allowed: 270 kN to 450 kN""",
        ),
        (
            SHIP_FILE,
            'breaking_force = "380 kN"',
            'breaking_force = "38 kN"',
            """\
config/ships/plover.toml, line 71: lines[2] "S1".tail.breaking_force
  written: "38 kN"
  problem: does not go with the ship design MBL (90 % to 250 % of it)
  allowed: 270 kN to 750 kN""",
        ),
        (
            SHIP_FILE,
            'residual_strength = "90 %"',
            'residual_strength = "0 %"',
            """\
config/ships/plover.toml, line 54: lines[1] "H1".residual_strength
  written: "0 %"
  problem: a line without strength
  allowed: more than 0 %""",
        ),
        (
            SHIP_FILE,
            '"4 %", "5 %"',
            '"5 %", "4 %"',
            """\
config/ships/plover.toml, line 58: lines[1] "H1".strains
  written: a list of 5
  problem: must rise from each load to the next
  allowed: 5 rising strains above 0 %""",
        ),
        (
            SHIP_FILE,
            'render = "180 kN"',
            'render = "360 kN"',
            """\
config/ships/plover.toml, line 53: lines[1] "H1".ldbf
  written: "310 kN"
  problem: its drum W1 would render only above this line's breaking force
  allowed: at least 360 kN, or a lower render""",
        ),
        (
            BERTH_FILE,
            'begins_along = "-80 m"',
            'begins_along = "180 m"',
            """\
config/berths/coal-steps.toml, line 13: quay.ends_along
  written: "120 m"
  problem: not beyond begins_along
  allowed: above 180.0 m""",
        ),
        (
            BERTH_FILE,
            "hours_from_high_water = 6.5",
            "hours_from_high_water = -6",
            """\
config/berths/coal-steps.toml, line 50: stream[2].hours_from_high_water
  written: -6
  problem: not in time order
  allowed: more than -6, the row before""",
        ),
        (
            BERTH_FILE,
            'longitude = "-29.95 deg"',
            'longitude = "29.95 deg"',
            """\
config/berths/coal-steps.toml, line 60: fairway.middle[2]
  written: a table
  problem: 4727 km from the berth
  allowed: within 50 km""",
        ),
        (
            BERTH_FILE,
            'longitude = "-29.95 deg"',
            'longitude = "-30.05 deg"',
            """\
config/berths/coal-steps.toml, line 60: fairway.middle[2]
  written: a table
  problem: the same point as the one before""",
        ),
        (
            BERTH_FILE,
            'along = "60 m"\nbehind_face = "1 m"',
            'along = "30 m"\nbehind_face = "-5 m"',
            """\
config/berths/coal-steps.toml, line 25: bollards[2] "B2".behind_face
  written: "-5 m"
  problem: in the hull as she lies in config/stays/plover-coal-steps.toml
  allowed: at least -1.0 m""",
        ),
        (
            STAY_FILE,
            'pretension = "20 kN"',
            'pretension = "150 kN"',
            """\
config/stays/plover-coal-steps.toml, line 17: lines[1] "H1".pretension
  written: "150 kN"
  problem: not below the working limit
  allowed: less than 150 kN, the line's working limit""",
        ),
        (
            STAY_FILE,
            'midships_along = "5 m"',
            'midships_along = "500 m"',
            """\
config/stays/plover-coal-steps.toml, line 7: midships_along
  written: "500 m"
  problem: no fender meets the flat of her side
  allowed: within 33.6 m of a fender: they stand from -20.0 m to 20.0 m

config/stays/plover-coal-steps.toml, line 16: lines[1] "H1".bollard
  written: "B2"
  problem: 481 m from its fairlead F1
  allowed: a bollard 1 m to 250 m from it

config/stays/plover-coal-steps.toml, line 16: lines[1] "H1".bollard
  written: "B2"
  problem: aft of midships: no place for head lines
  allowed: another bollard, side_to or midships_along

config/stays/plover-coal-steps.toml, line 21: lines[2] "S1".bollard
  written: "B1"
  problem: 519 m from its fairlead F2
  allowed: a bollard 1 m to 250 m from it""",
        ),
        (
            STAY_FILE,
            'side_to = "port"',
            'side_to = "starboard"',
            """\
config/stays/plover-coal-steps.toml, line 16: lines[1] "H1".bollard
  written: "B2"
  problem: aft of midships: no place for head lines
  allowed: another bollard, side_to or midships_along

config/stays/plover-coal-steps.toml, line 21: lines[2] "S1".bollard
  written: "B1"
  problem: forward of midships: no place for stern lines
  allowed: another bollard, side_to or midships_along""",
        ),
        (
            STAY_FILE,
            'draught_aft = "5 m"',
            'draught_aft = "8.2 m"',
            """\
config/stays/plover-coal-steps.toml, line 9: draught_aft
  written: "8.2 m"
  problem: her mean draught would be 6.3 m
  allowed: a mean of at most 5.8 m, 5 % over her summer_draught

config/stays/plover-coal-steps.toml, line 9: draught_aft
  written: "8.2 m"
  problem: she would be aground at the lowest tide of the stay
  allowed: less than 7.5 m: depth_at_datum plus a tide of 0.5 m""",
        ),
        (
            STAY_FILE,
            'draught_aft = "5 m"',
            'draught_aft = "10.2 m"',
            """\
config/stays/plover-coal-steps.toml, line 9: draught_aft
  written: "10.2 m"
  problem: her mean draught would be 7.3 m
  allowed: a mean of at most 5.8 m, 5 % over her summer_draught

config/stays/plover-coal-steps.toml, line 9: draught_aft
  written: "10.2 m"
  problem: a trim of 5.7 m
  allowed: draughts at most 4.2 m apart

config/stays/plover-coal-steps.toml, line 9: draught_aft
  written: "10.2 m"
  problem: she would be aground at the lowest tide of the stay
  allowed: less than 7.5 m: depth_at_datum plus a tide of 0.5 m

config/stays/plover-coal-steps.toml, line 20: lines[2] "S1".line
  written: "S1"
  problem: its fairlead F2 is under water at these draughts
  allowed: see the fairlead's above_keel""",
        ),
        (
            STAY_FILE,
            "tended_at = 2031-05-04T05:00:00Z",
            "tended_at = 2031-05-03T05:00:00Z",
            """\
config/stays/plover-coal-steps.toml, line 10: tended_at
  written: 2031-05-03T05:00:00Z
  problem: no tide is entered for then: the lines' slack would be unknown
  allowed: 2031-05-04T01:00:00Z to 2031-05-04T13:20:00Z, the tide entered""",
        ),
        (
            STAY_FILE,
            "2031-05-04T07:10:00Z",
            "2031-05-04T14:10:00Z",
            """\
config/stays/plover-coal-steps.toml, line 35: tide[3].at
  written: 2031-05-04T13:20:00Z
  problem: not later than the row before""",
        ),
        (
            STAY_FILE,
            "2031-05-04T13:20:00Z",
            "2031-05-05T13:20:00Z",
            """\
config/stays/plover-coal-steps.toml, line 35: tide[3].at
  written: 2031-05-05T13:20:00Z
  problem: more than 20 h after the row before: rows are left out""",
        ),
        (
            STAY_FILE,
            'height = "0.5 m"',
            'height = "5.5 m"',
            """\
config/stays/plover-coal-steps.toml, line 31: tide[2].height
  written: "5.5 m"
  problem: a low water that is not lower than the high water before

config/stays/plover-coal-steps.toml, line 31: tide[2].height
  written: "5.5 m"
  problem: the quay would be under water
  allowed: less than 5.0 m, the quay's above_datum

config/stays/plover-coal-steps.toml, line 36: tide[3].height
  written: "3.1 m"
  problem: a high water that is not higher than the low water before""",
        ),
        (
            STAY_FILE,
            'over = "serial"',
            'over = "http"',
            """\
config/stays/plover-coal-steps.toml, line 39: feeds[1] "ais".contact
  problem: missing: a feed over http needs it

config/stays/plover-coal-steps.toml, line 39: feeds[1] "ais".every
  problem: missing: a feed over http needs it

config/stays/plover-coal-steps.toml, line 42: feeds[1] "ais".over
  written: "http"
  problem: ais does not come over http
  allowed: "tcp", "udp", "serial", "file"

config/stays/plover-coal-steps.toml, line 43: feeds[1] "ais".to
  written: "/dev/ttyUSB0"
  problem: not a web address
  allowed: for instance "https://host/path"

config/stays/plover-coal-steps.toml, line 45: feeds[1] "ais".baud
  written: 38400
  problem: a feed over http has none
  allowed: leave it out, or a feed over serial""",
        ),
        (
            STAY_FILE,
            "baud = 38400\n",
            "",
            """\
config/stays/plover-coal-steps.toml, line 39: feeds[1] "ais".baud
  problem: missing: a feed over serial needs it""",
        ),
        (
            STAY_FILE,
            'stale_after = "30 s"',
            'stale_after = "30 s"\nbaud = 4800',
            """\
config/stays/plover-coal-steps.toml, line 53: feeds[2] "anemometer".baud
  written: 4800
  problem: a feed over udp has none
  allowed: leave it out, or a feed over serial""",
        ),
        (
            STAY_FILE,
            'stale_after = "30 s"',
            'stale_after = "0 s"',
            """\
config/stays/plover-coal-steps.toml, line 52: feeds[2] "anemometer".stale_after
  written: "0 s"
  problem: would be stale at once
  allowed: more than 0 s""",
        ),
        (
            STAY_FILE,
            'contact = "watch@plover.invalid"\nevery = "30 min"',
            "",
            """\
config/stays/plover-coal-steps.toml, line 54: feeds[3] "forecast".contact
  problem: missing: a feed over http needs it

config/stays/plover-coal-steps.toml, line 54: feeds[3] "forecast".every
  problem: missing: a feed over http needs it""",
        ),
        (
            STAY_FILE,
            'every = "30 min"',
            'every = "10 s"',
            """\
config/stays/plover-coal-steps.toml, line 61: feeds[3] "forecast".every
  written: "10 s"
  problem: too often, or not often enough
  allowed: 60 s to less than its stale_after""",
        ),
        (
            STAY_FILE,
            '"127.0.0.1:10110"',
            '"127.0.0.1"',
            """\
config/stays/plover-coal-steps.toml, line 51: feeds[2] "anemometer".to
  written: "127.0.0.1"
  problem: not a host and a port
  allowed: "host:port" with a port from 1 to 65535, for instance "127.0.0.1:10110\"""",
        ),
        (
            STAY_FILE,
            '"127.0.0.1:10110"',
            '"127.0.0.1:70000"',
            """\
config/stays/plover-coal-steps.toml, line 51: feeds[2] "anemometer".to
  written: "127.0.0.1:70000"
  problem: not a host and a port
  allowed: "host:port" with a port from 1 to 65535, for instance "127.0.0.1:10110\"""",
        ),
        (
            STAY_FILE,
            '"https://127.0.0.1/compact"',
            '"127.0.0.1/compact"',
            """\
config/stays/plover-coal-steps.toml, line 58: feeds[3] "forecast".to
  written: "127.0.0.1/compact"
  problem: not a web address
  allowed: for instance "https://host/path\"""",
        ),
        (
            ALERTS_FILE,
            'warning = "60 %"',
            'warning = "40 %"',
            """\
config/alerts/plain.toml, line 6: levels.warning
  written: "40 %"
  problem: below caution
  allowed: at least 45 %

config/alerts/plain.toml, line 11: with_people.warning
  written: "45 %"
  problem: people on deck would be warned later
  allowed: at most 40 %""",
        ),
        (
            ALERTS_FILE,
            'alarm = "55 %"',
            'alarm = "75 %"',
            """\
config/alerts/plain.toml, line 12: with_people.alarm
  written: "75 %"
  problem: people on deck would be warned later
  allowed: at most 70 %""",
        ),
        (
            ALERTS_FILE,
            'caution = "45 %"',
            'caution = "0 %"',
            """\
config/alerts/plain.toml, line 5: levels.caution
  written: "0 %"
  problem: would never fall
  allowed: more than 0 %

config/alerts/plain.toml, line 10: with_people.caution
  written: "35 %"
  problem: people on deck would be warned later
  allowed: at most 0 %""",
        ),
        (
            ALERTS_FILE,
            'act = "5 min"',
            'act = "15 min"',
            """\
config/alerts/plain.toml, line 23: timing.act
  written: "15 min"
  problem: not after the first notice
  allowed: less than 900 s, first_notice""",
        ),
        (
            ALERTS_FILE,
            'clear_decks_before = "2 min"',
            'clear_decks_before = "6 min"',
            """\
config/alerts/plain.toml, line 24: timing.clear_decks_before
  written: "6 min"
  problem: before the time to act
  allowed: at most 300 s, act""",
        ),
        (
            ALERTS_FILE,
            'repeat_warning = "5 min"',
            'repeat_warning = "6 min"',
            """\
config/alerts/plain.toml, line 25: timing.repeat_warning
  written: "6 min"
  problem: out of range
  allowed: more than 0 s, at most 5 min (IMO MSC.302(87))""",
        ),
        (
            ALERTS_FILE,
            'escalate_alarm = "2 min"',
            'escalate_alarm = "0 s"',
            """\
config/alerts/plain.toml, line 26: timing.escalate_alarm
  written: "0 s"
  problem: leaves no time to acknowledge
  allowed: more than 0 s""",
        ),
        (
            ALERTS_FILE,
            'deadband = "7 %"',
            'deadband = "35 %"',
            """\
config/alerts/plain.toml, line 21: timing.deadband
  written: "35 %"
  problem: a caution could never fall
  allowed: less than with_people.caution""",
        ),
        (
            ALERTS_FILE,
            'target_lost = "6 min"',
            'target_lost = "0 s"',
            """\
config/alerts/plain.toml, line 27: timing.target_lost
  written: "0 s"
  problem: would be lost at once
  allowed: more than 0 s""",
        ),
        (
            SHIP_FILE,
            'group = "stern lines"',
            'group = "aft springs"',
            """\
config/stays/plover-coal-steps.toml, line 21: lines[2] "S1".bollard
  written: "B1"
  problem: an aft spring that does not lead forward
  allowed: another bollard, side_to or midships_along""",
        ),
        (
            SHIP_FILE,
            'group = "stern lines"',
            'group = "forward springs"',
            """\
config/ships/plover.toml, line 68: lines[2] "S1".fairlead
  written: "F2"
  problem: not forward of midships
  allowed: a fairlead forward of midships for forward springs""",
        ),
        (
            SHIP_FILE,
            'forward = "41 m"\nstarboard = "-3 m"',
            'forward = "30 m"\nstarboard = "6 m"',
            """\
config/stays/plover-coal-steps.toml, line 15: lines[1] "H1".line
  written: "H1"
  problem: crosses her own deck: its fairlead F1 is on the side away from the bollard
  allowed: a line led from the port side, her side_to""",
        ),
        (
            SHIP_FILE,
            'loa = "90 m"',
            'loa = "90 metre long"',
            """\
config/ships/plover.toml, line 4: loa
  written: "90 metre long"
  problem: unknown unit 'metre long': write for instance "12.5 m"
  allowed: 1 m to 500 m""",
        ),
    ],
)
def test_what_cannot_be_is_told_in_these_words(tmp_path: Path, file: str, old: str, new: str, told: str) -> None:
    assert faults_of(tmp_path, changed(file, old, new)) == told


def test_she_lies_against_the_thickest_fender(tmp_path: Path) -> None:
    """By hand: fenders of 0.8 and 1 m, beam 14 m, so her centre line is 8 m off and she heads along, 090."""
    settings = load_stay(write(tmp_path, GOOD), NAME)
    lying = lies(settings.stay, settings.ship, settings.berth)
    assert lying.centre_off_m == pytest.approx(8.0)
    assert lying.heading_deg == pytest.approx(90.0)
    assert lying.to_ship(60.0, -1.0) == pytest.approx((55.0, -9.0))  # bollard B2: forward, to port


def test_a_bollard_stands_in_the_hull_only_inside_her_rectangle(tmp_path: Path) -> None:
    """By hand: she fills 1 m to 15 m off the face and -40 m to 50 m along it."""
    for number, (along, behind, inside) in enumerate(
        [
            ("30 m", "-1.1 m", True),
            ("30 m", "-0.9 m", False),
            ("30 m", "-14.9 m", True),
            ("30 m", "-15.1 m", False),
            ("49.9 m", "-8 m", True),
            ("50.1 m", "-8 m", False),
        ]
    ):
        bollard = f'[[bollards]]\nname = "X"\nalong = "{along}"\nbehind_face = "{behind}"\nabove_datum = "5 m"\n'
        files = changed(BERTH_FILE, "[[fenders]]", f'{bollard}swl = "unknown"\n\n[[fenders]]')
        told = faults_of(tmp_path / str(number), files)
        assert ('bollards[3] "X".behind_face' in told and "in the hull" in told) == inside, (along, behind)


def test_a_lead_of_no_length_is_a_fault(tmp_path: Path) -> None:
    files = changed(SHIP_FILE, 'starboard = "-3 m"', 'starboard = "-7 m"')
    files = changed(
        BERTH_FILE, 'along = "60 m"\nbehind_face = "1 m"', 'along = "46 m"\nbehind_face = "-0.8 m"', files
    )
    assert "problem: 0 m from its fairlead F1" in faults_of(tmp_path, files)


def test_a_ship_longer_than_her_quay_is_no_fault(tmp_path: Path) -> None:
    files = changed(BERTH_FILE, 'begins_along = "-80 m"', 'begins_along = "-20 m"')
    files = changed(BERTH_FILE, 'ends_along = "120 m"', 'ends_along = "30 m"', files)
    assert faults_of(tmp_path, files) == ""


def test_a_line_that_stays_aboard_is_no_fault(tmp_path: Path) -> None:
    spare = GOOD[SHIP_FILE][GOOD[SHIP_FILE].index("[[lines]]") :].replace('name = "H1"', 'name = "H2"', 1)
    spare = spare[: spare.rindex("[[lines]]")]
    assert faults_of(tmp_path, GOOD | {SHIP_FILE: GOOD[SHIP_FILE] + "\n" + spare}) == ""


@pytest.mark.parametrize("to", ["localhost:1", "10.0.0.9:65535", "[::1]:4001", "ais-hub.ship:10110"])
def test_hosts_and_ports_that_can_be(tmp_path: Path, to: str) -> None:
    assert faults_of(tmp_path, changed(STAY_FILE, "127.0.0.1:10110", to)) == ""


@pytest.mark.parametrize(
    "to", ["localhost:0", ":4001", "localhost:", "a b:1", "::1:4001", "host:65536", "host:-1"]
)
def test_hosts_and_ports_that_cannot_be(tmp_path: Path, to: str) -> None:
    assert "problem: not a host and a port" in faults_of(tmp_path, changed(STAY_FILE, "127.0.0.1:10110", to))
