"""What the teacher may change in marks.xlsx: only the framed cells, and in these only what can be read back."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from labmark.outputs import numbers
from labmark.outputs.rows import TEACHERS, Column, Sheet
from labmark.problems import letters

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

FREE = 12
"""Columns beside the table that are left free for the teacher's own."""
_ALLOWED = (
    *("formatCells", "formatColumns", "formatRows", "insertColumns", "insertRows", "insertHyperlinks"),
    *("deleteColumns", "deleteRows", "sort", "autoFilter"),
)


def make_editable(page: Worksheet, sheet: Sheet, say: Callable[[str], str]) -> None:
    """Protect a sheet without a password, but for the teacher's cells; let only what has a meaning be typed there."""
    last = max(2, len(sheet.rows) + 1)
    for place, column in enumerate(sheet.columns, 1):
        if column.kind in TEACHERS and column.kind != "comment":
            page.add_data_validation(
                _rule(column, f"{letters(place)}2", f"{letters(place)}2:{letters(place)}{last}", say)
            )
    leave_free(page, len(sheet.columns) + 1)
    page.protection.sheet = True
    for action in _ALLOWED:
        setattr(page.protection, action, False)  # False: not kept from the teacher


def leave_free(page: Worksheet, first: int) -> None:
    """Leave the columns from this one on unlocked, for the teacher's own."""
    from openpyxl.styles import Protection

    free = page.column_dimensions[letters(first)]
    free.min, free.max, free.width, free.protection = first, first + FREE - 1, 13, Protection(locked=False)


def _rule(column: Column, first: str, cells: str, say: Callable[[str], str]) -> Any:
    """Return the rule for what may be typed into a column, whose words are in the language already."""
    from openpyxl.worksheet.datavalidation import DataValidation

    allowed, error = _allowed(column, first)
    rule = DataValidation(allow_blank=True, **allowed)
    rule.error = say(error)[:225]
    rule.errorTitle, rule.showErrorMessage = say("That cannot be read"), True
    rule.add(cells)
    return rule


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
