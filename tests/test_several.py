"""Several titres of one practical: what they find, in what order, and what is held against whom. All invented."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from labmark.judge import several
from labmark.judge.feedback import went_well
from labmark.judge.stages import judge
from labmark.judge.together import is_echo, is_of_whole_runs
from labmark.outputs.sheets import class_data, student_data
from labmark.pipeline import judged_tree
from labmark.practical import practical_from_toml
from labmark.practical.kinds import formula_of
from labmark.problems import InputError
from labmark.records import Finding
from labmark.tree import record_tree
from labmark.words import told
from tests.build import run
from tests.build import student as student_of
from tests.seeds import few_quick
from tests.several_classes import LYE, WELL, class_of, endpoints, student

NAMES = ("phenolphthalein", "methyl orange")


def part(text: str, result: str):
    return next(one for one in practical_from_toml(text).parts if one.series.result == result)


def value(one, titre: str, **others: str) -> float:
    """Return the result of a titre and of the others [cm³]."""
    formula = formula_of(one)
    given = [replace(formula.of[name], value=Fraction(text), text=text) for name, text in others.items()]
    return float(formula.given(given).curve.result(Fraction(titre)))


def lye_student(name: str, *runs: str, means=("23.75", "3.75"), results=("3.20", "1.59"), **more):
    rows = [row for number, each in enumerate(runs, start=1) for row in endpoints(f"{number}", each, NAMES, **more)]
    written = dict(zip(NAMES, means, strict=True)) if means else {}
    return student(name, rows, written, dict(zip(("NaOH", "Na2CO3"), results, strict=True)) if results else {})


def titration(name: str, label: str, readings: str):
    return run(label, readings, series=name) | {"label": f"{name} {label.lower()}"}


@pytest.mark.parametrize(
    ("away", "is_said_before"),
    [(-0.40, True), (-0.50, True), (0.40, False), (-0.90, False), (-0.30, True), (-0.10, True)],
)
def test_a_titre_too_small_by_what_the_one_before_has_too_much_is_no_finding_of_its_own(away, is_said_before):
    titres = (("1", "20.00"), ("2", "20.40"), ("3", "20.00"))
    before = student_of(*(run(label, f"0.00 {titre}", titre) for label, titre in titres))
    claim = Finding("undershoot", "", run="2", probability=0.95, evidence={"above_own_level": away})
    assert is_echo(claim, before) is is_said_before


@pytest.mark.parametrize(("away", "is_said_before"), [(-0.50, True), (0.50, False), (-1.20, False), (-0.20, True)])
def test_a_second_endpoint_is_not_always_early_where_the_first_is_always_late(away, is_said_before):
    runs = (run(label, f"0.00 {titre}", titre) for label, titre in (("1", "20.50"), ("2", "20.50")))
    before = replace(student_of(*runs), expected_titre=Fraction(20))
    evidence = {"above_expected": away, "expected": 8.0}
    assert is_echo(Finding("always-short", "", probability=0.95, evidence=evidence), before) is is_said_before


@pytest.mark.slow
def test_a_rough_that_went_past_the_first_endpoint_is_no_level_of_the_second():
    # At the second endpoint tenths were counted upwards: 27.20 stands for 27.80, and 27.25 for 27.75.
    runs = ("0.00 24.00 27.20", "0.00 24.00 27.25", "0.00 24.00 27.20")
    rows = [row for label, each in enumerate(runs, start=1) for row in endpoints(f"{label}", each, NAMES)]
    good = [lye_student(f"S{n}", *["0.00 24.00 27.75"] * 3, means=None, results=None) for n in range(10)]
    upside_down = student("A", [*endpoints("Rough", "0.00 24.50 27.40", NAMES), *rows])
    *_, one = judged(LYE, *good, upside_down).students
    assert {(each.run, each.finding) for each in one.findings} == {(label, "read-upside-down") for label in "123"}


@pytest.mark.parametrize(
    ("first", "second", "is_said_before"),
    [
        ("diluted-titrant", "always-overshoots", True),
        ("diluted-titrant", "diluted-titrant", False),
        ("level-change", "always-short", True),
        ("always-overshoots", "diluted-titrant", False),
        ("diluted-titrant", "overshoot", False),
        ("diluted-titrant", "rounding", False),
    ],
)
def test_a_weak_titrant_goes_by_no_other_name_at_the_second_endpoint(first, second, is_said_before):
    assert is_of_whole_runs(Finding(second, "", probability=0.9), [Finding(first, "")]) is is_said_before


def well_student(name: str, *, total="30.00", calcium="20.00", results=("80.2", "24.3")):
    runs = [
        titration(which, label, f"0.00 {titre}")
        for which, titre in (("total", total), ("calcium", calcium))
        for label in ("1", "2")
    ]
    return student(name, runs, {"total": total, "calcium": calcium}, dict(zip(("Ca", "Mg"), results, strict=True)))


def judged(text: str, *students):
    return judge(class_of(*students), practical_from_toml(text))


def lost(one) -> dict[str, object]:
    """Return the marks that are not full."""
    marks = ((f"{mark.criterion} {mark.result}".strip(), mark) for mark in one.marks)
    return {name: mark.mark for name, mark in marks if mark.mark != mark.out_of}


# --- the chemistry ---


def test_hydroxide_is_the_first_titre_less_what_the_carbonate_took():
    # (23.75 − 3.75) × 0.1000 ÷ 25.0 × 39.997 = 3.200 g/dm³
    assert value(part(LYE, "NaOH"), "23.75", **{"titre.2": "3.75"}) == pytest.approx(3.1998, abs=1e-4)


def test_carbonate_is_the_second_titre_alone():
    # 3.75 × 0.1000 ÷ 25.0 × 105.988 = 1.590 g/dm³
    assert value(part(LYE, "Na2CO3"), "3.75") == pytest.approx(1.58982, abs=1e-4)


def test_magnesium_is_the_total_less_the_calcium():
    # (30.00 − 20.00) × 0.00500 ÷ 50.0 × 24.305 × 1000 = 24.305 mg/dm³
    assert value(part(WELL, "Mg"), "30.00", **{"titre.2": "20.00"}) == pytest.approx(24.305)


def test_what_an_earlier_endpoint_made_is_an_unknown_where_it_is_asked_for():
    text = LYE.replace('"OH^- + H^+ -> H2O", ', "").replace('of = "OH^-"', 'of = "HCO3^-"')
    text = text.replace('expressed_as = "NaOH"', 'expressed_as = "NaHCO3"')
    # (20.00 − 12.50) × 0.1000 ÷ 25.0 × 84.006 = 2.520 g/dm³
    assert value(part(text, "NaOH"), "20.00", **{"titre.1": "12.50"}) == pytest.approx(2.52018, abs=1e-4)


def test_sulfuric_acid_brings_two_hydrogen_ions():
    text = LYE.replace('solution = "HCl"', 'solution = "H2SO4"')
    assert value(part(text, "Na2CO3"), "3.75") == pytest.approx(2 * 1.58982, abs=1e-4)


def test_what_is_brought_may_be_said():
    text = LYE.replace('solution = "HCl"', 'solution = "H2C2O4"')
    with pytest.raises(InputError, match=r"H2C2O4 brings no species .* gives = "):
        practical_from_toml(text)
    said = text.replace("concentration = 0.1000", 'gives = "2 H^+"\nconcentration = 0.1000')
    assert value(part(said, "Na2CO3"), "3.75") == pytest.approx(2 * 1.58982, abs=1e-4)


def test_two_acids_told_apart_by_two_titrants_that_find_both():
    # Ethanedioic acid a and hydrogenethanedioate b: NaOH finds 2 a + b, KMnO4 (a + b) × 2/5.
    text = """
