"""What a reading stands for if it was taken in the wrong direction, and what else the readings themselves say."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labmark.diagnose.bench_input import BenchSetting, RunMatrix
from labmark.diagnose.bench_misread import OF_HYPOTHESIS, VARIANT_SHARES, VARIANTS, meant
from labmark.diagnose.bench_view import class_centre, look, student_levels
from tests.build import run_matrix

readings = st.integers(0, 1000).map(lambda steps: 50 * steps)
BOTH, BELOW = VARIANTS.index("both"), VARIANTS.index("both from below")


def titres(low: int, high: int) -> dict[str, int]:
    stands_for = meant(np.array([[low]]), np.array([[high]]), 50, 50_000)[0, 0]
    return dict(zip(VARIANTS, stands_for.tolist(), strict=True))


@pytest.mark.parametrize(
    ("low", "high", "way", "titre"),
    [
        (0, 24700, "final", 24300),
        (0, 25300, "final from below", 24700),
        (1700, 26800, "both", 24900),
        (300, 24650, "initial", 23950),
        (0, 24000, "both", 24000),
        (0, 24500, "final", 24500),
        (0, 23750, "final 100", 27350),
        (0, 24050, "final 100", 20450),
        (0, 24050, "final 10", 24500),
        (0, 24350, "final 10", 24350),  # 24.53 is not read
        (0, 26350, "final 1000", 26350),  # 62.35 is off the scale
        (1300, 25650, "initial 100", 22550),
        (0, 20450, "final 1000", 20450),  # nobody writes 02.45
        (0, 2450, "final 1000", 20450),  # a nought in front was left out
    ],
)
def test_what_a_reading_stands_for(low, high, way, titre):
    assert titres(low, high)[way] == titre


@given(readings, readings)
def test_reading_upside_down_twice_is_reading_rightly(low, high):
    def mirror(reading: int) -> int:
        return titres(0, reading)["final"]

    assert mirror(mirror(high)) == high
    assert titres(low, high)["both"] == mirror(high) - mirror(low)


@given(readings, readings)
def test_counting_from_below_moves_both_readings_alike_unless_one_is_on_a_mark(low, high):
    stands_for = titres(low, high)
    if low % 1000 and high % 1000:
        assert stands_for["both"] == stands_for["both from below"]


def test_the_ways_to_write_a_reading_share_all_of_their_hypothesis():
    assert [VARIANT_SHARES[each == OF_HYPOTHESIS].sum() for each in set(OF_HYPOTHESIS)] == pytest.approx([1, 1])


def test_a_refilled_run_has_no_single_reading_to_mirror():
    runs = run_matrix([[0, 0]], [[24950, 24350]], expected=24.35)
    summed = RunMatrix(
        runs.initial, runs.final, runs.titre + 5000, runs.present, runs.usable, runs.rough, runs.expected,
        runs.expected_uncertainty, runs.titre + 5000,
    )  # fmt: skip
    view = look(summed, BenchSetting())
    assert (view.meant == view.titre[..., None]).all()


def test_reversed_readings_are_mirrored_like_any_other():
    straight = run_matrix([[0, 300]], [[24950, 24650]], expected=24.35)
    reversed_ = RunMatrix(
        straight.final, straight.initial, straight.titre, straight.present, straight.usable, straight.rough,
        straight.expected, straight.expected_uncertainty, straight.read,
    )  # fmt: skip
    assert (look(straight, BenchSetting()).meant == look(reversed_, BenchSetting()).meant).all()


def test_readings_say_what_was_meant_where_a_titre_is_turned_to_another_mass():
    # 24.35 cm³ with four fifths of the usual sample is 30.44 with all of it: 2 ÷ 3 cm³ more on the burette is 5 ÷ 6 there.
    runs = run_matrix([[0, 300]], [[24950, 24650]], expected=30.44)
    view = look(replace(runs, titre=np.rint(runs.titre * 1.25).astype(int)), BenchSetting())
    straight = look(runs, BenchSetting())
    assert view.single.all()
    assert view.meant - view.titre[..., None] == pytest.approx(
        (straight.meant - straight.titre[..., None]) * 1.25, abs=1
    )


def test_not_refilled_needs_a_zero_and_a_lower_reading_before():
    runs = run_matrix([[0, 0, 100, 0]], [[24950, 48750, 24450, 24300]], expected=24.35)
    view = look(runs, BenchSetting())
    assert view.can_chain.tolist() == [[False, True, False, False]]
    assert view.chained[0, 1] == 2380


@pytest.mark.parametrize(
    ("finals", "interval"),
    [([24950, 24350, 24400], 0), ([24900, 24400, 24300], 1), ([25000, 24500, 24000], 2)],
    ids=["0.05", "0.1", "0.5"],
)
def test_the_interval_a_student_reads_to(finals, interval):
    assert look(run_matrix([[0, 0, 0]], [finals], expected=24.35), BenchSetting()).interval[0] == interval


def test_levels_are_medians_of_accurate_runs():
    runs = run_matrix(np.zeros((2, 4)), [[26000, 24300, 24400, 24900], [25000, 24100, 24200, 24000]])
    assert student_levels(runs).tolist() == [24.4, 24.1]
    assert class_centre(runs) == pytest.approx(24.25)


def test_without_a_reference_the_class_is_the_reference():
    runs = run_matrix(np.zeros((2, 4)), [[26000, 24300, 24400, 24900], [25000, 24100, 24200, 24000]])
    assert look(runs, BenchSetting()).expected.tolist() == pytest.approx([24.25, 24.25])
