"""The teacher's decisions: made in marks.xlsx, applied, and kept."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from labmark.decisions.read import decisions_in
from labmark.explain import explained
from labmark.outputs.decision_rows import listed
from labmark.problems import InputError
from tests.decided import CLASS, Marked, cell_of, mark, student, written
from tests.seeds import few_quick

OWN_MASS = """title = "Washing soda"
equation = "2 HCl + Na2CO3 -> 2 NaCl + H2O + CO2"
[burette]
solution = "HCl"
concentration = 0.1000
[flask]
solution = "Na2CO3"
aliquot = 25.0
[sample]
mass = { column = "Mass" }
made_up_to = 250.0
[result]
of = "Na2CO3"
quantity = "percent by mass"
significant_figures = 3
"""
ADA, CY = {"Student": "Ada"}, {"Student": "Cy"}
ZERO = ("Marks", ADA, "accuracy /3", 0)


@pytest.fixture
def folder(tmp_path: Path, once: Path) -> Marked:
    """Return a folder in which the class was marked."""
    return Marked(Path(shutil.copytree(once, tmp_path / "marked")))


def decisions(tree: dict[str, Any]) -> list[tuple[Any, ...]]:
    return [(each["student"], each["what"], each["of"], each["value"], each["was"]) for each in tree["decisions"]]


def test_a_folder_without_decisions_is_written_the_same_again(folder: Marked) -> None:
    before = (folder.folder / "marks.xlsx").read_bytes()
    assert folder.mark()["decisions"] == []
    assert (folder.folder / "marks.xlsx").read_bytes() == before


def test_a_mark_is_the_teachers_and_the_schemes_stands_beside_it(folder: Marked) -> None:
    total = student(folder.mark(), "Ada")["total"]
    folder.write(("Marks", ADA, "accuracy /3", 1))
    tree = folder.mark()
    given = mark(tree, "Ada", "accuracy")
    assert (given["mark"], given["by"], given["scheme_mark"]) == (1, "teacher", 3)
    assert student(tree, "Ada")["total"] == total - 2
    assert decisions(tree) == [("Ada", "mark", "accuracy", 1, 3)]


@pytest.mark.slow
def test_a_decision_outlives_every_later_run_and_clearing_its_cell_takes_it_back(folder: Marked) -> None:
    folder.mark()
    before = (folder.folder / "marks.xlsx").read_bytes()
    folder.write(("Marks", ADA, "accuracy /3", 1))
    folder.mark()
    second = (folder.folder / "marks.xlsx").read_bytes()
    folder.mark()
    assert (folder.folder / "marks.xlsx").read_bytes() == second
    folder.write(("Marks", ADA, "accuracy /3", None))
    assert folder.mark()["decisions"] == []
    assert (folder.folder / "marks.xlsx").read_bytes() == before


@pytest.mark.slow
def test_typing_the_schemes_mark_again_takes_the_decision_back(folder: Marked) -> None:
    folder.write(("Marks", ADA, "accuracy /3", 1))
    folder.mark()
    folder.write(("Marks", ADA, "accuracy /3", 3))
    assert folder.mark()["decisions"] == []


def test_words_for_the_student_stand_with_the_student_and_a_private_note_nowhere_else(folder: Marked) -> None:
    folder.write(("Marks", ADA, "Comment", "Well recorded: ±0.05 cm³."), ("Marks", CY, "Private note", "tap leaks"))
    tree = folder.mark()
    assert student(tree, "Ada")["comment"] == "Well recorded: ±0.05 cm³."
    assert decisions(tree) == [
        ("Ada", "comment", None, "Well recorded: ±0.05 cm³.", None),
        ("Cy", "note", None, "tap leaks", None),
    ]
    assert "tap leaks" not in str({key: value for key, value in tree.items() if key != "decisions"})


def test_a_student_who_is_excused_is_out_of_nothing(folder: Marked) -> None:
    folder.write(("Marks", CY, "Excused", "yes"))
    tree = folder.mark()
    one = student(tree, "Cy")
    assert (one["total"], one["out_of"], one["attention"]) == (0, 0, None)
    assert {(each["mark"], each["by"]) for each in one["marks"]} == {(None, "teacher")}


@pytest.mark.slow
def test_a_finding_set_aside_keeps_its_place_and_asks_nobody(folder: Marked) -> None:
    before = student(folder.mark(), "Ada")
    row = {"Student": "Ada", "Finding": before["findings"][0]["finding"]}
    folder.write(("Findings", row, "Aside", "yes"))
    after = student(folder.mark(), "Ada")
    assert [each["finding"] for each in after["findings"]] == [each["finding"] for each in before["findings"]]
    assert after["findings"][0]["aside"] is True


WEIGHED = "Student,Mass,Run 1 initial,Run 1 final,Run 2 initial,Run 2 final,Mean titre,Result"
"""Of sodium carbonate: 25.00 × 0.1000 ÷ 1000 ÷ 2 × 10 × 105.988 ÷ 1.394 × 100 = 95.0 %."""
FAR_OFF = "\n".join(
    (
        WEIGHED,
        *(
            f"{name},{mass},0.00,25.00,0.50,25.50,25.00,95.0"
            for name, mass in {**dict.fromkeys("ABCDE", 1.394), "F": 0.142}.items()
        ),
    )
)


@pytest.mark.slow
def test_no_mark_waits_for_a_number_that_the_teacher_does_not_doubt(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text(OWN_MASS + "[reference]\nvalue = 95.0\n")
    folder = Marked(tmp_path / "marked", str(own))
    assert mark(folder.mark(FAR_OFF), "F", "accuracy")["pending"]
    folder.write(("Findings", {"Student": "F", "Finding": "implausible-input"}, "Aside", "yes"))
    one = student(folder.mark(FAR_OFF), "F")
    assert [each["aside"] for each in one["findings"] if each["finding"] == "implausible-input"] == [True]
    # 25.00 cm³ is ten times as much as 0.142 g calls for, and 95.0 does not follow from it.
    assert [each["criterion"] for each in one["marks"] if each.get("pending") or "checked" in each["reason"]] == []
    assert {mark(folder.mark(FAR_OFF), "F", each)["mark"] for each in ("accuracy", "calculation")} == {0}


@pytest.mark.slow
def test_a_slip_that_the_teacher_does_not_uphold_is_not_named_beside_the_mark(folder: Marked) -> None:
    text = CLASS.replace("25.33,0.101", "25.33,0.0507")
    before = mark(folder.mark(text), "Ada", "calculation")
    assert before["told"].endswith("but 0.0507 is written: mole ratio left out, which costs 1.")
    folder.write(("Findings", {"Student": "Ada", "Finding": "ratio-ignored"}, "Aside", "yes"))
    after = mark(folder.mark(text), "Ada", "calculation")
    assert after["told"].endswith("but 0.0507 is written: a slip in the working, which costs 1.")
    assert (after["mark"], after["by"]) == (before["mark"], "scheme")


@pytest.mark.slow
def test_marks_that_wait_for_an_answer_that_cannot_be_read_are_settled_by_hand(folder: Marked) -> None:
    unread = CLASS.replace("25.28,0.101", "25.28,0.1O1")
    tree = folder.mark(unread)
    reason = "T3 holds “0.1O1”, which cannot be read as a number."
    for criterion in ("calculation", "figures"):
        waits = mark(tree, "Bo", criterion)
        assert (waits["mark"], waits["pending"], waits["reason"], waits["cells"][0]) == (None, True, reason, "T3")
    before = student(tree, "Bo")
    assert "written result cannot be read" in before["attention"]["why"].lower()
    folder.write(*(("Marks", {"Student": "Bo"}, heading, 1) for heading in ("calculation /2", "figures /1")))
    one = student(folder.mark(unread), "Bo")
    assert one["attention"] is None
    assert (one["total"], one["out_of"]) == (before["total"] + 2, before["out_of"] + 3)


@pytest.mark.slow
def test_an_absent_student_may_be_marked_by_hand(folder: Marked) -> None:
    folder.write(("Marks", {"Student": "Flo"}, "accuracy /3", 2))
    one = student(folder.mark(), "Flo")
    assert (one["total"], one["out_of"]) == (2, 3)


@pytest.mark.slow
def test_a_mark_is_flagged_where_the_schemes_own_has_changed_since(folder: Marked) -> None:
    folder.write(("Marks", ADA, "recording /1", 0))
    folder.mark()
    tree = folder.mark(CLASS.replace("Ada,1,1,0.00,25.70,25.70,0.00,25.30", "Ada,1,1,0.00,25.70,25.70,0.00,25.3"))
    (decision,) = tree["decisions"]
    assert decision["stale"] is True
    assert mark(tree, "Ada", "recording")["by"] == "teacher"
    assert student(tree, "Ada")["attention"]["rank"] == 1
    assert student(tree, "Ada")["attention"]["why"].startswith("one decision of yours to look at again")


@pytest.mark.slow
def test_decisions_on_a_student_who_is_gone_are_kept_and_those_on_one_renamed_go_along(folder: Marked) -> None:
    folder.write(("Marks", ADA, "accuracy /3", 1), ("Marks", CY, "accuracy /3", 0))
    folder.mark()
    changed = "\n".join(line for line in CLASS.replace("Cy,", "Cyril,").split("\n") if not line.startswith("Ada"))
    for _ in range(2):
        tree = folder.mark(changed)
        assert [(each["student"], each["stale"]) for each in tree["decisions"]] == [("Cyril", False), ("Ada", True)]
    assert [each["stale"] for each in folder.mark()["decisions"]] == [False, False]


def marked_so(folder: Marked, first: str, *cells: tuple[str, dict[str, Any], str, Any], then: str) -> list[Any]:
    """Decide about one class, mark another one twice, and return whose decision stands or not."""
    folder.mark(first)
    folder.write(*cells)
    folder.mark(first)
    folder.mark(then)
    return [(each["student"], each["stale"]) for each in folder.mark(then)["decisions"]]


@pytest.mark.slow
def test_a_decision_is_not_of_another_student_of_the_name(folder: Marked) -> None:
    other = CLASS.replace(
        "Ada,1,1,0.00,25.70,25.70,0.00,25.30,25.30,y,0.00,25.35", "Ada,9,1,0.10,9,9,0.10,9,9,y,0.10,9"
    )
    assert marked_so(folder, CLASS, ZERO, then=other) == [("Ada (1)", True)]
    assert mark(folder.mark(other), "Ada", "accuracy")["by"] == "scheme"
    assert folder.mark()["decisions"][0]["student"] == "Ada"


@pytest.mark.slow
def test_an_id_that_was_corrected_or_given_later_takes_no_decision_away(folder: Marked) -> None:
    assert marked_so(folder, CLASS.replace("Ada,1", "Ada,"), ZERO, then=CLASS) == [("Ada", False)]
    assert marked_so(folder, CLASS, then=CLASS.replace("Ada,1", "Ada,A1")) == [("Ada", False)]


@pytest.mark.slow
def test_two_students_who_were_given_one_id_are_told_apart_by_their_names(folder: Marked) -> None:
    twice = CLASS.replace("Bo,2", "Bo,1")
    assert marked_so(folder, twice, ZERO, then=twice) == [("Ada", False)]


TAKE_BACK = ("Decisions", {"Student": "Ada", "Decided": "mark for accuracy"}, "Take back")


@pytest.mark.slow
def test_a_decision_on_a_student_who_is_gone_may_be_taken_back(folder: Marked) -> None:
    gone = "\n".join(line for line in CLASS.split("\n") if not line.startswith("Ada"))
    assert marked_so(folder, CLASS, ZERO, ("Marks", CY, "Comment", "good"), then=gone) == [("Cy", False), ("Ada", True)]
    folder.write((*TAKE_BACK, "yes"))
    assert decisions(folder.mark(gone)) == [("Cy", "comment", None, "good", None)]
    assert decisions(folder.mark()) == [("Cy", "comment", None, "good", None)]


@pytest.mark.slow
def test_any_decision_may_be_taken_back_but_not_be_made_anew_with_it(folder: Marked) -> None:
    folder.write(ZERO)
    folder.mark()
    folder.write((*TAKE_BACK, "yes"), ("Marks", ADA, "accuracy /3", 1))
    with pytest.raises(InputError, match=r"Marks!\w+: it is taken back in Decisions!\w+, and decided anew here"):
        folder.mark()
    folder.write(ZERO)
    assert folder.mark()["decisions"] == []
    assert mark(folder.mark(), "Ada", "accuracy")["mark"] == 3


def test_decisions_stand_without_marks_xlsx(folder: Marked) -> None:
    folder.write(("Marks", ADA, "accuracy /3", 1))
    folder.mark()
    (folder.folder / "marks.xlsx").unlink()
    assert decisions(folder.mark()) == [("Ada", "mark", "accuracy", 1, 3)]


BAD = {
    "a mark beyond the scheme's": ("Marks", ADA, "accuracy /3", 99, "out of range"),
    "a mark in words": ("Marks", ADA, "accuracy /3", "two", "not a number"),
    "neither yes nor no": ("Marks", ADA, "Excused", "perhaps", "neither yes nor no"),
    "a student who never was": ("Runs", ADA, "Student", "Zoe", "nobody called"),
}


@pytest.mark.parametrize(("sheet", "row", "heading", "value", "what"), few_quick(BAD.values(), 4), ids=BAD)
def test_a_cell_that_cannot_be_read_is_named(
    folder: Marked, sheet: str, row: dict[str, Any], heading: str, value: Any, what: str
) -> None:
    teachers = {"Marks": "Comment", "Runs": "Use"}[sheet]
    folder.write((sheet, row, teachers, "yes"), (sheet, row, heading, value))
    with pytest.raises(InputError) as caught:
        folder.mark()
    for problem in caught.value.problems:
        assert what in problem.what
        assert problem.cell.startswith(f"{sheet}!")


def test_two_rows_that_say_otherwise_are_an_error(folder: Marked) -> None:
    def twice(book: Any) -> None:
        page = book["Marks"]
        cell_of(book, "Marks", ADA, "accuracy /3").value = 1
        page.append([cell.value for cell in page[2]])
        page.cell(page.max_row, cell_of(book, "Marks", ADA, "accuracy /3").column).value = 2

    folder.change(twice)
    with pytest.raises(InputError, match="says otherwise than Marks!"):
        folder.mark()


@pytest.mark.slow
@pytest.mark.parametrize("heading", few_quick(["ACCURACY / 3", "accuracy\n/3", " Accuracy/3"], 3))
def test_a_heading_may_be_written_otherwise_and_stands_once_after_the_next_run(folder: Marked, heading: str) -> None:
    folder.change(written(ZERO, ("Marks", {"Student": "Student"}, "accuracy /3", heading)))
    assert decisions(folder.mark()) == [("Ada", "mark", "accuracy", 0, 3)]
    book = openpyxl.load_workbook(folder.folder / "marks.xlsx", read_only=True)
    heads = [cell.value.casefold() for cell in book["Marks"][1]]
    assert [head for head in heads if "accuracy" in head] == ["accuracy /3", "accuracy, as marked"]


@pytest.mark.slow
def test_a_heading_in_another_language_than_the_folders_is_understood(folder: Marked) -> None:
    head = {"Student": "Student"}
    comment, schueler = ("Marks", head, "Comment", "Kommentar"), ("Marks", head, "Student", "Schülerin")
    folder.write(("Marks", ADA, "Comment", "Well done."), comment, schueler)
    assert decisions(folder.mark()) == [("Ada", "comment", None, "Well done.", None)]


@pytest.mark.slow
def test_a_copy_of_a_column_may_not_say_otherwise(folder: Marked) -> None:
    def copied(book: Any) -> None:
        page = book["Marks"]
        cell_of(book, "Marks", ADA, "accuracy /3").value = 1
        page.insert_cols(3)
        page["C1"], page["C2"] = "accuracy /3", 2

    folder.change(copied)
    with pytest.raises(InputError, match=r"Marks!\w+: it says otherwise than Marks!C2"):
        folder.mark()


@pytest.mark.slow
def test_a_sheet_is_found_under_the_name_that_the_teacher_gave_it(folder: Marked) -> None:
    folder.change(written(ZERO), lambda book: setattr(book["Marks"], "title", "Marks 10B"))
    assert decisions(folder.mark()) == [("Ada", "mark", "accuracy", 0, 3)]


@pytest.mark.slow
def test_a_column_or_a_sheet_that_is_gone_is_said(folder: Marked) -> None:
    def without(book: Any) -> None:
        cell_of(book, "Marks", {"Student": "Student"}, "accuracy /3").value = "Acc"
        del book["Runs"]

    folder.change(written(ZERO), without)
    notes = decisions_in(folder.folder).notes
    assert [note.partition(": ")[2] for note in notes] == [
        "there is no column headed accuracy /3 on the sheet Marks any more: what was decided there before stands",
        "there is no sheet Runs any more: what was decided there before stands",
    ]


def of_json(**changed: Any) -> Callable[[bytes], bytes]:
    return lambda data: json.dumps(json.loads(data) | changed).encode()


SPOILT: dict[str, tuple[str, Callable[[bytes], bytes], str]] = {
    "half a workbook": ("marks.xlsx", lambda data: data[:5000], "damaged or cut short"),
    "an empty workbook": ("marks.xlsx", lambda data: b"", "the file is empty"),
    "a workbook with a password": (
        "marks.xlsx",
        lambda data: bytes.fromhex("d0cf11e0a1b11ae1") + bytes(2000),
        "password",
    ),
    "a newer format": ("results.json", of_json(format=2), "a newer labmark wrote it"),
    "half the results": ("results.json", lambda data: data[:5000], "cannot be read"),
    "results without end": ("results.json", lambda data: b"[" * 100_000, "cannot be read"),
    "a number without end": ("results.json", lambda data: b'{"format": ' + b"9" * 5000 + b"}", "cannot be read"),
    "decisions of another kind": ("results.json", of_json(decisions=[{"what": "magic"}]), "cannot be read"),
    "students of another kind": ("results.json", of_json(students=[{}]), "cannot be read"),
    "no source": ("results.json", of_json(source={}), "cannot be read"),
}


@pytest.mark.parametrize(("name", "spoil", "said"), SPOILT.values(), ids=SPOILT)
def test_a_folder_whose_files_were_spoilt_is_refused_in_one_line(
    folder: Marked, name: str, spoil: Callable[[bytes], bytes], said: str
) -> None:
    path = folder.folder / name
    path.write_bytes(spoil(path.read_bytes()))
    if name == "results.json":
        (folder.folder / "marks.xlsx").unlink()
    with pytest.raises(InputError, match=said) as caught:
        decisions_in(folder.folder)
    assert [problem.file for problem in caught.value.problems] == [str(path)]


@pytest.mark.parametrize("value", few_quick([1e-30, 1e11, 0, -0.1], 4))
def test_a_reference_that_cannot_be_is_named(folder: Marked, value: float) -> None:
    folder.write(("Class", {"Figure": "reference"}, "Reference is", value))
    with pytest.raises(InputError, match=r"cell Class!\w+: .* cannot be"):
        folder.mark()


@pytest.mark.slow
def test_a_workbook_of_another_class_or_practical_is_refused(folder: Marked, tmp_path: Path) -> None:
    folder.write(("Marks", ADA, "accuracy /3", 1))
    other = Marked(tmp_path / "other")
    other.mark(CLASS.replace("25.30", "25.35"), "other.csv")
    (other.folder / "marks.xlsx").write_bytes((folder.folder / "marks.xlsx").read_bytes())
    with pytest.raises(InputError, match="another class file"):
        other.mark(CLASS.replace("25.30", "25.35"), "other.csv")
    with pytest.raises(InputError, match="another practical"):
        Marked(folder.folder, "vinegar").mark()


# What was written down.


def run_of(tree: dict[str, Any], name: str, label: str) -> dict[str, Any]:
    return next(each for each in student(tree, name)["runs"] if each["label"] == label)


def test_a_corrected_reading_changes_all_that_follows_and_keeps_what_was_written(folder: Marked) -> None:
    folder.write(("Runs", {"Student": "Di", "Run": 3}, "Final is", 25.3))
    tree = folder.mark()
    run = run_of(tree, "Di", "3")
    assert (run["final"], run["titre"], run["written_final"], run["used"]) == (25.3, 25.3, None, True)
    assert student(tree, "Di")["mean_titre"] == pytest.approx(25.3667, abs=1e-4)
    assert not [each for each in student(tree, "Di")["findings"] if each["finding"] == "missing-reading"]
    assert decisions(tree) == [("Di", "final", "3", 25.3, None)]


@pytest.mark.slow
def test_a_corrected_reading_is_said_on_the_sheet_that_shows_other_runs_which_agree_as_well(folder: Marked) -> None:
    # Ada took runs 1 and 2, and 2 and 3 agree too.
    tie = CLASS.replace("25.30,25.30", "25.25,25.25", 1).replace("25.80,25.80,n,25.33", "25.45,25.45,n,25.30")
    folder.mark(tie)
    folder.write(("Runs", {"Student": "Ada", "Run": 3}, "Final is", 25.44))
    one = student(folder.mark(tie), "Ada")
    assert one["by_own_choice"]["runs"][3]["written_final"] == 25.45
    assert "titre 25.44; not in the mean: agrees just as well with other runs" in explained(folder.folder, "Ada")


def test_a_run_is_taken_into_the_mean_or_left_out_of_it(folder: Marked) -> None:
    folder.write(("Runs", ADA | {"Run": 3}, "Use", "yes"), ("Runs", {"Student": "Ed", "Run": 1}, "Use", "no"))
    tree = folder.mark()
    assert [each["used"] for each in student(tree, "Ada")["runs"]] == [False, True, True, True]
    assert student(tree, "Ada")["mean_titre"] == pytest.approx(25.4833, abs=1e-4)
    assert student(tree, "Ada")["concordant"] is False
    assert mark(tree, "Ada", "concordance")["mark"] == 2
    assert mark(tree, "Ada", "selection")["mark"] == 1
    assert [each["used"] for each in student(tree, "Ed")["runs"]] == [False, False, True, True]
    assert student(tree, "Ed")["mean_titre"] == 25.3
    assert mark(tree, "Ed", "mean")["mark"] == 1


@pytest.mark.slow
@pytest.mark.parametrize(("heading", "value"), [("Use", "no"), ("Initial is", 0.1)])
def test_a_decision_on_a_reading_that_has_changed_is_kept_and_not_applied(
    folder: Marked, heading: str, value: Any
) -> None:
    folder.write(("Runs", ADA | {"Run": 1}, heading, value))
    folder.mark()
    changed = CLASS.replace("25.70,25.70,0.00,25.30,25.30,y,0.00,25.35", "25.70,25.70,0.05,25.35,25.30,y,0.00,25.35", 1)
    for _ in range(2):
        tree = folder.mark(changed)
        assert [each["stale"] for each in tree["decisions"]] == [True]
        assert run_of(tree, "Ada", "1")["used"] is True
        assert "written_initial" not in run_of(tree, "Ada", "1")
        assert tree["class"]["attention"][0] == "Ada"
    assert [each["stale"] for each in folder.mark()["decisions"]] == [False]


def test_another_reference_holds_for_everybody(folder: Marked) -> None:
    folder.write(("Class", {"Figure": "reference"}, "Reference is", 0.1))
    tree = folder.mark()
    assert tree["reference"]["value"] == 0.1
    assert student(tree, "Ada")["percent_error"] == pytest.approx(1.3, abs=0.1)
    assert decisions(tree) == [(None, "reference", None, 0.1, 0.1012)]


@pytest.mark.slow
def test_a_number_of_their_own_may_be_corrected(tmp_path: Path) -> None:
    text = "Student,Mass,Run 1 initial,Run 1 final,Run 2 initial,Run 2 final,Mean titre,Result\n" + "".join(
        f"S{n},{mass},0.00,24.{n}0,0.00,24.{n}5,24.{n}3,5.1\n" for n, mass in enumerate((1.5, 1.51, 15.0, ""), 1)
    )
    folder = Marked(tmp_path / "marked", str(tmp_path / "own.toml"))
    (tmp_path / "own.toml").write_text(OWN_MASS, encoding="utf-8")
    assert student(folder.mark(text), "S3")["inputs"][0]["value"] == 15.0
    folder.write(*(("Inputs", {"Student": name, "Input": "Mass"}, "Is", 1.5) for name in ("S3", "S4")))
    tree = folder.mark(text)
    assert [each["value"] for one in tree["students"] for each in one["inputs"]] == [1.5, 1.51, 1.5, 1.5]
    assert [each["was"] for each in tree["decisions"]] == [15, None]
    assert student(tree, "S3")["inputs"][0]["written_value"] == 15
    assert {each["what"] for each in listed(tree)} == {"Mass"}  # as the sheet calls it, not sample.mass
    second = (folder.folder / "marks.xlsx").read_bytes()
    folder.mark(text)
    assert (folder.folder / "marks.xlsx").read_bytes() == second


@pytest.mark.slow
@pytest.mark.parametrize("worked_with", [1.25, 1.5])
def test_a_result_is_right_by_a_number_as_it_was_written_and_as_it_really_was(tmp_path: Path, worked_with) -> None:
    def text(result: str) -> str:
        rows = (f"S{n},{mass},0.00,24.10,0.00,24.10,24.10,{result}\n" for n, mass in enumerate((1.5, 1.51, 1.25, 1.5)))
        return "Student,Mass,Run 1 initial,Run 1 final,Run 2 initial,Run 2 final,Mean titre,Result\n" + "".join(rows)

    folder = Marked(tmp_path / "marked", str(tmp_path / "own.toml"))
    (tmp_path / "own.toml").write_text(OWN_MASS, encoding="utf-8")
    gives = {each["inputs"][0]["value"]: each["result"]["value"] for each in folder.mark(text(""))["students"]}
    folder.mark(text(f"{gives[worked_with]:.4g}"))
    folder.write(("Inputs", {"Student": "S2", "Input": "Mass"}, "Is", 1.5))
    calculation = mark(folder.mark(text(f"{gives[worked_with]:.4g}")), "S2", "calculation")
    assert calculation["mark"] == calculation["out_of"]
    said = "This is worked out with 1.25 g, as it was written before."
    assert calculation["reason"].startswith(said) == (worked_with == 1.25)


def test_a_mean_of_the_runs_that_the_teacher_counts_is_of_the_right_ones(folder: Marked) -> None:
    # (25.30 + 25.35 + 25.80) ÷ 3 = 25.48
    text = CLASS.replace("25.80,25.80,n,25.33,0.101", "25.80,25.80,y,25.48,0.102")
    assert mark(folder.mark(text), "Ada", "selection")["mark"] == 0
    folder.write(("Runs", ADA | {"Run": 3}, "Use", "yes"))
    tree = folder.mark(text)
    assert mark(tree, "Ada", "selection")["mark"] == 1
    assert "discordant-in-mean" not in {each["finding"] for each in student(tree, "Ada")["findings"]}


def test_a_mark_that_the_teacher_gave_says_nothing_of_what_went_well(folder: Marked) -> None:
    folder.write(("Marks", CY, "calculation /2", 2))
    told = student(folder.mark(), "Cy")["feedback"]
    assert told["well"] == "What went well: you repeated the titration until your titres agreed."


def test_which_runs_to_keep_is_not_said_where_that_finding_is_set_aside(folder: Marked) -> None:
    text = CLASS.replace("25.80,25.80,n,25.33,0.101", "25.80,25.80,y,25.48,0.102")
    folder.mark(text)
    folder.write(("Findings", ADA | {"Finding": "discordant-in-mean"}, "Aside", "yes"))
    causes = student(folder.mark(text), "Ada")["feedback"]["causes"]
    assert not any("the mean should be of all of these" in each for each in causes)


@pytest.mark.slow
def test_a_run_without_a_titre_cannot_be_taken_into_the_mean(folder: Marked) -> None:
    folder.write(("Runs", {"Student": "Di", "Run": 3}, "Use", "yes"))
    with pytest.raises(InputError, match=r"cell Runs![A-Z]+[0-9]+: run 3 of Di has no titre to take into the mean"):
        folder.mark()
    folder.write(("Runs", {"Student": "Di", "Run": 3}, "Final is", 25.45))
    assert run_of(folder.mark(), "Di", "3")["used"] is True


@pytest.mark.slow
def test_no_mark_waits_for_a_finding_about_the_class_that_was_set_aside(folder: Marked) -> None:
    text = CLASS.replace("0.00,25.", "0.00,24.").replace("0.50,25.", "0.50,24.")
    accuracy = [one["accuracy_by_reference"] for one in folder.mark(text)["students"]]
    folder.write(("Findings", {"Finding": "reference-doubtful"}, "Aside", "yes"))
    students = folder.mark(text)["students"]
    assert [
        next((each["mark"] for each in one["marks"] if each["criterion"] == "accuracy"), None) for one in students
    ] == accuracy
    assert not any("being checked" in each["reason"] for one in students for each in one["marks"])


@pytest.mark.slow
def test_a_finding_about_the_class_may_be_set_aside(folder: Marked) -> None:
    text = CLASS.replace("0.00,25.", "0.00,24.").replace("0.50,25.", "0.50,24.")
    found = folder.mark(text)["class"]["findings"][0]["finding"]
    folder.write(("Findings", {"Student": "the class", "Finding": found}, "Aside", "yes"))
    for _ in range(2):
        tree = folder.mark(text)
        assert tree["class"]["findings"][0]["aside"] is True
        assert [(each["student"], each["of"], each["stale"]) for each in tree["decisions"]] == [(None, found, False)]
    assert folder.mark()["decisions"][0]["stale"] is True


def test_only_cells_in_which_something_can_be_decided_look_so_and_are_unlocked(folder: Marked) -> None:
    book = openpyxl.load_workbook(folder.folder / "marks.xlsx")
    open_cells = {
        page.title: [cell.coordinate for row in page.iter_rows(min_row=2) for cell in row if not cell.protection.locked]
        for page in book
    }
    reference = cell_of(book, "Class", {"Figure": "reference"}, "Reference is")
    assert open_cells["Class"] == [reference.coordinate]
    assert open_cells["Decisions"] == open_cells["Reasons"] == open_cells["Legend"] == []


@pytest.mark.slow
def test_a_decision_may_be_taken_back_where_it_is_listed(folder: Marked) -> None:
    folder.write(ZERO)
    folder.mark()
    decided = openpyxl.load_workbook(folder.folder / "marks.xlsx")["Decisions"]
    assert [cell.protection.locked for cell in decided[2]][-1] is False
