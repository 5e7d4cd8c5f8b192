"""Why the cells that no table took say nothing about a reading: titles, notes, keys of colours, averages."""

from __future__ import annotations

import re

from labmark.read.grid import Cell, Grid, Place
from labmark.read.headers import understand
from labmark.read.words import folded, plain

_KEY = re.compile(r"\b(key|legend|colou?rs?|green|red|yellow|legende|farbe|leyenda|couleur)\b")


def explain(grid: Grid, taken: set[Place], tables: list[tuple[int, int, int, int]]) -> dict[Place, str]:
    """Return a reason for every filled cell that is not in `taken`.

    `tables` are the ranges of the tables on the sheet: first row, first column, last row, last column.
    """
    if not tables:
        return dict.fromkeys(grid.cells.keys() - taken, "no table of titrations stands here")
    top = min((table[0] for table in tables), default=0)
    bottom = max((table[2] for table in tables), default=0)
    return {place: _why(cell, place, top, bottom) for place, cell in grid.cells.items() if place not in taken}


def _why(cell: Cell, place: Place, top: int, bottom: int) -> str:
    if cell.kind == "text" and not plain(cell.text):
        return "only spaces, or a formula that shows nothing"
    if cell.kind == "text" and _KEY.search(folded(cell.text)):
        return "a key of colours or signs"
    if cell.kind == "text" and len(cell.text) < 200 and understand(cell.text).tags & {"statistic", "mean"}:
        return "class figures, not a student"
    if place[0] < top:
        return "stands above the table: a title or a note"
    if place[0] > bottom:
        return "stands below the table: a note or class figures"
    return "is beside the readings, in a column or row that is not needed"
