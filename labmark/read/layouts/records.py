"""A table -> its students and their runs, whichever way the runs are set out, and how it was understood."""

from collections.abc import Iterator, Sequence

from labmark.exact import decimals_in
from labmark.read.grid import Cell
from labmark.read.headers import ABOUT, READINGS, RUN_FIELDS, Header, understand
from labmark.read.layouts.answers import is_symbol
from labmark.read.layouts.columns import column_problem, is_wide
from labmark.read.layouts.find import is_blank, numberish, run_named
from labmark.read.layouts.lines import (
    about_columns,
    has_reading,
    is_statistic,
    name_columns,
    nameless,
    own_lines,
    times_of_work,
)
from labmark.read.layouts.long import read_long
from labmark.read.layouts.settle import APART, settle_columns, settle_groups
from labmark.read.layouts.view import NAMES, Column, Table
from labmark.read.layouts.wide import read_wide
from labmark.read.model import HEADING, RawRun, Reading, run_name
from labmark.read.own_numbers import WORKED_OUT
from labmark.read.words import plain
from labmark.read.written_units import header_unit, unit_of
from labmark.records import NOT_UNDERSTOOD
from labmark.words import begun

OF_READINGS = frozenset({"initial", "final", "titre", "volume", "reading", "run", "trial", "rough"})
_CLAIMS = {"runs used": "Used", "mean": "Mean titre", "result": "Result", "order": "Order"}
MOST_READ = 100
"""No burette shows more [cm³]."""


def read_table(table: Table, reading: Reading, outside: str = "") -> None:
    """Add a table's students to the reading of the sheet.

    `outside` is the student's name where the table's own cells hold none: a title, the sheet's or the file's name.
    Raises InputError where it cannot be told whose readings these are.
    """
    before = len(reading.students)
    claims = not table.of(*RUN_FIELDS, "volume") and table.names_students
    reading.only_claims = claims and (reading.only_claims or not reading.students)
    reading.named |= {column.header.of or column.header.series for column in table.of(*RUN_FIELDS)}
    settle_columns(table)
    reading.named |= {*table.series.values()}
    _label_column(table, outside)
    settle_groups(table)
    _explain_headers(table, reading)
    _tell_steps(table, reading)
    runs = read_wide(table, reading, outside) if is_wide(table) else None
    if runs is None:
        read_long(table, reading, outside)
    _describe(table, reading, runs)
    _check_understood(table, reading, before)


def _check_understood(table: Table, reading: Reading, before: int) -> None:
    """Say which columns of numbers were not understood; raises InputError where no reading was.

    Of a table of means and results it is asked only where no other one has readings of these students.
    """
    unknown = [
        column
        for column in table.columns
        if not column.header.field and column.header.text and any(map(numberish, table.cells(column)))
    ]
    if not unknown:
        return
    students = reading.students[before:]
    no_reading = bool(students) and not any(student.runs for student in students)
    perhaps = unknown if no_reading else [column for column in unknown if _may_be_reading(table, column)]
    if perhaps:
        what = "no reading was understood; not understood" if no_reading else "may hold readings but are not understood"
        example = plain(perhaps[0].header.text)
        meaning = _example(table, perhaps[0])
        remedy = f'say what they are in a [columns] table, e.g. "{meaning}" = "{example}", or "Ignore" = "{example}"'
        error = column_problem(table, perhaps[0], f"{what}: {_named(table, perhaps)}", remedy)
        if not no_reading or not table.of("mean", "result") or any(_shows_volumes(table, each) for each in unknown):
            raise error
        reading.asked += error.problems
    shown = _named(table, unknown)
    reading.notes.append(f"{NOT_UNDERSTOOD}: {shown}; name them in a [columns] table if they matter")


def _example(table: Table, column: Column) -> str:
    """Return what a column that is not understood may well be: the reading that nothing else holds, or else a titre."""
    fields = {each.header.field for each in table.of(*READINGS)}
    field = next((end for end in ("final", "initial") if fields & {"initial", "final"} and end not in fields), "titre")
    header = column.header
    run = run_name(header.kind, header.number or 1) if is_wide(table) else ""
    return begun(f"{run} {field}".strip())


