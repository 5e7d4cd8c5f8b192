"""Where a practical comes from: one that ships, a file of the teacher's own, or the sheet of a workbook."""

import difflib
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from labmark.places import practicals_folder
from labmark.practical import Practical, practical_from_rows, practical_from_toml
from labmark.practical.load import NONE, School, school_from_toml
from labmark.problems import InputError, Problem
from labmark.written import write_new

if TYPE_CHECKING:
    from labmark.read.grid import Book

TO_BEGIN_WITH = "drain-cleaner"
"""The one that is copied where nobody says which: its comments explain the most."""
PASSED_OVER = (
    "the workbook’s own sheet Practical was passed over, and says something else than the practical that was named; "
    "leave --practical out to mark by it"
)


def shipped() -> list[str]:
    """Return the names of the practicals that ship, in order."""
    return sorted(each.stem for each in practicals_folder().glob("*.toml"))


def find_practical(practical: str | None, path: Path, book: "Book | None" = None, school: School = NONE) -> Practical:
    """Return the practical at a path, of a name that ships, or of the workbook's own sheet. Raises InputError.

    `school` holds what stands beneath every practical.
    """
    if practical is not None:
        return practical_from_toml(text_of(practical), practical, school)
    own = _own(path, book, school)
    if own is None:
        what = "there is no practical: the file has no sheet called Practical"
        do = "name one with --practical, a path or one of those that labmark practicals lists"
        raise InputError(Problem(what, do, str(path)))
    return own


def _own(path: Path, book: "Book | None", school: School) -> Practical | None:
    """Return the practical of the workbook's own sheet; None where it has none. Raises InputError."""
    from labmark.read import read_practical_sheet

    rows = read_practical_sheet(path, book)
    plain = [(key, value, address.rpartition("!")[2]) for key, value, address in rows or ()]
    return None if rows is None else practical_from_rows(plain, str(path), school=school)


def own_passed_over(path: Path, book: "Book", used: Practical, school: School = NONE) -> tuple[str, ...]:
    """Return a note where the workbook has a practical of its own that says something else than the one used."""
    with suppress(InputError):
        own = _own(path, book, school)
        return () if own is None or own.file == used.file else (PASSED_OVER,)
    return (PASSED_OVER,)


def school_at(path: Path) -> dict[str, Any]:
    """Return what a school's file says for all practicals. Raises InputError."""
    return school_from_toml(_text_in(path), str(path))


def named(practical: str, school: School = NONE) -> Practical:
    """Return the practical at a path or of a name that ships, above what the school says. Raises InputError."""
    return practical_from_toml(text_of(practical), practical, school)


def text_of(practical: str) -> str:
    """Return the text of the practical file at a path or of a name that ships. Raises InputError."""
    file = Path(practical)
    if not file.is_file() and practical.casefold() in shipped():
        file = practicals_folder() / f"{practical.casefold()}.toml"
    if not file.is_file():
        raise InputError(_no_practical(practical, file))
    return _text_in(file)


def _text_in(file: Path) -> str:
    from labmark.read.files import load_bytes

    try:
        return load_bytes(file).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(Problem("is not a text file in UTF-8", "save it as UTF-8", str(file))) from error


def _no_practical(practical: str, file: Path) -> Problem:
    of_word = (each for each in shipped() if file.stem in each.split("-"))
    near = difflib.get_close_matches(file.stem, shipped(), 1) or [*of_word]
    perhaps = f"perhaps {near[0]} is meant; " if near else ""
    if file.exists():
        kind = "a folder" if file.is_dir() else "a pipe or a device"
        return Problem(f"is {kind}, not a practical file", "name the file", practical)
    do = f"{perhaps}give a path, or a name that labmark practicals lists"
    return Problem("no such practical file", do, practical)


def copy_to_edit(practical: str | None, new: Path) -> tuple[str, Practical]:
    """Write a copy of a practical for a teacher to edit; return name and content of what was copied. Raises InputError.

    Where nobody says which, it is the one that the new file's name is of, or `TO_BEGIN_WITH`.
    """
    name = practical or (new.stem if new.stem in shipped() else TO_BEGIN_WITH)
    text, copied = text_of(name), named(name)
    write_new(new, text.encode())
    return name, copied
