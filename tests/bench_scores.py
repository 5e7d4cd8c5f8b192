"""Holds what is claimed of simulated classes against what was planted: precision, recall, calibration, confusion.

A planted fault that moved a titre by less than three drops (0.15 cm³) is within ordinary scatter: it's neither wanted
nor held against a claim. How many there are is counted.
"""

from __future__ import annotations

import dataclasses
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import product

import numpy as np

from labmark.diagnose.bench import BenchDiagnosis, BenchSetting, RunMatrix, diagnose_bench
from tests.build import run_matrix
from tests.odds import Odds
from tests.simulator import FAULTS, Readings, SimulatedBench, simulate

TO_BE_SEEN = 0.15
"""Smallest effect that is counted [cm³]."""
Fact = tuple[int, int | None, str]


def matrix(readings: Readings) -> RunMatrix:
    """Return the readings of a simulated class as the diagnosis takes them."""
    runs = run_matrix(
        readings.initial, readings.final, rough=readings.rough, usable=readings.present, expected=readings.expected
    )
    return dataclasses.replace(runs, present=readings.present)


@dataclass
class Scores:
    """Counts over many classes."""

    hit: Counter[str] = field(default_factory=Counter)
    wrong: Counter[str] = field(default_factory=Counter)
    missed: Counter[str] = field(default_factory=Counter)
    named: Counter[str] = field(default_factory=Counter)
    """Missed, but named as an alternative of what was claimed of the same run or student."""
    small: int = 0
    innocent: int = 0
    """Students in whom nothing was planted,"""
    accused: int = 0
    """and those of them of whom something was claimed."""
    odds: Odds = field(default_factory=Odds)
    confusion: Counter[tuple[str, str]] = field(default_factory=Counter)

    def precision(self, fault: str) -> float:
        return self.hit[fault] / max(self.hit[fault] + self.wrong[fault], 1)

    def recall(self, fault: str, *, named: bool = False) -> float:
        found = self.hit[fault] + (self.named[fault] if named else 0)
        return found / max(self.hit[fault] + self.missed[fault], 1)

    def f1(self, fault: str) -> float:
        p, r = self.precision(fault), self.recall(fault)
        return 2 * p * r / max(p + r, 1e-12)

    @property
    def macro_f1(self) -> float:
        return float(np.mean([self.f1(fault) for fault in FAULTS]))

    @property
    def accused_share(self) -> float:
        return self.accused / max(self.innocent, 1)


def facts_of(found: BenchDiagnosis) -> dict[Fact, float]:
    """Return claim -> probability."""
    return {(claim.student, claim.run, claim.finding): claim.probability for claim in found.claims}


def add(scores: Scores, readings: Readings, claims: dict[Fact, float], alternatives: Iterable[Fact] = ()) -> None:
    """Add one class to the counts."""
    small = {fact for fact, effect in readings.truth.items() if abs(effect) < TO_BE_SEEN}
    wanted, also = set(readings.truth) - small, set(alternatives)
    together: defaultdict[tuple[int, str], list[tuple[float, bool]]] = defaultdict(list)
    for fact, probability in claims.items():
        if fact not in small:
            (scores.hit if fact in wanted else scores.wrong)[fact[2]] += 1
            together[fact[0], fact[2]].append((probability, fact in wanted))
    for (_, finding), odds in together.items():
        scores.odds.add(finding, odds)
    for fact in wanted - set(claims):
        scores.missed[fact[2]] += 1
        scores.named[fact[2]] += fact in also
    scores.small += len(small)
    _add_students(scores, readings, claims, {fact[0] for fact in small} - {fact[0] for fact in wanted})


def _add_students(scores: Scores, readings: Readings, claims: dict[Fact, float], unseen: set[int]) -> None:
    """Add the students to the confusion table, but for those `unseen` in whom everything planted was too small."""
    of = defaultdict(set)
    for student, _, finding in claims:
        of[student].add(finding)
    for student, planted in enumerate(readings.fault):
        if student not in unseen:
            scores.confusion[planted or "none", " and ".join(sorted(of[student])) or "none"] += 1
        if not planted:
            scores.innocent += 1
            scores.accused += bool(of[student])


def alternatives_of(found: BenchDiagnosis) -> set[Fact]:
    """Return what is named beside a claim about the same run or student."""
    return {
        (claim.student, claim.run, other["finding"]) for claim in found.claims for other in claim.evidence["or"]
    }  # fmt: skip


def score(bench: SimulatedBench, classes: int, *, reference: bool = True, seeds: Iterable[int] = (0,)) -> Scores:
    """Return the counts over simulated classes of each seed, whose expected titres are spread over `bench.titres`."""
    scores = Scores()
    for seed, number in product(seeds, range(classes)):
        rng = np.random.default_rng([seed, number])
        one = dataclasses.replace(bench, equivalence=round(float(rng.uniform(*bench.titres)), 2))
        readings = simulate(one, seed=1000 * seed + number)
        runs = matrix(readings)
        if not reference:
            runs = dataclasses.replace(runs, expected=np.full(len(readings.fault), np.nan))
        setting = BenchSetting(capacity=bench.capacity, division=bench.division, aliquot=bench.aliquot)
        found = diagnose_bench(runs, setting)
        add(scores, readings, facts_of(found), alternatives_of(found))
    return scores
