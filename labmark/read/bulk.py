"""Large plain text tables, a whole column at a time: one row a student, thousands of rows.

The header is understood as in any other sheet. Rows in which every field is a plain number, a tick or a name are read
together; every other row goes the ordinary way, one cell at a time. Where the table is not that plain, nothing is
read here and the ordinary way is taken for all of it.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from labmark.read.bulk_frames import merged, run_frame, student_frame
from labmark.read.bulk_table import BulkTable, Numbers, judge, keeps_zeros
from labmark.read.decimal_marks import decimal_mark
from labmark.read.fields import find_fields, read_numbers
from labmark.read.grid import Cell, Grid, column_letters
from labmark.read.headers import Overrides
from labmark.read.layouts.lines import result_unit
from labmark.read.layouts.plan import plan_of
from labmark.read.layouts.sheet import read_sheet
from labmark.read.layouts.view import Column
from labmark.read.model import Reading
from labmark.read.result_units import ASKED, power_to, unit_of
from labmark.read.tables import Maker
from labmark.read.text import choose_delimiter, decode, grid_of, sep_line

if TYPE_CHECKING:
    import pandas as pd

UNIT = "\x1f"
"""The separator of units of ASCII, which no table of readings holds."""
LEAST_ROWS = 2_000
"""Smaller tables are read fast enough cell by cell."""
LOOKED_AT = 60
"""Lines that are read the ordinary way to understand the table."""
MOST_ODD_SHARE = 0.05
"""Share of rows that may need the ordinary way."""


@dataclass(slots=True)
class Bulk:
    """A large table that was read."""

    grid: Grid
    reading: Reading
    maker: Maker
    runs: pd.DataFrame
    students: pd.DataFrame
    used: Any
    ignored: dict[str, str]
    counts: tuple[int, int]
    understood: tuple[str, ...]
    notes: tuple[str, ...]


def read_bulk(
    file: str, data: bytes, overrides: Overrides, group_by: str, outside: str, quantity: str = ""
) -> Bulk | None:
    """Return a large plain table, or None where the ordinary way has to be taken.

    `quantity` is that of the results: where their header gives another unit of it, they are turned one by one.

    Raises InputError where the bytes are no text.
    """
    text, encoding, guess = decode(file, data)
    if sep_line(text)[1]:
        return None
    delimiter = choose_delimiter(text)
    grid = grid_of(file, "".join(text[:200_000].splitlines(keepends=True)[:LOOKED_AT]), delimiter)
    plan = plan_of(grid, overrides, group_by, outside)
    if plan is None or (plan.result is not None and _in_another_unit(plan.result, quantity)):
        return None
    simple = _simple(text, data, delimiter)
    if simple is None:
        return None
    fields = find_fields(simple, UNIT if b'"' in data else delimiter, plan.header_lines)
    if fields is None or len(fields.starts) < LEAST_ROWS:
        return None
    grid.mark = decimal_mark([grid])[0]
    numbers = {column.at: Numbers(*read_numbers(fields, column.at - 1, grid.mark)) for column in plan.number_columns}
    full = np.asfortranarray(fields.ends > fields.starts)
    table = BulkTable(file, grid, plan, fields, numbers, full, np.zeros(len(fields.starts), bool))
    if not judge(table) or table.odd.sum() > max(50, MOST_ODD_SHARE * table.count):
        return None
    shown = {"\t": "tabs", ";": "semicolons", ",": "commas", "|": "bars"}[delimiter]
    notes = (f"the encoding was guessed ({encoding}): check names with accents",) if guess else ()
    understood = (f"text table, {encoding}, fields parted by {shown}",)
    return _read(table, (overrides, group_by, outside), quantity, understood, notes)


def _in_another_unit(column: Column, quantity: str) -> bool:
    unit = unit_of(result_unit(column.header))
    return unit is not None and quantity in ASKED and power_to(unit, quantity) != (0, True)


def _read(
    table: BulkTable,
    how: tuple[Overrides, str, str],
    quantity: str,
    understood: tuple[str, ...],
    notes: tuple[str, ...],
) -> Bulk:
    table.grid.keeps_zeros = keeps_zeros(table)
    clean = np.flatnonzero(~table.odd)
    runs, owners = run_frame(table, clean)
    students = student_frame(table, clean)
    maker, reading, rows = _ordinary(table, how, quantity)
    if maker.students["student"]:
        runs, students = merged(runs, owners, students, clean, maker, rows)
    used, ignored = _account(table, maker)
    counts = (int(table.grid.mark == "."), int(table.grid.mark == ","))
    return Bulk(table.grid, reading, maker, runs, students, used, ignored, counts, understood, notes)


def _simple(text: str, data: bytes, delimiter: str) -> bytes | None:
    """Return the table as UTF-8 with one kind of line ending and no quotation marks; None where that cannot be."""
    if '"' in text:
        return _unquoted(text, delimiter)
    if not data.isascii():
        data = text.encode()
    if b"\0" in data:
        return None
    ending = b"\r\n" if b"\r" in data else b"\n"
    data = data.rstrip(b"\r\n") + ending
    # Carriage returns stay where every line ends in one: taking them out would copy the whole table.
    return data if ending == b"\n" or data.count(b"\r") == data.count(b"\n") else None


def _unquoted(text: str, delimiter: str) -> bytes | None:
    """Take the quotation marks off, and part the fields by a character that stands in none of them."""
    try:
        rows = list(csv.reader(io.StringIO(text.rstrip("\r\n"), newline=""), delimiter=delimiter))
    except csv.Error:
        return None
    lines = [UNIT.join(row) for row in rows]
    joined = "\n".join(lines)
    if UNIT in text or "\r" in joined or joined.count("\n") != len(lines) - 1:
        return None
    return joined.encode() + b"\n"


def _ordinary(table: BulkTable, how: tuple[Overrides, str, str], quantity: str) -> tuple[Maker, Reading, list[int]]:
    """Read the rows that are not plain the ordinary way, with their neighbours in sight."""
    wanted = np.flatnonzero(table.odd)
    seen = np.unique(np.clip(np.concatenate([wanted - 1, wanted, wanted + 1, [0]]), 0, table.count - 1))
    cells = {place: cell for place, cell in table.grid.cells.items() if place[0] < table.first_row}
    for row in seen.tolist():
        for at in range(table.fields.starts.shape[1]):
            text = table.fields.text(row, at)
            if text:
                cells[row + table.first_row, at + 1] = Cell(text)
    grid = Grid(table.grid.name, cells, text_table=True, mark=table.grid.mark, keeps_zeros=table.grid.keeps_zeros)
    reading = read_sheet(grid, *how)
    odd_rows = set((wanted + table.first_row).tolist())
    reading.ignored = {
        place: why for place, why in reading.ignored.items() if place[0] in odd_rows or place[0] < table.first_row
    }
    reading.bulk = True
    reading.students = [student for student in reading.students if student.lines & odd_rows]
    maker = Maker(quantity)
    for student in reading.students:
        maker.add(student)
    rows = [min(student.lines) - table.first_row for student in reading.students]
    return maker, reading, rows


def _account(table: BulkTable, maker: Maker) -> tuple[Any, dict[str, str]]:
    """Return the cells that were used, and those of columns that are not needed."""
    from labmark.read.addresses import AddressSet

    filled = table.full & ~table.odd[:, None]
    needed = [column.at - 1 for column in table.plan.needed]
    ignored = {
        f"{column_letters(at + 1)}{row + table.first_row}": "stands in a column that is not needed"
        for at in range(filled.shape[1])
        if at not in needed
        for row in np.flatnonzero(filled[:, at]).tolist()
    }
    used = AddressSet(
        table.first_row, [column_letters(at + 1) for at in needed], filled[:, needed], frozenset(maker.account.used)
    )
    return used, ignored
