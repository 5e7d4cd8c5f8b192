"""marks.xlsx: the workbook in which a teacher reviews the marks, and decides.

The totals are formulas, so that they follow a changed mark, and carry their value as well, so that a viewer which does
not calculate shows them too. What a student wrote is always text: a name that looks like a formula or an error is
neither. The same tree gives the same bytes.
"""

import io
import re
import textwrap
import zipfile
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from functools import cache
from math import ceil
from typing import Any

from openpyxl import Workbook
from openpyxl.comments import Comment
from openpyxl.drawing.spreadsheet_drawing import SpreadsheetDrawing
from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
from openpyxl.worksheet._writer import WorksheetWriter
from openpyxl.worksheet.table import Table, TableStyleInfo
from openpyxl.worksheet.worksheet import Worksheet
from openpyxl.writer.excel import ExcelWriter

from labmark.dataclass import replace
from labmark.exact import places_in
from labmark.outputs import numbers, rows
from labmark.outputs.archive import settled
from labmark.outputs.carried import Names, carry, in_order, make_editable, opened, own_marks
from labmark.outputs.class_rows import class_sheet
from labmark.outputs.decision_rows import HOW, decisions_sheet, legend_sheet
from labmark.outputs.forms import Forms, words_of
from labmark.outputs.own import shown
from labmark.outputs.rows import CLOSED, TEACHERS, Column, Figure, Formula, Sheet, places_of, unique
from labmark.outputs.table import NOT_TEXT
from labmark.problems import letters
from labmark.written import HIDDEN

Tree = Mapping[str, Any]
Styles = Callable[[str, str], Any]
"""From the kind of a cell, and its number format, to its look."""

WIDEST: dict[str, float] = {"number": 22, "text": 28, "long": 62, "mark": 6, "comment": 24, "choice": 10}
"""Greatest width of a column by kind [characters]; longer text is wrapped."""
NARROWEST: dict[str, float] = {"mark": 6, "comment": 24, "choice": 10, "reading": 10, "value": 12}
"""Least width of a column by kind [characters]."""
LINE = 15.0
"""Height of a line of text [points]."""
ON_A_PAGE = 190
"""Characters abreast on A4 in landscape that print at seven points."""
LONGEST_TEXT = 16_000
"""Characters kept of a text: a cell holds 32,767 units, and a character may take two."""

_LOOKS_ESCAPED = re.compile("_(?=x[0-9A-Fa-f]{4}_)")

_HOW = (
    "Type over a mark to change it: the total follows and the column Changed says so; mark again, and every file has "
    "it. Clear the cell to take that back. The scheme’s marks stand with their reasons on the sheet Reasons, and again "
    "in hidden columns at the end of this sheet. The sheet Legend says what else can be decided. "
    "A note in a cell says why a mark was lost, or what it waits for: a blank cell is being checked, or there was "
    "nothing to mark. It counts in neither Total nor Out of until a mark is typed there."
)
_LEAVE = "Leave this sheet as it is: labmark reads from it what your decisions rest on."
AS_THEY_ARE = frozenset({"Student", "ID", "Finding", "Key", "Cells", "Cell", "Sheet"})
"""Headings of columns of names, codes and addresses; the sheets have their names in English."""
ENGLISH = Forms()
NO_NAMES: Names = {}
_PIECE = 30_000
"""Characters in a cell of the hidden sheet."""


def marks_workbook(tree: Tree, memory: str = "", before: bytes | None = None, names: Names = NO_NAMES) -> bytes:
    """Return marks.xlsx for a record tree: Marks, Reasons, Runs, Inputs (where there are any), Findings, Class,
    Decisions and Legend.

    memory   what there is to remember of the tree, for a hidden sheet; without it there is none
    before   the workbook that it takes the place of, from which it has what the teacher added
    names    earlier name of a student -> name of today, where they differ
    """
    old = None if before is None else opened(before)
    tree = tree if old is None else {**tree, "students": in_order(tree["students"], old, names)}
    say = words_of(tree)
    sheets = _sheets(tree) if say.language == "en" else tuple(_said(sheet, say) for sheet in _sheets(tree))
    book = _of_labmark(tree, sheets, say)
    own = own_marks(book, sheets, say)
    if old is not None:
        carry(book, old, sheets, names, say)
    if memory:
        page = book.create_sheet(HIDDEN)
        page.sheet_state = "hidden"
        page.append([_LEAVE, *own])
        for start in range(0, len(memory), _PIECE):
            page.append([memory[start : start + _PIECE]])
    return _saved(book, sheets)


