"""Decoded AIS rows against Rec. ITU-R M.1371-5 ("not available" values), plain pandas counts of published files
(MarineCadastre.gov, 3 January 2022) and Karney's geodesics. Ships in the rows written here are invented."""

from __future__ import annotations

import gzip
import re
import shutil
from collections import Counter
from datetime import UTC, datetime, timedelta
from io import StringIO
from pathlib import Path

import pandas as pd
import pytest
from geographiclib.geodesic import Geodesic

from monitor.intake.marinecadastre import HeaderFault, columns, parse
from monitor.intake.parser import Intake
from monitor.records.events import (
    Action,
    Beat,
    OperatorAction,
    RawReading,
    SettingsSnapshot,
    SourceStatus,
    Stopped,
)
from monitor.records.observations import Observation, Refusal, Refused, ShipFix, ShipParticulars
from monitor.run.decoded_ais import HEARD_WITHIN_M, CsvImport, import_csv
from monitor.run.journal import Entry
from monitor.run.recording import RecordingError, open_recording
from monitor.settings.load import from_snapshot, snapshot

STAY = "tavrin-lark-at-sedge-quay-2"
FEED = """
[[feeds]]
name = "shore rows"
carries = "decoded ais csv"
over = "file"
to = "rows.csv"
stale_after = "3 min"
"""
OWN_MMSI = 200_900_001
AT = datetime(2026, 3, 14, 6, 0, tzinfo=UTC)
HEADER = (
    "MMSI,BaseDateTime,LAT,LON,SOG,COG,Heading,VesselName,IMO,CallSign,"
    "VesselType,Status,Length,Width,Draft,Cargo,TransceiverClass"
)
LATER_HEADER = (
    "mmsi,base_date_time,longitude,latitude,sog,cog,heading,vessel_name,imo,call_sign,"
    "vessel_type,status,length,width,draft,cargo,transceiver"
)
ROW = '200911002,2026-03-14T05:59:58,-45.01200,-30.01100,8.5,21.3,22,"INVENTED, LADY",,,70,0,200,32,9.1,70,A'
# Berth at 45 S 30 W. In the file's order: an hour early, near twice and out of order, 90 km off, no position, no
# time, not a ship's number (the parser's business), and the last.
ROWS = f"""{HEADER}
200911002,2026-03-14T05:00:00,-45.05000,-30.03000,8.4,20.1,21,INVENTED LADY,,,70,0,200,32,9.1,70,A
200911002,2026-03-14T06:00:04,-45.01000,-30.00900,8.5,21.3,22,INVENTED LADY,,,70,0,200,32,9.1,70,A
200911003,2026-03-14T06:00:01,-44.99000,-29.98000,0.0,360.0,511,"INVENTED, TUG",,,52,,24,0,,,B
200911004,2026-03-14T06:00:02,-45.80000,-30.00000,12.0,10.0,511,,,,80,0,,,,,A
200911004,2026-03-14T06:00:03,91.00000,181.00000,12.0,10.0,511,,,,80,0,,,,,A
200911004,,-45.00000,-30.00000,12.0,10.0,511,,,,80,0,,,,,A
992009110,2026-03-14T06:00:05,-45.00000,-30.00100,0.0,0.0,511,INVENTED BUOY,,,,,,,,,A
200911003,2026-03-14T06:00:07,-44.99001,-29.98000,0.1,360.0,511,"INVENTED, TUG",,,52,,24,0,,,B
"""


def settings_at(config: Path, folder: Path, shift_deg: tuple[float, float] = (0.0, 0.0)) -> SettingsSnapshot:
    """The shipped scenario with a feed of decoded rows, moved on the globe."""
    shutil.copytree(config, folder)
    stay, berth = folder / f"stays/{STAY}.toml", folder / "berths/sedge-quay-2.toml"
    text = stay.read_text("utf-8")
    place = text.index("[[feeds]]")
    stay.write_text(text[:place] + FEED + "\n" + text[place:], "utf-8")

    def moved(match: re.Match[str]) -> str:
        by = shift_deg[match[1] == "longitude"]
        return f'{match[1]} = "{float(match[2]) + by:.5f} deg"'

    berth.write_text(re.sub(r'(latitude|longitude) = "([-0-9.]+) deg"', moved, berth.read_text("utf-8")), "utf-8")
    return snapshot(folder, STAY)


