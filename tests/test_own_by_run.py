"""Numbers that a run owns: results agree rather than titres, and the result is the mean of the runs' results."""

from __future__ import annotations

import csv
import io
import json
import random
import re
from dataclasses import replace
from decimal import Decimal

import openpyxl
import pytest

from labmark.outputs.chart import distribution
from labmark.outputs.data import results_text
from labmark.outputs.plots import runs_of_all
from labmark.outputs.report import report
from labmark.outputs.sheets import class_data, student_data
from labmark.outputs.workbook import marks_workbook
from labmark.pipeline import judged_tree, read
from labmark.places import practicals_folder
from labmark.read import mapping_text
from tests.columns import runs_of
from tests.own_classes import PHTHALATE, Weighed, weighed_student, write_weighed
from tests.seeds import few_quick
from tests.test_own_numbers import codes, lost
from tests.test_schema import VALIDATOR

PRACTICAL = "standardise-by-weighing"


def class_of(number: int = 10, seed: int = 1, **how) -> list[Weighed]:
    rng = random.Random(seed)
    return [weighed_student(rng, f"S{place:02}", **how) for place in range(1, number + 1)]


def judged(folder, students, layout="wide", practical=PRACTICAL, **how):
    return judged_tree(write_weighed(folder / "class.csv", students, layout, **how), practical, ())


@pytest.mark.parametrize("layout", few_quick(["wide", "long"], 2))
@pytest.mark.parametrize("results", few_quick([True, False], 2))
def test_whoever_weighed_for_every_run_and_did_it_right_keeps_every_mark(tmp_path, layout, results):
    tree = judged(tmp_path, class_of(12), layout, results=results)
    assert [(each["student"], lost(each)) for each in tree["students"] if lost(each)] == []
    assert [codes(each) - {"not-concordant"} for each in tree["students"]] == [set()] * 12
    assert tree["class"]["findings"] == []
    assert [each["mean_titre"] for each in tree["students"]] == [None] * 12
    assert all(each["total"] == each["out_of"] > 0 for each in tree["students"])


@pytest.mark.slow
def test_of_five_hundred_who_weighed_for_every_run_nobody_is_accused(tmp_path):
    wrong = []
    for seed in range(25):
        tree = judged(tmp_path, class_of(20, seed), "wide" if seed % 2 else "long", results=seed % 3 > 0)
        for each in tree["students"]:
            # Four runs in a thousand-odd are further out than half a per cent: they agree in three, which is enough.
            found = codes(each) - {"not-concordant"}
            wrong += [(seed, each["student"], lost(each), found)] if lost(each) or found else []
    assert wrong == []


def in_thousandths(result: str) -> str:
    return f"{Decimal(result).scaleb(3):f}"


@pytest.mark.parametrize(
    ("layout", "heading"),
    few_quick([("wide", "result"), ("wide", "Result"), ("long", "Result"), ("long", "Mean result")], 4),
)
def test_results_of_runs_are_in_the_unit_of_their_own_heading(tmp_path, layout, heading):
    students = class_of(12)
    for one in students:
        if (layout, heading) in [("wide", "result"), ("long", "Result")]:
            one.runs = [(*run[:3], in_thousandths(run[3])) for run in one.runs]
        else:
            one.result = in_thousandths(one.result)
    path = write_weighed(tmp_path / "class.csv", students, layout)
    head, _, rest = path.read_text(encoding="utf-8").partition("\n")
    head = re.sub(rf"{heading}(?=,|$)", f"{heading} / mmol dm-3", head)
    path.write_text(f"{head}\n{rest}", encoding="utf-8")
    tree = judged_tree(path, PRACTICAL, ())
    assert [(each["student"], lost(each)) for each in tree["students"] if lost(each)] == []
    written = [float(run["claimed_result"]) for each in tree["students"] for run in each["runs"]]
    assert written == pytest.approx([0.1004] * len(written), rel=0.01)


def one_student(*runs: tuple[str, str], result: str) -> Weighed:
    return Weighed("S01", [(mass, "0.00", titre, "") for mass, titre in runs], result)


