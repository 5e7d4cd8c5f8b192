"""Tables that stand on their side: labels down a column, runs (or students) across. The results table of lab books."""

from __future__ import annotations

from dataclasses import replace

from labmark.read.grid import Place
from labmark.read.headers import ABOUT, AT_ENDPOINT, Header, understand
from labmark.read.layouts.find import READING_FIELDS, Meanings, clipped, numberish, run_named
from labmark.read.layouts.view import Column, Table, View

LABELS_ABOVE = frozenset({*ABOUT, "student", "surname", "forename", "group", "run", "order", "ignored", "used", "own"})
"""What may stand over the readings of a block; a mean or a result there is no student's own."""
LABELS_BELOW = frozenset(
    {"used", "mean", "result", "ignored", "order", "titre", "initial", "final", "own", "class", "partner"}
).union(AT_ENDPOINT, ("used at",))
"""What may follow the readings of a block further down; a name, a bench or a row of runs begins the next one."""


def blocks(meanings: Meanings, upright: list[Table]) -> list[Table]:
    """Return the tables whose labels stand down a column, in reading order.

    `upright` are the tables that stand upright: their headers are no labels, and a single word in one of their records
    is none either (a student may be called Fin).
    """
    headers = {line for table in upright for line in table.header_lines}
    anchors: dict[int, list[int]] = {}
    for (row, column), direction in sorted(meanings.anchors.items()):
        if direction == "down" and row not in headers and not _in_record(upright, row, column):
            anchors.setdefault(column, []).append(row)
    if upright:
        anchors = {column: rows for column, rows in anchors.items() if _several(meanings, column, rows)}
    if not anchors and not meanings.anchors:
        anchors = _columns_of_runs(meanings)
    spans: list[tuple[int, list[int]]] = []
    for column, rows in anchors.items():
        stop = min((other for other in anchors if other > column), default=10**9)
        spans.extend((column, part) for part in _parted(meanings, column, rows, stop))
    spans = [span for span in spans if not _is_stray(span, spans)]
    found = [_block(meanings, column, rows, spans) for column, rows in spans]
    tables = [table for table in found if table is not None]
    return sorted(tables, key=lambda table: (table.columns[0].at, table.header_lines[0]))


def _in_record(upright: list[Table], row: int, column: int) -> bool:
    """Return whether a label is a remark behind the readings of a student whose name stands in the same row."""
    for table in upright:
        named = row > table.header_lines[-1] and table.filled(row, "student", "surname", "code", "address")
        before = [entry.at for entry in table.of(*READING_FIELDS, "value") if entry.at < column]
        if named and any(numberish(table.view.get(row, at)) for at in before):
            return True
    return False


def _is_stray(span: tuple[int, list[int]], spans: list[tuple[int, list[int]]]) -> bool:
    """Return whether a lone label stands among the cells of a block further left: a word in a reading's cell."""
    column, rows = span
    return len(rows) == 1 and any(
        other < column and len(part) > 1 and part[0] - 2 <= rows[0] <= part[-1] + 2 for other, part in spans
    )


def _several(meanings: Meanings, column: int, rows: list[int]) -> bool:
    """Return whether the labels of a column name both readings of a run, close to each other."""
    at = {
        meanings.by_place[row, column].field.removesuffix(" at"): row
        for row in rows
        if meanings.by_place[row, column].unknown <= 4
    }
    return "initial" in at and "final" in at and abs(at["initial"] - at["final"]) <= 3


def _columns_of_runs(meanings: Meanings) -> dict[int, list[int]]:
    """Return the label columns of a sheet with titres only: runs named below each other, numbers beside them."""
    by_column: dict[int, list[int]] = {}
    for row, column in sorted(meanings.grid.cells):
        cell = meanings.grid.cells[row, column]
        if (
            cell.kind == "text"
            and run_named(cell, meanings.overrides)
            and numberish(meanings.next_cell((row, column), 0, 1))
        ):
            by_column.setdefault(column, []).append(row)
    for column, rows in sorted(by_column.items()):
        texts = {meanings.grid.cells[row, column].text.casefold() for row in rows}
        if len(rows) >= 2 and len(texts) == len(rows):
            return {column: rows}
    return {}


def _parted(meanings: Meanings, column: int, rows: list[int], stop: int) -> list[list[int]]:
    """Part the labels of a column into blocks: one begins where a label comes again or something stands between."""
    parts: list[list[int]] = []
    seen: set[tuple[str, str, str, int | None]] = set()
    for row in rows:
        header = _label(meanings, row, column)
        key = (header.key, header.series, header.kind, header.number)
        if not parts or key in seen or _boundary(meanings, column, parts[-1][-1], row, stop):
            parts.append([])
            seen = set()
        parts[-1].append(row)
        seen.add(key)
    return parts


def _label(meanings: Meanings, row: int, column: int) -> Header:
    given = meanings.overrides.get(f"row {row}")
    return given or meanings.by_place.get((row, column), Header())


def _boundary(meanings: Meanings, column: int, above: int, below: int, stop: int) -> bool:
    """Return whether something between two labels begins another block."""
    if below - above > 6:
        return True
    return any(
        _label(meanings, row, column).field in ("student", "run") or _names_runs(meanings, row, column, stop)
        for row in range(above + 1, below)
    )


