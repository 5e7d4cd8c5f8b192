"""Marks with errors carried forward: a slip costs its own criterion once, and every mark gives its reason."""

from decimal import Decimal
from fractions import Fraction

import pytest

from labmark.diagnose.plain import Setting, plain_findings
from labmark.diagnose.working_calculation import calculation
from labmark.diagnose.working_mean_slips import own_mean
from labmark.facts import Asked
from labmark.judge.case import Case, Claimed
from labmark.judge.marks import marks
from labmark.judge.own_result import judged_result
from labmark.judge.worked import chosen_by
from labmark.judge.working import working_findings
from labmark.outputs.language import language
from labmark.practical.file import PracticalFile
from labmark.practical.scheme import Band, Criterion
from labmark.words import NOT_AGAINST_YOU, reported, told
from tests.build import run, student
from tests.classes import scattered, titres, tree_of
from tests.practicals import DRAIN_CLEANER, practical
from tests.seeds import few_quick

SETTING = Setting(capacity=50_000, step=50, within=100, at_least=2)
# 25.0 cm³ of alkali against 0.0500 mol/dm³ acid, 2 : 1: a mean of 24.38 cm³ gives 0.0975 mol/dm³.
ROUGH = run("Rough", "0.00 24.90", "24.90", tick=False)
ONE = run("1", "0.00 24.35", "24.35", tick=True)
TWO = run("2", "0.00 24.40", "24.40", tick=True)
GOOD = (ROUGH, ONE, TWO)
THREE = (
    ROUGH | {"final": 25_100, "titre": 25_100},
    run("1", "0.00 24.60", "24.60", tick=True),
    run("2", "0.00 24.55", "24.55", tick=True),
    run("3", "0.00 24.55", "24.55", tick=True),
)


def marked(
    *runs, mean="24.38", result="0.0975", expected="24.35", scheme=None, asked=None, waits=None, gives=None, **more
):
    import dataclasses

    one = dataclasses.replace(student(*runs, mean=mean, result=result, **more), expected_titre=Fraction(expected))
    own, sums, scheme = own_mean(one, 2, 100), calculation(practical()), scheme or practical().file.marks
    right = judged_result(one, own, sums)
    found = [*plain_findings(one, SETTING), *working_findings(Claimed(one, own, right, sums), 100)]
    one, claim = chosen_by(one, own), Claimed(one, own, right, sums)
    names = frozenset(each.criterion for each in scheme)
    case = Case(one, found, claim, asked or Asked(), SETTING, 3, "mol/dm3", names, waits or {}, gives=gives)
    return {each.criterion: each for each in marks(case, scheme)}


def lost(*runs, **more):
    return {name: each.mark for name, each in marked(*runs, **more).items() if each.mark != each.out_of}


def test_a_rough_and_a_run_without_titres_are_named_as_in_a_sentence():
    bare = run("Rough", "0.00 24.90", tick=False), run("1", "0.00 24.35", tick=True)
    assert marked(*bare, TWO)["table"].reason == "The rough and run 1: no titre is written."


def test_good_work_earns_full_marks():
    assert lost(*GOOD) == {}


def test_a_rough_that_is_read_to_one_decimal_costs_nothing():
    # It shows where the endpoint lies, and need not be read closely (common practice, no source).
    given = marked(run("Rough", "0.0 24.9", "24.9", tick=False), *GOOD[1:])["recording"]
    assert (given.mark, given.out_of) == (1, 1)
    assert given.reason == "Every reading that counts is recorded as finely as the burette allows."


