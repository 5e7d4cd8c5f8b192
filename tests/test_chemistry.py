"""Results from titres: published worked titrations, and the properties every conversion has."""

from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.diagnose.working import own_result
from labmark.figures import significant
from labmark.joins.working_figures import calculation
from labmark.places import practicals_folder
from labmark.practical import practical_from_toml
from labmark.practical.kinds import formula_of
from tests.practicals import practical, titration

NEUTRAL = "HCl + NaOH -> NaCl + H2O"
SULFURIC = "H2SO4 + 2 NaOH -> Na2SO4 + 2 H2O"
# Worked titrations as published: (practical, titre in cm³, printed result). OpenStax: Chemistry 2e, CC BY-NC-SA 4.0.
PUBLISHED = {
    # OpenStax Chemistry 2e, section 4.5, Example 4.14: 50.0 mL HCl, 35.23 mL of 0.250 M NaOH.
    "hydrochloric acid": (titration(NEUTRAL, "NaOH", "0.250", "HCl", "50.0"), "35.23", "0.176"),
    # OpenStax Chemistry 2e, chapter 4, exercise 79: 20.0 mL of sulfuric acid, 1.7 mL of 0.0811 M NaOH.
    "acid rain": (titration(SULFURIC, "NaOH", "0.0811", "H2SO4", "20.0"), "1.7", "0.0034"),
    # OpenStax Chemistry 2e, chapter 4, exercise 81: 0.25 mL of serum, 1.46 mL of 8.25e-4 M mercury(II).
    "chloride in serum": (titration("2 Cl- + Hg2+ -> HgCl2", "Hg2+", "0.000825", "Cl-", "0.25"), "1.46", "0.0096"),
    # OpenStax Chemistry 2e, chapter 19, exercise 11: 2.5000 g of ore, 19.17 mL of 0.0100 M dichromate.
    "iron in an ore": (
        titration(
            "Cr2O7^2- + 6 Fe2+ + 14 H+ -> 2 Cr3+ + 6 Fe3+ + 7 H2O", "Cr2O7^2-", "0.0100", "Fe2+", "100.0",
            quantity="percent by mass", sample="mass = 2.5000\nmade_up_to = 100.0",
        ),
        "19.17",
        "2.57",
    ),
    # University of Wisconsin-Eau Claire, Chem 452, "Try this" answers: 35.6 mL of acid, 26.3 mL of 0.100 M KOH.
    "monoprotic acid": (titration("HCl + KOH -> KCl + H2O", "KOH", "0.100", "HCl", "35.6"), "26.3", "0.074"),
    # From memory: D. Harvey, Analytical Chemistry 2.1, chapter 9: 50.00 mL of drink, 17.62 mL of 0.04166 M NaOH.
    "citric acid in a drink": (
        titration(
            "C6H8O7 + 3 NaOH -> Na3C6H5O7 + 3 H2O", "NaOH", "0.04166", "C6H8O7", "50.00",
            quantity="percent mass by volume",
        ),
        "17.62",
        "0.09402",
    ),
    # From memory: D. Harvey, Analytical Chemistry 2.1, chapter 9: 0.4208 g of aspirin, 21.92 mL of 0.1354 M NaOH.
    # Printed 97.41; unrounded 97.418, so the comparison is made to three figures.
    "salicylic acid": (
        titration(
            "C7H6O3 + NaOH -> NaC7H5O3 + H2O", "NaOH", "0.1354", "C7H6O3", "50.0", quantity="percent by mass",
            sample="mass = 0.4208\nmade_up_to = 50.0",
        ),
        "21.92",
        "97.4",
    ),
    # From memory: D. Harvey, Analytical Chemistry 2.1, chapter 9: EDTA against 0.4071 g CaCO3 in 500 mL
    # (0.008135 mol/L), 50.00 mL taken.
    "EDTA standardised": (
        titration(
            "CaCO3 + C10H14N2Na2O8 -> C10H12CaN2Na2O8 + CO2 + H2O", "CaCO3", "0.008135", "C10H14N2Na2O8", "50.00",
            known_in="flask",
        ),
        "42.63",
        "0.009541",
    ),
    # From memory: D. Harvey, Analytical Chemistry 2.1, chapter 9: 100.0 mL of water, 23.63 mL of 0.0109 M
    # EDTA, as CaCO3.
    "hardness of water": (
        titration(
            "CaCO3 + C10H14N2Na2O8 -> C10H12CaN2Na2O8 + CO2 + H2O", "C10H14N2Na2O8", "0.0109", "CaCO3", "100.0",
            quantity="mass concentration",
        ),
        "23.63",
        "0.258",
    ),
}  # fmt: skip


