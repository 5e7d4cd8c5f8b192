"""Budgets and outlier tests against general libraries, over random inputs."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from labmark.analyse.budget import budget
from labmark.analyse.screening import grubbs
from tests.budgets import Power, lines, product

powers = st.sampled_from([-2, -1, 1, 2, 0.5])
degrees = st.one_of(st.integers(2, 60).map(float), st.just(math.inf))
inputs = st.lists(st.tuples(st.floats(0.1, 100), st.floats(1e-4, 0.05), powers, degrees), min_size=1, max_size=6)


@given(inputs)
def test_budgets_agree_with_gtc_to_the_degrees_of_freedom(sources):
    import GTC

    rows = [Power(str(i), x, x * u, exponent=e, dof=dof) for i, (x, u, e, dof) in enumerate(sources)]
    other = math.prod(GTC.ureal(x, x * u, dof) ** e for x, u, e, dof in sources)
    ours = budget(product(rows), lines(product(rows), rows))
    assert ours.value == pytest.approx(GTC.value(other), rel=1e-12)
    assert ours.standard_uncertainty == pytest.approx(GTC.uncertainty(other), rel=1e-9)
    # GTC calls more than a million degrees of freedom infinite.
    assert min(ours.dof, 1e6) == pytest.approx(min(GTC.dof(other), 1e6), rel=1e-6)


samples = st.tuples(st.integers(3, 40), st.integers(0, 2**32 - 1), st.floats(0, 6))


@pytest.mark.slow
@given(samples)
def test_grubbs_test_agrees_with_scikit_posthocs(sample):
    from scikit_posthocs import outliers_gesd, outliers_grubbs

    size, seed, away = sample
    values = np.random.default_rng(seed).normal(size=size)
    values[0] += away
    ours = grubbs(values)
    assume(ours is not None and abs(ours.statistic - ours.critical) > 1e-9)
    assert ours.beyond == bool(outliers_grubbs(values, hypo=True))
    assert ours.beyond == (len(outliers_grubbs(values)) < size)
    if ours.beyond:
        assert values[ours.who[0]] not in outliers_grubbs(values)
    # Its generalised test, asked for one outlier, is the same test.
    assert ours.beyond == bool(np.any(outliers_gesd(values, outliers=1, hypo=True)))
