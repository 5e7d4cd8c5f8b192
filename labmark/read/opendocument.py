"""OpenDocument spreadsheets (.ods) -> grids, from the elements of the file itself.

Beside each value the file keeps its formula and its style, so the decimals shown, struck-out text and formulas that
were never calculated are known. Repeat counts are never expanded beyond what a class sheet needs.
"""

import datetime as dt
import re
import zipfile
from collections.abc import Iterator, Set
from typing import Any
from xml.etree.ElementTree import Element

from labmark.dataclass import dataclass, field
from labmark.exact import raised
from labmark.read.formats import date_of, whole_where
from labmark.read.grid import Book, Cell, Grid, Place, text_cell
from labmark.read.guard import LAST_ROW, MOST_CELLS, check_merged, check_sheets, read_part, refuse
from labmark.read.xml import parse

_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
_STYLE = "{urn:oasis:names:tc:opendocument:xmlns:style:1.0}"
_NUMBER = "{urn:oasis:names:tc:opendocument:xmlns:datastyle:1.0}"
_EXTENDED = "{urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0}"
_GROUPS = {
    f"{_TABLE}table-{part}"
    for part in ("header-rows", "row-group", "rows", "header-columns", "column-group", "columns")
}
MOST_REPEATED = 2_000
"""Times that one filled cell or row may be repeated."""


@dataclass(slots=True)
class _Styles:
    """What cell and text styles say."""

    formats: dict[str, int | None] = field(default_factory=dict)
    """Number format -> the decimals it fixes."""
    decimals: dict[str, int | None] = field(default_factory=dict)
    """Cell style -> the decimals it shows."""
    struck: set[str] = field(default_factory=set)
    raised: set[str] = field(default_factory=set)
    """Styles of text that stands above or below the line."""
    hidden_tables: set[str] = field(default_factory=set)


def read_opendocument(file: str, archive: zipfile.ZipFile, sha256: str) -> Book:
    """Return the sheets of an OpenDocument spreadsheet as grids.

    Raises InputError where the file is damaged, locked, no spreadsheet, or asks for more than a class sheet needs.
    """
    names = set(archive.namelist())
    manifest = read_part(file, archive, "META-INF/manifest.xml") if "META-INF/manifest.xml" in names else b""
    if b"encryption-data" in manifest:
        raise refuse(file, "the spreadsheet is locked with a password", "save it without a password")
    content = _parsed(file, archive, "content.xml")
    styles = _Styles()
    for root in ([_parsed(file, archive, "styles.xml")] if "styles.xml" in names else []) + [content]:
        _add_styles(root, styles)
    for span in content.iter(f"{_TEXT}span"):
        if span.text and span.get(f"{_TEXT}style-name", "") in styles.raised:
            span.text = raised(span.text)
    sheets = content.iter(f"{_OFFICE}spreadsheet")
    tables = [table for sheet in sheets for table in sheet if table.tag == f"{_TABLE}table"]
    if not tables:
        raise refuse(file, "the file is no spreadsheet, or has no sheet", "save the class sheet as .xlsx or .ods")
    check_sheets(file, "spreadsheet", len(tables))
    return Book(file, sha256, tuple(_read_sheet(file, table, styles) for table in tables))


def _read_sheet(file: str, table: Element, styles: _Styles) -> Grid:
    name, hidden = table.get(f"{_TABLE}name", ""), table.get(f"{_TABLE}style-name", "") in styles.hidden_tables
    grid = Grid(name, {}, f"{name}!", hidden=hidden)
    _Sheet(file, table, styles, grid).walk()
    return grid


def _parsed(file: str, archive: zipfile.ZipFile, name: str) -> Element:
    return parse(file, name, read_part(file, archive, name))


def _add_styles(root: Element, styles: _Styles) -> None:
    formats = styles.formats
    for element in root.iter():
        if element.tag in (f"{_NUMBER}number-style", f"{_NUMBER}percentage-style", f"{_NUMBER}currency-style"):
            formats[element.get(f"{_STYLE}name", "")] = _decimals(element)
    for element in root.iter(f"{_STYLE}style"):
        name, parent = element.get(f"{_STYLE}name", ""), element.get(f"{_STYLE}parent-style-name", "")
        shown = element.get(f"{_STYLE}data-style-name")
        styles.decimals[name] = formats.get(shown) if shown is not None else styles.decimals.get(parent)
        for properties in element:
            through = f"{_STYLE}text-line-through"
            if (properties.get(f"{through}-style") or properties.get(f"{through}-type")) not in (None, "none"):
                styles.struck.add(name)
            if not properties.get(f"{_STYLE}text-position", "0%").startswith("0%"):
                styles.raised.add(name)
            if properties.tag == f"{_STYLE}table-properties" and properties.get(f"{_TABLE}display") == "false":
                styles.hidden_tables.add(name)


def _decimals(number_style: Element) -> int | None:
    """Return the decimals that a number style fixes; None where it shows as many as there are."""
    number = number_style.find(f"{_NUMBER}number")
    places = number.get(f"{_NUMBER}decimal-places") if number is not None else None
    least = number.get(f"{_NUMBER}min-decimal-places", places) if number is not None else None
    return int(places) if places is not None and places.isdigit() and least == places else None


