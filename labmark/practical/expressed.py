"""What a result is expressed as: substance, number, molar mass and unit.

For a solubility product also which ions a substance splits into, and the steps from its concentration to their product.
Calcium hydroxide, Ca²⁺ and 2 OH⁻, 0.0208 mol/dm³:

    c(Ca²⁺)  0.0208 × 1         = 0.0208 mol/dm³
    c(OH⁻)   0.0208 × 2         = 0.0416 mol/dm³
    Ksp      0.0208 × 0.0416²   = 3.60 × 10⁻⁵ mol³/dm⁹
"""

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import gcd

from labmark.dataclass import replace
from labmark.exact import plain, raised
from labmark.formula import Input, Step
from labmark.practical.equation import Equation, EquationError, Species, molar_mass, parse_equation, parse_formula
from labmark.practical.file import PracticalFile
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
    most = Fraction(100)
    if result.quantity == "percent by mass":
        most = _most_allowed(practical, _most(unknown, species, (number or 1) * mass), power, species.name, wrong)
    return Expressed(species.shown, formula, species.atoms, number or Fraction(1), mass, quantity, power, most)


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


def _most(unknown: Species, species: Species, mass: Fraction) -> Fraction:
    """Return the per cent of a sample that is nothing but the unknown, and 100 where it is not expressed otherwise.

    mass   [g/mol] of what it is expressed as, for one of the unknown
    """
    try:
        return Fraction(100) if species == unknown else max(Fraction(100), 100 * mass / molar_mass(unknown.atoms))
    except EquationError:
        return Fraction(100)


def _most_allowed(practical: PracticalFile, most: Fraction, power: int, of: str, wrong: Mistakes) -> Fraction:
    """Return the most per cent that a result may be: 100, but `most` where a reference is above that.

    Says where a reference is beyond `most` by more than its uncertainty, or by 2 % where none is given.
    """
    given, scale = practical.reference, Fraction(10) ** power
    if given is None:
        return Fraction(100)
    limit = most * scale
    room = limit / 50 if given.standard_uncertainty is None else 2 * Fraction(given.standard_uncertainty)
    values = {"reference.value": given.value} | {
        f"reference.values.{name}": value for name, value in given.values.items()
    }
    named = {name: value for name, value in values.items() if value is not None}
    key = re.sub("result$", "", wrong.result)
    for name, value in named.items():
        if value > limit + room:
            unit = practical.result.unit or "%"
            what = f"found {value}, but no sample holds more than {float(limit):.4g} {unit} of {of}"
            wrong(f"{key}.{name}".strip("."), what, "correct it, or [result] expressed_as and unit")
    return most if any(value > 100 * scale for value in named.values()) else Fraction(100)


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


Ions = tuple[tuple[int, Species], ...]
"""(number in the formula, ion)."""
EXAMPLE = 'ions = [ "Ca^2+", "2 OH^-" ]'
_SALT = re.compile(r"([A-Z][a-z]?)(\d*)(?:([A-Z][a-z]?)|\(([A-Za-z\d]+)\))(\d*)")
_CHARGES = {**dict.fromkeys(("F", "Cl", "Br", "I"), 1), "O": 2, "S": 2}
"""Of elements, where one stands for one."""


def ions_of(texts: Sequence[str], of: Species) -> Ions:
    """Return the ions that texts name, or that a substance splits into where there are none. Raises Unusable."""
    together = " + ".join(texts or _split(of))
    try:
        given = parse_equation(f"{together} -> {together}").right
    except EquationError as error:
        raise Unusable(str(error), f"write them as in {EXAMPLE}") from error
    found: dict[Species, int] = {}
    atoms: dict[str, Fraction] = {}
    for number, ion in given:
        if not ion.charge or number not in range(1, 10):
            what = f"found {number} {ion.name}, expected ions with their charge, 9 of each at most"
            raise Unusable(what, f"write them as in {EXAMPLE}")
        found[ion] = found.get(ion, 0) + int(number)
        atoms |= {symbol: atoms.get(symbol, Fraction(0)) + number * each for symbol, each in ion.atoms}
    charge = sum(number * ion.charge for ion, number in found.items())
    if charge:
        what = f"{together} carry a charge of {charge:+d} together"
        raise Unusable(what, "correct the numbers or the charges: together they have none")
    if of not in found and (of.charge or atoms != dict(of.atoms)):
        what = f"{of.name} is neither {' nor '.join(ion.name for ion in found)} nor made up of them"
        raise Unusable(what, "correct them, or name what was titrated")
    return tuple((number, ion) for ion, number in found.items())


def _split(of: Species) -> Iterator[str]:
    """Yield the ions of a substance of one element and one element or bracket. Raises Unusable."""
    salt = None if of.charge else _SALT.fullmatch(of.formula)
    if salt is not None:
        first, second = (int(salt[group] or 1) for group in (2, 5))
        charge = _CHARGES.get(salt[3] or "", 0) if first == second else first
        if charge and gcd(first, second) == 1:
            yield f"{first} {salt[1]}^{charge * second // first}+"
            yield f"{second} {salt[3] or salt[4]}^{charge}-"
            return
    raise Unusable(f"{of.name} cannot be split into ions without being told", f"add them, as in {EXAMPLE}")


def solubility_product(ions: Ions, of: Species) -> Quantity:
    """Return the quantity that goes from the concentration of a substance, or of one of its ions, to the product."""
    one = next((number for number, ion in ions if ion == of), 1)
    steps, inputs = [], []
    for place, (number, ion) in enumerate(ions, start=1):
        share = Fraction(number, one)
        inputs.append(Input(f"ions.{place}", "ratio", share))
        what, how = f"concentration of {ion.shown}", f"{plain(share)} for one {of.shown}"
        steps.append(Step(f"ion.{place}", what, how, f"{{before}} × ions.{place}", "mol/dm3"))
    how = "Ksp = " + " × ".join(f"c({ion.shown}){raised(f'{number}') if number > 1 else ''}" for number, ion in ions)
    do = " × ".join(f"ion.{place}" for place, (number, _) in enumerate(ions, start=1) for _ in range(number))
    every = sum(number for number, _ in ions)
    unit = f"mol{every}/dm{3 * every}"
    steps.append(Step("Ksp", "solubility product", how, do, unit))
    return replace(QUANTITIES["solubility product"], unit=unit, steps=tuple(steps), inputs=tuple(inputs))
