"""Passes foretold from recorded AIS against what the ships then did: lower Mississippi, Columbia River and Corpus
Christi, 3 January 2022 (MarineCadastre.gov, US government work; one fix a minute).

`passing_pairs_2022-01-03.csv` names moving and lying ships; the pass itself is found here from the antenna tracks
by plain interpolation. Those files tell no antenna places, so antenna and midships differ by up to half a length.
"""

from __future__ import annotations

import cmath
import gzip
import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from monitor.base.berthed import Berthed
from monitor.base.frames import LocalMap
from monitor.base.units import m_s
from monitor.records.estimates import Encounter
from monitor.records.observations import ShipFix, ShipParticulars
from monitor.watch.encounters import encounters
from monitor.watch.fairway import Fairway, lay_fairway
from monitor.watch.scene import Scene
from monitor.watch.traffic import Traffic

HARBOURS = ("new_orleans_mississippi", "columbia_river", "corpus_christi")
DAY = datetime(2022, 1, 3, tzinfo=UTC)
RIVER_M = 600.0


@dataclass(frozen=True)
class Pass:
    """What happened: the moment (s of the day) and the place of the mover, seen from the lying ship's midships."""

    rows: pd.DataFrame
    pair: pd.Series
    chart: LocalMap
    heading_deg: float
    when_s: float
    place: complex  # along and off the lying ship's axis, m


def _plane(rows: pd.DataFrame, chart: LocalMap) -> np.ndarray:
    return np.array([complex(*chart.to_plane(*each)) for each in zip(rows.LAT, rows.LON, strict=True)])


def _observed(rows: pd.DataFrame, pair: pd.Series) -> Pass | None:
    heading = rows.Heading[(pair.st_mmsi == rows.MMSI) & (rows.Heading < 360)]
    mover = rows[pair.mv_mmsi == rows.MMSI].drop_duplicates("second")
    if heading.empty or len(mover) < 3:
        return None
    chart = LocalMap(pair.lat, pair.lon)
    plane = _plane(mover, chart)
    seconds = np.arange(mover.second.iloc[0], mover.second.iloc[-1])
    track = np.interp(seconds, mover.second, plane.real) + 1j * np.interp(seconds, mover.second, plane.imag)
    nearest = int(np.abs(track).argmin())
    if nearest in (0, len(track) - 1):
        return None
    heading_deg = float(heading.median())
    place = track[nearest] * cmath.exp(-1j * math.radians(heading_deg))
    return Pass(rows, pair, chart, heading_deg, float(seconds[nearest]), place)


@pytest.fixture(scope="module")
def passes(shared: Path) -> list[Pass]:
    folder = shared / "data" / "ais_csv"
    pairs = pd.read_csv(folder / "passing_pairs_2022-01-03.csv")
    found = []
    for harbour in HARBOURS:
        with gzip.open(folder / f"marinecadastre_2022-01-03_{harbour}.csv.gz") as file:
            rows = pd.read_csv(file)
        rows["second"] = (pd.to_datetime(rows.BaseDateTime) - pd.Timestamp("2022-01-03")).dt.total_seconds()
        rows = rows.sort_values("second", kind="stable")
        here = pairs[pairs.mv_mmsi.isin(rows.MMSI) & pairs.st_mmsi.isin(rows.MMSI)]
        found += [each for _, pair in here.iterrows() if (each := _observed(rows, pair)) is not None]
    return found


def _number(value: float) -> float | None:
    return float(value) if value > 0 else None


def _table(event: Pass, until_s: float) -> Traffic:
    """The mover alone, with what she had told by then."""
    table = Traffic(event.chart, int(event.pair.st_mmsi), 180.0)
    for row in event.rows[(event.pair.mv_mmsi == event.rows.MMSI) & (event.rows.second <= until_s)].itertuples():
        at = DAY + timedelta(seconds=row.second)
        kind = int(row.VesselType) if row.VesselType > 0 else None
        sizes = _number(row.Length), _number(row.Width), None, None, _number(row.Draft)
        table.take(ShipParticulars(int(row.MMSI), at, "rows", None, kind, *sizes))
        table.take(
            ShipFix(
                int(row.MMSI),
                at,
                at,
                row.LAT,
                row.LON,
                m_s(row.SOG) if row.SOG < 102.2 else None,
                row.COG if row.COG < 360 else None,
                float(row.Heading) if row.Heading < 360 else None,
                None,
                None,
                True,
                "rows",
            )
        )
    return table


