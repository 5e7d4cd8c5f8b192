"""The practical file as a checked record: every key of it, its meaning, unit and default.

Numbers are decimals exactly as written. Whether the parts fit together (equation, unknown, concentrations) is
looked at in `labmark.practical.load`.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from difflib import get_close_matches
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, field_validator, model_validator
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

CRITERIA = ("recording", "table", "titres", "concordance", "selection", "mean", "calculation", "figures", "accuracy")
"""The criteria that are marked from the class sheet, in the order of the work. Any others are the teacher's own."""

OF_RESULTS = ("calculation", "figures", "accuracy")
"""Criteria that look at a result, and so at each of several."""

BANDED = ("accuracy", "concordance")
"""Criteria that may have bands instead of one mark."""


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True, str_strip_whitespace=True)


class FromSheet(_Table):
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

    @model_validator(mode="after")
    def _column_or_groups(self) -> FromSheet:
        if (self.column is None) == (self.by is None):
            raise ValueError("give column, a heading of the class sheet, or by and values for groups, and not both")
        if (self.by is None) != (not self.values):
            raise ValueError('by and values belong together, as in by = "Bottle", values = { A = 0.0987, B = 0.1012 }')
        if self.minus is not None and self.column is None:
            raise ValueError("minus needs column, the heading of what it is taken from")
        return self


class Dilution(_Table):
    """A measured volume of the original made up to the mark."""

    taken: Volume
    """Volume of the original taken [cm³]."""
    made_up_to: Volume
    """Volume of the flask it was made up in [cm³]."""
    glass_class: Literal["A", "B"] = Field("B", alias="class")
    """Class of the pipette and the flask."""
    tolerance: Positive | None = None
    """Tolerance of the pipette [cm³]; otherwise the class tells."""
    flask_tolerance: Positive | None = None
    """Tolerance of the volumetric flask [cm³]; otherwise the class tells."""

    @model_validator(mode="after")
    def _larger_flask(self) -> Dilution:
        if self.made_up_to <= self.taken:
            raise ValueError("made_up_to must be larger than taken: a dilution makes the volume larger")
        return self


class Burette(_Table):
    """The titrant and the burette it stands in."""

    solution: str
    """A species of the equation."""
    gives: str = ""
    """What of the equations it brings, where that is not plain: 2 H^+; with several titres only."""
    concentration: Concentration | None = None
    """[mol/dm³]; left out where the burette holds the unknown."""
    standard_uncertainty: Positive | None = None
    """Of the concentration [mol/dm³]."""
    capacity: ExactVolume = Decimal("50.0")
    """[cm³]"""
    division: ExactVolume = Decimal("0.1")
    """Smallest division of the scale [cm³]."""
    glass_class: Literal["A", "B"] = Field("B", alias="class")
    tolerance: Positive | None = None
    """[cm³]; otherwise the class tells."""
    dilution: Dilution | None = None


class Displaced(_Table):
    """A bottle of a sample in which reagents took the place of some of it, as for dissolved oxygen."""

    bottle: Volume
    """[cm³]"""
    reagents: Volume
    """Volume of the sample that the reagents pushed out [cm³]."""

    @model_validator(mode="after")
    def _something_left(self) -> Displaced:
        if self.reagents >= self.bottle:
            raise ValueError("reagents must be smaller than bottle")
        return self


class Flask(_Table):
    """What stands in the titration flask: a solution measured by pipette, or what was weighed."""

    solution: str
    """A species of the equation; in a back titration the reagent that was left, or the unknown (see `Excess`)."""
    aliquot: Volume | None = None
    """[cm³]; left out where what was weighed ([sample] mass) is itself in the flask."""
    concentration: Concentration | None = None
    """[mol/dm³]; left out where the flask holds the unknown, or a standard that was weighed ([sample] mass)."""
    standard_uncertainty: Positive | None = None
    """Of the concentration [mol/dm³]."""
    glass_class: Literal["A", "B"] = Field("B", alias="class")
    tolerance: Positive | None = None
    """Of the pipette [cm³]; otherwise the class tells."""
    dilution: Dilution | None = None
    displaced: Displaced | None = None
    """Where reagents took the place of some of the sample."""


