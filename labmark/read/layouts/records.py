"""The records of a table -> students and their runs: one record a student (wide) or one a run (long)."""

from __future__ import annotations

import re

from labmark.problems import InputError, Problem
from labmark.read.grid import Cell
from labmark.read.headers import Header, understand
from labmark.read.layouts.columns import RunColumns, is_wide, run_columns, settle_columns
from labmark.read.layouts.find import numberish, run_named
from labmark.read.layouts.view import Column, Table, View
from labmark.read.model import RawRun, RawStudent, Reading
from labmark.read.words import folded, plain

_NOTE_START = re.compile(
    r"(note|notes|nb|n\.b|key|legend|colou?r|\*|†|hinweis|anmerkung|legende|remarque|legende|nota|leyenda)\b|^[*†#]",
    re.I,
)
_ALSO_NAMES = frozenset({"max", "min", "sum", "media"})
"""Words for class figures that are also names of people."""
LONGEST_NAME, MOST_NAME_WORDS = 60, 6


def read_table(table: Table, reading: Reading, outside: str = "") -> None:
    """Add a table's students to the reading of the sheet.

    `outside` is the student's name where the table's own cells hold none: a title, the sheet's or the file's name.
    Raises InputError where it cannot be told whose readings these are.
    """
    prepare(table, outside)
    _explain_headers(table, reading)
    if is_wide(table):
        _read_wide(table, reading, outside)
    else:
        _read_long(table, reading, outside)


def prepare(table: Table, outside: str) -> None:
    """Settle from the cells what the headers leave open."""
    settle_columns(table)
    _name_column(table, outside)


def runs_of(table: Table) -> list[RunColumns]:
    """Return the runs of a wide table with their columns, told from the cells where the headers do not say."""
    return _told_values(table, run_columns(table))


def _explain_headers(table: Table, reading: Reading) -> None:
    for column in table.columns:
        for place in column.header_places:
            reading.ignored[place] = (
                f"header: {_meaning(column.header)}" if column.header.field else "header of a column that is not needed"
            )
    for line in table.unit_lines:
        for at in table.view.lines[line]:
            reading.ignored[table.view.place(line, at)] = "header: a unit"


def _meaning(header: Header) -> str:
    run = {"rough": "rough ", "accurate": "run "}.get(header.kind, "") + (f"{header.number} " if header.number else "")
    return f"{run}{header.group or header.field}".strip()


def _name_column(table: Table, outside: str) -> None:
    """Take a column of texts without a known header for the names, where no header says which column holds them."""
    if table.of("student", "code", "surname", "forename", "address") or not is_wide(table):
        return
    view = table.view
    known = {column.at for column in table.columns if column.header.field}
    for at in sorted({at for line in table.records for at in view.lines[line]} - known):
        texts = [cell.text for line in table.records if (cell := view.get(line, at)) and _has_reading(table, line)]
        with_readings = sum(_has_reading(table, line) for line in table.records)
        if (
            with_readings
            and len(texts) == with_readings
            and len(set(texts)) == len(texts)
            and (with_readings > 1 or not outside)
        ):
            table.columns = [column for column in table.columns if column.at != at]
            places = [view.place(line, at) for line in table.header_lines if view.get(line, at)]
            table.columns.append(Column(at, Header("student", text="(names without a header)"), places))
            table.columns.sort(key=lambda column: column.at)
            return


def _has_reading(table: Table, line: int) -> bool:
    return any(
        numberish(table.view.get(line, column.at)) for column in table.of("initial", "final", "titre", "both", "value")
    )


def _read_wide(table: Table, reading: Reading, outside: str) -> None:
    runs = runs_of(table)
    names = name_columns(table)
    records = [line for line in table.records if _is_record(table, line, names, reading)]
    if not names and len(records) > 1:
        raise _nameless(table)
    for line in records:
        student = _student(table, line, names, outside)
        for run in runs:
            cells = {
                key: table.view.place(line, column.at)
                for key, column in run.columns.items()
                if table.view.get(line, column.at) is not None
            }
            if cells:
                student.runs.append(RawRun(run.kind, run.number, cells, _scales(run.columns), "used" in run.columns))
        reading.students.append(student)
    _describe_wide(table, reading, runs, names)