@pytest.mark.parametrize(
    ("runs", "claims", "cost"),
    [
        ((ROUGH, ONE, run("2", "0.00 24.4", "24.40", tick=True)), {}, {"recording": 0}),
        ((*GOOD, run("3", "0.00 -", tick=False)), {}, {"table": 0}),
        ((*GOOD, run("3", "0.00 24.50", tick=False)), {}, {"table": 0}),
        # A titre 0.10 too small, carried into a mean and a result that follow from it.
        (
            (ROUGH, ONE, run("2", "0.00 24.40", "24.30", tick=True)),
            {"mean": "24.33", "result": "0.0973"},
            {"titres": 0},
        ),
        ((ROUGH | {"ticked": True}, ONE, TWO), {"mean": "24.55", "result": "0.0982"}, {"selection": 0}),
        ((*GOOD, run("3", "0.00 24.90", "24.90", tick=True)), {"mean": "24.55", "result": "0.0982"}, {"selection": 0}),
        (GOOD, {"mean": "25.38", "result": "0.102"}, {"mean": 0}),
        (GOOD, {"result": "0.0487"}, {"calculation": 1}),
        (GOOD, {"result": "0.098"}, {"figures": 0}),
        (GOOD, {"result": "0.09750"}, {"figures": 0}),
        # 24.567 to one decimal; the result follows from what is written.
        (THREE, {"mean": "24.6", "result": "0.0984", "expected": "24.55"}, {"mean": 0}),
        (GOOD, {"expected": "24.10"}, {"accuracy": 2}),
        (GOOD, {"expected": "23.00"}, {"accuracy": 0}),
        (GOOD, {"mean": None, "result": "0.0975"}, {"mean": 0}),
        (GOOD, {"result": None}, {"calculation": 0, "figures": None}),
    ],
)
def test_a_slip_costs_its_own_criterion_once(runs, claims, cost):
    assert lost(*runs, **claims) == cost


@pytest.mark.parametrize(("difference", "mark"), [("0.20", 3), ("0.2001", 2), ("0.40", 2), ("0.60", 1), ("0.61", 0)])
def test_bands_are_inclusive_to_the_last_digit(difference, mark):
    expected = str(Decimal("24.375") + Decimal(difference))
    assert marked(*GOOD, expected=expected)["accuracy"].mark == mark


def test_a_limit_is_told_as_this_scheme_writes_it_whatever_scheme_came_before():
    for within in ("0.20", "0.2"):
        bands = (Band(within=Decimal(within), mark=Decimal(3)),)
        scheme = [Criterion(criterion="accuracy", bands=bands)]
        assert marked(*GOOD, scheme=scheme)["accuracy"].reason.endswith(f": within {within} cm³.")
        assert marked(*GOOD, expected="23.00", scheme=scheme)["accuracy"].reason.endswith(f": more than {within} cm³.")


def test_accuracy_may_be_in_per_cent():
    scheme = [Criterion(criterion="accuracy", unit="percent", bands=(Band(within=Decimal(1), mark=Decimal(2)),))]
    assert marked(*GOOD, expected="24.14", scheme=scheme)["accuracy"].mark == 2
    assert marked(*GOOD, expected="24.13", scheme=scheme)["accuracy"].mark == 0


def test_concordance_may_have_bands():
    bands = (Band(within=Decimal("0.10"), mark=Decimal(2)), Band(within=Decimal("0.20"), mark=Decimal(1)))
    scheme = [Criterion(criterion="concordance", bands=bands)]
    for final, mark in (("24.45", 2), ("24.50", 1), ("24.60", 0)):
        assert marked(ONE, run("2", f"0.00 {final}", tick=True), scheme=scheme)["concordance"].mark == mark


def test_a_student_who_used_another_largest_set_is_marked_on_that_one():
    runs = (
        run("1", "0.00 24.30", "24.30", tick=True),
        run("2", "0.00 24.40", "24.40", tick=True),
        run("3", "0.00 24.50", "24.50", tick=False),
    )
    given = marked(*runs, mean="24.35", result="0.0974", expected="24.15")
    assert given["selection"].mark == 1
    # 24.35 is within 0.20 of 24.15; the set of runs 2 and 3, with 24.45, would not be.
    assert given["accuracy"].mark == 3


def test_nobody_is_marked_on_a_column_that_is_not_there():
    given = marked(*GOOD, asked=Asked(titres_of=frozenset(), result=False))
    assert {"titres", "calculation", "figures"}.isdisjoint(given)


def test_a_run_that_has_no_column_for_its_titre_costs_nobody_the_table():
    bare = run("Rough", "0.00 24.90", tick=False)
    assert marked(bare, ONE, TWO)["table"].mark == 0
    tree = tree_of([({}, [bare, ONE, TWO]), ({}, [bare, ONE, TWO])])
    assert [each["mark"] for each in tree["students"][0]["marks"] if each["criterion"] == "table"] == [1]


def never_calculated(label, readings):
    return run(label, readings, odd={"titre": "formula never calculated"}, spoilt=("titre",), tick=label != "Rough")


def waiting(*runs, **more):
    return {name: each.reason for name, each in marked(*runs, **more).items() if each.pending}


