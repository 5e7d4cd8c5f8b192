"""Substances on the bottle that stand for a species of the equation which they bring."""

from decimal import Decimal
from fractions import Fraction

import pytest

from labmark.practical.kinds import formula_of
from labmark.problems import InputError
from tests.practicals import practical

ORE = """
title = "Iron in an ore"
equation = "Cr2O7^2- + 6 Fe^2+ + 14 H^+ -> 2 Cr^3+ + 6 Fe^3+ + 7 H2O"
[burette]
solution = "K2Cr2O7"
concentration = 0.01667
[flask]
solution = "Fe^2+"
[sample]
mass = 0.3200
[result]
of = "Fe^2+"
expressed_as = "1/2 Fe2O3"
quantity = "percent by mass"
"""


def value(text, titre, *changes):
    return float(formula_of(practical(text, *changes)).value(titre=Fraction(titre)))


def test_the_titrant_may_be_the_salt_that_brings_its_ion():
    # By hand: 25.00 cm³ x 0.01667 mol/dm³ x 6 = 2.5005 mmol of iron, 1.25025 mmol of Fe2O3 at 159.687 g/mol: 0.199649 g.
    assert value(ORE, "25.00") == pytest.approx(62.390, abs=0.001)
    assert value(ORE, "25.00") == value(ORE, "25.00", ("K2Cr2O7", "Cr2O7^2-"))


def test_the_ion_may_be_asked_for_of_the_salt_on_the_bottle():
    salt = ('[flask]\nsolution = "Fe^2+"', '[flask]\nsolution = "FeSO4"')
    assert value(ORE, "25.00", salt) == value(ORE, "25.00")
    with pytest.raises(InputError, match=r"found Fe3\+, expected what is titrated \(K2Cr2O7 or FeSO4\)"):
        practical(ORE, salt, ('of = "Fe^2+"', 'of = "Fe^3+"'))


def test_what_it_is_expressed_as_is_named_without_its_number():
    steps = formula_of(practical(ORE)).working(3, titre=Decimal("25.00"))
    assert [step.what for step in steps[:2]] == [
        "amount of K₂Cr₂O₇ in the mean titre",
        "amount of Fe²⁺ in the flask",
    ]
    assert steps[-1].what == "per cent by mass of Fe₂O₃"


def test_the_salt_may_stand_at_the_end_of_a_chain():
    pool = """
title = "Chlorine in pool water"
equation = [ "HOCl + 2 I^- + H^+ -> I2 + Cl^- + H2O", "I2 + 2 S2O3^2- -> 2 I^- + S4O6^2-" ]
burette = { solution = "Na2S2O3", concentration = 0.00200 }
flask = { solution = "HOCl", aliquot = 500.0 }
result = { of = "HOCl", expressed_as = "1 Cl2", quantity = "mass concentration", unit = "mg/L" }
"""
    # By hand: 14.46 cm³ x 0.00200 mol/dm³ / 2 = 14.46 µmol, 70.90 g/mol, in 0.5 dm³: 2.0504 mg/dm³.
    assert value(pool, "14.46") == pytest.approx(2.0504, abs=0.0001)


def test_an_acid_that_brings_two_counts_twice_and_in_whole_numbers():
    text = """
title = "Lime water"
equation = "OH^- + H^+ -> H2O"
burette = { solution = "H2SO4", concentration = 0.0200 }
flask = { solution = "OH^-", aliquot = 25.0 }
result = { of = "OH^-" }
"""
    # By hand: 20.00 cm³ x 0.0200 mol/dm³ x 2 / 25.0 cm³.
    assert value(text, "20.00") == pytest.approx(0.0320)
    step = formula_of(practical(text)).working(3, titre=Decimal("20.00"))[1]
    assert step.formula == "OH⁻ : H₂SO₄ = 2 : 1"
    said = ("H2SO4", 'H3PO4", gives = "2 H^+')
    assert value(text, "20.00", said) == pytest.approx(0.0320)


def test_a_standard_that_was_weighed_has_the_mass_of_its_salt():
    text = """
title = "Standardising permanganate"
equation = "2 MnO4^- + 5 C2O4^2- + 16 H^+ -> 2 Mn^2+ + 10 CO2 + 8 H2O"
burette = { solution = "KMnO4" }
flask = { solution = "Na2C2O4" }
sample = { mass = 0.1675 }
result = { of = "KMnO4" }
"""
    # By hand: 0.1675 g / 134.00 g/mol x 2 / 5 in 25.00 cm³.
    assert value(text, "25.00") == pytest.approx(0.0200, abs=2e-6)


def test_a_reagent_in_excess_may_be_a_salt_too():
    text = """
title = "Chloride"
equation = "Ag^+ + SCN^- -> AgSCN"
burette = { solution = "KSCN", concentration = 0.1000 }
flask = { solution = "Cl^-", aliquot = 10.0 }
excess = { solution = "AgNO3", equation = "Ag^+ + Cl^- -> AgCl", concentration = 0.1000, volume = 25.0 }
result = { of = "Cl^-" }
"""
    # By hand: (25.0 x 0.1000 - 10.00 x 0.1000) / 10.0.
    assert value(text, "10.00") == pytest.approx(0.1500)


def test_a_substance_that_brings_none_of_the_species_is_named():
    with pytest.raises(InputError, match="found 'Na3PO4', expected a species of the equation"):
        practical(ORE, ("K2Cr2O7", "Na3PO4"))