def _scales(columns: dict[str, Column]) -> dict[str, int]:
    return {key: column.header.scale for key, column in columns.items() if column.header.scale}


def _told_values(table: Table, runs: list[RunColumns]) -> list[RunColumns]:
    """Tell from the cells what a column holds whose header names only the run: titres, or both readings."""
    for run in runs:
        column = run.columns.pop("value", None)
        if column is None:
            continue
        cells = [cell for line in table.records if (cell := table.view.get(line, column.at))]
        run.columns["both" if _mostly_pairs(cells) else "titre"] = column
    return [run for run in runs if run.columns]


def _mostly_pairs(cells: list[Cell]) -> bool:
    from labmark.read.cells import read_pair

    texts = [cell for cell in cells if cell.kind == "text"]
    pairs = sum(bool(read_pair(cell.text, ".") or read_pair(cell.text, ",")) for cell in texts)
    return pairs > 0 and 2 * pairs >= len(texts)


def name_columns(table: Table) -> list[Column]:
    """Return the columns that name the student: the name, or surname and forename, or else a code or an address."""
    for fields in (("student",), ("surname", "forename"), ("code",), ("address",)):
        columns = table.of(*fields)
        if columns:
            return columns if fields[0] == "surname" else columns[:1]
    return []


def _name_at(table: Table, line: int, names: list[Column]) -> str:
    cells = {column.header.field: table.view.label(line, column.at) for column in names}
    texts = {key: plain(cell.text) for key, cell in cells.items() if cell is not None}
    if "surname" in texts and "forename" in texts:
        return f"{texts['surname']}, {texts['forename']}"
    return next(iter(texts.values()), "")


def _is_record(table: Table, line: int, names: list[Column], reading: Reading) -> bool:
    """Return whether a line is a student; a line that is not gets its explanation."""
    name = _name_at(table, line, names)
    cells = table.view.lines[line]
    told = [column.at for column in table.columns if column.header.field not in ("", "ignored") and column not in names]
    filled = [at for at in told if at in cells]
    why = _why_no_student(table, line, name, names, bool(filled))
    if why:
        for at in cells:
            reading.ignored.setdefault(table.view.place(line, at), why)
    return not why


def _why_no_student(table: Table, line: int, name: str, names: list[Column], filled: bool) -> str:
    if _is_statistic(table, line, name, names):
        return "a line of class figures (mean, spread or the like), not a student"
    if name and _NOTE_START.match(name) and not _has_reading(table, line):
        return "a note below the table"
    if not name and not filled:
        return "stands beside the table and says nothing about a student"
    if not filled and (not _is_name(name) or not _near(table, line, name, names)):
        return "a note below the table"
    return ""


def _is_statistic(table: Table, line: int, name: str, names: list[Column]) -> bool:
    """Return whether a line holds figures of the whole class. Someone may be called Max or Min: it takes company."""
    first = next(iter(table.view.lines[line].values()))
    text = name or (first.text if first.kind == "text" else "")
    if not text or len(text) > 100:
        return False
    if folded(text) in _ALSO_NAMES and name:
        return any(
            _clear_statistic(_name_at(table, other, names))
            for other in (line - 1, line + 1)
            if other in table.view.lines
        )
    return _clear_statistic(text) and (bool(name) or not table.of("run") or "statistic" in understand(text).tags)


def _clear_statistic(text: str) -> bool:
    if not text or len(text) > 100 or folded(text) in _ALSO_NAMES:
        return False
    meaning = understand(text)
    if meaning.field in ("initial", "final"):
        return False
    return ("mean" in meaning.tags and meaning.unknown <= 3) or ("statistic" in meaning.tags and meaning.unknown == 0)


