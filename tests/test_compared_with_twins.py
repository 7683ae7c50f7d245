"""Corrections against scipy's Student t, against hidden factors (coverage), and through the command line."""

from __future__ import annotations

import functools
import gzip
import json
import operator
import shutil
import tomllib
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from monitor.__main__ import main
from monitor.outlet.report.compared import in_words
from monitor.records.compared import LoadKind
from monitor.records.events import In, RawReading, Started
from monitor.run.journal import Entry
from monitor.run.measured import pairs, read_tensions
from monitor.run.recollect import recollect
from monitor.run.recording import open_recording, write_recording
from monitor.settings.load import from_snapshot, snapshot
from monitor.watch.correction import Pair, biases, corrections, t_975
from tests.conftest import ROOT

STAY = "tavrin-lark-at-sedge-quay-2"
DAY = ROOT / "recordings/the-invented-day"


@pytest.mark.parametrize("freedom", [1, 2, 3, 4, 5, 7, 10, 30, 200])
def test_student_t_against_scipy(freedom: int) -> None:
    assert t_975(freedom) == pytest.approx(stats.t.ppf(0.975, freedom), rel=2e-3)


def twin(rng: np.random.Generator, factor: float, stretches: int) -> list[Pair]:
    """True tension is `factor` times the estimate, each stretch off by 8 % and each reading by 4 %."""
    pairs = []
    for stretch in range(stretches):
        off = rng.normal(0.0, 0.08)
        for _ in range(5):
            estimated_n = rng.uniform(4e4, 2e5)
            measured_n = float(estimated_n * factor * np.exp(off + rng.normal(0.0, 0.04)))
            pairs.append(Pair("LA", "springs", LoadKind.PASSING, f"{stretch}", estimated_n, measured_n, True))
    return pairs


@pytest.mark.parametrize("stretches", [3, 6, 20])
def test_a_hidden_factor_is_held_as_often_as_said(stretches: int) -> None:
    rng = np.random.default_rng(stretches)
    tries, held, proposed = 1000, 0, 0
    for _ in range(tries):
        factor = rng.uniform(0.7, 1.4)
        (one,) = corrections(twin(rng, factor, stretches))
        assert one.low is not None and one.high is not None
        held += one.low <= factor <= one.high
    for _ in range(300):  # nothing is off: a correction is called for by chance alone
        proposed += corrections(twin(rng, 1.0, stretches))[0].called_for
    assert 0.93 <= held / tries <= 0.97, held  # 95 % ± 3 standard errors of the count
    assert proposed / 300 <= 0.09, proposed


def test_many_readings_of_one_pass_are_still_one_pass() -> None:
    rng = np.random.default_rng(1)
    (one,) = corrections(twin(rng, 1.3, 2))
    assert one.pairs == 10 and one.stretches == 2
    assert one.low is None and not one.called_for


def test_over_several_stays_each_stay_counts_once() -> None:
    """What differs from stay to stay (10 %: pretension, a sensor put back elsewhere) is in the interval, however
    many passes a stay has. Over the stretches alone it would be held half as often as said."""
    rng = np.random.default_rng(11)
    tries, held, alone = 150, 0, 0
    for _ in range(tries):
        factor = rng.uniform(0.7, 1.4)
        found: list[Pair] = []
        for stay in range(5):
            of_stay = twin(rng, factor * np.exp(rng.normal(0.0, 0.10)), int(rng.integers(2, 12)))
            found += [replace(pair, stay=f"{stay}", stretch=f"{stay} {pair.stretch}") for pair in of_stay]
        (one,) = corrections(found)
        (mixed,) = corrections([replace(pair, stay="") for pair in found])
        assert one.low is not None and one.high is not None and one.stays == one.rests_on == 5
        assert mixed.low is not None and mixed.high is not None
        held += one.low <= factor <= one.high
        alone += mixed.low <= factor <= mixed.high
    assert 0.90 <= held / tries <= 0.99, held  # 95 % ± 3 standard errors of the count, nearly
    assert alone / tries < 0.75, alone


def test_a_line_measured_as_slack_is_a_measurement() -> None:
    """Nought is a slack line: outside the band, never a ratio, and told apart from what a factor could mend."""
    good = twin(np.random.default_rng(3), 1.2, 4)
    slack = [replace(pair, measured_n=0.0, inside=False, slack=True) for pair in good if pair.stretch == "3"]
    mixed = [pair for pair in good if pair.stretch != "3"] + slack
    (line,) = biases(mixed)
    assert (line.slack, line.pairs) == (5, 20) and line.inside == 0.75
    (one,), (without,) = corrections(mixed), corrections([pair for pair in mixed if not pair.slack])
    assert (one.factor, one.low, one.slack, one.stretches) == (without.factor, without.low, 1, 3)
    (never,) = corrections(slack)
    assert never.factor is None and not never.called_for and biases(slack)[0].ratio == 0.0
    told = in_words([one, never])
    assert "springs under passing ships in 1; springs under passing ships in 1" in told and "sensor dead?" in told


def test_bias_and_spread_of_a_line() -> None:
    rng = np.random.default_rng(2)
    (line,) = biases(twin(rng, 1.2, 400))
    assert line.ratio == pytest.approx(1.2, rel=0.02)
    assert line.spread == pytest.approx(np.exp(np.hypot(0.08, 0.04)), rel=0.02)