@pytest.mark.slow
def test_a_run_whose_result_agrees_is_told_by_how_far_it_lies_from_what_its_own_numbers_call_for(tmp_path):
    # By the reference 0.1004, 0.5105 g call for 24.90 cm³ and 0.4876 g for 23.78: both titres are a fifth short of it.
    low = one_student(("0.5105", "19.90"), ("0.4876", "19.05"), result="0.1255")
    student = judged(tmp_path, [*class_of(12), low])["students"][-1]
    told = {each["run"]: each["message"] for each in student["findings"] if each["finding"] == "implausible-titre"}
    assert told["1"].endswith("19.90 cm³ is 5.00 cm³ below the expected 24.90 cm³.")
    assert told["2"].endswith("19.05 cm³ is 4.73 cm³ below the expected 23.78 cm³.")


def test_results_are_chosen_and_averaged_by_hand(tmp_path):
    # 0.5105 ÷ 204.22 ÷ 24.90 = 0.10039, 0.4876 ÷ 204.22 ÷ 23.80 = 0.10032, 0.5530 ÷ 204.22 ÷ 26.95 = 0.10048 mol/dm³:
    # within 0.16 % of one another. 0.5000 ÷ 204.22 ÷ 25.00 = 0.09793 is 2.5 % below. Mean of the three 0.10040.
    runs = [("0.5105", "24.90"), ("0.4876", "23.80"), ("0.5530", "26.95"), ("0.5000", "25.00")]
    (student,) = judged(tmp_path, [one_student(*runs, result="0.1004")], results=False)["students"]
    assert [round(run["result"], 5) for run in student["runs"]] == [0.10039, 0.10032, 0.10048, 0.09793]
    assert [run["used"] for run in student["runs"]] == [True, True, True, False]
    assert student["result"]["value"] == pytest.approx(0.10040, abs=5e-6)
    assert student["concordant"]
    # The reference 0.1004 gives 0.5105 ÷ 204.22 ÷ 0.1004 = 24.898, 23.781 and 26.970 cm³, on average 25.216; the titres
    # are on average 25.217.
    assert float(student["expected_titre"]) == pytest.approx(25.22, abs=0.005)
    reasons = {each["criterion"]: each["reason"] for each in student["marks"]}
    assert reasons["concordance"] == "The three closest results are 0.16 % apart; the limit is 0.5 %."
    assert reasons["calculation"] == "The result follows from the student’s titres and numbers (0.1004 mol/dm³)."
    assert student["steps"][-1]["numbers"] == "(0.1004 + 0.1003 + 0.1005) ÷ 3"
    assert "0.5105 g × 1.000 ÷ 204.222 g/mol" in student["steps"][0]["numbers"]
    assert student["steps"][1]["what"] == "amount of NaOH in the titre"  # that of the run, and no mean


def test_bands_of_titre_are_held_against_how_far_titres_are_apart_and_not_per_cent(tmp_path):
    # The runs above: 0.10048 − 0.10032 mol/dm³ in 0.1004 are 0.155 % of titres of 25.2 cm³, so 0.039 cm³.
    text = (practicals_folder() / f"{PRACTICAL}.toml").read_text(encoding="utf-8")
    scheme = 'criterion = "concordance"\nmark = 2'
    assert scheme in text
    banded = 'criterion = "concordance"\nbands = [ { within = 0.10, mark = 2 }, { within = 0.20, mark = 1 } ]'
    (tmp_path / "own.toml").write_text(text.replace(scheme, banded), encoding="utf-8")
    runs = [("0.5105", "24.90"), ("0.4876", "23.80"), ("0.5530", "26.95")]
    (student,) = judged(
        tmp_path, [one_student(*runs, result="0.1004")], practical=str(tmp_path / "own.toml"), results=False
    )["students"]
    said = next(each["reason"] for each in student["marks"] if each["criterion"] == "concordance")
    assert said == "The three closest results are 0.16 % apart, 0.039 cm³ of titre: within 0.10 cm³."


def test_how_far_titres_are_apart_is_not_the_share_of_what_is_left_of_a_reagent(tmp_path):
    # 1.000 g: 5.000 − 3.745 = 1.255 and 5.000 − 3.750 = 1.250 mmol of N, 0.40 % apart, for 0.05 cm³.
    row = "Ada,1.000,0.00,37.45,37.45,y,1.000,0.00,37.50,37.50,y,11.0\n"
    head = ",".join(f"Run {n} mass,Run {n} initial,Run {n} final,Run {n} titre,Run {n} used" for n in (1, 2))
    (tmp_path / "class.csv").write_text(f"Student,{head},Result\n{row}", encoding="utf-8")
    (student,) = judged_tree(tmp_path / "class.csv", "nitrogen-in-flour", ())["students"]
    said = next(each for each in student["marks"] if each["criterion"] == "concordance")
    assert said["reason"] == "The two closest results are 0.40 % apart, 0.05 cm³ of titre: within 0.10 cm³."
    assert said["mark"] == 2