title = "Acid and salt"
[flask]
solution = "crystals in water"
aliquot = 25.0
[burette]
solution = "NaOH"
concentration = 0.1000
[[titrations]]
name = "acid"
equations = [ "H2C2O4 + 2 OH^- -> C2O4^2- + 2 H2O", "HC2O4^- + OH^- -> C2O4^2- + H2O" ]
[[titrations]]
name = "reducer"
burette = { solution = "KMnO4", concentration = 0.0200 }
equations = [ "5 H2C2O4 + 2 MnO4^- + 6 H^+ -> 2 Mn^2+ + 10 CO2 + 8 H2O", "5 HC2O4^- + 2 MnO4^- + 11 H^+ -> 2 Mn^2+ + 10 CO2 + 8 H2O" ]
[[results]]
name = "acid"
of = "H2C2O4"
[[results]]
name = "salt"
of = "HC2O4^-"
"""
    # a = 0.0200, b = 0.0300 mol/dm³: NaOH 25.0 × 0.0700 ÷ 0.1000 = 17.50 cm³, KMnO4 25.0 × 0.0500 × 0.4 ÷ 0.0200 = 25.00.
    assert value(part(text, "acid"), "17.50", **{"titre.2": "25.00"}) == pytest.approx(0.0200)
    salt = part(text, "salt")
    others = {f"titre.{place + 1}" for place in salt.series.others(salt.unknown)}
    assert value(salt, "25.00", **dict.fromkeys(others, "17.50")) == pytest.approx(0.0300)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('equations = [ "HCO3^- + H^+ -> H2O + CO2" ]', 'equations = [ "NH3 + H^+ -> NH4^+" ]', "3 unknowns"),
        ('of = "CO3^2-"', 'of = "NH3"', "found 'NH3', expected one of"),
        ('name = "methyl orange"', 'name = "Phenolphthalein"', "two have the same name"),
        ('"HCO3^- + H^+ -> H2O + CO2"', '"HCO3^- + H^+ -> H2O + CO"', "does not balance"),
        ("aliquot = 25.0", "", r"flask\.aliquot"),
        (
            "[burette]",
            '[[marks]]\ncriterion = "accuracy"\nresult = "KOH"\nunit = "percent"\n'
            "bands = [ { within = 1, mark = 3 } ]\n[burette]",
            "found 'KOH'; name a result: NaOH, Na2CO3",
        ),
        (
            "[burette]",
            "[blank]\ntitre = 0.1\n[burette]",
            "several endpoints: each takes another, .*titrate to each apart",
        ),
        ('"OH^- + H^+ -> H2O", ', "", "finds nothing|unknowns"),
    ],
)
def test_ill_posed_practicals_are_named(old, new, said):
    assert old in LYE
    with pytest.raises(InputError, match=said):
        practical_from_toml(LYE.replace(old, new, 1))


def test_titrations_of_what_was_weighed_into_each_flask_are_refused_with_what_to_do():
    text = """
