"""When a written result is right: digits written, digits asked for, values rounded on the way."""

from decimal import Decimal as D
from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.diagnose.working_calculation import RIGHT, calculation
from labmark.diagnose.working_right import BY_MASS, bounds, equals, own_reading, reached, readings
from labmark.diagnose.working_routes import Hop, Leg, ends, reachable, routes
from labmark.exact import both_roundings, round_fraction
from labmark.practical import practical_from_toml
from labmark.practicals import text_of
from tests.calculations import Calculation, Excess, slips_behind

PLAIN = Calculation("amount concentration", F("0.05"), F(25), coefficient_unknown=2)
MEAN = F("24.35")  # 0.0974 mol/dm³
VINEGAR = Calculation("mass concentration", F("0.1"), F(25), dilution=(F(25), F(250)), molar_mass=F("60.052"),
                      accepted_molar_masses=(F(60), F("60.1")))  # fmt: skip
WASHING_SODA = Calculation(
    "water of crystallisation", F("0.1"), F(25), coefficient_known=2, molar_mass=F("105.988"),
    accepted_molar_masses=(F(106),), sample_mass=F("1.43"), sample_made_up_to=F(250),
)  # fmt: skip
ANTACID = Calculation(
    "percent by mass", F("0.1"), F(25), coefficient_known=2, known_in="burette", molar_mass=F("100.09"),
    sample_mass=F("1.25"), excess=Excess(F(1), F(50), mixture=F(250)),
)  # fmt: skip


def codes(calc: Calculation, mean: F, claimed: str, decimals: int | None) -> list[str]:
    return [slip.finding for slip in slips_behind(calc, mean=mean, claimed=D(claimed), decimals=decimals)]


def test_a_whole_number_rounded_to_one_figure_is_a_rounding_of_the_result_alone():
    # By hand: 0.0200 × 20.05 ÷ 50.0 × 35.45 × 1000 = 284 mg/dm³; 300 is it to one figure.
    calc = calculation(practical_from_toml(text_of("chloride-with-blank")))
    (slip,) = slips_behind(calc, mean=F("20.20"), claimed=D("300"), decimals=0)
    assert (slip.finding, slip.criterion) == ("rounding", "calculation")
    assert slip.message == "The result 300 has fewer than the 3 significant figures asked for, as in 284."


@pytest.mark.parametrize(
    ("claimed", "decimals"),
    [
        ("0.0974", 4),
        ("0.09740", 5),
        ("0.097400", 6),
        ("0.0974", None),
        ("0.0976", 4),  # 0.0012175 mol carried on as 0.00122 mol
        ("0.09744", 5),  # 0.0012175 mol carried on as 0.001218 mol
    ],
)
def test_the_true_value_is_right_however_it_is_fairly_rounded(claimed: str, decimals: int | None) -> None:
    assert codes(PLAIN, MEAN, claimed, decimals) == []


@pytest.mark.parametrize("calc", [PLAIN, VINEGAR, WASHING_SODA, ANTACID], ids=lambda calc: calc.quantity)
def test_all_that_roundings_lead_to_lies_between_the_bounds(calc: Calculation) -> None:
    places = [*range(len(routes(calc))), *([BY_MASS] if calc.counts_waters else [])]
    for titre in (F("24.35"), F(73, 3), F("9.95"), F("27.15")):
        for place in places:
            least, most, _ = bounds(calc, RIGHT, titre, place)
            found = reached(calc, RIGHT, titre, place)
            assert (least, most) == (min(found), max(found))


def test_nothing_is_known_of_the_ends_where_roundings_lead_to_either_side_of_nothing() -> None:
    # 1.2346 − 1.2347 is below nothing, but above it where the first is rounded to 1.235.
    route = (Leg((Hop("×", D("1.2346")),), 3), Leg((Hop("less", D("1.2347")),), 3))
    assert reachable(route, D(1), 3) > {D("-0.0001"), D("0.0003")}
    with pytest.raises(ZeroDivisionError):
        ends(route, D(1), 3)


def test_a_printed_answer_that_carries_an_intermediate_rounding_is_right() -> None:
    # OpenStax Chemistry 2e, Example 4.14 "Check Your Learning": 20.00 mL oxalic acid, 23.24 mL of 0.09113 M
    # permanganate, 2 : 5. Printed 0.2648 M; unrounded 0.26473.
    calc = Calculation("amount concentration", F("0.09113"), F(20), coefficient_known=2, coefficient_unknown=5,
                       significant_figures=4)  # fmt: skip
    assert codes(calc, F("23.24"), "0.2648", 4) == []
    assert codes(calc, F("23.24"), "0.2647", 4) == []