def _tell_steps(table: Table, reading: Reading) -> None:
    """Say which masses are taken for steps of the sum, and which columns for another table, in case they are not."""
    steps = [column for column in table.of("ignored") if WORKED_OUT in column.header.tags]
    if steps:
        what = f"{_named(table, steps)}: taken for a step of the sum, as it stands behind the readings"
        reading.notes.append(f"{what}; if it was weighed, name it in the practical: {{ column = ... }}")
    if apart := [column for column in table.of("ignored") if APART in column.header.tags]:
        what = f"{_named(table, apart)}: behind an empty column, and taken for another table"
        reading.notes.append(f"{what}; name them in a [columns] table if they are the students'")


def _named(table: Table, columns: list[Column]) -> str:
    return ", ".join(f"{column.header.text!r} ({table.view.line_name(column.at)})" for column in columns[:6])


def _may_be_reading(table: Table, column: Column) -> bool:
    """Return whether a column among the runs, or before the mean, holds numbers as a burette shows them."""
    runs = [each.at for each in table.of(*RUN_FIELDS)]
    claims = [each.at for each in table.of("mean", "result") if runs and each.at > runs[0]]
    end = max(runs[-1], min(claims)) if claims else column.at + 1
    return bool(runs) and runs[0] - 1 <= column.at < end and _shows_volumes(table, column)


def _shows_volumes(table: Table, column: Column) -> bool:
    """Return whether a column holds numbers as a burette shows them, and its heading nothing else."""
    if column.header.tags - OF_READINGS or "%" in column.header.text:
        return False
    unit = unit_of(header_unit(column.header.text))
    numbers = [number for line in table.records if (number := table.number(line, column)) is not None]
    volumes = [number for number in numbers if 0 <= number <= MOST_READ and 0 < decimals_in(number) <= 3]
    if len(numbers) > 2 and len({*numbers}) == 1 and numbers[0]:
        return False  # given to everybody
    return (unit is None or unit.kind == "volume") and 2 * len(volumes) > len(numbers)


def _explain_headers(table: Table, reading: Reading) -> None:
    for column in table.columns:
        for place in column.header_places:
            reading.ignored[place] = HEADING if column.header.field else "header of a column that is not needed"
    for line in table.unit_lines:
        for at in table.view.lines[line]:
            reading.ignored[table.view.place(line, at)] = "header: a unit"


def _label_column(table: Table, outside: str) -> None:
    """Take a column of labels that no header explains for the names, or for the runs where a record is a run."""
    wide = is_wide(table)
    if table.names_students if wide else (table.of("run") or table.view.turned):
        return
    view, own = table.view, own_lines(table)
    lines = [line for line in table.records if line not in own and has_reading(table, line)]
    lines = [line for line in lines if not (wide and is_statistic(table, line, ""))]
    open_ones = ("", "run") if wide else ("", "ignored")
    told = {
        column.at
        for column in table.columns
        if column.header.field not in open_ones and (wide or "which" not in column.header.tags)  # Which run
    }
    # A mean may stand below titres without a label, and the rough alone may have one.
    read = table.of("initial", "final", "both")
    needed = {line for line in lines if wide or any(numberish(table.cell(line, each)) for each in read)} or {*lines}
    for at in sorted({at for line in lines for at in view.lines[line]} - told):
        cells = [cell for line in lines if (cell := view.get(line, at))]
        fits = (len(lines) > 1 or not outside) and _are_names(cells) if wide else _are_runs(table, cells)
        rough = not wide and any(run.kind == "rough" for cell in cells if (run := run_named(cell, table.overrides)))
        if fits and (rough or all(view.get(line, at) for line in needed)):
            header = Header("student", text=NAMES) if wide else Header("run", text="(runs without a header)")
            table.columns = [column for column in table.columns if column.at != at]
            places = [view.place(line, at) for line in table.header_lines if view.get(line, at)]
            table.columns.append(Column(at, header, places))
            table.columns.sort(key=lambda column: column.at)
            return
        before = at < min(column.at for column in table.of(*RUN_FIELDS, "volume"))
        if (
            not wide
            and before
            and len(cells) == len(lines) > 2
            and not any(map(numberish, cells))
            and _are_names(cells)
        ):
            raise nameless(table)  # students, or runs in words that are not known


