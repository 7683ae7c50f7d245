"""What the settings files may say. Every key is required unless it says otherwise; unknown keys are faults.

Ship places are given in ship axes (forward of midships, to starboard of the centre line, height above keel);
berth places along the quay and behind its face (stand on the quay with the water on your right hand and look
along it: that is "along"), heights above chart datum.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Annotated, Final, Literal

from pydantic import Field

from monitor.settings.decks import Ashore as Ashore
from monitor.settings.decks import Deck as Deck
from monitor.settings.kinds import (
    AreaOrUnknown,
    BlockCoefficient,
    CurrentSpeed,
    DeflectionOrUnknown,
    Depth,
    Direction,
    Draught,
    Force,
    ForceOrUnknown,
    Height,
    HeightOrUnknown,
    Instant,
    Latitude,
    Length,
    Longitude,
    Name,
    Place,
    PlaceOrUnknown,
    Pretension,
    Seconds,
    Share,
    Text,
    Truth,
    WindSpeed,
)
from monitor.settings.kinds import Strict as Strict
from monitor.settings.outside import STATIONS as STATIONS
from monitor.settings.outside import BridgeAlerts as BridgeAlerts
from monitor.settings.outside import Channel as Channel
from monitor.settings.outside import DeadMan as DeadMan
from monitor.settings.outside import Feed as Feed
from monitor.settings.quantity import NOT_ENTERED, Side, number, quantity, table_or

ENTERED: Final = "entered"  # the wind typed in by hand, where winds are put in order

WindageType = Literal[
    "car carrier",
    "cargo vessel, loaded",
    "cargo vessel, container on deck",
    "container ship, loaded",
    "ferry",
    "liquefied natural gas tanker",
    "passenger liner",
    "tanker, loaded",
    "tanker, in ballast",
    "offshore supply vessel",
    "research vessel",
    "fishing vessel",
]
Material = Literal[
    "nylon 8-strand",
    "nylon double braid",
    "polyester",
    "polypropylene",
    "polyester and polypropylene mix",
    "HMPE",
    "aramid",
    "steel wire",
]
LineGroup = Literal[
    "head lines", "forward breasts", "forward springs", "aft springs", "aft breasts", "stern lines"
]
FORWARD_GROUPS: Final = ("head lines", "forward breasts", "forward springs")
Exposure = Literal["in-land", "off-land", "off-sea", "at-sea"]  # WMO/TD-1555 classes
BrakeCondition = Literal["tested", "not tested", "oily, wet or rusty"]
Phase = Literal["making fast", "all fast", "tending", "shifting", "singling up", "gone"]


# --- the ship -----------------------------------------------------------------------------------------------


class Windage(Strict):
    """Wind areas and centroid (from midships, above the water) at a draught; unknown: usual for type and size."""

    type: WindageType
    reference_draught: Draught
    lateral_area: AreaOrUnknown
    frontal_area: AreaOrUnknown
    centroid_forward: PlaceOrUnknown
    centroid_above_waterline: HeightOrUnknown
    lateral_area_spread: Share  # one standard deviation as a share of the area; 0 % when measured off the plan


class Fairlead(Strict):
    """The last point of the ship that a line touches."""

    name: Name
    forward: Place
    starboard: Place
    above_keel: Height
    swl: ForceOrUnknown


class Winch(Strict):
    """A winch drum, or bitts (which do not render: write render = "unknown" and kind = "bitts")."""

    name: Name
    kind: Literal["drum", "bitts"]
    render: ForceOrUnknown  # brake setting for a drum
    swl: ForceOrUnknown
    brake_condition: BrakeCondition = "not tested"
    layers_below: Annotated[int, number(0, 12, whole=True)] | None = (
        None  # under the one that pulls; None: not told
    )


class Tail(Strict):
    """The length of softer rope between a line and the shore."""

    material: Material
    length: Annotated[float, quantity("m", 1.0, 60.0, "1 m to 60 m")]
    breaking_force: Force


class ShipLine(Strict):
    """One mooring line as carried: strengths from its certificate and the ship's line management plan."""

    name: Name
    group: LineGroup
    material: Material
    diameter: Annotated[float, quantity("m", 0.01, 0.2, "10 mm to 200 mm")]
    ship_design_mbl: Force
    ldbf: Force
    residual_strength: Share  # of LDBF after age and wear, as the line management plan has it
    fairlead: Name
    winch: Name
    lead_on_deck: Annotated[float, quantity("m", 0.0, 120.0, "0 m to 120 m")]
    turn_at_fairlead: Annotated[float, quantity("deg", 0.0, 180.0, "0 deg to 180 deg")] | None = (
        None  # None: not told
    )
    tail: Tail | None = None
    strains: tuple[Share, Share, Share, Share, Share] | None = Field(
        default=None,
        description="average immediate strain at 10, 20, 30, 40, 50 % of LDBF, from the certificate",
    )


