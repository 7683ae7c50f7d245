"""What the simulated ships' AIS transponders send: truth from the tracks, at the intervals of the standard.

Reporting intervals: ITU-R M.1371-5 tables 1 and 2 (as quoted in the trade's guides). Position noise is a smooth
function of time with a seed for each ship, so that neither the order of asking nor other ships change it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

import numpy as np
from pyais import encode_dict

from monitor.base.frames import Floats, LocalMap, from_axes, wrap360
from monitor.base.units import KNOT_M_S, knots
from monitor.intake.simulated.tracks import Track

STATIC_S: Final = 360.0
BASE_STATION_S: Final = 10.0
AT_REST: Final = (1, 5, 6)  # navigation status at anchor, moored, aground
# Times after a report at which the next may be due: every interval of the tables, then every second for a ship at
# rest that starts to move.
_WAITS_S: Final = (2.0, 10.0 / 3.0, 6.0, 10.0, 30.0, *(float(second) for second in range(31, 181)))
_TURNING_DEG: Final = 5.0  # heading against its mean of the last 30 s (from memory of M.1371 annex 2, 4.3.3)
_STILL_KN: Final = 0.3  # a receiver's course means nothing below
_NOISE_PERIODS_S: Final = np.array([97.0, 311.0, 1031.0])
_NOISE_M: Final = np.array([0.6, 1.2, 1.6])


Report = dict[str, str | int | float | bytes | bool]  # fields of a message by the names pyais gives them


@dataclass(frozen=True, slots=True)
class Ship:
    """What a ship's transponder is set to. Antenna: metres from bow and from the port side."""

    mmsi: int
    name: str
    ship_type: int  # AIS code
    loa_m: float
    beam_m: float
    draught_m: float
    to_bow_m: float
    to_port_m: float
    destination: str = ""
    class_a: bool = True
    own: bool = False  # own ship: her sentences are VDO
    status: tuple[tuple[float, int], ...] = ((0.0, 0),)  # (from minute, navigation status as somebody set it)


def interval_s(ship: Ship, status: int, sog_kn: float, turning: bool) -> float:
    """Seconds between position reports: M.1371-5 table 1 (class A) and table 2 (class B "CS")."""
    if not ship.class_a:
        return 180.0 if sog_kn <= 2.0 else 30.0
    if status in AT_REST:
        return 180.0 if sog_kn <= 3.0 else 10.0
    if sog_kn > 23.0:
        return 2.0
    if sog_kn > 14.0:
        return 2.0 if turning else 6.0
    return 10.0 / 3.0 if turning else 10.0


def transmissions(
    ship: Ship, track: Track, here: LocalMap, along_deg: float, begins_at: datetime, seed: int
) -> Iterator[tuple[float, list[str]]]:
    """(second of the day, sentences of one message), in time order, over the track's life."""
    rng = np.random.default_rng([seed, ship.mmsi])
    phases = rng.uniform(0.0, 2.0 * np.pi, (2, len(_NOISE_PERIODS_S)))
    first_s, last_s = float(track.t_s[0]), float(track.t_s[-1])
    statics_s = first_s + float(rng.uniform(5.0, 0.8 * STATIC_S))
    report_s = first_s + float(rng.uniform(0.0, 10.0))
    intervals_s = _intervals_s(ship, track)
    while report_s < last_s:
        if statics_s < report_s:
            for k, sentences in enumerate(_static(ship, begins_at)):
                yield statics_s + k, sentences
            statics_s += STATIC_S
            continue
        row = track.index(report_s)
        yield report_s, _position(ship, track, row, here, along_deg, begins_at, phases, rng)
        waits_s = (wait_s for wait_s in _WAITS_S if wait_s >= intervals_s[track.index(report_s + wait_s)] - 1e-6)
        report_s += next(waits_s, _WAITS_S[-1])


def _intervals_s(ship: Ship, track: Track) -> Floats:
    """The reporting interval in force at every second of her track."""
    row = np.arange(len(track.t_s))
    lag = np.minimum(row, 30)
    total = np.concatenate([[0.0], np.cumsum(track.heading_deg)])
    mean_30s_deg = (total[row + 1] - total[row - lag]) / (lag + 1)
    turning = np.abs(track.heading_deg - mean_30s_deg) > _TURNING_DEG
    sog_kn = track.sog_m_s / KNOT_M_S
    statuses = [_status(ship, float(t_s)) for t_s in track.t_s]
    return np.array(
        [interval_s(ship, *now) for now in zip(statuses, sog_kn.tolist(), turning.tolist(), strict=True)]
    )


def _status(ship: Ship, t_s: float) -> int:
    """Navigation status as somebody has set it by then."""
    return [status for minute, status in ship.status if minute * 60.0 <= t_s][-1]


