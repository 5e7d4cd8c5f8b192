"""Slips in the working as findings: each named once, facts without odds, and nobody accused of what is not so."""

import pytest

from labmark.diagnose.working_calculation import calculation
from labmark.diagnose.working_mean_slips import own_mean
from labmark.diagnose.working_slips import Slip
from labmark.judge.case import Claimed
from labmark.judge.own_result import judged_result
from labmark.judge.working import _finding as as_finding
from labmark.judge.working import working_findings
from labmark.practical import practical_from_toml
from labmark.practicals import text_of
from tests.build import run, student
from tests.practicals import EGGSHELLS, practical

AGREEING = (
    run("1", "0.00 25.30", "25.30", tick=True),
    run("2", "0.00 25.35", "25.35", tick=True),
    run("3", "0.00 25.25", "25.25", tick=False),
)


def found(*runs, at_least=2, made=None, **claims):
    one = student(*runs, at_least=at_least, **claims)
    mean = own_mean(one, at_least, 100)
    calc = calculation(made or practical())
    return list(working_findings(Claimed(one, mean, judged_result(one, mean, calc), calc), 100))


def test_right_working_is_no_finding():
    assert found(*AGREEING, mean="25.33", result="0.101") == []


def test_too_few_of_the_runs_that_agree_are_not_called_discordant():
    assert found(*AGREEING, at_least=3, mean="25.33", result="0.101") == []


def test_the_runs_that_should_have_been_kept_are_named():
    runs = (*AGREEING[:2], run("3", "0.00 25.90", "25.90", tick=True))
    (finding,) = found(*runs, mean="25.52", result="0.102")
    assert finding.finding == "discordant-in-mean"
    assert finding.message.endswith("Runs 1 and 2 agree: a mean of these is right.")
    assert finding.evidence["keep"] == ["1", "2"]


def test_a_wrong_mean_is_a_fact_and_has_no_odds():
    (finding,) = found(*AGREEING, mean="26.33", result="0.105")
    assert (finding.finding, finding.level, finding.probability) == ("mean-slip", "fault", None)


def test_a_slip_in_the_result_is_named_with_the_sum_that_shows_it():
    (finding,) = found(*AGREEING, mean="25.33", result="0.0507")
    assert finding.finding == "ratio-ignored"
    assert "0.0507" in finding.message
    assert finding.message.endswith(" The correct working is 0.0500 × 25.33 × 2 ÷ 25.00 = 0.101 mol/dm³.")
    assert finding.probability is not None


def test_the_right_sum_begins_with_the_mean_that_the_wrong_one_begins_with():
    # 24.375 × 0.05 ÷ 25 = 0.04875, which the mean as it was written, 24.40, does not give.
    runs = run("1", "0.00 24.35", "24.35", tick=True), run("2", "0.00 24.40", "24.40", tick=True)
    (finding,) = found(*runs, mean="24.40", result="0.04875")
    assert finding.message.endswith(" The correct working is 0.0500 × 24.375 × 2 ÷ 25.00 = 0.0975 mol/dm³.")


@pytest.mark.parametrize("decimals", [1, None])
def test_a_mean_to_one_decimal_is_rounding_whether_or_not_its_digits_are_known(decimals):
    # (25.35 + 25.35 + 25.30) ÷ 3 = 25.333; nothing is said of how many decimals were written.
    runs = [
        run(str(place), f"0.00 {titre}", titre, tick=True) for place, titre in enumerate(("25.35", "25.35", "25.30"))
    ]
    (finding,) = found(*runs, mean="25.3", mean_decimals=decimals, result="0.101")
    assert (finding.finding, finding.level) == ("rounding", "check")
    assert finding.message == (
        "The mean of 25.35, 25.35, 25.30 is 25.33 cm³; 25.3 is right to one decimal only. A mean titre is given to "
        "0.05 or 0.01 cm³."
    )


