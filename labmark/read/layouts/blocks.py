"""Tables that stand on their side: labels down a column, runs (or students) across. The results table of lab books."""

from __future__ import annotations

from dataclasses import dataclass, replace

from labmark.problems import InputError
from labmark.read.grid import Cell, Place
from labmark.read.headers import ABOUT, AT_ENDPOINT, RUN_FIELDS, WHO, Header, titration_named, understand
from labmark.read.layouts.find import CLAIMS, READING_FIELDS, Meanings, holds_units, numberish, run_named, with_unit
from labmark.read.layouts.view import NAMES, Column, Table, View
from labmark.read.words import folded

LABELS_ABOVE = frozenset({*ABOUT, "student", "surname", "forename", "group", "run", "order", "ignored", "used", "own"})
"""What may stand over the readings of a block; a mean or a result there is no student's own."""
LABELS_BELOW = frozenset(
    {"used", "mean", "result", "ignored", "order", "titre", "initial", "final", "own", "class", "partner"}
).union(AT_ENDPOINT, ("used at",))
"""What may follow the readings of a block further down; a name, a bench or a row of runs begins the next one."""
Span = tuple[int, list[int]]
"""Column of labels, and the rows of those that name readings."""
WIDEST = 400
"""Columns beside the labels that may hold runs of several students."""
FAR = 10**9
"""Beyond any row and column."""


def blocks(meanings: Meanings, upright: list[Table]) -> list[Table]:
    """Return the tables whose labels stand down a column, in reading order.

    `upright` are the tables that stand upright: their headers are no labels, and a single word in one of their records
    is none either (a student may be called Fin).
    """
    anchors = _labels_of_readings(meanings, upright) if meanings.anchors else _columns_of_runs(meanings)
    spans: list[Span] = []
    for column, rows in anchors.items():
        stop = min((other for other in anchors if other > column), default=FAR)
        spans.extend((column, part) for part in _Labels(meanings, column, stop).parted(rows))
    spans = [span for span in spans if not _is_stray(meanings, span, spans)]
    tables = [table for span in spans if (table := _block(meanings, span, spans)) is not None]
    return sorted(tables, key=lambda table: (table.columns[0].at, table.header_lines[0]))


def _labels_of_readings(meanings: Meanings, upright: list[Table]) -> dict[int, list[int]]:
    """Return each column of labels beside readings, with their rows."""
    headers = {line for table in upright for line in table.header_lines}
    found: dict[int, list[int]] = {}
    for (row, column), direction in sorted(meanings.anchors.items()):
        if direction == "down" and row not in headers and not _in_record(upright, row, column):
            found.setdefault(column, []).append(row)
    return {column: rows for column, rows in found.items() if not upright or _several(meanings, column, rows)}


def _in_record(upright: list[Table], row: int, column: int) -> bool:
    """Return whether a label is a remark behind the readings of a student whose name stands in the same row."""
    for table in upright:
        named = row > table.header_lines[-1] and table.filled(row, "student", "surname", "code", "address")
        before = [entry.at for entry in table.of(*READING_FIELDS, "value") if entry.at < column]
        if named and any(numberish(table.view.get(row, at)) for at in before):
            return True
    return False


def _is_stray(meanings: Meanings, span: Span, spans: list[Span]) -> bool:
    """Return whether a lone label stands among the cells of a block further left: a word in a reading's cell.

    A difference below the mean of a block is no block either.
    """
    column, (first, *more) = span
    left = any(other < column and len(part) > 1 and part[0] - 2 <= first <= part[-1] + 2 for other, part in spans)
    over = meanings.by_place.get((first - 1, column), Header()).field
    return not more and (left or (over in CLAIMS and any(other == column and part[0] < first for other, part in spans)))


def _several(meanings: Meanings, column: int, rows: list[int]) -> bool:
    """Return whether the labels of a column name both readings of a run, close to each other."""
    labels = {row: meanings.by_place[row, column] for row in rows}
    at = {label.field.removesuffix(" at"): row for row, label in labels.items() if label.unknown <= 4}
    return "initial" in at and "final" in at and abs(at["initial"] - at["final"]) <= 3


