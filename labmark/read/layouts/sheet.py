"""One sheet -> its students, whatever the layout."""

from __future__ import annotations

from labmark.read.grid import Grid
from labmark.read.headers import Overrides
from labmark.read.layouts.find import Meanings, header_rows, tables_across
from labmark.read.layouts.records import read_table
from labmark.read.layouts.view import Table, View
from labmark.read.leftovers import explain
from labmark.read.model import Reading


def read_sheet(grid: Grid, overrides: Overrides, group_by: str, outside: str) -> Reading:
    """Return what a sheet says: its students as places of cells, and a reason for every other filled cell.

    `outside` names the student of a sheet that holds one student's table without a name. A sheet without any table
    gives no students. Raises InputError where a table is there but cannot be told apart.
    """
    reading = Reading()
    meanings = Meanings(grid, overrides, group_by)
    tables: list[Table] = []
    rows = header_rows(meanings)
    if rows:
        tables = tables_across(meanings, View(grid), rows)
    for table in tables:
        read_table(table, reading, outside)
    taken = {*reading.ignored, *_used(reading)}
    reading.ignored.update(explain(grid, taken, [_extent(table) for table in tables]))
    return reading


def _used(reading: Reading) -> set[tuple[int, int]]:
    places: set[tuple[int, int]] = set()
    for student in reading.students:
        places.update(student.cells.values(), student.groups.values())
        for run in student.runs:
            places.update(run.cells.values())
    return places


def _extent(table: Table) -> tuple[int, int, int, int]:
    lines = [*table.header_lines, *table.records]
    ats = [column.at for column in table.columns]
    if table.view.turned:
        return min(ats), min(lines), max(ats), max(lines)
    return min(lines), min(ats), max(table.header_lines if not table.records else lines), max(ats)
