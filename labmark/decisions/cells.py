"""One cell of the teacher's -> what it decides, or why it cannot be read."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from labmark.decisions.headings import NO, YES
from labmark.problems import Unusable
from labmark.read.cells import exact_claim
from labmark.read.grid import Cell
from labmark.read.words import folded, plain
from labmark.volumes import decimals_in
from labmark.words import shortened

LONGEST = 40
"""Characters that are shown of a cell that cannot be read."""
_LEAST, _MOST = Decimal("1e-9"), Decimal("1e9")
"""Of a reference, or a number of a student's own."""
_NUMBER = re.compile(r"[-+]?\d{1,12}(?:[.,]\d{0,12})?")
_ESCAPE = re.compile(r"_x([0-9A-Fa-f]{4})_")
_SPOILT = {
    "uncalculated": "holds a formula that was never calculated",
    "error": "holds an error instead of a value",
    "date": "was made a date or a time by the spreadsheet program",
}


def is_blank(cell: Cell) -> bool:
    """Return whether nothing stands in a cell; a formula that was never calculated is something."""
    return cell.kind not in _SPOILT and not plain(cell.text)


def value_of(what: str, cell: Cell, most: Decimal | None) -> Any:
    """Return what a cell decides: a Decimal, a bool, or words; None for a no where only yes decides something.

    most   greatest mark, or the largest reading [cm³]; None where there is no limit
    Raises Unusable.
    """
    if cell.kind in _SPOILT:
        raise Unusable(f"it {_SPOILT[cell.kind]}", "type the value itself, or clear the cell")
    if what in ("comment", "note"):
        return _words(cell)
    if what in ("use", "aside", "excused"):
        yes = _yes(cell, or_no=what == "use")
        return yes if yes or what == "use" else None
    number = _number(cell)
    if what == "mark":
        return _within(number, most, "marks are 0 to {}")
    if what in ("initial", "final", "reading"):
        return _reading(_within(number, most, "readings are 0.00 to {} cm³"))
    if not _LEAST <= number <= _MOST and not (what == "input" and number == 0):
        raise Unusable(f"{number} cannot be", "type a number above 0, or clear the cell")
    return number


def _words(cell: Cell) -> str:
    """Return words as they were typed, a line each."""
    text = _ESCAPE.sub(lambda found: chr(int(found[1], 16)), cell.text).replace("\r\n", "\n").replace("\r", "\n")
    return "\n".join(line.strip() for line in text.strip().split("\n"))


def _yes(cell: Cell, *, or_no: bool) -> bool:
    word = folded(cell.text)
    if word in YES or word in NO:
        return word in YES
    raise Unusable(f"{_seen(cell)} is neither yes nor no", f"write yes{' or no' if or_no else ''}, or clear the cell")


def _number(cell: Cell) -> Decimal:
    if cell.kind == "number" and isinstance(cell.value, (int, float)) and abs(cell.value) < 1e12:
        return exact_claim(cell.value)
    text = plain(cell.text)
    if cell.kind == "text" and _NUMBER.fullmatch(text):
        return Decimal(text.replace(",", "."))
    raise Unusable(f"{_seen(cell)} is not a number", "write the number alone, or clear the cell")


def _within(number: Decimal, most: Decimal | None, limits: str) -> Decimal:
    if number < 0 or (most is not None and number > most):
        raise Unusable(f"{number} is out of range: {limits.format(most)}", "correct it, or clear the cell")
    return number


def _reading(number: Decimal) -> Decimal:
    """Return a reading with two decimals, as a burette is read, or with a third where it has one."""
    decimals = decimals_in(number.normalize())
    if decimals > 3:
        raise Unusable(f"{number} has more decimals than a burette shows", "correct it, or clear the cell")
    return number.quantize(Decimal(1).scaleb(-max(2, decimals)))


def _seen(cell: Cell) -> str:
    return f"“{shortened(plain(cell.text), LONGEST)}”"
