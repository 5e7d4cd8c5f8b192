"""Short constructors for tests: students and runs written as they stand in a class sheet, volumes in cm³ as text."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import numpy as np

from labmark.agreeing import with_mean
from labmark.analyse.titres import with_titres
from labmark.diagnose.bench_input import RunMatrix
from labmark.exact import microlitres
from labmark.facts import Run, Student


def ul(text: str | None) -> int | None:
    """Return a volume as written [cm³] in microlitres."""
    return None if text is None else microlitres(Decimal(text))


def decimals(text: str | None) -> int | None:
    """Return how many decimals were written."""
    return None if text is None else len(text.partition(".")[2])


def run(
    label: str, readings: str = "", titre: str | None = None, *, tick: bool | None = None, **more: Any
) -> dict[str, Any]:
    """Return a run as it is recorded: run("1", "0.00 24.35", "24.35"); "-" stands for a reading that is missing."""
    initial, final = ([None if each == "-" else each for each in readings.split()] + [None, None])[:2]
    row = {
        "label": label,
        "series": "",
        "kind": "rough" if label == "Rough" else "accurate",
        "initial": ul(initial),
        "final": ul(final),
        "initial_decimals": decimals(initial),
        "final_decimals": decimals(final),
        "titre": ul(titre),
        "titre_decimals": decimals(titre),
        "parts": (),
        "ticked": tick,
        "struck": False,
        "cells": {
            what: f"{label}:{what}"
            for what, there in (("initial", initial), ("final", final), ("titre", titre))
            if there
        },
        "odd": {},
        "why": {},
        "spoilt": (),
        "inputs": {},
        "result": None,
        "result_decimals": None,
    }
    return row | more


OF_RUN = {"titre": "written", "titre_decimals": "written_decimals"}
OF_STUDENT = {"student": "name", "mean": "own_mean", "mean_decimals": "own_mean_decimals"}
OF_BOTH = {"result": "own_result", "result_decimals": "own_result_decimals", "result_unit": "own_result_unit"}
"""Short names for what was written -> fields of the records."""


def people(*students: tuple[dict[str, Any], list[dict[str, Any]]]) -> tuple[Student, ...]:
    """Return the students as they were recorded, of (student, runs) pairs."""
    return tuple(_recorded(place, own, rows) for place, (own, rows) in enumerate(students, start=1))


def _recorded(place: int, own: dict[str, Any], rows: list[dict[str, Any]]) -> Student:
    several = own.get("several", {})
    named = {f"several_{what}s": several.get(what, {}) for what in ("mean", "result")}
    given = {"student": f"S{place:02d}", "absent": not rows} | {key: own[key] for key in own if key != "several"}
    runs = tuple(Run(rough=row["kind"] == "rough", **_renamed(row, OF_RUN)) for row in rows)
    return Student(place, runs=runs, **named, **_renamed(given, OF_STUDENT))


def _renamed(given: dict[str, Any], names: dict[str, str]) -> dict[str, Any]:
    known = names | OF_BOTH
    return {known.get(key, key): value for key, value in given.items() if key != "kind"}


def student(
    *runs: dict[str, Any],
    mean: str | None = None,
    result: str | None = None,
    within: str = "0.10",
    at_least: int = 2,
    **more: Any,
) -> Student:
    """Return one student as plain facts, with own mean and result as written."""
    own = {
        "mean": None if mean is None else Decimal(mean),
        "mean_decimals": decimals(mean),
        "result": None if result is None else Decimal(result),
        "result_decimals": decimals(result),
        "cells": {what: f"own:{what}" for what, there in (("mean", mean), ("result", result)) if there},
    }
    limits = microlitres(Decimal(within)), at_least
    (one,) = with_titres(people((own | more, list(runs))), 50_000, limits[0])
    return with_mean(one, [each.titre or 0 for each in one.runs], *limits)


def averaged(
    claimed: str,
    titres: tuple[str, ...] = ("24.90", "24.35", "24.60", "24.40"),
    *,
    ticked: str = "",
    written: int | None = 2,
) -> Student:
    """Return a student with a rough and accurate runs 1, 2, ...; `ticked` holds the labels ticked ("R" for the rough)."""
    labels = ["Rough", *(str(i) for i in range(1, len(titres)))]
    runs = [
        run(label, f"0.00 {titre}", titre, tick=(label[0] in ticked) if ticked else None)
        for label, titre in zip(labels, titres, strict=True)
    ]
    return student(*runs, mean=claimed, mean_decimals=written)


def run_matrix(
    initial: Any,
    final: Any,
    *,
    rough: Any = None,
    usable: Any = None,
    expected: Any = None,
    expected_uncertainty: Any = 0.0,
) -> RunMatrix:
    """Return the matrix for readings [µL] of shape (n, k), with the first column as the rough unless `rough` says.

    `rough` and `usable` are flags that broadcast to (n, k); `expected` [cm³] and its uncertainty broadcast to (n,).
    """
    first, last = (np.atleast_2d(np.asarray(each, dtype=np.int64)) for each in (initial, final))
    column = np.arange(first.shape[1]) == 0
    is_rough = np.broadcast_to(column if rough is None else rough, first.shape)
    can_be_judged = np.broadcast_to(np.True_ if usable is None else usable, first.shape)
    level = np.broadcast_to(np.nan if expected is None else expected, first.shape[:1])
    spread = np.broadcast_to(expected_uncertainty, first.shape[:1])
    flags = (np.ones(first.shape, np.bool_), can_be_judged.astype(np.bool_), is_rough.astype(np.bool_))
    return RunMatrix(first, last, last - first, *flags, level.astype(float), spread.astype(float), last - first)
