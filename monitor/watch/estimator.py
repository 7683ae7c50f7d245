"""The load on the moored ship now, and what each line carries of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime
from typing import Final

import numpy as np

from monitor.base.frames import from_axes, wrap180
from monitor.base.units import KNOT_M_S, knots
from monitor.physics.current import TESTED_UP_TO_M_S
from monitor.physics.hulls import NORMAL_95, hull_from_ais
from monitor.physics.loads import Loads
from monitor.physics.passing import Track, passing_load
from monitor.physics.windage import coefficient_spread
from monitor.records.estimates import (
    Band,
    HorizontalLoad,
    LineLoad,
    LoadEstimate,
    Slip,
    Validity,
    WaterEstimate,
    WindEstimate,
)
from monitor.records.observations import AirReading
from monitor.settings.schema import Settings, WindageType
from monitor.watch.moored import Holding, Moored
from monitor.watch.sharing import shared
from monitor.watch.slips import slipped
from monitor.watch.stay import StayState
from monitor.watch.tracks import Target
from monitor.watch.water import untested

STREAM_SPREAD: Final = 0.5  # 95 % of the stream's load against a table of a typical tide (ours)
NEAR_LENGTHS: Final = 3.0  # ship lengths within which a passing ship is felt
MOST_NOW: Final = 4  # ships worked out at a tick
JUMP_DEG: Final = 30.0  # usual in a gust front (UFC 4-159-03 3-8.2); half the rise then makes a squall
STILL_M_S: Final = 0.5 * KNOT_M_S
STATIC: Final = "static share-out: ranging and snatching of the ship are not in it"


class Estimator:
    """Loads and tensions of the moment. Stateless but for a cache of the lines as last tended."""

    def __init__(self, settings: Settings) -> None:
        self.moored = Moored(settings)
        self._squall = settings.alerts.squall
        self._held: tuple[object, Holding] | None = None

    def holding(self, stay: StayState) -> Holding:
        """The lines that hold, worked out anew only when one was tended or parted."""
        key = (stay.parted, self.moored.tended(stay))
        if self._held is None or self._held[0] != key:
            self._held = key, self.moored.holding(stay)
        return self._held[1]

    def steady(
        self,
        wind_30s_m_s: Band,
        from_direction_deg: float,
        water: WaterEstimate,
        stay: StayState,
        air: AirReading | None,
    ) -> tuple[Loads, HorizontalLoad, HorizontalLoad, tuple[str, ...]]:
        """Wind and stream together as three loads (low, middle, high), each middle part, and what is in doubt."""
        wind = self.moored.wind_load([wind_30s_m_s.mid], from_direction_deg, stay, air)
        low, high = load_band(wind_30s_m_s, self.moored.settings.ship.windage.type, self.moored.windage.spread)
        share = np.array([low, 1.0, high])
        wind_part = Loads(wind.surge_n * share, wind.sway_n * share, wind.yaw_n_m * share)
        missing = []
        try:
            stream = self.moored.stream_load(water, stay)
        except ValueError as error:
            missing.append(f"{error}: its load is missing")
            stream = Loads(np.zeros(1), np.zeros(1), np.zeros(1))
        if untested(water):
            missing.append(f"stream above {knots(TESTED_UP_TO_M_S):.1f} kn: beyond the model tests")
        if any(craft.lateral_area_m2 is None for craft in stay.craft):
            missing.append("windage of the craft alongside not entered")
        spread = math.hypot(STREAM_SPREAD, water.stream_doubt)
        share = np.array([max(0.0, 1.0 - spread), 1.0, 1.0 + spread])
        stream_part = Loads(stream.surge_n * share, stream.sway_n * share, stream.yaw_n_m * share)
        return wind_part + stream_part, wind.at(0), stream.at(0), tuple(missing)

    def estimate(
        self,
        wind: WindEstimate,
        stay: StayState,
        air: AirReading | None,
        targets: Sequence[Target],
        now: datetime,
        before: LoadEstimate | None = None,
    ) -> LoadEstimate:
        """The moored ship now. Unknown wind or lines that cannot be solved give no numbers but the reasons.

        `before`: the estimate of the last tick, for what brakes have let out by both.
        """
        water = self.moored.water(now, stay)
        if wind.speed_30s_m_s is None or wind.from_direction_deg is None:
            return unknown_load(now, wind, water, ("wind unknown", *wind.reasons), stay.slips)
        steady, wind_part, stream_part, missing = self.steady(
            wind.speed_30s_m_s, wind.from_direction_deg, water, stay, air
        )
        passing, passing_reasons = self._passing_now(targets, water, stay)
        cases = {"steady": steady}
        if passing is not None:
            cases["passing"] = _plus(steady, passing)
        ahead = self._squall_ahead(wind)
        if ahead is not None:
            cases["squall"] = self.steady(ahead, wind.from_direction_deg, water, stay, air)[0]
        found = shared(self.holding(stay), _joined(list(cases.values())), stay, water)
        if found.why:
            return unknown_load(now, wind, water, (found.why,), stay.slips)
        lines = {case: found.lines(i) for i, case in enumerate(cases)}
        moved = found.displacement[0 if passing is None else 1]
        reasons = (*wind.reasons, *water.reasons, *missing, *passing_reasons, *found.reasons)
        told = lines.get("passing", lines["steady"])
        return LoadEstimate(
            now,
            wind,
            water,
            wind_part,
            stream_part,
            passing,
            told,
            lines["steady"],
            lines.get("squall", ()),
            float(moved[0]),
            float(-np.sign(self.moored.berthed.quay_y_m) * moved[1]),
            Validity.DEGRADED if reasons else Validity.GOOD,
            reasons,
            slipped(stay.slips, () if before is None else before.lines, told),
        )

    def _squall_ahead(self, wind: WindEstimate) -> Band | None:
        """The wind a minute on, when it rises as fast as the profile calls a squall; half as fast after a jump."""
        band, rise = wind.speed_30s_m_s, wind.rise_m_s_min
        enough = self._squall.rise * (0.5 if abs(wind.shift_deg or 0.0) >= JUMP_DEG else 1.0)
        if band is None or rise is None or rise / 60.0 < enough:
            return None
        if (wind.gust_m_s or band.mid) < self._squall.at_least:
            return None
        return Band(band.low + rise, band.mid + rise, band.high + rise)

    def _passing_now(
        self, targets: Sequence[Target], water: WaterEstimate, stay: StayState
    ) -> tuple[HorizontalLoad | None, tuple[str, ...]]:
        """Load of the ships passing at this moment, all together; None when there is none near.

        Of many, the MOST_NOW nearest by their lengths: a tick must end. That others are left out is said.
        """
        own, berthed = self.moored.hull(stay), self.moored.berthed
        total: list[HorizontalLoad] = []
        reasons: list[str] = []
        near: list[tuple[float, int, Target, float, float]] = []
        alongside = {craft.mmsi for craft in stay.craft}
        for target in targets:
            if target.sog_m_s is None or target.cog_deg is None or target.sog_m_s < STILL_M_S:
                continue
            x_m, y_m = berthed.plane_to_ship(target.north_m, target.east_m)
            length_m = (target.particulars.length_m if target.particulars else None) or 0.0
            lengths_off = math.hypot(x_m, y_m) / (own.loa_m + max(length_m, 50.0))
            if lengths_off <= NEAR_LENGTHS and target.mmsi not in alongside:
                near.append((lengths_off, target.mmsi, target, x_m, y_m))
        near.sort(key=lambda one: one[:2])
        if len(near) > MOST_NOW:
            reasons.append(f"{len(near) - MOST_NOW} more ships near: their load is not in it")
        for _, _, target, x_m, y_m in near[:MOST_NOW]:
            assert target.sog_m_s is not None and target.cog_deg is not None
            told = target.particulars
            sizes = (told.length_m, told.beam_m, told.draught_m) if told else (None, None, None)
            has_tow = False if target.mmsi in stay.without_tow else None
            sized = hull_from_ais(target.ship_type, *sizes, has_tow=has_tow, class_b=not target.class_a)
            heading_deg = target.cog_deg if target.heading_deg is None else target.heading_deg
            track = Track(
                np.array([x_m]),
                np.array([y_m]),
                np.array([wrap180(heading_deg - berthed.heading_deg)]),
                np.array([through_water_m_s(target.sog_m_s, target.cog_deg, water)]),
            )
            passer, basin = self.moored.afloat(sized.hull, water)
            load = passing_load(own, passer, track, basin)
            if load.validity is Validity.UNKNOWN:
                reasons.append(f"{target.name or target.mmsi} passing: load unknown, " + "; ".join(load.reasons))
                continue
            total.append(HorizontalLoad(float(load.surge_n[0]), float(load.sway_n[0]), float(load.yaw_n_m[0])))
        if not total:
            return None, tuple(reasons)
        return (
            HorizontalLoad(
                sum(load.surge_n for load in total),
                sum(load.sway_n for load in total),
                sum(load.yaw_n_m for load in total),
            ),
            tuple(reasons),
        )


def through_water_m_s(sog_m_s: float, cog_deg: float, water: WaterEstimate) -> float:
    """Speed through the water of the fairway; over ground when the stream is unknown."""
    if water.fairway_current_m_s is None or water.set_deg is None:
        return sog_m_s
    north, east = from_axes(sog_m_s, 0.0, cog_deg)
    stream_north, stream_east = from_axes(water.fairway_current_m_s, 0.0, water.set_deg)
    return math.hypot(north - stream_north, east - stream_east)


def load_band(wind_30s_m_s: Band, kind: WindageType, area_spread: float) -> tuple[float, float]:
    """Low and high wind load as shares of the middle one: speed, coefficients and area as independent errors."""
    if wind_30s_m_s.mid <= 0.0:
        return 1.0, 1.0
    other_down, other_up = (NORMAL_95 * math.hypot(spread, area_spread) for spread in coefficient_spread(kind))
    down = 1.0 - (wind_30s_m_s.low / wind_30s_m_s.mid) ** 2
    up = (wind_30s_m_s.high / wind_30s_m_s.mid) ** 2 - 1.0
    return max(0.0, 1.0 - math.hypot(down, other_down)), 1.0 + math.hypot(up, other_up)


def unknown_load(
    now: datetime, wind: WindEstimate, water: WaterEstimate, reasons: tuple[str, ...], slips: tuple[Slip, ...] = ()
) -> LoadEstimate:
    """No numbers, and why."""
    nothing: tuple[LineLoad, ...] = ()
    return LoadEstimate(
        now, wind, water, None, None, None, nothing, nothing, nothing, None, None, Validity.UNKNOWN, reasons, slips
    )


def _plus(steady: Loads, passing: HorizontalLoad) -> Loads:
    return Loads(
        steady.surge_n + passing.surge_n, steady.sway_n + passing.sway_n, steady.yaw_n_m + passing.yaw_n_m
    )


def _joined(cases: Sequence[Loads]) -> Loads:
    """Low, middle and high loads of several cases: all low ones first, as `shared` takes them."""
    return Loads(
        np.stack([case.surge_n for case in cases], axis=1).ravel(),
        np.stack([case.sway_n for case in cases], axis=1).ravel(),
        np.stack([case.yaw_n_m for case in cases], axis=1).ravel(),
    )
