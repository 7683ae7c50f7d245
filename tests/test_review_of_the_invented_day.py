"""A review of the shipped recording against the script it was made from (who passed, when, how far off; what was
silent), its page against the HTML parser of the standard library, its tables against pandas and DuckDB."""

from __future__ import annotations

import gzip
import json
import re
import shutil
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from monitor.__main__ import main
from monitor.intake.simulated import script
from monitor.records.events import Priority
from monitor.records.review import Review
from monitor.run.decoded_ais import import_csv
from monitor.run.gather import gather
from monitor.run.journal import Journal
from monitor.run.recollect import recollect
from monitor.run.recording import import_recording, open_recording
from monitor.settings.load import from_snapshot
from tests.conftest import ROOT
from tests.test_decoded_ais_rows import HEADER, settings_at

DAY = ROOT / "recordings/the-invented-day"
BEGINS = datetime(2026, 3, 14, 10, 0, tzinfo=UTC)
VOID = {"meta", "img", "br", "hr", "link", "input"}


def reviewed(path: Path) -> Review:
    with open_recording(path) as recording:
        return gather(recording, recollect(recording))


@pytest.fixture(scope="module")
def day() -> Review:
    return reviewed(DAY)


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    to = tmp_path_factory.mktemp("review") / "day"
    assert main(["review", str(DAY), "--to", str(to)]) == 0
    return to


def test_every_scripted_ship_passed_when_and_where_the_script_has_her(day: Review) -> None:
    with open_recording(DAY) as recording:
        settings = from_snapshot(recording.settings())
    ours_m = settings.berth.fenders[0].thickness + settings.ship.beam  # our outer side, off the face of the quay
    passed = {one.mmsi: one for one in day.passes if one.passed}
    scripted = [
        *script._ORDINARY,
        (155.0, "down", 11.0, 151.0, script.FAST),
        (264.0, "down", 6.0, 170.0, script.SLOW),
    ]
    for minute, way, knots, off_m, ship in scripted:
        one = passed[ship.mmsi]
        assert abs(one.abeam_at - BEGINS - timedelta(minutes=minute)) <= timedelta(seconds=20), ship.name
        assert one.distance_m == pytest.approx(off_m - 0.5 * ship.beam_m - ours_m, abs=15.0), ship.name
        assert one.kind.value == ("same heading" if way == "up" else "opposite heading")
        assert one.speed_ground_m_s == pytest.approx(knots * 1852 / 3600, abs=0.3), ship.name


def test_what_the_script_silenced_is_what_was_not_heard(day: Review) -> None:
    ais, wind = day.gaps
    for gap, feed, first, last in ((ais, "ais", 112.0, 116.0), (wind, "anemometer", 308.0, 311.0)):
        assert gap.feed == feed and gap.until is not None and gap.told_at is not None
        assert abs(gap.since - BEGINS - timedelta(minutes=first)) < timedelta(seconds=15)
        assert abs(gap.until - BEGINS - timedelta(minutes=last)) < timedelta(seconds=15)
        assert gap.since < gap.told_at < gap.until
        assert gap.detail


def test_alerts_add_up_with_the_recorded_transitions(day: Review) -> None:
    raised, acknowledged = 0, 0
    with gzip.open(DAY / "out.jsonl.gz") as lines:
        for line in lines:
            _, _, kind, _, body = json.loads(line)
            raised += kind == "Transition" and body["reason"] == "raised"
            acknowledged += kind == "Transition" and body["reason"] == "acknowledged"
    assert len(day.alerts) == raised
    assert sum(len(alert.waits) for alert in day.alerts) == acknowledged
    large = next(alert for alert in day.alerts if alert.key == f"passing:{script.FAST.mmsi}")
    assert large.highest is Priority.ALARM
    assert large.lead is not None and timedelta(minutes=10) < large.lead < timedelta(minutes=25)
    assert large.top_lead is not None and timedelta(minutes=4) < large.top_lead < large.lead


def test_the_squall_is_the_wind_episode_and_the_forecast_missed_it(day: Review) -> None:
    (blow,) = day.blows
    assert blow.forecast and blow.told_at is not None
    assert blow.forecast[0].mean_m_s is not None and blow.mean_m_s is not None
    assert blow.forecast[0].mean_m_s < 0.75 * blow.mean_m_s
    assert blow.forecast[0].issued_at < blow.begins


