"""The moored ship in time: closed forms of oscillators, energy, scipy, and the statics at the end."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate

from monitor.base.frames import Floats
from monitor.physics.hulls import Hull, usual_midship_coefficient
from monitor.physics.inertia import added_mass_shares, virtual_mass
from monitor.physics.lines import LineProperties
from monitor.physics.mooring import Fenders, Mooring, equilibrium, moor, restoring
from monitor.physics.passing import Basin
from monitor.physics.passing.panels import hull_panels, spheroid_panels
from monitor.physics.passing.solve import Afloat, afloat
from monitor.physics.response import Force, Members, Response, critical_damping, respond, step_s
from monitor.settings.schema import Material
from tests.test_mooring_statics import _ship as ship_of_16

MASS = np.array([4.0e7, 9.0e7, 2.5e11])
NO_FENDERS = Fenders(*(np.zeros(0) for _ in range(5)))


def _springs(pretension_n: float = 100e3, lift_m: float = 0.0) -> Mooring:
    """Two wires along the keel, one ahead and one astern: linear for a small surge."""
    lines = [LineProperties(f"spring {i}", "steel wire", 1000e3) for i in (1, 2)]
    fairleads = np.array([[60.0, 0.0, lift_m], [-60.0, 0.0, lift_m]])
    bollards = np.array([[110.0, 0.0, 0.0], [-110.0, 0.0, 0.0]])
    return moor(lines, np.full(2, pretension_n), fairleads, bollards, NO_FENDERS)


def _constant(*force: float, n: int = 1) -> Force:
    row = np.tile(np.array(force), (n, 1))
    return lambda _: row


def _stiffness_n_m(mooring: Mooring) -> float:
    return float(restoring(mooring, np.zeros((1, 3))).stiffness[0, 0, 0])


def _crossings_s(values: Floats, dt_s: float) -> Floats:
    """Times at which a record goes up through zero."""
    at = np.flatnonzero((values[:-1] < 0.0) & (values[1:] >= 0.0))
    return np.asarray((at - values[at] / (values[at + 1] - values[at])) * dt_s)


# --- closed forms -------------------------------------------------------------------------------------------


def test_free_decay_has_the_linear_period_and_decrement() -> None:
    """T = 2π√(m/k) / √(1 − ζ²) and δ = 2πζ/√(1 − ζ²), as in any textbook of vibration."""
    mooring, damping = _springs(), 0.05
    k = _stiffness_n_m(mooring)
    period_s = 2.0 * math.pi * math.sqrt(MASS[0] / k) / math.sqrt(1.0 - damping**2)
    drag = damping * critical_damping(mooring, np.zeros((1, 3)), MASS[None])
    dt_s = step_s(mooring, MASS)
    start = np.array([[0.02, 0.0, 0.0]])
    got = respond(
        mooring, Members(MASS[None], drag), _constant(0, 0, 0), int(8 * period_s / dt_s), dt_s, start, keep=True
    )
    surge_m = got.track[:, 0, 0]  # type: ignore[index]
    assert np.diff(_crossings_s(surge_m, dt_s)).mean() == pytest.approx(period_s, rel=0.004)
    tops = [float(part.max()) for part in np.array_split(surge_m, 8)]
    decrement = 2.0 * math.pi * damping / math.sqrt(1.0 - damping**2)
    assert math.log(tops[2] / tops[6]) / 4.0 == pytest.approx(decrement, rel=0.03)


def test_a_load_put_on_at_once_stretches_twice() -> None:
    """Dynamic amplification 2 of an undamped linear oscillator under a step."""
    mooring, load_n = _springs(), 20e3
    k, dt_s = _stiffness_n_m(mooring), step_s(mooring, MASS)
    steps = int(2.5 * 2.0 * math.pi * math.sqrt(MASS[0] / k) / dt_s)
    got = respond(mooring, Members(MASS[None]), _constant(load_n, 0, 0), steps, dt_s, np.zeros((1, 3)), keep=True)
    assert got.track[:, 0, 0].max() == pytest.approx(2.0 * load_n / k, rel=0.005)  # type: ignore[index]


@pytest.mark.parametrize("ratio", [0.5, 1.0, 2.0])
def test_a_half_sine_pulse(ratio: float) -> None:
    """Shock spectrum of a half-sine pulse of duration t_d = ratio·T, undamped: scipy's quadrature of Duhamel."""
    mooring, load_n = _springs(), 10e3
    w = math.sqrt(_stiffness_n_m(mooring) / MASS[0])
    pulse_s = ratio * 2.0 * math.pi / w
    dt_s = 0.5 * step_s(mooring, MASS)

    def force(k: int) -> Floats:
        t = k * dt_s
        return np.array([[load_n * math.sin(math.pi * t / pulse_s) if t < pulse_s else 0.0, 0.0, 0.0]])

    got = respond(
        mooring, Members(MASS[None]), force, int((pulse_s + 12.0 / w) / dt_s), dt_s, np.zeros((1, 3)), keep=True
    )
    at_s = np.linspace(0.0, pulse_s + 12.0 / w, 4001)
    pull = np.where(at_s < pulse_s, np.sin(np.pi * at_s / pulse_s), 0.0)
    cos = integrate.cumulative_trapezoid(pull * np.cos(w * at_s), at_s, initial=0.0)
    sin = integrate.cumulative_trapezoid(pull * np.sin(w * at_s), at_s, initial=0.0)
    duhamel_m = load_n / (MASS[0] * w) * (np.sin(w * at_s) * cos - np.cos(w * at_s) * sin)
    assert got.track[:, 0, 0].max() == pytest.approx(duhamel_m.max(), rel=0.005)  # type: ignore[index]


