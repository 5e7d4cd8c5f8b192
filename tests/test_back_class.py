"""A class that does a back titration: what it is held against, its uncertainty, and its slips in the working."""

from decimal import Decimal
from fractions import Fraction
from math import sqrt

import numpy as np
import pytest
from uncertainties import ufloat

from labmark.diagnose.working_calculation import calculation
from labmark.judge.bench import _setting
from labmark.judge.uncertainty import Behind, budgets, school_percents
from labmark.practical.equation import molar_mass_uncertainty
from labmark.practical.kinds import formula_of
from labmark.problems import InputError
from tests.calculations import slips_behind
from tests.classes import scattered, titres, tree_of
from tests.practicals import ACID, AMMONIA, CHALK, EGGSHELLS, back, practical


def test_the_expected_titre_and_the_bands_come_through_the_falling_curve():
    # By hand: 93.2 % of 1.500 g is 13.968 mmol, 27.935 mmol of acid; 50.0 − 27.935 = 22.065 mmol left, a tenth of it ÷ 0.1.
    tree = tree_of([titres("22.05", "22.10"), titres("21.05", "21.10")], text=EGGSHELLS)
    near, low = tree["students"]
    assert tree["class"]["expected_titre"] == pytest.approx(22.06)
    assert abs(near["percent_error"]) < 0.2
    assert low["percent_error"] > 3
    assert low["z"] > 3
    best = tree["class"]["bands"][0]
    assert best["low"] < 93.2 < best["high"]
    assert best["high"] - best["low"] == pytest.approx(2 * 0.20 * 3.3362, rel=1e-3)


def test_a_mean_at_the_blank_titre_gives_no_result_and_says_why():
    blank = titres("50.00", "50.00", mean=Decimal("50.00"), result=Decimal("0.1"))
    tree = tree_of([*scattered(8, centre=22.1), blank], text=EGGSHELLS)
    student = tree["students"][-1]
    assert student["result"] is None
    assert student["steps"] == []
    assert "impossible-result" in [each["finding"] for each in student["findings"]]
    (cause,) = [each for each in student["feedback"]["causes"] if "without any sample" in each]
    assert "The mean titre of 50.00 cm³ is not below 50.00 cm³, which the reagent takes without any sample" in cause
    assert student["feedback"]["summary"].startswith("Your mean titre of 50.00 cm³ does not lead to a result")


@pytest.mark.slow
@pytest.mark.parametrize(("written", "cannot_be"), [("932", False), ("1080", True)])
def test_all_of_a_sample_is_1000_mg_in_1_g(written, cannot_be):
    per_gram = EGGSHELLS.replace('by mass"', 'by mass"\nunit = "mg/g"').replace("93.2", "932")
    own = titres("22.05", "22.10", mean=Decimal("22.08"), result=Decimal(written))
    found = [each["finding"] for each in tree_of([own], text=per_gram)["students"][0]["findings"]]
    assert ("impossible-result" in found) == cannot_be


@pytest.mark.parametrize(("written", "mark"), [("0.00", 2), ("12.5", 0)])
def test_a_result_of_nothing_follows_from_a_mean_at_the_blank_titre(written, mark):
    own = {"mean": Decimal("50.00"), "mean_decimals": 2, "result": Decimal(written), "result_decimals": 2}
    cells = {"mean": "Results!X2", "result": "Results!Y2"}
    student = tree_of([titres("50.00", "50.00", cells=cells, **own)], text=EGGSHELLS)["students"][0]
    marks = {each["criterion"]: each for each in student["marks"]}
    assert marks["calculation"]["mark"] == mark
    if not mark:
        assert marks["calculation"]["reason"] == (
            "The mean titre is not below the blank titre, so nothing is left for the sample."
        )


def test_a_reference_that_needs_more_reagent_than_was_added_is_refused():
    with pytest.raises(InputError, match="no titre gives the reference 99: the reagent added is too little"):
        tree_of([titres("22.05", "22.10")], ("1.500", "3.000"), ("93.2", "99.0"), text=EGGSHELLS)