def _names_runs(meanings: Meanings, row: int, column: int, stop: int = 10**9) -> bool:
    """Return whether the cells beside a label name runs: Rough, 1, 2, 3."""
    cells = [meanings.grid.cells.get((row, at)) for at in range(column + 1, min(stop, column + 12))]
    named = [cell for cell in cells if cell is not None]
    headers = [run_named(cell, meanings.overrides) for cell in named]
    # Over Rough, 1 and 2 may stand Rough and Accurate.
    others = [cell for header, cell in zip(headers, named, strict=True) if header is None]
    if not any(headers) or any(understand(cell.text).field not in ("run", "mean", "result") for cell in others):
        return False
    if any(cell.kind == "text" and not numberish(cell) for cell in named):
        return True
    numbers = [header.number for header in headers if header]
    return len(numbers) >= 2 and numbers == list(range(1, len(numbers) + 1))


def _block(meanings: Meanings, column: int, anchors: list[int], spans: list[tuple[int, list[int]]]) -> Table | None:
    stop = min(
        (other for other, part in spans if other > column and part[0] <= anchors[-1] and part[-1] >= anchors[0]),
        default=10**9,
    )
    before = max((part[-1] for other, part in spans if other == column and part[-1] < anchors[0]), default=0)
    above = max([before, *_downwards(meanings, column, before, anchors[0], stop)]) if before else 0
    below = min((part[0] for other, part in spans if other == column and part[0] > anchors[-1]), default=10**9)
    rows = [
        *_upwards(meanings, column, anchors[0], above, stop),
        *range(anchors[0], anchors[-1] + 1),
        *_downwards(meanings, column, anchors[-1], below, stop),
    ]
    if not any(_names_runs(meanings, row, column, stop) for row in rows):
        # One row may name the runs for several blocks under each other, further up.
        rows = [*[row for row in range(1, rows[0]) if _names_runs(meanings, row, column, stop)][-1:], *rows]
    grid = clipped(meanings.grid, (rows[0], column, rows[-1], stop - 1))
    grid.cells = {place: cell for place, cell in grid.cells.items() if place[0] in rows}
    view = View(grid, turned=True)
    columns = [_field(meanings, row, column, stop) for row in rows]
    columns = [entry for entry in columns if entry.header.field or entry.header_places]
    records = [line for line in view.lines if line > column]
    return Table(view, [column], columns, records) if records else None


def _upwards(meanings: Meanings, column: int, first: int, above: int, stop: int) -> list[int]:
    """Return the rows over the first reading that belong to the block: name, bench, the row that names the runs."""
    rows: list[int] = []
    blanks = 0
    for row in range(first - 1, max(above, first - 12), -1):
        label = _label(meanings, row, column)
        runs = _names_runs(meanings, row, column, stop)
        if runs or ((label.field in LABELS_ABOVE or label.names_run) and meanings.next_cell((row, column), 0, 1)):
            rows.append(row)
            blanks = 0
        elif not rows and _names_students(meanings, row, column, stop):
            rows.append(row)
        elif (row, column) in meanings.grid.cells or blanks:
            break
        else:
            blanks += 1
    return sorted(rows)


def _names_students(meanings: Meanings, row: int, column: int, stop: int) -> bool:
    """Return whether a row over the labels holds students' names, a text over each column, and no label of its own."""
    if (row, column) in meanings.grid.cells:
        return False
    cells = [meanings.grid.cells.get((row, column + step)) for step in range(1, min(stop - column, 40))]
    texts = [cell.text for cell in cells if cell is not None and cell.kind == "text" and not numberish(cell)]
    return len(texts) >= 2 and len(set(texts)) == len(texts)


def _downwards(meanings: Meanings, column: int, last: int, below: int, stop: int) -> list[int]:
    """Return the rows under the last reading that belong to the block: ticks, own mean, own result."""
    rows: list[int] = []
    blanks = 0
    for row in range(last + 1, min(below, last + 12)):
        label = _label(meanings, row, column)
        told = label.field != "ignored" or meanings.next_cell(
            (row, column), 0, 1
        )  # Cy Sum, alone, heads the next block
        if (label.field in LABELS_BELOW and told) or (label.field == "group" and not blanks):
            rows.append(row)
            blanks = 0
        elif (row, column) in meanings.grid.cells or blanks or _names_runs(meanings, row, column, stop):
            break
        else:
            blanks += 1
    return rows


def _field(meanings: Meanings, row: int, column: int, stop: int) -> Column:
    header = _label(meanings, row, column)
    places: list[Place] = [(row, column)] if (row, column) in meanings.grid.cells else []
    if places and not header.field and not header.names_run:
        header = understand(meanings.grid.cells[row, column].text, meanings.overrides, meanings.group_by)
    if _names_runs(meanings, row, column, stop) and header.field not in (*READING_FIELDS, "used", "mean", "result"):
        header = replace(header, field="run", kind="", number=None, text=header.text if "run" in header.tags else "")
    return Column(row, header, places)
