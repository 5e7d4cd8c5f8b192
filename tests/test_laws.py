"""The normal law and Student's t, against scipy's."""

import subprocess
import sys
from math import inf, nan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import bdtrc, ndtr, ndtri, stdtr, stdtrit

from labmark.judge.classwide import _chance_of
from labmark.laws import normal_below, t_quantile, two_sided_p

SOME = st.floats(0.5, 1e7)


def test_the_normal_law_is_that_of_scipy_to_its_last_digits_and_in_its_tail() -> None:
    z = np.linspace(-9.9, 12, 10_001)
    assert np.abs(normal_below(z) - ndtr(z)).max() < 1e-15
    assert normal_below(z) == pytest.approx(ndtr(z), rel=1e-10, abs=0)


def test_far_out_there_is_nothing_or_all_of_the_normal_law() -> None:
    assert normal_below(np.array([-400.0, -inf, 400.0, inf])) == pytest.approx([0, 0, 1, 1], abs=1e-20)


@given(st.floats(0.01, 1 - 1e-9), SOME)
def test_a_quantile_of_t_is_that_of_scipy(probability: float, dof: float) -> None:
    assert float(t_quantile(probability, dof)) == pytest.approx(stdtrit(dof, probability), rel=1e-9, abs=1e-9)


@given(st.floats(-100, 100), SOME)
def test_both_tails_of_t_are_those_of_scipy(statistic: float, dof: float) -> None:
    right = 2 * stdtr(dof, -abs(statistic))
    assert float(two_sided_p(statistic, dof)) == pytest.approx(right, rel=1e-9, abs=1e-300)


def test_an_infinite_number_of_degrees_of_freedom_is_the_normal_law() -> None:
    probabilities = [0.025, 0.5, 0.6, 0.975, 0.9999]
    assert [float(t_quantile(each, inf)) for each in probabilities] == pytest.approx(ndtri(probabilities), abs=1e-13)
    assert float(two_sided_p(1.959963984540054, inf)) == pytest.approx(0.05, abs=1e-15)


def test_what_is_not_known_stays_unknown_and_costs_the_others_nothing() -> None:
    assert t_quantile(0.975, [nan, 3]) == pytest.approx([nan, stdtrit(3, 0.975)], nan_ok=True)
    assert two_sided_p([nan, inf, 2], [3, 3, nan]) == pytest.approx([nan, 0, nan], nan_ok=True)


def test_shapes_are_kept() -> None:
    assert t_quantile(0.975, [[1, 2], [3, inf]]).shape == (2, 2)
    assert two_sided_p([[1.0], [2.0]], 5.0).shape == (2, 1)


@pytest.mark.parametrize(("above", "below"), [(0, 0), (0, 5), (1, 0), (7, 2), (20, 3), (2000, 1900), (4000, 3100)])
def test_the_chance_of_so_many_above_is_that_of_a_tossed_coin(above: int, below: int) -> None:
    right = bdtrc(above - 1, above + below, 0.5) if above else 1.0
    assert _chance_of(above, below) == pytest.approx(right, rel=1e-9)


@pytest.mark.slow
def test_check_shows_a_class_without_the_functions_of_scipy() -> None:
    code = (
        "import sys\nfrom labmark.cli import main\n"
        "main(['check', 'sample_data/eggshells.xlsx'], standalone_mode=False)\n"
        "print([name for name in sys.modules if name.startswith('scipy')])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
