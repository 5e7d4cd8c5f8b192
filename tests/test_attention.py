"""Who needs the teacher first, and why, in a few words. Figures are invented."""

from dataclasses import replace

import pytest

from labmark.judge.attention import attention
from labmark.judge.stages import judge
from tests.build import run
from tests.classes import scattered, sheet_of, titres, tree_of
from tests.practicals import DRAIN_CLEANER, practical

CLASS = scattered(12, spread=0.05)


def asked(*students, text=DRAIN_CLEANER):
    """Return what is said of the last of students who join a class that worked well; None where nobody need look."""
    return tree_of([*CLASS, *students], text=text)["students"][-1]["attention"]


def judged(*students):
    return judge(sheet_of(*CLASS, *students), practical(DRAIN_CLEANER)).students


def test_nobody_need_look_at_who_worked_well_or_was_absent():
    assert asked(({}, [])) is None
    assert [one["attention"] for one in tree_of(CLASS)["students"]] == [None] * 12


def test_all_runs_that_a_finding_names_together_are_named():
    # 2 cm³ below what the reference gives, alike.
    assert asked(titres("22.35", "22.35", "22.35"))["why"] == "Implausible titre (runs 1, 2 and 3)"


def test_without_a_result_it_is_said_first_that_there_is_none():
    readings = [run("1", "0.00 -"), run("2", "-")]
    assert asked(({}, readings))["why"] == "No result: Reading missing (runs 1 and 2); Too few runs"


def test_of_more_than_three_kinds_of_trouble_two_are_named_and_the_rest_counted():
    said = asked(titres("24.35", "24.80", "25.3", "60.0"))
    assert said["why"] == "Off the scale (run 4); No concordant runs; 3 more findings"
    assert said["brief"] == "Off the scale (run 4)"


def test_the_most_pressing_come_first_and_the_rest_as_they_stand_in_the_class():
    tree = tree_of([*CLASS, titres("24.35", "24.80", "25.35"), ({}, [run("1", "0.00 -")]), titres("24.35", "24.80")])
    ranked = sorted((one for one in tree["students"] if one["attention"]), key=lambda one: one["attention"]["rank"])
    assert [one["number"] for one in ranked] == [14, 13, 15]


@pytest.mark.parametrize(
    ("by_class", "held"), [(False, "the reference"), (True, "the rest of the class")], ids=["reference", "class"]
)
def test_a_result_that_is_far_out_and_that_nothing_explains_is_to_be_seen(by_class, held):
    first, *others = judged()
    far = replace(first, findings=(), fair_z=-3.42, by_class=by_class)
    said = attention([*others, far])[len(others)]
    assert said["why"] == f"3.4 standard deviations from {held}, and nothing explains it"
    assert said["brief"] == "3.4 σ off, unexplained"
    assert attention([replace(far, fair_z=2.99)]) == {}


def test_a_decision_that_no_longer_fits_comes_before_everything_else():
    worst = judged(({}, [run("1", "0.00 -")]))
    well = replace(worst[0], again="one decision of yours to look at again")
    order = attention([*worst[1:], well])
    assert [order[len(worst) - 1][key] for key in ("rank", "why", "brief")] == [
        1,
        "one decision of yours to look at again",
        "Decision to look at again",
    ]
    also = attention([replace(worst[-1], again="two decisions of yours to look at again")])[0]["why"]
    assert also.startswith("two decisions of yours to look at again; No result: Reading missing (run 1)")
