"""The class workbook for a lesson: a sheet `Results` to fill in, and the practical beside it; two writers.

What is filled in is unlocked and bordered, and says in the cell what belongs there; all the rest is protected, without
a password. Nothing subtracts for the students. The same class and practical give the same bytes.
The parts of an OpenDocument spreadsheet are small, and their XML stands in `templates/class-sheet.ods.j2`.
"""

import io
import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from openpyxl import Workbook
from openpyxl.styles import Alignment
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from labmark.lesson.columns import DEFERS, LINE, OF_PRACTICAL, Column, Entry, shown
from labmark.outputs.archive import archive, settled
from labmark.outputs.forms import Forms
from labmark.outputs.workbook import british, frame, head, in_cell, lines_of, page_of_pages, put
from labmark.problems import letters

if TYPE_CHECKING:
    from markupsafe import Markup

TYPE = "application/vnd.oasis.opendocument.spreadsheet"
PARTS = {"manifest": "META-INF/manifest.xml"} | {
    part: f"{part}.xml" for part in ("content", "styles", "settings", "meta")
}
"""Block of the template -> the part of the archive that it makes."""
FITS, FITS_NOTE = 36, 28
"""Characters of a value and of a note that fit on a line."""


def class_workbook(
    title: str, laid: Sequence[Column], practical: Iterable[Entry], say: Forms, *, letter: bool = False
) -> bytes:
    """Return the workbook: the columns of the class sheet, and the rows of the practical's own sheet.

    It prints on A4, or on letter paper; `say` puts headings and the foot of a page into the language of the class.
    """
    book = Workbook()
    _fill_results(book.active, laid)
    _fill_practical(book.create_sheet("Practical"), practical, say)
    _settle(book, title, letter, say)
    stream = io.BytesIO()
    book.save(stream)
    return settled(stream.getvalue(), [{}, {}])


def _fill_results(page: Worksheet, laid: Sequence[Column]) -> None:
    """Write headings and students, and make the other cells ready to be filled in."""
    page.title = "Results"
    for place, column in enumerate(laid, 1):
        _head(page, place, column.heading)
        for row, text in enumerate(column.texts, 2):
            put(page.cell(row, place), text or None)
        page.column_dimensions[letters(place)].width = column.width
        _unlock(page, place, column)
        if column.holds != "given":
            _validate(page, letters(place), column)
    page.row_dimensions[1].height = _head_height(laid)
    page.freeze_panes = "B2"
    page.print_title_rows, page.print_title_cols = "1:1", "A:A"


def _head_height(laid: Sequence[Column]) -> float:
    """Return the height [points] at which every heading can be read, on two lines or more."""
    return LINE * (0.2 + max(2, *(lines_of(each.heading, each.width) for each in laid)))


def _head(page: Worksheet, place: int, heading: str) -> None:
    cell = page.cell(1, place)
    put(cell, heading)
    head(cell)
    cell.alignment = Alignment(wrap_text=True, vertical="top")


def _unlock(page: Worksheet, place: int, column: Column) -> None:
    """Unlock the cells of a column that are to be filled in: all of them, or those that the list left blank."""
    made = None
    for row in range(2, len(column.texts) + 2):
        cell = page.cell(row, place)
        if cell.value is not None:
            continue
        if made is None:
            frame(cell)
            cell.number_format = column.shown
            made = cell._style
        cell._style = made  # to style cells one by one would take most of the time


def _validate(page: Worksheet, letter: str, column: Column) -> None:
    """Say in every cell what belongs there, and question what cannot be."""
    if column.choices:
        what = DataValidation("list", f'"{",".join(column.choices)}"')
    elif column.most:
        what = DataValidation("decimal", "0", str(column.most), operator="between")
    else:
        what = DataValidation("decimal", "0", operator="greaterThanOrEqual") if column.error else DataValidation()
    if column.error:
        what.error, what.errorStyle, what.showErrorMessage = column.error, "warning", True
    what.allow_blank, what.promptTitle, what.prompt = True, column.heading[:32], column.what[:255]
    what.showInputMessage = True
    what.add(f"{letter}2:{letter}{len(column.texts) + 1}")
    page.add_data_validation(what)


