"""The fields of a table -> its runs: which columns belong to which run."""

from collections.abc import Iterable, Sequence
from decimal import Decimal

from labmark.dataclass import replace
from labmark.problems import InputError
from labmark.read.headers import RUN_FIELDS, Header
from labmark.read.layouts.view import Column, Table
from labmark.read.model import RawRun
from labmark.read.words import folded

_NAME_RUNS = "name the run in each header, or say which is which in a [columns] table"


def is_wide(table: Table) -> bool:
    """Return whether each record holds several runs: the headers name runs, or a reading comes more than once."""
    reading = table.of(*RUN_FIELDS)
    if any(column.header.names_run for column in reading):
        return True
    fields = [(column.header.series, column.header.key) for column in reading]
    return len(fields) != len(set(fields))


def run_columns(table: Table) -> list[RawRun]:
    """Return the runs of a wide table, in the order of the sheet."""
    runs: list[RawRun] = []
    current: RawRun | None = None
    for column in table.of(*RUN_FIELDS):
        current = _run_for(column, runs, current)
        _add_column(table, current, column)
    for run in runs:  # a column that names only its run holds the titre where the run has readings of its own
        ends, value = {"initial", "final"} & run.columns.keys(), run.columns.get("value")
        doubtful = "titre" in run.columns and len(ends) == 1
        if value is not None and ends and not (doubtful and table.cells(value)):
            _add_column(table, run, run.columns.pop("value"))
    _check_halves(table, runs)
    _check_ends(table, runs)
    found = by_series(runs)
    # Where every reading's header names its run, the numbers tell the order, not the places.
    named = all(column.header.names_run for column in table.of(*RUN_FIELDS) if column.header.field != "used")
    for series in found:
        settle_trials(series)
        number_runs(series)
        if named:
            series.sort(key=lambda run: (run.kind != "rough", run.number or 0))
    return [run for series in found for run in series]


def _add_column(table: Table, run: RawRun, column: Column) -> None:
    """Add a column to its run, in the place of a blank one; raises InputError where the run has another such one."""
    key = column.header.key
    if key == "value" and {"initial", "final"} & run.columns.keys():
        key = "titre"
    before = run.columns.get(key)
    if before is not None and table.cells(before):
        lines = [line for line in table.records if table.cell(line, column)]
        both = [(table.number(line, column), table.number(line, before)) for line in lines]
        if not lines or (key == "titre" and all(own == other is not None for own, other in both)):
            return  # empty, or the same titres to two decimals
        also = f"({column.header.text!r}, also in {table.view.line_name(before.at)})"
        endpoints = " or ".join(table.overrides.several.endpoints)
        remedy = _NAME_RUNS.replace("run", f"run and {endpoints}", 1) if endpoints else _NAME_RUNS
        raise column_problem(table, column, f"two columns seem to be the same thing {also}", remedy)
    run.columns[key] = column


def by_series(runs: Sequence[RawRun]) -> list[list[RawRun]]:
    """Return the runs of each titration, in the order of the sheet."""
    return [[run for run in runs if run.series == name] for name in dict.fromkeys(run.series for run in runs)]


def _check_ends(table: Table, runs: list[RawRun]) -> None:
    """Raise InputError where a column that names only its run, beside initial readings, is titre or final reading."""
    for run in runs:
        titre, starts = run.columns.get("titre"), run.columns.get("initial")
        if titre is None or starts is None or titre.header.field != "value" or "final" in run.columns:
            continue
        if any(table.number(line, starts) for line in table.records):
            raise _either(table, titre, run, "final")


def _either(table: Table, column: Column, run: RawRun, end: str) -> InputError:
    """Return the error for a column that may be a run's titre or one of its readings."""
    what = f"{column.header.text!r} may be the {end} reading of {run.name}, or its titre"
    do = f'say which, e.g. "{run.name.capitalize()} {end}" = "{column.header.text}" in a [columns] table'
    return column_problem(table, column, what, do)


def _check_halves(table: Table, runs: list[RawRun]) -> None:
    """Raise InputError where one run has only an initial column and another only a final one: they may be one run."""
    starts = [run for run in runs if "initial" in run.columns and "final" not in run.columns]
    ends = [run for run in runs if "final" in run.columns and "initial" not in run.columns]
    if starts and ends:
        column = starts[0].columns["initial"]
        what = f"it cannot be told which run {column.header.text!r} belongs to"
        raise column_problem(table, column, what, _NAME_RUNS)


def drop_halves(table: Table, runs: list[RawRun]) -> list[str]:
    """Take away the readings of runs whose other reading the sheet does not ask for, and say so: nobody lacks it.

    Final readings alone, in a sheet that has no titres either, are the titres of a burette that was filled to 0.
    """
    notes: dict[str, None] = {}
    alone = not any({"initial", "titre", "both", "value"} & run.columns.keys() for run in runs)
    for run in runs:
        for key, other in (("initial", "final"), ("final", "initial")):
            if key not in run.columns or not _is_left_out(table, run, key, other):
                continue
            titre = run.columns.get("titre")
            unsaid = titre is not None and titre.header.field == "value" and titre.header.unknown
            if titre is not None and key == "final" and unsaid and not _has_unknown(table, run):
                raise _either(table, titre, run, other)
            column = run.columns.pop(key)
            run.columns.pop(other, None)
            if alone:
                run.columns["titre"] = column
                notes["there are no initial readings: the final readings are taken for titres, from 0.00"] = None
            else:
                notes[f"there is no {other} reading of {run.name}: its {key} readings were not used"] = None
    for run in runs:
        lone = [column for key, column in run.columns.items() if key == "used" and len(run.columns) == 1]
        if lone and not lone[0].header.names_run and table.cells(lone[0]):
            what = f"it cannot be told which run {lone[0].header.text!r} is of"
            raise column_problem(table, lone[0], what, _NAME_RUNS)
    runs[:] = [run for run in runs if run.columns.keys() - {"used"}]
    if not runs and any(table.number(line, column) for column in table.of("initial") for line in table.records):
        what, do = "nobody has a final reading or a titre", "fill in the final readings, or name their columns"
        raise column_problem(table, table.of("initial")[0], what, do)
    return list(notes)


