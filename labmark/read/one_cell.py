"""Both readings of a run in one cell of a sheet that has a column for each, as in 30.00 - 50.00 + 0.00 - 5.30.

They are taken where the run's other cells leave no doubt: empty, or the first or the last reading once more.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from labmark.read.cells import Pair, looks_like_date, read_number, read_pair
from labmark.read.grid import Cell
from labmark.read.words import plain

NOUGHT = Decimal(0)
ENDS = ("initial", "final")
_LOOKED_AT = ("final", "initial", "titre")


@dataclass(frozen=True, slots=True)
class OneCell:
    """The readings that one cell holds."""

    key: str
    """The field of the cell: initial, final or titre."""
    pairs: tuple[Pair, ...]
    """One a part of the run: more where the burette was refilled."""


def in_one_cell(cells: dict[str, Cell], mark: str) -> OneCell | None:
    """Return the readings where one cell of a run holds them all; None where every cell is read by itself.

    cells   field (initial, final, titre) -> cell
    mark    the decimal mark of the file's texts
    """
    for key in _LOOKED_AT:
        pairs = _pairs(cells[key], mark, turned=key == "titre") if key in cells else ()
        if pairs and _others_agree(cells, key, pairs, mark):
            return OneCell(key, pairs)
    return None


def _pairs(cell: Cell, mark: str, *, turned: bool) -> tuple[Pair, ...]:
    """Return the readings of a cell; with `turned` a difference, 50.00 - 30.00, is read as such."""
    if cell.kind != "text" or (seen := plain(cell.text)).replace(".", "", 1).isdigit():
        return ()
    # A stroke parts two tries at one reading as often as two readings.
    if "/" in seen or "|" in seen or looks_like_date(seen):
        return ()
    pairs = read_pair(cell.text, mark)
    if not all(_is_read_off(value.number, value.decimals) for pair in pairs for value in (pair.first, pair.second)):
        return ()
    if len(pairs) == 1 and abs((pairs[0].first.number or NOUGHT) - (pairs[0].second.number or NOUGHT)) < 1:
        return ()  # two tries at one reading, 24.30, 24.35
    pairs = tuple(
        Pair(*(replace(end, remark=cell.remark, discard=cell.struck) for end in (pair.first, pair.second)))
        for pair in pairs
    )
    down = all((pair.first.number or 0) > (pair.second.number or 0) for pair in pairs)
    return tuple(Pair(pair.second, pair.first) for pair in pairs) if turned and down else pairs


def _is_read_off(number: Decimal | None, decimals: int | None) -> bool:
    """Return whether a number has the look of a reading: 1 - 3 may be runs 1 to 3."""
    return number == 0 or (number is not None and decimals in (1, 2, 3))


def _others_agree(cells: dict[str, Cell], key: str, pairs: tuple[Pair, ...], mark: str) -> bool:
    known = (pairs[0].first.number, pairs[-1].second.number)
    for other in ENDS:
        if other == key or other not in cells:
            continue
        value = read_number(cells[other], mark)
        if value.state == "odd" or value.discard or (value.state == "number" and value.number not in known):
            return False
    return True
