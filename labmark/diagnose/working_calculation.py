"""The figures of a student's sum, the ways of doing it, and how its figures are printed.

A `Calculation` holds what the practical gives; a `Way` says how the sum is done (`RIGHT`, or with a slip or two); an
`Op` is one operation and a `Step` the operations that lead to a value a student might write down.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

from labmark.figures import magnitude
from labmark.volumes import round_fraction

Quantity = str
"""One of the contract's quantities, e.g. "amount concentration"."""
CONCENTRATIONS = frozenset({"amount concentration", "mass concentration", "percent mass by volume"})
"""Quantities of a solution; the others are of a weighed sample."""
WATER = Fraction("18.015")
"""Molar mass of water [g/mol], from A_r 1.008 and 15.999 (IUPAC abridged values, from memory)."""


@dataclass(frozen=True, slots=True)
class Excess:
    """The reagent added in excess in a back titration; the titration finds what was left of it."""

    concentration: Fraction
    """[mol/dm³]"""
    volume: Fraction
    """[cm³] added to the sample"""
    coefficient: int | Fraction = 1
    """of the excess reagent in the equation of the titration"""
    coefficient_titrant: int | Fraction = 1
    """of the titrant in the equation of the titration"""
    titrant: str = "the titrant"
    """name or formula, for the words"""
    mixture: Fraction | None = None
    """[cm³] that the mixture was made up to, and the aliquot taken from; None where all of it is titrated"""
    whole: bool = True
    """the sample itself was treated; otherwise a portion (the aliquot) of its solution, in every flask"""
    sample_volume: Fraction | None = None
    """[cm³] of a liquid sample that was itself treated"""

    @property
    def amount(self) -> Fraction:
        """Amount added [mol]."""
        return self.concentration * self.volume / 1000


@dataclass(frozen=True, slots=True, eq=True)
class Calculation:
    """The figures that the student's sum needs. Volumes in cm³, concentrations in mol/dm³, masses in g."""

    quantity: Quantity
    known_concentration: Fraction
    """of the solution whose concentration is given (in a back titration: of the titrant)"""
    aliquot: Fraction
    known_in: str = "burette"
    """"burette" or "flask": where the known solution is"""
    coefficient_known: int | Fraction = 1
    """of the known species in the balanced equation (in a back titration: of the reagent in excess)"""
    coefficient_unknown: int | Fraction = 1
    dilution: tuple[Fraction, Fraction] | None = None
    """(taken, made up to), or None"""
    report_original: bool = True
    """whether the undiluted sample is asked for"""
    molar_mass: Fraction | None = None
    """of the unknown [g/mol]; of the anhydrous salt where the water of crystallisation is asked for"""
    accepted_molar_masses: tuple[Fraction, ...] = ()
    """as good as `molar_mass`: from relative atomic masses to one decimal, from whole numbers"""
    other_molar_masses: tuple[tuple[str, Fraction], ...] = ()
    """(whose, value): masses that a student may take by mistake ("Na2CO3 without its water", 105.99)"""
    water_mass: Fraction = WATER
    accepted_water_masses: tuple[Fraction, ...] = (Fraction(18), Fraction("18.02"))
    sample_mass: Fraction | None = None
    sample_made_up_to: Fraction | None = None
    """volume of the sample's solution; None where the whole sample is titrated"""
    weighed: Fraction | None = None
    """purity of the known where it was itself weighed: `sample_mass` is then its mass, and where an amount
    concentration is asked for `molar_mass` its molar mass"""
    excess: Excess | None = None
    """set for a back titration"""
    significant_figures: int = 3
    known: str = "the known substance"
    """name or formula, for the words"""
    unknown: str = "the substance asked for"
    unit: str = ""
    """of the result, as printed"""
    known_text: str = ""
    """the concentration of the known as the practical gives it; empty: as many figures as are asked for"""

    number: int = field(init=False, repr=False, compare=False, default=0)
    """hash of the figures, taken once: the tables of a practical are looked up for every student"""

    def __post_init__(self) -> None:
        """Take the hash of the figures alone: those of text and of None differ from process to process."""
        figures = (self.known_concentration, self.aliquot, self.coefficient_known, self.coefficient_unknown)
        rest = (self.molar_mass, self.water_mass, self.sample_mass, *(self.dilution or ()))
        object.__setattr__(self, "number", hash((*figures, *(figure or 0 for figure in rest))))

    def __hash__(self) -> int:
        """Return the hash of the figures; equality compares everything."""
        return self.number

    @property
    def counts_waters(self) -> bool:
        """Return whether the water of crystallisation is asked for: a whole number in nature."""
        return self.quantity == "water of crystallisation"

    @property
    def blank_titre(self) -> Fraction | None:
        """Return the titre that a back titration would have without any sample [cm³]; no result follows from it."""
        if self.excess is None:
            return None
        portion = self.aliquot / self.excess.mixture if self.excess.mixture else Fraction(1)
        titrant = Fraction(self.excess.coefficient_titrant) / self.excess.coefficient
        return self.excess.amount * portion * titrant / self.known_concentration * 1000


class Way(NamedTuple):
    """How the sum is done; an empty field means the right way."""

    ratio: str = ""
    thousands: int = 0
    volumes: str = ""
    dilution: str = ""
    scale: str = ""
    difference: str = ""
    mass: str = ""
    finish: str = ""
    stop: str = ""
    left: str = ""
    mixture: str = ""


RIGHT = Way()


class Op(NamedTuple):
    """One operation on the running value: × k, ÷ k, "from" (k − value), "into" (k ÷ value), "less" (value − k)."""

    sign: str
    text: str
    """the figure as printed"""
    value: Fraction | None
    """None stands for the titre"""


class Step(NamedTuple):
    """Operations that lead to a value a student might write down."""

    name: str
    """what the value is: "amount of H2SO4" """
    ops: tuple[Op, ...]


Steps = tuple[Step, ...]
TITRE = Op("×", "", None)


def scale_volumes(calc: Calculation) -> Fraction | None:
    """Return the volume of solution that the sample gave [cm³]; None where the whole sample was titrated."""
    return calc.sample_made_up_to or (calc.dilution[1] if calc.dilution else None)


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
    """Return a value rounded half up to `decimals` places, as printed."""
    rounded = round_fraction(value, decimals)
    return f"{rounded:f}" if decimals >= 0 else f"{int(rounded)}"
