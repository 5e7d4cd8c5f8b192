"""Slips in the subtraction behind a written titre."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.diagnose.working_titres import titre_slip


def kind(initial: float, final: float, written: float) -> str | None:
    """Return the kind of slip for readings in cm³ with two decimals."""
    slip = titre_slip(*(round(reading * 100) * 10 for reading in (initial, final, written)))
    return slip.kind if slip else None


@pytest.mark.parametrize(
    ("initial", "final", "written", "expected"),
    [
        (12.90, 36.35, 23.45, None),
        (1.80, 32.10, 21.30, "transposed reading"),
        (21.30, 36.35, 24.05, "transposed reading"),
        (12.10, 36.35, 23.25, "whole-number slip"),
        (12.10, 36.35, 34.25, "whole-number slip"),
        (12.10, 36.35, 24.35, "tenth slip"),
        (12.90, 36.35, 24.45, "borrowed digit"),  # the 1 borrowed for the tenths never taken from the cm³
        (12.95, 36.10, 24.85, "borrowed digit"),  # always the smaller digit from the larger
        (12.95, 36.10, 23.25, "borrowed digit"),
        (12.10, 36.35, 24.52, "transposed digits"),
        (12.10, 36.35, 42.25, "transposed digits"),
        (12.10, 36.35, 48.45, "added instead of subtracted"),
        (12.10, 36.35, 36.35, "final reading copied"),
        (12.10, 36.35, 12.10, "initial reading copied"),
        (12.10, 36.35, 24.28, "one digit wrong"),
        (12.10, 36.35, 19.83, "other"),
    ],
)
def test_each_kind_of_slip_is_named(initial: float, final: float, written: float, expected: str | None) -> None:
    assert kind(initial, final, written) == expected


@pytest.mark.parametrize(("written", "out"), [(24_350, "0.10"), (23_250, "1.00"), (34_250, "10.00")])
def test_it_is_said_how_far_a_titre_is_out(written: int, out: str) -> None:
    slip = titre_slip(12_100, 36_350, written)
    assert slip is not None
    assert slip.words == f"it is out by {out} cm³"


@given(st.integers(0, 50000), st.integers(0, 50000))
def test_a_right_subtraction_is_no_slip(initial: int, final: int) -> None:
    assert titre_slip(initial, final, final - initial) is None


@given(st.integers(0, 50000), st.integers(0, 50000), st.integers(0, 50000))
def test_every_other_number_is_some_slip(initial: int, final: int, written: int) -> None:
    assert (titre_slip(initial, final, written) is None) == (written == final - initial)
