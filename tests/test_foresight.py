"""What a class will be able to see is what its tests then find: held against simulated classes."""

from __future__ import annotations

import json

import numpy as np
import pytest

from labmark.analyse.groups import group_shifts
from labmark.analyse.power import shift_of_group, shifts_off_reference
from labmark.analyse.reference import reference_test
from labmark.lesson.prepare import prepared, told
from labmark.practicals import named, shipped
from tests.seeds import few_quick

TITRE, CLASSES = 25.0, 400


def share_found(found) -> float:
    rng = np.random.default_rng(5)
    return sum(map(found, (rng for _ in range(CLASSES)))) / CLASSES


@pytest.mark.slow
@pytest.mark.parametrize(("students", "spread", "u"), [(12, 0.06, 0.0), (24, 0.1, 0.05), (30, 0.25, 0.0)])
def test_four_of_five_classes_put_a_reference_in_doubt_that_is_off_by_the_shift(students, spread, u):
    above, below = shifts_off_reference(students, spread, u)
    for titre in (TITRE + above, TITRE - below):

        def found(rng: np.random.Generator, titre: float = titre) -> bool:
            return reference_test(rng.normal(titre, spread, students), TITRE, u, TITRE).doubtful

        assert share_found(found) == pytest.approx(0.8, abs=0.07)


@pytest.mark.slow
@pytest.mark.parametrize(("students", "spread"), [(12, 0.06), (24, 0.25), (30, 0.1)])
def test_four_of_five_classes_name_a_bench_that_is_off_by_the_shift(students, spread):
    bench = np.arange(students) // 6
    moved = shift_of_group(students, 6, spread) * (bench == 1)

    def found(rng: np.random.Generator) -> bool:
        results = TITRE + moved + rng.normal(0, spread, students)
        (grouping,) = group_shifts(results, {"Bench": bench.tolist()}, TITRE, reference=TITRE)
        return grouping.groups[1].shifted

    assert share_found(found) == pytest.approx(0.8, abs=0.07)


def test_a_class_too_small_for_a_test_is_promised_nothing():
    assert shifts_off_reference(2, 0.1, 0.0) is None
    assert shift_of_group(11, 6, 0.1) is None


def test_runs_beyond_which_another_gains_less_than_a_tenth_by_hand():
    # By hand: only readings and last drop go down with the runs; they are a seventh of the variance of two runs
    # already, so that a third lessens the uncertainty by 3 %.
    seen = prepared(named("drain-cleaner"), 24).tree["foresight"]
    assert seen["enough_runs"] == 2
    assert seen["percent_by_runs"]["3"] / seen["percent_by_runs"]["2"] == pytest.approx(0.974, abs=0.002)


@pytest.mark.parametrize("name", few_quick(shipped(), 9))
def test_every_card_says_what_is_supposed(name):
    made = prepared(named(name), 24)
    seen = made.tree["foresight"]
    assert json.dumps(made.tree)
    if seen is not None:
        words = told(seen, 24, float(made.examples[0].titre))
        assert "students’ means differ" in words["supposed"]
        assert words["rows"][-1][0].startswith("One bench of 6")
