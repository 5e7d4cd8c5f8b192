"""The substance on the bottle for the species of the equation that it brings: K2Cr2O7 for Cr2O7^2-, H2SO4 for 2 H^+."""

from collections.abc import Iterable
from fractions import Fraction
from functools import lru_cache
from itertools import product

from labmark.dataclass import replace
from labmark.practical.equation import Equation, EquationError, Species, parse_equation, parse_formula
from labmark.practical.quantities import numbered

COUNTERS = ("Na^+", "K^+", "Li^+", "NH4^+", "Ca^2+", "Ba^2+", "Cl^-", "Br^-", "NO3^-", "SO4^2-", "ClO4^-", "CH3COO^-")
"""Ions that take no part beside the one that a substance brings."""


def named_by_substance(equation: Equation, text: str, gives: str = "") -> Equation:
    """Return an equation in which a substance counts for the one species that it brings, where it brings one.

    `gives` says which, and how many of it, where that is not plain.
    """
    if equation.find(text) is not None:
        return equation
    there = dict.fromkeys(species for _, species in (*equation.left, *equation.right))
    found = brought_by(equation, text, gives, there)
    if len(found) != 1:
        return equation
    (ion, times), substance = found[0], parse_formula(text)
    parts = tuple(_counting(part, substance, ion, times) for part in equation.parts)
    return replace(_counting(equation, substance, ion, times), parts=parts)


def _counting(equation: Equation, substance: Species, ion: Species, times: Fraction) -> Equation:
    """Return an equation with one more term, in whole numbers: 2 OH^- for one H2SO4, not 1 for a half."""
    if equation.find(ion.name) is None:
        return equation
    number = equation.coefficient(ion) / times
    scale = equation.scale * number.denominator
    before = tuple((each * number.denominator, one, of) for each, one, of in equation.brought)
    return replace(equation, brought=(*before, (number * number.denominator, substance, ion)), scale=scale)


def brought_by(
    equation: Equation, solution: str, gives: str, among: Iterable[Species]
) -> list[tuple[Species, Fraction]]:
    """Return what a substance may bring of an equation, and how much of it one brings: what it `gives`, or itself.

    Else what it holds beside ions that take no part, `among` these.
    """
    number, text = numbered(gives) if gives else (Fraction(1), solution)
    species = equation.find(text)
    if species is not None or gives:
        return [] if species is None else [(species, number or Fraction(1))]
    return [(each, times) for each in among for times in times_of(solution, each.name)]


@lru_cache(maxsize=256)
def times_of(solution: str, ion: str) -> tuple[Fraction, ...]:
    """Return how many of an ion a substance brings, beside ions that take no part; empty where it does not."""
    try:
        held, brought = ({symbol for symbol, _ in parse_formula(text).atoms} for text in (solution, ion))
    except EquationError:
        return ()
    if not brought <= held:
        return ()  # as most are: to try them all would take longer than to judge a class
    for counter, many, times in product(COUNTERS, (1, 2, 3), (1, 2, 3)):
        try:
            parse_equation(f"{solution} -> {times} {ion} + {many} {counter}")
        except EquationError:
            continue
        return (Fraction(times),)
    return ()
