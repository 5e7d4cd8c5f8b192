"""What is the teacher's in marks.xlsx: what may be typed there, and what was added to the last one.

Only the framed cells may be changed, and in these only what can be read back. What was added (columns, rows, sheets,
colours, notes) goes along into the new workbook. The old one says in its hidden sheet which headings and which notes
were labmark's. A row is the same as before where the cells that name it (`NAMES`) hold the same. Columns of the
teacher's stand behind labmark's, rows below them.
"""

import io
import json
import zlib
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from copy import copy
from typing import Any, NamedTuple, Self

from openpyxl import load_workbook
from openpyxl.cell.cell import Cell
from openpyxl.comments import Comment
from openpyxl.formula.translate import Translator, TranslatorError
from openpyxl.styles import Protection
from openpyxl.workbook import Workbook
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from labmark.outputs import numbers
from labmark.outputs.forms import Forms
from labmark.outputs.rows import DEEPEST, NAMES, TEACHERS, Column, Sheet, unique
from labmark.places import languages
from labmark.problems import letters
from labmark.written import HIDDEN

LAST = 1 << 20
"""Rows of a sheet."""
Names = Mapping[str, str]
"""Earlier name of a student -> name of today, where they differ."""
Looks = dict[tuple[int, bytes], tuple[object, object]]
"""Workbook and style -> how its cells are shaded and lettered."""


def opened(data: bytes) -> Workbook | None:
    """Return a workbook as it was saved; None where the library cannot take it."""
    try:
        return load_workbook(io.BytesIO(data))
    except Exception:  # whatever a foreign program wrote; the workbook itself is kept
        return None


def own_marks(book: Workbook, sheets: Sequence[Sheet], say: Forms) -> tuple[str, ...]:
    """Return labmark's headings, what its notes and looks are known again by and the language where it is another, as
    they go into the hidden sheet."""
    notes = {_known(cell.comment.text) for page in book for cell in page._cells.values() if cell.comment}
    headings = {sheet.name: [column.header for column in sheet.columns] for sheet in sheets}
    looks: Looks = {}
    looked: set[tuple[str, object]] = set()
    for sheet in sheets:
        columns = [_where(sheet.name, heading) for heading in ("", *(column.header for column in sheet.columns))]
        for (row, column), cell in book[sheet.name]._cells.items():
            where = columns[0 if row == 1 else column]
            looked.update((where, part) for part in _look(cell, looks))
    known = " ".join(sorted(notes | {_known(f"{where}{part}") for where, part in looked}))
    return json.dumps(headings), known, *([] if say.language == "en" else [say.language])


def _where(sheet: str, heading: str) -> str:
    """Return where a look belongs: to a column, or to the headings of a sheet (an empty heading)."""
    return f"{sheet}!{_text(heading)} "


def in_order(students: Sequence[Mapping[str, Any]], old: Workbook, names: Names) -> list[Mapping[str, Any]]:
    """Return the students in the order in which the teacher has put them; new ones at the end."""
    if "Marks" not in old.sheetnames:
        return [*students]
    places = {key: row for row, key in _Page.of(old["Marks"], NAMES["Marks"], _of_labmark(old)[0], names).rows.items()}
    return sorted(students, key=lambda one: places.get((_text(one["student"]), "0"), LAST))


def carry(book: Workbook, old: Workbook, sheets: Sequence[Sheet], names: Names, say: Forms) -> None:
    """Put what the teacher added to the old workbook into the new one, whose words are those of `say`."""
    before, headings, notes = _of_labmark(old)
    looks: Looks = {}
    for sheet in sheets:
        if sheet.name in old.sheetnames:
            # The findings of an earlier labmark had no key.
            called = [
                name for name in NAMES[sheet.name] if name != "Key" or before(name) in headings.get(sheet.name, ())
            ]
            was = _Page.of(old[sheet.name], called, before, names)
            now = _Page.of(book[sheet.name], called, say, {})
            if was.head:
                _carry_rows(now, was, {*headings.get(sheet.name, ())}, notes, looks)
    for page in old:
        if page.title not in {*headings, *NAMES, HIDDEN}:
            _copy_sheet(book.create_sheet(page.title), page)


def _of_labmark(old: Workbook) -> tuple[Forms, dict[str, list[str]], frozenset[str]]:
    """Return the language of a workbook, and of each sheet the headings that were labmark's; and what its notes and
    looks are known by."""
    page = old[HIDDEN] if HIDDEN in old.sheetnames else None
    headings, notes, said = (str(page.cell(1, column).value or "") if page else "" for column in (2, 3, 4))
    say = Forms(language=said if said in languages() else "en")
    with suppress(ValueError, AttributeError):
        return say, {sheet: list(names) for sheet, names in json.loads(headings).items()}, frozenset(notes.split())
    return say, {}, frozenset()


