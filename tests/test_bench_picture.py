"""The reliability diagram of the benchmark: drawn from counts, the same bytes each time."""

from __future__ import annotations

import numpy as np
import pytest

from tests.bench_scores import Scores
from tests.odds import Odds

RULES = [("diagnosis", 0.99, 0.95), ("further than 0.10", 0.40, 0.80)]


def scores():
    odds = Odds()
    for claim in [(0.95, True)] * 19 + [(0.95, False)] + [(0.55, True), (0.55, False)]:
        odds.add("overshoot", [claim])
    return Scores(odds=odds)


def test_reliability_gathers_claims_by_tenths():
    low, high = scores().odds.bins()
    assert low == pytest.approx((0.55, 0.5, 2))
    assert high == pytest.approx((0.95, 0.95, 20))
    assert scores().odds.error == pytest.approx(2 * 0.05 / 22)
    assert scores().odds.careful == pytest.approx(-2 * 0.05 / 22)


def test_a_share_of_few_claims_comes_with_the_interval_that_it_lies_in():
    # Wilson (1927) for 19 of 20, by hand.
    (row,) = scores().odds.sure()
    assert row == (
        "overshoot",
        pytest.approx(0.95),
        0.95,
        20,
        pytest.approx(0.7639, abs=1e-3),
        pytest.approx(0.9911, abs=1e-3),
    )


def drawn(students: int, each: int, seed: int) -> Odds:
    """Return odds that hold, of claims about each student that are right or wrong together."""
    rng, odds = np.random.default_rng(seed), Odds()
    for said in rng.uniform(0.5, 1.0, students).tolist():
        odds.add("overshoot", [(said, bool(rng.random() < said))] * each)
    return odds


@pytest.mark.slow
@pytest.mark.parametrize("each", [1, 4])
def test_odds_that_hold_have_the_error_that_chance_makes(each):
    many = [drawn(120, each, seed) for seed in range(200)]
    errors, usual, most = zip(*((one.error, *one.by_chance()) for one in many), strict=True)
    assert np.mean(errors) == pytest.approx(np.mean(usual), rel=0.05)
    assert 0.01 <= np.mean(np.array(errors) > most) <= 0.10


def test_claims_of_one_student_that_fall_together_leave_as_much_to_chance_as_one():
    assert drawn(120, 4, 1).by_chance() == pytest.approx(drawn(120, 1, 1).by_chance())


@pytest.mark.slow
def test_the_picture_is_drawn_alike_each_time(tmp_path):
    from tests.benchmarks.reliability_picture import draw

    first, second = tmp_path / "a.svg", tmp_path / "b.svg"
    for path in (first, second):
        draw(path, {"plain faults": scores()}, RULES)
    assert first.read_bytes() == second.read_bytes()
    assert b"<svg" in first.read_bytes()[:1000]


@pytest.mark.slow
def test_a_class_without_a_claim_can_be_drawn(tmp_path):
    from tests.benchmarks.reliability_picture import draw

    draw(tmp_path / "a.svg", {"nothing": Scores()}, RULES)
    assert (tmp_path / "a.svg").stat().st_size > 1000
