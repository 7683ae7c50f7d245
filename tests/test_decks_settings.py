"""Deck plans and places on the quay: every fault in its exact words; none at all when nothing is entered."""

from __future__ import annotations

from pathlib import Path

import pytest

from monitor.settings.load import load_stay
from tests.settings_texts import BERTH, BERTH_FILE, GOOD, NAME, SHIP, SHIP_FILE, faults_of, write

DECKS = """
[[decks]]
name = "forecastle"
above_keel = "8.5 m"
outline = [["44 m", "0 m"], ["41 m", "3.2 m"], ["28 m", "6 m"], ["28 m", "-6 m"], ["41 m", "-3.2 m"]]

[[decks.bulkheads]]
name = "mast house"
outline = [["30 m", "1 m"], ["32 m", "1 m"], ["32 m", "4 m"], ["30 m", "4 m"]]

[[decks.fittings]]
name = "W1"
kind = "drum"
forward = "33 m"
starboard = "-1.5 m"
radius = "0.3 m"
line_above_deck = "1 m"

[[decks.fittings]]
name = "roller"
kind = "pedestal roller"
forward = "37 m"
starboard = "-2.5 m"
radius = "0.2 m"
line_above_deck = "0.8 m"

[[decks.stations]]
name = "winch control"
forward = "31 m"
starboard = "-3 m"

[[decks.leads]]
line = "H1"
through = ["W1", "roller", "F1"]

[[decks]]
name = "poop"
above_keel = "8 m"
outline = [["-30 m", "5 m"], ["-43 m", "4.5 m"], ["-43 m", "-4.5 m"], ["-30 m", "-5 m"]]

[[decks.fittings]]
name = "W2"
kind = "bitts"
forward = "-35.5 m"
starboard = "-2 m"
radius = "0.2 m"
line_above_deck = "0.5 m"

[[decks.leads]]
line = "S1"
through = ["W2", "F2"]
"""
ASHORE = """
[ashore]
edge = "4 m"

[[ashore.stations]]
name = "gangway foot"
along = "0 m"
behind_face = "2 m"
"""
DECKED = {**GOOD, SHIP_FILE: SHIP + DECKS, BERTH_FILE: BERTH + ASHORE}


def broken(old: str, new: str, file: str = SHIP_FILE) -> dict[str, str]:
    assert DECKED[file].count(old) == 1, old
    return {**DECKED, file: DECKED[file].replace(old, new)}


def test_good_plans_have_no_fault_and_say_what_they_hold(tmp_path: Path) -> None:
    settings = load_stay(write(tmp_path, DECKED), NAME)
    assert [deck.name for deck in settings.ship.decks] == ["forecastle", "poop"]
    assert settings.ship.decks[0].leads[0].through == ("W1", "roller", "F1")
    assert settings.ship.decks[0].outline[0] == (44.0, 0.0)
    assert settings.berth.ashore is not None and settings.berth.ashore.edge == 4.0


