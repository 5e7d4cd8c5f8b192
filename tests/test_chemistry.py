"""Results from titres: the working as it is printed, and the properties every conversion has."""

from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.diagnose.working_calculation import calculation
from labmark.diagnose.working_sums import outcome
from labmark.exact import significant
from labmark.places import practicals_folder
from labmark.practical import practical_from_toml
from labmark.practical.kinds import formula_of
from tests.practicals import practical, titration
from tests.seeds import few_quick


def test_water_of_crystallisation_of_washing_soda():
    # Our own example: 1.43 g in 250 cm³, 25.0 cm³ taken, 10.0 cm³ of 0.100 mol/dm³ acid; by hand 5.00 mmol in all, so
    # M = 286 g/mol and x = (286 − 105.99)/18.015 = 9.99.
    worked = titration(
        "Na2CO3 + 2 HCl -> 2 NaCl + CO2 + H2O", "HCl", "0.100", "Na2CO3", "25.0", quantity="water of crystallisation",
        sample="mass = 1.43\nmade_up_to = 250.0",
    )  # fmt: skip
    assert significant(formula_of(worked).value(titre=Fraction(10)), 3) == Decimal("9.99")


def test_the_working_is_printed_step_by_step_with_the_students_own_titre():
    made = formula_of(practical()).working(3, titre=Decimal("24.35"))
    assert [(step.numbers, step.shown) for step in made] == [
        ("0.0500 mol/dm³ × 24.35 cm³ ÷ 1000", "0.0012175 mol"),
        ("0.0012175 mol × 2 ÷ 1", "0.0024350 mol"),
        ("0.0024350 mol ÷ 25.0 cm³ × 1000", "0.0974 mol/dm³"),
    ]


def test_a_dilution_is_worked_back_only_where_the_original_is_asked_for():
    diluted = "\n[flask.dilution]\ntaken = 25.0\nmade_up_to = 250.0\n[result]"
    original = practical(practical_text := _with("[result]", diluted))
    as_titrated = practical(practical_text.replace('of = "NaOH"', 'of = "NaOH"\nreport_original = false'))
    titre = Fraction(20)
    assert formula_of(original).value(titre=titre) == 10 * formula_of(as_titrated).value(titre=titre)


def _with(old, new):
    from tests.practicals import DRAIN_CLEANER

    return DRAIN_CLEANER.replace(old, new, 1)


SHIPPED = {
    path.stem: practical_from_toml(path.read_text(encoding="utf-8"), path.name)
    for path in sorted(practicals_folder().glob("*.toml"))
}
BOTH = {name: (formula_of(each), calculation(each)) for name, each in SHIPPED.items()}
# A back titration gives a result below its blank titre alone: 50 cm³ in both that ship.
titres = st.integers(100, 4999).map(lambda hundredths: Fraction(hundredths, 100))


@pytest.mark.parametrize("name", SHIPPED)
def test_a_class_is_converted_as_one_titre_is(name):
    formula, some = formula_of(SHIPPED[name]), np.array([20.05, 24.35, np.nan, 0.0])
    results = formula.results({"titre": some})
    assert results[:2] == pytest.approx(
        [float(formula.value(titre=Fraction(Decimal(str(titre))))) for titre in some[:2]]
    )
    assert np.isnan(results[2:]).all()


@pytest.mark.parametrize("name", few_quick(SHIPPED, 9))
@given(titre=titres)
def test_the_working_that_is_printed_and_the_sum_that_slips_are_tried_on_agree(name, titre):
    formula, calc = BOTH[name]
    assert outcome(calc, ()).at(titre) == formula.value(titre=titre)
