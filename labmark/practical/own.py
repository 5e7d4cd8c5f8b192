"""Numbers of a practical that the students may have of their own: which, in what unit, and what it says of them."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from labmark.practical.load import Practical


@dataclass(frozen=True, slots=True)
class OwnNumber:
    """One number of the practical that a column of the class sheet may hold."""

    key: str
    """Its key, as in sample.mass."""
    words: str
    """List of words (`words.toml`) by which a heading names it."""
    unit: str
    """g, cm3 or mol/dm3."""
    value: Decimal | None
    """What the practical gives for all; None where it has no such number."""
    formula: str = ""
    """Of the solution, where a heading may name that."""
    not_formula: str = ""
    """Of the unknown: a heading that names it is the result's."""


def own_numbers(practical: Practical) -> tuple[OwnNumber, ...]:
    """Return the numbers of a practical that students may have of their own."""
    file = practical.file
    vessel = file.burette if practical.known_in == "burette" else file.flask
    return (
        OwnNumber("sample.mass", "mass", "g", file.sample.mass if file.sample else None),
        OwnNumber("flask.aliquot", "aliquot", "cm3", file.flask.aliquot),
        OwnNumber(
            f"{practical.known_in}.concentration",
            "known",
            "mol/dm3",
            vessel.concentration,
            vessel.solution,
            file.result.of,
        ),
        OwnNumber("blank.titre", "blank", "cm3", Decimal(0)),
    )