def _is_name(name: str) -> bool:
    return bool(name) and len(name) <= LONGEST_NAME and len(name.split()) <= MOST_NAME_WORDS and ":" not in name


def _near(table: Table, line: int, name: str, names: list[Column]) -> bool:
    """Return whether a line with nothing but a name belongs to the table: next to it, or named like its students."""
    others = [other for other in table.records if other != line and _has_reading(table, other)]
    if any(other > line for other in others):
        return True
    above = [other for other in table.records if other < line]
    if not above or above[-1] == line - 1:
        return True
    shapes = {re.sub(r"\d+", "9", _name_at(table, other, names)) for other in others}
    return bool(re.search(r"\d", name)) and re.sub(r"\d+", "9", name) in shapes


def _student(table: Table, line: int, names: list[Column], outside: str) -> RawStudent:
    view = table.view
    student = RawStudent(view.grid, _name_at(table, line, names) or ("" if names else outside))
    for index, column in enumerate(names):
        if view.get(line, column.at) is not None:
            student.cells["student" if index == 0 else column.header.field] = view.place(line, column.at)
    _add_claims(table, line, student)
    _add_notes(table, line, student)
    return student


def _add_notes(table: Table, line: int, student: RawStudent) -> None:
    """Keep what a column of notes says, for the teacher."""
    if not table.view.turned:
        student.lines.add(line)
    for column in table.of("ignored"):
        cell = table.view.get(line, column.at)
        if "note" in column.header.tags and cell is not None and plain(cell.text):
            student.notes.append(
                f"{table.view.grid.address(table.view.place(line, column.at))}: {plain(cell.text)[:300]}"
            )


def _add_claims(table: Table, line: int, student: RawStudent) -> None:
    view = table.view
    for column in table.of("mean", "result", "order"):
        if view.get(line, column.at) is not None and column.header.field not in student.cells:
            student.cells[column.header.field] = view.place(line, column.at)
            if column.header.scale and column.header.field == "mean":
                student.scales["mean"] = column.header.scale
    for column in table.of("group"):
        cell = view.label(line, column.at)
        if cell is not None and column.header.group not in student.groups:
            student.groups[column.header.group] = _label_place(view, line, column.at)


def _label_place(view: View, line: int, at: int) -> tuple[int, int]:
    if view.get(line, at) is not None:
        return view.place(line, at)
    return view.place(*view._covers[line, at])


def _nameless(table: Table) -> InputError:
    grid = table.view.grid
    column = table.columns[0]
    cell = grid.address(column.header_places[0]).rpartition("!")[2] if column.header_places else ""
    return InputError(
        Problem(
            "no column says whose readings these are",
            "give the table a column headed Student, or name the one that holds the students in a [columns] table",
            sheet=grid.name if grid.prefix else "",
            cell=cell,
        )
    )


def _read_long(table: Table, reading: Reading, outside: str) -> None:
    names = name_columns(table)
    students: dict[str, RawStudent] = {}
    current: RawStudent | None = None
    runs_at = table.of("run")[:1]
    _keep_one_name(table, names, runs_at, reading)
    for line in table.records:
        cells = table.view.lines[line]
        name = _name_at(table, line, names)
        run = run_named(table.view.label(line, runs_at[0].at)) if runs_at else None
        why = _why_no_run(table, line, name, names, run)
        if why:
            reading.ignored.update(
                {table.view.place(line, at): why for at in cells if table.view.place(line, at) not in reading.ignored}
            )
            continue
        current = _student_of(table, line, name, names, outside, students, current)
        if current is None:
            raise _nameless(table)
        _add_run(table, line, current, run, bool(runs_at), reading)
    found = list(students.values())
    for student in found:
        _count_runs(student)
    reading.students.extend(found)
    _describe_long(table, reading, names, runs_at)