@dataclass(slots=True)
class _Sheet:
    """A sheet while its elements are walked."""

    file: str
    table: Element
    styles: _Styles
    grid: Grid
    column_styles: list[tuple[int, str]] = field(default_factory=list)

    def walk(self) -> None:
        """Fill the grid from the elements."""
        self._columns()
        row = 1
        for element in _members(self.table, f"{_TABLE}table-row"):
            row += self._row(element, row)
        check_merged(self.file, self.grid.merged)

    def _columns(self) -> None:
        at = 1
        for column in _members(self.table, f"{_TABLE}table-column"):
            times = _count(column, "number-columns-repeated")
            if column.get(f"{_TABLE}visibility", "visible") != "visible":
                self.grid.hidden_columns.update(range(at, min(at + times, at + 500)))
            at += times
            self.column_styles.append((at, column.get(f"{_TABLE}default-cell-style-name", "")))

    def _row(self, element: Element, row: int) -> int:
        times = _count(element, "number-rows-repeated")
        found: list[tuple[int, Element]] = []
        at = 1
        for cell in element:
            if cell.tag in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
                repeated = _count(cell, "number-columns-repeated")
                if _is_filled(cell):
                    self._limit(repeated)
                    found.extend((at + step, cell) for step in range(repeated))
                at += repeated
        if found:
            self._limit(times)
        if element.get(f"{_TABLE}visibility", "visible") != "visible":
            self.grid.hidden_rows.update(range(row, min(row + times, row + 5000)))
        for step in range(times if found else 0):
            for column, cell in found:
                self._cell(cell, (row + step, column))
        return times

    def _limit(self, times: int) -> None:
        if times > MOST_REPEATED or len(self.grid.cells) > MOST_CELLS:
            what = f"one filled cell is repeated {times} times"
            raise refuse(self.file, what, "keep only the class sheet in the file")

    def _cell(self, element: Element, place: Place) -> None:
        note = element.find(f"{_OFFICE}annotation")
        if note is not None:
            said = (text for part in note.iter(f"{_TEXT}p") for text, _ in (*_pieces(part, set()), (" ", False)))
            self.grid.comments[place] = " ".join("".join(said).split())
        down, right = _count(element, "number-rows-spanned"), _count(element, "number-columns-spanned")
        if down * right > 1:
            self.grid.merged.append((*place, place[0] + down - 1, place[1] + right - 1))
        cell = self._value(element, place)
        if cell is not None:
            self.grid.cells[place] = cell

    def _style(self, element: Element, place: Place) -> str:
        of_column = next((style for end, style in self.column_styles if place[1] < end), "")
        return element.get(f"{_TABLE}style-name", of_column)

    def _value(self, element: Element, place: Place) -> Cell | None:
        kind = element.get(f"{_OFFICE}value-type") or element.get(f"{_EXTENDED}value-type")
        formula = element.get(f"{_TABLE}formula")
        style = self._style(element, place)
        struck = style in self.styles.struck
        paragraphs = [[*_pieces(part, self.styles.struck)] for part in element if part.tag == f"{_TEXT}p"]
        pieces = [piece for part in paragraphs for piece in (("\n", False), *part)][1:]
        text = "".join(piece for piece, _ in pieces)
        if element.get(f"{_EXTENDED}value-type") == "error" or (formula and re.match(r"#[A-Z/0!?]+|Err:\d+", text)):
            return Cell(text or "error", "error")
        if kind is None:
            return Cell("", "uncalculated") if formula else (text_cell(pieces, struck) if text else None)
        if kind in ("float", "percentage", "currency"):
            return self._number(element, kind, style, struck, text)
        if kind == "boolean":
            return Cell(element.get(f"{_OFFICE}boolean-value") == "true", "bool")
        if kind in ("date", "time"):
            return Cell(_moment(element, kind), "date")
        return text_cell(pieces, struck)

    def _number(self, element: Element, kind: str, style: str, struck: bool, text: str) -> Cell:
        try:
            number = float(element.get(f"{_OFFICE}value", ""))
        except ValueError:
            return Cell(text, "text", struck=struck)
        return Cell(whole_where(number), "number", self.styles.decimals.get(style), kind == "percentage", struck)


def _members(table: Element, tag: str) -> Iterator[Element]:
    """Yield the rows or columns of a table, also those within groups; a history of changes is no part of it."""
    for child in table:
        if child.tag == tag:
            yield child
        elif child.tag in _GROUPS:
            yield from _members(child, tag)


def _count(element: Element, name: str) -> int:
    text = element.get(f"{_TABLE}{name}", "1")
    return min(int(text), LAST_ROW) if text.isdecimal() and len(text) < 9 and int(text) > 0 else 1


def _is_filled(cell: Element) -> bool:
    return len(cell) > 0 or any(cell.get(name) is not None for name in (f"{_OFFICE}value-type", f"{_TABLE}formula"))


def _pieces(element: Element, struck: Set[str], gone: bool = False) -> Iterator[tuple[str, bool]]:
    """Yield the pieces of a text, and whether each is struck out, by the styles that say so."""
    gone = gone or (element.tag == f"{_TEXT}span" and element.get(f"{_TEXT}style-name", "") in struck)
    yield element.text or "", gone
    for child in element:
        if child.tag == f"{_TEXT}s":
            count = child.get(f"{_TEXT}c", "1")
            yield " " * (min(int(count), 100) if count.isdecimal() else 1), gone
        elif child.tag in (f"{_TEXT}tab", f"{_TEXT}line-break"):
            yield " ", gone
        elif child.tag != f"{_OFFICE}annotation":
            yield from _pieces(child, struck, gone)
        yield child.tail or "", gone


def _moment(element: Element, kind: str) -> Any:
    text = element.get(f"{_OFFICE}{kind}-value", "")
    if kind == "time":
        match = re.fullmatch(r"PT(\d{1,5})H(\d{1,2})M(\d{1,2})(?:[.,]\d+)?S", text)
        return dt.timedelta(hours=int(match[1]), minutes=int(match[2]), seconds=int(match[3])) if match else text
    return date_of(text)