class Sample(_Table):
    """What was weighed (or, for a back titration, measured) as the sample."""

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
    glass_class: Literal["A", "B"] = Field("B", alias="class")
    """Class of the pipette that measured a liquid sample."""
    tolerance: Positive | None = None
    """Tolerance of that pipette [cm³]; otherwise the class tells."""

    @model_validator(mode="after")
    def _weighed_or_measured(self) -> Sample:
        counted = self.items is not None and self.volume is None
        if not counted and (self.mass is None) == (self.volume is None):
            raise ValueError("give the mass of a weighed sample in g, or the volume of a measured one in cm³")
        if self.volume is not None and self.made_up_to is not None:
            raise ValueError("made_up_to belongs to a weighed sample; that of a measured one is [flask] dilution")
        return self


class Blank(_Table):
    """What is taken from every titre: what the titrant goes into without any sample.

    In a back titration it is what all of the reagent takes: the sample has saved the difference.
    """

    titre: Annotated[Decimal, Field(ge=0, le=100_000)]
    """[cm³]; titres and means stand in the class sheet as they were read."""
    runs: bool = False
    """Runs headed Blank initial and Blank final give it, the student's own or those of a row called Blank."""


class Excess(_Table):
    """A back titration: a reagent added in excess to the sample; the titration finds what was left of it.

    The practical's `equation` is then that of the titration (titrant and reagent), and there are two forms:

    - the sample itself is treated: `flask.solution` is the reagent, and `flask.aliquot` what is pipetted of the mixture
      once it is made up to the mark (`made_up_to`), or the volume added where all of the mixture is titrated;
    - a portion of the sample's solution is treated in every flask: `flask.solution` is the unknown, and
      `flask.aliquot` the portion; all of the flask is titrated.
    """

    solution: str
    """The reagent in excess: a species of both equations."""
    equation: str
    """Of the reagent with the sample; must balance."""
    concentration: Concentration | None = None
    """Of the reagent [mol/dm³]; may be left out where a blank says what it takes, and then does not count."""
    volume: Volume | None = None
    """Volume of it that is added [cm³]; the same holds for it."""
    standard_uncertainty: Positive | None = None
    """Of the concentration [mol/dm³]."""
    made_up_to: Volume | None = None
    """Volumetric flask that the mixture is made up in [cm³]; left out where all of the mixture is titrated."""
    glass_class: Literal["A", "B"] = Field("B", alias="class")
    """Class of the pipette that the reagent is measured with, and of the volumetric flask of the mixture."""
    tolerance: Positive | None = None
    """Tolerance of that pipette [cm³]; otherwise the class tells."""
    flask_tolerance: Positive | None = None
    """Tolerance of that volumetric flask [cm³]; otherwise the class tells."""


class Result(_Table):
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


class Reference(_Table):
    """The value the class is held against, in the unit of the result."""

    value: Positive | None = None
    standard_uncertainty: Annotated[Decimal, Field(ge=0)] | None = None
    by: str | None = None
    """Column of the class sheet whose entry chooses the reference."""
    values: dict[str, Positive] = Field(default_factory=dict)
    """Entry of that column -> reference value."""

    @model_validator(mode="after")
    def _one_or_many(self) -> Reference:
        if self.by and not self.values:
            raise ValueError("by needs values, one for each entry of the column, as in values = { A = 0.1012 }")
        if self.values and not self.by:
            raise ValueError("values needs by, the column of the class sheet that chooses among them")
        if self.value is None and not self.values:
            raise ValueError("a reference needs a value (or by and values)")
        return self


Name = Annotated[str, Field(min_length=1, max_length=60)]


class NamedResult(Result):
    """One of several results of a practical."""

    name: Name
    """The class sheet's column is `Result NAME`."""
    reference: Reference | None = None


