"""The chemistry of the samples, in plain exact arithmetic: written once more on purpose, not taken from labmark."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import floor, log10


@dataclass(frozen=True)
class Chemistry:
    """One practical as arithmetic, exact."""

    known: Fraction
    """Concentration of the standard [mol/dm³]."""
    aliquot: Fraction
    """Pipetted volume [cm³]."""
    ratio: Fraction = Fraction(1)
    """Moles of the unknown for one mole of the standard."""
    unknown_in_burette: bool = False
    dilution: Fraction = Fraction(1)
    """How many times stronger the original is."""
    per_mole: Fraction = Fraction(1)
    """From mol/dm³ to the unit of the result: 1, grams per mole, or a tenth of that for g in 100 cm³."""
    figures: int = 3

    def result(self, titre: Fraction) -> Fraction:
        """Return the result that a titre [cm³] gives."""
        known_volume, unknown_volume = (self.aliquot, titre) if self.unknown_in_burette else (titre, self.aliquot)
        return self.known * known_volume * self.ratio / unknown_volume * self.dilution * self.per_mole

    def titre(self, value: Fraction) -> float:
        """Return the titre [cm³] that belongs to a true result."""
        concentration = value / self.per_mole / self.dilution
        if self.unknown_in_burette:
            return float(self.known * self.aliquot * self.ratio / concentration)
        return float(concentration * self.aliquot / self.ratio / self.known)


@dataclass(frozen=True)
class BackChemistry(Chemistry):
    """A back titration as arithmetic, exact: the unknown took what was added less what was left.

    `ratio` is moles of the unknown for one mole of the reagent, `dilution` how many portions the mixture holds,
    `per_mole` from moles to the unit of the result.
    """

    added: Fraction = Fraction(0)
    """Of the reagent, which takes one mole of the standard each [mol]."""
    difference: bool = True
    """What was left is taken from what was added."""

    def result(self, titre: Fraction) -> Fraction:
        """Return the result that a titre [cm³] gives."""
        left = self.known * titre / 1000 * self.dilution
        return (self.added - left if self.difference else left) * self.ratio * self.per_mole

    def titre(self, value: Fraction) -> float:
        """Return the titre [cm³] that belongs to a true result."""
        left = self.added - value / self.per_mole / self.ratio
        return float(left / self.dilution / self.known * 1000)


def to_places(value: Fraction, places: int) -> Decimal:
    """Return a value rounded half up."""
    return Decimal(floor(value * 10**places + Fraction(1, 2))).scaleb(-places)


def to_figures(value: Fraction, figures: int) -> Decimal:
    """Return a value rounded half up to so many significant figures."""
    return to_places(value, figures - 1 - floor(log10(value)))
