"""Classes side by side: where the spread comes from, which stand apart, what decisions moved, whose work to look at."""

from __future__ import annotations

import numpy as np
import pytest

from labmark.analyse.apart import beside_the_others, holm
from labmark.cohort import page
from labmark.cohort.compare import (
    cohort_tree,
    comparisons,
    entry,
    figures,
    moved,
    over_all,
    over_classes,
    results_of,
    sample,
)
from labmark.cohort.digest import digest
from labmark.cohort.sheets import stands_apart
from labmark.judge.stages import judge
from labmark.outputs.class_view import BY_A_FEW, named
from labmark.pipeline import judged_tree
from labmark.tree import record_tree
from tests.cohorts import apart, cohort, simulated
from tests.decided import PRACTICAL, Marked
from tests.practicals import practical
from tests.several_classes import LYE, class_of, endpoints, student


def both_ways(rng):
    return rng.choice([-1, 0, 1], p=[0.15, 0.7, 0.15])


def generous(rng):
    """On average 5 % of 13 marks."""
    return rng.choice([0, 1, 2], p=[0.5, 0.35, 0.15])


@pytest.mark.slow
def test_holm_agrees_with_statsmodels():
    from statsmodels.stats.multitest import multipletests

    chances = np.random.default_rng(1).random(40) ** 3
    assert holm(chances.tolist()) == pytest.approx(multipletests(chances, method="holm")[1])


def test_two_classes_are_compared_as_welch_does():
    # Welch's t of two means with errors 0.3 and 0.4: 1 / 0.5, worked by hand.
    first, second = beside_the_others([10.0, 11.0], [0.3, 0.4], [27, 27])
    assert first.difference == -second.difference == pytest.approx(-1.0)
    assert first.error == pytest.approx(0.5)
    assert first.dof == pytest.approx(0.25**2 / ((0.09**2 + 0.16**2) / 27))


def test_classes_without_any_spread_are_alike_or_apart():
    assert [one.p for one in beside_the_others([0.0, 0.0, 0.0], [0, 0, 0], [27, 27, 27])] == [1, 1, 1]
    assert [one.p for one in beside_the_others([0.0, 0.0, 0.0, 5.0], [0, 0, 0, 0], [27, 27, 27, 27])][3] == 0


def test_runs_stand_in_for_those_that_were_pooled():
    classes = cohort(np.random.default_rng(2), 3)
    found = figures(classes)
    assert found["repeatability_sd"] == pytest.approx(0.0002)
    values, _, student = results_of(classes).run_values
    assert np.mean(values[: student.count(student[0])]) == pytest.approx(classes[0]["people"][0]["result"])


def test_what_lies_between_classes_is_told_from_what_lies_between_students():
    rng = np.random.default_rng(3)
    classes = [simulated(rng, str(place), solution=1 + 0.01 * rng.normal()) for place in range(60)]
    assert figures(classes)["between_classes_sd"] / 0.1012 == pytest.approx(0.01, rel=0.25)
    assert figures(cohort(rng, 20))["between_classes_sd"] / 0.1012 < 0.002


def test_one_class_with_another_solution_stands_apart_alone():
    rng = np.random.default_rng(4)
    classes = [*cohort(rng, 7), simulated(rng, "odd", solution=1.02)]
    assert ("odd", "results") in apart(comparisons(classes))
    assert {name for name, what in apart(comparisons(classes)) if what == "results"} == {"odd"}


def test_a_small_class_is_held_against_nothing():
    rng = np.random.default_rng(5)
    assert comparisons([*cohort(rng, 3), simulated(rng, "few", students=4)])["few"] == []


def test_different_practicals_are_never_averaged():
    rng = np.random.default_rng(6)
    classes = [*cohort(rng, 2), simulated(rng, "vinegar", title="Vinegar", equation="..., too")]
    found = over_all(classes)
    assert found["students"] == 84
    assert found["robust_mean"] is found["between_classes_sd"] is found["mean_percent"] is None


