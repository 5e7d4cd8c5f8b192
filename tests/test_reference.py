"""A class that agrees with itself and not with its reference, told apart from habit, scatter and chance."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.analyse.reference import CHECKS, reference_test
from labmark.analyse.robust import algorithm_a
from tests.simulate_class import REFERENCE, TITRE, Recipe, simulate

# 24 results around 0.1012 mol/dm³, a per cent or so apart, one grossly out.
CLASS = REFERENCE * (1 + 0.008 * np.linspace(-1.6, 1.6, 24))
CLASS[7] = 0.0811

# The same without anyone far out, a fifth of a per cent apart.
TIGHT = REFERENCE * (1 + 0.002 * np.linspace(-1.6, 1.6, 24))


def held_against(results, reference=REFERENCE, u=0.0002, titre=TITRE, exponent=1.0):
    return reference_test(results, reference, u, titre, exponent)


def test_a_class_around_its_reference_agrees_with_it():
    found = held_against(CLASS)
    assert found.verdict == "agrees"
    assert found.low_titre < 0 < found.high_titre


def test_a_reference_four_per_cent_low_is_in_doubt():
    found = held_against(1.04 * CLASS)
    assert found.doubtful
    assert found.shift_percent == pytest.approx(4.0, abs=0.2)
    assert found.shift_titre == pytest.approx(0.04 * TITRE, abs=0.05)
    assert (found.direction, found.same_side, found.results) == ("above", 23, 24)


def test_a_reference_four_per_cent_high_is_in_doubt_the_other_way():
    found = held_against(0.96 * CLASS)
    assert found.doubtful
    assert found.direction == "below"
    assert found.shift_titre < -0.8


def test_two_drops_late_is_technique():
    found = held_against(TIGHT + 0.10 * REFERENCE / TITRE, u=0.0)
    assert found.verdict == "technique"
    assert found.shift_titre == pytest.approx(0.10)
    assert found.low_titre > 0


def test_the_same_shift_down_is_no_overshoot():
    # Three times a drop short is no habit; with a tight class it is a question about the solution.
    shift = 0.12 * REFERENCE / TITRE
    assert held_against(TIGHT - shift, u=0.0).verdict == "doubtful"
    assert held_against(TIGHT + shift, u=0.0).verdict == "technique"


def test_where_the_burette_holds_the_unknown_overshooting_lowers_the_result():
    # Result ~ 1/titre: results below the reference are titres above it.
    shift = 0.12 * REFERENCE / TITRE
    low = held_against(TIGHT - shift, u=0.0, exponent=-1.0)
    assert (low.verdict, low.direction) == ("technique", "below")
    assert low.shift_titre > 0
    assert held_against(TIGHT + shift, u=0.0, exponent=-1.0).verdict == "doubtful"


def test_a_class_all_over_the_place_does_not_accuse_its_reference():
    # A third of the class on the reference, and the rest strung out far above.
    scattered = REFERENCE * np.concatenate(
        (np.full(10, 0.999) + 0.001 * np.arange(10) % 0.002, np.linspace(1.02, 1.5, 14))
    )
    found = held_against(scattered)
    assert not found.doubtful


def test_half_the_class_far_above_is_scatter():
    half = REFERENCE * np.concatenate((np.linspace(0.995, 0.9999, 90), np.linspace(1.05, 1.06, 110)))
    found = held_against(half)
    assert found.verdict == "scattered"
    assert found.same_side == 110


def test_a_reference_that_is_itself_uncertain_is_not_in_doubt():
    assert held_against(1.01 * CLASS, u=0.0).shift_percent == pytest.approx(1.0, abs=0.2)
    assert held_against(1.01 * CLASS, u=0.002).verdict == "agrees"


@pytest.mark.parametrize("results", [[], [0.105], [0.105, 0.1051]])
def test_one_or_two_results_do_not_put_a_reference_in_doubt(results):
    assert held_against(results).verdict == "too few"


def test_three_students_who_agree_with_one_another_put_it_in_doubt_before_their_work():
    assert held_against([0.1091, 0.1092, 0.1094]).verdict == "doubtful"
    assert held_against([0.1012, 0.1092, 0.1094]).verdict != "doubtful"
    assert held_against([0.1012, 0.1014, 0.1016]).verdict == "agrees"


def test_missing_results_are_not_counted():
    found = held_against([*CLASS, np.nan, np.nan])
    assert found.results == 24


def test_figures_are_those_of_algorithm_a():
    found = held_against(1.04 * CLASS)
    fit = algorithm_a(1.04 * CLASS)
    assert (found.robust_mean, found.robust_sd) == (fit.mean, fit.sd)
    assert found.shift_uncertainty == pytest.approx(np.hypot(1.25 * fit.sd / 24**0.5, 0.0002))
    assert found.statistic == pytest.approx(found.shift / found.shift_uncertainty)


@given(st.floats(0.9, 1.1), st.floats(1e-3, 1e3))
def test_the_unit_of_the_result_does_not_matter(strength, scale):
    plain = held_against(strength * CLASS)
    scaled = reference_test(scale * strength * CLASS, scale * REFERENCE, scale * 0.0002, TITRE)
    assert scaled.shift_titre == pytest.approx(plain.shift_titre, abs=1e-6)
    assert scaled.high_titre == pytest.approx(plain.high_titre, abs=1e-6)


def test_results_all_alike_and_off_are_in_doubt():
    found = held_against(np.full(10, 0.1053), u=0.0)
    assert found.doubtful
    assert found.statistic == np.inf
    assert held_against(np.full(10, REFERENCE), u=0.0).statistic == 0.0


def test_what_to_check_begins_with_standardising_again():
    assert CHECKS[0] == "standardise the solution again"


def share_doubtful(recipe, classes, seed):
    rng = np.random.default_rng(seed)
    drawn = (simulate(rng, recipe) for _ in range(classes))
    return np.mean([reference_test(one.result, REFERENCE, 0.0004, TITRE).doubtful for one in drawn])


@pytest.mark.slow
def test_few_clean_classes_put_their_reference_in_doubt():
    assert share_doubtful(Recipe(), 200, 1) <= 0.02


@pytest.mark.slow
def test_nearly_all_classes_find_a_reference_four_per_cent_out():
    assert share_doubtful(Recipe(solution=1.04), 100, 2) >= 0.95
    assert share_doubtful(Recipe(solution=0.96), 100, 3) >= 0.95


@pytest.mark.slow
@pytest.mark.parametrize("technique", [0.08, 0.15, 0.22])
@pytest.mark.parametrize("overshoot", [0.0, 0.05, 0.10])
def test_habit_and_scatter_do_not_put_a_reference_in_doubt(technique, overshoot):
    recipe = Recipe(technique=technique, overshoot=overshoot, gross=0.12)
    assert share_doubtful(recipe, 500, 4) <= 0.02


@pytest.mark.slow
@pytest.mark.parametrize("technique", [0.08, 0.15, 0.22])
@pytest.mark.parametrize("solution", [0.96, 1.04])
def test_a_wrong_reference_is_found_whatever_the_scatter(technique, solution):
    recipe = Recipe(technique=technique, solution=solution, gross=0.12)
    assert share_doubtful(recipe, 500, 5) >= 0.95