class Strict(HTMLParser):
    """Every element closed in order; links and sources kept."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.refers: list[str] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.refers += [value or "" for name, value in attrs if name in ("href", "src")]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag, (tag, self.getpos())

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.words.append(data)


def test_the_page_stands_alone_and_says_what_it_must(report: Path) -> None:
    html = (report / "review.html").read_text("utf-8")
    page = Strict()
    page.feed(html)
    page.close()
    assert not page.open
    assert page.refers and all(ref.startswith(("#", "data:image/png;base64,")) for ref in page.refers)
    assert not re.search(r"https?://|@import|url\(", html)
    assert "@media print" in html and "break-before: page" in html
    words = " ".join(page.words)
    assert not re.search(r"\bsafe(ly|ty)?\b", words, re.IGNORECASE)
    for needed in (
        "INVENTED",
        "ORVANE SUMMIT",
        "1035:00",
        "1235:00",
        "never acknowledged",
        "not a life",
        "ASTM E1049-85",
    ):
        assert needed in words, needed
    with open_recording(DAY) as recording:
        assert recording.settings().sha256 in words
    assert all((report / name).read_bytes()[:4] == b"\x89PNG" for name in ("stay.png", "lines.png"))


def test_sparse_estimates_are_told_and_never_passed_off_as_the_peak(day: Review, report: Path) -> None:
    html = (report / "review.html").read_text("utf-8")
    assert any(one.sparse for one in day.passes)
    assert "at least" in html and "the peak may lie between them" in html


def test_tables_read_back_by_pandas_and_duckdb(day: Review, report: Path) -> None:
    for file in report.glob("*.parquet"):
        by_pandas = pd.read_parquet(file)
        by_duckdb = duckdb.sql(f"SELECT * FROM '{file}'").df()
        by_csv = pd.read_csv(file.with_suffix(".csv"))
        assert list(by_pandas.columns) == list(by_duckdb.columns) == list(by_csv.columns)
        assert len(by_pandas) == len(by_duckdb) == len(by_csv)
        for name in by_pandas.select_dtypes("number").columns:
            for other in (by_duckdb, by_csv):
                pd.testing.assert_series_equal(by_pandas[name], other[name], check_dtype=False, rtol=1e-12)
    loads = pd.read_parquet(report / "loads.parquet")
    most = loads.groupby("line")["utilisation_mid"].max()
    for line in day.lines:
        assert most[line.line] == line.most_share
    file = report / "passings.parquet"
    (counted,) = duckdb.sql(f"SELECT count(*) FROM '{file}' WHERE passed").fetchall()
    assert counted == (sum(one.passed for one in day.passes),)


def test_a_report_is_never_written_over(report: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["review", str(DAY), "--to", str(report)]) == 2
    assert "never written over" in " ".join(capsys.readouterr().err.split())


def test_a_journal_gives_the_same_review(day: Review, tmp_path: Path) -> None:
    with Journal(tmp_path / "day.journal") as journal:
        import_recording(DAY, journal)
        same = reviewed(tmp_path / "day.journal")  # the journal is in use
    assert same.passes == day.passes and same.alerts == day.alerts and same.lines == day.lines


def test_a_cut_recording_says_so_on_its_first_page(tmp_path: Path) -> None:
    cut = tmp_path / "cut"
    shutil.copytree(DAY, cut)
    whole = (DAY / "in.jsonl.gz").read_bytes()
    (cut / "in.jsonl.gz").write_bytes(whole[: len(whole) // 4])
    with pytest.warns(UserWarning, match="cut after event"):
        code = main(["review", str(cut), "--to", str(tmp_path / "report")])
    assert code == 1
    html = (tmp_path / "report/review.html").read_text("utf-8")
    assert "This recording is not whole" in html.partition("<h2")[0]


def test_rows_of_ais_without_wind_or_conclusions(tmp_path: Path, config: Path) -> None:
    """Brought in from CSV: replayed to have conclusions, and with no wind no load is made up."""
    settings = settings_at(config, tmp_path / "config")
    berth = from_snapshot(settings).berth
    at, rows = datetime(2026, 3, 14, 11, 0, tzinfo=UTC), [HEADER]
    for second in range(0, 240, 10):  # past the berth, northward, 10 kn
        latitude = berth.position.latitude - 0.0055 + 0.0000463 * second
        rows.append(
            f"200911003,{at + timedelta(seconds=second):%Y-%m-%dT%H:%M:%S},{latitude:.5f},"
            f"{berth.position.longitude + 0.004:.5f},10.0,0.0,0,INVENTED PASSER,,,70,0,150,22,7.0,70,A"
        )
    (tmp_path / "rows.csv").write_text("\n".join(rows) + "\n")
    import_csv(tmp_path / "rows.csv", settings, tmp_path / "day", name="rows", invented=True, holds="one ship")
    assert main(["review", str(tmp_path / "day"), "--to", str(tmp_path / "report")]) == 0
    html = (tmp_path / "report/review.html").read_text("utf-8")
    assert "INVENTED PASSER" in html and "no line load could be worked out" in html
    passings = pd.read_csv(tmp_path / "report/passings.csv")
    assert passings["tension_n_mid"].isna().all()
    assert passings["speed_ground_m_s"].iloc[0] == pytest.approx(10 * 1852 / 3600)
