"""A habit of the class: many well above the expected titre, and hardly anyone below."""

from __future__ import annotations

import numpy as np
import pytest

from labmark.judge.classwide import class_habit
from labmark.records import Finding

NOBODY = [[] for _ in range(28)]


def away(high=0, low=0):
    """28 students within a drop of the expected titre, but for some 0.4 to 0.9 cm³ above and some as far below."""
    off = np.tile([-0.05, 0.0, 0.05, 0.1], 7)
    off[:high] = np.linspace(0.4, 0.9, high)
    off[28 - low :] = -np.linspace(0.4, 0.9, low)
    return off


def students(found):
    return [(each.evidence["finding"], each.evidence["students"], each.evidence["as_far_below"]) for each in found]


def test_half_a_class_past_the_endpoint_is_a_habit():
    found = class_habit(away(high=15), NOBODY, 28)
    assert students(found) == [("always-overshoots", 15, 0)]
    assert found[0].finding == "common-fault"
    assert found[0].evidence["p"] == pytest.approx(0.5**15)
    assert "15 of 28 students" in found[0].message
    assert "weaker than its label" in found[0].message


@pytest.mark.parametrize(
    ("high", "low"),
    [(0, 0), (6, 0), (12, 7), (0, 15)],
    ids=["nobody off", "fewer than a quarter", "scattered on both sides", "low, which is no overshooting"],
)
def test_what_is_no_habit_is_not_called_one(high, low):
    assert class_habit(away(high, low), NOBODY, 28) == []


def test_students_without_a_mean_titre_count_on_neither_side():
    off = away(high=15)
    off[20:] = np.nan
    assert students(class_habit(off, NOBODY, 28)) == [("always-overshoots", 15, 0)]


def test_a_titre_far_beyond_any_overshoot_does_not_count():
    off = away(high=7)
    off[:7] = 6.0
    assert class_habit(off, NOBODY, 28) == []


def test_who_is_explained_otherwise_does_not_count():
    diluted = [[Finding("diluted-titrant", "", "fault")] if place < 10 else [] for place in range(28)]
    assert class_habit(away(high=15), diluted, 28) == []


def test_honest_classes_are_not_said_to_have_a_habit():
    rng = np.random.default_rng(3)
    # A spread of 1 % between students, twice the usual, and a class that lies a drop high.
    assert sum(bool(class_habit(rng.normal(0.05, 0.25, 28), NOBODY, 28)) for _ in range(1000)) <= 10
