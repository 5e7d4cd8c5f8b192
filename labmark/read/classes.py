"""The class as it is handed on: every sheet of a file, or every file of a folder, joined into one."""

import re
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path, PurePath
from typing import NamedTuple

from labmark.facts import Student
from labmark.practical.own import ONE, OwnNumber, Several
from labmark.practical.quantities import Asked
from labmark.problems import InputError, Problem, raise_any
from labmark.read.blanks import with_blanks
from labmark.read.decimal_marks import decimal_mark
from labmark.read.files import load_book, load_folder
from labmark.read.grid import Book, Grid, is_marks_workbook
from labmark.read.headers import (
    Header,
    Meant,
    best_titres,
    ended_runs,
    from_and_to,
    lettered_runs,
    numbered_runs,
    titration_named,
    understand,
)
from labmark.read.layouts.sheet import NO_RUNS, holds_no_runs, read_sheet
from labmark.read.mapping import check_overrides, overrides_of, texts_of, with_units
from labmark.read.model import Reading
from labmark.read.own_numbers import check_columns, check_given, own_headings
from labmark.read.practical_sheet import is_practical, practical_ledger
from labmark.read.remarks import capacity_notes, file_notes, give_comments, understood
from labmark.read.runs import Account
from labmark.read.students import held_by, make_distinct, settle_several, whole_students
from labmark.read.tables import Maker, keeps_zeros, zeros_cut
from labmark.read.words import folded
from labmark.records import ClassSheet, Ledger
from labmark.words import readable
from labmark.written import listed_in

_DEFAULT_SHEET = re.compile(r"(sheet|tabelle|feuil(le)?|hoja|table|data|daten|class|klasse|readings?)\s*_?\d*")
_WHAT_TO_DO = (
    "head the columns Student, Rough initial, Rough final, Run 1 initial, Run 1 final, ..., "
    "or say which header is what in a [columns] table of the practical file"
)


def read_class(
    path: Path,
    *,
    sheets: Sequence[str] = (),
    columns: Mapping[str, str] | None = None,
    group_by: str | None = None,
    capacity: int | None = None,
    practical_used: bool = False,
    book: Book | None = None,
    asked: Asked | None = None,
    numbers: Sequence[OwnNumber] = (),
    several: Several = ONE,
) -> ClassSheet:
    """Return the class in a workbook, a text table or a folder of one file a student.

    `sheets` picks sheets by name, of a folder also files (empty: all); `columns` is the teacher's [columns] table,
    meaning -> header; `group_by` is a further header that is a grouping; `capacity` [µL] is the burette's: a
    reading beyond it that may have lost its decimal point gets a note; `practical_used` says that the workbook's own
    Practical sheet was the practical; `book` is what `load_book` made of the path, where it is loaded already;
    `asked` is the unit of the result: results written in another one of its family are turned into it;
    `numbers` are those of the practical that the students may have of their own; `several` names its endpoints,
    titrations and results, where there are several.
    Raises InputError, with every problem found, where the file cannot be used.
    """
    path = Path(path)
    taken = [column for number in numbers for column in number.columns]
    overrides = overrides_of(columns or {}, taken, several)
    files = _files(path, book)
    texts = texts_of(files.books)
    overrides = with_units(overrides, texts)
    groups = {folded(group_by): Header("group", group=group_by, text=group_by)} if group_by else {}
    ended = ended_runs(texts)
    runs = {**from_and_to(texts, several.endpoints), **lettered_runs(texts), **numbered_runs(texts), **ended}
    known = {**groups, **runs, **own_headings(texts, numbers, overrides)}
    solution = next((number for number in numbers if number.words == "known" and number.value is not None), None)
    meant = Meant(known, several, asked.unit if asked else "", best_titres(texts), solution)
    readings = _readings(files.books, sheets, meant, str(path))
    check_columns(readings, numbers, meant, str(path))
    there = [header for reading in readings for _, header in reading.columns]
    check_overrides(overrides, texts, there, str(path))
    settle_several(readings, several, str(path))
    return _joined(files, readings, Maker(asked, numbers, several), practical_used, capacity)


class _Files(NamedTuple):
    """The files of a class."""

    name: str
    """Of the file or the folder, as it is shown."""
    books: list[Book]
    sha256: str
    passed: Sequence[str] = ()
    """Names of those in a folder that are no spreadsheets."""


def _files(path: Path, book: Book | None) -> _Files:
    """Return the files of a class, of which `book` may be loaded. Raises InputError."""
    if path.is_dir():
        return _Files(readable(str(path)), *load_folder(path))
    book = book or load_book(path)
    if is_marks_workbook(book) or path.name in listed_in(path.parent):
        raise InputError(Problem("labmark wrote this file", "name the class sheet it was made from", str(path)))
    return _Files(readable(str(path)), [book], book.sha256)