def _keep_one_name(table: Table, names: list[Column], runs_at: list[Column], reading: Reading) -> None:
    """In the block of one student (no run comes twice) what stands beside the name is a note."""
    if not table.view.turned or not names or not runs_at:
        return
    labels = [folded(cell.text) for line in table.records if (cell := table.view.get(line, runs_at[0].at))]
    if len(set(labels)) < len(labels):
        return
    for column in names:
        filled = [line for line in table.records if table.view.get(line, column.at)]
        for line in filled[1:]:
            reading.ignored[table.view.place(line, column.at)] = "a note beside the name"
            del table.view.lines[line][column.at]
    table.records = [line for line in table.records if table.view.lines[line]]


def _why_no_run(table: Table, line: int, name: str, names: list[Column], run: Header | None) -> str:
    readings = [
        column for column in table.of("initial", "final", "titre", "both", "used") if table.view.get(line, column.at)
    ]
    claims = [column for column in table.of("mean", "result") if table.view.get(line, column.at)]
    if _is_statistic(table, line, name, names):
        return "a line of class figures (mean, spread or the like), not a run"
    if readings or claims or (run is not None and not names):
        return ""
    if name and names and _is_name(name) and not _NOTE_START.match(name) and _near(table, line, name, names):
        return ""
    return "" if run is not None and name else "stands beside or below the table and says nothing about a run"


def _student_of(
    table: Table,
    line: int,
    name: str,
    names: list[Column],
    outside: str,
    students: dict[str, RawStudent],
    current: RawStudent | None,
) -> RawStudent | None:
    """Return the student of a record of a long table; a record without a name goes with the one above."""
    if not name and current is None and not outside:
        return None
    if not name and current is not None:
        student = current
    else:
        key = name or outside
        if key not in students:
            students[key] = RawStudent(table.view.grid, key)
        student = students[key]
    for index, column in enumerate(names):
        key = "student" if index == 0 else column.header.field
        if table.view.get(line, column.at) is not None:
            student.cells.setdefault(key, table.view.place(line, column.at))
    _add_notes(table, line, student)
    return student


def _add_run(
    table: Table, line: int, student: RawStudent, run: Header | None, has_runs: bool, reading: Reading
) -> None:
    view = table.view
    columns = {
        column.header.field: column for column in reversed(table.of("initial", "final", "titre", "both", "used"))
    }
    cells = {
        key: view.place(line, column.at) for key, column in columns.items() if view.get(line, column.at) is not None
    }
    _add_claims(table, line, student)
    _explain_repeats(table, line, student, reading)
    if run is not None and run.field == "mean":
        _average(cells, student, reading)
        return
    for column in table.of("run"):
        if view.get(line, column.at) is not None:
            reading.ignored[view.place(line, column.at)] = "names the run"
    if cells:
        kind = "rough" if run is not None and run.kind == "rough" else "accurate"
        number = run.number if run is not None else None
        trial = run is not None and "trial" in run.tags and run.kind != "rough"
        student.runs.append(RawRun("trial" if trial else kind, number, cells, _scales(columns), "used" in columns))


def _average(cells: dict[str, tuple[int, int]], student: RawStudent, reading: Reading) -> None:
    """Take an average line or column for what it is: its titre is the student's own mean."""
    for key, place in cells.items():
        if key == "titre" and "mean" not in student.cells:
            student.cells["mean"] = place
        else:
            reading.ignored[place] = "in an average of the runs, which is no run"


def _explain_repeats(table: Table, line: int, student: RawStudent, reading: Reading) -> None:
    """Explain the cells that repeat in each record what has been read once: the name, the bench, the mean."""
    for column in table.of("student", "surname", "forename", "code", "address", "group", "mean", "result", "order"):
        place = table.view.place(line, column.at)
        taken = {*student.cells.values(), *student.groups.values()}
        if table.view.get(line, column.at) is None or place in taken:
            continue
        field = column.header.field
        if field in ("mean", "result"):
            _compare_claim(table, place, student, field, reading)
        else:
            reading.ignored.setdefault(place, "repeats what stands in an earlier line of the same student")