def test_titres_that_the_spreadsheet_spoilt_wait_and_are_not_said_to_be_missing():
    spoilt = [never_calculated("1", "0.00 24.35"), never_calculated("2", "0.00 24.40")]
    waits = {"titres": "The cell holds “formula never calculated”, which cannot be read as a number."}
    assert lost(ROUGH, spoilt[0], TWO) == {"titres": None}
    assert waiting(ROUGH, spoilt[0], TWO) == waits
    assert lost(never_calculated("Rough", "0.00 24.90"), *spoilt) == {"titres": None}
    assert waiting(never_calculated("Rough", "0.00 24.90"), *spoilt) == waits


def test_a_run_that_stands_in_brackets_is_recorded_all_the_same():
    given = lost(*GOOD, run("3", "- -", odd={"initial": "(0.00)", "final": "(24.90)"}, tick=False))
    assert given == {}


def test_what_the_spreadsheet_spoilt_is_not_held_against_anyone():
    date = run("3", "0.00 -", odd={"final": "a date (22 May)"}, spoilt=("final",), tick=False)
    assert lost(*GOOD, date) == {}


@pytest.mark.parametrize(("name", "begins"), [("de", "Kein "), ("fr", "Aucun "), ("es", "Ningún ")])
def test_that_no_run_gives_a_titre_is_a_sentence_in_every_language(name, begins):
    reason = marked(ROUGH, run("1", "0.00 -"), mean=None, result=None)["concordance"].reason
    assert reason == "No accurate run gives a titre; two must agree."
    assert language(name)(reason).startswith(begins)


def test_a_mean_that_cannot_be_read_was_written_all_the_same():
    unticked = (run("1", "0.00 24.35"), run("2", "0.00 24.40"))
    given = waiting(*unticked, mean=None, odd={"mean": "see over"}, cells={"mean": "Results!N2"})
    reason = "Results!N2 holds “see over”, which cannot be read as a number."
    assert given == dict.fromkeys(("selection", "mean"), reason)


def test_a_tick_that_cannot_be_read_costs_nothing():
    titres = {"1": "24.35", "2": "24.40", "3": "24.40"}
    runs = [run(label, f"0.00 {titre}", titre, odd={"used": "x"}) for label, titre in titres.items()]
    assert lost(*runs) == {}
    reason = marked(*runs, mean=None)["selection"].reason
    assert reason.startswith("A tick cannot be read and no mean is written")
    assert all(language(each)(reason) != reason for each in ("de", "fr", "es"))


@pytest.mark.parametrize(
    ("result", "decimals", "reason"),
    [
        ("0.0975", 4, "0.0975 is to 3 significant figures."),
        ("0.09750", 5, "0.09750 has 4 significant figures; 3 were asked for."),
        ("0.098", 3, "The result 0.098 has fewer than the 3 significant figures asked for, as in 0.0975."),
        ("0.048", 3, "0.048 has 2 significant figures; 3 were asked for."),
        ("0.1", 1, "The result 0.1 has fewer than the 3 significant figures asked for, as in 0.0975."),
        ("0.09751", None, "0.09751 has at least 4 significant figures; 3 were asked for."),
        ("1234", 0, "1234 has 4 significant figures; 3 were asked for."),
    ],
)
def test_the_mark_for_figures_says_how_many_there_are(result, decimals, reason):
    given = marked(*GOOD, result=result, result_decimals=decimals)
    assert given["figures"].reason == reason


def test_zeros_that_the_file_may_have_lost_are_not_held_against_anyone_and_that_is_said():
    runs = [each | {"final": 25_000, "titre": 25_000} for each in (ONE, TWO)]
    given = marked(*runs, mean="25.00", result="0.1", result_decimals=None)["figures"]
    assert (given.mark, given.reason) == (
        given.out_of,
        f"0.1 may have lost zeros at its end in the file; {NOT_AGAINST_YOU}.",
    )


@pytest.mark.parametrize("criterion", ["calculation", "figures"])
def test_a_filled_cell_that_cannot_be_read_is_never_called_blank(criterion):
    given = marked(*GOOD, result=None, odd={"result": "see book"}, cells={"result": "Results!O2"})[criterion]
    assert (given.mark, given.pending) == (None, True)
    assert given.reason == "Results!O2 holds “see book”, which cannot be read as a number."
    assert given.cells == ("Results!O2",)


