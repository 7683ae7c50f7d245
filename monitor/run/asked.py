"""A what-if as typed into a form: the numbers with their units read, the answer put in words."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from monitor.base.units import parse_quantity
from monitor.outlet.console.desk import Reply
from monitor.outlet.tables import forces_in_words, speed_in_words
from monitor.outlet.tending_words import lost_in_words, pass_odds_in_words, untended_in_words
from monitor.outlet.wording import Local
from monitor.run.whatif import Passer, what_if, wind_from_deg
from monitor.settings.schema import Settings


def ask(settings: Settings, at: datetime, fields: Mapping[str, str]) -> Reply:
    """The answer at the tide and stream of `at`. Raises ValueError (UnitError among them) with the reason."""
    wind_m_s = parse_quantity(fields.get("wind") or "0 kn", "m/s")
    from_deg = wind_from_deg(settings, fields.get("direction") or "off-berth")
    answer = what_if(settings, at, wind_m_s, from_deg, _passer(fields))
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


def _passer(fields: Mapping[str, str]) -> Passer | None:
    needed = [fields.get(name, "") for name in ("length", "distance", "speed")]
    if not any(needed):
        return None
    if not all(needed):
        raise ValueError("a passing ship needs length, distance and speed")

    def given(name: str) -> float | None:
        return parse_quantity(fields[name], "m") if fields.get(name) else None

    length_m, distance_m = parse_quantity(needed[0], "m"), parse_quantity(needed[1], "m")
    speed_m_s = parse_quantity(needed[2], "m/s")
    if not (10.0 <= length_m <= 500.0 and 1.0 <= distance_m <= 3000.0 and 0.2 <= speed_m_s <= 20.0):
        raise ValueError("allowed: length 10 m to 500 m, distance 1 m to 3000 m, speed 0.4 kn to 38 kn")
    through_water = fields.get("over", "") != "over ground"
    opposite = fields.get("way", "") == "the other way"
    return Passer(length_m, given("beam"), given("draught"), distance_m, speed_m_s, through_water, opposite)
