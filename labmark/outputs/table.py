"""marks.csv: one row a student, for import into whatever keeps the marks.

UTF-8 with a byte order mark and lines ended by CR LF, as spreadsheet programs on every system take it; a comma between
cells, a point in numbers, nothing where there is nothing. The columns, in this order:

    Number            place in the class sheet, from 1
    Student           name, code or number as written
    ID, Email, Class  as the class sheet gives them
    Bench, ...        a column for every grouping
    Mean titre        of the concordant set [cm³], with its digits; of several "Mean titre phenolphthalein", ...
    Result            in the unit of the next column, to six significant figures; of several "Result NaOH",
                      "Unit NaOH", ..., and so on to z for each
    Unit              unit of the result, the reference and the written result
    Reference         value that the result is held against
    Percent error     of the result
    z                 (result − reference) / σ
    Own mean titre    as the student wrote it [cm³]
    Own result        as the student wrote it
    recording, ...    the mark for every criterion of the scheme, with the name of the result where it is about one of
                      several; nothing where it waits, or had nothing to rest on
    Total             sum of the marks; nothing for a student who was not marked
    Out of            greatest possible total of the marks that are there
    Grade             by the practical's grades; nothing while a mark waits
    Being checked     the marks that wait: "accuracy (3)"
    Findings          codes, run in brackets: "overshoot (2); mean-slip"; shared readings are not among them

A text that a spreadsheet program would take for a formula is given an apostrophe in front, as in '=1+1: a name must
not be able to reach into the file it is opened in.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from labmark.findings import is_private
from labmark.outputs import numbers
from labmark.outputs.each import results_of, seen_by_results, titles, titres_of
from labmark.outputs.own import own_result
from labmark.outputs.pending import waiting
from labmark.outputs.rows import criteria, given_marks, groupings, unique

Tree = Mapping[str, Any]

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")
"""First characters that a spreadsheet program may take for a formula; the last four are the wide ones."""

_NOT_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")


def marks_csv(tree: Tree) -> bytes:
    """Return marks.csv for a record tree."""
    groups, marks = groupings(tree), [name for name, *_ in criteria(tree)]
    results = results_of(tree)
    titres: Tree = next((titres_of(one) for one in tree["students"]), {"": {}})
    figures = [*titles(titres, "Mean titre"), *(f"{word} {name}".rstrip() for name in results for word in _OF_A_RESULT)]
    figures += [*titles(titres, "Own mean titre"), *titles(results, "Own result")]
    header = unique([*_FIRST, *groups, *figures, *marks, *_LAST])
    units = [one["practical"]["unit"] for one in results.values()]
    rows = (_row(one, seen, units, groups, marks) for one, seen in seen_by_results(tree))
    return table_text([header, *rows])


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


_CARRIED = ("ID", "Email", "Class")
_FIRST = ("Number", "Student", *_CARRIED)
_OF_A_RESULT = ("Result", "Unit", "Reference", "Percent error", "z")
_LAST = ("Total", "Out of", "Grade", "Being checked", "Findings")


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
        # Where this file is imported, students may see it.
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
    kept = _NOT_TEXT.sub("", text)
    line = " ".join(kept.split())
    return "'" + line if kept.startswith(FORMULA_STARTS) or line.startswith(FORMULA_STARTS) else line
