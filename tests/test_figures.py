"""Decimals that can be seen in a number."""

from decimal import Decimal as D

import pytest

from labmark.figures import visible_decimals


@pytest.mark.parametrize(
    ("written", "decimals"),
    [
        ("24.35", 2),
        ("24.30", 1),
        ("24.00", 0),
        ("24", 0),
        ("20", 0),
        ("2E+1", 0),
        ("0", 0),
        ("0.00", 0),
        ("-0.050", 2),
        ("0." + "9" * 40 + "0", 40),
        ("NaN", 0),
    ],
)
def test_trailing_zeros_are_left_out(written: str, decimals: int) -> None:
    assert visible_decimals(D(written)) == decimals
