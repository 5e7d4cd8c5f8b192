"""A folder of one file a student -> the books in it, in the order of their names."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path, PurePath

from labmark.problems import InputError, Problem
from labmark.read.files import TABLE_ENDINGS, load_book
from labmark.read.grid import Book, Grid, is_marks_workbook
from labmark.read.guard import refuse
from labmark.words import readable
from labmark.written import is_own, listed_in

MOST_FILES = 2_000


def load_folder(path: Path) -> tuple[list[Book], str, list[str]]:
    """Return the books of a folder, a hash over all of them, and the names of files that were passed over.

    Raises InputError with every file that cannot be used, or where there is none.
    """
    files = _files(path)
    wanted = [file for file in files if _is_table(file)]
    passed = [readable(file.name) for file in files if file not in wanted]
    if not wanted:
        do = "give a folder with one .xlsx, .ods or .csv file a student"
        raise refuse(str(path), "the folder holds no spreadsheet", do)
    if len(wanted) > MOST_FILES:
        what = f"the folder holds {len(wanted)} spreadsheets, more than {MOST_FILES}"
        raise refuse(str(path), what, "give a folder a class")
    books, stray = _books(wanted)
    digest = hashlib.sha256("".join(f"{book.sha256}  {book.file}\n" for book in _relative(books)).encode())
    return books, digest.hexdigest(), sorted([*passed, *stray], key=str.casefold)


def _files(path: Path) -> list[Path]:
    """Return what is in a folder but folders, in order."""
    try:
        there = sorted(path.iterdir(), key=lambda file: (file.name.casefold(), file.name))
    except OSError as error:
        raise refuse(str(path), f"the folder cannot be read ({error.strerror})", "check who may read it") from error
    ours = listed_in(path)
    return [file for file in there if not file.is_dir() and not is_own(file.name, ours)]


def _is_table(file: Path) -> bool:
    """Return whether a file may be a table; a pipe, or a link that leads nowhere, is passed over like a photograph."""
    return file.suffix.casefold() in TABLE_ENDINGS and not file.name.startswith((".", "~$")) and file.is_file()


def _books(wanted: list[Path]) -> tuple[list[Book], list[str]]:
    """Return the books of files, and the names of those that were passed over.

    The only .txt file among spreadsheets is a note to somebody, not a student's table, if it cannot be read as one.
    """
    texts = [file for file in wanted if file.suffix.casefold() == ".txt"]
    stray = texts if len(texts) == 1 < len(wanted) else []
    books: list[Book] = []
    passed: list[str] = []
    problems: list[Problem] = []
    for file in wanted:
        try:
            book = load_book(file)
            books += [] if is_marks_workbook(book) else [_marked(book, readable(file.name))]
        except InputError as error:
            if file in stray:
                passed.append(readable(file.name))
            else:
                problems += error.problems
    if problems:
        raise InputError(problems)
    return books, passed


def _relative(books: list[Book]) -> list[Book]:
    """Return the books under their bare names, so that the hash does not depend on where the folder lies."""
    return [replace(book, file=PurePath(book.file).name) for book in books]


def _marked(book: Book, name: str) -> Book:
    """Return a book whose addresses carry the file's name: "[S01.xlsx]Sheet1!C2"."""
    grids: tuple[Grid, ...] = tuple(replace(grid, prefix=f"[{name}]{grid.prefix}") for grid in book.grids)
    return replace(book, grids=grids)
