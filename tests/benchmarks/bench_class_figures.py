"""Time of a cohort's figures, the product's own way: `python -m tests.benchmarks.bench_class_figures [students ...]`.

From a class in memory to the class figures of the record tree, with the budgets of all students as arrays. Growth
should be linear, and all but the working out of titres should stay under 2 s for 100,000 students, three runs each.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from labmark.judge.class_figures import class_figures
from labmark.judge.references import of_class
from labmark.judge.uncertainty import Behind, budgets, uncertainties
from labmark.judge.worked import work_out
from labmark.records import ClassSheet, Ledger
from tests.build import people, run
from tests.practicals import practical
from tests.simulate_class import Recipe, simulate

SIZES = (12_500, 25_000, 50_000, 100_000)


def cohort(students: int) -> ClassSheet:
    """Return a simulated cohort in classes of 24 with benches of 6, in order of work."""
    drawn = simulate(np.random.default_rng(1), Recipe(students=students, benches=students // 6))
    finals = np.round(drawn.titres * 1000).astype(np.int64)
    each = [[run(str(n), f"0.00 {final / 1000:.2f}") for n, final in enumerate(row, start=1)] for row in finals]
    groups = [{"Class": str(n // 24), "Bench": str(n // 6)} for n in range(students)]
    made = people(*(({"order": n, "groups": groups[n]}, runs) for n, runs in enumerate(each)))
    return ClassSheet(made, Ledger(), "cohort", "0" * 64, ())


def measure(students: int) -> dict[str, float]:
    """Return the seconds that each part takes for a cohort of so many students."""
    sheet, given = cohort(students), practical()
    seconds: dict[str, float] = {}

    def timed(name, call, *more):
        start = time.perf_counter()
        made = call(*more)
        seconds[name] = time.perf_counter() - start
        return made

    worked = timed("titres, sets, students", work_out, sheet, given)
    refs = timed("references", of_class, worked, given, sheet)
    behind = Behind(given, worked.formula, worked.repeatability)
    timed("budgets", budgets, behind, worked.given(worked.titres), worked.counts.astype(float))
    timed("class figures", class_figures, worked, given, refs)
    timed("budgets as records", uncertainties, worked, behind)
    return seconds


def main(sizes: list[int]) -> None:
    """Print a table of seconds, a column a cohort."""
    measure(1000)  # the first call of each part loads what it needs
    columns = [measure(size) for size in sizes]
    print(f"{'seconds for students':24}" + "".join(f"{size:>10,}" for size in sizes))
    for name in columns[0]:
        print(f"{name:24}" + "".join(f"{column[name]:10.3f}" for column in columns))
    statistics = ("references", "budgets", "class figures")
    print(f"{'all statistics':24}" + "".join(f"{sum(column[name] for name in statistics):10.3f}" for column in columns))


if __name__ == "__main__":
    main([int(word) for word in sys.argv[1:]] or list(SIZES))
