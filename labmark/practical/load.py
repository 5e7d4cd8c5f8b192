"""From the text of a practical file, or the rows of a `Practical` sheet, to a practical whose parts fit together.

Everything that is wrong is said at once, each with its key (or cell), what was found, what is expected and,
for an unknown key, the nearest known one.

What a school says once for all its practicals are tables that stand beneath those of every practical:

    [concordance]          the school's       within = 0.10, at_least = 3
    [concordance]          the practical's    within = 0.20
                           together           within = 0.20, at_least = 3

Tables are joined key by key; a list (the marking scheme, the grades) is the practical's own, or else the school's.
"""

import difflib
import re
import tomllib
from collections.abc import Iterable, Mapping
from decimal import Decimal
from functools import lru_cache, reduce
from operator import getitem
from typing import Any, get_type_hints

from pydantic import TypeAdapter, ValidationError

from labmark.dataclass import replace
from labmark.practical.file import PracticalFile
from labmark.practical.fits import of_one, of_several
from labmark.practical.mistakes import Mistakes, problems_of
from labmark.practical.model import FromSheet
from labmark.practical.own import set_aside
from labmark.practical.record import Practical
from labmark.practical.rows import rows_of
from labmark.problems import InputError, Problem, raise_any

SHARED = ("sheet", "advice", "concordance", "scores", "marks", "grades")
"""Tables and lists of a practical that a school may give for all."""

School = Mapping[str, Any]
"""The tables that stand beneath those of every practical; empty where there are none."""
NONE: School = {}


def over(school: School, practical: Mapping[str, Any]) -> dict[str, Any]:
    """Return the table of a practical with the school's beneath it. Pure."""
    beneath = {
        key: {**value, **own} if isinstance(value, Mapping) and isinstance(own, Mapping) else own
        for key, value in school.items()
        if (own := practical.get(key, value)) is not None
    }
    return {**practical, **beneath}


SHEET = "Practical"
"""Name of the sheet of a workbook that holds its practical."""
_DEEPEST = 20
"""Tables and lists within one another: a practical has four."""


def table_of(text: str, file: str = "") -> dict[str, Any]:
    """Return what a TOML text says, numbers with the digits written. Raises InputError."""
    try:
        table = tomllib.loads(text, parse_float=Decimal)
        if _is_deep(table, _DEEPEST):
            raise RecursionError
    except tomllib.TOMLDecodeError as error:
        do = "write a decimal point, not a comma" if re.search(r"=\s*\d+,\d", text) else "look at that line"
        raise InputError(Problem(f"not a practical file in TOML: {error}", do, file)) from error
    except RecursionError as error:
        what = "not a practical file: tables or lists stand too deep in one another"
        raise InputError(Problem(what, "correct it", file)) from error
    except (ValueError, ArithmeticError) as error:
        raise InputError(Problem("a number has too many digits", "correct it", file)) from error
    return table


def _is_deep(value: object, levels: int) -> bool:
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return levels == 0 or any(_is_deep(each, levels - 1) for each in inner)


def practical_from_toml(text: str, file: str = "", school: School = NONE) -> Practical:
    """Return the practical that a TOML text says. Raises InputError with every problem found."""
    return practical_from_table(over(school, table_of(text, file)), file) if school else _of_text(text, file)


@lru_cache(maxsize=32)
def _of_text(text: str, file: str) -> Practical:
    """Return the practical of a text alone: the classes of a cohort mostly share one, and nothing changes it."""
    return practical_from_table(table_of(text, file), file)


def practical_from_rows(rows: Iterable[tuple[str, object, str]], file: str, school: School = NONE) -> Practical:
    """Return the practical that the (key, value, cell) rows of a `Practical` sheet say. Raises InputError."""
    made = rows_of(rows, file, SHEET)
    raise_any(made.problems)
    return practical_from_table(over(school, made.table), file, made.cells, SHEET)


def school_from_toml(text: str, file: str = "") -> dict[str, Any]:
    """Return the tables of a school's file. Raises InputError with every problem found."""
    table, kinds = table_of(text, file), get_type_hints(PracticalFile, include_extras=True)
    problems = [_unshared(key, file) for key in table if key not in SHARED]
    for key in SHARED:
        try:
            if key in table:
                TypeAdapter(kinds[key]).validate_python(table[key])
        except ValidationError as error:
            problems += problems_of(error, file, within=key)
    raise_any(problems)
    return table


def _unshared(key: str, file: str) -> Problem:
    if key in PracticalFile.model_fields:
        do = f"leave it to the practical; a school's file may hold {', '.join(SHARED)}"
        return Problem(f"key {key} belongs to one practical", do, file)
    near = difflib.get_close_matches(key, SHARED, 1, 0.0)[0]
    return Problem(f"key {key} is not known; the nearest known key is {near}", "correct or remove it", file)


def practical_from_table(
    table: Mapping[str, Any], file: str = "", cells: Mapping[str, str] | None = None, sheet: str = ""
) -> Practical:
    """Return the practical that a table of keys says; `cells` are where they stand. Raises InputError."""
    cells = cells or {}
    plain, aside = set_aside(table)
    own: dict[str, FromSheet] = {}
    problems: list[Problem] = []
    for key, given in aside.items():
        try:
            own[key] = FromSheet.model_validate(given)
        except ValidationError as error:
            problems += problems_of(error, file, cells, sheet, within=key)
    try:
        parsed = PracticalFile.model_validate(plain)
    except ValidationError as error:
        raise InputError([*problems, *problems_of(error, file, cells, sheet)]) from error
    raise_any(problems)
    return replace(_with_own(parsed, own, Mistakes(file, cells, sheet)), parsed=parsed)


def practical_with(practical: Practical, numbers: Mapping[str, Any]) -> Practical:
    """Return a practical with other values under its keys, as those that stand for the students' own.

    Raises InputError where they do not fit together.
    """
    parsed = practical.parsed or practical.file
    table = parsed.model_dump(by_alias=True, exclude=set() if "marks" in parsed.model_fields_set else {"marks"})
    for key, number in numbers.items():
        *path, last = key.split(".")
        reduce(getitem, path, table)[last] = number
    return _with_own(PracticalFile.model_validate(table), practical.own, Mistakes("", {}, ""))


def _with_own(given: PracticalFile, own: Mapping[str, FromSheet], wrong: Mistakes) -> Practical:
    """Return a practical whose parts fit together, with where the students' own numbers stand. Raises InputError."""
    practical = (of_several if given.endpoints or given.titrations else of_one)(given, wrong)
    return replace(practical, own=own, parts=tuple(replace(each, own=own) for each in practical.parts))
