"""The marking scheme and the grades of a practical, as checked records."""

from collections.abc import Iterator
from decimal import Decimal
from difflib import get_close_matches
from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from labmark.practical.model import Positive, Table

CRITERIA = ("recording", "table", "titres", "concordance", "selection", "mean", "calculation", "figures", "accuracy")
"""The criteria that are marked from the class sheet, in the order of the work. Any others are the teacher's own."""

OF_RESULTS = ("calculation", "figures", "accuracy")
"""Criteria that look at a result, and so at each of several."""

BANDED = ("accuracy", "concordance")
"""Criteria that may have bands instead of one mark."""


class Band(Table):
    """Within so much of what is expected: so many marks."""

    within: Positive
    """Inclusive [cm³, or per cent]."""
    mark: Annotated[Decimal, Field(ge=0)]


class Criterion(Table):
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

    def _wrong(self) -> Iterator[str]:
        if self.by == "scheme" and self.criterion not in CRITERIA:
            near = get_close_matches(self.criterion, CRITERIA, 1, 0.0)
            yield (
                f"{self.criterion!r} is not a criterion that labmark marks; the nearest is {near[0]}. "
                'For one of your own add by = "teacher"'
            )
        if self.slip is not None and self.criterion != "calculation":
            yield f"slip belongs to calculation, not to {self.criterion}"
        if self.unit == "percent" and self.criterion != "accuracy":
            yield f"unit = percent belongs to accuracy; bands of {self.criterion} are in cm³"
        yield from self._wrong_marks()
        if self.result and self.criterion not in OF_RESULTS:
            yield f"result belongs to {', '.join(OF_RESULTS)}, not to {self.criterion}"

    def _wrong_marks(self) -> Iterator[str]:
        banded = self.criterion in BANDED and self.by == "scheme"
        if self.bands and not banded:
            yield f"{self.criterion} takes mark = N, not bands"
        if self.bands and self.mark is not None:
            yield "give mark or bands, not both"
        if not self.bands and self.mark is None:
            yield "needs mark = N" + (" or bands" if banded else "")
        if self.criterion == "accuracy" and banded and not self.bands:
            yield "accuracy needs bands, as in bands = [ { within = 0.20, mark = 3 } ], in a sheet 0.20: 3, 0.40: 2"
        limits = [band.within for band in self.bands]
        if limits != sorted(set(limits)):
            yield "bands must widen from the first to the last"
        if [band.mark for band in self.bands] != sorted((band.mark for band in self.bands), reverse=True):
            yield "a wider band cannot earn a higher mark"

    @property
    def out_of(self) -> Decimal:
        """Return the highest mark this criterion can earn."""
        return self.bands[0].mark if self.bands else self.mark or Decimal(0)

    @property
    def shown(self) -> str:
        """Return what people read: the title, or the name."""
        return self.title or self.criterion


class Grade(Table):
    """From so many per cent of the marks on: this grade."""

    at_least: Annotated[Decimal, Field(ge=0, le=100)]
    """Per cent of what the student is marked out of, inclusive."""
    grade: Annotated[str, Field(min_length=1, max_length=40)]

    @field_validator("grade", mode="before")
    @classmethod
    def _a_figure_too(cls, value: object) -> object:
        return str(value) if isinstance(value, (int, Decimal)) else value


def default_scheme() -> tuple[Criterion, ...]:
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
