"""Two ships that pass at once, against both loads put on the lines together at every lag between the two, and
against lags drawn at random."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from monitor.physics.hulls import hull_from_ais
from monitor.physics.loads import Loads
from monitor.records.estimates import Band, Encounter, LineLoad, PassingKind, PassingOutlook, Validity
from monitor.watch.company import chance_together, in_company
from monitor.watch.estimator import unknown_load
from monitor.watch.facts import passing_facts
from monitor.watch.outlook import NO_LOAD, Curves, passing_curves, shared_over
from monitor.watch.sharing import shared
from tests.test_odds_of_events import NOW, _case, _encounter

CASE = _case(5.0)
MOORED, LOA_M = CASE.holding.moored, CASE.holding.moored.settings.ship.loa
HERS = replace(_encounter(5.0, 0.03), mmsi=200911032, name="LUMEN", passes=1.0, separation_m=Band(195, 200, 205))
OURS = replace(HERS, mmsi=200911033, name="OTHO", kind=PassingKind.SAME_WAY, course_deg=40.0)


def _steady() -> Loads:
    nothing = np.zeros(3)
    return Loads(nothing, np.full(3, 6e4), nothing)


def _rest() -> tuple[LineLoad, ...]:
    return shared(CASE.holding, _steady(), CASE.stay, CASE.water, rub=False).lines(0)


def _curves(met: Encounter) -> Curves:
    found = passing_curves(MOORED, MOORED.hull(CASE.stay), met, CASE.water)
    assert found is not None
    return found


def _peaks(curves: Curves) -> tuple[LineLoad, ...]:
    return shared_over(CASE.holding, _steady(), curves, CASE.stay, CASE.water).peaks()


def _told(met: Encounter) -> PassingOutlook:
    return PassingOutlook(met, _peaks(_curves(met)), NO_LOAD, Validity.GOOD)


def _heaviest_together(lag_s: float) -> LineLoad:
    """At a lag of his midships after hers."""
    hers, his = _curves(HERS), _curves(OURS)
    run_m = (
        -hers.x_m - lag_s * OURS.speed_ground_m_s.mid
    )  # his place on his way, as far on his track as she on hers
    order = np.argsort(his.x_m)

    def there(part: str) -> np.ndarray:
        return np.interp(run_m, his.x_m[order], getattr(his.mid, part)[order], left=0.0, right=0.0)

    both = {part: getattr(hers.mid, part) + there(part) for part in ("surge_n", "sway_n", "yaw_n_m")}
    return _peaks(replace(hers, mid=replace(hers.mid, **both)))[0]


def test_two_that_meet_abreast_are_told_with_both_loads() -> None:
    alone = _told(HERS)
    hers, his = in_company((alone, _told(OURS)), CASE.holding, _rest)
    lags = [_heaviest_together(lag_s).utilisation for lag_s in range(-120, 121, 20)]
    for end, least in (("mid", 0.94), ("high", 0.8)):  # lines that stiffen carry more than their tensions added;
        # and the worst has both ships at their upper ends at once, which is rarer than one in twenty
        told, worst = getattr(hers.lines[0].utilisation, end), max(getattr(each, end) for each in lags)
        assert worst > 1.3 * getattr(alone.lines[0].utilisation, end)  # hers alone tells too little
        assert least * worst <= told <= 1.1 * worst
    assert "together with OTHO" in hers.reasons[-1] and "together with LUMEN" in his.reasons[-1]


def test_a_less_likely_meeting_widens_the_upper_end_alone() -> None:
    alone = _told(HERS)
    told, _ = in_company((alone, _told(replace(OURS, passes=0.3))), CASE.holding, _rest)
    assert told.lines[0].utilisation.mid == pytest.approx(alone.lines[0].utilisation.mid)
    assert told.lines[0].utilisation.high > 1.1 * alone.lines[0].utilisation.high


def test_far_off_company_alone_is_no_warning() -> None:
    """A ship too light for odds, with one that may pass together with her: no chance makes a warning of her
    upper end before it is time to act (see `PassingFacts.call`)."""
    light, heavy = in_company((replace(_told(HERS), lines=_rest()), _told(OURS)), CASE.holding, _rest)
    assert light.lines[0].utilisation.high > 0.3
    estimate = unknown_load(NOW, CASE.wind, CASE.water, ())
    chances = [passing_facts(each, estimate, CASE.stay, NOW).over_limit for each in (light, heavy)]
    assert chances == [0.0, None]


def test_who_comes_alone_is_told_alone() -> None:
    later = timedelta(minutes=12)
    times = ("abeam_at", "earliest_at", "latest_at")
    last = _told(replace(OURS, **{name: getattr(OURS, name) + later for name in times}))
    assert in_company((_told(HERS), last), CASE.holding, _rest) == (_told(HERS), last)


def test_a_load_that_is_unknown_or_guessed_is_not_added_and_that_is_said() -> None:
    alone = _told(HERS)
    unknown = PassingOutlook(OURS, (), NO_LOAD, Validity.UNKNOWN, ("too fast for the depth",))
    tug = _told(replace(OURS, assumed=hull_from_ais(52, 30.0, 10.0, 4.0).assumed))  # with a tow nobody told of
    for other, why in ((unknown, "whose load is not known"), (tug, "size or tow is guessed")):
        told, same = in_company((alone, other), CASE.holding, _rest)
        assert told.lines == alone.lines and same.validity in (Validity.UNKNOWN, Validity.DEGRADED)
        assert told.validity is Validity.DEGRADED and why in told.reasons[-1] and "OTHO" in told.reasons[-1]
    little = replace(tug, lines=_rest())  # so light that it would change nothing
    assert in_company((alone, little), CASE.holding, _rest)[0] == alone


@pytest.mark.parametrize("lag_min", [0.0, 1.5, 4.0])
def test_the_chance_of_company_is_that_of_draws(lag_min: float) -> None:
    other = replace(OURS, passes=0.8, abeam_at=OURS.abeam_at + timedelta(minutes=lag_min))
    spread_s = 60.0 / 1.645
    draws = np.random.default_rng(3).normal(0.0, spread_s, (2, 200_000))
    near = np.abs(draws[0] - draws[1] + 60.0 * lag_min) < (294.0 + LOA_M) / 5.0
    assert chance_together(HERS, other, LOA_M) == pytest.approx(0.8 * near.mean(), abs=0.005)
