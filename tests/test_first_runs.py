"""First runs that are roughs without the word: taken for what they are where most of a class began with one."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.build import run
from tests.classes import titres, tree_of

ROUGHS = [titres("25.60", "24.30", "24.35"), titres("24.90", "24.40", "24.40"), titres("25.20", "24.35", "24.30")]
RUNS = [titres("24.30", "24.35", "24.35"), titres("24.40", "24.40", "24.35"), titres("24.35", "24.30", "24.40")]
FAR_OFF = titres("25.60", "24.30", "24.35")


def kinds(student):
    return [each["kind"] for each in student["runs"]]


def codes(student):
    return {each["finding"] for each in student["findings"]}


def first(*students):
    return tree_of(list(students))["students"][0]


def test_most_first_runs_above_the_others_are_roughs_and_it_is_said():
    tree = tree_of(ROUGHS)
    for student in tree["students"]:
        assert kinds(student) == ["rough", "accurate", "accurate"]
        assert "taken for the rough" in student["notes"][0]
        assert student["runs"][0]["why"] == "taken for the rough: not in the mean"
        assert codes(student) == set()
    assert "the first runs of 3 of 3 students" in tree["source"]["notes"][0]


def test_one_first_run_far_off_in_a_class_without_roughs_is_a_mishap():
    student = first(FAR_OFF, *RUNS)
    assert kinds(student) == ["accurate"] * 3
    assert codes(student) - {"not-concordant"}


def test_a_first_run_that_agrees_counts_among_roughs():
    assert kinds(first(RUNS[0], *ROUGHS)) == ["accurate"] * 3


@pytest.mark.parametrize(
    "meant", [{"mean": Decimal("24.75")}, {}], ids=["its titre is in the written mean", "it is ticked"]
)  # (25.60 + 24.30 + 24.35) / 3 = 24.75
def test_a_first_run_that_was_meant_as_a_run_stays_one(meant):
    runs = [run("1", "0.00 25.60", **({} if meant else {"tick": True})), *FAR_OFF[1][1:]]
    assert kinds(first((meant, runs), *ROUGHS)) == ["accurate"] * 3


def test_titres_that_come_down_from_run_to_run_have_no_rough():
    assert kinds(first(titres("25.00", "24.70", "24.35"), *ROUGHS)) == ["accurate"] * 3


def test_two_runs_cannot_tell():
    assert kinds(first(titres("25.60", "24.30"), *ROUGHS)) == ["accurate"] * 2


def test_where_a_run_is_called_rough_every_other_first_run_is_a_run():
    labelled = ({}, [run("Rough", "0.00 25.60"), run("1", "0.00 24.30"), run("2", "0.00 24.35")])
    assert kinds(first(FAR_OFF, labelled, *ROUGHS[:2])) == ["accurate"] * 3


def test_a_run_that_its_student_calls_rough_tells_nothing_against_the_others():
    called = ({}, [run("1", "0.00 25.60", kind="rough"), run("2", "0.00 24.30"), run("3", "0.00 24.35")])
    assert [kinds(student)[0] for student in tree_of([called, *ROUGHS])["students"]] == ["rough"] * 4


def counted_from_0(*ends, **said):
    """A student whose runs are counted 0, 1, 2, the first read as the rough."""
    zero = run("Rough", f"0.00 {ends[0]}", zero=True)
    return said, [zero, *(run(str(number), f"0.00 {end}") for number, end in enumerate(ends[1:], start=1))]


def test_a_run_counted_0_is_the_rough_of_a_class_whose_means_leave_it_out():
    roughs = [counted_from_0("25.60", "24.30", "24.35", mean=Decimal("24.33"))] * 2
    far = counted_from_0("24.70", "24.30", "24.35", mean=Decimal("24.45"))  # of all three
    for student in tree_of([*roughs, far])["students"]:
        assert kinds(student) == ["rough", "accurate", "accurate"]


def test_a_run_counted_0_that_agrees_and_is_in_the_mean_is_an_accurate_one():
    own = counted_from_0("24.30", "24.90", "24.30", mean=Decimal("24.30"))
    student = first(own, *[counted_from_0("25.60", "24.30", "24.35", mean=Decimal("24.33"))] * 2)
    assert [(each["label"], each["kind"], each["used"]) for each in student["runs"]] == [
        ("0", "accurate", True),
        ("1", "accurate", False),
        ("2", "accurate", True),
    ]
    assert not codes(student) & {"rough-in-mean", "mean-slip", "no-concordant-runs"}


def test_a_class_that_counts_accurate_runs_from_0_has_no_rough():
    every = counted_from_0("24.30", "24.35", "24.35", mean=Decimal("24.33"))
    apart = counted_from_0("24.60", "24.30", "24.35", mean=Decimal("24.42"))  # of all three, which do not agree
    for student in tree_of([every, every, apart])["students"]:
        assert kinds(student) == ["accurate"] * 3
        assert "rough-in-mean" not in codes(student)


def test_where_nobody_wrote_a_mean_runs_counted_0_that_mostly_agree_are_accurate():
    agree = [counted_from_0("24.30", "24.35", "24.25")] * 2
    tree = tree_of([*agree, counted_from_0("25.60", "24.30", "24.35")])
    assert [kinds(student)[0] for student in tree["students"]] == ["accurate"] * 3