def antenna(ship: Ship, track: Track, row: int, along_deg: float) -> tuple[float, float]:
    """(north_m, east_m) of her antenna from the berth's reference position, without noise."""
    north_m, east_m = from_axes(float(track.along_m[row]), float(track.off_m[row]), along_deg)
    ahead_m, starboard_m = 0.5 * ship.loa_m - ship.to_bow_m, ship.to_port_m - 0.5 * ship.beam_m
    d_north_m, d_east_m = from_axes(ahead_m, starboard_m, along_deg + float(track.heading_deg[row]))
    return north_m + d_north_m, east_m + d_east_m


def _position(
    ship: Ship,
    track: Track,
    row: int,
    here: LocalMap,
    along_deg: float,
    begins_at: datetime,
    phases: np.ndarray,
    rng: np.random.Generator,
) -> list[str]:
    t_s = float(track.t_s[row])
    wander = (_NOISE_M * np.sin(2.0 * np.pi * t_s / _NOISE_PERIODS_S + phases)).sum(axis=1)
    noise_m = wander + rng.normal(0.0, 0.4, 2)
    north_m, east_m = antenna(ship, track, row, along_deg)
    latitude_deg, longitude_deg = here.to_position(north_m + noise_m[0], east_m + noise_m[1])
    sog_kn = max(0.0, knots(float(track.sog_m_s[row])) + float(rng.normal(0.0, 0.08)))
    course_deg = (
        along_deg + float(track.course_deg[row]) + float(rng.normal(0.0, min(60.0, 4.0 / max(sog_kn, 0.05))))
    )
    heading_deg = along_deg + float(track.heading_deg[row])
    report: Report = {
        "mmsi": ship.mmsi,
        "speed": round(sog_kn, 1),
        "accuracy": 0,
        "lon": longitude_deg,
        "lat": latitude_deg,
        "course": 360.0 if sog_kn < _STILL_KN else round(wrap360(course_deg), 1) % 360.0,
        "second": (begins_at + timedelta(seconds=t_s)).second,
    }
    if ship.class_a:
        turn = float(np.clip(track.turn_deg_min[row], -700.0, 700.0))
        report |= {
            "msg_type": 1,
            "status": _status(ship, t_s),
            "turn": turn,
            "heading": round(wrap360(heading_deg)) % 360,
        }
    else:
        report |= {
            "msg_type": 18,
            "heading": 511,
            "cs": 1,
            "band": 1,
            "msg22": 1,
        }  # a boat without a compass on it
    return _encode(ship, report)


def _static(ship: Ship, begins_at: datetime) -> list[list[str]]:
    """Type 5, or both parts of type 24: one list of sentences for each message."""
    size: Report = {
        "to_bow": round(ship.to_bow_m),
        "to_stern": round(ship.loa_m) - round(ship.to_bow_m),
        "to_port": round(ship.to_port_m),
        "to_starboard": round(ship.beam_m) - round(ship.to_port_m),
    }
    if not ship.class_a:
        part_a: Report = {"msg_type": 24, "mmsi": ship.mmsi, "partno": 0, "shipname": ship.name}
        part_b: Report = {
            "msg_type": 24,
            "mmsi": ship.mmsi,
            "partno": 1,
            "ship_type": ship.ship_type,
            "callsign": "",
        }
        return [_encode(ship, part_a), _encode(ship, part_b | size)]
    report: Report = {
        "msg_type": 5,
        "mmsi": ship.mmsi,
        "imo": 0,  # not available: no IMO number can be invented without meaning somebody
        "shipname": ship.name,
        "ship_type": ship.ship_type,
        "epfd": 1,
        "month": begins_at.month,
        "day": begins_at.day,
        "hour": 24,  # not available
        "minute": 60,
        "draught": ship.draught_m,
        "destination": ship.destination,
    }
    return [_encode(ship, report | size)]


def _encode(ship: Ship, report: Report) -> list[str]:
    return encode(report, own=ship.own, group=ship.mmsi % 10, channel="AB"[ship.mmsi % 2])


def encode(report: Report, own: bool = False, group: int = 0, channel: str = "A") -> list[str]:
    """The sentences of one AIS message, without line ends."""
    sentences: list[str] = encode_dict(
        report, talker_id="AI", radio_channel=channel, sentence_type="VDO" if own else "VDM", seq_id=group
    )
    return sentences


def base_station(mmsi: int, latitude_deg: float, longitude_deg: float, at: datetime) -> list[str]:
    """Type 4: the shore station tells its place and UTC."""
    return encode(
        {
            "msg_type": 4,
            "mmsi": mmsi,
            "year": at.year,
            "month": at.month,
            "day": at.day,
            "hour": at.hour,
            "minute": at.minute,
            "second": at.second,
            "accuracy": 1,
            "lon": longitude_deg,
            "lat": latitude_deg,
            "epfd": 7,
        }
    )
