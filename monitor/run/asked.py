"""A what-if as typed into a form: the numbers with their units read, the answer put in words."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Final

from monitor.base.units import typed_quantity
from monitor.outlet.console.desk import Reply
from monitor.outlet.tables import forces_in_words, speed_in_words
from monitor.outlet.tending_words import lost_in_words, pass_odds_in_words, untended_in_words
from monitor.outlet.wording import Local
from monitor.run.whatif import Passer, channel_of, what_if, wind_from_deg
from monitor.settings.schema import Settings

_ALLOWED: Final = {  # unit, least, most, and both in words: wide enough for every ship, too narrow for most slips
    "wind": ("m/s", 0.0, 77.2, "0 kn to 150 kn"),
    "length": ("m", 10.0, 500.0, "10 m to 500 m"),
    "beam": ("m", 2.0, 80.0, "2 m to 80 m"),
    "draught": ("m", 0.5, 30.0, "0.5 m to 30 m"),
    "distance": ("m", 1.0, 3000.0, "1 m to 3000 m, hull to hull"),
    "speed": ("m/s", 0.2, 20.0, "0.4 kn to 38 kn"),
    "section": ("m^2", 50.0, 200_000.0, "50 m^2 to 200 000 m^2, of the whole channel"),
    "width": ("m", 20.0, 3000.0, "20 m to 3000 m, of the whole channel"),
}


def ask(settings: Settings, at: datetime, fields: Mapping[str, str]) -> Reply:
    """The answer at the tide and stream of `at`. Raises ValueError (UnitError among them) with the reason."""
    wind_m_s, from_deg, passer = question(settings, fields)
    answer = what_if(settings, at, wind_m_s, from_deg, passer)
    local = Local(settings.stay.local_time_ahead_of_utc)
    told = [f"At {local.clock(at)}, wind {fields.get('wind') or '0 kn'} from {from_deg:03.0f}°"]
    parts = (("Wind", answer.wind_load), ("Stream", answer.stream_load), ("Passing, peaks", answer.passing_peak))
    told += [f"{name}: {forces_in_words(p.surge_n, p.sway_n, p.yaw_n_m)}" for name, p in parts if p is not None]
    if answer.speed_water_m_s is not None:
        told.append(f"Speed through the water {speed_in_words(answer.speed_water_m_s)}")
    if answer.assumed:
        told.append("Assumed: " + ", ".join(answer.assumed))
    if answer.reasons:
        told.append(f"{answer.validity.value.capitalize()}: " + "; ".join(answer.reasons))
    if answer.odds and answer.passing:
        told += pass_odds_in_words(answer.odds, answer.advice, answer.passing.encounter, local)
    if not answer.passing:
        told += [f"If nobody tends: {words}" for words in untended_in_words(answer.untended, local)]
        told += lost_in_words(answer.lost)
    if not answer.lines:
        told.append("LINE LOADS NOT KNOWN")
    return Reply(tuple(told), answer.lines)


def question(settings: Settings, fields: Mapping[str, str]) -> tuple[float, float, Passer | None]:
    """The wind in m/s, where it comes from in degrees, and the ship, if one is asked for. An empty field counts as
    none. Raises ValueError (UnitError among them) with the reason."""
    typed = {name: _typed(name, fields[name]) for name in _ALLOWED if fields.get(name)}
    from_deg = wind_from_deg(settings, fields.get("direction") or "off-berth")
    return typed.pop("wind", 0.0), from_deg, _passer(typed, fields) if typed else None


def _typed(name: str, text: str) -> float:
    unit, low, high, shown = _ALLOWED[name]
    value = typed_quantity(text, unit)
    if not low <= value <= high:
        raise ValueError(f"{name} '{text}': allowed {shown}")
    return value


def _passer(typed: Mapping[str, float], fields: Mapping[str, str]) -> Passer:
    if not typed.keys() >= {"length", "distance", "speed"}:
        raise ValueError("a passing ship needs length, distance and speed")
    return Passer(
        typed["length"],
        typed.get("beam"),
        typed.get("draught"),
        typed["distance"],
        typed["speed"],
        through_water=fields.get("over") != "over ground",
        opposite=fields.get("way") == "the other way",
        channel=channel_of(typed.get("section"), typed.get("width")),
    )