def test_lost_trailing_zeros_are_given_back_where_the_digits_cannot_be_known() -> None:
    assert codes(PLAIN, F("25"), "0.1", None) == []


def test_a_value_with_too_few_figures_is_rounding_and_costs_the_figures_only() -> None:
    slips = slips_behind(PLAIN, mean=MEAN, claimed=D("0.097"), decimals=3)
    assert [(slip.finding, slip.cause, slip.criterion) for slip in slips] == [
        ("rounding", "too few figures", "figures")
    ]


def test_a_short_value_is_right_at_the_digits_written() -> None:
    assert own_reading(PLAIN, MEAN, D("0.097"), 3).short
    assert own_reading(PLAIN, MEAN, D("0.099"), 3) is None


def test_lost_zeros_do_not_make_a_short_value_whole() -> None:
    assert codes(PLAIN, MEAN, "0.097", None) == ["rounding"]


def test_a_whole_number_is_enough_for_water_of_crystallisation() -> None:
    assert codes(WASHING_SODA, F(10), "10", 0) == []


@pytest.mark.parametrize("claimed", ["9.99", "10.0", "9.992"])
def test_masses_of_salt_and_water_are_a_fair_way_to_the_water(claimed: str) -> None:
    assert codes(WASHING_SODA, F(10), claimed, len(claimed.split(".")[1])) == []


@pytest.mark.parametrize(("claimed", "right"), [("58.49", True), ("58.44", True), ("58.54", True), ("58.31", False)])
def test_molar_masses_as_schools_round_them_are_right(claimed: str, right: bool) -> None:
    # 0.1 × 24.35 ÷ 25.00 × 10 = 0.974 mol/dm³; × 60.052 = 58.49, × 60.0 = 58.44, × 60.1 = 58.54
    assert (codes(VINEGAR, MEAN, claimed, 2) == []) is right


def test_the_unrounded_mean_is_as_good_as_the_written_one() -> None:
    unrounded = F("24.35") + F(1, 300)
    claimed = round_fraction(F("0.1") * unrounded / 25, 6)
    assert slips_behind(PLAIN, mean=MEAN, claimed=claimed, decimals=6) != []
    assert slips_behind(PLAIN, mean=MEAN, claimed=claimed, decimals=6, other_means=(unrounded,)) == []


def test_a_mean_of_nothing_says_nothing() -> None:
    assert slips_behind(PLAIN, mean=F(0), claimed=D("0.1"), decimals=1) == []


def test_trailing_zeros_of_a_whole_number_may_hold_the_place_only() -> None:
    hardness = Calculation("mass concentration", F("0.0109"), F(100), molar_mass=F("100.09"), significant_figures=2)
    # 0.0109 × 23.63 ÷ 100 × 100.09 = 0.2578 g/dm³
    assert codes(hardness, F("23.63"), "0.26", 2) == []
    large = Calculation(
        "percent by mass", F("0.1"), F(25), molar_mass=F(1000), sample_mass=F("0.9"), significant_figures=2
    )
    assert codes(large, F("23.63"), "260", 0) == []


@given(st.fractions(min_value=F(1, 1000), max_value=1000), st.integers(0, 5))
def test_a_value_equals_its_own_roundings_and_no_other(true: F, decimals: int) -> None:
    for rounded in both_roundings(true, decimals):
        assert equals(true, readings(rounded, decimals, 1)[0])
        for apart in (-1, 1):
            other = rounded + apart * D(1).scaleb(-decimals)
            assert equals(true, readings(other, decimals, 1)[0]) == (other in both_roundings(true, decimals))


@given(st.integers(2500, 49999), st.integers(0, 3), st.booleans())
def test_a_result_rounded_straight_is_never_a_slip(titre: int, more: int, known: bool) -> None:
    mean = F(titre, 1000)
    true = F("0.1") * mean / 25
    for claimed in both_roundings(true, 4 + more):
        assert slips_behind(PLAIN, mean=mean, claimed=claimed, decimals=4 + more if known else None) == []


def test_where_an_early_rounding_leaves_nothing_to_divide_by_a_wrong_result_is_a_slip_all_the_same() -> None:
    # By hand: 48.00 cm³ leaves 0.0480 of 0.0500 mol; to one figure that is 0.05, and no amount of the sample is left.
    molar = Calculation(
        "molar mass", F("0.1"), F(25), sample_mass=F("1.25"), excess=Excess(F(1), F(50), mixture=F(250))
    )
    assert codes(molar, F("48.00"), "0.0001", 4) == ["result-slip"]
