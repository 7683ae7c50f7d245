"""Our ship at her berth as physics sees her: built once from the settings, then asked for loads and tensions."""

from __future__ import annotations

import cmath
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from typing import Final

import numpy as np

from monitor.base.frames import Floats, LocalMap, off_bow_deg
from monitor.physics.air import STANDARD_AIR_KG_M3, air_density_kg_m3
from monitor.physics.current import current_load
from monitor.physics.hulls import KIND_OF_WINDAGE, Hull, hull_at_draught
from monitor.physics.loads import Loads
from monitor.physics.mooring import (
    Equilibrium,
    Fenders,
    Mooring,
    equilibrium,
    heights_changed,
    moor,
    usual_fender,
    veered,
)
from monitor.physics.passing import Basin
from monitor.physics.strength import alarm_level, utilisation
from monitor.physics.usual_windage import SizedWindage, completed
from monitor.physics.wake import Channel
from monitor.physics.windage import wind_load, windage_at_draught
from monitor.records.estimates import Band, LineLoad, WaterEstimate
from monitor.records.observations import AirReading
from monitor.settings.fit import FLAT_SIDE_SHARE, lies
from monitor.settings.schema import Settings
from monitor.watch.fairway import lay_fairway
from monitor.watch.made_fast import made_fast
from monitor.watch.stay import StayState, Tended
from monitor.watch.water import water_at

DEEPEST_SHARE: Final = 0.92  # of the depth: nobody comes by with less under the keel (judgement)
CRAFT_FREEBOARD_M: Final = 4.0  # height of the middle of a bunkering craft's side above the water: judgement


