"""Signal K: the published examples of its specification, a server of our own, and the real signalk-server.

Examples: SignalK/specification (docs-data_model.json and others, recorded in ../shared/data/met/signalk), in
short here. The real server (npm package signalk-server, Apache-2.0) plays its own sample log (plaka.log), on
loopback only. It takes a minute to install: the test runs when it is installed below the temporary folder, and
installs it there when the environment says BIGHTWATCH_NPM=1.
"""

from __future__ import annotations

import json
import math
import os
import shutil
import subprocess
import tempfile
import threading
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from monitor.intake.collector import read_feed
from monitor.intake.parser import Intake
from monitor.intake.signal_k import SignalKParser, subscription
from monitor.records.events import RawReading, SourceStatus
from monitor.records.observations import (
    AirReading,
    ClockReading,
    HeadingReading,
    Observation,
    Refusal,
    Refused,
    WaterReading,
    WindReading,
)
from monitor.settings.schema import Feed
from tests.composed import NOW, OWN
from tests.watching import free_port

PACKAGE = "signalk-server@2.23.0"
INSTALLED = Path(tempfile.gettempdir()) / "bightwatch-signalk"
ONLY_LOOPBACK = """
const net = require('net'), listen = net.Server.prototype.listen;
net.Server.prototype.listen = function (port, ...rest) {
  return typeof port === 'number' ? listen.call(this, port, '127.0.0.1', ...rest) : listen.call(this, port,
  ...rest);
};
"""
AT = "2026-03-14T09:26:52.589Z"
OBSERVED = datetime(2026, 3, 14, 9, 26, 52, 589000, tzinfo=UTC)


def delta(values: dict[str, Any], label: str = "mast", context: str = "vessels.self", at: str = AT) -> str:
    rows = [{"path": path, "value": value} for path, value in values.items()]
    return json.dumps({"context": context, "updates": [{"$source": label, "timestamp": at, "values": rows}]})


def read(*texts: str) -> list[Observation]:
    intake = Intake({"server": "signal k"}, OWN)
    said = [o for n, text in enumerate(texts) for o in intake.parse("server", text, NOW + timedelta(seconds=n))]
    assert intake.counts["server"].total() == len(texts)
    return said


def test_apparent_wind_with_its_angle_is_the_wind_off_the_bow() -> None:
    (wind,) = read(delta({"environment.wind.speedApparent": 6.2, "environment.wind.angleApparent": -math.pi / 2}))
    assert isinstance(wind, WindReading)
    assert (wind.observed_at, wind.mean_m_s, wind.off_bow_deg) == (OBSERVED, 6.2, pytest.approx(270.0))


def test_an_angle_told_apart_serves_the_speed_of_the_same_source_only() -> None:
    angle = delta({"environment.wind.angleApparent": 0.5})
    said = read(
        angle,
        delta({"environment.wind.speedApparent": 6.0}),
        delta({"environment.wind.speedApparent": 7.0}, "other"),
    )
    assert [(o.mean_m_s, o.off_bow_deg) for o in said if isinstance(o, WindReading)] == [
        (6.0, pytest.approx(math.degrees(0.5))),
        (7.0, None),
    ]
    late = delta({"environment.wind.speedApparent": 6.0}, at="2026-03-14T09:27:10Z")
    assert [o.off_bow_deg for o in read(angle, late) if isinstance(o, WindReading)] == [None]


def test_a_true_wind_counts_only_without_an_apparent_one() -> None:
    true = delta({"environment.wind.speedTrue": 8.0, "environment.wind.angleTrueWater": 0.1})
    assert isinstance(read(true)[0], WindReading)
    apparent = delta({"environment.wind.speedApparent": 6.0, "environment.wind.angleApparent": 0.1})
    assert [type(each) for each in read(apparent, true)] == [WindReading, Refused]
    ground = delta({"environment.wind.speedOverGround": 8.0, "environment.wind.directionTrue": math.pi})
    (wind,) = read(ground)
    assert isinstance(wind, WindReading) and wind.from_direction_deg == pytest.approx(180.0)


def test_air_heading_water_and_clock() -> None:
    said = read(
        delta({"environment.outside.temperature": 283.15, "environment.outside.pressure": 101300}),
        delta({"navigation.headingTrue": math.pi}),
        delta({"environment.tide.heightNow": 2.4}),
        delta({"environment.current": {"drift": 0.8, "setTrue": 1.0}}),
        delta({"navigation.datetime": "2026-03-14T09:26:52Z"}),
    )
    assert [type(each) for each in said] == [AirReading, HeadingReading, WaterReading, WaterReading, ClockReading]
    water = said[3]
    assert isinstance(water, WaterReading) and (water.current_m_s, water.set_deg) == (0.8, pytest.approx(57.2958))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", Refusal.BROKEN),
        ("{", Refusal.BROKEN),
        ("[" * 100000, Refusal.BROKEN),
        ("3", Refusal.BROKEN),
        (json.dumps({"updates": 3}), Refusal.BROKEN),
        (json.dumps({"updates": [3, {"values": [3, {"path": 3}]}]}), Refusal.NOT_FOR_US),
        (delta({"environment.wind.speedApparent": "6.2"}), Refusal.NOT_FOR_US),
        (delta({"environment.wind.speedApparent": None}), Refusal.NOT_FOR_US),
        (delta({"environment.wind.speedApparent": 1e300}), Refusal.NOT_FOR_US),
        (delta({"environment.wind.speedApparent": 6.2}, context="vessels.urn:mrn:imo:mmsi:200911001"),
        Refusal.NOT_FOR_US),
    ],
)  # fmt: skip
def test_what_is_not_used(text: str, why: Refusal) -> None:
    (said,) = read(text)
    assert isinstance(said, Refused) and said.reason is why


