"""The diagnosis on simulated classes with the truth beside them: how often right, unfair, and how well calibrated.

The figures asked for are a little below those measured (tests/benchmarks/bench_diagnosis.py prints them), so that a
change of a rate does not break a test, and a change for the worse does.
"""

from __future__ import annotations

import dataclasses
import subprocess
import sys

import pytest

from tests.bench_scores import score
from tests.simulator import FAULTS, SimulatedBench

PLAIN_SIZES = {"overshoot": (0.3, 0.9), "undershoot": (0.3, 0.8), "always": (0.4, 0.8), "water": (0.05, 0.12)}
PLAIN = SimulatedBench(**PLAIN_SIZES, endpoint=0.003)
"""Faults of a size that a teacher would see."""
ANY = SimulatedBench(endpoint=0.003)
"""Faults of any size from a few drops upwards."""
NONE = dataclasses.replace(ANY, rates=dict.fromkeys(FAULTS, 0.0))


@pytest.fixture(scope="module")
def plain():
    return score(PLAIN, 25)


@pytest.mark.slow
def test_plain_faults_are_found_and_named_rightly(plain):
    assert plain.macro_f1 > 0.92


@pytest.mark.slow
def test_hardly_anyone_is_accused_of_what_was_not_done(plain):
    assert plain.accused_share <= 0.02


@pytest.mark.slow
@pytest.mark.parametrize("fault", ["wrong-aliquot", "implausible-titre"])
def test_what_nothing_else_looks_like_is_hardly_ever_missed(plain, fault):
    assert plain.f1(fault) > 0.95


def test_a_clean_class_stays_clean():
    assert score(NONE, 4).accused_share < 0.01


@pytest.mark.slow
@pytest.mark.parametrize(
    ("bench", "least"),
    [(PLAIN, 0.93), (ANY, 0.87), (dataclasses.replace(PLAIN, shaky=0.15), 0.91)],
    ids=["plain", "any size", "shaky hands"],
)
def test_findings_of_many_classes_are_right_fair_and_calibrated(bench, least):
    found = score(bench, 120, seeds=[1])
    assert found.macro_f1 > least
    assert found.accused_share <= 0.02
    assert found.odds.error <= 0.06


@pytest.mark.slow
def test_without_a_reference_the_class_will_do():
    with_one, without = score(PLAIN, 40), score(PLAIN, 40, reference=False)
    assert without.macro_f1 > with_one.macro_f1 - 0.02
    assert without.accused_share <= 0.02


@pytest.mark.slow
def test_a_wrong_reference_makes_nobody_guilty():
    assert score(dataclasses.replace(NONE, reference_error=0.02), 20).accused_share <= 0.02


@pytest.mark.slow
def test_a_habit_of_the_whole_class_makes_nobody_guilty():
    assert score(dataclasses.replace(NONE, class_habit=0.10), 20).accused_share <= 0.02


@pytest.mark.slow
def test_a_diagnosis_can_be_told_all_that_the_simulator_draws():
    # In a process of its own: what is told holds for the rest of it.
    asked = [sys.executable, "-m", "tests.benchmarks.bench_diagnosis", "--informed", "--classes", "1"]
    shown = subprocess.run(asked, capture_output=True, text=True, check=True).stdout
    assert shown.count("told everything") == 2
