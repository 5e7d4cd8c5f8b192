"""Where marks stand on a number line, and what the axis says."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.outputs.number_line import Axis, levels, window

values = st.floats(-1e3, 1e3).map(lambda value: round(value, 2))


def test_a_value_outside_the_window_is_drawn_at_its_edge():
    axis = Axis(24.0, 25.0)
    assert [(axis.place(value), axis.side(value)) for value in (24.25, 34.3, 14.3)] == [
        (0.25, ""),
        (1.0, "right"),
        (0.0, "left"),
    ]


def test_the_numbers_on_the_axis_are_round_and_evenly_spaced():
    assert [tick["label"] for tick in Axis(24.26, 25.34).ticks()] == ["24.4", "24.6", "24.8", "25.0", "25.2"]
    assert [tick["label"] for tick in Axis(0.0965, 0.1021).ticks()] == [
        "0.097", "0.098", "0.099", "0.100", "0.101", "0.102",
    ]  # fmt: skip
    assert [tick["label"] for tick in Axis(0.0, 100.0).ticks()] == ["0", "20", "40", "60", "80", "100"]
    assert [tick["label"] for tick in Axis(-0.1, 0.1).ticks(4)] == ["−0.10", "−0.05", "0.00", "0.05", "0.10"]


def test_equal_values_still_have_a_window():
    axis = window([25.30, 25.30], [], smallest=0.5, widest=4.0)
    assert axis.low < 25.05
    assert axis.high > 25.55
    assert axis.place(25.30) == pytest.approx(0.5)


def test_a_far_value_does_not_squeeze_the_others():
    axis = window([24.30, 24.35], [24.90, 34.35], smallest=0.5, widest=4.0)
    assert axis.side(24.90) == ""
    assert axis.side(34.35) == "right"


def test_marks_that_would_overlap_stand_on_different_levels():
    assert levels([(0.0, 0.1), (0.05, 0.2), (0.1, 0.3), (0.15, 0.2)]) == [0, 1, 0, 2]


@given(st.lists(values, min_size=1, max_size=9), st.lists(values, max_size=9))
def test_every_value_of_the_core_is_in_the_window_and_its_axis_has_numbers(core, others):
    axis = window(core, others, smallest=0.5, widest=4.0)
    assert all(axis.side(value) == "" and 0 <= axis.place(value) <= 1 for value in core)
    assert 2 <= len(axis.ticks()) <= 9


@given(st.lists(st.tuples(st.floats(0, 1), st.floats(0.01, 0.3)), max_size=20))
def test_no_two_marks_on_a_level_overlap(marks):
    spans = sorted((start, start + width) for start, width in marks)
    placed = list(zip(levels(spans), spans, strict=True))
    for level in {level for level, _ in placed}:
        row = [span for each, span in placed if each == level]
        assert all(left[1] <= right[0] for left, right in pairwise(row))