def test_classes_with_different_references_are_compared_in_per_cent_of_them():
    rng = np.random.default_rng(7)
    classes = cohort(rng, 3)
    for one in classes[0]["people"]:
        one["result"], one["reference"] = 2 * one["result"], 2 * one["reference"]
    found = figures(classes)
    assert found["unit"] == "% of the reference"
    assert found["robust_mean"] == pytest.approx(100, abs=0.5)
    assert apart(comparisons(classes)) == set()


def test_a_class_that_differs_by_its_reference_alone_is_said_to_differ_over_its_reference():
    classes = cohort(np.random.default_rng(7), 3)
    for one in classes[0]["people"]:
        one["reference"] *= 0.98
    (row,) = (row for row in comparisons(classes)["class 0"] if row["apart"])
    (said,) = stands_apart({"comparisons": [row]})
    assert said.endswith("% higher than those of the others, each over its own reference (p < 0.001)")


def test_no_bar_of_mean_marks_goes_beyond_full_marks():
    classes = [
        {"class": name, "mean_percent": 97.0, "mean_percent_reach": reach} for name, reach in (("A", 1), ("B", 5))
    ]
    drawn = page._marks(classes)
    (full,) = (x for x, label in drawn["ticks"] if float(label) == 100)
    assert max(row["to"] for row in drawn["rows"]) == full


def test_a_mean_mark_has_the_bar_of_students_t_about_it():
    one = simulated(np.random.default_rng(10), "9A", students=3, shared={}, reference=None)
    for person, total in zip(one["people"], (9, 10, 11), strict=True):
        person["total"], person["out_of"] = float(total), 20.0
    # By hand: 45, 50 and 55 % have a standard deviation of 5 %; 4.303 (t of two degrees of freedom, 95 %) × 5 ÷ √3.
    assert entry(one)["mean_percent_reach"] == pytest.approx(12.42, abs=0.005)


@pytest.mark.parametrize(("hashes", "same"), [("AB", []), ("AA", [["class 0", "class 1"]])])
def test_only_classes_whose_files_hold_the_same_are_called_one_file(hashes, same):
    classes = [
        each | {"sha256": one, "shared": {}, "reference": None}
        for each, one in zip(cohort(np.random.default_rng(11), 2), hashes, strict=True)
    ]
    assert cohort_tree(classes)["same_files"] == same


def test_the_sample_has_one_from_each_tenth_and_falls_alike_in_any_order():
    classes = cohort(np.random.default_rng(8), 4)
    classes[2]["people"][5] |= {"doubt": 7, "why": "No concordant runs"}
    chosen = sample(classes)
    assert chosen == sample(classes[::-1])
    by_lot = [one for one in chosen if one["how"] == "by lot"]
    assert len(by_lot) == 10
    assert [one["percent"] for one in by_lot] == sorted(one["percent"] for one in by_lot)
    assert any(one["why"] == "No concordant runs" for one in chosen)


def test_the_sample_of_a_few_is_all_of_them():
    chosen = sample([simulated(np.random.default_rng(9), "few", students=4)])
    assert {one["number"] for one in chosen} == {1, 2, 3, 4}


def test_a_class_with_several_results_is_compared_by_its_first():
    names = ("phenolphthalein", "methyl orange")
    runs = [row for label in ("1", "2") for row in endpoints(label, "0.00 23.75 27.50", names)]
    tree = record_tree(judge(class_of(student("Ada", runs), student("Bo", runs)), practical(LYE)), [None, None])
    kept = digest(tree | {"decisions": []})
    assert kept["quantity"] == ["mass concentration of NaOH", "mass concentration of Na2CO3"]
    assert kept["people"][0]["result"] == tree["students"][0]["result"]["value"]


