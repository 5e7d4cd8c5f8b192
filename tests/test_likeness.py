"""Readings shared beyond chance: found where they are copied, silent where people only titrate the same solution."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from labmark.diagnose.bench_input import RunMatrix
from labmark.diagnose.likeness import LEAST_ODDS, likeness
from tests.build import run_matrix
from tests.simulator import Readings, SimulatedBench, simulate

A, B = 3, 17


def alone(rng: np.random.Generator, students: int = 28, *, starts: str = "anywhere", runs: int = 4) -> RunMatrix:
    """Return students who work alone: own level, own scatter, rough first, readings to 0.05 cm³."""
    titre = 24.35 + rng.normal(0, 0.1, (students, 1)) + rng.normal(0, 0.04, (students, runs))
    titre[:, 0] += rng.gamma(2.0, 0.35, students)
    start = {"zero": np.zeros((students, runs)), "anywhere": rng.uniform(0, 2, (students, runs))}[starts]
    initial = np.round(start * 20).astype(np.int64) * 50
    return run_matrix(initial, initial + np.round(titre * 20).astype(np.int64) * 50)


def with_copy(runs: RunMatrix, source: int = A, target: int = B, columns: slice = slice(None)) -> RunMatrix:
    """Return the class with one student's readings taken from another."""
    changed = {}
    for name in ("initial", "final", "titre", "present", "usable"):
        values = getattr(runs, name).copy()
        values[target, columns] = values[source, columns]
        changed[name] = values
    return dataclasses.replace(runs, **changed)


def groups(runs: RunMatrix) -> list[tuple[int, ...]]:
    return [alike.students for alike in likeness(runs)]


def matrix(readings: Readings) -> RunMatrix:
    runs = run_matrix(readings.initial, readings.final, rough=readings.rough, usable=readings.present)
    return dataclasses.replace(runs, present=readings.present)


@pytest.mark.parametrize("seed", range(5))
def test_all_the_readings_of_another_are_noticed(seed):
    found = likeness(with_copy(alone(np.random.default_rng(seed))))
    assert [alike.students for alike in found] == [(A, B)]
    assert found[0].runs == (0, 1, 2, 3)
    assert found[0].odds > 1e4


def test_three_copied_runs_of_five_are_noticed():
    assert groups(with_copy(alone(np.random.default_rng(2), runs=5), columns=slice(1, 4))) == [(A, B)]


def test_a_copy_with_one_reading_changed_by_a_step_is_noticed():
    runs = with_copy(alone(np.random.default_rng(3)))
    runs.final[B, 2] += 50
    runs.titre[B, 2] += 50
    found = likeness(runs)
    assert [(alike.students, alike.runs) for alike in found] == [((A, B), (0, 1, 3))]


def test_a_single_shared_run_is_nothing():
    assert groups(with_copy(alone(np.random.default_rng(4)), columns=slice(1, 2))) == []


@pytest.mark.parametrize("columns", [slice(1, 2), slice(1, 3), slice(1, 4)], ids=["one", "two", "three"])
def test_starting_at_zero_and_sharing_titres_is_nothing(columns):
    runs = alone(np.random.default_rng(5), starts="zero")
    assert groups(with_copy(runs, columns=columns)) == []


def test_two_who_start_at_zero_and_share_a_titre_are_nothing_however_small_the_class():
    volumes = np.array([[25_900, 25_300, 25_350], [25_900, 25_350, 25_350]])
    assert groups(run_matrix(np.zeros_like(volumes), volumes)) == []


def test_shared_titres_from_different_starts_are_nothing():
    runs = alone(np.random.default_rng(6))
    final = runs.final.copy()
    titre = runs.titre.copy()
    titre[B] = titre[A]
    final[B] = runs.initial[B] + titre[A]
    assert groups(dataclasses.replace(runs, final=final, titre=titre)) == []


def test_three_who_share_are_one_group():
    runs = with_copy(with_copy(alone(np.random.default_rng(7))), target=20)
    assert groups(runs) == [(A, B, 20)]


