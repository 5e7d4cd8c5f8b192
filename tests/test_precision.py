"""Repeatability and reproducibility by ISO 5725-2 against worked examples."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.analyse.precision import cells, precision, variance_components


def flat(laboratories):
    values = [value for laboratory in laboratories for value in laboratory]
    group = [i for i, laboratory in enumerate(laboratories) for _ in laboratory]
    return values, group


# ISO 5725-2:1994, Annex B.1, sulfur in coal, level 1, unequal numbers (data and printed results from memory).
SULFUR = [
    [0.71, 0.71, 0.70, 0.71],
    [0.69, 0.67, 0.68],
    [0.66, 0.65, 0.69],
    [0.67, 0.65, 0.66],
    [0.70, 0.69, 0.66, 0.71, 0.69],
    [0.73, 0.74, 0.73],
    [0.71, 0.71, 0.69],
    [0.70, 0.65, 0.68],
]

# ASTM E691, glucose in serum, material A (data as in the R package ILS 0.3).
GLUCOSE = [
    [41.03, 41.45, 41.37],
    [41.17, 42.00, 41.15],
    [41.01, 40.68, 42.66],
    [39.37, 42.37, 42.63],
    [41.88, 41.19, 41.32],
    [43.28, 40.50, 42.28],
    [41.08, 41.27, 39.02],
    [43.36, 42.65, 41.72],
]

# Creosote, ISO 5725-5:1998 (cell means and ranges as in the help of the R package metRology).
CREOSOTE_MEANS = [24.140, 20.155, 19.500, 20.300, 20.705, 17.570, 20.100, 20.940, 21.185]
CREOSOTE_RANGES = [0.28, 0.49, 0.40, 0.00, 0.35, 1.98, 0.80, 0.32, 0.95]
CREOSOTE = [[m - r / 2, m + r / 2] for m, r in zip(CREOSOTE_MEANS, CREOSOTE_RANGES, strict=True)]


def test_sulfur_in_coal_has_the_printed_precision():
    # ISO 5725-2:1994, B.1 prints m 0.690, s_r 0.015, s_R 0.026; one digit more computed: 0.6904, 0.0151, 0.0264.
    found = precision(*flat(SULFUR))
    assert found.mean == pytest.approx(0.6904, abs=5e-5)
    assert found.repeatability_sd == pytest.approx(0.0151, abs=5e-5)
    assert found.reproducibility_sd == pytest.approx(0.0264, abs=5e-5)
    assert (found.n, found.p, found.dof) == (27, 8, 19)


def test_glucose_has_the_precision_of_e691():
    # ASTM E691 (printed results from memory): mean 41.5183, s_r = s_R = 1.0632, limits 2.98.
    found = precision(*flat(GLUCOSE))
    assert found.mean == pytest.approx(41.5183, abs=1e-4)
    assert found.repeatability_sd == pytest.approx(1.0632, abs=1e-4)
    assert found.reproducibility_sd == pytest.approx(1.0632, abs=1e-4)
    assert found.between_sd == 0
    assert found.repeatability_limit == pytest.approx(2.98, abs=0.006)
    assert found.reproducibility_limit == pytest.approx(2.98, abs=0.006)
    assert np.std(cells(*flat(GLUCOSE)).mean, ddof=1) == pytest.approx(0.6061, abs=1e-4)


@pytest.mark.parametrize(
    ("left_out", "expected"),
    [
        # ISO 5725-5:1998 data; figures computed from the formulas of ISO 5725-2.
        pytest.param(set(), (20.5105556, 0.5852967, 1.7757977), id="all"),
        pytest.param({0, 5}, (20.4121429, 0.3934735, 0.6369599), id="laboratories 1 and 6 left out"),
    ],
)
def test_creosote(left_out, expected):
    found = precision(*flat([cell for i, cell in enumerate(CREOSOTE) if i not in left_out]))
    assert (found.mean, found.repeatability_sd, found.reproducibility_sd) == pytest.approx(expected, abs=1e-6)


def test_without_a_second_run_there_is_no_repeatability():
    found = precision([0.0974, 0.0980, 0.0990], ["S01", "S02", "S03"])
    assert (found.repeatability_sd, found.repeatability_limit, found.between_sd) == (None, None, None)
    assert found.reproducibility_sd == pytest.approx(np.std([0.0974, 0.0980, 0.0990], ddof=1))
    assert found.dof == 0


def test_one_student_has_no_reproducibility():
    found = precision([0.0974, 0.0980], ["S01", "S01"])
    assert found.repeatability_sd == pytest.approx(0.0006 / 2**0.5)
    assert (found.between_sd, found.reproducibility_sd, found.p) == (None, None, 1)


def test_an_empty_class_gives_nothing_and_does_not_fail():
    found = precision([], [])
    assert (found.mean, found.repeatability_sd, found.n, found.p) == (None, None, 0, 0)


def test_runs_without_value_or_student_are_left_out():
    found = precision([1.0, 2.0, np.nan, 5.0, 1.5], ["a", "a", "a", None, "b"])
    assert (found.n, found.p, found.dof) == (3, 2, 1)


classes = st.lists(st.lists(st.floats(20, 30), min_size=1, max_size=5), min_size=2, max_size=12)


@given(classes)
def test_reproducibility_is_never_below_repeatability(students):
    found = precision(*flat(students))
    if found.repeatability_sd is not None and found.reproducibility_sd is not None:
        assert found.reproducibility_sd >= found.repeatability_sd
        assert found.reproducibility_sd**2 == pytest.approx(found.repeatability_sd**2 + found.between_sd**2)


@given(classes, st.randoms(use_true_random=False))
def test_the_order_of_runs_does_not_matter(students, random):
    values, group = flat(students)
    pairs = list(zip(values, group, strict=True))
    random.shuffle(pairs)
    mixed = precision([value for value, _ in pairs], [student for _, student in pairs])
    straight = precision(values, group)
    assert mixed.reproducibility_sd == pytest.approx(straight.reproducibility_sd, abs=1e-9)
    assert (mixed.n, mixed.p, mixed.mean_runs) == (straight.n, straight.p, pytest.approx(straight.mean_runs))


@given(st.integers(0, 2**32 - 1))
def test_it_agrees_with_the_analysis_of_variance(seed):
    rng = np.random.default_rng(seed)
    group = np.repeat(np.arange(8), rng.integers(1, 5, 8))
    if group.size == 8:
        return
    values = rng.normal(0, 1, 8)[group] + rng.normal(0, 0.5, group.size)
    found = precision(values, group)
    student, run = variance_components(values, {"student": group})
    assert student.sd == pytest.approx(found.between_sd, abs=1e-9)
    assert run.sd == pytest.approx(found.repeatability_sd, abs=1e-9)


@given(st.floats(1e-3, 1e3), st.lists(st.integers(1, 7), min_size=1, max_size=30))
def test_runs_that_are_all_alike_have_no_spread_at_all(value, runs):
    found = precision(*flat([[value] * each for each in runs]))
    assert {found.repeatability_sd, found.between_sd, found.reproducibility_sd} <= {0.0, None}
