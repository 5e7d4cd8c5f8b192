"""How a table was understood, for the teacher: layout, and which column is what."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from labmark.read.headers import ABOUT, READINGS, Header
from labmark.read.layouts.columns import RunColumns, run_name
from labmark.read.layouts.lines import about_columns, times_of_work
from labmark.read.layouts.view import Column, Table
from labmark.read.model import Reading
from labmark.words import begun

_CLAIMS = {"runs used": "Used", "mean": "Mean titre", "result": "Result", "order": "Order"}


def describe(table: Table, reading: Reading, names: list[Column], runs: Sequence[RunColumns] | None = None) -> None:
    """Say how a table was understood: with `runs` one of a record a student, else one of a record a run."""
    way = "column" if table.view.turned else "row"
    where = f"sheet {table.view.grid.name}: " if table.view.grid.prefix else ""
    long = runs is None and bool(table.of("run", *READINGS))
    reading.understood.append(f"{where}one {way} a " + ("run" if long else f"student, {len(runs or ())} runs"))
    for column in names:
        field = column.header.field
        _map(reading, table, field.title() if field in ("surname", "forename") else "Student", column)
    for meaning, column in (*_fields(table, runs), *_claims(table)):
        _map(reading, table, meaning, column)
    for column in about_columns(table):
        if ("Student", column.header.text) not in reading.columns:
            _map(reading, table, ABOUT[column.header.field], column)
    for column in times_of_work(table):
        _map(reading, table, "Order", column)
    for column in table.of("own"):
        if column.header.group:
            _map(reading, table, _own_name(column.header), column)


def _fields(table: Table, runs: Sequence[RunColumns] | None) -> Iterator[tuple[str, Column]]:
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


def _claims(table: Table) -> Iterator[tuple[str, Column]]:
    for column in table.of("group", *_CLAIMS):
        header = column.header
        if header.field == "result" and header.names_run:
            yield f"{run_name(header.kind, header.number)} result".capitalize(), column
        else:
            yield f"{_CLAIMS.get(header.field, header.group)} {header.key.partition(':')[2]}".strip(), column


def _own_name(header: Header) -> str:
    """Return what a number of the students' own is called in a [columns] table: "Mass", "Run 1 mass"."""
    if not header.names_run:
        return header.group
    return f"{run_name(header.kind, header.number)} ".capitalize() + f"{header.group[:1].lower()}{header.group[1:]}"


def _map(reading: Reading, table: Table, meaning: str, column: Column) -> None:
    place, header = table.view.line_name(column.at), column.header.text
    if (meaning, header or place) not in reading.columns:
        reading.columns[meaning, header or place] = place
        reading.understood.append(f"{meaning}: {f'{header!r} ({place})' if header else place}")
