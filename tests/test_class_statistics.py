"""The further figures of a class, through the whole middle: what they are of, and what they never do."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
import pytest

from labmark.analyse.precision import precision
from labmark.analyse.uncertainty import class_repeatability
from labmark.practical.equation import WEIGHT_WITHIN, molar_mass_uncertainty, parse_formula
from labmark.problems import InputError
from tests.classes import scattered, titres, tree_of
from tests.fair_students import VINEGAR
from tests.practicals import DRAIN_CLEANER

BOTTLES = ("value = 0.0974", 'by = "Bottle"\nvalues = { A = 0.0974, B = 0.1010 }')


# Repeatability ---


def test_budgets_rest_on_every_accurate_run_and_the_contracts_figure_on_the_used_ones():
    students = scattered(12, spread=0.15)
    tree = tree_of(students)
    runs = [(place, float(each["final"]) / 1000) for place, (_, rows) in enumerate(students) for each in rows]
    everyone = class_repeatability([titre for _, titre in runs], [place for place, _ in runs])
    assert tree["class"]["statistics"]["repeatability_of_titre"] == pytest.approx(everyone.sd)
    used = [
        (one["number"], float(each["titre"]) * 0.004)
        for one in tree["students"]
        for each in one["runs"]
        if each["used"]
    ]
    of_used = precision([result for _, result in used], [number for number, _ in used]).repeatability_sd
    assert tree["class"]["repeatability_sd"] == pytest.approx(of_used)
    assert of_used / 0.004 < 0.75 * everyone.sd


@pytest.mark.slow
def test_runs_chosen_for_agreeing_would_hide_half_of_the_scatter():
    tree = tree_of(scattered(24, spread=0.15))
    rows = tree["students"][0]["uncertainty"]["budget"]
    pooled = next(row for row in rows if row["source"].startswith("repeatability"))
    runs = sum(each["used"] for each in tree["students"][0]["runs"])
    assert pooled["value"] * math.sqrt(runs) == pytest.approx(0.15, rel=0.25)


# References ---


@pytest.mark.parametrize(("u", "needed"), [("0.0002", False), ("0.0003", True), ("0.0009", True)])
def test_z_prime_stands_beside_z_once_the_reference_is_too_uncertain(u, needed):
    # ISO 13528:2022, 9.2.1 and 9.5: from u = 0.3 sigma on; sigma is 1 % of 0.0974, so that 0.3 sigma is 0.00029.
    one = tree_of(scattered(6), ("standard_uncertainty = 0.0004", f"standard_uncertainty = {u}"))["students"][0]
    assert (one["z_prime"] is not None) == needed
    if needed:
        ratio = math.hypot(0.000974, float(u)) / 0.000974
        assert one["z"] == pytest.approx(one["z_prime"] * ratio)


def test_a_difference_is_told_inside_or_outside_the_combined_uncertainty():
    near, far = tree_of([titres("24.35", "24.40"), titres("26.00", "26.00"), *scattered(6)])["students"][:2]
    assert near["comparison"]["inside"]
    assert near["comparison"]["sentence"].startswith("The difference from the reference, 0.0001 mol/dm³, is inside")
    assert not far["comparison"]["inside"]
    # 26.00 cm³ × 0.004 = 0.1040, and the reference is 0.0974.
    assert far["comparison"]["sentence"].startswith("The result lies 0.0066 mol/dm³ above the reference, which is more")
    assert abs(far["comparison"]["en"]) > 1


def test_percentages_differ_by_percentage_points():
    # 17.0 cm³ of 0.1000 NaOH on 25.0 of a tenfold dilution: 17.0 × 0.2402 = 4.08 g in 100 cm³; the reference is 5.12.
    one = tree_of([titres("17.00", "17.00"), *scattered(6, 21.32)], text=VINEGAR)["students"][0]
    assert "lies 1.04 percentage points below the reference" in one["comparison"]["sentence"]


def test_a_reference_in_a_wrong_unit_is_refused():
    # 24.35 cm³ belong to 0.0974 mol/dm³. Titres up to 10⁷ cm³ would take all memory there is.
    with pytest.raises(InputError) as caught:
        tree_of([titres("24.35", "24.30")], ("value = 0.0974", "value = 97400"))
    (problem,) = caught.value.problems
    assert problem.what == "the reference 97400 calls for a titre of 2.44 × 10⁷ cm³, which no burette gives"


def test_a_result_that_is_the_reference_has_no_difference_to_explain():
    one = tree_of([titres("24.35", "24.35"), *scattered(6)])["students"][0]
    assert one["comparison"]["sentence"].startswith("The result and the reference are the same, as printed;")


@pytest.mark.slow
def test_held_against_the_class_itself_the_standard_they_share_does_not_count():
    text = DRAIN_CLEANER.partition("[reference]")[0]
    sure = ("concentration = 0.0500", "concentration = 0.0500\nstandard_uncertainty = 0.0000001")
    unsure = ("concentration = 0.0500", "concentration = 0.0500\nstandard_uncertainty = 0.0020")
    one, other = (tree_of(scattered(8), change, text=text)["students"][0] for change in (sure, unsure))
    assert one["comparison"]["combined_expanded"] == pytest.approx(other["comparison"]["combined_expanded"], rel=1e-3)
    assert one["result"]["standard_uncertainty"] < 0.3 * other["result"]["standard_uncertainty"]
    assert "the centre of the class" in one["comparison"]["sentence"]


def test_a_reference_without_an_uncertainty_counts_as_exact_and_that_is_said():
    one = tree_of(scattered(6), ("standard_uncertainty = 0.0004\n", ""))["students"][0]
    assert one["comparison"]["sentence"].endswith("No uncertainty is stated for the reference: it counts as exact.")


def bottle(place):
    return {"Bottle": "AB"[place % 2]}


@pytest.mark.slow
def test_two_solutions_are_never_taken_for_the_spread_of_one():
    students = scattered(20, centre=lambda place: (24.35, 25.25)[place % 2], spread=0.03, groups=bottle)
    found = tree_of(students, BOTTLES)["class"]
    figures = found["statistics"]
    assert found["robust_sd"] / 0.0992 > 0.015  # the contract's figure holds both bottles
    assert figures["relative"]["robust_sd"] < 0.3
    assert [each["groups"] for each in figures["by_reference"]] == [["Bottle A"], ["Bottle B"]]
    assert [each["expected_titre"] for each in figures["by_reference"]] == [24.35, 25.25]


@pytest.mark.slow
def test_a_student_with_the_other_bottles_titre_stands_out_though_it_lies_amid_the_class():
    students = scattered(20, centre=lambda place: (24.35, 25.25)[place % 2], spread=0.03, groups=bottle)
    stray = titres("25.25", "25.20", "25.25", groups={"Bottle": "A"})
    figures = tree_of([*students, stray], BOTTLES)["class"]["statistics"]
    grubbs = next(each for each in figures["screening"] if each["test"] == "Grubbs")
    assert (grubbs["students"], grubbs["beyond"]) == (["S21"], True)


def test_bands_and_titres_are_those_of_the_own_reference():
    students = scattered(8, centre=lambda place: (24.35, 25.25)[place % 2], spread=0.01, groups=bottle)
    tree = tree_of(students, BOTTLES)
    assert [one["expected_titre"] for one in tree["students"][:2]] == [Decimal("24.35"), Decimal("25.25")]
    of_a, of_b = tree["class"]["statistics"]["by_reference"]
    assert of_a["bands"][0]["low"] < 0.0974 < of_a["bands"][0]["high"] < of_b["bands"][0]["low"] < 0.1010
    assert tree["class"]["bands"] == of_a["bands"]


def test_one_solution_has_no_figures_by_bottle():
    figures = tree_of(scattered(8))["class"]["statistics"]
    assert figures["relative"] is None
    assert figures["by_reference"] == []


# Doubt and totals ---


def test_in_doubt_totals_are_given_both_ways_with_what_to_check():
    tree = tree_of(scattered(24, centre=25.40, spread=0.05))
    assert tree["class"]["statistics"]["reference_test"]["checks"][0] == "standardise the solution again"
    for one in tree["students"]:
        accuracy = next(mark for mark in one["marks"] if mark["criterion"] == "accuracy")
        assert (accuracy["mark"], accuracy["pending"]) == (None, True)
        for whose in ("reference", "class"):
            assert one[f"total_by_{whose}"] == one["total"] + one[f"accuracy_by_{whose}"]


def test_without_doubt_there_is_one_total():
    assert {one["total_by_class"] for one in tree_of(scattered(12, spread=0.03))["students"]} == {None}


# Drift or group ---


def codes(tree):
    return [(each["finding"], each["evidence"].get("group")) for each in tree["class"]["findings"]]


def in_benches(place):
    return {"Bench": str(place // 4 + 1)}


@pytest.mark.slow
def test_an_even_drift_is_not_taken_for_so_many_shifted_benches():
    students = scattered(
        24,
        centre=lambda place: 24.35 + 0.035 * (place - 12),
        spread=0.04,
        groups=in_benches,
        order=lambda place: place + 1,
    )
    tree = tree_of(students)
    assert codes(tree) == [("drift", None)]
    assert tree["class"]["findings"][0]["evidence"]["goes_with"] == ["Bench"]
    drift = tree["class"]["statistics"]["drift"]
    assert drift["at_last"] - drift["at_first"] == pytest.approx(0.035 * 23 / 24.35, rel=0.2)


def of_two_bottles(second: float, **more):
    """Return a class of which the second half titrates another bottle, with titres about `second`."""
    centre, groups = (lambda place: (24.35, second)[place // 12]), (lambda place: {"Bottle": "AB"[place // 12]})
    return scattered(24, centre=centre, spread=0.04, groups=groups, **more)


@pytest.mark.slow
def test_a_second_bottle_is_not_taken_for_a_drift():
    students = of_two_bottles(25.10, order=lambda place: place + 1)
    assert codes(tree_of(students)) == [("group-shift", "Bottle B")]


@pytest.mark.slow
def test_a_bottle_with_a_reference_of_its_own_is_not_said_to_be_lower_than_another_bottle():
    # 25.25 belongs to a bottle of 0.1010: 24.85 is lower than that, and higher than 24.35 of the other bottle.
    (shift,) = tree_of(of_two_bottles(24.85), BOTTLES)["class"]["findings"]
    assert " lower than the others: " in shift["message"]
    assert " Each is compared with its own reference. " in shift["message"]


# Screening and components ---


def test_a_far_result_is_named_by_every_test_of_results_and_keeps_its_place_in_the_class():
    students = [*scattered(14, spread=0.04), titres("27.00", "27.05", "27.00")]
    found = tree_of(students)["class"]
    named = {each["test"]: each["students"] for each in found["statistics"]["screening"] if each["beyond"]}
    assert named["Grubbs"] == named["Dixon"] == ["S15"]
    assert found["results"] == 15


@pytest.mark.slow
def test_two_results_are_tested_together_only_where_none_stands_out_alone():
    far = titres("27.00", "27.05", "27.00")

    def pairs(*students):
        screening = tree_of([*scattered(14, spread=0.04), *students])["class"]["statistics"]["screening"]
        return [each["test"] for each in screening if each["test"].startswith("Grubbs, two")]

    assert pairs(far) == []
    assert pairs() == ["Grubbs, two highest", "Grubbs, two lowest"]


def test_a_scattering_student_is_named_by_cochran_and_by_k():
    students = [*scattered(9, spread=0.03), titres("24.00", "24.90", "24.30")]
    figures = tree_of(students)["class"]["statistics"]
    cochran = next(each for each in figures["screening"] if each["test"] == "Cochran")
    assert cochran["beyond"]
    assert (cochran["students"], cochran["n"], cochran["runs"]) == (["S10"], 10, 3)
    mandel = figures["mandel"]
    assert mandel["students"][int(np.argmax(mandel["k"]))] == "S10"
    assert mandel["k"][-1] > mandel["k_action"][-1]


@pytest.mark.slow
def test_dixons_test_is_left_to_classes_that_its_tables_know():
    tests = [each["test"] for each in tree_of(scattered(31))["class"]["statistics"]["screening"]]
    assert "Dixon" not in tests
    assert "Grubbs" in tests


@pytest.mark.slow
def test_benches_students_and_runs_share_the_spread_out():
    # sd of benches 0.30 cm³, students 0.10, runs 0.02: in mol/dm³ times 0.004 (2 × 0.0500 ÷ 25.0).
    rng = np.random.default_rng(5)
    off = rng.normal(0, 0.30, 12)
    students = scattered(
        72,
        centre=lambda place: 24.35 + off[place // 6] + rng.normal(0, 0.10),
        spread=0.02,
        groups=lambda place: {"Bench": str(place // 6)},
    )
    found = tree_of(students)["class"]["statistics"]["components"]
    assert [each["level"] for each in found["levels"]] == ["Bench", "student", "run"]
    for each, sd in zip(found["levels"], (0.30, 0.10, 0.025), strict=True):
        assert each["low"] < sd * 0.004 < each["high"], each


@pytest.mark.slow
def test_benches_are_counted_anew_in_every_class():
    students = scattered(24, groups=lambda place: {"Class": "PQ"[place // 12], "Bench": str(place % 12 // 4)})
    found = tree_of(students)["class"]["statistics"]["components"]
    assert [(each["level"], each["units"]) for each in found["levels"]][:2] == [("Class", 2), ("Bench", 6)]


@pytest.mark.slow
def test_groupings_that_cut_across_one_another_are_not_nested():
    students = scattered(24, groups=lambda place: {"Bench": str(place // 6), "Bottle": "AB"[place % 2]})
    levels = [each["level"] for each in tree_of(students)["class"]["statistics"]["components"]["levels"]]
    assert not {"Bench", "Bottle"} <= set(levels)


# What every figure says of itself ---


def test_every_figure_of_several_parts_says_what_it_is():
    figures = tree_of(scattered(12, groups=in_benches, order=lambda place: place + 1))["class"]["statistics"]
    for name in ("precision", "drift", "mandel", "components", "budget"):
        assert figures[name]["what"], name
    assert all(each["what"] and each["note"].startswith("Shown for those who want it") for each in figures["screening"])


def test_the_budget_of_the_class_stands_at_its_centre_with_a_sentence_of_advice():
    budget = tree_of(scattered(12))["class"]["statistics"]["budget"]
    assert budget["value"] == pytest.approx(0.0974, rel=0.005)
    assert [row["share"] for row in budget["rows"]] == sorted((row["share"] for row in budget["rows"]), reverse=True)
    assert sum(row["share"] for row in budget["rows"]) == pytest.approx(1)
    assert budget["advice"].startswith(f"Largest part: {budget['rows'][0]['source']}")


def test_glassware_may_be_taken_as_rectangular():
    plain = tree_of(scattered(6))["students"][0]["uncertainty"]["budget"]
    old = tree_of(scattered(6), ("[reference]", '[uncertainty]\nglassware = "rectangular"\n[reference]'))
    of_burette = [
        next(row for row in rows if row["source"] == "burette calibration")
        for rows in (plain, old["students"][0]["uncertainty"]["budget"])
    ]
    assert [row["distribution"] for row in of_burette] == ["triangular", "rectangular"]
    assert of_burette[1]["value"] / of_burette[0]["value"] == pytest.approx(math.sqrt(2))


@pytest.mark.parametrize("symbol", ["H", "C", "N", "O", "S", "Cl", "K", "Ca", "Fe", "Cu", "Zn"])
def test_atomic_weights_are_as_uncertain_as_the_library_prints_them(symbol):
    # periodictable carries the uncertainties of the IUPAC/CIAAW standard atomic weights; ours may be rounded up.
    from periodictable import elements

    assert elements.symbol(symbol)._mass_unc <= WEIGHT_WITHIN[symbol] * 1.001


def test_a_formula_mass_is_far_better_known_than_any_volume():
    assert molar_mass_uncertainty(parse_formula("KHC8H4O4").atoms) / 204.22 < 1e-4


@pytest.mark.parametrize("students", [[], [titres("24.35")], [titres("24.35", "24.35")], scattered(2)])
def test_classes_too_small_for_a_figure_have_none(students):
    figures = tree_of(students)["class"]["statistics"]
    assert figures["screening"] == [] or figures["screening"][0]["n"] >= 2
    assert figures["mandel"] is None
    assert figures["relative"] is None
