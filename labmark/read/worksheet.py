"""One sheet of a workbook -> a grid: each cell's value, formula and style in a single pass."""

from __future__ import annotations

import datetime as dt
import math
import re
from dataclasses import dataclass, field
from xml.etree.ElementTree import Element

from labmark.figures import raised
from labmark.read.formats import EPOCH, PLAIN, CellStyle, date_of, moment, whole, whole_where
from labmark.read.grid import Cell, Grid, Place, column_number
from labmark.read.guard import MOST_CELLS, MOST_COVERED_CELLS, refuse
from labmark.read.xml import child, elements, local

LAST_ROW, LAST_COLUMN = 1_048_576, 16_384
_WANTED = frozenset({"row", "col", "mergeCell"})
_REFERENCE = re.compile(r"\$?([A-Z]{1,3})\$?([0-9]{1,7})")


@dataclass(slots=True)
class Shared:
    """What the sheets of a workbook share."""

    file: str
    strings: list[Cell] = field(default_factory=list)
    styles: list[CellStyle] = field(default_factory=list)
    epoch: dt.datetime = EPOCH
    seeded: bool = False
    """The next program is asked to calculate every formula: zeros may stand for results that are not there yet."""


@dataclass(slots=True)
class _Sheet:
    """A sheet while its elements go by."""

    shared: Shared
    grid: Grid
    formulas: list[Place] = field(default_factory=list)


def check_merged(file: str, grid: Grid) -> None:
    """Raise InputError where merged ranges cover more than any class sheet needs."""
    covered = sum((bottom - top + 1) * (right - left + 1) for top, left, bottom, right in grid.merged)
    if covered > MOST_COVERED_CELLS:
        raise refuse(file, "merged cells cover most of a sheet", "undo the merging around the table")


def read_worksheet(shared: Shared, name: str, part: str, data: bytes, hidden: bool, comments: dict[Place, str]) -> Grid:
    """Return a sheet's filled cells; raises InputError where its XML is damaged or it asks for too much."""
    grid = Grid(name, {}, f"{name}!", hidden=hidden, comments=comments)
    sheet, row = _Sheet(shared, grid), 0
    for element in elements(shared.file, part, data, _WANTED):
        kind = local(element)
        if kind == "row":
            row = _read_row(sheet, element, row)
        elif kind == "col":
            _hide_columns(grid, element)
        else:
            _merge(grid, element.get("ref", ""))
    check_merged(shared.file, grid)
    if shared.seeded and sheet.formulas and all(grid.cells[place].value == 0 for place in sheet.formulas):
        grid.cells |= {place: Cell("", "uncalculated") for place in sheet.formulas}
    return grid


def _read_row(sheet: _Sheet, element: Element, before: int) -> int:
    number = whole(element.get("r")) or before + 1
    if element.get("hidden") in ("1", "true"):
        sheet.grid.hidden_rows.add(number)
    column = 0
    cells, file = sheet.grid.cells, sheet.shared.file
    for part in element:
        reference = part.get("r")
        place = place_of(reference) if reference else (number, column + 1)
        if place is None or not (0 < place[0] <= LAST_ROW and 0 < place[1] <= LAST_COLUMN):
            raise refuse(file, f"a cell says that it is at {reference!r}", "save the workbook again")
        column = place[1]
        cell = _read_cell(sheet, part, place)
        if cell is not None:
            cells[place] = cell
    if len(cells) > MOST_CELLS:
        raise refuse(file, f"more than {MOST_CELLS} cells are filled", "keep only the class sheet in the workbook")
    return number


def place_of(reference: str) -> Place | None:
    """Return the row and column of an address such as C7; None where it is none."""
    match = _REFERENCE.fullmatch(reference)
    return (int(match[2]), column_number(match[1])) if match else None


def _read_cell(sheet: _Sheet, element: Element, place: Place) -> Cell | None:
    """Return what a cell holds; None where it is blank, whatever its format."""
    text: str | None = None
    formula = False
    for part in element:
        name = local(part)
        if name == "v":
            text = part.text
        elif name == "f":
            formula = True
        elif name == "is":
            return _inline(part, _style(sheet.shared, element))
    if formula:
        sheet.formulas.append(place)
    kind = element.get("t", "n")
    if text is None:
        if not formula:
            return None
        return Cell("", "text" if kind == "str" else "uncalculated")
    return _stored(sheet.shared, kind, text, _style(sheet.shared, element))


