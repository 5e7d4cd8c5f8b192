"""Workbooks (.xlsx, .xlsm) -> grids. The only module that uses openpyxl.

The workbook is loaded once, for its stored values; which cells hold formulas is found in the sheets' own XML, so that
a formula without a stored value is not taken for a blank cell. Macros are never run, external links never followed.
"""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from labmark.problems import InputError, Problem
from labmark.read.grid import Book, Cell, Grid, Kind, Place, column_number
from labmark.read.guard import MOST_CELLS, MOST_SHEETS, check_ranges, read_part, refuse

if TYPE_CHECKING:
    from openpyxl.workbook import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

_SHEET_PART = re.compile(r"xl/(?:worksheets|macrosheets)/[^/]+\.xml$")
_CELL_START = re.compile(rb"<(?:\w+:)?c\s")
_FORMULA = re.compile(rb"<(?:\w+:)?f[\s/>]")
_HAS_VALUE = re.compile(rb"<(?:\w+:)?v(?:\s[^>]*)?>[^<]")
_REF = re.compile(rb'\br="([A-Z]{1,3})(\d+)"')
_STRICT = b"http://purl.oclc.org/ooxml/"
_TRANSITIONAL = (
    (b"http://purl.oclc.org/ooxml/spreadsheetml/main", b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"),
    (b"http://purl.oclc.org/ooxml/officeDocument/", b"http://schemas.openxmlformats.org/officeDocument/2006/"),
    (b"http://purl.oclc.org/ooxml/drawingml/", b"http://schemas.openxmlformats.org/drawingml/2006/"),
)
_ORNAMENTS = frozenset(
    {
        "drawing",
        "legacyDrawing",
        "legacyDrawingHF",
        "tableParts",
        "dataValidations",
        "conditionalFormatting",
        "extLst",
        "sheetViews",
        "pageSetup",
        "headerFooter",
        "autoFilter",
        "hyperlinks",
        "oleObjects",
        "controls",
        "picture",
        "printOptions",
        "pageMargins",
        "sheetPr",
        "sheetProtection",
        "rowBreaks",
        "colBreaks",
        "scenarios",
        "customSheetViews",
        "cols",
        "phoneticPr",
    }
)
"""Parts of a sheet's XML that are no values."""

Style = tuple[int | None, bool, bool]
"""Decimals that a cell's format shows, whether it shows a percentage, whether the cell is struck out."""
Formulas = dict[Place, str]
"""Cells with a formula -> "stored", "none" or "empty text"."""


def read_workbook(file: str, data: bytes, archive: zipfile.ZipFile, sha256: str) -> Book:
    """Return the sheets of a workbook as grids.

    Raises InputError where the workbook is damaged, locked, or asks for more than a class sheet needs.
    """
    parts = _parts(file, archive)
    data, strict = _transitional(data, parts)
    strings = parts.get("xl/sharedStrings.xml", b"")
    rich = b"strike" in strings or any(b"inlineStr" in part and b"strike" in part for part in parts.values())
    workbook, slimmed = _load(file, data, parts, rich)
    worksheets = [sheet for sheet in workbook.worksheets if hasattr(sheet, "_cells")]
    if not worksheets:
        raise refuse(
            file,
            "the workbook holds no sheet that can be read",
            "open it in a spreadsheet program and save it as .xlsx",
        )
    if len(worksheets) > MOST_SHEETS:
        raise refuse(
            file,
            f"the workbook has {len(worksheets)} sheets, more than {MOST_SHEETS}",
            "keep only the class sheets in it",
        )
    formulas = _all_formulas(parts, worksheets)
    seeded = b"fullCalcOnLoad" in parts.get("xl/workbook.xml", b"")
    style = _styles(workbook)
    grids = tuple(_grid(sheet, formulas.get(sheet.title, {}), style, seeded) for sheet in worksheets)
    if sum(len(grid.cells) for grid in grids) > MOST_CELLS:
        raise refuse(file, f"more than {MOST_CELLS} cells are filled", "keep only the class sheet in the workbook")
    return Book(file, sha256, grids, _notes(strict, slimmed, parts))


def _notes(strict: bool, slimmed: bool, parts: dict[str, bytes]) -> tuple[str, ...]:
    notes = []
    if slimmed:
        notes.append(
            "the formats of this workbook could not be read: decimals, dates and struck-out cells cannot be told"
        )
    if strict:
        notes.append("the workbook is of the strict kind; its values were read as usual")
    if any("externalLinks/" in name for name in parts):
        notes.append("the workbook has links to other files; they were not followed, the stored values were read")
    if any(name.endswith("vbaProject.bin") for name in parts):
        notes.append("the workbook has macros; they were not run")
    return tuple(notes)


def _parts(file: str, archive: zipfile.ZipFile) -> dict[str, bytes]:
    """Return the XML parts that a parser will see, each one checked; other parts by name only."""
    parts: dict[str, bytes] = {}
    for name in archive.namelist():
        if name.endswith((".xml", ".rels")) and not name.startswith(("xl/theme", "xl/media")):
            parts[name] = read_part(file, archive, name)
            if _SHEET_PART.match(name):
                check_ranges(file, parts[name])
        else:
            parts[name] = b""
    return parts


def _transitional(data: bytes, parts: dict[str, bytes]) -> tuple[bytes, bool]:
    """Return the workbook with the names of the strict dialect replaced by the usual ones, which openpyxl knows."""
    if _STRICT not in parts.get("xl/workbook.xml", b""):
        return data, False

    def usual(part: bytes) -> bytes:
        for strict, transitional in _TRANSITIONAL:
            part = part.replace(strict, transitional)
        return part

    return _rewritten(data, lambda _, part: usual(part)), True


def _rewritten(data: bytes, change: Callable[[str, bytes], bytes | None]) -> bytes:
    """Return the archive with every part changed; a part that becomes None is left out."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            part = change(name, old.read(name))
            if part is not None:
                new.writestr(name, part)
    return out.getvalue()


def _load(file: str, data: bytes, parts: dict[str, bytes], rich: bool) -> tuple[Workbook, bool]:
    """Load the workbook; where some ornament stands in the way, once more with values only."""
    try:
        return _openpyxl(data, rich), False
    except Exception as first:  # openpyxl raises whatever its parsers meet; the file is at fault
        try:
            return _openpyxl(_rewritten(data, _slim), rich), True
        except Exception:
            reason = " ".join(str(first).split())[:160] or type(first).__name__
            raise InputError(
                Problem(
                    f"the workbook cannot be read ({reason})",
                    "open it in a spreadsheet program and save it again",
                    file,
                )
            ) from first


def _openpyxl(data: bytes, rich: bool) -> Workbook:
    import openpyxl

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return openpyxl.load_workbook(io.BytesIO(data), data_only=True, keep_links=False, rich_text=rich)


def _slim(name: str, part: bytes) -> bytes | None:
    """Return a part without all that is not a value."""
    if name == "xl/styles.xml" or name.startswith(("xl/theme", "docProps/custom", "xl/worksheets/_rels")):
        return None
    if name == "[Content_Types].xml":
        return re.sub(rb'<Override[^>]*PartName="/(?:xl/styles|xl/theme|docProps/custom)[^>]*>', b"", part)
    return _bare_sheet(part) if _SHEET_PART.match(name) else part


def _bare_sheet(part: bytes) -> bytes:
    """Return a sheet's XML with its values only."""
    from xml.etree.ElementTree import tostring

    from defusedxml.ElementTree import fromstring

    root = fromstring(part)
    for child in list(root):
        if str(child.tag).rpartition("}")[2] in _ORNAMENTS:
            root.remove(child)
    for element in root.iter():
        element.attrib.pop("s", None)
    return tostring(root)


def _all_formulas(parts: dict[str, bytes], worksheets: list[Worksheet]) -> dict[str, Formulas]:
    """Return the formula cells of every sheet, by the sheet's title."""
    if not any(b"<f" in part or b":f" in part for name, part in parts.items() if _SHEET_PART.match(name)):
        return {}
    targets = _sheet_parts(parts)
    return {sheet.title: _formulas(parts.get(targets.get(sheet.title, ""), b"")) for sheet in worksheets}


def _sheet_parts(parts: dict[str, bytes]) -> dict[str, str]:
    """Return the part of each sheet, by the sheet's name."""
    from defusedxml.ElementTree import fromstring

    book = next((name for name in parts if re.fullmatch(r"xl/workbook\d*\.xml", name)), "xl/workbook.xml")
    rels = parts.get(f"xl/_rels/{book.rpartition('/')[2]}.rels", b"")
    targets = {rel.get("Id"): rel.get("Target", "") for rel in fromstring(rels)} if rels else {}
    found: dict[str, str] = {}
    for element in fromstring(parts.get(book, b"<none/>")).iter():
        if element.tag.rpartition("}")[2] == "sheet":
            ident = next((value for key, value in element.attrib.items() if key.endswith("}id")), "")
            target = targets.get(ident, "")
            found[element.get("name", "")] = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
    return found


def _formulas(part: bytes) -> Formulas:
    """Return the formula cells of a sheet's XML, and whether the result of each is stored."""
    found: Formulas = {}
    # Cell by cell rather than by one pattern: time stays in step with the size, whatever the bytes are.
    for chunk in _CELL_START.split(part)[1:]:
        if _FORMULA.search(chunk) is None:
            continue
        head = chunk.partition(b">")[0]
        ref = _REF.search(b" " + head)
        if ref is None:
            continue
        place = (int(ref[2]), column_number(ref[1].decode()))
        if _HAS_VALUE.search(chunk):
            found[place] = "stored"
        else:
            found[place] = "empty text" if b't="str"' in head else "none"
    return found


def _styles(workbook: Workbook) -> Callable[[Any], Style]:
    """Return a function from a cell to what its style says; each style of the workbook is looked at once."""
    known: dict[int, Style] = {}

    def style(cell: Any) -> Style:
        number = cell.style_id
        if number not in known:
            shown = str(cell.number_format)
            font = cell.font
            known[number] = (format_decimals(shown), "%" in _bare_format(shown), bool(font is not None and font.strike))
        return known[number]

    return style


def _bare_format(number_format: str) -> str:
    """Return the first section of a number format without its literal texts."""
    bare = re.sub(r'"[^"]*"|\\.|_.|\*.|\[[^\]]*\]', "", number_format)
    return bare.split(";")[0]


def format_decimals(number_format: str) -> int | None:
    """Return the decimals that a number format fixes; None where it shows as many as there are.

    >>> format_decimals('0.00 "mL"'), format_decimals("General"), format_decimals("0.0#")
    (2, None, None)
    """
    bare = _bare_format(number_format).replace(" ", "")
    match = re.fullmatch(r"[-+(]?[#0?,]*[0#?](?:\.([0#?]+))?%?\)?[^a-zA-Z0-9#?.,/@%]*", bare)
    if match is None:
        return None
    places = match[1] or ""
    return len(places) if set(places) <= {"0"} else None


def _grid(sheet: Worksheet, formulas: Formulas, style: Callable[[Any], Style], seeded: bool) -> Grid:
    cells: dict[Place, Cell] = {}
    comments: dict[Place, str] = {}
    for place, raw in sheet._cells.items():  # iter_rows() would make a cell for every blank of the declared size
        value = getattr(raw, "_value", None)
        comment = getattr(raw, "comment", None)
        if comment is not None and comment.text:
            comments[place] = " ".join(str(comment.text).split())
        if value is not None:
            cells[place] = _cell(raw, value, style)
    for place, stored in formulas.items():
        if place not in cells:
            cells[place] = Cell("", "text" if stored == "empty text" else "uncalculated")
    if seeded and formulas and all(cells[place].value == 0 for place in formulas):
        # Some writers store 0 for every formula and ask the next program to calculate: no result is there yet.
        for place in formulas:
            cells[place] = Cell("", "uncalculated")
    rows = frozenset(row for row, size in sheet.row_dimensions.items() if size.hidden)
    return Grid(
        sheet.title,
        cells,
        f"{sheet.title}!",
        _merged(sheet),
        rows,
        _hidden_columns(sheet),
        sheet.sheet_state != "visible",
        comments,
    )


def _merged(sheet: Worksheet) -> tuple[tuple[int, int, int, int], ...]:
    return tuple((area.min_row, area.min_col, area.max_row, area.max_col) for area in sheet.merged_cells.ranges)


def _hidden_columns(sheet: Worksheet) -> frozenset[int]:
    hidden: set[int] = set()
    for size in sheet.column_dimensions.values():
        if size.hidden and size.min and size.max:
            hidden.update(range(size.min, min(size.max, size.min + 500) + 1))
    return frozenset(hidden)


_KINDS: dict[str, Kind] = {"n": "number", "s": "text", "b": "bool", "d": "date", "e": "error"}


def _cell(raw: Any, value: object, style: Callable[[Any], Style]) -> Cell:
    kind = _KINDS.get(raw.data_type, "text")
    decimals, percent, struck = style(raw) if raw.has_style else (None, False, False)
    if kind == "text" and not isinstance(value, str):
        return _rich(value, struck)
    if kind == "number" and not isinstance(value, (int, float)):
        return Cell(str(value), "text", struck=struck)
    return Cell(value, kind, decimals, percent, struck)


def _rich(value: object, struck: bool) -> Cell:
    """Return a text of several fonts: what is struck out in it no longer counts, unless all of it is."""
    parts = [(str(part), bool(getattr(getattr(part, "font", None), "strike", False))) for part in value]  # type: ignore[attr-defined]
    live = "".join(text for text, out in parts if not out)
    gone = " ".join("".join(text for text, out in parts if out).split())
    if not live.strip():
        return Cell("".join(text for text, _ in parts), struck=True)
    return Cell(live, struck=struck, remark=f"{gone!r} is struck out" if gone else "")
