"""What each student is fairly held against, and the further figures of a class, from plain records."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from labmark.analyse.groups import group_shifts
from labmark.analyse.reference import reference_test
from labmark.assessed import ReferenceValue
from labmark.judge.class_figures import anchor_of, fair_values
from labmark.judge.classwide import ClassFigures
from labmark.judge.further_figures import _levels, _wild, turned
from labmark.judge.references import References, printed
from labmark.judge.worked import Worked, work_out
from tests.classes import scattered, sheet_of, titres, tree_of
from tests.practicals import practical

GIVEN = ReferenceValue(0.0974, 0.0004, "practical", Fraction(974, 10000))
OTHER = ReferenceValue(0.1010, 0.0004, "practical", Fraction(101, 1000))


def worked(centre: float = 24.35, **more: object) -> Worked:
    return work_out(sheet_of(*scattered(12, centre, **more)), practical())


def held(one: Worked, *each: ReferenceValue | None) -> References:
    """Return references that the students have in turn."""
    values = tuple(each[place % len(each)] for place in range(len(one.students)))
    return References(values, next((value for value in each if value), None), (None,) * len(values), "Bottle")


def test_the_class_is_looked_at_where_the_reference_lies() -> None:
    one = worked()
    titre, exponent = anchor_of(one, held(one, GIVEN))
    assert (titre, exponent) == (pytest.approx(24.35), pytest.approx(1))
    assert np.isnan(anchor_of(one, held(one, None))[0])


@pytest.mark.parametrize("students", [3, 7, 11])
def test_a_class_that_agrees_exactly_has_no_spread_at_all(students: int) -> None:
    group = tree_of([titres("24.35", "24.35", "24.35") for _ in range(students)])["class"]
    assert [group[each] for each in ("sd", "robust_sd", "repeatability_sd", "reproducibility_sd")] == [0, 0, 0, 0]


def test_where_nothing_is_in_doubt_everybody_is_held_against_their_own_reference() -> None:
    one = worked()
    fair = fair_values(one, held(one, GIVEN, OTHER), ClassFigures(one.precision))
    assert fair.values.tolist() == [0.0974, 0.1010] * 6
    assert {*fair.circumstances} == {""}


def test_a_reference_in_doubt_is_moved_to_the_middle_of_the_class() -> None:
    one = worked(25.85, spread=0.0)
    test = reference_test(one.results, 0.0974, 0.0004, 24.35)
    assert test.doubtful
    fair = fair_values(one, held(one, GIVEN), ClassFigures(one.precision, test))
    assert fair.values == pytest.approx([0.1034] * 12)
    assert fair.titres[0] == pytest.approx(25.85)
    assert fair.circumstances[0].startswith("The class as a whole disagrees with the reference")


def test_only_a_group_that_differs_is_held_against_what_the_group_found() -> None:
    one = worked(lambda place: 24.35 + (1.2 if place < 4 else 0), groups=lambda place: {"Bench": "1234"[place // 4]})
    benches = [student.groups["Bench"] for student in one.students]
    figures = ClassFigures(one.precision, groupings=group_shifts(one.results / 0.0974, {"Bench": benches}, 24.35))
    fair = fair_values(one, held(one, GIVEN), figures)
    assert fair.values[:4] == pytest.approx([0.0974 * 25.55 / 24.35] * 4, rel=0.01)
    assert fair.values[4:].tolist() == [0.0974] * 8
    assert [bool(text) for text in fair.circumstances] == [True] * 4 + [False] * 8


def test_results_of_two_bottles_are_turned_to_the_common_one() -> None:
    one = worked()
    values, students = np.array([0.0974, 0.1010, 0.1010]), np.array([0, 1, 3])
    assert turned(values, held(one, GIVEN, OTHER), students) == pytest.approx([0.0974] * 3)
    assert turned(values, held(one, GIVEN), students) is values


@pytest.mark.parametrize(
    ("groupings", "chosen"),
    [
        ({"Bench": "1122", "Class": "aabb"}, ["Class", "Bench"]),  # the coarsest first
        ({"Bench": "1212", "Class": "aabb"}, ["Class", "Bench"]),  # bench 1 of two classes is two benches
        ({"Bench": "1212", "Balance": "llrr"}, ["Bench"]),  # they cut across one another
        ({"Bench": "1111", "Class": ["a", "b", "b", None]}, []),  # one group, and one with somebody in none
    ],
)
def test_levels_are_groupings_that_lie_within_one_another(groupings: dict[str, list[str]], chosen: list[str]) -> None:
    assert [*_levels({name: [*labels] for name, labels in groupings.items()})] == chosen


def test_who_is_wildly_far_from_the_group_says_nothing_of_the_spread() -> None:
    student = np.repeat(np.arange(8), 2)
    values = np.array([24.3, 24.4, 24.2, 24.3, 24.4, 24.5, 24.3, 24.2, 26.3, 26.4, 26.2, 26.3, 26.4, 26.5, 30.0, 30.1])
    assert _wild(values, student, ["1"] * 8 + ["2"] * 8) == [7]
    assert _wild(values[:14], student[:14], None) == [4, 5, 6]  # in a class without groups they are far from the class


@pytest.mark.parametrize(("result", "text"), [(0.10173, "0.102"), (25.96, "26.0"), (0.004567, "0.00457")])
def test_without_a_reference_a_result_is_printed_to_the_figures_asked_for(result, text):
    assert printed(result, None, 3) == {"result": text, "reference": None, "percent": None}