UNREAD = [
    ("a mean", GOOD, {"mean": None, "odd": {"mean": "24.3S"}}, {"mean"}),
    ("an error for a mean", GOOD, {"mean": None, "odd": {"mean": "#DIV/0!"}}, {"mean"}),
    # 0.0613 follows from no mean of these titres: it may from the one that cannot be read.
    ("a mean, and another result", GOOD, {"mean": None, "odd": {"mean": "see over"}, "result": "0.0613"},
     {"mean", "calculation"}),
    ("a mean, and no result", GOOD, {"mean": None, "odd": {"mean": "see over"}, "result": None}, {"mean"}),
    ("a result", GOOD, {"result": None, "odd": {"result": "0.O975"}}, {"calculation", "figures"}),
    ("a titre", (ROUGH, ONE, run("2", "0.00 24.40", odd={"titre": "24.4O"}, tick=True)), {}, {"titres"}),
    # (24.35 + 24.55) / 2, with another titre than 24.40 − 0.00.
    ("a titre in another mean", (ROUGH, ONE, run("2", "0.00 24.40", odd={"titre": "24.4S"}, tick=True)),
     {"mean": "24.45", "result": "0.0978"}, {"titres", "mean"}),
    ("a titre beside a wrong one", (ROUGH, ONE | {"titre": 24_300}, run("2", "0.00 24.40", odd={"titre": "24.4S"}, tick=True)),
     {"mean": "24.35", "result": "0.0974"}, set()),
    ("a titre struck out", (*GOOD, run("3", "0.00 24.90", odd={"titre": "2490?!"}, struck=True)), {}, set()),
]  # fmt: skip


@pytest.mark.parametrize(("what", "runs", "claims", "waits"), UNREAD, ids=[each[0] for each in UNREAD])
def test_an_answer_that_cannot_be_read_costs_nothing_and_what_hangs_on_it_waits(what, runs, claims, waits):
    assert set(waiting(*runs, **claims)) == waits


def test_a_result_left_blank_costs_the_calculation_although_the_mean_cannot_be_read():
    given = lost(*GOOD, mean=None, odd={"mean": "see over"}, result=None)
    assert given == {"mean": None, "calculation": 0, "figures": None}


def test_a_mean_to_one_decimal_is_told_what_a_mean_is_given_to():
    reason = marked(*THREE, mean="24.6", result="0.0984")["mean"].reason
    assert reason.endswith("is 24.567 cm³; 24.6 is not right to 0.05 or 0.01 cm³.")


def test_an_absent_student_is_not_marked():
    assert marked(mean=None, result=None) == {}


def test_every_mark_gives_a_reason_and_the_cells_it_rests_on():
    for each in marked(*GOOD).values():
        assert each.reason.endswith(".")
        assert each.cells


def test_a_reason_never_rounds_a_distance_across_a_limit():
    reason = marked(*GOOD, expected="24.5751")["accuracy"].reason
    assert "24.3750 cm³ is 0.2001 cm³ below the expected 24.5751 cm³: within 0.40 cm³" in reason
    assert (
        "0.20 cm³ below the expected 24.57 cm³: within 0.20 cm³" in marked(*GOOD, expected="24.57")["accuracy"].reason
    )


def test_reasons_show_the_digits_that_were_written():
    given = marked(
        ROUGH,
        run("1", "0.00 25.00", "25.00", tick=True),
        run("2", "0.00 25.00", "25.00", tick=True),
        mean="25.00",
        result="0.100",
    )
    assert given["figures"].reason == "0.100 is to 3 significant figures."


def test_the_default_scheme_holds_every_criterion_once():
    names = [each.criterion for each in PracticalFile.model_fields["marks"].default_factory()]
    assert names == [
        "recording",
        "table",
        "titres",
        "concordance",
        "selection",
        "mean",
        "calculation",
        "figures",
        "accuracy",
    ]


def own_scheme(*criteria):
    return [Criterion(**each) for each in criteria]


FOUR = own_scheme({"criterion": "calculation", "mark": 4})


