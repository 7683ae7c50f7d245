"""Every line of the recorded AIS feeds ends as accepted or in exactly one reason; their known faults are found.

The shares of faults were measured on the same files with other tools (reference notes, feeds).
"""

from __future__ import annotations

import gzip
from collections import Counter
from datetime import timedelta
from pathlib import Path

import pytest

from monitor.intake.parser import Intake
from monitor.records.events import RawReading
from monitor.records.observations import Observation, Refusal, Refused, ShipFix, WindReading
from monitor.run.pipeline import Pipeline
from monitor.settings.load import load_stay
from tests.composed import NOW, OWN, STATIC, vdm
from tests.watching import STAY

LOGS = (
    "australia_2012-01-27.txt.gz",
    "denmark_2010-06-11_30s.txt.gz",
    "epoch_suffix_2012-02-02.nmea.gz",
    "harlingen_ais_2014-04-16.log",
    "harlingen_ais_and_wind_2014-04-16.log",
    "norway_tagblock_2024-12-09.nmea",
    "tagblock_bad_checksum_2014-12-31.nmea",
    "tagblock_groups.nmea",
)


def lines_of(path: Path) -> list[str]:
    raw = gzip.decompress(path.read_bytes()) if path.suffix == ".gz" else path.read_bytes()
    return raw.decode("latin-1").splitlines()


def taken(lines: list[str], carries: str = "ais") -> tuple[list[Observation], Intake]:
    intake = Intake({"feed": carries}, OWN)
    seen = [
        o for n, line in enumerate(lines) for o in intake.parse("feed", line, NOW + n * timedelta(milliseconds=10))
    ]
    return seen, intake


@pytest.mark.parametrize("log", LOGS)
@pytest.mark.parametrize("carries", ["ais", "nmea"])
def test_every_line_is_counted_once(shared: Path, log: str, carries: str) -> None:
    lines = lines_of(shared / "data" / "ais" / log)
    seen, intake = taken(lines, carries)
    counts = intake.counts["feed"]
    assert sum(counts.values()) + intake.pending == len(lines)
    refused = Counter(o.reason for o in seen if isinstance(o, Refused))
    assert refused == {reason: lines for reason, lines in counts.items() if isinstance(reason, Refusal)}


def test_half_a_message_at_the_end_is_counted_too(config: Path) -> None:
    pipeline = Pipeline(load_stay(config, STAY))
    pipeline.handle(NOW, RawReading("ais", vdm(STATIC, seq_id=1)[0]))
    assert pipeline.counts["ais"].total() == 1


def test_australian_faults(shared: Path) -> None:
    """Four wrong checksums in all (one of them in a VDO); 31 % of the payloads repeat; 24 % are other lines."""
    _, intake = taken(lines_of(shared / "data" / "ais" / LOGS[0]))
    counts = intake.counts["feed"]
    assert counts[Refusal.CHECKSUM] in (3, 4)
    assert 0.22 < (counts[Refusal.NOT_FOR_US] + counts[Refusal.BROKEN]) / 44687 < 0.26
    assert counts[Refusal.DUPLICATE] > 0.15 * 34029  # within a minute; the others repeat later


def test_tag_block_checksum_never_costs_the_sentence(shared: Path) -> None:
    _, intake = taken(lines_of(shared / "data" / "ais" / "tagblock_bad_checksum_2014-12-31.nmea"))
    assert intake.counts["feed"]["accepted"] == 96  # of 100: three VDO and one base station's position


def test_stamps_come_through(shared: Path) -> None:
    """Fixes are dated as the logs' names say, whatever our own clock; ten Norwegian ones bear no stamp."""
    for log, day, unstamped in [
        ("denmark_2010-06-11_30s.txt.gz", "2010-06-11", 0),
        ("epoch_suffix_2012-02-02.nmea.gz", "2012-02-02", 0),
        ("norway_tagblock_2024-12-09.nmea", "2024-12-09", 10),
        ("tagblock_bad_checksum_2014-12-31.nmea", "2014-12-31", 0),
    ]:
        seen, _ = taken(lines_of(shared / "data" / "ais" / log))
        days = Counter(f"{o.observed_at:%Y-%m-%d}" for o in seen if isinstance(o, ShipFix))
        assert days == Counter({day: days.total() - unstamped, f"{NOW:%Y-%m-%d}": unstamped}), log


def test_wind_beside_ais(shared: Path) -> None:
    """2.4 minutes at a berth: 141 relative winds and 141 true ones; "theoretical" ones give way to relative."""
    seen, _ = taken(lines_of(shared / "data" / "ais" / "harlingen_ais_and_wind_2014-04-16.log"), "nmea")
    winds = [o for o in seen if isinstance(o, WindReading)]
    assert sum(o.off_bow_deg is not None for o in winds) == 141
    assert sum(o.from_direction_deg is not None for o in winds) == 141
    assert all(1.0 < o.mean_m_s < 5.0 for o in winds if o.mean_m_s is not None)


def test_wind_of_a_sailing_day(shared: Path) -> None:
    """7,250 MWV lines: 3,617 relative, 3,618 theoretical, 15 empty; up to 25.5 kn."""
    seen, intake = taken(lines_of(shared / "data" / "wind" / "sailing_wind_and_position_4h.log.gz"), "nmea")
    winds = [o for o in seen if isinstance(o, WindReading) and o.off_bow_deg is not None]
    assert 3600 <= len(winds) <= 3618
    assert max(o.mean_m_s or 0.0 for o in winds) == pytest.approx(25.5 * 1852 / 3600, abs=0.3)
    assert intake.counts["feed"][Refusal.NO_VALUE] >= 15