def figures_of(text):
    return len(Decimal(text).as_tuple().digits)


@pytest.mark.parametrize("name", PUBLISHED)
def test_published_worked_titrations_come_out_as_printed(name):
    worked, titre, printed = PUBLISHED[name]
    result = formula_of(worked).value(titre=Fraction(titre))
    assert significant(result, figures_of(printed)) == Decimal(printed)


# The other way round: the titre that a known result calls for.
CALLED_FOR = {
    # OpenStax Chemistry 2e, chapter 4, exercise 87: 2.5 g NaHCO3 against 0.600 M HCl.
    "sodium hydrogencarbonate": (
        titration(
            "NaHCO3 + HCl -> NaCl + H2O + CO2", "HCl", "0.600", "NaHCO3", "100.0", quantity="mass",
            sample="mass = 2.5\nmade_up_to = 100.0",
        ),
        "2.5",
        "49.6",
    ),
    # OpenStax Chemistry 2e, chapter 4, exercise 89: 15.00 mL of 0.1500 M oxalic acid, 0.3300 M NaOH.
    "oxalic acid": (
        titration("H2C2O4 + 2 NaOH -> Na2C2O4 + 2 H2O", "NaOH", "0.3300", "H2C2O4", "15.00"), "0.1500", "13.64"
    ),
    # OpenStax Chemistry 2e, chapter 4, exercise 93: 40.0 mL of 0.0656 M phosphoric acid to the second
    # proton, 0.150 M KOH.
    "phosphoric acid": (
        titration("H3PO4 + 2 KOH -> K2HPO4 + 2 H2O", "KOH", "0.150", "H3PO4", "40.0"), "0.0656", "34.99"
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CALLED_FOR)
def test_published_titres_are_called_for_by_their_results(name):
    worked, result, printed = CALLED_FOR[name]
    titre = formula_of(worked).curve.titre(Fraction(result))
    assert titre is not None
    assert significant(titre, figures_of(printed)) == Decimal(printed)


def test_sodium_cyanide_within_one_unit_of_the_printed_mass():
    # OpenStax Chemistry 2e, chapter 15, exercise 80 or 81: 28.72 mL of 0.0100 M silver; printed 0.0281 g. The
    # unrounded mass is 0.028150 g, on the edge between two roundings.
    worked = titration(
        "Ag+ + 2 CN- -> Ag(CN)2^-", "Ag+", "0.0100", "CN-", "100.0", quantity="mass", expressed_as="NaCN",
        sample="mass = 1.0\nmade_up_to = 100.0",
    )  # fmt: skip
    assert abs(formula_of(worked).value(titre=Fraction("28.72")) - Fraction("0.0281")) <= Fraction("0.0001")


def test_normality_of_an_old_textbook_within_its_four_place_logarithms():
    # Talbot, Quantitative Chemical Analysis, 6th ed., problem 11: 39.65 cc of 0.5172 N acid, 21.74 cc of
    # alkali; 0.9432 N.
    # The book worked with four-place logarithms: its answers may be one or two units off in the fourth figure.
    worked = titration(NEUTRAL, "HCl", "0.5172", "NaOH", "39.65", known_in="flask")
    result = formula_of(worked).value(titre=Fraction("21.74"))
    assert abs(significant(result, 4) - Decimal("0.9432")) <= Decimal("0.0002")


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


@pytest.mark.parametrize("name", SHIPPED)
@given(titre=titres)
def test_the_working_that_is_printed_and_the_sum_that_slips_are_tried_on_agree(name, titre):
    assert own_result(calculation(SHIPPED[name]), titre) == formula_of(SHIPPED[name]).value(titre=titre)