def measured_twin(to: Path, factors: dict[str, float]) -> None:
    """Tensions beside the shipped recording's estimates, each hour off by 4 %."""
    rng, rows = np.random.default_rng(7), ["time, line, tension"]
    with gzip.open(DAY / "out.jsonl.gz") as lines:
        for line in lines:
            _, stamp, kind, _, estimate = json.loads(line)
            if kind != "LoadEstimate":
                continue
            for load in estimate["lines"]:
                if load["group"] in factors:
                    hour = int(stamp[11:13]), list(factors).index(load["group"])
                    off = np.random.default_rng(hour).normal(
                        0.0, 0.04
                    )  # the same, however many estimates there are
                    noise = np.exp(off + rng.normal(0.0, 0.02))
                    tension_n = load["tension_n"]["mid"] * factors[load["group"]] * noise
                    rows.append(f"{estimate['at']}, {load['line']}, {tension_n / 1e3:.3f} kN")
    to.write_text("\n".join(rows))


def test_through_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    factors = {"forward breasts": 1.25, "stern lines": 1.0}
    measured_twin(tmp_path / "measured.csv", factors)
    to = tmp_path / "proposal.toml"
    before = {path: path.read_bytes() for path in (ROOT / "config").rglob("*.toml")}
    assert main(["compare", str(DAY), "--measured", str(tmp_path / "measured.csv"), "--proposal", str(to)]) == 0
    told = capsys.readouterr().out
    assert "Few data" in told and "Nothing was changed" in told and "this stay" in told
    proposed = {(one["group"], one["under"]): one for one in tomllib.loads(to.read_text("utf-8"))["corrections"]}
    breasts, sterns = (proposed[group, "wind and tide"] for group in factors)
    assert breasts["low"] <= 1.25 <= breasts["high"] and breasts["called_for"]
    assert sterns["low"] <= 1.0 <= sterns["high"] and not sterns["called_for"]
    assert {path: path.read_bytes() for path in before} == before  # never applied
    assert main(["compare", str(DAY), "--measured", str(tmp_path / "measured.csv"), "--proposal", str(to)]) == 2


def test_a_recording_without_sensors_says_what_is_missing(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", str(DAY)]) == 2
    assert "holds no measured tension" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("when, line, tension\n", "the first line must be time, line, tension"),
        (
            "time, line, tension\n2026-03-14T10:00, head line 1, 45 kN\n",
            "line 2: '2026-03-14T10:00' names no zone",
        ),
        ("time, line, tension\nnoon, head line 1, 45 kN\n", "line 2: 'noon' is no time"),
        ("time, line, tension\n2026-03-14T10:00Z, head line 9, 45 kN\n", "no line or sensor 'head line 9'"),
        ("time, line, tension\n\n2026-03-14T10:00Z, head line 1, 45\n", "line 3: '45': the unit is missing"),
        ("time, line, tension\n2026-03-14T10:00Z, head line 1\n", "line 2: 2 columns, not 3"),
        ("time, line, tension\n2026-03-14T10:00Z, head line 1, -4 kN\n", "line 2: '-4 kN': a line does not push"),
    ],
)
def test_a_faulty_file_is_told_by_its_line(tmp_path: Path, text: str, told: str) -> None:
    (tmp_path / "m.csv").write_text(text)
    with open_recording(DAY) as recording:
        settings = from_snapshot(recording.settings())
    with pytest.raises(ValueError, match=r"m\.csv") as fault:
        read_tensions(tmp_path / "m.csv", settings)
    assert told in str(fault.value)


def test_sensors_heard_in_the_sentences_of_a_recording(
    tmp_path: Path, config: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """XDR type F (IEC 61162-1, from memory) under the name the stay gives the line's sensor."""
    shutil.copytree(config, tmp_path / "config")
    stay = tmp_path / f"config/stays/{STAY}.toml"
    text = stay.read_text("utf-8").replace('bollard = "B17"', 'bollard = "B17"\nsensor = "LC01"', 1)
    stay.write_text(text, "utf-8")
    at = datetime(2026, 3, 14, 10, 0, tzinfo=UTC)
    records: list[tuple[datetime, In]] = [(at, snapshot(tmp_path / "config", STAY)), (at, Started("0.0"))]
    for second in range(150):
        now = at + timedelta(seconds=second + 0.5)
        for body in ("WIMWV,270.0,R,20.0,N,A", "YXXDR,F,99000.0,N,LC01"):
            text = f"${body}*{functools.reduce(operator.xor, body.encode()):02X}"
            records.append((now, RawReading("anemometer", text)))
    entries = (Entry.of(seq, when, "in", record) for seq, (when, record) in enumerate(records, 1))
    write_recording(tmp_path / "day", entries, name="sensed", invented=True, holds="a line that is measured")
    assert main(["compare", str(tmp_path / "day")]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "head line 1" in told and "Few data" in told
    with open_recording(tmp_path / "day") as recording:
        recalled = recollect(recording)
    assert [tension_n for _, tension_n in recalled.tensions["head line 1"]] == [99000.0] * 150
    (line,) = biases(list(pairs(recalled.estimates, recalled.tensions, ())))
    estimated_n = [load.tension_n.mid for e in recalled.estimates for load in e.lines if load.line == line.line]
    assert line.ratio == pytest.approx(float(np.median(99000.0 / np.array(estimated_n))))
