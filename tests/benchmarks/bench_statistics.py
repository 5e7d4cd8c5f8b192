"""Time of all class statistics for a cohort: run `python tests/benchmarks/bench_statistics.py [students ...]`.

Prints seconds for each stage and for all, for growing cohorts: growth should be linear, and 100,000 students with
three runs each should stay under 2 s.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

import numpy as np

from labmark.analyse import budget, drift, groups, precision, reference, robust, screening, uncertainty
from labmark.judge.references import score
from labmark.practical import glassware
from tests.simulate_class import REFERENCE, TITRE, Recipe, SimulatedClass, simulate

SIZES = (12_500, 25_000, 50_000, 100_000)


def stages(cohort: SimulatedClass) -> dict[str, Callable[[], object]]:
    """Return every statistic of a cohort, by name."""
    result, student = cohort.run_results
    titre, _ = cohort.run_titres
    order = np.arange(cohort.mean.size)
    all_titres, everyone = cohort.titres.ravel(), np.repeat(order, cohort.titres.shape[1])
    titres = uncertainty.Titres(
        cohort.result / cohort.mean,
        cohort.used.sum(axis=1).astype(float),
        glassware.burette(50, 0.1, "B"),
        uncertainty.class_repeatability(all_titres, everyone),
    )
    others = [
        budget.Component("pipette calibration", -cohort.result / 25.0, 0.06 / 6**0.5, "cm3"),
        budget.Component("concentration of H2SO4", cohort.result / 0.05, 0.0001, "mol/dm3"),
        budget.Component("formula mass", cohort.result / 39.997, 0.001, "g/mol"),
    ]
    return {
        "Algorithm A": lambda: robust.algorithm_a(cohort.result),
        "precision of results": lambda: precision.precision(result, student),
        "precision of titres": lambda: precision.precision(titre, student),
        "scores": lambda: [score(each - REFERENCE, 0.001, 0.0004) for each in cohort.result.tolist()],
        "repeatability": lambda: uncertainty.class_repeatability(all_titres, everyone),
        "budgets": lambda: uncertainty.titration_budget(cohort.result, titres, others),
        "reference": lambda: reference.reference_test(cohort.result, REFERENCE, 0.0004, TITRE),
        "groups": lambda: groups.group_shifts(cohort.result, {"Bench": order // 6, "Class": order // 24}, TITRE),
        "drift": lambda: drift.drift(cohort.result, order, TITRE),
        "Grubbs": lambda: screening.grubbs(cohort.result),
        "Cochran": lambda: screening.cochran(result, student),
        "Mandel": lambda: screening.mandel(result, student),
        "components": lambda: precision.variance_components(
            result, {"class": student // 24, "Bench": student // 6, "student": student}
        ),
    }


def measure(students: int) -> dict[str, float]:
    """Return the seconds that each stage takes for a cohort of so many students."""
    cohort = simulate(np.random.default_rng(1), Recipe(students=students, benches=students // 6))
    seconds = {}
    for name, stage in stages(cohort).items():
        start = time.perf_counter()
        stage()
        seconds[name] = time.perf_counter() - start
    return seconds


def main(sizes: list[int]) -> None:
    """Print a table of seconds, a column a cohort."""
    measure(1000)  # the first call of each stage loads what it needs
    columns = [measure(size) for size in sizes]
    print(f"{'seconds for students':24}" + "".join(f"{size:>10,}" for size in sizes))
    for name in columns[0]:
        print(f"{name:24}" + "".join(f"{column[name]:10.3f}" for column in columns))
    print(f"{'all':24}" + "".join(f"{sum(column.values()):10.3f}" for column in columns))


if __name__ == "__main__":
    main([int(word) for word in sys.argv[1:]] or list(SIZES))