def _of_labmark(tree: Tree, sheets: tuple[Sheet, ...], say: Forms) -> Workbook:
    """Return the workbook as it is before the teacher's own is carried into it."""
    title = tree["practical"]["title"]
    book, styles = _begun(f"{say('Marks')}: {title}", tree["made_by"], say.language)
    for sheet in sheets:
        _add(book, sheet, styles, title, say)
        make_editable(book[sheet.name], sheet, say)
    _note_lost_marks(book["Marks"], sheets[0], tree, say)
    _point_out(book, sheets, say)
    return book


def _sheets(tree: Tree) -> tuple[Sheet, ...]:
    marks, inputs = rows.marks_sheet(tree), rows.inputs_sheet(tree)
    about_runs = (rows.runs_sheet(tree), inputs) if inputs.rows else (rows.runs_sheet(tree),)
    about_class = (rows.findings_sheet(tree), class_sheet(tree, marks))
    return marks, rows.reasons_sheet(tree), *about_runs, *about_class, decisions_sheet(tree), legend_sheet()


def _said(sheet: Sheet, say: Forms) -> Sheet:
    """Return a sheet in the language of the class: headings and labmark's own words, not what is typed or a code."""
    headers = unique(say(column.header) for column in sheet.columns)
    columns = tuple(
        replace(column, header=header, choices=tuple(map(say, column.choices)))
        for column, header in zip(sheet.columns, headers, strict=True)
    )
    kept = [column.header in AS_THEY_ARE or column.kind == "comment" for column in sheet.columns]
    told = (
        tuple(
            value if as_it_is and value not in (rows.CLASS, HOW) else _word(value, say)
            for value, as_it_is in zip(row, kept, strict=True)
        )
        for row in sheet.rows
    )
    return Sheet(sheet.name, columns, tuple(told))


def _word(value: Any, say: Forms) -> Any:
    if isinstance(value, Formula) and value.formula.endswith('"changed","")'):
        return Formula(value.formula.replace('"changed"', f'"{say("changed")}"'), say(str(value.value)))
    return say(value) if isinstance(value, str) else value


def plain_workbook(sheets: Sequence[Sheet], title: str, made_by: str) -> bytes:
    """Return a workbook of sheets in which there is nothing to decide."""
    book, styles = _begun(title, made_by, ENGLISH.language)
    for sheet in sheets:
        _add(book, sheet, styles, title, ENGLISH)
    return _saved(book, sheets)


def _begun(title: str, made_by: str, language: str) -> tuple[Workbook, Styles]:
    """Return a workbook without a sheet, and the looks of its cells."""
    book = Workbook()
    book.remove(book.active)
    book.properties.title = _plain(title)
    book.properties.creator = made_by
    book.properties.language = british(language)
    return book, _styles(book)


def british(language: str) -> str:
    """Return a language as files name it."""
    return "en-GB" if language == "en" else language


def page_of_pages(say: Forms, page: str, pages: str) -> str:
    """Return which page it is and of how many, by the fields that stand for the numbers."""
    return say("1 of 2").replace("1", page).replace("2", pages)


def _saved(book: Workbook, sheets: Sequence[Sheet]) -> bytes:
    stream = io.BytesIO()
    # As it is packed once it is settled, there is no need to pack it here.
    _InMemory(book, zipfile.ZipFile(stream, "w")).save()
    return settled(stream.getvalue(), [_values(sheet) for sheet in sheets])


class _InMemory(ExcelWriter):  # type: ignore[misc]  # the library has no types
    """Keeps sheets of students out of the folder of temporary files; that takes a third less time, too."""

    def write_worksheet(self, ws: Worksheet) -> None:
        ws._drawing = SpreadsheetDrawing()
        ws._drawing.charts, ws._drawing.images = ws._charts, ws._images
        writer = WorksheetWriter(ws, out=io.BytesIO())
        writer.write()
        ws._rels = writer._rels
        self._archive.writestr(ws.path[1:], writer.out.getvalue())
        self.manifest.append(ws)