@pytest.mark.parametrize("students", [10, 30, 80])
@pytest.mark.parametrize("ring", [2, 3, 4])
def test_a_larger_ring_is_no_safer_where_only_the_roughs_are_their_own(students, ring):
    runs = alone(np.random.default_rng(9), students=students, runs=6)
    for target in range(1, ring):
        runs = with_copy(runs, source=0, target=target, columns=slice(1, 6))
    assert groups(runs) == [tuple(range(ring))]


def test_two_pairs_are_two_groups():
    runs = with_copy(with_copy(alone(np.random.default_rng(8))), source=5, target=25)
    assert groups(runs) == [(A, B), (5, 25)]


def test_data_handed_out_to_everyone_accuse_no_one():
    one = alone(np.random.default_rng(9), students=1)
    assert groups(one.rows(np.zeros(28, dtype=int))) == []


@pytest.mark.parametrize("students", [3, 4])
def test_a_few_who_all_share_are_noticed(students):
    one = alone(np.random.default_rng(9), students=1)
    assert groups(one.rows(np.zeros(students, dtype=int))) == [tuple(range(students))]


def test_not_refilling_adds_nothing():
    """A burette that is not refilled starts where it ended: the second initial reading is no second coincidence."""
    fresh, chained = alone(np.random.default_rng(18)), alone(np.random.default_rng(18))
    initial = chained.initial.copy()
    initial[A, 3] = chained.final[A, 2]
    chained = dataclasses.replace(chained, initial=initial, final=initial + chained.titre)
    of_fresh, of_chained = (likeness(with_copy(runs))[0].odds for runs in (fresh, chained))
    assert of_chained < of_fresh / 10


def test_runs_that_cannot_be_judged_do_not_count():
    runs = with_copy(alone(np.random.default_rng(11)))
    usable = runs.usable.copy()
    usable[B, 1:] = False
    assert groups(dataclasses.replace(runs, usable=usable)) == []


def test_the_order_of_the_students_does_not_matter():
    runs = with_copy(alone(np.random.default_rng(13)))
    order = np.random.default_rng(1).permutation(28)
    (found,) = likeness(runs.rows(order))
    assert sorted(order[list(found.students)].tolist()) == [A, B]
    assert found.odds == likeness(runs)[0].odds


@pytest.mark.parametrize("students", [0, 1, 2])
def test_hardly_any_students_are_no_error(students):
    assert groups(alone(np.random.default_rng(14), students=students)) == []


@pytest.mark.slow
@pytest.mark.parametrize("starts", ["anywhere", "zero"])
def test_students_who_work_alone_are_left_alone(starts):
    rng = np.random.default_rng(15)
    assert sum(bool(likeness(alone(rng, starts=starts))) for _ in range(100)) <= 1


@pytest.mark.slow
@pytest.mark.parametrize("starts", ["anywhere", "zero"])
def test_false_alarms_stay_far_below_their_bound(starts):
    """By Markov's inequality one class in LEAST_ODDS at most; measured it's ten times fewer."""
    rng = np.random.default_rng(16)
    alarms = sum(bool(likeness(alone(rng, starts=starts))) for _ in range(1000))
    assert alarms / 1000 < 0.2 / LEAST_ODDS


@pytest.mark.slow
def test_copies_are_found_in_nearly_every_simulated_class_whose_burettes_start_anywhere():
    """Of those who all start at 0.00 only the titres could tell, and they all look for the same titre."""
    found = 0
    for seed in range(100):
        runs = with_copy(matrix(simulate(SimulatedBench(starts=(0.0, 0.6, 0.4)), seed=seed)))
        found += any({A, B} <= set(students) for students in groups(runs))
    assert found >= 97


@pytest.mark.slow
def test_a_whole_cohort_is_compared_without_comparing_all_pairs():
    runs = with_copy(alone(np.random.default_rng(17), students=100_000, runs=6), target=77_777)
    assert groups(runs) == [(A, 77_777)]
