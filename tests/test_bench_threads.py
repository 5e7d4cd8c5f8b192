"""Large classes are looked at in several threads: what comes back is the same, in the same order."""

from __future__ import annotations

import threading

import numpy as np
import pytest

from labmark.diagnose import threads
from labmark.diagnose.bench import CHUNK, diagnose_bench
from labmark.diagnose.likeness import LARGE, likeness
from labmark.diagnose.threads import in_threads
from tests.bench_scores import matrix
from tests.simulator import SimulatedBench, simulate


@pytest.fixture(scope="module")
def large():
    runs = matrix(simulate(SimulatedBench(students=300), seed=2))
    return runs.rows(np.arange(max(2 * CHUNK, LARGE) + 7) % 300)


def test_parts_come_back_in_their_order():
    first_may_end = threading.Event()

    def work(part: int) -> int:
        if part == 0:
            assert first_may_end.wait(10)
        else:
            first_may_end.set()
        return part * part

    assert list(in_threads(work, range(3))) == [0, 1, 4]


def test_a_single_part_starts_no_thread():
    assert list(in_threads(lambda _: threading.current_thread(), [0])) == [threading.current_thread()]


def test_what_goes_wrong_in_a_part_is_not_lost():
    with pytest.raises(ZeroDivisionError):
        list(in_threads(lambda part: 1 // part, [1, 0, 2]))


@pytest.mark.slow
def test_the_diagnosis_does_not_depend_on_the_number_of_threads(large, monkeypatch):
    several = diagnose_bench(large)
    monkeypatch.setattr(threads, "THREADS", 1)
    alone = diagnose_bench(large)
    assert several.claims == alone.claims
    assert (several.run_posterior == alone.run_posterior).all()
    assert (several.student_posterior == alone.student_posterior).all()


@pytest.mark.slow
def test_likeness_does_not_depend_on_the_number_of_threads(large, monkeypatch):
    several = likeness(large)
    monkeypatch.setattr(threads, "THREADS", 1)
    assert several == likeness(large)
