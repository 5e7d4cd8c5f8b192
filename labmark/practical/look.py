"""How it looks: the table [sheet] of a practical, for what students read."""

from __future__ import annotations

from typing import Annotated, Literal, get_args

from pydantic import Field, field_validator, model_validator

from labmark.places import languages
from labmark.practical.model import Table

Part = Literal["summary", "comment", "readings", "titres", "answers", "working", "marks", "advice", "class", "cautions"]
"""What stands on a student's sheet below the name."""


class Sheet(Table):
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

    @model_validator(mode="after")
    def _one_size(self) -> Sheet:
        if self.slips and self.size == "large":
            raise ValueError("slips are small: take them out, or large print")
        return self

    @field_validator("language")
    @classmethod
    def _there(cls, language: str) -> str:
        if language not in languages():
            raise ValueError(f"{language!r} is not there yet; there is {', '.join(map(repr, languages()))}")
        return language
