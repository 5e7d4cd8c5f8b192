"""The columns of a large plain table, understood from its first lines."""

from __future__ import annotations

from dataclasses import dataclass

from labmark.read.grid import Grid
from labmark.read.headers import Overrides
from labmark.read.layouts.columns import RunColumns, is_wide
from labmark.read.layouts.lines import name_columns, times_of_work
from labmark.read.layouts.records import prepare
from labmark.read.layouts.sheet import find_tables
from labmark.read.layouts.view import Column, Table
from labmark.read.layouts.wide import runs_of

CM3 = 1000
_READINGS = ("initial", "final", "titre")


@dataclass(slots=True)
class Plan:
    """Which column of a plain table is what."""

    header_lines: int
    """Lines down to the first record."""
    name: Column
    groups: list[Column]
    runs: list[RunColumns]
    mean: Column | None
    result: Column | None

    @property
    def number_columns(self) -> list[Column]:
        """The columns of numbers, each once."""
        found = [run.columns[key] for run in self.runs for key in _READINGS if key in run.columns]
        return found + [column for column in (self.mean, self.result) if column is not None]

    @property
    def needed(self) -> list[Column]:
        """Every column that goes into the tables."""
        ticks = [run.columns["used"] for run in self.runs if "used" in run.columns]
        return sorted([self.name, *self.groups, *self.number_columns, *ticks], key=lambda column: column.at)


def plan_of(grid: Grid, overrides: Overrides, group_by: str, outside: str) -> Plan | None:
    """Return the plan of a plain table (one, upright, a row a student); None for any other sheet."""
    tables = find_tables(grid, overrides, group_by)
    if len(tables) != 1 or tables[0].view.turned:
        return None
    table = tables[0]
    prepare(table, outside)
    if not is_wide(table) or table.of("order") or times_of_work(table) or _has_notes(table):
        return None
    names, runs = name_columns(table), runs_of(table)
    if len(names) != 1 or any("both" in run.columns for run in runs) or not _in_cm3(table):
        return None
    lines = max([*table.header_lines, *table.unit_lines])
    claims = {field: next(iter(table.of(field)), None) for field in ("mean", "result")}
    groups = {column.header.group: column for column in reversed(table.of("group"))}
    return Plan(lines, names[0], list(reversed(groups.values())), runs, claims["mean"], claims["result"])


def _in_cm3(table: Table) -> bool:
    fields = (*_READINGS, "value", "mean")
    return all(column.header.scale in (None, CM3) for column in table.of(*fields))


def _has_notes(table: Table) -> bool:
    return any("note" in column.header.tags for column in table.columns)
