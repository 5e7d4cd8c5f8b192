"""The practical file as a checked record: every key of it, its meaning, unit and default.

Numbers are decimals exactly as written. Whether the parts fit together (equation, unknown, concentrations) is
looked at in `labmark.practical.load`.
"""

from collections.abc import Iterator, Mapping
from decimal import Decimal
from difflib import get_close_matches
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, field_validator, model_validator
from pydantic_core import PydanticCustomError

from labmark.findings import KINDS
from labmark.practical.quantities import QUANTITIES

Positive = Annotated[Decimal, Field(gt=0, le=10**9)]

Concentration = Annotated[Decimal, Field(ge=Decimal("1e-9"), le=100)]
"""[mol/dm³]"""

AcidConstant = Annotated[Decimal, Field(ge=-20, le=40)]
"""pKa"""

Volume = Annotated[Decimal, Field(gt=0, le=100_000)]
"""[cm³]"""


def _class_on_glass(mark: object) -> object:
    return {"as": "A", "a": "A", "b": "B"}.get(str(mark).casefold(), mark)


GlassClass = Annotated[Literal["A", "B"], BeforeValidator(_class_on_glass)]
"""As it stands on the glass: AS is A with a waiting time, within the same limits (common practice, no source)."""


def _whole_microlitres(volume: Decimal) -> Decimal:
    if (volume * 1000) % 1:
        raise ValueError(f"{volume} is not a whole number of microlitres; burettes are not read that finely")
    return volume


ExactVolume = Annotated[Volume, AfterValidator(_whole_microlitres)]
"""[cm³], a whole number of microlitres, as readings are."""


def _known(quantity: str) -> str:
    if quantity not in QUANTITIES:
        *names, last = map(repr, QUANTITIES)
        expected = {"expected": f"{', '.join(names)} or {last}"}
        raise PydanticCustomError("quantity", "Input should be {expected}", expected)
    return quantity


QuantityName = Annotated[str, AfterValidator(_known)]
"""A key of `QUANTITIES`."""


def _of_findings(words: dict[str, str]) -> dict[str, str]:
    for code in words:
        if code not in KINDS:
            raise ValueError(f"{code!r} is no finding; the nearest is {get_close_matches(code, KINDS, 1, 0.0)[0]}")
    return words


Advice = Annotated[dict[str, str], AfterValidator(_of_findings)]
"""Code of a finding -> words."""

PURITY_WITHIN = Decimal("0.0005")
"""± of the purity of a primary standard of analytical grade, 99.95 to 100.05 % (QUAM:2012, A2)."""


class Table(BaseModel):
    """A table of a practical file: unknown keys are errors, and nothing changes afterwards."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True, str_strip_whitespace=True)

    def _wrong(self) -> Iterator[str]:
        """Yield what does not fit together in the table, the first of which is said."""
        yield from ()

    @model_validator(mode="after")
    def _fits(self) -> Self:
        for what in self._wrong():
            raise ValueError(what)
        return self


class FromSheet(Table):
    """A number that is not the same for all: each student's (or run's) own from the class sheet, or each group's."""

    column: str | None = None
    """Heading of the class sheet that it stands under, without its unit: Mass for `Mass / mg` and `Run 1 mass`."""
    minus: str | None = None
    """Heading of what is taken from it, where something was weighed by difference."""
    default: Positive | None = None
    """For those who have none of their own."""
    by: str | None = None
    """Column of the class sheet whose entry chooses among `values`."""
    values: dict[str, Positive] = Field(default_factory=dict)
    """Entry of that column -> number."""

    def _wrong(self) -> Iterator[str]:
        if (self.column is None) == (self.by is None):
            yield "give column, a heading of the class sheet, or by and values for groups, and not both"
        if (self.by is None) != (not self.values):
            yield 'by and values belong together, as in by = "Bottle", values = { A = 0.0987, B = 0.1012 }'
        if self.minus is not None and self.column is None:
            yield "minus needs column, the heading of what it is taken from"

    @property
    def heading(self) -> str:
        """Return what the number is called: its column (of two, one minus the other), or that of the groups."""
        return f"{self.column} − {self.minus}" if self.minus else self.column or self.by or ""


class Measured(Table):
    """What is measured with volumetric glassware: a pipette, or a burette."""

    glass_class: GlassClass = Field("B", alias="class")
    """Class of it and, where something is made up to the mark, of the volumetric flask."""
    tolerance: Positive | None = None
    """Of the pipette or the burette [cm³]; otherwise the class tells."""


class Solution(Measured):
    """A solution that is measured."""

    solution: str
    """A species of the equation, or a substance that brings one: Na2S2O3 for S2O3^2-."""
    concentration: Concentration | None = None
    """[mol/dm³]; left out where it is what is sought."""
    standard_uncertainty: Positive | None = None
    """Of the concentration [mol/dm³]."""