title = "Acid and chloride"
[sample]
mass = { column = "Mass" }
[[titrations]]
name = "acid"
equations = [ "HCl + NaOH -> NaCl + H2O" ]
burette = { solution = "NaOH", concentration = 0.1000 }
flask = { solution = "mixture" }
[[titrations]]
name = "chloride"
equations = [ "Ag^+ + Cl^- -> AgCl" ]
burette = { solution = "Ag^+", concentration = 0.1000 }
flask = { solution = "mixture" }
[[results]]
name = "acid"
of = "HCl"
quantity = "percent by mass"
[[results]]
name = "chloride"
of = "Cl^-"
quantity = "percent by mass"
"""
    said = "several titrations are of one solution, pipetted; give sample.made_up_to .* write a practical for each"
    with pytest.raises(InputError, match=said):
        practical_from_toml(text)


def test_what_both_endpoints_suffer_from_is_said_once():
    text = LYE.replace('solution = "HCl"', 'solution = "vinegar"\ngives = "H^+"')
    with pytest.raises(InputError) as refused:
        practical_from_toml(text)
    assert [problem.what for problem in refused.value.problems] == [
        "key burette.solution: 'vinegar' is not a chemical formula"
    ]


@pytest.mark.parametrize(
    ("text", "old", "new", "said"),
    [
        (WELL, "concentration = 0.00500", 'concentration = "strong"', "key burette.concentration: found 'strong'"),
        (LYE, "quantity = ", 'quantity = "strength" # ', "key results.1.quantity: found 'strength'"),
        (LYE, "reference = { value = 3.20", 'reference = { value = "x"', "key results.1.reference.value: found 'x'"),
    ],
)
def test_a_mistake_is_said_once_though_its_key_counts_in_several_places(text, old, new, said):
    assert old in text
    with pytest.raises(InputError) as refused:
        practical_from_toml(text.replace(old, new, 1))
    assert [said in str(each) for each in refused.value.problems] == [True]


def test_bands_in_cubic_centimetres_say_nothing_of_a_result_of_several_titres():
    scheme = '[[marks]]\ncriterion = "accuracy"\nresult = "NaOH"\nbands = [ { within = 0.20, mark = 3 } ]\n'
    with pytest.raises(InputError, match="rests on several titres"):
        practical_from_toml(LYE + scheme)


# --- the class ---


def test_the_usual_scheme_says_that_a_result_of_several_titres_is_judged_in_per_cent():
    used = practical_from_toml(LYE).file.marks
    accuracy = {each.result: (each.unit, float(each.bands[-1].within)) for each in used if each.criterion == "accuracy"}
    assert accuracy == {"NaOH": ("percent", 3), "Na2CO3": ("cm3", 0.6)}


def test_whoever_did_it_right_keeps_every_mark_at_both_endpoints():
    one, other = judged(
        LYE,
        lye_student("A", "0.00 23.75 27.50", "0.50 24.25 28.00"),
        lye_student("B", "1.00 24.75 28.50", "0.00 23.75 27.50"),
    ).students
    assert (lost(one), lost(other)) == ({}, {})


def test_nobody_is_told_that_results_are_right_while_one_of_them_is_being_checked():
    none_left = lye_student(
        "A", "0.00 3.75 27.50", "0.00 3.75 27.55", means=("3.75", "23.78"), results=("-8.01", "10.1")
    )
    practical = LYE + "".join(
        f'[[marks]]\ncriterion = "calculation"\nresult = "{name}"\nmark = 3\n' for name in ("NaOH", "Na2CO3")
    )
    one, _ = judged(practical, none_left, lye_student("B", "0.00 23.75 27.50", "0.50 24.25 28.00")).students
    assert [(mark.result, mark.mark, mark.pending) for mark in one.marks] == [
        ("NaOH", None, True),
        ("Na2CO3", 3, False),
    ]
    assert went_well(one) == "What went well: you repeated the titration until your titres agreed."


def test_a_result_is_as_far_from_its_reference_in_the_mark_as_in_the_summary():
    # (23.80 − 3.75) × 0.1000 ÷ 25.0 × 39.997 = 3.2078 g/dm³: 0.24 % above 3.20 g/dm³, but 3.21 is 0.3 % above 3.20.
    one, other = "0.00 23.80 27.55", "0.50 24.30 28.05"
    tree = record_tree(judged(LYE, lye_student("A", one, other), lye_student("B", other, one)), [None, None])
    told = tree["students"][0]
    (reason,) = (
        mark["reason"] for mark in told["marks"] if (mark["criterion"], mark.get("result")) == ("accuracy", "NaOH")
    )
    far = "3.21 g/dm³{} 0.3 % above the reference 3.20"
    assert far.format(",") in told["feedback"]["summary"]
    assert far.format(" is") in reason


TIES = [  # of three runs the first two agree as well as the last two; × 0.1000 ÷ 25.0 × 39.997:
    (
        ("23.85 27.60", "23.95 27.70", "24.05 27.80"),
        ("23.90", "3.75"),
        ("3.22", "1.59"),
        "3.22 g/dm³ is 0.6 % above",
    ),
    (
        ("23.55 27.20", "23.55 27.30", "23.55 27.40"),
        ("23.55", "3.70"),
        ("3.18", "1.57"),
        "3.18 g/dm³ is 0.6 % below",
    ),
]


@pytest.mark.parametrize(("runs", "means", "results", "said"), TIES)
def test_a_result_of_several_titres_is_held_to_its_reference_by_the_runs_that_were_taken(runs, means, results, said):
    own = lye_student("A", *(f"0.00 {each}" for each in runs), means=means, results=results)
    one, *_ = judged(LYE, own, *(lye_student(name, "0.00 23.70 27.45", "0.50 24.25 28.00") for name in "BC")).students
    assert lost(one) == {}
    accuracy = next(mark for mark in one.marks if (mark.criterion, mark.result) == ("accuracy", "NaOH"))
    assert told(accuracy.reason) == f"Your result {said} the reference 3.20: within 1 %."


@pytest.mark.parametrize(("runs", "means", "results", "said"), TIES)
def test_a_sheet_of_several_titres_shows_the_runs_that_a_student_took_where_they_agree_as_well(
    runs, means, results, said
):
    own = lye_student("A", *(f"0.00 {each}" for each in runs), means=means, results=results)
    others = (lye_student(name, "0.00 23.70 27.45", "0.50 24.25 28.00") for name in "BC")
    tree = record_tree(judged(LYE, own, *others), [None] * 3)
    one, other, _ = tree["students"]
    assert [*map(str, one["mean_titres"].values())] != [*means]  # by the rule, for all who look at the data
    sheet = student_data(tree, 0, class_data(tree))
    assert f"NaOH: {said.replace(' is', ',')} the reference 3.20" in sheet["summary"]
    assert [(row["own"], row["sign"]) for row in sheet["claims"]] == [(each, "") for each in (*means, *results)]
    assert [row["given"] for row in sheet["claims"]] == [*means, *results]
    assert "by_own_choice" not in other


def test_a_difference_of_two_means_is_that_of_the_figures_before_it():
    one = lye_student("A", "0.00 23.75 27.50", "0.00 23.80 27.55", "0.00 23.75 27.45", means=("23.77", "3.73"))
    steps = record_tree(judged(LYE, one), [None])["students"][0]["steps"]
    assert (steps[0]["numbers"], steps[0]["shown"]) == ("23.7667 cm³ − 3.7333 cm³", "20.033 cm³")


@pytest.mark.slow
def test_for_which_pipette_several_results_are_is_said_once():
    others = [lye_student(name, "0.00 23.70 27.45", "0.50 24.25 28.00") for name in "BCDEF"]
    own = lye_student("A", "0.00 19.00 22.00", "0.00 19.05 22.05", means=("19.02", "3.00"), results=("2.56", "1.27"))
    one = record_tree(judged(LYE, own, *others), [None] * 6)["students"][0]
    assert one["feedback"]["summary"].count("This is worked out for the practical’s pipette of 25 cm³.") == 1


def test_a_result_that_begins_a_sentence_begins_with_a_capital():
    practical = LYE.replace('name = "Na2CO3"', 'name = "carbonate"')
    one, other = "0.00 23.75 27.50", "0.50 24.25 28.00"
    tree = record_tree(judged(practical, lye_student("A", one, other), lye_student("B", other, one)), [None, None])
    assert ". Carbonate: 1.59 g/dm³" in tree["students"][0]["feedback"]["summary"]


def test_titres_and_means_counted_from_the_initial_reading_are_right_too():
    titres = {"phenolphthalein": "23.75", "methyl orange": "27.50"}
    one = lye_student("A", "0.00 23.75 27.50", "0.50 24.25 28.00", means=("23.75", "27.50"), titres=titres)
    judgement = judged(
        LYE,
        one,
        lye_student("B", "0.00 23.70 27.45", "0.50 24.20 27.95", means=("23.70", "3.75"), results=("3.19", "1.59")),
    )
    assert lost(judgement.students[0]) == {}
    tree = record_tree(judgement, [None, None])["students"][0]
    assert tree["claimed"]["mean_titres"]["methyl orange"] == Decimal("27.50")
    assert tree["runs"][0]["claimed_titres"]["methyl orange"] == Decimal("27.50")


def test_a_mean_counted_from_the_initial_reading_is_told_as_one():
    one = lye_student("A", "0.00 23.75 27.50", "0.50 24.25 28.00", means=("23.75", "27.50"))
    (mean,) = [each for each in judged(LYE, one, one).students[0].marks if each.criterion == "mean"]
    assert mean.reason.endswith("The mean of 3.75, 3.75 counted from the start of each run is 27.50 cm³, as written.")


def test_a_mean_counted_from_the_initial_reading_is_told_with_the_digits_written():
    # (27.50 + 27.55 + 27.55) / 3 = 27.533, and 23.767 of it to the first endpoint.
    runs = ("0.00 23.75 27.50", "0.00 23.80 27.55", "0.00 23.75 27.55")
    one = lye_student("A", *runs, means=("23.77", "27.53"))
    judgement = judged(LYE, one, one)
    (mean,) = [each for each in judgement.students[0].marks if each.criterion == "mean"]
    assert mean.reason.endswith("counted from the start of each run is 27.533 cm³; 27.53 is right.")
    tree = record_tree(judgement, [None, None])["students"][0]
    assert tree["claimed"]["mean_titres"]["methyl orange"] == Decimal("27.53")


def test_a_mean_counted_from_the_initial_reading_may_be_the_sum_of_two_that_were_rounded():
    # 23.767 and 3.767 are 27.533 in all; 23.77 + 3.77 = 27.54, and 23.67 + 3.77 = 27.44 carries a slip forward.
    runs = ("0.00 23.75 27.50", "0.00 23.80 27.55", "0.00 23.75 27.55")
    rows = ("A", "23.77", "27.54"), ("B", "23.67", "27.44")
    students = [lye_student(name, *runs, means=tuple(means)) for name, *means in rows]
    right, slip = judged(LYE, *students).students
    assert lost(right) == {}
    (mean,) = [each for each in slip.marks if each.criterion == "mean"]
    assert mean.reason == "Phenolphthalein: The mean of 23.75, 23.80, 23.75 is 23.767 cm³, but 23.67 is written."


def test_who_wrote_no_means_is_not_told_of_them():
    one = lye_student("A", "0.00 23.75 27.50", "0.50 24.25 28.00", means=None)
    first = next(each for each in judged(LYE, one, one).students[0].marks if each.criterion == "calculation")
    assert told(first.reason).startswith("The result follows from the means of your titres (3.20 ")


def test_a_slip_at_one_endpoint_costs_its_criterion_once_and_nothing_of_the_other_result():
    # The carbonate from the reading of methyl orange itself: 27.50 × 0.1000 ÷ 25.0 × 105.99 = 11.66.
    wrong = lye_student("A", "0.00 23.75 27.50", "0.50 24.25 28.00", results=("3.20", "11.66"))
    one, _ = judged(LYE, wrong, lye_student("B", "0.00 23.75 27.50", "0.50 24.25 28.00")).students
    assert "calculation Na2CO3" in lost(one)
    assert "calculation NaOH" not in lost(one)
    assert all("Na2CO3" in each.message or each.finding == "same-readings" for each in one.findings)


def exchanged(*own: str):
    """Students of whom the first wrote these under NaOH and Na2CO3, the second what is right."""
    return judged(
        LYE,
        lye_student("A", "0.00 23.75 27.50", "0.50 24.25 28.00", results=own),
        lye_student("B", "1.00 24.70 28.45", "0.00 23.75 27.50"),
    ).students


@pytest.mark.parametrize(
    ("results", "says", "tell"),
    [
        # 0.0150 × 39.997 = 0.600; 0.0800 × 105.99 = 8.48
        (("3.20", "0.600"), ["Na2CO3: Taking the molar mass of NaOH gives"], "which formula it is of"),
        (
            ("8.48", "0.600"),
            ["NaOH: Taking the molar mass of Na₂CO₃ gives", "Likewise Na2CO3."],
            "which formula it is of",
        ),
        # 23.75 × 0.1000 ÷ 25.0 × 105.99 = 10.1; (23.75 − 3.75) × 0.1000 ÷ 25.0 × 105.99 = 8.48
        (("3.20", "10.1"), ["Na2CO3: Using the mean titre of “phenolphthalein” gives"], "what each titre finds"),
        (("3.20", "8.48"), ["Using the difference from the mean titre of “phenolphthalein”"], "what each titre finds"),
    ],
)
def test_what_belongs_to_the_other_result_is_named(results, says, tell):
    made = judged(LYE, lye_student("A", "0.00 23.75 27.50", "0.50 24.25 28.00", results=results))
    one, told_of = made.students[0], record_tree(made, [None])["students"][0]["feedback"]
    assert all(each in " ".join(told_of["causes"]) for each in says)
    assert tell in " ".join(told_of["next"])
    assert set(lost(one)) <= {"calculation NaOH", "calculation Na2CO3"}
    assert all(mark.mark == mark.out_of - 1 for mark in one.marks if mark.mark is not None and mark.mark < mark.out_of)


def test_slips_in_two_results_are_told_together_where_they_are_the_same_and_apart_where_they_differ():
    def causes(*results: str) -> list[str]:
        made = judged(LYE, lye_student("A", "0.00 23.75 27.50", "0.50 24.25 28.00", results=results))
        return [str(each) for each in record_tree(made, [None])["students"][0]["feedback"]["causes"]]

    # Both 1000 times too large: 3200 for 3.20, 1590 for 1.59. Or NaOH 10 times, and Na2CO3 half of it for no known cause.
    (both,) = causes("3200", "1590")
    assert both.startswith("NaOH: Leaving a volume in cm³ where dm³ is needed gives ")
    assert both.endswith(" Likewise Na2CO3.")
    assert [each.partition(":")[0] for each in causes("32.0", "0.795")] == ["NaOH", "Na2CO3"]


def test_who_left_one_of_two_results_blank_is_told_to_fill_it_in():
    blank = lye_student("A", "0.00 23.75 27.50", "0.50 24.25 28.00", results=("3.20", None))
    made = judged(LYE, blank, lye_student("B", "1.00 24.70 28.45", "0.00 23.75 27.50"))
    told_of = record_tree(made, [None, None])["students"][0]["feedback"]
    assert told_of["next"] == [
        "Fill in every answer, even one that you are not sure of: what is blank cannot be marked."
    ]


def test_results_written_in_each_others_place_are_one_slip_and_the_sums_stand():
    one, other = exchanged("1.59", "3.20")
    (slip,) = (each for each in one.findings if each.evidence.get("criterion") == "calculation")
    assert (slip.finding, slip.level) == ("result-slip", "fault")
    assert slip.message == (
        "NaOH: The results of NaOH and Na2CO3 are the wrong way round: 3.20 belongs to NaOH, 1.59 to Na2CO3."
    )
    assert slip.cells == ("A!NaOH", "A!Na2CO3")
    (mark,) = (each for each in one.marks if each.criterion == "calculation" and each.mark != each.out_of)
    assert (mark.result, mark.mark) == ("NaOH", mark.out_of - 1)
    assert lost(one).keys() == {"calculation NaOH"}
    assert lost(other) == {}


@pytest.mark.parametrize("results", [("3.20", "1.59"), ("-3.20", "10.1")])
def test_means_written_in_each_others_place_are_one_slip_and_the_sums_stand(results):
    # As the means were written: (3.75 − 23.75) × 0.1000 ÷ 25.0 × 39.997 = −3.20; 23.75 × 0.1000 ÷ 25.0 × 105.99 = 10.1
    own = lye_student("A", "0.00 23.75 27.50", "0.50 24.25 28.00", means=("3.75", "23.75"), results=results)
    one = judged(LYE, own, lye_student("B", "1.00 24.70 28.45", "0.00 23.75 27.50")).students[0]
    (slip,) = (each for each in one.findings if each.evidence.get("criterion") == "mean")
    assert (slip.finding, slip.level) == ("mean-slip", "fault")
    assert slip.message == (
        "The means of phenolphthalein and methyl orange are the wrong way round: 23.75 cm³ belongs to phenolphthalein, "
        "3.75 cm³ to methyl orange."
    )
    assert slip.cells == ("A!phenolphthalein", "A!methyl orange")
    assert lost(one).keys() == {"mean"}
    claimed = record_tree(judged(LYE, own), [None])["students"][0]["claimed"]["mean_titres"]
    assert claimed == {"phenolphthalein": Decimal("3.75"), "methyl orange": Decimal("23.75")}


@pytest.mark.parametrize(
    ("results", "mark"),
    few_quick(
        [
            # 0.0800 and 0.0150 mol/dm³: the molar mass left out of both
            (("0.0800", "0.0150"), 3),
            # 0.0800 × 1000 mol: the same, and cm³ for dm³ in one of them besides
            (("80.0", "0.0150"), 2),
            # 0.0800, and the decimal point of 1.59 out
            (("0.0800", "15.9"), 2),
            # 3.44 is no usual slip of either
            (("0.0800", "3.44"), 0),
        ],
        2,
    ),
)
def test_a_slip_made_in_every_result_costs_one_calculation_of_all_of_them_once(results, mark):
    text = "marks = [ { criterion = 'calculation', mark = 4 } ]\n" + LYE
    one, _ = judged(
        text,
        lye_student("A", "0.00 23.75 27.50", "0.50 24.25 28.00", results=results),
        lye_student("B", "1.00 24.70 28.45", "0.00 23.75 27.50"),
    ).students
    (given,) = one.marks
    assert given.mark == mark
    costs = [int(cost) for cost in re.findall(r"costs (\d)", given.reason)]
    assert sum(costs) == 4 - mark or not mark


def test_the_file_keeps_results_where_they_were_written_in_each_others_place():
    students = exchanged("1.59", "3.20")
    assert [str(one.student.own_result) for one in students] == ["1.59", "3.20"]


@pytest.mark.slow
@pytest.mark.parametrize("own", [("1.59", "1.59"), ("1.59", "3.60"), ("3.20", "3.20")])
def test_results_that_are_not_both_right_in_the_others_place_were_not_exchanged(own):
    one, _ = exchanged(*own)
    assert not any("each other" in each.message for each in one.findings)


def test_a_result_may_be_worked_from_the_roughs_of_both_titres():
    # By hand: (24.30 − 3.95) × 0.1000 ÷ 25.0 × 39.997 = 3.256, and 3.95 × 0.1000 ÷ 25.0 × 105.99 = 1.675.
    rows = [*endpoints("Rough", "0.00 24.30 28.25", NAMES), *endpoints("1", "0.00 23.75 27.50", NAMES)]
    rows += endpoints("2", "0.50 24.25 28.00", NAMES)
    rough = student("A", rows, dict(zip(NAMES, ("23.75", "3.75"), strict=True)), {"NaOH": "3.26", "Na2CO3": "1.67"})
    one, _ = judged(LYE, rough, lye_student("B", "0.00 23.70 27.45", "0.50 24.25 28.00")).students
    assert [each.finding for each in one.findings] == ["rough-in-result", "rough-in-result"]
    assert "(24.30 − 3.95) × 0.1000 ÷ 25.00 × 39.997" in one.findings[0].message


def test_a_result_follows_from_a_mistyped_mean_of_the_other_titre():
    # 23.75 − 4.75 (for 3.75) = 19.00; × 0.1000 ÷ 25.0 × 39.997 = 3.04: the mean costs once, the hydroxide nothing.
    wrong = lye_student("A", "0.00 23.75 27.50", "0.50 24.25 28.00", means=("23.75", "4.75"), results=("3.04", "2.01"))
    one, _ = judged(LYE, wrong, lye_student("B", "0.00 23.70 27.45", "0.50 24.25 28.00")).students
    assert lost(one).keys() == {"mean"}


def test_readings_that_do_not_increase_are_said_and_the_run_is_not_used():
    wrong = lye_student("A", "0.00 23.75 20.50", "0.50 24.25 28.00", "0.00 23.75 27.50")
    one, _ = judged(LYE, wrong, lye_student("B", "0.00 23.70 27.45", "0.50 24.25 28.00")).students
    assert [each.run for each in one.findings if each.finding == "reversed-readings"] == ["1"]
    assert all(not part.students[0].student.runs[0].usable for part in judged(LYE, wrong).parts)


def test_a_scale_that_counts_down_at_every_endpoint_is_said_and_costs_nothing():
    down = lye_student("A", "50.00 26.25 22.50", "49.50 25.75 22.00")
    one, _ = judged(LYE, down, lye_student("B", "0.00 23.70 27.45", "0.50 24.25 28.00")).students
    assert ([each.finding for each in one.findings], lost(one)) == (["counts-down"], {})
    assert [float(each.students[0].student.mean or 0) for each in judged(LYE, down).parts] == [23.75, 3.75]


def test_who_has_no_reading_at_the_second_endpoint_has_a_pending_mark_and_no_result():
    rows = [row for row in endpoints("1", "0.00 23.75 27.50", NAMES) if row["series"] == NAMES[0]]
    rows += [row for row in endpoints("2", "0.50 24.25 28.00", NAMES) if row["series"] == NAMES[0]]
    bare = student("A", rows, {NAMES[0]: "23.75"}, {"NaOH": "3.20"})
    one, _ = judged(LYE, bare, lye_student("B", "0.00 23.70 27.45", "0.50 24.25 28.00")).students
    assert {mark.criterion for mark in one.marks if mark.pending and mark.result == "NaOH"} >= {
        "calculation",
        "accuracy",
    }


def test_several_titrations_are_judged_side_by_side():
    one, other = judged(
        WELL, well_student("A"), well_student("B", total="30.05", calcium="20.05", results=("80.4", "24.3"))
    ).students
    assert (lost(one), lost(other)) == ({}, {})
    tree = record_tree(judged(WELL, well_student("A"), well_student("B")), [None, None])["students"][0]
    assert [each["label"] for each in tree["runs"]] == ["total 1", "total 2", "calcium 1", "calcium 2"]
    assert {each["titration"] for each in tree["runs"]} == {"total", "calcium"}
    assert tree["mean_titres"] == {"total": Decimal("30.00"), "calcium": Decimal("20.00")}
    assert tree["results"]["Mg"]["value"] == pytest.approx(24.305)
    assert tree["claimed"]["results"] == {"Ca": Decimal("80.2"), "Mg": Decimal("24.3")}


def test_roughs_of_other_titres_are_taken_together_or_not_at_all():
    with_rough, without = student_of(run("Rough", "0.00 25.00", "25.00")), student_of(run("1", "0.00 3.75", "3.75"))
    assert [each.value for each in several._roughs((0, 1), (with_rough, with_rough))] == [25, 25]
    assert several._roughs((0, 1), (with_rough, without)) == ()


def test_one_run_of_one_titration_is_no_rough_beside_two_agreeing_runs_of_the_other():
    # 30.00 for the total lies 10 cm³ above two runs for the calcium that agree, and has nothing to do with them.
    def one_total(name):
        runs = [("total", "1", "30.00"), ("calcium", "1", "20.00"), ("calcium", "2", "20.00")]
        return student(name, [titration(which, label, f"0.00 {titre}") for which, label, titre in runs])

    tree = record_tree(judged(WELL, *(one_total(f"Student {letter}") for letter in "ABC")), [None] * 3)
    kinds = {run["kind"] for one in tree["students"] for run in one["runs"]}
    assert kinds == {"accurate"}


def with_first_total(name, first, more=""):
    """A student whose first total lies above two that agree, and who has two runs for the calcium."""
    runs = [("total", "1", first), ("total", "2", "30.00"), ("total", "3", "30.05")]
    runs += [("calcium", "1", "20.00"), ("calcium", "2", "20.00")]
    rows = [titration(which, label, f"0.00 {titre}") for which, label, titre in runs]
    return student(name, rows, {"total": more} if more else {})


def test_first_runs_of_one_titration_that_lie_above_the_others_are_roughs_of_it_and_it_is_said():
    tree = record_tree(judged(WELL, *(with_first_total(f"Student {letter}", "31.20") for letter in "ABC")), [None] * 3)
    one = tree["students"][0]
    assert [run["kind"] for run in one["runs"]] == ["rough", *["accurate"] * 4]
    assert "total 1 (31.20 cm³) was taken for the rough titration" in one["notes"][0]
    assert "total: the first runs of 3 of 3 students, none of them called a rough" in tree["source"]["notes"][0]
    assert {each["finding"] for each in one["findings"]} <= {"same-readings"}


def test_a_first_run_that_is_in_the_written_mean_of_its_titration_stays_a_run():
    # (31.20 + 30.00 + 30.05) / 3 = 30.42
    others = (with_first_total(f"Student {letter}", "31.20") for letter in "BC")
    tree = record_tree(judged(WELL, with_first_total("A", "31.20", "30.42"), *others), [None] * 3)
    assert [run["kind"] for run in tree["students"][0]["runs"]] == ["accurate"] * 5
    assert [run["kind"] for run in tree["students"][1]["runs"]] == ["rough", *["accurate"] * 4]


def test_a_mean_of_one_titration_never_leaks_into_the_other():
    far = judged(WELL, well_student("A", calcium="21.00", results=("84.2", "21.9")), well_student("B")).students[0]
    assert {mark.criterion for mark in far.marks if mark.mark != mark.out_of} == {"accuracy"}


def test_the_titres_that_all_references_call_for_follow_forwards():
    practical = practical_from_toml(LYE)
    references = [several_reference("3.20"), several_reference("1.59")]
    titres = several.forward(practical.parts, [formula_of(one) for one in practical.parts], references)
    # 3.20 ÷ 39.997 and 1.59 ÷ 105.988 mol/dm³: 25.0 × (0.080006 + 0.015002) ÷ 0.1000, and 25.0 × 0.015002 ÷ 0.1000
    assert [round(float(titre or 0), 3) for titre in titres] == [23.752, 3.750]


def several_reference(text: str):
    from labmark.assessed import ReferenceValue

    return ReferenceValue(float(text), None, "practical", Fraction(text))


def test_a_reading_between_two_titres_makes_the_hydroxide_more_uncertain_than_two_titres_would():
    # Readings r0, r1, r2 of one run, V1 − V2 = 2 r1 − r0 − r2: √(4 + 1 + 1) of one reading, not √4 (GUM, 5.1.2).
    judgement = judged(LYE, lye_student("A", "0.00 23.75 27.50", "0.50 24.25 28.00"))
    uncertain = judgement.parts[0].shown(0).uncertain
    assert uncertain is not None
    lines = {each["source"]: each["value"] for each in uncertain.budget.rows}
    one_reading = 0.05 / 3**0.5
    assert lines["two readings, phenolphthalein"] == pytest.approx(6**0.5 * one_reading / 2**0.5)


# --- published ---


@pytest.mark.parametrize(
    ("source", "equations", "titrant", "aliquot", "readings", "published"),
    [
        (
            "AP EAMCET (Engineering) 2013, solved paper, as on examsnet.com: 20 mL of a solution of Na2CO3 and NaHCO3 take "
            "20 mL of 0.1 M HCl to phenolphthalein and 60 mL to methyl orange; 0.1 M of each",
            '"CO3^2- + H^+ -> HCO3^-"',
            "0.1",
            "20",
            "0.00 20.00 60.00",
            {"CO3^2-": 0.1, "HCO3^-": 0.1},
        ),
    ],
)
def test_published_mixtures_come_out_as_printed(source, equations, titrant, aliquot, readings, published, tmp_path):
    (first, second), names = published, ("first", "second")
    practical = f"""
