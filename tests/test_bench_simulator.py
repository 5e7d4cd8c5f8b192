"""The simulated bench obeys the bench: scales, rounding, and what each mishap does to a titre."""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pytest

from tests import simulator
from tests.simulator import FAULTS, RUN_FAULTS, SimulatedBench, simulate

MANY = SimulatedBench(students=1500)


@pytest.fixture(scope="module")
def readings():
    return simulate(MANY, seed=1)


def effects(readings, fault: str) -> np.ndarray:
    return np.array([effect for (_, _, name), effect in readings.truth.items() if name == fault])


def test_it_knows_nothing_of_the_diagnosis():
    tree = ast.parse(Path(simulator.__file__).read_text(encoding="utf-8"))
    imported = {getattr(node, "module", None) for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    imported |= {name.name for node in ast.walk(tree) if isinstance(node, ast.Import) for name in node.names}
    assert not any(name and name.startswith("labmark") for name in imported)


def test_the_same_seed_gives_the_same_class():
    first, second = simulate(seed=5), simulate(seed=5)
    assert (first.final == second.final).all()
    assert first.truth == second.truth
    assert (first.final != simulate(seed=6).final).any()


def test_readings_are_on_the_scale_and_to_the_nearest_0_05(readings):
    both = np.concatenate([readings.initial[readings.present], readings.final[readings.present]])
    assert ((both >= 0) & (both <= 50_000)).all()
    assert (both % 50 == 0).all()
    # A wrong-way or misread pair may run backwards on paper; a titre never does at the bench.
    honest = np.array([not fault for fault in readings.fault])
    assert (readings.final > readings.initial)[honest][readings.present[honest]].all()


def test_ordinary_students_scatter_as_the_bench_says(readings):
    honest = np.array([not fault for fault in readings.fault])
    titres = np.where(readings.present & ~readings.rough, (readings.final - readings.initial) / 1000, np.nan)[honest]
    within = np.sqrt(np.nanmean(np.nanvar(titres, axis=1, ddof=1)))
    assert within == pytest.approx(np.sqrt(0.035**2 + 2 * 0.012**2 + 0.05**2 / 6), rel=0.1)
    assert np.nanmean(titres) == pytest.approx(MANY.equivalence, abs=0.02)


@pytest.mark.parametrize(
    ("fault", "low", "high"),
    [
        ("overshoot", 0.05, 1.10), ("undershoot", -0.95, -0.05), ("always-overshoots", 0.1, 1.2),
        ("diluted-titrant", 0.0, 4.0), ("wrong-aliquot", -15.0, -4.0),
    ],
)  # fmt: skip
def test_a_mishap_moves_the_titre_its_own_way(readings, fault, low, high):
    found = effects(readings, fault)
    assert found.size > 30
    assert ((found > low) & (found < high)).all()


def test_a_misread_titre_is_a_whole_number_out(readings):
    found = effects(readings, "misread-division")
    assert np.abs(found - np.round(found)).max() < 0.15
    assert set(np.abs(np.round(found)).astype(int)) == {1, 10}


def test_every_fault_happens_and_the_rough_carries_only_habits(readings):
    assert {name for *_, name in readings.truth} == set(FAULTS)
    on_rough = {name for _, run, name in readings.truth if run == 0}
    assert on_rough == {"read-upside-down"}
    assert all((run is None) == (name not in RUN_FAULTS) for _, run, name in readings.truth)