def one(row: str, header: str = HEADER) -> list[Observation]:
    return parse(f"{header}\n{row}", "shore rows", AT, OWN_MMSI)


def changed(**cells: str) -> list[Observation]:
    """What ROW says with some cells changed."""
    frame = pd.read_csv(StringIO(f"{HEADER}\n{ROW}"), dtype=str, na_filter=False).assign(**cells)
    return one(frame.to_csv(header=False, index=False).strip())


def test_a_row_in_si() -> None:
    particulars, fix = one(ROW)
    assert particulars == ShipParticulars(
        200911002, AT, "shore rows", "INVENTED, LADY", 70, 200.0, 32.0, None, None, 9.1
    )
    assert fix == ShipFix(
        mmsi=200911002,
        observed_at=datetime(2026, 3, 14, 5, 59, 58, tzinfo=UTC),
        received_at=AT,
        latitude_deg=-45.012,
        longitude_deg=-30.011,
        sog_m_s=pytest.approx(8.5 * 1852 / 3600),  # type: ignore[arg-type]  # ISO 80000-3
        cog_deg=21.3,
        heading_deg=22.0,
        turn_deg_min=None,
        nav_status=0,
        class_a=True,
        source="shore rows",
    )


def test_the_later_layout_says_the_same() -> None:
    cells = ROW.replace("T05:59:58", " 05:59:58").split(",")
    cells[2], cells[3] = cells[3], cells[2]  # longitude before latitude
    assert one(",".join(cells), LATER_HEADER) == one(ROW)
    assert one(ROW, "ï»¿" + HEADER) == one(ROW)  # a byte order mark, read as latin-1


@pytest.mark.parametrize(
    ("column", "cell", "field", "value"),
    [
        # Rec. ITU-R M.1371-5, tables of messages 1, 5 and 18: what stands for "not available"
        ("SOG", "102.3", "sog_m_s", None),
        ("SOG", "102.2", "sog_m_s", None),  # "102.2 knots or higher"
        ("SOG", "102.1", "sog_m_s", 102.1 * 1852 / 3600),
        ("SOG", "", "sog_m_s", None),
        ("SOG", "0.0", "sog_m_s", 0.0),
        ("COG", "360.0", "cog_deg", None),
        ("COG", "359.9", "cog_deg", 359.9),
        ("COG", "0.0", "cog_deg", 0.0),
        ("Heading", "511", "heading_deg", None),
        ("Heading", "498", "heading_deg", None),
        ("Heading", "359.0", "heading_deg", 359.0),
        ("Status", "15", "nav_status", None),
        ("Status", "", "nav_status", None),
        ("Status", "5", "nav_status", 5),
        ("TransceiverClass", "B", "class_a", False),
        ("Length", "0", "length_m", None),
        ("Length", "", "length_m", None),
        ("Width", "0.0", "beam_m", None),
        ("Width", "", "beam_m", None),
        ("Width", "2", "beam_m", None),  # a hull of 200 m by 2 m is none
        ("Draft", "0.0", "draught_m", None),
        ("Draft", "", "draught_m", None),
        ("Draft", "25.5", "draught_m", None),  # "25.5 m or greater"
        ("VesselType", "0", "ship_type", None),
        ("VesselType", "1019", "ship_type", None),  # another list of types
        ("VesselName", "", "name", None),
        ("SOG", "nan", "sog_m_s", None),
        ("SOG", "-0.1", "sog_m_s", None),
    ],
)
def test_not_available_is_not_known(column: str, cell: str, field: str, value: float | None) -> None:
    particulars, fix = changed(**{column: cell})
    record = fix if field in ShipFix._fields else particulars
    got = getattr(record, field)
    assert got == (pytest.approx(value) if isinstance(value, float) else value)


@pytest.mark.parametrize(
    ("cells", "reason"),
    [
        ({"LAT": "91"}, Refusal.NO_POSITION),
        ({"LON": "181.0"}, Refusal.NO_POSITION),
        ({"LAT": ""}, Refusal.NO_POSITION),
        ({"LAT": "0.0", "LON": "0"}, Refusal.NO_POSITION),
        ({"LAT": "90.5"}, Refusal.OUT_OF_RANGE),
        ({"LON": "-180.5"}, Refusal.OUT_OF_RANGE),
        ({"BaseDateTime": "soon"}, Refusal.NO_VALUE),
    ],
)
def test_a_row_without_a_fix_still_tells_the_ship(cells: dict[str, str], reason: Refusal) -> None:
    particulars, refused = changed(**cells)
    assert isinstance(particulars, ShipParticulars) and particulars.length_m == 200.0
    assert isinstance(refused, Refused) and refused.reason is reason