# --- energy -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("material", ["polyester", "HMPE", "steel wire"])
def test_energy_is_neither_made_nor_lost_without_damping(material: Material) -> None:
    """½mv² + energy in lines and fenders stays, over lines that go slack and fenders that part company."""
    mooring, start = ship_of_16(material), np.array([[0.3, 0.6, 0.003]])
    dt_s = step_s(mooring, MASS)
    got = respond(mooring, Members(MASS[None]), _constant(0, 0, 0), int(300 / dt_s), dt_s, start, keep=True)
    places = np.concatenate([start[None], got.track])[:, 0]  # type: ignore[list-item]
    speed = (places[2:] - places[:-2]) / (2.0 * dt_s)
    energy_j = 0.5 * (speed**2 * MASS).sum(axis=1) + restoring(mooring, places[1:-1]).energy_j
    rest_j = float(restoring(mooring, np.zeros((1, 3))).energy_j[0])
    begun_j = float(restoring(mooring, start).energy_j[0])
    assert np.abs(energy_j - begun_j).max() < 0.02 * (begun_j - rest_j)
    assert energy_j[-len(energy_j) // 4 :].mean() == pytest.approx(begun_j, abs=0.005 * (begun_j - rest_j))


def test_work_done_goes_into_motion_stretch_and_drag() -> None:
    """∫F dx = Δ(½mv² + U) + ∫c v² dt under a load that comes, swings and goes."""
    mooring = ship_of_16()
    start, dt_s = np.zeros((1, 3)), 0.1
    drag = 0.1 * critical_damping(mooring, np.array([[0.0, 0.2, 0.0]]), MASS[None])

    def force(k: int) -> Floats:
        t = k * dt_s
        return np.array([[200e3 * math.sin(t / 9.0), 500e3 * math.sin(t / 40.0) ** 2, 8e6 * math.sin(t / 25.0)]])

    steps = 2000
    got = respond(mooring, Members(MASS[None], drag), force, steps, dt_s, start, keep=True)
    places = np.concatenate([start[None], got.track])[:, 0]  # type: ignore[list-item]
    legs = np.diff(places, axis=0)
    loads = np.array([force(k)[0] for k in range(steps + 1)])
    work_j = float((0.5 * (loads[1:] + loads[:-1]) * legs).sum())
    lost_j = float((drag * legs**2 / dt_s).sum())
    kinetic_j = 0.5 * float((MASS * (legs[-1] / dt_s) ** 2).sum())
    stored = restoring(mooring, places[[0, -1]]).energy_j
    assert work_j == pytest.approx(lost_j + kinetic_j + stored[1] - stored[0], rel=0.01)


def test_a_fender_keeps_its_share_of_a_bounce() -> None:
    """A ship that comes in on fenders with 40 % loss leaves with √0.6 of her speed."""
    fenders = Fenders(
        np.array([-30.0, 30.0]), np.full(2, -15.0), np.full(2, 1.2), np.full(2, 2e6), np.full(2, 0.6)
    )
    far = np.array([[0.0, 400.0, 0.0], [1.0, 400.0, 0.0]])
    mooring = moor(
        [LineProperties(f"{i}", "nylon 8-strand", 1e5) for i in (1, 2)], np.zeros(2), far * 0, far, fenders
    )
    start, push = np.array([[0.0, 0.8, 0.0]]), -100e3
    members, dt_s = Members(MASS[None], payed_out_m=np.inf, fender_loss=0.4), 0.02

    def force(k: int) -> Floats:
        return np.array([[0.0, push if k * dt_s < 20.0 else 0.0, 0.0]])

    got = respond(mooring, members, force, int(90.0 / dt_s), dt_s, start, keep=True)
    speed = np.diff(got.track[:, 0, 1]) / dt_s  # type: ignore[index]
    assert abs(speed[-1] / speed.min()) == pytest.approx(math.sqrt(0.6), rel=0.03)


# --- friction, brakes, parting ------------------------------------------------------------------------------


def test_friction_holds_up_to_its_limit() -> None:
    """Coulomb: pressed on by 1 MN with μ 0.2 she stays under 150 kN ahead, and moves under 250 kN as by 50."""
    fenders = Fenders(
        np.array([-40.0, 40.0]), np.full(2, -15.0), np.full(2, 1.2), np.full(2, 2e6), np.full(2, 0.6)
    )
    one = np.array([[0.0, 0.0, 0.0]])
    mooring = moor([LineProperties("a", "polyester", 1e6)], np.zeros(1), one, one - np.array([0, 200, 0]), fenders)
    pressed = equilibrium(mooring, np.zeros(1), np.full(1, -1e6), np.zeros(1), payed_out_m=np.inf)
    members = Members(np.tile(MASS, (2, 1)), payed_out_m=np.inf, fender_friction=0.2)
    loads = np.array([[150e3, -1e6, 0.0], [250e3, -1e6, 0.0]])
    got = respond(mooring, members, lambda _: loads, 400, 0.1, np.tile(pressed.displacement, (2, 1)))
    assert got.displacement[0, 0] == 0.0
    assert got.displacement[1, 0] == pytest.approx(0.5 * 50e3 / MASS[0] * 40.0**2, rel=0.02)


def test_a_brake_takes_the_top_off() -> None:
    """Tension never passes the setting; the line that ran out times the setting is the energy taken away."""
    mooring, render_n = _springs(), 300e3
    dt_s = step_s(mooring, MASS) / 4
    members = Members(MASS[None], render_n=np.array([[np.inf, render_n]]))
    start, steps = np.array([[-0.12, 0.0, 0.0]]), 400
    push = 400e3
    got = respond(mooring, members, _constant(push, 0, 0), steps, dt_s, start, keep=True)
    assert got.peak_n[-1, 0, 1] == pytest.approx(render_n, rel=1e-9) and got.rendered_m[0, 0] == 0.0
    places = np.concatenate([start[None], got.track])[:, 0]  # type: ignore[list-item]
    stored_j = restoring(mooring, places[[0, -1]], np.array([[0.0, 0.0], [0.0, got.rendered_m[0, 1]]])).energy_j
    kinetic_j = 0.5 * MASS[0] * float(got.velocity[0, 0]) ** 2
    work_j = push * (places[-1, 0] - places[0, 0])
    assert got.rendered_m[0, 1] > 0.05
    assert work_j == pytest.approx(
        kinetic_j + stored_j[1] - stored_j[0] + render_n * got.rendered_m[0, 1], rel=0.02
    )


def test_a_line_that_parts_carries_nothing_after() -> None:
    mooring = _springs()
    members = Members(MASS[None], strength_n=np.array([[np.inf, 250e3]]))
    got = respond(mooring, members, _constant(300e3, 0, 0), 300, 0.2, np.zeros((1, 3)), keep=True)
    at_s = got.parted_at_s[0]
    assert np.isinf(at_s[0]) and np.isfinite(at_s[1])
    after = got.tension_n[int(at_s[1] / 0.2) + 1 :, 0, 1]  # type: ignore[index]
    assert (after == 0.0).all() and after.size > 10


# --- against scipy, and in the step -------------------------------------------------------------------------


def _hard(material: Material) -> tuple[Mooring, Members, Floats, Floats]:
    """Light ship, lines with little pretension, thrown about: lines slack and snatch, fenders close and open."""
    mooring = ship_of_16(material, pretension_n=15e3)
    mass = MASS / 4.0
    drag = 0.03 * critical_damping(mooring, np.zeros((1, 3)), mass[None])
    loads = np.array([[250e3, 900e3, 1.5e7], [11.0, 17.0, 13.0]])  # amplitudes and periods ÷ 2π
    return mooring, Members(mass[None], drag), mass, loads


def _swing(loads: Floats, t: float) -> Floats:
    swing = np.sin(t / loads[1])
    return np.asarray(loads[0] * np.array([swing[0], swing[1] ** 2, swing[2]]))


def _by_scipy(material: Material, until_s: float) -> tuple[Floats, Floats]:
    mooring, members, mass, loads = _hard(material)
    drag = np.asarray(members.damping)[0]

    def rate(t: float, state: Floats) -> Floats:
        force = restoring(mooring, state[None, :3]).force[0] + _swing(loads, t) - drag * state[3:]
        return np.concatenate([state[3:], force / mass])

    at_s = np.arange(0.0, until_s, 0.1)
    sol = integrate.solve_ivp(
        rate, (0.0, until_s), np.zeros(6), method="DOP853", rtol=1e-7, atol=1e-8, t_eval=at_s, max_step=0.5
    )
    return sol.y[:3].T, restoring(mooring, sol.y[:3].T).tension_n


def _by_us(material: Material, until_s: float, dt_s: float) -> Response:
    mooring, members, _, loads = _hard(material)
    steps = int(until_s / dt_s)
    return respond(mooring, members, lambda k: _swing(loads, k * dt_s)[None], steps, dt_s, np.zeros((1, 3)))


@pytest.mark.parametrize("material", ["polyester", "HMPE"])
def test_scipy_on_a_hard_case(material: Material) -> None:
    """DOP853 at 1e-7 against our step: every peak of 120 s within 2 % of the greatest."""
    mooring, _, mass, _ = _hard(material)
    _, tension_n = _by_scipy(material, 120.0)
    expected_n = tension_n.max(axis=0)
    got = _by_us(material, 120.0, step_s(mooring, mass))
    assert got.peak_n[-1, 0] == pytest.approx(expected_n, abs=0.02 * expected_n.max())


def test_halving_the_step_quarters_the_error() -> None:
    """The rule is of second order while forces are smooth: the surge of a polyester mooring after 40 s."""
    mooring = ship_of_16("polyester", pretension_n=150e3)
    ends = []
    for dt_s in (0.8, 0.4, 0.2, 0.05):
        got = respond(mooring, Members(MASS[None]), _constant(60e3, 0, 0), int(40 / dt_s), dt_s, np.zeros((1, 3)))
        ends.append(got.displacement[0, 0])
    errors = np.abs(np.array(ends[:3]) - ends[3])
    assert errors[0] / errors[1] == pytest.approx(4.0, rel=0.3) and errors[1] / errors[2] == pytest.approx(
        4.3, rel=0.3
    )


@pytest.mark.parametrize("material", ["polyester", "HMPE", "nylon 8-strand"])
def test_slow_loads_end_in_the_statics(material: Material) -> None:
    """A load that comes on over 2000 s leaves every line at the tension of the equilibrium, within 1 %."""
    mooring = ship_of_16(material)
    drag = 0.3 * critical_damping(mooring, np.zeros((1, 3)), MASS[None])
    dt_s, steps = step_s(mooring, MASS), 0
    steps = int(2500 / dt_s)
    full = np.array([150e3, 600e3, 1e7])
    rest = equilibrium(mooring, *(np.zeros(1) for _ in range(3)))
    got = respond(
        mooring, Members(MASS[None], drag), lambda k: (full * min(1.0, k * dt_s / 2000.0))[None], steps, dt_s,
        rest.displacement, keep=True,
    )  # fmt: skip
    expected = equilibrium(mooring, *full[:, None])
    assert got.tension_n[-1, 0] == pytest.approx(expected.tension_n[0], abs=0.01 * expected.tension_n.max())  # type: ignore[index]
    assert got.peak_n[-1, 0].max() == pytest.approx(expected.tension_n[0].max(), rel=0.01)


def test_members_do_not_know_of_each_other() -> None:
    """A batch gives what each member gives alone."""
    mooring, rng = ship_of_16(), np.random.default_rng(3)
    mass = MASS * rng.uniform(0.7, 1.4, (5, 1))
    slow = rng.uniform(0.8, 1.3, (5, 16))
    members = Members(mass, 0.0, rng.uniform(1.0, 2.0, (5, 16)), slow, rng.normal(0.0, 0.05, (5, 16)))
    loads = rng.normal(0.0, 1.0, (5, 3)) * [2e5, 5e5, 1e7]
    rest = equilibrium(mooring, *loads.T, payed_out_m=members.payed_out_m, stiffness=slow)
    start = rest.displacement
    whole = respond(mooring, members, lambda k: loads * math.cos(k / 20.0), 200, 0.4, start)
    begun = respond(mooring, members, lambda _: loads, 1, 0.4, start)
    assert begun.peak_n[-1] == pytest.approx(rest.tension_n, abs=1.0)  # she starts from the rest she was given
    for i in range(5):
        alone = Members(
            mass[[i]], 0.0, *(np.asarray(a)[[i]] for a in (members.stiffness, slow, members.payed_out_m))
        )
        one = respond(mooring, alone, lambda k, i=i: loads[[i]] * math.cos(k / 20.0), 200, 0.4, start[[i]])  # type: ignore[misc]
        assert whole.peak_n[-1, i] == pytest.approx(one.peak_n[-1, 0], rel=1e-9)


def test_marks_tell_peaks_apart() -> None:
    mooring = ship_of_16()
    got = respond(
        mooring, Members(MASS[None]), _constant(0, 4e5, 0), 400, 0.4, np.zeros((1, 3)), (50, 200), keep=True
    )
    for mark, peak_n in zip((50, 200, 400), got.peak_n, strict=True):
        assert peak_n[0] == pytest.approx(got.tension_n[:mark, 0].max(axis=0))  # type: ignore[index]


# --- inertia ------------------------------------------------------------------------------------------------


def test_water_that_moves_with_her() -> None:
    """Less water under the keel or a quay behind her: more goes along. Deep, open: sway 0.9, surge 0.05."""
    hull = Hull(199.9, 190.0, 32.2, 9.0, 0.58, 0.95)
    deep = virtual_mass(hull, Basin(400.0)) / hull.displacement_kg
    assert deep[:2] == pytest.approx([1.05, 1.9], abs=0.03)
    rows = np.array([added_mass_shares(d, q) for q in (0.0, 1.0) for d in (1.1, 1.2, 1.5, 2.0, 4.0)])
    assert (np.diff(rows[:5], axis=0) < 0.0).all() and (np.diff(rows[5:], axis=0) < 0.0).all()
    assert (rows[5:] > rows[:5]).all()


@pytest.mark.parametrize("quay", [False, True])
def test_added_mass_is_that_of_the_panels(quay: bool) -> None:
    """The table against a double body of panels, solved anew in surge and sway: within 15 %."""
    hull = Hull(200.0, 190.0, 32.2, 9.0, 0.6, usual_midship_coefficient(0.6))
    panels = hull_panels(hull, 16, 8)
    for depth_over_draught in (1.2, 2.0):
        body = afloat(panels, depth_over_draught * 9.0, -(16.1 + 1.5) if quay else None)
        for axis in (0, 1):
            share = _by_panels(body, axis, hull.volume_m3)
            assert added_mass_shares(depth_over_draught, float(quay))[axis] == pytest.approx(share, rel=0.15)


def test_the_panels_know_lamb() -> None:
    """Lamb's closed form for a prolate spheroid seven times as long as wide: k1 0.0358, k2 0.9331."""
    body = afloat(spheroid_panels(140.0, 20.0, 24, 12), None)
    volume_m3 = math.pi / 12.0 * 140.0 * 20.0**2
    assert _by_panels(body, 0, volume_m3) == pytest.approx(0.035849, rel=0.06)
    assert _by_panels(body, 1, volume_m3) == pytest.approx(0.933098, rel=0.03)


def _by_panels(body: Afloat, axis: int, volume_m3: float) -> float:
    """Added mass over displaced mass, along an axis: −∫ φ n dS of the body's own disturbance."""
    place_m = body.panels.centre_m[:, axis]
    phi = body.answer @ (-4.0 * math.pi * place_m) + place_m
    return -float(np.sum(phi * body.panels.area_m2[:, axis])) / volume_m3
