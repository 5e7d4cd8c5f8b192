"""Text tables (.csv, .tsv) -> a grid: encoding, delimiter and trailing zeros are found out, and said."""

import codecs
import csv
import io
import re
from pathlib import PurePath

from labmark.problems import InputError, Problem
from labmark.read.grid import Book, Cell, Grid, Place
from labmark.read.guard import MOST_CELL_TEXT, MOST_CELLS, refuse

DELIMITERS = ("\t", ";", ",", "|")
"""In the order in which they win a tie."""
LOOKED_AT = 400
"""Lines that decide about the delimiter."""

_NUMBER = re.compile(r"[-+]?\d+(?:[.,]\d*)?")


def decode(file: str, data: bytes) -> tuple[str, str, bool]:
    """Return the text of the file, the name of its encoding, and whether that is a guess.

    Order: byte-order mark, the NUL pattern of UTF-16, strict UTF-8, Windows-1252.
    """
    if data.startswith(codecs.BOM_UTF8):
        return _decoded(file, data, "utf-8-sig"), "UTF-8", False
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return _decoded(file, data, "utf-16"), "UTF-16", False
    sample = data[:2000]
    if sample.count(0) * 3 > len(sample):
        little = sample[1::2].count(0) >= sample[0::2].count(0)
        return _decoded(file, data, "utf-16-le" if little else "utf-16-be"), "UTF-16", False
    if b"\0" in data:
        do = "give a workbook (.xlsx, .ods) or a text table (.csv)"
        raise refuse(file, "the file holds binary data, not a text table", do)
    try:
        return data.decode("utf-8"), "UTF-8", False
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace"), "Windows-1252", True


def _decoded(file: str, data: bytes, encoding: str) -> str:
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as error:
        raise refuse(file, f"the text is cut short or damaged ({error.reason})", "save the table again") from error


def choose_delimiter(text: str) -> str:
    """Return the delimiter of a table: most rows of one width, and most fields that are numbers.

    The share of rows that have the commonest width (more than one field) and the share of fields that are whole numbers
    or decimals are added up; ties go to the tab, then the semicolon. Tabs or semicolons that part the headings, and as
    many fields in nearly every row, part the table, whatever the commas of its decimals would do.
    """
    lines = [line for line in text[:200_000].splitlines() if line.strip()][:LOOKED_AT]
    for mark in DELIMITERS[:2]:
        counts = [count for line in lines if (count := line.count(mark))]
        heads = next((line for line in lines if mark in line), "")
        even = 10 * counts.count(max(counts, key=counts.count, default=0)) >= 9 * len(counts)
        if even and 2 * len(counts) > len(lines) and not re.search(r"\d[.,]\d", heads):
            return mark
    return max(DELIMITERS, key=lambda mark: _fit(lines, mark))


def _fit(lines: list[str], delimiter: str) -> float:
    try:
        rows = list(csv.reader(lines, delimiter=delimiter))
    except csv.Error:
        return 0.0
    widths = [len(row) for row in rows]
    if not widths or max(widths) == 1:
        return 0.0
    # A blank sheet's edge is often a row of bare delimiters; titles and notes are rows of one field.
    modal = max(set(widths) - {1}, key=widths.count)
    fields = [field for row in rows for field in row if field.strip()]
    numbers = sum(_NUMBER.fullmatch(field.strip()) is not None for field in fields)
    return round(widths.count(modal) / len(widths), 1) + (numbers / len(fields) if fields else 0.0)


def read_text_table(file: str, data: bytes, sha256: str) -> Book:
    """Return a text table as a book of one grid.

    Raises InputError for binary data, an unclosed quotation mark, and rows that are wider than the header by stray
    delimiters (a decimal comma in a table that is parted by commas).
    """
    text, encoding, guess = decode(file, data)
    given = re.match(r'"?sep=(.)"?\r?\n', text, re.IGNORECASE)
    text, first = (text[given.end() :], 2) if given else (text, 1)
    delimiter = given[1] if given else choose_delimiter(text)
    grid = Grid(PurePath(file).stem, _cells(file, text, delimiter, first), text_table=True)
    if given:
        grid.cells[1, 1] = Cell(f"sep={delimiter}")
    _check_split_commas(file, grid, delimiter)
    shown = {"\t": "tabs", ";": "semicolons", ",": "commas", "|": "bars"}.get(delimiter, repr(delimiter))
    notes = (f"the encoding was guessed ({encoding}): check names with accents",) if guess else ()
    return Book(file, sha256, (grid,), notes, (f"text table, {encoding}, fields parted by {shown}",), text_table=True)


