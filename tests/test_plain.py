"""Findings that are plain from the readings. One table is the specification: a student's runs, every finding beside them."""

import random

import pytest

from labmark.diagnose.plain import Setting, plain_findings
from labmark.findings import KINDS, OF_THE_CLASS
from labmark.judge.feedback import advice_on
from tests.build import run, student

SETTING = Setting(capacity=50_000, step=50, within=100, at_least=2)
GOOD = (run("1", "0.00 24.35", "24.35"), run("2", "0.00 24.40", "24.40"))


def found(*runs, at_least=2):
    setting = Setting(50_000, 50, 100, at_least)
    return [(each.finding, each.run, each.level) for each in plain_findings(student(*runs, at_least=at_least), setting)]


CASES = {
    "nothing wrong": (GOOD, []),
    "the final reading is missing": ((*GOOD, run("3", "0.00 -")), [("missing-reading", "3", "check")]),
    "the initial reading is missing": ((*GOOD, run("3", "- 24.40")), [("missing-reading", "3", "check")]),
    "only a titre is written": ((*GOOD, run("3", "", "24.40")), [("missing-reading", "3", "check")]),
    "a reading is not a number": (
        (*GOOD, run("3", "0.00 -", odd={"final": "22.5O"}, cells={"final": "Results!F2"})),
        [("not-a-number", "3", "check")],
    ),
    "a reading is off the scale and the titre is right all the same": (
        (*GOOD, run("3", "0.35 247.00", "24.35")),
        [("off-scale", "3", "check")],
    ),
    "a reading is off the scale": ((*GOOD, run("3", "28.20 51.50")), [("off-scale", "3", "check")]),
    "a reading is counted on beyond the scale": ((*GOOD, run("3", "27.20 51.50")), [("off-scale", "3", "note")]),
    "a reading goes on from the top of the scale": ((*GOOD, run("3", "27.20 1.50")), [("refilled", "3", "note")]),
    "both readings are off the scale": ((*GOOD, run("3", "2720 5150")), [("off-scale", "3", "check")]),
    "a reading off the scale is not taken the other way round": (
        (*GOOD, run("3", "24.40 -1.95")),
        [("off-scale", "3", "check")],
    ),
    "nothing was used": ((*GOOD, run("3", "5.00 5.00")), [("implausible-titre", "3", "check")]),
    "a titre of three decimals is rounded to two": (
        (*GOOD, run("3", "0.025 24.40", "24.38")),
        [("coarse-reading", "3", "fault")],
    ),
    "readings stand the other way round": ((*GOOD, run("3", "24.40 0.00")), [("reversed-readings", "3", "check")]),
    "a titre is wrong": ((*GOOD, run("3", "0.35 24.70", "24.45")), [("subtraction-slip", "3", "fault")]),
    "a titre is wrong by a hair": ((*GOOD, run("3", "0.35 24.70", "24.40")), [("subtraction-slip", "3", "fault")]),
    "a titre is rounded to one decimal": ((*GOOD, run("3", "0.35 24.70", "24.4")), []),
    "a reading is not to 0.05": ((*GOOD, run("3", "0.00 24.37", "24.37")), [("coarse-reading", "3", "fault")]),
    "a reading has one decimal": ((*GOOD, run("3", "0.00 24.4", "24.40")), [("coarse-reading", "3", "fault")]),
    "the decimals of a reading cannot be known": ((*GOOD, run("3", "0.00 24.4", "24.40", final_decimals=None)), []),
    "the rough is read coarsely": ((run("Rough", "0 25"), *GOOD), [("coarse-reading", "Rough", "note")]),
    "a run does not agree": ((*GOOD, run("3", "0.00 24.90")), [("not-concordant", "3", "note")]),
    "the rough does not agree": ((run("Rough", "0.00 26.00"), *GOOD), []),
    "no runs agree": (
        (run("1", "0.00 24.00"), run("2", "0.00 24.60")),
        [("no-concordant-runs", None, "check")],
    ),
    "one run": ((run("Rough", "0.00 25.00"), run("1", "0.00 24.35")), [("too-few-runs", None, "check")]),
    "every run reads downwards": (
        (run("1", "50.00 25.65"), run("2", "50.00 25.60")),
        [("counts-down", None, "note")],
    ),
    "the burette was filled again": (
        (*GOOD, run("3", "24.60 49.00", parts=((24600, 48000), (0, 1000)))),
        [("refilled", "3", "note")],
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_what_is_found(name):
    runs, expected = CASES[name]
    assert found(*runs) == expected


@pytest.mark.parametrize(
    ("cells", "cited"),
    [
        ({"initial": "B2", "final": "C2", "initial again": "D2", "final again": "E2"}, ("B2", "C2", "D2", "E2")),
        ({"initial": "C2", "final": "C2"}, ("C2",)),
    ],
)
def test_a_refilled_burette_cites_every_cell_once(cells, cited):
    refilled = run("3", "24.60 49.00", parts=((24600, 48000), (0, 1000)), cells=cells)
    (found,) = plain_findings(student(*GOOD, refilled), SETTING)
    assert found.cells == cited


def test_the_kind_of_a_slip_in_subtraction_stands_in_its_evidence():
    (slip,) = plain_findings(student(*GOOD, run("3", "0.35 24.70", "25.35")), SETTING)
    assert slip.evidence["kind"] == "whole-number slip"


def test_an_absent_student_has_no_findings():
    assert found() == []


def test_three_must_agree_where_the_practical_says_so():
    assert found(*GOOD, at_least=3) == [("too-few-runs", None, "check")]


def message(*runs):
    return plain_findings(student(*runs), SETTING)[0].message


@pytest.mark.parametrize(
    ("runs", "text"),
    [
        ((*GOOD, run("3", "0.35 24.70", "24.45")), "Run 3: 24.70 − 0.35 is 24.35 cm³, but 24.45 is written: a slip in borrowing gives that."),
        (
            (*GOOD, run("3", "0.35 24.70", "24.53")),
            "Run 3: 24.70 − 0.35 is 24.35 cm³, but 24.53 is written: two digits are swapped.",
        ),
        (
            (run("Rough", "0.00 -", odd={"final": "25-26"}), *GOOD),
            "Rough: the final reading says “25-26”, which is not a number.",
        ),
        ((*GOOD, run("3", "0.35 24.70", "21.87")), "Run 3: 24.70 − 0.35 is 24.35 cm³, but 21.87 is written."),
        (
            (*GOOD, run("3", "0.35 -", "24.40")),
            "Run 3: the final reading is missing, so the titre cannot be worked out. The written titre would fit 24.75.",
        ),
        (
            (*GOOD, run("3", "0.00 2440")),
            "Run 3: the final reading 2440 cm³ is off the scale, which ends at 50.00; perhaps 24.40 was meant.",
        ),
        (
            (*GOOD, run("3", "24.40 0.00")),
            "Run 3: the initial reading 24.40 is larger than the final reading 0.00. Taken the other way round, the titre is 24.40 cm³.",
        ),
        (
            (*GOOD, run("3", "0.00 24.4", "24.40")),
            "Run 3: the final reading 24.4 is given with one decimal instead of two.",
        ),
        (
            (*GOOD, run("3", "0.00 24.90")),
            "Run 3: 24.90 cm³ is left out: with it the titres in the mean would be 0.55 cm³ apart, more than 0.10.",
        ),
        (
            (run("1", "0.00 24.00"), run("2", "0.00 24.60"), run("3", "0.00 24.80")),
            "No two titres agree within 0.10 cm³; the mean is that of the two closest, 0.20 cm³ apart. Another run was needed.",
        ),
    ],
)  # fmt: skip
def test_a_message_gives_the_figures_and_the_direction(runs, text):
    assert message(*runs) == text


def test_every_kind_has_words_for_the_teacher_and_advice_for_the_student_here_or_in_the_table():
    for kind in KINDS.values():
        assert kind.title
        assert advice_on(kind.code) or kind in OF_THE_CLASS or kind.level == "note" or kind.private


TENTHS = ("1.30 26.10", "0.40 24.80", "2.20 26.70", "0.70 25.00", "1.10 25.50")
"""Ten readings that all end in 0."""


def throughout(*readings, **more):
    made = student(*(run(str(place), each, **more) for place, each in enumerate(readings, start=1)))
    return [each for each in plain_findings(made, SETTING) if each.finding == "coarse-reading"]


@pytest.mark.parametrize(
    ("reading", "fine"),
    [("24.950", True), ("24.975", True), ("24.97", True), ("24.98", True), ("24.96", False), ("24.972", False)],
)
def test_half_of_a_small_division_may_be_rounded_to_two_decimals(reading, fine):
    made = student(run("1", f"0.00 {reading}"))
    found = plain_findings(made, Setting(capacity=50_000, step=25, within=100, at_least=2))
    assert [each.finding for each in found if each.finding == "coarse-reading"] == ([] if fine else ["coarse-reading"])


def test_readings_that_all_end_in_0_are_noted_with_odds_and_nothing_more():
    (found,) = throughout(*TENTHS)
    assert (found.run, found.level, found.probability) == ("1", "note", 0.991)
    assert found.message.startswith("All readings are multiples of 0.10 cm³. Of 10 readings to the nearest 0.05 cm³")


@pytest.mark.parametrize(
    "readings",
    [
        TENTHS[:4],
        (*TENTHS, "0.25 24.60"),
        ("0.00 24.30", "0.00 24.40", "0.00 24.30", "0.00 24.40"),
        ("1.00 25.40", "2.00 26.30", "3.00 27.40", "1.00 25.30"),
    ],
    ids=["too few to tell", "one ends in 5", "from zero", "set to a numbered mark"],
)
def test_readings_that_may_well_end_in_0_are_left_alone(readings):
    assert throughout(*readings) == []


def test_readings_to_half_a_cm3_are_noted_from_four_on():
    (found,) = throughout("0.50 25.00", "1.50 26.50", "0.00 24.50")
    assert "multiples of 0.50 cm³" in found.message


@pytest.mark.slow
def test_of_students_who_read_to_the_nearest_0_05_hardly_anyone_is_noted():
    rng = random.Random(5)
    noted = 0
    for _ in range(1000):
        starts = [rng.randrange(0, 40) for _ in range(5)]
        noted += bool(throughout(*(f"{a / 20:.2f} {(a + 487 + rng.randrange(-3, 4)) / 20:.2f}" for a in starts)))
    assert noted <= 3
