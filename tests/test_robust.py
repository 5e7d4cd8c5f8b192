"""Algorithm A, the median and the scaled median absolute deviation against published figures and another library."""

from __future__ import annotations

from math import erf, exp, isnan, pi, sqrt
from unittest import mock

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.analyse import robust
from labmark.analyse.robust import algorithm_a, made, median

# AMC (1989), Analyst 114, 1693; the data set "chem" of the R package MASS.
CHEM = [2.9, 3.1, 3.4, 3.4, 3.7, 3.7, 2.8, 2.5, 2.4, 2.4, 2.7, 2.2]
CHEM += [5.28, 3.37, 3.03, 3.03, 28.95, 3.77, 3.4, 2.2, 3.5, 3.6, 3.7, 3.7]

# AMC Technical Brief 6 (April 2001).
AMC = [4.5, 4.9, 5.6, 4.2, 6.2, 5.2, 9.9]

# ISO 5725-5:1998, creosote cell means (as restated in the help of the R package metRology).
CREOSOTE = [24.140, 20.155, 19.500, 20.300, 20.705, 17.570, 20.100, 20.940, 21.185]

# ISO 13528:2022, Table E.1 (three columns) and Table E.3 (atrazine).
E1_IGNORED = [10, 10, 12, 19, 20, 20, 23, 23, 25, 25, 26, 28, 28, 30, 28, 29, 30, 30, 31, 32, 32, 45, 50]
E1_DELETED = [12, 19, 20, 23, 23, 25, 25, 26, 28, 28, 28, 29, 30, 30, 31, 32, 32, 45]
E1_HALF = [5, 5, 12, 19, 10, 20, 23, 23, 25, 25, 26, 28, 28, 15, 28, 29, 30, 30, 31, 32, 32, 45, 25]
ATRAZINE = [0.04, 0.055, 0.178, 0.202, 0.206, 0.227, 0.228, 0.23, 0.23, 0.235, 0.236, 0.237, 0.243, 0.244, 0.245]
ATRAZINE += [0.2555, 0.26, 0.264, 0.267, 0.27, 0.273, 0.274, 0.274, 0.278, 0.2811, 0.287, 0.287, 0.288, 0.289, 0.295]
ATRAZINE += [0.296, 0.311, 0.331, 0.4246]

INSIDE = erf(1.5 / sqrt(2))
EXACT_FACTOR = 1 / sqrt(INSIDE + 1.5**2 * (1 - INSIDE) - 3.0 * exp(-(1.5**2) / 2) / sqrt(2 * pi))
"""What the standard prints as 1.134: 1/sqrt of the variance of a normal value clipped at 1.5."""


@pytest.mark.parametrize(
    ("data", "mean", "sd"),
    [
        # Fixed points with the printed factors, computed to 1e-7 with numpy from the definition in ISO 13528, C.3.1.
        pytest.param(CHEM, 3.2055659, 0.6741501, id="chem"),
        pytest.param(AMC, 5.3864892, 1.1459569, id="AMC brief 6"),
        pytest.param(CREOSOTE, 20.4121429, 1.0698397, id="creosote"),
        pytest.param(E1_IGNORED, 26.0080055, 7.2372672, id="ISO 13528 E.1, ignored"),
        pytest.param(E1_DELETED, 26.8125, 5.2945887, id="ISO 13528 E.1, deleted"),
        pytest.param(E1_HALF, 23.9585213, 8.5960317, id="ISO 13528 E.1, half"),
        pytest.param(ATRAZINE, 0.25701104, 0.03951991, id="ISO 13528 E.3"),
    ],
)
def test_algorithm_a_reaches_the_fixed_point(data, mean, sd):
    estimate = algorithm_a(data)
    assert estimate.mean == pytest.approx(mean, abs=1e-6)
    assert estimate.sd == pytest.approx(sd, abs=1e-6)


@pytest.mark.parametrize(
    ("data", "mean", "sd", "half_digit"),
    [
        # ISO 13528:2022 prints 26.81, 5.29 (Table E.1, deleted) and 0.2570, 0.0395 (Table E.5).
        pytest.param(E1_DELETED, 26.81, 5.29, 0.005, id="E.1 deleted"),
        pytest.param(ATRAZINE, 0.2570, 0.0395, 0.00005, id="E.3 atrazine"),
        # 26.01, 7.23: s* is that of the standard's own stop, a hundredth short of the fixed point 7.24.
        pytest.param(E1_IGNORED, 26.01, 7.23, 0.008, id="E.1 ignored"),
    ],
)
def test_algorithm_a_agrees_with_the_printed_figures_of_iso_13528(data, mean, sd, half_digit):
    estimate = algorithm_a(data)
    assert abs(estimate.mean - mean) <= half_digit
    assert abs(estimate.sd - sd) <= half_digit


def test_atrazine_has_the_printed_median_spread_and_uncertainty():
    # ISO 13528:2022, Table E.5: median 0.2620, MADe 0.0386, u(x*) 0.0085.
    assert median(ATRAZINE) == pytest.approx(0.2620, abs=5e-5)
    assert made(ATRAZINE) == pytest.approx(0.0386, abs=5e-5)
    assert algorithm_a(ATRAZINE).standard_uncertainty == pytest.approx(0.0085, abs=5e-5)


def test_the_first_step_on_creosote_is_the_published_one():
    # Iterates with the printed factors: 0 (20.3000, 0.9491), 1 (20.3872, 0.9856); ISO 5725-5:1998 data, computed.
    values = np.array(CREOSOTE)
    one = robust._Grouped(np.zeros(values.size, dtype=int), np.array([values.size]), values.size - 1)
    (centre,), spread = robust._step(values - 20.3, one, np.zeros(1), made(values))
    assert made(values) == pytest.approx(0.9491, abs=5e-5)
    assert 20.3 + centre == pytest.approx(20.3872, abs=5e-5)
    assert spread == pytest.approx(0.9856, abs=5e-5)


