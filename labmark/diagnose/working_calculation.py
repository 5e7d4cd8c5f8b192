"""A practical's sum as students do it, the ways of doing it, and how its figures are printed.

A `Calculation` holds the formula; a `Way` says how the sum is done (`RIGHT`, or with a slip or two); an `Op` is one
operation and a `Step` the operations that lead to a value a student might write down.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache
from typing import Any, NamedTuple

from labmark.figures import in_figures, magnitude
from labmark.formula import Formula, Input
from labmark.volumes import round_fraction


@dataclass(frozen=True, eq=False)
class Calculation:
    """A practical's sum. Two are the same where they are one object: the tables of each are kept."""

    formula: Formula
    quantity: str
    """one of the contract's quantities, e.g. "amount concentration" """
    significant_figures: int = 3
    unit: str = ""
    """of the result, as printed"""
    fair: tuple[tuple[Input, ...], ...] = ()
    """inputs that are as good as the formula's: molar masses from relative atomic masses to one decimal, ..."""
    others: tuple[Input, ...] = ()
    """molar masses that a student may take by mistake; `words` says whose"""
    names: Mapping[str, str] = field(default_factory=dict)
    """"known", "unknown" and "titrant", for the words"""
    undiluted: Formula | None = None
    """the formula of the undiluted sample, where the diluted one is asked for"""
    related: Mapping[str, Formula] = field(default_factory=dict)
    """unit of another quantity of the substance -> the formula that gives that one"""
    fair_related: Mapping[str, tuple[tuple[Input, ...], ...]] = field(default_factory=dict)
    """the same -> inputs that are as good as that formula's"""

    def value(self, name: str) -> Fraction | None:
        """Return the value of an input; None where the formula has none of that name."""
        found = self.formula.of.get(name)
        return None if found is None else found.value

    @property
    def counts_waters(self) -> bool:
        """Return whether the water of crystallisation is asked for: a whole number in nature."""
        return self.quantity == "water of crystallisation"

    @property
    def blank_titre(self) -> Fraction | None:
        """Return the titre [cm³] that leaves nothing for the sample; None in a direct titration."""
        return self.formula.curve.high


@lru_cache(maxsize=256)
def fair_calculations(calc: Calculation) -> tuple[Calculation, ...]:
    """Return the calculation with the exact molar masses, then with each that is as good."""
    return (calc, *(replace(calc, formula=calc.formula.given(inputs), fair=()) for inputs in calc.fair))


@dataclass(frozen=True, eq=False)
class Change:
    """One slip: what is done differently from the right way. A row of `slips.toml`."""

    place: str
    do: Mapping[str, Any]
    """the edit, see `working_edits`"""
    finding: str
    cause: str
    """a few words, the same for every practical: "mole ratio left out" """
    phrase: str
    """how a sentence about it begins: "Leaving out the {ratio} ratio" """
    rate: float
    apart: str = ""
    """a further place that it does not go with"""
    unless: tuple[str, ...] = ()
    """steps that must not be there"""
    unit: bool = True
    """the sum leads to what was asked for, in its unit"""
    tell: str = ""
    """what to do next time; empty where the advice on the finding says it"""


Way = tuple[Change, ...]
RIGHT: Way = ()


class Op(NamedTuple):
    """One operation on the running value: × k, ÷ k, "from" (k − value), "into" (k ÷ value), "less" (value − k).

    "ions" multiplies multiples of the value with one another, which gives k times a power of it.
    """

    sign: str
    text: str
    """the figure as printed"""
    value: Fraction | None
    """None stands for the titre"""
    multiples: tuple[Fraction, ...] = ()
    """of the value, in "ions": (1, 2, 2) for s × 2 s × 2 s, that is 4 s³"""


class Step(NamedTuple):
    """Operations that lead to a value a student might write down."""

    name: str
    """what the value is: "amount of H₂SO₄ in the mean titre" """
    ops: tuple[Op, ...]
    key: str = ""
    """name of the formula's step that it is"""
    unit: str = ""
    """as printed"""
    scale: Fraction = Fraction(1)
    """the value in that unit, over the running value: 1/1000 where volumes in cm³ go on without 1000"""


Steps = tuple[Step, ...]
SMALLEST = -4
"""Magnitude below which a value is printed with a power of ten."""


def plain(value: Fraction, decimals: int = 0, most: int = 6) -> str:
    """Return a figure as printed: at least `decimals` places, more (up to `most`) where the figure has them."""
    places = decimals
    while places < most and round_fraction(value, places) != value:
        places += 1
    return f"{round_fraction(value, places):f}"


def volume_text(value: Fraction) -> str:
    """Return a volume [cm³] as printed: 25.00, 24.35, 24.333."""
    return plain(value, 2, 3)


def figures_text(value: Fraction, figures: int) -> str:
    """Return a figure with at least `figures` significant figures: 0.0500."""
    return plain(value, max(0, figures - 1 - magnitude(value)), 8)


def decimal_text(value: Fraction, decimals: int) -> str:
    """Return a value rounded half up to `decimals` places, as printed; very small ones with a power of ten."""
    rounded = round_fraction(value, decimals)
    if rounded and rounded.adjusted() < SMALLEST:
        return in_figures(Fraction(rounded), decimals + 1 + rounded.adjusted())
    return f"{rounded:f}" if decimals >= 0 else f"{int(rounded)}"