def _river(event: Pass, start: complex) -> Fairway | None:
    """The track of another long ship under way past both places, taken as the middle of the fairway."""
    best: tuple[float, Fairway] | None = None
    rows = event.rows[(event.rows.Length >= 90) & (event.rows.SOG > 4)]
    for mmsi, track in rows.groupby("MMSI"):
        points = [*_plane(track, event.chart)]
        middle = points[:1]
        for point in points:
            if abs(point - middle[-1]) > 150.0:
                middle.append(point)
        if mmsi in (event.pair.mv_mmsi, event.pair.st_mmsi) or len(middle) < 4:
            continue
        fairway = lay_fairway(middle, RIVER_M)
        away_m = fairway.place(np.array([0j, start]))[2]
        if away_m[0] < 1.5 * RIVER_M and away_m[1] < 0.75 * RIVER_M and (best is None or away_m.sum() < best[0]):
            best = float(away_m.sum()), fairway
    return None if best is None else best[1]


def _foretold(event: Pass, lead_s: float, with_river: bool) -> tuple[bool, Encounter | None]:
    """(could it be asked, the encounter): the lying ship as if at a quay on her side away from the mover."""
    now_s = event.when_s - lead_s
    now = DAY + timedelta(seconds=now_s)
    targets = _table(event, now_s).targets(now)
    if now_s < 120.0 or not targets:
        return False, None
    river = _river(event, complex(targets[0].north_m, targets[0].east_m)) if with_river else None
    if with_river and river is None:
        return False, None
    side, along_deg = ("port", 0.0) if event.place.imag > 0 else ("starboard", 180.0)
    length_m, beam_m = event.pair.st_L, event.pair.st_B if event.pair.st_B > 0 else 32.0
    berthed = Berthed((event.heading_deg + along_deg) % 360.0, side, 0.0, 0.0)  # type: ignore[arg-type]
    where = Scene(berthed, length_m, beam_m, -length_m, length_m, river)
    return True, next(iter(encounters(targets, where, now)), None)


def _score(passes: list[Pass], lead_s: float, with_river: bool) -> dict[str, float]:
    asked, found, in_time, aside, late_s = 0, 0, 0, 0, []
    for event in passes:
        could, encounter = _foretold(event, lead_s, with_river)
        asked += could
        if encounter is not None:
            when = DAY + timedelta(seconds=event.when_s)
            found += 1
            in_time += encounter.earliest_at <= when <= encounter.latest_at
            aside += encounter.separation_m.low <= abs(event.place.imag) <= encounter.separation_m.high
            late_s.append(abs((encounter.abeam_at - when).total_seconds()))
    return {
        "asked": asked,
        "found": found / asked,
        "in time": in_time / found,
        "aside": aside / found,
        "late_s": float(np.median(late_s)),
    }


def test_five_minutes_ahead_by_course_and_speed_alone(passes):
    score = _score(passes, 300.0, with_river=False)
    assert score["asked"] >= 35
    assert score["found"] >= 0.85  # the rest were still round a bend
    assert score["in time"] >= 0.80 and score["aside"] >= 0.80
    assert score["late_s"] < 25.0


@pytest.mark.parametrize(("lead_s", "least_asked"), [(300.0, 8), (600.0, 5)])
def test_ahead_along_the_river(passes, lead_s, least_asked):
    score = _score(passes, lead_s, with_river=True)
    assert score["asked"] >= least_asked
    assert score["found"] == 1.0
    assert score["in time"] >= 0.90 and score["aside"] >= 0.75
    assert score["late_s"] < 0.05 * lead_s


def test_ten_minutes_ahead_the_river_beats_the_straight_line(passes):
    """The same passes both ways: the fairway finds them all, the straight line loses them behind the bends."""
    both = [event for event in passes if _foretold(event, 600.0, with_river=True)[0]]
    river, straight = _score(both, 600.0, with_river=True), _score(both, 600.0, with_river=False)
    assert river["found"] == 1.0 and straight["found"] < 0.5
