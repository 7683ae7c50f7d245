"""The comparison plots behind the tests, drawn anew: `python -m tests.pictures OUTDIR` (needs matplotlib).

Lines are what the program computes now; marks are figures from outside it, with their source in the legend.
"""

from __future__ import annotations

import json
import sys
import textwrap
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from monitor.base.units import GRAVITY_M_S2
from monitor.physics.current import transverse_coefficient
from monitor.physics.gusts import kaimal_spectrum, npd_spectrum, turbulence_m_s, wind_series
from monitor.physics.hulls import Hull
from monitor.physics.passing import passing_load
from monitor.physics.passing.force import Line, curves
from monitor.physics.passing.panels import spheroid_panels
from monitor.physics.passing.slender import slender_body_load
from monitor.physics.passing.solve import afloat
from monitor.physics.wake import cusp, dand_white_m, height_kriebel_seelig_m, height_weggel_sorensen_m, schijf
from tests.ship_encounters import CASES, CONVERGED, NO_WAVES_M_S
from tests.test_ship_waves import CANAL, DRAWDOWN, HAVELOCK, KRIEBEL_SEELIG, WEGGEL_SORENSEN
from tests.test_spheroids_passing import DEEP, DRAUGHT, QUAY, SHALLOW, WALL
from tests.test_ufc_current import FFG_7
from tests.test_wang_quadratures import coefficients, spheroid
from tests.test_wind_coefficients import by_blendermann, by_isherwood

_INK, _BLUE, _OCHRE, _GREEN = "#1d2a33", "#1f5f8b", "#a86a14", "#3d7a4a"

# Tanker in ballast: degrees off the bow, longitudinal (positive pushes ahead), transverse. Read off the curves of
# the OCIMF Mooring Equipment Guidelines, 2nd ed. (1997), Figs 2.3-2.8, by an anonymous hand; good to about 0.02.
TANKER_IN_BALLAST = [
    (0, -0.865, 0.0),
    (10, -0.73, 0.175),
    (20, -0.60, 0.335),
    (40, -0.325, 0.625),
    (60, -0.125, 0.862),
    (80, -0.04, 0.95),
    (100, 0.10, 0.90),
    (120, 0.27, 0.843),
    (140, 0.475, 0.565),
    (160, 0.62, 0.315),
    (170, 0.63, 0.15),
    (180, 0.61, 0.0),
]


def wind(axes: Sequence) -> None:  # type: ignore[type-arg]
    """Coefficients of a tanker in ballast and of a container ship by both methods."""
    gamma = np.arange(0.0, 181.0, 5.0)
    published = np.array(TANKER_IN_BALLAST)
    columns = (("S3", "tanker in ballast, 183 m"), ("S2", "container ship, 294 m"))
    rows = ("surge, on frontal area", "sway, on lateral area", "yaw, on lateral area × LOA")
    for column, (ship, name) in enumerate(columns):
        ours = np.array([by_blendermann(ship, g) for g in gamma])
        theirs = np.array([by_isherwood(ship, g) for g in gamma])
        for row, label in enumerate(rows):
            ax = axes[row, column]
            ax.plot(gamma, ours[:, row], color=_BLUE, lw=2, label="Blendermann 1994 (used)")
            ax.plot(gamma, theirs[:, row], color=_OCHRE, lw=1.4, ls="--", label="Isherwood 1972 (check)")
            if ship == "S3" and row < 2:
                ax.plot(published[:, 0], published[:, row + 1], "o", ms=4, color=_INK, label="OCIMF MEG2 curves")
            ax.axhline(0.0, color=_INK, lw=0.6)
            ax.set_ylabel(label)
            if row == 0:
                ax.set_title(name + (" (out of range for Isherwood's surge)" if ship == "S2" else ""), fontsize=9)
        axes[2, column].set_xlabel("wind off the bow, degrees")
    axes[0, 0].legend()