class Moored:
    """The berthed ship: geometry, windage, underwater hull, lines and their limits."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        ship, berth, stay = settings.ship, settings.berth, settings.stay
        self.map = LocalMap(berth.position.latitude, berth.position.longitude)
        self.berthed = lies(stay, ship, berth)
        carried = {line.name: line for line in ship.lines}
        fairleads = {fairlead.name: fairlead for fairlead in ship.fairleads}
        winches = {winch.name: winch for winch in ship.winches}
        bollards = {bollard.name: bollard for bollard in berth.bollards}
        self.names = tuple(led.line for led in stay.lines)
        self.groups: tuple[str, ...] = tuple(carried[name].group for name in self.names)
        self._tended_first = Tended(stay.tended_at, stay.draught_forward, stay.draught_aft)

        fast, places = [], []
        for led in stay.lines:
            line, bollard = carried[led.line], bollards[led.bollard]
            fairlead = fairleads[line.fairlead]
            fast.append(made_fast(led, line, fairlead, winches[line.winch], bollard))
            on_quay = self.berthed.to_ship(bollard.along, -bollard.behind_face)
            places.append(
                (fairlead.forward, fairlead.starboard, fairlead.above_keel, *on_quay, bollard.above_datum)
            )
        self.limits = tuple(each.limits for each in fast)
        self.unknown_limits = tuple(limit.unknown for limit in self.limits)
        self.strengths_n = tuple(each.strength_n for each in fast)
        self.renders_n = tuple(each.renders_n for each in fast)
        self._properties = tuple(each.rope for each in fast)
        place = np.array(places)
        self._fairlead_m, self._bollard_m = place[:, :3], place[:, 3:]
        self._pretension_n = np.array([each.pretension_n for each in fast])

    @cached_property
    def _fenders(self) -> Fenders:
        berth, beam_m = self.settings.berth, self.settings.ship.beam
        side = np.sign(self.berthed.quay_y_m)
        flat_m = FLAT_SIDE_SHARE * self.settings.ship.length_between_perpendiculars
        touching = [fender for fender in berth.fenders if abs(self._forward_m(fender.along)) <= flat_m]
        thickness_m = np.array([fender.thickness for fender in touching])
        return Fenders(
            np.array([self._forward_m(fender.along) for fender in touching]),
            np.full(len(touching), 0.5 * beam_m * side),
            thickness_m,
            *usual_fender(
                thickness_m,
                np.array([fender.rated_reaction for fender in touching], dtype=np.float64),
                np.array([fender.rated_deflection for fender in touching], dtype=np.float64),
            ),
        )

    def _forward_m(self, along_m: float) -> float:
        return self.berthed.to_ship(along_m, 0.0)[0]

    # --- water and hull -------------------------------------------------------------------------------------

    def water(self, at: datetime, stay: StayState | None = None) -> WaterEstimate:
        """Tide and stream at the berth: by the tables, and with a stay as far off them as it says."""
        off = None if stay is None else stay.off
        return water_at(self.settings.stay.tide, self.settings.berth.stream, at, off)

    def hull(self, stay: StayState) -> Hull:
        """Our underwater hull at the draught of the moment."""
        ship = self.settings.ship
        return hull_at_draught(
            ship.loa,
            ship.length_between_perpendiculars,
            ship.beam,
            0.5 * (stay.draught_forward_m + stay.draught_aft_m),
            ship.summer_draught,
            self._full_block,
        )

    @property
    def _full_block(self) -> float:
        """Block coefficient at the summer draught: the usual one of her type when her papers give none."""
        ship = self.settings.ship
        usual, _ = KIND_OF_WINDAGE[ship.windage.type].block
        return usual if ship.block_coefficient is None else ship.block_coefficient

    def basin(self, water: WaterEstimate) -> Basin:
        """Depth at the berth, and the quay wall: a piled quay is taken as open."""
        height_m = 0.0 if water.height_m is None else water.height_m
        kind = self.settings.berth.quay.kind
        depth_m = self.settings.berth.depth_at_datum + height_m
        quay_y_m = None if kind == "piled" else self.berthed.quay_y_m
        walls = kind == "slip with more walls"
        section = self.settings.berth.fairway.section
        across_m = self._far_edge_m if section is None else section.width  # no bank beyond the fairway is known
        across_m = max(across_m, abs(self.berthed.quay_y_m) + 0.5 * self.settings.ship.beam)  # past our own side
        bank_y_m = self.berthed.quay_y_m - math.copysign(across_m, self.berthed.quay_y_m)
        return Basin(depth_m, quay_y_m, more_walls=walls, far_bank_y_m=bank_y_m, section=self.channel(water))

    @cached_property
    def _far_edge_m(self) -> float:
        """From the face of the quay to the far edge of the fairway, abreast of us."""
        fairway = self.settings.berth.fairway
        middle = [complex(*self.map.to_plane(point.latitude, point.longitude)) for point in fairway.middle]
        along = cmath.rect(1.0, math.radians(self.berthed.along_deg))
        midships = complex(self.berthed.midships_along_m, self.berthed.centre_off_m) * along
        off_middle_m = lay_fairway(middle, fairway.width).place(np.array([midships]))[2][0]
        return self.berthed.centre_off_m + float(off_middle_m) + 0.5 * fairway.width

    def room_m(self, beam_m: float) -> float:
        """How far from our middle line fairway and far bank let a ship of that breadth pass; below 0 where no
        fairway is abreast of us."""
        section = self.settings.berth.fairway.section
        across_m = self._far_edge_m if section is None else min(self._far_edge_m, section.width)
        return across_m - abs(self.berthed.quay_y_m) - 0.5 * beam_m

    def channel(self, water: WaterEstimate) -> Channel | None:
        """The section of the water abreast of us as the tide fills it between upright banks; None: not known."""
        section = self.settings.berth.fairway.section
        if section is None:
            return None
        return Channel(section.width * (section.mean_depth + (water.height_m or 0.0)), section.width)

    def afloat(self, passer: Hull, water: WaterEstimate) -> tuple[Hull, Basin]:
        """A passing ship and the water both lie in: the lesser depth of berth and fairway, and a draught that
        floats her there, for what AIS tells or we assume of it can be more than there is water."""
        at_berth = self.basin(water)
        datum_depth_m = min(self.settings.berth.depth_at_datum, self.settings.berth.fairway.depth)
        depth_m = at_berth.depth_m + datum_depth_m - self.settings.berth.depth_at_datum
        draught_m = min(passer.draught_m, DEEPEST_SHARE * depth_m)
        return replace(passer, draught_m=draught_m), replace(at_berth, depth_m=depth_m)

    # --- loads ----------------------------------------------------------------------------------------------

    def air_kg_m3(self, air: AirReading | None) -> float:
        """Density of the air, standard when nothing is measured."""
        if air is None or air.temperature_k is None or air.pressure_pa is None:
            return STANDARD_AIR_KG_M3
        return float(air_density_kg_m3(air.temperature_k, air.pressure_pa, air.humidity or 0.0))

    @cached_property
    def windage(self) -> SizedWindage:
        """Wind area at the reference draught as entered; what is unknown is usual for her type and size."""
        ship = self.settings.ship
        w = ship.windage
        return completed(
            w.type,
            ship.loa,
            ship.beam,
            ship.length_between_perpendiculars,
            ship.summer_draught,
            w.reference_draught,
            lateral_m2=w.lateral_area,
            frontal_m2=w.frontal_area,
            centroid_forward_m=w.centroid_forward,
            centroid_height_m=w.centroid_above_waterline,
            spread=w.lateral_area_spread,
        )

    def wind_load(
        self, speed_m_s: Sequence[float], from_direction_deg: float, stay: StayState, air: AirReading | None
    ) -> Loads:
        """Load of winds of one direction, (n,), craft alongside included."""
        ship = self.settings.ship
        area = windage_at_draught(
            self.windage.area,
            ship.windage.reference_draught,
            stay.draught_forward_m,
            stay.draught_aft_m,
            ship.length_between_perpendiculars,
            ship.beam,
        )
        for craft in stay.craft:
            if craft.lateral_area_m2 is not None:  # her side counts in full: she lies outside us or in our lee
                area = area.with_patch(craft.lateral_area_m2, 0.0, 0.0, CRAFT_FREEBOARD_M)
        off_bow = off_bow_deg(from_direction_deg, self.berthed.heading_deg)
        return wind_load(ship.windage.type, area, ship.loa, np.asarray(speed_m_s), off_bow, self.air_kg_m3(air))

    def stream_load(self, water: WaterEstimate, stay: StayState) -> Loads:
        """Load of the stream, (1,). Raises ValueError when the ship is aground or the stream is unknown."""
        if water.current_m_s is None or water.alongside_deg is None:
            raise ValueError("stream unknown")
        towards_deg = water.alongside_deg - self.berthed.heading_deg
        return current_load(self.hull(stay), self.basin(water).depth_m, [water.current_m_s], towards_deg)

    # --- lines ----------------------------------------------------------------------------------------------

    def tended(self, stay: StayState) -> tuple[tuple[Tended, float], ...]:
        """When each line that holds was tended, and how far the water then stood above the tables: as measured
        then; else, to a decimetre, as what is measured now lets suppose."""
        found = []
        for name in self.names:
            if name not in stay.parted:
                then = stay.tended.get(name, self._tended_first)
                above_m = then.above_tables_m
                if above_m is None:
                    above_m = 0.0 if stay.off is None else round(stay.off.level_above_m(then.at) or 0.0, 1)
                found.append((then, above_m))
        return tuple(found)

    def holding(self, stay: StayState) -> Holding:
        """The lines that hold, each with its own time of tending."""
        kept = [i for i, name in enumerate(self.names) if name not in stay.parted]
        tended = self.tended(stay)
        fairlead_m = self._fairlead_m[kept].copy()
        fairlead_m[:, 2] += [
            above_m + self.level_m(self.water(then.at), then, forward_m)
            for (then, above_m), forward_m in zip(tended, fairlead_m[:, 0], strict=True)
        ]
        mooring = moor(
            tuple(self._properties[i] for i in kept),
            self._pretension_n[kept],
            fairlead_m,
            self._bollard_m[kept],
            self._fenders,
        )
        return Holding(self, tuple(kept), mooring, fairlead_m[:, 2] - self._fairlead_m[kept, 2])

    def level_m(self, water: WaterEstimate, draughts: StayState | Tended, forward_m: Floats) -> Floats:
        """Height of the keel above chart datum at places along the ship, (m,); tide unknown counts as datum."""
        along = 0.5 + forward_m / self.settings.ship.length_between_perpendiculars
        trim_m = draughts.draught_forward_m - draughts.draught_aft_m
        return (water.height_m or 0.0) - (draughts.draught_aft_m + trim_m * along)


@dataclass(frozen=True, slots=True)
class Holding:
    """The lines that hold at present and how they were tended: shares out loads."""

    moored: Moored
    kept: tuple[int, ...]
    mooring: Mooring
    tended_level_m: Floats  # (m,) height of the keel above datum at each fairlead when its line was tended

    def risen(self, stay: StayState, water: WaterEstimate, end: int = 1) -> Mooring:
        """The lines as they were tended, at that tide and these draughts, as much longer as brakes may have let
        them out since: `end` 0, 1, 2 is the least, the middle, the most of it."""
        level_m = self.moored.level_m(water, stay, self.mooring.fairlead_m[:, 0])
        risen = heights_changed(self.mooring, level_m - self.tended_level_m)
        return veered(risen, self.slipped_m(stay)[end]) if stay.slips else risen

    def slipped_m(self, stay: StayState) -> Floats:
        """(3, m) of line that each brake may have let out: least, middle, most."""
        out = {slip.line: slip.out_m for slip in stay.slips}
        each = [out.get(self.moored.names[i], Band(0.0, 0.0, 0.0)) for i in self.kept]
        return np.array([[band.low for band in each], [band.mid for band in each], [band.high for band in each]])

    def share(self, loads: Loads, stay: StayState, water: WaterEstimate) -> Equilibrium:
        """Where she lies and what each line carries under loads (n,), at that tide and these draughts."""
        risen = self.risen(stay, water)
        return equilibrium(risen, loads.surge_n, loads.sway_n, loads.yaw_n_m)

    def line_loads(
        self, low_n: Floats, mid_n: Floats, high_n: Floats, runs_out_m: Mapping[str, Band] | None = None
    ) -> tuple[LineLoad, ...]:
        """Three tensions (m,) of each line as a band with its utilisation, heaviest first. NaN gives nothing.

        `runs_out_m`: by name, the lines whose brakes render.
        """
        tensions_n = np.sort(np.stack([low_n, mid_n, high_n]), axis=0)
        if not np.isfinite(tensions_n).all():
            return ()
        limits = [self.moored.limits[i] for i in self.kept]
        used = utilisation(tensions_n, limits)
        caps = alarm_level(1.0, used.limit_n[1], limits)
        numbers = zip(
            self.kept,
            tensions_n.T.tolist(),
            used.share.T.tolist(),
            used.limit_n[1].tolist(),
            caps.tolist(),
            strict=True,
        )
        moored = self.moored
        loads = [
            LineLoad(
                moored.names[i],
                moored.groups[i],
                Band(*band_n),
                Band(*share),
                limit_n,
                used.limited_by(1, j),
                moored.unknown_limits[i],
                cap,
                (runs_out_m or {}).get(moored.names[i]),
            )
            for j, (i, band_n, share, limit_n, cap) in enumerate(numbers)
        ]
        return tuple(sorted(loads, key=lambda load: (-load.utilisation.mid, load.line)))