def _values(sheet: Sheet) -> dict[str, float | str]:
    """Return cell -> value of every formula of a sheet."""
    return {
        f"{letters(place)}{row}": meant(value.value)
        for row, values in enumerate(sheet.rows, 2)
        for place, value in enumerate(values, 1)
        if isinstance(value, Formula)
    }


# Cells.


def _plain(text: str) -> str:
    return _LOOKS_ESCAPED.sub("_x005F_", in_cell(text))


def in_cell(text: str) -> str:
    """Return text as a cell can hold it: what XML or the cell has no room for is left out."""
    return NOT_TEXT.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))[:LONGEST_TEXT]


def _styles(book: Workbook) -> Styles:
    """Return what gives the looks of cells, each made once: to style cells one by one would take most of the time."""
    scratch = book.create_sheet("scratch")
    book.remove(scratch)

    def look(kind: str, number_format: str) -> Any:
        cell = scratch.cell(1, 1)
        cell.style = "Normal"
        cell.number_format = number_format
        cell.alignment = _alignment(kind)
        if kind in TEACHERS:
            frame(cell)
        if kind.startswith("head"):
            head(cell)
        if kind == "total":
            cell.font = Font(name="Calibri", size=11, bold=True)
        return cell._style

    return cache(look)


def frame(cell: Any) -> None:
    """Frame and shade a cell that is to be filled in, and unlock it."""
    line = Side(style="thin", color="808080")
    cell.border, cell.fill = Border(line, line, line, line), PatternFill("solid", start_color="FFFBE6")
    cell.protection = Protection(locked=False)


def head(cell: Any) -> None:
    """Make a cell look like a heading."""
    cell.font = Font(name="Calibri", size=11, bold=True)
    cell.fill = PatternFill("solid", start_color="E4E7EB")
    cell.border = Border(bottom=Side(style="medium", color="404040"))


def _alignment(kind: str) -> Any:
    """Return how the text of a cell stands: headers as what is under them, those of marks upright to save width."""
    if kind == "head mark":
        return Alignment(horizontal="center", vertical="top", textRotation=90)
    if kind in ("mark", "choice"):
        return Alignment(horizontal="center", vertical="top")
    of_text = kind.removeprefix("head ") in ("text", "long", "comment")
    wrapped = of_text or kind.startswith("head")
    horizontal = "left" if of_text else "right"
    return Alignment(horizontal=horizontal, vertical="top", wrap_text=wrapped, indent=1 if of_text else 0)


def _format(value: Any, column: Column) -> str:
    """Return the number format of a value: a volume shows the decimals that were written, a titre at least two."""
    if isinstance(value, Figure):
        return _fixed(value.decimals)
    if column.kind == "reading":
        return _fixed(max(2, places_in(value))) if value is not None else "0.00"
    if isinstance(value, str) or value is None:
        return "General"
    if column.decimals is not None:
        places = _fixed(column.decimals)
        return f"+{places};-{places};{places}" if column.signed else places
    if isinstance(value, Decimal):
        return _fixed(places_in(value))
    return "0.00" if isinstance(value, Formula) and column.kind != "total" else "General"


def _fixed(decimals: int) -> str:
    return "0." + "0" * decimals if decimals else "0"


def put(cell: Any, value: Any) -> None:
    """Put a value into a cell; text stays text, whatever it looks like."""
    if isinstance(value, Formula):
        cell.value = value.formula
    elif isinstance(value, Figure):
        cell.value = meant(value.value)
    elif isinstance(value, str):
        cell.value = _plain(value)
        cell.data_type = "s"
    elif value is not None:
        cell.value = meant(value)


def meant(value: Any) -> Any:
    """Return a number with the digits that are meant: 0.942, where a sum left 0.9420000000000001."""
    return float(f"{value:.12g}") if isinstance(value, float) else value


# Sheets.