class Dilution(Measured):
    """A measured volume of the original made up to the mark."""

    taken: Volume
    """Volume of the original taken [cm³]."""
    made_up_to: Volume
    """Volume of the flask it was made up in [cm³]."""
    flask_tolerance: Positive | None = None
    """Tolerance of the volumetric flask [cm³]; otherwise the class tells."""

    def _wrong(self) -> Iterator[str]:
        if self.made_up_to <= self.taken:
            yield "made_up_to must be larger than taken: a dilution makes the volume larger"


class Burette(Solution):
    """The titrant and the burette it stands in."""

    gives: str = ""
    """What of the equations it brings, where that is not plain: 2 H^+."""
    capacity: ExactVolume = Decimal("50.0")
    """[cm³]"""
    division: ExactVolume = Decimal("0.1")
    """Smallest division of the scale [cm³]."""
    dilution: Dilution | None = None


class Displaced(Table):
    """A bottle of a sample in which reagents took the place of some of it, as for dissolved oxygen."""

    bottle: Volume
    """[cm³]"""
    reagents: Volume
    """Volume of the sample that the reagents pushed out [cm³]."""

    def _wrong(self) -> Iterator[str]:
        if self.reagents >= self.bottle:
            yield "reagents must be smaller than bottle"


class Flask(Solution):
    """What stands in the titration flask: a solution measured by pipette, or what was weighed.

    In a back titration it is the reagent that was left, or the unknown (see `Excess`). A standard that was weighed
    ([sample] mass) has no concentration.
    """

    aliquot: Volume | None = None
    """[cm³]; left out where what was weighed ([sample] mass) is itself in the flask."""
    dilution: Dilution | None = None
    displaced: Displaced | None = None
    """Where reagents took the place of some of the sample."""


class Sample(Measured):
    """What was weighed (or, for a back titration, measured by pipette) as the sample."""

    mass: Annotated[Decimal, Field(ge=Decimal("1e-9"), le=10**6)] | None = None
    """[g]"""
    volume: Volume | None = None
    """Volume of a liquid sample that is treated as a whole with the reagent in excess [cm³]."""
    made_up_to: Volume | None = None
    """Volume of solution made from what was weighed [cm³]; left out where the sample itself is treated with a reagent
    in excess, or is itself in the flask."""
    standard_uncertainty: Positive | None = None
    """Of the mass [g]."""
    items: Annotated[int, Field(ge=1, le=10_000)] | None = None
    """How many items (tablets) were weighed together."""
    purity: Annotated[Decimal, Field(gt=0, le=1)] | None = None
    """Mass fraction of a standard that was weighed; 1 where nothing is said."""
    purity_within: Annotated[Decimal, Field(ge=0, lt=1)] | None = None
    """± of the purity; as for a technician's standardisation where nothing is said."""

    def _wrong(self) -> Iterator[str]:
        counted = self.items is not None and self.volume is None
        if not counted and (self.mass is None) == (self.volume is None):
            yield "give the mass of a weighed sample in g, or the volume of a measured one in cm³"
        if self.volume is not None and self.made_up_to is not None:
            yield "made_up_to belongs to a weighed sample; that of a measured one is [flask] dilution"


class Blank(Table):
    """What is taken from every titre: what the titrant goes into without any sample.

    In a back titration it is what all of the reagent takes: the sample has saved the difference.
    """

    titre: Annotated[Decimal, Field(ge=0, le=100_000)]
    """[cm³]; titres and means stand in the class sheet as they were read."""
    runs: bool = False
    """Runs headed Blank initial and Blank final give it, the student's own or those of a row called Blank."""


class Excess(Solution):
    """A back titration: a reagent added in excess to the sample; the titration finds what was left of it.

    The practical's `equation` is then that of the titration (titrant and reagent), and there are two forms:

    - the sample itself is treated: `flask.solution` is the reagent, and `flask.aliquot` what is pipetted of the mixture
      once it is made up to the mark (`made_up_to`), or the volume added where all of the mixture is titrated;
    - a portion of the sample's solution is treated in every flask: `flask.solution` is the unknown, and
      `flask.aliquot` the portion; all of the flask is titrated.

    `solution` is a species of both equations; its concentration may be left out where a blank says what it takes.
    """

    equation: str
    """Of the reagent with the sample; must balance."""
    volume: Volume | None = None
    """Volume of it that is added [cm³]; may be left out as the concentration, and does not count then."""
    made_up_to: Volume | None = None
    """Volumetric flask that the mixture is made up in [cm³]; left out where all of the mixture is titrated."""
    flask_tolerance: Positive | None = None
    """Tolerance of that volumetric flask [cm³]; otherwise the class tells."""


