"""A solubility product: which ions a substance splits into, and the steps from its concentration to their product.

Calcium hydroxide, Ca²⁺ and 2 OH⁻, 0.0208 mol/dm³:

    c(Ca²⁺)  0.0208 × 1         = 0.0208 mol/dm³
    c(OH⁻)   0.0208 × 2         = 0.0416 mol/dm³
    Ksp      0.0208 × 0.0416²   = 3.60 × 10⁻⁵ mol³/dm⁹
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from math import gcd

from labmark.figures import plain, raised
from labmark.formula import Input, Step
from labmark.practical.equation import EquationError, Species, parse_equation
from labmark.practical.quantities import QUANTITIES, Quantity
from labmark.problems import Unusable

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
