"""Results that move with the order of work."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.analyse.drift import MOST_POINTS, drift
from tests.simulate_class import REFERENCE, TITRE, Recipe, simulate

ORDER = np.arange(1.0, 25.0)


def test_results_that_rise_steadily_drift():
    found = drift(REFERENCE * (1 + 0.002 * ORDER), ORDER, TITRE)
    assert found.drifting
    assert found.slope == pytest.approx(0.002 * REFERENCE)
    assert found.first_to_last == pytest.approx(0.002 * REFERENCE * 23)
    assert found.first_to_last_titre == pytest.approx(0.046 * TITRE / 1.025, rel=1e-3)
    assert (found.n, found.tau) == (24, 1.0)


def test_the_slope_is_the_median_of_all_slopes():
    # Slopes of the pairs by hand: 1, 2, 4/3 and 3/2, 7/4 ... of four points on places 0, 1, 2, 3, 4, 5.
    y = np.array([0.0, 1.0, 3.0, 4.0, 6.0, 20.0])
    by_hand = [(y[j] - y[i]) / (j - i) for i in range(6) for j in range(i + 1, 6)]
    assert drift(y, np.arange(6.0), TITRE).slope == pytest.approx(np.median(by_hand))


def test_two_students_far_out_do_not_make_a_drift():
    rng = np.random.default_rng(3)
    results = REFERENCE * (1 + rng.normal(0, 0.006, 24))
    results[-2:] *= 1.10
    assert not drift(results, ORDER, TITRE).drifting


def test_where_the_burette_holds_the_unknown_titres_move_the_other_way():
    found = drift(REFERENCE * (1 + 0.002 * ORDER), ORDER, TITRE, exponent=-1.0)
    assert found.first_to_last_titre < 0
    assert found.drifting


def test_a_sure_drift_too_small_to_matter_is_not_named():
    found = drift(REFERENCE * (1 + 0.0001 * ORDER), ORDER, TITRE)
    assert found.p < 1e-6
    assert abs(found.first_to_last_titre) < 0.10
    assert not found.drifting


@pytest.mark.parametrize(
    ("results", "order"),
    [
        pytest.param([], [], id="nobody"),
        pytest.param([0.1] * 5, range(5), id="five"),
        pytest.param([0.1] * 8, [3] * 8, id="all at once"),
        pytest.param([0.1] * 8, [np.nan] * 8, id="no order"),
    ],
)
def test_without_an_order_of_six_there_is_no_drift_to_look_for(results, order):
    assert drift(results, list(order), TITRE) is None


def test_results_all_alike_do_not_drift():
    found = drift([0.1] * 8, list(range(8)), TITRE)
    assert (found.slope, found.p, found.drifting) == (0.0, 1.0, False)


def test_missing_results_and_places_are_left_out():
    results, order = REFERENCE * (1 + 0.002 * ORDER), ORDER.copy()
    results[3], order[5] = np.nan, np.nan
    assert drift(results, order, TITRE).n == 22


@pytest.mark.slow
@given(st.integers(0, 2**32 - 1), st.integers(6, 40))
def test_slope_and_interval_agree_with_scipy(seed, n):
    from scipy import stats

    rng = np.random.default_rng(seed)
    x, y = rng.permutation(n).astype(float), rng.normal(24.4, 0.3, n)
    ours = drift(y, x, TITRE)
    theirs = stats.theilslopes(y, x, alpha=0.95)
    assert ours.slope == pytest.approx(theirs.slope, rel=1e-9, abs=1e-12)
    assert (ours.low, ours.high) == pytest.approx((theirs.low_slope, theirs.high_slope), rel=1e-9, abs=1e-12)
    assert ours.tau == pytest.approx(stats.kendalltau(x, y).statistic, abs=1e-9)


@given(st.integers(0, 2**32 - 1))
def test_reversing_the_order_reverses_the_slope(seed):
    y = simulate(np.random.default_rng(seed), Recipe()).result
    there, back = drift(y, ORDER, TITRE), drift(y, -ORDER, TITRE)
    assert back.slope == pytest.approx(-there.slope, abs=1e-12)
    assert back.p == pytest.approx(there.p)
    assert (back.low, back.high) == pytest.approx((-there.high, -there.low), abs=1e-12)


def test_a_long_order_is_summed_up_by_stretches():
    rng = np.random.default_rng(5)
    n = 20 * MOST_POINTS
    y = REFERENCE * (1 + rng.normal(0, 0.01, n) + 0.02 * np.arange(n) / n)
    found = drift(y, np.arange(n), TITRE)
    assert found.n == n
    assert found.first_to_last_percent == pytest.approx(2.0, abs=0.1)
    assert found.drifting


@pytest.mark.slow
def test_drift_is_named_where_there_is_none_once_in_a_hundred():
    # 2000 clean classes of 24, worked in the order of the sheet; 1 % and four standard errors.
    rng = np.random.default_rng(6)
    named = [drift(simulate(rng, Recipe()).result, ORDER, TITRE).drifting for _ in range(2000)]
    assert np.mean(named) <= 0.019


@pytest.mark.slow
def test_a_drift_of_four_per_cent_over_the_lesson_is_found():
    rng, along = np.random.default_rng(7), 1 + 0.04 * (ORDER - 1) / 23
    found = [drift(simulate(rng, Recipe()).result * along, ORDER, TITRE).drifting for _ in range(500)]
    assert np.mean(found) >= 0.90
