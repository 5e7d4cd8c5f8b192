"""How a table was understood, for the teacher: layout, and which column is what."""

from __future__ import annotations

from labmark.read.headers import ABOUT, Header
from labmark.read.layouts.columns import RunColumns
from labmark.read.layouts.lines import times_of_work
from labmark.read.layouts.view import Column, Table
from labmark.read.model import Reading


def describe_wide(table: Table, reading: Reading, runs: list[RunColumns], names: list[Column]) -> None:
    """Say how a table of one record a student was understood."""
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


def describe_long(table: Table, reading: Reading, names: list[Column], runs_at: list[Column]) -> None:
    """Say how a table of one record a run was understood."""
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


def _header_name(column: Column, table: Table) -> str:
    return (
        f"{column.header.text!r} ({table.view.line_name(column.at)})"
        if column.header.text
        else table.view.line_name(column.at)
    )


def _run_label(run: RunColumns) -> str:
    if run.kind == "blank":
        return run.label
    if run.kind == "rough":
        return f"Rough {run.number}" if run.number and run.number > 1 else "Rough"
    return f"Run {run.number}"


def _map_claims(table: Table, reading: Reading) -> None:
    names = {"runs used": "Used", "mean": "Mean titre", "result": "Result", "order": "Order"}
    for column in table.of("group", *names):
        if column.header.field == "result" and column.header.names_run:
            _map(reading, table, f"{_run_label(RunColumns(column.header.kind, column.header.number))} result", column)
            continue
        meaning = names.get(column.header.field, column.header.group)
        _map(reading, table, meaning, column)
    for column in table.of(*ABOUT):
        if ("Student", column.header.text) not in reading.columns:
            _map(reading, table, ABOUT[column.header.field], column)
    for column in times_of_work(table):
        _map(reading, table, "Order", column)
    for column in table.of("own"):
        if column.header.group:
            _map(reading, table, _own_name(column.header), column)


def _own_name(header: Header) -> str:
    """Return what a number of the students' own is called in a [columns] table: "Mass", "Run 1 mass"."""
    if not header.names_run:
        return header.group
    run = _run_label(RunColumns(header.kind or "accurate", header.number))
    return f"{run} {header.group[:1].lower()}{header.group[1:]}"


def _map(reading: Reading, table: Table, meaning: str, column: Column) -> None:
    entry = (meaning, column.header.text or table.view.line_name(column.at))
    if entry not in reading.columns:
        reading.columns.append(entry)
        reading.understood.append(f"{meaning}: {_header_name(column, table)}")