def test_a_bottle_of_stronger_sample_shows_as_a_higher_result_and_a_smaller_titre():
    students = scattered(
        24, centre=lambda place: 22.1 if place % 3 else 21.3, groups=lambda place: {"Bench": "2" if place % 3 else "1"}
    )
    tree = tree_of(students, text=EGGSHELLS)
    shifts = [each for each in tree["class"]["findings"] if each["finding"] == "group-shift"]
    assert [each["evidence"]["group"] for each in shifts] == ["Bench 1"]
    assert "higher than the others:" in shifts[0]["message"]
    assert shifts[0]["evidence"]["effect_titre"] < 0


@pytest.mark.slow
def test_a_smaller_pipette_for_the_sample_is_named_where_it_raises_the_titre():
    # Expected: 5.00 − 22.0 ÷ 17.031 ÷ 12.5 × 25.0 = 2.417 mmol left, 24.17 cm³; a 20 cm³ pipette takes a fifth less of
    # the 25.83 cm³ that the sample takes off the blank titre: 29.33 cm³.
    odd = titres("29.30", "29.35", "29.35")
    tree = tree_of([*scattered(20, centre=24.17), odd], text=AMMONIA)
    (found,) = [each for each in tree["students"][-1]["findings"] if each["level"] != "note"]
    assert found["finding"] == "wrong-aliquot"
    assert found["evidence"]["pipette"] == pytest.approx(20.0, abs=0.3)


def test_a_weaker_titrant_raises_every_titre_and_lowers_the_result():
    tree = tree_of([*scattered(20, centre=22.06), titres("23.15", "23.20", "23.15")], text=EGGSHELLS)
    student = tree["students"][-1]
    assert [each["finding"] for each in student["findings"] if each["level"] != "note"] == ["diluted-titrant"]
    assert student["percent_error"] < -3


# --- slips in the working ---

SLIPS = [
    # At 22.00 cm³: 50.0 mmol added, 2.20 mmol left in the portion, 22.0 in all, 28.0 reacted, 14.0 mmol of CaCO3 of
    # 100.086 g/mol in 1.500 g; right is 93.4.
    (EGGSHELLS, "73.4", "difference-forgotten"),  # 22.0 ÷ 2
    (EGGSHELLS, "167", "difference-forgotten"),  # 50.0 ÷ 2
    (EGGSHELLS, "-93.4", "result-slip"),  # 22.0 − 50.0
    (EGGSHELLS, "159", "dilution-ignored"),  # (50.0 − 2.20) ÷ 2
    (EGGSHELLS, "1590", "dilution-ignored"),  # (50.0 − 2.20) × 10 ÷ 2
    (EGGSHELLS, "187", "ratio-ignored"),
    (EGGSHELLS, "374", "ratio-inverted"),
    (EGGSHELLS, "0.0934", "volume-units"),
    (EGGSHELLS, "92.1", "rough-in-result"),  # 22.40
    # At 22.00 cm³: 5.00 mmol added, 1.10 mmol of Na2CO3, 2.20 of HCl left, 2.80 reacted in 25.0 cm³, 0.112 mol/dm³;
    # × 12.5 × 17.031; right is 23.8.
    (AMMONIA, "18.7", "difference-forgotten"),
    (AMMONIA, "33.2", "ratio-ignored"),  # 5.00 − 1.10
    (AMMONIA, "37.9", "ratio-inverted"),  # 5.00 − 0.55
    (AMMONIA, "1.91", "dilution-ignored"),
    (AMMONIA, "23800", "volume-units"),
    (AMMONIA, "24.2", "volumes-swapped"),  # (5.00 − 0.0500 × 25.0 × 2) ÷ 22.00
]


@pytest.mark.slow
@pytest.mark.parametrize(("text", "written", "finding"), SLIPS)
def test_a_slip_in_a_back_titration_is_named(text, written, finding):
    found = slips_behind(
        calculation(practical(text)),
        mean=Fraction(22),
        claimed=Decimal(written),
        decimals=len(written.partition(".")[2]),
        titres={"Rough": Fraction("22.40"), "1": Fraction(22)},
    )
    assert found[0].finding == finding, found