def test_runs_of_one_mass_whose_titres_agree_give_results_that_agree(tmp_path):
    # 37.40 to 37.50 cm³ with 1.000 g: 1.260 and 1.250 mmol, 0.80 % apart.
    row = "Ada,1.000,0.00,37.40,37.40,y,1.000,0.00,37.50,37.50,y,11.0\n"
    head = ",".join(f"Run {n} mass,Run {n} initial,Run {n} final,Run {n} titre,Run {n} used" for n in (1, 2))
    (tmp_path / "class.csv").write_text(f"Student,{head},Result\n{row}", encoding="utf-8")
    (student,) = judged_tree(tmp_path / "class.csv", "nitrogen-in-flour", ())["students"]
    assert (lost(student), student["concordant"]) == ([], True)


def test_a_run_given_up_wants_no_mass(tmp_path):
    four = SHEET.replace("Run 3 used,", "Run 3 used,Run 4 mass,Run 4 initial,Run 4 final,Run 4 used,")
    row = "Ada,,0.00,spilt,n,0.4876,0.00,23.80,y,0.5530,0.00,26.95,y,0.5105,0.00,24.90,y,0.1004\n"
    (tmp_path / "class.csv").write_text(four + row, encoding="utf-8")
    (student,) = judged_tree(tmp_path / "class.csv", PRACTICAL, ())["students"]
    assert (lost(student), student["findings"]) == ([], [])


@pytest.mark.slow
def test_a_rough_whose_mass_is_not_written_tells_nothing(tmp_path):
    students = class_of(12)
    write_weighed(tmp_path / "class.csv", students)
    head, *rows = (tmp_path / "class.csv").read_text("utf-8").splitlines()
    light = (f"{row},0.00,{15 + place % 7}.50" for place, row in enumerate(rows))
    (tmp_path / "class.csv").write_text("\n".join([f"{head},Rough initial,Rough final", *light]), encoding="utf-8")
    tree = judged_tree(tmp_path / "class.csv", PRACTICAL, ())
    assert tree["class"]["findings"] == []
    for each in tree["students"]:
        rough = next(run for run in each["runs"] if run["kind"] == "rough")
        assert (codes(each) - {"not-concordant"}, lost(each)) == (set(), [])
        assert (rough["result"], rough["expected_titre"]) == (None, None)


def test_a_result_from_mean_mass_and_mean_titre_is_right_too(tmp_path):
    # Masses far apart: the mean of the results is 0.10040, mean mass over mean titre 0.10043.
    runs = [("0.2002", "9.75"), ("0.8204", "40.00"), ("0.5130", "25.05")]
    masses, titres = ([float(run[place]) for run in runs] for place in (0, 1))
    by_means = sum(masses) / sum(titres) / PHTHALATE * 1000
    by_runs = sum(mass / titre for mass, titre in zip(masses, titres, strict=True)) / 3 / PHTHALATE * 1000
    assert f"{by_means:.5f}" != f"{by_runs:.5f}"
    for result in (f"{by_means:.5f}", f"{by_runs:.5f}"):
        (student,) = judged(tmp_path, [one_student(*runs, result=result)], results=False)["students"]
        assert {each["criterion"]: each["mark"] for each in student["marks"]}["calculation"] == 3, result


def test_a_run_whose_own_mass_is_missing_is_out_of_the_set(tmp_path):
    students = class_of(6)
    mass, *rest = students[1].runs[2]
    students[1] = replace(students[1], runs=[*students[1].runs[:2], ("", *rest), students[1].runs[3]])
    student = judged(tmp_path, students)["students"][1]
    assert mass
    assert [(each["finding"], each["run"], each["message"]) for each in student["findings"]] == [
        ("missing-input", "3", "Mass of run 3 is missing: without it this run gives no result.")
    ]
    assert [run["used"] for run in student["runs"]] == [True, True, False, True]
    assert student["result"] is not None