@pytest.mark.parametrize(
    ("result", "mark", "why"),
    [
        ("0.0975", 4, "The result follows from your mean titre (0.0975 mol/dm³)."),
        # 0.0500 × 24.38 ÷ 1000 = 1.22 × 10⁻³ mol; × 2 ÷ 0.0250 = 0.0976.
        ("0.0976", 4, "The result follows from your mean titre (0.0975 mol/dm³); 0.0976 is right too."),
        # 0.0500 × 24.38 ÷ 25.0 = 0.04876: the ratio of 2 left out.
        ("0.0488", 3, "0.0488 is written: mole ratio left out, which costs 1."),
        # ... and 25.0 cm³ taken for 0.0250 dm³ the wrong way besides: 48.8.
        ("48.8", 2, "which costs 2."),
        ("0.0613", 0, "Your mean titre gives 0.0975 mol/dm³, but 0.0613 is written."),
    ],
)
def test_each_named_slip_costs_its_part_and_only_what_nothing_explains_costs_all(result, mark, why):
    given = marked(*GOOD, result=result, scheme=FOUR)["calculation"]
    assert given.mark == mark
    assert told(given.reason).endswith(why)


def test_what_a_slip_costs_can_be_set_and_never_takes_more_than_there_is():
    for slip, mark in (("0.5", 3.5), ("3", 1), ("9", 0)):
        scheme = own_scheme({"criterion": "calculation", "mark": 4, "slip": Decimal(slip)})
        assert marked(*GOOD, result="0.0488", scheme=scheme)["calculation"].mark == mark


def test_a_criterion_of_the_teachers_own_is_pending_until_the_teacher_marks_it():
    scheme = own_scheme({"criterion": "tidy bench", "title": "Tidy bench", "by": "teacher", "mark": 2})
    given = marked(*GOOD, scheme=scheme)["tidy bench"]
    assert (given.mark, given.pending, given.out_of, given.title, given.by) == (None, True, 2, "Tidy bench", "teacher")


def test_a_mark_that_waits_says_why_and_not_how_many():
    given = marked(*GOOD, waits={"accuracy": "The reference is being checked."})["accuracy"]
    assert (given.mark, given.pending, given.reason) == (None, True, "The reference is being checked.")


BLANKS = [
    ("a result", {"result": None}, GOOD, {"calculation": 0, "figures": None}),
    ("a mean, nothing ticked", {"mean": None}, [each | {"ticked": None} for each in GOOD], {"mean": 0, "selection": None}),
    ("every titre", {}, [each | {"titre": None} for each in GOOD], {"table": 0, "titres": None}),
    # Run 2 without its final reading: 24.35 alone is left.
    ("a final reading", {"mean": "24.35", "result": "0.0974"}, [ROUGH, ONE, run("2", "0.00 -", tick=False)],
     {"table": 0, "concordance": None}),
]  # fmt: skip


@pytest.mark.parametrize(("what", "claims", "runs", "cost"), BLANKS, ids=[each[0] for each in BLANKS])
def test_a_blank_costs_one_criterion_and_what_it_leaves_nothing_to_mark_on_has_no_mark(what, claims, runs, cost):
    assert lost(*runs, **claims) == cost


def test_readings_left_out_cost_the_table_and_leave_nothing_else_to_mark_on():
    bare = [run(label, "- -", titre, tick=True) for label, titre in (("1", "24.35"), ("2", "24.40"))]
    one, _ = tree_of([({}, bare), ({}, [ONE, TWO])])["students"]
    given = {each["criterion"]: each["mark"] for each in one["marks"]}
    assert given == {
        "recording": None, "table": 0, "titres": None, "concordance": None, "selection": 1, "accuracy": None,
    }  # fmt: skip
    assert (one["total"], one["out_of"]) == (1, 2)


def test_a_blank_costs_what_is_marked_on_it_where_no_other_criterion_bears_it():
    scheme = own_scheme({"criterion": "figures", "mark": 1})
    assert marked(*GOOD, result=None, scheme=scheme)["figures"].mark == 0


def test_a_run_that_is_struck_out_costs_nothing_whatever_stands_in_it():
    spilt = run("3", "0.00 -", odd={"final": "spilt"}, struck=True)
    half = run("4", "0.0 -", struck=True)
    assert lost(*GOOD, spilt, half) == {}


FEW = [
    ("one", (ROUGH, ONE), {"mean": "24.35", "result": "0.0974"}, {"concordance": 0}),
    ("one, with another mean", (ROUGH, ONE), {"mean": "24.53", "result": "0.0981"}, {"concordance": 0, "mean": 0}),
    ("one, without a mean", (ROUGH, ONE), {"mean": None, "result": "0.0974"}, {"concordance": 0, "mean": 0}),
    # (24.90 + 24.35) / 2 = 24.625
    ("one, and the rough", (ROUGH, ONE), {"mean": "24.63", "result": "0.0985"}, {"concordance": 0, "selection": 0}),
    ("two that disagree", (ROUGH, ONE, TWO | {"final": 24_700, "titre": 24_700}), {"mean": "24.53", "result": "0.0981"},
     {"concordance": 0}),
    ("none", (ROUGH,), {"mean": "24.90", "result": "0.0996"}, {"concordance": 0, "accuracy": 0}),
]  # fmt: skip


