"""Many recordings at once: processes, a Dask cluster on loopback, and tables that pandas and DuckDB open."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pandas as pd
import pytest

from monitor.__main__ import main
from monitor.records.events import Beat
from monitor.run import fleet, kept
from monitor.run.adopting import profile_of
from monitor.run.journal import Entry, Journal
from monitor.settings.load import snapshot
from tests.conftest import ROOT
from tests.test_tuning_twin import invented_stay
from tests.watching import STAY


@dataclass(frozen=True)
class Halved:
    """A job that fails on odd numbers and tells where it ran."""

    def __call__(self, number: int) -> tuple[int, int]:
        if number % 2:
            raise ValueError(f"{number} is odd")
        return number // 2, os.getpid()


def told(done: list[fleet.Done[int, tuple[int, int]]]) -> list[object]:
    return [each.why if each.result is None else each.result[0] for each in done]


EXPECTED = [0, "1 is odd", 1, "3 is odd", 2]


@pytest.fixture(scope="module")
def scheduler() -> Iterator[str]:
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=1,
        threads_per_worker=1,
        host="127.0.0.1",
        protocol="tcp://",
        dashboard_address=None,
        processes=False,
    ) as cluster:
        yield cluster.scheduler_address


def test_in_place_in_processes_and_on_a_cluster_alike(scheduler: str) -> None:
    """In their order, whatever failed; each says how many are done."""
    counted: list[int] = []
    assert told(fleet.over(Halved(), range(5), fleet.Where(), counted.append)) == EXPECTED
    assert counted == [1, 2, 3, 4, 5]
    spawned = fleet.over(Halved(), range(5), fleet.Where(processes=2))
    assert told(spawned) == EXPECTED
    assert os.getpid() not in {each.result[1] for each in spawned if each.result is not None}
    assert told(fleet.over(Halved(), range(5), fleet.Where(scheduler=scheduler), counted.append)) == EXPECTED
    assert counted[5:] == [1, 2, 3, 4, 5]


def test_rows_open_in_pandas_and_duckdb(tmp_path: Path) -> None:
    duckdb = pytest.importorskip("duckdb")
    begins = datetime(2026, 3, 1, tzinfo=UTC)
    rows = [{"berth": "A", "begins": begins, "hits": n, "pod": None if n == 0 else 1 / n} for n in range(4)]
    fleet.write_table(rows, tmp_path / "rows.parquet")
    again = pd.read_parquet(tmp_path / "rows.parquet")
    assert again["hits"].tolist() == [0, 1, 2, 3] and again["begins"][0] == pd.Timestamp(begins)
    found = duckdb.sql(f"select sum(hits), count(pod) from '{(tmp_path / 'rows.parquet').as_posix()}'").fetchall()
    assert found == [(6, 3)]


# --- the verb ---------------------------------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Nine kept stays at one berth and three at another, in place of recordings; a config of our own."""
    taken = snapshot(ROOT / "config", STAY)
    (tmp_path / "config" / "alerts").mkdir(parents=True)
    text = (ROOT / "config" / "alerts" / "river-quay.toml").read_text("utf-8")
    (tmp_path / "config" / "alerts" / "river-quay.toml").write_text(text, "utf-8")
    for berth, number in (*(("A", n) for n in range(6)), *(("B", n) for n in range(20, 22))):
        kept.write(invented_stay(number, taken, 0.45, berth, passes=6), tmp_path / f"{berth}{number}.rec")
    monkeypatch.setattr(kept, "keep_once", lambda recording, *_, **__: recording)
    return tmp_path


def tune(folder: Path, *more: str) -> int:
    recordings = [str(path) for path in sorted(folder.glob("*.rec"))]
    return main(["tune", *recordings, "--config", str(folder / "config"), *more])


def test_the_verb_prints_and_writes_nothing_unasked(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    assert tune(folder) == 2  # of two berths
    assert "which berth? --berth with a part of one of: A; B" in " ".join(capsys.readouterr().err.split())
    assert tune(folder, "--berth", "A") == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "A (INVENTED): 6 recordings of 6 stays" in out
    assert "Recommended: levels.caution" in out and "Nothing is written" in out
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_a_recording_named_twice_is_counted_once(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    named = [folder / "A0.rec", folder / "A1.rec", folder / "config" / ".." / "A0.rec"]
    assert main(["tune", *map(str, named), "--config", str(folder / "config")]) == 0
    assert "2 recordings of 2 stays" in " ".join(capsys.readouterr().out.split())


def test_what_was_logged_while_nothing_recorded_is_told(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "log.csv").write_text("at, what\n2020-01-01T12:00Z, parted\n", encoding="utf-8")
    assert tune(folder, "--berth", "A", "--log", str(folder / "log.csv")) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "NOT USED: ship parted at 2020-01-01 12:00 UTC: no recording was running" in out


def test_any_damage_of_a_kept_file_is_told_as_such(folder: Path) -> None:
    whole = (folder / "A0.rec").read_bytes()
    for place in range(12, len(whole) - 8, len(whole) // 40):  # behind the head of gzip, before its check
        (folder / "A0.rec").write_bytes(bytes((*whole[:place], whole[place] ^ 0x55, *whole[place + 1 :])))
        with pytest.raises(ValueError, match="cannot be used"):
            kept.read(folder / "A0.rec")


def test_a_journal_that_went_on_is_worked_out_anew(tmp_path: Path) -> None:
    beat = Entry.of(1, datetime(2026, 3, 14, tzinfo=UTC), "in", Beat())
    with Journal(tmp_path / "day.journal") as journal:  # in use: what is newest lies beside the file
        journal.extend([beat])
        before = kept.kept_file(tmp_path / "day.journal", tmp_path)
        assert kept.kept_file(tmp_path / "day.journal", tmp_path) == before
        journal.extend([beat._replace(seq=2)])
        assert kept.kept_file(tmp_path / "day.journal", tmp_path) != before


def test_the_verb_on_a_cluster_draws_tables_and_adopts(
    folder: Path, scheduler: str, capsys: pytest.CaptureFixture[str]
) -> None:
    duckdb = pytest.importorskip("duckdb")
    table, picture = folder / "tuned.parquet", folder / "trade-off.png"
    asked = ["--berth", "A", "--scheduler", scheduler, "--table", str(table), "--picture", str(picture)]
    assert tune(folder, *asked, "--adopt", "river-quay", "--by", "HB", "--why", "heavy lines unforetold") == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Adopted:" in out and "the one before it:" in out
    assert picture.read_bytes()[:4] == b"\x89PNG"
    query = f"""
        select berth, count(distinct (warning_times, alarm_times, odds_times, delay_added_s)), sum(hits) > 0
        from '{table.as_posix()}' where level = 'warning' group by berth order by berth"""
    rows = duckdb.sql(query).fetchall()
    assert [row[0] for row in rows] == ["A", "B"] and all(row[1] >= 200 and row[2] for row in rows)
    new = profile_of((folder / "config" / "alerts" / "river-quay.toml").read_text("utf-8"))
    assert new.levels.warning == 0.495
    assert len(list((folder / "config" / "alerts").iterdir())) == 2


def test_a_broken_recording_is_told_and_the_others_are_used(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "A0.rec").write_bytes(b"not gzip")
    with pytest.raises(ValueError, match="cannot be used"):
        kept.about(folder / "A0.rec")
    assert tune(folder, "--berth", "A") == 1
    out = " ".join(capsys.readouterr().out.split())
    assert "NOT USED" in out and "5 recordings of 5 stays" in out
