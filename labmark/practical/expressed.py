"""What a result is expressed as: substance, number, molar mass and unit."""

from __future__ import annotations

from fractions import Fraction

from labmark.practical.equation import Equation, EquationError, Species, molar_mass, parse_formula
from labmark.practical.file import PracticalFile
from labmark.practical.ions import ions_of, solubility_product
from labmark.practical.mistakes import Mistakes
from labmark.practical.quantities import PEROXIDE, QUANTITIES, Quantity, held_differently, numbered
from labmark.practical.record import Expressed
from labmark.problems import Unusable
from labmark.units import ASKED, power_between


def expressed_of(practical: PracticalFile, unknown: Species, equation: Equation, wrong: Mistakes) -> Expressed | None:
    """Return what the result is expressed as; None where `wrong` says what is wrong."""
    result = practical.result
    _check_quantity(practical, unknown, wrong)
    number, text = numbered(result.expressed_as) if result.expressed_as else (None, unknown.name)
    try:
        species = parse_formula(text) if result.expressed_as else unknown
    except EquationError as error:
        wrong("result.expressed_as", str(error), "give a formula such as FeSO4.7H2O")
        return None
    if number is None and result.quantity == "value per gram" and (itself := equation.find(text)) is not None:
        number = equation.coefficient(itself) / equation.coefficient(unknown)
    if number is None:
        _check_one_for_one(unknown, species, text, wrong)
    quantity = _quantity_of(practical, species, wrong)
    mass = _mass_of(species, "molar_mass" in " ".join(step.do for step in quantity.steps), wrong)
    formula, power = text if result.expressed_as else unknown.formula, _power_of_unit(practical, quantity, wrong)
    return Expressed(species.shown, formula, species.atoms, number or Fraction(1), mass, quantity, power)


def _check_one_for_one(unknown: Species, other: Species, text: str, wrong: Mistakes) -> None:
    """Say where one of the unknown cannot be one of what it is expressed as, unless that is said."""
    if elements := held_differently(unknown, other):
        do = f'say how much of it stands for one {unknown.name}: expressed_as = "1 {text}" where one counts for one, '
        do += f'"1/2 {text}" where half of it does'
        wrong("result.expressed_as", f"{unknown.name} and {text} hold {elements[0]} in different numbers", do)


def _quantity_of(practical: PracticalFile, species: Species, wrong: Mistakes) -> Quantity:
    """Return the quantity asked for; the steps of a solubility product are those of the ions of the substance."""
    result, quantity = practical.result, QUANTITIES[practical.result.quantity]
    if result.quantity == "solubility product":
        try:
            return solubility_product(ions_of(result.ions or (), species), species)
        except Unusable as error:
            wrong("result.ions", error.what, error.do)
    return quantity


def _power_of_unit(practical: PracticalFile, quantity: Quantity, wrong: Mistakes) -> int:
    """Return the power of ten from a quantity's unit to the one asked for."""
    unit = practical.result.unit
    power = power_between(quantity.unit, unit or quantity.unit)
    if power is None:
        asked = ", ".join(each for each in ASKED if power_between(quantity.unit, each) is not None) or "none"
        what = f"found {unit!r}, which is no unit for {practical.result.quantity}"
        wrong("result.unit", what, f"give one of {asked}, or leave it out")
    return power or 0


def _mass_of(species: Species, needed: bool, wrong: Mistakes) -> Fraction:
    """Return a molar mass [g/mol]; 0 where it is not known, which is wrong where it is needed."""
    try:
        return molar_mass(species.atoms)
    except EquationError as error:
        if needed:
            what = f"it needs the molar mass of {species.name}, and {error}"
            wrong("result.quantity", what, "ask for the molar mass, or write the formula out")
        return Fraction(0)


def _check_quantity(practical: PracticalFile, unknown: Species, wrong: Mistakes) -> None:
    """Say what a quantity cannot do without."""
    result, sample = practical.result, practical.sample
    if result.quantity == "titre factor" and result.nominal is None:
        what = "is missing: a titre factor is the concentration over the one on the label"
        wrong("result.nominal", what, "add it in mol/dm³")
    if result.quantity == "mass per item" and (sample is None or sample.items is None):
        wrong("sample.items", "is missing: mass per item needs their number", "add it under [sample]")
    if result.quantity == "volume strength" and unknown.formula != PEROXIDE:
        what = f"found {unknown.name}, but a volume strength is of {PEROXIDE}"
        wrong("result.quantity", what, "ask for a concentration")
