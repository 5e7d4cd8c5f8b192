"""Exact volumes, the digits that were written, and significant figures."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.exact import (
    apart,
    as_written,
    both_roundings,
    in_figures,
    microlitres,
    plain,
    round_fraction,
    shown,
    significant,
    visible_decimals,
)


@pytest.mark.parametrize(("text", "expected"), [("22.50", 22500), ("0", 0), ("22.505", 22505), ("-0.05", -50)])
def test_a_volume_is_whole_microlitres(text, expected):
    assert microlitres(Decimal(text)) == expected


def test_a_volume_that_is_no_whole_number_of_microlitres_is_refused():
    with pytest.raises(ValueError, match=r"22\.50055 cm³ is not a whole number of microlitres"):
        microlitres(Decimal("22.50055"))


@given(st.integers(0, 60000), st.integers(0, 3))
def test_a_volume_shown_and_read_again_is_the_same(volume, decimals):
    assert microlitres(shown(volume, decimals)) == volume


def test_a_volume_is_shown_with_the_decimals_that_were_written():
    assert [str(shown(24500, decimals)) for decimals in (None, 1, 2, 3)] == ["24.50", "24.5", "24.50", "24.500"]


def test_no_digit_is_hidden():
    assert str(shown(24375, 2)) == "24.375"


# IS 2:1960, examples to the rule for rounding off; ISO 80000-1:2009, Annex B for the ties (from memory).
@pytest.mark.parametrize(
    ("value", "decimals", "to_even", "up"),
    [
        ("12.25", 1, "12.2", "12.3"),
        ("12.35", 1, "12.4", "12.4"),
        ("12.251", 1, "12.3", "12.3"),
        ("4.36", 0, "4", "4"),
        ("9.625", 0, "10", "10"),
        ("0.3552", 2, "0.36", "0.36"),
        ("12.545001", 2, "12.55", "12.55"),
    ],
)
def test_both_rules_of_rounding(value, decimals, to_even, up):
    assert round_fraction(Fraction(value), decimals, half_even=True) == Decimal(to_even)
    assert round_fraction(Fraction(value), decimals) == Decimal(up)
    assert both_roundings(Fraction(value), decimals) == {Decimal(to_even), Decimal(up)}


def test_a_tie_below_zero_rounds_away_from_zero():
    assert round_fraction(Fraction("-2.5"), 0) == Decimal(-3)


@pytest.mark.parametrize(
    ("value", "figures", "text"),
    [
        ("0.0974", 3, "0.0974"),
        ("0.09996", 3, "0.100"),
        ("9.996", 3, "10.0"),
        ("0.00012175", 4, "1.218 × 10⁻⁴"),
        ("258.4", 3, "258"),
        ("258.4", 2, "260"),
        ("0", 3, "0.00"),
        ("0.001", 2, "0.0010"),
        ("0.000996", 2, "0.0010"),
        ("99999", 5, "99999"),
        ("-73330", 3, "−73300"),
        ("-0.00012175", 4, "−1.218 × 10⁻⁴"),
        ("99999", 3, "1.00 × 10⁵"),
    ],
)
def test_significant_figures_as_printed(value, figures, text):
    assert in_figures(Fraction(value), figures) == text


@given(st.fractions(min_value=Fraction(1, 10**6), max_value=10**6), st.integers(1, 6))
def test_rounding_to_figures_moves_a_value_by_at_most_half_a_unit_of_the_last(value, figures):
    rounded = significant(value, figures)
    assert len(rounded.as_tuple().digits) <= figures
    assert abs(Fraction(rounded) - value) <= Fraction(10) ** int(rounded.as_tuple().exponent) / 2


def test_plain_numbers_lose_trailing_zeros_only():
    assert [plain(Fraction(text)) for text in ("2", "0.5", "1/3", "100")] == ["2", "0.5", "0.3333", "100"]


def test_written_digits_are_given_back():
    assert str(as_written(Decimal("0.1"), 3)) == "0.100"
    assert str(as_written(Decimal("0.1"), None)) == "0.1"


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
    assert visible_decimals(Decimal(written)) == decimals


def test_a_distance_has_a_third_decimal_sooner_than_the_titres_a_fourth():
    assert apart(Fraction("23.975"), Fraction("23.9502")).words() == "0.025 cm³ above the expected 23.950 cm³"


@pytest.mark.parametrize(
    ("titre", "said"),
    [
        ("20.60", "0.30 cm³ (1.5 %) above the expected 20.30 cm³"),  # 0.2954 of 20.3046: 1.455 %
        ("20.3833", "0.08 cm³ (0.4 %) above the expected 20.30 cm³"),
        ("20.509", "0.20 cm³ (1.01 %) above the expected 20.3046 cm³"),  # on the far side of 1 %, and seen to be
    ],
)
def test_a_distance_in_per_cent_has_no_more_figures_than_it_takes(titre, said):
    limits = (Fraction(1), Fraction(2), Fraction(3))
    assert apart(Fraction(titre), Fraction(2) / Fraction("0.0985"), (), limits).words(percent=True) == said
