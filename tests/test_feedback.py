"""What a student is told: causes once each, all runs named, which runs belonged in the mean, what to do next time."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from labmark.assessed import Assessed
from labmark.diagnose.hypotheses import BY_NAME
from labmark.diagnose.working_slips import TICKED_TOO
from labmark.facts import runs_named
from labmark.findings import KINDS, OF_THE_CLASS
from labmark.judge.attention import attention
from labmark.judge.feedback import GO_THROUGH, advice_on, is_told, next_time, why_run, words_for
from labmark.judge.stages import judge
from labmark.outputs.chart import distribution
from labmark.outputs.each import as_told
from labmark.outputs.language import language
from labmark.outputs.report import report
from labmark.outputs.sheet_lines import titre_line
from labmark.outputs.sheets import class_data, student_data
from labmark.records import Finding, Mark
from tests import build
from tests.build import decimals, run
from tests.classes import sheet_of, titres, tree_of
from tests.practicals import DRAIN_CLEANER, practical


def found(code, message="An example.", label=None, **evidence):
    return Finding(code, message, KINDS[code].level, label, None, (), evidence)


def student(*readings, mean=None, result=None):
    """A student with these accurate titres; a plus behind a titre is a tick."""
    own = {
        name: value
        for key, text in (("mean", mean), ("result", result))
        if text
        for name, value in ((key, Decimal(text)), (f"{key}_decimals", decimals(text)))
    }
    rows = [run(str(n), f"0.00 {each.rstrip('+')}", tick=each.endswith("+")) for n, each in enumerate(readings, 1)]
    return own, rows


ORDINARY = student("24.35+", "24.40+", "24.35+", mean="24.37", result="0.0975")


def sheet(one):
    return tree_of([one, ORDINARY, ORDINARY, ORDINARY])["students"][0]["feedback"]


def test_who_did_enough_runs_is_not_told_to_do_another_where_the_spreadsheet_spoilt_one():
    own, runs = student("24.35", "24.40", mean="24.38", result="0.0975")
    runs[0] |= {"final": None, "odd": {"final": "a date (24 May)"}, "spoilt": ("final",)}
    judged = tree_of([(own, runs), ORDINARY, ORDINARY, ORDINARY])["students"][0]
    assert judged["feedback"]["next"] == [
        "Tell your teacher what the burette showed: the spreadsheet has changed what was typed."
    ]
    assert "Only one accurate run gives a titre, and two must agree." in judged["feedback"]["causes"]
    reasons = {mark["criterion"]: mark["reason"] for mark in judged["marks"]}
    unseen = "Readings are missing or cannot be read, so it cannot be seen which titres were chosen."
    assert reasons["selection"] == unseen


def test_a_run_that_the_teacher_takes_in_and_that_gives_nothing_is_not_said_to_be_left_out_by_the_teacher():
    one = build.student(run("1", "0.00 24.35"), run("2", "0.00 24.40"), run("3", "0.00 -", decided=True))
    assert why_run(one, 2) == "a reading is missing"


@pytest.mark.slow
def test_who_took_another_set_that_agrees_as_well_reads_its_mean_also_in_the_report():
    # 24.30 to 24.40 agree within 0.10, and 24.35 to 24.45: means 24.35 and 24.40.
    tree = tree_of([student("24.30+", "24.35+", "24.40+", "24.45", mean="24.35", result="0.0974"), ORDINARY])
    said = as_told(tree["students"][0])["feedback"]["summary"]
    assert said.startswith("Three of your titres agree; their mean is 24.35 cm³")
    assert f"<p>{said}" in report(tree, distribution(tree)).replace("\u202f", " ")
    later = sheet(student("24.30", "24.35+", "24.40+", "24.45+", mean="24.40", result="0.0976"))["summary"]
    assert later.startswith("Three of your titres agree; their mean is 24.40 cm³")


@pytest.mark.parametrize(("mean", "result"), [(None, "0.0975"), ("24.37", None), (None, None)])
def test_who_left_an_answer_blank_is_told_to_fill_it_in(mean, result):
    cells = {"cells": {"mean": "F2", "result": "G2"}}
    own, runs = student("24.35+", "24.40+", "24.35+", mean=mean, result=result)
    scheme = "".join(f'[[marks]]\ncriterion = "{each}"\nmark = 1\n' for each in ("mean", "calculation"))
    others = [(ORDINARY[0] | cells, ORDINARY[1])] * 3
    words = tree_of([(own, runs), *others], text=DRAIN_CLEANER + scheme)["students"][0]["feedback"]
    assert words["next"] == ["Fill in every answer, even one that you are not sure of: what is blank cannot be marked."]


def test_who_left_a_titre_blank_is_told_to_fill_it_in():
    own, runs = ORDINARY
    written = [row | {"titre": row["final"], "titre_decimals": 2} for row in runs]
    text = DRAIN_CLEANER + '[[marks]]\ncriterion = "table"\nmark = 1\n'
    students = tree_of([(own, [*written[:2], runs[2]]), *[(own, written)] * 3], text=text)["students"]
    assert students[0]["marks"][0]["reason"] == "Run 3: no titre is written."
    assert students[0]["feedback"]["next"] == [
        "Fill in every answer, even one that you are not sure of: what is blank cannot be marked."
    ]


# --- runs that belonged in the mean ----------------------------------------------------------------------------------


def test_who_took_one_run_only_is_told_which_ones_belong_in_the_mean():
    words = sheet(student("24.35+", "24.40", "24.35", mean="24.35", result="0.0975"))
    assert words["causes"] == ["Runs 1, 2 and 3 agree: the mean should be of all of these."]


def test_who_took_the_wrong_runs_is_told_the_right_ones_once():
    words = sheet(student("24.35", "24.40", "24.80+", mean="24.80", result="0.0992"))
    assert sum("Runs 1 and 2" in cause for cause in words["causes"]) == 1


def test_where_none_agree_nobody_is_told_to_take_those_that_agree():
    words = sheet(student("24.10+", "24.35+", "24.65+", mean="24.37", result="0.0975"))
    assert words["next"] == ["Keep doing runs until enough of them agree."]
    assert not any("titres that agree" in step for step in words["next"])
    assert any("Another run was needed." in cause for cause in words["causes"])


def test_marks_lost_without_a_finding_are_not_called_good_work():
    words = sheet(student("24.35", "24.35"))
    assert words["next"] == [
        "Your readings do not show what went wrong. Where a mark is missing, the reason beside it says why."
    ]


def test_who_has_runs_far_from_the_mean_that_nothing_explains_did_not_just_work_well():
    words = sheet(student("24.35", "24.35", "25.25", "24.80", "25.00", mean="24.35", result="0.0974"))
    assert words["causes"] == []
    assert words["next"] == [
        "Your readings do not show why some of your runs lie apart: do each of them in the same way."
    ]


# --- causes and next steps -------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def judged():
    return judge(sheet_of(ORDINARY, ORDINARY), practical()).students[0]


def told(judged: Assessed, *findings: Finding):
    return words_for(replace(judged, findings=findings), practical())


def test_who_wrote_a_figure_too_many_is_told_to_count_them(judged):
    marks = (Mark("mean", 1, 1, "right"), Mark("figures", 0, 1, "0.09752 has 4 significant figures; 3 were asked for."))
    words = words_for(replace(judged, findings=(), marks=marks), practical())
    assert words["next"] == ["Count the figures before you write a result down: 3 significant figures were asked for."]


def test_slips_that_explain_a_value_together_are_said_once(judged):
    both = "Leaving out the ratio and mixing up cm³ and dm³ gives 50.6, which is what you wrote."
    words = told(judged, found("ratio-ignored", both), found("volume-units", both))
    assert words["causes"] == [both]
    assert words["next"] == [KINDS["ratio-ignored"].advice, KINDS["volume-units"].advice]


def test_a_result_that_cannot_be_has_the_next_step_of_the_slip_that_gives_it_and_no_other(judged):
    assert told(judged, found("impossible-result"), found("ratio-ignored"))["next"] == [KINDS["ratio-ignored"].advice]
    assert told(judged, found("impossible-result"))["next"] == [KINDS["impossible-result"].advice]


def test_a_distance_from_a_percentage_is_called_a_percentage_error(judged):
    made = practical()
    percent = made.file.result.model_copy(update={"unit": "%"})
    # 24.37 cm³ against 24.35 cm³ is 0.1 % above; in per cent a bare 0.1 % might be a difference of results.
    in_percent = words_for(judged, replace(made, file=made.file.model_copy(update={"result": percent})))["summary"]
    assert "above the reference 0.0974 %: a percentage error of 0.1 %." in in_percent


def test_who_lost_marks_by_the_teacher_alone_is_sent_to_the_teacher(judged):
    marks = tuple(replace(each, mark=each.out_of, pending=False) for each in judged.marks)
    lost = replace(judged, findings=(), marks=(*marks[:-1], replace(marks[-1], mark=0, by="teacher")))
    assert words_for(lost, practical())["next"] == [
        "Your readings show nothing that went wrong. Ask your teacher about the marks that are missing."
    ]


@pytest.mark.parametrize(
    ("waits", "words"),
    [
        (("accuracy",), "the mark for accuracy waits for that check."),
        (("table", "accuracy"), "the marks for table and accuracy wait for that check."),
        ((), "work the same way next time."),
    ],
)
def test_only_marks_that_there_are_wait_for_a_check(judged, waits, words):
    marks = tuple(replace(mark, mark=None, pending=mark.criterion in waits) for mark in judged.marks)
    one = replace(judged, marks=marks, findings=(), circumstance="The reference is being checked.")
    assert words_for(one, practical())["next"][0].endswith(words)


def test_further_runs_with_the_same_finding_are_named(judged):
    words = told(judged, found("coarse-reading", "Run 1: too coarse.", "1"), found("coarse-reading", "x", "3"))
    assert words["causes"] == ["Run 1: too coarse. Likewise run 3."]


def test_a_run_that_counts_is_described_before_the_rough(judged):
    words = told(
        judged, found("coarse-reading", "Rough: too coarse.", "Rough"), found("coarse-reading", "Run 1: so.", "1")
    )
    assert words["causes"][0].startswith("Run 1: so.")


def test_every_sum_that_is_wrong_is_shown(judged):
    words = told(judged, *(found("subtraction-slip", f"Run {n}: a sum.", str(n)) for n in (1, 2)))
    assert words["causes"] == ["Run 1: a sum. Run 2: a sum."]


def test_advice_about_the_bench_comes_from_the_table_of_hypotheses(judged):
    assert told(judged, found("overshoot", label="1"))["next"] == [BY_NAME["overshoot"].tell]


def test_every_finding_that_a_student_sees_has_advice():
    for code, kind in KINDS.items():
        if kind not in OF_THE_CLASS and kind.level != "note" and not kind.private:
            assert advice_on(code)


def test_each_cause_has_one_next_step_even_where_titres_cannot_tell_two_causes_apart(judged):
    other = {"or": [{"finding": "diluted-titrant", "probability": 0.2}], "check": "the flasks"}
    assert told(judged, found("always-overshoots", **other))["next"] == [BY_NAME["always-overshoots"].tell]


@pytest.mark.parametrize(
    ("finding", "words"),
    [
        (found("mean-slip", cause="a run left out"), "Take the mean of all the titres that agree."),
        (found("mean-slip", cause=TICKED_TOO), "Tick the runs that your mean is of, and no others."),
        (found("mean-slip", cause="one digit wrong"), KINDS["mean-slip"].advice),
        (
            found("dilution-ignored", cause="per aliquot instead of per flask"),
            "At the end, ask what the answer is for: the portion that was titrated, or all that it was taken from.",
        ),
        (
            found("dilution-ignored", cause="dilution factor applied twice"),
            "Work out the dilution factor first: the volume made up to over the volume taken, always more than 1.",
        ),
        (
            found("result-slip", cause="another pipette’s volume taken"),
            "Put into the sum the volume that is printed on your pipette.",
        ),
        (found("dilution-ignored", cause="dilution factor left out"), KINDS["dilution-ignored"].advice),
        (
            found("rounding", figures=3),
            "Count the figures before you write a result down: 3 significant figures were asked for.",
        ),
        (found("rounding", decimals=2), "Write a mean with two decimals, as the readings have."),
        (found("rounding"), KINDS["rounding"].advice),
    ],
)
def test_advice_fits_the_slip(finding, words):
    assert next_time(finding) == words


def test_a_private_finding_is_never_put_to_a_student(judged):
    words = told(
        judged, found("same-readings", "The readings are those of Somebody Else.", **{"with": ["Somebody Else"]})
    )
    assert "Somebody" not in str(words)
    assert words["causes"] == []


def test_runs_are_named_as_in_a_sentence(judged):
    runs = judged.student.runs
    assert [runs_named(runs[:n]) for n in (1, 2, 3)] == ["run 1", "runs 1 and 2", "runs 1, 2 and 3"]
    rough = replace(runs[0], label="Rough", rough=True)
    assert runs_named([rough]) == "the rough"
    assert runs_named([rough, runs[1]]) == "the rough and run 2"


# --- who needs a human eye -------------------------------------------------------------------------------------------


def test_a_far_result_that_nothing_explains_needs_an_eye_from_three_standard_deviations(judged):
    # ISO 13528:2022, 9.4.2: 3.0 is an action signal, below it is none.
    near, at, below = (replace(judged, findings=(), fair_z=z) for z in (2.99, 3.0, -3.0))
    assert list(attention([near, at, below])) == [1, 2]


@pytest.mark.parametrize(
    ("findings", "why"),
    [
        ((), "Written result cannot be read"),
        (
            (found("subtraction-slip", label="2"),),
            f"{KINDS['subtraction-slip'].title} (run 2); written result cannot be read",
        ),
    ],
)
def test_an_own_result_that_cannot_be_read_needs_an_eye(judged, findings, why):
    unread = replace(judged.student, odd={"result": "see book"})
    (asked,) = attention([replace(judged, student=unread, findings=findings)]).values()
    assert asked["why"] == why


def test_a_mark_that_is_lost_is_spoken_of_before_one_that_waits_for_the_class(judged):
    waits = Mark("accuracy", None, 3, "The class as a whole disagrees with the reference.", pending=True)
    blank = Mark("mean", 0, 1, "No mean titre is written.")
    one = replace(judged, student=replace(judged.student, own_mean=None), circumstance="The reference is checked.")
    assert words_for(replace(one, findings=(), marks=(waits,)), practical())["next"] == [
        "Your readings show nothing that went wrong; the mark for accuracy waits for that check."
    ]
    assert words_for(replace(one, findings=(), marks=(waits, blank)), practical())["next"] == [
        "Fill in every answer, even one that you are not sure of: what is blank cannot be marked."
    ]


def test_who_wrote_what_cannot_be_read_is_asked_to_tell_the_teacher(judged):
    one = replace(judged.student, odd={"result": "see over"})
    marks = (Mark("calculation", None, 2, "P2 holds “see over”, which cannot be read as a number.", pending=True),)
    words = words_for(replace(judged, student=one, findings=(), marks=marks), practical())
    step = "Tell your teacher what you meant where an answer cannot be read; next time write the number alone."
    assert words["next"] == [step]
    assert all(language(each)(step) != step for each in ("de", "fr", "es"))


def test_who_wrote_what_the_spreadsheet_spoilt_needs_an_eye_until_a_mark_is_given(judged):
    one = replace(judged, student=replace(judged.student, odd={"result": "#DIV/0!"}), findings=())
    assert attention([one])[0]["why"] == "Written result cannot be read"
    assert attention([replace(one, marks=(Mark("calculation", 2, 2, "As in the book.", by="teacher"),))]) == {}


def test_a_finding_about_several_runs_is_named_once(judged):
    runs = [found("read-upside-down", label=label) for label in ("Rough", "1", "2", "3")]
    (asked,) = attention([replace(judged, findings=(*runs, found("subtraction-slip", label="2")))]).values()
    assert "(rough, runs 1, 2 and 3)" in asked["why"]
    assert "(run 2)" in asked["why"]
    assert "more" not in asked["why"]


def test_a_result_that_cannot_be_needs_an_eye_unless_it_is_known_what_made_it_so(judged):
    impossible = found("impossible-result", criterion="calculation")
    slip, elsewhere = (found("ratio-ignored", criterion="calculation", **one) for one in ({}, {"result": "HCl"}))
    pipette = replace(found("wrong-aliquot"), probability=0.97)
    (alone,) = attention([replace(judged, findings=(impossible,))]).values()
    assert alone["why"] == "Impossible result"
    assert attention([replace(judged, findings=(impossible, slip))]) == {}
    (bench,) = attention([replace(judged, findings=(impossible, pipette))]).values()
    assert bench["why"] == bench["brief"] == "Different pipette volume"
    (other,) = attention([replace(judged, findings=(impossible, elsewhere))]).values()
    assert other["brief"] == "Impossible result"


@pytest.mark.parametrize(("kinds", "end"), [(3, "Titrant weakened"), (4, "2 more findings")])
def test_a_third_finding_is_sooner_named_than_counted(judged, kinds, end):
    codes = ("implausible-titre", "no-concordant-runs", "diluted-titrant", "mean-slip")[:kinds]
    (asked,) = attention([replace(judged, findings=tuple(map(found, codes)))]).values()
    assert asked["why"].split("; ")[-1] == end


def test_what_heads_a_slip_in_the_dilution_is_true_of_all_its_causes():
    # The same code stands for a factor upside down or unasked, and for one portion instead of the whole flask.
    assert "left out" not in KINDS["dilution-ignored"].title


def test_a_run_left_out_is_told_although_it_is_a_note_only():
    note = Finding("mean-slip", "24.65 is the mean of two.", "note", None, None, (), {"cause": "a run left out"})
    assert is_told(note)
    assert not is_told(Finding("mean-slip", "", "note", None, None, (), {}))


@pytest.mark.parametrize(("results", "said"), [(2, False), (3, True)])
def test_only_of_three_results_or_more_a_class_without_reference_suggests_anything(results, said):
    tree = tree_of(*[[titres("24.30", "24.35")] * results], text=DRAIN_CLEANER.partition("[reference]")[0])
    one = tree["students"][0]
    assert tree["reference"]["from"] == "class"
    assert ("class" in one["feedback"]["summary"], one["reference"] is not None) == (said, said)
    line = titre_line(one, tree["practical"])["alt"]
    assert line.endswith(" The middle of the class would give 24.33.") == said
    assert "reference" not in line


def test_runs_that_agree_far_from_what_is_expected_are_told_of_once():
    one = tree_of([titres("12.30", "12.35", "12.30")])["students"][0]
    (odd,) = [each for each in one["findings"] if each["level"] != "note"]
    assert (odd["finding"], odd["run"], odd["evidence"]["runs"]) == ("implausible-titre", "1", ["1", "2", "3"])
    assert one["feedback"]["causes"] == [
        "Something unusual very probably happened in runs 1, 2 and 3: the mean 12.317 cm³ of your titres that agree is "
        "12.03 cm³ below the expected 24.35 cm³."
    ]
    assert "the others" not in " ".join(one["feedback"]["next"])


def test_a_sheet_shows_the_runs_that_a_student_took_where_they_agree_as_well():
    # 24.30 and 24.40 agree as well as 24.40 and 24.50, which start later: 24.35 × 0.004 = 0.0974 mol/dm³.
    own = titres("24.30", "24.40", "24.50", "25.20", mean=Decimal("24.35"), mean_decimals=2)
    tree = tree_of([own, titres("24.35", "24.40")])
    assert str(tree["students"][0]["mean_titre"]) == "24.45"  # by the rule, for all who look at the data
    sheet = student_data(tree, 0, class_data(tree))
    assert "their mean is 24.35 cm³, within 0.01 cm³ of the expected 24.35 cm³. That gives 0.0974 " in sheet["summary"]
    assert next(row["given"] for row in sheet["claims"]) == "24.35"
    assert "25.20 cm³ is 0.85 cm³ above your mean titre 24.35 cm³" in sheet["causes"][0]
    assert "by_own_choice" not in tree["students"][1]


def test_a_student_who_took_other_runs_that_agree_reads_how_close_these_lie():
    own, runs = student("24.30+", "24.35+", "24.40+", "24.42", mean="24.35", result="0.0974")
    one = tree_of([(own, runs), ORDINARY])["students"][0]
    assert one["span"] == Decimal("0.07")  # of the closest, in the data
    reasons = {mark["criterion"]: mark["reason"] for mark in one["marks"]}
    assert reasons["concordance"] == "Three titres agree; they are 0.10 cm³ apart; the limit is 0.10 cm³."
    assert one["by_own_choice"]["span"] == Decimal("0.10")


def test_a_student_who_took_two_other_runs_that_are_as_close_is_shown_these_where_too_few_agree():
    own, runs = student("24.20+", "24.40+", "24.60", mean="24.30", result="0.0972")
    tree = tree_of([(own, runs), ORDINARY])
    assert str(tree["students"][0]["mean_titre"]) == "24.50"
    summary = student_data(tree, 0, class_data(tree))["summary"]
    assert "Too few of your titres agree; the mean of the closest two is 24.30 cm³, 0.05 cm³ below" in summary
    assert "agree just as well" not in summary


def test_runs_that_a_student_took_at_a_tie_are_told_of_together_where_all_are_implausible():
    own, runs = student("20.30+", "20.40+", "20.50", mean="20.35", result="0.0814")
    told = tree_of([(own, runs), *[ORDINARY] * 5])["students"][0]["by_own_choice"]["feedback"]
    assert told["causes"] == [
        "Something unusual very probably happened in runs 1 and 2: your mean titre 20.35 cm³ is 4.00 cm³ below the "
        "expected 24.35 cm³. Likewise run 3."
    ]
    assert told["next"] == [GO_THROUGH]


def test_whose_mean_is_of_other_runs_that_agree_is_shown_these_where_all_are_ticked():
    # One slip, and it costs the mean: accuracy is that of 24.35, as the result is.
    own, runs = student("24.30+", "24.40+", "24.50+", mean="24.35", result="0.0974")
    one = tree_of([(own, runs), ORDINARY, ORDINARY])["students"][0]
    assert str(one["by_own_choice"]["mean_titre"]) == "24.35"
    reasons = {mark["criterion"]: mark["reason"] for mark in one["marks"]}
    assert "mean titre 24.35 cm³ is within 0.01 cm³ of the expected 24.35 cm³." in reasons["accuracy"]


@pytest.mark.slow
@pytest.mark.parametrize(("result", "sign"), [("0.0973", ""), ("0.195", "≠")])
def test_a_result_that_is_right_by_another_pipette_is_so_without_a_mark_for_it(result, sign):
    # 9.73 × 0.0500 × 2 ÷ 10.0 = 0.0973 mol/dm³; the other one took the ratio twice.
    own = titres("9.75", "9.70", "9.75", mean=Decimal("9.73"), mean_decimals=2, result=Decimal(result))
    scheme = '[[marks]]\ncriterion = "recording"\nmark = 1\n'
    tree = tree_of([own, *[titres("24.35", "24.40")] * 8], text=DRAIN_CLEANER + scheme)
    assert [each["finding"] for each in tree["students"][0]["findings"]][:1] == ["wrong-aliquot"]
    assert student_data(tree, 0, class_data(tree))["claims"][-1]["sign"] == sign
