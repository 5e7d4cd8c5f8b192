"""References in doubt over many classes, and a bottle or a bench that is off wherever it stood. All figures invented."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest

from labmark.cohort.compare import cohort_tree
from labmark.cohort.digest import digest
from labmark.cohort.page import page
from labmark.cohort.sheets import doubted, solutions_sheet
from labmark.cohort.solutions import across, references
from tests.classes import scattered, tree_of
from tests.cohorts import cohort, simulated
from tests.simulate_class import REFERENCE


def doubting(name, percent, reference=REFERENCE):
    evidence = {"reference": reference, "shift_percent": percent}
    return content(name, reference) | {"findings": [{"finding": "reference-doubtful", "evidence": evidence}]}


def content(name, reference=REFERENCE):
    return {"name": name, "findings": [], "references": [reference], "unit": "mol/dm3", "quantity": ["NaOH"]}


def test_a_reference_is_in_doubt_in_so_many_of_the_classes_that_are_held_against_it():
    classes = [doubting("9A", -3.6), content("9B"), doubting("9C", -3.8), content("9D", 0.2)]
    (row,) = references(classes)
    assert row == {
        "reference": REFERENCE,
        "unit": "mol/dm3",
        "in_doubt": ["9A", "9C"],
        "of": ["9A", "9B", "9C"],
        "percent": [-3.8, -3.6],
    }


def test_the_reference_that_most_classes_doubt_comes_first_and_then_the_one_that_is_furthest_off():
    classes = [
        doubting("9A", 5.0, 0.3),
        doubting("9B", -2.0, 0.2),
        doubting("9C", -3.0, 0.1),
        doubting("9D", -3.1, 0.1),
    ]
    assert [row["reference"] for row in references(classes)] == [0.1, 0.3, 0.2]


def test_without_a_doubt_there_is_nothing_to_say():
    assert references([content("9A"), content("9B")]) == []


BOTTLES = "ABCD"


def bottled(seed, classes, off=1.0, bottles=BOTTLES, students=24, **more):
    """Classes whose students take a bottle each in turn; bottle A is off by so much."""
    made = cohort(np.random.default_rng(seed), classes, students=students, **more)
    for each in made:
        for place, one in enumerate(each["people"]):
            one["groups"] = {"Bench": str(1 + place // 6), "Bottle": bottles[place % len(bottles)]}
            if one["groups"]["Bottle"] == "A":
                one["result"] *= off
    return made


def named(classes):
    return [row["group"] for row in across(classes)]


def test_a_bottle_that_is_off_in_many_classes_is_found_by_them_together():
    (found,) = across(bottled(1, 6, off=0.988))
    assert found["group"] == "Bottle A"
    assert found["classes"] == [f"class {place}" for place in range(6)]
    assert found["students"] == 36
    assert found["effect_percent"] == pytest.approx(-1.2, abs=0.3)


def test_classes_that_differ_are_not_held_against_a_bottle():
    rng = np.random.default_rng(5)
    classes = [each for level in (0.97, 1.0, 1.03) for each in bottled(rng.integers(99), 1, solution=level)]
    for place, each in enumerate(classes):
        each["name"] = f"class {place}"
    assert named(classes) == []


def test_a_bottle_that_one_class_alone_had_is_that_class_report_s_to_name():
    classes = bottled(3, 3)
    for one in classes[0]["people"]:
        if one["groups"]["Bottle"] == "D":
            one["groups"]["Bottle"], one["result"] = "E", one["result"] * 0.95
    assert named(classes) == []


def test_a_class_with_one_bottle_says_nothing_about_it():
    classes = bottled(4, 4, bottles="AB", off=0.97)
    alone = simulated(np.random.default_rng(8), "alone", solution=0.97)
    for one in alone["people"]:
        one["groups"] = {"Bottle": "A"}
    (with_it,), (without,) = across([*classes, alone]), across(classes)
    assert with_it["effect_percent"] == without["effect_percent"]
    assert with_it["students"] == without["students"] == 48
    assert without["two_groups"]


def test_where_no_titre_says_what_a_per_cent_is_nothing_is_looked_for():
    assert named([each | {"cm3_per_percent": None} for each in bottled(1, 6, off=0.95)]) == []


@pytest.mark.slow
def test_few_cohorts_without_a_bad_bottle_name_one_and_most_with_one_do():
    # Cohorts of six classes of 24 with four bottles and four benches, which differ by 0.5 % as classes.
    def any_named(off, seed):
        rng = np.random.default_rng(seed)
        classes = [bottled([seed, place], 1, off=off, solution=1 + 0.005 * rng.normal())[0] for place in range(6)]
        return named([each | {"name": str(place)} for place, each in enumerate(classes)])

    clean = [any_named(1.0, seed) for seed in range(100)]
    assert sum(map(bool, clean)) <= 4
    off = [any_named(0.988, seed) for seed in range(40)]
    assert sum("Bottle A" in found for found in off) >= 36
    assert sum(found not in ([], ["Bottle A"]) for found in off) <= 2


def told(moved, **more):
    """The cohort of three classes of a judge's own trees, each 12 students with two bottles in turn."""
    digests = []
    for place in range(3):
        students = scattered(
            12,
            partial(moved, place),
            seed=place,
            groups=lambda student: {"Bottle": "AB"[student % 2]},
        )
        kept = {"name": f"9{'ABC'[place]}", "file": f"9{'ABC'[place]}.csv", "error": None}
        digests.append(digest(tree_of(students, **more)) | kept)
    return cohort_tree(digests)


