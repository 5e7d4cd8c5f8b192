"""A path -> a book of grids, whatever the file's name says it is."""

from __future__ import annotations

import hashlib
import stat
from pathlib import Path

from labmark.problems import InputError, Problem
from labmark.read.grid import Book
from labmark.read.guard import MOST_FILE_BYTES, check_not_foreign, check_size, is_zip, open_archive, refuse
from labmark.words import readable

TABLE_ENDINGS = frozenset({".xlsx", ".xlsm", ".ods", ".csv", ".tsv", ".txt", ".xltx", ".xltm", ".tab"})


def load_bytes(path: Path) -> bytes:
    """Return the bytes of a file; raises InputError where it cannot be read or is too large."""
    file = str(path)
    if path.name.startswith("~$"):
        raise refuse(
            file, "this is the lock file of a workbook that is open", "give the workbook itself, and close it first"
        )
    try:
        data = _bytes_of(path)
    except FileNotFoundError as error:
        raise refuse(file, "there is no such file", "check the name and the folder") from error
    except PermissionError as error:
        raise refuse(
            file, "the file may not be read", "close it in other programs, and check who may read it"
        ) from error
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
    problem = Problem(
        "the file is an archive but no spreadsheet", "give a workbook (.xlsx, .ods) or a text table (.csv)", file
    )
    raise InputError(problem)
