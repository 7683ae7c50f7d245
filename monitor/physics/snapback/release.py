"""Motion in plan of both parts of a line that parts.

See `chain` for how they are marched and `bends`, `posts` for what they touch. In plan only: what goes up is
flagged by `energy.upward`. Left out: bending stiffness, rails, the ship's side. Height is two cases: a line that
flies low runs against what stands on deck, rubs on it and is slowed by the air; any other flies over it all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.snapback.chain import Flown, March
from monitor.physics.snapback.lead import Part, Way, along, kinds, law, lay, posts, way
from monitor.physics.snapback.led import Led

End = Literal["inboard", "outboard"]

_SHOTS: Final = (3, 36)  # of the unloading, of the flight
_GOES_ON: Final = 1.15  # × the time in which a straight line lies stretched out behind its securing point
_KICKED: Final = 0.1  # of the part, from the parted end, falling to nothing: where the sideways kick acts (ours)
_CHUNK: Final = 200  # chains at once: what the processor keeps close at hand


@dataclass(frozen=True)
class Path:
    """How one part flew. Node 0 is made fast; the last node is the parted end.

    `lead_m` (v, 2): the corners it lay round, from the held end to the break. `times_s` (t,) from the break;
    `nodes_m` (t, n, 2) in the plane of the lead; `speeds_m_s` (t, n). `masses_kg` (n,), `energy_j` (t,) in motion
    and stored, `impulse_n_s` (t, 2) of all that held it: for balances.
    """

    at_m: float
    end: End
    lead_m: Floats
    times_s: Floats
    nodes_m: Floats
    velocities_m_s: Floats
    masses_kg: Floats
    energy_j: Floats
    impulse_n_s: Floats

    @property
    def speeds_m_s(self) -> Floats:
        """(t, n)."""
        return np.asarray(np.hypot(self.velocities_m_s[..., 0], self.velocities_m_s[..., 1]))


def release(
    led: Led,
    tension_n: float,
    at_m: Sequence[float],
    *,
    seed: int = 0,
    kick: float | Sequence[float] = 0.05,
    low: Sequence[bool] = (),
    springs: int = 48,
    quicker: float = 24.0,
) -> tuple[Path, ...]:
    """Both parts for every break, in the order inboard, outboard of the first, then of the second, …

    `at_m`: metres from the inboard end along the points of the lead as it lies, each within the line. `kick`:
    standard deviation of the random sideways speed of the parted ends as a share of their recoil speed; or, given
    as a sequence (2 × breaks), those speeds themselves, positive to the left looking from the held end. `low`: of
    which breaks the parts fly low: slowed by air and deck, and the inboard part runs against what is `led.in_way`;
    none without it, which errs wide. `springs` of each part and `quicker`, how many times waves of the slack line
    outrun it, set how fine and how slow the work is. Raises ValueError for what is out of range.
    """
    cuts_m = _checked(led, at_m, low, springs, quicker)
    ways_back = kinds(led, tension_n)
    on = way(led)
    table = law(ways_back)
    parts = _parts(led, on, along(led, on, cuts_m), float(ways_back[-1].strains[-1]))
    kicks = _kicks(kick, len(parts), seed)
    paths: dict[int, Path] = {}
    lows = np.repeat(np.array(low, dtype=np.bool_), 2) if low else np.zeros(len(parts), dtype=np.bool_)
    # Those with a tail unload slowly: together. And those that fly low, in the middle.
    in_turn = sorted(range(len(parts)), key=lambda row: (row % 2, lows[row] != row % 2))
    for begin in range(0, len(parts), _CHUNK):
        rows = in_turn[begin : begin + _CHUNK]
        some = [parts[row] for row in rows]
        chains, bends = lay(led, ways_back, some, springs)
        aboard = np.array([row % 2 == 0 for row in rows])
        march = March(chains, bends, posts(led, chains, lows[rows] & aboard), lows[rows])
        speed_m_s = np.array([w.speed_m_s for w in ways_back])[chains.kind[-1]]
        _kick(march, kicks[rows] * speed_m_s)
        march.unload(table, tension_n, _SHOTS[0])
        march.fly(march.time_s + _flight_s(march), quicker, _SHOTS[1])
        flown = march.flown()
        for place, row in enumerate(rows):
            paths[row] = _path(flown, place, some[place], float(cuts_m[row // 2]), row)
    return tuple(paths[row] for row in range(len(parts)))


def _checked(led: Led, at_m: Sequence[float], low: Sequence[bool], springs: int, quicker: float) -> Floats:
    cuts_m = np.asarray(at_m, dtype=np.float64).reshape(-1)
    length_m = led.length_m
    if not len(cuts_m) or not np.all((cuts_m > 0.0) & (cuts_m < length_m)):
        raise ValueError(f"a break lies between the ends of the line, above 0 and below {length_m:.2f} m")
    if len(low) not in (0, len(cuts_m)):
        raise ValueError(f"{len(cuts_m)} breaks: which fly low must be told of all or none, not of {len(low)}")
    if not 4 <= springs <= 512:
        raise ValueError(f"{springs} springs: 4 to 512 are possible")
    if not 5.0 <= quicker <= 100.0:
        raise ValueError(f"waves {quicker:g} times quicker than the line: 5 to 100 are possible")
    return np.clip(cuts_m, 1e-3 * length_m, (1.0 - 1e-3) * length_m)


def _parts(led: Led, on: Way, cuts_m: Floats, tail_strain: float) -> list[Part]:
    whole_m = float(on.at_m[-1])
    tail_m = led.tail_m * (1.0 + tail_strain) if led.tail is not None else 0.0
    back = on.reversed()
    parts = []
    for cut_m in cuts_m:
        parts.append(Part(on, float(cut_m), (whole_m - tail_m, whole_m + 1.0)))
        parts.append(Part(back, whole_m - float(cut_m), (-1.0, tail_m)))
    return parts


def _kicks(kick: float | Sequence[float], count: int, seed: int) -> Floats:
    if isinstance(kick, float | int):
        if not 0.0 <= kick <= 1.0:
            raise ValueError(f"a kick of {kick:g} is not within 0 and 1")
        return kick * np.random.default_rng(seed).standard_normal(count)
    kicks = np.asarray(kick, dtype=np.float64)
    if kicks.shape != (count,) or not np.all(np.abs(kicks) <= 1.0):
        raise ValueError(f"{count} kicks within −1 and 1 are needed, one for each part")
    return kicks


def _kick(march: March, across_m_s: Floats) -> None:
    """Sideways speed at the parted end, falling evenly to nothing within the last tenth of the part."""
    on = march.on
    dx, dy = on.x[-1] - on.x[-2], on.y[-1] - on.y[-2]
    per = across_m_s / np.hypot(dx, dy)
    from_end_m = np.zeros_like(on.x)
    np.cumsum(on.length_m[::-1], axis=0, out=from_end_m[-2::-1])
    share = np.maximum(1.0 - from_end_m / (_KICKED * from_end_m[0]), 0.0)
    on.vx -= share * (per * dy)
    on.vy += share * (per * dx)


def _flight_s(march: March) -> Floats:
    """How long to follow each part."""
    return np.asarray(_GOES_ON * 2.0 * march.on.length_m.sum(axis=0) / march.typical_m_s())


def _path(flown: Flown, row: int, part: Part, at_m: float, number: int) -> Path:
    corners = part.on.points_m[part.on.at_m < part.to_m]
    return Path(
        at_m=at_m,
        end="outboard" if number % 2 else "inboard",
        lead_m=np.vstack([corners, part.on.places_m(np.array(part.to_m))]),
        times_s=flown.times_s[:, row],
        nodes_m=np.stack([flown.x[..., row], flown.y[..., row]], axis=-1),
        velocities_m_s=np.stack([flown.vx[..., row], flown.vy[..., row]], axis=-1),
        masses_kg=flown.masses_kg[:, row],
        energy_j=flown.energy_j[:, row],
        impulse_n_s=flown.impulse_n_s[..., row],
    )
