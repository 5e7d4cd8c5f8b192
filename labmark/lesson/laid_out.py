"""The class sheet laid out: what stands below each heading, or is filled in. Pure; what writes files only draws it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from labmark.lesson.columns import Column
from labmark.lesson.roll import NAME, Roll

FORMATS = {"reading": "0.00", "titre": "0.00", "group": "@", "result": "@"}
"""What a cell holds -> its number format. A result is text, so that zeros at its end stay (0.0970)."""
WIDTHS = {NAME: 24.0, "Email": 26.0, "tick": 7.0, "reading": 8.5, "titre": 8.5}
"""Width of a column [characters] by its heading or what it holds."""
USUAL_WIDTH = 11.0
OF_PRACTICAL = {"Key": 29.0, "Value": 42.0, "For the technician": 32.0}
"""Headings of its own sheet -> width of the column [characters]."""
FOUND_OUT = re.compile(
    r"(reference|standardisation)\.(?!by$).*|.*\.concentration(\.values\..*)?|.*\.standard_uncertainty|blank\.titre"
)
"""Keys whose values the technician finds out."""
OFFERED = {
    "reference.value": "What the students should find, from your trial, in the unit of the result.",
    "standardisation.standard": "What you weighed, as in KHC8H4O4; what it gives counts for a blank concentration.",
    "standardisation.equation": "Standard and solution; blank where the equation above holds both.",
    "standardisation.masses": "Mass in each run, in g, as in 0.4012; 0.4050; 0.3987.",
    "standardisation.titres": "Titre of each run, in cm³, as in 19.25; 19.40; 19.15.",
}
"""Keys that are there to be filled in, where the practical has no such table, with what belongs there."""
LINE = 15.0
"""Height of a line of text [points]."""
DEFERS = "Your local risk assessment, the safety data sheets and whoever is in charge decide about work at the bench."


@dataclass(frozen=True, slots=True)
class Rule:
    """What a cell may hold. All else is questioned, not barred: a burette filled again has two pairs of readings."""

    error: str = ""
    """What is said of anything else; where it is empty, anything may stand there."""
    most: Decimal | None = None
    """Greatest number; the least is 0."""
    choices: tuple[str, ...] = ()
    """Words to choose from; where there are none, a number is expected."""


@dataclass(frozen=True, slots=True)
class Laid:
    """A column of the sheet."""

    heading: str
    texts: tuple[str, ...]
    """A text for each student; empty where the cell is to be filled in."""
    width: float
    """[characters]"""
    shown: str = "General"
    """Number format of the cells to be filled in."""
    what: str = ""
    """What belongs there, for whoever stands in the cell."""
    rule: Rule | None = None


Entry = tuple[str, object, str]
"""Key, value, note. What is the technician's has a note, and what is left to fill in no value."""


def entries(rows: Iterable[tuple[str, object]], several: bool) -> list[Entry]:
    """Return the practical's rows, then those that the technician may fill in; none of these with several titres."""
    made = [
        (key, value, OFFERED.get(key, "Yours to correct.") if FOUND_OUT.fullmatch(key) else "") for key, value in rows
    ]
    tables = {key.partition(".")[0] for key, _, _ in made}
    offered = [] if several else [key for key in OFFERED if key.partition(".")[0] not in tables]
    return [*made, *((key, None, OFFERED[key]) for key in offered)]


def laid_out(roll: Roll, columns: Sequence[Column]) -> list[Laid]:
    """Return what the list gives and `columns` does not ask for, then `columns`, filled in where the list says it."""
    given = {heading: tuple(row[at] for row in roll.rows) for at, heading in enumerate(roll.headings)}
    asked, blank = {each.heading for each in columns}, ("",) * len(roll.rows)
    as_given = [Laid(each, given[each], WIDTHS.get(each, USUAL_WIDTH)) for each in roll.headings if each not in asked]
    return [*as_given, *(_to_fill(each, given.get(each.heading, blank)) for each in columns)]


def _to_fill(column: Column, texts: tuple[str, ...]) -> Laid:
    width, shown = WIDTHS.get(column.holds, USUAL_WIDTH), FORMATS.get(column.holds, "General")
    return Laid(column.heading, texts, width, shown, column.what, _rule(column))


def _rule(column: Column) -> Rule:
    if column.holds == "reading":
        return Rule(f"A burette reading is a number from 0 to {column.most}.", column.most)
    if column.holds == "tick":
        return Rule("yes or no is expected here.", choices=("yes", "no"))
    return Rule("A number is expected here." if column.holds in ("titre", "number") else "")


def shown(value: object) -> str:
    """Return the number format of a value of the practical: with the decimals that were written."""
    places = max(0, -int(value.as_tuple().exponent)) if isinstance(value, Decimal) else 0
    return f"{0:.{places}f}" if isinstance(value, Decimal) else "General"