def _add(book: Workbook, sheet: Sheet, styles: Styles, title: str, say: Forms) -> None:
    """Add a sheet: header, rows, widths, table and page."""
    page = book.create_sheet(sheet.name)
    for place, column in enumerate(sheet.columns, 1):
        cell = page.cell(1, place)
        put(cell, column.header)
        cell._style = styles(f"head {column.kind}", "General")
    for row, values in enumerate(sheet.rows, 2):
        for place, (column, value) in enumerate(zip(sheet.columns, values, strict=True), 1):
            if value is not CLOSED and (value is not None or column.kind in TEACHERS):
                cell = page.cell(row, place)
                put(cell, value)
                cell._style = styles(column.kind, _format(value, column))
    _set_sizes(page, sheet)
    _add_table(page, sheet)
    _set_page(page, sheet, title, say)


def _set_sizes(page: Worksheet, sheet: Sheet) -> None:
    """Fit the columns to their values, and the rows to wrapped text: not every program does that by itself."""
    widths = []
    for place, column in enumerate(sheet.columns, 1):
        widths.append(_width(column, [values[place - 1] for values in sheet.rows]))
        dimension = page.column_dimensions[letters(place)]
        dimension.width = widths[-1]
        dimension.hidden = column.kind == "first"
    page.row_dimensions[1].height = _header_height(sheet.columns, widths)
    wrapped = [place for place, column in enumerate(sheet.columns) if column.kind in ("text", "long", "comment")]
    for row, values in enumerate(sheet.rows, 2):
        lines = max((lines_of(values[place], widths[place]) for place in wrapped), default=1)
        if lines > 1:
            page.row_dimensions[row].height = LINE * lines


def _width(column: Column, values: list[Any]) -> float:
    """Return a width that fits the values, and the header on several lines."""
    head = max((len(word) for word in column.header.split()), default=0) + 3
    shown = max((max(map(len, _shown(value, column).split("\n"))) for value in values), default=0)
    return max(min(max(shown + 3, head), column.widest or WIDEST.get(column.kind, 16)), NARROWEST.get(column.kind, 8))


def lines_of(text: Any, width: float) -> int:
    """Return how many lines a text takes; letters are narrower than the figures that widths are counted in.

    What is longer than a line without a blank is no prose, and may be all figures: a digest.
    """
    figures = isinstance(text, str) and any(len(word) > width - 1 for word in text.split())
    room = int(width if figures else 1.1 * width) - 1
    if not isinstance(text, str) or (len(text) <= room and "\n" not in text):
        return 1
    return sum(max(1, len(textwrap.wrap(part, room))) for part in text.split("\n"))


def _header_height(columns: tuple[Column, ...], widths: list[float]) -> float:
    upright = max((len(column.header) for column in columns if column.kind == "mark"), default=0)
    across = max(
        lines_of(column.header, width)
        for column, width in zip(columns, widths, strict=True)
        if column.kind not in ("mark", "first")
    )
    button = 18.0  # the button of the filter stands below the text
    return max(LINE * across, 6.0 * upright) + button


def _shown(value: Any, column: Column) -> str:
    """Return about what a cell shows, to measure its width by."""
    if isinstance(value, Figure):
        return numbers.fixed(value.value, value.decimals)
    if isinstance(value, Formula):
        return _shown(value.value, column)
    if isinstance(value, float):
        return numbers.fixed(value, column.decimals) if column.decimals is not None else f"{value:.6g}"
    return "" if value in (None, CLOSED) else str(value)


def _add_table(page: Worksheet, sheet: Sheet) -> None:
    """Make the cells a table with a name: it can be filtered, sorted and read out with its headers."""
    name = sheet.name.replace(" ", "") + "Table"
    table = Table(displayName=name, name=name)
    table.ref = f"A1:{letters(len(sheet.columns))}{sheet.last}"
    table.tableStyleInfo = TableStyleInfo(name="TableStyleLight1", showRowStripes=True)
    page.add_table(table)