@pytest.mark.parametrize("mmsi", ["992009110", "002009110", "111009110", "20091100", "2009110022", "", "ship"])
def test_only_ships_are_ships(mmsi: str) -> None:
    """Rec. ITU-R M.585: a ship's number has nine digits and begins with 2 to 7."""
    (refused,) = changed(MMSI=mmsi)
    assert isinstance(refused, Refused) and refused.reason is Refusal.NOT_A_SHIP


def test_own_ship_is_no_target() -> None:
    (refused,) = changed(MMSI=str(OWN_MMSI))
    assert isinstance(refused, Refused) and refused.reason is Refusal.OWN_SHIP


@pytest.mark.parametrize("row", ["", "200911002", ROW + ",1", ROW.rpartition(",")[0]])
def test_a_row_cut_short_or_too_long(row: str) -> None:
    (refused,) = one(row)
    assert isinstance(refused, Refused) and refused.reason is Refusal.BROKEN


def test_missing_columns_are_named_with_the_nearest(tmp_path: Path, config: Path) -> None:
    header = HEADER.replace("Heading,", "Headng,").replace(",Width", "")
    with pytest.raises(HeaderFault) as fault:
        columns(header)
    assert str(fault.value) == "column 'Heading' is missing, nearest: 'Headng'; column 'Width' is missing"
    (refused,) = one(ROW, header)
    assert isinstance(refused, Refused) and refused.reason is Refusal.UNDECODABLE
    (tmp_path / "rows.csv").write_text(f"{header}\n{ROW}\n")
    with pytest.raises(RecordingError, match=r"^rows\.csv: column 'Heading' is missing, nearest: 'Headng';"):
        imported(tmp_path, settings_at(config, tmp_path / "config"))


def imported(
    folder: Path, settings: SettingsSnapshot, file: str = "rows.csv", **options: object
) -> tuple[CsvImport, list[Entry]]:
    result = import_csv(
        folder / file,
        settings,
        folder / "recording",
        name="Rows",
        invented=True,
        holds="",
        **options,  # type: ignore[arg-type]
    )
    with open_recording(folder / "recording") as recording:
        return result, list(recording.inputs())


def test_rows_become_a_watch_of_their_own_time(tmp_path: Path, config: Path) -> None:
    (tmp_path / "rows.csv").write_text(ROWS)
    settings = settings_at(config, tmp_path / "config")
    wind = OperatorAction("AB", Action.WIND, values=(("mean_m_s", 9.0), ("from_direction_deg", 240.0)))
    result, entries = imported(tmp_path, settings, begins=AT, wind=wind)
    assert result == CsvImport(4, 2, 2, AT + timedelta(seconds=1), AT + timedelta(seconds=7))
    assert [entry.kind for entry in entries[:3]] == ["SettingsSnapshot", "Started", "SourceStatus"]
    assert entries[0].record == settings
    assert entries[2].record == SourceStatus("shore rows", True, "rows of rows.csv")
    seconds = [((entry.stamped_at - AT).total_seconds(), entry.record) for entry in entries[3:]]
    lines = ROWS.splitlines()
    assert seconds == [
        (1.0, wind),
        (1.0, RawReading("shore rows", f"{HEADER}\n{lines[3]}")),
        (2.0, Beat()),
        (3.0, Beat()),
        (4.0, RawReading("shore rows", f"{HEADER}\n{lines[2]}")),
        (4.0, Beat()),
        (5.0, RawReading("shore rows", f"{HEADER}\n{lines[7]}")),
        (5.0, Beat()),
        (6.0, Beat()),
        (7.0, RawReading("shore rows", f"{HEADER}\n{lines[8]}")),
        (7.0, Beat()),
        (7.0, Stopped("end of the file")),
    ]


