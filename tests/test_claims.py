"""Is what the student wrote right, on the student's own figures?"""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.diagnose.working_calculation import calculation
from labmark.diagnose.working_mean_slips import own_mean
from labmark.diagnose.working_means import mean_is_right
from labmark.diagnose.working_right import own_reading
from labmark.exact import figures_right, round_fraction
from labmark.judge.own_result import judged_result
from labmark.practical.kinds import formula_of
from tests.build import run, student
from tests.calculations import Calculation
from tests.practicals import practical

THREE = (
    run("Rough", "0.00 24.90", "24.90"),
    run("1", "0.00 24.35", "24.35"),
    run("2", "0.00 24.40", "24.40"),
    run("3", "0.00 24.85", "24.85"),
)


def ticked(*labels):
    return [each | {"ticked": each["label"] in labels} for each in THREE]


def judged(*runs, mean, at_least=2):
    return own_mean(student(*runs, mean=mean, at_least=at_least), at_least, 100)


@pytest.mark.parametrize(
    ("ticks", "mean", "right", "selected"),
    [
        (("1", "2"), "24.38", True, True),  # 24.375, half up
        (("1", "2"), "24.37", False, True),
        (("1", "2"), "24.375", True, True),
        (("1", "2"), "24.40", True, True),  # to 0.05, half up (or to even)
        (("1", "2"), "24.35", False, True),
        (("1", "2"), "24.4", True, True),  # to the one decimal written
        (("1", "2", "3"), "24.53", True, False),  # a run that does not agree
        (("Rough", "1", "2"), "24.55", True, False),  # the rough
        (("1", "2"), "24.55", True, False),  # ticked rightly, and the rough taken in all the same
        (("1",), "24.35", True, False),  # one run is no mean
    ],
)
def test_a_mean_is_held_against_the_ticked_runs(ticks, mean, right, selected):
    found = judged(*ticked(*ticks), mean=mean)
    assert (found.right, found.selection_right) == (right, selected)


@pytest.mark.parametrize(("mean", "decimals"), [("24.6", 1), ("24.6", None)])
def test_a_mean_to_one_decimal_is_of_the_runs_but_not_right(mean, decimals):
    # (24.60 + 24.55 + 24.55) ÷ 3 = 24.567: 24.55 to 0.05, 24.57 to 0.01.
    runs = [
        run(label, f"0.00 {titre}", titre, tick=True)
        for label, titre in zip("123", ("24.60", "24.55", "24.55"), strict=True)
    ]
    one = student(*runs, mean=mean, mean_decimals=decimals)
    found = own_mean(one, 2, 100)
    assert (found.right, found.coarse, found.selection_right, found.runs) == (False, True, True, (0, 1, 2))


@pytest.mark.parametrize(
    ("mean", "right", "selected"),
    [("24.38", True, True), ("24.53", True, False), ("24.55", True, False), ("25.38", False, True)],
)
def test_without_ticks_the_runs_behind_a_mean_are_found(mean, right, selected):
    found = judged(*THREE, mean=mean)
    assert (found.right, found.selection_right) == (right, selected)


def test_either_of_two_largest_sets_is_right():
    runs = (run("1", "0.00 24.30"), run("2", "0.00 24.40"), run("3", "0.00 24.50"))
    assert judged(*runs, mean="24.45").selection_right
    assert judged(*runs, mean="24.35").selection_right
    assert not judged(*runs, mean="24.40").selection_right


def test_where_none_agree_the_closest_two_are_rightly_chosen():
    runs = (run("1", "0.00 24.00"), run("2", "0.00 24.60"), run("3", "0.00 24.80"))
    assert judged(*runs, mean="24.70").selection_right
    assert not judged(*runs, mean="24.47").selection_right


def test_a_slip_in_a_titre_is_carried_forward_into_the_mean():
    runs = (run("1", "0.00 24.35", "24.35"), run("2", "0.40 24.80", "24.30"), run("3", "0.00 25.00", "25.00"))
    found = judged(*runs, mean="24.33")
    assert found.right
    assert found.selection_right


