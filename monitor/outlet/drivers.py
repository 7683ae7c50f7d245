"""Chances in words: what decides most of one, and what an officer can look at or ask for to know it better."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

# By input of the odds; "" where nobody on board can know it better.
CHECK: Final = {
    "mean wind": "read the anemometer",
    "wind direction": "read the vane, look at flags ashore",
    "gusts": "read the highest gusts of ten minutes",
    "wind area and coefficients": "enter her side area from the plan",
    "wind in the hour ahead": "get a fresh forecast, look at the sky to windward",
    "stream": "look at the stream along the hull",
    "her speed through the water": "ask her or VTS",
    "her distance": "ask her or VTS how far off she will pass",
    "her size and fullness": "ask her draught and breadth",
    "model of passing ships": "",
    "pretension of our lines": "look from outside the decks which lines are tight and which slack",
    "stiffness of our lines": "enter the strains of the lines' certificates",
    "friction at the fenders": "",
    "water moving with us": "",
    "damping": "",
}


def over_limits_in_words(working: float, limit: float) -> str:
    """Chance that a line passes its working limit; and its least limit (brake, fitting, bollard) where that is
    likelier by far."""
    told = f"chance that a line passes its working limit {chance_in_words(working)}"
    return f"{told}, a lesser limit {chance_in_words(limit)}" if limit >= max(0.01, 2.0 * working) else told


def chance_in_words(chance: float) -> str:
    """ "12 %", "under 1 %", "over 99 %"."""
    return "under 1 %" if chance < 0.01 else "over 99 %" if chance > 0.99 else f"{100 * chance:.0f} %"


def drivers_in_words(drivers: Sequence[str]) -> str:
    """ "depends most on her distance (ask her or VTS …) and gusts (read …)"; "" with none."""
    told = [f"{name} ({CHECK[name]})" if CHECK.get(name) else name for name in drivers]
    return f"depends most on {' and '.join(told)}" if told else ""