def _columns_of_runs(meanings: Meanings) -> dict[int, list[int]]:
    """Return the label columns of a sheet with titres only: runs named below each other, numbers beside them."""
    by_column: dict[int, list[int]] = {}
    for row, column in sorted(meanings.grid.cells):
        cell = meanings.grid.cells[row, column]
        named = cell.kind == "text" and run_named(cell, meanings.overrides)
        if named and numberish(meanings.next_cell((row, column), 0, 1)):
            by_column.setdefault(column, []).append(row)
    for column, rows in sorted(by_column.items()):
        texts = {meanings.grid.cells[row, column].text.casefold() for row in rows}
        if len(rows) >= 2 and len(texts) == len(rows):
            return {column: rows}
    return {}


def _block(meanings: Meanings, span: Span, spans: list[Span]) -> Table | None:
    """Return the table around a column of labels of readings; None if no column of figures stands beside it."""
    column, anchors = span
    beside = (other for other, part in spans if other > column and part[0] <= anchors[-1] and part[-1] >= anchors[0])
    stop = min(beside, default=FAR)
    labels = _Labels(meanings, column, stop)
    before = max((part[-1] for other, part in spans if other == column and part[-1] < anchors[0]), default=0)
    above = max([before, *labels.downwards(before, anchors[0])]) if before else 0
    below = min((part[0] for other, part in spans if other == column and part[0] > anchors[-1]), default=FAR)
    between = [row for row in range(anchors[0], anchors[-1] + 1) if (row, column) not in meanings.run_heads]
    rows = [*labels.upwards(anchors[0], above), *between, *labels.downwards(anchors[-1], below)]
    named = any(map(labels.names_runs, rows))
    # One row may name the runs for several blocks under each other, further up.
    shared = [row for row in range(1, rows[0]) if not named and labels.names_runs(row)][-1:]
    # What stands between them, and is not understood, is asked about.
    unknown = [row for at in shared for row in range(max(at, above) + 1, rows[0]) if labels.tells_number(row)]
    rows = [*shared, *unknown, *rows]
    labels.check_over(rows[0])
    cells = {at: cell for at, cell in meanings.grid.cells.items() if at[0] in rows and column <= at[1] < stop}
    view = View(replace(meanings.grid, cells=cells), turned=True)
    columns = [replace(labels.field(row), shared=row in shared) for row in rows]
    if over := labels.run_over(anchors[0]):
        columns = [_under_names(entry, *over, meanings) for entry in columns]
    columns = [entry for entry in columns if entry.header.field or entry.header_places]
    units = [line for line, held in view.lines.items() if line > column and holds_units(held.values())]
    columns = [replace(entry, header=with_unit(view, units, entry.at, entry.header)) for entry in columns]
    records = [line for line in view.lines if line > column and line not in units]
    return Table(view, [column], columns, records, meanings.overrides, units) if records else None


def _under_names(entry: Column, names: int, run: str, meanings: Meanings) -> Column:
    """Return a row of a block of one run, with the students' names over its readings."""
    if entry.at == names:
        return replace(entry, header=Header("student", text=NAMES))
    of_run = entry.header.field in RUN_FIELDS
    return replace(entry, header=understand((run, entry.header.text), meanings.overrides)) if of_run else entry


