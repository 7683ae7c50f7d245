"""Paths of a parted line over one roller against an independent study, and against what was seen.

The study (reference, lines, section (h)): lumped masses, linear elastic, lossless fittings. L is the stretched
length from the drum F to the break, L₀ the same unstretched, b the length beyond the roller, v₀ = T/√(EA m).
Nothing of what is expected here is built into the model.
"""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from monitor.physics.lines import DEFAULTS
from monitor.physics.snapback import Led, Path, Rope, chain, linear_rope, recoil, release, swept, usual_rope
from monitor.settings.schema import Material

STRENGTHS: dict[Material, float] = {
    "nylon 8-strand": 571e3, "polyester": 698e3, "HMPE": 1340e3, "steel wire": 1110e3,
}  # fmt: skip
NEAR_M = 30.0


def rope(material: Material) -> Rope:
    """Straight curve to the strain at break, no losses."""
    strength_n = STRENGTHS[material]
    strain = float(DEFAULTS[material].strain(np.array(1.0)))
    return linear_rope(strength_n / strain, usual_rope(material, strength_n).mass_kg_m, strength_n)


def over_roller(material: Material, turn_deg: float, radius_m: float = 0.0) -> Led:
    """Drum at zero, a roller 30 m ahead, and 30 m of line beyond it that turns left."""
    turn = np.radians(turn_deg)
    far = (float(NEAR_M + 30.0 * np.cos(turn)), float(30.0 * np.sin(turn)))
    return Led(((0.0, 0.0), (NEAR_M, 0.0), far), (0.0,) * 3, (0.0, radius_m, 0.0), 1, rope(material))


def unstretched_m(led: Led, at_m: float, share: float) -> float:
    """L₀ for a share of the breaking force."""
    return at_m / (1.0 + float(led.rope.curve.strain(np.array(share))))


def before_drum(path: Path) -> int:
    """Snapshots until the tip passes the drum."""
    return int(np.argmax(path.nodes_m[:, -1, 0] < 0.0))


@pytest.mark.parametrize(
    ("material", "speeds_m_s"),
    [
        ("nylon 8-strand", (257.0, 161.0, 96.0)),
        ("polyester", (154.0, 96.0, 58.0)),
        ("HMPE", (140.0, 87.0, 52.0)),
        ("steel wire", (40.0, 25.0, 15.0)),
    ],
)
def test_recoil_speeds(material: Material, speeds_m_s: tuple[float, float, float]) -> None:
    """At 80, 50, 30 % of break. Both sides' masses and strains are from memory: they agree to 30 %."""
    led = over_roller(material, 60.0)
    for share, speed_m_s in zip((0.8, 0.5, 0.3), speeds_m_s, strict=True):
        assert recoil(led, share * led.strength_n).speed_m_s == pytest.approx(speed_m_s, rel=0.30)


@pytest.mark.parametrize("material", STRENGTHS)
def test_break_on_the_near_leg_runs_straight_past_the_drum(material: Material) -> None:
    """Overrun 0.91 to 1.03 L₀; the last metre passes the drum at 1.0 v₀; 10 % sideways adds about 7°."""
    led = over_roller(material, 60.0)
    tension_n, at_m = 0.5 * led.strength_n, 25.0
    straight, _, kicked, _ = release(led, tension_n, [at_m, at_m], kick=[0.0, 0.0, 0.1, 0.0])
    found = swept(straight)
    whole_m = unstretched_m(led, at_m, 0.5)
    assert 0.91 < found.throw_m / whole_m < 1.04
    assert found.swing_m < 0.01
    assert found.passing_m_s == pytest.approx(recoil(led, tension_n).speed_m_s, rel=0.05)
    off_deg = np.degrees(np.arctan2(np.abs(kicked.nodes_m[..., 1]).max(), at_m))
    assert off_deg == pytest.approx(7.0, abs=2.5)
    assert 0.9 < swept(kicked).throw_m / whole_m < 1.04


def test_break_beyond_a_roller_sweeps_wide() -> None:
    """Width 0.9 to 1.3 √(b L₀) for 45 to 90°, never above 1.35 or L; nothing beyond L from the drum."""
    ratios, whips = [], []
    materials: tuple[Material, Material] = ("nylon 8-strand", "HMPE")
    for turn_deg, beyond_m, material in product((45.0, 90.0), (3.0, 6.0, 12.0), materials):
        led = over_roller(material, turn_deg)
        at_m = NEAR_M + beyond_m
        path = release(led, 0.5 * led.strength_n, [at_m], kick=0.0, springs=32)[0]
        whole_m = unstretched_m(led, at_m, 0.5)
        off_m = float(np.abs(path.nodes_m[..., 1]).max())
        assert off_m < min(1.35 * np.sqrt(beyond_m * whole_m), at_m)
        assert swept(path).reach_m < 1.005 * at_m
        ratios.append(off_m / np.sqrt(beyond_m * whole_m))
        before = path.speeds_m_s[: before_drum(path) + 1, -1]
        whips.append(float(before.max()) / recoil(led, 0.5 * led.strength_n).speed_m_s)
        if beyond_m == 6.0:
            assert 11.0 < off_m < 18.0  # the study: 11 to 16 m
    assert min(ratios) > 0.85 and max(ratios) < 1.35
    assert 0.95 < np.median(ratios) < 1.2
    assert min(whips) > 1.5 and np.median(whips) < 3.6  # its speed has no finite limit: no upper check


def test_a_disc_of_the_stub_about_the_roller_is_not_enough() -> None:
    """The stub leaves it 1.1 to 8 times over (study): so no small circle may ever be drawn."""
    led = over_roller("polyester", 60.0)
    path = release(led, 0.5 * led.strength_n, [NEAR_M + 6.0], kick=0.0)[0]
    off_m = np.abs(path.nodes_m[..., 1]).max()
    assert off_m > 1.1 * 6.0


