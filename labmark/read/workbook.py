"""Workbooks (.xlsx, .xlsm) -> grids, from the parts of the file itself.

One pass gives every cell's stored value together with its formula, its number format and its font, so that a formula
that was never calculated is not taken for a blank cell. Only the parts that hold values are looked at: macros,
drawings, links to other files and tables of data stay untouched.
"""

import datetime as dt
import math
import posixpath
import re
import zipfile
from collections.abc import Iterator
from xml.etree.ElementTree import Element

import labmark.read.formats as formats
from labmark.dataclass import dataclass, field, replace
from labmark.exact import raised
from labmark.problems import InputError
from labmark.read.grid import Book, Cell, Grid, Place, column_number, text_cell
from labmark.read.guard import LAST_ROW, MOST_CELLS, check_merged, check_sheets, read_part, refuse
from labmark.read.xml import elements, local, parse

LAST_COLUMN = 16_384
_TEXT_ITEM, _COMMENT = frozenset({"si"}), frozenset({"comment"})
_WANTED = frozenset({"row", "col", "mergeCell"})
_REFERENCE = re.compile(r"\$?([A-Z]{1,3})\$?([0-9]{1,7})")


@dataclass(slots=True)
class _Workbook:
    """The archive of a workbook, and what its sheets share."""

    file: str
    archive: zipfile.ZipFile
    names: frozenset[str]
    read: set[str] = field(default_factory=set)
    strings: list[Cell] = field(default_factory=list)
    styles: list[formats.CellStyle] = field(default_factory=list)
    epoch: dt.datetime = formats.EPOCH
    seeded: bool = False
    """The next program is asked to calculate every formula: zeros may stand for results that are not there yet."""

    def part(self, name: str) -> bytes:
        """Return a part; empty where it is missing. Raises InputError for the second time: each sheet has its own."""
        if name in self.read:
            what = f"the workbook points at its part {name!r} more than once"
            raise refuse(self.file, what, "open it in a spreadsheet program and save it again")
        if name not in self.names:
            return b""
        self.read.add(name)
        return read_part(self.file, self.archive, name)

    def elements(self, name: str, wanted: frozenset[str]) -> Iterator[Element]:
        """Yield the elements of these names in a part; none where it is missing."""
        data = self.part(name)
        yield from elements(self.file, name, data, wanted) if data else ()

    def targets(self, name: str) -> Iterator[tuple[str, str, str]]:
        """Yield id, kind and target part of every relation of a part."""
        folder, _, base = name.rpartition("/")
        relations = posixpath.join(folder, "_rels", f"{base}.rels")
        data = self.part(relations)
        for relation in parse(self.file, relations, data) if data else ():
            target = relation.get("Target", "")
            if relation.get("TargetMode") != "External":
                joined = posixpath.normpath(posixpath.join(folder, target)).lstrip("/")
                yield relation.get("Id", ""), relation.get("Type", "").rpartition("/")[2], joined


def read_workbook(file: str, archive: zipfile.ZipFile, sha256: str) -> Book:
    """Return the sheets of a workbook as grids.

    Raises InputError where the workbook is damaged, locked, or asks for more than a class sheet needs.
    """
    book = _Workbook(file, archive, frozenset(archive.namelist()))
    main = next((target for _, kind, target in book.targets("") if kind == "officeDocument"), "xl/workbook.xml")
    data = book.part(main)
    if not data:
        raise refuse(file, "the file is no workbook, or is cut short", "save the class sheet as .xlsx")
    root = parse(file, main, data)
    parts = {ident: (kind, target) for ident, kind, target in book.targets(main)}
    notes = [*_shared(book, root, parts), *_notes(book)]
    grids = tuple(_grids(book, root, parts))
    if not grids:
        raise refuse(file, "the workbook holds no sheet that can be read", "save it again as .xlsx")
    if sum(len(grid.cells) for grid in grids) > MOST_CELLS:
        raise refuse(file, f"more than {MOST_CELLS} cells are filled", "keep only the class sheet in the workbook")
    return Book(file, sha256, grids, tuple(notes))


