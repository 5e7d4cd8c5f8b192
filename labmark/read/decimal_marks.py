"""Decimal point or decimal comma? The cell decides where it can be understood one way only; else student and file do.

24,30    24.30: no thousands have two figures behind them, whatever the rest of the file does
25,380   25.380 as a volume, which is never a thousand; as a result in mg/L either that or 25380
"""

import re
from collections import Counter
from collections.abc import Iterable
from decimal import Decimal

from labmark.read.grid import Cell
from labmark.read.words import plain

_ALONE = re.compile(
    r"[~≈<>]?\s*-?\d{1,4}([.,])\d{1,6}\s*(?:[a-zµ%/][a-z0-9%/ .-]{0,12})?\s*[*†?]?(?:\s*\(.{0,60}\))?", re.I
)
_PAIR = re.compile(r"\d{1,3}([.,])\d{1,3}\s*(?:-|–|to|bis|→|/|;|\s)\s*\d{1,3}[.,]\d{1,3}.*", re.I)
_THOUSANDS = re.compile(r"[-+]?[1-9]\d{0,2}([.,])\d{3}(?!\d).*")
"""One thousand or more, perhaps: 1,234 with either mark."""
_LONGEST = 60
"""A longer text is a remark [characters]."""


def decimal_mark(cells: Iterable[Cell]) -> tuple[str, int, int]:
    """Return the decimal mark of some texts, and how many of them have a point and how many a comma for certain.

    The mark is empty where none of them tells.
    """
    counts = {".": 0, ",": 0}
    for text, number in Counter(cell.text for cell in cells if cell.kind == "text").items():
        seen = plain(text) if len(text) < _LONGEST else ""
        match = _ALONE.fullmatch(seen) or _PAIR.fullmatch(seen)
        if match and not _THOUSANDS.fullmatch(match[0]):
            counts[match[1]] += number
    points, commas = counts.values()
    return ("" if not points + commas else "," if commas > points else "."), points, commas


def as_decimal(written: str, mark: str, thousands: bool) -> Decimal | None:
    """Return a number with one decimal mark or none; None where the mark may part thousands as well.

    `mark` is that of the other texts (empty: unknown); `thousands` says that so large a number may be meant.
    """
    parted = _THOUSANDS.fullmatch(written)
    if parted and thousands and parted[1] != mark:
        return None
    return Decimal(written.replace(",", ".").rstrip("."))
