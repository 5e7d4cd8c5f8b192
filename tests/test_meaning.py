"""What a practical means, before anybody has titrated: shown by `check --practical`, with arithmetic to follow by hand."""

from __future__ import annotations

import pytest

from labmark.meaning import meaning_of
from labmark.practicals import text_of
from labmark.problems import InputError
from tests.practicals import DRAIN_CLEANER, EGGSHELLS, practical
from tests.several_classes import LYE

MASS = ("mass = 1.500", 'mass = { column = "Mass" }')


def under(heading: str, text: str = DRAIN_CLEANER, *changes: tuple[str, str]) -> list[str]:
    """Return the lines under the heading that begins so."""
    (lines,) = (lines for title, lines in meaning_of(practical(text, *changes)).items() if title.startswith(heading))
    return lines


def test_the_working_stands_in_words_and_in_numbers_at_the_expected_titre():
    # 0.0974 × 25.0 ÷ 2 ÷ 0.0500 = 24.35
    assert under("Working for a titre of 24.35 cm³") == [
        "1. amount of H₂SO₄ in the mean titre: n = c × V ÷ 1000",
        "   0.0500 mol/dm³ × 24.35 cm³ ÷ 1000 = 0.0012175 mol",
        "2. amount of NaOH in the flask: NaOH : H₂SO₄ = 2 : 1",
        "   0.0012175 mol × 2 ÷ 1 = 0.0024350 mol",
        "3. concentration of NaOH in the flask: c = n ÷ V × 1000",
        "   0.0024350 mol ÷ 25.0 cm³ × 1000 = 0.0974 mol/dm³",
    ]


def test_a_small_uncertainty_moves_no_column_of_the_budget():
    small = (("0.0500", "0.00500\nstandard_uncertainty = 0.0000200"), ("0.0974", "0.00974"))
    head, *rows = under("Uncertainty", DRAIN_CLEANER, *small)
    (row,) = (line for line in rows if "2.0 × 10⁻⁵ mol/dm³" in line)
    assert len(row) == len(head) == 78


def test_the_budget_stands_largest_first_and_says_what_counts_as_exact():
    lines = under("Uncertainty")
    # Burette of class B, ± 0.10 cm³ (ISO 385), triangular (QUAM:2012, A2.4): 0.10 ÷ √6 = 0.041; ÷ 24.35 = 0.168 %
    assert lines[1].split()[:6] == ["burette", "calibration", "0.041", "cm³", "0.17", "%"]
    percents = [float(line.split(" %")[0].split()[-1]) for line in lines[1:6]]
    assert percents == sorted(percents, reverse=True)
    assert "counted as exact, as no standard_uncertainty is given: concentration of the standard" in lines


def test_the_school_percentage_adds_burette_readings_and_pipette():
    # (0.1 for two readings + 0.10 of the burette) ÷ 24.35 + 0.06 ÷ 25.0 = 1.06 % (common practice, no source)
    assert under("Uncertainty")[-1] == "the school way, percentages added up: 1.1 %"


def test_a_band_finer_than_careful_work_with_the_glassware_is_said_to_be_so():
    told = "accuracy: 3 within 0.20, 2 within 0.40, 1 within 0.60 cm³ of the titre"
    own = "careful work comes to ± 0.12 cm³ of titre without the concentrations, which all share"
    assert under("Marks")[1:] == [told, f"{own}; no band is finer"]
    # A burette out by 0.50 cm³, triangular: 0.50 ÷ √6 = 0.204, with k = 1.96 and the rest 0.41 (0.40² + 0.09² = 0.41²)
    rough = under("Marks", DRAIN_CLEANER, ("0.0500", "0.0500\ntolerance = 0.50"))
    finer = "finer, so that careful work may miss it: 0.20, 0.40 cm³"
    assert rough[2] == f"{own.replace('0.12', '0.41')}; {finer}"


def test_a_concentration_that_all_share_makes_no_band_finer_than_the_glassware():
    # ± 1 % of the standard is 0.24 cm³ of titre for everybody alike: it puts the reference in question
    assert under("Marks", DRAIN_CLEANER, ("0.0500", "0.0500\nstandard_uncertainty = 0.0005")) == under("Marks")


