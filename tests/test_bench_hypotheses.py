"""The table of hypotheses: complete, consistent, and readable by a teacher."""

from __future__ import annotations

import re

import pytest

from labmark.diagnose.hypotheses import (
    BY_NAME,
    COUNTED_FROM_BELOW,
    HYPOTHESES,
    MIRRORED_READINGS,
    NEEDED,
    PIPETTES,
    RUN_HYPOTHESES,
    STUDENT_HYPOTHESES,
    TABLE,
    BrokenTable,
    read_table,
)
from labmark.findings import KINDS, OF_A_RUN, OF_A_STUDENT
from labmark.places import packaged_text

RUN_FINDINGS = {
    "implausible-titre",
    "overshoot",
    "undershoot",
    "misread-division",
    "read-upside-down",
    "digits-swapped",
}
STUDENT_FINDINGS = {"level-change", "always-overshoots", "always-short", "diluted-titrant", "wrong-aliquot"}
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
    sized = {"added", "proportional", "fading", "whole number", "two levels", "each added", "scatter"}
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


# --- the data file ---------------------------------------------------------------------------------------------------

TEXT = packaged_text(TABLE)


def test_what_is_read_is_what_the_diagnosis_uses():
    assert read_table(TEXT).hypotheses == HYPOTHESES


def test_every_finding_named_in_the_table_is_in_the_catalogue_and_about_the_same_thing():
    kinds = {"run": OF_A_RUN, "student": OF_A_STUDENT}
    for hypothesis in HYPOTHESES:
        if hypothesis.finding and hypothesis.name not in ("none of these", "reads the scale upside down"):
            assert KINDS[hypothesis.finding] in kinds[hypothesis.scope]


@pytest.mark.parametrize("key", ["name", "scope", "direction", "shape", "rate", "runs", "looks_like", "tell", "check"])
def test_the_head_of_the_file_explains_every_key(key):
    head = TEXT[: TEXT.index("[[hypothesis]]")]
    assert re.search(rf"^#   {key}\s+\S", head, re.MULTILINE)
    assert "common practice, no source" in head


FIRST = r"row 1 \(overshoot\): "


@pytest.mark.parametrize(
    ("pattern", "instead", "message"),
    [
        (r"rate = [\d.]+", "rate = 2.2", FIRST + "rate is a fraction, and 2.2 is more than 1"),
        (r"rate = [\d.]+", "rate = -0.022", FIRST + "rate has to be a number above 0, and is -0.022"),
        (r"rate = [\d.]+", 'rate = "often"', FIRST + "rate has to be a number above 0, and is 'often'"),
        (r"rate = [\d.]+\n", "", FIRST + "rate is missing"),
        (r"rate = [\d.]+", "rate = 0.6", "rates of the rows about a run: together they are more than half of all runs"),
        (r'(?s)(name = "ordinary work".*?)rate = [\d.]+', r"\1rate = 0.99", "rates of the rows about a student: they add up"),
        (r"share = [\d.]+", "share = 0.999", FIRST + "shares of the sizes: they add up to 1[.]"),
        (r"low = [\d.]+, high = [\d.]+", "low = 0.9, high = 0.6", FIRST + "a size from 0.9 to 0.6 runs backwards"),
        ('shape = "added"', 'shape = "extra"', FIRST + "shape is 'extra'; it can be 'as expected', "),
        ('shape = "added"', 'shape = "anywhere"', FIRST + "the shape 'anywhere' has no sizes"),
        ('shape = "mirrored"', 'shape = "added"', "the shape 'added' needs sizes"),
        ('finding = "overshoot"', 'finding = "overshot"', FIRST + "there is no finding 'overshot'"),
        ('scope = "run"', 'scope = "class"', FIRST + "scope is 'class'; it can be 'run', 'student'"),
        ('check = "', 'checks = "', FIRST + "check is missing"),
        ('check = "', 'colour = "red"\ncheck = "', FIRST + "there is no key 'colour'"),
        ('runs = "first"', 'runs = "last"', r"row \d+ \(air bubble in the jet\): runs is 'last'; it can be 'any', 'first'"),
        ('name = "undershoot"', 'name = "overshoot"', "rows named overshoot: a name stands once"),
        ('name = "scattered work"', 'name = "shaky work"', "the row 'scattered work' about a student: it is missing"),
        (r"volume = 10.0\nshare = [\d.]+", "volume = 10.0\nshare = 0.95", "shares of the pipettes: they add up to "),
        (r"final = [\d.]+", "final = 0.95", r"shares of \[mirrored\]: they add up to "),
        (r"both = [\d.]+", "", r"\[mirrored\]: both has to be a number above 0, and is None"),
        (r"\[\[hypothesis\]\]", "[[hypothesis", "hypotheses.toml: "),
    ],
)  # fmt: skip
def test_a_broken_row_is_refused_with_its_name_and_what_is_wrong(pattern, instead, message):
    broken, number = re.subn(pattern, instead, TEXT, count=1)
    assert number == 1
    with pytest.raises(BrokenTable, match=message):
        read_table(broken)


@pytest.mark.parametrize(("name", "scope"), NEEDED)
def test_rows_that_the_arithmetic_asks_for_are_there(name, scope):
    assert BY_NAME[name].scope == scope
