"""The reliability diagram of the benchmark: drawn from counts, the same bytes each time."""

from __future__ import annotations

import pytest

from tests.bench_scores import Scores
from tests.benchmarks.reliability_picture import draw

RULES = [("diagnosis", 0.99, 0.95), ("further than 0.10", 0.40, 0.80)]


def scores():
    return Scores(odds=[(0.95, True)] * 19 + [(0.95, False)] + [(0.55, True), (0.55, False)])


def test_reliability_gathers_claims_by_tenths():
    low, high = scores().reliability()
    assert low == pytest.approx((0.55, 0.5, 2))
    assert high == pytest.approx((0.95, 0.95, 20))
    assert scores().calibration_error == pytest.approx(2 * 0.05 / 22)


@pytest.mark.slow
def test_the_picture_is_drawn_alike_each_time(tmp_path):
    first, second = tmp_path / "a.svg", tmp_path / "b.svg"
    for path in (first, second):
        draw(path, {"plain faults": scores()}, RULES)
    assert first.read_bytes() == second.read_bytes()
    assert b"<svg" in first.read_bytes()[:1000]


def test_a_class_without_a_claim_can_be_drawn(tmp_path):
    draw(tmp_path / "a.svg", {"nothing": Scores()}, RULES)
    assert (tmp_path / "a.svg").stat().st_size > 1000