def test_bands_in_per_cent_are_held_against_the_uncertainty_in_per_cent():
    text = (
        DRAIN_CLEANER + '[[marks]]\ncriterion = "accuracy"\nunit = "percent"\nbands = [ { within = 0.4, mark = 3 } ]\n'
    )
    assert under("Marks", text)[1] == "accuracy: 3 within 0.4 % of the titre"
    finer = "finer, so that careful work may miss it: 0.4 %"
    assert (
        under("Marks", text)[2]
        == f"careful work comes to ± 0.48 % of titre without the concentrations, which all share; {finer}"
    )


def test_where_each_student_weighs_a_mass_that_gives_half_a_burette_stands_for_theirs():
    assert under("What is expected", EGGSHELLS, MASS) == [
        "expected titre: each student's own, for the reference 93.2 % (standard uncertainty 0.5)",
        "sample.mass: each student's own, from the column Mass",
        # 40.0 cm³ leave 40.0 of 50.0 mmol: 10.0 ÷ 2 × 0.10009 g/mmol ÷ 0.932 = 0.537 g; 15.0 cm³: 35.0 mmol, 1.879 g
        "usual titres call for 0.537 to 1.88 g as sample.mass",
    ]
    # 25.0 mmol ÷ 2 × 0.10009 ÷ 0.932 = 1.342 g, and 1.34 g leaves 50.0 − 1.34 × 0.932 ÷ 0.10009 × 2 = 25.04 mmol
    assert under("Working for a titre of 25.04 cm³, sample.mass = 1.34 g", EGGSHELLS, MASS)[-1].endswith("= 93.2 %")


def test_a_default_gives_the_expected_titre_of_those_who_have_no_mass():
    with_default = ("mass = 1.500", 'mass = { column = "Mass", default = 1.500 }')
    lines = under("What is expected", EGGSHELLS, with_default)
    # (50.0 − 0.932 × 1.500 ÷ 100.09 × 2 × 1000) ÷ 10 ÷ 0.1000
    assert lines[0].startswith("expected titre 22.06 cm³")
    assert lines[1] == "sample.mass: each student's own, from the column Mass, 1.500 where it is blank"


def test_no_titre_of_several_is_expected_of_everybody_where_numbers_are_the_students_own():
    acid = ("concentration = 0.1000", 'concentration = { column = "Acid" }')
    assert under("What is expected", text_of("hydroxide-and-carbonate"), acid)[2:] == [
        "expected titre phenolphthalein: each student's own",
        "expected titre methyl orange: each student's own",
        "burette.concentration: each student's own, from the column Acid",
    ]


def test_weighing_by_difference_and_by_bottle_is_told():
    difference = 'mass = { column = "Mass before", minus = "Mass after" }'
    told = under("What is expected", EGGSHELLS, ("mass = 1.500", difference))[1]
    assert told == "sample.mass: each student's own, from the column Mass before less Mass after"
    bottles = 'mass = { by = "Bottle", values = { A = 1.402, B = 1.498 } }'
    titre, told = under("What is expected", EGGSHELLS, ("mass = 1.500", bottles))[:2]
    assert titre.startswith("expected titre: one for each Bottle, for")
    assert told == "sample.mass: one for each Bottle (A 1.402, B 1.498; here the middle one stands for them)"


def test_an_own_number_that_cannot_be_half_a_burette_is_left_at_what_stands_for_it():
    own = 'aliquot = 25.0\ndilution = { taken = { column = "Taken" }, made_up_to = 10.0 }'
    lines = under("What is expected", DRAIN_CLEANER, ("aliquot = 25.0", own))
    # 24.35 cm³ undiluted: even all of it in the flask gives no more
    assert lines[0].startswith("expected titre: each student's own")


