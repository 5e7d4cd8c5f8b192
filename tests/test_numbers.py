"""Figures for people: rounding, signs, words. The expected texts are worked by hand."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.outputs import numbers
from labmark.words import counted, listed, of_run, run_called


@pytest.mark.parametrize(
    ("value", "figures", "text"),
    [
        (0.10123, 3, "0.101"),
        (0.09996, 3, "0.100"),
        (0.0996, 3, "0.0996"),
        (1234.0, 3, "1230"),
        (9996.0, 3, "10000"),
        (106.07, 4, "106.1"),
        (0.125, 2, "0.13"),
        (-0.42, 1, "−0.4"),
        (0, 3, "0.00"),
        (1.234e-6, 3, "1.23 × 10⁻⁶"),
        (9.996e-6, 3, "1.00 × 10⁻⁵"),
        (2.5e8, 2, "2.5 × 10⁸"),
    ],
)
def test_a_figure_is_shown_to_its_significant_figures(value: float, figures: int, text: str) -> None:
    assert numbers.significant(value, figures) == text


def test_a_result_is_shown_to_the_second_figure_of_its_uncertainty() -> None:
    assert numbers.with_uncertainty(0.101123, 0.000618) == ("0.10112", "0.00062")
    assert numbers.with_uncertainty(106.07, 1.45) == ("106.1", "1.5")
    assert numbers.with_uncertainty(1060.7, 145.0) == ("1060", "150")


def test_a_result_without_an_uncertainty_shows_four_figures() -> None:
    assert numbers.with_uncertainty(0.1011234, None) == ("0.1011", numbers.NOTHING)
    assert numbers.with_uncertainty(0.1011234, 0.0) == ("0.1011", numbers.NOTHING)


def test_an_uncertainty_that_rounds_up_keeps_two_figures() -> None:
    assert numbers.uncertainty(0.000996) == "0.0010"


def test_a_volume_keeps_the_digits_that_were_written() -> None:
    assert numbers.volume(Decimal("24.90")) == "24.90"
    assert numbers.volume(Decimal("24.9")) == "24.9"
    assert numbers.volume(Decimal("-0.05")) == "−0.05"
    assert numbers.volume(24.9) == "24.90"


@pytest.mark.parametrize("value", [None, float("nan"), float("inf")])
def test_nothing_to_show_is_a_dash(value: float | None) -> None:
    shown = (numbers.volume(value), numbers.significant(value, 3), numbers.percent(value), numbers.mark(value))
    assert set(shown) == {numbers.NOTHING}


def test_a_difference_carries_its_sign_unless_it_rounds_to_zero() -> None:
    assert [numbers.percent(value) for value in (0.44, -0.44, 0.04, -0.04)] == ["+0.4 %", "−0.4 %", "0.0 %", "0.0 %"]


def test_a_probability_is_given_in_words_and_as_a_figure() -> None:
    assert numbers.probability(0.93) == "very likely (93 %)"
    assert numbers.probability(0.58) == "about as likely as not (58 %)"
    assert numbers.probability(None) == ""


def test_what_is_not_certain_never_reads_as_certain() -> None:
    assert numbers.share(0.9999) == "over 99 %"
    assert numbers.share(0.0001) == "under 1 %"
    assert numbers.share(1.0) == "100 %"
    assert numbers.probability(1.0) == "virtually certain (over 99 %)"


def test_marks_have_no_needless_decimals() -> None:
    assert [numbers.mark(value) for value in (9, 9.5, 10.0, 11.727, 0)] == ["9", "9.5", "10", "11.73", "0"]


def test_things_are_counted_and_listed_as_in_a_sentence() -> None:
    assert [counted(n, "student") for n in (0, 1, 2)] == ["0 students", "1 student", "2 students"]
    assert [listed(words) for words in ([], ["1"], ["1", "2"], ["1", "2", "3"])] == [
        "",
        "1",
        "1 and 2",
        "1, 2 and 3",
    ]


@given(st.floats(1e-3, 1e6), st.integers(1, 6))
def test_a_shown_figure_is_never_off_by_more_than_half_its_last_place(value: float, figures: int) -> None:
    text = numbers.significant(value, figures)
    half = Decimal(1).scaleb(-numbers.places(value, figures)) / 2
    assert abs(Decimal(text) - Decimal(repr(value))) <= half


@given(st.floats(0, 1))
def test_a_higher_probability_never_gets_a_weaker_word(value: float) -> None:
    words = [word for _, word in numbers.LIKELIHOOD]
    assert words.index(numbers.in_words(value)) >= words.index(numbers.in_words(min(1.0, value + 0.05)))


@pytest.mark.parametrize(
    ("label", "called", "of"),
    [
        ("2", "run 2", " of run 2"),
        ("Rough", "rough", " of the rough"),
        ("Rough 2", "rough 2", " of the rough 2"),
        ("total rough", "total rough", " of the total rough"),
        ("total 1", "total 1", " of run total 1"),
    ],
)
def test_a_run_is_called_the_same_wherever_it_is_named(label, called, of):
    assert (run_called(label), of_run(label)) == (called, of)
