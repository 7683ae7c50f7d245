"""A restart with the feeds dark: what was told before it stands, as not known, until the contrary is heard."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

from monitor.records.events import AlertState, Beat, Notice, Priority, RawReading, Reason, Started, Transition
from monitor.run.pipeline import Pipeline
from monitor.run.resumed import BEFORE
from monitor.settings.load import load_stay
from monitor.watch.alarms import Alert
from tests.composed import POSITION, sealed, vdm
from tests.watching import STAY

AT = datetime.fromisoformat("2026-03-14T10:00:00+00:00")
KEYS = ("passing:200911042", "limit:call_tugs")


def resumed(config: Path) -> Pipeline:
    """A watch that begins while two alerts of the last one stand."""
    pipeline = Pipeline(load_stay(config, STAY))
    told = {
        key: Alert(key, AlertState.ACKNOWLEDGED, Priority.WARNING, since=AT - timedelta(minutes=15))
        for key in KEYS
    }
    pipeline.resume(told)
    pipeline.handle(AT, Started("test", AT - timedelta(minutes=12)))
    return pipeline


def run(pipeline: Pipeline, begins_min: float, ends_min: float, *lines: tuple[str, str]) -> list[object]:
    concluded: list[object] = []
    for second in range(int(60 * begins_min), int(60 * ends_min), 10):
        at = AT + timedelta(seconds=second)
        for source, text in lines:
            concluded += pipeline.handle(at, RawReading(source, text))
        concluded += pipeline.handle(at, Beat())
    return concluded


def of(concluded: list[object], key: str) -> list[Reason]:
    return [change.reason for change in concluded if isinstance(change, Transition) and change.alert == key]


def test_dark_after_a_restart_nothing_told_before_ends(config: Path) -> None:
    pipeline = resumed(config)
    concluded = run(pipeline, 0, 20)
    for key in KEYS:
        assert of(concluded, key) == [Reason.BECAME_UNKNOWN]
        assert pipeline.alerts[key].active and pipeline.alerts[key].unknown
    words = {told.alert: told for told in concluded if isinstance(told, Notice)}
    assert "KEEP OFF BOTH MOORING DECKS" in words[KEYS[0]].do and "UNKNOWN" in words[KEYS[0]].what
    assert "Do not touch loaded lines" in words[KEYS[0]].do
    assert "UNKNOWN" in words[KEYS[1]].what and "read the anemometer" in words[KEYS[1]].do
    concluded += run(pipeline, 20, 60)  # but not for ever: an hour after she was told of, she is past
    assert of(concluded, KEYS[0])[-1] is Reason.RECTIFIED


def test_what_is_heard_again_ends_them(config: Path) -> None:
    """AIS shows other ships and not her, the anemometer 5 kn: both end, after the profile's time."""
    pipeline = resumed(config)
    (ship,) = vdm({**POSITION, "mmsi": 200911777})
    concluded = run(pipeline, 0, 8, ("ais", ship), ("anemometer", sealed("$WIMWV,120.0,T,5.0,N,A")))
    for key in KEYS:
        assert of(concluded, key)[-1] is Reason.RECTIFIED, key
        assert key not in pipeline.alerts


def test_a_number_that_is_still_wrong_is_told_as_heard(config: Path) -> None:
    pipeline, key = Pipeline(load_stay(config, STAY)), "own:mmsi"
    pipeline.resume({key: Alert(key, AlertState.ACKNOWLEDGED, Priority.CAUTION, since=AT - timedelta(minutes=15))})
    pipeline.handle(AT, Started("test", AT - timedelta(minutes=12)))
    run(pipeline, 0, 1)
    assert pipeline.situations[key].facts == (BEFORE,)
    report = vdm({**POSITION, "mmsi": 200911088})[0][:-3].replace("VDM", "VDO")
    run(pipeline, 1, 2, ("ais", sealed(report)))
    assert "bear MMSI 200911088" in pipeline.situations[key].facts[0]