def _notes(book: _Workbook) -> Iterator[str]:
    if any("externalLinks/" in name for name in book.names):
        yield "the workbook has links to other files; they were not followed, the stored values were read"
    if any(name.endswith("vbaProject.bin") for name in book.names):
        yield "the workbook has macros; they were not run"


def _shared(book: _Workbook, root: Element, parts: dict[str, tuple[str, str]]) -> Iterator[str]:
    """Read what the sheets share; yields a note where the formats cannot be read."""
    for element in root:
        if local(element.tag) == "workbookPr" and element.get("date1904") in ("1", "true"):
            book.epoch = formats.EPOCH_1904
        if local(element.tag) == "calcPr" and element.get("fullCalcOnLoad") in ("1", "true"):
            book.seeded = True
    for kind, target in parts.values():
        if kind == "sharedStrings":
            book.strings = [_rich_text(item) for item in book.elements(target, _TEXT_ITEM)]
        elif kind == "styles":
            try:
                book.styles = formats.cell_styles(parse(book.file, target, book.part(target)))
            except InputError:
                yield "the formats of this workbook could not be read: decimals, dates and strokes cannot be told"


def _grids(book: _Workbook, root: Element, parts: dict[str, tuple[str, str]]) -> Iterator[Grid]:
    sheets = root.findall(".//{*}sheet")
    check_sheets(book.file, "workbook", len(sheets))
    for element in sheets:
        ident = next((value for name, value in element.items() if local(name) == "id"), "")
        kind, target = parts.get(ident, ("", ""))
        data = book.part(target) if kind == "worksheet" else b""
        if data:
            name, hidden = element.get("name", ""), element.get("state", "visible") != "visible"
            grid = Grid(name, {}, f"{name}!", hidden=hidden, comments=_comments(book, target))
            _read_worksheet(_Sheet(book, grid), target, data)
            yield grid


def _comments(book: _Workbook, sheet: str) -> dict[Place, str]:
    found: dict[Place, str] = {}
    for _, kind, target in book.targets(sheet):
        for comment in book.elements(target, _COMMENT) if kind == "comments" else ():
            place = _place_of(comment.get("ref", ""))
            text = " ".join("".join(part.text or "" for part in comment.iterfind(".//{*}t")).split())
            if place is not None and text:
                found[place] = text
    return found


@dataclass(slots=True)
class _Sheet:
    """A sheet while its elements go by."""

    book: _Workbook
    grid: Grid
    formulas: list[Place] = field(default_factory=list)


def _read_worksheet(sheet: _Sheet, part: str, data: bytes) -> None:
    """Fill the grid of a sheet; raises InputError where its XML is damaged or it asks for too much."""
    row, book, grid = 0, sheet.book, sheet.grid
    for element in elements(book.file, part, data, _WANTED):
        kind = local(element.tag)
        if kind == "row":
            row = _read_row(sheet, element, row)
        elif kind == "col":
            _hide_columns(grid, element)
        else:
            _merge(grid, element.get("ref", ""))
    check_merged(book.file, grid.merged)
    if book.seeded and sheet.formulas and all(grid.cells[place].value == 0 for place in sheet.formulas):
        grid.cells |= {place: Cell("", "uncalculated") for place in sheet.formulas}


def _read_row(sheet: _Sheet, element: Element, before: int) -> int:
    number = formats.whole(element.get("r")) or before + 1
    if element.get("hidden") in ("1", "true"):
        sheet.grid.hidden_rows.add(number)
    column = 0
    cells, file = sheet.grid.cells, sheet.book.file
    for part in element:
        reference = part.get("r")
        place = _place_of(reference) if reference else (number, column + 1)
        if place is None or not (0 < place[0] <= LAST_ROW and 0 < place[1] <= LAST_COLUMN):
            raise refuse(file, f"a cell says that it is at {reference!r}", "save the workbook again")
        column = place[1]
        cell = _read_cell(sheet, part, place)
        if cell is not None:
            cells[place] = cell
    if len(cells) > MOST_CELLS:
        raise refuse(file, f"more than {MOST_CELLS} cells are filled", "keep only the class sheet in the workbook")
    return number


def _place_of(reference: str) -> Place | None:
    """Return the row and column of an address such as C7; None where it is none."""
    match = _REFERENCE.fullmatch(reference)
    return (int(match[2]), column_number(match[1])) if match else None