@pytest.mark.parametrize("turn_deg", [45.0, 90.0])
@pytest.mark.parametrize("radius_m", [0.0, 0.25, 0.5])
def test_break_at_the_roller_hardly_swings(turn_deg: float, radius_m: float) -> None:
    """5° up to the drum, under 10° ever, for both parts; both run past what holds them."""
    led = over_roller("polyester", turn_deg, radius_m)
    for path in release(led, 0.5 * led.strength_n, [NEAR_M], kick=0.0):
        found = swept(path)
        assert np.degrees(np.arctan2(found.swing_m, NEAR_M)) < 10.0
        assert found.throw_m > 0.85 * unstretched_m(led, NEAR_M, 0.5)
        ahead = (path.nodes_m[0, 1] - path.nodes_m[0, 0]) / np.hypot(*(path.nodes_m[0, 1] - path.nodes_m[0, 0]))
        from_held = path.nodes_m - path.nodes_m[0, 0]
        upto = from_held[: int(np.argmax(from_held[:, -1] @ ahead < 0.0))]
        assert np.degrees(np.arctan2(np.abs(upto @ [-ahead[1], ahead[0]]).max(), NEAR_M)) < 5.0


@pytest.mark.parametrize("springs", [24, 96])
def test_a_stub_shorter_than_a_spring_swings_no_wider_than_it_should(springs: int) -> None:
    """0.2 m beyond a right angle, springs of 1.3 or 0.3 m: the same 4 to 5 m off, above 0.9 √(b L₀) = 2.2 m.

    (With its last mass wholly bound the way of the stub, 24 springs made 7.8 m of it.)
    """
    led, beyond_m = over_roller("polyester", 90.0), 0.2
    path = release(led, 0.5 * led.strength_n, [NEAR_M + beyond_m], kick=0.0, springs=springs)[0]
    whole_m = unstretched_m(led, NEAR_M + beyond_m, 0.5)
    assert 0.9 * np.sqrt(beyond_m * whole_m) < np.abs(path.nodes_m[..., 1]).max() < 5.5


def test_elastic_tail_behind_hmpe_quickens_the_last_metre() -> None:
    """About 1.5 v₀ at the bollard (study), with a nylon tail; alone it is 1.0."""
    light, tail = usual_rope("HMPE", 1340e3, 0.044), usual_rope("nylon 8-strand", 1675e3)
    points = ((0.0, 0.0), (20.0, 0.0), (80.0, 0.0))
    tailed = Led(points, (0.0,) * 3, (0.0,) * 3, 1, light, tail, 22.0)
    bare = Led(points, (0.0,) * 3, (0.0,) * 3, 1, light)
    ratios = []
    for led in (bare, tailed):
        path = release(led, 670e3, [20.0], kick=0.0)[1]
        upto = int(np.argmax(path.nodes_m[:, -1, 0] > 80.0))
        ratios.append(path.speeds_m_s[:upto, -1].max() / recoil(led, 670e3).speed_m_s)
    assert ratios[0] == pytest.approx(1.0, abs=0.1)
    assert ratios[1] == pytest.approx(1.5, abs=0.25)


def test_drag(monkeypatch: pytest.MonkeyPatch) -> None:
    """Deck friction under 1 % (one case); air narrows the swing to 0.4 to 1.0."""
    led, at_m = over_roller("polyester", 60.0), NEAR_M + 6.0

    def flown(low: bool) -> Path:
        return release(led, 0.5 * led.strength_n, [at_m], kick=0.0, low=[low])[0]

    free, slowed = flown(False), flown(True)
    monkeypatch.setattr(chain, "_AIR_KG_M3", 0.0)
    rubbed = flown(True)
    swings_m = [np.abs(path.nodes_m[: before_drum(free), :, 1]).max() for path in (free, rubbed)]
    assert swings_m[1] / swings_m[0] == pytest.approx(1.0, abs=0.01) and swings_m[0] != swings_m[1]
    assert 0.4 < np.abs(slowed.nodes_m[..., 1]).max() / np.abs(free.nodes_m[..., 1]).max() <= 1.0


def test_zarga() -> None:
    """HMPE with a soft tail parted inboard of a pedestal roller below a quarter of its strength: the tail drew the
    end more than 15 m out in less than a second; HMPE alone recoiled little (MAIB 13/2017, read in summary).

    The lead is ours: a spring with a right-angled pedestal roller. Elastic theory gives bare HMPE speed, but less
    than half the energy: that it hardly moved is not explained by it, and the model errs on the far side.
    """
    light, tail = usual_rope("HMPE", 1340e3, 0.044), usual_rope("polyester", 1675e3)
    points = ((0.0, 0.0), (6.0, 0.0), (6.0, 8.0), (-60.0, 14.0))
    tailed = Led(points, (0.0,) * 4, (0.0, 0.2, 0.2, 0.0), 2, light, tail, 22.0)
    bare = Led(points, (0.0,) * 4, (0.0, 0.2, 0.2, 0.0), 2, light)
    tension_n = 0.24 * 1340e3
    path = release(tailed, tension_n, [4.0], kick=0.0)[1]
    assert path.end == "outboard"
    tip_m = path.nodes_m[:, -1]
    assert np.hypot(*(tip_m - tip_m[0]).T)[path.times_s <= 1.0].max() > 15.0
    with_tail, alone = recoil(tailed, tension_n), recoil(bare, tension_n)
    assert with_tail.energy_j > 2.0 * alone.energy_j
    assert with_tail.tail_energy_j / with_tail.energy_j > 0.6