def test_each_bottle_has_its_own_expected_titre():
    bottles = ("value = 0.0974", 'by = "Bottle"\nvalues = { A = 0.0974, B = 0.0874 }')
    # 0.0874 × 25.0 ÷ 2 ÷ 0.0500
    lines = under("What is expected", DRAIN_CLEANER, bottles)
    assert [line.partition(",")[0] for line in lines] == ["A: expected titre 24.35 cm³", "B: expected titre 21.85 cm³"]


def test_without_a_reference_half_a_burette_shows_the_working():
    text = DRAIN_CLEANER.partition("[reference]")[0]
    assert under("What is expected", text)[0].startswith("no reference: the class is compared with its own centre")
    assert under("Working for a titre of 25.00 cm³", text)


@pytest.mark.parametrize(
    ("aliquot", "said"),
    [
        ("25.0", []),
        ("15.4", []),  # 14.9996 cm³, which is shown as 15.00
        ("41.0", []),  # 39.93 cm³
        (
            "10.0",
            ["note: 9.74 cm³ is not in the usual range of this burette, 15 to 40 cm³: readings and endpoint weigh"],
        ),
        ("45.0", ["note: 43.83 cm³ is not in the usual range of this burette, 15 to 40 cm³: little is left for an"]),
        ("75.0", ["warning: 73.05 cm³ is more than the burette holds (50.0): everybody would have to refill it"]),
    ],
)
def test_an_expected_titre_that_does_not_suit_the_burette_is_said(aliquot, said):
    found = under("What is expected", DRAIN_CLEANER, ("25.0", aliquot))[1:]
    assert [line[: len(words)] for line, words in zip(found, said, strict=True)] == said


def test_what_suits_a_small_burette_is_in_proportion():
    small = ("concentration = 0.0500", "concentration = 0.0500\ncapacity = 25.0")
    assert len(under("What is expected", DRAIN_CLEANER, small, ("aliquot = 25.0", "aliquot = 10.0"))) == 1  # 9.74 cm³


def test_a_reference_that_no_titre_gives_is_one_line():
    with pytest.raises(InputError) as caught:
        meaning_of(practical(EGGSHELLS, ("mass = 1.500", "mass = 6.000")), "shells.toml")
    (line,) = map(str, caught.value.problems)
    assert line.startswith("shells.toml: no titre gives the reference 93.2: the reagent added is too little")


@pytest.mark.parametrize(
    ("text", "change", "told"),
    [
        # 24.35 cm³ belong to 0.0974 mol/dm³: 0.0025 cm³ to 0.00001 and 25 dm³ to 100.
        (
            DRAIN_CLEANER,
            ("0.0974", "0.00001"),
            "the reference 1e-05 calls for a titre of 0.00250 cm³, which no burette tells from 0.00",
        ),
        (DRAIN_CLEANER, ("0.0974", "100"), "the reference 100 calls for a titre of 25000 cm³, which no burette gives"),
        (
            EGGSHELLS,
            ("93.2", "0.00001"),
            "the reference 1e-05 calls for a titre of 50.0 cm³, which no burette tells from 50.00",
        ),
        (text_of("soda-crystals-own-masses"), ("value = 9.8", "value = 1e9"), "the reference 1e+09 calls for a titre"),
        (LYE, ("value = 3.20", "value = 3.2e5"), "the reference 320000 calls for a titre"),
    ],
)
def test_a_reference_in_a_wrong_unit_is_one_line(text, change, told):
    with pytest.raises(InputError) as caught:
        meaning_of(practical(text, change), "mine.toml")
    (line,) = map(str, caught.value.problems)
    assert line.startswith(f"mine.toml: {told}")


def test_the_technicians_runs_are_told():
    runs = """[standardisation]
standard = "Na2CO3"
equation = "Na2CO3 + H2SO4 -> Na2SO4 + CO2 + H2O"
masses = [0.1060, 0.1100, 0.1083]
titres = [20.00, 20.70, 20.45]
[reference]"""
    changes = ("concentration = 0.0500\n", ""), ("[reference]", runs)
    assert "from 3 runs of the technician" in under("What is expected", DRAIN_CLEANER, *changes)[-1]
    assert not any("counted as exact" in line for line in under("Uncertainty", DRAIN_CLEANER, *changes))
