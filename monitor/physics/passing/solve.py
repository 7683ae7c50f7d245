"""The flow round two hulls, one held still and one under way: who drives whom, place by place.

Unknown are the potential φ on the moored hull and, on the passer, ψ = φ − s: the potential of the stream past her
as seen from her own deck, s forward along her keel, for unit speed. Green's formula on both hulls, by the dipole
kernel D (images in surface, bed and quay included) alone:

    (2π − D₁₁) φ = D₁₂ ψ,        (2π − D₂₂) ψ = −4π s + D₂₁ φ.

No sources are left, because the interior flow s inside the passer takes their place. The left sides are set up
once for a hull and its water; the passer's own image in the quay and the moored hull's answer are put in by rounds
of correction, which is cheap once D₁₂ and D₂₁ are there. From afar all is worked out between the points of boxes;
close by between panels, and by boxes with the images in the quay alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.passing.afar import (
    Singles,
    between,
    boxes,
    coarser,
    finer,
    in_quay,
    keels_apart_m,
    single,
)
from monitor.physics.passing.influence import Reals, own
from monitor.physics.passing.meeting import meeting, sections
from monitor.physics.passing.panels import Panels

_AFAR: Final = 1.8  # nearest sections at so many of both half breadths, or draughts: the hulls meet by their boxes
_MOST_ROUNDS: Final = 5  # of coupling; in deep water the first brings all
_SETTLED: Final = 0.005  # when a round changes no more of the greatest potential
_AT_ONCE: Final = 6  # places, so that what is kept of them stays in the cache


@dataclass(frozen=True, slots=True, eq=False)
class Afloat:
    """A hull in its water: panels, the inverse of 2π − D, the stream potential ψ (n,) round it alone, and
    n dS (n, 3) of each panel in surge, sway and yaw, out of the hull."""

    panels: Panels
    answer: Singles
    stream_m: Singles
    shares: Floats


def afloat(panels: Panels, depth_m: float | None, quay_y_m: float | None = None) -> Afloat:
    """Set a hull up over a bed, and before a quay that keeps its place in the hull's axes."""
    matrix = own(panels, depth_m, quay_y_m)
    answer = np.linalg.inv(2.0 * math.pi * np.eye(len(matrix)) - matrix)
    stream_m = answer @ (-4.0 * math.pi * panels.centre_m[:, 0])
    return Afloat(panels, single(answer), single(stream_m), impulse_shares(panels))


def impulses(
    moored: Afloat,
    passer: Afloat,
    place_m: Floats,
    course_deg: float,
    depth_m: float | None,
    quay_y_m: float | None,
) -> tuple[Floats, Floats]:
    """∫ϕ n dS and ∫½|∇ϕ|² n dS (k, 3) over the moored hull, with the passer's midships at places (k, 2) of a line.

    ϕ is for unit speed of hers, n dS in surge, sway and yaw. `moored` is set up with the quay, `passer` without.
    """
    c, s = math.cos(math.radians(course_deg)), math.sin(math.radians(course_deg))
    turn = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]], dtype=np.float32)  # from her axes, as rows
    sizes_m = np.array([np.abs(each.panels.corner_m).max(axis=(0, 1)) for each in (moored, passer)])
    nearest_m = _AFAR * max(sizes_m[:, 1].sum(), sizes_m[:, 2].max())
    found = []
    for start in range(0, len(place_m), _AT_ONCE):
        here_m = place_m[start : start + _AT_ONCE]
        apart_m = keels_apart_m(moored.panels, passer.panels, here_m, turn)
        work = _afar if apart_m > nearest_m else _close_by
        found.append(work(moored, passer, here_m, turn, depth_m, quay_y_m))
    linear, square = (np.concatenate(each) for each in zip(*found, strict=True))
    return linear, square