def _has_unknown(table: Table, run: RawRun) -> bool:
    """Return whether a column that is not understood stands among those of a run, or right beside them."""
    ats = [column.at for column in run.columns.values()]
    return any(min(ats) - 1 <= column.at <= max(ats) + 1 and table.cells(column) for column in table.of(""))


def _is_left_out(table: Table, run: RawRun, key: str, other: str) -> bool:
    """Return whether nobody was asked for the other reading: it has no column, or several have only this one."""
    if any("again" in field or " at:" in field or field == "both" for field in run.columns):
        return False
    filled = {at: len(table.cells(run.columns[at])) for at in (key, other) if at in run.columns}
    return other not in filled or (not filled[other] and filled[key] > 1)


def _run_for(column: Column, runs: list[RawRun], current: RawRun | None) -> RawRun:
    """Return the run that a column belongs to; a column that names none goes with its neighbour on the left."""
    header = column.header
    kind, trial = header.kind if header.kind in ("rough", "blank") else "accurate", False
    if header.names_run or "trial" in header.tags:
        trial = "trial" in header.tags and kind != "rough"
        named = (kind, header.number, trial, header.series)
        same = [run for run in runs if (run.kind, run.number, run.trial, run.series) == named]
        same = same or [run for run in runs if not header.kind and _is_its_titre(header, run)]
        free = [run for run in same if header.key not in run.columns]
        if free or (same and header.number is not None):
            return (free or same)[0]
    elif current is not None and header.series in ("", current.series) and _is_free(header, current):
        return current
    runs.append(RawRun(kind, header.number, series=header.series, trial=trial))
    return runs[-1]


def _is_free(header: Header, run: RawRun) -> bool:
    """Return whether a run has room for a column that names none: Rough alone is its titre already."""
    has_titre = "value" in run.columns and not {"initial", "final"} & run.columns.keys()
    return header.key not in run.columns and not (header.field == "titre" and has_titre)


def _is_its_titre(header: Header, run: RawRun) -> bool:
    """Return whether a heading names a rough by its number alone: 1 titre behind 1 (rough) initial and final."""
    alike = run.kind == "rough" and header.number is not None and header.number == run.number
    return alike and header.field == "titre" and {"initial", "final"} <= run.columns.keys()


def column_problem(table: Table, column: Column, what: str, remedy: str) -> InputError:
    """Return the error for a column that cannot be told apart, with the cell of its header."""
    where = column.header_places[0] if column.header_places else None
    return InputError(table.view.grid.problem(what, remedy, where))


def settle_trials(runs: Sequence[RawRun]) -> None:
    """Decide what "trial" means: the rough where other runs are called otherwise or carry numbers, else just a run.

    Where every run is called rough, approximate or a trial run, the word tells nothing: they are ordinary runs.
    One that is called anything else and stands before run 1 is the rough, if the others go by numbers; one that is
    called a trial wherever it stands.
    """
    zero = next((run for run in runs if run.number == 0 and len(runs) > 1), None)
    others = [run for run in runs if not run.trial]
    numbered = [run.number for run in runs if run.trial and run.number is not None]
    of_runs = len(numbered) > 1 and not {*numbered} & {run.number for run in others}
    done = [run for run in runs if run.kind != "blank"]
    bare = [run for run in done if run.number is None]
    known = any(run.kind == "rough" for run in runs)
    if zero is not None and not known:  # who counts the rough, counts it 0
        zero.kind, zero.number, zero.zero = "rough", None, True
    elif not known and len(bare) == 1 in {run.number for run in done} and (bare[0].trial or bare[0] is done[0]):
        bare[0].kind = "rough"
    elif not known and not of_runs:
        for run in runs:
            if run.trial and (others or (run.number is None and len(runs) > 1)):
                run.kind = "rough"
    if len(runs) > 1 and all(run.kind == "rough" for run in runs):
        for run in runs:
            run.kind = "accurate"


def number_runs(runs: Sequence[RawRun]) -> None:
    """Give each accurate run without a number the next free one."""
    taken = {run.number for run in runs if run.kind == "accurate"}
    following = 1
    for run in runs:
        if run.kind == "accurate" and run.number is None:
            while following in taken:
                following += 1
            run.number = following
            taken.add(following)


def take(columns: Iterable[Column], field: str) -> None:
    """Take columns for a field, whatever their headers say."""
    for column in columns:
        column.header = replace(column.header, field=field)


def gap_between(table: Table, line: int, first: Column, second: Column) -> Decimal | None:
    """Return the second number of a record less the first; None unless both are numbers."""
    before, after = table.number(line, first), table.number(line, second)
    return None if before is None or after is None else after - before


def is_said(table: Table, column: Column) -> bool:
    """Return whether the practical or the teacher says what a column is."""
    return bool({folded(column.header.text), table.view.line_name(column.at)} & table.overrides.keys())
