"""The table of hypotheses in the teacher's words."""

from __future__ import annotations

import pytest

from labmark.diagnose.hypotheses import HYPOTHESES, Band, Hypothesis
from labmark.judge.bench_words import effect_of, looked_for, name_of


def hypothesis(shape, direction="+", *bands, name="spilt sample"):
    return Hypothesis(name, "run", None, direction, shape, bands, 0.01, "any", "looks", "", "", "Tell.", "check")


def test_every_hypothesis_is_shown_once_and_in_the_order_of_the_table():
    assert [row["rate"] for row in looked_for()] == [each.rate for each in HYPOTHESES]
    assert len({(row["what"], row["scope"]) for row in looked_for()}) == len(HYPOTHESES)


def test_a_row_holds_what_the_table_says():
    (row,) = (row for row in looked_for() if row["what"] == "Leaking tap")
    (own,) = (each for each in HYPOTHESES if each.name == "leaking tap")
    assert (row["scope"], row["finding"], row["direction"]) == ("run", "overshoot", "+")
    assert (row["looks_like"], row["tell"], row["check"]) == (own.looks_like, own.tell, own.check)


def test_a_hypothesis_is_called_by_the_title_of_its_finding_or_by_its_name():
    assert name_of(hypothesis("added", name="overshoot")) == "Past the endpoint"
    assert name_of(hypothesis("added")) == "Spilt sample"


@pytest.mark.parametrize(
    ("shape", "direction", "bands", "words"),
    [
        ("as expected", "", (), "as expected"),
        ("added", "+", (Band(1.0, 0.1, 0.8),), "up, 0.10 to 0.80 cm³"),
        ("added", "-", (Band(0.2, 0.6, 1.2), Band(0.8, 0.1, 0.6)), "down, 0.10 to 1.20 cm³ (mostly up to 0.60)"),
        ("proportional", "-", (Band(1.0, 0.01, 0.055),), "down, 1 to 5.5 % of the titre"),
        ("fading", "+", (Band(1.0, 0.01, 0.11),), "up, 1 to 11 % of the titre at first, less from run to run"),
        (
            "whole number", "+/-", (Band(0.7, 1.0, 1.0), Band(0.2, 10.0, 10.0), Band(0.06, 5.0, 5.0), Band(0.04, 2.0, 2.0)),
            "up or down, 1 cm³ (70 %) or 10 cm³ (20 %), seldom 2, 5",
        ),
        ("scatter", "+/-", (Band(0.7, 0.15, 0.15), Band(0.3, 0.35, 0.35)), "up or down, runs scatter by 0.15 to 0.35 cm³"),
        ("two levels", "+/-", (Band(1.0, 0.25, 1.50),), "up or down, some runs, 0.25 to 1.50 cm³"),
        ("digits swapped", "+/-", (), "up or down, as the readings say: 23.75 written for 27.35"),
        ("mirrored", "+/-", (), "up or down, as the readings say: 24.70 written for 24.30"),
        ("not refilled", "+", (), "up, by the final reading of the run before"),
        ("ratio", "+/-", (), "up or down, in the ratio of another pipette (5, 10, 20, 25, 50 cm³)"),
        ("anywhere", "+/-", (), "up or down, by any amount"),
    ],
)  # fmt: skip
def test_which_way_and_how_much_is_said_in_words(shape, direction, bands, words):
    assert effect_of(hypothesis(shape, direction, *bands)) == words