def test_a_result_may_follow_from_the_mean_as_it_was_before_it_was_rounded_too_far():
    # 25.333 cm³ gives 0.10133, 25.3 gives 0.1012; to four figures 0.1013 follows from the unrounded mean.
    runs = [
        run(str(place), f"0.00 {titre}", titre, tick=True) for place, titre in enumerate(("25.35", "25.35", "25.30"))
    ]
    assert [each.finding for each in found(*runs, mean="25.3", result="0.1013")] == ["rounding"]


@pytest.mark.parametrize("result", ["0.10", "0.1"])
def test_a_result_with_too_few_figures_is_shown_as_it_should_have_been(result):
    (finding,) = found(*AGREEING, mean="25.33", result=result)
    assert (finding.finding, finding.level) == ("rounding", "check")
    assert finding.message == (f"The result {result} has fewer than the 3 significant figures asked for, as in 0.101.")


def test_a_bare_zero_is_no_right_result_and_nothing_is_said_to_fit_it():
    (finding,) = found(*AGREEING, mean="25.33", result="0")
    assert finding.finding == "result-slip"
    assert finding.message.endswith("no usual slip gives that value.")


@pytest.mark.parametrize(
    ("also", "end"),
    [
        (
            ("decimal point one place out",),
            "wrote. Less likely, but it would fit too: decimal point one place out.",
        ),
        (("mole ratio left out together with too few figures",), "which is what you wrote."),
        ((), "which is what you wrote."),
    ],
)
def test_a_less_likely_slip_that_fits_as_well_is_named_unless_it_takes_two_at_once(also, end):
    slip = Slip(
        "dilution-ignored",
        "dilution left out",
        "calculation",
        "It gives 0.5, which is what you wrote.",
        also=also,
        slips=("dilution left out",),
    )
    made = as_finding(slip, ())
    assert made.message.endswith(end)
    assert made.evidence["also_fits"] == list(also)


def test_a_rough_given_instead_of_a_mean_is_said_to_be_that():
    rough = run("Rough", "0.00 25.90", "25.90", tick=False)
    (finding,) = found(rough, *AGREEING, mean="25.90", result="0.104")
    assert finding.finding == "mean-slip"
    assert "That is the rough titre alone" in finding.message


UNTICKED = (
    run("1", "0.00 24.60", "24.60"),
    run("2", "0.00 24.60", "24.60"),
    run("3", "0.00 24.65", "24.65"),
)


def test_a_mean_of_some_of_the_runs_that_agree_is_a_note_where_no_run_is_ticked():
    (finding,) = found(*UNTICKED, mean="24.65", result="0.0986")
    assert (finding.finding, finding.level, finding.evidence["cause"]) == ("mean-slip", "note", "a run left out")
    assert finding.message == (
        "24.65 cm³ is the mean of only runs 1 and 3 (or that of run 3 alone). "
        "Runs 1, 2 and 3 agree: the mean of all of them is 24.62 cm³."
    )


def test_of_a_mean_that_may_take_in_a_run_without_a_titre_nothing_is_said_of_runs_left_out():
    unread = run("4", "0.00 -", odd={"final": "24.5o"})
    assert [each.finding for each in found(*UNTICKED, unread, mean="24.58", result="0.0983")] == []


def test_a_mean_that_fits_all_the_runs_that_agree_says_nothing_about_any_left_out():
    assert found(*UNTICKED, mean="24.62", result="0.0985") == []


def test_a_run_whose_written_titre_does_not_agree_was_rightly_left_out_of_a_mean():
    runs = (*UNTICKED[:2], run("3", "0.00 24.65", "23.65"))
    assert found(*runs, mean="24.60", result="0.0984") == []


def test_a_result_may_rest_on_the_mean_of_two_of_three_runs_that_agree():
    # By hand: (20.30 + 20.35) ÷ 2 = 20.325, written 20.33; 0.1000 × 20.0 ÷ 20.325 = 0.09840, and 0.09838 from 20.33.
    made = practical_from_toml(text_of("standardise-sodium-hydroxide"))
    runs = (run("1", "0.00 20.30"), run("2", "0.00 20.35"), run("3", "0.00 20.35"))
    assert found(*runs, at_least=3, made=made, mean="20.33", result="0.09840") == []


