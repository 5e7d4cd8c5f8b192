"""Grubbs, Dixon, Cochran and Mandel: statistics of worked examples, critical values of printed tables."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.analyse import screening
from labmark.analyse.screening import cochran, dixon, grubbs, grubbs_pair, mandel
from tests.test_precision import CREOSOTE, CREOSOTE_MEANS, GLUCOSE, flat

# NIST/SEMATECH e-Handbook 1.3.5.17.1: uranium of Tietjen and Moore.
URANIUM = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]

# n: one-sided 5 %, 1 %, two-sided 5 %, 1 %. Formula as in the R package outliers 0.15 (qgrubbs), computed with scipy.
GRUBBS = {
    3: (1.1531, 1.1546, 1.1543, 1.1547),
    4: (1.4625, 1.4925, 1.4813, 1.4962),
    5: (1.6714, 1.7489, 1.7150, 1.7637),
    6: (1.8221, 1.9442, 1.8871, 1.9728),
    7: (1.9381, 2.0973, 2.0200, 2.1391),
    8: (2.0317, 2.2208, 2.1266, 2.2744),
    9: (2.1096, 2.3231, 2.2150, 2.3868),
    10: (2.1761, 2.4097, 2.2900, 2.4821),
    15: (2.4090, 2.7049, 2.5483, 2.8061),
    20: (2.5566, 2.8838, 2.7082, 3.0008),
    24: (2.6439, 2.9866, 2.8016, 3.1117),
    30: (2.7451, 3.1029, 2.9085, 3.2361),
    40: (2.8675, 3.2395, 3.0361, 3.3807),
}

# n: one-sided 10, 5, 2.5, 1 %. Grubbs 1950/1969, two decimals, as reproduced in a public hand-out.
GRUBBS_TWO_DECIMALS = {
    4: (1.42, 1.46, 1.48, 1.49),
    5: (1.60, 1.67, 1.71, 1.75),
    6: (1.73, 1.82, 1.89, 1.94),
    8: (1.91, 2.03, 2.13, 2.22),
    10: (2.03, 2.18, 2.29, 2.41),
    20: (2.38, 2.56, 2.71, 2.88),
}

# n: 5 % for the two largest or two smallest. ISO 5725-2:1994, Table 5 (from memory).
GRUBBS_PAIR = {5: 0.0090, 6: 0.0349, 8: 0.1101, 10: 0.1864, 20: 0.4391}

# n: two-sided 95 %, by numerical integration with other nodes, confirmed by simulation (computed). Rorabacher 1991,
# Anal. Chem. 63, 139, prints figures up to 0.0025 away from these.
DIXON = {3: 0.9702, 4: 0.8298, 5: 0.7102, 6: 0.6275, 7: 0.5690, 8: 0.5256, 9: 0.4922, 10: 0.4656}

# p: 5 % for n = 2, 3, 4, 5. NMS chemical and biological metrology, page "Cochran test".
COCHRAN_5 = {
    3: (0.967, 0.871, 0.798, 0.746),
    5: (0.841, 0.684, 0.598, 0.544),
    8: (0.680, 0.516, 0.438, 0.391),
    10: (0.602, 0.445, 0.373, 0.331),
    15: (0.471, 0.335, 0.276, 0.242),
    20: (0.389, 0.270, 0.221, 0.192),
}

# p: 1 % for n = 2 to 6. University of Washington, biostatistics tables (Eisenhart, Hastay and Wallis).
COCHRAN_1 = {
    4: (0.9676, 0.8643, 0.7814, 0.7212, 0.6761),
    8: (0.7945, 0.6152, 0.5209, 0.4627, 0.4226),
    20: (0.4799, 0.3297, 0.2654, 0.2288, 0.2048),
}

# p: h, then k for n = 2 to 5, at 1 %. ISO 5725-2:1994, Table 6, as reproduced on metrology.wordpress.com (last digits
# may be cut rather than rounded).
MANDEL_1 = {
    5: (1.72, 2.05, 1.85, 1.73, 1.65),
    8: (2.06, 2.25, 1.97, 1.81, 1.71),
    10: (2.18, 2.32, 2.00, 1.84, 1.74),
    15: (2.32, 2.41, 2.05, 1.87, 1.76),
}

# The same at 5 %, computed with scipy from the formulas of Wilrich 2013.
MANDEL_5 = {
    5: (1.57, 1.81, 1.62, 1.53, 1.46),
    8: (1.75, 1.88, 1.67, 1.56, 1.50),
    20: (1.89, 1.94, 1.71, 1.59, 1.52),
    30: (1.91, 1.94, 1.72, 1.60, 1.53),
}


@pytest.mark.parametrize(("n", "row"), GRUBBS.items())
def test_grubbs_critical_values(n, row):
    ours = [screening.grubbs_limit(n, alpha, sides) for sides in (1, 2) for alpha in (0.05, 0.01)]
    assert ours == pytest.approx(row, abs=6e-5)


@pytest.mark.parametrize(("n", "row"), GRUBBS_TWO_DECIMALS.items())
def test_grubbs_critical_values_round_to_the_old_table(n, row):
    ours = [screening.grubbs_limit(n, alpha, 1) for alpha in (0.10, 0.05, 0.025, 0.01)]
    assert ours == pytest.approx(row, abs=0.011)


def test_critical_values_that_are_kept_are_those_of_the_tables():
    assert [screening.GRUBBS_PAIR[n - 4] for n in GRUBBS_PAIR] == pytest.approx([*GRUBBS_PAIR.values()], abs=1e-4)
    assert [screening.DIXON[n - 3] for n in DIXON] == pytest.approx([*DIXON.values()], abs=2e-4)


@pytest.mark.parametrize(("p", "row"), COCHRAN_5.items())
def test_cochran_critical_values_at_five_per_cent(p, row):
    assert [screening.cochran_limit(p, n, 0.05) for n in (2, 3, 4, 5)] == pytest.approx(row, abs=6e-4)


@pytest.mark.parametrize(("p", "row"), COCHRAN_1.items())
def test_cochran_critical_values_at_one_per_cent(p, row):
    assert [screening.cochran_limit(p, n, 0.01) for n in (2, 3, 4, 5, 6)] == pytest.approx(row, abs=1.5e-4)


@pytest.mark.parametrize(("p", "row"), MANDEL_1.items())
def test_mandel_indicators_at_one_per_cent(p, row):
    ours = [screening.mandel_h(p, 0.01), *(screening.mandel_k(p, n, 0.01) for n in (2, 3, 4, 5))]
    assert ours == pytest.approx(row, abs=0.012)


@pytest.mark.parametrize(("p", "row"), MANDEL_5.items())
def test_mandel_indicators_at_five_per_cent(p, row):
    ours = [screening.mandel_h(p, 0.05), *(screening.mandel_k(p, n, 0.05) for n in (2, 3, 4, 5))]
    assert ours == pytest.approx(row, abs=0.0051)


def test_uranium_has_the_handbook_statistic_and_outlier():
    # NIST/SEMATECH 1.3.5.17.1: G 2.4687 (cut; 2.46876), upper one-sided 5 % critical value 2.032, outlier 245.57.
    found = grubbs(URANIUM)
    assert found.statistic == pytest.approx(2.46876461, abs=1e-7)
    assert screening.grubbs_limit(8, sides=1) == pytest.approx(2.032, abs=5e-4)
    assert (found.beyond, found.who, found.n) == (True, (7,), 8)


def test_two_sided_grubbs_asks_for_more():
    # The same data: 2.1266 where either end might have been out.
    found = grubbs(URANIUM)
    assert found.critical == pytest.approx(2.1266, abs=1e-4)
    assert (found.sides, found.beyond) == (2, True)


def test_creosote_statistics():
    # ISO 5725-5:1998 data (computed): G and h of laboratory 1 2.1017; C of laboratory 6 0.6358, just below 0.638, and
    # its k 2.3921.
    assert grubbs(CREOSOTE_MEANS).statistic == pytest.approx(2.1017151, abs=1e-6)
    assert not grubbs(CREOSOTE_MEANS).beyond
    scatter = cochran(*flat(CREOSOTE))
    assert scatter.statistic == pytest.approx(0.6357783, abs=1e-6)
    assert scatter.critical == pytest.approx(0.638, abs=6e-4)
    assert (scatter.beyond, scatter.who, scatter.n, scatter.runs) == (False, (5,), 9, 2)
    hk = mandel(*flat(CREOSOTE))
    assert hk.h[0] == pytest.approx(2.1017, abs=1e-4)
    assert hk.k[5] == pytest.approx(2.3921, abs=1e-4)
    assert not (np.abs(hk.h) > hk.h_action).any()
    assert np.flatnonzero(hk.k > hk.k_action).tolist() == [5]


def test_mandel_of_glucose():
    # ASTM E691 glucose, material A: h and k to two decimals (computed from the data in the R package ILS 0.3).
    found = mandel(*flat(GLUCOSE))
    assert found.h == pytest.approx([-0.39, -0.13, -0.11, -0.10, -0.09, 0.83, -1.75, 1.75], abs=0.006)
    assert found.k == pytest.approx([0.21, 0.46, 1.00, 1.70, 0.34, 1.32, 1.17, 0.77], abs=0.006)
    assert not (np.abs(found.h) > found.h_action).any()
    assert not (found.k > found.k_action).any()


def test_dixons_q_is_gap_over_range_at_the_wider_end():
    found = dixon([24.35, 24.40, 24.30, 24.95])
    assert found.statistic == pytest.approx(0.55 / 0.65)
    assert found.who == (3,)
    low = dixon([24.35, 24.40, 24.30, 23.30])
    assert (low.who, low.statistic) == ((3,), pytest.approx(1.00 / 1.10))


def test_two_low_students_hide_from_the_single_test_and_not_from_the_pair():
    titres = [24.30, 24.35, 24.40, 24.30, 24.35, 24.45, 24.35, 24.40, 21.40, 21.50]
    assert not grubbs(titres).beyond
    found = grubbs_pair(titres, side="lower")
    assert found.beyond
    assert sorted(found.who) == [8, 9]
    assert not grubbs_pair(titres, side="upper").beyond


def test_missing_values_keep_their_places():
    assert grubbs([np.nan, *URANIUM]).who == (8,)


@pytest.mark.parametrize("values", [[], [1.0], [1.0, 2.0], [0.1 + 0.2, 0.3, 0.3]])
def test_too_few_or_equal_values_are_not_tested(values):
    assert grubbs(values) is None
    assert dixon(values) is None
    assert grubbs_pair(values) is None


def test_scatter_is_not_compared_where_there_is_none():
    assert cochran([1.0, 2.0, 3.0], ["a", "b", "c"]) is None
    assert cochran([1.0, 1.0, 3.0, 3.0], ["a", "a", "b", "b"]) is None
    assert mandel([1.0, 2.0], ["a", "b"]) is None


def test_mandel_takes_students_of_one_run_without_a_k():
    found = mandel([1.0, 1.2, 2.0, 2.2, 3.0], ["a", "a", "b", "b", "c"])
    assert np.isnan(found.k[2])
    assert np.isnan(found.k_action[2])
    assert found.k_warning[0] == pytest.approx(screening.mandel_k(2, 2, 0.05))


@pytest.mark.slow
@given(st.integers(3, 40), st.sampled_from([0.10, 0.05, 0.01]))
def test_grubbs_critical_values_agree_with_scipy(n, alpha):
    from scipy import stats

    t = stats.t.isf(alpha / (2 * n), n - 2)
    assert screening.grubbs_limit(n, alpha) == pytest.approx(
        (n - 1) / n**0.5 * (t**2 / (n - 2 + t**2)) ** 0.5, rel=1e-9
    )


@pytest.mark.slow
@given(st.integers(2, 40), st.integers(2, 6))
def test_cochran_critical_values_agree_with_scipy(p, n):
    from scipy import stats

    f = stats.f.isf(0.05 / p, n - 1, (n - 1) * (p - 1))
    assert screening.cochran_limit(p, n) == pytest.approx(f / (f + p - 1), rel=1e-9)


@pytest.mark.slow
@pytest.mark.parametrize("n", [4, 6, 24, 30])
def test_critical_values_that_are_kept_hold_in_simulation(n):
    # 400,000 normal samples: the share beyond a 5 % critical value is 5 % within four standard errors (0.14 %), and half of
    # it at one end.
    x = np.sort(np.random.default_rng(2026).normal(size=(400_000, n)), axis=1)
    gap = np.maximum(x[:, 1] - x[:, 0], x[:, -1] - x[:, -2]) / (x[:, -1] - x[:, 0])
    rest = x[:, :-2]
    pair = ((rest - rest.mean(1, keepdims=True)) ** 2).sum(1) / ((x - x.mean(1, keepdims=True)) ** 2).sum(1)
    assert np.mean(pair < screening.GRUBBS_PAIR[n - 4]) == pytest.approx(0.025, abs=0.001)
    beyond = np.mean(gap > screening.DIXON[n - 3])
    # Doubling one end counts both ends' being out twice where Q is below 1/2: a little on the safe side.
    assert 0.040 < beyond < 0.0514
