"""The invented day: a watch of seven hours at the invented berth, as data.

Everything here is made up: no ship, person or port is meant. Times are minutes since the day began (08:00
local); high water is near minute 250. A quiet morning, a fast ship, a neighbour's departure, a ship that stops
short, a rising wind off the quay, a squall; and between them a feed that breaks, a feed that only falls silent,
and people on the mooring decks.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from itertools import pairwise
from typing import Final

import numpy as np

from monitor.base.frames import LocalMap, to_axes
from monitor.intake.simulated import Day, Silence
from monitor.intake.simulated.forecasts import ForecastScript
from monitor.intake.simulated.tracks import Corner, Voyage
from monitor.intake.simulated.transponders import Ship
from monitor.intake.simulated.winds import Squall, WindScript
from monitor.records.events import Action, OperatorAction
from monitor.settings.schema import Settings

BEGINS_AT: Final = datetime(2026, 3, 14, 10, 0, tzinfo=UTC)
MINUTES: Final = 420.0
SEED: Final = 20260314
_BEYOND_M: Final = 3000.0  # ships are seen this far past the ends of the charted fairway
_CARGO, _TANKER, _CAR_CARRIER, _TUG, _TOWING, _YACHT = 70, 80, 79, 52, 31, 37

# Ordinary traffic, slowed as it should be: (minute abeam, way, knots abeam, metres off the quay's face, ship).
# Ships going up keep to the far side, ships going down to the near one.
_Passing = tuple[float, str, float, float, Ship]


def _ship(
    last: int, name: str, ship_type: int, loa_m: float, beam_m: float, draught_m: float, **others: object
) -> Ship:
    """An invented ship with her bridge where such ships have it: aft, tugs and boats further forward."""
    to_bow_m = round((0.82 if loa_m > 60.0 else 0.4) * loa_m)
    return Ship(
        200911000 + last,
        name,
        ship_type,
        loa_m,
        beam_m,
        draught_m,
        to_bow_m,
        round(0.45 * beam_m),
        **others,  # type: ignore[arg-type]
    )


_BOAT: Final = _ship(90, "WEE PIPIT", _YACHT, 10.0, 3.0, 0.0, class_a=False)
FAST: Final = _ship(2, "ORVANE SUMMIT", _CARGO, 300.0, 45.0, 12.9, destination="SEA")
SLOW: Final = _ship(19, "HALDRA FIELD", _CARGO, 294.0, 46.0, 10.6, destination="SEA")  # as large, nearly as near
_ORDINARY: Final[tuple[_Passing, ...]] = (
    (20.0, "up", 7.5, 262.0, _ship(11, "CORRY PLENTY", _CARGO, 112.0, 17.0, 6.1)),
    (31.0, "down", 7.0, 176.0, _ship(12, "UMBER VALE", _CARGO, 88.0, 13.0, 4.2)),
    (41.0, "up", 8.5, 240.0, _ship(41, "LORRIM BADGER", _TUG, 29.0, 11.0, 4.8)),
    (50.0, "up", 20.0, 55.0, _BOAT),  # 20 m off our side: must not alarm
    (62.0, "down", 7.2, 182.0, _ship(13, "MELLICK DAWN", _TANKER, 144.0, 23.0, 7.6)),
    (84.0, "up", 6.8, 256.0, _ship(14, "PELLAN STREAM", _CARGO, 180.0, 30.0, 9.1)),
    (88.5, "down", 6.8, 165.0, _ship(25, "HOLLIN BRAE", _CARGO, 210.0, 32.0, 10.4)),  # these two: people on deck
    (104.0, "up", 7.4, 268.0, _ship(15, "NORRA ISKE", _CARGO, 100.0, 16.0, 5.5)),
    (125.0, "down", 7.6, 172.0, _ship(16, "BRISA TOLDEN", _CARGO, 134.0, 21.0, 7.9)),
    (138.0, "down", 20.0, 60.0, _ship(91, "SPRAY HOPPER", _YACHT, 11.0, 3.0, 0.0, class_a=False)),
    (174.0, "up", 7.8, 250.0, _ship(17, "HASKE MINNOW", _TANKER, 92.0, 15.0, 5.2)),
    (224.0, "up", 7.0, 258.0, _ship(18, "GREY ANDARRA", _CARGO, 150.0, 24.0, 8.4)),
    (286.0, "down", 7.5, 178.0, _ship(20, "TANSY VOSS", _CARGO, 108.0, 17.0, 5.9)),
    (302.0, "up", 6.5, 262.0, _ship(42, "LORRIM STOAT", _TOWING, 31.0, 11.0, 5.0)),  # a tow that AIS hides
    (378.0, "up", 7.9, 266.0, _ship(21, "VELLO HARROW", _CARGO, 118.0, 19.0, 6.4)),
    (388.0, "down", 7.3, 174.0, _ship(22, "QUILL MARRO", _TANKER, 128.0, 20.0, 7.2)),
    (399.0, "up", 7.1, 254.0, _ship(23, "SABLE ONDINE", _CARGO, 96.0, 15.0, 5.4)),
    (411.0, "down", 7.4, 170.0, _ship(24, "FENNA DRAKE", _CARGO, 139.0, 22.0, 7.7)),
)


def invented_day(settings: Settings) -> Day:
    """The scripted day at the berth of these settings, with the feeds' names taken from the stay."""
    berth, stay, ship = settings.berth, settings.stay, settings.ship
    here = LocalMap(berth.position.latitude, berth.position.longitude)
    middle = [
        to_axes(*here.to_plane(point.latitude, point.longitude), berth.along) for point in berth.fairway.middle
    ]
    own = Ship(
        ship.mmsi, ship.name.upper(), _CAR_CARRIER, ship.loa, ship.beam, stay.draught_aft, 24.0, 14.0,
        own=True, status=((0.0, 5),),
    )  # fmt: skip
    own_off_m = berth.fenders[0].thickness + 0.5 * ship.beam
    heading_deg = berth.along if stay.side_to == "port" else (berth.along + 180.0) % 360.0
    feeds = {feed.carries: feed for feed in stay.feeds}
    ais, wind = feeds["ais"], feeds["nmea"]
    return Day(
        begins_at=BEGINS_AT,
        minutes=MINUTES,
        seed=SEED,
        latitude_deg=berth.position.latitude,
        longitude_deg=berth.position.longitude,
        along_deg=berth.along,
        heading_deg=heading_deg,
        ais_feed=ais.name,
        wind_feed=wind.name,
        forecast_feed=feeds["met norway"].name,
        base_station_mmsi=2009901,  # 00 and the country code of nobody
        ships=(
            (own, _lying(stay.midships_along, own_off_m, heading_deg)),
            *(
                (ship, _passing(middle, minute, way, knots, off_m))
                for minute, way, knots, off_m, ship in _ORDINARY
            ),
            (FAST, _passing(middle, 155.0, "down", 11.0, 151.0, slows=False)),
            (SLOW, _passing(middle, 264.0, "down", 6.0, 170.0, slows=False)),
            *_neighbour_leaves(middle, berth.along),
            _stops_short(middle, berth.along),
        ),
        wind=_WIND,
        forecast=ForecastScript(),
        silences=(
            Silence(ais.name, 112.0, 116.0, 0.0, f"{ais.to} closed the connection"),
            Silence(
                wind.name,
                308.0,
                311.0,
                wind.stale_after,
                f"nothing heard from {wind.to} for {wind.stale_after:.0f} s",
            ),
        ),
        actions=tuple(sorted(_ACTIONS, key=lambda action: action[0])),
    )


