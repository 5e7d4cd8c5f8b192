"""Rarer mishaps planted in simulated classes of ordinary students: found, named, and nobody else asked.

The readings of the simulator are changed by hand, by rules that are not those of the table of hypotheses.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np
import pytest

from labmark.diagnose.bench import diagnose_bench
from tests.bench_scores import matrix
from tests.simulator import FAULTS, Readings, SimulatedBench, simulate

ORDINARY = SimulatedBench(rates=dict.fromkeys(FAULTS, 0.0), endpoint=0.003, accurate=(3, 4))
TOUCHED = 5
"""Students of each class in whom something is planted: the first ones."""

Plant = Callable[[Readings, int, np.random.Generator], int | None]
"""Changes the readings of a student; returns the run, or None for the student."""


def digits_swapped(readings: Readings, row: int, rng: np.random.Generator) -> int:
    """Write the final reading of a run with units and tenths, or tens and units, in the other order."""
    runs = [k for k in np.flatnonzero(readings.present[row]) if k]
    for _ in range(100):
        run = int(rng.choice(runs))
        digits = list(f"{readings.final[row, run] // 10:04d}")
        at = int(rng.integers(0, 2))
        digits[at], digits[at + 1] = digits[at + 1], digits[at]
        other = 10 * int("".join(digits))
        if readings.initial[row, run] < other <= 50_000 and other >= 10_000 and other != readings.final[row, run]:
            readings.final[row, run] = other
            return run
    raise AssertionError("no digits to swap")


def level_change(readings: Readings, row: int, rng: np.random.Generator) -> None:
    """Move the later runs, or the first ones with the rough, of a student with four by the same volume."""
    runs = np.flatnonzero(readings.present[row])
    early = rng.random() < 0.5
    moved = runs[:3] if early else runs[3:]
    out = 50 * round(rng.uniform(0.35, 2.5) * rng.choice([-1, 1]) / 0.05)
    readings.final[row, moved] += out


def always_short(readings: Readings, row: int, rng: np.random.Generator) -> None:
    """Stop every run short of the endpoint, the rough too."""
    out = rng.uniform(0.4, 0.6) * rng.uniform(0.9, 1.1, readings.present.shape[1])
    readings.final[row] -= np.where(readings.present[row], 50 * np.rint(out / 0.05).astype(np.int64), 0)


def shares(plant: Plant, finding: str, bench: SimulatedBench = ORDINARY, classes: int = 12) -> tuple[float, int]:
    """Return the share of planted students of whom just this is claimed, and how many others something is claimed of."""
    found, others = 0, 0
    for seed in range(classes):
        rng = np.random.default_rng([seed, 5])
        readings = simulate(dataclasses.replace(bench, equivalence=round(rng.uniform(18, 28), 2)), seed=seed)
        wanted = {(row, plant(readings, row, rng), finding) for row in range(TOUCHED)}
        claims = {(claim.student, claim.run, claim.finding) for claim in diagnose_bench(matrix(readings)).claims}
        found += sum({claim for claim in claims if claim[0] == each[0]} == {each} for each in wanted)
        others += len({student for student, *_ in claims if student >= TOUCHED})
    return found / (classes * TOUCHED), others


FOUR = dataclasses.replace(ORDINARY, accurate=(4, 4))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("plant", "finding", "bench", "least"),
    [
        (digits_swapped, "digits-swapped", ORDINARY, 0.85),
        (level_change, "level-change", FOUR, 0.85),
        (always_short, "always-short", ORDINARY, 0.7),
    ],
    ids=["digits", "level", "short"],
)
def test_what_is_planted_is_claimed_and_of_nobody_else(plant, finding, bench, least):
    share, others = shares(plant, finding, bench)
    assert share >= least
    assert others == 0