def test_a_mean_with_a_ticked_run_that_cannot_be_read_is_not_held_against_the_student():
    runs = (run("1", "0.00 24.35", tick=True), run("2", "0.00 -", tick=True, odd={"final": "24..40"}))
    found = judged(*runs, mean="24.38")
    assert found.right
    assert found.uncheckable


def test_a_mean_that_may_take_in_a_run_that_cannot_be_read_is_not_held_against_the_student():
    runs = (run("1", "0.00 24.35"), run("2", "0.00 -", odd={"final": "24.o"}), run("3", "0.00 24.85"))
    assert judged(*runs, mean="24.40").uncheckable
    assert not judged(*runs, mean="29.40").uncheckable


def test_a_mean_of_all_the_runs_that_agree_is_right_where_only_some_of_them_are_ticked():
    runs = (*ticked("1", "2")[:3], run("3", "0.00 24.35", "24.35", tick=False))
    found = judged(*runs, mean="24.37")
    assert (found.right, found.selection_right) == (True, True)


@pytest.mark.parametrize("mean", ["24.380", "24.400", "24.38", "24.40", "24.3833"])
def test_zeros_at_the_end_of_a_mean_cost_nothing(mean):
    # (24.35 + 24.40 + 24.40) ÷ 3 = 24.383: 24.38 to 0.01, 24.40 to 0.05.
    runs = [
        run(label, f"0.00 {titre}", tick=True) for label, titre in zip("123", ("24.35", "24.40", "24.40"), strict=True)
    ]
    assert judged(*runs, mean=mean).right


def test_a_run_ticked_in_excess_with_the_mean_of_the_right_ones_is_one_slip():
    found = judged(*ticked("1", "2", "3"), mean="24.38")
    assert (found.right, found.selection_right) == (False, True)


def test_nothing_to_judge_without_a_mean_or_a_tick():
    assert judged(*THREE, mean=None) is None


def result_of(written, *, mean="24.35", decimals=...):
    one = student(run("1", "0.00 24.35"), run("2", "0.00 24.35"), mean=mean, result=written)
    if decimals is not ...:
        import dataclasses

        one = dataclasses.replace(one, own_result_decimals=decimals)
    return judged_result(one, own_mean(one, 2, 100), calculation(practical()))


@pytest.mark.parametrize(
    ("written", "right", "figures"),
    [
        ("0.0974", True, True),
        ("0.09740", True, False),
        ("0.097", True, False),
        ("0.1", True, False),
        ("0.0980", False, True),
        ("0.0487", False, True),
        ("97.4", False, True),
        # n = 0.00122 mol to three figures, × 2, ÷ 25.0 cm³: rounding on the way to as many figures as were asked for.
        ("0.0976", True, True),
    ],
)
def test_a_result_is_held_against_the_own_mean(written, right, figures):
    found = result_of(written)
    assert (found.right, found.figures_right) == (right, figures)


def test_a_result_follows_from_the_own_mean_even_where_that_is_wrong():
    # 25.35 is a slip of one whole cm³; 0.004 × 25.35 = 0.1014.
    assert result_of("0.101", mean="25.35").right


@pytest.mark.parametrize("tick", [True, None])
def test_a_result_that_may_rest_on_a_run_that_cannot_be_read_is_not_held_against_the_student(tick):
    # With 24.43 in the run that is missing the mean is 24.393, and 0.004 × 24.393 = 0.09757; 0.0990 would need 25.50.
    runs = (run("1", "0.00 24.35", tick=tick), run("2", "0.00 24.40", tick=tick), run("3", "0.00 -", tick=tick))
    found = right_of("0.09757", mean=None, runs=runs, figures=4)
    assert (found.right, found.uncheckable) == (True, True)
    assert not right_of("0.09900", mean=None, runs=runs, figures=4).right


FAIR_RUNS = tuple(run(label, f"0.00 {titre}") for label, titre in zip("123", ("24.35", "24.40", "24.40"), strict=True))
# Their mean is 24.3833 cm³: 0.09753 mol/dm³.


