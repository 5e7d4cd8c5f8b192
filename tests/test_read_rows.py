"""Which rows are students, which runs are runs, and which cells are only notes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import openpyxl
import pytest

from labmark.pipeline import judged_tree
from labmark.practical.own import FromSheet, OwnNumber
from labmark.practical.quantities import Asked
from labmark.problems import InputError
from labmark.read import read_class
from labmark.records import ClassSheet
from tests.columns import runs_of, students_of
from tests.seeds import few_quick
from tests.test_read_headers import read
from tests.test_read_workbook import class_of, put

HEADER = "Student|Rough initial|Rough final|Run 1 initial|Run 1 final|Run 2 initial|Run 2 final|Mean titre|Result"
MASSES = OwnNumber("sample.mass", "mass", "g", taken=FromSheet(column="Mass"))
ANNA = "Anna|0.00|24.90|0.00|24.10|0.05|24.15|24.10|0.1100"
BO = "Bo|0.00|24.70|0.00|24.20|0.10|24.35|24.23|0.1110"
CY = "Cy|0.00|24.80|0.05|24.35|0.10|24.40|24.30|0.1120"


def names(sheet: ClassSheet) -> list[str]:
    return list(students_of(sheet)["student"])


def absent(sheet: ClassSheet) -> list[str]:
    return [one["student"] for one in students_of(sheet).rows() if one["absent"]]


@pytest.mark.parametrize(
    "name", ["Mean Sok", "Average, Joe", "Total Recall", "Tom SD", "Range Rover", "Sd", "Max", "Sum"]
)
def test_a_row_with_readings_is_a_student_whatever_the_name(tmp_path: Path, name: str) -> None:
    sheet = read(tmp_path, f"{HEADER}\n{ANNA}\n{ANNA.replace('Anna', name).replace('24', '25')}\n{CY}")
    assert names(sheet) == ["Anna", name, "Cy"]


@pytest.mark.parametrize("teams", ["1 2 3", "1 1 2", "A B B", "B1 B2 B3"])
@pytest.mark.parametrize("heading", ["Team", "Pair", "Candidate", "Nombre de gouttes"])
def test_numbers_and_letters_before_the_names_are_nobodys_names(tmp_path: Path, heading: str, teams: str) -> None:
    rows = [f"{heading}|{HEADER}", *(f"{team}|{row}" for team, row in zip(teams.split(), (ANNA, BO, CY), strict=True))]
    across = read(tmp_path, "\n".join(rows))
    down = read(tmp_path, "\n".join("|".join(cells) for cells in zip(*(row.split("|") for row in rows), strict=True)))
    assert names(across) == names(down) == ["Anna", "Bo", "Cy"]


def test_numbers_and_letters_are_names_where_nothing_else_is(tmp_path: Path) -> None:
    assert names(read(tmp_path, "Team|Run 1 initial|Run 1 final\nA|0.00|24.40\n2|0.10|24.45")) == ["A", "2"]


def test_the_letter_of_a_surname_stays_with_the_forename(tmp_path: Path) -> None:
    rows = "Forename|Surname|Run 1 initial|Run 1 final\nAda|K|0.00|24.40\nAda|T|0.10|24.45"
    assert names(read(tmp_path, rows)) == ["K, Ada", "T, Ada"]


@pytest.mark.parametrize("at", [0, 1, 6])
def test_the_number_of_a_team_on_each_form_is_not_who_filled_it_in(tmp_path: Path, at: int) -> None:
    forms = []
    for team, name in ("1", "Anna"), ("2", "Bo"):
        rows = [
            f"Name|{name}",
            "|Rough|1|2",
            "Final|25.90|25.45|27.85",
            "Initial|0.00|0.05|2.45",
            "Mean|25.40",
            "Result|0.1",
        ]
        forms.append("\n".join((*rows[:at], f"Team|{team}", *rows[at:])))
    sheet = read(tmp_path, "\n\n".join(forms))
    assert [(one.name, str(one.own_mean)) for one in sheet.students] == [("Anna", "25.40"), ("Bo", "25.40")]


def test_a_student_called_mean_sok_keeps_her_row_in_a_sheet_of_titres_and_in_one_row_a_run(tmp_path: Path) -> None:
    titres = read(
        tmp_path, "Student|Rough|1|2\nAnna|24.90|24.40|24.45\nMean Sok|24.80|24.30|24.35\nCy|24.80|24.20|24.25"
    )
    runs = read(tmp_path, "Student|Run|Initial|Final\nAnna|1|0.00|24.40\nMean Sok|1|0.00|24.30\nMean Sok|2|0.00|24.35")
    assert names(titres) == ["Anna", "Mean Sok", "Cy"]
    assert names(runs) == ["Anna", "Mean Sok"]


@pytest.mark.parametrize(
    "row", ["Mean|0.00|24.85|0.03|24.23|0.08|24.28|24.20|0.1110", "SD|0|0.07|0.04|0.18|0.04|0.18|0.14|0.0014"]
)
def test_a_row_with_the_mean_or_the_spread_of_every_column_is_no_student(tmp_path: Path, row: str) -> None:
    sheet = read(tmp_path, f"{HEADER}\n{ANNA}\n{CY}\n{row}")
    assert names(sheet) == ["Anna", "Cy"]
    assert "class figures" in sheet.ledger.ignored["Results!B4"]


def test_a_student_whose_initials_are_sd_stands_among_burettes_filled_to_the_mark(tmp_path: Path) -> None:
    # Each titre is some figure of its column, but not one and the same: the largest, the smallest, the middle one.
    rows = ["AB|0.00|24.40|0.00|24.50|24.45", "CD|0.00|24.45|0.00|24.40|24.43", "SD|0.00|24.45|0.00|24.40|24.45"]
    heads = "Student|Run 1 initial|Run 1 final|Run 2 initial|Run 2 final|Mean titre"
    sheet = read(tmp_path, "\n".join((heads, *rows, "EF|0.00|24.35|0.00|24.45|24.40")))
    assert names(sheet) == ["AB", "CD", "SD", "EF"]


@pytest.mark.parametrize("row", ["n =|8", "Marked by A. Teacher, 12 March", "bottles opened|2"])
def test_what_stands_apart_below_the_students_and_is_named_as_none_of_them_is_a_note(tmp_path: Path, row: str) -> None:
    sheet = read(tmp_path, f"{HEADER}\n{ANNA}\n{CY}\n\n{row}\nn =|2")
    assert names(sheet) == ["Anna", "Cy"]
    assert sheet.ledger.ignored["Results!A5"] == "a note below the table"


@pytest.mark.parametrize("name", ["Technician's value", "Teacher titre", "Demonstration"])
def test_the_teacher_s_own_line_is_no_student(tmp_path: Path, name: str) -> None:
    assert names(read(tmp_path, f"{HEADER}\n{ANNA}\n{CY}\n{ANNA.replace('Anna', name)}")) == ["Anna", "Cy"]


@pytest.mark.parametrize("text", ["Room 12, Science block", "Lab 3", "Raum 204"])
def test_the_place_of_the_lesson_just_below_the_table_is_no_student(tmp_path: Path, text: str) -> None:
    assert names(read(tmp_path, f"{HEADER}\n{ANNA}\n{CY}\n{text}")) == ["Anna", "Cy"]


@pytest.mark.parametrize(
    "row", ["ben|0.00|24.40|0.00|24.50|24.45", "Ben de Vries|0.00|24.40", "Zoe|0.00", "de Wit: absent"]
)
def test_a_student_who_stands_apart_below_the_others_is_one(tmp_path: Path, row: str) -> None:
    assert len(names(read(tmp_path, f"{HEADER}\n{ANNA}\n{CY}\n\n{row}"))) == 3


def test_lines_of_one_student_with_other_runs_each_are_taken_together(tmp_path: Path) -> None:
    heads = "Student|Rough initial|Rough final|Run 1 initial|Run 1 final|Run 2 initial|Run 2 final|Mean titre"
    lines = [
        "Anna|0.00|25.00",
        "Anna|||0.00|24.40|0.00|24.50|24.45",
        "Cy|0.00|24.90",
        "Cy|||0.10|24.40|0.00|24.30|24.30",
    ]
    sheet = read(tmp_path, "\n".join((heads, *lines)))
    assert names(sheet) == ["Anna", "Cy"]
    assert list(runs_of(sheet)["label"]) == ["Rough", "1", "2"] * 2
    assert any("2 of the students appear more than once" in note for note in sheet.notes)


ANSWERS = [
    ("Chen, Li", "Berg, Anna"),
    ("Chen Li", "Berg Anna"),
    ("Li Chen", "Anna Berg"),
]


def workbook(folder: Path, **sheets: list[list[object]]) -> ClassSheet:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in sheets.items():
        page = book.create_sheet(title)
        for row in rows:
            page.append(row)
    book.save(folder / "class.xlsx")
    return read_class(folder / "class.xlsx")


@pytest.mark.parametrize("answers_first", [False, True])
@pytest.mark.parametrize("people", ANSWERS)
def test_an_answer_sheet_may_repeat_the_titres_and_give_surnames_first(
    tmp_path: Path, people: tuple[str, str], answers_first: bool
) -> None:
    heads = ["Student", *(f"{run} {what}" for run in ("Rough", "Run 1", "Run 2") for what in ("initial", "final"))]
    readings = [heads, ["Li Chen", 0, 25.9, 0.1, 25.4, 0.2, 25.55], ["Anna Berg", 1, 26.7, 2, 27.25, 3, 28.3]]
    answers: list[list[object]] = [["Student", "Run 1 titre", "Run 2 titre", "Used 1", "Mean titre", "Result"]]
    answers += [[people[0], 25.3, 25.35, "yes", 25.33, 0.101], [people[1], 25.25, 25.35, "no", 25.28, 0.101]]
    pages = {"Readings": readings, "Answers": answers}
    sheet = workbook(tmp_path, **dict(sorted(pages.items(), reverse=not answers_first)))
    assert names(sheet) == (list(people) if answers_first else ["Li Chen", "Anna Berg"])
    assert list(runs_of(sheet)["label"]) == ["Rough", "1", "2"] * 2
    assert list(runs_of(sheet)["final"]) == [25900, 25400, 25550, 26700, 27250, 28300]
    assert list(runs_of(sheet)["titre"]) == [None, 25300, 25350, None, 25250, 25350]
    assert list(runs_of(sheet)["ticked"]) == [None, True, None, None, False, None]
    assert runs_of(sheet)["cells"][1]["titre"] == "Answers!B2"
    assert [str(mean) for mean in students_of(sheet)["mean"]] == ["25.33", "25.28"]


@pytest.mark.parametrize(
    ("mean", "result"), [("(25.33)", "[0.101]"), ("V = 25.33 cm3", "c = 0.101"), ("", "c = 0.101")]
)
@pytest.mark.parametrize("apart", [True, False])
def test_answers_below_the_readings_may_be_more_than_numbers(
    tmp_path: Path, mean: str, result: str, apart: bool
) -> None:
    readings = ["Student|Run 1 initial|Run 1 final", "Li|0.00|25.30", "Bo|0.00|25.20"]
    answers = ["Student|Mean titre|Result", f"Li|{mean}|{result}", f"Bo|{mean}|{result}"]
    sheet = read(tmp_path, "\n".join([*readings, *[""] * apart, *answers]))
    assert names(sheet) == ["Li", "Bo"]
    assert [float(each) for each in students_of(sheet)["result"]] == [0.101, 0.101]
    assert sheet.ledger.rejected == {}


@pytest.mark.parametrize("units", ["|cm3|mol/dm3", "|(in cm3)|in mol dm-3, to 3 sig. figs."])
def test_a_row_of_units_below_the_headings_of_an_answer_sheet_is_none_of_the_answers(
    tmp_path: Path, units: str
) -> None:
    heads = ["Student", "Run 1 initial", "Run 1 final", "Run 2 initial", "Run 2 final"]
    readings = [heads, ["Li", 0, 25.3, 0.1, 25.4], ["Bo", 1, 26.3, 2, 27.25]]
    answers = [["Student", "Mean titre", "Result"], units.split("|"), ["Li", 25.3, 0.101], ["Bo", 25.28, 0.101]]
    sheet = workbook(tmp_path, Readings=readings, Answers=answers)
    assert [float(each) for each in students_of(sheet)["mean"]] == [25.3, 25.28]
    assert sheet.ledger.ignored["Answers!C2"] == "header: a unit"


@pytest.mark.parametrize(
    "labels", [("Anke mean titre", "Anke result"), ("Anke: mean", "Anke: result"), ("Mean", "Result")]
)
@pytest.mark.parametrize("at", ["||{}", "{}||"])
def test_lines_called_result_below_a_student_are_hers(tmp_path: Path, labels: tuple[str, str], at: str) -> None:
    rows = ["Anke|Rough|0.00|25.90", "|1|0.00|25.30", "|2|0.10|25.40"]
    rows += [f"{label}|{at.format(number)}" for label, number in zip(labels, ("25.30", "0.101"), strict=True)]
    rows += [row.replace("Anke", "Ben") for row in rows]
    sheet = read(tmp_path, "\n".join(["Student|Run|Initial|Final", *rows]))
    assert names(sheet) == ["Anke", "Ben"]
    assert [float(each) for key in ("mean", "result") for each in students_of(sheet)[key]] == [25.3, 25.3, 0.101, 0.101]


@pytest.mark.parametrize(
    ("under", "mean", "result"),
    [
        (["Mean titre = 25.33 cm3", "Concentration of NaOH = 0.101 mol/dm3"], "25.33", "0.101"),
        (["Mean = (25.30 + 25.35)/2 = 25.33", "c(acid) = 0.0500", "c(NaOH) = 0.00253/0.025 = 0.101"], "25.33", "0.101"),
        (["Result: 0.101"], None, "0.101"),
        (["Concentration of the acid: 0.0500 mol/dm3"], None, None),
        (["Class mean: 25.33", "Expected result: 0.1012"], None, None),
    ],
)
def test_own_values_may_stand_below_a_block_with_their_labels_in_the_cell(
    tmp_path: Path, under: list[str], mean: str | None, result: str | None
) -> None:
    block = ["Name: {}", "|Rough|1|2", "Initial|0.00|0.00|0.10", "Final|25.90|25.30|25.45", *under, ""]
    sheet = read(tmp_path, "\n".join(line.replace("{}", name) for name in ("Ann", "Bea") for line in block))
    assert names(sheet) == ["Ann", "Bea"]
    assert [each and f"{each}" for key in ("mean", "result") for each in students_of(sheet)[key]] == [mean] * 2 + [
        result
    ] * 2


def test_totals_of_each_student_and_of_all_are_nobodys_runs(tmp_path: Path) -> None:
    rows = ["Anke|1|0.00|25.30", "|2|0.10|25.40", "Anke Total||0.10|50.70", "Ben|1|0.00|25.35", "|2|0.10|25.40"]
    rows += ["Ben Total||0.10|50.75", "Ben Max|1|0.00|25.30", "Grand Total||0.20|101.45"]
    sheet = read(tmp_path, "\n".join(["Student|Run|Initial|Final", *rows]))
    assert (names(sheet), len(runs_of(sheet))) == (["Anke", "Ben", "Ben Max"], 5)


def test_a_pivot_table_with_its_totals_is_read(tmp_path: Path) -> None:
    rows = "Anke|25.90|25.30|25.35|76.55\nBen|25.80|25.30|25.40|76.50\nGrand Total|51.70|50.60|50.75|153.05"
    sheet = read(tmp_path, f"Row Labels|Rough|Run 1|Run 2|Grand Total\n{rows}")
    assert (names(sheet), len(runs_of(sheet))) == (["Anke", "Ben"], 6)


@pytest.mark.parametrize("columns", ["Run 1|Run 2", "Run|Titre"])
@pytest.mark.parametrize("note", ["abs = absent", "red = late", "3 students absent", "Checked by KM", "End of report"])
def test_a_key_or_a_sentence_below_the_table_is_no_student(tmp_path: Path, columns: str, note: str) -> None:
    sheet = read(tmp_path, f"Student|{columns}\nAnke|1|25.35\nBen|1|25.40\nCem de la Cruz|\n{note}")
    assert names(sheet) == ["Anke", "Ben", "Cem de la Cruz"]


@pytest.mark.parametrize(("columns", "cells"), [("ID|Titre 1", "7|25.35"), ("Run|Titre", "1|25.35")])
def test_who_has_an_id_or_a_run_is_a_student_whatever_the_name(tmp_path: Path, columns: str, cells: str) -> None:
    none = f"{cells.split('|')[0]}|"
    sheet = read(tmp_path, f"Student|{columns}\nAnke|{cells}\nEmil of York|{none}\n3 cem|{none}")
    assert names(sheet) == ["Anke", "Emil of York", "3 cem"]


def test_own_values_behind_their_labels_beside_the_runs_of_a_block_are_no_run(tmp_path: Path) -> None:
    block = ["Anke|Final|25.90|25.30|25.45|mean|25.33", "|Initial|0.00|0.00|0.10|result|0.101"]
    rows = [row.replace("Anke", name) for name in ("Anke", "Ben") for row in block]
    sheet = read(tmp_path, "\n".join(["Student||Rough|1|2", *rows]))
    assert (names(sheet), len(runs_of(sheet))) == (["Anke", "Ben"], 6)
    assert [str(mean) for mean in students_of(sheet)["mean"]] == ["25.33", "25.33"]
    assert [str(result) for result in students_of(sheet)["result"]] == ["0.101", "0.101"]


def test_runs_may_stand_behind_the_names(tmp_path: Path) -> None:
    rows = ["Anke rough|0.00|25.90", "Anke 1|0.00|25.30", "Anke 2|0.10|25.40", "Anke result|0.101|"]
    rows += [row.replace("Anke", "Ben") for row in rows]
    sheet = read(tmp_path, "\n".join(["Student|Initial|Final", *rows]))
    assert names(sheet) == ["Anke", "Ben"]
    assert list(runs_of(sheet)["label"]) == ["Rough", "1", "2"] * 2
    assert [float(each) for each in students_of(sheet)["result"]] == [0.101, 0.101]


@pytest.mark.parametrize("people", [("Bench 1", "Bench 2", "Bench 3"), ("Ann Rough", "Ben Rough")])
def test_numbers_alone_behind_names_and_surnames_are_no_runs(tmp_path: Path, people: tuple[str, ...]) -> None:
    rows = [f"{name}|0.00|25.30\n|0.10|25.40" for name in people]
    assert names(read(tmp_path, "\n".join(["Student|Initial|Final", *rows]))) == [*people]


def test_a_line_called_mean_below_several_students_is_of_them_all(tmp_path: Path) -> None:
    rows = "Anke|1|0.00|25.30\nAnke|2|0.10|25.40\nBen|1|0.00|25.30\nBen|2|0.10|25.40\nMean|||25.35"
    sheet = read(tmp_path, f"Student|Run|Initial|Final\n{rows}")
    assert (names(sheet), list(students_of(sheet)["mean"])) == (["Anke", "Ben"], [None, None])


def test_who_has_the_same_titres_in_a_row_of_the_same_table_is_another_student(tmp_path: Path) -> None:
    rows = ["Student|Titre 1|Titre 2|Mean titre", *(f"{name}|25.30|25.35|25.33" for name in ("Chen Li", "Li Chen"))]
    assert names(read(tmp_path, "\n".join(rows))) == ["Chen Li", "Li Chen"]
    with pytest.raises(InputError, match="delete the row that was pasted twice"):
        read(tmp_path, "\n".join([*rows, rows[-1]]))


def test_another_titre_of_the_same_run_is_another_students(tmp_path: Path) -> None:
    readings = [
        ["Student", "Run 1 initial", "Run 1 final", "Run 1 titre"],
        ["Li", 0, 25.9, 25.9],
        ["Bo", 1, 26.7, 25.7],
    ]
    answers = [["Student", "Run 1 titre", "Mean titre"], ["Li", 25.9, 25.9], ["Bo", 22.7, 22.7]]
    assert len(names(workbook(tmp_path, Readings=readings, Answers=answers))) == 3


@pytest.mark.parametrize(
    ("cell", "titres"),
    [
        ("25.30, 25.35", [25300, 25350]),
        ("25.30,25.35,25.40", [25300, 25350, 25400]),
        ("25.30\n25.35 cm3", [25300, 25350]),
        ("25,30; 25,35", [25300, 25350]),
        ("25,30 and 25,35", [25300, 25350]),
        ("9.95 / 10.05", [9950, 10050]),
        ("25.30", [25300]),
        # may be 25, 30, 25 and 35; the readings of one run; a titre and how sure it is
        ("25,30,25,35", [None]),
        ("25.3, 25.4", [None]),
        ("25.30 25", [None]),
        ("1.00 / 26.30", [None]),
        ("0,00; 25,30", [None]),
        ("0.00, 25.30, 25.30", [None]),
        ("25.30 ± 0.05", [25300]),
    ],
)
@pytest.mark.parametrize("heads", ["Titres / cm3", "Rough titre|Accurate titres"])
def test_titres_of_several_runs_may_stand_in_one_cell_that_names_no_run(
    tmp_path: Path, cell: str, titres: list[int | None], heads: str
) -> None:
    rough = ["25.90"] * heads.count("Rough")
    sheet = workbook(
        tmp_path, Results=[["Student", *heads.split("|")], *([who, *rough, cell] for who in ("Anna", "Cy"))]
    )
    accurate = [row for row in runs_of(sheet).rows() if row["kind"] == "accurate" and row["student"] == 0]
    assert [row["titre"] for row in accurate] == titres
    assert [row["label"] for row in accurate] == ["1", "2", "3"][: len(titres)]
    assert sheet.room in (None, len(titres))


def test_two_titres_under_the_name_of_a_run_are_not_told_apart(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Student|Run 1 titre|Mean titre\nAnna|25.30, 25.35|25.33\nCy|25.20, 25.30|25.25")
    assert list(runs_of(sheet)["titre"]) == [None, None]


def test_a_line_to_sign_below_the_table_is_no_student(tmp_path: Path) -> None:
    sheet = read(tmp_path, f"{HEADER}|Seat\n{ANNA}|A1\n{CY}|A2\n\nSigned:||||||||KM")
    assert names(sheet) == ["Anna", "Cy"]


def test_students_on_two_sheets_with_readings_of_the_same_runs_may_be_of_two_practicals(tmp_path: Path) -> None:
    rows = [["Student", "Run 1 initial", "Run 1 final"], ["Li", 0, 25.9], ["Bo", 1, 26.7]]
    other = [rows[0], ["Li", 0, 20.9], ["Bo", 1, 21.7]]
    sheet = workbook(tmp_path, Vinegar=rows, Cleaner=other)
    assert len(names(sheet)) == 4
    assert all("two practicals (--sheet chooses one)" in " ".join(notes) for notes in students_of(sheet)["notes"])


def test_two_of_one_name_who_did_the_same_runs_are_two(tmp_path: Path) -> None:
    heads = "Student|Run 1 initial|Run 1 final|Run 2 initial|Run 2 final"
    sheet = read(tmp_path, f"{heads}\nAnna|0.00|24.40|0.00|24.50\nAnna|0.00|24.30\nCy|0.00|24.45")
    assert names(sheet) == ["Anna", "Anna (2)", "Cy"]


def test_two_of_one_name_and_other_ids_are_two(tmp_path: Path) -> None:
    heads = "Student|ID|Rough initial|Rough final|Run 1 initial|Run 1 final"
    sheet = read(tmp_path, f"{heads}\nAnna|1|0.00|25.40\nAnna|2|||0.00|24.30\nCy|3|0.00|24.45")
    assert len(names(sheet)) == 3


@pytest.mark.parametrize("order", [("Rough", "Accurate"), ("Accurate", "Rough titration")])
def test_a_sheet_called_rough_holds_the_roughs(tmp_path: Path, order: tuple[str, str]) -> None:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title in order:
        page = book.create_sheet(title)
        rough = title.startswith("Rough")
        heads = ("Initial", "Final") if rough else ("1 initial", "1 final", "2 initial", "2 final", "Mean")
        page.append(["Student", *heads])
        for name in ("Anna", "Cy"):
            page.append([name, *((0.0, 25.1) if rough else (0.0, 24.4, 0.0, 24.5, 24.45))])
    book.save(tmp_path / "class.xlsx")
    sheet = read_class(tmp_path / "class.xlsx")
    assert names(sheet) == ["Anna", "Cy"]
    assert sorted(zip(runs_of(sheet)["label"], runs_of(sheet)["kind"], strict=True)) == sorted(
        [("Rough", "rough"), ("1", "accurate"), ("2", "accurate")] * 2
    )


def test_figures_without_a_name_and_a_reading_are_no_student(tmp_path: Path) -> None:
    sheet = read(tmp_path, f"{HEADER}\n{ANNA}\n{CY}\n|||||||24.20|0.1110\n|||24.20 expected")
    assert names(sheet) == ["Anna", "Cy"]
    assert "class figures" in sheet.ledger.ignored["Results!H4"]


@pytest.mark.parametrize(
    "cells",
    [
        "ABSENT - dentist", "||Absent (music exam)", "|||||||ill", "was away on Tuesday", "no show", "A|A|A|A|A|A|A|A",
        "Abwesend (Arzt)", "krank geschrieben", "nicht da", "absente", "malade (grippe)", "ausente - médico", "falto",
        "0.00||0.00||0.00", "||||||#DIV/0!|#DIV/0!",
    ],
)  # fmt: skip
def test_a_row_without_a_reading_is_somebody_who_was_absent(tmp_path: Path, cells: str) -> None:
    sheet = read(tmp_path, f"{HEADER}\n{ANNA}\nBen|{cells}\n{CY}")
    assert absent(sheet) == ["Ben"]
    assert not sheet.ledger.rejected
    assert len(runs_of(sheet)) == 6


def test_a_reading_that_cannot_be_read_is_no_absence(tmp_path: Path) -> None:
    assert absent(read(tmp_path, f"{HEADER}\n{ANNA}\nBen|0.00|24.o")) == []
    assert absent(read(tmp_path, f"{HEADER}\n{ANNA}\nBen|absent|24.00")) == []


@pytest.mark.parametrize("blank", ["", "\n"])
@pytest.mark.parametrize(
    "line", ["Absent: Ben, Bo", "Absent|Ben", "Abwesend: Ben", "Absent today:|Ben", "Not here|Ben"]
)
def test_a_list_of_those_absent_is_nobody(tmp_path: Path, line: str, blank: str) -> None:
    head, *rows = HEADER.replace("|", "|Bench|", 1), ANNA.replace("|", "|1|", 1), CY.replace("|", "|2|", 1)
    assert names(read(tmp_path, "\n".join((head, *rows, blank + line)))) == ["Anna", "Cy"]


@pytest.mark.parametrize(
    "lines", ["Date|3 March", "Class|12B\nTeacher|Mr Brook", "Indikator|Methylorange", "Fecha|3.3."]
)
def test_the_lines_of_a_form_below_a_class_are_nobody(tmp_path: Path, lines: str) -> None:
    head, *rows = HEADER.replace("|", "|Bench|", 1), ANNA.replace("|", "|1|", 1), CY.replace("|", "|2|", 1)
    assert names(read(tmp_path, "\n".join((head, *rows, "", lines)))) == ["Anna", "Cy"]


@pytest.mark.parametrize("row", ["Ben: absent", "Illya: absent", "Note, Joy|absent", "Key Lime|||ill"])
def test_an_absent_student_is_no_note_below_the_table(tmp_path: Path, row: str) -> None:
    assert absent(read(tmp_path, f"{HEADER}\n{ANNA}\n{CY}\n{row}")) == [row.partition("|")[0]]


def test_a_word_for_absence_under_bench_is_no_bench(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Student|Bench|Run 1 initial|Run 1 final\nAnna|3|0.00|24.40\nBen|absent")
    assert list(students_of(sheet)["groups"]) == [{"Bench": "3"}, {}]
    assert absent(sheet) == ["Ben"]


@pytest.mark.parametrize("column", ["ID", "Email", "Class", "Partner", "Bench"])
@pytest.mark.parametrize(("text", "why"), [("absent", "somebody was absent"), ("\u200b", "an empty text")])
def test_a_cell_beside_a_name_that_says_nothing_is_accounted_for(
    tmp_path: Path, column: str, text: str, why: str
) -> None:
    sheet = read(tmp_path, f"Student|{column}|Run 1 initial|Run 1 final\nAnna|{text}|0.00|24.40\nBen|3|0.00|24.50")
    assert why in sheet.ledger.ignored["Results!B2"]
    assert [column in {**one["groups"], **one["about"]} for one in students_of(sheet).rows()] == [False, True]


def test_a_note_in_the_margin_is_no_run(tmp_path: Path) -> None:
    block = "Name|Anna\n|Rough|1|2||\nFinal|24.90|24.40|24.50|I think I overshot\nInitial|0.00|0.00|0.10|see over|24.4"
    beside = f"{HEADER}\n{ANNA}|checked 24.10\n{CY}||redo 12.5 on Tuesday\nplease see me at break"
    assert list(runs_of(read(tmp_path, block))["label"]) == ["Rough", "1", "2"]
    assert names(read(tmp_path, beside)) == ["Anna", "Cy"]
    assert len(runs_of(read(tmp_path, beside))) == 6


@pytest.mark.parametrize("word", ["rough", "Rough titration", "(practice run)", "estimate"])
def test_a_run_that_is_called_rough_among_the_ticks_is_one(tmp_path: Path, word: str) -> None:
    heads = "Student|Run 1 initial|Run 1 final|Run 1 used|Run 2 initial|Run 2 final|Run 2 used|Mean titre"
    sheet = read(tmp_path, f"{heads}\nAnna|0.00|25.10|{word}|0.00|24.40|y|24.40\nCy|0.00|24.35||0.00|24.40|y|24.40")
    assert list(runs_of(sheet)["kind"]) == ["rough", "accurate", "accurate", "accurate"]
    assert list(runs_of(sheet)["label"]) == ["1", "2", "1", "2"]
    assert not sheet.ledger.rejected


@pytest.mark.parametrize("run", ["0.00|0.00", "0|0", "/|/"])
def test_a_run_of_noughts_or_strokes_was_not_done(tmp_path: Path, run: str) -> None:
    heads = "Student|Run 1 initial|Run 1 final|Run 2 initial|Run 2 final|Run 3 initial|Run 3 final"
    sheet = read(tmp_path, f"{heads}\nAnna|0.00|24.40|0.00|24.35|{run}\nCy|0.00|24.35|0.00|24.40|0.00|24.45")
    assert list(runs_of(sheet)["label"]) == ["1", "2", "1", "2", "3"]
    assert not sheet.ledger.rejected


def test_a_sheet_of_one_student_is_named_by_the_file_and_not_by_its_title(tmp_path: Path) -> None:
    (tmp_path / "Anna Berg.csv").write_text(
        "Strength of vinegar,,\nRun,Initial,Final\nRough,0.00,24.90\n1,0.00,24.40\n"
    )
    assert names(read_class(tmp_path / "Anna Berg.csv")) == ["Anna Berg"]


@pytest.mark.parametrize(
    "text",
    [
        "|Rough||Run 1||Run 2|\n|initial|final|initial|final|initial|final\nReading|0.00|24.90|0.00|24.40|0.10|24.45\n"
        "Titre||24.90||24.40||24.35\nUsed||||y||y\nMean|24.38",
        "Rough||Run 1||Run 2|\ninitial|final|initial|final|initial|final\n0.00|24.90|0.00|24.40|0.10|24.45\n"
        "Titre|24.90|Titre|24.40|Titre|24.35\nUsed|||y||y\nMean|24.38",
        "|Rough|1|2\nFinal|24.90|24.40|24.45\nInitial|0.00|0.00|0.10\n\nTitre|24.90|24.40|24.35\nUsed||y|y\nMean|24.38",
    ],
    ids=["labels before two levels", "labels among two levels", "a gap before the titres"],
)
def test_the_titres_below_the_readings_of_one_student_are_theirs(tmp_path: Path, text: str) -> None:
    sheet = read(tmp_path, text)
    assert list(runs_of(sheet)["titre"]) == [24_900, 24_400, 24_350]
    assert list(runs_of(sheet)["ticked"][1:]) == [True, True]
    assert list(map(str, students_of(sheet)["mean"])) == ["24.38"]


@pytest.mark.parametrize(
    "text",
    [
        "Rough titration\nInitial|0.00\nFinal|24.90\n\nAccurate titrations\n|1|2\nInitial|0.00|0.10\nFinal|24.40|24.45",
        "Rough\nInitial|Final\n0.00|24.90\n\nAccurate\nRun|Initial|Final\n1|0.00|24.40\n2|0.10|24.45",
        "Rough|Initial|0.00\n|Final|24.90\n1|Initial|0.00\n|Final|24.40\n2|Initial|0.10\n|Final|24.45",
    ],
    ids=["blocks", "upright", "run beside"],
)
def test_parts_of_one_student_s_sheet_are_one_student(tmp_path: Path, text: str) -> None:
    sheet = read(tmp_path, text)
    assert names(sheet) == ["class"]
    assert list(runs_of(sheet)["label"]) == ["Rough", "1", "2"]
    assert list(runs_of(sheet)["final"]) == [24_900, 24_400, 24_450]


def test_tables_without_names_that_repeat_a_run_are_several_students_and_refused(tmp_path: Path) -> None:
    block = "|1|2\nInitial|0.00|0.10\nFinal|24.40|24.45"
    with pytest.raises(InputError, match="cell A1: no name stands with this table"):
        read(tmp_path, f"{block}\n\n{block}")


CLASS = """Student|Rough initial|Rough final|Rough titre|Run 1 initial|Run 1 final|Run 1 titre|Run 1 used|Run 2 initial|\
Run 2 final|Run 2 titre|Run 2 used|Mean titre|Result
A|0.00|25.90|25.90|0.00|25.30|25.30|y|0.10|25.40|25.30|y|25.30|0.101
B|0.00|25.80|25.80|0.05|25.30|25.25|y|0.10|25.40|25.30|y|25.28|0.101
C|0.00|25.70|25.70|0.05|25.35|25.30|y|0.20|25.55|25.35|y|25.33|0.101"""


@pytest.mark.parametrize(
    "left_out",
    few_quick([
        "Rough", "titre", "initial", "final", "initial|final", "used", "Mean", "Result", "Run 2|Mean", "Run 1 titre",
        "Run 2 initial", "Run 1 initial|Run 2 initial", "Rough|Run 2|Mean", "Run", "Run|Mean|Result", "Mean|Result|used",
    ], 5),
)  # fmt: skip
def test_a_column_that_nobody_was_given_costs_nobody_a_mark(tmp_path: Path, left_out: str) -> None:
    rows = [line.split("|") for line in CLASS.splitlines()]
    keep = [at for at, header in enumerate(rows[0]) if not any(word in header for word in left_out.split("|"))]
    class_of(tmp_path, rows=[[row[at] for at in keep] for row in rows])
    students = judged_tree(tmp_path / "class.xlsx", "drain-cleaner", ())["students"]
    assert [(one["total"], one["findings"]) for one in students] == [(one["out_of"], []) for one in students]
    assert all(one["out_of"] for one in students)


def test_final_readings_alone_are_titres_from_nought_and_that_is_said(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Student|Run 1 final|Run 2 final\nA|25.30|25.35\nB|25.25|25.30")
    assert list(runs_of(sheet)["titre"]) == [25_300, 25_350, 25_250, 25_300]
    assert any("the final readings are taken for titres, from 0.00" in note for note in sheet.notes)


def test_the_only_student_whose_initial_reading_is_missing_still_lacks_it(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Student|Run 1 initial|Run 1 final|Run 2 initial|Run 2 final\nA|0.00|25.30||25.35")
    assert list(runs_of(sheet)["final"]) == [25_300, 25_350]


FORM = """Timestamp|Your full name|Rough initial|Rough final|Run 1: initial, final|Run 2: initial, final|Anything else?
10:01|Anna|0.00|24.90|0.00 - 24.40|0.10 - 24.45|
10:02|Ben|zero|twenty five|it started at 0.00 and ended at 24.40|initial 0.10, final 24.45|Initial reading was hard
10:03|Cy|0.00|24.90|final 24.40, initial 0.00|0.10 - 24.45|Final: ok"""


def test_one_pupil_s_wording_spoils_nobody_else_s_readings(tmp_path: Path) -> None:
    sheet = read(tmp_path, FORM)
    assert names(sheet) == ["Anna", "Ben", "Cy"]
    assert {"Results!C3", "Results!D3"} <= sheet.ledger.rejected.keys()
    assert [run["final"] for run in runs_of(sheet).rows() if run["student"] == 0] == [24_900, 24_400, 24_450]


@pytest.mark.parametrize(
    ("reading", "used", "odd"),
    [
        ("abc", "", {"final": "abc"}),
        ("twenty-four", "", {"final": "twenty-four"}),
        ("?", "", {"final": "?"}),
        ("?", "no", {}),
        ("tap leaked", "", {}),
        ("spilt", "", {}),
    ],
)
def test_a_run_is_given_up_by_a_reason_or_a_no_and_not_by_a_reading_that_is_no_number(
    tmp_path: Path, reading: str, used: str, odd: dict[str, str]
) -> None:
    header = "Student|Run 1 initial|Run 1 final|Run 1 titre|Run 1 used|Run 2 initial|Run 2 final|Run 2 titre|Run 2 used"
    sheet = read(tmp_path, f"{header}\nAnn|0.00|24.40|24.40|y|0.00|{reading}||{used}")
    assert runs_of(sheet)["odd"][1] == odd


def test_answers_in_words_make_no_header_of_a_row(tmp_path: Path) -> None:
    rows = ["Student|Rough|Run 1|Run 2", "A|0.00 - 24.90|0.00 - 24.40|initial 0.10 final 24.45"]
    rows += ["B|initial 0.00 final 24.90|start 0.00 end 24.40|0.10 - 24.45", "C|0.00 - 24.90|0.00 24.40|0.10 - 24.45"]
    sheet = read(tmp_path, "\n".join(rows))
    assert names(sheet) == ["A", "B", "C"]
    assert "titre" not in {key for cells in runs_of(sheet)["cells"] for key in cells}


def test_what_a_student_writes_of_missing_readings_makes_no_header_of_the_row(tmp_path: Path) -> None:
    rows = [f"S{at}|0.00|24.90|0.10|24.45" for at in range(1, 6)]
    rows += ["S6|initial not noted|final not noted|0.20|24.55", "S7|0.00|24.80|0.05|24.35"]
    sheet = read(tmp_path, "\n".join(["Student|Initial|Final|Run 2 initial|Run 2 final", *rows]))
    assert names(sheet) == [f"S{at}" for at in range(1, 8)]
    assert "was given up" in sheet.ledger.ignored["Results!B7"]


def test_words_beside_a_reading_make_no_header_of_the_row_of_a_student_called_pupil(tmp_path: Path) -> None:
    rows = [f"Pupil {letter}|0.00|24.90|0.10|24.45" for letter in "ABCDE"]
    rows += ["Pupil F|0.00|initial 24.90|0.20|24.55", "Pupil G|0.00|24.80|0.05|24.35"]
    sheet = read(tmp_path, "\n".join(["Name|Run 1 start|Run 1 end|Run 2 start|Run 2 end", *rows]))
    assert names(sheet) == [f"Pupil {letter}" for letter in "ABCDEFG"]


def test_runs_named_in_two_rows_over_a_block_are_named_by_the_lower_one_that_says_so(tmp_path: Path) -> None:
    block = "|Rough|Accurate|\n||1|2\nFinal|25.80|25.30|25.40\nInitial|0.00|0.00|0.05\nTitre|25.80|25.30|25.35"
    sheet = read(tmp_path, block)
    assert list(zip(runs_of(sheet)["label"], runs_of(sheet)["titre"], strict=True)) == [
        ("Rough", 25_800),
        ("1", 25_300),
        ("2", 25_350),
    ]


def test_students_across_may_be_called_by_numbers(tmp_path: Path) -> None:
    rows = ["Student|Student 1|Student 2", "Rough initial|0.00|0.10", "Rough final|25.90|25.80"]
    sheet = read(tmp_path, "\n".join([*rows, "Run 1 initial|0.10|0.20", "Run 1 final|25.40|25.50", "Mean|25.30|25.30"]))
    assert names(sheet) == ["Student 1", "Student 2"]
    assert [(run["kind"], run["final"]) for run in runs_of(sheet).rows()] == [
        *(("rough", 25900), ("accurate", 25400)),
        *(("rough", 25800), ("accurate", 25500)),
    ]


def test_a_reading_in_a_line_of_its_own_that_lacks_the_other_is_kept(tmp_path: Path) -> None:
    ada = "Ada|Rough|initial|0.00\nAda|Rough|final|25.90\nAda|1|initial|0.10\nAda|1|final|25.40"
    sheet = read(
        tmp_path, f"Name|Run|Reading|Value\n{ada}\nBen|Rough|initial|0.10\nBen|1|initial|0.20\nBen|1|final|25.50"
    )
    assert [(run["label"], run["initial"], run["final"]) for run in runs_of(sheet).rows()] == [
        *(("Rough", 0, 25900), ("1", 100, 25400)),
        *(("Rough", 100, None), ("1", 200, 25500)),
    ]


def test_a_difference_below_the_mean_of_a_block_begins_no_other_one(tmp_path: Path) -> None:
    block = "Name|{}\n|Rough|1|2\nFinal|25.80|25.30|25.40\nInitial|0.00|0.00|0.05\nTitre|25.80|25.30|25.35"
    text = "\n\n".join(f"{block.format(name)}\nMean|25.33\nDifference|0.05" for name in ("Ada", "Ben"))
    sheet = read(tmp_path, text)
    assert [(one["student"], str(one["mean"])) for one in students_of(sheet).rows()] == [
        ("Ada", "25.33"),
        ("Ben", "25.33"),
    ]
    assert [run["titre"] for run in runs_of(sheet).rows()] == [25800, 25300, 25350] * 2
    assert "Results!B7" in sheet.ledger.ignored


def test_a_run_with_nothing_but_a_formula_over_empty_cells_was_not_done(tmp_path: Path) -> None:
    header = "Student|Run 1 initial|Run 1 final|Run 1 titre|Run 2 initial|Run 2 final|Run 2 titre"
    sheet = read(tmp_path, f"{header}\nA|0.00|24.40|24.40|||0\nB|0.00|24.40|24.40|0.00||0")
    assert list(runs_of(sheet)["label"]) == ["1", "1"]
    assert "not done" in sheet.ledger.ignored["Results!G2"]


def test_a_difference_behind_the_result_is_no_titre_of_a_run(tmp_path: Path) -> None:
    header = "Student|Run 1 initial|Run 1 final|Run 1 titre|Mean titre|Result|Class mean|Difference"
    assert list(runs_of(read(tmp_path, f"{header}\nA|0.00|24.40|24.40|24.40|0.101|24.38|0.02"))["label"]) == ["1"]


@pytest.mark.parametrize(
    ("headings", "asked", "result"),
    [
        ("Molarity of the acid|Result", "mol/dm3", "8.03"),
        ("Result|Concentration / mol dm-3", "mol/dm3", "0.219"),
        ("Concentration|Percentage by mass", "%", "8.03"),
        ("Concentration|Percentage by mass", "mol/dm3", "0.219"),
        ("Conc. / mol dm-3|Conc. / g dm-3", "g/dm3", "8.03"),
        ("Concentration|% ethanoic acid", "%", "8.03"),
        ("Concentration of the peroxide|Vol. strength", "", "8.03"),
        ("Molare Masse|x", "", "8.03"),
        ("Molarity|Result", "mol/dm3", "0.219"),  # nobody has filled in the other
    ],
)
def test_of_two_columns_the_result_is_the_one_that_is_called_so_or_is_of_its_quantity(
    tmp_path: Path, headings: str, asked: str, result: str
) -> None:
    ann, bo = ("0.219", "0.220") if headings == "Molarity|Result" else ("0.219|8.03", "0.220|8.01")
    rows = f"Student|Run 1 initial|Run 1 final|{headings}\nAnn|0.00|24.40|{ann}\nBo|0.00|24.35|{bo}"
    sheet = read(tmp_path, rows, asked=Asked(asked, asked))
    assert str(students_of(sheet)["result"][0]) == result


def test_of_two_columns_that_may_both_be_the_result_none_is_guessed_at(tmp_path: Path) -> None:
    rows = "Student|Run 1 initial|Run 1 final|Hardness|Acid value\nAnn|0.00|24.40|0.852|{}"
    with pytest.raises(InputError, match="'Hardness' and 'Acid value' may both be the result"):
        read(tmp_path, rows.format("5.12"))
    assert str(students_of(read(tmp_path, rows.format("0.852")))["result"][0]) == "0.852"


def test_a_concentration_beside_the_result_that_is_everybodys_is_the_known_solutions(tmp_path: Path) -> None:
    rows = "Student,Run 1 initial,Run 1 final,Concentration,Result\nAnn,0.00,24.40,0.0512,0.0977\nBo,0.00,24.45,0.0512,0.0978"
    (tmp_path / "class.csv").write_text(rows, encoding="utf-8")
    with pytest.raises(
        InputError, match=r"under 'Concentration' \(0.0512 mol/dm³ here\), and the practical gives 0.0500"
    ):
        judged_tree(tmp_path / "class.csv", "drain-cleaner", ())


def test_a_result_in_another_unit_that_is_the_same_for_all_is_no_known_concentration(tmp_path: Path) -> None:
    rows = "Student,Run 1 initial,Run 1 final,Conc NaOH (mol/dm3),Conc NaOH (g/dm3)\nAnn,0.00,24.40,0.0976,3.90"
    (tmp_path / "class.csv").write_text(f"{rows}\nBo,0.00,24.40,0.0975,3.90", encoding="utf-8")
    tree = judged_tree(tmp_path / "class.csv", "drain-cleaner", ())
    assert [str(student["claimed"]["result"]) for student in tree["students"]] == ["0.0976", "0.0975"]


def test_a_line_of_the_result_below_the_runs_is_no_run(tmp_path: Path) -> None:
    rows = "Titration|Initial|Final|Titre\nRough|0.00|24.90|24.90\n1|0.00|24.40|24.40\nMean titre|||24.40"
    sheet = read(tmp_path, f"{rows}\nResult / mol dm-3|||0.101")
    assert list(runs_of(sheet)["label"]) == ["Rough", "1"]
    assert (str(students_of(sheet)["mean"][0]), str(students_of(sheet)["result"][0])) == ("24.40", "0.101")
    assert {sheet.ledger.ignored[f"Results!A{row}"] for row in (4, 5)} == {"header of what was read"}


@pytest.mark.parametrize("row", ["n|5", "Monday group", "Set 2 (afternoon)"])
def test_a_count_and_a_heading_between_students_are_no_student(tmp_path: Path, row: str) -> None:
    assert names(read(tmp_path, f"{HEADER}\n{ANNA}\n{row}\n{CY}")) == ["Anna", "Cy"]


def test_a_comment_on_a_run_is_no_reading_of_it(tmp_path: Path) -> None:
    header = "Student|Rough initial|Rough final|Comments on rough|Run 1 initial|Run 1 final|Comments"
    sheet = read(tmp_path, f"{header}\nA|0.00|24.90|too fast|0.00|24.40|fine")
    assert list(runs_of(sheet)["final"]) == [24_900, 24_400]
    assert len(students_of(sheet)["notes"][0]) == 2


def test_a_column_of_kinds_tells_the_rough_in_one_row_a_run(tmp_path: Path) -> None:
    rows = "A|0|rough|0.00|24.90\nA|1|accurate|0.00|24.40\nA|2|accurate|0.10|24.45"
    sheet = read(tmp_path, f"Student|Titration no.|Type|Initial|Final\n{rows}")
    assert list(runs_of(sheet)["label"]) == ["Rough", "1", "2"]


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("starting volume, I ml|final volume, I ml|volume added, I ml", "starting volume, II ml|final volume, II ml|volume added, II ml"),
        ("First: V1|First: V2|First: V2-V1", "Second: V1|Second: V2|Second: V2-V1"),
        ("#1_V1 [mL]|#1_V2 [mL]|#1_V2-V1 [mL]", "#2_V1 [mL]|#2_V2 [mL]|#2_V2-V1 [mL]"),
        ("initial, A|final, A|titre, A", "initial, B|final, B|titre, B"),
        ("Trial 1 start|Trial 1 end|Trial 1 titre", "Trial 2 start|Trial 2 end|Trial 2 titre"),
    ],
    ids=["Roman numbers", "V1 and V2", "V1 and V2 behind a number", "letters", "trials with an R"],
)  # fmt: skip
def test_runs_are_told_by_numbers_letters_and_symbols(tmp_path: Path, first: str, second: str) -> None:
    sheet = read(
        tmp_path, f"Student|R initial|R final|{first}|{second}\nA|0.00|24.90|0.00|24.40|24.40|0.10|24.45|24.35"
    )
    assert list(runs_of(sheet)["label"]) == ["Rough", "1", "2"]
    assert list(runs_of(sheet)["titre"])[1:] == [24_400, 24_350]


def test_a_second_sheet_that_copies_part_of_the_first_is_left_out_and_that_is_said(tmp_path: Path) -> None:
    def copy(sheet: Any) -> None:
        sheet.parent.copy_worksheet(sheet).delete_cols(6, 4)

    sheet = class_of(tmp_path, copy, rows=[line.split("|") for line in (HEADER, ANNA, CY)])
    assert names(sheet) == ["Anna", "Cy"]
    assert any("repeats students of the sheet Results, and was left out" in note for note in sheet.notes)


def test_a_title_of_two_cells_over_the_names_names_no_run(tmp_path: Path) -> None:
    sheet = read(tmp_path, f"Year 12 titration|Monday\n{HEADER}\n{ANNA}\n{CY}")
    assert sorted(set(runs_of(sheet)["label"])) == ["1", "2", "Rough"]
    assert "a title" in sheet.ledger.ignored["Results!A1"]


def test_a_class_whose_columns_are_all_alike_has_class_figures_too(tmp_path: Path) -> None:
    rows = "\n".join(f"{name}|0.00|24.40|0.10|24.50" for name in ("A", "B", "Class mean"))
    assert names(read(tmp_path, f"Student|Run 1 initial|Run 1 final|Run 2 initial|Run 2 final\n{rows}")) == ["A", "B"]


def test_blocks_under_bare_names_go_by_them_whatever_the_names_are(tmp_path: Path) -> None:
    block = "|Rough|1\nFinal|25.90|25.40\nInitial|0.00|0.10\nMean|25.30"
    away = "|Rough|1\nFinal\nInitial\nMean"
    sheet = read(tmp_path, "\n\n".join((f"Ann Lee\n{block}", f"Bo Ray (absent)\n{away}", f"Cy Sum\n{block}")))
    assert names(sheet) == ["Ann Lee", "Bo Ray (absent)", "Cy Sum"]
    assert absent(sheet) == ["Bo Ray (absent)"]


def test_a_rough_titre_over_the_others_in_lines_of_key_and_value_is_taken(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Name|Ann Lee\nRough|25.90\nTitre 1|25.30\nTitre 2|25.35\nMean titre|25.33")
    assert list(runs_of(sheet)["label"]) == ["Rough", "1", "2"]


@pytest.mark.parametrize("corner", ["Reading", "Quantity", ""])
@pytest.mark.parametrize("again", [True, False], ids=["the name in every line", "once"])
def test_names_stand_beside_the_lines_of_their_readings(tmp_path: Path, corner: str, again: bool) -> None:
    lines = [f"Student|{corner}|Rough|1|2"]
    for name, low in (("Ann Lee", "0.00"), ("Bo Ray", "0.10"), ("Cy Sum", "0.20")):
        lines += [f"{name}|Initial|{low}|{low}|{low}", f"{name if again else ''}|Final|25.90|25.40|25.45"]
    sheet = read(tmp_path, "\n".join(lines))
    assert names(sheet) == ["Ann Lee", "Bo Ray", "Cy Sum"]
    assert list(runs_of(sheet)["label"]) == ["Rough", "1", "2"] * 3


def test_means_under_the_surname_first_are_those_of_the_same_students(tmp_path: Path) -> None:
    readings = "Name|Run 1 initial|Run 1 final|Run 2 initial|Run 2 final"
    rows = f"{readings}\nAnke Baum|0.00|24.40|0.00|24.45\nChen Li|0.00|24.35|0.00|24.35\n\n"
    sheet = read(tmp_path, f"{rows}Student|Mean titre|Result\nLi, Chen|24.35|0.097\nBaum, Anke|24.43|0.098")
    assert [(one["student"], float(one["mean"])) for one in students_of(sheet).rows()] == [
        ("Anke Baum", 24.43),
        ("Chen Li", 24.35),
    ]


def test_sheets_called_bench_1_and_bench_2_group_whoever_is_at_no_other_bench(tmp_path: Path) -> None:
    head = ["Student", "Bench", "Titre 1", "Titre 2"]
    benches = {"Bench 1": [head, ["A", "North", 24.4, 24.45], ["B", None, 24.4, 24.45]]}
    sheet = workbook(tmp_path, **benches, **{"Bench 2": [head[:1] + head[2:], ["C", 24.4, 24.45], ["D", 24.4, 24.45]]})
    assert [one["Bench"] for one in students_of(sheet)["groups"]] == ["North", "1", "2", "2"]


def test_a_sheet_for_each_student_is_no_grouping(tmp_path: Path) -> None:
    rows = [["Run", "Titre"], ["1", 24.4], ["2", 24.45]]
    sheet = workbook(tmp_path, **{"Bench 1": rows, "Bench 2": rows})
    assert students_of(sheet)["student"] == ["Bench 1", "Bench 2"]
    assert students_of(sheet)["groups"] == [{}, {}]


def test_a_student_called_max_keeps_every_titre_in_a_table_of_names_and_titres(tmp_path: Path) -> None:
    titres = {
        "Anke": ("25.90", "25.30", "25.40"),
        "Max": ("25.80", "25.35", "25.45"),
        "Ben": ("26.00", "25.40", "25.30"),
    }
    rows = [f"{name}|{titre}" for name, done in titres.items() for titre in done]
    sheet = read(tmp_path, "\n".join(["Student|Titre", *rows]))
    assert (names(sheet), len(runs_of(sheet))) == ([*titres], 9)


def test_a_sum_below_a_block_does_not_name_the_student_of_the_next(tmp_path: Path) -> None:
    under = ["Mean titre = 25.33 cm3", "Moles of acid = 0.00127 mol", "Concentration of NaOH = 0.101 mol/dm3"]
    block = ["{}|Rough|1|2", "Initial|0.00|0.00|0.10", "Final|25.90|25.30|25.45", *under, ""]
    sheet = read(tmp_path, "\n".join(line.replace("{}", name) for name in ("Ann", "Bea") for line in block))
    assert names(sheet) == ["Ann", "Bea"]


@pytest.mark.parametrize(
    "title", ["Resultados de la clase", "Results of the class", "Ergebnisse der Klasse", "Résultats de la classe"]
)
def test_results_of_the_class_are_those_of_no_student_called_so(tmp_path: Path, title: str) -> None:
    block = "{}\n|Initial|Final\nRun 1|0.00|24.10\nRun 2|0.05|24.15"
    sheet = read(tmp_path, f"{title}\n" + "\n\n".join(block.format(name) for name in ("Anna", "Cy")))
    assert names(sheet) == ["Anna", "Cy"]


@pytest.mark.parametrize("label", ["Bench|1", "Bench:|2", "Group|3", "Class|12", "Tub|1", "Bench|1|Date|12"])
def test_a_bench_over_the_readings_of_a_block_names_no_run(tmp_path: Path, label: str) -> None:
    block = f"Name|{{}}\n{label}\nRun|Initial|Final\nRough|0.00|24.60\n1|0.00|24.10\n2|0.05|24.15"
    sheet = read(tmp_path, "\n\n".join(block.format(name) for name in ("Anna", "Cy")))
    assert names(sheet) == ["Anna", "Cy"]
    assert [(run["label"], run["final"]) for run in runs_of(sheet).rows()] == [
        ("Rough", 24600),
        ("1", 24100),
        ("2", 24150),
    ] * 2


def test_blocks_side_by_side_have_a_bench_each(tmp_path: Path) -> None:
    rows = ["Results of Anna||||Results of Cy||", "Bench|1|||Bench|2|", "|Start|End||  |Start|End"]
    rows += ["Rough|0.00|24.60||Rough|0.00|24.70", "1|0.00|24.10||1|0.05|24.20", "2|0.05|24.15||2|0.10|24.30"]
    sheet = read(tmp_path, "\n".join(rows))
    assert names(sheet) == ["Anna", "Cy"]
    assert [student.groups for student in sheet.students] == [{"Bench": "1"}, {"Bench": "2"}]


def test_a_heading_that_reaches_over_the_titres_is_not_that_of_the_answers(tmp_path: Path) -> None:
    rows = ["|Start||End||Volume used||", "Student|1|2|1|2|1|2|Mean|Result"]
    rows += ["Anna|0.00|0.05|24.10|24.15|24.10|24.10|24.10|0.1100", "Cy|0.05|0.10|24.35|24.40|24.30|24.30|24.30|0.1120"]
    sheet = read(tmp_path, "\n".join(rows))
    assert [str(each) for each in students_of(sheet)["result"]] == ["0.1100", "0.1120"]
    assert runs_of(sheet)["label"] == ["1", "2"] * 2
    assert not any("not used" in note or "not understood" in note for note in sheet.notes)


@pytest.mark.parametrize("again", [True, False])
@pytest.mark.parametrize("left", ["people", "runs"])
def test_a_mass_before_the_readings_goes_with_those_below_it(tmp_path: Path, again: bool, left: str) -> None:
    lines = ["Mass / g|{}|{}", "Initial|0.00|0.05", "Final|24.10|24.15"]
    rows, called = ["Student||Run 1|Run 2"], ("Anna", "Cy", "Di")
    if left == "runs":
        rows, called = ["||Anna|Cy"], ("Rough", "Run 1", "Run 2")
    for place, name in enumerate(called):
        of = [line.format(f"1.{place}01", f"1.{place}02") for line in lines]
        rows += [f"{name if again or at == 0 else ''}|{line}" for at, line in enumerate(of)]
    sheet = read(tmp_path, "\n".join(rows), numbers=(MASSES,))
    if left == "people":
        expected = [(name, f"1.{place}0{run}") for place, name in enumerate(called) for run in (1, 2)]
    else:
        expected = [(name, f"1.{place}0{at}") for at, name in ((1, "Anna"), (2, "Cy")) for place in range(3)]
    assert masses_of(sheet) == expected


def masses_of(sheet: ClassSheet) -> list[tuple[str, str]]:
    return [(one.name, str(run.inputs["sample.mass"].value)) for one in sheet.students for run in one.runs]


@pytest.mark.parametrize("kind", ["tables", "sheets"])
def test_a_mass_in_the_table_of_each_run_is_that_of_the_run(tmp_path: Path, kind: str) -> None:
    tables = {
        run: f"Name|Mass / g|Initial|Final\nAnna|1.{place}01|0.00|24.10\nCy|1.{place}02|0.05|24.15"
        for place, run in enumerate(("Rough", "Run 1", "Run 2"))
    }
    if kind == "sheets":
        book = openpyxl.Workbook()
        for run, of in tables.items():
            put(book.create_sheet(run), [line.split("|") for line in of.split("\n")])
        del book["Sheet"]
        book.save(tmp_path / "class.xlsx")
        sheet = read_class(tmp_path / "class.xlsx", numbers=(MASSES,))
    else:
        sheet = read(tmp_path, "\n\n".join(f"{run}\n{of}" for run, of in tables.items()), numbers=(MASSES,))
    assert masses_of(sheet) == [
        (name, f"1.{place}0{at}") for at, name in ((1, "Anna"), (2, "Cy")) for place in range(3)
    ]


@pytest.mark.parametrize("corner", ["", "Nr.", "Run"])
@pytest.mark.parametrize("first", ["Rough", "Zirka"])
def test_runs_of_several_blocks_side_by_side_are_nobody(tmp_path: Path, corner: str, first: str) -> None:
    rows = ["Results of Anna||||Results of Cy||", f"{corner}|Start|End||{corner}|Start|End"]
    rows += [f"{first}|0.00|24.60||{first}|0.00|24.70", "1|0.00|24.10||1|0.05|24.20", "2|0.05|24.15||2|0.10|24.30"]
    assert names(read(tmp_path, "\n".join(rows))) == ["Anna", "Cy"]


@pytest.mark.parametrize("first", ["Rough", "Zirka"])
def test_runs_to_the_left_of_everybody_are_nobody(tmp_path: Path, first: str) -> None:
    rows = ["|Anna||Cy|", "Run|Start|End|Start|End", f"{first}|0.00|24.60|0.00|24.70", "1|0.00|24.10|0.05|24.20"]
    assert names(read(tmp_path, "\n".join([*rows, "2|0.05|24.15|0.10|24.30", "Mean|24.10||24.18|"]))) == ["Anna", "Cy"]


def test_what_stands_between_two_blocks_is_of_the_lower_one(tmp_path: Path) -> None:
    block = "Results of {}\nBench:|{}\nRun|Initial|Final\nRough|0.00|24.60\n1|0.05|24.15"
    sheet = read(tmp_path, f"{block.format('Anna', 1)}\n\n{block.format('Cy', 2)}")
    assert [(one.name, one.groups, len(one.runs)) for one in sheet.students] == [
        ("Anna", {"Bench": "1"}, 2),
        ("Cy", {"Bench": "2"}, 2),
    ]


@pytest.mark.parametrize("below", ["", "Titre|24.10|24.10\n"])
def test_a_title_of_results_heads_the_next_block(tmp_path: Path, below: str) -> None:
    block = f"Results of {{}}\nRun|Run 1|Run 2\nFinal|24.10|24.15\nInitial|0.00|0.05\n{below}"
    assert names(read(tmp_path, "\n".join(("Year 12 practical 4", block.format("Anna"), block.format("Cy"))))) == [
        "Anna",
        "Cy",
    ]


@pytest.mark.parametrize(
    "note", ["Rinse the burette before", "Anmerkung: Bürette vorher spülen", "Rincer la burette avant"]
)
def test_a_note_with_a_word_of_readings_is_no_block(tmp_path: Path, note: str) -> None:
    sheet = read(tmp_path, f"Name|Anna\n|Rough|1|2\nInitial|0.00|0.00|0.05\nFinal|24.60|24.10|24.15\n\n{note}")
    assert (names(sheet), runs_of(sheet)["final"]) == (["Anna"], [24600, 24100, 24150])


def test_a_name_and_a_run_that_are_said_once_stand_for_the_readings_below(tmp_path: Path) -> None:
    lines = "{}|Rough|Initial|0.00\n||Final|24.60\n|1|Initial|0.05\n||Final|24.15\n"
    sheet = read(tmp_path, f"Student|Run|Reading|cm3\n{lines.format('Anna')}{lines.format('Cy')}")
    told = [(names(sheet)[run["student"]], run["label"], run["final"]) for run in runs_of(sheet).rows()]
    assert told == [(name, *run) for name in ("Anna", "Cy") for run in (("Rough", 24600), ("1", 24150))]


@pytest.mark.parametrize("again", [True, False])
@pytest.mark.parametrize("corner", ["Nr.|", "|Student", "|"])
def test_a_rough_counted_0_to_the_left_of_the_readings_is_the_rough(tmp_path: Path, again: bool, corner: str) -> None:
    of = [f"{run}|Start|0.00|0.05\n{run if again else ''}|End|24.{run}0|24.{run}5" for run in range(3)]
    sheet = read(tmp_path, "\n".join((f"{corner}|Anna|Cy", *of)))
    assert names(sheet) == ["Anna", "Cy"]
    assert runs_of(sheet)["label"] == ["Rough", "1", "2"] * 2


@pytest.mark.parametrize("sets", ["A|B", "1|2", "1|1", "2|1"])
def test_a_set_between_both_readings_of_a_run_parts_nothing(tmp_path: Path, sets: str) -> None:
    rows = ["Student|Anna|Cy", "Run 1 initial|0.00|0.05", "Run 1 final|24.10|24.25", "Run 2 initial|0.05|0.10"]
    sheet = read(tmp_path, "\n".join((*rows, f"Set|{sets}", "Run 2 final|24.15|24.20", "Result|0.1100|0.1120")))
    assert names(sheet) == ["Anna", "Cy"]
    assert runs_of(sheet)["final"] == [24100, 24150, 24250, 24200]


def test_a_number_beside_every_name_that_is_that_of_a_run_here_and_there_is_no_run(tmp_path: Path) -> None:
    lines = ["Anna|1|1|0.00|24.10", "||2|0.05|24.15", "Cy|2|1|0.00|24.25", "||2|0.00|24.20", "Di|2|1|0.10|24.25"]
    sheet = read(tmp_path, "\n".join(("Student|Tub|Run|Initial|Final", *lines, "||2|0.00|24.20")))
    assert (names(sheet), len(runs_of(sheet))) == (["Anna", "Cy", "Di"], 6)


def test_a_table_titled_0_is_of_the_rough(tmp_path: Path) -> None:
    tables = [
        f"{run}\nStudent|Start|End\nAnna|0.00|24.{at}0\nCy|0.05|24.{at}5" for at, run in enumerate(("0", "Trial 1"))
    ]
    sheet = read(tmp_path, "\n\n".join(tables))
    assert (names(sheet), runs_of(sheet)["label"]) == (["Anna", "Cy"], ["Rough", "1"] * 2)


def test_who_did_not_do_a_run_stands_once_where_each_run_has_a_sheet(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for run, of in (("Run 1", ("Anna|0.00|24.10", "Cy|0.05|24.15")), ("Run 2", ("Anna|0.10|24.20", "Cy||"))):
        put(book.create_sheet(run), [line.split("|") for line in ("Name|Initial|Final", *of)])
    put(book.create_sheet("Answers"), [["Name", "Result"], ["Anna", "0.1100"], ["Cy", "0.1120"]])
    del book["Sheet"]
    book.save(tmp_path / "class.xlsx")
    sheet = read_class(tmp_path / "class.xlsx")
    told = [(one.name, len(one.runs), str(one.own_result)) for one in sheet.students]
    assert told == [("Anna", 2, "0.1100"), ("Cy", 1, "0.1120")]


@pytest.mark.parametrize("runs", ["Trial", "Run", ""])
def test_a_rough_counted_0_over_its_readings_is_the_rough(tmp_path: Path, runs: str) -> None:
    heads = f"Student|0||{runs} 1||{runs} 2|\n|Start|End|Start|End|Start|End"
    sheet = read(tmp_path, f"{heads}\nAnna|0.00|24.60|0.00|24.10|0.05|24.15\nCy|0.00|24.80|0.05|24.35|0.10|24.40")
    assert runs_of(sheet)["label"] == ["Rough", "1", "2"] * 2


@pytest.mark.parametrize(
    "text",
    [
        "|Ines V||Gita R|\nRun|Start|End|Start|End\nRough|0.00|24.60|0.00|24.70\n1|0.00|24.10|0.05|24.20",
        "\n\n".join(
            f"Name: {name}\nTitration|Start|End\nRough|0.00|24.60\n1|0.00|24.10" for name in ("Ines V", "Gita R")
        ),
        "Student|Run|Reading|cm3\n"
        + "\n".join(
            f"{name}|Rough|Start|0.00\n{name}|Rough|End|24.60\n{name}|1|Start|0.05\n{name}|1|End|24.15"
            for name in ("Ines V", "Gita R")
        ),
    ],
)
def test_an_initial_behind_a_name_is_no_volume_and_no_titration(tmp_path: Path, text: str) -> None:
    sheet = read(tmp_path, text)
    assert names(sheet) == ["Ines V", "Gita R"]
    assert runs_of(sheet)["label"] == ["Rough", "1"] * 2


@pytest.mark.parametrize("order", ["Anna Di Cy", "Cy Anna Di"])
def test_answers_beside_the_readings_go_by_their_own_names(tmp_path: Path, order: str) -> None:
    heads = "Student|Run 1 initial|Run 1 final|Run 2 initial|Run 2 final||Student|Mean titre|Result"
    rows = ["Anna|0.00|24.10|0.05|24.15", "Bo|absent|||", "Cy|0.05|24.35|0.10|24.40", "Di|0.00|24.30|0.00|24.30"]
    own = {"Anna": "24.13|0.1100", "Cy": "24.30|0.1120", "Di": "24.30|0.1111"}
    beside = [*(f"{name}|{own[name]}" for name in order.split()), "||"]
    sheet = read(tmp_path, "\n".join((heads, *map("||".join, zip(rows, beside, strict=True)))))
    told = {one.name: str(one.own_result) for one in sheet.students}
    assert told == {"Anna": "0.1100", "Bo": "None", "Cy": "0.1120", "Di": "0.1111"}
    assert absent(sheet) == ["Bo"]


FIRST = "Anna|0.00|24.60|0.00|24.10|0.05|24.15\nCy|0.00|24.80|0.05|24.35|0.10|24.40"
LINES = "Anna|{0}|0.00|24.60\nAnna|{1}|0.00|24.10\nAnna|{2}|0.05|24.15\nCy|{0}|0.00|24.80\nCy|{1}|0.05|24.35"


@pytest.mark.parametrize(
    "words", ["Trial|Trial 1|Trial 2", "Test|Test 1|Test 2", "Zirka|1|2", "Tanteo|Ensayo 1|Ensayo 2"]
)
def test_a_run_without_a_number_before_the_first_is_the_rough(tmp_path: Path, words: str) -> None:
    first, *others = words.split("|")
    heads = "|".join(f"{run} {end}" for run in (first, *others) for end in ("initial", "final"))
    assert runs_of(read(tmp_path, f"Student|{heads}\n{FIRST}"))["label"] == ["Rough", "1", "2"] * 2
    lines = read(tmp_path, f"Student|Run|Initial|Final\n{LINES.format(first, *others)}")
    assert runs_of(lines)["label"] == ["Rough", "1", "2", "Rough", "1"]


@pytest.mark.parametrize("heads", ["Run 1 initial|Run 1 final|Run 2 initial|Run 2 final|Again initial|Again final"])
def test_a_run_without_a_number_behind_the_others_is_one_more(tmp_path: Path, heads: str) -> None:
    assert runs_of(read(tmp_path, f"Student|{heads}\n{FIRST}"))["label"] == ["1", "2", "3"] * 2
    trial = heads.replace("Run", "Trial").replace("Again", "Trial")
    assert runs_of(read(tmp_path, f"Student|{trial}\n{FIRST}"))["label"] == ["1", "2", "Rough"] * 2


def test_a_trial_is_the_rough_in_one_line_a_reading_too(tmp_path: Path) -> None:
    ends = [line.split("|") for line in LINES.format("Trial", 1, 2).split("\n")]
    rows = [
        f"{name}|{run}|{end}|{value}"
        for name, run, *of in ends
        for end, value in zip(("Start", "End"), of, strict=True)
    ]
    sheet = read(tmp_path, "\n".join(("Student|Run|Reading|cm3", *rows)))
    assert (names(sheet), runs_of(sheet)["label"]) == (["Anna", "Cy"], ["Rough", "1", "2", "Rough", "1"])


def test_an_x_in_a_line_of_ticks_heads_no_table_of_answers(tmp_path: Path) -> None:
    rows = ["Student|Anna|Cy", "Run 1 initial|0.00|0.05", "Run 1 final|24.10|24.25", "Run 1 used|x|x"]
    sheet = read(tmp_path, "\n".join((*rows, "Mean titre|24.10|24.20", "Result|0.1100|0.1120")))
    assert runs_of(sheet)["ticked"] == [True, True]
    assert [str(one.own_result) for one in sheet.students] == ["0.1100", "0.1120"]


def test_somebody_who_did_nothing_stands_once_where_the_roughs_have_a_sheet(tmp_path: Path) -> None:
    rough = [["Name", "Initial", "Final"], ["Anna", "0.00", "24.60"], ["Cy"]]
    runs = [["Name", "Run 1 initial", "Run 1 final"], ["Anna", "0.00", "24.10"], ["Cy", "absent"]]
    sheet = workbook(tmp_path, Rough=rough, Results=runs)
    assert (names(sheet), absent(sheet)) == (["Anna", "Cy"], ["Cy"])


@pytest.mark.parametrize("count", ["Mean|||25.30", "Total|||12"])
def test_a_number_below_a_column_of_ticks_makes_no_list_of_runs_of_it(tmp_path: Path, count: str) -> None:
    lines = "Anna|1|0.00|24.10|yes\nAnna|2|0.05|24.45|no\nCy|1|0.05|24.35|yes\nCy|2|0.10|24.40|yes"
    sheet = read(tmp_path, f"Student|Run|Initial|Final|Used\n{lines}\n\n{count.replace('|||', '||||')}")
    assert runs_of(sheet)["ticked"] == [True, False, True, True]


def test_runs_stand_below_any_corner_of_blocks_side_by_side(tmp_path: Path) -> None:
    rows = ["Anna||||Cy||", "Conc. of acid|0.0500|||Conc. of acid|0.0512|", "Burette reading|Start|End||" * 2]
    rows += ["Rough|0.00|24.60||Rough|0.00|24.70", "Run 1|0.00|24.10||Run 1|0.05|24.20"]
    sheet = read(tmp_path, "\n".join(row.strip("|") for row in rows))
    assert (names(sheet), runs_of(sheet)["label"]) == (["Anna", "Cy"], ["Rough", "1"] * 2)


@pytest.mark.parametrize("ends", ["Start|End", "V1|V2"])
@pytest.mark.parametrize("rough", ["Rough", "Trial"])
def test_a_mass_over_runs_to_the_left_of_their_readings_is_read(tmp_path: Path, rough: str, ends: str) -> None:
    first, last = ends.split("|")
    rows = ["Student||Anna|Cy", "Mass / g||1.401|1.502", f"{rough}|{first}|0.00|0.05", f"|{last}|24.60|24.70"]
    text = "\n".join((*rows, f"Run 1|{first}|0.00|0.05", f"|{last}|24.10|24.20"))
    sheet = read(tmp_path, text, numbers=[MASSES])
    assert runs_of(sheet)["label"] == ["Rough", "1"] * 2
    assert [str(one.inputs["sample.mass"].value) for one in sheet.students] == ["1.401", "1.502"]


def test_a_mass_over_a_block_with_a_corner_is_read(tmp_path: Path) -> None:
    block = "Mass / g|1.401\nBurette reading|Start|End\nRough|0.00|24.60\nRun 1|0.05|24.15"
    assert [str(one.inputs["sample.mass"].value) for one in read(tmp_path, block, numbers=[MASSES]).students] == [
        "1.401"
    ]


def test_v1_and_v2_may_stand_below_each_name(tmp_path: Path) -> None:
    rows = ["|Anna||Cy|", "Run|V1|V2|V1|V2", "Rough|0.00|24.60|0.00|24.70", "1|0.00|24.10|0.05|24.20"]
    sheet = read(tmp_path, "\n".join(rows))
    assert (names(sheet), runs_of(sheet)["final"]) == (["Anna", "Cy"], [24600, 24100, 24700, 24200])


@pytest.mark.parametrize("line", ["Media|||24.20|0.1110", "Max|||24.30|0.1120"])
def test_figures_of_means_alone_are_nobodys_whatever_they_are_called(tmp_path: Path, line: str) -> None:
    rows = "Anna|0.00|24.10|24.10|0.1100\nCy|0.05|24.35|24.30|0.1120"
    assert names(read(tmp_path, f"Student|Run 1 initial|Run 1 final|Mean titre|Result\n{rows}\n{line}")) == [
        "Anna",
        "Cy",
    ]


@pytest.mark.parametrize("gap", ["", "\n"])
@pytest.mark.parametrize("over", ["Name|{}", "{}"])
def test_a_blank_row_within_the_table_of_one_student_ends_no_runs(tmp_path: Path, gap: str, over: str) -> None:
    block = f"{over}\nRun|Initial|Final\nRough|0.00|24.60\n{gap}1|0.00|24.10\n{gap}2|0.05|24.15\n"
    sheet = read(tmp_path, f"{block.format('Anna')}\n{block.format('Cy')}")
    assert (names(sheet), runs_of(sheet)["label"]) == (["Anna", "Cy"], ["Rough", "1", "2"] * 2)


@pytest.mark.parametrize("name", ["Rosa & Max", "Rosa and Max", "Max/Rosa", "Rosa et Max"])
def test_a_pair_with_a_max_in_it_keeps_every_run(tmp_path: Path, name: str) -> None:
    lines = "{0}|Rough|0.00|24.60\n{0}|1|0.00|24.10\n{0}|2|0.05|24.15"
    sheet = read(tmp_path, "\n".join(("Name|Run|Initial|Final", lines.format("Bo & Ada"), lines.format(name))))
    assert names(sheet) == ["Bo & Ada", name]
    assert runs_of(sheet)["label"] == ["Rough", "1", "2"] * 2


@pytest.mark.parametrize("cells", ["|-", "||dentist", "absent"])
def test_a_student_called_by_a_letter_who_did_nothing_ends_no_table(tmp_path: Path, cells: str) -> None:
    rows = [f"Student {letter}|0.00|24.{at}0" for at, letter in enumerate("ABDE")]
    rows.insert(2, f"Student C|{cells}")
    assert names(read(tmp_path, "\n".join(("Student|Run 1 initial|Run 1 final", *rows)))) == [
        f"Student {letter}" for letter in "ABCDE"
    ]


def test_a_run_that_was_not_done_parts_no_lines_of_key_and_value(tmp_path: Path) -> None:
    runs = "".join(
        f"{run} start|{{}}\n{run} end|{{}}\n{run} vol. dropped in|{{}}\n" for run in ("Rough", "Run 1", "Run 2")
    )
    block = f"Name|Anna\n{runs}Mean|24.10\nResult|0.1100".format(
        "0.00", "24.60", "24.60", "0.00", "24.10", "24.10", *[""] * 3
    )
    sheet = read(tmp_path, f"{block}\n\n{block.replace('Anna', 'Cy')}")
    assert [(one.name, str(one.own_result), len(one.runs)) for one in sheet.students] == [
        ("Anna", "0.1100", 2),
        ("Cy", "0.1100", 2),
    ]


def test_a_mass_may_stand_behind_the_runs_of_who_has_a_line_for_each_reading(tmp_path: Path) -> None:
    lines = "{}|Start|0.00|0.00|0.05|{}|24.13\n|End|24.60|24.10|24.20||"
    rows = ["Name||Rough|1|2|Mass / g|Mean", lines.format("Anna", "1.401"), lines.format("Cy", "1.502")]
    sheet = read(tmp_path, "\n".join(rows), numbers=[MASSES])
    assert runs_of(sheet)["label"] == ["Rough", "1", "2"] * 2
    assert [str(one.inputs["sample.mass"].value) for one in sheet.students] == ["1.401", "1.502"]


@pytest.mark.parametrize("word", ["Trial", "Rough", "Essai rapide"])
def test_a_column_of_kinds_may_call_the_rough_a_trial(tmp_path: Path, word: str) -> None:
    lines = "{0}|{1}|0.00|24.60\n{0}|accurate|0.00|24.10\n{0}|accurate|0.05|24.15"
    rows = ("Name|Type|Initial|Final", lines.format("Anna", word), lines.format("Cy", word))
    sheet = read(tmp_path, "\n".join(rows))
    assert runs_of(sheet)["label"] == ["Rough", "1", "2"] * 2


@pytest.mark.parametrize("cell", ["absent", ""])
def test_somebody_who_did_nothing_stands_once_in_two_tables_of_a_sheet(tmp_path: Path, cell: str) -> None:
    rows = ["Name|Run 1 initial|Run 1 final", "Anna|0.00|24.10", f"Bo|{cell}", "Cy|0.05|24.35", ""]
    rows += ["Name|Run 1 titre|Mean", "Anna|24.10|24.10", "Bo||", "Cy|24.30|24.30"]
    sheet = read(tmp_path, "\n".join(rows))
    assert (names(sheet), absent(sheet)) == (["Anna", "Bo", "Cy"], ["Bo"])


@pytest.mark.parametrize(
    "people", [("1023", "1024"), ("Group 1", "Group 2"), ("Ines V", "Gita R"), ("Mark T", "Fin W")]
)
def test_codes_and_groups_below_a_heading_of_names_name_the_lines_beside_them(
    tmp_path: Path, people: tuple[str, str]
) -> None:
    lines = "{}|Start|0.00|0.00|0.05|24.13\n|End|24.60|24.10|24.20|"
    rows = ["Name||Rough|1|2|Mean", *map(lines.format, people)]
    sheet = read(tmp_path, "\n".join(rows))
    assert (names(sheet), runs_of(sheet)["label"]) == ([*people], ["Rough", "1", "2"] * 2)


@pytest.mark.parametrize("called", ["9B {}", "10B pupil {}", "Bench 2 {}", "{}. T.", "R, {}"])
@pytest.mark.parametrize("across", [True, False])
def test_names_that_end_in_letters_are_no_readings(tmp_path: Path, called: str, across: bool) -> None:
    pupils = [called.format(letter) for letter in "ABCDEFGHIJKLMNOPQRSTU"]
    heads = ["Student", "Rough initial", "Rough final", "Run 1 initial", "Run 1 final", "Run 2 initial", "Run 2 final"]
    rows = [heads, *([pupil, "0.00", "25.90", "0.05", "25.45", "2.45", "27.85"] for pupil in pupils)]
    rows = rows if across else [list(row) for row in zip(*rows, strict=True)]
    sheet = read(tmp_path, "\n".join(map("|".join, rows)))
    assert (names(sheet), len(runs_of(sheet))) == (pupils, 63)


OWN_FORM = [
    "Name|{}",
    "|Rough|1|2",
    "Final|25.90|25.30|25.45",
    "Initial|0.00|0.00|0.10",
    "Mean titre|25.33",
    "Result|0.101",
]


@pytest.mark.parametrize(
    "line", ["Checked by|", "Observations|n/a", "Date|", "Burette|B7", "Teacher|Mr Brook", "Set|2"]
)
@pytest.mark.parametrize("place", [2, 4, 5])
def test_a_line_of_a_form_takes_nobody_s_mean_and_result(tmp_path: Path, line: str, place: int) -> None:
    block = [*OWN_FORM[:place], line, *OWN_FORM[place:], ""]
    sheet = read(tmp_path, "\n".join(each.replace("{}", name) for name in ("Ann Lee", "Bea Noor") for each in block))
    assert (names(sheet), len(runs_of(sheet))) == (["Ann Lee", "Bea Noor"], 6)
    assert [str(each) for key in ("mean", "result") for each in students_of(sheet)[key]] == ["25.33"] * 2 + [
        "0.101"
    ] * 2


@pytest.mark.parametrize("line", ["Teacher|", "Technician|n/a"])
def test_who_has_a_line_for_the_teacher_below_the_name_is_a_student_all_the_same(tmp_path: Path, line: str) -> None:
    block = [OWN_FORM[0], line, *OWN_FORM[1:], ""]
    sheet = read(tmp_path, "\n".join(each.replace("{}", name) for name in ("Ann Lee", "Bea Noor") for each in block))
    assert names(sheet) == ["Ann Lee", "Bea Noor"]


@pytest.mark.parametrize("heading", ["Rank", "pH", "Locker"])
def test_small_numbers_beside_the_runs_name_no_runs(tmp_path: Path, heading: str) -> None:
    rows = [
        "Ada|3|Rough|0.00|25.80",
        "Ada|4|1|0.05|25.30",
        "Ada|4|2|1.05|26.30",
        "Bo|5|Rough|0.00|25.80",
        "Bo|6|1|0.05|25.35",
    ]
    sheet = read(tmp_path, "\n".join([f"Student|{heading}|Run|Initial|Final", *rows]))
    assert (names(sheet), runs_of(sheet)["label"]) == (["Ada", "Bo"], ["Rough", "1", "2", "Rough", "1"])


def test_readings_below_a_row_of_names_are_still_labels(tmp_path: Path) -> None:
    sheet = read(tmp_path, "Name|Rough|1|2\nFinal|24.60|24.10|24.20\nInitial|0.00|0.00|0.05\nTitre|24.60|24.10|24.15")
    assert [*runs_of(sheet)["label"]] == ["Rough", "1", "2"]


def test_somebody_over_several_runs_may_be_called_as_a_heading_is(tmp_path: Path) -> None:
    rows = ["|Ada Lind|||Anna Bank|||Cy Weber||", "|Rough|1|2|Rough|1|2|Rough|1|2"]
    rows += ["Final|24.60|24.10|24.20|24.70|24.30|24.35|24.70|24.30|24.35", "Initial" + "|0.00|0.00|0.05" * 3]
    assert names(read(tmp_path, "\n".join(rows))) == ["Ada Lind", "Anna Bank", "Cy Weber"]


def test_a_name_with_an_initial_may_stand_over_several_runs(tmp_path: Path) -> None:
    rows = ["|Ines V|||Gita R||", "|Rough|1|2|Rough|1|2", "Final|24.60|24.10|24.20|24.70|24.30|24.35"]
    sheet = read(tmp_path, "\n".join((*rows, "Initial|0.00|0.00|0.05|0.00|0.00|0.05")))
    assert (names(sheet), runs_of(sheet)["label"]) == (["Ines V", "Gita R"], ["Rough", "1", "2"] * 2)


OVER = ["Name|{}", "Name: {}"]


@pytest.mark.parametrize(
    ("over", "name"),
    [(over, name) for over in OVER for name in ("Ida Grob", "Maria Blank", "Nora Mean", "Trial, Tim", "R. B.", "V F")]
    + [("Results of {}", name) for name in ("Ida Grob", "Maria Blank", "Nora Mean")],
)
def test_somebody_may_be_called_what_a_run_or_a_mean_is_called_too(tmp_path: Path, name: str, over: str) -> None:
    table = f"{over}\n|Rough|Run 1|Run 2\nFinal|24.60|24.10|24.20\nInitial|0.00|0.00|0.05\n"
    sheet = read(tmp_path, "\n".join(table.format(each) for each in ("Jonas Weber", name, "Nora Falk")))
    assert (names(sheet), runs_of(sheet)["label"]) == (["Jonas Weber", name, "Nora Falk"], ["Rough", "1", "2"] * 3)


@pytest.mark.parametrize("heading", ["Vinegar Titre", "NaOH Volume", "Acid Titre"])
def test_a_heading_beside_that_of_names_is_nobody_s_name(tmp_path: Path, heading: str) -> None:
    sheet = read(tmp_path, f"Name|{heading}\nAda Lind|21.30\nBo Falk|21.35\nCy Weber|21.25")
    assert (names(sheet), len(runs_of(sheet))) == (["Ada Lind", "Bo Falk", "Cy Weber"], 3)


@pytest.mark.parametrize("title", ["Results of Vinegar Titration", "Results of Vinegar Trial"])
def test_results_of_a_titration_are_nobody_s(tmp_path: Path, title: str) -> None:
    rows = [title, "|Rough|Run 1|Run 2", "Final|24.60|24.10|24.20", "Initial|0.00|0.00|0.05"]
    assert names(read(tmp_path, "\n".join(rows))) == ["class"]
