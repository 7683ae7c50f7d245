"""The way a line takes round its fittings, and both parts of it laid out as chains ready to go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from monitor.base.frames import Floats
from monitor.physics.snapback.bends import Bends
from monitor.physics.snapback.chain import Chains, Law
from monitor.physics.snapback.energy import Unloading, unloading
from monitor.physics.snapback.led import Led
from monitor.physics.snapback.posts import Posts

_LEAST_TURN: Final = np.radians(0.5)  # a lead that turns less runs straight through
_SHARPEST: Final = np.radians(60.0)  # of one corner of the polygon drawn about a fitting
_POINTS: Final = 129  # of an unloading table
_LEAST_RADIUS_M: Final = 0.05
_SHRUNK: Final = 0.9  # of a fitting's radius for a line that flies: the lead may lie a little inside the circle


@dataclass(frozen=True)
class Way:
    """A lead as a polygon: (v,) places along it, (v, 2) corners, turns in radians with sign, whose corners."""

    at_m: Floats
    points_m: Floats
    turn: Floats
    post: NDArray[np.intp]

    def reversed(self) -> Way:
        """The same from the other end."""
        return Way(self.at_m[-1] - self.at_m[::-1], self.points_m[::-1], -self.turn[::-1], self.post[::-1])

    def places_m(self, at_m: Floats) -> Floats:
        """(…, 2) of places along it."""
        return np.stack([np.interp(at_m, self.at_m, self.points_m[:, axis]) for axis in (0, 1)], axis=-1)


def way(led: Led) -> Way:
    """The polygon about the fittings that a taut line lies along. Raises ValueError when fittings overlap."""
    centres = np.asarray(led.points_m, dtype=np.float64)
    radii_m = np.asarray(led.radii_m, dtype=np.float64)
    if np.any(led.legs_m < radii_m[1:] + radii_m[:-1]):
        raise ValueError("neighbouring fittings overlap: they stand nearer than the sum of their radii")
    legs = np.diff(centres, axis=0)
    headings = np.arctan2(legs[:, 1], legs[:, 0])
    points, turns, posts = [centres[0]], [0.0], [0]
    for i in range(1, len(centres) - 1):
        turn = (headings[i] - headings[i - 1] + np.pi) % (2.0 * np.pi) - np.pi
        if abs(turn) < _LEAST_TURN:
            points, turns, posts = [*points, centres[i]], [*turns, 0.0], [*posts, i]
            continue
        corners = int(np.ceil(abs(turn) / _SHARPEST - 1e-9)) if radii_m[i] > 0.0 else 1
        each = turn / corners
        for corner in range(corners):
            across = headings[i - 1] + each * (corner + 0.5) - np.sign(turn) * 0.5 * np.pi
            off_m = radii_m[i] / np.cos(0.5 * each) if radii_m[i] > 0.0 else 0.0
            points.append(centres[i] + off_m * np.array([np.cos(across), np.sin(across)]))
            turns.append(float(each))
            posts.append(i)
    points, turns, posts = [*points, centres[-1]], [*turns, 0.0], [*posts, len(centres) - 1]
    laid = np.array(points)
    step = np.hypot(*np.diff(laid, axis=0).T)
    return Way(np.concatenate([[0.0], np.cumsum(step)]), laid, np.array(turns), np.array(posts))


def along(led: Led, on: Way, at_m: Floats) -> Floats:
    """Places given along the points of the lead, as places along its way; a fitting is the middle of its arc."""
    first = np.searchsorted(on.post, np.arange(len(led.points_m)))
    last = np.searchsorted(on.post, np.arange(len(led.points_m)), side="right") - 1
    stands_m = led.stands_at_m
    leg = np.clip(np.searchsorted(stands_m, at_m, side="right") - 1, 0, len(stands_m) - 2)
    share = (at_m - stands_m[leg]) / led.legs_m[leg]
    places = (1.0 - share) * on.at_m[last[leg]] + share * on.at_m[first[leg + 1]]
    nearest = np.abs(at_m[:, None] - stands_m).argmin(axis=1)
    at_post = np.abs(at_m - stands_m[nearest]) < 1e-6
    middle = 0.5 * (on.at_m[first[nearest]] + on.at_m[last[nearest]])
    return np.asarray(np.where(at_post, middle, places))


def kinds(led: Led, tension_n: float) -> tuple[Unloading, ...]:
    """Ways back of the line and, when there is one, of its tail."""
    return tuple(unloading(rope, tension_n) for rope in (led.rope, led.tail) if rope is not None)


def law(ways_back: Sequence[Unloading]) -> Law:
    """Their table."""
    tables = [np.interp(np.linspace(0.0, w.strains[-1], _POINTS), w.strains, w.tensions_n) for w in ways_back]
    return Law(np.array(tables), np.array([w.strains[-1] for w in ways_back]))


@dataclass(frozen=True)
class Part:
    """One part to be laid out: along its way from the held end to `to_m`, tail between two places on it."""

    on: Way
    to_m: float
    tail_m: tuple[float, float]


def lay(led: Led, ways_back: Sequence[Unloading], parts: Sequence[Part], springs: int) -> tuple[Chains, Bends]:
    """Chains of `springs` springs each, at rest and under tension, and the corners they lie round."""
    ropes = [rope for rope in (led.rope, led.tail) if rope is not None]
    strain = np.array([w.strains[-1] for w in ways_back])
    nodes_m = np.stack([_nodes(part, springs) for part in parts], axis=1)
    places = np.stack([part.on.places_m(one) for part, one in zip(parts, nodes_m.T, strict=True)], axis=1)
    middle_m = 0.5 * (nodes_m[1:] + nodes_m[:-1])
    tail_from_m, tail_to_m = np.array([part.tail_m for part in parts]).T
    kind = ((middle_m > tail_from_m) & (middle_m < tail_to_m)).astype(np.intp)
    mass = np.array([rope.mass_kg_m for rope in ropes])
    steepest = np.array([w.steepest_n for w in ways_back])
    secant = np.array([w.tensions_n[-1] / w.strains[-1] for w in ways_back])
    chains = Chains(
        x=np.ascontiguousarray(places[..., 0]),
        y=np.ascontiguousarray(places[..., 1]),
        vx=np.zeros(nodes_m.shape),
        vy=np.zeros(nodes_m.shape),
        length_m=np.diff(nodes_m, axis=0) / (1.0 + strain[kind]),
        mass_kg_m=mass[kind],
        stiff_n=secant[kind],
        wave_m_s=np.sqrt(steepest / mass)[kind],
        kind=kind,
        across_m=np.array([rope.diameter_m for rope in ropes])[kind],
    )
    return chains, _bends(parts, nodes_m.T, led.rope.friction)


def _nodes(part: Part, springs: int) -> Floats:
    """(springs + 1,) places of the masses: evenly, with one where the tail is joined and none at a corner."""
    end_m = part.to_m
    joints = [joint for joint in part.tail_m if 0.8 < springs * joint / end_m < springs - 0.8]
    if joints:
        first = int(np.clip(round(springs * joints[0] / end_m), 1, springs - 1))
        nodes_m = np.interp(np.arange(springs + 1), [0, first, springs], [0.0, joints[0], end_m])
    else:
        nodes_m = np.linspace(0.0, end_m, springs + 1)
    near_m = 0.02 * end_m / springs
    for corner_m in part.on.at_m[1:-1]:
        nodes_m[1:-1] += np.where(np.abs(nodes_m[1:-1] - corner_m) < near_m, 2.0 * near_m, 0.0)
    return np.asarray(nodes_m)


def _bends(parts: Sequence[Part], nodes_m: Floats, friction: float) -> Bends:
    most = max(max(len(part.on.at_m) for part in parts) - 2, 1)
    x, y, out_x, out_y, turn = np.zeros((5, len(parts), most))
    post, spring = np.zeros((2, len(parts), most), dtype=np.intp)
    on = np.zeros((len(parts), most), dtype=np.bool_)
    bound = np.ones((len(parts), most), dtype=np.complex128)
    for row, part in enumerate(parts):
        lead = part.on
        count = len(lead.at_m) - 2
        ahead = np.diff(lead.points_m, axis=0)[1:]
        ahead /= np.maximum(np.hypot(ahead[:, 0], ahead[:, 1]), 1e-9)[:, None]
        x[row, :count], y[row, :count] = lead.points_m[1:-1].T
        out_x[row, :count], out_y[row, :count] = ahead.T
        turn[row, :count], post[row, :count] = lead.turn[1:-1], lead.post[1:-1] - 1
        spring[row, :count] = np.searchsorted(nodes_m[row], lead.at_m[1:-1], side="right") - 1
        on[row, :count] = (lead.turn[1:-1] != 0.0) & (lead.at_m[1:-1] < part.to_m - 1e-6)
        bound[row, :count] = _bound(part, 0.5 * float(nodes_m[row, -1] - nodes_m[row, -2]))
    return Bends(x, y, np.sign(turn), out_x, out_y, friction * np.abs(turn), post, spring, on, bound)


def _bound(part: Part, lump_m: float) -> NDArray[np.complex128]:
    """(corners,) mean heading of the last `lump_m` of a part, against the way out of each corner, as it lies."""
    upto_m = np.minimum(part.to_m - part.on.at_m[-2:0:-1], lump_m)  # from the parted end, nearest corner first
    heading = np.concatenate([[1.0], np.exp(-1j * np.cumsum(part.on.turn[-2:0:-1]))])
    lies_m = np.diff(np.concatenate([[0.0], upto_m.clip(0.0), [lump_m]]))
    return np.array([(lies_m[: k + 1].sum() + (lies_m[k + 1 :] * heading[k + 1 :] / heading[k]).sum()) / lump_m
                     for k in range(len(upto_m))])[::-1]  # fmt: skip


def posts(led: Led, chains: Chains, low: NDArray[np.bool_]) -> Posts:
    """What may be run against: the lead's own fittings; by chains that fly `low` (b,) all that stands in the way.

    Left out is what a chain lies inside: a chock that it runs through.
    """
    own = np.array([(*p, r) for p, r in zip(led.points_m[1:-1], led.radii_m[1:-1], strict=True)]).reshape(-1, 3)
    radius_m = np.maximum(_SHRUNK * own[:, 2], _LEAST_RADIUS_M)
    off_m = _least_distance_m(chains.x, chains.y, own[:, 0], own[:, 1])
    meets = off_m >= np.where(own[:, 2] > 0.0, radius_m, np.inf)
    more = np.array(led.in_way, dtype=np.float64).reshape(-1, 3)
    lies_x, lies_y = np.array(led.points_m, dtype=np.float64)[..., None].transpose(1, 0, 2)
    more = more[_least_distance_m(lies_x, lies_y, more[:, 0], more[:, 1])[0] >= more[:, 2]]
    x, y = np.concatenate([own[:, :2], more[:, :2]]).T
    return Posts(x, y, np.concatenate([radius_m, more[:, 2]]), led.rope.friction, meets, low)


def _least_distance_m(at_x: Floats, at_y: Floats, x: Floats, y: Floats) -> Floats:
    """(b, o) from each chain as it lies, (n, b), to each point (o,)."""
    dx, dy = np.diff(at_x, axis=0)[..., None], np.diff(at_y, axis=0)[..., None]
    px, py = x - at_x[:-1, :, None], y - at_y[:-1, :, None]
    share = np.clip((px * dx + py * dy) / (dx * dx + dy * dy), 0.0, 1.0)
    return np.asarray(np.hypot(px - share * dx, py - share * dy).min(axis=0))
