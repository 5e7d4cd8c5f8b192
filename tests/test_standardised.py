"""The technician's standardisation in a practical: the concentration or the reference it gives, and its uncertainty."""

from __future__ import annotations

from decimal import Decimal

import pytest

from labmark.analyse.standardisation import standardisation_tree, with_standardisation
from labmark.practical import practical_from_rows, practical_from_toml
from labmark.problems import InputError
from tests.classes import titres, tree_of
from tests.practicals import practical

VINEGAR = """
title = "Acid in a vinegar"
equation = "CH3COOH + NaOH -> CH3COONa + H2O"
[burette]
solution = "NaOH"
[flask]
solution = "CH3COOH"
aliquot = 25.0
[result]
of = "CH3COOH"
[standardisation]
standard = "KHC8H4O4"
equation = "KHC8H4O4 + NaOH -> KNaC8H4O4 + H2O"
masses = [0.3888]
titres = [18.64]
purity_within = 0.0005
"""
RUNS = ("masses = [0.3888]\ntitres = [18.64]", "masses = [0.4012, 0.4050, 0.3987]\ntitres = [19.25, 19.40, 19.15]")


def problems(*changes, text=VINEGAR):
    with pytest.raises(InputError) as error:
        practical(text, *changes)
    return [str(each) for each in error.value.problems]


def test_the_concentration_is_that_of_a_published_standardisation():
    # QUAM:2012, example A2: 0.3888 g of potassium hydrogen phthalate, 18.64 cm³ of NaOH: 0.10214 mol/dm³.
    given = practical(VINEGAR, ("[standardisation]", "[standardisation]\nsignificant_figures = 5"))
    assert given.file.burette.concentration == Decimal("0.10214")
    assert float(given.standardised.value) == pytest.approx(0.102136, abs=2e-6)


def test_the_class_is_told_four_figures_unless_the_practical_says_otherwise():
    assert practical(VINEGAR).file.burette.concentration == Decimal("0.1021")


def test_its_uncertainty_becomes_that_of_the_known_solution_and_stands_in_every_budget():
    tree = tree_of([titres("20.00", "20.05")] * 5, RUNS, text=VINEGAR)
    found = tree["class"]["statistics"]["standardisation"]
    assert (found["n"], len(found["each"])) == (3, 3)
    row = next(row for row in tree["students"][0]["uncertainty"]["budget"] if row["source"].startswith("concentration"))
    assert row["value"] == pytest.approx(found["standard_uncertainty"], rel=0.05)
    assert float(tree["practical"]["burette"]["standard_uncertainty"]) == row["value"]


def test_a_few_runs_of_the_technician_leave_few_degrees_of_freedom():
    one, result = with_standardisation(practical(VINEGAR, RUNS))
    tree = standardisation_tree(one, result)
    assert 2 <= tree["degrees_of_freedom"] < 60
    assert tree["coverage_factor"] > 2


def test_an_uncertainty_that_the_practical_states_itself_stays():
    stated = ('solution = "NaOH"\n[flask]', 'solution = "NaOH"\nstandard_uncertainty = 0.0007\n[flask]')
    given, _ = with_standardisation(practical(VINEGAR, RUNS, stated))
    assert given.file.burette.standard_uncertainty == Decimal("0.0007")


@pytest.mark.parametrize(("told", "words"), [("0.1021", "which agrees with that"), ("0.1100", "check the label")])
def test_a_concentration_that_the_class_was_told_is_used_and_held_against_the_runs(told, words):
    given, result = with_standardisation(
        practical(VINEGAR, RUNS, ('solution = "NaOH"\n[flask]', f'solution = "NaOH"\nconcentration = {told}\n[flask]'))
    )
    assert given.file.burette.concentration == Decimal(told)
    assert words in standardisation_tree(given, result)["sentence"]


def test_the_standardised_unknown_gives_the_reference():
    text = """
title = "Standardising"
equation = "KHC8H4O4 + NaOH -> KNaC8H4O4 + H2O"
[burette]
solution = "NaOH"
[flask]
solution = "KHC8H4O4"
concentration = 0.1000
aliquot = 20.0
[result]
of = "NaOH"
[standardisation]
solution = "NaOH"
standard = "KHC8H4O4"
masses = [0.4012, 0.4050]
titres = [19.95, 20.10]
"""
    tree = tree_of([titres("20.30", "20.35")] * 5, text=text)
    # 1000 × 0.4012 ÷ (204.22 × 19.95) = 0.09847; 1000 × 0.4050 ÷ (204.22 × 20.10) = 0.09866 (worked by hand)
    assert tree["reference"]["value"] == pytest.approx((0.09847 + 0.09866) / 2, abs=1e-5)
    assert tree["reference"]["from"] == "practical"
    assert 0 < tree["reference"]["standard_uncertainty"] < 0.001
    assert tree["class"]["statistics"]["standardisation"]["sentence"].endswith("It is the reference.")


def test_a_standard_made_up_to_the_mark_counts_with_what_the_pipette_took():
    made_up = (
        "masses = [0.3888]\ntitres = [18.64]",
        "masses = [3.888]\nmade_up_to = 250\naliquot = 25\ntitres = [18.64, 18.66]",
    )
    assert float(practical(VINEGAR, made_up).standardised.each[0]) == pytest.approx(0.102136, abs=2e-6)
    # 5.378 g of KHP in 500 cm³ is 0.05267 mol/dm³ (a help page, Chemistryland Lab 7); here 25 cm³ of it
    # against 24.80 cm³ of alkali.
    another = (made_up[0], "masses = [5.378]\nmade_up_to = 500\naliquot = 25\ntitres = [24.80]")
    assert float(practical(VINEGAR, another).standardised.value) == pytest.approx(0.05267 * 25 / 24.80, rel=1e-4)
    given, result = with_standardisation(practical(VINEGAR, made_up))
    sources = [row["source"] for row in standardisation_tree(given, result)["budget"]]
    assert {"flask of the standard", "pipette of the standard"} <= set(sources)