def _are_names(cells: list[Cell]) -> bool:
    texts = {cell.text for cell in cells if not numberish(cell) or cell.text.isdigit()}
    return len(texts) == len(cells)


def _are_runs(table: Table, cells: list[Cell]) -> bool:
    """Return whether the cells name runs, with a mean and a result below them or not."""
    named = [run_named(cell, table.overrides) for cell in cells]
    others = [cell.text for cell, header in zip(cells, named, strict=True) if header is None and not is_blank(cell)]
    others = [text for text in others if text != "0" and not (len(text) == 1 and text.isupper())]  # 0, A and B
    asked = table.overrides.asked
    claims = all(understand(each, table.overrides).field == "result" or is_symbol(each, asked) for each in others)
    return claims and any(header is not None and header.names_run for header in named)


# --- for the teacher ---


def _describe(table: Table, reading: Reading, runs: Sequence[RawRun] | None) -> None:
    """Say how a table was understood: with `runs` one of a record a student, else one of a record a run."""
    way = "column" if table.view.turned else "row"
    where = f"sheet {table.view.grid.name}: " if table.view.grid.prefix else ""
    long = runs is None and bool(table.of("run", *READINGS))
    reading.understood.append(f"{where}one {way} per " + ("run" if long else f"student, {len(runs or ())} runs"))
    for meaning, column in _meanings(table, runs):
        place, header = table.view.line_name(column.at), column.header.text
        if (meaning, header or place) not in reading.columns:
            reading.columns[meaning, header or place] = place
            reading.understood.append(f"{meaning}: {f'{header!r} ({place})' if header else place}")


def _meanings(table: Table, runs: Sequence[RawRun] | None) -> Iterator[tuple[str, Column]]:
    """Yield the columns that were understood, each with its meaning as it may stand in a [columns] table."""
    names = name_columns(table)
    for column in names:
        field = column.header.field
        yield field.title() if field in ("surname", "forename") else "Student", column
    yield from _fields(table, runs)
    for column in table.of("group", *_CLAIMS):
        header = column.header
        if header.field == "result" and header.names_run:
            yield begun(f"{run_name(header.kind, header.number)} result"), column
        else:
            yield f"{_CLAIMS.get(header.field, header.group)} {header.key.partition(':')[2]}".strip(), column
    yield from ((ABOUT[column.header.field], column) for column in about_columns(table) if column not in names)
    yield from (("Order", column) for column in times_of_work(table))
    for header, column in ((column.header, column) for column in table.of("own") if column.header.group):
        number = f"{run_name(header.kind, header.number)} {header.group[:1].lower()}{header.group[1:]}"
        yield begun(number) if header.names_run else header.group, column


def _fields(table: Table, runs: Sequence[RawRun] | None) -> Iterator[tuple[str, Column]]:
    """Yield what holds the readings, with its meaning."""
    for run in runs or ():
        for key, column in run.columns.items():
            yield _begun(f"{run.name} {_reading(key)}", run.series), column
    of_runs = (*table.of("run", "titration"), *table.of(*READINGS, "used", "used at")) if runs is None else ()
    for column in of_runs:
        header = column.header
        yield _begun(" ".join(filter(None, (header.series, _reading(header.key)))), header.series or header.of), column


def _reading(key: str) -> str:
    """Return what a cell of a run is called: initial, phenolphthalein, titre methyl orange."""
    field, _, endpoint = key.partition(":")
    if not endpoint:
        return "readings" if key == "both" else key
    return f"{field.removesuffix(' at')} {endpoint}".removeprefix("final ")


def _begun(meaning: str, name: str) -> str:
    """Return a meaning with a capital, unless it begins with a name that the practical gives."""
    return meaning if name and meaning.startswith(name) else begun(meaning)
