"""Claims about the bench in words: figures, odds, what titres alone can't tell apart, and nothing changed."""

from __future__ import annotations

import re

import pytest

from labmark.diagnose.bench_claims import RUN_FINDINGS, STUDENT_FINDINGS
from labmark.diagnose.hypotheses import BY_NAME, HYPOTHESES
from labmark.joins.bench import NEEDS_A_ZERO
from labmark.joins.bench_words import ALTERNATIVES, alternatives, message_of

RUN = {"titre": 25.85, "above_own_others": 0.62, "expected": 25.3, "above_expected": 0.55}
STUDENT = {"above_expected": 0.49, "percent": 1.9}


def said(finding, probability=0.95, run="2", **more):
    return message_of(finding, (RUN if run else STUDENT) | more, run, probability)


@pytest.mark.parametrize(
    ("probability", "words"), [(0.97, "very probably"), (0.9, "very probably"), (0.7, "probably"), (0.6, "possibly")]
)
def test_the_wording_follows_the_odds(probability, words):
    assert (
        said("overshoot", probability) == f"Run 2: {words} past the endpoint: 25.85 cm³ is 0.62 above the other runs."
    )


def test_a_claim_about_all_runs_begins_a_sentence():
    assert said("always-overshoots", 0.8, run=None).startswith("Probably past the endpoint in every run: the runs lie ")


def test_a_titre_that_agrees_with_the_others_is_held_against_the_expected_one():
    words = said("read-upside-down", above_own_others=0.0, above_expected=-0.45, reading="both")
    assert words == (
        "Run 2: both readings were very probably taken in the wrong direction between two numbered marks: "
        "25.85 cm³ agrees with the other runs, and is 0.45 below the expected titre."
    )


def test_what_titres_alone_do_not_tell_apart_is_named_at_most_two_the_likeliest_first():
    other = [{"finding": "diluted-titrant", "probability": 0.1}, {"finding": "none", "probability": 0.05}]
    same = ["air bubble in the jet", "leaking tap"]
    words = said("overshoot", **{"or": other}, looks_the_same=same)
    assert words.endswith(
        " Titres alone do not tell this from a titrant weakened by water or an air bubble lost from the jet."
    )


def test_the_same_thing_under_another_name_is_no_alternative():
    assert alternatives("read-upside-down", {"looks_the_same": ["reads the scale upside down"]}) == []
    assert alternatives("diluted-titrant", {"looks_the_same": ["titrant diluted, less from run to run"]}) == []


def test_a_misreading_says_where_it_would_lead_and_that_nothing_has_been_changed():
    meant = {"likely_titre": 25.2, "mean_if_so": 25.2333, "result_if_so": 0.100933}
    words = message_of("misread-division", RUN | meant, "2", 0.6, "mol/dm3", 3)
    assert words.endswith(
        " The titre meant may be 25.20 cm³; the mean would then be 25.23 cm³ and the result 0.101 mol/dm³. "
        "Nothing has been changed: that is for the teacher to decide."
    )


def test_a_misreading_without_a_mean_says_no_more_than_the_titre_meant():
    words = said("misread-division", likely_titre=25.2, mean_if_so=None, result_if_so=None)
    assert " The titre meant may be 25.20 cm³. Nothing has been changed" in words


def test_a_burette_that_was_not_refilled_is_called_that():
    assert "the burette was probably not refilled, and 0.00 written" in said(
        "implausible-titre", 0.7, likely_titre=25.3
    )


@pytest.mark.parametrize("finding", [*RUN_FINDINGS, *STUDENT_FINDINGS])
def test_nobody_is_accused_and_nothing_is_certain(finding):
    words = said(finding, run="2" if finding in RUN_FINDINGS else None)
    assert re.search(r"\b(possibly|probably)\b", words)
    assert not re.search(r"\b(you|cheat\w*|careless\w*|wrongly|fault|certain\w*)\b", words.lower())


def test_every_hypothesis_that_shares_a_finding_can_be_named_or_is_the_same_thing():
    same = {"titrant diluted, less from run to run", "reads the scale upside down", "none of these"}
    for each in HYPOTHESES:
        if each.finding and each.name not in same:
            assert each.name in ALTERNATIVES
    assert set(ALTERNATIVES) <= set(BY_NAME)


def test_what_needs_a_reading_of_zero_stands_in_the_table_and_can_be_named():
    assert set(NEEDS_A_ZERO) <= set(BY_NAME) & set(ALTERNATIVES)