class Result(Table):
    """What the student works out."""

    of: str
    """The unknown: a species of the equation (in a back titration of that in [excess])."""
    quantity: QuantityName = "amount concentration"
    significant_figures: Annotated[int, Field(ge=1, le=8)] = 3
    report_original: bool = True
    """Of the undiluted sample, where there is a dilution."""
    expressed_as: str | None = None
    """Formula whose molar mass is used, where it differs from `of` (FeSO4.7H2O for Fe2+); with a number before it so
    much of it stands for one of `of` (1/2 Fe2O3)."""
    unit: str | None = None
    """Unit that students write it in, of the quantity's family; where nothing is said, the quantity's own."""
    factor: Positive | None = None
    """What the result is multiplied by at the end (6.25 for protein from nitrogen)."""
    factor_name: str = "factor"
    ions: tuple[str, ...] | None = None
    """What a substance splits into, for a solubility product: ["Ca^2+", "2 OH^-"]; may be left out for Ca(OH)2."""
    nominal: Concentration | None = None
    """Concentration on the label [mol/dm³], for a titre factor."""
    molar_volume: Positive = Decimal("22.4")
    """Of a gas at 0 °C and 101.325 kPa [dm³/mol], for a volume strength."""

    @field_validator("unit")
    @classmethod
    def _with_plain_figures(cls, unit: str | None) -> str | None:
        return unit and unit.replace("³", "3").replace("^3", "3")


class Reference(Table):
    """The value the class is held against, in the unit of the result."""

    value: Positive | None = None
    standard_uncertainty: Annotated[Decimal, Field(ge=0)] | None = None
    by: str | None = None
    """Column of the class sheet whose entry chooses the reference."""
    values: dict[str, Positive] = Field(default_factory=dict)
    """Entry of that column -> reference value."""

    def _wrong(self) -> Iterator[str]:
        if self.by and not self.values:
            yield "by needs values, one for each entry of the column, as in values = { A = 0.1012 }"
        if self.values and not self.by:
            yield "values needs by, the column of the class sheet that chooses among them"
        if self.value is None and not self.values:
            yield "a reference needs a value (or by and values)"


def of_group(given: FromSheet | Reference, groups: Mapping[str, str]) -> Decimal | None:
    """Return the number of somebody's group, in any case; None where there is none. `groups` are theirs."""
    entry = groups.get(given.by or "", "").strip().casefold()
    return next((value for name, value in given.values.items() if name.strip().casefold() == entry), None)


Name = Annotated[str, Field(min_length=1, max_length=60)]


class Standardisation(Table):
    """The technician's runs: a weighed primary standard in the flask, the solution to be standardised in the burette.

    They give the concentration of the known solution (where the practical does not state it) and its uncertainty; or,
    where the solution is the unknown, the reference value.
    """

    standard: str
    """Formula of what was weighed, as in KHC8H4O4 or Na2CO3."""
    solution: str | None = None
    """Which solution was standardised: the known one where nothing is said, or the unknown."""
    equation: str = ""
    """Of the two; may be left out where the practical's own equation holds both."""
    masses: Annotated[tuple[Positive, ...], Field(min_length=1)]
    """Mass of primary standard for each run [g]; a single one where it was made up to the mark and pipetted."""
    titres: Annotated[tuple[Positive, ...], Field(min_length=1)]
    """Titre of each run [cm³]."""
    made_up_to: Positive | None = None
    """Volumetric flask that the standard was dissolved in [cm³]; left out where each run was weighed by itself."""
    aliquot: Positive | None = None
    """Pipette that took the portions from it [cm³]."""
    purity: Annotated[Decimal, Field(gt=0, le=1)] = Decimal(1)
    """Mass fraction of the primary standard."""
    purity_within: Annotated[Decimal, Field(ge=0, lt=1)] = PURITY_WITHIN
    """± of the purity; the usual 99.95 to 100.05 % of analytical grade where nothing is said (QUAM:2012, A2)."""
    weighing_within: Positive | None = None
    """± of one weighing [g]; one unit of the finest digit among the masses where nothing is said."""
    glass_class: GlassClass = Field("A", alias="class")
    """Class of the technician's burette, pipette and flask."""
    significant_figures: Annotated[int, Field(ge=3, le=8)] = 4
    """To how many the class was told the concentration."""

    def _wrong(self) -> Iterator[str]:
        if (self.made_up_to is None) != (self.aliquot is None):
            yield "made_up_to and aliquot belong together: give both, or neither"
        if self.made_up_to is not None and self.aliquot is not None and self.aliquot >= self.made_up_to:
            yield "made_up_to must be larger than aliquot"
        if self.made_up_to is not None and len(self.masses) != 1:
            yield f"made up to the mark there is one mass, found {len(self.masses)}"
        if self.made_up_to is None and len(self.masses) != len(self.titres):
            yield (
                f"each titre needs its mass: found {len(self.masses)} and {len(self.titres)}; "
                "give made_up_to and aliquot where one mass was made up and pipetted"
            )