def right_of(written, *, mean, runs=FAIR_RUNS, figures=3):
    calc = replace(calculation(practical()), significant_figures=figures)
    one = student(*runs, mean=mean, result=written)
    return judged_result(one, own_mean(one, 2, 100), calc, 100)


@pytest.mark.parametrize(
    ("written", "mean"),
    [
        ("0.09753", "24.38"),  # from the mean unrounded
        ("0.09752", "24.38"),  # from 24.38
        ("0.09760", "24.38"),  # from 24.40, the mean to the nearest 0.05
        ("0.09752", None),  # no mean is written, and it was rounded to 0.01
        ("0.09753", "42.38"),  # the mean is mistyped, and the right one was used
        ("0.1695", "42.38"),  # the mean is mistyped, and was used
    ],
)
def test_a_result_may_rest_on_any_mean_that_is_right_or_written(written, mean):
    assert right_of(written, mean=mean, figures=4).right


def test_what_follows_is_reckoned_from_the_mean_that_was_used():
    assert float(right_of("0.0975", mean="42.38").expected) == pytest.approx(0.0975, abs=5e-5)


def test_a_result_may_be_the_mean_of_the_results_of_the_runs():
    # 0.004 × 24.35 = 0.0974 and twice 0.0976: their mean is 0.09753; to three figures, averaged to four.
    assert right_of("0.09753", mean=None, figures=3).right


def test_a_titre_in_dm3_may_be_rounded_to_the_figures_asked_for():
    # 24.38 cm³ is 0.0244 dm³; 0.0500 × 0.0244 × 2 ÷ 0.0250 = 0.0976.
    assert right_of("0.0976", mean="24.38").right


def test_a_result_from_the_rough_alone_is_right_where_nothing_else_was_done():
    assert right_of("0.0996", mean=None, runs=(run("Rough", "0.00 24.90"),)).right


def test_the_mean_of_a_rough_is_its_titre_where_nothing_else_was_done():
    found = judged(run("Rough", "0.00 24.90"), mean="24.90")
    assert (found.right, found.selection_right) == (True, True)


def test_a_spare_zero_in_a_result_costs_its_figures_and_not_the_calculation():
    # 0.09753 is 0.0975 to three figures.
    found = right_of("0.09750", mean="24.38")
    assert (found.right, found.figures_right) == (True, False)


def test_a_cell_that_shows_fewer_decimals_than_its_number_has_costs_nothing():
    one = student(*FAIR_RUNS, mean="24.38", result="0.0975", result_decimals=2)
    found = judged_result(one, own_mean(one, 2, 100), calculation(practical()))
    assert (found.right, found.figures_right, found.coarse) == (True, True, False)


def test_zeros_that_a_number_cell_cannot_show_are_not_held_against_anyone():
    # 25.00 cm³ give 0.100; a number cell without a format shows 0.1.
    found = result_of("0.1", mean="25.00", decimals=None)
    assert found.right
    assert found.figures_right


@pytest.mark.parametrize(
    ("written", "decimals", "figures", "coarse"),
    [
        ("0.100", 3, True, False),  # 0.004 × 24.99 = 0.09996, to three figures 0.100
        ("0.1000", 4, False, False),
        ("0.09996", 5, False, False),
        ("0.10", 2, False, True),
        ("0.1", None, True, False),
    ],
)
def test_a_result_that_rounds_up_into_the_next_power_of_ten_has_the_figures_it_shows(
    written, decimals, figures, coarse
):
    found = result_of(written, mean="24.99", decimals=decimals)
    assert (found.right, found.figures_right, found.coarse) == (True, figures, coarse)


def test_a_power_of_ten_that_is_no_rounding_to_the_figures_asked_is_too_coarse():
    # 0.004 × 24.88 = 0.09952, and three figures are asked for.
    assert own_reading(calculation(practical()), Fraction("24.88"), Decimal("0.100"), 3).short


