"""The comparison plots can be drawn anew by the one documented command."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.pictures import PLOTS, draw


def test_every_plot_is_drawn(tmp_path: Path) -> None:
    pytest.importorskip("matplotlib")
    written = draw(tmp_path / "plots")
    assert [path.stem for path in written] == list(PLOTS)
    assert all(path.stat().st_size > 10_000 for path in written)
