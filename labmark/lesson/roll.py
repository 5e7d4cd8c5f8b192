"""Who is in the class: a list of names as a text, one name per line, or a table with a heading over each column."""

import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import takewhile
from pathlib import Path
from typing import NamedTuple

from labmark.problems import InputError, Problem, raise_any
from labmark.read import load_book
from labmark.read.files import load_bytes
from labmark.read.grid import Book, Grid
from labmark.read.headers import ABOUT, UNSAID, WHO, Header, understand
from labmark.read.layouts import lines
from labmark.read.layouts.view import Column, Table, View
from labmark.read.text import decode
from labmark.read.words import folded, plain

NAME = "Student"
HEADINGS = {**ABOUT, "order": "Order"}
"""Field of a heading -> how the class sheet heads its column."""
_COUNTED = re.compile(r"\s*(?:(?P<number>\d{1,3})[.):]?(?:\t|\s+(?<=[.):]\s))|[-*•–]\s+)\s*")
"""1. Ada, - Ada"""
LOOKED_AT = 20
"""Rows in which the headings may stand."""


class Roll(NamedTuple):
    """The students in the order of the list."""

    headings: tuple[str, ...]
    """`Student`, and what else the list gives: ID, Email, Class, Bench, ..."""
    rows: tuple[tuple[str, ...], ...]
    """A student each, with a text under every heading; empty where the list is blank."""
    cells: tuple[str, ...]
    """Where each student stands in the list: A2 is its second line, or row."""
    left_out: tuple[str, ...] = ()
    """Headings of the list that say nothing to a class sheet."""


def read_roll(path: Path, groups: Sequence[str] = ()) -> Roll:
    """Return who is in a list (.txt, .csv, .xlsx, .ods); `groups` are further headings that are groupings.

    Raises InputError, with a problem for each line that is no name or names somebody twice.
    """
    book = load_book(path)
    lines_alone = path.suffix.lower() == ".txt" and len(_heading_row(book.grids[0], groups)[1]) < 2
    roll = _lines(path) if lines_alone else _table(path, book, groups)
    problems = [*_unnamed(roll, path), *_notes(roll, path), *_twice(roll, path), *_several(roll, path)]
    if not roll.rows:
        do = "write one name per line, or put them under the heading Student"
        problems = [Problem("the list names nobody", do, str(path))]
    raise_any(problems)
    return roll


def _lines(path: Path) -> Roll:
    text, _, _ = decode(str(path), load_bytes(path))
    lines = {f"A{at}": line for at, line in enumerate(text.splitlines(), 1) if plain(line)}
    first = next(iter(lines), "")
    heading = understand(plain(lines[first])) if lines else Header()
    if _names_people(heading) and not heading.unknown:
        del lines[first]
    counted = [each for each in map(_COUNTED.match, lines.values()) if each]
    if [each["number"] for each in counted] in ([*map(str, range(1, len(lines) + 1))], [None] * len(lines)):
        lines = {at: line[each.end() :] for (at, line), each in zip(lines.items(), counted, strict=True)}
    rows = tuple((line if "\t" in line.strip() else plain(line),) for line in lines.values())
    return Roll((NAME,), rows, tuple(lines))


def _table(path: Path, book: Book, groups: Sequence[str]) -> Roll:
    grids = [each for each in book.grids if each.cells and not each.hidden]
    if not grids:
        return Roll((NAME,), (), ())
    headed = ((each, *_heading_row(each, groups)) for each in grids)
    grid, row, headers = next((each for each in headed if each[2]), (grids[0], 0, {}))
    if headers:
        stray = next((at for at in sorted(grid.cells) if at[0] > row and at[1] > max(headers)), None)
        if stray is not None and grid.text_table:
            what, do = f"{grid.cells[stray].text!r} stands under no heading", "put a name with a comma in quotes"
            raise InputError(grid.problem(what, do, stray, str(path)))
        return _below(grid, row, headers)
    if {column for _, column in grid.cells} == {1}:
        return _below(grid, 0, {1: Header("student")})
    what = "no column of the list is headed Student, Name, or Surname and Forename"
    raise InputError(Problem(what, "head the columns: Student, ID, Email, Class, Bench, ...", str(path), grid.sheet))


def _heading_row(grid: Grid, groups: Sequence[str]) -> tuple[int, dict[int, Header]]:
    """Return the row of headings, and these; none where there is none.

    A title over them, Students of class 10B, says more than what is to be found below it.
    """
    rows = list(View(grid).lines.items())[:LOOKED_AT]
    found = [(row, {column: _meant(grid, row, column, groups) for column in cells}) for row, cells in rows]
    named = [each for each in found if any(map(_names_people, each[1].values()))]
    plainly = (each for each in named if any(_names_people(one) and not one.unknown for one in each[1].values()))
    return next(iter((*plainly, *named)), (0, {}))