@pytest.mark.parametrize(("done", "runs", "claims", "cost"), FEW, ids=[each[0] for each in FEW])
def test_too_few_runs_cost_the_concordance_and_no_choice_that_nobody_had(done, runs, claims, cost):
    assert lost(*runs, **claims) == cost


@pytest.mark.parametrize("name", ["de", "fr", "es"])
def test_who_had_one_run_to_take_or_the_rough_alone_reads_so(name):
    one = marked(ROUGH, ONE, mean="24.35", result="0.0974")["selection"].reason
    assert one == "The mean is of the only accurate run with a titre."
    rough = marked(ROUGH, mean="24.90", result="0.0996")["selection"].reason
    assert rough == "The mean is of the rough: no accurate run gives a titre."
    assert all("accurate" not in language(name)(reason) for reason in (one, rough))


def test_who_did_several_and_ticked_one_keeps_the_mean_that_is_its_titre():
    given = lost(ROUGH, ONE, TWO | {"ticked": False}, mean="24.35", result="0.0974")
    assert given == {"selection": 0}


def test_titres_are_said_to_follow_from_readings_that_can_be_read_alone():
    swapped = run("2", "24.40 0.00", "24.40", tick=True)
    assert marked(ROUGH, ONE, swapped)["titres"].reason == "Every titre follows from its readings."
    unread = run("3", "0.00 -", "24.40", tick=False)
    assert marked(*GOOD, unread)["titres"].reason == "Every titre that can be checked follows from its readings."


def test_equal_titres_are_the_same_and_not_nought_apart():
    same = [run(label, "0.00 24.40", "24.40", tick=True) for label in "123"]
    assert marked(ROUGH, *same, mean="24.40")["concordance"].reason.startswith("Three titres are the same; ")


def test_what_the_teacher_reads_of_runs_that_disagree_speaks_to_the_teacher():
    runs = [run(label, f"0.00 {volume}", tick=True) for label, volume in (("1", "24.00"), ("2", "24.60"))]
    reason = reported(marked(*runs, mean="24.30", result="0.0972")["accuracy"].reason)
    assert "(the titres do not agree, so this rests on runs 1 and 2)" in reason
    assert "your" not in reason


def test_without_concordance_accuracy_is_judged_on_the_runs_that_were_ticked():
    runs = (run("1", "0.00 24.00", tick=True), run("2", "0.00 24.60", tick=False), run("3", "0.00 24.80", tick=False))
    given = marked(*runs, mean="24.00", result="0.0960", expected="24.00")["accuracy"]
    assert (given.mark, "24.00 cm³ is within 0.01 cm³ of" in given.reason) == (3, True)
    unticked = [each | {"ticked": None} for each in runs]
    reason = marked(*unticked, mean="24.00", result="0.0960", expected="24.00")["accuracy"].reason
    assert reported(reason).startswith("The mean 24.70 cm³ of the student’s two closest titres is 0.70 cm³ above")


def test_where_nobody_did_more_than_a_rough_nobody_is_marked_on_what_takes_more():
    given = marked(ROUGH, mean="24.90", result="0.0996", asked=Asked(accurate=False, several=False))
    assert {"concordance", "selection", "mean", "accuracy"}.isdisjoint(given)


def test_a_sheet_of_titres_alone_has_no_recording_to_mark():
    assert "recording" not in marked(*GOOD, asked=Asked(readings=False))


def test_a_mean_that_may_take_in_a_run_without_a_titre_keeps_its_mark_and_names_the_run():
    runs = (ROUGH | {"ticked": None}, ONE | {"ticked": None}, run("2", "0.00 -", odd={"final": "24.4o"}))
    mean = marked(*runs, mean="24.38")["mean"]
    assert mean.mark == 1
    assert mean.reason == f"Run 2 cannot be read, so the mean cannot be checked; {NOT_AGAINST_YOU}."


def test_a_mean_worked_from_the_readings_is_shown_with_the_titres_that_they_give():
    # 24.40 − 0.00 is 24.40, and 24.30 is written; the mean is of 24.35 and 24.40.
    mean = marked(ROUGH, ONE, TWO | {"titre": 24_300}, mean="24.375")["mean"]
    assert mean.reason == "The mean of 24.35, 24.40 is 24.375 cm³, as written."


