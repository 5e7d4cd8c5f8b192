"""The practical file as a whole: its tables, how sheets look, and what one of several titres has of the practical."""

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Annotated, Any, Literal, TypeVar, get_args

from pydantic import Discriminator, Field, Tag, field_validator, model_validator

import labmark.practical.model as model
from labmark.places import languages
from labmark.practical.scheme import Criterion, Grade, default_scheme

Part = Literal["summary", "comment", "readings", "titres", "answers", "working", "marks", "advice", "class", "cautions"]
"""What stands on a student's sheet below the name."""

Each = TypeVar("Each")
FORMS = ("(one)", "(several)")
"""What pydantic calls one value and a list of them among the keys that lead to a mistake."""
OneOrMore = Annotated[
    Annotated[Each, Tag(FORMS[0])] | Annotated[tuple[Each, ...], Tag(FORMS[1])],
    Discriminator(lambda given: FORMS[isinstance(given, (list, tuple)) and given != []]),
]


class Sheet(model.Table):
    """How it looks: what students read."""

    parts: tuple[Part, ...] = get_args(Part)
    """What stands on a student's sheet, in order."""
    language: str = "en"
    volume: Literal["cm3", "mL"] = "cm3"
    concentration: Literal["mol/dm3", "mol/L", "M"] = "mol/dm3"
    decimal: Literal[".", ","] = "."
    paper: Literal["A4", "letter"] = "A4"
    size: Literal["normal", "large"] = "normal"
    """Large: 18 pt, as many pages as it takes."""
    slips: bool = False
    """Two small slips a page, with what matters most, for a class that prints little."""
    class_strip: bool = True
    """The results of the class without names, with the student's own among them."""
    school: Annotated[str, Field(max_length=120)] = ""
    """A line at the foot."""
    progress: bool = False
    """With the cohort: how the work has changed since earlier practicals."""

    def _wrong(self) -> Iterator[str]:
        if self.slips and self.size == "large":
            yield "slips are small: take them out, or large print"

    @field_validator("language")
    @classmethod
    def _there(cls, language: str) -> str:
        if language not in languages():
            raise ValueError(f"{language!r} is not there yet; there is {', '.join(map(repr, languages()))}")
        return language


class NamedResult(model.Result):
    """One of several results of a practical."""

    name: model.Name
    """The class sheet's column is `Result NAME`."""
    reference: model.Reference | None = None


class Endpoint(model.Table):
    """One of several endpoints of a run, in order."""

    name: model.Name
    """Heading of its reading in the class sheet."""
    equations: Annotated[tuple[str, ...], Field(min_length=1)]
    """What happens up to it from the endpoint before, side by side."""
    indicator: str = ""


class Titration(model.Table):
    """One of several titrations of a sample; what is left out is taken from the practical."""

    name: model.Name
    """Under it stand its runs in the class sheet."""
    equations: tuple[str, ...] = ()
    """What happens in it, side by side."""
    equation: OneOrMore[str] = ()
    """Instead of these a chain, from the sample to the titrant."""
    through: tuple[str, ...] = ()
    count: tuple[str, ...] = ()
    """Which unknowns it finds together, where the equations alone do not say so."""
    indicator: str = ""
    burette: model.Burette
    flask: model.Flask
    blank: model.Blank | None = None

    def _wrong(self) -> Iterator[str]:
        if bool(self.equations) == bool(self.equation):
            yield "give equations, side by side, or equation, one or a chain, and not both"


class Uncertainty(model.Table):
    """What the uncertainty budget takes for granted."""

    glassware: Literal["triangular", "rectangular"] = "triangular"
    """Law of glassware within its tolerance: triangular as makers aim at the middle; rectangular for old glass."""
    drop: model.Positive = Decimal("0.05")
    """Volume of a drop [cm³]: how far the endpoint may be out."""


class Concordance(model.Table):
    """When titres agree."""

    within: model.ExactVolume = Decimal("0.10")
    """Largest minus smallest [cm³], inclusive."""
    at_least: Annotated[int, Field(ge=2, le=10)] = 2
    """How many runs must agree."""
    of: Literal["titre", "result"] | None = None
    """What must agree; where nothing is said the results where a run owns a number, and else the titres."""
    within_percent: Annotated[Decimal, Field(gt=0, le=100)] = Decimal("0.5")
    """Of results: largest minus smallest, in per cent of their mean, inclusive."""


class Scores(model.Table):
    """The spread that z is measured in; 1 % of the reference where nothing is said."""

    sigma: model.Positive | None = None
    """Standard deviation for the score, in the unit of the result."""
    sigma_percent: model.Positive = Decimal("1")
    """The same in per cent of the reference, used where `sigma` is not given."""


class Students(model.Table):
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
    for first in _tables(made.get("results"))[:1]:
        made.setdefault("result", {key: value for key, value in first.items() if key not in ("name", "reference")})
        made.setdefault("reference", first.get("reference"))
    return made


def _tables(value: object) -> list[dict[str, Any]]:
    """Return a list of tables; empty where it is none, which is then said of the key itself."""
    return list(value) if isinstance(value, (list, tuple)) and all(isinstance(each, dict) for each in value) else []


class PracticalFile(model.Table):
    """A practical as its file says it."""

    title: Annotated[str, Field(max_length=300)]
    equation: OneOrMore[str]
    """Of the titration, or a chain of them from the sample to the titrant; in a back titration of the titrant with the
    reagent that was left. With several titres the equations of the first."""
    through: tuple[str, ...] = ()
    """What joins each equation of a chain to the next, where more than one species would fit."""
    indicator: str = ""
    cautions: tuple[str, ...] = ()
    """Added to the usual ones."""
    burette: model.Burette
    flask: model.Flask
    sample: model.Sample | None = None
    excess: model.Excess | None = None
    blank: model.Blank | None = None
    endpoints: tuple[Endpoint, ...] = ()
    titrations: tuple[Titration, ...] = ()
    result: model.Result
    """With several results the first."""
    results: tuple[NamedResult, ...] = ()
    reference: model.Reference | None = None
    standardisation: model.Standardisation | None = None
    concordance: Concordance = Concordance()
    uncertainty: Uncertainty = Uncertainty()
    scores: Scores = Scores()
    students: Students = Students()
    marks: tuple[Criterion, ...] = Field(default_factory=default_scheme)
    grades: tuple[Grade, ...] = ()
    pka: dict[str, OneOrMore[model.AcidConstant]] = Field(default_factory=dict)
    """Formula of an acid or base -> its acid constants as pKa, the strongest hydrogen first, instead of the table's."""
    sheet: Sheet = Sheet()
    advice: model.Advice = Field(default_factory=dict)
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

    def _wrong(self) -> Iterator[str]:
        names = [f"{each.criterion} {each.result}".strip().casefold() for each in self.marks]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            yield f"marks: {', '.join(twice)} stands twice; each criterion stands once"