def test_a_mass_of_one_run_far_from_all_others_is_said_of_that_run(tmp_path):
    students = class_of(6)
    _, *rest = students[1].runs[2]
    students[1] = replace(students[1], runs=[*students[1].runs[:2], ("5.123", *rest), students[1].runs[3]])
    student = judged(tmp_path, students)["students"][1]
    assert ("implausible-input", "3") in [(each["finding"], each["run"]) for each in student["findings"]]
    assert {each["criterion"]: each.get("pending") for each in student["marks"]}["accuracy"]


def test_marks_on_which_runs_were_chosen_wait_for_a_mass_of_one_run_that_is_far_off(tmp_path):
    students = class_of(6)
    mass, *rest = students[1].runs[2]
    students[1].runs[2] = (str(Decimal(mass) * 10), *rest)
    head, *rows = write_weighed(tmp_path / "class.csv", students).read_text(encoding="utf-8").splitlines()
    ticked = [
        f"{head},{','.join(f'Run {number} used' for number in (1, 2, 3, 4))}",
        *(f"{row},x,x,x,x" for row in rows),
    ]
    (tmp_path / "class.csv").write_text("\n".join(ticked), encoding="utf-8")
    student = judged_tree(tmp_path / "class.csv", PRACTICAL, ())["students"][1]
    waiting = [each for each in student["marks"] if each["mark"] != each["out_of"] and each["criterion"] != "mean"]
    assert [(each["criterion"], each.get("pending")) for each in waiting] == [("selection", True), ("accuracy", True)]
    assert codes(student) == {"implausible-input", "not-concordant"}


def test_a_run_that_was_weighed_far_less_and_gives_what_all_give_is_in_no_doubt(tmp_path):
    # 0.2041 ÷ 204.22 ÷ 0.00995 = 0.1004 mol/dm³
    students = class_of(6)
    students[1] = replace(students[1], runs=[*students[1].runs[:3], ("0.2041", "0.00", "9.95", "")])
    student = judged(tmp_path, students)["students"][1]
    assert codes(student) == set()
    assert [each["criterion"] for each in student["marks"] if each.get("pending")] == []


def test_how_far_a_titre_lies_from_what_its_own_mass_calls_for_can_be_worked_out_again(tmp_path):
    # 24.90 cm³ for 0.5105 g (twice) and 23.80 for 0.4880 give 0.10039 and 0.10040 mol/dm³, so that 0.3050 g call for
    # 0.3050 ÷ 204.22 ÷ 0.1004 × 1000 = 14.88 cm³: 17.90 is 3.02 above.
    runs = [("0.5105", "24.90"), ("0.4880", "23.80"), ("0.5105", "24.90"), ("0.3050", "17.90")]
    student = judged(tmp_path, [*class_of(6), one_student(*runs, result="")])["students"][-1]
    (told,) = [each for each in student["findings"] if each["run"] == "4" and each["probability"]]
    assert "17.90 cm³ is 3.02 cm³ above what the other runs call for with its own numbers" in told["message"]
    assert told["evidence"]["above_own_others"] == pytest.approx(3.02, abs=0.005)


def test_a_slip_in_the_result_of_one_run_is_named(tmp_path):
    students = class_of(6)
    wrong = f"{float(students[2].runs[1][0]) / float(students[2].runs[1][2]) * 10:.4f}"  # the formula mass left out
    mass, initial, final, _ = students[2].runs[1]
    students[2] = replace(
        students[2], runs=[students[2].runs[0], (mass, initial, final, wrong), *students[2].runs[2:]], result=""
    )
    student = judged(tmp_path, students)["students"][2]
    (calculation,) = [each for each in student["marks"] if each["criterion"] == "calculation"]
    assert calculation["mark"] < 3
    assert calculation["reason"].startswith("Run 2 gives 0.1")


def test_titres_may_be_asked_to_agree_all_the_same(tmp_path):
    text = (practicals_folder() / f"{PRACTICAL}.toml").read_text(encoding="utf-8")
    own = tmp_path / "own.toml"
    own.write_text(text.replace("[concordance]", '[concordance]\nof = "titre"'), encoding="utf-8")
    runs = [("0.5105", "24.90"), ("0.4876", "23.80"), ("0.5530", "26.95")]
    (student,) = judged(tmp_path, [one_student(*runs, result="0.1004")], practical=str(own), results=False)["students"]
    assert not student["concordant"]
    assert student["mean_titre"] is not None


