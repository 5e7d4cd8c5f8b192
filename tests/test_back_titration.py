"""Back titrations: the working as it is printed, and the properties of every one."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labmark.diagnose.working_calculation import calculation
from labmark.diagnose.working_sums import outcome
from labmark.exact import significant
from labmark.practical.kinds import formula_of
from tests.any_practical import back_titrations
from tests.practicals import ACID, AMMONIA, CHALK, EGGSHELLS, back, practical


def test_the_working_says_what_was_added_what_was_left_and_what_reacted():
    made = formula_of(practical(EGGSHELLS)).working(3, titre=Decimal("22.00"))
    assert [(step.what, step.numbers, step.shown) for step in made] == [
        ("amount of HCl added", "1.000 mol/dm³ × 50.0 cm³ ÷ 1000", "0.050000 mol"),
        ("amount of NaOH in the mean titre", "0.1000 mol/dm³ × 22.00 cm³ ÷ 1000", "0.0022000 mol"),
        ("amount of HCl left in the flask", "0.0022000 mol × 1 ÷ 1", "0.0022000 mol"),
        ("amount of HCl left in all of the mixture", "0.0022000 mol × 250.0 cm³ ÷ 25.0 cm³", "0.022000 mol"),
        ("amount of HCl that reacted", "0.050000 mol − 0.022000 mol", "0.028000 mol"),
        ("amount of CaCO₃ in the sample", "0.028000 mol × 1 ÷ 2", "0.014000 mol"),
        ("mass of CaCO₃", "0.014000 mol × 100.086 g/mol", "1.4012 g"),
        ("per cent by mass of CaCO₃", "1.4012 g ÷ 1.500 g × 100", "93.4 %"),
    ]


def test_a_portion_is_worked_back_through_its_dilution():
    # By hand: 5.00 mmol − 0.0500 × 24.00 × 2 = 2.60 mmol in 25.0 cm³, 0.104 mol/dm³; × 250 ÷ 20 × 17.031 = 22.14.
    made = formula_of(practical(AMMONIA)).working(4, titre=Decimal("24.00"))
    assert [step.shown for step in made][3:] == [
        "0.00260000 mol", "0.00260000 mol", "0.104000 mol/dm³", "1.30000 mol/dm³", "22.14 g/dm³",
    ]  # fmt: skip
    assert made[2].numbers == "0.00120000 mol × 2 ÷ 1"


def test_a_measured_sample_may_be_treated_as_a_whole():
    # By hand: 10.0 cm³ with 50.0 cm³ of 0.500 mol/dm³ acid, made up to 250 cm³; 25.0 cm³ of it take 12.50 cm³ of 0.100:
    # 25.0 − 12.5 = 12.5 mmol in 10.0 cm³.
    made = back(
        ACID, ("NaOH", "0.100"), ("HCl", "0.500", "50.0"), "NH3 + HCl -> NH4Cl", "NH3", aliquot="25.0",
        made_up_to="250.0", sample="volume = 10.0",
    )  # fmt: skip
    assert formula_of(made).value(titre=Fraction("12.50")) == Fraction("1.25")
    assert outcome(calculation(made), ()).at(Fraction("12.50")) == Fraction("1.25")


def test_a_limestone_of_an_old_textbook_within_its_four_place_logarithms():
    # Talbot, Quantitative Chemical Analysis, 6th ed., problem 12: 0.7423 g with 92.44 % CaCO3, 42.42 cc of acid of
    # 0.4398 N (as one that takes one alkali), 11.22 cc of alkali of 0.4409 N.
    made = back(
        ACID, ("NaOH", "0.4409"), ("HCl", "0.4398", "42.42"), CHALK, "CaCO3", sample="mass = 0.7423",
        quantity="percent by mass",
    )  # fmt: skip
    assert abs(formula_of(made).value(titre=Fraction("11.22")) - Fraction("92.44")) <= Fraction("0.03")


def test_both_ratios_may_be_other_than_one():
    # By hand, MnO2 in pyrolusite: 50.00 cm³ of 0.1000 mol/dm³ Fe2+, 5.000 mmol; 12.00 cm³ of 0.0200 mol/dm³ MnO4- find
    # 5 × 0.240 = 1.200 mmol; 3.800 ÷ 2 = 1.900 mmol of 86.94 g/mol, 0.1652 g of 0.2000 g.
    made = back(
        "MnO4- + 5 Fe2+ + 8 H+ -> Mn2+ + 5 Fe3+ + 4 H2O", ("MnO4-", "0.0200"), ("Fe2+", "0.1000", "50.00"),
        "MnO2 + 2 Fe2+ + 4 H+ -> Mn2+ + 2 Fe3+ + 2 H2O", "MnO2", sample="mass = 0.2000", quantity="percent by mass",
    )  # fmt: skip
    assert significant(formula_of(made).value(titre=Fraction(12)), 4) == Decimal("82.59")
    assert formula_of(made).curve.high == 50


# --- every back titration ---

FEW = settings(max_examples=40)
below_blank = st.fractions(Fraction(1, 50), Fraction(49, 50))
"""A titre as a share of the blank titre."""


@pytest.mark.slow
@FEW
@given(back_titrations(), below_blank)
def test_the_sum_that_slips_are_tried_on_is_the_working_that_is_printed(made, share):
    high = formula_of(made).curve.high
    titre = share * high
    assert calculation(made).blank_titre == high
    assert outcome(calculation(made), ()).at(titre) == formula_of(made).value(titre=titre)
