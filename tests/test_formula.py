"""One description of a titration, and what follows from it: value, arrays, working, inverse, slopes."""

import re
from decimal import Decimal
from fractions import Fraction
from math import sqrt

import GTC
import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from uncertainties import ufloat

from labmark.exact import significant
from labmark.formula import Formula, Input, Step
from labmark.practical.kinds import formula_of
from labmark.practical.quantities import QUANTITIES, Quantity
from labmark.practicals import named
from tests.any_practical import KINDS, OF_ONE_SUBSTANCE, back_titrations, direct_titrations, titrations
from tests.classes import titres, tree_of
from tests.practicals import DRAIN_CLEANER, EGGSHELLS, practical
from tests.seeds import few_quick

UNITS = re.compile(r" (?:mol/dm³|mg/dm³|g/dm³|dm³/mol|g/mol|mg/g|cm³|dm³|mol³/dm⁹|mol|mg|g|%)(?=[ )]|$)")
RAISED = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")


def calculated(text):
    """Return what a calculator makes of a sum as it is printed."""
    text = re.sub(" × 10([⁻⁰¹²³⁴-⁹]+)", lambda power: "e" + power[1].translate(RAISED), UNITS.sub("", text))
    text = re.sub(r"\d[\d\u202f\u2009\u00a0]*(?:\.\d+)?(?:e-?\d+)?", lambda number: f"Fraction('{number[0]}')", text)
    text = re.sub("[²³]", lambda power: "**" + power[0].translate(RAISED), text)
    return eval(text.replace("×", "*").replace("÷", "/").replace("−", "-"), {"Fraction": Fraction})


def last_place(shown):
    """Return what one in the last figure of a printed value is worth."""
    figures, _, power = UNITS.sub("", shown).partition(" × 10")
    return Fraction(10) ** (int(power.translate(RAISED) or 0) - len(figures.partition(".")[2]))


@pytest.mark.parametrize("name", ["eggshells", "vinegar", "household-ammonia", "lime-water", "bleach", "citric-acid"])
def test_a_calculator_makes_of_each_step_as_printed_what_is_printed_for_it(name):
    for figures, off in ((3, 1), (4, 3)):  # in the last figure: values on the way are printed with two more than asked
        for step in formula_of(named(name)).working(figures, titre=Decimal("21.35")):
            assert abs(calculated(step.numbers) - calculated(step.shown)) < off * last_place(step.shown), step


shares = st.fractions(Fraction(1, 50), Fraction(49, 50), max_denominator=10**6)
"""A titre as a share of the largest that gives a result, or of 50 cm³."""


def titre_of(formula, share):
    return share * (formula.curve.high or 50)


# --- value, arrays, working ---


def test_a_titre_is_worked_out_step_by_step():
    # By hand: 0.0500 × 24.35 ÷ 1000 = 1.2175e-3; × 2 = 2.435e-3; ÷ 25.0 × 1000 = 0.0974.
    formula = formula_of(practical())
    assert formula.value(titre=Fraction("24.35")) == Fraction("0.0974")
    assert [
        (step.what, step.formula, step.numbers, step.shown) for step in formula.working(3, titre=Decimal("24.35"))
    ] == [
        ("amount of H₂SO₄ in the mean titre", "n = c × V ÷ 1000", "0.0500 mol/dm³ × 24.35 cm³ ÷ 1000", "0.0012175 mol"),
        ("amount of NaOH in the flask", "NaOH : H₂SO₄ = 2 : 1", "0.0012175 mol × 2 ÷ 1", "0.0024350 mol"),
        ("concentration of NaOH in the flask", "c = n ÷ V × 1000", "0.0024350 mol ÷ 25.0 cm³ × 1000", "0.0974 mol/dm³"),
    ]


def test_brackets_stand_where_a_difference_is_divided_and_units_give_way_to_them():
    inputs = (
        Input("M", "mass", Fraction(286)),
        Input("salt", "molar mass", Fraction(106)),
        Input("18", "number", Fraction(18)),
    )
    formula = Formula(inputs, (Step("x", "water", "", "M − salt ÷ 18", ""),))
    assert formula.working(3)[0].numbers == "(286 − 106) ÷ 18"
    assert formula.value() == 10


