"""Slips behind a written result: each found and named, with the sum that shows it."""

from decimal import Decimal as D
from fractions import Fraction as F

import pytest

from labmark.diagnose.working_slips import Slip
from labmark.words import told
from tests.calculations import Calculation, Excess, slips_behind

ALKALI = Calculation("amount concentration", F("0.05"), F(25), coefficient_unknown=2, known="H2SO4", unknown="NaOH")
DILUTED = Calculation("amount concentration", F("0.05"), F(25), coefficient_unknown=2, dilution=(F(10), F(250)))
AS_IT_IS = Calculation("amount concentration", F("0.05"), F(25), dilution=(F(10), F(250)), report_original=False)
VINEGAR = Calculation("mass concentration", F("0.1"), F(25), dilution=(F(25), F(250)), molar_mass=F("60.052"),
                      other_molar_masses=(("NaOH", F("39.997")),))  # fmt: skip
IRON = Calculation("percent by mass", F("0.02"), F(25), coefficient_unknown=5, molar_mass=F("55.845"),
                   sample_mass=F("9.8"), sample_made_up_to=F(250))  # fmt: skip
WASHING_SODA = Calculation(
    "water of crystallisation", F("0.1"), F(25), coefficient_known=2, molar_mass=F("105.988"),
    sample_mass=F("1.43"), sample_made_up_to=F(250),
)  # fmt: skip
CHALK = Calculation("percent by mass", F("0.25"), F(25), coefficient_known=2, molar_mass=F("100.086"),
                    sample_mass=F("0.125"), excess=Excess(F("0.2"), F(50)))  # fmt: skip
TITRES = {"Rough": F("24.90"), "1": F("24.35"), "2": F("24.40"), "3": F("24.30")}
MEAN = F("24.35")


def slips(calc: Calculation, claimed: str, decimals: int | None, mean: F = MEAN) -> list[Slip]:
    return slips_behind(calc, mean=mean, claimed=D(claimed), decimals=decimals, titres=TITRES)


@pytest.mark.parametrize(
    ("calc", "claimed", "decimals", "finding", "cause"),
    [
        (ALKALI, "0.0487", 4, "ratio-ignored", "mole ratio left out"),
        (ALKALI, "0.0244", 4, "ratio-inverted", "mole ratio upside down"),
        (ALKALI, "97.4", 1, "volume-units", "cm³ not turned into dm³ (× 1000)"),
        (ALKALI, "0.0000974", 7, "volume-units", "divided by 1000 one time too many"),
        (ALKALI, "0.103", 3, "volumes-swapped", "titre and aliquot swapped"),
        (ALKALI, "0.0996", 4, "rough-in-result", "the rough titre used"),
        (DILUTED, "0.0974", 4, "dilution-ignored", "dilution factor left out"),
        (DILUTED, "0.00390", 5, "dilution-ignored", "dilution factor the wrong way round"),
        (DILUTED, "0.974", 3, "dilution-ignored", "scaled up by the aliquot instead of the volume diluted"),
        (AS_IT_IS, "1.22", 2, "dilution-ignored", "dilution factor applied where the diluted solution is asked for"),
        (DILUTED, "2.40", 2, "rounding", "rounded too early"),
        (VINEGAR, "39.0", 1, "result-slip", "wrong formula mass"),
        (VINEGAR, "0.974", 3, "result-slip", "molar mass left out"),
        (IRON, "1.39", 2, "dilution-ignored", "per aliquot instead of per flask"),
        (IRON, "721", 0, "result-slip", "percentage the wrong way up"),
        (WASHING_SODA, "15.9", 1, "result-slip", "mass of the anhydrous salt not taken off"),
    ],
)
def test_each_slip_is_found_and_named(calc: Calculation, claimed: str, decimals: int, finding: str, cause: str) -> None:
    mean = F(10) if calc is WASHING_SODA else MEAN
    found = slips(calc, claimed, decimals, mean)
    assert (found[0].finding, found[0].cause) == (finding, cause)
    assert found[0].criterion == "calculation"


def test_a_back_titration_whose_difference_was_forgotten_is_named() -> None:
    found = slips_behind(CHALK, mean=F("32.12"), claimed=D("321"), decimals=0)
    assert [(slip.finding, slip.cause) for slip in found] == [
        ("difference-forgotten", "difference not taken in the back titration")
    ]


