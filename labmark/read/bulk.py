"""Large plain text tables, a whole column at a time: one row a student, thousands of rows.

The header is understood as in any other sheet. Rows in which every field is a plain number, a tick or a name are read
together; every other row goes the ordinary way, one cell at a time. Where the table is not that plain, nothing is
read here and the ordinary way is taken for all of it.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from labmark.read.cells import read_tick
from labmark.read.fields import EMPTY, NUMBER, OTHER, Array, Fields, find_fields, read_numbers
from labmark.read.grid import Cell, Grid, column_letters
from labmark.read.headers import Overrides
from labmark.read.layouts.columns import RunColumns
from labmark.read.layouts.plan import Plan, plan_of
from labmark.read.layouts.sheet import read_sheet
from labmark.read.layouts.view import Column
from labmark.read.model import Reading
from labmark.read.tables import CM3, Maker, decimal_mark
from labmark.read.text import choose_delimiter, decode, grid_of, sep_line
from labmark.read.words import folded, phrases, plain
from labmark.records import RUN_COLUMNS, STUDENT_COLUMNS

if TYPE_CHECKING:
    import pandas as pd

UNIT = "\x1f"
"""The separator of units of ASCII, which no table of readings holds."""
LEAST_ROWS = 2_000
"""Smaller tables are read fast enough cell by cell."""
LOOKED_AT = 60
"""Lines that are read the ordinary way to understand the table."""
MOST_ODD_SHARE = 0.05
"""Share of rows that may need the ordinary way."""
_TICKS = {**dict.fromkeys(b"yY1", 1), **dict.fromkeys(b"nN0", 0), **dict.fromkeys(b"xX", 2)}
_NO_TICK, _UNKNOWN_TICK, _CROSS_TICK = -1, -2, 2


@dataclass(slots=True)
class Bulk:
    """A large table that was read."""

    grid: Grid
    reading: Reading
    maker: Maker
    runs: pd.DataFrame
    students: pd.DataFrame
    used: Any
    ignored: dict[str, str]
    counts: tuple[int, int]
    understood: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(slots=True)
class _Numbers:
    digits: Array
    decimals: Array
    state: Array


def read_bulk(file: str, data: bytes, overrides: Overrides, group_by: str, outside: str) -> Bulk | None:
    """Return a large plain table, or None where the ordinary way has to be taken.

    Raises InputError where the bytes are no text.
    """
    text, encoding, guess = decode(file, data)
    if sep_line(text)[1]:
        return None
    delimiter = choose_delimiter(text)
    grid = grid_of(file, "".join(text[:200_000].splitlines(keepends=True)[:LOOKED_AT]), delimiter)
    plan = plan_of(grid, overrides, group_by, outside)
    simple = _simple(text, data, delimiter) if plan else None
    if plan is None or simple is None:
        return None
    fields = find_fields(simple, UNIT if b'"' in data else delimiter, plan.header_lines)
    if fields is None or len(fields.starts) < LEAST_ROWS:
        return None
    return _Reader(file, grid, plan, fields, overrides, group_by, outside, (encoding, guess, delimiter)).read()


def _simple(text: str, data: bytes, delimiter: str) -> bytes | None:
    """Return the table as UTF-8 with a line feed after each row and no quotation marks; None where that cannot be."""
    if '"' in text:
        return _unquoted(text, delimiter)
    if not data.isascii():
        data = text.encode()
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n")
    return None if b"\r" in data or b"\0" in data else data.rstrip(b"\n") + b"\n"


def _unquoted(text: str, delimiter: str) -> bytes | None:
    """Take the quotation marks off, and part the fields by a character that stands in none of them."""
    try:
        rows = list(csv.reader(io.StringIO(text.rstrip("\r\n"), newline=""), delimiter=delimiter))
    except csv.Error:
        return None
    lines = [UNIT.join(row) for row in rows]
    joined = "\n".join(lines)
    if UNIT in text or "\r" in joined or joined.count("\n") != len(lines) - 1:
        return None
    return joined.encode() + b"\n"


class _Reader:
    """The steps of reading one large table."""

    def __init__(
        self,
        file: str,
        grid: Grid,
        plan: Plan,
        fields: Fields,
        overrides: Overrides,
        group_by: str,
        outside: str,
        how: tuple[str, bool, str],
    ) -> None:
        self.file, self.grid, self.plan, self.fields = file, grid, plan, fields
        self.overrides, self.group_by, self.outside, self.how = overrides, group_by, outside, how
        self.count = len(fields.starts)
        self.first_row = plan.header_lines + 1
        self.grid.mark = decimal_mark([grid])[0]
        self.numbers = {
            column.at: _Numbers(*read_numbers(fields, column.at - 1, self.grid.mark)) for column in plan.number_columns
        }
        self.full = np.asfortranarray(fields.ends > fields.starts)
        self.odd = np.zeros(self.count, bool)
        self.names: list[str] = []
        self.ticks: dict[int, Array] = {}

    def read(self) -> Bulk | None:
        self._judge_numbers()
        self.ticks = {
            column.at: self._tick_column(column)
            for run in self.plan.runs
            if (column := run.columns.get("used")) is not None
        }
        self._judge_runs()
        if not self._judge_names() or self.odd.sum() > max(50, MOST_ODD_SHARE * self.count):
            return None
        self.grid.keeps_zeros = self._keeps_zeros()
        clean = np.flatnonzero(~self.odd)
        runs, owners = self._run_frame(clean)
        students = self._student_frame(clean)
        maker, reading, rows = self._ordinary()
        if maker.students["student"]:
            runs, students = _merged(runs, owners, students, clean, maker, rows)
        return self._bulk(reading, maker, runs, students, clean)

    def _judge_numbers(self) -> None:
        """Mark the rows whose numbers are not plain, or have more digits than a microlitre."""
        for column in self.plan.number_columns:
            numbers = self.numbers[column.at]
            self.odd |= numbers.state == OTHER
            if column.header.field != "result":
                self.odd |= numbers.decimals > 3

    def _tick_column(self, column: Column) -> Array:
        """Return a column's ticks: 1 yes, 2 an x, 0 no, -1 nothing, -2 neither."""
        starts, ends = self.fields.starts[:, column.at - 1], self.fields.ends[:, column.at - 1]
        table = np.full(256, _UNKNOWN_TICK, np.int8)
        for char, meaning in _TICKS.items():
            table[char] = meaning
        lengths = ends - starts
        found = np.where(lengths == 1, table[self.fields.buffer[starts]], _UNKNOWN_TICK)
        found[lengths == 0] = _NO_TICK
        longer = np.flatnonzero(found == _UNKNOWN_TICK)
        known: dict[str, int] = {}
        for row in longer.tolist():
            text = self.fields.text(row, column.at - 1)
            if text not in known:
                tick = read_tick(Cell(text))
                known[text] = _UNKNOWN_TICK if tick is None else int(tick)
            found[row] = known[text]
        self.odd |= found == _UNKNOWN_TICK
        return found

    def _judge_runs(self) -> None:
        """Mark the rows that the ordinary way has to judge: absent students, ticks without readings, mixed ticks."""
        anything = np.zeros(self.count, bool)
        crossed, ticked = np.zeros(self.count, bool), np.zeros(self.count, bool)
        for run in self.plan.runs:
            there = self._filled(run)
            anything |= there
            column = run.columns.get("used")
            if column is not None:
                ticks = self.ticks[column.at]
                self.odd |= (ticks != _NO_TICK) & ~there
                crossed |= ticks == _CROSS_TICK
                ticked |= ticks == 1
        self.odd |= ~anything | (crossed & ticked)

    def _filled(self, run: RunColumns) -> Array:
        there = np.zeros(self.count, bool)
        for key in ("initial", "final", "titre"):
            if key in run.columns:
                there |= self.numbers[run.columns[key].at].state != EMPTY
        return there

    def _judge_names(self) -> bool:
        """Read the names; False where two are alike, which takes the ordinary way."""
        joined = self.fields.joined(self.plan.name.at - 1)
        names = joined.split("\n")
        if (
            not (joined.isascii() and joined.replace("\n", "").isprintable())
            or "  " in joined
            or " \n" in joined
            or "\n " in joined
            or "_x" in joined
        ):
            names = [plain(name) for name in names]
        self.names = names
        low = joined.casefold() if joined.isascii() else "\n".join(folded(name) for name in names)
        distinct = set(low.split("\n"))
        if len(distinct) < len(names):
            return False
        words = set(low.split()) if " " in low else distinct
        if words & _telling_words() or "\n\n" in f"\n{low}\n" or "*" in low or "#" in low:
            self.odd |= np.fromiter(
                (not name or bool(set(folded(name).split()) & _telling_words()) or name[0] in "*#†" for name in names),
                bool,
                self.count,
            )
        return True

    def _keeps_zeros(self) -> bool:
        reading = [
            column
            for column in self.plan.number_columns
            if column.header.field in ("initial", "final", "titre", "value")
        ]
        return any(
            bool(((entry.decimals > 0) & (entry.digits % 10 == 0) & (entry.state == NUMBER)).any())
            for entry in (self.numbers[column.at] for column in reading)
        )

    def _run_frame(self, rows: Array) -> tuple[pd.DataFrame, Array]:
        """Return the runs of these rows, and for each the number of its row in the table."""
        import pandas as pd

        from labmark.read.addresses import AddressArray

        runs = self.plan.runs
        there = np.stack([self._filled(run)[rows] for run in runs], axis=1)
        owners = _picked(np.broadcast_to(np.arange(len(rows))[:, None], there.shape), there)
        frame: dict[str, Any] = {"student": owners.astype(np.int64)}
        which = _picked(np.broadcast_to(np.arange(len(runs)), there.shape), there)
        frame["label"] = pd.array([run.label for run in runs], dtype="str").take(which)
        frame["kind"] = pd.array([run.kind for run in runs], dtype="str").take(which)
        for key in ("initial", "final", "titre"):
            frame[key], frame[f"{key}_decimals"] = self._volumes(key, rows, there)
        frame["parts"] = _same((), len(owners))
        frame["ticked"] = self._ticked(rows, there)
        frame["struck"] = np.zeros(len(owners), bool)
        frame["cells"] = AddressArray(*self._run_cells(rows, there))
        frame["odd"] = _same({}, len(owners))
        return pd.DataFrame({name: frame[name] for name in RUN_COLUMNS}, copy=False), rows[owners]

    def _volumes(self, key: str, rows: Array, there: Array) -> tuple[Any, Any]:
        """Return one field of all runs in microlitres, and the decimals written."""
        import pandas as pd

        shape = there.shape
        volume, decimals, missing = np.zeros(shape, np.int64), np.zeros(shape, np.int64), np.ones(shape, bool)
        for at, run in enumerate(self.plan.runs):
            if key in run.columns:
                numbers = self.numbers[run.columns[key].at]
                places = numbers.decimals[rows]
                volume[:, at] = numbers.digits[rows] * np.array([CM3, 100, 10, 1])[np.minimum(places, 3)]
                decimals[:, at] = places
                missing[:, at] = numbers.state[rows] != NUMBER
        unknown = missing if self.grid.keeps_zeros else np.ones(shape, bool)
        volume[missing], decimals[unknown] = 0, 0
        return (
            pd.arrays.IntegerArray(_picked(volume, there), _picked(missing, there)),
            pd.arrays.IntegerArray(_picked(decimals, there), _picked(unknown, there).copy()),
        )

    def _ticked(self, rows: Array, there: Array) -> Any:
        import pandas as pd

        ticks = np.full(there.shape, _NO_TICK, np.int8)
        may = np.zeros(there.shape, bool)
        for at, run in enumerate(self.plan.runs):
            if "used" in run.columns:
                ticks[:, at] = self.ticks[run.columns["used"].at][rows]
                may[:, at] = run.kind == "accurate"
        any_tick = (ticks > 0).any(axis=1)[:, None]
        missing = (ticks == _NO_TICK) & ~(may & any_tick)
        return pd.arrays.BooleanArray(_picked(ticks > 0, there), _picked(missing, there))

    def _run_cells(self, rows: Array, there: Array) -> tuple[Array, Array, list[Any]]:
        kinds = np.zeros(there.shape, np.int32)
        patterns: list[Any] = []
        for at, run in enumerate(self.plan.runs):
            keys = [key for key in ("initial", "final", "titre", "used") if key in run.columns]
            bits = sum(
                self._field_filled(run.columns[key], rows).astype(np.int32) << bit for bit, key in enumerate(keys)
            )
            kinds[:, at] = bits + len(patterns)
            patterns += [
                tuple((key, column_letters(run.columns[key].at)) for bit, key in enumerate(keys) if mask >> bit & 1)
                for mask in range(1 << len(keys))
            ]
        numbers = np.broadcast_to((rows + self.first_row).astype(np.int32)[:, None], there.shape)
        return _picked(numbers, there), _picked(kinds, there), patterns

    def _field_filled(self, column: Column, rows: Array) -> Array:
        filled = self.full[:, column.at - 1]
        return filled if len(rows) == self.count else filled[rows]

    def _student_frame(self, rows: Array) -> pd.DataFrame:
        import pandas as pd

        from labmark.read.addresses import AddressArray

        count = len(rows)
        frame: dict[str, Any] = {"student": pd.array([self.names[row] for row in rows.tolist()], dtype="str")}
        frame["groups"] = self._groups(rows)
        for key, column in (("mean", self.plan.mean), ("result", self.plan.result)):
            frame[key], frame[f"{key}_decimals"] = self._claims(column, rows)
        frame["cells"] = AddressArray(rows.astype(np.int64) + self.first_row, *self._student_cells(rows))
        frame["odd"] = _same({}, count)
        frame["absent"] = np.zeros(count, bool)
        frame["order"] = pd.arrays.IntegerArray(np.zeros(count, np.int64), np.ones(count, bool))
        frame["notes"] = _same((), count)
        return pd.DataFrame({name: frame[name] for name in STUDENT_COLUMNS}, copy=False)

    def _groups(self, rows: Array) -> Array:
        columns = self.plan.groups
        if not columns:
            return _same({}, len(rows))
        if len(columns) == 1:
            texts = self.fields.texts(columns[0].at - 1)
            one = {text: {columns[0].header.group: plain(text)} if text else {} for text in set(texts)}
            return np.fromiter(map(one.__getitem__, texts), object, self.count)[rows]
        keys = list(zip(*(self.fields.texts(column.at - 1) for column in columns), strict=True))
        known = {
            key: {column.header.group: plain(text) for column, text in zip(columns, key, strict=True) if text}
            for key in set(keys)
        }
        return np.fromiter(map(known.__getitem__, keys), object, self.count)[rows]

    def _claims(self, column: Column | None, rows: Array) -> tuple[Array, Any]:
        """Return the students' own figures as decimals, one object for all that are alike, and the decimals written."""
        import pandas as pd

        if column is None:
            return _same(None, len(rows)), pd.arrays.IntegerArray(
                np.zeros(len(rows), np.int64), np.ones(len(rows), bool)
            )
        numbers = self.numbers[column.at]
        digits, decimals, state = numbers.digits[rows], numbers.decimals[rows], numbers.state[rows]
        keys, inverse = np.unique(np.where(state == NUMBER, digits * 16 + decimals, -1), return_inverse=True)
        values = np.empty(len(keys), object)
        for at, key in enumerate(keys.tolist()):
            values[at] = None if key < 0 else Decimal(key >> 4).scaleb(-(key & 15))
        unknown = (state != NUMBER) | (not self.grid.keeps_zeros)
        return values[inverse], pd.arrays.IntegerArray(np.where(unknown, 0, decimals), unknown)

    def _student_cells(self, rows: Array) -> tuple[Array, list[Any]]:
        fields = [("student", self.plan.name), *((column.header.group, column) for column in self.plan.groups)]
        fields += [(key, column) for key, column in (("mean", self.plan.mean), ("result", self.plan.result)) if column]
        kinds = sum(self._field_filled(column, rows).astype(np.int64) << bit for bit, (_, column) in enumerate(fields))
        patterns = [
            tuple((key, column_letters(column.at)) for bit, (key, column) in enumerate(fields) if mask >> bit & 1)
            for mask in range(1 << len(fields))
        ]
        return cast("Array", kinds), patterns

    def _ordinary(self) -> tuple[Maker, Reading, list[int]]:
        """Read the rows that are not plain the ordinary way, with their neighbours in sight."""
        wanted = np.flatnonzero(self.odd)
        seen = np.unique(np.clip(np.concatenate([wanted - 1, wanted, wanted + 1, [0]]), 0, self.count - 1))
        cells = {place: cell for place, cell in self.grid.cells.items() if place[0] < self.first_row}
        for row in seen.tolist():
            for at in range(self.fields.starts.shape[1]):
                text = self.fields.text(row, at)
                if text:
                    cells[row + self.first_row, at + 1] = Cell(text)
        grid = Grid(self.grid.name, cells, text_table=True, mark=self.grid.mark, keeps_zeros=self.grid.keeps_zeros)
        reading = read_sheet(grid, self.overrides, self.group_by, self.outside)
        odd_rows = set((wanted + self.first_row).tolist())
        reading.ignored = {
            place: why for place, why in reading.ignored.items() if place[0] in odd_rows or place[0] < self.first_row
        }
        reading.bulk = True
        reading.students = [student for student in reading.students if student.lines & odd_rows]
        maker = Maker()
        for student in reading.students:
            maker.add(student)
        rows = [min(student.lines) - self.first_row for student in reading.students]
        return maker, reading, rows

    def _bulk(self, reading: Reading, maker: Maker, runs: pd.DataFrame, students: pd.DataFrame, clean: Array) -> Bulk:
        from labmark.read.addresses import AddressSet

        filled = self.full & ~self.odd[:, None]
        needed = [column.at - 1 for column in self.plan.needed]
        ignored = {
            f"{column_letters(at + 1)}{row + self.first_row}": "stands in a column that is not needed"
            for at in range(filled.shape[1])
            if at not in needed
            for row in np.flatnonzero(filled[:, at]).tolist()
        }
        used = AddressSet(
            self.first_row, [column_letters(at + 1) for at in needed], filled[:, needed], frozenset(maker.account.used)
        )
        encoding, guess, delimiter = self.how
        shown = {"\t": "tabs", ";": "semicolons", ",": "commas", "|": "bars"}[delimiter]
        notes = (f"the encoding was guessed ({encoding}): check names with accents",) if guess else ()
        counts = (int(self.grid.mark == "."), int(self.grid.mark == ","))
        return Bulk(
            self.grid,
            reading,
            maker,
            runs,
            students,
            used,
            ignored,
            counts,
            (f"text table, {encoding}, fields parted by {shown}",),
            notes,
        )


