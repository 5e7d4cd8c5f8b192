"""From the tables of a class to its students as plain facts."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from labmark.analyse.concordance import Concordance
from labmark.analyse.titres import NONE, RunTable
from labmark.facts import Asked, Run, Student
from labmark.volumes import PER_CM3

if TYPE_CHECKING:
    import pandas as pd


def asked(runs: pd.DataFrame, students: pd.DataFrame, table: RunTable) -> Asked:
    """Return what the sheet had room for: a column counts as asked for where anybody filled it."""
    return Asked(
        readings=table.from_readings,
        titres=bool(runs["titre"].notna().any()),
        ticks=bool(runs["ticked"].notna().any()),
        mean=any("mean" in cells for cells in students["cells"]),
        result=any("result" in cells for cells in students["cells"]),
    )


def students_of(runs: pd.DataFrame, students: pd.DataFrame, table: RunTable, sets: Concordance) -> Iterator[Student]:
    """Yield the students of a class in the order of the sheet.

    runs, students   the tables (see labmark.records)
    table, sets      what `run_table` and `concordance` made of them, matrices (n, r)
    """
    run_columns = _columns(runs)
    student_columns = _columns(students)
    # Plain lists: reading single items of an array costs ten times as much.
    facts = {
        name: getattr(table, name).tolist() for name in ("row", "titre", "reversed", "off_scale", "missing", "usable")
    }
    in_mean = sets.in_mean.tolist()
    for place in range(len(students)):
        made = tuple(
            _run(run_columns, {name: rows[place][each] for name, rows in facts.items()}, in_mean[place][each])
            for each in range(len(facts["row"][place]))
            if facts["row"][place][each] >= 0
        )
        yield _student(place, student_columns, made, table, sets)


def _columns(frame: pd.DataFrame) -> dict[str, list[Any]]:
    """Return the columns of a table as lists, None where a value is missing."""
    made = {}
    for name, column in frame.items():
        kind = str(column.dtype)
        made[str(name)] = (
            column.astype(object).where(column.notna(), None).tolist()
            if kind in ("Int64", "boolean")
            else column.tolist()
        )
    return made


def _run(columns: dict[str, list[Any]], facts: dict[str, Any], in_mean: bool) -> Run:
    row = facts["row"]
    of = {name: values[row] for name, values in columns.items()}
    return Run(
        label=str(of["label"]),
        rough=of["kind"] == "rough",
        initial=of["initial"],
        final=of["final"],
        initial_decimals=of["initial_decimals"],
        final_decimals=of["final_decimals"],
        titre=None if facts["titre"] == NONE else facts["titre"],
        written=of["titre"],
        written_decimals=of["titre_decimals"],
        parts=tuple(of["parts"] or ()),
        ticked=of["ticked"],
        struck=bool(of["struck"]),
        reversed=facts["reversed"],
        off_scale=facts["off_scale"],
        missing=facts["missing"],
        usable=facts["usable"],
        in_mean=in_mean,
        cells=of["cells"] or {},
        odd=of["odd"] or {},
        spoilt=tuple(of.get("spoilt") or ()),
    )


def _student(
    place: int, columns: dict[str, list[Any]], runs: tuple[Run, ...], table: RunTable, sets: Concordance
) -> Student:
    of = {name: values[place] for name, values in columns.items()}
    count = int(sets.count[place])
    span, tightest = int(sets.span[place]), int(sets.tightest[place])
    return Student(
        number=place + 1,
        name=str(of["student"]),
        runs=runs,
        groups=of["groups"] or {},
        absent=bool(of["absent"]),
        counts_down=bool(table.counts_down[place]),
        concordant=bool(sets.concordant[place]),
        mean=Fraction(int(sets.total[place]), count * PER_CM3) if count else None,
        span=span if span >= 0 else None,
        tightest=tightest if tightest >= 0 else None,
        sets=sets.sets(place),
        own_mean=of["mean"],
        own_mean_decimals=of["mean_decimals"],
        own_result=of["result"],
        own_result_decimals=of["result_decimals"],
        cells=of["cells"] or {},
        odd=of["odd"] or {},
        spoilt=tuple(of.get("spoilt") or ()),
        notes=tuple(of["notes"] or ()),
        order=of["order"],
    )