@dataclass(frozen=True, slots=True)
class _Labels:
    """A column of labels, and the cells beside them up to the next such column."""

    meanings: Meanings
    column: int
    stop: int

    def __getitem__(self, row: int) -> Header:
        """Return what the label of a row says, or the teacher says of the row."""
        given = self.meanings.overrides.get(f"row {row}")
        return given or self.meanings.by_place.get((row, self.column), Header())

    def parted(self, rows: list[int]) -> list[list[int]]:
        """Part labels into blocks: one begins where a label comes again or something stands between."""
        parts: list[list[int]] = []
        seen: set[tuple[str, str, str, int | None]] = set()
        for row in rows:
            header = self[row]
            key = (header.key, header.series, header.kind, header.number)
            if not parts or key in seen or self._boundary(parts[-1][-1], row):
                parts.append([])
                seen = set()
            parts[-1].append(row)
            seen.add(key)
        return parts

    def _boundary(self, above: int, below: int) -> bool:
        """Return whether something between two labels begins another block."""
        between = range(above + 1, below)
        return len(between) > 5 or any(self[row].field in ("student", "run") or self.names_runs(row) for row in between)

    def _beside(self, row: int, most: int) -> list[Cell]:
        places = ((row, at) for at in range(self.column + 1, min(self.stop, self.column + most)))
        return [self.meanings.grid.cells[place] for place in places if place in self.meanings.grid.cells]

    def names_runs(self, row: int) -> bool:
        """Return whether the cells beside a label name runs: Rough, 1, 2, 3."""
        cells = self._beside(row, 12)
        headers = [run_named(cell, self.meanings.overrides) for cell in cells]
        named = [at for at, header in enumerate(headers) if header]
        # Over Rough, 1 and 2 may stand Rough and Accurate, and behind them anything.
        known = [cell.text == "0" or understand(cell.text).field in ("run", "mean", "result") for cell in cells]
        others = [at for at, it in enumerate(known) if not it and headers[at] is None]
        if not named or (others and (len(named) < 2 or others[0] < named[-1])):
            return False
        if any(cell.kind == "text" and not numberish(cell) for cell in cells):
            return True
        numbers = [header.number for header in headers if header]
        return len(numbers) >= 2 and numbers == list(range(1, len(numbers) + 1))

    def _names_students(self, row: int) -> bool:
        """Return whether a row over the labels holds students' names, one over each column, and no label of its own.

        What stands in its corner may head the labels: Reading.
        """
        texts = [cell.text for cell in self._beside(row, 40) if cell.kind == "text" and not numberish(cell)]
        if any(understand(text).field in ("mean", "result") for text in texts):
            return False
        corner = [understand(self.meanings.grid.cells[place].text).tags for place in self._places(row)]
        heads = all(tags and tags <= {"reading", "run", "trial", "rough"} for tags in corner)
        return heads and len(texts) >= 2 and len({*texts}) == len(texts)

    def run_over(self, first: int) -> tuple[int, str] | None:
        """Return the row of students over the readings of one run, and the run as its corner or the row above says it.

        None where no such row stands there. Raises InputError where nothing says which run it is: the texts may be what
        somebody calls several runs.
        """
        row = next((at for at in range(first - 1, max(0, first - 4), -1) if self._beside(at, 40)), 0)
        if not row or self.names_runs(row) or not self._names_students(row) or self[first].names_run:
            return None
        if all(len(cell.text) == 1 for cell in self._beside(row, 40)):
            return None  # A, B and C are runs
        titles = ([self.meanings.grid.cells[place] for place in self._places(row)], self._line(row - 1))
        texts = [" ".join(cell.text for cell in cells) for cells in titles if 0 < len(cells) < 3]
        named = [text for text in texts if (said := understand(text)).names_run and not said.unknown]
        if not named:
            raise self._names_no_runs(row)
        return row, named[0]

    def _names_no_runs(self, row: int) -> InputError:
        what = "what stands over these readings names no runs"
        do = "call them Rough, 1, 2, ...; over students' names write Rough or Run 1"
        return InputError(self.meanings.grid.problem(what, do, (row, self.column + 1)))

    def tells_number(self, row: int) -> bool:
        """Return whether a label stands before a number."""
        return self._is_filled(row) and numberish(self.meanings.next_cell((row, self.column), 0, 1))

    def _line(self, row: int) -> list[Cell]:
        return [*filter(None, [self.meanings.grid.cells.get((row, self.column))]), *self._beside(row, WIDEST)]

    def _names_over_runs(self, row: int) -> bool:
        """Return whether a row holds a student's name over each of several sets of runs: Rough, 1, 2, Rough, 1, 2."""
        if self._is_filled(row) or not self.names_runs(row + 1):
            return False
        names, runs = ([folded(cell.text) for cell in self._beside(at, WIDEST)] for at in (row, row + 1))
        told = any(titration_named(name, self.meanings.overrides) or understand(name).field for name in names)
        return not told and len({*names}) == runs.count(runs[0]) > 1

    def _labels_more(self, row: int) -> bool:
        """Return whether a row holds further labels with their values, as in Name: | Ada | Mass: | 1.500 g."""
        places = ((row, at) for at in range(self.column + 2, min(self.stop, self.column + 12)))
        return any(self.meanings.by_place.get(place, Header()).field in ("own", "group", *WHO) for place in places)

    def check_over(self, first: int) -> None:
        """Raise InputError where texts stand over the columns of a block, and are neither runs nor names."""
        texts = [cell for cell in self._beside(first - 1, 12) if cell.kind == "text" and not numberish(cell)]
        if len(texts) > 1 and not self._is_filled(first - 1) and not any(map(self.names_runs, (first - 1, first))):
            raise self._names_no_runs(first - 1)

    def _is_filled(self, row: int) -> bool:
        return bool(self._places(row))

    def _places(self, row: int) -> list[Place]:
        """Return the cells of a label."""
        place = (row, self.column)
        return self.meanings.label_places.get(place, [place] if place in self.meanings.grid.cells else [])

    def upwards(self, first: int, above: int) -> list[int]:
        """Return the rows over the first reading that belong to the block: name, bench, the row that names the runs."""
        rows: list[int] = []
        gap = False
        for row in range(first - 1, max(above, first - 12), -1):
            label, beside = self[row], self.meanings.next_cell((row, self.column), 0, 1)
            told = (label.field in LABELS_ABOVE or label.names_run) and beside and not self._labels_more(row)
            if (row, self.column) in self.meanings.run_heads:
                continue
            if told or self.names_runs(row):
                rows.append(row)
                gap = False
            elif (not rows and self._names_students(row)) or self._names_over_runs(row):
                rows.append(row)
            elif self._is_filled(row) or gap:
                break
            else:
                gap = True
        return sorted(rows)

    def downwards(self, last: int, below: int) -> list[int]:
        """Return the rows under the last reading that belong to the block: ticks, own mean, own result."""
        rows: list[int] = []
        gap = False
        for row in range(last + 1, min(below, last + 12)):
            field = self[row].field
            # Cy Sum, alone, heads the next block.
            told = field != "ignored" or self.meanings.next_cell((row, self.column), 0, 1)
            if self._heads_columns(row):
                break
            if (field in LABELS_BELOW and told) or (field == "group" and not gap):
                rows.append(row)
                gap = False
            elif self._is_filled(row) or gap or self.names_runs(row):
                break
            else:
                gap = True
        return rows

    def _heads_columns(self, row: int) -> bool:
        """Return whether another heading stands beside a label: they are those of a table of answers."""
        beside = self.meanings.next_cell((row, self.column), 0, 1)
        if beside is None or beside.kind != "text" or any(map(str.isdigit, beside.text)):
            return False
        return understand(beside.text, self.meanings.overrides).field in ("mean", "result")

    def field(self, row: int) -> Column:
        """Return the field that a row of the block is."""
        header, places = self[row], self._places(row)
        if places and not header.field and not header.names_run:
            text = self.meanings.grid.cells[places[-1]].text
            header = understand(text, self.meanings.overrides)
        if self._names_over_runs(row):
            return Column(row, Header("student"))
        if self.names_runs(row) and header.field not in (*READING_FIELDS, "used", "mean", "result"):
            text = header.text if "run" in header.tags else ""
            header = replace(header, field="run", kind="", number=None, text=text)
        return Column(row, header, places)
