"""What people have told about the stay: phase, people on deck, draughts, craft alongside, lines."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Final, cast, get_args

from monitor.records.estimates import Slip
from monitor.records.events import LINE_STATES, Action, OperatorAction
from monitor.records.observations import WindKind, WindReading
from monitor.settings.schema import ENTERED, Phase, Stay
from monitor.watch.slips import told
from monitor.watch.water import OffTables

PHASES: Final[tuple[str, ...]] = get_args(Phase)
SOONEST, LATEST = timedelta(minutes=10), timedelta(hours=12)  # between two readings that tell a rate
# In these people work on the mooring decks: earlier and lower alerts.
WORKING_PHASES: Final = frozenset({"making fast", "tending", "shifting", "singling up"})


@dataclass(frozen=True, slots=True)
class Craft:
    """A craft made fast alongside us: she is no passing ship, and her windage hangs on our lines."""

    mmsi: int
    lateral_area_m2: float | None = None  # None: not told, so her windage is missing from the loads and said so


@dataclass(frozen=True, slots=True)
class Tended:
    """When a line was last brought to its pretension, and the ship's draughts then."""

    at: datetime
    draught_forward_m: float
    draught_aft_m: float
    above_tables_m: float | None = None  # how far the water stood above the tables; None: not measured then


@dataclass(frozen=True, slots=True)
class StayState:
    """The stay as last told. `lines` holds the last word on each line."""

    phase: str
    draught_forward_m: float
    draught_aft_m: float
    people_on_deck: bool = False
    people_where: str = ""
    craft: tuple[Craft, ...] = ()
    without_tow: frozenset[int] = frozenset()  # tugs of which we are told that they tow nothing
    lines: Mapping[str, str] = field(default_factory=dict)
    tended: Mapping[str, Tended] = field(default_factory=dict)  # lines tended since the settings were written
    draughts_at: datetime | None = None  # when the draughts were read
    draught_m_s: tuple[float, float] | None = (
        None  # forward and aft, how fast they changed before; None: not known
    )
    off: OffTables | None = None  # the water as lately measured
    slips: tuple[Slip, ...] = ()  # brakes that may have rendered, until somebody says how the line is

    @property
    def moored(self) -> bool:
        """Loads on lines mean something: at least some lines are fast."""
        return self.phase != "gone"

    @property
    def deck_manned(self) -> bool:
        """People are, or must be expected, on the mooring decks."""
        return self.people_on_deck or self.phase in WORKING_PHASES

    @property
    def parted(self) -> frozenset[str]:
        """Lines that no longer hold."""
        return frozenset(line for line, state in self.lines.items() if state == "parted")


def begin(stay: Stay) -> StayState:
    """The state as the settings have it."""
    return StayState(stay.phase, stay.draught_forward, stay.draught_aft, draughts_at=stay.tended_at)


class BadEntry(ValueError):
    """An operator entry that cannot be taken; the text says what is allowed."""


def apply(state: StayState, action: OperatorAction, at: datetime) -> StayState:
    """The state after an entry made at `at`. Raises BadEntry for values that make no sense."""
    match action.action:
        case Action.PHASE:
            return replace(state, phase=_one_of(action.subject, PHASES, "phase"))
        case Action.PEOPLE:
            on_deck = action.value("on_deck") is True
            return replace(state, people_on_deck=on_deck, people_where=action.subject if on_deck else "")
        case Action.DRAUGHT:
            forward_m, aft_m = (_number(action, name, 0.5, 25.0) for name in ("forward_m", "aft_m"))
            return _draughts(state, forward_m, aft_m, at)
        case Action.CRAFT:
            return _craft(state, action)
        case Action.TOW:
            mmsi = frozenset({int(_number(action, "mmsi", 1, 999_999_999))})
            tows = action.value("tows") is True
            return replace(state, without_tow=state.without_tow - mmsi if tows else state.without_tow | mmsi)
        case Action.LINE:
            word = _one_of(cast("str", action.value("state") or ""), LINE_STATES, "line state")
            state = replace(state, lines={**state.lines, action.subject: word}, slips=told(state.slips, action))
            if word == "tended":
                above_m = None if state.off is None else state.off.level_above_m(at)
                tended = Tended(at, state.draught_forward_m, state.draught_aft_m, above_m)
                state = replace(state, tended={**state.tended, action.subject: tended})
            return state
    return state


def entered_wind(action: OperatorAction, at: datetime) -> WindReading:
    """The wind that somebody read off a panel and typed in."""

    def number(name: str) -> float | None:
        value = action.value(name)
        return float(value) if isinstance(value, float | int) and not isinstance(value, bool) else None

    return WindReading(
        at,
        at,
        ENTERED,
        WindKind.ENTERED,
        number("mean_m_s"),
        number("gust_m_s"),
        number("from_direction_deg"),
        averaging_s=120.0,  # an eye average over a couple of minutes
    )


def _draughts(state: StayState, forward_m: float, aft_m: float, at: datetime) -> StayState:
    """New draughts; from two readings ten minutes to twelve hours apart, also how fast cargo changes them."""
    rate = None
    if state.draughts_at is not None and SOONEST <= (apart := at - state.draughts_at) <= LATEST:
        s = apart.total_seconds()
        rate = (forward_m - state.draught_forward_m) / s, (aft_m - state.draught_aft_m) / s
    return replace(state, draught_forward_m=forward_m, draught_aft_m=aft_m, draughts_at=at, draught_m_s=rate)


def _craft(state: StayState, action: OperatorAction) -> StayState:
    mmsi = int(_number(action, "mmsi", 1, 999_999_999))
    others = tuple(craft for craft in state.craft if craft.mmsi != mmsi)
    if action.value("alongside") is not True:
        return replace(state, craft=others)
    area = action.value("lateral_area_m2")
    return replace(state, craft=(*others, Craft(mmsi, float(area) if isinstance(area, float | int) else None)))


def _number(action: OperatorAction, name: str, low: float, high: float) -> float:
    value = action.value(name)
    if isinstance(value, bool) or not isinstance(value, float | int) or not low <= value <= high:
        said = f"{action.action}, {name.removesuffix('_m')}: {'missing' if value is None else value}"
        raise BadEntry(f"{said}; allowed: a number from {low:g} to {high:.10g}")
    return float(value)


def _one_of(word: str, allowed: tuple[str, ...], what: str) -> str:
    if word not in allowed:
        raise BadEntry(f"{what} {word!r} is not known; allowed: {', '.join(allowed)}")
    return word
