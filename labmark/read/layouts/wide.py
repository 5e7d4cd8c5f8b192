"""Tables of one record a student."""

import re

from labmark.dataclass import replace
from labmark.problems import InputError
from labmark.read.headers import understand
from labmark.read.layouts import lines
from labmark.read.layouts.columns import by_series, column_problem, drop_halves, run_columns
from labmark.read.layouts.view import Column, Table
from labmark.read.model import HEADING, RawRun, RawStudent, Reading
from labmark.read.words import folded, plain, says_absent

_DECIMAL = re.compile(r"\d+[.,]\d+")
ANOTHER_TABLE = "stands under the label of another table"


def read_wide(table: Table, reading: Reading, outside: str) -> list[RawRun]:
    """Add the students of a table that has one record a student; returns the runs that it has columns for."""
    runs = _told_values(table, run_columns(table))
    reading.notes += drop_halves(table, runs)
    for run in runs:
        run.can_tick = bool(table.of("runs used")) or "used" in run.columns
        run.unnamed = not any(column.header.names_run for column in run.columns.values())
    counts = (sum(run.kind == "accurate" for run in series) for series in by_series(runs))
    reading.room = max(reading.room or 0, *counts, 0)
    names = lines.name_columns(table)
    own = {} if names else lines.own_lines(table)
    records = [line for line in table.records if line not in own and _is_record(table, line, names, reading)]
    _check_lines(table, records, names)
    bare = [line for line in records if not lines.name_at(table, line, names)]
    if len(bare) > 1 and 2 * len(bare) >= len(records) and not table.series:
        raise lines.nameless(table)
    of_runs = sum(_names_run(lines.name_at(table, line, names)) for line in records)
    if of_runs > 1 and 2 * of_runs >= len(records):
        what = "runs stand where the students' names are looked for"
        do = "give each student a table with the name over it, or write the name into each line"
        raise column_problem(table, names[0], what, do)
    for line in records:
        lines.check_name(table, line, names)
        above = reading.students[-1].name if table.series.get(line) and line != records[0] else ""
        student = _student(table, line, names, outside, above)
        lines.explain_titration(table, line, reading)
        _add_runs(table, line, runs, student)
        for below, field in own.items():
            _add_line(table, below, field, student, runs, reading)
        reading.students.append(student)
    return runs


def _check_lines(table: Table, records: list[int], names: list[Column]) -> None:
    """Raise InputError where each student has several lines, told apart by words that are not understood."""
    people = _lines_of_each(table, records, names)
    known = {column.at for column in table.columns if column.header.field}
    for at in sorted({at for line in records for at in table.view.lines[line]} - known) if len(people) > 1 else ():
        said = {tuple(plain(cell.text) for line in of if (cell := table.view.get(line, at))) for of in people}
        if len(said) == 1 and _are_labels(*said):
            labels = ", ".join(map(repr, *said))
            what = f"each student has several lines, and it cannot be told what they hold: {labels}"
            do = "call them Initial, Final and Titre, or give each student one line"
            raise InputError(table.view.grid.problem(what, do, table.view.place(people[0][0], at)))


def _lines_of_each(table: Table, records: list[int], names: list[Column]) -> list[list[int]]:
    """Return the lines of each student: a name stands for those below it that have none, or the same."""
    people: list[list[int]] = []
    last = None
    for line in records if names else ():
        cell = table.cell(line, names[0])
        name = last if cell is None else folded(cell.text)
        if name != last or not people:
            people.append([])
        people[-1].append(line)
        last = name
    return people


def _are_labels(texts: tuple[str, ...]) -> bool:
    """Return whether texts are several words, all different: no numbers."""
    return len(texts) == len({*texts}) > 1 and not any(text[:1].isdigit() for text in texts)


def _names_run(name: str) -> bool:
    """Return whether a name is that of a run in words, and no code such as T1."""
    return bool(understand(name).tags & {"run", "rough"}) and re.match(r"[^\W\d_]{3}", name) is not None


def _add_runs(table: Table, line: int, runs: list[RawRun], student: RawStudent) -> None:
    """Add the runs of a line, and give each the numbers whose headers name it; what is not done has none of them."""
    for run in runs:
        if cells := table.places(line, run.columns):
            student.runs.append(replace(run, cells=cells, more=[]))
    for number in student.numbers:
        if number.header.names_run:
            named = (number.header.kind or "accurate", number.header.number)
            named = ("rough", None) if named == ("accurate", 0) else named  # who counts the rough, counts it 0
            number.run = next((run for run in student.runs if (run.kind, run.number) == named), RawRun("none"))


