"""The class workbook for a lesson: a sheet `Results` to fill in, and the practical beside it.

What is filled in is unlocked and bordered, and says in the cell what belongs there; all the rest is protected, without
a password. Nothing subtracts for the students. The same class and practical give the same bytes.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from labmark.lesson.columns import DEFERS, LINE, OF_PRACTICAL, Entry, Laid, Rule, shown
from labmark.outputs.archive import settled
from labmark.outputs.workbook import put
from labmark.problems import letters

if TYPE_CHECKING:
    from openpyxl.workbook import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

FITS, FITS_NOTE = 36, 28
"""Characters of a value and of a note that fit on a line."""


def class_workbook(title: str, laid: Sequence[Laid], practical: Iterable[Entry], *, letter: bool = False) -> bytes:
    """Return the workbook: the columns of the class sheet, and the rows of the practical's own sheet.

    It prints on A4, or on letter paper.
    """
    from openpyxl import Workbook

    book = Workbook()
    _fill_results(book.active, laid)
    _fill_practical(book.create_sheet("Practical"), practical)
    _settle(book, title, letter)
    stream = io.BytesIO()
    book.save(stream)
    return settled(stream.getvalue(), [{}, {}])


def _fill_results(page: Worksheet, laid: Sequence[Laid]) -> None:
    """Write headings and students, and make the other cells ready to be filled in."""
    page.title = "Results"
    for place, column in enumerate(laid, 1):
        _head(page, place, column.heading)
        for row, text in enumerate(column.texts, 2):
            put(page.cell(row, place), text or None)
        page.column_dimensions[letters(place)].width = column.width
        _unlock(page, place, column)
        if column.rule is not None:
            _validate(page, letters(place), column, column.rule)
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


def _unlock(page: Worksheet, place: int, column: Laid) -> None:
    """Unlock the cells of a column that are to be filled in: all of them, or those that the list left blank."""
    made = None
    for row in range(2, len(column.texts) + 2):
        cell = page.cell(row, place)
        if cell.value is not None:
            continue
        if made is None:
            _free(cell)
            cell.number_format = column.shown
            made = cell._style
        cell._style = made  # to style cells one by one would take most of the time


def _free(cell: Any) -> None:
    from openpyxl.styles import Border, PatternFill, Protection, Side

    line = Side(style="thin", color="808080")
    cell.border, cell.fill = Border(line, line, line, line), PatternFill("solid", start_color="FFFBE6")
    cell.protection = Protection(False)


def _validate(page: Worksheet, letter: str, column: Laid, rule: Rule) -> None:
    """Say in every cell what belongs there, and question what cannot be."""
    from openpyxl.worksheet.datavalidation import DataValidation

    if rule.choices:
        what = DataValidation("list", f'"{",".join(rule.choices)}"')
    elif rule.most is not None:
        what = DataValidation("decimal", "0", str(rule.most), operator="between")
    else:
        what = DataValidation("decimal", "0", operator="greaterThanOrEqual") if rule.error else DataValidation()
    if rule.error:
        what.error, what.errorStyle, what.showErrorMessage = rule.error, "warning", True
    what.allow_blank, what.promptTitle, what.prompt = True, column.heading[:32], column.what[:255]
    what.showInputMessage = True
    what.add(f"{letter}2:{letter}{len(column.texts) + 1}")
    page.add_data_validation(what)


def _fill_practical(page: Worksheet, entries: Iterable[Entry]) -> None:
    """Write the practical as keys and values; a number shows the decimals that were written."""
    from openpyxl.styles import Alignment

    for place, (heading, width) in enumerate(OF_PRACTICAL.items(), 1):
        _head(page, place, heading)
        page.column_dimensions[letters(place)].width = width
    for row, (key, value, note) in enumerate(entries, 2):
        for place, text in enumerate((key, value, note or None), 1):
            put(page.cell(row, place), text)
            page.cell(row, place).alignment = Alignment(horizontal="left", vertical="top", wrap_text=True)
        if note:
            _free(page.cell(row, 2))
        page.cell(row, 2).number_format = shown(value)
        page.row_dimensions[row].height = LINE * (1 + max(len(str(value)) // FITS, len(note) // FITS_NOTE))
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
            setattr(page.page_margins, margin, 0.7)
        page.page_margins.header = page.page_margins.footer = 0.4
        page.oddHeader.left.text = title[:200].replace("&", "&&")
        page.oddFooter.left.text, page.oddFooter.right.text = DEFERS, "&P of &N"