def _read_cell(sheet: _Sheet, element: Element, place: Place) -> Cell | None:
    """Return what a cell holds; None where it is blank, whatever its format."""
    text: str | None = None
    formula = False
    for part in element:
        name = local(part.tag)
        if name == "v":
            text = part.text
        elif name == "f":
            formula = True
        elif name == "is":
            cell = _rich_text(part)
            return None if cell.value == "" else _in_style(cell, _style(sheet.book, element))
    if formula:
        sheet.formulas.append(place)
    kind = element.get("t", "n")
    if text is None:
        if not formula:
            return None
        return Cell("", "text" if kind == "str" else "uncalculated")
    return _stored(sheet.book, kind, text, _style(sheet.book, element))


def _style(book: _Workbook, element: Element) -> formats.CellStyle:
    number = formats.whole(element.get("s"))
    return book.styles[number] if number is not None and number < len(book.styles) else formats.PLAIN


def _number(book: _Workbook, text: str, style: formats.CellStyle) -> Cell:
    try:
        number = float(text)
    except ValueError:
        return Cell(text, "text", struck=style.struck)
    if style.moment:
        shown = formats.moment(number, style.moment == "span", book.epoch)
        return Cell("#VALUE!", "error") if shown is None else Cell(shown, "date", struck=style.struck)
    value = formats.whole_where(number)
    places = style.decimals
    if style.figures and number:  # 0.1013 that shows as 1.01E-01
        places = max(0, style.figures - 1 - math.floor(math.log10(abs(number))))
        value = round(number, places)
    return Cell(value, "number", places, style.percent, style.struck)


def _shared_string(book: _Workbook, text: str, style: formats.CellStyle) -> Cell:
    number = formats.whole(text.strip())
    if number is None or number >= len(book.strings):
        what = f"a cell points to text number {text.strip()[:20]!r}, which is not there"
        raise refuse(book.file, what, "save the workbook again")
    return _in_style(book.strings[number], style)


def _in_style(text: Cell, style: formats.CellStyle) -> Cell:
    return replace(text, struck=True) if style.struck and not text.struck else text


def _stored(book: _Workbook, kind: str, text: str, style: formats.CellStyle) -> Cell:
    """Return what a cell of a type of the file format holds."""
    if kind == "s":
        return _shared_string(book, text, style)
    if kind == "e":
        return Cell(text, "error")
    if kind == "b":
        return Cell(text.strip() in ("1", "true"), "bool", struck=style.struck)
    if kind == "d":
        return Cell(formats.date_of(text), "date", struck=style.struck)
    return Cell(text, struck=style.struck) if kind in ("str", "inlineStr") else _number(book, text, style)


def _rich_text(element: Element) -> Cell:
    """Return a text of one or several fonts."""
    pieces: list[tuple[str, bool]] = []  # text, whether it is struck out
    for part in element:
        name = local(part.tag)
        if name == "t":
            pieces.append((part.text or "", False))
        elif name == "r":
            text = part.findtext("{*}t", "")
            text = raised(text) if _font_says(part, "vertAlign", "baseline") else text
            pieces.append((text, _font_says(part, "strike", "0", "false")))
    return text_cell(pieces)


def _font_says(run: Element, name: str, *unless: str) -> bool:
    """Return whether the font of a piece of text is struck out, or raised or lowered ("vertAlign")."""
    return any(part.get("val", "1") not in unless for part in run.iterfind(f"{{*}}rPr/{{*}}{name}"))


def _hide_columns(grid: Grid, element: Element) -> None:
    first, last = formats.whole(element.get("min")), formats.whole(element.get("max"))
    if element.get("hidden") in ("1", "true") and first and last:
        grid.hidden_columns.update(range(first, min(last, first + 500) + 1))


def _merge(grid: Grid, reference: str) -> None:
    first, _, last = reference.partition(":")
    start, end = _place_of(first), _place_of(last or first)
    if start is not None and end is not None:
        (top, bottom), (left, right) = sorted((start[0], end[0])), sorted((start[1], end[1]))
        grid.merged.append((top, left, bottom, right))
