"""Numbers of a practical that belong to a student, a run or a group: which, in what unit, and where they stand.

`{ column = "Mass" }` in the place of a number is set aside before the rest of the practical is checked, and a number
that stands for it (the one for those who have none, the middle one of the groups) is put there.
"""

from collections.abc import Mapping, Sequence
from copy import deepcopy
from decimal import Decimal
from statistics import median
from typing import Any, NamedTuple

from labmark.dataclass import dataclass, field
from labmark.practical.model import FromSheet
from labmark.practical.quantities import Asked


class Kind(NamedTuple):
    """What is known of a number before anybody has given it."""

    unit: str
    words: str = ""
    """List of words (`words.toml`) by which a heading names it."""
    stands_for: str = "1"
    """Number that the practical is checked with as long as nobody's is known."""


REFERENCE, BLANK_TITRE, ALIQUOT = "reference.value", "blank.titre", "flask.aliquot"
BACK_BLANK = "50"
"""Stands for the blank titre of a back titration, of which a titre takes off what the sample has used up [cm³]."""
OWN: dict[str, Kind] = {
    "sample.mass": Kind("g", "mass"),
    "sample.volume": Kind("cm3"),
    ALIQUOT: Kind("cm3", "aliquot"),
    "flask.dilution.taken": Kind("cm3"),
    "flask.concentration": Kind("mol/dm3", "known", "0.1"),
    "burette.concentration": Kind("mol/dm3", "known", "0.1"),
    "excess.volume": Kind("cm3", stands_for="50"),
    "excess.concentration": Kind("mol/dm3"),
    BLANK_TITRE: Kind("cm3", "blank", "0"),
    REFERENCE: Kind(""),
}
"""Keys whose number may be taken from the class sheet."""


BLANK = "Blank"
"""Heading of a blank titre, and the first word of those of the readings of blank runs."""


class OwnNumber(NamedTuple):
    """One number of the practical that a column of the class sheet may hold."""

    key: str
    """Its key, as in sample.mass."""
    words: str
    """List of words (`words.toml`) by which a heading names it."""
    unit: str
    """g, cm3 or mol/dm3."""
    value: Decimal | None = None
    """What the practical gives for all; None where it has no such number."""
    taken: FromSheet | None = None
    """Where the practical takes it from, if it does not give one number."""
    formula: str = ""
    """Of the solution, where a heading may name that."""
    not_formula: str = ""
    """Of the unknown: a heading that names it is the result's, or of a step on the way there."""
    by_runs: bool = False
    """Runs of their own give it, as a blank."""

    @property
    def columns(self) -> tuple[str, ...]:
        """Return the headings that the practical names."""
        of = self.taken
        return () if of is None or of.column is None else tuple(each for each in (of.column, of.minus) if each)

    @property
    def groups(self) -> tuple[str, ...]:
        """Return the heading that chooses among groups, if one does."""
        return () if self.taken is None or self.taken.by is None else (self.taken.by,)


@dataclass(frozen=True, slots=True)
class Several:
    """What the class sheet has several of: titres of a run, titrations with runs of their own, results."""

    endpoints: tuple[str, ...] = ()
    """Names of the endpoints of each run, in order."""
    titrations: tuple[str, ...] = ()
    results: Mapping[str, Asked] = field(default_factory=dict)
    """Name of each result -> the unit of a bare number; empty where there is one result."""

    @property
    def names(self) -> tuple[str, ...]:
        """Return all of them; none where there is one of each."""
        return (*self.endpoints, *self.titrations, *self.results)


ONE = Several()
"""One titre and one result: nothing has a name."""


def set_aside(table: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the table of a practical file with plain numbers only, and what stood in their place, by key."""
    plain, aside = deepcopy(dict(table)), {}
    blank, kinds = plain.get("blank"), OWN
    if "excess" in plain:
        kinds = OWN | {BLANK_TITRE: OWN[BLANK_TITRE]._replace(stands_for=BACK_BLANK)}
    if isinstance(blank, dict) and blank.get("titre") == {"runs": True}:
        blank |= blank.pop("titre")
    for key, kind in kinds.items():
        path, _, last = key.rpartition(".")
        inner = _table_at(plain, path.split("."))
        given = inner.get(last)
        if key == REFERENCE and isinstance(given, dict) and "by" in given:
            inner |= inner.pop(last)  # said more shortly as by and values of the reference itself
        elif isinstance(given, dict):
            aside[key], inner[last] = given, _standing_for(given, kind)
    if isinstance(blank, dict) and blank.get("runs") is True and "titre" not in blank:
        aside[BLANK_TITRE], blank["titre"] = {"column": BLANK}, Decimal(kinds[BLANK_TITRE].stands_for)
    return plain, aside


def _table_at(table: Any, path: Sequence[str]) -> dict[str, Any]:
    """Return the table that keys within one another lead to; an empty one where there is none."""
    for part in path:
        table = table.get(part) if isinstance(table, dict) else None
    return table if isinstance(table, dict) else {}


def _standing_for(given: Mapping[str, Any], kind: Kind) -> Any:
    numbers = [given.get("default"), *(given["values"].values() if isinstance(given.get("values"), dict) else ())]
    there = [Decimal(str(each)) for each in numbers if isinstance(each, (int, Decimal)) and each > 0]
    return there[0] if given.get("default") is not None and there else median(there or [Decimal(kind.stands_for)])
