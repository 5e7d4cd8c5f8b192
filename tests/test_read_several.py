"""Endpoints, titrations and several results in the class sheet: read the same in every layout, and nothing lost."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from labmark.practical.own import Several
from labmark.read import read_class
from labmark.records import ClassSheet
from tests import several_layouts as made
from tests.build import ul


def rows_of(sheet: ClassSheet) -> list[tuple[Any, ...]]:
    names = list(sheet.students["student"])
    columns = ("label", "series", "kind", "initial", "final", "ticked")
    return [(names[row["student"]], *(row[key] for key in columns)) for row in sheet.runs.rows()]


def claims_of(sheet: ClassSheet) -> dict[str, dict[str, dict[str, str]]]:
    return {
        student["student"]: {
            field: {name: str(own.value) for name, own in values.items()}
            for field, values in student["several"].items()
        }
        for student in sheet.students.rows()
    }


def of_endpoints() -> list[tuple[Any, ...]]:
    found = []
    for name, has in made.MIXTURE.items():
        for run in made.RUNS:
            initial, first, second, used = has[run]
            tick = None if run == "Rough" else used == "y"
            same = ("rough" if run == "Rough" else "accurate",)
            label = run.removeprefix("Run ")
            found.append((name, label, "phenolphthalein", *same, ul(initial), ul(first), tick))
            found.append((name, label, "methyl orange", *same, ul(first), ul(second), tick))
    return found


def of_titrations() -> list[tuple[Any, ...]]:
    found = []
    for name, has in made.HARDNESS.items():
        for key in made.KEYS:
            initial, final, used = has[key]
            titration, _, run = key.partition(" ")
            tick = None if run == "Rough" else used == "y"
            kind = "rough" if run == "Rough" else "accurate"
            label = f"{titration} {run.removeprefix('Run ').lower()}"
            found.append((name, label, titration, kind, ul(initial), ul(final), tick))
    return found


def claimed(students: made.Students, several: Several) -> dict[str, dict[str, dict[str, str]]]:
    series = several.endpoints or several.titrations
    return {
        name: {
            "mean": dict(zip(series, has["mean"], strict=True)),
            "result": dict(zip(several.results, has["result"], strict=True)),
        }
        for name, has in students.items()
    }


def is_accounted(sheet: ClassSheet) -> bool:
    ledger = sheet.ledger
    return not ledger.rejected and not (set(ledger.ignored) & set(ledger.used)) and all(ledger.ignored.values())


@pytest.mark.parametrize("variant", made.OF_ENDPOINTS)
def test_endpoints_read_the_same_in_every_layout(variant: str, tmp_path: Path) -> None:
    sheet = read_class(made.OF_ENDPOINTS[variant](tmp_path), several=made.ENDPOINTS)
    assert sorted(rows_of(sheet), key=str) == sorted(of_endpoints(), key=str)
    assert claims_of(sheet) == claimed(made.MIXTURE, made.ENDPOINTS)
    assert is_accounted(sheet)


@pytest.mark.parametrize("variant", made.OF_TITRATIONS)
def test_titrations_read_the_same_in_every_layout(variant: str, tmp_path: Path) -> None:
    sheet = read_class(made.OF_TITRATIONS[variant](tmp_path), several=made.TITRATIONS)
    assert sorted(rows_of(sheet), key=str) == sorted(of_titrations(), key=str)
    assert claims_of(sheet) == claimed(made.HARDNESS, made.TITRATIONS)
    assert is_accounted(sheet)
