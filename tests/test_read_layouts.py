"""One class in many layouts: whatever the sheet looks like, the same tables come out of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from labmark.problems import InputError
from labmark.read import mapping_text, read_class
from labmark.records import ClassSheet
from tests.columns import runs_of, students_of
from tests.layouts import CLASS, LESSER, TURNED, VARIANTS, beside, block, squared, stacked, table, turned, wide
from tests.seeds import few_quick

COMPARED = (
    "label",
    "kind",
    "initial",
    "final",
    "initial_decimals",
    "final_decimals",
    "titre",
    "titre_decimals",
    "parts",
    "ticked",
    "struck",
)


def facts(
    sheet: ClassSheet, without: frozenset[str] = frozenset()
) -> tuple[list[tuple[object, ...]], list[tuple[object, ...]]]:
    """Everything in both tables but the names of cells."""
    names = list(students_of(sheet)["student"])
    runs = [
        (names[row["student"]], *(row[key] for key in COMPARED if key not in without)) for row in runs_of(sheet).rows()
    ]
    students = [
        (
            row["student"],
            row["groups"],
            str(row["mean"]),
            row["mean_decimals"],
            str(row["result"]),
            row["result_decimals"],
            row["absent"],
        )
        for row in students_of(sheet).rows()
    ]
    return runs, students


def expected(without: frozenset[str] = frozenset()) -> tuple[list[tuple[object, ...]], list[tuple[object, ...]]]:
    runs = []
    for student in CLASS:
        for run in student.runs:
            row = {
                "label": run.label,
                "kind": "rough" if run.label == "Rough" else "accurate",
                "initial": round(float(run.initial) * 1000),
                "final": round(float(run.final) * 1000),
                "initial_decimals": 2,
                "final_decimals": 2,
                "titre": round(float(run.titre) * 1000),
                "titre_decimals": 2,
                "parts": (),
                "ticked": None if run.label == "Rough" else run.used == "y",
                "struck": False,
            }
            runs.append((student.name, *(row[key] for key in COMPARED if key not in without)))
    students: list[tuple[object, ...]] = [
        (student.name, {"Bench": student.bench}, student.mean, 2, student.result, 4, False) for student in CLASS
    ]
    return runs, students


def check_ledger(sheet: ClassSheet) -> None:
    ledger = sheet.ledger
    assert ledger.filled == len(ledger.used | set(ledger.ignored) | set(ledger.rejected))
    assert not ledger.rejected
    assert all(ledger.ignored.values())


@pytest.mark.parametrize("name", few_quick(VARIANTS, 8))
def test_a_class_reads_the_same_in_every_layout(name: str, tmp_path: Path) -> None:
    sheet = read_class(VARIANTS[name](tmp_path))
    runs, students = facts(sheet)
    wanted_runs, wanted_students = expected()
    assert students == wanted_students
    assert runs == wanted_runs
    check_ledger(sheet)


@pytest.mark.parametrize("name", LESSER)
def test_a_layout_without_some_columns_leaves_only_those_empty(name: str, tmp_path: Path) -> None:
    write, without = LESSER[name]
    sheet = read_class(write(tmp_path))
    runs, students = facts(sheet, without)
    wanted_runs, wanted_students = expected(without)
    assert (runs, students) == (wanted_runs, wanted_students)
    for column in without:
        assert set(runs_of(sheet)[column]) == {None}
    check_ledger(sheet)


def test_readings_that_no_table_takes_in_are_never_passed_over_in_silence(tmp_path: Path) -> None:
    blocks = beside([block(student) for student in CLASS[:3]])
    sheet = read_class(table(squared(stacked([blocks, wide(students=CLASS[3:])])))(tmp_path))
    read = set(students_of(sheet)["student"])
    said = "readings at 'Final' (G4) belong to no table that was found, and were not used"
    assert read == {student.name for student in CLASS} or said in sheet.notes


ASKED_ABOUT = {
    "fields over runs",
    "runs without numbers",
    "blocks, name in the corner",
    "blocks under one row of runs",
}
"""Grids that are refused once they are turned over, with what to do."""


@pytest.mark.parametrize("name", few_quick(TURNED, 5))
def test_a_sheet_turned_over_is_read_the_same_or_asked_about(name: str, tmp_path: Path) -> None:
    path = table(squared(turned(TURNED[name])))(tmp_path)
    try:
        sheet = read_class(path)
    except InputError:
        assert name in ASKED_ABOUT
        return
    for found, wanted in zip(facts(sheet), expected(), strict=True):
        assert sorted(found, key=str) == sorted(wanted, key=str)
    check_ledger(sheet)


@pytest.mark.parametrize("said", ["", "24.30"])
def test_a_column_that_names_a_run_alone_never_hides_the_titres_beside_it(said: str, tmp_path: Path) -> None:
    heads = ["Student", *(head for run in (1, 2) for head in (f"Run {run}", "initial", "final", "titre"))]
    rows = [[name, *[said, "0.00", "24.40", "24.40"], *[said, "0.10", "24.45", "24.35"]] for name in ("Anke", "Bela")]
    path = table([heads, *rows])(tmp_path)
    if said:
        with pytest.raises(InputError, match="'Run 1', also in column E"):
            read_class(path)
        return
    assert list(runs_of(read_class(path))["titre"]) == [24_400, 24_350] * 2


def test_more_than_forty_layouts_are_tried() -> None:
    assert len(VARIANTS) + len(LESSER) >= 40


@pytest.mark.parametrize(
    "name", ["plain workbook", "two header rows, merged", "long", "lab-book blocks", "students across", "online form"]
)
def test_the_printed_mapping_read_back_gives_the_same_class(name: str, tmp_path: Path) -> None:
    import tomllib

    path = VARIANTS[name](tmp_path)
    first = read_class(path)
    columns = tomllib.loads(mapping_text(first))["columns"]
    assert facts(read_class(path, columns=columns)) == facts(first)


@pytest.mark.parametrize("over_the_runs", ["Type", ""])
def test_a_name_over_a_table_is_the_student_s_whatever_stands_over_the_runs(over_the_runs: str, tmp_path: Path) -> None:
    lines = []
    for name, start in (("Anke", "0.00"), ("Bela", "1.00")):
        lines += [f"Pupil,{name},,", f"{over_the_runs},V_i in cm³,V_f in cm³,ΔV in cm³"]
        lines += [f"{run},{start},26.90,{26.9 - float(start):.2f}" for run in ("Trial", "I", "II")]
        lines += ["Average,,,25.33", "Concentration of NaOH / mol dm-3,,,0.101", ",,,"]
    path = tmp_path / "class.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    sheet = read_class(path)
    assert list(students_of(sheet)["student"]) == ["Anke", "Bela"]
    assert list(runs_of(sheet)["label"]) == ["Rough", "1", "2"] * 2


@pytest.mark.parametrize("over", [",Anke,,,Bela,,", "Student,Anke,,,Bela,,", ",Anke,Anke,Anke,Bela,Bela,Bela"])
def test_names_may_stand_over_the_runs_of_one_block(over: str, tmp_path: Path) -> None:
    rows = [over, ",Rough,1,2,Rough,1,2", "Final,25.90,25.30,25.45,26.90,26.35,26.40"]
    rows += ["Initial,0.00,0.00,0.10,1.00,1.00,1.00", "Mean,,25.33,,,25.38,", "Result,,0.101,,,0.101,"]
    path = tmp_path / "class.csv"
    path.write_text("\n".join(rows), encoding="utf-8")
    sheet = read_class(path)
    assert list(students_of(sheet)["student"]) == ["Anke", "Bela"]
    assert [str(mean) for mean in students_of(sheet)["mean"]] == ["25.33", "25.38"]
    assert list(runs_of(sheet)["label"]) == ["Rough", "1", "2"] * 2
    check_ledger(sheet)