def _afar(
    moored: Afloat, passer: Afloat, here_m: Floats, turn: Singles, depth_m: float | None, quay_y_m: float | None
) -> tuple[Floats, Floats]:
    """By the points of boxes alone: what is felt at ours against the dipoles at hers."""
    ours, hers = boxes(moored, passer, here_m, turn)
    direct = between(ours, hers, turn, here_m, depth_m)
    quay = None if quay_y_m is None else in_quay(moored, passer, turn, here_m, depth_m, quay_y_m)
    k, stream = len(here_m), turn.T @ hers.stream

    def to_us(dipole: Singles) -> Singles:
        felt = direct.to_us(dipole)
        if quay is not None:
            felt += finer(quay.to_us(coarser(dipole, hers, quay.hers)), quay.ours, ours)
        return felt

    def answered(felt: Singles, dipole: Singles) -> Singles:
        own = (felt @ ours.back).reshape(k, 3, -1)
        at_her = direct.to_her(own)
        if quay is not None:
            back = quay.to_her(coarser(own, ours, quay.ours), coarser(dipole, hers, quay.hers))
            at_her += finer(back, quay.hers, hers)
        return np.asarray(stream + turn.T @ (at_her @ hers.back).reshape(k, 3, -1))

    abreast_m = np.tile(_abreast_m(ours.at_m, passer, here_m, turn), (1, ours.level_m.size))
    level = to_us(np.broadcast_to(turn.T @ hers.ones, (k, *stream.shape))) * abreast_m
    felt = _settled(to_us, answered, np.broadcast_to(stream, (k, *stream.shape)), level)
    square = (felt @ ours.square).reshape(k, 3, -1) @ felt[..., None]
    return felt @ ours.linear, square[..., 0]


def _close_by(
    moored: Afloat, passer: Afloat, here_m: Floats, turn: Singles, depth_m: float | None, quay_y_m: float | None
) -> tuple[Floats, Floats]:
    """Panel by panel, or near it; the images in the quay by boxes."""
    direct = meeting(sections(moored.panels), sections(passer.panels).turned(turn), here_m, depth_m)
    k = len(here_m)
    quay = None if quay_y_m is None else in_quay(moored, passer, turn, here_m, depth_m, quay_y_m)

    def to_us(psi_m: Singles) -> Singles:
        felt = direct.to_us(psi_m)
        if quay is not None:
            felt += quay.ours.carried(quay.to_us(turn.T @ quay.hers.handed(psi_m)))
        return felt

    def answered(felt: Singles, psi_m: Singles) -> Singles:
        phi_m: Singles = felt @ moored.answer.T
        at_her = direct.to_her(phi_m)
        if quay is not None:
            back = quay.to_her(quay.ours.handed(phi_m), turn.T @ quay.hers.handed(psi_m))
            at_her += quay.hers.carried(back)
        return passer.stream_m + at_her @ passer.answer.T

    stream_m = np.broadcast_to(passer.stream_m, (k, passer.stream_m.size))
    level = to_us(np.ones_like(stream_m)) * _abreast_m(moored.panels.centre_m[:, :2], passer, here_m, turn)
    phi_m = _settled(to_us, answered, stream_m, level) @ moored.answer.T
    slopes_m = moored.panels.slope_1_m @ phi_m.T  # (3, n, k)
    return phi_m @ moored.shares, 0.5 * np.square(slopes_m).sum(axis=0).T @ moored.shares


def _settled(
    to_us: Callable[[Singles], Singles],
    answered: Callable[[Singles, Singles], Singles],
    stream: Singles,
    level: Singles,
) -> Singles:
    """What is felt at the moored hull when both have answered."""
    felt, hers = to_us(stream) + level, stream
    for _ in range(_MOST_ROUNDS):
        hers = answered(felt, hers)
        before, felt = felt, to_us(hers) + level
        if np.abs(felt - before).max() < _SETTLED * np.abs(felt).max():
            break
    return felt


def _abreast_m(at_m: Reals, passer: Afloat, here_m: Floats, turn: Singles) -> Singles:
    """How far forward on her each of the places (n, 2) lies, (k, n), no farther than she reaches.

    There her stream has about the level −s; taken out, it leaves less for the panels to carry, for D₁₂·1 = 0.
    """
    half_m = passer.panels.centre_m[:, 0].max()
    return single(np.clip((at_m - here_m[:, None]) @ turn[0, :2], -half_m, half_m))


def impulse_shares(panels: Panels) -> Floats:
    """(n, 3): n dS of each panel in surge, sway and yaw, out of the hull."""
    a, at = panels.area_m2, panels.centre_m
    return np.stack([a[:, 0], a[:, 1], at[:, 0] * a[:, 1] - at[:, 1] * a[:, 0]], axis=1)
