"""The class workbook for a lesson: a sheet `Results` to fill in, and the practical beside it.

What is filled in is unlocked and bordered, and says in the cell what belongs there; all the rest is protected, without
a password. Nothing subtracts for the students. The same class and practical give the same bytes.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from labmark.lesson.columns import Column
from labmark.lesson.roll import NAME, Roll
from labmark.outputs.archive import settled
from labmark.outputs.rows import letters
from labmark.outputs.workbook import put

if TYPE_CHECKING:
    from openpyxl.workbook import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

FORMATS = {"reading": "0.00", "titre": "0.00", "number": "General", "group": "@", "result": "@"}
"""What a cell holds -> its number format. A result is text, so that zeros at its end stay (0.0970)."""
WIDTHS = {NAME: 24.0, "Email": 26.0, "tick": 7.0, "reading": 8.5, "titre": 8.5}
"""Width of a column [characters] by its heading or what it holds."""
USUAL_WIDTH = 11.0
VALUE_WIDTH = 80
LINE = 15.0
"""Height of a line of text [points]."""
DEFERS = "Your local risk assessment, the safety data sheets and whoever is in charge decide about work at the bench."


def class_workbook(
    title: str,
    roll: Roll,
    columns: Sequence[Column],
    practical: Iterable[tuple[str, object]],
    *,
    letter: bool = False,
) -> bytes:
    """Return the workbook: the students of `roll`, `columns` to fill in, the rows of the practical's own sheet.

    It prints on A4, or on letter paper.
    """
    from openpyxl import Workbook

    book = Workbook()
    _fill_results(book.active, roll, columns)
    _fill_practical(book.create_sheet("Practical"), practical)
    _settle(book, title, letter)
    stream = io.BytesIO()
    book.save(stream)
    return settled(stream.getvalue(), [{}, {}])


def _fill_results(page: Worksheet, roll: Roll, columns: Sequence[Column]) -> None:
    """Write headings and students, and make the cells of `columns` ready to be filled in."""
    page.title = "Results"
    given = [heading for heading in roll.headings if heading not in {each.heading for each in columns}]
    headings = [*given, *(each.heading for each in columns)]
    for place, heading in enumerate(headings, 1):
        _head(page, place, heading)
    for row, student in enumerate(roll.rows, 2):
        for heading, text in zip(roll.headings, student, strict=True):
            put(page.cell(row, headings.index(heading) + 1), text or None)
    last = len(roll.rows) + 1
    holds = dict.fromkeys(given, "given") | {each.heading: each.holds for each in columns}
    for place, heading in enumerate(headings, 1):
        page.column_dimensions[letters(place)].width = WIDTHS.get(heading, WIDTHS.get(holds[heading], USUAL_WIDTH))
        _unlock(page, place, last, holds[heading])
    _validate(page, {each.heading: headings.index(each.heading) + 1 for each in columns}, columns, last)
    page.row_dimensions[1].height = 2.2 * LINE
    page.freeze_panes = "B2"
    page.print_title_rows, page.print_title_cols = "1:1", "A:A"


def _head(page: Worksheet, place: int, heading: str) -> None:
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side

    cell = page.cell(1, place)
    put(cell, heading)
    cell.font = Font(name="Calibri", size=11, bold=True)
    cell.fill = PatternFill("solid", start_color="E4E7EB")
    cell.border = Border(bottom=Side(style="medium", color="404040"))
    cell.alignment = Alignment(wrap_text=True, vertical="top")


def _unlock(page: Worksheet, place: int, last: int, holds: str) -> None:
    """Unlock the cells of a column that are to be filled in: all of them, or those that the list left blank."""
    from openpyxl.styles import Border, PatternFill, Protection, Side

    line = Side(style="thin", color="808080")
    border, fill, free = Border(line, line, line, line), PatternFill("solid", start_color="FFFBE6"), Protection(False)
    made = None
    for row in range(2, last + 1):
        cell = page.cell(row, place)
        if cell.value is not None:
            continue
        if made is None:
            cell.border, cell.fill, cell.protection = border, fill, free
            cell.number_format = FORMATS.get(holds, "General")
            made = cell._style
        cell._style = made  # to style cells one by one would take most of the time


def _validate(page: Worksheet, places: dict[str, int], columns: Sequence[Column], last: int) -> None:
    """Say in every cell what belongs there, and question what cannot be."""
    for column in columns:
        rule = _rule(column)
        rule.promptTitle, rule.prompt = column.heading[:32], column.what[:255]
        rule.showInputMessage = True
        letter = letters(places[column.heading])
        rule.add(f"{letter}2:{letter}{last}")
        page.add_data_validation(rule)


def _rule(column: Column) -> Any:
    """Return what a cell may hold. A warning, no wall: a burette filled again has two pairs of readings in a cell."""
    from openpyxl.worksheet.datavalidation import DataValidation

    more: dict[str, Any] = {"allow_blank": True, "errorStyle": "warning", "showErrorMessage": True}
    if column.holds == "reading":
        error = f"A burette reading is a number from 0 to {column.most}."
        return DataValidation("decimal", "0", str(column.most), operator="between", error=error, **more)
    if column.holds in ("titre", "number"):
        return DataValidation("decimal", "0", operator="greaterThanOrEqual", error="A number is expected here.", **more)
    if column.holds == "tick":
        return DataValidation("list", '"yes,no"', error="yes or no is expected here.", **more)
    return DataValidation(allow_blank=True)


def _fill_practical(page: Worksheet, rows: Iterable[tuple[str, object]]) -> None:
    """Write the practical as keys and values; a number shows the decimals that were written."""
    from openpyxl.styles import Alignment

    for place, heading in enumerate(("Key", "Value"), 1):
        _head(page, place, heading)
    for row, (key, value) in enumerate(rows, 2):
        put(page.cell(row, 1), key)
        cell = page.cell(row, 2)
        put(cell, value)
        cell.alignment = Alignment(horizontal="left", vertical="top", wrap_text=True)
        page.row_dimensions[row].height = LINE * (1 + len(str(value)) // VALUE_WIDTH)
        if isinstance(value, Decimal):
            places = max(0, -int(value.as_tuple().exponent))
            cell.number_format = "0." + "0" * places if places else "0"
    page.column_dimensions["A"].width, page.column_dimensions["B"].width = 30.0, 1.1 * VALUE_WIDTH
    page.freeze_panes = "A2"


def _settle(book: Workbook, title: str, letter: bool) -> None:
    """Protect what is not filled in, without a password, and set the page."""
    book.properties.title, book.properties.creator, book.properties.language = title, "labmark", "en-GB"
    for page in book.worksheets:
        page.protection.sheet = True
        page.protection.formatColumns = page.protection.formatRows = False  # these may still be changed
        page.page_setup.orientation = "landscape"
        page.page_setup.paperSize = page.PAPERSIZE_LETTER if letter else page.PAPERSIZE_A4
        for margin in ("left", "right", "top", "bottom"):
            setattr(page.page_margins, margin, 0.8)
        page.oddHeader.left.text = title[:200].replace("&", "&&")
        page.oddFooter.left.text, page.oddFooter.right.text = DEFERS, "&P of &N"
