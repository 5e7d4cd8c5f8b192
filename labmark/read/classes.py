"""The class as it is handed on: every sheet of a file, or every file of a folder, joined into one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from labmark.problems import InputError, Problem
from labmark.read.files import load_book
from labmark.read.grid import Book, Grid
from labmark.read.headers import Header, Overrides
from labmark.read.layouts.sheet import read_sheet
from labmark.read.model import RawStudent, Reading
from labmark.read.tables import Maker, decimal_mark
from labmark.read.words import folded, plain
from labmark.records import ClassSheet, Ledger

PRACTICAL = "practical"
"""Folded name of the sheet that holds the practical."""
ON_COMMAND_LINE = "the practical file was given on the command line"


def read_class(
    path: Path,
    *,
    sheets: Sequence[str] = (),
    columns: Mapping[str, str] | None = None,
    group_by: str | None = None,
    capacity: int | None = None,
    practical_used: bool = False,
) -> ClassSheet:
    """Return the class in a workbook, a text table or a folder of one file a student.

    `sheets` picks sheets by name (all are read where it is empty); `columns` is the teacher's [columns] table, meaning
    -> header; `group_by` is a further header that is a grouping; `capacity` is that of the burette [µL];
    `practical_used` says that the workbook's own Practical sheet was the practical.
    Raises InputError, with every problem found, where the file cannot be used.
    """
    path = Path(path)
    book = load_book(path)
    return _class_of(book, sheets, overrides_of(columns or {}), group_by or "", practical_used)


def overrides_of(columns: Mapping[str, str]) -> Overrides:
    """Return the teacher's meanings by folded header text."""
    from labmark.read.headers import understand

    found: dict[str, Header] = {}
    for meaning, header in columns.items():
        found[folded(str(header))] = understand(str(meaning))
    return found


def _class_of(
    book: Book, sheets: Sequence[str], overrides: Overrides, group_by: str, practical_used: bool
) -> ClassSheet:
    chosen = _chosen(book, sheets)
    practical = [grid for grid in book.grids if folded(grid.name) == PRACTICAL and grid.prefix]
    readings = _readings(book, chosen, overrides, group_by)
    mark, points, commas = decimal_mark(chosen)
    maker = Maker(mark, _keeps_zeros(book))
    _make_names(readings)
    for _, reading in readings:
        for student in reading.students:
            maker.add(student)
    for grid, reading in readings:
        for place, why in reading.ignored.items():
            maker.account.ignored.setdefault(grid.address(place), why)
    for grid in practical:
        _account_practical(grid, maker, practical_used)
    runs, students = maker.frames()
    account = maker.account
    return ClassSheet(
        runs,
        students,
        Ledger(frozenset(account.used), account.ignored, account.rejected),
        book.file,
        book.sha256,
        tuple(grid.name for grid in chosen if grid.prefix),
        tuple(_understood(book, readings, mark, points, commas)),
        tuple(_notes(book, readings, maker)),
    )


def _chosen(book: Book, sheets: Sequence[str]) -> list[Grid]:
    """Return the sheets to read; raises InputError for a name that is not there."""
    if book.text_table or not sheets:
        return [grid for grid in book.grids if folded(grid.name) != PRACTICAL or not grid.prefix]
    known = {folded(grid.name): grid for grid in book.grids}
    missing = [name for name in sheets if folded(name) not in known]
    if missing:
        names = ", ".join(grid.name for grid in book.grids)
        raise InputError(
            [Problem(f"there is no sheet called {name!r}", f"choose from: {names}", book.file) for name in missing]
        )
    return [known[folded(name)] for name in sheets]


def _readings(book: Book, chosen: list[Grid], overrides: Overrides, group_by: str) -> list[tuple[Grid, Reading]]:
    readings: list[tuple[Grid, Reading]] = []
    problems: list[Problem] = []
    for grid in chosen:
        try:
            readings.append((grid, read_sheet(grid, overrides, group_by, grid.name)))
        except InputError as error:
            problems.extend(_in_file(problem, book, grid) for problem in error.problems)
    if problems:
        raise InputError(problems)
    if not any(reading.students for _, reading in readings):
        names = ", ".join(grid.name for grid in chosen)
        raise InputError(
            Problem(
                "no table of titrations was found" + (f" on {names}" if names and not book.text_table else ""),
                "head the columns Student, Rough initial, Rough final, Run 1 initial, Run 1 final, ..., "
                "or say which header is what in a [columns] table of the practical file",
                book.file,
            )
        )
    return readings


