"""What if: the picture tells the same as the numbers, in words that hold for either side to the quay; what is told
beside the loads (waves, channel, streams beyond the model tests, squalls)."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from monitor.__main__ import main
from monitor.base.units import KNOT_M_S
from monitor.outlet.pictures import draw_passing
from monitor.outlet.tables import waves_in_words
from monitor.physics.hulls import KIND_OF_WINDAGE
from monitor.records.estimates import Band, WaterEstimate, WindEstimate
from monitor.run.whatif import Answer, Passer, channel_of, picture_of, what_if
from monitor.settings.load import load_stay
from monitor.settings.schema import Settings
from monitor.watch import stay
from monitor.watch.estimator import JUMP_DEG, Estimator
from monitor.watch.moored import Moored

STAY = "tavrin-lark-at-sedge-quay-2"


@pytest.fixture(scope="module")
def settings(config: Path) -> Settings:
    return load_stay(config, STAY)


def asked(settings: Settings, **changed: object) -> Answer:
    passer = Passer(250.0, 32.0, 9.0, 120.0, 4.0, through_water=True, opposite=False)
    return what_if(settings, settings.stay.tended_at, 0.0, 310.0, replace(passer, **changed))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def answer(settings: Settings) -> Answer:
    return asked(settings)


def test_the_picture_has_the_numbers_of_the_answer(settings: Settings, answer: Answer) -> None:
    """Port side to: to starboard is off the quay, bow to starboard is bow off the quay."""
    assert settings.stay.side_to == "port" and answer.passing is not None
    picture = picture_of(settings, answer, settings.stay.tended_at)
    curves = answer.passing.curves
    assert np.all(np.diff(picture.place_m) > 0.0)
    np.testing.assert_allclose(np.sort(picture.off_quay_n), np.sort(curves.mid.sway_n))
    np.testing.assert_allclose(np.max(np.abs(picture.ahead_n)), np.max(np.abs(curves.mid.surge_n)))
    assert picture.clear_m == pytest.approx(120.0)
    assert picture.heads_ahead and picture.invented


def test_starboard_side_to_turns_the_words_round(settings: Settings, answer: Answer) -> None:
    port = picture_of(settings, answer, settings.stay.tended_at)
    turned = settings.model_copy(update={"stay": settings.stay.model_copy(update={"side_to": "starboard"})})
    starboard = picture_of(turned, answer, settings.stay.tended_at)
    np.testing.assert_allclose(starboard.off_quay_n, np.negative(port.off_quay_n))
    np.testing.assert_allclose(starboard.bow_off_quay_n_m, np.negative(port.bow_off_quay_n_m))
    np.testing.assert_allclose(starboard.ahead_n, port.ahead_n)


@pytest.mark.parametrize("opposite", [False, True])
def test_it_is_drawn(settings: Settings, tmp_path: Path, opposite: bool) -> None:
    pytest.importorskip("matplotlib")
    told = asked(settings, opposite=opposite)
    picture = picture_of(settings, told, settings.stay.tended_at)
    draw_passing(picture, tmp_path / "pass.png")
    assert (tmp_path / "pass.png").read_bytes().startswith(b"\x89PNG\r\n")
    draw_passing(picture, tmp_path / "pass.svg")
    assert "svg" in (tmp_path / "pass.svg").read_text(encoding="utf-8")[:200]


def test_what_is_written_on_it(settings: Settings, answer: Answer, tmp_path: Path) -> None:
    """Cautions, the date, what was assumed and that it is invented, on the picture itself."""
    matplotlib = pytest.importorskip("matplotlib")
    picture = picture_of(settings, answer, settings.stay.tended_at)
    with matplotlib.rc_context({"svg.fonttype": "none"}):
        draw_passing(picture, tmp_path / "pass.svg")
        draw_passing(replace(picture, invented=False), tmp_path / "true.svg")
    drawn = " ".join((tmp_path / "pass.svg").read_text(encoding="utf-8").split())
    for text in ("INVENTED", "14 March 2026", "off the quay", "astern", "Advice only", "Assumed: kind of ship"):
        assert text in drawn
    assert "safe" not in drawn.lower()
    assert "INVENTED" not in (tmp_path / "true.svg").read_text(encoding="utf-8")


def test_without_matplotlib_the_text_says_what_to_do(
    settings: Settings, answer: Answer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib.figure", None)
    picture = picture_of(settings, answer, settings.stay.tended_at)
    with pytest.raises(ValueError, match=r"bightwatch\[pictures\]"):
        draw_passing(picture, tmp_path / "pass.png")
    assert not (tmp_path / "pass.png").exists()


def test_no_ship_no_picture(settings: Settings) -> None:
    wind_only = what_if(settings, settings.stay.tended_at, 10.0, 310.0, None)
    with pytest.raises(ValueError, match="none to show"):
        picture_of(settings, wind_only, settings.stay.tended_at)


def test_on_the_command_line(config: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("matplotlib")
    code = main([
        "what-if", STAY, "--config", str(config), "--length", "250 m", "--distance", "100 m", "--speed", "7 kn",
        "--channel-section", "4200 m^2", "--channel-width", "300 m", "--picture", str(tmp_path / "p.png"),
    ])  # fmt: skip
    told = " ".join(capsys.readouterr().out.split())
    assert code == 0 and (tmp_path / "p.png").stat().st_size > 20_000
    assert "drawdown:" in told and "the passing load holds it already" in told
    assert "her waves at our side: under 0.1 m" in told


def test_drawdown_and_far_bank_only_where_the_channel_is_known(settings: Settings, answer: Answer) -> None:
    assert answer.passing is not None and answer.passing.drawdown is None
    known = asked(settings, channel=channel_of(4200.0, 300.0))
    assert known.passing is not None and known.passing.drawdown is not None
    assert known.passing_peak is not None and answer.passing_peak is not None
    assert abs(known.passing_peak.surge_n) > 1.02 * abs(answer.passing_peak.surge_n)  # the far bank is known, too
    assert channel_of(None, None) is None
    with pytest.raises(ValueError, match="--channel-width"):
        channel_of(4200.0, None)


def test_waves_in_words() -> None:
    assert waves_in_words(0.02, 0.08, 2.2, 76.0) == "under 0.1 m"
    assert waves_in_words(0.3, 1.2, 3.1, 38.0).startswith("0.3–1.2 m every 3.1 s, 38 s after her bow is abeam")


def test_the_block_coefficient_of_her_type_is_taken_when_unknown(settings: Settings) -> None:
    unknown = settings.model_copy(update={"ship": settings.ship.model_copy(update={"block_coefficient": None})})
    state = replace(
        stay.begin(settings.stay),
        draught_forward_m=settings.ship.summer_draught,
        draught_aft_m=settings.ship.summer_draught,
    )
    taken = Moored(unknown).hull(state).block_coefficient
    assert taken == pytest.approx(KIND_OF_WINDAGE[settings.ship.windage.type].block[0])
    assert Moored(settings).hull(state).block_coefficient == pytest.approx(settings.ship.block_coefficient)


@pytest.mark.parametrize(("stream_m_s", "told"), [(1.4, False), (1.6, True)])
def test_a_stream_beyond_the_model_tests_is_told(settings: Settings, stream_m_s: float, told: bool) -> None:
    """UFC 4-159-03 4-5: the shallow-water limit is that of model tests up to 1.5 m/s."""
    estimator = Estimator(settings)
    water = estimator.moored.water(settings.stay.tended_at)
    faster = WaterEstimate(water.at, water.height_m, stream_m_s, 40.0, stream_m_s, water.validity)
    calm = Band(0.0, 0.0, 0.0)
    *_, doubts = estimator.steady(calm, 0.0, faster, stay.begin(settings.stay), None)
    assert any("beyond the model tests" in doubt for doubt in doubts) is told


def test_after_a_jump_half_the_rise_makes_a_squall(settings: Settings) -> None:
    estimator, squall = Estimator(settings), settings.alerts.squall
    band = Band(15.0, 16.0, 18.0)

    def ahead(rise: float, shift_deg: float | None) -> Band | None:
        wind = WindEstimate(
            settings.stay.tended_at, band, 310.0, 20.0, 14.0, 60.0 * squall.rise * rise, "mast", 0.0,
            estimator.moored.water(settings.stay.tended_at).validity, shift_deg=shift_deg,
        )  # fmt: skip
        return estimator._squall_ahead(wind)

    assert squall.at_least < 20.0 and squall.rise * 60.0 == pytest.approx(5.0 * KNOT_M_S)
    assert ahead(1.01, None) and ahead(1.01, 0.0)
    assert ahead(0.6, JUMP_DEG) and ahead(0.6, -JUMP_DEG)
    assert not ahead(0.6, None) and not ahead(0.6, 25.0) and not ahead(0.4, 90.0)