def test_without_plans_there_is_no_fault_and_no_plan(tmp_path: Path) -> None:
    settings = load_stay(write(tmp_path, GOOD), NAME)
    assert settings.ship.decks == () and settings.berth.ashore is None


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            'through = ["W1", "roller", "F1"]',
            'through = ["W1", "rolle", "F1"]',
            """\
config/ships/plover.toml, line 105: decks[1] "forecastle".leads[1] "H1".through[2]
  written: "rolle"
  problem: no fitting here of this name
  allowed: W1, roller
  nearest: roller""",
        ),
        (
            'through = ["W1", "roller", "F1"]',
            'through = ["W1", "roller", "F2"]',
            """\
config/ships/plover.toml, line 105: decks[1] "forecastle".leads[1] "H1".through[3]
  written: "F2"
  problem: not where H1 goes
  allowed: F1, as in its line""",
        ),
        (
            'forward = "37 m"\nstarboard = "-2.5 m"',
            'forward = "37 m"\nstarboard = "-6.5 m"',
            """\
config/ships/plover.toml, line 93: decks[1] "forecastle".fittings[2] "roller".forward
  written: "37 m"
  problem: 2.4 m outside the deck
  allowed: a place inside the outline of forecastle

config/ships/plover.toml, line 105: decks[1] "forecastle".leads[1] "H1".through
  written: a list of 3
  problem: 11.7 m long on the plan
  allowed: 6.8 m to 9.2 m, about lead_on_deck""",
        ),
        (
            'forward = "31 m"\nstarboard = "-3 m"',
            'forward = "31 m"\nstarboard = "3 m"',
            """\
config/ships/plover.toml, line 100: decks[1] "forecastle".stations[1] "winch control".forward
  written: "31 m"
  problem: inside mast house
  allowed: a place on the open deck""",
        ),
        (
            '[["30 m", "1 m"], ["32 m", "1 m"], ["32 m", "4 m"], ["30 m", "4 m"]]',
            '[["35 m", "-4 m"], ["36 m", "-4 m"], ["36 m", "-1 m"], ["35 m", "-1 m"]]',
            """\
config/ships/plover.toml, line 105: decks[1] "forecastle".leads[1] "H1".through
  written: a list of 3
  problem: runs through mast house
  allowed: a lead past it""",
        ),
        (
            '["-43 m", "4.5 m"]',
            '["-43 m", "14.5 m"]',
            """\
config/ships/plover.toml, line 110: decks[2] "poop".outline[2]
  written: a list of 2
  problem: outside the hull
  allowed: within 45.0 m of midships and 7.0 m of the centre line""",
        ),
        (
            '[["44 m", "0 m"], ["41 m", "3.2 m"], ["28 m", "6 m"]',
            '[["28 m", "6 m"], ["41 m", "3.2 m"], ["44 m", "0 m"]',
            """\
config/ships/plover.toml, line 76: decks[1] "forecastle".outline
  written: a list of 5
  problem: its sides cross or enclose nothing
  allowed: corners in their order""",
        ),
        (
            'outline = [["30 m", "1 m"]',
            'outline = [["30", "1 m"]',
            """\
config/ships/plover.toml, line 80: decks[1] "forecastle".bulkheads[1] "mast house".outline[1][1]
  written: "30"
  problem: the unit is missing: write for instance "12.5 m"
  allowed: -600 m to 2000 m""",
        ),
        (
            'kind = "pedestal roller"',
            'kind = "drum"',
            """\
config/ships/plover.toml, line 105: decks[1] "forecastle".leads[1] "H1".through[2]
  written: "roller"
  problem: no line is taken round a drum of another
  allowed: capstan, bitts, pedestal roller, warping drum""",
        ),
        (
            'forward = "37 m"\nstarboard = "-2.5 m"',
            'forward = "33.2 m"\nstarboard = "-1.5 m"',
            """\
config/ships/plover.toml, line 93: decks[1] "forecastle".fittings[2] "roller".forward
  written: "33.2 m"
  problem: stands in W1
  allowed: at least 0.5 m from it""",
        ),
        (
            'line = "S1"\nthrough',
            'line = "H1"\nthrough',
            """\
config/ships/plover.toml, line 61: lines[2] "S1".name
  written: "S1"
  problem: its lead is on no deck
  allowed: a lead in one of the decks, or no decks

config/ships/plover.toml, line 121: decks[2] "poop".leads[1] "H1".line
  written: "H1"
  problem: led already, in decks[1].leads[1]

config/ships/plover.toml, line 122: decks[2] "poop".leads[1] "H1".through[1]
  written: "W2"
  problem: not where H1 goes
  allowed: W1, as in its line

config/ships/plover.toml, line 122: decks[2] "poop".leads[1] "H1".through[2]
  written: "F2"
  problem: not where H1 goes
  allowed: F1, as in its line""",
        ),
        (
            'name = "poop"',
            'name = "forecastle"',
            """\
config/ships/plover.toml, line 108: decks[2] "forecastle".name
  written: "forecastle"
  problem: the same as in decks[1]""",
        ),
        (
            'line_above_deck = "0.5 m"\n',
            "",
            """\
config/ships/plover.toml, line 112: decks[2] "poop".fittings[1] "W2".line_above_deck
  problem: missing
  allowed: 0 m to 6 m""",
        ),
    ],
)
def test_each_fault_of_a_deck_plan_in_its_words(tmp_path: Path, old: str, new: str, told: str) -> None:
    assert faults_of(tmp_path, broken(old, new)) == told


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            'behind_face = "2 m"',
            'behind_face = "-2 m"',
            """\
config/berths/coal-steps.toml, line 75: ashore.stations[1] "gangway foot".behind_face
  written: "-2 m"
  problem: in the water
  allowed: 0 m or more behind the face""",
        ),
        (
            'along = "0 m"',
            'along = "130 m"',
            """\
config/berths/coal-steps.toml, line 74: ashore.stations[1] "gangway foot".along
  written: "130 m"
  problem: beyond the end of the quay
  allowed: -80.0 m to 120.0 m, the quay""",
        ),
        (
            'edge = "4 m"\n',
            "",
            """\
config/berths/coal-steps.toml, line 69: ashore.edge
  problem: missing
  allowed: 1 m to 100 m""",
        ),
    ],
)
def test_each_fault_of_places_on_the_quay(tmp_path: Path, old: str, new: str, told: str) -> None:
    assert faults_of(tmp_path, broken(old, new, BERTH_FILE)) == told
