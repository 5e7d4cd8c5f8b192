"""Claims about the bench in words: figures, odds, what titres alone can't tell apart, and nothing changed."""

from __future__ import annotations

import dataclasses
import re
from decimal import Decimal
from fractions import Fraction

import pytest

from labmark.diagnose.bench_claims import RUN_FINDINGS, STUDENT_FINDINGS
from labmark.diagnose.hypotheses import BY_NAME, HYPOTHESES
from labmark.facts import Agreement
from labmark.judge.bench import NEEDS_A_ZERO
from labmark.judge.bench_words import alternatives, held_against, message_of
from labmark.words import reported, told
from tests.build import run, student
from tests.classes import scattered, titres, tree_of

# Runs 1 and 3 agree at 25.225 cm³; run 2 stands out, and 25.30 cm³ is expected.
THREE = dataclasses.replace(
    student(run("1", "0.00 25.20"), run("2", "0.00 25.85"), run("3", "0.00 25.25"), mean="25.23"),
    expected_titre=Fraction("25.3"),
)
RUN = {"titre": 25.85, "above_expected": 0.55}
STUDENT = {"level": 25.79, "above_expected": 0.49, "percent": 1.9}


def said(finding, probability=0.95, label="2", **more):
    about = next((each for each in THREE.runs if each.label == label), None)
    return told(message_of(finding, (STUDENT if about is None else RUN) | more, THREE, about, probability))


@pytest.mark.parametrize(
    ("probability", "words"), [(0.97, "very probably"), (0.9, "very probably"), (0.7, "probably"), (0.6, "possibly")]
)
def test_the_wording_follows_the_odds(probability, words):
    assert said("overshoot", probability) == (
        f"Run 2 {words} went past the endpoint: 25.85 cm³ is 0.63 cm³ above your mean titre 25.225 cm³."
    )


def test_where_results_must_agree_titres_that_come_down_are_told_by_where_they_lie_and_not_by_the_first():
    own = dataclasses.replace(THREE, agreement=Agreement(Fraction(1, 2), Fraction(1, 2), Decimal("0.5")))
    first = {"titre": 26.65, "above_expected": 1.35, "class_level": 25.30, "last_above_expected": 0.25}
    assert "the titres are 0.49 cm³ above what your numbers call for, and the titres come down" in told(
        message_of("diluted-titrant", STUDENT | first, own, None)
    )


def test_the_same_claim_speaks_of_the_student_to_the_teacher():
    words = reported(message_of("overshoot", RUN, THREE, THREE.runs[1]))
    assert "above the student’s mean titre 25.225 cm³" in words


@pytest.mark.parametrize("mean", [None, Decimal("25.43")], ids=["none", "that of all three"])
def test_a_mean_that_the_student_did_not_write_is_not_called_theirs(mean):
    other = dataclasses.replace(THREE, own_mean=mean)
    assert "0.63 cm³ above the mean 25.225 cm³ of your titres that agree." in told(
        message_of("overshoot", RUN, other, other.runs[1])
    )


def test_a_claim_about_all_runs_tells_how_far_the_mean_titre_is_from_the_expected_one():
    assert said("always-overshoots", 0.8, label=None) == (
        "Every run probably went past the endpoint: your mean titre 25.225 cm³ is 0.08 cm³ below the expected 25.30 cm³."
    )


@pytest.mark.parametrize(
    ("pipette", "words"),
    [(24.9, "a pipette of 25 cm³"), (20.3, "a pipette of 20 cm³"), (17.6, "a pipette of about 17.6 cm³")],
)
def test_a_pipette_is_named_by_its_size(pipette, words):
    assert f"; {words} would give such titres." in said("wrong-aliquot", label=None, pipette=pipette)


def test_where_the_reference_is_in_doubt_a_claim_names_what_the_class_suggests_instead():
    doubtful = STUDENT | {"level": 24.9, "above_expected": 0.4}
    assert held_against(THREE, doubtful) == (Fraction("24.5"), "the {} cm³ that the class’s titres suggest")
    assert held_against(THREE, STUDENT)[0] == Fraction("25.3")


def test_a_titre_that_agrees_with_the_others_is_held_against_the_expected_one():
    words = said("read-upside-down", label="1", titre=25.2, above_expected=-0.15, reading="both")
    assert words == (
        "In run 1 both readings were very probably read the wrong way between two numbered marks: "
        "25.20 cm³ is 0.05 cm³ below that of run 3, 25.25 cm³."
    ) or words.endswith("25.20 cm³ agrees with the other runs, and is 0.10 cm³ below the expected 25.30 cm³.")


def test_a_reading_of_nought_is_the_same_upside_down():
    # 0.0500 × 24.12 × 2 ÷ 25.0 = 0.0965 mol/dm³: from 0.00 to 24.90 every time, where 24.10 would be ordinary.
    ours = [titres("24.90", "24.90", "24.85"), *scattered(26, 24.12, 0.03)]
    found = tree_of(ours, ("value = 0.0974", "value = 0.0965"))["students"][0]["findings"]
    words = [each["message"] for each in found if each["finding"] == "read-upside-down"]
    assert len(words) == 3
    assert all("the final reading was very probably read the wrong way" in each for each in words)