def _telling_words() -> frozenset[str]:
    """Return the words by which a line of class figures or a note is known."""
    words = {
        word
        for phrase, meanings in phrases().items()
        if {"statistic", "mean", "note"} & set(meanings)
        for word in phrase
    }
    return frozenset(words | {"nb", "key", "legend", "hinweis", "legende", "leyenda", "colour", "color"})


def _picked(array: Array, there: Array) -> Array:
    """Return the entries of the runs that are there, student by student."""
    return array.ravel() if there.all() else array[there]


def _same(value: object, count: int) -> Array:
    array = np.empty(count, object)
    array.fill(value)
    return array


def _merged(
    runs: pd.DataFrame, owners: Array, students: pd.DataFrame, clean: Array, maker: Maker, rows: list[int]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Put the students that were read the ordinary way back into their places."""
    import pandas as pd

    from labmark.read.addresses import AddressArray

    more_runs, more_students = maker.frames()
    for frame in (more_runs, more_students):
        frame["cells"] = AddressArray._from_sequence(frame["cells"])
    places = np.concatenate([clean, np.array(rows, np.int64)])
    order = np.argsort(places, kind="stable")
    number_of = {int(place): number for number, place in enumerate(places[order].tolist())}
    more_owners = (
        np.array(rows, np.int64)[more_runs["student"].to_numpy()] if len(more_runs) else np.array([], np.int64)
    )
    run_places = np.concatenate([owners, more_owners])
    run_order = np.argsort(run_places, kind="stable")
    joined = pd.concat([runs, more_runs], ignore_index=True).take(run_order).reset_index(drop=True)
    joined["student"] = np.array([number_of[place] for place in run_places[run_order].tolist()], np.int64)
    return joined, pd.concat([students, more_students], ignore_index=True).take(order).reset_index(drop=True)