def _readings(books: list[Book], sheets: Sequence[str], overrides: Meant, file: str) -> list[Reading]:
    """Read every chosen sheet; raises InputError with the problems of all of them."""
    readings: list[Reading] = []
    problems: list[Problem] = []
    files = {name for book in books if len(books) > 1 for name in _names(book)}
    for book in _books_called(books, sheets, file):
        found, wrong = _of_book(book, _chosen(book, sheets, files), overrides)
        readings += found
        problems += wrong
    done = {folded(student.name) for reading in readings for student in reading.students if student.runs}
    for reading in readings:
        if not {folded(student.name) for student in reading.students} <= done:
            problems += [_in_file(problem, reading.book, reading.grid) for problem in reading.asked]
    raise_any(problems)
    readings = _without_copies(readings)
    if not any(reading.students and not reading.only_claims for reading in readings):
        names = ", ".join(reading.grid.name for reading in readings if not reading.grid.text_table)
        what = "no table of titrations was found" + (f" on {names}" if names else "")
        raise InputError(Problem(what, _WHAT_TO_DO, file))
    return readings


def _of_book(book: Book, chosen: list[Grid], overrides: Meant) -> tuple[list[Reading], list[Problem]]:
    """Return what sheets of a file say, and what is wrong with them.

    A sheet of other things beside the class (a preparation list, notes) is left out, whatever is wrong with it.
    """
    found: list[Reading] = []
    failed: list[tuple[Grid, InputError]] = []
    for grid in chosen:
        try:
            found.append(read_sheet(book, grid, overrides, _outside(book, grid, len(chosen), overrides)))
        except InputError as error:
            failed.append((grid, error))
    if any(reading.students and not reading.no_runs for reading in found):
        others = [grid for grid, _ in failed if holds_no_runs(grid, overrides)]
        failed = [(grid, error) for grid, error in failed if grid not in others]
        why = "left out: its table names no student and no run"
        found = [_left_out(one, NO_RUNS, why) if one.no_runs else one for one in found]
        found += [_left_out(Reading(book, grid), NO_RUNS, why) for grid in others]
    return found, [_in_file(problem, book, grid) for grid, error in failed for problem in error.problems]


def _without_copies(readings: list[Reading]) -> list[Reading]:
    """Leave out sheets of a workbook that repeat a part of what an earlier one says of the same students."""
    kept: list[Reading] = []
    for reading in readings:
        for first in (each for each in kept if each.book is reading.book and reading.students):
            known = {folded(student.name): held_by(student) for student in first.students}
            pairs = [(held_by(student), known.get(folded(student.name), set())) for student in reading.students]
            if all(mine <= theirs for mine, theirs in pairs) and any(mine < theirs for mine, theirs in pairs):
                why = f"repeats students of the sheet {first.grid.name}, and was left out"
                reading = _left_out(reading, why, why)
                break
        kept.append(reading)
    return kept


def _left_out(reading: Reading, of_cells: str, why: str) -> Reading:
    grid = reading.grid
    return Reading(reading.book, grid, ignored=dict.fromkeys(grid.cells, of_cells), left_out=why)


def _names(book: Book) -> set[str]:
    """Return what a file goes by, folded: its name with its ending and without."""
    path = PurePath(book.file)
    return {folded(path.name), folded(path.stem)}


def _books_called(books: list[Book], sheets: Sequence[str], file: str) -> list[Book]:
    """Return the files to look into; raises InputError where a name is neither that of a sheet nor of a file."""
    if not sheets or (len(books) == 1 and not books[0].text_table):
        return books
    names = {folded(name) for name in sheets}
    named = [book for book in books if _names(book) & names]
    known = {folded(grid.name) for book in books if not book.text_table for grid in book.grids}
    if missing := [name for name in sheets if folded(name) not in known.union(*map(_names, books))]:
        what, remedy = "a text table has no sheets, so none called", "leave --sheet out"
        if len(books) > 1:
            what = "there is no sheet or file called"
            remedy = "give the name of a file in the folder, or of a sheet in its workbooks"
        raise InputError([Problem(f"{what} {name!r}", remedy, file) for name in missing])
    if not named:
        return [book for book in books if not book.text_table]
    return [book for book in books if book in named or names & {folded(grid.name) for grid in book.grids}]


def _chosen(book: Book, sheets: Sequence[str], files: Collection[str]) -> list[Grid]:
    """Return the sheets to read; raises InputError for a name that is not there and not among those of `files`."""
    if book.text_table:
        return list(book.grids)
    known = {folded(grid.name): grid for grid in book.grids}
    named = [name for name in sheets if folded(name) not in files or folded(name) in known]
    if not named:
        grids = [grid for grid in book.grids if not is_practical(grid)]
        return [grid for grid in grids if not grid.hidden] or grids
    missing = [name for name in named if folded(name) not in known]
    if missing:
        do = f"choose from: {', '.join(grid.name for grid in book.grids)}"
        raise InputError([Problem(f"there is no sheet called {name!r}", do, book.file) for name in missing])
    return [known[folded(name)] for name in dict.fromkeys(named)]


