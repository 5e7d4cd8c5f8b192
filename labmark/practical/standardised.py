"""What the technician's standardisation runs come to: c = 1000 × m × P × r ÷ (M × V), exactly.

Potassium hydrogen phthalate 0.3888 g, titre 18.64 cm³, one mole for one: 0.1021 mol/dm³ (QUAM:2012, A2).

The value alone is worked out here, as the practical cannot be read without it; its uncertainty is that of
`analyse.standardisation`.
"""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any, Literal

from labmark.dataclass import dataclass, replace
from labmark.exact import average, significant
from labmark.practical.brought import named_by_substance
from labmark.practical.equation import Equation, EquationError, Species, molar_mass, parse_equation, parse_formula
from labmark.practical.file import PracticalFile
from labmark.practical.mistakes import Mistakes
from labmark.practical.model import Reference, Standardisation

Side = Literal["burette", "flask"]


@dataclass(frozen=True)
class Standardised:
    """A solution standardised by the technician."""

    solution: Species
    known: bool
    """The known solution, whose concentration it gives; otherwise the unknown, whose reference it gives."""
    atoms: tuple[tuple[str, Fraction], ...]
    """Of the primary standard."""
    molar_mass: Fraction
    """Of the primary standard [g/mol]."""
    ratio: Fraction
    """Moles of the solution's substance that react with one of the standard."""
    each: tuple[Fraction, ...]
    """Concentration that each run gives [mol/dm³]."""
    told: Decimal | None
    """Concentration of the known solution where the practical states one itself [mol/dm³]; it is then the one used."""

    @property
    def value(self) -> Fraction:
        """Return the mean of the runs [mol/dm³]."""
        return average(self.each)


def standardised(
    practical: PracticalFile, equation: Equation, unknown: Species | None, wrong: Mistakes
) -> tuple[PracticalFile, Standardised | None]:
    """Return the practical with what its standardisation gives filled in; `wrong` is told what is wrong with it."""
    given = practical.standardisation
    if given is None:
        return practical, None
    titrant, analyte = equation.find(practical.burette.solution), equation.find(practical.flask.solution)
    # In a back titration what the flask holds is worked out; the titrant alone can be standardised.
    sides = [titrant] if practical.excess else [titrant, analyte]
    known: Side = "flask" if titrant == unknown and not practical.excess else "burette"
    usual = analyte if known == "flask" else titrant
    solution = usual if given.solution is None else equation.find(given.solution)
    if solution is None or solution not in sides:
        _say_which(practical, given, [each for each in sides if each], wrong)
        return practical, None
    found = _found(given, equation, solution, solution != unknown, wrong)
    if found is None:
        return practical, None
    if not found.known:
        return _as_reference(practical, found, wrong), found
    return _as_concentration(practical, known, found, given.significant_figures)


def _as_concentration(
    practical: PracticalFile, known: Side, found: Standardised, figures: int
) -> tuple[PracticalFile, Standardised]:
    """Return the practical with the concentration that was found of the known solution; one that it states stays."""
    side = getattr(practical, known)
    if side.concentration is not None:
        return practical, replace(found, told=side.concentration)
    side = side.model_copy(update={"concentration": significant(found.value, figures)})
    return practical.model_copy(update={known: side}), found


def _say_which(practical: PracticalFile, given: Standardisation, sides: Sequence[Species], wrong: Mistakes) -> None:
    """Say that what was standardised is none of the solutions that can be."""
    expected, do = "one of the two solutions", "name the solution that was standardised"
    if practical.excess:
        expected, do = "the titrant", "give the reagent's concentration in [excess]"
    names = " or ".join(each.name for each in sides)
    wrong("standardisation.solution", f"found {given.solution!r}, expected {expected} ({names})", do)


def _found(
    given: Standardisation, equation: Equation, solution: Species, known: bool, wrong: Mistakes
) -> Standardised | None:
    try:
        standard = parse_formula(given.standard)
    except EquationError as error:
        wrong("standardisation.standard", str(error), "give a formula such as KHC8H4O4")
        return None
    ratio = _ratio(given, equation, solution, wrong)
    if ratio is None:
        return None
    mass = molar_mass(standard.atoms)
    return Standardised(solution, known, standard.atoms, mass, ratio, _each(given, mass, ratio), None)


def _ratio(given: Standardisation, equation: Equation, solution: Species, wrong: Mistakes) -> Fraction | None:
    """Return how many moles of the solution react with one of the standard."""
    key = "standardisation.equation"
    try:
        equation = parse_equation(given.equation) if given.equation else equation
    except EquationError as error:
        wrong(key, f"{given.equation!r} {error}", "correct the equation")
        return None
    for text in (given.standard, solution.name):
        equation = named_by_substance(equation, text)
    standard, titrant = equation.find(given.standard), equation.find(solution.name)
    if standard is None or titrant is None:
        missing = given.standard if standard is None else solution.name
        wrong(key, f"{missing} is not in it", "give the equation of standard and solution")
        return None
    return equation.coefficient(titrant) / equation.coefficient(standard)


def _each(given: Standardisation, mass: Fraction, ratio: Fraction) -> tuple[Fraction, ...]:
    portion = Fraction(1)
    if given.aliquot is not None and given.made_up_to is not None:
        portion = Fraction(given.aliquot) / Fraction(given.made_up_to)
    masses = given.masses * len(given.titres) if len(given.masses) == 1 else given.masses
    factor = 1000 * portion * Fraction(given.purity) * ratio / mass
    return tuple(factor * Fraction(m) / Fraction(v) for m, v in zip(masses, given.titres, strict=True))


def _as_reference(practical: PracticalFile, found: Standardised, wrong: Mistakes) -> PracticalFile:
    """Return the practical with the unknown's standardised concentration as its reference."""
    key = "standardisation.solution"
    if practical.result.quantity != "amount concentration":
        what = f"it gives an amount concentration, and the result is {practical.result.quantity}"
        wrong(key, what, "give the reference in [reference] instead")
    if practical.reference is not None:
        wrong(key, "it gives the reference, and [reference] gives one too", "keep one of the two")
    value: Any = significant(found.value, practical.result.significant_figures + 2)
    return practical.model_copy(update={"reference": Reference(value=value)})
