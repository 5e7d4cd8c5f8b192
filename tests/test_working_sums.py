"""The student's sum as a chain of steps: its value, its printed form, and the wrong ways of doing it."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction as F
from math import prod

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.diagnose.working_calculation import calculation
from labmark.diagnose.working_routes import prefixes, routes, to_decimal
from labmark.diagnose.working_sums import outcome, steps, sum_text
from labmark.diagnose.working_ways import changes
from labmark.exact import magnitude, round_fraction
from labmark.places import practicals_folder
from labmark.practical.several import other_titre
from tests.any_practical import titrations
from tests.calculations import Calculation, Excess, slips_behind
from tests.practicals import DRAIN_CLEANER as PRACTICAL
from tests.practicals import EGGSHELLS, practical
from tests.test_chain import BLEACH

BLANK = PRACTICAL.replace("[result]", "[blank]\ntitre = 0.35\n[result]")
SAVED = EGGSHELLS.replace("[sample]", "[blank]\ntitre = 49.60\n[sample]")
DRAIN_CLEANER = Calculation(
    "amount concentration",
    F("0.05"),
    F(25),
    coefficient_unknown=2,
    dilution=(F(10), F(250)),
    known="H2SO4",
    unknown="NaOH",
)
WASHING_SODA = Calculation(
    "water of crystallisation", F("0.1"), F(25), coefficient_known=2, molar_mass=F("105.988"),
    sample_mass=F("1.43"), sample_made_up_to=F(250),
)  # fmt: skip
CHALK = Calculation(
    "percent by mass", F("0.25"), F(25), coefficient_known=2, molar_mass=F("100.086"), sample_mass=F("0.125"),
    excess=Excess(F("0.2"), F(50)),
)  # fmt: skip


@pytest.mark.parametrize(
    ("calc", "titre", "decimals", "published"),
    [
        # OpenStax Chemistry 2e, section 4.5, Example 4.14: 50.0 mL HCl, 35.23 mL of 0.250 M NaOH.
        (Calculation("amount concentration", F("0.25"), F(50)), "35.23", 3, "0.176"),
        # OpenStax Chemistry 2e, chapter 4, exercise 79: 20.0 mL H2SO4, 1.7 mL of 0.0811 M NaOH, 2 NaOH : 1 H2SO4.
        (Calculation("amount concentration", F("0.0811"), F(20), coefficient_known=2), "1.7", 4, "0.0034"),
        # OpenStax Chemistry 2e, chapter 4, exercise 81: 0.25 mL with 1.46 mL of 8.25e-4 M Hg2+, 1 Hg : 2 Cl.
        (Calculation("amount concentration", F("0.000825"), F("0.25"), coefficient_unknown=2), "1.46", 4, "0.0096"),
        # OpenStax Chemistry 2e, chapter 19, exercise 11: 2.5000 g ore, 19.17 mL of 0.0100 M dichromate, 1 : 6, % Fe
        # (A_r of iron 55.845: IUPAC abridged value).
        (Calculation("percent by mass", F("0.01"), F(25), coefficient_unknown=6, molar_mass=F("55.845"),
                     sample_mass=F("2.5")), "19.17", 2, "2.57"),
        # University of Wisconsin-Eau Claire, Chem 452, "Try this" answers: 35.6 mL acid, 26.3 mL of 0.100 M KOH.
        (Calculation("amount concentration", F("0.1"), F("35.6")), "26.3", 3, "0.074"),
        # D. Harvey, Analytical Chemistry 2.1, chapter 9 (data and answer from memory): salicylic acid, 0.4208 g.
        (Calculation("percent by mass", F("0.1354"), F(25), molar_mass=F("138.12"), sample_mass=F("0.4208")),
         "21.92", 1, "97.4"),
        # D. Harvey, chapter 9 (from memory): 25.00 mL bleach made up to 1000 mL, 25.00 mL taken, 1 OCl- : 2 S2O3 2-,
        # 8.96 mL of 0.09892 M thiosulfate, % w/v NaOCl (M 74.44).
        (Calculation("percent mass by volume", F("0.09892"), F(25), coefficient_known=2, molar_mass=F("74.44"),
                     dilution=(F(25), F(1000))), "8.96", 2, "5.28"),
    ],
)  # fmt: skip
def test_published_titrations_come_out_as_printed(calc: Calculation, titre: str, decimals: int, published: str) -> None:
    assert str(round_fraction(outcome(calc, ()).at(F(titre)), decimals)) == published


def test_a_back_titration_takes_what_was_left_from_what_was_added() -> None:
    # LibreTexts ASDL "Back Titration" activity (question and amounts read, percentage recomputed from them):
    # 0.125 g chalk, 50.0 mL of 0.200 M HCl, 32.12 mL of 0.250 M base; 1.97e-3 mol HCl used up, 78.9 %.
    assert F("0.2") * 50 / 1000 - F("0.25") * F("32.12") / 1000 == F("0.00197")
    assert round_fraction(outcome(CHALK, ()).at(F("32.12")), 1) == round_fraction(F("78.9"), 1)


def test_washing_soda_comes_out_as_a_decahydrate() -> None:
    # Constructed: 1.43 g made up to 250 cm³, 25.0 cm³ need 10.00 cm³ of 0.100 mol/dm³ HCl: 0.005 mol, M = 286.
    assert abs(outcome(WASHING_SODA, ()).at(F(10)) - 10) < F(1, 50)


def test_the_sum_is_printed_with_the_figures_of_the_practical() -> None:
    assert sum_text(steps(DRAIN_CLEANER), F("24.35")) == "0.0500 × 24.35 × 2 ÷ 25.00 × 250.00 ÷ 10.00"


def test_a_difference_is_printed_in_brackets() -> None:
    assert sum_text(steps(CHALK), F("32.12")) == "(0.0100 − 0.250 × 32.12 ÷ 1000) ÷ 2 × 100.086 ÷ 0.125 × 100"


def way(*causes: str) -> tuple:
    """Return the slips of these causes."""
    return tuple(next(each for each in changes() if each.cause == cause) for cause in causes)


LEFT_OUT, UPSIDE_DOWN = "mole ratio left out", "mole ratio upside down"


@pytest.mark.parametrize(
    ("causes", "value"),
    [
        ((), "2.435"),
        ((LEFT_OUT,), "1.2175"),
        ((UPSIDE_DOWN,), "0.60875"),
        (("cm³ not turned into dm³ (× 1000)",), "2435"),
        (("dilution factor left out",), "0.0974"),
        (("dilution factor the wrong way round",), "0.003896"),
        (("scaled up by the aliquot instead of the volume diluted",), "0.974"),
        (("scaled up by the water added",), "2.3376"),
        (("dilution factor applied twice",), "60.875"),
        (("per flask instead of per dm³",), "0.60875"),
        ((LEFT_OUT, "dilution factor left out"), "0.0487"),
    ],
)
def test_each_wrong_way_gives_its_own_value(causes: tuple[str, ...], value: str) -> None:
    assert outcome(DRAIN_CLEANER, way(*causes)).at(F("24.35")) == F(value)


# By hand: 50.0 mmol added; 36.40 cm³ of 0.1 leave 3.64 in 25 of 250 cm³, so 36.4; 13.6 ÷ 2 = 6.8 mmol; × 100 ÷ 1.5 g.
SHELLS = Calculation(
    "percent by mass", F("0.1"), F(25), coefficient_known=2, molar_mass=F(100), sample_mass=F("1.5"),
    excess=Excess(F(1), F(50), mixture=F(250)),
)  # fmt: skip
ACID = Calculation("mass concentration", F("0.1"), F(20), molar_mass=F(60))
ACID_PERCENT = Calculation("percent mass by volume", F("0.1"), F(20), molar_mass=F(60))
# By hand: 2.5 mmol of acid find 1.25 mmol in 25 of 250 cm³, so 12.5 in 3.5 g: 280 g/mol, (280 − 106) ÷ 18.015 = 9.66.
HYDRATE = Calculation(
    "water of crystallisation", F("0.1"), F(25), coefficient_known=2, molar_mass=F(106), sample_mass=F("3.5"),
    sample_made_up_to=F(250),
)  # fmt: skip


@pytest.mark.parametrize(
    ("calc", "titre", "cause", "value"),
    [
        (SHELLS, "36.40", None, 100 * F("0.0068") * 100 / F("1.5")),
        (SHELLS, "36.40", "difference not taken in the back titration", 100 * F("0.0182") * 100 / F("1.5")),
        (SHELLS, "36.40", "what was left not taken off", 100 * F("0.025") * 100 / F("1.5")),
        (SHELLS, "36.40", "portion of the mixture taken for all of it", 100 * F("0.02318") * 100 / F("1.5")),
        (SHELLS, "36.40", "scaled up after the difference instead of before", 100 * F("0.2318") * 100 / F("1.5")),
        (SHELLS, "36.40", "scaled down from aliquot to mixture", 100 * F("0.024818") * 100 / F("1.5")),
        (SHELLS, "36.40", "what was left added instead of taken off", 100 * F("0.0432") * 100 / F("1.5")),
        (SHELLS, "36.40", "mole ratio applied twice", 100 * F("0.0034") * 100 / F("1.5")),
        (SHELLS, "36.40", "titre and aliquot swapped", 100 * (F("0.025") - F("3.125") / 364) * 100 / F("1.5")),
        (SHELLS, "36.40", "percentage the wrong way up", F("1.5") / F("0.68") * 100),
        (SHELLS, "36.40", "not turned into a percentage", F("0.68") / F("1.5")),
        (SHELLS, "36.40", "mass of the sample left out", F(68)),
        # 0.1 mol/dm³ × 25.00 cm³ find 2.5 mmol of 60 g/mol in the flask: 0.15 g.
        (ACID, "25.00", "per portion instead of per dm³", F("0.15")),
        # and so 0.15 g in 20.0 cm³, 0.75 g in 100 cm³ and 0.0075 g in 1 cm³
        (ACID_PERCENT, "25.00", None, F("0.75")),
        (ACID_PERCENT, "25.00", "a share of 1 instead of a percentage", F("0.0075")),
        (HYDRATE, "25.00", None, (280 - 106) / F("18.015")),
        (HYDRATE, "25.00", "per aliquot instead of per flask", (2800 - 106) / F("18.015")),
        (HYDRATE, "25.00", "per dm³ instead of per flask", (70 - 106) / F("18.015")),
        (HYDRATE, "25.00", "scaled down from aliquot to flask", (28000 - 106) / F("18.015")),
        (HYDRATE, "25.00", "mass of the anhydrous salt not taken off", 280 / F("18.015")),
        (HYDRATE, "25.00", "not divided by the molar mass of water", F(280 - 106)),
        (HYDRATE, "25.00", "decimal point of an amount one place out", (28 - 106) / F("18.015")),
        (HYDRATE, "25.00", "divided by 1000 one time too many", (280000 - 106) / F("18.015")),
    ],
)
def test_slips_with_samples_and_differences(calc, titre: str, cause: str | None, value: F) -> None:
    assert outcome(calc, () if cause is None else way(cause)).at(F(titre)) == value


def shipped(name: str):
    """Return the text of a practical that ships, as one is read."""
    return practical((practicals_folder() / f"{name}.toml").read_text(encoding="utf-8"))


def test_all_tablets_may_be_taken_for_one() -> None:
    # By hand: 25.0 − 0.0500 × 33.38 × 10 = 8.31 mmol of alkali used up, 4.155 mmol of aspirin × 180.159 in five tablets.
    calc = calculation(shipped("aspirin-tablets"))
    found = outcome(calc, way("mass in all of the sample given")).at(F("33.38"))
    assert float(found) == pytest.approx(4.155 * 180.159, abs=0.01)


def test_a_titre_may_be_taken_off_twice() -> None:
    # By hand: (23.75 − 2 × 3.75) × 0.1000 ÷ 25.00 × 39.997 = 2.600
    calc = calculation(shipped("hydroxide-and-carbonate").parts[0])
    other = replace(calc.formula.of[other_titre(1)], value=F("3.75"), text="3.75")
    given = replace(calc, formula=calc.formula.given([other]))
    found = outcome(given, way("the other titre taken off twice")).at(F("23.75"))
    assert float(found) == pytest.approx(16.25 * 0.1 / 25 * 39.997, abs=0.001)


@pytest.mark.parametrize(
    ("name", "phrase", "titre", "value"),
    [
        # 1.500 g of shells, 50.00 mmol added: 0.1 × 22.00 × 10 mol are left where ÷ 1000 is forgotten; × 100.086 ÷ 2.
        ("eggshells", "leaving the titre in cm³ where dm³ is needed", "22.00", F("0.05") - 22),
        ("eggshells", "dividing the titre by 1000 one time too many", "22.00", F("0.05") - F("0.000022")),
        ("eggshells", "a decimal point one place to the right in the amount in the titre", "22.00", F("-0.17")),
        ("eggshells", "leaving what was added in cm³ where dm³ is needed", "22.00", 50 - F("0.022")),
    ],
)
def test_one_volume_of_a_back_titration_may_be_left_in_cubic_centimetres(name, phrase, titre, value) -> None:
    (slip,) = (each for each in changes() if each.phrase == phrase)
    assert outcome(calculation(shipped(name)), (slip,)).at(F(titre)) == value * F("100.086") / 3 * 100


def test_a_thousand_too_little_of_milligrams_is_grams() -> None:
    # By hand: (20.20 − 0.15) × 0.0200 ÷ 50.0 × 35.45 = 0.2843 g/dm³, 284 mg/dm³.
    calc = calculation(shipped("chloride-with-blank"))
    (first,) = slips_behind(calc, mean=F("20.20"), claimed=Decimal("0.284"), decimals=3)
    assert (first.finding, first.cause) == ("volume-units", "grams given instead of milligrams")


@pytest.mark.parametrize(
    ("cause", "titre", "working"),
    [
        ("blank added instead of taken off", "20.13", "(20.13 + 0.15) × 0.0200 ÷ 50.00 × 35.45 × 1000 = 288 mg/dm³"),
        ("blank taken off twice", "20.23", "(20.23 − 0.15 − 0.15) × 0.0200 ÷ 50.00 × 35.45 × 1000 = 283 mg/dm³"),
    ],
)
def test_a_blank_may_be_added_or_taken_off_twice(cause: str, titre: str, working: str) -> None:
    calc = calculation(shipped("chloride-with-blank"))
    # The rough, 0.37 cm³ more, would do with values rounded on the way; a sum that gives it straight comes first.
    rough = {"Rough": F(titre) + F("0.37")}
    (first,) = slips_behind(calc, mean=F(titre), claimed=Decimal(working[-10:-7]), decimals=0, titres=rough)
    assert (first.cause, first.working) == (cause, working)


def test_a_mass_may_be_rounded_before_it_is_used() -> None:
    # By hand: 3 ÷ (0.1000 × 23.03 ÷ 1000 ÷ 2 × 10) = 260.5, (260.5 − 105.988) ÷ 18.015 = 8.58; with 3.25 g 9.78.
    calc = calculation(shipped("washing-soda-crystals"))
    (first,) = slips_behind(calc, mean=F("23.03"), claimed=Decimal("8.58"), decimals=2)
    assert (first.finding, first.cause) == ("rounding", "rounded too early")
    assert first.message.startswith("Rounding the mass of 3.25 g to 3 g before going on gives (3.00 ÷ ")


def test_a_factor_may_be_turned_upside_down() -> None:
    text = PRACTICAL.replace('of = "NaOH"', 'of = "NaOH"\nquantity = "titre factor"\nnominal = 0.11')
    # By hand: 0.0500 × 24.35 × 2 ÷ 25.0 = 0.0974; 0.0974 ÷ 0.11 = 0.885, and 0.11 ÷ 0.0974 = 1.13.
    (first,) = slips_behind(calculation(practical(text)), mean=F("24.35"), claimed=Decimal("1.13"), decimals=2)
    assert first.cause == "factor the wrong way up"


def test_a_decimal_point_on_the_way_goes_before_two_slips_together() -> None:
    # By hand: 0.1000 × 23.00 ÷ 2 × 10 is 0.0115 mol in 3.25 g: (282.6 − 105.988) ÷ 18.015 = 9.80; of ten times as much
    # (28.26 − 105.988) ÷ 18.015 = −4.31. cm³ for dm³ and a portion scaled down from 250 to 25 come to that as well.
    calc = calculation(shipped("washing-soda-crystals"))
    (first,) = slips_behind(calc, mean=F("23.00"), claimed=Decimal("-4.31"), decimals=2)
    assert first.cause == "decimal point of an amount one place out"


@pytest.mark.parametrize(
    ("name", "titre", "written"),
    [
        ("washing-soda", "24.80", "2.63"),  # 0.1000 × 24.80 ÷ 2 ÷ 2 ÷ 25.0 × 105.988
        ("bleach", "32.25", "2.40"),  # 0.1000 × 32.25 ÷ 2 ÷ 2 ÷ 25.0 × 10 × 74.44 ÷ 10
    ],
)
def test_a_mole_ratio_may_be_applied_twice(name: str, titre: str, written: str) -> None:
    (first,) = slips_behind(calculation(shipped(name)), mean=F(titre), claimed=Decimal(written), decimals=2)
    assert (first.finding, first.cause) == ("result-slip", "mole ratio applied twice")


def test_the_difference_of_two_titres_is_swapped_with_the_aliquot() -> None:
    # By hand: (23.75 − 3.75) = 20.00; 0.1000 × 25.0 ÷ 20.00 × 39.997 = 5.00
    calc = calculation(shipped("hydroxide-and-carbonate").parts[0])
    other = replace(calc.formula.of[other_titre(1)], value=F("3.75"), text="3.75")
    given = replace(calc, formula=calc.formula.given([other]))
    (first, *_) = slips_behind(given, mean=F("23.75"), claimed=Decimal("5.00"), decimals=2)
    assert first.cause == "titre and aliquot swapped"
    assert first.working == "0.00250 ÷ (23.75 − 3.75) × 1000 × 39.997 = 5.00 g/dm³"


def test_a_weighed_standard_may_be_taken_whole_for_a_portion_of_it() -> None:
    # By hand: 1.3250 × 0.999 ÷ 105.988 × 2 ÷ 24.49 × 1000 = 1.0199; of a tenth of it, 0.1020.
    own = (practicals_folder() / "standardise-acid-with-own-carbonate.toml").read_text(encoding="utf-8")
    calc = calculation(practical(own.replace('{ column = "Mass" }', "1.3250")))
    (first,) = slips_behind(calc, mean=F("24.49"), claimed=Decimal("1.020"), decimals=3)
    assert (first.finding, first.cause) == ("dilution-ignored", "the whole flask taken for a portion of it")


# By hand: 0.0500 × 20.80 ÷ 2 ÷ 25.0 = 0.0208 = s; 4 s³ = 3.5995648e-5; of OH⁻ 0.0416 = c, c³ ÷ 2.
LIME = calculation(shipped("lime-water"))
SPLIT = (LEFT_OUT, "every ion taken to be as concentrated as the substance")


@pytest.mark.parametrize(
    ("causes", "value"),
    [
        ((), F("3.5995648e-5")),
        (SPLIT[1:], F("0.0208") ** 3),
        (("numbers of the ions upside down",), F("0.0208") * F("0.0104") ** 2),
        (("power of an ion left out",), F("0.0208") * F("0.0416")),
        (("number of an ion not raised to the power",), F("0.0208") * 2 * F("0.0208") ** 2),
        (("concentration of one ion given",), F("0.0416")),
        ((LEFT_OUT,), F("0.0416") * F("0.0832") ** 2),
        (SPLIT, F("0.0416") ** 3),
        (("divided by 1000 one time too many",), F("3.5995648e-14")),
        (("decimal point one place out", "power of an ion left out"), F("0.0208") * F("0.0416") / 10),
    ],
)
def test_what_comes_before_a_power_and_what_comes_of_it_may_each_go_wrong(causes: tuple[str, ...], value: F) -> None:
    assert outcome(LIME, way(*causes)).at(F("20.80")) == value


@pytest.mark.parametrize(
    ("written", "cause"),
    [
        ("0.00000900", SPLIT[1]),
        ("0.00000225", "numbers of the ions upside down"),
        ("0.000865", "power of an ion left out"),
        ("0.0000180", "number of an ion not raised to the power"),
        ("0.0208", "stopped early, at the concentration of Ca(OH)₂ in the flask"),
        ("0.0416", "concentration of one ion given"),
        ("0.000288", LEFT_OUT),
        ("36000", "cm³ not turned into dm³ (× 1000)"),
        ("0.0000306", "two digits swapped"),
        ("0.0000123", "no usual slip gives this value"),
    ],
)
def test_a_slip_in_a_solubility_product_is_named(written: str, cause: str) -> None:
    places = len(written.partition(".")[2])
    first, *_ = slips_behind(LIME, mean=F("20.80"), claimed=Decimal(written), decimals=places)
    assert first.cause == cause


def test_a_power_is_printed_behind_the_sum_that_it_is_of() -> None:
    assert sum_text(steps(LIME), F("20.80")) == "(0.0500 × 20.80 ÷ 2 ÷ 25.00)³ × 4"


def test_a_slip_that_a_practical_has_no_room_for_is_none_of_its_ways() -> None:
    with pytest.raises(ValueError, match="none of this practical's"):
        outcome(DRAIN_CLEANER, way("difference not taken in the back titration"))


def test_a_dilution_may_be_applied_where_the_diluted_solution_is_asked_for() -> None:
    calc = Calculation("amount concentration", F("0.1"), F(25), dilution=(F(10), F(250)), report_original=False)
    applied = way("dilution factor applied where the diluted solution is asked for")
    assert outcome(calc, applied).at(F(20)) == 25 * outcome(calc, ()).at(F(20))


def test_swapped_volumes_put_the_titre_under_the_aliquot() -> None:
    calc = Calculation("amount concentration", F("0.1"), F(25))
    assert outcome(calc, way("titre and aliquot swapped")).at(F(20)) == F("0.1") * 25 / 20


def test_a_titre_of_nothing_that_must_divide_has_no_result() -> None:
    in_flask = Calculation("amount concentration", F("0.1"), F(25), known_in="flask")
    assert outcome(in_flask, ()).at(F(0)) is None


@given(
    st.integers(1, 50000), st.sampled_from([(), (LEFT_OUT,), (UPSIDE_DOWN,), ("divided by 1000 one time too many",)])
)
def test_the_line_agrees_with_the_chain_worked_step_by_step(titre: int, causes: tuple[str, ...]) -> None:
    volume = F(titre, 1000)
    for calc in (DRAIN_CLEANER, WASHING_SODA, CHALK, LIME):
        done = way(*causes)
        value = F(1)
        for op in (op for step in steps(calc, done) for op in step.ops):
            figure = volume if op.value is None else op.value
            if op.sign in {"÷"}:
                value = value / figure
            elif op.sign == "×":
                value = value * figure
            elif op.sign == "from":
                value = figure - value
            elif op.sign == "less":
                value = value - figure
            elif op.sign == "ions":
                value = prod(each * value for each in op.multiples)
            else:
                value = figure / value
        assert outcome(calc, done).at(volume) == value


@given(st.fractions(min_value=F(1, 10**9), max_value=10**9))
def test_the_magnitude_is_the_power_of_ten_of_the_leading_digit(value: F) -> None:
    assert F(10) ** magnitude(value) <= value < F(10) ** (magnitude(value) + 1)


@pytest.mark.slow
@given(
    st.one_of(titrations(), st.sampled_from([practical(BLEACH), practical(BLANK), practical(SAVED)])),
    st.fractions(F(1, 50), F(49, 50)),
)
def test_every_order_of_a_sum_comes_to_the_same(made, share: F) -> None:
    calc = calculation(made)
    titre = share * (calc.blank_titre or 50)
    assert outcome(calc, ()).at(titre) == calc.formula.value(titre=titre)
    for route in routes(calc):
        assert float(prefixes(route, to_decimal(titre))[-1]) == pytest.approx(
            float(outcome(calc, ()).at(titre)), rel=1e-12
        )
