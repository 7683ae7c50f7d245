"""Load cycles against the worked example of ASTM E1049-85 (Fig. 6, as the manuals of rainflow
libraries give it; from memory), Miner's sum by hand, and time at load against plain arithmetic and numpy."""

from __future__ import annotations

import sys
from collections import Counter
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.watch.reviewed.fatigue import LONGEST_STEP_S, cycles, damage, exponent_of, percentile, weights_s

ASTM_SERIES = (-2.0, 1.0, -3.0, 5.0, -1.0, 3.0, -4.0, 4.0, -2.0)
ASTM_COUNTS = {3.0: 0.5, 4.0: 1.5, 6.0: 0.5, 8.0: 1.0, 9.0: 0.5}
T0 = datetime(2026, 3, 14, 10, tzinfo=UTC)


def test_the_standards_example() -> None:
    counted = cycles(ASTM_SERIES)
    by_range: Counter[float] = Counter()
    for range_n, count in zip(counted.range_n, counted.count, strict=True):
        by_range[float(range_n)] += float(count)
    assert dict(by_range) == ASTM_COUNTS


def test_miners_sum_by_hand() -> None:
    # 0.5·0.3² + 1.5·0.4² + 0.5·0.6² + 1·0.8² + 0.5·0.9²
    assert damage(cycles(ASTM_SERIES), 10.0, 2.0) == pytest.approx(0.045 + 0.24 + 0.18 + 0.64 + 0.405)


@given(st.lists(st.floats(0.0, 1e6), min_size=2, max_size=60))
def test_the_largest_range_is_the_span_and_a_steady_load_wears_nothing(tension_n: list[float]) -> None:
    counted = cycles(tension_n)
    assert counted.range_n.max(initial=0.0) == pytest.approx(max(tension_n) - min(tension_n))
    assert damage(cycles([tension_n[0]] * 9), 1e6, 9.0) == 0.0


def test_twice_the_range_wears_a_fibre_line_512_times_as_much() -> None:
    once, twice = (damage(cycles([0.0, top, 0.0, top, 0.0]), 1.0, exponent_of("HMPE")) for top in (0.1, 0.2))
    assert twice / once == pytest.approx(2.0**9)
    assert exponent_of("steel wire") == 4.09


def test_an_estimate_stands_to_the_next_and_not_through_a_gap() -> None:
    at = [T0, T0 + timedelta(seconds=5), T0 + timedelta(seconds=65), T0 + timedelta(hours=2)]
    assert weights_s(at).tolist() == [5.0, 60.0, LONGEST_STEP_S, 0.0]


@given(st.lists(st.floats(-1e3, 1e3), min_size=1, max_size=50), st.sampled_from((0.5, 0.9, 0.95)))
def test_percentile_of_equal_weights_is_numpys(values: list[float], share: float) -> None:
    ours = percentile(np.array(values), np.ones(len(values)), share)
    # numpy's inverted_cdf takes the same definition; a sum of shares may miss it by one place in rounding
    near = {float(np.quantile(values, at, method="inverted_cdf")) for at in (share - 1e-9, share, share + 1e-9)}
    assert ours in near


def test_long_weights_count_long() -> None:
    values, weights = np.array([1.0, 2.0, 9.0]), np.array([10.0, 10.0, 1.0])
    assert percentile(values, weights, 0.95) == 2.0
    assert percentile(values, weights, 0.97) == 9.0


def test_without_the_library_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "rainflow", None)
    with pytest.raises(ValueError, match=r"pip install 'bightwatch\[review\]'"):
        cycles([0.0, 1.0])