def _names_people(header: Header) -> bool:
    """Return whether names, or numbers that stand for them, are below a heading; Student 1 is somebody."""
    return header.field in WHO and header.number is None


def _meant(grid: Grid, row: int, column: int, groups: Sequence[str]) -> Header:
    text = plain(grid.cells[row, column].text)
    by = next((each for each in groups if folded(each) == folded(text)), "")
    return Header("group", group=by, text=text) if by else understand(text)


def _below(grid: Grid, row: int, headers: dict[int, Header]) -> Roll:
    """Return the students below a row of headings."""
    records = sorted({at for at, _ in grid.cells if at > row})
    table = Table(View(grid), [row], [Column(at, header) for at, header in headers.items()], records, UNSAID)
    names, others = lines.name_columns(table), _others(table)
    made = [(at, _row(table, at, names, others.values())) for at in records]
    uncalculated = {at for (at, _), cell in grid.cells.items() if cell.kind == "uncalculated"}
    kept = [(at, each) for at, each in made if any(each) or at in uncalculated]
    used = {column.at for column in (*names, *others.values())}
    left_out = tuple(headers[at].text for at in headers if at not in used)
    first = grid.address((1, names[0].at)).rpartition("!")[2].rstrip("1")
    return Roll((NAME, *others), tuple(each for _, each in kept), tuple(f"{first}{at}" for at, _ in kept), left_out)


def _others(table: Table) -> dict[str, Column]:
    """Return heading of the class sheet -> the column of the list for it, but for that of the names."""
    found: dict[str, Column] = {}
    for column in (*lines.about_columns(table), *table.of("group", "order")):
        header = column.header
        heading = (header.group or header.text) if header.field == "group" else HEADINGS[header.field]
        if column not in lines.name_columns(table):
            found.setdefault(heading, column)
    return dict(sorted(found.items(), key=lambda each: each[1].at))


def _row(table: Table, line: int, names: list[Column], others: Iterable[Column]) -> tuple[str, ...]:
    cells = (table.cell(line, column) for column in others)
    name = " ".join(reversed(lines.name_parts(table, line, names)))
    return name, *("" if cell is None else plain(cell.text) for cell in cells)


def _unnamed(roll: Roll, path: Path) -> Iterator[Problem]:
    for row, cell in zip(roll.rows, roll.cells, strict=True):
        if not row[0]:
            yield Problem("the name is blank", "write the name, or delete the row", str(path), cell=cell)


def _notes(roll: Roll, path: Path) -> Iterator[Problem]:
    """Yield what stands alone at the end of the list and reads as a note: 28 students, Checked by KM, thank you."""
    rows = list(zip(roll.rows, roll.cells, strict=True))
    small = any(name.islower() for name, *_ in roll.rows[:1])
    for (name, *_), cell in takewhile(lambda each: _is_note(*each[0], small=small), reversed(rows)):
        what = f"{name!r} reads as a note, not as a name"
        do = "take it out of the list, or begin it with a capital if it is a name"
        yield Problem(what, do, str(path), cell=cell)


def _is_note(name: str, *others: str, small: bool) -> bool:
    """Return whether nothing else stands beside a text that is no name; `small` where names have no capitals."""
    note = lines.NOTE_START.match(name) or lines.is_sentence(name) or (name.islower() and not small)
    return bool(name) and not any(others) and bool(note)


def _several(roll: Roll, path: Path) -> Iterator[Problem]:
    """Yield the lines that hold more than a name, and a title over the names: Class 10B, not Group 1 over Group 2."""
    first, *others = (_title_of(name) for name, *_ in roll.rows) if roll.rows and len(roll.headings) == 1 else [""]
    for at, ((name, *_), cell) in enumerate(zip(roll.rows, roll.cells, strict=True)):
        alone = len(roll.rows) == 1 and name.count(",") > 1
        if "\t" in name or ";" in name or alone:
            yield Problem(f"{plain(name)[:60]!r} is more than a name", "write one name per line", str(path), cell=cell)
        elif at == 0 and first and first not in others:
            yield Problem(f"{name!r} reads as a title, not as a name", "take it out of the list", str(path), cell=cell)


def _title_of(text: str) -> str:
    """Return what a text is called after that may be a title, class or group; empty where it is none."""
    field = understand(text).field
    return field if field in ("class", "group") and any(map(str.isdigit, text)) else ""


def _twice(roll: Roll, path: Path) -> Iterator[Problem]:
    """Yield whoever stands there twice, unless an ID or an attempt tells the two apart."""
    telling = [roll.headings.index(each) for each in ("ID", "Attempt") if each in roll.headings]
    first: dict[tuple[str, ...], str] = {}
    for row, cell in zip(roll.rows, roll.cells, strict=True):
        key = (folded(row[0]), *(row[place] for place in telling))
        if row[0] and first.setdefault(key, cell) != cell:
            what = f"{row[0]} stands in {first[key]} as well"
            yield Problem(what, "add what tells the two apart, such as a second name or an ID", str(path), cell=cell)