def _outside(book: Book, grid: Grid, sheets: int, overrides: Meant) -> str:
    """Return the name of a student whom no cell names: the sheet's, unless that says nothing, or else the file's."""
    stem = book.name or PurePath(book.file).stem
    if grid.text_table:
        return stem
    generic = sheets == 1 and (_DEFAULT_SHEET.fullmatch(folded(grid.name)) or understand(grid.name).tags)
    return stem if generic or titration_named(grid.name, overrides) else grid.name


def _in_file(problem: Problem, book: Book, grid: Grid) -> Problem:
    sheet = problem.sheet or grid.sheet
    return Problem(problem.what, problem.do, problem.file or book.file, sheet, problem.cell.rpartition("]")[2])


def _joined(
    files: _Files, readings: list[Reading], maker: Maker, practical_used: bool, capacity: int | None
) -> ClassSheet:
    """Make the students and the ledger of everything that was read."""
    counts = {book.file: _settle_mark(book, readings) for book in files.books}
    make_distinct(list(whole_students(readings)), files.name)
    own = check_given(readings, maker.known)
    for reading in readings:
        give_comments(reading)
        if reading.grid.text_table:
            reading.grid.keeps_zeros, reading.grid.zeros_cut = keeps_zeros(reading), zeros_cut(reading)
    for student in whole_students(readings):
        maker.add(student)
    students = maker.students()
    if any(number.by_runs for number in maker.known):
        students = with_blanks(students)
    notes = [
        *(*file_notes(files.books, readings, maker, counts), *maker.unit_notes, *own),
        *(f"sheet {grid.name} is hidden and was not read" for grid in _hidden(files.books, readings)),
        *capacity_notes(students, capacity),
    ]
    if files.passed:
        notes.append(
            f"files that are no spreadsheets, or copies of others, were passed over: {', '.join(files.passed[:10])}"
        )
    return ClassSheet(
        students,
        _ledger(files.books, readings, maker.account, practical_used),
        files.name,
        files.sha256,
        tuple(one.grid.name for one in readings if one.students and not one.grid.text_table),
        tuple(understood(files.books, readings, counts, maker.runs_read)),
        _room(readings, students),
        tuple(notes),
        tuple((*entry, place) for reading in readings for entry, place in reading.columns.items()),
    )


def _room(readings: list[Reading], students: Sequence[Student]) -> int | None:
    """Return how many accurate runs there are columns for; None where there may be any number.

    Where one row is one run, and none of several students has a second accurate one, no more was asked for.
    """
    rooms = [reading.room for reading in readings if reading.students]
    if None not in rooms:
        done = (Counter(run.series for run in one.runs if not run.rough) for one in students)
        most = [times for of_student in done for times in of_student.values()]
        return max([*most, *(room for room in rooms if room is not None)])  # several may stand in one cell
    accurate = [len(one.accurate) for one in students if one.runs]
    return max(accurate) if len(accurate) > 1 and max(accurate) < 2 else None


def _settle_mark(book: Book, readings: list[Reading]) -> tuple[int, int]:
    """Find the decimal mark of a file's texts, for all its sheets alike."""
    grids = [reading.grid for reading in readings if reading.book is book]
    mark, points, commas = decimal_mark(cell for grid in grids for cell in grid.cells.values())
    for grid in grids:
        grid.mark = mark
    return points, commas


def _hidden(books: list[Book], readings: list[Reading]) -> list[Grid]:
    return [grid for grid in _unread(books, readings) if grid.hidden and not is_practical(grid)]


def _unread(books: list[Book], readings: list[Reading]) -> list[Grid]:
    read = {id(reading.grid) for reading in readings}
    return [grid for book in books for grid in book.grids if id(grid) not in read]


def _ledger(books: list[Book], readings: list[Reading], account: Account, practical_used: bool) -> Ledger:
    """Return the account with the cells that no table took, those of hidden sheets, and those of the practical."""
    for reading in readings:
        for place, why in reading.ignored.items():
            address = reading.grid.address(place)
            if address not in account.used and address not in account.rejected:
                account.ignored.setdefault(address, why)
    for grid in _hidden(books, readings):
        account.ignored.update({grid.address(place): "the sheet is hidden" for place in grid.cells})
    for grid in filter(is_practical, _unread(books, readings)):
        used, ignored = practical_ledger(grid, practical_used)
        account.used.update(used)
        account.ignored.update(ignored)
    return Ledger(frozenset(account.used), account.ignored, account.rejected)
