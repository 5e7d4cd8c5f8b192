"""The two tables of a large class, made a whole column at a time."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from labmark.read.bulk_table import NO_TICK, BulkTable, field_filled, run_filled
from labmark.read.fields import NUMBER, Array
from labmark.read.grid import column_letters
from labmark.read.layouts.view import Column
from labmark.read.tables import CM3, Maker
from labmark.read.words import plain
from labmark.records import RUN_COLUMNS, STUDENT_COLUMNS

if TYPE_CHECKING:
    import pandas as pd


def run_frame(table: BulkTable, rows: Array) -> tuple[pd.DataFrame, Array]:
    """Return the runs of these rows, and for each the number of its row in the table."""
    import pandas as pd

    from labmark.read.addresses import AddressArray

    runs = table.plan.runs
    there = np.stack([run_filled(table, run)[rows] for run in runs], axis=1)
    owners = _picked(np.broadcast_to(np.arange(len(rows))[:, None], there.shape), there)
    frame: dict[str, Any] = {"student": owners.astype(np.int64)}
    which = _picked(np.broadcast_to(np.arange(len(runs)), there.shape), there)
    frame["label"] = pd.array([run.label for run in runs], dtype="str").take(which)
    frame["kind"] = pd.array([run.kind for run in runs], dtype="str").take(which)
    for key in ("initial", "final", "titre"):
        frame[key], frame[f"{key}_decimals"] = _volumes(table, key, rows, there)
    frame["parts"] = _same((), len(owners))
    frame["ticked"] = _ticked(table, rows, there)
    frame["struck"] = np.zeros(len(owners), bool)
    frame["cells"] = AddressArray(*_run_cells(table, rows, there))
    frame["odd"] = _same({}, len(owners))
    frame["spoilt"] = _same((), len(owners))
    return pd.DataFrame({name: frame[name] for name in RUN_COLUMNS}, copy=False), rows[owners]


_UNITS = np.array([CM3, 100, 10, 1])
"""Microlitres of a last digit, by the number of decimals."""


def _chosen(table: BulkTable, rows: Array) -> Any:
    """Return what picks the rows: nothing need be copied where it is all of them."""
    return slice(None) if len(rows) == table.count else rows


def _volumes(table: BulkTable, key: str, rows: Array, there: Array) -> tuple[Any, Any]:
    """Return one field of all runs in microlitres, and the decimals written."""
    import pandas as pd

    shape, chosen = there.shape, _chosen(table, rows)
    volume, decimals, missing = np.zeros(shape, np.int64), np.zeros(shape, np.int64), np.ones(shape, bool)
    for at, run in enumerate(table.plan.runs):
        if key in run.columns:
            numbers = table.numbers[run.columns[key].at]
            places = numbers.decimals[chosen]
            volume[:, at] = numbers.digits[chosen] * _UNITS[np.minimum(places, 3)]
            decimals[:, at] = places
            missing[:, at] = numbers.state[chosen] != NUMBER
    unknown = missing if table.grid.keeps_zeros else np.ones(shape, bool)
    volume[missing], decimals[unknown] = 0, 0
    return (
        pd.arrays.IntegerArray(_picked(volume, there), _picked(missing, there)),
        pd.arrays.IntegerArray(_picked(decimals, there), _picked(unknown, there).copy()),
    )


def _ticked(table: BulkTable, rows: Array, there: Array) -> Any:
    import pandas as pd

    ticks = np.full(there.shape, NO_TICK, np.int8)
    may = np.zeros(there.shape, bool)
    for at, run in enumerate(table.plan.runs):
        if "used" in run.columns:
            ticks[:, at] = table.ticks[run.columns["used"].at][_chosen(table, rows)]
            may[:, at] = run.kind == "accurate"
    any_tick: Array = np.any(ticks > 0, axis=1, keepdims=True)
    missing = (ticks == NO_TICK) & ~(may & any_tick)
    return pd.arrays.BooleanArray(_picked(ticks > 0, there), _picked(missing, there))


def _run_cells(table: BulkTable, rows: Array, there: Array) -> tuple[Array, Array, list[Any]]:
    kinds = np.zeros(there.shape, np.int32)
    patterns: list[Any] = []
    for at, run in enumerate(table.plan.runs):
        keys = [key for key in ("initial", "final", "titre", "used") if key in run.columns]
        bits = sum(field_filled(table, run.columns[key], rows).astype(np.int32) << bit for bit, key in enumerate(keys))
        kinds[:, at] = bits + len(patterns)
        patterns += [
            tuple((key, column_letters(run.columns[key].at)) for bit, key in enumerate(keys) if mask >> bit & 1)
            for mask in range(1 << len(keys))
        ]
    numbers = np.broadcast_to((rows + table.first_row).astype(np.int32)[:, None], there.shape)
    return _picked(numbers, there), _picked(kinds, there), patterns


def student_frame(table: BulkTable, rows: Array) -> pd.DataFrame:
    """Return the students of these rows."""
    import pandas as pd

    from labmark.read.addresses import AddressArray

    count = len(rows)
    names = table.names if count == table.count else [table.names[row] for row in rows.tolist()]
    frame: dict[str, Any] = {"student": pd.array(names, dtype="str")}
    frame["groups"] = _groups(table, rows)
    for key, column in (("mean", table.plan.mean), ("result", table.plan.result)):
        frame[key], frame[f"{key}_decimals"] = _claims(table, column, rows)
    frame["cells"] = AddressArray(rows.astype(np.int64) + table.first_row, *_student_cells(table, rows))
    frame["odd"] = _same({}, count)
    frame["spoilt"] = _same((), count)
    frame["absent"] = np.zeros(count, bool)
    frame["order"] = pd.arrays.IntegerArray(np.zeros(count, np.int64), np.ones(count, bool))
    frame["notes"] = _same((), count)
    return pd.DataFrame({name: frame[name] for name in STUDENT_COLUMNS}, copy=False)


def _groups(table: BulkTable, rows: Array) -> Array:
    columns = table.plan.groups
    if not columns:
        return _same({}, len(rows))
    if len(columns) == 1:
        texts = table.fields.texts(columns[0].at - 1)
        one = {text: {columns[0].header.group: plain(text)} if text else {} for text in set(texts)}
        return np.fromiter(map(one.__getitem__, texts), object, table.count)[rows]
    keys = list(zip(*(table.fields.texts(column.at - 1) for column in columns), strict=True))
    known = {
        key: {column.header.group: plain(text) for column, text in zip(columns, key, strict=True) if text}
        for key in set(keys)
    }
    return np.fromiter(map(known.__getitem__, keys), object, table.count)[rows]


def _claims(table: BulkTable, column: Column | None, rows: Array) -> tuple[Array, Any]:
    """Return the students' own figures as decimals, one object for all that are alike, and the decimals written."""
    import pandas as pd

    if column is None:
        return _same(None, len(rows)), pd.arrays.IntegerArray(np.zeros(len(rows), np.int64), np.ones(len(rows), bool))
    numbers = table.numbers[column.at]
    digits, decimals, state = numbers.digits[rows], numbers.decimals[rows], numbers.state[rows]
    keys, inverse = np.unique(np.where(state == NUMBER, digits * 16 + decimals, -1), return_inverse=True)
    values = np.empty(len(keys), object)
    for at, key in enumerate(keys.tolist()):
        values[at] = None if key < 0 else Decimal(key >> 4).scaleb(-(key & 15))
    unknown = (state != NUMBER) | (not table.grid.keeps_zeros)
    return values[inverse], pd.arrays.IntegerArray(np.where(unknown, 0, decimals), unknown)