class _Page(NamedTuple):
    """A sheet of ours, with what its columns and rows are called."""

    page: Worksheet
    filled: Mapping[tuple[int, int], Cell]
    """(row, column) -> cell of every cell that holds a value; a sheet may say that it has a million rows."""
    head: int
    """Row of the headings; 0 where there is none."""
    columns: Mapping[str, int]
    """Heading -> column of every column that holds anything."""
    rows: Mapping[int, tuple[str, ...]]
    """Row -> what it is called, with its number among those of that name; rows without a name are left out."""

    @classmethod
    def of(cls, page: Worksheet, by: Sequence[str], say: Forms, names: Names) -> Self:
        """Return a sheet with rows named by these headings, in the language of `say`; earlier names become today's."""
        called = [say(heading) for heading in by]
        # To ask a sheet for a cell would make it.
        filled = {place: cell for place, cell in sorted(page._cells.items()) if cell.value is not None}
        texts: dict[int, dict[int, str]] = {}
        for (row, column), cell in filled.items():
            texts.setdefault(row, {})[column] = _text(cell.value)
        head = next((row for row, line in texts.items() if row <= DEEPEST and {*called} <= {*line.values()}), 0)
        places = sorted({column for _, column in filled}) if head else []
        columns = dict(zip(unique(texts[head].get(place, "") for place in places), places, strict=True))
        count: Counter[tuple[str, ...]] = Counter()
        rows = {}
        for row, line in texts.items() if head else ():
            first, *others = (line.get(columns[heading], "") for heading in called)
            if row > head and first:
                key = (names.get(first, first), *others)
                rows[row] = (*key, str(count[key]))
                count[key] += 1
        return cls(page, filled, head, columns, rows)


def _carry_rows(now: _Page, was: _Page, ours: set[str], notes: frozenset[str], looks: Looks) -> None:
    """Carry what the teacher wrote, and how cells look, from one sheet to the row and column where it belongs now."""
    heads, page = [*now.columns], now.page
    mine = {name.casefold().replace(" ", "") for name in (*ours, *heads)}
    own = [name for name in was.columns if name.casefold().replace(" ", "") not in mine]
    new = {name: place for place, name in enumerate([*heads, *own], 1)}
    here = {key: row for row, key in now.rows.items()}
    there = {was.head: 1} | {row: here.get(key) for row, key in was.rows.items()}
    foreign = _below(was, there, max(row for row, _ in now.filled) + 1)
    names_of = {column: name for name, column in was.columns.items() if name in new}
    for (row, column), cell in sorted(was.page._cells.items()):
        to, name = foreign.get(row) or there.get(row), names_of.get(column)
        if to is None or name is None:
            continue
        if row in foreign or name in own:
            _copy_cell(page.cell(to, new[name]), cell, moved=row not in foreign)
        elif cell.has_style or cell.comment:
            where = _where(page.title, "" if row == was.head else name)
            _carry_look(page.cell(to, new[name]), cell, notes, looks, where)
    _widen(page, was, own, new)


def _below(was: _Page, known: Mapping[int, int | None], free: int) -> dict[int, int]:
    """Return row -> new row of what the teacher wrote into rows without a name: below the table, there where it was."""
    found: dict[int, int] = {}
    for row in dict.fromkeys(row for row, _ in was.filled if row not in known):
        found[row] = max(row, free)
        free = found[row] + 1
    return found


def _widen(page: Worksheet, was: _Page, own: list[str], new: Mapping[str, int]) -> None:
    """Let the table take in the teacher's columns, so that they are sorted with it."""
    if own:
        del page.column_dimensions[letters(len(new) - len(own) + 1)]
        leave_free(page, len(new) + 1)
    for name in own:
        page.cell(1, new[name]).value = name
        width = was.page.column_dimensions[letters(was.columns[name])].width
        page.column_dimensions[letters(new[name])].width = width or 14
    for table in page.tables.values() if own else ():
        table.ref = f"A1:{letters(len(new))}{table.ref.rpartition(letters(len(new) - len(own)))[2]}"
    page.sheet_state = was.page.sheet_state


def _text(value: object) -> str:
    number = isinstance(value, float) and value.is_integer()
    return "" if value is None else " ".join(str(int(value) if number else value).split())  # type: ignore[call-overload]


def _known(text: str) -> str:
    """Return what a note of labmark's is known again by, however a program breaks its lines."""
    return f"{zlib.crc32(' '.join(text.split()).encode()):08x}"


# Cells.


def _copy_cell(target: Cell, cell: Cell, *, moved: bool) -> None:
    """Copy a cell of the teacher's; where its row has `moved`, a formula moves with it."""
    target.value = cell.value
    if moved and cell.data_type == "f" and isinstance(cell.value, str) and target.coordinate != cell.coordinate:
        with suppress(TranslatorError):
            target.value = Translator(cell.value, cell.coordinate).translate_formula(target.coordinate)
    target.data_type = cell.data_type
    if cell.has_style:
        for part in ("font", "fill", "border", "alignment", "protection"):
            setattr(target, part, copy(getattr(cell, part)))
        target.number_format = cell.number_format
    if cell.comment:
        target.comment = _note(cell.comment)