# --- ships ----------------------------------------------------------------------------------------------------


def _lane(middle: Sequence[Corner], way: str, off_m: float) -> tuple[Corner, ...]:
    """A lane beside the middle of the fairway that passes the berth `off_m` off its face, longer at both ends."""
    points = np.array(middle, dtype=float)
    abreast = next(
        float(np.interp(0.0, [a[0], b[0]], [a[1], b[1]])) for a, b in pairwise(points) if a[0] <= 0.0 <= b[0]
    )
    ahead = points[1] - points[0], points[-1] - points[-2]
    points[0] -= ahead[0] / np.hypot(*ahead[0]) * _BEYOND_M
    points[-1] += ahead[1] / np.hypot(*ahead[1]) * _BEYOND_M
    legs = np.diff(points, axis=0)
    right = np.stack([-legs[:, 1], legs[:, 0]], axis=1) / np.hypot(*legs.T)[:, None]
    normals = np.concatenate([right[:1], right[:-1] + right[1:], right[-1:]])
    normals /= np.hypot(*normals.T)[:, None]
    lane = points + (off_m - abreast) * normals
    corners = [(float(along), float(off)) for along, off in lane]
    return tuple(corners if way == "up" else reversed(corners))


def _passing(
    middle: Sequence[Corner], minute: float, way: str, knots: float, off_m: float, slows: bool = True
) -> Voyage:
    """A pass at a speed; one who slows for the berth comes in 40 % faster and goes out so."""
    outside = 1.4 * knots if slows else knots
    speeds = ((minute - 16.0, outside), (minute - 9.0, knots), (minute + 5.0, knots), (minute + 10.0, outside))
    return Voyage(_lane(middle, way, off_m), speeds, minute, 0.0)


