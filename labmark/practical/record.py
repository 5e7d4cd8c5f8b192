"""A practical whose parts fit together."""

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Literal, NamedTuple

from labmark.dataclass import dataclass, field, replace
from labmark.exact import PER_CM3
from labmark.practical.equation import Equation, Species
from labmark.practical.file import PracticalFile
from labmark.practical.model import FromSheet
from labmark.practical.own import BLANK_TITRE, ONE, OWN, OwnNumber, Several
from labmark.practical.quantities import QUANTITIES, Asked, Quantity
from labmark.practical.several import ONLY, Series, equations_of
from labmark.practical.standardised import Standardised


@dataclass(frozen=True)
class Expressed:
    """What the amount of the unknown is turned into."""

    name: str
    """As it is printed."""
    formula: str
    """As it is written, without the number before it."""
    atoms: tuple[tuple[str, Fraction], ...]
    number: Fraction
    """How much of it stands for one of the unknown: 1/2 of Fe2O3 for Fe2+."""
    mass: Fraction
    """Its molar mass [g/mol]; 0 where that is not known, and not needed."""
    quantity: Quantity
    power: int = 0
    """Power of ten from the quantity's unit to the one asked for."""
    most: Fraction = Fraction(100)
    """Most per cent of a sample that it may be: more than 100 where a reference is (of FeSO4 183 % are FeSO4.7H2O)."""


class Back(NamedTuple):
    """What makes a practical a back titration."""

    reagent: Species
    """The reagent in excess."""
    equation: Equation
    """Of the reagent with the sample."""
    whole: bool
    """The sample itself is treated with the reagent; otherwise a portion of its solution is, in every flask."""
    undivided: bool
    """All of the mixture is titrated: then the reagent's pipette is the only one."""


@dataclass(frozen=True)
class Practical:
    """A practical whose parts fit together."""

    file: PracticalFile
    equation: Equation
    """Of the titration."""
    known: Species
    """In a back titration the titrant."""
    unknown: Species
    known_in: Literal["burette", "flask"]
    known_concentration: Fraction
    """[mol/dm³]; 0 where the known was itself weighed."""
    expressed: Expressed
    standardised: Standardised | None = None
    """What the technician's standardisation gives, where the practical has one."""
    back: Back | None = None
    """What makes it a back titration, where it is one."""
    own: Mapping[str, FromSheet] = field(default_factory=dict)
    """Key -> where a number stands that belongs to a student, a run or a group; `file` has one that stands for it."""
    parsed: PracticalFile | None = None
    """The file before what follows from it was filled in."""
    series: Series = ONLY
    """Which titre this is about."""
    parts: tuple["Practical", ...] = ()
    """With several titres: the practical of each result, and of each unknown that is only worked out on the way."""

    @property
    def unit(self) -> str:
        """Return the unit that the result is asked for in, as written in data."""
        return self.file.result.unit or self.expressed.quantity.unit

    @property
    def asked(self) -> Asked:
        """Return the unit that a bare number of a student is in."""
        unit = self.file.result.unit
        return self.expressed.quantity.asked if unit is None else Asked(unit, unit)

    @property
    def weighed_standard(self) -> bool:
        """Return whether the known is a standard that was weighed, rather than a solution of known concentration."""
        return not self.known_concentration

    @property
    def path(self) -> tuple[tuple[Equation, Species], ...]:
        """Return the equations from the known to the unknown, each with the species that it leads to."""
        parts, links = self.equation.parts or (self.equation,), self.equation.links
        if self.known_in == "burette":
            parts, links = parts[::-1], links[::-1]
        return tuple(zip(parts, (*links, self.unknown), strict=True))

    @property
    def needs_sample(self) -> bool:
        """Return whether the result is of the weighed sample."""
        return QUANTITIES[self.file.result.quantity].of == "sample"

    @property
    def unknown_in(self) -> Literal["burette", "flask"]:
        """Return the vessel that holds the unknown."""
        return "flask" if self.known_in == "burette" else "burette"

    @property
    def equations(self) -> tuple[Equation, ...]:
        """Return the reactions one after the other, from the sample to the titrant."""
        if self.series.several:
            each = self.file.endpoints or self.file.titrations
            return tuple(equation for one in each for equation in equations_of(one))
        given = (self.equation,) if self.back is None else (self.back.equation, self.equation)
        return tuple(part for equation in given for part in equation.parts or (equation,))

    @property
    def several(self) -> Several:
        """Return the names of endpoints, titrations and results in the class sheet."""
        if not self.parts:
            return ONE
        names = self.series.names
        return Several(
            names if self.series.endpoints else (),
            () if self.series.endpoints else names,
            {part.series.result: part.asked for part in self.parts if part.series.result},
        )


def own_numbers(practical: Practical) -> tuple[OwnNumber, ...]:
    """Return the numbers that students have, or may have, of their own."""
    file = practical.file
    vessel = file.burette if practical.known_in == "burette" else file.flask
    known = f"{practical.known_in}.concentration"
    given = {
        "sample.mass": file.sample.mass if file.sample else None,
        "flask.aliquot": file.flask.aliquot,
        known: vessel.concentration,
        BLANK_TITRE: file.blank.titre if file.blank else Decimal(0),
    }
    share = "" if file.result.quantity in ("molar mass", "water of crystallisation") else practical.expressed.formula
    formulas = {known: (vessel.solution, file.result.of), "sample.mass": ("", share)}
    blanks = file.blank is not None and file.blank.runs
    found = []
    for key, kind in OWN.items():
        if key in given or key in practical.own:
            unit, by_runs = kind.unit or practical.unit, blanks and key == BLANK_TITRE
            taken, both = practical.own.get(key), formulas.get(key, ("", ""))
            found.append(OwnNumber(key, kind.words, unit, given.get(key), taken, *both, by_runs=by_runs))
    return tuple(found)


def with_burette(practical: Practical, capacity: int) -> Practical:
    """Return the practical with a burette of another capacity [µL], in every titration that has the same one."""
    burette, size = practical.file.burette, Decimal(capacity) / PER_CM3
    if size == burette.capacity:
        return practical
    file = practical.file.model_copy(update={"burette": burette.model_copy(update={"capacity": size})})
    same = (part.file.burette.capacity == burette.capacity for part in practical.parts)
    parts = tuple(
        with_burette(part, capacity) if one else part for part, one in zip(practical.parts, same, strict=True)
    )
    return replace(practical, file=file, parts=parts)