def test_either_of_two_pairs_that_are_equally_close_may_be_taken_where_none_agrees():
    runs = (
        run("1", "0.00 25.05", "25.05", tick=True),
        run("2", "0.00 25.20", "25.20", tick=True),
        run("3", "0.00 25.35", "25.35", tick=False),
    )
    assert found(*runs, mean="25.13", result="0.101") == []
    later = (
        run("1", "0.00 25.05", "25.05", tick=False),
        run("2", "0.00 25.20", "25.20", tick=True),
        run("3", "0.00 25.35", "25.35", tick=True),
    )
    assert found(*later, mean="25.28", result="0.101") == []


def test_a_discordant_run_that_gives_the_very_mean_is_named_before_a_rough_that_gives_it_to_a_twentieth():
    runs = (
        run("Rough", "0.00 26.05", "26.05", tick=False),
        run("1", "0.00 25.25", "25.25", tick=True),
        run("2", "0.00 25.30", "25.30", tick=True),
        run("3", "0.00 26.10", "26.10", tick=False),
    )
    assert [each.finding for each in found(*runs, mean="25.55", result="0.102")] == ["discordant-in-mean"]


# 50.0 cm³ of 1.00 mol/dm³ acid on 1.500 g of shells, made up to 250 cm³: 22.05 cm³ of 0.100 mol/dm³ for 25.0 cm³ of it
# leave 27.95 mmol reacted, 93.2 % of CaCO3.
def impossible(titre, result, *, mean="", expanded=0.0):
    runs = [run(label, f"0.00 {titre}", titre) for label in "12"]
    one, calc = student(*runs, mean=mean or titre, result=result), calculation(practical(EGGSHELLS))
    mean = own_mean(one, 2, 100)
    return list(working_findings(Claimed(one, mean, judged_result(one, mean, calc), calc), 100, lambda: expanded))


def test_more_than_a_hundred_per_cent_cannot_be_even_where_it_follows_from_the_mean():
    (found,) = impossible("17.50", "108")
    assert (found.finding, found.level) == ("impossible-result", "check")
    assert found.message.startswith("A result of 108 % cannot be: no sample is more than 100 % of one substance.")
    assert found.evidence["criterion"] is None


def test_beside_a_result_that_cannot_be_and_that_nothing_explains_stands_the_right_sum():
    # By hand: (50.0 − 22.05) ÷ 2 = 13.975 mmol, × 100.086 = 1.3987 g of 1.500: 93.2 %.
    (found,) = impossible("22.05", "117")
    assert " of one substance. The correct working is (0.0500 − " in found.message
    assert found.message.endswith("÷ 2 × 100.086 ÷ 1.50 × 100 = 93.2 %.")


@pytest.mark.slow
def test_what_it_is_expressed_as_may_be_more_than_the_sample_where_the_reference_is():
    # 1.500 g of CaCO3 are 2.430 g of Ca(HCO3)2 (M 162.11, abridged weights), 162.0 % of it.
    expressed = ("[result]", '[result]\nexpressed_as = "1 Ca(HCO3)2"')
    assert calculation(practical(EGGSHELLS, expressed)).most == 100
    made = calculation(practical(EGGSHELLS, expressed, ("value = 93.2", "value = 151.0")))
    assert float(made.most) == pytest.approx(161.97, abs=0.01)
    runs = [run(label, "0.00 17.50", "17.50") for label in "12"]

    def said(result):
        one = student(*runs, mean="17.50", result=result)
        mean = own_mean(one, 2, 100)
        found = working_findings(Claimed(one, mean, judged_result(one, mean, made), made), 100, lambda: 0.0)
        return [each.message for each in found if each.finding == "impossible-result"]

    assert said("150") == []
    (beyond,) = said("175")
    assert beyond.startswith("A result of 175 % cannot be: no sample holds more than 162.0 % of it.")


