"""Decimals that can be seen in a number."""

from decimal import Decimal as D
from fractions import Fraction as F

import pytest

from labmark.exact import apart, visible_decimals


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


def test_a_distance_has_a_third_decimal_sooner_than_the_titres_a_fourth():
    assert apart(F("23.975"), F("23.9502")).words() == "0.025 cm³ above the expected 23.950 cm³"


@pytest.mark.parametrize(
    ("titre", "said"),
    [
        ("20.60", "0.30 cm³ (1.5 %) above the expected 20.30 cm³"),  # 0.2954 of 20.3046: 1.455 %
        ("20.3833", "0.08 cm³ (0.4 %) above the expected 20.30 cm³"),
        ("20.509", "0.20 cm³ (1.01 %) above the expected 20.3046 cm³"),  # on the far side of 1 %, and seen to be
    ],
)
def test_a_distance_in_per_cent_has_no_more_figures_than_it_takes(titre, said):
    limits = (F(1), F(2), F(3))
    assert apart(F(titre), F(2) / F("0.0985"), (), limits).words(percent=True) == said