class Endpoint(_Table):
    """One of several endpoints of a run, in order."""

    name: Name
    """Heading of its reading in the class sheet."""
    equations: Annotated[tuple[str, ...], Field(min_length=1)]
    """What happens up to it from the endpoint before, side by side."""
    indicator: str = ""


class Titration(_Table):
    """One of several titrations of a sample; what is left out is taken from the practical."""

    name: Name
    """Under it stand its runs in the class sheet."""
    equations: tuple[str, ...] = ()
    """What happens in it, side by side."""
    equation: str | tuple[str, ...] = ()
    """Instead of these a chain, from the sample to the titrant."""
    through: tuple[str, ...] = ()
    count: tuple[str, ...] = ()
    """Which unknowns it finds together, where the equations alone do not say so."""
    indicator: str = ""
    burette: Burette
    flask: Flask
    blank: Blank | None = None

    @model_validator(mode="after")
    def _one_kind_of_equations(self) -> Titration:
        if bool(self.equations) == bool(self.equation):
            raise ValueError("give equations, side by side, or equation, one or a chain, and not both")
        return self


class Standardisation(_Table):
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
    glass_class: Literal["A", "B"] = Field("A", alias="class")
    """Class of the technician's burette, pipette and flask."""
    significant_figures: Annotated[int, Field(ge=3, le=8)] = 4
    """To how many the class was told the concentration."""

    @model_validator(mode="after")
    def _one_mass_or_many(self) -> Standardisation:
        if (self.made_up_to is None) != (self.aliquot is None):
            raise ValueError("made_up_to and aliquot belong together: give both, or neither")
        if self.made_up_to is not None and self.aliquot is not None and self.aliquot >= self.made_up_to:
            raise ValueError("made_up_to must be larger than aliquot")
        if self.made_up_to is not None and len(self.masses) != 1:
            raise ValueError(f"made up to the mark there is one mass, found {len(self.masses)}")
        if self.made_up_to is None and len(self.masses) != len(self.titres):
            raise ValueError(
                f"each titre needs its mass: found {len(self.masses)} and {len(self.titres)}; "
                "give made_up_to and aliquot where one mass was made up and pipetted"
            )
        return self


class Uncertainty(_Table):
    """What the uncertainty budget takes for granted."""

    glassware: Literal["triangular", "rectangular"] = "triangular"
    """Law of glassware within its tolerance: triangular as makers aim at the middle; rectangular for old glass."""
    drop: Positive = Decimal("0.05")
    """Volume of a drop [cm³]: how far the endpoint may be out."""


class Concordance(_Table):
    """When titres agree."""

    within: ExactVolume = Decimal("0.10")
    """Largest minus smallest [cm³], inclusive."""
    at_least: Annotated[int, Field(ge=2, le=10)] = 2
    """How many runs must agree."""
    of: Literal["titre", "result"] | None = None
    """What must agree; where nothing is said the results where a run owns a number, and else the titres."""
    within_percent: Annotated[Decimal, Field(gt=0, le=100)] = Decimal("0.5")
    """Of results: largest minus smallest, in per cent of their mean, inclusive."""


class Scores(_Table):
    """The spread that z is measured in; 1 % of the reference where nothing is said."""

    sigma: Positive | None = None
    """Standard deviation for the score, in the unit of the result."""
    sigma_percent: Positive = Decimal("1")
    """The same in per cent of the reference, used where `sigma` is not given."""


class Band(_Table):
    """Within so much of what is expected: so many marks."""

    within: Positive
    """Inclusive [cm³, or per cent]."""
    mark: Annotated[Decimal, Field(ge=0)]