def test_a_difference_the_wrong_way_round_is_named_with_the_sum():
    (slip,) = slips_behind(calculation(practical(AMMONIA)), mean=Fraction(22), claimed=Decimal("-23.8"), decimals=1)
    assert (slip.finding, slip.cause) == ("result-slip", "difference taken the wrong way round")
    sum_of = "(0.0500 × 22.00 × 2 − 5.00) ÷ 25.00 × 250.00 ÷ 20.00 × 17.031 = −23.8 g/dm³"
    assert slip.message.startswith(f"Taking a difference the wrong way round gives {sum_of}, which is what ")


def test_the_message_of_a_forgotten_difference_shows_the_sum():
    (slip,) = slips_behind(calculation(practical(AMMONIA)), mean=Fraction(22), claimed=Decimal("18.7"), decimals=1)
    assert slip.message.startswith(
        "Using what was left over instead of what was used up gives 0.0500 × 22.00 × 2 ÷ 25.00 × 250.00 ÷ 20.00 × 17.031"
    )


@pytest.mark.parametrize(
    ("written", "decimals"),
    [("93.4", 1), ("93.41", 2), ("93", 0), ("93.3", 1)],  # 93.3 with 100 g/mol, as in school tables
)
def test_right_results_are_no_slips(written, decimals):
    found = slips_behind(
        calculation(practical(EGGSHELLS)), mean=Fraction(22), claimed=Decimal(written), decimals=decimals
    )
    assert {slip.finding for slip in found} <= {"rounding"}


def test_a_sum_by_volumes_or_by_the_portion_alone_is_as_right():
    # 0.0500 × 23.47 = 1.1735 mmol, 2.347 mmol of acid. By volumes of 0.108 mol/dm³: 2.347 ÷ 0.108 = 21.73, rounded to
    # 21.7; 50.0 − 21.7 = 28.3 cm³, 3.0564 mmol; ÷ 25.0 × 12.5 × 17.031 = 26.03. Unrounded: 26.00.
    calc = calculation(practical(AMMONIA, ("concentration = 0.100\n", "concentration = 0.108\n")))
    assert slips_behind(calc, mean=Fraction("23.47"), claimed=Decimal("26.03"), decimals=2) == []
    # Shells in 200 cm³, 22.0 cm³: in the portion 6.25 − 2.20 = 4.05 mmol; × 8 = 32.4; ÷ 2 × 100.1 ÷ 1500 = 108.1.
    calc = calculation(practical(EGGSHELLS, ("made_up_to = 250.0", "made_up_to = 200.0")))
    assert slips_behind(calc, mean=Fraction(22), claimed=Decimal("108.1"), decimals=1) == []


# --- uncertainty ---


TWO_RUNS = {"titre": np.array([22.0])}


def setting_of_bench(made):
    return _setting(made, formula_of(made), doubtful=False)


def _behind(text):
    made = practical(text)
    return Behind(made, formula_of(made), None)


def test_the_budget_is_that_of_the_whole_sum_whole_sample():
    # The same sum once more, written out and propagated by the `uncertainties` package. Class B: burette 0.10, pipettes
    # 0.06 and 0.10, flask 0.30 cm³, triangular; two readings of ± 0.05 and a drop of 0.05 cm³ as in `Titres`.
    text = EGGSHELLS.replace("0.1000\n", "0.1000\nstandard_uncertainty = 0.0003\n").replace(
        "1.000\n", "1.000\nstandard_uncertainty = 0.002\n"
    )
    text = text.replace("mass = 1.500", "mass = 1.500\nstandard_uncertainty = 0.002")
    found = budgets(_behind(text), TWO_RUNS, np.array([2.0])).of(0)
    titre = ufloat(22, sqrt((0.10**2 + 0.05**2) / 6 + (2 * 0.05**2 / 3 + 0.025**2 / 3) / 2))
    left = ufloat(0.1, 0.0003) * titre * ufloat(250, 0.30 / sqrt(6)) / ufloat(25, 0.06 / sqrt(6))
    added = ufloat(1, 0.002) * ufloat(50, 0.10 / sqrt(6))
    mass = ufloat(100.086, molar_mass_uncertainty(practical(text).unknown.atoms))
    sum_ = (added - left) / 1000 / 2 * mass / ufloat(1.5, 0.002) * 100
    assert found.value == pytest.approx(sum_.nominal_value)
    assert found.standard_uncertainty == pytest.approx(sum_.std_dev, rel=1e-6)


