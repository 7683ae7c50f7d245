"""The flow round two hulls with every panel against every other, in double precision, until nothing changes: what
the program does by points and in a few rounds, done plainly."""

from __future__ import annotations

import math

import numpy as np

from monitor.base.frames import Floats
from monitor.physics.passing.influence import column
from monitor.physics.passing.solve import Afloat

_BLOCK = 40_000  # numbers at once, so that they stay in the cache


def impulses(
    moored: Afloat,
    passer: Afloat,
    place_m: Floats,
    course_deg: float,
    depth_m: float | None,
    quay_y_m: float | None,
) -> tuple[Floats, Floats]:
    """As `solve.impulses`."""
    c, s = math.cos(math.radians(course_deg)), math.sin(math.radians(course_deg))
    turn = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    ours = [(moored.panels.centre_m, moored.panels.area_m2)]
    if quay_y_m is not None:
        ours.append(mirrored(*ours[0], quay_y_m))
    half_m = passer.panels.centre_m[:, 0].max()
    phi = np.empty((len(place_m), len(moored.panels.centre_m)))
    for k, here_m in enumerate(place_m):
        hers = (passer.panels.centre_m @ turn + [*here_m, 0.0], passer.panels.area_m2 @ turn)
        pairs = [dipoles(each, hers, depth_m) for each in ours]
        to_us, to_her = sum(to for to, _ in pairs), sum(back for _, back in pairs)
        image = np.zeros(passer.answer.shape)
        if quay_y_m is not None:
            image = dipoles(hers, mirrored(*hers, quay_y_m), depth_m)[0]
        abreast_m = np.clip((moored.panels.centre_m[:, :2] - here_m) @ turn[0, :2], -half_m, half_m)
        level = np.sum(to_us, axis=1) * abreast_m
        psi, before = passer.stream_m.astype(np.float64), np.zeros_like(level)
        phi[k] = moored.answer @ (to_us @ psi + level)
        while np.abs(phi[k] - before).max() > 1e-6 * np.abs(phi[k]).max():
            before = phi[k].copy()
            psi = passer.stream_m + passer.answer @ (to_her @ before + image @ psi)
            phi[k] = moored.answer @ (to_us @ psi + level)
    slopes = moored.panels.slope_1_m @ phi.T
    return phi @ moored.shares, 0.5 * np.square(slopes).sum(axis=0).T @ moored.shares


def dipoles(
    ours: tuple[Floats, Floats], hers: tuple[Floats, Floats], depth_m: float | None
) -> tuple[Floats, Floats]:
    """D (n, m) of her panels, places and area vectors, at ours, and (m, n) of ours at hers."""
    (at_m, area_m2), (her_m, her_m2) = ours, hers
    there, back = np.empty((len(at_m), len(her_m))), np.empty((len(at_m), len(her_m)))
    step = max(1, _BLOCK // len(her_m))
    for start in range(0, len(at_m), step):
        rows = slice(start, start + step)
        x, y = (at_m[rows, None, i] - her_m[:, i] for i in (0, 1))
        c, z, z_back = column(x * x + y * y, at_m[rows, 2:], her_m[:, 2], depth_m)
        there[rows] = (x * her_m2[:, 0] + y * her_m2[:, 1]) * c + z * her_m2[:, 2]
        back[rows] = z_back * area_m2[rows, 2:] - (x * area_m2[rows, :1] + y * area_m2[rows, 1:2]) * c
    return there, back.T


def mirrored(at_m: Floats, area_m2: Floats, quay_y_m: float) -> tuple[Floats, Floats]:
    """Panels seen in the quay."""
    flip = [1.0, -1.0, 1.0]
    return at_m * flip + [0.0, 2.0 * quay_y_m, 0.0], area_m2 * flip
