"""Equations: read as chemists write them, balanced in atoms and charge, with molar masses from standard weights."""

from fractions import Fraction

import pytest

from labmark.practical.equation import EquationError, molar_mass, parse_equation, parse_formula


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("2 NaOH + H2SO4 -> Na2SO4 + 2 H2O", "2 NaOH + H₂SO₄ → Na₂SO₄ + 2 H₂O"),
        ("NaOH(aq)+HCl(aq)=NaCl(aq)+H2O(l)", "NaOH + HCl → NaCl + H₂O"),
        ("MnO4- + 5 Fe2+ + 8 H+ -> Mn2+ + 5 Fe3+ + 4 H2O", "MnO₄⁻ + 5 Fe²⁺ + 8 H⁺ → Mn²⁺ + 5 Fe³⁺ + 4 H₂O"),
        ("MnO₄⁻ + 5Fe²⁺ + 8H⁺ → Mn²⁺ + 5Fe³⁺ + 4H₂O", "MnO₄⁻ + 5 Fe²⁺ + 8 H⁺ → Mn²⁺ + 5 Fe³⁺ + 4 H₂O"),
        ("I2 + 2 S2O32- -> 2 I- + S4O62-", "I₂ + 2 S₂O₃²⁻ → 2 I⁻ + S₄O₆²⁻"),
        ("I2 + 2 S2O3(2-) -> 2 I- + S4O6^{2-}", "I₂ + 2 S₂O₃²⁻ → 2 I⁻ + S₄O₆²⁻"),
        ("I3- + 2 S2O3^2- ⇌ 3 I- + S4O6^2-", "I₃⁻ + 2 S₂O₃²⁻ → 3 I⁻ + S₄O₆²⁻"),
        ("Na2CO3·10H2O + 2 HCl -> 2 NaCl + 11 H2O + CO2", "Na₂CO₃·10H₂O + 2 HCl → 2 NaCl + 11 H₂O + CO₂"),
        ("MnO4- + 8 H+ + 5 e- -> Mn2+ + 4 H2O", "MnO₄⁻ + 8 H⁺ + 5 e⁻ → Mn²⁺ + 4 H₂O"),
        ("Mg(OH)2 + 2 HCl -> MgCl2 + 2 H2O", "Mg(OH)₂ + 2 HCl → MgCl₂ + 2 H₂O"),
    ],
)
def test_equations_are_read_as_they_are_written(text, shown):
    assert parse_equation(text).shown == shown


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("NaOH + H2SO4 -> Na2SO4 + H2O", "does not balance: H: 3 on the left, 2 on the right; Na: 1 on the left, 2 on"),
        ("MnO4- + Fe2+ + 8 H+ -> Mn2+ + Fe3+ + 4 H2O", "charge: 9 on the left, 5 on the right"),
        ("NaOH + HCl", "expected one arrow"),
        ("NaOH -> HCl -> NaCl", "expected one arrow"),
        ("Foo + HCl -> FooCl + H2", "'Foo' is not a chemical formula"),
        ("naoh + HCl -> NaCl + H2O", "'naoh' is not a chemical formula"),
        ("", "expected one arrow"),
        ("Mg(OH2 + HCl -> MgCl2 + H2O", "is not a chemical formula"),
        ("2/0 H2 + O2 -> 2 H2O", "is not a chemical formula"),
        ("9" * 5000 + " H2 + O2 -> 2 H2O", "is not a chemical formula"),
        ("H" + "9" * 5000 + " + O2 -> 2 H2O", "is not a chemical formula"),
    ],
)
def test_what_is_wrong_with_an_equation_is_said(text, message):
    with pytest.raises(EquationError, match=message.replace("(", r"\(")):
        parse_equation(text)


def test_a_species_is_found_however_its_charge_is_written():
    equation = parse_equation("I2 + 2 S2O3^2- -> 2 I- + S4O6^2-")
    thiosulfate = equation.find("S2O3^2-")
    assert thiosulfate is not None
    assert equation.find("S2O32-") == equation.find("S₂O₃²⁻") == thiosulfate
    assert equation.coefficient(thiosulfate) == 2
    assert equation.find("NaCl") is None


# Standard atomic weights, abridged to five figures (CIAAW, Standard Atomic Weights 2021, abridged values).
ABRIDGED = {
    "H": "1.008", "C": "12.011", "N": "14.007", "O": "15.999", "F": "18.998", "Na": "22.990", "Mg": "24.305",
    "Al": "26.982", "P": "30.974", "S": "32.06", "Cl": "35.45", "K": "39.098", "Ca": "40.078", "Cr": "51.996",
    "Mn": "54.938", "Fe": "55.845", "Cu": "63.546", "Zn": "65.38", "Br": "79.904", "Ag": "107.87", "I": "126.90",
    "Ba": "137.33", "Pb": "207.2",
}  # fmt: skip


@pytest.mark.parametrize("symbol", ABRIDGED)
def test_atomic_weights_are_the_standard_ones(symbol):
    decimals = len(ABRIDGED[symbol].partition(".")[2])
    weight = molar_mass(((symbol, Fraction(1)),))
    assert abs(weight - Fraction(ABRIDGED[symbol])) <= Fraction(1, 2 * 10**decimals)


# Sums of the abridged standard atomic weights of the CIAAW (2021), worked out by hand with a calculator's precision.
SUMS = {
    "NaOH": "39.997", "HCl": "36.458", "Na2CO3": "105.988", "H2SO4": "98.072", "CH3COOH": "60.052",
    "H2C2O4.2H2O": "126.064", "KHC8H4O4": "204.222", "KMnO4": "158.032", "FeSO4.7H2O": "278.006",
    "(NH4)2Fe(SO4)2.6H2O": "392.125", "Na2S2O3.5H2O": "248.172", "C6H8O7": "192.123",
}  # fmt: skip


@pytest.mark.parametrize("formula", SUMS)
def test_molar_masses_add_up_from_atomic_weights_hydrates_too(formula):
    # Abridged weights are rounded: a sum of many of them may differ in the last place shown.
    assert abs(molar_mass(parse_formula(formula).atoms) - Fraction(SUMS[formula])) <= Fraction(2, 1000)