title = "Published"
burette = {{ solution = "HCl", concentration = {titrant}, capacity = 100.0 }}
flask = {{ solution = "mixture", aliquot = {aliquot} }}
endpoints = [
  {{ name = "phenolphthalein", equations = [ {equations} ] }},
  {{ name = "methyl orange", equations = [ "HCO3^- + H^+ -> H2O + CO2" ] }},
]
results = [ {{ name = "first", of = "{first}" }}, {{ name = "second", of = "{second}" }} ]
"""
    (tmp_path / "p.toml").write_text(practical, encoding="utf-8")
    heads = [f"Run {run} {name}" for run in (1, 2) for name in ("initial", *NAMES)]
    (tmp_path / "c.csv").write_text(
        f"Student,{','.join(heads)}\nS01,{','.join(readings.split() * 2)}\n", encoding="utf-8"
    )
    tree = judged_tree(tmp_path / "c.csv", str(tmp_path / "p.toml"), ())
    results = tree["students"][0]["results"]
    assert [results[name]["value"] for name in names] == pytest.approx(list(published.values())), source


OWN_MASSES = """
title = "Washing powder, weighed into every flask"
burette = { solution = "HCl", concentration = 0.1000 }
flask = { solution = "powder" }
sample = { mass = { column = "Mass" } }
endpoints = [
  { name = "phenolphthalein", equations = [ "CO3^2- + H^+ -> HCO3^-" ] },
  { name = "methyl orange", equations = [ "HCO3^- + H^+ -> H2O + CO2" ] },
]
results = [
  { name = "soda", of = "CO3^2-", expressed_as = "Na2CO3", quantity = "percent by mass" },
  { name = "bicarbonate", of = "HCO3^-", expressed_as = "NaHCO3", quantity = "percent by mass" },
]
"""


@pytest.mark.slow
def test_runs_with_masses_of_their_own_take_the_other_titre_of_the_same_run(tmp_path):
    heads = [f"Run {run} {what}" for run in (1, 2) for what in ("mass / g", "initial", *NAMES)]
    rows = [["Student", *heads, "Result soda", "Result bicarbonate"]]
    # 0.2000 g take 12.50 and 20.00 cm³, so that 66.2 % is soda and 31.5 % bicarbonate, by hand:
    # 0.01250 × 0.1000 × 105.99 ÷ 0.2000 and (0.02000 − 0.01250) × 0.1000 × 84.01 ÷ 0.2000
    for student_, (one, other) in {"A": (0.2000, 0.2400), "B": (0.1600, 0.2000), "C": (0.2000, 0.1600)}.items():
        row = [student_]
        for mass in (one, other):
            first, second = 12.50 * mass / 0.2, 20.00 * mass / 0.2
            row += [f"{mass:.4f}", "0.00", f"{first:.2f}", f"{first + second:.2f}"]
        rows.append([*row, "66.2", "31.5"])
    (tmp_path / "p.toml").write_text(OWN_MASSES, encoding="utf-8")
    (tmp_path / "c.csv").write_text("\n".join(",".join(row) for row in rows), encoding="utf-8")
    tree = judged_tree(tmp_path / "c.csv", str(tmp_path / "p.toml"), ())
    assert [one["total"] == one["out_of"] for one in tree["students"]] == [True] * 3
    assert tree["students"][0]["results"]["bicarbonate"]["value"] == pytest.approx(31.5, abs=0.05)
    run = tree["students"][0]["runs"][1]
    assert (run["result"], run["results"]["bicarbonate"]) == pytest.approx((66.2, 31.5), abs=0.05)
    assert run["result"] == run["results"]["soda"]  # the first of them, as the student's


@pytest.mark.parametrize(
    ("equation", "of", "lumped"),
    [
        ("NaOH + Na2CO3 + 3 HCl -> 3 NaCl + 2 H2O + CO2", "NaOH", True),
        ("Ca^2+ + Mg^2+ + 2 H2Y^2- -> CaY^2- + MgY^2- + 4 H^+", "Ca^2+", True),
        ("2 KMnO4 + 10 FeSO4 + 8 H2SO4 -> 2 MnSO4 + 5 Fe2(SO4)3 + K2SO4 + 8 H2O", "FeSO4", False),
        ("2 MnO4^- + 5 H2O2 + 6 H^+ -> 2 Mn^2+ + 5 O2 + 8 H2O", "H2O2", False),
        ("2 CuSO4 + 4 KI + 2 Na2S2O3 -> 2 CuI + 2 K2SO4 + 2 NaI + Na2S4O6", "CuSO4", False),
    ],
)
def test_two_reactions_in_one_equation_are_refused(equation, of, lumped):
    titrant = next(each for each in ("HCl", "H2Y^2-", "KMnO4", "MnO4^-", "Na2S2O3") if each in equation)
    text = f"""
