"""Several attempts of one student: which of them counts, and what is kept in view of the others."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from labmark.attempts import one_attempt_each
from labmark.facts import OwnValue, Run
from labmark.records import ClassSheet
from tests.build import run
from tests.classes import sheet_of
from tests.columns import runs_of, students_of


def attempt(name: str, number: str = "", known: str = "", titre: str = "24.35", **more: Any) -> tuple[Any, Any]:
    """Return a row of a student, who may have an ID, with one run."""
    about = {"Name": name, "Attempt": number, "ID": known}
    student = f"{name}, attempt {number}" if number else name
    cells = {what: f"{student}:{what}" for what in ("initial", "final", "titre")}
    return {"student": student, "about": {key: text for key, text in about.items() if text}, **more}, [
        run("1", f"0.00 {titre}", titre, cells=cells)
    ]


def counted(sheet: ClassSheet) -> list[tuple[str, int]]:
    """Return who counts, each with the titre of the run [µL]."""
    rows = zip(runs_of(sheet)["student"], runs_of(sheet)["titre"], strict=True)
    return [(students_of(sheet)["student"][student], titre) for student, titre in rows]


def test_the_latest_attempt_counts_under_the_students_name() -> None:
    sheet = one_attempt_each(sheet_of(attempt("Ada", "1"), attempt("Bo"), attempt("Ada", "2", titre="24.50")))
    assert counted(sheet) == [("Bo", 24_350), ("Ada", 24_500)]
    assert students_of(sheet)["notes"][1] == (
        "Ada, attempt 1 is kept in view and does not count: 1: 0.00 to 24.35, titre 24.35",
    )


def test_what_an_attempt_gave_is_told_where_no_titre_was_written() -> None:
    rows = sheet_of(attempt("Ada", "1"), attempt("Ada", "2"))
    earlier = replace(rows.students[0], runs=tuple(replace(each, written=None) for each in rows.students[0].runs))
    sheet = one_attempt_each(replace(rows, students=(earlier, rows.students[1])))
    assert sheet.students[0].notes[0].endswith("1: 0.00 to 24.35, titre 24.35")


def test_the_best_attempt_counts_where_totals_say_so() -> None:
    rows = sheet_of(attempt("Ada", "1"), attempt("Ada", "2", titre="24.50"))
    assert counted(one_attempt_each(rows, [7, 5])) == [("Ada", 24_350)]


def test_blank_runs_go_with_their_attempt() -> None:
    rows = sheet_of(attempt("Ada", "1"), attempt("Bo"), attempt("Ada", "2"))
    blanks = [(Run("Blank", rough=False, cells={"titre": cell}),) for cell in ("D2", "D3", "D4")]
    people = zip(rows.students, blanks, strict=True)
    sheet = one_attempt_each(replace(rows, students=tuple(replace(one, blanks=own) for one, own in people)))
    assert [one.blanks for one in sheet.students] == blanks[1:]
    assert sheet.ledger.ignored["D2"] == "an attempt that does not count; Ada, attempt 2 does"


def test_own_numbers_go_with_their_attempt_but_for_what_is_everybodys() -> None:
    rows = sheet_of(attempt("Ada", "1"), attempt("Bo"), attempt("Ada", "2"))
    blank = OwnValue(Decimal("0.15"), cells=("D5",))
    people = (
        replace(one, inputs={"sample.mass": OwnValue(Decimal("1.5"), cells=(cell,)), "blank.titre": blank})
        for one, cell in zip(rows.students, ("E2", "E3", "E4"), strict=True)
    )
    sheet = one_attempt_each(replace(rows, students=tuple(people)))
    assert {"E2", "E3", "E4", "D5"} & sheet.ledger.ignored.keys() == {"E2"}


def test_an_attempt_that_was_missed_counts_for_nothing() -> None:
    rows = sheet_of(attempt("Ada", "1"), attempt("Ada", "2", absent=True))
    assert counted(one_attempt_each(rows)) == [("Ada", 24_350)]


@pytest.mark.parametrize("known", [("7", "8"), ("", "")])
def test_two_students_of_one_name_are_two_students(known: tuple[str, str]) -> None:
    sheet = sheet_of(*(attempt("Ada", known=each) for each in known))
    assert one_attempt_each(sheet) is sheet


def test_a_student_who_stands_twice_with_one_id_is_one() -> None:
    sheet = one_attempt_each(sheet_of(attempt("Ada", known="7"), attempt("ada", known="7", titre="24.50")))
    assert counted(sheet) == [("ada", 24_500)]
    assert [*sheet.ledger.ignored.values()] == ["an attempt that does not count; ada does"] * 3