def test_less_than_nothing_may_follow_from_a_mean_whose_digits_are_swapped():
    # 52.25 for 25.25: (50.0 - 52.25) / 2 x 100.086 / 1500 x 100 = -7.51
    found = impossible("25.25", "-7.51", mean="52.25")
    assert [each.finding for each in found] == ["mean-slip", "impossible-result"]


def test_little_more_than_a_hundred_per_cent_may_be_the_uncertainty():
    assert impossible("20.01", "100", expanded=0.8) == []
    assert impossible("19.80", "101", expanded=0.8)[0].finding == "impossible-result"
    assert impossible("19.80", "101", expanded=1.2) == []


def test_an_impossible_result_by_a_slip_that_is_known_is_both():
    assert [each.finding for each in impossible("22.05", "186")] == ["impossible-result", "ratio-ignored"]


def test_a_difference_the_wrong_way_round_is_both_impossible_and_named():
    impossible_one, named = impossible("22.05", "-93.2")
    assert (impossible_one.finding, named.finding) == ("impossible-result", "result-slip")
    assert named.message.startswith("Taking a difference the wrong way round gives ")
    assert "Go through the steps" not in impossible_one.message
    assert impossible_one.message.startswith("A result of −93.2 % cannot be")  # with a minus sign, as in the sum
    assert " = −93.2 %, which is what" in named.message


@pytest.mark.parametrize("result", ["-55.5", "-7.77"])
def test_a_result_below_zero_that_nothing_explains_is_impossible_and_no_more(result):
    (found,) = impossible("22.05", result)
    assert found.finding == "impossible-result"
    assert (found.evidence["criterion"], found.evidence["slips"]) == ("calculation", [])


def test_readings_above_the_titre_without_a_sample_give_no_result():
    (found,) = impossible("50.00", "93.2")
    assert found.finding == "impossible-result"
    assert "not below 50.00 cm³, which the reagent takes without any sample" in found.message


@pytest.mark.parametrize(
    ("written", "unit"),
    [
        ("4.05", "g/dm3"),  # 0.1013 mol/dm³ × 40.0 g/mol
        ("4.053", "g/dm3"),  # with 40.00
        ("0.101", "g/dm3"),  # the number asked for, with a unit that is a slip of the pen
    ],
)
def test_a_right_value_of_another_quantity_of_the_substance_is_right(written, unit):
    one = student(*AGREEING, mean="25.33", result=written, result_unit=unit)
    mean, calc = own_mean(one, 2, 100), calculation(practical())
    result = judged_result(one, mean, calc)
    assert result.right
    assert list(working_findings(Claimed(one, mean, result, calc), 100)) == []


def test_a_slip_in_another_quantity_of_the_substance_is_named_in_its_unit():
    (finding,) = found(*AGREEING, mean="25.33", result="2.03", result_unit="g/dm3")
    assert finding.finding == "ratio-ignored"
    assert finding.message.endswith("= 4.05 g/dm³.")


def test_a_percentage_may_be_given_in_mol_in_a_gram():
    # 93.2 % of 100.09 g/mol is 0.00932 mol in a gram.
    runs = [run(label, "0.00 22.05", "22.05") for label in "12"]
    one, calc = student(*runs, mean="22.05", result="0.00932", result_unit="mol/g"), calculation(practical(EGGSHELLS))
    assert judged_result(one, own_mean(one, 2, 100), calc).right


@pytest.mark.parametrize(
    ("name", "titre", "written", "unit"),
    [
        # 0.00500 × 23.20 ÷ 1000 × 5 × 10 ÷ 5 mol of iron in a tablet.
        ("iron-tablets", "23.20", "0.00116", "mol"),
        # (37.50 − 23.80) × 0.500 ÷ 1000 ÷ 2.000 mol of alkali for a gram of oil.
        ("saponification-value", "23.80", "0.00343", "mol/g"),
    ],
)
def test_an_amount_may_be_given_for_one_tablet_or_one_gram(name, titre, written, unit):
    given = text_of(name).replace('{ column = "Mass" }', "2.000")
    runs = [run(label, f"0.00 {titre}", titre) for label in "12"]
    one = student(*runs, mean=titre, result=written, result_unit=unit)
    assert judged_result(one, own_mean(one, 2, 100), calculation(practical_from_toml(given, name))).right


