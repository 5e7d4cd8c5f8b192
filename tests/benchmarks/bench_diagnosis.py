"""Faults at the bench on simulated classes: right, fair, calibrated, fast; and beside the rules in common use.

    python -m tests.benchmarks.bench_diagnosis [--classes 150] [--students 100000] [--picture FILE.svg]
    python -m tests.benchmarks.bench_diagnosis --classes 60 --seeds 51,52,53 --kinds "class of six"
    python -m tests.benchmarks.bench_diagnosis --ordinary
    python -m tests.benchmarks.bench_diagnosis --informed

Prints precision, recall and F1 for each finding in several kinds of class, how often students are accused in whom
nothing was planted, how far odds hold and what of that is chance (`tests/odds.py`), what is taken for what, and the
time for a cohort; draws the reliability diagram, if asked to. Beside it, on the same runs: "further than 0.10 cm³ from
the middle of the others", Grubbs and Dixon at 5 %. These say only that a run is odd, not why; so does the comparison.

Claims of several seeds are taken together: what chance makes of the error shrinks. With --kinds alone: the kinds of class
whose names hold these words. With --ordinary alone: how many are told of something in classes in which nobody did
anything wrong, by how far good students differ. With --informed alone: what a diagnosis reaches that is told the
simulator's own rates, and one that is told all of its figures (`tests/benchmarks/informed.py`).
"""

from __future__ import annotations

import argparse
import dataclasses
import resource
import time
from collections import Counter
from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np

from labmark.analyse.screening import Screening, dixon, grubbs
from labmark.diagnose.bench import BenchSetting, RunMatrix, diagnose_bench
from labmark.diagnose.likeness import likeness
from tests.bench_scores import TO_BE_SEEN, Scores, matrix, score
from tests.benchmarks.informed import tell_everything, tell_rates
from tests.benchmarks.reliability_picture import Rule, draw
from tests.odds import Odds
from tests.simulator import FAULTS, RUN_FAULTS, Readings, SimulatedBench, simulate

PLAIN = SimulatedBench(
    overshoot=(0.3, 0.9), undershoot=(0.3, 0.8), always=(0.4, 0.8), water=(0.05, 0.12), endpoint=0.003
)
ANY = SimulatedBench(endpoint=0.003)
KINDS = {
    "plain faults": PLAIN,
    "faults of any size": ANY,
    "any size, students far apart (0.8 %)": dataclasses.replace(ANY, endpoint=0.008),
    "plain, scatter 0.05": dataclasses.replace(PLAIN, repeatability=0.05),
    "plain, 15 % shaky hands": dataclasses.replace(PLAIN, shaky=0.15),
    "plain, 20 % read to 0.1": dataclasses.replace(PLAIN, wide_reading=0.2),
    "plain, two or three runs": dataclasses.replace(PLAIN, accurate=(2, 3)),
    "plain, reference 1 % wrong": dataclasses.replace(PLAIN, reference_error=0.01),
    "plain, all 0.10 past the endpoint": dataclasses.replace(PLAIN, class_habit=0.10),
    "plain, class of six": dataclasses.replace(PLAIN, students=6),
    "any size, class of six": dataclasses.replace(ANY, students=6),
    "any size, 0.8 % apart, class of six": dataclasses.replace(ANY, students=6, endpoint=0.008),
    "plain, few refill, 15 cm³": dataclasses.replace(PLAIN, starts=(0.2, 0.1, 0.7), titres=(12.0, 16.0)),
    "plain, titres of 9 to 13 cm³": dataclasses.replace(PLAIN, titres=(9.0, 13.0), aliquot=10.0),
    "plain, titres of 38 to 45 cm³": dataclasses.replace(PLAIN, titres=(38.0, 45.0)),
    "plain, burette of 25 cm³ in 0.05": dataclasses.replace(
        PLAIN, capacity=25.0, division=0.05, titres=(9.0, 20.0), repeatability=0.02
    ),
    "plain, two runs, class of eight": dataclasses.replace(PLAIN, students=8, accurate=(2, 2)),
    "plain, five runs": dataclasses.replace(PLAIN, accurate=(5, 5)),
    "plain, scatter 0.02": dataclasses.replace(PLAIN, repeatability=0.02, eye=0.006),
    "plain, scatter 0.08": dataclasses.replace(PLAIN, repeatability=0.08),
    "plain, no reference": PLAIN,
    "plain, no reference, class of eight": dataclasses.replace(PLAIN, students=8),
    "few faults (1 % each)": dataclasses.replace(PLAIN, rates=dict.fromkeys(FAULTS, 0.01)),
    "no faults, 15 % shaky hands": dataclasses.replace(ANY, rates=dict.fromkeys(FAULTS, 0.0), shaky=0.15),
}
SPREADS = (0.003, 0.004, 0.005, 0.006, 0.008)
"""Relative standard deviations between students who did nothing wrong."""
SHOWN = ("plain faults", "faults of any size")
WITHOUT_REFERENCE = ("plain, no reference", "plain, no reference, class of eight")