class Criterion(_Table):
    """One line of the marking scheme."""

    criterion: Annotated[str, Field(min_length=1, max_length=80)]
    """One of `CRITERIA`; or, marked by the teacher, any name."""
    result: str = ""
    """Which of several results it looks at; all of them where nothing is said."""
    title: Annotated[str, Field(max_length=80)] = ""
    """Shown to people instead of the name."""
    by: Literal["scheme", "teacher"] = "scheme"
    """Who marks it: until the teacher has, the mark is pending."""
    mark: Annotated[Decimal, Field(gt=0)] | None = None
    slip: Positive | None = None
    """What each named slip in the calculation costs; 1 where nothing is said, and only for `calculation`."""
    bands: tuple[Band, ...] = ()
    unit: Literal["cm3", "percent"] = "cm3"

    @field_validator("unit", mode="before")
    @classmethod
    def _usual_spellings(cls, value: object) -> object:
        return {"cm³": "cm3", "%": "percent"}.get(value, value) if isinstance(value, str) else value

    @model_validator(mode="before")
    @classmethod
    def _a_slip_costs_one(cls, table: object) -> object:
        own = isinstance(table, dict) and table.get("criterion") == "calculation"
        return {"slip": Decimal(1)} | table if own and isinstance(table, dict) else table

    @model_validator(mode="after")
    def _known_or_the_teachers(self) -> Criterion:
        if self.by == "scheme" and self.criterion not in CRITERIA:
            near = get_close_matches(self.criterion, CRITERIA, 1, 0.0)
            raise ValueError(
                f"{self.criterion!r} is not a criterion that labmark marks; the nearest is {near[0]}. "
                'For one of your own add by = "teacher"'
            )
        if self.slip is not None and self.criterion != "calculation":
            raise ValueError(f"slip belongs to calculation, not to {self.criterion}")
        return self

    @model_validator(mode="after")
    def _mark_or_bands(self) -> Criterion:
        banded = self.criterion in BANDED and self.by == "scheme"
        if self.bands and not banded:
            raise ValueError(f"{self.criterion} takes mark = N, not bands")
        if self.bands and self.mark is not None:
            raise ValueError("give mark or bands, not both")
        if not self.bands and self.mark is None:
            raise ValueError("needs mark = N" + (" or bands" if banded else ""))
        if self.criterion == "accuracy" and banded and not self.bands:
            raise ValueError("accuracy needs bands, as in bands = [ { within = 0.20, mark = 3 } ]")
        limits = [band.within for band in self.bands]
        if limits != sorted(set(limits)):
            raise ValueError("bands must widen from the first to the last")
        if [band.mark for band in self.bands] != sorted((band.mark for band in self.bands), reverse=True):
            raise ValueError("a wider band cannot earn a higher mark")
        return self

    @model_validator(mode="after")
    def _of_a_result(self) -> Criterion:
        if self.result and self.criterion not in OF_RESULTS:
            raise ValueError(f"result belongs to {', '.join(OF_RESULTS)}, not to {self.criterion}")
        return self

    @property
    def out_of(self) -> Decimal:
        """Return the highest mark this criterion can earn."""
        return self.bands[0].mark if self.bands else self.mark or Decimal(0)

    @property
    def shown(self) -> str:
        """Return what people read: the title, or the name."""
        return self.title or self.criterion


class Grade(_Table):
    """From so many per cent of the marks on: this grade."""

    at_least: Annotated[Decimal, Field(ge=0, le=100)]
    """Per cent of what the student is marked out of, inclusive."""
    grade: Annotated[str, Field(min_length=1, max_length=40)]

    @field_validator("grade", mode="before")
    @classmethod
    def _a_figure_too(cls, value: object) -> object:
        return str(value) if isinstance(value, (int, Decimal)) else value


def _default_scheme() -> tuple[Criterion, ...]:
    """Return the scheme of a practical that gives none (common practice, no source)."""
    bands = tuple(
        Band(within=Decimal(within), mark=Decimal(mark)) for within, mark in (("0.20", 3), ("0.40", 2), ("0.60", 1))
    )
    return (
        *(Criterion(criterion=name, mark=Decimal(1)) for name in CRITERIA[:6]),
        Criterion(criterion="calculation", mark=Decimal(2)),
        Criterion(criterion="figures", mark=Decimal(1)),
        Criterion(criterion="accuracy", bands=bands),
    )


