"""A drift or a group: how often each is named for the other, over simulated classes of 24 in four benches."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from labmark.joins.drifting import told_apart
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
