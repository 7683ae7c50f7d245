"""Limits of a line and their use, against the guidelines' shares and sums by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from monitor.physics.strength import (
    LineLimits,
    alarm_level,
    bollard_swl_n,
    parting_strength_n,
    utilisation,
    working_limit_n,
)

# The chain in OCIMF's order (MEG4 in summaries; MEG2 7.5.6): working limit 50 %, brake 60 % of 640 kN.
LINE = LineLimits(
    ship_design_mbl_n=640e3,
    material="polyester",
    fairlead="bow 1",
    fairlead_swl_n=640e3,
    winch="F1",
    on_drum=True,
    winch_swl_n=None,
    brake_setting_n=384e3,
    bollard="B7",
    bollard_swl_n=500e3,
)
ON_BITTS = replace(LINE, on_drum=False, winch="forward bitts", winch_swl_n=300e3, brake_setting_n=None)


def test_working_limits_of_meg4() -> None:
    """50 % of the ship design MBL for all fibre, 55 % for steel wire; MEG2 App. E: 0.55 × 1110 kN."""
    assert working_limit_n(640e3, "HMPE") == pytest.approx(320e3)
    assert working_limit_n(1110e3, "steel wire") == pytest.approx(610.5e3)


def test_parting_strength_is_a_band() -> None:
    """Splice 0.9 (MEG2 Table 6.5 note 2), new and straight 1.0, round its own thickness 0.5 (from memory)."""
    band = parting_strength_n(660e3, 0.92)
    assert (band.low, band.mid, band.high) == pytest.approx((303.6e3, 546.48e3, 607.2e3))


def test_each_limit_governs_in_its_turn() -> None:
    lines = [
        LINE,
        replace(LINE, brake_setting_n=200e3, bollard="B1"),
        replace(LINE, fairlead_swl_n=150e3, bollard="B2"),
        replace(ON_BITTS, bollard="B3"),
        replace(LINE, winch_swl_n=100e3, bollard="B4"),
        replace(LINE, bollard="B5", bollard_swl_n=120e3),
        replace(LINE, bollard="B6", bollard_swl_n=None),
    ]
    used = utilisation(np.full((1, 7), 60e3), lines)
    limits_kn = (320.0, 200.0, 150.0, 300.0, 100.0, 120.0, 320.0)
    names = ("working limit", "brake setting", "fairlead", "bitts", "winch", "bollard B5", "working limit")
    assert used.limit_n[0] / 1e3 == pytest.approx(limits_kn)
    assert used.share[0] == pytest.approx([60.0 / kn for kn in limits_kn])
    assert tuple(used.limited_by(0, i) for i in range(7)) == names


def test_a_bollard_counts_all_its_lines() -> None:
    """300 + 150 kN on 500 kN: 90 % for both lines, whatever the others carry; a slack line on it is at nothing."""
    alone = replace(LINE, bollard="B1")
    lines = [replace(LINE, ship_design_mbl_n=1000e3, brake_setting_n=None), LINE, alone, LINE]
    used = utilisation(np.array([[300e3, 150e3, 150e3, 0.0], [0.0, 0.0, 0.0, 0.0]]), lines)
    assert used.share[0] == pytest.approx([0.9, 0.9, 150.0 / 320.0, 0.0])
    assert [used.limited_by(0, i) for i in range(4)] == [
        "bollard B7",
        "bollard B7",
        "working limit",
        "working limit",
    ]
    assert used.limit_n[0, :2] / 1e3 == pytest.approx([300.0 / 0.9, 150.0 / 0.9])
    assert np.all(used.share[1] == 0.0)
    assert np.all(used.limit_n[1] == [500e3, 320e3, 320e3, 320e3])


def test_unknown_limits_are_named_and_never_guessed() -> None:
    assert LINE.unknown == ("F1 SWL",)
    bare = replace(LINE, fairlead_swl_n=None, brake_setting_n=None, bollard_swl_n=None)
    assert bare.unknown == ("brake setting of F1", "fairlead bow 1 SWL", "F1 SWL", "bollard B7 SWL")
    assert ON_BITTS.unknown == ()  # bitts have no brake to be unknown
    assert bare.least_own == ("working limit", 320e3)
    assert utilisation(np.array([[160e3]]), [bare]).share[0, 0] == pytest.approx(0.5)


def test_an_unknown_tension_is_an_unknown_utilisation() -> None:
    used = utilisation(np.array([[np.nan, np.nan], [160e3, 32e3]]), [LINE, replace(LINE, bollard="B1")])
    assert np.isnan(used.share[0]).all()
    assert used.share[1] == pytest.approx([0.5, 0.1])


def test_one_bollard_has_one_limit() -> None:
    assert bollard_swl_n([LINE, LINE, replace(LINE, bollard="B1")]) == {"B7": 500e3, "B1": 500e3}
    with pytest.raises(ValueError, match="bollard B7 has two different limits"):
        utilisation(np.zeros((1, 2)), [LINE, replace(LINE, bollard_swl_n=None)])


@pytest.mark.parametrize(
    ("line", "asked", "given"),
    [
        (LINE, 0.9, 0.72),  # 0.6 × 384 kN ÷ 320 kN
        (LINE, 0.5, 0.5),
        (replace(LINE, brake_setting_n=200e3), 0.9, 0.6),
        (replace(LINE, brake_setting_n=None), 0.9, 0.9),
        (ON_BITTS, 0.9, 0.9),
    ],
)
def test_alarm_never_waits_beyond_sixty_per_cent_of_the_brake(
    line: LineLimits, asked: float, given: float
) -> None:
    used = utilisation(np.array([[100e3]]), [line])
    assert alarm_level(asked, used.limit_n, [line])[0, 0] == pytest.approx(given)