def test_a_result_may_be_worked_from_a_mean_to_a_twentieth_and_rounded_amounts():
    # 24.88 to the nearest 0.05 is 24.90; 0.0500 × 24.90 = 1.245 mmol, as 1.25 it gives 0.100 mol/dm³.
    found = result_of("0.100", mean="24.88")
    assert (found.right, found.figures_right, found.coarse) == (True, True, False)


def test_a_rounding_on_the_way_and_a_lost_zero_together_cost_nothing():
    # 0.0500 × 24.92 = 1.246 mmol, as 1.25 it gives 0.100 mol/dm³ (exactly 0.09968).
    found = result_of("0.1", mean="24.92", decimals=None)
    assert (found.right, found.figures_right, found.coarse) == (True, True, False)


@pytest.mark.parametrize(
    ("written", "right", "figures"),
    [
        ("107", True, True),
        ("106.6", True, False),
        ("110", True, False),  # to two figures only
        ("100", False, True),  # nothing is shown by one figure; as three figures it is wrong
        ("120", False, True),
        ("105", False, True),
    ],
)
def test_zeros_of_a_whole_number_may_hold_the_place_of_one_figure_and_no_more(written, right, figures):
    # 1.066 g in 250 cm³ against 25.0 cm³ of 0.0400 mol/dm³, 1 : 1: 106.6 g/mol at a titre of 25.00 cm³.
    mass = Fraction("1.066")
    calc = Calculation(
        "molar mass", Fraction("0.0400"), Fraction(25), sample_mass=mass, sample_made_up_to=Fraction(250)
    )
    one = student(run("1", "0.00 25.00"), run("2", "0.00 25.00"), mean="25.00", result=written)
    found = judged_result(one, own_mean(one, 2, 100), calc)
    assert (found.right, found.figures_right, found.coarse) == (right, figures, written == "110")


@pytest.mark.parametrize(("written", "figures"), [("10", True), ("10.0", True), ("10.00", False)])
def test_the_water_of_crystallisation_may_be_written_as_a_whole_number(written, figures):
    # 0.715 g of Na2CO3.10H2O (286.14 g/mol) in 250 cm³, 25.0 cm³ against 0.0200 mol/dm³ acid, 1 : 2: 24.99 cm³.
    calc = Calculation(
        "water of crystallisation",
        Fraction("0.0200"),
        Fraction(25),
        coefficient_known=2,
        molar_mass=Fraction("105.988"),
        sample_mass=Fraction("0.715"),
        sample_made_up_to=Fraction(250),
    )
    one = student(run("1", "0.00 24.99"), run("2", "0.00 24.99"), mean="24.99", result=written)
    found = judged_result(one, own_mean(one, 2, 100), calc)
    assert (found.right, found.figures_right, found.coarse) == (True, figures, False)


@pytest.mark.parametrize(
    ("written", "decimals", "figures", "right"),
    [
        ("0.100", 3, 3, True),
        ("0.1", None, 3, True),
        ("0.1", 1, 3, False),
        ("0.09742", None, 3, False),
        ("250", 0, 3, True),
        ("250", 0, 2, True),
    ],
)
def test_significant_figures_are_counted_as_far_as_they_can_be_known(written, decimals, figures, right):
    assert figures_right(Decimal(written), decimals, figures) is right


@given(st.lists(st.integers(400, 600), min_size=1, max_size=6), st.integers(2, 4), st.booleans())
def test_a_mean_rightly_rounded_is_never_called_wrong(steps, decimals, half_even):
    true = Fraction(sum(steps), 20 * len(steps))
    assert mean_is_right(round_fraction(true, decimals, half_even=half_even), true)


@pytest.mark.slow
@given(st.integers(10000, 40000).map(lambda value: Decimal(value).scaleb(-3)), st.integers(3, 6), st.booleans())
def test_a_result_rightly_rounded_is_never_called_wrong(mean, figures, half_even):
    true = formula_of(practical()).value(titre=Fraction(mean))
    decimals = figures + (1 if true < Fraction(1, 10) else 0)
    written = round_fraction(true, decimals, half_even=half_even)
    assert result_of(str(written), mean=str(mean)).right
