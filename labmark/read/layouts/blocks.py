"""Tables that stand on their side: labels down a column, runs (or students) across. The results table of lab books."""

from __future__ import annotations

from functools import cached_property
from itertools import takewhile

from labmark.dataclass import dataclass, replace
from labmark.problems import InputError
from labmark.read.cells import read_tick
from labmark.read.grid import Cell, Grid, Place
from labmark.read.headers import ABOUT, AT_ENDPOINT, WHO, Header, titration_named, understand
from labmark.read.layouts.find import (
    CLAIMS,
    READING_FIELDS,
    Meanings,
    holds_units,
    may_be_somebody,
    numberish,
    run_named,
    titled,
    with_unit,
)
from labmark.read.layouts.view import NAMES, Column, Table, View

LABELS_ABOVE = frozenset({*ABOUT, "student", "surname", "forename", "group", "run", "order", "ignored", "used", "own"})
"""What may stand over the readings of a block; a mean or a result there is no student's own."""
LABELS_BELOW = frozenset(
    {"used", "mean", "result", "ignored", "order", "titre", "initial", "final", "volume", "own", "class", "partner"}
).union(AT_ENDPOINT, ("used at",))
"""What may follow the readings of a block further down; a name, a bench or a row of runs begins the next one."""
NAME_NO_RUN = frozenset({"class", "code", "address", "partner"})
"""Labels of something about the student: a figure beside one of them is no run."""
_OF_LABELS = frozenset({"reading", "run", "trial", "rough", "number"})
"""Meanings of what stands over labels, beside names."""
Span = tuple[int, list[int]]
"""Column of labels, and the rows of those that name readings."""
WIDEST = 400
"""Columns beside the labels that may hold runs of several students."""
FAR = 10**9
"""Beyond any row and column."""


def blocks(meanings: Meanings, upright: list[Table]) -> list[Table]:
    """Return the tables whose labels stand down a column, in reading order.

    `upright` are the tables that stand upright: a single word in one of their records is no label (a student may be
    called Fin).
    """
    anchors = _labels_of_readings(meanings, upright) if meanings.anchors else _columns_of_runs(meanings)
    spans: list[Span] = []
    for column, rows in anchors.items():
        stop = min((other for other in anchors if other > column), default=FAR)
        spans.extend((column, part) for part in _Labels(meanings, column, stop, rows).parted())
    spans = [span for span in spans if not _is_stray(meanings, span, spans)]
    tables = [table for span in spans if (table := _block(meanings, span, spans)) is not None]
    return sorted(tables, key=lambda table: (table.columns[0].at, table.header_lines[0]))


def _labels_of_readings(meanings: Meanings, upright: list[Table]) -> dict[int, list[int]]:
    """Return each column of labels beside readings, with their rows."""
    found: dict[int, list[int]] = {}
    for (row, column), direction in sorted(meanings.anchors.items()):
        if direction == "down":
            found.setdefault(column, []).append(row)
    return {column: rows for column, rows in found.items() if not upright or _several(meanings, column, rows)}


def _is_stray(meanings: Meanings, span: Span, spans: list[Span]) -> bool:
    """Return whether a lone label stands among the cells of a block further left: a word in a reading's cell.

    A difference below the mean of a block is no block either, nor is a note with nothing beside it.
    """
    column, (first, *more) = span
    if not more and meanings.next_cell((first, column), 0, 1) is None:
        return True
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
    labels = _Labels(meanings, column, stop, anchors)
    before = max((part[-1] for other, part in spans if other == column and part[-1] < anchors[0]), default=0)
    above = max([before, *labels.downwards(before, anchors[0])]) if before else 0
    below = min((part[0] for other, part in spans if other == column and part[0] > anchors[-1]), default=FAR)
    between = range(anchors[0], anchors[-1] + 1)
    rows = [*labels.upwards(anchors[0], above), *between, *labels.downwards(anchors[-1], below)]
    heads = labels.heads()
    # One row may name the runs, or the students, for several blocks under each other, further up.
    shared = [] if {*heads} & {*rows} else [row for row in heads if row < rows[0]][-1:]
    # What stands between them, and is not understood, is asked about.
    unknown = [row for at in shared for row in range(max(at, above) + 1, rows[0]) if labels.tells_number(row)]
    first, rows = rows[0], [*shared, *unknown, *rows]
    labels.check_over(rows[0])
    lines = {row: meanings.lines.get(row, {}) for row in rows}
    cells = {(row, at): lines[row][at] for row in rows for at in lines[row] if column <= at < stop}
    view = View(replace(meanings.grid, cells=cells), turned=True)
    columns = [replace(labels.field(row), shared=row < first) for row in rows]
    columns = [entry for entry in columns if entry.header.field or entry.header_places]
    units = [line for line, held in view.lines.items() if line > column and holds_units(held.values())]
    columns = [replace(entry, header=with_unit(view, units, entry.at, entry.header)) for entry in columns]
    records = [line for line in view.lines if line > column and line not in units]
    return Table(view, [column], columns, records, meanings.overrides, units) if records else None


