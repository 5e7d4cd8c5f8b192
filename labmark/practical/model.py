"""The practical file as a checked record: every key of it, its meaning, unit and default.

Numbers are decimals exactly as written. Whether the parts fit together (equation, unknown, concentrations) is
looked at in `labmark.practical.load`.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

Positive = Annotated[Decimal, Field(gt=0)]

Quantity = Literal[
    "amount concentration",
    "mass concentration",
    "percent by mass",
    "percent mass by volume",
    "molar mass",
    "water of crystallisation",
    "mass",
]

CriterionName = Literal[
    "recording", "table", "titres", "concordance", "selection", "mean", "calculation", "figures", "accuracy"
]

CRITERIA: tuple[CriterionName, ...] = get_args(CriterionName)
"""The criteria of a marking scheme, in the order of the work."""

BANDED = ("accuracy", "concordance")
"""Criteria that may have bands instead of one mark."""


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True, str_strip_whitespace=True)


class Dilution(_Table):
    """A measured volume of the original made up to the mark."""

    taken: Positive
    """Volume of the original taken [cm³]."""
    made_up_to: Positive
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
    concentration: Positive | None = None
    """[mol/dm³]; left out where the burette holds the unknown."""
    standard_uncertainty: Positive | None = None
    """Of the concentration [mol/dm³]."""
    capacity: Positive = Decimal("50.0")
    """[cm³]"""
    division: Positive = Decimal("0.1")
    """Smallest division of the scale [cm³]."""
    glass_class: Literal["A", "B"] = Field("B", alias="class")
    tolerance: Positive | None = None
    """[cm³]; otherwise the class tells."""
    dilution: Dilution | None = None


class Flask(_Table):
    """The solution measured by pipette into the titration flask."""

    solution: str
    """A species of the equation."""
    aliquot: Positive
    """[cm³]"""
    concentration: Positive | None = None
    """[mol/dm³]; left out where the flask holds the unknown."""
    standard_uncertainty: Positive | None = None
    """Of the concentration [mol/dm³]."""
    glass_class: Literal["A", "B"] = Field("B", alias="class")
    tolerance: Positive | None = None
    """Of the pipette [cm³]; otherwise the class tells."""
    dilution: Dilution | None = None


class Sample(_Table):
    """A weighed solid that the unknown solution was made from."""

    mass: Positive
    """[g]"""
    made_up_to: Positive
    """Volume of solution made from it [cm³]."""
    standard_uncertainty: Positive | None = None
    """Of the mass [g]."""


class Result(_Table):
    """What the student works out."""

    of: str
    """The unknown: a species of the equation."""
    quantity: Quantity = "amount concentration"
    significant_figures: Annotated[int, Field(ge=1, le=8)] = 3
    report_original: bool = True
    """Of the undiluted sample, where there is a dilution."""
    expressed_as: str | None = None
    """Formula whose molar mass is used, where it differs from `of` (FeSO4.7H2O for Fe2+)."""


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


class Concordance(_Table):
    """When titres agree."""

    within: Positive = Decimal("0.10")
    """Largest minus smallest [cm³], inclusive."""
    at_least: Annotated[int, Field(ge=2, le=10)] = 2
    """How many runs must agree."""


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

    criterion: CriterionName
    mark: Annotated[Decimal, Field(gt=0)] | None = None
    bands: tuple[Band, ...] = ()
    unit: Literal["cm3", "percent"] = "cm3"

    @field_validator("unit", mode="before")
    @classmethod
    def _usual_spellings(cls, value: object) -> object:
        return {"cm³": "cm3", "%": "percent"}.get(value, value) if isinstance(value, str) else value

    @model_validator(mode="after")
    def _mark_or_bands(self) -> Criterion:
        if self.bands and self.criterion not in BANDED:
            raise ValueError(f"{self.criterion} takes mark = N, not bands")
        if self.bands and self.mark is not None:
            raise ValueError("give mark or bands, not both")
        if not self.bands and self.mark is None:
            raise ValueError("needs mark = N" + (" or bands" if self.criterion in BANDED else ""))
        if self.criterion == "accuracy" and not self.bands:
            raise ValueError("accuracy needs bands, as in bands = [ { within = 0.20, mark = 3 } ]")
        limits = [band.within for band in self.bands]
        if limits != sorted(set(limits)):
            raise ValueError("bands must widen from the first to the last")
        if [band.mark for band in self.bands] != sorted((band.mark for band in self.bands), reverse=True):
            raise ValueError("a wider band cannot earn a higher mark")
        return self

    @property
    def out_of(self) -> Decimal:
        """Return the highest mark this criterion can earn."""
        return self.bands[0].mark if self.bands else self.mark or Decimal(0)


def _default_scheme() -> tuple[Criterion, ...]:
    """Return the scheme of a practical that gives none (common practice, no source)."""
    bands = tuple(
        Band(within=Decimal(within), mark=Decimal(mark)) for within, mark in (("0.20", 3), ("0.40", 2), ("0.60", 1))
    )
    ones: tuple[CriterionName, ...] = ("recording", "table", "titres", "concordance", "selection", "mean")
    return (
        *(Criterion(criterion=name, mark=Decimal(1)) for name in ones),
        Criterion(criterion="calculation", mark=Decimal(2)),
        Criterion(criterion="figures", mark=Decimal(1)),
        Criterion(criterion="accuracy", bands=bands),
    )


class PracticalFile(_Table):
    """A practical as its file says it."""

    title: str
    equation: str
    indicator: str = ""
    cautions: tuple[str, ...] = ()
    """Added to the usual ones."""
    burette: Burette
    flask: Flask
    sample: Sample | None = None
    result: Result
    reference: Reference | None = None
    concordance: Concordance = Concordance()
    scores: Scores = Scores()
    marks: tuple[Criterion, ...] = Field(default_factory=_default_scheme)
    columns: dict[str, str] = Field(default_factory=dict)
    """The teacher's own reading of the class sheet's headings."""

    @model_validator(mode="after")
    def _each_criterion_once(self) -> PracticalFile:
        names = [each.criterion for each in self.marks]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"marks: {', '.join(twice)} stands twice; each criterion stands once")
        return self