def _student_cells(table: BulkTable, rows: Array) -> tuple[Array, list[Any]]:
    fields = [("student", table.plan.name), *((column.header.group, column) for column in table.plan.groups)]
    fields += [(key, column) for key, column in (("mean", table.plan.mean), ("result", table.plan.result)) if column]
    kinds = sum(field_filled(table, column, rows).astype(np.int64) << bit for bit, (_, column) in enumerate(fields))
    patterns = [
        tuple((key, column_letters(column.at)) for bit, (key, column) in enumerate(fields) if mask >> bit & 1)
        for mask in range(1 << len(fields))
    ]
    return cast("Array", kinds), patterns


def _picked(array: Array, there: Array) -> Array:
    """Return the entries of the runs that are there, student by student."""
    return array.ravel() if there.all() else array[there]


def _same(value: object, count: int) -> Array:
    array = np.empty(count, object)
    array.fill(value)
    return array


def merged(
    runs: pd.DataFrame, owners: Array, students: pd.DataFrame, clean: Array, maker: Maker, rows: list[int]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Put the students that were read the ordinary way back into their places."""
    import pandas as pd

    from labmark.read.addresses import AddressArray

    more_runs, more_students = maker.frames()
    for frame in (more_runs, more_students):
        frame["cells"] = AddressArray._from_sequence(frame["cells"])
    places = np.concatenate([clean, np.array(rows, np.int64)])
    order = np.argsort(places, kind="stable")
    number_of = {int(place): number for number, place in enumerate(places[order].tolist())}
    more_owners = (
        np.array(rows, np.int64)[more_runs["student"].to_numpy()] if len(more_runs) else np.array([], np.int64)
    )
    run_places = np.concatenate([owners, more_owners])
    run_order = np.argsort(run_places, kind="stable")
    joined = pd.concat([runs, more_runs], ignore_index=True).take(run_order).reset_index(drop=True)
    joined["student"] = np.array([number_of[place] for place in run_places[run_order].tolist()], np.int64)
    return joined, pd.concat([students, more_students], ignore_index=True).take(order).reset_index(drop=True)
