"""Own numbers as records: which counts, which is missing, which is far off, and what a student meant by a mean."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from labmark.facts import OwnValue
from labmark.formula import Formula
from labmark.judge.by_result import inputs_over
from labmark.judge.owned import Numbers, held_against_all, own_numbers, with_typical
from labmark.judge.written_otherwise import as_read, as_titre, from_the_last_endpoint
from labmark.practical import Practical
from labmark.practical.kinds import formula_of
from tests.build import run, student
from tests.classes import sheet_of
from tests.practicals import DRAIN_CLEANER, practical

ALIQUOT = "flask.aliquot"
OWN: Practical = practical(DRAIN_CLEANER, ("aliquot = 25.0", 'aliquot = { column = "Pipette" }'))


def own(text: str | None, odd: str = "") -> dict[str, OwnValue]:
    """Return a pipette [cm³] as it stands in a cell."""
    return {ALIQUOT: OwnValue(None if text is None else Decimal(text), 1, ("B2",), odd)}


def person(text: str | None = None, *of_runs: str, odd: str = "") -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Return a student with a pipette of their own, or one for each run."""
    runs = [run(str(n), "0.00 24.35", inputs=own(each)) for n, each in enumerate(of_runs or ("",), 1) if each]
    return {"inputs": own(text, odd) if text or odd else {}}, runs or [run("1", "0.00 24.35")]


def numbers(*people: tuple[dict[str, Any], list[dict[str, Any]]]) -> tuple[tuple[Numbers, ...], Formula]:
    sheet = sheet_of(*people)
    typical = with_typical(OWN, sheet)
    formula = formula_of(typical)
    return own_numbers(typical, formula, sheet), formula


def values(one: Numbers, run: str | None) -> list[Fraction | None]:
    return [each.value for each in one.of(run)]


def test_the_number_of_a_run_counts_before_the_students() -> None:
    (one,), _ = numbers(person("20.0", "25.0", "24.0"))
    assert values(one, None) == [20]
    assert values(one, "2") == [20, 24]  # the nearest owner's last
    assert (one.findings, one.lacks("1"), one.waits(unjudged=False)) == ((), False, {})


def test_the_class_is_looked_at_with_the_middle_number() -> None:
    sheet = sheet_of(person("20.0"), person("25.0"), person("24.0"), person("0"))
    assert with_typical(OWN, sheet).file.flask.aliquot == Decimal("24.0")


@pytest.mark.parametrize(
    ("people", "message"),
    [
        (person(), "Pipette is missing: without it the result cannot be worked out."),
        (person("0"), "Pipette is 0, which cannot be: without it the result cannot be worked out."),
        (
            person(odd="lots"),
            "Pipette holds “lots”, which cannot be used as it stands: without it the result cannot be worked out.",
        ),
    ],
)
def test_a_number_that_is_missing_says_what_is_wrong_with_it(people: Any, message: str) -> None:
    (one, _), _ = numbers(people, person("25.0"))
    assert [each.message for each in one.findings] == [message]
    assert one.lacks(None)
    assert {*one.waits(unjudged=True)} == {"calculation", "figures", "accuracy"}


def test_of_a_student_with_a_number_for_each_run_only_the_run_without_lacks_one() -> None:
    row, runs = person(None, "25.0", "25.0")
    (one,), _ = numbers((row, [*runs, run("3", "0.00 24.30")]))
    assert (one.lacks(None), one.lacks("1"), one.lacks("3")) == (False, False, True)
    assert one.findings[0].message == "Pipette of run 3 is missing: without it this run gives no result."


@pytest.mark.parametrize(
    ("given", "stands_for"),
    [
        ("values = { A = 0.250, B = 0.300, C = 0.200 }", "0.250"),
        ("default = 0.150, values = { A = 0.250, B = 0.300 }", "0.150"),
    ],
)
def test_a_number_by_bottle_is_shown_by_its_default_or_else_by_the_middle_one(given, stands_for) -> None:
    bottles = practical(DRAIN_CLEANER, ("concentration = 0.0500", f'concentration = {{ by = "Bottle", {given} }}'))
    assert bottles.file.burette.concentration == Decimal(stands_for)


