"""Limits on what a file may ask for, checked before any parser sees it: bounded time and memory on hostile files."""

import io
import zipfile

from labmark.problems import InputError, Problem

MOST_FILE_BYTES = 32 * 2**20
MOST_PARTS = 2_000
MOST_PART_BYTES = 20 * 2**20
MOST_UNPACKED_BYTES = 60 * 2**20
MOST_RATIO, RATIO_FROM = 200, 5 * 2**20
"""Unpacked over packed size, for parts of more than `RATIO_FROM` bytes; a full class sheet packs about 12 to 1."""
MOST_SHEETS = 300
LAST_ROW = 1_048_576
MOST_COVERED_CELLS = 200_000
"""Cells that merged ranges and links may cover; each becomes an object while the file is loaded."""
MOST_CELL_TEXT = 32_767
"""Characters a spreadsheet program allows in a cell."""
MOST_CELLS = 600_000
"""Filled cells of a file: a class of 10,000 with thirty columns fills half of them."""
MOST_HEADERS = 3_000
"""Headers of readings on a sheet: a thousand blocks of a lab book have as many."""

_AGAIN = "open the workbook in a spreadsheet program and save it again"
_LESS = "keep only the class sheet in it, and delete empty rows and columns that are formatted"
_WAIT = "if it is still being copied or synced, wait; else open it in a spreadsheet program and save it again"
_AS_XLSX = "open it in a spreadsheet program and save it as .xlsx"
_OLE = bytes.fromhex("D0CF11E0A1B11AE1")
_OTHERS = (b"%pdf", b"{\\rtf", b"\x89png", b"\xff\xd8\xff", b"gif8", b"7z\xbc\xaf", b"rar!", b"\x1f\x8b")


def refuse(file: str, what: str, do: str) -> InputError:
    """Return the error for a file that cannot be used as a whole."""
    return InputError(Problem(what, do, file))


def check_size(file: str, data: bytes) -> None:
    """Raise InputError for a file that is empty, or larger than any class sheet."""
    blank = b"\0 \r\n\t"
    if not data[:4096].strip(blank) and not data.strip(blank):
        raise refuse(file, "the file is empty", "if it is still being copied or synced, wait until that is done")
    if len(data) > MOST_FILE_BYTES:
        raise refuse(file, f"the file is larger than {MOST_FILE_BYTES >> 20} MiB", "keep only the class sheet in it")


def is_zip(data: bytes) -> bool:
    """Return whether the bytes begin like a zip archive."""
    return data[:4] in (b"PK\3\4", b"PK\5\6")


def check_not_foreign(file: str, data: bytes) -> None:
    """Raise InputError for files of other kinds, named for what they are."""
    start = data[:512].lstrip(b"\xef\xbb\xbf \r\n\t").lower()
    if data.startswith(_OLE):
        what, do = "the file is locked with a password, or is of the old .xls kind", f"{_AS_XLSX} without a password"
    elif start.startswith((b"<!doctype html", b"<html", b"<?xml", b"<table")):
        what, do = "the file is a web page or XML, not a spreadsheet", _AS_XLSX
    elif start.startswith(_OTHERS):
        what, do = "the file is not a spreadsheet", "give a workbook (.xlsx, .ods) or a text table (.csv, .tsv)"
    else:
        return
    raise refuse(file, what, do)


def open_archive(file: str, data: bytes) -> zipfile.ZipFile:
    """Return the archive of a workbook after checking what it declares.

    Raises InputError for a broken, encrypted or oversized archive.
    """
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError, EOFError) as error:
        raise refuse(file, f"the workbook is damaged or cut short ({error})", _WAIT) from error
    parts = archive.infolist()
    if len(parts) > MOST_PARTS:
        what = f"the workbook has {len(parts)} parts, more than {MOST_PARTS}"
        raise refuse(file, what, "keep only the class sheets in it")
    if sum(part.file_size for part in parts) > MOST_UNPACKED_BYTES:
        what = f"the workbook unpacks to more than {MOST_UNPACKED_BYTES >> 20} MiB"
        raise refuse(file, what, _LESS)
    for part in parts:
        _check_part(file, part)
    return archive


def _check_part(file: str, part: zipfile.ZipInfo) -> None:
    if part.flag_bits & 0x1:
        raise refuse(file, "the workbook is encrypted", "save it without a password")
    if part.filename.lower().endswith((".png", ".jpg", ".jpeg", ".gif", ".emf", ".wmf", ".bmp", ".tif", ".tiff")):
        return
    if part.file_size > MOST_PART_BYTES:
        what = f"the part {part.filename!r} unpacks to more than {MOST_PART_BYTES >> 20} MiB"
        raise refuse(file, what, _LESS)
    if part.file_size > RATIO_FROM and part.file_size > MOST_RATIO * max(1, part.compress_size):
        raise refuse(file, f"the part {part.filename!r} unpacks to more than {MOST_RATIO} times its size", _AGAIN)


def check_sheets(file: str, kind: str, number: int) -> None:
    """Raise InputError for a workbook or spreadsheet of more sheets than a school has classes."""
    if number > MOST_SHEETS:
        what = f"the {kind} has {number} sheets, more than {MOST_SHEETS}"
        raise refuse(file, what, "keep only the class sheets in it")


def check_merged(file: str, merged: list[tuple[int, int, int, int]]) -> None:
    """Raise InputError where merged ranges cover more than any class sheet needs."""
    covered = sum((bottom - top + 1) * (right - left + 1) for top, left, bottom, right in merged)
    if covered > MOST_COVERED_CELLS:
        raise refuse(file, "merged cells cover most of a sheet", "undo the merging around the table")


def read_part(file: str, archive: zipfile.ZipFile, name: str) -> bytes:
    """Return one part of the archive; raises InputError where it is damaged or declares entities."""
    try:
        data = archive.read(name)
    except Exception as error:  # whatever a damaged archive raises, the answer is the same
        raise refuse(file, f"the part {name!r} of the workbook is damaged ({error})", _WAIT) from error
    if data[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\0" in data[:64]:
        raise refuse(file, f"the part {name!r} is in an unusual encoding", _AGAIN)
    if b"<!DOCTYPE" in data or b"<!ENTITY" in data:
        raise refuse(file, f"the part {name!r} declares entities, which no spreadsheet program writes", _AGAIN)
    return data
