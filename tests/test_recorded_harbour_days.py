"""Real traffic through the whole watch: MarineCadastre rows of 3 January 2022 at berths of our own making.

MarineCadastre.gov (US Coast Guard, NOAA, BOEM; US government work). Times and antenna distances of the passes are
those of `passing_pairs_2022-01-03.csv`, interpolated there; what the lines bore is known to nobody.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from monitor.records.estimates import PassingOutlook
from monitor.records.events import Priority, Transition
from monitor.run.recording import open_recording
from monitor.run.replay import Passes, replay
from tests.recorded_berths import LaidUp, recording_of

# The lying ship, the one that passes, the ship whose track is the channel; then when and how far off she passed.
CASES = {
    "lower Mississippi": (
        LaidUp("new_orleans_mississippi", 257527000, 370866000, 319120100, 18.0, -1.5),
        "00:14:09",
        254.0,
    ),
    "Corpus Christi, inner": (
        LaidUp("corpus_christi", 367109000, 368139720, 368127060, 14.5, 0.0),
        "00:13:28",
        54.0,
    ),
    "Corpus Christi, outer": (
        LaidUp("corpus_christi", 538003450, 257575000, 368043510, 14.5, 0.0),
        "00:09:21",
        169.0,
    ),
}


@pytest.mark.parametrize("place", CASES)
def test_the_recorded_pass_is_seen(place: str, shared: Path, config: Path, tmp_path: Path) -> None:
    case, at, antennas_m = CASES[place]
    imported = recording_of(case, shared, config, tmp_path)
    assert imported.heard > 1000
    passed_at = datetime.fromisoformat(f"2022-01-03T{at}").replace(tzinfo=UTC)
    passes, raised, flood = Passes(), [], False
    with open_recording(tmp_path / "recording") as recording:
        for concluded_at, conclusion in replay(
            recording, passed=lambda _, p: passes.look(p) if p is not None else None
        ):
            if isinstance(conclusion, Transition) and conclusion.priority is Priority.ALARM:
                raised.append(conclusion.alert)
            flood |= isinstance(conclusion, Transition) and conclusion.alert == "own:flood"
            if concluded_at > passed_at + timedelta(minutes=3):
                break
    (seen,) = [one for (mmsi, _), one in passes.last.items() if mmsi == case.passing_mmsi]
    _told_right(seen, passed_at, antennas_m)
    assert raised == []  # nobody reported trouble that day
    assert not flood  # a full harbour is no flood of false ships


def _told_right(seen: PassingOutlook, at: datetime, antennas_m: float) -> None:
    """Time within a minute and a half of the closest antennas (which lie up to half a length from midships); the
    gap between the hulls below the distance of the antennas."""
    encounter = seen.encounter
    assert abs(encounter.abeam_at - at) < timedelta(seconds=90)
    assert encounter.distance_m.low < antennas_m
    assert seen.lines
    assert all(load.utilisation.low >= 0.0 for load in seen.lines)
