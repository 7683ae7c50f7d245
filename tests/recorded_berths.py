"""A berth of our own making round a ship that lay still in a recorded harbour, and a recording of what passed her.

The invented ship of config/ is laid where the recorded one lay; quay, depth, stream and wind are guesses. Nothing
is known of the loads she bore: these runs show that the watch works on real traffic, not that it is right.
"""

from __future__ import annotations

import gzip
import math
import re
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from monitor.base.frames import LocalMap, from_axes, wrap180
from monitor.records.events import Action, OperatorAction
from monitor.run.decoded_ais import CsvImport, import_csv
from monitor.settings.load import snapshot

STAY = "recorded"
WIND_M_S, WIND_FROM_OFF_QUAY = 5.0, True


@dataclass(frozen=True)
class LaidUp:
    """Which recorded ship to take the place of, and which ship's track to take for the middle of the channel."""

    harbour: str
    lying_mmsi: int
    passing_mmsi: int
    channel_mmsi: int  # a ship other than the one that passes, where there is one
    depth_m: float
    stream_kn: float  # along the channel, the way its ship went (guess); negative against her


def recording_of(case: LaidUp, shared: Path, config: Path, folder: Path) -> CsvImport:
    """Settings under `folder`/config and the recording in `folder`/recording."""
    file = shared / "data" / "ais_csv" / f"marinecadastre_2022-01-03_{case.harbour}.csv.gz"
    with gzip.open(file) as rows_file:
        rows = pd.read_csv(rows_file)
    _write_config(case, rows, config, folder / "config")
    wind = OperatorAction("csv", Action.WIND, values=(("mean_m_s", WIND_M_S), ("from_direction_deg", 0.0)))
    return import_csv(
        file,
        snapshot(folder / "config", STAY),
        folder / "recording",
        name=f"{case.harbour} at {case.lying_mmsi}",
        invented=False,
        holds="decoded AIS of a real harbour; berth, stream and wind are guesses",
        wind=wind,
    )


def _write_config(case: LaidUp, rows: pd.DataFrame, config: Path, to: Path) -> None:
    lying = rows[case.lying_mmsi == rows.MMSI]
    passing = rows[case.passing_mmsi == rows.MMSI].sort_values("BaseDateTime")
    channel = rows[case.channel_mmsi == rows.MMSI].sort_values("BaseDateTime")
    heading_deg = float(lying.Heading[lying.Heading < 360].median())
    chart = LocalMap(float(lying.LAT.median()), float(lying.LON.median()))
    places = [chart.to_plane(lat, lon) for lat, lon in zip(passing.LAT, passing.LON, strict=True)]
    nearest = min(places, key=lambda place: math.hypot(*place))
    bearing_deg = math.degrees(math.atan2(nearest[1], nearest[0]))
    # The water is where she passes: along with it on the right hand.
    along_deg = heading_deg if wrap180(bearing_deg - heading_deg) > 0 else (heading_deg + 180.0) % 360.0
    ship_text = next((config / "ships").glob("*.toml")).read_text("utf-8")
    beam = re.search(r'^beam = "([\d.]+) m"', ship_text, re.M)
    assert beam is not None
    off_m = 0.5 * float(beam.group(1)) + 1.2
    face = chart.to_position(*from_axes(0.0, -off_m, along_deg))
    line = _thinned([chart.to_plane(lat, lon) for lat, lon in zip(channel.LAT, channel.LON, strict=True)])
    ahead_deg = math.degrees(math.atan2(line[-1][1] - line[0][1], line[-1][0] - line[0][0])) % 360.0
    set_deg = ahead_deg if case.stream_kn >= 0 else (ahead_deg + 180.0) % 360.0
    middle = ",\n".join(f"  {_place(chart.to_position(*point))}" for point in line)
    stream = "\n".join(
        f'[[stream]]\nhours_from_high_water = {hour}\nset = "{set_deg:.0f} deg"\n'
        f'rate_alongside = "{abs(case.stream_kn) / 4:.2f} kn"\nrate_in_fairway = "{abs(case.stream_kn):.2f} kn"\n'
        for hour in (-8, 8)
    )
    berth = next((config / "berths").glob("*.toml")).read_text("utf-8")
    berth = re.sub(r"^position = .*$", f"position = {_place(face)}", berth, flags=re.M)
    berth = re.sub(r"^along = \"\d.*$", f'along = "{along_deg:.1f} deg"', berth, count=1, flags=re.M)
    berth = re.sub(r"^depth_at_datum = .*$", f'depth_at_datum = "{case.depth_m} m"', berth, flags=re.M)
    berth = re.sub(r"^depth = .*$", f'depth = "{case.depth_m} m"', berth, flags=re.M)
    berth = re.sub(r"^width = .*$", 'width = "400 m"', berth, flags=re.M)
    berth = re.sub(r"^middle = \[.*?^\]", f"middle = [\n{middle}\n]", berth, flags=re.M | re.S)
    berth = re.sub(r"(\[\[stream\]\]\n(?:[^\[#]*\n)+)+", stream + "\n", berth, count=1)
    stay = next((config / "stays").glob("*.toml")).read_text("utf-8")
    begin, end = stay.index("[[tide]]"), stay.index("[wind]")
    tide = "\n".join(
        f'[[tide]]\nat = 2022-01-{day}\nheight = "{height} m"\nwater = "{water}"\n'
        for day, height, water in (
            ("02T18:00:00Z", 0.3, "low"),
            ("03T00:30:00Z", 0.5, "high"),
            ("03T07:00:00Z", 0.3, "low"),
        )
    )
    feed = (
        '[[feeds]]\nname = "decoded"\ncarries = "decoded ais csv"\nover = "file"\nto = "rows.csv"\n'
        'stale_after = "3 min"\n\n'
    )
    stay = stay[:begin] + tide + "\n" + feed + stay[end:]
    stay = re.sub(r"^order = .*$", 'order = ["entered"]', stay, flags=re.M)
    stay = re.sub(r"^tended_at = .*$", "tended_at = 2022-01-02T23:30:00Z", stay, flags=re.M)
    ship_text = re.sub(r"^mmsi = .*$", f"mmsi = {case.lying_mmsi}", ship_text, flags=re.M)
    alerts = next((config / "alerts").glob("*.toml"))
    names = {key: re.search(rf'^{key} = "(.*?)"', stay, re.M) for key in ("ship", "berth", "alerts")}
    texts = {"ship": ship_text, "berth": berth, "alerts": alerts.read_text("utf-8")}
    for key, folder in (("ship", "ships"), ("berth", "berths"), ("alerts", "alerts")):
        match = names[key]
        assert match is not None
        (to / folder).mkdir(parents=True)
        (to / folder / f"{match.group(1)}.toml").write_text(texts[key], "utf-8")
    (to / "stays").mkdir()
    (to / "stays" / f"{STAY}.toml").write_text(stay, "utf-8")


def _place(position: tuple[float, float]) -> str:
    return f'{{ latitude = "{position[0]:.6f} deg", longitude = "{position[1]:.6f} deg" }}'


def _thinned(points: list[tuple[float, float]], least_m: float = 250.0) -> list[tuple[float, float]]:
    kept = [points[0]]
    for point in points[1:]:
        if math.dist(point, kept[-1]) >= least_m:
            kept.append(point)
    return kept