def test_the_mapping_names_the_numbers_and_results_of_runs(tmp_path):
    sheet, _ = read(write_weighed(tmp_path / "class.csv", class_of(3)), PRACTICAL, ())
    text = mapping_text(sheet)
    assert '"Run 1 mass" = "Run 1 mass / g"' in text
    assert '"Run 2 result" = "Run 2 result"' in text
    own = tmp_path / "own.toml"
    own.write_text(
        (practicals_folder() / f"{PRACTICAL}.toml").read_text(encoding="utf-8") + "\n" + text, encoding="utf-8"
    )
    again, _ = read(tmp_path / "class.csv", str(own), ())
    assert runs_of(again)["inputs"] == runs_of(sheet)["inputs"]
    assert runs_of(again)["result"] == runs_of(sheet)["result"]


@pytest.mark.slow
def test_what_is_written_fits_the_schema_and_shows_the_own_numbers(tmp_path):
    tree = judged(tmp_path, class_of(4))
    assert not [*VALIDATOR.iter_errors(json.loads(results_text(tree)))]
    data = student_data(tree, 0, class_data(tree))
    mass = tree["students"][0]["inputs"][0]["value"]
    assert data["state"] == "marked"
    assert data["tables"][0]["runs"][0]["why"] == f"Mass {mass} g; agrees with the others in the mean"
    sheet = openpyxl.load_workbook(io.BytesIO(marks_workbook(tree)))["Inputs"]
    assert [cell.value for cell in sheet[2]][1:8] == ["S01", 1, "Mass", float(mass), "g", "run", "B2"]


def test_the_report_shows_each_own_number_and_runs_against_their_own_expected_titres(tmp_path):
    tree = judged(tmp_path, class_of(4))
    page = report(tree, distribution(tree))
    masses = [each["value"] for each in tree["students"][0]["inputs"]]
    assert f"run 1: Mass {masses[0]} g; run 2: Mass {masses[1]} g" in page
    strip = runs_of_all(tree)
    assert strip is not None
    places = [mark["x"] for row in strip["rows"] for mark in row["marks"]]
    assert max(places) - min(places) < 50  # masses differ by a quarter, titres from their own by drops


SLIPS = {
    "volume-units": lambda mass, titre: mass / PHTHALATE / titre * 1_000_000,
    "result-slip": lambda mass, titre: mass / 39.997 / titre * 1000,  # the formula mass of NaOH (from memory)
}


@pytest.mark.slow
@pytest.mark.parametrize("layout", ["wide", "long"])
def test_slips_in_the_result_are_sought_on_the_runs_own_masses(tmp_path, layout):
    students, planted = class_of(16, 3), {}
    for place, one in enumerate(students[:12]):
        code = [*SLIPS][place % 2]
        runs = [(float(mass), float(final) - float(initial)) for mass, initial, final, _ in one.runs]
        value = sum(SLIPS[code](*run) for run in runs) / len(runs)
        students[place], planted[one.name] = replace(one, result=f"{value:.4g}"), code
    found = {each["student"]: each for each in judged(tmp_path, students, layout, results=False)["students"]}
    assert [name for name, code in planted.items() if code not in codes(found[name])] == []
    marks = [each["mark"] for name in planted for each in found[name]["marks"] if each["criterion"] == "calculation"]
    assert marks == [2] * 12  # each costs one of three
    assert all(lost(each) == [] for name, each in found.items() if name not in planted)