def _add_line(table: Table, line: int, field: str, student: RawStudent, runs: list[RawRun], reading: Reading) -> None:
    """Add a line below the readings of the only student: titres or ticks of the runs, the mean or the result."""
    texts = table.view.lines[line].items()
    cells = {at: cell for at, cell in texts if understand(cell.text, table.overrides).key != field}
    for at in table.view.lines[line].keys() - cells.keys():
        reading.ignored[table.view.place(line, at)] = HEADING
    if field.startswith(("mean", "result")):
        for at in list(cells)[:1]:
            student.cells.setdefault(field, table.view.place(line, at))
        return
    for columns in runs:
        filled = [column.at for column in columns.columns.values() if column.at in cells]
        named = (columns.kind, columns.number, columns.series)
        run = next((one for one in student.runs if (one.kind, one.number, one.series) == named), None)
        if filled and run is not None:
            run.cells.setdefault(field, table.view.place(line, filled[-1]))
            run.can_tick |= field == "used"


def _told_values(table: Table, runs: list[RawRun]) -> list[RawRun]:
    """Tell from the cells what a column holds whose header names only the run: titres, or both readings."""
    for run in runs:
        column = run.columns.pop("value", None)
        if column is not None:
            cells = table.cells(column)
            numbers = [len(_DECIMAL.findall(plain(cell.text))) if cell.kind == "text" else 1 for cell in cells]
            pairs = sum(count > 1 for count in numbers)
            run.columns["both" if 0 < pairs >= numbers.count(1) else "titre"] = column
    return [run for run in runs if run.columns]


def _is_record(table: Table, line: int, names: list[Column], reading: Reading) -> bool:
    """Return whether a line is a student; a line that is not gets its explanation."""
    name = lines.name_at(table, line, names)
    cells = table.view.lines[line]
    told = (column for column in table.columns if column.header.field not in ("", "ignored") and column not in names)
    why = _why_no_student(table, line, name, names, any(column.at in cells for column in told))
    if why == ANOTHER_TABLE:
        reading.notes.append(f"{table.view.record_name(line)} looks like a line of another table and was not used")
    if why:
        lines.explain(table, line, why, reading)
    return not why


def _why_no_student(table: Table, line: int, name: str, names: list[Column], filled: bool) -> str:
    unnamed = not name and bool(names) and lines.sums_up(table, line, lines.MANY)
    if unnamed or lines.is_statistic(table, line, name):
        return "a line of class figures (mean, spread or the like), not a student"
    if lines.is_label(name) and len(table.records) > 1 and not table.filled(line, "mean", "result", "used"):
        return ANOTHER_TABLE
    if lines.is_example(table, line, name):
        return lines.NO_STUDENT
    if not filled and lines.is_sentence(name):
        return "a note below the table"
    if lines.lists_absent(name) and not lines.has_reading(table, line):
        return "a note below the table"
    note = (lines.NOTE_START.match(name) or name.endswith(":")) and not lines.has_reading(table, line)
    if name and (note or lines.is_below(table, line, names)) and not _told_absent(table, line):
        return "a note below the table"
    if not filled and lines.is_heading(name):
        return "a heading within the table"
    if not name and names and not lines.has_reading(table, line):
        return "no name and no reading stands here: a note, or class figures"
    if not name and not filled:
        return "is beside the table, and says nothing about a student"
    near = filled or (lines.is_name(name) and lines.is_near(table, line, name, names))
    if not near and not (name and _told_absent(table, line)):
        return "a note below the table"
    return ""


def _told_absent(table: Table, line: int) -> bool:
    return any(says_absent(cell.text) for cell in table.view.lines[line].values())


def _student(table: Table, line: int, names: list[Column], outside: str, above: str) -> RawStudent:
    """Return the student of a line; `above` is the name of the line before, where each titration has its own."""
    view = table.view
    name = lines.name_at(table, line, names) or above
    student = RawStudent(view.grid, name or (f"({view.record_name(line)})" if names else outside))
    student.series = table.series.get(line, "")
    if names and not name:
        student.notes.append(f"no name stands in {view.record_name(line)}")
    lines.add_claims(table, line, student)
    lines.add_name(table, line, names, student)
    return student
