"""Marks that wait: for the teacher, for a doubt about reference, group or practical. Figures are invented."""

from decimal import Decimal

import pytest

from labmark import terminal
from labmark.outputs.chart import distribution
from labmark.outputs.layout import picture_of
from labmark.outputs.own import shown, waiting
from labmark.outputs.report import report
from labmark.outputs.sheets import class_data, student_data
from tests.build import run
from tests.classes import scattered, titres, tree_of
from tests.practicals import DRAIN_CLEANER

OWN = """
[[marks]]
criterion = "concordance"
mark = 1
[[marks]]
criterion = "tidy bench"
title = "Tidy bench"
by = "teacher"
mark = 2
"""
GRADES = """
[[grades]]
at_least = 50
grade = "pass"
[[grades]]
at_least = 66.6
grade = "good"
"""


CELLS = {"mean": "own:mean", "result": "own:result"}


def mark_of(one, criterion):
    return next(mark for mark in one["marks"] if mark["criterion"] == criterion)


def test_a_criterion_of_the_teachers_own_waits_and_counts_in_no_total():
    (one,) = tree_of([titres("24.35", "24.40")], text=DRAIN_CLEANER + OWN + GRADES)["students"]
    own = mark_of(one, "tidy bench")
    assert (own["mark"], own["pending"], own["title"], own["by"]) == (None, True, "Tidy bench", "teacher")
    assert (one["total"], one["out_of"], one["grade"]) == (1, 1, None)
    assert waiting(one) == "Tidy bench (2)"


@pytest.mark.parametrize(
    ("second", "grade"),
    # One mark of two is 50 %; of three, two are 66.67 %.
    [("24.40", "good"), ("24.60", None)],
)
def test_a_grade_stands_beside_a_total_that_is_settled(second, grade):
    scheme = '[[marks]]\ncriterion = "concordance"\nmark = 2\n[[marks]]\ncriterion = "recording"\nmark = 1\n'
    runs = [run("1", "0.0 24.35"), run("2", f"0.00 {second}"), run("Rough", "0.00 25.00")]
    (one,) = tree_of([({}, runs)], text=DRAIN_CLEANER + scheme + GRADES)["students"]
    assert (one["total"], one["out_of"], one["grade"]) == (2 if grade else 0, 3, grade)


def in_doubt():
    return tree_of(scattered(24, centre=25.40, spread=0.05))


def test_while_the_reference_is_in_doubt_accuracy_waits_and_is_given_both_ways():
    tree = in_doubt()
    for one in tree["students"]:
        accuracy = mark_of(one, "accuracy")
        assert (accuracy["mark"], accuracy["pending"], shown(accuracy)) == (None, True, "being checked (3)")
        assert "3" not in accuracy["reason"]
        # 1.05 cm³ from 24.35 is beyond every band; the class's own centre is within the first of them.
        assert (one["accuracy_by_reference"], one["accuracy_by_class"]) == (0, 3)
    part = tree["class"]["marks"]["by_criterion"][-1]
    assert (part["of"], part["mean"], part["pending"]) == (0, None, 24)


def test_while_the_reference_is_in_doubt_no_picture_says_what_a_result_earns():
    tree = in_doubt()
    assert tree["class"]["bands"] == []
    assert picture_of(tree).bands == ()
    assert "Being checked: accuracy (24 students)" in terminal.understanding(tree | {"students": []})


def test_while_results_drift_accuracy_waits_and_nobody_is_said_to_go_past_the_endpoint():
    # Titres rise by 1.00 cm³ from the first of 24 students, at the expected 24.35 cm³, to the last.
    tree = tree_of(scattered(24, spread=0.03, centre=lambda n: 24.35 + n / 23, order=lambda n: n + 1))
    assert [each["finding"] for each in tree["class"]["findings"]] == ["drift"]
    assert all(mark_of(one, "accuracy")["pending"] for one in tree["students"])
    last = tree["students"][-1]
    assert (last["accuracy_by_reference"], last["accuracy_by_class"]) == (0, 3)


@pytest.mark.slow
@pytest.mark.parametrize("rise", [0.0, 1.0])
def test_who_worked_well_with_either_bottle_has_accuracy_by_the_class_where_more_than_the_bottle_is_off(rise):
    # Bottle B takes 1.00 cm³ more. Beside it either titres rise by 1.00 cm³ or the reference is 1.00 cm³ too low.
    students = scattered(
        24,
        spread=0.03,
        centre=lambda n: 25.35 + rise * (n / 23 - 1) + n % 2,
        groups=lambda n: {"Bottle": "AB"[n % 2]},
        order=lambda n: n + 1,
    )
    tree = tree_of(students)
    seen = {each["finding"] for each in tree["class"]["findings"]}
    assert seen >= {"group-shift", "drift" if rise else "reference-doubtful"}
    assert {one["accuracy_by_class"] for one in tree["students"]} == {3}


def test_in_a_group_that_differs_accuracy_waits_for_that_group_alone():
    students = scattered(
        24, spread=0.03, centre=lambda n: 24.35 + (n < 6) * 1.0, groups=lambda n: {"Bench": str(n // 6)}
    )
    tree = tree_of(students)
    waits = [mark_of(one, "accuracy").get("pending", False) for one in tree["students"]]
    assert waits == [True] * 6 + [False] * 18
    assert tree["class"]["bands"]


def test_where_no_result_follows_and_titres_are_far_off_the_practical_is_put_in_question_first():
    # 0.100 mol/dm³ acid in the bottle, 0.0500 in the practical: half the titre, and results twice what it gives.
    own = {
        "mean": Decimal("12.18"),
        "result": Decimal("0.0974"),
        "mean_decimals": 2,
        "result_decimals": 4,
        "cells": CELLS,
    }
    tree = tree_of(scattered(8, centre=12.18, spread=0.03, **own))
    assert tree["class"]["findings"][0]["finding"] == "practical-doubtful"
    assert tree["class"]["findings"][0]["message"].startswith(
        "Is this the right practical? None of the 8 results follow"
    )
    for one in tree["students"]:
        assert [mark_of(one, name)["mark"] for name in ("calculation", "accuracy")] == [None, None]
        assert "so the practical is being checked" in one["feedback"]["summary"]
        assert {each["finding"] for each in one["findings"]}.isdisjoint(
            {"result-slip", "ratio-ignored", "volume-units"}
        )


def test_one_right_result_speaks_for_the_practical():
    own = {"mean": Decimal("12.18"), "mean_decimals": 2, "result_decimals": 4, "cells": CELLS}
    right = {"result": lambda n: Decimal("0.0487" if n == 3 else "0.0974")}
    tree = tree_of(scattered(8, centre=12.18, spread=0.03, **own, **right))
    assert "practical-doubtful" not in {each["finding"] for each in tree["class"]["findings"]}
    assert mark_of(tree["students"][0], "calculation")["mark"] is not None


def test_where_every_mark_waits_no_page_says_0_of_0():
    scheme = '[[marks]]\ncriterion = "tidy bench"\nby = "teacher"\nmark = 2\n'
    tree = tree_of([titres("24.35", "24.40")], text=DRAIN_CLEANER + scheme)
    assert (tree["students"][0]["total"], tree["students"][0]["out_of"]) == (0, 0)
    assert student_data(tree, 0, class_data(tree))["total"] is None
    page = report(tree, distribution(tree))
    assert "tidy bench (2): being checked" in page
    assert "<b>0</b> of 0" not in page
    assert "<b>0</b> / 0" not in page
