"""What many breaks of one line sweep, kept by class of tension so that nobody waits for it twice."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from monitor.base.frames import Floats
from monitor.physics.snapback.breaks import breaks
from monitor.physics.snapback.led import CLASSES, Led, class_tension_n
from monitor.physics.snapback.release import End, Path, release

_KEPT: Final = 2  # lines and classes, 2.4 MB each at 100 breaks: what is made of them is kept, in `watch.danger`
_SPRINGS: Final = 24
_QUICKER: Final = 10.0
_LAST_M: Final = 1.0

Singles = NDArray[np.float32]


@dataclass(frozen=True)
class Swept:
    """One part of one break.

    `throw_m`: how far its tip got past the securing point (or bollard), along the line of its lead there and away
    from the break; 0 when never. `reach_m`: greatest distance of any of it from the securing point. `swing_m`:
    greatest distance of any of it from its own lead as it lay, drawn on straight past the securing point.
    `passing_m_s`: mean speed of the last metre as the tip comes abreast of the securing point; None when it never
    does. `top_m_s`: of the last metre at any time. `tip_m` (t, 2); `lines_m` (t, n, 2) and `speeds_m_s` (t, n):
    where it was and how fast, at moments close enough to tell the area.
    """

    at_m: float
    end: End
    weight: float
    throw_m: float
    reach_m: float
    swing_m: float
    passing_m_s: float | None
    top_m_s: float
    times_s: Singles
    lines_m: Singles
    speeds_m_s: Singles

    @property
    def tip_m(self) -> Singles:
        """(t, 2): the way of the parted end."""
        return self.lines_m[:, -1]


@dataclass(frozen=True)
class Flights:
    """All breaks of a line at the greatest tension of a class."""

    tension_n: float
    why: tuple[str, ...]  # of each break; its inboard and outboard parts are swept[2 i] and swept[2 i + 1]
    swept: tuple[Swept, ...]


def swept(path: Path, weight: float = 1.0) -> Swept:
    """Throw, reach, swing and speeds of one path."""
    lines_m, lay_m = path.nodes_m, path.nodes_m[0]
    held_m = lay_m[0]
    back = held_m - lay_m[1]
    back /= np.hypot(*back)
    off_m = lines_m - held_m
    past_m = off_m[:, -1] @ back
    last_m_s = np.hypot(*(_last_metre(lay_m) @ path.velocities_m_s).T)
    first = int(np.argmax(past_m > 0.0))
    passing_m_s = None
    if past_m[first] > 0.0 and first > 0:
        share = past_m[first] / (past_m[first] - past_m[first - 1])
        passing_m_s = float(share * last_m_s[first - 1] + (1.0 - share) * last_m_s[first])
    return Swept(
        at_m=path.at_m,
        end=path.end,
        weight=weight,
        throw_m=max(float(past_m.max()), 0.0),
        reach_m=float(np.hypot(off_m[..., 0], off_m[..., 1]).max()),
        swing_m=_farthest_m(lines_m, path.lead_m, back),
        passing_m_s=passing_m_s,
        top_m_s=float(last_m_s.max()),
        times_s=path.times_s.astype(np.float32),
        lines_m=lines_m.astype(np.float32),
        speeds_m_s=path.speeds_m_s.astype(np.float32),
    )


def _last_metre(lay_m: Floats) -> Floats:
    """(n,) weights of the nodes' velocities in the mean over the last metre, straight between nodes."""
    apart_m = np.hypot(*np.diff(lay_m, axis=0).T)
    from_end_m = np.concatenate([np.cumsum(apart_m[::-1])[::-1], [0.0]])
    fine_m = np.linspace(0.0, min(_LAST_M, from_end_m[0]), 21)
    shares = np.array([np.interp(fine_m, from_end_m[::-1], one) for one in np.eye(len(lay_m))[:, ::-1]])
    return np.asarray(shares.mean(axis=1))


def _farthest_m(lines_m: Floats, lead_m: Floats, back: Floats) -> float:
    """Greatest distance of any of `lines_m` (…, 2) from the lead (v, 2), drawn on without end along `back`."""
    x, y = lines_m[..., 0].ravel(), lines_m[..., 1].ravel()
    corners = np.vstack([lead_m[0] + 1e4 * back, lead_m])
    nearest2 = np.full(x.shape, np.inf)
    for (ax, ay), (bx, by) in pairwise(corners):
        dx, dy = bx - ax, by - ay
        share = np.clip(((x - ax) * dx + (y - ay) * dy) / max(dx * dx + dy * dy, 1e-18), 0.0, 1.0)
        nearest2 = np.minimum(nearest2, (x - ax - share * dx) ** 2 + (y - ay - share * dy) ** 2)
    return float(np.sqrt(nearest2.max()))


@lru_cache(maxsize=_KEPT)
def flights(led: Led, tension_class: int, count: int = 100, seed: int = 0) -> Flights:
    """`count` weighted breaks released at the class's greatest tension (`led.tension_class`: 1 to 20).

    Every second one flies low (see `release`), the others over all that stands in the way, slowed by nothing: a
    house may stop a line, but nobody behind it can count on that. Kept, so that a second asking takes no time;
    what has not been asked for longest goes first. Raises ValueError for a class that is none, or a count that
    `breaks` refuses.
    """
    if tension_class not in range(1, CLASSES + 1):
        raise ValueError(f"class of tension {tension_class}: 1 to {CLASSES}")
    tension_n = class_tension_n(tension_class, led.strength_n)
    chosen = breaks(led, count, seed)
    low = [number % 2 == 1 for number in range(len(chosen))]
    at_m = [each.at_m for each in chosen]
    paths = release(led, tension_n, at_m, seed=seed, low=low, springs=_SPRINGS, quicker=_QUICKER)
    weights = [each.weight for each in chosen for _ in range(2)]
    return Flights(
        tension_n,
        tuple(each.why for each in chosen),
        tuple(swept(path, weight) for path, weight in zip(paths, weights, strict=True)),
    )
