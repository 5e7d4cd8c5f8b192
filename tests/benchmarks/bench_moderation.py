"""How often a class is said to stand apart among like ones, and how often a teacher who gives too much is found.

    python -m tests.benchmarks.bench_moderation [--like 1000] [--teachers 300] [--seed 1]

`--like` cohorts of 20 classes of 28 that differ by their students alone, half of them with teachers whose decisions go
both ways; `--teachers` cohorts of 12 classes of 28, in one of which decisions give on average 5 % of the marks more than
the scheme. By `tests/cohorts.py`, which knows nothing of the tests. All are invented.
"""

from __future__ import annotations

import argparse
from collections import Counter

import numpy as np

from labmark.cohort.compare import comparisons
from tests.cohorts import apart, cohort, simulated


def both_ways(rng):
    """Return by how many of 13 marks a teacher without a leaning moves a student."""
    return rng.choice([-1, 0, 1], p=[0.15, 0.7, 0.15])


def generous(rng):
    """Return the same of a teacher who gives 5 % of 13 marks on average."""
    return rng.choice([0, 1, 2], p=[0.5, 0.35, 0.15])


def share(found: int, of: int) -> str:
    """Return a share with its 95 % interval (normal)."""
    p = found / of
    return f"{100 * p:.1f} % ± {196 * (p * (1 - p) / of) ** 0.5:.1f} ({found} of {of})"


def main() -> None:
    """Print how often each is said."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--like", type=int, default=1000)
    parser.add_argument("--teachers", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    rng = np.random.default_rng(given.seed)
    said: Counter[str] = Counter()
    for number in range(given.like):
        classes = cohort(rng, 20, decisions=both_ways if number % 2 else None)
        whats = {what for _, what in apart(comparisons(classes))}
        said.update(whats)
        said["results or marks"] += bool(whats - {"decisions"})
        said["anything"] += bool(whats)
    for what in ("results", "marks", "results or marks", "anything"):
        print(f"of like classes one stands apart by {what}: {share(said[what], given.like)}")
    print(f"... by decisions, where there are any: {share(said['decisions'], given.like // 2)}")
    found = wrong = 0
    for _ in range(given.teachers):
        told = apart(
            comparisons([*cohort(rng, 11, decisions=both_ways), simulated(rng, "generous", decisions=generous)])
        )
        found += ("generous", "decisions") in told
        wrong += any(name != "generous" and what == "decisions" for name, what in told)
    print(f"the teacher who gives too much is found in {share(found, given.teachers)}")
    print(f"somebody else is named in {share(wrong, given.teachers)}")


if __name__ == "__main__":
    main()
