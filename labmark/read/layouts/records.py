"""A table -> its students and their runs, whichever way the runs are set out."""

from __future__ import annotations

from labmark.read.headers import Header
from labmark.read.layouts.columns import column_problem, is_wide
from labmark.read.layouts.find import numberish
from labmark.read.layouts.lines import has_reading, is_statistic, own_lines
from labmark.read.layouts.long import read_long
from labmark.read.layouts.settle import settle_columns
from labmark.read.layouts.view import Column, Table
from labmark.read.layouts.wide import read_wide
from labmark.read.model import Reading
from labmark.records import NOT_UNDERSTOOD


def read_table(table: Table, reading: Reading, outside: str = "") -> None:
    """Add a table's students to the reading of the sheet.

    `outside` is the student's name where the table's own cells hold none: a title, the sheet's or the file's name.
    Raises InputError where it cannot be told whose readings these are.
    """
    before = len(reading.students)
    reading.named |= {header.of or header.series for header in (column.header for column in table.columns)}
    settle_columns(table)
    _name_column(table, outside)
    _explain_headers(table, reading)
    if is_wide(table):
        read_wide(table, reading, outside)
    else:
        read_long(table, reading, outside)
    _check_understood(table, reading, before)


def _check_understood(table: Table, reading: Reading, before: int) -> None:
    """Say which columns of numbers were not understood; raises InputError where no reading was."""
    unknown = [
        column
        for column in table.columns
        if not column.header.field and column.header.text and any(map(numberish, table.cells(column)))
    ]
    if not unknown:
        return
    shown = ", ".join(f"{column.header.text!r} ({table.view.line_name(column.at)})" for column in unknown[:6])
    students = reading.students[before:]
    if students and not any(student.runs for student in students):
        remedy = 'say what they are in a [columns] table, e.g. "Run 1 titre" = "Reading 1"'
        raise column_problem(table, unknown[0], f"no reading was understood; not understood: {shown}", remedy)
    reading.notes.append(f"{NOT_UNDERSTOOD}: {shown}; name them in a [columns] table if they matter")


def _explain_headers(table: Table, reading: Reading) -> None:
    for column in table.columns:
        for place in column.header_places:
            meaning = f": {_meaning(column.header)}" if column.header.field else " of a column that is not needed"
            reading.ignored[place] = f"header{meaning}"
    for line in table.unit_lines:
        for at in table.view.lines[line]:
            reading.ignored[table.view.place(line, at)] = "header: a unit"


def _meaning(header: Header) -> str:
    run = {"rough": "rough ", "accurate": "run "}.get(header.kind, "") + (f"{header.number} " if header.number else "")
    return " ".join(f"{header.series} {run}{header.group or header.field} {header.of}".split())


def _name_column(table: Table, outside: str) -> None:
    """Take a column of texts without a known header for the names, where no header says which column holds them."""
    if table.names_students or not is_wide(table):
        return
    view = table.view
    known = {column.at for column in table.columns if column.header.field}
    own = own_lines(table)
    for at in sorted({at for line in table.records for at in view.lines[line]} - known):
        lines = [line for line in table.records if line not in own and has_reading(table, line)]
        lines = [line for line in lines if not is_statistic(table, line, "")]
        texts = {cell.text for line in lines if (cell := view.get(line, at))}
        if lines and len(texts) == len(lines) and (len(lines) > 1 or not outside):
            table.columns = [column for column in table.columns if column.at != at]
            places = [view.place(line, at) for line in table.header_lines if view.get(line, at)]
            table.columns.append(Column(at, Header("student", text="(names without a header)"), places))
            table.columns.sort(key=lambda column: column.at)
            return
