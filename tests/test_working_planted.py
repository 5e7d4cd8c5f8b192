"""Slips planted in random practicals are found; right results are never called wrong."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.benchmarks.bench_working import (
    CODES,
    PAIRS,
    RIGHT,
    applies,
    calibration_error,
    found,
    macro_f1,
    means,
    plant,
    results,
)


@given(st.integers(0, 10**9))
def test_a_right_result_is_never_called_wrong(seed: int) -> None:
    one = plant(random.Random(seed), RIGHT)
    if one is not None:
        assert found(one) == frozenset()


@pytest.mark.slow
@given(st.integers(0, 10**9), st.sampled_from([*CODES, *PAIRS]))
def test_a_planted_slip_never_passes_for_right(seed: int, code: str | tuple[str, ...]) -> None:
    one = plant(random.Random(seed), code)
    if one is not None and not one.ambiguous and applies(one):
        assert found(one)


@pytest.mark.slow
def test_planted_slips_are_named() -> None:
    pairs = [(one.truth, found(one)) for one in results(3000, 7)]
    scores = macro_f1(pairs, CODES)
    assert sum(bool(named) for truth, named in pairs if not truth) == 0
    assert scores["macro"] >= 0.95
    assert min(scores.values()) >= 0.85


@pytest.mark.slow
def test_probabilities_are_as_often_right_as_they_say() -> None:
    assert calibration_error(results(2000, 9)) <= 0.05


@pytest.mark.slow
def test_planted_slips_of_the_mean_are_named() -> None:
    scores = macro_f1(means(1500, 8), ("rough-in-mean", "discordant-in-mean", "mean-slip"))
    assert scores["macro"] >= 0.92