def names_no_runs(grid: Grid, place: Place) -> InputError:
    """Return the error for texts over the readings of a block, at a place, that may be anything."""
    what = "what stands over these readings names no runs"
    do = "call them Rough, 1, 2, ...; over students' names write Rough or Run 1"
    return InputError(grid.problem(what, do, place))


@dataclass(frozen=True)
class _Labels:
    """A column of labels, and the cells beside them up to the next such column."""

    meanings: Meanings
    column: int
    stop: int
    rows: list[int]
    """Those of the labels that name readings."""

    def __getitem__(self, row: int) -> Header:
        """Return what the label of a row says, or the teacher says of the row."""
        given = self.meanings.overrides.get(f"row {row}")
        return given or next((self.meanings.by_place.get(place, Header()) for place in self._places(row)), Header())

    @cached_property
    def have_runs(self) -> bool:
        """Whether runs stand to the left of the labels of readings, which name none."""
        cells, labels = self.meanings.grid.cells, (self.meanings.by_place[row, self.column] for row in self.rows)
        left = (run_named(cells.get((row, self.column - 1))) for row in self.rows)
        told = any(run and (run.names_run or "trial" in run.tags) for run in left)
        return told and not any(label.names_run for label in labels if label.field != "volume")  # V1 names none

    def parted(self) -> list[list[int]]:
        """Part labels into blocks: one begins where a label comes again or something stands between."""
        parts: list[list[int]] = []
        seen: set[tuple[str, str, str, int | None]] = set()
        for row in self.rows:
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
        begins = any(self[row].field == "student" or self._begins(row, above, below) for row in between)
        if len(between) > 5 or begins:
            return True
        left = (self.column - 1, self.column - 2) if self.have_runs else ()
        return any(self._differ((above, column), (below, column)) for column in left)

    def _begins(self, row: int, above: int, below: int) -> bool:
        """Return whether a row between two labels names runs of a block below it: not between both ends of one run."""
        of_run = [(header.kind, header.number, header.series) for header in (self[above], self[below])]
        within = {self[above].field, self[below].field} == {"initial", "final"} and of_run[0] == of_run[1]
        return not within and (self[row].field == "run" or self.names_runs(row))

    def _differ(self, *places: Place) -> bool:
        """Return whether cells to the left of two labels say that they are of two runs, or of two students."""
        cells = [self.meanings.grid.cells.get(place) for place in places]
        known = any(self.meanings.by_place.get(place, Header()).field in LABELS_ABOVE for place in places)
        return not known and None not in cells and len({cell.text for cell in cells if cell}) > 1

    def _is_next(self, row: int, below: int) -> bool:
        """Return whether the name, or the run, of the block further `below` stands to the left of a label already."""
        left = self._left(row)
        before = next(filter(None, map(self._left, range(row - 1, max(0, row - 12), -1))), left)
        return below < FAR and left not in ("", before) and {*map(self._left, range(row, below + 1))} <= {"", left}

    def _titles(self, row: int) -> bool:
        """Return whether a row is the title of what comes next: Results of Ada."""
        cell = self.meanings.grid.cells.get((row, self.column))
        return cell is not None and titled(cell.text) != ""

    def _left(self, row: int) -> str:
        """Return what stands to the left of a label; empty where there is neither."""
        cell, label = (self.meanings.grid.cells.get((row, at)) for at in (self.column - 1, self.column))
        return cell.text if cell and label else ""

    def _beside(self, row: int, most: int) -> list[Cell]:
        places = ((row, at) for at in range(self.column + 1, min(self.stop, self.column + most)))
        return [self.meanings.grid.cells[place] for place in places if place in self.meanings.grid.cells]

    def names_runs(self, row: int) -> bool:
        """Return whether the cells beside a label name runs: Rough, 1, 2, 3; beside Class 10A is none."""
        if row in self.meanings.rows_of_names or self[row].field in NAME_NO_RUN or self[row].tags & {"date", "when"}:
            return False
        cells = self._beside(row, 12)
        headers = [run_named(cell, self.meanings.overrides) for cell in cells]
        named = [at for at, header in enumerate(headers) if header]
        # Over Rough, 1 and 2 may stand Rough and Accurate, and behind them anything.
        beside, overrides = ("run", "mean", "result", "own"), self.meanings.overrides
        known = [cell.text == "0" or understand(cell.text, overrides).field in beside for cell in cells]
        others = [at for at, it in enumerate(known) if not it and headers[at] is None]
        if not named or (others and (len(named) < 2 or others[0] < named[-1])):
            return False
        if any(cell.kind == "text" and not numberish(cell) for cell in cells):
            return True
        numbers = [header.number for header in headers if header]
        return len(numbers) >= 2 and numbers == list(range(1, len(numbers) + 1))

    def heads(self) -> list[int]:
        """Return the rows whose cells beside the labels name the runs, or the students, of the columns below."""
        at, known = (self.column, self.stop), self.meanings.heads
        if at not in known:
            known[at] = [row for row in self.meanings.lines if self._heads(row)]
        return known[at]

    def _heads(self, row: int) -> bool:
        return self.names_runs(row) or self._names_students(row)

    def _names_students(self, row: int) -> bool:
        """Return whether a row over the labels holds students' names, one over each column, and no label of its own.

        What stands in its corner may head the labels: Reading.
        """
        texts = [cell.text for cell in self._beside(row, 40) if cell.kind == "text" and not numberish(cell)]
        if self.names_runs(row) or any(understand(text).field in ("mean", "result") for text in texts):
            return False
        corner = [understand(self.meanings.grid.cells[place].text).tags for place in self._places(row)]
        heads = self[row].field in WHO or all(tags and tags <= _OF_LABELS for tags in corner)
        return heads and len(texts) >= 2 and len({*texts}) == len(texts)

    def tells_number(self, row: int) -> bool:
        """Return whether a label stands before a number."""
        return self._is_filled(row) and numberish(self.meanings.next_cell((row, self.column), 0, 1))

    def _names_over_runs(self, row: int) -> bool:
        """Return whether a row holds a student's name over each of several sets of runs: Rough, 1, 2, Rough, 1, 2."""
        if self._is_filled(row) or not self.names_runs(row + 1):
            return False
        names, runs = ([cell.text for cell in self._beside(at, WIDEST)] for at in (row, row + 1))
        told = [name for name in names if understand(name).field]
        somebody = 2 * len(told) < len(names) and all(map(may_be_somebody, told))  # Anna Bank, among others
        of_titrations = any(titration_named(name, self.meanings.overrides) for name in names)
        return somebody and not of_titrations and len({*names}) == runs.count(runs[0]) > 1

    def _labels_more(self, row: int) -> bool:
        """Return whether a row holds further labels with their values, as in Name: | Ada | Mass: | 1.500 g."""
        places = ((row, at) for at in range(self.column + 2, min(self.stop, self.column + 12)))
        return any(self.meanings.by_place.get(place, Header()).field in ("own", "group", *WHO) for place in places)

    def check_over(self, first: int) -> None:
        """Raise InputError where texts stand over the columns of a block, and are neither runs nor names.

        Over names that a label tells they number the columns: Student 1, Student 2.
        """
        if self[first].field in WHO and self._names_students(first):
            return
        texts = [cell for cell in self._beside(first - 1, 12) if cell.kind == "text" and not numberish(cell)]
        if len(texts) > 1 and not self._is_filled(first - 1) and not any(map(self.names_runs, (first - 1, first))):
            raise names_no_runs(self.meanings.grid, (first - 1, self.column + 1))

    def _is_filled(self, row: int) -> bool:
        return bool(self._places(row))

    def _places(self, row: int) -> list[Place]:
        """Return the cell of a label; where the runs stand to the left of the labels, that of another one there."""
        place, left = (row, self.column), (row, self.column - 1)
        if place in self.meanings.grid.cells:
            return [place]
        return [left] if left in self.meanings.by_place and self.have_runs else []

    def upwards(self, first: int, above: int) -> list[int]:
        """Return the rows over the first reading that belong to the block: name, bench, the row that names the runs."""
        rows: list[int] = []
        gap = False
        for row in range(first - 1, max(above, first - 12), -1):
            label, beside = self[row], self.meanings.next_cell((row, self.column), 0, 1)
            told = (label.field in LABELS_ABOVE or label.names_run) and beside and not self._labels_more(row)
            if rows and self._names_students(rows[-1]) and len(self._beside(row, WIDEST)) < 2:
                break  # a title
            if told or self.names_runs(row):
                rows.append(row)
                gap = False
            elif self._names_over_runs(row) or (self._names_students(row) and not any(map(self._heads, rows))):
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
            # Cy Sum, alone, heads the next block; Fill the burette before you start is a note.
            alone = self.meanings.next_cell((row, self.column), 0, 1) is None
            told = not alone or field not in ("ignored", "initial", "final")
            if self._heads_columns(row) or self._is_next(row, below) or self._titles(row):
                break
            # What is not understood is asked about.
            of_run = self[row].names_run and self[row].unknown > 0  # Run 3 vol. added, of a run that was not done
            more = field == "group" or (field in ("", "value") and (of_run or self._goes_on(row)))
            if (field in LABELS_BELOW and told) or (more and not gap):
                rows.append(row)
                gap = False
            elif gap or self.names_runs(row) or (self._is_filled(row) and not self._claims_follow(row, below)):
                break
            else:
                gap = not self._is_filled(row)
        return rows

    def _claims_follow(self, row: int, below: int) -> bool:
        """Return whether what a student worked out comes right below a line of something else: Checked by | KM."""
        rows = takewhile(self._is_filled, range(row + 1, min(below, row + 4)))
        claims = [at for at in rows if self[at].field in ("mean", "result", "used") and self._beside(at, WIDEST)]
        return bool(claims) and self[row].field not in ("student", "surname", "forename")

    def _goes_on(self, row: int) -> bool:
        """Return whether a number or a tick stands beside a label, or several texts, and no run or name."""
        beside = self._beside(row, WIDEST)
        told = len(beside) > 1 or any(numberish(cell) or read_tick(cell) is not None for cell in beside)
        return told and not self.names_runs(row)

    def _heads_columns(self, row: int) -> bool:
        """Return whether another heading stands beside a label: they are those of a table of answers."""
        beside = self.meanings.next_cell((row, self.column), 0, 1)
        if beside is None or beside.kind != "text" or any(map(str.isdigit, beside.text)) or read_tick(beside):
            return False
        if may_be_somebody(beside.text):  # Teacher | Mr Brook
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
        letters = all(len(cell.text) == 1 for cell in self._beside(row, 40))  # A, B and C are runs
        if self._names_students(row) and header.field not in WHO and not letters:
            return Column(row, Header("student", text=NAMES), places)
        told = {*READING_FIELDS, "used", "mean", "result"} if "which" not in header.tags else {"mean", "result"}
        if self.names_runs(row) and header.field not in told:
            text = header.text if "run" in header.tags else ""
            header = replace(header, field="run", kind="", number=None, text=text)
        return Column(row, header, places)