title = "Two in one?"
equation = "{equation}"
burette = {{ solution = "{titrant}", concentration = 0.1 }}
flask = {{ solution = "{of}", aliquot = 25.0 }}
result = {{ of = "{of}" }}
"""
    if not lumped:
        assert practical_from_toml(text).known.name.replace("^", "") == titrant.replace("^", "")
        return
    with pytest.raises(InputError, match=r"as well as with .*endpoints"):
        practical_from_toml(text)


# --- one tick for all endpoints of a run ---

FIRST_AGREES = ("0.00 23.75 27.50", "0.50 24.25 28.30", "1.00 24.75 28.50")  # methyl orange: 3.75, 4.05, 3.75


@pytest.mark.parametrize("tick", [True, None])
def test_a_run_that_is_ticked_for_one_endpoint_may_be_left_out_at_the_other(tick):
    [one] = judged(LYE, lye_student("A", *FIRST_AGREES, tick=tick)).students
    assert not {"selection", "mean", "calculation NaOH", "calculation Na2CO3"} & lost(one).keys()
    assert "mean-slip" not in {each.finding for each in one.findings}


def test_a_mean_of_titres_that_do_not_agree_is_told_whatever_is_ticked():
    [one] = judged(LYE, lye_student("A", *FIRST_AGREES, tick=True, means=("23.75", "3.85"))).students
    assert lost(one)["selection"] == 0  # (3.75 + 4.05 + 3.75) / 3 = 3.85


def test_the_same_at_another_endpoint_is_named_with_it():
    runs = ("0.00 23.75 27.50", "0.50 24.25 28.00", "0.00 24.20 28.30")  # 0.45 and 0.35 too much in run 3
    tree = record_tree(
        judged(LYE, lye_student("A", *runs), *(lye_student(name, *runs[:2]) for name in "BCD")), [None] * 4
    )
    [cause] = tree["students"][0]["feedback"]["causes"]
    assert cause.startswith("Phenolphthalein, run 3 very probably went past the endpoint")
    assert cause.endswith("Likewise methyl orange (run 3).")


@pytest.mark.slow
def test_another_titre_that_is_out_alike_is_named_too():
    both = well_student("A", total="30.70", calcium="20.70", results=("83.0", "24.3"))
    tree = record_tree(judged(WELL, both, *(well_student(name) for name in "BCDEFGH")), [None] * 8)
    [cause] = tree["students"][0]["feedback"]["causes"]
    assert cause.startswith("Calcium: Every run ")
    assert cause.endswith(" Likewise total.")


@pytest.mark.slow
def test_who_is_far_from_the_reference_of_another_result_is_not_said_to_be_far_from_the_class(tmp_path):
    ends = ",".join(f"Run {n} initial,Run {n} phenolphthalein,Run {n} methyl orange" for n in (1, 2))
    rows = [f"S{n},0.00,{25 + n % 3 / 20:.2f},28.95,0.00,{25 + n % 3 / 20:.2f},28.95" for n in range(10)]
    (tmp_path / "class.csv").write_text("\n".join([f"Student,{ends}", *rows]), encoding="utf-8")
    tree = judged_tree(tmp_path / "class.csv", "hydroxide-and-carbonate", ())
    assert [each["finding"] for each in tree["class"]["findings"]] == ["reference-doubtful"]
    why = {one["attention"]["why"] for one in tree["students"] if one["attention"]}
    assert {each.partition(" standard deviations from ")[2] for each in why} == {
        "the reference, and nothing explains it"
    }