class Students(_Table):
    """Who is marked."""

    attempt: Literal["latest", "best", "each"] = "latest"
    """Which of several attempts of one student counts."""


def filled_in(table: Mapping[str, Any]) -> dict[str, Any]:
    """Return the table of a practical in which what each of several titres shares with the practical stands in it.

    And the other way round: what a practical with several titres or results leaves out is that of the first.
    """
    made = dict(table)
    titrations = _tables(made.get("titrations"))
    if titrations:
        shared = {key: made[key] for key in ("burette", "flask", "blank") if isinstance(made.get(key), dict)}
        made["titrations"] = [
            {**each, **{key: {**inner, **(each.get(key) or {})} for key, inner in shared.items()}}
            for each in titrations
        ]
    for first in (*_tables(made.get("titrations"))[:1], *_tables(made.get("endpoints"))[:1]):
        made |= {key: first[key] for key in ("burette", "flask") if key in first and key not in made}
        made.setdefault("equation", first.get("equations") or first.get("equation") or "")
    results = _tables(made.get("results"))
    if results:
        kept = {key: value for key, value in results[0].items() if key not in ("name", "reference")}
        made.setdefault("result", kept)
        if results[0].get("reference") is not None:
            made.setdefault("reference", results[0]["reference"])
    return made


def _tables(value: object) -> list[dict[str, Any]]:
    """Return a list of tables; empty where it is none, which is then said of the key itself."""
    return list(value) if isinstance(value, (list, tuple)) and all(isinstance(each, dict) for each in value) else []


class PracticalFile(_Table):
    """A practical as its file says it."""

    title: str
    equation: str | tuple[str, ...]
    """Of the titration, or a chain of them from the sample to the titrant; in a back titration of the titrant with the
    reagent that was left. With several titres the equations of the first."""
    through: tuple[str, ...] = ()
    """What joins each equation of a chain to the next, where more than one species would fit."""
    indicator: str = ""
    cautions: tuple[str, ...] = ()
    """Added to the usual ones."""
    burette: Burette
    flask: Flask
    sample: Sample | None = None
    excess: Excess | None = None
    blank: Blank | None = None
    endpoints: tuple[Endpoint, ...] = ()
    titrations: tuple[Titration, ...] = ()
    result: Result
    """With several results the first."""
    results: tuple[NamedResult, ...] = ()
    reference: Reference | None = None
    standardisation: Standardisation | None = None
    concordance: Concordance = Concordance()
    uncertainty: Uncertainty = Uncertainty()
    scores: Scores = Scores()
    students: Students = Students()
    marks: tuple[Criterion, ...] = Field(default_factory=_default_scheme)
    grades: tuple[Grade, ...] = ()
    pka: dict[str, AcidConstant | tuple[AcidConstant, ...]] = Field(default_factory=dict)
    """Formula of an acid or base -> its acid constants as pKa, the strongest hydrogen first, instead of the table's."""
    advice: Advice = Field(default_factory=dict)
    """Finding -> the teacher's own words on what to do next time, instead of labmark's."""
    columns: dict[str, str] = Field(default_factory=dict)
    """The teacher's own reading of the class sheet's headings."""

    @model_validator(mode="before")
    @classmethod
    def _filled_in(cls, table: object) -> object:
        return filled_in(table) if isinstance(table, dict) else table

    @field_validator("grades")
    @classmethod
    def _best_first(cls, grades: tuple[Grade, ...]) -> tuple[Grade, ...]:
        if len({each.at_least for each in grades}) < len(grades):
            raise ValueError("two grades begin at the same per cent")
        return tuple(sorted(grades, key=lambda each: -each.at_least))

    @model_validator(mode="after")
    def _each_criterion_once(self) -> PracticalFile:
        names = [f"{each.criterion} {each.result}".strip().casefold() for each in self.marks]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"marks: {', '.join(twice)} stands twice; each criterion stands once")
        return self