def test_the_budget_is_that_of_the_whole_sum_portions():
    found = budgets(_behind(AMMONIA), TWO_RUNS, np.array([2.0])).of(0)
    titre = ufloat(22, sqrt((0.10**2 + 0.05**2) / 6 + (2 * 0.05**2 / 3 + 0.025**2 / 3) / 2))
    reacted = 0.1 * ufloat(50, 0.10 / sqrt(6)) - 2 * 0.05 * titre
    factor = ufloat(250, 0.30 / sqrt(6)) / ufloat(20, 0.06 / sqrt(6))
    mass = ufloat(17.031, molar_mass_uncertainty(practical(AMMONIA).unknown.atoms))
    sum_ = reacted / ufloat(25, 0.06 / sqrt(6)) * factor * mass
    assert found.value == pytest.approx(sum_.nominal_value)
    assert found.standard_uncertainty == pytest.approx(sum_.std_dev, rel=1e-6)


def test_the_school_way_adds_what_is_left_and_what_was_added_across_the_subtraction():
    # By hand: left 22.0 mmol ± (0.20 ÷ 22 + 0.06 ÷ 25 + 0.30 ÷ 250 = 1.2691 %) = 0.2792; added 50.0 mmol ± 0.10 ÷ 50 =
    # 0.1000; together 0.3792 of 28.0 mmol, 1.354 %.
    found = school_percents(_behind(EGGSHELLS), {"titre": np.array([22.0, 50.0, np.nan])})
    assert found[0] == pytest.approx(1.354, abs=0.001)
    assert np.isnan(found[1:]).all()
    # Portions: left 2.20 mmol ± 0.9091 % = 0.0200; added 5.00 ± 0.2 % = 0.0100; 0.0300 of 2.80, 1.071 %; pipette 0.06 ÷
    # 25, dilution 0.06 ÷ 20 and 0.30 ÷ 250: 0.66 % more.
    assert school_percents(_behind(AMMONIA), TWO_RUNS)[0] == pytest.approx(1.071 + 0.66, abs=0.001)


def test_all_of_a_mixture_counts_its_one_pipette_once_beside_what_was_added():
    made = back(
        ACID, ("NaOH", "0.250"), ("HCl", "0.200", "50.0"), CHALK, "CaCO3", sample="mass = 0.125", quantity="mass"
    )
    found = budgets(Behind(made, formula_of(made), None), {"titre": np.array([32.0])}, np.array([2.0])).of(0)
    (pipette,) = [row for row in found.rows if row["source"].startswith("pipette")]
    # 10.0 mmol added, 8.0 left: 0.10 ÷ 50 ÷ √6 counts 10.0 ÷ 2.0 times.
    assert pipette["percent"] == pytest.approx(100 * 0.10 / 50 / sqrt(6) * 5)


def test_the_bench_knows_the_blank_titre_where_the_pipette_holds_the_sample():
    whole, portion = (setting_of_bench(practical(text)) for text in (EGGSHELLS, AMMONIA))
    assert (whole.aliquot, whole.blank_titre) == (25.0, None)
    assert (portion.aliquot, portion.blank_titre) == (25.0, 50.0)
    every = back(
        ACID, ("NaOH", "0.250"), ("HCl", "0.200", "50.0"), CHALK, "CaCO3", sample="mass = 0.125", quantity="mass"
    )
    assert setting_of_bench(every).aliquot is None