class Ship(Strict):
    """config/ships/*.toml"""

    name: Name
    invented: Truth
    mmsi: Annotated[int, number(200_000_000, 799_999_999, whole=True)]
    loa: Length
    length_between_perpendiculars: Length
    beam: Annotated[float, quantity("m", 3.0, 75.0, "3 m to 75 m")]
    depth_moulded: Annotated[float, quantity("m", 1.0, 60.0, "1 m to 60 m")]
    summer_draught: Draught
    block_coefficient: BlockCoefficient
    anemometer_above_keel: Height
    windage: Windage
    fairleads: tuple[Fairlead, ...] = Field(min_length=1)
    winches: tuple[Winch, ...] = Field(min_length=1)
    lines: tuple[ShipLine, ...] = Field(min_length=2)
    decks: tuple[Deck, ...] = ()  # none: where a parted line goes is not known, and that is said


# --- the berth ----------------------------------------------------------------------------------------------


class Bollard(Strict):
    """A bollard or quick-release hook ashore."""

    name: Name
    along: Place
    behind_face: Place
    above_datum: Height
    swl: ForceOrUnknown


class Fender(Strict):
    """One fender at the face: thickness when not pressed; reaction and deflection (a share of it) as rated."""

    name: Name
    along: Place
    thickness: Annotated[float, quantity("m", 0.05, 5.0, "0.05 m to 5 m")]
    rated_reaction: ForceOrUnknown
    rated_deflection: DeflectionOrUnknown


class Quay(Strict):
    """What stands behind the fenders, and how far along it goes."""

    kind: Literal["solid wall", "piled", "slip with more walls"]
    above_datum: Height
    begins_along: Place
    ends_along: Place


class StreamHour(Strict):
    """One row of the stream table, like a tidal diamond: hours from high water, set and rates."""

    hours_from_high_water: Annotated[float, number(-8, 8, whole=False)]
    set: Direction
    rate_alongside: CurrentSpeed
    rate_in_fairway: CurrentSpeed


class Point(Strict):
    """A position, WGS 84."""

    latitude: Latitude
    longitude: Longitude


Width = Annotated[float, quantity("m", 20.0, 3000.0, "20 m to 3000 m")]


class Section(Strict):
    """Of the whole water abreast of the berth, bank to bank: its width at the surface, its mean depth at datum."""

    width: Width
    mean_depth: Depth


class Fairway(Strict):
    """The middle of the channel, in order, and its whole width."""

    width: Width
    depth: Depth
    middle: tuple[Point, ...] = Field(min_length=2)
    section: Section | None = None  # None: far bank, drawdown and return flow are not known


class WindLimit(Strict):
    """A berth's own limit as the terminal gave it: on the gust or on the mean, averaging time named."""

    speed: WindSpeed
    on: Literal["gust", "mean"]
    averaging: Seconds
    source: Text  # the paper it stands in


_LIKE_THIS: Final = '{ speed = "35 kn", on = "gust", averaging = "3 s", source = "terminal handbook" }'
Limit = Annotated[WindLimit | None, table_or(NOT_ENTERED, _LIKE_THIS)]


class Limits(Strict):
    """Typed by the user from the terminal's papers, or "not entered": the program has none of its own."""

    stop_cargo: Limit
    disconnect: Limit
    call_tugs: Limit
    leave: Limit


