"""`labmark sheet`: from a practical and a list of names to a class workbook that reads back without doubt.

Or to the pages that the students fill in at the bench, one for each of the list.
"""

from collections.abc import Callable, Collection, Iterator
from pathlib import Path
from typing import Any, NamedTuple

from labmark.dataclass import replace
from labmark.lesson.blank_sheet import class_spreadsheet, class_workbook
from labmark.lesson.columns import Column, columns_of, entries, group_columns, laid_out, usual_runs
from labmark.lesson.pages import results_sheets
from labmark.lesson.roll import Roll, read_roll
from labmark.meaning import examples_of
from labmark.outputs.forms import Forms, names_in, texts_in
from labmark.outputs.printable import printed_instead
from labmark.pipeline import read
from labmark.practical import Practical
from labmark.practical.load import NONE, School, over, practical_from_table, table_of
from labmark.practical.rows import sheet_rows
from labmark.practicals import text_of
from labmark.problems import InputError, Problem, raise_any
from labmark.read.files import book_of
from labmark.read.grid import Cell, Grid
from labmark.records import ClassSheet
from labmark.written import write_new

AS_GIVEN = frozenset({"ID", "Email", "Class", "Bench", "Bottle", "Group"})
"""Headings of the list of students: they are typed, and reading knows them."""
WRITERS = {".xlsx": class_workbook, ".ods": class_spreadsheet}
PAGES = ".pdf"


class Written(NamedTuple):
    """A class workbook that was written, or pages for its students."""

    file: Path
    students: int
    runs: int
    left_out: tuple[str, ...]
    """Headings of the list that were not carried."""
    unprinted: tuple[str, ...] = ()
    """What stands on pages instead of names that no font has: Student 7."""


def write_class_sheet(practical: str, students: Path, out: Path, runs: int | None, school: School = NONE) -> Written:
    """Write the class workbook of a practical for the students of a list, or their pages. Raises InputError."""
    kind = out.suffix.lower()
    if kind not in (*WRITERS, PAGES):
        what = f"a class sheet is written as {' or '.join(WRITERS)}, pages for the bench as {PAGES}"
        raise InputError(Problem(what, f"name it {out.stem}.xlsx", str(out)))
    # The practical's [columns] are the headings of another sheet.
    whole = over(school, table_of(text_of(practical), practical))
    table = {key: value for key, value in whole.items() if key != "columns"}
    used = practical_from_table(table, practical)
    roll = read_roll(students, group_columns(used))
    runs = runs or usual_runs(used)
    if kind == PAGES:
        data = results_sheets(used, examples_of(used, practical), runs, roll)
    else:
        data, readings = _workbook(table, used, roll, runs, WRITERS[kind])
        book = book_of(str(out), data)
        _fill(book.grids[0], readings, len(roll.rows))
        sheet, again = read(out, None, (), book)
        raise_any([*_misread(sheet, roll, str(students)), *_reworded(again, used, practical)])
    write_new(out, data)
    names = [row[0] for row in roll.rows] if kind == PAGES else []
    unprinted = filter(None, (printed_instead(name, number) for number, name in enumerate(names, 1)))
    return Written(out, len(roll.rows), runs, roll.left_out, tuple(unprinted))


def _workbook(
    table: dict[str, Any], used: Practical, roll: Roll, runs: int, write: Callable[..., bytes]
) -> tuple[bytes, list[str]]:
    """Return the workbook, and the headings over its readings."""
    # A heading of their own stands in small letters behind Run 1.
    names = {name for text in names_in(table) for name in (text, text[:1].lower() + text[1:])}
    say = Forms.of(used.file.sheet.model_dump(), texts_in(table), names, names - {used.file.title})
    laid = [_said(each, say) for each in laid_out(roll, columns_of(used, runs))]
    rows = [(key, value, say(note)) for key, value, note in entries(sheet_rows(table), bool(used.parts))]
    data = write(say(used.file.title), laid, rows, say, letter=used.file.sheet.paper == "letter")
    return data, [each.heading for each in laid if each.holds == "reading"]


def _said(column: Column, say: Forms) -> Column:
    """Return a column in the language of the practical; what the list says stays."""
    heading = column.heading if column.heading in AS_GIVEN else say.words(column.heading)
    choices = tuple(map(say.words, column.choices))
    return replace(column, heading=heading, what=say(column.what), error=say(column.error), choices=choices)


def _fill(grid: Grid, headings: Collection[str], students: int) -> None:
    """Give every student all readings: a name with little or nothing behind it may pass for a note or a heading."""
    for (_, column), heading in [each for each in grid.cells.items() if each[0][0] == 1]:
        if heading.text in headings:
            grid.cells |= {(row, column): Cell(float(column), "number", 2) for row in range(2, students + 2)}


def _misread(sheet: ClassSheet, roll: Roll, file: str) -> Iterator[Problem]:
    """Yield each name that would be read back as something else than a student: Total, Mean."""
    for row, (student, cell) in enumerate(zip(roll.rows, roll.cells, strict=True), 2):
        why = sheet.ledger.ignored.get(f"Results!A{row}")
        if why is not None:
            yield Problem(f"{student[0]} would be read as {why}", "write the full name", file, cell=cell)


def _reworded(again: Practical, used: Practical, file: str) -> Iterator[Problem]:
    """Yield each key that a cell cannot hold as it stands in the file: a title that is a number."""
    before, after = ({**one.file.model_dump(), "own numbers": one.own} for one in (used, again))
    for key in before:
        if str(before[key]) != str(after[key]):
            yield Problem(f"key {key} is read otherwise from a cell of a sheet", "word it otherwise", file)