def _carry_look(target: Cell, cell: Cell, notes: frozenset[str], looks: Looks, where: str) -> None:
    """Give a cell of labmark's the colours and the note that the teacher gave it; an earlier labmark's are none."""
    before, now = _look(cell, looks), _look(target, looks)
    for part, mine, theirs in zip(("fill", "font"), before, now, strict=True) if before != now else ():
        if mine != theirs and _known(f"{where}{mine}") not in notes:
            target._style = copy(target._style)  # which cells of one kind share
            setattr(target, part, copy(getattr(cell, part)))
    if cell.comment and cell.comment.author != "labmark" and _known(cell.comment.text) not in notes:
        target.comment = _note(cell.comment)


def _note(note: Any) -> Any:
    return Comment(note.text, note.author or "", height=note.height, width=note.width)


def _look(cell: Cell, looks: Looks) -> tuple[object, object]:
    """Return how a cell is shaded and lettered; asked once for all cells of one style."""
    key = id(cell.parent.parent), b"" if cell._style is None else cell._style.tobytes()
    if key not in looks:
        fill, font = cell.fill, cell.font
        shade = _colour(fill.fgColor) if fill.fill_type == "solid" else str(fill.fill_type or "")
        looks[key] = shade, (bool(font.b), bool(font.i), bool(font.strike), font.u or "", _colour(font.color))
    return looks[key]


def _colour(colour: Any) -> str:
    """Return a colour; nothing for the black that letters have of themselves."""
    if colour is None or (colour.type == "theme" and colour.theme == 1):
        return ""
    shown = str(colour.rgb)[-6:].upper() if colour.type == "rgb" else f"{colour.type} {colour.value} {colour.tint:.2f}"
    return "" if shown == "000000" else shown


def _copy_sheet(page: Worksheet, before: Worksheet) -> None:
    """Copy a sheet of the teacher's."""
    for (row, column), cell in sorted(before._cells.items()):
        if cell.value is not None or cell.has_style or cell.comment:
            _copy_cell(page.cell(row, column), cell, moved=False)
    for letter, dimension in before.column_dimensions.items():
        page.column_dimensions[letter].width = dimension.width
        page.column_dimensions[letter].hidden = dimension.hidden
    for number, dimension in before.row_dimensions.items():
        page.row_dimensions[number].height = dimension.height
    for area in before.merged_cells.ranges:
        page.merge_cells(area.coord)
    for rule in before.data_validations.dataValidation:
        page.add_data_validation(rule)
    for area in before.conditional_formatting:
        for rule in area.rules:
            page.conditional_formatting.add(str(area.sqref), rule)
    for chart in before._charts:
        page.add_chart(chart)
    page.freeze_panes, page.sheet_state = before.freeze_panes, before.sheet_state
    page.sheet_properties.tabColor = before.sheet_properties.tabColor


# What may be changed.

FREE = 12
"""Columns beside the table that are left free for the teacher's own."""
_ALLOWED = (
    *("formatCells", "formatColumns", "formatRows", "insertColumns", "insertRows", "insertHyperlinks"),
    *("deleteColumns", "deleteRows", "sort", "autoFilter"),
)


def make_editable(page: Worksheet, sheet: Sheet, say: Callable[[str], str]) -> None:
    """Protect a sheet without a password, but for the teacher's cells; let only what has a meaning be typed there."""
    for place, column in enumerate(sheet.columns, 1):
        if column.kind in TEACHERS and column.kind != "comment":
            first = f"{letters(place)}2"
            allowed, error = _allowed(column, first)
            rule = DataValidation(allow_blank=True, **allowed)
            rule.error, rule.errorTitle, rule.showErrorMessage = say(error)[:225], say("That cannot be read"), True
            rule.add(f"{first}:{letters(place)}{sheet.last}")
            page.add_data_validation(rule)
    leave_free(page, len(sheet.columns) + 1)
    page.protection.sheet = True
    for action in _ALLOWED:
        setattr(page.protection, action, False)  # False: not kept from the teacher


def leave_free(page: Worksheet, first: int) -> None:
    """Leave the columns from this one on unlocked, for the teacher's own."""
    free = page.column_dimensions[letters(first)]
    free.min, free.max, free.width, free.protection = first, first + FREE - 1, 13, Protection(locked=False)


def _allowed(column: Column, first: str) -> tuple[dict[str, str], str]:
    """Return what may be typed into a column, and what is said of anything else."""
    most = numbers.mark(column.out_of)
    if column.kind == "choice":
        typed_choices = " / ".join(column.choices)
        said = f"Write {typed_choices}, or leave it blank."
        return {"type": "list", "formula1": f'"{",".join(column.choices)}"'}, said
    if column.kind == "mark":
        halves = f"AND(ISNUMBER({first}),{first}>=0,{first}<={column.out_of:g},MOD({first}*2,1)=0)"
        typed_criterion = column.header.rsplit(" /", 1)[0]
        return {"type": "custom", "formula1": halves}, f"A mark for {typed_criterion} is 0 to {most}, whole or halves."
    limits = {"operator": "between", "formula1": "0", "formula2": most if column.out_of else "1000000"}
    said = f"Write a number{f' from 0 to {most}' if column.out_of else ''}, or leave it blank."
    return {"type": "decimal", **limits}, said
