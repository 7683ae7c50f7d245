"""Python's search for reference cycles, made rare."""

from __future__ import annotations

import gc
from typing import Final

THRESHOLDS: Final = (50_000, 20, 50)


def search_seldom() -> None:
    """Leave out of the search what is there now, and search seldom from now on.

    Records are flat and make no cycles, so nearly every search finds nothing; with thousands of tracks and curves
    alive they cost a third of intake and traffic together (measured in tests/bench).
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(*THRESHOLDS)
