"""A path -> a book of grids, whatever the file's name says it is; a folder -> those of one file a student, in order."""

import hashlib
import re
import stat
from collections.abc import Collection
from pathlib import Path, PurePath

from labmark.dataclass import replace
from labmark.problems import InputError, Problem, raise_any
from labmark.read.grid import Book, is_marks_workbook
from labmark.read.guard import MOST_FILE_BYTES, check_not_foreign, check_size, is_zip, open_archive, refuse
from labmark.words import readable
from labmark.written import is_own, listed_in

_COPY = re.compile(
    r"(?:copy of|kopie von|copie de|copia de) (?P<of>.+)"
    r"|(?P<stem>.+?)(?: - (?:copy|kopie|copie|copia))?"
    r"(?: ?\(\d+\)| ?[(-][^()]*(?:conflict|konflikt|conflit)[^()]*\)?)?",
    re.I,
)
"""Ada (1), Copy of Ada, Ada - Kopie, Ada (conflicted copy): what programs call another Ada."""
MOST_FILES = 2_000
"""Of a folder of one file a student."""
TABLE_ENDINGS = frozenset({".xlsx", ".xlsm", ".ods", ".csv", ".tsv", ".txt", ".xltx", ".xltm", ".tab"})


def load_bytes(path: Path) -> bytes:
    """Return the bytes of a file; raises InputError where it cannot be read or is too large."""
    file = str(path)
    if path.name.startswith("~$"):
        do = "give the workbook itself, and close it first"
        raise refuse(file, "this is the lock file of a workbook that is open", do)
    try:
        data = _bytes_of(path)
    except FileNotFoundError as error:
        raise refuse(file, "there is no such file", "check the name and the folder") from error
    except PermissionError as error:
        do = "close it in other programs, and check who may read it"
        raise refuse(file, "the file may not be read", do) from error
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise refuse(file, f"the file cannot be read ({why})", "check the name and the folder") from error
    check_size(file, data)
    return data


def _bytes_of(path: Path) -> bytes:
    if not stat.S_ISREG(path.stat().st_mode):  # a pipe would be waited for, and a device never ends
        kind = "a folder" if path.is_dir() else "a pipe or a device"
        raise refuse(str(path), f"this is {kind}, not a file", "save the class sheet as a file")
    with path.open("rb") as stream:
        return stream.read(MOST_FILE_BYTES + 1)


def load_book(path: Path) -> Book:
    """Return the sheets of a workbook or text table.

    Raises InputError where the file cannot be used; what it is gets found out from its bytes, not from its name.
    """
    return book_of(readable(str(path)), load_bytes(path))


def book_of(file: str, data: bytes) -> Book:
    """Return the sheets that the bytes of a file hold; raises InputError where it cannot be used."""
    sha256 = hashlib.sha256(data).hexdigest()
    if not is_zip(data):
        check_not_foreign(file, data)
        from labmark.read.text import read_text_table

        return read_text_table(file, data, sha256)
    with open_archive(file, data) as archive:
        names = set(archive.namelist())
        if "xl/workbook.bin" in names:
            raise refuse(file, "the workbook is of the binary kind (.xlsb)", "save it as .xlsx")
        if any(name.startswith("xl/") for name in names) or "[Content_Types].xml" in names:
            from labmark.read.workbook import read_workbook

            return read_workbook(file, archive, sha256)
        if "content.xml" in names:
            from labmark.read.opendocument import read_opendocument

            return read_opendocument(file, archive, sha256)
    do = "give a workbook (.xlsx, .ods) or a text table (.csv)"
    raise refuse(file, "the file is an archive but no spreadsheet", do)


def load_folder(path: Path) -> tuple[list[Book], str, list[str]]:
    """Return the books of a folder, a hash over all of them, and the names of files that were passed over.

    Raises InputError with every file that cannot be used, or where there is none.
    """
    wanted, others = tables_in(path)
    passed = [readable(file.name) for file in others]
    if len(wanted) > MOST_FILES:
        what = f"the folder holds {len(wanted)} spreadsheets, more than {MOST_FILES}"
        raise refuse(str(path), what, "give each class a folder of its own")
    books, stray = _books(wanted)
    names = {PurePath(book.file).stem for book in books}
    books = [replace(book, name=_original(PurePath(book.file).stem, names)) for book in books]
    first = {(book.name, book.sha256) for book in books if PurePath(book.file).stem == book.name}
    copies = [book for book in books if PurePath(book.file).stem != book.name and (book.name, book.sha256) in first]
    stray += [PurePath(book.file).name for book in copies]
    books = [book for book in books if not any(book is copy for copy in copies)]
    # By the bare names, so that the hash does not depend on where the folder lies.
    digest = hashlib.sha256("".join(f"{book.sha256}  {PurePath(book.file).name}\n" for book in books).encode())
    return books, digest.hexdigest(), sorted([*passed, *stray], key=str.casefold)


def tables_in(path: Path) -> tuple[list[Path], list[Path]]:
    """Return the files in a folder that may be tables, and the others. Raises InputError where no file may be one."""
    files = _files(path)
    wanted = [file for file in files if _is_table(file)]
    if not wanted:
        do = "give a folder with one .xlsx, .ods or .csv file per student"
        raise refuse(str(path), "the folder holds no spreadsheet", do)
    return wanted, [file for file in files if file not in wanted]


def _original(stem: str, stems: Collection[str]) -> str:
    """Return the name of the file that one is a copy of, by these names; its own where it is none."""
    match = _COPY.fullmatch(stem)
    bare = (match["of"] or match["stem"]) if match else stem
    return bare if bare in stems else stem


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
            book, name = load_book(file), readable(file.name)
            grids = (replace(each, prefix=f"[{name}]{each.prefix}") for each in book.grids)  # [S01.xlsx]Sheet1!C2
            books += [] if is_marks_workbook(book) else [replace(book, grids=tuple(grids))]
        except InputError as error:
            if file in stray:
                passed.append(readable(file.name))
            else:
                problems += error.problems
    raise_any(problems)
    return books, passed
