"""Readings of a burette that was not refilled: each final reading is the next initial one, and they check each other.

All students and figures are invented; that burettes are not refilled for each run is common practice, no source.
"""

from __future__ import annotations

import pytest

from labmark.diagnose.bench import diagnose_bench
from labmark.diagnose.bench_input import BenchSetting
from labmark.diagnose.bench_links import WHOLES
from labmark.diagnose.bench_misread import VARIANTS
from labmark.diagnose.bench_view import look
from tests.build import run
from tests.classes import scattered, tree_of
from tests.seeds import few_quick
from tests.test_bench import claimed, matrix

CASES = [
    ("nothing", [(0.0, 15.1), (15.1, 29.4), (29.4, 43.65), (0.0, 14.2)], []),
    ("final one too many, read again", [(0.0, 15.1), (15.1, 30.4), (29.4, 43.65), (0.0, 14.2)], [(1, "misread-division")]),
    ("initial one too few, right before", [(0.0, 15.1), (14.1, 29.4), (29.4, 43.65), (0.0, 14.2)], [(1, "misread-division")]),
    ("final one too many, copied", [(0.0, 15.1), (15.1, 30.4), (30.4, 43.65), (0.0, 14.2)], [(1, "misread-division")]),
    ("final ten too many, copied", [(0.0, 15.1), (15.1, 39.4), (39.4, 43.65), (0.0, 14.2)], [(1, "misread-division")]),
    ("one too many, and read alike again", [(0.0, 15.1), (15.1, 30.4), (30.4, 44.65), (0.0, 14.2)], [(1, "overshoot")]),
    ("upside down, right again", [(0.0, 15.1), (15.1, 29.6), (29.4, 43.65), (0.0, 14.2)], [(1, "read-upside-down")]),
    ("digits of the final one swapped, read again", [(0.0, 15.1), (15.1, 24.9), (29.4, 43.65), (0.0, 14.2)], [(1, "digits-swapped")]),
    ("upside down, copied", [(0.0, 15.1), (15.1, 29.6), (29.6, 43.65), (0.0, 14.2)], [(1, "read-upside-down")]),
]  # fmt: skip


def of(readings):
    return matrix(readings, expected=None)


@pytest.fixture
def small_class(monkeypatch):
    """Ten ordinary students whose titres are about 14.25 cm³."""
    from tests import test_bench

    rows = [[(a, round(b - 10.1, 2)) for a, b in row] for row in test_bench.CLASS]
    monkeypatch.setattr(test_bench, "CLASS", rows)


@pytest.mark.usefixtures("small_class")
@pytest.mark.parametrize(
    ("readings", "wanted"), few_quick([case[1:] for case in CASES], 2), ids=[case[0] for case in CASES]
)
def test_what_readings_that_chain_say(readings, wanted):
    assert claimed(diagnose_bench(of(readings))) == wanted


def evidence_of(readings):
    found = diagnose_bench(of(readings))
    (claim,) = [claim for claim in found.claims if claim.student == 0]
    return found, claim.evidence


@pytest.mark.usefixtures("small_class")
def test_a_reading_that_was_misread_and_copied_moves_both_titres_back():
    found, evidence = evidence_of([(0.0, 15.1), (15.1, 30.4), (30.4, 43.65), (0.0, 14.2)])
    assert found.likely[0].tolist() == [-1, 14300, 14250, -1]
    assert (evidence["reading"], evidence["copied_to"]) == ("final", 2)
    assert evidence["mean_if_so"] == pytest.approx(14.25)


@pytest.mark.usefixtures("small_class")
def test_both_readings_upside_down_and_the_final_one_copied():
    # 1.70 and 15.95 read as 1.30 and 15.05; the next run, written from 15.05, ended at 30.20.
    found, evidence = evidence_of([(2.45, 17.55), (17.55, 31.8), (1.3, 15.05), (15.05, 30.2)])
    assert (found.claims[0].run, found.claims[0].finding) == (2, "read-upside-down")
    assert (evidence["reading"], evidence["copied_to"]) == ("both", 3)
    assert found.likely[0].tolist() == [-1, -1, 14250, 14250]


@pytest.mark.slow
@pytest.mark.parametrize("last", ["40.75", "40.80"])
def test_of_two_readings_that_contradict_each_other_one_was_misread(last):
    # 20.75 read upside down as 20.25, and right again: both readings of the third run upside down would explain it too.
    chained = [run("1", "21.15 41.20"), run("2", "0.75 20.25"), run("3", f"20.75 {last}")]
    tree = tree_of([({}, chained), *scattered(26, 20.0, 0.03)], ("value = 0.0974", "value = 0.0800"))
    found = [each for each in tree["students"][0]["findings"] if each["level"] == "check"]
    assert [(each["finding"], each["run"]) for each in found] == [("read-upside-down", "2")]
    assert found[0]["evidence"]["reading"] == "final"


@pytest.mark.slow
@pytest.mark.usefixtures("small_class")
@pytest.mark.parametrize(("case", "reading"), [(1, "final"), (2, "initial")])
def test_the_reading_beside_it_tells_which_of_the_two_was_misread(case, reading):
    _, evidence = evidence_of(CASES[case][1])
    assert evidence["reading"] == reading


def test_nothing_is_said_of_which_reading_where_nothing_tells():
    found = diagnose_bench(matrix([(0.0, 24.95), (0.55, 24.9), (0.2, 25.6), (0.3, 24.65)]))
    assert [(claim.finding, claim.evidence.get("reading")) for claim in found.claims] == [("misread-division", None)]


def test_refilled_burettes_have_no_reading_that_was_copied():
    assert not look(matrix(), BenchSetting()).links.copied.any()


def test_a_reading_without_a_neighbour_gains_and_loses_nothing():
    found = look(matrix([(0.5, 25.0), (0.35, 24.7), (0.4, 24.75)]), BenchSetting()).links
    one = WHOLES.tolist().index(1.0)
    assert found.whole[0, 2, one] == pytest.approx(1)
    assert found.ways[0, 2, VARIANTS.index("final")] == pytest.approx(1)