def test_a_line_of_masses_in_a_lab_book_is_the_runs(tmp_path):
    rows = [
        ["Name", "Ada", "", ""],
        ["Run", "1", "2", "3"],
        ["Mass / g", "0.5105", "0.4876", "0.5530"],
        ["Final reading / cm3", "24.90", "24.00", "27.95"],
        ["Initial reading / cm3", "0.00", "0.20", "1.00"],
        ["Result", "0.1004", "", ""],
    ]
    with (tmp_path / "ada.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(rows)
    (student,) = judged_tree(tmp_path / "ada.csv", PRACTICAL, ())["students"]
    assert [(each["run"], str(each["value"])) for each in student["inputs"]] == [
        ("1", "0.5105"),
        ("2", "0.4876"),
        ("3", "0.5530"),
    ]
    assert [round(run["result"], 5) for run in student["runs"]] == [0.10039, 0.10032, 0.10048]
    assert (student["student"], lost(student)) == ("Ada", [])


SHEET = (
    "Student,Run 1 mass,Run 1 initial,Run 1 final,Run 1 used,Run 2 mass,Run 2 initial,Run 2 final,Run 2 used,"
    "Run 3 mass,Run 3 initial,Run 3 final,Run 3 used,Result\n"
)


def ticking(folder, row):
    """The only student of a class, with ticks: 24.90, 23.80 and 26.95 cm³ for 0.5105, 0.4876 and 0.5530 g agree."""
    (folder / "class.csv").write_text(SHEET + row, encoding="utf-8")
    (student,) = judged_tree(folder / "class.csv", PRACTICAL, ())["students"]
    return {each["criterion"]: (each["mark"], each["reason"]) for each in student["marks"]}, student


def test_runs_ticked_are_held_against_their_own_numbers(tmp_path):
    # Runs 1 and 2 give 0.10039 and 0.10032; with the mean of all three masses their titres would give 0.1040.
    row = "Ada,0.5105,0.00,24.90,y,0.4876,0.00,23.80,y,0.5530,0.00,26.95,,0.0777\n"
    marks, _ = ticking(tmp_path, row)
    assert marks["calculation"][1] == "The student’s titres and numbers give 0.1004 mol/dm³, but 0.0777 is written."
    assert marks["selection"][1].startswith("A mean needs at least 3 results that agree; only 2 were used.")


def test_a_mass_that_is_blank_costs_the_table_and_nothing_besides(tmp_path):
    row = "Ada,0.5105,0.00,24.90,y,,0.00,23.80,y,0.5530,0.00,26.95,y,0.1004\n"
    marks, student = ticking(tmp_path, row)
    assert {name: mark for name, (mark, _) in marks.items() if mark != 1 and name in ("table", "selection")} == {
        "table": 0,
        "selection": None,
    }
    assert marks["concordance"] == (None, "Two accurate runs with a result; three must agree.")
    assert student["runs"][1]["why"] == "a number that its result needs is missing"


def test_a_run_ticked_whose_mass_is_blank_costs_no_selection_and_no_sum_where_enough_others_agree(tmp_path):
    four = SHEET.replace("Run 3 used,", "Run 3 used,Run 4 mass,Run 4 initial,Run 4 final,Run 4 used,")
    row = "Ada,0.5105,0.00,24.90,y,0.4876,0.00,23.80,y,0.5530,0.00,26.95,y,,0.00,25.00,y,0.1012\n"
    (tmp_path / "class.csv").write_text(four + row, encoding="utf-8")
    (student,) = judged_tree(tmp_path / "class.csv", PRACTICAL, ())["students"]
    assert [each.partition(":")[0] for each in lost(student)] == ["table", "calculation", "figures"]
    calculation = next(each for each in student["marks"] if each["criterion"] == "calculation")
    assert (calculation["mark"], calculation["pending"]) == (None, True)  # what run 4 gave only the student knows
    assert {each["finding"] for each in student["findings"]} == {"missing-input"}


def test_a_mass_that_cannot_be_read_costs_nothing_and_what_hangs_on_it_waits(tmp_path):
    row = "Ada,0.5105,0.00,24.90,y,O.4876,0.00,23.80,y,0.5530,0.00,26.95,y,0.1004\n"
    _, student = ticking(tmp_path, row)
    assert student["runs"][1]["why"] == "a number that its result needs cannot be read"
    waits = [each["criterion"] for each in student["marks"] if each.get("pending")]
    assert waits == ["concordance", "selection"]  # the result follows from the others
    reasons = {each["reason"] for each in student["marks"] if each.get("pending")}
    assert reasons == {"F2 holds “O.4876”, which cannot be read as a number."}
    assert [each for each in student["marks"] if each["mark"] not in (None, each["out_of"])] == []


def test_results_ticked_that_do_not_agree_are_not_called_titres(tmp_path):
    four = SHEET.replace("Run 3 used,", "Run 3 used,Run 4 mass,Run 4 initial,Run 4 final,Run 4 used,")
    row = "Ada,0.5105,0.00,24.90,y,0.4876,0.00,23.80,y,0.5530,0.00,26.95,y,0.5000,0.00,25.40,y,0.0994\n"
    (tmp_path / "class.csv").write_text(four + row, encoding="utf-8")
    (student,) = judged_tree(tmp_path / "class.csv", PRACTICAL, ())["students"]
    said = next(each["message"] for each in student["findings"] if each["finding"] == "discordant-in-mean")
    # 0.5000 ÷ 204.22 ÷ 25.40 × 1000 = 0.09639.
    assert said.startswith(
        "The results of runs 1, 2, 3 and 4 do not agree within 0.5 % (0.1004, 0.1003, 0.1005, 0.09639)."
    )
    assert "titres" not in said


def test_results_json_says_what_must_agree_where_the_practical_does_not(tmp_path):
    (tmp_path / "class.csv").write_text(SHEET + "Ada,0.5105,0.00,24.90,y" + "," * 9, encoding="utf-8")
    assert judged_tree(tmp_path / "class.csv", PRACTICAL, ())["practical"]["concordance"]["of"] == "result"
    (tmp_path / "class.csv").write_text("Student,Run 1 initial,Run 1 final\nAda,0.00,24.90\n", encoding="utf-8")
    assert judged_tree(tmp_path / "class.csv", "drain-cleaner", ())["practical"]["concordance"]["of"] == "titre"


def test_results_that_do_not_agree_are_called_results(tmp_path):
    row = "Ada,0.5105,0.00,24.90,y,0.4876,0.00,24.80,y,0.5530,0.00,26.95,y,0.0990\n"
    marks, student = ticking(tmp_path, row)
    assert marks["selection"] == (0, "The results of runs 1, 2 and 3 do not agree within 0.5 %.")
    assert "The mean of the closest two is 0.1004 mol/dm³" in student["feedback"]["summary"]


@pytest.mark.parametrize(
    ("result", "why"), [("0.0777", "no usual slip gives that value"), ("0.1040", "two digits swapped")]
)
def test_a_wrong_result_is_held_against_those_of_the_runs_and_not_against_a_mean_titre(tmp_path, result, why):
    # 0.5105 ÷ 204.22 ÷ 24.90 × 1000 = 0.10039, 0.4876 gives 0.10032 with 23.80 and 0.5530 0.10048 with 26.95: 0.10040.
    runs = [("0.5105", "24.90"), ("0.4876", "23.80"), ("0.5530", "26.95")]
    (student,) = judged(tmp_path, [one_student(*runs, result=result)], results=False)["students"]
    (message,) = [each["message"] for each in student["findings"] if each["finding"] == "result-slip"]
    assert message.startswith(
        f"The mean of the results of runs 1, 2 and 3 is 0.1004 mol/dm³, but the student wrote {result}; "
    )
    assert why in message


def test_who_averages_all_results_with_one_that_does_not_agree_is_told_so(tmp_path):
    runs = [("0.5105", "24.90"), ("0.4876", "23.80"), ("0.5530", "26.95"), ("0.5000", "25.00")]
    mean = sum(float(mass) / PHTHALATE / float(titre) * 1000 for mass, titre in runs) / 4
    (student,) = judged(tmp_path, [one_student(*runs, result=f"{mean:.5f}")], results=False)["students"]
    assert "the mean of all titres used, which costs 1" in " ".join(lost(student))


def test_a_mean_that_is_no_titre_is_that_of_the_results_beside_it(tmp_path):
    # 0.557 ÷ 204.22 ÷ 27.15 × 1000 = 0.1005 mol/dm³, and so on
    rows = ("1,0.557,0.00,27.15,0.1005,0.1004", "2,0.471,0.50,23.45,0.1005,", "3,0.544,0.00,26.55,0.1003,")
    lines = [
        "Student,Run,Mass / g,Initial,Final,c / mol dm-3,Mean",
        *(f"{name},{row}" for name in "AB" for row in rows),
    ]
    (tmp_path / "class.csv").write_text("\n".join(lines), encoding="utf-8")
    tree = judged_tree(tmp_path / "class.csv", PRACTICAL, ())
    assert [(each["claimed"]["mean_titre"], str(each["claimed"]["result"])) for each in tree["students"]] == [
        (None, "0.1004"),
        (None, "0.1004"),
    ]
    assert [lost(each) for each in tree["students"]] == [[], []]


def test_a_sheet_shows_the_runs_whose_results_a_student_took_where_others_agree_as_well(tmp_path):
    # 0.5125, 0.5147 and 0.5169 g ÷ 204.22 ÷ 25.00 × 1000: 0.1004, 0.1008 and 0.1012 mol/dm³, of which two agree.
    own = tmp_path / "own.toml"
    text = (practicals_folder() / f"{PRACTICAL}.toml").read_text(encoding="utf-8")
    own.write_text(text.replace("at_least = 3", "at_least = 2"), encoding="utf-8")
    head = ",".join(f"Run {n} mass,Run {n} initial,Run {n} final,Run {n} used" for n in (1, 2, 3))
    row = "A,0.5125,0.00,25.00,x,0.5147,0.00,25.00,x,0.5169,0.00,25.00,,0.1006"
    (tmp_path / "class.csv").write_text(f"Student,{head},Result\n{row}\n", encoding="utf-8")
    tree = judged_tree(tmp_path / "class.csv", str(own), ())
    assert f"{tree['students'][0]['result']['value']:.4f}" == "0.1010"  # by the rule, for all who look at the data
    sheet = student_data(tree, 0, class_data(tree))
    assert "Their mean is 0.1006 mol/dm³, 0.2 % above the reference 0.1004." in sheet["summary"]
    assert sheet["claims"][0]["given"] == "0.1006"
    assert [run["uses"] for run in sheet["tables"][0]["runs"]] == [["used"], ["used"], ["out"]]
    assert "0.05 cm³ (0.2 %) below the expected 25.05 cm³" in sheet["marks"][-1]["reason"]


def test_the_result_in_the_line_of_the_mean_is_the_students(tmp_path):
    # 0.501 g ÷ 204.22 g/mol ÷ 24.40 cm³ = 0.10054 mol/dm³, 0.511 and 24.90 give 0.10049, 0.496 and 24.15 give 0.10057.
    runs = "Ada,1,0.501,24.40,0.1005\n,2,0.511,24.90,0.1005\n,3,0.496,24.15,0.1006\n,mean,,,0.1005\n"
    path = tmp_path / "class.csv"
    path.write_text(f"Student,Run,m(KHP) / g,Titre / cm3,c / mol dm-3\n{runs}", encoding="utf-8")
    (student,) = judged_tree(path, PRACTICAL, ())["students"]
    assert (student["claimed"]["result"], lost(student)) == (Decimal("0.1005"), [])


def test_of_several_endpoints_whose_results_must_agree_no_titres_are_said_to(tmp_path):
    # 25.0 and 20.0 cm³ of one solution, invented: 12.50 and 10.00, then 20.00 and 16.00 cm³ are as far apart as these.
    text = (practicals_folder() / "carbonate-and-hydrogencarbonate.toml").read_text(encoding="utf-8")
    head = ",".join(
        f"Run {n} {what}" for n in (1, 2) for what in ("aliquot", "initial", "phenolphthalein", "methyl orange")
    )
    rows = f"Student,{head}\nAda,25.0,0.00,12.50,32.50,20.0,0.00,10.00,26.00\n"
    (tmp_path / "class.csv").write_text(rows, encoding="utf-8")
    (tmp_path / "own.toml").write_text(
        text.replace("aliquot = 25.0", 'aliquot = { column = "Aliquot" }'), encoding="utf-8"
    )
    (student,) = judged_tree(tmp_path / "class.csv", tmp_path / "own.toml", ())["students"]
    assert student["feedback"]["summary"].startswith(
        "Phenolphthalein: two of your results agree. Methyl orange: two of your results agree. Na2CO3: 5.30 g/dm³"
    )


def test_a_wrong_result_of_one_run_leaves_the_choice_of_runs_as_it_was(tmp_path):
    columns = ("mass", "initial", "final", "used", "result")
    head = ",".join(f"Run {n} {what}" for n in (1, 2, 3) for what in columns)
    row = "Ada,0.5105,0.00,24.90,y,0.1004,0.4876,0.00,23.80,y,0.1003,0.5530,0.00,26.95,y,0.0777"
    (tmp_path / "class.csv").write_text(f"Student,{head}\n{row}\n", encoding="utf-8")
    (student,) = judged_tree(tmp_path / "class.csv", PRACTICAL, ())["students"]
    marks = {each["criterion"]: (each["mark"], each["reason"]) for each in student["marks"]}
    assert marks["calculation"][0] == 0
    assert marks["selection"] == (1, "The mean is of results that agree.")
