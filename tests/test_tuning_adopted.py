"""A tuned profile is written only with who and why, one step at a time, below its cap, and the old one stays."""

from __future__ import annotations

import shutil
import tomllib
from datetime import UTC, datetime
from pathlib import Path

import pytest

from monitor.records.tuned import Recipe
from monitor.run import tuning
from monitor.run.adopting import adopt, differences, profile_of, rewritten
from monitor.settings.faults import SettingsFault
from monitor.settings.load import check_all
from monitor.settings.schema import Alerts

AT = datetime(2026, 3, 20, 12, 0, tzinfo=UTC)
NAME = "river-quay"
CAP = 0.72


@pytest.fixture
def mine(config: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(config, tmp_path / "config"))


def file(mine: Path) -> Path:
    return mine / "alerts" / f"{NAME}.toml"


def lowered(mine: Path) -> Alerts:
    profile = tuning.applied(Recipe(0.9, 0.95, 0.9, 10.0), profile_of(file(mine).read_text("utf-8")), CAP)
    assert profile is not None
    return profile


def test_it_is_written_with_who_and_why_and_the_old_one_is_kept(mine: Path) -> None:
    old, profile = file(mine).read_text("utf-8"), lowered(mine)
    written, kept = adopt(mine, NAME, old, profile, "hb", "two heavy lines\nunforetold", AT, CAP)
    text = written.read_text("utf-8")
    assert kept is not None and kept.name == "river-quay-until-2026-03-20.toml"
    assert kept.read_text("utf-8") == old
    assert text.startswith("# Tuned 2026-03-20 12:00 UTC by HB: two heavy lines unforetold\n")
    assert "#   levels.warning 55 % -> 49.5 %" in text and "# Before it: river-quay-until-2026-03-20.toml" in text
    assert profile_of(text) == profile  # to the last digit
    assert check_all(mine) == []
    for line in old.splitlines():  # every comment stands
        assert line.partition("#")[2] in text


def test_only_numbers_change_in_the_text(mine: Path) -> None:
    old, profile = file(mine).read_text("utf-8"), lowered(mine)
    new = rewritten(old, profile)
    changed = [(a, b) for a, b in zip(old.split("\n"), new.split("\n"), strict=True) if a != b]
    assert len(changed) == len(list(differences(profile_of(old), profile))) == 9
    assert ('raise_after = "20 s" ' in changed[-1][0]) and ('raise_after = "30 s" ' in changed[-1][1])
    assert tomllib.loads(new)["squall"] == tomllib.loads(old)["squall"]


def test_adopting_again_keeps_every_old_one(mine: Path) -> None:
    first = lowered(mine)
    adopt(mine, NAME, "", first, "HB", "once", AT, CAP)
    adopt(mine, NAME, "", lowered(mine), "TK", "twice", AT, CAP)
    names = sorted(path.name for path in (mine / "alerts").iterdir())
    assert names == ["river-quay-until-2026-03-20-2.toml", "river-quay-until-2026-03-20.toml", "river-quay.toml"]
    assert "by HB: once" in (mine / "alerts" / names[0]).read_text("utf-8")


def test_another_name_begins_from_the_profile_of_the_recordings(mine: Path) -> None:
    old = file(mine).read_text("utf-8")
    written, kept = adopt(mine, "sedge-quay", old, lowered(mine), "HB", "for this quay alone", AT, CAP)
    assert kept is None and written.name == "sedge-quay.toml" and file(mine).read_text("utf-8") == old
    assert "# Before it: the profile of the recordings." in written.read_text("utf-8")


@pytest.mark.parametrize(
    ("recipe", "by", "why", "name", "told"),
    [
        (Recipe(0.9), "", "a reason", NAME, "who adopts it"),
        (Recipe(0.9), "AB", " ", NAME, "why"),
        (Recipe(0.9), "AB", "a reason", "../outside", "small letters"),
        (Recipe(0.8), "AB", "a reason", NAME, "levels.warning: more than 10% in one step"),
        (Recipe(1.0, 1.1), "AB", "a reason", NAME, "levels.alarm is above 60.0%"),
        (Recipe(), "AB", "a reason", NAME, "has these numbers already"),
    ],
)
def test_what_is_not_adopted(mine: Path, recipe: Recipe, by: str, why: str, name: str, told: str) -> None:
    old = file(mine).read_bytes()
    profile = tuning.applied(recipe, profile_of(old.decode()), CAP)
    assert profile is not None
    with pytest.raises(ValueError, match=told):
        adopt(mine, name, old.decode(), profile, by, why, AT, 0.6 if "60.0" in told else CAP)
    assert [path.name for path in (mine / "alerts").iterdir()] == [f"{NAME}.toml"]
    assert file(mine).read_bytes() == old


def test_an_unsound_text_is_no_profile() -> None:
    with pytest.raises(SettingsFault):
        profile_of('name = "half a profile"\n')