@pytest.mark.slow
@given(titrations(), shares, st.integers(2, 40))
def test_any_input_may_differ_from_student_to_student(made, share, parts):
    formula = formula_of(made)
    titre = titre_of(formula, share)
    (name,) = [each.name for each in formula.inputs if each.name in ("flask.aliquot", "sample.mass", "excess.volume")][
        :1
    ]
    own = (formula.of[name].value or 0) * Fraction(40 + parts, 40)
    theirs = formula.given([Input(name, "pipette", own, "cm3")])
    assume(theirs.curve.gives(titre))
    found = formula.results({"titre": np.array([float(titre)] * 2), name: np.array([float(own), np.nan])})
    assert found[0] == pytest.approx(float(theirs.value(titre=titre)), rel=1e-9)
    assert np.isnan(found[1])


def test_a_number_of_the_students_own_stands_in_the_working_as_written():
    own = Input("sample.mass", "mass", Fraction("1.5"), "g", "1.500 0", owner="student", source="Results!C4")
    formula = formula_of(practical(EGGSHELLS)).given([own, Input("nothing.here", "mass", Fraction(1))])
    assert formula.working(3, titre=Decimal("22.00"))[-1].numbers == "1.4012 g ÷ 1.500 0 g × 100"
    assert formula.of["sample.mass"].source == "Results!C4"
    assert "nothing.here" not in formula.of


@pytest.mark.parametrize("titre", [0.0, -1.0, 50.0, 51.0, np.nan])
def test_no_result_follows_where_nothing_was_titrated_or_nothing_is_left(titre):
    formula = formula_of(practical(EGGSHELLS))
    assert formula.curve.high == 50
    assert np.isnan(formula.results({"titre": np.array([titre])})).all()
    assert np.isnan(titre) or not formula.curve.gives(Fraction(titre))


# --- the other way round ---


@pytest.mark.slow
@given(titrations(), shares)
def test_the_titre_of_a_result_is_the_one_it_came_from(made, share):
    formula = formula_of(made)
    titre = titre_of(formula, share)
    result = formula.value(titre=titre)
    assert formula.curve.result(titre) == result
    assert formula.curve.titre(result) == titre


def solubility_product():
    """Calcium hydroxide against 0.0500 mol/dm³ HCl, 25.0 cm³: c(OH⁻) of the titre, Ksp = c/2 × c²."""
    inputs = (
        Input("titre", "titre", None, "cm3"),
        Input("acid", "concentration", Fraction("0.0500"), "mol/dm3", "0.0500"),
        Input("aliquot", "pipette", Fraction(25), "cm3"),
        Input("2", "number", Fraction(2)),
    )
    steps = (
        Step("c", "concentration of OH⁻", "", "acid × titre ÷ aliquot", "mol/dm3"),
        Step("K", "solubility product", "", "c × c × c ÷ 2", "mol3/dm9"),
    )
    return Formula(inputs, steps)


def test_a_power_is_turned_round_to_nine_figures():
    # By hand: 0.0500 × 20.00 ÷ 25.0 = 0.0400; 0.0400³ ÷ 2 = 3.2e-5.
    formula = solubility_product()
    assert formula.value(titre=Fraction(20)) == Fraction("0.000032")
    assert formula.curve.titre(Fraction("0.000032")) == 20
    assert float(formula.curve.titre(Fraction("0.000030"))) == pytest.approx(
        25 * (2 * 3e-5) ** (1 / 3) / 0.05, rel=1e-9
    )
    assert formula.working(2, titre=Decimal("20.00"))[1].numbers == "(0.04000 mol/dm³)³ ÷ 2"
    assert formula.slopes({"titre": 20.0})["titre"] == pytest.approx(3 * 3.2e-5 / 20)


def test_a_blank_is_taken_off_and_a_titre_that_is_not_above_it_gives_nothing():
    inputs = (
        Input("titre", "titre", None, "cm3"),
        Input("blank", "titre", Fraction("0.15"), "cm3"),
        Input("c", "concentration", Fraction(2)),
    )
    formula = Formula(
        inputs,
        (Step("net", "titre less the blank", "", "titre − blank", "cm3"), Step("n", "amount", "", "net × c", "mol")),
    )
    assert formula.curve.low == Fraction("0.15")
    assert formula.curve.titre(Fraction(20)) == Fraction("10.15")
    assert not formula.curve.gives(Fraction("0.15"))


