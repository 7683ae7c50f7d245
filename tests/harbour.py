"""An invented stretch of water, ships that sail it as told, and what really happens, measured by shapely."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Literal

import numpy as np
import shapely
from shapely.affinity import rotate, translate

from monitor.base.berthed import Berthed
from monitor.base.frames import LocalMap
from monitor.records.estimates import Encounter
from monitor.records.observations import ShipFix, ShipParticulars
from monitor.watch.encounters import encounters
from monitor.watch.fairway import Fairway, lay_fairway
from monitor.watch.scene import Scene
from monitor.watch.traffic import Traffic

KNOT = 1852.0 / 3600.0
START = datetime(2031, 5, 4, 6, 0, tzinfo=UTC)
CHART = LocalMap(-45.0, -30.0)
ALONG_DEG = 40.0
ALONG = cmath.rect(1.0, math.radians(ALONG_DEG))
OWN_LOA_M, OWN_BEAM_M, FENDER_M = 200.0, 32.0, 1.2
OFF_M = FENDER_M + 0.5 * OWN_BEAM_M  # our centre line
WATER_M = 180.0  # the middle of the fairway off the face of the quay


def at(seconds: float) -> datetime:
    return START + timedelta(seconds=seconds)


def since(when: datetime) -> float:
    return (when - START).total_seconds()


def straight_fairway() -> Fairway:
    return lay_fairway([(-9000 + 1j * WATER_M) * ALONG, (9000 + 1j * WATER_M) * ALONG], 260.0)


def scene(
    fairway: Fairway | None = None,
    current_m_s: float | None = 0.0,
    set_deg: float | None = 0.0,
    side_to: Literal["port", "starboard"] = "port",
) -> Scene:
    """Our ship of 200 m in the middle of a quay of 600 m."""
    berthed = Berthed(ALONG_DEG, side_to, 0.0, OFF_M)
    return Scene(berthed, OWN_LOA_M, OWN_BEAM_M, -300.0, 300.0, fairway, current_m_s, set_deg)


@dataclass
class Ship:
    """Sails legs of (seconds, speed at the end m/s, turn deg) from a place along and off the quay; courses are
    relative to the quay. Position once a second; antenna 50 m abaft midships."""

    mmsi: int
    along_m: float
    off_m: float
    speed_kn: float
    course_deg: float
    legs: Sequence[tuple[float, float, float]]  # seconds, change of speed (kn), change of course (deg)
    length_m: float = 180.0
    beam_m: float = 30.0
    draught_m: float = 9.0
    reports_s: float = 10.0
    tells_heading: bool = True
    tells_course: bool = True
    ship_type: int = 80
    points: np.ndarray = field(init=False)
    speeds: np.ndarray = field(init=False)
    courses: np.ndarray = field(init=False)
    headings: np.ndarray = field(init=False)

    def __post_init__(self) -> None:
        point, speed, course = complex(self.along_m, self.off_m), self.speed_kn * KNOT, self.course_deg
        points, speeds, courses = [point], [speed], [course]
        for seconds, faster_kn, turn_deg in self.legs:
            for _ in range(round(seconds)):
                speed += faster_kn * KNOT / seconds
                course += turn_deg / seconds
                point += cmath.rect(speed, math.radians(course))
                points.append(point)
                speeds.append(speed)
                courses.append(course)
        self.points, self.speeds, self.courses = np.array(points), np.array(speeds), np.array(courses)
        self.headings = self.courses

    def told(self) -> ShipParticulars:
        return ShipParticulars(
            self.mmsi,
            START,
            "ais",
            f"INVENTED {self.mmsi % 100}",
            self.ship_type,
            self.length_m,
            self.beam_m,
            0.5 * self.length_m + 50.0 if self.length_m > 120.0 else 0.5 * self.length_m,
            0.5 * self.beam_m,
            self.draught_m,
        )

    def fixes(self) -> Iterator[ShipFix]:
        told = self.told()
        assert told.to_bow_m is not None
        for second in np.arange(0, len(self.points), self.reports_s).astype(int).tolist():
            aft = (0.5 * self.length_m - told.to_bow_m) * cmath.rect(1.0, math.radians(self.headings[second]))
            plane = (self.points[second] + aft) * ALONG
            latitude_deg, longitude_deg = CHART.to_position(plane.real, plane.imag)
            yield ShipFix(
                self.mmsi,
                at(second),
                at(second + 0.5),
                latitude_deg,
                longitude_deg,
                round(self.speeds[second] / KNOT, 1) * KNOT,
                (self.courses[second] + ALONG_DEG) % 360.0 if self.tells_course else None,
                round(self.headings[second] + ALONG_DEG) % 360 + 0.0 if self.tells_heading else None,
                None,
                5,  # "moored", as a tanker under way really sent throughout: it must not matter
                True,
                "ais",
            )

    def hull(self, second: int) -> shapely.Polygon:
        half_l, half_b = 0.5 * self.length_m, 0.5 * self.beam_m
        box = rotate(shapely.box(-half_l, -half_b, half_l, half_b), self.headings[second], origin=(0, 0))
        return translate(box, self.points[second].real, self.points[second].imag)

    def nearest(self) -> tuple[float, float, float]:
        """(second, hull-to-hull distance, distance of the centre lines) when her midships are nearest to ours."""
        own = shapely.box(-0.5 * OWN_LOA_M, OFF_M - 0.5 * OWN_BEAM_M, 0.5 * OWN_LOA_M, OFF_M + 0.5 * OWN_BEAM_M)
        second = int(np.abs(self.points - 1j * OFF_M).argmin())
        around = range(max(0, second - 300), min(len(self.points), second + 300), 3)
        least_m = min(own.distance(self.hull(each)) for each in around)
        return second, least_m, abs(self.points[second].imag - OFF_M)

    def overlap(self) -> tuple[float, float]:
        """First and last second in which any part of her hull is abeam of any part of ours."""
        abeam = shapely.box(-0.5 * OWN_LOA_M, -1e4, 0.5 * OWN_LOA_M, 1e4)
        seconds = [each for each in range(len(self.points)) if self.hull(each).intersects(abeam)]
        return float(seconds[0]), float(seconds[-1])


def seen(ships: Sequence[Ship], seconds: float, where: Scene) -> dict[int, Encounter]:
    """The encounters at a moment, by MMSI, from nothing but the reports sent until then."""
    table = Traffic(CHART, 200_000_099, 180.0)
    for ship in ships:
        table.take(ship.told())
        for fix in ship.fixes():
            if fix.received_at <= at(seconds):
                table.take(fix)
    return {each.mmsi: each for each in encounters(table.targets(at(seconds)), where, at(seconds))}