def test_the_page_and_the_workbook_name_a_reference_that_classes_doubt():
    tree = told(lambda place, _: 25.3 if place else 24.35)
    (row,) = tree["practicals"][0]["references"]
    assert row["in_doubt"] == ["9B", "9C"]
    said = "he reference 0.09740 mol/dm³ is in doubt in 2 of 3 classes compared with it (9B and 9C), whose centres lie"
    assert said in page(tree)
    (of_workbook,) = solutions_sheet(tree).rows
    assert said in of_workbook[-1]


@pytest.mark.slow
def test_the_page_and_the_workbook_name_a_bottle_that_is_off_in_all_classes():
    tree = told(lambda _, student: 24.35 if student % 2 else 24.0)
    (row,) = tree["practicals"][0]["across"]
    said = f"results {abs(row['effect_percent']):.1f} % lower than from the other one in the same classes"
    assert f"Bottle A: {said} (18 students of 9A, 9B and 9C)." in page(tree)
    assert said in solutions_sheet(tree).rows[0][-1]


@pytest.mark.parametrize(
    ("ends", "said"),
    [
        ((-3.6, -3.6), "3.6 % below"),
        ((-3.8, -3.6), "3.6 to 3.8 % below"),
        ((0.9, 1.2), "0.9 to 1.2 % above"),
        ((-1.2, 0.9), "0.9 % above to 1.2 % below"),
    ],
)
def test_how_far_centres_lie_from_a_reference_is_said_from_the_nearest_on(ends, said):
    row = {"reference": 0.1, "unit": "mol/dm3", "in_doubt": ["9A"], "of": ["9A"], "percent": ends}
    assert doubted(row).endswith(f"lie {said} it")


def test_what_many_of_a_class_share_is_parted_from_how_it_stands_apart():
    tree = told(lambda place, _: 25.3 if place else 24.35)
    practical, (one, *_) = tree["practicals"][0], tree["classes"]
    apart = {"what": "results", "apart": True, "p": 0.01, "difference": 1.2}
    one |= {"comparisons": [apart], "findings": ["common-fault"]}
    shared = {"class": one["class"], "finding": "common-fault", "evidence": {"finding": "overshoot"}}
    practical["findings"] = [shared]
    assert "results; many: past the endpoint" in page(tree)
    practical["findings"] = [shared, shared]
    assert "results; many: past the endpoint; many: past the endpoint" in page(tree)
    one["comparisons"] = []
    assert '<td class="text">many: past the endpoint; many: past the endpoint</td>' in page(tree)
