"""A class as it was read, looked at column by column: what stands of all runs, or of all students, under one name."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from labmark.facts import Run, Student
from labmark.records import ClassSheet
from tests.build import OF_BOTH, OF_RUN, OF_STUDENT

_RECORDED_OF_RUN = (
    *("label", "series", "initial", "final", "initial_decimals", "final_decimals", "titre", "titre_decimals", "parts"),
    *("ticked", "struck", "cells", "odd", "why", "spoilt", "inputs", "result", "result_decimals"),
)
_RECORDED_OF_STUDENT = (
    *("student", "groups", "about", "mean", "mean_decimals", "result", "result_decimals", "result_unit", "cells"),
    *("odd", "absent", "order", "notes", "inputs"),
)


class Columns:
    """Records of one kind as columns."""

    def __init__(self, records: Iterable[Mapping[str, Any]]) -> None:
        self._records = list(records)

    def __getitem__(self, name: str) -> list[Any]:
        return [each[name] for each in self._records]

    def __len__(self) -> int:
        return len(self._records)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Columns) and self._records == other._records

    __hash__ = None  # type: ignore[assignment]

    def rows(self) -> list[dict[str, Any]]:
        """Return the records."""
        return [dict(each) for each in self._records]

    def without(self, *names: str) -> Columns:
        """Return the same without some columns."""
        return Columns({key: value for key, value in each.items() if key not in names} for each in self._records)


def runs_of(sheet: ClassSheet) -> Columns:
    """Return the runs of a class, with the places of their students and what kind they are."""
    return Columns(_run(place, run) for place, one in enumerate(sheet.students) for run in one.runs)


def _run(place: int, run: Run) -> dict[str, Any]:
    known = OF_RUN | OF_BOTH
    told = {name: getattr(run, known.get(name, name)) for name in _RECORDED_OF_RUN}
    return {"student": place, "kind": "rough" if run.rough else "accurate", **told}


def students_of(sheet: ClassSheet) -> Columns:
    """Return the students of a class."""
    return Columns(map(_student, sheet.students))


def _student(one: Student) -> dict[str, Any]:
    known = OF_STUDENT | OF_BOTH
    told = {name: getattr(one, known.get(name, name)) for name in _RECORDED_OF_STUDENT}
    several = {"mean": one.several_means, "result": one.several_results}
    return {**told, "several": {name: own for name, own in several.items() if own}}