def _in_file(problem: Problem, book: Book, grid: Grid) -> Problem:
    return Problem(
        problem.what,
        problem.do,
        problem.file or book.file,
        problem.sheet or (grid.name if grid.prefix else ""),
        problem.cell,
    )


def _keeps_zeros(book: Book) -> bool | None:
    return book.grids[0].keeps_zeros if book.text_table else None


def _make_names(readings: list[tuple[Grid, Reading]]) -> None:
    """Make the students' names distinct: a second attempt, or a name that two classes share."""
    seen: dict[str, RawStudent] = {}
    for _, reading in readings:
        for student in reading.students:
            name = student.name
            first = seen.get(name)
            count = 2
            while student.name in seen:
                student.name = f"{name} ({count})"
                count += 1
            seen[student.name] = student
            if first is not None:
                student.notes.append(
                    f"the name {name} stands in the sheet more than once: kept as {student.name}; ask who it was"
                )
                first.notes.append(
                    f"the name {name} stands in the sheet more than once: the other one is kept as {student.name}"
                )


def _account_practical(grid: Grid, maker: Maker, used: bool) -> None:
    for place in grid.cells:
        address = grid.address(place)
        if not used:
            maker.account.ignored[address] = ON_COMMAND_LINE
        elif place[1] <= 2 and plain(grid.cells[place].text):
            maker.account.used.add(address)
        else:
            maker.account.ignored[address] = "a note beside the practical"


def _understood(book: Book, readings: list[tuple[Grid, Reading]], mark: str, points: int, commas: int) -> list[str]:
    lines = [*book.understood]
    for _, reading in readings:
        lines.extend(reading.understood)
    if points or commas:
        lines.append(f"numbers in texts have a decimal {'comma' if mark == ',' else 'point'}")
    return lines


def _notes(book: Book, readings: list[tuple[Grid, Reading]], maker: Maker) -> list[str]:
    notes = [*book.notes]
    for grid, reading in readings:
        notes.extend(reading.notes)
        if not reading.students:
            notes.append(f"sheet {grid.name} holds no table of titrations and was not used")
    if maker.keeps_zeros is False:
        notes.append(
            "the file keeps no trailing zeros: how many decimals were written cannot be known, and no mark is taken for it"
        )
    elif maker.hidden_digits:
        notes.append(
            "some readings stand in cells without a fixed number format: how many decimals were written cannot be known for those"
        )
    if maker.more_digits:
        notes.append(
            f"more digits than a burette gives in {', '.join(maker.more_digits[:5])}: taken to the nearest 0.001 cm³"
        )
    return notes


def mapping_text(class_sheet: ClassSheet) -> str:
    """Return the understanding of the columns as a [columns] table, ready for the practical file."""
    lines = ["[columns]"]
    for line in class_sheet.understood:
        meaning, _, header = line.partition(": ")
        if header.startswith(("'", "column ", "row ")):
            lines.append(f"{_quoted(meaning)} = {_quoted(header)}")
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def read_practical_sheet(path: Path) -> list[tuple[str, object, str]] | None:
    """Return the workbook's own practical as (key, value, address); None where there is no sheet called Practical.

    Raises InputError where the file cannot be read.
    """
    from labmark.read.cells import exact_claim

    book = load_book(Path(path))
    if book.text_table:
        return None
    grid = next((grid for grid in book.grids if folded(grid.name) == PRACTICAL), None)
    if grid is None:
        return None
    rows: list[tuple[str, object, str]] = []
    for (row, column), cell in sorted(grid.cells.items()):
        value = grid.cells.get((row, 2))
        if column != 1 or value is None or not plain(cell.text):
            continue
        if (folded(cell.text), folded(value.text)) == ("key", "value"):
            continue
        number = value.kind == "number" and isinstance(value.value, (int, float)) and not isinstance(value.value, bool)
        content = exact_claim(value.value) if number else value.value  # type: ignore[arg-type]
        rows.append((plain(cell.text), content, grid.address((row, 2))))
    return rows
