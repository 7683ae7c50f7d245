"""The exported sentences against two general-purpose readers: pyais (TAG blocks, AIS) and pynmea2 (NMEA 0183)."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pynmea2
from pyais import encode_dict
from pyais.messages import NMEAMessage
from pyais.stream import FileReaderStream

from monitor.records.events import Beat, In, RawReading
from monitor.run.journal import Entry, Journal
from monitor.run.nmea_file import NmeaFile, export_nmea

T0 = datetime(2026, 3, 14, 6, 0, 0, 250_900, tzinfo=UTC)
INVENTED_MMSI = 200_911_002
(FIX,) = encode_dict(
    {"msg_type": 1, "mmsi": INVENTED_MMSI, "lat": -45.01, "lon": -30.02, "speed": 8.5}, talker_id="AI"
)
STATIC = encode_dict(
    {"msg_type": 5, "mmsi": INVENTED_MMSI, "shipname": "INVENTED SHIP", "to_bow": 180, "to_stern": 20},
    talker_id="AI",
)
WIND = "$WIMWV,214.8,R,12.4,N,A*1B"  # composed after the layout in the reference notes, checksum as given there


def exported(path: Path, *inputs: In) -> tuple[NmeaFile, list[str]]:
    entries = [Entry.of(seq, T0 + seq * timedelta(seconds=1.5), "in", record) for seq, record in enumerate(inputs)]
    result = export_nmea(entries, path)
    return result, path.read_bytes().decode("latin-1").split("\r\n")[:-1]


def stamp_ms(seq: int) -> int:
    return int((T0 + seq * timedelta(seconds=1.5)).timestamp() * 1000)


def heard(path: Path) -> list[NMEAMessage]:
    messages = list(FileReaderStream(str(path)))
    for message in messages:
        message.tag_block.init()
        assert message.is_valid and message.tag_block.is_valid  # both checksums
    return messages  # type: ignore[return-value]


def test_pyais_reads_ships_stations_and_times(tmp_path: Path) -> None:
    path = tmp_path / "watch.nmea"
    result, _ = exported(
        path, RawReading("ais", FIX), Beat(), *(RawReading("AIS mast/2", part) for part in STATIC)
    )
    assert result == NmeaFile(3, 0)
    fix, static = heard(path)
    assert fix.decode().mmsi == static.decode().mmsi == INVENTED_MMSI
    assert static.decode().shipname == "INVENTED SHIP"
    assert fix.tag_block.source_station == "ais"
    assert static.tag_block.source_station == "AIS-mast-2"
    assert fix.tag_block.receiver_timestamp == "1773468000250" == str(stamp_ms(0))


def test_pynmea2_reads_the_wind(tmp_path: Path) -> None:
    result, (line,) = exported(tmp_path / "watch.nmea", RawReading("anemometer", WIND + "\r\n"))
    assert result == NmeaFile(1, 0)
    _, tag, sentence = line.split("\\")
    assert tag.startswith(f"s:anemometer,c:{stamp_ms(0)}*") and sentence == WIND
    wind = pynmea2.parse(sentence, check=True)
    assert (float(wind.wind_angle), float(wind.wind_speed), wind.status) == (214.8, 12.4, "A")


def test_whatever_stood_round_a_sentence_gives_way_to_our_stamp(tmp_path: Path) -> None:
    inputs = (
        f"\\s:2573238,c:1733782034*0A\\{FIX}",  # another station's TAG block
        f"UdPbC\0\\s:AI0001,c:1764064931*00\\{FIX}\r\n{WIND}\r\n",  # a datagram of two
        f"{FIX},1328140800",  # a clock behind the checksum
    )
    result, lines = exported(tmp_path / "watch.nmea", *(RawReading("ais", text) for text in inputs))
    assert result == NmeaFile(4, 0)
    assert [line.split("\\")[2] for line in lines] == [FIX, FIX, WIND, FIX]
    assert [line.split("c:")[1][:13] for line in lines] == [str(stamp_ms(seq)) for seq in (0, 1, 1, 2)]


def test_what_is_no_good_sentence_is_counted_and_left_out(tmp_path: Path) -> None:
    harmed = FIX.replace("AIVDM", "AIVDN").replace("AIVDO", "AIVDN")
    result, lines = exported(
        tmp_path / "watch.nmea",
        RawReading("ais", harmed),
        RawReading("forecast", '{"properties": null}'),
        RawReading("ais", "!"),
        RawReading("ais", FIX),
    )
    assert (result, len(lines)) == (NmeaFile(1, 3), 1)


def test_a_recorded_feed_comes_through_whole(tmp_path: Path, shared: Path) -> None:
    """223 sentences with TAG blocks (Norwegian Coastal Administration, 2024), by way of a journal."""
    lines = (shared / "data/ais/norway_tagblock_2024-12-09.nmea").read_text("latin-1").splitlines()
    with Journal(tmp_path / "watch.db") as journal:
        for number, line in enumerate(lines):
            journal.append(T0 + number * timedelta(milliseconds=40), "in", RawReading("coast", line))
        result = export_nmea(journal.read(), tmp_path / "watch.nmea")
    assert result.written + result.left_out == len(lines)
    (tmp_path / "plain.nmea").write_text("\n".join(lines), "latin-1")
    before, after = (list(FileReaderStream(str(tmp_path / name))) for name in ("plain.nmea", "watch.nmea"))
    assert len(after) > 150
    assert [m.payload for m in after] == [m.payload for m in before if m.is_valid]