def _style(shared: Shared, element: Element) -> CellStyle:
    number = whole(element.get("s"))
    return shared.styles[number] if number is not None and number < len(shared.styles) else PLAIN


def _number(shared: Shared, text: str, style: CellStyle) -> Cell:
    try:
        number = float(text)
    except ValueError:
        return Cell(text, "text", struck=style.struck)
    if style.moment:
        shown = moment(number, style.moment == "span", shared.epoch)
        return Cell("#VALUE!", "error") if shown is None else Cell(shown, "date", struck=style.struck)
    value = whole_where(number)
    places = style.decimals
    if style.figures and number:  # 0.1013 that shows as 1.01E-01
        places = max(0, style.figures - 1 - math.floor(math.log10(abs(number))))
        value = round(number, places)
    return Cell(value, "number", places, style.percent, style.struck)


def _shared_string(shared: Shared, text: str, style: CellStyle) -> Cell:
    number = whole(text.strip())
    if number is None or number >= len(shared.strings):
        what = f"a cell points to text number {text.strip()[:20]!r}, which is not there"
        raise refuse(shared.file, what, "save the workbook again")
    known = shared.strings[number]
    if style.struck and not known.struck:
        return Cell(known.value, "text", struck=True, remark=known.remark)
    return known


def _stored(shared: Shared, kind: str, text: str, style: CellStyle) -> Cell:
    """Return what a cell of a type of the file format holds."""
    if kind == "s":
        return _shared_string(shared, text, style)
    if kind == "e":
        return Cell(text, "error")
    if kind == "b":
        return Cell(text.strip() in ("1", "true"), "bool", struck=style.struck)
    if kind == "d":
        return Cell(date_of(text), "date", struck=style.struck)
    return Cell(text, struck=style.struck) if kind in ("str", "inlineStr") else _number(shared, text, style)


def _inline(element: Element, style: CellStyle) -> Cell | None:
    cell = rich_text(element)
    if cell.value == "":
        return None
    return Cell(cell.value, "text", struck=cell.struck or style.struck, remark=cell.remark)


def rich_text(element: Element) -> Cell:
    """Return a text of one or several fonts: what is struck out in it no longer counts, unless all of it is."""
    pieces: list[tuple[str, bool]] = []  # text, whether it is struck out
    for part in element:
        name = local(part)
        if name == "t":
            pieces.append((part.text or "", False))
        elif name == "r":
            content = child(part, "t")
            text = (content.text or "") if content is not None else ""
            text = raised(text) if _font_says(part, "vertAlign", "baseline") else text
            pieces.append((text, _font_says(part, "strike", "0", "false")))
    whole_text, live = "".join(text for text, _ in pieces), "".join(text for text, gone in pieces if not gone)
    out = " ".join("".join(text for text, gone in pieces if gone).split())
    if out and live.strip():
        return Cell(live, remark=f"{out!r} is struck out")
    return Cell(whole_text, struck=bool(out))


def _font_says(run: Element, name: str, *unless: str) -> bool:
    """Return whether the font of a piece of text is struck out, or raised or lowered ("vertAlign")."""
    font = child(run, "rPr")
    return font is not None and any(local(part) == name and part.get("val", "1") not in unless for part in font)


def _hide_columns(grid: Grid, element: Element) -> None:
    first, last = whole(element.get("min")), whole(element.get("max"))
    if element.get("hidden") in ("1", "true") and first and last:
        grid.hidden_columns.update(range(first, min(last, first + 500) + 1))


def _merge(grid: Grid, reference: str) -> None:
    first, _, last = reference.partition(":")
    start, end = place_of(first), place_of(last or first)
    if start is not None and end is not None:
        (top, bottom), (left, right) = sorted((start[0], end[0])), sorted((start[1], end[1]))
        grid.merged.append((top, left, bottom, right))