def current(axes: Sequence) -> None:  # type: ignore[type-arg]
    """Frigate FFG-7 across a stream of 1.5 m/s against the water under her keel."""
    share = np.linspace(0.0, 1.0, 101)
    pressure_pa = 0.5 * 1024.6 * 1.5**2
    force_mn = pressure_pa * 124.36 * 4.389 * transverse_coefficient((0.849 / 0.22) ** 2, share) / 1e6
    ax = axes[0, 0]
    ax.plot(share, force_mn, color=_BLUE, lw=2, label="this program")
    ax.plot(*np.array(FFG_7).T, "o", color=_INK, label="UFC 4-159-03 (2005) Table 4-6")
    ax.set_xlabel("draught ÷ depth")
    ax.set_ylabel("force abeam, MN")
    ax.set_title("FFG-7 in a beam stream of 1.5 m/s")
    ax.legend()


def waves(axes: Sequence) -> None:  # type: ignore[type-arg]
    """Cusp, heights and drawdown."""
    froude = np.concatenate([np.linspace(0.05, 0.995, 160), np.linspace(1.005, 1.5, 60)])
    patterns = [cusp(f * (GRAVITY_M_S2 * 12.0) ** 0.5, 12.0) for f in froude]
    table, ax = np.array(HAVELOCK), axes[0, 0]
    ax.plot(froude, [p.half_angle_deg for p in patterns], color=_BLUE, lw=2, label="half-angle of the cusp")
    ax.plot(
        froude, [p.off_track_deg for p in patterns], color=_OCHRE, lw=2, label="way of the waves off her track"
    )
    ax.plot(table[:, 0], table[:, 1], "o", ms=4, color=_INK, label="Havelock 1908, solved independently")
    ax.plot(table[:, 0], table[:, 2], "o", ms=4, color=_INK)
    ax.set(xlabel="speed ÷ √(g × depth)", ylabel="degrees", title="Wave pattern in any depth", ylim=(0, 120))
    ax.legend(loc="upper left")

    hull, ax = Hull(200.0, 200.0, 30.0, 10.0, 0.70, 0.95), axes[0, 1]
    speed = np.linspace(2.5, 8.5, 61)
    seelig = [height_kriebel_seelig_m(hull, v, 14.0, 150.0, 50.0) for v in speed]
    sorensen = [height_weggel_sorensen_m(30000.0, v, 14.0, 150.0) or np.nan for v in speed]
    ax.plot(speed, seelig, color=_BLUE, lw=2, label="Kriebel & Seelig 2005")
    ax.plot(speed, sorensen, color=_OCHRE, lw=2, ls="--", label="Weggel & Sorensen 1986")
    middle = np.fmax(seelig, sorensen)
    ax.fill_between(speed, 0.5 * middle, 2.0 * middle, color=_BLUE, alpha=0.15, lw=0, label="the band told")
    for figures in (KRIEBEL_SEELIG, WEGGEL_SORENSEN):
        ax.plot(
            list(figures), list(figures.values()), "o", ms=4, color=_INK, label=_once(ax, "solved independently")
        )
    ax.set(xlabel="speed through the water, m/s", ylabel="wave height, m", ylim=(0, 1.6))
    ax.set_title("200 m ship, 14 m of water, 150 m off")
    ax.legend()

    ax, speed = axes[0, 2], np.linspace(0.5, 6.5, 61)
    even, uneven = (np.array([schijf(300.0, CANAL, v, uneven=u)[0] for v in speed]) for u in (False, True))
    ax.plot(speed, even, color=_BLUE, lw=2, label="Schijf 1949")
    ax.plot(speed, uneven, color=_OCHRE, lw=2, ls="--", label="with uneven return flow (Rock Manual)")
    ax.plot(
        speed, [dand_white_m(300.0, CANAL, v) for v in speed], color=_GREEN, lw=2, ls=":", label="Dand & White"
    )
    middle = np.sqrt(even * uneven)
    ax.fill_between(speed, 0.5 * middle, 2.0 * middle, color=_BLUE, alpha=0.15, lw=0, label="the band told")
    for column in (0, 2, 4):
        sunk = [row[column] for row in DRAWDOWN.values()]
        ax.plot(list(DRAWDOWN), sunk, "o", ms=4, color=_INK, label=_once(ax, "solved independently"))
    ax.set(xlabel="speed through the water, m/s", ylabel="drawdown, m", title="Midship 300 m² in 4200 m²")
    ax.legend()