def _fill_practical(page: Worksheet, entries: Iterable[Entry], say: Forms) -> None:
    """Write the practical as keys and values; a number shows the decimals that were written."""
    for place, (heading, width) in enumerate(OF_PRACTICAL.items(), 1):
        _head(page, place, say(heading))
        page.column_dimensions[letters(place)].width = width
    for row, (key, value, note) in enumerate(entries, 2):
        for place, text in enumerate((key, value, note or None), 1):
            put(page.cell(row, place), text)
            page.cell(row, place).alignment = Alignment(horizontal="left", vertical="top", wrap_text=True)
        if note:
            frame(page.cell(row, 2))
        page.cell(row, 2).number_format = shown(value)
        page.row_dimensions[row].height = LINE * (1 + max(len(str(value)) // FITS, len(note) // FITS_NOTE))
    page.freeze_panes = "A2"


def _settle(book: Workbook, title: str, letter: bool, say: Forms) -> None:
    """Protect what is not filled in, without a password, and set the page."""
    book.properties.title, book.properties.creator, book.properties.language = title, "labmark", british(say.language)
    for page in book.worksheets:
        page.protection.sheet = True
        page.protection.formatColumns = page.protection.formatRows = False  # these may still be changed
        page.page_setup.orientation = "landscape"
        page.page_setup.paperSize = page.PAPERSIZE_LETTER if letter else page.PAPERSIZE_A4
        for margin in ("left", "right", "top", "bottom"):
            setattr(page.page_margins, margin, 0.7)
        page.page_margins.header = page.page_margins.footer = 0.4
        page.oddHeader.left.text = title[:200].replace("&", "&&")
        page.oddFooter.left.text, page.oddFooter.right.text = say(DEFERS), page_of_pages(say, "&P", "&N")


# As an OpenDocument spreadsheet.


def class_spreadsheet(
    title: str, laid: Sequence[Column], practical: Iterable[Entry], say: Forms, *, letter: bool = False
) -> bytes:
    """Return the spreadsheet: the columns of the class sheet, and the rows of the practical's own sheet.

    It prints on A4, or on letter paper.
    """
    from labmark.outputs.engine import engine

    template = engine({"paragraphs": _paragraphs, "condition": _condition}, {}).get_template("class-sheet.ods.j2")
    context = template.new_context(_told(title, laid, practical, letter, say))
    made = {name: "".join(template.blocks[part](context)).encode() for part, name in PARTS.items()}
    return archive({"mimetype": TYPE.encode(), **made})


def _told(title: str, laid: Sequence[Column], practical: Iterable[Entry], letter: bool, say: Forms) -> dict[str, Any]:
    """Return what the template takes, by its names."""
    rows = [(*each, shown(each[1])) for each in practical]
    formats = sorted({*(each.shown for each in laid), *(each for *_, each in rows)})
    return {
        "type": TYPE,
        "parts": [name for name in PARTS.values() if not name.startswith("META")],
        "title": in_cell(title),
        "defers": say(DEFERS),
        "pages": page_of_pages(say, "|", "|").split("|"),
        "language": british(say.language),
        "paper": (27.94, 21.59) if letter else (29.7, 21.0),
        "laid": laid,
        "head_height": _head_height(laid),
        "students": len(laid[0].texts),
        "practical": rows,
        "formats": {each: f"N{place}" for place, each in enumerate(formats)},
        "widths": sorted({*(each.width for each in laid), *OF_PRACTICAL.values()}),
        "of_practical": {say(heading): width for heading, width in OF_PRACTICAL.items()},
        "line": LINE,
    }


def _paragraphs(value: object) -> "Markup":
    """Return a text in paragraphs, a line each; a space that would be lost behind another is written out."""
    from markupsafe import Markup, escape

    lines = (str(escape(line)) for line in in_cell(str(value)).split("\n"))
    return Markup("").join(Markup(f"<text:p>{re.sub('(?:^|(?<= )) ', '<text:s/>', each)}</text:p>") for each in lines)


def _condition(column: Column) -> str:
    """Return what a cell may hold, in the formulas of OpenDocument."""
    if column.choices:
        return "of:cell-content-is-in-list(" + ";".join(f'"{each}"' for each in column.choices) + ")"
    number = "of:cell-content-is-decimal-number() and "
    return number + (f"cell-content-is-between(0,{column.most})" if column.most else "cell-content()>=0")
