"""The table of hypotheses: complete, consistent, and readable by a teacher."""

from __future__ import annotations

import re

import pytest

from labmark.diagnose.hypotheses import (
    BY_NAME,
    COUNTED_FROM_BELOW,
    HYPOTHESES,
    MIRRORED_READINGS,
    PIPETTES,
    RUN_HYPOTHESES,
    STUDENT_HYPOTHESES,
)

RUN_FINDINGS = {"implausible-titre", "overshoot", "undershoot", "misread-division", "read-upside-down"}
STUDENT_FINDINGS = {"always-overshoots", "diluted-titrant", "wrong-aliquot"}
every = pytest.mark.parametrize("hypothesis", HYPOTHESES, ids=lambda h: h.name)


def test_every_finding_about_the_bench_has_a_hypothesis():
    assert {h.finding for h in RUN_HYPOTHESES} == RUN_FINDINGS
    assert {h.finding for h in STUDENT_HYPOTHESES if h.finding} >= STUDENT_FINDINGS


@pytest.mark.parametrize(
    "cause",
    [
        "air bubble", "leaking tap", "funnel", "taken as zero", "not refilled", "pipette wet", "flask rinsed",
        "blown out", "scattered", "none of these", "upside down",
    ],
)  # fmt: skip
def test_causes_without_a_finding_of_their_own_take_part(cause):
    assert any(cause in h.name for h in HYPOTHESES)


def test_names_are_unique():
    assert len(BY_NAME) == len(HYPOTHESES)


def test_rates_of_what_a_student_did_add_up_to_one():
    assert sum(h.rate for h in STUDENT_HYPOTHESES) == pytest.approx(1, abs=0.01)


def test_most_runs_go_as_they_should():
    assert sum(h.rate for h in RUN_HYPOTHESES) < 0.10


@every
def test_shares_of_the_sizes_add_up_to_one(hypothesis):
    if hypothesis.bands:
        assert sum(band.share for band in hypothesis.bands) == pytest.approx(1)
        assert all(0 < band.low <= band.high for band in hypothesis.bands)


@every
def test_sizes_and_direction_fit_the_shape(hypothesis):
    sized = {"added", "proportional", "fading", "whole number", "scatter"}
    assert bool(hypothesis.bands) == (hypothesis.shape in sized)
    assert (hypothesis.direction == "") == (hypothesis.shape == "as expected")


@every
def test_words_are_whole_sentences_for_a_reader(hypothesis):
    assert re.fullmatch(r"[A-Z].*\.", hypothesis.tell)
    assert not hypothesis.looks_like.endswith(".")
    assert not hypothesis.check.endswith(".")
    assert min(len(hypothesis.looks_like), len(hypothesis.tell), len(hypothesis.check)) > 10


@every
def test_nobody_is_blamed(hypothesis):
    words = f"{hypothesis.looks_like} {hypothesis.tell} {hypothesis.check}".lower()
    assert not re.search(r"\b(cheat\w*|careless\w*|fault|wrongly|sloppy|lazy|invented|faked)\b", words)


def test_shares_of_pipettes_and_mirrored_readings_add_up_to_one():
    assert sum(share for _, share in PIPETTES) == pytest.approx(1)
    assert sum(share for _, share in MIRRORED_READINGS) == pytest.approx(1)
    assert 0 < COUNTED_FROM_BELOW < 0.5