def _once(ax, label: str) -> str | None:  # type: ignore[no-untyped-def]
    """The label, unless the legend has it already."""
    return None if label in ax.get_legend_handles_labels()[1] else label


def gusts(axes: Sequence) -> None:  # type: ignore[type-arg]
    """Spectra at 20 m/s and ten minutes of a series made from them."""
    frequency, deviation = np.geomspace(1.0 / 3600.0, 1.0, 200), turbulence_m_s(20.0, 10.0)
    ax = axes[0, 0]
    npd, kaimal = npd_spectrum(frequency, 20.0, 10.0), kaimal_spectrum(frequency, 20.0, deviation, 10.0)
    ax.loglog(frequency, frequency * npd, color=_BLUE, lw=2, label="ISO 19901-1 (NPD)")
    ax.loglog(frequency, frequency * kaimal, color=_OCHRE, lw=2, ls="--", label="Kaimal (IEC 61400-1)")
    given = np.array([(0.001, 446.62284, 54.92787), (0.03, 37.74124, 28.41599), (0.3, 2.21434, 2.7718)])
    ax.loglog(given[:, 0], given[:, 0] * given[:, 1], "o", ms=4, color=_INK, label="solved independently")
    ax.loglog(given[:, 0], given[:, 0] * given[:, 2], "o", ms=4, color=_INK)
    ax.set(xlabel="frequency, Hz", ylabel="f × S, m²/s²", title="20 m/s at 10 m over water")
    ax.legend()
    ax = axes[0, 1]
    series = wind_series(20.0, deviation, 20.0, 10.0, 3600.0, 1.0, np.random.default_rng(1))
    large = wind_series(20.0, deviation, 20.0, 10.0, 3600.0, 1.0, np.random.default_rng(1), area_m2=5000.0)
    ax.plot(series[:600], color=_BLUE, lw=0.8, label="at a point")
    ax.plot(large[:600], color=_OCHRE, lw=1.6, label="as 5000 m² feel it (Davenport 1977)")
    ax.set(xlabel="seconds", ylabel="m/s", title="The first ten minutes of an hour", ylim=(14, 29))
    ax.legend(loc="upper right")


def passing(axes: Sequence) -> None:  # type: ignore[type-arg]
    """Two equal half-submerged spheroids, a quarter of a length between their centre lines."""
    xi = np.linspace(-1.5, 1.5, 121)
    cases = (
        ("deep, open", None, None, DEEP),
        ("deep, quay behind", None, WALL, QUAY),
        ("depth 1.5 draughts, open", 1.5, None, SHALLOW),
        ("depth 1.5 draughts, quay behind", 1.5, WALL, SHALLOW),
    )
    for column, (name, depth, quay, rows) in enumerate(cases):
        slender = coefficients(1.0, 0.25, xi, None if depth is None else depth * DRAUGHT, quay)
        model = _by_panels(0.25, xi, depth, quay)
        known = np.array([row[3:] for row in rows if row[0] == 0.25 and row[1] == quay and row[2] == depth])
        for row, label in enumerate(("surge", "sway", "yaw")):
            ax = axes[row, column]
            ax.plot(xi, model[:, row], color=_BLUE, lw=2, label="panels (used)")
            ax.plot(xi, slender[:, row], color=_OCHRE, lw=1.4, ls="--", label="slender body, Wang 1975")
            ax.plot(known[:, 0], known[:, row + 1], "o", ms=5, color=_INK, label="3-D potential flow")
            ax.axhline(0.0, color=_INK, lw=0.6)
            if column == 0:
                ax.set_ylabel(f"{label} coefficient")
        axes[0, column].set_title(name)
        axes[2, column].set_xlabel("her place, lengths ahead of us")
    axes[0, 0].set_ylim(top=1.6 * np.max(np.abs(axes[0, 0].get_ylim())))
    axes[0, 0].legend(loc="upper left", fontsize=8)


