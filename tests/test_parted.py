"""A class in two parts that nothing in its sheet tells apart: seen where they are plain, and of one class never."""

from __future__ import annotations

import numpy as np
import pytest

from labmark.analyse.parted import upper_part
from labmark.judge.stages import judge
from tests.classes import sheet_of
from tests.practicals import DRAIN_CLEANER, practical
from tests.seeds import times
from tests.test_feedback import student

HIGH = ["24.35", "24.40", "24.30", "24.35", "24.45", "24.30", "24.40", "24.35"]
LOW = ["23.70", "23.75", "23.65", "23.70", "23.75", "23.65", "23.70", "23.70"]
"""Eight about 24.35 cm³, which the reference gives, and eight 2.7 % below, as from a weaker bottle. Invented."""


def shapes(rng, n):
    """Classes of one bottle: ordinary, of long tails, spread evenly, and with some past the endpoint by any amount."""
    yield rng.normal(0, 0.06, n)
    yield 0.1 * rng.standard_t(3, n)
    yield rng.uniform(-1, 1, n)
    habit = np.where(rng.random(n) < 0.3, rng.uniform(0.15, 1.4, n), 0)
    yield rng.normal(0, 0.06, n) + habit


def parted(seed):
    rng = np.random.default_rng(seed)
    found = [upper_part(each, 1.0) is not None for n in (8, 12, 16, 28) for each in shapes(rng, n)]
    return sum(found), len(found)


def test_two_parts_are_told_apart_by_the_gap_between_them():
    results = np.array([24.35, 23.70, 24.40, 23.75, 24.30, 23.65, np.nan, 24.35, 23.70])
    above = upper_part(results, 1.0)
    assert above is not None
    assert above.tolist() == [True, False, True, False, True, False, False, True, False]


@pytest.mark.parametrize(
    "results",
    [
        [24.30, 24.35, 24.40, 24.35, 24.30, 24.40, 23.70],  # one alone
        [24.30, 24.35, 24.40, 23.70, 23.75, 23.65],  # three and three
        [24.30, 24.35, 24.40, 24.35, 24.10, 24.05, 24.15, 24.10],  # 0.15 cm³ between them
        [],
    ],
)
def test_few_or_near_ones_are_no_part(results):
    assert upper_part(np.array(results), 1.0) is None


@pytest.mark.slow
def test_of_classes_of_one_bottle_fewer_than_one_in_a_hundred_come_apart():
    counts = [parted(seed) for seed in range(times(1_000))]
    assert sum(found for found, _ in counts) < 0.01 * sum(all_of_them for _, all_of_them in counts)


def judged(titres, groups=()):
    who = [student(f"{each}+", f"{each}+", mean=each) for each in titres]
    for (own, _), group in zip(who, groups, strict=False):
        own["groups"] = {"Bench": group}
    return judge(sheet_of(*who), practical(DRAIN_CLEANER))


def test_the_part_further_from_the_reference_is_named_and_its_accuracy_waits():
    found = judged([each for pair in zip(HIGH, LOW, strict=True) for each in pair])
    (shift,) = (each for each in found.figures.findings if each.finding == "group-shift")
    assert shift.message.startswith("The results of 8 students lie together, 2.7 % lower than the others, and nobody")
    assert shift.evidence["places"] == list(range(1, 16, 2))
    waiting = [any(mark.pending for mark in one.marks if mark.criterion == "accuracy") for one in found.students]
    assert waiting == [False, True] * 8
    assert found.students[1].circumstance.startswith("A part of the class as a whole differs from the rest")


def test_where_a_bench_explains_it_the_bench_is_named_alone():
    found = judged([*HIGH, *LOW], ["1"] * 8 + ["2"] * 8)
    assert [each.evidence["group"] for each in found.figures.findings if each.finding == "group-shift"] == ["Bench 2"]


OTHER_PIPETTE = [*HIGH, "19.45", "19.50", "19.45", "19.50", "19.50"]
"""24.35 × 20 ÷ 25 = 19.48 cm³: a fifth lower, which two bottles of one label are not."""


def test_parts_that_are_not_of_one_label_are_no_grouping():
    assert judged(OTHER_PIPETTE).figures.groupings == ()


def test_a_pipette_of_another_size_is_said_of_each_student():
    found = judged(OTHER_PIPETTE)
    assert [each.finding for each in found.figures.findings if each.finding == "group-shift"] == []
    assert all("wrong-aliquot" in {each.finding for each in one.findings} for one in found.students[8:])