def test_a_result_from_the_right_mean_is_not_said_to_follow_from_the_mistyped_one():
    calculation = marked(*GOOD, mean="42.38")["calculation"]
    assert calculation.mark == calculation.out_of
    assert told(calculation.reason) == "The result follows from the right mean of your titres (0.0975 mol/dm³)."


SCHEME = """
[[marks]]
criterion = "calculation"
mark = 2
[[marks]]
criterion = "accuracy"
bands = [ { within = 0.20, mark = 3 } ]
"""
STATED, OTHER = ("24.35", "24.40", "24.35"), ("19.50", "19.45", "19.50")
"""Of 25 cm³ and of 20 cm³ of the same alkali: 24.35 × 20 ÷ 25 = 19.48 cm³; either gives 0.0974 or 0.0975 mol/dm³."""


def beside_others(taken, result, **how):
    """The last of 21 students: the findings that are faults of theirs, by name, and the marks."""
    written = {"mean": Decimal("24.37" if taken == STATED else "19.48"), "mean_decimals": 2}
    cells = {"mean": "F22", "result": "G22"}
    one = titres(*taken, **written, result=Decimal(result), result_decimals=len(result) - 2, cells=cells)
    last = tree_of([*scattered(20), one], text=DRAIN_CLEANER + SCHEME, **how)["students"][-1]
    found = [each["finding"] for each in last["findings"] if each["level"] != "note"]
    return found, {each["criterion"]: each for each in last["marks"]}


@pytest.mark.slow
def test_who_used_another_pipette_and_said_so_in_the_sum_keeps_the_mark_for_it_and_accuracy_waits():
    found, given = beside_others(OTHER, "0.0974")
    assert found == ["wrong-aliquot"]
    assert (given["calculation"]["mark"], given["accuracy"]["mark"], given["accuracy"]["pending"]) == (2, None, True)
    assert given["accuracy"]["reason"].startswith("The titres and the result both go with another pipette")
    assert given["calculation"]["reason"] == (
        "This is worked out for a pipette of 20 cm³, which the student’s titres fit. "
        "The result follows from the student’s mean titre (0.0974 mol/dm³)."
    )


def test_accuracy_does_not_wait_for_another_pipette_that_the_teacher_sets_aside():
    name = tree_of([*scattered(20), titres(*OTHER)])["students"][-1]["student"]
    _, given = beside_others(OTHER, "0.0974", aside={("wrong-aliquot", name, None)})
    assert given["accuracy"]["mark"] == 0


def test_too_few_figures_cost_no_calculation_beside_another_pipette_either():
    found, given = beside_others(OTHER, "0.097")
    assert (found, given["calculation"]["mark"]) == (["wrong-aliquot", "rounding"], 2)


@pytest.mark.parametrize(
    ("taken", "result", "findings", "mark"),
    few_quick(
        [
            (OTHER, "0.0779", ["wrong-aliquot"], 2),  # 25 in the sum, as the practical says
            (OTHER, "0.195", ["wrong-aliquot", "result-slip"], 1),  # 10 in it
            (OTHER, "0.0487", ["wrong-aliquot", "ratio-ignored"], 1),  # 20, and the ratio left out
            (OTHER, "0.0947", ["wrong-aliquot", "result-slip"], 1),  # 20, and two digits swapped
            (STATED, "0.122", ["result-slip"], 1),  # 20 in it, where titres speak for 25
        ],
        4,
    ),
)
def test_another_pipette_in_the_sum_alone_is_a_slip(taken, result, findings, mark):
    found, given = beside_others(taken, result)
    assert (found, given["calculation"]["mark"]) == (findings, mark)
    assert given["accuracy"]["mark"] == (0 if taken == OTHER else 3)


def test_a_mean_as_it_was_written_is_told_from_what_the_readings_give():
    # 24.40 × 0.004 = 0.0976; the readings, 24.375 × 0.004 = 0.0975. Half of that is the ratio left out.
    reason = marked(*GOOD, mean="24.40", result="0.0488", gives=0.0975)["calculation"].reason
    assert told(reason).startswith(
        "Your readings give 0.0975 and the mean titre that you wrote 0.0976 mol/dm³, but 0.0488 is written: "
    )