def test_a_titre_that_is_taken_for_both_volumes_cancels():
    inputs = (Input("titre", "titre", None, "cm3"), Input("c", "concentration", Fraction(2)))
    formula = Formula(
        inputs, (Step("n", "amount", "", "c × titre", "mol"), Step("d", "wrong", "", "n ÷ titre", "mol/dm3"))
    )
    assert formula.curve.result(Fraction(7)) == 2
    assert formula.curve.titre(Fraction(3)) is None


# --- slopes and uncertainty ---


@pytest.mark.slow
@given(titrations(), shares)
def test_slopes_are_the_derivatives(made, share):
    formula, step = formula_of(made), Fraction(1, 10**7)
    titre = titre_of(formula, share)
    slopes = formula.slopes({"titre": float(titre)})
    values = {each.name: each.value for each in formula.inputs} | {"titre": titre}
    last = formula.steps[-1].name
    for each in formula.inputs:
        wide = values[each.name] * step
        up, down = (formula.values(values | {each.name: values[each.name] + way * wide})[last] for way in (1, -1))
        assert slopes[each.name] == pytest.approx(float((up - down) / (2 * wide)), rel=1e-9)


@pytest.mark.parametrize(
    ("kind", "quantity"),
    few_quick(
        (
            (kind, quantity)
            for kind in KINDS
            for quantity in QUANTITIES
            if quantity not in OF_ONE_SUBSTANCE or kind == "known in the burette"
        ),
        5,
    ),
)
@settings(max_examples=4)
@given(data=st.data(), share=shares)
def test_uncertainties_are_propagated_as_two_other_libraries_do(kind, quantity, data, share):
    known_in = kind.removeprefix("known in the ")
    strategy = back_titrations(kind, quantity) if known_in == kind else direct_titrations(known_in, quantity)
    formula = formula_of(data.draw(strategy))
    titre, last = float(titre_of(formula, share)), formula.steps[-1].name
    numbers = {each.name: float(each.value) for each in formula.inputs if each.value is not None} | {"titre": titre}
    spread = {name: abs(value) * 0.001 * place for place, (name, value) in enumerate(numbers.items(), start=1)}
    ours = sqrt(sum((slope * spread[name]) ** 2 for name, slope in formula.slopes({"titre": titre}).items()))
    theirs = formula.values({name: ufloat(value, spread[name]) for name, value in numbers.items()})[last]
    others = formula.values({name: GTC.ureal(value, spread[name]) for name, value in numbers.items()})[last]
    assert ours == pytest.approx(theirs.std_dev, rel=1e-9)
    assert ours == pytest.approx(GTC.uncertainty(others), rel=1e-9)


def test_a_difference_of_nothing_still_has_an_uncertainty():
    # Hydroxide beside carbonate, 2 × first − second endpoint: nothing left where they are alike, and still ± √5 drops.
    inputs = (*(Input(name, "titre", None, "cm3") for name in ("first", "second")), Input("2", "number", Fraction(2)))
    formula = Formula(inputs, (Step("double", "", "", "first × 2", "cm3"), Step("left", "", "", "double − second", "")))
    assert formula.value(first=Fraction(10), second=Fraction(20)) == 0
    assert formula.slopes({"first": 10.0, "second": 20.0}) == {"first": 2.0, "second": -1.0, "2": 10.0}


def test_a_new_quantity_is_a_row_and_nobody_who_did_it_right_is_accused(monkeypatch):
    # Milligrams in a dm³, by hand: 0.0974 mol/dm³ × 39.997 g/mol × 1000 = 3896 mg/dm³.
    steps = (*QUANTITIES["mass concentration"].steps, Step("mg", "the same in mg", "× 1000", "mass × 1000", "mg/dm3"))
    monkeypatch.setitem(QUANTITIES, "milligrams in a dm3", Quantity("solution", "mg/dm3", steps))
    text = DRAIN_CLEANER.replace('of = "NaOH"', 'of = "NaOH"\nquantity = "milligrams in a dm3"').replace(
        "0.0974", "3896"
    )
    text = text.replace("0.0004", "16")
    assert significant(formula_of(practical(text)).value(titre=Fraction("24.35")), 4) == 3896
    own = {"mean": Decimal("24.35"), "mean_decimals": 2, "result_decimals": 0}
    students = [titres("24.35", "24.35", result=Decimal(written), **own) for written in ("3900", "3896", "1950")]
    codes = [[each["finding"] for each in one["findings"]] for one in tree_of(students, text=text)["students"]]
    assert codes == [[], [], ["ratio-ignored"]]
