"""What is wrong with a practical, in words a teacher can act on: what pydantic finds, and what does not fit.

Keys are named as in a `Practical` sheet, which counts from one: marks.4.mark is that of the fourth [[marks]].
"""

import difflib
import re
from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal
from typing import Any, cast, get_args

from pydantic import BaseModel, ValidationError

from labmark.practical.equation import Equation, Species
from labmark.practical.file import FORMS, PracticalFile
from labmark.practical.model import FromSheet
from labmark.practical.own import OWN
from labmark.problems import InputError, Problem, raise_any

_PLAINLY = {
    "an integer, float, string or Decimal": "a number",
    "a valid decimal": "a number",
    "a valid number": "a number",
    "a valid integer": "a whole number",
    "a valid string": "a text",
    "a valid boolean": "true or false",
    "a valid list": "a list",
    "a valid dictionary": "a table of keys",
}
"""What pydantic expects, by how it begins -> the same in a teacher's words."""


class Mistakes:
    """What does not fit in a practical, each with the place of its key: called, it adds one."""

    def __init__(self, file: str, cells: Mapping[str, str], sheet: str) -> None:
        self.file, self.cells, self.sheet = file, cells, sheet
        self.found: list[Problem] = []
        self.result = "result"
        """Key of the result that is looked at: results.1, the first of several."""

    def __call__(self, key: str, what: str, do: str) -> None:
        """Add what is wrong with a key, and what to do about it."""
        key = re.sub(r"^result\b", self.result, key)
        self.found.append(Problem(f"key {key}: {what}", do, self.file, self.sheet, self.cells.get(key, "")))

    def check(self) -> None:
        """Raise InputError with all that was found, if anything was."""
        raise_any(self.found)

    def error(self) -> InputError:
        """Return the error with all that was found."""
        return InputError(self.found)

    def fatal(self, key: str, what: str, do: str) -> InputError:
        """Return the error with what is wrong here and all before it, where there is no going on."""
        self(key, what, do)
        return self.error()


def species_in(equation: Equation, key: str, text: str, wrong: Mistakes, which: str = "the equation") -> Species | None:
    """Return the species of an equation that the text of a key names; None, and said, where there is none."""
    species = equation.find(text)
    if species is None:
        near = difflib.get_close_matches(text, equation.names, 1, 0.5)
        brings = ', or say what it brings: gives = "2 H^+"' if key == "burette.solution" else ""
        do = f"perhaps {near[0]} is meant" if near else f"name a species of the equation{brings}"
        wrong(key, f"found {text!r}, expected a species of {which} ({', '.join(equation.names)})", do)
    return species


def problems_of(
    error: ValidationError, file: str, cells: Mapping[str, str] | None = None, sheet: str = "", within: str = ""
) -> list[Problem]:
    """Return what pydantic finds wrong; `within` is the key of what it looked at, where not a practical."""
    path = within.split(".") if within else ()
    found: Any = [{**each, "loc": tuple(part for part in each["loc"] if part not in FORMS)} for each in error.errors()]
    said = {each["loc"] for each in found}
    given = (each for each in found if not _is_filled_in(each["loc"], said))
    return [_problem({**each, "loc": (*path, *each["loc"])}, file, cells or {}, sheet) for each in given]


def _is_filled_in(where: tuple[Any, ...], said: Collection[tuple[Any, ...]]) -> bool:
    """Return whether a mistake was made, and is said, where its key was filled in from."""
    if where[:1] == ("titrations",):
        return len(where) > 2 and where[2:] in said
    of_first = {"result": where[1:], "reference": where}
    return bool(where) and where[0] in of_first and ("results", 0, *of_first[where[0]]) in said


def _problem(error: Mapping[str, Any], file: str, cells: Mapping[str, str], sheet: str) -> Problem:
    """Return one of them, with its key, what was found and what is expected."""
    key = ".".join(str(part + 1 if isinstance(part, int) else part) for part in error["loc"])
    place = cells.get(key, "") or cells.get(key.rpartition(".")[0], "")
    found, kind = error.get("input"), error["type"]
    if kind == "extra_forbidden":
        return Problem(f"key {key} is not known{_nearest(error['loc'])}", "correct or remove it", file, sheet, place)
    if kind == "missing":
        last = error["loc"][-1]
        return Problem(f"key {key} is missing", f"add it: {EXAMPLES.get(last, f'{last} = ...')}", file, sheet, place)
    reason = re.sub(r"^(Value error|Input should be|Decimal input should be),?\s*", "", error["msg"])
    reason = _plainly(reason[:1].lower() + reason[1:])
    named = f"{key}: {reason}" if key else reason
    what = named if kind == "value_error" else f"key {key}: found {_short(found)}, expected {reason}"
    return Problem(what, "correct it", file, sheet, place)


def _nearest(where: Sequence[Any]) -> str:
    key = str(where[-1])
    # In a sheet "Burette solution", or "Solution" alone, is meant for burette.solution.
    inner = [
        (f"{table}.{each}", (each, f"{table}_{each}")) for table in _known_keys(()) for each in _known_keys((table,))
    ]
    near = [named for named, forms in inner if len(where) == 1 and key in forms]
    near = near or difflib.get_close_matches(key, _known_keys(where[:-1]), 1, 0.0)
    return f"; the nearest known key is {near[0]}" if near else ""


def _plainly(reason: str) -> str:
    """Return what is expected in a teacher's words."""
    if plain := next((words for begin, words in _PLAINLY.items() if reason.startswith(begin)), ""):
        return plain
    # The smallest that is taken is there against a slip of the keyboard; to the teacher it is nothing.
    return re.sub(r"^greater than( 0| or equal to 1E-9)$", "more than 0", reason)


def _short(value: object) -> str:
    # A whole number may have more digits than Python writes out.
    huge = isinstance(value, int) and value.bit_length() > 200
    text = hex(cast(int, value)) if huge else str(value) if isinstance(value, (int, Decimal)) else repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _known_keys(loc: Sequence[object]) -> list[str]:
    """Return the keys of the table that a location of an error lies in."""
    table: type[BaseModel] = PracticalFile
    for part in loc:
        for name, known in table.model_fields.items():
            if part in (name, known.alias):
                inner = [known.annotation, *get_args(known.annotation)]
                table = next((each for each in inner if isinstance(each, type) and issubclass(each, BaseModel)), table)
    if ".".join(map(str, loc)) in OWN:
        table = FromSheet
    return [field.alias or name for name, field in table.model_fields.items()]


EXAMPLES = {
    "title": 'title = "Strength of a drain cleaner"',
    "equation": 'equation = "2 NaOH + H2SO4 -> Na2SO4 + 2 H2O"',
    "burette": '[burette] with solution = "H2SO4" and its concentration',
    "flask": '[flask] with solution = "NaOH" and aliquot = 25.0',
    "result": '[result] with of = "NaOH"',
    "solution": 'a species of the equation, as in solution = "NaOH"',
    "aliquot": "the volume of the pipette in cm³, as in aliquot = 25.0",
    "of": 'the unknown, as in of = "NaOH"',
    "volume": "the volume added in cm³, as in volume = 50.0",
    "concentration": "in mol/dm³, as in concentration = 1.00",
}