def test_the_message_shows_the_sum_that_gives_the_written_value() -> None:
    assert told(slips(ALKALI, "0.0487", 4)[0].message) == (
        "Leaving out the 1 : 2 ratio of H2SO4 to NaOH gives 0.0500 × 24.35 ÷ 25.00 = 0.0487, which is what you wrote."
    )


def test_two_slips_together_are_both_named() -> None:
    found = slips(DILUTED, "0.0487", 4)
    assert [slip.finding for slip in found] == ["ratio-ignored", "dilution-ignored"]
    assert found[0].together_with == ("dilution-ignored",)
    assert found[0].message == found[1].message


def test_a_slip_is_found_behind_values_rounded_on_the_way() -> None:
    # 0.0500 × 24.35 ÷ 1000 = 0.00122 mol; 0.00122 ÷ 25.00 × 1000 = 0.0488
    found = slips(ALKALI, "0.0488", 4)
    assert [slip.finding for slip in found] == ["ratio-ignored"]
    assert "0.0488 with values rounded on the way" in found[0].working


def test_a_ratio_of_one_to_one_cannot_be_left_out() -> None:
    even = Calculation("amount concentration", F("0.1"), F(25))
    assert slips(even, "0.0974", 4) == []


def test_of_slips_that_give_the_same_value_the_likelier_is_named_and_the_other_listed() -> None:
    # 1 : 5 taken upside down makes the result 25 times too small, and so does a 25-fold dilution left out.
    calc = Calculation("amount concentration", F("0.02"), F(25), coefficient_unknown=5, dilution=(F(10), F(250)))
    found = slips(calc, "0.0974", 4)
    assert [slip.finding for slip in found] == ["dilution-ignored"]
    assert found[0].also[0] == "mole ratio upside down"


def test_a_value_that_nothing_explains_is_a_result_slip_with_the_right_sum() -> None:
    found = slips(ALKALI, "0.0811", 4)
    assert [slip.finding for slip in found] == ["result-slip"]
    assert "0.0500 × 24.35 × 2 ÷ 25.00 = 0.0974" in found[0].message
    assert found[0].probability is None


def test_the_rough_and_a_far_fetched_molar_mass_together_are_no_explanation() -> None:
    """0.1 mol/dm³ × 24.90 cm³, times ten, with 142.036 for 180.159 g/mol gives 236 %: so would many a pair."""
    others = (("A", F("98.1")), ("B", F("40.0")), ("C", F("58.44")), ("D", F("142.036")))
    calc = Calculation("percent by mass", F("0.1"), F(25), molar_mass=F("180.159"), other_molar_masses=others,
                       sample_mass=F("1.5"), sample_made_up_to=F(250))  # fmt: skip
    assert [slip.finding for slip in slips(calc, "236", 0)] == ["result-slip"]


def test_swapped_digits_are_a_slip_of_the_pen() -> None:
    found = slips(ALKALI, "0.0947", 4)
    assert [(slip.finding, slip.cause) for slip in found] == [("result-slip", "two digits swapped")]


def test_a_hit_at_few_figures_is_said_to_be_worth_little() -> None:
    sure, doubtful = slips(ALKALI, "0.04870", 5)[0], slips(ALKALI, "0.05", 2)
    assert sure.chance < 0.01
    assert [slip.finding for slip in doubtful] == ["ratio-ignored", "rounding"]
    assert all(slip.chance >= 0.1 and "coincidence" in slip.message for slip in doubtful)


def test_the_figures_behind_the_message_go_into_the_evidence() -> None:
    evidence = slips(ALKALI, "0.0487", 4)[0].evidence()
    assert evidence["working"] == "0.0500 × 24.35 ÷ 25.00 = 0.0487"
    assert evidence["cause"] == "mole ratio left out"
    assert evidence["candidates_tried"] > 10
    assert 0 <= evidence["accidental_hits_expected"] < 0.1


def test_the_same_figures_give_the_same_slips() -> None:
    assert slips(DILUTED, "0.0487", 4) == slips(DILUTED, "0.0487", 4)


@pytest.mark.parametrize("claimed", ["0", "-1", "1000000", "0.000000001"])
def test_any_number_can_be_held_against_the_figures(claimed: str) -> None:
    for calc in (ALKALI, DILUTED, VINEGAR, IRON, WASHING_SODA, CHALK):
        found = slips(calc, claimed, None)
        assert found
        assert all(slip.message for slip in found)
