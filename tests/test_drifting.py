"""A drift or a group: how often each is named for the other, over simulated classes of 24 in four benches."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from labmark.judge.classwide import told_apart, without_drift, without_group_shifts
from tests.simulate_class import REFERENCE, TITRE, Recipe, simulate

CLASSES = 1000


def named(recipe, slope=0.0):
    """How many of the classes get a group named, and how many a drift; benches worked one after the other."""
    groups = drifts = 0
    for seed in range(CLASSES):
        drawn = simulate(np.random.default_rng(seed), recipe)
        students = [SimpleNamespace(groups={"Bench": str(b)}, order=n + 1) for n, b in enumerate(drawn.bench)]
        relative = drawn.result / REFERENCE + slope * (np.arange(drawn.mean.size) - 11.5) / TITRE
        groupings, drift, _ = told_apart(relative, students, TITRE, 1.0)
        groups += any(group.shifted for grouping in groupings for group in grouping.groups)
        drifts += drift is not None and drift.drifting
    return groups / CLASSES, drifts / CLASSES


@pytest.mark.slow
@pytest.mark.parametrize(
    ("recipe", "slope", "group", "drift"),
    [
        (Recipe(), 0.0, (0, 0.02), (0, 0.02)),  # a clean class: neither
        (Recipe(bench=1.04), 0.0, (0.90, 1), (0, 0.05)),  # one bench 4 % off: the bench
        (Recipe(), 0.05, (0, 0.05), (0.90, 1)),  # 0.05 cm³ a student: the drift
    ],
)
def test_each_is_named_for_what_it_is(recipe, slope, group, drift):
    groups, drifts = named(recipe, slope)
    assert group[0] <= groups <= group[1]
    assert drift[0] <= drifts <= drift[1]


def working_in_turn(change, *, bench=1.0):
    """24 students of four benches in turn, their results moving by `change` from first to last, the second bench off."""
    students = [SimpleNamespace(groups={"Bench": str(n // 6)}, order=n + 1) for n in range(24)]
    noise = np.tile([0.002, -0.003, 0.001, -0.001, 0.003, -0.002], 4)
    off = np.where([student.groups["Bench"] == "1" for student in students], bench, 1.0)
    return students, (1 + change * (np.arange(24) - 11.5) / 23 + noise) * off


def test_a_bench_that_is_off_beside_a_drift_is_named_as_well():
    students, relative = working_in_turn(0.03, bench=1.04)
    (benches,), drift, follows = told_apart(relative, students, TITRE, 1.0)
    assert [group.name for group in benches.groups if group.shifted] == ["1"]
    assert drift.drifting
    assert follows == ()


@pytest.mark.parametrize("bench", [1.0, 1.04])
def test_expected_titres_without_drift_and_shifts_are_what_the_students_got(bench):
    students, relative = working_in_turn(0.03, bench=bench)
    groupings, drift, _ = told_apart(relative, students, TITRE, 1.0)
    expected = without_group_shifts(np.full(24, TITRE), groupings, students)
    expected = without_drift(expected, drift, students)
    assert expected == pytest.approx(relative * TITRE, abs=0.15)


def test_without_a_drift_expected_titres_stay():
    students, relative = working_in_turn(0.0)
    _, drift, _ = told_apart(relative, students, TITRE, 1.0)
    assert without_drift(np.full(24, TITRE), drift, students).tolist() == [TITRE] * 24


def test_who_has_no_place_in_the_order_keeps_the_expected_titre():
    students, relative = working_in_turn(0.03)
    _, drift, _ = told_apart(relative, students, TITRE, 1.0)
    students[0] = SimpleNamespace(groups={"Bench": "0"}, order=None)
    assert without_drift(np.full(24, TITRE), drift, students)[0] == TITRE


def test_a_bottle_that_crosses_benches_moves_each_student_once():
    students = [SimpleNamespace(groups={"Bench": str(n // 6), "Bottle": "AB"[n >= 15]}, order=None) for n in range(24)]
    noise = np.tile([0.002, -0.003, 0.001, -0.001, 0.003, -0.002], 4)
    relative = 1 + noise + np.where(np.arange(24) >= 15, -0.03, 0.0)
    groupings, _, _ = told_apart(relative, students, TITRE, 1.0)
    expected = without_group_shifts(np.full(24, TITRE), groupings, students)
    assert expected == pytest.approx(relative * TITRE, abs=0.15)
