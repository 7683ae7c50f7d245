"""The channel's section in the settings: the drawdown that is told from it, and what a far bank does to the load.

Dand & White (1978), drawdown = 8.8 (A_M/A)^1.4 V²/2g (from memory), and continuity are the outside checks; Schijf
(1949) against independent figures stands in test_ship_waves.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from monitor.base.units import GRAVITY_M_S2, KNOT_M_S
from monitor.physics.wake import Channel
from monitor.records.estimates import Validity
from monitor.run import whatif
from monitor.run.whatif import Answer, Passer, what_if
from monitor.settings.assumed import assumptions
from monitor.settings.load import SettingsFault, load_stay
from monitor.settings.schema import Section, Settings
from monitor.watch.moored import Moored
from tests.conftest import ROOT
from tests.settings_texts import BERTH_FILE, NAME, changed, write

STAY = "tavrin-lark-at-sedge-quay-2"
CANAL = Section.model_construct(width=300.0, mean_depth=9.0)


@pytest.fixture(scope="module")
def shipped() -> Settings:
    return load_stay(ROOT / "config", STAY)


@pytest.fixture(autouse=True)
def without_odds(monkeypatch: pytest.MonkeyPatch) -> None:
    """They take most of the time, and drawdown has no part in them."""
    monkeypatch.setattr(whatif, "_odds", lambda *_: (None, None))


def in_canal(settings: Settings, section: Section | None = CANAL) -> Settings:
    fairway = settings.berth.fairway.model_copy(update={"section": section})
    return settings.model_copy(update={"berth": settings.berth.model_copy(update={"fairway": fairway})})


def passed(settings: Settings, speed_kn: float) -> Answer:
    """A large ship, close by."""
    passer = Passer(230.0, 32.0, 9.0, 60.0, speed_kn * KNOT_M_S, True, False)
    return what_if(settings, settings.stay.tended_at, 0.0, 0.0, passer)


def told(answer: Answer) -> list[str]:
    return [reason for reason in answer.reasons if "the water sinks" in reason]


def test_the_section_may_stand_in_the_berths_file(tmp_path: Path) -> None:
    files = changed(BERTH_FILE, "[fairway]", '[fairway]\nsection = { width = "300 m", mean_depth = "9 m" }')
    settings = load_stay(write(tmp_path, files), NAME)
    assert settings.berth.fairway.section == Section(width="300 m", mean_depth="9 m")  # type: ignore[arg-type]
    assert not any("drawdown" in text for text in assumptions(settings))
    narrow = changed(BERTH_FILE, "[fairway]", '[fairway]\nsection = { width = "30 m", mean_depth = "9 m" }')
    with pytest.raises(SettingsFault, match="less than the fairway's"):
        load_stay(write(tmp_path / "narrow", narrow), NAME)


def test_the_tide_fills_the_section(shipped: Settings) -> None:
    """Upright banks: the area grows by the width times the height of tide."""
    assert Moored(shipped).channel(Moored(shipped).water(shipped.stay.tended_at)) is None
    moored = Moored(in_canal(shipped))
    water = moored.water(shipped.stay.tended_at)
    areas = []
    for height_m in (0.0, 2.0, None):
        channel = moored.channel(replace(water, height_m=height_m))
        assert channel is not None and channel.width_m == 300.0
        areas.append(channel.area_m2)
    assert areas == [2700.0, 3300.0, 2700.0]


def test_drawdown_is_told_where_the_section_is_known_and_it_matters(shipped: Settings) -> None:
    assert told(passed(shipped, 7.0)) == []  # unknown stays unknown
    assert told(passed(in_canal(shipped), 2.0)) == []  # too little to matter
    answer = passed(in_canal(shipped), 7.0)
    (sentence,) = told(answer)
    assert sentence.endswith("in the line loads already")
    low_m, high_m, returns_kn = (float(each) for each in re.findall(r"\d+\.\d", sentence))
    assert answer.passing is not None and answer.speed_water_m_s is not None
    moored = Moored(in_canal(shipped))
    channel = moored.channel(moored.water(shipped.stay.tended_at))
    assert channel is not None
    blockage = answer.passing.hull.midship_area_m2 / channel.area_m2
    dand_white_m = 8.8 * blockage**1.4 * answer.speed_water_m_s**2 / (2.0 * GRAVITY_M_S2)
    assert low_m - 0.05 <= dand_white_m <= high_m + 0.05
    # What she and the sunken surface leave of the section has to let through what she drives aside.
    even = answer.speed_water_m_s * blockage / (1.0 - blockage)
    assert 0.9 * even < returns_kn * KNOT_M_S < 2.0 * even


@pytest.mark.parametrize(
    ("area_m2", "width_m", "why"),
    [(2400.0, 120.0, "no room for her so far off"), (200_000.0, 240.0, "would be 833 m deep")],
)
def test_a_channel_that_cannot_be_as_typed_is_refused(
    shipped: Settings, area_m2: float, width_m: float, why: str
) -> None:
    passer = Passer(300.0, 43.0, 10.0, 90.0, 4.0, True, False, channel=Channel(area_m2, width_m))
    with pytest.raises(ValueError, match=why):
        what_if(shipped, shipped.stay.tended_at, 0.0, 0.0, passer)


def test_a_launch_draws_no_water_down(shipped: Settings) -> None:
    launch = Passer(12.0, 4.0, 1.2, 60.0, 30.0 * KNOT_M_S, True, False, channel=Channel(2400.0, 220.0))
    assert told(what_if(shipped, shipped.stay.tended_at, 0.0, 0.0, launch)) == []


def test_at_the_limiting_speed_no_figure_is_told(shipped: Settings) -> None:
    shallow = in_canal(shipped, Section.model_construct(width=230.0, mean_depth=2.5))
    answer = passed(shallow, 7.0)
    (sentence,) = told(answer)
    assert "more than any formula tells" in sentence
    assert answer.validity is Validity.DEGRADED and any(
        "too fast for the channel" in why for why in answer.reasons
    )
    most = [max(line.utilisation.high for line in each.lines) for each in (answer, passed(shipped, 7.0))]
    assert most[0] > most[1]  # and no less than without a section


def test_a_far_bank_known_from_the_section_loads_her_lines_more(shipped: Settings) -> None:
    """And one so far that nothing comes back changes no newton: drawdown is told, never added."""
    one, narrow, wide = (
        passed(in_canal(shipped, section), 6.0)
        for section in (None, CANAL, Section.model_construct(width=2000.0, mean_depth=1.35))
    )
    assert told(narrow) and told(wide) and not told(one)
    most = [max(line.utilisation.mid for line in answer.lines) for answer in (one, wide, narrow)]
    assert most[1] == pytest.approx(most[0], rel=1e-3) and 1.02 < most[2] / most[0] < 1.5


def test_the_far_bank_is_where_the_section_ends(shipped: Settings) -> None:
    water = Moored(shipped).water(shipped.stay.tended_at + timedelta(hours=1))
    canal, open_ended = Moored(in_canal(shipped)).basin(water), Moored(shipped).basin(water)
    assert canal.channel_m == pytest.approx(300.0) and canal.section is not None
    assert np.isfinite(open_ended.channel_m) and open_ended.section is None
