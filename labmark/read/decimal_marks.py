"""Does a file write its numbers with a decimal point or a decimal comma? Its texts decide together."""

from __future__ import annotations

import re
from collections.abc import Iterable

from labmark.read.grid import Grid
from labmark.read.words import plain

_ALONE = re.compile(
    r"[~≈<>]?\s*-?\d{1,4}([.,])\d{1,6}\s*(?:[a-zµ%/][a-z0-9%/ .-]{0,12})?\s*[*†]?(?:\s*\(.{0,60}\))?", re.I
)
_PAIR = re.compile(r"\d{1,3}([.,])\d{1,3}\s*(?:-|–|to|bis|→|/)\s*\d{1,3}[.,]\d{1,3}.*", re.I)
_LONGEST = 60
"""A longer text is a remark [characters]."""


def decimal_mark(grids: Iterable[Grid]) -> tuple[str, int, int]:
    """Return the decimal mark of a file's texts, and how many texts have a point and how many a comma."""
    counts = {".": 0, ",": 0}
    for grid in grids:
        for cell in grid.cells.values():
            if cell.kind == "text" and len(cell.text) < _LONGEST:
                match = _ALONE.fullmatch(plain(cell.text)) or _PAIR.fullmatch(plain(cell.text))
                if match:
                    counts[match[1]] += 1
    return ("," if counts[","] > counts["."] else "."), counts["."], counts[","]
