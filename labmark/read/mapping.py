"""The teacher's [columns] table: header -> meaning, read from a practical file and written ready to paste into one."""

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from difflib import get_close_matches

from labmark.dataclass import replace
from labmark.practical.own import Several
from labmark.problems import Problem, raise_any
from labmark.read.grid import Book
from labmark.read.headers import ABOUT, Header, Meant, Overrides, understand
from labmark.read.own_numbers import named, result_of_run, without_unit
from labmark.read.several_names import meanings
from labmark.read.words import folded, plain
from labmark.records import ClassSheet

MEANINGS = (
    *("Student", "Surname", "Forename", *ABOUT.values()),
    *("Run", "Initial", "Final", "Titre", "Used", "Readings"),
    *("Mean titre", "Result", "Order", "Bench", "Bottle", "Group ..."),
    *("Rough initial", "Run 1 initial", "Run 1 final", "Run 1 titre", "Run 1 used", "Run 1 readings"),
    *("Mass", "Run 1 mass", "Aliquot", "Blank titre", "Ignore"),
)
"""What a header can be said to be."""

_PLACE = re.compile(r"(column [a-z]{1,3}|row \d{1,7})")


def overrides_of(columns: Mapping[str, str], taken: Sequence[str], several: Several) -> Overrides:
    """Return the teacher's meanings by folded header text, "column c" or "row 3".

    `taken` are headings by which the practical takes numbers of the students' own: they are meanings too; `several` has
    the names of its titres and results, which meanings may have.

    Raises InputError for a meaning that is not known, naming the nearest one.
    """
    found: dict[str, Header] = {}
    problems = []
    for meaning, header in columns.items():
        known = next((own for each in taken if (own := named(meaning, each))), None)
        known = known or (result_of_run(meaning) if taken else None) or _meaning(meaning, several)
        if known is None:
            problems.append(_unknown(meaning, several))
        else:
            found[folded(header)] = known
    raise_any(problems)
    return found


def _unknown(meaning: str, several: Several) -> Problem:
    """Return the problem of a meaning that no column can have, with the nearest one that it can."""
    choice = (*MEANINGS, *meanings(several))
    near = get_close_matches(meaning, choice, 1, 0.3)
    hint = f"did you mean {near[0]!r}?" if near else f"choose from: {', '.join(choice)}"
    return Problem(f"{meaning!r} says nothing about a reading or a student", hint, cell=f"columns.{meaning}")


def _meaning(text: str, several: Several) -> Header | None:
    words = folded(text)
    if re.fullmatch(r"ignore( \d+)?", words):
        return Header("ignored", text=text)
    header = understand(text, Meant({}, several))
    if "readings" in words.split():
        return replace(header, field="both", tags=frozenset({"initial", "final"}))
    if not header.field or header.field == "ignored" or header.unknown:
        return None
    return replace(header, field="titre") if header.field == "value" else header


def with_units(overrides: Overrides, texts: Collection[str]) -> Overrides:
    """Return the teacher's meanings with those of headers that stand in the sheet with a unit: Mass for Mass / g."""
    wanted = _texts(overrides)
    missing = wanted - {folded(text) for text in texts} if wanted else set()
    bare = {folded(text): folded(without_unit(text)[0]) for text in texts} if missing else {}
    return {**overrides, **{text: overrides[name] for text, name in bare.items() if name in missing}}


def _texts(overrides: Overrides) -> set[str]:
    """Return the headers that are given by their text."""
    return {name for name in overrides if not _PLACE.fullmatch(name)}


def texts_of(books: Iterable[Book]) -> list[str]:
    """Return every text of the files, each once."""
    cells = (cell for book in books for grid in book.grids for cell in grid.cells.values())
    return list(dict.fromkeys(cell.text for cell in cells if cell.kind == "text"))


def check_overrides(overrides: Overrides, found: Collection[str], headers: Iterable[str], file: str) -> None:
    """Raise InputError for a header of the [columns] table that stands nowhere in the class sheet."""
    wanted = _texts(overrides)
    if not wanted:
        return
    there = {folded(header) for header in headers} | {folded(without_unit(text)[0]) for text in found}
    texts = {folded(text) for text in found}
    problems = []
    for name in sorted(wanted - there - texts):
        near = get_close_matches(name, sorted(texts), 1)
        hint = f"the nearest text in it is {near[0]!r}" if near else "copy the header from the sheet"
        what = f"the [columns] table names the header {name!r}, which is not in the class sheet"
        problems.append(Problem(what, hint, file))
    raise_any(problems)


def mapping_text(class_sheet: ClassSheet) -> str:
    """Return what each column was taken for as a [columns] table, ready to paste into the practical file.

    A header that stands for more than one thing is given by its place ("column C").
    """
    meanings: dict[str, set[str]] = {}
    for meaning, header, _ in class_sheet.columns:
        meanings.setdefault(folded(header), set()).add(meaning)
    lines: dict[str, str] = {}
    for meaning, header, place in class_sheet.columns:
        lines.setdefault(meaning, header if len(meanings[folded(header)]) == 1 else place)
    return "[columns]\n" + "".join(f"{_quoted(meaning)} = {_quoted(header)}\n" for meaning, header in lines.items())


def _quoted(text: str) -> str:
    """Return a basic string of TOML."""
    escaped = plain(text).replace("\\", "\\\\").replace('"', '\\"')
    return '"' + re.sub(r"[\x00-\x1f\x7f]", " ", escaped) + '"'
