"""What an officer types at the running watch, as operator actions. Plain words, units written."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from datetime import UTC, datetime
from difflib import get_close_matches
from typing import Final, cast

from monitor.base.units import UnitError, typed_direction_deg, typed_quantity
from monitor.outlet.naming import alert_in_words
from monitor.records.events import LINE_STATES, Action, OperatorAction
from monitor.settings.fit import draughts
from monitor.settings.schema import Ship
from monitor.watch import stay
from monitor.watch.stay import PHASES

HELP: Final = """\
ack ALERT INITIALS            seen; for an alarm: decks are clear        ack orvane summit AB
hush ALERT INITIALS           no sound for 30 s
phase WORDS                   making fast | all fast | tending | shifting | singling up | gone
people on PLACE / people off  people on the mooring decks                people on forecastle
wind SPEED from DEG [gust S]  as read off the panel                      wind 25 kn from 240 deg gust 32 kn
draught FWD AFT               after cargo or ballast                     draught 9.1 m 9.4 m
alongside MMSI [AREA]         a craft made fast to us                    alongside 200933001 300 m^2
cast off MMSI                 she has left
tow MMSI none / tow MMSI yes  whether a tug tows what AIS does not show
line NAME STATE               tended | held (its brake) | slack | heavy | rendered | parted
note TEXT                     anything for the log
help                          this page"""

_QUANTITY: Final = r"([0-9.]+\s*[A-Za-z%°²^/0-9]+?)"
_ANY_STAY: Final = stay.StayState("all fast", 1.0, 1.0)  # to try an entry on
_ANY_TIME: Final = datetime(1970, 1, 1, tzinfo=UTC)
_LARGEST_M2: Final = 30_000.0  # as in the settings
_FASTEST_M_S: Final = 77.2  # 150 kn: more is a slip of the finger


class EntryFault(ValueError):
    """The entry could not be read; the text says what is allowed and the nearest."""


def read_entry(
    text: str,
    lines: Collection[str],
    alerts: Collection[str] | Mapping[str, str],
    who: str = "",
    ship: Ship | None = None,
    alongside: Collection[int] | None = None,
) -> OperatorAction:
    """The action a typed line means. `lines`: names known now; `alerts`: keys known now, or keys and words. An
    alert may be typed by its key, its words, or any part of them that no other shares. With the `ship`, and the
    MMSI of what lies `alongside`, what cannot be with her is refused, too. Raises EntryFault."""
    named = alerts if isinstance(alerts, Mapping) else {key: alert_in_words(key) for key in alerts}
    action = _read(text, lines, named, who)
    try:
        stay.apply(_ANY_STAY, action, _ANY_TIME)
    except stay.BadEntry as fault:
        raise EntryFault(str(fault)) from None
    if ship is not None and action.action is Action.DRAUGHT:
        forward_m, aft_m = (cast("float", action.value(name)) for name in ("forward_m", "aft_m"))
        if slips := [f"{problem}; allowed: {allowed}" for problem, allowed in draughts(ship, forward_m, aft_m)]:
            raise EntryFault("; ".join(slips))
    if action.action is Action.CRAFT:
        _craft_can_be(action, ship, alongside)
    return action


def _craft_can_be(action: OperatorAction, ship: Ship | None, alongside: Collection[int] | None) -> None:
    mmsi = int(cast("float", action.value("mmsi")))
    if ship is not None and mmsi == ship.mmsi:
        raise EntryFault(f"{mmsi} is our own MMSI")
    if alongside is not None and action.value("alongside") is False:
        _name(f"{mmsi:09}", [f"{each:09}" for each in alongside], "craft alongside", "now")


def _read(text: str, lines: Collection[str], alerts: Mapping[str, str], who: str) -> OperatorAction:
    verb, _, rest = text.strip().partition(" ")
    rest = rest.strip()
    match verb.lower():
        case "ack" | "hush":
            key, _, initials = rest.rpartition(" ")
            if not key or not re.fullmatch(r"[A-Za-z]{1,4}", initials):
                now = ", ".join(alerts.values()) or "none"
                raise EntryFault(f"write: {verb} ALERT INITIALS; alerts now: {now}")
            action = Action.ACKNOWLEDGE if verb.lower() == "ack" else Action.SILENCE
            return OperatorAction(initials.upper(), action, _alert(key, alerts))
        case "phase":
            return OperatorAction(who, Action.PHASE, _name(rest.lower(), PHASES, "phase"))
        case "people":
            typed, _, place = rest.partition(" ")
            word = typed.lower()
            if word not in ("on", "off"):
                raise EntryFault("write: people on PLACE, or: people off")
            return OperatorAction(who, Action.PEOPLE, place, (("on_deck", word == "on"),))
        case "wind":
            return _wind(rest, who)
        case "draught":
            forward, aft = _quantities(rest, rf"{_QUANTITY}\s+{_QUANTITY}", "m", "draught 9.1 m 9.4 m")
            return OperatorAction(who, Action.DRAUGHT, values=(("forward_m", forward), ("aft_m", aft)))
        case "alongside":
            mmsi, _, area = rest.partition(" ")
            values: list[tuple[str, str | float | bool | None]] = [("mmsi", _mmsi(mmsi)), ("alongside", True)]
            if area:
                area_m2 = _quantity(area, "m^2")
                if not 1.0 <= area_m2 <= _LARGEST_M2:
                    raise EntryFault(f"'{area}': allowed 1 m^2 to {_LARGEST_M2:.0f} m^2, seen from the side")
                values.append(("lateral_area_m2", area_m2))
            return OperatorAction(who, Action.CRAFT, values=tuple(values))
        case "cast":
            mmsi = rest.removeprefix("off").strip()
            return OperatorAction(who, Action.CRAFT, values=(("mmsi", _mmsi(mmsi)), ("alongside", False)))
        case "tow":
            mmsi, _, word = rest.partition(" ")
            tows = _name(word.lower(), ("none", "yes"), "answer") == "yes"
            return OperatorAction(who, Action.TOW, values=(("mmsi", _mmsi(mmsi)), ("tows", tows)))
        case "line":
            if not rest or rest.lower() in map(str.lower, lines):
                raise EntryFault(f"write: line NAME STATE; states: {', '.join(LINE_STATES)}")
            name, _, state = rest.rpartition(" ")
            known = _name(name, lines, "line")
            return OperatorAction(
                who, Action.LINE, known, (("state", _name(state.lower(), LINE_STATES, "state")),)
            )
        case "note":
            if not rest:
                raise EntryFault("write: note TEXT")
            return OperatorAction(who, Action.NOTE, rest)
    words = tuple(dict.fromkeys(line.split()[0] for line in HELP.splitlines()))
    raise EntryFault(f"'{verb}' is not known{_nearest(verb, words)}; allowed: {', '.join(words)}")


def _wind(text: str, who: str) -> OperatorAction:
    found = re.fullmatch(
        rf"{_QUANTITY}\s+from\s+{_QUANTITY}(?:\s+gust\s+{_QUANTITY})?\s*", text, flags=re.IGNORECASE
    )
    if found is None:
        raise EntryFault("write for instance: wind 25 kn from 240 deg gust 32 kn")
    speed, direction, gust = found.groups()
    mean_m_s, gust_m_s = _quantity(speed, "m/s"), _quantity(gust, "m/s") if gust else None
    try:
        values = [("mean_m_s", mean_m_s), ("from_direction_deg", typed_direction_deg(direction))]
    except UnitError as error:
        raise EntryFault(str(error)) from None
    if max(mean_m_s, gust_m_s or 0.0) > _FASTEST_M_S:
        raise EntryFault("wind above 150 kn: a slip? write for instance: wind 25 kn from 240 deg gust 32 kn")
    if gust_m_s is not None:
        if gust_m_s < mean_m_s:
            raise EntryFault(f"a gust of {gust} below the mean of {speed}: exchanged?")
        values.append(("gust_m_s", gust_m_s))
    return OperatorAction(who, Action.WIND, values=tuple(values))


def _quantities(text: str, pattern: str, unit: str, example: str) -> list[float]:
    found = re.fullmatch(pattern, text)
    if found is None:
        raise EntryFault(f"write for instance: {example}")
    return [_quantity(part, unit) for part in found.groups()]


def _quantity(text: str, unit: str) -> float:
    try:
        return typed_quantity(text, unit)
    except UnitError as error:
        raise EntryFault(str(error)) from None


def _mmsi(text: str) -> float:
    if not re.fullmatch(r"(?!0+$)[0-9]{9}", text):
        raise EntryFault(f"'{text}' is no MMSI: nine digits")
    return float(text)


def _alert(typed: str, alerts: Mapping[str, str]) -> str:
    """The key of the alert that is meant."""
    word = typed.lower()
    exact = [key for key, words in alerts.items() if word in (key.lower(), words.lower())]
    meant = exact or [key for key, words in alerts.items() if word in words.lower()]
    if len(meant) == 1:
        return meant[0]
    if meant:
        raise EntryFault(f"'{typed}' may be: {', '.join(alerts[key] for key in meant)}")
    return _name(typed, alerts.values(), "alert", "now")


def _name(word: str, known: Iterable[str], what: str, which: str = "allowed") -> str:
    names = list(known)
    exact = [name for name in names if name.lower() == word.lower()]
    if exact:
        return exact[0]
    raise EntryFault(f"{what} '{word}' is not known{_nearest(word, names)}; {which}: {', '.join(names) or 'none'}")


def _nearest(word: str, names: Iterable[str]) -> str:
    near = get_close_matches(word, list(names), n=1, cutoff=0.5)
    return f", nearest: {near[0]}" if near else ""