def test_files_that_cannot_be_used_say_why(tmp_path: Path, config: Path) -> None:
    settings = settings_at(config, tmp_path / "config")
    packed = gzip.compress((ROWS * 50).encode())
    (tmp_path / "rows.csv.gz").write_bytes(packed[: len(packed) // 2])
    with pytest.raises(RecordingError, match=r"^rows\.csv\.gz cannot be read: "):
        imported(tmp_path, settings, "rows.csv.gz")
    with pytest.raises(RecordingError, match=r"^nothing\.csv cannot be read: "):
        imported(tmp_path, settings, "nothing.csv")
    (tmp_path / "rows.csv").write_text(f"{HEADER}\n{ROW},1\n")
    with pytest.raises(RecordingError, match="more cells than the header"):
        imported(tmp_path, settings)
    (tmp_path / "rows.csv").write_text(f"{HEADER}\n{ROW}\n{ROW},1\n{ROW}\n")
    with pytest.warns(pd.errors.ParserWarning, match="line 3"):
        result, _ = imported(tmp_path, settings)
    assert result.heard == 2
    (tmp_path / "rows.csv").write_text(ROWS)
    with pytest.raises(
        RecordingError, match=r"no row in that time within 40 km of 'Sedge Quay 2' \(0 rows out of"
    ):
        imported(tmp_path, settings, begins=AT + timedelta(hours=1))
    with pytest.raises(RecordingError, match='no feed that carries "decoded ais csv"'):
        imported(tmp_path, snapshot(config, STAY))


@pytest.mark.parametrize(
    ("place", "latitude_deg", "longitude_deg"),
    [
        ("columbia_river", 46.2, -123.8),
        ("corpus_christi", 27.84, -97.07),
        ("new_orleans_mississippi", 29.94, -90.06),
        ("ny_harbor", 40.65, -74.05),
    ],
)
def test_published_files_add_up(
    tmp_path: Path, config: Path, shared: Path, place: str, latitude_deg: float, longitude_deg: float
) -> None:
    file = shared / f"data/ais_csv/marinecadastre_2022-01-03_{place}.csv.gz"
    settings = settings_at(config, tmp_path / "config", (latitude_deg + 45.0, longitude_deg + 30.0))
    berth = from_snapshot(settings).berth.position
    result, entries = imported(tmp_path, settings, str(file))

    frame = pd.read_csv(file)
    metres = [
        Geodesic.WGS84.Inverse(berth.latitude, berth.longitude, lat, lon, Geodesic.DISTANCE)["s12"]
        for lat, lon in zip(frame["LAT"], frame["LON"], strict=True)
    ]
    surely = sum(m < 0.99 * HEARD_WITHIN_M for m in metres)
    at_most = sum(m < 1.01 * HEARD_WITHIN_M for m in metres)
    assert result.heard + result.out_of_time + result.out_of_range == len(frame)
    assert surely <= result.heard <= at_most and result.heard > 500 and result.out_of_time == 0

    rows = [entry for entry in entries if entry.kind == "RawReading"]
    beats = [entry.stamped_at for entry in entries if entry.kind == "Beat"]
    assert len(rows) == result.heard
    assert beats == [result.begins + timedelta(seconds=1 + s) for s in range(len(beats))]
    assert 0 <= (result.ends - beats[-1]).total_seconds() < 1
    stamps = [entry.stamped_us for entry in entries]
    assert stamps == sorted(stamps)

    intake = Intake({"shore rows": "decoded ais csv"}, OWN_MMSI)
    told: list[Observation] = []
    for entry in rows:
        reading = entry.record
        assert isinstance(reading, RawReading)
        observations = intake.parse(reading.source, reading.text, entry.stamped_at)
        assert all(o.observed_at == entry.stamped_at for o in observations if isinstance(o, ShipFix))
        told += observations
    kinds = Counter(type(observation) for observation in told)
    assert sum(intake.counts["shore rows"].values()) == result.heard
    near = frame[[m < HEARD_WITHIN_M for m in metres]] if surely == at_most else None
    assert kinds[ShipFix] + kinds[Refused] == result.heard
    if near is not None:  # nobody lies on the very circle: pandas must count the same
        ships = near["MMSI"].between(200_000_000, 799_999_999)
        fixes = [o for o in told if isinstance(o, ShipFix)]
        assert kinds[ShipFix] == int(ships.sum())
        assert sum(f.sog_m_s is None for f in fixes) == int((near[ships]["SOG"] >= 102.2).sum())
        assert sum(f.cog_deg is None for f in fixes) == int((near[ships]["COG"] >= 360.0).sum())
        assert sum(f.heading_deg is None for f in fixes) == int((near[ships]["Heading"] >= 360).sum())
        assert sum(not f.class_a for f in fixes) == int((near[ships]["TransceiverClass"] == "B").sum())