def _compare_claim(table: Table, place: tuple[int, int], student: RawStudent, field: str, reading: Reading) -> None:
    first, second = table.view.grid.cells[student.cells[field]], table.view.grid.cells[place]
    if plain(first.text) == plain(second.text):
        reading.ignored.setdefault(place, "repeats what stands in an earlier line of the same student")
    else:
        reading.ignored.setdefault(place, f"a second {field} of the same student; the first one was taken")
        student.notes.append(
            f"another {field} ({plain(second.text)}) stands in {table.view.grid.address(place)}; the first one was taken"
        )


def _count_runs(student: RawStudent) -> None:
    """Settle what trials are, and number the runs of a long table."""
    trials = [run for run in student.runs if run.kind == "trial"]
    numbered = all(run.number is not None for run in trials)
    others = [run for run in student.runs if run.kind != "trial"]
    rough_known = any(run.kind == "rough" for run in others)
    for run in trials:
        rough = not rough_known and (bool(others) or not numbered) and len(trials) == 1 and len(student.runs) > 1
        run.kind = "rough" if rough else "accurate"
    if len(student.runs) > 1 and all(run.kind == "rough" for run in student.runs):
        for run in student.runs:
            run.kind = "accurate"
    taken = {run.number for run in student.runs if run.kind == "accurate"}
    following = 1
    for run in student.runs:
        if run.kind == "accurate" and run.number is None:
            while following in taken:
                following += 1
            run.number = following
            taken.add(following)


def _header_name(column: Column, table: Table) -> str:
    return (
        f"{column.header.text!r} ({table.view.line_name(column.at)})"
        if column.header.text
        else table.view.line_name(column.at)
    )


def _describe_wide(table: Table, reading: Reading, runs: list[RunColumns], names: list[Column]) -> None:
    way = "column" if table.view.turned else "row"
    where = f"sheet {table.view.grid.name}: " if table.view.grid.prefix else ""
    reading.understood.append(f"{where}one {way} a student, {len(runs)} runs")
    for column in names:
        _map(
            reading,
            table,
            {"student": "Student", "code": "Student", "address": "Student"}.get(
                column.header.field, column.header.field.title()
            ),
            column,
        )
    for run in runs:
        label = _run_label(run)
        for key, column in run.columns.items():
            _map(reading, table, f"{label} {key}" if key != "both" else f"{label} readings", column)
    _map_claims(table, reading)


def _run_label(run: RunColumns) -> str:
    if run.kind == "rough":
        return f"Rough {run.number}" if run.number and run.number > 1 else "Rough"
    return f"Run {run.number}"


def _describe_long(table: Table, reading: Reading, names: list[Column], runs_at: list[Column]) -> None:
    way = "column" if table.view.turned else "row"
    where = f"sheet {table.view.grid.name}: " if table.view.grid.prefix else ""
    reading.understood.append(f"{where}one {way} a run")
    for column in names:
        _map(reading, table, {"surname": "Surname", "forename": "Forename"}.get(column.header.field, "Student"), column)
    for column in runs_at:
        _map(reading, table, "Run", column)
    for column in table.of("initial", "final", "titre", "both", "used"):
        _map(reading, table, {"both": "Readings"}.get(column.header.field, column.header.field.title()), column)
    _map_claims(table, reading)


def _map_claims(table: Table, reading: Reading) -> None:
    for column in table.of("group", "mean", "result", "order"):
        meaning = {"mean": "Mean titre", "result": "Result", "order": "Order"}.get(
            column.header.field, column.header.group
        )
        _map(reading, table, meaning, column)


def _map(reading: Reading, table: Table, meaning: str, column: Column) -> None:
    entry = (meaning, column.header.text or table.view.line_name(column.at))
    if entry not in reading.columns:
        reading.columns.append(entry)
        reading.understood.append(f"{meaning}: {_header_name(column, table)}")