@pytest.fixture(scope="module")
def decided(tmp_path_factory):
    """A class in which the teacher took a mark, gave one, corrected a reading, wrote a note and set a finding aside."""
    made = Marked(tmp_path_factory.mktemp("class") / "out")
    made.mark()
    made.write(
        ("Marks", {"Student": "Ada"}, "recording /1", 0),
        ("Marks", {"Student": "Ada"}, "Private note", "ask her"),
        ("Marks", {"Student": "Cy"}, "calculation /2", 2),
        ("Runs", {"Student": "Cy", "Run": 3}, "Final is", 25.25),
    )
    tree = made.mark()
    tree["decisions"].append({"student": None, "what": "aside", "of": "common-fault", "value": True})
    return digest(tree, judged_tree(made.folder.parent / "class.csv", PRACTICAL, ()))


def test_marks_that_decisions_moved_are_told_with_their_decisions(decided):
    rows = {row["student"]: row for row in decided["moved"]}
    assert rows["Ada"]["by"] == -1
    assert rows["Ada"]["decisions"] == {"aside": 1, "mark": 1}
    assert "mark for recording (1 to 0)" in rows["Ada"]["said"]
    assert rows["Cy"]["by"] > 0
    assert rows["Cy"]["decisions"] == {"aside": 1, "final": 1, "mark": 1}
    assert any(each.startswith("final reading of run ") for each in rows["Cy"]["said"])
    assert rows.keys() == {"Ada", "Cy"}


def test_a_class_tells_how_far_its_marks_were_moved(decided):
    told = moved(decided)
    assert (told["raised"], told["lowered"]) == (1, 1)
    shifts = {one["student"]: one["shift"] for one in decided["people"]}
    assert shifts["Ada"] == pytest.approx(-100 / decided["people"][0]["out_of"])
    assert shifts["Bo"] == 0


@pytest.mark.slow
def test_of_cohorts_of_like_classes_few_have_one_that_stands_apart():
    rng = np.random.default_rng(10)
    said = [bool(apart(comparisons(cohort(rng, 20)))) for _ in range(300)]
    assert np.mean(said) <= 0.05


@pytest.mark.slow
def test_a_generous_teacher_is_found_among_others_who_go_both_ways():
    rng = np.random.default_rng(11)
    found, wrong = 0, 0
    for _ in range(60):
        others = cohort(rng, 11, decisions=both_ways)
        told = apart(comparisons([*others, simulated(rng, "generous", decisions=generous)]))
        found += ("generous", "decisions") in told
        wrong += any(name != "generous" and what == "decisions" for name, what in told)
    assert found >= 0.8 * 60
    assert wrong <= 0.1 * 60


@pytest.mark.parametrize(("ratio", "said"), [(9.9, False), (10.1, True)])
def test_a_few_far_out_explain_a_spread_of_single_runs_far_above_the_robust_one(ratio, said):
    practical = {"robust_sd": 0.0004, "reproducibility_sd": 0.0004 * ratio}
    assert (named("reproducibility_sd", practical)[1] == BY_A_FEW) is said


def of_teachers(rng, names, **decisions):
    """Two classes of each teacher."""
    classes = [simulated(rng, f"{name} {n}", decisions=decisions.get(name, both_ways)) for name in names for n in "12"]
    for each in classes:
        for one in each["people"]:
            one["groups"] = {"Group teacher": each["name"].split()[0], "Bench": str(one["number"] % 5)}
    return classes


def test_the_classes_of_one_teacher_are_held_against_those_of_the_others():
    found = over_classes(of_teachers(np.random.default_rng(5), "ABCDEF", C=generous))
    assert [each["group"] for each in found] == [f"Group teacher {name}" for name in "ABCDEF"]
    assert found[2]["classes"] == ["C 1", "C 2"]
    assert found[2]["students"] == 56
    apart_in = {(each["group"], row["what"]) for each in found for row in each["comparisons"] if row["apart"]}
    assert apart_in == {("Group teacher C", "decisions")}


def test_what_differs_within_a_class_or_is_of_one_class_alone_is_not_of_several():
    classes = of_teachers(np.random.default_rng(5), "ABC")
    assert over_classes(classes[::2]) == []
    classes[0]["people"][0]["groups"]["Group teacher"] = "B"
    assert [each["classes"] for each in over_classes(classes)] == [["A 2"], ["B 1", "B 2"], ["C 1", "C 2"]]
