"""marks.csv: one row per student, for import into whatever keeps the marks.

UTF-8 with a byte order mark and lines ended by CR LF, as spreadsheet programs on every system take it; a comma between
cells, a point in numbers, nothing where there is nothing. The columns are those of `_FIRST`, one for every grouping,
those of each titre and result ("Mean titre", "Result NaOH", "Unit NaOH"), a mark for every criterion, and `_LAST`.
marks.schema.json says the same to programs: a Table Schema (Frictionless Standards, version 1).

A text that a spreadsheet program would take for a formula is given an apostrophe in front, as in '=1+1: a name must
not be able to reach into the file it is opened in.
"""

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from labmark.findings import is_private
from labmark.outputs import numbers
from labmark.outputs.each import results_of, seen_by_results, titres_of
from labmark.outputs.own import own_result, waiting
from labmark.outputs.rows import criteria, given_marks, groupings, unique

Tree = Mapping[str, Any]

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")
"""First characters that a spreadsheet program may take for a formula; the last four are the wide ones."""

Column = tuple[str, str, str]
"""Heading, type and meaning of a column."""
_CARRIED = ("ID", "Email", "Class")
_FIRST: tuple[Column, ...] = (
    ("Number", "integer", "Place in the class sheet, from 1"),
    ("Student", "string", "Name, code or number as written"),
    *((name, "string", "As the class sheet gives it") for name in _CARRIED),
)
_OF_A_RESULT: tuple[Column, ...] = (
    ("Result", "number", "Result, in the unit of the next column, to six significant figures"),
    ("Unit", "string", "Unit of the result, the reference and the written result"),
    ("Reference", "number", "Value that the result is compared with"),
    ("Percent error", "number", "Percentage error of the result"),
    ("z", "number", "(result − reference) / σ"),
)
_LAST: tuple[Column, ...] = (
    ("Total", "number", "Sum of the marks; nothing for a student who was not marked"),
    ("Out of", "number", "Greatest possible total of the marks that are there"),
    ("Grade", "string", "By the practical's grades; nothing while a mark waits"),
    ("Being checked", "string", "The marks that wait: accuracy (3)"),
    ("Findings", "string", "Codes, run in brackets: overshoot (2); mean-slip"),
)

NOT_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")


def marks_csv(tree: Tree) -> bytes:
    """Return marks.csv for a record tree."""
    groups, marks, results = groupings(tree), [name for name, *_ in criteria(tree)], results_of(tree)
    header = unique(name for name, *_ in _columns(tree))
    units = [one["practical"]["unit"] for one in results.values()]
    rows = (_row(one, seen, units, groups, marks) for one, seen in seen_by_results(tree))
    return table_text([header, *rows])


def marks_schema(tree: Tree) -> Tree:
    """Return the Table Schema of marks.csv: what each column is called, what it holds, and of which type."""
    columns = [*_columns(tree)]
    names = unique(name for name, *_ in columns)
    return {
        "$schema": "https://specs.frictionlessdata.io/schemas/table-schema.json",
        "fields": [
            {"name": name, "type": kind, "description": words}
            for name, (_, kind, words) in zip(names, columns, strict=True)
        ],
        "missingValues": [""],
        "primaryKey": ["Number"],
    }


def _columns(tree: Tree) -> Iterator[Column]:
    results = results_of(tree)
    titres: Tree = next((titres_of(one) for one in tree["students"]), {"": {}})
    yield from _FIRST
    yield from ((name, "string", "Grouping, as the class sheet gives it") for name in groupings(tree))
    yield from _named(titres, [("Mean titre", "number", "Mean of the concordant set [cm³], with its digits")])
    yield from _named(results, _OF_A_RESULT)
    yield from _named(titres, [("Own mean titre", "number", "Mean titre as the student wrote it [cm³]")])
    yield from _named(results, [("Own result", "string", "Result as the student wrote it")])
    for name, _, out_of in criteria(tree):
        yield name, "number", f"Mark out of {numbers.mark(out_of)}; nothing where it waits, or had nothing to rest on"
    yield from _LAST


def _named(names: Iterable[str], columns: Iterable[Column]) -> Iterator[Column]:
    """Yield the columns once for each of several, with its name behind theirs."""
    columns = [*columns]
    yield from ((f"{head} {name}".rstrip(), kind, words) for name in names for head, kind, words in columns)


def sheets_csv(tree: Tree) -> bytes:
    """Return sheets.csv: whose sheet is which file, for sending them."""
    rows: list[list[Any]] = [["student", "ID", "Email", "file", "total", "out of"]]
    for one in tree["students"]:
        about, marked = one["about"], one["total"] if one["marks"] else None
        rows.append([one["student"], about.get("ID"), about.get("Email"), one["sheet"], marked, one["out_of"]])
    return table_text(rows)


def table_text(rows: Iterable[Sequence[Any]]) -> bytes:
    """Return rows as the text of a csv file that spreadsheet programs open."""
    stream = io.StringIO(newline="")
    csv.writer(stream, lineterminator="\r\n").writerows([_cell(value) for value in row] for row in rows)
    return stream.getvalue().encode("utf-8-sig")


def _row(student: Tree, seen: Sequence[Tree], units: list[str], groups: list[str], marks: list[str]) -> list[Any]:
    """Return a student's row; `seen` is the student as each result sees them, `units` are those of the results."""
    given, titres = given_marks(student), titres_of(student).values()
    return [
        *(student["number"], student["student"]),
        *(student["about"].get(key) for key in _CARRIED),
        *(student["groups"].get(name) for name in groups),
        *(one["mean_titre"] for one in titres),
        *(figure for one, unit in zip(seen, units, strict=True) for figure in _of_a_result(one, unit)),
        *(one["claimed"]["mean_titre"] for one in titres),
        *map(own_result, seen),
        *(given[name]["mark"] if name in given else None for name in marks),
        *(student["total"] if given else None, student["out_of"], student["grade"], waiting(student)),
        # Where this file is imported, students may see it: shared readings are not among them.
        "; ".join(_finding(finding) for finding in student["findings"] if not is_private(finding["finding"])),
    ]


def _of_a_result(student: Tree, unit: str) -> tuple[Any, ...]:
    result, reference = student["result"], student["reference"]
    held_against = (reference and reference["value"], _to(student["percent_error"], 2), _to(student["z"], 2))
    return (result and result["value"], unit, *held_against)


def _finding(finding: Tree) -> str:
    return finding["finding"] if finding["run"] is None else f"{finding['finding']} ({finding['run']})"


def _to(value: float | None, decimals: int) -> Decimal | None:
    return None if value is None else Decimal(numbers.fixed(value, decimals).replace(numbers.MINUS, "-"))


def _cell(value: Any) -> str:
    """Return a value as it stands in the file; only what is text can need an apostrophe."""
    if value is None:
        return ""
    if isinstance(value, str):
        return safe_text(value)
    if isinstance(value, Decimal):
        return f"{value:f}"
    return f"{value:.6g}" if isinstance(value, float) else str(value)


def safe_text(text: str) -> str:
    """Return text on one line, harmless to a spreadsheet program."""
    kept = NOT_TEXT.sub("", text)
    line = " ".join(kept.split())
    return "'" + line if kept.startswith(FORMULA_STARTS) or line.startswith(FORMULA_STARTS) else line