def ships(axes: Sequence) -> None:  # type: ignore[type-arg]
    """Four of the hard encounters of ship shapes: as the program answers, and converged."""
    known = json.loads(CONVERGED.read_text(encoding="utf-8"))
    for column, case in enumerate(CASES[i] for i in (1, 4, 10, 14)):
        track = case.track()
        load = passing_load(case.moored, case.passer, track, case.basin())
        slender = slender_body_load(case.moored, case.passer, track, case.basin())
        rows = (("surge", "kN", 1e3), ("sway", "kN", 1e3), ("yaw", "MN m", 1e6))
        for row, (part, unit, scale) in enumerate(rows):
            ax, name = axes[row, column], f"{part}_n_m" if part == "yaw" else f"{part}_n"
            per = 1025.0 * 3.0**2 / scale
            ours = per / NO_WAVES_M_S**2
            ax.plot(track.x_m, ours * getattr(load, name), color=_BLUE, lw=2, label="panels (used)")
            ax.plot(track.x_m, ours * getattr(slender, name), color=_OCHRE, lw=1.2, ls="--", label="Wang 1975")
            exact = per * np.array(known[case.name][row])
            ax.plot(track.x_m[::3], exact[::3], "o", ms=4, color=_INK, label="fine meshes, carried on")
            ax.axhline(0.0, color=_INK, lw=0.6)
            if column == 0:
                ax.set_ylabel(f"{part}, {unit} at 3 m/s, rigid lid")
        axes[0, column].set_title("\n".join(textwrap.wrap(case.name, 34)), fontsize=9)
        axes[2, column].set_xlabel("her midships ahead of ours, m")
    axes[0, 0].set_ylim(top=1.7 * axes[0, 0].get_ylim()[1])
    axes[0, 0].legend(loc="upper left", fontsize=8)


def _by_panels(eta: float, xi: np.ndarray, depth: float | None, quay: float | None) -> np.ndarray:
    """(n, 3) coefficients as `tests.test_wang_quadratures.coefficients`, by the panels the program uses, true
    to the spheroid's shape (its ships have fuller sections)."""
    length = 100.0
    depth_m, quay_m = None if depth is None else depth * DRAUGHT * length, None if quay is None else quay * length
    panels = spheroid_panels(length, 2.0 * DRAUGHT * length, 28, 10)
    moored, passer = afloat(panels, depth_m, quay_m), afloat(panels, depth_m)
    line = Line(0.0, eta * length, 2.0 * length, 0.8 * length, 81)  # farther than drawn, for the ends of a spline
    (curve,) = curves(moored, passer, line, depth_m, quay_m, 1.0)
    hull = spheroid(length)
    return curve.at(xi * length) * length**2 / hull.midship_area_m2**2 / np.array([1.0, 1.0, length])


PLOTS: dict[str, tuple[Callable[[Sequence], None], int, int]] = {  # type: ignore[type-arg]
    "wind_coefficients": (wind, 3, 2),
    "current_ffg7": (current, 1, 1),
    "ship_waves": (waves, 1, 3),
    "gusts": (gusts, 1, 2),
    "passing_spheroids": (passing, 3, 4),
    "passing_ships": (ships, 3, 4),
}


def draw(to: Path) -> list[Path]:
    """Draw every plot into a folder, made if need be; the files written."""
    from matplotlib.figure import Figure

    to.mkdir(parents=True, exist_ok=True)
    written = []
    for name, (plot, rows, columns) in PLOTS.items():
        figure = Figure(figsize=(max(7.0, 4.6 * columns), max(4.8, 3.2 * rows)), dpi=110, layout="constrained")
        plot(figure.subplots(rows, columns, squeeze=False))
        for ax in figure.axes:
            ax.grid(True, color="#e6eaed")
            ax.spines[["top", "right"]].set_visible(False)
            if (legend := ax.get_legend()) is not None:
                legend.set_frame_on(False)
        written.append(to / f"{name}.png")
        figure.savefig(written[-1])
    return written


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("usage: python -m tests.pictures OUTDIR")
    for path in draw(Path(sys.argv[1])):
        print(path)