def _lying(along_m: float, off_m: float, heading_deg: float) -> Voyage:
    """At a berth all day."""
    return Voyage(
        ((along_m, off_m), (along_m + 1.0, off_m)), ((0.0, 0.0),), 0.0, along_m, headings=((0.0, heading_deg),)
    )


def _neighbour_leaves(middle: Sequence[Corner], along_deg: float) -> tuple[tuple[Ship, Voyage], ...]:
    """From the berth ahead of us, bow down river, drawn off by two tugs, then slowly and closely past us.

    Her status still says moored until somebody thinks of it: at 3 min between reports her letting go is nearly
    unseen.
    """
    out = (along_deg + 180.0) % 360.0
    ship = _ship(31, "ESKER MAID", _CARGO, 148.0, 23.0, 7.4, destination="SEA", status=((0.0, 5), (203.0, 0)))
    seaward = [corner for corner in _lane(middle, "down", 150.0) if corner[0] < -1000.0]
    away = ((240.0, 12.8), (232.0, 75.0), (190.0, 96.0), (-160.0, 104.0), *seaward)
    speeds = ((190.0, 0.0), (191.0, 0.25), (197.0, 0.5), (201.0, 2.5), (206.0, 5.0), (215.0, 5.5), (226.0, 10.0))
    drawn_off = ((0.0, out), (202.0, out), (204.0, None))
    neighbour = Voyage(away, speeds, 190.0, 240.0, turn_radius_m=250.0, headings=drawn_off)
    tugs = []
    for last, name, along_m in ((43, "LORRIM OTTER", 285.0), (44, "LORRIM HERON", 195.0)):
        out_and_home = (
            (560.0, 24.0),
            (430.0, 70.0),
            (along_m, 70.0),
            (-120.0, 150.0),
            (-60.0, 230.0),
            (480.0, 200.0),
            (560.0, 24.5),
        )
        tug_speeds = (
            (176.0, 0.0),
            (178.0, 3.5),
            (181.0, 3.5),
            (183.0, 0.3),
            (198.0, 0.3),
            (202.0, 4.5),
            (209.0, 6.0),
            (214.0, 3.0),
            (300.0, 2.5),
        )
        tugs.append(
            (
                _ship(last, name, _TUG, 28.0, 10.0, 4.6),
                Voyage(out_and_home, tug_speeds, 176.0, 560.0, 60.0, stays=True),
            )
        )
    return (ship, neighbour), *tugs


def _stops_short(middle: Sequence[Corner], along_deg: float) -> tuple[Ship, Voyage]:
    """Down the river to the berth the neighbour has left: she seems to come past and does not."""
    out = (along_deg + 180.0) % 360.0
    ship = _ship(32, "UMBER LASS", _CARGO, 104.0, 16.0, 5.8, status=((0.0, 0), (262.0, 5)))
    river = [corner for corner in _lane(middle, "down", 165.0) if corner[0] > 1000.0]
    way = (*river, (520.0, 150.0), (262.0, 60.0), (240.0, 10.4), (239.0, 9.2))
    speeds = ((222.0, 9.0), (230.0, 7.0), (238.0, 3.5), (243.0, 1.0), (247.0, 0.3), (252.0, 0.15), (254.0, 0.0))
    headings = ((238.0, None), (242.0, out))
    return ship, Voyage(way, speeds, 254.0, 239.0, turn_radius_m=200.0, headings=headings, stays=True)