def test_a_number_by_bottle_is_that_of_the_students_bottle() -> None:
    by = '{ by = "Bottle", values = { A = 20.0, B = 25.0 } }'
    bottles = practical(DRAIN_CLEANER, ("aliquot = 25.0", f"aliquot = {by}"))
    each = [{"groups": {"Bottle": bottle}, "cells": {"Bottle": "C2"}} for bottle in "ABC"]
    sheet = sheet_of(*((row, [run("1", "0.00 24.35")]) for row in each))
    first, second, third = own_numbers(bottles, formula_of(bottles), sheet)
    assert [(one.of(None)[0].text, one.of(None)[0].owner) for one in (first, second)] == [
        ("20.0", "group"),
        ("25.0", "group"),
    ]
    assert [each.message for each in third.findings] == [
        "The practical has no value for this Bottle: without it the result cannot be worked out."
    ]


CLASS = [person(each) for each in ("25.0", "25.0", "24.9", "25.1")]


def test_a_number_far_from_everybody_elses_is_used_and_said() -> None:
    found, _ = numbers(*CLASS, person("2.5"))
    assert [one.far for one in found] == [False, False, False, False, True]
    assert "far smaller than everybody else’s" in found[-1].findings[0].message
    assert values(found[-1], None) == [Fraction(5, 2)]


def test_two_who_differ_have_no_middle_number_to_be_far_from() -> None:
    found, _ = numbers(person("25.0"), person("2.5"))
    assert not any(one.far for one in found)


@pytest.mark.parametrize(("result", "far"), [(0.0980, False), (0.5, True), (np.nan, True)])
def test_a_number_far_off_is_borne_out_by_a_result_like_everybody_elses(result: float, far: bool) -> None:
    found, formula = numbers(*CLASS, person("2.5"))
    results = np.array([0.0974, 0.0974, 0.0974, 0.0974, result])
    held = held_against_all(found, results, [formula] * 5, [student(run("1", "0.00 24.35"))] * 5)
    assert held[-1].far == far


def test_a_mean_is_over_the_numbers_of_its_runs() -> None:
    (one,), _ = numbers(person(None, "25.0", "24.0", "25.0"))
    ada = student(*(run(str(n), "0.00 24.35") for n in (1, 2, 3)))
    assert [(each.value, each.text) for each in inputs_over(one, ada, (0, 1))] == [(Fraction(49, 2), "24.5000")]
    assert [(each.value, each.text) for each in inputs_over(one, ada, (0, 2))] == [(25, "25.0")]


def test_titres_with_the_blank_taken_off_are_turned_back_to_what_was_read() -> None:
    ada = student(run("1", "0.00 24.35", "24.15"), run("2", "0.00 24.40", "24.20"), mean="24.18")
    back = as_read(ada, Fraction(1, 5))
    assert [each.written for each in back.runs] == [24_350, 24_400]
    assert (back.own_mean, back.net) == (Decimal("24.38"), Decimal("0.2"))


def test_titres_as_they_were_read_stay_so() -> None:
    ada = student(run("1", "0.00 24.35", "24.35"), run("2", "0.00 24.40", "24.40"), mean="24.38")
    assert as_read(ada, Fraction(1, 5)) == ada


@pytest.mark.parametrize(("mean", "kept"), [("15.62", "24.375"), ("24.38", "24.38"), ("3.00", "3.00")])
def test_what_a_sample_saved_of_the_blank_is_turned_to_the_mean_titre(mean: str, kept: str) -> None:
    ada = student(run("1", "0.00 24.35", "24.35"), run("2", "0.00 24.40", "24.40"), mean=mean)
    assert as_titre(ada, Fraction(40)).own_mean == Decimal(kept)


def test_titres_of_a_later_endpoint_counted_from_the_first_reading_are_turned_to_those_from_the_one_before() -> None:
    before = student(run("1", "0.00 10.00"), run("2", "0.00 10.05"))
    ada = student(run("1", "10.00 24.35", "24.35"), run("2", "10.05 24.40", "24.40"), mean="24.38")
    turned = from_the_last_endpoint(ada, [before])
    assert [each.written for each in turned.runs] == [14_350, 14_350]
    assert (turned.own_mean, turned.net, turned.saved) == (Decimal("14.35"), Decimal("-10.025"), Decimal("24.38"))
    assert from_the_last_endpoint(ada, [student(run("1", "0.00 9.00"), run("2", "0.00 9.05"))]).runs == ada.runs