def test_own_ship_is_whom_the_server_says(shared: Path) -> None:
    """The published hello; then own ship's wind under her full name, and another's that is not ours."""
    hello = (shared / "data" / "met" / "signalk" / "docs-hello.json").read_text()
    own = json.loads(hello)["self"]
    wind = {"environment.wind.speedApparent": 6.2}
    said = read(hello, delta(wind, context=own), delta(wind, context="vessels.urn:mrn:imo:mmsi:234567890"))
    assert [type(each) for each in said] == [Refused, WindReading, Refused]


def test_published_examples_are_read_without_a_stumble(shared: Path) -> None:
    parser = SignalKParser()
    examples = sorted((shared / "data" / "met" / "signalk").glob("*.json"))
    assert examples
    for path in examples:
        assert parser.feed(path.read_text(), "server", NOW)


# --- over a websocket -------------------------------------------------------------------------------------------


def reading(address: str, enough: Callable[[list[Any]], bool], patience_s: float = 30.0) -> list[Any]:
    """What the feed emits, until there is enough of it."""
    fields = {"name": "server", "carries": "signal k", "over": "websocket", "to": address, "stale_after": "30 s"}
    feed = Feed.model_validate(fields)
    records: list[Any] = []
    stop = threading.Event()
    thread = threading.Thread(target=read_feed, args=(feed, records.append, stop))
    thread.start()
    try:
        for _ in range(int(patience_s / 0.05)):
            if enough(records):
                break
            stop.wait(0.05)
        assert enough(records), records[-5:]
    finally:
        stop.set()
        thread.join(10.0)
    assert not thread.is_alive()
    return records


def test_a_server_that_breaks_off_is_told_and_called_again(monkeypatch: pytest.MonkeyPatch) -> None:
    server = pytest.importorskip("websockets.sync.server")
    monkeypatch.setattr("monitor.intake.collector.RETRY_S", (0.05,))
    asked: list[str] = []

    def serve(connection: Any) -> None:
        asked.append(connection.recv())
        connection.send(delta({"environment.wind.speedApparent": 6.2, "environment.wind.angleApparent": 0.1}))

    with server.serve(serve, "127.0.0.1", 0) as running:
        thread = threading.Thread(target=running.serve_forever)
        thread.start()
        port = running.socket.getsockname()[1]
        try:
            records = reading(
                f"ws://127.0.0.1:{port}/signalk/v1/stream?subscribe=none",
                lambda records: sum(isinstance(each, RawReading) for each in records) >= 3,
            )
        finally:
            running.shutdown()
            thread.join()
    assert asked[0] == subscription() and json.loads(asked[0])["context"] == "vessels.self"
    ups = [record.up for record in records if isinstance(record, SourceStatus)]
    assert ups[:3] == [True, False, True]


@pytest.fixture
def signalk_server(tmp_path: Path) -> Iterator[str]:
    """The real one, playing its sample log; its stream's address."""
    if shutil.which("node") is None or shutil.which("npm") is None:
        pytest.skip("no node and npm here")
    program = INSTALLED / "node_modules" / "signalk-server" / "bin" / "signalk-server"
    if not program.exists():
        if os.environ.get("BIGHTWATCH_NPM") != "1":
            pytest.skip(f"{PACKAGE} is not installed in {INSTALLED.name}: BIGHTWATCH_NPM=1 installs it (a minute)")
        INSTALLED.mkdir(exist_ok=True)
        options = ("--prefix", str(INSTALLED), "--ignore-scripts", "--no-audit", "--no-fund")
        subprocess.run(["npm", "install", *options, PACKAGE], check=True, capture_output=True, timeout=300)
    hook = tmp_path / "only_loopback.js"
    hook.write_text(ONLY_LOOPBACK)
    interfaces = {"nmea-tcp": False, "tcp": False, "appstore": False}
    (tmp_path / "settings.json").write_text(json.dumps({"interfaces": interfaces, "mdns": False}))
    port = free_port()
    command = ["node", "--require", str(hook), str(program), "--sample-nmea0183-data", "-c", str(tmp_path)]
    environment = {**os.environ, "PORT": str(port), "SIGNALK_DISABLE_SERVER_UPDATES": "1"}
    with (tmp_path / "log").open("wb") as log:
        process = subprocess.Popen(command, stdout=log, stderr=log, env=environment)
    try:
        yield f"ws://127.0.0.1:{port}/signalk/v1/stream?subscribe=none"
    finally:
        process.terminate()
        process.wait(10.0)


def test_the_real_server_playing_its_sample_log(signalk_server: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its log is of a sailing boat: MWV up to 25.5 kn. Its winds come with speed and angle in pieces of their
    own.
    """
    pytest.importorskip("websockets")
    monkeypatch.setattr("monitor.intake.collector.RETRY_S", (0.2,))

    def enough(records: list[Any]) -> bool:
        return sum(isinstance(each, RawReading) for each in records) >= 30

    records = reading(signalk_server, enough, patience_s=180.0)  # its start takes a slow machine a minute
    intake = Intake({"server": "signal k"}, OWN)
    said = [
        o for r in records if isinstance(r, RawReading) for o in intake.parse("server", r.text, datetime.now(UTC))
    ]
    kinds = Counter(type(each) for each in said)
    winds = [each for each in said if isinstance(each, WindReading)]
    assert len(winds) >= 5, kinds
    assert all(wind.mean_m_s is not None and wind.mean_m_s < 14.0 for wind in winds)
    assert sum(wind.off_bow_deg is not None for wind in winds) >= len(winds) - 2
    assert intake.counts["server"][Refusal.BROKEN] == 0