def test_the_exact_factor_is_what_the_printed_one_rounds():
    # 1/sqrt(beta) = 1.133392655, beta 0.778465216 (computed); ISO 13528:2022 prints 1.134.
    assert pytest.approx(1.133392655, abs=1e-9) == EXACT_FACTOR
    assert abs(EXACT_FACTOR - robust.SD_FACTOR) < 0.001


def test_with_the_exact_factor_it_is_hubers_second_proposal():
    # R package MASS 7.3-65, reference output of hubers(chem): mu 3.205498, s 0.673652 (fully converged 0.6736526).
    with mock.patch.object(robust, "SD_FACTOR", EXACT_FACTOR):
        estimate = algorithm_a(CHEM)
    assert estimate.mean == pytest.approx(3.205498, abs=1e-6)
    assert estimate.sd == pytest.approx(0.6736526, abs=1e-7)


# The other library takes a second to load, once.
@pytest.mark.slow
@given(seed=st.integers(0, 2**32 - 1), n=st.integers(5, 40), far=st.integers(0, 2))
def test_with_the_exact_factor_it_agrees_with_statsmodels(seed, n, far):
    from statsmodels.robust.scale import Huber

    rng = np.random.default_rng(seed)
    data = rng.normal(24.4, 0.2, n)
    data[:far] += rng.normal(0, 5, far)
    with mock.patch.object(robust, "SD_FACTOR", EXACT_FACTOR):
        ours = algorithm_a(data)
    mean, sd = Huber(c=1.5, tol=1e-13, maxiter=5000)(data)
    assert ours.mean == pytest.approx(float(mean), rel=1e-8)
    assert ours.sd == pytest.approx(float(sd), rel=1e-8)


titre_lists = st.lists(st.integers(2000, 3000).map(lambda hundredths: hundredths / 100), min_size=2, max_size=40)


@given(titre_lists)
def test_one_more_step_changes_nothing(titres):
    estimate = algorithm_a(titres)
    pulled = np.clip(titres, estimate.mean - 1.5 * estimate.sd, estimate.mean + 1.5 * estimate.sd)
    assert pulled.mean() == pytest.approx(estimate.mean, abs=1e-8)
    assert 1.134 * pulled.std(ddof=1) == pytest.approx(estimate.sd, abs=1e-8)


@given(titre_lists, st.floats(0.01, 100), st.floats(-1000, 1000))
def test_it_follows_a_change_of_unit_and_zero(titres, scale, shift):
    before = algorithm_a(titres)
    after = algorithm_a(scale * np.array(titres) + shift)
    assert after.mean == pytest.approx(scale * before.mean + shift, abs=1e-6)
    assert after.sd == pytest.approx(scale * before.sd, abs=1e-6)


@given(titre_lists, st.randoms(use_true_random=False))
def test_the_order_of_students_does_not_matter(titres, random):
    mixed = list(titres)
    random.shuffle(mixed)
    assert algorithm_a(mixed).mean == pytest.approx(algorithm_a(titres).mean, abs=1e-9)


def test_however_far_out_one_student_is_the_centre_hardly_moves():
    rest = [24.30, 24.35, 24.40, 24.30, 24.45, 24.35, 24.40]
    assert algorithm_a([*rest, 250.0]).mean == pytest.approx(algorithm_a([*rest, 26.0]).mean, abs=1e-9)


def test_a_single_student_has_a_centre_and_no_spread():
    estimate = algorithm_a([24.30])
    assert estimate.mean == 24.30
    assert isnan(estimate.sd)
    assert isnan(estimate.standard_uncertainty)


def test_two_students_have_their_mean_and_1134_times_their_sd():
    estimate = algorithm_a([24.30, 24.50])
    assert estimate.mean == pytest.approx(24.40)
    assert estimate.sd == pytest.approx(1.134 * 0.2 / 2**0.5)


def test_no_student_at_all_gives_nothing():
    estimate = algorithm_a([])
    assert estimate.n == 0
    assert isnan(estimate.mean)
    assert isnan(estimate.standard_uncertainty)
    assert isnan(median([]))
    assert isnan(made([24.3]))


def test_students_who_all_agree_have_no_spread():
    estimate = algorithm_a([24.35] * 6)
    assert (estimate.mean, estimate.sd) == (24.35, 0.0)


def test_more_than_half_alike_still_have_the_spread_of_the_others():
    # The median absolute deviation is 0; an iteration started there could never leave it.
    estimate = algorithm_a([24.35, 24.35, 24.35, 24.35, 24.20, 24.50, 24.55])
    assert estimate.made == 0.0
    assert 24.35 < estimate.mean < 24.40
    assert 0.05 < estimate.sd < 0.20


def test_all_alike_but_one_is_all_alike():
    estimate = algorithm_a([24.35, 24.35, 24.35, 24.35, 26.00])
    assert (estimate.mean, estimate.sd) == (24.35, 0.0)


def test_an_iteration_that_is_cut_short_has_come_so_far():
    with mock.patch.object(robust, "MOST_ITERATIONS", 4):
        estimate = algorithm_a(CREOSOTE)
    # The fourth iterate (20.4119, 1.0388), which the help of the R package metRology finds close to the standard's.
    assert (estimate.mean, estimate.sd) == (pytest.approx(20.411869, abs=1e-6), pytest.approx(1.038801, abs=1e-6))


def test_missing_results_are_left_out():
    assert algorithm_a([24.30, np.nan, 24.40, np.inf]).n == 2