def show_kinds(classes: int, seeds: list[int], words: str = "") -> dict[str, Scores]:
    """Print a line for each kind of class whose name holds the words, and how far odds hold in all of them."""
    print(f"{'kind of class':40s} macro F1  accused  too small to see")
    found, together = {}, Odds()
    for name in (each for each in KINDS if words in each):
        bench = KINDS[name]
        known = name not in WITHOUT_REFERENCE
        result = found[name] = score(bench, classes * 28 // bench.students, reference=known, seeds=seeds)
        f1 = f"{result.macro_f1:8.3f}" if any(bench.rates.values()) else "       -"
        wanted = sum(result.hit.values()) + sum(result.missed.values()) + result.small
        print(
            f"{name:40s} {f1} {result.accused_share:8.2%} {result.small / max(wanted, 1):17.1%}  {result.odds}",
            flush=True,
        )
        together.join(result.odds)
    print(f"\nall kinds together: {together}")
    together.show()
    return found


def show_findings(name: str, scores: Scores) -> None:
    """Print precision, recall and F1 of each finding, and recall where a named alternative counts."""
    print(f"\n{name}\n{'finding':20s} precision  recall      F1  recall with named alternatives")
    for fault in FAULTS:
        print(
            f"{fault:20s} {scores.precision(fault):9.3f} {scores.recall(fault):7.3f} {scores.f1(fault):7.3f}"
            f" {scores.recall(fault, named=True):12.3f}"
        )


def show_confusion(scores: Scores) -> None:
    """Print what was planted in a student against what was claimed of it."""
    print("\nplanted              claimed")
    for planted in ("none", *FAULTS):
        row = Counter({claimed: n for (was, claimed), n in scores.confusion.items() if was == planted})
        total = sum(row.values())
        said = ", ".join(f"{claimed} {n / total:.1%}" for claimed, n in row.most_common(5) if n / total >= 0.005)
        print(f"{planted:20s} {said}")


Odd = Callable[[np.ndarray], Iterable[int]]


def further(titres: np.ndarray) -> list[int]:
    """Return the runs further than 0.10 cm³ from the middle of the others."""
    others = [np.median(np.delete(titres, k)) for k in range(titres.size)] if titres.size > 1 else []
    return [k for k, middle in enumerate(others) if abs(titres[k] - middle) > 0.1001]


def by_test(test: Callable[[np.ndarray], Screening | None]) -> Odd:
    """Return the rule that calls odd what a test for outliers calls so."""

    def rule(titres: np.ndarray) -> Iterable[int]:
        found = test(titres) if titres.size >= 3 and np.ptp(titres) > 0 else None
        return found.who[:1] if found is not None and found.beyond else ()

    return rule


def odd_runs(readings: Readings, rule: Odd) -> set[tuple[int, int]]:
    """Return (student, run) that a rule calls odd among each student's accurate runs."""
    accurate = readings.present & ~readings.rough
    found = set()
    for student in range(accurate.shape[0]):
        runs = np.flatnonzero(accurate[student])
        titres = (readings.final - readings.initial)[student, runs] / 1000
        found |= {(student, int(runs[k])) for k in rule(titres)}
    return found


def show_rules(bench: SimulatedBench, classes: int) -> list[Rule]:
    """Print and return precision and recall of four ways to call a run odd, on the same runs."""
    rules: dict[str, Odd] = {
        "further than 0.10": further, "Grubbs, 5 %": by_test(grubbs), "Dixon, 5 %": by_test(dixon),
    }  # fmt: skip
    counts: dict[str, Counter[str]] = {name: Counter() for name in ("diagnosis", *rules)}
    for seed in range(classes):
        readings = simulate(bench, seed=9000 + seed)
        claims = diagnose_bench(matrix(readings)).claims
        called = {"diagnosis": {(c.student, c.run) for c in claims if c.run is not None and c.run > 0}}
        called |= {name: odd_runs(readings, rule) for name, rule in rules.items()}
        of_run = {(s, r): e for (s, r, finding), e in readings.truth.items() if finding in RUN_FAULTS and r}
        wanted = {place for place, effect in of_run.items() if abs(effect) >= TO_BE_SEEN}
        small = set(of_run) - wanted
        for name, places in called.items():
            counts[name]["hit"] += len(places & wanted)
            counts[name]["wrong"] += len(places - wanted - small)
            counts[name]["missed"] += len(wanted - places)
    print("\na run is odd         precision  recall")
    shares = [
        (name, c["hit"] / max(c["hit"] + c["wrong"], 1), c["hit"] / max(c["hit"] + c["missed"], 1))
        for name, c in counts.items()
    ]
    for name, precision, recall in shares:
        print(f"{name:20s} {precision:9.3f} {recall:7.3f}")
    return shares


def cohort(students: int) -> RunMatrix:
    """Return a large cohort, a simulated class over and over with other readings in every copy."""
    one = matrix(simulate(dataclasses.replace(PLAIN, students=2000, accurate=(3, 3)), seed=3))
    many = one.rows(np.arange(students) % 2000)
    shift = np.arange(students)[:, None] // 2000 * 50
    moved = np.where(many.initial > 0, shift, 0)
    return dataclasses.replace(many, initial=many.initial + moved, final=many.final + moved)


def show_time(students: int) -> None:
    """Print the time and memory for a cohort with a rough and three runs each."""
    runs = cohort(students)
    both = {"diagnosis": lambda: diagnose_bench(runs, BenchSetting()), "likeness": lambda: likeness(runs)}
    for name, work in both.items():
        start, busy = time.perf_counter(), time.process_time()
        work()
        print(
            f"{name}: {students} students x {runs.titre.shape[1]} runs in {time.perf_counter() - start:.1f} s"
            f" ({time.process_time() - busy:.1f} s of one core)"
        )
    print(f"most memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


def show_ordinary(classes: int, seeds: list[int]) -> None:
    """Print how many are told of something where nobody did anything wrong."""
    for spread in SPREADS:
        endpoint = float(np.sqrt(spread**2 - ANY.pipette**2))
        bench = dataclasses.replace(ANY, rates=dict.fromkeys(FAULTS, 0.0), endpoint=endpoint)
        found = score(bench, classes, seeds=seeds)
        print(f"students {spread:.1%} apart: {found.accused} of {found.innocent} told of something")


def show_informed(classes: int, seeds: list[int]) -> None:
    """Print what a diagnosis reaches that is told how the simulator draws."""

    def show(name: str, told: str, found: Scores) -> None:
        print(f"{name:20s} told {told:12s} macro F1 {found.macro_f1:.3f}, calibration error {found.odds.error:.3f}")

    for name in SHOWN:
        show(name, "nothing", score(KINDS[name], classes, seeds=seeds))
    for name in SHOWN:
        tell_rates(KINDS[name])
        show(name, "the rates", score(KINDS[name], classes, seeds=seeds))
    for name in SHOWN:
        tell_everything(KINDS[name])
        show(name, "everything", score(KINDS[name], classes, seeds=seeds))


def main() -> None:
    """Print everything."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--classes", type=int, default=150, help="classes of 28 of each kind")
    parser.add_argument("--students", type=int, default=100_000, help="students of the cohort that is timed")
    parser.add_argument("--seeds", default="0", help="other classes of the same kinds, so many of each")
    parser.add_argument("--kinds", help="kinds of class whose names hold these words, alone")
    parser.add_argument("--picture", type=Path, help="where to draw the reliability diagram (SVG)")
    parser.add_argument("--ordinary", action="store_true", help="classes in which nobody did anything wrong, alone")
    parser.add_argument("--informed", action="store_true", help="a diagnosis that is told how classes are drawn, alone")
    given = parser.parse_args()
    seeds = [int(each) for each in given.seeds.split(",")]
    if given.ordinary or given.informed:
        (show_ordinary if given.ordinary else show_informed)(given.classes, seeds)
        return
    if given.kinds:
        show_kinds(given.classes, seeds, given.kinds)
        return
    show_time(given.students)
    print()
    found = show_kinds(given.classes, seeds)
    for name in SHOWN:
        show_findings(name, found[name])
        found[name].odds.show()
        show_confusion(found[name])
    rules = show_rules(PLAIN, given.classes)
    if given.picture:
        draw(given.picture, {name: found[name] for name in SHOWN}, rules)


if __name__ == "__main__":
    main()