def test_of_all_runs_up_to_four_causes_are_named():
    same = ["tap that leaks in every run", "another eye for the colour", "flask rinsed with the solution"]
    words = said("always-overshoots", label=None, looks_the_same=same, **{"or": [{"finding": "diluted-titrant"}]})
    assert words.endswith(
        " The titres alone cannot tell this from a titrant weakened by water, a leaking tap, another eye for the "
        "colour or a flask rinsed with the solution."
    )


def test_what_titres_alone_do_not_tell_apart_is_named_at_most_two_the_likeliest_first():
    other = [{"finding": "diluted-titrant", "probability": 0.1}, {"finding": "none", "probability": 0.05}]
    same = ["air bubble in the jet", "leaking tap"]
    words = said("overshoot", **{"or": other}, looks_the_same=same)
    assert words.endswith(
        " The titres alone cannot tell this from a titrant weakened by water or an air bubble lost from the jet."
    )


def test_the_same_thing_under_another_name_is_no_alternative():
    assert alternatives("read-upside-down", {"looks_the_same": ["reads the scale upside down"]}) == []
    assert alternatives("diluted-titrant", {"looks_the_same": ["titrant diluted, less from run to run"]}) == []


def test_a_misreading_says_where_it_would_lead_and_that_nothing_has_been_changed():
    meant = {"likely_titre": 25.2, "mean_if_so": 25.2333, "result_if_so": 0.100933}
    words = message_of("misread-division", RUN | meant, THREE, THREE.runs[1], 0.6, "mol/dm3", 3)
    assert reported(words).endswith(
        " Perhaps 25.20 cm³ was meant; the mean would then be 25.23 cm³ and the result 0.101 mol/dm³. "
        "Nothing has been changed: you decide."
    )
    assert told(words).endswith("Nothing has been changed: your teacher decides.")


def test_a_misreading_without_a_mean_says_no_more_than_the_titre_meant():
    words = said("misread-division", likely_titre=25.2, mean_if_so=None, result_if_so=None)
    assert " Perhaps 25.20 cm³ was meant. Nothing has been changed" in words


def test_swapped_digits_are_named_with_the_reading_and_what_may_have_been_meant():
    words = said("digits-swapped", 0.95, reading="final", written=25.85, meant=28.55, likely_titre=28.55)
    assert words.startswith(
        "In run 2 two digits of the final reading were very probably written in the wrong order, 25.85 for 28.55: 25.85 cm³ is "
    )


def test_two_groups_of_runs_are_named_with_their_means():
    words = said("level-change", 0.95, label=None, groups=[["1", "3"], ["2"]])
    assert words.startswith(
        "Runs 1 and 3 agree at 25.225 cm³ and run 2 at 25.85 cm³, 0.63 cm³ higher: something very probably changed"
    )


def test_a_burette_that_was_not_refilled_is_called_that():
    assert "In run 2 the burette was probably not refilled and 0.00 was written: " in said(
        "implausible-titre", 0.7, likely_titre=25.3
    )


@pytest.mark.parametrize("finding", [*RUN_FINDINGS, *STUDENT_FINDINGS])
def test_nobody_is_accused_and_nothing_is_certain(finding):
    words = said(finding, label="2" if finding in RUN_FINDINGS else None, groups=[["1", "3"], ["2"]])
    assert re.search(r"\b(possibly|probably)\b", words)
    assert not re.search(r"\b(you|cheat\w*|careless\w*|wrongly|fault|certain\w*)\b", words.lower())
    assert re.fullmatch(r"[A-Z].*[^.]\.", words)


def test_every_hypothesis_that_shares_a_finding_can_be_named_or_is_the_same_thing():
    same = {"titrant diluted, less from run to run", "reads the scale upside down", "none of these"}
    for each in HYPOTHESES:
        if each.finding and each.name not in same:
            assert each.beside


def test_every_finding_that_is_claimed_has_its_sentence_in_the_table():
    assert all(BY_NAME[finding].says for finding in (*RUN_FINDINGS, *STUDENT_FINDINGS))


def test_what_needs_a_reading_of_zero_stands_in_the_table_and_can_be_named():
    assert all(BY_NAME[name].beside for name in NEEDS_A_ZERO)


def test_a_titre_in_the_mean_of_two_is_held_against_the_other_one_by_name():
    # No two agree: the mean is of the closest two, 25.30 and 25.60, and run 3 is left out.
    apart = student(run("1", "0.00 25.30"), run("2", "0.00 25.60"), run("3", "0.00 25.95"))
    words = told(message_of("overshoot", RUN | {"titre": 25.6, "above_expected": 0.3}, apart, apart.runs[1]))
    assert "25.60 cm³ is 0.30 cm³ above that of run 1, 25.30 cm³." in words
