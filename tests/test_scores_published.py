"""Scores against the `scores` package, Finley's tornadoes, published intervals, and scipy's beta-binomial."""

from __future__ import annotations

import math

import pytest
import xarray
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scores.categorical import BasicContingencyManager

from monitor.watch.scores import FLAT, Prior, Table, borrowed, percentile, sedi, wilson

COUNTS = st.integers(0, 60)
THEIRS = {
    "pod": "probability_of_detection",
    "far": "false_alarm_ratio",
    "pofd": "probability_of_false_detection",
    "csi": "critical_success_index",
    "sedi": "symmetric_extremal_dependence_index",
}


@settings(deadline=None, max_examples=150)
@given(COUNTS, COUNTS, COUNTS, COUNTS)
def test_against_the_scores_package(hits: int, false: int, misses: int, quiet: int) -> None:
    """Every score where it is defined; where theirs is not a number, ours is None."""
    cells = {"tp_count": hits, "fp_count": false, "fn_count": misses, "tn_count": quiet}
    counted = {key: xarray.DataArray(float(value)) for key, value in cells.items()}
    counted["total_count"] = xarray.DataArray(float(hits + false + misses + quiet))
    manager, table = BasicContingencyManager(counted), Table(hits, false, misses, quiet)
    for ours, name in THEIRS.items():
        theirs, mine = float(getattr(manager, name)()), getattr(table, ours)
        if math.isfinite(theirs):
            assert mine == pytest.approx(theirs, abs=1e-12), name
        else:
            assert mine is None, name


def test_finleys_tornado_forecasts() -> None:
    """Finley 1884 as in Wilks, table 7.1 (from memory): 28 hits, 72 false alarms, 23 misses, 2680 quiet; TS 0.228,
    H 0.549, FAR 0.720, F 0.0262."""
    table = Table(28, 72, 23, 2680)
    found = (table.csi, table.pod, table.far, table.pofd)
    assert found == pytest.approx((0.228, 0.549, 0.720, 0.0262), abs=0.0016)


@pytest.mark.parametrize(("hit", "false", "value"), [(0.9, 0.02, 0.960), (0.7, 0.05, 0.823)])
def test_sedi_values(hit: float, false: float, value: float) -> None:
    """Worked from Ferro & Stephenson 2011 by hand."""
    assert sedi(hit, false) == pytest.approx(value, abs=5e-4)
    assert sedi(1.0, false) is None and sedi(hit, 0.0) is None


@pytest.mark.parametrize(
    ("count", "of", "low", "high"),
    [
        (5, 5, 0.57, 1.0),
        (9, 10, 0.60, 0.98),
        (10, 10, 0.72, 1.0),
        (20, 20, 0.84, 1.0),
        (27, 30, 0.74, 0.97),
        (45, 50, 0.79, 0.96),
        (3, 10, 0.11, 0.60),
        (81, 263, 0.2553, 0.3662),  # Newcombe 1998, Statistics in Medicine 17, table I, method 3 (from memory)
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_wilson_intervals(count: int, of: int, low: float, high: float) -> None:
    found = wilson(count, of)
    assert found is not None
    places = 4 if of in (263, 148, 20, 29) and high != 1.0 else 2
    assert (round(found[0], places), round(found[1], places)) == (low, high)
    theirs = stats.binomtest(count, of).proportion_ci(method="wilson")
    assert found == pytest.approx((theirs.low, theirs.high), abs=1e-6)


@given(st.integers(0, 40), st.integers(0, 40), st.floats(0.05, 0.95), st.floats(0.5, 30.0))
def test_shrinkage_is_the_beta_posteriors_mean(hits: int, misses: int, mean: float, weight: float) -> None:
    posterior = stats.beta(mean * weight + hits, (1.0 - mean) * weight + misses)
    assert Prior(mean, weight).with_counts(hits, hits + misses) == pytest.approx(posterior.mean(), rel=1e-9)


def test_a_borrowed_prior_never_outweighs_its_bound() -> None:
    assert FLAT.with_counts(0, 0) == 0.5 and FLAT.with_counts(1, 1) == pytest.approx(2.0 / 3.0)  # Laplace's rule
    assert borrowed(90, 100, 10.0).weight == 10.0
    assert borrowed(3, 4, 10.0).weight == 6.0
    assert borrowed(90, 100, 10.0).mean == pytest.approx(91.0 / 102.0)


def test_percentiles_as_numpy_has_them() -> None:
    assert percentile([], 0.5) is None
    assert percentile([4.0, 1.0, 3.0, 2.0], 0.5) == 2.5
    assert percentile([10.0, 20.0, 30.0], 0.1) == pytest.approx(12.0)
