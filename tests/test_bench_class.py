"""What a class says about good work, on simulated classes whose figures are known."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from labmark.diagnose.bench_class import USUAL_BETWEEN, fit_class
from labmark.diagnose.bench_input import BenchSetting, RunMatrix
from labmark.diagnose.bench_levels import STUDENT_RATES
from tests.build import run_matrix
from tests.seeds import few_quick
from tests.simulator import FAULTS, Readings, SimulatedBench, simulate

SETTING = BenchSetting()
NO_FAULTS = dict.fromkeys(FAULTS, 0.0)


def matrix(readings: Readings) -> RunMatrix:
    runs = run_matrix(
        readings.initial, readings.final, rough=readings.rough, usable=readings.present, expected=readings.expected
    )
    return dataclasses.replace(runs, present=readings.present)


@pytest.mark.slow
@pytest.mark.parametrize("repeatability", few_quick([0.03, 0.06], 2))
def test_repeatability_is_that_of_good_runs_however_many_faults_there_are(repeatability):
    bench = SimulatedBench(students=300, repeatability=repeatability)
    found = fit_class(matrix(simulate(bench, seed=4)), SETTING)
    # Where a run stops, and two readings by eye.
    assert found.repeatability == pytest.approx(np.sqrt(repeatability**2 + 2 * bench.eye**2), rel=0.15)


@pytest.mark.slow
@pytest.mark.parametrize("endpoint", few_quick([0.003, 0.008], 2))
def test_spread_between_students_leaves_the_faulty_out(endpoint):
    bench = SimulatedBench(students=300, endpoint=endpoint)
    found = fit_class(matrix(simulate(bench, seed=4)), SETTING)
    # Students two spreads out are as likely to have a fault, so a wide class comes out a little narrow.
    assert found.between == pytest.approx(np.hypot(endpoint, bench.pipette), rel=0.2)


def test_a_shift_of_the_class_is_found():
    found = fit_class(matrix(simulate(SimulatedBench(students=60, reference_error=0.01), seed=4)), SETTING)
    assert found.shift == pytest.approx(-0.01, abs=0.002)


def test_a_single_student_shifts_nothing_much():
    runs = run_matrix([[0, 0, 0]], [[25500, 24850, 24900]], expected=24.35)
    found = fit_class(runs, SETTING)
    assert abs(found.shift) < 0.01
    assert found.between == pytest.approx(USUAL_BETWEEN, rel=0.5)


def test_a_doubtful_reference_is_not_leant_on():
    runs = run_matrix(np.zeros((3, 3)), [[26500, 25850, 25800], [26500, 25800, 25850], [26100, 25750, 25800]],
                        expected=24.35)  # fmt: skip
    doubtful, trusted = (
        fit_class(runs, dataclasses.replace(SETTING, reference_doubtful=doubt)) for doubt in (True, False)
    )
    assert doubtful.shift == pytest.approx(0.06, abs=0.004)
    assert trusted.shift < doubtful.shift


@pytest.mark.slow
def test_a_class_of_few_says_nothing_of_itself_where_there_is_a_reference():
    few, enough = (fit_class(matrix(simulate(SimulatedBench(students=n), seed=4)), SETTING) for n in (7, 8))
    assert (few.between, few.shift, few.learnt) == (USUAL_BETWEEN, 0.0, False)
    assert enough.learnt
    assert enough.between != USUAL_BETWEEN


@pytest.mark.slow
def test_rates_follow_the_class_but_a_small_class_decides_little():
    careful = fit_class(matrix(simulate(SimulatedBench(students=400, rates=NO_FAULTS), seed=4)), SETTING)
    faulty = fit_class(matrix(simulate(SimulatedBench(students=400), seed=4)), SETTING)
    one = fit_class(matrix(simulate(SimulatedBench(students=1, rates=NO_FAULTS), seed=4)), SETTING)
    assert careful.student_rates[0] > 0.9 > faulty.student_rates[0]
    assert one.student_rates == pytest.approx(STUDENT_RATES, abs=0.01)
    for found in (careful, faulty, one):
        assert found.student_rates.sum() == pytest.approx(1)
