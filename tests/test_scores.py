"""z, z′, zeta and E_n against the worked tables of ISO 13528."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import hypot, inf, isnan, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.analyse.budget import Budget
from labmark.assessed import ReferenceValue, Uncertain
from labmark.judge.references import comparison, score, z_prime_of
from tests.practicals import DRAIN_CLEANER, practical

# ISO 13528:2022, Tables E.4, E.6 and E.7, mercury in feed: x_pt 0.044, U 0.0082 (k = 2), sigma_pt 0.0066.
# laboratory, x, U, k, z, z', zeta, E_n
MERCURY = [
    ("L04", 0.013, 0.003, 2, -4.70, -3.99, -7.10, -3.55),
    ("L05", 0.013, 0.007, 2, -4.70, -3.99, -5.75, -2.88),
    ("L23", 0.0135, 0.00108, 1.732, -4.62, -3.93, -7.35, -3.69),
    ("L02", 0.014, 0.004, 2, -4.55, -3.86, -6.58, -3.29),
    ("L15", 0.014, 0.0005, 2, -4.55, -3.86, -7.30, -3.65),
    ("L06", 0.016, 0.003, 2, -4.24, -3.60, -6.41, -3.21),
    ("L09", 0.017, 0.008, 2, -4.09, -3.47, -4.71, -2.36),
    ("L26", 0.019, 0.003, 2, -3.79, -3.22, -5.73, -2.86),
    ("L12", 0.0239, 0.0036, 2, -3.05, -2.59, -4.49, -2.24),
    ("L03", 0.037, 0.013, 2, -1.06, -0.90, -0.91, -0.46),
    ("L29", 0.039, 0.007, 2, -0.76, -0.64, -0.93, -0.46),
    ("L07", 0.04, 0.008, 2, -0.61, -0.51, -0.70, -0.35),
    ("L21", 0.04, 0.03, 2, -0.61, -0.51, -0.26, -0.13),
    ("L25", 0.04, 0.01, 2, -0.61, -0.51, -0.62, -0.31),
    ("L16", 0.0424, 0.008, 2, -0.24, -0.21, -0.28, -0.14),
    ("L08", 0.044, 0.007, 2, 0.00, 0.00, 0.00, 0.00),
    ("L10", 0.045, 0.007, 2, 0.15, 0.13, 0.19, 0.09),
    ("L24", 0.045, 0.005, 2, 0.15, 0.13, 0.21, 0.10),
    ("L18", 0.046, 0.007, 2, 0.30, 0.26, 0.37, 0.19),
    ("L28", 0.049, 0.0072, 2, 0.76, 0.64, 0.92, 0.46),
    ("L01", 0.053, 0.007, 2, 1.36, 1.16, 1.67, 0.83),
]


@pytest.mark.parametrize(("x", "expanded", "k", "z", "z_prime", "zeta", "en"), [row[1:] for row in MERCURY])
def test_scores_of_mercury_in_feed(x, expanded, k, z, z_prime, zeta, en):
    half = 0.00501
    assert score(x - 0.044, 0.0066) == pytest.approx(z, abs=half)
    assert score(x - 0.044, 0.0066, 0.0041) == pytest.approx(z_prime, abs=half)
    assert score(x - 0.044, expanded / k, 0.0041) == pytest.approx(zeta, abs=half)
    assert score(x - 0.044, expanded, 0.0082) == pytest.approx(en, abs=half)


def reference(value, u):
    return ReferenceValue(value, u, "practical", Fraction(Decimal(repr(value))))


@pytest.mark.parametrize(
    ("u", "sigma", "asked"),
    [
        # ISO 13528:2022, E.4: 0.3 sigma = 0.00198 < u = 0.0041; E.6: u 0.0922 against 0.3 × 0.25 = 0.075.
        (0.0041, 0.0066, True),
        (0.0922, 0.25, True),
        (0.0, 0.001, False),
        # Strictly below 0.3 sigma (2022 text).
        (0.3, 1.0, True),
    ],
)
def test_mercury_calls_for_z_prime_and_a_certain_reference_does_not(u, sigma, asked):
    made = practical(f"{DRAIN_CLEANER}[scores]\nsigma = {sigma}\n")
    assert (z_prime_of(0.05, reference(0.044, u), made) is not None) is asked


def compared(x, u, expanded, value, u_reference):
    return comparison(
        x, reference(value, u_reference), Uncertain(Budget(x, u, inf, 2.0, expanded, (), "", ())), practical()
    )


def test_a_difference_inside_the_combined_uncertainty_is_explained():
    found = compared(0.1010, 0.0003, 0.0006, 0.1012, 0.0002)
    assert found["inside"]
    assert found["combined_expanded"] == pytest.approx(hypot(0.0006, 0.0004))


def test_an_en_of_one_is_not_explained():
    # ISO 13528:2022, 9.7.2: |E_n| of 1.0 is an action signal, below it the result is acceptable.
    assert [compared(x, 0.3, 0.6, 10.0, 0.4)["inside"] for x in (10.99, 9.0, 11.0)] == [True, False, False]


def test_without_a_sigma_there_is_no_score():
    assert isnan(score(0.0, 0.0))
    assert isnan(score(nan, 0.001))


@given(st.floats(-10, 10), st.floats(0.001, 1), st.floats(0, 1), st.floats(0, 1))
def test_more_uncertainty_never_makes_a_result_look_worse(difference, sigma, u, more):
    certain = abs(score(difference, sigma))
    doubtful = abs(score(difference, sigma, u))
    more_doubtful = abs(score(difference, sigma, u + more))
    assert certain + 1e-12 >= doubtful >= more_doubtful - 1e-12