def test_water_that_the_reagents_pushed_out_may_be_left_out_of_account():
    # 0.00500 × 20.90 ÷ 4 ÷ 100 × 32.00 × 1000 = 8.36 mg/dm³; with × 125 ÷ 123 it is 8.50.
    calc = calculation(practical_from_toml(text_of("dissolved-oxygen"), "dissolved-oxygen"))
    one = student(*(run(label, "0.00 20.90", "20.90") for label in "12"), mean="20.90", result="8.36")
    mean = own_mean(one, 2, 100)
    (finding,) = working_findings(Claimed(one, mean, judged_result(one, mean, calc), calc), 100)
    assert finding.finding == "result-slip"
    assert finding.message.startswith("Leaving out of account the water that the reagents pushed out gives ")
    assert finding.evidence["slips"] == ["water pushed out by the reagents left out of account"]


def test_the_molar_volume_at_room_temperature_is_named_where_another_is_meant():
    # 0.0200 × 35.70 × 5 ÷ 2 ÷ 25.0 × 25 ÷ 2 = 0.8925 mol/dm³ of oxygen: × 22.4 is 20.0, and × 24 is 21.4.
    calc = calculation(practical_from_toml(text_of("hydrogen-peroxide"), "hydrogen-peroxide"))
    one = student(*(run(label, "0.00 35.70", "35.70") for label in "12"), mean="35.70", result="21.4")
    mean = own_mean(one, 2, 100)
    (finding,) = working_findings(Claimed(one, mean, judged_result(one, mean, calc), calc), 100)
    assert finding.evidence["slips"] == ["the molar volume at room temperature taken"]
    assert "÷ 2 × 24 = 21.4, which is what " in finding.message


def test_a_unit_that_says_nothing_of_the_quantity_is_not_the_unit_of_what_was_expected():
    one = student(*AGREEING, mean="25.33", result="0.0507", result_unit="mol/g")
    assert judged_result(one, own_mean(one, 2, 100), calculation(practical())).unit == ""


def test_of_a_mean_that_is_not_that_of_the_runs_ticked_it_is_not_said_that_it_takes_them_in():
    runs = (run("Rough", "0.00 26.10", "26.10", tick=True), *AGREEING[:2])
    selection, mean = found(*runs, mean="29.99", result="0.120")
    assert (selection.finding, mean.finding) == ("rough-in-mean", "mean-slip")
    assert selection.message.startswith("The rough is among the runs ticked (26.10, 25.30, 25.35).")


def test_that_the_rough_is_in_a_mean_has_odds_unless_it_is_ticked():
    titres = (("Rough", "26.10"), ("1", "25.30"), ("2", "25.35"))
    (guessed,) = found(*(run(label, f"0.00 {titre}", titre) for label, titre in titres), mean="25.58", result="0.102")
    runs = (run(label, f"0.00 {titre}", titre, tick=True) for label, titre in titres)
    (ticked,) = found(*runs, mean="25.58", result="0.102")
    assert guessed.finding == ticked.finding == "rough-in-mean"
    assert ticked.probability is None
    assert 0.9 < guessed.probability < 1


def test_a_mean_cut_off_is_not_called_that_of_some_of_the_runs():
    runs = [run(label, f"0.00 {titre}", titre) for label, titre in zip("1234", ("21.75", "21.80") * 2, strict=True)]
    assert [each for each in found(*runs, mean="21.77") if each.finding == "mean-slip"] == []


def test_a_rough_in_the_mean_that_agrees_is_not_said_to_disagree():
    # 25.40, 25.30 and 25.35 lie within 0.10; the rough is left out all the same.
    runs = (run("Rough", "0.00 25.40", "25.40", tick=True), *AGREEING[:2])
    (finding,) = found(*runs, mean="25.35", result="0.101")
    assert finding.finding == "rough-in-mean"
    assert finding.message.endswith("(25.40, 25.30, 25.35). Runs 1 and 2 agree: a mean of these is right.")