class Berth(Strict):
    """config/berths/*.toml"""

    name: Name
    port: Name
    invented: Truth
    position: Point  # the zero of "along", on the face of the quay
    along: Direction  # water on the right hand
    depth_at_datum: Depth
    exposure: Exposure
    quay: Quay
    bollards: tuple[Bollard, ...] = Field(min_length=2)
    fenders: tuple[Fender, ...] = Field(min_length=2)
    stream: tuple[StreamHour, ...] = Field(min_length=2)
    fairway: Fairway
    limits: Limits
    ashore: Ashore | None = None  # None: not told where people stand on the quay


# --- the stay -----------------------------------------------------------------------------------------------


class LineLed(Strict):
    """Which line to which bollard, and the pretension of each part when last tended."""

    line: Name
    bollard: Name
    pretension: Pretension
    parts: Annotated[int, number(1, 2, whole=True)] = 1  # 2: doubled, out round the bollard and back
    sensor: Name | None = None  # under which its force sensor reports, where one is fitted
    sensor_reads: Literal["one part", "all parts"] | None = None  # of a doubled line: must be told with a sensor

    def whole_n(self, read_n: float) -> float:
        """Tension of all parts together, as estimates have it, from what the sensor reads."""
        return self.parts * read_n if self.sensor_reads == "one part" else read_n


class Tide(Strict):
    """High and low waters of the stay, from the tables, in time order."""

    at: Instant
    height: Annotated[float, quantity("m", -5.0, 20.0, "-5 m to 20 m")]
    water: Literal["high", "low"]


class WindUse(Strict):
    """Which wind to believe, first to last: names of feeds, and "entered" for the one typed in."""

    order: tuple[Name, ...] = Field(min_length=1)


class Stay(Strict):
    """config/stays/*.toml"""

    name: Name
    invented: Truth
    ship: Name  # these three are names of files in config/ships, berths and alerts, without .toml
    berth: Name
    alerts: Name
    side_to: Side
    midships_along: Place
    draught_forward: Draught
    draught_aft: Draught
    tended_at: Instant  # when the lines had these pretensions, at these draughts
    phase: Phase
    local_time_ahead_of_utc: Annotated[timedelta, quantity("s", -43200.0, 50400.0, "-12 h to 14 h")]
    lines: tuple[LineLed, ...] = Field(min_length=2)
    tide: tuple[Tide, ...] = Field(min_length=2)
    feeds: tuple[Feed, ...] = Field(min_length=1)
    wind: WindUse


# --- alerts -------------------------------------------------------------------------------------------------


class Levels(Strict):
    """Utilisation (tension ÷ least limit) at which each priority is raised."""

    caution: Share
    warning: Share
    alarm: Share


class Squall(Strict):
    """Raised on the gust itself and on its rate of rise."""

    rise: Annotated[float, quantity("m/s^2", 0.005, 1.0, "0.6 kn/min to 116 kn/min")]
    at_least: WindSpeed  # no squall alert below this gust


class Timing(Strict):
    """How long a condition must last, and how long before the overlap of a passing ship things are said."""

    raise_after: Seconds
    clear_after: Seconds
    deadband: Share
    first_notice: Seconds  # before overlap
    act: Seconds
    clear_decks_before: Seconds
    repeat_warning: Seconds
    escalate_alarm: Seconds
    target_lost: Seconds  # a ship under way that is silent this long is lost


class Odds(Strict):
    """Chance that some line passes its working limit (in a pass, within 15 min, in an hour of the forecast) at
    which a priority is raised. Never an alarm: that takes a load, not a chance."""

    caution: Share
    warning: Share


class Alerts(Strict):
    """config/alerts/*.toml"""

    name: Name
    levels: Levels
    with_people: Levels  # phases with people on deck, or people marked on deck
    squall: Squall
    timing: Timing
    odds: Odds | None = None  # left out: alerts by utilisation only
    log_file: Text
    dead_man: DeadMan | None = None
    bridge_alerts: BridgeAlerts | None = None
    channels: tuple[Channel, ...] = ()


class Settings(Strict):
    """Everything one watch needs, cross-checked."""

    ship: Ship
    berth: Berth
    stay: Stay
    alerts: Alerts
