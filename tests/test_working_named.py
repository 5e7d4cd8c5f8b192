"""Which slips are named for a written result, in which order, and how the sum is shown."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal as D
from fractions import Fraction as F

import pytest

from labmark.diagnose.working import result_slips
from labmark.diagnose.working_calculation import calculation
from labmark.diagnose.working_shown import printed_sum, value_text
from labmark.diagnose.working_slips import Slip
from labmark.diagnose.working_sums import steps
from labmark.diagnose.working_titres import is_last_figure_out
from labmark.practicals import named
from labmark.words import told
from tests.calculations import Calculation, slips_behind
from tests.practicals import EGGSHELLS, practical

ALKALI = Calculation("amount concentration", F("0.05"), F(25), coefficient_unknown=2, known="H2SO4", unknown="NaOH",
                     unit="mol/dm³")  # fmt: skip
VINEGAR = Calculation("mass", F("0.105"), F(20), molar_mass=F("60.052"), sample_mass=F("3.5"),
                      sample_made_up_to=F(500), unit="g")  # fmt: skip
CARBONATE = Calculation("percent by mass", F("0.1"), F(25), coefficient_known=2, molar_mass=F("105.98754"),
                        sample_mass=F("1.52"), sample_made_up_to=F(250), unit="%")  # fmt: skip
MOLAR = Calculation("molar mass", F("0.1"), F(25), known_in="flask", coefficient_known=2,
                    sample_mass=F("1.29"), sample_made_up_to=F(250), unit="g/mol")  # fmt: skip
SODA = Calculation("water of crystallisation", F("0.1"), F(25), coefficient_known=2, molar_mass=F("105.988"),
                   sample_mass=F("3.25"), sample_made_up_to=F(250))  # fmt: skip
SALT = Calculation("mass concentration", F("0.05"), F(20), molar_mass=F("58.44"), dilution=(F(10), F(100)),
                   accepted_molar_masses=(F(58), F("58.5")), unit="g/dm³")  # fmt: skip
PEROXIDE = Calculation("percent mass by volume", F("0.02"), F(25), coefficient_known=2, coefficient_unknown=5,
                       molar_mass=F("34.014"), dilution=(F(5), F(250)), unit="%")  # fmt: skip


def slips(calc: Calculation, mean: str, written: str, **titres: str) -> list[Slip]:
    places = len(written.partition(".")[2])
    own = {label.removeprefix("run"): F(value) for label, value in titres.items()}
    return slips_behind(calc, mean=F(mean), claimed=D(written), decimals=places, titres=own)


def causes(found: list[Slip]) -> list[tuple[str, str]]:
    return [(slip.finding, slip.cause) for slip in found]


@pytest.mark.parametrize(
    ("written", "size"),
    [
        ("0.253", "10.00"),  # 0.0500 × 25.33 × 2 ÷ 10.00; also the ratio upside down and a decimal point one place out
        ("0.127", "20.00"),
    ],
)
def test_another_pipettes_volume_goes_before_two_slips_together(written: str, size: str) -> None:
    found = slips(ALKALI, "25.33", written)
    assert causes(found) == [("result-slip", "another pipette’s volume taken")]
    assert told(found[0].message).startswith(
        f"Taking {size} cm³ instead of 25.00 cm³ for the pipette gives 0.0500 × 25.33 "
    )


def test_a_mass_in_1_dm3_is_no_percentage() -> None:
    # 0.1 × 20.00 ÷ 25.00 × 60 = 4.80 g in 1 dm³, which is 0.480 %
    vinegar = replace(Calculation("percent mass by volume", F("0.1"), F(25), molar_mass=F(60)), unit="%")
    found = slips(vinegar, "20.00", "4.80")
    assert causes(found) == [("result-slip", "per dm³ instead of per 100 cm³")]
    assert " = 4.80, which is what" in found[0].message


def test_a_result_twice_as_large_is_not_put_down_to_half_a_pipette() -> None:
    # 0.0500 × 23.67 ÷ 20.00 × 10 × 58.44 = 34.58: any 2 in the sum gives 69.2, as a pipette of 10 cm³ does
    (slip,) = slips(SALT, "23.67", "69.2")
    assert "Was 2 taken in place of 1 in the mole ratio?" in slip.message


@pytest.mark.parametrize("size", [25, 50])
def test_any_pipette_but_one_of_half_or_twice_its_size_may_be_taken_for_one_of_20(size: int) -> None:
    # 0.05 × 23.67 ÷ 20 × 10 × 58.44 = 34.58
    (slip,) = slips(SALT, "23.67", f"{34.58 * 20 / size:.1f}")
    assert slip.cause == "another pipette’s volume taken"
    assert told(slip.message).startswith(f"Taking {size}.00 cm³ instead of 20.00 cm³ for the pipette gives ")


def test_a_result_ten_times_as_large_is_a_decimal_point_and_no_pipette() -> None:
    # 0.0100 × 22.60 ÷ 100.0 = 0.00226
    water = Calculation("amount concentration", F("0.01"), F(100), known_text="0.0100")
    assert causes(slips(water, "22.60", "0.0226")) == [("result-slip", "decimal point one place out")]


def test_two_usual_slips_that_give_the_same_are_weighed_against_a_rare_one() -> None:
    # 0.1 × 24.20 ÷ 2 ÷ 10 × 250 ÷ 25 = 1.21: with 25 for 10 cm³ it is 0.484, and so it is with the ratio upside down
    # (× 4) and the dilution left out (÷ 10)
    dilute = Calculation("amount concentration", F("0.1"), F(10), coefficient_known=2, dilution=(F(25), F(250)))
    (slip,) = slips(dilute, "24.20", "0.484")
    assert slip.cause == "another pipette’s volume taken"
    assert 0.5 < (slip.probability or 0) < 0.9


# --- the sum as it was written ---------------------------------------------------------------------------------------


def test_a_value_whose_last_zeros_hold_a_place_is_shown_as_it_was_written() -> None:
    # 0.105 × 26.17 × 500 ÷ 20 × 60.052 = 4125.35
    (slip,) = slips(VINEGAR, "26.17", "4130")
    assert "= 4125 g, that is 4130 to three figures, which is what you wrote" in told(slip.message)
    assert "= 4125 g, which is what you wrote" in told(slips(VINEGAR, "26.17", "4125")[0].message)


def test_a_value_to_too_few_figures_is_shown_to_those_asked_for_and_as_it_was_written() -> None:
    # 0.0500 × 24.20 × 2 ÷ 25.00 × 1000 = 96.8
    found = slips(ALKALI, "24.20", "100")
    assert [slip.finding for slip in found] == ["volume-units", "rounding"]
    assert "= 96.8 mol/dm³, that is 100 to one figure, which is what you wrote" in told(found[0].message)


def test_a_value_that_fits_to_the_digit_comes_before_one_that_takes_zeros_for_no_figures() -> None:
    # 0.0500 × 25.10 × 2 ÷ 25.00 × 1000 = 100.4: the rough, and cm³ for dm³
    found = slips(ALKALI, "24.53", "100", Rough="25.10", run1="24.50", run2="24.55")
    assert {slip.finding for slip in found} == {"rough-in-result", "volume-units"}


def test_a_very_large_value_is_shown_by_its_figures() -> None:
    assert value_text(F("82384393.2"), -5) == "8.24 × 10⁷"


def test_the_printed_figures_give_the_printed_value() -> None:
    # A mean of 20.8625 cm³ printed as 20.863 would give 0.09586; a molar mass of 105.988 would give 82000885.
    flask = Calculation("amount concentration", F("0.1"), F(20), known_in="flask", known_text="0.1000")
    assert printed_sum(steps(flask), F("20.8625"), F(2) / F("20.8625"), 5) == "0.1000 × 20.00 ÷ 20.8625"


def test_the_concentration_keeps_the_digits_that_the_practical_gives_it() -> None:
    calc = Calculation("amount concentration", F("0.1"), F(25), coefficient_unknown=2, known_text="0.1000")
    assert slips(calc, "24.53", "0.0981")[0].working == "0.1000 × 24.53 ÷ 25.00 = 0.0981"


def test_the_right_sum_of_a_value_that_nothing_explains_is_shown_to_the_figures_asked_for() -> None:
    (slip,) = slips(MOLAR, "25.82", "131.24")
    assert "= 107 g/mol, but you wrote 131.24" in told(slip.message)


# --- what is named ---------------------------------------------------------------------------------------------------


def test_a_slip_is_less_sure_where_the_value_lies_near_the_right_one_or_a_digit_away() -> None:
    # 0.0500 × 24.35 × 2 ÷ 25 = 0.0974; of the roughs 24.85 and 25.20, 0.0994 (one digit) and 0.1008. 0.0487 is far off.
    odds = [
        slips(ALKALI, "24.35", "0.0994", Rough="24.85", run1="24.35")[0].probability or 0,
        slips(ALKALI, "24.35", "0.1008", Rough="25.20", run1="24.35")[0].probability or 0,
        slips(ALKALI, "24.35", "0.0487", Rough="24.85", run1="24.35")[0].probability or 0,
    ]
    assert odds == sorted(odds)
    assert odds[0] < 0.99 < odds[1]


def test_a_value_rounded_to_one_figure_on_the_way_is_no_sure_cause_of_one_near_the_right() -> None:
    # 0.00244 mol as 0.002 gives 0.0800: so may much else, and few students keep one figure of three.
    (slip,) = slips(ALKALI, "24.35", "0.0800")
    assert slip.finding == "rounding"
    assert (slip.probability or 0) < 0.99


def test_of_slips_that_give_the_very_digits_the_likelier_is_named_and_the_other_listed() -> None:
    # Rough: 0.0500 × 25.50 × 2 ÷ 25.00 = 0.1020; swapped: 0.0500 × 25.00 × 2 ÷ 24.53 = 0.1019
    found = slips(ALKALI, "24.53", "0.102", Rough="25.50", run1="24.50", run2="24.60")
    assert [slip.finding for slip in found] == ["rough-in-result"]
    assert found[0].also == ("titre and aliquot swapped",)


@pytest.mark.parametrize(("calc", "mean", "written"), [(SODA, "22.75", "9.89"), (VINEGAR, "9.58", "1.15")])
def test_two_digits_swapped_come_before_values_rounded_on_the_way(calc: Calculation, mean: str, written: str) -> None:
    found = slips(calc, mean, written, Rough="23.15", run1="22.75", run2="22.70", run3="22.80")
    assert causes(found) == [("result-slip", "two digits swapped")]


def test_a_power_of_ten_is_no_swap_of_a_digit_with_the_nought_before_it() -> None:
    # 0.0500 × 22.50 × 2 ÷ 25.00 = 0.0900
    assert causes(slips(ALKALI, "22.50", "0.900"))[0] == ("result-slip", "decimal point one place out")


def test_one_run_with_the_molar_mass_of_the_practical_comes_before_the_rough_with_another() -> None:
    # 0.05 × 24.40 ÷ 20 × 10 × 58.44 = 35.65; the rough of 24.55 gives 35.87, and 35.60 with 58.0
    found = slips(SALT, "23.67", "35.6", Rough="24.55", run1="23.70", run2="24.36", run3="23.60")
    assert causes(found) == [("result-slip", "one titre used instead of the mean")]
    assert found[0].also == ("the rough titre used",)


def test_of_two_pairs_that_give_the_same_one_is_named_and_the_other_listed() -> None:
    # 2 : 5 left out and the 50-fold dilution the wrong way: 6250 times too small; so is 2 : 5 upside down over 1000.
    found = slips(PEROXIDE, "18.32", "0.000997")
    named = {slip.finding for slip in found}
    listed = {each for slip in found for each in slip.also}
    assert {"ratio-ignored", "dilution-ignored"} <= named
    assert "mole ratio upside down together with divided by 1000 one time too many" in listed
    assert [slip.slips for slip in found] == 2 * [("mole ratio left out", "dilution factor the wrong way round")]


@pytest.mark.parametrize(
    ("calc", "mean", "written", "cause"),
    [
        (MOLAR, "25.82", "10.7", "decimal point one place out"),
        (CARBONATE, "23.57", "822", "decimal point one place out"),
        (VINEGAR, "26.17", "41.3", "decimal point one place out"),
        (SODA, "22.75", "99.8", "decimal point one place out"),
    ],
)
def test_a_decimal_point_out_is_named_for_every_quantity(
    calc: Calculation, mean: str, written: str, cause: str
) -> None:
    assert causes(slips(calc, mean, written)) == [("result-slip", cause)]


@pytest.mark.parametrize(
    ("calc", "mean", "written", "words"),
    [
        # 0.0500 × 24.20 × 2 ÷ 25.00 = 0.0968, and half as much again with a ratio of 3
        (ALKALI, "24.20", "0.145", "Was 3 taken in place of 2 in the mole ratio? That would give it."),
        # 0.05 × 23.67 ÷ 20 × 10 × 58.44 = 34.58; 74.5 g/mol is that of KCl, 86.45 that of a 250 cm³ flask
        (SALT, "23.67", "44.1", "Was the molar mass 74.5 g/mol in place of 58.44 g/mol? That would give it."),
        (SALT, "23.67", "86.5", "Were 250 cm³ taken in place of 100.00 cm³? That would give it."),
        # 0.1 × 24.31 ÷ 1000 ÷ 2 × 10 × 105.98754 ÷ 1.52 × 100 = 84.8; 1.56 g for 1.52 makes it 82.6
        (
            CARBONATE,
            "24.31",
            "82.6",
            "Was the mass 1.56 g in place of 1.52 g or the molar mass 103 g/mol in place "
            "of 105.988 g/mol? Either would give it.",
        ),
    ],
)
def test_a_result_that_no_slip_explains_is_said_with_what_it_would_take(calc, mean: str, written: str, words: str):
    (slip,) = slips(calc, mean, written)
    assert slip.cause == "no usual slip gives this value"
    assert words in told(slip.message)


def test_a_mass_that_is_the_same_to_the_figures_shown_is_not_asked_about() -> None:
    # 0.1 × 24.31 ÷ 1000 ÷ 2 × 10 × 105.98754 ÷ 1.52 × 100 = 84.7552
    (slip,) = result_slips(CARBONATE, mean=F("24.31"), claimed=D("84.7531"), decimals=4, titres={})
    assert "in place of" not in told(slip.message)


def test_a_wrong_result_is_quoted_with_the_zeros_that_were_written() -> None:
    # 0.0500 × 24.20 × 2 ÷ 25.00 = 0.0968
    (slip,) = slips(ALKALI, "24.20", "93.0")
    assert slip.cause == "no usual slip gives this value"
    assert "but you wrote 93.0; " in told(slip.message)


def test_the_concentration_on_the_label_may_be_taken_for_the_one_that_was_given() -> None:
    # 0.105 × 24.00 ÷ 1000 × 25 × 60.052 = 3.78, and 0.1 for 0.105 makes it 3.60.
    (slip,) = slips(VINEGAR, "24.00", "3.60")
    assert slip.cause == "concentration rounded"
    assert told(slip.message).startswith("Taking 0.1 mol/dm³ for 0.105 mol/dm³ gives 0.1 × 24.00 ")


def test_the_mass_of_one_element_may_be_taken_for_that_of_the_substance() -> None:
    # 2.195 ÷ 1000 mol left make (0.05 − 0.02195) ÷ 2 × 40.078 ÷ 1.5 × 100 = 37.5 % of calcium.
    calc = calculation(practical(EGGSHELLS))
    first, *_ = slips(calc, "21.95", "37.5")
    assert first.message.startswith("Taking the molar mass of Ca gives ")


def test_half_of_a_result_is_not_put_down_to_a_portion_and_a_decimal_point() -> None:
    # 0.0500 × 20.00 ÷ 50 × 58.44 = 1.1688; half of it is what is in 50 cm³, times ten.
    half = Calculation("mass concentration", F("0.05"), F(50), molar_mass=F("58.44"), unit="g/dm³")
    (slip,) = slips(half, "20.00", "0.584")
    assert "portion" not in slip.cause
    assert "Was 2 taken in place of 1 in the mole ratio?" in told(slip.message)


def test_a_number_that_gives_the_value_from_the_mean_before_it_was_rounded_is_asked_about() -> None:
    # 0.0500 × 20.1667 ÷ 25 × 58.44 ÷ 2 = 1.1785, and 1.1787 from 20.17.
    half = Calculation(
        "mass concentration", F("0.05"), F(25), molar_mass=F("58.44"), unit="g/dm³", significant_figures=5
    )
    more = {"claimed": D("1.1785"), "decimals": 4, "other_means": (F(121, 6),)}
    (slip,) = slips_behind(half, mean=F("20.17"), **more)
    assert "Was 2 taken in place of 1 in the mole ratio?" in slip.message


def test_a_result_ten_times_too_small_is_not_put_down_to_the_mass_of_water() -> None:
    # 180.159 g/mol are ten times 18.015 but for the last figure: 300 mg of aspirin, 30.0 mg written.
    (slip,) = slips(calculation(named("aspirin-tablets")), "16.70", "30.0")
    assert slip.cause == "decimal point one place out"
    assert "H₂O" not in slip.message


def test_a_result_far_off_is_not_put_down_to_a_molar_mass() -> None:
    (slip,) = slips(SALT, "23.67", "115.9")
    assert told(slip.message).endswith("no usual slip gives that value.")


def test_a_percentage_by_mass_may_be_reckoned_with_1_dm3() -> None:
    # 1 : 5 and 250 cm³: 0.02 × 22.88 ÷ 1000 × 5 × 1000 ÷ 25 × 55.845 ÷ 8.5 × 100 = 60.1
    iron = Calculation("percent by mass", F("0.02"), F(25), coefficient_unknown=5, molar_mass=F("55.845"),
                       sample_mass=F("8.5"), sample_made_up_to=F(250))  # fmt: skip
    assert causes(slips(iron, "22.88", "60.1")) == [("result-slip", "per dm³ instead of per flask")]
    # 2 : 1 upside down and 1 dm³ for 250 cm³ make the same four: the second is told beside the first.
    (slip,) = slips(CARBONATE, "23.57", "329")
    assert (slip.finding, slip.also) == ("ratio-inverted", ("per dm³ instead of per flask",))


def test_a_rounding_is_not_named_beside_what_explains_the_value_better() -> None:
    # The rough gives 0.0500 × 24.00 × 2 ÷ 25.00 = 0.0960; so does the amount of 0.0012175 mol taken for 0.0012 mol.
    (slip,) = slips(ALKALI, "24.35", "0.0960", Rough="24.00", run1="24.30", run2="24.40")
    assert slip.finding == "rough-in-result"
    assert "rounded too early" in slip.also
    (alone,) = slips(ALKALI, "24.35", "0.0960", Rough="24.90", run1="24.30", run2="24.40")
    assert alone.cause == "rounded too early"


def test_a_mean_rounded_to_a_whole_before_going_on_is_a_rounding() -> None:
    # 0.055 × 25 × 2 ÷ 27 × 39.997 = 4.07
    alkali = Calculation("mass concentration", F("0.055"), F(25), known_in="flask", coefficient_unknown=2,
                         molar_mass=F("39.997"))  # fmt: skip
    (slip,) = slips(alkali, "27.32", "4.07", Rough="28.15", run1="27.35", run2="27.25", run3="27.35")
    assert (slip.finding, slip.cause) == ("rounding", "rounded too early")
    assert slip.message.startswith("Rounding the mean titre to 27 cm³ before going on gives")


# --- the words -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "written", "decimals", "how"),
    [
        (F("106.38"), F(105), 0, ""),
        (F("0.11149"), F("0.110"), 3, ""),
        (F("106.58"), F(106), 0, "cut"),
        (F("0.0974"), F("0.098"), 3, "up"),
    ],
)
def test_a_last_figure_is_cut_off_only_where_cutting_gives_it(value: F, written: F, decimals: int, how: str) -> None:
    assert is_last_figure_out(value, written, decimals) == how


def test_a_value_that_only_another_order_leads_to_is_not_called_by_the_name_of_a_step() -> None:
    # 0.1 × 22.37 ÷ 25 = 0.08948 stands before the ratio of 2 : 1: it is not the concentration of the acid.
    acid = Calculation("amount concentration", F("0.1"), F(25), coefficient_known=2, unknown="H2SO4")
    (slip,) = slips(acid, "22.37", "0.0450")
    assert "value on the way to 0.089 (2 significant figures)" in slip.message


def test_a_value_rounded_too_early_has_its_unit() -> None:
    # 0.1 × 25 ÷ 1000 ÷ 2 ÷ 25.77 = 0.0000485 mol/cm³, which is 0.0485 mol/dm³
    (slip,) = slips(MOLAR, "25.77", "105")
    assert slip.message.startswith("Rounding the concentration of the solution to 0.049 mol/dm³ (2 significant")