def test_a_balance_is_as_good_as_the_digits_written_unless_the_practical_says_otherwise():
    def weighing(*changes):
        given, result = with_standardisation(practical(VINEGAR, RUNS, *changes))
        return next(
            row["value"] for row in standardisation_tree(given, result)["budget"] if row["source"] == "weighing"
        )

    # Two weighings of ± 0.0001 g each, rectangular: sqrt(2) × 0.0001 ÷ sqrt(3).
    assert weighing() == pytest.approx(0.0000816, rel=0.01)
    assert weighing(("purity_within", "weighing_within = 0.0015\npurity_within")) == pytest.approx(0.00122, rel=0.01)


def test_the_mole_ratio_comes_from_its_equation():
    soda = (
        'standard = "KHC8H4O4"\nequation = "KHC8H4O4 + NaOH -> KNaC8H4O4 + H2O"',
        'standard = "Na2CO3"\nequation = "Na2CO3 + 2 HCl -> 2 NaCl + CO2 + H2O"',
    )
    acid = practical(VINEGAR, soda, ("CH3COOH + NaOH -> CH3COONa + H2O", "NaOH + HCl -> NaCl + H2O"),
                     ('solution = "NaOH"', 'solution = "HCl"'), ('solution = "CH3COOH"', 'solution = "NaOH"'),
                     ('of = "CH3COOH"', 'of = "NaOH"'))  # fmt: skip
    assert acid.standardised.ratio == 2


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("titres = [18.64]", "titres = [18.64, 18.70]", "each titre needs its mass: found 1 and 2"),
        ("masses = [0.3888]", "masses = [0.3888]\naliquot = 25", "made_up_to and aliquot belong together"),
        ("masses = [0.3888]", "masses = []", "standardisation.masses"),
        ("masses = [0.3888]", "masses = [-0.3888]", "more than 0"),
        ("titres = [18.64]", "titres = [0.0]", "more than 0"),
        ('standard = "KHC8H4O4"', 'standard = "Xy9"', "standardisation.standard"),
        ('standard = "KHC8H4O4"', 'standard = "Na2CO3"', "Na2CO3 is not in it"),
        ("[standardisation]", '[standardisation]\nsolution = "HCl"', "one of the two solutions (NaOH or CH3COOH)"),
        ('equation = "KHC8H4O4 + NaOH -> KNaC8H4O4 + H2O"', 'equation = "KHC8H4O4 + NaOH"', "standardisation.equation"),
        ("purity_within", "purety_within", "the nearest known key is purity_within"),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_said_with_its_key(old, new, said):
    assert any(said in each for each in problems((old, new)))


def test_a_reference_and_its_standardisation_are_one_too_many():
    unknown = ("[standardisation]", '[reference]\nvalue = 0.1\n[standardisation]\nsolution = "CH3COOH"')
    said = problems(unknown, ('"KHC8H4O4 + NaOH -> KNaC8H4O4 + H2O"', '"KHC8H4O4 + CH3COOH -> KHC8H4O4 + CH3COOH"'))
    assert any("it gives the reference, and [reference] gives one too" in each for each in said)


AS_TYPED = ("0.4012; 0.4050; 0.3987", "0.4012, 0.4050, 0.3987", "0,4012; 0,4050; 0,3987", "0.4012,0.4050,0.3987")


@pytest.mark.parametrize("text", AS_TYPED)
def test_a_practical_sheet_holds_the_runs_in_one_cell(text):
    assert [str(each) for each in of_sheet(("standardisation.masses", text, "B9")).file.standardisation.masses] == [
        "0.4012", "0.4050", "0.3987"
    ]  # fmt: skip


def test_a_practical_sheet_may_hold_a_run_in_each_row():
    rows = [("standardisation.masses", value, f"B{n}") for n, value in enumerate((0.4012, 0.405, 0.3987), start=20)]
    assert len(of_sheet(*rows).file.standardisation.masses) == 3


def test_a_cell_of_words_among_the_masses_is_named():
    with pytest.raises(InputError) as error:
        of_sheet(("standardisation.masses", "about half a gram", "B20"))
    assert "B20" in str(error.value.problems[0])
    assert "expected numbers such as" in str(error.value.problems[0])


def of_sheet(*masses):
    table = {
        "title": "Acid in a vinegar", "equation": "CH3COOH + NaOH -> CH3COONa + H2O",
        "burette.solution": "NaOH", "flask.solution": "CH3COOH", "flask.aliquot": 25, "result.of": "CH3COOH",
        "standardisation.standard": "KHC8H4O4", "standardisation.equation": "KHC8H4O4 + NaOH -> KNaC8H4O4 + H2O",
        "standardisation.titres": "19.25; 19.40; 19.15",
    }  # fmt: skip
    rows = [(key, value, f"B{n}") for n, (key, value) in enumerate(table.items(), start=1)]
    return practical_from_rows([*rows, *masses], "class.xlsx")


def test_a_class_without_a_standardisation_says_nothing_of_one():
    text = VINEGAR.partition("[standardisation]")[0].replace('"NaOH"\n', '"NaOH"\nconcentration = 0.1\n', 1)
    assert practical_from_toml(text).standardised is None
    assert tree_of([titres("20.00", "20.05")], text=text)["class"]["statistics"]["standardisation"] is None
