"""A large plain table while it is being read, and the judgement which of its rows are plain."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from labmark.read.cells import read_tick
from labmark.read.fields import EMPTY, NUMBER, OTHER, Array, Fields
from labmark.read.grid import Cell, Grid
from labmark.read.layouts.columns import RunColumns
from labmark.read.layouts.plan import Plan
from labmark.read.layouts.view import Column
from labmark.read.words import folded, phrases, plain

_TICKS = {**dict.fromkeys(b"yY1", 1), **dict.fromkeys(b"nN0", 0), **dict.fromkeys(b"xX", 2)}
NO_TICK, _UNKNOWN_TICK, _CROSS_TICK = -1, -2, 2


@dataclass(slots=True)
class Numbers:
    """The numbers of a column."""

    digits: Array
    """All digits as one whole number."""
    decimals: Array
    """How many of them are decimals."""
    state: Array
    """EMPTY, NUMBER or OTHER."""


@dataclass(slots=True)
class BulkTable:
    """A large plain table."""

    file: str
    grid: Grid
    """Its first lines."""
    plan: Plan
    fields: Fields
    numbers: dict[int, Numbers]
    """Position of a column -> its numbers."""
    full: Array
    """Which fields hold something."""
    odd: Array
    """Rows that have to be read the ordinary way."""
    names: list[str] = field(default_factory=list)
    ticks: dict[int, Array] = field(default_factory=dict)
    """Position of a column -> its ticks."""

    @property
    def count(self) -> int:
        """How many rows there are."""
        return len(self.odd)

    @property
    def first_row(self) -> int:
        """Row of the first record in the file."""
        return self.plan.header_lines + 1


def judge(table: BulkTable) -> bool:
    """Mark the rows that are not plain; False where two names are alike, which takes the ordinary way for all."""
    _judge_numbers(table)
    table.ticks = {
        column.at: _tick_column(table, column)
        for run in table.plan.runs
        if (column := run.columns.get("used")) is not None
    }
    _judge_runs(table)
    return _judge_names(table)


def _judge_numbers(table: BulkTable) -> None:
    """Mark the rows whose numbers are not plain, or have more digits than a microlitre."""
    for column in table.plan.number_columns:
        numbers = table.numbers[column.at]
        table.odd |= numbers.state == OTHER
        if column.header.field != "result":
            table.odd |= numbers.decimals > 3


def _tick_column(table: BulkTable, column: Column) -> Array:
    """Return a column's ticks: 1 yes, 2 an x, 0 no, -1 nothing, -2 neither."""
    starts, ends = table.fields.starts[:, column.at - 1], table.fields.ends[:, column.at - 1]
    meanings = np.full(256, _UNKNOWN_TICK, np.int8)
    for char, meaning in _TICKS.items():
        meanings[char] = meaning
    lengths = ends - starts
    found = np.where(lengths == 1, meanings[table.fields.buffer[starts]], _UNKNOWN_TICK)
    found[lengths == 0] = NO_TICK
    longer = np.flatnonzero(found == _UNKNOWN_TICK)
    known: dict[str, int] = {}
    for row in longer.tolist():
        text = table.fields.text(row, column.at - 1)
        if text not in known:
            tick = read_tick(Cell(text))
            known[text] = _UNKNOWN_TICK if tick is None else int(tick)
        found[row] = known[text]
    table.odd |= found == _UNKNOWN_TICK
    return found


def _judge_runs(table: BulkTable) -> None:
    """Mark the rows that the ordinary way has to judge: absent students, ticks without readings, mixed ticks."""
    anything = np.zeros(table.count, bool)
    crossed, ticked = np.zeros(table.count, bool), np.zeros(table.count, bool)
    for run in table.plan.runs:
        there = run_filled(table, run)
        anything |= there
        column = run.columns.get("used")
        if column is not None:
            ticks = table.ticks[column.at]
            table.odd |= (ticks != NO_TICK) & ~there
            crossed |= ticks == _CROSS_TICK
            ticked |= ticks == 1
    table.odd |= ~anything | (crossed & ticked)


def run_filled(table: BulkTable, run: RunColumns) -> Array:
    """Return the rows that have a reading or a titre of a run."""
    there = np.zeros(table.count, bool)
    for key in ("initial", "final", "titre"):
        if key in run.columns:
            there |= table.numbers[run.columns[key].at].state != EMPTY
    return there


def _judge_names(table: BulkTable) -> bool:
    """Read the names; False where two are alike, which takes the ordinary way."""
    joined = table.fields.joined(table.plan.name.at - 1)
    names = joined.split("\n")
    if (
        not (joined.isascii() and joined.replace("\n", "").isprintable())
        or "  " in joined
        or " \n" in joined
        or "\n " in joined
        or "_x" in joined
    ):
        names = [plain(name) for name in names]
    table.names = names
    low = joined.casefold() if joined.isascii() else "\n".join(folded(name) for name in names)
    distinct = set(low.split("\n"))
    if len(distinct) < len(names):
        return False
    words = set(low.split()) if " " in low else distinct
    if words & _telling_words() or "\n\n" in f"\n{low}\n" or "*" in low or "#" in low:
        table.odd |= np.fromiter(
            (not name or bool(set(folded(name).split()) & _telling_words()) or name[0] in "*#†" for name in names),
            bool,
            table.count,
        )
    return True


def keeps_zeros(table: BulkTable) -> bool:
    """Return whether the table keeps trailing zeros: at least one reading in it has one."""
    reading = [
        column for column in table.plan.number_columns if column.header.field in ("initial", "final", "titre", "value")
    ]
    return any(
        bool(((entry.decimals > 0) & (entry.digits % 10 == 0) & (entry.state == NUMBER)).any())
        for entry in (table.numbers[column.at] for column in reading)
    )


def field_filled(table: BulkTable, column: Column, rows: Array) -> Array:
    """Return which of these rows have something in a column."""
    filled = table.full[:, column.at - 1]
    return filled if len(rows) == table.count else filled[rows]


def _telling_words() -> frozenset[str]:
    """Return the words by which a line of class figures or a note is known."""
    words = {
        word
        for phrase, meanings in phrases().items()
        if {"statistic", "mean", "note"} & set(meanings)
        for word in phrase
    }
    return frozenset(words | {"nb", "key", "legend", "hinweis", "legende", "leyenda", "colour", "color"})
