"""Where a parted line goes: energy and speed of recoil, where it may break, and how both parts fly.

A model that advises. The whole mooring deck and the quay edge lie in reach of a parting line whatever it says: a
place that no simulated path met is not a place to stand.
"""

from monitor.physics.snapback.breaks import Break, breaks
from monitor.physics.snapback.energy import Recoil, Upward, recoil, upward
from monitor.physics.snapback.flights import Flights, Swept, flights, swept
from monitor.physics.snapback.led import Led, Rope, class_tension_n, linear_rope, tension_class, usual_rope
from monitor.physics.snapback.release import Path, release

__all__ = [
    "Break",
    "Flights",
    "Led",
    "Path",
    "Recoil",
    "Rope",
    "Swept",
    "Upward",
    "breaks",
    "class_tension_n",
    "flights",
    "linear_rope",
    "recoil",
    "release",
    "swept",
    "tension_class",
    "upward",
    "usual_rope",
]
