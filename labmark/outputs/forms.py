"""Units and decimal marks as a school writes them: one function that every text for students passes through at the end.

    >>> Forms("mL", "mol/L", ",")("24.35 cm³ of 0.100 mol/dm³, so 4.00 g/dm³")
    '24,35 mL of 0,100 mol/L, so 4,00 g/L'

What the teacher or a student typed stays as it is.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from labmark.practical.look import Sheet
from labmark.units import shown_unit

Tree = Mapping[str, Any]
_UNITS = re.compile(r"mol([²³⁴⁵⁶]?)/dm(?:³|⁶|⁹|¹²|¹⁵|¹⁸)|[cd]m³")
_NUMBER = re.compile(r"(?<![\w.,])(\d+)\.(\d+)(?!\.?\d)")
_NUMBERS = re.compile(r"(\d,\d+), (?=\d)")
_LITRE = {"": "L", "²": "L²", "³": "L³", "⁴": "L⁴", "⁵": "L⁵", "⁶": "L⁶"}
_OURS = ("derived", "unit")
"""Parts of a practical's tree that are not typed."""


@dataclass(frozen=True)
class Forms:
    """How volumes, concentrations and numbers are written."""

    volume: str = "cm3"
    concentration: str = "mol/dm3"
    decimal: str = "."
    typed: frozenset[str] = frozenset()
    """Texts that somebody typed."""

    @classmethod
    def of(cls, look: Tree, typed: Iterable[str]) -> Forms:
        """Return the forms of a table [sheet], for texts that hold `typed`."""
        return cls(look["volume"], look["concentration"], look["decimal"], frozenset(typed) - {""})

    def __call__(self, text: str) -> str:
        """Return a text in these forms; what was typed, or is quoted, stays, by itself and within a sentence."""
        if self.are_usual:
            return text
        return "".join(part if place % 2 else self._formed(part) for place, part in enumerate(self._kept.split(text)))

    @property
    def are_usual(self) -> bool:
        """Return whether they are those that every text has to begin with."""
        return (self.volume, self.concentration, self.decimal) == ("cm3", "mol/dm3", ".")

    @cached_property
    def _kept(self) -> re.Pattern[str]:
        """What stays: quotations, and what was typed, the longest first."""
        typed = sorted((each for each in self.typed if self._formed(each) != each), key=lambda each: (-len(each), each))
        return re.compile("|".join(["(“[^”]*”", *(rf"(?<!\w){re.escape(each)}(?!\w)" for each in typed)]) + ")")

    def all(self, data: Any) -> Any:
        """Return data with every text in these forms, keys too."""
        if isinstance(data, str):
            return self(data)
        if isinstance(data, Mapping):
            return {self(key): self.all(value) for key, value in data.items()}
        return [self.all(value) for value in data] if isinstance(data, list | tuple) else data

    def _formed(self, text: str) -> str:
        text = _UNITS.sub(lambda unit: self._unit(unit[0], unit[1]), text)
        if self.decimal == ".":
            return text
        # Between numbers with commas a comma would be read as another of them.
        return _NUMBERS.sub(r"\1; ", _NUMBER.sub(r"\1,\2", text))

    def _unit(self, unit: str, power: str | None) -> str:
        if power is None:
            return unit if self.volume == "cm3" else {"cm³": "mL", "dm³": "L"}[unit]
        if self.concentration == "mol/dm3":
            return unit
        return f"M{power}" if self.concentration == "M" else f"mol{power}/{_LITRE[power]}"


def look_of(tree: Tree) -> Tree:
    """Return the table [sheet] of a class, defaults filled in."""
    return {**Sheet().model_dump(), **(tree["practical"].get("sheet") or {})}


def forms_of(tree: Tree) -> Forms:
    """Return the forms that a class is shown in."""
    practical, look = tree["practical"], look_of(tree)
    unit, ours = practical["result"].get("unit") or "", practical["derived"].get("cautions", ())
    typed = set(texts_in({key: part for key, part in practical.items() if key not in _OURS})) - {*ours}
    for one in tree["students"]:
        typed |= {one["student"], one.get("comment", ""), *texts_in(one["groups"])}
    # A concentration that was asked for in mol/dm³ is one that [sheet] may write in another way.
    typed |= set() if unit.startswith("mol") else {shown_unit(unit)}
    return Forms.of(look, typed)


def texts_in(data: Any) -> Iterator[str]:
    """Yield every text in data, headings of tables too."""
    if isinstance(data, str):
        yield data
    elif isinstance(data, Mapping):
        yield from (each for pair in data.items() for part in pair for each in texts_in(part))
    elif isinstance(data, list | tuple):
        yield from (each for part in data for each in texts_in(part))
