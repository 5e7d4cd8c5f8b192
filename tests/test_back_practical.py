"""Practical files of back titrations: what fits together, and what is said about what does not."""

from decimal import Decimal
from fractions import Fraction

import pytest

from labmark.practical import practical_from_rows
from labmark.practical.kinds import formula_of
from labmark.problems import InputError
from tests.practicals import ACID, AMMONIA, CHALK, EGGSHELLS, practical


def problems(text, *changes):
    with pytest.raises(InputError) as error:
        practical(text, *changes)
    return [str(each) for each in error.value.problems]


@pytest.mark.parametrize(
    ("text", "old", "new", "said"),
    [
        (EGGSHELLS, "CaCl2 + H2O + CO2", "CaCl2 + H2O", "key excess.equation: 'CaCO3 + 2 HCl -> CaCl2 + H2O' does not"),
        (EGGSHELLS, "2 HCl -> CaCl2 + H2O", "H2SO4 -> CaSO4 + H2O", "key excess.solution: found 'HCl', expected a spec"),
        (EGGSHELLS, 'solution = "NaOH"', 'solution = "KOH"', "key burette.solution: found 'KOH', expected a species of"),
        (EGGSHELLS, 'of = "CaCO3"', 'of = "MgCO3"', "key result.of: found 'MgCO3', expected a species of excess.equ"),
        (EGGSHELLS, 'of = "CaCO3"', 'of = "CaC03"', "expected a species of excess.equation (CaCO3, HCl, CaCl2, H2O, CO2); per"),
        (EGGSHELLS, 'of = "CaCO3"', 'of = "CaCl2"', "key result.of: found CaCl2, which the reaction makes; name what"),
        (EGGSHELLS, 'of = "CaCO3"', 'of = "HCl"', "key result.of: it is the reagent in excess itself; name what the"),
        (EGGSHELLS, 'solution = "NaOH"', 'solution = "HCl"', "key burette.solution: it is the reagent in excess itself"),
        (EGGSHELLS, '[flask]\nsolution = "HCl"', '[flask]\nsolution = "CO2"', "found 'CO2', expected HCl or CaCO3; give"),
        (EGGSHELLS, "concentration = 0.1000\n", "", "key burette.concentration: is missing: it is the known one"),
        (EGGSHELLS, "aliquot = 25.0", "aliquot = 25.0\nconcentration = 1", "key flask.concentration: in a back titrati"),
        (EGGSHELLS, "made_up_to = 250.0\n", "", "found 25.0, but all of the mixture is titrated, 50.0 cm³ of HCl in it"),
        (EGGSHELLS, "made_up_to = 250.0", "made_up_to = 25.0", "25.0 cm³ is not more than the 25.0 cm³ pipetted"),
        (EGGSHELLS, "made_up_to = 250.0", "made_up_to = 40.0", "40.0 cm³ is less than the 50.0 cm³ added"),
        (EGGSHELLS, "mass = 1.500", "mass = 1.500\nmade_up_to = 250", "key sample.made_up_to: the sample itself was tr"),
        (EGGSHELLS, "[sample]\nmass = 1.500\n", "", "percent by mass needs the mass weighed; add [sample] with mass"),
        (EGGSHELLS, '"percent by mass"', '"amount concentration"', "amount concentration needs the volume of the sampl"),
        (EGGSHELLS, "mass = 1.500", "mass = 1.500\nvolume = 10", "give the mass of a weighed sample in g, or the volume"),
        (EGGSHELLS, "aliquot = 25.0", "aliquot = 25.0\ndilution = { taken = 10, made_up_to = 100 }", "holds the mixture"),
        (EGGSHELLS, "volume = 50.0\n", "", "key excess.volume: is missing; add it, or [blank] titre, what the reagent"),
        (EGGSHELLS, "made_up_to = 250.0", "makeup_to = 250.0", "excess.makeup_to is not known; the nearest known key is made_"),
        (AMMONIA, "volume = 50.0", "volume = 50.0\nmade_up_to = 250.0", "all of the flask is titrated, as flask.solution"),
        (AMMONIA, "[result]", "[sample]\nmass = 1.5\n[result]", "key sample.mass: mass concentration is of the solution"),
        (AMMONIA, '"mass concentration"', '"percent by mass"', "percent by mass needs the mass weighed; add [sample] wit"),
    ],
)  # fmt: skip
def test_what_does_not_fit_together_is_said_with_its_key(text, old, new, said):
    found = problems(text, (old, new))
    assert any(said in each for each in found), found


def test_every_problem_of_a_back_titration_is_said_at_once():
    found = problems(
        EGGSHELLS, ("concentration = 0.1000\n", ""), ("made_up_to = 250.0\n", ""), ("[sample]\nmass = 1.500\n", "")
    )
    assert len(found) == 3


def test_a_weighed_sample_of_a_direct_titration_needs_its_volume():
    direct = (
        EGGSHELLS[: EGGSHELLS.index("[excess]")] + '[sample]\nmass = 1.5\n[result]\nof = "HCl"\nquantity = "mass"\n'
    )
    assert problems(direct) == [
        "practical.toml: key sample.made_up_to: is missing; add the volume of solution made in cm³; or leave "
        "flask.aliquot out where what was weighed is in the flask"
    ]


def test_a_measured_sample_is_for_back_titrations_alone():
    direct = EGGSHELLS[: EGGSHELLS.index("[excess]")] + '[sample]\nvolume = 10.0\n[result]\nof = "HCl"\n'
    assert "key sample.volume: this is no back titration; give flask.aliquot, or [excess]" in problems(direct)[0]


def test_a_practical_sheet_takes_the_same_keys():
    rows = [
        ("title", "Eggshells"), ("equation", ACID), ("burette.solution", "NaOH"), ("burette.concentration", 0.1),
        ("flask.solution", "HCl"), ("flask.aliquot", 25), ("[excess]", None), ("solution", "HCl"), ("equation", CHALK),
        ("concentration", 1.0), ("volume", 50), ("made up to", 250), ("class", "A"), ("flask_tolerance", 0.2),
        ("[sample]", None), ("mass", 1.5), ("[result]", None), ("of", "CaCO3"), ("quantity", "percent by mass"),
    ]  # fmt: skip
    made = practical_from_rows([(*row, f"B{n}") for n, row in enumerate(rows, start=2)], "class.xlsx")
    assert formula_of(made).curve == formula_of(practical(EGGSHELLS)).curve
    assert made.file.excess is not None
    assert (made.file.excess.glass_class, made.file.excess.flask_tolerance) == ("A", Decimal("0.2"))
    rows[11] = ("made up to", 20)
    with pytest.raises(InputError, match=r"sheet Practical, cell B13: key excess.made_up_to: 20 cm³ is not more than"):
        practical_from_rows([(*row, f"B{n}") for n, row in enumerate(rows, start=2)], "class.xlsx")


def test_the_titrant_may_be_standardised_and_the_reagent_may_not():
    runs = """
[standardisation]
standard = "KHC8H4O4"
equation = "KHC8H4O4 + NaOH -> KNaC8H4O4 + H2O"
masses = [0.5105]
titres = [24.99]
"""
    # 0.5105 ÷ 204.22 = 2.500 mmol in 24.99 cm³
    made = practical(EGGSHELLS.replace("concentration = 0.1000\n", "") + runs)
    assert made.known_concentration == Fraction("0.1000")
    found = problems(EGGSHELLS + runs + 'solution = "HCl"\n')
    assert any("expected the titrant (NaOH); give the reagent's concentration in [excess]" in each for each in found)