def _set_page(page: Worksheet, sheet: Sheet, title: str, say: Forms) -> None:
    """Keep the header in sight on the screen and on every printed page; landscape, wide enough to read."""
    with_student = sheet.columns[1].header == say("Student")
    page.freeze_panes = "C2" if with_student else "A2"
    totals = places_of(sheet.columns, "total")
    if totals:  # Who, why, marks and totals: with the figures beside them the letters would be smaller than 8 points.
        page.print_area = f"A1:{letters(totals[-1])}{sheet.last}"
    columns = [page.column_dimensions[letters(place)] for place in range(1, (totals or [len(sheet.columns)])[-1] + 1)]
    page.page_setup.fitToWidth = ceil(sum(each.width for each in columns if not each.hidden) / ON_A_PAGE)
    if page.page_setup.fitToWidth > 1:
        page.print_title_cols = "A:B" if with_student else "A:A"
    page.print_title_rows = "1:1"
    page.page_setup.orientation = "landscape"
    page.page_setup.paperSize = page.PAPERSIZE_A4
    page.sheet_properties.pageSetUpPr.fitToPage = True
    page.page_setup.fitToHeight = 0
    for margin in ("left", "right", "top", "bottom"):
        setattr(page.page_margins, margin, 0.5)
    page.page_margins.footer = 0.25
    page.oddFooter.left.text = f"{sheet.name}: {_plain(title)}"[:120].replace("&", "&&")
    page.oddFooter.right.text = page_of_pages(say, "&P", "&N")


# What asks for attention.


def _note_lost_marks(page: Worksheet, sheet: Sheet, tree: Tree, say: Forms) -> None:
    """Put the reason into a note in every cell whose mark is not full, or is the teacher's."""
    marks = places_of(sheet.columns, "mark")
    if not marks:
        return
    page.cell(1, marks[0]).comment = _note(say(_HOW))
    for row, student in enumerate(tree["students"], 2):
        for place, mark in zip(marks, rows.given_marks(student).values(), strict=False):
            if mark["mark"] != mark["out_of"] or mark["by"] == "teacher":
                by = " (by the teacher)" if mark["by"] == "teacher" and mark["mark"] is not None else ""
                page.cell(row, place).comment = _note(say(f"{shown(mark)}{by}: {_plain(mark['reason'])}"))


def _note(text: str) -> Any:
    lines = 2 + len(text) // 34
    return Comment(text, "labmark", height=18 * lines, width=250)


def _point_out(book: Workbook, sheets: tuple[Sheet, ...], say: Forms) -> None:
    """Point out lost and changed marks, far z and plain faults by weight of type and a shade: none needs its colour."""
    blue, grey = (PatternFill("solid", bgColor=colour) for colour in ("D6E4F5", "E4E7EB"))
    looks: dict[str, dict[str, Any]] = {
        "changed": {"font": Font(bold=True, underline="single"), "fill": blue, "stopIfTrue": True},
        "lost": {"font": Font(bold=True)},
        "strong": {"font": Font(bold=True, italic=False), "fill": grey, "stopIfTrue": True},
        "weak": {"font": Font(bold=True, italic=True), "stopIfTrue": False},
    }
    for sheet in sheets:
        firsts = dict(zip(places_of(sheet.columns, "mark"), places_of(sheet.columns, "first"), strict=False))
        for place, column in enumerate(sheet.columns, 1):
            here = letters(place)
            for look, formula in _pointed_out(column, f"{here}2", f"{letters(firsts.get(place, 0))}2", say):
                rule = FormulaRule([formula], **looks[look])
                book[sheet.name].conditional_formatting.add(f"{here}2:{here}{sheet.last}", rule)


def _pointed_out(column: Column, here: str, first: str, say: Forms) -> list[tuple[str, str]]:
    """Return (look, formula) of what may stand out in a column, for its first cell.

    first   the cell with the scheme's mark, for a column of marks
    """
    if column.kind == "mark":
        changed = f'AND({here}<>"",{here}<>{first})'
        return [("changed", changed), ("lost", f"AND(ISNUMBER({here}),{here}<{column.out_of:g})")]
    if column.kind == "number" and column.signed and column.header.partition(" ")[0] == "z":
        return [("strong", f"AND(ISNUMBER({here}),ABS({here})>=3)"), ("weak", f"AND(ISNUMBER({here}),ABS({here})>=2)")]
    if column.kind == "text" and column.header == say("Level"):
        return [("strong", f'{here}="{say("fault")}"'), ("weak", f'{here}="{say("check")}"')]
    return []
