"""Tables of one record a student."""

from __future__ import annotations

from labmark.read.cells import read_pair
from labmark.read.grid import Cell
from labmark.read.layouts.columns import RunColumns, run_columns
from labmark.read.layouts.describe import describe_wide
from labmark.read.layouts.lines import (
    NOTE_START,
    add_claims,
    add_notes,
    has_reading,
    is_example,
    is_heading,
    is_label,
    is_name,
    is_near,
    is_statistic,
    name_at,
    name_columns,
    nameless,
    scales_of,
)
from labmark.read.layouts.view import Column, Table
from labmark.read.model import RawRun, RawStudent, Reading

ANOTHER_TABLE = "stands under the label of another table"


def read_wide(table: Table, reading: Reading, outside: str) -> None:
    """Add the students of a table that has one record a student."""
    runs = runs_of(table)
    names = name_columns(table)
    records = [line for line in table.records if _is_record(table, line, names, reading)]
    if not names and len(records) > 1:
        raise nameless(table)
    for line in records:
        student = _student(table, line, names, outside)
        for run in runs:
            cells = {
                key: table.view.place(line, column.at)
                for key, column in run.columns.items()
                if table.view.get(line, column.at) is not None
            }
            if cells:
                student.runs.append(RawRun(run.kind, run.number, cells, scales_of(run.columns), "used" in run.columns))
        _give_to_runs(student)
        reading.students.append(student)
    describe_wide(table, reading, runs, names)


def _give_to_runs(student: RawStudent) -> None:
    """Give each number of the student's own whose header names a run to that run, or to none where it was not done."""
    for number in student.numbers:
        if number.header.names_run:
            named = (number.header.kind or "accurate", number.header.number)
            number.run = next((run for run in student.runs if (run.kind, run.number) == named), RawRun("none"))


def runs_of(table: Table) -> list[RunColumns]:
    """Return the runs of a wide table with their columns, told from the cells where the headers do not say."""
    return _told_values(table, run_columns(table))


def _told_values(table: Table, runs: list[RunColumns]) -> list[RunColumns]:
    """Tell from the cells what a column holds whose header names only the run: titres, or both readings."""
    for run in runs:
        column = run.columns.pop("value", None)
        if column is None:
            continue
        cells = [cell for line in table.records if (cell := table.view.get(line, column.at))]
        run.columns["both" if _mostly_pairs(cells) else "titre"] = column
    return [run for run in runs if run.columns]


def _mostly_pairs(cells: list[Cell]) -> bool:

    texts = [cell for cell in cells if cell.kind == "text"]
    pairs = sum(bool(read_pair(cell.text, ".") or read_pair(cell.text, ",")) for cell in texts)
    return pairs > 0 and 2 * pairs >= len(texts)


def _is_record(table: Table, line: int, names: list[Column], reading: Reading) -> bool:
    """Return whether a line is a student; a line that is not gets its explanation."""
    name = name_at(table, line, names)
    cells = table.view.lines[line]
    told = [column.at for column in table.columns if column.header.field not in ("", "ignored") and column not in names]
    filled = [at for at in told if at in cells]
    why = _why_no_student(table, line, name, names, bool(filled))
    if why == ANOTHER_TABLE:
        reading.notes.append(f"{table.view.record_name(line)} looks like a line of another table and was not used")
    if why:
        for at in cells:
            reading.ignored.setdefault(table.view.place(line, at), why)
    return not why


def _why_no_student(table: Table, line: int, name: str, names: list[Column], filled: bool) -> str:
    if is_statistic(table, line, name, names):
        return "a line of class figures (mean, spread or the like), not a student"
    if is_label(name) and len(table.records) > 1:
        return ANOTHER_TABLE
    if is_example(name):
        return "a worked example, not a student"
    if name and NOTE_START.match(name) and not has_reading(table, line):
        return "a note below the table"
    if not filled and is_heading(name):
        return "a heading within the table"
    if not name and not filled:
        return "stands beside the table and says nothing about a student"
    if not filled and (not is_name(name) or not is_near(table, line, name, names)):
        return "a note below the table"
    return ""


def _student(table: Table, line: int, names: list[Column], outside: str) -> RawStudent:
    view = table.view
    name = name_at(table, line, names)
    student = RawStudent(view.grid, name or (f"({view.record_name(line)})" if names else outside))
    if names and not name:
        student.notes.append(f"no name stands in {view.record_name(line)}")
    for index, column in enumerate(names):
        if view.get(line, column.at) is not None:
            student.cells["student" if index == 0 else column.header.field] = view.place(line, column.at)
    add_claims(table, line, student)
    add_notes(table, line, student)
    return student