# --- wind -----------------------------------------------------------------------------------------------------

_WIND: Final = WindScript(
    course=(
        (0.0, 9.0, 300.0),
        (60.0, 8.0, 315.0),
        (120.0, 10.0, 322.0),
        (200.0, 11.0, 315.0),
        (250.0, 13.0, 311.0),
        (268.0, 17.0, 310.0),
        (288.0, 26.0, 309.0),
        (298.0, 30.0, 309.0),
        (318.0, 30.0, 307.0),
        (324.0, 24.0, 300.0),
        (340.0, 24.0, 300.0),
        (352.0, 18.0, 320.0),
        (366.0, 13.0, 340.0),
        (420.0, 11.0, 350.0),
    ),
    squalls=(Squall(328.0, 2.0, 110.0, 240.0, 700.0, 30.0),),
)


# --- people ---------------------------------------------------------------------------------------------------


def _act(who: str, action: Action, subject: str = "", **values: str | float | bool | None) -> OperatorAction:
    return OperatorAction(who, action, subject, tuple(values.items()))


_TENDED: Final = ("forward breast 1", "forward breast 2", "aft breast 1", "aft breast 2")
_SPRINGS: Final = ("forward spring 1", "forward spring 2", "aft spring 1", "aft spring 2")  # by the fast ship
_HEAVY: Final = (*_TENDED, "head line 2", "stern line 2")  # in the squall
_HARBOUR_TUGS: Final = (200911043, 200911044)  # come for the neighbour, as VTS says
# Answers to alerts that should stand then; one that does not stand is not changed by it.
_ANSWERS: Final = (
    (41.5, "HB", "passing:200911013"),
    (67.5, "HB", "passing:200911025"),
    (67.7, "HB", "passing:200911014"),
    (104.5, "HB", "passing:200911016"),
    (113.5, "HB", "feed:ais"),
    (115.0, "HB", "passing:200911016"),
    (137.5, "HB", f"passing:{FAST.mmsi}"),
    (149.5, "TK", f"passing:{FAST.mmsi}"),
    (156.0, "TK", "brakes"),
    (203.0, "TK", "passing:200911031"),
    (241.5, "TK", "ahead"),
    (292.0, "TK", "passing:200911042"),
    (296.0, "TK", "wind"),
    (296.5, "TK", "limit:stop_cargo"),
    (310.0, "TK", "feed:anemometer"),
    (310.2, "TK", "ahead"),
    (331.0, "TK", "wind"),
    (331.5, "TK", "limit:call_tugs"),
    (332.0, "TK", "brakes"),
    (340.0, "TK", "limit:leave"),
)
_ACTIONS: Final = (
    (2.0, _act("HB", Action.NOTE, "Took over the watch; lines even, fenders close.")),
    (66.0, _act("HB", Action.PEOPLE, "forward and aft", on_deck=True)),
    (70.0, _act("HB", Action.PHASE, "tending")),
    *((74.0 + 2.0 * k, _act("HB", Action.LINE, line, state="tended")) for k, line in enumerate(_TENDED)),
    (83.0, _act("HB", Action.PHASE, "all fast")),
    (95.0, _act("HB", Action.PEOPLE, "forward and aft", on_deck=False)),
    (163.0, _act("TK", Action.NOTE, "All springs looked at from the gangway and the ramp: no drum has turned.")),
    *((163.5 + 0.25 * k, _act("TK", Action.LINE, line, state="held")) for k, line in enumerate(_SPRINGS)),
    *((174.0 + k, _act("TK", Action.TOW, mmsi=float(mmsi), tows=False)) for k, mmsi in enumerate(_HARBOUR_TUGS)),
    (180.0, _act("TK", Action.DRAUGHT, forward_m=8.8, aft_m=9.1)),
    (329.9, _act("TK", Action.SILENCE, "wind")),
    (362.0, _act("TK", Action.NOTE, "Squall over; lines looked at from the ramp: no drum has turned.")),
    *((363.0 + 0.25 * k, _act("TK", Action.LINE, line, state="held")) for k, line in enumerate(_HEAVY)),
    *((minute, _act(who, Action.ACKNOWLEDGE, alert)) for minute, who, alert in _ANSWERS),
)
