"""The sample classes through the whole middle: what was planted is found, and nobody else is blamed."""

from __future__ import annotations

import csv
import json
from functools import cache

import jsonschema
import pytest

from labmark import terminal
from labmark.outputs.data import results_text
from labmark.pipeline import overview_of, read, tree_of
from labmark.places import templates_folder
from labmark.practicals import find_practical
from labmark.read import workbook
from labmark.read.workbook import read_workbook
from tests.classes import SAMPLES, SHIPPED, sample
from tests.seeds import few_quick

CLASSES = few_quick(SHIPPED, 2)
BENCH = {
    "overshoot", "undershoot", "misread-division", "read-upside-down", "digits-swapped", "implausible-titre",
    "level-change", "always-overshoots", "always-short", "diluted-titrant", "wrong-aliquot",
}  # fmt: skip
FACTS_THAT_FOLLOW = {"not-concordant", "no-concordant-runs", "too-few-runs"}


@cache
def planted(name):
    with (SAMPLES / "planted.csv").open(encoding="utf-8") as file:
        return [row for row in csv.DictReader(file) if row["file"] == name]


def found(name, student):
    findings = next(one for one in sample(name)["students"] if one["student"] == student)["findings"]
    return {(each["finding"], each["run"] or "") for each in findings}


@pytest.mark.slow
@pytest.mark.parametrize("name", CLASSES)
def test_what_is_claimed_of_the_bench_is_a_question_however_likely(name):
    claims = [each for one in sample(name)["students"] for each in one["findings"] if each["finding"] in BENCH]
    assert {each["level"] for each in claims} <= {"check"}


def students_with(name, codes):
    return {
        one["student"] for one in sample(name)["students"] if any(each["finding"] in codes for each in one["findings"])
    }


@pytest.mark.parametrize("name", few_quick(SHIPPED, 6))
def test_plain_faults_and_slips_in_the_working_are_all_found(name):
    uncertain = BENCH | {"none", "same-readings"}
    for row in planted(name):
        if row["student"] and row["finding"] not in uncertain:
            assert (row["finding"], row["run"]) in found(name, row["student"]), row


@pytest.mark.parametrize("name", CLASSES)
def test_most_bench_faults_are_found_by_one_name_or_a_rival(name):
    rows = [row for row in planted(name) if row["student"] and row["finding"] in BENCH and row["run"] != "Rough"]
    seen = [row for row in rows if row["student"] in students_with(name, BENCH)]
    assert len(seen) >= 0.9 * len(rows), [row for row in rows if row not in seen]


@pytest.mark.parametrize("name", CLASSES)
def test_hardly_anyone_is_blamed_for_a_bench_fault_that_was_not_planted(name):
    guilty = {row["student"] for row in planted(name) if row["finding"] not in FACTS_THAT_FOLLOW}
    assert len(students_with(name, BENCH) - guilty) <= 1


@pytest.mark.parametrize("name", CLASSES)
def test_what_was_planted_in_the_class_is_found_and_nothing_else(name):
    expected = {row["finding"] for row in planted(name) if not row["student"]}
    assert {each["finding"] for each in sample(name)["class"]["findings"]} == expected


def test_a_workbook_that_holds_its_practical_is_looked_through_once(monkeypatch):
    looks = []
    monkeypatch.setattr(workbook, "read_workbook", lambda *args: looks.append(args[0]) or read_workbook(*args))
    read(SAMPLES / "drain-cleaner.xlsx", None, ())
    assert len(looks) == 1


@pytest.mark.slow
@pytest.mark.parametrize("name", CLASSES)
def test_the_overview_says_on_the_terminal_what_the_whole_tree_says(name):
    overview = overview_of(*read(SAMPLES / name, SHIPPED[name], ()))
    whole = sample(name)["class"]
    shown = {key: whole["statistics"][key] for key in overview["class"]["statistics"]}
    assert overview["class"] == whole | {"statistics": shown}
    assert terminal.understanding(overview) == terminal.understanding(sample(name))


def test_the_shifted_bench_is_named():
    (shift,) = (each for each in sample("drain-cleaner.xlsx")["class"]["findings"] if each["finding"] == "group-shift")
    assert shift["evidence"]["group"] == "Bench 5"


def test_a_student_at_a_shifted_bench_is_not_told_that_all_was_well_nor_ranked_for_it():
    shifted = [one for one in sample("drain-cleaner.xlsx")["students"] if one["groups"].get("Bench") == "5"]
    for one in shifted:
        assert "Bench 5 as a whole differs" in one["feedback"]["summary"]
    assert not any("nothing explains it" in (one["attention"] or {"why": ""})["why"] for one in shifted)


def test_where_the_reference_is_in_doubt_accuracy_is_marked_both_ways():
    students = [one for one in sample("limescale-remover.csv")["students"] if one["result"]]
    by_reference = [one["accuracy_by_reference"] for one in students]
    by_class = [one["accuracy_by_class"] for one in students]
    assert sum(by_class) > sum(by_reference) + len(students)


@pytest.mark.parametrize("name", few_quick(SHIPPED, 6))
def test_the_record_fits_its_schema(name):
    schema = json.loads((templates_folder() / "results.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(json.loads(results_text(sample(name))))


@pytest.mark.parametrize("name", CLASSES)
def test_every_filled_cell_is_accounted_for(name):
    cells = sample(name)["cells"]
    assert cells["filled"] == cells["used"] + cells["ignored"] + cells["rejected"]
    assert all(each["why"] for each in (*cells["ignored_cells"], *cells["rejected_cells"]))


@pytest.mark.parametrize("name", CLASSES)
def test_every_mark_has_a_reason_and_no_mark_is_above_its_limit(name):
    for one in sample(name)["students"]:
        for mark in one["marks"]:
            assert mark["reason"].endswith("."), mark
            assert mark["mark"] is None or 0 <= mark["mark"] <= mark["out_of"]
        there = [mark for mark in one["marks"] if mark["mark"] is not None]
        assert one["total"] == sum(mark["mark"] for mark in there)
        assert one["out_of"] == sum(mark["out_of"] for mark in there)


@pytest.mark.parametrize("name", CLASSES)
def test_no_students_sheet_mentions_another_student(name):
    names = [one["student"] for one in sample(name)["students"]]
    for one in sample(name)["students"]:
        words = " ".join([one["feedback"]["summary"], *one["feedback"]["causes"], *one["feedback"]["next"]])
        assert not [other for other in names if other != one["student"] and other in words]


@pytest.mark.parametrize("name", CLASSES)
def test_the_mean_is_that_of_the_runs_said_to_be_used(name):
    for one in sample(name)["students"]:
        used = [run["titre"] for run in one["runs"] if run["used"]]
        assert (one["mean_titre"] is None) == (not used)
        if used:
            assert float(one["mean_titre"]) == pytest.approx(float(sum(used)) / len(used), abs=5e-5)


@pytest.mark.slow
def test_the_order_of_the_students_changes_no_students_marks():
    sheet, practical = read(SAMPLES / "moss-killer.csv", "moss-killer", ())
    import dataclasses

    again = tree_of(dataclasses.replace(sheet, students=sheet.students[::-1]), practical)
    marks = {one["student"]: (one["total"], one["mean_titre"]) for one in sample("moss-killer.csv")["students"]}
    assert {one["student"]: (one["total"], one["mean_titre"]) for one in again["students"]} == marks


def test_a_practical_of_the_workbook_is_used_as_written():
    assert find_practical(None, SAMPLES / "drain-cleaner.xlsx").file.burette.concentration is not None
