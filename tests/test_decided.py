"""Decisions about what was judged, applied to students as plain records."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from labmark.assessed import Assessed
from labmark.decisions.after import decided, settled
from labmark.decisions.model import Decision
from labmark.outputs.decision_rows import in_words, made
from labmark.records import Finding, Mark
from tests.build import run, student
from tests.practicals import practical

ACCURACY = Mark("accuracy", 3, 3, "Within 1 %.")
CONCORDANCE = Mark("concordance", 1, 2, "Two of three agree.")
FOUND = Finding("counts-down", "The scale was read downwards.")
ADA = Assessed(student(run("1", "0.00 24.35")), 0.0974, None, (FOUND,), (ACCURACY, CONCORDANCE))
MARK = Decision("S01", "mark", "accuracy", Decimal(1), Decimal(3))
ASIDE = Decision("S01", "aside", "counts-down", True, False)
EXCUSED = Decision("S01", "excused", None, True, False)


def one(*decisions: Decision, ada: Assessed = ADA) -> Assessed:
    return decided([ada], decisions, practical())[0]


def test_whoever_nothing_was_decided_about_is_the_same_record() -> None:
    assert one(replace(MARK, student="Bo")) is ADA


def test_a_decided_mark_says_what_the_scheme_gives() -> None:
    mark = one(MARK).marks[0]
    assert (mark.mark, mark.by, mark.scheme_mark) == (1, "teacher", 3)
    assert mark.reason == "The scheme alone gives 3 of 3: Within 1 %."


def test_a_mark_that_waits_waits_no_more_once_it_is_decided() -> None:
    waiting = replace(ADA, marks=(replace(ACCURACY, mark=None, pending=True),), accuracy_by_class=2)
    now = one(MARK, ada=waiting)
    assert (now.marks[0].pending, now.accuracy_by_class) == (False, None)
    assert now.marks[0].reason.startswith("The scheme alone leaves it open")
    assert one(ASIDE, ada=waiting).accuracy_by_class == 2


def test_a_finding_set_aside_keeps_its_place() -> None:
    now = one(ASIDE)
    assert (now.findings, now.set_aside) == ((), ((0, FOUND),))
    assert one(replace(ASIDE, run="2")).findings == (FOUND,)


def test_who_is_excused_has_no_mark_and_loses_none() -> None:
    now = one(EXCUSED, MARK)
    assert [(mark.mark, mark.scheme_mark) for mark in now.marks] == [(None, 3), (None, 1)]
    assert now.excused


def test_a_decision_that_is_stale_about_a_mark_still_stands_and_asks_to_be_looked_at() -> None:
    now = one(replace(MARK, stale=True))
    assert now.marks[0].mark == 1
    assert now.again.startswith("one decision of yours to look at again: ")


@pytest.mark.parametrize(
    ("decision", "unchanged", "stale"),
    [
        (MARK, False, False),
        (replace(MARK, was=Decimal(2)), False, True),
        (replace(MARK, was=Decimal(2)), True, False),  # it follows from another decision
        (replace(MARK, of="tidiness"), True, True),
        (ASIDE, False, False),
        (replace(ASIDE, of="same-readings"), False, True),
        (replace(ASIDE, of="same-readings"), True, False),
        (EXCUSED, False, False),
    ],
)
def test_a_decision_is_stale_where_what_it_was_made_on_has_changed(
    decision: Decision, unchanged: bool, stale: bool
) -> None:
    assert settled([decision], [ADA], unchanged=unchanged)[0].stale == stale


def test_a_decision_names_a_criterion_as_people_read_it() -> None:
    say = in_words({"marks": [{"criterion": "tidy bench", "title": "Tidy work"}]})
    assert say({"what": "mark", "of": "tidy bench"}) == "mark for Tidy work"


def test_a_run_that_the_teacher_leaves_out_and_that_was_out_is_still_out() -> None:
    assert made({"what": "use", "of": "3", "was": False, "value": False}) == "still no"
