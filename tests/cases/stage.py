"""A draw of a case as the watch would meet it: settings files as an officer writes them, and what the feeds send.

The place is an invented one in the open sea; the quay runs east, and she lies port side to, heading east (the
mirror image is the same problem). Time 0 is the event: the first failure.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

import numpy as np

from monitor.base.frames import LocalMap
from monitor.base.units import knots
from monitor.intake.simulated import Day
from monitor.intake.simulated.forecasts import ForecastScript
from monitor.intake.simulated.tracks import Voyage
from monitor.intake.simulated.transponders import Ship
from monitor.intake.simulated.winds import Squall, WindScript
from monitor.records.events import Action, OperatorAction, SettingsSnapshot
from monitor.settings.load import snapshot
from tests.cases.case import BadCase, Case, Drawn, number_of
from tests.conftest import ROOT

EVENT: Final = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
AFTER: Final = timedelta(minutes=1)
ALONG_DEG: Final = 90.0
LATITUDE_DEG, LONGITUDE_DEG = -45.0, -30.0
OWN_MMSI, PASSER_MMSI = 200915001, 200915002  # country code 200 belongs to nobody
PROFILE: Final = "river-quay"  # the alert profile as shipped
STAY: Final = "case"
_EDGE_M: Final = 0.8  # of the bollards behind the face
_TURN_OF_TIDE: Final = timedelta(hours=6, minutes=12, seconds=30)
_FAIRWAY_M: Final = 20e3
_NOTHING: Final = 0.05  # m of tide where a case tells of none: the tables must rise and fall
_PEAK: Final = 2.8  # standard deviations that the highest 3 s of ten minutes stand above the mean (simulated wind)
# Group: (place of the first fairlead as a share of the length, step to the next, across as a share of the beam,
# which reach, +1 leads forward)
_GROUPS: Final = (
    ("head lines", 0.48, -0.006, -0.12, "head_reach", 1.0),
    ("forward breasts", 0.43, -0.012, -0.36, "breast_reach", 1.0),
    ("forward springs", 0.37, -0.012, -0.48, "spring_reach", -1.0),
    ("aft springs", -0.37, 0.012, -0.48, "spring_reach", 1.0),
    ("aft breasts", -0.43, 0.012, -0.36, "breast_reach", -1.0),
    ("stern lines", -0.48, 0.006, -0.20, "head_reach", -1.0),
)


@dataclass(frozen=True)
class Staged:
    """The settings, the script of the feeds, and what the crew enters."""

    settings: SettingsSnapshot
    day: Day


def staged(case: Case, drawn: Drawn, seed: int) -> Staged:
    """One draw. Raises SettingsFault when it makes no ship at a berth."""
    scene = _Scene(case, drawn)
    with tempfile.TemporaryDirectory() as folder:
        config = Path(folder)
        for kind, text in (("ships", scene.ship()), ("berths", scene.berth()), ("stays", scene.stay())):
            (config / kind).mkdir()
            (config / kind / f"{STAY}.toml").write_text(_toml(text), "utf-8")
        (config / "alerts").mkdir()
        shutil.copy(ROOT / "config" / "alerts" / f"{PROFILE}.toml", config / "alerts")
        return Staged(snapshot(config, STAY), scene.day(seed))


@dataclass(frozen=True)
class _Line:
    name: str
    group: str
    forward_m: float
    starboard_m: float
    bollard: str
    bollard_along_m: float
    behind_m: float
    bitts: bool


class _Scene:
    """The draw, with what follows from it."""

    def __init__(self, case: Case, drawn: Drawn) -> None:
        self.case, self.drawn = case, drawn
        n = self.n
        self.loa_m, self.beam_m = n("loa"), n("beam")
        self.draught_m = n("draught_forward"), n("draught_aft")
        self.mean_draught_m = 0.5 * sum(self.draught_m)
        self.begins_at = EVENT - timedelta(seconds=case.before_s)
        self.high_water_at = EVENT + timedelta(seconds=n("high_water_after"))
        self.lines = list(self._lines())

    def n(self, name: str) -> float:
        """A number that must be there."""
        return number_of(self.drawn, name)

    def word(self, name: str) -> str:
        """A word that must be there."""
        return str(self.drawn[name])

    def force(self, name: str) -> str:
        value = self.drawn[name]
        return "unknown" if value is None else f"{self.n(name) / 1e3:.1f} kN"

    # --- the ship -------------------------------------------------------------------------------------------

    def _lines(self) -> Iterator[_Line]:
        pattern = self.drawn["pattern"]
        if not isinstance(pattern, list) or len(pattern) != len(_GROUPS):
            raise BadCase(f"pattern: six numbers of lines, from the head lines aft; not {pattern!r}")
        shared, spacing_m = int(self.n("lines_per_bollard")), self.n("bollard_spacing")
        ends_m = self._quay_ends_m()
        for (group, place, step, across, reach, towards), count in zip(_GROUPS, pattern, strict=True):
            bitts = int(self.n("on_bitts")) if group in ("head lines", "stern lines") else 0
            for k in range(count):
                forward_m = (place + k * step) * self.loa_m
                bollard = k // shared
                along_m = forward_m - k * step * self.loa_m + towards * (self.n(reach) + bollard * spacing_m)
                inward_m = 1.0 + bollard * spacing_m  # bollards that the quay has no room for move in from its end
                along_m = min(max(along_m, ends_m[0] + inward_m), ends_m[1] - inward_m)
                behind_m = self.n("breast_behind") if "breast" in group else _EDGE_M
                name, where = f"{group[:-1]} {k + 1}", f"{group} {bollard + 1}"
                yield _Line(
                    name, group, forward_m, across * self.beam_m, where, along_m, behind_m, k >= count - bitts
                )

    def ship(self) -> dict[str, Any]:
        n, draught_m = self.n, self.mean_draught_m
        deck_m = draught_m + n("deck_above_water")
        summer_m = max(n("summer_draught"), draught_m)
        area = {
            key: "unknown" if self.drawn[key] is None else f"{n(key):.1f} m^2"
            for key in ("lateral_area", "frontal_area")
        }
        mast_m = max(draught_m + n("anemometer_above_water"), summer_m + 1.0, deck_m + 0.1)
        render = "unknown" if self.drawn["brake"] is None else f"{n('brake') * n('mbl') / 1e3:.1f} kN"
        return {
            "name": "Ship of the case",
            "invented": True,
            "mmsi": OWN_MMSI,
            "loa": _m(self.loa_m),
            "length_between_perpendiculars": _m(n("length_between_perpendiculars") * self.loa_m),
            "beam": _m(self.beam_m),
            "depth_moulded": _m(max(deck_m - 1.0, summer_m + 0.5)),
            "summer_draught": _m(summer_m),
            "block_coefficient": "unknown" if self.drawn["block"] is None else f"{100 * n('block'):.1f} %",
            "anemometer_above_keel": _m(mast_m),
            "windage": {
                "type": self.word("windage_type"),
                "reference_draught": _m(draught_m),
                **area,
                "centroid_forward": "unknown",
                "centroid_above_waterline": "unknown",
                "lateral_area_spread": f"{100 * n('lateral_area_spread'):.1f} %",
            },
            "fairleads": [
                {
                    "name": line.name,
                    "forward": _m(line.forward_m),
                    "starboard": _m(line.starboard_m),
                    "above_keel": _m(deck_m),
                    "swl": self.force("fitting_swl"),
                }
                for line in self.lines
            ],
            "winches": [
                {
                    "name": line.name,
                    "kind": "bitts" if line.bitts else "drum",
                    "render": "unknown" if line.bitts else render,
                    "swl": self.force("fitting_swl"),
                    "brake_condition": self.word("brake_condition"),
                }
                for line in self.lines
            ],
            "lines": [self._line(line) for line in self.lines],
        }

    def _line(self, line: _Line) -> dict[str, Any]:
        n, mbl = self.n, self.force("mbl")
        table: dict[str, Any] = {
            "name": line.name,
            "group": line.group,
            "material": self.word("material"),
            "diameter": "60 mm",  # used for nothing but the settings' form
            "ship_design_mbl": mbl,
            "ldbf": f"{n('ldbf') * n('mbl') / 1e3:.1f} kN",
            "residual_strength": f"{100 * n('residual'):.1f} %",
            "fairlead": line.name,
            "winch": line.name,
            "lead_on_deck": _m(n("lead_on_deck")),
        }
        if self.drawn["tail"] is not None:
            breaking = (
                f"{1.25 * n('mbl') / 1e3:.1f} kN"  # 125 to 130 % of ship design MBL: OCIMF MEG4, in summaries
            )
            table["tail"] = {
                "material": self.word("tail"),
                "length": _m(n("tail_length")),
                "breaking_force": breaking,
            }
        return table

    # --- the berth ------------------------------------------------------------------------------------------

    def _quay_ends_m(self) -> tuple[float, float]:
        """Where the quay begins and ends: far past the ship unless her end overhangs it."""
        half_m, room_m = 0.5 * self.loa_m, 0.4 * self.loa_m

        def end_m(name: str) -> float:
            return half_m + room_m if self.drawn[name] is None else half_m - self.n(name)

        return -end_m("overhang_aft"), end_m("overhang_forward")

    def berth(self) -> dict[str, Any]:
        n = self.n
        begins_m, ends_m = self._quay_ends_m()
        quay_m = n("tide_low") + self._range_m + n("quay_above_high_water")
        off_m = self.passer_off_m + n("passer_off_middle") * n("fairway_width")
        here = LocalMap(LATITUDE_DEG, LONGITUDE_DEG)
        middle = [here.to_position(-off_m, along_m) for along_m in (-_FAIRWAY_M, 0.0, _FAIRWAY_M)]
        reach_m = 0.38 * n("length_between_perpendiculars") * self.loa_m
        posts = np.linspace(-reach_m, reach_m, max(2, 1 + round(2.0 * reach_m / n("fender_spacing"))))
        posts = posts[(posts > begins_m) & (posts < ends_m)]
        bollards = {line.bollard: line for line in self.lines}
        return {
            "name": "Berth of the case",
            "port": "Nowhere",
            "invented": True,
            "position": {"latitude": f"{LATITUDE_DEG:.6f} deg", "longitude": f"{LONGITUDE_DEG:.6f} deg"},
            "along": f"{ALONG_DEG:g} deg",
            "depth_at_datum": _m(n("depth_at_datum")),
            "exposure": self.word("exposure"),
            "quay": {
                "kind": self.word("quay_kind"),
                "above_datum": _m(quay_m),
                "begins_along": _m(begins_m),
                "ends_along": _m(ends_m),
            },
            "bollards": [
                {
                    "name": name,
                    "along": _m(line.bollard_along_m),
                    "behind_face": _m(line.behind_m),
                    "above_datum": _m(quay_m + 0.4),
                    "swl": self.force("bollard_swl"),
                }
                for name, line in bollards.items()
            ],
            "fenders": [
                {
                    "name": f"K{k}",
                    "along": _m(float(along_m)),
                    "thickness": _m(n("fender_thickness")),
                    "rated_reaction": self.force("fender_reaction"),
                    "rated_deflection": f"{100 * n('fender_deflection'):.1f} %",
                }
                for k, along_m in enumerate(posts, 1)
            ],
            "stream": list(self._stream()),
            "fairway": {
                "width": _m(n("fairway_width")),
                "depth": _m(n("fairway_depth")),
                "middle": [{"latitude": f"{a:.7f} deg", "longitude": f"{b:.7f} deg"} for a, b in middle],
            },
            "limits": dict.fromkeys(("stop_cargo", "disconnect", "call_tugs", "leave"), "not entered"),
        }

    @property
    def _range_m(self) -> float:
        return max(_NOTHING, self.n("tide_range"))

    @property
    def set_deg(self) -> float:
        """Where the stream sets to."""
        meets = self.word("stream_meets")
        if meets == "passer":
            meets = "bow" if self.drawn["passer_way"] == "same" else "stern"
        off_deg = self.n("stream_off_quay")  # of the end that meets it, away from the quay
        return ALONG_DEG + (180.0 - off_deg if meets == "bow" else off_deg)

    def _stream(self) -> Iterator[dict[str, Any]]:
        """The table of the hours from high water that gives the stream of the case on the day."""
        n, last_h = self.n, 6.25
        high_h = n("high_water_after") / 3600.0
        begins_h = -n("stream_rise_begins") / 3600.0
        full_h = begins_h + n("stream_rise_lasts") / 3600.0
        rates = n("stream_before"), n("stream_at_event")
        bends = [] if rates[0] == rates[1] else [begins_h - high_h, full_h - high_h]
        if any(abs(hour) >= last_h for hour in bends):
            raise BadCase("the stream rises more than a tide away from the high water of the case")
        for hour in [-last_h, *bends, last_h]:
            rate_m_s = float(np.interp(hour + high_h, [begins_h, full_h], rates))
            fairway = rate_m_s * n("stream_fairway") / max(n("stream_at_event"), 1e-9)
            yield {
                "hours_from_high_water": float(f"{hour:.4f}"),
                "set": f"{self.set_deg % 360.0:.2f} deg",
                "rate_alongside": f"{rate_m_s:.4f} m/s",
                "rate_in_fairway": f"{fairway:.4f} m/s",
            }

    # --- the stay -------------------------------------------------------------------------------------------

    @property
    def tended_at(self) -> datetime:
        return EVENT - timedelta(seconds=round(self.n("tended_before")))

    def stay(self) -> dict[str, Any]:
        n = self.n
        first = -8 if self.high_water_at - 8 * _TURN_OF_TIDE < self.tended_at else -20
        tide = []
        for k in range(first, 9):
            high = k % 2 == 0
            height_m = n("tide_low") + (self._range_m if high else 0.0)
            at = self.high_water_at + k * _TURN_OF_TIDE
            tide.append({"at": at, "height": _m(height_m), "water": "high" if high else "low"})
        pretension = f"{n('pretension') * n('mbl') / 1e3:.2f} kN"
        feed = {"over": "tcp", "to": "127.0.0.1:20110", "stale_after": "60 s"}
        asked = {"over": "http", "to": "http://127.0.0.1:20112/", "stale_after": "3 h", "every": "30 min"}
        return {
            "name": f"Case {self.case.case}",
            "invented": True,
            "ship": STAY,
            "berth": STAY,
            "alerts": PROFILE,
            "side_to": "port",
            "midships_along": "0 m",
            "draught_forward": _m(self.draught_m[0]),
            "draught_aft": _m(self.draught_m[1]),
            "tended_at": self.tended_at,
            "phase": self.word("phase"),
            "local_time_ahead_of_utc": "0 h",
            "lines": [
                {"line": line.name, "bollard": line.bollard, "pretension": pretension} for line in self.lines
            ],
            "tide": tide,
            "feeds": [
                {"name": "ais", "carries": "ais", **feed},
                {"name": "anemometer", "carries": "nmea", **feed},
                {"name": "forecast", "carries": "met norway", **asked, "contact": "watch@nowhere.invalid"},
            ],
            "wind": {"order": ["anemometer", "entered", "forecast"]},
        }

    # --- what the feeds send --------------------------------------------------------------------------------

    @property
    def passer_off_m(self) -> float:
        """Her centre line off the face of the quay; without a passer the channel lies 300 m off."""
        if self.drawn["passer_loa"] is None:
            return 300.0
        return self.n("fender_thickness") + self.beam_m + self.n("passer_distance") + 0.5 * self.n("passer_beam")

    def day(self, seed: int) -> Day:
        minutes = (EVENT + AFTER - self.begins_at) / timedelta(minutes=1)
        return Day(
            begins_at=self.begins_at,
            minutes=minutes,
            seed=seed,
            latitude_deg=LATITUDE_DEG,
            longitude_deg=LONGITUDE_DEG,
            along_deg=ALONG_DEG,
            heading_deg=ALONG_DEG,
            ais_feed="ais",
            wind_feed="anemometer",
            forecast_feed="forecast",
            base_station_mmsi=2009901,
            ships=(self._own(), *self._passer()),
            wind=self._wind(),
            forecast=ForecastScript(
                share=self.n("forecast_share"), late_min=self.n("forecast_late") / 60.0, turned_deg=0.0
            ),
            actions=tuple(self._draughts()),
        )

    def minute(self, before_s: float) -> float:
        """Minute of the script so long before the event."""
        return (self.case.before_s - before_s) / 60.0

    def _own(self) -> tuple[Ship, Voyage]:
        off_m = self.n("fender_thickness") + 0.5 * self.beam_m
        ship = Ship(
            OWN_MMSI, "SHIP OF THE CASE", 70, self.loa_m, self.beam_m, self.draught_m[1], 0.5 * self.loa_m,
            0.5 * self.beam_m, own=True, status=((0.0, 5),),
        )  # fmt: skip
        return ship, Voyage(((0.0, off_m), (1.0, off_m)), ((0.0, 0.0),), 0.0, 0.0, headings=((0.0, ALONG_DEG),))

    def _passer(self) -> Iterator[tuple[Ship, Voyage]]:
        if self.drawn["passer_loa"] is None:
            return
        n = self.n
        length_m, beam_m = n("passer_loa"), n("passer_beam")
        way = 1.0 if self.drawn["passer_way"] == "same" else -1.0
        if self.drawn["passer_speed_ground"] is not None:
            speed_m_s = n("passer_speed_ground")
        else:
            with_her = way * n("stream_fairway") * np.cos(np.radians(self.set_deg - ALONG_DEG))
            speed_m_s = n("passer_speed_water") + float(with_her)
        if speed_m_s < 0.5:
            raise BadCase("the passer makes no way over the ground")
        ship = Ship(
            PASSER_MMSI, "SHIP THAT PASSES", int(n("passer_type")), length_m, beam_m, n("passer_draught"),
            round(0.8 * length_m), round(0.5 * beam_m), class_a=bool(self.drawn["passer_class_a"]),
        )  # fmt: skip
        off_m, seen_m = self.passer_off_m, speed_m_s * n("passer_seen_before")
        corners = ((-way * seen_m, off_m), (way * 3000.0, off_m))
        return_ = Voyage(corners, ((0.0, knots(speed_m_s)),), self.minute(n("passer_abeam_before")), 0.0)
        yield ship, return_

    def _wind(self) -> WindScript:
        n = self.n
        ratio = n("gust_over_mean")
        full_m_s = n("wind_gust") / ratio if "wind_gust" in self.drawn else n("wind_at_event")
        before_m_s = n("wind_before")
        # Square off the quay it comes from the land, north; turned towards the bow it comes more from the east.
        from_deg = ALONG_DEG - 90.0 + n("wind_off_square")
        begins = self.minute(n("wind_rise_begins"))
        ends = begins + n("wind_rise_lasts") / 60.0
        intensity = (ratio - 1.0) / _PEAK
        before, full = (0.0, knots(before_m_s), from_deg - n("wind_turns")), (ends, knots(full_m_s), from_deg)
        if self.drawn["wind_foreseen"]:
            course = (before, (begins, *before[1:]), full, (ends + 600.0, *full[1:]))
            return WindScript(course, intensity=intensity)
        squall = Squall(begins, full_m_s / before_m_s, n("wind_rise_lasts"), 7200.0, 3600.0, n("wind_turns"))
        return WindScript((before,), (squall,), intensity=intensity)

    def _draughts(self) -> Iterator[tuple[float, OperatorAction]]:
        """The crew reads the draughts every half hour while cargo changes them."""
        rate_m_s = self.n("draught_falls")
        if rate_m_s == 0.0:
            return
        for minute in np.arange(1.0, self.case.before_s / 60.0, 30.0):
            at = self.begins_at + timedelta(minutes=float(minute))
            fallen_m = rate_m_s * (at - self.tended_at).total_seconds()
            forward_m, aft_m = (draught_m - max(0.0, fallen_m) for draught_m in self.draught_m)
            values = (("forward_m", forward_m), ("aft_m", aft_m))
            yield float(minute), OperatorAction("OW", Action.DRAUGHT, values=values)


# --- writing ------------------------------------------------------------------------------------------------


def _m(metres: float) -> str:
    return f"{metres:.3f} m"


def _toml(table: dict[str, Any]) -> str:
    return "\n".join(f"{key} = {_written(value)}" for key, value in table.items()) + "\n"


def _written(value: Any) -> str:
    match value:
        case bool():
            return str(value).lower()
        case datetime():
            return value.strftime("%Y-%m-%dT%H:%M:%SZ")
        case str():
            return json.dumps(value)
        case dict():
            return "{ " + ", ".join(f"{key} = {_written(each)}" for key, each in value.items()) + " }"
        case list():
            return "[\n" + "".join(f"  {_written(each)},\n" for each in value) + "]"
    return repr(value)