def _cells(file: str, text: str, delimiter: str, first: int) -> dict[Place, Cell]:
    """Return the fields of a table whose first line is the file's `first`.

    Raises InputError where a quotation mark is never closed, or closed in another row: it swallows rows.
    """
    cells: dict[Place, Cell] = {}
    lines, start = list(io.StringIO(text, newline="")), 0
    reader = csv.reader(lines, delimiter=delimiter)
    previous = csv.field_size_limit(MOST_CELL_TEXT)
    try:
        for number, row in enumerate(reader, start=first):
            if reader.line_num > start + 1 or reader.line_num == len(lines):
                _check_closed(file, lines[start : reader.line_num], delimiter, first + start)
            start = reader.line_num
            cells |= {(number, column): Cell(field) for column, field in enumerate(row, start=1) if field}
            if len(cells) > MOST_CELLS:
                raise refuse(file, f"more than {MOST_CELLS} cells are filled", "keep only the class table in the file")
    except csv.Error as error:
        line = first + reader.line_num - 1
        too_long = "field larger" in str(error)
        what = "a field is longer than any cell" if too_long else f"the line cannot be taken apart ({error})"
        do = "look for a quotation mark that is not closed"
        raise InputError(Problem(what, do, file, cell=f"A{line}")) from error
    finally:
        csv.field_size_limit(previous)
    return cells


def _check_closed(file: str, lines: list[str], delimiter: str, first: int) -> None:
    """Raise InputError where a quotation mark stays open in the lines of one row, from the file's line `first` on."""
    if _well_quoted(lines, delimiter):
        return
    # Something is amiss with several lines, whichever opens them; with one only where it stays open.
    at = next((at for at, line in enumerate(lines) if _is_open(line, delimiter)), 0 if len(lines) > 1 else None)
    if at is not None:
        what = f"a quotation mark opens in line {first + at} and is not closed there: it swallows the rows below"
        raise InputError(Problem(what, "close it or take it out", file, cell=f"A{first + at}"))


def _well_quoted(lines: list[str], delimiter: str) -> bool:
    """Return whether the lines of one row are quoted by the book: every mark that opens a field closes it."""
    try:
        list(csv.reader(lines, delimiter=delimiter, strict=True))
    except csv.Error:
        return False
    return True


def _is_open(line: str, delimiter: str) -> bool:
    """Return whether a quotation mark is still open at the end of a line."""
    return len(list(csv.reader([line.rstrip("\r\n") + "\n", "x\n"], delimiter=delimiter))) == 1


def _check_split_commas(file: str, grid: Grid, delimiter: str) -> None:
    """Refuse a table parted by commas whose decimals are commas as well: 22,50 is then two fields, and reads as 22."""
    near = {place: cell.text.strip() for place, cell in grid.cells.items() if place[0] <= LOOKED_AT}
    numbers = [place for place, text in near.items() if _NUMBER.fullmatch(text)]
    if delimiter != "," or any({*".,"} & {*near[place]} for place in numbers):
        return
    last, with_number = dict(sorted(near)), {row for row, _ in numbers}  # row -> its last column
    header = max((column for row, column in last.items() if row not in with_number), default=None)
    wide = [row for row in with_number if header is not None and last[row] >= 1.5 * header]
    if wide and len(numbers) >= 4:
        what = "the fields are parted by commas and the decimals seem to be commas too (22,50 has become two fields)"
        raise InputError(
            Problem(what, "save the table with semicolons, or with decimal points", file, cell=f"A{min(wide)}")
        )
