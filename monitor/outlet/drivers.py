"""What decides most of a chance, and what an officer can look at or ask for to know it better."""

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


def drivers_in_words(drivers: Sequence[str]) -> str:
    """ "depends most on her distance (ask her or VTS …) and gusts (read …)"; "" with none."""
    told = [f"{name} ({CHECK[name]})" if CHECK.get(name) else name for name in drivers]
    return f"depends most on {' and '.join(told)}" if told else ""
