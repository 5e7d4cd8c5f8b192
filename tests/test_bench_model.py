"""Densities of a run about its level, and of a level about the class: they are densities, and say what they should."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.diagnose.bench_input import BenchSetting
from labmark.diagnose.bench_levels import Fit, level_density, other_pipettes
from labmark.diagnose.bench_model import (
    FIRST,
    LATER,
    NEAR,
    ROUGH,
    STEP,
    evenly,
    good_run,
    make_tables,
    normal,
)
from labmark.diagnose.hypotheses import BY_NAME, RUN_HYPOTHESES, STUDENT_HYPOTHESES

X = np.arange(-60, 60, 0.001)
RATES = np.array([h.rate for h in RUN_HYPOTHESES])
SETTING = BenchSetting()


@pytest.fixture(scope="module")
def tables():
    return make_tables(SETTING, 0.04, tuple(RATES), (0, 1, 2))


@pytest.mark.parametrize(
    "values", [normal(X, 0.05), good_run(X, 0.05), evenly(X, 0.1, 0.6, 0.05)], ids=["normal", "good run", "evenly"]
)
def test_a_density_has_area_one(values):
    assert np.trapezoid(values, X) == pytest.approx(1, abs=1e-6)


@given(st.floats(0.05, 1.0), st.floats(0.05, 1.0), st.floats(0.02, 0.2))
def test_a_size_spread_evenly_is_flat_in_the_middle(low, width, spread):
    middle = evenly(np.array([low + width / 2]), low, low + width, spread)[0]
    assert middle <= 1 / width + 1e-12
    if width > 8 * spread:
        assert middle == pytest.approx(1 / width, rel=1e-3)


def of(tables, name):
    return tables.density[0, :, [h.name for h in RUN_HYPOTHESES].index(name)]


@pytest.mark.parametrize("name", ["overshoot", "undershoot", "misread-division", "leaking tap"])
def test_every_mishap_with_a_size_has_area_one(tables, name):
    assert of(tables, name).sum() * STEP / 1000 == pytest.approx(1, abs=1e-3)


def test_an_overshoot_is_never_below_the_level_and_an_undershoot_never_above(tables):
    over, under = (of(tables, name)[[tables.centre + 50, tables.centre - 50]] for name in ("overshoot", "undershoot"))
    assert over[0] > 0.1 > 1e-9 > over[1]
    assert under[1] > 0.1 > 1e-9 > under[0]


def test_a_whole_number_out_is_sharper_than_an_overshoot_of_that_size(tables):
    sharper = of(tables, "misread-division") / np.maximum(of(tables, "overshoot"), 1e-300)
    assert sharper[tables.centre + 100] > 100 * sharper[tables.centre + 80]


def test_shares_of_a_run_add_up_to_one(tables):
    assert tables.rate.sum(axis=0) == pytest.approx(np.ones(3))


def test_past_the_endpoint_is_a_fault_in_an_accurate_run_only(tables):
    over = [h.name for h in RUN_HYPOTHESES].index("overshoot")
    assert tables.rate[over, LATER] > 0
    assert tables.rate[over, ROUGH] == 0


def test_air_in_the_jet_comes_out_in_the_first_run_only(tables):
    bubble = [h.name for h in RUN_HYPOTHESES].index("air bubble in the jet")
    assert tables.rate[bubble, FIRST] > 0
    assert tables.rate[bubble, LATER] == 0


def test_tables_reach_until_they_are_flat(tables):
    """So that a titre may lie further out than they do."""
    assert tables.centre < 1000 * SETTING.capacity // STEP
    assert tables.density[:, [0, -1]] == pytest.approx(tables.density[:, [1, -2]], abs=1e-20)


def test_coarser_readings_and_shaky_hands_make_wider_tables(tables):
    peaks = tables.good[:, tables.centre]
    assert list(np.argsort(-peaks[:3])) == [0, 1, 2]
    assert (peaks[3:] < peaks[:3]).all()


FIT = Fit(0.04, 0.005, 0.0, 0.001)
LEVELS = np.arange(0.005, 65, 0.01)[None, :]
EXPECTED = np.array([24.35])


@pytest.mark.parametrize("hypothesis", STUDENT_HYPOTHESES, ids=lambda h: h.name)
def test_a_level_density_has_area_one(hypothesis):
    values = level_density(hypothesis, LEVELS, EXPECTED, FIT, SETTING)[0]
    # "Anywhere" is near the level or anywhere on the burette; the lattice here goes a little further.
    near = sum(share for share, _ in NEAR)
    most = near + (1 - near) * 65 / 50 if hypothesis.shape == "anywhere" else 1
    assert np.trapezoid(values, LEVELS[0]) == pytest.approx(most, rel=0.01)


def test_the_level_of_another_pipette_is_in_proportion():
    values = level_density(BY_NAME["wrong-aliquot"], LEVELS, EXPECTED, FIT, SETTING)[0]
    assert values[np.abs(LEVELS[0] - 24.35 * 20 / 25) < 0.01].min() > 0.3
    assert values[np.abs(LEVELS[0] - 24.35) < 0.01].max() < 1e-3


def test_the_right_pipette_is_no_other_pipette():
    assert all(abs(ratio - 1) > 0.01 for ratio, _ in other_pipettes(25.0))
    assert other_pipettes(None) == []


def test_how_uncertain_the_level_of_a_class_is_does_not_grow_with_how_far_students_differ():
    sure, unsure = Fit(0.04, 0.005, 0.0, 0.0), Fit(0.04, 0.005, 0.0, 0.012)
    assert sure.spread(EXPECTED, 2.5) == pytest.approx(24.35 * 0.0125)
    assert unsure.spread(EXPECTED, 2.5) == pytest.approx(24.35 * np.hypot(0.0125, 0.012))


def test_a_class_that_lies_off_moves_every_level_with_it():
    moved = Fit(0.04, 0.005, 0.02, 0.001)
    peak = LEVELS[0][level_density(BY_NAME["ordinary work"], LEVELS, EXPECTED, moved, SETTING)[0].argmax()]
    assert peak == pytest.approx(24.35 * 1.02, abs=0.01)
